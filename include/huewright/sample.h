// sample.h: the colour of a piece of grained, glossy wood. The mean of linear light
// over the marked pixels without glare (seen from afar, colours mix as light), how
// much the wood itself varies, and how sure the mean is when neighbouring pixels are
// not independent.
//
// Takes photo, light and mark; gives a plain hw_sample with a small grid of cells (means of
// squares of pixels), from which later stages make pieces of any size without
// reading the picture again.
#ifndef HUEWRIGHT_SAMPLE_H
#define HUEWRIGHT_SAMPLE_H

#include "huewright/base.h"
#include "huewright/card.h"
#include "huewright/colour.h"
#include "huewright/mark.h"
#include "huewright/photo.h"

#ifdef __cplusplus
extern "C" {
#endif

#define HW_PORE_LEAST_PX 3.0 // narrower pores are mixed with the wood by lens and file

// Sum of the kept pixels of one small square.
typedef struct hw_cell {
    double X, Y, Z;  // sums of corrected values
    uint32_t pixels; // kept ones
} hw_cell;

typedef struct hw_sample {
    char name[HW_NAME_SIZE];
    hw_role role;
    hw_kind kind;
    hw_xyz xyz; // mean of the kept pixels, corrected by the light
    hw_lab lab; // of xyz
    hw_covariance
        covariance; // of lab: how far the texture leaves the mean open (blocks); the light
                    // and the camera are doubted in compare.h
    hw_covariance mark_shift; // of lab: marks that lie a little aside (by 2 pixels in 1600, chosen)
    double standard_error[3]; // L*, a*, b*: root of its diagonal
    bool standard_error_is_floor; // the blocks did not settle: "at least"
    double spread[3];             // s.d. of L*, a*, b* over the region, cell by cell
    size_t pixels;                // marked
    size_t left_out;              // of them, dropped as glare
    double glare_share;           // left_out / pixels
    double shine_u;               // share of the perfect diffuser by which shine may still lift it
    double shade;                 // step of ln light at a shadow's edge across it, 0 for none
    double pore_share; // share of pixels far darker than the median (kept: pores are wood)
    double pore_px;    // their mean width across the grain
    bool ground_known; // pores span three pixels or more, so that the wood between them can be told
    hw_xyz ground;     // mean of the wood between the pores; where known
    hw_lab ground_lab; // of ground
    hw_lab pore_lab;   // of the pores
    double clipped_share;       // share of pixels with a channel at its top or bottom
    hw_point centre;            // pixels
    double width_px, height_px; // of the mark's box
    hw_cell *cells;             // rows x columns, row by row
    size_t columns, rows;
    size_t cell_px;        // side of a cell
    size_t cell_x, cell_y; // top left pixel of the first cell
} hw_sample;

void hw_cell_add(hw_cell *sum, const hw_cell *cell);

void hw_sample_free(hw_sample *sample); // leaves an empty one

// Samples one mark. HW_ERR_INPUT with the code region-clipped (over 0.5 % of it at the end of a
// channel's range, glare apart) or region-glare (over half of it is glare). Smaller troubles
// go to `warnings`: glare over 10 %, colours no wood has, a region darker than can be read well.
HW_CHECK hw_status hw_sample_take(const hw_photo *photo, const hw_light *light, const hw_mark *mark,
                                  hw_sample *out, hw_warnings *warnings, hw_error *err);

// Mean colours of the sample's own pieces of about width x height pixels, laid edge to edge from
// the middle; pieces that the mark fills by less than half are dropped. At most `room` into out;
// returns how many there are. A mark smaller than one piece gives 1: itself; an empty sample 0.
size_t hw_sample_pieces(const hw_sample *sample, double width_px, double height_px, hw_xyz *out,
                        size_t room);

// The sample in three parts along its longer side: means of the first end, the middle and the other
// end (first: left or top). False where a part holds too few pixels.
bool hw_sample_thirds(const hw_sample *sample, hw_xyz out[3], bool *upright);

#ifdef __cplusplus
}
#endif
#endif
