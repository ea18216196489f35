// server_api.c: the table of addresses under /api/, in the order of API.md.
#include "server_routes.h"

const server_route server_api_routes[] = {
    {SERVER_GET, "api/hello", SERVER_BODY_NONE, server_run_hello, true},
    {SERVER_POST, "api/pair", SERVER_BODY_JSON, server_run_pair, true},

    {SERVER_GET, "api/jobs", SERVER_BODY_NONE, server_run_jobs, false},
    {SERVER_POST, "api/jobs", SERVER_BODY_JSON, server_run_start, false},
    {SERVER_GET, "api/jobs/*", SERVER_BODY_NONE, server_run_job, false},
    {SERVER_GET, "api/jobs/*/last", SERVER_BODY_NONE, server_run_last, false},
    {SERVER_GET, "api/jobs/*/history", SERVER_BODY_NONE, server_run_history, false},
    {SERVER_POST, "api/jobs/*/advice", SERVER_BODY_JSON, server_run_advice, false},
    {SERVER_GET, "api/jobs/*/pictures/*", SERVER_BODY_NONE, server_run_picture, false},
    {SERVER_GET, "api/jobs/*/report/*", SERVER_BODY_NONE, server_run_report, false},
    {SERVER_GET, "api/jobs/*/lamps", SERVER_BODY_NONE, server_run_lamps, false},
    {SERVER_GET, "api/jobs/*/pack", SERVER_BODY_NONE, server_run_pack, false},
    {SERVER_POST, "api/jobs/*/passes", SERVER_BODY_JSON, server_run_pass, false},
    {SERVER_POST, "api/jobs/*/coats", SERVER_BODY_JSON, server_run_coat, false},
    {SERVER_POST, "api/jobs/*/takeoffs", SERVER_BODY_JSON, server_run_takeoff, false},
    {SERVER_POST, "api/jobs/*/jars", SERVER_BODY_JSON, server_run_jar, false},
    {SERVER_POST, "api/jobs/*/notes", SERVER_BODY_JSON, server_run_note, false},
    {SERVER_POST, "api/jobs/*/approvals", SERVER_BODY_JSON, server_run_approval, false},
    {SERVER_POST, "api/jobs/*/settings", SERVER_BODY_JSON, server_run_setting, false},
    {SERVER_POST, "api/jobs/*/withdraw", SERVER_BODY_JSON, server_run_withdraw, false},
    {SERVER_POST, "api/jobs/*/rename", SERVER_BODY_JSON, server_run_rename, false},

    {SERVER_GET, "api/shelf", SERVER_BODY_NONE, server_run_shelf, false},
    {SERVER_POST, "api/shelf", SERVER_BODY_JSON, server_run_shelf_add, false},
    {SERVER_DELETE, "api/shelf/*", SERVER_BODY_NONE, server_run_shelf_remove, false},
    {SERVER_GET, "api/cameras", SERVER_BODY_NONE, server_run_cameras, false},
    {0},
};
