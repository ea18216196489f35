// server_answer.c: answers, and what all of them carry: nothing from elsewhere may be loaded, no script but the page's own
// files, no frame around it (Content Security Policy Level 3), no guessing of types, no address told to others.
#include "huewright/report.h"
#include "server_internal.h"

void server_answer_free(server_answer *answer)
{
    if (answer->file) {
        hw_file_remove(answer->file); // nothing is there where it was sent
        hw_free(answer->file);
    }
    hw_free(answer->body);
    *answer = (server_answer){0};
}

void server_answer_json(server_answer *answer, char *json)
{
    hw_free(answer->body);
    answer->body = json;
    answer->fixed = NULL;
    answer->count = strlen(json);
    answer->type = "application/json";
}

hw_status server_answer_tree(server_answer *answer, hw_json *tree, hw_error *err)
{
    char *text = NULL;
    hw_status status =
        tree ? hw_json_print(tree, false, &text, err) : hw_fail_memory(err, "writing the answer");
    hw_json_free(tree);
    if (status == HW_OK) {
        server_answer_json(answer, text);
    }
    return status;
}

void server_answer_header(server_answer *answer, const char *name, const char *value)
{
    const size_t most = sizeof answer->extra / sizeof *answer->extra;
    if (answer->extra_count < most) {
        hw_copy_text(answer->extra[answer->extra_count][0], sizeof answer->extra[0][0], name);
        hw_copy_text(answer->extra[answer->extra_count][1], sizeof answer->extra[0][1], value);
        answer->extra_count++;
    }
}

// ---- Errors ------------------------------------------------------------------------

// RFC 9110, 15.5 and 15.6; RFC 6585, 4 (429); RFC 4918, 11.5 (507).
static unsigned status_of(const hw_error *error)
{
    static const struct {
        const char *code;
        unsigned status;
    } known[] = {
        {"host", 403},        {"origin", 403},      {"not-paired", 403},   {"pair-code", 403},
        {"not-found", 404},   {"method", 405},      {"body-slow", 408},    {"moved-on", 409},
        {"job-exists", 409},  {"body-length", 411}, {"body-large", 413},   {"body-kind", 415},
        {"pair-locked", 429}, {"busy", 503},        {"uploads-full", 507},
    };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        if (strcmp(error->code, known[i].code) == 0) {
            return known[i].status;
        }
    }
    return error->status == HW_ERR_INPUT ? 422 : error->status == HW_ERR_STORAGE ? 507 : 400;
}

void server_answer_error(server_answer *answer, const hw_error *error)
{
    static const char lost[] =
        "{\"error\":{\"code\":\"memory\",\"subject\":\"\",\"what\":\"memory is "
        "out\",\"next\":\"Close other programs and try again.\"}}\n";
    char *text = NULL;
    server_answer_free(answer);
    if (hw_report_error_json(error, &text, NULL) == HW_OK) {
        server_answer_json(answer, text);
    } else {
        answer->fixed = lost;
        answer->count = sizeof lost - 1;
        answer->type = "application/json";
    }
    answer->status = status_of(error);
    if (answer->status == 503) {
        server_answer_header(answer, "Retry-After", "1"); // second
    }
    if (answer->status == 405) {
        server_answer_header(answer, "Allow", "GET, HEAD, POST, DELETE");
    }
}

void server_answer_words(server_answer *answer)
{
    bool words = answer->body && answer->type && strcmp(answer->type, "application/json") == 0;
    if (words && server_words_for_page(&answer->body, NULL) == HW_OK) {
        answer->count = strlen(answer->body); // without memory they stay as they are
    }
}

// ---- Headers -----------------------------------------------------------------------

static const char page_policy[] =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "connect-src 'self'; frame-src 'self'; manifest-src 'self'; base-uri 'none'; form-action "
    "'none'; "
    "frame-ancestors 'none'";
// Reports and drawings bring their own style, show pictures that they hold, and run nothing.
static const char report_policy[] =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action "
    "'none'; frame-ancestors 'self'";

size_t server_answer_headers(const server_answer *answer, const char *(*out)[2])
{
    bool drawn = answer->type && strcmp(answer->type, "image/svg+xml") == 0;
    const char *const common[][2] = {
        {"Content-Type", answer->type},
        {"Content-Security-Policy", answer->is_report || drawn ? report_policy : page_policy},
        {"X-Content-Type-Options", "nosniff"},
        {"Referrer-Policy", "no-referrer"},
        {"Cross-Origin-Resource-Policy", "same-origin"},
        {"Cache-Control", answer->cacheable ? "private, max-age=600" : "no-store"},
    };
    size_t count = 0;
    bool own_cache = false;
    for (size_t i = 0; i < answer->extra_count; i++) {
        own_cache |= strcmp(answer->extra[i][0], "Cache-Control") == 0;
    }
    for (size_t i = 0; i < sizeof common / sizeof *common; i++) {
        bool leave = !common[i][1] || (own_cache && strcmp(common[i][0], "Cache-Control") == 0);
        if (!leave) {
            out[count][0] = common[i][0];
            out[count++][1] = common[i][1];
        }
    }
    for (size_t i = 0; i < answer->extra_count; i++) {
        out[count][0] = answer->extra[i][0];
        out[count++][1] = answer->extra[i][1];
    }
    return count;
}
