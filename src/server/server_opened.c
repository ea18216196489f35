// server_opened.c: photos on the bench, decoded, so that marks that were moved are read at once.
//
// Two at most, and at most 40 million pixels in all: two of 12 megapixels with what a reading takes stay below 400 MiB
// (chosen). The one that was not asked for longest goes, and each that nobody asked for in ten minutes. All under the bench's
// lock.
#include "server_upload.h"

#include <sys/stat.h>

#define OPENED_MOST 2
static const size_t pixels_most = 40000000;
static const int64_t idle_seconds = 600; // chosen: a phone put down and taken up again

typedef struct on_bench {
    char id[SERVER_UPLOAD_ID]; // "": none
    hw_opened photo;
    char folder[SERVER_PATH_SIZE]; // of its job; ""
    off_t log_bytes;               // of that job's log when it was opened
    uint64_t asked;                // turn in which it was asked for last
    int64_t asked_at;
    bool placed; // marks were looked for
} on_bench;

// What is still known of a photo that went off the bench.
typedef struct remembered {
    char id[SERVER_UPLOAD_ID];
    char view[HW_NAME_SIZE]; // whose last photo's marks were followed to it; "": none were, surely
} remembered;

struct server_opened {
    on_bench place[OPENED_MOST];
    uint64_t turn;
    remembered was[SERVER_UPLOADS_MOST];
    size_t next;
};

static void clear(on_bench *place)
{
    hw_opened_free(&place->photo);
    *place = (on_bench){.id = ""};
}

void server_opened_forget(hw_server *server, const char *id)
{
    struct server_opened *all = server->uploads->opened;
    for (size_t i = 0; all && i < OPENED_MOST; i++) {
        if (!id || strcmp(all->place[i].id, id) == 0) {
            clear(&all->place[i]);
        }
    }
    if (!id) {
        hw_free(all);
        server->uploads->opened = NULL;
    }
}

void server_opened_tidy(hw_server *server, int64_t now)
{
    struct server_uploads *uploads = server->uploads;
    if (!uploads || pthread_mutex_trylock(&server->bench) != 0) {
        return; // it is in use
    }
    for (size_t i = 0; uploads->opened && i < OPENED_MOST; i++) {
        on_bench *place = &uploads->opened->place[i];
        if (place->id[0] && now - place->asked_at > idle_seconds) {
            clear(place);
        }
    }
    pthread_mutex_unlock(&server->bench);
}

static size_t pixels_of(const on_bench *place)
{
    if (!place->id[0]) {
        return 0;
    }
    const hw_photo_facts *facts = hw_photo_facts_of(place->photo.photo);
    return facts->width_px * facts->height_px;
}

static size_t pixels_in_all(const struct server_opened *all)
{
    size_t sum = 0;
    for (size_t i = 0; i < OPENED_MOST; i++) {
        sum += pixels_of(&all->place[i]);
    }
    return sum;
}

// A place for another: a free one, or that of the photo not asked for longest.
static on_bench *free_place(struct server_opened *all)
{
    on_bench *oldest = &all->place[0];
    for (size_t i = 1; i < OPENED_MOST; i++) {
        oldest = all->place[i].asked < oldest->asked ? &all->place[i] : oldest;
    }
    clear(oldest);
    return oldest;
}

static off_t log_bytes_of(const char *folder)
{
    char path[SERVER_PATH_SIZE + 16];
    struct stat facts;
    hw_format_text(path, sizeof path, "%s/log.jsonl", folder);
    return folder[0] && stat(path, &facts) == 0 ? facts.st_size : 0;
}

// What was logged since is known too; the marks stay where they were proposed.
static hw_status refresh(hw_server *server, on_bench *place, hw_error *err)
{
    off_t bytes = log_bytes_of(place->folder);
    hw_job *job = NULL;
    if (!place->folder[0] || bytes == place->log_bytes) {
        return HW_OK;
    }
    hw_status status = hw_job_open(place->folder, &server->limits, &job, err);
    if (status == HW_OK) {
        hw_job_free(place->photo.job);
        place->photo.job = job;
        place->log_bytes = bytes;
    }
    return status;
}

// Numbers are told to a hundredth of a pixel; what comes back must read the same.
static hw_status round_marks(const hw_server *server, hw_opened *photo, hw_error *err)
{
    hw_marks rounded = {0};
    hw_warnings unheard = {0};
    char *text = NULL;
    hw_status status = hw_marks_text(&photo->marks, &text, err);
    if (status == HW_OK) {
        status = hw_marks_parse(text, strlen(text), "the marks", &server->limits, &rounded,
                                &unheard, err);
    }
    if (status == HW_OK) {
        hw_marks_free(&photo->marks);
        photo->marks = rounded;
    }
    hw_marks_text_free(text);
    return status;
}

static hw_status open_upload(hw_server *server, const server_upload *one, hw_from from, bool placed,
                             int64_t now, on_bench *place, hw_error *err)
{
    char path[SERVER_PATH_SIZE];
    hw_open_request request = {.path = path,
                               .name = one->name,
                               .view = one->view[0] ? one->view : NULL,
                               .from = from,
                               .unplaced = !placed};
    hw_status status = server_upload_path(server, one->id, path, err);
    hw_error no_job = {0};
    if (status == HW_OK && one->job[0] &&
        server_find_job(server, one->job, place->folder, &no_job) == HW_OK) {
        request.folder = place->folder;
        place->log_bytes = log_bytes_of(place->folder);
    } else {
        place->folder[0] = 0;
    }
    if (status == HW_OK) {
        status = hw_steps_open(&request, &server->limits, now, &place->photo, err);
    }
    if (status == HW_OK) {
        hw_copy_text(place->id, sizeof place->id, one->id);
        place->placed = placed;
        status = round_marks(server, &place->photo, err);
    }
    return status;
}

static void remember(struct server_opened *all, const on_bench *place)
{
    const hw_opened *photo = &place->photo;
    remembered *was = &all->was[all->next++ % SERVER_UPLOADS_MOST];
    hw_copy_text(was->id, sizeof was->id, place->id);
    hw_copy_text(was->view, sizeof was->view, photo->wood >= HW_PLACED_SURE ? photo->view : "");
}

bool server_opened_was_followed(hw_server *server, const char *id, const char *view)
{
    const struct server_opened *all = server->uploads->opened;
    for (size_t i = 0; all && i < SERVER_UPLOADS_MOST;
         i++) { // once more after each other: the last counts
        const remembered *was =
            &all->was[(all->next + SERVER_UPLOADS_MOST - 1 - i) % SERVER_UPLOADS_MOST];
        if (strcmp(was->id, id) == 0) {
            return was->view[0] && strcmp(was->view, view) == 0;
        }
    }
    return false;
}

static on_bench *find(struct server_opened *all, const char *id)
{
    for (size_t i = 0; i < OPENED_MOST; i++) {
        if (strcmp(all->place[i].id, id) == 0) {
            return &all->place[i];
        }
    }
    return NULL;
}

const hw_opened *server_opened_find(hw_server *server, const char *id)
{
    struct server_opened *all = server->uploads->opened;
    on_bench *place = all ? find(all, id) : NULL;
    return place ? &place->photo : NULL;
}

static void keep_within(struct server_opened *all, const on_bench *place)
{
    for (size_t i = 0; i < OPENED_MOST && pixels_in_all(all) > pixels_most; i++) {
        if (&all->place[i] != place) {
            clear(&all->place[i]);
        }
    }
}

hw_status server_opened_get(hw_server *server, const server_upload *one, hw_from from, bool placed,
                            int64_t now, const hw_opened **out, hw_error *err)
{
    struct server_uploads *uploads = server->uploads;
    if (!uploads->opened) {
        uploads->opened = hw_alloc_array(1, sizeof *uploads->opened);
    }
    struct server_opened *all = uploads->opened;
    if (!all) {
        return hw_fail_memory(err, "opening the photo");
    }
    on_bench *place = find(all, one->id);
    hw_status status;
    if (place && (place->placed || !placed)) {
        status = refresh(server, place, err);
    } else {
        place = place ? place : free_place(all);
        clear(place);
        status = open_upload(server, one, from, placed, now, place, err);
        if (status == HW_OK && placed) {
            remember(all, place);
        }
    }
    if (status != HW_OK) {
        clear(place);
        return status;
    }
    place->asked = ++all->turn;
    place->asked_at = now;
    keep_within(all, place);
    *out = &place->photo;
    return HW_OK;
}
