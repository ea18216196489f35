// keep_model.h: the calls of a run, recorded, and a disk that keeps of them only what was synced.
//
// What POSIX promises after a power cut: the bytes of a file as they were at its last fsync, the names
// in a folder as they were at the folder's last fsync. Of what came later, any part may have reached
// the disk, in any order, a write torn at any length (a rename is whole or not at all). So the model
// holds for every file and folder what is safe, and the changes since. A name may lead to a file none
// of whose bytes are safe: it is empty then.
#ifndef HUEWRIGHT_KEEP_MODEL_H
#define HUEWRIGHT_KEEP_MODEL_H

#include "keep.h"

// ---- A run, recorded ---------------------------------------------------------------

// A call that changed the disk, or (is_told) the moment in which something was said to be saved.
typedef struct tape_entry {
    bool is_told;
    told told;
    hw_disk_kind kind;
    long number;
    char *path, *to;
    uint8_t *bytes;
    size_t count;
} tape_entry;

typedef struct tape {
    tape_entry *entry;
    size_t count, room;
} tape;

// Plays a day at the place and records it, behind what the tape holds. `fault`: none, or a disk that
// takes no more calls from the `at`-th on (what it holds then is what a kill would leave).
void record(tape *out, const place *where, int day, hw_disk_fault fault, long at);
void tape_free(tape *run);

// ---- The disk ----------------------------------------------------------------------

typedef struct disk_model disk_model;

disk_model *disk_new(const char *root); // an empty folder that is there for good
void disk_free(disk_model *disk);
void disk_take(disk_model *disk, const tape_entry *call);
// Writes a state that a power cut may leave into the folder `to` (empty). *state 0: only what is safe;
// 1: all; else what chance says.
void disk_write_out(const disk_model *disk, const char *to, uint32_t state);

#endif
