// job.h: one piece of furniture and all that was seen and done on it: a folder that can
// be copied and read in ten years.
//
//   job.json      {"format":1,"title":...,"made":...}
//   log.jsonl     a line an event; written, synced, never changed
//   photos/       the originals, named by their content
//
// The format is told in src/job/FORMAT.md, for someone who has only the folder.
//
// Anything a person entered is on the disk before a call here returns HW_OK. Time
// comes in as seconds since 1970, UTC.
#ifndef HUEWRIGHT_JOB_H
#define HUEWRIGHT_JOB_H

#include "huewright/base.h"
#include "huewright/card.h"
#include "huewright/compare.h"
#include "huewright/mark.h"
#include "huewright/tone.h"

#ifdef __cplusplus
extern "C" {
#endif

#define HW_JOB_FORMAT 1

// ---- State of a part ---------------------------------------------------------------

typedef enum hw_state {
    HW_STATE_UNKNOWN = 0, // not said
    HW_STATE_BARE,
    HW_STATE_NOT_DRY,
    HW_STATE_DAMP, // wiped with solvent to preview
    HW_STATE_SEALED,
    HW_STATE_FINISHED,
    HW_STATE_RUBBED_OUT,
    HW_STATE_COUNT
} hw_state;

const char *hw_state_name(hw_state state); // "unknown", "bare", "not_dry", ...; static
bool hw_state_from_name(const char *name, hw_state *out);

typedef struct hw_part_state {
    char part[HW_NAME_SIZE];
    hw_state state;
} hw_part_state;

// ---- Events ------------------------------------------------------------------------

typedef enum hw_event_kind {
    HW_EVENT_OTHER = 0, // of a later version: kept, skipped
    HW_EVENT_JOB_STARTED,
    HW_EVENT_PHOTO_ADDED,
    HW_EVENT_READING,
    HW_EVENT_PLAN_SHOWN,
    HW_EVENT_PASS_LAID,
    HW_EVENT_PART_NAMED,
    HW_EVENT_COAT_LAID,
    HW_EVENT_TAKEN_OFF,
    HW_EVENT_JAR_MIXED,
    HW_EVENT_CORRECTION,
    HW_EVENT_NOTE,
    HW_EVENT_APPROVAL,
    HW_EVENT_SETTING,
    HW_EVENT_WITHDRAWN, // it did not happen, as a later correction says; `was` tells what it was
    HW_EVENT_KIND_COUNT
} hw_event_kind;

const char *hw_event_kind_name(hw_event_kind kind); // "photo_added", ... as in the log; static

// A number in an event that a person need not say is 0 where it was not said; but the minutes of a pass, since 0 minutes
// can be meant: NaN. In what is worked out from events (hw_job_settings and the calls below) what is not known is NaN.

// A further photo of the same state, read together with the first (hw_compare_shots).
typedef struct hw_more_photo {
    char stored[96];
    char original[320];
    hw_marks marks; // none: they lie as on the first
    bool own_marks; // drawn on it by a person; else carried from the first
} hw_more_photo;

// A photo as it came, with its marks; or readings of an instrument in a photo's place, then without a
// picture.
typedef struct hw_photo_event {
    char stored[96];         // "photos/3f2a....jpg", in the job folder; "" when measured
    bool measured;           // by an instrument: its marks have names and no corners
    char instrument[96];     // that instrument as its file names it; "" when not said
    char original[320];      // the name it came under
    char view[HW_NAME_SIZE]; // "front" when not said
    char lamp[HW_NAME_SIZE]; // "" when not said
    char note[480];
    hw_marks marks;
    bool marks_reused; // carried from the last photo of the view as they lay
    bool has_card_lab;
    hw_lab card_lab;
    char sheet[96]; // stored name of the photo of a plain sheet that shows its light; "" for none
    hw_camera *
        camera; // what was learned of its camera under its lamp when it was read; NULL: nothing. Owned.
    hw_part_state *states;
    size_t state_count;
    hw_from from;        // the side that it was taken from
    hw_more_photo *more; // repeat shots; owned
    size_t more_count;
} hw_photo_event;

// One region's colour in a reading, as logged.
typedef struct hw_logged_sample {
    char name[HW_NAME_SIZE];
    hw_role role;
    hw_lab lab;
    double standard_error[3];
} hw_logged_sample;

// One comparison with all of a patch's targets, as logged.
typedef struct hw_logged_gap {
    char patch[HW_NAME_SIZE];
    double de00, de00_low, de00_high;
    double L, a, b;               // patch minus target
    double u[3];                  // standard uncertainty of these three
    double doubt[HW_DOUBT_COUNT]; // of de00 by source; all 0: an old log line does not say
    double spread;                // of the old wood in this photo; 0: an old log line does not say
    size_t spread_count;          // pieces of old wood
    long elsewhere;               // photo that shows the old wood; 0: the same
    hw_verdict verdict;
} hw_logged_gap;

typedef struct hw_reading_event {
    long photo;               // number of its photo event
    char camera[96];          // make and model; "" when the photo does not say (or an old log line)
    long width_px, height_px; // of the photo, upright; 0: measured
    hw_shot shot; // of it exposure_s, f_number, iso and white_balance, as far as the photo says
    bool has_card_seen;
    hw_lab card_seen; // the card as photographed, D50; when has_card_seen
    hw_logged_sample *samples;
    size_t sample_count;
    hw_logged_gap *gaps;
    size_t gap_count;
} hw_reading_event;

// A dye as it was known when it was advised or laid: the job's own copy, so that the job can be
// read alone.
typedef struct hw_used_dye {
    char name[HW_NAME_SIZE];
    hw_family family;
    hw_tool tool;
    double density[3], exponent, u_strength; // as in hw_known_dye
    bool guess;
    hw_made made; // how its liquid of strength 1 was made; an old log line does not say
} hw_used_dye;

typedef struct hw_plan_event {
    char patch[HW_NAME_SIZE];
    bool stop;
    bool has_next;
    hw_layer next;
    hw_lab forecast; // of the patch after `next`
    double forecast_de00;
    double risk;        // chance that `next` ends too dark; NaN: an old log line does not say
    bool cautions_full; // the cautions were shown in full
    hw_used_dye dye[HW_LIQUID_DYES_MAX]; // those of `next`
    size_t dye_count;
} hw_plan_event;

// Do both say the same, as far as the log keeps it?
bool hw_plan_is_same(const hw_plan_event *one, const hw_plan_event *other);

// What a pass event is expected to do to a patch, by what was known when it was logged.
typedef struct hw_forecast {
    char patch[HW_NAME_SIZE];
    double density[3];
    hw_covariance covariance;
} hw_forecast;

typedef struct hw_pass_event {
    char (*patches)[HW_NAME_SIZE];
    size_t patch_count;
    hw_liquid liquid;
    long jar; // the mixed liquid's number; 0: not out of a jar
    int passes;
    long before_photo; // laid before that photo and logged later; 0: laid when it was logged
    double minutes;    // dried since, as entered; NaN when not said
    double hours;      // of work, as entered; 0: not said
    char note[480];
    hw_used_dye dye[HW_LIQUID_DYES_MAX]; // the liquid's dyes as they were known
    size_t dye_count;
    hw_forecast *forecast; // for patches that were read before
    size_t forecast_count;
} hw_pass_event;

// A part gets its name when a photo first marks it, or another name later.
typedef struct hw_part_event {
    char part[HW_NAME_SIZE];
    hw_role role;           // HW_ROLE_TARGET or HW_ROLE_PATCH
    char was[HW_NAME_SIZE]; // renamed: the name until then, also in all earlier events; else ""
} hw_part_event;

// A coat of finish. Files hold the names.
typedef enum hw_coat {
    HW_COAT_SEALER = 0, // thin first coat that locks the colour
    HW_COAT_BARRIER,    // clear coat between colours
    HW_COAT_CLEAR,      // the finish itself
    HW_COAT_COUNT
} hw_coat;

const char *hw_coat_name(hw_coat coat); // "sealer", "barrier", "clear"; static
bool hw_coat_from_name(const char *name, hw_coat *out);

typedef struct hw_coat_event {
    hw_coat coat;
    char (*parts)[HW_NAME_SIZE];
    size_t part_count; // 0: on the whole piece
    long before_photo; // as in hw_pass_event, also the next
    double hours;
    char note[480];
} hw_coat_event;

// Toner, or all finish, taken off again.
typedef struct hw_takeoff_event {
    bool stripped; // down to the wood; false: wiped back, down to the last coat
    char (*parts)[HW_NAME_SIZE];
    size_t part_count;
    long before_photo; // as in hw_pass_event, also the next
    double hours;
    char note[480];
} hw_takeoff_event;

// A mixed liquid: its number is written on the jar.
typedef struct hw_jar_event {
    long jar; // from 1
    hw_liquid liquid;
    double volume_ml; // that was mixed; 0: not said
    char from_job
        [HW_JOB_ID_SIZE]; // carried over from the jar from_jar of that job; "": mixed for this one
    long from_jar;
    hw_used_dye
        dye[HW_LIQUID_DYES_MAX]; // the liquid's dyes as they were known; an old log line has none
    size_t dye_count;
    char note[480];
} hw_jar_event;

// What an earlier event should have said. The earlier line stays as it is; readers apply the change.
typedef struct hw_correction_event {
    long of;       // number of the event
    bool withdraw; // it did not happen
    char *change;  // JSON object of the members that are other now; null takes one out; owned
    char *was;     // the same members as they were; owned
} hw_correction_event;

typedef struct hw_note_event {
    char text[1000];
    char part[HW_NAME_SIZE]; // "" when it is about the whole piece
    double hours;            // of work, as in hw_pass_event
} hw_note_event;

// Who found the colour right, and under which lamp.
typedef struct hw_approval_event {
    char by[HW_NAME_SIZE];
    char lamp[HW_NAME_SIZE];
    char note[480];
} hw_approval_event;

// What the clear coats still to come go over. Files hold the names.
typedef enum hw_coats_over {
    HW_COATS_UNSAID = 0,
    HW_COATS_ALL,       // repair and old wood alike
    HW_COATS_REPAIRS,   // the repair only
    HW_COATS_NOT_KNOWN, // it was asked, and the person does not know
    HW_COATS_OVER_COUNT
} hw_coats_over;

const char *
hw_coats_over_name(hw_coats_over over); // "unsaid", "all", "repairs", "not_known"; static
bool hw_coats_over_from_name(const char *name, hw_coats_over *out); // of the three that can be said

typedef struct hw_part_area {
    char part[HW_NAME_SIZE];
    double cm2; // > 0
} hw_part_area;

#define HW_COATS_MOST          20      // clear coats still to come
#define HW_RECOAT_MOST_MINUTES 10080.0 // a week
#define HW_LENGTH_MOST_MM      2000.0  // of a card's side
#define HW_AREA_MOST_CM2       1e6     // of a part: 100 square metres
#define HW_ML_M2_MOST          1000.0  // a pass; more runs
#define HW_HOURS_MOST          1000.0  // of work with one event

// What holds for the whole job, said once; what is said later takes its place. A member that is not said with
// this event stays as it was.
typedef struct hw_setting_event {
    hw_coats_over coats_over; // HW_COATS_UNSAID: not said here
    int coats;             // clear coats still to come after this event, 0 to 20; with coats_over
    double recoat_minutes; // to wait between passes and coats; 0: not said here, also the next
    double card_mm[2];     // sides of the grey card; 0
    bool card_not_known;   // it was asked, and the person does not know
    double ml_m2;          // liquid that one pass takes, a square metre; 0
    hw_part_area *areas;   // owned
    size_t area_count;
} hw_setting_event;

typedef struct hw_start_event {
    char title[480];
} hw_start_event;

// What a device names an entry by that it sends to be logged: 16 to 40 of a-z, 0-9 and "-", made up by chance.
#define HW_ENTRY_SIZE 41
bool hw_entry_is_usable(const char *entry);

typedef struct hw_event {
    hw_event_kind kind;
    hw_event_kind was; // of a withdrawn one: what it was, and still holds; else as `kind`
    long number;       // from 1, in the order of the log
    int64_t at;
    char program[24]; // version that wrote it
    char entry
        [HW_ENTRY_SIZE]; // that it was logged for; "": none, as behind the first line of what was logged at once
    long reading;      // of a photo: number of its last reading; 0: none
    long corrected_by; // number of the last correction that it was read with; 0: as it was written
    union {
        hw_start_event start;
        hw_photo_event photo;
        hw_reading_event reading;
        hw_plan_event plan;
        hw_pass_event pass;
        hw_part_event part;
        hw_coat_event coat;
        hw_takeoff_event takeoff;
        hw_jar_event jar;
        hw_correction_event correction;
        hw_note_event note;
        hw_approval_event approval;
        hw_setting_event setting;
    } of;
} hw_event;

void hw_event_free(hw_event *event); // leaves an empty one
// Where a pass, a coat, a taking off or a note keeps its hours of work; NULL: another kind, which has none.
double *hw_event_hours_of(hw_event *event);
double hw_event_hours(const hw_event *event); // what was entered there; 0: none

// ---- A job -------------------------------------------------------------------------

typedef struct hw_job hw_job;

// Makes the folder (its parent must exist), job.json and the first log line. HW_ERR_CALL
// job-exists, when there already is a job or the folder is not empty; what a start left that was cut
// short (a kill, a full disk) does not count.
HW_CHECK hw_status hw_job_start(const char *folder, const char *title, int64_t now, hw_error *err);
// The same with the jars of another job, under new numbers, but for those that are empty (hw_job_jar_is_empty), and what
// was said there that holds for a shop: recoat time, the card's size, what a pass takes. One write: the job has all
// of it or is none.
HW_CHECK hw_status hw_job_start_from(const char *folder, const char *title, const hw_job *from,
                                     int64_t now, hw_error *err);
// The same, named by an entry (hw_job_enter; NULL: none), with `from` or without (NULL). HW_ERR_CALL entry-name.
HW_CHECK hw_status hw_job_start_entry(const char *folder, const char *title, const hw_job *from,
                                      const char *entry, int64_t now, hw_error *err);
// Is a job there that this entry started?
bool hw_job_is_of_entry(const char *folder, const char *entry);
// Could it be started? Writes nothing; refuses as hw_job_start does.
HW_CHECK hw_status hw_job_may_start(const char *folder, const char *title, hw_error *err);
// Reads the folder; writes nothing. Bad lines are skipped and named in the warnings. A folder of a
// newer format is read as far as it is understood, and cannot be written to.
// HW_ERR_INPUT with the code job-missing, job-damaged.
HW_CHECK hw_status hw_job_open(const char *folder, const hw_limits *limits, hw_job **out,
                               hw_error *err);
void hw_job_free(hw_job *job);

const char *hw_job_folder(const hw_job *job);
const char *hw_job_title(const hw_job *job);
// Names the job wherever its folder lies: a sum of its first log line, hexadecimal; "" without one.
const char *hw_job_id(const hw_job *job);
const hw_warnings *hw_job_warnings(const hw_job *job);
size_t hw_job_event_count(const hw_job *job);
const hw_event *hw_job_event(const hw_job *job, size_t index);

// The log's own lines, read again from the folder: each event as the JSON object that was written, on one line,
// without its sum. Bad and torn lines are left out.
typedef struct hw_job_lines {
    char *text;
    size_t *at; // where each line begins in it
    size_t count;
} hw_job_lines;

HW_CHECK hw_status hw_job_read_lines(const hw_job *job, const hw_limits *limits, hw_job_lines *out,
                                     hw_error *err);
const char *hw_job_line(const hw_job_lines *lines, size_t index); // NULL past the last
void hw_job_lines_free(hw_job_lines *lines);                      // leaves an empty one

// The event that was logged for that entry, withdrawn or not; NULL: none.
const hw_event *hw_job_entry(const hw_job *job, const char *entry);
// Names the entry of what is added next (NULL: none); of several lines the first carries it. Where the log holds that
// entry by then, tested under its lock, nothing is written: what is added gets the number of the event that is there.
// HW_ERR_CALL entry-name.
HW_CHECK hw_status hw_job_enter(hw_job *job, const char *entry, hw_error *err);
// Was the entry that was named last logged before? The event; NULL: no, or not that the job knows yet.
const hw_event *hw_job_said_before(const hw_job *job);

// Keeps an original under photos/, named by its SHA-256; `extension` as "jpg". The name for the
// photo event goes to stored. Damaged bytes that lie there under its name are moved aside.
HW_CHECK hw_status hw_job_keep_photo(const hw_job *job, const void *bytes, size_t count,
                                     const char *extension, char stored[96], hw_error *err);
// What the last photo of a view is recognised by, as bytes of the stage mark; made again from the photo `stored` where it
// is not there, so nothing here fails. Free *bytes with hw_job_photo_free; false: there is none of that photo.
void hw_job_keep_look(const hw_job *job, const char *view, const char *stored, const void *bytes,
                      size_t count);
bool hw_job_look(const hw_job *job, const char *view, const char *stored, uint8_t **bytes,
                 size_t *count);

// Reads a kept original and tests it against its name. Free *bytes with hw_job_photo_free.
// HW_ERR_INPUT with the code job-photo-missing, job-photo-changed.
HW_CHECK hw_status hw_job_photo(const hw_job *job, const char *stored, uint8_t **bytes,
                                size_t *count, hw_error *err);
void hw_job_photo_free(uint8_t *bytes);

// Each appends, syncs, and adds the event to the opened job. *number is the event's. HW_ERR_INPUT with
// the codes job-format (a newer version made the folder), job-changed (another job or an older copy was put in
// the folder's place while it was open), job-missing (the folder is gone); HW_ERR_STORAGE with the code
// saved-unsure where the disk does not say whether the line was kept.
// A photo names the parts that no earlier one has marked: a line each, behind its own.
HW_CHECK hw_status hw_job_add_photo(hw_job *job, const hw_photo_event *photo, int64_t now,
                                    long *number, hw_error *err);
// The same with its reading, in one write: both are saved, or neither.
HW_CHECK hw_status hw_job_add_photo_read(hw_job *job, const hw_photo_event *photo,
                                         const char *reading_json, int64_t now, long *number,
                                         hw_error *err);
// `reading_json`: the reading in the public JSON shape (report.h), kept whole in the line.
HW_CHECK hw_status hw_job_add_reading(hw_job *job, long photo, const char *reading_json,
                                      int64_t now, long *number, hw_error *err);
HW_CHECK hw_status hw_job_add_plan(hw_job *job, const hw_plan_event *plan, int64_t now,
                                   long *number, hw_error *err);
HW_CHECK hw_status hw_job_add_pass(hw_job *job, const hw_pass_event *pass, int64_t now,
                                   long *number, hw_error *err);
HW_CHECK hw_status hw_job_add_part(hw_job *job, const hw_part_event *part, int64_t now,
                                   long *number, hw_error *err);
HW_CHECK hw_status hw_job_add_coat(hw_job *job, const hw_coat_event *coat, int64_t now,
                                   long *number, hw_error *err);
HW_CHECK hw_status hw_job_add_takeoff(hw_job *job, const hw_takeoff_event *takeoff, int64_t now,
                                      long *number, hw_error *err);
// Gives the jar the next free number, under the lock; jar->jar is not looked at.
HW_CHECK hw_status hw_job_add_jar(hw_job *job, const hw_jar_event *jar, int64_t now, long *number,
                                  hw_error *err);
HW_CHECK hw_status hw_job_add_note(hw_job *job, const hw_note_event *note, int64_t now,
                                   long *number, hw_error *err);
HW_CHECK hw_status hw_job_add_approval(hw_job *job, const hw_approval_event *approval, int64_t now,
                                       long *number, hw_error *err);
HW_CHECK hw_status hw_job_add_setting(hw_job *job, const hw_setting_event *setting, int64_t now,
                                      long *number, hw_error *err);
// Event `of` should have been as `now_so`, an event of its kind; *number is 0 where nothing differs. A photo that
// was read again with other marks brings its new reading, else NULL; both are saved, or neither.
HW_CHECK hw_status hw_job_add_correction(hw_job *job, long of, const hw_event *now_so,
                                         const char *reading_json, int64_t now, long *number,
                                         hw_error *err);
// Event `of` did not happen. Of a correction: it holds no more.
HW_CHECK hw_status hw_job_add_withdrawal(hw_job *job, long of, int64_t now, long *number,
                                         hw_error *err);

// ---- What the log says -------------------------------------------------------------

// Do two photo events hold one and the same file, among all that were read together?
bool hw_photo_shares_file(const hw_photo_event *one, const hw_photo_event *other);

// The last photo event (of that view; any: NULL) or NULL; likewise the reading of a photo.
const hw_event *hw_job_last_photo(const hw_job *job, const char *view);
const hw_photo_event *hw_job_photo_event(const hw_job *job, long number); // or NULL
const hw_event *hw_job_event_numbered(const hw_job *job, long number);    // or NULL
const hw_event *hw_job_reading_of(const hw_job *job, long photo);
// What that reading says of a patch, or of a part; NULL: nothing.
const hw_logged_gap *hw_reading_gap(const hw_reading_event *reading, const char *patch);
const hw_logged_sample *hw_reading_sample(const hw_reading_event *reading, hw_role role,
                                          const char *name);
// What an earlier photo read of a patch, so that it can stand beside that photo: one of the same lamp and side, or an
// instrument's where that is one; the last before something was done to the patch since or, where nothing was, the last.
// *number gets its photo event; NULL: there is none.
const hw_logged_gap *hw_job_gap_before(const hw_job *job, long photo, const char *patch,
                                       long *number);
// Where a patch stood in one photo.
typedef struct hw_stood {
    long photo;               // number of the event
    int passes;               // of toner that lay on it then
    const hw_logged_gap *gap; // borrowed from the job
} hw_stood;

// The way of a patch up to that photo, which comes last: what it stood at before each thing that was done to it, as the
// last photo before that says which can stand beside this one (hw_job_gap_before). Nothing from before it was last
// stripped. At most room into out, the first and the latest; returns how many.
size_t hw_job_way(const hw_job *job, long photo, const char *patch, hw_stood *out, size_t room);

// The last photo event whose marks hold that patch, or NULL.
const hw_event *hw_job_last_photo_of_patch(const hw_job *job, const char *patch);

// Layers that lie on a patch: those logged on it after event `after` (0: all) and not taken off since. At most
// room into out; returns how many there are. Passes of one liquid stay one layer.
size_t hw_job_layers(const hw_job *job, const char *patch, long after, hw_layer *out, size_t room);

// Where a pass, a coat or a taking off stands among the numbers of the log: its own number, or just before the
// photo that it was done before. (A photo's number is never that of another event, and a reading lies between
// two photos.)
long hw_event_place(const hw_event *event);
// Does the pass lie on the patch at that place of the log: laid before it and not taken off before it?
// LONG_MAX: today.
bool hw_job_pass_lies(const hw_job *job, const hw_event *pass, const char *patch, long place);
// Is it a pass on that patch, a coat on that part, or a taking off from it?
bool hw_pass_is_on(const hw_event *event, const char *patch);
bool hw_coat_is_on(const hw_event *event, const char *part);
bool hw_takeoff_is_on(const hw_event *event, const char *part);
// The first coat on that part, or taking off from it, between two places of the log, or NULL.
const hw_event *hw_job_done_between(const hw_job *job, long before, long after, const char *part);

// State of a part as said with photo event `photo` or, for states that last (bare, sealed,
// finished, rubbed out), before it: by a photo, or by a coat laid and finish stripped. `photo` 0: as it
// is now, of the states that last.
hw_state hw_job_state(const hw_job *job, long photo, const char *part);

// A part of the piece as it is now.
typedef struct hw_part_now {
    const char *name; // borrowed from the job
    hw_role role;     // HW_ROLE_TARGET or HW_ROLE_PATCH
    hw_state state;
    int passes;           // of toner that lie on it
    const hw_event *coat; // the last coat that lies on it, or NULL
} hw_part_now;

// All parts that photos have marked or events have named, in the order of their first naming. Free *out
// with hw_job_parts_free.
HW_CHECK hw_status hw_job_parts(const hw_job *job, hw_part_now **out, size_t *count, hw_error *err);
void hw_job_parts_free(hw_part_now *parts);

// What a photo says of a part that an instrument measured too, with nothing done to it between them.
typedef struct hw_photo_off {
    const char *part; // borrowed from the job
    hw_role role;
    long photo; // number of the photo event: the nearest one, an earlier one before a later one
    hw_lab by_photo, measured;
    hw_difference off; // photo minus instrument
    const hw_logged_gap *gap_by_photo,
        *gap_measured; // of a patch, to all of its old wood; NULL: none
} hw_photo_off;

// For each part that was measured with that event. At most room into out; returns how many.
size_t hw_job_photo_off(const hw_job *job, const hw_event *measured, hw_photo_off *out,
                        size_t room);
// The last event with which the card itself was measured, or NULL.
const hw_event *hw_job_measured_card(const hw_job *job);

// What holds for the whole job now.
typedef struct hw_job_settings {
    hw_coats_over coats_over;
    int coats_said;        // clear coats to come as they were said, with coats_over
    long coats_event;      // number of the event that said so; 0: none
    double recoat_minutes; // NaN: not said, also the next two
    double card_mm[2];
    double ml_m2;
    bool card_asked; // the card's size was said, or is not known
} hw_job_settings;

hw_job_settings hw_job_settings_now(const hw_job *job);
// Area of a part as it was last said, square centimetres; NaN: not said.
double hw_job_area_said(const hw_job *job, const char *part);

// Minutes that a part had dried `then`: since the last pass or coat that is logged on it by `now` and was not logged
// late; 0 where that was logged after `then`; NaN: nothing is logged so.
double hw_job_dry_minutes(const hw_job *job, const char *part, int64_t then, int64_t now);
// Hours of work entered for a part; what was done to several at once counts for each its share, what was done to
// the whole piece for none. `part` NULL: all hours of the job.
double hw_job_hours(const hw_job *job, const char *part);
// How often and how long (*hours) the log was written on, pauses of over an hour left out.
size_t hw_job_sittings(const hw_job *job, double *hours);

// Coats of finish on a part today, and clear coats that are still to come on it.
typedef struct hw_job_coats {
    hw_coats_on on;
    char assumed[240]; // what is not logged but taken for granted, a sentence; ""
} hw_job_coats;

// `role`: HW_ROLE_PATCH or HW_ROLE_TARGET. Those to come as they were said last, less the clear coats laid on it
// since; none on old wood where they go over the repairs only, none at all where it was not said or is not known.
hw_job_coats hw_job_coats_on(const hw_job *job, hw_role role, const char *part);

// What logged coats did to patches and old wood, from each photo to the next that can be compared with it and
// has nothing else done to that part between them. Free *out with hw_job_coats_seen_free.
HW_CHECK hw_status hw_job_coats_seen(const hw_job *job, hw_coat_seen **out, size_t *count,
                                     hw_error *err);
void hw_job_coats_seen_free(hw_coat_seen *seen);

// The jar of that number, or one that holds just this liquid, the fullest where that is known; NULL: none.
const hw_jar_event *hw_job_jar(const hw_job *job, long number);
const hw_jar_event *hw_job_jar_of(const hw_job *job, const hw_liquid *liquid);
// What names a jar wherever it is used: the job that it was mixed for and its number there (hw_laid.jar).
void hw_job_jar_key(const hw_job *job, long number, char out[HW_JAR_KEY_SIZE]);
// The jars of this job, the latest first; at most room into out; returns how many there are.
size_t hw_job_mixed_jars(const hw_job *job, hw_mixed_jar *out, size_t room);
// The last approval after which nothing was laid or taken off, or NULL.
const hw_event *hw_job_approval(const hw_job *job);

// ---- Areas and liquid --------------------------------------------------------------
//
// NaN: not known.

// Area of a part, square centimetres: as it was said, or from its mark and the card's in the last photo that shows both
// (*from_card), where the card's size was said. That assumes one plane, seen square on, and a card's mark of four
// corners that reaches the card's edges; one whose sides do not fit the card's gives none.
double hw_job_area(const hw_job *job, const char *part, bool *from_card);
// Millilitres that a pass event took on all of its parts: area by what a pass takes (as said, or usual for its tool:
// hw_tone_ml_m2), with what is lost, by its passes.
double hw_job_laid_ml(const hw_job *job, const hw_event *pass);
double hw_job_part_ml(const hw_job *job, const char *part); // all passes logged on it; 0: none
double hw_job_jar_used(const hw_job *job, long number); // out of that jar in this job; 0: nothing
// Of the volume that was mixed; never below 0.
double hw_job_jar_left(const hw_job *job, long number);
// Does it hold less than 1 ml by that? Not where that is not known.
bool hw_job_jar_is_empty(const hw_job *job, long number);

// Would areas be told from a card of these sides by its mark in the last photo that has one? True where there is none.
// *sides gets how long the mark's sides are to each other, the longer over the shorter; NaN: no mark of four corners.
bool hw_job_card_fits(const hw_job *job, const double card_mm[2], double *sides);

// ---- What changed between two photos -----------------------------------------------

// Can the sizes of a patch be compared between two photos?
typedef enum hw_change_status {
    HW_CHANGE_UNKNOWN = 0, // the log does not hold what it takes
    HW_CHANGE_COMPARABLE,
    HW_CHANGE_WIDENED, // yes, with a wider range: another camera, or the light moved a little, or
                       // old wood that reads far from what it did
    HW_CHANGE_REFUSED, // another lamp, or the surface is in another state: no size is told
} hw_change_status;

const char *hw_change_status_name(hw_change_status status); // "unknown", "comparable", ...; static

// The change of a patch from one photo to another, read against the old wood that stands in both.
// Without a size (unknown, refused) `after`, `change`, `low`, `high`, the de00 range and what else
// is not known are NaN.
typedef struct hw_patch_change {
    hw_change_status status;
    long photo_before, photo_after; // event numbers
    hw_lab before;                  // the patch in the earlier photo, L*a*b* D50
    hw_lab after;            // in the later one, scaled so that the old wood reads as it did before
    hw_difference change;    // after minus before; de76 is the plain (Euclid) distance
    hw_difference low, high; // 90 % ranges of L, a, b: U = 1.645 u (other members unused)
    double de00_low, de00_high;
    size_t targets;    // pieces of old wood it rests on
    double scatter;    // s.d. (Euclid, L*a*b* units) of those pieces about their common scale; NaN
                       // below two
    double card_moved; // of the card as photographed, distance in CIE 1976 u'v'; NaN: not known
    double wood_moved; // by how much the old wood differs when read by the card alone, L*a*b* units
    double widening;   // 1, or by how much the range was widened: 2, 4
    char reason[480];  // why it is refused, widened or unknown, or what could not be tested: no
                       // capital, no full stop; "" where there is nothing to say
} hw_patch_change;

extern const char hw_same_photo[]; // the reason where both photos are one file

// Is it the same label of a lamp, capitals aside? Two that were not said are.
bool hw_same_lamp(const char *one, const char *other);
// By how much the card as photographed moved, in CIE 1976 u'v' (CIE 15:2018, 8.2.2); NaN for black.
double hw_card_moved(hw_lab then, hw_lab now);
#define HW_CARD_SAME                                                                               \
    0.005 // above it the lamp or the white balance is another (chosen; D50 and D65: 0.023)

// `photo_before`, `photo_after`: numbers of photo events. Reads the log, changes nothing; nothing
// to free. A photo or patch that is not there gives HW_CHANGE_UNKNOWN with the reason.
hw_patch_change hw_job_patch_change(const hw_job *job, long photo_before, long photo_after,
                                    const char *patch);

// What the passes between two photos were expected to do, beside what they did.
typedef struct hw_forecast_check {
    bool known;              // all those passes carry a forecast, and the change can be told
    hw_lab forecast;         // the patch as it was expected, read as in the earlier photo
    hw_difference low, high; // 90 % of forecast minus before: L, a, b (other members unused)
    double ratio;            // what it did over what was expected, along that; 1: as forecast
    double far_off;          // normal deviate of the distance
    bool questioned;         // too far off to be learned from
    char question[320];      // what is asked then; ""
} hw_forecast_check;

// What one pass event really did to a patch: the gap before it and after it, when photos
// before and after it exist with no other pass on that patch between them.
typedef struct hw_pass_effect {
    bool known;
    long photo_before, photo_after; // event numbers
    hw_logged_gap before, after;
    bool others_between; // further passes lie between the two photos: the effect is of all of them
    hw_patch_change change; // of the patch itself between the two photos; when known
    hw_forecast_check check;
} hw_pass_effect;

hw_pass_effect hw_job_pass_effect(const hw_job *job, const hw_event *pass, const char *patch);

// ---- From the left and from the right ----------------------------------------------

// The newest two photos of one state of a patch under one lamp, one from the left and one from the right.
typedef struct hw_job_sides {
    bool known;       // else there are no such two
    bool present;     // nothing was done to it or its old wood since
    long left, right; // photo events
    hw_side_pair pair;
} hw_job_sides;

hw_job_sides hw_job_sides_of(const hw_job *job, const char *patch);

// ---- The same under two lamps ------------------------------------------------------

// Does a match under the main lamp hold under another?
typedef enum hw_lamp_verdict {
    HW_LAMP_UNTOLD = 0, // two readings cannot tell
    HW_LAMP_HOLDS,      // what the other lamp does to it cannot be seen
    HW_LAMP_PARTS,      // it can
} hw_lamp_verdict;

const char *hw_lamp_verdict_name(hw_lamp_verdict verdict); // "untold", "holds", "parts"; static

// A patch in one photo under a lamp that was said.
typedef struct hw_lamp_look {
    const char *lamp; // borrowed from the job
    long photo;
    hw_lab target, patch;
    hw_logged_gap gap;
} hw_lamp_look;

// The newest two photos of one state of a patch, one under the main lamp and one under another.
typedef struct hw_lamp_pair {
    bool known;               // else there are no such two, and `reason` says why not
    bool present;             // nothing was done to it or its old wood since
    hw_lamp_look main, other; // where not known: the newest under each; lamp and photo only
    hw_difference
        index; // of metamerism (hw_metamerism_index), patch minus target under the other lamp
    hw_difference low, high; // 90 % ranges of its L, a, b (other members unused)
    double de00_low, de00_high;
    hw_lamp_verdict verdict;
    char reason[320]; // no capital, no full stop
} hw_lamp_pair;

// The lamp that a repair is judged by: that of the first photo of it that names one; NULL: none does.
const char *hw_job_main_lamp(const hw_job *job, const char *patch);
// A pair for each other lamp that a photo of the patch names, the one photographed last first. Names are compared
// without capitals. At most `room` into out; returns how many there are.
size_t hw_job_lamp_pairs(const hw_job *job, const char *patch, hw_lamp_pair *out, size_t room);
// The photo that advice on the patch rests on, or NULL: the latest one of it; but where that was taken under another
// lamp than the main one, and the latest one under the main lamp shows the same state, that; and where it was taken
// from the left or the right, and one from the front shows the same state, that one.
const hw_event *hw_job_main_photo(const hw_job *job, const char *patch);

// ---- What is learned from a job ----------------------------------------------------

// What the logged passes did, patch by patch, from each photo to the next that can be compared with it.
// Changes that no logged pass explains, and those far off their forecast, are asked about in `asked` (may be
// NULL), of photo `ask_photo` alone or (0) of all. Free *out with hw_free_observations.
HW_CHECK hw_status hw_job_observe(const hw_job *job, long ask_photo, hw_observation **out,
                                  size_t *count, hw_warnings *asked, hw_error *err);
void hw_free_observations(hw_observation *seen);
// Is it an observation of this very log: do its numbers name a pass and two photos here? Then it holds only
// as long as hw_job_observe finds it. (A copy of the folder that went on by itself may have seen others.)
bool hw_job_made(const hw_job *job, const hw_observation *seen);
// The same of coats and hw_job_coats_seen.
bool hw_job_made_coat(const hw_job *job, const hw_coat_seen *seen);
// Is what that photo shows of a patch, against the one before it, asked about?
bool hw_job_asks_about(const hw_job *job, long photo, const char *patch);
// The patch as it was first read in this job, or since it was last stripped; false where it never was.
bool hw_job_first_colour(const hw_job *job, const char *patch, hw_lab *out);

// Chance of overshoot of the advised steps that were laid in this job so far, added up.
double hw_job_risk_spent(const hw_job *job);

// ---- A list of jobs ----------------------------------------------------------------

// What a list of many jobs tells of one.
typedef struct hw_glance {
    char title[480];
    int64_t made, last_at; // when it was started; when something was logged last. 0: nothing was
    long last;             // number of that event
    size_t photos;
    // By their names of today, as photos named them that were not withdrawn; owned.
    char (*repair)[HW_NAME_SIZE];
    size_t repair_count;
    bool odd; // something of it could not be read: opening the job tells what
} hw_glance;

void hw_glance_free(hw_glance *glance); // leaves an empty one

// A tenth of the time of hw_job_open: of readings, photos and passes, which make nearly all of a log, only their heads are
// looked at; where a photo was withdrawn those of readings alone. Fails as hw_job_open. limits may be NULL.
HW_CHECK hw_status hw_job_glance(const char *folder, const hw_limits *limits, hw_glance *out,
                                 hw_error *err);

// ---- Keeping: is all there, and one file for all of it -----------------------------

typedef enum hw_severity {
    HW_SEVERITY_LOSS,   // something that was saved is missing or damaged
    HW_SEVERITY_ODD,    // worth knowing; nothing is lost by it
    HW_SEVERITY_MENDED, // was put right just now
    HW_SEVERITY_COUNT
} hw_severity;

const char *hw_severity_name(hw_severity severity); // "loss", "odd", "mended"; static

typedef struct hw_finding {
    hw_severity severity;
    char *where;    // "log.jsonl, line 7", "photos/3f2a....jpg"
    char *sentence; // what it is, and what to do about it
} hw_finding;

typedef struct hw_findings {
    hw_finding *item;
    size_t count, room;
} hw_findings;

void hw_findings_free(hw_findings *findings);
// How many are of that severity.
size_t hw_findings_count(const hw_findings *findings, hw_severity severity);

typedef enum hw_condition {
    HW_CONDITION_WHOLE,
    HW_CONDITION_MISSING,
    HW_CONDITION_DAMAGED, // or it cannot be read
    HW_CONDITION_NEWER,   // of a newer version of huewright
    HW_CONDITION_COUNT
} hw_condition;

const char *hw_condition_name(hw_condition condition); // "whole", "missing", ...; static

typedef struct hw_job_checked {
    char title[480];
    bool all_there;                  // no finding is a loss
    hw_condition job_file, log_file; // job.json; log.jsonl as a file, whatever its lines
    size_t lines_whole, lines_bad;
    size_t lines_torn;     // 1: half a line at the end, from a power cut or a full disk
    size_t events_missing; // numbers that no line holds, beyond those of bad lines
    size_t photos_whole, photos_missing, photos_changed; // of those that the log names
    size_t photos_unknown;                               // files in photos/ that no event names
    hw_findings findings;
} hw_job_checked;

// Verifies each line's sum, each named photo and the order of the log, also of a folder that
// hw_job_open refuses. Half a line at the end of the log is moved aside under the lock; nothing else
// is changed. Photos are read piece by piece. HW_ERR_INPUT with the codes job-missing (there is neither
// job.json, log.jsonl nor photos/) and file-unreadable. limits may be NULL in all three.
HW_CHECK hw_status hw_job_check(const char *folder, const hw_limits *limits, hw_job_checked *out,
                                hw_error *err);
void hw_job_checked_free(hw_job_checked *checked); // leaves an empty one

typedef struct hw_job_packed {
    char name[256]; // of the folder inside the pack
    uint64_t bytes; // of the pack
    size_t lines;   // of the log
    size_t photos;
    hw_findings findings; // what is missing or damaged in it, what was left out
} hw_job_packed;

// Packs the job into one zip file: job.json, the log's whole lines as they are at one moment, the photos
// that they name, marks to edit and torn tails. The same job gives the same bytes (on a computer of the
// same time zone: zip keeps local times). The file is read back and compared before it is put in its
// place. HW_ERR_CALL file-exists; HW_ERR_INPUT job-missing; HW_ERR_STORAGE pack-failed, disk-full ...;
// nothing of it stays then.
HW_CHECK hw_status hw_job_pack(const char *folder, const char *file, const hw_limits *limits,
                               hw_job_packed *out, hw_error *err);
void hw_job_packed_free(hw_job_packed *packed);

typedef struct hw_job_unpacked {
    char *folder;         // that was made
    size_t files;         // put there
    size_t left_aside;    // entries that are no part of a job, or damaged
    hw_findings findings; // of those
    hw_job_checked check; // of the folder as it is now
} hw_job_unpacked;

// Unpacks such a file, or one that another program has made of a job's folder, into a new or empty folder
// (NULL: the name inside the pack), then checks it. Only what a job can hold is taken. Whatever the file
// is, nothing is written outside the folder; on failure what was made is removed.
// HW_ERR_CALL with the codes folder-taken, folder-needed; HW_ERR_INPUT pack-unknown, pack-damaged,
// pack-large, pack-unsafe (a name that leads out of the folder, a link), pack-twice, pack-two-jobs,
// pack-encrypted, pack-method, pack-no-job.
HW_CHECK hw_status hw_job_unpack(const char *file, const char *folder, const hw_limits *limits,
                                 hw_job_unpacked *out, hw_error *err);
void hw_job_unpacked_free(hw_job_unpacked *unpacked);

// ---- The shelf ---------------------------------------------------------------------

// Path of the user's own shelf: $XDG_DATA_HOME/huewright/shelf.json or ~/.local/share/....
// False when neither variable is set.
bool hw_shelf_user_path(char *out, size_t size);
// Reads a shelf file; a missing file is an empty shelf. HW_ERR_INPUT with the code shelf-format.
HW_CHECK hw_status hw_shelf_load(const char *path, const hw_limits *limits, hw_shelf *out,
                                 hw_error *err);
// What a step board taught, one dye in each place of the lists. Owns them.
typedef struct hw_taught {
    hw_board *board;
    hw_dye *dye; // as it stood on the shelf then
    hw_dye_change *change;
    size_t count;
    hw_warnings warnings; // of photo, light and strips
    bool again;           // its entry had taught it before: all of it is what was learned then
} hw_taught;

void hw_taught_free(hw_taught *taught); // leaves an empty one

// What the step board of that entry taught; *out stays where the shelf knows none (or none any more: it keeps the latest
// HW_BOARDS_KEPT_MOST). Of a board the strips' covariances are not kept, of its warnings the words alone. HW_ERR_INPUT with
// the code shelf-format, HW_ERR_CALL with entry-name.
#define HW_BOARDS_KEPT_MOST                                                                        \
    20 // chosen: a device sends again within days, and one takes up to 40 KB
HW_CHECK hw_status hw_shelf_taught(const char *path, const hw_limits *limits, const char *entry,
                                   hw_taught *out, hw_error *err);
// The five changes of a shelf file: each reads it under a lock, changes it and replaces it whole; a
// missing file (and its folder) is made. HW_ERR_STORAGE where it cannot be written; as it was then.
// Adds a dye, or replaces the one of its name.
HW_CHECK hw_status hw_shelf_put_dye(const char *path, const hw_limits *limits, const hw_dye *dye,
                                    hw_error *err);
// Puts all dyes of a step board on the shelf, or none, and keeps what was learned under its entry (NULL: it has none). Where
// the shelf knows that entry already, nothing is changed, and *taught becomes what was learned then (`again`). HW_ERR_CALL
// with the codes entry-name and shelf-full.
HW_CHECK hw_status hw_shelf_put_board(const char *path, const hw_limits *limits, const char *entry,
                                      int64_t at, hw_taught *taught, hw_error *err);
// Removes a dye and every observation that names it (*seen_gone of them). HW_ERR_CALL with the code
// dye-unknown where there is neither.
HW_CHECK hw_status hw_shelf_remove_dye(const char *path, const hw_limits *limits, const char *name,
                                       size_t *seen_gone, hw_error *err);
// Forgets what was seen of clear coats (*seen_gone observations). HW_ERR_CALL with the code coats-unseen where
// nothing was.
HW_CHECK hw_status hw_shelf_remove_coats(const char *path, const hw_limits *limits,
                                         size_t *seen_gone, hw_error *err);
// Keeps what was seen, as hw_shelf_take_seen takes it in. Learning the same twice changes nothing (the file is not
// written then).
HW_CHECK hw_status hw_shelf_keep_seen(const char *path, const hw_limits *limits,
                                      const hw_shelf *shown, hw_error *err);

// ---- Learned cameras ---------------------------------------------------------------

typedef struct hw_cameras {
    hw_camera_seen *seen;
    size_t count;
} hw_cameras;

// Path of the user's own: cameras.json beside the shelf. False where no such place is known or it does not fit.
bool hw_cameras_user_path(char *out, size_t size);
// Reads such a file; a missing one is empty. HW_ERR_INPUT with the code cameras-format. Free with hw_cameras_free.
HW_CHECK hw_status hw_cameras_load(const char *path, const hw_limits *limits, hw_cameras *out,
                                   hw_error *err);
// The two changes, as those of the shelf: under a lock, replaced whole. Keeping a photo of a camera under a lamp again
// takes the place of the first time. Of one camera and lamp the HW_CAMERA_PHOTOS_MOST latest are kept. HW_ERR_CALL with
// the code camera-keep (what is to be kept cannot be read back).
HW_CHECK hw_status hw_cameras_keep(const char *path, const hw_limits *limits,
                                   const hw_camera_seen *seen, size_t count, hw_error *err);
// Of a camera under a lamp (NULL: any). HW_ERR_CALL with the code camera-unknown.
HW_CHECK hw_status hw_cameras_forget(const char *path, const hw_limits *limits, const char *camera,
                                     const char *lamp, size_t *gone, hw_error *err);
void hw_cameras_free(hw_cameras *cameras);

// What is known of a camera under a lamp, at a time; names as people write them (hw_same_lamp). False: nothing.
bool hw_cameras_find(const hw_cameras *cameras, const char *camera, const char *lamp, int64_t now,
                     hw_camera *out);

#ifdef __cplusplus
}
#endif
#endif
