// mark_internal.h: how marks come to be and are used, in order:
//
//   1 mark_parse.c   from options and from the marks format, and back to it
//   2 mark_chart.c   a colour chart's four corners to its 24 patches
//   3 mark_check.c   against the picture and against each other
//   4 mark_pixels.c  the pixels of a mark, row by row
//   5 mark_ring.c    spots of old wood around a patch
//   6 mark_reuse.c   may they be used in the next photo as they lie?
//   7 mark_find_areas.c   finding the card: even areas of the small picture, each with a rectangle in perspective
//   8 mark_find_sides.c   that rectangle laid along the edges that are there
//   9 mark_find_panels.c  what lies inside and around it
//  10 mark_find_chart.c   24 areas in a lattice with the colours of a chart
//  11 mark_find_steps.c   three areas in a row, white, grey, black
//  12 mark_find_card.c   how likely a panel is a plain card, and what speaks against it
//  13 mark_find.c         which of these to propose, and whether to ask
#ifndef HUEWRIGHT_MARK_INTERNAL_H
#define HUEWRIGHT_MARK_INTERNAL_H

#include "huewright/mark.h"

// Takes *mark over; frees it on failure, which is memory that is out.
bool hw_marks_append(hw_marks *marks, hw_mark *mark);

// The least and the most of its corners' coordinates.
void hw_mark_extent(const hw_mark *mark, hw_point *least, hw_point *most);

// ---- Finding the card ----------------------------------------------------------------

// The picture that shapes are looked for in, twice blurred by 1-2-1, and how fast it changes.
typedef struct hw_look {
    size_t width, height;
    const hw_photo_small *small;
    float *code;  // R, G, B, 0 to 1, row by row
    float *steep; // the greatest change a pixel within a pixel's neighbours, all channels together
} hw_look;

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

// *look borrows small. Free with hw_look_free.
HW_CHECK hw_status hw_look_make(const hw_photo_small *small, hw_look *out, hw_error *err);
void hw_look_free(hw_look *look);
// All even areas of all levels. Free with hw_flats_free.
HW_CHECK hw_status hw_flats_find(const hw_look *look, hw_flats *out, hw_error *err);
void hw_flats_free(hw_flats *flats);

// How well a rectangle's sides lie along edges.
typedef struct hw_sides {
    double support[4]; // share of places of a side where an edge lies on the line, 0 to 1
    double step[4];    // its height there, codes of 0 to 1, all channels together
} hw_sides;

// Lays the four sides along the edges near them. False where that makes no quadrilateral.
bool hw_sides_lay(const hw_look *look, hw_point corner[4], hw_sides *out);
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
    double step;             // height of the faintest supported side, codes
    double fill;
    double red, blue; // median of ln(R/G), ln(B/G) of linear light
    double Y;         // median
    double code;      // the highest channel's, 0 to 1, median
    double uneven;    // spread of ln Y about a plane, robust, relative
    double mottle;    // spread of its colour, robust, the same way
    double rough;     // median change a pixel, codes
    double slope;     // of that plane, across the whole card, ln
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
void hw_panels_lay(const hw_look *look, const hw_flats *flats, hw_panels *out);

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

HW_CHECK hw_status hw_scene_colours_take(const hw_look *look, hw_scene_colours *out, hw_error *err);
void hw_scene_colours_free(hw_scene_colours *colours);

// What speaks against a panel being a plain card.
typedef enum hw_doubt {
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
} hw_doubt;

typedef struct hw_card_verdict {
    double confidence; // 0 to 1
    bool clear;        // no doubt beyond what a sure find may have
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

HW_CHECK hw_status hw_chart_find_in(const hw_look *look, const hw_flats *flats, hw_chart_find *out,
                                    hw_error *err);

#endif
