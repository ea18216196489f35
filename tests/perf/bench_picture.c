// bench_picture.c: pictures of a whole photo of 12 megapixels (make_photo.c's): how long, and how much memory.
//
//   bench_picture looks PHOTO RUNS [steps]     brought down to 2000 pixels: put right, shown, mapped, a layer laid, from 1 m
//   bench_picture every PHOTO RUNS [steps]     every pixel of it put right, mapped and shown, in bands of 256 rows
//   bench_picture pixels PHOTO FILE            every pixel corrected, X Y Z in 32-bit floats, for map_skimage.py; and the map
//                                              of these alone
//
// Wall time, the shortest, median and in brackets the longest, ms; the peak of this process with the photo decoded in it. `steps`: a white
// and a black step beside the card, so that a tone curve is taken out.
#include "bench.h"
#include "huewright/picture.h"

#include <string.h>
#include <sys/resource.h>

enum { RUNS_MOST = 99, ROWS = 256, PARTS = 8 };

static const hw_lab old_wood = {40.0, 11.0, 21.0};

static double wall_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

static double peak_mib(void)
{
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    return (double)usage.ru_maxrss / 1024.0;
}

typedef struct bench {
    hw_photo *photo;
    hw_light light;
    hw_marks marks;
} bench;

static bool open_photo(const char *path, bool steps, bench *out)
{
    hw_error err = {0};
    bool good =
        hw_photo_load(path, NULL, &out->photo, &err) == HW_OK &&
        hw_marks_add(&out->marks, HW_ROLE_CARD, "card", "200,200,400,300", NULL, &err) == HW_OK &&
        hw_marks_add(&out->marks, HW_ROLE_PATCH, "new", "1500,1000,1000,1000", NULL, &err) == HW_OK;
    if (good && steps) {
        good = hw_marks_add(&out->marks, HW_ROLE_NEUTRAL, "white", "200,500,190,200", NULL, &err) ==
                   HW_OK &&
               hw_marks_add(&out->marks, HW_ROLE_NEUTRAL, "black", "410,500,190,200", NULL, &err) ==
                   HW_OK;
    }
    good = good && hw_card_read(out->photo, &out->marks, NULL, &out->light, &err) == HW_OK;
    if (!good) {
        printf("%s: %s\n", path, err.what);
    }
    return good;
}

// ---- Brought down ------------------------------------------------------------------

static bool looks(const bench *b, double times[PARTS])
{
    const double density[3] = {0.05, 0.14, 0.22};
    hw_picture made = {0}, laid = {0};
    hw_shown shown = {0}, after = {0};
    hw_map map = {0};
    double at[PARTS];
    at[0] = wall_ms();
    bool good = hw_picture_make(b->photo, &b->light, NULL, 2000, NULL, &made, NULL) == HW_OK;
    at[1] = wall_ms();
    good = good && hw_picture_show(&made, &shown, NULL) == HW_OK;
    at[2] = wall_ms();
    good = good && hw_picture_map(&made, old_wood, NULL, &map, NULL) == HW_OK;
    hw_map_free(&map);
    at[3] = wall_ms();
    good = good && hw_picture_copy(&made, &laid, NULL) == HW_OK;
    if (good) {
        hw_picture_lay(&laid, &b->marks.mark[1], density);
        good = hw_picture_show(&laid, &after, NULL) == HW_OK;
    }
    hw_picture_free(&laid);
    at[4] = wall_ms();
    good = good && hw_picture_see(&made, hw_sight_px(0.5, 1000.0), NULL, NULL) == HW_OK;
    at[5] = wall_ms();
    for (int i = 0; i < 5; i++) {
        times[i] = at[i + 1] - at[i];
    }
    times[5] = at[5] - at[0];
    hw_picture_free(&made);
    hw_shown_free(&shown);
    hw_shown_free(&after);
    return good;
}

// ---- Every pixel -------------------------------------------------------------------

static bool every(const bench *b, double times[PARTS])
{
    const hw_photo_facts *facts = hw_photo_facts_of(b->photo);
    bool good = true;
    memset(times, 0, PARTS * sizeof *times);
    for (size_t y = 0; y < facts->height_px && good; y += ROWS) {
        size_t rows = facts->height_px - y < ROWS ? facts->height_px - y : ROWS;
        const hw_frame band = {0, y, facts->width_px, rows};
        hw_picture made = {0};
        hw_map map = {0};
        hw_shown shown = {0};
        double start = wall_ms();
        good = hw_picture_make(b->photo, &b->light, &band, 0, NULL, &made, NULL) == HW_OK;
        double corrected = wall_ms();
        good = good && hw_picture_show(&made, &shown, NULL) == HW_OK;
        double showed = wall_ms();
        good = good && hw_picture_map(&made, old_wood, NULL, &map, NULL) == HW_OK;
        double mapped = wall_ms();
        times[0] += corrected - start;
        times[1] += showed - corrected;
        times[2] += mapped - showed;
        times[5] += mapped - start;
        hw_picture_free(&made);
        hw_shown_free(&shown);
        hw_map_free(&map);
    }
    return good;
}

// ---- For the others ----------------------------------------------------------------

static bool pixels(const bench *b, const char *path)
{
    hw_picture made = {0};
    double times[9];
    bool good = hw_picture_make(b->photo, &b->light, NULL, 0, NULL, &made, NULL) == HW_OK;
    FILE *file = good ? fopen(path, "wb") : NULL;
    size_t count = 3 * made.width * made.height;
    good = file && fwrite(made.xyz, sizeof *made.xyz, count, file) == count;
    if (file) {
        good = fclose(file) == 0 && good;
    }
    double sum = 0.0;
    for (int i = 0; i < 9 && good; i++) {
        hw_map map = {0};
        double start = wall_ms();
        good = hw_picture_map(&made, old_wood, NULL, &map, NULL) == HW_OK;
        times[i] = wall_ms() - start;
        sum = 0.0;
        for (size_t k = 0; good && k < count / 3; k++) {
            sum += (double)map.de00[k];
        }
        hw_map_free(&map);
    }
    if (good) {
        printf("huewright, X Y Z to L*a*b* to CIEDE2000 and lightness, %zu pixels:", count / 3);
        show_times("ms", times, 9);
        printf("  mean %.4f\n", sum / (double)(count / 3));
    }
    hw_picture_free(&made);
    return good;
}

static bool run(bool (*work)(const bench *, double *), const bench *b, size_t runs,
                const char *const *names)
{
    static double times[PARTS][RUNS_MOST];
    for (size_t i = 0; i < runs; i++) {
        double one[PARTS] = {0};
        if (!work(b, one)) {
            return false;
        }
        for (size_t part = 0; part < PARTS; part++) {
            times[part][i] = one[part];
        }
    }
    for (size_t part = 0; part < PARTS; part++) {
        if (names[part]) {
            show_times(names[part], times[part], runs);
        }
    }
    printf("  peak %.0f MiB%s\n", peak_mib(),
           b->light.tone.straightens ? ", a curve taken out" : "");
    return true;
}

int main(int count, char **arguments)
{
    static const char *const of_looks[PARTS] = {"make",         "show", "map",
                                                "lay and show", "see",  "all"};
    static const char *const of_every[PARTS] = {"make", "show", "map", NULL, NULL, "all"};
    bench b = {0};
    if (count < 4) {
        printf("bench_picture looks|every|pixels PHOTO RUNS|FILE [steps]\n");
        return 2;
    }
    double start = wall_ms();
    if (!open_photo(arguments[2], count > 4, &b)) {
        return 3;
    }
    size_t runs = strtoul(arguments[3], NULL, 10);
    runs = runs < 1 ? 1 : runs > RUNS_MOST ? RUNS_MOST : runs;
    bool good;
    if (strcmp(arguments[1], "pixels") == 0) {
        good = pixels(&b, arguments[3]);
    } else {
        printf("decoded and its light read in %.0f ms\n", wall_ms() - start);
        good = strcmp(arguments[1], "looks") == 0 ? run(looks, &b, runs, of_looks)
                                                  : run(every, &b, runs, of_every);
    }
    hw_photo_free(b.photo);
    hw_marks_free(&b.marks);
    return good ? 0 : 4;
}
