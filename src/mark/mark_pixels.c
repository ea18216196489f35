// mark_pixels.c: which pixels a mark holds: those whose centre lies inside the polygon, by the
// even-odd rule. An edge on a centre counts for the pixel to its right or below, so that two marks
// that share an edge share no pixel.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

double hw_mark_signed_area(const hw_mark *mark)
{
    double twice = 0.0; // shoelace formula
    for (size_t i = 0; i < mark->point_count; i++) {
        hw_point p = mark->points[i], q = mark->points[(i + 1) % mark->point_count];
        twice += p.x * q.y - q.x * p.y;
    }
    return 0.5 * twice;
}

double hw_mark_area(const hw_mark *mark)
{
    return fabs(hw_mark_signed_area(mark));
}

hw_point hw_mark_centre(const hw_mark *mark)
{
    double twice = 0.0, x = 0.0, y = 0.0;
    hw_point first = mark->points[0];
    for (size_t i = 0; i < mark->point_count; i++) {
        hw_point p = mark->points[i], q = mark->points[(i + 1) % mark->point_count];
        double px = p.x - first.x, py = p.y - first.y, qx = q.x - first.x, qy = q.y - first.y;
        double cross = px * qy - qx * py;
        twice += cross;
        x += cross * (px + qx);
        y += cross * (py + qy);
    }
    if (twice == 0.0) {
        return first;
    }
    return (hw_point){first.x + x / (3.0 * twice), first.y + y / (3.0 * twice)};
}

// First pixel whose centre is at or right of `at` (never below 0).
static size_t first_pixel(double at)
{
    double pixel = ceil(at - 0.5);
    return pixel <= 0.0 ? 0 : (size_t)pixel;
}

void hw_mark_extent(const hw_mark *mark, hw_point *least, hw_point *most)
{
    *least = (hw_point){INFINITY, INFINITY};
    *most = (hw_point){-INFINITY, -INFINITY};
    for (size_t i = 0; i < mark->point_count; i++) {
        hw_point p = mark->points[i];
        *least = (hw_point){fmin(least->x, p.x), fmin(least->y, p.y)};
        *most = (hw_point){fmax(most->x, p.x), fmax(most->y, p.y)};
    }
}

hw_box hw_mark_box(const hw_mark *mark)
{
    hw_point least, most;
    hw_mark_extent(mark, &least, &most);
    hw_box box = {first_pixel(least.x), first_pixel(least.y), 0, 0};
    size_t right = first_pixel(most.x), below = first_pixel(most.y);
    box.width = right > box.x ? right - box.x : 0;
    box.height = below > box.y ? below - box.y : 0;
    return box;
}

static void insert(double *values, size_t count, double value)
{
    size_t at = count;
    for (; at > 0 && values[at - 1] > value; at--) {
        values[at] = values[at - 1];
    }
    values[at] = value;
}

size_t hw_mark_spans(const hw_mark *mark, size_t y, hw_span *spans, size_t room)
{
    enum { CROSSINGS_MOST = 512 };
    double crossings[CROSSINGS_MOST];
    double centre = (double)y + 0.5;
    size_t count = 0, found = 0;
    for (size_t i = 0; i < mark->point_count && count < CROSSINGS_MOST; i++) {
        hw_point p = mark->points[i], q = mark->points[(i + 1) % mark->point_count];
        if ((p.y <= centre) != (q.y <= centre)) { // half open: a corner counts once
            insert(crossings, count++, p.x + (centre - p.y) / (q.y - p.y) * (q.x - p.x));
        }
    }
    for (size_t i = 0; i + 1 < count; i += 2) {
        size_t x = first_pixel(crossings[i]), end = first_pixel(crossings[i + 1]);
        if (end > x) {
            if (found < room) {
                spans[found] = (hw_span){x, end - x};
            }
            found++;
        }
    }
    return found < room ? found : room;
}

hw_status hw_mark_shrink(const hw_mark *mark, double factor, hw_mark *out, hw_error *err)
{
    hw_mark small = *mark;
    small.beside = NULL;
    small.beside_count = 0;
    small.points = hw_alloc_array(mark->point_count, sizeof *small.points);
    if (!small.points) {
        return hw_fail_memory(err, "reading a mark");
    }
    hw_point centre = hw_mark_centre(mark);
    for (size_t i = 0; i < mark->point_count; i++) {
        small.points[i].x = centre.x + factor * (mark->points[i].x - centre.x);
        small.points[i].y = centre.y + factor * (mark->points[i].y - centre.y);
    }
    *out = small;
    return HW_OK;
}
