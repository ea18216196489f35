// report_internal.h: what the writers of text and JSON share.
//
// In order: report_words.c turns numbers and names into words that can be printed anywhere;
// report_colour.c paints the two fields; report_json.c holds the pieces that several shapes use;
// report_reading.c, report_advice.c, report_says.c, report_day.c, report_history.c, report_event.c, report_import.c, report_lamps.c, report_overview.c, report_check.c, report_shelf.c
// and report_board.c make the results; report_export.c makes a job's rows for other programs.
//
// Drawings: report_svg.c holds lines, words, hatching and how it all becomes one SVG file, report_jpeg.c the bytes of a picture
// in it, report_marks.c marks on a picture. With these report_photo.c draws photos, the joint, looks, and two of a kind;
// report_rulers.c a gap; report_path.c what passes do, both as text too (report_cells.c); report_map.c the difference map. report_png.c makes a PNG file of any.
//
// report_html.c, which begins at report_html.h, makes one page of a job for one reader, drawings in it.
//
// What always holds: a text that came from outside goes through hw_report_clean before it meets
// a terminal or a JSON file; no number in a text has a place beyond its doubt.
#ifndef HUEWRIGHT_REPORT_INTERNAL_H
#define HUEWRIGHT_REPORT_INTERNAL_H

#include "base_internal.h"
#include "huewright/report.h"

// ---- Pictures ----------------------------------------------------------------------

// Adds the bytes of a JPEG file to `out`. R, G, B of each pixel, row by row.
HW_CHECK hw_status hw_report_jpeg(const uint8_t *rgb, size_t width, size_t height, hw_text *out,
                                  hw_error *err);

// ---- Drawing -----------------------------------------------------------------------
//
// One drawing is HW_DRAWING_WIDTH units wide, which are the pixels of a phone, and as high as what is drawn in it. It holds no
// ids, styles or clip paths, so that several fit into one page. Places and sizes are in units, y points down, and
// what is not finite becomes 0. Colours are static texts of ours; words may come from outside.

#define HW_DRAWING_WIDTH 360.0
#define HW_DRAWING_SMALL 12.0 // size of letters: a thirtieth of the width
#define HW_DRAWING_PLAIN 13.5
#define HW_DRAWING_LARGE 16.0

extern const char hw_draw_ink[], hw_draw_soft[], hw_draw_faint[], hw_draw_paper[];

typedef struct hw_drawing {
    hw_text body;
    double y; // filled down to here
} hw_drawing;

typedef struct hw_area { // on the drawing
    double x, y, width, height;
} hw_area;

typedef enum hw_side {
    HW_SIDE_START, // words begin there
    HW_SIDE_MIDDLE,
    HW_SIDE_END,
} hw_side;

typedef struct hw_letters {
    double size;
    bool bold;
    const char *colour; // NULL: ink
} hw_letters;

// As wide as in a wide plain letter (DejaVu Sans), so that others fit too.
double hw_draw_width(const char *words, hw_letters letters);
// One line, its foot at y.
void hw_draw_line_of(hw_drawing *drawing, double x, double y, hw_side side, hw_letters letters,
                     const char *words);
// The same with a light rim, to stand on a picture.
void hw_draw_rimmed(hw_drawing *drawing, double x, double y, hw_side side, hw_letters letters,
                    const char *words);
// Lines as wide as there is room, from drawing->y on, which moves below them.
void hw_draw_words(hw_drawing *drawing, double x, double width, hw_letters letters,
                   const char *words);
// The same at the full width with a little room around: a heading, and plain words below it.
void hw_draw_heading(hw_drawing *drawing, const char *words);
void hw_draw_paragraph(hw_drawing *drawing, const char *words);
// How high such words are.
double hw_draw_words_height(double width, hw_letters letters, const char *words);

void hw_draw_rect(hw_drawing *drawing, hw_area area, const char *fill, const char *stroke);
void hw_draw_fill(hw_drawing *drawing, hw_area area, hw_lab lab); // a plain field of that colour
extern const hw_lab hw_draw_grey; // a neutral mid grey, on which colours are shown
void hw_draw_stroke(hw_drawing *drawing, double x1, double y1, double x2, double y2,
                    const char *colour, double width);
void hw_draw_circle(hw_drawing *drawing, double x, double y, double radius, const char *fill,
                    const char *stroke);
// Corners as x, y, x, y ...
void hw_draw_shape(hw_drawing *drawing, const double *corner, size_t corners, const char *fill,
                   const char *stroke, double width);
// What stands for the old wood's own spread in every drawing: slanted lines with a thin rim.
void hw_draw_hatched(hw_drawing *drawing, hw_area area);
void hw_draw_hatched_round(hw_drawing *drawing, double x, double y, double half_x, double half_y);

// A picture into that area, and marks over it (NULL: none) as far as they lie in it.
HW_CHECK hw_status hw_draw_shown(hw_drawing *drawing, hw_area area, const hw_shown *shown,
                                 const hw_marks *marks, hw_error *err);
// As high as it is when it is so wide.
double hw_draw_height(const hw_shown *shown, double width);
// How the lines of marks are told apart, in words.
extern const char hw_draw_marks_told[];

// The SVG file; frees what was drawn, also on failure. `desc`: what it shows, in words.
HW_CHECK hw_status hw_draw_finish(hw_drawing *drawing, const char *title, const char *desc,
                                  char **out, hw_error *err);

// What is laid, and whether it is a guess: "Laying red at a quarter strength."
// The looks at both ends of what so many passes do.
hw_lab hw_report_weak_end(const hw_path *path, size_t step);
hw_lab hw_report_strong_end(const hw_path *path, size_t step);
void hw_report_add_left(hw_text *text, const hw_foreseen *step,
                        const char *between); // what is left of the gap then
extern const char hw_report_look_here[];      // after the passes to lay before the next look
void hw_report_add_path_words(hw_text *text, const hw_path *path);
void hw_report_codes(hw_lab lab, int rgb[3]); // sRGB, 8 bit; what it cannot show is clipped
// "5.2 (4.4 to 6.0), clear difference": a gap with the first sentence of its size words.
void hw_report_add_size(hw_text *text, double de00, double low, double high);

// ---- Rows of signs -----------------------------------------------------------------

#define HW_CELLS_MOST 33

// A cell for each step from low to high; signs are static texts, a column each.
typedef struct hw_cells {
    const char *sign[HW_CELLS_MOST];
    int count; // to HW_CELLS_MOST
    double low, high;
} hw_cells;

hw_cells hw_cells_of(int count, double low, double high); // dots
// Those from one number to the other; what lies outside is at the ends, nothing where one is not known.
void hw_cells_fill(hw_cells *row, double from, double to, const char *sign);
void hw_cells_add(hw_text *text, const hw_cells *row);
// Words in lines of 80 columns at most, each indented; a longer word has its own. Ends the last line.
void hw_report_add_lines(hw_text *text, size_t indent, const hw_text *words);

// ---- Words -------------------------------------------------------------------------

// A copy without control characters and broken UTF-8 ('?' stands for each), so that no file name
// can move a terminal's cursor. Cut at size.
void hw_report_clean(char *out, size_t size, const char *from);
// The same, added to a text.
void hw_report_add_clean(hw_text *text, const char *from);
// What is clean already, into XML or HTML, text or attribute: the five characters of markup become references,
// characters that neither has a place for '?'.
void hw_report_add_escaped(hw_text *text, const char *from, size_t left);

// "4.9", or "5" where the half-range says that the tenth is not known.
void hw_report_number(char *out, size_t size, double value, double half_range);
// The half-range itself: rounded up to the same place, never 0.
void hw_report_half_range(char *out, size_t size, double half_range);

// "5.4 (4.6 to 6.2)": a value with its 90 % range.
void hw_report_add_range(hw_text *text, double value, double low, double high);
// The same for a colour difference; near nothing "below 0.9".
void hw_report_add_gap_range(hw_text *text, double gap, double low, double high);

// "a quarter strength"; "strength 0.3" off the ladder.
void hw_report_strength(char *out, size_t size, double strength);
// "1 pass", "3 passes".
void hw_report_passes(char *out, size_t size, int passes);
// "red at a quarter strength", "red at ... with brown at ...".
void hw_report_add_liquid(hw_text *text, const hw_liquid *liquid);

// "lighter by 4.9 ± 0.5, greener by 2.4 ± 0.4, no sure difference in yellow or blue (within 0.6)".
void hw_report_add_components(hw_text *text, const hw_comparison *gap);
// One of the three: 0 lightness, 1 red or green, 2 yellow or blue.
void hw_report_add_component(hw_text *text, const hw_comparison *gap, int axis);
// "darker by 0.5, redder by 1.2": a plain change; what rounds to nothing is left out.
void hw_report_add_change(hw_text *text, double L, double a, double b);
// "too light, a touch green".
void hw_report_add_directions(hw_text *text, const hw_comparison *gap);
const char *hw_report_verdict_words(hw_verdict verdict); // "TONE IT"; static
// Words that stand large on a terminal, in capitals, and elsewhere as in any sentence: "LAY IT", "Lay it". ASCII.
void hw_report_add_large(hw_text *text, const char *capitals, bool large);
// The verdict in a sentence: "Tone it. Clear difference: too light, a touch green."
void hw_report_add_verdict(hw_text *text, const hw_comparison *beside, bool large);
// What stands below the verdict: why, or what is left of the size's words; "" where nothing is.
const char *hw_report_reason(const hw_comparison *beside);
// "the old wood itself varies by 1.4"
void hw_report_add_spread(hw_text *text, const hw_comparison *beside);
// Of several shots: "3 shots agree within 0.4"
void hw_report_add_shots(hw_text *text, const hw_reading *reading, const hw_comparison *beside);
// Lines below the numbers, each indented: pores, single pieces of old wood, joints, sights.
void hw_report_add_further(hw_text *text, const hw_reading *reading, const hw_comparison *beside);
// "2026-11-25 10:27 UTC".
void hw_report_time(char *out, size_t size, int64_t seconds);
// All that a reading warns of, as one list.
void hw_report_photo_check(const hw_reading *reading, hw_warnings *out);
void hw_report_add_warnings(hw_text *text, const hw_warnings *warnings); // worst first

// "strength known within about 12 %".
void hw_report_add_sureness(hw_text *text, const hw_dye *dye);
// "passes add: each does about as much as the one before (exponent 1.00 ± 0.16)".
void hw_report_add_law(hw_text *text, double exponent, double u_exponent);
// What one pass at full strength does to that wood: "darker by 1.4, redder by 0.3".
void hw_report_add_one_pass(hw_text *text, const hw_dye *dye, hw_lab wood);
void hw_report_add_made(hw_text *text, const hw_made *made); // a line; nothing where it is not said
const char *hw_report_change_words(hw_dye_change change);    // "added to the shelf"; static

// "; lamp: bench": what was said, where anything was.
void hw_report_add_said(hw_text *text, const char *what, const char *value);
void hw_report_add_state(hw_text *text, hw_state state); // "not dry"
// "; logged later: laid before photo 7"; nothing for 0.
void hw_report_add_before_photo(hw_text *text, const char *done, const hw_event *event,
                                long before_photo);
// "; 1.5 hours of work", where they were entered.
void hw_report_add_hours(hw_text *text, const hw_event *event);
// What a logged coat did to one part, and the s.d. of its L*; false: the log does not hold the colour before it.
bool hw_report_coat_change(const hw_job *job, const hw_coat_seen *seen, hw_difference *change,
                           double *u_light);
// What was done or said beside photos and passes, on one line without its end; false: it has no line.
bool hw_report_add_event(hw_text *text, const hw_event *event);
// A jar as it was mixed; all jars of the job with how strong they are (`known` may be NULL); that of one, without
// an end: false where nothing was seen of it.
void hw_report_add_jar(hw_text *text, const hw_jar_event *jar);
void hw_report_add_jars(hw_text *text, const hw_job *job, const hw_known *known);
bool hw_report_add_jar_strength(hw_text *text, const hw_job *job, const hw_known *known,
                                long number);
void hw_report_json_jar(hw_json *told, const hw_jar_event *jar); // its members, into an object
void hw_report_json_mix(hw_json *root, const hw_mix *mix);       // under "mix"
void hw_report_json_jars(hw_json *root, const hw_job *job, const hw_known *known); // under "jars"
// What lies on a part today: "sealed, last coat sealer (event 4), 2 passes of toner on it".
void hw_report_add_lies(hw_text *text, const hw_job *job, const hw_part_now *part);
// Every event in order, a line each, what it did indented below it.
HW_CHECK hw_status hw_report_add_history(hw_text *text, const hw_job *job, hw_error *err);
// The parts as they are now, and the approval that stands.
HW_CHECK hw_status hw_report_add_parts(hw_text *text, const hw_job *job, hw_error *err);

// "learned 12 days ago under bench lamp from 2 photos".
void hw_report_add_learned(hw_text *text, double age_days, const char *lamp, size_t photos);
// What became of a learned camera in a reading: a line or two; nothing where none was known.
void hw_report_add_camera_use(hw_text *text, const hw_light *light);
void hw_report_json_camera_use(hw_json *light_told,
                               const hw_light *light); // under "camera_learned"

// Which ways the other lamp moves it, "redder": those that are sure, or the largest one. Returns how many.
size_t hw_report_lamp_ways(const hw_lamp_pair *pair, const char *out[3]);
// What usually happens to a match under another lamp: said where none was looked at.
extern const char hw_report_lamps_usual[];

// ---- The day -----------------------------------------------------------------------

// "jar 2", "JAR B": the jar of the day of that place.
void hw_report_name_jar(const hw_day *day, size_t index, char out[16]);
// How a jar is mixed, line by line.
void hw_report_add_mix(hw_text *text, const hw_mix *mix, const char *indent);
// What passes take is known no better than by half: "about 35 ml (1.2 fl oz)".
void hw_report_add_about(hw_text *text, const char *before, double ml);
void hw_report_add_minutes(hw_text *text, double minutes); // "45 minutes", "2.5 hours"
// Is it a sheet for several repairs? Then each of them is told shortly.
bool hw_report_is_sheet(const hw_day *day);
// Jars, order and what is left alone; nothing where there is no sheet.
void hw_report_add_sheet(hw_text *text, const hw_day *day);
// What stands beside the advice on one repair; `brief`: it is one of a sheet, which tells the rest.
void hw_report_add_part(hw_text *text, const hw_advice *advice, const hw_day_part *part,
                        bool brief);
void hw_report_add_lamp(
    hw_text *text, const hw_day_part *part); // under another one; nothing where nothing is known
// Sentences of one advice (report_says.c). The head has no full stop where something is laid.
extern const char hw_report_then[], hw_report_try_first[];
void hw_report_add_head(hw_text *text, const hw_advice *advice, bool large);
void hw_report_add_chance(hw_text *text,
                          double chance); // "1 in 200"; below 1 in 1000 it is said so
// To what: the old wood as it is, or as the repair must be before coats to come.
const char *hw_report_gap_words(const hw_advice *advice);
void hw_report_add_after_next(hw_text *text, const hw_advice *advice);
void hw_report_add_risk(hw_text *text, const hw_advice *advice);
// Lines, each indented and ended: why this liquid and not another; how it is mixed.
void hw_report_add_choice(hw_text *text, const hw_advice *advice, bool brief);
// `heading`: a line before how it is mixed, or "".
void hw_report_add_own_jar(hw_text *text, const hw_day_jar *jar, const char *heading);
void hw_report_json_says(hw_json *told, const hw_day *day, size_t index);
void hw_report_add_unsaid(hw_text *text, const hw_day_unsaid *unsaid);
void hw_report_json_part(hw_json *told, const hw_advice *advice, const hw_day_part *part);
void hw_report_json_jars_of_day(hw_json *list, const hw_day *day);
void hw_report_json_day(hw_json *root, const hw_day *day);
void hw_report_json_unsaid(hw_json *root, const hw_day_unsaid *unsaid);

// A cell of CSV: quoted where it must be, an apostrophe before what a spreadsheet would take for a formula.
void hw_report_csv_text(hw_text *text, const char *value);

// Lines of how far photos of the parts measured with that event are off; nothing where there are none.
void hw_report_add_photo_off(hw_text *text, const hw_job *job, const hw_event *measured);

// Hands a finished text over, or says that memory is out.
HW_CHECK hw_status hw_report_finish(hw_text *text, char **out, hw_error *err);

// ---- Colour ------------------------------------------------------------------------

// Old wood and repair as two touching fields on a neutral grey, labelled in words.
void hw_report_add_swatches(hw_text *text, hw_lab target, hw_lab patch);

// ---- JSON --------------------------------------------------------------------------

void hw_report_json_text(hw_json *parent, const char *name, const char *value); // cleaned
// What words made, cleaned already, as a text; or line by line without indents into a list. Both free the words.
void hw_report_json_words(hw_json *parent, const char *name, hw_text *words);
void hw_report_json_lines(hw_json *list, hw_text *lines);
void hw_report_json_lab(hw_json *parent, const char *name, hw_lab lab);
void hw_report_json_screen(hw_json *parent, const char *name, hw_lab lab); // "#8a6a4d"
void hw_report_json_triple(hw_json *parent, const char *name, const double value[3], int decimals);
void hw_report_json_warnings(hw_json *parent, const hw_warnings *warnings); // under "warnings"
void hw_report_json_liquid(hw_json *parent, const hw_liquid *liquid);       // under "liquid"
void hw_report_json_dye(hw_json *told, const hw_dye *dye);  // its members, into an object
hw_json *hw_report_reading_tree(const hw_reading *reading); // a reading in its public shape
void hw_report_json_photo_off(hw_json *parent, const hw_job *job, const hw_event *measured);
// Prints the tree, frees it, ends in a newline.
HW_CHECK hw_status hw_report_json_finish(hw_json *root, char **out, hw_error *err);

#endif
