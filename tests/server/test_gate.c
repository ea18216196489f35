// test_gate.c: who may ask at all. Sources: RFC 9112, 3.2 (Host), 5.1 (names of headers), 6.1 and 6.3 (length); RFC 6454, 7
// and Fetch Metadata Request Headers (W3C), 2 (who asks); RFC 9110, 8.3 (kind of body), 15.5 (statuses).
#include "requests.h"

static void test_host(void)
{
    static const char *const bad[] = {"192.168.1.5", "192.168.1.5:84740", "evil.example:8474",
                                      "localhost:8474", "[::1]:8474"};
    server_request request = asking(SERVER_GET, "/");
    check_true(answered(&request) == 200);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        request = asking(SERVER_GET, "/");
        request.header[0].value = bad[i];
        check_true(answered(&request) == 403 && has_code("host"));
    }
    // 3.2: 400 for none, more than one, and one that is no host
    request = asking(SERVER_GET, "/");
    request.header[0].value = "";
    check_true(answered(&request) == 400 && has_code("bad-header"));
    request = asking(SERVER_GET, "/");
    request.header[0].value = "192.168.1.5:8474 x";
    check_true(answered(&request) == 400 && has_code("bad-header"));
    request = asking(SERVER_GET, "/");
    request.header_count = 0;
    check_true(answered(&request) == 400 && has_code("bad-header"));
    request = asking(SERVER_GET, "/");
    add_header(&request, "host", TEST_HOST);
    check_true(answered(&request) == 400 && has_code("bad-header"));
    // on the loopback alone it is localhost too (RFC 6761, 6.3)
    request = asking(SERVER_GET, "/");
    request.host = "127.0.0.1:8474";
    request.header[0].value = "LocalHost:8474";
    check_true(answered(&request) == 200);
    request.header[0].value = "localhost:8475";
    check_true(answered(&request) == 403);
    request.header[0].value = "localhost:";
    check_true(answered(&request) == 403);
    request.header[0].value = "localhost";
    check_true(answered(&request) == 403);
    request.host = "127.0.0.10:8474"; // another address of the loopback
    request.header[0].value = "localhost0:8474";
    check_true(answered(&request) == 403 && has_code("host"));
    request.header[0].value = "localhost";
    request.host = "127.0.0.1"; // at port 80, which is not said (RFC 9110, 4.2.1)
    check_true(answered(&request) == 200);
    request.header[0].value = "localhost:80";
    check_true(answered(&request) == 403);
}

static unsigned with(server_method method, const char *target, const char *name, const char *value)
{
    server_request request = asking(method, target);
    request.header_count = 1;
    add_header(&request, name, value);
    return answered(&request);
}

static void test_origin(void)
{
    static const char *const bad[] = {"null",
                                      "http://evil.example",
                                      "https://" TEST_HOST,
                                      "http://" TEST_HOST "/",
                                      "http://192.168.1.5",
                                      ""};
    server_request request = asking(SERVER_POST, "/api/pair");
    request.header_count = 1; // none: no browser's page sends that
    check_true(posted(&request, "{}") == 403 && has_code("origin"));
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        check_true(with(SERVER_POST, "/api/pair", "Origin", bad[i]) == 403 && has_code("origin"));
        check_true(with(SERVER_DELETE, "/api/pair", "Origin", bad[i]) == 403);
        check_true(with(SERVER_GET, "/", "Origin", bad[i]) == 403);
    }
    check_true(with(SERVER_GET, "/", "Origin", "http://" TEST_HOST) == 200);
    check_true(with(SERVER_GET, "/", "Sec-Fetch-Site", "same-origin") == 200);
    check_true(with(SERVER_GET, "/", "Sec-Fetch-Site", "none") == 200);
    check_true(with(SERVER_GET, "/", "Sec-Fetch-Site", "same-site") == 403 && has_code("origin"));
    check_true(with(SERVER_GET, "/", "Sec-Fetch-Site", "cross-site") == 403);
    request = asking(SERVER_POST, "/api/pair");
    add_header(&request, "Sec-Fetch-Site", "cross-site");
    check_true(posted(&request, "{}") == 403);
    request = asking(SERVER_POST, "/api/pair");
    add_header(&request, "origin", "http://" TEST_HOST);
    check_true(posted(&request, "{}") == 400 && has_code("bad-header"));
}

static void test_headers(void)
{
    check_true(with(SERVER_GET, "/", "Bad Name", "x") == 400); // 5.1: a name is a token
    check_true(with(SERVER_GET, "/", "Accept ", "x") == 400);
    check_true(with(SERVER_GET, "/", "", "x") == 400);
    check_true(with(SERVER_GET, "/", "Accept", "a\rb") == 400);
    check_true(with(SERVER_GET, "/", "Accept", "a\tb") == 200);
    server_request request = asking(SERVER_GET, "/");
    add_header(&request, "Cookie", "a=b");
    add_header(&request, "Cookie", "a=b"); // RFC 6265, 5.4: a browser sends one
    check_true(answered(&request) == 400);
    request = asking(SERVER_GET, "/");
    request.too_many_headers = true;
    check_true(answered(&request) == 400);
}

// A body with these two headers (NULL: not there) to an address that takes JSON.
static unsigned body(const char *length, const char *coding, const char *type)
{
    server_request request = asking(SERVER_POST, "/api/pair");
    if (length) {
        add_header(&request, "Content-Length", length);
    }
    if (coding) {
        add_header(&request, "Transfer-Encoding", coding);
    }
    if (type) {
        add_header(&request, "Content-Type", type);
    }
    request.body = "{}";
    request.body_bytes = 2;
    return answered(&request);
}

static void test_body(void)
{
    static const char json[] = "application/json";
    check_true(body("2", NULL, json) == 400 && has_code("body-member")); // it came through
    check_true(body(NULL, "chunked", json) == 400 && has_code("body-member"));
    check_true(body("2", NULL, "Application/JSON; charset=utf-8") == 400 &&
               has_code("body-member"));
    check_true(body(NULL, NULL, json) == 411 && has_code("body-length"));
    check_true(body("1024", NULL, json) == 400 && has_code("body-member"));
    check_true(body("1025", NULL, json) == 413 && has_code("body-large")); // 1 KiB and 1 to pair
    check_true(body("10737418240", NULL, json) == 413);
    check_true(body("2", NULL, NULL) == 415 && has_code("body-kind"));
    check_true(body("2", NULL, "text/plain") == 415); // what a form of another page can send
    check_true(body("2", NULL, "application/x-www-form-urlencoded") == 415);
    check_true(body("2", NULL, "multipart/form-data; boundary=x") == 415);
    check_true(body("2", NULL, "application/jsonx") == 415);
    // 6.1: both; 6.3: a length that is no number; another coding
    check_true(body("2", "chunked", json) == 400 && has_code("bad-header"));
    check_true(body("-1", NULL, json) == 400);
    check_true(body("2, 2", NULL, json) == 400);
    check_true(body("0x2", NULL, json) == 400);
    check_true(body("", NULL, json) == 400);
    check_true(body("18446744073709551618", NULL, json) == 400); // 2^64 + 2
    check_true(body(NULL, "gzip, chunked", json) == 400);
    check_true(with(SERVER_GET, "/", "Content-Length", "5") == 400 && has_code("body-unasked"));
    check_true(with(SERVER_GET, "/", "Transfer-Encoding", "chunked") == 400);
    check_true(with(SERVER_GET, "/", "Content-Length", "0") == 200);
    server_request request = asking(SERVER_POST, "/api/pair");
    add_header(&request, "Content-Encoding", "gzip");
    check_true(posted(&request, "{}") == 415);
}

static void test_json(void)
{
    char deep[200] = "";
    server_request request = asking(SERVER_POST, "/api/pair");
    check_true(posted(&request, "{\"code\":") == 400);
    request = asking(SERVER_POST, "/api/pair");
    check_true(posted(&request, "{} {}") == 400);
    request = asking(SERVER_POST, "/api/pair");
    check_true(posted(&request, "") == 400);
    memset(deep, '[', 33); // the limit is 32
    memset(deep + 33, ']', 33);
    request = asking(SERVER_POST, "/api/pair");
    check_true(posted(&request, deep) == 400);
}

// RFC 9110, 15.5.5 and 15.5.6
static void test_routes(void)
{
    server_request request = asking(SERVER_GET, "/api/nothing");
    check_true(answered(&request) == 404 && has_code("not-found"));
    request = asking(SERVER_GET, "/api");
    check_true(answered(&request) == 404);
    request = asking(SERVER_GET, "/nothing.html");
    check_true(answered(&request) == 404);
    request = asking(SERVER_GET, "/index.html/x");
    check_true(answered(&request) == 404);
    request = asking(SERVER_DELETE, "/api/hello");
    check_true(answered(&request) == 405 && has_code("method") && header_out("Allow"));
    request = asking(SERVER_METHOD_COUNT, "/");
    check_true(answered(&request) == 405);
}

// Content Security Policy Level 3: what is not named falls back to default-src 'none'; base, forms and frames do not.
static void test_what_all_carry(void)
{
    server_request request = asking(SERVER_GET, "/");
    check_true(answered(&request) == 200);
    const char *policy = header_out("Content-Security-Policy");
    check_holds(policy, "default-src 'none'");
    check_holds(policy, "script-src 'self';");
    check_holds(policy, "style-src 'self';");
    check_holds(policy, "base-uri 'none'");
    check_holds(policy, "form-action 'none'");
    check_holds(policy, "frame-ancestors 'none'");
    check_true(strstr(policy, "unsafe") == NULL);
    check_text(header_out("X-Content-Type-Options"), "nosniff");
    check_text(header_out("Referrer-Policy"), "no-referrer");
    check_text(header_out("Cross-Origin-Resource-Policy"), "same-origin");
    check_text(header_out("Content-Type"), "text/html; charset=utf-8");
    const char *mark = header_out("ETag");
    check_true(mark && mark[0] == '"');
    char kept[200];
    snprintf(kept, sizeof kept, "%s", mark ? mark : "");
    check_true(with(SERVER_GET, "/", "If-None-Match", kept) == 304 && test_answer.count == 0);
    check_true(with(SERVER_GET, "/", "If-None-Match", "\"other\"") == 200 && test_answer.count > 0);
    request = asking(SERVER_GET, "/api/nothing");
    answered(&request);
    check_text(header_out("Cache-Control"), "no-store");
    check_holds(header_out("Content-Security-Policy"), "default-src 'none'");
}

int main(void)
{
    start_server(HW_SCRATCH, false);
    test_host();
    test_origin();
    test_headers();
    stop_server();
    start_server(HW_SCRATCH, true); // pairing refuses a body without a code
    test_body();
    test_json();
    stop_server();
    start_server(HW_SCRATCH, false);
    test_routes();
    test_what_all_carry();
    stop_server();
    return check_done();
}
