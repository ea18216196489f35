#include "find_scene.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// ---- Chance ------------------------------------------------------------------------

typedef struct chance {
    uint64_t state;
} chance;

static uint64_t mixed(uint64_t z) // splitmix64, public domain
{
    z += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static double between(chance *c, double low, double high)
{
    c->state = mixed(c->state);
    return low + (high - low) * (double)(c->state >> 11) * 0x1p-53;
}

static bool happens(chance *c, double share)
{
    return between(c, 0.0, 1.0) < share;
}

static int pick(chance *c, int count)
{
    int i = (int)between(c, 0.0, (double)count);
    return i < count ? i : count - 1;
}

static double normal(chance *c) // the sum of four even numbers: near enough for noise
{
    c->state = mixed(c->state);
    uint64_t z = c->state;
    double sum = (double)((z & 0xffff) + (z >> 16 & 0xffff) + (z >> 32 & 0xffff) + (z >> 48));
    return (sum / 65535.0 - 2.0) * 1.7320508;
}

// ---- Noise in the plane --------------------------------------------------------------

static double lattice(int64_t x, int64_t y, uint64_t seed)
{
    uint64_t h = mixed((uint64_t)x * 0x8da6b343u ^ mixed((uint64_t)y + seed * 0x9e3779b9u));
    return (double)(h >> 11) * 0x1p-52 - 1.0;
}

static double smooth_noise(double x, double y, uint64_t seed) // -1 to 1
{
    double fx = floor(x), fy = floor(y), u = x - fx, v = y - fy;
    int64_t i = (int64_t)fx, j = (int64_t)fy;
    u = u * u * (3.0 - 2.0 * u);
    v = v * v * (3.0 - 2.0 * v);
    double low = lattice(i, j, seed) * (1.0 - u) + lattice(i + 1, j, seed) * u;
    double high = lattice(i, j + 1, seed) * (1.0 - u) + lattice(i + 1, j + 1, seed) * u;
    return low * (1.0 - v) + high * v;
}

static double clouds(double x, double y, uint64_t seed)
{
    return 0.6 * smooth_noise(x, y, seed) + 0.3 * smooth_noise(2.1 * x, 2.1 * y, seed + 1) +
           0.15 * smooth_noise(4.3 * x, 4.3 * y, seed + 2);
}

// ---- Things ----------------------------------------------------------------------------

typedef enum kind {
    WOOD,
    WALL,
    CONCRETE,
    TILED,
    CLOTH,
    METAL,
    PAPER,
    BOOK,
    TILE,
    PANEL,
    GLASS,
    CARD,
    STEPS,
    CHART,
    THUMB,
} kind;

static const char *const kind_name[] = {"wood",        "wall",  "concrete", "tiled floor", "cloth",
                                        "metal",       "paper", "book",     "tile",        "panel",
                                        "black glass", "card",  "steps",    "24 patches",  "thumb"};

typedef struct thing {
    kind is;
    double at[3], u[3], v[3], n[3]; // centre, axes, normal; the camera looks along +z from 0
    double half_w, half_h;          // infinite where half_w is 0
    double round;                   // radius of its corners
    double colour[3], second[3];    // linear reflectances
    double rim;                     // a card's light rim, a panel's frame: width
    double shade, figure, sheen, sheen_u, sheen_v, shadow;
    double speckle; // of a painted or printed surface, 0 to 1
    int pieces;     // boards of wood, courses of tiles
    uint64_t seed;
    double low[2], high[2]; // box in the picture, with its shadow
} thing;

enum { THINGS_MOST = 24 };

typedef struct world {
    thing thing[THINGS_MOST]; // those behind first
    int count;
    double focal, cx, cy; // pixels
    size_t width, height;
    double fall_x, fall_y, shadow_x, shadow_y, shadow_at, shadow_soft, shadow_depth;
    double second_light; // colour drift over the frame
} world;

static double from_srgb(double code)
{
    double c = code / 255.0;
    return c <= 0.04045 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4);
}

static void set_colour(double to[3], double r, double g, double b)
{
    to[0] = from_srgb(r);
    to[1] = from_srgb(g);
    to[2] = from_srgb(b);
}

static double Y_of_lightness(double L)
{
    return L > 8.0 ? pow((L + 16.0) / 116.0, 3.0) : L / 903.3;
}

// A grey of that lightness, off by so much to the warm and to the green (relative).
static void set_grey(double to[3], double L, double warm, double green)
{
    double Y = Y_of_lightness(L);
    to[0] = Y * (1.0 + warm - 0.4 * green);
    to[1] = Y * (1.0 + 0.6 * green);
    to[2] = Y * (1.0 - warm - 0.4 * green);
}

static double dot(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

// Axes of a plane turned in itself by `turn` and tipped by `tilt` about the direction `about` in the picture.
static void set_axes(thing *t, double turn, double tilt, double about)
{
    double ca = cos(about), sa = sin(about), ct = cos(tilt), st = sin(tilt);
    for (int axis = 0; axis < 2; axis++) {
        double x = axis ? -sin(turn) : cos(turn), y = axis ? cos(turn) : sin(turn);
        double along = x * ca + y * sa, across = -x * sa + y * ca;
        double *to = axis ? t->v : t->u;
        to[0] = along * ca - across * ct * sa;
        to[1] = along * sa + across * ct * ca;
        to[2] = across * st;
    }
    t->n[0] = t->u[1] * t->v[2] - t->u[2] * t->v[1];
    t->n[1] = t->u[2] * t->v[0] - t->u[0] * t->v[2];
    t->n[2] = t->u[0] * t->v[1] - t->u[1] * t->v[0];
}

static void see(const world *w, const thing *t, double u, double v, double out[2])
{
    double p[3];
    for (int i = 0; i < 3; i++) {
        p[i] = t->at[i] + u * t->u[i] + v * t->v[i];
    }
    double z = fmax(p[2], 1e-3);
    out[0] = w->cx + w->focal * p[0] / z;
    out[1] = w->cy + w->focal * p[1] / z;
}

static bool meet_plane(const world *w, const thing *t, double x, double y, double *u, double *v)
{
    double ray[3] = {(x - w->cx) / w->focal, (y - w->cy) / w->focal, 1.0}, rel[3];
    double down = dot(t->n, ray);
    if (fabs(down) < 1e-9) {
        return false;
    }
    double s = dot(t->n, t->at) / down;
    for (int i = 0; i < 3; i++) {
        rel[i] = s * ray[i] - t->at[i];
    }
    *u = dot(rel, t->u);
    *v = dot(rel, t->v);
    return s > 0.0;
}

// How far outside of a rectangle with round corners a point is; negative inside.
static double outside(const thing *t, double u, double v)
{
    if (t->is == THUMB) {
        double r = hypot(u / t->half_w, v / t->half_h);
        return (r - 1.0) * t->half_w;
    }
    double du = fabs(u) - t->half_w + t->round, dv = fabs(v) - t->half_h + t->round;
    double out = hypot(fmax(du, 0.0), fmax(dv, 0.0)), in = fmin(fmax(du, dv), 0.0);
    return out + in - t->round;
}

static void set_box(const world *w, thing *t)
{
    t->low[0] = t->low[1] = t->half_w > 0.0 ? 1e9 : -1e9;
    t->high[0] = t->high[1] = -t->low[0];
    for (int i = 0; i < 4 && t->half_w > 0.0; i++) {
        double grow = 1.25, p[2];
        see(w, t, (i & 1 ? 1 : -1) * t->half_w * grow, (i & 2 ? 1 : -1) * t->half_h * grow, p);
        for (int k = 0; k < 2; k++) {
            t->low[k] = fmin(t->low[k], p[k]);
            t->high[k] = fmax(t->high[k], p[k]);
        }
    }
}

// ---- What a thing looks like at a point of it -------------------------------------------

static void wood_at(const thing *t, double u, double v, double out[3])
{
    double height = t->half_h > 0.0 ? 2.0 * t->half_h : 1.0, board = height / t->pieces;
    double at = (v + 0.5 * height) / board, number = floor(at), in = at - number;
    uint64_t seed = t->seed + (uint64_t)(int64_t)number * 17u;
    double bend = clouds(u * 2.0 + 7.0 * number, v * 5.0, seed);
    double rings = sin(6.2832 * (v * 22.0 + 1.6 * bend));
    double streak = smooth_noise(u * 9.0, v * 330.0, seed + 5);
    double tone = 1.0 + 0.1 * lattice((int64_t)number, 3, t->seed) +
                  t->figure * (0.5 * rings + 0.35 * streak + 0.4 * bend);
    double edge = fmin(in, 1.0 - in) * board;
    tone *= edge < 0.0015 ? 0.45 : 1.0;
    if (t->rim > 0.0) { // a moulding runs round: light and dark bands
        double rim = fmin(t->half_w - fabs(u), t->half_h - fabs(v)) / t->rim;
        tone *= rim < 1.0 ? 1.0 + 0.3 * sin(12.0 * rim) : 1.0;
    }
    bool repair = fabs(u - t->sheen_u) < 0.12 * t->half_w && fabs(v - t->sheen_v) < 0.2 * t->half_h;
    for (int i = 0; i < 3; i++) {
        out[i] = (repair ? t->second[i] : t->colour[i]) * fmax(tone, 0.1);
    }
}

static double surface_tone(const thing *t, double u, double v)
{
    switch (t->is) {
    case WALL:
        return 1.0 + 0.04 * clouds(u * 3.0, v * 3.0, t->seed) +
               t->figure * 0.15 * smooth_noise(u * 160.0, v * 160.0, t->seed + 3);
    case CONCRETE:
        return 1.0 + 0.12 * clouds(u * 6.0, v * 6.0, t->seed) +
               0.16 * smooth_noise(u * 210.0, v * 210.0, t->seed + 4);
    case CLOTH:
        return 1.0 + 0.35 * clouds(u * 3.0 + v, v * 3.0, t->seed) +
               0.06 * sin(u * 900.0) * sin(v * 900.0) +
               0.12 * smooth_noise(u * 260.0, v * 260.0, t->seed + 2);
    case METAL:
        return 1.0 + 0.45 * clouds(u * 1.2, v * 0.8, t->seed) + 0.5 * t->sheen * u / 0.3 +
               0.12 * smooth_noise(u * 3.0, v * 500.0, t->seed + 1);
    default: // paint and print: nearly even, a fine grain on some
        return 1.0 + 0.012 * clouds(u * 5.0, v * 5.0, t->seed) +
               0.05 * t->speckle * smooth_noise(u * 700.0, v * 700.0, t->seed + 6);
    }
}

static void tiled_at(const thing *t, double u, double v, double out[3])
{
    double size = t->rim * 12.0, x = u / size, y = v / size;
    double in_x = x - floor(x), in_y = y - floor(y);
    bool joint = fmin(fmin(in_x, 1.0 - in_x), fmin(in_y, 1.0 - in_y)) < 0.02;
    double tone = 1.0 + 0.05 * lattice((int64_t)floor(x), (int64_t)floor(y), t->seed) +
                  0.03 * clouds(u * 9.0, v * 9.0, t->seed);
    for (int i = 0; i < 3; i++) {
        out[i] = (joint ? t->second[i] : t->colour[i]) * tone;
    }
}

// A book's lettering, a sheet's lines of text: dark bars.
static bool is_lettering(const thing *t, double x, double y)
{
    if (t->is == PAPER) {
        double row = y * (double)t->pieces, in = row - floor(row);
        return t->pieces > 1 && fabs(x) < 0.8 && fabs(y) < 0.85 && in < 0.35 &&
               smooth_noise(x * 60.0, floor(row), t->seed) > -0.3 &&
               x < 0.7 + 0.3 * lattice((int64_t)floor(row), 0, t->seed);
    }
    return (fabs(y + 0.4) < 0.1 && fabs(x) < 0.6 && smooth_noise(x * 14.0, 1.0, t->seed) > -0.2) ||
           (t->pieces > 1 && x < -0.86);
}

static void patches_at(const thing *t, double x, double y, double out[3])
{
    // sRGB of the 24 patches as published for D65 (McCamy, Marcus and Davidson 1976 for the chart)
    static const uint8_t srgb[24][3] = {
        {115, 82, 68},   {194, 150, 130}, {98, 122, 157}, {87, 108, 67},   {133, 128, 177},
        {103, 189, 170}, {214, 126, 44},  {80, 91, 166},  {193, 90, 99},   {94, 60, 108},
        {157, 188, 64},  {224, 163, 46},  {56, 61, 150},  {70, 148, 73},   {175, 54, 60},
        {231, 199, 31},  {187, 86, 149},  {8, 133, 161},  {243, 243, 242}, {200, 200, 200},
        {160, 160, 160}, {122, 122, 121}, {85, 85, 85},   {52, 52, 52}};
    double rim = t->rim, fx = (0.5 * (x + 1.0) - rim) / (1.0 - 2.0 * rim);
    double ratio = t->half_w / t->half_h, rim_y = rim * ratio;
    double fy = (0.5 * (y + 1.0) - rim_y) / (1.0 - 2.0 * rim_y);
    double column = floor(fx * 6.0), row = floor(fy * 4.0);
    double in_x = fabs(fx * 6.0 - column - 0.5), in_y = fabs(fy * 4.0 - row - 0.5);
    if (column < 0 || column > 5 || row < 0 || row > 3 || fmax(in_x, in_y) > 0.5 - t->figure) {
        memcpy(out, t->second, 3 * sizeof *out);
        return;
    }
    const uint8_t *code = srgb[(int)row * 6 + (int)column];
    set_colour(out, code[0], code[1], code[2]);
}

static void steps_at(const thing *t, double x, double out[3])
{
    static const double L[3] = {95.0, 49.5, 22.0}; // usual lightnesses of such cards
    double at = 1.5 * (x + 1.0);
    int step = at < 1.0 ? 0 : at < 2.0 ? 1 : 2;
    bool gap = t->figure > 0.0 && fabs(at - round(at)) < t->figure && at > 0.5 && at < 2.5;
    if (gap) {
        memcpy(out, t->second, 3 * sizeof *out);
    } else {
        set_grey(out, L[step], 0.0, 0.0);
    }
}

static void colour_at(const thing *t, double u, double v, double out[3])
{
    double x = t->half_w > 0.0 ? u / t->half_w : u, y = t->half_h > 0.0 ? v / t->half_h : v;
    memcpy(out, t->colour, 3 * sizeof *out);
    if (t->is == WOOD) {
        wood_at(t, u, v, out);
    } else if (t->is == TILED) {
        tiled_at(t, u, v, out);
    } else if (t->is == CHART) {
        patches_at(t, x, y, out);
    } else if (t->is == STEPS) {
        steps_at(t, x, out);
    } else if (((t->is == BOOK || t->is == PAPER) && is_lettering(t, x, y)) ||
               ((t->is == CARD || t->is == PANEL || t->is == TILE) && outside(t, u, v) > -t->rim)) {
        memcpy(out, t->second, 3 * sizeof *out);
    }
    double tone = t->is == WOOD || t->is == TILED ? 1.0 : surface_tone(t, u, v);
    tone *= 1.0 + t->shade * (0.7 * x + 0.3 * y); // a card is never quite flat
    double away = hypot(x - t->sheen_u, y - t->sheen_v);
    double sheen = t->is == METAL || t->is == WOOD ? 0.0 : t->sheen * exp(-2.5 * away * away);
    for (int i = 0; i < 3; i++) {
        out[i] = fmax(out[i] * tone, 0.002) + sheen;
    }
}

// ---- A pixel ----------------------------------------------------------------------------

static bool near_box(const thing *t, double x, double y)
{
    return x >= t->low[0] && x <= t->high[0] && y >= t->low[1] && y <= t->high[1];
}

static int thing_at(const world *w, double x, double y, double *u, double *v)
{
    for (int k = w->count - 1; k >= 0; k--) {
        const thing *t = &w->thing[k];
        if (near_box(t, x, y) && meet_plane(w, t, x, y, u, v) &&
            (t->half_w == 0.0 || outside(t, *u, *v) < 0.0)) {
            return k;
        }
    }
    return 0;
}

// What things above throw on the one that is seen: their own outline, moved and soft.
static double shadow_of_things(const world *w, int seen, double x, double y)
{
    double light = 1.0, u, v;
    for (int k = seen + 1; k < w->count; k++) {
        const thing *t = &w->thing[k];
        if (t->shadow > 0.0 && near_box(t, x, y) && meet_plane(w, t, x, y, &u, &v)) {
            double reach = 0.06 * fmin(t->half_w, t->half_h);
            double away = outside(t, u - reach, v - reach) / reach;
            light *= 1.0 - t->shadow * fmin(fmax(1.0 - away, 0.0), 1.0);
        }
    }
    return light;
}

static void light_at(const world *w, double x, double y, double out[3])
{
    double fx = x / (double)w->width - 0.5, fy = y / (double)w->height - 0.5;
    double light = 1.0 + w->fall_x * fx + w->fall_y * fy;
    double edge = (w->shadow_x * fx + w->shadow_y * fy - w->shadow_at) / w->shadow_soft;
    light *= 1.0 - w->shadow_depth / (1.0 + exp(-4.0 * edge));
    out[0] = light * (1.0 + w->second_light * fx);
    out[1] = light;
    out[2] = light * (1.0 - w->second_light * fx);
}

static void sample_at(const world *w, double x, double y, double out[3])
{
    double u = 0.0, v = 0.0, light[3];
    int seen = thing_at(w, x, y, &u, &v);
    if (!meet_plane(w, &w->thing[seen], x, y, &u, &v)) {
        u = v = 0.0;
    }
    colour_at(&w->thing[seen], u, v, out);
    light_at(w, x, y, light);
    double shade = shadow_of_things(w, seen, x, y);
    for (int i = 0; i < 3; i++) {
        out[i] *= light[i] * shade;
    }
}

// Two samples, and where they differ, at an edge, nine.
static void pixel_at(const world *w, size_t x, size_t y, double out[3])
{
    double a[3], b[3], sum[3] = {0};
    sample_at(w, (double)x + 0.25, (double)y + 0.3, a);
    sample_at(w, (double)x + 0.75, (double)y + 0.7, b);
    double apart = fabs(a[0] - b[0]) + fabs(a[1] - b[1]) + fabs(a[2] - b[2]);
    for (int i = 0; i < 3; i++) {
        out[i] = 0.5 * (a[i] + b[i]);
    }
    if (apart < 0.08 * (a[0] + a[1] + a[2] + b[0] + b[1] + b[2])) {
        return;
    }
    for (int k = 0; k < 9; k++) {
        sample_at(w, (double)x + (k % 3 + 0.5) / 3.0, (double)y + ((double)(k / 3) + 0.5) / 3.0, a);
        for (int i = 0; i < 3; i++) {
            sum[i] += a[i] / 9.0;
            out[i] = sum[i];
        }
    }
}

// ---- The camera ---------------------------------------------------------------------------

typedef struct camera {
    double gain[3], curve, saturation, noise, blur;
} camera;

static void blur_line(float *line, size_t count, size_t step, double sigma, float *room)
{
    double weight[8], total = 0.0;
    int reach = (int)ceil(2.5 * sigma);
    reach = reach > 7 ? 7 : reach;
    for (int k = 0; k <= reach; k++) {
        weight[k] = exp(-0.5 * k * k / (sigma * sigma));
        total += k ? 2.0 * weight[k] : weight[k];
    }
    for (size_t i = 0; i < count; i++) {
        double sum = weight[0] * (double)line[i * step];
        for (size_t k = 1; k <= (size_t)reach; k++) {
            size_t low = i > k ? i - k : 0, high = i + k < count ? i + k : count - 1;
            sum += weight[k] * ((double)line[low * step] + (double)line[high * step]);
        }
        room[i] = (float)(sum / total);
    }
    for (size_t i = 0; i < count; i++) {
        line[i * step] = room[i];
    }
}

static double to_code(double linear, double curve)
{
    double c = linear <= 0.0031308 ? 12.92 * linear : 1.055 * pow(linear, 1.0 / 2.4) - 0.055;
    c = fmin(fmax(c, 0.0), 1.0);
    return c + curve * (c * c * (3.0 - 2.0 * c) - c);
}

static void develop(const float *linear, const camera *cam, chance *c, uint8_t *out)
{
    double rgb[3], grey = 0.0;
    for (int i = 0; i < 3; i++) {
        double light = fmax((double)linear[i] * cam->gain[i], 0.0);
        double noise = cam->noise * sqrt(light * 0.25 + 0.004);
        rgb[i] = light + noise * normal(c);
        grey += rgb[i] / 3.0;
    }
    for (int i = 0; i < 3; i++) {
        double code = to_code(fmax(grey + cam->saturation * (rgb[i] - grey), 0.0), cam->curve);
        out[i] = (uint8_t)(255.0 * code + 0.5);
    }
}

static bool expose(const world *w, const camera *cam, chance *c, find_scene *out)
{
    size_t longer = w->width > w->height ? w->width : w->height;
    float *picture = malloc(w->width * w->height * 3 * sizeof *picture);
    float *room = malloc(longer * sizeof *room);
    out->rgb = malloc(w->width * w->height * 3);
    if (picture && room && out->rgb) {
        for (size_t i = 0; i < w->width * w->height; i++) {
            double colour[3];
            pixel_at(w, i % w->width, i / w->width, colour);
            for (int k = 0; k < 3; k++) {
                picture[3 * i + (size_t)k] = (float)colour[k];
            }
        }
        for (size_t k = 0; k < 3; k++) {
            for (size_t y = 0; y < w->height; y++) {
                blur_line(picture + 3 * y * w->width + k, w->width, 3, cam->blur, room);
            }
            for (size_t x = 0; x < w->width; x++) {
                blur_line(picture + 3 * x + k, w->height, 3 * w->width, cam->blur, room);
            }
        }
        for (size_t i = 0; i < w->width * w->height; i++) {
            develop(picture + 3 * i, cam, c, out->rgb + 3 * i);
        }
    }
    bool good = picture && room && out->rgb;
    free(picture);
    free(room);
    return good;
}

// ---- What lies about ------------------------------------------------------------------------

static void colour_wood(chance *c, double to[3])
{
    // sRGB of woods with and without age, by eye; ebony and two greyed ones among them
    static const uint8_t srgb[14][3] = {
        {214, 184, 142}, {205, 178, 140}, {222, 184, 128}, {176, 136, 88}, {168, 104, 64},
        {98, 70, 50},    {122, 62, 40},   {140, 96, 58},   {84, 48, 40},   {50, 42, 38},
        {140, 130, 116}, {206, 160, 120}, {200, 188, 164}, {150, 108, 70}};
    const uint8_t *s = srgb[pick(c, 14)];
    set_colour(to, s[0], s[1], s[2]);
}

static thing new_wood(chance *c)
{
    thing t = {.is = WOOD, .pieces = 1 + pick(c, 5), .seed = (uint64_t)between(c, 1, 1e9)};
    colour_wood(c, t.colour);
    double lighter = between(c, 0.7, 1.6);
    for (int i = 0; i < 3; i++) {
        t.second[i] = fmin(t.colour[i] * lighter, 0.85);
    }
    t.figure = between(c, 0.05, 0.3);
    t.shadow = 0.3;
    return t;
}

static thing new_ground(chance *c)
{
    static const kind kinds[] = {WALL, WALL, CONCRETE, CLOTH, TILED, WOOD};
    kind is = kinds[pick(c, 6)];
    thing t = is == WOOD ? new_wood(c) : (thing){.is = is, .seed = (uint64_t)between(c, 1, 1e9)};
    if (is != WOOD) {
        set_grey(t.colour, between(c, 30, 88), between(c, -0.06, 0.14), between(c, -0.04, 0.05));
        set_grey(t.second, between(c, 25, 80), 0.05, 0.0);
        t.figure = between(c, 0.0, 1.0);
        t.rim = between(c, 0.006, 0.03); // a twelfth of a tile
    }
    t.pieces = is == WOOD ? 4 : 0;
    return t;
}

// Grey rectangles that are no card. A tile shines and has a bevel; a panel has a frame or none.
static thing new_alike(chance *c)
{
    static const kind kinds[] = {TILE, TILE, PANEL, BOOK};
    thing t = {.is = kinds[pick(c, 4)], .seed = (uint64_t)between(c, 1, 1e9), .shadow = 0.3};
    set_grey(t.colour, between(c, 35, 80), between(c, -0.10, 0.12), between(c, -0.06, 0.06));
    set_grey(t.second, between(c, 30, 90), between(c, -0.1, 0.1), 0.0);
    t.rim = t.is == PANEL && happens(c, 0.6) ? between(c, 0.008, 0.03) : 0.0;
    t.rim = t.is == TILE ? between(c, 0.0, 0.004) : t.rim;
    t.sheen = t.is == TILE && happens(c, 0.7) ? between(c, 0.02, 0.3) : 0.0;
    t.sheen_u = between(c, -1.0, 1.0);
    t.sheen_v = between(c, -1.0, 1.0);
    t.pieces = 1 + pick(c, 2);
    t.speckle = happens(c, 0.4) ? between(c, 0.0, 1.0) : 0.0;
    t.round = 0.003;
    return t;
}

static thing new_clutter(chance *c)
{
    static const kind kinds[] = {PAPER, PAPER, BOOK, METAL, GLASS, CLOTH};
    thing t = {.is = kinds[pick(c, 6)], .seed = (uint64_t)between(c, 1, 1e9), .shadow = 0.3};
    switch (t.is) {
    case PAPER:
        set_grey(t.colour, between(c, 86, 97), between(c, -0.02, 0.06), 0.0);
        set_grey(t.second, 25.0, 0.0, 0.0);
        t.pieces = happens(c, 0.5) ? 1 : 20;
        break;
    case BOOK:
        for (int i = 0; i < 3; i++) {
            t.colour[i] = from_srgb(between(c, 40, 200));
        }
        set_grey(t.second, between(c, 20, 90), between(c, -0.2, 0.3), 0.0);
        t.pieces = 2;
        break;
    case GLASS:
        set_grey(t.colour, between(c, 4, 14), 0.0, 0.0);
        t.sheen = between(c, 0.0, 0.2);
        t.sheen_u = between(c, -1.0, 1.0);
        t.round = 0.01;
        break;
    default:
        set_grey(t.colour, between(c, 40, 75), between(c, -0.04, 0.05), 0.0);
        t.sheen = t.is == METAL ? between(c, -1.0, 1.0) : 0.0;
    }
    return t;
}

static thing new_card(chance *c, find_truth truth)
{
    thing t = {.is = truth == TRUTH_CARD    ? CARD
                     : truth == TRUTH_STEPS ? STEPS
                                            : CHART,
               .seed = (uint64_t)between(c, 1, 1e9),
               .shadow = between(c, 0.0, 0.5)};
    set_grey(t.colour, between(c, 47, 52), between(c, -0.02, 0.02), between(c, -0.012, 0.012));
    set_grey(t.second, truth == TRUTH_CARD ? 92.0 : between(c, 8, 25), 0.0, 0.0);
    t.shade = between(c, -0.05, 0.05);
    t.speckle = happens(c, 0.4) ? between(c, 0.0, 1.0) : 0.0;
    t.sheen = happens(c, 0.2) ? between(c, 0.0, 0.03) : 0.0;
    t.sheen_u = between(c, -1.0, 1.0);
    t.sheen_v = between(c, -1.0, 1.0);
    if (truth == TRUTH_STEPS) {
        t.figure = happens(c, 0.4) ? between(c, 0.01, 0.04) : 0.0;
    } else if (truth == TRUTH_CHART) {
        t.figure = happens(c, 0.7) ? between(c, 0.04, 0.09) : 0.0;
        t.rim = happens(c, 0.7) ? between(c, 0.015, 0.05) : 0.0;
        if (happens(c, 0.2) && t.figure > 0.0) {
            set_grey(t.second, 90.0, 0.0, 0.0); // a white grid
        }
    }
    return t;
}

// ---- Where it lies --------------------------------------------------------------------------

static double seen_area(double q[4][2])
{
    double sum = 0.0;
    for (int i = 0; i < 4; i++) {
        int j = (i + 1) % 4;
        sum += q[i][0] * q[j][1] - q[j][0] * q[i][1];
    }
    return fabs(0.5 * sum);
}

static void see_corners(const world *w, const thing *t, double q[4][2])
{
    static const int sign[4][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
    for (int i = 0; i < 4; i++) {
        see(w, t, sign[i][0] * t->half_w, sign[i][1] * t->half_h, q[i]);
    }
}

// Puts it down so that it covers about `share` of the frame and, where asked, lies wholly inside.
static bool lay(world *w, thing *t, chance *c, double share, double ratio, double tilt, bool whole)
{
    for (int attempt = 0; attempt < 60; attempt++) {
        double turn = between(c, -3.1416, 3.1416), x = between(c, 0.05, 0.95);
        double y = between(c, 0.05, 0.95);
        set_axes(t, turn, tilt, between(c, 0.0, 6.2832));
        t->at[2] = 1.0;
        t->at[0] = (x * (double)w->width - w->cx) / w->focal;
        t->at[1] = (y * (double)w->height - w->cy) / w->focal;
        double side = sqrt(share * (double)(w->width * w->height)) / w->focal;
        t->half_w = 0.5 * side * sqrt(ratio / cos(tilt));
        t->half_h = 0.5 * side / sqrt(ratio * cos(tilt));
        double q[4][2], margin = 0.012 * (double)w->width;
        see_corners(w, t, q);
        bool inside = true;
        for (int i = 0; i < 4; i++) {
            inside = inside && q[i][0] > margin && q[i][1] > margin &&
                     q[i][0] < (double)w->width - margin && q[i][1] < (double)w->height - margin;
        }
        if (inside || !whole) {
            set_box(w, t);
            return true;
        }
    }
    return false;
}

static bool boxes_meet(const thing *a, const thing *b)
{
    return a->low[0] < b->high[0] && b->low[0] < a->high[0] && a->low[1] < b->high[1] &&
           b->low[1] < a->high[1];
}

static void add_clutter(world *w, const thing *card, chance *c, int count, bool alike)
{
    for (int k = 0; k < count && w->count < THINGS_MOST - 3; k++) {
        thing t = alike ? new_alike(c) : new_clutter(c);
        bool below = !alike && happens(c, 0.15); // the card may lie on it
        for (int attempt = 0; attempt < 20; attempt++) {
            double share = exp(between(c, log(0.008), log(0.12)));
            if (lay(w, &t, c, share, between(c, 1.0, 1.9), between(c, 0.0, 0.6), alike) &&
                (below || !card || !boxes_meet(&t, card))) {
                w->thing[w->count++] = t;
                break;
            }
        }
    }
}

static void add_thumb(world *w, const thing *card, chance *c)
{
    thing t = *card;
    t.is = THUMB;
    t.shadow = 0.2;
    set_colour(t.colour, 205, 150, 125);
    double along = between(c, -0.6, 0.6), side = happens(c, 0.5) ? 1.0 : -1.0;
    for (int i = 0; i < 3; i++) {
        t.at[i] += along * card->half_w * card->u[i] + 1.05 * side * card->half_h * card->v[i];
    }
    t.half_w = 0.13 * card->half_w;
    t.half_h = 0.26 * card->half_h;
    t.sheen = t.shade = t.rim = 0.0;
    set_box(w, &t);
    w->thing[w->count++] = t;
}

static void add_piece(world *w, chance *c)
{
    thing ground = new_ground(c), wood = new_wood(c);
    ground.at[2] = 1.2;
    set_axes(&ground, between(c, -0.3, 0.3), between(c, 0.0, 0.3), between(c, 0.0, 6.28));
    set_box(w, &ground);
    w->thing[w->count++] = ground;
    set_axes(&wood, between(c, -0.15, 0.15), between(c, 0.0, 0.3), between(c, 0.0, 6.28));
    wood.at[0] = between(c, -0.1, 0.1);
    wood.at[1] = between(c, -0.08, 0.08);
    wood.at[2] = 1.05;
    double view = (double)w->width / w->focal;
    wood.half_w = view * between(c, 0.3, 0.65);
    wood.half_h = wood.half_w * between(c, 0.5, 0.8);
    wood.rim = happens(c, 0.5) ? wood.half_w * between(c, 0.06, 0.15) : 0.0;
    wood.sheen_u = wood.half_w * between(c, -0.6, 0.6); // where the repair is
    wood.sheen_v = wood.half_h * between(c, -0.5, 0.5);
    set_box(w, &wood);
    w->thing[w->count++] = wood;
}

static void set_light(world *w, chance *c, camera *cam)
{
    w->fall_x = between(c, -0.5, 0.5);
    w->fall_y = between(c, -0.4, 0.4);
    double about = between(c, 0.0, 6.28);
    w->shadow_x = cos(about);
    w->shadow_y = sin(about);
    w->shadow_at = between(c, -0.4, 0.4);
    w->shadow_soft = exp(between(c, log(0.04), log(0.4)));
    w->shadow_depth = happens(c, 0.4) ? between(c, 0.1, 0.5) : 0.0;
    w->second_light = happens(c, 0.4) ? between(c, -0.15, 0.15) : 0.0;
    double exposure = exp2(between(c, -1.0, 1.0)), strong = happens(c, 0.2) ? 0.3 : 0.1;
    double warm = strong * normal(c), green = 0.4 * strong * normal(c);
    cam->gain[0] = exposure * exp(warm);
    cam->gain[1] = exposure * exp(green);
    cam->gain[2] = exposure * exp(-warm);
    cam->curve = between(c, 0.0, 0.8);
    cam->saturation = between(c, 0.95, 1.25);
    cam->noise = exp(between(c, log(0.003), log(0.045)));
    cam->blur = between(c, 0.45, 1.5) * (double)w->width / 1600.0 + 0.1;
}

// ---- A scene ------------------------------------------------------------------------------

void find_scene_seen(const double corner[4][2], double u, double v, double out[2])
{
    // Heckbert 1989, 2.2.3: the unit square to a quadrilateral
    double dx1 = corner[1][0] - corner[2][0], dx2 = corner[3][0] - corner[2][0];
    double dy1 = corner[1][1] - corner[2][1], dy2 = corner[3][1] - corner[2][1];
    double sx = corner[0][0] - corner[1][0] + corner[2][0] - corner[3][0];
    double sy = corner[0][1] - corner[1][1] + corner[2][1] - corner[3][1];
    double area = dx1 * dy2 - dx2 * dy1;
    double g = (sx * dy2 - dx2 * sy) / area, h = (dx1 * sy - sx * dy1) / area;
    double w = g * u + h * v + 1.0;
    for (int i = 0; i < 2; i++) {
        out[i] = ((corner[1][i] - corner[0][i] + g * corner[1][i]) * u +
                  (corner[3][i] - corner[0][i] + h * corner[3][i]) * v + corner[0][i]) /
                 w;
    }
}

static void tell_truth(const world *w, const thing *t, find_scene *out)
{
    double rim_x = t->is == CHART ? t->rim * 2.0 * t->half_w : t->is == CARD ? t->rim : 0.0;
    thing inner = *t;
    inner.half_w -= rim_x;
    inner.half_h -= rim_x;
    see_corners(w, &inner, out->corner);
    for (int s = 0; s < 3 && t->is == STEPS; s++) {
        double low = s / 3.0 + (s > 0 ? t->figure / 3.0 : 0.0);
        double high = (s + 1) / 3.0 - (s < 2 ? t->figure / 3.0 : 0.0);
        const double at[4][2] = {{low, 0}, {high, 0}, {high, 1}, {low, 1}};
        for (int i = 0; i < 4; i++) {
            find_scene_seen(out->corner, at[i][0], at[i][1], out->step[s][i]);
        }
    }
    out->share = seen_area(out->corner) / (double)(w->width * w->height);
    out->tilt_deg = 57.2958 * acos(fmin(fabs(t->n[2]), 1.0));
}

static find_truth truth_of(chance *c, find_mix mix)
{
    double at = between(c, 0.0, 1.0);
    if (mix != MIX_ALL) {
        return mix == MIX_CARD_ALONE ? TRUTH_CARD : TRUTH_NONE;
    }
    return at < 0.5 ? TRUTH_CARD : at < 0.625 ? TRUTH_STEPS : at < 0.75 ? TRUTH_CHART : TRUTH_NONE;
}

// The card's size, form and place. At least 0.5 % of the frame, a chart's patches at least 1 %.
static bool lay_card(world *w, chance *c, find_truth truth, thing *card)
{
    *card = new_card(c, truth);
    double least = truth == TRUTH_CHART ? 0.01 : 0.005;
    double share = exp(between(c, log(least), log(0.19)));
    double ratio = truth == TRUTH_CHART   ? 1.5
                   : truth == TRUTH_STEPS ? between(c, 1.5, 3.0)
                                          : between(c, 1.0, 1.7);
    double tilt = 0.785 * sqrt(between(c, 0.0, 1.0)) * between(c, 0.0, 1.0);
    if (!lay(w, card, c, share, ratio, tilt, true)) {
        return false;
    }
    double shorter = fmin(card->half_w, card->half_h);
    if (truth == TRUTH_CARD) {
        card->rim = happens(c, 0.2) ? shorter * between(c, 0.06, 0.15) : 0.0;
        card->round = card->rim == 0.0 && happens(c, 0.4) ? shorter * between(c, 0.02, 0.14) : 0.0;
    }
    return true;
}

static void tell(const world *w, find_scene *out)
{
    size_t length = 0;
    for (int k = 0; k < w->count && length < sizeof out->told - 1; k++) {
        length += (size_t)snprintf(out->told + length, sizeof out->told - length, "%s%s",
                                   k ? ", " : "", kind_name[w->thing[k].is]);
    }
}

bool find_scene_render(unsigned number, find_mix mix, size_t width, size_t height, find_scene *out)
{
    chance c = {mixed(number) ^ mixed((uint64_t)mix + 77u)};
    world w = {
        .width = width, .height = height, .cx = 0.5 * (double)width, .cy = 0.5 * (double)height};
    camera cam = {.blur = 1.0};
    thing card;
    *out = (find_scene){.width = width, .height = height, .quality = 75 + pick(&c, 21)};
    w.focal = (double)width * between(&c, 0.75, 1.2);
    set_light(&w, &c, &cam);
    add_piece(&w, &c);
    out->truth = truth_of(&c, mix);
    bool has_card = out->truth != TRUTH_NONE && lay_card(&w, &c, out->truth, &card);
    out->truth = has_card ? out->truth : TRUTH_NONE;
    double alike = mix == MIX_ALL ? 0.2 : mix == MIX_LOOK_ALIKE ? 1.0 : 0.0;
    out->alike = happens(&c, alike);
    add_clutter(&w, has_card ? &card : NULL, &c, pick(&c, 5), false);
    add_clutter(&w, has_card ? &card : NULL, &c, out->alike ? 1 : 0, true);
    if (has_card) {
        w.thing[w.count++] = card;
        tell_truth(&w, &card, out);
        if (out->truth == TRUTH_CARD && happens(&c, 0.12)) {
            add_thumb(&w, &card, &c);
        }
    }
    tell(&w, out);
    return expose(&w, &cam, &c, out);
}
