// toning.c: what learning is worth on series of pictures of one job with known truth: before, and after each
// of three passes that are stronger or weaker than the dyes' boards say.
//
//   toning [--check] FOLDER SERIES ...
//
// Replays each series as a job: photos read, passes logged as they were meant (dye and strength, one pass
// each; not what was really laid). Densities of the dyes come from their boards, whose readings lie
// in SERIES-dyes.json. Forecasts start from the true colour before the pass, so that the dyes' error
// is seen alone. Prints forecast against truth in CIEDE2000, with what was learned and without.
// --check: exits 1 unless learning lowers the error where the shop's passes are far from the boards'.
#include "series.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct replayed {
    series series;
    hw_shelf shelf;
} replayed;

// ---- The shelf ---------------------------------------------------------------------

// Least squares through no dye: sum of n D(n) over sum of n squared, n passes. Each band is off by 5 %
// of its own, strength by a fifth (what a board of unknown sureness is doubted by).
static hw_dye dye_of(const hw_json *json)
{
    const hw_json *board = hw_json_member(hw_json_member(json, "nominal"), "sample_board_lab");
    hw_dye dye = {.exponent = 1.0, .u_exponent = 0.05, .u_strength = 0.2};
    hw_lab bare = series_lab(hw_json_member(board, "0"));
    double squares = 0.0;
    dye.has_wood = true;
    dye.wood = bare;
    dye.board_passes = 4;
    hw_copy_text(dye.name, sizeof dye.name, hw_json_member_text(json, "name"));
    if (!hw_family_from_name(dye.name, &dye.family)) {
        printf("%s is no family\n", dye.name);
    }
    for (int passes = 1; passes <= 4; passes *= 2) {
        char step[12];
        double density[3];
        snprintf(step, sizeof step, "%d", passes);
        hw_tone_between(bare, series_lab(hw_json_member(board, step)), density);
        squares += passes * passes;
        for (int band = 0; band < 3; band++) {
            dye.density[band] += passes * density[band];
        }
    }
    for (int band = 0; band < 3; band++) {
        dye.density[band] = fmax(dye.density[band] / squares, 0.0);
    }
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            dye.covariance.m[r][c] = dye.density[r] * dye.density[c] *
                                     (dye.u_strength * dye.u_strength + (r == c ? 0.0025 : 0.0));
        }
    }
    return dye;
}

// Kept as a file too, for the log; format in src/job/job_shelf.c.
static bool make_shelf(replayed *s)
{
    char path[600];
    snprintf(path, sizeof path, "%s/%s-dyes.json", s->series.folder, s->series.name);
    hw_json *json = series_read_json(path), *kept = hw_json_new_object();
    const hw_json *dyes = hw_json_member(json, "dyes");
    s->shelf.dye = hw_alloc_array(hw_json_count(dyes), sizeof *s->shelf.dye);
    hw_json_add_number(kept, "format", 1);
    hw_json *list = hw_json_add_array(kept, "dyes");
    for (const hw_json *one = hw_json_first(dyes); one && s->shelf.dye; one = hw_json_next(one)) {
        hw_dye dye = dye_of(one);
        hw_json *member = hw_json_add_object(list, NULL);
        hw_json_add_text(member, "name", dye.name);
        hw_json_add_text(member, "family", hw_family_name(dye.family));
        hw_json *density = hw_json_add_array(member, "density");
        for (int band = 0; band < 3; band++) {
            hw_json_add_number(density, NULL, dye.density[band]);
        }
        hw_json_add_number(member, "u_strength", dye.u_strength);
        s->shelf.dye[s->shelf.count++] = dye;
    }
    char *text = NULL;
    hw_error err = {0};
    bool good = s->shelf.count > 0 && hw_json_print(kept, false, &text, &err) == HW_OK &&
                hw_file_replace(s->series.shelf_path, text, strlen(text), &err) == HW_OK;
    hw_free(text);
    hw_json_free(kept);
    hw_json_free(json);
    return good;
}

// What is known after the passes logged so far; without the observations too.
static bool learn(replayed *s, hw_lab wood, hw_known *with, hw_known *without)
{
    hw_job *job = NULL;
    hw_observation *seen = NULL;
    size_t count = 0;
    hw_error err = {0};
    bool good = hw_job_open(s->series.job, NULL, &job, &err) == HW_OK &&
                hw_job_observe(job, 0, &seen, &count, NULL, &err) == HW_OK;
    hw_shelf bare = s->shelf;
    bare.seen = NULL;
    bare.seen_count = 0;
    hw_shelf shown = {.seen = seen, .seen_count = count};
    good = good && hw_tone_learn(&bare, hw_job_id(job), wood, without, &err) == HW_OK &&
           hw_shelf_take_seen(&s->shelf, &shown, NULL, &err) == HW_OK &&
           hw_tone_learn(&s->shelf, hw_job_id(job), wood, with, &err) == HW_OK;
    if (!good) {
        printf("%s: %s: %s\n", s->series.name, err.code, err.what);
    }
    for (size_t i = 0; i < count; i++) {
        if (seen[i].questioned) {
            printf("    asked about: %s\n", seen[i].question);
        }
    }
    hw_free_observations(seen);
    hw_job_free(job);
    return good;
}

// ---- Forecasts ---------------------------------------------------------------------

// From the true colour after pass `from` through passes from + 1 .. to.
static hw_lab forecast(const replayed *s, const hw_known *known, int from, int to)
{
    double total[3] = {0.0, 0.0, 0.0};
    for (int pass = from + 1; pass <= to; pass++) {
        hw_liquid liquid = series_layer(&s->series, pass).liquid;
        hw_laid laid = {.amount = liquid.dose[0].strength};
        hw_copy_text(laid.dye, sizeof laid.dye, liquid.dose[0].dye);
        laid.squares = laid.amount * laid.amount;
        for (int below = 1; below < pass; below++) {
            hw_liquid other = series_layer(&s->series, below).liquid;
            laid.before += strcmp(other.dose[0].dye, laid.dye) == 0 ? other.dose[0].strength : 0.0;
        }
        double density[3];
        hw_covariance covariance;
        hw_tone_expect(known, &laid, 1, density, &covariance);
        for (int band = 0; band < 3; band++) {
            total[band] += density[band];
        }
    }
    return hw_tone_under(series_true_patch(&s->series, from), total);
}

typedef struct totals {
    double with, without;
    int count, too_dark; // forecasts that the patch came out over 1 L* darker than
} totals;

static void show_forecast(const replayed *s, const hw_known *with, const hw_known *without,
                          int from, int to, totals *sum)
{
    hw_lab truth = series_true_patch(&s->series, to), one = forecast(s, with, from, to),
           other = forecast(s, without, from, to);
    double learned = hw_ciede2000(truth, one), board = hw_ciede2000(truth, other);
    printf(
        "  after pass %d, of pass %d: true %5.2f %5.2f %5.2f   boards alone %5.2f %5.2f %5.2f off "
        "by %4.2f   learned %5.2f %5.2f %5.2f off by %4.2f\n",
        from, to, truth.L, truth.a, truth.b, other.L, other.a, other.b, board, one.L, one.a, one.b,
        learned);
    sum->with += learned;
    sum->without += board;
    sum->count++;
    sum->too_dark += truth.L < one.L - 1.0;
}

// Density along that of the board, over it: how many of the board's passes it is like.
static double in_board_passes(const hw_dye *dye, const double density[3])
{
    double along = 0.0, square = 0.0;
    for (int band = 0; dye && band < 3; band++) {
        along += dye->density[band] * density[band];
        square += dye->density[band] * dye->density[band];
    }
    return along / square;
}

// What was laid, what it did by the true colours, and what the photos say it did.
static void show_seen(const replayed *s)
{
    for (int pass = 1; pass <= SERIES_PASSES && (size_t)pass <= s->shelf.seen_count; pass++) {
        const hw_observation *seen = &s->shelf.seen[pass - 1];
        const hw_dye *dye = hw_shelf_find(&s->shelf, seen->laid[0].dye);
        double really = NAN, density[3];
        hw_json_member_number(series_true_pass(&s->series, pass), "laid_in_nominal_passes",
                              &really);
        hw_tone_between(series_true_patch(&s->series, pass - 1),
                        series_true_patch(&s->series, pass), density);
        printf("  pass %d, %s: meant %.2f, laid %.2f, did %.2f, seen %.2f of a board's pass%s\n",
               pass, seen->laid[0].dye, seen->laid[0].amount, really, in_board_passes(dye, density),
               in_board_passes(dye, seen->density), seen->questioned ? ", asked about" : "");
    }
}

static bool add_photo(const series *s, int photo)
{
    hw_photo_result result = {0};
    bool good = series_add_photo(s, photo, &result);
    hw_photo_result_free(&result);
    return good;
}

static bool replay(replayed *s, totals *sum)
{
    const series *of = &s->series;
    bool good = make_shelf(s) && series_start(of);
    printf("%s: the shop's passes are %.2f of the boards'\n", of->name, of->shop);
    good = good && add_photo(of, 0);
    for (int pass = 1; good && pass <= SERIES_PASSES; pass++) {
        hw_known with = {0}, without = {0};
        good = series_log_pass(of, pass) && add_photo(of, pass) &&
               learn(s, series_true_patch(of, pass), &with, &without);
        for (int to = pass + 1; good && to <= SERIES_PASSES; to++) {
            show_forecast(s, &with, &without, pass, to, sum);
        }
        hw_known_free(&with);
        hw_known_free(&without);
    }
    show_seen(s);
    return good && s->shelf.seen_count > 0;
}

static bool run(const char *folder, const char *name, totals *sum, double *shop)
{
    replayed s = {.shelf = {0}};
    bool good = series_open(folder, name, &s.series) && replay(&s, sum);
    *shop = s.series.shop;
    hw_shelf_free(&s.shelf);
    return series_close(&s.series) && good;
}

int main(int count, char **arguments)
{
    bool check = count > 1 && strcmp(arguments[1], "--check") == 0, good = true;
    totals far = {0};
    int first = check ? 2 : 1;
    if (count < first + 2) {
        printf("usage: toning [--check] FOLDER SERIES ...\n");
        return 2;
    }
    for (int i = first + 1; i < count; i++) {
        totals sum = {0};
        double shop = 1.0;
        good = run(arguments[first], arguments[i], &sum, &shop) && good;
        printf("  mean error: boards alone %.2f, learned %.2f; darker than forecast by over 1 L*: "
               "%d of %d\n",
               sum.without / sum.count, sum.with / sum.count, sum.too_dark, sum.count);
        if (fabs(log(shop)) > 0.3) {
            far.with += sum.with;
            far.without += sum.without;
            far.count += sum.count;
        } else { // a shop that is as its boards say: learning costs next to nothing
            good = good && sum.with < sum.without + 0.3 * sum.count;
        }
    }
    if (far.count) {
        printf("shops far from their boards: boards alone %.2f, learned %.2f\n",
               far.without / far.count, far.with / far.count);
        good = good && far.with < 0.6 * far.without;
    }
    printf("%s\n", good ? "good" : "a series could not be replayed, or learning did not help");
    return check && !good ? 1 : 0;
}
