// mark_align.c: the figure itself laid on the figure.
//
// Features bring a plane within a pixel or two; the figure of the old wood, pixel by pixel, does the rest
// and is the witness. The homography is moved until the new picture, seen through it, is the earlier one times a gain
// plus an offset (inverse compositional, Baker and Matthews 2004, Int. J. Computer Vision 56(3) 221; Huber's weights, so
// that glare and scratches do not pull), from coarse to fine. The pairs of features stay in the sum with what they
// know, so that straight grain, which says nothing along itself, cannot slip away along it.
//
// The eight increments p of a homography, at the place (x, y) of the earlier look:
//   dx = p0 x + p1 y + p2 - x (p6 x + p7 y)      dy = p3 x + p4 y + p5 - y (p6 x + p7 y)
// The inverse of their normal equations is the doubt.
//
// How alike two figures are is their correlation, each value held back at 2.5 s.d. so that an edge of a moulding,
// which any such moulding has, does not outvote the wood between. A figure that is as alike a stripe farther on is no witness
// of where it lies: the second best place is looked for too.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

enum { PARAMETERS = 8, ROUNDS = 12, ALIGN_SAMPLES = 9000, LIKENESS_SAMPLES = 8000 };
enum { ELSEWHERE_SAMPLES = 2500, ELSEWHERE_STEP = 2 };
static const double huber = 1.5;     // s.d.
static const double held_back = 2.5; // s.d.
static const double match_deviation =
    0.0008; // widths: s.d. of a feature's place (chosen, see carry_marks)
static const double figure_length =
    0.032;                        // widths over which misfits of the figure are alike (chosen)
static const double still = 2e-5; // widths: smaller moves are none
static const double lobe = 0.016; // widths: nearer is the same place (chosen)
static const double reach = 0.18; // widths: repeats are looked for that far (chosen)
static const double inside_least = 0.3; // share of an area that must lie in the new picture
// s.d. of one round's increments: a step is held short where nothing tells how long it should be.
static const double short_step[PARAMETERS] = {0.02, 0.02, 0.004, 0.02, 0.02, 0.004, 0.04, 0.04};
// What is known of a homography before anything is seen: a hand's.
static const double anything[PARAMETERS] = {1, 1, 0.5, 1, 1, 0.5, 1, 1};

// ---- Samples of the area -----------------------------------------------------------

typedef struct sample {
    double x, y;  // place
    float value;  // of the earlier picture
    float gx, gy; // its slope, a width
    float now;    // of the new picture there
    bool seen;    // it lies in the new picture
} sample;

typedef struct samples {
    sample *at;
    size_t count;
    double step;   // between neighbours, widths
    double *spare; // as many
} samples;

static void samples_free(samples *s)
{
    hw_free(s->at);
    hw_free(s->spare);
}

static bool is_inside(const hw_area *area, size_t x, size_t y, size_t level)
{
    size_t half = ((size_t)1 << level) / 2, ax = (x << level) + half, ay = (y << level) + half;
    return ax < area->width && ay < area->height && area->inside[ay * area->width + ax];
}

static sample sample_at(const hw_grey *grey, size_t x, size_t y)
{
    const float *v = grey->value + y * grey->width + x;
    float per = (float)(0.5 / grey->pixel);
    return (sample){.x = grey->left + (double)x * grey->pixel,
                    .y = grey->top + (double)y * grey->pixel,
                    .value = v[0],
                    .gx = per * (v[1] - v[-1]),
                    .gy = per * (v[grey->width] - v[-(ptrdiff_t)grey->width])};
}

// Where the area lies at a level, less the picture's edge.
typedef struct extent {
    size_t left, right, top, bottom;
} extent;

static size_t least(size_t one, size_t other)
{
    return one < other ? one : other;
}

static extent extent_of(const hw_grey *grey, const hw_area *area, size_t level)
{
    size_t left = area->left >> level, top = area->top >> level;
    return (extent){.left = left > 1 ? left : 1,
                    .right = least((area->right >> level) + 1, grey->width - 1),
                    .top = top > 1 ? top : 1,
                    .bottom = least((area->bottom >> level) + 1, grey->height - 1)};
}

static size_t count_inside(const extent *e, const hw_area *area, size_t level)
{
    size_t count = 0;
    for (size_t y = e->top; y < e->bottom; y++) {
        for (size_t x = e->left; x < e->right; x++) {
            count += is_inside(area, x, y, level);
        }
    }
    return count;
}

// The first of 1, 1 + stride, 1 + 2 stride ... from `from` on.
static size_t on_grid(size_t from, size_t stride)
{
    return 1 + (from - 1 + stride - 1) / stride * stride;
}

// At most about `most` of the area, on a square grid.
static bool samples_take(const hw_pyramid *from, size_t level, const hw_area *area, size_t most,
                         samples *out)
{
    const hw_grey *grey = &from->level[level];
    extent e = extent_of(grey, area, level);
    size_t all = count_inside(&e, area, level), stride = 1;
    while (all / (stride * stride) > most) {
        stride++;
    }
    *out = (samples){.step = (double)stride * grey->pixel};
    size_t room = (grey->width / stride + 1) * (grey->height / stride + 1);
    room = room < all ? room : all;
    out->at = hw_alloc_array(room, sizeof *out->at);
    out->spare = hw_alloc_array(room, sizeof *out->spare);
    if (!out->at || !out->spare) {
        return false;
    }
    for (size_t y = on_grid(e.top, stride); y < e.bottom; y += stride) {
        for (size_t x = on_grid(e.left, stride); x < e.right; x += stride) {
            if (is_inside(area, x, y, level) && out->count < room) {
                out->at[out->count++] = sample_at(grey, x, y);
            }
        }
    }
    return true;
}

// Fills in the new picture. Returns how many samples lie in it.
static size_t see(samples *s, const hw_grey *now, const hw_homography *h)
{
    size_t seen = 0;
    for (size_t i = 0; i < s->count; i++) {
        sample *p = &s->at[i];
        hw_point place = {p->x, p->y};
        p->seen = hw_homography_depth(h, place) > 0.0;
        if (p->seen) {
            hw_point to = hw_homography_apply(h, place);
            p->seen = hw_grey_at(now, to.x, to.y, &p->now);
        }
        seen += p->seen;
    }
    return seen;
}

// The level of the new picture that shows the wood as finely as `level` shows it in the earlier one.
static const hw_grey *level_alike(const hw_pyramid *to, size_t level, const samples *s,
                                  const hw_homography *h)
{
    double x = 0.0, y = 0.0, n = (double)(s->count ? s->count : 1);
    for (size_t i = 0; i < s->count; i++) {
        x += s->at[i].x / n;
        y += s->at[i].y / n;
    }
    double ratio = fabs(hw_homography_area_ratio(h, (hw_point){x, y}));
    double at = floor((double)level + 0.5 * log2(fmax(ratio, 1e-6)) + 0.3);
    return &to->level[(size_t)fmin(fmax(at, 0.0), (double)to->count - 1.0)];
}

// The s.d. of `count` values in s->spare by their median distance from zero; a floor keeps weights finite
// where most are alike.
static double deviation_of(samples *s, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        s->spare[i] = fabs(s->spare[i]);
    }
    return count ? fmax(1.4826 * hw_select(s->spare, count, count / 2), 1e-4) : 1e-4;
}

// ---- Normal equations --------------------------------------------------------------

typedef struct equations {
    double a[PARAMETERS][PARAMETERS], b[PARAMETERS];
} equations;

static void add_row(equations *e, const double j[PARAMETERS], double residual, double weight)
{
    for (int i = 0; i < PARAMETERS; i++) {
        double wj = weight * j[i];
        e->b[i] += wj * residual;
        for (int k = i; k < PARAMETERS; k++) {
            e->a[i][k] += wj * j[k];
        }
    }
}

// The slope of the move along (gx, gy) at a place, by each increment.
static void slopes(double x, double y, double gx, double gy, double j[PARAMETERS])
{
    double along = gx * x + gy * y;
    j[0] = gx * x;
    j[1] = gx * y;
    j[2] = gx;
    j[3] = gy * x;
    j[4] = gy * y;
    j[5] = gy;
    j[6] = -x * along;
    j[7] = -y * along;
}

// The lower triangle of its Cholesky factor in place of `a` (Golub and Van Loan 4.2).
static bool factor(double a[PARAMETERS][PARAMETERS])
{
    for (int j = 0; j < PARAMETERS; j++) {
        for (int i = j; i < PARAMETERS; i++) {
            double sum = a[j][i];
            for (int k = 0; k < j; k++) {
                sum -= a[i][k] * a[j][k];
            }
            if (i == j && !(sum > 0.0)) {
                return false;
            }
            a[i][j] = i == j ? sqrt(sum) : sum / a[j][j];
        }
    }
    return true;
}

static void solve(double l[PARAMETERS][PARAMETERS], const double b[PARAMETERS],
                  double out[PARAMETERS])
{
    for (int i = 0; i < PARAMETERS; i++) {
        out[i] = b[i];
        for (int k = 0; k < i; k++) {
            out[i] -= l[i][k] * out[k];
        }
        out[i] /= l[i][i];
    }
    for (int i = PARAMETERS - 1; i >= 0; i--) {
        for (int k = i + 1; k < PARAMETERS; k++) {
            out[i] -= l[k][i] * out[k];
        }
        out[i] /= l[i][i];
    }
}

static double huber_weight(double residual, double deviation)
{
    double far = fabs(residual) / deviation;
    return far <= huber ? 1.0 : huber / far;
}

// ---- What pixels and pairs say -----------------------------------------------------

typedef struct light_change {
    double gain, offset, deviation; // now = gain * earlier + offset, and what is left
} light_change;

// Gain and offset of the seen, twice, the second time with the wild ones held back.
static light_change light_of(samples *s)
{
    light_change c = {1.0, 0.0, 1e3};
    for (int round = 0; round < 2; round++) {
        double n = 0.0, x = 0.0, y = 0.0, xx = 0.0, xy = 0.0;
        size_t seen = 0;
        for (size_t i = 0; i < s->count; i++) {
            const sample *p = &s->at[i];
            if (p->seen) {
                double value = (double)p->value, now = (double)p->now;
                double w = huber_weight(now - c.gain * value - c.offset, c.deviation);
                n += w;
                x += w * value;
                y += w * now;
                xx += w * value * value;
                xy += w * value * now;
            }
        }
        double spread = xx - x * x / n;
        c.gain = spread > 0.0 ? (xy - x * y / n) / spread : 0.0;
        c.offset = (y - c.gain * x) / n;
        for (size_t i = 0; i < s->count; i++) {
            const sample *p = &s->at[i];
            if (p->seen) {
                s->spare[seen++] = (double)p->now - c.gain * (double)p->value - c.offset;
            }
        }
        c.deviation = deviation_of(s, seen);
    }
    return c;
}

static void add_figure(samples *s, equations *e)
{
    light_change c = light_of(s);
    double alike = fmax(1.0, pow(figure_length / s->step, 2.0)); // samples that count as one
    double information = 1.0 / (c.deviation * c.deviation * alike);
    for (size_t i = 0; i < s->count && c.gain > 0.1; i++) {
        const sample *p = &s->at[i];
        if (p->seen) {
            double j[PARAMETERS], residual = (double)p->now - c.gain * (double)p->value - c.offset;
            slopes(p->x, p->y, c.gain * (double)p->gx, c.gain * (double)p->gy, j);
            add_row(e, j, residual, information * huber_weight(residual, c.deviation));
        }
    }
}

static void add_matches(const hw_alignment *a, const hw_homography *h, equations *e)
{
    hw_homography back;
    if (!hw_homography_invert(h, &back)) {
        return;
    }
    for (size_t i = 0; i < a->match_count; i++) {
        hw_point from = a->match[i].from, seen = hw_homography_apply(&back, a->match[i].to);
        double dx = from.x - seen.x, dy = from.y - seen.y, j[PARAMETERS];
        double weight =
            huber_weight(hypot(dx, dy), match_deviation) / (match_deviation * match_deviation);
        slopes(from.x, from.y, 1.0, 0.0, j);
        add_row(e, j, dx, weight);
        slopes(from.x, from.y, 0.0, 1.0, j);
        add_row(e, j, dy, weight);
    }
}

static void add_prior(equations *e, const double deviation[PARAMETERS])
{
    for (int i = 0; i < PARAMETERS; i++) {
        e->a[i][i] += 1.0 / (deviation[i] * deviation[i]);
    }
}

static equations equations_of(const hw_alignment *a, samples *s, const hw_grey *now,
                              const hw_homography *h)
{
    equations e = {{{0}}, {0}};
    if (see(s, now, h) > 50) {
        add_figure(s, &e);
    }
    add_matches(a, h, &e);
    return e;
}

// ---- Alignment ---------------------------------------------------------------------

// One step: H becomes H times the inverse of the increment. Returns how far it moves the unit square's corners.
static double step(const equations *e, hw_homography *h)
{
    equations held = *e;
    double p[PARAMETERS];
    add_prior(&held, short_step);
    if (!factor(held.a)) {
        return 0.0;
    }
    solve(held.a, held.b, p);
    const hw_homography increment = {{1 + p[0], p[1], p[2], p[3], 1 + p[4], p[5], p[6], p[7], 1}};
    hw_homography back;
    if (!hw_homography_invert(&increment, &back)) {
        return 0.0;
    }
    *h = hw_homography_product(h, &back);
    double far = 0.0;
    for (int i = 0; i < 4; i++) {
        hw_point corner = {i & 1 ? 0.5 : -0.5, i & 2 ? 0.4 : -0.4};
        hw_point to = hw_homography_apply(&increment, corner);
        far = fmax(far, hypot(to.x - corner.x, to.y - corner.y));
    }
    return far;
}

static void doubt_of(const equations *e, hw_doubt *doubt)
{
    equations all = *e;
    add_prior(&all, anything);
    bool good = factor(all.a);
    for (int i = 0; i < PARAMETERS; i++) {
        double unit[PARAMETERS] = {0};
        unit[i] = 1.0;
        if (good) {
            solve(all.a, unit, doubt->covariance[i]);
        } else {
            memcpy(doubt->covariance[i], unit, sizeof unit);
        }
    }
}

hw_status hw_align(const hw_alignment *a, hw_homography *h, hw_doubt *doubt, hw_error *err)
{
    size_t first = a->from->count < 3 ? a->from->count - 1 : 2;
    if (a->match_count == 0) {
        first = a->from->count - 1; // from farther off
    }
    hw_homography moved = *h;
    for (size_t level = first + 1; level-- > 0;) {
        samples s;
        equations e = {{{0}}, {0}};
        if (!samples_take(a->from, level, a->area, ALIGN_SAMPLES, &s)) {
            samples_free(&s);
            return hw_fail_memory(err, "laying the photo on the last one");
        }
        const hw_grey *now = level_alike(a->to, level, &s, &moved);
        double far = 1.0;
        for (int round = 0; round < ROUNDS && far > still; round++) {
            e = equations_of(a, &s, now, &moved);
            far = step(&e, &moved);
        }
        doubt_of(&e, doubt);
        samples_free(&s);
    }
    double before, after;
    hw_status status = hw_likeness(a->from, a->to, a->area, h, HW_HELD_BACK, &before, err);
    if (status == HW_OK) {
        status = hw_likeness(a->from, a->to, a->area, &moved, HW_HELD_BACK, &after, err);
    }
    if (status == HW_OK && after > before) {
        *h = moved;
    }
    return status;
}

double hw_doubt_at(const hw_doubt *doubt, const hw_homography *h, hw_point p)
{
    double square = 0.0, j[2][PARAMETERS];
    slopes(p.x, p.y, 1.0, 0.0, j[0]);
    slopes(p.x, p.y, 0.0, 1.0, j[1]);
    for (int axis = 0; axis < 2; axis++) {
        for (int i = 0; i < PARAMETERS; i++) {
            for (int k = 0; k < PARAMETERS; k++) {
                square += j[axis][i] * doubt->covariance[i][k] * j[axis][k];
            }
        }
    }
    return sqrt(fmax(square, 0.0) * fabs(hw_homography_area_ratio(h, p)));
}

// ---- How alike ---------------------------------------------------------------------

typedef struct sums {
    double n, x, y, xx, yy, xy;
} sums;

static void add_values(sums *s, double x, double y)
{
    s->n += 1.0;
    s->x += x;
    s->y += y;
    s->xx += x * x;
    s->yy += y * y;
    s->xy += x * y;
}

static double correlation_of(const sums *s)
{
    double scale =
        sqrt(fmax(s->xx - s->x * s->x / s->n, 0.0) * fmax(s->yy - s->y * s->y / s->n, 0.0));
    return s->n > 1.0 && scale > 0.0 ? (s->xy - s->x * s->y / s->n) / scale : 0.0;
}

// The values beyond which the earlier and the new picture are held back.
typedef struct bounds {
    float earlier, now;
} bounds;

// A few s.d. of what most of it is, or one of all of it where most is even and a few spots are the figure.
static float bound_of(samples *s, size_t count)
{
    double square = 0.0;
    for (size_t i = 0; i < count; i++) {
        square += s->spare[i] * s->spare[i] / (double)count;
    }
    return (float)fmax(held_back * deviation_of(s, count), sqrt(square));
}

static bounds bounds_of(samples *s)
{
    size_t n = 0;
    for (size_t i = 0; i < s->count; i++) {
        s->spare[i] = (double)s->at[i].value;
    }
    bounds b = {.earlier = bound_of(s, s->count)};
    for (size_t i = 0; i < s->count; i++) {
        if (s->at[i].seen) {
            s->spare[n++] = (double)s->at[i].now;
        }
    }
    b.now = bound_of(s, n);
    return b;
}

static float within(float value, float bound)
{
    return fminf(fmaxf(value, -bound), bound);
}

static size_t likeness_level(const hw_pyramid *from)
{
    return from->count > 1 ? 1 : 0;
}

hw_status hw_likeness(const hw_pyramid *from, const hw_pyramid *to, const hw_area *area,
                      const hw_homography *h, hw_holding holding, double *likeness, hw_error *err)
{
    samples s;
    size_t level = likeness_level(from);
    *likeness = 0.0;
    if (!samples_take(from, level, area, LIKENESS_SAMPLES, &s)) {
        samples_free(&s);
        return hw_fail_memory(err, "comparing the wood with that of the last photo");
    }
    size_t seen = see(&s, level_alike(to, level, &s, h), h);
    if (seen > 0 && (double)seen >= inside_least * (double)s.count) {
        bounds b = holding == HW_HELD_BACK ? bounds_of(&s) : (bounds){INFINITY, INFINITY};
        sums sum = {0};
        for (size_t i = 0; i < s.count; i++) {
            if (s.at[i].seen) {
                add_values(&sum, (double)within(s.at[i].value, b.earlier),
                           (double)within(s.at[i].now, b.now));
            }
        }
        *likeness = correlation_of(&sum);
    }
    samples_free(&s);
    return HW_OK;
}

hw_status hw_deviation(const hw_pyramid *from, const hw_pyramid *to, const hw_area *area,
                       const hw_homography *h, double *deviation, hw_error *err)
{
    samples s;
    size_t level = likeness_level(from);
    if (!samples_take(from, level, area, LIKENESS_SAMPLES, &s)) {
        samples_free(&s);
        return hw_fail_memory(err, "comparing the wood with that of the last photo");
    }
    see(&s, level_alike(to, level, &s, h), h);
    sums sum = {0};
    for (size_t i = 0; i < s.count; i++) {
        if (s.at[i].seen) {
            add_values(&sum, 0.0, (double)s.at[i].now);
        }
    }
    *deviation = sum.n > 0.0 ? sqrt(fmax(sum.yy / sum.n - pow(sum.y / sum.n, 2.0), 0.0)) : 0.0;
    samples_free(&s);
    return HW_OK;
}

// ---- Alike elsewhere? --------------------------------------------------------------

// The new picture as the earlier one would show it, with room around the area for shifts.
typedef struct view {
    ptrdiff_t left, top; // pixel of the earlier level that (0, 0) is
    size_t width, height;
    float *value; // NAN: not in the new picture
} view;

static ptrdiff_t pixel_of(double place, double first, double pixel)
{
    return (ptrdiff_t)lround((place - first) / pixel);
}

static bool make_view(const hw_grey *earlier, const hw_grey *now, const hw_homography *h,
                      const samples *s, ptrdiff_t room, float bound, view *out)
{
    double least_x = 1, most_x = -1, least_y = 1, most_y = -1;
    for (size_t i = 0; i < s->count; i++) {
        least_x = fmin(least_x, s->at[i].x);
        most_x = fmax(most_x, s->at[i].x);
        least_y = fmin(least_y, s->at[i].y);
        most_y = fmax(most_y, s->at[i].y);
    }
    out->left = pixel_of(least_x, earlier->left, earlier->pixel) - room;
    out->top = pixel_of(least_y, earlier->top, earlier->pixel) - room;
    out->width = (size_t)(lround((most_x - least_x) / earlier->pixel) + 1 + 2 * room);
    out->height = (size_t)(lround((most_y - least_y) / earlier->pixel) + 1 + 2 * room);
    out->value = hw_alloc_array(out->width * out->height, sizeof *out->value);
    for (size_t y = 0; out->value && y < out->height; y++) {
        for (size_t x = 0; x < out->width; x++) {
            hw_point p = {earlier->left + (double)((ptrdiff_t)x + out->left) * earlier->pixel,
                          earlier->top + (double)((ptrdiff_t)y + out->top) * earlier->pixel};
            hw_point to = hw_homography_apply(h, p);
            float value;
            bool good = hw_homography_depth(h, p) > 0.0 && hw_grey_at(now, to.x, to.y, &value);
            out->value[y * out->width + x] = good ? within(value, bound) : NAN;
        }
    }
    return out->value != NULL;
}

typedef struct search {
    view seen;
    size_t *at;   // where in it each sample lies, unshifted
    float *value; // its value in the earlier picture, held back
    size_t count;
} search;

static double likeness_shifted(const search *s, ptrdiff_t dx, ptrdiff_t dy)
{
    sums sum = {0};
    ptrdiff_t shift = dy * (ptrdiff_t)s->seen.width + dx;
    for (size_t i = 0; i < s->count; i++) {
        float now = s->seen.value[(size_t)((ptrdiff_t)s->at[i] + shift)];
        if (!isnan(now)) {
            add_values(&sum, (double)s->value[i], (double)now);
        }
    }
    return sum.n >= 0.5 * (double)s->count ? correlation_of(&sum) : 0.0;
}

static bool make_search(const hw_grey *earlier, const samples *s, const bounds *b, search *out)
{
    out->count = s->count;
    out->at = hw_alloc_array(s->count, sizeof *out->at);
    out->value = hw_alloc_array(s->count, sizeof *out->value);
    for (size_t i = 0; out->at && out->value && i < s->count; i++) {
        ptrdiff_t x = pixel_of(s->at[i].x, earlier->left, earlier->pixel) - out->seen.left;
        ptrdiff_t y = pixel_of(s->at[i].y, earlier->top, earlier->pixel) - out->seen.top;
        out->at[i] = (size_t)y * out->seen.width + (size_t)x;
        out->value[i] = within(s->at[i].value, b->earlier);
    }
    return out->at && out->value;
}

// The best of some shifts, the first of those that are as good.
typedef struct shifted {
    double likeness;
    ptrdiff_t x, y;
} shifted;

static void take_better(shifted *best, shifted one)
{
    if (one.likeness > best->likeness) {
        *best = one;
    }
}

typedef struct sweep {
    const search *search;
    double pixel;
    ptrdiff_t far;
    shifted *best; // of each row of shifts
} sweep;

// Shifts between the lobe and the reach.
static void sweep_rows(void *context, size_t worker, size_t first, size_t end)
{
    const sweep *all = context;
    (void)worker;
    for (size_t i = first; i < end; i++) {
        ptrdiff_t y = (ptrdiff_t)(i * ELSEWHERE_STEP) - all->far;
        all->best[i] = (shifted){.likeness = -1.0};
        for (ptrdiff_t x = -all->far; x <= all->far; x += ELSEWHERE_STEP) {
            double away = hypot((double)x, (double)y) * all->pixel;
            if (away >= lobe && away <= reach) {
                take_better(&all->best[i], (shifted){likeness_shifted(all->search, x, y), x, y});
            }
        }
    }
}

// All shifts between the lobe and the reach, then the pixels around the best. False: memory.
static bool look_elsewhere(const search *s, double pixel, shifted *best)
{
    sweep all = {s, pixel, (ptrdiff_t)(reach / pixel), NULL};
    const hw_rows rows = {(size_t)(2 * all.far / ELSEWHERE_STEP + 1), 4, sweep_rows, &all};
    all.best = hw_alloc_array(rows.count, sizeof *all.best);
    if (!all.best || hw_share_rows(&rows, NULL, NULL) != HW_OK) {
        hw_free(all.best);
        return false;
    }
    *best = (shifted){.likeness = -1.0};
    for (size_t i = 0; i < rows.count; i++) {
        take_better(best, all.best[i]);
    }
    hw_free(all.best);
    ptrdiff_t mid_x = best->x, mid_y = best->y;
    for (ptrdiff_t y = mid_y - 1; y <= mid_y + 1; y++) {
        for (ptrdiff_t x = mid_x - 1; x <= mid_x + 1; x++) {
            take_better(best, (shifted){likeness_shifted(s, x, y), x, y});
        }
    }
    return true;
}

hw_status hw_likeness_elsewhere(const hw_pyramid *from, const hw_pyramid *to, const hw_area *area,
                                const hw_homography *h, hw_elsewhere *out, hw_error *err)
{
    size_t level = likeness_level(from);
    const hw_grey *earlier = &from->level[level];
    samples s;
    search others = {0};
    *out = (hw_elsewhere){0};
    bool good = samples_take(from, level, area, ELSEWHERE_SAMPLES, &s);
    if (good && s.count > 0) {
        const hw_grey *now = level_alike(to, level, &s, h);
        see(&s, now, h);
        bounds b = bounds_of(&s);
        ptrdiff_t room = (ptrdiff_t)(reach / earlier->pixel) + 2;
        shifted best;
        good = make_view(earlier, now, h, &s, room, b.now, &others.seen) &&
               make_search(earlier, &s, &b, &others) &&
               look_elsewhere(&others, earlier->pixel, &best);
        if (good) {
            out->at_home = likeness_shifted(&others, 0, 0);
            out->likeness = best.likeness;
            out->shift =
                (hw_point){(double)best.x * earlier->pixel, (double)best.y * earlier->pixel};
        }
    }
    samples_free(&s);
    hw_free(others.seen.value);
    hw_free(others.at);
    hw_free(others.value);
    return good ? HW_OK : hw_fail_memory(err, "looking whether the wood's figure repeats");
}
