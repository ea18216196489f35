// steps_advise.c: what to lay next, from the latest photo of each patch (under its main lamp, where it was
// photographed under another one as well).
//
// The kept original is read again, so that a better version of the program gives better advice on
// old photos. Two things stop advice before the sums begin: passes laid since the photo (it shows
// what is no more), and bare wood beside finished wood (it cannot be compared). What was shown is
// logged before it is shown.
#include "steps_internal.h"

#include <limits.h>
#include <math.h>
#include <string.h>

// ---- Readings of kept photos -------------------------------------------------------

typedef struct kept {
    long photo;
    hw_reading reading;
} kept;

// What the advice on one patch rests on. The request points into it, so it stays until the sheet is made.
typedef struct asked {
    hw_known known;
    hw_layer *layers;     // on it so far
    hw_steps_coats coats; // to come; with the gap to plan for
    hw_tone_rules rules;
} asked;

typedef struct work {
    hw_job *job; // borrowed
    hw_shelf shelf;
    const hw_steps_seen *seen; // photos that are read already; borrowed
    size_t seen_count;
    kept *read; // photos read again so far
    size_t read_count;
    const char **patch; // names, borrowed from the job
    size_t patch_count;
    asked *asked;            // one a patch
    hw_tone_request *wanted; // one a patch; empty where the log alone forbids advice
    hw_mixed_jar *jars;      // that stand mixed
    size_t jar_count;
    hw_plan_event *plan; // what is logged, one a patch
    hw_steps_belief belief;
    double risk_here; // chances that this sheet has given away already
    const hw_advise_request *request;
    const hw_limits *limits;
    hw_day *day;
} work;

static hw_status read_again(work *w, const hw_event *event, const hw_limits *limits,
                            const hw_reading **out, hw_error *err)
{
    for (size_t i = 0; i < w->seen_count; i++) {
        if (w->seen[i].photo == event->number) {
            *out = &w->seen[i].reading;
            return HW_OK;
        }
    }
    for (size_t i = 0; i < w->read_count; i++) {
        if (w->read[i].photo == event->number) {
            *out = &w->read[i].reading;
            return HW_OK;
        }
    }
    kept *place = &w->read[w->read_count];
    hw_status status =
        hw_steps_read_kept(w->job, event, &event->of.photo.marks, limits, &place->reading, err);
    if (status == HW_OK) {
        place->photo = event->number;
        w->read_count++;
        *out = &place->reading;
    }
    return status;
}

// ---- Which patches -----------------------------------------------------------------

static bool has_patch(const work *w, const char *name)
{
    for (size_t i = 0; i < w->patch_count; i++) {
        if (strcmp(w->patch[i], name) == 0) {
            return true;
        }
    }
    return false;
}

static size_t marks_in(const hw_job *job)
{
    size_t count = 0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        count += event->kind == HW_EVENT_PHOTO_ADDED ? event->of.photo.marks.count : 0;
    }
    return count;
}

static hw_status list_patches(work *w, hw_error *err)
{
    w->patch = hw_alloc_array(marks_in(w->job), sizeof *w->patch);
    if (!w->patch) {
        return hw_fail_memory(err, "listing the repairs");
    }
    for (size_t i = 0; i < hw_job_event_count(w->job); i++) {
        const hw_event *event = hw_job_event(w->job, i);
        for (size_t k = 0; event->kind == HW_EVENT_PHOTO_ADDED && k < event->of.photo.marks.count;
             k++) {
            const hw_mark *mark = &event->of.photo.marks.mark[k];
            if (mark->role == HW_ROLE_PATCH && !has_patch(w, mark->name)) {
                w->patch[w->patch_count++] = mark->name;
            }
        }
    }
    return HW_OK;
}

// Leaves only the patch asked for, or says which there are.
static hw_status choose_patches(work *w, const char *wanted, hw_error *err)
{
    hw_status status = list_patches(w, err);
    if (status != HW_OK) {
        return status;
    }
    if (w->patch_count == 0) {
        return hw_fail(err, HW_ERR_CALL, "patch-none", hw_job_folder(w->job),
                       "Add a photo on which the card, the old wood and the repair are marked.",
                       "no photo of this job shows a repair yet");
    }
    if (!wanted) {
        return HW_OK;
    }
    if (!has_patch(w, wanted)) {
        char names[320] = "", next[480];
        for (size_t i = 0; i < w->patch_count; i++) {
            hw_steps_add_name(names, sizeof names, w->patch[i]);
        }
        hw_format_text(next, sizeof next, "Name one of: %s.", names);
        return hw_fail(err, HW_ERR_CALL, "patch-unknown", wanted, next,
                       "no repair of this name is marked in this job");
    }
    w->patch[0] = wanted;
    w->patch_count = 1;
    return HW_OK;
}

// ---- Advice on one patch -----------------------------------------------------------

static int passes_in(const work *w, const char *patch, long after)
{
    int passes = 0;
    for (size_t i = 0; i < hw_job_event_count(w->job); i++) {
        const hw_event *event = hw_job_event(w->job, i);
        if (hw_event_place(event) > after && hw_job_pass_lies(w->job, event, patch, LONG_MAX)) {
            passes += event->of.pass.passes;
        }
    }
    return passes;
}

static hw_advice stop_advice(const work *w, const char *patch)
{
    hw_advice advice = {
        .verdict = HW_VERDICT_UNSURE, .stop = true, .stop_reason = HW_STOP_ASK_FIRST};
    hw_copy_text(advice.patch, sizeof advice.patch, patch);
    advice.passes_so_far = passes_in(w, patch, 0);
    return advice;
}

// The first photo event of the very same file: what was taken when.
static const hw_event *first_of_same(const hw_job *job, const hw_event *photo)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED &&
            hw_photo_shares_file(&event->of.photo, &photo->of.photo)) {
            return event;
        }
    }
    return photo;
}

// The patch, or the first old wood beside it, that was not dry in that photo; NULL: none.
static const char *wet_part(const hw_job *job, long photo, const hw_marks *marks,
                            const hw_mark *patch)
{
    if (patch && hw_job_state(job, photo, patch->name) == HW_STATE_NOT_DRY) {
        return patch->name;
    }
    for (size_t i = 0; patch && i < marks->count; i++) {
        const hw_mark *mark = &marks->mark[i];
        if (mark->role == HW_ROLE_TARGET && hw_mark_is_beside(patch, mark) &&
            hw_job_state(job, photo, mark->name) == HW_STATE_NOT_DRY) {
            return mark->name;
        }
    }
    return NULL;
}

// What was done to the patch, or to old wood beside it, since that photo; false: nothing.
static bool done_since(const work *w, const hw_event *photo, long since, const char *patch,
                       char *words, size_t size)
{
    const hw_mark *mark = hw_marks_find(&photo->of.photo.marks, HW_ROLE_PATCH, patch);
    const hw_marks *marks = hw_steps_wood_marks(w->job, photo, patch);
    const char *part = patch;
    int passes = passes_in(w, patch, since);
    const hw_event *done = hw_job_done_between(w->job, since, LONG_MAX, patch);
    for (size_t i = 0; mark && !done && passes == 0 && i < marks->count; i++) {
        if (marks->mark[i].role == HW_ROLE_TARGET && hw_mark_is_beside(mark, &marks->mark[i])) {
            part = marks->mark[i].name;
            done = hw_job_done_between(w->job, since, LONG_MAX, part);
        }
    }
    if (done && done->kind == HW_EVENT_COAT_LAID) {
        hw_format_text(words, size, "a %s coat was laid on %s", hw_coat_name(done->of.coat.coat),
                       part == patch ? "it" : part);
    } else if (done) {
        hw_format_text(words, size, "%s was %s", part == patch ? "it" : part,
                       done->of.takeoff.stripped ? "stripped" : "wiped back");
    } else {
        hw_format_text(words, size, "%d pass%s laid", passes, passes == 1 ? "" : "es");
    }
    return done || passes > 0;
}

// From the left and from the right it differs by opposite signs: then no photo from a side is toned on, and one from the
// front with the word beside it.
static bool stopped_by_sides(work *w, const char *patch, const hw_event *photo,
                             const hw_job_sides *turned, hw_advice *out)
{
    bool front = hw_from_is_same(photo->of.photo.from, HW_FROM_FRONT);
    if (!turned->known || !turned->present || !turned->pair.turned) {
        if (!front) {
            hw_warn(
                &w->day->warnings,
                "%s: the advice rests on photo %ld, %s. If it is figured wood, photograph it from "
                "where it will be seen too.",
                patch, photo->number, hw_from_words(photo->of.photo.from));
        }
        return false;
    }
    if (front) {
        hw_warn(&w->day->warnings,
                "%s from the left (photo %ld) and from the right (photo %ld): %s. The advice rests "
                "on photo %ld, from the front.",
                patch, turned->left, turned->right, hw_grain_light, photo->number);
        return false;
    }
    *out = stop_advice(w, patch);
    out->grain_light = true;
    hw_format_text(out->why, sizeof out->why,
                   "From the left (photo %ld) and from the right (photo %ld): %s. Lay nothing on "
                   "either of them: photograph it from there and add that photo with --from front.",
                   turned->left, turned->right, hw_grain_light);
    return true;
}

// Does the log alone forbid advice?
static bool stopped_by_log(const work *w, const char *patch, const hw_event *photo, hw_advice *out)
{
    const hw_event *taken = first_of_same(w->job, photo);
    char done[2 * HW_NAME_SIZE];
    if (done_since(w, photo, taken->number, patch, done, sizeof done)) {
        *out = stop_advice(w, patch);
        hw_format_text(out->why, sizeof out->why,
                       "Photograph it first: %s since the last photo (photo %ld%s).", done,
                       taken->number,
                       taken == photo ? "" : "; the latest one is the very same picture");
        return true;
    }
    const hw_mark *mark = hw_marks_find(&photo->of.photo.marks, HW_ROLE_PATCH, patch);
    const hw_marks *marks = hw_steps_wood_marks(w->job, photo, patch);
    const char *target = NULL, *wet = wet_part(w->job, photo->number, marks, mark);
    if (wet) {
        *out = stop_advice(w, patch);
        hw_format_text(
            out->why, sizeof out->why,
            "%s was not dry when it was photographed, or was photographed before its last "
            "pass. Let it dry and photograph it again.",
            mark && wet == mark->name ? "It" : wet);
        return true;
    }
    if (mark &&
        hw_steps_bare_beside_finished(w->job, photo->number, NULL, 0, marks, mark, &target)) {
        *out = stop_advice(w, patch);
        hw_format_text(out->why, sizeof out->why,
                       "It is bare and dry beside %s, which is finished: they cannot be compared. "
                       "Seal it or damp it with solvent, then photograph it again.",
                       target);
        return true;
    }
    return false;
}

// Is the wood under it closed? Not dry and not said: unsaid.
static hw_surface surface_of(const hw_job *job, long photo, const char *patch)
{
    switch (hw_job_state(job, photo, patch)) {
    case HW_STATE_BARE:
    case HW_STATE_DAMP:
        return HW_SURFACE_OPEN;
    case HW_STATE_SEALED:
    case HW_STATE_FINISHED:
    case HW_STATE_RUBBED_OUT:
        return HW_SURFACE_SEALED;
    default:
        return HW_SURFACE_UNSAID;
    }
}

// The name of the one part of old wood that a patch must match, or NULL where there are more.
static const char *one_beside(const hw_job *job, const hw_event *photo, const char *patch)
{
    const hw_mark *mark = hw_marks_find(&photo->of.photo.marks, HW_ROLE_PATCH, patch);
    const hw_marks *marks = hw_steps_wood_marks(job, photo, patch);
    const char *name = NULL;
    for (size_t i = 0; mark && i < marks->count; i++) {
        const hw_mark *target = &marks->mark[i];
        if (target->role == HW_ROLE_TARGET && hw_mark_is_beside(mark, target)) {
            if (name) {
                return NULL;
            }
            name = target->name;
        }
    }
    return name;
}

// A jar that is known to be off is behind the numbers: that is said with what full strength is.
static void say_jar(const hw_known *known, const work *w, hw_advice *out)
{
    char key[HW_JAR_KEY_SIZE];
    hw_job_jar_key(w->job, out->next_jar, key);
    const hw_known_jar *jar = hw_known_find_jar(known, key);
    if (!jar || fabs(jar->factor - 1.0) < 0.05) {
        return;
    }
    size_t length = strlen(out->full_strength);
    hw_format_text(out->full_strength + length, sizeof out->full_strength - length,
                   "%sJar %ld is about %.1f times as strong as it says (%.1f to %.1f): that is "
                   "counted in.",
                   length ? " " : "", out->next_jar, jar->factor,
                   jar->factor * exp(-HW_NINETY * jar->u_factor),
                   jar->factor * exp(HW_NINETY * jar->u_factor));
}

// Free with hw_free.
static hw_status take_layers(const hw_job *job, const char *patch, hw_layer **out, size_t *count,
                             hw_error *err)
{
    *count = hw_job_layers(job, patch, 0, NULL, 0);
    *out = hw_alloc_array(*count, sizeof **out);
    if (!*out) {
        return hw_fail_memory(err, "listing the passes");
    }
    hw_job_layers(job, patch, 0, *out, *count);
    return HW_OK;
}

// Everything that the advice on one patch rests on.
static hw_status prepare_patch(work *w, size_t index, const hw_event *photo,
                               const hw_comparison *gap, hw_error *err)
{
    asked *own = &w->asked[index];
    hw_tone_request *wanted = &w->wanted[index];
    hw_lab wood = gap->patch_lab; // as it was before any pass, where the log says
    hw_job_first_colour(w->job, gap->patch, &wood);
    own->rules = hw_tone_rules_default();
    own->rules.families_most =
        w->request->families_most ? w->request->families_most : own->rules.families_most;
    hw_status status = take_layers(w->job, gap->patch, &own->layers, &wanted->so_far_count, err);
    if (status == HW_OK) {
        status = hw_tone_learn(&w->shelf, hw_job_id(w->job), wood, &own->known, err);
    }
    if (status == HW_OK) {
        hw_steps_coats_of(w->job, &w->shelf, &w->belief, photo, gap, &own->coats);
    }
    wanted->gap = &own->coats.gap;
    wanted->old_wood = one_beside(w->job, photo, gap->patch);
    wanted->known = &own->known;
    wanted->so_far = own->layers;
    wanted->surface = surface_of(w->job, photo->number, gap->patch);
    wanted->risk_spent = hw_job_risk_spent(w->job) + w->risk_here;
    wanted->doubtful = hw_job_asks_about(w->job, photo->number, gap->patch);
    wanted->rules = &own->rules;
    wanted->jars = w->jars;
    wanted->jar_count = w->jar_count;
    return status;
}

// Does its first coat still come, beside old wood that has its finish? That coat does more than any toner.
static bool stopped_by_coats(const work *w, size_t index, hw_advice *out)
{
    const hw_steps_coats *coats = &w->asked[index].coats;
    if (!coats->to_come || coats->ahead.patch.so_far > 0 || coats->ahead.target.so_far == 0) {
        return false;
    }
    *out = stop_advice(w, w->patch[index]);
    double now = coats->gap.patch_lab.L;
    hw_format_text(
        out->why, sizeof out->why,
        "No coat lies on it yet, and the coats to come will darken it by more than toner "
        "does (to L* %.0f, %.0f to %.0f%s; now %.0f). Seal it, let it dry, photograph it, "
        "ask again.",
        coats->ahead.patch_lab.L, coats->ahead.patch_low.L, coats->ahead.patch_high.L,
        coats->ahead.guess ? ", a guess" : "", now);
    return true;
}

static hw_status advise_patch(work *w, size_t index, hw_error *err)
{
    const char *patch = w->patch[index];
    hw_advice *out = &w->day->advice[index];
    hw_warnings *warnings = &w->day->warnings;
    const hw_event *photo = hw_job_main_photo(w->job, patch);
    if (!photo) {
        return hw_fail(err, HW_ERR_CALL, "patch-unknown", patch, "Add a photo of it first.",
                       "no photo of this job shows it");
    }
    hw_job_sides sides = hw_job_sides_of(w->job, patch);
    if (stopped_by_log(w, patch, photo, out) || stopped_by_sides(w, patch, photo, &sides, out)) {
        return HW_OK;
    }
    const hw_reading *reading = NULL;
    hw_status status = read_again(w, photo, w->limits, &reading, err);
    if (status != HW_OK) {
        return status;
    }
    if (!reading->measured) {
        hw_warnings_append(warnings, &reading->light.warnings);
    }
    hw_warnings_append(warnings, &reading->warnings);
    hw_steps_warn_states(w->job, photo->number, NULL, 0, &reading->marks, warnings);
    const hw_comparison *gap = hw_comparison_beside(&reading->comparisons, patch);
    if (!gap) {
        return hw_fail(err, HW_ERR_CALL, "target-missing", patch,
                       "Mark the old wood beside it and add the photo again.",
                       "no old wood is marked to compare it with");
    }
    status = prepare_patch(w, index, photo, gap, err);
    if (status == HW_OK && !stopped_by_coats(w, index, out)) {
        status = hw_tone_advise(&w->wanted[index], out, err);
    }
    out->grain_light = sides.known && sides.present && sides.pair.turned;
    w->risk_here += status == HW_OK && out->has_next ? out->next_risk : 0.0;
    return status;
}

// ---- What was shown ----------------------------------------------------------------

// Cautions are shown in full once in a working day; 12 hours: chosen.
static const int64_t cautions_last_s = 12 * 3600;

static bool cautions_due(const hw_job *job, int64_t now)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PLAN_SHOWN && event->of.plan.cautions_full &&
            event->at <= now && now - event->at < cautions_last_s) {
            return false;
        }
    }
    return true;
}

static void fill_plan(const work *w, size_t index, hw_plan_event *plan)
{
    const hw_advice *advice = &w->day->advice[index];
    hw_copy_text(plan->patch, sizeof plan->patch, advice->patch);
    plan->stop = advice->stop;
    plan->has_next = advice->has_next;
    plan->next = advice->next;
    plan->forecast = (hw_lab){(double)NAN, (double)NAN, (double)NAN};
    plan->forecast_de00 = (double)NAN;
    plan->cautions_full = w->day->cautions_full && advice->has_next;
    if (advice->has_next) {
        plan->forecast = advice->after_next.lab;
        // To the old wood, as readings tell it, also where the aim is another one.
        plan->forecast_de00 =
            w->asked[index].coats.aimed
                ? hw_ciede2000(w->asked[index].coats.old_wood, advice->after_next.lab)
                : advice->after_next.de00;
        plan->risk = advice->next_risk;
        plan->dye_count =
            hw_steps_used_dyes(&w->shelf, &w->asked[index].known, &advice->next.liquid, plan->dye);
    }
}

// The last thing that the log says of the patch is just this advice: it is not said again.
static bool is_shown_already(const work *w, const hw_plan_event *plan)
{
    for (size_t i = hw_job_event_count(w->job); i-- > 0;) {
        const hw_event *event = hw_job_event(w->job, i);
        if (event->kind != HW_EVENT_PLAN_SHOWN) {
            return false;
        }
        if (strcmp(event->of.plan.patch, plan->patch) == 0) {
            return hw_plan_is_same(&event->of.plan, plan);
        }
    }
    return false;
}

static hw_status log_plans(work *w, int64_t now, hw_error *err)
{
    for (size_t i = 0; i < w->day->count; i++) {
        long number = 0;
        fill_plan(w, i, &w->plan[i]);
        if (is_shown_already(w, &w->plan[i])) {
            continue;
        }
        hw_status status = hw_job_add_plan(w->job, &w->plan[i], now, &number, err);
        if (status != HW_OK) {
            return status;
        }
    }
    return HW_OK;
}

// ---- The step ----------------------------------------------------------------------

static hw_status make_room(work *w, hw_error *err)
{
    w->day->advice = hw_alloc_array(w->patch_count, sizeof *w->day->advice);
    w->day->part = hw_alloc_array(w->patch_count, sizeof *w->day->part);
    w->read = hw_alloc_array(w->patch_count, sizeof *w->read);
    w->plan = hw_alloc_array(w->patch_count, sizeof *w->plan);
    w->asked = hw_alloc_array(w->patch_count, sizeof *w->asked);
    w->wanted = hw_alloc_array(w->patch_count, sizeof *w->wanted);
    return w->day->advice && w->day->part && w->read && w->plan && w->asked && w->wanted
               ? HW_OK
               : hw_fail_memory(err, "making the plan");
}

// Few jars for all of them.
static hw_status make_sheet(work *w, hw_error *err)
{
    hw_liquid *mixed = hw_alloc_array(w->jar_count, sizeof *mixed);
    if (!mixed) {
        return hw_fail_memory(err, "making the day's sheet");
    }
    for (size_t i = 0; i < w->jar_count; i++) {
        mixed[i] = w->jars[i].liquid;
    }
    hw_status status = hw_tone_sheet(w->wanted, w->day->advice, w->day->count, mixed, w->jar_count,
                                     &w->day->sheet, err);
    hw_free(mixed);
    return status;
}

static hw_status advise_all(work *w, hw_error *err)
{
    hw_status status = make_room(w, err);
    for (size_t i = 0; i < w->patch_count && status == HW_OK; i++) {
        status = advise_patch(w, i, err);
        w->day->count += status == HW_OK;
    }
    if (status == HW_OK && w->day->for_all) {
        status = make_sheet(w, err);
    }
    for (size_t i = 0; i < w->day->count && status == HW_OK; i++) {
        hw_advice *advice = &w->day->advice[i];
        const hw_jar_event *jar =
            advice->has_next ? hw_job_jar_of(w->job, &advice->next.liquid) : NULL;
        advice->next_jar = jar ? jar->jar : 0;
        if (jar) {
            say_jar(&w->asked[i].known, w, advice);
        }
        hw_steps_fill_part(w->job, &w->shelf, advice, w->wanted[i].gap ? &w->asked[i].coats : NULL,
                           &w->day->part[i]);
    }
    if (status == HW_OK) {
        status = hw_steps_fill_jars(w->job, &w->shelf, w->request->volume_ml, w->day, err);
    }
    hw_steps_fill_unsaid(w->job, w->day);
    return status;
}

// Somebody found it right, and nothing was done since: whatever follows is said beside that.
static void warn_approved(const hw_job *job, hw_warnings *warnings)
{
    const hw_event *approval = hw_job_approval(job);
    if (approval) {
        hw_warn(warnings, "This job was approved by %s under the lamp %s (event %ld).",
                approval->of.approval.by, approval->of.approval.lamp, approval->number);
    }
}

static hw_status list_jars(work *w, hw_error *err)
{
    w->jar_count = hw_job_mixed_jars(w->job, NULL, 0);
    w->jars = hw_alloc_array(w->jar_count, sizeof *w->jars);
    if (!w->jars) {
        return hw_fail_memory(err, "listing the jars");
    }
    hw_job_mixed_jars(w->job, w->jars, w->jar_count);
    return HW_OK;
}

static hw_status make_plan(work *w, hw_error *err)
{
    hw_day *day = w->day;
    const hw_event *last = hw_job_last_photo(w->job, NULL);
    hw_warnings_append(&day->warnings, hw_job_warnings(w->job));
    warn_approved(w->job, &day->warnings);
    hw_status status = hw_steps_learn(w->job, w->request->shelf_path, last ? last->number : 0,
                                      w->limits, &w->shelf, &day->warnings, err);
    if (status == HW_OK) {
        status = list_jars(w, err);
    }
    if (status == HW_OK) {
        status = choose_patches(w, w->request->patch, err);
    }
    if (status == HW_OK) {
        status = advise_all(w, err);
    }
    return status;
}

static void tidy(work *w)
{
    for (size_t i = 0; i < w->read_count; i++) {
        hw_reading_free(&w->read[i].reading);
    }
    for (size_t i = 0; w->asked && i < w->patch_count; i++) {
        hw_known_free(&w->asked[i].known);
        hw_free(w->asked[i].layers);
    }
    hw_free(w->read);
    hw_free(w->patch);
    hw_free(w->asked);
    hw_free(w->wanted);
    hw_free(w->jars);
    hw_free(w->plan);
    hw_shelf_free(&w->shelf);
}

hw_status hw_steps_advise(const hw_advise_request *request, const hw_limits *limits, int64_t now,
                          hw_day *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_day day = {.for_all = !request->patch};
    work w = {.request = request, .limits = &bounds, .day = &day};
    hw_status status = hw_job_open(request->folder, &bounds, &w.job, err);
    if (status == HW_OK) {
        status = make_plan(&w, err);
    }
    if (status == HW_OK) {
        day.cautions_full = cautions_due(w.job, now);
        status = log_plans(&w, now, err);
    }
    if (status == HW_OK) {
        *out = day;
    } else {
        hw_day_free(&day);
    }
    tidy(&w);
    hw_job_free(w.job);
    return status;
}

// ---- The same to be looked at ------------------------------------------------------

struct hw_steps_plan {
    work work;
    hw_day day;
    hw_advise_request request;
    hw_limits limits;
};

hw_status hw_steps_plan_make(hw_job *job, const hw_advise_request *request,
                             const hw_steps_seen *seen, size_t seen_count, const hw_limits *limits,
                             hw_steps_plan **out, hw_error *err)
{
    hw_steps_plan *plan = hw_alloc_array(1, sizeof *plan);
    if (!plan) {
        return hw_fail_memory(err, "making the plan");
    }
    plan->request = *request;
    plan->limits = hw_steps_limits(limits);
    plan->day.for_all = !request->patch;
    plan->work = (work){.job = job,
                        .seen = seen,
                        .seen_count = seen_count,
                        .request = &plan->request,
                        .limits = &plan->limits,
                        .day = &plan->day};
    hw_status status = make_plan(&plan->work, err);
    if (status != HW_OK) {
        hw_steps_plan_free(plan);
        return status;
    }
    *out = plan;
    return HW_OK;
}

void hw_steps_plan_free(hw_steps_plan *plan)
{
    if (plan) {
        tidy(&plan->work);
        hw_day_free(&plan->day);
        hw_free(plan);
    }
}

hw_day hw_steps_plan_take_day(hw_steps_plan *plan)
{
    hw_day day = plan->day;
    plan->day = (hw_day){0};
    return day;
}

const hw_job *hw_steps_plan_job(const hw_steps_plan *plan)
{
    return plan->work.job;
}

const hw_shelf *hw_steps_plan_shelf(const hw_steps_plan *plan)
{
    return &plan->work.shelf;
}

bool hw_steps_plan_for(const hw_steps_plan *plan, const char *patch, const hw_advice **advice,
                       const hw_tone_request **rests_on)
{
    for (size_t i = 0; i < plan->day.count; i++) {
        if (strcmp(plan->day.advice[i].patch, patch) == 0) {
            *advice = &plan->day.advice[i];
            *rests_on = plan->work.wanted[i].gap ? &plan->work.wanted[i] : NULL;
            return true;
        }
    }
    return false;
}
