// bench_page_read.c: how long a person waits at the page for a reading: a demo photo and the next one of the same piece, held
// by hand, made as large as a phone makes them. Told is what a watch shows: decoding, the card, what a photo is recognised
// by, opening it with no job and as the second photo of a job (all of the former, the card sought while the marks are
// carried, so less than their sum where there are two cores), a reading of it, a reading once a mark was moved, spots around
// a repair, its picture. To reach: opened and read under 1 second at 8 megapixels, read again under 150 ms at 12.
//
//   bench_page_read DEMO_FOLDER SCRATCH_FOLDER [RUNS]
#include "bench.h"
#include "write_jpeg.h"
#include "base_internal.h"
#include "huewright/huewright.h"

#include <string.h>
#include <math.h>

static char scratch[500];

static double watch_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

static void must(hw_status status, const hw_error *err)
{
    if (status != HW_OK) {
        fprintf(stderr, "%s: %s: %s\n", err->code, err->subject, err->what);
        exit(1);
    }
}

// ---- Photos ------------------------------------------------------------------------

static double mix(const uint16_t *rows[2], size_t x, size_t channel, double across, double down)
{
    double upper =
        (1.0 - across) * rows[0][3 * x + channel] + across * rows[0][3 * x + 3 + channel];
    double lower =
        (1.0 - across) * rows[1][3 * x + channel] + across * rows[1][3 * x + 3 + channel];
    return (1.0 - down) * upper + down * lower;
}

// `factor` times as wide and high, with noise as a sensor's, so that the file is as large as a phone's.
static void enlarge(const char *from, const char *to, double factor)
{
    hw_photo *photo = NULL;
    hw_error err = {0};
    must(hw_photo_load(from, NULL, &photo, &err), &err);
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    size_t width = (size_t)((double)facts->width_px * factor);
    size_t height = (size_t)((double)facts->height_px * factor);
    uint8_t *rgb = malloc(3 * width * height);
    uint16_t *rows = malloc(2 * 3 * facts->width_px * sizeof *rows);
    uint32_t state = 9;
    for (size_t y = 0; rgb && rows && y < height; y++) {
        double at = fmin((double)y / factor, (double)facts->height_px - 1.001);
        size_t top = (size_t)at;
        hw_photo_codes(photo, 0, top, facts->width_px, rows);
        hw_photo_codes(photo, 0, top + 1, facts->width_px, rows + 3 * facts->width_px);
        const uint16_t *both[2] = {rows, rows + 3 * facts->width_px};
        for (size_t x = 0; x < width; x++) {
            double across = fmin((double)x / factor, (double)facts->width_px - 1.001);
            for (size_t c = 0; c < 3; c++) {
                state = state * 1664525u + 1013904223u; // Numerical Recipes, ranqd1
                double value = mix(both, (size_t)across, c, across - floor(across), at - floor(at));
                value += 6.0 * ((double)(state >> 8) / 16777216.0 - 0.5);
                rgb[3 * (y * width + x) + c] = (uint8_t)fmin(fmax(value + 0.5, 0.0), 255.0);
            }
        }
    }
    if (!rgb || !rows || !write_jpeg(to, width, height, rgb, 90)) {
        fprintf(stderr, "%s: cannot be written\n", to);
        exit(1);
    }
    free(rgb);
    free(rows);
    hw_photo_free(photo);
}

static hw_marks marks_of(const char *path, double factor)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_marks marks = {0};
    hw_warnings warnings = {0};
    hw_error err = {0};
    must(hw_file_read(path, 1 << 20, &bytes, &count, &err), &err);
    must(hw_marks_parse((char *)bytes, count, path, NULL, &marks, &warnings, &err), &err);
    for (size_t i = 0; i < marks.count; i++) {
        for (size_t k = 0; k < marks.mark[i].point_count; k++) {
            marks.mark[i].points[k].x *= factor;
            marks.mark[i].points[k].y *= factor;
        }
    }
    marks.width_px = (size_t)((double)marks.width_px * factor);
    marks.height_px = (size_t)((double)marks.height_px * factor);
    hw_free(bytes);
    return marks;
}

// ---- Times -------------------------------------------------------------------------

typedef struct subject {
    char first[600], second[600], job[600];
    hw_marks marks; // of the first
} subject;

enum { DECODE, CARD, LOOK, ALONE, IN_JOB, READ, MOVED, AROUND, PICTURE, TIMES };
static const char *const names[TIMES] = {"decoded",
                                         "card found",
                                         "look taken",
                                         "opened, no job",
                                         "opened, second of a job",
                                         "read when opened",
                                         "read again, moved",
                                         "spots around",
                                         "picture, 1600 px"};

static void time_stages(const char *path, double ms[TIMES])
{
    hw_photo *photo = NULL;
    hw_error err = {0};
    double start = watch_ms();
    must(hw_photo_load(path, NULL, &photo, &err), &err);
    ms[DECODE] = watch_ms() - start;
    hw_card_find find = {0};
    start = watch_ms();
    must(hw_marks_find_card(photo, &find, &err), &err);
    ms[CARD] = watch_ms() - start;
    hw_look *look = NULL;
    start = watch_ms();
    must(hw_look_take(photo, &look, &err), &err);
    ms[LOOK] = watch_ms() - start;
    hw_look_free(look);
    hw_card_find_free(&find);
    hw_photo_free(photo);
}

static double time_reading(const hw_opened *opened)
{
    hw_reading reading = {0};
    hw_error err = {0};
    hw_bench_request request = {.lamp = "bench"};
    double start = watch_ms();
    must(hw_steps_open_read(opened, &request, NULL, 1790000000, &reading, &err), &err);
    double ms = watch_ms() - start;
    hw_reading_free(&reading);
    return ms;
}

static void time_open(const subject *one, double ms[TIMES])
{
    hw_opened opened = {0};
    hw_error err = {0};
    hw_open_request request = {.path = one->second, .lamp = "bench"};
    double start = watch_ms();
    must(hw_steps_open(&request, NULL, 1790000000, &opened, &err), &err);
    ms[ALONE] = watch_ms() - start;
    hw_opened_free(&opened);
    request.folder = one->job;
    start = watch_ms();
    must(hw_steps_open(&request, NULL, 1790000000, &opened, &err), &err);
    ms[IN_JOB] = watch_ms() - start;
    if (opened.wood != HW_PLACED_SURE || opened.card < HW_PLACED_SURE) {
        fprintf(stderr, "the marks were not carried: %s\n", opened.why);
        exit(1);
    }
    ms[READ] = time_reading(&opened);
    for (size_t i = 0; i < opened.marks.count; i++) {
        opened.marks.mark[i].points[0].x += opened.marks.mark[i].role == HW_ROLE_PATCH ? 2.0 : 0.0;
    }
    ms[MOVED] = time_reading(&opened);
    hw_marks spots = {0};
    start = watch_ms();
    must(hw_steps_open_ring(&opened, &opened.marks, "lid strip", &spots, &err), &err);
    ms[AROUND] = watch_ms() - start;
    hw_marks_free(&spots);
    hw_shown shown = {0};
    char *jpeg = NULL;
    size_t count = 0;
    start = watch_ms();
    must(hw_steps_open_picture(opened.photo, NULL, 1600, &shown, &err), &err);
    must(hw_report_shown_jpeg(&shown, &jpeg, &count, &err), &err);
    ms[PICTURE] = watch_ms() - start;
    hw_report_free(jpeg);
    hw_shown_free(&shown);
    hw_opened_free(&opened);
}

static subject prepare(const char *demo, double factor)
{
    subject one = {{0}, {0}, {0}, {0}};
    char path[600], command[1300];
    hw_error err = {0};
    hw_format_text(one.first, sizeof one.first, "%s/first.jpg", scratch);
    hw_format_text(one.second, sizeof one.second, "%s/second.jpg", scratch);
    hw_format_text(one.job, sizeof one.job, "%s/job", scratch);
    hw_format_text(command, sizeof command, "rm -rf '%s'", one.job);
    hw_format_text(path, sizeof path, "%s/cabinet-lid-1.jpg", demo);
    enlarge(path, one.first, factor);
    hw_format_text(path, sizeof path, "%s/cabinet-lid-2-hand.jpg", demo);
    enlarge(path, one.second, factor);
    hw_format_text(path, sizeof path, "%s/cabinet-lid-1-marks.json", demo);
    one.marks = marks_of(path, factor);
    if (system(command) != 0) {
        exit(1);
    }
    must(hw_steps_start(one.job, "Walnut gramophone cabinet", 1790000000, &err), &err);
    hw_photo_result result = {0};
    hw_photo_request request = {
        .folder = one.job, .read = {.photo_path = one.first, .marks = one.marks}, .lamp = "bench"};
    must(hw_steps_photo(&request, NULL, 1790000000, &result, &err), &err);
    hw_photo_result_free(&result);
    return one;
}

int main(int count, char **arguments)
{
    static const struct {
        const char *words;
        double factor; // of 1400 x 1050
    } sizes[] = {{"8 megapixels", 3264.0 / 1400.0}, {"12 megapixels", 4000.0 / 1400.0}};
    size_t runs = count > 3 ? strtoul(arguments[3], NULL, 10) : 7;
    if (count < 3) {
        fprintf(stderr, "bench_page_read DEMO_FOLDER SCRATCH_FOLDER [RUNS]\n");
        return 2;
    }
    runs = runs < 1 ? 1 : runs > 50 ? 50 : runs;
    snprintf(scratch, sizeof scratch, "%s", arguments[2]);
    setenv("XDG_DATA_HOME", scratch, 1);
    for (size_t size = 0; size < sizeof sizes / sizeof *sizes; size++) {
        double all[TIMES][50];
        subject one = prepare(arguments[1], sizes[size].factor);
        for (size_t i = 0; i < runs; i++) {
            double ms[TIMES] = {0};
            time_stages(one.second, ms);
            time_open(&one, ms);
            for (int k = 0; k < TIMES; k++) {
                all[k][i] = ms[k];
            }
        }
        printf("%s, median (longest) of %zu, ms\n", sizes[size].words, runs);
        for (int k = 0; k < TIMES; k++) {
            printf("  %-24s", names[k]);
            show_times("", all[k], runs);
            printf("\n");
        }
        hw_marks_free(&one.marks);
    }
    return 0;
}
