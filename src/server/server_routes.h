// server_routes.h: the handlers under /api/, each named after what it does; the table that lists them is in server_api.c.
#ifndef HUEWRIGHT_SERVER_ROUTES_H
#define HUEWRIGHT_SERVER_ROUTES_H

#include "server_internal.h"

// server_api_jobs.c
hw_status server_run_jobs(server *server, const server_request *request, server_answer *answer,
                          hw_error *err);
hw_status server_run_last(server *server, const server_request *request, server_answer *answer,
                          hw_error *err);
// server_api_job.c
hw_status server_run_start(server *server, const server_request *request, server_answer *answer,
                           hw_error *err);
hw_status server_run_job(server *server, const server_request *request, server_answer *answer,
                         hw_error *err);
hw_status server_run_history(server *server, const server_request *request, server_answer *answer,
                             hw_error *err);
hw_status server_run_pack(server *server, const server_request *request, server_answer *answer,
                          hw_error *err);
// server_api_log.c
hw_status server_run_pass(server *server, const server_request *request, server_answer *answer,
                          hw_error *err);
hw_status server_run_coat(server *server, const server_request *request, server_answer *answer,
                          hw_error *err);
hw_status server_run_takeoff(server *server, const server_request *request, server_answer *answer,
                             hw_error *err);
hw_status server_run_jar(server *server, const server_request *request, server_answer *answer,
                         hw_error *err);
hw_status server_run_note(server *server, const server_request *request, server_answer *answer,
                          hw_error *err);
hw_status server_run_approval(server *server, const server_request *request, server_answer *answer,
                              hw_error *err);
hw_status server_run_setting(server *server, const server_request *request, server_answer *answer,
                             hw_error *err);
hw_status server_run_withdraw(server *server, const server_request *request, server_answer *answer,
                              hw_error *err);
hw_status server_run_rename(server *server, const server_request *request, server_answer *answer,
                            hw_error *err);
// server_api_show.c
hw_status server_run_advice(server *server, const server_request *request, server_answer *answer,
                            hw_error *err);
hw_status server_run_picture(server *server, const server_request *request, server_answer *answer,
                             hw_error *err);
hw_status server_run_report(server *server, const server_request *request, server_answer *answer,
                            hw_error *err);
hw_status server_run_lamps(server *server, const server_request *request, server_answer *answer,
                           hw_error *err);
// server_api_shelf.c
hw_status server_run_shelf(server *server, const server_request *request, server_answer *answer,
                           hw_error *err);
hw_status server_run_shelf_add(server *server, const server_request *request, server_answer *answer,
                               hw_error *err);
hw_status server_run_shelf_remove(server *server, const server_request *request,
                                  server_answer *answer, hw_error *err);
hw_status server_run_cameras(server *server, const server_request *request, server_answer *answer,
                             hw_error *err);

#endif
