// job_internal.h: how a job lives on the disk, in order:
//
//   1 job_log.c      the log's lines: written, synced, never changed
//   2 job_event.c    an event as JSON, and back; job_event_photo.c, _pass.c, _coat.c, _word.c, _setting.c
//                    each kind, job_event_pieces.c what several have
//   3 job_store.c    the folder: job.json, the log, the photos
//     job_look.c     what the last photo of a view is recognised by
//     job_add.c      each kind of event into the log
//     job_carry.c    what a new job takes over from an earlier one
//     job_mend.c     corrections and renamings, applied to what is read
//     job_glance.c   what a list of many jobs tells of one
//   4 job_history.c  what the log says when it is asked
//     job_parts.c    the parts of the piece and what lies on them
//     job_measured.c  an instrument and a photo on the same part
//     job_liquid.c   areas, and how much liquid was laid and is left
//     job_time.c     drying, hours of work, sittings
//   5 job_change.c   what a patch did between two photos, read against the old wood in both
//   6 job_standing.c  the numbers of that
//     job_lamps.c    the same state under two lamps: does the match hold?
//   7 job_learn.c    what the passes did beside what was expected: observations
//     job_coats.c    coats on a part, those to come, and what logged ones did
//   8 job_shelf_json.c  a dye, what was seen of dyes and coats, and what a step board taught, as JSON, and back
//   9 job_shelf.c    the finisher's shelf, one file for all jobs
//     job_camera.c   the learned cameras, another one; job_camera_json.c its items, and a photo's own copy
//     job_own_file.c  what both files share
//  10 job_lines.c    the log's own lines, for export
//  11 job_folder.c   the names that a job's folder can hold; findings
//  12 job_survey.c   what the raw lines of a log say of themselves, whatever their kinds
//  13 job_check.c    is all there that was saved
//  14 job_pack.c     the folder in one zip file
//  15 job_unpack.c   such a file, from anybody, as a folder again
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
    long line;  // of the last one read, from 1
    bool whole; // keep all members, also those of a reading that the program takes nothing from
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
hw_json *hw_event_part_json(const hw_part_event *part);
hw_json *hw_event_coat_json(const hw_coat_event *coat);
hw_json *hw_event_takeoff_json(const hw_takeoff_event *takeoff);
hw_json *hw_event_jar_json(const hw_jar_event *jar);
hw_json *hw_event_note_json(const hw_note_event *note);
hw_json *hw_event_approval_json(const hw_approval_event *approval);
hw_json *hw_event_setting_json(const hw_setting_event *setting);
// Those of an event that a person entered; NULL for others (those that cannot be corrected), and where memory
// is out.
hw_json *hw_event_body_json(const hw_event *event);
bool hw_event_body_can_be(hw_event_kind kind);
const char *hw_photo_event_name(const hw_photo_event *photo); // in the file; static

// And back. False: it does not make sense or, with *memory_out, memory is out.
bool hw_event_read_photo(const hw_json *json, const hw_limits *limits, hw_photo_event *out,
                         bool *memory_out);
void hw_event_free_more(hw_photo_event *photo); // its repeat shots
bool hw_event_read_measured(const hw_json *json, const hw_limits *limits, hw_photo_event *out,
                            bool *memory_out);
bool hw_event_read_reading(const hw_json *json, hw_reading_event *out, bool *memory_out);
bool hw_event_read_plan(const hw_json *json, hw_plan_event *out);
bool hw_event_read_pass(const hw_json *json, hw_pass_event *out, bool *memory_out);
bool hw_event_read_part(const hw_json *json, hw_part_event *out);
bool hw_event_read_coat(const hw_json *json, hw_coat_event *out, bool *memory_out);
bool hw_event_read_takeoff(const hw_json *json, hw_takeoff_event *out, bool *memory_out);
bool hw_event_read_jar(const hw_json *json, hw_jar_event *out);
bool hw_event_read_correction(const hw_json *json, hw_correction_event *out, bool *memory_out);
bool hw_event_read_note(const hw_json *json, hw_note_event *out);
bool hw_event_read_approval(const hw_json *json, hw_approval_event *out);
bool hw_event_read_setting(const hw_json *json, hw_setting_event *out, bool *memory_out);

// Members that several kinds have.
void hw_event_put_lab(hw_json *parent, const char *name, hw_lab lab);
bool hw_event_get_lab(const hw_json *list, hw_lab *out);
bool hw_event_get_three(const hw_json *list, double out[3]);
void hw_event_put_liquid(hw_json *parent, const hw_liquid *liquid);
bool hw_event_get_liquid(const hw_json *list, hw_liquid *out);
bool hw_event_get_passes(const hw_json *json, int *out);
void hw_event_put_text(hw_json *json, const char *name, const char *text); // nothing for ""
// Text of a member into an array of `size`; "" when it is missing.
void hw_event_get_text(const hw_json *json, const char *name, char *out, size_t size);
void hw_event_put_names(hw_json *json, const char *name, const char (*names)[HW_NAME_SIZE],
                        size_t count);
// *out is made for all of them; free with hw_free, also on failure.
bool hw_event_get_names(const hw_json *list, char (**out)[HW_NAME_SIZE], size_t *count,
                        bool *memory_out);
// A whole number from 1, as of an event; else *out is 0.
bool hw_event_get_count(const hw_json *json, const char *name, long *out);
void hw_event_put_before_photo(hw_json *json, long before_photo); // nothing for 0
long hw_event_get_before_photo(const hw_json *json);
void hw_event_put_hours(hw_json *json, double hours); // nothing for 0
double hw_event_get_hours(const hw_json *json);       // 0 where there are none that can be

// The job's own copy of dyes, as the member `dyes`; nothing for none.
void hw_event_put_dyes(hw_json *parent, const hw_used_dye *dyes, size_t count);
size_t hw_event_get_dyes(const hw_json *json, hw_used_dye out[HW_LIQUID_DYES_MAX]);

// Reads an event. False: memory is out (an event that does not make sense becomes HW_EVENT_OTHER).
bool hw_event_read(const hw_json *json, const hw_limits *limits, hw_event *out);

// ---- 3 Store -----------------------------------------------------------------------

typedef struct hw_new_event {
    const char *name;      // "pass_laid"
    hw_json *body;         // its members, without number, time and program
    bool takes_jar_number; // the next free one, as known under the lock
    bool reads_first;      // a reading of the photo that is the first of those appended with it
} hw_new_event;

hw_limits hw_job_limits(const hw_job *job); // those it was opened with
// Where the event of that number stands, or the first one behind it; the count where there is none.
size_t hw_job_index_of(const hw_job *job, long number);
// The events that tell of a surface, in the order of the log: photos with states, coats, things taken off.
size_t hw_job_surface_count(const hw_job *job);
// How many of them, from the first, may stand at that place of the log or before it.
size_t hw_job_surface_upto(const hw_job *job, long place);
const hw_event *hw_job_surface_event(const hw_job *job, size_t index);

// Appends the events in one write, under the lock, and takes them into the opened job. *number is that of
// the first. Frees all bodies, also on failure.
HW_CHECK hw_status hw_job_append(hw_job *job, hw_new_event *events, size_t count, int64_t now,
                                 long *number, hw_error *err);

// What a new job takes over: the bodies of its lines behind the first. Room for hw_job_carry_most of them; returns how
// many. A body that memory ran out on is noticed when it is printed.
size_t hw_job_carry_most(const hw_job *from);
size_t hw_job_carry(const hw_job *from, hw_new_event *out);

// Which lines of a log are read at all: `keep` moves them together at the front of the bytes and returns how many those are.
typedef struct hw_log_sieve {
    size_t (*keep)(char *bytes, size_t count, void *context);
    void *context;
} hw_log_sieve;

// A job that knows only those lines: to be looked at and freed, never written to. `sieve` NULL: all.
HW_CHECK hw_status hw_job_open_sieved(const char *folder, const hw_log_sieve *sieve,
                                      const hw_limits *limits, hw_job **out, hw_error *err);

// Can that name an entry? HW_ERR_CALL entry-name.
HW_CHECK hw_status hw_job_check_entry(const char *entry, hw_error *err);

// ---- 3 Mending ---------------------------------------------------------------------

// A correction of the log, or a renaming.
typedef struct hw_logged_correction {
    long number, of;
    bool withdraw;
    bool renames;  // a part got another name: no correction of one event
    bool off;      // taken back itself
    hw_json *json; // the whole line
} hw_logged_correction;

typedef struct hw_corrections {
    hw_logged_correction *item;
    size_t count;
} hw_corrections;

// Does one of these lines change what earlier ones say?
bool hw_log_mends(const char *bytes, size_t count);
// All corrections and renamings of a log. False: memory is out; free *out all the same.
bool hw_corrections_collect(const char *bytes, size_t count, const hw_limits *limits,
                            hw_corrections *out);
void hw_corrections_free(hw_corrections *corrections);
// Reads an event as it is after its corrections and the renamings behind it. False: memory is out.
bool hw_corrected_read(const hw_json *json, const hw_corrections *corrections,
                       const hw_limits *limits, hw_event *out);
// Once all are read: readings of withdrawn photos, and those read again later, are withdrawn.
void hw_mend_events(hw_event *events, size_t count);

// ---- 4 History ---------------------------------------------------------------------

// Is it a pass on this patch, laid between two photos? `before` and `after` are their event numbers.
bool hw_pass_is_between(const hw_event *event, long before, long after, const char *patch);
// Is a pass on that part between the two photos?
bool hw_job_laid_between(const hw_job *job, long before, long after, const char *part);
// Was the very file of this photo added before, and something laid on the part or taken off it since? Then it does not
// show the part as it is where the photo stands.
bool hw_job_photo_repeats(const hw_job *job, const hw_event *photo, const char *part);
// As hw_job_pass_lies, of a coat.
bool hw_job_coat_lies(const hw_job *job, const hw_event *coat, const char *part, long place);

// ---- 5 Change ----------------------------------------------------------------------

// Is the surface of the part the same in both photos, as far as it was said? Else the reason; `what` stands before
// the part's name.
bool hw_job_same_state(const hw_job *job, long before, long after, const char *what,
                       const char *part, char *reason, size_t size);
// Was a coat laid on it, or something taken off, between the two photos? Then the words for it.
bool hw_job_done_words(const hw_job *job, long before, long after, const char *what,
                       const char *part, char *reason, size_t size);
// Could the two photos be set beside each other, so that the change has a size?
bool hw_change_is_told(const hw_patch_change *change);

// What coats between two photos did to a part, patch or old wood, read against old wood that got none of them; where
// none stands in both, by the card alone (*by_card_alone: the ranges are then the part's own, without what all
// parts of these photos are off by together). What else was done between them is not looked at.
hw_patch_change hw_job_coat_change(const hw_job *job, long photo_before, long photo_after,
                                   hw_role role, const char *part, bool *by_card_alone);

// Do both photos show one state of the patch and of its old wood, each with a reading of its own?
bool hw_job_looks_alike(const hw_job *job, const hw_event *one, const hw_event *other,
                        const char *patch);
// Was anything done to the patch, or to old wood beside it, since that photo?
bool hw_job_touched_since(const hw_job *job, const hw_event *photo, const char *patch);
// The newest photo of the patch from that side under that lamp, or NULL.
const hw_event *hw_job_photo_from(const hw_job *job, const char *patch, hw_from from,
                                  const char *lamp);

// Fills index, ranges and verdict from the two looks. `same_marks`: both photos are marked alike; `same_camera`: one
// camera took both.
void hw_lamp_pair_fill(hw_lamp_pair *pair, bool same_marks, bool same_camera);

// ---- 7 Learning --------------------------------------------------------------------

// From the latest earlier photo of a part that the photo, an index among the events, can be compared with. By what
// passes did (hw_job_patch_change), or where `by_card_alone` is given, by what coats did (hw_job_coat_change).
bool hw_job_compare_back(const hw_job *job, size_t index, hw_role role, const char *part,
                         bool *by_card_alone, hw_patch_change *out);

// What a change is in density: -ln of the ratio of the bands, and its covariance from the ranges.
void hw_job_change_density(const hw_patch_change *change, double density[3],
                           hw_covariance *covariance);
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

// The same without old wood: as the photos hold it, its own doubt alone.
void hw_standing_fill_alone(hw_patch_change *change, const hw_place *part);

// ---- 7 Items of the shelf ----------------------------------------------------------

// NULL, or what is wrong with it, as "has no usable name"; *out untouched then.
const char *hw_shelf_read_dye(const hw_json *json, hw_dye *out);
const char *hw_shelf_read_seen(const hw_json *json, hw_observation *out);
const char *hw_shelf_read_coat(const hw_json *json, hw_coat_seen *out);
void hw_shelf_put_made(hw_json *parent, const hw_made *made); // nothing where it is not said
bool hw_shelf_read_made(const hw_json *made, hw_made *out);   // false: it says no way of making it
hw_json *hw_shelf_dye_json(const hw_dye *dye);
hw_json *hw_shelf_seen_json(const hw_observation *seen);
hw_json *hw_shelf_coat_json(const hw_coat_seen *seen);
// What a step board taught. *out is empty before; free it whatever comes. HW_ERR_INPUT shelf-format.
HW_CHECK hw_status hw_shelf_read_board(const hw_json *json, const char *path, hw_taught *out,
                                       hw_error *err);
hw_json *hw_shelf_board_json(const char *entry, int64_t at, const hw_taught *taught);
// Of the shelf and of cameras: a number between least and most, and exactly `count` of them.
bool hw_own_inside(double value, double least, double most); // not a number: false
bool hw_own_read_list(const hw_json *list, double *out, size_t count, double least, double most);

// ---- 9 Files of the finisher's own -------------------------------------------------

// A file of that name in the user's data folder (XDG). False where none is known or it does not fit.
bool hw_own_path(const char *name, char *out, size_t size);
// The folder that holds the file, where the path names one.
HW_CHECK hw_status hw_own_make_folder(const char *path, hw_error *err);
HW_CHECK hw_status hw_own_lock(const char *path, hw_append **lock, hw_error *err); // PATH.lock
// The file as a tree, to be freed; where there is none *tree stays as it is.
HW_CHECK hw_status hw_own_read(const char *path, const hw_limits *bounds, hw_json **tree,
                               hw_error *err);
// Carries what this version does not know from the old object into the new one. `ours` ends in NULL: members of ours
// that may be missing, so what an old object says there is no longer so.
void hw_own_keep_unknown(const hw_json *old, hw_json *made, const char *const *ours);

// NULL, or what is wrong with it. *out is empty before, and of no use where something is wrong.
const char *hw_camera_read_seen(const hw_json *json, hw_camera_seen *out);
hw_json *hw_camera_seen_json(const hw_camera_seen *seen);
// A photo's own copy of what was learned. False: it cannot be.
hw_json *hw_camera_json(const hw_camera *camera);
bool hw_camera_read(const hw_json *json, hw_camera *out);
// No principal minor is negative, but for rounding.
bool hw_job_is_covariance(const hw_covariance *v);

// ---- 11 The folder -----------------------------------------------------------------

#define HW_MEMBER_SIZE 96 // bytes of a name in a job's folder, with its final 0

typedef enum hw_member {
    HW_MEMBER_NONE = 0, // no name that a job's folder holds
    HW_MEMBER_JOB,      // job.json
    HW_MEMBER_LOG,      // log.jsonl
    HW_MEMBER_TORN,     // log.jsonl.torn-812
    HW_MEMBER_MARKS,    // marks-to-edit.json, marks-to-edit-2.json, and their pictures, .svg
    HW_MEMBER_PHOTO,    // photos/<64 hexadecimal digits>.jpg
    HW_MEMBER_LOOK,     // look-<16 hexadecimal digits>: can be made again, so it is not packed
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

// ---- 12 Survey ---------------------------------------------------------------------

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
