// steps_fix.c: an event corrected or withdrawn, a part renamed.
//
// The event is taken as it is now, changed as asked, tested as its own command tests it, and what differs is
// logged as a correction. A pass gets a new forecast with its new liquid; a photo with new marks is read again.
#include "steps_internal.h"

#include "huewright/report.h"

#include <string.h>

// ---- What can be corrected ---------------------------------------------------------

// One thing that a person can ask to be other, and of which kinds of event.
typedef struct member {
    const char *words; // "lamp"
    bool asked;
    hw_event_kind kind[4]; // HW_EVENT_OTHER: none
} member;

enum { MEMBERS = 18 };

static void list_members(const hw_fix_request *r, member out[MEMBERS])
{
    const hw_event_kind photo = HW_EVENT_PHOTO_ADDED, pass = HW_EVENT_PASS_LAID,
                        coat = HW_EVENT_COAT_LAID, takeoff = HW_EVENT_TAKEN_OFF,
                        jar = HW_EVENT_JAR_MIXED;
    const member all[MEMBERS] = {
        {"title", r->title, {HW_EVENT_JOB_STARTED}},
        {"view", r->view, {photo}},
        {"lamp", r->lamp, {photo, HW_EVENT_APPROVAL}},
        {"side", r->from, {photo}},
        {"states", r->state_count > 0, {photo}},
        {"marks", r->marks_path || r->marks.count > 0, {photo}},
        {"colour of the card", r->has_card_lab, {photo}},
        {"person", r->by, {HW_EVENT_APPROVAL}},
        {"kind of coat", r->coat, {coat}},
        {"way of taking off", r->how, {takeoff}},
        {"parts", r->part_count > 0, {pass, coat, takeoff, HW_EVENT_NOTE}},
        {"liquid", r->liquid.count > 0, {pass, jar}},
        {"jar", r->jar > 0, {pass}},
        {"volume", r->volume_ml > 0.0, {jar}},
        {"passes", r->passes != 0, {pass}},
        {"minutes", r->sets_minutes, {pass}},
        {"hours", r->sets_hours, {pass, coat, takeoff, HW_EVENT_NOTE}},
        {"place before a photo", r->sets_before_photo, {pass, coat, takeoff}},
    };
    memcpy(out, all, sizeof all);
}

static bool belongs(const member *one, hw_event_kind kind)
{
    for (size_t i = 0; i < sizeof one->kind / sizeof *one->kind; i++) {
        if (one->kind[i] == kind && kind != HW_EVENT_OTHER) {
            return true;
        }
    }
    return false;
}

// Where an event keeps its note, and how many bytes there are.
typedef struct note_place {
    char *text; // NULL: nowhere
    size_t size;
} note_place;

static note_place note_of(hw_event *event)
{
    switch (event->kind) {
    case HW_EVENT_PHOTO_ADDED:
        return (note_place){event->of.photo.note, sizeof event->of.photo.note};
    case HW_EVENT_PASS_LAID:
        return (note_place){event->of.pass.note, sizeof event->of.pass.note};
    case HW_EVENT_COAT_LAID:
        return (note_place){event->of.coat.note, sizeof event->of.coat.note};
    case HW_EVENT_TAKEN_OFF:
        return (note_place){event->of.takeoff.note, sizeof event->of.takeoff.note};
    case HW_EVENT_JAR_MIXED:
        return (note_place){event->of.jar.note, sizeof event->of.jar.note};
    case HW_EVENT_APPROVAL:
        return (note_place){event->of.approval.note, sizeof event->of.approval.note};
    case HW_EVENT_NOTE:
        return (note_place){event->of.note.text, sizeof event->of.note.text};
    default:
        return (note_place){NULL, 0};
    }
}

static bool has_note(hw_event_kind kind)
{
    hw_event event = {.kind = kind};
    return note_of(&event).text != NULL;
}

static const char *kind_words(hw_event_kind kind)
{
    switch (kind) {
    case HW_EVENT_JOB_STARTED:
        return "the start of the job";
    case HW_EVENT_PHOTO_ADDED:
        return "a photo";
    case HW_EVENT_READING:
        return "a reading";
    case HW_EVENT_PLAN_SHOWN:
        return "advice that was shown";
    case HW_EVENT_PASS_LAID:
        return "a pass";
    case HW_EVENT_PART_NAMED:
        return "the naming of a part";
    case HW_EVENT_COAT_LAID:
        return "a coat";
    case HW_EVENT_TAKEN_OFF:
        return "a taking off";
    case HW_EVENT_JAR_MIXED:
        return "a mixed jar";
    case HW_EVENT_CORRECTION:
        return "a correction";
    case HW_EVENT_NOTE:
        return "a note";
    case HW_EVENT_APPROVAL:
        return "an approval";
    case HW_EVENT_SETTING:
        return "what holds for the whole job";
    default:
        return "an event that this version does not know";
    }
}

static void event_words(char out[40], long number)
{
    hw_format_text(out, 40, "event %ld", number);
}

static hw_status refuse_both(const hw_fix_request *request, const char *what, hw_error *err)
{
    char subject[40];
    event_words(subject, request->event);
    return hw_fail(err, HW_ERR_CALL, "fix-both", subject, "Ask for one of them.", "%s", what);
}

static bool asks_any(const hw_fix_request *request)
{
    member members[MEMBERS];
    bool any = request->note != NULL;
    list_members(request, members);
    for (size_t i = 0; i < MEMBERS; i++) {
        any = any || members[i].asked;
    }
    return any;
}

// What contradicts itself is not done by halves.
static hw_status check_contradiction(const hw_fix_request *request, hw_error *err)
{
    if (request->withdraw && asks_any(request)) {
        return refuse_both(request, "it is withdrawn or it was otherwise, not both", err);
    }
    if (request->jar > 0 && request->liquid.count > 0) {
        return refuse_both(request, "it names a jar and dyes; the jar says what is in it", err);
    }
    return HW_OK;
}

// Is anything asked for, and only what such an event has?
static hw_status check_asked(const hw_fix_request *request, const hw_event *event, hw_error *err)
{
    member members[MEMBERS];
    char subject[40];
    event_words(subject, request->event);
    list_members(request, members);
    for (size_t i = 0; i < MEMBERS; i++) {
        if (members[i].asked && !belongs(&members[i], event->kind)) {
            return hw_fail(err, HW_ERR_CALL, "fix-member", subject,
                           "Look for the event that you mean in huewright history.",
                           "it is %s, which has no %s", kind_words(event->kind), members[i].words);
        }
    }
    if (request->note && !has_note(event->kind)) {
        return hw_fail(err, HW_ERR_CALL, "fix-member", subject,
                       "Log the note by itself: huewright note.", "it is %s, which has no note",
                       kind_words(event->kind));
    }
    if (!asks_any(request)) {
        return hw_fail(err, HW_ERR_CALL, "fix-nothing", subject,
                       "Say what it should have been, as --passes 3, or --withdraw when it did not "
                       "happen.",
                       "nothing is said to be other");
    }
    return HW_OK;
}

static hw_status find_event(const hw_job *job, long number, const hw_event **out, hw_error *err)
{
    char subject[40];
    event_words(subject, number);
    *out = hw_job_event_numbered(job, number);
    if (!*out) {
        return hw_fail(err, HW_ERR_CALL, "event-unknown", subject,
                       "Look for its number in huewright history.",
                       "this job has no event of that number");
    }
    if ((*out)->kind == HW_EVENT_WITHDRAWN) {
        return hw_fail(err, HW_ERR_CALL, "fix-kind", subject,
                       "To bring it back, withdraw the correction that took it away.",
                       "it is withdrawn, by event %ld", (*out)->corrected_by);
    }
    return HW_OK;
}

// ---- Withdrawing -------------------------------------------------------------------

static hw_status withdraw(hw_job *job, const hw_event *event, int64_t now, long *number,
                          hw_error *err)
{
    bool can = has_note(event->kind) || event->kind == HW_EVENT_CORRECTION ||
               event->kind == HW_EVENT_SETTING ||
               (event->kind == HW_EVENT_PART_NAMED && event->of.part.was[0]);
    if (!can) {
        char subject[40];
        event_words(subject, event->number);
        bool of_photo = event->kind == HW_EVENT_READING || event->kind == HW_EVENT_PART_NAMED;
        return hw_fail(err, HW_ERR_CALL, "fix-kind", subject,
                       of_photo ? "Withdraw the photo that it belongs to, or leave it as it is."
                                : "Leave it as it is.",
                       "it is %s, which is not withdrawn by itself", kind_words(event->kind));
    }
    return hw_job_add_withdrawal(job, event->number, now, number, err);
}

// ---- Changing ----------------------------------------------------------------------

static hw_status set_text(const char *what, const char *from, char *to, size_t size, hw_error *err)
{
    if (from && (!hw_is_utf8(from, strlen(from)) || !hw_copy_text(to, size, from))) {
        return hw_fail(err, HW_ERR_CALL, "note-text", what, "Write a shorter one.",
                       "it is longer than %zu bytes or no readable text", size - 1);
    }
    return HW_OK;
}

static void set_state(hw_photo_event *photo, const hw_part_state *state)
{
    for (size_t i = 0; i < photo->state_count; i++) {
        if (strcmp(photo->states[i].part, state->part) == 0) {
            photo->states[i].state = state->state;
            return;
        }
    }
    photo->states[photo->state_count++] = *state;
}

// With other marks a part may be there no more: its state goes with it.
static void drop_states(hw_photo_event *photo, hw_warnings *warnings)
{
    size_t kept = 0;
    for (size_t i = 0; i < photo->state_count; i++) {
        if (hw_marks_find_wood(&photo->marks, photo->states[i].part)) {
            photo->states[kept++] = photo->states[i];
        } else {
            hw_warn(warnings, "%s is marked on this photo no more, so its state is taken out.",
                    photo->states[i].part);
        }
    }
    photo->state_count = kept;
}

static hw_status change_photo(const hw_fix_request *request, hw_photo_event *photo,
                              hw_part_state *states, hw_warnings *warnings, hw_error *err)
{
    if ((request->view && !hw_name_is_usable(request->view)) ||
        (request->lamp && request->lamp[0] && !hw_name_is_usable(request->lamp))) {
        bool view = request->view && !hw_name_is_usable(request->view);
        return hw_fail(err, HW_ERR_CALL, view ? "view-name" : "lamp-name",
                       view ? request->view : request->lamp,
                       "Use a short plain name, as front, window or bench lamp.",
                       "this cannot be the name of a %s", view ? "view" : "lamp");
    }
    if (request->has_card_lab) {
        photo->has_card_lab = true;
        photo->card_lab = request->card_lab;
    }
    if (request->from && !hw_from_from_name(request->from, &photo->from)) {
        return hw_fail(err, HW_ERR_CALL, "from-unknown", request->from, "Say front, left or right.",
                       "this is no side that a photo is taken from");
    }
    if (photo->measured && (request->view || request->lamp || request->from)) {
        return hw_fail(err, HW_ERR_CALL, "fix-member", photo->original,
                       "An instrument brings its own light.",
                       "it was measured by an instrument, which has no view, side and lamp");
    }
    for (size_t i = 0; i < photo->state_count; i++) {
        states[i] = photo->states[i];
    }
    photo->states = states;
    for (size_t i = 0; i < request->state_count; i++) {
        set_state(photo, &request->states[i]);
    }
    hw_status status = set_text("the view", request->view, photo->view, sizeof photo->view, err);
    if (status == HW_OK) {
        status = set_text("the lamp", request->lamp, photo->lamp, sizeof photo->lamp, err);
    }
    if (status == HW_OK && request->state_count > 0) {
        status = hw_steps_check_states(photo, err);
    }
    drop_states(photo, warnings);
    return status;
}

static void set_parts(const hw_fix_request *request, char (**parts)[HW_NAME_SIZE], size_t *count)
{
    if (request->part_count > 0) {
        *parts = (char(*)[HW_NAME_SIZE])request->parts; // borrowed while it is logged
        *count = request->part_count;
    }
}

static hw_status change_pass(const hw_fix_request *request, const hw_job *job, hw_pass_event *pass,
                             hw_error *err)
{
    set_parts(request, &pass->patches, &pass->patch_count);
    pass->passes = request->passes ? request->passes : pass->passes;
    pass->minutes = request->sets_minutes ? request->minutes : pass->minutes;
    if (request->liquid.count > 0) {
        pass->liquid = request->liquid;
        pass->jar = 0;
    }
    if (request->jar > 0) {
        pass->jar = request->jar;
        return hw_steps_take_jar(job, pass, err);
    }
    return HW_OK;
}

static hw_status change_coat(const hw_fix_request *request, hw_coat_event *coat, hw_error *err)
{
    set_parts(request, &coat->parts, &coat->part_count);
    return request->coat ? hw_steps_take_coat(request->coat, &coat->coat, err) : HW_OK;
}

static void change_takeoff(const hw_fix_request *request, hw_takeoff_event *takeoff)
{
    set_parts(request, &takeoff->parts, &takeoff->part_count);
    if (request->how) {
        takeoff->stripped = strcmp(request->how, "stripped") == 0;
    }
}

// `states` has room for all states of a photo.
static hw_status change(const hw_fix_request *request, const hw_job *job, hw_event *event,
                        hw_part_state *states, hw_warnings *warnings, hw_error *err)
{
    long *before = event->kind == HW_EVENT_PASS_LAID   ? &event->of.pass.before_photo
                   : event->kind == HW_EVENT_COAT_LAID ? &event->of.coat.before_photo
                   : event->kind == HW_EVENT_TAKEN_OFF ? &event->of.takeoff.before_photo
                                                       : NULL;
    if (before && request->sets_before_photo) {
        *before = request->before_photo;
    }
    double *hours = hw_event_hours_of(event);
    if (hours && request->sets_hours) {
        *hours = request->hours;
    }
    note_place note = note_of(event);
    hw_status status =
        note.text ? set_text("the note", request->note, note.text, note.size, err) : HW_OK;
    if (status != HW_OK) {
        return status;
    }
    switch (event->kind) {
    case HW_EVENT_JOB_STARTED:
        return set_text("the title", request->title, event->of.start.title,
                        sizeof event->of.start.title, err);
    case HW_EVENT_PHOTO_ADDED:
        return change_photo(request, &event->of.photo, states, warnings, err);
    case HW_EVENT_PASS_LAID:
        return change_pass(request, job, &event->of.pass, err);
    case HW_EVENT_COAT_LAID:
        return change_coat(request, &event->of.coat, err);
    case HW_EVENT_TAKEN_OFF:
        change_takeoff(request, &event->of.takeoff);
        return HW_OK;
    case HW_EVENT_JAR_MIXED:
        event->of.jar.liquid = request->liquid.count ? request->liquid : event->of.jar.liquid;
        event->of.jar.volume_ml =
            request->volume_ml > 0.0 ? request->volume_ml : event->of.jar.volume_ml;
        return HW_OK;
    case HW_EVENT_NOTE:
        if (request->part_count > 1) {
            return refuse_both(request, "a note is about one part or about the whole piece", err);
        }
        return set_text("the part", request->part_count ? request->parts[0] : NULL,
                        event->of.note.part, sizeof event->of.note.part, err);
    case HW_EVENT_APPROVAL:
        status = set_text("who approved it", request->by, event->of.approval.by,
                          sizeof event->of.approval.by, err);
        return status == HW_OK ? set_text("the lamp", request->lamp, event->of.approval.lamp,
                                          sizeof event->of.approval.lamp, err)
                               : status;
    default:
        return HW_OK;
    }
}

// ---- The correction ----------------------------------------------------------------

// Everything of one call that must be freed.
typedef struct fixing {
    hw_job *job;
    hw_shelf shelf;
    hw_marks marks;
    hw_part_state *states;
    hw_forecast *forecast;
    char *reading;                     // of a photo with new marks, as JSON
    hw_steps_shots shots;              // as they were read with them
    hw_more_photo more[HW_SHOTS_MOST]; // those behind the first; borrows their marks
} fixing;

// What was learned of its camera was learned under the lamp that it was said to be under.
static bool leaves_camera(const hw_fix_request *request, const hw_event *old)
{
    return old->kind == HW_EVENT_PHOTO_ADDED && old->of.photo.camera && request->lamp &&
           !hw_same_lamp(request->lamp, old->of.photo.camera->lamp);
}

// With other marks, another colour of the card, or without what was learned of the camera.
static hw_status read_again(fixing *work, const hw_fix_request *request, const hw_event *old,
                            const hw_limits *limits, hw_warnings *warnings, hw_error *err)
{
    hw_reading reading = {0};
    hw_read_request read = {.marks_path = request->marks_path, .marks = request->marks};
    hw_event event = *old;
    bool marks = request->marks_path || request->marks.count > 0;
    if (event.of.photo.measured) {
        return hw_fail(err, HW_ERR_CALL, "fix-member", event.of.photo.original,
                       "Import the file again with other names instead.",
                       "it was measured by an instrument: there is no picture to read again");
    }
    if (request->has_card_lab) {
        event.of.photo.has_card_lab = true;
        event.of.photo.card_lab = request->card_lab;
    }
    if (leaves_camera(request, old)) {
        event.of.photo.camera = NULL;
        hw_warn(warnings,
                "What was learned of the camera under %s is not used for this photo any "
                "more: it is read again by its card alone.",
                old->of.photo.camera->lamp);
    }
    hw_status status = marks ? hw_steps_marks(&read, limits, &work->marks, warnings, err)
                             : hw_marks_copy(&old->of.photo.marks, &work->marks, err);
    if (status == HW_OK) {
        status =
            hw_steps_read_again(work->job, &event, marks ? &work->marks : &event.of.photo.marks,
                                limits, &work->shots, &reading, err);
    }
    if (status == HW_OK) {
        hw_copy_text(reading.photo.file, sizeof reading.photo.file, event.of.photo.original);
        status = hw_report_reading_json(&reading, &work->reading, err);
    }
    if (status == HW_OK) {
        hw_marks_free(&work->marks);
        work->marks = reading.marks; // with what the reading made of them, as for a new photo
        reading.marks = (hw_marks){0};
    }
    hw_reading_free(&reading);
    return status;
}

// Marks of the shots behind the first, as they lie now that the first has others.
static void take_shots(fixing *work, hw_photo_event *photo)
{
    for (size_t i = 0; i < photo->more_count; i++) {
        const hw_steps_shot *shot = &work->shots.shot[i + 1];
        work->more[i] = photo->more[i];
        work->more[i].marks =
            hw_steps_same_marks(&shot->marks, &work->marks) ? (hw_marks){0} : shot->marks;
    }
    photo->more = work->more;
}

// What the event says now is tested where it was asked to be other: the rest was believed when it was logged, and
// what it named then (a dye, a photo) may be gone.
static hw_status check_changed(const fixing *work, const hw_fix_request *request,
                               const hw_event *event, hw_error *err)
{
    hw_status status = hw_steps_check_parts(request->parts, request->part_count, err);
    if (status == HW_OK && request->sets_before_photo) {
        status = hw_steps_check_before_photo(work->job, request->before_photo, err);
    }
    if (status == HW_OK && event->kind == HW_EVENT_PASS_LAID) {
        status = hw_steps_check_amount(&event->of.pass, err);
    }
    if (status == HW_OK && request->sets_hours) {
        status = hw_steps_check_hours(request->hours, err);
    }
    if (status == HW_OK && (request->liquid.count > 0 || request->jar > 0)) {
        status = hw_steps_check_liquid(event->kind == HW_EVENT_PASS_LAID ? &event->of.pass.liquid
                                                                         : &event->of.jar.liquid,
                                       &work->shelf, err);
    }
    if (status == HW_OK && request->volume_ml > 0.0) {
        hw_mix mix;
        status = hw_tone_mix(&event->of.jar.liquid, &work->shelf, request->volume_ml, &mix, err);
    }
    if (status == HW_OK && (event->kind == HW_EVENT_APPROVAL || event->kind == HW_EVENT_NOTE)) {
        hw_warnings told_before = {0};
        status = hw_steps_check_event(work->job, event, &work->shelf, &told_before, err);
    }
    return status;
}

// Only what this job showed before the pass: what the pass itself did is no forecast.
static void forget_what_followed(const hw_job *job, long place, hw_shelf *shelf)
{
    size_t kept = 0;
    for (size_t i = 0; i < shelf->seen_count; i++) {
        const hw_observation *seen = &shelf->seen[i];
        bool later = strcmp(seen->job, hw_job_id(job)) == 0 && seen->photo_after > place;
        if (!later) {
            shelf->seen[kept++] = *seen;
        }
    }
    shelf->seen_count = kept;
}

// What was expected of it rests on the liquid; what lies there counts without the pass itself.
static hw_status forecast_again(fixing *work, long number, hw_pass_event *pass, hw_error *err)
{
    long place = pass->before_photo > 0 ? pass->before_photo - 1 : number;
    forget_what_followed(work->job, place, &work->shelf);
    pass->forecast = NULL;
    pass->forecast_count = pass->dye_count = 0;
    hw_status status = hw_steps_forecast_again(work->job, &work->shelf, number, pass, err);
    work->forecast = pass->forecast;
    return status;
}

// The event as it should have been, tested and whole.
static hw_status make_event(fixing *work, const hw_fix_request *request, const hw_event *old,
                            const hw_limits *limits, hw_event *out, hw_warnings *warnings,
                            hw_error *err)
{
    *out = *old; // borrows what it does not change
    size_t states = old->kind == HW_EVENT_PHOTO_ADDED ? old->of.photo.state_count : 0;
    work->states = hw_alloc_array(states + request->state_count, sizeof *work->states);
    if (!work->states) {
        return hw_fail_memory(err, "correcting the event");
    }
    hw_status status = HW_OK;
    bool marks = request->marks_path || request->marks.count > 0;
    if (leaves_camera(request, old)) {
        out->of.photo.camera = NULL; // the log's own
    }
    if (marks || request->has_card_lab || leaves_camera(request, old)) {
        status = read_again(work, request, old, limits, warnings, err);
    }
    if (status == HW_OK && marks) {
        out->of.photo.marks = work->marks;
        out->of.photo.marks_reused = false;
        take_shots(work, &out->of.photo);
    }
    if (status == HW_OK) {
        status = change(request, work->job, out, work->states, warnings, err);
    }
    if (status == HW_OK) {
        status = check_changed(work, request, out, err);
    }
    bool laid_otherwise = request->liquid.count > 0 || request->jar > 0 || request->passes != 0 ||
                          request->part_count > 0 || request->sets_before_photo;
    if (status == HW_OK && out->kind == HW_EVENT_JAR_MIXED && request->liquid.count > 0) {
        status = hw_steps_jar_dyes(work->job, &work->shelf, &out->of.jar, err);
    }
    if (status == HW_OK && out->kind == HW_EVENT_PASS_LAID && laid_otherwise) {
        status = forecast_again(work, old->number, &out->of.pass, err);
    }
    return status;
}

static void add_number(char *list, size_t size, long number)
{
    char text[24];
    hw_format_text(text, sizeof text, "%ld", number);
    hw_steps_add_name(list, size, text);
}

// What was taken over from the event into others stays there: said, so that it can be corrected too.
// `liquid`: what a jar holds is other now.
static void warn_left(const hw_job *job, const hw_event *of, bool withdrawn, bool liquid,
                      hw_warnings *warnings)
{
    char passes[160] = "", photos[160] = "";
    bool card = of->kind == HW_EVENT_PHOTO_ADDED && of->of.photo.measured &&
                of->of.photo.has_card_lab && withdrawn;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (of->kind == HW_EVENT_JAR_MIXED && liquid && event->kind == HW_EVENT_PASS_LAID &&
            event->of.pass.jar == of->of.jar.jar) {
            add_number(passes, sizeof passes, event->number);
        }
        if (card && event->kind == HW_EVENT_PHOTO_ADDED && !event->of.photo.measured &&
            event->number > of->number && event->of.photo.has_card_lab) {
            add_number(photos, sizeof photos, event->number);
        }
    }
    if (passes[0]) {
        hw_warn(warnings,
                "What was laid from jar %ld stays as it was logged (event %s): fix each with "
                "--jar %ld, or with --dye, where that is other too.",
                of->of.jar.jar, passes, of->of.jar.jar);
    }
    if (photos[0]) {
        hw_warn(warnings,
                "Photos were read by a measured colour of the card (event %s): fix each with "
                "--card-lab where it was this one.",
                photos);
    }
}

static hw_status fix(fixing *work, const hw_fix_request *request, const hw_limits *limits,
                     int64_t now, long *number, hw_warnings *warnings, hw_error *err)
{
    const hw_event *old = NULL;
    hw_event event;
    bool again;
    hw_status status = hw_steps_open_to_log(request->folder, request->entry, limits, &work->job,
                                            &again, warnings, err);
    if (status == HW_OK && again) {
        *number = hw_job_said_before(work->job)->number;
        return HW_OK;
    }
    if (status == HW_OK) {
        status = find_event(work->job, request->event, &old, err);
    }
    if (status == HW_OK) {
        status =
            hw_steps_learn(work->job, request->shelf_path, 0, limits, &work->shelf, warnings, err);
    }
    if (status != HW_OK) {
        return status;
    }
    status = check_contradiction(request, err);
    if (status == HW_OK && request->withdraw) {
        warn_left(work->job, old, true, true, warnings);
        return withdraw(work->job, old, now, number, err);
    }
    if (status == HW_OK) {
        status = check_asked(request, old, err);
    }
    if (status == HW_OK) {
        warn_left(work->job, old, false, request->liquid.count > 0, warnings);
        status = make_event(work, request, old, limits, &event, warnings, err);
    }
    if (status == HW_OK) {
        status =
            hw_job_add_correction(work->job, old->number, &event, work->reading, now, number, err);
    }
    return status;
}

// What the passes showed may be other now: the shelf follows. The correction itself is saved.
static void learn_again(const hw_job *job, const char *shelf_path, const hw_limits *limits,
                        hw_warnings *warnings)
{
    hw_shelf shelf = {0};
    hw_error why = {0};
    if (hw_steps_learn(job, shelf_path, 0, limits, &shelf, warnings, &why) != HW_OK) {
        hw_warn(warnings,
                "The correction is saved, but the shelf did not learn from it: %s: %s. %s",
                why.subject, why.what, why.next);
    }
    hw_shelf_free(&shelf);
}

hw_status hw_steps_fix(const hw_fix_request *request, const hw_limits *limits, int64_t now,
                       hw_job **job, long *number, hw_warnings *warnings, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    fixing work = {0};
    long made = 0;
    hw_status status = fix(&work, request, &bounds, now, &made, warnings, err);
    if (status == HW_OK) {
        learn_again(work.job, request->shelf_path, &bounds, warnings);
        *job = work.job;
        *number = made;
        work.job = NULL;
    }
    hw_shelf_free(&work.shelf);
    hw_marks_free(&work.marks);
    hw_steps_shots_free(&work.shots);
    hw_free(work.states);
    hw_free(work.forecast);
    hw_report_free(work.reading);
    hw_job_free(work.job);
    return status;
}

// ---- Another name for a part -------------------------------------------------------

// The first photo that holds both names: they are two parts there; 0: none.
static long photo_with_both(const hw_job *job, const char *one, const char *other)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED &&
            hw_marks_find_wood(&event->of.photo.marks, one) &&
            hw_marks_find_wood(&event->of.photo.marks, other)) {
            return event->number;
        }
    }
    return 0;
}

// The new name may be that of a part already: one part that was called two names. Not old wood and a repair.
static hw_status check_joining(const hw_job *job, const char *was, const char *part, hw_role role,
                               const hw_part_now *parts, size_t count, hw_warnings *warnings,
                               hw_error *err)
{
    long both = photo_with_both(job, was, part);
    if (both) {
        return hw_fail(err, HW_ERR_CALL, "part-taken", part, "Choose another name.",
                       "photo %ld marks both of them, so they are two parts", both);
    }
    for (size_t i = 0; i < count; i++) {
        if (strcmp(parts[i].name, part) == 0 && parts[i].role != role) {
            return hw_fail(err, HW_ERR_CALL, "part-taken", part, "Choose another name.",
                           "one of them is old wood, the other a repair");
        }
        if (strcmp(parts[i].name, part) == 0) {
            hw_warn(warnings,
                    "There is a part %s already: from now on both are one part. To take that back, "
                    "withdraw this event.",
                    part);
        }
    }
    return HW_OK;
}

static hw_status check_renaming(const hw_job *job, const char *was, const char *part, hw_role *role,
                                hw_warnings *warnings, hw_error *err)
{
    hw_part_now *parts = NULL;
    size_t count = 0;
    char names[320] = "", next[480];
    bool found = false;
    hw_status status = hw_job_parts(job, &parts, &count, err);
    if (status != HW_OK) {
        return status;
    }
    for (size_t i = 0; i < count; i++) {
        hw_steps_add_name(names, sizeof names, parts[i].name);
        if (strcmp(parts[i].name, was) == 0) {
            *role = parts[i].role;
            found = true;
        }
    }
    if (!found) {
        hw_job_parts_free(parts);
        hw_format_text(next, sizeof next, "Name one of: %s.", names[0] ? names : "(none yet)");
        return hw_fail(err, HW_ERR_CALL, "part-unknown", was, next,
                       "this job has no part of that name");
    }
    if (!hw_name_is_usable(part) || strcmp(part, HW_NAME_OF_ALL) == 0 || strcmp(was, part) == 0) {
        status = hw_fail(err, HW_ERR_CALL, "part-name", part, "Use another short plain name.", "%s",
                         strcmp(was, part) == 0 ? "this is its name already"
                                                : "this cannot be the name of a part");
    } else {
        status = check_joining(job, was, part, *role, parts, count, warnings, err);
    }
    hw_job_parts_free(parts);
    return status;
}

hw_status hw_steps_rename(const hw_rename_request *request, const hw_limits *limits, int64_t now,
                          hw_job **job, hw_warnings *warnings, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_job *opened = NULL;
    hw_part_event event = {.role = HW_ROLE_PATCH};
    long number = 0;
    bool again;
    hw_status status = hw_steps_open_to_log(request->folder, request->entry, &bounds, &opened,
                                            &again, warnings, err);
    if (status == HW_OK && !again) {
        status = check_renaming(opened, request->was, request->part, &event.role, warnings, err);
    }
    if (status == HW_OK && !again) {
        hw_copy_text(event.part, sizeof event.part, request->part);
        hw_copy_text(event.was, sizeof event.was, request->was);
        status = hw_job_add_part(opened, &event, now, &number, err);
    }
    if (status == HW_OK) {
        learn_again(opened, request->shelf_path, &bounds, warnings);
        *job = opened;
    } else {
        hw_job_free(opened);
    }
    return status;
}
