// Wood under dye: laws that hold whatever the numbers.
#include "check.h"
#include "picture.h"
#include "tone_internal.h"

static const hw_lab mid_brown = {50.0, 12.0, 25.0};

// A neutral layer of decadic density D multiplies (L*+16), a* and b* by 10^(-D/3), exactly above
// the linear part: follows from the cube root of ISO/CIE 11664-4, whatever linear space the layer
// lies in.
static void neutral(const check_row *row)
{
    double ln = row->num[1] * log(10.0);
    const double density[3] = {ln, ln, ln};
    hw_lab under = hw_tone_under((hw_lab){row->num[0], 12.0, 25.0}, density);
    double factor = pow(10.0, -row->num[1] / 3.0);
    check_near(row, under.L, row->num[2], 0.005);
    check_near(row, under.L, (row->num[0] + 16.0) * factor - 16.0, 1e-9);
    check_near(row, under.a, 12.0 * factor, 1e-9);
    check_near(row, under.b, 25.0 * factor, 1e-9);
}

// What each family does to a mid-brown, by sign: complements cancel (red and green, yellow and
// violet, orange and blue) and every dye darkens. Common practice, no source.
static void family_sign(const check_row *row)
{
    hw_family family;
    if (!check_report(hw_family_from_name(row->text[0], &family), row->file, row->line,
                      "a family")) {
        return;
    }
    hw_dye dye = hw_dye_guess(family);
    hw_difference moved = hw_difference_of(mid_brown, hw_tone_under(mid_brown, dye.density));
    const double parts[4] = {moved.L, moved.a, moved.b, moved.C};
    for (int i = 0; i < 4; i++) {
        double wanted = row->num[i + 1];
        bool good = wanted == 0.0 || parts[i] * wanted > 0.0;
        check_report(good, row->file, row->line, "moves the right way");
    }
    // One weak pass is just visible: 1.4 to 3.2 CIE76 on mid-brown (common practice, no source).
    check_report(moved.de76 > 1.2 && moved.de76 < 3.4, row->file, row->line,
                 "a weak pass is just visible");
}

// The guesses keep their three wide bands: on the wood they were set on, linear sRGB falls as the
// table says (own computation: only clamping may part them).
static void test_guess_shift(void)
{
    hw_dye red = hw_dye_guess(HW_FAMILY_RED);
    double before[3], after[3];
    hw_linear_srgb_from_xyz(hw_xyz_from_lab(mid_brown, hw_white_d50), before);
    hw_linear_srgb_from_xyz(hw_xyz_from_lab(hw_tone_under(mid_brown, red.density), hw_white_d50),
                            after);
    check_close(log10(before[0] / after[0]), 0.005, 1e-6);
    check_close(log10(before[1] / after[1]), 0.045, 1e-6);
    check_close(log10(before[2] / after[2]), 0.035, 1e-6);
    check_true(red.guess);
}

static hw_layer layer_of(const char *dye, double strength, int passes)
{
    hw_layer layer = {.liquid = {.dose = {{.strength = strength}}, .count = 1}, .passes = passes};
    snprintf(layer.liquid.dose[0].dye, HW_NAME_SIZE, "%s", dye);
    return layer;
}

// Bouguer, Lambert and Beer: densities add. Half strength twice is full strength once; order does
// not count.
static void test_addition(void)
{
    hw_shelf shelf;
    hw_known known = {0};
    hw_lab one, two;
    check_true(hw_shelf_guesses(&shelf, NULL) == HW_OK && shelf.count == 9);
    check_true(hw_tone_learn(&shelf, "", mid_brown, &known, NULL) == HW_OK && known.count == 9);
    hw_layer full = layer_of("red", 1.0, 1), half = layer_of("red", 0.5, 2);
    check_true(hw_tone_predict(&known, mid_brown, &full, 1, &one, NULL) == HW_OK);
    check_true(hw_tone_predict(&known, mid_brown, &half, 1, &two, NULL) == HW_OK);
    check_close(one.L, two.L, 1e-9);
    check_close(one.a, two.a, 1e-9);
    hw_layer ab[2] = {layer_of("amber", 1, 2), layer_of("black", 0.25, 3)};
    hw_layer ba[2] = {ab[1], ab[0]};
    check_true(hw_tone_predict(&known, mid_brown, ab, 2, &one, NULL) == HW_OK);
    check_true(hw_tone_predict(&known, mid_brown, ba, 2, &two, NULL) == HW_OK);
    check_close(one.b, two.b, 1e-12);
    // With an exponent, splitting a layer changes nothing: what is laid of one dye adds first.
    known.dye[HW_FAMILY_RED].exponent = 0.9;
    hw_layer split[2] = {layer_of("red", 1, 1), layer_of("red", 1, 2)},
             whole = layer_of("red", 1, 3);
    check_true(hw_tone_predict(&known, mid_brown, split, 2, &one, NULL) == HW_OK);
    check_true(hw_tone_predict(&known, mid_brown, &whole, 1, &two, NULL) == HW_OK);
    check_close(one.L, two.L, 1e-9);
    hw_error err = {0};
    hw_layer unknown = layer_of("moonlight", 1, 1);
    check_true(hw_tone_predict(&known, mid_brown, &unknown, 1, &one, &err) == HW_ERR_CALL);
    check_text(err.code, "dye-unknown");
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

// Physics: a layer takes light away. No wood gets lighter, whatever is laid.
static void test_never_lighter(void)
{
    uint64_t seed = 21;
    int lighter = 0;
    for (int i = 0; i < 20000; i++) {
        hw_lab wood = {20 + 65 * picture_random(&seed), 20 * picture_random(&seed),
                       40 * picture_random(&seed)};
        const double density[3] = {picture_random(&seed), picture_random(&seed),
                                   picture_random(&seed)};
        lighter += hw_tone_under(wood, density).L > wood.L + 1e-9;
    }
    check_true(lighter == 0);
    check_true(hw_tone_under(mid_brown, (const double[3]){0, 0, 0}).L <= mid_brown.L + 1e-9);
}

// The law wavelength by wavelength (CIE 15 summation over spectra) against three bands: a dye's
// density seen after one pass predicts two and three within half a CIEDE2000.
static void test_against_spectra(void)
{
    hw_spectrum wood, light = hw_daylight(5003.0), one;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        wood.at[i] = 0.06 + 0.3 / (1.0 + exp(-(380 + 5 * i - 590) / 50.0));
        one.at[i] = 1.0;
    }
    hw_xyz white = hw_xyz_of_reflectance(&one, &light);
    for (int centre = 430; centre <= 630; centre += 25) {
        hw_lab seen[4];
        for (int passes = 0; passes < 4; passes++) {
            hw_spectrum r = wood;
            for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
                double z = (380 + 5 * i - centre) / 45.0;
                r.at[i] *= pow(10.0, -passes * 0.06 * exp(-0.5 * z * z));
            }
            seen[passes] = hw_lab_from_xyz(hw_xyz_of_reflectance(&r, &light), white);
        }
        double s0[3], s1[3], density[3];
        hw_sharpen(hw_xyz_from_lab(seen[0], hw_white_d50), s0);
        hw_sharpen(hw_xyz_from_lab(seen[1], hw_white_d50), s1);
        for (int passes = 2; passes < 4; passes++) {
            for (int band = 0; band < 3; band++) {
                density[band] = passes * log(s0[band] / s1[band]);
            }
            check_close(hw_ciede2000(seen[passes], hw_tone_under(seen[0], density)), 0.0, 0.5);
        }
    }
}

int main(void)
{
    check_table("tone/neutral.tsv", 3, neutral);
    check_table("tone/family_signs.tsv", 5, family_sign);
    test_guess_shift();
    test_addition();
    test_never_lighter();
    test_against_spectra();
    return check_done();
}
