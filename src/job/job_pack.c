// job_pack.c: the job in one zip file, for keeping or sending, that anybody can open.
//
//   NAME/job.json
//   NAME/log.jsonl          the whole lines, as they were at one moment
//   NAME/log.jsonl.torn-N   half lines, also one that is at the end of the log right now
//   NAME/marks-to-edit.json
//   NAME/photos/            each photo that the log names
//
// What always holds:
//  (1) Before it is put in its place, the pack is read back and each entry compared with what was put
//      into it. A program that dies leaves no pack, or a whole one.
//  (2) What is missing, damaged or left out is told, each by its name.
//  (3) The same job gives the same bytes: entries stand in a fixed order, with the times of the log.
//  (4) One file is in memory at a time.
#include "job_internal.h"

// What was put into an entry.
typedef struct put_entry {
    char *name;
    char sum[65]; // empty for a folder
} put_entry;

typedef struct packing {
    const char *folder;
    const hw_limits *limits;
    hw_job_packed *out;
    hw_new_file *file;
    hw_pack_writer *zip;
    hw_text name; // of the entry
    put_entry *entry;
    size_t entry_count, entry_room;
    hw_log_survey survey;
    hw_names names; // in the folder
} packing;

void hw_job_packed_free(hw_job_packed *packed)
{
    hw_findings_free(&packed->findings);
    *packed = (hw_job_packed){0};
}

// ---- Entries -----------------------------------------------------------------------

static hw_status put_bytes(void *to, const void *bytes, size_t count, hw_error *err)
{
    packing *p = to;
    p->out->bytes += count;
    return hw_new_file_write(p->file, bytes, count, err);
}

// Notes the entry NAME/`member` in the list that is compared at the end; its name is p->name.
static hw_status note_entry(packing *p, const char *member, const void *bytes, size_t count,
                            hw_error *err)
{
    if (p->entry_count == HW_PACK_ENTRIES_MOST) {
        return hw_fail(err, HW_ERR_INPUT, "pack-large", p->folder,
                       "Copy the folder as it is; it is a job like any other.",
                       "the job has more than %d files, which is the most in one pack",
                       HW_PACK_ENTRIES_MOST);
    }
    if (p->entry_count == p->entry_room) {
        size_t room = p->entry_room ? 2 * p->entry_room : 32;
        put_entry *grown = hw_resize_array(p->entry, room, sizeof *grown);
        if (!grown) {
            return hw_fail_memory(err, "packing");
        }
        p->entry = grown;
        p->entry_room = room;
    }
    p->name.length = 0;
    hw_text_add(&p->name, "%s/%s", p->out->name, member);
    char *copy = p->name.failed ? NULL : hw_alloc_array(p->name.length + 1, 1);
    if (!copy) {
        return hw_fail_memory(err, "packing");
    }
    memcpy(copy, p->name.bytes, p->name.length + 1);
    put_entry *noted = &p->entry[p->entry_count++];
    *noted = (put_entry){.name = copy};
    if (bytes) {
        hw_sha256_hex(bytes, count, noted->sum);
    }
    return HW_OK;
}

static hw_status put_folder(packing *p, const char *member, hw_error *err)
{
    hw_status status = note_entry(p, member, NULL, 0, err);
    return status == HW_OK ? hw_pack_add_folder(p->zip, p->name.bytes, p->survey.last_at, err)
                           : status;
}

static hw_status put_file(packing *p, const char *member, const void *bytes, size_t count,
                          int64_t at, hw_error *err)
{
    bool deflate = hw_job_member(member) != HW_MEMBER_PHOTO;
    hw_status status = note_entry(p, member, bytes, count, err);
    return status == HW_OK ? hw_pack_add_file(p->zip, p->name.bytes, bytes, count, at, deflate, err)
                           : status;
}

// Reads a member whole. *bytes is NULL where it cannot be read, for the reason in *why; the status then
// fails for want of memory alone.
static hw_status read_member(const packing *p, const char *member, uint8_t **bytes, size_t *count,
                             hw_error *why, hw_error *err)
{
    hw_text path = {0};
    *bytes = NULL;
    hw_status status = hw_job_path(p->folder, member, &path, err);
    if (status == HW_OK) {
        uint64_t most = hw_job_member_most(hw_job_member(member), p->limits);
        if (hw_file_read(path.bytes, (size_t)most, bytes, count, why) != HW_OK &&
            strcmp(why->code, "memory-out") == 0) {
            status = hw_fail_memory(err, "packing");
        }
    }
    hw_text_free(&path);
    return status;
}

// Packs a small file of the folder as it is, or tells that it could not be.
static hw_status copy_member(packing *p, const char *member, hw_error *err)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_error why = {0};
    hw_status status = read_member(p, member, &bytes, &count, &why, err);
    if (status == HW_OK && bytes) {
        status = put_file(p, member, bytes, count, p->survey.last_at, err);
    } else if (status == HW_OK) {
        status = hw_find(&p->out->findings, HW_SEVERITY_LOSS, member, err,
                         "Not in the pack: %s. %s", why.what, why.next);
    }
    hw_free(bytes);
    return status;
}

// ---- The log -----------------------------------------------------------------------

static hw_status put_tail(packing *p, const uint8_t *bytes, size_t whole, size_t count,
                          hw_error *err)
{
    char name[HW_MEMBER_SIZE];
    hw_format_text(name, sizeof name, "log.jsonl.torn-%zu", whole);
    for (int turn = 2; true; turn++) {
        bool taken = false;
        for (size_t i = 0; i < p->names.count; i++) {
            taken = taken || strcmp(p->names.name[i], name) == 0;
        }
        if (!taken) {
            break;
        }
        hw_format_text(name, sizeof name, "log.jsonl.torn-%zu-%d", whole, turn);
    }
    hw_status status = put_file(p, name, bytes + whole, count - whole, p->survey.last_at, err);
    return status == HW_OK
               ? hw_find(&p->out->findings, HW_SEVERITY_ODD, "log.jsonl", err,
                         "The log ends in half a line, as after a power cut; in the pack it stands "
                         "aside as %s. Nothing that was said to be saved is missing.",
                         name)
               : status;
}

// Reads the log; its photos and times are known then. *bytes is NULL where there is none.
static hw_status read_log(packing *p, uint8_t **bytes, size_t *count, hw_error *err)
{
    hw_text path = {0};
    hw_error locked = {0}, why = {0};
    *bytes = NULL;
    hw_status status = hw_job_path(p->folder, "log.jsonl", &path, err);
    if (status == HW_OK &&
        hw_job_read_log(path.bytes, p->limits, NULL, bytes, count, &locked, &why) != HW_OK) {
        status = strcmp(why.code, "memory-out") == 0
                     ? hw_fail_memory(err, "packing")
                     : hw_find(&p->out->findings, HW_SEVERITY_LOSS, "log.jsonl", err,
                               "The log is not in the pack: %s. %s", why.what,
                               "Find it in a copy of the folder, and pack again.");
    }
    hw_text_free(&path);
    if (status == HW_OK && *bytes) {
        size_t whole = hw_log_whole_bytes((const char *)*bytes, *count);
        status = hw_job_survey((const char *)*bytes, whole, p->limits, &p->survey,
                               &p->out->findings, err);
        p->out->lines = p->survey.lines_whole + p->survey.lines_bad;
    }
    return status;
}

static hw_status put_log(packing *p, const uint8_t *bytes, size_t count, hw_error *err)
{
    size_t whole = hw_log_whole_bytes((const char *)bytes, count);
    hw_status status = put_file(p, "log.jsonl", bytes, whole, p->survey.last_at, err);
    return status == HW_OK && whole < count ? put_tail(p, bytes, whole, count, err) : status;
}

// ---- Photos ------------------------------------------------------------------------

static hw_status put_photo(packing *p, const hw_named_photo *photo, hw_error *err)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    char sum[65];
    hw_error why = {0};
    hw_status status = read_member(p, photo->stored, &bytes, &count, &why, err);
    if (status == HW_OK && !bytes) {
        return hw_find(&p->out->findings, HW_SEVERITY_LOSS, photo->stored, err,
                       "This photo of event %ld is not in the pack: %s. Put it back from a copy of "
                       "the folder and pack again.",
                       photo->event, why.what);
    }
    if (status == HW_OK) {
        hw_sha256_hex(bytes, count, sum);
        if (strncmp(photo->stored + strlen("photos/"), sum, 64) != 0) {
            status = hw_find(&p->out->findings, HW_SEVERITY_LOSS, photo->stored, err,
                             "This photo of event %ld is not what it was when it was added; it is "
                             "packed as it is now. Put it back from a copy of the folder and pack "
                             "again.",
                             photo->event);
        }
    }
    if (status == HW_OK) {
        status = put_file(p, photo->stored, bytes, count, photo->at, err);
        p->out->photos += status == HW_OK;
    }
    hw_free(bytes);
    return status;
}

static hw_status put_photos(packing *p, hw_error *err)
{
    hw_status status = put_folder(p, "photos/", err);
    for (size_t i = 0; i < p->survey.photo_count && status == HW_OK; i++) {
        status = put_photo(p, &p->survey.photo[i], err);
    }
    return status;
}

// ---- What is left out --------------------------------------------------------------

static hw_status tell_left_out(packing *p, const char *where, hw_error *err)
{
    return hw_find(&p->out->findings, HW_SEVERITY_ODD, where, err,
                   hw_is_half_written(where)
                       ? "Left out: a file half written when a program was stopped."
                   : hw_job_member(where) == HW_MEMBER_PHOTO
                       ? "Left out: it was kept but never logged, as after a power cut."
                       : "Left out: it is no part of the job. Send it beside the pack if it is "
                         "wanted.");
}

static hw_status tell_photos_left_out(packing *p, hw_error *err)
{
    hw_text path = {0};
    hw_names names = {0};
    hw_error why = {0};
    hw_status status = hw_job_path(p->folder, "photos", &path, err);
    if (status == HW_OK && hw_folder_names(path.bytes, &names, &why) != HW_OK &&
        strcmp(why.code, "memory-out") == 0) {
        status = hw_fail_memory(err, "packing");
    }
    hw_text_free(&path);
    for (size_t i = 0; i < names.count && status == HW_OK; i++) {
        hw_text stored = {0};
        status = hw_job_path("photos", names.name[i], &stored, err);
        if (status == HW_OK && !hw_log_survey_photo(&p->survey, stored.bytes)) {
            status = tell_left_out(p, stored.bytes, err);
        }
        hw_text_free(&stored);
    }
    hw_names_free(&names);
    return status;
}

// The other files of the folder: marks and torn tails are packed, the rest is told.
static hw_status put_others(packing *p, hw_error *err)
{
    hw_status status = HW_OK;
    for (size_t i = 0; i < p->names.count && status == HW_OK; i++) {
        const char *name = p->names.name[i];
        hw_member member = hw_job_member(name);
        if (member == HW_MEMBER_MARKS || member == HW_MEMBER_TORN) {
            status = copy_member(p, name, err);
        } else if (member == HW_MEMBER_NONE && strcmp(name, "photos") != 0) {
            status = tell_left_out(p, name, err);
        }
    }
    return status;
}

// ---- Reading back ------------------------------------------------------------------

static hw_status read_back(void *from, uint64_t at, void *bytes, size_t room, size_t *got,
                           hw_error *err)
{
    packing *p = from;
    return hw_new_file_read(p->file, at, bytes, room, got, err);
}

static hw_status refuse_unlike(const char *file, hw_error *err)
{
    return hw_fail(err, HW_ERR_STORAGE, "pack-failed", file,
                   "Try again, or on another disk; if it stays, check the disk.",
                   "read back, the pack was not what was written; it was not kept");
}

static hw_status compare_entry(hw_pack_reader *zip, const hw_pack_entry *entry,
                               const put_entry *put, const char *file, hw_error *err)
{
    uint8_t piece[1 << 14];
    char sum[65] = "";
    hw_sha256 state;
    size_t got = 1;
    hw_status status = HW_OK;
    bool folder = put->sum[0] == 0;
    if (strcmp(entry->name, put->name) != 0 || (entry->kind == HW_PACK_FOLDER) != folder) {
        return refuse_unlike(file, err);
    }
    hw_sha256_start(&state);
    while (!folder && status == HW_OK && got > 0) {
        status = hw_pack_read(zip, piece, sizeof piece, &got, err);
        if (status == HW_OK) {
            hw_sha256_add(&state, piece, got);
        }
    }
    hw_sha256_end(&state, sum);
    return status == HW_OK && !folder && strcmp(sum, put->sum) != 0 ? refuse_unlike(file, err)
                                                                    : status;
}

static hw_status compare(packing *p, const char *file, hw_error *err)
{
    hw_pack_source source = {p, p->out->bytes, read_back};
    hw_pack_reader *zip = NULL;
    hw_pack_entry entry;
    bool there = true;
    size_t count = 0;
    hw_status status = hw_pack_open(&source, file, &zip, err);
    while (status == HW_OK && there) {
        status = hw_pack_next(zip, &entry, &there, err);
        if (status == HW_OK && there) {
            status = count < p->entry_count
                         ? compare_entry(zip, &entry, &p->entry[count], file, err)
                         : refuse_unlike(file, err);
            count++;
        }
    }
    hw_pack_reader_free(&zip);
    return status == HW_OK && count != p->entry_count ? refuse_unlike(file, err) : status;
}

// ---- All of it ---------------------------------------------------------------------

static hw_status look_into(packing *p, hw_error *err)
{
    bool job = false;
    hw_error why = {0};
    hw_status status = hw_folder_names(p->folder, &p->names, &why);
    if (status != HW_OK && strcmp(why.code, "file-missing") != 0) {
        return hw_fail(err, status, why.code, why.subject, why.next, "%s", why.what);
    }
    for (size_t i = 0; i < p->names.count; i++) {
        hw_member member = hw_job_member(p->names.name[i]);
        job = job || member == HW_MEMBER_JOB || member == HW_MEMBER_LOG;
    }
    if (!job) {
        return hw_fail(err, HW_ERR_INPUT, "job-missing", p->folder,
                       "Check the name, or make a job with: huewright start FOLDER",
                       "there is no job in this folder");
    }
    // A name that any other computer can use; else a plain one.
    if (!hw_folder_own_name(p->folder, p->out->name, sizeof p->out->name) ||
        !hw_name_is_usable(p->out->name) || strpbrk(p->out->name, "\\:*?\"<>|") ||
        p->out->name[0] == '.') {
        hw_copy_text(p->out->name, sizeof p->out->name, "job");
    }
    return HW_OK;
}

static hw_status put_all(packing *p, hw_error *err)
{
    uint8_t *log = NULL;
    size_t count = 0;
    hw_status status = read_log(p, &log, &count, err);
    if (status == HW_OK) {
        status = hw_pack_start(put_bytes, p, &p->zip, err);
    }
    if (status == HW_OK) {
        status = put_folder(p, "", err);
    }
    if (status == HW_OK) {
        status = copy_member(p, "job.json", err);
    }
    if (status == HW_OK && log) {
        status = put_log(p, log, count, err);
    }
    hw_free(log);
    if (status == HW_OK) {
        status = put_others(p, err);
    }
    if (status == HW_OK) {
        status = put_photos(p, err);
    }
    if (status == HW_OK) {
        status = tell_photos_left_out(p, err);
    }
    return status == HW_OK ? hw_pack_finish(p->zip, err) : status;
}

static void free_packing(packing *p)
{
    hw_pack_writer_free(&p->zip);
    hw_new_file_abandon(&p->file);
    for (size_t i = 0; i < p->entry_count; i++) {
        hw_free(p->entry[i].name);
    }
    hw_free(p->entry);
    hw_text_free(&p->name);
    hw_log_survey_free(&p->survey);
    hw_names_free(&p->names);
}

hw_status hw_job_pack(const char *folder, const char *file, const hw_limits *limits,
                      hw_job_packed *out, hw_error *err)
{
    hw_limits bounds = limits ? *limits : hw_limits_default();
    hw_job_packed packed = {0};
    packing p = {.folder = folder, .limits = &bounds, .out = &packed};
    hw_status status = look_into(&p, err);
    if (status == HW_OK) {
        status = hw_new_file_open(file, &p.file, err);
    }
    if (status == HW_OK) {
        status = put_all(&p, err);
    }
    if (status == HW_OK) {
        status = compare(&p, file, err);
    }
    if (status == HW_OK) {
        status = hw_new_file_keep(&p.file, err);
    }
    free_packing(&p);
    if (status != HW_OK) {
        hw_job_packed_free(&packed);
        return status;
    }
    *out = packed;
    return HW_OK;
}
