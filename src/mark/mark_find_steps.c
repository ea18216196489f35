// mark_find_steps.c: three even rectangles side by side, white, grey and black: a card with steps.
//
// Nothing else in a shop has three equal pieces of one colour, the outer ones five times as light and a fifth as light
// as the middle one (L* 95, 49.5, 22 are usual). A camera's tone curve stretches or squeezes that, and
// white may be clipped.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

static const double gap_most =
    0.35; // of the middle one's shorter side, between corners that belong together
static const double area_ratio_most = 1.7;
static const double apart_least = 0.6,
                    apart_most = 3.4; // ln of light from step to step; 1.6 by the usual L*
// ... from white to black; 3.2 by the usual L*. Three neighbours in the grey row of a chart have at most 1.9.
static const double whole_least = 2.1;
static const double colour_most = 0.25;      // ln(R/G), ln(B/G) between white and grey
static const double black_colour_most = 0.7; // and of black, which stray light and noise reach
static const double clipped_code = 0.96;     // white at its end has no colour to compare

static double distance(hw_point a, hw_point b)
{
    return hypot(a.x - b.x, a.y - b.y);
}

// Does a side of `other` lie along side k of `middle`?
static bool lies_beside(const hw_panel *middle, int k, const hw_panel *other)
{
    hw_point p = middle->corner[k], q = middle->corner[(k + 1) % 4];
    double across = distance(q, middle->corner[(k + 2) % 4]), along = distance(p, q);
    double room = gap_most * fmin(across, along), ratio = other->share / middle->share;
    if (ratio > area_ratio_most || ratio < 1.0 / area_ratio_most) {
        return false;
    }
    for (int m = 0; m < 4; m++) { // both go round clockwise, so the shared side runs the other way
        if (distance(other->corner[m], q) < room &&
            distance(other->corner[(m + 1) % 4], p) < room) {
            return true;
        }
    }
    return false;
}

static bool has_light_of(const hw_panel *lighter, const hw_panel *darker)
{
    double apart = log(lighter->Y / darker->Y);
    return apart > apart_least && apart < apart_most;
}

static bool is_like(const hw_panel *one, const hw_panel *other)
{
    return hypot(one->red - other->red, one->blue - other->blue) < colour_most;
}

// Does the row go on beyond its end with another of its colour, as the grey row of a chart does?
static bool goes_on(const hw_panels *panels, size_t end, size_t middle)
{
    const hw_panel *last = &panels->panel[end], *grey = &panels->panel[middle];
    for (int k = 0; k < 4; k++) {
        if (!lies_beside(last, k, grey)) {
            continue;
        }
        for (size_t i = 0; i < panels->count; i++) {
            const hw_panel *next = &panels->panel[i];
            if (i != end && i != middle && lies_beside(last, (k + 2) % 4, next) &&
                (is_like(next, grey) || is_like(next, last))) {
                return true;
            }
        }
    }
    return false;
}

static bool is_of_one_colour(const hw_panel *white, const hw_panel *grey, const hw_panel *black)
{
    double up = hypot(white->red - grey->red, white->blue - grey->blue);
    double down = hypot(black->red - grey->red, black->blue - grey->blue);
    return (up < colour_most || white->code > clipped_code) && down < black_colour_most;
}

static double quality_of(const hw_panel *a, const hw_panel *b, const hw_panel *c)
{
    return (a->support + b->support + c->support) / 3.0;
}

static void try_row(const hw_panels *panels, size_t white, size_t grey, size_t black,
                    hw_steps_find *out)
{
    const hw_panel *w = &panels->panel[white], *g = &panels->panel[grey],
                   *b = &panels->panel[black];
    double quality = quality_of(w, g, b);
    bool good = has_light_of(w, g) && has_light_of(g, b) && log(w->Y / b->Y) > whole_least &&
                is_of_one_colour(w, g, b);
    if (good && quality > out->quality && !goes_on(panels, white, grey) &&
        !goes_on(panels, black, grey)) {
        *out = (hw_steps_find){.found = true, .quality = quality, .panel = {white, grey, black}};
    }
}

void hw_steps_find_in(const hw_panels *panels, hw_steps_find *out)
{
    *out = (hw_steps_find){0};
    for (size_t grey = 0; grey < panels->count; grey++) {
        for (int k = 0; k < 4; k++) {
            for (size_t white = 0; white < panels->count; white++) {
                if (white == grey || !lies_beside(&panels->panel[grey], k, &panels->panel[white])) {
                    continue;
                }
                for (size_t black = 0; black < panels->count; black++) {
                    if (black != grey && black != white &&
                        lies_beside(&panels->panel[grey], (k + 2) % 4, &panels->panel[black])) {
                        try_row(panels, white, grey, black, out);
                    }
                }
            }
        }
    }
}
