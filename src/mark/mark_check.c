// mark_check.c: marks against the picture and against each other. Each refusal names the mark and
// what to do; the first one found is told.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

static const double outside_grace = 0.5; // pixels: marks are often rounded to the picture's edge

static bool is_reference(const hw_mark *mark)
{
    return mark->role == HW_ROLE_CARD || mark->role == HW_ROLE_NEUTRAL ||
           mark->role == HW_ROLE_CHART || mark->role == HW_ROLE_FIELD;
}

// ---- One mark ----------------------------------------------------------------------

static hw_status check_inside(const hw_mark *mark, size_t width_px, size_t height_px, hw_error *err)
{
    for (size_t i = 0; i < mark->point_count; i++) {
        hw_point p = mark->points[i];
        bool inside = p.x >= -outside_grace && p.y >= -outside_grace &&
                      p.x <= (double)width_px + outside_grace &&
                      p.y <= (double)height_px + outside_grace;
        if (!inside) {
            return hw_fail(err, HW_ERR_CALL, "mark-outside", mark->name,
                           "Give pixels of the upright picture, as a viewer shows it.",
                           "this mark reaches outside the picture: corner %.6g,%.6g of a picture "
                           "of %zu x %zu",
                           p.x, p.y, width_px, height_px);
        }
    }
    return HW_OK;
}

static double side_of(hw_point a, hw_point b, hw_point p)
{
    return (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x);
}

static bool on_segment(hw_point a, hw_point b, hw_point p)
{
    return fmin(a.x, b.x) <= p.x && p.x <= fmax(a.x, b.x) && fmin(a.y, b.y) <= p.y &&
           p.y <= fmax(a.y, b.y);
}

static bool segments_meet(hw_point a, hw_point b, hw_point c, hw_point d)
{
    double c_side = side_of(a, b, c), d_side = side_of(a, b, d);
    double a_side = side_of(c, d, a), b_side = side_of(c, d, b);
    if (((c_side > 0.0) != (d_side > 0.0)) && ((a_side > 0.0) != (b_side > 0.0)) && c_side != 0.0 &&
        d_side != 0.0 && a_side != 0.0 && b_side != 0.0) {
        return true;
    }
    return (c_side == 0.0 && on_segment(a, b, c)) || (d_side == 0.0 && on_segment(a, b, d)) ||
           (a_side == 0.0 && on_segment(c, d, a)) || (b_side == 0.0 && on_segment(c, d, b));
}

static bool crosses_itself(const hw_mark *mark)
{
    size_t n = mark->point_count;
    for (size_t i = 0; i < n; i++) {
        for (size_t j = i + 2; j < n; j++) {
            if (i == 0 && j == n - 1) {
                continue; // neighbours share a corner
            }
            if (segments_meet(mark->points[i], mark->points[(i + 1) % n], mark->points[j],
                              mark->points[(j + 1) % n])) {
                return true;
            }
        }
    }
    return false;
}

// Pixels of the mark that lie in the picture.
static size_t count_pixels(const hw_mark *mark, size_t enough)
{
    hw_box box = hw_mark_box(mark);
    size_t count = 0;
    for (size_t y = box.y; y < box.y + box.height && count < enough; y++) {
        hw_span spans[HW_SPANS_MOST];
        size_t found = hw_mark_spans(mark, y, spans, HW_SPANS_MOST);
        for (size_t i = 0; i < found; i++) {
            count += spans[i].count;
        }
    }
    return count;
}

static hw_status check_mark(const hw_mark *mark, size_t width_px, size_t height_px, hw_error *err)
{
    hw_status status = check_inside(mark, width_px, height_px, err);
    if (status != HW_OK) {
        return status;
    }
    if (crosses_itself(mark)) {
        return hw_fail(err, HW_ERR_CALL, "mark-crossing", mark->name,
                       "Give the corners in order, once around.",
                       "the outline of this mark crosses itself");
    }
    size_t pixels = count_pixels(mark, HW_MARK_MIN_PIXELS);
    bool needed = hw_role_is_wood(mark->role) || mark->role == HW_ROLE_CARD;
    if (needed && pixels < HW_MARK_MIN_PIXELS) {
        return hw_fail(err, HW_ERR_CALL, "mark-small", mark->name,
                       "Mark a larger area, or go nearer with the camera.",
                       "this mark holds %zu pixels, and a colour needs at least %d", pixels,
                       HW_MARK_MIN_PIXELS);
    }
    return HW_OK;
}

// ---- Marks among each other --------------------------------------------------------

static bool spans_share(const hw_mark *one, const hw_mark *other, size_t y)
{
    hw_span a[HW_SPANS_MOST], b[HW_SPANS_MOST];
    size_t a_count = hw_mark_spans(one, y, a, HW_SPANS_MOST);
    size_t b_count = hw_mark_spans(other, y, b, HW_SPANS_MOST);
    for (size_t i = 0; i < a_count; i++) {
        for (size_t j = 0; j < b_count; j++) {
            if (a[i].x < b[j].x + b[j].count && b[j].x < a[i].x + a[i].count) {
                return true;
            }
        }
    }
    return false;
}

static bool share_pixels(const hw_mark *one, const hw_mark *other)
{
    hw_box a = hw_mark_box(one), b = hw_mark_box(other);
    size_t top = a.y > b.y ? a.y : b.y;
    size_t a_end = a.y + a.height, b_end = b.y + b.height;
    for (size_t y = top; y < a_end && y < b_end; y++) {
        if (spans_share(one, other, y)) {
            return true;
        }
    }
    return false;
}

static hw_status check_pair(const hw_mark *one, const hw_mark *other, hw_error *err)
{
    if (one->role == other->role && strcmp(one->name, other->name) == 0) {
        return hw_fail(err, HW_ERR_CALL, "mark-twice", one->name, "Give each its own name.",
                       "two marks of one kind have this name");
    }
    bool card_on_wood = (is_reference(one) && hw_role_is_wood(other->role)) ||
                        (is_reference(other) && hw_role_is_wood(one->role));
    bool old_on_new =
        hw_role_is_wood(one->role) && hw_role_is_wood(other->role) && one->role != other->role;
    if ((card_on_wood || old_on_new) && share_pixels(one, other)) {
        const hw_mark *wood = hw_role_is_wood(one->role) ? one : other;
        const hw_mark *rest = wood == one ? other : one;
        const char *kind = rest->role == HW_ROLE_CARD    ? "the grey card"
                           : rest->role == HW_ROLE_CHART ? "the colour chart, patch "
                                                         : "";
        return hw_fail(err, HW_ERR_CALL, "mark-overlap", wood->name,
                       "Draw the marks so that they keep clear of each other.",
                       "this mark overlaps %s%s", kind,
                       rest->role == HW_ROLE_CARD ? "" : rest->name);
    }
    return HW_OK;
}

static hw_status check_beside(const hw_marks *marks, const hw_mark *patch, hw_error *err)
{
    for (size_t i = 0; i < patch->beside_count; i++) {
        if (!hw_marks_find(marks, HW_ROLE_TARGET, patch->beside[i])) {
            return hw_fail(err, HW_ERR_CALL, "mark-beside", patch->name,
                           "Name old wood that is marked as a target.",
                           "it shall match '%s', but no old wood of that name is marked",
                           patch->beside[i]);
        }
    }
    return HW_OK;
}

bool hw_marks_have_card(const hw_marks *marks)
{
    return hw_marks_find(marks, HW_ROLE_CARD, NULL) ||
           hw_marks_find(marks, HW_ROLE_NEUTRAL, "grey") ||
           hw_marks_find(marks, HW_ROLE_CHART, "22");
}

hw_status hw_marks_check(const hw_marks *marks, size_t width_px, size_t height_px,
                         const hw_limits *limits, hw_error *err)
{
    hw_limits usual = hw_limits_default();
    limits = limits ? limits : &usual;
    if (marks->count > limits->marks) {
        return hw_fail(err, HW_ERR_CALL, "mark-many", "marks", "Use fewer marks.",
                       "there are %zu marks, more than %zu", marks->count, limits->marks);
    }
    hw_status status = HW_OK;
    for (size_t i = 0; i < marks->count && status == HW_OK; i++) {
        status = check_mark(&marks->mark[i], width_px, height_px, err);
    }
    for (size_t i = 0; i < marks->count && status == HW_OK; i++) {
        for (size_t j = i + 1; j < marks->count && status == HW_OK; j++) {
            status = check_pair(&marks->mark[i], &marks->mark[j], err);
        }
        if (status == HW_OK) {
            status = check_beside(marks, &marks->mark[i], err);
        }
    }
    if (status == HW_OK && !hw_marks_have_card(marks)) {
        return hw_fail(err, HW_ERR_INPUT, "card-missing", "marks",
                       "Mark the grey card with --card x,y,width,height. Without a card in the "
                       "picture, lay one beside the repair and take the photo again.",
                       "no grey card is marked");
    }
    return status;
}
