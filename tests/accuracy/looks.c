// looks.c: does a repair come out as it was foreseen? On series of pictures of one job with known truth: before, and
// after each of three passes, in shops whose passes are as strong as the dyes' boards say, nearly twice, and half as strong.
//
//   looks [--check | --few] FOLDER SERIES ...
//
// --few: the boards' readings after 0, 1 and 2 passes alone, not after 4.
//
// Each series is replayed as a job (series.h): a photo read by its card and marks; the dyes on a shelf by their boards'
// readings; the pass that was then laid foreseen as the finisher counts it, one whole pass of a dye at its dilution, and
// laid on the corrected picture. Then that pass is logged and the next photo read, which teaches what the pass did; so the
// first step of a series rests on the boards alone, the later ones on the passes before too.
//
// How strongly a pass came out is told along the foreseen density m: share = m' d / m' m, 1 as foreseen. It is within the
// range where it lies between the weak and the strong end, with the photos' own doubt of it (by the old wood in both
// photos) in root of squares; of the true colours without any. What is off across that line is the colour of the pass.
// Where a 90 % range holds, fewer than 6 of 9 lie within it once in 120 times (binomial distribution): --check asks for
// that many of the shares and of the gaps. A pass that does less than half of what its board says leaves the photo nearer
// to the look before it than to the one foreseen: how often it was so is told, not asked for.
#include "series.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

// Of a reading as a finisher types it off an instrument: as src/steps/steps_shelf.c takes it.
static const double u_typed = 0.3;

// ---- The shelf ---------------------------------------------------------------------

// By its board's readings after 0, 1, 2 and (of 4 strips) 4 passes.
static bool put_dye(const series *s, const hw_json *json, size_t strips)
{
    static const char *const steps[] = {"0", "1", "2", "4"};
    const hw_json *readings = hw_json_member(hw_json_member(json, "nominal"), "sample_board_lab");
    const char *name = hw_json_member_text(json, "name");
    const double variance = u_typed * u_typed;
    hw_strip strip[4] = {{.passes = 0}};
    hw_board board = {.count = 0};
    hw_family family = HW_FAMILY_AMBER;
    hw_error err = {0};
    for (size_t i = 0; i < strips; i++) {
        strip[i].passes = i == 3 ? 4.0 : (double)i;
        strip[i].lab = series_lab(hw_json_member(readings, steps[i]));
        strip[i].covariance = hw_covariance_diagonal(variance, variance, variance);
    }
    bool good = hw_family_from_name(name, &family) &&
                hw_board_fit(name, strip, strips, &board, &err) == HW_OK;
    if (good) {
        hw_dye dye = hw_board_dye(&board);
        dye.family = family;
        good = hw_shelf_put_dye(s->shelf_path, NULL, &dye, &err) == HW_OK;
    }
    if (!good) {
        printf("%s, %s: %s\n", s->name, name, err.what);
    }
    hw_board_free(&board);
    return good;
}

static bool make_shelf(const series *s, size_t strips)
{
    char path[700];
    snprintf(path, sizeof path, "%s/%s-dyes.json", s->folder, s->name);
    hw_json *json = series_read_json(path);
    const hw_json *dyes = hw_json_member(json, "dyes");
    bool good = hw_json_count(dyes) > 0;
    for (const hw_json *one = hw_json_first(dyes); one && good; one = hw_json_next(one)) {
        good = put_dye(s, one, strips);
    }
    hw_json_free(json);
    return good;
}

// ---- Foreseen ----------------------------------------------------------------------

// What the photo before a pass said of it.
typedef struct look {
    hw_lab before;              // as read
    hw_lab shown_before, shown; // mean of the repair in the picture, and with the pass laid on it
    hw_foreseen foreseen;
    size_t seen; // passes learned from
} look;

// The repair's mean in the corrected picture before the pass, and with it laid on.
static bool lay_on_picture(const series *s, int pass, const hw_reading *reading,
                           const double density[3], look *out)
{
    char path[700];
    hw_photo *photo = NULL;
    hw_picture picture = {0};
    hw_error err = {0};
    hw_xyz before, after;
    const hw_mark *mark = hw_marks_find(&reading->marks, HW_ROLE_PATCH, series_patch_name(s));
    hw_frame frame = hw_frame_around(mark, 0.1, reading->photo.width_px, reading->photo.height_px);
    series_picture(s, pass - 1, path, sizeof path);
    bool good = hw_photo_load(path, NULL, &photo, &err) == HW_OK &&
                hw_picture_make(photo, &reading->light, &frame, 0, NULL, &picture, &err) == HW_OK &&
                hw_picture_mean(&picture, mark, &before) > 0;
    if (good) {
        hw_picture_lay(&picture, mark, density);
        hw_picture_mean(&picture, mark, &after);
        out->shown_before = hw_lab_from_xyz(before, hw_white_d50);
        out->shown = hw_lab_from_xyz(after, hw_white_d50);
    } else {
        printf("%s: %s\n", path, err.what);
    }
    hw_picture_free(&picture);
    hw_photo_free(photo);
    return good;
}

static bool foresee(const series *s, int pass, const hw_reading *reading, look *out)
{
    const hw_comparison *gap = hw_comparison_beside(&reading->comparisons, series_patch_name(s));
    hw_layer so_far[SERIES_PASSES], next = series_layer(s, pass);
    hw_foreseen steps[2];
    hw_job *job = NULL;
    hw_shelf shelf = {0};
    hw_known known = {0};
    hw_error err = {0};
    size_t count = 0;
    for (int below = 1; below < pass; below++) {
        so_far[below - 1] = series_layer(s, below);
    }
    bool good = gap && hw_job_open(s->job, NULL, &job, &err) == HW_OK &&
                hw_shelf_load(s->shelf_path, NULL, &shelf, &err) == HW_OK &&
                hw_tone_learn(&shelf, hw_job_id(job), gap->patch_lab, &known, &err) == HW_OK;
    hw_tone_request request = {.gap = gap,
                               .known = &known,
                               .so_far = so_far,
                               .so_far_count = (size_t)pass - 1,
                               .surface = HW_SURFACE_SEALED};
    good = good && hw_tone_foresee(&request, &next, 1, steps, 2, &count, &err) == HW_OK;
    if (good) {
        *out = (look){.before = gap->patch_lab, .foreseen = steps[1]};
        good = lay_on_picture(s, pass, reading, steps[1].density, out);
        for (size_t i = 0; i < shelf.seen_count; i++) {
            out->seen += !shelf.seen[i].questioned;
        }
    } else {
        printf("%s pass %d: %s: %s\n", s->name, pass, err.code, err.what);
    }
    hw_known_free(&known);
    hw_shelf_free(&shelf);
    hw_job_free(job);
    return good;
}

// ---- Come out ----------------------------------------------------------------------

typedef struct totals {
    int steps, within, true_within, within_gap, nearer;
    double off, off_truth, across;
} totals;

static double dot(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

// Of the foreseen density, and its s.d.
static double share_of(const hw_foreseen *foreseen, const double density[3],
                       const hw_covariance *covariance, double *u)
{
    const double *m = foreseen->density;
    double size = dot(m, m), variance = 0.0;
    for (int r = 0; r < 3 && covariance; r++) {
        variance += m[r] * dot(covariance->m[r], m);
    }
    *u = sqrt(fmax(variance, 0.0)) / size;
    return dot(m, density) / size;
}

static bool lies_within(const hw_foreseen *foreseen, double share, double u)
{
    double low =
               dot(foreseen->least, foreseen->density) / dot(foreseen->density, foreseen->density),
           high =
               dot(foreseen->most, foreseen->density) / dot(foreseen->density, foreseen->density);
    return share >= 1.0 - hypot(1.0 - low, HW_NINETY * u) &&
           share <= 1.0 + hypot(high - 1.0, HW_NINETY * u);
}

// What the photos say the pass did, the session taken out by the old wood, and with what covariance of density.
static bool came_out(const series *s, long before, long after, hw_patch_change *change,
                     double density[3], hw_covariance *covariance)
{
    hw_job *job = NULL;
    hw_error err = {0};
    double jacobian[3][3];
    bool good = hw_job_open(s->job, NULL, &job, &err) == HW_OK;
    if (good) {
        *change = hw_job_patch_change(job, before, after, series_patch_name(s));
        good = change->status == HW_CHANGE_COMPARABLE || change->status == HW_CHANGE_WIDENED;
    }
    if (good) {
        const double sides = 2.0 * HW_NINETY;
        double u[3] = {(change->high.L - change->low.L) / sides,
                       (change->high.a - change->low.a) / sides,
                       (change->high.b - change->low.b) / sides};
        hw_covariance lab = hw_covariance_diagonal(u[0] * u[0], u[1] * u[1], u[2] * u[2]);
        hw_tone_between(change->before, change->after, density);
        hw_tone_density_by_lab(change->after, jacobian);
        *covariance = hw_covariance_map((const double(*)[3])jacobian, &lab);
    } else {
        printf("%s: %s\n", s->name, change->reason[0] ? change->reason : err.what);
    }
    hw_job_free(job);
    return good;
}

static void show(const series *s, int pass, const look *then, const hw_patch_change *change,
                 const double density[3], const hw_covariance *covariance, double gap_after,
                 totals *sum)
{
    const hw_foreseen *foreseen = &then->foreseen;
    hw_lab was = series_true_patch(s, pass - 1), truth = series_true_patch(s, pass);
    hw_layer layer = series_layer(s, pass);
    double true_density[3], u, none, true_share, share;
    hw_tone_between(was, truth, true_density);
    share = share_of(foreseen, density, covariance, &u);
    true_share = share_of(foreseen, true_density, NULL, &none);
    bool within = lies_within(foreseen, share, u), truly = lies_within(foreseen, true_share, 0.0);
    bool gap_within =
        gap_after >= foreseen->after.de00_low && gap_after <= foreseen->after.de00_high;
    double as_strong[3] = {share * foreseen->density[0], share * foreseen->density[1],
                           share * foreseen->density[2]};
    double off = hw_ciede2000(change->after, then->shown),
           moved = hw_ciede2000(change->after, then->before),
           across = hw_ciede2000(change->after, hw_tone_under(then->before, as_strong)),
           off_truth = hw_ciede2000(truth, hw_tone_under(was, foreseen->density));
    printf("  pass %d, %s at %.2f, %zu pass%s learned from\n", pass, layer.liquid.dose[0].dye,
           layer.liquid.dose[0].strength, then->seen, then->seen == 1 ? "" : "es");
    printf("    foreseen %5.2f %5.2f %5.2f   photo %5.2f %5.2f %5.2f   off by %.2f, %.2f of it "
           "across; the look before it by %.2f (its picture's mean is off its reading by %.2f)\n",
           then->shown.L, then->shown.a, then->shown.b, change->after.L, change->after.a,
           change->after.b, off, across, moved, hw_ciede2000(then->before, then->shown_before));
    printf("    laid on the true colour before it: off the true colour after it by %.2f; single "
           "colours of the photo were off by %.2f before it\n",
           off_truth, hw_ciede2000(was, then->before));
    printf("    it did %.2f +- %.2f of what was foreseen by the photos, %.2f truly; range %.2f to "
           "%.2f: %s, truly %s\n",
           share, HW_NINETY * u, true_share, foreseen->least[1] / foreseen->density[1],
           foreseen->most[1] / foreseen->density[1], within ? "within" : "OUTSIDE",
           truly ? "within" : "OUTSIDE");
    printf("    gap to the old wood foreseen %.2f (%.2f to %.2f), read %.2f: %s\n",
           foreseen->after.de00, foreseen->after.de00_low, foreseen->after.de00_high, gap_after,
           gap_within ? "within" : "OUTSIDE");
    sum->steps++;
    sum->within += within;
    sum->true_within += truly;
    sum->within_gap += gap_within;
    sum->nearer += off < moved;
    sum->off += off;
    sum->off_truth += off_truth;
    sum->across += across;
}

static bool replay(const series *s, size_t strips, totals *first, totals *later)
{
    hw_photo_result before = {.number = 0};
    bool good = make_shelf(s, strips) && series_start(s) && series_add_photo(s, 0, &before);
    printf("%s: the shop's passes are %.2f of the boards'\n", s->name, s->shop);
    for (int pass = 1; pass <= SERIES_PASSES && good; pass++) {
        look then;
        hw_photo_result after = {.number = 0};
        hw_patch_change change = {.reason = ""};
        hw_covariance covariance;
        double density[3];
        good = foresee(s, pass, &before.reading, &then) && series_log_pass(s, pass) &&
               series_add_photo(s, pass, &after) &&
               came_out(s, before.number, after.number, &change, density, &covariance);
        if (good) {
            const hw_comparison *gap =
                hw_comparison_beside(&after.reading.comparisons, series_patch_name(s));
            show(s, pass, &then, &change, density, &covariance, gap->gap.de00,
                 pass == 1 ? first : later);
        }
        hw_photo_result_free(&before);
        before = after;
    }
    hw_photo_result_free(&before);
    return good;
}

// ---- All ---------------------------------------------------------------------------

static void show_totals(const char *name, const totals *sum)
{
    printf(
        "%s: within the range by the photos %d, truly %d, by the gap %d of %d; nearer to the "
        "photo than the look before %d; off the photo by %.2f in the mean (%.2f across), off the "
        "truth by %.2f\n",
        name, sum->within, sum->true_within, sum->within_gap, sum->steps, sum->nearer,
        sum->off / sum->steps, sum->across / sum->steps, sum->off_truth / sum->steps);
}

int main(int count, char **arguments)
{
    bool check = count > 1 && strcmp(arguments[1], "--check") == 0, good = true;
    bool few = count > 1 && strcmp(arguments[1], "--few") == 0;
    totals first = {0}, later = {0};
    int at = check || few ? 2 : 1;
    if (count < at + 2) {
        printf("usage: looks [--check | --few] FOLDER SERIES ...\n");
        return 2;
    }
    for (int i = at + 1; i < count; i++) {
        series s;
        good = series_open(arguments[at], arguments[i], &s) &&
               replay(&s, few ? 3 : 4, &first, &later) && good;
        good = series_close(&s) && good;
    }
    if (!good) {
        printf("a series could not be replayed\n");
        return 1;
    }
    show_totals("first steps, boards alone", &first);
    show_totals("later steps, passes learned from", &later);
    int least = (first.steps + later.steps) * 6 / 9;
    bool holds =
        first.within + later.within >= least && first.within_gap + later.within_gap >= least;
    printf("%s\n", holds ? "good" : "fewer lie within their range than one would have");
    return check && !holds ? 1 : 0;
}
