// picture_frame.c: parts of a photo; pictures copied and freed.
#include "picture_internal.h"

#include <math.h>
#include <string.h>

hw_frame hw_frame_around(const hw_mark *mark, double margin, size_t width_px, size_t height_px)
{
    double left = (double)width_px, top = (double)height_px, right = 0.0, bottom = 0.0;
    for (size_t i = 0; i < mark->point_count; i++) {
        left = fmin(left, mark->points[i].x);
        top = fmin(top, mark->points[i].y);
        right = fmax(right, mark->points[i].x);
        bottom = fmax(bottom, mark->points[i].y);
    }
    double more = margin * fmax(right - left, bottom - top);
    left = fmin(fmax(floor(left - more), 0.0), (double)width_px);
    top = fmin(fmax(floor(top - more), 0.0), (double)height_px);
    right = fmin(fmax(ceil(right + more), left), (double)width_px);
    bottom = fmin(fmax(ceil(bottom + more), top), (double)height_px);
    return (hw_frame){(size_t)left, (size_t)top, (size_t)(right - left), (size_t)(bottom - top)};
}

hw_status hw_picture_copy(const hw_picture *from, hw_picture *out, hw_error *err)
{
    size_t count = 3 * from->width * from->height;
    float *xyz = hw_alloc_array(count, sizeof *xyz);
    if (!xyz) {
        return hw_fail_memory(err, "copying the picture");
    }
    memcpy(xyz, from->xyz, count * sizeof *xyz);
    *out = *from;
    out->xyz = xyz;
    return HW_OK;
}

void hw_picture_free(hw_picture *picture)
{
    if (picture) {
        hw_free(picture->xyz);
        *picture = (hw_picture){0};
    }
}

void hw_shown_free(hw_shown *shown)
{
    if (shown) {
        hw_free(shown->rgb);
        *shown = (hw_shown){0};
    }
}

void hw_map_free(hw_map *map)
{
    if (map) {
        hw_free(map->de00);
        hw_free(map->lighter);
        *map = (hw_map){0};
    }
}
