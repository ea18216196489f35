// drawn_things.h: a comparison, a joint, passes, pictures and a map made by hand, to be drawn. Pictures are tiny and flat, so that
// their JPEG bytes are the same on every machine; `large` gives them grain and size, to be looked at.
#ifndef HUEWRIGHT_TEST_DRAWN_THINGS_H
#define HUEWRIGHT_TEST_DRAWN_THINGS_H

#include "reading.h"
#include "base_internal.h"
#include "huewright/report.h"

#define DRAWN_STEPS 5

typedef struct drawn_things {
    hw_comparison gap;
    hw_logged_gap last;
    hw_rulers rulers;
    hw_seam seam;
    hw_foreseen step[DRAWN_STEPS];
    hw_path path;
    hw_shown piece, after, upright, upright_after, strip, patch, weak[DRAWN_STEPS],
        strong[DRAWN_STEPS];
    hw_looks looks;
    hw_marks marks;
    hw_map map;
    hw_map_told map_told;
} drawn_things;

// ---- Pictures ------------------------------------------------------------------------

// Grain and figure of nothing in particular, about 0.
static inline double drawn_grain(double x, double y)
{
    double wave = sin(0.21 * y + 0.8 * sin(0.013 * x) + 0.3 * sin(0.07 * x + 0.4 * y));
    double pore = sin(12.9898 * floor(x / 9.0) + 78.233 * floor(y)) * 43758.5453;
    return 2.2 * wave + 2.0 * (pore - floor(pore) - 0.5);
}

static inline void drawn_set(hw_shown *shown, size_t x, size_t y, hw_lab lab)
{
    double linear[3];
    hw_linear_srgb_from_xyz(hw_xyz_from_lab(lab, hw_white_d50), linear);
    for (int k = 0; k < 3; k++) {
        double code = 255.0 * hw_srgb_encoded(fmin(fmax(linear[k], 0.0), 1.0));
        shown->rgb[3 * (y * shown->width + x) + (size_t)k] = (uint8_t)lround(code);
    }
}

// Old wood with a repair in the middle third of its width and, as `half`, below or all over; one photo pixel a pixel.
static inline hw_shown drawn_picture(size_t width, size_t height, bool grain, hw_lab old,
                                     hw_lab repair)
{
    hw_shown shown = {.width = width,
                      .height = height,
                      .frame = {0, 0, width, height},
                      .scale = 1.0,
                      .rgb = calloc(width * height, 3)};
    for (size_t y = 0; y < height; y++) {
        for (size_t x = 0; x < width; x++) {
            hw_lab lab =
                3 * x >= width && 3 * x < 2 * width && 5 * y >= height && 5 * y < 4 * height
                    ? repair
                    : old;
            lab.L += grain ? drawn_grain((double)x, (double)y) : 0.0;
            drawn_set(&shown, x, y, lab);
        }
    }
    return shown;
}

static inline hw_shown drawn_strip(size_t width, size_t height, bool grain, hw_lab old,
                                   hw_lab repair)
{
    hw_shown shown = drawn_picture(width, height, grain, old, old);
    for (size_t y = 0; 2 * y < height; y++) {
        for (size_t x = 0; x < width; x++) {
            hw_lab lab = repair;
            lab.L += 2.0 * (double)x / (double)width;
            lab.L += grain ? drawn_grain((double)x, (double)y + 31.0) : 0.0;
            drawn_set(&shown, x, y, lab);
        }
    }
    return shown;
}

// Steps of size from left to right, lighter above, darker below, another hue in the last row.
static inline hw_map drawn_map(size_t width, size_t height)
{
    static const double size[] = {0.5, 1.5, 3.0, 5.0, 9.0, 20.0};
    hw_map map = {.width = width,
                  .height = height,
                  .frame = {0, 0, width, height},
                  .scale = 1.0,
                  .de00 = calloc(width * height, sizeof(float)),
                  .lighter = calloc(width * height, sizeof(float))};
    for (size_t y = 0; y < height; y++) {
        for (size_t x = 0; x < width; x++) {
            double de00 = size[6 * x / width];
            double way = 3 * y < height ? 1.0 : 3 * y < 2 * height ? -1.0 : 0.2;
            map.de00[y * width + x] = (float)de00;
            map.lighter[y * width + x] = (float)(way * de00);
        }
    }
    return map;
}

// ---- Numbers -------------------------------------------------------------------------

static const hw_lab drawn_old = {45.2, 12.1, 24.2}, drawn_new = {50.1, 9.7, 21.0};

static inline void drawn_gap(drawn_things *made, const char *name)
{
    made->gap = reading_comparison(name, HW_BESIDE, drawn_old, drawn_new);
    const double axis[3] = {1.3, 0.5, 0.8};
    memcpy(made->gap.spread_axis, axis, sizeof axis);
    made->last = (hw_logged_gap){
        .de00 = 7.4, .de00_low = 6.6, .de00_high = 8.2, .L = 7.2, .a = -3.6, .b = -5.0};
    made->rulers = (hw_rulers){&made->gap, &made->last, 3, "photo 18, lid, shop lamp"};
    made->seam = (hw_seam){.length_px = 400.0, .count = 3};
    snprintf(made->seam.patch, sizeof made->seam.patch, "%s", name);
    snprintf(made->seam.target, sizeof made->seam.target, "lid left");
    for (size_t i = 0; i < made->seam.count; i++) {
        hw_seam_piece *piece = &made->seam.piece[i];
        piece->stretch = (hw_stretch){(double)i / 3.0, (double)(i + 1) / 3.0, false};
        piece->gap = hw_difference_of(drawn_old,
                                      (hw_lab){drawn_new.L + (double)i, drawn_new.a, drawn_new.b});
        piece->de00_low = piece->gap.de00 - 1.1;
        piece->de00_high = piece->gap.de00 + 1.1;
        piece->direction_count = hw_directions_of(&piece->gap, piece->direction);
        piece->verdict = HW_VERDICT_TONE;
    }
}

static inline void drawn_path(drawn_things *made, const char *words)
{
    static const double each[3] = {0.07, 0.11, 0.12};
    for (int i = 0; i < DRAWN_STEPS; i++) {
        hw_foreseen *step = &made->step[i];
        *step = (hw_foreseen){.passes = i};
        for (int k = 0; k < 3; k++) {
            step->density[k] = i * each[k];
            step->least[k] = 0.7 * step->density[k];
            step->most[k] = 1.35 * step->density[k];
        }
        hw_lab weak = hw_tone_under(drawn_new, step->least),
               much = hw_tone_under(drawn_new, step->most),
               lab = hw_tone_under(drawn_new, step->density);
        double de_weak = hw_ciede2000(drawn_old, weak), de_much = hw_ciede2000(drawn_old, much),
               de = hw_ciede2000(drawn_old, lab);
        step->after = (hw_after){i, lab, de, fmin(de, fmin(de_weak, de_much)) * 0.9,
                                 fmax(de, fmax(de_weak, de_much)) + 0.3};
        step->overshoot_risk = i < 3 ? 0.01 : 0.2 * (i - 2);
    }
    made->path = (hw_path){
        .gap = made->gap, .guess = true, .look_after = 1, .step = made->step, .count = DRAWN_STEPS};
    snprintf(made->path.words, sizeof made->path.words, "%s", words);
}

static inline void drawn_mark(hw_marks *to, hw_role role, const char *name, double x, double y,
                              double width, double height)
{
    char region[200];
    snprintf(region, sizeof region, "%.2f,%.2f %.2f,%.2f %.2f,%.2f %.2f,%.2f", x, y, x + width, y,
             x + width, y + height, x, y + height);
    // Names that no mark may have are put in past its check: they may come from an old file.
    check_true(hw_marks_add(to, role, "a mark", region, NULL, NULL) == HW_OK);
    hw_mark *last = &to->mark[to->count - 1];
    snprintf(last->name, sizeof last->name, "%s", name);
}

// ---- All of it -----------------------------------------------------------------------

// `name` of the repair; `words` for whatever else a person can write. With `large`, pictures to look at.
static inline drawn_things drawn_make(drawn_things *made, const char *name, const char *words,
                                      bool large)
{
    size_t times = large ? 40 : 1;
    size_t wide = 24 * times, high = 18 * times;
    *made = (drawn_things){0};
    drawn_gap(made, name);
    drawn_path(made, words);
    made->piece = drawn_picture(wide, high, large, drawn_old, drawn_new);
    made->after = drawn_picture(wide, high, large, drawn_old, made->step[2].after.lab);
    made->upright = drawn_picture(high, wide, large, drawn_old, drawn_new);
    made->upright_after = drawn_picture(high, wide, large, drawn_old, made->step[2].after.lab);
    made->strip = drawn_strip(32 * times, 4 * times, large, drawn_old, drawn_new);
    made->patch = drawn_picture(16 * times, 12 * times, large, drawn_old, drawn_new);
    for (size_t i = 0; i + 1 < DRAWN_STEPS; i++) {
        made->weak[i] = drawn_picture(16 * times, 12 * times, large, drawn_old,
                                      hw_tone_under(drawn_new, made->step[i + 1].least));
        made->strong[i] = drawn_picture(16 * times, 12 * times, large, drawn_old,
                                        hw_tone_under(drawn_new, made->step[i + 1].most));
    }
    made->looks = (hw_looks){made->path, made->patch, made->weak, made->strong};
    double w = (double)wide, h = (double)high;
    drawn_mark(&made->marks, HW_ROLE_CARD, "card", 0.03 * w, 0.05 * h, 0.12 * w, 0.2 * h);
    drawn_mark(&made->marks, HW_ROLE_TARGET, "lid left", 0.05 * w, 0.3 * h, 0.2 * w, 0.5 * h);
    drawn_mark(&made->marks, HW_ROLE_TARGET, "lid right", 0.75 * w, 0.3 * h, 0.2 * w, 0.5 * h);
    drawn_mark(&made->marks, HW_ROLE_PATCH, name, 0.35 * w, 0.25 * h, 0.3 * w, 0.5 * h);
    made->map = drawn_map(wide, high);
    made->map_told = (hw_map_told){.map = &made->map,
                                   .picture = &made->piece,
                                   .marks = &made->marks,
                                   .distance_mm = (double)NAN,
                                   .why_not = words,
                                   .spread = 1.2};
    return *made;
}

static inline void drawn_free(drawn_things *made)
{
    hw_shown *all[] = {&made->piece,         &made->after, &made->upright,
                       &made->upright_after, &made->strip, &made->patch};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
        free(all[i]->rgb);
    }
    for (size_t i = 0; i < DRAWN_STEPS; i++) {
        free(made->weak[i].rgb);
        free(made->strong[i].rgb);
    }
    hw_marks_free(&made->marks);
    free(made->map.de00);
    free(made->map.lighter);
}

#endif
