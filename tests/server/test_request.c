// test_request.c: an address, taken apart once and strictly. Source: RFC 3986 (sections named at each check); RFC 9112, 3.2 for
// the forms of a target; the WHATWG's URL standard, 5.1 for the query.
#include "check.h"
#include "server_internal.h"

static server_request request;

static bool takes(const char *target)
{
    request = (server_request){.target = target, .host = "192.168.1.5:8474"};
    return server_request_take(&request, NULL) == HW_OK;
}

static bool refuses(const char *target)
{
    hw_error error = {0};
    request = (server_request){.target = target, .host = "192.168.1.5:8474"};
    return server_request_take(&request, &error) == HW_ERR_CALL &&
           strcmp(error.code, "bad-address") == 0 && error.what[0] && error.next[0];
}

static void test_paths(void)
{
    check_true(takes("/") && request.segment_count == 0 && request.query_count == 0);
    check_true(takes("/api/jobs/lid/photos/3") && request.segment_count == 5);
    check_text(request.segment[2], "lid");
    // 2.1: the digits of a percent-encoded octet are alike in either case; 2.5: UTF-8
    check_true(takes("/api/jobs/b%C3%BCrste%20%c3%9f"));
    check_text(request.segment[2], "b\xc3\xbcrste \xc3\x9f");
    check_true(takes("/a%25%32%65")); // decoded once: %25 is a %, and not the start of another one
    check_text(request.segment[0], "a%2e");
    check_true(takes("/api/jobs/.../x..y")); // 3.3: only "." and ".." are dot-segments
    check_true(takes("/a+b") && strcmp(request.segment[0], "a+b") == 0);
}

static void test_refused_paths(void)
{
    static const char *const bad[] = {
        "",
        "*",
        "example.org:80",
        "api/jobs",
        "//",
        "//api",
        "/api/",
        "/api//jobs",
        // 3.3 and 5.2.4: dot-segments, also encoded
        "/.",
        "/..",
        "/api/../x",
        "/api/%2e%2e/x",
        "/api/.%2E",
        "/%2e",
        // 2.1: "%" HEXDIG HEXDIG
        "/%",
        "/%4",
        "/%zz",
        "/a%2",
        "/%%34%31",
        // 2.2: an encoded "/" is data, which no name of ours holds; NUL and other control characters
        "/a%2fb",
        "/..%2f..",
        "/a%00",
        "/%00",
        "/a%0d%0aSet-Cookie:x",
        "/a%7f",
        "/a%1f",
        // RFC 3629: no UTF-8: cut, overlong "/", a surrogate, Latin-1
        "/%c3",
        "/%c0%af",
        "/%ed%a0%80",
        "/b%fcrste",
        // 2: characters that must be encoded; 3.5: a fragment is never sent
        "/a b",
        "/b\xc3\xbcrste",
        "/a\tb",
        "/a#b",
        "/a\x01",
        "/1/2/3/4/5/6/7/8/9", // more parts than any address of ours
        "ftp://192.168.1.5:8474/x",
        "http://192.168.1.6:8474/x",
        "http://192.168.1.5:84740/x",
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        if (!check_true(refuses(bad[i]))) {
            printf("    was taken: %s\n", bad[i]);
        }
    }
}

static void test_long(void)
{
    char target[6000] = "/";
    memset(target + 1, 'a', 255);
    check_true(takes(target));
    target[256] = 'a'; // a name of a file has at most 255 bytes (NAME_MAX of Linux)
    check_true(refuses(target));
    for (size_t i = 0; i < 5100; i++) { // seven names of 242 letters, each letter as %61
        static const char letters[] = "/%61";
        target[i] = i % 727 == 0 ? '/' : letters[1 + (i % 727 - 1) % 3];
    }
    target[7 * 727] = 0;
    check_true(strlen(target) > 4096 && refuses(target));
}

static void test_query(void)
{
    check_true(takes("/api/uploads?name=IMG%201.jpg&job=l+d&view=") && request.query_count == 3);
    check_text(server_query(&request, "name"), "IMG 1.jpg");
    check_text(server_query(&request, "job"), "l d"); // application/x-www-form-urlencoded
    check_text(server_query(&request, "view"), "");
    check_true(server_query(&request, "nam") == NULL);
    check_true(takes("/a?") && request.query_count == 0);
    check_true(takes("/a?x=..%2f..%2fetc") &&
               strcmp(server_query(&request, "x"), "../../etc") == 0);
    check_true(takes("/a?x=a=b?c/d") && strcmp(server_query(&request, "x"), "a=b?c/d") == 0); // 3.4
    check_true(refuses("/a?x=1&x=2"));
    check_true(refuses("/a?=1"));
    check_true(refuses("/a?x=1&"));
    check_true(refuses("/a?x=%00"));
    check_true(refuses("/a?x=%ff"));
    check_true(refuses("/a?a1&a2&a3&a4&a5&a6&a7&a8&a9&b1&b2&b3&b4&b5&b6&b7&b8"));
}

// RFC 9112, 3.2.2: a server must take the absolute form.
static void test_absolute(void)
{
    check_true(takes("http://192.168.1.5:8474/api/hello?x=1") && request.segment_count == 2);
    check_text(request.segment[1], "hello");
    check_text(server_query(&request, "x"), "1");
}

int main(void)
{
    test_paths();
    test_refused_paths();
    test_long();
    test_query();
    test_absolute();
    return check_done();
}
