// picture_internal.h: from a photo to pictures that a person looks at, in order:
//
//   picture_frame.c     parts of a photo; pictures copied, freed
//   picture_make.c      photo and light to a picture of linear colour
//   picture_inside.c    which pixels of a picture a mark holds, and by what share
//   picture_lay.c       means, factors, layers of dye
//   picture_reach.c     a repair's mark grown to its joint
//   picture_show.c      as a screen shows it
//   picture_smaller.c   brought down by area
//   picture_distance.c  as the eye sees it from a distance
//   picture_map.c       CIEDE2000 from one colour, pixel by pixel
//   picture_sight.c     does a repair blend from there?
//   picture_strip.c     a joint laid straight
#ifndef HUEWRIGHT_PICTURE_INTERNAL_H
#define HUEWRIGHT_PICTURE_INTERNAL_H

#include "base_internal.h"
#include "huewright/picture.h"

// ---- Small things ------------------------------------------------------------------

static inline hw_xyz hw_pixel_xyz(const float *pixel)
{
    return (hw_xyz){(double)pixel[0], (double)pixel[1], (double)pixel[2]};
}

// One after the other: m times n.
static inline void hw_matrix_after(const double m[3][3], const double n[3][3], double out[3][3])
{
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            out[r][c] = m[r][0] * n[0][c] + m[r][1] * n[1][c] + m[r][2] * n[2][c];
        }
    }
}

// Factors a sharpened band as a matrix on X, Y, Z.
void hw_bands_matrix(const double factor[3], double matrix[3][3]);

// ---- Squares -----------------------------------------------------------------------

// Which source pixels make up one pixel along one side, and how much of the first and the last of them.
typedef struct hw_pixel_part {
    size_t first, last;
    float first_share, last_share; // of a source pixel; the same one: only the first counts
    float over;                    // 1 / all of them together
} hw_pixel_part;

// Pixel `at` of a side brought down by `scale` (at least 1), cut at the end of `source` pixels.
hw_pixel_part hw_pixel_part_of(size_t at, double scale, size_t source);
// How many pixels such a side has: the last one may be cut.
size_t hw_pixel_count(size_t source, double scale);
// Means along one row of three values a pixel.
void hw_pixel_narrow(const float *row, const hw_pixel_part *parts, size_t width, float *out);

// ---- Inside a mark -----------------------------------------------------------------

// A mark in pixels of a picture: half-open stretches from..to of its inside along the line y, left to right.
typedef struct hw_stretch_px {
    double from, to;
} hw_stretch_px;
size_t hw_picture_crossings(const hw_picture *picture, const hw_mark *mark, double y,
                            hw_stretch_px out[HW_SPANS_MOST]);
// Rows that can hold any of it.
void hw_picture_rows_of(const hw_picture *picture, const hw_mark *mark, size_t *first, size_t *end);
// The pixels of row y whose middles lie in the mark.
size_t hw_picture_spans(const hw_picture *picture, const hw_mark *mark, size_t y,
                        hw_span spans[HW_SPANS_MOST]);

// ---- Smaller -----------------------------------------------------------------------

// Brings the picture down by `factor` (over 1) in place, by area. The block is made smaller too.
HW_CHECK hw_status hw_picture_make_smaller(hw_picture *picture, double factor, hw_error *err);

// ---- CIEDE2000 ---------------------------------------------------------------------

// L*, a*, b* (D50) of `count` pixels, in planes; and CIEDE2000 of each from one colour, within 0.01 of hw_ciede2000.
void hw_lab_row(const float *xyz, size_t count, float *L, float *a, float *b);
void hw_de00_row(const float *L, const float *a, const float *b, size_t count, hw_lab from,
                 float *de00);

#endif
