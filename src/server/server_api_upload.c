// server_api_upload.c: the addresses under /api/uploads: photos that are in no job yet, opened, marked, read.
#include "server_routes.h"
#include "server_upload.h"

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
hw_status server_take_marks(const hw_server *server, const server_request *request, hw_marks *out,
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

static hw_status refuse_from(hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "body-member", "from",
                   "Send \"from\" as front, left or right.", "there is no such side");
}

hw_status server_take_from(const hw_json *body, hw_from *out, hw_error *err)
{
    const char *name = NULL;
    hw_status status = server_take_text(body, "from", false, &name, err);
    if (status == HW_OK && name && name[0] && !hw_from_from_name(name, out)) {
        status = refuse_from(err);
    }
    return status;
}

hw_status server_take_card_lab(const hw_json *body, bool *has, hw_lab *out, hw_error *err)
{
    const hw_json *list = hw_json_member(body, "card_lab");
    double value[3] = {0.0, 0.0, 0.0};
    size_t count = 0;
    *has = list && !hw_json_is_null(list);
    for (const hw_json *item = *has ? hw_json_first(list) : NULL; item; item = hw_json_next(item)) {
        count += count < 3 && hw_json_number(item, &value[count]) ? 1 : 4;
    }
    *out = (hw_lab){value[0], value[1], value[2]};
    return !*has || (count == 3 && hw_card_can_be(*out))
               ? HW_OK
               : hw_fail(err, HW_ERR_CALL, "body-member", "card_lab",
                         "Send \"card_lab\" as [L, a, b].", "it is no colour of a grey card");
}

// The upload that the address names: api/uploads/ID
hw_status server_take_upload(hw_server *server, const server_request *request, server_upload *out,
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
    hw_json_add_text(told, "upload", one->id);
    server_upload_add(told, one);
}

hw_status server_run_upload(hw_server *server, const server_request *request, server_answer *answer,
                            hw_error *err)
{
    const char *name = server_query(request, "name"), *job = server_query(request, "job");
    const char *view = server_query(request, "view");
    server_upload one = {.at = request->now};
    hw_status status = job && job[0] ? server_job_last(server, job, &one.seen, err) : HW_OK;
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
void server_upload_drop(hw_server *server, const char *id)
{
    server_opened_forget(server, id);
    server_upload_remove(server, id);
}

hw_status server_run_upload_gone(hw_server *server, const server_request *request,
                                 server_answer *answer, hw_error *err)
{
    server_upload one;
    hw_status status = server_take_upload(server, request, &one, err);
    if (status != HW_OK) {
        return status;
    }
    server_bench_take(server);
    server_upload_drop(server, one.id);
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
static hw_status add_reading(hw_server *server, const hw_opened *photo,
                             const hw_bench_request *wanted, int64_t now, hw_json *root,
                             hw_error *err)
{
    hw_json *reading = NULL, *refusal = NULL;
    hw_error why = {0};
    char *text = NULL;
    hw_status status = read_tree(server, photo, wanted, now, &reading, &why);
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
                             const hw_bench_request *wanted, int64_t now, server_answer *answer,
                             hw_error *err)
{
    hw_json *root = hw_json_new_object();
    add_upload(root, one);
    add_photo(root, hw_photo_facts_of(photo->photo));
    server_add_marks(root, &photo->marks);
    add_placed(root, photo);
    add_question(root, photo, &photo->marks);
    hw_status status = add_reading(server, photo, wanted, now, root, err);
    if (status != HW_OK) {
        hw_json_free(root);
        return status;
    }
    return server_answer_tree(answer, root, err);
}

// ?lamp=&from=
static hw_status query_light(const server_request *request, hw_bench_request *out, hw_error *err)
{
    const char *from = server_query(request, "from");
    out->lamp = server_query(request, "lamp");
    return !from || !from[0] || hw_from_from_name(from, &out->from) ? HW_OK : refuse_from(err);
}

hw_status server_run_opened(hw_server *server, const server_request *request, server_answer *answer,
                            hw_error *err)
{
    server_upload one;
    const hw_opened *photo = NULL;
    hw_bench_request wanted = {.marks = NULL};
    hw_status status = server_take_upload(server, request, &one, err);
    if (status == HW_OK) {
        status = query_light(request, &wanted, err);
    }
    if (status != HW_OK) {
        return status;
    }
    server_bench_take(server);
    status = server_opened_get(server, &one, wanted.from, true, request->now, &photo, err);
    if (status == HW_OK) {
        status = tell_opened(server, &one, photo, &wanted, request->now, answer, err);
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

// One that nobody works at is only decoded: a strip of small pictures must not push the others off the bench.
static hw_status decode_upload(hw_server *server, const server_upload *one, hw_photo **out,
                               hw_error *err)
{
    char path[SERVER_PATH_SIZE];
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_status status = server_upload_path(server, one->id, path, err);
    if (status == HW_OK) {
        status = hw_file_read(path, server->limits.file_bytes, &bytes, &count, err);
    }
    if (status == HW_OK) {
        status = hw_photo_decode(bytes, count, one->name, &server->limits, out, err);
    }
    hw_free(bytes);
    return status;
}

hw_status server_run_upload_picture(hw_server *server, const server_request *request,
                                    server_answer *answer, hw_error *err)
{
    server_upload one;
    hw_photo *decoded = NULL;
    size_t longest;
    hw_status status = server_take_upload(server, request, &one, err);
    if (status == HW_OK) {
        status = server_query_longest(request, &longest, err);
    }
    if (status != HW_OK) {
        return status;
    }
    server_bench_take(server);
    const hw_opened *opened = server_opened_find(server, one.id);
    if (!opened) {
        status = decode_upload(server, &one, &decoded, err);
    }
    if (status == HW_OK) {
        status =
            server_answer_picture(answer, opened ? opened->photo : decoded, NULL, longest, err);
        answer->cacheable = true;
    }
    hw_photo_free(decoded);
    server_bench_leave(server);
    return status;
}

// ---- Marks on it -------------------------------------------------------------------

// A photo that is to be read with marks, alone or with more of the same state.
typedef struct being_read {
    server_upload one;
    server_more more;
    char path[SERVER_PATH_SIZE];
    hw_marks marks;
    hw_lab card_lab;
    hw_bench_request wanted;
} being_read;

static hw_status take_reading(hw_server *server, const server_request *request, being_read *of,
                              hw_error *err)
{
    hw_bench_request *wanted = &of->wanted;
    bool has_card_lab = false;
    hw_status status = server_take_upload(server, request, &of->one, err);
    if (status == HW_OK) {
        status = server_take_text(request->json, "lamp", false, &wanted->lamp, err);
    }
    if (status == HW_OK) {
        status = server_take_from(request->json, &wanted->from, err);
    }
    if (status == HW_OK) {
        status = server_take_card_lab(request->json, &has_card_lab, &of->card_lab, err);
        wanted->card_lab = has_card_lab ? &of->card_lab : NULL;
    }
    if (status == HW_OK) {
        status = server_take_more(server, request, &of->more, err);
        wanted->more_paths = of->more.paths;
        wanted->more_called = of->more.called;
        wanted->more_count = of->more.count;
    }
    if (status == HW_OK) {
        status = server_more_all_here(&of->more, err);
    }
    if (status == HW_OK) {
        status = server_upload_path(server, of->one.id, of->path, err);
        wanted->path = of->path;
    }
    if (status == HW_OK) {
        status = server_take_marks(server, request, &of->marks, err);
        wanted->marks = &of->marks;
    }
    return status;
}

hw_status server_run_upload_reading(hw_server *server, const server_request *request,
                                    server_answer *answer, hw_error *err)
{
    const hw_opened *photo = NULL;
    hw_json *root = NULL;
    being_read *of = hw_alloc_array(1, sizeof *of);
    server_bench_take(server); // from here on none of its photos goes
    hw_status status =
        of ? take_reading(server, request, of, err) : hw_fail_memory(err, "reading the photo");
    if (status == HW_OK) {
        status =
            server_opened_get(server, &of->one, of->wanted.from, false, request->now, &photo, err);
    }
    if (status == HW_OK) {
        status = read_tree(server, photo, &of->wanted, request->now, &root, err);
    }
    if (status == HW_OK) {
        add_question(root, photo, &of->marks);
    }
    server_bench_leave(server);
    if (of) {
        hw_marks_free(&of->marks);
    }
    hw_free(of);
    return status == HW_OK ? server_answer_tree(answer, root, err) : status;
}

hw_status server_run_upload_around(hw_server *server, const server_request *request,
                                   server_answer *answer, hw_error *err)
{
    server_upload one;
    hw_marks marks = {0}, spots = {0};
    const hw_opened *photo = NULL;
    const char *patch = NULL;
    hw_status status = server_take_upload(server, request, &one, err);
    if (status == HW_OK) {
        status = server_take_text(request->json, "patch", true, &patch, err);
    }
    if (status == HW_OK) {
        status = server_take_marks(server, request, &marks, err);
    }
    server_bench_take(server);
    if (status == HW_OK) {
        status = server_opened_get(server, &one, HW_FROM_UNSAID, false, request->now, &photo, err);
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
