// job_learn.c: what the passes of a job really did, as observations to learn from, each beside what was
// expected of it.
//
// From each photo of a patch to the next that can be compared with it (job_change.c: the session goes
// out by the old wood). What lies far off its forecast is questioned: kept, asked about, not
// learned from. So is a change that no logged pass explains.
#include "job_internal.h"

#include <math.h>

// Normal deviate beyond which a pass is questioned: 1 in 2000 (chosen).
static const double questioned_beyond = 3.3;
// A change without a pass is asked about when its range starts above this (CIEDE2000, chosen: below it
// two photos of the same state may differ).
static const double unexplained_above = 1.2;
// Earlier photos that one is tried to be compared with, the latest first (chosen).
static const size_t photos_back_most = 6;

// ---- Between two photos ------------------------------------------------------------

// Expected density of all passes between two photos. False where one carries no forecast, or there is
// none. Their doubts go the same way (one strength), so the standard deviations add, not the variances.
static bool expected_between(const hw_job *job, long before, long after, const char *patch,
                             double density[3], hw_covariance *covariance)
{
    int passes = 0;
    density[0] = density[1] = density[2] = 0.0;
    *covariance = (hw_covariance){{{0.0}}};
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        const hw_forecast *found = NULL;
        if (!hw_pass_is_between(event, before, after, patch)) {
            continue;
        }
        for (size_t k = 0; k < event->of.pass.forecast_count && !found; k++) {
            const hw_forecast *one = &event->of.pass.forecast[k];
            found = strcmp(one->patch, patch) == 0 ? one : NULL;
        }
        if (!found) {
            return false;
        }
        for (int band = 0; band < 3; band++) {
            density[band] += found->density[band];
        }
        *covariance = hw_covariance_sum(covariance, &found->covariance);
        passes++;
    }
    *covariance = hw_covariance_times(covariance, passes); // (sum of s.d.)^2 <= n sum of variances
    return passes > 0;
}

void hw_job_change_density(const hw_patch_change *change, double density[3],
                           hw_covariance *covariance)
{
    const double sides = 2.0 * HW_NINETY;
    double jacobian[3][3],
        u[3] = {(change->high.L - change->low.L) / sides, (change->high.a - change->low.a) / sides,
                (change->high.b - change->low.b) / sides};
    hw_covariance lab = hw_covariance_diagonal(u[0] * u[0], u[1] * u[1], u[2] * u[2]);
    hw_tone_between(change->before, change->after, density);
    hw_tone_density_by_lab(change->after, jacobian);
    *covariance = hw_covariance_map((const double(*)[3])jacobian, &lab);
}

// ---- Forecast and fact -------------------------------------------------------------

// d (L*, a*, b*) / d density, the inverse of hw_tone_density_by_lab, by central differences.
static void forecast_range(hw_forecast_check *check, hw_lab before, const double density[3],
                           const hw_covariance *covariance)
{
    const double step = 1e-3;
    double jacobian[3][3];
    for (int band = 0; band < 3; band++) {
        double more[3] = {density[0], density[1], density[2]};
        more[band] += step;
        hw_lab up = hw_tone_under(before, more);
        more[band] -= 2.0 * step;
        hw_lab down = hw_tone_under(before, more);
        jacobian[0][band] = (up.L - down.L) / (2.0 * step);
        jacobian[1][band] = (up.a - down.a) / (2.0 * step);
        jacobian[2][band] = (up.b - down.b) / (2.0 * step);
    }
    hw_covariance lab = hw_covariance_map((const double(*)[3])jacobian, covariance);
    hw_difference middle = hw_difference_of(before, check->forecast);
    double u[3] = {HW_NINETY * sqrt(lab.m[0][0]), HW_NINETY * sqrt(lab.m[1][1]),
                   HW_NINETY * sqrt(lab.m[2][2])};
    check->low = (hw_difference){.L = middle.L - u[0], .a = middle.a - u[1], .b = middle.b - u[2]};
    check->high = (hw_difference){.L = middle.L + u[0], .a = middle.a + u[1], .b = middle.b + u[2]};
}

// Common practice, no source: what is behind a pass that did something else.
static void ask(hw_forecast_check *check)
{
    const char *what =
        fabs(check->ratio) < 0.1
            ? "it did nothing that shows: was it laid here, wiped back, or did a mark move?"
        : check->ratio < 0.0
            ? "it became lighter: was it wiped back, is the sheen another, or did a mark move?"
        : check->ratio < 0.8
            ? "it did far less than forecast: was it laid at this strength, wiped back, or did a "
              "mark move?"
        : check->ratio > 1.25
            ? "it did far more than forecast: is it still wet, was a pass forgotten in the log, is "
              "the sheen another, or did a mark move?"
            : "it went another way than forecast: was it this dye, is it still wet, is the sheen "
              "another, or did a mark move?";
    hw_copy_text(check->question, sizeof check->question, what);
}

hw_forecast_check hw_job_check_forecast(const hw_job *job, const hw_patch_change *change,
                                        const char *patch)
{
    hw_forecast_check check = {.ratio = (double)NAN, .far_off = (double)NAN};
    double expected[3], seen[3], along = 0.0, square = 0.0;
    hw_covariance expected_covariance, seen_covariance;
    if (!hw_change_is_told(change) ||
        !expected_between(job, change->photo_before, change->photo_after, patch, expected,
                          &expected_covariance)) {
        return check;
    }
    hw_job_change_density(change, seen, &seen_covariance);
    check.known = true;
    check.forecast = hw_tone_under(change->before, expected);
    forecast_range(&check, change->before, expected, &expected_covariance);
    for (int band = 0; band < 3; band++) {
        along += expected[band] * seen[band];
        square += expected[band] * expected[band];
    }
    check.ratio = square > 0.0 ? along / square : (double)NAN;
    check.far_off = hw_tone_far_off(expected, &expected_covariance, seen, &seen_covariance);
    check.questioned = check.far_off > questioned_beyond;
    if (check.questioned) {
        ask(&check);
    }
    return check;
}

// ---- Observations ------------------------------------------------------------------

typedef struct observing {
    const hw_job *job;
    hw_observation *seen;
    size_t count, room;
    long ask_photo; // 0: all
    hw_warnings *asked;
} observing;

static hw_laid *laid_of(hw_observation *seen, const char *dye, const char *jar)
{
    for (size_t k = 0; k < seen->laid_count; k++) {
        if (strcmp(seen->laid[k].dye, dye) == 0 && strcmp(seen->laid[k].jar, jar) == 0) {
            return &seen->laid[k];
        }
    }
    if (seen->laid_count == HW_LAID_MOST) {
        return NULL;
    }
    hw_laid *laid = &seen->laid[seen->laid_count++];
    hw_copy_text(laid->dye, sizeof laid->dye, dye);
    hw_copy_text(laid->jar, sizeof laid->jar, jar);
    return laid;
}

// False where more dyes lie between the photos than one observation holds.
static bool note_laid(hw_observation *seen, const hw_job *job, const hw_event *event)
{
    const hw_pass_event *pass = &event->of.pass;
    char jar[HW_JAR_KEY_SIZE] = "";
    if (pass->jar > 0) {
        hw_job_jar_key(job, pass->jar, jar);
    }
    for (size_t k = 0; k < pass->liquid.count; k++) {
        const hw_dose *dose = &pass->liquid.dose[k];
        hw_laid *laid = laid_of(seen, dose->dye, jar);
        if (!laid) {
            return false;
        }
        hw_laid_add(laid, dose, pass->passes);
    }
    seen->event =
        seen->event ? seen->event : event->number; // the first: one logged later is no other
    seen->at = event->at;
    if (pass->dye_count) {
        seen->tool = pass->dye[0].tool;
    }
    return true;
}

static void note_before(hw_observation *seen, const hw_event *event)
{
    const hw_pass_event *pass = &event->of.pass;
    for (size_t k = 0; k < pass->liquid.count; k++) {
        for (size_t i = 0; i < seen->laid_count; i++) {
            if (strcmp(seen->laid[i].dye, pass->liquid.dose[k].dye) == 0) {
                seen->laid[i].before += pass->passes * pass->liquid.dose[k].strength;
            }
        }
    }
}

// Of a dye out of several jars each was laid over the ones before it.
static void add_jars_below(hw_observation *seen)
{
    for (size_t i = 1; i < seen->laid_count; i++) {
        for (size_t k = 0; k < i; k++) {
            if (strcmp(seen->laid[i].dye, seen->laid[k].dye) == 0) {
                seen->laid[i].before += seen->laid[k].amount;
            }
        }
    }
}

// What was laid between the two photos of a change; false: nothing, or more than can be told apart.
static bool fill_laid(const hw_job *job, const hw_patch_change *change, const char *patch,
                      hw_observation *out)
{
    bool few = true;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (hw_pass_is_between(event, change->photo_before, change->photo_after, patch)) {
            few = note_laid(out, job, event) && few;
        }
    }
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (hw_job_pass_lies(job, event, patch, change->photo_before)) {
            note_before(out, event);
        }
    }
    add_jars_below(out);
    return few && out->laid_count > 0;
}

// A pass that was logged without a forecast, by an older version: tested against its family's guess, where its
// dye bears a family's name. Strength off by half or twice is no question then.
static bool is_absurd(const hw_observation *seen)
{
    hw_shelf shelf = {0};
    hw_known known = {0};
    double expected[3];
    hw_covariance doubt;
    bool absurd = seen->density[0] + seen->density[1] + seen->density[2] < 0.0;
    if (hw_shelf_guesses(&shelf, NULL) == HW_OK &&
        hw_tone_learn(&shelf, "", seen->wood, &known, NULL) == HW_OK) {
        bool all = true;
        for (size_t k = 0; k < seen->laid_count; k++) {
            all = all && hw_known_find(&known, seen->laid[k].dye);
        }
        hw_tone_expect(&known, seen->laid, seen->laid_count, expected, &doubt);
        absurd = absurd || (all && hw_tone_far_off(expected, &doubt, seen->density,
                                                   &seen->covariance) > questioned_beyond);
    }
    hw_known_free(&known);
    hw_shelf_free(&shelf);
    return absurd;
}

// Forecast against fact; where none was logged, against what such a pass can do at all.
static hw_forecast_check question(const hw_job *job, const hw_patch_change *change,
                                  const char *patch, const hw_observation *seen)
{
    hw_forecast_check check = hw_job_check_forecast(job, change, patch);
    if (!check.known && is_absurd(seen)) {
        check.questioned = true;
        hw_copy_text(
            check.question, sizeof check.question,
            "it did far from what such a pass can do: was a pass forgotten in the log, is it "
            "still wet, or did a mark move?");
    }
    return check;
}

static bool asks_about(const observing *o, const hw_patch_change *change)
{
    return o->asked && (o->ask_photo == 0 || o->ask_photo == change->photo_after);
}

static void ask_unexplained(observing *o, const hw_patch_change *change, const char *patch)
{
    if (!asks_about(o, change) || !(change->de00_low > unexplained_above)) {
        return;
    }
    hw_warn(
        o->asked,
        "%s changed by %.1f between photo %ld and photo %ld (%s) and no pass between them is "
        "logged: was a pass forgotten, was it wiped back, or did a mark move? Nothing is learned "
        "from it. "
        "A forgotten pass can be logged with --before-photo %ld.",
        patch, change->change.de00, change->photo_before, change->photo_after,
        change->change.L < 0.0 ? "darker" : "lighter", change->photo_after);
}

static bool keep_observation(observing *o, const hw_patch_change *change, const char *patch)
{
    hw_observation seen = {.photo_before = change->photo_before,
                           .photo_after = change->photo_after,
                           .wood = change->before};
    if (!fill_laid(o->job, change, patch, &seen)) {
        return true;
    }
    if (o->count == o->room) {
        size_t room = o->room ? 2 * o->room : 8;
        hw_observation *grown = hw_resize_array(o->seen, room, sizeof *grown);
        if (!grown) {
            return false;
        }
        o->seen = grown;
        o->room = room;
    }
    hw_copy_text(seen.job, sizeof seen.job, hw_job_id(o->job));
    hw_copy_text(seen.patch, sizeof seen.patch, patch);
    hw_job_change_density(change, seen.density, &seen.covariance);
    hw_forecast_check check = question(o->job, change, patch, &seen);
    seen.questioned = check.questioned;
    hw_copy_text(seen.question, sizeof seen.question, check.question);
    if (check.questioned && asks_about(o, change)) {
        hw_warn(o->asked,
                "%s, photo %ld to photo %ld: %s Nothing is learned from it. Look into it; a "
                "forgotten pass "
                "can be logged with --before-photo %ld.",
                patch, change->photo_before, change->photo_after, check.question,
                change->photo_after);
    }
    o->seen[o->count++] = seen;
    return true;
}

// A picture that was there before tells of what was laid since no more than it did.
bool hw_job_compare_back(const hw_job *job, size_t index, hw_role role, const char *part,
                         bool *by_card_alone, hw_patch_change *out)
{
    const hw_event *now = hw_job_event(job, index);
    size_t tried = hw_job_photo_repeats(job, now, part) ? photos_back_most : 0;
    for (size_t i = index; i-- > 0 && tried < photos_back_most;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind != HW_EVENT_PHOTO_ADDED ||
            !hw_marks_find(&event->of.photo.marks, role, part)) {
            continue;
        }
        *out = by_card_alone
                   ? hw_job_coat_change(job, event->number, now->number, role, part, by_card_alone)
                   : hw_job_patch_change(job, event->number, now->number, part);
        bool told = hw_change_is_told(out);
        if (told && !hw_job_photo_repeats(job, event, part)) {
            return true;
        }
        tried += !told;
    }
    return false;
}

static bool compare_patch_back(const hw_job *job, size_t index, const char *patch,
                               hw_patch_change *out)
{
    return hw_job_compare_back(job, index, HW_ROLE_PATCH, patch, NULL, out);
}

static bool observe_photo(observing *o, size_t index)
{
    const hw_event *event = hw_job_event(o->job, index);
    for (size_t k = 0; k < event->of.photo.marks.count; k++) {
        const hw_mark *mark = &event->of.photo.marks.mark[k];
        hw_patch_change change;
        if (mark->role != HW_ROLE_PATCH ||
            !compare_patch_back(o->job, index, mark->name, &change)) {
            continue;
        }
        if (!hw_job_laid_between(o->job, change.photo_before, change.photo_after, mark->name)) {
            ask_unexplained(o, &change, mark->name);
        } else if (!keep_observation(o, &change, mark->name)) {
            return false;
        }
    }
    return true;
}

hw_status hw_job_observe(const hw_job *job, long ask_photo, hw_observation **out, size_t *count,
                         hw_warnings *asked, hw_error *err)
{
    observing o = {.job = job, .ask_photo = ask_photo, .asked = asked};
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        if (hw_job_event(job, i)->kind == HW_EVENT_PHOTO_ADDED && !observe_photo(&o, i)) {
            hw_free(o.seen);
            return hw_fail_memory(err, "learning from the passes");
        }
    }
    *out = o.seen;
    *count = o.count;
    return HW_OK;
}

void hw_free_observations(hw_observation *seen)
{
    hw_free(seen);
}

static bool was_kind(const hw_job *job, long number, hw_event_kind kind)
{
    const hw_event *event = hw_job_event_numbered(job, number);
    return event && event->was == kind;
}

static bool made(const hw_job *job, const char *id, hw_event_kind kind, long event, long before,
                 long after)
{
    return strcmp(id, hw_job_id(job)) == 0 && was_kind(job, event, kind) &&
           was_kind(job, before, HW_EVENT_PHOTO_ADDED) &&
           was_kind(job, after, HW_EVENT_PHOTO_ADDED);
}

bool hw_job_made(const hw_job *job, const hw_observation *seen)
{
    return made(job, seen->job, HW_EVENT_PASS_LAID, seen->event, seen->photo_before,
                seen->photo_after);
}

bool hw_job_made_coat(const hw_job *job, const hw_coat_seen *seen)
{
    return made(job, seen->job, HW_EVENT_COAT_LAID, seen->event, seen->photo_before,
                seen->photo_after);
}

bool hw_job_asks_about(const hw_job *job, long photo, const char *patch)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        hw_patch_change change;
        if (hw_job_event(job, i)->number != photo || !compare_patch_back(job, i, patch, &change)) {
            continue;
        }
        hw_observation seen = {.wood = change.before};
        if (!hw_job_laid_between(job, change.photo_before, change.photo_after, patch)) {
            return change.de00_low > unexplained_above;
        }
        hw_job_change_density(&change, seen.density, &seen.covariance);
        return fill_laid(job, &change, patch, &seen) &&
               question(job, &change, patch, &seen).questioned;
    }
    return false;
}

// ---- Risk --------------------------------------------------------------------------

// Of one patch. What was shown last counts once a pass was laid on it, whatever was laid.
static double spent_on(const hw_job *job, const char *patch)
{
    double spent = 0.0, shown = 0.0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        const hw_plan_event *plan = &event->of.plan;
        if (event->kind == HW_EVENT_PLAN_SHOWN && strcmp(plan->patch, patch) == 0) {
            shown = plan->has_next && isfinite(plan->risk) ? plan->risk : 0.0;
        } else if (hw_pass_is_on(event, patch)) {
            spent += shown;
            shown = 0.0;
        }
    }
    return spent;
}

static bool planned_before(const hw_job *job, size_t index)
{
    for (size_t i = 0; i < index; i++) {
        if (hw_job_event(job, i)->kind == HW_EVENT_PLAN_SHOWN &&
            strcmp(hw_job_event(job, i)->of.plan.patch, hw_job_event(job, index)->of.plan.patch) ==
                0) {
            return true;
        }
    }
    return false;
}

double hw_job_risk_spent(const hw_job *job)
{
    double spent = 0.0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PLAN_SHOWN && !planned_before(job, i)) {
            spent += spent_on(job, event->of.plan.patch);
        }
    }
    return spent;
}
