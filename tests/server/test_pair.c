// test_pair.c: codes and cookies. Sources: RFC 6265, 4.1 (Set-Cookie) and 4.2 (Cookie), draft-ietf-httpbis-rfc6265bis, 5.6.7
// (SameSite); how many codes there are and how many guesses: server_pair.c. SHA-256 of a cookie by coreutils: sha256sum.
#include "requests.h"

#include <sys/stat.h>
#include <unistd.h>

static char cookie[200];

static unsigned pair(const char *code, const char *device, int64_t now)
{
    char json[200];
    server_request request = asking(SERVER_POST, "/api/pair");
    request.now = now;
    snprintf(json, sizeof json, "{\"code\":\"%s\",\"device\":\"%s\"}", code, device);
    unsigned status = posted(&request, json);
    const char *set = header_out("Set-Cookie");
    if (set) {
        snprintf(cookie, sizeof cookie, "%.*s", (int)strcspn(set, ";"), set);
    }
    return status;
}

static int64_t asked_at = 1000;

static unsigned ask_with(const char *cookies)
{
    server_request request = asking(SERVER_GET, "/api/nothing");
    request.now = asked_at;
    if (cookies) {
        add_header(&request, "Cookie", cookies);
    }
    return answered(&request); // 404 where it may ask
}

static void fresh(char code[16], int64_t now)
{
    if (server_pair_fresh(test_server, now, code, 16, NULL) != HW_OK) {
        exit(1);
    }
}

static void test_code(void)
{
    char code[16], other[16], typed[20];
    fresh(code, 1000);
    check_true(strlen(code) == 8 && strspn(code, "23456789ABCDEFGHJKLMNPQRSTUVWXYZ") == 8);
    fresh(other, 1000);
    check_true(strcmp(code, other) != 0);
    check_true(pair(code, "phone", 1001) == 403 && has_code("pair-code")); // replaced
    check_true(pair("", "phone", 1001) == 403);
    check_true(pair("AAAAAAAAAAAAAAAA", "phone", 1001) == 403);
    check_true(pair(other, "bad\\u0007name", 1001) == 400);
    snprintf(typed, sizeof typed, "%.4s %.4s", other, other + 4); // as people type it
    for (char *c = typed; *c; c++) {
        *c = (char)(*c >= 'A' && *c <= 'Z' ? *c - 'A' + 'a' : *c);
    }
    check_true(pair(typed, "phone", 1001) == 201);
    check_true(pair(other, "another", 1002) == 403); // one use
}

static void test_cookie(void)
{
    char twice[600];
    check_true(strlen(cookie) == strlen("huewright-device=") + 64);
    check_holds(header_out("Content-Type"), "json");
    check_true(ask_with(NULL) == 403 && has_code("not-paired"));
    check_true(ask_with(cookie) == 404);
    snprintf(twice, sizeof twice, "a=b; %s; c=d", cookie);
    check_true(ask_with(twice) == 404);
    snprintf(twice, sizeof twice, "x%s", cookie);
    check_true(ask_with(twice) == 403);
    snprintf(twice, sizeof twice, "%s0", cookie);
    check_true(ask_with(twice) == 403);
    snprintf(twice, sizeof twice, "%s", cookie);
    twice[strlen(twice) - 1] = twice[strlen(twice) - 1] == '0' ? '1' : '0';
    check_true(ask_with(twice) == 403);
    check_true(ask_with("huewright-device=") == 403);
    check_true(ask_with("") == 403);
    check_true(ask_with(";;;") == 403);
    server_request request = asking(SERVER_GET, "/api/hello");
    check_true(answered(&request) == 200 && says("\"paired\":false") && says("\"lan\":true"));
    request = asking(SERVER_GET, "/index.html");
    check_true(answered(&request) == 200);
}

static void test_set_cookie(void)
{
    char code[16];
    fresh(code, 1000);
    check_true(pair(code, "phone", 1000 + 600) == 201); // ten minutes
    const char *set = header_out("Set-Cookie");
    check_holds(set, "; HttpOnly");
    check_holds(set, "; SameSite=Strict");
    check_holds(set, "; Path=/");
    check_holds(set, "; Max-Age=7776000"); // 90 days
    fresh(code, 1000);
    check_true(pair(code, "phone", 1000 + 601) == 403 && says("10 minutes"));
    check_true(pair(code, "phone", 1000 + 601) == 403 && !says("10 minutes")); // it was replaced
}

static bool file_says(const char *words)
{
    char bytes[8192] = "";
    FILE *file = fopen(HW_SCRATCH "/pair/huewright/devices.json", "rb");
    size_t count = file ? fread(bytes, 1, sizeof bytes - 1, file) : 0;
    if (file) {
        fclose(file);
    }
    bytes[count] = 0;
    return strstr(bytes, words) != NULL;
}

static void test_restart(void)
{
    struct stat facts;
    char command[400], sum[65] = "";
    check_true(stat(HW_SCRATCH "/pair/huewright/devices.json", &facts) == 0 &&
               (facts.st_mode & 0777) == 0600);
    check_true(!file_says(strchr(cookie, '=') + 1));
    snprintf(command, sizeof command, "printf %%s %s | sha256sum", strchr(cookie, '=') + 1);
    FILE *outside = popen(command, "r");
    check_true(outside && fread(sum, 1, 64, outside) == 64);
    if (outside) {
        pclose(outside);
    }
    check_true(file_says(sum));
    stop_server();
    start_server(HW_SCRATCH, true);
    check_true(ask_with(cookie) == 404);
    asked_at = 1000 + 600 + 7776000; // as long as the browser keeps it
    check_true(ask_with(cookie) == 404);
    asked_at++;
    check_true(ask_with(cookie) == 403 && has_code("not-paired"));
    asked_at = 1000;
}

static void test_many_devices(void)
{
    char code[16], first[200];
    snprintf(first, sizeof first, "%s", cookie);
    for (int i = 0; i < 32; i++) {
        fresh(code, 1000);
        check_true(pair(code, "phone", 1000) == 201);
    }
    check_true(ask_with(cookie) == 404);
    check_true(ask_with(first) == 403); // the oldest went
}

static void test_locked(void)
{
    char code[16];
    fresh(code, 1000);
    for (int i = 0; i < 20; i++) {
        check_true(pair("22222222", "phone", 1000) == 403);
    }
    check_true(pair(code, "phone", 1000) == 429 && has_code("pair-locked"));
    check_true(ask_with(cookie) == 404); // who is paired goes on
    stop_server();
    start_server(HW_SCRATCH, true);
    fresh(code, 1000);
    check_true(pair(code, "phone", 1000) == 201);
}

static void test_loopback(void)
{
    stop_server();
    start_server(HW_SCRATCH, false);
    check_true(ask_with(NULL) == 404);
    check_true(pair("22222222", "phone", 1000) == 400 && has_code("pair-unasked"));
}

// An empty file is what a run leaves that was killed while it made it; a damaged one is said.
static void test_file(void)
{
    hw_server *server = NULL;
    hw_error error = {0};
    hw_server_options options = {.folder = HW_SCRATCH, .lan = true};
    FILE *file = fopen(HW_SCRATCH "/pair/huewright/devices.json", "wb");
    check_true(file && fclose(file) == 0);
    check_true(server_new(&options, &server, NULL) == HW_OK);
    server_free(&server);
    file = fopen(HW_SCRATCH "/pair/huewright/devices.json", "wb");
    check_true(file && fputs("{\"devices\":[{\"name\":1},7,{}", file) >= 0 && fclose(file) == 0);
    check_true(server_new(&options, &server, &error) == HW_ERR_INPUT && !server);
    check_holds(error.subject, "devices.json");
    options.folder = HW_SCRATCH "/nowhere";
    check_true(server_new(&options, &server, NULL) == HW_ERR_INPUT && !server);
}

int main(void)
{
    unlink(HW_SCRATCH "/pair/huewright/devices.json");
    setenv("XDG_DATA_HOME", HW_SCRATCH "/pair", 1);
    start_server(HW_SCRATCH, true);
    test_code();
    test_cookie();
    test_set_cookie();
    test_restart();
    test_many_devices();
    test_locked();
    test_loopback();
    stop_server();
    test_file();
    return check_done();
}
