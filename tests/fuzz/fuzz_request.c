// fuzz_request.c: any bytes as a request to the server, with a small job and an uploaded photo in its folder: a line "METHOD TARGET", lines of headers,
// an empty line, the body. Whatever comes: an answer with a status of API.md, JSON that can be read where it says so, with
// what is wrong and what to do where it refuses; no line end in a header; and nothing written outside the folder of jobs and
// that of the user's own files. A first line that starts with "+" comes from the page itself: its Host and Origin are added.
#include "huewright/huewright.h"
#include "remove_all.h"
#include "saved_picture.h"
#include "server_internal.h"
#include "shop.h"

#include <sys/stat.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

#define HOST   "192.168.1.5:8474"
#define TEXT   16384
#define NOW    1790000000
#define UPLOAD ".huewright-page/0123456789abcdef"
#define KEPT   5

static char place[500];
static hw_server *server;
static uint8_t *kept[KEPT]; // the files in the folder of jobs as they were made
static size_t kept_count[KEPT];
static const char *const kept_name[KEPT] = {"jobs/lid/job.json", "jobs/lid/log.jsonl",
                                            "jobs/lid/spots.csv", "jobs/" UPLOAD,
                                            "jobs/" UPLOAD ".json"};

static const char *path_of(const char *name)
{
    static char path[4][900];
    static int turn;
    turn = (turn + 1) % 4;
    snprintf(path[turn], sizeof path[turn], "%s/%s", place, name);
    return path[turn];
}

static void must(bool good)
{
    if (!good) {
        abort();
    }
}

// ---- The folders -------------------------------------------------------------------

static void remove_place(void)
{
    server_free(&server);
    remove_all(place);
    for (int i = 0; i < KEPT; i++) {
        hw_free(kept[i]);
    }
}

static void write_file(const char *path, const void *bytes, size_t count)
{
    FILE *file = fopen(path, "wb");
    must(file && fwrite(bytes, 1, count, file) == count && fclose(file) == 0);
}

static void make_job(void)
{
    static const char spots[] = "SampleName,L,a,b\r\n1,45,12,22\r\n2,46,12,23\r\n3,52,9,21\r\n";
    static const hw_import_part parts[] = {{HW_ROLE_TARGET, "rail", "1,2"},
                                           {HW_ROLE_PATCH, "strip", "3"}};
    hw_import_request request = {.folder = path_of("jobs/lid"),
                                 .path = path_of("jobs/lid/spots.csv"),
                                 .parts = parts,
                                 .part_count = 2};
    hw_job *job = NULL;
    hw_reading reading = {0};
    hw_warnings warnings = {0};
    long number = 0;
    must(hw_steps_start(request.folder, "Lid", NOW, NULL) == HW_OK);
    write_file(request.path, spots, sizeof spots - 1);
    must(hw_steps_import(&request, NULL, NOW + 60, &job, &number, &reading, &warnings, NULL) ==
         HW_OK);
    hw_job_free(job);
    hw_reading_free(&reading);
}

static void make_upload(void)
{
    static const char record[] =
        "{\"name\":\"IMG 1.png\",\"job\":\"lid\",\"view\":\"front\",\"bytes\":9,"
        "\"at\":\"2026-09-21T14:13:20Z\"}";
    picture made = shop_picture();
    must(hw_file_make_folder(path_of("jobs/.huewright-page"), true, NULL) == HW_OK);
    save_picture(&made, path_of(kept_name[3]));
    write_file(path_of(kept_name[4]), record, sizeof record - 1);
}

static void make_place(void)
{
    static hw_server_options options = {.lan = false, .quiet = true};
    static char jobs[600];
    snprintf(place, sizeof place, "%s/fuzz request %ld", HW_SCRATCH, (long)getpid());
    atexit(remove_place);
    setenv("XDG_DATA_HOME", path_of("own"), 1);
    must(hw_file_make_folder(path_of("jobs"), true, NULL) == HW_OK &&
         hw_file_make_folder(path_of("own"), true, NULL) == HW_OK);
    make_job();
    make_upload();
    for (int i = 0; i < KEPT; i++) {
        must(hw_file_read(path_of(kept_name[i]), 1 << 20, &kept[i], &kept_count[i], NULL) == HW_OK);
    }
    snprintf(jobs, sizeof jobs, "%s", path_of("jobs"));
    options.folder = jobs;
    must(server_new(&options, &server, NULL) == HW_OK);
}

static bool is_as_it_was(void)
{
    static const char *const all[] = {"lid", ".huewright-page"};
    static const char *const lid[] = {"job.json", "log.jsonl", "spots.csv", "photos"};
    static const char *const uploads[] = {"0123456789abcdef", "0123456789abcdef.json"};
    bool same = hw_folder_holds_only(path_of("jobs"), all, 2) &&
                hw_folder_holds_only(path_of("jobs/lid"), lid, 4) &&
                hw_folder_holds_only(path_of("jobs/.huewright-page"), uploads, 2);
    same = same && hw_folder_is_empty(path_of("jobs/lid/photos"));
    for (int i = 0; i < KEPT; i++) {
        struct stat facts;
        same = same && stat(path_of(kept_name[i]), &facts) == 0 &&
               (size_t)facts.st_size == kept_count[i];
    }
    return same;
}

// As at the start, so that an input means the same whatever came before it.
static void tidy(void)
{
    static const char *const only[] = {"jobs", "own"};
    must(hw_folder_holds_only(place, only, 2)); // nothing was written beside them
    remove_all(path_of("own/huewright"));
    if (!is_as_it_was()) {
        remove_all(path_of("jobs"));
        must(hw_file_make_folder(path_of("jobs/lid/photos"), true, NULL) == HW_OK &&
             hw_file_make_folder(path_of("jobs/.huewright-page"), true, NULL) == HW_OK);
        for (int i = 0; i < KEPT; i++) {
            write_file(path_of(kept_name[i]), kept[i], kept_count[i]);
        }
    }
}

// ---- The request -------------------------------------------------------------------

static void add_header(server_request *request, const char *name, const char *value)
{
    request->too_many_headers |= request->header_count == SERVER_HEADERS_MOST;
    if (!request->too_many_headers) {
        request->header[request->header_count++] = (server_header){name, value};
    }
}

// Cuts the line at *at off; *at moves on. NULL at the end.
static char *take_line(char **at)
{
    char *line = *at;
    if (!line || !*line) {
        return NULL;
    }
    char *end = strchr(line, '\n');
    *at = end ? end + 1 : NULL;
    line[end ? (size_t)(end - line) : strlen(line)] = 0;
    return line;
}

static void take_headers(server_request *request, char **at)
{
    for (char *line; (line = take_line(at)) && *line;) {
        char *colon = strchr(line, ':');
        if (colon) {
            *colon++ = 0;
            colon += strspn(colon, " \t");
        }
        add_header(request, line, colon ? colon : "");
    }
}

static server_method method_of(const char *name)
{
    return strcmp(name, "GET") == 0      ? SERVER_GET
           : strcmp(name, "POST") == 0   ? SERVER_POST
           : strcmp(name, "DELETE") == 0 ? SERVER_DELETE
                                         : SERVER_METHOD_COUNT;
}

static void take_first(server_request *request, char *line)
{
    bool own = line[0] == '+';
    char *blank = strchr(line, ' ');
    request->target = blank ? blank + 1 : "";
    if (blank) {
        *blank = 0;
    }
    request->method = method_of(line + own);
    request->host = HOST;
    request->peer = "192.168.1.9";
    request->now = NOW + 7200;
    if (own) {
        add_header(request, "Host", HOST);
        add_header(request, "Origin", "http://" HOST);
    }
}

// ---- The answer --------------------------------------------------------------------

static void look_at(const server_answer *answer)
{
    static const unsigned known[] = {200, 201, 304, 400, 403, 404, 405,
                                     409, 411, 413, 415, 422, 429, 507};
    const char *headers[SERVER_HEADERS_OUT][2];
    bool is_known = false;
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        is_known |= known[i] == answer->status;
    }
    must(is_known && answer->type);
    for (size_t i = server_answer_headers(answer, headers); i-- > 0;) {
        must(strpbrk(headers[i][1], "\r\n") == NULL &&
             hw_is_utf8(headers[i][1], strlen(headers[i][1])));
    }
    if (strcmp(answer->type, "application/json") == 0) {
        hw_limits limits = hw_limits_default();
        hw_json *tree = NULL;
        limits.json_bytes = 64u << 20;
        must(hw_json_parse(answer->body, answer->count, &limits, "answer", &tree, NULL) == HW_OK);
        const hw_json *error = hw_json_member(tree, "error");
        must(answer->status < 400 ||
             (hw_json_member_text(error, "code")[0] && hw_json_member_text(error, "what")[0] &&
              hw_json_member_text(error, "next")[0]));
        hw_json_free(tree);
    }
}

static void ask(server_request *request)
{
    server_answer answer = {0};
    char path[900] = "";
    if (server_admit(server, request, NULL) == HW_OK && request->route->body == SERVER_BODY_PHOTO &&
        server_upload_spool(server, path, sizeof path, NULL) == HW_OK) {
        write_file(path, request->body, request->body_bytes);
        request->body_path = path;
        request->body = NULL;
    }
    server_respond(server, request, &answer);
    look_at(&answer);
    server_answer_free(&answer);
    if (path[0]) {
        unlink(path);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    static char text[TEXT + 1];
    server_request request = {0};
    char *at = text, length[32];
    if (!place[0]) {
        make_place();
    }
    count = count < TEXT ? count : TEXT;
    memcpy(text, bytes, count);
    text[count] = 0; // a 0 inside ends it, as a header's does
    char *line = take_line(&at);
    if (!line) {
        return 0;
    }
    take_first(&request, line);
    bool own = line[0] == '+';
    take_headers(&request, &at);
    request.body = at ? at : "";
    request.body_bytes = strlen(request.body);
    if (own && request.method != SERVER_GET) {
        snprintf(length, sizeof length, "%zu", request.body_bytes);
        add_header(&request, "Content-Length", length);
    }
    ask(&request);
    tidy();
    return 0;
}
