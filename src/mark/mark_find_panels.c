// mark_find_panels.c: even rectangles: laid along their edges, each kept once, and read inside and just outside.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

enum { GRID = 20, CELLS = GRID * GRID, BLOCK = 4, BLOCKS = GRID / BLOCK };
static const double inner = 0.76; // of a panel that its colour is read in (chosen)
static const double share_least =
    0.0015; // of the picture: a third of a small card with three steps (chosen)
static const double share_most = 0.33;    // (chosen)
static const double support_least = 0.45; // of the sides, in the mean (chosen)
static const double same_overlap = 0.6;   // two of these are one (chosen)
static const double ratio_most = 4.5;  // of the sides as seen: one of three steps, tilted (chosen)
static const double fill_least = 0.5;  // of an area in its rectangle (chosen)
static const double alike_most = 0.05; // of codes of 0 to 1, inside against outside (chosen)

// ---- A rectangle's inside ----------------------------------------------------------------

static hw_point inside(const hw_point corner[4], double u, double v)
{
    double a = (1.0 - u) * (1.0 - v), b = u * (1.0 - v), c = u * v, d = (1.0 - u) * v;
    return (hw_point){a * corner[0].x + b * corner[1].x + c * corner[2].x + d * corner[3].x,
                      a * corner[0].y + b * corner[1].y + c * corner[2].y + d * corner[3].y};
}

static bool pixel_of(const hw_relief *relief, hw_point p, size_t *out)
{
    if (!(p.x >= 0.0 && p.y >= 0.0 && p.x < (double)relief->width &&
          p.y < (double)relief->height)) {
        return false;
    }
    *out = (size_t)p.y * relief->width + (size_t)p.x;
    return true;
}

hw_ratios hw_ratios_of(const float xyz[3])
{
    double rgb[3];
    hw_xyz colour = {(double)xyz[0], (double)xyz[1], (double)xyz[2]};
    hw_linear_srgb_from_xyz(colour, rgb);
    for (int i = 0; i < 3; i++) {
        rgb[i] = fmax(rgb[i], 1e-3); // black and colours beyond sRGB
    }
    return (hw_ratios){log(rgb[0] / rgb[1]), log(rgb[2] / rgb[1]), fmax(colour.Y, 1e-4)};
}

// Means of 5 x 5 blocks of the grid, so that noise does not count: their spread about a plane. The blocks lie evenly about the middle, so the plane's parts are found one by one.
static void read_evenness(const double *ln_Y, hw_panel *panel)
{
    enum { COUNT = BLOCKS * BLOCKS };
    double block[COUNT] = {0}, mean = 0.0, by_u = 0.0, by_v = 0.0, square = 0.0, middle;
    for (int i = 0; i < CELLS; i++) {
        block[i / GRID / BLOCK * BLOCKS + i % GRID / BLOCK] += ln_Y[i] / (BLOCK * BLOCK);
    }
    for (int i = 0; i < COUNT; i++) {
        double u = i % BLOCKS - 0.5 * (BLOCKS - 1), v = (double)(i / BLOCKS) - 0.5 * (BLOCKS - 1);
        mean += block[i] / COUNT;
        by_u += block[i] * u;
        by_v += block[i] * v;
        square += u * u;
    }
    for (int i = 0; i < COUNT; i++) {
        double u = i % BLOCKS - 0.5 * (BLOCKS - 1), v = (double)(i / BLOCKS) - 0.5 * (BLOCKS - 1);
        block[i] -= mean + (by_u * u + by_v * v) / square;
    }
    hw_median_spread(block, COUNT, &middle, &panel->uneven);
}

// The place in the grid; over the edge of the picture the pixel at the edge.
static size_t pixel_at(const hw_relief *relief, const hw_panel *panel, int cell)
{
    double u = 0.5 + inner * ((cell % GRID + 0.5) / GRID - 0.5);
    double v = 0.5 + inner * (((double)(cell / GRID) + 0.5) / GRID - 0.5);
    hw_point p = inside(panel->corner, u, v);
    size_t x = (size_t)fmin(fmax(p.x, 0.0), (double)relief->width - 1.0);
    size_t y = (size_t)fmin(fmax(p.y, 0.0), (double)relief->height - 1.0);
    return y * relief->width + x;
}

static void read_inside(const hw_relief *relief, hw_panel *panel)
{
    double red[CELLS], blue[CELLS], Y[CELLS], code[CELLS], rough[CELLS];
    for (int i = 0; i < CELLS; i++) {
        size_t at = pixel_at(relief, panel, i);
        hw_ratios r = hw_ratios_of(relief->small->xyz + 3 * at);
        const float *c = relief->code + 3 * at;
        red[i] = r.red;
        blue[i] = r.blue;
        Y[i] = log(r.Y);
        code[i] = fmax(fmax((double)c[0], (double)c[1]), (double)c[2]);
        rough[i] = (double)relief->steep[at];
    }
    read_evenness(Y, panel);
    panel->red = hw_select(red, CELLS, CELLS / 2);
    panel->blue = hw_select(blue, CELLS, CELLS / 2);
    panel->Y = exp(hw_select(Y, CELLS, CELLS / 2));
    panel->code = hw_select(code, CELLS, CELLS / 2);
    panel->rough = hw_select(rough, CELLS, CELLS / 2);
}

// Places just outside each side that look like those just inside: a tile among tiles, a mere shadow.
static double share_alike_around(const hw_relief *relief, const hw_point corner[4])
{
    enum { PLACES = 9 };
    int alike = 0, tried = 0;
    for (int i = 0; i < 4 * PLACES; i++) {
        double along = 0.1 + 0.8 * (i / 4 + 0.5) / PLACES, in = 0.12, out = -0.13;
        size_t one, other;
        double at_in = i % 4 < 2 ? in : 1.0 - in, at_out = i % 4 < 2 ? out : 1.0 - out;
        hw_point p = i % 2 ? inside(corner, along, at_in) : inside(corner, at_in, along);
        hw_point q = i % 2 ? inside(corner, along, at_out) : inside(corner, at_out, along);
        if (pixel_of(relief, p, &one) && pixel_of(relief, q, &other)) {
            double sum = 0.0;
            for (size_t c = 0; c < 3; c++) {
                double d = (double)relief->code[3 * one + c] - (double)relief->code[3 * other + c];
                sum += d * d;
            }
            alike += sum < alike_most * alike_most;
            tried++;
        }
    }
    return tried > 0 ? (double)alike / tried : 1.0;
}

// ---- Panels ------------------------------------------------------------------------------

static bool reaches_edge(const hw_relief *relief, const hw_point corner[4])
{
    for (int i = 0; i < 4; i++) {
        if (corner[i].x < 1.5 || corner[i].y < 1.5 || corner[i].x > (double)relief->width - 1.5 ||
            corner[i].y > (double)relief->height - 1.5) {
            return true;
        }
    }
    return false;
}

static bool lay_panel(const hw_relief *relief, const hw_flat *flat, hw_panel *out)
{
    double all = (double)(relief->width * relief->height);
    double support[4];
    *out = (hw_panel){.fill = flat->fill, .weakest = 1.0};
    memcpy(out->corner, flat->corner, sizeof out->corner);
    if (flat->pixels < 0.4 * share_least * all || flat->fill < fill_least ||
        !hw_is_tilted_rectangle(out->corner, 2.0 * ratio_most) ||
        !hw_sides_lay(relief, out->corner, support) ||
        !hw_is_tilted_rectangle(out->corner, ratio_most)) {
        return false;
    }
    for (int i = 0; i < 4; i++) {
        out->support += 0.25 * support[i];
        out->weakest = fmin(out->weakest, support[i]);
    }
    out->share = hw_quad_area(out->corner) / all;
    out->fill = flat->pixels / hw_quad_area(out->corner);
    out->at_edge = flat->at_edge || reaches_edge(relief, out->corner);
    if (out->support < support_least || out->share < share_least || out->share > share_most ||
        out->fill < fill_least) {
        return false;
    }
    read_inside(relief, out);
    return true;
}

// The same rectangle comes from several levels: the one whose sides are best supported and that is best filled stays.
static double quality_of(const hw_panel *panel)
{
    return panel->support + panel->weakest + panel->fill;
}

static void keep(const hw_panel *panel, hw_panels *out)
{
    for (size_t i = 0; i < out->count; i++) {
        if (hw_overlap(out->panel[i].corner, panel->corner) > same_overlap) {
            if (quality_of(panel) > quality_of(&out->panel[i])) {
                out->panel[i] = *panel;
            }
            return;
        }
    }
    out->panel[out->count++] = *panel;
}

void hw_panels_lay(const hw_relief *relief, const hw_flats *flats, hw_panels *out)
{
    out->count = 0;
    for (size_t i = 0; i < flats->count && out->count < HW_PANELS_MOST; i++) {
        hw_panel panel;
        if (lay_panel(relief, &flats->flat[i], &panel)) {
            keep(&panel, out);
        }
    }
    for (size_t i = 0; i < out->count; i++) {
        out->panel[i].around = share_alike_around(relief, out->panel[i].corner);
    }
}
