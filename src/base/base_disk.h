// base_disk.h: what base_file.c and base_stream.c share: the calls that change the disk, and words for what the
// system says. For these three files alone.
#ifndef HUEWRIGHT_BASE_DISK_H
#define HUEWRIGHT_BASE_DISK_H

#include "base_internal.h"

#include <sys/types.h>

// ---- Words for what the system says ------------------------------------------------

hw_status hw_refuse_read(const char *path, int error, hw_error *err);
hw_status hw_refuse_write(const char *path, int error, hw_error *err);
// For what may be there although a call failed, where doing it again could leave it there twice.
hw_status hw_refuse_unsure(const char *path, int error, hw_error *err);

// ---- Calls that change the disk ----------------------------------------------------
//
// `path` is what a watching test is told. errno tells the fault. A call that a signal interrupts is made again.

// In the open folder `folder`, or AT_FDCWD with name = path. -1 on failure.
int hw_disk_create(const char *path, int folder, const char *name, int flags, mode_t mode);
ssize_t hw_disk_put(const char *path, int file, const void *bytes, size_t count); // as write
bool hw_disk_sync(const char *path, int file);
bool hw_disk_sync_folder(const char *path, int folder);
bool hw_disk_cut(const char *path, int file, off_t length);
bool hw_disk_set_mode(const char *path, int file, mode_t mode);
bool hw_disk_rename(const char *path, const char *to);
bool hw_disk_link(const char *path, const char *to);
void hw_disk_remove(const char *path);
bool hw_disk_make_folder(const char *path);
bool hw_disk_close(const char *path, int file); // of a file that was written

// ---- Put together from them ---------------------------------------------------------

bool hw_disk_write_all(const char *path, int file, const void *bytes, size_t count);
bool hw_disk_has_no_links(int error); // does the error mean that the file system knows no links?
// The folder that holds `path`, as text; and opened, or -1.
bool hw_disk_folder_of(const char *path, hw_text *out);
int hw_disk_open_folder_of(const char *path, hw_text *out);
// A renamed or new file is on the disk only once its folder is.
bool hw_disk_sync_folder_of(const char *path);
bool hw_disk_sync_found(const char *path); // the name of a folder that was found
bool hw_disk_sync_made(const char *path);  // of one that was made, and of the one above it

#endif
