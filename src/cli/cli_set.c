// cli_set.c: what holds for the whole job, said once; and the questions about it that are put to a person at the
// terminal, once a job.
#include "cli_internal.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

// ---- Options -----------------------------------------------------------------------

static hw_status refuse_over(const char *text, hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "coats-over", text,
                   "Write --over all (repairs and old wood), repairs, or not_known.",
                   "it does not say what the clear coats go over");
}

// A whole number of clear coats; written only where it is one.
static bool parse_coats(const char *text, int *out)
{
    double count;
    if (!hw_parse_number(text, false, &count) || count != floor(count) || count < 0.0 ||
        count > HW_COATS_MOST) {
        return false;
    }
    *out = (int)count;
    return true;
}

// --coats and --over: both, or not_known alone.
static hw_status take_coats(const cli_call *call, hw_setting_event *setting, hw_error *err)
{
    const char *over = cli_value(call, "over"), *coats = cli_value(call, "coats");
    if (!over && !coats) {
        return HW_OK;
    }
    if (over && !hw_coats_over_from_name(over, &setting->coats_over)) {
        return refuse_over(over, err);
    }
    if (coats && !parse_coats(coats, &setting->coats)) {
        return hw_fail(err, HW_ERR_CALL, "setting-value", coats,
                       "Give how many clear coats still come, as 2, or 0 for none.",
                       "this is no number of coats");
    }
    if (setting->coats_over == HW_COATS_UNSAID && coats && setting->coats == 0) {
        setting->coats_over = HW_COATS_ALL; // none come: over nothing
    }
    if (setting->coats_over == HW_COATS_UNSAID) {
        return refuse_over("--coats", err);
    }
    if (setting->coats_over != HW_COATS_NOT_KNOWN && !coats) {
        return hw_fail(err, HW_ERR_CALL, "setting-value", "--over",
                       "Write how many with --coats N.", "it does not say how many coats come");
    }
    return HW_OK;
}

static hw_status take_areas(const cli_call *call, hw_setting_event *setting, hw_error *err)
{
    size_t at = 0;
    setting->areas = hw_alloc_array(cli_count_of(call, "area"), sizeof *setting->areas);
    hw_status status = setting->areas ? HW_OK : hw_fail_memory(err, "reading the command line");
    for (const char *text; status == HW_OK && (text = cli_next_value(call, "area", &at)) != NULL;) {
        hw_part_area *area = &setting->areas[setting->area_count];
        const char *value = NULL;
        status = cli_split("area", text, true, area->part, sizeof area->part, &value, err);
        if (status == HW_OK) {
            status = hw_parse_area(value, &area->cm2, err);
        }
        setting->area_count += status == HW_OK;
    }
    return status;
}

static hw_status take_setting(const cli_call *call, hw_setting_event *setting, hw_error *err)
{
    const char *card = cli_value(call, "card-size"), *per_pass = cli_value(call, "per-pass");
    const char *recoat = cli_value(call, "recoat");
    hw_status status = take_coats(call, setting, err);
    if (status == HW_OK && recoat) {
        status = hw_parse_minutes(recoat, &setting->recoat_minutes, err);
    }
    if (status == HW_OK && card) {
        status = hw_parse_sides(card, setting->card_mm, err);
    }
    if (status == HW_OK && per_pass) {
        status = hw_parse_volume(per_pass, &setting->ml_m2, err);
    }
    return status == HW_OK ? take_areas(call, setting, err) : status;
}

// ---- Asked once --------------------------------------------------------------------

static hw_status log_answer(const cli_call *call, hw_setting_event setting, hw_error *err)
{
    hw_event event = {.kind = HW_EVENT_SETTING, .of.setting = setting};
    hw_log_request request = {.folder = call->operand[0], .event = &event};
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    hw_status status = hw_steps_log(&request, NULL, call->now, &job, &warnings, err);
    hw_job_free(job);
    return status;
}

static bool coats_from_answer(const char *answer, hw_setting_event *out)
{
    return strcmp(answer, "none") == 0 || parse_coats(answer, &out->coats);
}

static bool over_from_answer(const char *answer, hw_setting_event *out)
{
    return hw_coats_over_from_name(answer, &out->coats_over) &&
           out->coats_over != HW_COATS_NOT_KNOWN;
}

static bool card_from_answer(const char *answer, hw_setting_event *out)
{
    hw_error ignored = {0};
    return hw_parse_sides(answer, out->card_mm, &ignored) == HW_OK;
}

typedef enum answered { ANSWERED, SKIPPED, NOT_UNDERSTOOD } answered;

// Asks, once more where the answer is none.
static answered ask(const char *question, bool (*take)(const char *answer, hw_setting_event *out),
                    hw_setting_event *out)
{
    char answer[80];
    for (int turn = 0; turn < 2; turn++) {
        if (!cli_ask(question, "not known", answer, sizeof answer)) {
            return SKIPPED;
        }
        if (take(answer, out)) {
            return ANSWERED;
        }
        fputs(turn ? "Not understood: nothing noted.\n" : "Not understood. ", stderr);
    }
    return NOT_UNDERSTOOD;
}

// What is skipped is noted as not known, so that it is not asked again; what was not understood is not noted at all.
static hw_status ask_coats(const cli_call *call, hw_error *err)
{
    hw_setting_event setting = {0};
    answered answer = ask("Once for this job: how many clear coats still come? 2, or none",
                          coats_from_answer, &setting);
    if (answer == ANSWERED && setting.coats > 0) {
        answer = ask("What do they go over: all (repairs and old wood) or repairs (those only)?",
                     over_from_answer, &setting);
    } else if (answer == ANSWERED) {
        setting.coats_over = HW_COATS_ALL;
    }
    if (answer == SKIPPED) {
        setting = (hw_setting_event){.coats_over = HW_COATS_NOT_KNOWN};
    }
    return answer == NOT_UNDERSTOOD ? HW_OK : log_answer(call, setting, err);
}

static hw_status ask_card(const cli_call *call, hw_error *err)
{
    hw_setting_event setting = {0};
    answered answer = ask("Once for this job: the grey card's sides, as 86x54mm? They tell the "
                          "areas, so how much to mix.",
                          card_from_answer, &setting);
    setting.card_not_known = answer == SKIPPED;
    return answer == NOT_UNDERSTOOD ? HW_OK : log_answer(call, setting, err);
}

hw_status cli_ask_settings(const cli_call *call, hw_error *err)
{
    hw_job *job = NULL;
    if (!cli_can_ask(call)) {
        return HW_OK;
    }
    hw_status status = hw_steps_history(call->operand[0], NULL, &job, err);
    if (status != HW_OK) {
        return status;
    }
    hw_job_settings said = hw_job_settings_now(job);
    bool photographed = hw_job_last_photo(job, NULL) != NULL;
    hw_job_free(job);
    if (photographed && said.coats_over == HW_COATS_UNSAID) {
        status = ask_coats(call, err);
    }
    if (status == HW_OK && photographed && !said.card_asked) {
        status = ask_card(call, err);
    }
    return status;
}

// ---- set ---------------------------------------------------------------------------

hw_status cli_run_set(cli_call *call, hw_error *err)
{
    hw_event event = {.kind = HW_EVENT_SETTING};
    hw_status status = take_setting(call, &event.of.setting, err);
    if (status == HW_OK) {
        status = cli_log_event(call, &event, err);
    }
    hw_free(event.of.setting.areas);
    return status;
}
