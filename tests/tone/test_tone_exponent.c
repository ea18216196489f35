// What three passes teach of a dye that the first alone does not: an exponent. Film, film with internal
// reflection (Saunderson 1942) and dye in the wood (Kubelka and Munk 1931), wavelength by wavelength,
// given to the learning as observations of passes 1, 2 and 3; passes 4 and 6 are forecast. And how far
// what was learned on one wood goes wrong on another, which the learning allows for.
//
// Found apart from this program, in Python, for dye in the wood and exact readings: the error at pass 4
// falls from 1.43 to 0.45 CIEDE2000; with readings off by 0.4, at pass 3 from 1.51 to 0.84 and for film
// from 1.28 to 0.74.
#include "picture.h"
#include "spectral_layers.h"
#include "tone_internal.h"

#define SEEN 3
#define DYES HW_FAMILY_COUNT

static const double one_pass = 2.5; // CIEDE2000
static const double forecast_at[2] = {4.0, 6.0};

typedef struct errors {
    tally by_one[2], learned[2], exponent, true_exponent;
} errors;

static hw_lab noisy(hw_lab lab, double noise, uint64_t *state)
{
    lab.L += noise * picture_normal(state);
    lab.a += noise * picture_normal(state);
    lab.b += noise * picture_normal(state);
    return lab;
}

// Between photos `before` and `after` of one job, whose readings are off by `u` in each of L*, a*, b*.
static hw_observation observed(long pass, hw_lab before, hw_lab after, double u)
{
    hw_observation seen = {
        .job = "here",
        .event = 3 * pass,
        .patch = "new",
        .photo_before = 3 * pass - 2,
        .photo_after = 3 * pass + 1,
        .wood = before,
        .laid = {{.dye = "dye", .before = (double)pass - 1.0, .amount = 1.0, .squares = 1.0}},
        .laid_count = 1};
    double j[3][3];
    hw_covariance lab = hw_covariance_diagonal(u * u, u * u, u * u), one, other;
    hw_tone_between(before, after, seen.density);
    hw_tone_density_by_lab(before, j);
    one = hw_covariance_map((const double(*)[3])j, &lab);
    hw_tone_density_by_lab(after, j);
    other = hw_covariance_map((const double(*)[3])j, &lab);
    seen.covariance = hw_covariance_sum(&one, &other);
    return seen;
}

// A dye of which next to nothing is known: what was seen times a random strength, each band off by half.
static hw_dye hardly_known(const double seen[3], uint64_t *state)
{
    hw_dye dye = hw_dye_guess(HW_FAMILY_BROWN);
    double factor = exp(0.3 * picture_normal(state));
    snprintf(dye.name, sizeof dye.name, "dye");
    for (int band = 0; band < 3; band++) {
        dye.density[band] = factor * fmax(seen[band], 1e-3);
    }
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            dye.covariance.m[r][c] = 0.25 * dye.density[r] * dye.density[c] * (r == c ? 2.0 : 1.0);
        }
    }
    return dye;
}

static hw_lab laid(const hw_known *known, hw_lab wood, double passes)
{
    hw_layer layer = {.liquid = {.dose = {{.dye = "dye", .strength = 1.0}}, .count = 1},
                      .passes = (int)passes};
    hw_lab out = {0};
    check_true(hw_tone_predict(known, wood, &layer, 1, &out, NULL) == HW_OK);
    return out;
}

// The one that carries pass 1 to pass 4 exactly, in the length of the density.
static double true_exponent(layer_kind kind, const hw_spectrum *wood, const hw_spectrum *dye,
                            double amount)
{
    double one[3], four[3];
    hw_lab bare = layer_on(kind, wood, dye, 0.0);
    hw_tone_between(bare, layer_on(kind, wood, dye, amount), one);
    hw_tone_between(bare, layer_on(kind, wood, dye, 4.0 * amount), four);
    return log(hypot(hypot(four[0], four[1]), four[2]) / hypot(hypot(one[0], one[1]), one[2])) /
           log(4.0);
}

static void learn_one(layer_kind kind, const hw_spectrum *wood, const hw_spectrum *dye,
                      double noise, uint64_t *state, errors *e)
{
    double amount = layer_amount(kind, wood, dye, one_pass);
    hw_lab bare = layer_on(kind, wood, dye, 0.0), photo[SEEN + 1];
    hw_observation seen[SEEN];
    for (int n = 0; n <= SEEN; n++) {
        photo[n] = noisy(layer_on(kind, wood, dye, n * amount), noise, state);
        if (n > 0) {
            seen[n - 1] = observed(n, photo[n - 1], photo[n], fmax(noise, 0.05));
        }
    }
    hw_dye prior = hardly_known(seen[0].density, state);
    hw_shelf shelf = {.dye = &prior, .count = 1, .seen = seen, .seen_count = SEEN};
    hw_known known = {0};
    if (!check_true(hw_tone_learn(&shelf, "here", bare, &known, NULL) == HW_OK)) {
        return;
    }
    tally_add(&e->exponent, known.dye[0].exponent);
    tally_add(&e->true_exponent, true_exponent(kind, wood, dye, amount));
    for (int k = 0; k < 2; k++) {
        hw_lab truth = layer_on(kind, wood, dye, forecast_at[k] * amount);
        double density[3];
        for (int band = 0; band < 3; band++) {
            density[band] = forecast_at[k] * seen[0].density[band];
        }
        tally_add(&e->by_one[k], hw_ciede2000(truth, hw_tone_under(bare, density)));
        tally_add(&e->learned[k], hw_ciede2000(truth, laid(&known, bare, forecast_at[k])));
    }
    hw_known_free(&known);
}

static void learn_all(layer_kind kind, double noise, errors *e)
{
    uint64_t state = 31;
    memset(e, 0, sizeof *e);
    for (size_t w = 0; w < LAYER_WOODS; w++) {
        hw_spectrum wood = layer_wood(w), dye;
        for (int family = 0; family < DYES; family++) {
            if (check_true(scene_dye(hw_family_name((hw_family)family), &dye))) {
                learn_one(kind, &wood, &dye, noise, &state, e);
            }
        }
    }
    printf("%-26s %5.1f  %5.2f %5.2f", layer_names[kind], noise, tally_mean(&e->true_exponent),
           tally_mean(&e->exponent));
    for (int k = 0; k < 2; k++) {
        printf("   %4.2f / %4.2f  %4.2f / %4.2f", tally_mean(&e->by_one[k]),
               tally_high(&e->by_one[k]), tally_mean(&e->learned[k]), tally_high(&e->learned[k]));
    }
    printf("\n");
}

static void test_exponent(void)
{
    static errors exact[LAYER_KINDS], noise[LAYER_KINDS];
    printf("%-26s %5s  %5s %5s   %-26s   %s\n", "", "noise", "true", "learnt",
           "pass 4: from pass 1, learned", "pass 6: from pass 1, learned");
    for (int kind = 0; kind < LAYER_KINDS; kind++) {
        learn_all((layer_kind)kind, 0.0, &exact[kind]);
        learn_all((layer_kind)kind, 0.2, &noise[kind]);
    }
    double gain[LAYER_KINDS];
    for (int kind = 0; kind < LAYER_KINDS; kind++) {
        gain[kind] = tally_mean(&exact[kind].by_one[0]) - tally_mean(&exact[kind].learned[0]);
        for (int k = 0; k < 2; k++) {
            check_true(tally_mean(&noise[kind].learned[k]) <
                       0.8 * tally_mean(&noise[kind].by_one[k]));
        }
    }
    // Exact readings: a film has little to gain and nothing to lose; dye in the wood gains most.
    check_true(gain[LAYER_IN_WOOD] > gain[LAYER_FILM] &&
               gain[LAYER_IN_WOOD] > gain[LAYER_REFLECTING]);
    check_true(gain[LAYER_FILM] > -0.05);
    check_true(tally_mean(&exact[LAYER_IN_WOOD].learned[0]) <
               0.5 * tally_mean(&exact[LAYER_IN_WOOD].by_one[0]));
    check_true(tally_mean(&exact[LAYER_IN_WOOD].learned[1]) <
               0.5 * tally_mean(&exact[LAYER_IN_WOOD].by_one[1]));
    check_close(tally_mean(&exact[LAYER_FILM].exponent), 1.0, 0.03);
    check_true(tally_mean(&exact[LAYER_IN_WOOD].exponent) < 0.92);
}

// ---- Another wood ------------------------------------------------------------------

// Strength on one wood over strength on another, as a logarithm, along the density learned; root of its
// mean square over pairs of woods whose L* differ by `least` to `most`. *to_darker: its mean from the
// lighter to the darker wood.
static double strength_moves(layer_kind kind, double least, double most, double *to_darker)
{
    double square = 0.0, darker = 0.0;
    int pairs = 0;
    for (size_t w = 0; w < LAYER_WOODS; w++) {
        for (size_t v = 0; v < LAYER_WOODS; v++) {
            hw_spectrum one = layer_wood(w), other = layer_wood(v), dye;
            for (int family = 0; family < DYES && v != w; family++) {
                double here[3], there[3], along = 0.0, length = 0.0;
                if (!scene_dye(hw_family_name((hw_family)family), &dye)) {
                    continue;
                }
                double amount = layer_amount(kind, &one, &dye, one_pass);
                hw_lab bare = layer_on(kind, &one, &dye, 0.0);
                hw_lab bare_there = layer_on(kind, &other, &dye, 0.0);
                double apart = fabs(bare.L - bare_there.L);
                if (apart < least || apart > most) {
                    continue;
                }
                hw_tone_between(bare, layer_on(kind, &one, &dye, amount), here);
                hw_tone_between(bare_there, layer_on(kind, &other, &dye, amount), there);
                for (int band = 0; band < 3; band++) {
                    along += here[band] * there[band];
                    length += here[band] * here[band];
                }
                square += log(along / length) * log(along / length);
                darker += bare_there.L < bare.L ? log(along / length) : -log(along / length);
                pairs++;
            }
        }
    }
    *to_darker = pairs ? darker / pairs : (double)NAN;
    return pairs ? sqrt(square / pairs) : (double)NAN;
}

// The learning doubts a dye seen on wood 12 L* lighter or darker by a tenth, one that goes into the wood by
// three tenths (its chosen constants). Held against the published physics, pairs of woods 8 to 16 L* apart:
// enough for a film; with internal reflection it moves by a little more; dye in the wood by about half,
// which three tenths cover two times in three.
static void test_other_wood(void)
{
    const double most[LAYER_KINDS] = {0.10, 0.13, 0.55};
    double moves[LAYER_KINDS], to_darker[LAYER_KINDS];
    printf("\nstrength moves by, on woods 8 to 16 L* apart:\n");
    for (int kind = 0; kind < LAYER_KINDS; kind++) {
        moves[kind] = strength_moves((layer_kind)kind, 8.0, 16.0, &to_darker[kind]);
        printf("  %-26s %.3f, from lighter to darker %+.3f\n", layer_names[kind], moves[kind],
               to_darker[kind]);
        check_true(moves[kind] < most[kind]);
    }
    // Not by chance: light that goes through a layer more often is paler wood's. The same dye does less on
    // darker wood, more on lighter (Saunderson: as 1 / (1 - k2 R)).
    check_close(to_darker[LAYER_FILM], 0.0, 0.02);
    check_true(to_darker[LAYER_REFLECTING] < -0.05);
    check_true(to_darker[LAYER_IN_WOOD] < to_darker[LAYER_REFLECTING]);
    check_true(moves[LAYER_IN_WOOD] > 3.0 * moves[LAYER_FILM]);
}

int main(void)
{
    test_exponent();
    test_other_wood();
    return check_done();
}
