// card_internal.h: how the light is read off the references, in order:
//
//   1 card_pixels.c     the inner part of one reference: code values tested for clipping, colours
//                       gathered
//   2 card_reference.c  all references with what they are known to be: trimmed means, and means of a
//                       grid of cells
//   3 card_cubic.c, card_invert.c   a monotone cubic, the inverse of a small matrix
//   4 card_tone.c       from two or more neutral steps: the camera's curve and stray light
//   5 card_field.c      from the cells: how the light falls off; or off a photo of a sheet
//   6 card_chart.c      from the colour chart: a 3 x 3 matrix, kept only where it helps
//   7 card_edge.c       how sharp the card's rim is
//   8 card_warn.c       what is wrong with the light
//   9 card_light.c      the gains that make the card what it is; refusals; the order of all this
//  10 card_use.c        the light applied to colours, and moved by its doubts
//  11 card_learn.c      what a chart photo shows of its camera, or why not
//  12 card_camera.c     several such photos together: the curve of the next photo, with its doubt; a matrix
//  13 card_learned.c    that in a photo which has only a card: tested, then used or left aside
//
// Each reference gives at most HW_CARD_PIXELS_MOST pixels, taken evenly: more do not sharpen a mean
// that its own evenness bounds.
#ifndef HUEWRIGHT_CARD_INTERNAL_H
#define HUEWRIGHT_CARD_INTERNAL_H

#include "base_internal.h"
#include "huewright/card.h"

#define HW_CARD_INNER       0.70 // of its size: the rim may be bent, shadowed or thumbed (chosen)
#define HW_CARD_PIXELS_MOST 16000
#define HW_GRID             8 // cells a side, fewer on a small reference
#define HW_REFERENCES_MOST  48

typedef struct hw_card_pixels {
    size_t count;
    double *X, *Y, *Z; // as photographed, D50, Y = 1 for the profile's white
    double *x, *y;     // pixel centres
    double top_share;  // share of pixels with a channel at the top of its range
    double bottom_share;
    double mean_code; // of all channels, 0 to 255 whatever the depth
    double max_code;  // largest channel mean, 0 to 255
} hw_card_pixels;

HW_CHECK hw_status hw_card_gather(const hw_photo *photo, const hw_mark *card, double inner,
                                  hw_card_pixels *out, hw_error *err);
void hw_card_pixels_free(hw_card_pixels *pixels);

// ---- References --------------------------------------------------------------------

typedef struct hw_reference_cell {
    double x, y; // pixels
    hw_xyz seen; // mean
} hw_reference_cell;

#define HW_CLIPPED_MOST 0.005 // share of pixels at an end of the scale (chosen)
#define HW_PATTERN_MOST 0.04  // of `left_over`; an even card has 0.01
#define HW_PIXELS_MOST  0.30  // of `spread`; noisy phones have 0.15

typedef struct hw_reference {
    const hw_mark *mark;
    bool usable;                // not clipped, large enough, even
    bool patterned, other_card; // why not: not one even colour; a card unlike the first one
    bool neutral;               // a step of the tone curve
    bool known;                 // `lab` is known (a field board's is not)
    hw_lab lab;                 // what it is
    double u_L;                 // standard uncertainty of its L*
    int chart_patch;            // 1 to 24; 0: none
    hw_xyz seen;                // trimmed mean
    hw_point centre;
    double spread;    // of single pixels' Y, a share
    double left_over; // s.d. of ln Y of its cells about the plane of light over it alone
    double mean_code, max_code, top_share, bottom_share;
    size_t pixels;
    hw_reference_cell cell[HW_GRID * HW_GRID];
    size_t cells;
} hw_reference;

typedef struct hw_references {
    hw_reference *item; // the card (or what stands in for it) first
    size_t count;
} hw_references;

// Reads all references among the marks. *out is empty on failure; free with hw_references_free.
HW_CHECK hw_status hw_references_read(const hw_photo *photo, const hw_marks *marks,
                                      const hw_card_options *options, hw_references *out,
                                      hw_warnings *warnings, hw_error *err);
bool hw_references_have_chart(const hw_references *references);
void hw_references_free(hw_references *references);

// Published L*a*b* (D50) of chart patch 1 to 24.
hw_lab hw_chart_lab(int patch, bool later_edition);
// Sets the chart patches among the references to an edition's colours.
void hw_references_set_edition(hw_references *references, bool later_edition);

// ---- Monotone cubic ----------------------------------------------------------------

#define HW_KNOTS_MOST HW_REFERENCES_MOST

typedef struct hw_cubic {
    double x[HW_KNOTS_MOST], y[HW_KNOTS_MOST], slope[HW_KNOTS_MOST]; // x rises
    size_t count;
} hw_cubic;

void hw_cubic_fit(hw_cubic *cubic); // fills slope
double hw_cubic_at(const hw_cubic *cubic, double x);

// ---- Small matrices ----------------------------------------------------------------

#define HW_INVERT_MOST 8

// Inverse in place of a symmetric positive matrix of n rows, row by row; ln of its determinant where that
// is not NULL. False where it has none; m is spoilt then.
bool hw_card_invert(double *m, size_t n, double *ln_determinant);

// ---- The tone curve ----------------------------------------------------------------

#define HW_TONE_PARAMETERS 3
#define HW_TONE_UNKNOWNS   6 // and ln of a factor a channel

// A neutral step.
typedef struct hw_tone_step {
    double encoded[3]; // of the seen channels
    double ln_true[3]; // ln of what the channels should be, times the light at the place
    double weight;     // 1 / s.d. of ln
} hw_tone_step;

typedef struct hw_tone_steps {
    hw_tone_step at[HW_REFERENCES_MOST];
    size_t count;
} hw_tone_steps;

// Adds a step; one that holds no light in a channel is passed over.
void hw_tone_add_step(hw_tone_steps *steps, hw_lab lab, double u_L, hw_xyz seen,
                      const double ln_light[3]);
// Are they 15 L* or more apart?
bool hw_tone_steps_differ(const hw_tone_steps *steps);

// What is known of the parameters before any step: a normal distribution.
typedef struct hw_tone_start {
    double mean[HW_TONE_PARAMETERS];
    hw_covariance doubt;
} hw_tone_start;
hw_tone_start
hw_tone_usual(bool linear); // of cameras that nothing is known of; linear: of raw files

typedef struct hw_tone_fit {
    double p[HW_TONE_UNKNOWNS];
    double inverse[HW_TONE_UNKNOWNS][HW_TONE_UNKNOWNS]; // their covariance
    double left_over;                                   // root mean square of ln light at the steps
    double strain;                                      // sum of squares of that over their s.d.
} hw_tone_fit;
bool hw_tone_solve(const hw_tone_steps *steps, const hw_tone_start *start, hw_tone_fit *out);
// Root mean square of ln light at the steps by these parameters, with the best factor a channel.
double hw_tone_misfit(const hw_tone_steps *steps, const double parameter[HW_TONE_PARAMETERS]);
// Light of an encoded value by these parameters.
double hw_tone_light(double encoded, const double parameter[HW_TONE_PARAMETERS]);

// ---- The chart ---------------------------------------------------------------------

typedef struct hw_chart_patch {
    int number;          // 1 to 24
    hw_xyz read, wanted; // corrected; published
} hw_chart_patch;

#define HW_CHART_MISS_MOST 6.0 // CIEDE2000: further off, these are not its patches (chosen)
#define HW_CHART_LEAST     12  // usable patches (chosen)

// The matrix of all patches but those of number `without` (0: of all).
bool hw_chart_matrix(const hw_chart_patch *patches, size_t count, int without, double out[3][3]);
double hw_chart_miss(const hw_chart_patch *one, const double m[3][3]); // CIEDE2000; m NULL: none
// The four of these chart patches, given by number, whose published colour is nearest the wood. count at least 4.
void hw_chart_nearest(const int *number, size_t count, bool later_edition, hw_lab wood, int out[4]);

// ---- Fits --------------------------------------------------------------------------

// Fits light->tone to the neutral steps, each divided by the light at its place. Fewer than two, or
// steps that do not fit one another: nothing is straightened, and a warning where one was hoped
// for. With a learned camera (may be NULL) the curve starts from that, and fewer than two leave it so.
void hw_card_fit_tone(const hw_references *references, const hw_camera *camera, hw_light *light);
void hw_card_gather_steps(const hw_references *references, const hw_light *light,
                          hw_tone_steps *out);

// Curve, light over the picture, and gains of a photo; the learned camera may be NULL.
HW_CHECK hw_status hw_card_fit(const hw_photo *photo, const hw_references *references,
                               const hw_card_options *options, const hw_camera *camera,
                               hw_light *light, hw_error *err);

// Mean of the wood that is marked, as photographed, and its middle; `there` is false where none is.
typedef struct hw_mean_wood {
    bool there;
    hw_xyz seen;
    hw_point centre;
} hw_mean_wood;
HW_CHECK hw_status hw_card_mean_wood(const hw_photo *photo, const hw_marks *marks,
                                     hw_mean_wood *out, hw_error *err);
// Its colour by that light; a usual wood where none is marked.
hw_lab hw_card_wood_lab(const hw_light *light, const hw_mean_wood *wood);

// Uses what was learned of the camera where this photo bears it out; *light as before where not, with a warning.
HW_CHECK hw_status hw_card_use_camera(const hw_photo *photo, const hw_marks *marks,
                                      const hw_references *references,
                                      const hw_card_options *options, hw_light *light,
                                      hw_error *err);
void hw_card_uv(hw_xyz colour, double uv[2]); // CIE 1976 (CIE 15:2018, 8.2.2)

// Fits light->field to the cells of all references, straightened.
HW_CHECK hw_status hw_card_fit_field(const hw_references *references, hw_light *light,
                                     hw_error *err);
// Or reads it off a photo of a sheet of the same size; *light as before where that fails. HW_ERR_INPUT with the code sheet-size,
// sheet-overexposed, sheet-dark, sheet-patterned.
HW_CHECK hw_status hw_card_read_sheet(const hw_photo *sheet, const hw_photo *photo, hw_light *light,
                                      hw_error *err);

// Width of the card's rim in pixels, 10 to 90 % of the step of light; 0 where no step is found.
double hw_card_edge_px(const hw_photo *photo, const hw_mark *card, double card_Y);

// Adds to light->warnings what the light lacks.
void hw_card_warn(const hw_reference *card, hw_light *light);

// Sets light->gain from the card.
void hw_card_fit_gain(const hw_references *references, hw_light *light);

// Fits light->chart; `wood` is the mean wood as seen, D50.
void hw_card_fit_chart(const hw_references *references, hw_xyz wood, hw_light *light);

// ---- Steps of the correction -------------------------------------------------------

// A seen colour straightened, and divided by the light at its place; gains and chart still to come.
hw_xyz hw_light_flattened(const hw_light *light, hw_xyz seen, hw_point at);
// ln light of the three bands at a place.
void hw_field_at(const hw_field *field, hw_point at, double ln[3]);
// One channel's encoded value bent by a parameter (0 contrast, 1 lift), per unit.
double hw_tone_bend(double encoded, int parameter);

#endif
