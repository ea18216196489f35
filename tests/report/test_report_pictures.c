// Every drawing: against a golden file that a person has looked at; with names that attack, numbers that are not known, no
// marks and 64; with memory that fails. That they are SVG 1.1 is held against the W3C's DTD and Python's expat by check_svg.sh.
//
//   test_report_pictures             tests
//   test_report_pictures --remake    writes testdata/report/*.svg and *.txt anew, to be looked at before a commit
//   test_report_pictures --look DIR  writes large drawings, to be looked at
#include "drawn_things.h"

#define STBI_ONLY_PNG
#define STBI_ONLY_JPEG
#define STBI_NO_STDIO
#define STB_IMAGE_STATIC
#define STB_IMAGE_IMPLEMENTATION
#pragma GCC diagnostic ignored "-Wunused-function"
#include <stb_image.h>

// ---- What is drawn -------------------------------------------------------------------

static hw_status draw_rulers(const drawn_things *of, char **out, hw_error *err)
{
    return hw_report_rulers_svg(&of->rulers, out, err);
}

static hw_status draw_rulers_text(const drawn_things *of, char **out, hw_error *err)
{
    return hw_report_rulers_text(&of->rulers, NULL, out, err);
}

static hw_status draw_swatches(const drawn_things *of, char **out, hw_error *err)
{
    return hw_report_swatches_svg(&of->gap, out, err);
}

static hw_status draw_path(const drawn_things *of, char **out, hw_error *err)
{
    return hw_report_path_svg(&of->path, out, err);
}

// Two photos before this one.
static hw_path with_past(const drawn_things *of)
{
    hw_path path = of->path;
    const double off[2][3] = {{2.6, -0.9, 1.4}, {1.1, -0.3, 0.5}};
    for (int i = 0; i < 2; i++) {
        hw_lab lab = drawn_new;
        lab.L += off[i][0];
        lab.a += off[i][1];
        lab.b += off[i][2];
        double de00 = hw_ciede2000(drawn_old, lab);
        path.earlier[path.earlier_count++] =
            (hw_earlier_place){4 + 7 * i, i, lab, 0.6, de00, de00 - 1.1, de00 + 1.2};
    }
    path.laid = 2;
    return path;
}

static hw_status draw_way(const drawn_things *of, char **out, hw_error *err)
{
    hw_path path = with_past(of);
    return hw_report_path_svg(&path, out, err);
}

static hw_status draw_way_text(const drawn_things *of, char **out, hw_error *err)
{
    hw_path path = with_past(of);
    return hw_report_path_text(&path, NULL, out, err);
}

// Nothing more is to be laid.
static hw_status draw_way_ended(const drawn_things *of, char **out, hw_error *err)
{
    hw_path path = with_past(of);
    path.count = 1;
    snprintf(path.none, sizeof path.none, "nothing is to be laid on it now: %s", of->path.words);
    return hw_report_path_svg(&path, out, err);
}

static hw_status draw_path_text(const drawn_things *of, char **out, hw_error *err)
{
    return hw_report_path_text(&of->path, NULL, out, err);
}

static hw_status draw_seam(const drawn_things *of, char **out, hw_error *err)
{
    return hw_report_seam_svg(&of->strip, &of->seam, out, err);
}

static hw_status draw_looks(const drawn_things *of, char **out, hw_error *err)
{
    return hw_report_looks_svg(&of->looks, out, err);
}

static hw_status draw_photo(const drawn_things *of, char **out, hw_error *err)
{
    return hw_report_photo_svg(&of->piece, &of->marks, of->path.words, out, err);
}

static hw_status draw_two(const drawn_things *of, char **out, hw_error *err)
{
    hw_two two = {.first = &of->piece,
                  .second = &of->after,
                  .first_marks = &of->marks,
                  .first_words = "Now",
                  .second_words = of->path.words};
    return hw_report_two_svg(&two, out, err);
}

static hw_status draw_two_upright(const drawn_things *of, char **out, hw_error *err)
{
    hw_two two = {.first = &of->upright,
                  .second = &of->upright_after,
                  .first_words = "Before, 24 November",
                  .second_words = of->path.words};
    return hw_report_two_svg(&two, out, err);
}

static hw_status draw_map(const drawn_things *of, char **out, hw_error *err)
{
    return hw_report_map_svg(&of->map_told, out, err);
}

static const struct {
    const char *file;
    hw_status (*draw)(const drawn_things *of, char **out, hw_error *err);
} drawing[] = {
    {"rulers.svg", draw_rulers},
    {"swatches.svg", draw_swatches},
    {"path.svg", draw_path},
    {"seam.svg", draw_seam},
    {"looks.svg", draw_looks},
    {"photo.svg", draw_photo},
    {"two.svg", draw_two},
    {"two-upright.svg", draw_two_upright},
    {"map.svg", draw_map},
    {"rulers.txt", draw_rulers_text},
    {"path.txt", draw_path_text},
    {"way.svg", draw_way},
    {"way-ended.svg", draw_way_ended},
    {"way.txt", draw_way_text},
};
enum { DRAWINGS = sizeof drawing / sizeof *drawing };

static const char plain_name[] = "lid strip",
                  plain_words[] = "red at a quarter strength with black at half strength";

// ---- Files ---------------------------------------------------------------------------

static void write_text(const char *folder, const char *start, const char *file, const char *text)
{
    char path[1200];
    snprintf(path, sizeof path, "%s/%s%s", folder, start, file);
    check_true(hw_file_replace(path, text, strlen(text), NULL) == HW_OK);
}

static void draw_all(const drawn_things *of, const char *folder, const char *start)
{
    for (size_t i = 0; i < DRAWINGS; i++) {
        char *text = NULL;
        hw_error err = {0};
        if (check_true(drawing[i].draw(of, &text, &err) == HW_OK)) {
            write_text(folder, start, drawing[i].file, text);
        } else {
            printf("%s: %s\n", drawing[i].file, err.what);
        }
        hw_report_free(text);
    }
}

// Beside each SVG file what librsvg makes of it, where it is there.
static void draw_png(const drawn_things *of, const char *folder)
{
    for (size_t i = 0; i < DRAWINGS; i++) {
        char path[1200], *text = NULL, *bytes = NULL;
        size_t count = 0;
        snprintf(path, sizeof path, "%s/%s.png", folder, drawing[i].file);
        if (drawing[i].draw(of, &text, NULL) == HW_OK &&
            hw_report_png(text, 720, &bytes, &count, NULL) == HW_OK) {
            check_true(hw_file_replace(path, bytes, count, NULL) == HW_OK);
        }
        hw_report_free(text);
        hw_report_free(bytes);
    }
}

// The drawings land here too, for check_svg.sh.
static const char drawn_folder[] = HW_SCRATCH "/drawings";

// ---- Checks --------------------------------------------------------------------------

static void test_golden(const drawn_things *of)
{
    for (size_t i = 0; i < DRAWINGS; i++) {
        char path[1200], *text = NULL;
        uint8_t *bytes = NULL;
        size_t count = 0;
        snprintf(path, sizeof path, "%s/report/%s", HW_TESTDATA, drawing[i].file);
        check_true(drawing[i].draw(of, &text, NULL) == HW_OK);
        bool read = hw_file_read(path, 4 << 20, &bytes, &count, NULL) == HW_OK;
        if (!check_true(read && text && count == strlen(text) && memcmp(bytes, text, count) == 0)) {
            printf("%s differs: look at %s, then --remake\n", drawing[i].file, drawn_folder);
        }
        hw_free(bytes);
        hw_report_free(text);
    }
}

// Without the pictures inside, whose letters may spell anything.
static void drop_pictures(char *svg)
{
    for (char *at = strstr(svg, "base64,"); at; at = strstr(at + 7, "base64,")) {
        char *end = strchr(at, '"');
        if (end) {
            memmove(at + 7, end, strlen(end) + 1);
        }
    }
}

// Elements of a drawing: what a name could add.
static size_t elements(const char *svg)
{
    size_t count = 0;
    for (const char *at = svg; (at = strchr(at, '<')) != NULL; at++) {
        count++;
    }
    return count;
}

static void test_hostile(void)
{
    static const char *const attack[] = {
        "<script>alert(1)</script>",
        "\"/><image href='x'/>",
        "]]>&amp;&lt;![CDATA[",
        "a\x01\x1b[2J\x7f\xc2\x9b"
        "b",
        "\xff\xfe\xc3(\xed\xa0\x80",
        "\xe2\x80\xae"
        "evil\xe2\x80\x8f",
        "\xef\xbf\xbe\xef\xbf\xbf",
        "%s%n%d",
        "&#0;",
        "",
    };
    static drawn_things plain, made;
    drawn_make(&plain, "x", "x", false);
    for (size_t k = 0; k < sizeof attack / sizeof *attack; k++) {
        char start[40];
        drawn_make(&made, attack[k], attack[k], false);
        snprintf(start, sizeof start, "hostile-%zu-", k);
        draw_all(&made, drawn_folder, start);
        for (size_t i = 0; i < DRAWINGS; i++) {
            char *text = NULL, *other = NULL;
            check_true(drawing[i].draw(&made, &text, NULL) == HW_OK);
            check_true(drawing[i].draw(&plain, &other, NULL) == HW_OK);
            bool svg = strstr(drawing[i].file, ".svg") != NULL;
            check_true(!svg || !(strstr(text, "<script") || strstr(text, "<image href")));
            check_true(hw_is_utf8(text, strlen(text)));
            size_t controls = 0;
            for (const char *at = text; *at; at++) {
                controls += (unsigned char)*at < ' ' && *at != '\n';
            }
            check_true(controls == 0);
            check_true(strstr(text, "\xe2\x80\xae") == NULL && strstr(text, "\xc2\x9b") == NULL);
            // Words may need more lines or none; tags of their own they never get.
            size_t more = elements(text), as_plain = elements(other);
            check_true(!svg || (more <= as_plain + 40 && more + 40 >= as_plain));
            hw_report_free(text);
            hw_report_free(other);
        }
        drawn_free(&made);
    }
    drawn_free(&plain);
    char lengthy[320];
    memset(lengthy, 'W', sizeof lengthy);
    lengthy[300] = 0;
    drawn_make(&made, lengthy, lengthy, false);
    draw_all(&made, drawn_folder, "lengthy-");
    drawn_free(&made);
}

// Numbers that are not known, or beyond all bounds, are drawn nowhere and said in words.
static void spoil(drawn_things *made, double value)
{
    hw_comparison *gap = &made->gap;
    hw_difference wild = {
        .L = value, .a = value, .b = value, .C = value, .H = value, .de00 = value};
    gap->gap = gap->low = gap->high = wild;
    gap->target_lab = gap->patch_lab = (hw_lab){value, value, value};
    gap->de00_low = gap->de00_high = value;
    made->last.L = made->last.a = made->last.b = value;
    for (int k = 0; k < 3; k++) {
        gap->spread_axis[k] = value;
    }
    for (size_t i = 0; i < DRAWN_STEPS; i++) {
        hw_foreseen *step = &made->step[i];
        for (int k = 0; k < 3; k++) {
            step->density[k] = step->least[k] = step->most[k] = value;
        }
        step->after.lab = gap->target_lab;
        step->after.de00 = step->after.de00_low = step->after.de00_high = value;
        step->overshoot_risk = value;
    }
    for (size_t i = 0; i < made->seam.count; i++) {
        hw_seam_piece *piece = &made->seam.piece[i];
        piece->gap = wild;
        piece->stretch.from = piece->stretch.to = value;
        piece->de00_low = piece->de00_high = value;
    }
    for (size_t i = 0; i < made->map.width * made->map.height; i++) {
        made->map.de00[i] = made->map.lighter[i] = (float)value;
    }
    made->map_told.distance_mm = made->map_told.spread = value;
    made->marks.mark[0].points[0].x = value;
}

static void test_unknown(void)
{
    static const double wild[] = {NAN, INFINITY, -INFINITY, 1e300, -1e300};
    static drawn_things made;
    for (size_t k = 0; k < sizeof wild / sizeof *wild; k++) {
        char start[40];
        drawn_make(&made, plain_name, plain_words, false);
        spoil(&made, wild[k]);
        snprintf(start, sizeof start, "unknown-%zu-", k);
        draw_all(&made, drawn_folder, start);
        for (size_t i = 0; i < DRAWINGS; i++) {
            char *text = NULL;
            check_true(drawing[i].draw(&made, &text, NULL) == HW_OK);
            drop_pictures(text);
            check_true(strstr(text, "nan") == NULL && strstr(text, "inf") == NULL);
            hw_report_free(text);
        }
        drawn_free(&made);
    }
}

// No marks, 64 marks, no passes, no pictures.
static void test_counts(void)
{
    static drawn_things made;
    static const hw_shown nothing = {0};
    char *text = NULL, *other = NULL;
    drawn_make(&made, plain_name, plain_words, false);
    check_true(hw_report_photo_svg(&made.piece, NULL, NULL, &text, NULL) == HW_OK);
    check_true(strstr(text, "<polygon") == NULL && strstr(text, "Dashes") == NULL);
    hw_report_free(text);
    while (made.marks.count < 64) {
        char name[40];
        double n = (double)made.marks.count;
        snprintf(name, sizeof name, "%.0f", n);
        drawn_mark(&made.marks, HW_ROLE_CHART, name, fmod(n, 8.0) * 3.0, floor(n / 8.0) * 2.0, 2.0,
                   1.5);
    }
    check_true(draw_photo(&made, &text, NULL) == HW_OK);
    write_text(drawn_folder, "many-", "photo.svg", text);
    size_t polygons = 0;
    for (const char *at = text; (at = strstr(at, "<polygon")) != NULL; at++) {
        polygons++;
    }
    check_true(polygons == 2 * 64); // dark below light
    hw_report_free(text);
    made.path.count = 0;
    check_true(draw_path(&made, &text, NULL) == HW_OK);
    check_true(draw_path_text(&made, &other, NULL) == HW_OK);
    write_text(drawn_folder, "none-", "path.svg", text);
    hw_report_free(text), hw_report_free(other);
    made.looks.path.count = 1;
    check_true(draw_looks(&made, &text, NULL) == HW_OK);
    check_true(strstr(text, "After") == NULL);
    hw_report_free(text);
    check_true(hw_report_photo_svg(&nothing, NULL, "words", &text, NULL) == HW_OK);
    write_text(drawn_folder, "none-", "photo.svg", text);
    hw_report_free(text);
    hw_two alone = {.first = &made.piece, .second = &nothing};
    check_true(hw_report_two_svg(&alone, &text, NULL) == HW_OK);
    check_true(strstr(strstr(text, "<image") + 1, "<image") == NULL);
    hw_report_free(text);
    made.map_told.picture = &made.strip; // of another size
    hw_error err = {0};
    check_true(hw_report_map_svg(&made.map_told, &text, &err) == HW_ERR_CALL);
    check_text(err.code, "map-picture");
    drawn_free(&made);
}

// ---- The map's piece and size --------------------------------------------------------

// The picture within a drawing, decoded. Free with stbi_image_free.
static uint8_t *picture_in(const char *svg, int *width, int *height)
{
    static const char letters[] =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    const char *at = strstr(svg, "base64,");
    size_t count = 0, length = at ? strcspn(at += 7, "\"") : 0;
    uint8_t *bytes = malloc(length + 3);
    unsigned held = 0, bits = 0;
    int channels = 0;
    for (size_t i = 0; i < length; i++) {
        const char *letter = strchr(letters, at[i]);
        if (letter) {
            held = held << 6 | (unsigned)(letter - letters);
            bits += 6;
        }
        if (letter && bits >= 8) {
            bytes[count++] = (uint8_t)(held >> (bits -= 8));
        }
    }
    uint8_t *rgb = stbi_load_from_memory(bytes, (int)count, width, height, &channels, 3);
    free(bytes);
    return rgb;
}

static uint8_t *map_of(const drawn_things *of, int *width, int *height)
{
    char *text = NULL;
    check_true(draw_map(of, &text, NULL) == HW_OK);
    uint8_t *rgb = picture_in(text ? text : "", width, height);
    hw_report_free(text);
    check_true(rgb != NULL);
    return rgb;
}

// All within 1 of the old wood, on a middle grey.
static void even_map(drawn_things *made, size_t width, size_t height)
{
    hw_shown grey = {
        .width = width, .height = height, .frame = {0, 0, width, height}, .scale = 1.0};
    free(made->map.de00);
    free(made->map.lighter);
    free(made->piece.rgb);
    made->map = drawn_map(width, height);
    memset(made->map.de00, 0, width * height * sizeof *made->map.de00);
    made->piece = grey;
    made->piece.rgb = malloc(3 * width * height);
    memset(made->piece.rgb, 120, 3 * width * height);
    hw_marks_free(&made->marks);
}

// 64 marks of 100 corners in a row: the last is of the piece as the first is; what lies away from all of them is not.
static void test_many_corners(void)
{
    enum { MARKS = 64, CORNERS = 100 };
    static drawn_things made;
    int width = 0, height = 0;
    drawn_make(&made, plain_name, plain_words, false);
    even_map(&made, 720, 360);
    for (int i = 0; i < MARKS; i++) {
        hw_text region = {0};
        for (int k = 0; k < CORNERS; k++) {
            double turn = 2.0 * 3.14159265358979 * k / CORNERS;
            hw_text_add(&region, "%s%.3f,%.3f", k ? " " : "", 45.0 + 10.0 * i + 4.5 * cos(turn),
                        60.0 + 4.5 * sin(turn));
        }
        check_true(hw_marks_add(&made.marks, i < MARKS - 1 ? HW_ROLE_TARGET : HW_ROLE_PATCH, "x",
                                region.bytes, NULL, NULL) == HW_OK);
        snprintf(made.marks.mark[i].name, sizeof made.marks.mark[i].name, "m%d", i);
        hw_text_free(&region);
    }
    uint8_t *rgb = map_of(&made, &width, &height);
    if (check_true(rgb && width == 720 && height == 360)) {
        const uint8_t *first = rgb + 3 * (60 * 720 + 45), *last = rgb + 3 * (60 * 720 + 675),
                      *away = rgb + 3 * (200 * 720 + 360);
        check_true(*first > 150 && *first < 240 && *last > 150 && *last < 240); // bright wood
        check_true(*away >= 210 && *away != *first);                            // pale: not judged
    }
    stbi_image_free(rgb);
    drawn_free(&made);
}

// Narrow maps are enlarged, to two pixels a phone's pixel where that is not too long.
static void test_map_size(void)
{
    static const struct {
        size_t width, height;
        int drawn_width, drawn_height;
    } rows[] = {{20, 15, 720, 540}, {20, 2000, 40, 4000}, {20, 1500, 40, 3000},
                {720, 3, 720, 3},   {30, 5000, 30, 5000}, {1, 9, 444, 3996}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        static drawn_things made;
        int width = 0, height = 0;
        drawn_make(&made, plain_name, plain_words, false);
        even_map(&made, rows[i].width, rows[i].height);
        stbi_image_free(map_of(&made, &width, &height));
        if (!check_true(width == rows[i].drawn_width && height == rows[i].drawn_height)) {
            printf("%zu x %zu is drawn %d x %d\n", rows[i].width, rows[i].height, width, height);
        }
        drawn_free(&made);
    }
}

// ---- Text for a terminal -------------------------------------------------------------

static void check_lines(const char *text)
{
    for (const char *line = text; *line; line += strspn(line, "\n")) {
        size_t columns = 0;
        const char *start = line;
        for (; *line && *line != '\n'; line++) {
            columns +=
                ((unsigned char)*line & 0xc0) != 0x80; // UTF-8: the first byte of a character
        }
        if (!check_true(columns <= 80)) {
            printf("%zu columns: %.*s\n", columns, (int)(line - start), start);
        }
    }
}

// A terminal is 80 columns wide; also with the longest names and words of our own.
static void test_columns(void)
{
    static const char *const names[] = {"x",
                                        "a very long name of a moulding on the left of the lid"};
    static const char lengthy[] = "red at a quarter strength with black at half strength with "
                                  "orange-brown at an eighth strength";
    for (int i = 0; i < 8; i++) {
        static drawn_things made;
        char *text = NULL;
        drawn_make(&made, names[i % 2], i & 2 ? plain_words : lengthy, false);
        made.gap.before_coats = made.path.gap.before_coats = made.path.asked = (i & 4) != 0;
        if (i & 2) { // no sure difference in yellow or blue
            made.gap.low.b = -12.3;
            made.gap.high.b = 12.3;
        }
        check_true(draw_rulers_text(&made, &text, NULL) == HW_OK);
        check_lines(text);
        hw_report_free(text);
        check_true(draw_path_text(&made, &text, NULL) == HW_OK);
        check_lines(text);
        hw_report_free(text);
        drawn_free(&made);
    }
}

// What was given is freed, and freeing twice is harmless.
static void test_freed(void)
{
    hw_looks looks = {0};
    looks.path.step = hw_alloc_array(3, sizeof *looks.path.step);
    looks.path.count = 3;
    looks.weak = hw_alloc_array(2, sizeof *looks.weak);
    looks.strong = hw_alloc_array(2, sizeof *looks.strong);
    looks.weak[1].rgb = hw_alloc_array(3, 1);
    looks.now.rgb = hw_alloc_array(3, 1);
    hw_looks_free(&looks);
    check_true(!looks.weak && !looks.path.step && !looks.now.rgb && looks.path.count == 0);
    hw_looks_free(&looks);
    hw_looks_free(NULL);
    hw_path_free(NULL);
}

// Each allocation fails in turn: refused in words, nothing left behind (the address sanitizer sees).
static void test_memory(const drawn_things *of)
{
    for (size_t i = 0; i < DRAWINGS; i++) {
        for (int once = 0; once < 2; once++) {
            hw_status status = HW_ERR_STORAGE;
            for (long n = 0; status != HW_OK && n < 3000; n++) {
                char *text = NULL;
                hw_error err = {0};
                if (once) {
                    hw_test_fail_alloc_once(n);
                } else {
                    hw_test_fail_alloc(n);
                }
                status = drawing[i].draw(of, &text, &err);
                hw_test_fail_alloc(-1);
                check_true(status == HW_OK ? text != NULL
                                           : status == HW_ERR_STORAGE && err.what[0] && !text);
                hw_report_free(text);
            }
            check_true(status == HW_OK);
        }
    }
}

// ---- Positions -----------------------------------------------------------------------

// The numbers drawn, not the file: zero is the middle, both sides alike, one scale for all.
static void test_places(const drawn_things *of)
{
    char *text = NULL;
    check_true(draw_rulers(of, &text, NULL) == HW_OK);
    // Reach 8: 162 units; the peg of +4.9 lightness stands at 180 + 162 x 4.9 / 8 = 279.2, its right corner 6.5 beyond.
    check_holds(text, "points=\"279.2,");
    check_holds(text, "lighter by 4.9 ± 0.5");
    // Its spread: 1.645 x 1.3 = 2.14, 43.3 units to both sides.
    check_holds(text, "<rect x=\"136.7\"");
    hw_report_free(text);
    drawn_things far = *of;
    far.gap.gap.L = 30.0, far.gap.low.L = 29.0, far.gap.high.L = 31.0;
    far.rulers.gap = &far.gap;
    check_true(draw_rulers(&far, &text, NULL) == HW_OK);
    check_holds(text, "points=\"338.0,"); // an arrow out of the right end, 342
    check_holds(text, "lighter by 30.0 ± 1.0");
    hw_report_free(text);
    check_true(draw_rulers_text(&far, &text, NULL) == HW_OK);
    check_holds(text, "▶");
    hw_report_free(text);
    check_true(draw_path_text(of, &text, NULL) == HW_OK);
    check_holds(text, "A GUESS");
    check_holds(text, "After 2 passes: ");
    hw_report_free(text);
}

// ---- PNG -----------------------------------------------------------------------------

#ifdef HW_PNG
// As stb_image decodes it.
typedef struct decoded_png {
    int width, height;
    uint8_t *rgb;
} decoded_png;

static const uint8_t *pixel(const decoded_png *png, double x, double y)
{
    double unit = (double)png->width / 360.0;
    return png->rgb + 3 * ((size_t)(y * unit) * (size_t)png->width + (size_t)(x * unit));
}

static void check_colour(const uint8_t *rgb, int r, int g, int b)
{
    check_close(rgb[0], r, 1.0);
    check_close(rgb[1], g, 1.0);
    check_close(rgb[2], b, 1.0);
}
#endif

static void test_png(const drawn_things *of)
{
    char *svg = NULL, *bytes = NULL;
    size_t count = 0;
    hw_error err = {0};
    check_true(draw_swatches(of, &svg, NULL) == HW_OK);
#ifdef HW_PNG
    if (check_true(hw_report_png(svg, 720, &bytes, &count, &err) == HW_OK)) {
        decoded_png png = {0};
        int channels = 0;
        png.rgb = stbi_load_from_memory((const uint8_t *)bytes, (int)count, &png.width, &png.height,
                                        &channels, 3);
        check_true(png.rgb && png.width == 720 && png.height > 300);
        if (png.rgb) {
            // sRGB of L*a*b* (D50) 45.2 12.1 24.2, 50.1 9.7 21.0 and 50 0 0 by culori (lab to rgb).
            check_colour(pixel(&png, 100, 110), 135, 99, 67);
            check_colour(pixel(&png, 240, 110), 144, 113, 84);
            check_colour(pixel(&png, 10, 110), 119, 119, 119);
            check_colour(pixel(&png, 2, 2), 255, 255, 255);
        }
        stbi_image_free(png.rgb);
        hw_report_free(bytes);
    }
    check_true(hw_report_png(svg, 100000, &bytes, &count, &err) == HW_ERR_CALL);
    check_text(err.code, "png-size");
    err = (hw_error){0};
    check_true(hw_report_png("<svg", 100, &bytes, &count, &err) == HW_ERR_INPUT);
    check_text(err.code, "png-svg");
    err = (hw_error){0};
    check_true(hw_report_png("", 100, &bytes, &count, &err) == HW_ERR_INPUT);
#else
    check_true(hw_report_png(svg, 720, &bytes, &count, &err) == HW_ERR_INPUT);
    check_text(err.code, "png-not-built-in");
#endif
    hw_report_free(svg);
}

int main(int argc, char **argv)
{
    static drawn_things made;
    bool look = argc == 3 && strcmp(argv[1], "--look") == 0;
    drawn_make(&made, plain_name, plain_words, look);
    if (look) {
        draw_all(&made, argv[2], "");
        draw_png(&made, argv[2]);
        drawn_free(&made);
        return check_done();
    }
    if (argc == 2 && strcmp(argv[1], "--remake") == 0) {
        draw_all(&made, HW_TESTDATA "/report", "");
        drawn_free(&made);
        return check_done();
    }
    check_true(hw_file_make_folder(drawn_folder, true, NULL) == HW_OK);
    draw_all(&made, drawn_folder, "");
    test_golden(&made);
    test_hostile();
    test_unknown();
    test_counts();
    test_many_corners();
    test_map_size();
    test_columns();
    test_freed();
    test_places(&made);
    test_png(&made);
    test_memory(&made);
    drawn_free(&made);
    return check_done();
}
