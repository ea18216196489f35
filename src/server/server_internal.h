// server_internal.h: requests in, steps called, report out: the front end for a browser.
//
//   server_main.c      start, stop; what is printed in the terminal
//   server_daemon.c    libmicrohttpd: connections in, answers out, a deadline for each request
//   server_gate.c      who may ask at all: Host, Origin, cookie, sizes; before anything else is looked at
//   server_pair.c      one-time codes, cookies of paired devices, the QR code
//   server_request.c   an address and a JSON body, taken apart
//   server_route.c     the table of addresses
//   server_page.c      the files of the page, built in or from a folder
//   server_upload.c    photos that came and are in no job yet
//   server_api_*.c     the addresses under /api/ (API.md tells them all)
//
// A request goes gate, route, api, and becomes an answer. Nothing here knows colours: every result is made by `steps`
// and told by `report`.
#ifndef HUEWRIGHT_SERVER_INTERNAL_H
#define HUEWRIGHT_SERVER_INTERNAL_H

#include "base_internal.h"
#include "huewright/huewright.h"
#include "server.h"

typedef struct server server;

// ---- A request ---------------------------------------------------------------------

typedef enum server_method {
    SERVER_GET = 0, // HEAD too: the daemon leaves the body out
    SERVER_POST,
    SERVER_DELETE,
    SERVER_METHOD_COUNT
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
    hw_json *json;
    const char *
        body_path; // file that holds an upload's raw body; NULL: none; it is the handler's to move away
    size_t body_bytes;
    int64_t now;
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

// ---- Handlers ----------------------------------------------------------------------

// On failure *answer is empty and the error is told by server_answer_error.
typedef hw_status (*server_handler)(server *server, const server_request *request,
                                    server_answer *answer, hw_error *err);

typedef enum server_body {
    SERVER_BODY_NONE = 0,
    SERVER_BODY_JSON,  // application/json, to limits.json_bytes
    SERVER_BODY_PHOTO, // raw bytes, to limits.file_bytes
} server_body;

typedef struct server_route {
    server_method method;
    const char *pattern; // "api/jobs/*/passes": a * is one segment
    server_body body;
    server_handler run;
    bool open; // also without a cookie: the page's own files, hello and pair
} server_route;

extern const server_route server_api_routes[]; // ends with pattern NULL; server_api.c

// Decides and answers, whole: gate, route, handler. Never fails: an error becomes an answer. The caller frees it.
void server_respond(server *server, server_request *request, server_answer *answer);

// ---- What all requests share -------------------------------------------------------

// The folder that jobs lie in, as it was named.
const char *server_folder(const server *server);
const char *server_shelf_path(const server *server); // NULL: the user's own
const hw_limits *server_limits(const server *server);

// One decode, reading, plan, picture or report at a time, the others wait; and one writer at a time. Take the first before
// the second where both are needed.
void server_bench_take(server *server);
void server_bench_leave(server *server);
void server_log_take(server *server);
void server_log_leave(server *server);

#endif
