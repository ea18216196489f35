// server_api_job.c: one job: started, shown as it stands, its history, all of it as one file.
#include "server_api.h"
#include "server_routes.h"

#include <sys/stat.h>

// ---- A folder's name ---------------------------------------------------------------

typedef struct letters {
    uint32_t from, to;
} letters;

// Letters that a folder's name may have on any disk: Latin, Greek and Cyrillic, kana, Chinese characters, Hangul. (Unicode
// 15, Blocks.txt; within Latin-1 the two signs are no letters.) What is written from right to left or combines is left out:
// such names can look alike and be two.
static bool is_letter(uint32_t c)
{
    static const letters known[] = {
        {'0', '9'},       {'a', 'z'},       {0xc0, 0xd6},    {0xd8, 0xf6},     {0xf8, 0x24f},
        {0x370, 0x3ff},   {0x400, 0x481},   {0x48a, 0x52f},  {0x1e00, 0x1eff}, {0x3041, 0x3096},
        {0x30a1, 0x30fa}, {0x4e00, 0x9fff}, {0xac00, 0xd7a3}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        if (c >= known[i].from && c <= known[i].to) {
            return true;
        }
    }
    return false;
}

// The character of that length.
static uint32_t character(const char *bytes, size_t length)
{
    const unsigned char *b = (const unsigned char *)bytes;
    uint32_t c = length == 1 ? b[0] : b[0] & (0x7fU >> length);
    for (size_t i = 1; i < length; i++) {
        c = c << 6 | (b[i] & 0x3fU);
    }
    return c;
}

// "Walnut gramophone, 1925" becomes "walnut-gramophone-1925": what lies between letters is one hyphen. "job" where there
// are none.
static void name_folder(const char *title, char *out, size_t size)
{
    size_t count = 0, left = strlen(title);
    bool gap = false;
    while (left > 0) {
        size_t length = hw_utf8_character(title, left);
        char low[4] = {title[0]};
        length = length ? length : 1;
        memcpy(low, title, length);
        low[0] = (char)(low[0] >= 'A' && low[0] <= 'Z' ? low[0] - 'A' + 'a' : low[0]);
        bool letter = is_letter(character(low, length));
        if (letter && count + length + 2 <= size) {
            out[count] = '-';
            count += gap && count > 0;
            memcpy(out + count, low, length);
            count += length;
        }
        gap = !letter && (gap || low[0] != '\'');
        title += length;
        left -= length;
    }
    out[count] = 0;
    if (count == 0) {
        hw_copy_text(out, size, "job");
    }
}

// A folder of that name which is not there yet, or which that entry made before (*again).
static hw_status place_job(const hw_server *server, const char *title, const char *entry,
                           char name[80], char path[SERVER_PATH_SIZE], hw_error *err)
{
    const int most = 1000;
    char stem[64];
    struct stat facts;
    name_folder(title, stem, sizeof stem);
    for (int i = 1; i <= most; i++) {
        hw_format_text(name, 80, i == 1 ? "%s" : "%s-%d", stem, i);
        if (!hw_format_text(path, SERVER_PATH_SIZE, "%s/%s", server_folder(server), name)) {
            break;
        }
        if (lstat(path, &facts) != 0 || (entry && hw_job_is_of_entry(path, entry))) {
            return HW_OK;
        }
    }
    return hw_fail(err, HW_ERR_CALL, "job-exists", title, "Give it another name.",
                   "there are too many jobs of this name");
}

// ---- start -------------------------------------------------------------------------

typedef struct starting {
    const char *title, *from_name, *entry;
    char name[80];
    char path[SERVER_PATH_SIZE], from[SERVER_PATH_SIZE];
} starting;

static hw_status take_start(const hw_server *server, const hw_json *body, starting *out,
                            hw_error *err)
{
    hw_status status = server_take_text(body, "title", true, &out->title, err);
    if (status == HW_OK && out->title[strspn(out->title, " \t\r\n")] == 0) {
        status = hw_fail(err, HW_ERR_CALL, "title", "the title",
                         "Say what it is, as walnut gramophone cabinet: you find it again by that.",
                         "there is nothing in it");
    }
    if (status == HW_OK) {
        status = server_take_text(body, "from", false, &out->from_name, err);
    }
    if (status == HW_OK) {
        status = server_take_text(body, "entry", false, &out->entry, err);
    }
    if (status == HW_OK && out->from_name) {
        status = server_find_job(server, out->from_name, out->from, err);
    }
    return status;
}

static hw_status start(hw_server *server, const server_request *request, starting *s,
                       hw_carried *carried, hw_error *err)
{
    hw_start_request wanted = {.folder = s->path,
                               .title = s->title,
                               .from = s->from_name ? s->from : NULL,
                               .shelf_path = server_shelf_path(server),
                               .entry = s->entry};
    hw_status status = place_job(server, s->title, s->entry, s->name, s->path, err);
    return status == HW_OK
               ? hw_steps_start_from(&wanted, server_limits(server), request->now, carried, err)
               : status;
}

hw_status server_run_start(hw_server *server, const server_request *request, server_answer *answer,
                           hw_error *err)
{
    starting s = {0};
    hw_carried carried = {0};
    hw_json *tree = NULL;
    char *json = NULL;
    hw_status status = take_start(server, request->json, &s, err);
    if (status == HW_OK) {
        server_log_take(server);
        status = start(server, request, &s, &carried, err);
        server_log_leave(server);
    }
    if (status == HW_OK) {
        status = hw_report_carried_json(&carried, &json, err);
    }
    if (status == HW_OK) {
        status = server_open_json(json, &tree, err);
    }
    if (status == HW_OK) {
        size_t count = hw_job_event_count(carried.job);
        hw_json_add_number(tree, "last",
                           (double)(count ? hw_job_event(carried.job, count - 1)->number : 0));
        status = server_answer_tree(answer, tree, err);
        answer->status = status == HW_OK ? 201 : 0;
    }
    hw_carried_free(&carried);
    return status;
}

// ---- As it stands, and what was ----------------------------------------------------

hw_status server_run_job(hw_server *server, const server_request *request, server_answer *answer,
                         hw_error *err)
{
    char folder[SERVER_PATH_SIZE], *json = NULL;
    hw_overview overview = {0};
    hw_status status = server_job_of(server, request, folder, err);
    if (status == HW_OK) {
        status = hw_steps_overview(folder, server_limits(server), request->now, &overview, err);
    }
    if (status == HW_OK) {
        status = hw_report_overview_json(&overview, request->segment[2], &json, err);
    }
    if (status == HW_OK) {
        server_answer_json(answer, json);
    }
    hw_overview_free(&overview);
    return status;
}

static hw_status tell_history(const hw_job *job, const hw_known *known, server_answer *answer,
                              hw_error *err)
{
    char *json = NULL, *text = NULL;
    hw_status status = hw_report_history_text(job, known, &text, err);
    if (status == HW_OK) {
        status = hw_report_history_json(job, known, &json, err);
    }
    if (status == HW_OK) {
        status = server_answer_both(answer, json, text, err);
    }
    hw_report_free(text);
    return status;
}

hw_status server_run_history(hw_server *server, const server_request *request,
                             server_answer *answer, hw_error *err)
{
    char folder[SERVER_PATH_SIZE];
    hw_job *job = NULL;
    hw_known known = {0};
    hw_error unheard = {0}; // where the shelf cannot be read the log is told all the same
    hw_status status = server_job_of(server, request, folder, err);
    if (status == HW_OK) {
        status = hw_steps_history(folder, server_limits(server), &job, err);
    }
    if (status == HW_OK) {
        hw_status told =
            hw_steps_jars(job, server_shelf_path(server), server_limits(server), &known, &unheard);
        status = tell_history(job, told == HW_OK ? &known : NULL, answer, err);
    }
    hw_known_free(&known);
    hw_job_free(job);
    return status;
}

// ---- All of it as one file ---------------------------------------------------------

// In a folder of the server's own beside the jobs: it is removed as it is sent, so that nothing stays.
static hw_status name_pack(const hw_server *server, char **out, hw_error *err)
{
    char folder[SERVER_PATH_SIZE], key[17];
    hw_text path = {0};
    hw_chance_key(key);
    hw_format_text(folder, sizeof folder, "%s/" SERVER_OWN_FOLDER, server_folder(server));
    hw_text_add(&path, "%s/pack-%s", folder, key);
    hw_status status = path.failed ? hw_fail_memory(err, "packing the job")
                                   : hw_file_make_folder(folder, false, err);
    if (status != HW_OK) {
        hw_text_free(&path);
        return status;
    }
    *out = path.bytes;
    return HW_OK;
}

hw_status server_run_pack(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err)
{
    char folder[SERVER_PATH_SIZE], name[SERVER_SEGMENT_SIZE + 8], *path = NULL;
    hw_job_packed packed = {0};
    hw_status status = server_job_of(server, request, folder, err);
    if (status == HW_OK) {
        status = name_pack(server, &path, err);
    }
    if (status == HW_OK) {
        server_bench_take(server);
        status = hw_steps_pack(folder, path, server_limits(server), &packed, err);
        server_bench_leave(server);
    }
    hw_job_packed_free(&packed);
    if (status != HW_OK) {
        hw_free(path);
        return status;
    }
    answer->file = path;
    answer->type = "application/zip";
    hw_format_text(name, sizeof name, "%s.zip", request->segment[2]);
    server_answer_as_file(answer, name);
    return HW_OK;
}
