// server_api_log.c: what a person did or said, logged: passes, coats, takings off, jars, notes, approvals, settings; one of
// them withdrawn, a part renamed. Each is answered with the event that was logged, and "last", the highest number of the log.
#include "server_api.h"
#include "server_routes.h"

#include <math.h>

// ---- The answer --------------------------------------------------------------------

static long last_of(const hw_job *job)
{
    size_t count = hw_job_event_count(job);
    return count > 0 ? hw_job_event(job, count - 1)->number : 0;
}

// What was logged: new, or before by the same entry.
static const hw_event *logged_in(const hw_job *job)
{
    const hw_event *before = hw_job_said_before(job);
    return before ? before : hw_job_event(job, hw_job_event_count(job) - 1);
}

// An entry names one thing that a person did. Where it comes again with another one the device has mixed them up: said, since
// nothing of it was logged.
static hw_status check_again(const hw_job *job, hw_event_kind kind, hw_error *err)
{
    const hw_event *before = hw_job_said_before(job);
    return !before || before->was == kind
               ? HW_OK
               : hw_fail(err, HW_ERR_CALL, "entry-name", "the entry", "Log it once more.",
                         "event %ld was logged for this entry, and is something else",
                         before->number);
}

// Hands a result over with "last" and "again" beside it.
static hw_status answer_logged(server_answer *answer, const hw_job *job, char *json, hw_error *err)
{
    hw_json *tree = NULL;
    hw_status status = server_open_json(json, &tree, err);
    if (status != HW_OK) {
        return status;
    }
    hw_json_add_number(tree, "last", (double)last_of(job));
    if (hw_job_said_before(job)) {
        hw_json_add_bool(tree, "again", true);
    }
    status = server_answer_tree(answer, tree, err);
    answer->status = status == HW_OK ? 201 : 0;
    return status;
}

static hw_status answer_event(server_answer *answer, const hw_job *job, const hw_event *event,
                              const hw_warnings *warnings, hw_error *err)
{
    char *json = NULL;
    hw_status status = hw_report_logged_json(job, event, warnings, &json, err);
    return status == HW_OK ? answer_logged(answer, job, json, err) : status;
}

// ---- A pass ------------------------------------------------------------------------

// What every entry brings: which job, its own name and (`seen` not NULL) what the person had before them.
static hw_status take_head(const hw_server *server, const server_request *request,
                           char folder[SERVER_PATH_SIZE], const char **entry, long *seen,
                           hw_error *err)
{
    hw_status status = server_job_of(server, request, folder, err);
    if (status == HW_OK) {
        status = server_take_entry(request->json, entry, err);
    }
    return status == HW_OK && seen ? server_take_whole(request->json, "seen", false, 0, seen, err)
                                   : status;
}

static hw_status take_pass(const hw_json *body, hw_pass_event *pass, hw_error *err)
{
    long passes = 0;
    pass->minutes = (double)NAN;
    hw_status status =
        server_take_names(body, "patches", true, &pass->patches, &pass->patch_count, err);
    if (status == HW_OK) {
        status = server_take_whole(body, "jar", false, 1, &pass->jar, err);
    }
    if (status == HW_OK) {
        status = server_take_liquid(body, pass->jar == 0, &pass->liquid, err);
    }
    if (status == HW_OK && pass->jar > 0 && pass->liquid.count > 0) {
        status = hw_fail(err, HW_ERR_CALL, "body-member", "jar", "Send \"jar\" or \"liquid\".",
                         "it names a jar and dyes; the jar says what is in it");
    }
    if (status == HW_OK) {
        status = server_take_whole(body, "passes", true, 1, &passes, err);
        pass->passes = passes < 1000 ? (int)passes : 1000; // the steps refuse far fewer
    }
    if (status == HW_OK) {
        status = server_take_number(body, "minutes", false, &pass->minutes, err);
    }
    if (status == HW_OK) {
        status = server_take_number(body, "hours", false, &pass->hours, err);
    }
    if (status == HW_OK) {
        status = server_take_words(body, "note", false, pass->note, sizeof pass->note, err);
    }
    return status == HW_OK
               ? server_take_whole(body, "before_photo", false, 0, &pass->before_photo, err)
               : status;
}

hw_status server_run_pass(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err)
{
    char folder[SERVER_PATH_SIZE];
    hw_pass_request wanted = {.folder = folder, .shelf_path = server_shelf_path(server)};
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    hw_status status = take_head(server, request, folder, &wanted.entry, &wanted.seen, err);
    if (status == HW_OK) {
        status = take_pass(request->json, &wanted.pass, err);
    }
    if (status == HW_OK) {
        server_log_take(server);
        status = hw_steps_pass(&wanted, server_limits(server), request->now, &job, &warnings, err);
        server_log_leave(server);
    }
    if (status == HW_OK) {
        status = check_again(job, HW_EVENT_PASS_LAID, err);
    }
    if (status == HW_OK) {
        status = answer_event(answer, job, logged_in(job), &warnings, err);
    }
    hw_job_free(job);
    hw_free(wanted.pass.patches);
    return status;
}

// ---- Other events ------------------------------------------------------------------

// Logs an event that was taken out of the body.
static hw_status log_event(hw_server *server, const server_request *request, const hw_event *event,
                           server_answer *answer, hw_error *err)
{
    char folder[SERVER_PATH_SIZE], *json = NULL;
    hw_log_request wanted = {
        .folder = folder, .event = event, .shelf_path = server_shelf_path(server)};
    hw_job *job = NULL;
    hw_mix mix = {0};
    hw_warnings warnings = {0};
    hw_status status = take_head(server, request, folder, &wanted.entry, &wanted.seen, err);
    if (status == HW_OK) {
        server_log_take(server);
        status = hw_steps_log_jar(&wanted, server_limits(server), request->now, &job, &mix,
                                  &warnings, err);
        server_log_leave(server);
    }
    if (status == HW_OK) {
        status = check_again(job, event->kind, err);
    }
    if (status == HW_OK && event->kind == HW_EVENT_JAR_MIXED) {
        status = hw_report_jar_json(job, logged_in(job), mix.volume_ml > 0.0 ? &mix : NULL,
                                    &warnings, &json, err);
        status = status == HW_OK ? answer_logged(answer, job, json, err) : status;
    } else if (status == HW_OK) {
        status = answer_event(answer, job, logged_in(job), &warnings, err);
    }
    hw_job_free(job);
    return status;
}

// Hours of work, and a note: what may be said of most that is done.
static hw_status take_work(const hw_json *body, double *hours, char *note, size_t size,
                           hw_error *err)
{
    hw_status status = server_take_number(body, "hours", false, hours, err);
    return status == HW_OK ? server_take_words(body, "note", false, note, size, err) : status;
}

hw_status server_run_coat(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err)
{
    hw_event event = {.kind = HW_EVENT_COAT_LAID};
    hw_coat_event *coat = &event.of.coat;
    const hw_json *body = request->json;
    const char *kind = NULL;
    hw_status status = server_take_text(body, "kind", true, &kind, err);
    if (status == HW_OK) {
        status = hw_steps_take_coat(kind, &coat->coat, err);
    }
    if (status == HW_OK) {
        status = take_work(body, &coat->hours, coat->note, sizeof coat->note, err);
    }
    if (status == HW_OK) {
        status = server_take_names(body, "parts", false, &coat->parts, &coat->part_count, err);
    }
    if (status == HW_OK) {
        status = log_event(server, request, &event, answer, err);
    }
    hw_free(coat->parts);
    return status;
}

static hw_status take_how(const hw_json *body, bool *stripped, hw_error *err)
{
    const char *how = "";
    hw_status status = server_take_text(body, "how", true, &how, err);
    *stripped = strcmp(how, "stripped") == 0;
    if (status == HW_OK && !*stripped && strcmp(how, "wiped") != 0) {
        status = hw_fail(err, HW_ERR_CALL, "takeoff-how", how,
                         "Say wiped (toner, down to the last coat) or stripped (everything, down "
                         "to the wood).",
                         "it does not say how much was taken off");
    }
    return status;
}

hw_status server_run_takeoff(hw_server *server, const server_request *request,
                             server_answer *answer, hw_error *err)
{
    hw_event event = {.kind = HW_EVENT_TAKEN_OFF};
    hw_takeoff_event *takeoff = &event.of.takeoff;
    const hw_json *body = request->json;
    hw_status status = take_how(body, &takeoff->stripped, err);
    if (status == HW_OK) {
        status = take_work(body, &takeoff->hours, takeoff->note, sizeof takeoff->note, err);
    }
    if (status == HW_OK) {
        status = server_take_names(body, "parts", true, &takeoff->parts, &takeoff->part_count, err);
    }
    if (status == HW_OK) {
        status = log_event(server, request, &event, answer, err);
    }
    hw_free(takeoff->parts);
    return status;
}

hw_status server_run_jar(hw_server *server, const server_request *request, server_answer *answer,
                         hw_error *err)
{
    hw_event event = {.kind = HW_EVENT_JAR_MIXED};
    hw_jar_event *jar = &event.of.jar;
    hw_status status = server_take_liquid(request->json, true, &jar->liquid, err);
    if (status == HW_OK) {
        status = server_take_number(request->json, "volume_ml", false, &jar->volume_ml, err);
    }
    if (status == HW_OK) {
        status = server_take_words(request->json, "note", false, jar->note, sizeof jar->note, err);
    }
    return status == HW_OK ? log_event(server, request, &event, answer, err) : status;
}

hw_status server_run_note(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err)
{
    hw_event event = {.kind = HW_EVENT_NOTE};
    hw_note_event *note = &event.of.note;
    hw_status status =
        server_take_words(request->json, "text", true, note->text, sizeof note->text, err);
    if (status == HW_OK) {
        status =
            server_take_words(request->json, "part", false, note->part, sizeof note->part, err);
    }
    if (status == HW_OK) {
        status = server_take_number(request->json, "hours", false, &note->hours, err);
    }
    return status == HW_OK ? log_event(server, request, &event, answer, err) : status;
}

hw_status server_run_approval(hw_server *server, const server_request *request,
                              server_answer *answer, hw_error *err)
{
    hw_event event = {.kind = HW_EVENT_APPROVAL};
    hw_approval_event *approval = &event.of.approval;
    const hw_json *body = request->json;
    hw_status status = server_take_words(body, "by", true, approval->by, sizeof approval->by, err);
    if (status == HW_OK) {
        status = server_take_words(body, "lamp", true, approval->lamp, sizeof approval->lamp, err);
    }
    if (status == HW_OK) {
        status = server_take_words(body, "note", false, approval->note, sizeof approval->note, err);
    }
    return status == HW_OK ? log_event(server, request, &event, answer, err) : status;
}

// ---- What holds for the whole job --------------------------------------------------

// "coats" with "over", or "over" alone where it is not known.
static hw_status take_coats(const hw_json *body, hw_setting_event *setting, hw_error *err)
{
    const char *over = NULL;
    long coats = -1;
    hw_status status = server_take_whole(body, "coats", false, 0, &coats, err);
    if (status == HW_OK) {
        status = server_take_text(body, "over", false, &over, err);
    }
    if (status != HW_OK || (coats < 0 && !over)) {
        return status;
    }
    bool named = over && hw_coats_over_from_name(over, &setting->coats_over);
    if (!over && coats == 0) {
        setting->coats_over = HW_COATS_ALL; // none come: over nothing
    } else if (!named) {
        return hw_fail(err, HW_ERR_CALL, "coats-over", over ? over : "",
                       "Say all (repairs and old wood), repairs, or not_known.",
                       "it does not say what the clear coats go over");
    } else if (coats < 0 && setting->coats_over != HW_COATS_NOT_KNOWN) {
        return hw_fail(err, HW_ERR_CALL, "setting-value", "coats", "Say how many still come.",
                       "it does not say how many coats come");
    }
    setting->coats = coats < 0 ? 0 : coats > HW_COATS_MOST ? HW_COATS_MOST + 1 : (int)coats;
    return HW_OK;
}

// Two sides, or "not_known".
static hw_status take_card(const hw_json *body, hw_setting_event *setting, hw_error *err)
{
    const hw_json *card = hw_json_member(body, "card_mm");
    const char *text = hw_json_text(card);
    if (!card || hw_json_is_null(card)) {
        return HW_OK;
    }
    setting->card_not_known = text && strcmp(text, "not_known") == 0;
    if (setting->card_not_known || (hw_json_is_array(card) && hw_json_count(card) == 2 &&
                                    hw_json_number(hw_json_item(card, 0), &setting->card_mm[0]) &&
                                    hw_json_number(hw_json_item(card, 1), &setting->card_mm[1]))) {
        return HW_OK;
    }
    return hw_fail(err, HW_ERR_CALL, "body-member", "card_mm",
                   "Send \"card_mm\" as two sides in millimetres, or as \"not_known\".",
                   "it is no card's size");
}

static hw_status take_areas(const hw_json *body, hw_setting_event *setting, hw_error *err)
{
    const hw_json *list = hw_json_member(body, "areas");
    hw_status status = server_check_list(list, "areas", err);
    if (status != HW_OK) {
        return status;
    }
    setting->areas = hw_alloc_array(hw_json_count(list), sizeof *setting->areas);
    if (!setting->areas) {
        return hw_fail_memory(err, "reading what was sent");
    }
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        hw_part_area *area = &setting->areas[setting->area_count++];
        status = server_take_words(item, "part", true, area->part, sizeof area->part, err);
        if (status == HW_OK) {
            status = server_take_number(item, "cm2", true, &area->cm2, err);
        }
        if (status != HW_OK) {
            return status;
        }
    }
    return HW_OK;
}

hw_status server_run_setting(hw_server *server, const server_request *request,
                             server_answer *answer, hw_error *err)
{
    hw_event event = {.kind = HW_EVENT_SETTING};
    hw_setting_event *setting = &event.of.setting;
    const hw_json *body = request->json;
    hw_status status = take_coats(body, setting, err);
    if (status == HW_OK) {
        status = server_take_number(body, "recoat_minutes", false, &setting->recoat_minutes, err);
    }
    if (status == HW_OK) {
        status = take_card(body, setting, err);
    }
    if (status == HW_OK) {
        status = server_take_number(body, "ml_m2", false, &setting->ml_m2, err);
    }
    if (status == HW_OK) {
        status = take_areas(body, setting, err);
    }
    if (status == HW_OK) {
        status = log_event(server, request, &event, answer, err);
    }
    hw_free(setting->areas);
    return status;
}

// ---- Put right ---------------------------------------------------------------------

hw_status server_run_withdraw(hw_server *server, const server_request *request,
                              server_answer *answer, hw_error *err)
{
    char folder[SERVER_PATH_SIZE];
    hw_fix_request wanted = {
        .folder = folder, .withdraw = true, .shelf_path = server_shelf_path(server)};
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    long number = 0;
    hw_status status = take_head(server, request, folder, &wanted.entry, NULL, err);
    if (status == HW_OK) {
        status = server_take_whole(request->json, "event", true, 1, &wanted.event, err);
    }
    if (status == HW_OK) {
        server_log_take(server);
        status = hw_steps_fix(&wanted, server_limits(server), request->now, &job, &number,
                              &warnings, err);
        server_log_leave(server);
    }
    if (status == HW_OK) {
        status = check_again(job, HW_EVENT_CORRECTION, err);
    }
    if (status == HW_OK) {
        status = answer_event(answer, job, hw_job_event_numbered(job, number), &warnings, err);
    }
    hw_job_free(job);
    return status;
}

hw_status server_run_rename(hw_server *server, const server_request *request, server_answer *answer,
                            hw_error *err)
{
    char folder[SERVER_PATH_SIZE];
    hw_rename_request wanted = {.folder = folder, .shelf_path = server_shelf_path(server)};
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    hw_status status = take_head(server, request, folder, &wanted.entry, NULL, err);
    if (status == HW_OK) {
        status = server_take_text(request->json, "was", true, &wanted.was, err);
    }
    if (status == HW_OK) {
        status = server_take_text(request->json, "part", true, &wanted.part, err);
    }
    if (status == HW_OK) {
        server_log_take(server);
        status =
            hw_steps_rename(&wanted, server_limits(server), request->now, &job, &warnings, err);
        server_log_leave(server);
    }
    if (status == HW_OK) {
        status = check_again(job, HW_EVENT_PART_NAMED, err);
    }
    if (status == HW_OK) {
        status = answer_event(answer, job, logged_in(job), &warnings, err);
    }
    hw_job_free(job);
    return status;
}
