// learned.c: what a learned camera is worth: chart photos of a made-up camera under a lamp, then a photo of another
// piece with a grey card alone, by the same camera and lamp (tests/scene). The same photo is read by the card alone,
// and with what one and three chart photos taught.
//
//   learned [--scenes N] [--first SEED] [--only TEXT] [--jobs N] [--check] [--list]
//
// Columns: how the photo was read; |error of CIEDE2000| of the gap, median / 95th percentile; share of truths in the
// stated 90 % range, of CIEDE2000 and of L*, a*, b*; mean width of the range; CIEDE2000 by which single colours are off,
// mean; how often it was used (curve, colours), of how many. Below: why chart photos were refused.
//
// --check exits 1 when a learned camera makes the gap worse than the card alone does, or when the ranges of its rows
// hold less than `kept` (with room for the luck of few scenes).
#include "huewright/huewright.h"
#include "in_children.h"
#include "scene.h"
#include "scene_marks.h"
#include "steps_internal.h"
#include "write_jpeg.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PHOTOS 3

// How the shots of one camera differ.
typedef struct row {
    const char *name, *condition; // of the piece, the lamp and the camera (scene_condition)
    double tone[2];               // strength of the camera's curve
    double stray;                 // s.d. of that from shot to shot
    bool other_curve;             // the later photo has a curve of its own
    double balance;               // s.d. of the white balance from shot to shot
    double kept;                  // share of parts in range, % (with --check)
    bool gains;                   // the learned camera shall not be worse than the card alone
} row;

static const row rows[] = {
    {"same curve", "good lamp", {0.1, 0.35}, 0.0, false, 0.0, 85.0, true},
    {"poor lamp, same curve", "poor lamp", {0.1, 0.35}, 0.0, false, 0.0, 85.0, true},
    {"no curve", "good lamp", {0.0, 0.0}, 0.0, false, 0.0, 85.0, false},
    {"poor lamp, no curve", "poor lamp", {0.0, 0.0}, 0.0, false, 0.0, 85.0, false},
    {"curve strays", "good lamp", {0.1, 0.35}, 0.08, false, 0.0, 85.0, true},
    {"everyday, curve strays", "everyday", {0.0, 0.25}, 0.08, false, 0.002, 80.0, true},
    {"another curve later", "good lamp", {0.1, 0.35}, 0.0, true, 0.0, 80.0, false},
    {"no curve later", "good lamp", {0.1, 0.35}, 0.0, true, 0.0, 80.0, false},
};

enum { ALONE, WITH_ONE, WITH_THREE, WAYS };
static const char *const way_names[WAYS] = {"card alone", "1 chart photo", "3 chart photos"};

typedef struct one_way {
    bool read, curve, colours;
    double error, width, single, part_error[3];
    int inside, parts_inside;
    char why_not[120];
} one_way;

typedef struct result {
    unsigned seed;
    int refused; // chart photos
    char why[160];
    double truth;
    one_way way[WAYS];
} result;

// ---- Photos ------------------------------------------------------------------------

typedef struct shot {
    hw_photo *photo;
    hw_marks marks;
    scene_truth truth;
} shot;

static bool take(const scene *s, int quality, shot *out)
{
    size_t count = 0;
    uint8_t *codes = scene_render(s, &out->truth), *bytes = NULL;
    bool good = codes && (bytes = write_jpeg_memory(s->width, s->height, codes, quality, &count)) &&
                hw_photo_decode(bytes, count, "scene", NULL, &out->photo, NULL) == HW_OK &&
                scene_marks(s, 0, 0, &out->marks);
    free(bytes);
    free(codes);
    return good;
}

static void drop(shot *one)
{
    hw_photo_free(one->photo);
    hw_marks_free(&one->marks);
    *one = (shot){0};
}

static void vary(const row *r, uint64_t *state, scene *s)
{
    s->tone = fmax(-0.1, s->tone + r->stray * scene_normal(state));
    for (int k = 0; k < 3; k++) {
        s->balance[k] *= 1.0 + r->balance * scene_normal(state);
    }
}

// The same camera, lamp and white balance, another piece, a chart beside it.
static bool chart_scene(const row *r, const scene *later, unsigned seed, uint64_t *state,
                        scene *out)
{
    int quality;
    if (!scene_random("tone curve, chart", seed, out, &quality)) {
        return false;
    }
    out->lamp = later->lamp;
    out->camera = later->camera;
    memcpy(out->balance, later->balance, sizeof out->balance);
    out->tone = later->tone;
    out->curve = later->curve;
    out->flare = scene_between(state, 0.001, 0.006);
    vary(r, state, out);
    return true;
}

static bool later_scene(const row *r, unsigned seed, uint64_t *state, scene *out, int *quality)
{
    if (!scene_random(r->condition, seed, out, quality)) {
        return false;
    }
    out->curve = (scene_curve)(int)(2.999 * scene_chance(state));
    out->tone = scene_between(state, r->tone[0], r->tone[1]);
    return true;
}

static void change_curve(const row *r, uint64_t *state, scene *s)
{
    if (r->other_curve && strcmp(r->name, "no curve later") == 0) {
        s->tone = 0.0;
    } else if (r->other_curve) {
        s->curve = (scene_curve)(int)(2.999 * scene_chance(state));
        s->tone = scene_between(state, r->tone[0], r->tone[1]);
    }
}

// ---- Reading -----------------------------------------------------------------------

static size_t learn(const row *r, const scene *later, unsigned seed, uint64_t *state,
                    hw_camera_seen seen[PHOTOS], result *out)
{
    size_t count = 0;
    for (unsigned k = 0; k < PHOTOS; k++) {
        scene s;
        shot one = {0};
        hw_error err = {0};
        if (chart_scene(r, later, 1000 * seed + k + 1, state, &s) && take(&s, 92, &one)) {
            if (hw_card_learn(one.photo, &one.marks, NULL, &seen[count], &err) == HW_OK) {
                seen[count++].at = 0;
            } else {
                out->refused++;
                snprintf(out->why, sizeof out->why, "%.39s: %.110s", err.code, err.what);
            }
        }
        drop(&one);
    }
    return count;
}

static hw_difference true_gap(const scene *s, const scene_truth *truth)
{
    hw_xyz sum = {0, 0, 0};
    double n = 0.0;
    hw_lab patch = {0, 0, 0};
    for (size_t i = 0; i < s->region_count; i++) {
        const char *role = s->region[i].role;
        if (role && strcmp(role, "target") == 0) {
            hw_xyz one = hw_xyz_from_lab(truth->lab[i], hw_white_d50);
            sum = (hw_xyz){sum.X + one.X, sum.Y + one.Y, sum.Z + one.Z};
            n += 1.0;
        } else if (role && strcmp(role, "patch") == 0) {
            patch = truth->lab[i];
        }
    }
    return hw_difference_of(
        hw_lab_from_xyz((hw_xyz){sum.X / n, sum.Y / n, sum.Z / n}, hw_white_d50), patch);
}

static double single_miss(const scene *s, const scene_truth *truth, const hw_reading *reading)
{
    double sum = 0.0, n = 0.0;
    for (size_t i = 0; i < reading->sample_count; i++) {
        for (size_t k = 0; k < s->region_count; k++) {
            if (strcmp(s->region[k].name, reading->samples[i].name) == 0) {
                sum += hw_ciede2000(truth->lab[k], reading->samples[i].lab);
                n += 1.0;
            }
        }
    }
    return n > 0.0 ? sum / n : 0.0;
}

static void read_way(const scene *s, const shot *one, const hw_camera *camera, one_way *out)
{
    hw_card_options card = {.camera = camera};
    hw_reading reading = {0};
    if (hw_steps_read_decoded(one->photo, &one->marks, false, &card, NULL, NULL, &reading, NULL) !=
        HW_OK) {
        return;
    }
    const hw_comparison *gap = hw_comparison_beside(&reading.comparisons, "strip");
    hw_difference truth = true_gap(s, &one->truth);
    const double part[3] = {truth.L, truth.a, truth.b};
    const double seen[3] = {gap->gap.L, gap->gap.a, gap->gap.b};
    const double low[3] = {gap->low.L, gap->low.a, gap->low.b};
    const double high[3] = {gap->high.L, gap->high.a, gap->high.b};
    out->read = true;
    out->curve = reading.light.camera.curve;
    out->colours = reading.light.camera.colours;
    out->error = gap->gap.de00 - truth.de00;
    out->width = gap->de00_high - gap->de00_low;
    out->inside = truth.de00 >= gap->de00_low - 1e-9 && truth.de00 <= gap->de00_high + 1e-9;
    for (int k = 0; k < 3; k++) {
        out->part_error[k] = seen[k] - part[k];
        out->parts_inside += part[k] >= low[k] && part[k] <= high[k];
    }
    out->single = single_miss(s, &one->truth, &reading);
    snprintf(out->why_not, sizeof out->why_not, "%.110s", reading.light.camera.why_not);
    hw_reading_free(&reading);
}

static bool run(const void *what, unsigned seed, void *to)
{
    const row *r = what;
    result *out = to;
    uint64_t state = 6700417u * (uint64_t)seed + 11u;
    static hw_camera_seen seen[PHOTOS];
    const hw_camera_seen *list[PHOTOS] = {&seen[0], &seen[1], &seen[2]};
    scene later;
    shot one = {0};
    int quality;
    *out = (result){.seed = seed};
    if (!later_scene(r, seed, &state, &later, &quality)) {
        return false;
    }
    size_t count = learn(r, &later, seed, &state, seen, out);
    vary(r, &state, &later);
    change_curve(r, &state, &later);
    bool good = take(&later, quality, &one);
    if (good) {
        hw_camera camera;
        out->truth = true_gap(&later, &one.truth).de00;
        read_way(&later, &one, NULL, &out->way[ALONE]);
        bool learned = count > 0 && hw_camera_fit(list, 1, 0, &camera);
        read_way(&later, &one, learned ? &camera : NULL, &out->way[WITH_ONE]);
        learned = count > 0 && hw_camera_fit(list, count, 0, &camera);
        read_way(&later, &one, learned ? &camera : NULL, &out->way[WITH_THREE]);
    }
    drop(&one);
    return good;
}

// ---- A row -------------------------------------------------------------------------

typedef struct tally {
    size_t read, curve, colours;
    double median, high, inside, parts, width, single;
} tally;

static tally sum_up(const result *results, size_t count, int way)
{
    tally sum = {0};
    double *errors = calloc(count + 1, sizeof *errors);
    for (size_t i = 0; i < count && errors; i++) {
        const one_way *one = &results[i].way[way];
        if (!one->read) {
            continue;
        }
        errors[sum.read++] = fabs(one->error);
        sum.curve += one->curve;
        sum.colours += one->colours;
        sum.inside += one->inside;
        sum.parts += one->parts_inside;
        sum.width += one->width;
        sum.single += one->single;
    }
    double n = fmax((double)sum.read, 1.0);
    sum.inside *= 100.0 / n;
    sum.parts *= 100.0 / (3.0 * n);
    sum.width /= n;
    sum.single /= n;
    sum.median = quantile_of(errors, sum.read, 0.5);
    sum.high = quantile_of(errors, sum.read, 0.95);
    free(errors);
    return sum;
}

static void list_all(const result *results, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const result *one = &results[i];
        printf("  %5u true %5.2f", one->seed, one->truth);
        for (int w = 0; w < WAYS; w++) {
            const one_way *way = &one->way[w];
            printf(" | %+5.2f (%+5.2f %+5.2f %+5.2f)%s single %.2f", way->error, way->part_error[0],
                   way->part_error[1], way->part_error[2], way->inside ? "    " : " OUT",
                   way->single);
        }
        printf("  %s%s\n", one->way[WITH_THREE].why_not, one->refused ? one->why : "");
    }
}

static bool show(const row *r, const result *results, size_t count)
{
    tally alone = sum_up(results, count, ALONE);
    bool kept = count > 0;
    size_t refused = 0;
    for (size_t i = 0; i < count; i++) {
        refused += (size_t)results[i].refused;
    }
    printf("%s (%zu of %zu chart photos refused)\n", r->name, refused, PHOTOS * count);
    for (int w = 0; w < WAYS; w++) {
        tally sum = sum_up(results, count, w);
        printf("    %-16s %.2f / %.2f   %5.1f %5.1f   %4.1f   %.2f   %zu, %zu of %zu\n",
               way_names[w], sum.median, sum.high, sum.inside, sum.parts, sum.width, sum.single,
               sum.curve, sum.colours, sum.read);
        double luck = count < 40 ? 20.0 : 0.0;
        bool good = w == ALONE || (sum.parts >= r->kept - luck && sum.inside >= r->kept - luck &&
                                   (!r->gains || (sum.median <= alone.median + 0.02 &&
                                                  sum.single <= alone.single + 0.05)));
        if (!good) {
            printf("    worse than it has been\n");
        }
        kept = kept && good;
    }
    return kept;
}

int main(int count, char **arguments)
{
    unsigned scenes = 60, first = 1, jobs = 2;
    const char *only = "";
    bool each = false, check = false, kept = true;
    for (int i = 1; i < count; i++) {
        if (read_option_number(count, arguments, &i, "--scenes", &scenes) ||
            read_option_number(count, arguments, &i, "--first", &first) ||
            read_option_number(count, arguments, &i, "--jobs", &jobs)) {
            continue;
        }
        if (strcmp(arguments[i], "--only") == 0 && i + 1 < count) {
            only = arguments[++i];
        } else if (strcmp(arguments[i], "--list") == 0) {
            each = true;
        } else if (strcmp(arguments[i], "--check") == 0) {
            check = true;
        } else {
            fprintf(stderr, "use: learned [--scenes N] [--first SEED] [--only TEXT] [--jobs N] "
                            "[--check] [--list]\n");
            return 2;
        }
    }
    result *results = calloc(scenes + 1, sizeof *results);
    for (size_t k = 0; results && k < sizeof rows / sizeof *rows; k++) {
        if (!strstr(rows[k].name, only)) {
            continue;
        }
        size_t found = in_children(run, &rows[k], first, scenes, jobs, sizeof *results, results);
        if (each) {
            list_all(results, found);
        }
        kept = show(&rows[k], results, found) && found == scenes && kept;
        fflush(stdout);
    }
    free(results);
    return check && !kept;
}
