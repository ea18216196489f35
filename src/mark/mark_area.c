// mark_area.c: which pixels of the earlier look count.
//
// Old wood tells where things lie: what is marked as such with a little around it, and a ring around each repair.
// The repair is meant to change, and card, steps and chart are laid down anew for each photo: none of them is asked.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

// How far marks are drawn out: a factor of their size, and widths (chosen).
static const double target_factor = 1.08, target_more = 0.012;
static const double ring_factor = 1.25, ring_more = 0.08;
// What changes changes the blur around it, and with it what is left when that is taken out: two of its s.d.
static const double change_factor = 1.0, change_more = 0.03;
static const double moving_factor = 1.0, moving_more = 0.03;

bool hw_area_make(const hw_look *look, hw_area *out)
{
    *out = (hw_area){.width = look->grey.width,
                     .height = look->grey.height,
                     .inside = hw_alloc_array(look->grey.width * look->grey.height, 1)};
    return out->inside != NULL;
}

void hw_area_clear(hw_area *area)
{
    memset(area->inside, 0, area->width * area->height);
    area->left = area->right = area->top = area->bottom = 0;
}

void hw_area_free(hw_area *area)
{
    hw_free(area->inside);
    *area = (hw_area){0};
}

// The mark in pixels of the look, drawn out.
static bool drawn_out(const hw_look *look, const hw_mark *mark, double factor, double more,
                      hw_mark *out)
{
    hw_point centre = hw_look_from_photo(look, hw_mark_centre(mark));
    hw_point origin = hw_look_from_photo(look, (hw_point){0.0, 0.0});
    *out = (hw_mark){.role = mark->role, .point_count = mark->point_count};
    out->points = hw_alloc_array(mark->point_count, sizeof *out->points);
    for (size_t i = 0; out->points && i < mark->point_count; i++) {
        hw_point p = hw_look_from_photo(look, mark->points[i]);
        double dx = p.x - centre.x, dy = p.y - centre.y, far = hypot(dx, dy);
        double grown = far > 0.0 ? factor + more / far : factor;
        out->points[i] = (hw_point){(centre.x + grown * dx - origin.x) / look->grey.pixel,
                                    (centre.y + grown * dy - origin.y) / look->grey.pixel};
    }
    return out->points != NULL;
}

// Pixels left to before right of that row.
static void paint_run(hw_area *area, size_t y, size_t left, size_t right, uint8_t value)
{
    memset(area->inside + y * area->width + left, value, right - left);
    if (value) {
        bool first = area->right == 0;
        area->left = first || left < area->left ? left : area->left;
        area->right = right > area->right ? right : area->right;
        area->top = first || y < area->top ? y : area->top;
        area->bottom = y + 1 > area->bottom ? y + 1 : area->bottom;
    }
}

bool hw_area_paint(hw_area *area, const hw_look *look, const hw_mark *mark, double factor,
                   double more, uint8_t value)
{
    hw_mark drawn;
    hw_point least, most;
    if (!drawn_out(look, mark, factor, more, &drawn)) {
        return false;
    }
    size_t room = drawn.point_count / 2 + 1;
    hw_span *spans = hw_alloc_array(room, sizeof *spans);
    if (spans) {
        hw_mark_extent(&drawn, &least, &most);
        size_t end = (size_t)fmin(fmax(ceil(most.y), 0.0), (double)area->height);
        for (size_t y = (size_t)fmin(fmax(least.y, 0.0), (double)end); y < end; y++) {
            size_t count = hw_mark_spans(&drawn, y, spans, room);
            for (size_t i = 0; i < count; i++) {
                size_t right = spans[i].x + spans[i].count;
                right = right < area->width ? right : area->width;
                if (spans[i].x < right) {
                    paint_run(area, y, spans[i].x, right, value);
                }
            }
        }
    }
    hw_free(drawn.points);
    hw_free(spans);
    return spans != NULL;
}

bool hw_area_holds(const hw_area *area, const hw_look *look, hw_point place)
{
    double x = (place.x - look->grey.left) / look->grey.pixel + 0.5;
    double y = (place.y - look->grey.top) / look->grey.pixel + 0.5;
    return x >= 0.0 && y >= 0.0 && x < (double)area->width && y < (double)area->height &&
           area->inside[(size_t)y * area->width + (size_t)x];
}

// Sets what changes or moves by itself to `value`.
static bool paint_change(hw_area *area, const hw_look *look, const hw_marks *marks, uint8_t value)
{
    bool good = true;
    for (size_t i = 0; i < marks->count && good; i++) {
        const hw_mark *mark = &marks->mark[i];
        if (mark->role == HW_ROLE_PATCH) {
            good = hw_area_paint(area, look, mark, change_factor, change_more, value);
        } else if (mark->role != HW_ROLE_TARGET) {
            good = hw_area_paint(area, look, mark, moving_factor, moving_more, value);
        }
    }
    return good;
}

bool hw_area_of_change(hw_area *area, const hw_look *look, const hw_marks *marks)
{
    hw_area_clear(area);
    return paint_change(area, look, marks, 1);
}

bool hw_area_of_wood(hw_area *area, const hw_look *look, const hw_marks *marks, const bool *chosen)
{
    bool good = true;
    hw_area_clear(area);
    for (size_t i = 0; i < marks->count && good; i++) {
        const hw_mark *mark = &marks->mark[i];
        if (chosen && !chosen[i]) {
            continue;
        }
        if (mark->role == HW_ROLE_TARGET) {
            good = hw_area_paint(area, look, mark, target_factor, target_more, 1);
        } else if (mark->role == HW_ROLE_PATCH) {
            good = hw_area_paint(area, look, mark, ring_factor, ring_more, 1);
        }
    }
    return good && paint_change(area, look, marks, 0);
}
