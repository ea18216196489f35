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
//  10 job_folder.c   the names that a job's folder can hold; findings
//  11 job_survey.c   what the raw lines of a log say of themselves, whatever their kinds
//  12 job_check.c    is all there that was saved
//  13 job_pack.c     the folder in one zip file
//  14 job_unpack.c   such a file, from anybody, as a folder again
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

// ---- 10 The folder -----------------------------------------------------------------

#define HW_MEMBER_SIZE 96 // bytes of a name in a job's folder, with its final 0

typedef enum hw_member {
    HW_MEMBER_NONE = 0, // no name that a job's folder holds
    HW_MEMBER_JOB,      // job.json
    HW_MEMBER_LOG,      // log.jsonl
    HW_MEMBER_TORN,     // log.jsonl.torn-812
    HW_MEMBER_MARKS,    // marks-to-edit.json, marks-to-edit-2.json
    HW_MEMBER_PHOTO,    // photos/<64 hexadecimal digits>.jpg
} hw_member;

hw_member hw_job_member(const char *name);
// The most bytes that one can have.
uint64_t hw_job_member_most(hw_member member, const hw_limits *limits);
// A file that was being written when a program died: its name ends in ".new-PROCESS-N".
bool hw_is_half_written(const char *name);
// FOLDER/NAME into an empty text.
HW_CHECK hw_status hw_job_path(const char *folder, const char *name, hw_text *out, hw_error *err);

// Adds a finding (printf format of the sentence).
HW_CHECK hw_status hw_find(hw_findings *findings, hw_severity severity, const char *where,
                           hw_error *err, const char *format, ...) HW_PRINTF(5, 6);

// ---- 11 Survey ---------------------------------------------------------------------

typedef struct hw_named_photo {
    char stored[HW_MEMBER_SIZE];
    long event; // that names it first
    int64_t at;
} hw_named_photo;

typedef struct hw_log_survey {
    size_t lines_whole, lines_bad, events_missing;
    char title[480];       // as the job was started; "" when it is not there
    int64_t last_at;       // the latest time
    hw_named_photo *photo; // each once, in the order of their names
    size_t photo_count, photo_room;
} hw_log_survey;

// Reads whole lines (hw_log_whole_bytes of them) and adds what is wrong with them. Free with
// hw_log_survey_free, also on failure, which is for want of memory only.
HW_CHECK hw_status hw_job_survey(const char *bytes, size_t count, const hw_limits *limits,
                                 hw_log_survey *out, hw_findings *findings, hw_error *err);
void hw_log_survey_free(hw_log_survey *survey);
const hw_named_photo *hw_log_survey_photo(const hw_log_survey *survey, const char *stored);

// The log as it is at one moment: waits for an event that is just being written, where it may. Free
// *bytes with hw_free. *why tells why half a line at the end could not be waited for.
HW_CHECK hw_status hw_job_read_log(const char *path, const hw_limits *limits, hw_append **lock,
                                   uint8_t **bytes, size_t *count, hw_error *why, hw_error *err);

#endif
