// bench.h: a bench painted with a card, old wood, new wood and further references, as a picture with its marks;
// a camera that bends it, light that falls over it.
#ifndef HUEWRIGHT_TEST_BENCH_H
#define HUEWRIGHT_TEST_BENCH_H

#include "card_internal.h"
#include "check.h"
#include "picture.h"

#define WIDTH  640
#define HEIGHT 400

static const hw_lab old_wood = {42.0, 11.0, 21.0}, new_wood = {50.0, 8.0, 19.0};

// ---- A bench -----------------------------------------------------------------------

typedef struct bench {
    picture made;
    hw_marks marks;
} bench;

static inline void put(bench *b, hw_role role, const char *name, size_t x, size_t y, size_t width,
                       size_t height, hw_lab colour)
{
    char region[80];
    snprintf(region, sizeof region, "%zu,%zu,%zu,%zu", x, y, width, height);
    picture_fill(&b->made, x, y, width, height, colour);
    check_true(hw_marks_add(&b->marks, role, name, region, NULL, NULL) == HW_OK);
}

// A card to the right, old wood in the middle, new wood to the left.
static inline bench bench_new(void)
{
    bench b = {.made = picture_new(WIDTH, HEIGHT)};
    picture_fill(&b.made, 0, 0, WIDTH, HEIGHT, (hw_lab){35, 2, 5});
    put(&b, HW_ROLE_CARD, "card", 520, 60, 100, 100, (hw_lab){49.5, 0, 0});
    put(&b, HW_ROLE_PATCH, "new", 20, 40, 150, 200, new_wood);
    put(&b, HW_ROLE_TARGET, "old", 200, 40, 200, 200, old_wood);
    return b;
}

static inline void bench_free(bench *b)
{
    picture_free(&b->made);
    hw_marks_free(&b->marks);
}

static inline void put_steps(bench *b)
{
    put(b, HW_ROLE_NEUTRAL, "white", 520, 180, 40, 60, (hw_lab){95, 0, 0});
    put(b, HW_ROLE_NEUTRAL, "black", 580, 180, 40, 60, (hw_lab){22, 0, 0});
}

// The camera bends the encoded value and adds stray light: v + 2 a v (1 - v) (2 v - 1).
static inline void bend(picture *made, double a, double flare)
{
    for (size_t i = 0; i < made->width * made->height; i++) {
        for (int c = 0; c < 3; c++) {
            double v = hw_srgb_encoded(made->linear[i][c] * 0.9 + flare);
            made->linear[i][c] = hw_srgb_linear(v + 2.0 * a * v * (1.0 - v) * (2.0 * v - 1.0));
        }
    }
}

// Light that falls to the left, by the square of the distance from a lamp at the right.
static inline void shade(picture *made, double fall)
{
    for (size_t i = 0; i < made->width * made->height; i++) {
        double x = (double)(i % made->width) / WIDTH;
        for (int c = 0; c < 3; c++) {
            made->linear[i][c] *= pow(1.0 + fall * (1.0 - x), -2.0);
        }
    }
}

static inline hw_photo *photo_of(const picture *made)
{
    size_t count = 0;
    uint8_t *png = picture_png(made, &count);
    hw_photo *photo = NULL;
    check_true(hw_photo_decode(png, count, "bench.png", NULL, &photo, NULL) == HW_OK);
    free(png);
    return photo;
}

static inline hw_status read_bench(const bench *b, const hw_card_options *options, hw_light *light,
                                   hw_error *err)
{
    hw_photo *photo = photo_of(&b->made);
    hw_status status = hw_card_read(photo, &b->marks, options, light, err);
    hw_photo_free(photo);
    return status;
}

// Corrected colour of a flat field, by the middle of its mark.
static inline hw_lab colour_at(const bench *b, const hw_light *light, const char *name)
{
    const hw_mark *mark = NULL;
    for (size_t i = 0; i < b->marks.count; i++) {
        mark = strcmp(b->marks.mark[i].name, name) == 0 ? &b->marks.mark[i] : mark;
    }
    hw_point at = hw_mark_centre(mark);
    const double *rgb = b->made.linear[(size_t)at.y * WIDTH + (size_t)at.x];
    return hw_lab_from_xyz(hw_light_correct_at(light, hw_xyz_from_linear_srgb(rgb), at),
                           hw_white_d50);
}

static inline double gap_error(const bench *b, const hw_light *light)
{
    hw_lab old = colour_at(b, light, "old"), new = colour_at(b, light, "new");
    hw_lab moved = {old.L + new_wood.L - old_wood.L, old.a + new_wood.a - old_wood.a,
                    old.b + new_wood.b - old_wood.b};
    return hw_ciede2000(new, moved);
}

static inline bool warned(const hw_light *light, const char *what)
{
    for (size_t i = 0; i < light->warnings.count; i++) {
        if (strstr(light->warnings.text[i], what)) {
            return true;
        }
    }
    return false;
}

// A chart of six by four patches, each 40 wide with a dark grid between, turned by 180 degrees where
// wanted; marked by its corners.
static inline void put_chart(bench *b, bool later, bool turned, bool shuffled)
{
    const char *corners =
        turned ? "500,384 210,384 210,258 500,258" : "210,258 500,258 500,384 210,384";
    picture_fill(&b->made, 204, 252, 302, 138, (hw_lab){15, 0, 0});
    for (int i = 0; i < 24; i++) {
        int place = turned ? 23 - i : i, colour = shuffled ? (i * 7 + 5) % 24 : i;
        picture_fill(&b->made, (size_t)(210 + place % 6 * 49), (size_t)(258 + place / 6 * 32), 45,
                     30, hw_chart_lab(colour + 1, later));
    }
    check_true(hw_marks_add(&b->marks, HW_ROLE_CHART, "chart", corners, NULL, NULL) == HW_OK);
}

#endif
