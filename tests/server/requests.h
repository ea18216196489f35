// requests.h: a server without a network, and requests as they come from its own page. `lan` in a shop's network.
#ifndef HUEWRIGHT_TEST_REQUESTS_H
#define HUEWRIGHT_TEST_REQUESTS_H

#include "check.h"
#include "server_internal.h"

#define TEST_HOST "192.168.1.5:8474"

static hw_server *test_server;
static server_answer test_answer;

static inline void start_server(const char *folder, bool lan)
{
    static hw_server_options options;
    options = (hw_server_options){.folder = folder, .lan = lan, .quiet = true};
    if (server_new(&options, &test_server, NULL) != HW_OK) {
        puts("no server");
        exit(1);
    }
}

static inline void stop_server(void)
{
    server_answer_free(&test_answer);
    server_free(&test_server);
}

static inline void add_header(server_request *request, const char *name, const char *value)
{
    request->header[request->header_count++] = (server_header){name, value};
}

static inline server_request asking(server_method method, const char *target)
{
    server_request request = {
        .method = method, .target = target, .peer = "192.168.1.9", .host = TEST_HOST, .now = 1000};
    add_header(&request, "Host", TEST_HOST);
    if (method != SERVER_GET) {
        add_header(&request, "Origin", "http://" TEST_HOST);
    }
    return request;
}

// The status that it is answered with; the answer stays in test_answer.
static inline unsigned answered(server_request *request)
{
    server_answer_free(&test_answer);
    request->route = NULL;
    server_respond(test_server, request, &test_answer);
    return test_answer.status;
}

static inline unsigned posted(server_request *request, const char *json)
{
    static char length[32];
    snprintf(length, sizeof length, "%zu", strlen(json));
    add_header(request, "Content-Type", "application/json");
    add_header(request, "Content-Length", length);
    request->body = json;
    request->body_bytes = strlen(json);
    return answered(request);
}

static inline bool says(const char *words)
{
    return test_answer.body && strstr(test_answer.body, words);
}

static inline bool has_code(const char *code)
{
    char member[80];
    snprintf(member, sizeof member, "\"code\":\t\"%s\"", code);
    return says(member);
}

static inline const char *header_out(const char *name)
{
    const char *headers[SERVER_HEADERS_OUT][2];
    size_t count = server_answer_headers(&test_answer, headers);
    for (size_t i = 0; i < count; i++) {
        if (strcmp(headers[i][0], name) == 0) {
            return headers[i][1];
        }
    }
    return NULL;
}

#endif
