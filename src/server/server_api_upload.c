// server_api_upload.c: the addresses under /api/uploads: photos that are in no job yet, opened, marked, read, kept.
#include "server_routes.h"
#include "server_upload.h"

#include <time.h>

#define LONGEST_USUAL 1600 // pixels of a picture's longer side, where none is asked for
#define LONGEST_MOST  4096

// ---- Values ------------------------------------------------------------------------

hw_status server_query_longest(const server_request *request, size_t *out, hw_error *err)
{
    long longest = LONGEST_USUAL;
    hw_status status = server_query_whole(request, "longest", 16, &longest, err);
    *out = longest < LONGEST_MOST ? (size_t)longest : LONGEST_MOST;
    return status;
}

// The marks of a body, as a marks file has them; `picture` may be missing.
static hw_status take_marks(const hw_server *server, const server_request *request, hw_marks *out,
                            hw_error *err)
{
    hw_warnings unheard = {0};
    hw_error why = {0};
    hw_status status =
        hw_marks_from_tree(request->json, "marks", &server->limits, out, &unheard, &why);
    if (status == HW_ERR_INPUT) { // no file of a person's, but the page's own words
        why.status = HW_ERR_CALL;
    }
    return status == HW_OK ? HW_OK : hw_fail_as(err, &why);
}

static hw_status take_from(const hw_json *body, hw_from *out, hw_error *err)
{
    const char *name = NULL;
    hw_status status = server_take_text(body, "from", false, &name, err);
    if (status == HW_OK && name && name[0] && !hw_from_from_name(name, out)) {
        status = hw_fail(err, HW_ERR_CALL, "body-member", "from",
                         "Send \"from\" as front, left or right.", "there is no such side");
    }
    return status;
}

static hw_status take_card_lab(const hw_json *body, bool *has, hw_lab *out, hw_error *err)
{
    const hw_json *list = hw_json_member(body, "card_lab");
    double value[3] = {0.0, 0.0, 0.0};
    size_t count = 0;
    *has = list && !hw_json_is_null(list);
    for (const hw_json *item = *has ? hw_json_first(list) : NULL; item; item = hw_json_next(item)) {
        count += count < 3 && hw_json_number(item, &value[count]) ? 1 : 4;
    }
    *out = (hw_lab){value[0], value[1], value[2]};
    return !*has || count == 3 ? HW_OK
                               : hw_fail(err, HW_ERR_CALL, "body-member", "card_lab",
                                         "Send \"card_lab\" as [L, a, b].", "it is no colour");
}

// The upload that the address names: api/uploads/ID
static hw_status take_upload(hw_server *server, const server_request *request, server_upload *out,
                             hw_error *err)
{
    return server_upload_find(server, request->segment[2], out, err);
}

// ---- Coming in, going --------------------------------------------------------------

// A file's own name, without folders and what moves a cursor.
static void clean_name(char *out, size_t size, const char *from)
{
    const char *own = from;
    for (const char *at = from; *at; at++) {
        own = *at == '/' || *at == '\\' ? at + 1 : own;
    }
    hw_copy_text(out, size, own[0] ? own : "photo");
    for (char *at = out; *at; at++) {
        *at = (unsigned char)*at < 0x20 || *at == 0x7f ? '?' : *at;
    }
}

static void add_upload(hw_json *told, const server_upload *one)
{
    char at[40];
    hw_format_time(at, one->at);
    hw_json_add_text(told, "upload", one->id);
    hw_json_add_text(told, "name", one->name);
    hw_json_add_text(told, "job", one->job);
    hw_json_add_text(told, "view", one->view);
    hw_json_add_number(told, "bytes", (double)one->bytes);
    hw_json_add_text(told, "at", at);
}

hw_status server_run_upload(hw_server *server, const server_request *request, server_answer *answer,
                            hw_error *err)
{
    const char *name = server_query(request, "name"), *job = server_query(request, "job");
    const char *view = server_query(request, "view");
    char folder[SERVER_PATH_SIZE];
    server_upload one = {.at = request->now};
    hw_status status = job && job[0] ? server_find_job(server, job, folder, err) : HW_OK;
    if (status == HW_OK && view && view[0] && !hw_name_is_usable(view)) {
        status = hw_fail(err, HW_ERR_CALL, "view-name", view,
                         "Use a short plain name, as front or left side.",
                         "this cannot be the name of a view");
    }
    if (status == HW_OK && request->body_bytes == 0) {
        status = hw_fail(err, HW_ERR_INPUT, "photo-empty", "", "Choose the photo again.",
                         "an empty file came");
    }
    clean_name(one.name, sizeof one.name, name ? name : "");
    hw_copy_text(one.job, sizeof one.job, job ? job : "");
    hw_copy_text(one.view, sizeof one.view, view ? view : "");
    if (status == HW_OK) {
        status = server_upload_take(server, request->body_path, &one, err);
    }
    if (status != HW_OK) {
        return status;
    }
    hw_json *root = hw_json_new_object();
    add_upload(root, &one);
    answer->status = 201;
    return server_answer_tree(answer, root, err);
}

hw_status server_run_uploads(hw_server *server, const server_request *request,
                             server_answer *answer, hw_error *err)
{
    server_upload *all = NULL;
    size_t count;
    (void)request;
    hw_status status = server_upload_list(server, &all, &count, err);
    if (status != HW_OK) {
        return status;
    }
    hw_json *root = hw_json_new_object(), *list = hw_json_add_array(root, "uploads");
    for (size_t i = 0; i < count; i++) {
        add_upload(hw_json_add_object(list, NULL), &all[i]);
    }
    hw_free(all);
    return server_answer_tree(answer, root, err);
}

// From the disk and from the bench.
static void drop(hw_server *server, const char *id)
{
    server_opened_forget(server, id);
    server_upload_remove(server, id);
}

hw_status server_run_upload_gone(hw_server *server, const server_request *request,
                                 server_answer *answer, hw_error *err)
{
    server_upload one;
    hw_status status = take_upload(server, request, &one, err);
    if (status != HW_OK) {
        return status;
    }
    server_bench_take(server);
    drop(server, one.id);
    server_bench_leave(server);
    hw_json *root = hw_json_new_object();
    hw_json_add_bool(root, "gone", true);
    return server_answer_tree(answer, root, err);
}

// ---- Opened ------------------------------------------------------------------------

static void add_photo(hw_json *root, const hw_photo_facts *facts)
{
    hw_json *told = hw_json_add_object(root, "photo");
    hw_json_add_text(told, "file", facts->file);
    hw_json_add_number(told, "width", (double)facts->width_px);
    hw_json_add_number(told, "height", (double)facts->height_px);
    hw_json_add_text(told, "format", facts->format ? facts->format : "");
    hw_json_add_text(told, "camera", facts->camera);
    hw_json_add_text(told, "taken", facts->taken);
    hw_json *warnings = hw_json_add_array(told, "warnings");
    for (size_t i = 0; i < facts->warnings.count; i++) {
        hw_json_add_text(warnings, NULL, facts->warnings.text[i]);
    }
}

void server_add_marks(hw_json *root, const hw_marks *marks)
{
    hw_json *tree = hw_marks_tree(marks);
    hw_json_add_tree(root, "marks", hw_json_copy(hw_json_member(tree, "marks")));
    hw_json_free(tree);
}

static void add_placed(hw_json *root, const hw_opened *photo)
{
    hw_json *placed = hw_json_add_object(root, "placed");
    hw_placed card = photo->card == HW_PLACED_AS_IT_LAY ? HW_PLACED_SURE : photo->card;
    hw_json_add_text(placed, "wood",
                     photo->wood == HW_PLACED_SURE ? "carried" : hw_placed_name(photo->wood));
    hw_json_add_text(placed, "card", hw_placed_name(card));
    hw_json_add_text(placed, "why", photo->why);
    hw_json *warnings = hw_json_add_array(root, "warnings");
    for (size_t i = 0; i < photo->warnings.count; i++) {
        hw_json_add_text(warnings, NULL, photo->warnings.text[i]);
    }
}

static void add_question(hw_json *root, const hw_opened *photo, const hw_marks *marks)
{
    hw_question question;
    hw_steps_open_ask(photo, marks, &question);
    if (!question.asked) {
        hw_json_add_null(root, "ask");
        return;
    }
    hw_json *ask = hw_json_add_object(root, "ask");
    hw_json_add_text(ask, "words", question.words);
    hw_json *parts = hw_json_add_array(ask, "parts");
    for (size_t i = 0; i < question.part_count; i++) {
        hw_json_add_text(parts, NULL, question.part[i]);
    }
    if (question.last != HW_STATE_UNKNOWN) {
        hw_json_add_text(ask, "last", hw_state_name(question.last));
    }
}

static hw_status read_tree(hw_server *server, const hw_opened *photo,
                           const hw_bench_request *wanted, int64_t now, hw_json **out,
                           hw_error *err)
{
    hw_reading reading = {0};
    hw_status status = hw_steps_open_read(photo, wanted, server_limits(server), now, &reading, err);
    if (status == HW_OK) {
        status = hw_report_shown_tree(&reading, out, err);
    }
    hw_reading_free(&reading);
    return status;
}

// What the proposed marks read, or why they cannot be read.
static hw_status add_reading(hw_server *server, const hw_opened *photo, int64_t now, hw_json *root,
                             hw_error *err)
{
    hw_json *reading = NULL, *refusal = NULL;
    hw_error why = {0};
    char *text = NULL;
    hw_bench_request wanted = {.marks = NULL};
    hw_status status = read_tree(server, photo, &wanted, now, &reading, &why);
    if (status == HW_OK) {
        hw_json_add_tree(root, "reading", reading);
        hw_json_add_null(root, "error");
        return HW_OK;
    }
    if (status == HW_ERR_STORAGE) {
        return hw_fail_as(err, &why);
    }
    status = hw_report_error_json(&why, &text, err);
    if (status == HW_OK) {
        status = server_open_json(text, &refusal, err);
    }
    if (status == HW_OK) {
        hw_json_add_null(root, "reading");
        hw_json_add_tree(root, "error", hw_json_copy(hw_json_member(refusal, "error")));
    }
    hw_json_free(refusal);
    return status;
}

static hw_status tell_opened(hw_server *server, const server_upload *one, const hw_opened *photo,
                             int64_t now, server_answer *answer, hw_error *err)
{
    hw_json *root = hw_json_new_object();
    add_upload(root, one);
    add_photo(root, hw_photo_facts_of(photo->photo));
    server_add_marks(root, &photo->marks);
    add_placed(root, photo);
    add_question(root, photo, &photo->marks);
    hw_status status = add_reading(server, photo, now, root, err);
    if (status != HW_OK) {
        hw_json_free(root);
        return status;
    }
    return server_answer_tree(answer, root, err);
}

hw_status server_run_opened(hw_server *server, const server_request *request, server_answer *answer,
                            hw_error *err)
{
    server_upload one;
    const hw_opened *photo = NULL;
    hw_status status = take_upload(server, request, &one, err);
    if (status != HW_OK) {
        return status;
    }
    server_bench_take(server);
    status = server_opened_get(server, &one, request->now, &photo, err);
    if (status == HW_OK) {
        status = tell_opened(server, &one, photo, request->now, answer, err);
    }
    server_bench_leave(server);
    return status;
}

hw_status server_answer_picture(server_answer *answer, const hw_photo *photo, const hw_light *light,
                                size_t longest, hw_error *err)
{
    hw_shown shown = {0};
    hw_status status = hw_steps_open_picture(photo, light, longest, &shown, err);
    if (status == HW_OK) {
        status = hw_report_shown_jpeg(&shown, &answer->body, &answer->count, err);
        answer->type = "image/jpeg";
    }
    hw_shown_free(&shown);
    return status;
}

hw_status server_run_upload_picture(hw_server *server, const server_request *request,
                                    server_answer *answer, hw_error *err)
{
    server_upload one;
    const hw_opened *photo = NULL;
    size_t longest;
    hw_status status = take_upload(server, request, &one, err);
    if (status == HW_OK) {
        status = server_query_longest(request, &longest, err);
    }
    if (status != HW_OK) {
        return status;
    }
    server_bench_take(server);
    status = server_opened_get(server, &one, request->now, &photo, err);
    if (status == HW_OK) {
        status = server_answer_picture(answer, photo->photo, NULL, longest, err);
        answer->cacheable = true;
    }
    server_bench_leave(server);
    return status;
}

// ---- Marks on it -------------------------------------------------------------------

hw_status server_run_upload_reading(hw_server *server, const server_request *request,
                                    server_answer *answer, hw_error *err)
{
    server_upload one;
    hw_marks marks = {0};
    hw_lab card_lab;
    bool has_card_lab = false;
    hw_bench_request wanted = {.marks = &marks};
    const hw_opened *photo = NULL;
    hw_json *root = NULL;
    hw_status status = take_upload(server, request, &one, err);
    if (status == HW_OK) {
        status = server_take_text(request->json, "lamp", false, &wanted.lamp, err);
    }
    if (status == HW_OK) {
        status = take_from(request->json, &wanted.from, err);
    }
    if (status == HW_OK) {
        status = take_card_lab(request->json, &has_card_lab, &card_lab, err);
        wanted.card_lab = has_card_lab ? &card_lab : NULL;
    }
    if (status == HW_OK) {
        status = take_marks(server, request, &marks, err);
    }
    server_bench_take(server);
    if (status == HW_OK) {
        status = server_opened_get(server, &one, request->now, &photo, err);
    }
    if (status == HW_OK) {
        status = read_tree(server, photo, &wanted, request->now, &root, err);
    }
    if (status == HW_OK) {
        add_question(root, photo, &marks);
    }
    server_bench_leave(server);
    hw_marks_free(&marks);
    return status == HW_OK ? server_answer_tree(answer, root, err) : status;
}

hw_status server_run_upload_around(hw_server *server, const server_request *request,
                                   server_answer *answer, hw_error *err)
{
    server_upload one;
    hw_marks marks = {0}, spots = {0};
    const hw_opened *photo = NULL;
    const char *patch = NULL;
    hw_status status = take_upload(server, request, &one, err);
    if (status == HW_OK) {
        status = server_take_text(request->json, "patch", true, &patch, err);
    }
    if (status == HW_OK) {
        status = take_marks(server, request, &marks, err);
    }
    server_bench_take(server);
    if (status == HW_OK) {
        status = server_opened_get(server, &one, request->now, &photo, err);
    }
    if (status == HW_OK) {
        status = hw_steps_open_ring(photo, &marks, patch, &spots, err);
    }
    server_bench_leave(server);
    if (status == HW_OK) {
        hw_json *root = hw_json_new_object();
        server_add_marks(root, &spots);
        status = server_answer_tree(answer, root, err);
    }
    hw_marks_free(&marks);
    hw_marks_free(&spots);
    return status;
}

// ---- Kept --------------------------------------------------------------------------

// A photo on its way into a job.
typedef struct keeping {
    char folder[SERVER_PATH_SIZE], path[SERVER_PATH_SIZE];
    server_upload one;
    hw_photo_request wanted;
    hw_part_state *states;
} keeping;

static hw_status take_states(const hw_json *body, hw_part_state **out, size_t *count, hw_error *err)
{
    const hw_json *list = hw_json_member(body, "states");
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
        status = take_from(body, &wanted->read.from, err);
    }
    if (status == HW_OK) {
        status = take_card_lab(body, &wanted->read.has_card_lab, &wanted->read.card_lab, err);
    }
    if (status == HW_OK) {
        status = take_states(body, &keep->states, &wanted->state_count, err);
        wanted->states = keep->states;
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
        status = take_marks(server, request, &wanted->read.marks, err);
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
static hw_status take_bench(hw_server *server, const server_request *request, keeping *keep,
                            hw_error *err)
{
    hw_photo_request *wanted = &keep->wanted;
    const hw_opened *photo = NULL;
    hw_status status = server_upload_path(server, keep->one.id, keep->path, err);
    wanted->read.photo_path = keep->path;
    wanted->read.called = keep->one.name;
    if (status == HW_OK) {
        status = server_opened_get(server, &keep->one, request->now, &photo, err);
    }
    if (status == HW_OK) {
        const char *view = wanted->view ? wanted->view : "front";
        wanted->marks_followed = photo->wood >= HW_PLACED_SURE && strcmp(view, photo->view) == 0;
    }
    if (status == HW_OK && !wanted->read.has_card_lab && photo->has_card_lab) {
        wanted->read.has_card_lab = true;
        wanted->read.card_lab = photo->card_lab;
    }
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

static hw_status answer_kept(const hw_photo_result *result, server_answer *answer, hw_error *err)
{
    char *json = NULL;
    hw_json *root = NULL;
    hw_photo_news news = {.number = result->number,
                          .again = result->again,
                          .marks_reused = result->marks_reused,
                          .marks_carried = result->marks_carried,
                          .correlation = result->correlation,
                          .moved_px = result->moved_px,
                          .error_px = result->error_px,
                          .warnings = &result->warnings};
    hw_status status = hw_report_photo_json(&news, &result->reading, &json, err);
    if (status == HW_OK) {
        status = server_open_json(json, &root, err);
    }
    if (status == HW_OK) {
        hw_json_add_number(root, "last", (double)result->last);
        answer->status = 201;
        status = server_answer_tree(answer, root, err);
    }
    return status;
}

static hw_status keep_photo(hw_server *server, const server_request *request, keeping *keep,
                            server_answer *answer, hw_error *err)
{
    hw_photo_result result = {0};
    hw_error gone = {0};
    hw_status status = take_upload(server, request, &keep->one, &gone);
    if (status == HW_OK) {
        status = take_bench(server, request, keep, err);
    } else {
        status = was_kept(server, keep) ? HW_OK : hw_fail_as(err, &gone);
    }
    if (status == HW_OK) {
        server_log_take(server);
        status = hw_steps_photo(&keep->wanted, server_limits(server), request->now, &result, err);
        server_log_leave(server);
    }
    if (status == HW_OK) {
        drop(server, keep->one.id);
        status = answer_kept(&result, answer, err);
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
    hw_status status = take_dyes(body, dyes, &wanted->dye_count, err);
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
        status = take_card_lab(body, &wanted->read.has_card_lab, &wanted->read.card_lab, err);
    }
    return status == HW_OK ? take_marks(server, request, &wanted->read.marks, err) : status;
}

hw_status server_run_upload_stepboard(hw_server *server, const server_request *request,
                                      server_answer *answer, hw_error *err)
{
    char path[SERVER_PATH_SIZE], *json = NULL;
    const char **dyes = NULL;
    server_upload one;
    hw_stepboard_request wanted = {.shelf_path = server_shelf_path(server)};
    hw_stepboard_result result = {0};
    hw_status status = take_upload(server, request, &one, err);
    if (status == HW_OK) {
        status = server_upload_path(server, one.id, path, err);
    }
    if (status == HW_OK) {
        status = take_board(server, request, &wanted, &dyes, err);
    }
    if (status == HW_OK) {
        wanted.read.photo_path = path;
        wanted.read.called = one.name;
        wanted.read.now = request->now;
        server_bench_take(server);
        status = hw_steps_stepboard(&wanted, server_limits(server), request->now, &result, err);
        if (status == HW_OK) {
            drop(server, one.id);
        }
        server_bench_leave(server);
    }
    if (status == HW_OK) {
        status = hw_report_boards_json(result.board, result.dye, result.change, result.count,
                                       &result.warnings, &json, err);
    }
    if (status == HW_OK) {
        answer->status = 201;
        server_answer_json(answer, json);
    }
    hw_stepboard_result_free(&result);
    hw_marks_free(&wanted.read.marks);
    hw_free(dyes);
    return status;
}
