// loop.c: the whole job in a circle on rendered photos: photograph, ask for advice, lay exactly what it
// says, log it, photograph again, until it says stop. Woods, dyes, the shop's hand, lamp and camera are
// invented and not known to the program (loop_world.h); the true colours are.
//
//   loop [--runs N] [--first SEED] [--only TEXT] [--jobs N] [--check] [--list] [--without-photos]
//
// Columns: runs that one who knows all could bring below a true CIEDE2000 of 1; the true CIEDE2000 of
// strip and old wood at the end, median / 95th percentile; the same of those on which anything was laid, with their
// share; overshoot: runs that ended over 1 L* darker than
// the old wood, or over 0.5 CIEDE2000 beyond the best they had passed through; mean passes; mean photos;
// runs that did not stop; share of truths inside the stated range of what `next` will do; |learned strength /
// true strength - 1| of dyes whose passes moved the strip by 3 or more, median / 90th percentile (how many);
// then the other runs: how many, laid nothing, ended worse than they began.
//
// First two rows to compare with: naive (the first reading, the families' nominal strengths, all of it laid
// blind, then one look) and all-knowing (knows the true spectra; its passes do not scatter).
//
// Marked with "wanted better": a row that misses what is aimed at. --check exits 1 when a row is worse
// than it has been (kept_*, with room for the luck of few runs). --list prints each run's course.
#include "huewright/huewright.h"
#include "loop_world.h"

#include <dirent.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

// Set to 1 when the library has hw_steps_stepboard, and hw_tone_learn.
#ifndef HW_HAS_STEPBOARD
#define HW_HAS_STEPBOARD 0
#endif
#ifndef HW_HAS_LEARN
#define HW_HAS_LEARN 0
#endif

// ---- Rows --------------------------------------------------------------------------

typedef enum way { BY_ADVICE, NAIVE, ALL_KNOWING } way;

// What is aimed at, and what has been kept.
typedef struct bound {
    double median, high, overshoot; // CIEDE2000, CIEDE2000, percent
    double passes, photos;          // means
    double inside_least;            // percent
} bound;

typedef struct row {
    const char *name, *condition;
    way way;
    scene_depth depth;
    bool board, second_job;
    bound aim, kept;
} row;

#define EVERYDAY "everyday"
#define STEPS    "tone curve, three steps"

// Aims: median, high, overshoot, passes, photos, range.
#define AIM_EVERYDAY .aim = {0.8, 1.6, 2, 7, 7, 85}
#define AIM_STEPS    .aim = {0.5, 1.1, 2, 7, 7, 85}

static const row rows[] = {
    {.name = "naive, everyday", .condition = EVERYDAY, .way = NAIVE},
    {.name = "naive, steps", .condition = STEPS, .way = NAIVE},
    {.name = "all-knowing", .condition = STEPS, .way = ALL_KNOWING},
    {.name = "everyday, guesses",
     .condition = EVERYDAY,
     AIM_EVERYDAY,
     .kept = {3.0, 6.0, 15, 8, 8, 50}},
    {.name = "everyday, boards",
     .condition = EVERYDAY,
     .board = true,
     AIM_EVERYDAY,
     .kept = {3.0, 6.0, 15, 8, 8, 50}},
    {.name = "steps, guesses", .condition = STEPS, AIM_STEPS, .kept = {3.0, 6.0, 15, 8, 8, 50}},
    {.name = "steps, boards",
     .condition = STEPS,
     .board = true,
     AIM_STEPS,
     .kept = {3.0, 6.0, 15, 8, 8, 50}},
    {.name = "second job",
     .condition = STEPS,
     .second_job = true,
     AIM_STEPS,
     .kept = {3.0, 6.0, 15, 8, 8, 50}},
    {.name = "dye in the wood",
     .condition = STEPS,
     .depth = SCENE_IN_WOOD,
     AIM_STEPS,
     .kept = {3.0, 6.0, 15, 8, 8, 50}},
    {.name = "film with inner reflection",
     .condition = STEPS,
     .depth = SCENE_INNER_MIRROR,
     AIM_STEPS,
     .kept = {3.0, 6.0, 15, 8, 8, 50}},
};
#define ROW_COUNT (sizeof rows / sizeof *rows)

static const int photos_most = 15;
static const int64_t start_time = 1750000000, hour = 3600, week = 7 * 24 * 3600;

// ---- One run -----------------------------------------------------------------------

#define LEARNED_MOST HW_FAMILY_COUNT

typedef struct result {
    unsigned seed;
    bool failed;                               // could not be run at all
    double best;                               // all-knowing
    double start, start_depth, end, end_depth; // true CIEDE2000, L* of strip minus old wood
    double passed_best;               // least true CIEDE2000 after any pass, or at the start
    int passes, photos, first_photos; // of the first job, where this is the second
    double first_best;
    bool endless; // still something to lay after photos_most photos
    int forecasts, inside;
    size_t learned_count;
    double learned[LEARNED_MOST];
    char course[1500];
} result;

static void say(result *out, const char *format, ...) HW_PRINTF(2, 3);

static void say(result *out, const char *format, ...)
{
    size_t used = strlen(out->course);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(out->course + used, sizeof out->course - used, format, arguments);
    va_end(arguments);
}

static void fail(result *out, const hw_error *err)
{
    out->failed = true;
    say(out, " FAILED %.60s: %.200s", err->subject, err->what);
}

// Notes where the strip is now.
static void look(const world *w, result *out)
{
    hw_difference gap = world_gap(w);
    out->end = gap.de00;
    out->end_depth = gap.L;
    out->passed_best = fmin(out->passed_best, gap.de00);
}

static void begin(world *w, unsigned seed, result *out)
{
    exact_layer layer[2];
    size_t count = 0;
    hw_difference gap = world_gap(w);
    *out = (result){.seed = seed, .start = gap.de00, .start_depth = gap.L};
    out->passed_best = gap.de00;
    out->best = world_best(w, layer, &count);
    look(w, out);
    say(out, "%.2f (%+.1f L*), best %.2f with", out->start, out->start_depth, out->best);
    for (size_t i = 0; i < count; i++) {
        say(out, "%s %d x %s %g", i ? "," : "", layer[i].passes, hw_family_name(layer[i].family),
            layer[i].strength);
    }
    say(out, "%s:", count ? "" : " nothing");
}

static void lay(world *w, const hw_layer *layer, result *out)
{
    say(out, " %d x", layer->passes);
    for (size_t i = 0; i < layer->liquid.count; i++) {
        say(out, "%s %s %g", i ? " +" : "", layer->liquid.dose[i].dye,
            layer->liquid.dose[i].strength);
    }
    for (int pass = 0; pass < layer->passes; pass++) {
        world_pass(w, &layer->liquid);
        look(w, out);
        out->passes++;
    }
    say(out, " -> %.2f (%+.1f);", out->end, out->end_depth);
}

// ---- A job of the program under test -----------------------------------------------

typedef struct job {
    char folder[200], photo[200];
    int64_t now;
    double moved[HW_FAMILY_COUNT]; // CIEDE2000 that the passes of each dye moved the strip
} job;

static bool take_photo(world *w, job *j, double light, hw_photo_result *shown, hw_error *err)
{
    hw_marks marks = {0};
    hw_part_state state[12];
    hw_photo_request request = {.folder = j->folder,
                                .lamp = "the shop's lamp",
                                .states = state,
                                .read = {.photo_path = j->photo}};
    bool good = world_photo(w, light, j->photo, &marks);
    for (size_t i = 0; i < marks.count && request.state_count < 12; i++) {
        bool old = marks.mark[i].role == HW_ROLE_TARGET;
        if (old || marks.mark[i].role == HW_ROLE_PATCH) {
            hw_part_state *one = &state[request.state_count++];
            one->state = old ? HW_STATE_FINISHED : HW_STATE_SEALED;
            memcpy(one->part, marks.mark[i].name, sizeof one->part);
        }
    }
    request.read.marks = marks;
    good = good && hw_steps_photo(&request, NULL, j->now, shown, err) == HW_OK;
    j->now += hour;
    hw_marks_free(&marks);
    return good;
}

// A photo that is refused is taken again with less light, twice.
static bool photograph(world *w, job *j, hw_photo_result *shown, result *out)
{
    double light = 1.0;
    hw_error err = {0};
    for (int attempt = 0; attempt < 3; attempt++, light *= 0.8) {
        out->photos++;
        err = (hw_error){0};
        if (take_photo(w, j, light, shown, &err)) {
            return true;
        }
        say(out, " (refused: %.40s)", err.code);
    }
    fail(out, &err);
    return false;
}

static bool log_pass(job *j, const hw_layer *layer, result *out)
{
    char patch[1][HW_NAME_SIZE] = {"strip"};
    hw_pass_request request = {.folder = j->folder,
                               .pass = {.patches = patch,
                                        .patch_count = 1,
                                        .liquid = layer->liquid,
                                        .passes = layer->passes,
                                        .minutes = 60.0}};
    hw_job *opened = NULL;
    hw_warnings warnings = {0};
    hw_error err = {0};
    bool good = hw_steps_pass(&request, NULL, j->now, &opened, &warnings, &err) == HW_OK;
    j->now += hour;
    hw_job_free(opened);
    if (!good) {
        fail(out, &err);
    }
    return good;
}

static void note_forecast(const hw_after *after, result *out)
{
    out->forecasts++;
    out->inside += out->end >= after->de00_low - 1e-9 && out->end <= after->de00_high + 1e-9;
}

static void note_moved(const hw_layer *layer, double by, job *j)
{
    for (size_t i = 0; i < layer->liquid.count; i++) {
        hw_family family;
        if (hw_family_from_name(layer->liquid.dose[i].dye, &family)) {
            j->moved[family] += by;
        }
    }
}

// One turn: what is advised on the latest photo is laid and logged. False: nothing more to lay.
static bool turn(world *w, job *j, result *out)
{
    hw_advise_request request = {.folder = j->folder, .patch = "strip"};
    hw_advise_result advised = {0};
    hw_error err = {0};
    if (hw_steps_advise(&request, NULL, j->now, &advised, &err) != HW_OK) {
        fail(out, &err);
        return false;
    }
    const hw_advice *advice = &advised.advice[0];
    bool more = advice->has_next;
    if (!more) {
        say(out, " stop: %.150s", advice->why);
    } else if (out->photos >= photos_most) {
        out->endless = true;
        more = false;
        say(out, " no end");
    } else {
        hw_lab before = world_strip(w);
        lay(w, &advice->next, out);
        note_forecast(&advice->after_next, out);
        note_moved(&advice->next, hw_ciede2000(before, world_strip(w)), j);
        more = log_pass(j, &advice->next, out);
    }
    hw_advise_result_free(&advised);
    return more;
}

#if HW_HAS_LEARN
static const double moved_least = 3.0; // CIEDE2000: then a dye's strength should be known

static void compare_learned(const world *w, const job *j, result *out)
{
    hw_shelf shelf = {0};
    hw_known known = {0};
    char path[1024];
    if (hw_steps_shelf(NULL, NULL, &shelf, path, sizeof path, NULL) == HW_OK) {
        const hw_observation *last = NULL; // it names the job
        for (size_t i = 0; i < shelf.seen_count; i++) {
            last = !last || shelf.seen[i].at >= last->at ? &shelf.seen[i] : last;
        }
        if (last && hw_tone_learn(&shelf, last->job, world_strip(w), &known, NULL) == HW_OK) {
            for (int family = 0; family < HW_FAMILY_COUNT; family++) {
                const hw_known_dye *dye = hw_known_find(&known, hw_family_name((hw_family)family));
                if (dye && j->moved[family] >= moved_least) {
                    double is[3];
                    world_density(w, (hw_family)family, is);
                    out->learned[out->learned_count++] =
                        fabs((dye->density[0] + dye->density[1] + dye->density[2]) /
                                 (is[0] + is[1] + is[2]) -
                             1.0);
                }
            }
        }
    }
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}
#else
static void compare_learned(const world *w, const job *j, result *out)
{
    (void)w;
    (void)j;
    (void)out;
}
#endif

static void run_job(world *w, job *j, result *out)
{
    hw_error err = {0};
    if (hw_steps_start(j->folder, "loop", j->now, &err) != HW_OK) {
        fail(out, &err);
        return;
    }
    for (bool more = true; more && !out->failed;) {
        hw_photo_result shown = {0};
        more = photograph(w, j, &shown, out) && turn(w, j, out);
        hw_photo_result_free(&shown);
    }
    compare_learned(w, j, out);
}

// ---- What is known before the first job --------------------------------------------

static bool learn_board(const world *w, const char *path, result *out)
{
#if HW_HAS_STEPBOARD
    const char *dye[HW_FAMILY_COUNT];
    hw_stepboard_request request = {
        .read = {.photo_path = path}, .dye = dye, .dye_count = HW_FAMILY_COUNT};
    hw_stepboard_result learned = {0};
    hw_error err = {0};
    for (int family = 0; family < HW_FAMILY_COUNT; family++) {
        dye[family] = hw_family_name((hw_family)family);
    }
    bool good = world_step_board(w, path, &request.read.marks) &&
                hw_steps_stepboard(&request, NULL, start_time - week, &learned, &err) == HW_OK;
    if (!good) {
        fail(out, &err);
    }
    hw_stepboard_result_free(&learned);
    hw_marks_free(&request.read.marks);
    return good;
#else
    (void)w;
    (void)path;
    (void)out;
    return true;
#endif
}

// ---- The ways to compare with ------------------------------------------------------

// Amounts of two dyes whose densities sum to `want` best, neither negative.
static double divide(const double want[3], const double one[3], const double other[3],
                     double amount[2])
{
    double a = 0, b = 0, c = 0, p = 0, q = 0, rest = 0;
    for (int k = 0; k < 3; k++) {
        a += one[k] * one[k], b += one[k] * other[k], c += other[k] * other[k];
        p += one[k] * want[k], q += other[k] * want[k];
    }
    double determinant = a * c - b * b;
    amount[0] = (p * c - q * b) / determinant;
    amount[1] = (q * a - p * b) / determinant;
    if (amount[0] < 0.0 || amount[1] < 0.0) {
        bool second = amount[0] < 0.0;
        amount[second] = fmax(second ? q / c : p / a, 0.0);
        amount[!second] = 0.0;
    }
    for (int k = 0; k < 3; k++) {
        rest += pow(want[k] - amount[0] * one[k] - amount[1] * other[k], 2.0);
    }
    return rest;
}

// Whole passes; less than one: one pass of a thinner mix.
static hw_layer whole_passes(const hw_dye *dye, double amount)
{
    hw_layer layer = {.liquid = {.count = 1}, .passes = (int)(amount + 0.5)};
    memcpy(layer.liquid.dose[0].dye, dye->name, HW_NAME_SIZE);
    layer.liquid.dose[0].strength = 1.0;
    if (layer.passes == 0 && amount > 0.09) {
        layer.passes = 1;
        layer.liquid.dose[0].strength = amount > 0.375 ? 0.5 : amount > 0.18 ? 0.25 : 0.125;
    }
    return layer;
}

// The best pair of families for the gap as it was read, by division.
static void lay_blind(world *w, const hw_comparison *gap, result *out)
{
    double from[3], to[3], want[3], least = INFINITY, amount[2] = {0};
    hw_dye pair[2];
    hw_sharpen(hw_xyz_from_lab(gap->patch_lab, hw_white_d50), from);
    hw_sharpen(hw_xyz_from_lab(gap->target_lab, hw_white_d50), to);
    for (int k = 0; k < 3; k++) {
        want[k] = log(from[k] / to[k]);
    }
    for (int one = 0; one < HW_FAMILY_COUNT; one++) {
        for (int other = one + 1; other < HW_FAMILY_COUNT; other++) {
            hw_dye dye[2] = {hw_dye_guess((hw_family)one), hw_dye_guess((hw_family)other)};
            double parts[2], rest = divide(want, dye[0].density, dye[1].density, parts);
            if (rest < least) {
                least = rest;
                memcpy(pair, dye, sizeof pair);
                memcpy(amount, parts, sizeof amount);
            }
        }
    }
    for (int i = 0; i < 2; i++) {
        hw_layer layer = whole_passes(&pair[i], amount[i]);
        if (layer.passes > 0) {
            lay(w, &layer, out);
        }
    }
}

static void run_naive(world *w, job *j, result *out)
{
    hw_error err = {0};
    hw_photo_result shown = {0};
    if (hw_steps_start(j->folder, "naive", j->now, &err) != HW_OK) {
        fail(out, &err);
    } else if (photograph(w, j, &shown, out)) {
        const hw_comparison *gap = hw_comparison_beside(&shown.reading.comparisons, "strip");
        if (gap && gap->verdict != HW_VERDICT_LEAVE) {
            lay_blind(w, gap, out);
            out->photos++;
        }
    }
    hw_photo_result_free(&shown);
}

static void run_all_knowing(const world *w, result *out)
{
    exact_layer layer[2];
    size_t count;
    out->end = out->passed_best = world_best(w, layer, &count);
    out->end_depth = 0.0;
    for (size_t i = 0; i < count; i++) {
        out->passes += layer[i].passes;
    }
}

// ---- A run in a folder of its own --------------------------------------------------

static void remove_folder(const char *path)
{
    DIR *folder = opendir(path);
    if (folder) {
        for (struct dirent *entry; (entry = readdir(folder)) != NULL;) {
            char inside[600];
            if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0) {
                snprintf(inside, sizeof inside, "%s/%s", path, entry->d_name);
                remove_folder(inside);
            }
        }
        closedir(folder);
    }
    if (remove(path) != 0) {
        perror(path);
    }
}

// A new folder, in memory where there is such a place; no shelf of anybody's is near it.
static bool make_folder(char *path, size_t size)
{
    const char *where = getenv("TMPDIR");
    snprintf(path, size, "%s/hw-loop-XXXXXX",
             where                           ? where
             : access("/dev/shm", W_OK) == 0 ? "/dev/shm"
                                             : "/tmp");
    return mkdtemp(path) && setenv("XDG_DATA_HOME", path, 1) == 0;
}

static job new_job(const char *folder, int number)
{
    job j = {.now = start_time + number * week};
    snprintf(j.folder, sizeof j.folder, "%s/job-%d", folder, number);
    snprintf(j.photo, sizeof j.photo, "%s/photo.jpg", folder);
    return j;
}

static bool one_job(const row *r, const char *folder, unsigned seed, int number, result *out)
{
    static world w;
    job j = new_job(folder, number);
    bool good = world_make(&w, r->condition, r->depth, seed, number);
    if (good) {
        begin(&w, seed, out);
        if (r->way == NAIVE) {
            run_naive(&w, &j, out);
        } else if (r->way == ALL_KNOWING) {
            run_all_knowing(&w, out);
        } else if (!r->board || learn_board(&w, j.photo, out)) {
            run_job(&w, &j, out);
        }
    }
    world_free(&w);
    return good;
}

static bool run(const row *r, unsigned seed, result *out)
{
    char folder[120];
    if (!make_folder(folder, sizeof folder)) {
        perror(folder);
        return false;
    }
    bool good = one_job(r, folder, seed, 0, out);
    if (good && r->second_job) {
        result first = *out;
        good = one_job(r, folder, seed, 1, out);
        out->first_photos = first.photos;
        out->first_best = first.best;
        out->failed = out->failed || first.failed;
    }
    remove_folder(folder);
    return good;
}

// ---- A row -------------------------------------------------------------------------

// Runs first, first + step ... in a child that writes its results into a pipe.
static bool start_child(const row *r, unsigned first, unsigned count, unsigned step,
                        int *reading_end)
{
    int ends[2];
    if (pipe(ends) != 0) {
        return false;
    }
    fflush(stdout);
    pid_t child = fork();
    if (child == 0) {
        bool good = true;
        for (unsigned i = 0; i < count && good; i += step) {
            static result one;
            memset(&one, 0, sizeof one);
            good =
                run(r, first + i, &one) && write(ends[1], &one, sizeof one) == (ssize_t)sizeof one;
        }
        _exit(good ? 0 : 1);
    }
    close(ends[1]);
    *reading_end = ends[0];
    return child > 0;
}

static size_t collect(int from, result *out)
{
    size_t count = 0, got = 0;
    for (ssize_t n; (n = read(from, (char *)&out[count] + got, sizeof *out - got)) > 0;) {
        got += (size_t)n;
        if (got == sizeof *out) {
            got = 0;
            count++;
        }
    }
    close(from);
    return count;
}

static int by_size(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

static int by_seed(const void *one, const void *other)
{
    const result *a = one, *b = other;
    return (a->seed > b->seed) - (a->seed < b->seed);
}

static double quantile(double *values, size_t count, double share)
{
    qsort(values, count, sizeof *values, by_size);
    return count ? values[(size_t)fmin(share * (double)count, (double)count - 1.0)] : (double)NAN;
}

typedef struct tally {
    size_t helped, failed, endless, overshoot, forecasts, inside, learned;
    size_t toned;
    double median, high, toned_median, toned_high;
    double passes, photos, first_photos, learned_median, learned_high;
    size_t others, others_nothing, others_worse, first_helped;
} tally;

static const double best_most = 1.0;   // CIEDE2000: what could be helped
static const double too_dark = 1.0;    // L*
static const double beyond = 0.5;      // CIEDE2000
static const double worse_than = 0.05; // CIEDE2000: rather worse than it began

static bool overshot(const result *one)
{
    return one->passes > 0 && (one->end_depth < -too_dark || one->end > one->passed_best + beyond);
}

static void add_helped(const result *one, tally *sum)
{
    sum->passes += one->passes;
    sum->photos += one->photos;
    sum->endless += one->endless;
    sum->overshoot += overshot(one);
}

static tally sum_up(const result *results, size_t count)
{
    tally sum = {0};
    double *ends = calloc(count * (2 + LEARNED_MOST) + 1, sizeof *ends);
    double *toned = ends + count, *learned = toned + count;
    for (size_t i = 0; i < count && ends; i++) {
        const result *one = &results[i];
        if (one->failed) {
            sum.failed++;
            continue;
        }
        if (one->first_photos > 0 && one->first_best < best_most) {
            sum.first_helped++;
            sum.first_photos += one->first_photos;
        }
        sum.forecasts += (size_t)one->forecasts;
        sum.inside += (size_t)one->inside;
        for (size_t k = 0; k < one->learned_count; k++) {
            learned[sum.learned++] = one->learned[k];
        }
        if (one->best < best_most) {
            ends[sum.helped++] = one->end;
            if (one->passes > 0) {
                toned[sum.toned++] = one->end;
            }
            add_helped(one, &sum);
        } else {
            sum.others++;
            sum.others_nothing += one->passes == 0;
            sum.others_worse += one->end > one->start + worse_than;
        }
    }
    double n = fmax((double)sum.helped, 1.0);
    sum.passes /= n;
    sum.photos /= n;
    sum.first_photos /= fmax((double)sum.first_helped, 1.0);
    sum.median = quantile(ends, sum.helped, 0.5);
    sum.high = quantile(ends, sum.helped, 0.95);
    sum.toned_median = quantile(toned, sum.toned, 0.5);
    sum.toned_high = quantile(toned, sum.toned, 0.95);
    sum.learned_median = quantile(learned, sum.learned, 0.5);
    sum.learned_high = quantile(learned, sum.learned, 0.9);
    free(ends);
    return sum;
}

static double percent(size_t part, size_t of)
{
    return of ? 100.0 * (double)part / (double)of : 0.0;
}

static bool within(const tally *sum, const bound *most, double luck)
{
    double one = luck > 1.0 ? percent(1, sum->helped) : 0.0; // a single run
    return sum->median <= luck * most->median && sum->high <= luck * most->high &&
           percent(sum->overshoot, sum->helped) <= most->overshoot + one &&
           sum->passes <= luck * most->passes && sum->photos <= luck * most->photos &&
           sum->endless == 0 &&
           (sum->forecasts == 0 ||
            percent(sum->inside, sum->forecasts) >= most->inside_least / luck);
}

static void show_head(void)
{
    printf("%-27s   n  at the end   toned: at the end     over  passes photos endless in range  "
           "learned            not to be helped: nothing, worse\n",
           "row");
}

// Prints a row; false where it is worse than it has been.
static bool show_row(const row *r, const tally *sum)
{
    printf("%-27s %3zu  %.2f / %.2f  %3.0f %%: %.2f / %.2f %6.1f %%  %5.1f  %5.1f  %4zu  ", r->name,
           sum->helped, sum->median, sum->high, percent(sum->toned, sum->helped), sum->toned_median,
           sum->toned_high, percent(sum->overshoot, sum->helped), sum->passes, sum->photos,
           sum->endless);
    if (sum->forecasts) {
        printf("%5.1f %%  ", percent(sum->inside, sum->forecasts));
    } else {
        printf("      -  ");
    }
    if (sum->learned) {
        printf("%2.0f / %3.0f %% (%zu)  ", 100.0 * sum->learned_median, 100.0 * sum->learned_high,
               sum->learned);
    } else {
        printf("       -         ");
    }
    printf("%3zu: %zu, %zu", sum->others, sum->others_nothing, sum->others_worse);
    if (sum->failed) {
        printf("  %zu refused", sum->failed);
    }
    if (r->second_job) {
        printf("  photos of the first job %.1f", sum->first_photos);
    }
    if (r->way != BY_ADVICE || sum->helped == 0) {
        printf("\n");
        return true;
    }
    bool fewer = !r->second_job || sum->photos < sum->first_photos;
    printf("%s\n", within(sum, &r->aim, 1.0) && fewer ? "" : "  wanted better");
    return within(sum, &r->kept, sum->helped < 40 ? 1.7 : 1.0) &&
           10 * sum->failed <= sum->helped + sum->others;
}

static void list(const result *results, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        printf("  %5u %s%s%s\n", results[i].seed, results[i].best < best_most ? "" : "(past help) ",
               results[i].course, overshot(&results[i]) ? " OVERSHOT" : "");
    }
}

static size_t run_row(const row *r, unsigned first, unsigned runs, unsigned jobs, result *results)
{
    int ends[16];
    size_t found = 0;
    jobs = jobs < 1 ? 1 : jobs > 16 ? 16 : jobs;
    jobs = jobs > runs ? runs : jobs;
    for (unsigned j = 0; j < jobs; j++) {
        if (!start_child(r, first + j, runs - j, jobs, &ends[j])) {
            return 0;
        }
    }
    for (unsigned j = 0; j < jobs; j++) {
        found += collect(ends[j], results + found);
        wait(NULL);
    }
    qsort(results, found, sizeof *results, by_seed);
    return found;
}

static bool read_number(int count, char **arguments, int *i, const char *name, unsigned *out)
{
    if (strcmp(arguments[*i], name) != 0 || *i + 1 >= count) {
        return false;
    }
    *out = (unsigned)strtoul(arguments[++*i], NULL, 10);
    return true;
}

int main(int count, char **arguments)
{
    unsigned runs = 300, first = 1, jobs = 2;
    const char *only = "";
    bool each = false, check = false, kept = true;
    for (int i = 1; i < count; i++) {
        if (read_number(count, arguments, &i, "--runs", &runs) ||
            read_number(count, arguments, &i, "--first", &first) ||
            read_number(count, arguments, &i, "--jobs", &jobs)) {
            continue;
        }
        if (strcmp(arguments[i], "--only") == 0 && i + 1 < count) {
            only = arguments[++i];
        } else if (strcmp(arguments[i], "--list") == 0) {
            each = true;
        } else if (strcmp(arguments[i], "--check") == 0) {
            check = true;
        } else {
            fprintf(stderr, "use: loop [--runs N] [--first SEED] [--only TEXT] [--jobs N] "
                            "[--check] [--list]\n");
            return 2;
        }
    }
    result *results = calloc(runs, sizeof *results);
    show_head();
    for (size_t k = 0; k < ROW_COUNT && results; k++) {
        const row *r = &rows[k];
        if (!strstr(r->name, only) || (r->board && !HW_HAS_STEPBOARD)) {
            continue;
        }
        size_t found = run_row(r, first, runs, jobs, results);
        tally sum = sum_up(results, found);
        bool row_kept = show_row(r, &sum) && found == runs;
        if (each) {
            list(results, found);
        }
        if (check && !row_kept) {
            printf("  worse than it has been\n");
        }
        kept = kept && row_kept;
        fflush(stdout);
    }
    free(results);
    return check && !kept;
}
