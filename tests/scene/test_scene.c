// The renderer against facts from outside, so that it can be trusted as truth.
#include "check.h"
#include "scene.h"

static const double no_error[3] = {1.0, 1.0, 1.0};

// A wood made for a colour has it (by the CIE's own summation), and rises with wavelength as woods
// do.
static void test_wood(void)
{
    const hw_lab colours[] = {{38, 9, 15}, {62, 8, 22}, {55, 14, 26}, {78, 5, 20}};
    hw_spectrum d50 = hw_daylight(5003.0), one;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        one.at[i] = 1.0;
    }
    hw_xyz white = hw_xyz_of_reflectance(&one, &d50);
    for (size_t k = 0; k < sizeof colours / sizeof *colours; k++) {
        hw_spectrum r = scene_wood(colours[k], 0.0);
        hw_lab lab = hw_lab_from_xyz(hw_xyz_of_reflectance(&r, &d50), white);
        check_close(lab.L, colours[k].L, 1e-6);
        check_close(lab.a, colours[k].a, 1e-6);
        check_close(lab.b, colours[k].b, 1e-6);
        check_true(r.at[56] > r.at[34] && r.at[34] > r.at[14]); // 660, 550, 450 nm
    }
}

// The exact camera gives sRGB of the standard for a grey and a perfect diffuser under its own
// white.
static void test_exact_camera(void)
{
    hw_spectrum d65 = hw_daylight(6504.0), grey;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        grey.at[i] = 0.18;
    }
    double rgb[3];
    for (int kind = 0; kind < 3; kind++) { // the others balance white too: a flat grey stays grey
        scene_camera camera = scene_camera_for(kind, &d65, no_error);
        scene_camera_see(&camera, &grey, rgb);
        for (int k = 0; k < 3; k++) {
            check_close(rgb[k], 0.18, 2e-4);
        }
    }
}

// The cameras are not the eye, but near it: in daylight woods come back within a few CIEDE2000,
// never exactly.
static void test_camera_error(void)
{
    hw_spectrum lamp = hw_daylight(5503.0), wood = scene_wood((hw_lab){50, 12, 25}, 0.0);
    for (int kind = 1; kind <= 2; kind++) {
        scene_camera camera = scene_camera_for(kind, &lamp, no_error),
                     exact = scene_camera_for(0, &lamp, no_error);
        double seen[3], right[3];
        scene_camera_see(&camera, &wood, seen);
        scene_camera_see(&exact, &wood, right);
        double gap = hw_ciede2000(hw_lab_from_xyz(hw_xyz_from_linear_srgb(right), hw_white_d50),
                                  hw_lab_from_xyz(hw_xyz_from_linear_srgb(seen), hw_white_d50));
        printf("camera %d: %.2f\n", kind, gap);
        check_true(gap > 0.02 && gap < 5.0);
    }
}

// Black lies flat: (L* + 16), a*, b* all times 10^(-D/3), from the cube root of ISO/CIE 11664-4.
// Every dye only takes light away.
static void test_dyes(void)
{
    hw_spectrum black, dye, d50 = hw_daylight(5003.0), wood = scene_wood((hw_lab){50, 12, 25}, 0.0),
                            dyed, one;
    check_true(scene_dye("black", &black) && !scene_dye("white", &dye));
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        dyed.at[i] = wood.at[i] * pow(10.0, -10.0 * black.at[i]);
        one.at[i] = 1.0;
    }
    hw_xyz white = hw_xyz_of_reflectance(&one, &d50);
    hw_lab lab = hw_lab_from_xyz(hw_xyz_of_reflectance(&dyed, &d50), white);
    double factor = pow(10.0, -10.0 * black.at[0] / 3.0);
    check_close(lab.L + 16.0, 66.0 * factor, 1e-6);
    check_close(lab.a, 12.0 * factor, 1e-6);
    check_close(lab.b, 25.0 * factor, 1e-6);
    const char *families[] = {"amber", "orange", "red",  "red-brown",
                              "brown", "green",  "blue", "violet"};
    for (size_t k = 0; k < 8; k++) {
        check_true(scene_dye(families[k], &dye));
        for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
            check_true(dye.at[i] > 0.0);
        }
    }
}

// Same scene, same bytes; another noise seed, other bytes with the same truth.
static void test_repeats(void)
{
    scene s;
    scene_truth one, two, three;
    check_true(scene_find("plain", &s) && !scene_find("none", &s));
    check_true(scene_find("plain", &s));
    uint8_t *a = scene_render(&s, &one), *b = scene_render(&s, &two);
    s.noise_seed++;
    uint8_t *c = scene_render(&s, &three);
    size_t size = s.width * s.height * 3;
    check_true(a && b && c && memcmp(a, b, size) == 0 && memcmp(a, c, size) != 0);
    check_close(one.lab[1].L, three.lab[1].L, 0.0);
    free(a);
    free(b);
    free(c);
}

int main(void)
{
    test_wood();
    test_exact_camera();
    test_camera_error();
    test_dyes();
    test_repeats();
    return check_done();
}
