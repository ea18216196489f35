// card.h: what the references in a photo say of its light: the grey card of cast and
// exposure, several neutral steps of the camera's tone curve and stray light, the
// colour chart of the camera's colours, and all of them of light that falls off.
//
// A seen colour is put right in this order, each step only where a reference shows how:
// straightened (tone curve and stray light), divided by the light at its place,
// multiplied by one factor a Bradford-sharpened band, mixed by the chart's 3 x 3 matrix.
//
// What a chart photo showed of its camera can be given along with a later photo that has only a
// card: it is where the curve starts from and brings its matrix, as far as the later photo bears it out.
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
    size_t steps;        // neutral steps it rests on; below 2 only a learned camera straightens
    bool straightens;    // else the parameters are 0 and only their doubt counts
    bool strange;        // few steps, and they say what hardly any camera does
    double parameter[3]; // contrast, lift, flare (share of full scale)
    hw_covariance doubt; // of the three
    double left_over;    // root mean square of ln light at the steps after the fit
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

// ---- A camera as learned -----------------------------------------------------------

#define HW_CAMERA_PHOTOS_MOST  12 // of one camera under one lamp: beyond that the oldest go
#define HW_CAMERA_PATCHES_MOST 48

// A reference of a chart photo: what it is, and how the camera showed it.
typedef struct hw_camera_patch {
    int chart_patch;    // 1 to 24; 0: a plain grey
    hw_lab lab;         // what it is, D50; of a chart's patch as published
    double u_L;         // standard uncertainty of its L*
    hw_xyz seen;        // as photographed, D50, Y = 1 for the profile's white
    double ln_light[3]; // at its place over that at the card, sharpened long, middle, short
} hw_camera_patch;

// What one photo showed of a camera under a lamp. All that is computed of a camera is computed of these.
typedef struct hw_camera_seen {
    char camera[96];                               // make and model, as the file names them
    char lamp[HW_NAME_SIZE];                       // as the person named it
    char photo[65];                                // SHA-256 of the file, in hexadecimal digits
    char file[320];                                // its name
    int64_t at;                                    // when it was learned
    bool later_edition;                            // of the chart: since November 2014
    hw_camera_patch patch[HW_CAMERA_PATCHES_MOST]; // the card, or what stands for it, first
    size_t count;
} hw_camera_seen;

// What they teach together of the next photo.
typedef struct hw_camera {
    char camera[96], lamp[HW_NAME_SIZE];
    size_t photos;                // that it rests on; 0: nothing is learned
    int64_t learned_at;           // the latest of them
    double age_days;              // of that, when this was computed
    double parameter[3];          // of the curve (hw_tone) in the next photo
    hw_covariance doubt;          // of these: what the photos leave open, and how shots differ
    double scatter;               // how shots differ, over what is usual of cameras (1)
    double light_low, light_high; // Y as photographed between which the greys lay
    double card_uv[HW_CAMERA_PHOTOS_MOST][2]; // u', v' (CIE 1976) of the card as photographed
    bool has_matrix;                          // else no chart was seen
    bool later_edition;
    double matrix[3][3]; // on corrected X, Y, Z
    // Mean CIEDE2000 of each chart patch, by the grey alone and with all of this, left out in turn; below
    // 0: not seen.
    double before[24], after[24];
} hw_camera;

// What became of it in a photo.
typedef struct hw_camera_use {
    char lamp[HW_NAME_SIZE];
    size_t photos; // 0: nothing was learned of this camera under this lamp
    double age_days;
    bool curve, colours;  // taken out by what was learned
    double moved;         // u'v' of the card from the nearest of the learned photos
    double before, after; // CIEDE2000 at the four chart patches nearest the wood, as above
    char why_not[240];    // why all of it was left aside; ""
} hw_camera_use;

// The patches nearest a wood: mean of `before` and of `after`. False where no chart was seen.
bool hw_camera_near(const hw_camera *camera, hw_lab wood, double *before, double *after);

// All that photos of one camera under one lamp teach, at a time. count 1 to HW_CAMERA_PHOTOS_MOST. False where nothing
// can be computed of any of them; *out untouched then.
HW_CHECK bool hw_camera_fit(const hw_camera_seen *const *seen, size_t count, int64_t now,
                            hw_camera *out);

// ---- The light ---------------------------------------------------------------------

typedef struct hw_chart_fit {
    size_t patches; // usable ones; 0: no chart in this photo
    bool
        used; // refused where it makes the colours near the wood worse. With no chart: by a learned matrix
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
    bool linear;      // a raw file: no tone curve lies over it
    hw_tone tone;
    hw_field field;
    hw_chart_fit chart;
    hw_camera_use camera; // as learned from other photos
    hw_warnings warnings;
} hw_light;

// Can a grey card have that colour? L* above 0 to 100 and, since a slip of the keys has more, a chroma up to 60 (chosen).
bool hw_card_can_be(hw_lab lab);

typedef struct hw_card_options {
    bool has_lab;            // `lab` was given
    hw_lab lab;              // the card's own measured colour, D50
    const hw_photo *sheet;   // a plain sheet in the piece's place, same camera and lamp, or NULL
    const hw_camera *camera; // what was learned of this camera under this lamp, or NULL
} hw_card_options;

// Reads the light off the card (or, where no card is marked, off the `neutral` named grey, or
// chart patch 22) and what further references are marked. options may be NULL. HW_ERR_INPUT with
// the code card-missing, card-small, card-overexposed (over 0.5 % of it at the top code in a
// channel), card-underexposed (the same at the bottom, or mean code below 20 of 255),
// card-patterned (its places differ by over 4 %), card-coloured (seen so coloured that no lamp
// explains it). Other references that cannot be used are left aside with a warning.
HW_CHECK hw_status hw_card_read(const hw_photo *photo, const hw_marks *marks,
                                const hw_card_options *options, hw_light *out, hw_error *err);

// What a photo of a colour chart, or of several neutral steps, shows of its camera; the names, the file and the time
// are the caller's to fill in. A learned camera among the options is not looked at. Codes of hw_card_read, and
// HW_ERR_INPUT with camera-references (no chart and no three steps from dark to light), camera-patch (a grey or too many
// colours of the chart cannot be used), camera-light (it falls off over them, or two lamps light them), camera-steps (the
// greys do not fit one another, or say what hardly any camera does), camera-worse (at the colours near the wood, each left
// out in turn, the card alone reads as well).
HW_CHECK hw_status hw_card_learn(const hw_photo *photo, const hw_marks *marks,
                                 const hw_card_options *options, hw_camera_seen *out,
                                 hw_error *err);

// ---- Using it ----------------------------------------------------------------------

// Seen colour at a place (pixels) to corrected colour.
hw_xyz hw_light_correct_at(const hw_light *light, hw_xyz seen, hw_point at);

// The same in place for many pixels that lie close together, with the light in their middle.
void hw_light_correct_near(const hw_light *light, hw_point middle, hw_xyz *colours, size_t count);
// Their matrix (row by column), on straightened colours.
void hw_light_matrix_at(const hw_light *light, hw_point at, double matrix[3][3]);

// Straightens seen colours in place, the first of those steps. As linear sRGB, in floats, it goes channel by channel:
// R, G, B of each, for whole pictures.
void hw_light_straighten(const hw_light *light, hw_xyz *colours, size_t count);
void hw_light_straighten_linear(const hw_light *light, float *rgb, size_t count);

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
