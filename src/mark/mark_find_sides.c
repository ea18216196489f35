// mark_find_sides.c: a rectangle in perspective laid along the edges that are there.
//
// An even area ends a few pixels inside of its edge, and its hull bulges where it leaked. So along each side
// the nearest edge across it is looked for at up to 40 places, to a part of a pixel, and a line laid through most
// of them: the pair of places with most others within a pixel (all pairs are tried: M. A. Fischler and R.
// C. Bolles 1981 with nothing left to chance), then least squares over those. The lines meet in the corners,
// round ones too. Twice, since a better line looks across its edge more squarely.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

enum { PLACES = 40, HALF_STEPS = 24 };
static const double inward =
    5.0; // pixels of the small picture that an edge is looked for inside (chosen)
static const double step_least =
    0.022; // codes over two pixels, all channels together: a faint edge (chosen)
static const double near_line = 1.0; // pixels (chosen)

static void code_at(const hw_relief *relief, double x, double y, double out[3])
{
    double px = fmin(fmax(x - 0.5, 0.0), (double)relief->width - 1.0);
    double py = fmin(fmax(y - 0.5, 0.0), (double)relief->height - 1.0);
    size_t i = (size_t)px, j = (size_t)py;
    size_t right = i + 1 < relief->width ? 3 : 0,
           below = j + 1 < relief->height ? 3 * relief->width : 0;
    const float *at = relief->code + 3 * (j * relief->width + i);
    double u = px - (double)i, v = py - (double)j;
    for (size_t c = 0; c < 3; c++) {
        double low = (1.0 - u) * (double)at[c] + u * (double)at[c + right];
        double high = (1.0 - u) * (double)at[c + below] + u * (double)at[c + below + right];
        out[c] = (1.0 - v) * low + v * high;
    }
}

// The first peak of change from inside to outside that comes near the highest of them.
static bool find_edge(const hw_relief *relief, hw_point from, double nx, double ny, hw_point *out)
{
    double code[HALF_STEPS + 4][3], change[HALF_STEPS] = {0}, highest = 0.0;
    for (int i = 0; i < HALF_STEPS + 4; i++) {
        double away = 0.5 * (i - 2) - inward;
        code_at(relief, from.x + away * nx, from.y + away * ny, code[i]);
    }
    for (int i = 0; i < HALF_STEPS; i++) {
        double sum = 0.0;
        for (int c = 0; c < 3; c++) {
            double d = code[i + 4][c] - code[i][c];
            sum += d * d;
        }
        change[i] = sqrt(sum);
        highest = fmax(highest, change[i]);
    }
    for (int i = 1; i + 1 < HALF_STEPS; i++) {
        bool peak = change[i] >= change[i - 1] && change[i] > change[i + 1];
        if (peak && change[i] > step_least && change[i] > 0.5 * highest) {
            double bend = change[i - 1] - 2.0 * change[i] + change[i + 1];
            double part = bend < 0.0 ? 0.5 * (change[i - 1] - change[i + 1]) / bend : 0.0;
            double away = 0.5 * (i + part) - inward;
            *out = (hw_point){from.x + away * nx, from.y + away * ny};
            return true;
        }
    }
    return false;
}

typedef struct line {
    hw_point at; // a point of it
    double dx, dy;
} line;

static bool is_near(const line *l, hw_point p)
{
    return fabs((p.x - l->at.x) * l->dy - (p.y - l->at.y) * l->dx) <= near_line;
}

static int count_near(const line *l, const hw_point *places, int count)
{
    int near = 0;
    for (int i = 0; i < count; i++) {
        near += is_near(l, places[i]);
    }
    return near;
}

// Total least squares over the places near the line.
static void settle(line *l, const hw_point *places, int count)
{
    double n = 0.0, x = 0.0, y = 0.0, xx = 0.0, xy = 0.0, yy = 0.0;
    for (int i = 0; i < count; i++) {
        if (is_near(l, places[i])) {
            hw_point p = places[i];
            n += 1.0;
            x += p.x;
            y += p.y;
            xx += p.x * p.x;
            xy += p.x * p.y;
            yy += p.y * p.y;
        }
    }
    if (n >= 2.0) {
        double angle = 0.5 * atan2(2.0 * (xy - x * y / n), (xx - x * x / n) - (yy - y * y / n));
        double dx = cos(angle), dy = sin(angle), way = dx * l->dx + dy * l->dy < 0.0 ? -1.0 : 1.0;
        *l = (line){{x / n, y / n}, way * dx, way * dy};
    }
}

// The line of most places that lies within 12 degrees of the side.
static bool best_line(const hw_point *places, int count, const line *side, line *out)
{
    int most = 0;
    for (int i = 0; i < count; i++) {
        for (int j = i + 1; j < count; j++) {
            double dx = places[j].x - places[i].x, dy = places[j].y - places[i].y;
            double length = hypot(dx, dy);
            if (length < 4.0 || dx * side->dx + dy * side->dy < 0.978 * length) {
                continue;
            }
            line l = {places[i], dx / length, dy / length};
            int near = count_near(&l, places, count);
            if (near > most) {
                most = near;
                *out = l;
            }
        }
    }
    return most >= 4;
}

// One side from corner a to b, the inside to its right as seen.
static bool lay_side(const hw_relief *relief, hw_point a, hw_point b, line *out, double *support)
{
    double length = hypot(b.x - a.x, b.y - a.y);
    if (length < 4.0) {
        return false;
    }
    line side = {a, (b.x - a.x) / length, (b.y - a.y) / length};
    hw_point places[PLACES];
    int tried = length < 2.0 * PLACES ? (int)(0.5 * length) + 4 : PLACES, found = 0;
    tried = tried > PLACES ? PLACES : tried;
    for (int i = 0; i < tried; i++) {
        double along = (0.08 + 0.84 * (i + 0.5) / tried) * length;
        hw_point from = {a.x + along * side.dx, a.y + along * side.dy};
        found += find_edge(relief, from, side.dy, -side.dx, &places[found]);
    }
    *out = side;
    *support = 0.0;
    if (best_line(places, found, &side, out)) {
        settle(out, places, found);
        settle(out, places, found);
        *support = (double)count_near(out, places, found) / tried;
    }
    return true;
}

static bool meet(const line *a, const line *b, hw_point *out)
{
    double across = a->dx * b->dy - a->dy * b->dx;
    if (fabs(across) < 0.2) { // less than 12 degrees
        return false;
    }
    double s = ((b->at.x - a->at.x) * b->dy - (b->at.y - a->at.y) * b->dx) / across;
    *out = (hw_point){a->at.x + s * a->dx, a->at.y + s * a->dy};
    return true;
}

bool hw_sides_lay(const hw_relief *relief, hw_point corner[4], double support[4])
{
    for (int round = 0; round < 2; round++) {
        line side[4];
        hw_point moved[4];
        for (int i = 0; i < 4; i++) {
            if (!lay_side(relief, corner[i], corner[(i + 1) % 4], &side[i], &support[i])) {
                return false;
            }
        }
        for (int i = 0; i < 4; i++) {
            if (!meet(&side[(i + 3) % 4], &side[i], &moved[i])) {
                return false;
            }
        }
        memcpy(corner, moved, sizeof moved);
    }
    return hw_quad_area(corner) > 16.0;
}

// ---- Shapes ---------------------------------------------------------------------------

bool hw_is_tilted_rectangle(const hw_point corner[4], double ratio_most)
{
    double length[4];
    for (int i = 0; i < 4; i++) {
        hw_point a = corner[i], b = corner[(i + 1) % 4];
        length[i] = hypot(b.x - a.x, b.y - a.y);
    }
    for (int i = 0; i < 4; i++) {
        hw_point a = corner[(i + 3) % 4], b = corner[i], c = corner[(i + 1) % 4];
        double cosine = ((a.x - b.x) * (c.x - b.x) + (a.y - b.y) * (c.y - b.y)) /
                        fmax(length[i] * length[(i + 3) % 4], 1e-9);
        double turn = (b.x - a.x) * (c.y - b.y) - (b.y - a.y) * (c.x - b.x);
        // A right angle tilted by 45 degrees is seen as 71 to 109; perspective adds to it.
        if (turn <= 0.0 || fabs(cosine) > 0.50 || length[i] > 1.6 * length[(i + 2) % 4]) {
            return false;
        }
    }
    double one = length[0] + length[2], other = length[1] + length[3];
    return fmax(one, other) <= ratio_most * fmin(one, other);
}

// Cuts a convex polygon by the half plane to the right of a to b (I. E. Sutherland and G. W. Hodgman 1974).
static int cut(const hw_point *from, int count, hw_point a, hw_point b, hw_point *to)
{
    int kept = 0;
    for (int i = 0; i < count; i++) {
        hw_point p = from[i], q = from[(i + 1) % count];
        double at_p = (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x);
        double at_q = (b.x - a.x) * (q.y - a.y) - (b.y - a.y) * (q.x - a.x);
        if (at_p >= 0.0) {
            to[kept++] = p;
        }
        if ((at_p >= 0.0) != (at_q >= 0.0)) {
            double s = at_p / (at_p - at_q);
            to[kept++] = (hw_point){p.x + s * (q.x - p.x), p.y + s * (q.y - p.y)};
        }
    }
    return kept;
}

double hw_overlap(const hw_point one[4], const hw_point other[4])
{
    hw_point shape[2][12];
    int count = 4, from = 0;
    memcpy(shape[0], one, 4 * sizeof *one);
    for (int i = 0; i < 4 && count > 0; i++, from = 1 - from) {
        count = cut(shape[from], count, other[i], other[(i + 1) % 4], shape[1 - from]);
    }
    double both = 0.0;
    for (int i = 0; i < count; i++) {
        hw_point p = shape[from][i], q = shape[from][(i + 1) % count];
        both += 0.5 * (p.x * q.y - q.x * p.y);
    }
    double all = hw_quad_area(one) + hw_quad_area(other) - both;
    return all > 0.0 ? both / all : 0.0;
}
