// coats.c: does the look after two more clear coats lie where it was said to lie? On made-up pieces whose truth is not
// our law but spectra.
//
//   coats [--pieces N] [--first N] [--check]
//
// A piece is a brown old wood and a repair of another wood, each wavelength by wavelength (scene_spectra.c). Finish
// does two things to them that our law of three bands only follows roughly: it closes bare wood towards what a film's
// inner reflection makes of it, as far as the wood soaks and in a few coats (of each wood another tempo); and it
// absorbs, falling from blue to red, inside that reflection (Saunderson 1942). Finishes lie between water-white and dark amber;
// coats are not alike, partly for all parts they go over and partly for each. A photo errs for each colour, and for all
// of its colours together, by factors of three bands. One coat is laid and photographed before and after; then the look after
// two more is forecast.
//
//   over all      the old wood gets the coats too, so the photos are read by the card alone
//   repair only   read against the old wood, which stands as it was
//   bare          the repair's first coat is the one that was seen; the others go over it alone
//   guess         repair only, nothing was seen yet
//
// Prints of 100 how often the truth lies in each 90 % range: L*, a*, b* of the repair and the gap (CIEDE2000), how wide
// the ranges are, and the root mean square of what the middle is off by. --check: exits 1 unless those of "over all" and "repair only" hold 85 to 95 of 100.
#include "../tone/spectral_layers.h"
#include "base_internal.h"

#include <string.h>

typedef enum row_kind { OVER_ALL, REPAIR_ONLY, BARE, GUESS, ROWS } row_kind;

static const char *const row_names[ROWS] = {"over all", "repair only", "bare", "guess"};

// ---- The truth ---------------------------------------------------------------------

typedef struct part {
    hw_spectrum bare;
    double soaks, tau; // how far the inner reflection acts; coats
    int coats;
    double film; // thickness in coats
} part;

typedef struct piece {
    part patch, target;
    double strength, slope; // of the finish: absorbance (natural logarithm) of a coat at 440 nm; nm
    uint64_t chance;
} piece;

static hw_lab look(const piece *p, const part *one)
{
    static hw_spectrum light;
    hw_spectrum seen;
    double closed = one->soaks * (1.0 - exp(-one->coats / one->tau));
    if (light.at[0] == 0.0) {
        light = hw_daylight(5003.0);
    }
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        double nm = HW_SPECTRUM_FIRST_NM + HW_SPECTRUM_STEP_NM * (double)i;
        double wet = one->bare.at[i] * pow(saunderson(one->bare.at[i]) / one->bare.at[i], closed);
        double film = one->film * p->strength * exp(-(nm - 440.0) / p->slope);
        seen.at[i] = layer_reflectance(LAYER_REFLECTING, wet, film);
    }
    return layer_lab(&seen, &light);
}

static part make_part(uint64_t *chance, hw_lab colour, int coats)
{
    part one = {.bare = scene_wood(colour, scene_between(chance, 0.0, 0.08)),
                .soaks = scene_between(chance, 0.35, 0.65),
                .tau = scene_between(chance, 0.4, 1.0)};
    one.coats = coats;
    one.film = coats;
    return one;
}

static piece make_piece(unsigned seed, row_kind kind)
{
    piece p = {.chance = 977u * (uint64_t)seed + 13u};
    uint64_t *c = &p.chance;
    hw_lab old = {scene_between(c, 48.0, 76.0), scene_between(c, 6.0, 14.0),
                  scene_between(c, 18.0, 30.0)};
    hw_lab repair = {old.L + scene_between(c, -1.0, 6.0), old.a + scene_between(c, -3.0, 2.0),
                     old.b + scene_between(c, -4.0, 3.0)};
    int under = (int)scene_between(c, 1.0, 3.999);
    p.strength =
        scene_chance(c) < 0.15 ? scene_between(c, 0.0, 0.01) : 0.095 * exp(0.5 * scene_normal(c));
    p.slope = scene_between(c, 60.0, 110.0);
    p.target = make_part(c, old, kind == OVER_ALL ? under : 5);
    p.patch = make_part(c, repair, kind == BARE ? 0 : under);
    return p;
}

// One coat on both parts or on the repair.
static void lay(piece *p, bool on_target)
{
    double coat = 1.0 + 0.14 * scene_normal(&p->chance);
    part *parts[2] = {&p->patch, &p->target};
    for (int i = 0; i < 1 + on_target; i++) {
        parts[i]->film += fmax(coat + 0.14 * scene_normal(&p->chance), 0.3);
        parts[i]->coats++;
    }
}

// ---- Readings ----------------------------------------------------------------------

static const double u_gap = 0.25; // of each of L*, a*, b* of a gap, as loop_numbers.c has it

typedef struct reading {
    hw_lab patch, target;
} reading;

static hw_lab read_one(uint64_t *chance, hw_lab is, const double shared[3])
{
    double u = u_gap / sqrt(2.0);
    hw_lab seen = hw_tone_under(is, shared);
    seen.L += u * scene_normal(chance);
    seen.a += u * scene_normal(chance);
    seen.b += u * scene_normal(chance);
    return seen;
}

// What a photo's colours are off by together: light that falls on the card otherwise than on the wood, and some
// colour of it. Two photos of one place then lie 1.3 apart in the mean (Euclid), between the 0.9 and the 1.8 of our
// simulation of photos without and with a bent tone curve (job_change.c).
static reading read_photo(piece *p)
{
    double shared[3], light = 0.030 * scene_normal(&p->chance);
    for (int band = 0; band < 3; band++) {
        shared[band] = light + 0.005 * scene_normal(&p->chance);
    }
    return (reading){read_one(&p->chance, look(p, &p->patch), shared),
                     read_one(&p->chance, look(p, &p->target), shared)};
}

static hw_comparison compare(const reading *seen)
{
    hw_comparison gap = {.patch = "strip",
                         .target = HW_BESIDE,
                         .patch_lab = seen->patch,
                         .target_lab = seen->target,
                         .gap = hw_difference_of(seen->target, seen->patch),
                         .covariance =
                             hw_covariance_diagonal(u_gap * u_gap, u_gap * u_gap, u_gap * u_gap)};
    return gap;
}

// ---- What is learned ---------------------------------------------------------------

static hw_covariance in_density(hw_lab colour, const hw_covariance *lab)
{
    double jacobian[3][3];
    hw_tone_density_by_lab(colour, jacobian);
    return hw_covariance_map((const double(*)[3])jacobian, lab);
}

// As job_coats.c makes it, of the part from one photo to the next; `standing`: against the old wood.
static hw_coat_seen observe(const char *name, hw_lab before, hw_lab after, int coats,
                            const reading *standing)
{
    hw_coat_seen seen = {.job = "j",
                         .event = 3,
                         .photo_before = 1,
                         .photo_after = 4,
                         .before = coats,
                         .coats = 1,
                         .clear = true};
    memcpy(seen.part, name, strlen(name) + 1);
    hw_tone_between(before, after, seen.density);
    double own = u_gap * u_gap; // two photos, half of a gap's variance each
    if (standing) {
        double moved[3];
        hw_tone_between(standing[0].target, standing[1].target, moved);
        for (int band = 0; band < 3; band++) {
            seen.density[band] -= moved[band];
        }
        own *= 2.0;
    } else {
        hw_covariance photo = hw_coats_photo_doubt(false);
        photo = hw_covariance_times(&photo, 2.0);
        seen.shared = in_density(after, &photo);
    }
    hw_covariance both = hw_covariance_diagonal(own, own, own);
    seen.covariance = in_density(after, &both);
    return seen;
}

// ---- One piece ---------------------------------------------------------------------

typedef struct tallied {
    long held[4], count; // L*, a*, b* of the repair, gap
    double width[4], square[4];
} tallied;

static void tally_range(tallied *row, int which, double is, double said, double low, double high)
{
    row->square[which] += (is - said) * (is - said);
    row->held[which] += is >= low && is <= high;
    row->width[which] += high - low;
}

static void run_piece(unsigned seed, row_kind kind, tallied *row)
{
    piece p = make_piece(seed, kind);
    bool all = kind == OVER_ALL;
    hw_coat_seen seen[2];
    size_t count = 0;
    int patch_under = p.patch.coats, target_under = p.target.coats;
    reading photos[2] = {read_photo(&p), {{0.0, 0.0, 0.0}, {0.0, 0.0, 0.0}}};
    lay(&p, all);
    photos[1] = read_photo(&p);
    if (kind != GUESS) {
        seen[count++] =
            observe("strip", photos[0].patch, photos[1].patch, patch_under, all ? NULL : photos);
    }
    if (all) {
        seen[count++] = observe("rail", photos[0].target, photos[1].target, target_under, NULL);
    }
    hw_coat_belief belief = hw_coats_learn(seen, count);
    hw_comparison gap = compare(&photos[1]);
    hw_coats_request request = {.gap = &gap,
                                .patch = {patch_under + 1, 2},
                                .target = {target_under + all, all ? 2 : 0},
                                .belief = &belief,
                                .seen = seen,
                                .seen_count = count,
                                .photo = 4,
                                .photo_doubt = hw_coats_photo_doubt(false)};
    hw_coats_ahead ahead = hw_coats_look_ahead(&request);
    lay(&p, all);
    lay(&p, all);
    hw_lab patch = look(&p, &p.patch), target = look(&p, &p.target);
    tally_range(row, 0, patch.L, ahead.patch_lab.L, ahead.patch_low.L, ahead.patch_high.L);
    tally_range(row, 1, patch.a, ahead.patch_lab.a, ahead.patch_low.a, ahead.patch_high.a);
    tally_range(row, 2, patch.b, ahead.patch_lab.b, ahead.patch_low.b, ahead.patch_high.b);
    tally_range(row, 3, hw_ciede2000(target, patch), ahead.gap.de00, ahead.de00_low,
                ahead.de00_high);
    row->count++;
}

// ---- All of them -------------------------------------------------------------------

static void print_row(row_kind kind, const tallied *row)
{
    static const char *const what[4] = {"L*", "a*", "b*", "gap"};
    printf("%-12s", row_names[kind]);
    for (int i = 0; i < 4; i++) {
        printf("  %s %5.1f (%.1f wide, off %.2f)", what[i],
               100.0 * (double)row->held[i] / (double)row->count,
               row->width[i] / (double)row->count, sqrt(row->square[i] / (double)row->count));
    }
    printf("\n");
}

int main(int count, char **arguments)
{
    long pieces = 200, first = 1;
    bool check = false;
    for (int i = 1; i < count; i++) {
        if (strcmp(arguments[i], "--check") == 0) {
            check = true;
        } else if (strcmp(arguments[i], "--pieces") == 0 && i + 1 < count) {
            pieces = strtol(arguments[++i], NULL, 10);
        } else if (strcmp(arguments[i], "--first") == 0 && i + 1 < count) {
            first = strtol(arguments[++i], NULL, 10);
        } else {
            printf("coats [--pieces N] [--first N] [--check]\n");
            return 2;
        }
    }
    printf("of 100 truths in the 90 %% range, two more coats ahead, %ld pieces\n", pieces);
    for (row_kind kind = OVER_ALL; kind < ROWS; kind++) {
        tallied row = {.count = 0};
        for (long seed = first; seed < first + pieces; seed++) {
            run_piece((unsigned)seed, kind, &row);
        }
        print_row(kind, &row);
        for (int i = 0; check && i < 4 && kind <= REPAIR_ONLY; i++) {
            double held = 100.0 * (double)row.held[i] / (double)row.count;
            check_true(held >= 85.0 && held <= 95.0);
        }
    }
    return check ? check_done() : 0;
}
