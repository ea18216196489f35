// base_file.c: the only code that touches the disk (POSIX). What always holds:
//
//  (1) A whole file is there as it was or as it shall be, never half: written beside, synced,
//      renamed over, the folder synced.
//  (2) hw_append_write returns HW_OK only once the bytes and the folder are synced; on failure the
//      file is cut back to what it was.
//  (3) One writer at a time: the lock is taken on the open file (flock), so a killed program leaves
//      none behind.
//  (4) Only regular files are read: a pipe or a device cannot make the program wait.
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

static bool write_all(int file, const void *bytes, size_t count)
{
    const uint8_t *at = bytes;
    while (count > 0) {
        ssize_t put = write(file, at, count);
        if (put < 0 && errno != EINTR) {
            return false;
        }
        at += put > 0 ? put : 0;
        count -= put > 0 ? (size_t)put : 0;
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

bool hw_folder_is_empty(const char *path)
{
    DIR *folder = opendir(path);
    if (!folder) {
        return errno == ENOENT;
    }
    bool empty = true;
    for (struct dirent *entry; (entry = readdir(folder)) != NULL;) {
        empty = empty && (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0);
    }
    closedir(folder);
    return empty;
}

// The folder that holds `path`, as text.
static bool folder_of(const char *path, hw_text *out)
{
    const char *slash = strrchr(path, '/');
    if (!slash) {
        hw_text_add(out, ".");
    } else {
        hw_text_add_bytes(out, path, slash == path ? 1 : (size_t)(slash - path));
    }
    return !out->failed;
}

// A renamed or new file is on the disk only once its folder is.
static bool sync_folder_of(const char *path)
{
    hw_text folder = {0};
    bool good = folder_of(path, &folder);
    int file = good ? open(folder.bytes, O_RDONLY | O_DIRECTORY | O_CLOEXEC) : -1;
    // Some file systems cannot sync a folder and say EINVAL: nothing more can be asked of them.
    good = file >= 0 && (fsync(file) == 0 || errno == EINVAL || errno == ENOTSUP);
    int error = folder.failed ? ENOMEM : errno;
    if (file >= 0) {
        close(file);
    }
    hw_text_free(&folder);
    errno = error;
    return good;
}

// ---- Whole files -------------------------------------------------------------------

// Writes `bytes` into a new file beside `path` whose name goes to `beside`; synced.
static bool write_beside(const char *path, const void *bytes, size_t count, hw_text *beside)
{
    for (unsigned turn = 0; turn < 100; turn++) {
        beside->length = 0;
        hw_text_add(beside, "%s.new-%ld-%u", path, (long)getpid(), turn);
        if (beside->failed) {
            errno = ENOMEM;
            return false;
        }
        int file = open(beside->bytes, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (file < 0 && errno == EEXIST) {
            continue;
        }
        if (file < 0) {
            return false;
        }
        bool good = write_all(file, bytes, count) && fsync(file) == 0;
        int error = errno;
        if (close(file) != 0 && good) {
            good = false;
            error = errno;
        }
        if (!good) {
            unlink(beside->bytes);
            errno = error;
        }
        return good;
    }
    return false;
}

static hw_status put_file(const char *path, const void *bytes, size_t count, bool over,
                          hw_error *err)
{
    hw_text beside = {0};
    hw_status status = HW_OK;
    if (!write_beside(path, bytes, count, &beside)) {
        status = refuse_write(path, errno, err);
        goto done;
    }
    struct stat old; // keeps who may read it
    if (over && stat(path, &old) == 0 && chmod(beside.bytes, old.st_mode & 0777) != 0) {
        status = refuse_write(path, errno, err);
        unlink(beside.bytes);
        goto done;
    }
    // link fails where a file of that name already is; rename puts the new one in its place.
    bool good = over ? rename(beside.bytes, path) == 0 : link(beside.bytes, path) == 0;
    int error = errno;
    if (!good && !over && error != EEXIST && !hw_file_exists(path)) {
        good = rename(beside.bytes, path) == 0; // a file system without links
        error = errno;
    }
    unlink(beside.bytes);
    if (!good && (over || error != EEXIST)) {
        status = refuse_write(path, error, err);
        goto done;
    }
    if (!sync_folder_of(path)) {
        status = refuse_write(path, errno, err);
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
    return put_file(linked ? real : path, bytes, count, true, err);
}

hw_status hw_file_keep(const char *path, const void *bytes, size_t count, hw_error *err)
{
    return hw_file_exists(path) ? HW_OK : put_file(path, bytes, count, false, err);
}

hw_status hw_file_make_folder(const char *path, bool parents, hw_error *err)
{
    hw_text folder = {0};
    hw_status status = HW_OK;
    for (const char *slash = strchr(path + (path[0] == '/'), '/'); parents && slash;
         slash = strchr(slash + 1, '/')) {
        folder.length = 0;
        hw_text_add_bytes(&folder, path, (size_t)(slash - path));
        if (folder.failed || (mkdir(folder.bytes, 0777) != 0 && errno != EEXIST)) {
            status = refuse_write(path, folder.failed ? ENOMEM : errno, err);
            goto done;
        }
    }
    struct stat facts;
    if (mkdir(path, 0777) != 0) {
        int error = errno;
        bool is_folder = stat(path, &facts) == 0 && S_ISDIR(facts.st_mode);
        if (error != EEXIST || !is_folder) {
            status = refuse_write(path, error, err);
            goto done;
        }
    } else if (!sync_folder_of(path)) {
        status = refuse_write(path, errno, err);
    }
done:
    hw_text_free(&folder);
    return status;
}

// ---- Appending ---------------------------------------------------------------------

struct hw_append {
    int file;
    char *path;
};

void hw_append_close(hw_append **file)
{
    if (file && *file) {
        close((*file)->file); // frees the lock
        hw_free((*file)->path);
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
    made->path = copy;
    made->file = open(path, O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC | O_NONBLOCK, 0666);
    if (made->file < 0 || !lock(made->file, wait_ms)) {
        hw_status status = refuse_write(path, errno, err);
        if (made->file >= 0) {
            close(made->file);
        }
        hw_free(made->path);
        hw_free(made);
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

hw_status hw_append_write(hw_append *file, const void *bytes, size_t count, hw_error *err)
{
    off_t before = lseek(file->file, 0, SEEK_END);
    if (before < 0) {
        return refuse_write(file->path, errno, err);
    }
    if (!write_all(file->file, bytes, count) || fsync(file->file) != 0 ||
        !sync_folder_of(file->path)) {
        int error = errno;
        if (ftruncate(file->file, before) == 0) {
            fsync(file->file);
        }
        return refuse_write(file->path, error, err);
    }
    return HW_OK;
}

hw_status hw_append_cut(hw_append *file, size_t offset, const char *aside, hw_error *err)
{
    size_t count = 0;
    uint8_t *bytes = read_all(file->file, (size_t)-1 / 4, &count);
    if (!bytes) {
        return refuse_read(file->path, errno, err);
    }
    hw_status status = HW_OK;
    if (offset < count) {
        status = put_file(aside, bytes + offset, count - offset, true, err);
        if (status == HW_OK &&
            (ftruncate(file->file, (off_t)offset) != 0 || fsync(file->file) != 0)) {
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
        close((*file)->file);
    }
    hw_free((*file)->path);
    hw_free((*file)->beside);
    hw_free(*file);
    *file = NULL;
}

void hw_new_file_abandon(hw_new_file **file)
{
    if (file && *file) {
        unlink((*file)->beside);
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
        made->file = open(made->beside, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
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
    return write_all(file->file, bytes, count) ? HW_OK : refuse_write(file->path, errno, err);
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
    if (link(file->beside, file->path) == 0) {
        unlink(file->beside);
        return true;
    }
    int error = errno;
    struct stat facts;
    if (error == EEXIST || lstat(file->path, &facts) == 0) {
        errno = EEXIST;
        return false;
    }
    return rename(file->beside, file->path) == 0; // a file system without links
}

hw_status hw_new_file_keep(hw_new_file **file, hw_error *err)
{
    hw_new_file *made = *file;
    hw_status status = HW_OK;
    bool good = fsync(made->file) == 0;
    int error = errno;
    if (close(made->file) != 0 && good) {
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
        unlink(made->path);
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
    unlink(path);
}

void hw_folder_remove(const char *path)
{
    rmdir(path);
}
