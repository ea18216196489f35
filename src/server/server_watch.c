// server_watch.c: every connection, what it is doing, and a deadline for that.
//
// The library's own time limit starts anew with each byte, so who sends one now and then would keep a connection for ever.
// Here each thing that a client does has an end: its headers, its body, taking in the answer, saying nothing. Only what
// this program itself takes to answer is not counted. A connection whose time is over is told so, where nothing of an
// answer has gone out yet (RFC 9110, 15.5.9), and its socket is shut down; the library then finds it closed.
#include <arpa/inet.h>
#include <netinet/in.h>
#include <sys/socket.h>

#include "server_watch.h"

// Seconds (chosen: a slow phone at the end of the shop's network gets through, a hundred idle clients do not stay).
#define HEADERS_S 10.0
#define JSON_S    20.0
#define IDLE_S    75.0
#define SLOW_S    20.0    // from here on a photo or an answer must have moved at least
#define LEAST_BPS 32768.0 // so many bytes a second on average
// Of a photo that comes and a file that goes out each minute counts for itself: they are large, and who moved much of one fast
// could let it lie for hours.
#define MINUTE_S 60.0

struct server_link {
    server_watch *watch;
    server_link *before, *behind;
    int socket;
    server_doing doing;
    double since; // seconds
    bool first;   // nothing was asked over it yet
    bool ended;   // by us
    uint64_t bytes;
    struct in_addr peer;
};

double server_seconds(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

hw_status server_watch_start(server_watch *watch, hw_error *err)
{
    *watch = (server_watch){0};
    return pthread_mutex_init(&watch->lock, NULL) == 0 ? HW_OK
                                                       : hw_fail_memory(err, "starting the server");
}

void server_watch_stop(server_watch *watch)
{
    pthread_mutex_destroy(&watch->lock);
}

// ---- Connections come and go -------------------------------------------------------

server_link *server_watch_add(server_watch *watch, int socket)
{
    server_link *made = hw_alloc_array(1, sizeof *made);
    struct sockaddr_in peer = {0};
    socklen_t size = sizeof peer;
    if (!made) {
        return NULL;
    }
    if (getpeername(socket, (struct sockaddr *)&peer, &size) == 0) {
        made->peer = peer.sin_addr;
    }
    made->watch = watch;
    made->socket = socket;
    made->since = server_seconds();
    made->first = true;
    pthread_mutex_lock(&watch->lock);
    made->behind = watch->first;
    if (watch->first) {
        watch->first->before = made;
    }
    watch->first = made;
    pthread_mutex_unlock(&watch->lock);
    return made;
}

void server_watch_remove(server_link *link)
{
    if (!link) {
        return;
    }
    server_watch *watch = link->watch;
    pthread_mutex_lock(&watch->lock);
    watch->working -= link->doing == SERVER_WORKS;
    if (link->before) {
        link->before->behind = link->behind;
    } else {
        watch->first = link->behind;
    }
    if (link->behind) {
        link->behind->before = link->before;
    }
    pthread_mutex_unlock(&watch->lock);
    hw_free(link);
}

size_t server_watch_count(server_watch *watch, const void *address)
{
    size_t count = 0;
    pthread_mutex_lock(&watch->lock);
    for (const server_link *link = watch->first; link; link = link->behind) {
        count += memcmp(&link->peer, address, sizeof link->peer) == 0;
    }
    pthread_mutex_unlock(&watch->lock);
    return count;
}

bool server_watch_now(server_link *link, server_doing doing, uint64_t bytes)
{
    server_watch *watch = link->watch;
    pthread_mutex_lock(&watch->lock);
    watch->working += doing == SERVER_WORKS;
    watch->working -= link->doing == SERVER_WORKS;
    link->doing = doing;
    link->since = server_seconds();
    link->bytes = bytes;
    link->first = false;
    bool goes_on = !link->ended;
    pthread_mutex_unlock(&watch->lock);
    return goes_on;
}

void server_watch_moved(server_link *link, size_t bytes)
{
    pthread_mutex_lock(&link->watch->lock);
    link->bytes += bytes;
    pthread_mutex_unlock(&link->watch->lock);
}

size_t server_watch_files(server_watch *watch)
{
    size_t count = 0;
    pthread_mutex_lock(&watch->lock);
    for (const server_link *link = watch->first; link; link = link->behind) {
        count += link->doing == SERVER_SENDS_FILE;
    }
    pthread_mutex_unlock(&watch->lock);
    return count;
}

unsigned server_watch_working(server_watch *watch)
{
    pthread_mutex_lock(&watch->lock);
    unsigned working = watch->working;
    pthread_mutex_unlock(&watch->lock);
    return working;
}

bool server_watch_is_busy(server_watch *watch)
{
    bool busy = false;
    pthread_mutex_lock(&watch->lock);
    for (const server_link *link = watch->first; link; link = link->behind) {
        busy |= !link->ended && link->doing >= SERVER_WORKS;
    }
    pthread_mutex_unlock(&watch->lock);
    return busy;
}

// ---- The end of a connection -------------------------------------------------------

// The whole answer by hand: the library cannot answer before a body is there in full.
static void tell(int socket, const hw_error *why)
{
    server_answer answer = {0};
    hw_text text = {0};
    server_answer_error(&answer, why);
    hw_text_add(
        &text,
        "HTTP/1.1 %u Refused\r\nContent-Type: application/json\r\nCache-Control: no-store\r\n"
        "X-Content-Type-Options: nosniff\r\nConnection: close\r\nContent-Length: %zu\r\n\r\n",
        answer.status, answer.count);
    hw_text_add_bytes(&text, answer.body ? answer.body : answer.fixed, answer.count);
    if (!text.failed) {
        ssize_t sent = send(socket, text.bytes, text.length, MSG_NOSIGNAL | MSG_DONTWAIT);
        (void)sent; // who does not read it, does not
    }
    hw_text_free(&text);
    server_answer_free(&answer);
}

// With the lock held.
static void end(server_link *link, const hw_error *why)
{
    if (why) {
        tell(link->socket, why);
    }
    link->ended = true;
    shutdown(link->socket, SHUT_RDWR);
}

void server_watch_refuse(server_link *link, const hw_error *why)
{
    pthread_mutex_lock(&link->watch->lock);
    if (!link->ended) {
        end(link, why);
    }
    pthread_mutex_unlock(&link->watch->lock);
}

bool server_watch_is_late(server_doing doing, bool first, double took_s, uint64_t bytes)
{
    switch (doing) {
    case SERVER_WAITS:
        return took_s > (first ? HEADERS_S : IDLE_S);
    case SERVER_TAKES_HEADERS:
        return took_s > HEADERS_S;
    case SERVER_TAKES_JSON:
        return took_s > JSON_S;
    case SERVER_TAKES_PHOTO:
    case SERVER_SENDS_FILE:
        return took_s > SLOW_S && (double)bytes < took_s * LEAST_BPS;
    case SERVER_ANSWERS:
        return took_s > SLOW_S + (double)bytes / LEAST_BPS;
    default:
        return false;
    }
}

static bool counts_by_minute(server_doing doing)
{
    return doing == SERVER_TAKES_PHOTO || doing == SERVER_SENDS_FILE;
}

void server_watch_look(server_watch *watch, double now, bool stopping)
{
    hw_error slow = {0};
    hw_status told = hw_fail(&slow, HW_ERR_CALL, "body-slow", "",
                             "Go nearer to the network's sender, and try again.",
                             "what was sent came too slowly");
    (void)told;
    pthread_mutex_lock(&watch->lock);
    for (server_link *link = watch->first; link; link = link->behind) {
        bool sends = link->doing == SERVER_TAKES_HEADERS || link->doing == SERVER_TAKES_JSON ||
                     link->doing == SERVER_TAKES_PHOTO;
        bool idle = sends || link->doing == SERVER_WAITS;
        bool late = server_watch_is_late(link->doing, link->first, now - link->since, link->bytes);
        if (!link->ended && (late || (stopping && idle))) {
            end(link, sends && !stopping ? &slow : NULL);
        } else if (counts_by_minute(link->doing) && now - link->since > MINUTE_S) {
            link->since = now;
            link->bytes = 0;
        }
    }
    pthread_mutex_unlock(&watch->lock);
}
