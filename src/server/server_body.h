// server_body.h: a body as it comes. For server_daemon.c.
#ifndef HUEWRIGHT_SERVER_BODY_H
#define HUEWRIGHT_SERVER_BODY_H

#include "server_internal.h"

typedef struct server_taking {
    server_body kind;
    size_t most, count; // bytes that may come, and that came
    hw_text text;       // JSON
    hw_new_file *file;  // a photo
    char path[1024];
    bool kept; // the file is whole and at its path
} server_taking;

// The refusals are those of server_upload_spool, and body-large.
HW_CHECK hw_status server_body_begin(server_taking *taking, hw_server *server,
                                     const server_route *route, hw_error *err);
HW_CHECK hw_status server_body_add(server_taking *taking, const void *bytes, size_t count,
                                   hw_error *err);
// All of it is there: into the request, which borrows it.
HW_CHECK hw_status server_body_end(server_taking *taking, server_request *request, hw_error *err);
void server_body_free(server_taking *taking); // removes what nobody took

#endif
