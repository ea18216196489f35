// server_route.c: the table of addresses; a request becomes an answer: gate, address, route, cookie, body, handler.
#include "server_internal.h"

static const server_route page_route = {SERVER_GET, "", SERVER_BODY_NONE, server_run_page, true};

// Does the address fit "api/jobs/*/passes"?
static bool fits(const server_request *request, const char *pattern)
{
    size_t at = 0;
    while (*pattern) {
        size_t length = strcspn(pattern, "/");
        bool any = length == 1 && pattern[0] == '*';
        if (at == request->segment_count ||
            (!any && (strncmp(request->segment[at], pattern, length) != 0 ||
                      request->segment[at][length] != 0))) {
            return false;
        }
        at++;
        pattern += length + (pattern[length] == '/');
    }
    return at == request->segment_count;
}

static bool is_api(const server_request *request)
{
    return request->segment_count > 0 && strcmp(request->segment[0], "api") == 0;
}

// *other_method: the address is there, for another method.
static const server_route *find_route(const server_request *request, bool *other_method)
{
    if (!is_api(request)) {
        *other_method = request->method != SERVER_GET;
        return *other_method ? NULL : &page_route;
    }
    for (const server_route *route = server_api_routes; route->pattern; route++) {
        if (fits(request, route->pattern)) {
            if (route->method == request->method) {
                return route;
            }
            *other_method = true;
        }
    }
    return NULL;
}

static hw_status refuse_route(bool other_method, hw_error *err)
{
    if (other_method) {
        return hw_fail(err, HW_ERR_CALL, "method", "", "Start again from the first page.",
                       "this cannot be done at this address");
    }
    return hw_fail(err, HW_ERR_CALL, "not-found", "", "Start again from the first page.",
                   "there is nothing at this address");
}

size_t server_body_most(const hw_server *server, const server_route *route)
{
    return route->body == SERVER_BODY_PHOTO  ? server->limits.file_bytes
           : route->body == SERVER_BODY_NONE ? 0
           : route->open                     ? SERVER_JSON_OPEN
                                             : SERVER_JSON_MOST;
}

hw_status server_admit(hw_server *server, server_request *request, hw_error *err)
{
    bool other_method = false;
    request->route = NULL;
    hw_status status = server_gate(request, err);
    if (status == HW_OK) {
        status = server_request_take(request, err);
    }
    if (status != HW_OK) {
        return status;
    }
    const server_route *route = find_route(request, &other_method);
    if (is_api(request) && !(route && route->open) && !server_is_paired(server, request)) {
        return hw_fail(err, HW_ERR_CALL, "not-paired", "",
                       "Scan the code that the terminal shows, or type it in.",
                       "this device is not paired yet");
    }
    if (!route) {
        return refuse_route(other_method, err);
    }
    request->route = route;
    status = server_gate_body(request, server_body_most(server, route), err);
    if (status != HW_OK) {
        request->route = NULL;
    }
    return status;
}

static hw_status read_json(const hw_server *server, server_request *request, hw_error *err)
{
    hw_status status = hw_json_parse(request->body ? request->body : "", request->body_bytes,
                                     &server->limits, "what was sent", &request->json, err);
    if (status == HW_ERR_INPUT && err) {
        err->status = status = HW_ERR_CALL; // no file of a person's, but the page's own words
    }
    return status;
}

void server_respond(hw_server *server, server_request *request, server_answer *answer)
{
    hw_error error = {0};
    hw_status status = request->route ? HW_OK : server_admit(server, request, &error);
    *answer = (server_answer){0};
    if (status == HW_OK && request->route->body == SERVER_BODY_JSON) {
        status = read_json(server, request, &error);
    }
    if (status == HW_OK) {
        status = request->route->run(server, request, answer, &error);
    }
    hw_json_free(request->json);
    request->json = NULL;
    server_opened_tidy(server, request->now);
    if (status != HW_OK) {
        server_answer_error(answer, &error);
    }
    server_answer_words(answer);
    answer->status = answer->status ? answer->status : 200;
}
