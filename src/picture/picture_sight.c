// picture_sight.c: does a repair blend when seen from there?
//
// The old wood, as the eye mixes it from there, shows streaks of its own: 95 % of it lies within some distance of its mean. A
// repair blends when 95 % of it lies within the same distance of the same mean, and shows when it does not. What the photo leaves
// open is the gap between the means: so the repair is looked at once more with its mean moved to either end of the gap's
// 90 % range, by one factor a sharpened band, as light and layers move it.
//
// Never less than 1.0 is asked for: below that hardly anyone sees a difference, however even the wood (chosen).
#include "picture_internal.h"

#include <math.h>

static const double share_within = 0.95;
static const double tellable = 1.0; // CIEDE2000
static const size_t least_pixels =
    30; // of the repair and of the old wood: 95 % of fewer is not known (chosen)

const char *hw_sight_name(hw_sight_verdict verdict)
{
    static const char *const names[] = {"untold", "blends", "shows"};
    return (unsigned)verdict <= HW_SIGHT_SHOWS ? names[verdict] : names[0];
}

// ---- Pixels of marks ---------------------------------------------------------------

typedef struct pixels {
    float *xyz, *L, *a, *b, *de00;
    double *off; // CIEDE2000, to be reordered
    size_t count;
} pixels;

static void free_pixels(pixels *of)
{
    hw_free(of->xyz);
    hw_free(of->L);
    hw_free(of->a);
    hw_free(of->b);
    hw_free(of->de00);
    hw_free(of->off);
    *of = (pixels){0};
}

static bool room_for(size_t count, pixels *out)
{
    out->xyz = hw_alloc_array(count, 3 * sizeof(float));
    out->L = hw_alloc_array(count, sizeof(float));
    out->a = hw_alloc_array(count, sizeof(float));
    out->b = hw_alloc_array(count, sizeof(float));
    out->de00 = hw_alloc_array(count, sizeof(float));
    out->off = hw_alloc_array(count, sizeof(double));
    return out->xyz && out->L && out->a && out->b && out->de00 && out->off;
}

static void add_mark(const hw_picture *seen, const hw_mark *mark, pixels *to)
{
    size_t first, end;
    hw_picture_rows_of(seen, mark, &first, &end);
    for (size_t y = first; y < end; y++) {
        hw_span spans[HW_SPANS_MOST];
        size_t count = hw_picture_spans(seen, mark, y, spans);
        for (size_t i = 0; i < count; i++) {
            memcpy(to->xyz + 3 * to->count, seen->xyz + 3 * (y * seen->width + spans[i].x),
                   3 * spans[i].count * sizeof(float));
            to->count += spans[i].count;
        }
    }
}

static bool counts(const hw_mark *mark, const hw_mark *patch, bool of_patch)
{
    return of_patch ? mark == patch
                    : mark->role == HW_ROLE_TARGET && hw_mark_is_beside(patch, mark);
}

// The repair's own pixels, or those of all old wood beside it.
static bool gather(const hw_picture *seen, const hw_marks *marks, const hw_mark *patch,
                   bool of_patch, pixels *out)
{
    size_t count = 0;
    hw_xyz mean;
    for (size_t i = 0; i < marks->count; i++) {
        count += counts(&marks->mark[i], patch, of_patch)
                     ? hw_picture_mean(seen, &marks->mark[i], &mean)
                     : 0;
    }
    if (!room_for(count, out)) {
        return false;
    }
    for (size_t i = 0; i < marks->count; i++) {
        if (counts(&marks->mark[i], patch, of_patch)) {
            add_mark(seen, &marks->mark[i], out);
        }
    }
    return true;
}

static hw_lab mean_of(const pixels *of)
{
    hw_xyz sum = {0, 0, 0};
    double n = (double)of->count;
    for (size_t i = 0; i < of->count; i++) {
        hw_xyz one = hw_pixel_xyz(of->xyz + 3 * i);
        sum = (hw_xyz){sum.X + one.X, sum.Y + one.Y, sum.Z + one.Z};
    }
    return hw_lab_from_xyz((hw_xyz){sum.X / n, sum.Y / n, sum.Z / n}, hw_white_d50);
}

// ---- How far they are off ----------------------------------------------------------

static void measure(pixels *of, hw_lab from)
{
    hw_lab_row(of->xyz, of->count, of->L, of->a, of->b);
    hw_de00_row(of->L, of->a, of->b, of->count, from, of->de00);
}

static double within(pixels *of, hw_lab from)
{
    measure(of, from);
    for (size_t i = 0; i < of->count; i++) {
        of->off[i] = (double)of->de00[i];
    }
    return hw_select(of->off, of->count, (size_t)(share_within * (double)(of->count - 1) + 0.5));
}

// The share of them further off than that; after `within` or `measure`.
static double share_beyond(const pixels *of, double limit)
{
    size_t count = 0;
    for (size_t i = 0; i < of->count; i++) {
        count += (double)of->de00[i] > limit;
    }
    return (double)count / (double)of->count;
}

static hw_lab along(hw_lab from, const hw_difference *gap, double part)
{
    return (hw_lab){from.L + part * gap->L, from.a + part * gap->a, from.b + part * gap->b};
}

// The colour on the line from the old wood along the gap that lies `off` away; where there is no gap to tell a direction,
// straight up.
static hw_lab colour_off(hw_lab old_wood, const hw_difference *gap, double off)
{
    const hw_difference lighter = {.L = 1.0};
    const hw_difference *way = fabs(gap->L) + fabs(gap->a) + fabs(gap->b) > 1e-6 ? gap : &lighter;
    double low = 0.0, high = 1.0;
    while (hw_ciede2000(old_wood, along(old_wood, way, high)) < off && high < 1e3) {
        high *= 2.0;
    }
    for (int i = 0; i < 40; i++) {
        double middle = 0.5 * (low + high);
        bool short_of = hw_ciede2000(old_wood, along(old_wood, way, middle)) < off;
        low = short_of ? middle : low;
        high = short_of ? high : middle;
    }
    return along(old_wood, way, 0.5 * (low + high));
}

// Moves them all by one factor a band, so that their mean becomes another.
static void move(pixels *of, hw_lab from, hw_lab to)
{
    double before[3], after[3], factor[3];
    hw_sharpen(hw_xyz_from_lab(from, hw_white_d50), before);
    hw_sharpen(hw_xyz_from_lab(to, hw_white_d50), after);
    for (int band = 0; band < 3; band++) {
        factor[band] = before[band] > 1e-9 ? fmax(after[band], 0.0) / before[band] : 1.0;
    }
    hw_picture row = {of->count, 1, {0, 0, of->count, 1}, 1.0, of->xyz};
    hw_picture_scale(&row, factor);
}

// ---- The answer --------------------------------------------------------------------

static void judge(pixels *patch, pixels *old, const hw_comparison *gap, hw_sight *out)
{
    hw_lab wood = mean_of(old), repair = mean_of(patch);
    hw_lab low = colour_off(wood, &gap->gap, gap->de00_low);
    hw_lab high = colour_off(wood, &gap->gap, gap->de00_high);
    out->known = true;
    out->wood_off = within(old, wood);
    out->patch_off = within(patch, wood);
    out->beyond = share_beyond(patch, out->wood_off);
    move(patch, repair, low);
    out->patch_low = fmin(within(patch, wood), out->patch_off);
    move(patch, low, high);
    out->patch_high = fmax(within(patch, wood), out->patch_off);
    double limit = fmax(out->wood_off, tellable);
    out->verdict = out->patch_high <= limit ? HW_SIGHT_BLENDS
                   : out->patch_low > limit ? HW_SIGHT_SHOWS
                                            : HW_SIGHT_UNTOLD;
}

// Why nothing can be said, or NULL.
static const char *obstacle(const hw_mark *patch, const hw_comparison *gap)
{
    if (!patch) {
        return "the repair is not marked in this photo";
    }
    if (gap->elsewhere > 0) {
        return "the old wood is in another photo";
    }
    if (gap->before_coats) {
        return "the old wood is to be matched before coats that are still to come";
    }
    return isfinite(gap->de00_low) && isfinite(gap->de00_high) ? NULL : "the gap is not known";
}

hw_status hw_picture_sight(const hw_picture *seen, const hw_marks *marks, const hw_comparison *gap,
                           hw_sight *out, hw_error *err)
{
    const hw_mark *patch = hw_marks_find(marks, HW_ROLE_PATCH, gap->patch);
    const char *why = obstacle(patch, gap);
    hw_sight made = {.known = false};
    pixels new = {0}, old = {0};
    hw_copy_text(made.patch, sizeof made.patch, gap->patch);
    bool good =
        why || (gather(seen, marks, patch, true, &new) && gather(seen, marks, patch, false, &old));
    if (good && !why && new.count < least_pixels) {
        why = "the repair is too small in this photo to be looked at from so far";
    } else if (good && !why && old.count < least_pixels) {
        why = "too little old wood beside it is in this photo";
    } else if (good && !why) {
        judge(&new, &old, gap, &made);
    }
    hw_copy_text(made.why_not, sizeof made.why_not, why ? why : "");
    free_pixels(&new);
    free_pixels(&old);
    if (!good) {
        return hw_fail_memory(err, "looking from a distance");
    }
    *out = made;
    return HW_OK;
}
