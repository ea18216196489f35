// mark_lies.c: does a card, step or chart lie on the piece as it did? It is lifted more easily than a cabinet: its edges
// must show where they were, and within it must be one even surface.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

static const double edges_factor = 1.03, edges_more = 0.006; // a mark with its edges (chosen)
static const double reference_likeness_least = 0.85;         // of a mark with its edges (chosen)
static const double edges_least =
    0.05; // s.d. of ln Y: a card as light as the wood has no edges to know it by (chosen)
static const double inner_factor = 0.7;

// How uneven the inside of a mark is: s.d. of ln Y less its blur.
static hw_status unevenness(const hw_pyramid *from, const hw_pyramid *to, const hw_look *earlier,
                            hw_area *area, const hw_mark *mark, const hw_homography *h,
                            double *deviation, hw_error *err)
{
    hw_area_clear(area);
    if (!hw_area_paint(area, earlier, mark, inner_factor, 0.0, 1)) {
        return hw_fail_memory(err, "looking at the grey card");
    }
    return hw_deviation(from, to, area, h, deviation, err);
}

hw_status hw_reference_lies(const hw_pyramid *from, const hw_pyramid *to, const hw_look *earlier,
                            hw_area *area, const hw_mark *mark, const hw_homography *h, bool *alike,
                            hw_error *err)
{
    double likeness = 0.0, was = 0.0, is = 0.0, edges = 0.0, held_back = 0.0;
    hw_area_clear(area);
    if (!hw_area_paint(area, earlier, mark, edges_factor, edges_more, 1)) {
        return hw_fail_memory(err, "looking at the grey card");
    }
    hw_status status = hw_likeness(from, to, area, h, HW_AS_IT_IS, &likeness, err);
    if (status == HW_OK) { // so that one edge of the piece beside it does not decide
        status = hw_likeness(from, to, area, h, HW_HELD_BACK, &held_back, err);
    }
    if (status == HW_OK) {
        status = hw_deviation(from, from, area, &hw_homography_identity, &edges, err);
    }
    if (status == HW_OK) {
        status = unevenness(from, from, earlier, area, mark, &hw_homography_identity, &was, err);
    }
    if (status == HW_OK) {
        status = unevenness(from, to, earlier, area, mark, h, &is, err);
    }
    *alike = edges >= edges_least && is <= 1.5 * was + 0.01 &&
             fmin(likeness, held_back) >= reference_likeness_least;
    return status;
}
