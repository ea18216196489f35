// steps.h: what a person does, as one call each: read a photo, start a job, add a photo,
// ask what to lay, log a pass, look back. Both front ends call these. Holds the
// order of the stages and no sums.
#ifndef HUEWRIGHT_STEPS_H
#define HUEWRIGHT_STEPS_H

#include "huewright/base.h"
#include "huewright/compare.h"
#include "huewright/job.h"
#include "huewright/report.h"
#include "huewright/tone.h"

#ifdef __cplusplus
extern "C" {
#endif

// A photo and what is marked on it.
typedef struct hw_read_request {
    const char *photo_path;
    const char *called;     // its name as the person knows it; NULL: that of the path
    const char *marks_path; // JSON file, or NULL
    hw_marks marks; // from options; borrowed; beside a file card and steps alone, which then win
    // Of the same wood, or NULL: a thing by which the old wood reads alike is the card; borrowed.
    const hw_reading *like;
    bool is_the_card; // no card is marked, and what is found is it, sure or not
    bool has_card_lab;
    hw_lab card_lab;
    const char
        *sheet_path; // photo of a plain sheet in the piece's place, or NULL: how the light falls
    const char *const
        *more_paths;   // further photos of the same state, read together with it; borrowed
    size_t more_count; // at most HW_SHOTS_MOST - 1
    const char *const
        *more_called; // their names as the person knows them; NULL: those of the paths
    const char *const
        *more_marks_paths; // a marks file for each of them; NULL: carried from the first
    hw_from from;          // the side that they were taken from
    double distance_mm;    // each repair is looked at from there too (hw_sight); 0: it is not
    double card_mm[2];     // sides of the card, for that; 0: not said
    // What was learned of the camera under the lamp (below) is used, unless plain_camera.
    const char *lamp;         // NULL: not said, so nothing was learned under it
    const char *camera;       // its name, where the file does not say it; NULL
    const char *cameras_path; // file of learned cameras; NULL: the user's own
    bool plain_camera;
    int64_t now; // for how old it is
} hw_read_request;

// photo, mark, card, sample, compare. Free with hw_reading_free. limits may be NULL everywhere. Where no card is marked
// it is looked for: HW_ERR_INPUT with the code card-missing, or card-unsure with a proposal. Several photos become
// one reading (hw_compare_shots); those that cannot be read are left out by name while one can. HW_ERR_CALL
// sight-distance: it is not between HW_SIGHT_LEAST_MM and HW_SIGHT_MOST_MM. Where the photo does not tell how large a
// pixel is the sights say so.
HW_CHECK hw_status hw_steps_read(const hw_read_request *request, const hw_limits *limits,
                                 hw_reading *out, hw_error *err);

#define HW_SIDES_MOST      3 // front, left, right
#define HW_SIDE_PAIRS_MOST 64

// One repair or more from several sides.
typedef struct hw_sides {
    hw_reading reading[HW_SIDES_MOST]; // `from` says which
    size_t count;
    hw_side_pair pair[HW_SIDE_PAIRS_MOST]; // left against right, where both are there
    size_t pair_count;
} hw_sides;

void hw_sides_free(hw_sides *sides); // leaves an empty one

// A request for each side. One without marks takes those of the first, where its photo lies alike. What turns its sign
// between left and right gets the verdict unsure in both (hw_grain_light).
HW_CHECK hw_status hw_steps_read_sides(const hw_read_request *request, size_t count,
                                       const hw_limits *limits, hw_sides *out, hw_error *err);

// Every request that logs what a person did may bring an entry (hw_job_enter): `entry`, NULL for none. Said again, with the
// same entry, nothing more is logged or tested, and the answer is about the event that was logged then: the job that
// is handed back, or the result, says so (hw_job_said_before). HW_ERR_CALL entry-name.
// One about parts may say what was `seen` of the log, its highest number; 0: not said. HW_ERR_CALL moved-on where a photo, a
// pass, a coat or a taking off on one of those parts was logged behind it: whoever logs now did not know of that.

HW_CHECK hw_status hw_steps_start(const char *folder, const char *title, int64_t now,
                                  hw_error *err);

// A job, also one that goes on with the jars, the settings and the dyes of an earlier one.
typedef struct hw_start_request {
    const char *folder;
    const char *title;      // NULL: none
    const char *from;       // folder of the earlier job; it is only read; NULL: there is none
    const char *shelf_path; // that gets what the earlier job knows of dyes; NULL: the user's own
    const char *entry;      // as below
} hw_start_request;

// What the earlier job showed of its dyes joins the shelf, and so do dyes that it laid or mixed and the shelf lacks (a
// family's guess only where a jar holds it); not those taken off it. Then the new job is made, with the jars that hold
// something and the settings, in one write. Where the shelf cannot be written that is a warning. Free with
// hw_carried_free; its folders are those of the request, borrowed. HW_ERR_CALL with the codes start-same, job-exists;
// HW_ERR_INPUT job-missing, job-damaged.
HW_CHECK hw_status hw_steps_start_from(const hw_start_request *request, const hw_limits *limits,
                                       int64_t now, hw_carried *out, hw_error *err);

typedef struct hw_photo_request {
    const char *folder;
    hw_read_request
        read; // no marks at all: those of the view's last photo, if they may be reused; its lamp is not looked at
    const char *view; // NULL: "front"
    const char *lamp; // NULL: not said
    const char *note; // NULL: none
    const hw_part_state *states;
    size_t state_count;
    bool all_dry;     // what was laid less than the recoat time ago is dry all the same
    bool knows_clock; // clock_s is known
    int64_t clock_s;  // seconds that the clock of this place is ahead of UTC, for when it was taken
    const char *shelf_path; // where what the passes did is learned; NULL: the user's own
    bool
        marks_followed; // the marks given are those of the view's last photo, followed to this one (hw_steps_open)
    const char *entry;
    long
        seen; // of the log when it was taken: a pass, a coat or a taking off logged since is not on it
} hw_photo_request;

// What only a person knows of a photo, asked at most once before it is added; may be skipped.
#define HW_QUESTION_PARTS 64 // as many as there can be marks
typedef struct hw_question {
    bool asked;                                 // else all of it is known
    char words[520];                            // the question, with its answers: names of states
    char part[HW_QUESTION_PARTS][HW_NAME_SIZE]; // whom the answer is about
    size_t part_count;
    hw_state last; // the last answer; HW_STATE_UNKNOWN: none yet
} hw_question;

HW_CHECK hw_status hw_steps_question(const hw_photo_request *request, const hw_limits *limits,
                                     hw_question *out, hw_error *err);

typedef struct hw_photo_result {
    long number; // of the photo event
    long last;   // the highest number of the log then
    bool again;  // its entry had logged it before: the reading is that photo's, read again
    hw_reading reading;
    bool marks_reused;  // those of the view's last photo
    bool marks_carried; // ... to where the wood lies now: something had moved
    // Of each photo that was given: it could be read, and is in the job; again: its file is.
    bool kept[HW_SHOTS_MOST];
    double correlation;   // likeness of the old wood in the two photos, -1 to 1, when reused
    double moved_px;      // when carried: the farthest that a corner went
    double error_px;      // ... s.d. of the worst corner
    hw_warnings warnings; // of the job: unlike states, reused marks, bad lines
} hw_photo_result;

void hw_photo_result_free(hw_photo_result *result);
// The same for report; borrows from it.
hw_photo_news hw_photo_result_news(const hw_photo_result *result);

// Reads the photo, keeps the original, logs photo and reading, and learns from the passes laid before
// it. When marks cannot be reused, writes
// them to a file beside the log for editing and names it: HW_ERR_CALL, code marks-moved. A photo
// that cannot be read is not kept.
HW_CHECK hw_status hw_steps_photo(const hw_photo_request *request, const hw_limits *limits,
                                  int64_t now, hw_photo_result *out, hw_error *err);

typedef struct hw_advise_request {
    const char *folder;
    const char *patch;      // NULL: all patches
    const char *shelf_path; // NULL: the user's own; no dyes there: the nine guesses
    int families_most;      // in one plan, 1 to 3; 0: two
    double volume_ml;       // to mix of each jar; 0: what today's passes take
} hw_advise_request;

// Advice on the latest photo of each patch, read again from the kept original. A patch on which
// passes were logged since its photo is told to be photographed first. Logs what was shown. Free with hw_day_free.
// HW_ERR_CALL with the codes patch-none (no photo marks a repair), patch-unknown, target-missing; mix-volume and mix-small
// only where a volume was asked for (hw_tone_mix).
HW_CHECK hw_status hw_steps_advise(const hw_advise_request *request, const hw_limits *limits,
                                   int64_t now, hw_day *out, hw_error *err);

typedef struct hw_pass_request {
    const char *folder;
    hw_pass_event pass;     // borrowed
    const char *shelf_path; // for the dyes' names; NULL: the user's own
    const char *entry;
    long seen;
} hw_pass_request;

// Logs it. *job is the job opened with the new event last: free with hw_job_free. HW_ERR_CALL with the codes jar-unknown,
// patch-missing, part-name, part-twice, pass-count, pass-minutes, work-hours, photo-unknown, note-text, and those of a
// liquid: liquid-dyes, dye-unknown, dye-strength, dye-twice. Warns of a jar that cannot have held as much, and of
// parts that are old wood or not marked.
HW_CHECK hw_status hw_steps_pass(const hw_pass_request *request, const hw_limits *limits,
                                 int64_t now, hw_job **job, hw_warnings *warnings, hw_error *err);

// The kind of coat of that name. HW_ERR_CALL coat-unknown: there is none; the error says which there are.
HW_CHECK hw_status hw_steps_take_coat(const char *name, hw_coat *out, hw_error *err);

// A coat laid, something taken off, a jar mixed, a note, an approval, or what holds for the whole job.
typedef struct hw_log_request {
    const char *folder;
    const hw_event *event;  // of one of those kinds; number and time are the log's
    const char *shelf_path; // for a jar's dyes; NULL: the user's own
    const char *entry;
    long seen; // of a coat or a taking off
} hw_log_request;

// Logs it; a jar with its dyes as they are known, whatever the event brings. *job is the job opened with the new event
// last: free with hw_job_free. HW_ERR_CALL with the codes part-name, part-twice, part-missing, photo-unknown, note-text,
// work-hours, approval-by, lamp-name; of a jar those of a liquid (hw_steps_pass) and of its volume mix-volume and
// mix-small (hw_tone_mix); of what holds for the job setting-missing (nothing is said) and setting-value; event-kind.
// Warns of a card's size that does not fit its mark in the last photo.
HW_CHECK hw_status hw_steps_log(const hw_log_request *request, const hw_limits *limits, int64_t now,
                                hw_job **job, hw_warnings *warnings, hw_error *err);
// The same of a jar, with how to mix the volume that was said, by the dyes as they are logged with it; volume_ml 0: none
// was said.
HW_CHECK hw_status hw_steps_log_jar(const hw_log_request *request, const hw_limits *limits,
                                    int64_t now, hw_job **job, hw_mix *mix, hw_warnings *warnings,
                                    hw_error *err);

// What an event should have said. What is NULL, 0 or empty stays as it is.
typedef struct hw_fix_request {
    const char *folder;
    long event;
    bool withdraw;    // it did not happen
    const char *from; // side of a photo, a name of hw_from
    const char *title, *note, *view, *lamp, *by, *coat,
        *how;                          // coat: a name of hw_coat; how: wiped, stripped
    const char (*parts)[HW_NAME_SIZE]; // of a pass, a coat, a taking off
    size_t part_count;
    const hw_part_state *states; // of a photo: these say other than they did
    size_t state_count;
    hw_liquid liquid;
    long jar;
    double volume_ml; // of a jar; 0: stays
    int passes;
    bool sets_minutes; // to minutes; NaN: not said
    double minutes;
    bool sets_hours; // to hours of work; 0: not said
    double hours;
    bool sets_before_photo; // to before_photo; 0: it was done when it was logged
    long before_photo;
    bool has_card_lab; // of a photo: it is read again by this colour of the card
    hw_lab card_lab;
    const char *marks_path; // of a photo: it is read again with these
    hw_marks marks;         // the same from options; borrowed
    const char *shelf_path; // for the dyes' names; NULL: the user's own
    const char *entry;
} hw_fix_request;

// Logs a correction; the event's own line stays as it is. *number is 0 where nothing is other than before.
// *job is opened with it: free with hw_job_free. HW_ERR_CALL with the codes event-unknown, fix-kind (such an
// event is not corrected), fix-member (it has no such thing), fix-both, fix-nothing, and those of the event's own command.
// What holds for the whole job is withdrawn, or said again by its own command.
HW_CHECK hw_status hw_steps_fix(const hw_fix_request *request, const hw_limits *limits, int64_t now,
                                hw_job **job, long *number, hw_warnings *warnings, hw_error *err);
typedef struct hw_rename_request {
    const char *folder, *was, *part;
    const char *shelf_path; // what passes taught follows; NULL: the user's own
    const char *entry;
} hw_rename_request;

// Another name for a part, in all that is logged so far. HW_ERR_CALL with the codes part-unknown, part-name,
// part-taken (both names stand in one photo, or one is old wood and the other a repair).
HW_CHECK hw_status hw_steps_rename(const hw_rename_request *request, const hw_limits *limits,
                                   int64_t now, hw_job **job, hw_warnings *warnings, hw_error *err);

// A part among the samples of an instrument's file.
typedef struct hw_import_part {
    hw_role role;        // HW_ROLE_CARD, HW_ROLE_TARGET or HW_ROLE_PATCH
    const char *name;    // of the part; the card's is not looked at
    const char *samples; // names of its samples in the file, "3" or "1,2": their mean is taken
} hw_import_part;

typedef struct hw_import_request {
    const char *folder, *path;
    const hw_import_part *parts; // others are taken by the names of the job's parts
    size_t part_count;
    const hw_part_state *states;
    size_t state_count;
    const char *note;       // NULL: none
    const char *shelf_path; // where what passes did is learned; NULL: the user's own
    const char *entry;
} hw_import_request;

// Readings of an instrument (measure.h) as a reading of the job, in place of a photo or beside one (hw_job_photo_off).
// *job is opened with it, *number is the event's; free with hw_job_free and hw_reading_free. HW_ERR_CALL with the
// codes sample-unknown, part-name, part-twice, part-unknown, and those of hw_measure_parse.
HW_CHECK hw_status hw_steps_import(const hw_import_request *request, const hw_limits *limits,
                                   int64_t now, hw_job **job, long *number, hw_reading *reading,
                                   hw_warnings *warnings, hw_error *err);

// What is known of the jars of a job (hw_known.jar), with all that the shelf and the job itself show; empty where it has
// none. Writes nothing. Free with hw_known_free.
HW_CHECK hw_status hw_steps_jars(const hw_job *job, const char *shelf_path, const hw_limits *limits,
                                 hw_known *out, hw_error *err);

HW_CHECK hw_status hw_steps_history(const char *folder, const hw_limits *limits, hw_job **job,
                                    hw_error *err);

// The job as it stands: parts, jars, what can be undone. Reads no photo and writes nothing. Free with hw_overview_free.
HW_CHECK hw_status hw_steps_overview(const char *folder, const hw_limits *limits, int64_t now,
                                     hw_overview *out, hw_error *err);

// The job opened, to be looked at for the repair `patch` (NULL: all) under two lamps (hw_job_lamp_pairs). Free with
// hw_job_free. HW_ERR_CALL with the code patch-unknown.
HW_CHECK hw_status hw_steps_lamps(const char *folder, const char *patch, const hw_limits *limits,
                                  hw_job **job, hw_error *err);

// ---- A photo on the bench ----------------------------------------------------------
//
// A photo that is in no job yet: decoded once, and read as often as its marks are moved. hw_steps_photo keeps it then, with
// the marks as they stand, and reads the same; but that a photo from the other side may turn the verdict of a
// repair in the grain's light, once both are in the job.

typedef struct hw_open_request {
    const char *path;
    const char *name;         // as the person knows it; NULL: that of the path
    const char *folder;       // of the job that it is for; NULL: none yet
    const char *view;         // NULL: "front"
    const char *lamp;         // NULL: not said
    hw_from from;             // the side that it was taken from
    const char *cameras_path; // file of learned cameras; NULL: the user's own
    bool unplaced;            // no marks are looked for: the caller has them
} hw_open_request;

// How marks came to lie where they lie.
typedef enum hw_placed {
    HW_PLACED_NONE = 0,  // there are none: a person draws them
    HW_PLACED_PROPOSED,  // they may lie there: a person looks
    HW_PLACED_SURE,      // recognised
    HW_PLACED_AS_IT_LAY, // nothing moved since the last photo
    HW_PLACED_COUNT
} hw_placed;

const char *hw_placed_name(hw_placed placed); // "none", "proposed", "sure", "as_it_lay"; static

typedef struct hw_opened {
    hw_photo *photo; // owned, as all of it
    hw_job *job;     // as it was then; NULL: of no job
    char view[HW_NAME_SIZE];
    hw_marks marks;       // that could be found or carried, in pixels of the photo
    hw_placed wood, card; // how
    char why[480];        // why that is not sure, or nothing was found: sentences; ""
    bool
        has_card_lab; // the card's own colour is known in the job: of the last photo of the view, or measured
    hw_lab card_lab;
    hw_warnings warnings;    // of the job, and of what is not in the photo
    char cameras_path[1024]; // ""
} hw_opened;

// Decodes it, follows the marks of the view's last photo to it, looks for the card. Finding nothing is an answer, and no
// error. Errors of hw_photo_load and hw_job_open; HW_ERR_CALL view-name. Free with hw_opened_free.
HW_CHECK hw_status hw_steps_open(const hw_open_request *request, const hw_limits *limits,
                                 int64_t now, hw_opened *out, hw_error *err);
void hw_opened_free(hw_opened *opened); // leaves an empty one
// The card's own colour as a job knows it for a photo of that view from that side: as it was given for the last one, or
// measured. False: it does not.
bool hw_steps_known_card(const hw_job *job, const char *view, hw_from from, hw_lab *out);

typedef struct hw_bench_request {
    const hw_marks *marks; // all of them; NULL: those of the opened photo
    const char *lamp;      // NULL: not said
    hw_from from;
    const hw_lab *card_lab; // the card's own colour; NULL: as the opened photo has it
    // Further photos of the same state, read together with it, as in hw_read_request; then `path` is that of its own file.
    const char *path;
    const char *const *more_paths;
    const char *const *more_called;
    size_t more_count;
} hw_bench_request;

// What hw_steps_photo would log with these marks; nothing is logged, decoded or looked for again, but for the card where
// none is marked, and for further photos. Free with hw_reading_free. HW_ERR_CALL shots-many.
HW_CHECK hw_status hw_steps_open_read(const hw_opened *opened, const hw_bench_request *request,
                                      const hw_limits *limits, int64_t now, hw_reading *out,
                                      hw_error *err);
// What only a person knows, of the repairs among these marks; not asked where there is no job.
void hw_steps_open_ask(const hw_opened *opened, const hw_marks *marks, hw_question *out);
// Spots of old wood around that repair; where other wood beside it is marked and the card too, those that look like it.
// Their names are none of the marks'. May be empty. HW_ERR_CALL patch-unknown. Free with hw_marks_free.
HW_CHECK hw_status hw_steps_open_ring(const hw_opened *opened, const hw_marks *marks,
                                      const char *patch, hw_marks *out, hw_error *err);
// Upright, as a screen shows it, its longer side at most longer_px (0: as it is), and a little less where its last row would
// reach past the photo's edge then; each pixel of it is `scale` photo pixels.
// Corrected by that light, or (NULL) as the file has it. Free with hw_shown_free.
HW_CHECK hw_status hw_steps_open_picture(const hw_photo *photo, const hw_light *light,
                                         size_t longer_px, hw_shown *out, hw_error *err);

// A photo of a job, read again from its kept original (what an instrument measured: from the log) with the marks that it was
// logged with.
typedef struct hw_kept_photo {
    hw_job *job; // owned, as the rest
    const hw_event *event;
    hw_reading reading;
    hw_photo *pixels; // NULL: of an instrument
} hw_kept_photo;

// `read` false: decoded only. HW_ERR_CALL photo-unknown, and for what is only decoded picture-measured. Free with
// hw_kept_photo_free.
HW_CHECK hw_status hw_steps_kept_photo(const char *folder, long number, bool read,
                                       const hw_limits *limits, hw_kept_photo *out, hw_error *err);
void hw_kept_photo_free(hw_kept_photo *kept); // leaves an empty one

// ---- Showing -----------------------------------------------------------------------

typedef struct hw_picture_request {
    const char *folder;
    hw_showing_kind kind;
    const char *patch; // of one repair; NULL: the only one. Of a view: not looked at
    const char *view;  // NULL: that of the last photo
    long photo;        // number of a photo event; 0: the last one, or the one that advice rests on
    // What a person asks about, for path and looks, or for the piece with `patch`; empty: what is advised.
    hw_liquid liquid;
    long jar;           // in its place: the liquid of that jar; 0: none
    int passes;         // of it; 0: as many as one plan may have (six)
    double distance_mm; // for the map; 0: 1.5 m, from where a piece is looked at
    const char *shelf_path;
    const hw_progress *progress; // NULL: none
} hw_picture_request;

// One picture of a job, ready to be drawn; nothing is logged. Free with hw_showing_free. HW_ERR_CALL with the codes
// photo-none, photo-unknown, view-unknown, patch-none, patch-needed (there are several), patch-unknown, picture-measured,
// path-none (looks of what is not laid), seam-none (no old wood meets it in that photo), before-after-one (there is only one
// photo of that view), jar-unknown, pass-count, stopped, and those of a liquid and of hw_steps_advise.
HW_CHECK hw_status hw_steps_picture(const hw_picture_request *request, const hw_limits *limits,
                                    hw_showing *out, hw_error *err);

typedef struct hw_report_request {
    const char *folder;
    const char *shelf_path;
    const hw_progress *progress; // NULL: none
} hw_report_request;

// All that the report of a job tells (hw_report_html); nothing is logged. What cannot be read any more is left out with a
// warning. Free with hw_account_free. HW_ERR_CALL stopped.
HW_CHECK hw_status hw_steps_report(const hw_report_request *request, const hw_limits *limits,
                                   int64_t now, hw_account *out, hw_error *err);

// A job and its log's own lines, for export. Free both.
HW_CHECK hw_status hw_steps_export(const char *folder, const hw_limits *limits, hw_job **job,
                                   hw_job_lines *lines, hw_error *err);

// Is all there that was saved (hw_job_check)? Free with hw_job_checked_free.
HW_CHECK hw_status hw_steps_check(const char *folder, const hw_limits *limits, hw_job_checked *out,
                                  hw_error *err);
// The job in one zip file (hw_job_pack). Free with hw_job_packed_free.
HW_CHECK hw_status hw_steps_pack(const char *folder, const char *file, const hw_limits *limits,
                                 hw_job_packed *out, hw_error *err);
// A folder from such a file (hw_job_unpack); `folder` NULL: the name inside the pack. Free with
// hw_job_unpacked_free.
HW_CHECK hw_status hw_steps_unpack(const char *file, const char *folder, const hw_limits *limits,
                                   hw_job_unpacked *out, hw_error *err);

// What is known of each of them with all that was seen, on the wood that it was learned on. Free with
// hw_known_free.
HW_CHECK hw_status hw_steps_shelf_known(const hw_shelf *shelf, hw_known *out, hw_error *err);

// Adds a dye to the shelf, or says more of one that is there.
typedef struct hw_dye_request {
    const char *shelf_path; // NULL: the user's own
    const char *name, *family;
    const char *tool;  // NULL: not said
    const char *steps; // a board's readings for 0, 1, 2 ... passes, "L,a,b L,a,b ..."; NULL: none
    const char *note;  // NULL: none
    const char *made;  // how the liquid of strength 1 was made (hw_parse_made); NULL: not said
} hw_dye_request;

// *board is filled (free with hw_board_free) where there are steps. Without steps a dye of that name and
// family keeps what a board taught of it. HW_ERR_CALL with the codes dye-name, family-unknown,
// tool-unknown, board-steps, note-text, shelf-nowhere, and those of hw_board_fit and hw_parse_made.
HW_CHECK hw_status hw_steps_shelf_add(const hw_dye_request *request, const hw_limits *limits,
                                      int64_t now, hw_dye *dye, hw_dye_change *change,
                                      hw_board *board, hw_error *err);
// A shelf file that is not there is HW_ERR_INPUT, code shelf-missing.
HW_CHECK hw_status hw_steps_shelf_remove(const char *shelf_path, const char *name,
                                         const hw_limits *limits, size_t *seen_gone, hw_error *err);
// Forgets what was seen of clear coats, codes shelf-missing and coats-unseen.
HW_CHECK hw_status hw_steps_shelf_forget_coats(const char *shelf_path, const hw_limits *limits,
                                               size_t *seen_gone, hw_error *err);

// A photo of a step board: card, and strips as marks of the role board_strip named "DYE n" or
// "DYE n coated".
typedef struct hw_stepboard_request {
    hw_read_request read;
    const char *shelf_path;
    const char *const
        *dye;         // names of dyes of the shelf, or "NAME=FAMILY" for new ones, or a family
    size_t dye_count; // a dye of the shelf, or a family, that only the strips name needs none
    const char *tool, *note; // NULL: not said
    const char *made;        // of the one dye on it; NULL: not said
    const char *entry;       // NULL: none
} hw_stepboard_request;

// photo, mark, card, sample, then a fit for each dye; nothing goes on the shelf before all fits are made. The shelf keeps the
// entry with what was learned (hw_shelf_put_board): said again, that is the answer, and the photo may be gone.
// HW_ERR_CALL with the codes strip-name, strip-missing, strip-many, dye-unknown, dye-twice, made-several, and those of
// hw_steps_shelf_add and hw_shelf_put_board.
HW_CHECK hw_status hw_steps_stepboard(const hw_stepboard_request *request, const hw_limits *limits,
                                      int64_t now, hw_taught *out, hw_error *err);
// The first of its steps alone: what that entry taught before. Where it taught nothing yet, *out stays as it is.
HW_CHECK hw_status hw_steps_stepboard_said(const hw_stepboard_request *request,
                                           const hw_limits *limits, hw_taught *out, hw_error *err);

// Photos of a colour chart, or of several neutral steps, that teach a camera under a lamp; all with the same marks.
typedef struct hw_camera_request {
    hw_read_request
        read; // marks, the card's colour, sheet, lamp (must be said), camera, cameras_path
    const char *const *photo;
    size_t photo_count; // 1 to HW_CAMERA_PHOTOS_MOST
} hw_camera_request;

typedef struct hw_camera_lesson {
    hw_camera camera;     // as it is known now, with what was kept before
    size_t photos;        // learned with this call
    hw_warnings warnings; // of the marks and the photos
} hw_camera_lesson;

// All photos are read before anything is kept; one that cannot teach refuses all. HW_ERR_CALL with the codes camera-lamp
// (no lamp was named), lamp-name, camera-name (the file names no camera, and none was given), camera-two (the photos are
// of two cameras), photo-twice, shelf-nowhere, and those of hw_card_learn, hw_cameras_keep; HW_ERR_INPUT camera-chart
// (none is marked or surely found).
HW_CHECK hw_status hw_steps_camera_learn(const hw_camera_request *request, const hw_limits *limits,
                                         int64_t now, hw_camera_lesson *out, hw_error *err);
// All that is known, a camera and lamp each once, those learned last first. The path that was looked at goes to
// used_path. Free *out with hw_steps_cameras_free. HW_ERR_INPUT with the code cameras-missing: a file that was named is
// not there.
HW_CHECK hw_status hw_steps_cameras(const char *cameras_path, const hw_limits *limits, int64_t now,
                                    hw_camera **out, size_t *count, char *used_path, size_t size,
                                    hw_error *err);
void hw_steps_cameras_free(hw_camera *cameras);
// Codes cameras-missing, camera-unknown; `lamp` NULL: under any.
HW_CHECK hw_status hw_steps_camera_forget(const char *cameras_path, const char *camera,
                                          const char *lamp, const hw_limits *limits, size_t *gone,
                                          hw_error *err);

// The dyes in use: those of the shelf file, or the nine guesses while it holds none. The path that
// was looked at goes to used_path (of `size` bytes).
HW_CHECK hw_status hw_steps_shelf(const char *shelf_path, const hw_limits *limits, hw_shelf *out,
                                  char *used_path, size_t size, hw_error *err);

#ifdef __cplusplus
}
#endif
#endif
