// tone_internal.h: how a gap becomes advice, in order:
//
//   1 tone_dye.c      families and their starting guesses
//   2 tone_layer.c    wood under transparent layers
//   3 tone_doubt.c    what a plan's outcome may be off by; the chance of overshoot
//   4 tone_plan.c     the search: families, strengths, passes
//   5 tone_advise.c   what to lay before the next look, or why to stop
//   6 tone_caution.c  cautions in full and in one line
//
// Beside that line: tone_board.c, what a step board teaches of a dye; tone_board_fit.c, its law.
#ifndef HUEWRIGHT_TONE_INTERNAL_H
#define HUEWRIGHT_TONE_INTERNAL_H

#include "huewright/tone.h"

// One dye of a plan.
typedef struct hw_dye_use {
    const hw_dye *dye;
    int passes;      // whole
    double strength; // of the ladder
} hw_dye_use;

// Where we are and where to go.
typedef struct hw_tone_task {
    hw_lab patch, target;
    hw_covariance reading; // of the gap, in density: -ln of the three bands
    const hw_tone_rules *rules;
} hw_tone_task;

#define HW_LADDER_COUNT 4
extern const double hw_ladder[HW_LADDER_COUNT]; // 1, 1/2, 1/4, 1/8

// Density of some uses together, three bands.
void hw_tone_density(const hw_dye_use *use, size_t count, double density[3]);

hw_tone_task hw_tone_task_of(const hw_comparison *gap, const hw_tone_rules *rules);

// Covariance of the density of uses, with the reading's.
hw_covariance hw_tone_density_doubt(const hw_tone_task *task, const hw_dye_use *use, size_t count);
// The same carried into L*, a*, b* of the outcome.
hw_covariance hw_tone_lab_doubt(const hw_tone_task *task, const hw_dye_use *use, size_t count,
                                hw_lab *outcome);
// Chance of ending more than rules->too_dark below the target's L*.
double hw_tone_overshoot(const hw_tone_task *task, const hw_dye_use *use, size_t count);

// Mean loss over the spread of outcomes.
double hw_tone_loss(const hw_tone_task *task, const hw_dye_use *use, size_t count);

// Does the expected outcome stay on the near side of the target in L*, a* and b*?
bool hw_tone_stays_short(const hw_tone_task *task, hw_lab outcome);

typedef struct hw_plan {
    hw_dye_use use[HW_LIQUID_DYES_MAX];
    size_t count;
    double loss;
} hw_plan;

// The best plans of different families, best first; returns how many.
size_t hw_tone_search(const hw_tone_task *task, const hw_shelf *shelf, int passes_most,
                      hw_plan plans[HW_OPTIONS_MAX]);

// ---- A row of a step board ---------------------------------------------------------

#define HW_ROW_PARAMETERS 4 // d of three bands, g

// Strips with toner of one row, and what was found of them.
typedef struct hw_board_row {
    hw_strip **strip;
    size_t count;
    const hw_strip *zero;
    double d[3], g;
    double P[HW_ROW_PARAMETERS][HW_ROW_PARAMETERS]; // covariance of both
    double u_g;                                     // prior s.d. of g
    double *y;                                      // 3 count
    double *V; // (3 count)^2; its lower triangle becomes the Cholesky factor
    double *J; // 3 count x HW_ROW_PARAMETERS, whitened
    double *e; // y less the fit, whitened
} hw_board_row;

void hw_board_row_free(hw_board_row *one); // all but the list of strips
// Fits d and g; strips out of line are named and leave the row. zero, strip and count are set, count > 0.
HW_CHECK hw_status hw_board_row_fit(hw_board_row *one, hw_error *err);
// Natural logarithms of the sharpened bands, and a covariance of L*, a*, b* carried into them.
void hw_board_ln_bands(hw_lab lab, double out[3]);
hw_covariance hw_board_in_bands(hw_lab lab, const hw_covariance *covariance);

#endif
