// steps_overview.c: a job as it stands today, from its log alone: what lies on each part, how far it was off the old
// wood in the photo that advice rests on, what was done since, how long to wait, what can be undone.
#include "steps_internal.h"

#include <limits.h>
#include <math.h>
#include <string.h>

// The last photo on which that part is marked as old wood; NULL: none.
static const hw_event *last_of_wood(const hw_job *job, const char *part)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED &&
            hw_marks_find(&event->of.photo.marks, HW_ROLE_TARGET, part)) {
            return event;
        }
    }
    return NULL;
}

// What that photo read of it; nothing where it was not read beside old wood.
static void fill_gap(const hw_job *job, hw_overview_part *out)
{
    const hw_event *event = hw_job_reading_of(job, out->photo);
    const hw_reading_event *reading = event ? &event->of.reading : NULL;
    const hw_logged_sample *sample =
        reading ? hw_reading_sample(reading, HW_ROLE_PATCH, out->now.name) : NULL;
    const hw_logged_gap *gap = sample ? hw_reading_gap(reading, out->now.name) : NULL;
    if (gap) {
        out->gap = gap;
        out->patch = sample->lab;
        out->target =
            (hw_lab){sample->lab.L - gap->L, sample->lab.a - gap->a, sample->lab.b - gap->b};
    }
}

static void count_passes(const hw_job *job, hw_overview_part *out)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (hw_pass_is_on(event, out->now.name)) {
            out->laid += event->of.pass.passes;
            out->since_photo += hw_event_place(event) > out->photo ? event->of.pass.passes : 0;
        }
    }
}

// Something was laid on it or taken off it since, or off the old wood beside it: then the photo shows another surface.
static bool is_done_since(const hw_job *job, const hw_event *photo, const hw_overview_part *part)
{
    const char *name = part->now.name;
    const hw_mark *mark = hw_marks_find(&photo->of.photo.marks, HW_ROLE_PATCH, name);
    const hw_marks *marks = hw_steps_wood_marks(job, photo, name);
    bool done =
        part->since_photo > 0 || hw_job_done_between(job, photo->number, LONG_MAX, name) != NULL;
    for (size_t i = 0; mark && !done && i < marks->count; i++) {
        const hw_mark *wood = &marks->mark[i];
        done = wood->role == HW_ROLE_TARGET && hw_mark_is_beside(mark, wood) &&
               hw_job_done_between(job, photo->number, LONG_MAX, wood->name) != NULL;
    }
    return done;
}

// Photographed since, and not as wet: whoever did that has seen that it is dry.
static bool is_seen_dry(const hw_job *job, const hw_overview_part *part)
{
    return part->photo > 0 && !part->photo_is_old &&
           hw_job_state(job, part->photo, part->now.name) != HW_STATE_NOT_DRY;
}

static void fill_wait(const hw_job *job, double recoat_minutes, int64_t now, hw_overview_part *out)
{
    double left = recoat_minutes - hw_job_dry_minutes(job, out->now.name, now, now);
    if (left > 0.0 && !is_seen_dry(job, out)) { // not where one of them is not known
        out->waits = true;
        out->until = now + (int64_t)ceil(60.0 * left);
    }
}

static void fill_part(const hw_job *job, const hw_part_now *part, double recoat_minutes,
                      int64_t now, hw_overview_part *out)
{
    bool repair = part->role == HW_ROLE_PATCH;
    const hw_event *photo =
        repair ? hw_job_main_photo(job, part->name) : last_of_wood(job, part->name);
    const hw_mark *mark =
        repair && photo ? hw_marks_find(&photo->of.photo.marks, HW_ROLE_PATCH, part->name) : NULL;
    out->now = *part;
    out->kind = mark ? mark->kind : HW_KIND_LET_IN;
    out->photo = photo ? photo->number : 0;
    if (repair && photo) {
        fill_gap(job, out);
    }
    count_passes(job, out);
    out->photo_is_old = photo && is_done_since(job, photo, out);
    fill_wait(job, recoat_minutes, now, out);
}

// Only what a person logged counts: a plan that was shown since stands in nobody's way.
static long last_undoable(const hw_job *job)
{
    size_t i = hw_job_event_count(job);
    while (i > 0 && hw_job_event(job, i - 1)->kind == HW_EVENT_PLAN_SHOWN) {
        i--;
    }
    const hw_event *last = i > 0 ? hw_job_event(job, i - 1) : NULL;
    switch (last ? last->kind : HW_EVENT_OTHER) {
    case HW_EVENT_JAR_MIXED:
        return last->of.jar.from_job[0] ? 0 : last->number; // not what a job began with
    case HW_EVENT_PASS_LAID:
    case HW_EVENT_COAT_LAID:
    case HW_EVENT_TAKEN_OFF:
    case HW_EVENT_NOTE:
    case HW_EVENT_APPROVAL:
        return last->number;
    default:
        return 0;
    }
}

hw_status hw_steps_overview(const char *folder, const hw_limits *limits, int64_t now,
                            hw_overview *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_overview made = {.now = now};
    hw_status status = hw_job_open(folder, &bounds, &made.job, err);
    if (status == HW_OK) {
        status = hw_job_parts(made.job, &made.parts, &made.part_count, err);
    }
    if (status == HW_OK) {
        made.part = hw_alloc_array(made.part_count, sizeof *made.part);
        status = made.part ? HW_OK : hw_fail_memory(err, "looking at the job");
    }
    if (status != HW_OK) {
        hw_overview_free(&made);
        return status;
    }
    double recoat_minutes = hw_job_settings_now(made.job).recoat_minutes;
    for (size_t i = 0; i < made.part_count; i++) {
        fill_part(made.job, &made.parts[i], recoat_minutes, now, &made.part[i]);
    }
    made.undo = last_undoable(made.job);
    *out = made;
    return HW_OK;
}
