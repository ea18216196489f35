// job_history.c: what the log says when it is asked. Reads events, changes nothing.
#include "job_internal.h"

#include <limits.h>

static bool in_list(const char *part, const char (*parts)[HW_NAME_SIZE], size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(parts[i], part) == 0) {
            return true;
        }
    }
    return false;
}

bool hw_pass_is_on(const hw_event *event, const char *patch)
{
    const hw_pass_event *pass = &event->of.pass;
    return event->kind == HW_EVENT_PASS_LAID &&
           in_list(patch, (const char(*)[HW_NAME_SIZE])pass->patches, pass->patch_count);
}

static bool is_between(const hw_event *event, long before, long after)
{
    return hw_event_place(event) > before && hw_event_place(event) < after;
}

bool hw_pass_is_between(const hw_event *event, long before, long after, const char *patch)
{
    return hw_pass_is_on(event, patch) && is_between(event, before, after);
}

bool hw_coat_is_on(const hw_event *event, const char *part)
{
    const hw_coat_event *coat = &event->of.coat;
    return event->kind == HW_EVENT_COAT_LAID &&
           (coat->part_count == 0 ||
            in_list(part, (const char(*)[HW_NAME_SIZE])coat->parts, coat->part_count));
}

bool hw_takeoff_is_on(const hw_event *event, const char *part)
{
    const hw_takeoff_event *takeoff = &event->of.takeoff;
    return event->kind == HW_EVENT_TAKEN_OFF &&
           in_list(part, (const char(*)[HW_NAME_SIZE])takeoff->parts, takeoff->part_count);
}

const hw_event *hw_job_done_between(const hw_job *job, long before, long after, const char *part)
{
    const hw_event *first = NULL;
    for (size_t i = hw_job_surface_upto(job, after); i-- > 0;) {
        const hw_event *event = hw_job_surface_event(job, i);
        if (event->number <= before) {
            break; // and so are the places of all before it
        }
        if ((hw_coat_is_on(event, part) || hw_takeoff_is_on(event, part)) &&
            is_between(event, before, after)) {
            first = event;
        }
    }
    return first;
}

bool hw_job_laid_between(const hw_job *job, long before, long after, const char *part)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        if (hw_pass_is_between(hw_job_event(job, i), before, after, part)) {
            return true;
        }
    }
    return false;
}

static bool holds_file(const hw_photo_event *photo, const char *stored)
{
    bool held = stored[0] && strcmp(photo->stored, stored) == 0;
    for (size_t i = 0; i < photo->more_count && stored[0]; i++) {
        held = held || strcmp(photo->more[i].stored, stored) == 0;
    }
    return held;
}

bool hw_photo_shares_file(const hw_photo_event *one, const hw_photo_event *other)
{
    bool shared = holds_file(other, one->stored);
    for (size_t i = 0; i < one->more_count; i++) {
        shared = shared || holds_file(other, one->more[i].stored);
    }
    return shared;
}

bool hw_job_photo_repeats(const hw_job *job, const hw_event *photo, const char *part)
{
    for (size_t i = 0; photo->of.photo.stored[0] && i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->number >= photo->number) {
            break;
        }
        if (event->kind == HW_EVENT_PHOTO_ADDED &&
            hw_photo_shares_file(&event->of.photo, &photo->of.photo) &&
            hw_marks_find_wood(&event->of.photo.marks, part)) {
            // The first of them: what was done after a later one was done after it too.
            return hw_job_done_between(job, event->number, photo->number, part) ||
                   hw_job_laid_between(job, event->number, photo->number, part);
        }
    }
    return false;
}

long hw_event_place(const hw_event *event)
{
    long before = event->kind == HW_EVENT_PASS_LAID   ? event->of.pass.before_photo
                  : event->kind == HW_EVENT_COAT_LAID ? event->of.coat.before_photo
                  : event->kind == HW_EVENT_TAKEN_OFF ? event->of.takeoff.before_photo
                                                      : 0;
    return before > 0 ? before - 1 : event->number;
}

// ---- What lies on a part -----------------------------------------------------------

// Two events at one place, as both logged later for the same photo, stand in the order of their numbers.
static bool is_after(const hw_event *one, const hw_event *other)
{
    long here = hw_event_place(one), there = hw_event_place(other);
    return here > there || (here == there && one->number > other->number);
}

// Is there a coat on the part over `below` that lies under `above`? A wipe stops there.
static bool coat_between(const hw_job *job, const hw_event *below, const hw_event *above,
                         const char *part)
{
    for (size_t i = 0; i < hw_job_surface_count(job); i++) {
        const hw_event *event = hw_job_surface_event(job, i);
        if (hw_coat_is_on(event, part) && is_after(event, below) && is_after(above, event)) {
            return true;
        }
    }
    return false;
}

// Does this pass or coat lie on the part at that place: not taken off since it was laid?
static bool lies(const hw_job *job, const hw_event *layer, const char *part, long place)
{
    if (hw_event_place(layer) >= place) {
        return false;
    }
    for (size_t i = 0; i < hw_job_surface_count(job); i++) {
        const hw_event *event = hw_job_surface_event(job, i);
        if (!hw_takeoff_is_on(event, part) || hw_event_place(event) >= place ||
            !is_after(event, layer)) {
            continue;
        }
        bool stripped = event->of.takeoff.stripped;
        bool wiped = layer->kind == HW_EVENT_PASS_LAID && !coat_between(job, layer, event, part);
        if (stripped || wiped) {
            return false;
        }
    }
    return true;
}

bool hw_job_pass_lies(const hw_job *job, const hw_event *pass, const char *patch, long place)
{
    return hw_pass_is_on(pass, patch) && lies(job, pass, patch, place);
}

bool hw_job_coat_lies(const hw_job *job, const hw_event *coat, const char *part, long place)
{
    return hw_coat_is_on(coat, part) && lies(job, coat, part, place);
}

const hw_event *hw_job_event_numbered(const hw_job *job, long number)
{
    size_t index = hw_job_index_of(job, number);
    const hw_event *event = hw_job_event(job, index);
    return event && event->number == number ? event : NULL;
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
    const hw_event *event = hw_job_event_numbered(job, number);
    return event && event->kind == HW_EVENT_PHOTO_ADDED ? &event->of.photo : NULL;
}

const hw_event *hw_job_reading_of(const hw_job *job, long photo)
{
    const hw_event *event = hw_job_event_numbered(job, photo);
    const hw_event *reading =
        event && event->reading ? hw_job_event_numbered(job, event->reading) : NULL;
    return reading && reading->kind == HW_EVENT_READING ? reading : NULL;
}

const hw_logged_gap *hw_reading_gap(const hw_reading_event *reading, const char *patch)
{
    for (size_t i = 0; i < reading->gap_count; i++) {
        if (strcmp(reading->gaps[i].patch, patch) == 0) {
            return &reading->gaps[i];
        }
    }
    return NULL;
}

static bool stands_beside(const hw_photo_event *earlier, const hw_photo_event *now)
{
    return hw_same_lamp(earlier->lamp, now->lamp) && hw_from_is_same(earlier->from, now->from) &&
           earlier->measured == now->measured && !hw_photo_shares_file(earlier, now);
}

const hw_logged_gap *hw_job_gap_before(const hw_job *job, long photo, const char *patch,
                                       long *number)
{
    const hw_photo_event *now = hw_job_photo_event(job, photo);
    const hw_logged_gap *nearest = NULL;
    for (size_t i = now ? hw_job_event_count(job) : 0; i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind != HW_EVENT_PHOTO_ADDED || event->number >= photo ||
            !stands_beside(&event->of.photo, now)) {
            continue;
        }
        const hw_event *reading = hw_job_reading_of(job, event->number);
        const hw_logged_gap *gap = reading ? hw_reading_gap(&reading->of.reading, patch) : NULL;
        bool done = hw_job_laid_between(job, event->number, photo, patch) ||
                    hw_job_done_between(job, event->number, photo, patch);
        if (gap && (done || !nearest)) {
            nearest = gap;
            *number = event->number;
        }
        if (gap && done) {
            break;
        }
    }
    return nearest;
}

const hw_logged_sample *hw_reading_sample(const hw_reading_event *reading, hw_role role,
                                          const char *name)
{
    for (size_t i = 0; i < reading->sample_count; i++) {
        if (reading->samples[i].role == role && strcmp(reading->samples[i].name, name) == 0) {
            return &reading->samples[i];
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

// What a coat or a stripping makes of the surface; false: nothing that is known.
static bool state_by_work(const hw_event *event, const char *part, hw_state *out)
{
    if (hw_coat_is_on(event, part)) {
        *out = event->of.coat.coat == HW_COAT_CLEAR ? HW_STATE_FINISHED : HW_STATE_SEALED;
        return true;
    }
    if (hw_takeoff_is_on(event, part) && event->of.takeoff.stripped) {
        *out = HW_STATE_BARE;
        return true;
    }
    return false;
}

// What one event says of the surface; false: nothing.
static bool state_by(const hw_event *event, long photo, const char *part, hw_state *out)
{
    bool said = event->kind == HW_EVENT_PHOTO_ADDED && state_in(&event->of.photo, part, out) &&
                (lasts(*out) || event->number == photo);
    return said || state_by_work(event, part, out);
}

hw_state hw_job_state(const hw_job *job, long photo, const char *part)
{
    long latest = -1; // place of what was said last
    hw_state found = HW_STATE_UNKNOWN;
    // Backwards: an event's place is never behind its number, so below the latest place nothing is newer.
    for (size_t i = hw_job_surface_upto(job, photo > 0 ? photo : LONG_MAX); i-- > 0;) {
        const hw_event *event = hw_job_surface_event(job, i);
        hw_state state = HW_STATE_UNKNOWN;
        long place = hw_event_place(event);
        if (event->number <= latest) {
            break;
        }
        if ((photo <= 0 || place <= photo) && place > latest &&
            state_by(event, photo, part, &state)) {
            found = state;
            latest = place;
        }
    }
    return found;
}

// ---- Layers ------------------------------------------------------------------------

size_t hw_job_layers(const hw_job *job, const char *patch, long after, hw_layer *out, size_t room)
{
    size_t count = 0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (hw_event_place(event) > after && hw_job_pass_lies(job, event, patch, LONG_MAX)) {
            if (count < room) {
                out[count] = (hw_layer){event->of.pass.liquid, event->of.pass.passes};
            }
            count++;
        }
    }
    return count;
}

// Place of the last stripping of the part; 0: none. What was read before it is other wood by now.
static long last_stripped(const hw_job *job, const char *part)
{
    long place = 0;
    for (size_t i = 0; i < hw_job_surface_count(job); i++) {
        const hw_event *event = hw_job_surface_event(job, i);
        if (hw_takeoff_is_on(event, part) && event->of.takeoff.stripped &&
            hw_event_place(event) > place) {
            place = hw_event_place(event);
        }
    }
    return place;
}

static int passes_at(const hw_job *job, const char *patch, long place)
{
    int passes = 0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PASS_LAID && hw_job_pass_lies(job, event, patch, place)) {
            passes += event->of.pass.passes;
        }
    }
    return passes;
}

// Was nothing done to the patch between that photo and the other, later one?
static bool nothing_between(const hw_job *job, long photo, long later, const char *patch)
{
    return !hw_job_laid_between(job, photo, later, patch) &&
           !hw_job_done_between(job, photo, later, patch);
}

size_t hw_job_way(const hw_job *job, long photo, const char *patch, hw_stood *out, size_t room)
{
    long stripped = last_stripped(job, patch), now = photo, before = 0;
    const hw_event *reading = hw_job_reading_of(job, photo);
    const hw_logged_gap *gap = reading ? hw_reading_gap(&reading->of.reading, patch) : NULL;
    size_t count = 0;
    while (gap && now > stripped && room > 0) { // from the latest back
        if (count == 0 || !nothing_between(job, now, out[count - 1].photo, patch)) {
            count -= count == room; // the first of all takes the last place
            out[count++] = (hw_stood){now, passes_at(job, patch, now), gap};
        }
        gap = hw_job_gap_before(job, now, patch, &before);
        now = before;
    }
    for (size_t i = 0; i < count / 2; i++) {
        hw_stood other = out[i];
        out[i] = out[count - 1 - i];
        out[count - 1 - i] = other;
    }
    return count;
}

static bool first_after(const hw_job *job, long place, const char *patch, hw_lab *out)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        const hw_reading_event *reading = &event->of.reading;
        bool counts = event->kind == HW_EVENT_READING && reading->photo > place;
        const hw_logged_sample *sample =
            counts ? hw_reading_sample(reading, HW_ROLE_PATCH, patch) : NULL;
        if (sample) {
            *out = sample->lab;
            return true;
        }
    }
    return false;
}

bool hw_job_first_colour(const hw_job *job, const char *patch, hw_lab *out)
{
    long stripped = last_stripped(job, patch);
    return first_after(job, stripped, patch, out) ||
           (stripped > 0 && first_after(job, 0, patch, out));
}

// ---- What a pass did ---------------------------------------------------------------

// The readings of a patch before or after a pass, nearest first.
enum { NEAR_MOST = 6 }; // chosen

static size_t near_readings(const hw_job *job, const hw_event *pass, const char *patch, bool after,
                            const hw_event *out[NEAR_MOST])
{
    size_t count = 0, all = hw_job_event_count(job);
    long place = hw_event_place(pass);
    size_t first = hw_job_index_of(job, place); // the photos lie on both sides of it
    for (size_t k = 0; count < NEAR_MOST && (after ? first + k < all : k <= first); k++) {
        const hw_event *photo = hw_job_event(job, after ? first + k : first - k);
        bool on_side = photo && photo->kind == HW_EVENT_PHOTO_ADDED &&
                       (after ? photo->number > place : photo->number < place);
        const hw_event *reading = on_side ? hw_job_reading_of(job, photo->number) : NULL;
        if (reading && hw_reading_gap(&reading->of.reading, patch)) {
            out[count++] = reading;
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
            effect->before = *hw_reading_gap(&before[i]->of.reading, patch);
            effect->after = *hw_reading_gap(&after[k]->of.reading, patch);
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
