// server_main.c: start, stop, and what is printed in the terminal. The first line is the address alone, for programs that
// started this one.
//
// The end: SIGTERM, SIGINT and SIGHUP are taken by the main thread alone. Nothing more is taken in, idle connections and half
// bodies end at once, and what is at work has five seconds. What is logged is whole or not there at any moment (job_log.c),
// so work that takes longer, decoding a photo, may be broken off: the client is not told that it was done.
#include <stdlib.h> // says whether this is glibc
#ifdef __GLIBC__
#include <malloc.h>
#endif

#include "huewright/report.h"
#include "server_daemon.h"

#include <signal.h>
#include <sys/stat.h>
#include <unistd.h>

#define LOOK_MS    200
#define FINISH_S   5
#define LINKS_MOST 4

// ---- What all requests share -------------------------------------------------------

const char *server_folder(const hw_server *server)
{
    return server->options.folder;
}

const char *server_shelf_path(const hw_server *server)
{
    return server->options.shelf_path;
}

const hw_limits *server_limits(const hw_server *server)
{
    return &server->limits;
}

void server_bench_take(hw_server *server)
{
    pthread_mutex_lock(&server->bench);
}

void server_bench_leave(hw_server *server)
{
    pthread_mutex_unlock(&server->bench);
}

void server_log_take(hw_server *server)
{
    pthread_mutex_lock(&server->log);
}

void server_log_leave(hw_server *server)
{
    pthread_mutex_unlock(&server->log);
}

// ---- The server without its network ------------------------------------------------

static bool is_folder(const char *path)
{
    struct stat facts;
    return stat(path, &facts) == 0 && S_ISDIR(facts.st_mode);
}

static hw_status check_folders(const hw_server_options *options, hw_error *err)
{
    if (!is_folder(options->folder)) {
        return hw_fail(err, HW_ERR_INPUT, "folder-missing", options->folder,
                       "Name the folder that your jobs lie in, or make it.",
                       "there is no such folder");
    }
    if (options->page_dir && !is_folder(options->page_dir)) {
        return hw_fail(err, HW_ERR_CALL, "page-folder", options->page_dir,
                       "Name the folder with index.html in it, or leave --page-dir out.",
                       "there is no such folder");
    }
    return HW_OK;
}

hw_status server_new(const hw_server_options *options, hw_server **out, hw_error *err)
{
    hw_status status = check_folders(options, err);
    hw_server *made = status == HW_OK ? hw_alloc_array(1, sizeof *made) : NULL;
    if (status != HW_OK) {
        return status;
    }
    if (!made) {
        return hw_fail_memory(err, "starting the server");
    }
    made->options = *options;
    made->limits = hw_limits_default();
    if (pthread_mutex_init(&made->bench, NULL) != 0 || pthread_mutex_init(&made->log, NULL) != 0) {
        hw_free(made);
        return hw_fail_memory(err, "starting the server");
    }
    status = server_pairing_start(made, err);
    if (status == HW_OK) {
        status = server_uploads_start(made, err);
    }
    if (status == HW_OK) {
        status = server_jobs_start(made, err);
    }
    if (status != HW_OK) {
        server_free(&made);
        return status;
    }
    *out = made;
    return HW_OK;
}

void server_free(hw_server **server)
{
    if (server && *server) {
        server_jobs_stop(*server);
        server_uploads_stop(*server);
        server_pairing_stop(*server);
        pthread_mutex_destroy(&(*server)->bench);
        pthread_mutex_destroy(&(*server)->log);
        hw_free(*server);
        *server = NULL;
    }
}

// ---- The terminal ------------------------------------------------------------------

static void print_code(const hw_server *server, const char *code)
{
    char address[LINKS_MOST][SERVER_ADDRESS_SIZE], link[128];
    size_t count = server_lan_addresses(address, LINKS_MOST);
    hw_text qr = {0};
    bool terminal = isatty(STDOUT_FILENO);
    printf("Code for the next device: %.4s %.4s\n", code, code + 4);
    printf("On this computer: http://127.0.0.1:%u/#pair=%s\n", server->port, code);
    for (size_t i = 0; i < count; i++) {
        printf("In your network:  http://%s:%u/#pair=%s\n", address[i], server->port, code);
    }
    if (count == 0) {
        printf("This computer is in no network now, so no other device can reach it.\n");
        return;
    }
    hw_format_text(link, sizeof link, "http://%s:%u/#pair=%s", address[0], server->port, code);
    if (server_qr(link, terminal, &qr, NULL) == HW_OK) {
        printf("Or point the phone's camera at this:\n\n%s\n", hw_text_words(&qr));
    }
    hw_text_free(&qr);
}

void server_show_code(hw_server *server, int64_t now)
{
    char code[16];
    hw_error error = {0};
    if (server_pair_fresh(server, now, code, sizeof code, &error) != HW_OK) {
        fprintf(stderr, "huewright: %s\n", error.what);
        return;
    }
    if (!server->options.quiet) {
        flockfile(stdout);
        print_code(server, code);
        fflush(stdout);
        funlockfile(stdout);
    }
}

static void greet(hw_server *server)
{
    printf("http://127.0.0.1:%u/\n", server->port);
    fflush(stdout);
    if (!server->options.quiet && server->options.lan) {
        printf(
            "Devices in your network reach the jobs in %s once they are paired. What they send is "
            "not encrypted:\nuse this in your own network only.\n",
            server->options.folder);
    } else if (!server->options.quiet) {
        printf("Open this address in a browser on this computer; it shows the jobs in %s.\nFor a "
               "phone start with --lan.\n",
               server->options.folder);
    }
    if (server->options.lan) {
        server_show_code(server, (int64_t)time(NULL));
    }
    if (!server->options.quiet) {
        printf("Ctrl-C ends it.\n");
    }
    fflush(stdout);
}

// ---- Running -----------------------------------------------------------------------

static void wait_ms(long ms)
{
    const struct timespec time = {ms / 1000, ms % 1000 * 1000000};
    nanosleep(&time, NULL);
}

static void run_until(server_daemon *daemon, const sigset_t *ends)
{
    const struct timespec look = {0, LOOK_MS * 1000000L};
    while (sigtimedwait(ends, NULL, &look) < 0) {
        server_daemon_look(daemon);
    }
}

// False where something still works.
static bool finish(server_daemon *daemon)
{
    server_daemon_leave_off(daemon);
    for (int i = 0; i < FINISH_S * 50; i++) {
        server_daemon_look(daemon);
        if (server_daemon_is_idle(daemon)) {
            return true;
        }
        wait_ms(20);
    }
    return false;
}

// Nobody is in the middle of a line then. What takes longer reads a photo before it writes; and a line that was cut
// short all the same is put aside by the next who writes.
static void wait_for_log(hw_server *server)
{
    struct timespec until;
    clock_gettime(CLOCK_REALTIME, &until);
    until.tv_sec += FINISH_S;
    pthread_mutex_timedlock(&server->log, &until);
}

// One heap for all threads, and large pieces given back as soon as they are free: each thread works on photos in its turn,
// and with a heap of its own each kept what one photo takes (half as much memory again after some dozens).
static void give_memory_back(void)
{
#ifdef __GLIBC__
    mallopt(M_ARENA_MAX, 1);
    mallopt(M_MMAP_THRESHOLD, 256 * 1024);
#endif
}

hw_status hw_server_run(const hw_server_options *options, hw_error *err)
{
    hw_server *made = NULL;
    server_daemon *daemon = NULL;
    sigset_t ends, before;
    sigemptyset(&ends);
    sigaddset(&ends, SIGTERM);
    sigaddset(&ends, SIGINT);
    sigaddset(&ends, SIGHUP); // the terminal was closed
    give_memory_back();
    pthread_sigmask(SIG_BLOCK, &ends, &before); // for all threads to come
    signal(SIGPIPE, SIG_IGN);
    hw_status status = server_new(options, &made, err);
    if (status == HW_OK) {
        status = server_daemon_start(made, &daemon, err);
    }
    if (status == HW_OK) {
        made->port = server_daemon_port(daemon);
        greet(made);
        run_until(daemon, &ends);
        if (!finish(daemon)) {
            fflush(stdout);
            wait_for_log(made);
            _exit(0);
        }
        server_daemon_stop(&daemon);
    }
    server_free(&made);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return status;
}
