// picture_inside.c: which pixels of a picture lie in a mark, by the even-odd rule. As in mark.h an edge on a middle
// counts for the pixel to its right or below, so that marks which share an edge share no pixel.
#include "picture_internal.h"

#include <math.h>

size_t hw_picture_crossings(const hw_picture *picture, const hw_mark *mark, double y,
                            hw_stretch_px out[HW_SPANS_MOST])
{
    double x[2 * HW_SPANS_MOST], line = (double)picture->frame.y + y * picture->scale;
    size_t count = 0;
    for (size_t i = 0; i < mark->point_count && count < 2 * HW_SPANS_MOST; i++) {
        hw_point a = mark->points[i], b = mark->points[(i + 1) % mark->point_count];
        if ((a.y <= line) == (b.y <= line)) {
            continue;
        }
        double at = a.x + (line - a.y) / (b.y - a.y) * (b.x - a.x);
        at = (at - (double)picture->frame.x) / picture->scale;
        size_t place = count++;
        for (; place > 0 && x[place - 1] > at; place--) {
            x[place] = x[place - 1];
        }
        x[place] = at;
    }
    for (size_t i = 0; i < count / 2; i++) {
        out[i].from = fmin(fmax(x[2 * i], 0.0), (double)picture->width);
        out[i].to = fmin(fmax(x[2 * i + 1], 0.0), (double)picture->width);
    }
    return count / 2;
}

void hw_picture_rows_of(const hw_picture *picture, const hw_mark *mark, size_t *first, size_t *end)
{
    double top = INFINITY, bottom = -INFINITY;
    for (size_t i = 0; i < mark->point_count; i++) {
        top = fmin(top, mark->points[i].y);
        bottom = fmax(bottom, mark->points[i].y);
    }
    top = floor((top - (double)picture->frame.y) / picture->scale);
    bottom = ceil((bottom - (double)picture->frame.y) / picture->scale);
    *first = (size_t)fmin(fmax(top, 0.0), (double)picture->height);
    *end = (size_t)fmin(fmax(bottom, (double)*first), (double)picture->height);
}

size_t hw_picture_spans(const hw_picture *picture, const hw_mark *mark, size_t y,
                        hw_span spans[HW_SPANS_MOST])
{
    hw_stretch_px stretch[HW_SPANS_MOST];
    size_t found = hw_picture_crossings(picture, mark, (double)y + 0.5, stretch), count = 0;
    for (size_t i = 0; i < found; i++) {
        size_t first = (size_t)fmax(ceil(stretch[i].from - 0.5), 0.0);
        size_t end = (size_t)fmax(ceil(stretch[i].to - 0.5), 0.0);
        if (end > first) {
            spans[count++] = (hw_span){first, end - first};
        }
    }
    return count;
}
