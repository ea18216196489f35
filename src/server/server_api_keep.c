// server_api_keep.c: a photo that came goes into a job, or teaches dyes to the shelf; then the upload is gone.
#include "server_routes.h"
#include "server_upload.h"

#include <time.h>

// ---- Kept --------------------------------------------------------------------------

// A photo on its way into a job.
typedef struct keeping {
    char folder[SERVER_PATH_SIZE], path[SERVER_PATH_SIZE];
    server_upload one;
    server_more more; // of the same state, kept with it
    hw_photo_request wanted;
    hw_part_state *states;
} keeping;

static hw_status take_states(const hw_json *body, hw_part_state **out, size_t *count, hw_error *err)
{
    const hw_json *list = hw_json_member(body, "states");
    hw_status status = server_check_list(list, "states", err);
    if (status != HW_OK) {
        return status;
    }
    *out = hw_alloc_array(hw_json_count(list) + 1, sizeof **out);
    if (!*out) {
        return hw_fail_memory(err, "reading what was sent");
    }
    *count = 0;
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        hw_part_state *state = &(*out)[(*count)++];
        const char *part = hw_json_member_text(item, "part");
        if (!part || !hw_copy_text(state->part, sizeof state->part, part) ||
            !hw_state_from_name(hw_json_member_text(item, "state"), &state->state)) {
            return hw_fail(err, HW_ERR_CALL, "body-member", "states",
                           "Send \"states\" as a list of {\"part\",\"state\"}.",
                           "one of them is no state of a part");
        }
    }
    return HW_OK;
}

static hw_status take_words(const server_request *request, keeping *keep, hw_error *err)
{
    const hw_json *body = request->json;
    hw_photo_request *wanted = &keep->wanted;
    hw_status status = server_take_entry(body, &wanted->entry, err);
    if (status == HW_OK) {
        status = server_take_text(body, "view", false, &wanted->view, err);
    }
    if (status == HW_OK) {
        status = server_take_text(body, "lamp", false, &wanted->lamp, err);
    }
    if (status == HW_OK) {
        status = server_take_text(body, "note", false, &wanted->note, err);
    }
    if (status == HW_OK) {
        status = server_take_from(body, &wanted->read.from, err);
    }
    if (status == HW_OK) {
        status =
            server_take_card_lab(body, &wanted->read.has_card_lab, &wanted->read.card_lab, err);
    }
    if (status == HW_OK) {
        status = take_states(body, &keep->states, &wanted->state_count, err);
        wanted->states = keep->states;
    }
    if (status == HW_OK) {
        status = server_take_whole(body, "seen", false, 0, &wanted->seen, err);
    }
    (void)hw_json_bool(hw_json_member(body, "all_dry"), &wanted->all_dry);
    return status;
}

// Cameras write the time of the clock on the wall: that of this computer, which is where the phone is.
static bool clock_ahead(int64_t now, int64_t *ahead_s)
{
    time_t time_now = (time_t)now;
    struct tm local;
    char iso[32];
    int64_t on_the_wall;
    bool known = localtime_r(&time_now, &local) &&
                 strftime(iso, sizeof iso, "%Y-%m-%dT%H:%M:%SZ", &local) > 0 &&
                 hw_parse_time(iso, &on_the_wall);
    *ahead_s = known ? on_the_wall - now : 0;
    return known;
}

static hw_status take_keeping(hw_server *server, const server_request *request, keeping *keep,
                              hw_error *err)
{
    const char *job = NULL;
    hw_photo_request *wanted = &keep->wanted;
    hw_status status = server_take_text(request->json, "job", true, &job, err);
    if (status == HW_OK) {
        status = server_find_job(server, job, keep->folder, err);
    }
    if (status == HW_OK) {
        status = take_words(request, keep, err);
    }
    if (status == HW_OK) {
        status = server_take_marks(server, request, &wanted->read.marks, err);
    }
    if (status == HW_OK && wanted->read.marks.count == 0) {
        status = hw_fail(err, HW_ERR_CALL, "marks-missing", keep->one.name,
                         "Mark the card, old wood and the repair.", "nothing is marked on it");
    }
    wanted->folder = keep->folder;
    wanted->shelf_path = server_shelf_path(server);
    wanted->read.now = request->now;
    wanted->knows_clock = clock_ahead(request->now, &wanted->clock_s);
    return status;
}

// As it was read on the screen: by the card's colour that the job knows, and followed marks count as followed.
static hw_status take_bench(hw_server *server, keeping *keep, hw_error *err)
{
    hw_photo_request *wanted = &keep->wanted;
    hw_job *job = NULL;
    wanted->view = wanted->view ? wanted->view : keep->one.view[0] ? keep->one.view : "front";
    const char *view = wanted->view;
    hw_status status = server_upload_path(server, keep->one.id, keep->path, err);
    wanted->read.photo_path = keep->path;
    wanted->read.called = keep->one.name;
    wanted->marks_followed = server_opened_was_followed(server, keep->one.id, view);
    if (status == HW_OK && !wanted->read.has_card_lab) {
        status = hw_job_open(keep->folder, &server->limits, &job, err);
        wanted->read.has_card_lab =
            status == HW_OK &&
            hw_steps_known_card(job, view, wanted->read.from, &wanted->read.card_lab);
    }
    hw_job_free(job);
    return status;
}

// The upload is gone where its photo was kept already and the answer was not heard.
static bool was_kept(const hw_server *server, const keeping *keep)
{
    hw_job *job = NULL;
    hw_error unheard = {0};
    bool was = hw_job_open(keep->folder, &server->limits, &job, &unheard) == HW_OK &&
               hw_job_entry(job, keep->wanted.entry);
    hw_job_free(job);
    return was;
}

// What a person logged since the first of them was sent may not be on it.
static hw_status take_more(hw_server *server, const server_request *request, keeping *keep,
                           hw_error *err)
{
    hw_photo_request *wanted = &keep->wanted;
    hw_status status = server_take_more(server, request, &keep->more, err);
    for (size_t i = 0; i < keep->more.count && status == HW_OK; i++) {
        long seen = keep->more.one[i].seen;
        wanted->seen = seen > 0 && seen < wanted->seen ? seen : wanted->seen;
    }
    wanted->read.more_paths = keep->more.paths;
    wanted->read.more_called = keep->more.called;
    wanted->read.more_count = keep->more.count;
    return status;
}

// One that could not be read is not in the job, and stays. Those that went when the entry was said first are told again.
static void drop_kept(hw_server *server, const server_request *request, const keeping *keep,
                      const hw_photo_result *result, hw_json *kept)
{
    for (size_t i = 0; i <= keep->more.count; i++) {
        const char *id = i == 0 ? keep->one.id : keep->more.one[i - 1].id;
        if (id[0] && result->kept[i]) {
            server_upload_drop(server, id);
            hw_json_add_text(kept, NULL, id);
        }
    }
    if (!keep->one.id[0]) {
        hw_json_add_text(kept, NULL, request->segment[2]);
    }
    for (size_t i = 0; i < keep->more.gone_count; i++) {
        hw_json_add_text(kept, NULL, keep->more.gone[i]);
    }
}

static hw_status answer_kept(hw_server *server, const server_request *request, const keeping *keep,
                             const hw_photo_result *result, server_answer *answer, hw_error *err)
{
    char *json = NULL;
    hw_json *root = NULL;
    hw_photo_news news = hw_photo_result_news(result);
    hw_status status = hw_report_photo_json(&news, &result->reading, &json, err);
    if (status == HW_OK) {
        status = server_open_json(json, &root, err);
    }
    if (status == HW_OK) {
        hw_json_add_number(root, "last", (double)result->last);
        drop_kept(server, request, keep, result, hw_json_add_array(root, "kept"));
        answer->status = 201;
        status = server_answer_tree(answer, root, err);
    }
    return status;
}

// All photos that the request names; those that are here no longer must be in the job.
static hw_status take_photos(hw_server *server, const server_request *request, keeping *keep,
                             hw_error *err)
{
    hw_error gone = {0};
    bool here = server_take_upload(server, request, &keep->one, &gone) == HW_OK;
    if (!here && !was_kept(server, keep)) {
        return hw_fail_as(err, &gone);
    }
    hw_status status = take_more(server, request, keep, err);
    if (status != HW_OK) {
        return status;
    }
    if (!here) {
        keep->one = (server_upload){.id = ""};
        return HW_OK;
    }
    if (server_more_all_here(&keep->more, &gone) != HW_OK && !was_kept(server, keep)) {
        return hw_fail_as(err, &gone);
    }
    return take_bench(server, keep, err);
}

static hw_status keep_photo(hw_server *server, const server_request *request, keeping *keep,
                            server_answer *answer, hw_error *err)
{
    hw_photo_result result = {0};
    hw_status status = take_photos(server, request, keep, err);
    if (status == HW_OK) {
        // A pass that is logged meanwhile waits: before the photo, which does not show it, the dye would seem to do nothing.
        server_log_take(server);
        status = hw_steps_photo(&keep->wanted, server_limits(server), request->now, &result, err);
        server_log_leave(server);
    }
    if (status == HW_OK) {
        status = answer_kept(server, request, keep, &result, answer, err);
    }
    hw_photo_result_free(&result);
    return status;
}

hw_status server_run_upload_keep(hw_server *server, const server_request *request,
                                 server_answer *answer, hw_error *err)
{
    keeping *keep = hw_alloc_array(1, sizeof *keep);
    if (!keep) {
        return hw_fail_memory(err, "keeping the photo");
    }
    hw_status status = take_keeping(server, request, keep, err);
    if (status == HW_OK) {
        server_bench_take(server);
        status = keep_photo(server, request, keep, answer, err);
        server_bench_leave(server);
    }
    hw_marks_free(&keep->wanted.read.marks);
    hw_free(keep->states);
    hw_free(keep);
    return status;
}

// ---- A step board ------------------------------------------------------------------

static hw_status take_dyes(const hw_json *body, const char ***out, size_t *count, hw_error *err)
{
    const hw_json *list = hw_json_member(body, "dyes");
    hw_status status = server_check_list(list, "dyes", err);
    if (status != HW_OK) {
        return status;
    }
    const char **dyes = hw_alloc_array(hw_json_count(list) + 1, sizeof *dyes);
    if (!dyes) {
        return hw_fail_memory(err, "reading what was sent");
    }
    *out = dyes;
    *count = 0;
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        dyes[*count] = hw_json_text(item);
        if (!dyes[(*count)++]) {
            return hw_fail(err, HW_ERR_CALL, "body-member", "dyes",
                           "Send \"dyes\" as a list of NAME=FAMILY.", "one of them is no text");
        }
    }
    return HW_OK;
}

static hw_status take_board(hw_server *server, const server_request *request,
                            hw_stepboard_request *wanted, const char ***dyes, hw_error *err)
{
    const hw_json *body = request->json;
    hw_status status = server_take_entry(body, &wanted->entry, err);
    if (status == HW_OK) {
        status = take_dyes(body, dyes, &wanted->dye_count, err);
    }
    wanted->dye = *dyes;
    if (status == HW_OK) {
        status = server_take_text(body, "tool", false, &wanted->tool, err);
    }
    if (status == HW_OK) {
        status = server_take_text(body, "made", false, &wanted->made, err);
    }
    if (status == HW_OK) {
        status = server_take_text(body, "note", false, &wanted->note, err);
    }
    if (status == HW_OK) {
        status =
            server_take_card_lab(body, &wanted->read.has_card_lab, &wanted->read.card_lab, err);
    }
    return status == HW_OK ? server_take_marks(server, request, &wanted->read.marks, err) : status;
}

// Teaches the shelf, or says again what that entry taught it: the upload is gone then, and the answer was not heard.
static hw_status teach(hw_server *server, const server_request *request,
                       hw_stepboard_request *wanted, hw_taught *taught, hw_error *err)
{
    char path[SERVER_PATH_SIZE];
    server_upload one;
    hw_error gone = {0};
    if (server_take_upload(server, request, &one, &gone) != HW_OK) {
        hw_status said = hw_steps_stepboard_said(wanted, server_limits(server), taught, err);
        return said == HW_OK && !taught->again ? hw_fail_as(err, &gone) : said;
    }
    hw_status status = server_upload_path(server, one.id, path, err);
    if (status == HW_OK) {
        wanted->read.photo_path = path;
        wanted->read.called = one.name;
        wanted->read.now = request->now;
        status = hw_steps_stepboard(wanted, server_limits(server), request->now, taught, err);
    }
    if (status == HW_OK) {
        server_upload_drop(server, one.id);
    }
    return status;
}

static hw_status answer_taught(const hw_taught *taught, server_answer *answer, hw_error *err)
{
    char *json = NULL;
    hw_json *root = NULL;
    hw_status status = hw_report_boards_json(taught->board, taught->dye, taught->change,
                                             taught->count, &taught->warnings, &json, err);
    if (status == HW_OK) {
        status = server_open_json(json, &root, err);
    }
    if (status == HW_OK) {
        if (taught->again) {
            hw_json_add_bool(root, "again", true);
        }
        answer->status = 201;
        status = server_answer_tree(answer, root, err);
    }
    return status;
}

hw_status server_run_upload_stepboard(hw_server *server, const server_request *request,
                                      server_answer *answer, hw_error *err)
{
    const char **dyes = NULL;
    hw_stepboard_request wanted = {.shelf_path = server_shelf_path(server)};
    hw_taught taught = {0};
    hw_status status = take_board(server, request, &wanted, &dyes, err);
    if (status == HW_OK) {
        server_bench_take(server);
        status = teach(server, request, &wanted, &taught, err);
        server_bench_leave(server);
    }
    if (status == HW_OK) {
        status = answer_taught(&taught, answer, err);
    }
    hw_taught_free(&taught);
    hw_marks_free(&wanted.read.marks);
    hw_free(dyes);
    return status;
}
