#include "loop_world.h"
#include "scene_marks.h"
#include "write_jpeg.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

// How dyes of one family differ between makers, shops, days and passes (all chosen; shops' passes are
// 20 to 50 % off each other and more: common practice, no source).
static const double u_shift_nm = 10.0, u_width = 0.12, u_high = 0.2, u_flat = 0.3;
static const double shop_least = 0.5, shop_most = 2.0; // log-uniform
static const double u_day = 0.10, u_pass = 0.12, pass_least = 0.4;
static const double exposure_jitter = 0.05;
static const int moved_px = 4; // a camera that is not quite where it was
static const int board_passes = 4;
static const double picture_scale = 1.0;

// ---- Dyes --------------------------------------------------------------------------

static hw_spectrum true_dye(hw_family family, double shop, uint64_t *state)
{
    scene_change change;
    hw_spectrum dye = {{0}};
    for (int band = 0; band < 2; band++) {
        change.shift[band] = u_shift_nm * scene_normal(state);
        change.width[band] = fmax(1.0 + u_width * scene_normal(state), 0.5);
        change.high[band] = exp(u_high * scene_normal(state));
    }
    change.flat = exp(u_flat * scene_normal(state));
    if (scene_dye_changed(hw_family_name(family), &change, &dye)) {
        for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
            dye.at[i] *= shop;
        }
    }
    return dye;
}

static void make_dyes(world *w)
{
    uint64_t state = 15485863u * (uint64_t)w->seed + 1u;
    double shop = exp(scene_between(&state, log(shop_least), log(shop_most)));
    for (int family = 0; family < HW_FAMILY_COUNT; family++) {
        w->dye[family] = true_dye((hw_family)family, shop, &state);
    }
}

static double pass_factor(uint64_t *state)
{
    return fmax(1.0 + u_pass * scene_normal(state), pass_least);
}

// ---- The piece ---------------------------------------------------------------------

static bool find_strip(world *w)
{
    for (size_t i = 0; i < w->piece.region_count; i++) {
        if (w->piece.region[i].role && strcmp(w->piece.region[i].role, "patch") == 0) {
            w->strip = i;
            return true;
        }
    }
    return false;
}

static bool is_target(const scene_region *r)
{
    return r->role && strcmp(r->role, "target") == 0;
}

static void measure_targets(world *w)
{
    hw_lab lab[SCENE_REGIONS_MOST];
    hw_xyz sum = {0, 0, 0};
    double n = 0.0, square = 0.0;
    for (size_t i = 0; i < w->piece.region_count; i++) {
        if (is_target(&w->piece.region[i])) {
            scene_grain grain = scene_grain_of(&w->piece, i);
            hw_spectrum mean = scene_mean_reflectance(&w->piece.region[i], &grain);
            lab[i] = scene_colour(&mean);
            hw_xyz one = hw_xyz_from_lab(lab[i], hw_white_d50);
            sum = (hw_xyz){sum.X + one.X, sum.Y + one.Y, sum.Z + one.Z};
            n += 1.0;
        }
    }
    w->target = hw_lab_from_xyz((hw_xyz){sum.X / n, sum.Y / n, sum.Z / n}, hw_white_d50);
    for (size_t i = 0; i < w->piece.region_count; i++) {
        if (is_target(&w->piece.region[i])) {
            square += pow(hw_ciede2000(w->target, lab[i]), 2.0);
        }
    }
    w->spread = sqrt(square / (n - 1.0));
    w->pieces = (size_t)n;
}

// The next piece wants the same kind of work: its strip is off as the first one's was, within a unit.
static bool repeat_gap(world *w, const char *condition)
{
    static world first;
    int quality;
    uint64_t state = 15485863u * (uint64_t)w->seed + 17u;
    first = (world){.seed = w->seed};
    if (!scene_random(condition, w->seed, &first.piece, &quality) || !find_strip(&first)) {
        return false;
    }
    const hw_lab *old = &first.piece.region[1].colour,
                 *was = &first.piece.region[first.strip].colour;
    const hw_lab *wood = &w->piece.region[1].colour;
    w->piece.region[w->strip].colour =
        (hw_lab){wood->L + was->L - old->L + 0.7 * scene_normal(&state),
                 wood->a + was->a - old->a + 0.4 * scene_normal(&state),
                 wood->b + was->b - old->b + 0.5 * scene_normal(&state)};
    return true;
}

bool world_make(world *w, const char *condition, scene_depth depth, unsigned seed, int job,
                bool photos)
{
    scene_truth truth;
    *w = (world){.seed = seed, .day = 1.0};
    if (!scene_random(condition, seed + 500000u * (unsigned)job, &w->piece, &w->quality) ||
        !find_strip(w) || (job > 0 && !repeat_gap(w, condition))) {
        return false;
    }
    scene_scale(&w->piece, picture_scale);
    w->piece.region[w->strip].depth = depth;
    make_dyes(w);
    for (int family = 0; family < HW_FAMILY_COUNT; family++) {
        w->piece.region[w->strip].layer[family] =
            (scene_layer){hw_family_name((hw_family)family), 0.0, &w->dye[family]};
    }
    w->piece.region[w->strip].layer_count = HW_FAMILY_COUNT;
    w->laying = 32452843u * (uint64_t)seed + 3u + (uint64_t)job;
    w->shooting = 49979687u * (uint64_t)seed + 5u + (uint64_t)job;
    if (job > 0) {
        w->day = exp(u_day * scene_normal(&w->laying));
    }
    w->grain = scene_grain_of(&w->piece, w->strip);
    measure_targets(w);
    w->drawing = photos ? scene_draw(&w->piece, &truth) : NULL;
    return w->drawing || !photos;
}

void world_free(world *w)
{
    scene_drawing_free(w->drawing);
    w->drawing = NULL;
}

// ---- What lies on the strip --------------------------------------------------------

void world_pass(world *w, const hw_liquid *liquid)
{
    double factor = w->day * pass_factor(&w->laying);
    for (size_t i = 0; i < liquid->count; i++) {
        hw_family family;
        if (hw_family_from_name(liquid->dose[i].dye, &family)) {
            w->piece.region[w->strip].layer[family].amount += factor * liquid->dose[i].strength;
        }
    }
}

hw_lab world_strip(const world *w)
{
    hw_spectrum mean = scene_mean_reflectance(&w->piece.region[w->strip], &w->grain);
    return scene_colour(&mean);
}

hw_difference world_gap(const world *w)
{
    return hw_difference_of(w->target, world_strip(w));
}

static void bands_under(const world *w, hw_family family, double amount, double bands[3])
{
    scene_region strip = w->piece.region[w->strip];
    strip.layer[family].amount = amount;
    hw_spectrum mean = scene_mean_reflectance(&strip, &w->grain);
    hw_sharpen(hw_xyz_from_lab(scene_colour(&mean), hw_white_d50), bands);
}

void world_density(const world *w, hw_family family, double amount, double density[3])
{
    double without[3], with[3];
    bands_under(w, family, 0.0, without);
    bands_under(w, family, amount * w->day, with);
    for (int band = 0; band < 3; band++) {
        density[band] = log(without[band] / with[band]) / amount;
    }
}

// ---- Photos ------------------------------------------------------------------------

bool world_photo(world *w, double light, const char *path, hw_marks *marks)
{
    double exposure =
        light * scene_between(&w->shooting, 1.0 - exposure_jitter, 1.0 + exposure_jitter);
    unsigned noise = (unsigned)(4e9 * scene_chance(&w->shooting));
    int right = (int)floor(scene_between(&w->shooting, -moved_px, moved_px + 1.0));
    int down = (int)floor(scene_between(&w->shooting, -moved_px, moved_px + 1.0));
    scene_draw_again(w->drawing, w->strip);
    uint8_t *codes = scene_expose(w->drawing, exposure, noise, right, down);
    bool good = codes && write_jpeg(path, w->piece.width, w->piece.height, codes, w->quality) &&
                scene_marks(&w->piece, right, down, marks);
    free(codes);
    return good;
}

bool world_step_board(const world *w, unsigned attempt, const char *path, hw_marks *marks)
{
    static scene board;
    scene_truth truth;
    const char *dye[HW_FAMILY_COUNT];
    unsigned seed = w->seed + 1000000u * attempt;
    uint64_t state = 67867967u * (uint64_t)seed + 9u;
    double day = exp(u_day * scene_normal(&state));
    for (int family = 0; family < HW_FAMILY_COUNT; family++) {
        dye[family] = hw_family_name((hw_family)family);
    }
    scene_board(&w->piece, seed, attempt > 0, dye, HW_FAMILY_COUNT, attempt > 1 ? 2 : board_passes,
                &board);
    for (size_t i = 0; i < board.region_count; i++) {
        scene_region *r = &board.region[i];
        hw_family family;
        if (!r->role || strcmp(r->role, "board_strip") != 0 ||
            !hw_family_from_name(r->name, &family)) {
            continue;
        }
        r->depth = w->piece.region[w->strip].depth;
        r->layer[0] = (scene_layer){r->name, 0.0, &w->dye[family]};
        r->layer_count = 1;
        for (int pass = 0; pass < r->step; pass++) {
            r->layer[0].amount += day * pass_factor(&state);
        }
    }
    uint8_t *codes = scene_render(&board, &truth);
    bool good = codes && write_jpeg(path, board.width, board.height, codes, w->quality) &&
                scene_marks(&board, 0, 0, marks);
    free(codes);
    return good;
}

// ---- The best there is -------------------------------------------------------------

#define PASSES_MOST 6
static const double ladder[] = {1.0, 0.5, 0.25, 0.125};
#define LADDER_COUNT (sizeof ladder / sizeof *ladder)

typedef struct search {
    const world *w;
    scene_depth depth;
    hw_spectrum bare;
    double weight[HW_SPECTRUM_COUNT][3]; // of X, Y, Z under D50
    hw_xyz white;
    double best;
    exact_layer layer[2];
    size_t count;
} search;

static search search_for(const world *w)
{
    search s = {.w = w, .depth = w->piece.region[w->strip].depth, .best = world_gap(w).de00};
    s.bare = scene_mean_reflectance(&w->piece.region[w->strip], &w->grain);
    hw_spectrum d50 = hw_daylight(5003.0);
    double sum[3] = {0};
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        for (int c = 0; c < 3; c++) {
            s.weight[i][c] = d50.at[i] * hw_cie_1931[i][c];
            sum[c] += s.weight[i][c];
        }
    }
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        for (int c = 0; c < 3; c++) {
            s.weight[i][c] /= sum[1];
        }
    }
    s.white = (hw_xyz){sum[0] / sum[1], 1.0, sum[2] / sum[1]};
    return s;
}

static void try_layers(search *s, const exact_layer *layer, size_t count)
{
    double xyz[3] = {0};
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        double absorbance = 0.0;
        for (size_t k = 0; k < count; k++) {
            absorbance +=
                layer[k].passes * layer[k].strength * s->w->day * s->w->dye[layer[k].family].at[i];
        }
        double r = scene_under(s->depth, s->bare.at[i], absorbance);
        for (int c = 0; c < 3; c++) {
            xyz[c] += s->weight[i][c] * r;
        }
    }
    hw_lab lab = hw_lab_from_xyz((hw_xyz){xyz[0], xyz[1], xyz[2]}, s->white);
    double off = hw_ciede2000(s->w->target, lab);
    // Who knows all does not overshoot: over 1 L* too dark is no way to come near.
    if (off < s->best && lab.L >= s->w->target.L - 1.0) {
        s->best = off;
        memcpy(s->layer, layer, count * sizeof *layer);
        s->count = count;
    }
}

static void try_second(search *s, exact_layer layer[2])
{
    for (int other = (int)layer[0].family + 1; other < HW_FAMILY_COUNT; other++) {
        for (int passes = 1; passes <= PASSES_MOST - layer[0].passes; passes++) {
            for (size_t c = 0; c < LADDER_COUNT; c++) {
                layer[1] = (exact_layer){(hw_family)other, passes, ladder[c]};
                try_layers(s, layer, 2);
            }
        }
    }
}

double world_best(const world *w, exact_layer best[2], size_t *count)
{
    search s = search_for(w);
    for (int family = 0; family < HW_FAMILY_COUNT; family++) {
        for (int passes = 1; passes <= PASSES_MOST; passes++) {
            for (size_t c = 0; c < LADDER_COUNT; c++) {
                exact_layer layer[2] = {{(hw_family)family, passes, ladder[c]}};
                try_layers(&s, layer, 1);
                try_second(&s, layer);
            }
        }
    }
    memcpy(best, s.layer, sizeof s.layer);
    *count = s.count;
    return s.best;
}
