// known.h: dyes as a test wants them known.
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

#endif
