// carry_pairs.c: how the pairs are made.
//
// A piece is one or two flat fronts (the second set back behind the first, or a lid that leans away), each with a texture
// of darkness painted a texel at a time: grain along each board, growth rings, pores, knots, joints, stripes of
// mouldings, screws, scratches. A pinhole camera sees them from two places; each photo has its own light (gain, cast,
// gradient, glare), noise, blur, tone curve and JPEG step. The repair gets darker in between, and the card may be moved.
// All sizes on the piece are millimetres. The amounts are common sense, no source.
#include "carry_pairs.h"
#include "picture.h"
#include "write_jpeg.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double front_width = 900, front_height = 675; // mm
static const double texel = 0.6;                           // mm

// ---- Noise -------------------------------------------------------------------------

static double lattice(int64_t x, int64_t y, uint64_t seed)
{
    uint64_t z = seed + (uint64_t)x * 0x9e3779b97f4a7c15u + (uint64_t)y * 0xc2b2ae3d27d4eb4fu;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) / 4503599627370496.0 - 1.0;
}

// Smooth, -1 to 1, a change about every unit.
static double noise(double x, double y, uint64_t seed)
{
    int64_t ix = (int64_t)x - (x < 0.0),
            iy = (int64_t)y - (y < 0.0); // floor, but for whole negatives
    double u = x - (double)ix, v = y - (double)iy;
    u = u * u * (3.0 - 2.0 * u);
    v = v * v * (3.0 - 2.0 * v);
    double upper = lattice(ix, iy, seed) * (1.0 - u) + lattice(ix + 1, iy, seed) * u;
    double lower = lattice(ix, iy + 1, seed) * (1.0 - u) + lattice(ix + 1, iy + 1, seed) * u;
    return upper * (1.0 - v) + lower * v;
}

static double between(uint64_t *state, double low, double high)
{
    return low + (high - low) * picture_random(state);
}

// ---- Wood --------------------------------------------------------------------------

typedef enum species { PLAIN, COARSE, RINGS, BURL, KNOTTY, WOODS } species;
static const char *const wood_names[WOODS] = {"plain", "coarse", "rings", "burl", "knotty"};

// Darkness (natural logarithm) of a board at a place along and across its grain.
static double grain(species kind, double along, double across, uint64_t seed)
{
    double bend = 4.0 * noise(along / 160, across / 60, seed + 1);
    double y = across + bend;
    double fine = noise(along / 45, y / 0.9, seed + 2) + 0.6 * noise(along / 20, y / 0.5, seed + 3);
    double bands = noise(along / 400, y / 9, seed + 4);
    double clouds = noise(along / 120, across / 45, seed + 5);
    double pores = fmax(noise(along / 5, y / 0.45, seed + 6) - 0.62, 0.0);
    switch (kind) {
    case PLAIN:
        return 0.012 * fine + 0.012 * bands + 0.015 * clouds + 0.08 * pores;
    case COARSE:
        return 0.05 * fine + 0.06 * bands + 0.03 * clouds + 0.9 * pores;
    case RINGS: {
        double r =
            hypot((along - 300) / 14, y - 30 + 12 * noise(along / 200, across / 80, seed + 7));
        double ring = r / 7.0 - floor(r / 7.0);
        return 0.12 * ring * ring + 0.03 * fine + 0.03 * clouds + 0.2 * pores;
    }
    case BURL: {
        double s = noise(along / 30, across / 30, seed + 8),
               t = noise(along / 11, across / 11, seed + 9);
        return 0.10 * sin(6 * s + 3 * t) + 0.06 * noise(along / 3, across / 3, seed + 10) +
               0.02 * fine;
    }
    default:
        return 0.03 * fine + 0.07 * bands + 0.02 * clouds;
    }
}

typedef struct texture {
    size_t width, height;
    float *dark;  // natural logarithm
    float *shade; // of mouldings: changes a little with the light
} texture;

typedef struct rect {
    double x, y, w, h; // mm
} rect;

static bool texture_make(texture *t)
{
    t->width = (size_t)(front_width / texel);
    t->height = (size_t)(front_height / texel);
    t->dark = calloc(t->width * t->height, sizeof *t->dark);
    t->shade = calloc(t->width * t->height, sizeof *t->shade);
    return t->dark && t->shade;
}

static void texture_free(texture *t)
{
    free(t->dark);
    free(t->shade);
}

typedef double (*painter)(double x, double y, const void *with);

static void paint(texture *t, rect r, bool add, bool shade, painter of, const void *with)
{
    size_t x0 = (size_t)fmax(r.x / texel, 0), y0 = (size_t)fmax(r.y / texel, 0);
    size_t x1 = (size_t)fmin((r.x + r.w) / texel, (double)t->width);
    size_t y1 = (size_t)fmin((r.y + r.h) / texel, (double)t->height);
    float *to = shade ? t->shade : t->dark;
    for (size_t y = y0; y < y1; y++) {
        for (size_t x = x0; x < x1; x++) {
            double value = of((double)x * texel, (double)y * texel, with);
            float *at = &to[y * t->width + x];
            *at = (float)(add ? (double)*at + value : value);
        }
    }
}

typedef struct board {
    species kind;
    bool upright;
    uint64_t seed;
    double base;
} board;

static double board_at(double x, double y, const void *with)
{
    const board *b = with;
    return b->base + (b->upright ? grain(b->kind, y, x, b->seed) : grain(b->kind, x, y, b->seed));
}

static void paint_board(texture *t, rect r, species kind, bool upright, uint64_t *state)
{
    board b = {kind, upright, (uint64_t)(1e15 * picture_random(state)),
               between(state, -0.06, 0.06)};
    paint(t, r, false, false, board_at, &b);
}

// A dark line with soft sides.
typedef struct line {
    double x, y, dx, dy, width, depth; // a point, a unit vector
} line;

static double line_at(double x, double y, const void *with)
{
    const line *l = with;
    double off = fabs((x - l->x) * l->dy - (y - l->y) * l->dx);
    return l->depth * exp(-off * off / (l->width * l->width));
}

static double spot_at(double x, double y, const void *with)
{
    const line *l = with; // a disc with a slot
    double off = hypot(x - l->x, y - l->y);
    if (off > l->width) {
        return 0.0;
    }
    double slot = fabs((x - l->x) * l->dy - (y - l->y) * l->dx);
    return slot < 0.12 * l->width ? 0.9 : l->depth * (0.7 + 0.3 * cos(3.1 * off / l->width));
}

static double knot_at(double x, double y, const void *with)
{
    const line *l = with;
    double off = hypot(x - l->x, (y - l->y) * 1.3);
    return l->depth * exp(-off * off / (l->width * l->width)) *
           (1.0 + 0.3 * sin(off * 1.3 + l->dx * 5.0));
}

static void paint_spot(texture *t, double x, double y, double radius, double depth, painter of,
                       uint64_t *state)
{
    double turn = between(state, 0, 6.28);
    line l = {x, y, cos(turn), sin(turn), radius, depth};
    double reach = 3.0 * radius;
    paint(t, (rect){x - reach, y - reach, 2 * reach, 2 * reach}, true, false, of, &l);
}

static void paint_wear(texture *t, rect r, int count, uint64_t *state)
{
    for (int i = 0; i < count; i++) {
        double turn = between(state, 0, 6.28), length = between(state, 10, 70);
        line l = {
            between(state, r.x, r.x + r.w), between(state, r.y, r.y + r.h), cos(turn), sin(turn),
            between(state, 0.4, 1.0),       between(state, -0.15, 0.35)};
        paint(t, (rect){l.x, l.y, fabs(l.dx) * length + 2, fabs(l.dy) * length + 2}, true, false,
              line_at, &l);
    }
}

// ---- Stripes -----------------------------------------------------------------------

typedef struct stripes {
    bool upright; // stripes run down
    double period, start, depth;
} stripes;

static double stripes_at(double x, double y, const void *with)
{
    const stripes *s = with;
    double phase = ((s->upright ? x : y) - s->start) / s->period;
    double u = phase - floor(phase);
    return s->depth * (sin(6.2832 * u) + 0.8 * exp(-40.0 * u * u));
}

static void paint_stripes(texture *t, rect r, bool upright, double period, double depth)
{
    stripes s = {upright, period, upright ? r.x : r.y, depth};
    paint(t, r, false, true, stripes_at, &s);
}

// A moulding round a field: three beads.
static void paint_frame_moulding(texture *t, rect r, double width, double depth)
{
    double period = width / 3.0;
    paint_stripes(t, (rect){r.x, r.y, r.w, width}, false, period, depth);
    paint_stripes(t, (rect){r.x, r.y + r.h - width, r.w, width}, false, period, depth);
    paint_stripes(t, (rect){r.x, r.y + width, width, r.h - 2 * width}, true, period, depth);
    paint_stripes(t, (rect){r.x + r.w - width, r.y + width, width, r.h - 2 * width}, true, period,
                  depth);
}

// ---- Pieces ------------------------------------------------------------------------

typedef enum layout { FRAME, SET_BACK, LID, TABLE, REEDED, LAYOUTS } layout;
static const char *const layout_names[LAYOUTS] = {"frame and panel", "panel set back", "lid",
                                                  "table top", "reeded front"};

typedef struct plane {
    double origin[3], u[3], v[3]; // mm; x right, y down, z away from the camera
    double width, height;
    rect window; // a hole in it; w 0: none
    texture wood;
    rect patch; // w 0: none
    bool has_card;
} plane;

typedef struct piece {
    layout of;
    species kind;
    plane plane[3]; // the last is what stands behind
    size_t plane_count;
    rect mark[PAIR_MARKS_MOST];
    size_t mark_plane[PAIR_MARKS_MOST];
    pair_role role[PAIR_MARKS_MOST];
    size_t mark_count;
    double base[3];   // linear light of the wood
    double behind[3]; // and of what stands behind
} piece;

static plane flat_at(double x, double y, double z, double width, double height)
{
    return (plane){
        .origin = {x, y, z}, .u = {1, 0, 0}, .v = {0, 1, 0}, .width = width, .height = height};
}

static void add_mark(piece *p, pair_role role, size_t on, rect r, uint64_t *state)
{
    double dx = between(state, 0.02, 0.12) * r.w, dy = between(state, 0.02, 0.12) * r.h;
    p->mark[p->mark_count] = (rect){r.x + dx, r.y + dy, r.w - 2 * dx, r.h - 2 * dy};
    p->mark_plane[p->mark_count] = on;
    p->role[p->mark_count++] = role;
    if (role == PAIR_PATCH) {
        p->plane[on].patch = p->mark[p->mark_count - 1];
    }
}

static void paint_details(piece *p, plane *on, rect r, uint64_t *state)
{
    int knots = p->kind == KNOTTY ? 7 : p->kind == PLAIN ? 0 : (int)between(state, 0, 2.5);
    for (int i = 0; i < knots; i++) {
        paint_spot(&on->wood, between(state, r.x, r.x + r.w), between(state, r.y, r.y + r.h),
                   between(state, 4, 12), between(state, 0.3, 0.9), knot_at, state);
    }
    paint_wear(&on->wood, r, (int)between(state, 0, p->kind == PLAIN ? 9 : 14), state);
}

// Boards side by side, with joints between.
static void paint_boards(piece *p, plane *on, rect r, int count, bool upright, uint64_t *state)
{
    for (int i = 0; i < count; i++) {
        double share = 1.0 / count;
        rect b = upright ? (rect){r.x + r.w * share * i, r.y, r.w * share, r.h}
                         : (rect){r.x, r.y + r.h * share * i, r.w, r.h * share};
        paint_board(&on->wood, b, p->kind, upright, state);
        if (i > 0) {
            line l = {b.x, b.y, upright ? 0 : 1, upright ? 1 : 0, 0.7, between(state, 0.1, 0.5)};
            rect strip = upright ? (rect){b.x - 2, b.y, 4, b.h} : (rect){b.x, b.y - 2, b.w, 4};
            paint(&on->wood, strip, true, false, line_at, &l);
        }
    }
    paint_details(p, on, r, state);
}

static void make_frame(piece *p, uint64_t *model, uint64_t *state)
{
    bool set_back = p->of == SET_BACK;
    double side = between(model, 90, 130), rail = between(model, 80, 120);
    rect field = {side, rail, front_width - 2 * side, front_height - 2 * rail};
    plane *front = &p->plane[0], *panel = set_back ? &p->plane[1] : front;
    *front = (plane){.wood = front->wood,
                     .origin = {0},
                     .u = {1, 0, 0},
                     .v = {0, 1, 0},
                     .width = front_width,
                     .height = front_height};
    paint_boards(p, front, (rect){0, 0, front_width, rail}, 1, false, state);
    paint_boards(p, front, (rect){0, front_height - rail, front_width, rail}, 1, false, state);
    paint_boards(p, front, (rect){0, rail, side, field.h}, 1, true, state);
    paint_boards(p, front, (rect){front_width - side, rail, side, field.h}, 1, true, state);
    if (set_back) {
        texture wood = panel->wood;
        *panel = flat_at(0, 0, between(model, 8, 45), front_width, front_height);
        panel->wood = wood;
        front->window = field;
    }
    paint_boards(p, panel, field, (int)between(model, 1, 3.9), true, state);
    paint_frame_moulding(&panel->wood, field, between(model, 14, 30), between(model, 0.08, 0.25));
    for (int i = 0; i < 4; i++) {
        paint_spot(&front->wood, i & 1 ? 20 : front_width - 20, i & 2 ? 25 : front_height - 25,
                   between(model, 3, 5), between(model, -0.5, 0.8), spot_at, state);
    }
    size_t on = set_back ? 1 : 0;
    add_mark(p, PAIR_TARGET, 0, (rect){side, 0, field.w, rail}, model);
    add_mark(p, PAIR_TARGET, 0, (rect){0, rail, side, field.h}, model);
    add_mark(p, PAIR_TARGET, on, (rect){field.x + 35, field.y + 35, 0.42 * field.w, field.h - 70},
             model);
    add_mark(p, PAIR_PATCH, on,
             (rect){field.x + 0.55 * field.w, field.y + 40, 0.36 * field.w, 0.45 * field.h}, model);
}

static void make_lid(piece *p, uint64_t *model, uint64_t *state)
{
    plane *front = &p->plane[0], *lid = &p->plane[1];
    texture one = front->wood, two = lid->wood;
    double lean = between(model, 0.7, 1.15),
           deep = between(model, 350, 520); // radians away from the front, mm
    double top = 675 - 400;
    *front = flat_at(0, top, 0, front_width, 400);
    *lid = (plane){.origin = {0, top - deep * cos(lean), deep * sin(lean)},
                   .u = {1, 0, 0},
                   .v = {0, cos(lean), -sin(lean)},
                   .width = front_width,
                   .height = deep};
    front->wood = one;
    lid->wood = two;
    paint_boards(p, front, (rect){0, 0, front_width, 400}, 1, false, state);
    paint_frame_moulding(&front->wood, (rect){60, 60, front_width - 120, 280}, 20, 0.15);
    paint_boards(p, lid, (rect){0, 0, front_width, deep}, (int)between(model, 2, 4.9), false,
                 state);
    add_mark(p, PAIR_TARGET, 0, (rect){100, 90, 330, 210}, model);
    add_mark(p, PAIR_PATCH, 0, (rect){520, 100, 240, 180}, model);
    add_mark(p, PAIR_TARGET, 1, (rect){40, 40, 400, deep - 80}, model);
    add_mark(p, PAIR_PATCH, 1, (rect){500, 60, 280, 0.5 * deep}, model);
}

static void make_table(piece *p, uint64_t *model, uint64_t *state)
{
    plane *top = &p->plane[0];
    texture wood = top->wood;
    *top = flat_at(0, 0, 0, front_width, front_height);
    top->wood = wood;
    int boards = (int)between(model, 3, 7.9);
    paint_boards(p, top, (rect){0, 0, front_width, front_height}, boards, false, state);
    add_mark(p, PAIR_TARGET, 0, (rect){40, 30, 380, 250}, model);
    add_mark(p, PAIR_TARGET, 0, (rect){480, 400, 380, 240}, model);
    add_mark(p, PAIR_PATCH, 0, (rect){500, 60, 300, 230}, model);
}

static void make_reeded(piece *p, uint64_t *model, uint64_t *state)
{
    plane *front = &p->plane[0];
    texture wood = front->wood;
    *front = flat_at(0, 0, 0, front_width, front_height);
    front->wood = wood;
    bool upright = picture_random(model) < 0.6;
    paint_boards(p, front, (rect){0, 0, front_width, front_height}, 4, upright, state);
    paint_stripes(&front->wood, (rect){0, 110, front_width, front_height - 220}, upright,
                  between(model, 9, 40), between(model, 0.08, 0.25));
    add_mark(p, PAIR_TARGET, 0, (rect){60, 130, 330, 400}, model);
    add_mark(p, PAIR_TARGET, 0, (rect){100, 10, 500, 90}, model);
    add_mark(p, PAIR_PATCH, 0, (rect){480, 160, 300, 260}, model);
}

static double wall_at(double x, double y, const void *with)
{
    return 0.03 * noise(x / 20, y / 20, *(const uint64_t *)with) +
           0.03 * noise(x / 5, y / 5, *(const uint64_t *)with + 1);
}

// What stands behind: a wall with boxes of other darkness, and a bench.
static void make_behind(piece *p, uint64_t *state)
{
    plane *wall = &p->plane[p->plane_count++];
    texture wood = wall->wood;
    *wall = (plane){.origin = {-1600, -1200, between(state, 250, 900)},
                    .u = {1, 0, 0},
                    .v = {0, 1, 0},
                    .width = 4100,
                    .height = 3075,
                    .wood = wood};
    uint64_t seed = (uint64_t)(1e15 * picture_random(state));
    paint(&wall->wood, (rect){0, 0, front_width, front_height}, false, false, wall_at, &seed);
    for (int i = 0; i < 14; i++) {
        double value = between(state, -0.7, 0.7), x = between(state, 0, 800),
               y = between(state, 0, 600);
        line l = {x, y, 1, 0, 1e6, value};
        paint(&wall->wood, (rect){x, y, between(state, 10, 120), between(state, 10, 120)}, false,
              false, line_at, &l);
    }
}

static void colour_piece(piece *p, uint64_t *state)
{
    double light = between(state, 0.10, 0.35);
    p->base[0] = light * between(state, 1.2, 1.5);
    p->base[1] = light;
    p->base[2] = light * between(state, 0.35, 0.7);
    for (int k = 0; k < 3; k++) {
        p->behind[k] = between(state, 0.08, 0.4);
    }
}

// `model` draws what pieces of one kind share, `seed` what each has of its own.
static bool piece_make(unsigned model_seed, uint64_t seed, piece *p)
{
    uint64_t model = model_seed * 7919u + 17, state = seed;
    memset(p, 0, sizeof *p);
    double layout_pick = picture_random(&model);
    p->of = layout_pick < 0.30   ? FRAME
            : layout_pick < 0.50 ? SET_BACK
            : layout_pick < 0.65 ? LID
            : layout_pick < 0.85 ? TABLE
                                 : REEDED;
    p->kind = (species)(picture_random(&model) * WOODS);
    for (int i = 0; i < 3; i++) {
        if (!texture_make(&p->plane[i].wood)) {
            return false;
        }
    }
    p->plane_count = p->of == SET_BACK || p->of == LID ? 2 : 1;
    colour_piece(p, &model);
    if (p->of == FRAME || p->of == SET_BACK) {
        make_frame(p, &model, &state);
    } else if (p->of == LID) {
        make_lid(p, &model, &state);
    } else if (p->of == TABLE) {
        make_table(p, &model, &state);
    } else {
        make_reeded(p, &model, &state);
    }
    make_behind(p, &state);
    return true;
}

static void piece_free(piece *p)
{
    for (int i = 0; i < 3; i++) {
        texture_free(&p->plane[i].wood);
    }
}

// ---- Camera ------------------------------------------------------------------------

typedef struct camera {
    double right[3], down[3], ahead[3], at[3];
    double focal; // pixels
    size_t width, height;
} camera;

static void turn(double a[3], double b[3], double angle)
{
    for (int k = 0; k < 3; k++) {
        double x = a[k], y = b[k];
        a[k] = cos(angle) * x + sin(angle) * y;
        b[k] = cos(angle) * y - sin(angle) * x;
    }
}

typedef struct pose {
    double roll, tilt, yaw; // radians
    double scale;           // 1: the front fills 0.85 of the width
    double off_x, off_y;    // of the frame
} pose;

// Looks at the middle of the front from where it fills the frame, swung round that middle.
static camera camera_of(const pose *p, size_t width, size_t height, double lens)
{
    camera c = {
        .right = {1, 0, 0}, .down = {0, 1, 0}, .ahead = {0, 0, 1}, .focal = lens * (double)width};
    c.width = width;
    c.height = height;
    turn(c.ahead, c.right, p->yaw);
    turn(c.ahead, c.down, p->tilt);
    turn(c.right, c.down, p->roll);
    double distance = lens * front_width / (0.85 * p->scale);
    const double middle[3] = {front_width / 2, front_height / 2, 0};
    for (int k = 0; k < 3; k++) {
        c.at[k] = middle[k] - distance * c.ahead[k] +
                  (p->off_x * c.right[k] + p->off_y * c.down[k]) * front_width / p->scale;
    }
    return c;
}

static double dot(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

static bool project(const camera *c, const double p[3], double out[2])
{
    double d[3] = {p[0] - c->at[0], p[1] - c->at[1], p[2] - c->at[2]};
    double depth = dot(d, c->ahead);
    out[0] = c->focal * dot(d, c->right) / depth + 0.5 * (double)c->width;
    out[1] = c->focal * dot(d, c->down) / depth + 0.5 * (double)c->height;
    return depth > 50.0;
}

// Where a ray meets a plane: its own coordinates in mm. False where it misses.
static bool meet(const plane *p, const double from[3], const double ray[3], double *x, double *y,
                 double *far)
{
    const double n[3] = {p->u[1] * p->v[2] - p->u[2] * p->v[1],
                         p->u[2] * p->v[0] - p->u[0] * p->v[2],
                         p->u[0] * p->v[1] - p->u[1] * p->v[0]};
    double d[3] = {p->origin[0] - from[0], p->origin[1] - from[1], p->origin[2] - from[2]};
    double along = dot(n, ray);
    *far = dot(n, d) / along;
    if (along < 1e-6 || *far <= 0.0) {
        return false;
    }
    double at[3] = {*far * ray[0] - d[0], *far * ray[1] - d[1], *far * ray[2] - d[2]};
    *x = dot(at, p->u);
    *y = dot(at, p->v);
    return *x >= 0 && *y >= 0 && *x < p->width && *y < p->height;
}

// ---- Light and film ----------------------------------------------------------------

typedef struct shot {
    camera camera;
    double gain[3], slope_x, slope_y, moulding, patch_dark, noise, blur, curve;
    double glare[3][4]; // x, y in the frame, size, strength
    int glares;
    rect card;
    double card_turn;
    int quality;
    uint64_t seed;
} shot;

static float texture_at(const texture *t, const float *from, double x, double y)
{
    double fx = fmin(fmax(x, 0), (double)t->width - 1.001),
           fy = fmin(fmax(y, 0), (double)t->height - 1.001);
    size_t ix = (size_t)fx, iy = (size_t)fy;
    float u = (float)(fx - (double)ix), v = (float)(fy - (double)iy);
    const float *a = from + iy * t->width + ix, *b = a + t->width;
    return (a[0] * (1 - u) + a[1] * u) * (1 - v) + (b[0] * (1 - u) + b[1] * u) * v;
}

static bool in_rect(rect r, double x, double y)
{
    return x >= r.x && y >= r.y && x < r.x + r.w && y < r.y + r.h;
}

// Is it on the card? Its rectangle is turned round its middle.
static bool on_card(const shot *s, double x, double y)
{
    double dx = x - s->card.x - s->card.w / 2, dy = y - s->card.y - s->card.h / 2;
    double u = cos(s->card_turn) * dx + sin(s->card_turn) * dy;
    double v = cos(s->card_turn) * dy - sin(s->card_turn) * dx;
    return fabs(u) < s->card.w / 2 && fabs(v) < s->card.h / 2;
}

static void wood_light(const piece *p, const plane *on, const shot *s, double x, double y,
                       double out[3])
{
    static const double share[3] = {0.8, 1.0, 1.3}; // darkness by band: dark wood is redder
    bool behind = on == &p->plane[p->plane_count - 1];
    double per = behind ? (double)on->wood.width / on->width : 1.0 / texel;
    double dark = (double)texture_at(&on->wood, on->wood.dark, x * per, y * per) +
                  s->moulding * (double)texture_at(&on->wood, on->wood.shade, x * per, y * per);
    if (on->patch.w > 0 && in_rect(on->patch, x, y)) {
        dark += s->patch_dark + 0.05 * noise(x / 3, y / 60, 99);
    }
    for (int k = 0; k < 3; k++) {
        out[k] = (behind ? p->behind[k] : p->base[k]) * exp(-share[k] * dark);
    }
}

static void ray_light(const piece *p, const shot *s, const double ray[3], double out[3])
{
    double nearest = INFINITY;
    out[0] = out[1] = out[2] = 0.02;
    for (size_t i = 0; i < p->plane_count; i++) {
        const plane *on = &p->plane[i];
        double x, y, far;
        if (!meet(on, s->camera.at, ray, &x, &y, &far) || far >= nearest ||
            (on->window.w > 0 && in_rect(on->window, x, y))) {
            continue;
        }
        nearest = far;
        if (on->has_card && on_card(s, x, y)) {
            out[0] = out[1] = out[2] = 0.18;
        } else {
            wood_light(p, on, s, x, y, out);
        }
    }
}

static void pixel_light(const piece *p, const shot *s, size_t px, size_t py, double out[3])
{
    const camera *c = &s->camera;
    double fx = ((double)px + 0.5) / (double)c->width - 0.5;
    double fy = ((double)py + 0.5) / (double)c->height - 0.5, sum[3] = {0};
    for (int sub = 0; sub < 4; sub++) {
        double x = (double)px + (sub & 1 ? 0.75 : 0.25) - 0.5 * (double)c->width;
        double y = (double)py + (sub & 2 ? 0.75 : 0.25) - 0.5 * (double)c->height;
        double ray[3], one[3];
        for (int k = 0; k < 3; k++) {
            ray[k] = c->ahead[k] + (x * c->right[k] + y * c->down[k]) / c->focal;
        }
        ray_light(p, s, ray, one);
        for (int k = 0; k < 3; k++) {
            sum[k] += 0.25 * one[k];
        }
    }
    double field = exp(s->slope_x * fx + s->slope_y * fy), shine = 0.0;
    for (int g = 0; g < s->glares; g++) {
        double dx = fx - s->glare[g][0], dy = fy - s->glare[g][1];
        shine += s->glare[g][3] * exp(-(dx * dx + dy * dy) / (s->glare[g][2] * s->glare[g][2]));
    }
    for (int k = 0; k < 3; k++) {
        out[k] = s->gain[k] * (field * sum[k] + shine);
    }
}

// A blur of about `deviation` pixels: (w, 1, w) each way.
static void blur(float *value, size_t width, size_t height, size_t step_x, size_t step_y, float w)
{
    for (size_t y = 0; y < height; y++) {
        float last[3] = {value[3 * y * step_y], value[3 * y * step_y + 1],
                         value[3 * y * step_y + 2]};
        for (size_t x = 0; x + 1 < width; x++) {
            float *at = value + 3 * (y * step_y + x * step_x), *next = at + 3 * step_x;
            for (int k = 0; k < 3; k++) {
                float now = at[k];
                at[k] = (now + w * (last[k] + next[k])) / (1 + 2 * w);
                last[k] = now;
            }
        }
    }
}

static uint8_t code_of(double light, double curve, double grain_noise)
{
    double encoded = hw_srgb_encoded(fmin(fmax(light, 0.0), 1.0));
    double bent = encoded * encoded * (3.0 - 2.0 * encoded); // an S
    return (uint8_t)(fmin(fmax(encoded + curve * (bent - encoded) + grain_noise, 0.0), 1.0) *
                         255.0 +
                     0.5);
}

static bool take_photo(const piece *p, shot *s, pair_photo *out)
{
    size_t width = s->camera.width, height = s->camera.height;
    float *light = malloc(width * height * 3 * sizeof *light);
    uint8_t *rgb = malloc(width * height * 3);
    for (size_t i = 0; light && i < width * height; i++) {
        double one[3];
        pixel_light(p, s, i % width, i / width, one);
        for (int k = 0; k < 3; k++) {
            light[3 * i + (size_t)k] = (float)one[k];
        }
    }
    if (light && rgb) {
        float w = (float)(s->blur * s->blur / 2 / (1 - fmin(s->blur * s->blur, 0.9)));
        blur(light, width, height, 1, width, w);
        blur(light, height, width, width, 1, w);
        for (size_t i = 0; i < 3 * width * height; i++) {
            rgb[i] = code_of((double)light[i], s->curve, s->noise * picture_normal(&s->seed));
        }
        *out = (pair_photo){.width = width, .height = height};
        out->jpeg = write_jpeg_memory(width, height, rgb, s->quality, &out->count);
    }
    free(light);
    free(rgb);
    return light && rgb && out->jpeg;
}

// ---- A pair ------------------------------------------------------------------------

static void random_shot(shot *s, uint64_t *state)
{
    double gain = between(state, 0.8, 1.7), lean = between(state, 0, 6.28),
           slope = between(state, 0, 0.7);
    for (int k = 0; k < 3; k++) {
        s->gain[k] = gain * between(state, 0.85, 1.18);
    }
    s->slope_x = slope * cos(lean);
    s->slope_y = slope * sin(lean);
    s->moulding = between(state, 0.8, 1.2);
    s->noise = between(state, 0.0015, 0.006); // as of 12 megapixels brought down to one
    s->blur = between(state, 0.3, 0.85);
    s->curve = picture_random(state) < 0.5 ? 0.0 : between(state, 0, 0.6);
    s->glares = (int)between(state, 0, 3.9);
    for (int g = 0; g < s->glares; g++) {
        s->glare[g][0] = between(state, -0.5, 0.5);
        s->glare[g][1] = between(state, -0.5, 0.5);
        s->glare[g][2] = between(state, 0.03, 0.14);
        s->glare[g][3] = between(state, 0.03, 0.35);
    }
    s->quality = (int)between(state, 80, 96);
    s->seed = (uint64_t)(1e15 * picture_random(state));
}

// Clear of all marks; or at least of repairs, since it may be laid on old wood later.
static rect card_place(const piece *p, bool on_wood, uint64_t *state)
{
    rect card = {0, 0, 90, 65};
    for (int trial = 0; trial < 500; trial++) {
        card.x = between(state, 10, 790);
        card.y = between(state, 10, p->plane[0].height - 75);
        bool clear = true;
        for (size_t i = 0; i < p->mark_count; i++) {
            const rect *m = &p->mark[i];
            clear = clear && (p->mark_plane[i] != 0 || (on_wood && p->role[i] == PAIR_TARGET) ||
                              card.x + 110 < m->x || card.x > m->x + m->w + 20 ||
                              card.y + 90 < m->y || card.y > m->y + m->h + 20);
        }
        if (clear &&
            !(p->plane[0].window.w > 0 && in_rect(p->plane[0].window, card.x + 45, card.y + 32))) {
            break;
        }
    }
    return card;
}

static const char *random_pose(pose *p, uint64_t *state)
{
    double how = picture_random(state);
    if (how < 0.1) {
        return "tripod";
    }
    bool careful = how < 0.4;
    double most_roll = careful ? 0.06 : 0.5236,
           most_tilt = careful ? 0.08 : 0.4363; // 30 and 25 degrees
    double tilt = between(state, 0, most_tilt), way = between(state, 0, 6.28);
    *p = (pose){.roll = between(state, -most_roll, most_roll),
                .tilt = tilt * cos(way),
                .yaw = tilt * sin(way),
                .scale =
                    careful ? between(state, 0.92, 1.08) : exp(between(state, log(0.6), log(1.6))),
                .off_x = between(state, -0.08, 0.08),
                .off_y = between(state, -0.06, 0.06)};
    return careful ? "careful hand" : "free hand";
}

static void corners_of(const plane *on, rect r, double turned, const camera *c,
                       double out[PAIR_CORNERS][2], bool *inside)
{
    const double cx[4] = {-0.5, 0.5, 0.5, -0.5}, cy[4] = {-0.5, -0.5, 0.5, 0.5};
    *inside = true;
    for (int k = 0; k < 4; k++) {
        double a = cx[k] * r.w, b = cy[k] * r.h, at[3];
        double x = r.x + r.w / 2 + cos(turned) * a - sin(turned) * b;
        double y = r.y + r.h / 2 + sin(turned) * a + cos(turned) * b;
        for (int i = 0; i < 3; i++) {
            at[i] = on->origin[i] + x * on->u[i] + y * on->v[i];
        }
        *inside = project(c, at, out[k]) && *inside;
        *inside = *inside && out[k][0] >= 0 && out[k][1] >= 0 && out[k][0] <= (double)c->width &&
                  out[k][1] <= (double)c->height;
    }
}

static void add_pair_mark(carry_pair *pair, pair_role role, size_t number, const plane *on,
                          rect from, double turn_from, rect to, double turn_to, const camera *one,
                          const camera *two)
{
    static const char *const names[3] = {"card", "old", "repair"};
    pair_mark *m = &pair->mark[pair->mark_count];
    bool in_first;
    m->role = role;
    snprintf(m->name, sizeof m->name, "%s %zu", names[role], number);
    corners_of(on, from, turn_from, one, m->from, &in_first);
    corners_of(on, to, turn_to, two, m->to, &m->inside);
    pair->mark_count += in_first;
}

static size_t add_pair_marks(carry_pair *pair, const piece *p, const shot *one, const shot *two)
{
    size_t inside = 0, targets = 0;
    pair->mark_count = 0;
    for (size_t i = 0; i < p->mark_count; i++) {
        size_t before = pair->mark_count;
        add_pair_mark(pair, p->role[i], i + 1, &p->plane[p->mark_plane[i]], p->mark[i], 0,
                      p->mark[i], 0, &one->camera, &two->camera);
        if (pair->mark_count > before) {
            inside += pair->mark[before].inside;
            targets += p->role[i] == PAIR_TARGET;
        }
    }
    add_pair_mark(pair, PAIR_CARD, 1, &p->plane[0], one->card, one->card_turn, two->card,
                  two->card_turn, &one->camera, &two->camera);
    return targets ? inside : 0;
}

static size_t pose_pair(carry_pair *pair, const piece *p, size_t width, shot *one, shot *two,
                        uint64_t *state)
{
    double lens = between(state, 0.9, 1.4);
    pose first = {.roll = between(state, -0.06, 0.06),
                  .tilt = between(state, -0.12, 0.12),
                  .yaw = between(state, -0.12, 0.12),
                  .scale = between(state, 0.85, 1.05)};
    if (p->of == LID) {
        first.tilt = between(state, 0.35, 0.6); // from above
    }
    pose second = first;
    const char *how = random_pose(&second, state);
    if (p->of == LID && strcmp(how, "tripod") != 0) {
        second.tilt = first.tilt + 0.5 * second.tilt;
    }
    bool other_size = strcmp(how, "tripod") != 0 && picture_random(state) < 0.25;
    size_t width_two = other_size ? (size_t)((double)width * between(state, 0.75, 1.2)) : width;
    one->camera = camera_of(&first, width, width * 3 / 4, lens);
    two->camera = camera_of(&second, width_two, width_two * 3 / 4, lens);
    snprintf(pair->what, sizeof pair->what, "%s, %s, %s", layout_names[p->of], wood_names[p->kind],
             how);
    return add_pair_marks(pair, p, one, two);
}

// The light of the repair goes from too light towards the old wood, or past it.
static bool render_pair(carry_pair *pair, piece *p, piece *other, size_t width, uint64_t *state)
{
    shot one = {0}, two = {0};
    random_shot(&one, state);
    random_shot(&two, state);
    one.patch_dark = between(state, -0.45, -0.05);
    two.patch_dark = one.patch_dark + between(state, 0.05, 0.5);
    one.card = two.card = card_place(p, false, state);
    one.card_turn = two.card_turn = between(state, -0.3, 0.3);
    pair->card_moved = picture_random(state) < 0.6;
    if (pair->card_moved) {
        two.card = card_place(p, true, state);
        two.card_turn = between(state, -0.3, 0.3);
    }
    p->plane[0].has_card = other->plane[0].has_card = true;
    for (int trial = 0; trial < 50 && pose_pair(pair, p, width, &one, &two, state) == 0; trial++) {
    }
    return take_photo(p, &one, &pair->first) && take_photo(other, &two, &pair->second);
}

bool carry_pair_make(unsigned seed, size_t width, bool other_piece, carry_pair *out)
{
    uint64_t state = seed * 104729u + 3, own = seed * 1299709u + 11;
    piece *one = calloc(1, sizeof *one), *two = calloc(1, sizeof *two);
    memset(out, 0, sizeof *out);
    out->same_piece = !other_piece;
    bool good = one && two && piece_make(seed, own, one) &&
                (!other_piece || piece_make(seed, own + 7777, two)) &&
                render_pair(out, one, other_piece ? two : one, width, &state);
    if (one) {
        piece_free(one);
    }
    if (two) {
        piece_free(two);
    }
    free(one);
    free(two);
    return good;
}

void carry_pair_free(carry_pair *pair)
{
    free(pair->first.jpeg);
    free(pair->second.jpeg);
    memset(pair, 0, sizeof *pair);
}
