// job_change.c: what a patch did between two photos of a job, read against the old wood in both.
//
// The old wood is not touched, so what changed on it between two photos is the session: light,
// exposure, camera. In this order:
//  (1) What forbids a comparison is found first: another lamp, a surface in another state. What
//      only makes it less sure (another camera, a light that moved a little) widens the range.
//  (2) In the Bradford-sharpened bands (Lam 1985; ICC.1:2022 annex E) the later photo is scaled so
//      that the old wood reads as it did in the earlier one. Several pieces of old wood give one
//      scale together: the mean of the logarithms, weighted by inverse variance.
//  (3) The patch's change is taken after that; how far the pieces scatter about their common scale
//      says how far one place may differ from the other from photo to photo.
//
// Why not card to card alone: in our simulation (one lamp, several cameras) the change of a patch
// is wrong by 0.9 in the mean and 2.1 at the 95th percentile (Euclid, L*a*b*) when read by the card
// alone, by 0.5 and 1.4 against old wood too. Under another lamp it is wrong by 2.3 to 2.8, and
// nothing rescues it: hence the refusal.
#include "job_internal.h"

#include <math.h>

#define PLACES_MOST 64 // pieces of old wood in one comparison; as many as a photo has marks

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

// The card's move in CIE 1976 u'v' (CIE 15:2018, 8.2.2). Above 0.005 the lamp or the white balance
// is another; above 0.02 no size is told (chosen; D50 and D65 lie 0.023 apart).
static const double card_same = 0.005;
static const double card_other = 0.02;
static const double wider = 2.0; // each reason to widen doubles the range (chosen)

static const double z95 = 1.6448536269514722; // normal deviate that 5 % exceed
static const double ninety = 1.645;           // U = 1.645 u bounds 90 %

// One piece of old wood in both photos.
typedef struct place {
    hw_lab then, now;
    double variance[3]; // of now minus then, L*, a*, b*: chosen doubts and logged errors
} place;

// The two photos that are compared.
typedef struct photos {
    const hw_job *job;
    const hw_photo_event *then_photo, *now_photo;
    const hw_reading_event *then, *now;
    const char *patch;
} photos;

static const char *const status_names[] = {[HW_CHANGE_UNKNOWN] = "unknown",
                                           [HW_CHANGE_COMPARABLE] = "comparable",
                                           [HW_CHANGE_WIDENED] = "widened",
                                           [HW_CHANGE_REFUSED] = "refused"};

const char *hw_change_status_name(hw_change_status status)
{
    return status_names[status];
}

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
static double weight_of(const place *one)
{
    return 3.0 / (one->variance[0] + one->variance[1] + one->variance[2]);
}

// The factor a band that carries the later photo to the earlier one. log_ratio tested the places.
static void common_factor(const place *places, size_t count, double factor[3])
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

// ---- Doubt -------------------------------------------------------------------------

// How much larger (or smaller) the places' own scatter shows each variance to be: the ratio of
// Birge (1932), with the chosen doubts as guess_weight degrees of freedom beside it. One place has
// no scatter: the guess stands. *scatter: the standard deviation itself, Euclid.
static void scatter_of(const place *places, size_t count, const double factor[3], double ratio[3],
                       double *scatter)
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
static void scale_variance(const place *places, size_t count, hw_lab patch, const double ratio[3],
                           double out[3])
{
    const double step = 0.01; // L*a*b*: small against any curve, large against rounding
    place stepped[PLACES_MOST];
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
static void change_doubt(const hw_patch_change *change, const place *patch, const place *places,
                         size_t count, const double ratio[3], double u[3])
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
    change->low.L = middle->L - ninety * u[0];
    change->low.a = middle->a - ninety * u[1];
    change->low.b = middle->b - ninety * u[2];
    change->high.L = middle->L + ninety * u[0];
    change->high.a = middle->a + ninety * u[1];
    change->high.b = middle->b + ninety * u[2];
    hw_gap_range(change->before, change->after, &covariance, &change->de00_low, &change->de00_high);
}

static void fill_change(hw_patch_change *change, const place *patch, const place *places,
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

// ---- Reasons -----------------------------------------------------------------------

static void add_reason(hw_patch_change *change, const char *reason)
{
    size_t length = strlen(change->reason);
    hw_format_text(change->reason + length, sizeof change->reason - length, "%s%s",
                   length ? "; " : "", reason);
}

static void refuse(hw_patch_change *change, const char *reason)
{
    change->status = HW_CHANGE_REFUSED;
    add_reason(change, reason);
}

static void widen(hw_patch_change *change, const char *reason)
{
    change->widening *= wider;
    add_reason(change, reason);
}

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

// "North window" is "north window": capitals make no other lamp.
static bool same_words(const char *one, const char *other)
{
    while (*one && lower(*one) == lower(*other)) {
        one++;
        other++;
    }
    return *one == *other;
}

static bool both_said(const char *one, const char *other)
{
    return one[0] && other[0];
}

// ---- Lamp and camera ---------------------------------------------------------------

static void test_lamp(const photos *two, hw_patch_change *change)
{
    const char *then = two->then_photo->lamp, *now = two->now_photo->lamp;
    char reason[320];
    if (both_said(then, now) && !same_words(then, now)) {
        hw_format_text(reason, sizeof reason, "another lamp: it was named %s then, %s now", then,
                       now);
        refuse(change, reason);
    }
}

// u' and v' of CIE 1976 (CIE 15:2018, 8.2.2). False for black.
static bool chromaticity(hw_lab colour, double out[2])
{
    hw_xyz xyz = hw_xyz_from_lab(colour, hw_white_d50);
    double sum = xyz.X + 15.0 * xyz.Y + 3.0 * xyz.Z;
    out[0] = 4.0 * xyz.X / sum;
    out[1] = 9.0 * xyz.Y / sum;
    return sum > 0.0 && isfinite(out[0]) && isfinite(out[1]);
}

static void test_card(const photos *two, hw_patch_change *change)
{
    double then[2], now[2];
    char reason[320];
    if (!two->then->has_card_seen || !two->now->has_card_seen ||
        !chromaticity(two->then->card_seen, then) || !chromaticity(two->now->card_seen, now)) {
        add_reason(change,
                   "the log does not say how the card looked in both, so another lamp would "
                   "not be noticed");
        return;
    }
    change->card_moved = hypot(now[0] - then[0], now[1] - then[1]);
    if (change->card_moved > card_other) {
        hw_format_text(
            reason, sizeof reason,
            "another lamp or white balance: the card's colour in the photo moved by %.3f "
            "(u'v'; at most %.3f under one lamp)",
            change->card_moved, card_same);
        refuse(change, reason);
    } else if (change->card_moved > card_same) {
        hw_format_text(reason, sizeof reason,
                       "the light moved a little: the card's colour in the photo by %.3f (u'v'; at "
                       "most %.3f under one lamp)",
                       change->card_moved, card_same);
        widen(change, reason);
    }
}

static void test_camera(const photos *two, hw_patch_change *change)
{
    const char *then = two->then->camera, *now = two->now->camera;
    char reason[320];
    if (both_said(then, now) && strcmp(then, now) != 0) {
        hw_format_text(reason, sizeof reason, "another camera (%s, then %s)", then, now);
        widen(change, reason);
    }
}

// ---- States ------------------------------------------------------------------------

// "not dry": the name as words.
static void state_words(char out[32], hw_state state)
{
    hw_copy_text(out, 32, hw_state_name(state));
    for (char *at = out; *at; at++) {
        *at = *at == '_' ? ' ' : *at;
    }
}

// Is the surface of the part the same in both photos, as far as it was said? Else the reason.
static bool same_state(const photos *two, const hw_patch_change *change, const char *what,
                       const char *part, char *reason, size_t size)
{
    hw_state then = hw_job_state(two->job, change->photo_before, part);
    hw_state now = hw_job_state(two->job, change->photo_after, part);
    char before[32], after[32];
    if (then == HW_STATE_NOT_DRY || now == HW_STATE_NOT_DRY) {
        hw_format_text(reason, size, "%s%s was not dry in photo %ld", what, part,
                       then == HW_STATE_NOT_DRY ? change->photo_before : change->photo_after);
        return false;
    }
    if (then == now || then == HW_STATE_UNKNOWN || now == HW_STATE_UNKNOWN) {
        return true;
    }
    state_words(before, then);
    state_words(after, now);
    hw_format_text(reason, size, "%s%s was %s then and is %s now", what, part, before, after);
    return false;
}

static void test_patch_state(const photos *two, hw_patch_change *change)
{
    char reason[320];
    if (!same_state(two, change, "", two->patch, reason, sizeof reason)) {
        refuse(change, reason);
    }
}

// ---- Old wood in both --------------------------------------------------------------

static const hw_logged_sample *sample_of(const hw_reading_event *reading, hw_role role,
                                         const char *name)
{
    for (size_t i = 0; i < reading->sample_count; i++) {
        if (reading->samples[i].role == role && strcmp(reading->samples[i].name, name) == 0) {
            return &reading->samples[i];
        }
    }
    return NULL;
}

static bool is_beside(const photos *two, const char *target)
{
    const hw_mark *patch = hw_marks_find(&two->now_photo->marks, HW_ROLE_PATCH, two->patch);
    const hw_mark *mark = hw_marks_find(&two->now_photo->marks, HW_ROLE_TARGET, target);
    return !patch || !mark || hw_mark_is_beside(patch, mark);
}

static place place_of(const hw_logged_sample *then, const hw_logged_sample *now, double factor)
{
    place one = {.then = then->lab, .now = now->lab};
    for (int axis = 0; axis < 3; axis++) {
        double doubt = factor * place_doubt[axis];
        double texture =
            texture_share * hypot(then->standard_error[axis], now->standard_error[axis]);
        one.variance[axis] = doubt * doubt + texture * texture;
    }
    return one;
}

static bool is_usable(const place *one)
{
    double ratio[3], sum = one->variance[0] + one->variance[1] + one->variance[2];
    return isfinite(sum) && log_ratio(one->then, one->now, ratio);
}

// The old wood that both photos read, in the same state. A piece beside the patch that changed its
// state forbids the comparison; one elsewhere is only left out.
static size_t find_places(const photos *two, hw_patch_change *change, place places[PLACES_MOST])
{
    size_t count = 0;
    for (size_t i = 0; i < two->now->sample_count && count < PLACES_MOST; i++) {
        const hw_logged_sample *now = &two->now->samples[i];
        const hw_logged_sample *then = sample_of(two->then, HW_ROLE_TARGET, now->name);
        char reason[320];
        if (now->role != HW_ROLE_TARGET || !then) {
            continue;
        }
        bool beside = is_beside(two, now->name);
        if (!same_state(two, change, "the old wood ", now->name, reason, sizeof reason)) {
            if (beside) {
                refuse(change, reason);
            }
            continue;
        }
        places[count] = place_of(then, now, beside ? 1.0 : elsewhere);
        count += is_usable(&places[count]);
    }
    return count;
}

// ---- All ---------------------------------------------------------------------------

static const hw_photo_event *photo_of(const hw_job *job, long number)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED && event->number == number) {
            return &event->of.photo;
        }
    }
    return NULL;
}

static const hw_reading_event *reading_of(const hw_job *job, long photo)
{
    const hw_event *event = hw_job_reading_of(job, photo);
    return event ? &event->of.reading : NULL;
}

static hw_patch_change empty_change(long photo_before, long photo_after)
{
    const double none = (double)NAN;
    const hw_lab colour = {none, none, none};
    const hw_difference gap = {none, none, none, none, none, none, none, none};
    return (hw_patch_change){.photo_before = photo_before,
                             .photo_after = photo_after,
                             .before = colour,
                             .after = colour,
                             .change = gap,
                             .low = gap,
                             .high = gap,
                             .de00_low = none,
                             .de00_high = none,
                             .scatter = none,
                             .card_moved = none,
                             .widening = 1.0};
}

// Fills the change, or leaves it unknown or refused with its reasons.
static void compare(const photos *two, const place *patch, hw_patch_change *change)
{
    place places[PLACES_MOST];
    test_lamp(two, change);
    test_card(two, change);
    test_camera(two, change);
    test_patch_state(two, change);
    size_t count = find_places(two, change, places);
    if (change->status == HW_CHANGE_REFUSED) {
        return;
    }
    if (count == 0) {
        add_reason(change, "no old wood is marked in both");
        return;
    }
    change->status = change->widening > 1.0 ? HW_CHANGE_WIDENED : HW_CHANGE_COMPARABLE;
    change->targets = count;
    fill_change(change, patch, places, count);
}

hw_patch_change hw_job_patch_change(const hw_job *job, long photo_before, long photo_after,
                                    const char *patch)
{
    hw_patch_change change = empty_change(photo_before, photo_after);
    photos two = {job,
                  photo_of(job, photo_before),
                  photo_of(job, photo_after),
                  reading_of(job, photo_before),
                  reading_of(job, photo_after),
                  patch};
    if (!two.then_photo || !two.now_photo || !two.then || !two.now) {
        add_reason(&change, "the log does not hold both photos with their readings");
        return change;
    }
    const hw_logged_sample *then = sample_of(two.then, HW_ROLE_PATCH, patch);
    const hw_logged_sample *now = sample_of(two.now, HW_ROLE_PATCH, patch);
    if (!then || !now) {
        add_reason(&change, "the repair is not read in both");
        return change;
    }
    place both = place_of(then, now, 1.0);
    if (!is_usable(&both)) {
        add_reason(&change, "the repair is too dark to be scaled");
        return change;
    }
    change.before = then->lab;
    compare(&two, &both, &change);
    return change;
}
