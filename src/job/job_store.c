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
    char title[480];      // as it is now
    char file_title[480]; // of job.json
    char id[HW_JOB_ID_SIZE];
    hw_limits limits;
    bool newer; // made by a newer version: read as far as it is understood, never written to
    hw_event *events;
    size_t count, room;
    size_t *surface; // indices of events that tell of a surface: those alone are asked for states
    size_t surface_count, surface_room;
    bool surface_late; // some of them were logged later than done
    size_t log_read;   // bytes of whole lines that `events` holds
    uint32_t log_sum;  // CRC-32 of them
    long lines;        // of them
    long last_number;
    long last_event;           // number of the last one
    bool in_order;             // numbers rise from event to event
    char entry[HW_ENTRY_SIZE]; // of what is added next; ""
    long said_before;          // number of the event that it made; 0: none
    hw_warnings warnings;
};

static const unsigned wait_ms = 5000; // for another program that writes

// ---- Entries -----------------------------------------------------------------------

bool hw_entry_is_usable(const char *entry)
{
    const size_t least = 16;
    size_t length = strspn(entry, "abcdefghijklmnopqrstuvwxyz0123456789-");
    return entry[length] == 0 && length >= least && length < HW_ENTRY_SIZE;
}

hw_status hw_job_check_entry(const char *entry, hw_error *err)
{
    return hw_entry_is_usable(entry) ? HW_OK
                                     : hw_fail(err, HW_ERR_CALL, "entry-name", "the entry",
                                               "Name it by 16 to 40 of a-z, 0-9 and -, by chance.",
                                               "this cannot name an entry");
}

const hw_event *hw_job_entry(const hw_job *job, const char *entry)
{
    for (size_t i = job->count; i-- > 0 && entry[0];) { // what is said again was said a moment ago
        if (strcmp(job->events[i].entry, entry) == 0) {
            return &job->events[i];
        }
    }
    return NULL;
}

static bool find_said_before(hw_job *job)
{
    const hw_event *event = hw_job_entry(job, job->entry);
    job->said_before = event ? event->number : 0;
    return event != NULL;
}

hw_status hw_job_enter(hw_job *job, const char *entry, hw_error *err)
{
    hw_status status = entry ? hw_job_check_entry(entry, err) : HW_OK;
    if (status == HW_OK) {
        hw_copy_text(job->entry, sizeof job->entry, entry ? entry : "");
        find_said_before(job);
    }
    return status;
}

const hw_event *hw_job_said_before(const hw_job *job)
{
    return job->said_before > 0 ? hw_job_event_numbered(job, job->said_before) : NULL;
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
    hw_status status = hw_job_path(folder, "job.json", &path, err);
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

// The first line and what is taken over from another job (NULL: none), in one write.
static hw_status write_first(hw_job *job, const char *title, const hw_job *from, const char *entry,
                             int64_t now, hw_error *err)
{
    hw_new_event *events = hw_alloc_array(1 + (from ? hw_job_carry_most(from) : 0), sizeof *events);
    long number;
    char key[17];
    if (!events) {
        return hw_fail_memory(err, "starting the job");
    }
    events[0] = (hw_new_event){.name = hw_event_kind_name(HW_EVENT_JOB_STARTED),
                               .body = hw_json_new_object()};
    hw_json_add_text(events[0].body, "title", title);
    hw_chance_key(key);
    hw_json_add_text(events[0].body, "key", key);
    size_t count = 1 + (from ? hw_job_carry(from, &events[1]) : 0);
    hw_copy_text(job->entry, sizeof job->entry, entry);
    hw_status status = hw_job_append(job, events, count, now, &number, err);
    hw_free(events);
    return status;
}

hw_status hw_job_start(const char *folder, const char *title, int64_t now, hw_error *err)
{
    return hw_job_start_from(folder, title, NULL, now, err);
}

static hw_status start(const char *folder, const char *title, const hw_job *from, const char *entry,
                       bool test_only, int64_t now, hw_error *err)
{
    hw_text path = {0}, photos = {0}, log = {0};
    hw_job *job = NULL;
    hw_status status = hw_job_path(folder, "job.json", &path, err);
    if (status == HW_OK) {
        status = hw_job_path(folder, "photos", &photos, err);
    }
    if (status == HW_OK) {
        status = hw_job_path(folder, "log.jsonl", &log, err);
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
    if (test_only) {
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
        status = write_first(job, title, from, entry, now, err);
    }
done:
    hw_job_free(job);
    hw_text_free(&path);
    hw_text_free(&photos);
    hw_text_free(&log);
    return status;
}

hw_status hw_job_start_from(const char *folder, const char *title, const hw_job *from, int64_t now,
                            hw_error *err)
{
    return start(folder, title, from, "", false, now, err);
}

bool hw_job_is_of_entry(const char *folder, const char *entry)
{
    hw_job *job = NULL;
    hw_error unheard = {0};
    bool was = entry[0] && hw_job_open(folder, NULL, &job, &unheard) == HW_OK && job->count > 0 &&
               strcmp(job->events[0].entry, entry) == 0;
    hw_job_free(job);
    return was;
}

hw_status hw_job_start_entry(const char *folder, const char *title, const hw_job *from,
                             const char *entry, int64_t now, hw_error *err)
{
    hw_status status = entry ? hw_job_check_entry(entry, err) : HW_OK;
    return status == HW_OK ? start(folder, title, from, entry ? entry : "", false, now, err)
                           : status;
}

hw_status hw_job_may_start(const char *folder, const char *title, hw_error *err)
{
    return start(folder, title, NULL, "", true, 0, err);
}

// ---- Reading -----------------------------------------------------------------------

// Leaves the job as before its log was read.
static void forget(hw_job *job)
{
    for (size_t i = 0; i < job->count; i++) {
        hw_event_free(&job->events[i]);
    }
    hw_copy_text(job->title, sizeof job->title, job->file_title);
    job->surface_late = false;
    job->count = job->surface_count = job->log_read = 0;
    job->log_sum = 0;
    job->lines = job->last_number = job->last_event = 0;
}

void hw_job_free(hw_job *job)
{
    if (job) {
        forget(job);
        hw_free(job->events);
        hw_free(job->surface);
        hw_free(job->folder);
        hw_free(job);
    }
}

static bool tells_of_surface(const hw_event *event)
{
    return event->was == HW_EVENT_COAT_LAID || event->was == HW_EVENT_TAKEN_OFF ||
           (event->was == HW_EVENT_PHOTO_ADDED && event->of.photo.state_count > 0);
}

static bool note_surface(hw_job *job, size_t index)
{
    const hw_event *event = &job->events[index];
    if (job->surface_count == job->surface_room) {
        size_t room = job->surface_room ? 2 * job->surface_room : 16;
        size_t *grown = hw_resize_array(job->surface, room, sizeof *grown);
        if (!grown) {
            return false;
        }
        job->surface = grown;
        job->surface_room = room;
    }
    job->surface[job->surface_count++] = index;
    job->surface_late = job->surface_late || hw_event_place(event) != event->number;
    return true;
}

static void note_reading(hw_job *job, const hw_event *event)
{
    if (event->kind == HW_EVENT_READING) {
        size_t index = hw_job_index_of(job, event->of.reading.photo);
        if (index < job->count && job->events[index].number == event->of.reading.photo) {
            job->events[index].reading = event->number;
        }
    }
}

static bool keep_event(hw_job *job, const hw_json *json, const hw_corrections *corrections)
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
    hw_event *event = &job->events[job->count];
    if (!hw_corrected_read(json, corrections, &job->limits, event)) {
        return false;
    }
    if (event->kind == HW_EVENT_JOB_STARTED && (event->corrected_by || !job->title[0])) {
        hw_copy_text(job->title, sizeof job->title, event->of.start.title);
    }
    job->in_order = (job->count == 0 || job->in_order) && event->number > job->last_event;
    job->last_event = event->number;
    job->last_number = event->number > job->last_number ? event->number : job->last_number;
    job->count++;
    note_reading(job, event);
    return !tells_of_surface(event) || note_surface(job, job->count - 1);
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

static hw_status read_lines(hw_job *job, const char *bytes, size_t count,
                            const hw_corrections *corrections, hw_error *err)
{
    hw_log_reader reader = {
        .bytes = bytes, .count = count, .at = job->log_read, .line = job->lines};
    hw_line_state state;
    hw_json *json;
    while (hw_log_next(&reader, &job->limits, &state, &json)) {
        bool good = state == HW_LINE_WHOLE ? keep_event(job, json, corrections)
                                           : state != HW_LINE_NO_MEMORY;
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

static void warn_unknown_events(hw_job *job)
{
    size_t unknown = 0;
    for (size_t i = 0; i < job->count; i++) {
        unknown += job->events[i].kind == HW_EVENT_OTHER;
    }
    if (unknown) {
        hw_warn(
            &job->warnings,
            "%zu line%s of the job's log %s not understood by this version (%s): kept, and left "
            "aside. A newer huewright may read %s.",
            unknown, unknown == 1 ? "" : "s", unknown == 1 ? "is" : "are", hw_version(),
            unknown == 1 ? "it" : "them");
    }
}

// Takes in the lines behind what was read before; where one of them changes an earlier event, all of it
// is read anew.
static hw_status take_lines(hw_job *job, const uint8_t *bytes, size_t count, hw_error *err)
{
    const char *text = (const char *)bytes;
    if (count < job->log_read || hw_crc32(bytes, job->log_read) != job->log_sum) {
        return refuse_changed(job, err);
    }
    bool mends = hw_log_mends(text + job->log_read, count - job->log_read);
    hw_corrections corrections = {0};
    if (job->id[0] == 0) {
        take_id(job, text, count);
    }
    if (mends) {
        forget(job);
    }
    bool good = !mends || hw_corrections_collect(text, count, &job->limits, &corrections);
    hw_status status = good ? read_lines(job, text, count, &corrections, err)
                            : hw_fail_memory(err, "reading the job");
    if (status == HW_OK && mends) {
        hw_mend_events(job->events, job->count);
    }
    warn_unknown_events(job);
    hw_corrections_free(&corrections);
    return status;
}

static hw_status read_job_file(hw_job *job, hw_error *err)
{
    hw_text path = {0};
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_json *json = NULL;
    double format = 0.0;
    hw_error why = {0};
    hw_status status = hw_job_path(job->folder, "job.json", &path, err);
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
        job->newer = true;
        hw_warn(
            &job->warnings,
            "A newer huewright has made this job (format %.0f, this one knows %d): what is shown "
            "may lack something, and nothing can be added to it.",
            format, HW_JOB_FORMAT);
    }
    const char *title = hw_json_member_text(json, "title");
    hw_copy_text(job->title, sizeof job->title, title ? title : "");
    hw_copy_text(job->file_title, sizeof job->file_title, job->title);
done:
    hw_json_free(json);
    hw_free(bytes);
    hw_text_free(&path);
    return status;
}

static hw_status read_log(hw_job *job, const hw_log_sieve *sieve, hw_error *err)
{
    hw_text path = {0};
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_status status = hw_job_path(job->folder, "log.jsonl", &path, err);
    if (status == HW_OK && hw_file_exists(path.bytes)) {
        status = hw_file_read(path.bytes, job->limits.log_bytes, &bytes, &count, err);
        if (status == HW_OK && sieve) {
            count = sieve->keep((char *)bytes, count, sieve->context);
        }
        if (status == HW_OK) {
            status = take_lines(job, bytes, count, err);
        }
    }
    hw_free(bytes);
    hw_text_free(&path);
    return status;
}

// Where job.json is lost or damaged the log alone makes the job, if it begins as one.
static hw_status open_files(hw_job *job, const hw_log_sieve *sieve, hw_error *err)
{
    hw_error first = {0}, second = {0};
    hw_status status = read_job_file(job, &first);
    hw_status logged = status == HW_ERR_STORAGE ? HW_OK : read_log(job, sieve, &second);
    bool begins = job->count > 0 && job->events[0].kind == HW_EVENT_JOB_STARTED;
    if (logged != HW_OK) {
        return hw_fail(err, logged, second.code, second.subject, second.next, "%s", second.what);
    }
    if (status != HW_OK && !begins) {
        return hw_fail(err, status, first.code, first.subject, first.next, "%s", first.what);
    }
    if (status != HW_OK) {
        hw_warn(&job->warnings,
                "job.json in this folder is %s; the log beside it holds all that happened, and is "
                "read.",
                strcmp(first.code, "job-missing") == 0 ? "missing" : "damaged");
    }
    return HW_OK;
}

hw_status hw_job_open_sieved(const char *folder, const hw_log_sieve *sieve, const hw_limits *limits,
                             hw_job **out, hw_error *err)
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
    hw_status status = open_files(job, sieve, err);
    if (status != HW_OK) {
        hw_job_free(job);
        return status;
    }
    *out = job;
    return HW_OK;
}

hw_status hw_job_open(const char *folder, const hw_limits *limits, hw_job **out, hw_error *err)
{
    return hw_job_open_sieved(folder, NULL, limits, out, err);
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

hw_limits hw_job_limits(const hw_job *job)
{
    return job->limits;
}

size_t hw_job_event_count(const hw_job *job)
{
    return job->count;
}

size_t hw_job_index_of(const hw_job *job, long number)
{
    size_t low = 0, high = job->count;
    while (job->in_order && low < high) {
        size_t middle = low + (high - low) / 2;
        if (job->events[middle].number < number) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    while (!job->in_order && low < job->count && job->events[low].number != number) {
        low++; // a damaged or hostile log: one by one
    }
    return low;
}

size_t hw_job_surface_count(const hw_job *job)
{
    return job->surface_count;
}

size_t hw_job_surface_upto(const hw_job *job, long place)
{
    size_t low = 0, high = job->surface_count;
    if (job->surface_late || !job->in_order) {
        return high; // any may stand before that place
    }
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (job->events[job->surface[middle]].number <= place) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

const hw_event *hw_job_surface_event(const hw_job *job, size_t index)
{
    return &job->events[job->surface[index]];
}

const hw_event *hw_job_event(const hw_job *job, size_t index)
{
    return index < job->count ? &job->events[index] : NULL;
}

// ---- Appending ---------------------------------------------------------------------

// The line's head, then the members of body.
static hw_json *whole_event(const char *event, const hw_json *body, long number, const char *entry,
                            int64_t now)
{
    char at[40];
    hw_format_time(at, now);
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "event", event);
    hw_json_add_number(json, "number", (double)number);
    hw_json_add_text(json, "at", at);
    hw_json_add_text(json, "program", hw_version());
    hw_event_put_text(json, "entry", entry);
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

static long next_jar(const hw_job *job)
{
    long jar = 0;
    for (size_t i = 0; i < job->count; i++) {
        const hw_event *event = &job->events[i];
        bool mixed = event->was == HW_EVENT_JAR_MIXED; // withdrawn too: it may be on a jar
        jar = mixed && event->of.jar.jar > jar ? event->of.jar.jar : jar;
    }
    return jar + 1;
}

// Nothing is written that could not be read again: then it would be lost, and said to be saved.
static hw_status test_lines(const hw_job *job, const hw_text *lines, size_t count, hw_error *err)
{
    hw_log_reader reader = {.bytes = lines->bytes, .count = lines->length, .whole = true};
    hw_line_state state;
    hw_json *json;
    size_t whole = 0;
    while (hw_log_next(&reader, &job->limits, &state, &json)) {
        hw_json_free(json);
        if (state == HW_LINE_NO_MEMORY) {
            return hw_fail_memory(err, "writing the log");
        }
        whole += state == HW_LINE_WHOLE;
    }
    return whole == count
               ? HW_OK
               : hw_fail(err, HW_ERR_CALL, "event-unreadable", job->folder,
                         "Use plain names and fewer marks, and say it again.",
                         "this could not be read back from the log, so nothing was written");
}

// The lines of all events, to be written at once.
static hw_status add_lines(const hw_job *job, const hw_new_event *events, size_t count, int64_t now,
                           hw_text *lines, hw_error *err)
{
    hw_status status = HW_OK;
    for (size_t i = 0; status == HW_OK && i < count; i++) {
        hw_json *json = whole_event(events[i].name, events[i].body, job->last_number + 1 + (long)i,
                                    i == 0 ? job->entry : "", now);
        if (events[i].takes_jar_number) {
            hw_json_add_number(json, "jar", (double)next_jar(job));
        }
        if (events[i].reads_first) {
            hw_json_add_number(json, "photo_event", (double)(job->last_number + 1));
        }
        size_t before = lines->length;
        status = hw_log_line(json, lines, err);
        if (status == HW_OK && lines->length - before > job->limits.json_bytes) {
            status = hw_fail(err, HW_ERR_CALL, "event-too-long", events[i].name,
                             "Use a shorter note or fewer marks.", "this is too long for the log");
        }
        hw_json_free(json);
    }
    return status == HW_OK ? test_lines(job, lines, count, err) : status;
}

// What was just written joins the opened job; it is on the disk already.
static hw_status take_written(hw_job *job, hw_append *log, hw_error *err)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_error why = {0};
    hw_status status = hw_append_read(log, job->limits.log_bytes, &bytes, &count, &why);
    if (status == HW_OK) {
        status = take_lines(job, bytes, count, &why);
    }
    hw_free(bytes);
    if (status != HW_OK) {
        return hw_fail(err, HW_ERR_STORAGE, why.code, job->folder,
                       "It is saved. Open the job again to go on.", "after the event was saved: %s",
                       why.what);
    }
    return HW_OK;
}

static hw_status test_bodies(const hw_new_event *events, size_t count, hw_error *err)
{
    hw_status status = HW_OK;
    for (size_t i = 0; status == HW_OK && i < count; i++) {
        char *tested = NULL;
        status = hw_json_print(events[i].body, false, &tested, err);
        hw_free(tested);
    }
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

// Who waited for the lock, or for a photo to be read, brings the time from before. It is logged now, and so not before what
// was logged meanwhile. Where more lies between, the clock was set back.
static int64_t logged_at(const hw_job *job, int64_t now)
{
    const int64_t most_s = 600; // (chosen: a photo among others of several devices waits minutes)
    int64_t last = job->count > 0 ? job->events[job->count - 1].at : now;
    return last > now && last - now <= most_s ? last : now;
}

static hw_status append_locked(hw_job *job, const char *path, const hw_new_event *events,
                               size_t count, int64_t now, long *number, hw_error *err)
{
    hw_append *log = NULL;
    hw_text lines = {0};
    hw_status status = HW_OK;
    if (job->log_read > 0 && !hw_file_exists(path)) {
        status = refuse_gone(job, err); // before hw_append_open makes an empty one
    }
    if (status == HW_OK) {
        status = hw_append_open(path, wait_ms, &log, err);
    }
    if (status == HW_OK) {
        status = catch_up(job, log, path, err);
    }
    if (status == HW_OK && find_said_before(job)) { // by another hand, since it was asked
        *number = job->said_before;
        hw_append_close(&log);
        return HW_OK;
    }
    long first = job->last_number + 1;
    if (status == HW_OK) {
        status = add_lines(job, events, count, logged_at(job, now), &lines, err);
    }
    if (status == HW_OK) {
        status = hw_append_write(log, lines.bytes, lines.length, err);
    }
    if (status == HW_OK) {
        *number = first;
        status = take_written(job, log, err);
    }
    hw_append_close(&log);
    hw_text_free(&lines);
    return status;
}

hw_status hw_job_append(hw_job *job, hw_new_event *events, size_t count, int64_t now, long *number,
                        hw_error *err)
{
    hw_text path = {0};
    hw_status status = test_bodies(events, count, err);
    if (status == HW_OK && job->newer) {
        status = hw_fail(err, HW_ERR_INPUT, "job-format", job->folder,
                         "Use that newer version of huewright for this job.",
                         "a newer huewright has made this job, so this one writes nothing into it");
    }
    if (status == HW_OK) {
        status = hw_job_path(job->folder, "log.jsonl", &path, err);
    }
    if (status == HW_OK) {
        status = append_locked(job, path.bytes, events, count, now, number, err);
        job->entry[0] = 0; // it names one thing only
    }
    for (size_t i = 0; i < count; i++) {
        hw_json_free(events[i].body);
        events[i].body = NULL;
    }
    hw_text_free(&path);
    return status;
}

// ---- Photos ------------------------------------------------------------------------

hw_status hw_job_keep_photo(const hw_job *job, const void *bytes, size_t count,
                            const char *extension, char stored[96], hw_error *err)
{
    char sum[65], name[96];
    hw_text path = {0};
    hw_sha256_hex(bytes, count, sum);
    hw_format_text(name, sizeof name, "photos/%s.%s", sum, extension);
    hw_status status = hw_job_path(job->folder, name, &path, err);
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
    hw_status status = hw_job_path(job->folder, stored, &path, err);
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
