// Samples of made-up wood whose mean, glare and pores are known.
#include "shop.h"

static hw_status take(const picture *made, const char *name, hw_sample *sample,
                      hw_warnings *warnings, hw_error *err)
{
    hw_marks marks = shop_marks();
    hw_photo *photo = shop_photo(made);
    hw_light light = {0};
    hw_status status = hw_card_read(photo, &marks, NULL, &light, err);
    if (check_true(status == HW_OK)) {
        const hw_mark *mark = hw_marks_find(&marks, HW_ROLE_TARGET, name);
        mark = mark ? mark : hw_marks_find(&marks, HW_ROLE_PATCH, name);
        status = hw_sample_take(photo, &light, mark, sample, warnings, err);
    }
    hw_photo_free(photo);
    hw_marks_free(&marks);
    return status;
}

static double distance(hw_lab one, hw_lab other)
{
    return sqrt(pow(one.L - other.L, 2) + pow(one.a - other.a, 2) + pow(one.b - other.b, 2));
}

// An even field gives back its colour (16 bit: rounding below 0.01).
static void test_even(void)
{
    picture made = shop_picture();
    hw_sample sample = {0};
    hw_warnings warnings = {0};
    check_true(take(&made, "old", &sample, &warnings, NULL) == HW_OK);
    check_close(distance(sample.lab, shop_old), 0.0, 0.02);
    check_true(sample.pixels == 100 * 200 && sample.left_out == 0 && warnings.count == 0);
    check_close(sample.standard_error[0], 0.0, 0.01);
    hw_sample_free(&sample);
    picture_free(&made);
}

// Scaling the whole linear picture, card included, changes nothing (card division: X'/X'card); a
// cast of 10 % in linear sRGB moves pairs by at most 0.3 and single colours by at most 1.0 (a cast
// is no diagonal in the sharpened bands; bounds asked of this program).
static void test_scale_and_cast(void)
{
    hw_lab lab[4][2];
    const double gain[4][3] = {{1, 1, 1}, {0.55, 0.55, 0.55}, {1.1, 1.0, 1.0}, {1.0, 0.9, 1.1}};
    for (int i = 0; i < 4; i++) {
        picture made = shop_picture();
        picture_scale(&made, gain[i][0], gain[i][1], gain[i][2]);
        for (int k = 0; k < 2; k++) {
            hw_sample sample = {0};
            hw_warnings warnings = {0};
            check_true(take(&made, k ? "new" : "old", &sample, &warnings, NULL) == HW_OK);
            lab[i][k] = sample.lab;
            hw_sample_free(&sample);
        }
        picture_free(&made);
    }
    for (int k = 0; k < 2; k++) {
        check_close(distance(lab[1][k], lab[0][k]), 0.0, 0.05);
        for (int i = 2; i < 4; i++) {
            check_close(distance(lab[i][k], lab[0][k]), 0.0, 1.0);
        }
    }
    for (int i = 2; i < 4; i++) {
        hw_difference plain = hw_difference_of(lab[0][0], lab[0][1]);
        hw_difference cast = hw_difference_of(lab[i][0], lab[i][1]);
        check_close(cast.L, plain.L, 0.3);
        check_close(cast.a, plain.a, 0.3);
        check_close(cast.b, plain.b, 0.3);
        check_close(cast.de00, plain.de00, 0.3);
    }
}

// Figure: light that varies along y from board line to board line. The mean is that of linear light
// ("colours mix as light", additivity of CIE tristimulus values, CIE 15:2018), not of L*.
static void test_mean_in_light(void)
{
    picture made = shop_picture();
    uint64_t seed = 7;
    double rgb[3], sum = 0.0;
    hw_linear_srgb_from_xyz(hw_xyz_from_lab(shop_old, hw_white_d50), rgb);
    for (size_t y = 20; y < 220; y++) {
        double factor = exp(0.35 * picture_normal(&seed));
        sum += factor / 200.0;
        for (size_t x = 140; x < 240; x++) {
            for (int k = 0; k < 3; k++) {
                picture_at(&made, x, y)[k] = rgb[k] * factor;
            }
        }
    }
    hw_sample sample = {0};
    hw_warnings warnings = {0};
    check_true(take(&made, "old", &sample, &warnings, NULL) == HW_OK);
    hw_xyz true_mean = hw_xyz_from_lab(shop_old, hw_white_d50);
    true_mean = (hw_xyz){true_mean.X * sum, true_mean.Y * sum, true_mean.Z * sum};
    check_close(hw_ciede2000(hw_lab_from_xyz(true_mean, hw_white_d50), sample.lab), 0.0, 0.05);
    check_true(sample.left_out == 0);
    hw_sample_free(&sample);
    picture_free(&made);
}

// Glare spots (white light on top) on 2 % and pores on 5 % of the area, over noise: the mean of
// wood and pores comes back; without glare rejection it would be off by more than 0.5.
static void test_glare_and_pores(void)
{
    picture made = shop_picture();
    uint64_t seed = 11;
    double sum[3] = {0}, count = 0.0;
    for (size_t y = 20; y < 220; y++) {
        for (size_t x = 140; x < 240; x++) {
            double factor = exp(0.04 * picture_normal(&seed));
            bool pore = x % 20 == 3;
            for (int k = 0; k < 3; k++) {
                double *value = &picture_at(&made, x, y)[k];
                *value *= pore ? 0.25 : factor;
                sum[k] += *value;
            }
            count += 1.0;
        }
    }
    for (size_t i = 0; i < 20; i++) { // 20 spots of 5 x 4 = 2 %
        size_t x = 145 + (i * 37) % 85, y = 25 + (i * 53) % 185;
        for (size_t k = 0; k < 20; k++) {
            double *pixel = picture_at(&made, x + k % 5, y + k / 5);
            for (int c = 0; c < 3; c++) {
                pixel[c] += 0.35;
            }
        }
    }
    double mean[3] = {sum[0] / count, sum[1] / count, sum[2] / count};
    hw_lab true_lab = hw_lab_from_xyz(hw_xyz_from_linear_srgb(mean), hw_white_d50);
    hw_sample sample = {0};
    hw_warnings warnings = {0};
    check_true(take(&made, "old", &sample, &warnings, NULL) == HW_OK);
    check_close(hw_ciede2000(true_lab, sample.lab), 0.0, 0.15);
    check_close(sample.pore_share, 0.05, 0.01);
    check_true(sample.glare_share >= 0.02 && sample.glare_share < 0.09);
    hw_sample_free(&sample);
    picture_free(&made);
}

static void test_refusals(void)
{
    hw_sample sample = {0};
    hw_warnings warnings = {0};
    hw_error err = {0};
    picture made = shop_picture(); // a tenth is at the top of the scale, coloured: not glare
    for (size_t x = 140; x < 150; x++) {
        for (size_t y = 20; y < 220; y++) {
            picture_at(&made, x, y)[0] = 1.0;
        }
    }
    check_true(take(&made, "old", &sample, &warnings, &err) == HW_ERR_INPUT);
    check_text(err.code, "region-clipped");
    check_text(err.subject, "old");
    picture_free(&made);

    made = shop_picture(); // blue paint: read, and doubted
    picture_fill(&made, 140, 20, 100, 200, (hw_lab){50, 0, -30});
    check_true(take(&made, "old", &sample, &warnings, NULL) == HW_OK);
    check_true(warnings.count == 1);
    check_holds(warnings.text[0], "hardly any wood");
    hw_sample_free(&sample);
    picture_free(&made);
}

// Pieces lie edge to edge about the middle and carry the colours they cover.
static void test_pieces(void)
{
    picture made = shop_picture();
    picture_fill(&made, 140, 20, 100, 100, (hw_lab){45, 12, 25});
    hw_sample sample = {0};
    hw_warnings warnings = {0};
    check_true(take(&made, "old", &sample, &warnings, NULL) == HW_OK);
    hw_xyz pieces[16];
    check_true(hw_sample_pieces(&sample, 48, 100, pieces, 16) == 4);
    check_close(hw_lab_from_xyz(pieces[0], hw_white_d50).L, 45.0, 0.3);
    check_close(hw_lab_from_xyz(pieces[3], hw_white_d50).L, 50.0, 0.3);
    check_true(hw_sample_pieces(&sample, 48, 100, pieces, 2) == 4); // says how many there are
    check_true(hw_sample_pieces(&sample, 5000, 5000, pieces, 16) == 1);
    check_close(pieces[0].Y, sample.xyz.Y, 1e-9);
    hw_sample_free(&sample);
    picture_free(&made);
}

// The standard error must hold for wood, where pixels are alike along the grain. Forty made boards
// with first-order autoregressive figure (correlation over about 6 x 48 pixels): the scatter of
// their means is the truth that the stated error, on average, has to come near; s / sqrt(N) is
// some 30 times too small.
static void test_standard_error(void)
{
    const int boards = 40;
    double means = 0.0, squares = 0.0, stated = 0.0, naive = 0.0;
    uint64_t seed = 3;
    double rgb[3];
    hw_linear_srgb_from_xyz(hw_xyz_from_lab(shop_old, hw_white_d50), rgb);
    for (int board = 0; board < boards; board++) {
        picture made = shop_picture();
        static double figure[240][100];
        double along = exp(-1.0 / 48.0), across = exp(-1.0 / 6.0);
        // Separable: along y (the grain) then along x; started long before the mark.
        for (size_t x = 0; x < 100; x++) {
            double state = picture_normal(&seed);
            for (size_t y = 0; y < 240; y++) {
                state = along * state + sqrt(1 - along * along) * picture_normal(&seed);
                figure[y][x] = state;
            }
        }
        for (size_t y = 0; y < 240; y++) {
            for (size_t x = 1; x < 100; x++) {
                figure[y][x] = across * figure[y][x - 1] + sqrt(1 - across * across) * figure[y][x];
            }
        }
        for (size_t y = 20; y < 220; y++) {
            for (size_t x = 0; x < 100; x++) {
                for (int k = 0; k < 3; k++) {
                    picture_at(&made, 140 + x, y)[k] = rgb[k] * exp(0.1 * figure[y][x]);
                }
            }
        }
        hw_sample sample = {0};
        hw_warnings warnings = {0};
        check_true(take(&made, "old", &sample, &warnings, NULL) == HW_OK);
        means += sample.lab.L / boards;
        squares += sample.lab.L * sample.lab.L / boards;
        stated += sample.standard_error[0] / boards;
        naive += sample.spread[0] / sqrt((double)sample.pixels) / boards;
        hw_sample_free(&sample);
        picture_free(&made);
    }
    double truth = sqrt((squares - means * means) * boards / (boards - 1));
    printf("standard error of L*: true %.3f, stated %.3f, s/sqrt(N) %.4f\n", truth, stated, naive);
    check_true(stated > 0.6 * truth && stated < 2.0 * truth);
    check_true(naive < 0.2 * truth);
}

int main(void)
{
    test_even();
    test_scale_and_cast();
    test_mean_in_light();
    test_glare_and_pores();
    test_refusals();
    test_pieces();
    test_standard_error();
    return check_done();
}
