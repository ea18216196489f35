// mark.h: which part of the picture is what. A mark is a named polygon with a role:
// the grey card, old wood to be matched (target), repaired wood (patch), and further
// references that later stages learn to use.
//
// Marks come from a JSON file or from options, or the card is looked for; they are tested against the picture, and
// tell each stage their pixels row by row. A pixel belongs to a mark when its centre
// lies inside the polygon (even-odd rule).
#ifndef HUEWRIGHT_MARK_H
#define HUEWRIGHT_MARK_H

#include "huewright/base.h"
#include "huewright/photo.h"

#ifdef __cplusplus
extern "C" {
#endif

// ---- Marks -------------------------------------------------------------------------

typedef enum hw_role {
    HW_ROLE_CARD = 0,
    HW_ROLE_TARGET,      // old wood
    HW_ROLE_PATCH,       // repair
    HW_ROLE_NEUTRAL,     // a neutral step: "white", "grey", "black" or its L*
    HW_ROLE_CHART,       // a patch of the 24-patch colour chart, "1" to "24", row by row
    HW_ROLE_FIELD,       // a plain board that shows the light
    HW_ROLE_BOARD_STRIP, // a strip of a step board
    HW_ROLE_COUNT
} hw_role;

const char *hw_role_name(hw_role role); // "card", "target", ...; static
bool hw_role_from_name(const char *name, hw_role *out);
bool hw_role_is_wood(hw_role role); // a target or a patch: what is read and compared

typedef enum hw_kind {
    HW_KIND_LET_IN = 0, // meets old wood at a joint and is judged by the step there
    HW_KIND_BOARD,      // a whole door, panel or rail, judged among boards
} hw_kind;

const char *hw_kind_name(hw_kind kind); // "let_in", "board"; static

typedef struct hw_point {
    double x, y; // pixels of the upright picture
} hw_point;

typedef struct hw_mark {
    hw_role role;
    char name[HW_NAME_SIZE];
    hw_point *points; // at least 3 corners, either way round
    size_t point_count;
    hw_kind kind;                 // of a patch
    char (*beside)[HW_NAME_SIZE]; // of a patch: its targets by name; none: all targets
    size_t beside_count;
    double found;  // 0: a person placed it; else how sure the program found or carried it, to 1
    double off_px; // then: s.d. of its corners, pixels
} hw_mark;

typedef struct hw_marks {
    size_t width_px, height_px; // of the picture they were made on; 0: not said
    hw_mark *mark;
    size_t count;
} hw_marks;

void hw_marks_free(hw_marks *marks); // leaves an empty one
HW_CHECK hw_status hw_marks_copy(const hw_marks *from, hw_marks *out, hw_error *err);

// The first mark of that role and name (any name: NULL), or NULL.
const hw_mark *hw_marks_find(const hw_marks *marks, hw_role role, const char *name);
// The same of a part: a patch of that name, or else a target; or NULL.
const hw_mark *hw_marks_find_wood(const hw_marks *marks, const char *name);

// Is this target one that the patch must match? Its `beside` names it, or names none (all of its
// view).
bool hw_mark_is_beside(const hw_mark *patch, const hw_mark *target);

// Is there a mark that the light can be read from: a card, the `neutral` named grey, or chart patch 22?
bool hw_marks_have_card(const hw_marks *marks);

// Adds a copy of from->mark[index] to *to.
HW_CHECK hw_status hw_marks_take(const hw_marks *from, size_t index, hw_marks *to, hw_error *err);

// ---- From and to people ------------------------------------------------------------

// Adds one mark from the text of an option: "x,y,w,h" or "x1,y1 x2,y2 x3,y3 ...".
// HW_ERR_CALL with the code mark-syntax or mark-name; *marks as before then.
HW_CHECK hw_status hw_marks_add(hw_marks *marks, hw_role role, const char *name, const char *region,
                                const hw_limits *limits, hw_error *err);

#define HW_NAME_OF_ALL "beside" // means all old wood beside a patch, so no mark may have this name
#define HW_WHOLE_CHART "chart"  // name of a chart mark that is the chart by its four corners

// Adds the 24 patches of a colour chart, named 1 to 24, from the four outer corners of its field of
// patches (pixels), in the order dark skin (1), bluish green (6), black (24), white (19). A mark of the
// role chart with the name HW_WHOLE_CHART does the same, as option and in a file. HW_ERR_CALL
// with the code chart-corners.
HW_CHECK hw_status hw_marks_add_chart(hw_marks *marks, const hw_point *corner, size_t count,
                                      hw_error *err);

// Reads the marks format, {"picture":[W,H],"marks":[{"role","name","polygon","beside","kind","found","off_px"}]}.
// `subject` names the file. Unknown members are left alone; an unknown role is a warning.
// HW_ERR_INPUT with the code marks-format.
HW_CHECK hw_status hw_marks_parse(const char *bytes, size_t length, const char *subject,
                                  const hw_limits *limits, hw_marks *out, hw_warnings *warnings,
                                  hw_error *err);
// The same format, indented, for a person to edit. Free *out with hw_marks_text_free.
HW_CHECK hw_status hw_marks_text(const hw_marks *marks, char **out, hw_error *err);
void hw_marks_text_free(char *text);
// The same two for a tree of JSON, for our own code (base_internal.h). A tree that memory ran out on is
// noticed when it is printed.
struct hw_json;
HW_CHECK hw_status hw_marks_from_tree(const struct hw_json *tree, const char *subject,
                                      const hw_limits *limits, hw_marks *out, hw_warnings *warnings,
                                      hw_error *err);
struct hw_json *hw_marks_tree(const hw_marks *marks);

// ---- Against the picture -----------------------------------------------------------

#define HW_MARK_MIN_PIXELS 400 // 20 x 20: chosen; fewer pixels do not show a wood's mean

// Tests all marks: inside the picture (half a pixel of grace), at least HW_MARK_MIN_PIXELS for the
// card and for wood (other references that are too small are left aside later), no polygon
// that crosses itself, names used once a role, no wood that overlaps
// the card or a patch that overlaps a target, `beside` names that exist, at most limits->marks.
// HW_ERR_CALL with the code mark-outside, mark-small, mark-crossing, mark-twice, mark-overlap,
// mark-beside, mark-many; HW_ERR_INPUT card-missing when there is no card (nor a grey `neutral`).
HW_CHECK hw_status hw_marks_check(const hw_marks *marks, size_t width_px, size_t height_px,
                                  const hw_limits *limits, hw_error *err);

// ---- Pixels of a mark --------------------------------------------------------------

typedef struct hw_span {
    size_t x, count; // pixels x to x + count - 1
} hw_span;

typedef struct hw_box {
    size_t x, y, width, height; // pixels; the smallest box with all of the mark's pixels
} hw_box;

// Enough room for the spans of any mark within the default limits.
#define HW_SPANS_MOST 128

hw_box hw_mark_box(const hw_mark *mark);
// The mark's pixels in row y, from left to right, into spans (room for `room`, enough is
// point_count / 2 + 1). Returns how many.
size_t hw_mark_spans(const hw_mark *mark, size_t y, hw_span *spans, size_t room);
double hw_mark_area(const hw_mark *mark);        // pixels squared, > 0
double hw_mark_signed_area(const hw_mark *mark); // > 0: its corners run clockwise in the picture
hw_point hw_mark_centre(const hw_mark *mark);    // centre of gravity

// The longer side over the shorter, of a mark of four corners; NaN of others.
double hw_mark_sides(const hw_mark *mark);
// Millimetres of the piece that a pixel's side is, where the card's mark has four corners and sides that are to each other
// as the card's own, mm, within a tenth. False, *out as it was: it is no whole card seen square on.
bool hw_mark_mm_a_px(const hw_mark *card, const double mm[2], double *out);

// The card as it is and as its inner part: the polygon drawn in towards its centre by
// `factor` (0..1] of its size. Free *out's points with hw_mark_free.
HW_CHECK hw_status hw_mark_shrink(const hw_mark *mark, double factor, hw_mark *out, hw_error *err);
void hw_mark_free(hw_mark *mark);

// Up to six spots around a patch that keep clear of all marks and of the picture's edge, as targets named
// "around 1" to "around 6". Free *out with hw_marks_free.
HW_CHECK hw_status hw_marks_ring(const hw_marks *marks, const hw_mark *patch, size_t width_px,
                                 size_t height_px, hw_marks *out, hw_error *err);

// ---- Finding the card --------------------------------------------------------------

typedef enum hw_find_kind {
    HW_FIND_NOTHING = 0,
    HW_FIND_CARD,  // a plain grey card
    HW_FIND_STEPS, // white, grey and black in a row
    HW_FIND_CHART, // the 24-patch colour chart
} hw_find_kind;

const char *hw_find_kind_name(hw_find_kind found); // "nothing", "card", "steps", "chart"; static

// What is proposed as the card. Where it is not sure the person is asked; a mark of their own always wins.
typedef struct hw_card_find {
    hw_find_kind what;
    hw_marks
        marks; // role card (4 corners), three of role neutral (white, grey, black) or 24 of role
               // chart; pixels of the upright photo
    double confidence; // 0 to 1: the share of such finds that are right in our made-up scenes
    bool sure;         // may be taken without a question: steps and charts alone
    bool likely;       // a plain card that nothing speaks against
    char why[200];     // where it is not sure: one sentence; else ""
    hw_find_kind
        other; // a second proposal: another grey area, or a plain card beside steps or a chart
    hw_marks other_marks;
    double other_confidence;
} hw_card_find;

// Longer side of the small picture in which the card is looked for and wood is recognised (chosen: finer does not find
// more, and takes longer).
#define HW_MARKS_SMALL_PX 1000

// Looks through the whole photo. A photo with nothing like a card is HW_OK with what = HW_FIND_NOTHING. A grey
// rectangle that is a tile or a painted panel cannot be told from a card, so a plain card is never sure, and likely only
// where it is the one thing like a card and nothing speaks against it. Takes at most 75 MB beside the photo, whatever the photo's
// size. HW_ERR_STORAGE when memory is out. Free *out with hw_card_find_free.
HW_CHECK hw_status hw_marks_find_card(const hw_photo *photo, hw_card_find *out, hw_error *err);
// The same for who has that photo's small picture already, made by hw_photo_make_small with HW_MARKS_SMALL_PX.
HW_CHECK hw_status hw_marks_find_card_in(const hw_photo *photo, const hw_photo_small *small,
                                         hw_card_find *out, hw_error *err);
void hw_card_find_free(hw_card_find *find); // leaves an empty one

// ---- Carrying marks to the next photo of the same piece ----------------------------
//
//   hw_look_take(photo, &now, &err);              // of each new photo; the job keeps the last one's
//   hw_marks_carry(&marks, earlier, now, &carried, &err);
//   if (carried.sure) ... else show carried.marks as a proposal and ask, telling carried.why
//
// Old wood is what is recognised: features of its figure, then the figure itself, plane by plane. What
// lies on the wood by itself (card, steps, chart) and the repair, which is meant to change, are not asked.
// A mark is a flat part; a turned leg cannot be carried.

// What is kept of a photo for this: a grey picture of at most 1000 pixels and the features of its figure.
typedef struct hw_look hw_look;

// HW_ERR_STORAGE when memory is out. Free with hw_look_free.
HW_CHECK hw_status hw_look_take(const hw_photo *photo, hw_look **out, hw_error *err);
// The same for who has the small picture already, as for hw_marks_find_card_in.
HW_CHECK hw_status hw_look_take_in(const hw_photo *photo, const hw_photo_small *small,
                                   hw_look **out, hw_error *err);
void hw_look_free(hw_look *look);

// As bytes to be kept, the same on every machine, about a megabyte; free *bytes with hw_free. And back:
// HW_ERR_INPUT with the code look-format (take it from the photo again) for bytes that are no whole look
// of this version; `subject` names them.
HW_CHECK hw_status hw_look_pack(const hw_look *look, uint8_t **bytes, size_t *count, hw_error *err);
HW_CHECK hw_status hw_look_unpack(const uint8_t *bytes, size_t count, const char *subject,
                                  hw_look **out, hw_error *err);

typedef enum hw_fate {
    HW_FATE_CARRIED = 0,
    HW_FATE_OUTSIDE, // wood that is not wholly in the new picture
    HW_FATE_MOVED, // a card, step, chart or field that does not lie on the piece as it did: find it anew
    HW_FATE_LOST // nothing says where it went
} hw_fate;

// What became of one mark.
typedef struct hw_carried_mark {
    hw_fate fate;
    double confidence; // of wood that was carried, 0 to 1
    double likeness;   // correlation of the figure there (around a repair), -1 to 1
    double error_px;   // s.d. of its corners, pixels of the new photo
} hw_carried_mark;

#define HW_CARRY_SURE 0.5 // confidence from which a result may be used without asking

typedef struct hw_carried_marks {
    hw_marks marks;        // those carried, in their order, in pixels of the new photo
    hw_carried_mark *each; // a row for each of the earlier marks
    size_t each_count;
    double
        confidence; // 0 to 1: the weakest of the tests passed, each 0.5 at its bound; no probability
    bool sure;      // confidence >= HW_CARRY_SURE
    bool as_it_lay;        // nothing moved: the marks are the earlier ones, number for number
    bool card_carried;     // the card lies on the piece as it did (with no card marked: false)
    bool references_moved; // a step, chart or field was left out
    double moved_px;       // the farthest that a corner went, pixels of the new photo
    double error_px;       // s.d. of the worst corner, pixels of the new photo
    char why[200];         // why not sure, in plain words for a person; "" where sure
} hw_carried_marks;

// Carries the marks of the earlier photo to the new one. Not to be sure is an answer, not an error: then
// *out holds the best proposal (which may be empty) and why. HW_ERR_CALL with the code marks-look where
// the marks were made on a picture of another size than `earlier`; HW_ERR_STORAGE when memory is out.
// Free *out with hw_carried_marks_free.
HW_CHECK hw_status hw_marks_carry(const hw_marks *marks, const hw_look *earlier, const hw_look *now,
                                  hw_carried_marks *out, hw_error *err);
void hw_carried_marks_free(hw_carried_marks *carried); // leaves an empty one

#ifdef __cplusplus
}
#endif
#endif
