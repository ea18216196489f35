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

// A row of pixels from x = first on.
static void set_row(const hw_mark *mark, long y, long move, uint8_t bit, uint8_t *row, long first,
                    long width)
{
    hw_span spans[HW_SPANS_MOST];
    size_t count = y < 0 ? 0 : hw_mark_spans(mark, (size_t)y, spans, HW_SPANS_MOST);
    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < spans[i].count; k++) {
            long x = (long)(spans[i].x + k) + move - first;
            if (x >= 0 && x < width) {
                row[x] |= bit;
            }
        }
    }
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

// Sum of the pixels that enter less those that leave when the mark moves by `move` at most.
static sum change_of(const hw_photo *photo, const hw_light *light, const hw_mark *mark,
                     const long by[2], long move, uint8_t *row)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    hw_box box = hw_mark_box(mark);
    sum change = {{0, 0, 0}, 0};
    long first = larger(0, (long)box.x - move), top = larger(0, (long)box.y - move);
    long end = smaller((long)facts->width_px, (long)(box.x + box.width) + move);
    long bottom = smaller((long)facts->height_px, (long)(box.y + box.height) + move);
    for (long y = top; y < bottom; y++) {
        memset(row, 0, (size_t)(end - first));
        set_row(mark, y, 0, 1, row, first, end - first);
        set_row(mark, y - by[1], by[0], 2, row, first, end - first);
        for (long x = 0; x < end - first;) {
            long next = x + 1;
            while (next < end - first && row[next] == row[x]) {
                next++;
            }
            if (row[x] == 1 || row[x] == 2) {
                add_run(photo, light, (size_t)(first + x), (size_t)y, (size_t)(next - x),
                        row[x] == 2 ? 1.0 : -1.0, &change);
            }
            x = next;
        }
    }
    return change;
}

hw_status hw_sample_find_shift(const hw_photo *photo, const hw_light *light, const hw_mark *mark,
                               hw_sample *sample, hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    double side = fmax((double)facts->width_px, (double)facts->height_px);
    double aside = mark->found > 0.0
                       ? hypot(mark->off_px, hand_px * side / picture_px)
                       : hand_px * side / picture_px; // what was carried was once drawn
    long move = (long)fmax(1.0, floor(aside + 0.5));
    const long way[4][2] = {{move, 0}, {-move, 0}, {0, move}, {0, -move}};
    double kept = (double)(sample->pixels - sample->left_out);
    uint8_t *row = hw_alloc_array(facts->width_px, 1);
    if (!row) {
        return hw_fail_memory(err, "reading a region");
    }
    for (int i = 0; i < 4; i++) {
        sum change = change_of(photo, light, mark, way[i], move, row);
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
    hw_free(row);
    return HW_OK;
}
