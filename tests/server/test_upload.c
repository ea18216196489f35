// Photos that are in no job yet, by requests as the page sends them: taken in, opened, marked, read, kept once, dropped; what
// a killed program left is swept; ceilings; hostile names and bodies. What must hold: src/server/API.md; RFC 9110 for the
// status codes; for colours and words the calls of `report` that the text and the pictures are made by.
#include "requests.h"
#include "saved_picture.h"
#include "server_upload.h"
#include "shop.h"

#include <errno.h>
#include <math.h>
#include <pthread.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#define KEY(n) "00000000-0000-4000-8000-00000000000" #n

static char folder[400], own[420], spool[600];

// ---- Asking ------------------------------------------------------------------------

static hw_json *body_of_answer(void)
{
    hw_json *tree = NULL;
    hw_limits limits = hw_limits_default();
    hw_error err = {0};
    check_true(test_answer.body && hw_json_parse(test_answer.body, test_answer.count, &limits,
                                                 "answer", &tree, &err) == HW_OK);
    return tree;
}

static unsigned get(const char *target)
{
    server_request request = asking(SERVER_GET, target);
    return answered(&request);
}

static unsigned post(const char *target, const char *json)
{
    server_request request = asking(SERVER_POST, target);
    request.now = 1790001000;
    return posted(&request, json);
}

static unsigned drop_it(const char *target)
{
    server_request request = asking(SERVER_DELETE, target);
    return answered(&request);
}

static void copy_file(const char *from, const char *to)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    check_true(hw_file_read(from, 1 << 28, &bytes, &count, NULL) == HW_OK &&
               hw_file_replace(to, bytes, count, NULL) == HW_OK);
    hw_free(bytes);
}

// As the daemon does it: the body into the file that the store names, then the request.
static unsigned send_file(const char *target, const char *file, const char *length)
{
    hw_error err = {0};
    server_request request = asking(SERVER_POST, target);
    if (server_upload_spool(test_server, spool, sizeof spool, &err) != HW_OK) {
        server_answer_free(&test_answer);
        server_answer_error(&test_answer, &err);
        return test_answer.status;
    }
    copy_file(file, spool);
    add_header(&request, "Content-Type", "application/octet-stream");
    add_header(&request, "Content-Length", length);
    request.body_path = spool;
    request.body_bytes = strtoul(length, NULL, 10);
    request.now = 1790000900;
    unsigned status = answered(&request);
    hw_file_remove(spool); // what nobody took
    return status;
}

static const char *demo(const char *name)
{
    static char path[700];
    snprintf(path, sizeof path, "%s/../demo/%s", HW_TESTDATA, name);
    return path;
}

static unsigned send_photo(const char *query, const char *file, char id[SERVER_UPLOAD_ID])
{
    char target[400];
    snprintf(target, sizeof target, "/api/uploads?%s", query);
    unsigned status = send_file(target, file, "100");
    if (status == 201) {
        hw_json *tree = body_of_answer();
        const char *upload = hw_json_member_text(tree, "upload");
        check_true(upload && strlen(upload) == SERVER_UPLOAD_ID - 1);
        snprintf(id, SERVER_UPLOAD_ID, "%s", upload ? upload : "");
        hw_json_free(tree);
    }
    return status;
}

static unsigned send_demo(const char *query, const char *name, char id[SERVER_UPLOAD_ID])
{
    return send_photo(query, demo(name), id);
}

static const char *at(const char *id, const char *what)
{
    static char target[200];
    snprintf(target, sizeof target, "/api/uploads/%s%s%s", id, what[0] ? "/" : "", what);
    return target;
}

static size_t events_of(const char *job)
{
    hw_job *opened = NULL;
    char path[500];
    snprintf(path, sizeof path, "%s/%s", folder, job);
    check_true(hw_job_open(path, NULL, &opened, NULL) == HW_OK);
    size_t count = opened ? hw_job_event_count(opened) : 0;
    hw_job_free(opened);
    return count;
}

// {"marks":[...],MORE}
static char *with_marks(const char *file, const char *more)
{
    static char body[1 << 16];
    uint8_t *bytes = NULL;
    size_t count = 0;
    check_true(hw_file_read(demo(file), 1 << 15, &bytes, &count, NULL) == HW_OK);
    char *end = bytes ? strrchr((char *)bytes, '}') : NULL;
    if (check_true(end != NULL)) {
        snprintf(body, sizeof body, "%.*s%s%s}", (int)(end - (char *)bytes), (char *)bytes,
                 more[0] ? "," : "", more);
    }
    hw_free(bytes);
    return body;
}

// ---- The whole way -----------------------------------------------------------------

static char *part_of_answer(const char *member)
{
    hw_json *tree = body_of_answer();
    char *text = NULL;
    hw_json *part = hw_json_copy(member ? hw_json_member(tree, member) : tree);
    check_true(hw_json_print(part, false, &text, NULL) == HW_OK);
    hw_json_free(part);
    hw_json_free(tree);
    return text;
}

static void check_same(char *one, char *other)
{
    if (!check_true(one && other && strcmp(one, other) == 0)) {
        printf("%.300s\n%.300s\n", one ? one : "", other ? other : "");
    }
    hw_free(one);
    hw_free(other);
}

static char *copy_of(const char *text)
{
    char *copy = hw_alloc_array(strlen(text) + 1, 1);
    return memcpy(copy, text, strlen(text) + 1);
}

static void test_first_photo(void)
{
    char id[SERVER_UPLOAD_ID], again[SERVER_UPLOAD_ID];
    check_true(send_demo("name=IMG%207.jpg&job=cabinet&view=lid", "cabinet-lid-1.jpg", id) == 201);
    check_true(says("\"name\":\"IMG 7.jpg\"") && !hw_file_exists(spool));
    // The answer was not heard: the same photo once more is the same upload.
    check_true(send_demo("name=IMG%207.jpg&job=cabinet&view=lid", "cabinet-lid-1.jpg", again) ==
               201);
    check_text(id, again);
    check_true(get("/api/uploads") == 200 && says(id) && says("\"view\":\"lid\""));

    check_true(get(at(id, "")) == 200);
    check_true(says("\"wood\":\"none\"") && says("\"card\":\"proposed\"") && says("\"ask\":null"));
    check_true(says("\"width\":1400") && says("\"height\":1050"));
    char side[240];
    snprintf(side, sizeof side, "%s?lamp=bench&from=left", at(id, ""));
    check_true(get(side) == 200 && says("\"from\":\"left\""));
    snprintf(side, sizeof side, "%s?from=above", at(id, ""));
    check_true(get(side) == 400);
    check_true(get(at(id, "picture?longest=700")) == 200);
    check_text(test_answer.type, "image/jpeg");
    check_true((uint8_t)test_answer.body[0] == 0xff && (uint8_t)test_answer.body[1] == 0xd8);

    check_true(post(at(id, "reading"),
                    with_marks("cabinet-lid-1-marks.json", "\"lamp\":\"bench\"")) == 200);
    check_true(says("\"ask\":{\"words\":\"What is on lid strip now"));
    char *on_screen = part_of_answer("comparisons"), *samples = part_of_answer("samples");
    check_true(
        post(at(id, "keep"),
             with_marks("cabinet-lid-1-marks.json",
                        "\"entry\":\"" KEY(
                            1) "\",\"job\":\"cabinet\",\"view\":\"lid\","
                               "\"lamp\":\"bench\",\"states\":[{\"part\":\"lid strip\",\"state\":"
                               "\"sealed\"}]")) == 201);
    check_true(says("\"last\":") && !says("\"again\""));
    check_same(on_screen, part_of_answer("comparisons"));
    check_same(samples, part_of_answer("samples"));
    size_t events = events_of("cabinet");
    check_true(get(at(id, "")) == 404 && has_code("not-found"));

    // Kept, but the answer was lost: the upload is gone, and the entry answers.
    check_true(post(at(id, "keep"), with_marks("cabinet-lid-1-marks.json",
                                               "\"entry\":\"" KEY(1) "\",\"job\":\"cabinet\"")) ==
               201);
    check_true(says("\"again\":true") && events_of("cabinet") == events);
    check_true(post(at(id, "keep"), with_marks("cabinet-lid-1-marks.json",
                                               "\"entry\":\"" KEY(2) "\",\"job\":\"cabinet\"")) ==
               404);
}

static void test_shown(void)
{
    char id[SERVER_UPLOAD_ID];
    check_true(send_demo("name=a.jpg", "cabinet-lid-1.jpg", id) == 201);
    check_true(post(at(id, "reading"), with_marks("cabinet-lid-1-marks.json", "")) == 200);
    hw_json *tree = body_of_answer();
    const hw_json *one = hw_json_first(hw_json_member(tree, "shown"));
    check_text(hw_json_member_text(one, "patch"), "lid strip");
    check_text(hw_json_member_text(one, "verdict"), "tone");
    const hw_json *gap = hw_json_member(one, "gap"), *screen = hw_json_member(one, "screen");
    double de00 = 0.0;
    check_true(hw_json_member_number(gap, "de00", &de00) &&
               fabs(de00 - 5.514) < 1.5); // as rendered
    check_true(strstr(hw_json_member_text(gap, "text"), " to ") != NULL);
    check_true(strstr(hw_json_member_text(one, "swatches"), "<svg") != NULL);
    check_true(strstr(hw_json_member_text(one, "rulers"), "</svg>") != NULL);
    check_true(hw_json_count(hw_json_member(one, "directions")) == 3);
    // The old wood's mean is L* 38.4, a* 8.7, b* 14.7 (demo/cabinet-lid-1.json): #6e5543 by LittleCMS' transicc, and the photo
    // is read within 3 L*a*b* of it.
    unsigned r = 0, g = 0, b = 0;
    const char *target = hw_json_member_text(screen, "target");
    check_true(target && sscanf(target, "#%02x%02x%02x", &r, &g, &b) == 3);
    check_true(abs((int)r - 0x6e) < 9 && abs((int)g - 0x55) < 9 && abs((int)b - 0x43) < 9);
    hw_json_free(tree);
    check_true(post(at(id, "around"),
                    with_marks("cabinet-lid-1-marks.json", "\"patch\":\"lid strip\"")) == 200);
    check_true(says("\"marks\":["));
    check_true(post(at(id, "around"),
                    with_marks("cabinet-lid-1-marks.json", "\"patch\":\"no such\"")) == 400);
    check_true(has_code("patch-unknown"));
    check_true(drop_it(at(id, "")) == 200 && says("\"gone\":true"));
    check_true(drop_it(at(id, "")) == 404);
}

// Held by hand elsewhere: marks are proposed where they lie, read already, and what is kept reads just so.
static void test_second_photo(void)
{
    char id[SERVER_UPLOAD_ID];
    static char body[1 << 16];
    check_true(send_demo("name=b.jpg&job=cabinet&view=lid", "cabinet-lid-2-hand.jpg", id) == 201);
    check_true(get(at(id, "")) == 200);
    check_true(says("\"wood\":\"carried\"") && says("\"card\":\"sure\"") && says("\"error\":null"));
    hw_json *tree = body_of_answer();
    hw_json *reading = hw_json_copy(hw_json_member(hw_json_member(tree, "reading"), "comparisons"));
    char *on_screen = NULL, *marks = part_of_answer("marks");
    check_true(hw_json_print(reading, false, &on_screen, NULL) == HW_OK);
    hw_json_free(reading);
    hw_json_free(tree);
    // Two others push it off the bench: it reads the same again, also when it is asked for anew, and is kept as followed.
    char others[2][SERVER_UPLOAD_ID];
    for (int i = 0; i < 2; i++) {
        check_true(send_demo(i == 0 ? "name=o1.jpg" : "name=o2.jpg", "hall-bench.jpg", others[i]) ==
                   201);
        check_true(get(at(others[i], "")) == 200);
        check_true(post(at(others[i], "reading"), "{\"marks\":[]}") == 422); // no card
    }
    snprintf(body, sizeof body, "{\"marks\":%s}", marks);
    check_true(post(at(id, "reading"), body) == 200);
    check_same(part_of_answer("comparisons"), copy_of(on_screen));
    check_true(get(at(id, "")) == 200 && says("\"wood\":\"carried\""));
    check_same(part_of_answer("marks"), copy_of(marks));
    for (int i = 0; i < 2; i++) {
        check_true(get(at(others[i], "")) == 200 && drop_it(at(others[i], "")) == 200);
    }
    snprintf(body, sizeof body, "{\"marks\":%s,\"entry\":\"" KEY(3) "\",\"job\":\"cabinet\"}",
             marks);
    hw_free(marks);
    check_true(post(at(id, "keep"), body) == 201);
    check_same(on_screen, part_of_answer("comparisons"));

    hw_job *job = NULL;
    char path[500];
    snprintf(path, sizeof path, "%s/cabinet", folder);
    check_true(hw_job_open(path, NULL, &job, NULL) == HW_OK);
    const hw_event *event = hw_job_entry(job, KEY(3));
    check_true(event && event->of.photo.marks_reused); // followed: what it lacks is not forgotten
    char target[100];
    snprintf(target, sizeof target, "/api/jobs/cabinet/photos/%ld", event ? event->number : 0);
    hw_job_free(job);
    check_true(get(target) == 200);
    check_true(says("\"photo\":{") && says("\"shown\":[{") && says("\"marks\":{"));
    snprintf(target + strlen(target), sizeof target - strlen(target), "/picture?longest=300");
    check_true(get(target) == 200);
    char *plain = test_answer.body;
    size_t count = test_answer.count;
    test_answer.body = NULL;
    snprintf(target + strlen(target), sizeof target - strlen(target), "&corrected=1");
    check_true(get(target) == 200 && strcmp(test_answer.type, "image/jpeg") == 0);
    check_true(count != test_answer.count || memcmp(plain, test_answer.body, count) != 0);
    hw_free(plain);
    check_true(get("/api/jobs/cabinet/photos/1") == 404); // no photo
    check_true(get("/api/jobs/cabinet/photos/999") == 404 &&
               get("/api/jobs/cabinet/photos/x") == 404);
}

typedef struct keeper {
    char target[240];
    const char *body;
    unsigned status;
} keeper;

static void *keep_beside(void *context)
{
    keeper *self = context;
    server_request request = asking(SERVER_POST, self->target);
    server_answer answer = {0};
    char length[32];
    snprintf(length, sizeof length, "%zu", strlen(self->body));
    add_header(&request, "Content-Type", "application/json");
    add_header(&request, "Content-Length", length);
    request.body = self->body;
    request.body_bytes = strlen(self->body);
    request.now = 1790001100;
    server_respond(test_server, &request, &answer);
    self->status = answer.status;
    server_answer_free(&answer);
    return NULL;
}

static void must(hw_status status)
{
    check_true(status == HW_OK);
}

// Whoever has the log while a photo is on its way in logs a pass: the photo knows of it, and that it is not dry. (Else what
// does not show the pass would be learned from as what it did.)
static void test_pass_meanwhile(void)
{
    static char body[1 << 16];
    char id[SERVER_UPLOAD_ID], path[500], part[1][HW_NAME_SIZE] = {"lid strip"};
    const struct timespec while_it_comes = {1, 0}; // far longer than it is read without waiting
    hw_setting_event dries = {.recoat_minutes = 60.0};
    hw_pass_event pass = {.patches = part, .patch_count = 1, .passes = 1, .minutes = (double)NAN};
    long number = 0;
    hw_job *job = NULL;
    pthread_t thread;
    check_true(send_demo("name=m.jpg&job=cabinet&view=lid", "cabinet-lid-3.jpg", id) == 201);
    check_true(get(at(id, "")) == 200);
    char *marks = part_of_answer("marks");
    snprintf(body, sizeof body, "{\"marks\":%s,\"entry\":\"" KEY(7) "\",\"job\":\"cabinet\"}",
             marks);
    hw_free(marks);
    keeper keep = {.body = body};
    snprintf(keep.target, sizeof keep.target, "%s", at(id, "keep"));
    snprintf(path, sizeof path, "%s/cabinet", folder);
    server_log_take(test_server);
    check_true(pthread_create(&thread, NULL, keep_beside, &keep) == 0);
    nanosleep(&while_it_comes, NULL);
    must(hw_job_open(path, NULL, &job, NULL));
    must(hw_job_add_setting(job, &dries, 1790001100, &number, NULL));
    pass.liquid.count = 1;
    pass.liquid.dose[0] = (hw_dose){.dye = "red", .strength = 0.25};
    must(hw_job_add_pass(job, &pass, 1790001100, &number, NULL));
    hw_job_free(job);
    server_log_leave(test_server);
    check_true(pthread_join(thread, NULL) == 0 && keep.status == 201);
    must(hw_job_open(path, NULL, &job, NULL));
    const hw_event *photo = hw_job_entry(job, KEY(7));
    bool not_dry = false;
    for (size_t i = 0; photo && i < photo->of.photo.state_count; i++) {
        not_dry = not_dry || (strcmp(photo->of.photo.states[i].part, part[0]) == 0 &&
                              photo->of.photo.states[i].state == HW_STATE_NOT_DRY);
    }
    check_true(photo && photo->number > number && not_dry);
    hw_job_free(job);
}

static void lay_a_pass(const char *part)
{
    char path[500], parts[1][HW_NAME_SIZE];
    hw_pass_event pass = {.patches = parts, .patch_count = 1, .passes = 1, .minutes = (double)NAN};
    long number = 0;
    hw_job *job = NULL;
    snprintf(parts[0], sizeof parts[0], "%s", part);
    snprintf(path, sizeof path, "%s/cabinet", folder);
    pass.liquid.count = 1;
    pass.liquid.dose[0] = (hw_dose){.dye = "red", .strength = 0.25};
    must(hw_job_open(path, NULL, &job, NULL));
    must(hw_job_add_pass(job, &pass, 1790001200, &number, NULL));
    hw_job_free(job);
}

// A photo that lay here while a pass was logged does not show it: the person is asked, and may say that it does.
static void test_taken_before(void)
{
    static char body[1 << 16];
    char id[SERVER_UPLOAD_ID];
    double seen = 0.0;
    check_true(send_demo("name=b.jpg&job=cabinet&view=lid", "cabinet-lid-2-hand.jpg", id) == 201);
    check_true(get(at(id, "")) == 200);
    hw_json *tree = body_of_answer();
    check_true(hw_json_member_number(tree, "seen", &seen) && seen > 1.0);
    hw_json_free(tree);
    char *marks = part_of_answer("marks");
    const char form[] = "{\"marks\":%s,\"entry\":\"" KEY(8) "\",\"job\":\"cabinet\"%s}";
    char said[40];
    snprintf(said, sizeof said, ",\"seen\":%.0f", seen);
    lay_a_pass("lid strip");
    snprintf(body, sizeof body, form, marks, said);
    check_true(post(at(id, "keep"), body) == 409 && has_code("moved-on"));
    snprintf(body, sizeof body, form, marks, "");
    check_true(post(at(id, "keep"), body) == 201);
    hw_free(marks);
}

// Its pixels go when nobody asks for it; the photo itself stays.
static void test_put_down(void)
{
    char id[SERVER_UPLOAD_ID];
    check_true(send_demo("name=idle.jpg", "cabinet-doors.jpg", id) == 201);
    server_request request = asking(SERVER_GET, at(id, ""));
    request.now = 1790002000;
    check_true(answered(&request) == 200 && server_opened_find(test_server, id));
    request = asking(SERVER_GET, "/api/uploads");
    request.now = 1790002500;
    check_true(answered(&request) == 200 && server_opened_find(test_server, id));
    request = asking(SERVER_GET, "/api/uploads");
    request.now = 1790002700;
    check_true(answered(&request) == 200 && !server_opened_find(test_server, id));
    check_true(get(at(id, "")) == 200);
    check_true(drop_it(at(id, "")) == 200);
}

// ---- The disk while a photo is kept ------------------------------------------------

static const char faulty[] = "{\"entry\":\"" KEY(
    4) "\",\"job\":\"faulty\",\"view\":\"lid\",\"marks\":["
       "{\"role\":\"card\",\"polygon\":[[20,20],[100,20],[100,100],[20,100]]},"
       "{\"role\":\"target\",\"name\":\"old\",\"polygon\":[[140,20],[240,20],[240,220],[140,220]]},"
       "{\"role\":\"patch\",\"name\":\"new\",\"polygon\":[[270,20],[370,20],[370,220],[270,220]]}]"
       "}";
static char small[600];

// A job that knows nothing yet, and a photo that waits for it.
static void wait_for_faulty(char id[SERVER_UPLOAD_ID])
{
    char path[500], command[600];
    snprintf(path, sizeof path, "%s/faulty", folder);
    snprintf(command, sizeof command, "rm -rf '%s'", path);
    check_true(system(command) == 0);
    must(hw_steps_start(path, "Oak hall bench", 1790000000, NULL));
    check_true(send_photo("name=f.png&job=faulty&view=lid", small, id) == 201);
}

// Said again under the same entry: it is in the job once, and waits no more.
static void say_again(const char *id, long call)
{
    hw_job *job = NULL;
    char path[500];
    size_t photos = 0;
    snprintf(path, sizeof path, "%s/faulty", folder);
    bool good = post(at(id, "keep"), faulty) == 201 && get(at(id, "")) == 404;
    must(hw_job_open(path, NULL, &job, NULL));
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        photos += hw_job_event(job, i)->kind == HW_EVENT_PHOTO_ADDED;
    }
    if (!check_true(good && photos == 1 && hw_job_entry(job, KEY(4)))) {
        printf("call %ld: %zu photos, %.300s\n", call, photos, test_answer.body);
    }
    hw_job_free(job);
}

// The disk is full from that call on, or at that call alone. False: nothing was refused.
static bool keep_on_full_disk(long call, hw_disk_fault fault)
{
    char id[SERVER_UPLOAD_ID];
    wait_for_faulty(id);
    hw_disk_plan plan = {.fault = fault, .at = call, .error = ENOSPC};
    hw_test_disk(&plan);
    unsigned status = post(at(id, "keep"), faulty);
    long calls = hw_test_disk_calls();
    hw_test_disk(NULL);
    if (status != 201) {
        // It waits as before, and the log knows nothing of it, but where the disk did not say whether it has it.
        bool told = status == 507 && (has_code("saved-unsure") ||
                                      (has_code("disk-full") && events_of("faulty") == 1));
        if (!check_true(told && get("/api/uploads") == 200 && says(id))) {
            printf("call %ld: %u %.300s\n", call, status, test_answer.body);
        }
    }
    say_again(id, call);
    return calls >= call;
}

// The program is killed at that call, in a process of its own. False: it came to its end.
static bool keep_killed(long call, hw_disk_fault fault)
{
    char id[SERVER_UPLOAD_ID];
    int how = 0;
    wait_for_faulty(id);
    fflush(stdout);
    pid_t child = fork();
    if (child == 0) {
        hw_disk_plan plan = {.fault = fault, .at = call};
        hw_test_disk(&plan);
        _exit(post(at(id, "keep"), faulty) == 201 ? 0 : 1);
    }
    check_true(child > 0 && waitpid(child, &how, 0) == child);
    check_true(WIFSIGNALED(how) || WEXITSTATUS(how) == 0);
    bool waits = get("/api/uploads") == 200 && says(id);
    if (!check_true(waits || events_of("faulty") > 1)) { // else it would be lost
        printf("killed at call %ld\n", call);
    }
    say_again(id, call);
    return WIFSIGNALED(how);
}

static void test_disk(void)
{
    picture made = shop_picture(); // small, since it is read often
    long call = 1;
    snprintf(small, sizeof small, "%s/small.png", folder);
    save_picture(&made, small);
    for (hw_disk_fault fault = HW_FAULT_FAIL; fault <= HW_FAULT_FAIL_ON; fault++) {
        for (call = 1; call < 100 && keep_on_full_disk(call, fault); call++) {
        }
        check_true(call > 8 && call < 100); // photo and log, each written and synced, and more
    }
    for (hw_disk_fault fault = HW_FAULT_KILL_BEFORE; fault <= HW_FAULT_KILL_AFTER; fault++) {
        for (call = 1; call < 100 && keep_killed(call, fault); call++) {
        }
        check_true(call > 8 && call < 100);
    }
    hw_file_remove(small);
    stop_server();
    start_server(folder, false); // which sweeps records that were left alone
    char command[600];
    snprintf(command, sizeof command, "rm -rf '%s/faulty'", folder);
    check_true(system(command) == 0);
}

static unsigned teach(const char *id, const char *entry, const char *dyes)
{
    char more[200];
    snprintf(more, sizeof more, "\"entry\":\"%s\",\"dyes\":[%s]", entry, dyes);
    return post(at(id, "stepboard"), with_marks("stepboard-marks.json", more));
}

static char *shelf_as_it_is(void)
{
    check_true(get("/api/shelf") == 200);
    return part_of_answer(NULL);
}

static void test_stepboard(void)
{
    static const char dyes[] = "\"walnut=brown\",\"cherry=red\"";
    char id[SERVER_UPLOAD_ID];
    check_true(send_demo("name=board.jpg", "stepboard.jpg", id) == 201);
    check_true(teach(id, KEY(6), "\"demo dye=octarine\"") == 400);
    check_true(teach(id, KEY(6), "7") == 400);
    check_true(has_code("body-member") && get(at(id, "picture?longest=100")) == 200);
    check_true(teach(id, "short", dyes) == 400 && has_code("entry-name"));
    check_true(post(at(id, "stepboard"), with_marks("stepboard-marks.json", "\"dyes\":[]")) ==
                   400 &&
               has_code("body-member") && says("entry"));
    if (!check_true(teach(id, KEY(6), dyes) == 201)) {
        printf("%.400s\n", test_answer.body);
    }
    check_true(says("\"boards\":[{") && !says("\"again\"") && says("\"change\":\"added\""));
    char *boards = part_of_answer("boards"), *warnings = part_of_answer("warnings");
    check_true(get(at(id, "")) == 404);
    char *shelf = shelf_as_it_is();

    // The answer was lost: the photo is gone, and its entry says what was learned then, by the next program too.
    for (int turn = 0; turn < 2; turn++) {
        check_true(teach(id, KEY(6), dyes) == 201 && says("\"again\":true"));
        check_same(part_of_answer("boards"), copy_of(boards));
        check_same(part_of_answer("warnings"), copy_of(warnings));
        check_same(shelf_as_it_is(), copy_of(shelf));
        stop_server();
        start_server(folder, false);
    }
    // Sent up again meanwhile, so that it waits: nothing is learned twice, and it waits no more.
    check_true(send_demo("name=board.jpg", "stepboard.jpg", id) == 201);
    check_true(drop_it("/api/shelf/cherry") == 200);
    char *without = shelf_as_it_is();
    check_true(teach(id, KEY(6), dyes) == 201 && says("\"again\":true"));
    check_same(part_of_answer("boards"), boards);
    check_same(shelf_as_it_is(), without);
    check_true(get(at(id, "")) == 404);
    // Another entry is another board, which must be there.
    check_true(teach(id, KEY(5), dyes) == 404 && has_code("not-found"));
    hw_free(warnings);
    hw_free(shelf);
}

// ---- Hostile -----------------------------------------------------------------------

static void test_names(void)
{
    static const char *const names[][2] = {
        {"..%5C..%5Cx.jpg", "x.jpg"},
        {"%3Cimg%20src%3Dx%20onerror%3Dalert(1)%3E", "<img src=x onerror=alert(1)>"},
        {"", "photo"},
    };
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char query[200], id[SERVER_UPLOAD_ID];
        snprintf(query, sizeof query, "name=%s", names[i][0]);
        check_true(send_demo(query, "cabinet-lid-1.jpg", id) == 201);
        hw_json *tree = body_of_answer();
        check_text(hw_json_member_text(tree, "name"), names[i][1]);
        hw_json_free(tree);
        check_true(drop_it(at(id, "")) == 200);
    }
    char id[SERVER_UPLOAD_ID];
    check_true(send_demo("name=x&job=..", "cabinet-lid-1.jpg", id) == 404);
    check_true(send_demo("name=x&job=.huewright-page", "cabinet-lid-1.jpg", id) == 404);
    check_true(send_demo("name=x&view=a%C2%85b", "cabinet-lid-1.jpg", id) == 400 ||
               drop_it(at(id, "")) == 200);
    check_true(get("/api/uploads/0123456789abcdef") == 404);
    check_true(get("/api/uploads/../jobs") == 400 && get("/api/uploads/x") == 404);
    check_true(get("/api/uploads/0123456789abcdef.json") == 404);
}

static void test_bodies(void)
{
    static const struct {
        const char *what, *body;
        unsigned status;
    } bad[] = {
        {"reading", "{}", 400},
        {"reading", "[]", 400},
        {"reading", "{\"marks\":7}", 400},
        {"reading", "{\"marks\":[{\"role\":\"patch\"}]}", 400},
        {"reading", "{\"marks\":[],\"lamp\":7}", 400},
        {"reading", "{\"marks\":[],\"from\":\"above\"}", 400},
        {"reading", "{\"marks\":[],\"card_lab\":[1,2]}", 400},
        {"reading", "{\"marks\":[],\"card_lab\":\"50\"}", 400},
        {"reading", "{\"marks\":[],\"card_lab\":[1e300,0,0]}", 400},
        {"keep",
         "{\"marks\":[],\"job\":\"cabinet\",\"entry\":\"" KEY(9) "\",\"card_lab\":[50,99,0]}", 400},
        {"around", "{\"marks\":[]}", 400},
        {"keep", "{\"marks\":[],\"job\":\"cabinet\"}", 400},
        {"keep", "{\"marks\":[],\"job\":\"cabinet\",\"entry\":\"" KEY(9) "\"}", 400},
        {"keep", "{\"marks\":[],\"job\":\"../x\",\"entry\":\"" KEY(9) "\"}", 404},
        {"keep",
         "{\"marks\":[{\"role\":\"patch\",\"name\":\"p\",\"polygon\":[[1e300,0],[90,0],[90,90]]}],"
         "\"job\":\"cabinet\",\"entry\":\"" KEY(9) "\"}",
         400},
        {"stepboard", "{\"marks\":[],\"dyes\":{},\"entry\":\"" KEY(9) "\"}", 400},
    };
    char id[SERVER_UPLOAD_ID];
    size_t events = events_of("cabinet");
    check_true(send_demo("name=c.jpg&job=cabinet", "cabinet-lid-1.jpg", id) == 201);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        unsigned status = post(at(id, bad[i].what), bad[i].body);
        if (!check_true(status == bad[i].status || (status == 422 && bad[i].status == 400))) {
            printf("%s %s: %u %s\n", bad[i].what, bad[i].body, status, test_answer.body);
        }
        check_true(says("\"error\""));
    }
    check_true(events_of("cabinet") == events);
    check_true(drop_it(at(id, "")) == 200);
    // No photo at all: taken in, told when it is opened, with the name that the person knows.
    check_true(send_file("/api/uploads?name=notes.txt", demo("stepboard-marks.json"), "10") == 201);
    hw_json *tree = body_of_answer();
    snprintf(id, sizeof id, "%s", hw_json_member_text(tree, "upload"));
    hw_json_free(tree);
    check_true(get(at(id, "")) == 422 && has_code("photo-unknown-format") && says("notes.txt"));
    check_true(!says("huewright-page"));
    check_true(get(at(id, "picture")) == 422 && drop_it(at(id, "")) == 200);
}

// ---- Several of one state ------------------------------------------------------------

// The same picture as another file: what follows a JPEG's end (ISO/IEC 10918-1, B.1.1.3, EOI) is no picture.
static void send_copy(const char *query, const char *name, char id[SERVER_UPLOAD_ID])
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    char copy[700], target[200];
    snprintf(copy, sizeof copy, "%s/copy.jpg", folder);
    snprintf(target, sizeof target, "/api/uploads?%s", query);
    check_true(hw_file_read(demo(name), 1 << 28, &bytes, &count, NULL) == HW_OK);
    uint8_t *longer = hw_alloc_array(count + 1, 1);
    memcpy(longer, bytes, count);
    check_true(hw_file_replace(copy, longer, count + 1, NULL) == HW_OK);
    check_true(send_file(target, copy, "100") == 201);
    hw_json *tree = body_of_answer();
    snprintf(id, SERVER_UPLOAD_ID, "%s", hw_json_member_text(tree, "upload"));
    hw_json_free(tree);
    hw_file_remove(copy);
    hw_free(longer);
    hw_free(bytes);
}

static bool is_upload(const char *id)
{
    check_true(get("/api/uploads") == 200);
    return says(id);
}

// The lid twice, and a bench that shows nothing of it: two are read as one and kept as one, the third stays. What must hold of the
// numbers: a mean of two that are the same is that same.
static void test_together(void)
{
    char first[SERVER_UPLOAD_ID], second[SERVER_UPLOAD_ID], other[SERVER_UPLOAD_ID], more[300];
    check_true(send_demo("name=image.jpg&job=cabinet&view=top", "cabinet-lid-3.jpg", first) == 201);
    send_copy("name=image.jpg&job=cabinet&view=top", "cabinet-lid-3.jpg", second);
    check_true(send_demo("name=image.jpg&job=cabinet&view=top", "hall-bench.jpg", other) == 201);
    check_true(post(at(first, "reading"), with_marks("cabinet-lid-3-marks.json", "")) == 200);
    check_true(says("\"shots\":\"\""));
    char *alone = part_of_answer("samples");
    snprintf(more, sizeof more, "\"more\":[\"%s\",\"%s\"]", second, other);
    check_true(post(at(first, "reading"), with_marks("cabinet-lid-3-marks.json", more)) == 200);
    check_true(says("\"shots\":\"2 shots agree within 0.1\"") && says("\"file\":\"image.jpg\""));
    check_true(says("Shot 3 (image.jpg) is left out") && !says("huewright-page"));
    char *together = part_of_answer("comparisons");
    check_same(alone, part_of_answer("samples"));

    snprintf(
        more, sizeof more,
        "\"entry\":\"" KEY(21) "\",\"job\":\"cabinet\",\"view\":\"top\",\"more\":[\"%s\",\"%s\"]",
        second, other);
    check_true(post(at(first, "keep"), with_marks("cabinet-lid-3-marks.json", more)) == 201);
    check_same(together, part_of_answer("comparisons"));
    char *kept = part_of_answer("kept");
    check_true(strstr(kept, first) && strstr(kept, second) && !strstr(kept, other));
    hw_free(kept);
    check_true(!is_upload(first) && !is_upload(second) && is_upload(other));
    // The answer was not heard.
    size_t events = events_of("cabinet");
    check_true(post(at(first, "keep"), with_marks("cabinet-lid-3-marks.json", more)) == 201);
    check_true(says("\"again\":true") && events_of("cabinet") == events);
    kept = part_of_answer("kept");
    check_true(strstr(kept, first) && strstr(kept, second) && !strstr(kept, other));
    hw_free(kept);
    check_true(is_upload(other));
    // One that went elsewhere meanwhile is named, and nothing is logged.
    snprintf(more, sizeof more, "\"entry\":\"" KEY(22) "\",\"job\":\"cabinet\",\"more\":[\"%s\"]",
             second);
    check_true(post(at(other, "keep"), with_marks("hall-bench-marks.json", more)) == 400);
    check_true(has_code("more-gone") && says(second) && events_of("cabinet") == events);
    check_true(post(at(other, "reading"), with_marks("hall-bench-marks.json", more)) == 400 &&
               has_code("more-gone"));
    // Itself, one twice, five more, no list.
    const char *const bad[] = {"[\"%s\"]", "[\"0\",\"0\"]", "[1,2,3,4,5]", "\"%s\"", "[7]"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        char list[100];
        snprintf(list, sizeof list, bad[i], other);
        snprintf(more, sizeof more, "\"more\":%s", list);
        check_true(post(at(other, "reading"), with_marks("hall-bench-marks.json", more)) == 400);
    }
    check_true(drop_it(at(other, "")) == 200);
}

// ---- The store ---------------------------------------------------------------------

static size_t files_in_own(void)
{
    hw_names names = {0};
    check_true(hw_folder_names(own, &names, NULL) == HW_OK);
    size_t count = names.count;
    hw_names_free(&names);
    return count;
}

static void write_own(const char *name, const char *text)
{
    char path[600];
    snprintf(path, sizeof path, "%s/%s", own, name);
    check_true(hw_file_replace(path, text, strlen(text), NULL) == HW_OK);
}

static void test_sweep(void)
{
    char id[SERVER_UPLOAD_ID];
    check_true(files_in_own() == 0); // all of the above is gone without a trace
    check_true(send_demo("name=d.jpg&job=cabinet", "cabinet-lid-1.jpg", id) == 201);
    write_own("spool-0123456789abcdef", "half a pho");
    write_own("spool-0123456789abcdef.new-77-1", "half a pho");
    write_own("0123456789abcdef.json", "{\"name\":\"no photo came behind it\"}");
    write_own("1123456789abcdef.json.new-77-1", "{\"na");
    write_own("2123456789abcdef", "a photo whose record is gone");
    write_own("3123456789abcdef", "too old");
    write_own("3123456789abcdef.json", "{\"name\":\"a\",\"job\":\"\",\"view\":\"\",\"bytes\":7,"
                                       "\"at\":\"2001-01-01T00:00:00Z\"}");
    write_own("of another program", "stays");
    // One that waits is as old as the clock of this test; made young for the clock that the sweep reads.
    char record[100], text[300];
    snprintf(record, sizeof record, "%s.json", id);
    snprintf(text, sizeof text,
             "{\"name\":\"d.jpg\",\"job\":\"cabinet\",\"view\":\"\",\"bytes\":5,"
             "\"at\":\"2999-01-01T00:00:00Z\"}");
    write_own(record, text);
    // Another program that serves the folder too: what looks left over may be on its way.
    hw_server *second = NULL;
    hw_server_options options = {.folder = folder, .quiet = true};
    int before = (int)files_in_own();
    check_true(server_new(&options, &second, NULL) == HW_OK);
    server_free(&second);
    check_true((int)files_in_own() == before && before == 10);
    stop_server();
    start_server(folder, false);
    check_true(files_in_own() == 3);
    check_true(get("/api/uploads") == 200 && says(id) && !says("0123456789abcdef"));
    check_true(get(at(id, "")) == 200); // whole, and opened by the next program
    check_true(drop_it(at(id, "")) == 200 && files_in_own() == 1);
    check_true(get("/api/jobs") == 200 && !says("huewright-page"));
}

static void test_ceilings(void)
{
    char name[40], record[60], text[200], id[SERVER_UPLOAD_ID];
    for (int i = 0; i < SERVER_UPLOADS_MOST; i++) {
        snprintf(name, sizeof name, "%016x", 0xabc00 + i);
        snprintf(record, sizeof record, "%s.json", name);
        snprintf(text, sizeof text,
                 "{\"name\":\"%d\",\"job\":\"\",\"view\":\"\",\"bytes\":1,"
                 "\"at\":\"2999-01-01T00:00:00Z\"}",
                 i);
        write_own(name, "x");
        write_own(record, text);
    }
    check_true(send_demo("name=e.jpg", "cabinet-lid-1.jpg", id) == 507 && has_code("uploads-full"));
    check_true(drop_it(at(name, "")) == 200);
    check_true(send_demo("name=e.jpg", "cabinet-lid-1.jpg", id) == 201);
    check_true(drop_it(at(id, "")) == 200);
    // 4 GiB in all, whatever their number.
    snprintf(text, sizeof text,
             "{\"name\":\"0\",\"job\":\"\",\"view\":\"\",\"bytes\":4294967290,"
             "\"at\":\"2999-01-01T00:00:00Z\"}");
    snprintf(record, sizeof record, "%016x.json", 0xabc00);
    write_own(record, text);
    check_true(send_demo("name=e.jpg", "cabinet-lid-1.jpg", id) == 507 && has_code("uploads-full"));
    for (int i = 0; i < SERVER_UPLOADS_MOST - 1; i++) {
        snprintf(name, sizeof name, "%016x", 0xabc00 + i);
        check_true(drop_it(at(name, "")) == 200);
    }
    check_true(files_in_own() == 1);
}

int main(void)
{
    char command[900];
    snprintf(folder, sizeof folder, "%s/uploads of %ld", HW_SCRATCH, (long)getpid());
    snprintf(own, sizeof own, "%s/.huewright-page", folder);
    snprintf(command, sizeof command, "rm -rf '%s' && mkdir -p '%s/cabinet'", folder, folder);
    setenv("XDG_DATA_HOME", folder, 1);
    check_true(system(command) == 0);
    snprintf(command, sizeof command, "%s/cabinet", folder);
    check_true(hw_steps_start(command, "Walnut gramophone cabinet", 1790000000, NULL) == HW_OK);
    start_server(folder, false);
    test_first_photo();
    test_shown();
    test_second_photo();
    test_pass_meanwhile();
    test_taken_before();
    test_put_down();
    test_stepboard();
    test_disk();
    test_names();
    test_bodies();
    test_together();
    test_sweep();
    test_ceilings();
    stop_server();
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    check_true(system(command) == 0);
    return check_done();
}
