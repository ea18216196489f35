// mark_ring.c: spots of old wood around a patch, for a person who marked hardly any.
//
// Two above, two below, one to each side, half as large as the patch is narrow, a quarter of that away
// from it. A spot that leaves the picture or touches another mark is left out; whether the rest is old
// wood is for eye and colour to say.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

static const double spot_share = 0.5, away_share = 0.25;
static const double spot_least = 24.0; // pixels: over HW_MARK_MIN_PIXELS

typedef struct box {
    double x, y, width, height;
} box;

static box box_of(const hw_mark *mark)
{
    hw_point least, most;
    hw_mark_extent(mark, &least, &most);
    return (box){least.x, least.y, most.x - least.x, most.y - least.y};
}

static bool meet(const box *a, const box *b)
{
    return a->x < b->x + b->width && b->x < a->x + a->width && a->y < b->y + b->height &&
           b->y < a->y + a->height;
}

static bool is_clear(const hw_marks *marks, const box *spot, size_t width_px, size_t height_px)
{
    if (spot->x < 0.0 || spot->y < 0.0 || spot->x + spot->width > (double)width_px ||
        spot->y + spot->height > (double)height_px) {
        return false;
    }
    for (size_t i = 0; i < marks->count; i++) {
        box other = box_of(&marks->mark[i]);
        if (meet(spot, &other)) {
            return false;
        }
    }
    return true;
}

hw_status hw_marks_ring(const hw_marks *marks, const hw_mark *patch, size_t width_px,
                        size_t height_px, hw_marks *out, hw_error *err)
{
    box p = box_of(patch);
    double side = fmax(spot_share * fmin(p.width, p.height), spot_least);
    double away = away_share * side, middle_y = p.y + 0.5 * (p.height - side);
    double left = p.x + 0.25 * p.width - 0.5 * side, right = p.x + 0.75 * p.width - 0.5 * side;
    double above = p.y - away - side, below = p.y + p.height + away;
    const hw_point corner[6] = {
        {left, above},  {right, above}, {p.x + p.width + away, middle_y},
        {right, below}, {left, below},  {p.x - away - side, middle_y},
    };
    hw_marks ring = {.width_px = width_px, .height_px = height_px};
    hw_status status = HW_OK;
    for (int i = 0; i < 6 && status == HW_OK; i++) {
        box spot = {floor(corner[i].x), floor(corner[i].y), floor(side), floor(side)};
        char name[HW_NAME_SIZE], region[120];
        if (!is_clear(marks, &spot, width_px, height_px)) {
            continue;
        }
        hw_format_text(name, sizeof name, "around %d", i + 1);
        hw_format_text(region, sizeof region, "%.0f,%.0f,%.0f,%.0f", spot.x, spot.y, spot.width,
                       spot.height);
        status = hw_marks_add(&ring, HW_ROLE_TARGET, name, region, NULL, err);
    }
    if (status != HW_OK) {
        hw_marks_free(&ring);
        return status;
    }
    *out = ring;
    return HW_OK;
}
