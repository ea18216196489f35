// test_watch.c: how long each thing that a client does may take (as API.md tells it; the numbers are chosen), and how a
// connection ends whose time is over: with 408 and what to do (RFC 9110, 15.5.9), or without a word where nothing was asked.
#include "check.h"
#include "server_watch.h"

#include <sys/socket.h>
#include <unistd.h>

static void test_deadlines(void)
{
    const uint64_t half = 512u << 10, whole = 1u << 20;
    check_true(!server_watch_is_late(SERVER_WAITS, true, 9.9, 0));
    check_true(server_watch_is_late(SERVER_WAITS, true, 10.1, 0));
    check_true(!server_watch_is_late(SERVER_WAITS, false, 74.9, 0));
    check_true(server_watch_is_late(SERVER_WAITS, false, 75.1, 0));
    check_true(!server_watch_is_late(SERVER_TAKES_HEADERS, false, 9.9, 0));
    check_true(server_watch_is_late(SERVER_TAKES_HEADERS, false, 10.1, 0));
    check_true(!server_watch_is_late(SERVER_TAKES_JSON, false, 19.9, 0));
    check_true(server_watch_is_late(SERVER_TAKES_JSON, false, 20.1, whole));
    // 32 KiB a second: 1 MiB in 32 s, half of it in 16 s
    check_true(!server_watch_is_late(SERVER_TAKES_PHOTO, false, 19.9, 0));
    check_true(server_watch_is_late(SERVER_TAKES_PHOTO, false, 20.1, half));
    check_true(!server_watch_is_late(SERVER_TAKES_PHOTO, false, 31.9, whole));
    check_true(server_watch_is_late(SERVER_TAKES_PHOTO, false, 32.1, whole));
    check_true(!server_watch_is_late(SERVER_ANSWERS, false, 51.9, whole));
    check_true(server_watch_is_late(SERVER_ANSWERS, false, 52.1, whole));
    check_true(!server_watch_is_late(SERVER_SENDS_FILE, false, 19.9, 0));
    check_true(server_watch_is_late(SERVER_SENDS_FILE, false, 20.1, half));
    check_true(!server_watch_is_late(SERVER_SENDS_FILE, false, 31.9, whole));
    check_true(server_watch_is_late(SERVER_SENDS_FILE, false, 32.1, whole));
    check_true(!server_watch_is_late(SERVER_WORKS, false, 1e6, 0)); // our own time
}

static int pair[2];
static server_watch watch;

static server_link *connect_pair(void)
{
    if (socketpair(AF_UNIX, SOCK_STREAM, 0, pair) != 0) {
        exit(1);
    }
    return server_watch_add(&watch, pair[0]);
}

// What the other end reads until the end.
static const char *read_all(void)
{
    static char text[4096];
    size_t got = 0;
    for (ssize_t more;
         (more = recv(pair[1], text + got, sizeof text - 1 - got, MSG_DONTWAIT)) > 0;) {
        got += (size_t)more;
    }
    text[got] = 0;
    return text;
}

static void leave(server_link *link)
{
    server_watch_remove(link);
    close(pair[0]);
    close(pair[1]);
}

static void test_stopping(void)
{
    server_link *link = connect_pair();
    check_true(server_watch_now(link, SERVER_WORKS, 0) && server_watch_working(&watch) == 1);
    check_true(server_watch_is_busy(&watch));
    server_watch_look(&watch, server_seconds(), true);
    check_true(server_watch_now(link, SERVER_ANSWERS, 10)); // it goes on to the end
    check_true(server_watch_working(&watch) == 0 && server_watch_is_busy(&watch));
    server_watch_look(&watch, server_seconds(), true);
    check_true(server_watch_now(link, SERVER_WAITS, 0) && !server_watch_is_busy(&watch));
    server_watch_look(&watch, server_seconds(), false);
    check_true(server_watch_now(link, SERVER_WAITS, 0));
    server_watch_look(&watch, server_seconds(), true);
    check_true(!server_watch_now(link, SERVER_TAKES_HEADERS, 0));
    check_text(read_all(), "");
    leave(link);
}

// A file: what was taken in the first minute is no excuse in the second one.
static void test_file(void)
{
    const size_t much = (size_t)1 << 30, minute = 32768 * 61;
    server_link *link = connect_pair();
    check_true(server_watch_files(&watch) == 0);
    check_true(server_watch_now(link, SERVER_SENDS_FILE, 0) && server_watch_files(&watch) == 1);
    check_true(server_watch_is_busy(&watch));
    double begun = server_seconds();
    server_watch_moved(link, much);
    server_watch_look(&watch, begun + 61.0, false);
    check_true(server_watch_is_busy(&watch));
    server_watch_moved(link, minute);
    server_watch_look(&watch, begun + 61.0 + 60.5,
                      false); // half a minute more or less is all the same
    server_watch_look(&watch, begun + 61.0 + 60.5 + 19.0, true);
    check_true(server_watch_is_busy(&watch)); // it goes on to the end
    server_watch_look(&watch, begun + 61.0 + 60.5 + 21.0, false);
    check_true(!server_watch_is_busy(&watch));
    check_true(!server_watch_now(link, SERVER_WAITS, 0) && server_watch_files(&watch) == 0);
    check_text(read_all(), ""); // in the middle of an answer nothing can be told
    leave(link);
}

// A photo on its way in, the same: much of it at once is no leave to stand still.
static void test_photo(void)
{
    server_link *link = connect_pair();
    check_true(server_watch_now(link, SERVER_TAKES_PHOTO, 0));
    double begun = server_seconds();
    server_watch_moved(link, (size_t)1 << 30);
    server_watch_look(&watch, begun + 61.0, false);
    server_watch_look(&watch, begun + 61.0 + 19.0, false);
    check_true(server_watch_now(link, SERVER_TAKES_PHOTO, 0)); // it goes on, and begins anew
    server_watch_moved(link, (size_t)1 << 30);
    begun = server_seconds();
    server_watch_look(&watch, begun + 61.0, false);
    server_watch_look(&watch, begun + 61.0 + 21.0, false);
    check_true(!server_watch_now(link, SERVER_WAITS, 0));
    check_holds(read_all(), "HTTP/1.1 408 ");
    leave(link);
}

static void test_refused(void)
{
    char length[40];
    hw_error why = {0};
    hw_status status = hw_fail(&why, HW_ERR_CALL, "body-slow", "", "Try again.", "it came slowly");
    check_true(status == HW_ERR_CALL);
    server_link *link = connect_pair();
    check_true(server_watch_now(link, SERVER_TAKES_PHOTO, 0));
    server_watch_refuse(link, &why);
    check_true(!server_watch_now(link, SERVER_WORKS, 0)); // the handler is not reached
    const char *told = read_all(), *body = strstr(told, "\r\n\r\n");
    check_true(strncmp(told, "HTTP/1.1 408 ", 13) == 0 && body);
    check_holds(told, "Connection: close\r\n");
    check_holds(told, "it came slowly");
    snprintf(length, sizeof length, "Content-Length: %zu\r\n", body ? strlen(body + 4) : 0);
    check_holds(told, length);
    leave(link);
    check_true(server_watch_working(&watch) == 0 && watch.first == NULL);
}

static void test_order(void)
{
    server_link *link[3];
    for (int i = 0; i < 3; i++) {
        link[i] = connect_pair();
        check_true(link[i] != NULL);
        close(pair[0]);
        close(pair[1]);
    }
    server_watch_remove(link[1]);
    server_watch_remove(link[2]);
    server_watch_remove(link[0]);
    server_watch_remove(NULL);
    check_true(watch.first == NULL);
    hw_test_fail_alloc(0);
    check_true(server_watch_add(&watch, 0) == NULL);
    hw_test_fail_alloc(-1);
}

int main(void)
{
    test_deadlines();
    if (server_watch_start(&watch, NULL) != HW_OK) {
        return 1;
    }
    test_stopping();
    test_file();
    test_photo();
    test_refused();
    test_order();
    server_watch_stop(&watch);
    return check_done();
}
