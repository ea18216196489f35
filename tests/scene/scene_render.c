// scene_render.c: from a scene to code values. The grain of a board multiplies its absorbance: a
// darker streak is more of the same wood, R^g. Each board's colour is computed from spectra on a
// ladder of g, and read off between the rungs, so a megapixel costs no megaspectra.
#include "scene.h"

#include <math.h>
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

#define RUNGS 33
static const double g_low = 0.4, g_step = 0.05; // to 2.0

typedef struct surface {
    double rgb[RUNGS][3];
    hw_xyz xyz[RUNGS]; // under D50
} surface;

static void lay_dye(const scene_region *region, hw_spectrum *r)
{
    for (size_t k = 0; k < region->layer_count; k++) {
        hw_spectrum dye;
        if (scene_dye(region->layer[k].family, &dye)) {
            for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
                r->at[i] *= pow(10.0, -region->layer[k].amount * dye.at[i]);
            }
        }
    }
}

static void make_surface(const scene_region *region, const scene_camera *camera, surface *out)
{
    hw_spectrum wood = scene_wood(region->colour, region->bump), d50 = hw_daylight(5003.0);
    for (int rung = 0; rung < RUNGS; rung++) {
        hw_spectrum r;
        for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
            r.at[i] = pow(wood.at[i], g_low + g_step * rung);
        }
        lay_dye(region, &r);
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

static double encoded(double linear, double tone)
{
    double v = hw_srgb_encoded(fmin(fmax(linear, 0.0), 1.0));
    return v + 2.0 * tone * v * (1.0 - v) * (2.0 * v - 1.0);
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

static void add_truth(const scene_region *r, const surface *look, int rung, double part, double x,
                      double y, sums *sum)
{
    double mark[4];
    scene_mark(r, mark);
    if (x < floor(mark[0]) || y < floor(mark[1]) || x >= floor(mark[0]) + floor(mark[2]) ||
        y >= floor(mark[1]) + floor(mark[3])) {
        return;
    }
    const hw_xyz *low = &look->xyz[rung], *high = &look->xyz[rung + 1];
    sum->X += (1 - part) * low->X + part * high->X;
    sum->Y += (1 - part) * low->Y + part * high->Y;
    sum->Z += (1 - part) * low->Z + part * high->Z;
    sum->n += 1.0;
}

uint8_t *scene_render(const scene *s, scene_truth *truth)
{
    size_t pixels = s->width * s->height;
    double(*linear)[3] = calloc(pixels, sizeof *linear), mean[3] = {0};
    uint8_t *codes = malloc(pixels * 3);
    surface *looks = calloc(s->region_count, sizeof *looks);
    sums sum[SCENE_REGIONS_MOST] = {{0}};
    if (!linear || !codes || !looks) {
        free(codes);
        codes = NULL;
        goto done;
    }
    scene_camera camera = scene_camera_for(s->camera, &s->lamp, s->balance);
    for (size_t i = 0; i < s->region_count; i++) {
        make_surface(&s->region[i], &camera, &looks[i]);
    }
    for (size_t p = 0; p < pixels; p++) {
        double x = (double)(p % s->width) + 0.5, y = (double)(p / s->width) + 0.5, part;
        size_t index = 0;
        const scene_region *r = top_region(s, x, y, &index);
        double g = r->kind == SCENE_BOARD ? grain_at(r, x, y) : 1.0;
        if (r->kind == SCENE_GROUND) {
            g += 0.05 * smooth_noise(x / 3.0, y / 3.0, r->seed);
        }
        int rung = rung_of(g, &part);
        double light = s->exposure * edge_shade(r, x, y) *
                       exp(s->fall_off[0] * (x - 0.5 * (double)s->width) +
                           s->fall_off[1] * (y - 0.5 * (double)s->height));
        for (int k = 0; k < 3; k++) {
            linear[p][k] = light * ((1 - part) * looks[index].rgb[rung][k] +
                                    part * looks[index].rgb[rung + 1][k]);
            mean[k] += linear[p][k] / (double)pixels;
        }
        add_truth(r, &looks[index], rung, part, x, y, &sum[index]);
    }
    hw_spectrum d50 = hw_daylight(5003.0), one;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        one.at[i] = 1.0;
    }
    hw_xyz white = hw_xyz_of_reflectance(&one, &d50);
    for (size_t i = 0; i < s->region_count; i++) {
        double n = fmax(sum[i].n, 1.0);
        truth->lab[i] = hw_lab_from_xyz((hw_xyz){sum[i].X / n, sum[i].Y / n, sum[i].Z / n}, white);
    }
    for (size_t p = 0; p < pixels; p++) {
        for (int k = 0; k < 3; k++) {
            double value = linear[p][k] + s->flare * mean[k];
            // Photon noise: its variance grows with the light; 0.18 is the middle.
            double grain = s->noise * sqrt(fmax(value, 0.0) / 0.18) * 0.4;
            value += grain * normal((uint32_t)p, (uint32_t)k, s->noise_seed);
            codes[3 * p + (size_t)k] = (uint8_t)(encoded(value, s->tone) * 255.0 + 0.5);
        }
    }
done:
    free(linear);
    free(looks);
    return codes;
}
