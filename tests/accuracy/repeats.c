// repeats: several rendered photos of one scene read together, each exposed, balanced and held a little otherwise and
// with the card laid down anew. How often the 90 % ranges of one, three and five hold the truth, how far the gaps
// scatter, how often a good shot is named, and how often one with a shadow on the repair is. And a strip of figured
// wood lit from the left and from the right: how often the grain's light is told.
//
//   repeats [--scenes N] [--first SEED] [--jobs N] [--only CONDITION] [--check]
#include "in_children.h"
#include "scene.h"
#include "scene_marks.h"
#include "steps_internal.h"
#include "write_jpeg.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

enum { SHOTS = 5, COUNTS = 3, SHADOWS = 4 };

static const size_t counts[COUNTS] = {1, 3, 5};
// ln of light: about 0.8, 1.6, 3 and 6 of CIEDE2000 on mid-brown wood.
static const double shadows[SHADOWS] = {-0.05, -0.1, -0.2, -0.4};

typedef struct one_count {
    bool inside;
    int parts_inside, wrong_named;
    bool disagree;
    double error, width, shift[3]; // shift: of L*, a*, b* from the truth
} one_count;

typedef struct result {
    bool read;
    unsigned seed;
    double truth;
    one_count of[COUNTS];
    double scatter[3];                         // s.d. of the gaps' L*, a*, b* of five
    double off[SHADOWS];                       // of the shot in the shadow
    bool named[SHADOWS][2], wrong[SHADOWS][2]; // among three, among five
    bool turns, told, side_read;               // the true colours call for the sentence; it is said
} result;

// ---- One shot ----------------------------------------------------------------------

static scene_region *find_region(scene *s, const char *name)
{
    for (size_t i = 0; i < s->region_count; i++) {
        if (strcmp(s->region[i].name, name) == 0) {
            return &s->region[i];
        }
    }
    return NULL;
}

// As it is taken again by hand: the light measured anew, the lamp a little further, the card not quite as it lay.
static void take_again(scene *s, unsigned seed)
{
    uint64_t state = 977u * (uint64_t)seed + 5u;
    s->exposure *= exp(scene_between(&state, -0.25, 0.05));
    for (int k = 0; k < 3; k += 2) {
        s->balance[k] *= exp(0.02 * scene_normal(&state));
    }
    for (int k = 0; k < 2; k++) {
        s->fall_off[k] += 0.02 / 960.0 * scene_normal(&state);
    }
    s->noise_seed = seed;
    scene_region *card = find_region(s, "grey card");
    card->lit = 0.02 * scene_normal(&state);
    double right = floor(scene_between(&state, -4.0, 5.0)),
           down = floor(scene_between(&state, -4.0, 5.0));
    card->x += right;
    card->y += down;
    scene_region *rim = find_region(s, "card rim");
    rim->x += right;
    rim->y += down;
}

static bool read_scene(const scene *s, unsigned seed, int quality, const hw_marks *marks,
                       scene_truth *truth, hw_reading *out)
{
    hw_photo *photo = NULL;
    hw_error err = {0};
    size_t count = 0;
    uint64_t state = 31u * (uint64_t)seed + 3u;
    scene_drawing *drawing = scene_draw(s, truth);
    int right = (int)scene_between(&state, -1.0, 2.0), down = (int)scene_between(&state, -1.0, 2.0);
    uint8_t *codes = drawing ? scene_expose(drawing, 1.0, s->noise_seed, right, down) : NULL;
    uint8_t *bytes = codes ? write_jpeg_memory(s->width, s->height, codes, quality, &count) : NULL;
    bool good = bytes && hw_photo_decode(bytes, count, "shot", NULL, &photo, &err) == HW_OK &&
                hw_steps_read_decoded(photo, marks, false, NULL, NULL, NULL, out, &err) == HW_OK;
    hw_photo_free(photo);
    free(bytes);
    free(codes);
    scene_drawing_free(drawing);
    return good;
}

// ---- Several -----------------------------------------------------------------------

// A reading's own copy: hw_compare_shots takes the first one over.
static bool copy_reading(const hw_reading *from, hw_reading *out)
{
    hw_error err = {0};
    *out = *from;
    out->marks = out->proposed = (hw_marks){0};
    out->comparisons = (hw_comparisons){0};
    out->samples = calloc(from->sample_count, sizeof *out->samples);
    bool good = out->samples && hw_marks_copy(&from->marks, &out->marks, &err) == HW_OK;
    for (size_t i = 0; good && i < from->sample_count; i++) {
        hw_sample *sample = &out->samples[i];
        size_t cells = from->samples[i].columns * from->samples[i].rows;
        *sample = from->samples[i];
        sample->cells = hw_alloc_array(cells, sizeof *sample->cells);
        memcpy(sample->cells, from->samples[i].cells, cells * sizeof *sample->cells);
    }
    return good && hw_compare_all(out->samples, out->sample_count, &out->marks, &out->light, NULL,
                                  &out->comparisons, &err) == HW_OK;
}

static bool read_together(const hw_reading *shot, size_t count, hw_reading *out)
{
    hw_reading *copy = calloc(count, sizeof *copy), *at[HW_SHOTS_MOST] = {0};
    hw_shots shots = {.count = count};
    hw_error err = {0};
    bool good = copy != NULL;
    for (size_t i = 0; i < count && good; i++) {
        snprintf(shots.shot[i].file, sizeof shots.shot[i].file, "%zu.jpg", i + 1);
        good = copy_reading(&shot[i], &copy[i]);
        at[i] = &copy[i];
    }
    good = good && hw_compare_shots(at, &shots, NULL, out, &err) == HW_OK;
    for (size_t i = 0; i < count && copy; i++) {
        hw_reading_free(&copy[i]);
    }
    free(copy);
    return good;
}

// Patch minus the mean of linear light of the targets.
static hw_difference true_gap(const scene *s, const scene_truth *truth)
{
    hw_xyz sum = {0, 0, 0};
    hw_lab patch = {0, 0, 0};
    double n = 0;
    for (size_t i = 0; i < s->region_count; i++) {
        const char *role = s->region[i].role ? s->region[i].role : "";
        if (strcmp(role, "patch") == 0) {
            patch = truth->lab[i];
        } else if (strcmp(role, "target") == 0) {
            hw_xyz one = hw_xyz_from_lab(truth->lab[i], hw_white_d50);
            sum = (hw_xyz){sum.X + one.X, sum.Y + one.Y, sum.Z + one.Z};
            n++;
        }
    }
    return hw_difference_of(
        hw_lab_from_xyz((hw_xyz){sum.X / n, sum.Y / n, sum.Z / n}, hw_white_d50), patch);
}

static bool fill_count(const hw_reading *shot, size_t count, const hw_difference *truth,
                       one_count *out)
{
    hw_reading mean = {0};
    if (!read_together(shot, count, &mean)) {
        return false;
    }
    const hw_comparison *gap = hw_comparison_beside(&mean.comparisons, "strip");
    const double want[3] = {truth->L, truth->a, truth->b};
    const double seen[3] = {gap->gap.L, gap->gap.a, gap->gap.b};
    const double low[3] = {gap->low.L, gap->low.a, gap->low.b};
    const double high[3] = {gap->high.L, gap->high.a, gap->high.b};
    out->inside = gap->de00_low <= truth->de00 && truth->de00 <= gap->de00_high;
    for (int k = 0; k < 3; k++) {
        out->parts_inside += low[k] <= want[k] && want[k] <= high[k];
        out->shift[k] = seen[k] - want[k];
    }
    out->error = fabs(gap->gap.de00 - truth->de00);
    out->width = gap->de00_high - gap->de00_low;
    out->wrong_named = (int)(count - mean.shots.used);
    out->disagree = mean.shots.disagree;
    hw_reading_free(&mean);
    return true;
}

static void fill_scatter(const hw_reading *shot, double out[3])
{
    double sum[3] = {0}, square[3] = {0};
    for (size_t i = 0; i < SHOTS; i++) {
        const hw_comparison *gap = hw_comparison_beside(&shot[i].comparisons, "strip");
        const double value[3] = {gap->gap.L, gap->gap.a, gap->gap.b};
        for (int k = 0; k < 3; k++) {
            sum[k] += value[k];
            square[k] += value[k] * value[k];
        }
    }
    for (int k = 0; k < 3; k++) {
        out[k] = sqrt(fmax(square[k] - sum[k] * sum[k] / SHOTS, 0.0) / (SHOTS - 1));
    }
}

// The second shot with a shadow on the strip, among three and among five.
static void fill_shadow(const scene *piece, unsigned seed, int quality, const hw_marks *marks,
                        const hw_reading *shot, int which, result *out)
{
    scene s = *piece;
    scene_truth truth = {{{0}}};
    hw_reading dark = {0}, all[SHOTS];
    take_again(&s, seed + 500000u);
    find_region(&s, "strip")->lit = shadows[which];
    if (!read_scene(&s, seed + 500000u, quality, marks, &truth, &dark)) {
        return;
    }
    memcpy(all, shot, sizeof all);
    all[1] = dark;
    for (int many = 0; many < 2; many++) {
        hw_reading mean = {0};
        size_t count = many ? 5 : 3;
        if (read_together(all, count, &mean)) {
            out->named[which][many] = !mean.shots.shot[1].used;
            out->wrong[which][many] = count - mean.shots.used > (size_t)!mean.shots.shot[1].used;
            out->off[which] = many ? mean.shots.shot[1].off : out->off[which];
        }
        hw_reading_free(&mean);
    }
    hw_reading_free(&dark);
}

// The strip throws light to the left, more or less of it, and takes it away from the right.
static void fill_sides(const scene *piece, unsigned seed, int quality, const hw_marks *marks,
                       const hw_difference *truth, result *out)
{
    uint64_t state = 71u * (uint64_t)seed + 1u;
    double lit = scene_between(&state, 0.0, 0.35);
    hw_reading side[2] = {{0}, {0}};
    bool good = true;
    for (int k = 0; k < 2 && good; k++) {
        scene s = *piece;
        scene_truth unused = {{{0}}};
        take_again(&s, seed + 700000u + (unsigned)k);
        find_region(&s, "strip")->lit = k ? -lit : lit;
        good = read_scene(&s, seed + 700000u + (unsigned)k, quality, marks, &unused, &side[k]);
    }
    hw_side_pair pair;
    if (good && hw_side_pairs_of(&side[0], &side[1], &pair, 1) == 1) {
        // Y times exp(lit) is L* + 16 times exp(lit / 3).
        double L = hw_comparison_beside(&side[0].comparisons, "strip")->target_lab.L + truth->L;
        double by = (L + 16.0) * (exp(lit / 3.0) - 1.0);
        out->turns = truth->L + by > 0.0 && truth->L - by < 0.0;
        out->told = pair.turned;
        out->side_read = true;
    }
    hw_reading_free(&side[0]);
    hw_reading_free(&side[1]);
}

static bool run_scene(const void *what, unsigned seed, void *result_out)
{
    result *out = result_out;
    scene piece;
    scene_truth truth = {{{0}}};
    int quality;
    hw_marks marks = {0};
    hw_reading shot[SHOTS] = {{0}};
    *out = (result){.seed = seed};
    bool good = scene_random(what, seed, &piece, &quality) && scene_marks(&piece, 0, 0, &marks);
    for (unsigned i = 0; i < SHOTS && good; i++) {
        scene s = piece;
        take_again(&s, seed * 10u + i);
        good = read_scene(&s, seed * 10u + i, quality, &marks, &truth, &shot[i]);
    }
    out->read = good;
    if (good) {
        hw_difference gap = true_gap(&piece, &truth);
        out->truth = gap.de00;
        for (size_t k = 0; k < COUNTS; k++) {
            good = good && fill_count(shot, counts[k], &gap, &out->of[k]);
        }
        fill_scatter(shot, out->scatter);
        for (int k = 0; k < SHADOWS; k++) {
            fill_shadow(&piece, seed, quality, &marks, shot, k, out);
        }
        fill_sides(&piece, seed, quality, &marks, &gap, out);
    }
    for (size_t i = 0; i < SHOTS; i++) {
        hw_reading_free(&shot[i]);
    }
    hw_marks_free(&marks);
    return true;
}

// ---- A condition -------------------------------------------------------------------

static double percent(double part, double all)
{
    return all > 0.0 ? 100.0 * part / all : 0.0;
}

static bool show_counts(const result *results, size_t found, double *read)
{
    bool good = true;
    for (size_t k = 0; k < COUNTS; k++) {
        double n = 0, inside = 0, parts = 0, width = 0, error = 0, named = 0, disagree = 0;
        for (size_t i = 0; i < found; i++) {
            const one_count *one = &results[i].of[k];
            if (results[i].read) {
                n++;
                inside += one->inside;
                parts += one->parts_inside;
                width += one->width;
                error += one->error;
                named += one->wrong_named > 0;
                disagree += one->disagree;
            }
        }
        *read = n;
        printf("  %zu shot%s: in range %.1f %%, L* a* b* %.1f %%; off by %.2f, width %.2f; a good "
               "shot "
               "named %.1f %%, disagree %.1f %%\n",
               counts[k], counts[k] > 1 ? "s" : " ", percent(inside, n), percent(parts, 3 * n),
               error / n, width / n, percent(named, n), percent(disagree, n));
        good = good && inside >= 0.8 * n && named <= fmax(1.0, 0.02 * n);
    }
    return good;
}

static void show_scatter(const result *results, size_t found)
{
    for (int k = 0; k < 3; k++) {
        double *of = calloc(found + 1, sizeof *of);
        size_t n = 0;
        for (size_t i = 0; i < found && of; i++) {
            if (results[i].read) {
                of[n++] = results[i].scatter[k];
            }
        }
        double median = quantile_of(of, n, 0.5), high = quantile_of(of, n, 0.9);
        printf("%s %c* %.2f (%.2f)",
               k ? "," : "  scatter of five, median (90th percentile):", "Lab"[k], median, high);
        free(of);
    }
    printf("\n");
}

static bool show_shadows(const result *results, size_t found)
{
    bool good = true;
    for (int k = 0; k < SHADOWS; k++) {
        double n = 0, off = 0, named[2] = {0}, wrong[2] = {0};
        for (size_t i = 0; i < found; i++) {
            const result *one = &results[i];
            if (one->read && one->off[k] > 0.0) {
                n++;
                off += one->off[k];
                for (int many = 0; many < 2; many++) {
                    named[many] += one->named[k][many];
                    wrong[many] += one->wrong[k][many];
                }
            }
        }
        printf("  shadow, off by %.1f: named %.0f %% among three, %.0f %% among five; a good one "
               "named "
               "%.1f, %.1f %%\n",
               off / n, percent(named[0], n), percent(named[1], n), percent(wrong[0], n),
               percent(wrong[1], n));
        good = good && (off / n < 3.0 || named[1] >= 0.9 * n) && wrong[0] <= fmax(1.0, 0.02 * n) &&
               wrong[1] <= fmax(1.0, 0.02 * n);
    }
    return good;
}

static bool show_sides(const result *results, size_t found)
{
    double turns = 0, told = 0, plain = 0, wrong = 0;
    for (size_t i = 0; i < found; i++) {
        if (results[i].side_read) {
            turns += results[i].turns;
            told += results[i].turns && results[i].told;
            plain += !results[i].turns;
            wrong += !results[i].turns && results[i].told;
        }
    }
    printf("  from two sides: grain's light told %.0f of %.0f; told where there is none %.0f of "
           "%.0f\n",
           told, turns, wrong, plain);
    return wrong <= fmax(1.0, 0.02 * plain);
}

int main(int count, char **arguments)
{
    static const char *const conditions[] = {"good lamp", "everyday"};
    unsigned scenes = 120, first = 1, jobs = 2;
    const char *only = "";
    bool check = false, kept = true;
    for (int i = 1; i < count; i++) {
        if (strcmp(arguments[i], "--only") == 0 && i + 1 < count) {
            only = arguments[++i];
        } else if (strcmp(arguments[i], "--check") == 0) {
            check = true;
        } else if (!read_option_number(count, arguments, &i, "--scenes", &scenes) &&
                   !read_option_number(count, arguments, &i, "--first", &first) &&
                   !read_option_number(count, arguments, &i, "--jobs", &jobs)) {
            fprintf(stderr,
                    "use: repeats [--scenes N] [--first SEED] [--jobs N] [--only CONDITION] "
                    "[--check]\n");
            return 2;
        }
    }
    result *results = calloc(scenes, sizeof *results);
    for (size_t c = 0; results && c < sizeof conditions / sizeof *conditions; c++) {
        double read = 0;
        if (!strstr(conditions[c], only)) {
            continue;
        }
        size_t found =
            in_children(run_scene, conditions[c], first, scenes, jobs, sizeof *results, results);
        printf("%s, %zu scenes\n", conditions[c], found);
        bool good = show_counts(results, found, &read);
        show_scatter(results, found);
        good = show_shadows(results, found) && good;
        good = show_sides(results, found) && good;
        kept = kept && good && found == scenes && read >= 0.8 * scenes;
        printf("%s", check && !good ? "  worse than it has been\n" : "");
        fflush(stdout);
    }
    free(results);
    return check && !kept;
}
