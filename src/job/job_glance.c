// job_glance.c: what a list of many jobs tells of one. Of a line of the log that is no photo's, reading's, plan's or pass's
// all is read, of those only the head, which is the same in all: {"event":"...","number":7,"at":"2026-05-03T10:27:36Z",
// (FORMAT.md). They are nearly all of a log.
#include "job_internal.h"

typedef struct log_heads {
    long *photo; // their numbers
    size_t photos, room;
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

// The line's number and time, where its head is as it was written.
static bool read_head(const char *line, size_t length, long *number, int64_t *at)
{
    char head[160], *time;
    size_t count = length < sizeof head - 1 ? length : sizeof head - 1;
    memcpy(head, line, count);
    head[count] = 0;
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

// True: all of the line is to be read.
static bool note_line(log_heads *heads, const char *line, size_t length)
{
    static const char *const by_head[] = {"{\"event\":\"photo_added\",", "{\"event\":\"measured\",",
                                          "{\"event\":\"reading\",", "{\"event\":\"plan_shown\",",
                                          "{\"event\":\"pass_laid\","};
    bool is_photo = starts_with(line, length, by_head[0]) || starts_with(line, length, by_head[1]);
    bool whole = true;
    long number = 0;
    int64_t at = 0;
    for (size_t i = 0; i < sizeof by_head / sizeof *by_head; i++) {
        whole = whole && !starts_with(line, length, by_head[i]);
    }
    if (!read_head(line, length, &number, &at)) {
        return true; // the log's own reader says what is wrong with it
    }
    if (is_photo) {
        note_photo(heads, number);
    }
    heads->last = number;
    heads->last_at = at;
    return whole;
}

static size_t keep(char *bytes, size_t count, void *context)
{
    log_heads *heads = context;
    size_t kept = 0;
    for (size_t at = 0; at < count;) {
        const char *end = memchr(bytes + at, '\n', count - at);
        size_t length = (end ? (size_t)(end - bytes) + 1 : count) - at;
        if (!end || note_line(heads, bytes + at, length)) { // half a line is for that reader too
            memmove(bytes + kept, bytes + at, length);
            kept += length;
        }
        at += length;
    }
    return kept;
}

// Photos that did not happen are none.
static size_t count_photos(const hw_job *job, const log_heads *heads)
{
    size_t photos = heads->photos;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        const hw_correction_event *correction = &event->of.correction;
        for (size_t k = 0;
             event->kind == HW_EVENT_CORRECTION && correction->withdraw && k < heads->photos; k++) {
            photos -= heads->photo[k] == correction->of;
        }
    }
    return photos;
}

static bool is_listed(const hw_glance *glance, const char *name)
{
    for (size_t i = 0; i < glance->repair_count; i++) {
        if (strcmp(glance->repair[i], name) == 0) {
            return true;
        }
    }
    return false;
}

// A part bears its new name in all events before it was renamed.
static hw_status list_repairs(const hw_job *job, hw_glance *out, hw_error *err)
{
    size_t count = hw_job_event_count(job);
    out->repair = hw_alloc_array(count, sizeof *out->repair);
    if (!out->repair) {
        return hw_fail_memory(err, "looking at the job");
    }
    for (size_t i = 0; i < count; i++) {
        const hw_event *event = hw_job_event(job, i);
        const hw_part_event *part = &event->of.part;
        if (event->kind == HW_EVENT_PART_NAMED && part->role == HW_ROLE_PATCH && !part->was[0] &&
            !is_listed(out, part->part)) {
            hw_copy_text(out->repair[out->repair_count++], sizeof *out->repair, part->part);
        }
    }
    return HW_OK;
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
        status = list_repairs(job, &made, err);
    }
    if (status == HW_OK) {
        const hw_event *first = hw_job_event(job, 0);
        hw_copy_text(made.title, sizeof made.title, hw_job_title(job));
        made.made = first ? first->at : 0;
        made.last = heads.last;
        made.last_at = heads.last_at;
        made.photos = count_photos(job, &heads);
        made.odd = hw_job_warnings(job)->count > 0;
        *out = made;
    }
    hw_job_free(job);
    hw_free(heads.photo);
    return status;
}
