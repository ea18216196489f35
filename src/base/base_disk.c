// base_disk.c: the calls that change the disk, each in one place so that tests can watch them and make them fail
// (base_fault.c), what is put together from them, and what the system says in words (POSIX).
#define _XOPEN_SOURCE     700 // openat
#define _FILE_OFFSET_BITS 64  // packs of many GB, on 32-bit computers too
#include "base_disk.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

// ---- Words for what the system says ------------------------------------------------

hw_status hw_refuse_read(const char *path, int error, hw_error *err)
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

hw_status hw_refuse_write(const char *path, int error, hw_error *err)
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
hw_status hw_refuse_unsure(const char *path, int error, hw_error *err)
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
int hw_disk_create(const char *path, int folder, const char *name, int flags, mode_t mode)
{
    hw_disk_call call = {.kind = HW_DISK_CREATE, .path = path};
    int file;
    do {
        file = hw_disk_may(&call) ? openat(folder, name, flags | O_CREAT | O_CLOEXEC, mode) : -1;
        hw_disk_done(&call, file);
    } while (file < 0 && errno == EINTR);
    return file;
}

ssize_t hw_disk_put(const char *path, int file, const void *bytes, size_t count)
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

bool hw_disk_sync(const char *path, int file)
{
    hw_disk_call call = {.kind = HW_DISK_SYNC, .path = path};
    int result;
    do {
        result = hw_disk_may(&call) ? fsync(file) : -1;
        hw_disk_done(&call, result);
    } while (result != 0 && errno == EINTR);
    return result == 0;
}

bool hw_disk_sync_folder(const char *path, int folder)
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

bool hw_disk_cut(const char *path, int file, off_t length)
{
    hw_disk_call call = {.kind = HW_DISK_CUT, .path = path, .count = (size_t)length};
    int result;
    do {
        result = hw_disk_may(&call) ? ftruncate(file, length) : -1;
        hw_disk_done(&call, result);
    } while (result != 0 && errno == EINTR);
    return result == 0;
}

bool hw_disk_set_mode(const char *path, int file, mode_t mode)
{
    hw_disk_call call = {.kind = HW_DISK_MODE, .path = path};
    int result = hw_disk_may(&call) ? fchmod(file, mode) : -1;
    hw_disk_done(&call, result);
    return result == 0;
}

bool hw_disk_rename(const char *path, const char *to)
{
    hw_disk_call call = {.kind = HW_DISK_RENAME, .path = path, .to = to};
    int result = hw_disk_may(&call) ? rename(path, to) : -1;
    hw_disk_done(&call, result);
    return result == 0;
}

bool hw_disk_link(const char *path, const char *to)
{
    hw_disk_call call = {.kind = HW_DISK_LINK, .path = path, .to = to};
    int result = hw_disk_may(&call) ? link(path, to) : -1;
    hw_disk_done(&call, result);
    return result == 0;
}

void hw_disk_remove(const char *path)
{
    hw_disk_call call = {.kind = HW_DISK_REMOVE, .path = path};
    hw_disk_done(&call, hw_disk_may(&call) ? unlink(path) : -1);
}

bool hw_disk_make_folder(const char *path)
{
    hw_disk_call call = {.kind = HW_DISK_MAKE_FOLDER, .path = path};
    int result = hw_disk_may(&call) ? mkdir(path, 0777) : -1;
    hw_disk_done(&call, result);
    return result == 0;
}

// Of a file that was written. (Interrupted, it is closed all the same on Linux.)
bool hw_disk_close(const char *path, int file)
{
    hw_disk_call call = {.kind = HW_DISK_CLOSE, .path = path};
    int result = close(file);
    if (!hw_disk_may(&call)) {
        result = -1;
    }
    hw_disk_done(&call, result);
    return result == 0 || errno == EINTR;
}

// ---- Put together from them ---------------------------------------------------------

bool hw_disk_write_all(const char *path, int file, const void *bytes, size_t count)
{
    const uint8_t *at = bytes;
    while (count > 0) {
        ssize_t put = hw_disk_put(path, file, at, count);
        if (put < 0) {
            return false;
        }
        at += put;
        count -= (size_t)put;
    }
    return true;
}

// What a file system without links says to link (FAT, some network disks).
bool hw_disk_has_no_links(int error)
{
    return error == EPERM || error == ENOTSUP || error == EOPNOTSUPP || error == ENOSYS;
}

// The folder that holds `path`, as text; a slash at the end of `path` names the same thing.
bool hw_disk_folder_of(const char *path, hw_text *out)
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
int hw_disk_open_folder_of(const char *path, hw_text *out)
{
    errno = ENOMEM;
    return hw_disk_folder_of(path, out) ? open(out->bytes, O_RDONLY | O_DIRECTORY | O_CLOEXEC) : -1;
}

// A renamed or new file is on the disk only once its folder is.
bool hw_disk_sync_folder_of(const char *path)
{
    hw_text name = {0};
    int folder = hw_disk_open_folder_of(path, &name);
    bool good = folder >= 0 && hw_disk_sync_folder(name.bytes, folder);
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
bool hw_disk_sync_found(const char *path)
{
    return hw_disk_sync_folder_of(path) || errno == EACCES || errno == EPERM;
}

// The name of a folder that was made; and of the one above it, which was found.
bool hw_disk_sync_made(const char *path)
{
    hw_text above = {0};
    bool good = hw_disk_sync_folder_of(path);
    int error = errno;
    if (good) {
        good = hw_disk_folder_of(path, &above) && hw_disk_sync_found(above.bytes);
        error = above.failed ? ENOMEM : errno;
    }
    hw_text_free(&above);
    errno = error;
    return good;
}
