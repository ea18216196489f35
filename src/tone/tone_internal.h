// tone_internal.h: how a gap becomes advice, in order:
//
//   1 tone_dye.c      families and their starting guesses
//   2 tone_layer.c    wood under transparent layers
//   3 tone_board.c    what a step board says of a dye; its law in tone_board_fit.c
//   4 tone_matrix.c   solving what learning needs
//   5 tone_learn.c    what all boards and passes say together: known dyes
//   6 tone_doubt.c    what a plan's outcome may be off by, what that costs, chances
//   7 tone_plan.c     the search: families, liquids, strengths, passes
//   8 tone_next.c     how much of a plan before the next look
//   9 tone_words.c    reasons and mixes in words
//  10 tone_advise.c   what to lay next, or why to stop
//  11 tone_caution.c  cautions in full and in one line
//  12 tone_quantity.c quantities as they are typed; tone_mix.c: how to mix a liquid, how much of it passes need
#ifndef HUEWRIGHT_TONE_INTERNAL_H
#define HUEWRIGHT_TONE_INTERNAL_H

#include "huewright/tone.h"

// ---- 4 Matrices --------------------------------------------------------------------

// Lower root of a symmetric positive matrix of n rows in place (Cholesky; the upper part is left).
// False where it is not positive.
bool hw_cholesky(double *matrix, size_t n);
// With that root: the solution of A x = b in place of b; the inverse of A.
void hw_cholesky_solve(const double *root, size_t n, double *b);
void hw_cholesky_invert(const double *root, size_t n, double *out);
bool hw_invert3(const hw_covariance *a, hw_covariance *out);

// ---- 5 Learning --------------------------------------------------------------------

// What a dye of exponent g does when `amount` (strength times passes) is laid over `before` of it, in
// densities of one pass at strength 1: (before + amount)^g - before^g; and its slope by g.
double hw_amount_law(double before, double amount, double g, double *slope);

// Something laid: what it does by the layer law, and which dye and jar it is of.
typedef struct hw_effect {
    size_t dye;         // in hw_known
    double by_law;      // of its density; its jar's factor in it
    double by_exponent; // s.d. that the exponent's doubt leaves in by_law
    size_t
        jar; // HW_JAR_NONE, place in hw_known.jar, or from hw_known.jar_count on one that nothing was seen of
} hw_effect;

#define HW_JAR_NONE ((size_t)-1)

// Adds up densities and the covariance that the doubt about dyes, exponents and jars leaves in the sum.
void hw_effects_add(const hw_known *known, const hw_effect *effect, size_t count, double density[3],
                    hw_covariance *covariance);
// 1 for HW_JAR_NONE and those that nothing was seen of.
double hw_known_jar_factor(const hw_known *known, size_t jar);

// ---- 6 Doubt -----------------------------------------------------------------------

// How far one pass differs from the next, s.d. of its ln strength (common practice, no source: a
// tenth by hand or gun).
extern const double hw_u_pass;

// One layer of a plan: dyes by their place in hw_known.
typedef struct hw_coat_of_dye {
    size_t dye[HW_LIQUID_DYES_MAX];
    double strength[HW_LIQUID_DYES_MAX]; // of the ladder
    size_t dyes;
    int passes; // whole
} hw_coat_of_dye;

typedef struct hw_plan {
    hw_coat_of_dye coat[HW_LAYERS_MAX]; // in the order they are laid
    size_t count;
    double loss;
} hw_plan;

int hw_plan_passes(const hw_plan *plan);

// A liquid that stands mixed.
typedef struct hw_task_jar {
    hw_coat_of_dye liquid; // its passes mean nothing
    size_t known;          // its place as in hw_effect
} hw_task_jar;

// Where we are and where to go.
typedef struct hw_tone_task {
    hw_lab patch, target;
    double patch_bands[3];
    hw_covariance reading; // of the gap, in density: -ln of the three bands
    double hue[2];         // from the target's a*, b* to the patch's, length 1; 0, 0: no way to go
    const hw_known *known;
    double *before;    // strength times passes of each known dye that lies there already; owned
    bool some_known;   // not all dyes are guesses
    double (*turn)[2]; // by how much one pass of each turns the patch in a*, b*; owned
    hw_task_jar *jar;  // what stands mixed of known dyes; owned
    size_t jar_count;
    hw_tone_rules rules;
} hw_tone_task;

HW_CHECK hw_status hw_tone_task_of(const hw_tone_request *request, hw_tone_task *out,
                                   hw_error *err);
void hw_tone_task_free(hw_tone_task *task);

// What a plan does: expected density, and its covariance as a part that scales all of it together
// (s.d. of the logarithm) and the rest. `share`: of the doubt about dyes that counts (its s.d.).
typedef struct hw_outcome {
    double density[3];
    double scale_u;
    hw_covariance rest; // without the reading's
} hw_outcome;

// The jar that a layer of this liquid comes out of, as in hw_effect.
size_t hw_tone_jar_of(const hw_tone_task *task, const hw_coat_of_dye *coat);

hw_outcome hw_tone_outcome(const hw_tone_task *task, const hw_plan *plan, double share);
hw_lab hw_tone_colour(const hw_tone_task *task, const double density[3]);
// Loss of ending at one colour; mean loss over all outcomes (and the cost of passes).
double hw_tone_loss_at(const hw_tone_task *task, hw_lab outcome);
double hw_tone_loss(const hw_tone_task *task, const hw_outcome *outcome, int passes);
// What a plan costs besides its outcome: further looks, dyes not known, lamps it may part under, dyes that undo each
// other.
double hw_tone_side_cost(const hw_tone_task *task, const hw_plan *plan);
// Chance of ending more than rules.too_dark below the target's L*.
double hw_tone_overshoot(const hw_tone_task *task, const hw_outcome *outcome);
// CIEDE2000 afterwards: median and 90 % range; *help (may be NULL): chance that it is smaller than now.
void hw_tone_range(const hw_tone_task *task, const hw_outcome *outcome, hw_after *after,
                   double *help);
// Does the expected outcome stay on the near side of the target in L*, a* and b*?
bool hw_tone_stays_short(const hw_tone_task *task, hw_lab outcome);

// ---- 7 Search ----------------------------------------------------------------------

#define HW_LADDER_COUNT 4
extern const double hw_ladder[HW_LADDER_COUNT]; // 1, 1/2, 1/4, 1/8

// The best plans of different families, best first; returns how many. *reach: where the dyes as they are
// known could bring the patch at best, were nothing doubted (the patch itself where none helps).
size_t hw_tone_search(const hw_tone_task *task, int passes_most, hw_plan plans[HW_OPTIONS_MAX],
                      hw_lab *reach);

// The single pass of one liquid that betters the loss most, with all of the doubt counted, among those
// within the risk. False where there is none.
bool hw_tone_thin_step(const hw_tone_task *task, double risk_most, hw_plan *out);

// ---- 8 Next ------------------------------------------------------------------------

typedef enum hw_next_answer {
    HW_NEXT_LAY,
    HW_NEXT_RISKS, // even one weak pass may end too dark
    HW_NEXT_HARMS, // more likely harm than help
} hw_next_answer;

typedef struct hw_next {
    hw_plan step; // one layer
    hw_after after;
    double risk, help;
    bool guess;
} hw_next;

hw_next_answer hw_tone_next(const hw_tone_task *task, const hw_plan *plan, double risk_most,
                            hw_next *out);

// ---- 9 Words -----------------------------------------------------------------------

hw_liquid hw_tone_liquid(const hw_tone_task *task, const hw_coat_of_dye *coat);
bool hw_tone_rests_on_guess(const hw_tone_task *task, const hw_plan *plan);
void hw_tone_say_mix(const hw_tone_task *task, const hw_plan *plan, char *out, size_t size);
// What full strength of the step's liquid is.
void hw_tone_say_full_strength(const hw_tone_task *task, const hw_plan *step, char *out,
                               size_t size);
// "5 lighter and 3 greener than the old wood".
void hw_tone_say_gap(const hw_tone_request *request, char *out, size_t size);
// "red, weak".
void hw_tone_say_liquid(const hw_liquid *liquid, char *out, size_t size);

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
