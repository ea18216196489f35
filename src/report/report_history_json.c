// report_history_json.c: the history for programs: {"job":{"title","folder","name"},"warnings":[],
// "events":[{"number","at","kind",...}]}, and one pass as the same event object.
//
// `effects` of a pass: per patch {"patch","known","photo_before","photo_after","before","after",
// "change","others_between","standing"}; `change` is after minus before of the difference patch
// minus target; `standing` is the change of the patch itself, read against the old wood in both
// photos: {"status","reason","targets","scatter","card_moved","wood_moved","widening","change",
// "low","high","de00","de00_low","de00_high","de76"}, null where not known; low and high bound 90 %.
#include "report_internal.h"

#include <math.h>

static hw_json *event_object(hw_json *list, const hw_event *event, const char *kind)
{
    char time[40];
    hw_format_time(time, event->at);
    hw_json *told = hw_json_add_object(list, NULL);
    hw_json_add_number(told, "number", (double)event->number);
    hw_json_add_text(told, "at", time);
    hw_json_add_text(told, "kind", kind);
    if (event->corrected_by > 0) {
        hw_json_add_number(told,
                           event->kind == HW_EVENT_WITHDRAWN ? "withdrawn_by" : "corrected_by",
                           (double)event->corrected_by);
    }
    if (hw_event_hours(event) > 0.0) {
        hw_json_add_number(told, "hours", hw_event_hours(event));
    }
    return told;
}

static void add_before_photo(hw_json *told, long before_photo)
{
    hw_json_add_number(told, "before_photo", before_photo > 0 ? (double)before_photo : NAN);
}

static void add_photo(hw_json *list, const hw_job *job, const hw_event *event)
{
    const hw_photo_event *photo = &event->of.photo;
    hw_json *told = event_object(list, event, photo->measured ? "measured" : "photo_added");
    if (photo->measured) {
        hw_report_json_text(told, "instrument", photo->instrument);
    } else {
        hw_report_json_text(told, "stored", photo->stored);
    }
    hw_report_json_text(told, "original", photo->original);
    hw_json *shots = photo->more_count ? hw_json_add_array(told, "shots") : NULL;
    for (size_t i = 0; i < photo->more_count; i++) {
        hw_json *one = hw_json_add_object(shots, NULL);
        hw_report_json_text(one, "stored", photo->more[i].stored);
        hw_report_json_text(one, "original", photo->more[i].original);
    }
    hw_report_json_text(told, "view", photo->view);
    if (photo->from != HW_FROM_UNSAID) {
        hw_json_add_text(told, "from", hw_from_name(photo->from));
    }
    hw_report_json_text(told, "lamp", photo->lamp);
    hw_report_json_text(told, "note", photo->note);
    hw_json_add_bool(told, "marks_reused", photo->marks_reused);
    if (photo->measured && event->kind == HW_EVENT_PHOTO_ADDED) {
        hw_report_json_photo_off(told, job, event);
    }
    hw_json *states = hw_json_add_array(told, "states");
    for (size_t i = 0; i < photo->state_count; i++) {
        hw_json *state = hw_json_add_object(states, NULL);
        hw_report_json_text(state, "part", photo->states[i].part);
        hw_json_add_text(state, "state", hw_state_name(photo->states[i].state));
    }
}

static void fill_gap(hw_json *told, const hw_logged_gap *gap)
{
    hw_report_json_text(told, "patch", gap->patch);
    hw_json_add_rounded(told, "de00", gap->de00, 3);
    hw_json_add_rounded(told, "de00_low", gap->de00_low, 3);
    hw_json_add_rounded(told, "de00_high", gap->de00_high, 3);
    hw_json *delta = hw_json_add_object(told, "delta");
    hw_json_add_rounded(delta, "L", gap->L, 3);
    hw_json_add_rounded(delta, "a", gap->a, 3);
    hw_json_add_rounded(delta, "b", gap->b, 3);
    hw_json_add_text(told, "verdict", hw_verdict_name(gap->verdict));
}

// One of two photos from left and right whose gaps turn their sign.
static bool is_grain_light(const hw_job *job, long photo, const char *patch)
{
    hw_job_sides sides = hw_job_sides_of(job, patch);
    return sides.known && sides.pair.turned && (sides.left == photo || sides.right == photo);
}

static void add_reading(hw_json *list, const hw_job *job, const hw_event *event)
{
    const hw_reading_event *reading = &event->of.reading;
    hw_json *told = event_object(list, event, "reading");
    hw_json_add_number(told, "photo", (double)reading->photo);
    hw_json *gaps = hw_json_add_array(told, "gaps");
    for (size_t i = 0; i < reading->gap_count; i++) {
        hw_json *gap = hw_json_add_object(gaps, NULL);
        fill_gap(gap, &reading->gaps[i]);
        if (is_grain_light(job, reading->photo, reading->gaps[i].patch)) {
            hw_json_add_bool(gap, "grain_light", true);
        }
    }
}

static void add_dyes(hw_json *parent, const hw_used_dye *dyes, size_t count)
{
    hw_json *list = hw_json_add_array(parent, "dyes");
    for (size_t i = 0; i < count; i++) {
        hw_json *one = hw_json_add_object(list, NULL);
        hw_report_json_text(one, "name", dyes[i].name);
        hw_json_add_text(one, "family", hw_family_name(dyes[i].family));
        hw_json_add_text(one, "tool", hw_tool_name(dyes[i].tool));
        hw_report_json_triple(one, "density", dyes[i].density, 5);
        hw_json_add_rounded(one, "exponent", dyes[i].exponent, 4);
        hw_json_add_rounded(one, "u_strength", dyes[i].u_strength, 4);
        hw_json_add_bool(one, "guess", dyes[i].guess);
    }
}

static void add_plan(hw_json *list, const hw_event *event)
{
    const hw_plan_event *plan = &event->of.plan;
    hw_json *told = event_object(list, event, "plan_shown");
    hw_report_json_text(told, "patch", plan->patch);
    hw_json_add_bool(told, "stop", plan->stop);
    if (!plan->has_next) {
        hw_json_add_null(told, "next");
        return;
    }
    hw_json *next = hw_json_add_object(told, "next");
    hw_json_add_null(next, "jar");
    hw_report_json_liquid(next, &plan->next.liquid);
    hw_json_add_number(next, "passes", (double)plan->next.passes);
    hw_report_json_lab(told, "forecast", plan->forecast);
    hw_json_add_rounded(told, "forecast_de00", plan->forecast_de00, 3);
    hw_json_add_rounded(told, "risk", plan->risk, 5);
    add_dyes(told, plan->dye, plan->dye_count);
}

static void add_axes(hw_json *parent, const char *name, const hw_difference *delta)
{
    hw_json *told = hw_json_add_object(parent, name);
    hw_json_add_rounded(told, "L", delta->L, 3);
    hw_json_add_rounded(told, "a", delta->a, 3);
    hw_json_add_rounded(told, "b", delta->b, 3);
}

static void add_standing(hw_json *parent, const hw_patch_change *change)
{
    hw_json *told = hw_json_add_object(parent, "standing");
    hw_json_add_text(told, "status", hw_change_status_name(change->status));
    hw_report_json_text(told, "reason", change->reason);
    hw_json_add_number(told, "targets", (double)change->targets);
    hw_json_add_rounded(told, "scatter", change->scatter, 3);
    hw_json_add_rounded(told, "card_moved", change->card_moved, 5);
    hw_json_add_rounded(told, "wood_moved", change->wood_moved, 3);
    hw_json_add_number(told, "widening", change->widening);
    add_axes(told, "change", &change->change);
    add_axes(told, "low", &change->low);
    add_axes(told, "high", &change->high);
    hw_json_add_rounded(told, "de00", change->change.de00, 3);
    hw_json_add_rounded(told, "de00_low", change->de00_low, 3);
    hw_json_add_rounded(told, "de00_high", change->de00_high, 3);
    hw_json_add_rounded(told, "de76", change->change.de76, 3);
}

static void add_forecast(hw_json *parent, const hw_pass_effect *effect)
{
    const hw_forecast_check *check = &effect->check;
    if (!check->known) {
        hw_json_add_null(parent, "forecast");
        return;
    }
    hw_json *told = hw_json_add_object(parent, "forecast");
    hw_difference middle = hw_difference_of(effect->change.before, check->forecast);
    hw_report_json_lab(told, "lab", check->forecast);
    add_axes(told, "change", &middle);
    add_axes(told, "low", &check->low);
    add_axes(told, "high", &check->high);
    hw_json_add_rounded(told, "ratio", check->ratio, 3);
    hw_json_add_rounded(told, "far_off", check->far_off, 2);
    hw_json_add_bool(told, "questioned", check->questioned);
    hw_report_json_text(told, "question", check->question);
}

static void add_effect(hw_json *list, const hw_job *job, const hw_event *event, const char *patch)
{
    hw_pass_effect effect = hw_job_pass_effect(job, event, patch);
    hw_json *told = hw_json_add_object(list, NULL);
    hw_report_json_text(told, "patch", patch);
    hw_json_add_bool(told, "known", effect.known);
    if (!effect.known) {
        return;
    }
    hw_json_add_number(told, "photo_before", (double)effect.photo_before);
    hw_json_add_number(told, "photo_after", (double)effect.photo_after);
    fill_gap(hw_json_add_object(told, "before"), &effect.before);
    fill_gap(hw_json_add_object(told, "after"), &effect.after);
    hw_json *change = hw_json_add_object(told, "change");
    hw_json_add_rounded(change, "L", effect.after.L - effect.before.L, 3);
    hw_json_add_rounded(change, "a", effect.after.a - effect.before.a, 3);
    hw_json_add_rounded(change, "b", effect.after.b - effect.before.b, 3);
    hw_json_add_bool(told, "others_between", effect.others_between);
    add_standing(told, &effect.change);
    add_forecast(told, &effect);
}

static void add_pass(hw_json *list, const hw_job *job, const hw_event *event)
{
    const hw_pass_event *pass = &event->of.pass;
    hw_json *told = event_object(list, event, "pass_laid");
    hw_json *patches = hw_json_add_array(told, "patches");
    for (size_t i = 0; i < pass->patch_count; i++) {
        hw_report_json_text(patches, NULL, pass->patches[i]);
    }
    hw_report_json_liquid(told, &pass->liquid);
    hw_json_add_number(told, "jar", pass->jar > 0 ? (double)pass->jar : NAN);
    hw_json_add_number(told, "passes", (double)pass->passes);
    hw_json_add_number(told, "minutes", pass->minutes); // not said: null
    add_before_photo(told, pass->before_photo);
    hw_report_json_text(told, "note", pass->note);
    add_dyes(told, pass->dye, pass->dye_count);
    hw_json *effects = hw_json_add_array(told, "effects");
    for (size_t i = 0; event->kind == HW_EVENT_PASS_LAID && i < pass->patch_count; i++) {
        add_effect(effects, job, event, pass->patches[i]);
    }
}

// ---- Done and said beside photos and passes ----------------------------------------

static void add_names(hw_json *told, const char (*names)[HW_NAME_SIZE], size_t count)
{
    hw_json *list = hw_json_add_array(told, "parts");
    for (size_t i = 0; i < count; i++) {
        hw_report_json_text(list, NULL, names[i]);
    }
}

static void add_correction(hw_json *told, const hw_correction_event *correction)
{
    hw_json_add_number(told, "of", (double)correction->of);
    hw_json_add_bool(told, "withdraw", correction->withdraw);
    const char *const text[2] = {correction->change, correction->was};
    for (int i = 0; i < 2; i++) {
        hw_json *object = NULL;
        hw_error ignored = {0};
        if (text[i] &&
            hw_json_parse(text[i], strlen(text[i]), NULL, "log", &object, &ignored) == HW_OK) {
            hw_json_add_tree(told, i == 0 ? "change" : "was", object);
        }
    }
}

// What this event says; what it does not is null.
static void add_setting(hw_json *told, const hw_setting_event *setting)
{
    const double none = (double)NAN;
    bool coats = setting->coats_over != HW_COATS_UNSAID;
    hw_json_add_text(told, "coats_over", coats ? hw_coats_over_name(setting->coats_over) : NULL);
    hw_json_add_number(told, "coats", coats ? (double)setting->coats : none);
    hw_json_add_number(told, "recoat_minutes",
                       setting->recoat_minutes > 0.0 ? setting->recoat_minutes : none);
    hw_json *card = hw_json_add_array(told, "card_mm");
    for (int i = 0; i < 2 && setting->card_mm[0] > 0.0; i++) {
        hw_json_add_number(card, NULL, setting->card_mm[i]);
    }
    hw_json_add_bool(told, "card_not_known", setting->card_not_known);
    hw_json_add_number(told, "ml_m2", setting->ml_m2 > 0.0 ? setting->ml_m2 : none);
    hw_json *areas = hw_json_add_array(told, "areas");
    for (size_t i = 0; i < setting->area_count; i++) {
        hw_json *area = hw_json_add_object(areas, NULL);
        hw_report_json_text(area, "part", setting->areas[i].part);
        hw_json_add_number(area, "cm2", setting->areas[i].cm2);
    }
}

static void fill_event(hw_json *told, const hw_event *event)
{
    switch (event->was) {
    case HW_EVENT_COAT_LAID:
        hw_json_add_text(told, "coat", hw_coat_name(event->of.coat.coat));
        add_names(told, (const char(*)[HW_NAME_SIZE])event->of.coat.parts,
                  event->of.coat.part_count);
        add_before_photo(told, event->of.coat.before_photo);
        hw_report_json_text(told, "note", event->of.coat.note);
        break;
    case HW_EVENT_TAKEN_OFF:
        hw_json_add_text(told, "how", event->of.takeoff.stripped ? "stripped" : "wiped");
        add_names(told, (const char(*)[HW_NAME_SIZE])event->of.takeoff.parts,
                  event->of.takeoff.part_count);
        add_before_photo(told, event->of.takeoff.before_photo);
        hw_report_json_text(told, "note", event->of.takeoff.note);
        break;
    case HW_EVENT_JAR_MIXED:
        hw_report_json_jar(told, &event->of.jar);
        break;
    case HW_EVENT_PART_NAMED:
        hw_report_json_text(told, "part", event->of.part.part);
        hw_json_add_text(told, "role", hw_role_name(event->of.part.role));
        hw_report_json_text(told, "was", event->of.part.was);
        break;
    case HW_EVENT_CORRECTION:
        add_correction(told, &event->of.correction);
        break;
    case HW_EVENT_NOTE:
        hw_report_json_text(told, "text", event->of.note.text);
        hw_report_json_text(told, "part", event->of.note.part);
        break;
    case HW_EVENT_APPROVAL:
        hw_report_json_text(told, "by", event->of.approval.by);
        hw_report_json_text(told, "lamp", event->of.approval.lamp);
        hw_report_json_text(told, "note", event->of.approval.note);
        break;
    case HW_EVENT_SETTING:
        add_setting(told, &event->of.setting);
        break;
    default:
        break;
    }
}

static void add_event(hw_json *list, const hw_job *job, const hw_event *event)
{
    switch (event->was) {
    case HW_EVENT_PHOTO_ADDED:
        add_photo(list, job, event);
        break;
    case HW_EVENT_READING:
        add_reading(list, job, event);
        break;
    case HW_EVENT_PLAN_SHOWN:
        add_plan(list, event);
        break;
    case HW_EVENT_PASS_LAID:
        add_pass(list, job, event);
        break;
    default:
        fill_event(event_object(list, event, hw_event_kind_name(event->was)), event);
    }
}

// [{"event","part","coats","photo_before","photo_after","L","a","b","u_L","by_card_alone"}]: what coats did.
static hw_status add_coats_done(hw_json *root, const hw_job *job, hw_error *err)
{
    hw_coat_seen *seen = NULL;
    size_t count = 0;
    hw_status status = hw_job_coats_seen(job, &seen, &count, err);
    hw_json *list = hw_json_add_array(root, "coats_did");
    for (size_t i = 0; status == HW_OK && i < count; i++) {
        hw_difference change;
        double u;
        if (!hw_report_coat_change(job, &seen[i], &change, &u)) {
            continue;
        }
        hw_json *told = hw_json_add_object(list, NULL);
        hw_json_add_number(told, "event", (double)seen[i].event);
        hw_report_json_text(told, "part", seen[i].part);
        hw_json_add_number(told, "coats", (double)seen[i].coats);
        hw_json_add_number(told, "photo_before", (double)seen[i].photo_before);
        hw_json_add_number(told, "photo_after", (double)seen[i].photo_after);
        hw_json_add_rounded(told, "L", change.L, 2);
        hw_json_add_rounded(told, "a", change.a, 2);
        hw_json_add_rounded(told, "b", change.b, 2);
        hw_json_add_rounded(told, "u_L", u, 2);
        hw_json_add_bool(told, "by_card_alone", hw_coat_by_card_alone(&seen[i]));
    }
    hw_job_coats_seen_free(seen);
    return status;
}

static hw_status add_parts(hw_json *root, const hw_job *job, hw_error *err)
{
    hw_part_now *parts = NULL;
    size_t count = 0;
    hw_status status = hw_job_parts(job, &parts, &count, err);
    hw_json *list = hw_json_add_array(root, "parts");
    for (size_t i = 0; status == HW_OK && i < count; i++) {
        hw_json *told = hw_json_add_object(list, NULL);
        hw_report_json_text(told, "part", parts[i].name);
        hw_json_add_text(told, "role", hw_role_name(parts[i].role));
        hw_json_add_text(told, "state", hw_state_name(parts[i].state));
        hw_json_add_number(told, "passes", (double)parts[i].passes);
        hw_json_add_text(told, "coat",
                         parts[i].coat ? hw_coat_name(parts[i].coat->of.coat.coat) : NULL);
        hw_json_add_rounded(told, "hours", hw_job_hours(job, parts[i].name), 3);
        hw_json_add_rounded(told, "ml", hw_job_part_ml(job, parts[i].name), 2);
    }
    hw_job_parts_free(parts);
    hw_json *work = hw_json_add_object(root, "work");
    double at_log = 0.0;
    hw_json_add_number(work, "hours", hw_job_hours(job, NULL));
    hw_json_add_number(work, "sittings", (double)hw_job_sittings(job, &at_log));
    hw_json_add_rounded(work, "hours_at_log", at_log, 2);
    const hw_event *approval = hw_job_approval(job);
    hw_json_add_number(root, "approved_by_event", approval ? (double)approval->number : NAN);
    return status;
}

static hw_json *job_tree(const char *folder, const char *title)
{
    hw_json *root = hw_json_new_object();
    hw_json *told = hw_json_add_object(root, "job");
    hw_report_json_text(told, "title", title);
    hw_report_json_text(told, "folder", folder);
    char name[256];
    if (hw_folder_own_name(folder, name, sizeof name)) {
        hw_report_json_text(told, "name", name);
    }
    return root;
}

hw_status hw_report_start_json(const char *folder, const char *title, char **out, hw_error *err)
{
    return hw_report_json_finish(job_tree(folder, title), out, err);
}

hw_status hw_report_history_json(const hw_job *job, const hw_known *known, char **out,
                                 hw_error *err)
{
    hw_json *root = job_tree(hw_job_folder(job), hw_job_title(job));
    hw_report_json_warnings(root, hw_job_warnings(job));
    hw_json *events = hw_json_add_array(root, "events");
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        add_event(events, job, hw_job_event(job, i));
    }
    hw_report_json_jars(root, job, known);
    hw_warnings asked = {0}; // what must be cleared up
    hw_observation *seen = NULL;
    size_t count = 0;
    hw_status status = add_parts(root, job, err);
    if (status == HW_OK) {
        status = add_coats_done(root, job, err);
    }
    if (status == HW_OK) {
        status = hw_job_observe(job, 0, &seen, &count, &asked, err);
    }
    hw_free_observations(seen);
    if (status != HW_OK) {
        hw_json_free(root);
        return status;
    }
    hw_json *list = hw_json_add_array(root, "asked");
    for (size_t i = 0; i < asked.count; i++) {
        hw_report_json_text(list, NULL, asked.text[i]);
    }
    return hw_report_json_finish(root, out, err);
}

hw_status hw_report_logged_json(const hw_job *job, const hw_event *event,
                                const hw_warnings *warnings, char **out, hw_error *err)
{
    hw_json *root = job_tree(hw_job_folder(job), hw_job_title(job));
    hw_json *events = hw_json_add_array(root, "events");
    if (event) {
        add_event(events, job, event);
    }
    hw_report_json_warnings(root, warnings);
    return hw_report_json_finish(root, out, err);
}

hw_status hw_report_jar_json(const hw_job *job, const hw_event *event, const hw_mix *mix,
                             const hw_warnings *warnings, char **out, hw_error *err)
{
    hw_json *root = job_tree(hw_job_folder(job), hw_job_title(job));
    add_event(hw_json_add_array(root, "events"), job, event);
    if (mix) {
        hw_report_json_mix(root, mix);
    } else {
        hw_json_add_null(root, "mix");
    }
    hw_report_json_warnings(root, warnings);
    return hw_report_json_finish(root, out, err);
}

hw_status hw_report_carried_json(const hw_carried *carried, char **out, hw_error *err)
{
    hw_json *root = job_tree(carried->folder, hw_job_title(carried->job));
    if (carried->from) {
        hw_report_json_text(root, "from", carried->from);
    }
    hw_json *events = hw_json_add_array(root, "events");
    for (size_t i = 0; i < hw_job_event_count(carried->job); i++) {
        add_event(events, carried->job, hw_job_event(carried->job, i));
    }
    hw_json *dyes = hw_json_add_array(root, "dyes");
    for (size_t i = 0; i < carried->dye_count; i++) {
        hw_report_json_text(dyes, NULL, carried->dyes[i]);
    }
    hw_report_json_warnings(root, &carried->warnings);
    return hw_report_json_finish(root, out, err);
}
