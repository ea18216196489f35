// report_history.c: what was seen and done on a piece, in order, and what each pass really did.
//
// A pass is judged by two photos: the last before it and the first after it. Where no photo follows
// yet, it is said so; where further passes lie between the two, the change is of all of them.
// The change itself is read against the old wood in both photos, so what the light and the camera
// did to both has gone out of it (job_change.c); where that cannot be, the reason stands in its
// place beside the two gaps.
// Times are UTC: the same history reads the same everywhere.
#include "report_internal.h"

#include <math.h>
#include <string.h>

// ---- Photos and readings -----------------------------------------------------------

static void add_states(hw_text *text, const hw_photo_event *photo)
{
    for (size_t i = 0; i < photo->state_count; i++) {
        hw_report_add_said(text, "; ", photo->states[i].part);
        hw_text_add(text, ": ");
        hw_report_add_state(text, photo->states[i].state);
    }
}

static void add_measured(hw_text *text, const hw_event *event)
{
    const hw_photo_event *measured = &event->of.photo;
    hw_text_add(text, "measured (event %ld)", event->number);
    hw_report_add_said(text, ": ", measured->original);
    hw_report_add_said(text, "; instrument: ", measured->instrument);
    if (measured->has_card_lab) {
        hw_text_add(text, "; the card's own colour: L* %.1f, a* %.1f, b* %.1f",
                    measured->card_lab.L, measured->card_lab.a, measured->card_lab.b);
    }
    add_states(text, measured);
    hw_report_add_said(text, "; note: ", measured->note);
}

static void add_photo(hw_text *text, const hw_event *event)
{
    const hw_photo_event *photo = &event->of.photo;
    if (photo->measured) {
        add_measured(text, event);
        return;
    }
    hw_text_add(text, "photo %ld, ", event->number);
    hw_report_add_clean(text, photo->view[0] ? photo->view : "front");
    hw_text_add(text, "%s%s", photo->from != HW_FROM_UNSAID ? ", " : "",
                photo->from != HW_FROM_UNSAID ? hw_from_words(photo->from) : "");
    hw_report_add_said(text, ": ", photo->original);
    for (size_t i = 0; i < photo->more_count; i++) {
        hw_report_add_said(text, ", ", photo->more[i].original);
    }
    if (photo->more_count > 0) {
        hw_text_add(text, " (%zu shots read together)", photo->more_count + 1);
    }
    hw_report_add_said(text, "; lamp: ", photo->lamp);
    add_states(text, photo);
    hw_report_add_said(text, "; note: ", photo->note);
    hw_text_add(text, "%s", photo->marks_reused ? "; marks of the photo before" : "");
}

static void add_gap(hw_text *text, const hw_logged_gap *gap)
{
    hw_text_add(text, "    ");
    hw_report_add_clean(text, gap->patch);
    hw_text_add(text, ": %s; gap ", hw_report_verdict_words(gap->verdict));
    hw_report_add_gap_range(text, gap->de00, gap->de00_low, gap->de00_high);
    hw_text_add(text, "; against the old wood ");
    hw_report_add_change(text, gap->L, gap->a, gap->b);
    hw_text_add(text, "\n");
}

// Under the later of two photos from left and right whose gaps turn their sign.
static void add_grain_light(hw_text *text, const hw_job *job, const hw_event *event,
                            const char *patch)
{
    hw_job_sides sides = hw_job_sides_of(job, patch);
    long later = sides.left > sides.right ? sides.left : sides.right;
    if (sides.known && sides.pair.turned && later == event->of.reading.photo) {
        hw_text_add(text, "        from the left (photo %ld) and from the right (photo %ld): %s\n",
                    sides.left, sides.right, hw_grain_light);
    }
}

static void add_reading(hw_text *text, const hw_job *job, const hw_event *event)
{
    for (size_t i = 0; i < event->of.reading.gap_count; i++) {
        add_gap(text, &event->of.reading.gaps[i]);
        add_grain_light(text, job, event, event->of.reading.gaps[i].patch);
    }
}

static void add_plan(hw_text *text, const hw_event *event)
{
    const hw_plan_event *plan = &event->of.plan;
    hw_text_add(text, "advice on ");
    hw_report_add_clean(text, plan->patch);
    if (!plan->has_next) {
        hw_text_add(text, plan->stop ? ": stop" : ": nothing to lay now");
        return;
    }
    char passes[32];
    hw_report_passes(passes, sizeof passes, plan->next.passes);
    hw_text_add(text, ": lay %s of ", passes);
    hw_report_add_liquid(text, &plan->next.liquid);
    if (isfinite(plan->forecast_de00)) {
        hw_text_add(text, "; gap expected after it: %.1f", plan->forecast_de00);
    }
}

// ---- Passes ------------------------------------------------------------------------

// "L* -1.9 (-2.4 to -1.4): darker", or "not sure" where the range holds no change.
static void add_axis(hw_text *text, const char *name, double value, double low, double high,
                     const char *more, const char *less)
{
    bool sure = low > 0.0 || high < 0.0;
    hw_text_add(text, "%s ", name);
    hw_report_add_range(text, value, low, high);
    hw_text_add(text, ": %s", !sure ? "not sure" : value > 0.0 ? more : less);
}

static void add_reason(hw_text *text, const hw_patch_change *change)
{
    if (change->reason[0]) {
        hw_text_add(text, "; ");
        hw_report_add_clean(text, change->reason);
    }
}

// What it rests on, and how sure that is.
static void add_ground(hw_text *text, const hw_patch_change *change)
{
    if (change->targets == 1) {
        hw_text_add(text, "; read against the old wood in both photos (1 place)");
    } else {
        hw_text_add(
            text, "; read against the old wood in both photos (%zu places, which scatter by %.1f)",
            change->targets, change->scatter);
    }
    if (change->widening > 1.0) {
        hw_text_add(text, "; ranges %g times as wide", change->widening);
    }
}

static void add_standing(hw_text *text, const hw_patch_change *change)
{
    const hw_difference *middle = &change->change, *low = &change->low, *high = &change->high;
    hw_text_add(text, "        did: ");
    if (change->status == HW_CHANGE_REFUSED || change->status == HW_CHANGE_UNKNOWN) {
        hw_text_add(text, "cannot be told from these two photos");
        add_reason(text, change);
        hw_text_add(text, "\n");
        return;
    }
    add_axis(text, "L*", middle->L, low->L, high->L, "lighter", "darker");
    add_axis(text, ", a*", middle->a, low->a, high->a, "redder", "greener");
    add_axis(text, ", b*", middle->b, low->b, high->b, "yellower", "bluer");
    add_ground(text, change);
    add_reason(text, change);
    hw_text_add(text, "\n");
}

// What was expected of it, beside that.
static void add_forecast(hw_text *text, const hw_pass_effect *effect)
{
    const hw_forecast_check *check = &effect->check;
    if (!check->known) {
        return;
    }
    hw_difference middle = hw_difference_of(effect->change.before, check->forecast);
    hw_text_add(text, "        forecast: ");
    add_axis(text, "L*", middle.L, check->low.L, check->high.L, "lighter", "darker");
    add_axis(text, ", a*", middle.a, check->low.a, check->high.a, "redder", "greener");
    add_axis(text, ", b*", middle.b, check->low.b, check->high.b, "yellower", "bluer");
    if (check->questioned) {
        hw_text_add(text, "\n        ASK: %s Nothing is learned from it.\n", check->question);
    } else if (fabs(check->ratio - 1.0) < 0.15) {
        hw_text_add(text, "; it did about that\n");
    } else {
        hw_text_add(text, "; it did %.1f times that: learned\n", check->ratio);
    }
}

static void add_effect(hw_text *text, const hw_job *job, const hw_event *event, const char *patch)
{
    hw_pass_effect effect = hw_job_pass_effect(job, event, patch);
    hw_text_add(text, "    ");
    hw_report_add_clean(text, patch);
    if (!effect.known) {
        const hw_event *last = hw_job_last_photo_of_patch(job, patch);
        bool seen_since = last && last->number > hw_event_place(event);
        hw_text_add(text, seen_since ? ": no photo before it, so what it did is not known\n"
                                     : ": not photographed since\n");
        return;
    }
    hw_text_add(text, ": what it did: gap ");
    hw_report_add_gap_range(text, effect.before.de00, effect.before.de00_low,
                            effect.before.de00_high);
    hw_text_add(text, " before, ");
    hw_report_add_gap_range(text, effect.after.de00, effect.after.de00_low, effect.after.de00_high);
    hw_text_add(text, " after (photo %ld to photo %ld%s)\n", effect.photo_before,
                effect.photo_after,
                effect.others_between ? "; together with the other passes laid between them" : "");
    add_standing(text, &effect.change);
    add_forecast(text, &effect);
}

static void add_pass(hw_text *text, const hw_event *event)
{
    const hw_pass_event *pass = &event->of.pass;
    char passes[32];
    hw_report_passes(passes, sizeof passes, pass->passes);
    hw_text_add(text, "%s of ", passes);
    hw_report_add_liquid(text, &pass->liquid);
    if (pass->jar > 0) {
        hw_text_add(text, " (jar %ld)", pass->jar);
    }
    hw_text_add(text, " laid on ");
    for (size_t i = 0; i < pass->patch_count; i++) {
        hw_text_add(text, i ? ", " : "");
        hw_report_add_clean(text, pass->patches[i]);
    }
    hw_report_add_before_photo(text, "laid", event, pass->before_photo);
    if (isfinite(pass->minutes)) {
        hw_text_add(text, "; %g minute%s of drying", pass->minutes,
                    pass->minutes == 1.0 ? "" : "s");
    }
    hw_report_add_said(text, "; note: ", pass->note);
}

// ---- All ---------------------------------------------------------------------------

// The event's own line, without its end; false: it has none.
static bool add_line(hw_text *text, const hw_event *event)
{
    switch (event->was) {
    case HW_EVENT_JOB_STARTED:
        hw_text_add(text, "job started");
        return true;
    case HW_EVENT_PHOTO_ADDED:
        add_photo(text, event);
        return true;
    case HW_EVENT_PLAN_SHOWN:
        add_plan(text, event);
        return true;
    case HW_EVENT_PASS_LAID:
        add_pass(text, event);
        return true;
    case HW_EVENT_OTHER:
        hw_text_add(text, "something that this version of huewright does not know");
        return true;
    default:
        return hw_report_add_event(text, event);
    }
}

// ---- Coats -------------------------------------------------------------------------

// All that coats of this job did to parts, as far as photos before and after them tell. Free with
// hw_job_coats_seen_free.
typedef struct coats {
    hw_coat_seen *seen;
    size_t count;
} coats;

// What a coat did to one part: told by the density, on the colour that it was laid on.
bool hw_report_coat_change(const hw_job *job, const hw_coat_seen *seen, hw_difference *change,
                           double *u_light)
{
    const hw_event *reading = hw_job_reading_of(job, seen->photo_before);
    const hw_logged_sample *sample =
        reading ? hw_reading_sample(&reading->of.reading, HW_ROLE_PATCH, seen->part) : NULL;
    sample = !sample && reading
                 ? hw_reading_sample(&reading->of.reading, HW_ROLE_TARGET, seen->part)
                 : sample;
    if (!sample) {
        return false;
    }
    hw_lab after = hw_tone_under(sample->lab, seen->density);
    double jacobian[3][3];
    hw_covariance all = hw_covariance_sum(&seen->covariance, &seen->shared);
    hw_tone_lab_by_density(after, jacobian);
    all = hw_covariance_map((const double(*)[3])jacobian, &all);
    *change = hw_difference_of(sample->lab, after);
    *u_light = sqrt(fmax(all.m[0][0], 0.0));
    return true;
}

static void add_coat_effect(hw_text *text, const hw_job *job, const hw_coat_seen *seen)
{
    hw_difference change;
    double u;
    if (!hw_report_coat_change(job, seen, &change, &u)) {
        return;
    }
    hw_text_add(text, "    ");
    hw_report_add_clean(text, seen->part);
    hw_text_add(text, ": what %s did: L* ", seen->coats == 1 ? "it" : "these coats");
    hw_report_add_range(text, change.L, change.L - HW_NINETY * u, change.L + HW_NINETY * u);
    hw_text_add(text, "; in all ");
    hw_report_add_change(text, change.L, change.a, change.b);
    const hw_photo_event *photo = hw_job_photo_event(job, seen->photo_after);
    bool measured = photo && photo->measured;
    hw_text_add(text, " (%s %ld to %ld; %s)\n", measured ? "events" : "photos", seen->photo_before,
                seen->photo_after,
                !hw_coat_by_card_alone(seen) ? "against old wood without it"
                : measured                   ? "as measured"
                                             : "by the card alone");
}

static void add_coat_effects(hw_text *text, const hw_job *job, const hw_event *event,
                             const coats *all)
{
    for (size_t i = 0; i < all->count; i++) {
        if (all->seen[i].event == event->number) {
            add_coat_effect(text, job, &all->seen[i]);
        }
    }
}

// ---- Each event --------------------------------------------------------------------

static void add_event(hw_text *text, const hw_job *job, const hw_event *event, const coats *all)
{
    char time[48];
    if (event->kind == HW_EVENT_READING) { // belongs to the photo's line above it
        add_reading(text, job, event);
        return;
    }
    hw_text line = {0};
    if (add_line(&line, event) && !line.failed) {
        hw_report_add_hours(&line, event);
        hw_report_time(time, sizeof time, event->at);
        hw_text_add(text, "%s %4ld  %s", time, event->number, line.bytes);
        if (event->kind == HW_EVENT_WITHDRAWN) {
            hw_text_add(text, " [WITHDRAWN by event %ld: it does not count]", event->corrected_by);
        } else if (event->corrected_by > 0) {
            hw_text_add(text, " [as corrected by event %ld]", event->corrected_by);
        }
        hw_text_add(text, "\n");
    }
    text->failed = text->failed || line.failed;
    hw_text_free(&line);
    if (event->kind == HW_EVENT_PHOTO_ADDED && event->of.photo.measured) {
        hw_report_add_photo_off(text, job, event);
    }
    for (size_t i = 0; event->kind == HW_EVENT_PASS_LAID && i < event->of.pass.patch_count; i++) {
        add_effect(text, job, event, event->of.pass.patches[i]);
    }
    if (event->kind == HW_EVENT_COAT_LAID) {
        add_coat_effects(text, job, event, all);
    }
}

// What must be cleared up: passes that did what nobody expected, changes without a pass.
static hw_status add_asked(hw_text *text, const hw_job *job, hw_error *err)
{
    hw_warnings asked = {0};
    hw_observation *seen = NULL;
    size_t count = 0;
    hw_status status = hw_job_observe(job, 0, &seen, &count, &asked, err);
    hw_free_observations(seen);
    if (status == HW_OK && asked.count) {
        hw_text_add(text, "\nTo be cleared up:\n");
        hw_report_add_warnings(text, &asked);
    }
    return status;
}

hw_status hw_report_add_history(hw_text *text, const hw_job *job, hw_error *err)
{
    coats all = {0};
    hw_status status = hw_job_coats_seen(job, &all.seen, &all.count, err);
    for (size_t i = 0; status == HW_OK && i < hw_job_event_count(job); i++) {
        add_event(text, job, hw_job_event(job, i), &all);
    }
    hw_job_coats_seen_free(all.seen);
    return status;
}

hw_status hw_report_history_text(const hw_job *job, const hw_known *known, char **out,
                                 hw_error *err)
{
    hw_text text = {0};
    hw_report_add_clean(&text, hw_job_title(job)[0] ? hw_job_title(job) : hw_job_folder(job));
    hw_text_add(&text, "\n");
    hw_report_add_warnings(&text, hw_job_warnings(job));
    hw_text_add(&text, "\n");
    hw_status status = hw_report_add_history(&text, job, err);
    if (status == HW_OK) {
        status = hw_report_add_parts(&text, job, err);
    }
    if (status == HW_OK) {
        hw_report_add_jars(&text, job, known);
        status = add_asked(&text, job, err);
    }
    if (status != HW_OK) {
        hw_text_free(&text);
        return status;
    }
    return hw_report_finish(&text, out, err);
}

// ---- One pass, just logged ---------------------------------------------------------

hw_status hw_report_pass_text(const hw_job *job, const hw_event *pass, const hw_known *known,
                              const hw_warnings *warnings, char **out, hw_error *err)
{
    hw_text text = {0};
    hw_text_add(&text, "Saved: ");
    add_pass(&text, pass);
    hw_report_add_hours(&text, pass);
    hw_text_add(&text, " (event %ld)\n", pass->number);
    for (size_t i = 0; i < pass->of.pass.patch_count; i++) {
        const char *patch = pass->of.pass.patches[i];
        hw_layer layers[64];
        size_t count = hw_job_layers(job, patch, 0, layers, sizeof layers / sizeof *layers);
        int all = 0;
        for (size_t k = 0; k < count && k < sizeof layers / sizeof *layers; k++) {
            all += layers[k].passes;
        }
        char passes[32];
        hw_report_passes(passes, sizeof passes, all);
        hw_text_add(&text, "    ");
        hw_report_add_clean(&text, patch);
        hw_text_add(&text, ": %s laid so far\n", passes);
    }
    hw_text strength = {0};
    if (pass->of.pass.jar > 0 &&
        hw_report_add_jar_strength(&strength, job, known, pass->of.pass.jar) && !strength.failed) {
        hw_text_add(&text, "    jar %ld so far: %s\n", pass->of.pass.jar, strength.bytes);
    }
    text.failed = text.failed || strength.failed;
    hw_text_free(&strength);
    hw_report_add_warnings(&text, warnings);
    hw_text_add(&text, pass->of.pass.before_photo > 0
                           ? "Next: ask for advice again; what was asked about may be clear now.\n"
                           : "Next: let it dry, then photograph it with the card beside it.\n");
    return hw_report_finish(&text, out, err);
}
