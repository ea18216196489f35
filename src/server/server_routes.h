// server_routes.h: the handlers under /api/, each named after what it does; the table that lists them is in server_api.c.
#ifndef HUEWRIGHT_SERVER_ROUTES_H
#define HUEWRIGHT_SERVER_ROUTES_H

#include "server_internal.h"

// server_api_jobs.c
server_handler server_run_jobs, server_run_last;
// server_api_job.c
server_handler server_run_start, server_run_job, server_run_history, server_run_pack;
// server_api_log.c
server_handler server_run_pass, server_run_coat, server_run_takeoff, server_run_jar,
    server_run_note, server_run_approval, server_run_setting, server_run_withdraw,
    server_run_rename;
// server_api_show.c
server_handler server_run_advice, server_run_picture, server_run_report, server_run_lamps;
// server_api_shelf.c
server_handler server_run_shelf, server_run_shelf_add, server_run_shelf_remove, server_run_cameras;
// server_api_photo.c
server_handler server_run_photo, server_run_photo_picture;
// server_api_upload.c
server_handler server_run_upload, server_run_uploads, server_run_opened, server_run_upload_picture,
    server_run_upload_reading, server_run_upload_around, server_run_upload_gone;
// server_api_keep.c
server_handler server_run_upload_keep, server_run_upload_stepboard;

#endif
