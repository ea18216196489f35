// server_daemon.h: the network. For server_main.c.
#ifndef HUEWRIGHT_SERVER_DAEMON_H
#define HUEWRIGHT_SERVER_DAEMON_H

#include "server_internal.h"

typedef struct server_daemon server_daemon;

// HW_ERR_CALL port-taken; HW_ERR_STORAGE port-failed, server-failed. The server must outlive it.
HW_CHECK hw_status server_daemon_start(hw_server *server, server_daemon **out, hw_error *err);
unsigned server_daemon_port(const server_daemon *daemon);
void server_daemon_look(server_daemon *daemon); // a few times a second: ends what is late
// Takes no more connections and requests.
void server_daemon_leave_off(server_daemon *daemon);
bool server_daemon_is_idle(server_daemon *daemon); // nothing is worked at or going out
void server_daemon_stop(server_daemon **daemon);   // waits for what is

#endif
