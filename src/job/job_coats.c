// job_coats.c: coats of finish on a part, clear coats still to come, and what logged coats did.
//
// What lies on a part follows from the log (job_history.c). Finish that nobody logged is known from what was said of
// the surface: then coats are taken for granted, and that is said. A change is an observation of coats where,
// between two photos that can be compared, coats were laid on the part and nothing else was done to it. A picture that
// was there before the coats is no second one of what they did.
#include "job_internal.h"

#include <limits.h>
#include <math.h>

// Coats under the first logged one (common practice, no source: a sealed surface has one, a finished one several;
// from the third the wet step is over).
static const int coats_of_sealed = 1, coats_of_finished = 3;

// ---- Coats on a part ---------------------------------------------------------------

// The first coat that lies on the part at that place of the log.
static const hw_event *first_coat(const hw_job *job, const char *part, long place)
{
    const hw_event *first = NULL;
    for (size_t i = hw_job_surface_upto(job, place); i-- > 0;) {
        const hw_event *event = hw_job_surface_event(job, i);
        if (hw_job_coat_lies(job, event, part, place) &&
            (!first || hw_event_place(event) <= hw_event_place(first))) {
            first = event;
        }
    }
    return first;
}

static int logged_coats(const hw_job *job, const char *part, long place)
{
    int count = 0;
    for (size_t i = 0; i < hw_job_surface_upto(job, place); i++) {
        count += hw_job_coat_lies(job, hw_job_surface_event(job, i), part, place);
    }
    return count;
}

// What lasts: wet and damp hold for one photo only.
static hw_state lasting_before(const hw_job *job, const char *part, long place)
{
    hw_state state = HW_STATE_NOT_DRY;
    for (long at = place - 1; at > 0 && (state == HW_STATE_NOT_DRY || state == HW_STATE_DAMP);
         at--) {
        state = hw_job_state(job, at, part);
    }
    return state == HW_STATE_NOT_DRY || state == HW_STATE_DAMP ? HW_STATE_UNKNOWN : state;
}

static bool is_damp_in_last_photo(const hw_job *job, const char *part)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED &&
            hw_marks_find_wood(&event->of.photo.marks, part)) {
            return hw_job_state(job, event->number, part) == HW_STATE_DAMP;
        }
    }
    return false;
}

// The surface before the first logged coat, or, where none is, at that place: today, or a photo.
static hw_state surface_at(const hw_job *job, const char *part, const hw_event *first, long place)
{
    if (first) {
        return lasting_before(job, part, hw_event_place(first));
    }
    if (place == LONG_MAX) {
        return is_damp_in_last_photo(job, part) ? HW_STATE_DAMP : hw_job_state(job, 0, part);
    }
    hw_state state = hw_job_state(job, place, part);
    return state == HW_STATE_NOT_DRY ? lasting_before(job, part, place) : state;
}

// Coats that nobody logged. Old wood has its finish unless it is said to be bare, and a repair of which nothing is said
// is taken as its old wood is, so that nothing is made of a difference that nobody knows; but one whose first coat is
// logged had none before. Damp wood shows the wet step already.
static int unlogged_coats(hw_state state, hw_role role, bool some_logged)
{
    switch (state) {
    case HW_STATE_BARE:
        return 0;
    case HW_STATE_DAMP:
    case HW_STATE_SEALED:
        return coats_of_sealed;
    case HW_STATE_FINISHED:
    case HW_STATE_RUBBED_OUT:
        return coats_of_finished;
    default:
        return role == HW_ROLE_PATCH && some_logged ? 0 : coats_of_finished;
    }
}

static void say_assumed(hw_state state, int taken, const char *part, char *out, size_t size)
{
    bool said = state == HW_STATE_SEALED || state == HW_STATE_DAMP || state == HW_STATE_FINISHED ||
                state == HW_STATE_RUBBED_OUT;
    const char *what = taken == 1 ? "one coat" : "several coats";
    if (taken == 0) {
        out[0] = 0;
    } else if (said) {
        hw_format_text(out, size, "%s is said to be %s: taken as %s that nobody logged.", part,
                       state == HW_STATE_SEALED ? "sealed"
                       : state == HW_STATE_DAMP ? "damp"
                                                : "finished",
                       what);
    } else {
        hw_format_text(out, size, "Nothing is said of the surface of %s: taken as %s.", part, what);
    }
}

// At that place of the log. `assumed` may be NULL.
static int coats_at(const hw_job *job, hw_role role, const char *part, long place, char *assumed,
                    size_t size)
{
    const hw_event *first = first_coat(job, part, place);
    hw_state state = surface_at(job, part, first, place);
    int taken = unlogged_coats(state, role, first != NULL);
    if (assumed) {
        say_assumed(state, taken, part, assumed, size);
    }
    return taken + logged_coats(job, part, place);
}

static int laid_since(const hw_job *job, const char *part, long event)
{
    int count = 0;
    for (size_t i = 0; i < hw_job_surface_count(job); i++) {
        const hw_event *coat = hw_job_surface_event(job, i);
        count += coat->kind == HW_EVENT_COAT_LAID && coat->of.coat.coat == HW_COAT_CLEAR &&
                 hw_event_place(coat) > event && hw_job_coat_lies(job, coat, part, LONG_MAX);
    }
    return count;
}

hw_job_coats hw_job_coats_on(const hw_job *job, hw_role role, const char *part)
{
    hw_job_coats coats = {.on = {0, 0}};
    hw_job_settings said = hw_job_settings_now(job);
    bool wanted = said.coats_over == HW_COATS_ALL ||
                  (said.coats_over == HW_COATS_REPAIRS && role == HW_ROLE_PATCH);
    coats.on.so_far = coats_at(job, role, part, LONG_MAX, coats.assumed, sizeof coats.assumed);
    if (wanted) {
        int left = said.coats_said - laid_since(job, part, said.coats_event);
        coats.on.to_come = left > 0 ? left : 0;
    }
    return coats;
}

// ---- What coats did ----------------------------------------------------------------

typedef struct observing {
    const hw_job *job;
    hw_coat_seen *seen;
    size_t count, room;
} observing;

// What was done to the part between two photos; false: nothing, or other than coats.
static bool only_coats(const hw_job *job, long before, long after, const char *part,
                       hw_coat_seen *out)
{
    bool other = false;
    out->clear = true;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        long place = hw_event_place(event);
        if (place <= before || place >= after) {
            continue;
        }
        other = other || hw_pass_is_on(event, part) || hw_takeoff_is_on(event, part);
        if (hw_coat_is_on(event, part)) {
            out->event = out->coats == 0 ? event->number : out->event;
            out->at = out->coats == 0 ? event->at : out->at;
            out->clear = out->clear && event->of.coat.coat == HW_COAT_CLEAR;
            out->coats++;
        }
    }
    return out->coats > 0 && !other;
}

// What several later photos tell of the same coats is told once, by the latest.
static bool add_seen(observing *o, const hw_coat_seen *seen)
{
    for (size_t i = 0; i < o->count; i++) {
        if (hw_coat_is_same(&o->seen[i], seen)) {
            o->seen[i] = *seen;
            return true;
        }
    }
    if (o->count == o->room) {
        size_t room = o->room ? 2 * o->room : 8;
        hw_coat_seen *grown = hw_resize_array(o->seen, room, sizeof *grown);
        if (!grown) {
            return false;
        }
        o->seen = grown;
        o->room = room;
    }
    o->seen[o->count++] = *seen;
    return true;
}

// Two photos' worth, as the card or the instrument leaves it.
static hw_covariance shared_doubt(const observing *o, const hw_patch_change *change)
{
    const hw_photo_event *photo = hw_job_photo_event(o->job, change->photo_after);
    hw_covariance one = hw_coats_photo_doubt(photo && photo->measured);
    double jacobian[3][3];
    one = hw_covariance_times(&one, 2.0 * change->widening * change->widening);
    hw_tone_density_by_lab(change->after, jacobian);
    return hw_covariance_map((const double(*)[3])jacobian, &one);
}

static bool keep(observing *o, hw_role role, const char *part, const hw_patch_change *change,
                 bool by_card_alone)
{
    hw_coat_seen seen = {.photo_before = change->photo_before, .photo_after = change->photo_after};
    if (!only_coats(o->job, change->photo_before, change->photo_after, part, &seen)) {
        return true;
    }
    hw_copy_text(seen.job, sizeof seen.job, hw_job_id(o->job));
    hw_copy_text(seen.part, sizeof seen.part, part);
    seen.before = coats_at(o->job, role, part, change->photo_before, NULL, 0);
    hw_job_change_density(change, seen.density, &seen.covariance);
    if (by_card_alone) {
        seen.shared = shared_doubt(o, change);
    }
    return add_seen(o, &seen);
}

static bool observe_photo(observing *o, size_t index)
{
    const hw_event *photo = hw_job_event(o->job, index);
    const hw_marks *marks = &photo->of.photo.marks;
    for (size_t k = 0; k < marks->count; k++) {
        const hw_mark *mark = &marks->mark[k];
        hw_patch_change change;
        bool by_card_alone;
        if (hw_role_is_wood(mark->role) &&
            hw_job_done_between(o->job, 0, photo->number, mark->name) &&
            hw_job_compare_back(o->job, index, mark->role, mark->name, &by_card_alone, &change) &&
            !keep(o, mark->role, mark->name, &change, by_card_alone)) {
            return false;
        }
    }
    return true;
}

hw_status hw_job_coats_seen(const hw_job *job, hw_coat_seen **out, size_t *count, hw_error *err)
{
    observing o = {.job = job};
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        if (hw_job_event(job, i)->kind == HW_EVENT_PHOTO_ADDED && !observe_photo(&o, i)) {
            hw_free(o.seen);
            return hw_fail_memory(err, "learning from the coats");
        }
    }
    *out = o.seen;
    *count = o.count;
    return HW_OK;
}

void hw_job_coats_seen_free(hw_coat_seen *seen)
{
    hw_free(seen);
}
