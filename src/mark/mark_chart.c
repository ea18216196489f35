// mark_chart.c: four corners of a colour chart to the marks of its 24 patches.
//
// The field of patches is a flat rectangle seen in perspective: a projective map takes the unit
// square to its four corners (P. S. Heckbert, Fundamentals of Texture Mapping and Image Warping,
// 1989, section 2.2.3). Each patch is marked over the inner part of its cell, so that the dark grid
// between the patches stays out.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

#define COLUMNS 6
#define ROWS    4

static const double inner = 0.7; // of a cell's width and height (chosen); readers keep off its rim

typedef struct projective {
    double xx, xy, x0, yx, yy, y0, gx, gy;
} projective;

// The unit square's (0,0), (1,0), (1,1), (0,1) go to corner[0] to [3]. False where three corners lie in
// a line.
static bool square_to_corners(const hw_point corner[4], projective *out)
{
    double dx1 = corner[1].x - corner[2].x, dx2 = corner[3].x - corner[2].x;
    double dy1 = corner[1].y - corner[2].y, dy2 = corner[3].y - corner[2].y;
    double sx = corner[0].x - corner[1].x + corner[2].x - corner[3].x;
    double sy = corner[0].y - corner[1].y + corner[2].y - corner[3].y;
    double area = dx1 * dy2 - dx2 * dy1;
    if (fabs(area) < 1.0) { // pixels squared
        return false;
    }
    double gx = (sx * dy2 - dx2 * sy) / area, gy = (dx1 * sy - sx * dy1) / area;
    *out = (projective){.xx = corner[1].x - corner[0].x + gx * corner[1].x,
                        .xy = corner[3].x - corner[0].x + gy * corner[3].x,
                        .x0 = corner[0].x,
                        .yx = corner[1].y - corner[0].y + gx * corner[1].y,
                        .yy = corner[3].y - corner[0].y + gy * corner[3].y,
                        .y0 = corner[0].y,
                        .gx = gx,
                        .gy = gy};
    return true;
}

static hw_point seen_at(const projective *map, double u, double v)
{
    double w = map->gx * u + map->gy * v + 1.0;
    return (hw_point){(map->xx * u + map->xy * v + map->x0) / w,
                      (map->yx * u + map->yy * v + map->y0) / w};
}

static hw_status add_patch(const projective *map, int number, hw_marks *marks, hw_error *err)
{
    const double side[4][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
    hw_mark mark = {.role = HW_ROLE_CHART, .point_count = 4};
    mark.points = hw_alloc_array(4, sizeof *mark.points);
    if (!mark.points) {
        return hw_fail_memory(err, "reading the marks");
    }
    hw_format_text(mark.name, sizeof mark.name, "%d", number + 1);
    for (int i = 0; i < 4; i++) {
        double column = number % COLUMNS + 0.5 + 0.5 * inner * side[i][0];
        double row = number / COLUMNS + 0.5 + 0.5 * inner * side[i][1];
        mark.points[i] = seen_at(map, column / COLUMNS, row / ROWS);
    }
    return hw_marks_append(marks, &mark) ? HW_OK : hw_fail_memory(err, "reading the marks");
}

hw_status hw_marks_add_chart(hw_marks *marks, const hw_point *corner, size_t count, hw_error *err)
{
    projective map;
    if (count != 4 || !square_to_corners(corner, &map)) {
        return hw_fail(err, HW_ERR_CALL, "chart-corners", "chart",
                       "Give the four outer corners of its patches in this order: dark skin (the "
                       "first), bluish green (end of the first row), black (the last), white.",
                       "these are not the four corners of a colour chart");
    }
    size_t before = marks->count;
    hw_status status = HW_OK;
    for (int number = 0; number < COLUMNS * ROWS && status == HW_OK; number++) {
        status = add_patch(&map, number, marks, err);
    }
    while (status != HW_OK && marks->count > before) {
        hw_mark_free(&marks->mark[--marks->count]);
    }
    return status;
}
