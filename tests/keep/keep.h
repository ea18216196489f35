// keep.h: what the parts of the program `keep` share: a place on the disk, what a person was told is
// saved, a job that is played, and the counts.
#ifndef HUEWRIGHT_KEEP_H
#define HUEWRIGHT_KEEP_H

#include "base_internal.h"
#include "huewright/job.h"

// ---- A place -----------------------------------------------------------------------

// A folder of this test with a job in it, and a shelf.
typedef struct place {
    char root[300];
    char job[340]; // its name ends in a slash, as when a shell completes it
    char shelf[340];
} place;

extern char keep_folder[200]; // where places are made

place new_place(void); // an empty folder of a new name
place place_at(const char *root);
void remove_tree(const char *path);
void make_empty(const char *folder);

// ---- What was told -----------------------------------------------------------------

typedef enum told_what { TOLD_JOB, TOLD_EVENT, TOLD_PHOTO, TOLD_DYE, TOLD_SEEN } told_what;

// One thing that was said to be saved. Goes through a pipe in one piece.
typedef struct told {
    told_what what;
    hw_event_kind kind; // of an event
    long number;        // of an event or observation; what a photo's bytes are made from
    int64_t at;         // of an event
    uint32_t sum;       // CRC-32 of an event's line
    char name[96];      // of a photo or dye
} told;

typedef struct told_list {
    told *item;
    size_t count, room;
} told_list;

void told_add(told_list *list, const told *one);
void told_free(told_list *list);

// Is all of it there? Says what is not and counts it as lost. `during` names the test for the message.
bool all_there(const place *where, const told_list *list, const char *during);
// Events that the job holds, 0 where it cannot be opened.
size_t events_there(const place *where);

// ---- A job that is played ----------------------------------------------------------

// Who hears what each step came to.
typedef struct listener {
    void (*told)(void *context, const told *what);
    void (*refused)(void *context, const char *step, const hw_error *err); // or NULL
    void *context;
} listener;

// Starts the job (or goes on with the one that is there) and does a few turns of all that a person
// does. A step that is refused is not tried again; the next ones are. `day` sets what is written apart
// from other days'.
void play(const place *where, int day, const listener *to);
// Adds one event of every kind to a job that is open.
void play_events(hw_job *job, const place *where, int day, int turn, const listener *to);
// One short event, as a person would who goes on; false where it was refused.
bool add_one(hw_job *job, const place *where, int day, told *out, hw_error *err);
// Starts the job if need be, adds one event, and asks whether all is there, twice.
void go_on(const place *where, told_list *list, const char *during);

// A listener that collects.
listener into(told_list *list);

size_t photo_bytes(long number, uint8_t out[3000]); // made-up bytes of a photo; at least 1500

// ---- Counts ------------------------------------------------------------------------

typedef struct counts {
    long kill_points, kills_survived;
    long calls_failed, calls_refused, calls_mended;
    long orders; // things told whose calls were looked at
    long power_cuts;
    long bytes_cut, bits_flipped;
    long full_disks, writers, writers_killed;
    long folders_moved, copies, photos;
    long lost;
} counts;

extern counts keep_counts;
extern bool keep_short;

// Counts and tells a loss where `good` is false.
bool expect(bool good, const char *format, ...) HW_PRINTF(2, 3);

// Every how many points are tried: each in the long form.
static inline long every(long short_form)
{
    return keep_short ? short_form : 1;
}

// Random numbers of a fixed seed (xorshift, Marsaglia 2003).
uint32_t chance(uint32_t *state);

// ---- The tests ---------------------------------------------------------------------

void test_kills(void);
void test_failures(void);
void test_order(void);
void test_power_cuts(void);
void test_cuts(void);
void test_flips(void);
void test_photos(void);
void test_full_disk(void);
void test_read_only(void);
void test_writers(void);
void test_clock(void);
void test_moved(void);
void test_replaced(void);
void test_copied(void);
void test_said_again(void);

#endif
