// base_stream.c: files that do not fit into memory, written and read in pieces, whole or not there as all files
// (base_file.c, rule 1); and what lies in a folder (POSIX).
#define _XOPEN_SOURCE     700 // realpath
#define _FILE_OFFSET_BITS 64  // packs of many GB, on 32-bit computers too
#include "base_disk.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <sys/stat.h>
#include <unistd.h>

// ---- New files ---------------------------------------------------------------------

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
        hw_disk_close((*file)->beside, (*file)->file);
    }
    hw_free((*file)->path);
    hw_free((*file)->beside);
    hw_free(*file);
    *file = NULL;
}

void hw_new_file_abandon(hw_new_file **file)
{
    if (file && *file) {
        hw_disk_remove((*file)->beside);
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
        made->file = hw_disk_create(made->beside, AT_FDCWD, made->beside, O_RDWR | O_EXCL, 0666);
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
        return hw_refuse_write(path, error, err);
    }
    *out = made;
    return HW_OK;
}

hw_status hw_new_file_write(hw_new_file *file, const void *bytes, size_t count, hw_error *err)
{
    return hw_disk_write_all(file->beside, file->file, bytes, count)
               ? HW_OK
               : hw_refuse_write(file->path, errno, err);
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
    return read_at(file->file, at, bytes, room, got) ? HW_OK
                                                     : hw_refuse_read(file->path, errno, err);
}

// Puts the synced file in its place. errno tells the fault.
static bool put_in_place(const hw_new_file *file)
{
    if (hw_disk_link(file->beside, file->path)) {
        hw_disk_remove(file->beside);
        return true;
    }
    int error = errno;
    struct stat facts;
    if (error == EEXIST || lstat(file->path, &facts) == 0) {
        errno = EEXIST;
        return false;
    }
    errno = error;
    return hw_disk_has_no_links(error) && hw_disk_rename(file->beside, file->path);
}

hw_status hw_new_file_keep(hw_new_file **file, hw_error *err)
{
    hw_new_file *made = *file;
    hw_status status = HW_OK;
    bool good = hw_disk_sync(made->beside, made->file);
    int error = errno;
    if (!hw_disk_close(made->beside, made->file) && good) {
        good = false;
        error = errno;
    }
    made->file = -1;
    if (!good) {
        status = hw_refuse_write(made->path, error, err);
    } else if (!put_in_place(made)) {
        status = errno == EEXIST ? refuse_existing(made->path, err)
                                 : hw_refuse_write(made->path, errno, err);
    } else if (!hw_disk_sync_folder_of(made->path)) {
        status = hw_refuse_write(made->path, errno, err);
        hw_disk_remove(made->path);
    }
    hw_new_file_abandon(file); // frees it; nothing lies beside any more where it was kept
    return status;
}

hw_status hw_file_rename(const char *from, const char *to, hw_error *err)
{
    struct stat facts;
    if (lstat(to, &facts) == 0) {
        return refuse_existing(to, err);
    }
    return hw_disk_rename(from, to) && hw_disk_sync_folder_of(to) ? HW_OK
                                                                  : hw_refuse_write(to, errno, err);
}

// ---- Files that are there ----------------------------------------------------------

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
        hw_status status = hw_refuse_read(path, error, err);
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
    return read_at(file->file, at, bytes, room, got) ? HW_OK
                                                     : hw_refuse_read(file->path, errno, err);
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
        return hw_refuse_read(path, errno, err);
    }
    for (;;) {
        errno = 0;
        struct dirent *entry = readdir(folder);
        if (!entry) {
            status = errno ? hw_refuse_read(path, errno, err) : HW_OK;
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
    hw_disk_remove(path);
}

void hw_folder_remove(const char *path)
{
    rmdir(path);
}
