// cli_log.c: what was done and said beside passes and photos, and corrections.
#include "cli_internal.h"

#include <string.h>

static hw_status print_logged(const cli_call *call, const hw_job *job, const hw_event *event,
                              const hw_warnings *warnings, hw_error *err)
{
    char *text = NULL;
    if (cli_has(call, "quiet") && !cli_has(call, "json")) {
        return HW_OK;
    }
    hw_status status = cli_has(call, "json")
                           ? hw_report_logged_json(job, event, warnings, &text, err)
                           : hw_report_logged_text(event, warnings, &text, err);
    return status == HW_OK ? cli_print(text, err) : status;
}

hw_status cli_log_event(const cli_call *call, const hw_event *event, hw_error *err)
{
    hw_log_request request = {
        .folder = call->operand[0], .event = event, .shelf_path = cli_value(call, "shelf")};
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    hw_status status = hw_steps_log(&request, NULL, call->now, &job, &warnings, err);
    if (status == HW_OK) {
        const hw_event *last = hw_job_event(job, hw_job_event_count(job) - 1);
        status = print_logged(call, job, last, &warnings, err);
    }
    hw_job_free(job);
    return status;
}

// ---- coat, takeoff -----------------------------------------------------------------

hw_status cli_run_coat(cli_call *call, hw_error *err)
{
    hw_event event = {.kind = HW_EVENT_COAT_LAID};
    hw_coat_event *coat = &event.of.coat;
    hw_status status = hw_steps_take_coat(call->operand[1], &coat->coat, err);
    if (status == HW_OK) {
        status = cli_take_names(call, "part", &coat->parts, &coat->part_count, err);
    }
    if (status == HW_OK) {
        status = cli_take_text(call, "note", coat->note, sizeof coat->note, err);
    }
    if (status == HW_OK) {
        status = cli_take_event(call, "before-photo", "photo-unknown", &coat->before_photo, err);
    }
    if (status == HW_OK) {
        status = cli_take_number(call, "hours", &coat->hours, err);
    }
    if (status == HW_OK) {
        status = cli_log_event(call, &event, err);
    }
    hw_free(coat->parts);
    return status;
}

// --wiped or --stripped; NULL: neither.
static hw_status take_how(const cli_call *call, const char **out, hw_error *err)
{
    bool wiped = cli_has(call, "wiped"), stripped = cli_has(call, "stripped");
    *out = wiped ? "wiped" : stripped ? "stripped" : NULL;
    return wiped && stripped
               ? hw_fail(err, HW_ERR_CALL, "takeoff-how", "taking off",
                         "Write --wiped or --stripped.", "it was wiped back or stripped, not both")
               : HW_OK;
}

hw_status cli_run_takeoff(cli_call *call, hw_error *err)
{
    hw_event event = {.kind = HW_EVENT_TAKEN_OFF};
    hw_takeoff_event *takeoff = &event.of.takeoff;
    const char *how = NULL;
    hw_status status = take_how(call, &how, err);
    if (status == HW_OK && !how) {
        status = hw_fail(err, HW_ERR_CALL, "takeoff-how", "taking off",
                         "Write --wiped (toner, down to the last coat) or --stripped (everything, "
                         "down to the wood).",
                         "it does not say how much was taken off");
    }
    if (status != HW_OK) {
        return status;
    }
    takeoff->stripped = strcmp(how, "stripped") == 0;
    status = cli_take_names(call, "part", &takeoff->parts, &takeoff->part_count, err);
    if (status == HW_OK) {
        status = cli_take_text(call, "note", takeoff->note, sizeof takeoff->note, err);
    }
    if (status == HW_OK) {
        status = cli_take_event(call, "before-photo", "photo-unknown", &takeoff->before_photo, err);
    }
    if (status == HW_OK) {
        status = cli_take_number(call, "hours", &takeoff->hours, err);
    }
    if (status == HW_OK) {
        status = cli_log_event(call, &event, err);
    }
    hw_free(takeoff->parts);
    return status;
}

// ---- jar, note, approve ------------------------------------------------------------

// A jar's number is the answer itself: it is told even when quiet.
static hw_status print_jar(const cli_call *call, const hw_job *job, const hw_mix *mix,
                           const hw_warnings *warnings, hw_error *err)
{
    const hw_event *last = hw_job_event(job, hw_job_event_count(job) - 1);
    const hw_mix *mixed = mix->volume_ml > 0.0 ? mix : NULL;
    char *text = NULL;
    hw_status status = cli_has(call, "json")
                           ? hw_report_jar_json(job, last, mixed, warnings, &text, err)
                           : hw_report_jar_text(last, mixed, warnings, &text, err);
    return status == HW_OK ? cli_print(text, err) : status;
}

static hw_status log_jar(const cli_call *call, const hw_event *event, hw_error *err)
{
    hw_log_request request = {
        .folder = call->operand[0], .event = event, .shelf_path = cli_value(call, "shelf")};
    hw_job *job = NULL;
    hw_mix mix;
    hw_warnings warnings = {0};
    hw_status status = hw_steps_log_jar(&request, NULL, call->now, &job, &mix, &warnings, err);
    if (status == HW_OK) {
        status = print_jar(call, job, &mix, &warnings, err);
    }
    hw_job_free(job);
    return status;
}

hw_status cli_run_jar(cli_call *call, hw_error *err)
{
    hw_event event = {.kind = HW_EVENT_JAR_MIXED};
    const char *volume = cli_value(call, "volume");
    hw_status status = cli_take_doses(call, &event.of.jar.liquid, err);
    if (status == HW_OK && event.of.jar.liquid.count == 0) {
        status = hw_fail(err, HW_ERR_CALL, "dye-missing", "jar", "Write --dye DYE=STRENGTH.",
                         "it does not say what is in it");
    }
    if (status == HW_OK) {
        status = cli_take_text(call, "note", event.of.jar.note, sizeof event.of.jar.note, err);
    }
    if (status == HW_OK && volume) {
        status = hw_parse_volume(volume, &event.of.jar.volume_ml, err);
    }
    return status == HW_OK ? log_jar(call, &event, err) : status;
}

hw_status cli_run_note(cli_call *call, hw_error *err)
{
    hw_event event = {.kind = HW_EVENT_NOTE};
    hw_note_event *note = &event.of.note;
    hw_status status = cli_copy("the note", call->operand[1], note->text, sizeof note->text, err);
    if (status == HW_OK) {
        status = cli_take_text(call, "part", note->part, sizeof note->part, err);
    }
    if (status == HW_OK) {
        status = cli_take_number(call, "hours", &note->hours, err);
    }
    return status == HW_OK ? cli_log_event(call, &event, err) : status;
}

hw_status cli_run_approve(cli_call *call, hw_error *err)
{
    hw_event event = {.kind = HW_EVENT_APPROVAL};
    hw_approval_event *approval = &event.of.approval;
    if (!cli_has(call, "by") || !cli_has(call, "lamp")) {
        return hw_fail(err, HW_ERR_CALL, "approval-by", "approve",
                       "Write --by WHO and --lamp L: a colour is right under the lamp that it was "
                       "looked at.",
                       "it does not say %s", cli_has(call, "by") ? "under which lamp" : "who");
    }
    hw_status status = cli_take_text(call, "by", approval->by, sizeof approval->by, err);
    if (status == HW_OK) {
        status = cli_take_text(call, "lamp", approval->lamp, sizeof approval->lamp, err);
    }
    if (status == HW_OK) {
        status = cli_take_text(call, "note", approval->note, sizeof approval->note, err);
    }
    return status == HW_OK ? cli_log_event(call, &event, err) : status;
}

// ---- fix ---------------------------------------------------------------------------

// Beside nothing but what may stand everywhere, and the shelf.
static bool stands_alone(const cli_call *call)
{
    static const char *const beside[] = {"rename", "json", "quiet", "shelf"};
    size_t known = 0;
    for (size_t i = 0; i < sizeof beside / sizeof *beside; i++) {
        known += cli_has(call, beside[i]);
    }
    return call->operand_count == 1 && call->given_count == known;
}

static hw_status rename_part(cli_call *call, hw_error *err)
{
    char was[HW_NAME_SIZE];
    hw_rename_request request = {
        .folder = call->operand[0], .was = was, .shelf_path = cli_value(call, "shelf")};
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    if (!stands_alone(call)) {
        return hw_fail(err, HW_ERR_CALL, "fix-member", "--rename",
                       "Give it alone: --rename OLD=NEW.",
                       "a part is renamed for the whole job, beside nothing else");
    }
    hw_status status =
        cli_split("rename", cli_value(call, "rename"), false, was, sizeof was, &request.part, err);
    if (status == HW_OK) {
        status = hw_steps_rename(&request, NULL, call->now, &job, &warnings, err);
    }
    if (status == HW_OK) {
        const hw_event *last = hw_job_event(job, hw_job_event_count(job) - 1);
        status = print_logged(call, job, last, &warnings, err);
    }
    hw_job_free(job);
    return status;
}

// 0 is said on purpose: it was done where it stands.
static hw_status take_before_photo(const cli_call *call, hw_fix_request *request, hw_error *err)
{
    const char *text = cli_value(call, "before-photo");
    request->sets_before_photo = text != NULL;
    if (!text || strcmp(text, "0") == 0) {
        return HW_OK;
    }
    return cli_parse_event(text, "photo-unknown", &request->before_photo, err);
}

static hw_status fix_from_options(const cli_call *call, hw_fix_request *request,
                                  char (**parts)[HW_NAME_SIZE], hw_part_state **states,
                                  hw_error *err)
{
    hw_status status = take_how(call, &request->how, err);
    if (status == HW_OK) {
        status = cli_parse_event(call->operand[1], "event-unknown", &request->event, err);
    }
    if (status == HW_OK) {
        status = cli_take_names(call, "part", parts, &request->part_count, err);
        request->parts = (const char(*)[HW_NAME_SIZE]) * parts;
    }
    if (status == HW_OK) {
        status = cli_take_states(call, states, &request->state_count, err);
        request->states = *states;
    }
    if (status == HW_OK) {
        status = cli_take_doses(call, &request->liquid, err);
    }
    if (status == HW_OK) {
        status = cli_take_event(call, "jar", "jar-unknown", &request->jar, err);
    }
    if (status == HW_OK && cli_has(call, "volume")) {
        status = hw_parse_volume(cli_value(call, "volume"), &request->volume_ml, err);
    }
    if (status == HW_OK) {
        status = cli_take_passes(call, &request->passes, err);
    }
    if (status == HW_OK && cli_value(call, "passes") && request->passes == 0) {
        status = hw_fail(err, HW_ERR_CALL, "pass-count", "the passes",
                         "When it did not happen, write --withdraw.", "0 passes are no pass");
    }
    if (status == HW_OK) {
        request->sets_minutes = cli_has(call, "minutes");
        status = cli_take_number(call, "minutes", &request->minutes, err);
    }
    if (status == HW_OK) {
        request->sets_hours = cli_has(call, "hours");
        status = cli_take_number(call, "hours", &request->hours, err);
    }
    return status == HW_OK ? take_before_photo(call, request, err) : status;
}

static hw_status print_fixed(const cli_call *call, const hw_job *job, long number,
                             const hw_warnings *warnings, hw_error *err)
{
    const hw_event *event = hw_job_event_numbered(job, number);
    char *text = NULL;
    if (event) {
        return print_logged(call, job, event, warnings, err);
    }
    if (cli_has(call, "quiet") && !cli_has(call, "json")) {
        return HW_OK;
    }
    hw_status status = cli_has(call, "json")
                           ? hw_report_logged_json(job, NULL, warnings, &text, err)
                           : hw_report_unchanged_text(warnings, &text, err);
    return status == HW_OK ? cli_print(text, err) : status;
}

static hw_status fix_event(cli_call *call, hw_error *err)
{
    hw_fix_request request = {.folder = call->operand[0],
                              .withdraw = cli_has(call, "withdraw"),
                              .title = cli_value(call, "title"),
                              .note = cli_value(call, "note"),
                              .view = cli_value(call, "view"),
                              .from = cli_value(call, "from"),
                              .lamp = cli_value(call, "lamp"),
                              .by = cli_value(call, "by"),
                              .coat = cli_value(call, "coat"),
                              .marks_path = cli_value(call, "marks"),
                              .shelf_path = cli_value(call, "shelf")};
    char(*parts)[HW_NAME_SIZE] = NULL;
    hw_part_state *states = NULL;
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    long number = 0;
    hw_status status = fix_from_options(call, &request, &parts, &states, err);
    if (status == HW_OK) {
        status = cli_take_card_lab(call, &request.has_card_lab, &request.card_lab, err);
    }
    if (status == HW_OK) {
        status = hw_steps_fix(&request, NULL, call->now, &job, &number, &warnings, err);
    }
    if (status == HW_OK) {
        status = print_fixed(call, job, number, &warnings, err);
    }
    hw_job_free(job);
    hw_free(parts);
    hw_free(states);
    return status;
}

hw_status cli_run_fix(cli_call *call, hw_error *err)
{
    if (cli_has(call, "rename")) {
        return rename_part(call, err);
    }
    if (call->operand_count < 2) {
        return hw_fail(err, HW_ERR_CALL, "event-unknown", "fix",
                       "Give its number as huewright history shows it, or --rename OLD=NEW.",
                       "it does not say which event");
    }
    return fix_event(call, err);
}
