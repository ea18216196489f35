// compare_seam.c: the step along a joint, which the eye sees first and uneven light disturbs least.
//
// 1 The outline of the patch is walked in small steps; those from which the target lies straight
//   outward, and near, are its joint. A corner ends a joint.
// 2 Cells of both samples that lie along it, glare already left out, are summed into short lengths. The
//   row of cells at the very edge is left aside: marks that touch the joint would bring its line in.
// 3 Lengths are joined to pieces; neighbours whose steps do not surely differ, or not so that it could
//   be seen, become one. Each is judged as the whole patch is.
#include "base_internal.h"
#include "compare_internal.h"

#include <math.h>

#define STEPS   240 // along the outline of a patch
#define LENGTHS 24  // that a joint is cut into: 4 a piece

static const double reach_share = 0.02; // of the picture's longer side: how far apart marks may lie
static const double depth_share = 0.015; // likewise: how deep the strips are
static const double outward = 0.7;       // cosine: 45 degrees
static const double corner = 0.87;       // cosine: a turn of 30 degrees ends a joint
static const double length_least = 40.0; // pixels
static const double line_off = 1.0;      // pixels: how far the joint may stray from its line
static const double seen = 1.5;   // CIEDE2000: steps that differ by less are one (chosen), or by
                                  // less than the old wood's own spread
static const double sure = 7.815; // 95 % of chi squared with 3 degrees of freedom

typedef struct step {
    hw_point at, facing; // on the patch's outline, and the nearest of the target's
    double normal[2];    // outward
    bool faces;
} step;

typedef struct joint {
    step steps[STEPS];
    size_t count;
    double length_px;
    bool upright;
} joint;

typedef struct length {
    hw_cell patch, target;
} length;

// ---- Where it is -------------------------------------------------------------------

static hw_point nearest_on(const hw_mark *mark, hw_point p)
{
    hw_point best = mark->points[0];
    double least = INFINITY;
    for (size_t i = 0; i < mark->point_count; i++) {
        hw_point a = mark->points[i], b = mark->points[(i + 1) % mark->point_count];
        double x = b.x - a.x, y = b.y - a.y, square = x * x + y * y;
        double t = square > 0.0 ? ((p.x - a.x) * x + (p.y - a.y) * y) / square : 0.0;
        t = fmin(fmax(t, 0.0), 1.0);
        hw_point q = {a.x + t * x, a.y + t * y};
        double far = hypot(q.x - p.x, q.y - p.y);
        if (far < least) {
            least = far;
            best = q;
        }
    }
    return best;
}

static double outline_px(const hw_mark *mark)
{
    double sum = 0.0;
    for (size_t i = 0; i < mark->point_count; i++) {
        hw_point a = mark->points[i], b = mark->points[(i + 1) % mark->point_count];
        sum += hypot(b.x - a.x, b.y - a.y);
    }
    return sum;
}

static bool faces(const step *one, double reach)
{
    double x = one->facing.x - one->at.x, y = one->facing.y - one->at.y, far = hypot(x, y);
    return far <= reach && (far < 1.5 || x * one->normal[0] + y * one->normal[1] >= outward * far);
}

// Steps in the middle of equal lengths of the outline.
static void walk(const hw_mark *patch, const hw_mark *target, double reach, step out[STEPS])
{
    double each = outline_px(patch) / STEPS, next = 0.5 * each, gone = 0.0;
    double turn = hw_mark_signed_area(patch) > 0.0 ? 1.0 : -1.0;
    size_t made = 0;
    for (size_t i = 0; i < patch->point_count && made < STEPS; i++) {
        hw_point a = patch->points[i], b = patch->points[(i + 1) % patch->point_count];
        double side = hypot(b.x - a.x, b.y - a.y);
        while (side > 0.0 && next <= gone + side && made < STEPS) {
            double t = (next - gone) / side;
            step *one = &out[made++];
            one->at = (hw_point){a.x + t * (b.x - a.x), a.y + t * (b.y - a.y)};
            one->normal[0] = turn * (b.y - a.y) / side;
            one->normal[1] = -turn * (b.x - a.x) / side;
            one->facing = nearest_on(target, one->at);
            one->faces = faces(one, reach);
            next += each;
        }
        gone += side;
    }
    for (; made < STEPS; made++) { // rounding may cost the last one
        out[made] = (step){0};
    }
}

static bool goes_on(const step *one, const step *next)
{
    return one->faces && next->faces &&
           one->normal[0] * next->normal[0] + one->normal[1] * next->normal[1] >= corner;
}

// The run of steps from `first` on, ordered from its left or upper end.
static void take_run(const step *all, size_t first, size_t count, double each, joint *out)
{
    const step *one = &all[first % STEPS], *last = &all[(first + count - 1) % STEPS];
    out->count = count;
    out->length_px = each * (double)count;
    out->upright = fabs(last->at.y - one->at.y) > fabs(last->at.x - one->at.x);
    bool backwards = out->upright ? last->at.y < one->at.y : last->at.x < one->at.x;
    for (size_t i = 0; i < count; i++) {
        size_t from = backwards ? count - 1 - i : i;
        out->steps[i] = all[(first + from) % STEPS];
    }
}

// The next run at or after *at; false when the outline has been gone around.
static bool next_joint(const step *all, size_t start, size_t *gone, double each, joint *out)
{
    while (*gone < STEPS) {
        size_t first = start + *gone, count = 1;
        if (!all[first % STEPS].faces) {
            ++*gone;
            continue;
        }
        while (*gone + count < STEPS &&
               goes_on(&all[(first + count - 1) % STEPS], &all[(first + count) % STEPS])) {
            count++;
        }
        *gone += count;
        if (each * (double)count >= length_least) {
            take_run(all, first, count, each, out);
            return true;
        }
    }
    return false;
}

// A place where no joint goes on, so that none is cut by the start of the walk.
static size_t start_of(const step *all)
{
    for (size_t i = 0; i < STEPS; i++) {
        if (!goes_on(&all[(i + STEPS - 1) % STEPS], &all[i])) {
            return i;
        }
    }
    return 0;
}

// ---- Its two strips ----------------------------------------------------------------

static double distance_to(const joint *j, bool on_patch, hw_point p, size_t *step_number)
{
    double least = INFINITY;
    for (size_t i = 0; i < j->count; i++) {
        hw_point at = on_patch ? j->steps[i].at : j->steps[i].facing;
        double x = at.x - p.x, y = at.y - p.y, square = x * x + y * y;
        if (square < least) {
            least = square;
            *step_number = i;
        }
    }
    return sqrt(least);
}

static double depth_of(const hw_sample *sample, double depth)
{
    double narrow = fmin(sample->width_px, sample->height_px), cell = (double)sample->cell_px;
    return fmax(fmin(fmax(depth, 3.0 * cell), 0.5 * narrow), cell);
}

// Sums the cells of one side. A cell counts where it lies straight beside a step, past the outer row
// where there is room for that.
static void sum_strip(const joint *j, const hw_sample *sample, double depth, bool on_patch,
                      length *lengths)
{
    double cell = (double)sample->cell_px, deep = depth_of(sample, depth);
    double least = deep >= 3.0 * cell ? cell : 0.0;
    double each = j->length_px / (double)j->count;
    for (size_t row = 0; row < sample->rows; row++) {
        for (size_t column = 0; column < sample->columns; column++) {
            const hw_cell *one = &sample->cells[row * sample->columns + column];
            hw_point p = {(double)sample->cell_x + ((double)column + 0.5) * cell,
                          (double)sample->cell_y + ((double)row + 0.5) * cell};
            size_t at = 0;
            if (one->pixels == 0) {
                continue;
            }
            double far = distance_to(j, on_patch, p, &at);
            const step *beside = &j->steps[at];
            hw_point from = on_patch ? beside->at : beside->facing;
            double across =
                fabs((p.x - from.x) * beside->normal[0] + (p.y - from.y) * beside->normal[1]);
            bool straight = far * far - across * across <= (each + cell) * (each + cell);
            if (straight && across >= least && across <= deep + least) {
                length *to = &lengths[at * LENGTHS / j->count];
                hw_cell_add(on_patch ? &to->patch : &to->target, one);
            }
        }
    }
}

// ---- Steps along it ----------------------------------------------------------------

typedef struct stretch {
    size_t first, end; // lengths
    hw_cell patch, target;
    hw_lab patch_lab, target_lab;
    hw_covariance figure; // of the gap of L*, a*, b*
} stretch;

static hw_lab lab_of(const hw_cell *cell)
{
    double n = cell->pixels > 0 ? (double)cell->pixels : 1.0;
    return hw_lab_from_xyz((hw_xyz){cell->X / n, cell->Y / n, cell->Z / n}, hw_white_d50);
}

static bool both(const hw_cell *patch, const hw_cell *target)
{
    return patch->pixels > 0 && target->pixels > 0;
}

static void gap_of(const hw_cell *patch, const hw_cell *target, double out[3])
{
    hw_lab new = lab_of(patch), old = lab_of(target);
    out[0] = new.L - old.L;
    out[1] = new.a - old.a;
    out[2] = new.b - old.b;
}

static void set(stretch *s, const length *lengths, size_t first, size_t end)
{
    *s = (stretch){.first = first, .end = end};
    for (size_t i = first; i < end; i++) {
        hw_cell_add(&s->patch, &lengths[i].patch);
        hw_cell_add(&s->target, &lengths[i].target);
    }
    s->patch_lab = lab_of(&s->patch);
    s->target_lab = lab_of(&s->target);
}

// Covariance of one length's gap about its piece, and how much lengths that follow each other are
// alike (figure along the joint), as the factor by which their mean is less known.
static hw_covariance scatter_of(const length *lengths, const stretch *pieces, size_t count)
{
    hw_covariance scatter = {{{0}}};
    double used = 0.0, square = 0.0, product = 0.0, pairs = 0.0;
    for (size_t k = 0; k < count; k++) {
        double mean[3], before = 0.0;
        bool has_before = false;
        gap_of(&pieces[k].patch, &pieces[k].target, mean);
        for (size_t i = pieces[k].first; i < pieces[k].end; i++) {
            double off[3];
            if (!both(&lengths[i].patch, &lengths[i].target)) {
                has_before = false;
                continue;
            }
            gap_of(&lengths[i].patch, &lengths[i].target, off);
            for (int r = 0; r < 3; r++) {
                off[r] -= mean[r];
            }
            for (int r = 0; r < 3; r++) {
                for (int c = 0; c < 3; c++) {
                    scatter.m[r][c] += off[r] * off[c];
                }
            }
            square += off[0] * off[0];
            product += has_before ? before * off[0] : 0.0;
            pairs += has_before;
            before = off[0];
            has_before = true;
            used += 1.0;
        }
        used -= 1.0; // its mean
    }
    // Four lengths about their own mean hide their likeness: -1/4 is none (Kendall 1954, bias of serial
    // correlation, about -1/n).
    double alike =
        pairs > 0.0 && square > 0.0 ? product / pairs / (square / (used + (double)count)) : 0.0;
    alike = fmin(fmax(alike + 0.25, 0.0), 0.8);
    double factor = used > 0.0 ? (1.0 + alike) / (1.0 - alike) / used : 0.0;
    return hw_covariance_times(&scatter, factor);
}

static void set_figure(stretch *s, const hw_covariance *scatter)
{
    s->figure = hw_covariance_times(scatter, 1.0 / (double)(s->end - s->first));
}

// How far the steps of two neighbours differ: 0 where it is not sure, or could not be seen.
static double differ(const stretch *one, const stretch *other, double spread)
{
    double a[3], b[3];
    gap_of(&one->patch, &one->target, a);
    gap_of(&other->patch, &other->target, b);
    const double off[3] = {b[0] - a[0], b[1] - a[1], b[2] - a[2]};
    const double noise = 2.0 * 0.1 * 0.1; // reading of two areas (compare_doubt.c)
    hw_covariance doubt = hw_covariance_sum(&one->figure, &other->figure);
    for (int axis = 0; axis < 3; axis++) {
        doubt.m[axis][axis] += noise;
    }
    hw_lab moved = {one->patch_lab.L + off[0], one->patch_lab.a + off[1],
                    one->patch_lab.b + off[2]};
    double gap = hw_ciede2000(one->patch_lab, moved);
    double chi = hw_compare_inverse_form((const double(*)[3])doubt.m, off);
    return chi > sure && gap > fmax(seen, spread) ? gap : 0.0;
}

// Joins the two neighbours that differ least, until all that are left differ.
static size_t join(stretch *pieces, size_t count, const length *lengths,
                   const hw_covariance *scatter, double spread)
{
    while (count > 1) {
        size_t least = 0;
        double smallest = INFINITY;
        for (size_t i = 0; i + 1 < count; i++) {
            double d = differ(&pieces[i], &pieces[i + 1], spread);
            if (d < smallest) {
                smallest = d;
                least = i;
            }
        }
        if (smallest > 0.0) {
            break;
        }
        set(&pieces[least], lengths, pieces[least].first, pieces[least + 1].end);
        set_figure(&pieces[least], scatter);
        for (size_t i = least + 1; i + 1 < count; i++) {
            pieces[i] = pieces[i + 1];
        }
        count--;
    }
    return count;
}

static size_t cut(const length *lengths, double spread, stretch *pieces)
{
    const size_t each = LENGTHS / HW_SEAM_PIECES;
    size_t count = 0;
    for (size_t i = 0; i < HW_SEAM_PIECES; i++) {
        stretch one;
        set(&one, lengths, i * each, (i + 1) * each);
        if (both(&one.patch, &one.target)) {
            pieces[count++] = one;
        }
    }
    hw_covariance scatter = scatter_of(lengths, pieces, count);
    for (size_t i = 0; i < count; i++) {
        set_figure(&pieces[i], &scatter);
    }
    return join(pieces, count, lengths, &scatter, spread);
}

// ---- What it says ------------------------------------------------------------------

static hw_point middle_of(const joint *j, const stretch *s, bool on_patch)
{
    size_t at = (s->first + s->end) * j->count / (2 * LENGTHS);
    at = at < j->count ? at : j->count - 1;
    return on_patch ? j->steps[at].at : j->steps[at].facing;
}

static hw_point between(const step *one)
{
    return (hw_point){0.5 * (one->at.x + one->facing.x), 0.5 * (one->at.y + one->facing.y)};
}

static size_t step_of(const joint *j, size_t point, size_t points)
{
    return point * (j->count - 1) / (points - 1);
}

// How far the joint's middle strays from straight lines between so many of its steps.
static double strays(const joint *j, size_t points)
{
    double most = 0.0;
    for (size_t i = 0; i + 1 < points; i++) {
        size_t first = step_of(j, i, points), end = step_of(j, i + 1, points);
        hw_point a = between(&j->steps[first]), b = between(&j->steps[end]);
        double x = b.x - a.x, y = b.y - a.y, far = hypot(x, y);
        for (size_t k = first + 1; k < end; k++) {
            hw_point p = between(&j->steps[k]);
            double off = (p.x - a.x) * y - (p.y - a.y) * x;
            most = fmax(most, far > 0.0 ? fabs(off) / far : hypot(p.x - a.x, p.y - a.y));
        }
    }
    return most;
}

// The line in the middle between both marks: two points where it is straight, twice as many until it fits.
static void set_line(const joint *j, hw_seam *out)
{
    size_t points = 2, room = j->count < HW_SEAM_LINE ? j->count : HW_SEAM_LINE;
    if (j->count < 2) {
        return;
    }
    while (2 * points - 1 <= room && strays(j, points) > line_off) {
        points = 2 * points - 1;
    }
    for (size_t i = 0; i < points; i++) {
        out->line[i] = between(&j->steps[step_of(j, i, points)]);
    }
    out->line_count = points;
    // Of who walks from the first to the last, (dy, -dx) is on the left; a normal leads away from the patch.
    double x = out->line[points - 1].x - out->line[0].x;
    double y = out->line[points - 1].y - out->line[0].y, left = 0.0;
    for (size_t i = 0; i < j->count; i++) {
        left += j->steps[i].normal[0] * y - j->steps[i].normal[1] * x;
    }
    out->patch_on_left = left < 0.0;
}

static void judge(const joint *j, const stretch *s, const hw_sample *patch, const hw_sample *target,
                  const hw_light *light, const hw_comparison *beside, hw_seam_piece *out)
{
    hw_sample side = *patch;
    hw_compare_old old = {.lab = s->target_lab,
                          .xyz = hw_xyz_from_lab(s->target_lab, hw_white_d50),
                          .covariance = {{{0}}},
                          .centre = middle_of(j, s, false),
                          .shine_u = target->shine_u,
                          .count = 1};
    side.lab = s->patch_lab;
    side.xyz = hw_xyz_from_lab(s->patch_lab, hw_white_d50);
    side.covariance = s->figure;
    side.mark_shift = (hw_covariance){{{0}}}; // the strips keep off the edges
    side.centre = middle_of(j, s, true);
    hw_comparison one = *beside; // its kind, its spread
    one.target_lab = old.lab;
    one.patch_lab = side.lab;
    one.gap = hw_difference_of(old.lab, side.lab);
    one.covariance = hw_compare_doubt_sum(&side, &old, light);
    hw_gap_range(old.lab, side.lab, &one.covariance, &one.de00_low, &one.de00_high);
    one.spread_ratio = one.gap.de00 / one.spread;
    one.direction_count = hw_directions_of(&one.gap, one.direction);
    one.high.L = one.gap.L + HW_NINETY * sqrt(fmax(one.covariance.m[0][0], 0.0));
    one.ground = (hw_ground){0};
    hw_verdict_decide(&one);
    *out = (hw_seam_piece){
        .stretch = {(double)s->first / LENGTHS, (double)s->end / LENGTHS, j->upright},
        .gap = one.gap,
        .de00_low = one.de00_low,
        .de00_high = one.de00_high,
        .direction_count = one.direction_count,
        .verdict = one.verdict};
    memcpy(out->direction, one.direction, sizeof out->direction);
}

size_t hw_compare_seams(const hw_sample *patch, const hw_mark *patch_mark, const hw_sample *target,
                        const hw_mark *target_mark, const hw_light *light,
                        const hw_comparison *beside, hw_seam *out, size_t room)
{
    step all[STEPS];
    joint j;
    size_t found = 0, gone = 0;
    double side = light->field.scale_px, each = outline_px(patch_mark) / STEPS;
    walk(patch_mark, target_mark, reach_share * side, all);
    size_t start = start_of(all);
    while (found < room && next_joint(all, start, &gone, each, &j)) {
        length lengths[LENGTHS];
        stretch pieces[HW_SEAM_PIECES];
        memset(lengths, 0, sizeof lengths);
        sum_strip(&j, patch, depth_share * side, true, lengths);
        sum_strip(&j, target, depth_share * side, false, lengths);
        size_t count = cut(lengths, beside->spread, pieces);
        if (count == 0) {
            continue;
        }
        hw_seam *seam = &out[found++];
        *seam = (hw_seam){.length_px = j.length_px, .count = count};
        set_line(&j, seam);
        hw_copy_text(seam->patch, sizeof seam->patch, patch->name);
        hw_copy_text(seam->target, sizeof seam->target, target->name);
        for (size_t i = 0; i < count; i++) {
            judge(&j, &pieces[i], patch, target, light, beside, &seam->piece[i]);
        }
    }
    return found;
}
