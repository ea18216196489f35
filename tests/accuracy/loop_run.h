// loop_run.h: one run of the closed loop, by rendered photos or by numbers.
#ifndef HUEWRIGHT_LOOP_RUN_H
#define HUEWRIGHT_LOOP_RUN_H

#include "huewright/huewright.h"
#include "loop_world.h"

#define LOOP_PHOTOS_MOST 15

typedef enum loop_way { LOOP_BY_ADVICE = 0, LOOP_NAIVE, LOOP_ALL_KNOWING } loop_way;

typedef struct loop_kind {
    const char *condition;
    loop_way way;
    scene_depth depth;
    bool board;      // the nine dyes are learned from a step board first
    bool second_job; // what is scored is the next piece with the same dyes and the same shelf
    bool numbers;    // no photos: the truth and noise
} loop_kind;

typedef struct loop_result {
    unsigned seed;
    bool failed;                               // could not be run to its end
    double best;                               // all-knowing
    double start, start_depth, end, end_depth; // true CIEDE2000, L* of strip minus old wood
    double passed_best;               // least true CIEDE2000 after any pass, or at the start
    int passes, photos, first_photos; // of the first job, where this is the second
    int boards_refused;
    double first_best;
    bool endless; // still something to lay after LOOP_PHOTOS_MOST photos
    int forecasts, inside;
    size_t learned_count;
    double learned[HW_FAMILY_COUNT]; // |learned strength / true strength - 1|
    char course[1500];               // in words
} loop_result;

// False when the world cannot be made.
bool loop_run(const loop_kind *kind, unsigned seed, loop_result *out);

// ---- Shared by both ways to read ---------------------------------------------------

// A job, and the shop's shelf in the way by numbers (else it is a file).
typedef struct loop_job {
    char folder[200], photo[200], name[HW_JOB_ID_SIZE];
    int64_t now;
    hw_shelf *shelf;
    double moved[HW_FAMILY_COUNT]; // CIEDE2000 that the passes of each dye moved the strip
    double laid[HW_FAMILY_COUNT];  // of each dye, strength times passes
} loop_job;

void loop_say(loop_result *out, const char *format, ...) HW_PRINTF(2, 3);
void loop_fail(loop_result *out, const hw_error *err);
// Lays what is advised, unless there is nothing or no photo is left; true: something was laid.
bool loop_lay_next(world *w, loop_job *j, const hw_advice *advice, loop_result *out);
void loop_compare_known(const world *w, const loop_job *j, const hw_known *known, loop_result *out);

// Over 1 L* too dark, or over 0.5 CIEDE2000 beyond the best that it passed through.
bool loop_overshot(int passes, double depth, double gap, double passed_best);

// By numbers (loop_numbers.c).
void loop_run_numbers(world *w, loop_job *j, loop_result *out);
bool loop_board_numbers(const world *w, hw_shelf *shelf);
// What an observation says was laid: `amount`, of each dye so far, grows by it.
void loop_tell_laid(hw_observation *seen, const hw_layer *laid, double amount[HW_FAMILY_COUNT]);
// What it says that they did, between two readings by numbers, seen against the old wood.
void loop_tell_seen(hw_observation *seen, const char *job, const char *patch, int64_t now,
                    const hw_comparison *before, const hw_comparison *after);
// A reading of the strip: the truth and noise.
hw_comparison loop_read_numbers(world *w);

#endif
