// server_routes.h: the handlers under /api/, each named after what it does; the table that lists them is in server_api.c.
#ifndef HUEWRIGHT_SERVER_ROUTES_H
#define HUEWRIGHT_SERVER_ROUTES_H

#include "server_internal.h"

// server_api_jobs.c
hw_status server_run_jobs(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err);
hw_status server_run_last(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err);
// server_api_job.c
hw_status server_run_start(hw_server *server, const server_request *request, server_answer *answer,
                           hw_error *err);
hw_status server_run_job(hw_server *server, const server_request *request, server_answer *answer,
                         hw_error *err);
hw_status server_run_history(hw_server *server, const server_request *request,
                             server_answer *answer, hw_error *err);
hw_status server_run_pack(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err);
// server_api_log.c
hw_status server_run_pass(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err);
hw_status server_run_coat(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err);
hw_status server_run_takeoff(hw_server *server, const server_request *request,
                             server_answer *answer, hw_error *err);
hw_status server_run_jar(hw_server *server, const server_request *request, server_answer *answer,
                         hw_error *err);
hw_status server_run_note(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err);
hw_status server_run_approval(hw_server *server, const server_request *request,
                              server_answer *answer, hw_error *err);
hw_status server_run_setting(hw_server *server, const server_request *request,
                             server_answer *answer, hw_error *err);
hw_status server_run_withdraw(hw_server *server, const server_request *request,
                              server_answer *answer, hw_error *err);
hw_status server_run_rename(hw_server *server, const server_request *request, server_answer *answer,
                            hw_error *err);
// server_api_show.c
hw_status server_run_advice(hw_server *server, const server_request *request, server_answer *answer,
                            hw_error *err);
hw_status server_run_picture(hw_server *server, const server_request *request,
                             server_answer *answer, hw_error *err);
hw_status server_run_report(hw_server *server, const server_request *request, server_answer *answer,
                            hw_error *err);
hw_status server_run_lamps(hw_server *server, const server_request *request, server_answer *answer,
                           hw_error *err);
// server_api_shelf.c
hw_status server_run_shelf(hw_server *server, const server_request *request, server_answer *answer,
                           hw_error *err);
hw_status server_run_shelf_add(hw_server *server, const server_request *request,
                               server_answer *answer, hw_error *err);
hw_status server_run_shelf_remove(hw_server *server, const server_request *request,
                                  server_answer *answer, hw_error *err);
hw_status server_run_cameras(hw_server *server, const server_request *request,
                             server_answer *answer, hw_error *err);
// server_api_photo.c
hw_status server_run_photo(hw_server *server, const server_request *request, server_answer *answer,
                           hw_error *err);
hw_status server_run_photo_picture(hw_server *server, const server_request *request,
                                   server_answer *answer, hw_error *err);
// server_api_upload.c
hw_status server_run_upload(hw_server *server, const server_request *request, server_answer *answer,
                            hw_error *err);
hw_status server_run_uploads(hw_server *server, const server_request *request,
                             server_answer *answer, hw_error *err);
hw_status server_run_opened(hw_server *server, const server_request *request, server_answer *answer,
                            hw_error *err);
hw_status server_run_upload_picture(hw_server *server, const server_request *request,
                                    server_answer *answer, hw_error *err);
hw_status server_run_upload_reading(hw_server *server, const server_request *request,
                                    server_answer *answer, hw_error *err);
hw_status server_run_upload_around(hw_server *server, const server_request *request,
                                   server_answer *answer, hw_error *err);
hw_status server_run_upload_gone(hw_server *server, const server_request *request,
                                 server_answer *answer, hw_error *err);
// server_api_keep.c
hw_status server_run_upload_keep(hw_server *server, const server_request *request,
                                 server_answer *answer, hw_error *err);
hw_status server_run_upload_stepboard(hw_server *server, const server_request *request,
                                      server_answer *answer, hw_error *err);

#endif
