// job_glance.c: what a list of many jobs tells of one. Of a line of the log that is no photo's, reading's, plan's or pass's
// all is read, of those only the head, which is the same in all: {"event":"...","number":7,"at":"2026-05-03T10:27:36Z",
// (FORMAT.md). They are nearly all of a log. Where a photo was withdrawn, which is seldom, photos and passes are read too: they
// tell which repairs are left.
#include "job_internal.h"

// What only the head is read of; from READING on always.
enum { PHOTO, MEASURED, PASS, READING, PLAN, BY_HEAD };
static const char *const by_head[BY_HEAD] = {
    [PHOTO] = "{\"event\":\"photo_added\",", [MEASURED] = "{\"event\":\"measured\",",
    [PASS] = "{\"event\":\"pass_laid\",",    [READING] = "{\"event\":\"reading\",",
    [PLAN] = "{\"event\":\"plan_shown\",",
};
static const char correction[] = "{\"event\":\"correction\",";

typedef struct log_heads {
    long *photo; // their numbers
    size_t photos, room;
    bool photo_withdrawn;
    long last;
    int64_t last_at;
    bool memory_out;
} log_heads;

static bool starts_with(const char *line, size_t length, const char *start)
{
    size_t wanted = strlen(start);
    return length >= wanted && memcmp(line, start, wanted) == 0;
}

static void note_photo(log_heads *heads, long number)
{
    if (heads->photos == heads->room) {
        size_t room = heads->room ? 2 * heads->room : 32;
        long *grown = hw_resize_array(heads->photo, room, sizeof *grown);
        if (!grown) {
            heads->memory_out = true;
            return;
        }
        heads->photo = grown;
        heads->room = room;
    }
    heads->photo[heads->photos++] = number;
}

enum {
    HEAD_SIZE = 256
}; // of a line: event, number, at, program, entry, and what a correction is of

static void copy_head(const char *line, size_t length, char head[HEAD_SIZE])
{
    size_t count = length < HEAD_SIZE - 1 ? length : HEAD_SIZE - 1;
    memcpy(head, line, count);
    head[count] = 0;
}

// The line's number and time, where its head is as it was written.
static bool read_head(const char *line, size_t length, long *number, int64_t *at)
{
    char head[HEAD_SIZE], *time;
    copy_head(line, length, head);
    char *digits = strstr(head, "\",\"number\":");
    time = digits ? strstr(digits, ",\"at\":\"") : NULL;
    char *end = time ? strchr(time + 7, '"') : NULL;
    if (!end) {
        return false;
    }
    *end = 0;
    *number = strtol(digits + 11, NULL, 10);
    return *number > 0 && hw_parse_time(time + 7, at);
}

// Is this line the withdrawal of a photo?
static bool withdraws_photo(const log_heads *heads, const char *line, size_t length)
{
    static const char of[] = ",\"of\":", withdraw[] = ",\"withdraw\":true";
    char head[HEAD_SIZE], *end = head;
    if (!starts_with(line, length, correction)) {
        return false;
    }
    copy_head(line, length, head);
    const char *digits = strstr(head, of);
    long number = digits ? strtol(digits + sizeof of - 1, &end, 10) : 0;
    bool is_photo = false;
    for (size_t i = 0; i < heads->photos; i++) {
        is_photo = is_photo || heads->photo[i] == number;
    }
    return is_photo && strncmp(end, withdraw, sizeof withdraw - 1) == 0;
}

static void note_line(log_heads *heads, const char *line, size_t length)
{
    long number = 0;
    int64_t at = 0;
    if (!read_head(line, length, &number, &at)) {
        return; // all of it is read, and the log's own reader says what is wrong with it
    }
    if (starts_with(line, length, by_head[PHOTO]) || starts_with(line, length, by_head[MEASURED])) {
        note_photo(heads, number);
    }
    heads->photo_withdrawn = heads->photo_withdrawn || withdraws_photo(heads, line, length);
    heads->last = number;
    heads->last_at = at;
}

// Is all of the line to be read?
static bool is_whole(const log_heads *heads, const char *line, size_t length)
{
    long number = 0;
    int64_t at = 0;
    for (int i = heads->photo_withdrawn ? READING : 0; i < BY_HEAD; i++) {
        if (starts_with(line, length, by_head[i])) {
            return !read_head(line, length, &number, &at);
        }
    }
    return true;
}

static size_t keep(char *bytes, size_t count, void *context)
{
    log_heads *heads = context;
    size_t kept = 0;
    for (int turn = 0; turn < 2; turn++) { // what is withdrawn stands behind what it withdraws
        for (size_t at = 0; at < count;) {
            const char *end = memchr(bytes + at, '\n', count - at);
            size_t length = (end ? (size_t)(end - bytes) + 1 : count) - at;
            if (turn == 0 && end) {
                note_line(heads, bytes + at, length);
            } else if (turn == 1 && (!end || is_whole(heads, bytes + at, length))) {
                memmove(bytes + kept, bytes + at, length); // half a line is for that reader too
                kept += length;
            }
            at += length;
        }
    }
    return kept;
}

// ---- What it says ------------------------------------------------------------------

static bool is_listed(const hw_glance *glance, const char *name)
{
    for (size_t i = 0; i < glance->repair_count; i++) {
        if (strcmp(glance->repair[i], name) == 0) {
            return true;
        }
    }
    return false;
}

static void list_repair(hw_glance *out, const char *name)
{
    if (!is_listed(out, name)) {
        hw_copy_text(out->repair[out->repair_count++], sizeof *out->repair, name);
    }
}

// A part bears its new name in all events before it was renamed.
static hw_status list_named(const hw_job *job, hw_glance *out, hw_error *err)
{
    size_t count = hw_job_event_count(job);
    out->repair = hw_alloc_array(count, sizeof *out->repair);
    if (!out->repair) {
        return hw_fail_memory(err, "looking at the job");
    }
    for (size_t i = 0; i < count; i++) {
        const hw_event *event = hw_job_event(job, i);
        const hw_part_event *part = &event->of.part;
        if (event->kind == HW_EVENT_PART_NAMED && part->role == HW_ROLE_PATCH && !part->was[0]) {
            list_repair(out, part->part);
        }
    }
    return HW_OK;
}

// Of a job of which photos were read: those that were not withdrawn, and the repairs that are on them or were worked on.
static hw_status list_left(const hw_job *job, hw_glance *out, hw_error *err)
{
    hw_part_now *parts = NULL;
    size_t count = 0;
    hw_status status = hw_job_parts(job, &parts, &count, err);
    if (status != HW_OK) {
        return status;
    }
    out->photos = 0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        out->photos += hw_job_event(job, i)->kind == HW_EVENT_PHOTO_ADDED;
    }
    out->repair = hw_alloc_array(count, sizeof *out->repair);
    status = out->repair ? HW_OK : hw_fail_memory(err, "looking at the job");
    for (size_t i = 0; status == HW_OK && i < count; i++) {
        if (parts[i].role == HW_ROLE_PATCH) {
            list_repair(out, parts[i].name);
        }
    }
    hw_job_parts_free(parts);
    return status;
}

void hw_glance_free(hw_glance *glance)
{
    if (glance) {
        hw_free(glance->repair);
        *glance = (hw_glance){0};
    }
}

hw_status hw_job_glance(const char *folder, const hw_limits *limits, hw_glance *out, hw_error *err)
{
    log_heads heads = {0};
    hw_log_sieve sieve = {keep, &heads};
    hw_glance made = {0};
    hw_job *job = NULL;
    hw_status status = hw_job_open_sieved(folder, &sieve, limits, &job, err);
    if (status == HW_OK && heads.memory_out) {
        status = hw_fail_memory(err, "looking at the job");
    }
    if (status == HW_OK) {
        made.photos = heads.photos;
        status = heads.photo_withdrawn ? list_left(job, &made, err) : list_named(job, &made, err);
    }
    if (status == HW_OK) {
        const hw_event *first = hw_job_event(job, 0);
        hw_copy_text(made.title, sizeof made.title, hw_job_title(job));
        made.made = first ? first->at : 0;
        made.last = heads.last;
        made.last_at = heads.last_at;
        made.odd = hw_job_warnings(job)->count > 0;
        *out = made;
    } else {
        hw_glance_free(&made);
    }
    hw_job_free(job);
    hw_free(heads.photo);
    return status;
}
