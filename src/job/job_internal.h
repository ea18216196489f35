// job_internal.h: how a job lives on the disk, in order:
//
//   1 job_log.c      the log's lines: written, synced, never changed
//   2 job_event.c    an event as JSON, and back
//   3 job_store.c    the folder: job.json, the log, the photos
//   4 job_history.c  what the log says when it is asked
//   5 job_change.c   what a patch did between two photos, read against the old wood in both
//   6 job_standing.c  the numbers of that
//   7 job_learn.c    what the passes did beside what was expected: observations
//   8 job_shelf_json.c  a dye and an observation of the shelf as JSON, and back
//   9 job_shelf.c    the finisher's shelf, one file for all jobs
//  10 job_lines.c    the log's own lines, for export
#ifndef HUEWRIGHT_JOB_INTERNAL_H
#define HUEWRIGHT_JOB_INTERNAL_H

#include "base_internal.h"
#include "huewright/job.h"

// ---- 1 Lines -----------------------------------------------------------------------

// Adds the line of an event to `out`: the object's text, its sum as last member, a newline.
HW_CHECK hw_status hw_log_line(const hw_json *event, hw_text *out, hw_error *err);

typedef enum hw_line_state {
    HW_LINE_WHOLE,
    HW_LINE_BAD,  // its sum does not fit, or it is no event
    HW_LINE_TORN, // the last one, without its newline
    HW_LINE_NO_MEMORY,
} hw_line_state;

typedef struct hw_log_reader {
    const char *bytes;
    size_t count, at;
    long line; // of the last one read, from 1
} hw_log_reader;

// The next line, or false at the end. A whole one comes back parsed in *event (free with
// hw_json_free).
bool hw_log_next(hw_log_reader *reader, const hw_limits *limits, hw_line_state *state,
                 hw_json **event);
// Where whole lines end: the bytes behind it are a torn tail.
size_t hw_log_whole_bytes(const char *bytes, size_t count);

// ---- 2 Events ----------------------------------------------------------------------

// The members of an event of each kind, without number, time and program.
hw_json *hw_event_photo_json(const hw_photo_event *photo);
hw_json *hw_event_plan_json(const hw_plan_event *plan);
hw_json *hw_event_pass_json(const hw_pass_event *pass);

// Reads an event. False: memory is out (an event that does not make sense becomes HW_EVENT_OTHER).
bool hw_event_read(const hw_json *json, const hw_limits *limits, hw_event *out);

// ---- 4 History ---------------------------------------------------------------------

bool hw_pass_is_on(const hw_pass_event *pass, const char *patch);
// Is it a pass on this patch, laid between two photos? `before` and `after` are their event numbers.
bool hw_pass_is_between(const hw_event *event, long before, long after, const char *patch);

// ---- 5 Change ----------------------------------------------------------------------

// Could the two photos be set beside each other, so that the change has a size?
bool hw_change_is_told(const hw_patch_change *change);

// ---- 7 Learning --------------------------------------------------------------------

// What the passes between the two photos of a change were expected to do, beside what they did.
hw_forecast_check hw_job_check_forecast(const hw_job *job, const hw_patch_change *change,
                                        const char *patch);

// ---- 6 Standing reference ----------------------------------------------------------

#define HW_PLACES_MOST 64 // pieces of old wood in one comparison; as many as a photo has marks

// One place, old wood or patch, in both photos.
typedef struct hw_place {
    hw_lab then, now;
    double variance[3]; // of now minus then, L*, a*, b*: chosen doubts and logged errors
} hw_place;

// `beside`: the patch itself, or old wood beside it.
hw_place hw_standing_place(const hw_logged_sample *then, const hw_logged_sample *now, bool beside);
// Can it be scaled? (Not where a colour is too dark for a logarithm, or damaged.)
bool hw_standing_usable(const hw_place *one);
// How far the later colours lie from the earlier ones unscaled: the weighted mean, Euclid.
double hw_standing_moved(const hw_place *places, size_t count);
// Fills after, change, scatter and the ranges; `before` and `widening` are set. count 1 to
// HW_PLACES_MOST, all usable.
void hw_standing_fill(hw_patch_change *change, const hw_place *patch, const hw_place *places,
                      size_t count);

// ---- 7 Items of the shelf ----------------------------------------------------------

// NULL, or what is wrong with it, as "has no usable name"; *out untouched then.
const char *hw_shelf_read_dye(const hw_json *json, hw_dye *out);
const char *hw_shelf_read_seen(const hw_json *json, hw_observation *out);
hw_json *hw_shelf_dye_json(const hw_dye *dye);
hw_json *hw_shelf_seen_json(const hw_observation *seen);

#endif
