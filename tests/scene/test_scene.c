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

// Worked from the published formulae: Kubelka and Munk 1931, K/S = (1 - R)^2 / 2R and back; Saunderson
// 1942 with k1 = 0.04, k2 = 0.6, a density of 0.2 (natural logarithm) inside the film.
static void test_depth(void)
{
    check_close(scene_ks(0.4), 0.45, 1e-12);
    check_close(scene_from_ks(0.45), 0.4, 1e-12);
    check_close(scene_from_ks(0.75), 0.313859, 5e-7);
    check_close(scene_inside(0.4), 0.641026, 5e-7);
    check_close(scene_outside(scene_inside(0.4)), 0.4, 1e-12);
    check_close(scene_under(SCENE_INNER_MIRROR, 0.4, 0.2 / log(10.0)), 0.294165, 5e-7);
    check_close(scene_under(SCENE_ON_TOP, 0.4, 0.2 / log(10.0)), 0.4 * exp(-0.2), 1e-12);
    // In wood: as in a film on 0.2 while weak; later passes do less (chosen scale, scene_depth.c).
    double once = scene_under(SCENE_IN_WOOD, 0.2, 1e-6);
    check_close((0.2 - once) / 0.2, 1e-6 * log(10.0), 1e-10);
    double ten = scene_under(SCENE_IN_WOOD, 0.2, 0.5);
    check_true(ten > 0.2 * pow(10.0, -0.5) && ten < 0.2);
}

// A dye of its own is laid as it is; changed by nothing it is the family's; moved, wider and stronger
// bands do what they say.
static void test_changed_dye(void)
{
    const scene_change none = {{0, 0}, {1, 1}, {1, 1}, 1}, moved = {{20, 0}, {1, 1}, {2, 1}, 1};
    hw_spectrum plain, same, other;
    check_true(scene_dye("red", &plain) && scene_dye_changed("red", &none, &same) &&
               scene_dye_changed("red", &moved, &other));
    check_true(!scene_dye_changed("white", &none, &same));
    int top = 0;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        check_close(same.at[i], plain.at[i], 0.0);
        top = other.at[i] > other.at[top] ? i : top;
    }
    check_close(HW_SPECTRUM_FIRST_NM + HW_SPECTRUM_STEP_NM * top, 535.0, 0.0); // 515 and 20 nm
    check_close(other.at[top], 2.0 * 0.060 + 0.003, 1e-12);
    scene_region by_family = {.colour = {50, 12, 25}, .layer_count = 1}, own = by_family;
    scene_grain grain = {{0}};
    grain.share[12] = 1.0; // the bare wood itself
    by_family.layer[0] = (scene_layer){"red", 2.0, NULL};
    own.layer[0] = (scene_layer){NULL, 2.0, &plain};
    hw_spectrum a = scene_mean_reflectance(&by_family, &grain),
                b = scene_mean_reflectance(&own, &grain), bare = scene_wood(own.colour, 0.0);
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        check_close(a.at[i], b.at[i], 0.0);
        check_close(a.at[i], bare.at[i] * pow(10.0, -2.0 * plain.at[i]), 1e-12);
    }
}

// The mean over grain is the truth that the picture tells; a region drawn again is as if drawn at
// first; a picture moved by whole pixels is the same picture, moved.
static void test_drawing(void)
{
    scene s;
    int quality;
    scene_truth truth, later;
    size_t strip = 0;
    check_true(scene_random("everyday", 5, &s, &quality));
    while (strcmp(s.region[strip].name, "strip") != 0) {
        strip++;
    }
    scene_drawing *first = scene_draw(&s, &truth);
    s.region[strip].layer[0] = (scene_layer){"brown", 2.0, NULL};
    s.region[strip].layer_count = 1;
    scene_grain grain = scene_grain_of(&s, strip);
    hw_spectrum mean = scene_mean_reflectance(&s.region[strip], &grain);
    scene_drawing *second = scene_draw(&s, &later);
    scene_draw_again(first, strip);
    check_close(hw_ciede2000(scene_colour(&mean), later.lab[strip]), 0.0, 1e-9);
    check_true(later.lab[strip].L < truth.lab[strip].L - 1.0);
    s.noise = 0.0;
    uint8_t *a = scene_expose(first, 0.97, 3, 0, 0), *b = scene_expose(second, 0.97, 3, 0, 0);
    uint8_t *c = scene_expose(first, 0.97, 3, 4, -3);
    check_true(a && b && c && memcmp(a, b, s.width * s.height * 3) == 0);
    size_t from = 3 * (100 * s.width + 200), to = 3 * (97 * s.width + 204);
    check_true(memcmp(a + from, c + to, 3 * 100) == 0);
    free(a);
    free(b);
    free(c);
    scene_drawing_free(first);
    scene_drawing_free(second);
}

int main(void)
{
    test_depth();
    test_changed_dye();
    test_drawing();
    test_wood();
    test_exact_camera();
    test_camera_error();
    test_dyes();
    test_repeats();
    return check_done();
}
