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
//     tone_foresee.c what given layers will do, whatever was advised
//  11 tone_sheet.c    the day's sheet: few jars for many patches; tone_sheet_ways.c: which liquids serve a
//                     patch, tone_sheet_jars.c: the fewest that serve all
//  12 tone_caution.c  cautions in full and in one line
//  13 tone_quantity.c quantities as they are typed; tone_mix.c: how to mix a liquid, how much of it passes need
//
// Beside that line: tone_coat.c, what clear coats do and what is learned of them; tone_coat_ahead.c, the look
// once those to come lie on it, and what to steer for.
#ifndef HUEWRIGHT_TONE_INTERNAL_H
#define HUEWRIGHT_TONE_INTERNAL_H

#include "huewright/tone.h"

// ---- 2 Layers ----------------------------------------------------------------------

// dye-unknown: no dye of this name is known.
HW_CHECK hw_status hw_tone_refuse_dye(const char *name, hw_error *err);

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

// The same liquid, as hw_liquid_is_same tells it (tone_layer.c); passes do not matter.
bool hw_coat_of_dye_is_same(const hw_coat_of_dye *one, const hw_coat_of_dye *other);

typedef struct hw_plan {
    hw_coat_of_dye coat[HW_LAYERS_MAX]; // in the order they are laid
    size_t count;
    double loss;
} hw_plan;

int hw_plan_passes(const hw_plan *plan);
hw_plan hw_plan_first(const hw_plan *plan, int passes); // its first passes, in its order

typedef struct hw_draw hw_draw; // of chance, the same for all plans of a task

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
    hw_draw *draw;     // owned
    hw_task_jar *jar;  // what stands mixed of known dyes; owned
    size_t jar_count;
    hw_tone_rules rules;
    double now; // loss of laying nothing
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

// The jar that a layer of this liquid comes out of, as in hw_effect; HW_JAR_NONE: it is still to be mixed.
size_t hw_tone_jar_of(const hw_tone_task *task, const hw_coat_of_dye *coat);

hw_outcome hw_tone_outcome(const hw_tone_task *task, const hw_plan *plan, double share);
hw_lab hw_tone_colour(const hw_tone_task *task, const double density[3]);
// Loss of ending at one colour; mean loss over all outcomes (and the cost of passes).
double hw_tone_loss_at(const hw_tone_task *task, hw_lab outcome);
double hw_tone_loss(const hw_tone_task *task, const hw_outcome *outcome, int passes);
// What a plan costs besides its outcome: further looks, dyes not known, lamps it may part under, dyes that undo each
// other.
double hw_tone_side_cost(const hw_tone_task *task, const hw_plan *plan);
// Sum over its passes of how far each parts under another lamp, CIE 1976 units.
double hw_tone_parting(const hw_tone_task *task, const hw_plan *plan);
// Chance of ending more than rules.too_dark below the target's L*.
double hw_tone_overshoot(const hw_tone_task *task, const hw_outcome *outcome);
// CIEDE2000 afterwards: median and 90 % range; *help (may be NULL): chance that it is smaller than now.
void hw_tone_range(const hw_tone_task *task, const hw_outcome *outcome, hw_after *after,
                   double *help);
// The forecast of an outcome after so many passes, and that of none: the gap as it is read.
hw_after hw_tone_after(const hw_tone_task *task, const hw_outcome *outcome, int passes,
                       double *help);
hw_after hw_tone_as_read(const hw_comparison *gap);
// Is that chance at least so much?
bool hw_tone_helps_by(const hw_tone_task *task, const hw_outcome *outcome, double least);
// Does the expected outcome stay on the near side of the target in L*, a* and b*?
bool hw_tone_stays_short(const hw_tone_task *task, hw_lab outcome);

// ---- 7 Search ----------------------------------------------------------------------

#define HW_LADDER_COUNT 4
extern const double hw_ladder[HW_LADDER_COUNT]; // 1, 1/2, 1/4, 1/8

// The best plans of different families, best first; returns how many. *reach: where the dyes as they are
// known could bring the patch at best, were nothing doubted (the patch itself where none helps).
size_t hw_tone_search(const hw_tone_task *task, int passes_most, hw_plan plans[HW_OPTIONS_MAX],
                      hw_lab *reach);

extern const double hw_share_left; // of the doubt about dyes that counts when plans are compared
// Known better: no guess before a guess, then the smaller doubt, then the earlier on the shelf.
bool hw_tone_known_better(const hw_known *known, size_t one, size_t other);
// Its families, a bit each; how many bits a set holds.
unsigned hw_tone_families(const hw_known *known, const hw_coat_of_dye *coat);
int hw_tone_bits(uint64_t set);
// Does it only deepen (brown, black)?
bool hw_tone_is_depth(const hw_known *known, const hw_coat_of_dye *coat);
void hw_tone_put_in_order(const hw_tone_task *task, hw_plan *plan); // hue first, depth last

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

// As many passes of one layer as may be laid before the next look, the liquid as it is. `out` NULL: only
// whether.
hw_next_answer hw_tone_lay(const hw_tone_task *task, const hw_coat_of_dye *coat, double risk_most,
                           hw_next *out);
// Of a plan; its liquids are made weaker where that is needed.
hw_next_answer hw_tone_next(const hw_tone_task *task, const hw_plan *plan, double risk_most,
                            hw_next *out);

// ---- 9 Words -----------------------------------------------------------------------

hw_liquid hw_tone_liquid(const hw_tone_task *task, const hw_coat_of_dye *coat);
// And back, for one pass; false where a dye is not known.
bool hw_tone_coat_of(const hw_known *known, const hw_liquid *liquid, hw_coat_of_dye *out);
bool hw_tone_rests_on_guess(const hw_tone_task *task, const hw_plan *plan);
void hw_tone_say_mix(const hw_tone_task *task, const hw_plan *plan, char *out, size_t size);
// What full strength of the step's liquid is.
void hw_tone_say_full_strength(const hw_tone_task *task, const hw_plan *step, char *out,
                               size_t size);
// "5 lighter and 3 greener than the old wood".
void hw_tone_say_gap(const hw_tone_request *request, char *out, size_t size);
// "red, weak".
void hw_tone_say_liquid(const hw_liquid *liquid, char *out, size_t size);

// ---- 10 Advice ---------------------------------------------------------------------

// The task with what the reading asks for in its rules.
HW_CHECK hw_status hw_tone_planning_task(const hw_tone_request *request, hw_tone_task *out,
                                         hw_error *err);
int hw_tone_passes_left(const hw_tone_rules *rules, int so_far); // for one plan
hw_option hw_tone_option(const hw_comparison *gap, const hw_tone_task *task, const hw_plan *plan);
hw_plan hw_tone_plan_of(const hw_known *known, const hw_option *option); // of dyes that are known
// `next` becomes the advice's, in numbers and words; `plan`: what it is the beginning of.
void hw_tone_take_step(const hw_tone_request *request, const hw_tone_task *task,
                       const hw_next *next, const hw_option *plan, hw_advice *out);
// The step of the advice's own first option again, for less risk; or it stops.
void hw_tone_step_within(const hw_tone_request *request, const hw_tone_task *task, double risk_most,
                         hw_advice *advice);

// ---- 11 The day's sheet ------------------------------------------------------------

#define HW_SHEET_PATCHES_MAX 64 // that are looked at together; of more, some after the others

// A liquid that may be a jar of the sheet.
typedef struct hw_pool_liquid {
    hw_coat_of_dye coat; // one pass
    bool mixed;          // it stands mixed: no new mixing
} hw_pool_liquid;

typedef struct hw_pool {
    hw_pool_liquid *liquid; // owned
    size_t count;
} hw_pool;

// One patch that wants toner.
typedef struct hw_sheet_patch {
    const hw_tone_request *request;
    hw_advice *advice;
    hw_tone_task task; // owned
    int budget;        // passes of a plan
    double risk_most;  // of what is laid before the next look
    size_t own;        // its own advice's liquid in the pool
    double best;       // loss of its own best
    double limit;      // loss that a plan may have
    double *through; // of each liquid and number of passes the bands' share that comes back; owned
    signed char *layable; // of each liquid and number of passes: 1 may be laid today, -1 not; owned
    size_t sheet_place;   // in what was asked
} hw_sheet_patch;

// How one liquid, or two in two layers, serve one patch.
typedef struct hw_way {
    uint32_t liquid[2]; // of the pool; the same twice: one layer
    uint32_t patch;
    int passes[2];
    double bound; // least loss of an expected outcome
    double loss;  // mean loss of the best plan; infinite: it does not serve; NaN: not looked at yet
} hw_way;

typedef struct hw_ways {
    hw_way *way; // owned
    size_t count, room;
} hw_ways;

// tone_sheet_ways.c. The pool: what stands mixed, each advice's own liquids, all liquids of the shelf's dyes.
HW_CHECK hw_status hw_pool_make(const hw_sheet_patch *patch, size_t count, const hw_liquid *mixed,
                                size_t mixed_count, hw_pool *out, hw_error *err);
size_t hw_pool_find(const hw_pool *pool, const hw_coat_of_dye *coat); // pool->count: not there
HW_CHECK hw_status hw_sheet_patch_prepare(hw_sheet_patch *patch, const hw_pool *pool,
                                          hw_error *err);
void hw_sheet_patch_free(hw_sheet_patch *patch);
// Adds the ways of one liquid and sets best and limit; after that the ways of two.
HW_CHECK hw_status hw_ways_of_one(hw_sheet_patch *patch, uint32_t number, const hw_pool *pool,
                                  hw_ways *ways, hw_error *err);
HW_CHECK hw_status hw_ways_of_two(hw_sheet_patch *patch, uint32_t number, const hw_pool *pool,
                                  hw_ways *ways, hw_error *err);
void hw_way_score(hw_sheet_patch *patch, const hw_pool *pool, hw_way *way); // sets loss and passes
hw_plan hw_way_plan(const hw_pool *pool, const hw_way *way);

// tone_sheet_jars.c. The fewest liquids: fills `chosen` with how each patch is served.
HW_CHECK hw_status hw_jars_choose(hw_sheet_patch *patch, size_t count, const hw_pool *pool,
                                  hw_way *chosen, bool *fewest, hw_error *err);

// ---- 13 Quantities -----------------------------------------------------------------

// As hw_parse_volume. A kind that is typed within others only (a powder), by itself for tests.
HW_CHECK hw_status hw_parse_weight(const char *text, double *g, hw_error *err);

#define HW_DROPS_A_ML 20.0 // common practice, no source; it depends on the dropper and the liquid

// ---- Clear coats -------------------------------------------------------------------

// What `coats` more over `before` are expected to do to a part.
typedef struct hw_coat_step {
    double density[3];
    double slope[3][HW_COAT_UNKNOWNS]; // by resin, wet, ln tau
    hw_covariance own;                 // scatter of this part's coats and wood
    hw_covariance shared;              // scatter of those coats on all parts they go over
} hw_coat_step;

hw_coat_step hw_coats_step(const hw_coat_belief *belief, int before, int coats, bool clear);
// J P J' between two steps.
hw_covariance hw_coats_between(const hw_coat_belief *belief, const hw_coat_step *one,
                               const hw_coat_step *other);

// How errors of one photo went into a belief: unknowns by density.
typedef struct hw_coat_pull {
    double own[HW_COAT_UNKNOWNS][3]; // by the part's own error in that photo, times its covariance
    double old_wood[HW_COAT_UNKNOWNS][3]; // by that of the old wood it stood against
    double shared[HW_COAT_UNKNOWNS][3];   // by what all of the photo's colours are off by
} hw_coat_pull;

// Of the photo as the later one of a pair. All 0 where the part was not learned from there.
hw_coat_pull hw_coats_pull(const hw_coat_belief *belief, const hw_coat_seen *seen, size_t count,
                           long photo, const char *part);

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
