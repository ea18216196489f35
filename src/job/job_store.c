// job_store.c: the folder of one job. job.json says that it is one and in which format; log.jsonl
// holds what happened; photos/ holds the originals, each named by the SHA-256 of its bytes, so
// that a photo that was changed later is noticed and the same photo is kept once.
//
// An event's number is one more than the largest in the log, so it stays what it is when a bad
// line lies between. Before a line is appended the log is read again under the lock: what another
// program appended meanwhile is taken in first. A log that no longer begins with the bytes that were
// taken in (another job was put in the folder's place, or an older copy) is left alone.
#include "job_internal.h"

struct hw_job {
    char *folder;
    char title[480];
    char id[HW_JOB_ID_SIZE];
    hw_limits limits;
    hw_event *events;
    size_t count, room;
    size_t log_read;  // bytes of whole lines that `events` holds
    uint32_t log_sum; // CRC-32 of them
    long lines;       // of them
    long last_number;
    hw_warnings warnings;
};

static const unsigned wait_ms = 5000; // for another program that writes

// ---- Paths -------------------------------------------------------------------------

static hw_status path_in(const char *folder, const char *name, hw_text *out, hw_error *err)
{
    hw_text_add(out, "%s/%s", folder, name);
    return out->failed ? hw_fail_memory(err, "opening the job") : HW_OK;
}

// ---- Starting ----------------------------------------------------------------------

static hw_status write_job_file(const char *folder, const char *title, int64_t now, hw_error *err)
{
    char made[40], *text = NULL;
    hw_text path = {0};
    hw_json *json = hw_json_new_object();
    hw_format_time(made, now);
    hw_json_add_number(json, "format", HW_JOB_FORMAT);
    hw_json_add_text(json, "title", title);
    hw_json_add_text(json, "made", made);
    hw_json_add_text(json, "program", hw_version());
    hw_status status = path_in(folder, "job.json", &path, err);
    if (status == HW_OK) {
        status = hw_json_print(json, true, &text, err);
    }
    if (status == HW_OK) {
        status = hw_file_replace(path.bytes, text, strlen(text), err);
    }
    hw_free(text);
    hw_json_free(json);
    hw_text_free(&path);
    return status;
}

static hw_status append(hw_job *job, const char *event, hw_json *body, int64_t now, long *number,
                        hw_error *err);

// Is there nothing here, or only what a start leaves that was cut short (no event, no photo)? Then the
// start is made again.
static bool may_start(const char *folder, const char *photos, const char *log)
{
    static const char *const ours[] = {"job.json", "photos", "log.jsonl"};
    uint8_t *bytes = NULL;
    size_t count = 0;
    if (!hw_folder_holds_only(folder, ours, 3) || !hw_folder_is_empty(photos)) {
        return false;
    }
    if (!hw_file_exists(log)) {
        return true;
    }
    bool good = hw_file_read(log, hw_limits_default().log_bytes, &bytes, &count, NULL) == HW_OK &&
                hw_log_whole_bytes((const char *)bytes, count) == 0;
    hw_free(bytes);
    return good;
}

hw_status hw_job_start(const char *folder, const char *title, int64_t now, hw_error *err)
{
    hw_text path = {0}, photos = {0}, log = {0};
    hw_job *job = NULL;
    long number;
    hw_status status = path_in(folder, "job.json", &path, err);
    if (status == HW_OK) {
        status = path_in(folder, "photos", &photos, err);
    }
    if (status == HW_OK) {
        status = path_in(folder, "log.jsonl", &log, err);
    }
    if (status != HW_OK) {
        goto done;
    }
    if (!hw_is_utf8(title, strlen(title))) {
        status = hw_fail(err, HW_ERR_CALL, "title", folder, "Type the title again.",
                         "the title is not readable text");
        goto done;
    }
    if (!may_start(folder, photos.bytes, log.bytes)) {
        status = hw_fail(err, HW_ERR_CALL, "job-exists", folder,
                         "Choose another name, or go on with the job that is there.",
                         hw_file_exists(path.bytes) ? "there already is a job in this folder"
                                                    : "this folder is not empty");
        goto done;
    }
    // job.json comes last but one: a folder without it is no job yet.
    status = hw_file_make_folder(folder, false, err);
    if (status == HW_OK) {
        status = hw_file_make_folder(photos.bytes, false, err);
    }
    if (status == HW_OK) {
        status = write_job_file(folder, title, now, err);
    }
    if (status == HW_OK) {
        status = hw_job_open(folder, NULL, &job, err);
    }
    if (status == HW_OK) {
        hw_json *body = hw_json_new_object();
        hw_json_add_text(body, "title", title);
        char key[17];
        hw_chance_key(key);
        hw_json_add_text(body, "key", key);
        status = append(job, "job_started", body, now, &number, err);
    }
done:
    hw_job_free(job);
    hw_text_free(&path);
    hw_text_free(&photos);
    hw_text_free(&log);
    return status;
}

// ---- Reading -----------------------------------------------------------------------

void hw_job_free(hw_job *job)
{
    if (job) {
        for (size_t i = 0; i < job->count; i++) {
            hw_event_free(&job->events[i]);
        }
        hw_free(job->events);
        hw_free(job->folder);
        hw_free(job);
    }
}

static bool keep_event(hw_job *job, const hw_json *json)
{
    if (job->count == job->room) {
        size_t room = job->room ? 2 * job->room : 32;
        hw_event *grown = hw_resize_array(job->events, room, sizeof *grown);
        if (!grown) {
            return false;
        }
        job->events = grown;
        job->room = room;
    }
    if (!hw_event_read(json, &job->limits, &job->events[job->count])) {
        return false;
    }
    long number = job->events[job->count].number;
    job->last_number = number > job->last_number ? number : job->last_number;
    job->count++;
    return true;
}

// From the first line, which never changes; its time, title and chance number make it the job's own.
static void take_id(hw_job *job, const char *bytes, size_t count)
{
    const char *end = count ? memchr(bytes, '\n', count) : NULL;
    char sum[65];
    if (end) {
        hw_sha256_hex(bytes, (size_t)(end - bytes), sum);
        hw_copy_text(job->id, 17, sum);
    }
}

static hw_status refuse_changed(const hw_job *job, hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "job-changed", job->folder,
                   "Nothing was written. Open it again, see which job it is, and enter this there.",
                   "this folder holds another job or an older copy now than when it was opened");
}

// Takes in the lines behind what was read before.
static hw_status take_lines(hw_job *job, const uint8_t *bytes, size_t count, hw_error *err)
{
    if (count < job->log_read || hw_crc32(bytes, job->log_read) != job->log_sum) {
        return refuse_changed(job, err);
    }
    hw_log_reader reader = {(const char *)bytes, count, job->log_read, job->lines};
    if (job->id[0] == 0) {
        take_id(job, (const char *)bytes, count);
    }
    hw_line_state state;
    hw_json *json;
    while (hw_log_next(&reader, &job->limits, &state, &json)) {
        bool good = state == HW_LINE_WHOLE ? keep_event(job, json) : state != HW_LINE_NO_MEMORY;
        hw_json_free(json);
        if (!good) {
            return hw_fail_memory(err, "reading the job");
        }
        if (state == HW_LINE_BAD) {
            hw_warn(&job->warnings,
                    "Line %ld of the job's log is damaged and was left aside; all other lines are "
                    "read.",
                    reader.line);
        } else if (state == HW_LINE_TORN) {
            hw_warn(&job->warnings,
                    "The job's log ends in half a line, as after a power cut; nothing "
                    "that was said to be saved is missing.");
            break;
        }
        job->log_sum =
            hw_crc32_more(job->log_sum, bytes + job->log_read, reader.at - job->log_read);
        job->log_read = reader.at;
        job->lines = reader.line;
        // A damaged last line had a number too: it is not given again.
        job->last_number = job->lines > job->last_number ? job->lines : job->last_number;
    }
    return HW_OK;
}

static hw_status read_job_file(hw_job *job, hw_error *err)
{
    hw_text path = {0};
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_json *json = NULL;
    double format = 0.0;
    hw_error why = {0};
    hw_status status = path_in(job->folder, "job.json", &path, err);
    if (status != HW_OK) {
        return status;
    }
    status = hw_file_read(path.bytes, job->limits.json_bytes, &bytes, &count, &why);
    if (status != HW_OK && strcmp(why.code, "file-missing") == 0) {
        status = hw_fail(err, HW_ERR_INPUT, "job-missing", job->folder,
                         "Check the name, or make a job with: huewright start FOLDER",
                         "there is no job in this folder");
        goto done;
    }
    if (status != HW_OK) {
        status = hw_fail(err, status, why.code, why.subject, why.next, "%s", why.what);
        goto done;
    }
    status = hw_json_parse((const char *)bytes, count, &job->limits, path.bytes, &json, &why);
    if (status == HW_ERR_STORAGE) {
        status = hw_fail_memory(err, "opening the job");
        goto done;
    }
    if (status != HW_OK || !hw_json_member_number(json, "format", &format)) {
        status =
            hw_fail(err, HW_ERR_INPUT, "job-damaged", path.bytes,
                    "Go back to a copy of the folder; the log beside it holds all that happened.",
                    "the job's first file is damaged");
        goto done;
    }
    if (format > HW_JOB_FORMAT) {
        status = hw_fail(err, HW_ERR_INPUT, "job-format", job->folder,
                         "Use that newer version of huewright for this job.",
                         "a newer huewright has made this job (format %.0f, this one knows %d)",
                         format, HW_JOB_FORMAT);
        goto done;
    }
    const char *title = hw_json_member_text(json, "title");
    hw_copy_text(job->title, sizeof job->title, title ? title : "");
done:
    hw_json_free(json);
    hw_free(bytes);
    hw_text_free(&path);
    return status;
}

static hw_status read_log(hw_job *job, hw_error *err)
{
    hw_text path = {0};
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_status status = path_in(job->folder, "log.jsonl", &path, err);
    if (status == HW_OK && hw_file_exists(path.bytes)) {
        status = hw_file_read(path.bytes, job->limits.log_bytes, &bytes, &count, err);
        if (status == HW_OK) {
            status = take_lines(job, bytes, count, err);
        }
    }
    hw_free(bytes);
    hw_text_free(&path);
    return status;
}

hw_status hw_job_open(const char *folder, const hw_limits *limits, hw_job **out, hw_error *err)
{
    hw_job *job = hw_alloc_array(1, sizeof *job);
    char *copy = hw_alloc_array(strlen(folder) + 1, 1);
    if (!job || !copy) {
        hw_free(job);
        hw_free(copy);
        return hw_fail_memory(err, "opening the job");
    }
    memcpy(copy, folder, strlen(folder) + 1);
    job->folder = copy;
    job->limits = limits ? *limits : hw_limits_default();
    hw_status status = read_job_file(job, err);
    if (status == HW_OK) {
        status = read_log(job, err);
    }
    if (status != HW_OK) {
        hw_job_free(job);
        return status;
    }
    *out = job;
    return HW_OK;
}

const char *hw_job_folder(const hw_job *job)
{
    return job->folder;
}

const char *hw_job_title(const hw_job *job)
{
    return job->title;
}

const char *hw_job_id(const hw_job *job)
{
    return job->id;
}

const hw_warnings *hw_job_warnings(const hw_job *job)
{
    return &job->warnings;
}

size_t hw_job_event_count(const hw_job *job)
{
    return job->count;
}

const hw_event *hw_job_event(const hw_job *job, size_t index)
{
    return index < job->count ? &job->events[index] : NULL;
}

// ---- Appending ---------------------------------------------------------------------

// The line's head, then the members of body.
static hw_json *whole_event(const char *event, const hw_json *body, long number, int64_t now)
{
    char at[40];
    hw_format_time(at, now);
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "event", event);
    hw_json_add_number(json, "number", (double)number);
    hw_json_add_text(json, "at", at);
    hw_json_add_text(json, "program", hw_version());
    for (const hw_json *member = hw_json_first(body); member; member = hw_json_next(member)) {
        hw_json_add_tree(json, hw_json_name(member), hw_json_copy(member));
    }
    return json;
}

// Reads what is new under the lock and moves a torn tail aside.
static hw_status catch_up(hw_job *job, hw_append *log, const char *path, hw_error *err)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_text aside = {0};
    hw_status status = hw_append_read(log, job->limits.log_bytes, &bytes, &count, err);
    if (status != HW_OK) {
        return status;
    }
    size_t whole = hw_log_whole_bytes((const char *)bytes, count);
    status = take_lines(job, bytes, whole, err);
    if (status == HW_OK && whole < count) {
        hw_text_add(&aside, "%s.torn-%zu", path, whole);
        status = aside.failed ? hw_fail_memory(err, "writing the log")
                              : hw_append_cut(log, whole, aside.bytes, err);
    }
    hw_text_free(&aside);
    hw_free(bytes);
    return status;
}

// The log is not where it was. (Where the whole folder is gone, that is said.)
static hw_status refuse_gone(const hw_job *job, hw_error *err)
{
    return hw_file_exists(job->folder)
               ? refuse_changed(job, err)
               : hw_fail(err, HW_ERR_INPUT, "job-missing", job->folder,
                         "Put the folder back under this name, or open the job where it is now.",
                         "the job's folder was moved or renamed while it was open");
}

// Appends an event and takes it into the opened job. Frees body.
static hw_status append(hw_job *job, const char *event, hw_json *body, int64_t now, long *number,
                        hw_error *err)
{
    hw_text path = {0}, line = {0};
    hw_append *log = NULL;
    hw_json *json = NULL;
    char *tested = NULL;
    hw_status status = hw_json_print(body, false, &tested, err); // is the body whole?
    if (status == HW_OK) {
        status = path_in(job->folder, "log.jsonl", &path, err);
    }
    if (status == HW_OK && job->log_read > 0 && !hw_file_exists(path.bytes)) {
        status = refuse_gone(job, err); // before hw_append_open makes an empty one
    }
    if (status == HW_OK) {
        status = hw_append_open(path.bytes, wait_ms, &log, err);
    }
    if (status == HW_OK) {
        status = catch_up(job, log, path.bytes, err);
    }
    if (status != HW_OK) {
        goto done;
    }
    json = whole_event(event, body, job->last_number + 1, now);
    status = hw_log_line(json, &line, err);
    if (status == HW_OK && line.length > job->limits.json_bytes) {
        status = hw_fail(err, HW_ERR_CALL, "event-too-long", event,
                         "Use a shorter note or fewer marks.", "this is too long for the log");
    }
    if (status == HW_OK) {
        status = hw_append_write(log, line.bytes, line.length, err);
    }
    if (status != HW_OK) {
        goto done;
    }
    *number = job->last_number + 1;
    if (!keep_event(job, json)) {
        status = hw_fail(err, HW_ERR_STORAGE, "memory-out", job->folder,
                         "It is saved. Open the job again to go on.",
                         "memory ran out after the event was saved");
    }
    job->last_number = *number;
    job->log_read += line.length;
    job->log_sum = hw_crc32_more(job->log_sum, line.bytes, line.length);
    job->lines++;
done:
    hw_append_close(&log);
    hw_free(tested);
    hw_json_free(json);
    hw_json_free(body);
    hw_text_free(&path);
    hw_text_free(&line);
    return status;
}

hw_status hw_job_add_photo(hw_job *job, const hw_photo_event *photo, int64_t now, long *number,
                           hw_error *err)
{
    return append(job, "photo_added", hw_event_photo_json(photo), now, number, err);
}

hw_status hw_job_add_reading(hw_job *job, long photo, const char *reading_json, int64_t now,
                             long *number, hw_error *err)
{
    hw_json *reading = NULL;
    hw_status status =
        hw_json_parse(reading_json, strlen(reading_json), &job->limits, "reading", &reading, err);
    if (status != HW_OK) {
        return status;
    }
    hw_json *body = hw_json_new_object();
    hw_json_add_number(body, "photo_event", (double)photo);
    hw_json_add_tree(body, "reading", reading);
    return append(job, "reading", body, now, number, err);
}

hw_status hw_job_add_plan(hw_job *job, const hw_plan_event *plan, int64_t now, long *number,
                          hw_error *err)
{
    return append(job, "plan_shown", hw_event_plan_json(plan), now, number, err);
}

hw_status hw_job_add_pass(hw_job *job, const hw_pass_event *pass, int64_t now, long *number,
                          hw_error *err)
{
    return append(job, "pass_laid", hw_event_pass_json(pass), now, number, err);
}

// ---- Photos ------------------------------------------------------------------------

hw_status hw_job_keep_photo(const hw_job *job, const void *bytes, size_t count,
                            const char *extension, char stored[96], hw_error *err)
{
    char sum[65], name[96];
    hw_text path = {0};
    hw_sha256_hex(bytes, count, sum);
    hw_format_text(name, sizeof name, "photos/%s.%s", sum, extension);
    hw_status status = path_in(job->folder, name, &path, err);
    if (status == HW_OK) {
        status = hw_file_keep(path.bytes, bytes, count, err);
    }
    if (status == HW_OK) {
        hw_copy_text(stored, 96, name);
    }
    hw_text_free(&path);
    return status;
}

hw_status hw_job_photo(const hw_job *job, const char *stored, uint8_t **bytes, size_t *count,
                       hw_error *err)
{
    hw_text path = {0};
    uint8_t *read = NULL;
    char sum[65];
    // Only names that hw_job_keep_photo makes: no way out of the folder.
    if (strncmp(stored, "photos/", 7) != 0 || strchr(stored + 7, '/') || strstr(stored, "..")) {
        return hw_fail(err, HW_ERR_INPUT, "job-photo-missing", stored,
                       "Go back to a copy of the job's folder.",
                       "the log names a photo that is none of this job");
    }
    hw_error why = {0};
    hw_status status = path_in(job->folder, stored, &path, err);
    if (status == HW_OK) {
        status = hw_file_read(path.bytes, job->limits.file_bytes, &read, count, &why);
        if (status != HW_OK) {
            status = hw_fail(err, status,
                             strcmp(why.code, "file-missing") == 0 ? "job-photo-missing" : why.code,
                             path.bytes, "Put the photo back from a copy, or take a new one.",
                             "a photo of this job: %s", why.what);
        }
    }
    if (status == HW_OK) {
        hw_sha256_hex(read, *count, sum);
        if (strncmp(stored + 7, sum, 64) != 0) {
            hw_free(read);
            status = hw_fail(err, HW_ERR_INPUT, "job-photo-changed", path.bytes,
                             "Put the photo back from a copy, or take a new one.",
                             "this photo was changed since it was added");
        } else {
            *bytes = read;
        }
    }
    hw_text_free(&path);
    return status;
}

void hw_job_photo_free(uint8_t *bytes)
{
    hw_free(bytes);
}
