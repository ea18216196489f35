// server_api.h: what the handlers under /api/ share: which folder a job's name means, values out of a body, and what is put
// beside a result.
#ifndef HUEWRIGHT_SERVER_API_H
#define HUEWRIGHT_SERVER_API_H

#include "server_internal.h"

#define SERVER_OWN_FOLDER ".huewright-page" // beside the jobs: what is on its way in or out
#define SERVER_PATH_SIZE  4400 // the folder that is served, a name in it, and a file in that

// ---- Jobs --------------------------------------------------------------------------

// The folder of that job: a real folder directly inside the one that is served, whose name does not begin with a dot, and
// with a job in it. HW_ERR_CALL not-found.
HW_CHECK hw_status server_find_job(const hw_server *server, const char *name,
                                   char path[SERVER_PATH_SIZE], hw_error *err);
// The one that the address names: api/jobs/J/...
HW_CHECK hw_status server_job_of(const hw_server *server, const server_request *request,
                                 char path[SERVER_PATH_SIZE], hw_error *err);

// The highest number of that job's log; cheap while nothing was logged. HW_ERR_CALL not-found.
HW_CHECK hw_status server_job_last(hw_server *server, const char *name, long *last, hw_error *err);

// ---- Values of a body --------------------------------------------------------------
//
// A member that is missing or null leaves *out as it is; where it is `needed`, and where it is of another kind,
// HW_ERR_CALL body-member tells which one and what it must be.

// Borrowed from the body.
HW_CHECK hw_status server_take_text(const hw_json *body, const char *member, bool needed,
                                    const char **out, hw_error *err);
HW_CHECK hw_status server_take_words(const hw_json *body, const char *member, bool needed,
                                     char *out, size_t size, hw_error *err);
HW_CHECK hw_status server_take_number(const hw_json *body, const char *member, bool needed,
                                      double *out, hw_error *err);
// A whole number from `least` on.
HW_CHECK hw_status server_take_whole(const hw_json *body, const char *member, bool needed,
                                     long least, long *out, hw_error *err);
// What is missing, or a list of at most SERVER_LIST_MOST things: parts of a job, dyes of a board. Lists are compared each with
// each, so a long one would keep all others waiting.
#define SERVER_LIST_MOST 256
HW_CHECK hw_status server_check_list(const hw_json *list, const char *member, hw_error *err);
// *out is owned: hw_free.
HW_CHECK hw_status server_take_names(const hw_json *body, const char *member, bool needed,
                                     char (**out)[HW_NAME_SIZE], size_t *count, hw_error *err);
HW_CHECK hw_status server_take_liquid(const hw_json *body, bool needed, hw_liquid *out,
                                      hw_error *err);
// What names an entry; its letters are tested by the log.
HW_CHECK hw_status server_take_entry(const hw_json *body, const char **out, hw_error *err);
// The same of a number in the address, ?photo=7.
HW_CHECK hw_status server_query_whole(const server_request *request, const char *name, long least,
                                      long *out, hw_error *err);
HW_CHECK hw_status server_query_number(const server_request *request, const char *name, double *out,
                                       hw_error *err);

// ---- Answers -----------------------------------------------------------------------

// To be kept as a file of that name, of which ASCII letters, digits and ".-_" stay.
void server_answer_as_file(server_answer *answer, const char *name);
// A result as report made it, as a tree to which members are added; frees the text.
HW_CHECK hw_status server_open_json(char *json, hw_json **out, hw_error *err);
// A result with the same as text, a member of it; frees json alone.
HW_CHECK hw_status server_answer_both(server_answer *answer, char *json, const char *text,
                                      hw_error *err);

#endif
