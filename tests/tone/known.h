// known.h: dyes, gaps and photos as a test wants them.
#ifndef HUEWRIGHT_TESTS_KNOWN_H
#define HUEWRIGHT_TESTS_KNOWN_H

#include "check.h"
#include "huewright/tone.h"

// The nine guesses, as known today without anything seen.
static inline hw_known known_guesses(void)
{
    hw_shelf shelf = {0};
    hw_known known = {0};
    check_true(hw_shelf_guesses(&shelf, NULL) == HW_OK);
    check_true(hw_tone_learn(&shelf, "", (hw_lab){50, 12, 25}, &known, NULL) == HW_OK);
    hw_shelf_free(&shelf);
    return known;
}

// The same dyes as boards would have taught them: strength within `u`, bands within 5 %.
static inline hw_shelf shelf_of_boards(double u)
{
    hw_shelf shelf = {0};
    check_true(hw_shelf_guesses(&shelf, NULL) == HW_OK);
    for (size_t i = 0; i < shelf.count; i++) {
        hw_dye *dye = &shelf.dye[i];
        dye->guess = false;
        dye->u_strength = u;
        for (int r = 0; r < 3; r++) {
            for (int c = 0; c < 3; c++) {
                dye->covariance.m[r][c] = u * u * dye->density[r] * dye->density[c];
            }
            dye->covariance.m[r][r] += 0.0025 * dye->density[r] * dye->density[r] + 1e-7;
        }
    }
    return shelf;
}

// A dye as a board would have taught it: strength within `u_strength`, each band within `u_band`, as shares.
static inline hw_dye dye_of_board(const char *name, const double density[3], double u_strength,
                                  double u_band)
{
    hw_dye dye = {.family = HW_FAMILY_BROWN, .u_strength = u_strength};
    snprintf(dye.name, sizeof dye.name, "%s", name);
    for (int r = 0; r < 3; r++) {
        dye.density[r] = density[r];
        for (int c = 0; c < 3; c++) {
            dye.covariance.m[r][c] = density[r] * density[c] *
                                     (u_strength * u_strength + (r == c ? u_band * u_band : 0.0));
        }
    }
    return dye;
}

// What a photo within `u` in L*, a*, b* each leaves of that wood's densities.
static inline hw_covariance photo_covariance(hw_lab wood, double u)
{
    double j[3][3];
    hw_covariance lab = hw_covariance_diagonal(u * u, u * u, u * u);
    hw_tone_density_by_lab(wood, j);
    return hw_covariance_map((const double(*)[3])j, &lab);
}

// A gap that wants toner, within 0.3 in L*, a*, b* each.
static inline hw_comparison gap_of(hw_lab patch, hw_lab target)
{
    hw_comparison gap = {.patch = "strip",
                         .target = HW_BESIDE,
                         .patch_lab = patch,
                         .target_lab = target,
                         .gap = hw_difference_of(target, patch),
                         .verdict = HW_VERDICT_TONE};
    gap.covariance = hw_covariance_diagonal(0.09, 0.09, 0.09);
    const double u = HW_NINETY * 0.3;
    gap.low = (hw_difference){.L = gap.gap.L - u, .a = gap.gap.a - u, .b = gap.gap.b - u};
    gap.high = (hw_difference){.L = gap.gap.L + u, .a = gap.gap.a + u, .b = gap.gap.b + u};
    gap.direction_count = hw_directions_of(&gap.gap, gap.direction);
    snprintf(gap.why, sizeof gap.why, "because");
    return gap;
}

#endif
