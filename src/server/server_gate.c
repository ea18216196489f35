// server_gate.c: who may ask at all. Looked at before an address or a body is.
//
// A browser can be made to send requests by any page that it shows. What such a page cannot do is choose Host, Origin and
// Sec-Fetch-Site: so a request must name this very server as its Host (which ends DNS rebinding), and one that changes
// something must come from this server's own page (RFC 6454; Fetch Metadata Request Headers). The library takes none or two
// of a header; here there is exactly one.
#include "server_internal.h"

static hw_status refuse_header(hw_error *err, const char *what)
{
    return hw_fail(err, HW_ERR_CALL, "bad-header", "",
                   "Open the page in a browser, by the address that the terminal shows.", "%s",
                   what);
}

// RFC 9110, 5.6.2
static bool is_token(const char *name)
{
    static const char allowed[] = "!#$%&'*+-.^_`|~0123456789abcdefghijklmnopqrstuvwxyz"
                                  "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    return name[0] && name[strspn(name, allowed)] == 0;
}

static bool is_plain(const char *value)
{
    for (; *value; value++) {
        unsigned char c = (unsigned char)*value;
        if ((c < 0x20 && c != '\t') || c == 0x7f) {
            return false;
        }
    }
    return true;
}

static hw_status check_headers(const server_request *request, hw_error *err)
{
    static const char *const once[] = {"Host",           "Origin",          "Content-Length",
                                       "Content-Type",   "Cookie",          "Transfer-Encoding",
                                       "Sec-Fetch-Site", "Content-Encoding"};
    if (request->too_many_headers) {
        return refuse_header(err, "the request has too many headers");
    }
    for (size_t i = 0; i < request->header_count; i++) {
        if (!is_token(request->header[i].name) || !is_plain(request->header[i].value)) {
            return refuse_header(err, "a header of the request cannot be read");
        }
    }
    for (size_t i = 0; i < sizeof once / sizeof *once; i++) {
        if (server_header_count(request, once[i]) > 1) {
            return refuse_header(err, "a header stands twice in the request");
        }
    }
    // RFC 9112, 6.1: both together may be an attempt at request smuggling.
    if (server_header_of(request, "Transfer-Encoding") &&
        server_header_of(request, "Content-Length")) {
        return refuse_header(err, "the request tells its length in two ways");
    }
    return HW_OK;
}

// Over the loopback it is "localhost" too (RFC 6761, 6.3).
static bool is_this_server(const server_request *request, const char *host)
{
    static const char loopback[] = "127.0.0.1", name[] = "localhost";
    const size_t length = sizeof name - 1; // both are as long
    char start[sizeof name];
    hw_copy_text(start, sizeof start, host);
    bool here = strncmp(request->host, loopback, length) == 0 &&
                (request->host[length] == ':' || !request->host[length]);
    return strcmp(host, request->host) == 0 || (here && hw_same_letters(start, name) &&
                                                strcmp(host + length, request->host + length) == 0);
}

// Of the letters of a host and a port (RFC 3986, 3.2.2)?
static bool is_host(const char *host)
{
    static const char allowed[] = "-._~%!$&'()*+,;=:[]0123456789abcdefghijklmnopqrstuvwxyz"
                                  "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    return host[0] && host[strspn(host, allowed)] == 0;
}

static hw_status check_host(const server_request *request, hw_error *err)
{
    const char *host = server_header_of(request, "Host");
    if (!host || !is_host(host)) { // RFC 9112, 3.2: 400 for none, several or no valid one
        return refuse_header(err, "the request does not say whom it asks");
    }
    if (!is_this_server(request, host)) {
        return hw_fail(err, HW_ERR_CALL, "host", "",
                       "Open the page by the address that the terminal shows.",
                       "this server goes by another name");
    }
    return HW_OK;
}

// "http://" and the Host that was tested.
static bool is_own_origin(const server_request *request, const char *origin)
{
    static const char scheme[] = "http://";
    return strncmp(origin, scheme, sizeof scheme - 1) == 0 &&
           strcmp(origin + sizeof scheme - 1, server_header_of(request, "Host")) == 0;
}

static hw_status check_origin(const server_request *request, hw_error *err)
{
    const char *origin = server_header_of(request, "Origin");
    const char *site = server_header_of(request, "Sec-Fetch-Site");
    bool changes = request->method != SERVER_GET;
    bool own = origin ? is_own_origin(request, origin) : !changes;
    if (!own || (site && strcmp(site, "same-origin") != 0 && strcmp(site, "none") != 0)) {
        return hw_fail(
            err, HW_ERR_CALL, "origin", "",
            "Type the address that the terminal shows into the browser, and go on there.",
            "another page asked for this");
    }
    return HW_OK;
}

hw_status server_gate(const server_request *request, hw_error *err)
{
    hw_status status = check_headers(request, err);
    if (status == HW_OK) {
        status = check_host(request, err);
    }
    return status == HW_OK ? check_origin(request, err) : status;
}

// ---- Bodies ------------------------------------------------------------------------

static bool number_of(const char *text, uint64_t *out)
{
    uint64_t value = 0;
    if (!text[0] || strlen(text) > 18) {
        return false;
    }
    for (; *text; text++) {
        if (*text < '0' || *text > '9') {
            return false;
        }
        value = value * 10 + (uint64_t)(*text - '0');
    }
    *out = value;
    return true;
}

static bool is_kind(const char *type, const char *want)
{
    char start[64];
    hw_copy_text(start, sizeof start, type ? type : "");
    start[strcspn(start, "; \t")] = 0;
    return hw_same_letters(start, want);
}

static hw_status check_kind(const server_request *request, server_body body, hw_error *err)
{
    const char *want = body == SERVER_BODY_JSON ? "application/json" : "application/octet-stream";
    const char *coding = server_header_of(request, "Content-Encoding");
    if (!is_kind(server_header_of(request, "Content-Type"), want) ||
        (coding && !hw_same_letters(coding, "identity"))) {
        char next[96];
        hw_format_text(next, sizeof next, "Send it as %s, not packed.", want);
        return hw_fail(err, HW_ERR_CALL, "body-kind", "", next,
                       "what was sent is not of the kind that belongs here");
    }
    return HW_OK;
}

hw_status server_body_too_large(size_t most, hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "body-large", "",
                   "Send a smaller file: the camera's own JPEG will do.",
                   most < 1048576 ? "what was sent is larger than %.0f KiB"
                                  : "what was sent is larger than %.0f MiB",
                   (double)most / (most < 1048576 ? 1024.0 : 1048576.0));
}

hw_status server_gate_body(const server_request *request, size_t most, hw_error *err)
{
    const char *length = server_header_of(request, "Content-Length");
    const char *coding = server_header_of(request, "Transfer-Encoding");
    uint64_t bytes = 0;
    if (length && !number_of(length, &bytes)) {
        return refuse_header(err, "the length of what was sent cannot be read");
    }
    if (coding && !hw_same_letters(coding, "chunked")) {
        return refuse_header(err, "what was sent is packed in a way that is not known here");
    }
    if (request->route->body == SERVER_BODY_NONE) {
        return bytes > 0 || coding ? hw_fail(err, HW_ERR_CALL, "body-unasked", "",
                                             "Send nothing with it.", "nothing can be sent here")
                                   : HW_OK;
    }
    if (!length && !coding) {
        return hw_fail(err, HW_ERR_CALL, "body-length", "", "Say it with Content-Length.",
                       "the request does not say how much it brings");
    }
    if (bytes > most) {
        return server_body_too_large(most, err);
    }
    return check_kind(request, request->route->body, err);
}
