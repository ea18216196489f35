// scene.h: pictures of invented furniture, computed from spectra, so that the true colours are
// known.
//
// Wood is a smooth reflectance with grain; dye lies on it in layers that absorb wavelength by
// wavelength; a lamp lights it; a camera with sensitivities of its own, which are not those of the
// eye, takes a noisy photo and writes a JPEG. Shares nothing with the stages of huewright but the
// CIE tables and formulae of colour.h. All spectra here are invented, smooth and plausible, not
// measured.
#ifndef HUEWRIGHT_SCENE_H
#define HUEWRIGHT_SCENE_H

#include "huewright/colour.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define SCENE_REGIONS_MOST 64
#define SCENE_SPOTS_MOST   6
#define SCENE_LAYERS_MOST  9  // one a family
#define SCENE_GRAINS       33 // degrees of grain

// ---- What is in the picture --------------------------------------------------------

typedef enum scene_kind { SCENE_BOARD, SCENE_CARD, SCENE_GROUND } scene_kind;

// A dye laid: its spectrum (absorbance of one pass; borrowed) or its family's, strength times passes.
typedef struct scene_layer {
    const char *family;
    double amount;
    const hw_spectrum *own; // NULL: as scene_dye has it
} scene_layer;

// Where the dye is and how light goes through it (scene_depth.c).
typedef enum scene_depth {
    SCENE_ON_TOP = 0,   // in a clear film: R 10^-A
    SCENE_IN_WOOD,      // among what scatters: adds to K/S
    SCENE_INNER_MIRROR, // in a film that throws light back inside
} scene_depth;

typedef struct scene_region {
    const char *name;
    scene_kind kind;
    const char *role;           // "target", "patch", "card", "neutral", "chart"; NULL: none
    bool whole_board;           // a patch that is a whole board
    double x, y, width, height; // pixels
    hw_lab colour;              // of the bare surface before grain, D50
    double bump; // an absorption of this wood alone near 480 nm: woods that match need not be alike
    bool paint;  // colour by scene_paint, which reaches what no wood has
    bool upright;  // grain runs up and down
    double figure; // strength of the grain, 0.05 to 0.2
    double pores;  // share of pore streaks
    unsigned seed;
    scene_layer layer[SCENE_LAYERS_MOST];
    size_t layer_count;
    scene_depth depth;
    double
        lit; // ln of the light on it beside the rest: a shadow below 0; figured wood looked at from one
             // side above or below, and then the other way round from the other
    bool stepped; // a strip of scene_board: its mark is named by dye and step
    int step;     // its passes
} scene_region;

// A soft spot of shine: white light on top of the wood.
typedef struct scene_spot {
    double x, y, radius[2]; // pixels, s.d. along x and y
    double share;           // of the perfect diffuser, in its middle
} scene_spot;

// How the camera bends its codes. All leave black and white where they are.
typedef enum scene_curve {
    SCENE_CURVE_S = 0,    // v + 2 a v (1 - v) (2 v - 1)
    SCENE_CURVE_LOGISTIC, // a logistic function about 0.45, mixed with the straight line
    SCENE_CURVE_LIFT,     // middle tones lifted as phones do, then the first by half of a
} scene_curve;

typedef struct scene {
    const char *name, *shows;
    size_t width, height;
    scene_region region[SCENE_REGIONS_MOST]; // later ones lie on top
    size_t region_count;
    hw_spectrum lamp;
    double fall_off[2];  // d ln light / d pixel, in x and y
    double near_lamp[3]; // a lamp at x, y, height in pixels: light falls with the square of the
                         // distance and the cosine; 0 height: none
    hw_spectrum second_lamp;
    double second_share[2]; // of the light at the left and at the right edge; 0, 0: none
    scene_spot spot[SCENE_SPOTS_MOST];
    size_t spot_count;
    int camera; // 0 exact (CIE), 1 and 2: with sensitivities of their own, from 3: made up from
                // the number
    double balance[3]; // error of the white balance, factors
    double exposure;   // of the perfect diffuser in full light: 1 = top of the scale
    double flare;      // share of the mean light added everywhere
    double tone;       // a of the curve on code values; 0: straight
    scene_curve curve;
    double noise; // s.d. of a code value near the middle, of 1
    unsigned noise_seed;
    // A photo held by hand: where a pixel (x, y) of it lies in the drawing, (v0 x + v1 y + v2, v3 x + v4 y + v5) over v6 x
    // + v7 y + 1. All 0: as it is drawn.
    double view[8];
    double bound_de00; // for the accuracy run; 0: none
} scene;

// Adds a plain region on top of the others.
scene_region *scene_add(scene *s, const char *name, scene_kind kind, const char *role, double x,
                        double y, double width, double height, hw_lab colour);

// A made-up scene of a condition (scene_random.c): the same for the same seed. NULL at the end of
// the conditions.
const char *scene_condition(size_t index);
bool scene_random(const char *condition, unsigned seed, scene *out, int *quality);

// The same in fewer pixels; grain keeps its size in pixels.
void scene_scale(scene *s, double factor);
// A step board (scene_random.c): regions of the role board_strip named "DYE n", without dye as yet.
void scene_board(const scene *job, unsigned seed, bool plain, const char *const *dye, size_t dyes,
                 int passes, scene *out);

// The scene of that name, or false. scene_name(i): NULL at the end.
bool scene_find(const char *name, scene *out);
const char *scene_name(size_t index);

// ---- Spectra -----------------------------------------------------------------------

// A reflectance with ln R quadratic in wavelength that has this colour under D50.
hw_spectrum scene_wood(hw_lab colour, double bump);
// Absorbance (decadic, both crossings of the film) of one weak pass; false for an unknown family.
bool scene_dye(const char *family, hw_spectrum *out);
// The same of another maker's dye: two bands and a flat part, each changed.
typedef struct scene_change {
    double shift[2];          // nm, of the bands' centres
    double width[2], high[2]; // factors
    double flat;              // factor
} scene_change;
bool scene_dye_changed(const char *family, const scene_change *change, hw_spectrum *out);
hw_spectrum scene_led(double blue, double red); // share of the blue peak; strength of the red side
hw_spectrum scene_tube(double lines);           // a fluorescent tube; strength of its lines
// The smoothest reflectance between 0 and 1 of any colour under D50: R = (1 + tanh z) / 2 with the
// least sum of squared steps of z (least hyperbolic tangent slope squared).
hw_spectrum scene_paint(hw_lab colour);
// Linear sRGB that the camera writes for a reflectance under the lamp; exact for camera 0.
typedef struct scene_camera {
    int kind;
    hw_spectrum sensitivity[3];
    double gain[3];
    double matrix[3][3];
    hw_spectrum lamp;
} scene_camera;
scene_camera scene_camera_for(int kind, const hw_spectrum *lamp, const double balance[3]);
void scene_camera_see(const scene_camera *camera, const hw_spectrum *reflectance, double rgb[3]);

// ---- Chance ------------------------------------------------------------------------

// The same row of numbers for the same state to begin with.
double scene_chance(uint64_t *state); // 0 to 1
double scene_between(uint64_t *state, double low, double high);
double scene_normal(uint64_t *state); // mean 0, s.d. 1, at most 6 off

// ---- Dye in the wood, and light thrown back inside a film (scene_depth.c) -----------

double scene_ks(double reflectance); // Kubelka and Munk 1931, of an opaque layer: (1 - R)^2 / 2R
double scene_from_ks(double ks);
double scene_inside(double reflectance); // Saunderson 1942, without the mirror image of the lamp
double scene_outside(double inside);
// Reflectance of a wood under an absorbance (decadic).
double scene_under(scene_depth depth, double reflectance, double absorbance);

// ---- The picture -------------------------------------------------------------------

typedef struct scene_truth {
    hw_lab lab[SCENE_REGIONS_MOST]; // of the mean of each region's mark, D50
} scene_truth;

// 8-bit R, G, B of width x height; the caller frees it with free(). NULL when memory is out.
uint8_t *scene_render(const scene *what, scene_truth *truth);

// Where a region is marked: drawn in from its edges; and the name of its mark.
void scene_mark(const scene_region *region, double out[4]);
void scene_mark_name(const scene_region *region, char *out, size_t size);

// The same in steps, for many photos of one scene. The scene is borrowed. NULL when memory is out.
typedef struct scene_drawing scene_drawing;
scene_drawing *scene_draw(const scene *what, scene_truth *truth);
void scene_draw_again(scene_drawing *drawing, size_t region); // when its layers have changed
// A photo: light times `exposure`, the picture moved by whole pixels (its edge is drawn out).
uint8_t *scene_expose(const scene_drawing *drawing, double exposure, unsigned noise_seed, int right,
                      int down);
void scene_drawing_free(scene_drawing *drawing);

// Mean reflectance of a region's mark: how often each degree of grain comes, once, then the mean
// under any layers. Its colour is that of scene_truth.
typedef struct scene_grain {
    double share[SCENE_GRAINS];
} scene_grain;
scene_grain scene_grain_of(const scene *what, size_t region);
hw_spectrum scene_mean_reflectance(const scene_region *region, const scene_grain *grain);
// L*a*b* under D50.
hw_lab scene_colour(const hw_spectrum *reflectance);

// NAME.jpg, NAME.json (truth) and NAME-marks.json into a folder.
bool scene_write(const scene *what, const char *folder, const char *name, int quality);
// NAME.jpg alone: of a photo that is held by hand, whose marks lie elsewhere.
bool scene_write_photo(const scene *what, const char *folder, const char *name, int quality);
// Sets the view of a hand that stands `turn` radians askew, `nearer` times as near, `right` and `down` pixels aside.
void scene_hold(scene *s, double turn, double nearer, double right, double down, double tilt);

#endif
