// tone.h: transparent layers of dye over wood. What is known of each dye, which to lay, how weak,
// how many passes, what it will look like after each, and when to stop.
//
// A layer multiplies the light that comes back, band by band, in the Bradford-sharpened space
// (colour.h): s = s0 exp(-sum_j d_j (k_j c_j)^g_j), with d the density of one pass at strength 1
// (natural logarithm), k passes, c strength, g an exponent near 1 (the law of Bouguer, Lambert and
// Beer, carried over to three bands). So the order of layers does not matter and L* never rises. An
// exponent below 1 is a dye that goes into the wood: later passes do less.
//
//   shelf and what passes did ─learn─▶ known dyes ─┐
//                                     comparison ──┴─advise─▶ what to lay next, or to stop
//
// Takes plain structs, gives plain structs. Reads no file and keeps no state.
#ifndef HUEWRIGHT_TONE_H
#define HUEWRIGHT_TONE_H

#include "huewright/base.h"
#include "huewright/colour.h"
#include "huewright/compare.h"

#ifdef __cplusplus
extern "C" {
#endif

// ---- Dyes --------------------------------------------------------------------------

// Families by generic colour. Files hold the names.
typedef enum hw_family {
    HW_FAMILY_AMBER = 0,
    HW_FAMILY_ORANGE,
    HW_FAMILY_RED,
    HW_FAMILY_RED_BROWN,
    HW_FAMILY_BROWN,
    HW_FAMILY_BLACK,
    HW_FAMILY_GREEN,
    HW_FAMILY_BLUE,
    HW_FAMILY_VIOLET,
    HW_FAMILY_COUNT
} hw_family;

const char *hw_family_name(hw_family family); // "amber", ..., "red-brown", ...; static
bool hw_family_from_name(const char *name, hw_family *out);

// How it is laid: one person's pass is not another's. Files hold the names.
typedef enum hw_tool {
    HW_TOOL_UNSAID = 0,
    HW_TOOL_SPRAY,
    HW_TOOL_BRUSH,
    HW_TOOL_PAD,
    HW_TOOL_WIPE,
    HW_TOOL_COUNT
} hw_tool;

const char *hw_tool_name(hw_tool tool); // "not said", "spray", "brush", "pad", "wipe"; static
bool hw_tool_from_name(const char *name, hw_tool *out); // of the four that can be said

// ---- Quantities --------------------------------------------------------------------
//
// As a finisher types them: "200 ml", "1/4 fl oz", "1 1/2 qt", "12x90 cm", "2 h". Spoons, fluid ounces, cups, pints, quarts
// and gallons are US measures (gallon 231 cubic inches; an inch 25.4 mm, a pound 453.59237 g: NIST Handbook 44,
// appendix C); 20 drops are a millilitre (common practice, it depends on the dropper). HW_ERR_CALL with the codes
// quantity-number (no number, or one with a comma), quantity-unit (none, or one of another kind) and
// quantity-size (nothing, less than that, or too much to be meant); *out stays then.
HW_CHECK hw_status hw_parse_volume(const char *text, double *ml, hw_error *err);
HW_CHECK hw_status hw_parse_length(const char *text, double *mm, hw_error *err);  // "1.5m", "5 ft"
HW_CHECK hw_status hw_parse_sides(const char *text, double mm[2], hw_error *err); // "86x54 mm"
// An area, or two sides.
HW_CHECK hw_status hw_parse_area(const char *text, double *cm2, hw_error *err);
// "30 min", "1 1/2 h"; a bare number is minutes.
HW_CHECK hw_status hw_parse_minutes(const char *text, double *minutes, hw_error *err);

double hw_fl_oz(double ml); // US fluid ounces
double hw_ounces(double g); // of weight, avoirdupois

// How the liquid of a step board, which is called strength 1, was made.
typedef struct hw_made {
    char words[80]; // as they were typed; "": not said
    double
        share; // of a liquid concentrate: its volume over that of the finished liquid, > 0, <= 1; 0: none
    double g_l; // of powder: grams to a litre, > 0; 0: none
} hw_made;

#define HW_MADE_MOST_G_L 2000.0

// "15 drops in 4 fl oz", "1 part in 20", "0.5 %", "30 g/l", "1 oz in 1 qt", "2 lb cut". `A in B` is A in B of
// the finished liquid, `A to B` is A added to B of thinner. What a powder adds to the volume is left out. Codes as
// above and made-words.
HW_CHECK hw_status hw_parse_made(const char *text, hw_made *out, hw_error *err);

// What is known of a dye before any pass is looked at: its family's guess, or a step board.
typedef struct hw_dye {
    char name[HW_NAME_SIZE];
    hw_family family;
    hw_tool tool;
    double density[3]; // one pass at strength 1: natural logarithm, long, middle, short; >= 0
    hw_covariance covariance; // of density
    double exponent;          // g of the layer law; 1 until a board or passes say otherwise
    double u_exponent;        // its s.d.
    double u_strength;        // s.d. of ln strength: covariance along density, for people
    bool guess;               // true: the family's starting guess, not seen on this finisher's work
    bool has_wood;            // what follows is known: it was learned on a board
    hw_lab wood;              // the board's wood without toner, as sealed
    int board_passes;         // the most passes on the board
    int64_t learned_at;       // seconds since 1970; 0: not said
    hw_made made;             // how its liquid of strength 1 was made
    char note[240];           // as the finisher typed it; ""
} hw_dye;

// ---- What logged passes did --------------------------------------------------------

#define HW_JOB_ID_SIZE  20
#define HW_JAR_KEY_SIZE 40 // "3f2a.../2": a job's id and a jar's number
#define HW_LAID_MOST    6  // different dyes, or jars of them, laid between two photos

// How much of one dye was laid between two photos of a patch.
typedef struct hw_laid {
    char dye[HW_NAME_SIZE];
    double before;  // strength times passes that lay there already
    double amount;  // strength times passes laid between the photos
    double squares; // sum of strength squared over those passes: how far their scatter averages out
    char jar[HW_JAR_KEY_SIZE]; // the jar that it came out of: its job and number; "": none
} hw_laid;

// What the passes between two photos of a patch really did, the session taken out by the old wood.
typedef struct hw_observation {
    char job[HW_JOB_ID_SIZE]; // which job (a sum of its first log line)
    long event;               // number of the first pass event: job and event name an observation
    char patch[HW_NAME_SIZE]; // with them, where one liquid was laid on several
    long photo_before, photo_after;
    int64_t at;   // of the pass
    hw_tool tool; // a note: a tool of its own is a dye of its own name
    hw_lab wood;  // the patch before those passes
    hw_laid laid[HW_LAID_MOST];
    size_t laid_count;
    double density[3]; // seen: -ln of the ratio of the bands
    hw_covariance covariance;
    bool questioned;    // far off the forecast: kept, asked about, not learned from
    bool forgotten;     // its dye was taken off the shelf: kept, so that no job brings it back
    bool gone;          // of what is to be taken in: the job says otherwise now, so it is taken out
    char question[320]; // what is asked; ""
} hw_observation;

// What coats did to one part between two photos, with nothing else done to it.
typedef struct hw_coat_seen {
    char job[HW_JOB_ID_SIZE];
    long event; // number of the first of those coats
    char part[HW_NAME_SIZE];
    long photo_before, photo_after;
    int64_t at;        // of the first of those coats
    int before, coats; // that lay on it; laid between the photos, at least 1
    bool clear;        // all of those were clear coats: a sealer or barrier is another liquid
    double density[3]; // seen: -ln of the ratio of the bands
    hw_covariance covariance; // its own
    hw_covariance
        shared; // what all parts of these two photos are off by together, read by the card
                // alone; 0: untouched old wood stood in both
    bool forgotten, gone; // as of an observation
} hw_coat_seen;

// A finisher's own dyes, and what was seen of them and of clear coats. Owns the lists.
typedef struct hw_shelf {
    hw_dye *dye;
    size_t count;
    hw_observation *seen; // of any dye, also of families that are no dye of the shelf
    size_t seen_count;
    hw_coat_seen *coat;
    size_t coat_count;
} hw_shelf;

void hw_shelf_free(hw_shelf *shelf); // leaves an empty one

// Takes in what was seen, passes and coats of `shown` (its dyes are not looked at); one of the same job, event
// and part takes the old one's place, or takes it out where it is `gone`. *changed (may be NULL): whether any was
// new or other than before.
HW_CHECK hw_status hw_shelf_take_seen(hw_shelf *shelf, const hw_shelf *shown, bool *changed,
                                      hw_error *err);

// A dye with its family's starting guess (common practice, no source: densities in three wide
// bands, turned into sharpened bands on the mid-brown wood L* 50 a* 12 b* 25 that they were set
// on).
hw_dye hw_dye_guess(hw_family family);
// The nine families as guesses, each under its family's name.
HW_CHECK hw_status hw_shelf_guesses(hw_shelf *out, hw_error *err);
// Does it hold the nine guesses and nothing else?
bool hw_shelf_is_guesses(const hw_shelf *shelf);
const hw_dye *hw_shelf_find(const hw_shelf *shelf, const char *name); // NULL when missing

// The same pass on the same patch of the same job? (What was measured may differ.)
bool hw_observation_is_same(const hw_observation *one, const hw_observation *other);
bool hw_observation_names(const hw_observation *seen, const char *dye); // was it in what was laid?
bool hw_coat_is_same(const hw_coat_seen *one, const hw_coat_seen *other); // the same, of coats
// Was it read by the card alone: did no untouched old wood stand in both photos?
bool hw_coat_by_card_alone(const hw_coat_seen *seen);

// What putting a dye on the shelf did.
typedef enum hw_dye_change {
    HW_DYE_ADDED = 0,
    HW_DYE_CHANGED,  // family, tool or note: what is known of it stays
    HW_DYE_REPLACED, // what was known of it is gone
    HW_DYE_CHANGE_COUNT
} hw_dye_change;

const char *
hw_dye_change_name(hw_dye_change change); // for files: "added", "changed", "replaced"; static
bool hw_dye_change_from_name(const char *name, hw_dye_change *out); // false: NULL or none of these

// ---- Step board --------------------------------------------------------------------

// One strip of a step board: so many passes of one dye at strength 1 on the board's wood.
typedef struct hw_strip {
    double passes; // whole, >= 0; 0: the strip without toner
    bool coated;   // under the clear coat that part of a board may have
    hw_lab lab;
    hw_covariance covariance; // of lab: texture and reading
    // What the fit says of it:
    hw_lab fitted;
    double off;       // CIEDE2000 from fitted to lab
    double deviate;   // how many s.d. off; 0 for the strip without toner
    bool out_of_line; // more than such strips scatter
    char why[200];    // "darker than the strips beside it say: a lap, ..."; "" when in line
} hw_strip;

// What a board says of a dye.
typedef struct hw_board {
    char dye[HW_NAME_SIZE];
    hw_strip *strip; // in the order of passes, bare ones first; owned
    size_t count;
    double density[3]; // one pass at strength 1, >= 0
    hw_covariance covariance;
    double exponent, u_exponent;
    bool saturates;     // later passes do less: the dye goes into the wood, or the wood has no room
    bool first_differs; // the first pass is off the line of the others
    bool has_coat;
    hw_lab coat_shift;       // what the clear coat does to the strip without toner; where has_coat
    size_t under_coat_count; // strips with toner under the coat that could be fitted; 0: none
    double under_coat;       // strength of the dye there over that of the bare strips
    double u_under_coat;     // its s.d.
    double fit_off;          // mean CIEDE2000 of fit and strips in line
} hw_board;

void hw_board_free(hw_board *board); // leaves an empty one

#define HW_BOARD_PASSES_MOST 50 // of one strip

// Fits density and exponent to the strips of one dye; takes its own copy of them. At least a strip of
// 0 passes and one other, both not coated. HW_ERR_CALL with the codes board-no-zero, board-few,
// board-strip-twice, board-strip (passes or a colour that cannot be); HW_ERR_INPUT with
// board-impossible (a strip lighter than the one without toner beyond doubt), board-nothing (none
// differs from it beyond doubt) and board-too-strong (over 0.4 of the decadic logarithm in one pass: no
// toner).
HW_CHECK hw_status hw_board_fit(const char *dye, const hw_strip *strips, size_t count,
                                hw_board *out, hw_error *err);
// Adds to the doubt of the density what all strips share and what grows with the change: `covariance`
// of the L*, a*, b* that so many passes change.
void hw_board_doubt_sizes(hw_board *board, double passes, const hw_covariance *covariance);
// The dye of the shelf that a board teaches; family, tool, time and note are the caller's.
hw_dye hw_board_dye(const hw_board *board);

// ---- What is known of the dyes today -----------------------------------------------

// A dye as it is expected to act on this wood on this day.
typedef struct hw_known_dye {
    char name[HW_NAME_SIZE];
    hw_family family;
    double density[3]; // one pass at strength 1, shop and day included; >= 0
    double exponent, u_exponent;
    double u_strength; // s.d. of ln strength, shop and day included
    bool guess;        // not seen on this finisher's work yet, or on wood too unlike this
    size_t times_seen; // observations that it was learned from
    bool has_board;    // strength 1 is the liquid of a step board
    double unlike; // L* of the board's wood over this wood's, where that makes it a guess; else 0
} hw_known_dye;

// What is known of one jar: how much stronger than it says. Both of its dyes share that.
typedef struct hw_known_jar {
    char key[HW_JAR_KEY_SIZE]; // as in hw_laid
    double factor;             // what it does over what it says: the median
    double u_factor;           // s.d. of its logarithm
    size_t times_seen;         // observations that something of it was laid for
} hw_known_jar;

typedef struct hw_known {
    hw_known_dye *dye; // in the order of the shelf; owned
    size_t count;
    double *covariance; // of all densities, 3 count x 3 count, row by row; owned
    hw_known_jar *jar;  // those that something was seen of; owned
    size_t jar_count;
    // Of the logarithm of each jar's factor with those of all jars, then with all densities: jar_count rows of
    // jar_count + 3 count; owned.
    double *jar_covariance;
} hw_known;

extern const double
    hw_u_jar; // s.d. of the logarithm of a jar's factor before anything was seen of it

void hw_known_free(hw_known *known);                                        // leaves an empty one
const hw_known_dye *hw_known_find(const hw_known *known, const char *name); // NULL when missing
const hw_known_jar *hw_known_find_jar(const hw_known *known, const char *key); // NULL when missing

// Learns from all observations of the shelf at once, so that their order does not matter and none
// counts twice: the most probable densities and exponents and their joint covariance, under what is
// known of each dye, a factor that all guesses of a shop share, another that its boards share, one of the day, which
// is told apart for the job `job` ("" for none), and one of each jar, so that a dye is not taught what is a jar's
// (of many jars the latest are told apart). Those that are questioned are left aside; those that are
// merely unlikely weigh less. `wood`: what is to be toned. HW_ERR_STORAGE when memory is out.
HW_CHECK hw_status hw_tone_learn(const hw_shelf *shelf, const char *job, hw_lab wood, hw_known *out,
                                 hw_error *err);
// The same for nobody's job, each dye on the wood that it was learned on: what a shelf knows.
HW_CHECK hw_status hw_tone_learn_own(const hw_shelf *shelf, hw_known *out, hw_error *err);

// What `laid` is expected to do: mean and covariance of its density (with the scatter of passes), out of the jars
// that it names. Dyes that are not known count as nothing.
void hw_tone_expect(const hw_known *known, const hw_laid *laid, size_t count, double density[3],
                    hw_covariance *covariance);

// How far what was seen lies from what was expected: the root of the squared distance over three
// bands in s.d., turned into the deviate of a normal variable with the same chance. Both covariances
// count. Infinite where they cannot be compared.
double hw_tone_far_off(const double expected[3], const hw_covariance *expected_covariance,
                       const double seen[3], const hw_covariance *seen_covariance);

// ---- Liquids -----------------------------------------------------------------------

#define HW_LIQUID_DYES_MAX 2
#define HW_LAYERS_MAX      3

typedef struct hw_dose {
    char dye[HW_NAME_SIZE];
    double strength; // 1 = as the step board was made; > 0, at most 4
} hw_dose;

// One mixed liquid: one or two dyes.
typedef struct hw_liquid {
    hw_dose dose[HW_LIQUID_DYES_MAX];
    size_t count;
} hw_liquid;

// The same dyes, in any order, at strengths within a thousandth (0.3333 is 1/3)?
bool hw_liquid_is_same(const hw_liquid *one, const hw_liquid *other);

// Passes of that dose are laid, too: their amount and squares.
void hw_laid_add(hw_laid *laid, const hw_dose *dose, int passes);

// A liquid that stands mixed, in a jar that can be told from others.
typedef struct hw_mixed_jar {
    char key[HW_JAR_KEY_SIZE]; // as in hw_laid
    hw_liquid liquid;
} hw_mixed_jar;

typedef struct hw_layer {
    hw_liquid liquid;
    int passes; // whole, >= 1
} hw_layer;

// ---- Mixing ------------------------------------------------------------------------

#define HW_MIX_MOST_ML 20000.0 // of one mix: more is a slip

// One dye of a mix, rounded to what can be measured in a shop.
typedef struct hw_mix_part {
    char dye[HW_NAME_SIZE];
    double strength;
    hw_made made;
    double board_ml;       // of its liquid of strength 1; where hw_mix.from_board
    double concentrate_ml; // of its concentrate, or
    double powder_g;       // of its powder; one of both is 0; where hw_mix.from_concentrate
} hw_mix_part;

// A volume of a liquid, mixed from the liquids of strength 1 or from concentrates. In each way all volumes add up to
// volume_ml; what powder adds to it is left out. Dye is rounded down to what can be measured, so a mix is never stronger
// than it says; a way that this puts a part off by more than a tenth is none at this volume.
typedef struct hw_mix {
    double volume_ml; // as asked for, to a tenth of a millilitre; to a drop below 10 ml
    hw_mix_part part[HW_LIQUID_DYES_MAX];
    size_t count;
    bool has_boards; // strength 1 of all its dyes is the liquid of a step board
    bool from_board; // can be thinned: the strengths add up to no more than 1
    double board_thinner_ml;
    double board_off; // share by which rounding makes its worst part weaker; 0 to 0.1
    double
        board_least_ml; // where all that is wrong is too little to measure: the next handy volume that is not;
                        // infinite: none up to HW_MIX_MOST_ML; else 0
    bool
        from_concentrate; // of all dyes it is known how their liquids were made, and there is room for them
    double concentrate_thinner_ml;
    double concentrate_off;
    double concentrate_least_ml;
} hw_mix;

// `shelf` says how the dyes' liquids were made. HW_ERR_CALL with the codes mix-volume (no volume, or over
// HW_MIX_MOST_ML) and mix-small (too little to measure in every way that there is; the error names the least volume
// that goes).
HW_CHECK hw_status hw_tone_mix(const hw_liquid *liquid, const hw_shelf *shelf, double volume_ml,
                               hw_mix *out, hw_error *err);
// The same, of the next handy volume that goes where that one is too small. False, *out as it was: none goes.
bool hw_tone_mix_at_least(const hw_liquid *liquid, const hw_shelf *shelf, double volume_ml,
                          hw_mix *out);
// In words: parts first, then what to measure, lines between '\n'. Cut at size; 1600 hold it.
void hw_mix_say(const hw_mix *mix, char *out, size_t size);
// "50 ml (1.7 fl oz)", "0.4 ml (8 drops, 0.014 fl oz)".
void hw_say_volume(double ml, char *out, size_t size);

// What passes need.
typedef struct hw_need {
    double ml_m2;   // liquid that one pass takes, a square metre, with what is lost
    bool said;      // as the person said it; else what is usual
    double pass_ml; // one pass on that area; NaN: the area is not known
    double mix_ml;  // a handy volume for all passes and what stays in gun and jar; NaN likewise
    char assumption[320]; // in words: what all this rests on
} hw_need;

// `area_cm2` NaN: not known; `ml_m2` NaN: what is usual, a wet film of 0.04 mm, of which a gun loses half, pad and
// brush a fifth (common practice, no source).
hw_need hw_tone_need(double area_cm2, int passes, double ml_m2, hw_tool tool);
// What is usual, a square metre.
double hw_tone_ml_m2(hw_tool tool);

// ---- Layers ------------------------------------------------------------------------

// Colour of wood that bears none of these dyes yet under these layers (over what lies there already:
// hw_tone_expect). Layers of a dye that is not known are HW_ERR_CALL, code
// dye-unknown.
HW_CHECK hw_status hw_tone_predict(const hw_known *known, hw_lab wood, const hw_layer *layers,
                                   size_t count, hw_lab *out, hw_error *err);

// A plain transparent layer over a colour: density in natural logarithm, long, middle, short.
hw_lab hw_tone_under(hw_lab wood, const double density[3]);
// The layer between two colours, and how a small change of the colour above it changes that layer
// (3 x 3: d density / d L*, a*, b*).
void hw_tone_between(hw_lab before, hw_lab after, double density[3]);
void hw_tone_density_by_lab(hw_lab colour, double out[3][3]);
// The other way round: d L*, a*, b* / d density.
void hw_tone_lab_by_density(hw_lab colour, double out[3][3]);

// ---- Coats to come -----------------------------------------------------------------
//
// Clear coats change the colour once more, darker and warmer. In density, after m coats:
//
//   d(m) = wet (1 - exp(-m / tau)) + m resin
//
// `wet` is what finish does to bare wood, of each wood; `resin` is what each coat does, alike on all parts,
// so that where coats go over all the gap barely moves. Both are guesses until photos before and after a
// coat are logged.

// Coats of finish on one part, of any kind, and clear coats that are still planned for it.
typedef struct hw_coats_on {
    int so_far, to_come;
} hw_coats_on;

#define HW_COAT_UNKNOWNS 7

// What is known of the clear coats of one job.
typedef struct hw_coat_belief {
    char job[HW_JOB_ID_SIZE]; // "": of one that is still to come
    double resin[3];          // a coat: natural logarithm, long, middle, short; >= 0
    double wet[3];            // of wood without any coat, all in all
    double tau;               // coats
    double covariance[HW_COAT_UNKNOWNS][HW_COAT_UNKNOWNS]; // of resin, wet, ln tau
    size_t seen;      // observations of this job that it rests on
    size_t elsewhere; // and of other jobs
    bool guess;       // all of them do not tell yet what a coat does
} hw_coat_belief;

hw_coat_belief hw_coats_guess(void);
// From all observations at once, so that their order does not matter: the most probable values under the
// guess (a ridge to it). What lies far off weighs less. Coats of other jobs tell what this finisher's coats do from
// job to job, and so less than those of `job` (NULL or "": of none, then the belief is that of the next job).
hw_coat_belief hw_coats_learn(const hw_coat_seen *seen, size_t count, const char *job);

typedef struct hw_coats_request {
    const hw_comparison *gap; // as read
    hw_coats_on patch, target;
    const hw_coat_belief *belief;
    const hw_coat_seen
        *seen; // what it was learned from: errors of a photo that is read here too count twice
    size_t seen_count;
    long photo;                // number of the photo that was read; 0: not among those
    hw_covariance photo_doubt; // what all colours of that photo are off by together, L*, a*, b*
} hw_coats_request;

// What a photo's colours are off by together where the card alone tells them, or an instrument's (`measured`): L*,
// a*, b*.
hw_covariance hw_coats_photo_doubt(bool measured);

// The look once the coats to come lie on it.
typedef struct hw_coats_ahead {
    hw_coats_on patch, target;
    bool guess;
    size_t seen, elsewhere; // coats that it was learned from: of this job, of others
    hw_lab patch_lab, target_lab;
    hw_lab patch_low, patch_high, target_low, target_high; // 90 % of L*, a*, b* each
    hw_difference gap;
    double de00_low, de00_high;
} hw_coats_ahead;

hw_coats_ahead hw_coats_look_ahead(const hw_coats_request *request);

// What to steer for where the coats to come do not go over patch and old wood alike: the old wood with them taken
// off, and what is to be added to the covariance of the gap. Until the shift is learned a patch that alone gets
// coats is held 1 to 2 L* light by the guess, a* and b* stay; where both get as many, but less finish lies on the patch
// so far, up to 2 L* by the guess of what the wet step does to it alone. False, *aim the old wood as it is and nothing
// added: where both have and get as many; where the aim would be darker than the old wood is now; where a guess
// is all there is and the old wood gets more of them, or both as many and that moves less than 0.5 L*.
bool hw_coats_aim(const hw_coats_request *request, hw_lab *aim, hw_covariance *more);

// ---- Advice ------------------------------------------------------------------------

typedef struct hw_tone_rules {
    int passes_most;   // of one plan; default 6 (more: mix it stronger)
    int film_most;     // of all that lies on a patch; default 12 (film build)
    int families_most; // in one plan; default 2, at most 3
    double risk_look;  // most chance, before the next look, of ending over 1 L* too dark; 0.005
    double risk_job;   // the same of a job over all its patches and looks; 0.02
    double too_dark;   // L*; default 1.0
    double least_help; // a step must help with this chance; default 0.6
    double least_gain; // and better the expected loss by this, CIEDE2000; default 0.05
    double pass_cost;  // loss a pass, CIEDE2000; default 0.05
    double look_cost; // loss a further liquid of a plan, which wants a look of its own; default 0.1
    double guess_cost; // loss a dye that is a guess, where others are known; default 0.1
    double dark_cost;  // loss per L* below the target; default 2
    double hue_cost;   // loss per unit past the hue; default 1
    double mud_cost;   // per unit of a*, b* by which dyes of a plan undo each other; default 0.1
    double lamp_cost;  // of a weak pass that parts by 1 CIE 1976 under another lamp; default 0.1
} hw_tone_rules;

hw_tone_rules hw_tone_rules_default(void);

#define HW_PLAN_PASSES_MAX 12
#define HW_OPTIONS_MAX     3

// Forecast after the first n passes of a plan, in the order they are laid.
typedef struct hw_after {
    int passes;
    hw_lab lab;
    double de00, de00_low, de00_high; // to the target: median, 90 %
} hw_after;

typedef struct hw_option {
    hw_layer layer[HW_LAYERS_MAX];
    size_t layer_count;
    hw_after after[HW_PLAN_PASSES_MAX + 1]; // passes 0 (now), 1, 2 ...
    size_t after_count;
    double
        overshoot_risk; // chance of ending over rules.too_dark too dark if all of it is laid unseen
    double loss;        // what the plan was chosen by
    double lamp_risk;   // sum over its passes of how far each parts under another lamp, CIE 1976
    bool guess;         // rests on a dye not yet seen on this finisher's work
    char mix[320]; // how weak, in words: "red at a quarter strength: 1 part ... 3 parts thinner"
} hw_option;

// Why nothing is to be laid.
typedef enum hw_stop {
    HW_STOP_NOT = 0,
    HW_STOP_LEAVE,       // the verdict: not worth touching
    HW_STOP_DONE,        // as near as can be seen or told
    HW_STOP_HARM,        // the next smallest step would more likely harm than help
    HW_STOP_TOO_DARK,    // dye cannot lighten
    HW_STOP_NO_DEPTH,    // no depth left for what the hue wants
    HW_STOP_NO_DYE,      // no dye here brings it nearer
    HW_STOP_NO_CHROMA,   // it wants more colour than any layer gives
    HW_STOP_FILM,        // enough film lies on it
    HW_STOP_BASE_COLOUR, // far off and not sealed: back to the base colour
    HW_STOP_CANNOT_TELL, // the photo cannot tell
    HW_STOP_ASK_FIRST,   // something must be cleared up first: the log knows what
    HW_STOP_COUNT
} hw_stop;

const char *hw_stop_name(hw_stop stop); // "not", "leave", "done", ...; static

typedef struct hw_advice {
    char patch[HW_NAME_SIZE];
    hw_verdict verdict;
    char why[640]; // why to lay this, or why to stop
    bool stop;     // nothing more to lay
    hw_stop stop_reason;
    bool has_next;
    hw_layer next;       // to lay before the next look: whole passes of one liquid
    long next_jar;       // number of the job's jar that holds it; 0: none (filled by the steps)
    hw_after after_next; // forecast after `next` alone
    double next_risk;    // chance that it ends over rules.too_dark too dark
    double next_help;    // chance that it ends nearer than it is now
    bool next_weaker; // weaker than the first option's liquid: for the risk, or to help more surely
    bool next_other;  // no liquid of the first option: its own would be too much now
    bool next_guess;  // rests on a dye not yet seen on this finisher's work
    char full_strength[640]; // what full strength is, and why it is a guess
    bool may_be_left;        // the verdict is to leave it; `next` is for a joint that still shows
    bool in_part;            // no plan reaches the old wood; `why` says what is missing
    hw_lab aim;              // what the plan steers for
    bool
        before_coats; // not the old wood as it is: what it must be before coats to come; gaps are to that
    hw_option option[HW_OPTIONS_MAX]; // best first; 0 where nothing helps
    size_t option_count;
    hw_lab reach;  // where the dyes as they are known could bring it at best, were nothing doubted
    bool by_sheet; // `next` is a jar of the day's sheet (hw_tone_sheet) and the way is sheet_plan
    hw_option sheet_plan; // made of the sheet's jars alone; 0 layers unless by_sheet
    double sheet_cost;    // its mean loss over that of the patch's own best, CIEDE2000; >= 0
    char other_ways[480]; // where no dye helps, or far off: what else there is; "" otherwise
    int passes_so_far;    // logged on this patch
    bool
        grain_light; // two photos from the sides show the grain's light there (filled by the steps)
} hw_advice;

// Is the wood closed by a sealer, so that a base colour can no longer go into it?
typedef enum hw_surface {
    HW_SURFACE_UNSAID = 0,
    HW_SURFACE_OPEN,
    HW_SURFACE_SEALED,
} hw_surface;

typedef struct hw_tone_request {
    const hw_comparison *gap; // of the patch with all its targets
    const char *old_wood;     // what people call it, where it is one part; NULL: "the old wood"
    const hw_known *known;    // dyes to plan with
    const hw_layer *so_far;   // logged on the patch
    size_t so_far_count;
    hw_surface surface;
    double risk_spent;          // chance of overshoot of the steps laid so far in this job
    bool doubtful;              // the last change is asked about: one pass at most, if that
    const hw_tone_rules *rules; // NULL: the default
    // Liquids that stand mixed: what would be laid of just such a liquid comes out of the first that holds it, as
    // strong as that jar is.
    const hw_mixed_jar *jars;
    size_t jar_count;
} hw_tone_request;

// What to lay next. All pairs of dyes of different families are weighed (on a shelf of over 30, of each family the
// three that are known best; in a plan of three families, the one). HW_ERR_CALL with the code shelf-empty.
HW_CHECK hw_status hw_tone_advise(const hw_tone_request *request, hw_advice *out, hw_error *err);

// ---- The day's sheet ---------------------------------------------------------------

// What a finisher mixes in the morning, in the order of laying: jar by jar, hue before depth and weak
// before strong, black last, so that the gun is rinsed least (common practice, no source).
typedef struct hw_sheet_jar {
    hw_liquid liquid;
    bool mixed;     // stands mixed already
    size_t patches; // that it is laid on today; 0: the second layer of a plan, after the next look
    int passes;     // today, of all patches together
} hw_sheet_jar;

typedef struct hw_sheet_step {
    size_t patch; // place in what was asked
    size_t jar;   // place in `jar`
} hw_sheet_step;

typedef struct hw_sheet {
    hw_sheet_jar *jar; // owned
    size_t jar_count;
    hw_sheet_step *step; // in the order of laying; of one jar the least risk first; owned
    size_t step_count;
    bool fewest; // surely no fewer jars do; false: there were too many ways to look through all
} hw_sheet;

void hw_sheet_free(hw_sheet *sheet); // leaves an empty one

// CIEDE2000 of mean loss that sharing jars may cost a patch (chosen), and once passes lie on it: with 0.3
// throughout, patches ended a quarter further off than one by one, so a tenth or less (tests/accuracy/day.c).
#define HW_SHEET_COST_MOST  0.3
#define HW_SHEET_COST_LATER 0.1

// The fewest liquids that serve all patches with a `next`, then the fewest to mix, then the least loss. Each
// patch is served when a plan of at most two layers of these liquids costs it at most that much more
// than its own best, and one of the layers may be laid today as it is, by all the rules of hw_tone_advise; its
// own advice's liquid always serves it. Chance of overshoot: what the job has left is shared evenly among
// the patches and the next look.
//
// requests: one a patch, of the same job, their `known` of the same dyes in the same order; advice: what
// hw_tone_advise gave for each. On return what regards `next` in the advice is true of the jar it now gets
// (next_jar is the caller's); its options stay. Advice that stops is not touched. `mixed`: liquids that stand
// mixed already, of any strength, the latest first (of more than 60 the others are not looked at); those with a dye that
// is not known are left aside. HW_ERR_CALL with the code
// shelf-differs; HW_ERR_STORAGE. On failure some of the advice may have changed.
HW_CHECK hw_status hw_tone_sheet(const hw_tone_request *request, hw_advice *advice, size_t count,
                                 const hw_liquid *mixed, size_t mixed_count, hw_sheet *out,
                                 hw_error *err);

// ---- What layers will do ------------------------------------------------------------

// A repair after so many passes of given layers, whatever was advised.
typedef struct hw_foreseen {
    int passes;        // of them, in the order they are laid; 0: as it is now
    double density[3]; // of what is added, natural logarithm, long, middle, short: the median
    double least[3],
        most[3];    // ends of the 90 % range of what they do: taken weakly, taken strongly
    hw_after after; // colour at the median, gap to the aim with its range
    double best[3],
        worst[3]; // between those ends: what ends nearest to the aim, and farthest from it
    hw_lab best_lab, worst_lab;
    double best_de00, worst_de00; // from the aim
    double overshoot_risk;        // chance of ending over rules.too_dark too dark
} hw_foreseen;

// For 0, 1, 2 ... passes of the layers laid over what lies there (request->so_far) into out, which has `room`; *count is
// how many it got: HW_PLAN_PASSES_MAX + 1 hold all. No layer at all: the look as it is. Jars count as in advice.
// HW_ERR_CALL with the codes layer-count (over HW_LAYERS_MAX), pass-count (over HW_PLAN_PASSES_MAX, or a layer of none),
// liquid-dyes, dye-unknown and dye-strength; HW_ERR_STORAGE.
HW_CHECK hw_status hw_tone_foresee(const hw_tone_request *request, const hw_layer *layer,
                                   size_t layer_count, hw_foreseen *out, size_t room, size_t *count,
                                   hw_error *err);

// ---- Cautions ----------------------------------------------------------------------

// The lead sentence, then each caution that goes with laying toner, in full; `one_line` is
// the short form for the rest of the day. Static; count ends the list.
const char *const *hw_cautions(size_t *count);
const char *hw_caution_lead(void);
const char *hw_caution_one_line(void);

#ifdef __cplusplus
}
#endif
#endif
