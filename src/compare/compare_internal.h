// compare_internal.h: how samples become verdicts, in order:
//
//   1 compare_doubt.c    what a gap may be wrong by: texture, light, camera
//   2 compare_range.c    90 % range of CIEDE2000, and the least gap the photo can tell
//   3 compare_spread.c   how far the old wood differs from itself; T squared beside it
//   4 compare_words.c    directions, sizes and places in words
//   5 compare_ground.c   the wood between the pores
//   6 compare_verdict.c  leave, tone, too dark, unsure: and why
//   7 compare_ends.c     a patch that differs from itself along its length
//   8 compare_seam.c     the step along a joint, piece by piece
//   9 compare_all.c      every patch with each of its targets and with them together
//
//  10 compare_shots.c    several photos of one state, read together
//  11 compare_sides.c    a patch from the left and from the right
//
// Beside that line: compare_strip.c, strips of a step board; compare_aim.c, another aim than the old wood.
#ifndef HUEWRIGHT_COMPARE_INTERNAL_H
#define HUEWRIGHT_COMPARE_INTERNAL_H

#include "huewright/compare.h"

// Old wood: one target, or several as one.
typedef struct hw_compare_old {
    hw_xyz xyz;
    hw_lab lab;
    hw_covariance covariance, mark_shift;
    hw_point centre;
    double shine_u; // of the mean of its targets
    size_t count;
    long photo; // another one that shows it; 0: this one
} hw_compare_old;

// Covariance of the gap's L*, a*, b* by source.
void hw_compare_doubt(const hw_sample *patch, const hw_compare_old *old, const hw_light *light,
                      hw_covariance part[HW_DOUBT_COUNT]);

// All sources together.
hw_covariance hw_compare_doubt_sum(const hw_sample *patch, const hw_compare_old *old,
                                   const hw_light *light);

// Standard uncertainty of CIEDE2000 from a covariance: along its gradient, or near nothing the mean
// of all directions.
double hw_compare_u(hw_lab target, hw_lab patch, const hw_covariance *covariance);

// Replaces what is usual for reading twice by what repeated photos of the job differ by, as far as there
// are any: variances weighed by their degrees of freedom, the usual one as four.
void hw_compare_repeats(const hw_earlier *earlier, hw_covariance *reading);

// Variances of L*, a*, b* of one reading of a gap about another: what is usual, and what repeated photos of the job
// say. `earlier` may be NULL.
hw_covariance hw_compare_usual_reading(const hw_earlier *earlier);

// Chance that the true gap is below `radius` (CIEDE2000), the gap's L*, a*, b* being jointly normal about
// the reading: 512 points of a low-discrepancy sequence, so good to about 0.01.
double hw_compare_chance(hw_lab target, hw_lab patch, const hw_covariance *covariance,
                         double radius);

// v' M^-1 v for a symmetric positive M; NaN when it has no inverse.
double hw_compare_inverse_form(const double m[3][3], const double v[3]);

// The gap between patch_lab and target_lab, its directions and, from the covariance, the ranges of its parts. Chroma and
// hue difference are read along and across the mean hue.
void hw_compare_gap(hw_comparison *item);

void hw_compare_old_add(hw_compare_old *old, const hw_sample *target);
void hw_compare_old_finish(hw_compare_old *old); // after the last of its targets

// Compares the grounds, of the patch and of the mean of `targets`.
void hw_compare_ground(const hw_sample *patch, const hw_sample *const *targets, size_t count,
                       const hw_light *light, hw_comparison *item);

// Do the grounds match while the means do not, for want of pores? `gap` and `ground` are filled.
bool hw_compare_ground_matches(const hw_comparison *item);

// Looks for an end of the patch that differs from the rest. `item` has its spread and its verdict.
void hw_compare_ends(const hw_sample *patch, const hw_compare_old *old, const hw_light *light,
                     hw_comparison *item);

// The joints of a patch with one target: at most `room` into out; returns how many. `beside` is the
// comparison with all targets: its spread and kind count.
size_t hw_compare_seams(const hw_sample *patch, const hw_mark *patch_mark, const hw_sample *target,
                        const hw_mark *target_mark, const hw_light *light,
                        const hw_comparison *beside, hw_seam *out, size_t room);

// Squared CIEDE2000 about a colour as a quadratic form of small L*, a*, b* steps.
void hw_compare_metric(hw_lab colour, double metric[3][3]);

// 95 % quantile of CIEDE2000 between two equal colours read with this covariance.
double hw_compare_tellable(hw_lab colour, const hw_covariance *covariance);

// Chance that a point about a mean at distance `mean` (three equal normal axes, s.d. 1) lies within
// `radius` of the origin: non-central chi-squared with three degrees of freedom, closed form.
double hw_compare_within(double mean, double radius);

// Spread of old wood: root of the sum of squared CIEDE2000 of pieces to `mean` over n - 1, >= 0.7.
double hw_compare_spread(const hw_xyz *pieces, size_t count, hw_lab mean);

// The same wood axis by axis: s.d. (n - 1) of the pieces' L*, a*, b*, each at least 0.7 / sqrt 3, times `grown`.
void hw_compare_spread_axes(const hw_xyz *pieces, size_t count, double grown, double axis[3]);

// A photo's own spread from `count` pieces and what is known from before, as variances weighed by their
// degrees of freedom.
double hw_compare_spread_with(double spread, size_t count, const hw_earlier *known);

// Hotelling's T squared of the patch against the pieces, and the p-value with a prior on wood.
void hw_compare_t_squared(const hw_xyz *pieces, size_t count, hw_lab patch, double *t_squared,
                          double *p);

// P(F > value) for F(3, dof).
double hw_compare_f_tail(double value, double dof);

// The value that Student's t of `dof` degrees of freedom passes in 5 of 100 cases.
double hw_compare_t95(double dof);

#endif
