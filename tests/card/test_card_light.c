// The light from the card: what a card must give back, what it must not be thrown by, and
// which cards are refused.
#include "shop.h"

static hw_status read_card(const picture *made, const hw_card_options *options, hw_light *light,
                           hw_error *err)
{
    hw_marks marks = shop_marks();
    hw_photo *photo = shop_photo(made);
    hw_status status = hw_card_read(photo, &marks, options, light, err);
    hw_photo_free(photo);
    hw_marks_free(&marks);
    return status;
}

// Worked value of the Bradford transform (ICC.1:2022 annex E) with a measured card: own
// computation in another language (Python, double precision), card L*a*b* 50.1 -0.3 0.6, card seen
// X Y Z 0.200 0.205 0.150, wood seen 0.28 0.25 0.09.
static void test_worked_value(void)
{
    hw_light light = {0};
    double seen[3], wanted[3];
    hw_sharpen((hw_xyz){0.200, 0.205, 0.150}, seen);
    hw_sharpen(hw_xyz_from_lab((hw_lab){50.1, -0.3, 0.6}, hw_white_d50), wanted);
    for (int band = 0; band < 3; band++) {
        light.gain[band] = wanted[band] / seen[band];
    }
    hw_lab lab = hw_lab_from_xyz(
        hw_light_correct_at(&light, (hw_xyz){0.28, 0.25, 0.09}, (hw_point){10, 20}), hw_white_d50);
    check_close(lab.L, 54.5014, 0.0005);
    check_close(lab.a, 13.6221, 0.0005);
    check_close(lab.b, 25.9956, 0.0005);
    double matrix[3][3];
    hw_light_matrix_at(&light, (hw_point){10, 20}, matrix);
    hw_xyz direct = hw_light_correct_at(&light, (hw_xyz){0.28, 0.25, 0.09}, (hw_point){10, 20});
    check_close(matrix[1][0] * 0.28 + matrix[1][1] * 0.25 + matrix[1][2] * 0.09, direct.Y, 1e-12);
}

// A card that is seen as it is needs no correction (definition of a factor a band).
static void test_true_light(void)
{
    picture made = shop_picture();
    hw_light light = {0};
    hw_error err = {0};
    check_true(read_card(&made, NULL, &light, &err) == HW_OK);
    for (int band = 0; band < 3; band++) {
        check_close(light.gain[band], 1.0, 0.001);
    }
    check_close(light.uneven, 0.0, 0.001);
    check_true(light.warnings.count == 0);
    picture_free(&made);
}

// Dust and a pencil line on the card do not move it (robustness: trimmed mean, Huber 1981, 1.1).
static void test_specks(void)
{
    picture made = shop_picture();
    hw_light clean = {0}, dusty = {0};
    check_true(read_card(&made, NULL, &clean, NULL) == HW_OK);
    for (size_t i = 0; i < 40; i++) {
        picture_fill(&made, 36 + (i * 11) % 48, 36 + (i * 7) % 48, 1, 1,
                     (hw_lab){i % 2 ? 20.0 : 80.0, 0, 0});
    }
    check_true(read_card(&made, NULL, &dusty, NULL) == HW_OK);
    check_close(dusty.gain[1] / clean.gain[1], 1.0, 0.002);
    picture_free(&made);
}

// Light that falls off by a known slope is told, with the right size and sign.
static void test_slope(void)
{
    picture made = shop_picture();
    for (size_t y = 0; y < made.height; y++) {
        for (size_t x = 0; x < made.width; x++) {
            for (int channel = 0; channel < 3; channel++) {
                picture_at(&made, x, y)[channel] *= exp(-0.0005 * (double)x);
            }
        }
    }
    hw_light light = {0};
    check_true(read_card(&made, NULL, &light, NULL) == HW_OK);
    // Drawn towards none a little, since a card is never quite even.
    double change = hw_light_change(&light, (hw_point){300, 50}, (hw_point){100, 50});
    check_close(change, -0.1, 0.01);
    check_close(hw_light_change(&light, (hw_point){100, 150}, (hw_point){100, 50}), 0.0, 0.001);
    check_close(light.uneven, exp(0.0005 * 400) - 1.0, 0.02);
    check_true(light.warnings.count == 1);
    check_holds(light.warnings.text[0], "Lay the card next to the repair");
    // What is left open is less than what was taken out, and more than nothing.
    double doubt[3];
    hw_light_doubt(&light, (hw_point){100, 50}, (hw_point){300, 50}, doubt);
    check_true(doubt[1] > 0.1 * 0.1 && doubt[1] < 0.5 * 0.1);
    // The gap as it is, though the repair has 6 % less light than the old wood.
    hw_xyz old = hw_xyz_from_lab(shop_old, hw_white_d50), dim = old;
    const double light_at = exp(-0.0005 * 300.0);
    dim = (hw_xyz){old.X * light_at, old.Y * light_at, old.Z * light_at};
    check_true(hw_ciede2000(shop_old,
                            hw_lab_from_xyz(hw_light_correct_at(&light, dim, (hw_point){300, 60}),
                                            hw_white_d50)) < 0.3);
    picture_free(&made);
}

static void refused(picture *made, const char *code)
{
    hw_light light = {.gain = {7, 7, 7}};
    hw_error err = {0};
    check_true(read_card(made, NULL, &light, &err) == HW_ERR_INPUT);
    check_text(err.code, code);
    check_true(err.next[0] != 0 && err.what[0] != 0);
    check_close(light.gain[0], 7.0, 0.0); // untouched
    picture_free(made);
}

static void test_refusals(void)
{
    picture made = shop_picture();
    picture_scale(&made, 8, 8, 8);
    refused(&made, "card-overexposed");

    made = shop_picture();
    picture_scale(&made, 8, 1, 1); // one channel is enough
    refused(&made, "card-overexposed");

    made = shop_picture();
    picture_scale(&made, 0.02, 0.02, 0.02);
    refused(&made, "card-underexposed");

    made = shop_picture(); // a chequered thing
    for (size_t i = 0; i < 100; i++) {
        picture_fill(&made, 20 + i % 10 * 8, 20 + i / 10 * 8, 8, 8,
                     (hw_lab){(i + i / 10) % 2 ? 35.0 : 60.0, 0, 0});
    }
    refused(&made, "card-patterned");

    made = shop_picture(); // a third of the mark lies on wood
    picture_fill(&made, 20, 20, 30, 80, (hw_lab){35, 10, 20});
    refused(&made, "card-patterned");

    made = shop_picture();
    picture_scale(&made, 3.5, 1, 0.05);
    refused(&made, "card-coloured");
}

static void test_no_card(void)
{
    picture made = shop_picture();
    hw_photo *photo = shop_photo(&made);
    hw_marks marks = {0};
    hw_light light;
    hw_error err = {0};
    check_true(hw_card_read(photo, &marks, NULL, &light, &err) == HW_ERR_INPUT);
    check_text(err.code, "card-missing");
    hw_photo_free(photo);
    picture_free(&made);
}

// The card's rim tells how sharp the photo is: a step blurred by a normal distribution of s.d. s is 2.5 s
// wide (height over steepest slope). Rows and columns blurred with a kernel of the test's own.
static void test_blur(void)
{
    for (int s = 0; s < 3; s++) {
        picture made = shop_picture(), made_twice = picture_new(SHOP_WIDTH, SHOP_HEIGHT);
        picture_fill(&made, 0, 0, 120, 120, (hw_lab){75, 2, 10});
        picture_fill(&made, 20, 20, 80, 80, (hw_lab){49.5, 0, 0});
        double sigma = 2.0 * s;
        for (int way = 0; way < 2 && s > 0; way++) {
            for (long y = 0; y < SHOP_HEIGHT; y++) {
                for (long x = 0; x < SHOP_WIDTH; x++) {
                    double sum[3] = {0}, whole = 0.0;
                    for (long k = -12; k <= 12; k++) {
                        long i = way ? x : x + k, j = way ? y + k : y;
                        double w = exp(-0.5 * (double)(k * k) / (sigma * sigma));
                        if (i >= 0 && j >= 0 && i < SHOP_WIDTH && j < SHOP_HEIGHT) {
                            whole += w;
                            for (int c = 0; c < 3; c++) {
                                sum[c] += w * picture_at(&made, (size_t)i, (size_t)j)[c];
                            }
                        }
                    }
                    for (int c = 0; c < 3; c++) {
                        picture_at(&made_twice, (size_t)x, (size_t)y)[c] = sum[c] / whole;
                    }
                }
            }
            memcpy(made.linear, made_twice.linear, SHOP_WIDTH * SHOP_HEIGHT * sizeof *made.linear);
        }
        hw_light light = {0};
        check_true(read_card(&made, NULL, &light, NULL) == HW_OK);
        check_close(light.edge_px, fmax(1.0, 2.507 * sigma), 0.15 + 0.1 * sigma);
        bool told = false;
        for (size_t i = 0; i < light.warnings.count; i++) {
            told = told || light.warnings.trouble[i] == HW_TROUBLE_BLUR;
        }
        check_true(told == (s > 0));
        picture_free(&made);
        picture_free(&made_twice);
    }
}

int main(void)
{
    test_worked_value();
    test_true_light();
    test_specks();
    test_slope();
    test_refusals();
    test_no_card();
    test_blur();
    return check_done();
}
