// mark_internal.h: how marks come to be and are used, in order:
//
//   1 mark_parse.c   from options and from the marks format, and back to it
//   2 mark_chart.c   a colour chart's four corners to its 24 patches
//   3 mark_check.c   against the picture and against each other
//   4 mark_pixels.c  the pixels of a mark, row by row
//     mark_scale.c   millimetres a pixel, by the card
//   5 mark_ring.c    spots of old wood around a patch
//   6 mark_find_areas.c   finding the card: even areas of the small picture, each with a rectangle in perspective
//   7 mark_find_sides.c   that rectangle laid along the edges that are there
//   8 mark_find_panels.c  what lies inside and around it
//   9 mark_find_chart.c   24 areas in a lattice with the colours of a chart
//  10 mark_find_steps.c   three areas in a row, white, grey, black
//  11 mark_find_card.c   how likely a panel is a plain card, and what speaks against it
//  12 mark_find.c         which of these to propose, and whether to ask
//
// Carrying them to the next photo of the same piece:
//
//  13 mark_look.c        what is kept of a photo for it, in memory and as bytes
//  14 mark_area.c        which pixels of it count: old wood, and not what changes or moves by itself
//  15 mark_features.c    places of the figure that can be known again, and which is which (libvlfeat)
//  16 mark_homography.c  planes of the piece: homographies that many matches agree on
//  17 mark_align.c       the figure itself laid on the figure; how alike, how sure, alike elsewhere too?
//  18 mark_lies.c        does a card lie on the piece as it did?
//  19 mark_carry.c       which plane carries which mark, and whether to believe it
#ifndef HUEWRIGHT_MARK_INTERNAL_H
#define HUEWRIGHT_MARK_INTERNAL_H

#include "huewright/mark.h"

// Takes *mark over; frees it on failure, which is memory that is out.
bool hw_marks_append(hw_marks *marks, hw_mark *mark);

// The least and the most of its corners' coordinates.
void hw_mark_extent(const hw_mark *mark, hw_point *least, hw_point *most);

// ---- Finding the card ----------------------------------------------------------------

// The picture that shapes are looked for in, twice blurred by 1-2-1, and how fast it changes.
typedef struct hw_relief {
    size_t width, height;
    const hw_photo_small *small;
    float *code;  // R, G, B, 0 to 1, row by row
    float *steep; // the greatest change a pixel within a pixel's neighbours, all channels together
} hw_relief;

// An even area and the rectangle in perspective around it.
typedef struct hw_flat {
    hw_point corner[4]; // clockwise as seen, pixels of the small picture
    hw_point centre;    // of gravity of its pixels
    double pixels;
    double fill;  // its pixels over the rectangle's, 0 to 1
    bool at_edge; // reaches the edge of the picture
    int level;    // of evenness, 0 the most even
} hw_flat;

typedef struct hw_flats {
    hw_flat *flat;
    size_t count;
} hw_flats;

#define HW_FIND_LEVELS 6

// *relief borrows small. Free with hw_relief_free.
HW_CHECK hw_status hw_relief_make(const hw_photo_small *small, hw_relief *out, hw_error *err);
void hw_relief_free(hw_relief *relief);
// All even areas of all levels. Free with hw_flats_free.
HW_CHECK hw_status hw_flats_find(const hw_relief *relief, hw_flats *out, hw_error *err);
void hw_flats_free(hw_flats *flats);

// Lays the four sides along the edges near them. False where that makes no quadrilateral. `support` of each side: share
// of its places where an edge lies on the line, 0 to 1.
bool hw_sides_lay(const hw_relief *relief, hw_point corner[4], double support[4]);
// Could it be a rectangle tilted by up to 45 degrees, of no more than that ratio of sides as seen?
bool hw_is_tilted_rectangle(const hw_point corner[4], double ratio_most);
// Area of the overlap over that of both together, of two convex quadrilaterals, both clockwise as seen.
double hw_overlap(const hw_point one[4], const hw_point other[4]);
// > 0: clockwise as seen.
double hw_quad_area(const hw_point corner[4]);

// An even quadrilateral laid along its edges, and what it looks like.
typedef struct hw_panel {
    hw_point corner[4];
    double share;            // of the picture
    double support, weakest; // of its sides: mean, least
    double fill;
    double red, blue; // median of ln(R/G), ln(B/G) of linear light
    double Y;         // median
    double code;      // the highest channel's, 0 to 1, median
    double uneven;    // spread of ln Y about a plane, robust, relative
    double rough;     // median change a pixel, codes
    double around;    // share of places just outside that look like its inside
    bool at_edge;     // reaches the picture's edge
    bool taken;       // belongs to steps or a chart that were found
} hw_panel;

enum { HW_PANELS_MOST = 400 };

typedef struct hw_panels {
    hw_panel panel[HW_PANELS_MOST];
    size_t count;
} hw_panels;

// The panels among even areas, each once.
void hw_panels_lay(const hw_relief *relief, const hw_flats *flats, hw_panels *out);

typedef struct hw_ratios {
    double red, blue, Y; // ln(R/G), ln(B/G) of linear sRGB, Y; black is kept off 0
} hw_ratios;

hw_ratios hw_ratios_of(const float xyz[3]);

// Colours of the whole picture, every fourth pixel each way.
typedef struct hw_scene_colours {
    float *red, *blue; // ln(R/G), ln(B/G)
    float *Y;
    size_t count;
    double bright; // Y that 3 of 100 exceed
} hw_scene_colours;

HW_CHECK hw_status hw_scene_colours_take(const hw_relief *relief, hw_scene_colours *out,
                                         hw_error *err);
void hw_scene_colours_free(hw_scene_colours *colours);

// What speaks against a panel being a plain card.
typedef enum hw_card_doubt {
    HW_DOUBT_SIDES = 0, // a side without an edge
    HW_DOUBT_UNEVEN,    // light that is not even about a plane
    HW_DOUBT_ROUGH,     // grain, weave
    HW_DOUBT_CAST,      // colour in the photo
    HW_DOUBT_COOLER,    // bluer things beside it
    HW_DOUBT_WARMER,    // hardly any wood
    HW_DOUBT_LIGHTEST,  // paper
    HW_DOUBT_DARK,
    HW_DOUBT_LIGHT,
    HW_DOUBT_AROUND, // its like all around
    HW_DOUBT_EDGE,   // at the picture's edge
    HW_DOUBT_SHAPE,  // its area does not fill its rectangle
    HW_DOUBT_LARGE,
    HW_DOUBT_COUNT
} hw_card_doubt;

typedef struct hw_card_verdict {
    double confidence; // 0 to 1
    bool clear;        // no doubt beyond what a likely find may have
    const char *words; // of the gravest doubt, one sentence; "": none; static
} hw_card_verdict;

void hw_card_judge(const hw_panel *panel, const hw_scene_colours *colours, hw_card_verdict *out);

// Three panels in a row.
typedef struct hw_steps_find {
    bool found;
    double quality;  // support of their sides, 0 to 1
    size_t panel[3]; // white, grey, black
} hw_steps_find;

void hw_steps_find_in(const hw_panels *panels, hw_steps_find *out);

// A colour chart.
typedef struct hw_chart_find {
    bool found;
    hw_point corner[4]; // of its field of patches: patch 1, 6, 24, 19
    int patches;        // that were found as areas, of 24
    double order;       // correlation of the ranks of lightness with the chart's
    double colours;     // of its colours, the lower of ln(R/G) and ln(B/G)
} hw_chart_find;

HW_CHECK hw_status hw_chart_find_in(const hw_relief *relief, const hw_flats *flats,
                                    hw_chart_find *out, hw_error *err);
// ---- Looks: places are in widths ---------------------------------------------------
//
// A place in a look: origin in the photo's centre, x right, y down, the photo's longer side = 1. So it does
// not matter how large photos are.

typedef struct hw_grey {
    size_t width, height;
    double pixel;     // its side in widths
    double left, top; // the place of the centre of pixel (0, 0)
    float *value;     // ln Y less its blur, row by row
} hw_grey;

#define HW_DESCRIPTOR 128

typedef struct hw_feature {
    float x, y;  // widths
    float scale; // s.d. of the blur that it stands out at, widths
    float angle; // of its main gradient, radians
    uint8_t descriptor[HW_DESCRIPTOR];
} hw_feature;

struct hw_look {
    size_t photo_width, photo_height; // pixels
    hw_grey grey;
    hw_feature *feature; // NULL where only the picture was asked for
    size_t feature_count;
};

double hw_look_longer_px(const hw_look *look); // of the photo: pixels of a width
hw_point hw_look_from_photo(const hw_look *look, hw_point photo_px);
hw_point hw_look_to_photo(const hw_look *look, hw_point place);

// The picture halved again and again; level 0 is that of the look, which keeps it.
#define HW_LEVELS 4

typedef struct hw_pyramid {
    hw_grey level[HW_LEVELS];
    size_t count; // levels that are at least 16 pixels
} hw_pyramid;

bool hw_pyramid_make(const hw_look *look, hw_pyramid *out); // false: memory
void hw_pyramid_free(hw_pyramid *pyramid);
// The value at a place, bilinear; false outside. (Here, as hw_homography_apply, for loops over many places.)
static inline bool hw_grey_at(const hw_grey *grey, double x, double y, float *out)
{
    double px = (x - grey->left) / grey->pixel, py = (y - grey->top) / grey->pixel;
    if (!(px >= 0.0 && py >= 0.0 && px < (double)grey->width - 1.0 &&
          py < (double)grey->height - 1.0)) {
        return false;
    }
    size_t left = (size_t)px, top = (size_t)py;
    float fx = (float)(px - (double)left), fy = (float)(py - (double)top);
    const float *above = grey->value + top * grey->width + left, *below = above + grey->width;
    float upper = above[0] + fx * (above[1] - above[0]);
    float lower = below[0] + fx * (below[1] - below[0]);
    *out = upper + fy * (lower - upper);
    return true;
}

// ---- Features ----------------------------------------------------------------------

// Those that stand out most, spread over the picture.
hw_status hw_features_find(const hw_grey *grey, hw_feature **out, size_t *count, hw_error *err);

typedef struct hw_match {
    hw_point from, to;   // places in the earlier look and in the new one
    double turn, growth; // radians; ratio of scales
} hw_match;

// Pairs of features that are clearly each other's nearest; none of `from` where skip[i] is set. Free with
// hw_free.
hw_status hw_features_match(const hw_look *from, const bool *skip, const hw_look *to,
                            hw_match **out, size_t *count, hw_error *err);

// ---- Homographies ------------------------------------------------------------------

typedef struct hw_homography {
    double m
        [9]; // row by row; a place (x, y) goes to (m0 x + m1 y + m2, m3 x + m4 y + m5) / (m6 x + m7 y + m8)
} hw_homography;

extern const hw_homography hw_homography_identity;

// Its denominator: positive on the near side of the horizon, where hw_homography_apply holds.
static inline double hw_homography_depth(const hw_homography *h, hw_point p)
{
    return h->m[6] * p.x + h->m[7] * p.y + h->m[8];
}

static inline hw_point hw_homography_apply(const hw_homography *h, hw_point p)
{
    double depth = hw_homography_depth(h, p);
    return (hw_point){(h->m[0] * p.x + h->m[1] * p.y + h->m[2]) / depth,
                      (h->m[3] * p.x + h->m[4] * p.y + h->m[5]) / depth};
}

bool hw_homography_invert(const hw_homography *h, hw_homography *out);
hw_homography hw_homography_product(const hw_homography *second, const hw_homography *first);
// Ratio of areas after to before in the small around p; negative where it mirrors.
double hw_homography_area_ratio(const hw_homography *h, hw_point p);
// Normalised direct linear transform (Hartley and Zisserman 2004, algorithm 4.2) over `count` >= 4 pairs, each with its
// weight (NULL: 1). False where they determine none: three on a line, all at one place.
bool hw_homography_fit(const hw_match *match, const double *weight, size_t count,
                       hw_homography *out);

// A plane of the piece: a homography that many matches agree on.
typedef struct hw_plane {
    hw_homography h;
    size_t inliers;
    double rms; // of the inliers' distances, widths
} hw_plane;

#define HW_INLIER_MOST 0.004 // widths: farther off it is no inlier (chosen)

// The plane with most agreement among matches whose plane[i] is not set yet (-1); sets it to `number` for its
// inliers. Where fewer than eight agree out->inliers is 0.
hw_status hw_plane_find(const hw_match *match, size_t count, int8_t *plane, int8_t number,
                        hw_plane *out, hw_error *err);

// ---- Areas (mark_area.c) -----------------------------------------------------------

// Where in the earlier look: not 0 counts. As large as its level 0.
typedef struct hw_area {
    size_t width, height;
    uint8_t *inside;
    size_t left, right, top,
        bottom; // nothing is set outside: from left and top to before right and bottom
} hw_area;

bool hw_area_make(const hw_look *look, hw_area *out); // empty; false: memory
void hw_area_free(hw_area *area);
void hw_area_clear(hw_area *area);
// Sets what a mark covers, drawn out from its centre of gravity by `factor` of its size and `more` widths. False: memory.
bool hw_area_paint(hw_area *area, const hw_look *look, const hw_mark *mark, double factor,
                   double more, uint8_t value);
// The old wood that tells where the chosen marks lie: targets and a little around, the ring around patches; never
// what changes or moves by itself. `chosen` NULL: all.
bool hw_area_of_wood(hw_area *area, const hw_look *look, const hw_marks *marks, const bool *chosen);
bool hw_area_holds(const hw_area *area, const hw_look *look, hw_point place);
// What changes or moves by itself: patches and references.
bool hw_area_of_change(hw_area *area, const hw_look *look, const hw_marks *marks);

// ---- Alignment ---------------------------------------------------------------------

typedef struct hw_alignment {
    const hw_pyramid *from, *to;
    const hw_area *area;
    const hw_match *match; // inliers that hold it (may be none)
    size_t match_count;
} hw_alignment;

// The uncertainty of a homography: covariance of its eight increments (mark_align.c).
typedef struct hw_doubt {
    double covariance[8][8];
} hw_doubt;

// Moves *h to where figure and matches agree best, if the figures are more alike there. *doubt: of that place.
hw_status hw_align(const hw_alignment *a, hw_homography *h, hw_doubt *doubt, hw_error *err);
// s.d. of the place that p goes to, widths of the new photo.
double hw_doubt_at(const hw_doubt *doubt, const hw_homography *h, hw_point p);
// Correlation of the figures over the area with wild values held back or as they are; 0 where too little of it lies
// in the new photo.
typedef enum hw_holding { HW_HELD_BACK, HW_AS_IT_IS } hw_holding;

hw_status hw_likeness(const hw_pyramid *from, const hw_pyramid *to, const hw_area *area,
                      const hw_homography *h, hw_holding holding, double *likeness, hw_error *err);

// How alike the figures are at home and at the best of all shifts by which they must not be wrong.
typedef struct hw_elsewhere {
    double at_home, likeness;
    hw_point shift; // widths of the earlier look
} hw_elsewhere;

hw_status hw_likeness_elsewhere(const hw_pyramid *from, const hw_pyramid *to, const hw_area *area,
                                const hw_homography *h, hw_elsewhere *out, hw_error *err);

// s.d. of the new picture over the area; 0 where none of it lies there.
hw_status hw_deviation(const hw_pyramid *from, const hw_pyramid *to, const hw_area *area,
                       const hw_homography *h, double *deviation, hw_error *err);

// ---- What lies on the piece (mark_lies.c) ------------------------------------------

// Does a card, step or chart lie on the piece as it did: its edges where they were, one even surface within?
// `area` is room to work in.
hw_status hw_reference_lies(const hw_pyramid *from, const hw_pyramid *to, const hw_look *earlier,
                            hw_area *area, const hw_mark *mark, const hw_homography *h, bool *alike,
                            hw_error *err);

#endif
