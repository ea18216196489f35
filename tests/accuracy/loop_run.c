// loop_run.c: one run by rendered photos: the steps that a person takes, on real job folders.
#include "loop_run.h"

#include <dirent.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const int64_t start_time = 1750000000, hour = 3600, week = 7 * 24 * 3600;

// ---- One run -----------------------------------------------------------------------

bool loop_overshot(int passes, double depth, double gap, double passed_best)
{
    const double too_dark = 1.0, beyond = 0.5; // L*, CIEDE2000
    return passes > 0 && (depth < -too_dark || gap > passed_best + beyond);
}

void loop_say(loop_result *out, const char *format, ...)
{
    size_t used = strlen(out->course);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(out->course + used, sizeof out->course - used, format, arguments);
    va_end(arguments);
}

void loop_fail(loop_result *out, const hw_error *err)
{
    out->failed = true;
    loop_say(out, " FAILED %.60s: %.200s", err->subject, err->what);
}

// Notes where the strip is now.
static void look(const world *w, loop_result *out)
{
    hw_difference gap = world_gap(w);
    out->end = gap.de00;
    out->end_depth = gap.L;
    out->passed_best = fmin(out->passed_best, gap.de00);
}

static void begin(world *w, unsigned seed, loop_result *out)
{
    exact_layer layer[2];
    size_t count = 0;
    hw_difference gap = world_gap(w);
    *out = (loop_result){.seed = seed, .start = gap.de00, .start_depth = gap.L};
    out->passed_best = gap.de00;
    out->best = world_best(w, layer, &count);
    look(w, out);
    loop_say(out, "%.2f (%+.1f L*), best %.2f with", out->start, out->start_depth, out->best);
    for (size_t i = 0; i < count; i++) {
        loop_say(out, "%s %d x %s %g", i ? "," : "", layer[i].passes,
                 hw_family_name(layer[i].family), layer[i].strength);
    }
    loop_say(out, "%s:", count ? "" : " nothing");
}

static void lay(world *w, const hw_layer *layer, loop_result *out)
{
    loop_say(out, " %d x", layer->passes);
    for (size_t i = 0; i < layer->liquid.count; i++) {
        loop_say(out, "%s %s %g", i ? " +" : "", layer->liquid.dose[i].dye,
                 layer->liquid.dose[i].strength);
    }
    for (int pass = 0; pass < layer->passes; pass++) {
        world_pass(w, &layer->liquid);
        look(w, out);
        out->passes++;
    }
    loop_say(out, " -> %.2f (%+.1f);", out->end, out->end_depth);
}

// ---- A job of the program under test -----------------------------------------------

static bool take_photo(world *w, loop_job *j, double light, hw_photo_result *shown, hw_error *err)
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
static bool photograph(world *w, loop_job *j, hw_photo_result *shown, loop_result *out)
{
    double light = 1.0;
    hw_error err = {0};
    for (int attempt = 0; attempt < 3; attempt++, light *= 0.8) {
        out->photos++;
        err = (hw_error){0};
        if (take_photo(w, j, light, shown, &err)) {
            return true;
        }
        loop_say(out, " (refused: %.40s)", err.code);
    }
    loop_fail(out, &err);
    return false;
}

static bool log_pass(loop_job *j, const hw_layer *layer, loop_result *out)
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
        loop_fail(out, &err);
    }
    return good;
}

static void note_forecast(const hw_after *after, loop_result *out)
{
    out->forecasts++;
    out->inside += out->end >= after->de00_low - 1e-9 && out->end <= after->de00_high + 1e-9;
}

static void note_moved(const hw_layer *layer, double by, loop_job *j)
{
    for (size_t i = 0; i < layer->liquid.count; i++) {
        hw_family family;
        if (hw_family_from_name(layer->liquid.dose[i].dye, &family)) {
            j->moved[family] += by;
            j->laid[family] += layer->passes * layer->liquid.dose[i].strength;
        }
    }
}

bool loop_lay_next(world *w, loop_job *j, const hw_advice *advice, loop_result *out)
{
    if (!advice->has_next) {
        loop_say(out, " stop: %.150s", advice->why);
        return false;
    }
    if (out->photos >= LOOP_PHOTOS_MOST) {
        out->endless = true;
        loop_say(out, " no end");
        return false;
    }
    hw_lab before = world_strip(w);
    lay(w, &advice->next, out);
    note_forecast(&advice->after_next, out);
    note_moved(&advice->next, hw_ciede2000(before, world_strip(w)), j);
    return true;
}

// One turn: what is advised on the latest photo is laid and logged. False: nothing more to lay.
static bool turn(world *w, loop_job *j, loop_result *out)
{
    hw_advise_request request = {.folder = j->folder, .patch = "strip"};
    hw_day advised = {0};
    hw_error err = {0};
    if (hw_steps_advise(&request, NULL, j->now, &advised, &err) != HW_OK) {
        loop_fail(out, &err);
        return false;
    }
    const hw_advice *advice = &advised.advice[0];
    bool more = loop_lay_next(w, j, advice, out) && log_pass(j, &advice->next, out);
    hw_day_free(&advised);
    return more;
}

static const double moved_least = 3.0; // CIEDE2000: then a dye's strength should be known

void loop_compare_known(const world *w, const loop_job *j, const hw_known *known, loop_result *out)
{
    for (int family = 0; family < HW_FAMILY_COUNT; family++) {
        const hw_known_dye *dye = hw_known_find(known, hw_family_name((hw_family)family));
        if (dye && j->moved[family] >= moved_least) {
            // Of as much as was laid here: (amount)^g for amount (tone.h).
            double is[3], laid = j->laid[family], bent = pow(laid, dye->exponent - 1.0);
            world_density(w, (hw_family)family, laid, is);
            double ratio = bent * (dye->density[0] + dye->density[1] + dye->density[2]) /
                           (is[0] + is[1] + is[2]);
            out->learned[out->learned_count++] = fabs(ratio - 1.0);
            loop_say(out, " (%s known as %.2f)", dye->name, ratio);
        }
    }
}

static void compare_learned(const world *w, const loop_job *j, loop_result *out)
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
            loop_compare_known(w, j, &known, out);
        }
    }
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

static void run_job(world *w, loop_job *j, loop_result *out)
{
    hw_error err = {0};
    if (hw_steps_start(j->folder, "loop", j->now, &err) != HW_OK) {
        loop_fail(out, &err);
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

static bool read_board(const world *w, unsigned attempt, const char *path, hw_error *err)
{
    const char *dye[HW_FAMILY_COUNT];
    hw_stepboard_request request = {
        .read = {.photo_path = path}, .dye = dye, .dye_count = HW_FAMILY_COUNT};
    hw_taught learned = {0};
    for (int family = 0; family < HW_FAMILY_COUNT; family++) {
        dye[family] = hw_family_name((hw_family)family);
    }
    bool good = world_step_board(w, attempt, path, &request.read.marks) &&
                hw_steps_stepboard(&request, NULL, start_time - week, &learned, err) == HW_OK;
    hw_taught_free(&learned);
    hw_marks_free(&request.read.marks);
    return good;
}

// A board that is refused is made again, on plainer wood, then with fewer passes.
static bool learn_board(const world *w, const char *path, loop_result *out)
{
    hw_error err = {0};
    for (unsigned attempt = 0; attempt < 4; attempt++) {
        err = (hw_error){0};
        if (read_board(w, attempt, path, &err)) {
            return true;
        }
        out->boards_refused++;
        loop_say(out, " (board refused, %.30s: %.40s)", err.subject, err.code);
    }
    loop_fail(out, &err);
    return false;
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
static void lay_blind(world *w, const hw_comparison *gap, loop_result *out)
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

static void lay_naively(world *w, const hw_comparison *gap, loop_result *out)
{
    if (gap && gap->verdict != HW_VERDICT_LEAVE) {
        lay_blind(w, gap, out);
        out->photos++;
    }
}

static void run_naive(world *w, loop_job *j, loop_result *out)
{
    hw_error err = {0};
    hw_photo_result shown = {0};
    if (j->shelf) {
        hw_comparison gap = loop_read_numbers(w);
        out->photos++;
        lay_naively(w, &gap, out);
    } else if (hw_steps_start(j->folder, "naive", j->now, &err) != HW_OK) {
        loop_fail(out, &err);
    } else if (photograph(w, j, &shown, out)) {
        lay_naively(w, hw_comparison_beside(&shown.reading.comparisons, "strip"), out);
    }
    hw_photo_result_free(&shown);
}

static void run_all_knowing(const world *w, loop_result *out)
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

static loop_job new_job(const char *folder, hw_shelf *shelf, int number)
{
    loop_job j = {.now = start_time + number * week, .shelf = shelf};
    snprintf(j.folder, sizeof j.folder, "%s/job-%d", folder, number);
    snprintf(j.photo, sizeof j.photo, "%s/photo.jpg", folder);
    snprintf(j.name, sizeof j.name, "%d", number);
    return j;
}

static void by_advice(const loop_kind *kind, world *w, loop_job *j, int number, loop_result *out)
{
    bool learn = kind->board && number == 0;
    if (kind->numbers) {
        if (!learn || loop_board_numbers(w, j->shelf)) {
            loop_run_numbers(w, j, out);
        }
    } else if (!learn || learn_board(w, j->photo, out)) {
        run_job(w, j, out);
    }
}

// `shelf`: NULL by photos.
static bool one_job(const loop_kind *kind, const char *folder, hw_shelf *shelf, unsigned seed,
                    int number, loop_result *out)
{
    static world w;
    loop_job j = new_job(folder, shelf, number);
    bool good = world_make(&w, kind->condition, kind->depth, seed, number,
                           !kind->numbers && kind->way != LOOP_ALL_KNOWING);
    if (good) {
        begin(&w, seed, out);
        if (kind->way == LOOP_NAIVE) {
            run_naive(&w, &j, out);
        } else if (kind->way == LOOP_ALL_KNOWING) {
            run_all_knowing(&w, out);
        } else {
            by_advice(kind, &w, &j, number, out);
        }
    }
    world_free(&w);
    return good;
}

static bool one_or_two_jobs(const loop_kind *kind, const char *folder, hw_shelf *shelf,
                            unsigned seed, loop_result *out)
{
    bool good = one_job(kind, folder, shelf, seed, 0, out);
    if (good && kind->second_job) {
        loop_result first = *out;
        good = one_job(kind, folder, shelf, seed, 1, out);
        out->first_photos = first.photos;
        out->first_best = first.best;
        out->failed = out->failed || first.failed;
    }
    return good;
}

bool loop_run(const loop_kind *kind, unsigned seed, loop_result *out)
{
    char folder[120] = "";
    hw_shelf shelf = {0};
    bool good;
    if (kind->numbers) {
        good = hw_shelf_guesses(&shelf, NULL) == HW_OK &&
               one_or_two_jobs(kind, folder, &shelf, seed, out);
        hw_shelf_free(&shelf);
        return good;
    }
    if (!make_folder(folder, sizeof folder)) {
        perror(folder);
        return false;
    }
    good = one_or_two_jobs(kind, folder, NULL, seed, out);
    remove_folder(folder);
    return good;
}
