// job_standing.c: the old wood as standing reference, on numbers alone: one scale a band from all
// pieces of old wood that two photos hold, the patch scaled by it, and what that may be wrong by.
//
// What always holds: a session that scales each Bradford-sharpened band (light, exposure, the
// card's own colour) goes out of the change altogether; what is left is doubted.
#include "job_internal.h"

#include <math.h>

// Of one place from photo to photo, standard uncertainty of L*, a*, b*. Chosen: 1 % of light is 0.2
// L* on mid-brown; a* and b* of one place move by about 0.4 between our rendered photos of one lamp
// (tests/scene, JPEG at quality 90), whatever the change.
static const double place_doubt[3] = {0.20, 0.35, 0.35};
// Share of the logged texture errors that counts: both photos hold nearly the same wood, so most of
// it cancels (chosen, as for a comparison within one photo).
static const double texture_share = 0.5;
// Cameras stretch and strengthen colours: doubt that grows with the change, as a share of its
// length in L*, a*, b* (chosen: half of what two different colours in one photo are doubted by,
// since here it is one surface under dye).
static const double size_share[3] = {0.05, 0.08, 0.09};
// What the scaling moved the patch by is itself known no better than this share (chosen).
static const double scaling_share = 0.10;
// Old wood elsewhere than beside the patch sees another part of the light: twice the doubt
// (chosen).
static const double elsewhere = 2.0;
// The doubts above weigh as much as a scatter with this many degrees of freedom (chosen).
static const double guess_weight = 4.0;

static const double z95 = 1.6448536269514722; // normal deviate that 5 % exceed

// ---- Scaling by old wood -----------------------------------------------------------

static void lab_values(hw_lab lab, double out[3])
{
    out[0] = lab.L;
    out[1] = lab.a;
    out[2] = lab.b;
}

static hw_lab lab_of(const double v[3])
{
    return (hw_lab){v[0], v[1], v[2]};
}

static void bands_of(hw_lab lab, double bands[3])
{
    hw_sharpen(hw_xyz_from_lab(lab, hw_white_d50), bands);
}

// ln (then / now) a band. False for a colour too dark to have one.
static bool log_ratio(hw_lab then, hw_lab now, double out[3])
{
    double before[3], after[3];
    bands_of(then, before);
    bands_of(now, after);
    for (int i = 0; i < 3; i++) {
        if (!(before[i] > 0.0 && after[i] > 0.0)) {
            return false;
        }
        out[i] = log(before[i] / after[i]);
        if (!isfinite(out[i])) {
            return false;
        }
    }
    return true;
}

// Inverse of the mean variance of its three axes.
static double weight_of(const hw_place *one)
{
    return 3.0 / (one->variance[0] + one->variance[1] + one->variance[2]);
}

// The factor a band that carries the later photo to the earlier one. log_ratio tested the places.
static void common_factor(const hw_place *places, size_t count, double factor[3])
{
    double sum[3] = {0.0, 0.0, 0.0}, weights = 0.0;
    for (size_t k = 0; k < count; k++) {
        double ratio[3] = {0.0, 0.0, 0.0}, weight = weight_of(&places[k]);
        log_ratio(places[k].then, places[k].now, ratio);
        for (int i = 0; i < 3; i++) {
            sum[i] += weight * ratio[i];
        }
        weights += weight;
    }
    for (int i = 0; i < 3; i++) {
        factor[i] = exp(sum[i] / weights);
    }
}

static hw_lab scaled(hw_lab now, const double factor[3])
{
    double bands[3];
    bands_of(now, bands);
    for (int i = 0; i < 3; i++) {
        bands[i] *= factor[i];
    }
    return hw_lab_from_xyz(hw_unsharpen(bands), hw_white_d50);
}

// ---- Places ------------------------------------------------------------------------

hw_place hw_standing_place(const hw_logged_sample *then, const hw_logged_sample *now, bool beside)
{
    double factor = beside ? 1.0 : elsewhere;
    hw_place one = {.then = then->lab, .now = now->lab};
    for (int axis = 0; axis < 3; axis++) {
        double doubt = factor * place_doubt[axis];
        double texture =
            texture_share * hypot(then->standard_error[axis], now->standard_error[axis]);
        one.variance[axis] = doubt * doubt + texture * texture;
    }
    return one;
}

bool hw_standing_usable(const hw_place *one)
{
    double ratio[3], sum = one->variance[0] + one->variance[1] + one->variance[2];
    return isfinite(sum) && log_ratio(one->then, one->now, ratio);
}

double hw_standing_moved(const hw_place *places, size_t count)
{
    double sum[3] = {0.0, 0.0, 0.0}, weights = 0.0;
    for (size_t k = 0; k < count; k++) {
        double weight = weight_of(&places[k]);
        sum[0] += weight * (places[k].now.L - places[k].then.L);
        sum[1] += weight * (places[k].now.a - places[k].then.a);
        sum[2] += weight * (places[k].now.b - places[k].then.b);
        weights += weight;
    }
    return sqrt(sum[0] * sum[0] + sum[1] * sum[1] + sum[2] * sum[2]) / weights;
}

// ---- Doubt -------------------------------------------------------------------------

// How much larger (or smaller) the places' own scatter shows each variance to be: the ratio of
// Birge (1932), with the chosen doubts as guess_weight degrees of freedom beside it. One place has
// no scatter: the guess stands. *scatter: the standard deviation itself, Euclid.
static void scatter_of(const hw_place *places, size_t count, const double factor[3],
                       double ratio[3], double *scatter)
{
    double dof = (double)count - 1.0, squares = 0.0;
    double sum[3] = {guess_weight, guess_weight, guess_weight};
    for (size_t k = 0; k < count; k++) {
        double then[3], now[3];
        lab_values(places[k].then, then);
        lab_values(scaled(places[k].now, factor), now);
        for (int axis = 0; axis < 3; axis++) {
            double apart = now[axis] - then[axis];
            squares += apart * apart;
            sum[axis] += dof > 0.0 ? apart * apart / places[k].variance[axis] : 0.0;
        }
    }
    for (int axis = 0; axis < 3; axis++) {
        ratio[axis] = sum[axis] / (guess_weight + dof);
    }
    *scatter = dof > 0.0 ? sqrt(squares / dof) : (double)NAN;
}

// Variance of the scaled patch that comes from the places: each colour stepped a little (ISO/IEC
// Guide 98-3, 5.1.3, note 2).
static void scale_variance(const hw_place *places, size_t count, hw_lab patch,
                           const double ratio[3], double out[3])
{
    const double step = 0.01; // L*a*b*: small against any curve, large against rounding
    hw_place stepped[HW_PLACES_MOST];
    double factor[3], base[3], moved[3], colour[3];
    memcpy(stepped, places, count * sizeof *places);
    common_factor(places, count, factor);
    lab_values(scaled(patch, factor), base);
    for (size_t k = 0; k < count; k++) {
        for (int from = 0; from < 3; from++) {
            lab_values(places[k].now, colour);
            colour[from] += step;
            stepped[k].now = lab_of(colour);
            common_factor(stepped, count, factor);
            lab_values(scaled(patch, factor), moved);
            for (int axis = 0; axis < 3; axis++) {
                double slope = (moved[axis] - base[axis]) / step;
                out[axis] += slope * slope * ratio[from] * places[k].variance[from];
            }
        }
        stepped[k] = places[k];
    }
}

// Student's 95 % deviate over the normal one: few places know their own scatter badly (ISO/IEC
// Guide 98-3, G.4). Abramowitz and Stegun 26.7.5, two terms: within 1 % from 4 degrees of freedom.
static double few_places(double dof)
{
    double z3 = z95 * z95 * z95, z5 = z3 * z95 * z95;
    double t =
        z95 + (z3 + z95) / (4.0 * dof) + (5.0 * z5 + 16.0 * z3 + 3.0 * z95) / (96.0 * dof * dof);
    return t / z95;
}

// u of the change in L*, a*, b*. `patch`: as the photos hold it, not scaled.
static void change_doubt(const hw_patch_change *change, const hw_place *patch,
                         const hw_place *places, size_t count, const double ratio[3], double u[3])
{
    double variance[3] = {0.0, 0.0, 0.0}, now[3], after[3];
    double few = few_places(guess_weight + (double)count - 1.0);
    scale_variance(places, count, patch->now, ratio, variance);
    lab_values(patch->now, now);
    lab_values(change->after, after);
    for (int axis = 0; axis < 3; axis++) {
        double place_part = few * few * (ratio[axis] * patch->variance[axis] + variance[axis]);
        double size = size_share[axis] * change->change.de76;
        double scaling = scaling_share * (after[axis] - now[axis]);
        u[axis] = change->widening * sqrt(place_part + size * size + scaling * scaling);
    }
}

static void fill_ranges(hw_patch_change *change, const double u[3])
{
    hw_covariance covariance = hw_covariance_diagonal(u[0] * u[0], u[1] * u[1], u[2] * u[2]);
    const hw_difference *middle = &change->change;
    change->low.L = middle->L - HW_NINETY * u[0];
    change->low.a = middle->a - HW_NINETY * u[1];
    change->low.b = middle->b - HW_NINETY * u[2];
    change->high.L = middle->L + HW_NINETY * u[0];
    change->high.a = middle->a + HW_NINETY * u[1];
    change->high.b = middle->b + HW_NINETY * u[2];
    hw_gap_range(change->before, change->after, &covariance, &change->de00_low, &change->de00_high);
}

void hw_standing_fill(hw_patch_change *change, const hw_place *patch, const hw_place *places,
                      size_t count)
{
    double factor[3], ratio[3], u[3];
    common_factor(places, count, factor);
    change->after = scaled(patch->now, factor);
    change->change = hw_difference_of(change->before, change->after);
    scatter_of(places, count, factor, ratio, &change->scatter);
    change_doubt(change, patch, places, count, ratio, u);
    fill_ranges(change, u);
}

void hw_standing_fill_alone(hw_patch_change *change, const hw_place *part)
{
    double u[3];
    change->after = part->now;
    change->change = hw_difference_of(change->before, change->after);
    for (int axis = 0; axis < 3; axis++) {
        double size = size_share[axis] * change->change.de76;
        u[axis] = change->widening * sqrt(part->variance[axis] + size * size);
    }
    fill_ranges(change, u);
}
