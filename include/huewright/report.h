// report.h: every result in words for a finisher and in JSON for programs: one shape for
// both front ends. Words first, numbers beside them, never colour alone.
//
// Each call gives one text, UTF-8 ending in a newline; free it with hw_report_free.
#ifndef HUEWRIGHT_REPORT_H
#define HUEWRIGHT_REPORT_H

#include "huewright/base.h"
#include "huewright/compare.h"
#include "huewright/job.h"
#include "huewright/picture.h"
#include "huewright/tone.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct hw_report_style {
    bool
        swatches; // show old wood and repair as two touching fields of colour (a terminal that can)
    bool why;     // show how the numbers came about
    bool quiet;   // the verdict lines alone
} hw_report_style;

void hw_report_free(char *text);

// ---- A reading ---------------------------------------------------------------------
HW_CHECK hw_status hw_report_reading_text(const hw_reading *reading, const hw_report_style *style,
                                          char **out, hw_error *err);
HW_CHECK hw_status hw_report_reading_json(const hw_reading *reading, char **out, hw_error *err);

// The same as a tree, with "shown" for a page: of each repair its verdict, words, numbers and lines as the text has them, the
// colours of both fields and the drawings of swatches and rulers (src/server/API.md). For our own code
// (base_internal.h); free *out with hw_json_free. HW_ERR_STORAGE when memory is out.
struct hw_json;
HW_CHECK hw_status hw_report_shown_tree(const hw_reading *reading, struct hw_json **out,
                                        hw_error *err);

// What adding a photo to a job told beyond its reading.
typedef struct hw_photo_news {
    long number;                 // of the photo event
    bool again;                  // it was logged before, for the same entry
    bool marks_reused;           // the marks of the view's last photo
    bool marks_carried;          // ... to where the wood lies now: something had moved
    double correlation;          // of the old wood's figure, when reused
    double moved_px, error_px;   // when carried: how far at most, and how surely (s.d.)
    const hw_warnings *warnings; // of the job
} hw_photo_news;

// The reading with that: the same shape, more members.
HW_CHECK hw_status hw_report_photo_text(const hw_photo_news *news, const hw_reading *reading,
                                        const hw_report_style *style, char **out, hw_error *err);
HW_CHECK hw_status hw_report_photo_json(const hw_photo_news *news, const hw_reading *reading,
                                        char **out, hw_error *err);

// ---- Advice ------------------------------------------------------------------------

// What stands beside the advice on one repair: what was spent on it, what its next passes take, what still comes.
typedef struct hw_day_part {
    double hours;        // of work entered for it; 0: none
    double laid_ml;      // of liquid laid on it so far; NaN: not known
    double area_cm2;     // NaN: not known
    bool area_from_card; // told from the card's size
    hw_need need;        // what its next passes take
    double minutes;      // its next passes and their recoat times; NaN: not set
    bool
        coats_come; // clear coats still come on it, or on its old wood: `ahead` tells the look then
    hw_coats_ahead ahead;
    bool held;         // it is planned for what it must be before those coats
    char assumed[480]; // of the coats that lie there; ""
    bool lamp_seen;    // it was photographed under two lamps as it is now
    bool last_step; // its plan ends with the next step: the last moment to look under another lamp
    char lamp[480]; // how it looks there, or that a second photo is wanted; ""
} hw_day_part;

// A jar of the day.
typedef struct hw_day_jar {
    hw_liquid liquid;
    long number;    // of the job's jar that stands mixed; 0: to be mixed
    size_t patches; // that it is laid on today; 0: it comes after the next look
    int passes;     // today, of all of them together
    double need_ml; // for these passes, with what is lost; NaN: an area is not known
    double left_ml; // in the jar that stands mixed; NaN: not known
    bool can_mix;   // `mix` is filled: of a jar to be mixed, or one that holds too little
    bool
        as_wanted; // for the volume asked for, or what it takes; else a hundred millilitres as an example
    hw_mix mix;
} hw_day_jar;

// What was not said of the job yet, and would tell more.
typedef struct hw_day_unsaid {
    bool coats, recoat, areas;
} hw_day_unsaid;

// What is advised: on one repair, or the day's sheet for all.
typedef struct hw_day {
    hw_advice *advice; // one a repair; owned, also what follows
    hw_day_part *part; // one a repair
    size_t count;
    bool for_all;    // the sheet
    hw_sheet sheet;  // where for_all; steps in the order of laying
    hw_day_jar *jar; // of the sheet, in its order; or of the one repair
    size_t jar_count;
    hw_day_unsaid unsaid;
    bool cautions_full; // print each caution; else the one line
    hw_warnings warnings;
} hw_day;

void hw_day_free(hw_day *day); // leaves an empty one

// Readings from several sides, as hw_sides has them.
HW_CHECK hw_status hw_report_sides_text(const hw_reading *reading, size_t count,
                                        const hw_side_pair *pair, size_t pairs,
                                        const hw_report_style *style, char **out, hw_error *err);
HW_CHECK hw_status hw_report_sides_json(const hw_reading *reading, size_t count,
                                        const hw_side_pair *pair, size_t pairs, char **out,
                                        hw_error *err);

HW_CHECK hw_status hw_report_advice_text(const hw_day *day, const hw_report_style *style,
                                         char **out, hw_error *err);
// The one advice, or all as {"jars":[],"patches":[...]}.
HW_CHECK hw_status hw_report_advice_json(const hw_day *day, char **out, hw_error *err);

// ---- Job events --------------------------------------------------------------------
// `known`: what is known of the jars (hw_steps_jars); NULL: nothing.
HW_CHECK hw_status hw_report_start_json(const char *folder, const char *title, char **out,
                                        hw_error *err);
// A job started from an earlier one: what was taken over.
typedef struct hw_carried {
    const char *folder, *from;  // of the new job and of the earlier one (NULL: none); borrowed
    hw_job *job;                // the new one, opened; owned
    char from_title[480];       // of the earlier one; ""
    bool passes;                // some were laid in it: what they showed is on the shelf
    char (*dyes)[HW_NAME_SIZE]; // put on the shelf as the earlier job's log knew them; owned
    size_t dye_count;
    hw_warnings warnings;
} hw_carried;

void hw_carried_free(hw_carried *carried); // leaves an empty one

HW_CHECK hw_status hw_report_carried_text(const hw_carried *carried, char **out, hw_error *err);
HW_CHECK hw_status hw_report_carried_json(const hw_carried *carried, char **out, hw_error *err);
// A jar just logged, and how to mix it (NULL: no volume was said).
HW_CHECK hw_status hw_report_jar_text(const hw_event *event, const hw_mix *mix,
                                      const hw_warnings *warnings, char **out, hw_error *err);
HW_CHECK hw_status hw_report_jar_json(const hw_job *job, const hw_event *event, const hw_mix *mix,
                                      const hw_warnings *warnings, char **out, hw_error *err);
HW_CHECK hw_status hw_report_pass_text(const hw_job *job, const hw_event *pass,
                                       const hw_known *known, const hw_warnings *warnings,
                                       char **out, hw_error *err);
// A correction that changes nothing.
HW_CHECK hw_status hw_report_unchanged_text(const hw_warnings *warnings, char **out, hw_error *err);
// Any other event that was just logged; and any at all (NULL: none) as JSON, in the shape of the history.
HW_CHECK hw_status hw_report_logged_text(const hw_event *event, const hw_warnings *warnings,
                                         char **out, hw_error *err);
HW_CHECK hw_status hw_report_logged_json(const hw_job *job, const hw_event *event,
                                         const hw_warnings *warnings, char **out, hw_error *err);
// What an instrument measured, and how far photos of the same parts are off.
HW_CHECK hw_status hw_report_import_text(const hw_job *job, long number, const hw_reading *reading,
                                         const hw_warnings *warnings, const hw_report_style *style,
                                         char **out, hw_error *err);
HW_CHECK hw_status hw_report_import_json(const hw_job *job, long number, const hw_reading *reading,
                                         const hw_warnings *warnings, char **out, hw_error *err);
HW_CHECK hw_status hw_report_history_text(const hw_job *job, const hw_known *known, char **out,
                                          hw_error *err);
HW_CHECK hw_status hw_report_history_json(const hw_job *job, const hw_known *known, char **out,
                                          hw_error *err);

// Repairs (`patch` NULL: all) under two lamps, side by side (hw_job_lamp_pairs).
HW_CHECK hw_status hw_report_lamps_text(const hw_job *job, const char *patch,
                                        const hw_report_style *style, char **out, hw_error *err);
HW_CHECK hw_status hw_report_lamps_json(const hw_job *job, const char *patch, char **out,
                                        hw_error *err);

// ---- A job as it stands ------------------------------------------------------------

// One part of the piece today. Borrowed from the job.
typedef struct hw_overview_part {
    hw_part_now now;
    hw_kind kind; // of a repair, as its last photo marks it
    long photo;   // that advice rests on (hw_job_main_photo); of old wood the last one; 0: none
    const hw_logged_gap *gap; // of a repair, as that photo was read; NULL: it was not
    hw_lab patch, target;     // with gap: both colours, L*a*b* D50
    int laid, since_photo;    // passes laid on it in all; behind that photo
    bool photo_is_old;        // something was laid on it or taken off it behind that photo
    bool waits;    // what was laid on it last is not dry yet, by the recoat time that was said
    int64_t until; // when it will be
} hw_overview_part;

// All that a person sees first of a job.
typedef struct hw_overview {
    hw_job *job; // opened; owned, as what follows
    hw_overview_part *part;
    size_t part_count;
    hw_part_now *parts; // what `part` borrows
    long
        undo; // what a person logged last, with nothing logged behind it: its event; 0: there is none
    int64_t now;
} hw_overview;

void hw_overview_free(hw_overview *overview); // leaves an empty one

// In the shape that src/server/API.md tells. `name`: what the job is called by whoever asks; NULL: not said.
HW_CHECK hw_status hw_report_overview_json(const hw_overview *overview, const char *name,
                                           char **out, hw_error *err);
// What an event did, in a few words without a number or a time: "1 pass of jar 2 on lid strip". Cut at size; "" where
// there is nothing that a person did.
void hw_report_event_words(const hw_event *event, char *out, size_t size);

// ---- Export ------------------------------------------------------------------------
//
// All of a job for other programs: a row a part of each reading, a row a patch of each pass (columns in
// report_export.c).
// RFC 4180, UTF-8, lines ended by CR LF. A text that a spreadsheet would take for a formula gets a
// leading apostrophe.
HW_CHECK hw_status hw_report_export_csv(const hw_job *job, char **out, hw_error *err);
// {"job":{},"events":[],"readings":[],"passes":[],"warnings":[]}: the log's own lines, and the rows.
HW_CHECK hw_status hw_report_export_json(const hw_job *job, const hw_job_lines *lines, char **out,
                                         hw_error *err);
// CGATS.17: the colours read, made at `now`. HW_ERR_INPUT with the code export-empty, where nothing was
// read yet; export-large.
HW_CHECK hw_status hw_report_export_cgats(const hw_job *job, int64_t now, char **out,
                                          hw_error *err);

// ---- Keeping -----------------------------------------------------------------------
// The first line says whether all that was saved is there.
HW_CHECK hw_status hw_report_check_text(const char *folder, const hw_job_checked *checked,
                                        const hw_report_style *style, char **out, hw_error *err);
HW_CHECK hw_status hw_report_check_json(const char *folder, const hw_job_checked *checked,
                                        char **out, hw_error *err);
HW_CHECK hw_status hw_report_pack_text(const char *file, const hw_job_packed *packed,
                                       const hw_report_style *style, char **out, hw_error *err);
HW_CHECK hw_status hw_report_pack_json(const char *file, const hw_job_packed *packed, char **out,
                                       hw_error *err);
HW_CHECK hw_status hw_report_unpack_text(const char *file, const hw_job_unpacked *unpacked,
                                         const hw_report_style *style, char **out, hw_error *err);
HW_CHECK hw_status hw_report_unpack_json(const char *file, const hw_job_unpacked *unpacked,
                                         char **out, hw_error *err);

// ---- Shelf, errors -----------------------------------------------------------------
// `known`: with what the passes taught (hw_steps_shelf_known).
HW_CHECK hw_status hw_report_shelf_text(const hw_shelf *shelf, const hw_known *known,
                                        const char *path, char **out, hw_error *err);
HW_CHECK hw_status hw_report_shelf_json(const hw_shelf *shelf, const hw_known *known,
                                        const char *path, char **out, hw_error *err);
// A dye put on the shelf without a board; a dye taken off it.
HW_CHECK hw_status hw_report_dye_text(const hw_dye *dye, hw_dye_change change, char **out,
                                      hw_error *err);
HW_CHECK hw_status hw_report_dye_json(const hw_dye *dye, hw_dye_change change, char **out,
                                      hw_error *err);
HW_CHECK hw_status hw_report_removed_text(const char *name, size_t seen_gone, char **out,
                                          hw_error *err);
HW_CHECK hw_status hw_report_removed_json(const char *name, size_t seen_gone, char **out,
                                          hw_error *err);
// What was seen of clear coats is forgotten.
HW_CHECK hw_status hw_report_forgotten_text(size_t seen_gone, char **out, hw_error *err);
HW_CHECK hw_status hw_report_forgotten_json(size_t seen_gone, char **out, hw_error *err);
// Step boards: strip by strip, then what is known of the dye now. `warnings` may be NULL.
HW_CHECK hw_status hw_report_boards_text(const hw_board *board, const hw_dye *dye,
                                         const hw_dye_change *change, size_t count,
                                         const hw_warnings *warnings, const hw_report_style *style,
                                         char **out, hw_error *err);
HW_CHECK hw_status hw_report_boards_json(const hw_board *board, const hw_dye *dye,
                                         const hw_dye_change *change, size_t count,
                                         const hw_warnings *warnings, char **out, hw_error *err);
// Learned cameras: all of them; one just learned, from so many photos more; what was forgotten of one.
HW_CHECK hw_status hw_report_cameras_text(const hw_camera *camera, size_t count, const char *path,
                                          char **out, hw_error *err);
HW_CHECK hw_status hw_report_cameras_json(const hw_camera *camera, size_t count, const char *path,
                                          char **out, hw_error *err);
HW_CHECK hw_status hw_report_lesson_text(const hw_camera *camera, size_t photos,
                                         const hw_warnings *warnings, const hw_report_style *style,
                                         char **out, hw_error *err);
HW_CHECK hw_status hw_report_lesson_json(const hw_camera *camera, size_t photos,
                                         const hw_warnings *warnings, char **out, hw_error *err);
HW_CHECK hw_status hw_report_camera_gone_text(const char *camera, const char *lamp, size_t gone,
                                              char **out, hw_error *err);
HW_CHECK hw_status hw_report_camera_gone_json(const char *camera, const char *lamp, size_t gone,
                                              char **out, hw_error *err);
// "huewright: SUBJECT: WHAT" and, indented, what to do next.
HW_CHECK hw_status hw_report_error_text(const hw_error *error, char **out, hw_error *err);
// {"error":{"code","subject","what","next"}}
HW_CHECK hw_status hw_report_error_json(const hw_error *error, char **out, hw_error *err);

// ---- Pictures ----------------------------------------------------------------------

// The photo, small, with all marks drawn in and named: one SVG file without anything outside it.
HW_CHECK hw_status hw_report_marks_svg(const hw_photo *photo, const hw_marks *marks, char **out,
                                       hw_error *err);

// A picture as one JPEG file; *count bytes, no text. Free with hw_report_free.
HW_CHECK hw_status hw_report_shown_jpeg(const hw_shown *shown, char **out, size_t *count,
                                        hw_error *err);

// What follows is for each one SVG 1.1 file (W3C, valid by its DTD) without anything outside it, pictures in it as JPEG;
// each says in words what it shows. Text that came from outside is escaped.

// The photo, corrected or not, with marks drawn in (NULL: none), under a line of words.
HW_CHECK hw_status hw_report_photo_svg(const hw_shown *photo, const hw_marks *marks,
                                       const char *words, char **out, hw_error *err);

// Old wood and repair as two plain fields that touch, on neutral grey.
HW_CHECK hw_status hw_report_swatches_svg(const hw_comparison *gap, char **out, hw_error *err);

// A gap at a glance: three rulers, darker to lighter, greener to redder, bluer to yellower; the old wood's spread as a
// hatched length, the repair as a mark with its range, where it stood before the last pass fainter.
typedef struct hw_rulers {
    const hw_comparison *gap; // with all old wood together
    const hw_logged_gap
        *last;          // in the last photo before anything was laid since; NULL: there is none
    long last_photo;    // its number
    const char *source; // "photo 18, lid, shop lamp"; NULL: not said
} hw_rulers;

HW_CHECK hw_status hw_report_rulers_svg(const hw_rulers *rulers, char **out, hw_error *err);
HW_CHECK hw_status hw_report_rulers_text(const hw_rulers *rulers, const hw_report_style *style,
                                         char **out, hw_error *err);

// Passes that may be laid on a repair, and what they are foreseen to do.
#define HW_EARLIER_MOST 6 // photos that a path looks back to (chosen: more do not fit on a phone)

// Where the repair stood in an earlier photo.
typedef struct hw_earlier_place {
    long photo;
    int passes; // that lay on it then
    hw_lab lab; // its gap of then, set on the old wood as it is read now
    double u;   // of its L*, standard uncertainty
    double de00, de00_low, de00_high;
} hw_earlier_place;

typedef struct hw_path {
    hw_comparison gap; // to what is planned for (before_coats: not the old wood as it is)
    hw_earlier_place earlier[HW_EARLIER_MOST]; // oldest first
    size_t earlier_count;
    int laid;          // passes that lie on it now
    char none[480];    // why nothing is to be laid: then `step` holds the look as it is alone; ""
    char words[320];   // what is laid: "red at a quarter strength with black at half strength"
    bool guess;        // rests on a dye not yet seen on this finisher's work
    bool asked;        // layers that a person asked about, not those of the advice
    int look_after;    // of the advice: passes to lay before the next look; 0: not said
    hw_foreseen *step; // for 0, 1, 2 ... passes; owned
    size_t count;
} hw_path;

void hw_path_free(hw_path *path); // leaves an empty one

// Two charts for the shop, of the way so far and of the way ahead: lightness over passes, and a*, b* with the way that the
// passes went and go; the old wood's spread in both, ranges, words beside numbers. As text: a small chart of lightness and
// gap, a line a photo and a pass.
HW_CHECK hw_status hw_report_path_svg(const hw_path *path, char **out, hw_error *err);
HW_CHECK hw_status hw_report_path_text(const hw_path *path, const hw_report_style *style,
                                       char **out, hw_error *err);

// The joint laid straight, repair above and old wood below, with what each piece of it is in words.
HW_CHECK hw_status hw_report_seam_svg(const hw_shown *strip, const hw_seam *seam, char **out,
                                      hw_error *err);

// What it will look like after 1, 2, 3 ... passes: both ends of the range beside each other, taken weakly and taken
// strongly, with which of them is the better case and which the worse.
typedef struct hw_looks {
    hw_path path;
    hw_shown now;
    hw_shown *weak, *strong; // of path.step[1], [2] ...; owned
} hw_looks;

void hw_looks_free(hw_looks *looks); // leaves an empty one
HW_CHECK hw_status hw_report_looks_svg(const hw_looks *looks, char **out, hw_error *err);

// Two pictures of one thing, one above the other or side by side as they fit, each under its words: the piece now and
// after the plan; before and after.
typedef struct hw_two {
    const hw_shown *first, *second;
    const hw_marks *first_marks, *second_marks; // NULL: none drawn
    const char *first_words, *second_words;
    const char *note; // what holds for both, below them; NULL: nothing
} hw_two;

HW_CHECK hw_status hw_report_two_svg(const hw_two *two, char **out, hw_error *err);

// The difference map over the greyed picture: bands of size as patterns that read without colour vision, lighter and
// darker by their slant; what is so far off that it is hardly this wood stays plain.
typedef struct hw_map_told {
    const hw_map *map;
    const hw_shown *picture; // of the same size
    const hw_marks *marks;   // NULL: none drawn
    double distance_mm;      // that it is seen from; NaN: not known, and `why_not` says why
    const char *why_not;
    double spread; // of the old wood, CIEDE2000
} hw_map_told;

HW_CHECK hw_status hw_report_map_svg(const hw_map_told *told, char **out, hw_error *err);

bool hw_report_has_png(void); // was it built with the library that draws PNG?
// Such an SVG file as PNG, so many pixels wide. Free *bytes with hw_report_free. HW_ERR_INPUT png-not-built-in: built
// without the library that draws it; HW_ERR_STORAGE.
HW_CHECK hw_status hw_report_png(const char *svg, size_t width_px, char **bytes, size_t *count,
                                 hw_error *err);

// ---- One picture of a job ----------------------------------------------------------

// Names are those of the command line.
typedef enum hw_showing_kind {
    HW_SHOW_CORRECTED = 0, // the photo, put right by its card, with its marks
    HW_SHOW_SWATCHES,
    HW_SHOW_RULERS,
    HW_SHOW_SEAM,
    HW_SHOW_PATH,
    HW_SHOW_LOOKS,
    HW_SHOW_PIECE, // now, and after the plan
    HW_SHOW_BEFORE_AFTER,
    HW_SHOW_MAP,
    HW_SHOW_COUNT
} hw_showing_kind;

const char *
hw_showing_kind_name(hw_showing_kind kind); // "corrected", ..., "before-after", "map"; static
bool hw_showing_kind_from_name(const char *name, hw_showing_kind *out);
bool hw_showing_kind_is_of_patch(hw_showing_kind kind); // of one repair; else of a view
bool hw_showing_kind_has_text(hw_showing_kind kind);    // a terminal can show it

// What one of them is drawn from; what it does not need is empty.
typedef struct hw_showing {
    hw_showing_kind kind;
    long photo; // number of the event
    char view[HW_NAME_SIZE];
    char patch[HW_NAME_SIZE]; // "": of a view
    char source[160];         // "photo 18, shop lamp"
    hw_reading reading;       // of the photo, as it is read today
    bool has_last;
    hw_logged_gap last; // where the repair stood before
    long last_photo;
    hw_path path;
    hw_looks looks;
    hw_seam seam;
    hw_shown picture, second;
    hw_marks marks, second_marks;
    char words[480], second_words[480], note[320];
    hw_map map;
    double distance_mm; // NaN: not known
    char why_not[200];
    double spread; // of the old wood; NaN: not known
    hw_warnings warnings;
} hw_showing;

void hw_showing_free(hw_showing *showing); // leaves an empty one

HW_CHECK hw_status hw_report_showing_svg(const hw_showing *showing, char **out, hw_error *err);
// Only where hw_showing_kind_has_text.
HW_CHECK hw_status hw_report_showing_text(const hw_showing *showing, const hw_report_style *style,
                                          char **out, hw_error *err);
// {"picture":{"kind","file","bytes","photo","view","patch"},"warnings":[]}; and of a report {"report":{"for","file",
// "bytes"},"warnings":[]}.
HW_CHECK hw_status hw_report_drawn_json(const hw_showing *showing, const char *file, size_t bytes,
                                        char **out, hw_error *err);
// "Written: cabinet-looks.png (12 kB)".
HW_CHECK hw_status hw_report_written_text(const char *file, size_t bytes, char **out,
                                          hw_error *err);
// "huewright: ..." for each, for whoever shows them apart from the result.
HW_CHECK hw_status hw_report_warnings_text(const hw_warnings *warnings, char **out, hw_error *err);
// "red at a quarter strength with black at half strength", one after the other where there are more.
void hw_report_layer_words(const hw_layer *layer, size_t count, char *out, size_t size);

// ---- The report of a job -----------------------------------------------------------

// One view before and after, both under the same correction.
typedef struct hw_before_after {
    char view[HW_NAME_SIZE];
    long first, last; // photo events; the same: nothing was photographed since
    int64_t first_at, last_at;
    hw_shown before, after; // `after` empty where first == last
    hw_marks first_marks, last_marks;
    char same[320]; // how both were made to read alike, or why they could not be; a sentence
} hw_before_after;

void hw_before_after_free(hw_before_after *both); // leaves an empty one

// One repair.
typedef struct hw_account_part {
    char name[HW_NAME_SIZE];
    bool read_first, read_last; // the two that follow are filled
    hw_comparison first, last;  // as it was read then, and in the last photo
    long first_photo, last_photo;
    bool has_seam; // of the last photo
    hw_seam seam;
    hw_shown strip;
    bool has_looks; // something is to be laid next
    hw_looks looks;
    const hw_advice *advice; // of account.day; NULL: none could be given
} hw_account_part;

// All that a report tells. The job is asked for the rest.
typedef struct hw_account {
    hw_job *job;    // opened; owned, as all that follows
    hw_known known; // of jars (hw_steps_jars)
    hw_before_after *view;
    size_t view_count;
    hw_account_part *part;
    size_t part_count;
    bool has_day; // advice could be given
    hw_day day;
    char no_day[480]; // why not, a sentence; ""
    int64_t at;       // when the report is made
    hw_warnings warnings;
} hw_account;

void hw_account_free(hw_account *account); // leaves an empty one

// For whom. Names are those of the command line.
typedef enum hw_reader {
    HW_FOR_CUSTOMER = 0, // words and pictures
    HW_FOR_SHOP,         // everything
    HW_FOR_SPRAY_ROOM,   // a slip of what to lay next
    HW_READER_COUNT
} hw_reader;

const char *hw_reader_name(hw_reader reader); // "customer", "shop", "spray-room"; static
bool hw_reader_from_name(const char *name, hw_reader *out);

// One HTML file that asks for nothing outside it and runs nothing.
HW_CHECK hw_status hw_report_html(const hw_account *account, hw_reader reader, char **out,
                                  hw_error *err);
HW_CHECK hw_status hw_report_made_json(const hw_account *account, hw_reader reader,
                                       const char *file, size_t bytes, char **out, hw_error *err);

#ifdef __cplusplus
}
#endif
#endif
