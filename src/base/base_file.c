// base_file.c: files that are whole or not there, folders, and lines that are appended (POSIX). Only this file,
// base_stream.c and base_disk.c below them touch the disk. What always holds:
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
// Tests: tests/keep kills the program at each of the calls of base_disk.c, makes each fail, and cuts the power
// after each in a model of a disk that keeps only what was synced.
#define _XOPEN_SOURCE 700 // realpath
#include "base_disk.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

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

hw_status hw_file_read(const char *path, size_t max_bytes, uint8_t **bytes, size_t *count,
                       hw_error *err)
{
    int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    if (file < 0) {
        return hw_refuse_read(path, errno, err);
    }
    uint8_t *read = read_all(file, max_bytes, count);
    int error = errno;
    close(file);
    if (!read) {
        return error == ENOMEM ? hw_fail_memory(err, "reading a file")
                               : hw_refuse_read(path, error, err);
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

static bool is_folder(const char *path)
{
    struct stat facts;
    return stat(path, &facts) == 0 && S_ISDIR(facts.st_mode);
}

// One that is there may be of a run that was killed before it synced its name.
static bool make_folder(const char *path, bool parents)
{
    if (hw_disk_make_folder(path)) {
        return hw_disk_sync_made(path);
    }
    if (errno == EEXIST) {
        bool found = is_folder(path);
        bool good = found && hw_disk_sync_found(path);
        errno = found ? errno : EEXIST;
        return good;
    }
    if (errno != ENOENT || !parents) {
        return false;
    }
    hw_text above = {0};
    bool good = hw_disk_folder_of(path, &above);
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
    return make_folder(path, parents) ? HW_OK : hw_refuse_write(path, errno, err);
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
        int file = hw_disk_create(beside->bytes, AT_FDCWD, beside->bytes, O_WRONLY | O_EXCL, mode);
        if (file < 0 && errno == EEXIST) {
            continue;
        }
        if (file < 0) {
            return false;
        }
        bool good = hw_disk_write_all(beside->bytes, file, bytes, count) &&
                    (!old || hw_disk_set_mode(beside->bytes, file, mode)) &&
                    hw_disk_sync(beside->bytes, file);
        int error = errno;
        if (!hw_disk_close(beside->bytes, file) && good) {
            good = false;
            error = errno;
        }
        if (!good) {
            hw_disk_remove(beside->bytes);
            errno = error;
        }
        return good;
    }
    return false;
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
        status = hw_refuse_write(path, errno, err);
        goto done;
    }
    // link fails where a file of that name already is; rename puts the new one in its place.
    bool good = over ? hw_disk_rename(beside.bytes, path) : hw_disk_link(beside.bytes, path);
    int error = errno;
    if (!good && !over && hw_disk_has_no_links(error) && !hw_file_exists(path)) {
        good = hw_disk_rename(beside.bytes, path);
        error = errno;
    }
    if (!good || !over) {
        hw_disk_remove(beside.bytes);
    }
    bool found = !good && !over && error == EEXIST;
    if (!good && !found) {
        status = hw_refuse_write(path, error, err);
        goto done;
    }
    if (there) {
        *there = found;
    }
    if (!hw_disk_sync_folder_of(path)) {
        status = hw_refuse_unsure(path, errno, err);
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
        return hw_refuse_write(path, errno, err); // it points at nothing
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
        status = errno == ENOMEM ? hw_fail_memory(err, "reading a file")
                                 : hw_refuse_read(path, errno, err);
    } else {
        *same = found == count && memcmp(read, bytes, count) == 0;
        if (*same && (!hw_disk_sync(path, file) || !hw_disk_sync_folder_of(path))) {
            status = hw_refuse_unsure(path, errno, err);
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
            hw_disk_close((*file)->path, (*file)->file); // frees the lock
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
        made->file = hw_disk_create(made->path, made->folder, name,
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
    made->folder = hw_disk_open_folder_of(path, &made->folder_path);
    const char *slash = strrchr(path, '/');
    if (made->folder < 0 || !open_locked(made, slash ? slash + 1 : path, wait_ms)) {
        hw_status status = hw_refuse_write(path, errno, err);
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
                               : hw_refuse_read(file->path, errno, err);
    }
    *bytes = read;
    return HW_OK;
}

// After a write that failed. False: some of it may still be there.
static bool cut_back(hw_append *file, off_t before)
{
    return lseek(file->file, 0, SEEK_END) == before ||
           (hw_disk_cut(file->path, file->file, before) && hw_disk_sync(file->path, file->file));
}

hw_status hw_append_write(hw_append *file, const void *bytes, size_t count, hw_error *err)
{
    off_t before = lseek(file->file, 0, SEEK_END);
    if (before < 0) {
        return hw_refuse_write(file->path, errno, err);
    }
    if (!hw_disk_write_all(file->path, file->file, bytes, count) ||
        !hw_disk_sync(file->path, file->file) ||
        !hw_disk_sync_folder(file->folder_path.bytes, file->folder)) {
        int error = errno;
        return cut_back(file, before) ? hw_refuse_write(file->path, error, err)
                                      : hw_refuse_unsure(file->path, error, err);
    }
    return HW_OK;
}

hw_status hw_append_cut(hw_append *file, size_t offset, const char *aside, hw_error *err)
{
    size_t count = 0;
    uint8_t *bytes = read_all(file->file, (size_t)-1 / 4, &count);
    if (!bytes) {
        return errno == ENOMEM ? hw_fail_memory(err, "reading a file")
                               : hw_refuse_read(file->path, errno, err);
    }
    hw_status status = HW_OK;
    if (offset < count) {
        status = put_aside(aside, bytes + offset, count - offset, err);
        if (status == HW_OK && (!hw_disk_cut(file->path, file->file, (off_t)offset) ||
                                !hw_disk_sync(file->path, file->file))) {
            status = hw_refuse_write(file->path, errno, err);
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
