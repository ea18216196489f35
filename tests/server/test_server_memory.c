// test_server_memory.c: memory that runs out at each allocation in turn, while the server starts and answers: it says so in JSON or
// does as asked, and goes on afterwards.
#include "requests.h"

static const char *const asked[] = {"/api/hello", "/", "/api/nothing", "/lib/d3-zoom.min.js"};

static bool answer_is_whole(void)
{
    hw_limits limits = hw_limits_default();
    hw_json *tree = NULL;
    const char *bytes = test_answer.body ? test_answer.body : test_answer.fixed;
    if (!test_answer.type || strcmp(test_answer.type, "application/json") != 0) {
        return test_answer.status == 200;
    }
    hw_status status = hw_json_parse(bytes, test_answer.count, &limits, "answer", &tree, NULL);
    bool refused = hw_json_member(tree, "error") != NULL;
    hw_json_free(tree);
    return status == HW_OK && refused == (test_answer.status >= 400);
}

static void test_start(void)
{
    static const hw_server_options options = {.folder = HW_SCRATCH, .lan = true, .quiet = true};
    long n = 0;
    for (hw_status status = HW_ERR_STORAGE; status != HW_OK && n < 1000; n++) {
        hw_server *server = NULL;
        hw_error error = {0};
        hw_test_fail_alloc(n);
        status = server_new(&options, &server, &error);
        hw_test_fail_alloc(-1);
        check_true(status == HW_OK || (status == HW_ERR_STORAGE && !server && error.what[0]));
        server_free(&server);
    }
    check_true(n > 1 && n < 1000);
}

static void test_answers(void)
{
    for (size_t i = 0; i < sizeof asked / sizeof *asked; i++) {
        bool enough = false;
        for (long n = 0; !enough && n < 1000; n++) {
            server_request request = asking(SERVER_GET, asked[i]);
            hw_test_fail_alloc(n);
            answered(&request);
            enough = hw_test_allocations() <= n;
            hw_test_fail_alloc(-1);
            check_true(answer_is_whole());
        }
        check_true(enough);
    }
}

// A cookie goes out only where its device was kept.
static void test_pairing(void)
{
    bool enough = false;
    for (long n = 0; !enough && n < 2000; n++) {
        char json[80], code[16];
        server_request request = asking(SERVER_POST, "/api/pair");
        check_true(server_pair_fresh(test_server, 1000, code, sizeof code, NULL) == HW_OK);
        snprintf(json, sizeof json, "{\"code\":\"%s\",\"device\":\"phone\"}", code);
        hw_test_fail_alloc(n);
        posted(&request, json);
        enough = hw_test_allocations() <= n;
        hw_test_fail_alloc(-1);
        check_true(answer_is_whole());
        check_true((test_answer.status == 201) == (header_out("Set-Cookie") != NULL));
    }
    check_true(enough);
}

int main(void)
{
    setenv("XDG_DATA_HOME", HW_SCRATCH "/server_memory", 1);
    test_start();
    start_server(HW_SCRATCH, true);
    test_answers();
    test_pairing();
    stop_server();
    return check_done();
}
