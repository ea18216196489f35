// Worked numbers: layers, needs and coats of clear finish. Each was worked independently, in Python, from
// the published formulas: L*a*b* and back (ISO/CIE 11664-4, white 0.9642 1 0.8249), the Bradford
// matrix (Lam 1985; ICC.1:2022 annex E), CIEDE2000 (ISO/CIE 11664-6).
#include "spectral_layers.h"

static void check_lab(hw_lab got, double L, double a, double b)
{
    check_close(got.L, L, 5e-4);
    check_close(got.a, a, 5e-4);
    check_close(got.b, b, 5e-4);
}

// One pass took a wood from the first colour to the second.
static const hw_lab before = {62.0, 12.0, 28.0}, after = {59.6, 12.9, 29.0};

static void test_one_pass(void)
{
    const double bands[3] = {0.352400, 0.281204, 0.120022};
    const double want[3] = {0.081436, 0.104518, 0.150918};
    double seen[3], density[3];
    hw_sharpen(hw_xyz_from_lab(before, hw_white_d50), seen);
    hw_tone_between(before, after, density);
    for (int band = 0; band < 3; band++) {
        check_close(seen[band], bands[band], 1e-6);
        check_close(density[band], want[band], 1e-6);
    }
    check_lab(hw_tone_under(before, density), after.L, after.a, after.b);
}

// Half a pass (half strength), two, three and four: colour and CIEDE2000 from the bare wood.
static void test_more_passes(void)
{
    const struct {
        double strength;
        int passes;
        double L, a, b, de00;
    } row[] = {{0.5, 1, 60.7900, 12.4577, 28.5148, 1.0946},
               {1.0, 2, 57.2785, 13.7395, 29.8852, 4.3465},
               {1.0, 3, 55.0328, 14.5201, 30.6630, 6.4923},
               {1.0, 4, 52.8602, 15.2434, 31.3407, 8.6236},
               {0.5, 4, 57.2785, 13.7395, 29.8852, 4.3465}}; // half strength, twice the passes
    hw_known_dye dye = {.name = "brown", .exponent = 1.0};
    hw_known known = {.dye = &dye, .count = 1};
    hw_tone_between(before, after, dye.density);
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        hw_layer layer = {
            .liquid = {.dose = {{.dye = "brown", .strength = row[i].strength}}, .count = 1},
            .passes = row[i].passes};
        hw_lab got = {0};
        check_true(hw_tone_predict(&known, before, &layer, 1, &got, NULL) == HW_OK);
        check_lab(got, row[i].L, row[i].a, row[i].b);
        check_close(hw_ciede2000(before, got), row[i].de00, 1e-4);
        // The same by what is laid: one pass is known exactly, its doubt is that of passes alone.
        hw_laid laid = {.dye = "brown", .amount = row[i].strength * row[i].passes};
        double density[3], zero[9] = {0.0};
        hw_covariance covariance;
        known.covariance = zero;
        hw_tone_expect(&known, &laid, 1, density, &covariance);
        check_lab(hw_tone_under(before, density), row[i].L, row[i].a, row[i].b);
    }
}

// What a patch would need to become its target: negative in every band, so no dye brings it there.
static void test_need(void)
{
    const double want[3] = {-0.2832, -0.3635, -0.4881};
    double need[3];
    hw_tone_between((hw_lab){54, 15, 30}, (hw_lab){62, 12, 28}, need);
    for (int band = 0; band < 3; band++) {
        check_close(need[band], want[band], 5e-5);
    }
}

// Coats of an amber lac (a guess: density 0.02 0.035 0.09 a coat) on two neighbours: both drift darker and
// yellower, the gap between them barely moves.
static void test_coats(void)
{
    const double coat[3] = {0.02, 0.035, 0.09};
    const hw_lab one = {55, 12, 28}, other = {52.5, 13.5, 26};
    const struct {
        double coats;
        hw_lab one, other;
        double gap;
    } row[] = {{0, {55, 12, 28}, {52.5, 13.5, 26}, 3.056},
               {1, {54.333, 12.574, 29.532}, {51.858, 14.019, 27.516}, 3.011},
               {2, {53.675, 13.148, 30.999}, {51.225, 14.540, 28.969}, 2.9705},
               {4, {52.386, 14.291, 33.745}, {49.984, 15.579, 31.690}, 2.894}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        const double density[3] = {row[i].coats * coat[0], row[i].coats * coat[1],
                                   row[i].coats * coat[2]};
        hw_lab got = hw_tone_under(one, density), beside = hw_tone_under(other, density);
        check_lab(got, row[i].one.L, row[i].one.a, row[i].one.b);
        check_lab(beside, row[i].other.L, row[i].other.a, row[i].other.b);
        check_close(hw_ciede2000(beside, got), row[i].gap, 5e-4);
    }
}

// A neutral layer keeps the hue and the ratio of chroma to L* + 16 (ISO/CIE 11664-4 above its straight part):
// follows from the cube roots, whatever three bands the layer lies in.
static void test_neutral_hue(void)
{
    for (int L = 40; L <= 80; L += 5) {
        hw_lab wood = {L, 9.0, 21.0};
        for (int step = 1; step <= 6; step++) {
            const double d = 0.05 * step * log(10.0), density[3] = {d, d, d};
            hw_lab got = hw_tone_under(wood, density);
            check_close(hw_lab_hue(got), hw_lab_hue(wood), 1e-9);
            check_close(hw_lab_chroma(got) / (got.L + 16.0), hw_lab_chroma(wood) / (wood.L + 16.0),
                        1e-12);
        }
    }
}

// The physics that other tests hold the law against, itself: Kubelka and Munk (1931), R 0.4 is K/S 0.45,
// 0.3 more is R 0.313859; Saunderson (1942) with k1 0.04 and k2 0.6, R 0.4 is 0.641026 inside,
// a density of 0.2 there is R 0.294165, where the plain film says 0.327492.
static void test_physics(void)
{
    check_close(kubelka_munk(0.4), 0.45, 1e-12);
    check_close(layer_reflectance(LAYER_IN_WOOD, 0.4, 0.3), 0.313859, 1e-6);
    check_close(saunderson_inside(0.4), 0.641026, 1e-6);
    check_close(layer_reflectance(LAYER_REFLECTING, 0.4, 0.2), 0.294165, 1e-6);
    check_close(layer_reflectance(LAYER_FILM, 0.4, 0.2), 0.327492, 1e-6);
    for (int kind = 0; kind < LAYER_KINDS; kind++) {
        check_close(layer_reflectance((layer_kind)kind, 0.4, 0.0), 0.4, 1e-12);
    }
}

int main(void)
{
    test_one_pass();
    test_more_passes();
    test_need();
    test_coats();
    test_neutral_hue();
    test_physics();
    return check_done();
}
