// compare.h: how far a repair is from the old wood beside it, which way, how sure
// that is, and whether it is worth touching.
//
// Takes samples, gives plain comparisons. Differences are patch minus target.
// Ranges (`low`, `high`) bound 90 %: U = 1.645 u.
#ifndef HUEWRIGHT_COMPARE_H
#define HUEWRIGHT_COMPARE_H

#include "huewright/base.h"
#include "huewright/colour.h"
#include "huewright/sample.h"

#ifdef __cplusplus
extern "C" {
#endif

#define HW_NINETY 1.645 // U = 1.645 u holds 90 %

// ---- Words -------------------------------------------------------------------------

// Directions of a gap, as a finisher says them. Logs hold the names, not the numbers.
typedef enum hw_direction {
    HW_TOO_LIGHT = 0,
    HW_TOO_DARK,
    HW_TOO_GREEN,
    HW_TOO_RED,
    HW_TOO_YELLOW,
    HW_TOO_BLUE,   // cold
    HW_TOO_ORANGE, // red and yellow at once
    HW_TOO_COLD_GREEN,
    HW_TOO_PINK, // red and blue at once
    HW_TOO_DULL,
    HW_TOO_STRONG,
    HW_DIRECTION_COUNT
} hw_direction;

const char *hw_direction_words(hw_direction direction); // "too light"; static

#define HW_DIRECTIONS_MAX 4

// The bands of size that have words.
const char *hw_size_words(double de00); // "Very close. Most people will not see it."; static

// ---- One comparison ----------------------------------------------------------------

typedef enum hw_verdict {
    HW_VERDICT_LEAVE = 0,
    HW_VERDICT_TONE,
    HW_VERDICT_TOO_DARK,
    HW_VERDICT_UNSURE,
} hw_verdict;

const char *hw_verdict_name(hw_verdict verdict); // "leave", "tone", "too_dark", "unsure"
bool hw_verdict_from_name(const char *name, hw_verdict *out);

// What a gap may be wrong by, source by source.
typedef enum hw_doubt {
    HW_DOUBT_FIGURE = 0, // the wood's own figure within the marks
    HW_DOUBT_MARKS,      // marks that a hand draws a little aside
    HW_DOUBT_LIGHT,      // light that differs between the two places
    HW_DOUBT_SHINE,      // shine that may remain where some was left out
    HW_DOUBT_READING,    // noise, JPEG; what repeated photos differ by
    HW_DOUBT_TONE,       // the camera's tone curve and stray light
    HW_DOUBT_COLOUR,     // the camera's colours
    HW_DOUBT_CARD,       // what the card is taken to be
    HW_DOUBT_PHOTOS,     // old wood that is only in another photo: what two photos differ by
    HW_DOUBT_COUNT,
} hw_doubt;

const char *hw_doubt_name(hw_doubt source);  // for files: "figure", "marks", ...; static
const char *hw_doubt_words(hw_doubt source); // "the wood's own figure"; static
// What would lessen it most, beyond the references that this light has; static.
const char *hw_doubt_cure(hw_doubt source, const hw_light *light);

#define HW_BESIDE HW_NAME_OF_ALL // the name of "all its targets together"

// Parts of a length, as a person names them from left to right or from top to bottom.
typedef struct hw_stretch {
    double from, to; // shares of the length, 0 to 1; from the left or upper end
    bool upright;    // the length runs rather up and down than across
} hw_stretch;

// "left half", "upper third", "middle", "lower end", "all of it"; static.
const char *hw_stretch_words(const hw_stretch *stretch);

// The wood between the pores, patch minus target. Known where the old wood's pores are wide enough to
// be told apart (three pixels) and the patch's are too, or it has none.
typedef struct hw_ground {
    bool known;
    hw_difference gap;
    double de00_low, de00_high;
    bool fewer_pores; // in the patch, by what shows
    bool matches;     // and the means do not: what is left is pores and grain lines, for a brush
} hw_ground;

// A patch that differs from itself along its length.
typedef struct hw_uneven {
    bool found;
    hw_stretch end;    // which third
    hw_difference off; // that third minus the rest of the patch
    bool alone;        // the rest is close to the old wood: only that end wants work
    char words[160];   // one sentence
} hw_uneven;

typedef struct hw_comparison {
    char patch[HW_NAME_SIZE];
    char target[HW_NAME_SIZE]; // a target's name, or HW_BESIDE
    hw_kind kind;              // of the patch
    long elsewhere; // number of the other photo of the job that shows the target; 0: this one does
    hw_lab patch_lab, target_lab;
    bool
        before_coats; // target_lab is not the old wood but as the patch must be before coats to come
    hw_difference gap;
    double de00_low, de00_high;
    hw_difference low, high;      // ranges of L, a, b, C, H (de fields unused)
    hw_covariance covariance;     // of L*, a*, b* of the gap
    double doubt[HW_DOUBT_COUNT]; // standard uncertainty of de00 by source
    double light_range;  // 90 % of what the light may differ by between patch and target, as L*
    double tellable;     // the smallest CIEDE2000 that this photo can tell from none (95 %)
    size_t shots;        // repeat shots that it is the mean of; 0: a single one
    double shot_scatter; // root mean square distance of one of them from their mean, CIEDE2000
    double shots_apart;  // largest distance between two of them, CIEDE2000
    bool grain_light;    // turns its sign between left and right (hw_side_pair)
    size_t direction_count;
    hw_direction direction[HW_DIRECTIONS_MAX]; // largest first
    double spread;      // of the old wood, CIEDE2000; at least 0.7; with what is known of it before
    double spread_here; // of this photo's pieces alone
    size_t spread_count; // pieces of old wood in this photo
    double spread_axis
        [3]; // s.d. of the old wood's L*, a*, b*, over the same pieces as `spread`; each at least
             // 0.7 / sqrt 3; grown as earlier photos make `spread` grow over spread_here
    double spread_ratio;    // gap / spread
    double t_squared;       // Hotelling's, beside the verdict; NaN with too few pieces
    double t_squared_p;     // its p-value with the prior on wood; NaN likewise
    hw_ground ground;       // for HW_BESIDE; `known` is false for single targets
    hw_uneven uneven;       // likewise
    double chance_to_leave; // that the true gap is one to leave, 0 to 1; for HW_BESIDE
    hw_verdict verdict;     // decided for HW_BESIDE; copied to the single targets
    char why[320];          // one sentence, in the finisher's words
} hw_comparison;

// ---- The joint ---------------------------------------------------------------------

#define HW_SEAM_PIECES 6
#define HW_SEAM_LINE   33 // points of a joint at most

// A stretch of a joint along which the step looks the same: a strip of the patch against a strip of the
// old wood, both along the joint.
typedef struct hw_seam_piece {
    hw_stretch stretch;
    hw_difference gap;
    double de00_low, de00_high;
    size_t direction_count;
    hw_direction direction[HW_DIRECTIONS_MAX];
    hw_verdict verdict;
} hw_seam_piece;

typedef struct hw_seam {
    char patch[HW_NAME_SIZE], target[HW_NAME_SIZE];
    double length_px;
    hw_point line[HW_SEAM_LINE]; // its middle, pixels, from its left or upper end
    size_t line_count;
    bool patch_on_left; // of someone who walks along `line` (y points down)
    size_t count;       // at least 1
    hw_seam_piece piece[HW_SEAM_PIECES];
} hw_seam;

// ---- All of a photo ----------------------------------------------------------------

typedef struct hw_comparisons {
    hw_comparison *item; // for each patch: its targets one by one, then HW_BESIDE
    size_t count;
    hw_seam *seam; // joints of patches let in, where the marks of both sides meet
    size_t seam_count;
} hw_comparisons;

void hw_comparisons_free(hw_comparisons *comparisons);

// Old wood as another photo read it.
typedef struct hw_old_wood {
    char name[HW_NAME_SIZE];
    hw_lab lab;
    double standard_error[3];
} hw_old_wood;

#define HW_ELSEWHERE_MOST 16 // pieces of old wood taken from another photo (chosen)

// The old wood of a patch that has none beside it in its own photo.
typedef struct hw_elsewhere {
    bool wanted; // it has none; else nothing is taken
    long photo;  // number of the photo that shows it; 0: none does
    hw_old_wood wood[HW_ELSEWHERE_MOST];
    size_t count;
    char camera[96]; // of that photo; "" when not said
    bool has_card_seen;
    hw_lab card_seen;  // the card as photographed there
    char why_not[320]; // why none can be taken: no capital, no full stop
} hw_elsewhere;

// What the shots that are read together say of how sure a patch's gap is.
typedef struct hw_shots_gap {
    size_t count; // below 2: there is a single one, and the rest is 0
    double
        error[3]; // standard uncertainty of the mean of L*, a*, b*: 1.645 times it hold 90 %, with
                  // Student's t in it
    double scatter, apart; // as in hw_comparison
} hw_shots_gap;

// What earlier readings of a job say of a patch and the old wood beside it.
typedef struct hw_earlier {
    char patch[HW_NAME_SIZE];
    double spread;    // of the old wood, CIEDE2000
    size_t count;     // pieces of old wood that it rests on
    size_t repeats;   // photos of the same view since the last pass on it
    double repeat[3]; // s.d. of the gap's L*, a*, b* among them; with two or more
    hw_elsewhere elsewhere;
    hw_shots_gap shots; // of this very reading, where it is the mean of several photos
} hw_earlier;

typedef struct hw_earlier_list {
    hw_earlier *item;
    size_t count;
} hw_earlier_list;

// Compares every patch with its beside targets. `known` may be NULL. `marks` says which are beside which; the
// samples are of the same photo, in any order. A patch without any target is compared with what is known of it
// elsewhere, by a wider range and without joints; one without that is an error.
// `light` NULL: an instrument measured them, so only their own doubts count and there are no joints.
// HW_ERR_CALL with the code target-missing.
HW_CHECK hw_status hw_compare_all(const hw_sample *samples, size_t count, const hw_marks *marks,
                                  const hw_light *light, const hw_earlier_list *known,
                                  hw_comparisons *out, hw_error *err);

// Warns of patches whose light is too little known beside that of their old wood, with the number, and of those
// whose old wood is in another photo.
void hw_compare_warn(const hw_comparisons *comparisons, hw_warnings *warnings);

// What a strip of a step board may be wrong by against the strip without toner (`bare`) of the same photo,
// as covariance of L*, a*, b*: `own` of this strip alone, `size` what all strips share and what grows with
// the change. Strip and bare the same: the bare one's own.
void hw_compare_strip_doubt(const hw_sample *strip, const hw_sample *bare, const hw_light *light,
                            hw_covariance *own, hw_covariance *size);

// ---- Repeat shots ------------------------------------------------------------------

#define HW_SHOTS_MOST 5 // photos of one state that are read together

// One of them.
typedef struct hw_one_shot {
    char file[320];
    bool own_marks; // drawn on it, not carried from another shot: what a hand misses is its own
    bool used;
    double off; // its gap from the mean of those used, CIEDE2000, of the repair that differs most
    char why[320]; // why it is left out: no capital, no full stop; "" of one that is used
} hw_one_shot;

typedef struct hw_shots {
    size_t count; // that were given; 0: a single photo, as below 2
    size_t used;
    bool disagree; // they lie further apart than repeat shots do, and none can be named
    hw_one_shot shot[HW_SHOTS_MOST];
} hw_shots;

// ---- From which side ---------------------------------------------------------------

// Where the camera stood, or the lamp where only that was moved. Figured wood sends its light one way: it looks
// light from one side and dark from the other. Files hold the names.
typedef enum hw_from {
    HW_FROM_UNSAID = 0, // taken for the front
    HW_FROM_FRONT,
    HW_FROM_LEFT,
    HW_FROM_RIGHT,
    HW_FROM_COUNT
} hw_from;

const char *hw_from_name(hw_from from); // "front", "left", "right"; "" when not said; static
bool hw_from_from_name(const char *name, hw_from *out);
const char *hw_from_words(hw_from from);          // "from the left"; static
bool hw_from_is_same(hw_from one, hw_from other); // not said is the front

// "the grain's light, not colour: judge it from where it will be seen"
extern const char hw_grain_light[];

// What is read of a patch from one side, patch minus old wood: L*, a*, b* and their standard uncertainty.
typedef struct hw_side_gap {
    double delta[3], u[3];
} hw_side_gap;

// A patch from the left and from the right.
typedef struct hw_side_pair {
    char patch[HW_NAME_SIZE];
    hw_side_gap left, right;
    bool axis
        [3]; // L*, a*, b*: above nothing from one side and below it from the other, with its range
    bool turned; // any of them: the grain's light, not colour
} hw_side_pair;

// Fills axis and turned.
void hw_side_pair_decide(hw_side_pair *pair);

// ---- Seen from a distance -----------------------------------------------------------

// Does a repair blend when seen from there? Beside the verdict, never it.
typedef enum hw_sight_verdict {
    HW_SIGHT_UNTOLD = 0, // what the photo leaves open reaches past both
    HW_SIGHT_BLENDS,     // it lies within what the old wood shows of itself
    HW_SIGHT_SHOWS,
} hw_sight_verdict;

typedef struct hw_sight {
    char patch[HW_NAME_SIZE];
    bool known; // else `why_not` says why: the distance could not be taken into account
    double distance_mm;
    double px_per_degree;
    double
        wood_off; // 95 % of the old wood, seen from there, lies within this of its own mean, CIEDE2000
    double patch_off;             // the same of the repair, to the old wood's mean
    double patch_low, patch_high; // with the gap at the ends of its 90 % range
    double
        beyond; // share of the repair that lies further off than wood_off; 0.05 would be as the old wood itself
    hw_sight_verdict verdict;
    char why_not[200]; // no capital, no full stop
} hw_sight;

// ---- A reading: what one photo says ------------------------------------------------

typedef struct hw_reading {
    bool
        measured; // by an instrument: photo.file names its file, photo.camera the instrument; no light
    hw_from from;
    hw_shots shots; // of several photos; what follows of photo, marks and light is then of the
                    // first one used, samples and comparisons of all that are used
    hw_photo_facts photo;
    hw_marks marks;
    hw_light light;
    hw_sample *samples; // of every card-corrected target and patch, in the order of the marks
    size_t sample_count;
    hw_comparisons comparisons;
    hw_marks
        proposed; // spots around a repair that look like its old wood, where hardly any is marked
    hw_sight *sights; // one a repair, where a distance was said (picture.h); owned
    size_t sight_count;
    hw_warnings warnings; // of the samples and the comparison; photo and light have their own
} hw_reading;

void hw_reading_free(hw_reading *reading);

// Repeat shots become one reading: the mean of L*, a*, b* over those that agree; what is each shot's own (noise, card,
// marks drawn on it) by how far they scatter, what they share (camera, light, card colour, figure) as in one. A shot
// that lies off where the others agree is named and left out; where they do not agree none is named and the range
// reaches past all.
// `shot`: one a photo that was given, NULL where it could not be read; the first one used is taken over into *out and
// left empty. `shots`: count, and of each file, own_marks and (not read) why; kept in *out. At least one must be read.
// `known` as for hw_compare_all of the first one, may be NULL.
HW_CHECK hw_status hw_compare_shots(hw_reading *const *shot, const hw_shots *shots,
                                    const hw_earlier_list *known, hw_reading *out, hw_error *err);

// Standard uncertainty of the mean of n readings (n >= 2) that differ among themselves by this variance (n - 1),
// where `usual` is the variance of one that is expected beforehand: 1.645 times it hold 90 %.
double hw_shots_error(double variance, size_t n, double usual);

// Pairs of the patches that both readings hold; at most `room` into out, returns how many.
size_t hw_side_pairs_of(const hw_reading *left, const hw_reading *right, hw_side_pair *out,
                        size_t room);
// The patch of that name is not to be toned by this reading: its verdict becomes unsure and says so.
void hw_reading_turn(hw_reading *reading, const char *patch);

// ---- Parts of it, on numbers alone -------------------------------------------------

// The comparison of `patch` with all of its targets together, or NULL.
const hw_comparison *hw_comparison_beside(const hw_comparisons *comparisons, const char *patch);

// Directions of a gap, from its sizes alone (common practice, no source), largest first; returns
// how many.
size_t hw_directions_of(const hw_difference *gap, hw_direction out[HW_DIRECTIONS_MAX]);

// 90 % range of CIEDE2000 from the gap and its covariance: near nothing the range starts at 0
// and its end is a one-sided 95 % bound (non-central chi-squared), elsewhere +- 1.645 u.
void hw_gap_range(hw_lab target, hw_lab patch, const hw_covariance *covariance, double *low,
                  double *high);

// The comparison of a patch (with all its targets together) with another aim than the old wood, as it must be
// before coats to come, and more covariance of the gap: gap, ranges, directions, verdict and why. Spread,
// doubts by source and `tellable` stay those of the photo; T squared is not known (NaN).
hw_comparison hw_comparison_before_coats(const hw_comparison *as_read, hw_lab aim,
                                         const hw_covariance *more);

// The verdict rules alone, on numbers: fills verdict, why.
void hw_verdict_decide(hw_comparison *comparison);

#ifdef __cplusplus
}
#endif
#endif
