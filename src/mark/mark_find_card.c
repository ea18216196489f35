// mark_find_card.c: even rectangles, and what speaks for one of them being a plain grey card.
//
// Grey is relative: under a lamp that the camera did not allow for, a grey card is orange in the picture. Two
// things are asked instead. How far does its colour lie from the photo's own neutral? Cameras miss by a little
// often and by much seldom. And what would the rest of the picture be, were this grey? Wood is always warmer than
// grey, and little in a shop is bluer; beside a book's blue cover even the walls would be warm, and beside a
// plank of pale wood much would be blue.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

enum { GRID = 20, CELLS = GRID * GRID, EVERY = 4 };
static const double inner = 0.76; // of a panel that its colour is read in (chosen)
static const double share_least =
    0.0015; // of the picture: a third of a small card with three steps (chosen)
static const double share_most = 0.33;    // (chosen)
static const double support_least = 0.45; // of the sides, in the mean (chosen)
static const double same_overlap = 0.6;   // two of these are one (chosen)
static const double ratio_most = 4.5; // of the sides as seen: one of three steps, tilted (chosen)
static const double fill_least = 0.5; // of an area in its rectangle (chosen)

// ---- A rectangle's inside ----------------------------------------------------------------

static hw_point inside(const hw_point corner[4], double u, double v)
{
    double a = (1.0 - u) * (1.0 - v), b = u * (1.0 - v), c = u * v, d = (1.0 - u) * v;
    return (hw_point){a * corner[0].x + b * corner[1].x + c * corner[2].x + d * corner[3].x,
                      a * corner[0].y + b * corner[1].y + c * corner[2].y + d * corner[3].y};
}

static bool pixel_of(const hw_look *look, hw_point p, size_t *out)
{
    if (!(p.x >= 0.0 && p.y >= 0.0 && p.x < (double)look->width && p.y < (double)look->height)) {
        return false;
    }
    *out = (size_t)p.y * look->width + (size_t)p.x;
    return true;
}

typedef struct ratios {
    double red, blue, Y; // ln(R/G), ln(B/G), Y
} ratios;

static ratios ratios_of(const float xyz[3])
{
    double rgb[3];
    hw_xyz colour = {(double)xyz[0], (double)xyz[1], (double)xyz[2]};
    hw_linear_srgb_from_xyz(colour, rgb);
    for (int i = 0; i < 3; i++) {
        rgb[i] = fmax(rgb[i], 1e-3); // black and colours beyond sRGB
    }
    return (ratios){log(rgb[0] / rgb[1]), log(rgb[2] / rgb[1]), fmax(colour.Y, 1e-4)};
}

// Spread of ln Y about a plane over the card, and the plane's slope. The grid is whole, so its
// coordinates are orthogonal.
static void read_evenness(const double *ln_Y, const double *u, const double *v, size_t count,
                          hw_panel *panel)
{
    double n = (double)count, mean = 0.0, su = 0.0, sv = 0.0, uu = 0.0, vv = 0.0;
    double left[CELLS], middle;
    for (size_t i = 0; i < count; i++) {
        mean += ln_Y[i] / n;
    }
    for (size_t i = 0; i < count; i++) {
        su += (ln_Y[i] - mean) * u[i];
        sv += (ln_Y[i] - mean) * v[i];
        uu += u[i] * u[i];
        vv += v[i] * v[i];
    }
    double by_u = su / fmax(uu, 1e-9), by_v = sv / fmax(vv, 1e-9);
    for (size_t i = 0; i < count; i++) {
        left[i] = ln_Y[i] - mean - by_u * u[i] - by_v * v[i];
    }
    hw_median_spread(left, count, &middle, &panel->uneven);
    panel->slope = hypot(by_u, by_v);
}

static bool read_inside(const hw_look *look, hw_panel *panel)
{
    double red[CELLS], blue[CELLS], Y[CELLS], code[CELLS], rough[CELLS], u[CELLS], v[CELLS];
    double other[2];
    size_t count = 0, at;
    for (int i = 0; i < CELLS; i++) {
        u[count] = inner * ((i % GRID + 0.5) / GRID - 0.5);
        v[count] = inner * ((double)(i / GRID) + 0.5 - 0.5 * GRID) / GRID;
        if (pixel_of(look, inside(panel->corner, u[count] + 0.5, v[count] + 0.5), &at)) {
            ratios r = ratios_of(look->small->xyz + 3 * at);
            const float *c = look->code + 3 * at;
            red[count] = r.red;
            blue[count] = r.blue;
            Y[count] = log(r.Y);
            code[count] = fmax(fmax((double)c[0], (double)c[1]), (double)c[2]);
            rough[count++] = (double)look->steep[at];
        }
    }
    if (count < CELLS / 2) {
        return false;
    }
    read_evenness(Y, u, v, count, panel);
    hw_median_spread(red, count, &panel->red, &other[0]);
    hw_median_spread(blue, count, &panel->blue, &other[1]);
    panel->mottle = hypot(other[0], other[1]);
    panel->Y = exp(hw_select(Y, count, count / 2));
    panel->code = hw_select(code, count, count / 2);
    panel->rough = hw_select(rough, count, count / 2);
    return true;
}

// Places just outside each side that look like those just inside: a tile among tiles, a mere shadow.
static double share_alike_around(const hw_look *look, const hw_point corner[4])
{
    enum { PLACES = 9 };
    int alike = 0, tried = 0;
    for (int i = 0; i < 4 * PLACES; i++) {
        double along = 0.1 + 0.8 * (i / 4 + 0.5) / PLACES, in = 0.12, out = -0.13;
        size_t one, other;
        double at_in = i % 4 < 2 ? in : 1.0 - in, at_out = i % 4 < 2 ? out : 1.0 - out;
        hw_point p = i % 2 ? inside(corner, along, at_in) : inside(corner, at_in, along);
        hw_point q = i % 2 ? inside(corner, along, at_out) : inside(corner, at_out, along);
        if (pixel_of(look, p, &one) && pixel_of(look, q, &other)) {
            double sum = 0.0;
            for (size_t c = 0; c < 3; c++) {
                double d = (double)look->code[3 * one + c] - (double)look->code[3 * other + c];
                sum += d * d;
            }
            alike += sum < 0.05 * 0.05;
            tried++;
        }
    }
    return tried > 0 ? (double)alike / tried : 1.0;
}

// ---- Panels ------------------------------------------------------------------------------

static bool reaches_edge(const hw_look *look, const hw_point corner[4])
{
    for (int i = 0; i < 4; i++) {
        if (corner[i].x < 1.5 || corner[i].y < 1.5 || corner[i].x > (double)look->width - 1.5 ||
            corner[i].y > (double)look->height - 1.5) {
            return true;
        }
    }
    return false;
}

static bool lay_panel(const hw_look *look, const hw_flat *flat, hw_panel *out)
{
    double all = (double)(look->width * look->height);
    hw_sides sides;
    *out = (hw_panel){.fill = flat->fill, .step = INFINITY, .weakest = 1.0};
    memcpy(out->corner, flat->corner, sizeof out->corner);
    if (flat->pixels < 0.4 * share_least * all || flat->fill < fill_least ||
        !hw_is_tilted_rectangle(out->corner, 2.0 * ratio_most) ||
        !hw_sides_lay(look, out->corner, &sides) ||
        !hw_is_tilted_rectangle(out->corner, ratio_most)) {
        return false;
    }
    for (int i = 0; i < 4; i++) {
        out->support += 0.25 * sides.support[i];
        out->weakest = fmin(out->weakest, sides.support[i]);
        out->step = sides.support[i] > 0.0 ? fmin(out->step, sides.step[i]) : out->step;
    }
    out->share = hw_quad_area(out->corner) / all;
    out->fill = flat->pixels / hw_quad_area(out->corner);
    out->at_edge = flat->at_edge || reaches_edge(look, out->corner);
    return out->support >= support_least && out->share >= share_least && out->share <= share_most &&
           out->fill >= fill_least && read_inside(look, out);
}

// The same rectangle comes from several levels: the one whose sides are best supported stays.
static void keep(const hw_panel *panel, hw_panels *out)
{
    for (size_t i = 0; i < out->count; i++) {
        if (hw_overlap(out->panel[i].corner, panel->corner) > same_overlap) {
            if (panel->support + panel->weakest > out->panel[i].support + out->panel[i].weakest) {
                out->panel[i] = *panel;
            }
            return;
        }
    }
    if (out->count < HW_PANELS_MOST) {
        out->panel[out->count++] = *panel;
    }
}

void hw_panels_lay(const hw_look *look, const hw_flats *flats, hw_panels *out)
{
    out->count = 0;
    for (size_t i = 0; i < flats->count; i++) {
        hw_panel panel;
        if (lay_panel(look, &flats->flat[i], &panel)) {
            keep(&panel, out);
        }
    }
    for (size_t i = 0; i < out->count; i++) {
        out->panel[i].around = share_alike_around(look, out->panel[i].corner);
    }
}

// ---- The rest of the picture ---------------------------------------------------------------

hw_status hw_scene_colours_take(const hw_look *look, hw_scene_colours *out, hw_error *err)
{
    size_t room = (look->width / EVERY + 1) * (look->height / EVERY + 1);
    hw_scene_colours made = {hw_alloc_array(room, sizeof *made.red),
                             hw_alloc_array(room, sizeof *made.blue),
                             hw_alloc_array(room, sizeof *made.Y),
                             0,
                             1.0,
                             0.2};
    double *order = hw_alloc_array(room, sizeof *order);
    if (!made.red || !made.blue || !made.Y || !order) {
        hw_free(order);
        hw_scene_colours_free(&made);
        return hw_fail_memory(err, "looking for the card");
    }
    for (size_t y = EVERY / 2; y < look->height; y += EVERY) {
        for (size_t x = EVERY / 2; x < look->width; x += EVERY) {
            ratios r = ratios_of(look->small->xyz + 3 * (y * look->width + x));
            made.red[made.count] = (float)r.red;
            made.blue[made.count] = (float)r.blue;
            made.Y[made.count] = (float)r.Y;
            order[made.count++] = r.Y;
        }
    }
    if (made.count > 0) {
        made.bright = hw_select(order, made.count, made.count * 97 / 100);
        made.middle = hw_select(order, made.count, made.count / 2);
    }
    hw_free(order);
    *out = made;
    return HW_OK;
}

void hw_scene_colours_free(hw_scene_colours *colours)
{
    hw_free(colours->red);
    hw_free(colours->blue);
    hw_free(colours->Y);
    *colours = (hw_scene_colours){0};
}

hw_card_signs hw_card_signs_of(const hw_panel *panel, const hw_scene_colours *colours)
{
    size_t seen = 0, cooler = 0, warmer = 0;
    for (size_t i = 0; i < colours->count; i++) {
        double Y = (double)colours->Y[i];
        if (Y < 0.01 || Y > 0.9) { // black or clipped: no colour to speak of
            continue;
        }
        double warm =
            ((double)colours->red[i] - panel->red) - ((double)colours->blue[i] - panel->blue);
        seen++;
        cooler += warm < -0.15;
        warmer += warm > 0.35;
    }
    double n = fmax((double)seen, 1.0);
    return (hw_card_signs){.cast = hypot(panel->red, panel->blue),
                           .green = 0.5 * (panel->red + panel->blue),
                           .cooler = (double)cooler / n,
                           .warmer = (double)warmer / n,
                           .level = log(panel->Y / fmax(colours->bright, 1e-4))};
}
