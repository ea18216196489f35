// mark_scale.c: how large a pixel is on the piece, by the card, whose sides are known.
//
// It needs no direction: the photo looks at card and piece square on, both lie in one plane, so that one millimetre is as
// many pixels everywhere; and the card's mark reaches the card's edges. Nothing of that can be seen in the mark but one
// thing: a mark of four corners whose sides are not as long to each other as the card's is no whole card seen square on.
#include "huewright/mark.h"

#include <math.h>

// By how much the sides of the card's mark may be off: marks are drawn by hand, and a photo tilted by 25 degrees shortens
// one side by a tenth (chosen).
static const double sides_off_most = 0.10;

static double distance(hw_point one, hw_point other)
{
    return hypot(one.x - other.x, one.y - other.y);
}

// Opposite sides are taken together, so which way the card lies does not matter.
double hw_mark_sides(const hw_mark *mark)
{
    const hw_point *p = mark->points;
    if (mark->point_count != 4) {
        return (double)NAN;
    }
    double one = distance(p[0], p[1]) + distance(p[2], p[3]);
    double other = distance(p[1], p[2]) + distance(p[3], p[0]);
    return fmax(one, other) / fmin(one, other);
}

bool hw_mark_mm_a_px(const hw_mark *card, const double mm[2], double *out)
{
    double sides = fmax(mm[0], mm[1]) / fmin(mm[0], mm[1]);
    double one = sqrt(mm[0] * mm[1] / hw_mark_area(card));
    bool fits = mm[0] > 0.0 && mm[1] > 0.0 && isfinite(one) &&
                fabs(hw_mark_sides(card) / sides - 1.0) <= sides_off_most; // no NaN does
    if (fits) {
        *out = one;
    }
    return fits;
}
