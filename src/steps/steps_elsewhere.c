// steps_elsewhere.c: a repair whose old wood is in another photo: a drawer front that will not stand beside the
// carcass, the underside of a lid.
//
// Two photos of one session can stand in for one: same lamp, same camera, the card in each. What the card alone
// leaves open from photo to photo goes into the range (compare_all.c). In this order: the latest earlier photo of the
// same lamp and session that shows the old wood as it still is; then, once this photo's card is read, camera and card
// against that one. Whatever forbids it is kept as the reason for the refusal.
#include "steps_internal.h"

#include <limits.h>
#include <math.h>
#include <string.h>

static const int64_t session_s = 4 * 3600; // from one photo logged to the other; chosen

// The photo at hand, in a job.
typedef struct place {
    const hw_job *job;
    long number; // of its event; LONG_MAX: not logged yet
    const char *lamp;
    hw_from from;
    int64_t at;
} place;

// ---- Which photo -------------------------------------------------------------------

// How many pieces of old wood of that photo are this patch's; 0 where one that it names is missing.
static size_t wood_in(const hw_marks *marks, const hw_mark *patch)
{
    size_t count = 0;
    for (size_t i = 0; i < marks->count; i++) {
        count += marks->mark[i].role == HW_ROLE_TARGET && hw_mark_is_beside(patch, &marks->mark[i]);
    }
    return count >= patch->beside_count ? count : 0;
}

// Is that piece still what it was when it was photographed?
static bool wood_holds(const place *here, const hw_event *photo, const char *name, char *why,
                       size_t size)
{
    const hw_event *done = hw_job_done_between(here->job, photo->number, here->number, name);
    if (done) {
        hw_format_text(why, size, "something was laid on %s or taken off it since photo %ld", name,
                       photo->number);
        return false;
    }
    if (hw_job_state(here->job, photo->number, name) == HW_STATE_NOT_DRY) {
        hw_format_text(why, size, "%s was not dry in photo %ld", name, photo->number);
        return false;
    }
    return true;
}

// Named as its old wood, not only old wood beside it.
static bool is_named(const hw_mark *patch, const hw_mark *mark)
{
    return patch->beside_count > 0 && mark->role == HW_ROLE_TARGET &&
           hw_mark_is_beside(patch, mark);
}

// Takes the old wood of that photo, or says why not.
static bool take_wood(const place *here, const hw_event *photo, const hw_mark *patch,
                      hw_elsewhere *out, char *why, size_t size)
{
    const hw_marks *marks = &photo->of.photo.marks;
    const hw_event *logged = hw_job_reading_of(here->job, photo->number);
    out->count = 0;
    for (size_t i = 0; logged && i < marks->count; i++) {
        const hw_mark *mark = &marks->mark[i];
        const hw_logged_sample *read =
            mark->role == HW_ROLE_TARGET && hw_mark_is_beside(patch, mark)
                ? hw_reading_sample(&logged->of.reading, HW_ROLE_TARGET, mark->name)
                : NULL;
        if (!read && is_named(patch, mark)) {
            hw_format_text(why, size, "the log holds no reading of %s in photo %ld", mark->name,
                           photo->number);
            return false;
        }
        if (!read || out->count == HW_ELSEWHERE_MOST) {
            continue;
        }
        if (!wood_holds(here, photo, mark->name, why, size)) {
            return false;
        }
        hw_old_wood *wood = &out->wood[out->count++];
        hw_copy_text(wood->name, sizeof wood->name, read->name);
        wood->lab = read->lab;
        memcpy(wood->standard_error, read->standard_error, sizeof wood->standard_error);
    }
    if (out->count == 0) {
        hw_format_text(why, size, "the reading of photo %ld is not in the log", photo->number);
        return false;
    }
    const hw_reading_event *reading = &logged->of.reading;
    hw_copy_text(out->camera, sizeof out->camera, reading->camera);
    out->has_card_seen = reading->has_card_seen;
    out->card_seen = reading->card_seen;
    return true;
}

static bool same_session(const place *here, const hw_event *photo, char *why, size_t size)
{
    int64_t apart = here->at > photo->at ? here->at - photo->at : photo->at - here->at;
    bool both_said = here->lamp[0] && photo->of.photo.lamp[0];
    if (!hw_same_lamp(here->lamp, photo->of.photo.lamp) && !both_said) {
        hw_format_text(why, size,
                       "photo %ld shows it, but one of them does not say its lamp: that one or "
                       "this",
                       photo->number);
        return false;
    }
    if (!hw_same_lamp(here->lamp, photo->of.photo.lamp)) {
        hw_format_text(why, size, "photo %ld, which shows it, was taken under another lamp",
                       photo->number);
        return false;
    }
    if (!hw_from_is_same(here->from, photo->of.photo.from)) {
        hw_format_text(why, size, "photo %ld, which shows it, was taken %s", photo->number,
                       hw_from_words(photo->of.photo.from));
        return false;
    }
    if (apart > session_s) {
        hw_format_text(why, size, "photo %ld, which shows it, was added over 4 hours apart",
                       photo->number);
        return false;
    }
    return true;
}

static void find_for(const place *here, const hw_mark *patch, hw_elsewhere *out)
{
    out->wanted = true;
    for (size_t i = hw_job_event_count(here->job); i-- > 0 && out->photo == 0;) {
        const hw_event *event = hw_job_event(here->job, i);
        char why[320] = "";
        if (event->kind != HW_EVENT_PHOTO_ADDED || event->number >= here->number ||
            event->of.photo.measured || wood_in(&event->of.photo.marks, patch) == 0) {
            continue;
        }
        if (same_session(here, event, why, sizeof why) &&
            take_wood(here, event, patch, out, why, sizeof why)) {
            out->photo = event->number;
        } else if (!out->why_not[0]) {
            hw_copy_text(out->why_not, sizeof out->why_not, why); // of the latest one
        }
    }
    if (out->photo == 0 && !out->why_not[0]) {
        hw_format_text(out->why_not, sizeof out->why_not, "no earlier photo of the job shows %s",
                       patch->beside_count ? "all that it shall match" : "old wood");
    }
    out->count = out->photo > 0 ? out->count : 0;
}

void hw_steps_find_elsewhere(const hw_job *job, long number, const char *lamp, hw_from from,
                             int64_t at, const hw_marks *marks, hw_earlier_list *known)
{
    const place here = {job, number > 0 ? number : LONG_MAX, lamp ? lamp : "", from, at};
    for (size_t i = 0; i < known->count; i++) {
        const hw_mark *patch = hw_marks_find(marks, HW_ROLE_PATCH, known->item[i].patch);
        if (patch && !hw_steps_has_beside(marks, patch)) {
            find_for(&here, patch, &known->item[i].elsewhere);
        }
    }
}

// ---- Against this photo's camera and card -------------------------------------------

// Why the two photos are not of one session; "": they are.
static void say_apart(const hw_elsewhere *from, const hw_reading *reading, char *why, size_t size)
{
    const char *camera = reading->photo.camera;
    hw_lab card = hw_lab_from_xyz(reading->light.card_seen, hw_white_d50);
    double moved = from->has_card_seen ? hw_card_moved(from->card_seen, card) : (double)NAN;
    why[0] = 0;
    if (from->camera[0] && camera[0] && strcmp(from->camera, camera) != 0) {
        hw_format_text(why, size, "photo %ld, which shows it, was taken with another camera (%s)",
                       from->photo, from->camera);
    } else if (isnan(moved)) {
        hw_format_text(why, size, "the log does not say how the card looked in photo %ld",
                       from->photo);
    } else if (moved > HW_CARD_SAME) {
        hw_format_text(why, size,
                       "the card's colour moved by %.3f since photo %ld, which shows it (u'v'; at "
                       "most %.3f under one lamp and white balance)",
                       moved, from->photo, HW_CARD_SAME);
    }
}

void hw_steps_test_elsewhere(const hw_reading *reading, hw_earlier_list *known)
{
    for (size_t i = 0; known && i < known->count; i++) {
        hw_elsewhere *from = &known->item[i].elsewhere;
        char why[320] = "";
        if (from->photo > 0) {
            say_apart(from, reading, why, sizeof why);
        }
        if (why[0]) {
            from->photo = 0;
            from->count = 0;
            hw_copy_text(from->why_not, sizeof from->why_not, why);
        }
    }
}

static bool is_wanted(const hw_earlier_list *known, const char *patch)
{
    for (size_t i = 0; known && i < known->count; i++) {
        if (strcmp(known->item[i].patch, patch) == 0) {
            return known->item[i].elsewhere.wanted;
        }
    }
    return false;
}

hw_status hw_steps_check_marks_in_job(const hw_marks *marks, const hw_photo *photo,
                                      const hw_earlier_list *known, const hw_limits *limits,
                                      hw_error *err)
{
    hw_marks lenient = *marks; // borrows all but the list of marks
    lenient.mark = hw_alloc_array(marks->count + 1, sizeof *lenient.mark);
    if (!lenient.mark) {
        return hw_fail_memory(err, "testing the marks");
    }
    for (size_t i = 0; i < marks->count; i++) {
        lenient.mark[i] = marks->mark[i];
        if (marks->mark[i].role == HW_ROLE_PATCH && is_wanted(known, marks->mark[i].name)) {
            lenient.mark[i].beside_count = 0; // what it names may be in another photo
        }
    }
    hw_status status = hw_steps_check_marks(&lenient, photo, limits, err);
    hw_free(lenient.mark);
    return status;
}

// ---- Afterwards ---------------------------------------------------------------------

const hw_marks *hw_steps_wood_marks(const hw_job *job, const hw_event *photo, const char *patch)
{
    const hw_event *logged = hw_job_reading_of(job, photo->number);
    const hw_logged_gap *gap = logged ? hw_reading_gap(&logged->of.reading, patch) : NULL;
    const hw_photo_event *other =
        gap && gap->elsewhere > 0 ? hw_job_photo_event(job, gap->elsewhere) : NULL;
    return other ? &other->marks : &photo->of.photo.marks;
}
