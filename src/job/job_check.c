// job_check.c: is all there that was saved? A folder that cannot be opened as a job is looked at like
// any other: what is missing, what is whole, what to do.
//
// What always holds:
//  (1) Half a line at the end of the log is moved into a file of its own, under the lock, as the next
//      writer would; no other byte of the folder is changed, and nothing is where that may not be.
//  (2) A photo is whole when its SHA-256 is its name. It is read piece by piece: photos of any size, and
//      any number of them, take the same memory.
//  (3) The only failures are a folder that cannot be looked into, and memory. All else is a finding.
#include "job_internal.h"

static const unsigned wait_ms = 5000; // for another program that writes

void hw_job_checked_free(hw_job_checked *checked)
{
    hw_findings_free(&checked->findings);
    *checked = (hw_job_checked){0};
}

static bool is_memory(const hw_error *why)
{
    return strcmp(why->code, "memory-out") == 0;
}

// ---- job.json ----------------------------------------------------------------------

// What to do where job.json cannot be used: the log holds all the rest.
#define JOB_FILE_CURE                                                                              \
    "Put it back from a copy, or write a new one with this one line: {\"format\":1,\"title\":"     \
    "\"...\"}. All that happened is in the log."

static hw_status read_job_json(const char *bytes, size_t count, const hw_limits *limits,
                               hw_job_checked *out, hw_error *err)
{
    hw_json *json = NULL;
    hw_error why = {0};
    double format = 0.0;
    hw_status status = hw_json_parse(bytes, count, limits, "job.json", &json, &why);
    if (status == HW_ERR_STORAGE) {
        return hw_fail_memory(err, "checking the job");
    }
    if (status != HW_OK || !hw_json_member_number(json, "format", &format)) {
        out->job_file = HW_CONDITION_DAMAGED;
        status = hw_find(&out->findings, HW_SEVERITY_LOSS, "job.json", err,
                         "This file is damaged, so the log alone is the job. " JOB_FILE_CURE);
    } else if (format > HW_JOB_FORMAT) {
        out->job_file = HW_CONDITION_NEWER;
        status = hw_find(&out->findings, HW_SEVERITY_ODD, "job.json", err,
                         "A newer huewright has made this job (format %.0f, this one knows %d): "
                         "use that version to work on it, and to be sure of this check.",
                         format, HW_JOB_FORMAT);
    }
    const char *title = hw_json_member_text(json, "title");
    hw_copy_text(out->title, sizeof out->title, title ? title : "");
    hw_json_free(json);
    return status;
}

static hw_status check_job_file(const char *folder, const hw_limits *limits, hw_job_checked *out,
                                hw_error *err)
{
    hw_text path = {0};
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_error why = {0};
    hw_status status = hw_job_path(folder, "job.json", &path, err);
    if (status != HW_OK) {
        return status;
    }
    if (hw_file_read(path.bytes, limits->json_bytes, &bytes, &count, &why) == HW_OK) {
        status = read_job_json((const char *)bytes, count, limits, out, err);
    } else if (is_memory(&why)) {
        status = hw_fail_memory(err, "checking the job");
    } else if (strcmp(why.code, "file-missing") == 0) {
        out->job_file = HW_CONDITION_MISSING;
        status = hw_find(&out->findings, HW_SEVERITY_LOSS, "job.json", err,
                         "This file is missing, so the log alone is the job. " JOB_FILE_CURE);
    } else {
        out->job_file = HW_CONDITION_DAMAGED;
        status = hw_find(&out->findings, HW_SEVERITY_LOSS, "job.json", err, "%s. %s", why.what,
                         why.next);
    }
    hw_free(bytes);
    hw_text_free(&path);
    return status;
}

// ---- The log -----------------------------------------------------------------------

hw_status hw_job_read_log(const char *path, const hw_limits *limits, hw_append **lock,
                          uint8_t **bytes, size_t *count, hw_error *why, hw_error *err)
{
    hw_append *log = NULL;
    uint8_t *read = NULL, *again = NULL;
    size_t have = 0;
    hw_status status = hw_file_read(path, limits->log_bytes, &read, &have, err);
    if (status != HW_OK) {
        return status;
    }
    // Half a line may be one that is just being written: under the lock it is not.
    if (hw_log_whole_bytes((const char *)read, have) < have &&
        hw_append_open(path, wait_ms, &log, why) == HW_OK) {
        status = hw_append_read(log, limits->log_bytes, &again, &have, err);
        hw_free(read);
        read = again;
    }
    if (status == HW_OK && lock) {
        *lock = log;
    } else {
        hw_append_close(&log);
    }
    if (status == HW_OK) {
        *bytes = read;
        *count = have;
    }
    return status;
}

// A name for the torn tail that is not taken: "log.jsonl.torn-812", then "...-812-2".
static hw_status name_torn(const char *folder, size_t whole, char name[HW_MEMBER_SIZE],
                           hw_text *path, hw_error *err)
{
    for (int turn = 1;; turn++) {
        hw_format_text(name, HW_MEMBER_SIZE, "log.jsonl.torn-%zu", whole);
        if (turn > 1) {
            hw_format_text(name, HW_MEMBER_SIZE, "log.jsonl.torn-%zu-%d", whole, turn);
        }
        path->length = 0;
        hw_status status = hw_job_path(folder, name, path, err);
        if (status != HW_OK || !hw_file_exists(path->bytes)) {
            return status;
        }
    }
}

// Moves half a line aside. `lock` is NULL where it could not be had, for the reason in *why.
static hw_status mend_tail(const char *folder, hw_append *lock, size_t whole, hw_error *why,
                           hw_findings *findings, hw_error *err)
{
    hw_text path = {0};
    char name[HW_MEMBER_SIZE];
    hw_status status = name_torn(folder, whole, name, &path, err);
    bool mended = status == HW_OK && lock && hw_append_cut(lock, whole, path.bytes, why) == HW_OK;
    hw_text_free(&path);
    if (status != HW_OK || is_memory(why)) {
        return hw_fail_memory(err, "checking the job");
    }
    if (mended) {
        return hw_find(findings, HW_SEVERITY_MENDED, "log.jsonl", err,
                       "The log ended in half a line, as after a power cut; that half line was "
                       "moved aside to %s. Nothing that was said to be saved is missing.",
                       name);
    }
    return hw_find(
        findings, HW_SEVERITY_ODD, "log.jsonl", err,
        "The log ends in half a line, as after a power cut; nothing that was said to be "
        "saved is missing. It could not be moved aside: %s. The next event that is saved "
        "does that.",
        why->what);
}

static hw_status refuse_log(const hw_error *why, hw_job_checked *out, hw_error *err)
{
    if (is_memory(why)) {
        return hw_fail_memory(err, "checking the job");
    }
    if (strcmp(why->code, "file-missing") == 0) {
        out->log_file = HW_CONDITION_MISSING;
        return hw_find(
            &out->findings, HW_SEVERITY_LOSS, "log.jsonl", err,
            "The log is missing: all that was read and done is in it. Put it back from a "
            "copy of the folder; photos that are still there can be added to a new job "
            "with: huewright photo.");
    }
    out->log_file = HW_CONDITION_DAMAGED;
    return hw_find(&out->findings, HW_SEVERITY_LOSS, "log.jsonl", err,
                   "The log cannot be read: %s. Put it back from a copy of the folder.", why->what);
}

static hw_status check_log(const char *folder, const hw_limits *limits, hw_log_survey *survey,
                           hw_job_checked *out, hw_error *err)
{
    hw_text path = {0};
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_append *lock = NULL;
    hw_error locked = {0}, why = {0};
    hw_status status = hw_job_path(folder, "log.jsonl", &path, err);
    if (status != HW_OK) {
        return status;
    }
    if (hw_job_read_log(path.bytes, limits, &lock, &bytes, &count, &locked, &why) != HW_OK) {
        status = refuse_log(&why, out, err);
        goto done;
    }
    size_t whole = hw_log_whole_bytes((const char *)bytes, count);
    if (whole < count) {
        out->lines_torn = 1;
        status = mend_tail(folder, lock, whole, &locked, &out->findings, err);
    }
    hw_append_close(&lock);
    if (status == HW_OK) {
        status = hw_job_survey((const char *)bytes, whole, limits, survey, &out->findings, err);
    }
    out->lines_whole = survey->lines_whole;
    out->lines_bad = survey->lines_bad;
    out->events_missing = survey->events_missing;
    if (out->title[0] == 0) {
        hw_copy_text(out->title, sizeof out->title, survey->title);
    }
    if (status == HW_OK && survey->lines_whole + survey->lines_bad == 0) {
        status = hw_find(&out->findings, HW_SEVERITY_ODD, "log.jsonl", err,
                         "The log holds no event: the job was cut short while it was started, or "
                         "the log was emptied. If there was more, put it back from a copy.");
    }
done:
    hw_append_close(&lock);
    hw_free(bytes);
    hw_text_free(&path);
    return status;
}

// ---- Photos ------------------------------------------------------------------------

static hw_status sum_of_file(const char *path, char sum[65], hw_error *err)
{
    const size_t piece = (size_t)1 << 16;
    hw_old_file *file = NULL;
    hw_sha256 state;
    uint64_t at = 0;
    size_t got = 0;
    uint8_t *bytes = hw_alloc_array(piece, 1);
    if (!bytes) {
        return hw_fail_memory(err, "checking the job");
    }
    hw_status status = hw_old_file_open(path, &file, err);
    hw_sha256_start(&state);
    while (status == HW_OK) {
        status = hw_old_file_read(file, at, bytes, piece, &got, err);
        if (status != HW_OK || got == 0) {
            break;
        }
        hw_sha256_add(&state, bytes, got);
        at += got;
    }
    hw_sha256_end(&state, sum);
    hw_old_file_close(&file);
    hw_free(bytes);
    return status;
}

static hw_status check_photo(const char *folder, const hw_named_photo *photo, hw_job_checked *out,
                             hw_error *err)
{
    hw_text path = {0};
    char sum[65];
    hw_error why = {0};
    hw_status status = hw_job_path(folder, photo->stored, &path, err);
    if (status != HW_OK) {
        return status;
    }
    if (sum_of_file(path.bytes, sum, &why) != HW_OK) {
        bool missing = strcmp(why.code, "file-missing") == 0;
        out->photos_missing++;
        status = is_memory(&why) ? hw_fail_memory(err, "checking the job")
                 : missing
                     ? hw_find(&out->findings, HW_SEVERITY_LOSS, photo->stored, err,
                               "This photo of event %ld is missing. Put it back from a copy of the "
                               "folder; what was read from it is in the log.",
                               photo->event)
                     : hw_find(&out->findings, HW_SEVERITY_LOSS, photo->stored, err,
                               "This photo of event %ld cannot be read: %s. %s", photo->event,
                               why.what, why.next);
    } else if (strncmp(photo->stored + strlen("photos/"), sum, 64) != 0) {
        out->photos_changed++;
        status = hw_find(&out->findings, HW_SEVERITY_LOSS, photo->stored, err,
                         "This photo of event %ld is not what it was: it was changed, or the disk "
                         "has damaged it. Put it back from a copy of the folder.",
                         photo->event);
    } else {
        out->photos_whole++;
    }
    hw_text_free(&path);
    return status;
}

static hw_status tell_half_written(hw_findings *findings, const char *where, hw_error *err)
{
    return hw_find(findings, HW_SEVERITY_ODD, where, err,
                   "A file half written when a program was stopped; nothing that was said to be "
                   "saved is in it. It may be removed while no huewright runs.");
}

// A file in photos/ that no event names.
static hw_status tell_unknown(const char *where, bool is_photo, hw_job_checked *out, hw_error *err)
{
    if (hw_is_half_written(where)) {
        return tell_half_written(&out->findings, where, err);
    }
    out->photos_unknown++;
    return hw_find(&out->findings, HW_SEVERITY_ODD, where, err,
                   is_photo ? "Kept but never logged, as after a power cut: harmless. Add it with "
                              "huewright photo if it belongs to the job."
                            : "No photo that huewright has kept, and no event names it: harmless.");
}

static hw_status check_photos(const char *folder, const hw_log_survey *survey, hw_job_checked *out,
                              hw_error *err)
{
    hw_text path = {0};
    hw_names names = {0};
    hw_error why = {0};
    hw_status status = hw_job_path(folder, "photos", &path, err);
    bool listed = status == HW_OK && hw_folder_names(path.bytes, &names, &why) == HW_OK;
    hw_text_free(&path);
    if (status != HW_OK || is_memory(&why)) {
        return hw_fail_memory(err, "checking the job");
    }
    if (!listed) {
        status =
            hw_find(&out->findings, survey->photo_count ? HW_SEVERITY_LOSS : HW_SEVERITY_ODD,
                    "photos/", err,
                    survey->photo_count ? "The folder of the photos is missing or cannot be read. "
                                          "Put it back from a copy; what was read from the photos "
                                          "is in the log."
                                        : "The folder of the photos is missing; the log names none "
                                          "yet. Make an empty folder of that name.");
    }
    for (size_t i = 0; i < survey->photo_count && status == HW_OK; i++) {
        status = check_photo(folder, &survey->photo[i], out, err);
    }
    for (size_t i = 0; i < names.count && status == HW_OK; i++) {
        hw_text stored = {0};
        status = hw_job_path("photos", names.name[i], &stored, err);
        if (status == HW_OK && !hw_log_survey_photo(survey, stored.bytes)) {
            status = tell_unknown(stored.bytes, hw_job_member(stored.bytes) == HW_MEMBER_PHOTO, out,
                                  err);
        }
        hw_text_free(&stored);
    }
    hw_names_free(&names);
    return status;
}

// ---- The folder --------------------------------------------------------------------

static bool has_name(const hw_names *names, const char *name)
{
    for (size_t i = 0; i < names->count; i++) {
        if (strcmp(names->name[i], name) == 0) {
            return true;
        }
    }
    return false;
}

// Names of a folder that is, or was, a job.
static hw_status look_into(const char *folder, hw_names *names, hw_error *err)
{
    hw_error why = {0};
    hw_status status = hw_folder_names(folder, names, &why);
    bool missing = strcmp(why.code, "file-missing") == 0;
    if (status != HW_OK && !missing) {
        return hw_fail(err, status, why.code, why.subject, why.next, "%s", why.what);
    }
    if (missing || (!has_name(names, "job.json") && !has_name(names, "log.jsonl") &&
                    !has_name(names, "photos"))) {
        hw_names_free(names);
        return hw_fail(err, HW_ERR_INPUT, "job-missing", folder,
                       "Check the name, or make a job with: huewright start FOLDER",
                       missing ? "there is no such folder"
                               : "there is no job in this folder, nor a part of one");
    }
    return HW_OK;
}

static hw_status check_leftovers(const hw_names *names, hw_findings *findings, hw_error *err)
{
    hw_status status = HW_OK;
    for (size_t i = 0; i < names->count && status == HW_OK; i++) {
        if (hw_is_half_written(names->name[i])) {
            status = tell_half_written(findings, names->name[i], err);
        }
    }
    return status;
}

hw_status hw_job_check(const char *folder, const hw_limits *limits, hw_job_checked *out,
                       hw_error *err)
{
    hw_limits bounds = limits ? *limits : hw_limits_default();
    hw_job_checked checked = {0};
    hw_log_survey survey = {0};
    hw_names names = {0};
    hw_status status = look_into(folder, &names, err);
    if (status == HW_OK) {
        status = check_job_file(folder, &bounds, &checked, err);
    }
    if (status == HW_OK) {
        status = check_log(folder, &bounds, &survey, &checked, err);
    }
    if (status == HW_OK) {
        status = check_photos(folder, &survey, &checked, err);
    }
    if (status == HW_OK) {
        status = check_leftovers(&names, &checked.findings, err);
    }
    hw_log_survey_free(&survey);
    hw_names_free(&names);
    if (status != HW_OK) {
        hw_job_checked_free(&checked);
        return status;
    }
    checked.all_there = hw_findings_count(&checked.findings, HW_SEVERITY_LOSS) == 0;
    *out = checked;
    return HW_OK;
}
