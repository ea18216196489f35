// server_watch.h: every connection, what it is doing, and a deadline for that. For server_daemon.c and its parts.
#ifndef HUEWRIGHT_SERVER_WATCH_H
#define HUEWRIGHT_SERVER_WATCH_H

#include "server_internal.h"

typedef enum server_doing {
    SERVER_WAITS = 0, // nobody asked anything
    SERVER_TAKES_HEADERS,
    SERVER_TAKES_JSON,
    SERVER_TAKES_PHOTO,
    SERVER_WORKS, // the program's own time: no deadline
    SERVER_ANSWERS,
    SERVER_SENDS_FILE, // an answer that lies on the disk until it is taken
} server_doing;

typedef struct server_link server_link; // one connection

typedef struct server_watch {
    pthread_mutex_t lock;
    server_link *first;
    unsigned working; // connections that are in SERVER_WORKS
} server_watch;

double server_seconds(void); // of a clock that nobody sets

HW_CHECK hw_status server_watch_start(server_watch *watch, hw_error *err);
void server_watch_stop(server_watch *watch); // when all connections are gone

// A connection over that socket (IPv4); NULL when memory is out.
server_link *server_watch_add(server_watch *watch, int socket);
void server_watch_remove(server_link *link); // before its socket is closed
// How many are from that address (a struct in_addr).
size_t server_watch_count(server_watch *watch, const void *address);

// From now on it does this. `bytes`: for SERVER_ANSWERS how many go out. False: its time was over before.
bool server_watch_now(server_link *link, server_doing doing, uint64_t bytes);
void server_watch_moved(server_link *link,
                        size_t bytes); // more bytes of a body, or of a file that goes out
unsigned server_watch_working(server_watch *watch);
size_t server_watch_files(server_watch *watch); // connections that are in SERVER_SENDS_FILE
bool server_watch_is_busy(server_watch *watch); // one is at work or answering

// Has it taken too long? `bytes`: that came, of a photo; that went out, of a file; that are to go out, of any other answer.
// `first`: nothing was asked yet.
bool server_watch_is_late(server_doing doing, bool first, double took_s, uint64_t bytes);
// Ends a connection in the middle of its body, with these words.
void server_watch_refuse(server_link *link, const hw_error *why);
// Ends what is late at that time; `stopping`: all that is not at work or answering.
void server_watch_look(server_watch *watch, double now, bool stopping);

#endif
