// job_history.c: what the log says when it is asked. Reads events, changes nothing.
#include "job_internal.h"

bool hw_pass_is_on(const hw_pass_event *pass, const char *patch)
{
    for (size_t i = 0; i < pass->patch_count; i++) {
        if (strcmp(pass->patches[i], patch) == 0) {
            return true;
        }
    }
    return false;
}

bool hw_pass_is_between(const hw_event *event, long before, long after, const char *patch)
{
    return event->kind == HW_EVENT_PASS_LAID && hw_pass_place(event) > before &&
           hw_pass_place(event) < after && hw_pass_is_on(&event->of.pass, patch);
}

long hw_pass_place(const hw_event *pass)
{
    return pass->of.pass.before_photo > 0 ? pass->of.pass.before_photo - 1 : pass->number;
}

const hw_event *hw_job_last_photo(const hw_job *job, const char *view)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED &&
            (!view || strcmp(event->of.photo.view, view) == 0)) {
            return event;
        }
    }
    return NULL;
}

const hw_event *hw_job_last_photo_of_patch(const hw_job *job, const char *patch)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED &&
            hw_marks_find(&event->of.photo.marks, HW_ROLE_PATCH, patch)) {
            return event;
        }
    }
    return NULL;
}

const hw_photo_event *hw_job_photo_event(const hw_job *job, long number)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED && event->number == number) {
            return &event->of.photo;
        }
    }
    return NULL;
}

const hw_event *hw_job_reading_of(const hw_job *job, long photo)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_READING && event->of.reading.photo == photo) {
            return event;
        }
    }
    return NULL;
}

// ---- States ------------------------------------------------------------------------

// `damp` and `not dry` hold for the photo they were said with; the others until another is said.
static bool lasts(hw_state state)
{
    return state != HW_STATE_DAMP && state != HW_STATE_NOT_DRY;
}

static bool state_in(const hw_photo_event *photo, const char *part, hw_state *out)
{
    for (size_t i = photo->state_count; i-- > 0;) {
        if (strcmp(photo->states[i].part, part) == 0) {
            *out = photo->states[i].state;
            return true;
        }
    }
    return false;
}

hw_state hw_job_state(const hw_job *job, long photo, const char *part)
{
    hw_state state = HW_STATE_UNKNOWN;
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED && (photo <= 0 || event->number <= photo) &&
            state_in(&event->of.photo, part, &state) && (lasts(state) || event->number == photo)) {
            return state;
        }
    }
    return HW_STATE_UNKNOWN;
}

// ---- Layers ------------------------------------------------------------------------

size_t hw_job_layers(const hw_job *job, const char *patch, long after, hw_layer *out, size_t room)
{
    size_t count = 0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PASS_LAID && hw_pass_place(event) > after &&
            hw_pass_is_on(&event->of.pass, patch)) {
            if (count < room) {
                out[count] = (hw_layer){event->of.pass.liquid, event->of.pass.passes};
            }
            count++;
        }
    }
    return count;
}

bool hw_job_first_colour(const hw_job *job, const char *patch, hw_lab *out)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        const hw_reading_event *reading = &event->of.reading;
        for (size_t k = 0; event->kind == HW_EVENT_READING && k < reading->sample_count; k++) {
            if (reading->samples[k].role == HW_ROLE_PATCH &&
                strcmp(reading->samples[k].name, patch) == 0) {
                *out = reading->samples[k].lab;
                return true;
            }
        }
    }
    return false;
}

// ---- What a pass did ---------------------------------------------------------------

static const hw_logged_gap *gap_of(const hw_event *reading, const char *patch)
{
    for (size_t i = 0; i < reading->of.reading.gap_count; i++) {
        if (strcmp(reading->of.reading.gaps[i].patch, patch) == 0) {
            return &reading->of.reading.gaps[i];
        }
    }
    return NULL;
}

// The readings of a patch before or after a pass, nearest first.
enum { NEAR_MOST = 6 }; // chosen

static size_t near_readings(const hw_job *job, const hw_event *pass, const char *patch, bool after,
                            const hw_event *out[NEAR_MOST])
{
    size_t count = 0, all = hw_job_event_count(job);
    for (size_t k = 0; k < all && count < NEAR_MOST; k++) {
        const hw_event *event = hw_job_event(job, after ? k : all - 1 - k);
        bool on_side = event->kind == HW_EVENT_READING &&
                       (after ? event->of.reading.photo > hw_pass_place(pass)
                              : event->of.reading.photo < hw_pass_place(pass));
        if (on_side && gap_of(event, patch)) {
            out[count++] = event;
        }
    }
    return count;
}

static bool others_between(const hw_job *job, const hw_pass_effect *effect, const hw_event *pass,
                           const char *patch)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event != pass &&
            hw_pass_is_between(event, effect->photo_before, effect->photo_after, patch)) {
            return true;
        }
    }
    return false;
}

// The nearest two photos that can be set beside each other; where none can, the nearest two.
static void choose_photos(const hw_job *job, const hw_event *pass, const char *patch,
                          hw_pass_effect *effect)
{
    const hw_event *before[NEAR_MOST], *after[NEAR_MOST];
    size_t befores = near_readings(job, pass, patch, false, before);
    size_t afters = near_readings(job, pass, patch, true, after);
    for (size_t k = 0; k < afters; k++) {
        for (size_t i = 0; i < befores; i++) {
            hw_patch_change change = hw_job_patch_change(job, before[i]->of.reading.photo,
                                                         after[k]->of.reading.photo, patch);
            if (effect->known && !hw_change_is_told(&change)) {
                continue;
            }
            effect->known = true;
            effect->photo_before = before[i]->of.reading.photo;
            effect->photo_after = after[k]->of.reading.photo;
            effect->before = *gap_of(before[i], patch);
            effect->after = *gap_of(after[k], patch);
            effect->change = change;
            if (hw_change_is_told(&change)) {
                return;
            }
        }
    }
}

hw_pass_effect hw_job_pass_effect(const hw_job *job, const hw_event *pass, const char *patch)
{
    hw_pass_effect effect = {0};
    choose_photos(job, pass, patch, &effect);
    if (effect.known) {
        effect.others_between = others_between(job, &effect, pass, patch);
        effect.check = hw_job_check_forecast(job, &effect.change, patch);
    }
    return effect;
}
