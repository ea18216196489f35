// server_later.c: stands in for parts that are still to come; each is weak, so the real one takes its place.
#include "server_internal.h"

#define LATER __attribute__((weak))

LATER hw_status server_uploads_start(hw_server *server, hw_error *err)
{
    (void)server;
    (void)err;
    return HW_OK;
}

LATER void server_uploads_stop(hw_server *server)
{
    (void)server;
}

LATER hw_status server_jobs_start(hw_server *server, hw_error *err)
{
    (void)server;
    (void)err;
    return HW_OK;
}

LATER void server_jobs_stop(hw_server *server)
{
    (void)server;
}

LATER hw_status server_upload_spool(hw_server *server, char *path, size_t size, hw_error *err)
{
    (void)server;
    (void)path;
    (void)size;
    return hw_fail(err, HW_ERR_CALL, "not-found", "", "Come back later.", "no photo is taken here");
}

LATER const server_route server_api_routes[] = {
    {SERVER_GET, "api/hello", SERVER_BODY_NONE, server_run_hello, true},
    {SERVER_POST, "api/pair", SERVER_BODY_JSON, server_run_pair, true},
    {0},
};
