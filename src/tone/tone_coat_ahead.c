// tone_coat_ahead.c: the look once the coats to come lie on patch and old wood, and what to steer for until then.
//
// What is shared cancels in the gap: the resin's doubt where both get the coats, and what the photo's colours are
// off by together. What does not: each part's own coats, its wet step, its reading. And a photo that is read
// here may be one that the coats were learned from: one that reads too dark makes the coat seem to do too
// much, so both errors go the same way (hw_coats_pull).
#include "tone_internal.h"

#include <math.h>

// L*, chosen (common practice: 1 to 2 lighter where coats that darken are still to come on the repair alone).
static const double hold_least = 1.0, hold_most = 2.0;
// Less than this is not worth another aim (chosen: no photo can tell it).
static const double hold_tellable = 0.5;
// Of what a photo's colours are off by together, L*, a*, b*: two photos of one place read by the card alone lie
// 0.9 apart in the mean (Euclid) with a straight tone curve and 1.8 with a bent one in our simulation
// (job_change.c); between them, shared by two photos, and most of it light that falls on the card otherwise than on
// the wood (chosen).
static const double u_photo[3] = {0.7, 0.4, 0.4};

// An instrument set on the same place again (chosen).
static const double u_instrument[3] = {0.3, 0.3, 0.3};

hw_covariance hw_coats_photo_doubt(bool measured)
{
    const double *u = measured ? u_instrument : u_photo;
    return hw_covariance_diagonal(u[0] * u[0], u[1] * u[1], u[2] * u[2]);
}

// ---- Both parts, in density --------------------------------------------------------

typedef struct both_parts {
    hw_coat_step patch, target;
    hw_coat_pull pull;
    hw_covariance patch_read, target_read,
        photo; // what the colours may be off by as they were read
} both_parts;

static hw_covariance in_density(hw_lab colour, const hw_covariance *lab)
{
    double jacobian[3][3];
    hw_tone_density_by_lab(colour, jacobian);
    return hw_covariance_map((const double(*)[3])jacobian, lab);
}

static both_parts parts_of(const hw_coats_request *request)
{
    const hw_comparison *gap = request->gap;
    both_parts both = {0};
    hw_covariance half = hw_covariance_times(&gap->covariance, 0.5);
    both.patch =
        hw_coats_step(request->belief, request->patch.so_far, request->patch.to_come, true);
    both.target =
        hw_coats_step(request->belief, request->target.so_far, request->target.to_come, true);
    both.patch_read = in_density(gap->patch_lab, &half);
    both.target_read = in_density(gap->target_lab, &half);
    both.photo = in_density(gap->target_lab, &request->photo_doubt);
    both.pull = hw_coats_pull(request->belief, request->seen, request->seen_count, request->photo,
                              gap->patch);
    return both;
}

static hw_covariance transposed(const hw_covariance *m)
{
    hw_covariance out;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            out.m[r][c] = m->m[c][r];
        }
    }
    return out;
}

// A slope times an error's way into the belief.
static hw_covariance pulled(const hw_coat_step *step, const double way[HW_COAT_UNKNOWNS][3])
{
    hw_covariance out = {{{0.0}}};
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            for (int i = 0; i < HW_COAT_UNKNOWNS; i++) {
                out.m[r][c] += step->slope[r][i] * way[i][c];
            }
        }
    }
    return out;
}

static void add(hw_covariance *to, const hw_covariance *more, double factor)
{
    hw_covariance scaled = hw_covariance_times(more, factor);
    *to = hw_covariance_sum(to, &scaled);
}

// Twice its symmetric part.
static void add_both_ways(hw_covariance *to, const hw_covariance *more, double factor)
{
    hw_covariance other = transposed(more);
    add(to, more, factor);
    add(to, &other, factor);
}

// Scatter of coats that lie on both alike: as many as the one with fewer gets.
static hw_covariance common_scatter(const both_parts *both, const hw_coats_request *request)
{
    return request->patch.to_come < request->target.to_come ? both->patch.shared
                                                            : both->target.shared;
}

// Of one part's colour afterwards.
static hw_covariance after_of(const both_parts *both, const hw_coats_request *request,
                              const hw_coat_step *step, const hw_covariance *read,
                              const double own[HW_COAT_UNKNOWNS][3])
{
    hw_covariance sum = hw_coats_between(request->belief, step, step);
    hw_covariance by_own = pulled(step, own);
    hw_covariance by_photo = pulled(step, (const double(*)[3])both->pull.shared);
    add(&sum, &step->own, 1.0);
    add(&sum, &step->shared, 1.0);
    add(&sum, read, 1.0);
    add(&sum, &both->photo, 1.0);
    add_both_ways(&sum, &by_own, 1.0);
    add_both_ways(&sum, &by_photo, 1.0);
    return sum;
}

// Of patch with target: row of the patch's density, column of the target's.
static hw_covariance between_parts(const both_parts *both, const hw_coats_request *request)
{
    hw_covariance sum = hw_coats_between(request->belief, &both->patch, &both->target);
    hw_covariance common = common_scatter(both, request);
    hw_covariance patch_by_target = pulled(&both->patch, (const double(*)[3])both->pull.old_wood);
    hw_covariance target_by_patch = pulled(&both->target, (const double(*)[3])both->pull.own);
    hw_covariance patch_by_photo = pulled(&both->patch, (const double(*)[3])both->pull.shared);
    hw_covariance target_by_photo = pulled(&both->target, (const double(*)[3])both->pull.shared);
    hw_covariance turned_own = transposed(&target_by_patch);
    hw_covariance turned_photo = transposed(&target_by_photo);
    add(&sum, &common, 1.0);
    add(&sum, &both->photo, 1.0);
    add(&sum, &patch_by_target, 1.0);
    add(&sum, &turned_own, 1.0);
    add(&sum, &patch_by_photo, 1.0);
    add(&sum, &turned_photo, 1.0);
    return sum;
}

// ---- The look ahead ----------------------------------------------------------------

static void range_of(hw_lab middle, const hw_covariance *lab, hw_lab *low, hw_lab *high)
{
    double u[3];
    for (int axis = 0; axis < 3; axis++) {
        u[axis] = HW_NINETY * sqrt(fmax(lab->m[axis][axis], 0.0));
    }
    *low = (hw_lab){middle.L - u[0], middle.a - u[1], middle.b - u[2]};
    *high = (hw_lab){middle.L + u[0], middle.a + u[1], middle.b + u[2]};
}

hw_coats_ahead hw_coats_look_ahead(const hw_coats_request *request)
{
    const hw_comparison *gap = request->gap;
    both_parts both = parts_of(request);
    hw_coats_ahead ahead = {.patch = request->patch,
                            .target = request->target,
                            .guess = request->belief->guess,
                            .seen = request->belief->seen,
                            .elsewhere = request->belief->elsewhere,
                            .patch_lab = hw_tone_under(gap->patch_lab, both.patch.density),
                            .target_lab = hw_tone_under(gap->target_lab, both.target.density)};
    double by_patch[3][3], by_target[3][3];
    hw_tone_lab_by_density(ahead.patch_lab, by_patch);
    hw_tone_lab_by_density(ahead.target_lab, by_target);
    hw_covariance patch =
        after_of(&both, request, &both.patch, &both.patch_read, (const double(*)[3])both.pull.own);
    hw_covariance target = after_of(&both, request, &both.target, &both.target_read,
                                    (const double(*)[3])both.pull.old_wood);
    hw_covariance across = between_parts(&both, request);
    patch = hw_covariance_map((const double(*)[3])by_patch, &patch);
    target = hw_covariance_map((const double(*)[3])by_target, &target);
    across = hw_covariance_map_across((const double(*)[3])by_patch, &across,
                                      (const double(*)[3])by_target);
    hw_covariance of_gap = hw_covariance_sum(&patch, &target);
    add_both_ways(&of_gap, &across, -1.0);
    range_of(ahead.patch_lab, &patch, &ahead.patch_low, &ahead.patch_high);
    range_of(ahead.target_lab, &target, &ahead.target_low, &ahead.target_high);
    ahead.gap = hw_difference_of(ahead.target_lab, ahead.patch_lab);
    hw_gap_range(ahead.target_lab, ahead.patch_lab, &of_gap, &ahead.de00_low, &ahead.de00_high);
    return ahead;
}

// ---- The aim -----------------------------------------------------------------------

// By the guess: lighter by what it says, `least` to 2 L*; 1 L* as its 90 %.
static void hold_light(hw_lab guessed, double least, hw_lab *aim, hw_covariance *more)
{
    double u = 0.5 * (hold_most - hold_least) / HW_NINETY;
    aim->L += fmin(fmax(guessed.L - aim->L, least), hold_most);
    more->m[0][0] = u * u;
}

// Of what the patch's coats do more than the target's, with how the reading of the gap went into it.
static hw_covariance shift_doubt(const both_parts *both, const hw_coats_request *request)
{
    const hw_coat_belief *belief = request->belief;
    hw_coat_step apart = both->patch;
    double way[HW_COAT_UNKNOWNS][3];
    for (int i = 0; i < HW_COAT_UNKNOWNS; i++) {
        for (int band = 0; band < 3; band++) {
            apart.slope[band][i] -= both->target.slope[band][i];
            way[i][band] = both->pull.own[i][band] - both->pull.old_wood[i][band];
        }
    }
    hw_covariance sum = hw_coats_between(belief, &apart, &apart);
    hw_covariance common = common_scatter(both, request);
    hw_covariance read = pulled(&apart, (const double(*)[3])way);
    add(&sum, &both->patch.own, 1.0);
    add(&sum, &both->target.own, 1.0);
    add(&sum, &both->patch.shared, 1.0);
    add(&sum, &both->target.shared, 1.0);
    add(&sum, &common, -2.0);
    add_both_ways(&sum, &read, 1.0);
    return sum;
}

bool hw_coats_aim(const hw_coats_request *request, hw_lab *aim, hw_covariance *more)
{
    int alone = request->patch.to_come - request->target.to_come;
    *aim = request->gap->target_lab;
    *more = (hw_covariance){{{0.0}}};
    bool alike = alone == 0 && request->patch.so_far == request->target.so_far;
    if (alike || (alone < 0 && request->belief->guess)) {
        return false;
    }
    both_parts both = parts_of(request);
    double off[3], jacobian[3][3];
    for (int band = 0; band < 3; band++) {
        off[band] = both.target.density[band] - both.patch.density[band];
    }
    hw_lab taken_off = hw_tone_under(*aim, off);
    if (taken_off.L < aim->L) {
        return false; // never darker than the old wood is now: coats can still be laid, dye does not come off
    }
    if (request->belief->guess && alone == 0 && taken_off.L - aim->L < hold_tellable) {
        return false; // as many over both: the gap hardly moves
    }
    if (request->belief->guess) {
        hold_light(taken_off, alone > 0 ? hold_least : 0.0, aim, more);
        return true;
    }
    *aim = taken_off;
    hw_covariance doubt = shift_doubt(&both, request);
    hw_tone_lab_by_density(*aim, jacobian);
    *more = hw_covariance_map((const double(*)[3])jacobian, &doubt);
    return true;
}
