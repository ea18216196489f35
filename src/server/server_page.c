// server_page.c: the page's own files. Built in by embed.cmake; with --page-dir those that are no library's are read from
// that folder, anew each time.
//
// What always holds: nothing outside the folder is opened. Each part of an address is one name (server_request.c) that does
// not start with a dot, and is opened in the folder before it, never through a symbolic link.
#include "server_internal.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#define FILE_MOST ((size_t)8 << 20) // of a file of the page (chosen)

static const char *type_of(const char *address)
{
    static const char *const known[][2] = {
        {".html", "text/html; charset=utf-8"},
        {".css", "text/css; charset=utf-8"},
        {".js", "text/javascript; charset=utf-8"},
        {".svg", "image/svg+xml"},
        {".png", "image/png"},
        {".webmanifest", "application/manifest+json"},
        {".txt", "text/plain; charset=utf-8"},
    };
    const char *ending = strrchr(address, '.');
    for (size_t i = 0; ending && i < sizeof known / sizeof *known; i++) {
        if (strcmp(ending, known[i][0]) == 0) {
            return known[i][1];
        }
    }
    return "application/octet-stream";
}

static hw_status refuse(const char *address, hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "not-found", address, "Start again from the first page.",
                   "there is no such file of the page");
}

// A browser keeps a file and asks whether it is still the same (RFC 9110, 13.1.2).
static hw_status answer_built_in(const server_request *request, const char *address,
                                 server_answer *answer, hw_error *err)
{
    for (const server_file *file = server_files; file->address; file++) {
        if (strcmp(file->address, address) != 0) {
            continue;
        }
        const char *had = server_header_of(request, "If-None-Match");
        bool same = had && strstr(had, file->mark);
        answer->status = same ? 304 : 200;
        answer->type = type_of(address);
        answer->fixed = file->bytes;
        answer->count = same ? 0 : file->count;
        server_answer_header(answer, "ETag", file->mark);
        server_answer_header(answer, "Cache-Control", "no-cache");
        return HW_OK;
    }
    return refuse(address, err);
}

// ---- From a folder -----------------------------------------------------------------

// The file of these names below the folder, or -1.
static int open_below(const char *folder, const char *const *name, size_t count)
{
    int at = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    for (size_t i = 0; at >= 0 && i < count; i++) {
        int flags = O_RDONLY | O_NOFOLLOW | O_CLOEXEC | O_NONBLOCK;
        int next = name[i][0] == '.'
                       ? -1
                       : openat(at, name[i], i + 1 < count ? flags | O_DIRECTORY : flags);
        close(at);
        at = next;
    }
    return at;
}

static bool read_all(int file, char *to, size_t count)
{
    for (size_t got = 0; got < count;) {
        ssize_t more = read(file, to + got, count - got);
        if (more <= 0) {
            return false;
        }
        got += (size_t)more;
    }
    return true;
}

static hw_status answer_live(const char *folder, const char *const *name, size_t count,
                             const char *address, server_answer *answer, hw_error *err)
{
    struct stat facts;
    int file = open_below(folder, name, count);
    if (file < 0 || fstat(file, &facts) != 0 || !S_ISREG(facts.st_mode) ||
        facts.st_size > (off_t)FILE_MOST) {
        if (file >= 0) {
            close(file);
        }
        return refuse(address, err);
    }
    answer->count = (size_t)facts.st_size;
    answer->body = hw_alloc_array(answer->count, 1);
    bool good = answer->body && read_all(file, answer->body, answer->count);
    close(file);
    if (!good) {
        server_answer_free(answer);
        return refuse(address, err);
    }
    answer->type = type_of(address);
    return HW_OK;
}

// ---- Both --------------------------------------------------------------------------

hw_status server_run_page(hw_server *server, const server_request *request, server_answer *answer,
                          hw_error *err)
{
    const char *name[SERVER_SEGMENTS_MOST] = {"index.html"};
    size_t count = request->segment_count ? request->segment_count : 1;
    hw_text address = {0};
    for (size_t i = 0; i < count; i++) {
        if (request->segment_count) {
            name[i] = request->segment[i];
        }
        hw_text_add(&address, "%s%s", i ? "/" : "", name[i]);
    }
    hw_status status;
    if (address.failed) {
        status = hw_fail_memory(err, "finding a file of the page");
    } else if (server->options.page_dir && strcmp(name[0], "lib") != 0) {
        status = answer_live(server->options.page_dir, name, count, address.bytes, answer, err);
    } else {
        status = answer_built_in(request, address.bytes, answer, err);
    }
    hw_text_free(&address);
    return status;
}
