// steps_job.c: start a job, log a pass, look back.
//
// A pass is a person's word: it is tested for slips of the tongue (a dye that nobody has, a
// strength of 40) and else believed. A part that no photo has marked is logged with a warning.
#include "steps_internal.h"

#include <math.h>
#include <string.h>

hw_status hw_steps_start(const char *folder, const char *title, int64_t now, hw_error *err)
{
    return hw_job_start(folder, title ? title : "", now, err);
}

hw_status hw_steps_history(const char *folder, const hw_limits *limits, hw_job **job, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    return hw_job_open(folder, &bounds, job, err);
}

hw_status hw_steps_open_to_log(const char *folder, const char *entry, const hw_limits *limits,
                               hw_job **out, bool *again, hw_warnings *warnings, hw_error *err)
{
    hw_status status = hw_job_open(folder, limits, out, err);
    *again = false;
    if (status == HW_OK) {
        hw_warnings_append(warnings, hw_job_warnings(*out));
        status = hw_job_enter(*out, entry, err);
        *again = status == HW_OK && hw_job_said_before(*out);
    }
    return status;
}

// ---- A pass ------------------------------------------------------------------------

// Bounds of what a person can mean; beyond them it is a slip of the keys (chosen).
static const int passes_most = 50;
static const double strength_most = 4.0;
static const double minutes_most = 60.0 * 24 * 365;

hw_status hw_steps_check_liquid(const hw_liquid *liquid, const hw_shelf *shelf, hw_error *err)
{
    if (liquid->count < 1 || liquid->count > HW_LIQUID_DYES_MAX) {
        return hw_fail(err, HW_ERR_CALL, "liquid-dyes", "the liquid",
                       "Say what was laid, as red at strength 1/4.",
                       "one liquid has one or two dyes, here are %zu", liquid->count);
    }
    for (size_t i = 0; i < liquid->count; i++) {
        const hw_dose *dose = &liquid->dose[i];
        hw_family family;
        if (!hw_shelf_find(shelf, dose->dye) && !hw_family_from_name(dose->dye, &family)) {
            return hw_steps_refuse_dye(dose->dye, shelf, err);
        }
        if (!(dose->strength > 0.0 && dose->strength <= strength_most)) {
            return hw_fail(err, HW_ERR_CALL, "dye-strength", dose->dye,
                           "Strength 1 is the strength of the step board; weaker ones are 1/2, "
                           "1/4, 1/8.",
                           "a strength of %g is not between 0 and %g", dose->strength,
                           strength_most);
        }
        if (i > 0 && strcmp(liquid->dose[0].dye, dose->dye) == 0) {
            return hw_fail(err, HW_ERR_CALL, "dye-twice", dose->dye, "Name each dye once.",
                           "this dye is named twice");
        }
    }
    return HW_OK;
}

static hw_status check_patches(const hw_pass_event *pass, hw_error *err)
{
    if (pass->patch_count == 0) {
        return hw_fail(err, HW_ERR_CALL, "patch-missing", "the pass",
                       "Name each repair that it was laid on.", "it names no repair");
    }
    return hw_steps_check_parts((const char(*)[HW_NAME_SIZE])pass->patches, pass->patch_count, err);
}

hw_status hw_steps_check_amount(const hw_pass_event *pass, hw_error *err)
{
    if (pass->passes < 1 || pass->passes > passes_most) {
        return hw_fail(err, HW_ERR_CALL, "pass-count", "the passes",
                       "Give a whole number, 1 or more.", "%d passes are not between 1 and %d",
                       pass->passes, passes_most);
    }
    if (isfinite(pass->minutes) && !(pass->minutes >= 0.0 && pass->minutes <= minutes_most)) {
        return hw_fail(err, HW_ERR_CALL, "pass-minutes", "the minutes",
                       "Give the minutes that it has dried, 0 or more.",
                       "%g minutes cannot be meant", pass->minutes);
    }
    return hw_steps_check_hours(pass->hours, err);
}

hw_status hw_steps_check_pass(const hw_job *job, const hw_pass_event *pass, const hw_shelf *shelf,
                              hw_error *err)
{
    hw_status status = hw_steps_check_amount(pass, err);
    if (status == HW_OK) {
        status = hw_steps_check_before_photo(job, pass->before_photo, err);
    }
    if (status == HW_OK) {
        status = hw_steps_check_text("the note", pass->note, err);
    }
    if (status == HW_OK) {
        status = check_patches(pass, err);
    }
    return status == HW_OK ? hw_steps_check_liquid(&pass->liquid, shelf, err) : status;
}

// A family that is no dye of a shelf which holds others: what it did cannot be known.
static void warn_unknown(const hw_shelf *shelf, const hw_pass_event *pass, hw_warnings *warnings)
{
    for (size_t i = 0; i < pass->liquid.count; i++) {
        if (!hw_shelf_find(shelf, pass->liquid.dose[i].dye)) {
            hw_warn(
                warnings,
                "%s is not on your shelf: the pass is logged, but nothing is learned from what is "
                "laid up to the next photo. Put it there with: huewright shelf add.",
                pass->liquid.dose[i].dye);
        }
    }
}

static bool is_old_wood(const hw_job *job, const char *part)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED &&
            hw_marks_find(&event->of.photo.marks, HW_ROLE_TARGET, part)) {
            return true;
        }
    }
    return false;
}

static void warn_unmarked(const hw_job *job, const hw_pass_event *pass, hw_warnings *warnings)
{
    for (size_t i = 0; i < pass->patch_count; i++) {
        if (hw_job_last_photo_of_patch(job, pass->patches[i])) {
            continue;
        }
        if (is_old_wood(job, pass->patches[i])) {
            hw_warn(warnings,
                    "%s is old wood on the photos of this job: the pass is logged, but what is "
                    "toned can no longer be matched to. If another part was meant, correct it "
                    "with: huewright fix.",
                    pass->patches[i]);
        } else {
            hw_warn(warnings,
                    "No photo of this job has marked %s: the pass is logged, but its effect cannot "
                    "be known. Check the name.",
                    pass->patches[i]);
        }
    }
}

// To two digits: more is not known of a volume that was laid.
static double about(double ml)
{
    double digit = ml > 0.0 ? pow(10.0, floor(log10(ml)) - 1.0) : 1.0;
    return round(ml / digit) * digit;
}

// `left`: in the jar before the pass. What a pass takes is known to a half of it or so (common practice, no source), and a
// few drops are no matter (chosen).
static void warn_overdrawn(const hw_job *job, long number, double left, hw_warnings *warnings)
{
    const double clearly = 1.5, least_ml = 5.0;
    const hw_event *pass = hw_job_event_numbered(job, number);
    double took = hw_job_laid_ml(job, pass);
    if (took > clearly * left + least_ml) { // not where one of them is not known
        hw_warn(warnings,
                "Jar %ld holds about %g ml, this took about %g: is the area, the jar or the number "
                "of passes wrong? Correct it with: huewright fix.",
                pass->of.pass.jar, about(left), about(took));
    }
}

hw_status hw_steps_take_jar(const hw_job *job, hw_pass_event *pass, hw_error *err)
{
    const hw_jar_event *jar = pass->jar > 0 ? hw_job_jar(job, pass->jar) : NULL;
    if (pass->jar > 0 && !jar) {
        char subject[32];
        hw_format_text(subject, sizeof subject, "jar %ld", pass->jar);
        return hw_fail(err, HW_ERR_CALL, "jar-unknown", subject,
                       "Look for its number in huewright history, or mix one with: huewright jar.",
                       "this job has no jar of that number");
    }
    if (jar) {
        pass->liquid = jar->liquid;
    }
    return HW_OK;
}

static hw_status add_pass(hw_job *job, const hw_pass_request *request, const hw_limits *limits,
                          int64_t now, hw_warnings *warnings, hw_error *err)
{
    hw_shelf shelf = {0};
    hw_pass_event pass = request->pass; // with what was expected of it
    pass.forecast = NULL;
    pass.forecast_count = pass.dye_count = 0;
    long number = 0;
    hw_status status = hw_steps_learn(job, request->shelf_path, 0, limits, &shelf, warnings, err);
    if (status == HW_OK) {
        status = hw_steps_take_jar(job, &pass, err);
    }
    if (status == HW_OK) {
        status = hw_steps_check_pass(job, &pass, &shelf, err);
    }
    if (status == HW_OK) {
        warn_unmarked(job, &pass, warnings);
        warn_unknown(&shelf, &pass, warnings);
        status = hw_steps_forecast(job, &shelf, &pass, err);
    }
    if (status == HW_OK) {
        double left = pass.jar > 0 ? hw_job_jar_left(job, pass.jar) : (double)NAN;
        status = hw_job_add_pass(job, &pass, now, &number, err);
        if (status == HW_OK) {
            warn_overdrawn(job, number, left, warnings);
        }
    }
    hw_free(pass.forecast);
    hw_shelf_free(&shelf);
    return status;
}

hw_status hw_steps_pass(const hw_pass_request *request, const hw_limits *limits, int64_t now,
                        hw_job **job, hw_warnings *warnings, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_job *opened = NULL;
    bool again;
    hw_status status = hw_steps_open_to_log(request->folder, request->entry, &bounds, &opened,
                                            &again, warnings, err);
    if (status == HW_OK && !again) {
        status = hw_steps_check_seen(opened, request->seen,
                                     (const char(*)[HW_NAME_SIZE])request->pass.patches,
                                     request->pass.patch_count, now, err);
    }
    if (status == HW_OK && !again) {
        status = add_pass(opened, request, &bounds, now, warnings, err);
    }
    if (status == HW_OK) {
        *job = opened;
    } else {
        hw_job_free(opened);
    }
    return status;
}
