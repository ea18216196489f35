// server_upload.h: photos that came and are in no job yet. For server_upload.c, server_opened.c and server_api_upload.c.
#ifndef HUEWRIGHT_SERVER_UPLOAD_H
#define HUEWRIGHT_SERVER_UPLOAD_H

#include "server_api.h"

#define SERVER_UPLOAD_ID     17 // 16 hexadecimal digits by chance, and the final 0
#define SERVER_UPLOADS_MOST  64
#define SERVER_UPLOADS_BYTES (4ULL << 30)
#define SERVER_UPLOADS_DAYS  30 // that one waits at most to be kept

typedef struct server_upload {
    char id[SERVER_UPLOAD_ID];
    char name[SERVER_SEGMENT_SIZE]; // of the file, as the device has it, cleaned
    char job[SERVER_SEGMENT_SIZE];  // that it is for; ""
    char view[HW_NAME_SIZE];        // ""
    uint64_t bytes;
    int64_t at;
    long seen; // highest number of its job's log when it came; 0: it is for none
} server_upload;

// ---- On the disk (server_upload.c) -------------------------------------------------

// FOLDER/.huewright-page/ID
HW_CHECK hw_status server_upload_path(const hw_server *server, const char *id,
                                      char path[SERVER_PATH_SIZE], hw_error *err);
// Code not-found.
HW_CHECK hw_status server_upload_find(hw_server *server, const char *id, server_upload *out,
                                      hw_error *err);
// A whole file that has just come, `path`, becomes an upload: *one is filled but for id and bytes. The same file of that
// name for the same job, sent again, is the upload that is there. Codes uploads-full.
HW_CHECK hw_status server_upload_take(hw_server *server, const char *path, server_upload *one,
                                      hw_error *err);
// All, in the order in which they came. Free *out with hw_free.
HW_CHECK hw_status server_upload_list(hw_server *server, server_upload **out, size_t *count,
                                      hw_error *err);
void server_upload_remove(hw_server *server, const char *id);
// What is known of one, but for its id, as members of *told: of its record, and of what a device is told.
void server_upload_add(hw_json *told, const server_upload *one);

// ---- Opened (server_opened.c) ------------------------------------------------------
//
// The bench (server_bench_take) is held for all three, and while what they give is used.

// Opened a moment ago, or now, as taken from that side. Its marks are those that a device gets told, number for number.
// `placed` false: its marks are not asked for, so where it went off the bench it is only decoded again.
HW_CHECK hw_status server_opened_get(hw_server *server, const server_upload *one, hw_from from,
                                     bool placed, int64_t now, const hw_opened **out,
                                     hw_error *err);
// Were its marks those of that view's last photo, surely, when they were asked for?
bool server_opened_was_followed(hw_server *server, const char *id, const char *view);
const hw_opened *server_opened_find(hw_server *server, const char *id); // NULL: it is not opened
void server_opened_forget(hw_server *server, const char *id);           // NULL: all

// ---- Read together (server_api_more.c) ----------------------------------------------

#define SERVER_MORE_MOST (HW_SHOTS_MOST - 1)

// Further photos of the state that one shows. Large: not for the stack. Its pointers are into itself.
typedef struct server_more {
    server_upload one[SERVER_MORE_MOST];
    char path[SERVER_MORE_MOST][SERVER_PATH_SIZE];
    const char *paths[SERVER_MORE_MOST], *called[SERVER_MORE_MOST];
    size_t count;
    char gone[SERVER_MORE_MOST][SERVER_UPLOAD_ID]; // those that are here no longer
    size_t gone_count;
} server_more;

// "more" of a body. Those that are here no longer are told in `gone`.
HW_CHECK hw_status server_take_more(hw_server *server, const server_request *request,
                                    server_more *out, hw_error *err);
// HW_ERR_CALL more-gone where any of them is.
HW_CHECK hw_status server_more_all_here(const server_more *more, hw_error *err);

// ---- What handlers of photos share (server_api_upload.c) ----------------------------

// The upload that the address names: api/uploads/ID
HW_CHECK hw_status server_take_upload(hw_server *server, const server_request *request,
                                      server_upload *out, hw_error *err);
// From the disk and from the bench, which is held.
void server_upload_drop(hw_server *server, const char *id);
// The marks of a body, as a marks file has them; `picture` may be missing. Free *out with hw_marks_free.
HW_CHECK hw_status server_take_marks(const hw_server *server, const server_request *request,
                                     hw_marks *out, hw_error *err);
HW_CHECK hw_status server_take_from(const hw_json *body, hw_from *out, hw_error *err);
HW_CHECK hw_status server_take_card_lab(const hw_json *body, bool *has, hw_lab *out, hw_error *err);
// ?longest=PX
HW_CHECK hw_status server_query_longest(const server_request *request, size_t *out, hw_error *err);
void server_add_marks(hw_json *root, const hw_marks *marks); // under "marks", as a list
// As JPEG, corrected by that light (NULL: not).
HW_CHECK hw_status server_answer_picture(server_answer *answer, const hw_photo *photo,
                                         const hw_light *light, size_t longest, hw_error *err);

struct server_opened;
struct server_uploads {
    pthread_mutex_t lock; // of the folder
    int held;             // the folder that is served, open and locked
    bool alone;           // no other program served it when this one started
    struct server_opened *opened;
};

#endif
