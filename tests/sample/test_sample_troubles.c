// What spoils a region: broad shine, shadow, marks that lie a little aside. Pictures are painted here, so
// the colour under the trouble is known.
#include "shop.h"

static hw_status take(const picture *made, const char *region, hw_sample *sample,
                      hw_warnings *warnings)
{
    hw_marks marks = shop_marks();
    hw_photo *photo = shop_photo(made);
    hw_light light = {0};
    check_true(hw_marks_add(&marks, HW_ROLE_TARGET, "wood", region, NULL, NULL) == HW_OK);
    hw_status status = hw_card_read(photo, &marks, NULL, &light, NULL);
    if (check_true(status == HW_OK)) {
        status = hw_sample_take(photo, &light, &marks.mark[3], sample, warnings, NULL);
    }
    hw_photo_free(photo);
    hw_marks_free(&marks);
    return status;
}

// Old wood with figure: each row lighter or darker, in all bands by Beer's law (a layer g times as thick).
static picture wood(double figure, uint64_t seed)
{
    picture made = shop_picture();
    double rgb[3];
    hw_linear_srgb_from_xyz(hw_xyz_from_lab(shop_old, hw_white_d50), rgb);
    for (size_t y = 20; y < 220; y++) {
        double thick = 1.0 + figure * picture_normal(&seed);
        for (size_t x = 140; x < 240; x++) {
            for (int k = 0; k < 3; k++) {
                picture_at(&made, x, y)[k] = pow(rgb[k], thick);
            }
        }
    }
    return made;
}

static double off(const hw_sample *sample, hw_lab wanted)
{
    return hw_ciede2000(wanted, sample->lab);
}

static hw_lab mean_of(const char *region, picture *made)
{
    hw_sample sample = {0};
    hw_warnings warnings = {0};
    check_true(take(made, region, &sample, &warnings) == HW_OK);
    hw_lab lab = sample.lab;
    hw_sample_free(&sample);
    return lab;
}

// A soft spot that adds 3 % of white in its middle, over an eighth of the wood: no pixel of it looks like
// glare, but the mean would be off by half a CIEDE2000.
static void broad_shine(void)
{
    double worst = 0.0, plain = 0.0;
    for (uint64_t seed = 1; seed <= 5; seed++) {
        picture made = wood(0.05, seed);
        hw_lab wanted = mean_of("140,20,100,200", &made);
        hw_xyz sum = {0, 0, 0};
        for (size_t y = 20; y < 220; y++) {
            for (size_t x = 140; x < 240; x++) {
                double u = ((double)x - 190) / 28, v = ((double)y - 120) / 18;
                double white = 0.06 * exp(-0.5 * (u * u + v * v));
                double *rgb = picture_at(&made, x, y);
                for (int k = 0; k < 3; k++) {
                    rgb[k] += white;
                }
                hw_xyz one = hw_xyz_from_linear_srgb(rgb);
                sum = (hw_xyz){sum.X + one.X / 20000, sum.Y + one.Y / 20000, sum.Z + one.Z / 20000};
            }
        }
        hw_sample sample = {0};
        hw_warnings warnings = {0};
        check_true(take(&made, "140,20,100,200", &sample, &warnings) == HW_OK);
        plain = fmax(plain, hw_ciede2000(wanted, hw_lab_from_xyz(sum, hw_white_d50)));
        worst = fmax(worst, off(&sample, wanted));
        check_true(sample.shine_u > 0.0 && sample.glare_share > 0.1);
        check_true(warnings.count >= 1 && warnings.trouble[0] == HW_TROUBLE_GLARE);
        hw_sample_free(&sample);
        picture_free(&made);
    }
    printf("soft shine: the mean off by %.2f, by %.2f where it is left out\n", plain, worst);
    check_true(plain > 0.8 && worst < 0.5 * plain);
}

// Wood without shine loses hardly a pixel, up to figure that no eye would call plain, and its mean stays.
static void no_shine(void)
{
    for (uint64_t seed = 1; seed <= 12; seed++) {
        double figure = 0.03 + 0.01 * (double)seed;
        picture made = wood(figure, seed);
        hw_xyz sum = {0, 0, 0};
        for (size_t i = 0; i < 20000; i++) {
            hw_xyz one = hw_xyz_from_linear_srgb(picture_at(&made, 140 + i % 100, 20 + i / 100));
            sum = (hw_xyz){sum.X + one.X / 20000, sum.Y + one.Y / 20000, sum.Z + one.Z / 20000};
        }
        hw_sample sample = {0};
        hw_warnings warnings = {0};
        check_true(take(&made, "140,20,100,200", &sample, &warnings) == HW_OK);
        check_true(sample.glare_share < (figure < 0.1 ? 0.01 : 0.12));
        check_close(off(&sample, hw_lab_from_xyz(sum, hw_white_d50)), 0.0,
                    figure < 0.1 ? 0.15 : 0.5);
        check_true(sample.shade == 0.0);
        hw_sample_free(&sample);
        picture_free(&made);
    }
}

// The lower 70 of 200 rows lie in a shadow that takes 40 % of the light.
static void shadow(void)
{
    picture made = wood(0.06, 4);
    for (size_t y = 150; y < 220; y++) {
        for (size_t x = 140; x < 240; x++) {
            for (int k = 0; k < 3; k++) {
                picture_at(&made, x, y)[k] *= 0.6;
            }
        }
    }
    hw_sample sample = {0};
    hw_warnings warnings = {0};
    check_true(take(&made, "140,20,100,200", &sample, &warnings) == HW_OK);
    check_close(sample.shade, -log(0.6), 0.08);
    check_true(warnings.count == 1 && warnings.trouble[0] == HW_TROUBLE_SHADE);
    check_holds(warnings.text[0], "wood: a shadow lies over part of it, 3");
    hw_sample_free(&sample);
    picture_free(&made);
}

// A mark that reaches to a dark joint: what a hand's width aside would read is told; one that keeps off
// it is steady.
static void mark_shift(void)
{
    picture made = wood(0.02, 6);
    picture_fill(&made, 240, 20, 6, 200, (hw_lab){8, 1, 1});
    hw_sample at_joint = {0}, inside = {0};
    hw_warnings warnings = {0};
    check_true(take(&made, "210,20,30,200", &at_joint, &warnings) == HW_OK);
    check_true(take(&made, "180,30,40,180", &inside, &warnings) == HW_OK);
    // One pixel of 30 turns dark in one of the four ways; linear light then falls by about 1/30 of it.
    double fall = -116.0 / 3.0 * cbrt(at_joint.xyz.Y) * (1.0 / 30.0);
    check_close(sqrt(at_joint.mark_shift.m[0][0]), -0.5 * fall, 0.25 * fabs(fall));
    check_true(inside.mark_shift.m[0][0] < 0.1 * at_joint.mark_shift.m[0][0]);
    hw_sample_free(&at_joint);
    hw_sample_free(&inside);
    picture_free(&made);
}

int main(void)
{
    broad_shine();
    no_shine();
    shadow();
    mark_shift();
    return check_done();
}
