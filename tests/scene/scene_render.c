// scene_render.c: from a scene to code values. The grain of a board multiplies its absorbance: a
// darker streak is more of the same wood, R^g. Each board's colour is computed from spectra on a
// ladder of g, and read off between the rungs, so a megapixel costs no megaspectra.
#include "scene.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// ---- Noise that is the same everywhere ---------------------------------------------

static uint32_t hash(uint32_t x, uint32_t y, uint32_t seed)
{
    uint32_t h = x * 0x8da6b343u + y * 0xd8163841u + seed * 0xcb1ab31fu;
    h = (h ^ (h >> 15)) * 0x2c1b3c6du;
    h = (h ^ (h >> 12)) * 0x297a2d39u;
    return h ^ (h >> 15);
}

static double uniform(uint32_t h)
{
    return h / 4294967296.0;
}

static double normal(uint32_t x, uint32_t y, uint32_t seed)
{
    double sum = -3.0;
    for (uint32_t i = 0; i < 6; i++) {
        sum += uniform(hash(x, y, seed * 7u + i));
    }
    return sum * sqrt(2.0);
}

// Value noise, -1 to 1, smooth between lattice points.
static double smooth_noise(double x, double y, uint32_t seed)
{
    double fx = floor(x), fy = floor(y), tx = x - fx, ty = y - fy;
    uint32_t ix = (uint32_t)(int32_t)fx, iy = (uint32_t)(int32_t)fy;
    double a = uniform(hash(ix, iy, seed)), b = uniform(hash(ix + 1, iy, seed));
    double c = uniform(hash(ix, iy + 1, seed)), d = uniform(hash(ix + 1, iy + 1, seed));
    tx = tx * tx * (3.0 - 2.0 * tx);
    ty = ty * ty * (3.0 - 2.0 * ty);
    return 2.0 * ((a * (1 - tx) + b * tx) * (1 - ty) + (c * (1 - tx) + d * tx) * ty) - 1.0;
}

// ---- Grain -------------------------------------------------------------------------

// Exponent g about 1 at a place of a board: rings that wander, fibres, pores.
static double grain_at(const scene_region *board, double x, double y)
{
    double along = board->upright ? y : x, across = board->upright ? x : y;
    uint32_t seed = board->seed;
    double wander = 22.0 * smooth_noise(along / 260.0, across / 90.0, seed) +
                    5.0 * smooth_noise(along / 70.0, across / 30.0, seed + 1);
    double period = 15.0 + 6.0 * smooth_noise(0.3, across / 120.0, seed + 2);
    double rings = sin(6.283185307 * (across + wander) / period);
    double fibre = smooth_noise(along / 45.0, across / 1.6, seed + 3) +
                   0.6 * smooth_noise(along / 12.0, across / 1.1, seed + 4);
    double broad = smooth_noise(along / 300.0, across / 60.0, seed + 5);
    double g = 1.0 + board->figure * (0.45 * rings + 0.55 * fibre + 0.5 * broad);
    // Each line of pores starts at a place of its own.
    double line = floor(across / 1.3),
           start = 40.0 * uniform(hash((uint32_t)(int32_t)line, 5, seed));
    double streak = smooth_noise(along / 26.0 + start, line, seed + 6);
    if (board->pores > 0.0 && streak > 1.0 - 3.0 * board->pores) {
        g += 0.35;
    }
    return g;
}

// ---- A surface as the camera and as the eye see it ---------------------------------

#define RUNGS SCENE_GRAINS
static const double g_low = 0.4, g_step = 0.05; // to 2.0

typedef struct surface {
    double rgb[RUNGS][3];
    hw_xyz xyz[RUNGS]; // under D50
} surface;

// All layers together, decadic.
static hw_spectrum absorbance_of(const scene_region *region)
{
    hw_spectrum sum = {{0}};
    for (size_t k = 0; k < region->layer_count; k++) {
        const scene_layer *layer = &region->layer[k];
        hw_spectrum dye;
        if (layer->own) {
            dye = *layer->own;
        } else if (!scene_dye(layer->family, &dye)) {
            continue;
        }
        for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
            sum.at[i] += layer->amount * dye.at[i];
        }
    }
    return sum;
}

static hw_spectrum bare(const scene_region *region)
{
    return region->paint ? scene_paint(region->colour) : scene_wood(region->colour, region->bump);
}

static hw_spectrum dyed(const scene_region *region, const hw_spectrum *wood,
                        const hw_spectrum *absorbance, int rung)
{
    hw_spectrum r;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        r.at[i] = pow(wood->at[i], g_low + g_step * rung);
        if (region->layer_count > 0) {
            r.at[i] = scene_under(region->depth, r.at[i], absorbance->at[i]);
        }
    }
    return r;
}

static void make_surface(const scene_region *region, const scene_camera *camera, surface *out)
{
    hw_spectrum wood = bare(region), absorbance = absorbance_of(region), d50 = hw_daylight(5003.0);
    for (int rung = 0; rung < RUNGS; rung++) {
        hw_spectrum r = dyed(region, &wood, &absorbance, rung);
        scene_camera_see(camera, &r, out->rgb[rung]);
        out->xyz[rung] = hw_xyz_of_reflectance(&r, &d50);
    }
}

static int rung_of(double g, double *part)
{
    double at = fmax(0.0, fmin((g - g_low) / g_step, RUNGS - 1.001));
    *part = at - floor(at);
    return (int)at;
}

// ---- The picture -------------------------------------------------------------------

void scene_mark(const scene_region *region, double out[4])
{
    double in = fmin(0.12 * fmin(region->width, region->height), 14.0);
    out[0] = region->x + in;
    out[1] = region->y + in;
    out[2] = region->width - 2.0 * in;
    out[3] = region->height - 2.0 * in;
}

void scene_mark_name(const scene_region *region, char *out, size_t size)
{
    if (region->stepped) {
        snprintf(out, size, "%s %d", region->name, region->step);
    } else {
        snprintf(out, size, "%s", region->name);
    }
}

static double s_curve(double v, double a)
{
    return v + 2.0 * a * v * (1.0 - v) * (2.0 * v - 1.0);
}

static double logistic(double v)
{
    const double steep = 7.0, middle = 0.45;
    return 1.0 / (1.0 + exp(-steep * (v - middle)));
}

static double encoded(double linear, const scene *s)
{
    double v = hw_srgb_encoded(fmin(fmax(linear, 0.0), 1.0)), low = logistic(0.0);
    switch (s->curve) {
    case SCENE_CURVE_LOGISTIC:
        return v + 1.6 * s->tone * ((logistic(v) - low) / (logistic(1.0) - low) - v);
    case SCENE_CURVE_LIFT:
        return s_curve(v * (1.0 + s->tone) / (1.0 + s->tone * v), 0.5 * s->tone);
    case SCENE_CURVE_S:
    default:
        return s_curve(v, s->tone);
    }
}

// The main lamp's light at a place, 1 in the middle of the picture.
static double light_at(const scene *s, double x, double y)
{
    double dx = x - 0.5 * (double)s->width, dy = y - 0.5 * (double)s->height;
    double light = exp(s->fall_off[0] * dx + s->fall_off[1] * dy);
    double h = s->near_lamp[2];
    if (h > 0.0) {
        double here = hypot(hypot(x - s->near_lamp[0], y - s->near_lamp[1]), h);
        double middle = hypot(hypot(dx - x + s->near_lamp[0], dy - y + s->near_lamp[1]), h);
        light *= pow(middle / here, 3.0);
    }
    return light;
}

static double second_at(const scene *s, double x)
{
    double part = x / (double)s->width;
    return (1.0 - part) * s->second_share[0] + part * s->second_share[1];
}

static double shine_at(const scene *s, double x, double y)
{
    double sum = 0.0;
    for (size_t i = 0; i < s->spot_count; i++) {
        const scene_spot *spot = &s->spot[i];
        double u = (x - spot->x) / spot->radius[0], v = (y - spot->y) / spot->radius[1];
        sum += spot->share * exp(-0.5 * (u * u + v * v));
    }
    return sum;
}

// The region on top at a place, or none.
static const scene_region *top_region(const scene *s, double x, double y, size_t *index)
{
    for (size_t i = s->region_count; i-- > 0;) {
        const scene_region *r = &s->region[i];
        if (x >= r->x && y >= r->y && x < r->x + r->width && y < r->y + r->height) {
            *index = i;
            return r;
        }
    }
    return NULL;
}

// A joint or an arris: darker within two pixels of a board's edge.
static double edge_shade(const scene_region *r, double x, double y)
{
    double from = fmin(fmin(x - r->x, r->x + r->width - x), fmin(y - r->y, r->y + r->height - y));
    bool flat = r->kind == SCENE_CARD || r->kind == SCENE_GROUND;
    return flat || from > 4.0 ? 1.0 : from < 1.5 ? 0.45 : 0.85;
}

typedef struct sums {
    double X, Y, Z, n;
} sums;

static bool marks_pixel(const scene_region *r, double x, double y)
{
    double mark[4];
    scene_mark(r, mark);
    return x >= floor(mark[0]) && y >= floor(mark[1]) && x < floor(mark[0]) + floor(mark[2]) &&
           y < floor(mark[1]) + floor(mark[3]);
}

static void add_truth(const scene_region *r, const surface *look, int rung, double part, double x,
                      double y, sums *sum)
{
    if (!marks_pixel(r, x, y)) {
        return;
    }
    const hw_xyz *low = &look->xyz[rung], *high = &look->xyz[rung + 1];
    sum->X += (1 - part) * low->X + part * high->X;
    sum->Y += (1 - part) * low->Y + part * high->Y;
    sum->Z += (1 - part) * low->Z + part * high->Z;
    sum->n += 1.0;
}

static hw_spectrum perfect_diffuser(void)
{
    hw_spectrum all;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        all.at[i] = 1.0;
    }
    return all;
}

// What is drawn with: each region's look under the first lamp and, where there is one, under the
// second, which is made as bright as the first to the green channel.
struct scene_drawing {
    const scene *s;
    scene_camera camera[2]; // the same camera under each lamp
    surface looks[2][SCENE_REGIONS_MOST];
    bool two_lamps;
    double white[3];
    double (*linear)[3]; // width x height
};
typedef struct scene_drawing drawing;

static void look_at(drawing *d, size_t region)
{
    for (int lamp = 0; lamp <= (int)d->two_lamps; lamp++) {
        make_surface(&d->s->region[region], &d->camera[lamp], &d->looks[lamp][region]);
    }
}

static void prepare(drawing *d)
{
    const scene *s = d->s;
    hw_spectrum all = perfect_diffuser();
    d->camera[0] = d->camera[1] = scene_camera_for(s->camera, &s->lamp, s->balance);
    d->two_lamps = s->second_share[0] > 0.0 || s->second_share[1] > 0.0;
    scene_camera_see(&d->camera[0], &all, d->white);
    if (d->two_lamps) {
        double white[3];
        d->camera[1].lamp = s->second_lamp;
        scene_camera_see(&d->camera[1], &all, white);
        for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
            d->camera[1].lamp.at[i] *= d->white[1] / white[1];
        }
    }
    for (size_t i = 0; i < s->region_count; i++) {
        look_at(d, i);
    }
}

// Exponent of the grain at a place of a region, as a rung of the ladder and a part of the next.
static int grain_rung(const scene_region *r, double x, double y, double *part)
{
    double g = r->kind == SCENE_BOARD ? grain_at(r, x, y) : 1.0;
    if (r->kind == SCENE_GROUND) {
        g += 0.05 * smooth_noise(x / 3.0, y / 3.0, r->seed);
    }
    return rung_of(g, part);
}

// Not all fibres lie alike, so what they throw to one side changes from place to place.
static double lit_at(const scene_region *r, double x, double y)
{
    double wander =
        r->kind == SCENE_BOARD ? 0.5 * smooth_noise(x / 45.0, y / 30.0, r->seed + 9) : 0.0;
    return r->lit == 0.0 ? 1.0 : exp(r->lit * (1.0 + wander));
}

static void draw_pixel(const drawing *d, double x, double y, double out[3], sums *sum)
{
    const scene *s = d->s;
    double part;
    size_t index = 0;
    const scene_region *r = top_region(s, x, y, &index);
    int rung = grain_rung(r, x, y, &part);
    double share[2] = {1.0, d->two_lamps ? second_at(s, x) : 0.0};
    share[0] -= share[1];
    double light = s->exposure * edge_shade(r, x, y) * light_at(s, x, y) * lit_at(r, x, y);
    double shine = r->kind == SCENE_BOARD ? shine_at(s, x, y) : 0.0;
    for (int k = 0; k < 3; k++) {
        out[k] = light * shine * d->white[k];
        for (int lamp = 0; lamp <= (int)d->two_lamps; lamp++) {
            const surface *look = &d->looks[lamp][index];
            out[k] += light * share[lamp] *
                      ((1 - part) * look->rgb[rung][k] + part * look->rgb[rung + 1][k]);
        }
    }
    add_truth(r, &d->looks[0][index], rung, part, x, y, &sum[index]);
}

static void tell_truth(const scene *s, const sums *sum, scene_truth *truth)
{
    hw_spectrum d50 = hw_daylight(5003.0), all = perfect_diffuser();
    hw_xyz white = hw_xyz_of_reflectance(&all, &d50);
    for (size_t i = 0; i < s->region_count; i++) {
        double n = fmax(sum[i].n, 1.0);
        truth->lab[i] = hw_lab_from_xyz((hw_xyz){sum[i].X / n, sum[i].Y / n, sum[i].Z / n}, white);
    }
}

void scene_drawing_free(scene_drawing *d)
{
    if (d) {
        free(d->linear);
        free(d);
    }
}

scene_drawing *scene_draw(const scene *s, scene_truth *truth)
{
    drawing *d = calloc(1, sizeof *d);
    sums sum[SCENE_REGIONS_MOST] = {{0}};
    if (!d || !(d->linear = calloc(s->width * s->height, sizeof *d->linear))) {
        free(d);
        return NULL;
    }
    d->s = s;
    prepare(d);
    for (size_t p = 0; p < s->width * s->height; p++) {
        draw_pixel(d, (double)(p % s->width) + 0.5, (double)(p / s->width) + 0.5, d->linear[p],
                   sum);
    }
    tell_truth(s, sum, truth);
    return d;
}

void scene_draw_again(scene_drawing *d, size_t region)
{
    const scene_region *r = &d->s->region[region];
    sums unused[SCENE_REGIONS_MOST] = {{0}};
    look_at(d, region);
    for (size_t y = (size_t)r->y; y <= (size_t)(r->y + r->height) && y < d->s->height; y++) {
        for (size_t x = (size_t)r->x; x <= (size_t)(r->x + r->width) && x < d->s->width; x++) {
            draw_pixel(d, (double)x + 0.5, (double)y + 0.5, d->linear[y * d->s->width + x], unused);
        }
    }
}

static size_t moved(size_t at, int by, size_t size)
{
    long to = (long)at - by;
    return to < 0 ? 0 : to >= (long)size ? size - 1 : (size_t)to;
}

// The drawing where that pixel of the photo looks, between four of its own.
static void look_through(const drawing *d, double x, double y, double out[3])
{
    const scene *s = d->s;
    const double *v = s->view;
    double depth = v[6] * x + v[7] * y + 1.0;
    double at_x = (v[0] * x + v[1] * y + v[2]) / depth - 0.5;
    double at_y = (v[3] * x + v[4] * y + v[5]) / depth - 0.5;
    at_x = fmin(fmax(at_x, 0.0), (double)s->width - 1.001);
    at_y = fmin(fmax(at_y, 0.0), (double)s->height - 1.001);
    size_t left = (size_t)at_x, top = (size_t)at_y;
    double part_x = at_x - (double)left, part_y = at_y - (double)top;
    const double(*row)[3] = (const double(*)[3])d->linear + top * s->width + left;
    for (int k = 0; k < 3; k++) {
        out[k] = (1 - part_y) * ((1 - part_x) * row[0][k] + part_x * row[1][k]) +
                 part_y * ((1 - part_x) * row[s->width][k] + part_x * row[s->width + 1][k]);
    }
}

void scene_hold(scene *s, double turn, double nearer, double right, double down, double tilt)
{
    double c = cos(turn) / nearer, n = sin(turn) / nearer;
    double x = 0.5 * (double)s->width, y = 0.5 * (double)s->height;
    const double way[9] = {c, -n, -right, n, c, -down, tilt, -0.5 * tilt, 1.0}; // about the middle
    double h[9];
    for (int r = 0; r < 3; r++) { // centre back * way * to the centre
        double a = way[3 * r], b = way[3 * r + 1], e = way[3 * r + 2] - a * x - b * y;
        h[3 * r] = a;
        h[3 * r + 1] = b;
        h[3 * r + 2] = e;
    }
    for (int i = 0; i < 3; i++) {
        h[i] += x * h[6 + i];
        h[3 + i] += y * h[6 + i];
    }
    for (int i = 0; i < 8; i++) {
        s->view[i] = h[i] / h[8];
    }
}

uint8_t *scene_expose(const scene_drawing *d, double exposure, unsigned noise_seed, int right,
                      int down)
{
    const scene *s = d->s;
    size_t pixels = s->width * s->height;
    uint8_t *codes = malloc(pixels * 3);
    double mean[3] = {0};
    bool held = s->view[0] != 0.0;
    for (size_t p = 0; p < pixels && codes; p++) {
        for (int k = 0; k < 3; k++) {
            mean[k] += d->linear[p][k] / (double)pixels;
        }
    }
    for (size_t p = 0; p < pixels && codes; p++) {
        size_t from =
            moved(p / s->width, down, s->height) * s->width + moved(p % s->width, right, s->width);
        double seen[3];
        if (held) {
            look_through(d, (double)(p % s->width) + 0.5, (double)(p / s->width) + 0.5, seen);
        } else {
            memcpy(seen, d->linear[from], sizeof seen);
        }
        for (int k = 0; k < 3; k++) {
            double value = exposure * (seen[k] + s->flare * mean[k]);
            // Photon noise: its variance grows with the light; 0.18 is the middle.
            double grain = s->noise * sqrt(fmax(value, 0.0) / 0.18) * 0.4;
            if (grain > 0.0) {
                value += grain * normal((uint32_t)p, (uint32_t)k, noise_seed);
            }
            double code = fmin(fmax(encoded(value, s), 0.0), 1.0);
            codes[3 * p + (size_t)k] = (uint8_t)(code * 255.0 + 0.5);
        }
    }
    return codes;
}

uint8_t *scene_render(const scene *s, scene_truth *truth)
{
    scene_drawing *d = scene_draw(s, truth);
    uint8_t *codes = d ? scene_expose(d, 1.0, s->noise_seed, 0, 0) : NULL;
    scene_drawing_free(d);
    return codes;
}

// ---- A region's mean ---------------------------------------------------------------

scene_grain scene_grain_of(const scene *s, size_t region)
{
    const scene_region *r = &s->region[region];
    scene_grain grain = {{0}};
    double n = 0.0;
    for (double y = floor(r->y) + 0.5; y < r->y + r->height; y += 1.0) {
        for (double x = floor(r->x) + 0.5; x < r->x + r->width; x += 1.0) {
            size_t top = 0;
            double part;
            if (!marks_pixel(r, x, y) || !top_region(s, x, y, &top) || top != region) {
                continue;
            }
            int rung = grain_rung(r, x, y, &part);
            grain.share[rung] += 1.0 - part;
            grain.share[rung + 1] += part;
            n += 1.0;
        }
    }
    for (int rung = 0; rung < RUNGS && n > 0.0; rung++) {
        grain.share[rung] /= n;
    }
    return grain;
}

hw_spectrum scene_mean_reflectance(const scene_region *region, const scene_grain *grain)
{
    hw_spectrum wood = bare(region), absorbance = absorbance_of(region), mean = {{0}};
    for (int rung = 0; rung < RUNGS; rung++) {
        if (grain->share[rung] > 0.0) {
            hw_spectrum r = dyed(region, &wood, &absorbance, rung);
            for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
                mean.at[i] += grain->share[rung] * r.at[i];
            }
        }
    }
    return mean;
}
