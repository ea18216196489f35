// server_upload.c: photos that came and are in no job yet: files in FOLDER/.huewright-page/, which is no job, for its name
// begins with a dot.
//
//   spool-KEY   a body that is coming, or came and was not taken in yet (with .new-PROCESS-N behind while it comes)
//   ID.json     what is known of a photo: written before the photo is there, so ID alone tells that it is whole
//   ID          the photo as it came
//
// What a killed program left of the first kind, and a record without its photo, is swept when the next one starts; so is
// what nobody kept for a month. Other names in the folder are not ours. Where another program serves the same folder, what
// lies there may be on its way to that one, so nothing is swept.
#include "server_upload.h"
#include "server_routes.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <sys/file.h>
#include <unistd.h>
#include <sys/stat.h>

static const char spool[] = "spool-";
static const char record[] = ".json";

static bool is_id(const char *name)
{
    return strlen(name) == SERVER_UPLOAD_ID - 1 &&
           strspn(name, "0123456789abcdef") == SERVER_UPLOAD_ID - 1;
}

static hw_status own_path(const hw_server *server, const char *name, const char *more,
                          char path[SERVER_PATH_SIZE], hw_error *err)
{
    return hw_format_text(path, SERVER_PATH_SIZE, "%s/%s%s%s%s", server_folder(server),
                          SERVER_OWN_FOLDER, name[0] ? "/" : "", name, more)
               ? HW_OK
               : hw_fail(err, HW_ERR_CALL, "folder-long", server_folder(server),
                         "Put the folder where its path is shorter.", "its path is too long");
}

hw_status server_upload_path(const hw_server *server, const char *id, char path[SERVER_PATH_SIZE],
                             hw_error *err)
{
    return own_path(server, id, "", path, err);
}

static void remove_name(const hw_server *server, const char *name, const char *more)
{
    char path[SERVER_PATH_SIZE];
    hw_error unheard = {0};
    if (own_path(server, name, more, path, &unheard) == HW_OK) {
        hw_file_remove(path);
    }
}

void server_upload_remove(hw_server *server, const char *id)
{
    pthread_mutex_lock(&server->uploads->lock);
    remove_name(server, id, ""); // first: a record alone is swept
    remove_name(server, id, record);
    pthread_mutex_unlock(&server->uploads->lock);
}

// ---- The record --------------------------------------------------------------------

void server_upload_add(hw_json *told, const server_upload *one)
{
    char at[40];
    hw_format_time(at, one->at);
    hw_json_add_text(told, "name", one->name);
    hw_json_add_text(told, "job", one->job);
    hw_json_add_text(told, "view", one->view);
    hw_json_add_number(told, "bytes", (double)one->bytes);
    hw_json_add_text(told, "at", at);
    hw_json_add_number(told, "seen", (double)one->seen);
}

static hw_status write_record(const hw_server *server, const server_upload *one, hw_error *err)
{
    char path[SERVER_PATH_SIZE], *text = NULL;
    hw_json *json = hw_json_new_object();
    server_upload_add(json, one);
    hw_status status = own_path(server, one->id, record, path, err);
    if (status == HW_OK) {
        status = hw_json_print(json, true, &text, err);
    }
    if (status == HW_OK) {
        status = hw_file_replace(path, text, strlen(text), err);
    }
    hw_free(text);
    hw_json_free(json);
    return status;
}

static bool take_text(const hw_json *json, const char *name, char *out, size_t size)
{
    const char *text = hw_json_member_text(json, name);
    return text && hw_copy_text(out, size, text);
}

static bool take_record(const hw_json *json, server_upload *out)
{
    double bytes = 0.0, seen = 0.0;
    bool good = take_text(json, "name", out->name, sizeof out->name) &&
                take_text(json, "job", out->job, sizeof out->job) &&
                take_text(json, "view", out->view, sizeof out->view) &&
                hw_json_member_number(json, "bytes", &bytes) && bytes >= 0.0 && bytes < 1e15 &&
                hw_parse_time(hw_json_member_text(json, "at"), &out->at);
    out->bytes = good ? (uint64_t)bytes : 0;
    bool known = hw_json_member_number(json, "seen", &seen) && seen >= 0.0 && seen < 1e15;
    out->seen = known ? (long)seen : 0;
    return good;
}

// False: there is no such upload whole.
static bool read_record(const hw_server *server, const char *id, server_upload *out)
{
    char path[SERVER_PATH_SIZE];
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_json *json = NULL;
    hw_error unheard = {0};
    *out = (server_upload){.bytes = 0};
    bool good = is_id(id) && own_path(server, id, "", path, &unheard) == HW_OK &&
                hw_file_exists(path) && own_path(server, id, record, path, &unheard) == HW_OK &&
                hw_file_read(path, server->limits.json_bytes, &bytes, &count, &unheard) == HW_OK &&
                hw_json_parse((const char *)bytes, count, &server->limits, path, &json, &unheard) ==
                    HW_OK &&
                take_record(json, out);
    hw_copy_text(out->id, sizeof out->id, good ? id : "");
    hw_json_free(json);
    hw_free(bytes);
    return good;
}

hw_status server_upload_find(hw_server *server, const char *id, server_upload *out, hw_error *err)
{
    pthread_mutex_lock(&server->uploads->lock);
    bool found = read_record(server, id, out);
    pthread_mutex_unlock(&server->uploads->lock);
    return found ? HW_OK
                 : hw_fail(err, HW_ERR_CALL, "not-found", id,
                           "Look whether it is in the job already; else send it again.",
                           "this photo does not wait here any more");
}

// ---- All of them -------------------------------------------------------------------

static int by_time(const void *one, const void *other)
{
    const server_upload *a = one, *b = other;
    return a->at != b->at ? (a->at > b->at) - (a->at < b->at) : strcmp(a->id, b->id);
}

// What came of a body so far.
static uint64_t bytes_of(const hw_server *server, const char *name)
{
    char path[SERVER_PATH_SIZE];
    struct stat facts;
    hw_error unheard = {0};
    return own_path(server, name, "", path, &unheard) == HW_OK && stat(path, &facts) == 0
               ? (uint64_t)facts.st_size
               : 0;
}

// Bodies that are on their way.
typedef struct on_the_way {
    size_t count;
    uint64_t bytes;
} on_the_way;

static hw_status list(const hw_server *server, server_upload **out, size_t *count,
                      on_the_way *coming, hw_error *err)
{
    char path[SERVER_PATH_SIZE];
    hw_names names = {0};
    *count = 0;
    *coming = (on_the_way){0};
    hw_status status = own_path(server, "", "", path, err);
    if (status == HW_OK && hw_file_exists(path)) {
        status = hw_folder_names(path, &names, err);
    }
    server_upload *all = status == HW_OK ? hw_alloc_array(names.count + 1, sizeof *all) : NULL;
    if (status == HW_OK && !all) {
        status = hw_fail_memory(err, "listing the photos");
    }
    for (size_t i = 0; i < names.count && status == HW_OK; i++) {
        *count += read_record(server, names.name[i], &all[*count]);
        if (strncmp(names.name[i], spool, sizeof spool - 1) == 0) {
            coming->count++;
            coming->bytes += bytes_of(server, names.name[i]);
        }
    }
    hw_names_free(&names);
    if (status == HW_OK) {
        qsort(all, *count, sizeof *all, by_time);
        *out = all;
    }
    return status;
}

hw_status server_upload_list(hw_server *server, server_upload **out, size_t *count, hw_error *err)
{
    on_the_way coming;
    pthread_mutex_lock(&server->uploads->lock);
    hw_status status = list(server, out, count, &coming, err);
    pthread_mutex_unlock(&server->uploads->lock);
    return status;
}

// Is there room for what is here and on its way, and so many more?
static hw_status check_room(const hw_server *server, size_t coming_more, hw_error *err)
{
    server_upload *all = NULL;
    size_t count;
    on_the_way coming;
    hw_status status = list(server, &all, &count, &coming, err);
    uint64_t sum = coming.bytes;
    for (size_t i = 0; i < count && status == HW_OK; i++) {
        sum += all[i].bytes;
    }
    hw_free(all);
    bool full = status == HW_OK && (count + coming.count + coming_more > SERVER_UPLOADS_MOST ||
                                    sum > SERVER_UPLOADS_BYTES);
    return full ? hw_fail(err, HW_ERR_STORAGE, "uploads-full", "",
                          "Keep photos that were sent, or drop them: then there is room again.",
                          "%zu photos wait to be kept, %.1f GB in all: no more are taken in",
                          count + coming.count, (double)sum / 1e9)
                : status;
}

// ---- Coming in ---------------------------------------------------------------------

static hw_status new_key(char key[SERVER_UPLOAD_ID], hw_error *err)
{
    hw_chance_key(key);
    return strspn(key, "0") < SERVER_UPLOAD_ID - 1
               ? HW_OK
               : hw_fail(err, HW_ERR_STORAGE, "chance-out", "", "Start the program again.",
                         "the system gives no random numbers");
}

hw_status server_upload_spool(hw_server *server, char *path, size_t size, hw_error *err)
{
    char folder[SERVER_PATH_SIZE], key[SERVER_UPLOAD_ID];
    hw_status status = own_path(server, "", "", folder, err);
    pthread_mutex_lock(&server->uploads->lock);
    if (status == HW_OK) {
        status = hw_file_make_folder(folder, false, err);
    }
    if (status == HW_OK) {
        status = check_room(server, 1, err);
    }
    pthread_mutex_unlock(&server->uploads->lock);
    if (status == HW_OK) {
        status = new_key(key, err);
    }
    if (status == HW_OK && !hw_format_text(path, size, "%s/%s%s", folder, spool, key)) {
        status = hw_fail(err, HW_ERR_CALL, "folder-long", server_folder(server),
                         "Put the folder where its path is shorter.", "its path is too long");
    }
    return status;
}

// Do both files hold the same bytes? What cannot be read is not the same.
static bool same_bytes(const char *one, const char *other)
{
    enum { PIECE = 1 << 16 };
    hw_old_file *files[2] = {NULL, NULL};
    hw_error unheard = {0};
    uint8_t *bytes = hw_alloc_array(2, PIECE);
    bool same = bytes && hw_old_file_open(one, &files[0], &unheard) == HW_OK &&
                hw_old_file_open(other, &files[1], &unheard) == HW_OK &&
                hw_old_file_size(files[0]) == hw_old_file_size(files[1]);
    for (uint64_t at = 0; same && at < hw_old_file_size(files[0]); at += PIECE) {
        size_t got[2] = {0, 0};
        same = hw_old_file_read(files[0], at, bytes, PIECE, &got[0], &unheard) == HW_OK &&
               hw_old_file_read(files[1], at, bytes + PIECE, PIECE, &got[1], &unheard) == HW_OK &&
               got[0] == got[1] && memcmp(bytes, bytes + PIECE, got[0]) == 0;
    }
    hw_old_file_close(&files[0]);
    hw_old_file_close(&files[1]);
    hw_free(bytes);
    return same;
}

// A device that heard no answer sends the photo once more: *one becomes the upload that is there.
static bool is_here(const hw_server *server, const char *path, server_upload *one)
{
    server_upload *all = NULL;
    size_t count;
    on_the_way coming;
    hw_error unheard = {0};
    bool here = false;
    if (list(server, &all, &count, &coming, &unheard) != HW_OK) {
        return false;
    }
    for (size_t i = 0; i < count && !here; i++) {
        char other[SERVER_PATH_SIZE];
        here = all[i].bytes == one->bytes && strcmp(all[i].name, one->name) == 0 &&
               strcmp(all[i].job, one->job) == 0 &&
               own_path(server, all[i].id, "", other, &unheard) == HW_OK && same_bytes(path, other);
        *one = here ? all[i] : *one;
    }
    hw_free(all);
    return here;
}

static hw_status put(const hw_server *server, const char *path, server_upload *one, hw_error *err)
{
    char to[SERVER_PATH_SIZE];
    hw_status status = check_room(server, 0, err);
    if (status == HW_OK) {
        status = new_key(one->id, err);
    }
    if (status == HW_OK) {
        status = own_path(server, one->id, "", to, err);
    }
    if (status == HW_OK) {
        status = write_record(server, one, err);
    }
    if (status == HW_OK) {
        status = hw_file_rename(path, to, err);
        if (status != HW_OK) {
            remove_name(server, one->id, record);
        }
    }
    return status;
}

hw_status server_upload_take(hw_server *server, const char *path, server_upload *one, hw_error *err)
{
    hw_old_file *file = NULL;
    hw_status status = hw_old_file_open(path, &file, err);
    one->bytes = status == HW_OK ? hw_old_file_size(file) : 0;
    hw_old_file_close(&file);
    pthread_mutex_lock(&server->uploads->lock);
    if (status == HW_OK && !is_here(server, path, one)) {
        status = put(server, path, one, err);
    }
    pthread_mutex_unlock(&server->uploads->lock);
    return status;
}

// ---- Start and end -----------------------------------------------------------------

// A record without its photo, a photo without its record, one too old.
static bool is_left_over(const hw_server *server, const char *name, int64_t now)
{
    char id[SERVER_UPLOAD_ID];
    server_upload one;
    size_t length = strlen(name);
    if (length != SERVER_UPLOAD_ID - 1 && (length != SERVER_UPLOAD_ID - 1 + sizeof record - 1 ||
                                           strcmp(name + SERVER_UPLOAD_ID - 1, record) != 0)) {
        // (A record that was being written: ID.json.new-PROCESS-N.)
        return length > SERVER_UPLOAD_ID + sizeof record &&
               strncmp(name + SERVER_UPLOAD_ID - 1, record, sizeof record - 1) == 0 &&
               strncmp(name + SERVER_UPLOAD_ID - 1 + sizeof record - 1, ".new-", 5) == 0;
    }
    hw_format_text(id, sizeof id, "%.*s", SERVER_UPLOAD_ID - 1, name);
    return is_id(id) && (!read_record(server, id, &one) ||
                         one.at < now - (int64_t)SERVER_UPLOADS_DAYS * 24 * 3600);
}

static hw_status sweep(const hw_server *server, hw_error *err)
{
    char path[SERVER_PATH_SIZE];
    hw_names names = {0};
    int64_t now = (int64_t)time(NULL);
    hw_status status = own_path(server, "", "", path, err);
    if (status == HW_OK && hw_file_exists(path)) {
        status = hw_folder_names(path, &names, err);
    }
    for (size_t i = 0; i < names.count; i++) {
        const char *name = names.name[i];
        if (strncmp(name, spool, sizeof spool - 1) == 0 || is_left_over(server, name, now)) {
            remove_name(server, name, "");
        }
    }
    hw_names_free(&names);
    return status;
}

// The folder's own lock ends with the program that holds it. (A disk that knows no locks tells so, and of no other program.)
static bool is_alone(const hw_server *server, int *held)
{
    *held = open(server_folder(server), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    return *held < 0 || flock(*held, LOCK_EX | LOCK_NB) == 0 || errno != EWOULDBLOCK;
}

hw_status server_uploads_start(hw_server *server, hw_error *err)
{
    struct server_uploads *uploads = hw_alloc_array(1, sizeof *uploads);
    if (!uploads || pthread_mutex_init(&uploads->lock, NULL) != 0) {
        hw_free(uploads);
        return hw_fail_memory(err, "starting the server");
    }
    server->uploads = uploads;
    uploads->alone = is_alone(server, &uploads->held);
    return uploads->alone ? sweep(server, err) : HW_OK;
}

void server_uploads_stop(hw_server *server)
{
    if (server->uploads) {
        server_opened_forget(server, NULL);
        if (server->uploads->held >= 0) {
            close(server->uploads->held);
        }
        pthread_mutex_destroy(&server->uploads->lock);
        hw_free(server->uploads);
        server->uploads = NULL;
    }
}
