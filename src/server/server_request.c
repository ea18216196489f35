// server_request.c: an address, taken apart: path segments and query, each decoded once and strictly (RFC 3986, 2.1 and 3.3).
//
// What always holds of a segment: it is one name. No "/", no ".", no "..", no NUL, no control character, valid UTF-8; so
// it can be looked up in a folder and never leads out of it.
#include "server_internal.h"

#define TARGET_MOST 4096 // bytes (chosen: eight segments and a query, each character as %XX)

const char *server_header_of(const server_request *request, const char *name)
{
    for (size_t i = 0; i < request->header_count; i++) {
        if (hw_same_letters(request->header[i].name, name)) {
            return request->header[i].value;
        }
    }
    return NULL;
}

size_t server_header_count(const server_request *request, const char *name)
{
    size_t count = 0;
    for (size_t i = 0; i < request->header_count; i++) {
        count += hw_same_letters(request->header[i].name, name);
    }
    return count;
}

const char *server_query(const server_request *request, const char *name)
{
    for (size_t i = 0; i < request->query_count; i++) {
        if (strcmp(request->query[i].name, name) == 0) {
            return request->query[i].value;
        }
    }
    return NULL;
}

static hw_status refuse(hw_error *err, const char *what)
{
    return hw_fail(err, HW_ERR_CALL, "bad-address", "", "Start again from the first page.",
                   "this address cannot be read: %s", what);
}

static int digit(char c)
{
    return c >= '0' && c <= '9'   ? c - '0'
           : c >= 'a' && c <= 'f' ? c - 'a' + 10
           : c >= 'A' && c <= 'F' ? c - 'A' + 10
                                  : -1;
}

// What the `length` bytes at `from` stand for, ended by 0. NULL, or what is wrong with them.
static const char *decode(const char *from, size_t length, bool query, char *to, size_t size)
{
    size_t count = 0;
    for (size_t i = 0; i < length; i++) {
        int value = (unsigned char)from[i];
        if (value == '%') {
            int high = i + 2 < length ? digit(from[i + 1]) : -1;
            int low = i + 2 < length ? digit(from[i + 2]) : -1;
            if (high < 0 || low < 0) {
                return "a % without two hexadecimal digits";
            }
            value = high * 16 + low;
            i += 2;
        } else if (query && value == '+') {
            value = ' ';
        }
        if (value < 0x20 || value == 0x7f) {
            return "a control character";
        }
        if (count + 1 >= size) {
            return "a part of it is too long";
        }
        to[count++] = (char)value;
    }
    to[count] = 0;
    return hw_is_utf8(to, count) ? NULL : "no UTF-8";
}

static const char *take_segment(server_request *request, const char *from, size_t length)
{
    if (request->segment_count == SERVER_SEGMENTS_MOST) {
        return "it has too many parts";
    }
    char *to = request->segment[request->segment_count];
    const char *wrong = decode(from, length, false, to, SERVER_SEGMENT_SIZE);
    if (wrong) {
        return wrong;
    }
    if (!to[0] || strcmp(to, ".") == 0 || strcmp(to, "..") == 0 || strchr(to, '/')) {
        return "a part of it is no name";
    }
    request->segment_count++;
    return NULL;
}

static const char *take_pair(server_request *request, const char *from, size_t length)
{
    if (request->query_count == SERVER_QUERY_MOST) {
        return "it asks for too many things";
    }
    server_pair_of *pair = &request->query[request->query_count];
    const char *equals = memchr(from, '=', length);
    size_t name = equals ? (size_t)(equals - from) : length;
    const char *wrong = decode(from, name, true, pair->name, sizeof pair->name);
    pair->value[0] = 0;
    if (!wrong && equals) {
        wrong = decode(equals + 1, length - name - 1, true, pair->value, sizeof pair->value);
    }
    if (wrong) {
        return wrong;
    }
    if (!pair->name[0] || server_query(request, pair->name)) {
        return pair->name[0] ? "it says the same thing twice" : "it names nothing";
    }
    request->query_count++;
    return NULL;
}

// Calls `take` with each piece between `mark`s of [from, end).
static const char *each_piece(server_request *request, const char *from, const char *end, char mark,
                              const char *(*take)(server_request *, const char *, size_t))
{
    for (;;) {
        const char *next = memchr(from, mark, (size_t)(end - from));
        const char *wrong = take(request, from, (size_t)((next ? next : end) - from));
        if (wrong || !next) {
            return wrong;
        }
        from = next + 1;
    }
}

// Of the absolute form (RFC 9112, 3.2.2) only what names this very server.
static const char *path_of(const server_request *request)
{
    static const char scheme[] = "http://";
    const char *target = request->target;
    size_t host = strlen(request->host);
    if (strncmp(target, scheme, sizeof scheme - 1) == 0 &&
        strncmp(target + sizeof scheme - 1, request->host, host) == 0) {
        return target + sizeof scheme - 1 + host;
    }
    return target;
}

hw_status server_request_take(server_request *request, hw_error *err)
{
    const char *path = path_of(request);
    size_t length = strlen(path);
    request->segment_count = request->query_count = 0;
    if (path[0] != '/' || length > TARGET_MOST) {
        return refuse(err, length > TARGET_MOST ? "it is too long" : "it does not start with /");
    }
    for (size_t i = 0; i < length; i++) {
        if (path[i] <= 0x20 || path[i] == 0x7f || path[i] == '#') { // bytes from 0x80 are below 0
            return refuse(err, "a character that must be written as %XX");
        }
    }
    const char *end = path + strcspn(path, "?"), *wrong = NULL;
    if (end > path + 1) {
        wrong = each_piece(request, path + 1, end, '/', take_segment);
    }
    if (!wrong && end[0] && end[1]) {
        wrong = each_piece(request, end + 1, path + length, '&', take_pair);
    }
    return wrong ? refuse(err, wrong) : HW_OK;
}
