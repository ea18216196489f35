// server_daemon.c: connections in, answers out. The only file that knows libmicrohttpd, which has one thread a connection,
// so a handler may take its time.
//
// Of one request: the library tells its address (on_target), then its headers (on_headers), where all is decided that
// needs no body; then the body piece by piece (on_piece), then its end (on_end), where the answer is made. Nothing of an
// address is decoded by the library, and no form is. A refusal waits for a small body that comes with it, so that the
// client, who is still sending, does not miss it; else it is sent at once and the connection closed.
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <microhttpd.h>
#include <netinet/in.h>
#include <stdatomic.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include "server_body.h"
#include "server_daemon.h"
#include "server_watch.h"

#define CONNECTIONS_MOST 72 // eight browsers with six each, and some more (chosen)
#define PER_ADDRESS_MOST 16 // from another device; this computer itself may have all
#define WORKING_MOST                                                                               \
    32 // requests that work or wait for others that do; further ones come again later
#define CONNECTION_MEMORY ((size_t)64 << 10) // headers, and pieces of a body
#define FILES_MOST        4 // packed jobs that go out at once: each has its place on the disk
#define FILE_PIECE        ((size_t)64 << 10) // of one, read at a time
#define SEND_BUFFER       (128 << 10)  // the system's, for one: what lies in it counts as taken
#define SWALLOWED_MOST    (32ul << 20) // a phone's photo: its refusal must reach the page

struct server_daemon {
    hw_server *server;
    struct MHD_Daemon *library;
    server_watch watch;
    unsigned port;
    atomic_bool stopping;
};

typedef struct server_visit {
    server_request request;
    char *target;
    char peer[SERVER_ADDRESS_SIZE], host[SERVER_ADDRESS_SIZE + 8];
    server_link *link;
    bool begun, refused;
    hw_error error; // of a refusal
    server_taking taking;
} server_visit;

// ---- Connections -------------------------------------------------------------------

static enum MHD_Result may_connect(void *context, const struct sockaddr *address, socklen_t size)
{
    struct server_daemon *daemon = context;
    struct sockaddr_in from;
    if (daemon->stopping || address->sa_family != AF_INET || size < sizeof from) {
        return MHD_NO;
    }
    memcpy(&from, address, sizeof from);
    bool own = ntohl(from.sin_addr.s_addr) >> 24 == 127;
    return own || server_watch_count(&daemon->watch, &from.sin_addr) < PER_ADDRESS_MOST ? MHD_YES
                                                                                        : MHD_NO;
}

static void on_connection(void *context, struct MHD_Connection *connection, void **link,
                          enum MHD_ConnectionNotificationCode what)
{
    struct server_daemon *daemon = context;
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    if (what == MHD_CONNECTION_NOTIFY_STARTED) {
        *link = info ? server_watch_add(&daemon->watch, info->connect_fd) : NULL;
    } else {
        server_watch_remove(*link);
        *link = NULL;
    }
}

static void tell_address(const struct sockaddr_in *address, char *out, size_t size, bool port)
{
    char text[SERVER_ADDRESS_SIZE] = "";
    inet_ntop(AF_INET, &address->sin_addr, text, sizeof text);
    port = port && ntohs(address->sin_port) != 80; // which a browser leaves out (RFC 9110, 4.2.1)
    hw_format_text(out, size, port ? "%s:%u" : "%s", text, ntohs(address->sin_port));
}

static void find_ends(struct MHD_Connection *connection, server_visit *visit)
{
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    struct sockaddr_in own = {0}, peer = {0};
    socklen_t own_size = sizeof own, peer_size = sizeof peer;
    if (info && getsockname(info->connect_fd, (struct sockaddr *)&own, &own_size) == 0 &&
        getpeername(info->connect_fd, (struct sockaddr *)&peer, &peer_size) == 0) {
        tell_address(&own, visit->host, sizeof visit->host, true);
        tell_address(&peer, visit->peer, sizeof visit->peer, false);
    }
    visit->request.host = visit->host;
    visit->request.peer = visit->peer;
}

// ---- Answers -----------------------------------------------------------------------

typedef struct server_sending {
    int file;
    server_link *link; // gone before the response may be
} server_sending;

static ssize_t on_more(void *context, uint64_t at, char *bytes, size_t most)
{
    server_sending *sending = context;
    ssize_t got = pread(sending->file, bytes, most, (off_t)at);
    if (got <= 0) {
        return MHD_CONTENT_READER_END_WITH_ERROR; // of the length that was told something is missing
    }
    server_watch_moved(sending->link, (size_t)got);
    return got;
}

static void on_sent(void *context)
{
    server_sending *sending = context;
    close(sending->file);
    hw_free(sending);
}

// A file is read while it goes out; its name is gone already, so that nothing stays of it whatever happens.
static struct MHD_Response *respond_with_file(server_visit *visit, server_answer *answer)
{
    struct stat facts;
    struct MHD_Response *response = NULL;
    server_sending *sending = hw_alloc_array(1, sizeof *sending);
    int file = open(answer->file, O_RDONLY | O_CLOEXEC);
    hw_file_remove(answer->file);
    if (sending && file >= 0 && fstat(file, &facts) == 0) {
        *sending = (server_sending){file, visit->link};
        answer->count = (size_t)facts.st_size;
        response = MHD_create_response_from_callback((uint64_t)facts.st_size, FILE_PIECE, on_more,
                                                     sending, on_sent);
    }
    if (!response) {
        hw_free(sending);
        if (file >= 0) {
            close(file);
        }
    }
    return response;
}

static struct MHD_Response *respond_with(server_visit *visit, server_answer *answer)
{
    if (answer->file) {
        return respond_with_file(visit, answer);
    }
    if (!answer->body) {
        return MHD_create_response_from_buffer(answer->count, (void *)(uintptr_t)answer->fixed,
                                               MHD_RESPMEM_PERSISTENT);
    }
    struct MHD_Response *response =
        MHD_create_response_from_buffer_with_free_callback(answer->count, answer->body, hw_free);
    answer->body = response ? NULL : answer->body; // the library's now
    return response;
}

static enum MHD_Result send_answer(server_visit *visit, struct MHD_Connection *connection,
                                   server_answer *answer, bool close)
{
    const char *headers[SERVER_HEADERS_OUT][2];
    struct MHD_Response *response = respond_with(visit, answer);
    if (!response) {
        server_answer_free(answer);
        return MHD_NO;
    }
    bool good = true;
    size_t count = server_answer_headers(answer, headers);
    for (size_t i = 0; i < count; i++) {
        good &= MHD_add_response_header(response, headers[i][0], headers[i][1]) == MHD_YES;
    }
    if (close) {
        good &= MHD_add_response_header(response, MHD_HTTP_HEADER_CONNECTION, "close") == MHD_YES;
    }
    good = good && (answer->file || server_watch_now(visit->link, SERVER_ANSWERS, answer->count)) &&
           MHD_queue_response(connection, answer->status, response) == MHD_YES;
    MHD_destroy_response(response);
    server_answer_free(answer);
    return good ? MHD_YES : MHD_NO;
}

static enum MHD_Result send_refusal(server_visit *visit, struct MHD_Connection *connection,
                                    bool close)
{
    server_answer answer = {0};
    server_answer_error(&answer, &visit->error);
    return send_answer(visit, connection, &answer, close);
}

// From now on this connection sends a file. False: others do already, or its time was over before.
static bool begin_file(struct server_daemon *daemon, server_visit *visit,
                       struct MHD_Connection *connection)
{
    const int buffer = SEND_BUFFER;
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    return server_watch_now(visit->link, SERVER_SENDS_FILE, 0) &&
           server_watch_files(&daemon->watch) <= FILES_MOST && info &&
           setsockopt(info->connect_fd, SOL_SOCKET, SO_SNDBUF, &buffer, sizeof buffer) == 0;
}

// ---- One request -------------------------------------------------------------------

static void *on_target(void *context, const char *target, struct MHD_Connection *connection)
{
    server_visit *made = hw_alloc_array(1, sizeof *made);
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    size_t size = strlen(target) + 1;
    (void)context;
    if (!made || !info || !info->socket_context) {
        hw_free(made);
        return NULL;
    }
    made->link = info->socket_context;
    made->target = hw_alloc_array(size, 1);
    if (!made->target) {
        hw_free(made);
        return NULL;
    }
    memcpy(made->target, target, size);
    bool goes_on = server_watch_now(made->link, SERVER_TAKES_HEADERS, 0);
    (void)goes_on; // it is found closed
    return made;
}

static enum MHD_Result on_header(void *context, enum MHD_ValueKind kind, const char *name,
                                 const char *value)
{
    server_request *request = context;
    (void)kind;
    if (request->header_count == SERVER_HEADERS_MOST) {
        request->too_many_headers = true;
        return MHD_NO;
    }
    request->header[request->header_count++] = (server_header){name, value ? value : ""};
    return MHD_YES;
}

static server_method method_of(const char *method)
{
    return strcmp(method, "GET") == 0 || strcmp(method, "HEAD") == 0 ? SERVER_GET
           : strcmp(method, "POST") == 0                             ? SERVER_POST
           : strcmp(method, "DELETE") == 0                           ? SERVER_DELETE
                                                                     : SERVER_METHOD_COUNT;
}

static hw_status admit(struct server_daemon *daemon, server_visit *visit)
{
    if (daemon->stopping || server_watch_working(&daemon->watch) >= WORKING_MOST) {
        return hw_fail(&visit->error, HW_ERR_CALL, "busy", "", "Try again in a moment.",
                       daemon->stopping ? "the program is about to end"
                                        : "too many requests wait already");
    }
    hw_status status = server_admit(daemon->server, &visit->request, &visit->error);
    if (status == HW_OK) {
        status =
            server_body_begin(&visit->taking, daemon->server, visit->request.route, &visit->error);
    }
    return status;
}

// Is what comes with a refused request small enough to be read and thrown away?
static bool can_swallow(const server_request *request)
{
    const char *length = server_header_of(request, "Content-Length");
    return !server_header_of(request, "Transfer-Encoding") &&
           server_header_count(request, "Content-Length") <= 1 &&
           (!length || (strlen(length) <= 8 && strspn(length, "0123456789") == strlen(length) &&
                        strtoul(length, NULL, 10) <= SWALLOWED_MOST));
}

static enum MHD_Result on_headers(struct server_daemon *daemon, server_visit *visit,
                                  struct MHD_Connection *connection, const char *method)
{
    server_request *request = &visit->request;
    visit->begun = true;
    request->target = visit->target;
    request->method = method_of(method);
    request->now = (int64_t)time(NULL);
    find_ends(connection, visit);
    MHD_get_connection_values(connection, MHD_HEADER_KIND, on_header, request);
    visit->refused = admit(daemon, visit) != HW_OK;
    if (visit->refused && !can_swallow(request)) {
        return send_refusal(visit, connection, true);
    }
    bool large = visit->refused || request->route->body == SERVER_BODY_PHOTO;
    return server_watch_now(visit->link, large ? SERVER_TAKES_PHOTO : SERVER_TAKES_JSON, 0)
               ? MHD_YES
               : MHD_NO;
}

static enum MHD_Result on_piece(server_visit *visit, const char *bytes, size_t count)
{
    server_watch_moved(visit->link, count);
    if (visit->refused) {
        return MHD_YES;
    }
    visit->refused = server_body_add(&visit->taking, bytes, count, &visit->error) != HW_OK;
    if (visit->refused && strcmp(visit->error.code, "body-large") == 0) {
        server_watch_refuse(visit->link, &visit->error);
        return MHD_NO;
    }
    return MHD_YES; // where the disk is full, the rest is read over
}

static enum MHD_Result on_end(struct server_daemon *daemon, server_visit *visit,
                              struct MHD_Connection *connection)
{
    server_answer answer = {0};
    if (!server_watch_now(visit->link, SERVER_WORKS, 0)) {
        return MHD_NO;
    }
    if (!visit->refused) {
        visit->refused = server_body_end(&visit->taking, &visit->request, &visit->error) != HW_OK;
    }
    if (visit->refused) {
        return send_refusal(visit, connection, false);
    }
    server_respond(daemon->server, &visit->request, &answer);
    if (answer.file && !begin_file(daemon, visit, connection)) {
        hw_status busy = hw_fail(&visit->error, HW_ERR_CALL, "busy", "", "Try again in a moment.",
                                 "other jobs are on their way out already");
        (void)busy;
        server_answer_free(&answer);
        return send_refusal(visit, connection, false);
    }
    return send_answer(visit, connection, &answer, false);
}

static enum MHD_Result on_request(void *context, struct MHD_Connection *connection, const char *url,
                                  const char *method, const char *version, const char *bytes,
                                  size_t *count, void **state)
{
    struct server_daemon *daemon = context;
    server_visit *visit = *state;
    (void)url; // on_target has it as it came
    if (!visit || strncmp(version, "HTTP/1.", 7) != 0) {
        return MHD_NO;
    }
    if (!visit->begun) {
        return on_headers(daemon, visit, connection, method);
    }
    if (*count > 0) {
        size_t taken = *count;
        *count = 0;
        return on_piece(visit, bytes, taken);
    }
    return on_end(daemon, visit, connection);
}

static void on_completed(void *context, struct MHD_Connection *connection, void **state,
                         enum MHD_RequestTerminationCode how)
{
    server_visit *visit = *state;
    (void)context;
    (void)connection;
    (void)how;
    if (visit) {
        bool goes_on = server_watch_now(visit->link, SERVER_WAITS, 0);
        (void)goes_on;
        server_body_free(&visit->taking);
        hw_free(visit->target);
        hw_free(visit);
        *state = NULL;
    }
}

// server_request.c decodes, once and strictly.
static size_t leave_as_is(void *context, struct MHD_Connection *connection, char *text)
{
    (void)context;
    (void)connection;
    return strlen(text);
}

// ---- Start and end -----------------------------------------------------------------

static hw_status refuse_port(unsigned port, int error, hw_error *err)
{
    char name[40];
    hw_format_text(name, sizeof name, "port %u", port);
    if (error == EADDRINUSE || error == EACCES) {
        return hw_fail(err, HW_ERR_CALL, "port-taken", name,
                       "Give another one with --port, from 1024 on, or leave it out.",
                       error == EACCES ? "this port is the system's own"
                                       : "another program serves there already");
    }
    return hw_fail(err, HW_ERR_STORAGE, "port-failed", name, "Try another port.",
                   "nothing can be served there (%s)", strerror(error));
}

// A socket that listens at that port, or the error.
static int listen_at(bool lan, unsigned port, int *error)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons((uint16_t)port)};
    int yes = 1, made = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    address.sin_addr.s_addr = htonl(lan ? INADDR_ANY : INADDR_LOOPBACK);
    if (made >= 0 && setsockopt(made, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes) == 0 &&
        bind(made, (const struct sockaddr *)&address, sizeof address) == 0 &&
        listen(made, CONNECTIONS_MOST) == 0) {
        return made;
    }
    *error = errno;
    if (made >= 0) {
        close(made);
    }
    return -1;
}

static hw_status open_port(const hw_server_options *options, int *out, hw_error *err)
{
    int error = 0;
    for (unsigned turn = 0;; turn++) {
        unsigned port = options->port + turn;
        int made = port <= 65535 ? listen_at(options->lan, port, &error) : -1;
        if (made >= 0) {
            *out = made;
            return HW_OK;
        }
        if (error != EADDRINUSE || turn >= options->further_ports || port >= 65535) {
            return refuse_port(options->port, error, err);
        }
    }
}

static unsigned port_of(int socket)
{
    struct sockaddr_in own = {0};
    socklen_t size = sizeof own;
    return getsockname(socket, (struct sockaddr *)&own, &size) == 0 ? ntohs(own.sin_port) : 0;
}

static struct MHD_Daemon *start_library(struct server_daemon *daemon, int listening)
{
    return MHD_start_daemon(
        MHD_USE_INTERNAL_POLLING_THREAD | MHD_USE_THREAD_PER_CONNECTION | MHD_USE_POLL |
            MHD_USE_ITC,
        0, may_connect, daemon, on_request, daemon, MHD_OPTION_LISTEN_SOCKET, listening,
        MHD_OPTION_CONNECTION_LIMIT, (unsigned)CONNECTIONS_MOST, MHD_OPTION_CONNECTION_MEMORY_LIMIT,
        CONNECTION_MEMORY, MHD_OPTION_CONNECTION_TIMEOUT, 0u, MHD_OPTION_STRICT_FOR_CLIENT, 1,
        MHD_OPTION_URI_LOG_CALLBACK, on_target, daemon, MHD_OPTION_NOTIFY_CONNECTION, on_connection,
        daemon, MHD_OPTION_NOTIFY_COMPLETED, on_completed, NULL, MHD_OPTION_UNESCAPE_CALLBACK,
        leave_as_is, NULL, MHD_OPTION_SIGPIPE_HANDLED_BY_APP, 1, MHD_OPTION_END);
}

hw_status server_daemon_start(hw_server *server, server_daemon **out, hw_error *err)
{
    server_daemon *made = hw_alloc_array(1, sizeof *made);
    int listening = -1;
    if (!made) {
        return hw_fail_memory(err, "starting the server");
    }
    made->server = server;
    hw_status status = server_watch_start(&made->watch, err);
    if (status != HW_OK) {
        hw_free(made);
        return status;
    }
    status = open_port(&server->options, &listening, err);
    if (status == HW_OK) {
        made->port = port_of(listening);
        made->library = start_library(made, listening);
        if (!made->library) {
            close(listening);
            status = hw_fail(err, HW_ERR_STORAGE, "server-failed", "", "Try again.",
                             "the server cannot be started");
        }
    }
    if (status != HW_OK) {
        server_watch_stop(&made->watch);
        hw_free(made);
        return status;
    }
    *out = made;
    return HW_OK;
}

unsigned server_daemon_port(const server_daemon *daemon)
{
    return daemon->port;
}

void server_daemon_look(server_daemon *daemon)
{
    server_watch_look(&daemon->watch, server_seconds(), daemon->stopping);
}

void server_daemon_leave_off(server_daemon *daemon)
{
    daemon->stopping = true;
    int listening = MHD_quiesce_daemon(daemon->library);
    if (listening >= 0) {
        close(listening);
    }
}

bool server_daemon_is_idle(server_daemon *daemon)
{
    return !server_watch_is_busy(&daemon->watch);
}

void server_daemon_stop(server_daemon **daemon)
{
    MHD_stop_daemon((*daemon)->library);
    server_watch_stop(&(*daemon)->watch);
    hw_free(*daemon);
    *daemon = NULL;
}
