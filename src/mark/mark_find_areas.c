// mark_find_areas.c: even areas of the small picture, and the rectangle in perspective around each.
//
// A card, a step, a patch of a chart is even inside and ends in an edge. So: the picture is blurred a
// little against noise, its change a pixel taken, spread to the neighbours (which closes gaps of an edge)
// and cut at six levels; what hangs together below a level is an area. Different edges need different levels, so
// the same card comes at several of them and the best one is taken later. The convex hull of an area
// (a thumb's bite is closed by it) is brought down to four sides by leaving out, one after the other, the
// side whose loss adds the least area: rounded corners become corners.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

// Codes of 0 to 1 a pixel, root of the sum of squares of the three channels; from noise just seen to
// edges just seen (chosen).
static const float level_most[HW_FIND_LEVELS] = {0.008f, 0.013f, 0.020f, 0.030f, 0.045f, 0.070f};
static const size_t pixels_least =
    30; // a patch of a chart of 1 % of the frame, less its rim (chosen)
static const double share_most = 0.40;       // of the picture; larger is wall or floor (chosen)
static const double bounds_share_most = 0.8; // of the picture, of its upright box
enum { FLATS_MOST = 4000, HULL_MOST = 2048 };

// ---- The relief --------------------------------------------------------------------

// 1-2-1 along a line of values `step` apart, in place.
static void blur_line(float *line, size_t count, size_t step)
{
    float before = line[0];
    for (size_t i = 0; i < count; i++) {
        float here = line[i * step], after = i + 1 < count ? line[(i + 1) * step] : here;
        line[i * step] = 0.25f * (before + after) + 0.5f * here;
        before = here;
    }
}

static void blur(float *code, size_t width, size_t height)
{
    for (size_t y = 0; y < height; y++) {
        for (size_t channel = 0; channel < 3; channel++) {
            blur_line(code + 3 * y * width + channel, width, 3);
        }
    }
    // Down the columns row by row, so that memory is read in order.
    for (size_t y = 0; y + 1 < height; y++) { // forth: means of two rows
        float *row = code + 3 * y * width, *next = row + 3 * width;
        for (size_t i = 0; i < 3 * width; i++) {
            row[i] = 0.5f * (row[i] + next[i]);
        }
    }
    for (size_t y = height; y-- > 1;) { // and back: 1-2-1 in all
        float *row = code + 3 * y * width, *previous = row - 3 * width;
        for (size_t i = 0; i < 3 * width; i++) {
            row[i] = 0.5f * (row[i] + previous[i]);
        }
    }
}

static void take_steepness(const hw_relief *relief, float *out)
{
    for (size_t y = 0; y < relief->height; y++) {
        size_t above = y > 0 ? y - 1 : y, below = y + 1 < relief->height ? y + 1 : y;
        for (size_t x = 0; x < relief->width; x++) {
            size_t left = x > 0 ? x - 1 : x, right = x + 1 < relief->width ? x + 1 : x;
            float sum = 0.0f;
            for (size_t c = 0; c < 3; c++) {
                float dx = relief->code[3 * (y * relief->width + right) + c] -
                           relief->code[3 * (y * relief->width + left) + c];
                float dy = relief->code[3 * (below * relief->width + x) + c] -
                           relief->code[3 * (above * relief->width + x) + c];
                sum += dx * dx + dy * dy;
            }
            out[y * relief->width + x] = 0.5f * sqrtf(sum);
        }
    }
}

// The greatest of a pixel and its eight neighbours.
static void spread(const float *from, size_t width, size_t height, float *out)
{
    for (size_t y = 0; y < height; y++) {
        size_t first = y > 0 ? y - 1 : y, last = y + 1 < height ? y + 1 : y;
        for (size_t x = 0; x < width; x++) {
            size_t left = x > 0 ? x - 1 : x, right = x + 1 < width ? x + 1 : x;
            float most = 0.0f;
            for (size_t row = first; row <= last; row++) {
                const float *line = from + row * width;
                float a = line[left] > line[x] ? line[left] : line[x];
                a = line[right] > a ? line[right] : a;
                most = a > most ? a : most;
            }
            out[y * width + x] = most;
        }
    }
}

hw_status hw_relief_make(const hw_photo_small *small, hw_relief *out, hw_error *err)
{
    size_t count = small->width * small->height;
    hw_relief relief = {.width = small->width, .height = small->height, .small = small};
    relief.code = hw_alloc_array(count, 3 * sizeof *relief.code);
    relief.steep = hw_alloc_array(count, sizeof *relief.steep);
    float *plain = hw_alloc_array(count, sizeof *plain);
    bool good = relief.code && relief.steep && plain;
    if (good) {
        memcpy(relief.code, small->code, count * 3 * sizeof *relief.code);
        blur(relief.code, relief.width, relief.height);
        blur(relief.code, relief.width, relief.height);
        take_steepness(&relief, plain);
        spread(plain, relief.width, relief.height, relief.steep);
    }
    hw_free(plain);
    if (!good) {
        hw_relief_free(&relief);
        return hw_fail_memory(err, "looking for the card");
    }
    *out = relief;
    return HW_OK;
}

void hw_relief_free(hw_relief *relief)
{
    hw_free(relief->code);
    hw_free(relief->steep);
    *relief = (hw_relief){0};
}

// ---- What hangs together -------------------------------------------------------------

// An area while it is put together.
typedef struct area {
    uint32_t pixels, left, right, top, bottom;
    double sum_x, sum_y;
} area;

typedef struct room {
    uint32_t *label; // of each pixel: 0 none, else a tree of labels
    uint32_t *parent;
    area *areas;      // by label
    uint32_t *first;  // by row of one area: its leftmost pixel
    uint32_t *last;   // and its rightmost
    hw_point *points; // of a hull, on its way
    uint32_t labels;
} room;

static uint32_t root_of(uint32_t *parent, uint32_t label)
{
    while (parent[label] != label) {
        parent[label] = parent[parent[label]]; // halves the way for those who come later
        label = parent[label];
    }
    return label;
}

// Labels by rows; neighbours are those left and above.
static void label_pixels(const hw_relief *relief, float most, room *r)
{
    r->labels = 0;
    for (size_t y = 0; y < relief->height; y++) {
        for (size_t x = 0; x < relief->width; x++) {
            size_t at = y * relief->width + x;
            r->label[at] = 0;
            if (relief->steep[at] > most) {
                continue;
            }
            uint32_t left = x > 0 ? r->label[at - 1] : 0;
            uint32_t above = y > 0 ? r->label[at - relief->width] : 0;
            if (!left && !above) {
                r->label[at] = ++r->labels;
                r->parent[r->labels] = r->labels;
            } else {
                uint32_t a = root_of(r->parent, left ? left : above);
                uint32_t b = root_of(r->parent, above ? above : left);
                r->label[at] = a < b ? a : b;
                r->parent[a < b ? b : a] = a < b ? a : b;
            }
        }
    }
}

static void gather_areas(const hw_relief *relief, room *r)
{
    for (uint32_t label = 1; label <= r->labels; label++) {
        r->areas[label] = (area){.left = UINT32_MAX, .top = UINT32_MAX};
    }
    for (uint32_t y = 0; y < relief->height; y++) {
        for (uint32_t x = 0; x < relief->width; x++) {
            uint32_t *label = &r->label[y * relief->width + x];
            if (*label) {
                *label = root_of(r->parent, *label);
                area *a = &r->areas[*label];
                a->pixels++;
                a->left = x < a->left ? x : a->left;
                a->right = x > a->right ? x : a->right;
                a->top = y < a->top ? y : a->top;
                a->bottom = y;
                a->sum_x += (double)x;
                a->sum_y += (double)y;
            }
        }
    }
}

// ---- Hull and rectangle ----------------------------------------------------------------

static double turn_of(hw_point a, hw_point b, hw_point c)
{
    return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

// One side of a hull in monotone chain (A. M. Andrew 1979): points come from top to bottom.
static size_t add_chain(hw_point *hull, size_t start, size_t count, hw_point p, double side)
{
    while (count >= start + 2 && side * turn_of(hull[count - 2], hull[count - 1], p) >= 0.0) {
        count--;
    }
    hull[count] = p;
    return count + 1;
}

// The convex hull of an area's pixels with their extent, clockwise as seen; 0 where there is none.
static size_t hull_of(const hw_relief *relief, const area *a, uint32_t label, room *r)
{
    size_t rows = a->bottom - a->top + 1;
    for (size_t i = 0; i < rows; i++) {
        const uint32_t *line = r->label + (a->top + i) * relief->width;
        size_t first = a->left, last = a->right;
        while (line[first] != label && first < a->right) {
            first++;
        }
        while (line[last] != label && last > a->left) {
            last--;
        }
        r->first[i] = (uint32_t)first;
        r->last[i] = (uint32_t)last;
    }
    size_t count = 0;
    for (size_t i = 0; i < rows; i++) { // down the right side
        double x = (double)r->last[i] + 1.0, y = (double)(a->top + i);
        count = add_chain(r->points, 0, count, (hw_point){x, y}, -1.0);
        count = add_chain(r->points, 0, count, (hw_point){x, y + 1.0}, -1.0);
    }
    size_t start = count;
    for (size_t i = rows; i-- > 0;) { // and up the left side
        double x = (double)r->first[i], y = (double)(a->top + i);
        count = add_chain(r->points, start, count, (hw_point){x, y + 1.0}, -1.0);
        count = add_chain(r->points, start, count, (hw_point){x, y}, -1.0);
    }
    return count <= HULL_MOST ? count : 0;
}

// Where the lines a b and c d meet; false where they are parallel or meet behind b or c.
static bool meet_beyond(hw_point a, hw_point b, hw_point c, hw_point d, hw_point *out)
{
    double ux = b.x - a.x, uy = b.y - a.y, vx = d.x - c.x, vy = d.y - c.y;
    double across = ux * vy - uy * vx;
    if (across <= 1e-9) {
        return false;
    }
    double s = ((c.x - a.x) * vy - (c.y - a.y) * vx) / across;
    *out = (hw_point){a.x + s * ux, a.y + s * uy};
    return s >= 0.999;
}

// Leaves out the side from corner i to i + 1 whose neighbours, drawn out, add the least area.
static bool drop_a_side(hw_point *p, size_t *count)
{
    size_t n = *count, best = n;
    double least = INFINITY;
    hw_point at = {0};
    for (size_t i = 0; i < n; i++) {
        hw_point a = p[(i + n - 1) % n], b = p[i], c = p[(i + 1) % n], d = p[(i + 2) % n], m;
        if (meet_beyond(a, b, c, d, &m)) {
            double more = fabs(turn_of(b, m, c));
            if (more < least) {
                least = more;
                best = i;
                at = m;
            }
        }
    }
    if (best == n) {
        return false;
    }
    size_t next = (best + 1) % n;
    p[best] = at;
    memmove(p + next, p + next + 1, (n - next - 1) * sizeof *p);
    *count = n - 1;
    return true;
}

double hw_quad_area(const hw_point corner[4])
{
    return 0.5 *
           (turn_of(corner[0], corner[1], corner[2]) + turn_of(corner[0], corner[2], corner[3]));
}

static bool make_flat(const hw_relief *relief, const area *a, uint32_t label, room *r, hw_flat *out)
{
    size_t count = hull_of(relief, a, label, r);
    while (count > 4 && drop_a_side(r->points, &count)) {
    }
    if (count != 4) {
        return false;
    }
    memcpy(out->corner, r->points, sizeof out->corner);
    double pixels = (double)a->pixels;
    out->centre = (hw_point){a->sum_x / pixels + 0.5, a->sum_y / pixels + 0.5};
    out->pixels = pixels;
    out->fill = pixels / fmax(hw_quad_area(out->corner), 1.0);
    out->at_edge = a->left == 0 || a->top == 0 || a->right + 1 == relief->width ||
                   a->bottom + 1 == relief->height;
    return out->fill > 0.0;
}

static bool is_of_use(const hw_relief *relief, const area *a)
{
    double all = (double)(relief->width * relief->height);
    double box = (double)(a->right - a->left + 1) * (double)(a->bottom - a->top + 1);
    double pixels = (double)a->pixels;
    return a->pixels >= pixels_least && pixels < share_most * all && pixels > 0.25 * box &&
           (box < bounds_share_most * all || pixels > 0.5 * box);
}

static void find_level(const hw_relief *relief, int level, room *r, hw_flats *out)
{
    label_pixels(relief, level_most[level], r);
    gather_areas(relief, r);
    size_t most = (size_t)FLATS_MOST * (size_t)(level + 1);
    for (uint32_t label = 1; label <= r->labels && out->count < most; label++) {
        const area *a = &r->areas[label];
        hw_flat *flat = &out->flat[out->count];
        if (a->pixels > 0 && is_of_use(relief, a) && make_flat(relief, a, label, r, flat)) {
            flat->level = level;
            out->count++;
        }
    }
}

hw_status hw_flats_find(const hw_relief *relief, hw_flats *out, hw_error *err)
{
    // No more labels than every second pixel of every second row, and one for each row's start.
    size_t pixels = relief->width * relief->height, labels = pixels / 2 + relief->height + 2;
    hw_flats found = {hw_alloc_array(FLATS_MOST * HW_FIND_LEVELS, sizeof *found.flat), 0};
    room r = {.label = hw_alloc_array(pixels, sizeof *r.label),
              .parent = hw_alloc_array(labels, sizeof *r.parent),
              .areas = hw_alloc_array(labels, sizeof *r.areas),
              .first = hw_alloc_array(relief->height, sizeof *r.first),
              .last = hw_alloc_array(relief->height, sizeof *r.last),
              .points = hw_alloc_array(4 * relief->height + 4, sizeof *r.points)};
    bool good = found.flat && r.label && r.parent && r.areas && r.first && r.last && r.points;
    for (int level = 0; level < HW_FIND_LEVELS && good; level++) {
        find_level(relief, level, &r, &found);
    }
    hw_free(r.label);
    hw_free(r.parent);
    hw_free(r.areas);
    hw_free(r.first);
    hw_free(r.last);
    hw_free(r.points);
    if (!good) {
        hw_flats_free(&found);
        return hw_fail_memory(err, "looking for the card");
    }
    *out = found;
    return HW_OK;
}

void hw_flats_free(hw_flats *flats)
{
    hw_free(flats->flat);
    *flats = (hw_flats){0};
}
