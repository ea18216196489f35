// steps_log.c: what a person did or said, beside passes and photos: a coat laid, something taken off, a jar
// mixed, a note, an approval, what holds for the whole job.
//
// It is a person's word: tested for slips of the tongue and else believed. Where a name is new to the job,
// or a wipe has no coat to stop at, it is logged all the same and said.
#include "steps_internal.h"

#include <limits.h>
#include <math.h>
#include <string.h>

// ---- Checks ------------------------------------------------------------------------

hw_status hw_steps_check_text(const char *what, const char *text, hw_error *err)
{
    return hw_is_utf8(text, strlen(text))
               ? HW_OK
               : hw_fail(err, HW_ERR_CALL, "note-text", what, "Write it in plain letters.",
                         "it is no readable text");
}

hw_status hw_steps_check_parts(const char (*parts)[HW_NAME_SIZE], size_t count, hw_error *err)
{
    for (size_t i = 0; i < count; i++) {
        if (!hw_name_is_usable(parts[i]) || strcmp(parts[i], HW_NAME_OF_ALL) == 0) {
            return hw_fail(err, HW_ERR_CALL, "part-name", parts[i],
                           "Use the name that it has on the photo.",
                           "this cannot be the name of a part");
        }
        for (size_t k = 0; k < i; k++) {
            if (strcmp(parts[i], parts[k]) == 0) {
                return hw_fail(err, HW_ERR_CALL, "part-twice", parts[i], "Name each part once.",
                               "this part is named twice");
            }
        }
    }
    return HW_OK;
}

hw_status hw_steps_check_before_photo(const hw_job *job, long before_photo, hw_error *err)
{
    if (before_photo == 0 || hw_job_photo_event(job, before_photo)) {
        return HW_OK;
    }
    char number[32];
    hw_format_text(number, sizeof number, "photo %ld", before_photo);
    return hw_fail(err, HW_ERR_CALL, "photo-unknown", number,
                   "Give the number of a photo as huewright history shows it.",
                   "this job has no photo of that number");
}

hw_status hw_steps_check_hours(double hours, hw_error *err)
{
    if (hours == 0.0 || (hours > 0.0 && hours <= HW_HOURS_MOST)) {
        return HW_OK;
    }
    return hw_fail(err, HW_ERR_CALL, "work-hours", "the hours of work",
                   "Give the hours that this took, as 0.5 or 2.", "%g hours cannot be meant",
                   hours);
}

// Is a name like this known to the job: marked on a photo, or laid on before?
static bool is_known(const hw_job *job, const char *part)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED &&
            hw_marks_find_wood(&event->of.photo.marks, part)) {
            return true;
        }
    }
    return false;
}

static void warn_new_parts(const hw_job *job, const char (*parts)[HW_NAME_SIZE], size_t count,
                           hw_warnings *warnings)
{
    for (size_t i = 0; i < count; i++) {
        if (!is_known(job, parts[i])) {
            hw_warn(
                warnings,
                "No photo of this job has marked %s: it is logged all the same. Check the name; "
                "huewright fix JOB --rename changes it.",
                parts[i]);
        }
    }
}

hw_status hw_steps_take_coat(const char *name, hw_coat *out, hw_error *err)
{
    if (hw_coat_from_name(name, out)) {
        return HW_OK;
    }
    return hw_fail(
        err, HW_ERR_CALL, "coat-unknown", name,
        "Write sealer (a first thin coat), barrier (clear, between colours) or clear (the "
        "finish).",
        "there is no such kind of coat");
}

static hw_status check_coat(const hw_job *job, const hw_coat_event *coat, hw_warnings *warnings,
                            hw_error *err)
{
    const char(*parts)[HW_NAME_SIZE] = (const char(*)[HW_NAME_SIZE])coat->parts;
    hw_status status = hw_steps_check_parts(parts, coat->part_count, err);
    if (status == HW_OK) {
        status = hw_steps_check_before_photo(job, coat->before_photo, err);
    }
    if (status == HW_OK) {
        status = hw_steps_check_text("the note", coat->note, err);
    }
    if (status == HW_OK) {
        status = hw_steps_check_hours(coat->hours, err);
    }
    if (status == HW_OK) {
        warn_new_parts(job, parts, coat->part_count, warnings);
    }
    return status;
}

static bool has_coat(const hw_job *job, const char *part, long place)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (hw_coat_is_on(event, part) && hw_event_place(event) < place) {
            return true;
        }
    }
    return false;
}

static bool has_toner(const hw_job *job, const char *part, long place)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        if (hw_job_pass_lies(job, hw_job_event(job, i), part, place)) {
            return true;
        }
    }
    return false;
}

// Common practice, no source: what is wiped goes down to where the solvent stops.
static void warn_takeoff(const hw_job *job, const hw_takeoff_event *takeoff, hw_warnings *warnings)
{
    long place = takeoff->before_photo > 0 ? takeoff->before_photo : LONG_MAX;
    for (size_t i = 0; i < takeoff->part_count && !takeoff->stripped; i++) {
        const char *part = takeoff->parts[i];
        if (!has_toner(job, part, place)) {
            hw_warn(warnings, "No toner is logged on %s that could be wiped off.", part);
        } else if (!has_coat(job, part, place)) {
            hw_warn(
                warnings,
                "No coat is logged under the toner of %s, so all of it counts as wiped off. What "
                "the solvent left or took along, the next photo shows.",
                part);
        }
    }
}

static hw_status check_takeoff(const hw_job *job, const hw_takeoff_event *takeoff,
                               hw_warnings *warnings, hw_error *err)
{
    const char(*parts)[HW_NAME_SIZE] = (const char(*)[HW_NAME_SIZE])takeoff->parts;
    if (takeoff->part_count == 0) {
        return hw_fail(err, HW_ERR_CALL, "part-missing", "taking off",
                       "Name each part that it was taken off.", "it names no part");
    }
    hw_status status = hw_steps_check_parts(parts, takeoff->part_count, err);
    if (status == HW_OK) {
        status = hw_steps_check_before_photo(job, takeoff->before_photo, err);
    }
    if (status == HW_OK) {
        status = hw_steps_check_text("the note", takeoff->note, err);
    }
    if (status == HW_OK) {
        status = hw_steps_check_hours(takeoff->hours, err);
    }
    if (status == HW_OK) {
        warn_new_parts(job, parts, takeoff->part_count, warnings);
        warn_takeoff(job, takeoff, warnings);
    }
    return status;
}

static hw_status check_note(const hw_job *job, const hw_note_event *note, hw_warnings *warnings,
                            hw_error *err)
{
    hw_status status = hw_steps_check_text("the note", note->text, err);
    if (status == HW_OK && note->text[strspn(note->text, " \t\r\n")] == 0) {
        status = hw_fail(err, HW_ERR_CALL, "note-text", "the note", "Write what is to be noted.",
                         "there is nothing in it");
    }
    if (status == HW_OK) {
        status = hw_steps_check_hours(note->hours, err);
    }
    if (status == HW_OK && note->part[0]) {
        const char(*part)[HW_NAME_SIZE] = (const char(*)[HW_NAME_SIZE])note->part;
        status = hw_steps_check_parts(part, 1, err);
        warn_new_parts(job, part, 1, warnings);
    }
    return status;
}

static hw_status check_approval(const hw_job *job, const hw_approval_event *approval,
                                hw_warnings *warnings, hw_error *err)
{
    if (!hw_name_is_usable(approval->by) || !hw_name_is_usable(approval->lamp)) {
        bool by = hw_name_is_usable(approval->by);
        return hw_fail(err, HW_ERR_CALL, by ? "lamp-name" : "approval-by",
                       by ? approval->lamp : approval->by,
                       by ? "Use a short plain name, as window or customer's lamp."
                          : "Write who found the colour right, as customer or workshop.",
                       by ? "this cannot be the name of a lamp" : "this cannot be a name");
    }
    hw_status status = hw_steps_check_text("the note", approval->note, err);
    if (status == HW_OK && !hw_job_last_photo(job, NULL)) {
        hw_warn(warnings, "No photo of this job shows yet what is approved.");
    }
    return status;
}

// A number that was said (not 0) and cannot be meant.
static hw_status check_setting_number(const char *what, const char *unit, double value, double most,
                                      hw_error *err)
{
    if (value == 0.0 || (value > 0.0 && value <= most)) {
        return HW_OK;
    }
    return hw_fail(err, HW_ERR_CALL, "setting-value", what, "Give a number above 0.",
                   "%g %s cannot be meant (at most %g)", value, unit, most);
}

// So many coats say nothing where it is not known what they go over.
static hw_status check_coats(const hw_setting_event *setting, hw_error *err)
{
    bool counts = setting->coats_over == HW_COATS_ALL || setting->coats_over == HW_COATS_REPAIRS;
    if (setting->coats < 0 || setting->coats > HW_COATS_MOST) {
        return hw_fail(err, HW_ERR_CALL, "setting-value", "clear coats",
                       "Give how many clear coats still come, 0 or more.",
                       "%d coats are not between 0 and %d", setting->coats, HW_COATS_MOST);
    }
    if (setting->coats > 0 && !counts) {
        return hw_fail(err, HW_ERR_CALL, "setting-value", "clear coats",
                       "Say what they go over, repairs or all, or leave their number away.",
                       "%d coats come, and it is not said over what", setting->coats);
    }
    return HW_OK;
}

static hw_status check_areas(const hw_setting_event *setting, hw_error *err)
{
    for (size_t i = 0; i < setting->area_count; i++) {
        const hw_part_area *area = &setting->areas[i];
        hw_status status = hw_steps_check_parts(&area->part, 1, err);
        if (status == HW_OK && !(area->cm2 > 0.0)) {
            status = hw_fail(err, HW_ERR_CALL, "setting-value", area->part,
                             "Give its area, as 900cm2 or 12x75cm.", "it has no area");
        }
        if (status == HW_OK) {
            status = check_setting_number(area->part, "cm2", area->cm2, HW_AREA_MOST_CM2, err);
        }
        for (size_t k = 0; status == HW_OK && k < i; k++) {
            if (strcmp(area->part, setting->areas[k].part) == 0) {
                status = hw_fail(err, HW_ERR_CALL, "part-twice", area->part, "Name each part once.",
                                 "two areas are given for this part");
            }
        }
        if (status != HW_OK) {
            return status;
        }
    }
    return HW_OK;
}

// Said at once, while the card is at hand.
static void warn_card(const hw_job *job, const double card_mm[2], hw_warnings *warnings)
{
    double marked;
    if (!(card_mm[0] > 0.0 && card_mm[1] > 0.0) || hw_job_card_fits(job, card_mm, &marked)) {
        return;
    }
    double sides = fmax(card_mm[0], card_mm[1]) / fmin(card_mm[0], card_mm[1]);
    if (isfinite(marked)) {
        hw_warn(warnings,
                "The card's mark is %.2f to 1, a card of %g x %g mm %.2f to 1: no areas are told "
                "from it. Mark the whole card or give its right sides.",
                marked, card_mm[0], card_mm[1], sides);
    } else {
        hw_warn(warnings, "The card's mark has not four corners: no areas are told from it. Mark "
                          "the whole card by its corners.");
    }
}

static hw_status check_setting(const hw_job *job, const hw_setting_event *setting,
                               hw_warnings *warnings, hw_error *err)
{
    bool any = setting->coats_over != HW_COATS_UNSAID || setting->recoat_minutes != 0.0 ||
               setting->card_mm[0] != 0.0 || setting->card_not_known || setting->ml_m2 != 0.0 ||
               setting->area_count > 0;
    if (!any) {
        return hw_fail(
            err, HW_ERR_CALL, "setting-missing", "the job",
            "Give at least one of --coats with --over, --recoat, --card-size, --per-pass "
            "and --area.",
            "it says nothing that could hold");
    }
    hw_status status = check_coats(setting, err);
    if (status == HW_OK) {
        status = check_setting_number("the recoat time", "minutes", setting->recoat_minutes,
                                      HW_RECOAT_MOST_MINUTES, err);
    }
    for (int i = 0; i < 2 && status == HW_OK; i++) {
        status = check_setting_number("the card's size", "mm", setting->card_mm[i],
                                      HW_LENGTH_MOST_MM, err);
    }
    if (status == HW_OK) {
        status = check_setting_number("what a pass takes", "ml a square metre", setting->ml_m2,
                                      HW_ML_M2_MOST, err);
    }
    if (status == HW_OK) {
        status = check_areas(setting, err);
    }
    if (status == HW_OK) {
        warn_card(job, setting->card_mm, warnings);
    }
    for (size_t i = 0; status == HW_OK && i < setting->area_count; i++) {
        warn_new_parts(job, &setting->areas[i].part, 1, warnings);
    }
    return status;
}

// The mix of a jar whose volume was said; else an empty one.
static hw_status mix_jar(const hw_jar_event *jar, const hw_shelf *shelf, hw_mix *out, hw_error *err)
{
    *out = (hw_mix){0};
    return jar->volume_ml == 0.0 ? HW_OK
                                 : hw_tone_mix(&jar->liquid, shelf, jar->volume_ml, out, err);
}

static hw_status check_jar(const hw_jar_event *jar, const hw_shelf *shelf, hw_error *err)
{
    hw_mix mix;
    hw_status status = hw_steps_check_liquid(&jar->liquid, shelf, err);
    if (status == HW_OK) {
        status = mix_jar(jar, shelf, &mix, err);
    }
    return status == HW_OK ? hw_steps_check_text("the note", jar->note, err) : status;
}

hw_status hw_steps_check_event(const hw_job *job, const hw_event *event, const hw_shelf *shelf,
                               hw_warnings *warnings, hw_error *err)
{
    switch (event->kind) {
    case HW_EVENT_PASS_LAID:
        return hw_steps_check_pass(job, &event->of.pass, shelf, err);
    case HW_EVENT_COAT_LAID:
        return check_coat(job, &event->of.coat, warnings, err);
    case HW_EVENT_TAKEN_OFF:
        return check_takeoff(job, &event->of.takeoff, warnings, err);
    case HW_EVENT_JAR_MIXED:
        return check_jar(&event->of.jar, shelf, err);
    case HW_EVENT_NOTE:
        return check_note(job, &event->of.note, warnings, err);
    case HW_EVENT_APPROVAL:
        return check_approval(job, &event->of.approval, warnings, err);
    case HW_EVENT_SETTING:
        return check_setting(job, &event->of.setting, warnings, err);
    default:
        return HW_OK;
    }
}

// ---- Logging -----------------------------------------------------------------------

static hw_status add(hw_job *job, const hw_event *event, int64_t now, long *number, hw_error *err)
{
    switch (event->kind) {
    case HW_EVENT_COAT_LAID:
        return hw_job_add_coat(job, &event->of.coat, now, number, err);
    case HW_EVENT_TAKEN_OFF:
        return hw_job_add_takeoff(job, &event->of.takeoff, now, number, err);
    case HW_EVENT_JAR_MIXED:
        return hw_job_add_jar(job, &event->of.jar, now, number, err);
    case HW_EVENT_NOTE:
        return hw_job_add_note(job, &event->of.note, now, number, err);
    case HW_EVENT_APPROVAL:
        return hw_job_add_approval(job, &event->of.approval, now, number, err);
    case HW_EVENT_SETTING:
        return hw_job_add_setting(job, &event->of.setting, now, number, err);
    default:
        return hw_fail(err, HW_ERR_CALL, "event-kind", hw_event_kind_name(event->kind),
                       "Log it by its own command.", "this is no event to be logged here");
    }
}

hw_status hw_steps_log(const hw_log_request *request, const hw_limits *limits, int64_t now,
                       hw_job **job, hw_warnings *warnings, hw_error *err)
{
    hw_mix mix;
    return hw_steps_log_jar(request, limits, now, job, &mix, warnings, err);
}

// A jar's dyes as they are known, and its mix by just these.
static hw_status fill_jar(const hw_job *job, const hw_shelf *shelf, hw_jar_event *jar, hw_mix *mix,
                          hw_error *err)
{
    hw_status status = hw_steps_jar_dyes(job, shelf, jar, err);
    return status == HW_OK ? mix_jar(jar, shelf, mix, err) : status;
}

// Only what is done to parts can have been done by another hand meanwhile.
static hw_status check_seen(const hw_job *job, const hw_log_request *request, int64_t now,
                            hw_error *err)
{
    const hw_coat_event *coat = &request->event->of.coat;
    const hw_takeoff_event *takeoff = &request->event->of.takeoff;
    switch (request->event->kind) {
    case HW_EVENT_COAT_LAID:
        return hw_steps_check_seen(job, request->seen, (const char(*)[HW_NAME_SIZE])coat->parts,
                                   coat->part_count, now, err);
    case HW_EVENT_TAKEN_OFF:
        return hw_steps_check_seen(job, request->seen, (const char(*)[HW_NAME_SIZE])takeoff->parts,
                                   takeoff->part_count, now, err);
    default:
        return HW_OK;
    }
}

static hw_status check_and_add(hw_job *job, const hw_log_request *request, const hw_limits *limits,
                               int64_t now, hw_mix *mix, hw_warnings *warnings, hw_error *err)
{
    hw_shelf shelf = {0};
    hw_event event = *request->event; // with a jar's dyes as they are known
    long number = 0;
    hw_status status = check_seen(job, request, now, err);
    if (status == HW_OK && event.kind == HW_EVENT_JAR_MIXED) {
        status = hw_steps_learn(job, request->shelf_path, 0, limits, &shelf, warnings, err);
    }
    if (status == HW_OK) {
        status = hw_steps_check_event(job, &event, &shelf, warnings, err);
    }
    if (status == HW_OK && event.kind == HW_EVENT_JAR_MIXED) {
        status = fill_jar(job, &shelf, &event.of.jar, mix, err);
    }
    if (status == HW_OK) {
        status = add(job, &event, now, &number, err);
    }
    hw_shelf_free(&shelf);
    return status;
}

// The mix of a jar that was logged before, as it is known today.
static hw_status mix_again(const hw_job *job, const hw_log_request *request,
                           const hw_limits *limits, hw_mix *mix, hw_warnings *warnings,
                           hw_error *err)
{
    hw_event event = *hw_job_said_before(job);
    hw_shelf shelf = {0};
    if (event.kind != HW_EVENT_JAR_MIXED) {
        return HW_OK;
    }
    hw_status status = hw_steps_learn(job, request->shelf_path, 0, limits, &shelf, warnings, err);
    if (status == HW_OK) {
        status = mix_jar(&event.of.jar, &shelf, mix, err);
    }
    hw_shelf_free(&shelf);
    return status;
}

hw_status hw_steps_log_jar(const hw_log_request *request, const hw_limits *limits, int64_t now,
                           hw_job **job, hw_mix *mix, hw_warnings *warnings, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_job *opened = NULL;
    bool again;
    *mix = (hw_mix){0};
    hw_status status = hw_steps_open_to_log(request->folder, request->entry, &bounds, &opened,
                                            &again, warnings, err);
    if (status == HW_OK) {
        status = again ? mix_again(opened, request, &bounds, mix, warnings, err)
                       : check_and_add(opened, request, &bounds, now, mix, warnings, err);
    }
    if (status == HW_OK) {
        *job = opened;
    } else {
        hw_job_free(opened);
    }
    return status;
}
