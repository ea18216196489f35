// steps_learn.c: what the passes and the clear coats of a job showed joins the shelf, and what is known then says what the
// next pass is expected to do.
//
// A job's observations are made from its log each time, so reading the same job twice changes nothing,
// and advice rests on them even where the shelf file cannot be written.
#include "steps_internal.h"

#include <limits.h>
#include <string.h>

static void keep_new(const char *path, const hw_shelf *shown, const hw_limits *limits,
                     hw_warnings *warnings)
{
    hw_error why = {0};
    if (path[0] && hw_shelf_keep_seen(path, limits, shown, &why) != HW_OK) {
        hw_warn(warnings,
                "What passes and coats did counts for this job, but the shelf could not keep it "
                "for the "
                "next one: %s: %s. %s",
                why.subject, why.what, why.next);
    }
}

bool hw_steps_is_forgotten(const hw_shelf *shelf, const char *dye)
{
    for (size_t i = 0; i < shelf->seen_count; i++) {
        if (shelf->seen[i].forgotten && hw_observation_names(&shelf->seen[i], dye)) {
            return true;
        }
    }
    return false;
}

const hw_used_dye *hw_steps_dyes_in(const hw_event *event, size_t *count)
{
    bool jar = event->kind == HW_EVENT_JAR_MIXED, pass = event->kind == HW_EVENT_PASS_LAID;
    *count = jar ? event->of.jar.dye_count : pass ? event->of.pass.dye_count : 0;
    return jar ? event->of.jar.dye : event->of.pass.dye;
}

hw_dye hw_steps_dye_of_log(const hw_used_dye *used)
{
    hw_dye dye = hw_dye_guess(used->family);
    hw_copy_text(dye.name, sizeof dye.name, used->name);
    memcpy(dye.density, used->density, sizeof dye.density);
    dye.tool = used->tool;
    dye.exponent = used->exponent;
    dye.u_strength = used->u_strength;
    dye.guess = used->guess;
    dye.made = used->made;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3;
             c++) { // 15 % a band beside the strength, as for a file that says none
            double own = r == c ? 0.15 * used->density[r] : 0.0;
            dye.covariance.m[r][c] =
                used->u_strength * used->u_strength * used->density[r] * used->density[c] +
                own * own;
        }
    }
    return dye;
}

// So that a job goes on with its own dyes on another computer. (Not with those taken off this shelf.)
static hw_status take_dyes_of_job(const hw_job *job, hw_shelf *shelf, hw_error *err)
{
    if (!hw_shelf_is_guesses(shelf)) {
        return HW_OK; // what a shelf of one's own does not hold was left off or taken off it
    }
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        size_t count;
        const hw_used_dye *dyes = hw_steps_dyes_in(hw_job_event(job, i), &count);
        for (size_t k = 0; k < count; k++) {
            const hw_used_dye *used = &dyes[k];
            hw_family family;
            if (hw_shelf_find(shelf, used->name) || hw_steps_is_forgotten(shelf, used->name) ||
                hw_family_from_name(used->name, &family)) {
                continue;
            }
            hw_dye *grown = hw_resize_array(shelf->dye, shelf->count + 1, sizeof *grown);
            if (!grown) {
                return hw_fail_memory(err, "taking the job's dyes");
            }
            shelf->dye = grown;
            shelf->dye[shelf->count++] = hw_steps_dye_of_log(used);
        }
    }
    return HW_OK;
}

static bool shows_pass(const hw_shelf *shown, size_t count, const hw_observation *one)
{
    for (size_t i = 0; i < count; i++) {
        if (hw_observation_is_same(&shown->seen[i], one)) {
            return true;
        }
    }
    return false;
}

static bool shows_coat(const hw_shelf *shown, size_t count, const hw_coat_seen *one)
{
    for (size_t i = 0; i < count; i++) {
        if (hw_coat_is_same(&shown->coat[i], one)) {
            return true;
        }
    }
    return false;
}

// Adds to what the job shows now what the shelf has from it and it shows no more: a pass or a coat was corrected, a
// photo withdrawn, a part renamed.
static hw_status add_gone(const hw_job *job, const hw_shelf *shelf, hw_shelf *shown, hw_error *err)
{
    const size_t passes = shown->seen_count, coats = shown->coat_count;
    hw_observation *seen = hw_resize_array(shown->seen, passes + shelf->seen_count, sizeof *seen);
    shown->seen = seen ? seen : shown->seen;
    hw_coat_seen *coat = hw_resize_array(shown->coat, coats + shelf->coat_count, sizeof *coat);
    shown->coat = coat ? coat : shown->coat;
    if (!seen || !coat) {
        return hw_fail_memory(err, "learning from passes and coats");
    }
    for (size_t i = 0; i < shelf->seen_count; i++) {
        if (hw_job_made(job, &shelf->seen[i]) && !shows_pass(shown, passes, &shelf->seen[i])) {
            seen[shown->seen_count] = shelf->seen[i];
            seen[shown->seen_count++].gone = true;
        }
    }
    for (size_t i = 0; i < shelf->coat_count; i++) {
        if (hw_job_made_coat(job, &shelf->coat[i]) && !shows_coat(shown, coats, &shelf->coat[i])) {
            coat[shown->coat_count] = shelf->coat[i];
            coat[shown->coat_count++].gone = true;
        }
    }
    return HW_OK;
}

// `keep`: what is new joins the shelf file too.
static hw_status learn(const hw_job *job, const char *shelf_path, long ask_photo, bool keep,
                       const hw_limits *limits, hw_shelf *out, hw_warnings *warnings, hw_error *err)
{
    char path[1024];
    hw_shelf shelf = {0}, shown = {0};
    bool changed = false;
    hw_status status = hw_steps_shelf(shelf_path, limits, &shelf, path, sizeof path, err);
    if (status == HW_OK) {
        status = hw_job_observe(job, ask_photo, &shown.seen, &shown.seen_count,
                                ask_photo ? warnings : NULL, err);
    }
    if (status == HW_OK) {
        status = hw_job_coats_seen(job, &shown.coat, &shown.coat_count, err);
    }
    if (status == HW_OK) {
        status = add_gone(job, &shelf, &shown, err);
    }
    if (status == HW_OK) {
        status = hw_shelf_take_seen(&shelf, &shown, &changed, err);
    }
    if (status == HW_OK) {
        status = take_dyes_of_job(job, &shelf, err);
    }
    if (status == HW_OK) {
        if (changed && keep) {
            keep_new(path, &shown, limits, warnings);
        }
        *out = shelf;
    } else {
        hw_shelf_free(&shelf);
    }
    hw_shelf_free(&shown);
    return status;
}

hw_status hw_steps_learn(const hw_job *job, const char *shelf_path, long ask_photo,
                         const hw_limits *limits, hw_shelf *out, hw_warnings *warnings,
                         hw_error *err)
{
    return learn(job, shelf_path, ask_photo, true, limits, out, warnings, err);
}

// The wood that the job is about: that of its first repair. (A jar's strength hangs on it by what is known of the dyes
// on other wood alone.)
static hw_lab wood_of(const hw_job *job)
{
    hw_lab wood = {50.0, 12.0, 25.0}; // a mid-brown
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        for (size_t k = 0; event->kind == HW_EVENT_PASS_LAID && k < event->of.pass.patch_count;
             k++) {
            if (hw_job_first_colour(job, event->of.pass.patches[k], &wood)) {
                return wood;
            }
        }
    }
    return wood;
}

hw_status hw_steps_jars(const hw_job *job, const char *shelf_path, const hw_limits *limits,
                        hw_known *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_shelf shelf = {0};
    hw_warnings none = {0};
    *out = (hw_known){0};
    if (hw_job_mixed_jars(job, NULL, 0) == 0) {
        return HW_OK;
    }
    hw_status status = learn(job, shelf_path, 0, false, &bounds, &shelf, &none, err);
    if (status == HW_OK) {
        status = hw_tone_learn(&shelf, hw_job_id(job), wood_of(job), out, err);
    }
    hw_shelf_free(&shelf);
    return status;
}

size_t hw_steps_used_dyes(const hw_shelf *shelf, const hw_known *known, const hw_liquid *liquid,
                          hw_used_dye out[HW_LIQUID_DYES_MAX])
{
    size_t count = 0;
    for (size_t k = 0; k < liquid->count; k++) {
        const hw_known_dye *dye = hw_known_find(known, liquid->dose[k].dye);
        const hw_dye *kept = hw_shelf_find(shelf, liquid->dose[k].dye);
        if (!dye || !kept) {
            continue;
        }
        hw_used_dye *used = &out[count++];
        *used = (hw_used_dye){.family = dye->family,
                              .tool = kept->tool,
                              .density = {dye->density[0], dye->density[1], dye->density[2]},
                              .exponent = dye->exponent,
                              .u_strength = dye->u_strength,
                              .guess = dye->guess,
                              .made = kept->made};
        hw_copy_text(used->name, sizeof used->name, dye->name);
    }
    return count;
}

hw_status hw_steps_jar_dyes(const hw_job *job, const hw_shelf *shelf, hw_jar_event *jar,
                            hw_error *err)
{
    hw_known known = {0};
    hw_status status = hw_tone_learn(shelf, hw_job_id(job), wood_of(job), &known, err);
    if (status == HW_OK) {
        jar->dye_count = hw_steps_used_dyes(shelf, &known, &jar->liquid, jar->dye);
    }
    hw_known_free(&known);
    return status;
}

// What lay there before that place of the log, without the pass that is event `itself` (0: it is none yet).
static double laid_before(const hw_job *job, const char *patch, const char *dye, long place,
                          long itself)
{
    double sum = 0.0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        const hw_pass_event *pass = &event->of.pass;
        if (event->number == itself || !hw_job_pass_lies(job, event, patch, place)) {
            continue;
        }
        for (size_t k = 0; k < pass->liquid.count; k++) {
            bool is_it = strcmp(pass->liquid.dose[k].dye, dye) == 0;
            sum += is_it ? pass->passes * pass->liquid.dose[k].strength : 0.0;
        }
    }
    return sum;
}

static hw_status forecast_patch(const hw_job *job, const hw_shelf *shelf, long itself,
                                hw_pass_event *pass, const char *patch, hw_error *err)
{
    hw_lab wood;
    hw_known known = {0};
    hw_laid laid[HW_LIQUID_DYES_MAX];
    long place = pass->before_photo > 0 ? pass->before_photo : itself > 0 ? itself : LONG_MAX;
    if (!hw_job_first_colour(job, patch, &wood)) {
        return HW_OK;
    }
    hw_status status = hw_tone_learn(shelf, hw_job_id(job), wood, &known, err);
    if (status != HW_OK) {
        return status;
    }
    pass->dye_count = hw_steps_used_dyes(shelf, &known, &pass->liquid, pass->dye);
    for (size_t k = 0; k < pass->liquid.count; k++) {
        const hw_dose *dose = &pass->liquid.dose[k];
        laid[k] = (hw_laid){.before = laid_before(job, patch, dose->dye, place, itself)};
        hw_laid_add(&laid[k], dose, pass->passes);
        hw_copy_text(laid[k].dye, sizeof laid[k].dye, dose->dye);
        if (pass->jar > 0) {
            hw_job_jar_key(job, pass->jar, laid[k].jar);
        }
    }
    if (pass->dye_count == pass->liquid.count) { // else nothing can be expected
        hw_forecast *forecast = &pass->forecast[pass->forecast_count++];
        hw_copy_text(forecast->patch, sizeof forecast->patch, patch);
        hw_tone_expect(&known, laid, pass->liquid.count, forecast->density, &forecast->covariance);
    }
    hw_known_free(&known);
    return HW_OK;
}

hw_status hw_steps_forecast_again(const hw_job *job, const hw_shelf *shelf, long number,
                                  hw_pass_event *pass, hw_error *err)
{
    pass->forecast = hw_alloc_array(pass->patch_count, sizeof *pass->forecast);
    hw_status status = pass->forecast ? HW_OK : hw_fail_memory(err, "logging the pass");
    for (size_t i = 0; status == HW_OK && i < pass->patch_count; i++) {
        status = forecast_patch(job, shelf, number, pass, pass->patches[i], err);
    }
    return status;
}

hw_status hw_steps_forecast(const hw_job *job, const hw_shelf *shelf, hw_pass_event *pass,
                            hw_error *err)
{
    return hw_steps_forecast_again(job, shelf, 0, pass, err);
}
