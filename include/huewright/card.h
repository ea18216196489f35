// card.h: what the references in a photo say of its light: the grey card of cast and
// exposure, several neutral steps of the camera's tone curve and stray light, the
// colour chart of the camera's colours, and all of them of light that falls off.
//
// A seen colour is put right in this order, each step only where a reference shows how:
// straightened (tone curve and stray light), divided by the light at its place,
// multiplied by one factor a Bradford-sharpened band, mixed by the chart's 3 x 3 matrix.
//
// Takes a photo and its marks; gives a plain hw_light with its uncertainty, or a refusal
// with the next thing to do. Nothing is kept.
#ifndef HUEWRIGHT_CARD_H
#define HUEWRIGHT_CARD_H

#include "huewright/base.h"
#include "huewright/colour.h"
#include "huewright/mark.h"
#include "huewright/photo.h"

#ifdef __cplusplus
extern "C" {
#endif

// ---- Tone curve --------------------------------------------------------------------

#define HW_TONE_TABLE 513

// How the camera's codes follow the light. Its three parameters bend the encoded value v (IEC
// 61966-2-1) of a seen channel: v + contrast 2 v (1 - v) (1 - 2 v) + lift v (1 - v), and `flare` is
// taken off the light that this stands for.
typedef struct hw_tone {
    size_t steps;                  // neutral steps it rests on; below 2 nothing is straightened
    bool straightens;              // else the parameters are 0 and only their doubt counts
    double parameter[3];           // contrast, lift, flare (share of full scale)
    hw_covariance doubt;           // of the three
    double left_over;              // root mean square of ln light at the steps after the fit
    float ratio[3][HW_TONE_TABLE]; // straightened over seen, before flare, against sqrt(seen)
} hw_tone;

// ---- Light over the picture --------------------------------------------------------

#define HW_FIELD_TERMS  5
#define HW_SHOT_COLUMNS 32
#define HW_SHOT_ROWS    24

// ln of the light at a place over that at `centre`: a quadratic in u, v = (x, y - centre) / scale_px; or
// read off a photo of a plain sheet.
typedef struct hw_field {
    hw_point centre;                // pixels; of the card
    double scale_px;                // longer side of the picture
    double term[3][HW_FIELD_TERMS]; // sharpened long, middle, short: u, v, u u, u v, v v
    // Covariance of the terms: of ln long over middle, of ln middle (which stands for Y), of ln short
    // over middle.
    double doubt[3][HW_FIELD_TERMS][HW_FIELD_TERMS];
    size_t places; // references that it rests on
    double
        coarse[2];   // of ln light and of its colour: standard uncertainty of a reference's mean by
                     // the steps in which the file keeps it
    bool from_sheet; // read off a photo of a sheet; `sheet` counts, not `term`
    float sheet[3][HW_SHOT_ROWS][HW_SHOT_COLUMNS]; // ln light, over the whole picture
    double width_px, height_px;                    // of the picture
} hw_field;

// ---- The light ---------------------------------------------------------------------

typedef struct hw_chart_fit {
    size_t patches;       // usable ones; 0: no chart
    bool used;            // refused where it makes the colours near the wood worse
    double matrix[3][3];  // on corrected X, Y, Z
    double before, after; // mean CIEDE2000 at the four patches nearest the wood, card alone and by
                          // leaving each out in turn
    bool later_edition;   // the published colours since November 2014 fit better
} hw_chart_fit;

typedef struct hw_light {
    double gain[3];     // sharpened long, middle, short: corrected = gain * straightened
    hw_lab card_lab;    // what the card is taken to be
    bool card_measured; // its own L*a*b* was given; else the nominal 18 %
    hw_xyz card_seen;   // trimmed mean of its inner part, as photographed
    double card_u[3];   // standard uncertainty of card_lab
    double card_spread; // share: robust s.d. of single pixels' Y about the plane of light / mean Y
    double card_area;   // share of the picture
    double edge_px; // width of the card's rim in the picture, 10 to 90 % of the step; 0: none seen
    double u_gain[3]; // standard uncertainty of ln gain a band, common to all regions
    double uneven;    // change of light from end to end of the picture, a ratio, 0.3 = 30 %
    double coloured;  // likewise, of the long over the short band: a second lamp's colour
    hw_tone tone;
    hw_field field;
    hw_chart_fit chart;
    hw_warnings warnings;
} hw_light;

typedef struct hw_card_options {
    bool has_lab;          // `lab` was given
    hw_lab lab;            // the card's own measured colour, D50
    const hw_photo *sheet; // a plain sheet in the piece's place, same camera and lamp, or NULL
} hw_card_options;

// Reads the light off the card (or, where no card is marked, off the `neutral` named grey, or
// chart patch 22) and what further references are marked. options may be NULL. HW_ERR_INPUT with
// the code card-missing, card-small, card-overexposed (over 0.5 % of it at the top code in a
// channel), card-underexposed (the same at the bottom, or mean code below 20 of 255),
// card-patterned (its places differ by over 4 %), card-coloured (seen so coloured that no lamp
// explains it). Other references that cannot be used are left aside with a warning.
HW_CHECK hw_status hw_card_read(const hw_photo *photo, const hw_marks *marks,
                                const hw_card_options *options, hw_light *out, hw_error *err);

// ---- Using it ----------------------------------------------------------------------

// Seen colour at a place (pixels) to corrected colour.
hw_xyz hw_light_correct_at(const hw_light *light, hw_xyz seen, hw_point at);

// The same in place for many pixels that lie close together, with the light in their middle.
void hw_light_correct_near(const hw_light *light, hw_point middle, hw_xyz *colours, size_t count);
// Their matrix (row by column), on straightened colours.
void hw_light_matrix_at(const hw_light *light, hw_point at, double matrix[3][3]);

// ---- Its doubts --------------------------------------------------------------------

// About the light between two places: what the references leave open, without what no reference can
// see (the shadow of a moulding). Standard uncertainties of ln long over middle, of ln middle (nearly
// Y), of ln short over middle.
void hw_light_doubt(const hw_light *light, hw_point one, hw_point other, double u[3]);

// ln Y of the light at one place over the other, as corrected for.
double hw_light_change(const hw_light *light, hw_point one, hw_point other);

// A corrected colour as it would be, had the curve's parameter (0 to 2) another value: its own plus
// `step`; the card stays what it is.
hw_xyz hw_light_tone_moved(const hw_light *light, hw_xyz corrected, int parameter, double step);

// A corrected colour as it would be, were the card's L* (0), a* (1) or b* (2) larger by `step`.
hw_xyz hw_light_card_moved(const hw_light *light, hw_xyz corrected, int axis, double step);

#ifdef __cplusplus
}
#endif
#endif
