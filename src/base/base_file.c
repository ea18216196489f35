// base_file.c: the only code that touches the disk (POSIX). What always holds:
//
//  (1) A whole file is there as it was or as it shall be, never half: written beside, synced,
//      renamed over, the folder synced.
//  (2) hw_append_write returns HW_OK only once the bytes and the folder are synced; on failure the
//      file is cut back to what it was, and where the disk refuses even that, it says so.
//  (3) One writer at a time: the lock is taken on the open file (flock), so a killed program leaves
//      none behind.
//  (4) Only regular files are read: a pipe or a device cannot make the program wait.
//  (5) What is found is not taken for saved: a run that was killed may have made a file or a folder
//      and never synced its name. HW_OK for what already is there means synced too.
//
// A kill can leave a file NAME.new-PID-TURN beside NAME. Nothing reads it, and it may be removed.
//
// Tests: tests/keep kills the program at each of the calls below, makes each fail, and cuts the power
// after each in a model of a disk that keeps only what was synced.
#define _XOPEN_SOURCE     700 // realpath
#define _FILE_OFFSET_BITS 64  // packs of many GB, on 32-bit computers too
#include "base_internal.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

// ---- Words for what the system says ------------------------------------------------

static hw_status refuse_read(const char *path, int error, hw_error *err)
{
    switch (error) {
    case ENOENT:
    case ENOTDIR:
        return hw_fail(err, HW_ERR_INPUT, "file-missing", path,
                       "Check the name and the folder. A name with spaces needs quotes.",
                       "there is no such file");
    case EACCES:
    case EPERM:
        return hw_fail(err, HW_ERR_INPUT, "file-unreadable", path,
                       "Give yourself the right to read it, or copy it to a folder of yours.",
                       "you may not read this file");
    case EISDIR:
        return hw_fail(err, HW_ERR_INPUT, "file-folder", path, "Name a file in it.",
                       "this is a folder, not a file");
    case EFBIG:
        return hw_fail(err, HW_ERR_INPUT, "file-too-large", path,
                       "Use a smaller copy of the photo.",
                       "the file is larger than huewright reads");
    case EINVAL:
        return hw_fail(err, HW_ERR_INPUT, "file-special", path, "Name an ordinary file.",
                       "this is a pipe or a device, not a file");
    default:
        return hw_fail(err, HW_ERR_STORAGE, "file-unreadable", path,
                       "Try again; if it stays, check the disk or the card reader.",
                       "it cannot be read (%s)", strerror(error));
    }
}

static hw_status refuse_write(const char *path, int error, hw_error *err)
{
    switch (error) {
    case ENOSPC:
    case EDQUOT:
        return hw_fail(err, HW_ERR_STORAGE, "disk-full", path,
                       "Free some space and do it again: nothing of it was kept.",
                       "the disk is full");
    case EACCES:
    case EPERM:
    case EROFS:
        return hw_fail(err, HW_ERR_STORAGE, "file-unwritable", path,
                       "Choose a folder of your own, or give yourself the right to write there.",
                       "you may not write here");
    case ENOENT:
    case ENOTDIR:
        return hw_fail(err, HW_ERR_STORAGE, "folder-missing", path,
                       "Make the folder first, or check its name.", "there is no such folder");
    case ENOMEM:
        return hw_fail_memory(err, "writing a file");
    case EFBIG: // a FAT disk holds 4 GiB less a byte in one file
        return hw_fail(err, HW_ERR_STORAGE, "file-unwritable", path,
                       "Choose another disk; a stick formatted as FAT32 holds 4 GiB in one file.",
                       "this disk does not take a file as large as this");
    case EWOULDBLOCK:
        return hw_fail(err, HW_ERR_STORAGE, "file-locked", path,
                       "Wait until the other huewright has finished, then do it again.",
                       "another program is writing to it");
    default:
        return hw_fail(err, HW_ERR_STORAGE, "file-unwritable", path,
                       "Try again; if it stays, check the disk.", "it cannot be written (%s)",
                       strerror(error));
    }
}

// For what may be there although a call failed, where doing it again could leave it there twice.
static hw_status refuse_unsure(const char *path, int error, hw_error *err)
{
    return hw_fail(err, HW_ERR_STORAGE, "saved-unsure", path,
                   "Check the disk and its room. Then look whether it is there (a job: huewright "
                   "history) before you do it again.",
                   "the disk does not confirm that it was kept (%s)", strerror(error));
}

// ---- Calls that change the disk ----------------------------------------------------
//
// All of them, each in one place, so that tests can watch them and make them fail (base_fault.c).
// `path` is what the watcher is told. A call that a signal interrupts is made again.

// In the open folder `folder`, or AT_FDCWD with name = path.
static int disk_create(const char *path, int folder, const char *name, int flags, mode_t mode)
{
    hw_disk_call call = {.kind = HW_DISK_CREATE, .path = path};
    int file;
    do {
        file = hw_disk_may(&call) ? openat(folder, name, flags | O_CREAT | O_CLOEXEC, mode) : -1;
        hw_disk_done(&call, file);
    } while (file < 0 && errno == EINTR);
    return file;
}

static ssize_t disk_write(const char *path, int file, const void *bytes, size_t count)
{
    hw_disk_call call = {.kind = HW_DISK_WRITE, .path = path, .bytes = bytes, .count = count};
    ssize_t put;
    do {
        call.count = count;
        put = hw_disk_may(&call) ? write(file, bytes, call.count) : -1;
        hw_disk_done(&call, put);
    } while (put < 0 && errno == EINTR);
    return put;
}

static bool disk_sync(const char *path, int file)
{
    hw_disk_call call = {.kind = HW_DISK_SYNC, .path = path};
    int result;
    do {
        result = hw_disk_may(&call) ? fsync(file) : -1;
        hw_disk_done(&call, result);
    } while (result != 0 && errno == EINTR);
    return result == 0;
}

static bool disk_sync_folder(const char *path, int folder)
{
    hw_disk_call call = {.kind = HW_DISK_SYNC_FOLDER, .path = path};
    int result;
    do {
        result = hw_disk_may(&call) ? fsync(folder) : -1;
        hw_disk_done(&call, result);
    } while (result != 0 && errno == EINTR);
    // Some file systems cannot sync a folder and say EINVAL: nothing more can be asked of them.
    return result == 0 || errno == EINVAL || errno == ENOTSUP;
}

static bool disk_cut(const char *path, int file, off_t length)
{
    hw_disk_call call = {.kind = HW_DISK_CUT, .path = path, .count = (size_t)length};
    int result;
    do {
        result = hw_disk_may(&call) ? ftruncate(file, length) : -1;
        hw_disk_done(&call, result);
    } while (result != 0 && errno == EINTR);
    return result == 0;
}

static bool disk_set_mode(const char *path, int file, mode_t mode)
{
    hw_disk_call call = {.kind = HW_DISK_MODE, .path = path};
    int result = hw_disk_may(&call) ? fchmod(file, mode) : -1;
    hw_disk_done(&call, result);
    return result == 0;
}

static bool disk_rename(const char *path, const char *to)
{
    hw_disk_call call = {.kind = HW_DISK_RENAME, .path = path, .to = to};
    int result = hw_disk_may(&call) ? rename(path, to) : -1;
    hw_disk_done(&call, result);
    return result == 0;
}

static bool disk_link(const char *path, const char *to)
{
    hw_disk_call call = {.kind = HW_DISK_LINK, .path = path, .to = to};
    int result = hw_disk_may(&call) ? link(path, to) : -1;
    hw_disk_done(&call, result);
    return result == 0;
}

static void disk_remove(const char *path)
{
    hw_disk_call call = {.kind = HW_DISK_REMOVE, .path = path};
    hw_disk_done(&call, hw_disk_may(&call) ? unlink(path) : -1);
}

static bool disk_make_folder(const char *path)
{
    hw_disk_call call = {.kind = HW_DISK_MAKE_FOLDER, .path = path};
    int result = hw_disk_may(&call) ? mkdir(path, 0777) : -1;
    hw_disk_done(&call, result);
    return result == 0;
}

// Of a file that was written. (Interrupted, it is closed all the same on Linux.)
static bool disk_close(const char *path, int file)
{
    hw_disk_call call = {.kind = HW_DISK_CLOSE, .path = path};
    int result = close(file);
    if (!hw_disk_may(&call)) {
        result = -1;
    }
    hw_disk_done(&call, result);
    return result == 0 || errno == EINTR;
}

// ---- Plain reading and writing -----------------------------------------------------

// Reads a regular file of at most `most` bytes from its start. errno tells the fault.
static uint8_t *read_all(int file, size_t most, size_t *count)
{
    struct stat facts;
    if (fstat(file, &facts) != 0) {
        return NULL;
    }
    if (!S_ISREG(facts.st_mode)) {
        errno = S_ISDIR(facts.st_mode) ? EISDIR : EINVAL;
        return NULL;
    }
    if ((uint64_t)facts.st_size > most) {
        errno = EFBIG;
        return NULL;
    }
    size_t size = (size_t)facts.st_size, done = 0;
    uint8_t *bytes = hw_alloc_array(size + 1, 1);
    if (!bytes) {
        errno = ENOMEM;
        return NULL;
    }
    while (done < size) {
        ssize_t got = pread(file, bytes + done, size - done, (off_t)done);
        if (got == 0) {
            break; // shortened meanwhile: what is there
        }
        if (got < 0 && errno != EINTR) {
            int error = errno;
            hw_free(bytes);
            errno = error;
            return NULL;
        }
        done += got > 0 ? (size_t)got : 0;
    }
    bytes[done] = 0;
    *count = done;
    return bytes;
}

static bool write_all(const char *path, int file, const void *bytes, size_t count)
{
    const uint8_t *at = bytes;
    while (count > 0) {
        ssize_t put = disk_write(path, file, at, count);
        if (put < 0) {
            return false;
        }
        at += put;
        count -= (size_t)put;
    }
    return true;
}

hw_status hw_file_read(const char *path, size_t max_bytes, uint8_t **bytes, size_t *count,
                       hw_error *err)
{
    int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    if (file < 0) {
        return refuse_read(path, errno, err);
    }
    uint8_t *read = read_all(file, max_bytes, count);
    int error = errno;
    close(file);
    if (!read) {
        return error == ENOMEM ? hw_fail_memory(err, "reading a file")
                               : refuse_read(path, error, err);
    }
    *bytes = read;
    return HW_OK;
}

bool hw_file_exists(const char *path)
{
    struct stat facts;
    return stat(path, &facts) == 0;
}

// What a kill leaves beside a file that was being written.
static bool is_leftover(const char *name)
{
    const char *mark = strstr(name, ".new-");
    return mark && strspn(mark + 5, "0123456789-") == strlen(mark + 5);
}

bool hw_folder_holds_only(const char *path, const char *const *names, size_t count)
{
    DIR *folder = opendir(path);
    if (!folder) {
        return errno == ENOENT;
    }
    bool only = true;
    for (struct dirent *entry; only && (entry = readdir(folder)) != NULL;) {
        only = strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0 ||
               is_leftover(entry->d_name);
        for (size_t i = 0; i < count && !only; i++) {
            only = strcmp(entry->d_name, names[i]) == 0;
        }
    }
    closedir(folder);
    return only;
}

bool hw_folder_is_empty(const char *path)
{
    return hw_folder_holds_only(path, NULL, 0);
}

// ---- Folders -----------------------------------------------------------------------

// The folder that holds `path`, as text; a slash at the end of `path` names the same thing.
static bool folder_of(const char *path, hw_text *out)
{
    size_t length = strlen(path);
    while (length > 1 && path[length - 1] == '/') {
        length--;
    }
    while (length > 0 && path[length - 1] != '/') {
        length--;
    }
    while (length > 1 && path[length - 1] == '/') {
        length--;
    }
    hw_text_add_bytes(out, length ? path : ".", length ? length : 1);
    return !out->failed;
}

// Its own path goes to `out`.
static int open_folder_of(const char *path, hw_text *out)
{
    errno = ENOMEM;
    return folder_of(path, out) ? open(out->bytes, O_RDONLY | O_DIRECTORY | O_CLOEXEC) : -1;
}

// A renamed or new file is on the disk only once its folder is.
static bool sync_folder_of(const char *path)
{
    hw_text name = {0};
    int folder = open_folder_of(path, &name);
    bool good = folder >= 0 && disk_sync_folder(name.bytes, folder);
    int error = errno;
    if (folder >= 0) {
        close(folder);
    }
    hw_text_free(&name);
    errno = error;
    return good;
}

// The name of a folder that was found. Where we may not look into the folder above it, no run of ours
// has made it.
static bool sync_found(const char *path)
{
    return sync_folder_of(path) || errno == EACCES || errno == EPERM;
}

// The name of a folder that was made; and of the one above it, which was found.
static bool sync_made(const char *path)
{
    hw_text above = {0};
    bool good = sync_folder_of(path);
    int error = errno;
    if (good) {
        good = folder_of(path, &above) && sync_found(above.bytes);
        error = above.failed ? ENOMEM : errno;
    }
    hw_text_free(&above);
    errno = error;
    return good;
}

static bool is_folder(const char *path)
{
    struct stat facts;
    return stat(path, &facts) == 0 && S_ISDIR(facts.st_mode);
}

// One that is there may be of a run that was killed before it synced its name.
static bool make_folder(const char *path, bool parents)
{
    if (disk_make_folder(path)) {
        return sync_made(path);
    }
    if (errno == EEXIST) {
        bool found = is_folder(path);
        bool good = found && sync_found(path);
        errno = found ? errno : EEXIST;
        return good;
    }
    if (errno != ENOENT || !parents) {
        return false;
    }
    hw_text above = {0};
    bool good = folder_of(path, &above);
    int error = ENOMEM;
    if (good) {
        // ("." is missing only where the working folder was removed.)
        good = strcmp(above.bytes, ".") != 0 && make_folder(above.bytes, true);
        error = good ? 0 : errno;
    }
    hw_text_free(&above);
    errno = error;
    return good && make_folder(path, false);
}

hw_status hw_file_make_folder(const char *path, bool parents, hw_error *err)
{
    return make_folder(path, parents) ? HW_OK : refuse_write(path, errno, err);
}

// ---- Whole files -------------------------------------------------------------------

// Writes `bytes` into a new file beside `path` whose name goes to `beside`; synced. `old`: whose
// rights it gets, or NULL.
static bool write_beside(const char *path, const void *bytes, size_t count, const struct stat *old,
                         hw_text *beside)
{
    mode_t mode = old ? old->st_mode & 0777 : 0666;
    for (unsigned turn = 0; turn < 100; turn++) {
        beside->length = 0;
        hw_text_add(beside, "%s.new-%ld-%u", path, (long)getpid(), turn);
        if (beside->failed) {
            errno = ENOMEM;
            return false;
        }
        int file = disk_create(beside->bytes, AT_FDCWD, beside->bytes, O_WRONLY | O_EXCL, mode);
        if (file < 0 && errno == EEXIST) {
            continue;
        }
        if (file < 0) {
            return false;
        }
        bool good = write_all(beside->bytes, file, bytes, count) &&
                    (!old || disk_set_mode(beside->bytes, file, mode)) &&
                    disk_sync(beside->bytes, file);
        int error = errno;
        if (!disk_close(beside->bytes, file) && good) {
            good = false;
            error = errno;
        }
        if (!good) {
            disk_remove(beside->bytes);
            errno = error;
        }
        return good;
    }
    return false;
}

// What a file system without links says to link (FAT, some network disks).
static bool has_no_links(int error)
{
    return error == EPERM || error == ENOTSUP || error == EOPNOTSUPP || error == ENOSYS;
}

// `over`: what is there is replaced; else it stays, and *there (may be NULL) says so.
static hw_status put_file(const char *path, const void *bytes, size_t count, bool over, bool *there,
                          hw_error *err)
{
    hw_text beside = {0};
    hw_status status = HW_OK;
    struct stat old; // keeps who may read it
    bool has_old = over && stat(path, &old) == 0;
    if (!write_beside(path, bytes, count, has_old ? &old : NULL, &beside)) {
        status = refuse_write(path, errno, err);
        goto done;
    }
    // link fails where a file of that name already is; rename puts the new one in its place.
    bool good = over ? disk_rename(beside.bytes, path) : disk_link(beside.bytes, path);
    int error = errno;
    if (!good && !over && has_no_links(error) && !hw_file_exists(path)) {
        good = disk_rename(beside.bytes, path);
        error = errno;
    }
    if (!good || !over) {
        disk_remove(beside.bytes);
    }
    bool found = !good && !over && error == EEXIST;
    if (!good && !found) {
        status = refuse_write(path, error, err);
        goto done;
    }
    if (there) {
        *there = found;
    }
    if (!sync_folder_of(path)) {
        status = refuse_unsure(path, errno, err);
    }
done:
    hw_text_free(&beside);
    return status;
}

// What a symbolic link points at is replaced, not the link.
hw_status hw_file_replace(const char *path, const void *bytes, size_t count, hw_error *err)
{
    char real[PATH_MAX];
    struct stat facts;
    bool linked = lstat(path, &facts) == 0 && S_ISLNK(facts.st_mode);
    if (linked && !realpath(path, real)) {
        return refuse_write(path, errno, err); // it points at nothing
    }
    return put_file(linked ? real : path, bytes, count, true, NULL, err);
}

// The file that is there: the same bytes? Then it is synced, with its name.
static hw_status check_found(const char *path, const void *bytes, size_t count, bool *same,
                             hw_error *err)
{
    size_t found = 0;
    int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    uint8_t *read = file >= 0 ? read_all(file, (size_t)-1 / 4, &found) : NULL;
    hw_status status = HW_OK;
    if (!read) {
        status =
            errno == ENOMEM ? hw_fail_memory(err, "reading a file") : refuse_read(path, errno, err);
    } else {
        *same = found == count && memcmp(read, bytes, count) == 0;
        if (*same && (!disk_sync(path, file) || !sync_folder_of(path))) {
            status = refuse_unsure(path, errno, err);
        }
    }
    hw_free(read);
    if (file >= 0) {
        close(file);
    }
    return status;
}

// Under the name `aside`, or with -2, -3 ... behind it where other bytes lie there.
static hw_status put_aside(const char *aside, const void *bytes, size_t count, hw_error *err)
{
    hw_text name = {0};
    hw_status status = HW_OK;
    bool done = false;
    for (unsigned turn = 1; status == HW_OK && !done; turn++) {
        bool there = false;
        name.length = 0;
        hw_text_add(&name, turn == 1 ? "%s" : "%s-%u", aside, turn);
        if (name.failed) {
            status = hw_fail_memory(err, "writing a file");
            break;
        }
        there = hw_file_exists(name.bytes);
        if (!there) {
            status = put_file(name.bytes, bytes, count, false, &there, err);
        }
        done = !there;
        if (status == HW_OK && there) {
            status = check_found(name.bytes, bytes, count, &done, err);
        }
    }
    hw_text_free(&name);
    return status;
}

hw_status hw_file_keep(const char *path, const void *bytes, size_t count, hw_error *err)
{
    bool there = hw_file_exists(path), same = false;
    hw_status status = there ? HW_OK : put_file(path, bytes, count, false, &there, err);
    if (status == HW_OK && there) {
        status = check_found(path, bytes, count, &same, err);
    }
    if (status != HW_OK || !there || same) {
        return status;
    }
    // Damaged or changed since: those bytes may still be of use to someone.
    uint8_t *other = NULL;
    size_t other_count = 0;
    hw_text aside = {0};
    hw_text_add(&aside, "%s.other", path);
    status = aside.failed ? hw_fail_memory(err, "writing a file")
                          : hw_file_read(path, (size_t)-1 / 4, &other, &other_count, err);
    if (status == HW_OK) {
        status = put_aside(aside.bytes, other, other_count, err);
    }
    if (status == HW_OK) {
        status = put_file(path, bytes, count, true, NULL, err);
    }
    hw_free(other);
    hw_text_free(&aside);
    return status;
}

// ---- Appending ---------------------------------------------------------------------

// The folder is held open too: renamed meanwhile, it is still the one that is synced.
struct hw_append {
    int file, folder;
    char *path;
    hw_text folder_path;
};

void hw_append_close(hw_append **file)
{
    if (file && *file) {
        if ((*file)->file >= 0) {
            disk_close((*file)->path, (*file)->file); // frees the lock
        }
        if ((*file)->folder >= 0) {
            close((*file)->folder);
        }
        hw_free((*file)->path);
        hw_text_free(&(*file)->folder_path);
        hw_free(*file);
        *file = NULL;
    }
}

static bool lock(int file, unsigned wait_ms)
{
    const unsigned step_ms = 20;
    for (unsigned waited = 0;; waited += step_ms) {
        if (flock(file, LOCK_EX | LOCK_NB) == 0) {
            return true;
        }
        if ((errno != EWOULDBLOCK && errno != EINTR) || waited >= wait_ms) {
            return false;
        }
        struct timespec pause = {0, (long)step_ms * 1000000};
        nanosleep(&pause, NULL);
    }
}

// Opens and locks `name` in the folder. What was locked may no longer be the file of that name; then
// the one that now is.
static bool open_locked(hw_append *made, const char *name, unsigned wait_ms)
{
    for (int turn = 0; turn < 10; turn++) {
        struct stat ours, now;
        made->file = disk_create(made->path, made->folder, name,
                                 O_RDWR | O_APPEND | O_NONBLOCK | O_NOCTTY, 0666);
        if (made->file < 0 || !lock(made->file, wait_ms) || fstat(made->file, &ours) != 0) {
            return false;
        }
        if (fstatat(made->folder, name, &now, 0) == 0 && now.st_ino == ours.st_ino &&
            now.st_dev == ours.st_dev) {
            return true;
        }
        close(made->file);
        made->file = -1;
    }
    errno = EWOULDBLOCK;
    return false;
}

hw_status hw_append_open(const char *path, unsigned wait_ms, hw_append **out, hw_error *err)
{
    hw_append *made = hw_alloc_array(1, sizeof *made);
    char *copy = hw_alloc_array(strlen(path) + 1, 1);
    if (!made || !copy) {
        hw_free(made);
        hw_free(copy);
        return hw_fail_memory(err, "opening a file");
    }
    memcpy(copy, path, strlen(path) + 1);
    *made = (hw_append){.file = -1, .path = copy};
    made->folder = open_folder_of(path, &made->folder_path);
    const char *slash = strrchr(path, '/');
    if (made->folder < 0 || !open_locked(made, slash ? slash + 1 : path, wait_ms)) {
        hw_status status = refuse_write(path, errno, err);
        hw_append_close(&made);
        return status;
    }
    *out = made;
    return HW_OK;
}

hw_status hw_append_read(hw_append *file, size_t max_bytes, uint8_t **bytes, size_t *count,
                         hw_error *err)
{
    uint8_t *read = read_all(file->file, max_bytes, count);
    if (!read) {
        return errno == ENOMEM ? hw_fail_memory(err, "reading a file")
                               : refuse_read(file->path, errno, err);
    }
    *bytes = read;
    return HW_OK;
}

// After a write that failed. False: some of it may still be there.
static bool cut_back(hw_append *file, off_t before)
{
    return lseek(file->file, 0, SEEK_END) == before ||
           (disk_cut(file->path, file->file, before) && disk_sync(file->path, file->file));
}

hw_status hw_append_write(hw_append *file, const void *bytes, size_t count, hw_error *err)
{
    off_t before = lseek(file->file, 0, SEEK_END);
    if (before < 0) {
        return refuse_write(file->path, errno, err);
    }
    if (!write_all(file->path, file->file, bytes, count) || !disk_sync(file->path, file->file) ||
        !disk_sync_folder(file->folder_path.bytes, file->folder)) {
        int error = errno;
        return cut_back(file, before) ? refuse_write(file->path, error, err)
                                      : refuse_unsure(file->path, error, err);
    }
    return HW_OK;
}

hw_status hw_append_cut(hw_append *file, size_t offset, const char *aside, hw_error *err)
{
    size_t count = 0;
    uint8_t *bytes = read_all(file->file, (size_t)-1 / 4, &count);
    if (!bytes) {
        return errno == ENOMEM ? hw_fail_memory(err, "reading a file")
                               : refuse_read(file->path, errno, err);
    }
    hw_status status = HW_OK;
    if (offset < count) {
        status = put_aside(aside, bytes + offset, count - offset, err);
        if (status == HW_OK && (!disk_cut(file->path, file->file, (off_t)offset) ||
                                !disk_sync(file->path, file->file))) {
            status = refuse_write(file->path, errno, err);
        }
    }
    hw_free(bytes);
    return status;
}

// ---- Chance ------------------------------------------------------------------------

void hw_chance_key(char out[17])
{
    unsigned char bytes[8] = {0};
    int source = open("/dev/urandom", O_RDONLY | O_CLOEXEC);
    if (source >= 0) {
        ssize_t got = read(source, bytes, sizeof bytes);
        (void)got; // what is missing stays 0
        close(source);
    }
    for (int i = 0; i < 8; i++) {
        hw_format_text(out + 2 * i, 3, "%02x", bytes[i]);
    }
}

// ---- Files in pieces ---------------------------------------------------------------
// Rule (1) above for files that do not fit into memory.

struct hw_new_file {
    int file;
    char *path, *beside;
};

static char *copy_of(const char *text)
{
    size_t size = strlen(text) + 1;
    char *copy = hw_alloc_array(size, 1);
    if (copy) {
        memcpy(copy, text, size);
    }
    return copy;
}

static void free_new_file(hw_new_file **file)
{
    if ((*file)->file >= 0) {
        disk_close((*file)->beside, (*file)->file);
    }
    hw_free((*file)->path);
    hw_free((*file)->beside);
    hw_free(*file);
    *file = NULL;
}

void hw_new_file_abandon(hw_new_file **file)
{
    if (file && *file) {
        disk_remove((*file)->beside);
        free_new_file(file);
    }
}

static hw_status refuse_existing(const char *path, hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "file-exists", path,
                   "Choose another name, or move away what is there.",
                   "there already is something of this name; nothing was overwritten");
}

// Opens a file that is new, beside the place of `made`, and sets its name. errno tells the fault.
static bool open_beside(hw_new_file *made)
{
    size_t size = strlen(made->path) + 64;
    made->beside = hw_alloc_array(size, 1);
    if (!made->beside) {
        errno = ENOMEM;
        return false;
    }
    for (unsigned turn = 0; turn < 100; turn++) {
        snprintf(made->beside, size, "%s.new-%ld-%u", made->path, (long)getpid(), turn);
        made->file = disk_create(made->beside, AT_FDCWD, made->beside, O_RDWR | O_EXCL, 0666);
        if (made->file >= 0 || errno != EEXIST) {
            break;
        }
    }
    return made->file >= 0;
}

hw_status hw_new_file_open(const char *path, hw_new_file **out, hw_error *err)
{
    struct stat facts;
    if (lstat(path, &facts) == 0) {
        return refuse_existing(path, err);
    }
    hw_new_file *made = hw_alloc_array(1, sizeof *made);
    if (!made) {
        return hw_fail_memory(err, "making a file");
    }
    made->file = -1;
    made->path = copy_of(path);
    if (!made->path || !open_beside(made)) {
        int error = made->path ? errno : ENOMEM;
        free_new_file(&made);
        return refuse_write(path, error, err);
    }
    *out = made;
    return HW_OK;
}

hw_status hw_new_file_write(hw_new_file *file, const void *bytes, size_t count, hw_error *err)
{
    return write_all(file->beside, file->file, bytes, count) ? HW_OK
                                                             : refuse_write(file->path, errno, err);
}

// Reads until `room` is full or the file ends. errno tells the fault.
static bool read_at(int file, uint64_t at, void *bytes, size_t room, size_t *got)
{
    size_t done = 0;
    if (at > (uint64_t)INT64_MAX - room) {
        *got = 0; // behind the end of any file
        return true;
    }
    while (done < room) {
        ssize_t part = pread(file, (uint8_t *)bytes + done, room - done, (off_t)(at + done));
        if (part == 0) {
            break;
        }
        if (part < 0 && errno != EINTR) {
            return false;
        }
        done += part > 0 ? (size_t)part : 0;
    }
    *got = done;
    return true;
}

hw_status hw_new_file_read(hw_new_file *file, uint64_t at, void *bytes, size_t room, size_t *got,
                           hw_error *err)
{
    return read_at(file->file, at, bytes, room, got) ? HW_OK : refuse_read(file->path, errno, err);
}

// Puts the synced file in its place. errno tells the fault.
static bool put_in_place(const hw_new_file *file)
{
    if (disk_link(file->beside, file->path)) {
        disk_remove(file->beside);
        return true;
    }
    int error = errno;
    struct stat facts;
    if (error == EEXIST || lstat(file->path, &facts) == 0) {
        errno = EEXIST;
        return false;
    }
    errno = error;
    return has_no_links(error) && disk_rename(file->beside, file->path);
}

hw_status hw_new_file_keep(hw_new_file **file, hw_error *err)
{
    hw_new_file *made = *file;
    hw_status status = HW_OK;
    bool good = disk_sync(made->beside, made->file);
    int error = errno;
    if (!disk_close(made->beside, made->file) && good) {
        good = false;
        error = errno;
    }
    made->file = -1;
    if (!good) {
        status = refuse_write(made->path, error, err);
    } else if (!put_in_place(made)) {
        status = errno == EEXIST ? refuse_existing(made->path, err)
                                 : refuse_write(made->path, errno, err);
    } else if (!sync_folder_of(made->path)) {
        status = refuse_write(made->path, errno, err);
        disk_remove(made->path);
    }
    hw_new_file_abandon(file); // frees it; nothing lies beside any more where it was kept
    return status;
}

struct hw_old_file {
    int file;
    uint64_t size;
    char *path;
};

hw_status hw_old_file_open(const char *path, hw_old_file **out, hw_error *err)
{
    struct stat facts;
    hw_old_file *opened = hw_alloc_array(1, sizeof *opened);
    char *copy = copy_of(path);
    if (!opened || !copy) {
        hw_free(opened);
        hw_free(copy);
        return hw_fail_memory(err, "opening a file");
    }
    *opened = (hw_old_file){.path = copy};
    opened->file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    bool good = opened->file >= 0 && fstat(opened->file, &facts) == 0;
    int error = errno;
    if (good && !S_ISREG(facts.st_mode)) {
        good = false;
        error = S_ISDIR(facts.st_mode) ? EISDIR : EINVAL;
    }
    if (!good) {
        hw_status status = refuse_read(path, error, err);
        if (opened->file >= 0) {
            close(opened->file);
        }
        hw_free(opened->path);
        hw_free(opened);
        return status;
    }
    opened->size = (uint64_t)facts.st_size;
    *out = opened;
    return HW_OK;
}

uint64_t hw_old_file_size(const hw_old_file *file)
{
    return file->size;
}

hw_status hw_old_file_read(hw_old_file *file, uint64_t at, void *bytes, size_t room, size_t *got,
                           hw_error *err)
{
    return read_at(file->file, at, bytes, room, got) ? HW_OK : refuse_read(file->path, errno, err);
}

void hw_old_file_close(hw_old_file **file)
{
    if (file && *file) {
        close((*file)->file);
        hw_free((*file)->path);
        hw_free(*file);
        *file = NULL;
    }
}

// ---- What lies in a folder ---------------------------------------------------------

void hw_names_free(hw_names *names)
{
    for (size_t i = 0; i < names->count; i++) {
        hw_free(names->name[i]);
    }
    hw_free(names->name);
    *names = (hw_names){0};
}

static bool add_name(hw_names *names, const char *name)
{
    if (names->count == names->room) {
        size_t room = names->room ? 2 * names->room : 32;
        char **grown = hw_resize_array(names->name, room, sizeof *grown);
        if (!grown) {
            return false;
        }
        names->name = grown;
        names->room = room;
    }
    names->name[names->count] = copy_of(name);
    return names->name[names->count] && ++names->count;
}

static int order_of_names(const void *one, const void *other)
{
    return strcmp(*(char *const *)one, *(char *const *)other);
}

hw_status hw_folder_names(const char *path, hw_names *out, hw_error *err)
{
    hw_names names = {0};
    hw_status status = HW_OK;
    DIR *folder = opendir(path);
    if (!folder) {
        return refuse_read(path, errno, err);
    }
    for (;;) {
        errno = 0;
        struct dirent *entry = readdir(folder);
        if (!entry) {
            status = errno ? refuse_read(path, errno, err) : HW_OK;
            break;
        }
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0 &&
            !add_name(&names, entry->d_name)) {
            status = hw_fail_memory(err, "reading a folder");
            break;
        }
    }
    closedir(folder);
    if (status != HW_OK) {
        hw_names_free(&names);
        return status;
    }
    if (names.count > 0) {
        qsort(names.name, names.count, sizeof *names.name, order_of_names);
    }
    *out = names;
    return HW_OK;
}

bool hw_folder_own_name(const char *path, char *out, size_t size)
{
    char real[PATH_MAX];
    if (!realpath(path, real)) {
        return false;
    }
    const char *slash = strrchr(real, '/');
    return slash && slash[1] && hw_copy_text(out, size, slash + 1);
}

void hw_file_remove(const char *path)
{
    disk_remove(path);
}

void hw_folder_remove(const char *path)
{
    rmdir(path);
}
