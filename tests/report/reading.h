// reading.h: a reading made by hand: a let-in strip that is too light and a touch green beside two
// pieces of old wood.
#ifndef HUEWRIGHT_TEST_READING_H
#define HUEWRIGHT_TEST_READING_H

#include "check.h"
#include "huewright/compare.h"

static hw_sample reading_samples[3];
static hw_comparison reading_items[3];

static inline void reading_sample(hw_sample *sample, const char *name, hw_role role, hw_lab lab)
{
    *sample = (hw_sample){.role = role,
                          .lab = lab,
                          .xyz = hw_xyz_from_lab(lab, hw_white_d50),
                          .standard_error = {0.2, 0.1, 0.1},
                          .spread = {2.0, 0.5, 0.6},
                          .pixels = 20000,
                          .left_out = 150};
    snprintf(sample->name, sizeof sample->name, "%s", name);
}

static inline hw_comparison reading_comparison(const char *patch, const char *target, hw_lab old,
                                               hw_lab new)
{
    hw_comparison item = {.patch_lab = new,
                          .target_lab = old,
                          .gap = hw_difference_of(old, new),
                          .covariance = hw_covariance_diagonal(0.09, 0.06, 0.06),
                          .tellable = 0.9,
                          .spread = 1.2,
                          .spread_count = 6,
                          .t_squared = 12.5,
                          .t_squared_p = 0.004,
                          .verdict = HW_VERDICT_TONE};
    snprintf(item.patch, sizeof item.patch, "%s", patch);
    snprintf(item.target, sizeof item.target, "%s", target);
    snprintf(item.why, sizeof item.why, "It is too light and too green.");
    item.de00_low = item.gap.de00 - 0.8;
    item.de00_high = item.gap.de00 + 0.8;
    item.low = item.high = item.gap;
    item.low.L -= 0.5, item.high.L += 0.5;
    item.low.a -= 0.4, item.high.a += 0.4;
    item.low.b -= 0.62, item.high.b += 0.62;
    item.spread_ratio = item.gap.de00 / item.spread;
    item.direction_count = hw_directions_of(&item.gap, item.direction);
    return item;
}

// Borrows its arrays from this file: never freed.
static inline hw_reading reading_made(void)
{
    static const hw_lab left = {45.0, 12.0, 24.0}, right = {45.4, 12.2, 24.4};
    static const hw_lab mean = {45.2, 12.1, 24.2}, strip = {50.1, 9.7, 24.5};
    reading_sample(&reading_samples[0], "lid left", HW_ROLE_TARGET, left);
    reading_sample(&reading_samples[1], "lid right", HW_ROLE_TARGET, right);
    reading_sample(&reading_samples[2], "lid strip", HW_ROLE_PATCH, strip);
    reading_items[0] = reading_comparison("lid strip", "lid left", left, strip);
    reading_items[1] = reading_comparison("lid strip", "lid right", right, strip);
    reading_items[2] = reading_comparison("lid strip", HW_BESIDE, mean, strip);
    hw_reading reading = {.photo = {.file = "lid.jpg",
                                    .format = "JPEG",
                                    .width_px = 1600,
                                    .height_px = 1200,
                                    .bits = 8,
                                    .max_code = 255,
                                    .orientation = 1,
                                    .colour = "sRGB (assumed: the file names no profile)"},
                          .light = {.gain = {1.02, 0.98, 1.21},
                                    .card_lab = {49.5, 0.0, 0.0},
                                    .card_seen = {0.17, 0.18, 0.12},
                                    .u_gain = {0.004, 0.004, 0.006},
                                    .card_spread = 0.02,
                                    .uneven = 0.12},
                          .samples = reading_samples,
                          .sample_count = 3,
                          .comparisons = {.item = reading_items, .count = 3}};
    return reading;
}

#endif
