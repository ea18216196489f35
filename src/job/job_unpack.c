// job_unpack.c: a pack as a job's folder again. The file may come from anybody, so it is looked through
// before anything is made: first all names and sizes, then the bytes.
//
// What always holds, whatever the file says:
//  (1) A name is taken only where it is one that a job's folder holds (job_folder.c), with or without one
//      folder above it; the path that is written to is made from that name alone.
//  (2) A name that leads elsewhere, a link or a device in a job's place, a name that stands there twice:
//      the whole pack is refused, and nothing is made. Other files are left aside, and told.
//  (3) No more bytes are taken than a job's file can have, and all of them together are bounded by the size
//      of the pack. A photo is put in its place only when its SHA-256 is its name.
//  (4) Photos first, then the log, then job.json, each synced: a folder that lacks something has no job.json.
//      On failure all that was made is removed.
#include "job_internal.h"

// Chosen: bytes that may come out of a pack, for each byte of it and at least. Logs shrink to a twentieth,
// photos hardly; zip bombs to a thousandth.
static const uint64_t times_most = 50;
static const uint64_t bytes_free = (uint64_t)64 << 20;

// An entry of the pack that is taken.
typedef struct taken_file {
    char name[HW_MEMBER_SIZE]; // in the job's folder
    size_t index;              // of the entry in the pack
    hw_member member;
    bool made;
} taken_file;

typedef struct unpacking {
    const char *file;
    const hw_limits *limits;
    hw_job_unpacked *out;
    hw_old_file *source;
    hw_pack_reader *zip;
    char top[256]; // the folder inside the pack; "" when there is none
    bool has_top;  // known
    taken_file *taken;
    size_t count, room;
    uint64_t told; // bytes by the list of entries
    uint64_t out_bytes, out_most;
    uint8_t *log, *job_json; // kept in memory up to the end
    size_t log_count, job_count;
    bool made_folder, made_photos;
    hw_text path; // with room for every path in the folder, so that taking back needs no memory
} unpacking;

void hw_job_unpacked_free(hw_job_unpacked *unpacked)
{
    hw_free(unpacked->folder);
    hw_findings_free(&unpacked->findings);
    hw_job_checked_free(&unpacked->check);
    *unpacked = (hw_job_unpacked){0};
}

// ---- Names -------------------------------------------------------------------------

// Does this name lead out of any folder that it is put in, on any computer?
static bool leads_out(const char *name)
{
    bool drive = ((name[0] | 32) >= 'a' && (name[0] | 32) <= 'z') && name[1] == ':';
    if (name[0] == '/' || drive || strchr(name, '\\')) {
        return true;
    }
    for (const char *part = name; part; part = strchr(part, '/')) {
        part += *part == '/';
        if (strncmp(part, "..", 2) == 0 && (part[2] == '/' || part[2] == 0)) {
            return true;
        }
    }
    return false;
}

// The member that an entry's name means, and its name in the job's folder. *top gets the length of the
// folder above it.
static hw_member member_of(const char *name, const char **inside, size_t *top)
{
    const char *slash = strchr(name, '/');
    hw_member member = hw_job_member(name);
    *inside = name;
    *top = 0;
    if (member == HW_MEMBER_NONE && slash && slash > name) {
        member = hw_job_member(slash + 1);
        *inside = slash + 1;
        *top = (size_t)(slash - name);
    }
    return member;
}

static void show_name(char *out, size_t size, const char *name)
{
    hw_copy_text(out, size, name[0] ? name : "an entry without a name");
}

static hw_status leave_aside(unpacking *u, hw_severity severity, const char *name, const char *why,
                             hw_error *err)
{
    char shown[320];
    show_name(shown, sizeof shown, name);
    u->out->left_aside++;
    return hw_find(&u->out->findings, severity, shown, err, "Left in the pack: %s", why);
}

static hw_status refuse_entry(const unpacking *u, const char *code, const char *name,
                              const char *what, const char *next, hw_error *err)
{
    char shown[200];
    show_name(shown, sizeof shown, name);
    return hw_fail(err, HW_ERR_INPUT, code, u->file, next, "%s %s; nothing was unpacked", shown,
                   what);
}

static const char not_trusted[] = "Ask who made it for another pack; this one was not made by "
                                  "huewright, and may mean harm.";

// ---- Looking through ---------------------------------------------------------------

static hw_status keep_top(unpacking *u, const char *name, size_t length, hw_error *err)
{
    if (length >= sizeof u->top) {
        return refuse_entry(u, "pack-unsafe", name, "lies in a folder with too long a name",
                            not_trusted, err);
    }
    if (!u->has_top) {
        memcpy(u->top, name, length);
        u->top[length] = 0;
        u->has_top = true;
    } else if (strlen(u->top) != length || strncmp(u->top, name, length) != 0) {
        return refuse_entry(u, "pack-two-jobs", name, "belongs to a second job in this pack",
                            "Unpack it with another program; each folder in it is a job.", err);
    }
    return HW_OK;
}

static hw_status take(unpacking *u, const hw_pack_entry *entry, size_t index, hw_member member,
                      const char *inside, hw_error *err)
{
    if (u->count == u->room) {
        size_t room = u->room ? 2 * u->room : 32;
        taken_file *grown = hw_resize_array(u->taken, room, sizeof *grown);
        if (!grown) {
            return hw_fail_memory(err, "unpacking");
        }
        u->taken = grown;
        u->room = room;
    }
    uint64_t most = hw_job_member_most(member, u->limits);
    uint64_t size = entry->size == (uint64_t)-1 ? 0 : entry->size; // tested as it comes
    if (size > most || u->told + size > u->out_most) {
        return refuse_entry(u, "pack-large", entry->name,
                            "would be larger than such a file of a job can be", not_trusted, err);
    }
    u->told += size;
    taken_file *taken = &u->taken[u->count++];
    *taken = (taken_file){.index = index, .member = member};
    hw_copy_text(taken->name, sizeof taken->name, inside);
    return HW_OK;
}

static hw_status look_at(unpacking *u, const hw_pack_entry *entry, size_t index, hw_error *err)
{
    const char *inside;
    size_t top;
    if (leads_out(entry->name)) {
        return refuse_entry(u, "pack-unsafe", entry->name, "is a name that leads out of the folder",
                            not_trusted, err);
    }
    if (entry->kind == HW_PACK_FOLDER) {
        return HW_OK; // the folders of a job are made anyway
    }
    hw_member member = member_of(entry->name, &inside, &top);
    if (member == HW_MEMBER_NONE || member == HW_MEMBER_LOOK) {
        return leave_aside(u, HW_SEVERITY_ODD, entry->name, "it is no file of a job.", err);
    }
    if (entry->kind != HW_PACK_FILE) {
        return refuse_entry(u, "pack-unsafe", entry->name, "is a link or a device, not a file",
                            not_trusted, err);
    }
    if (entry->encrypted) {
        return refuse_entry(u, "pack-encrypted", entry->name, "is locked with a password",
                            "Unpack it with the program that locked it: what comes out is the "
                            "job's folder.",
                            err);
    }
    if (!entry->readable) {
        return refuse_entry(u, "pack-method", entry->name,
                            "is packed in a way that huewright does not read",
                            "Unpack it with another program: what comes out is the job's folder. "
                            "Or pack it as a plain zip (stored or deflated).",
                            err);
    }
    hw_status status = keep_top(u, entry->name, top, err);
    return status == HW_OK ? take(u, entry, index, member, inside, err) : status;
}

static int order_of_names(const void *one, const void *other)
{
    return strcmp(((const taken_file *)one)->name, ((const taken_file *)other)->name);
}

static int order_of_entries(const void *one, const void *other)
{
    size_t a = ((const taken_file *)one)->index, b = ((const taken_file *)other)->index;
    return (a > b) - (a < b);
}

static hw_status test_taken(unpacking *u, hw_error *err)
{
    bool job = false;
    hw_status status = HW_OK;
    for (size_t i = 0; i < u->count; i++) {
        job = job || u->taken[i].member == HW_MEMBER_JOB || u->taken[i].member == HW_MEMBER_LOG;
    }
    if (!job) {
        return hw_fail(err, HW_ERR_INPUT, "pack-no-job", u->file,
                       "Name a file that huewright pack has made, or a zip of a job's folder.",
                       "there is no job in this pack: neither job.json nor log.jsonl");
    }
    qsort(u->taken, u->count, sizeof *u->taken, order_of_names);
    for (size_t i = 1; i < u->count && status == HW_OK; i++) {
        if (strcmp(u->taken[i - 1].name, u->taken[i].name) == 0) {
            status = refuse_entry(u, "pack-twice", u->taken[i].name, "stands in it twice",
                                  not_trusted, err);
        }
    }
    qsort(u->taken, u->count, sizeof *u->taken, order_of_entries);
    return status;
}

static hw_status read_source(void *from, uint64_t at, void *bytes, size_t room, size_t *got,
                             hw_error *err)
{
    return hw_old_file_read(from, at, bytes, room, got, err);
}

static hw_status open_pack(unpacking *u, hw_error *err)
{
    hw_pack_source source = {u->source, hw_old_file_size(u->source), read_source};
    hw_pack_reader_free(&u->zip);
    return hw_pack_open(&source, u->file, &u->zip, err);
}

// All names and sizes; nothing is made yet.
static hw_status look_through(unpacking *u, hw_error *err)
{
    hw_pack_entry entry;
    bool there = true;
    uint64_t size = hw_old_file_size(u->source);
    u->out_most = bytes_free + (size < UINT64_MAX / times_most / 2 ? size * times_most : 0);
    hw_status status = open_pack(u, err);
    for (size_t index = 0; status == HW_OK; index++) {
        status = hw_pack_next(u->zip, &entry, &there, err);
        if (status != HW_OK || !there) {
            break;
        }
        status =
            index < HW_PACK_ENTRIES_MOST
                ? look_at(u, &entry, index, err)
                : hw_fail(err, HW_ERR_INPUT, "pack-large", u->file, not_trusted,
                          "it has more than %d entries, which no job has", HW_PACK_ENTRIES_MOST);
    }
    return status == HW_OK ? test_taken(u, err) : status;
}

// ---- Taking out --------------------------------------------------------------------

static const char *path_of(unpacking *u, const char *member);

static hw_status count_bytes(unpacking *u, const taken_file *taken, uint64_t size, size_t got,
                             hw_error *err)
{
    u->out_bytes += got;
    if (size > hw_job_member_most(taken->member, u->limits) || u->out_bytes > u->out_most) {
        return refuse_entry(u, "pack-large", taken->name,
                            "grows larger than such a file of a job can be", not_trusted, err);
    }
    return HW_OK;
}

static bool is_damage(const hw_error *why)
{
    return strcmp(why->code, "pack-entry-damaged") == 0;
}

static hw_status pass_on(const hw_error *why, hw_error *err)
{
    return hw_fail_as(err, why);
}

// The log and job.json: what can be read of them, since each line has its own sum.
static hw_status take_text(unpacking *u, const taken_file *taken, uint8_t **bytes, size_t *count,
                           hw_error *err)
{
    uint8_t piece[1 << 14];
    hw_text text = {.ceiling = (size_t)hw_job_member_most(taken->member, u->limits)};
    hw_error why = {0};
    size_t got = 1;
    hw_status status = HW_OK;
    hw_text_add(&text, "%s", ""); // so that an empty file is there too
    while (status == HW_OK && got > 0) {
        if (hw_pack_read(u->zip, piece, sizeof piece, &got, &why) != HW_OK) {
            status = is_damage(&why)
                         ? hw_find(&u->out->findings, HW_SEVERITY_LOSS, taken->name, err,
                                   "This file is damaged in the pack; it was unpacked as far as it "
                                   "can be read. Fetch the pack again from where it came.")
                         : pass_on(&why, err);
            break;
        }
        hw_text_add_bytes(&text, piece, got);
        status = count_bytes(u, taken, text.length + (text.failed ? got : 0), got, err);
        if (status == HW_OK && text.failed) {
            status = hw_fail_memory(err, "unpacking");
        }
    }
    if (status != HW_OK) {
        hw_text_free(&text);
        return status;
    }
    *bytes = (uint8_t *)text.bytes;
    *count = text.length;
    return HW_OK;
}

// Copies the entry into `file`, with its sum. *damaged where its bytes are not what was packed.
static hw_status copy_bytes(unpacking *u, const taken_file *taken, hw_new_file *file, char sum[65],
                            bool *damaged, hw_error *err)
{
    uint8_t piece[1 << 14];
    hw_sha256 state;
    hw_error why = {0};
    uint64_t size = 0;
    size_t got = 1;
    hw_status status = HW_OK;
    *damaged = false;
    hw_sha256_start(&state);
    while (status == HW_OK && got > 0) {
        if (hw_pack_read(u->zip, piece, sizeof piece, &got, &why) != HW_OK) {
            *damaged = is_damage(&why);
            status = *damaged ? HW_OK : pass_on(&why, err);
            break;
        }
        size += got;
        hw_sha256_add(&state, piece, got);
        status = count_bytes(u, taken, size, got, err);
        if (status == HW_OK) {
            status = hw_new_file_write(file, piece, got, err);
        }
    }
    hw_sha256_end(&state, sum);
    return status;
}

static hw_status take_file(unpacking *u, taken_file *taken, hw_error *err)
{
    hw_new_file *file = NULL;
    char sum[65];
    bool damaged = false;
    hw_status status = hw_new_file_open(path_of(u, taken->name), &file, err);
    if (status == HW_OK) {
        status = copy_bytes(u, taken, file, sum, &damaged, err);
    }
    bool photo = taken->member == HW_MEMBER_PHOTO;
    if (status != HW_OK) {
        hw_new_file_abandon(&file);
    } else if (damaged || (photo && strncmp(taken->name + strlen("photos/"), sum, 64) != 0)) {
        hw_new_file_abandon(&file);
        status = leave_aside(u, HW_SEVERITY_LOSS, taken->name,
                             photo ? "this photo is not what it was when it was added. Fetch the "
                                     "pack again, or put the photo back from a copy of the job."
                                   : "it is damaged. Fetch the pack again from where it came.",
                             err);
    } else {
        status = hw_new_file_keep(&file, err);
        taken->made = status == HW_OK;
        u->out->files += taken->made;
    }
    return status;
}

// The entries in the order of the pack; the log and job.json stay in memory.
static hw_status take_entries(unpacking *u, hw_error *err)
{
    hw_pack_entry entry;
    bool there = true;
    size_t next = 0;
    hw_status status = open_pack(u, err);
    for (size_t index = 0; status == HW_OK && next < u->count; index++) {
        status = hw_pack_next(u->zip, &entry, &there, err);
        if (status != HW_OK) {
            break;
        }
        if (!there || index > u->taken[next].index) {
            return hw_fail(err, HW_ERR_INPUT, "pack-damaged", u->file, "Try again.",
                           "the file was changed while it was read");
        }
        if (index < u->taken[next].index) {
            continue;
        }
        taken_file *taken = &u->taken[next++];
        status = taken->member == HW_MEMBER_LOG ? take_text(u, taken, &u->log, &u->log_count, err)
                 : taken->member == HW_MEMBER_JOB
                     ? take_text(u, taken, &u->job_json, &u->job_count, err)
                     : take_file(u, taken, err);
    }
    return status;
}

// ---- The folder --------------------------------------------------------------------

// The name inside the pack, else the pack's own name without its ending.
static bool default_folder(const unpacking *u, char *out, size_t size)
{
    const char *slash = strrchr(u->file, '/');
    const char *name = u->top[0] ? u->top : slash ? slash + 1 : u->file;
    if (!hw_copy_text(out, size, name)) {
        return false;
    }
    char *ending = u->top[0] ? NULL : strrchr(out, '.');
    if (ending && ending > out) {
        *ending = 0;
    }
    return hw_name_is_usable(out) && out[0] != '.' && out[0] != '-' && !strchr(out, '/');
}

static hw_status choose_folder(unpacking *u, const char *folder, hw_error *err)
{
    char name[HW_NAME_SIZE];
    if (!folder && !default_folder(u, name, sizeof name)) {
        return hw_fail(err, HW_ERR_CALL, "folder-needed", u->file,
                       "Name a new folder behind it: huewright unpack FILE FOLDER",
                       "the pack does not say what its folder can be called");
    }
    const char *chosen = folder ? folder : name;
    if (!hw_folder_is_empty(chosen)) {
        return hw_fail(err, HW_ERR_CALL, "folder-taken", chosen,
                       "Name another, new folder behind the file: huewright unpack FILE FOLDER",
                       "this folder is not empty, and nothing in it is overwritten");
    }
    u->out->folder = hw_alloc_array(strlen(chosen) + 1, 1);
    if (!u->out->folder) {
        return hw_fail_memory(err, "unpacking");
    }
    memcpy(u->out->folder, chosen, strlen(chosen) + 1);
    hw_text_add(&u->path, "%s/%*d", chosen, HW_MEMBER_SIZE, 0); // room
    return u->path.failed ? hw_fail_memory(err, "unpacking") : HW_OK;
}

// The path of a member of the folder; valid up to the next call.
static const char *path_of(unpacking *u, const char *member)
{
    u->path.length = 0;
    hw_text_add(&u->path, "%s/%s", u->out->folder, member);
    return u->path.bytes;
}

static hw_status make_folders(unpacking *u, hw_error *err)
{
    bool was_there = hw_file_exists(u->out->folder);
    hw_status status = hw_file_make_folder(u->out->folder, false, err);
    u->made_folder = !was_there && hw_file_exists(u->out->folder); // though it may not be synced
    if (status == HW_OK) {
        status = hw_file_make_folder(path_of(u, "photos"), false, err);
        u->made_photos = hw_file_exists(path_of(u, "photos"));
    }
    return status;
}

static hw_status write_text(unpacking *u, hw_member member, const uint8_t *bytes, size_t count,
                            hw_error *err)
{
    hw_new_file *file = NULL;
    for (size_t i = 0; i < u->count; i++) {
        taken_file *taken = &u->taken[i];
        if (taken->member != member) {
            continue;
        }
        hw_status status = hw_new_file_open(path_of(u, taken->name), &file, err);
        if (status == HW_OK) {
            status = hw_new_file_write(file, bytes, count, err);
        }
        if (status == HW_OK) {
            status = hw_new_file_keep(&file, err);
            taken->made = status == HW_OK;
            u->out->files += taken->made;
        }
        hw_new_file_abandon(&file);
        return status;
    }
    return HW_OK; // none in the pack: the check tells
}

// Removes what was made, and nothing else.
static void take_back(unpacking *u)
{
    for (size_t i = u->count; i-- > 0;) {
        if (u->taken[i].made) {
            hw_file_remove(path_of(u, u->taken[i].name));
        }
    }
    if (u->made_photos) {
        hw_folder_remove(path_of(u, "photos"));
    }
    if (u->made_folder) {
        hw_folder_remove(u->out->folder);
    }
}

// ---- All of it ---------------------------------------------------------------------

static hw_status fill_folder(unpacking *u, hw_error *err)
{
    hw_status status = make_folders(u, err);
    if (status == HW_OK) {
        status = take_entries(u, err);
    }
    if (status == HW_OK) {
        status = write_text(u, HW_MEMBER_LOG, u->log, u->log_count, err);
    }
    if (status == HW_OK) {
        status = write_text(u, HW_MEMBER_JOB, u->job_json, u->job_count, err);
    }
    if (status != HW_OK) {
        take_back(u);
    }
    return status;
}

static hw_status check_folder(unpacking *u, hw_error *err)
{
    hw_error why = {0};
    hw_status status = hw_job_check(u->out->folder, u->limits, &u->out->check, &why);
    return status == HW_OK ? HW_OK
                           : hw_fail(err, status, why.code, u->out->folder,
                                     "It is unpacked. Check it with: huewright check JOB",
                                     "it could not be checked: %s", why.what);
}

hw_status hw_job_unpack(const char *file, const char *folder, const hw_limits *limits,
                        hw_job_unpacked *out, hw_error *err)
{
    hw_limits bounds = limits ? *limits : hw_limits_default();
    hw_job_unpacked unpacked = {0};
    unpacking u = {.file = file, .limits = &bounds, .out = &unpacked};
    hw_status status = hw_old_file_open(file, &u.source, err);
    if (status == HW_OK) {
        status = look_through(&u, err);
    }
    if (status == HW_OK) {
        status = choose_folder(&u, folder, err);
    }
    if (status == HW_OK) {
        status = fill_folder(&u, err);
    }
    if (status == HW_OK) {
        status = check_folder(&u, err);
    }
    hw_pack_reader_free(&u.zip);
    hw_old_file_close(&u.source);
    hw_free(u.taken);
    hw_free(u.log);
    hw_free(u.job_json);
    hw_text_free(&u.path);
    if (status != HW_OK) {
        hw_job_unpacked_free(&unpacked);
        return status;
    }
    *out = unpacked;
    return HW_OK;
}
