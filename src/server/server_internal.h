// server_internal.h: requests in, steps called, report out: the front end for a browser.
//
//   server_main.c      start, stop; what is printed in the terminal
//   server_daemon.c    libmicrohttpd: connections in, answers out
//   server_watch.c     a deadline for each request
//   server_body.c      a body as it comes: to memory, or to a file
//   server_gate.c      who may ask at all: Host, Origin, cookie, sizes; before anything else is looked at
//   server_pair.c      one-time codes, cookies of paired devices
//   server_qr.c        libqrencode: the QR code in the terminal
//   server_lan.c       the addresses of this computer
//   server_request.c   an address, taken apart
//   server_answer.c    answers, and what all of them carry
//   server_words.c     sentences that name options of the command line, in words of the page
//   server_route.c     the table of addresses; a request becomes an answer
//   server_page.c      the files of the page, built in (embed.cmake) or from a folder
//   server_upload.c    photos that came and are in no job yet
//   server_opened.c    those of them that are open: decoded once, read often
//   server_api_*.c     the addresses under /api/ (API.md tells them all)
//
// A request goes gate, route, api, and becomes an answer. Nothing here knows colours: every result is made by `steps`
// and told by `report`.
#ifndef HUEWRIGHT_SERVER_INTERNAL_H
#define HUEWRIGHT_SERVER_INTERNAL_H

#include "base_internal.h"
#include "huewright/huewright.h"
#include "server.h"

#include <pthread.h>

typedef struct hw_server hw_server;

// ---- A request ---------------------------------------------------------------------

typedef enum server_method {
    SERVER_GET = 0, // HEAD too: the daemon leaves the body out
    SERVER_POST,
    SERVER_DELETE,
    SERVER_METHOD_COUNT // any other
} server_method;

#define SERVER_HEADERS_MOST  64
#define SERVER_SEGMENTS_MOST 8
#define SERVER_QUERY_MOST    16
#define SERVER_SEGMENT_SIZE  256 // bytes of one part of an address, decoded, with its final 0

typedef struct server_pair_of {
    char name[64];
    char value[SERVER_SEGMENT_SIZE];
} server_pair_of;

typedef struct server_header {
    const char *name, *value; // borrowed
} server_header;

typedef struct server_route server_route;

// Everything of a request that an answer may depend on, so that it can be made without a network (tests, fuzzing).
typedef struct server_request {
    server_method method;
    const char *target; // as it came, "/api/jobs/lid?x=y"; not decoded; borrowed
    const char *peer;   // address that it came from, "192.168.1.7"; borrowed
    const char
        *host; // address and port that it came to, "192.168.1.5:8474": what Host must say; borrowed
    server_header header[SERVER_HEADERS_MOST];
    size_t header_count;
    bool too_many_headers;
    // Filled by server_request_take (server_request.c) from `target`; each decoded, UTF-8, without NUL, "/", "." or "..".
    char segment[SERVER_SEGMENTS_MOST][SERVER_SEGMENT_SIZE];
    size_t segment_count;
    server_pair_of query[SERVER_QUERY_MOST];
    size_t query_count;
    // The body: JSON in memory (tested for depth and size, NULL: none), or a file on the disk for an upload.
    const char *body;      // text that came as JSON; borrowed
    hw_json *json;         // the same as a tree, made and freed by server_respond
    const char *body_path; // file that holds an upload's raw body, whole and synced; NULL: none;
                           // the handler moves it away, else it is removed
    size_t body_bytes;     // of either
    int64_t now;
    const server_route *route; // filled by server_admit
} server_request;

// The header of that name (letters alike), or NULL; and how many there are of it.
const char *server_header_of(const server_request *request, const char *name);
size_t server_header_count(const server_request *request, const char *name);
const char *server_query(const server_request *request, const char *name); // or NULL

// ---- An answer ---------------------------------------------------------------------

typedef struct server_answer {
    unsigned status;       // of HTTP; 0: 200
    const char *type;      // "application/json"; static
    char *body;            // owned: freed with hw_free (or hw_report_free, which is the same)
    const void *fixed;     // static bytes in its place; NULL: none
    char *file;            // path of a file in its place, which is removed once it is open; owned
    size_t count;          // of body or fixed
    char extra[4][2][200]; // further headers: name, value
    size_t extra_count;
    bool cacheable; // else Cache-Control: no-store
    bool is_report; // a report: its own style is let through
} server_answer;

void server_answer_free(server_answer *answer);
// JSON text made by report or here; takes it over.
void server_answer_json(server_answer *answer, char *json);
// A tree; freed in any case. HW_ERR_STORAGE when memory is out.
HW_CHECK hw_status server_answer_tree(server_answer *answer, hw_json *tree, hw_error *err);
// {"error":{...}} with the status of HTTP that fits its code or status: 400 call, 422 input, 507 storage, and those of the
// codes in API.md.
void server_answer_error(server_answer *answer, const hw_error *error);
// Sentences that name options and commands get the words of a page (server_words.c).
void server_answer_words(server_answer *answer);
// The same of a JSON text. *json stays where memory is out.
HW_CHECK hw_status server_words_for_page(char **json, hw_error *err);
// One more header; both are copied (199 bytes at most).
void server_answer_header(server_answer *answer, const char *name, const char *value);
// All headers of the answer: name, value. Borrowed from it. Returns how many.
#define SERVER_HEADERS_OUT 12
size_t server_answer_headers(const server_answer *answer, const char *(*out)[2]);

// ---- Handlers ----------------------------------------------------------------------

// On failure *answer is empty and the error is told by server_answer_error.
typedef hw_status server_handler(hw_server *server, const server_request *request,
                                 server_answer *answer, hw_error *err);

typedef enum server_body {
    SERVER_BODY_NONE = 0,
    SERVER_BODY_JSON,  // application/json, to SERVER_JSON_MOST
    SERVER_BODY_PHOTO, // raw bytes, to limits.file_bytes
} server_body;

// Bytes of JSON that one request may bring. As a tree it takes forty times as much, and many may come at once. (64 marks of 200
// corners, as a browser writes numbers, are 0.5 MiB; who is not paired yet sends a code and a name.)
#define SERVER_JSON_MOST ((size_t)1 << 20)
#define SERVER_JSON_OPEN ((size_t)1 << 10)

struct server_route {
    server_method method;
    const char *pattern; // "api/jobs/*/passes": a * is one segment
    server_body body;
    server_handler *run;
    bool open; // also without a cookie: the page's own files, hello and pair
};

extern const server_route server_api_routes[]; // ends with pattern NULL; server_api.c

// GET api/hello and POST api/pair (server_pair.c).
hw_status server_run_hello(hw_server *server, const server_request *request, server_answer *answer,
                           hw_error *err);
hw_status server_run_pair(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err);
// The page's own files: every GET that is not under api/ (server_page.c).
hw_status server_run_page(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err);

// All that can be decided before a body comes: gate, address, route, and whether such a body is taken. Fills the request.
// Codes: bad-address, bad-header, host, origin, not-paired, not-found, method, body-length, body-large, body-kind, body-unasked.
HW_CHECK hw_status server_admit(hw_server *server, server_request *request, hw_error *err);
// The most bytes that the body of this route may have; 0: none.
size_t server_body_most(const hw_server *server, const server_route *route);
// Decides and answers, whole: server_admit where that was not done, the body's JSON, the handler. Never fails: an error
// becomes an answer. The caller frees it.
void server_respond(hw_server *server, server_request *request, server_answer *answer);

// ---- What all requests share -------------------------------------------------------

struct hw_server {
    hw_server_options options; // borrowed
    hw_limits limits;
    pthread_mutex_t bench, log;
    struct server_pairing *pairing; // server_pair.c
    struct server_uploads *uploads; // server_upload.c
    struct server_jobs *jobs;       // server_api_jobs.c
    unsigned port;                  // 0: no network yet
};

// What a part keeps between requests is made and freed with the server; a part that keeps nothing does nothing.
HW_CHECK hw_status server_uploads_start(hw_server *server,
                                        hw_error *err); // sweeps what a killed one left
void server_uploads_stop(hw_server *server);
// Photos that lie open and that nobody asked for a while give their memory back; with each request.
void server_opened_tidy(hw_server *server, int64_t now);
HW_CHECK hw_status server_jobs_start(hw_server *server, hw_error *err);
void server_jobs_stop(hw_server *server);
HW_CHECK hw_status server_pairing_start(hw_server *server, hw_error *err);
void server_pairing_stop(hw_server *server);

// All of it without a network: *options is borrowed until server_free. As hw_server_run fails.
HW_CHECK hw_status server_new(const hw_server_options *options, hw_server **out, hw_error *err);
void server_free(hw_server **server);

// A fresh name for the file of an upload that is about to come, in FOLDER/.huewright-page/, which is made; the daemon puts the
// file there whole. Where there is no room for another: the refusal (server_upload.c).
HW_CHECK hw_status server_upload_spool(hw_server *server, char *path, size_t size, hw_error *err);

// ---- The gate, the address, devices ------------------------------------------------

// Host, Origin, each header once. Codes bad-header, host, origin.
HW_CHECK hw_status server_gate(const server_request *request, hw_error *err);
// What the headers say of the body fits the route. Codes bad-header, body-...
HW_CHECK hw_status server_gate_body(const server_request *request, size_t most, hw_error *err);
hw_status server_body_too_large(size_t most, hw_error *err);
// Takes the target apart. Code bad-address.
HW_CHECK hw_status server_request_take(server_request *request, hw_error *err);

bool server_is_paired(hw_server *server, const server_request *request); // without --lan: always
// A fresh code in the place of the old one: `code` gets its 8 letters and digits.
HW_CHECK hw_status server_pair_fresh(hw_server *server, int64_t now, char *code, size_t size,
                                     hw_error *err);
void server_show_code(hw_server *server, int64_t now); // the same, and shows it in the terminal
// `words` as a QR code, for printing. `coloured`: with the escapes of a terminal.
HW_CHECK hw_status server_qr(const char *words, bool coloured, hw_text *out, hw_error *err);

#define SERVER_ADDRESS_SIZE 48
// Addresses of this computer in its networks, the likeliest first. Returns how many.
size_t server_lan_addresses(char out[][SERVER_ADDRESS_SIZE], size_t most);

typedef struct server_file {
    const char *address; // "screens/plan.js"
    const unsigned char *bytes;
    size_t count;
    const char *mark; // its SHA-256, in double quotes
} server_file;

extern const server_file
    server_files[]; // the page's files that are built in; ends with address NULL

// ---- For handlers ------------------------------------------------------------------

// The folder that jobs lie in, as it was named.
const char *server_folder(const hw_server *server);
const char *server_shelf_path(const hw_server *server); // NULL: the user's own
const hw_limits *server_limits(const hw_server *server);

// One decode, reading, plan, picture or report at a time, the others wait; and one writer at a time. Take the first before
// the second where both are needed.
void server_bench_take(hw_server *server);
void server_bench_leave(hw_server *server);
void server_log_take(hw_server *server);
void server_log_leave(hw_server *server);

#endif
