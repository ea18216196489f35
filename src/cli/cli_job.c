// cli_job.c: the commands that work on a job folder.
#include "cli_internal.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

// ---- start -------------------------------------------------------------------------

static hw_status start_from(const cli_call *call, hw_error *err)
{
    hw_start_request request = {.folder = call->operand[0],
                                .title = cli_value(call, "title"),
                                .from = cli_value(call, "from"),
                                .shelf_path = cli_value(call, "shelf")};
    hw_carried carried = {0};
    char *text = NULL;
    hw_status status = hw_steps_start_from(&request, NULL, call->now, &carried, err);
    bool silent = cli_has(call, "quiet") && !cli_has(call, "json");
    if (status == HW_OK && !silent) {
        status = cli_has(call, "json") ? hw_report_carried_json(&carried, &text, err)
                                       : hw_report_carried_text(&carried, &text, err);
        status = status == HW_OK ? cli_print(text, err) : status;
    }
    hw_carried_free(&carried);
    return status;
}

hw_status cli_run_start(cli_call *call, hw_error *err)
{
    if (cli_has(call, "from")) {
        return start_from(call, err);
    }
    const char *folder = call->operand[0], *title = cli_value(call, "title");
    hw_text text = {0};
    char *json = NULL;
    hw_status status = hw_steps_start(folder, title, call->now, err);
    if (status != HW_OK) {
        return status;
    }
    if (cli_has(call, "json")) {
        status = hw_report_start_json(folder, title ? title : "", &json, err);
        return status == HW_OK ? cli_print(json, err) : status;
    }
    if (cli_has(call, "quiet")) {
        return HW_OK;
    }
    hw_text_add(
        &text,
        "Started the job in %s.\nNext: photograph the repair and the old wood with the grey "
        "card beside them, and add the photo:\n  huewright photo JOB FILE --card R --target "
        "NAME=R --patch NAME=R\n",
        folder);
    if (text.failed) {
        hw_text_free(&text);
        return hw_fail_memory(err, "writing the answer");
    }
    return cli_print(text.bytes, err);
}

// ---- photo -------------------------------------------------------------------------

static hw_status print_photo(const cli_call *call, const hw_photo_result *result, hw_error *err)
{
    hw_photo_news news = hw_photo_result_news(result);
    hw_report_style style = cli_style(call);
    char *text = NULL;
    hw_status status = cli_has(call, "json")
                           ? hw_report_photo_json(&news, &result->reading, &text, err)
                           : hw_report_photo_text(&news, &result->reading, &style, &text, err);
    return status == HW_OK ? cli_print(text, err) : status;
}

// "Not dry" as people type it.
static bool state_from_answer(char *answer, hw_state *state)
{
    for (char *at = answer; *at; at++) {
        *at = *at == ' ' || *at == '-' ? '_' : *at >= 'A' && *at <= 'Z' ? (char)(*at + 32) : *at;
    }
    return hw_state_from_name(answer, state) && *state != HW_STATE_UNKNOWN;
}

// Asks what is on the repairs, where that is not known. An answer that is none is asked for once more.
static hw_status ask_states(const cli_call *call, hw_photo_request *request, hw_part_state **states,
                            hw_error *err)
{
    hw_question question = {0};
    char answer[40];
    hw_state state;
    if (!cli_can_ask(call)) {
        return HW_OK;
    }
    hw_status status = hw_steps_question(request, NULL, &question, err);
    if (status != HW_OK || !question.asked) {
        return status;
    }
    char usual[80] = "not said";
    if (question.last != HW_STATE_UNKNOWN) {
        hw_format_text(usual, sizeof usual, "as before, %s", hw_state_name(question.last));
    }
    for (int turn = 0;; turn++) {
        if (!cli_ask(question.words, usual, answer, sizeof answer)) {
            return HW_OK;
        }
        if (state_from_answer(answer, &state)) {
            break;
        }
        if (turn > 0) {
            fputs("Not understood: nothing noted.\n", stderr);
            return HW_OK;
        }
        fputs("Not understood. ", stderr);
    }
    size_t count = request->state_count + question.part_count;
    hw_part_state *grown = hw_resize_array(*states, count, sizeof *grown);
    if (!grown) {
        return hw_fail_memory(err, "taking the answer");
    }
    *states = grown;
    for (size_t i = 0; i < question.part_count; i++) {
        hw_part_state *one = &grown[request->state_count++];
        hw_copy_text(one->part, sizeof one->part, question.part[i]);
        one->state = state;
    }
    request->states = grown;
    return HW_OK;
}

hw_status cli_run_photo(cli_call *call, hw_error *err)
{
    hw_part_state *states = NULL;
    hw_photo_result result = {0};
    hw_photo_request request = {.folder = call->operand[0],
                                .view = cli_value(call, "view"),
                                .lamp = cli_value(call, "lamp"),
                                .note = cli_value(call, "note"),
                                .all_dry = cli_has(call, "dry"),
                                .knows_clock = call->knows_clock,
                                .clock_s = call->clock_s,
                                .shelf_path = cli_value(call, "shelf")};
    const char *marks_paths[HW_SHOTS_MOST] = {0};
    hw_status status = cli_shots_request(call, call->operand + 1, call->operand_count - 1,
                                         marks_paths, &request.read, err);
    if (status != HW_OK) {
        return status;
    }
    status = cli_take_from(cli_value(call, "from"), &request.read.from, err);
    if (status == HW_OK) {
        status = cli_take_states(call, &states, &request.state_count, err);
    }
    if (status == HW_OK) {
        request.states = states;
        status = ask_states(call, &request, &states, err);
    }
    if (status == HW_OK) {
        status = hw_steps_photo(&request, NULL, call->now, &result, err);
    }
    if (status != HW_OK && cli_ask_card(call, err)) {
        request.read.is_the_card = true;
        status = hw_steps_photo(&request, NULL, call->now, &result, err);
    }
    if (status == HW_OK) {
        status = print_photo(call, &result, err);
    }
    hw_photo_result_free(&result);
    hw_marks_free(&request.read.marks);
    hw_free(states);
    return status;
}

// ---- advise ------------------------------------------------------------------------

static bool nothing_to_lay(const hw_day *result)
{
    for (size_t i = 0; i < result->count; i++) {
        if (result->advice[i].has_next) {
            return false;
        }
    }
    return true;
}

// 1, 2 or 3 families in one plan; 0 when it is not said.
static bool take_families(const cli_call *call, int *out, hw_error *err)
{
    const char *text = cli_value(call, "families");
    if (text && (strlen(text) != 1 || text[0] < '1' || text[0] > '3')) {
        hw_status refused = hw_fail(err, HW_ERR_CALL, "option-value", text,
                                    "Write --families 1, 2 or 3; two is usual.",
                                    "this is no number of dye families for one plan");
        return refused == HW_OK;
    }
    *out = text ? text[0] - '0' : 0;
    return true;
}

hw_status cli_run_advise(cli_call *call, hw_error *err)
{
    hw_advise_request request = {.folder = call->operand[0],
                                 .patch = cli_value(call, "patch"),
                                 .shelf_path = cli_value(call, "shelf")};
    hw_day result = {0};
    char *text = NULL;
    if (!take_families(call, &request.families_most, err)) {
        return HW_ERR_CALL;
    }
    const char *volume = cli_value(call, "volume");
    hw_status status = volume ? hw_parse_volume(volume, &request.volume_ml, err) : HW_OK;
    if (status == HW_OK) {
        status = cli_ask_settings(call, err);
    }
    if (status == HW_OK) {
        status = hw_steps_advise(&request, NULL, call->now, &result, err);
    }
    if (status != HW_OK) {
        return status;
    }
    if (cli_has(call, "json")) {
        status = hw_report_advice_json(&result, &text, err);
    } else {
        hw_report_style style = cli_style(call);
        status = hw_report_advice_text(&result, &style, &text, err);
    }
    if (status == HW_OK) {
        call->answer_is_no = nothing_to_lay(&result);
        status = cli_print(text, err);
    }
    hw_day_free(&result);
    return status;
}

// ---- pass --------------------------------------------------------------------------

// Fills the event; its patches are freed by the caller with hw_free.
static hw_status pass_from_options(const cli_call *call, hw_pass_event *pass, hw_error *err)
{
    pass->passes = 1;
    pass->minutes = (double)NAN;
    hw_status status = cli_take_names(call, "patch", &pass->patches, &pass->patch_count, err);
    if (status == HW_OK) {
        status = cli_take_text(call, "note", pass->note, sizeof pass->note, err);
    }
    if (status == HW_OK) {
        status = cli_take_doses(call, &pass->liquid, err);
    }
    if (status == HW_OK) {
        status = cli_take_event(call, "jar", "jar-unknown", &pass->jar, err);
    }
    if (status == HW_OK && (pass->liquid.count > 0) == (pass->jar > 0)) {
        status = hw_fail(err, HW_ERR_CALL, "dye-missing", "pass",
                         "Write --dye DYE=STRENGTH, or --jar N for a mixed one.",
                         pass->jar > 0 ? "it names a jar and dyes; the jar says what is in it"
                                       : "it does not say what was laid");
    }
    if (status == HW_OK) {
        status = cli_take_passes(call, &pass->passes, err);
    }
    if (status == HW_OK) {
        status = cli_take_event(call, "before-photo", "photo-unknown", &pass->before_photo, err);
    }
    if (status == HW_OK) {
        status = cli_take_number(call, "minutes", &pass->minutes, err);
    }
    return status == HW_OK ? cli_take_number(call, "hours", &pass->hours, err) : status;
}

// What is known of the job's jars. Nothing where one's own shelf cannot be read: the log is told all the same.
static hw_status take_jars(const cli_call *call, const hw_job *job, hw_known *out, hw_error *err)
{
    hw_error ignored = {0};
    const char *shelf = cli_value(call, "shelf");
    hw_status status = hw_steps_jars(job, shelf, NULL, out, shelf ? err : &ignored);
    return shelf ? status : HW_OK;
}

static hw_status print_pass(const cli_call *call, const hw_job *job, const hw_warnings *warnings,
                            hw_error *err)
{
    const hw_event *event = hw_job_event(job, hw_job_event_count(job) - 1);
    char *text = NULL;
    if (cli_has(call, "quiet") && !cli_has(call, "json")) {
        return HW_OK;
    }
    hw_known known = {0};
    bool json = cli_has(call, "json"); // tells nothing of the jar's own strength
    hw_status status = !json && event->of.pass.jar > 0 ? take_jars(call, job, &known, err) : HW_OK;
    if (status == HW_OK) {
        status = json ? hw_report_logged_json(job, event, warnings, &text, err)
                      : hw_report_pass_text(job, event, &known, warnings, &text, err);
    }
    hw_known_free(&known);
    return status == HW_OK ? cli_print(text, err) : status;
}

hw_status cli_run_pass(cli_call *call, hw_error *err)
{
    hw_pass_request request = {.folder = call->operand[0], .shelf_path = cli_value(call, "shelf")};
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    hw_status status = pass_from_options(call, &request.pass, err);
    if (status == HW_OK) {
        status = hw_steps_pass(&request, NULL, call->now, &job, &warnings, err);
    }
    if (status == HW_OK) {
        status = print_pass(call, job, &warnings, err);
    }
    hw_job_free(job);
    hw_free(request.pass.patches);
    return status;
}

// ---- history -----------------------------------------------------------------------

hw_status cli_run_history(cli_call *call, hw_error *err)
{
    hw_job *job = NULL;
    hw_known known = {0};
    char *text = NULL;
    hw_status status = hw_steps_history(call->operand[0], NULL, &job, err);
    if (status == HW_OK) {
        status = take_jars(call, job, &known, err);
    }
    if (status == HW_OK) {
        status = cli_has(call, "json") ? hw_report_history_json(job, &known, &text, err)
                                       : hw_report_history_text(job, &known, &text, err);
    }
    if (status == HW_OK) {
        status = cli_print(text, err);
    }
    hw_known_free(&known);
    hw_job_free(job);
    return status;
}

// ---- lamps -------------------------------------------------------------------------

hw_status cli_run_lamps(cli_call *call, hw_error *err)
{
    hw_job *job = NULL;
    char *text = NULL;
    const char *patch = cli_value(call, "patch");
    hw_report_style style = cli_style(call);
    hw_status status = hw_steps_lamps(call->operand[0], patch, NULL, &job, err);
    if (status == HW_OK) {
        status = cli_has(call, "json") ? hw_report_lamps_json(job, patch, &text, err)
                                       : hw_report_lamps_text(job, patch, &style, &text, err);
    }
    if (status == HW_OK) {
        status = cli_print(text, err);
    }
    hw_job_free(job);
    return status;
}
