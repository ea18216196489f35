// sample_shift.c: what a mark drawn a little aside would read. The mark is moved by what a hand
// misses, and finding or carrying it, to the left, right, up and down; only the pixels that enter or leave are read. The mean
// square of the four changes is the doubt: a mark that nearly touches a dark joint shows it in every
// direction.
#include "base_internal.h"
#include "sample_internal.h"

#include <math.h>

// Pixels in a picture 1600 wide (chosen: corners set by mouse or finger).
static const double hand_px = 2.0, picture_px = 1600.0;

typedef struct sum {
    hw_xyz xyz;
    double pixels;
} sum;

static long larger(long a, long b)
{
    return a > b ? a : b;
}

static long smaller(long a, long b)
{
    return a < b ? a : b;
}

static void add_run(const hw_photo *photo, const hw_light *light, size_t x, size_t y, size_t count,
                    double sign, sum *change)
{
    hw_xyz colours[256];
    while (count > 0) {
        size_t part = count < 256 ? count : 256;
        hw_photo_xyz(photo, x, y, part, colours);
        hw_light_correct_near(light, (hw_point){(double)x + 0.5 * (double)part, (double)y + 0.5},
                              colours, part);
        for (size_t k = 0; k < part; k++) {
            change->xyz.X += sign * colours[k].X;
            change->xyz.Y += sign * colours[k].Y;
            change->xyz.Z += sign * colours[k].Z;
        }
        change->pixels += sign * (double)part;
        x += part;
        count -= part;
    }
}

// Where a row of the mark, moved, begins and ends, within first..end: from left to right, an odd one begins.
typedef struct edges {
    long x[2 * HW_SPANS_MOST];
    size_t count;
} edges;

static void take_edges(const hw_mark *mark, long y, long move, long first, long end, edges *out)
{
    hw_span spans[HW_SPANS_MOST];
    size_t count = y < 0 ? 0 : hw_mark_spans(mark, (size_t)y, spans, HW_SPANS_MOST);
    out->count = 2 * count;
    for (size_t i = 0; i < count; i++) {
        long from = (long)spans[i].x + move, to = from + (long)spans[i].count;
        out->x[2 * i] = smaller(larger(from, first), end);
        out->x[2 * i + 1] = smaller(larger(to, first), end);
    }
}

static void pass_edges(const edges *row, size_t *at, long x, bool *inside)
{
    while (*at < row->count && row->x[*at] == x) {
        *inside = !*inside;
        ++*at;
    }
}

// Pixels of a row that are in one of the two only.
static void add_row(const hw_photo *photo, const hw_light *light, long y, const edges *was,
                    const edges *is, sum *change)
{
    bool in_was = false, in_is = false;
    size_t at_was = 0, at_is = 0;
    long from = 0; // of the run at hand
    int sign = 0;  // of it; 0: none
    while (at_was < was->count || at_is < is->count) {
        long x = at_was == was->count ? is->x[at_is]
                 : at_is == is->count ? was->x[at_was]
                                      : smaller(was->x[at_was], is->x[at_is]);
        pass_edges(was, &at_was, x, &in_was);
        pass_edges(is, &at_is, x, &in_is);
        int now = (int)in_is - (int)in_was;
        if (now != sign) {
            if (sign != 0 && x > from) {
                add_run(photo, light, (size_t)from, (size_t)y, (size_t)(x - from), (double)sign,
                        change);
            }
            from = x;
            sign = now;
        }
    }
}

// Sum of the pixels that enter less those that leave when the mark moves by `move` at most.
static sum change_of(const hw_photo *photo, const hw_light *light, const hw_mark *mark,
                     const long by[2], long move)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    hw_box box = hw_mark_box(mark);
    sum change = {{0, 0, 0}, 0};
    long first = larger(0, (long)box.x - move), top = larger(0, (long)box.y - move);
    long end = smaller((long)facts->width_px, (long)(box.x + box.width) + move);
    long bottom = smaller((long)facts->height_px, (long)(box.y + box.height) + move);
    for (long y = top; y < bottom; y++) {
        edges was, is;
        take_edges(mark, y, 0, first, end, &was);
        take_edges(mark, y - by[1], by[0], first, end, &is);
        add_row(photo, light, y, &was, &is, &change);
    }
    return change;
}

void hw_sample_find_shift(const hw_photo *photo, const hw_light *light, const hw_mark *mark,
                          hw_sample *sample)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    double side = fmax((double)facts->width_px, (double)facts->height_px);
    double aside = mark->found > 0.0
                       ? hypot(mark->off_px, hand_px * side / picture_px)
                       : hand_px * side / picture_px; // what was carried was once drawn
    long move = (long)fmax(1.0, floor(aside + 0.5));
    const long way[4][2] = {{move, 0}, {-move, 0}, {0, move}, {0, -move}};
    double kept = (double)(sample->pixels - sample->left_out);
    for (int i = 0; i < 4; i++) {
        sum change = change_of(photo, light, mark, way[i], move);
        double n = fmax(kept + change.pixels, 1.0);
        hw_xyz moved = {(sample->xyz.X * kept + change.xyz.X) / n,
                        (sample->xyz.Y * kept + change.xyz.Y) / n,
                        (sample->xyz.Z * kept + change.xyz.Z) / n};
        hw_lab lab = hw_lab_from_xyz(moved, hw_white_d50);
        const double off[3] = {lab.L - sample->lab.L, lab.a - sample->lab.a, lab.b - sample->lab.b};
        for (int r = 0; r < 3; r++) {
            for (int c = 0; c < 3; c++) {
                sample->mark_shift.m[r][c] += 0.25 * off[r] * off[c];
            }
        }
    }
}
