// mark_internal.h: how marks come to be and are used, in order:
//
//   1 mark_parse.c   from options and from the marks format, and back to it
//   2 mark_chart.c   a colour chart's four corners to its 24 patches
//   3 mark_check.c   against the picture and against each other
//   4 mark_pixels.c  the pixels of a mark, row by row
//   5 mark_ring.c    spots of old wood around a patch
//   6 mark_reuse.c   may they be used in the next photo as they lie?
//
// Carrying them to the next photo of the same piece:
//
//   7 mark_look.c        what is kept of a photo for it, in memory and as bytes
//   8 mark_area.c        which pixels of it count: old wood, and not what changes or moves by itself
//   9 mark_features.c    places of the figure that can be known again, and which is which (libvlfeat)
//  10 mark_homography.c  planes of the piece: homographies that many matches agree on
//  11 mark_align.c       the figure itself laid on the figure; how alike, how sure, alike elsewhere too?
//  12 mark_carry.c       which plane carries which mark, and whether to believe it
#ifndef HUEWRIGHT_MARK_INTERNAL_H
#define HUEWRIGHT_MARK_INTERNAL_H

#include "huewright/mark.h"

// Takes *mark over; frees it on failure, which is memory that is out.
bool hw_marks_append(hw_marks *marks, hw_mark *mark);

// The least and the most of its corners' coordinates.
void hw_mark_extent(const hw_mark *mark, hw_point *least, hw_point *most);

// ---- Looks: places are in widths ---------------------------------------------------
//
// A place in a look: origin in the photo's centre, x right, y down, the photo's longer side = 1. So it does
// not matter how large photos are.

#define HW_LOOK_LONGER 1000 // pixels (chosen: finer does not find more, and takes longer)

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

// The same without features.
hw_status hw_look_take_picture(const hw_photo *photo, hw_look **out, hw_error *err);
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
// The value at a place, bilinear; false outside.
bool hw_grey_at(const hw_grey *grey, double x, double y, float *out);

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
hw_point hw_homography_apply(const hw_homography *h, hw_point p);
// Its denominator: positive on the near side of the horizon, where hw_homography_apply holds.
double hw_homography_depth(const hw_homography *h, hw_point p);
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
} hw_area;

bool hw_area_make(const hw_look *look, hw_area *out); // empty; false: memory
void hw_area_free(hw_area *area);
// Sets what a mark covers, drawn out from its centre of gravity by `factor` of its size and `more` widths. False: memory.
bool hw_area_paint(hw_area *area, const hw_look *look, const hw_mark *mark, double factor,
                   double more, uint8_t value);
// The old wood that tells where the chosen marks lie: targets and a little around, the ring around patches; never
// what changes or moves by itself. `chosen` NULL: all.
bool hw_area_of_wood(hw_area *area, const hw_look *look, const hw_marks *marks, const bool *chosen);
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

// ---- What lies on the piece (mark_reuse.c) -----------------------------------------

// Does a card, step or chart lie on the piece as it did: its edges where they were, one even surface within?
// `area` is room to work in.
hw_status hw_reference_lies(const hw_pyramid *from, const hw_pyramid *to, const hw_look *earlier,
                            hw_area *area, const hw_mark *mark, const hw_homography *h, bool *alike,
                            hw_error *err);

#endif
