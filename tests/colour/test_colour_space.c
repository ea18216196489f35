// Spaces, lights and adaptations against the figures of their standards.
#include "check.h"
#include "huewright/colour.h"
#include "picture.h"

// ISO/CIE 11664-4: L* of Y.
static void test_lightness(void)
{
    const double rows[4][2] = {{0.12, 41.22}, {0.18, 49.50}, {0.50, 76.07}, {0.90, 96.00}};
    for (int i = 0; i < 4; i++) {
        hw_xyz grey = {0.9642 * rows[i][0], rows[i][0], 0.8249 * rows[i][0]};
        hw_lab lab = hw_lab_from_xyz(grey, hw_white_d50);
        check_close(lab.L, rows[i][1], 0.005);
        check_close(lab.a, 0, 1e-12);
    }
    check_close(hw_lab_from_xyz(hw_white_d50, hw_white_d50).L, 100, 1e-12);
    check_close(hw_lab_from_xyz((hw_xyz){0, 0.0085, 0}, hw_white_d50).L, 24389.0 / 27.0 * 0.0085,
                1e-9); // on the straight part still
    check_close(hw_lab_from_xyz((hw_xyz){0, 216.0 / 24389.0, 0}, hw_white_d50).L, 8.0,
                1e-9); // where the branches meet
}

static void test_round_trip(void)
{
    uint64_t seed = 2;
    for (int i = 0; i < 5000; i++) {
        hw_lab lab = {110 * picture_random(&seed) - 5, 200 * picture_random(&seed) - 100,
                      200 * picture_random(&seed) - 100};
        hw_xyz xyz = hw_xyz_from_lab(lab, hw_white_d50);
        hw_lab back = hw_lab_from_xyz(xyz, hw_white_d50);
        check_close(fabs(back.L - lab.L) + fabs(back.a - lab.a) + fabs(back.b - lab.b), 0, 1e-9);
        double rgb[3];
        hw_linear_srgb_from_xyz(xyz, rgb);
        hw_xyz same = hw_xyz_from_linear_srgb(rgb);
        check_close(fabs(same.X - xyz.X) + fabs(same.Y - xyz.Y) + fabs(same.Z - xyz.Z), 0, 1e-12);
    }
    check_close(hw_lab_hue((hw_lab){50, 0, 0}), 0, 0);
    check_close(hw_lab_hue((hw_lab){50, -1, 0}), 180, 1e-12);
    check_close(hw_lab_hue((hw_lab){50, 0, -1}), 270, 1e-12);
}

// IEC 61966-2-1: the curve's break, its ends, and middle grey.
static void test_srgb(void)
{
    check_close(hw_srgb_linear(1.0), 1.0, 1e-12);
    check_close(hw_srgb_linear(0.0), 0.0, 0);
    check_close(hw_srgb_linear(0.04045), 0.0031308, 1e-7);
    check_close(hw_srgb_encoded(0.0031308), 0.04045, 1e-6);
    check_close(hw_srgb_encoded(0.003), 12.92 * 0.003, 1e-12); // below it, the straight part
    check_close(hw_srgb_encoded(0.18) * 255.0, 117.6, 0.05);
    check_close(hw_srgb_linear(0.5), 0.21404, 1e-5); // IEC 61966-2-1 formula, from memory
    for (int code = 0; code < 256; code++) {
        check_close(hw_srgb_encoded(hw_srgb_linear(code / 255.0)), code / 255.0, 1e-7);
    }
    const double white[3] = {1, 1, 1};
    hw_xyz xyz = hw_xyz_from_linear_srgb(white);
    check_close(xyz.X, 0.9642, 1e-4); // white of the ICC connection space, ICC.1:2022 7.2.16
    check_close(xyz.Y, 1.0, 1e-4);
    check_close(xyz.Z, 0.8249, 1e-4);
    // 180 140 100 through LittleCMS 2.14's transicc, sRGB to L*a*b*: 61.4186 11.8398 27.4861.
    const double brown[3] = {hw_srgb_linear(180 / 255.0), hw_srgb_linear(140 / 255.0),
                             hw_srgb_linear(100 / 255.0)};
    hw_lab lab = hw_lab_from_xyz(hw_xyz_from_linear_srgb(brown), hw_white_d50);
    check_close(lab.L, 61.4186, 2e-4);
    check_close(lab.a, 11.8398, 2e-4);
    check_close(lab.b, 27.4861, 2e-4);
}

static void check_columns(hw_xyz (*adapt)(hw_xyz, hw_xyz, hw_xyz), const double want[3][3])
{
    const hw_xyz d65 = {0.95047, 1.0, 1.08883}, unit[3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    for (int column = 0; column < 3; column++) {
        hw_xyz image = adapt(unit[column], d65, hw_white_d50);
        check_close(image.X, want[0][column], 6e-7);
        check_close(image.Y, want[1][column], 6e-7);
        check_close(image.Z, want[2][column], 6e-7);
    }
}

// D65 to D50: Bradford (Lam 1985; ICC.1:2022 annex E) and CAT16 (Li et al. 2017); matrices
// computed from the published cone matrices in Python, double precision.
static void test_adaptation(void)
{
    const double bradford[3][3] = {{1.0478400, 0.0228979, -0.0501808},
                                   {0.0295537, 0.9904924, -0.0170663},
                                   {-0.0092459, 0.0150633, 0.7518389}};
    const double cat16[3][3] = {{1.0108265, 0.0406179, -0.0341451},
                                {0.0054165, 0.9935910, 0.0011579},
                                {0.0002513, -0.0114939, 0.7679390}};
    check_columns(hw_adapt_bradford, bradford);
    check_columns(hw_adapt_cat16, cat16);
    double bands[3];
    hw_sharpen((hw_xyz){1, 1, 1}, bands); // rows of the published matrix sum to these
    check_close(bands[0], 0.8951 + 0.2664 - 0.1614, 1e-12);
    hw_xyz back = hw_unsharpen(bands);
    check_close(back.X + back.Y + back.Z, 3.0, 1e-12);
}

// Whites by summation at 5 nm: CIE 15:2018 gives A 1.09850 0.35585, D50 0.96422 0.82521, D65
// 0.95047 1.08883, D55 0.95682 0.92149, D75 0.94972 1.22638 (beyond 7000 K, where daylight follows
// another curve).
static void test_lights(void)
{
    const double want[5][2] = {{1.09850, 0.35585},
                               {0.96422, 0.82521},
                               {0.95047, 1.08883},
                               {0.95682, 0.92149},
                               {0.94972, 1.22638}};
    const hw_spectrum light[5] = {hw_planckian(2855.5), hw_daylight(5003.0), hw_daylight(6504.0),
                                  hw_daylight(5503.0), hw_daylight(7504.0)};
    hw_spectrum one;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        one.at[i] = 1.0;
    }
    for (int k = 0; k < 5; k++) {
        hw_xyz white = hw_xyz_of_reflectance(&one, &light[k]);
        check_close(white.X, want[k][0], 2e-4);
        check_close(white.Y, 1.0, 1e-12);
        check_close(white.Z, want[k][1], 2e-4);
    }
    // Illuminant A: 9.80 at 380, 241.68 at 780 nm.
    check_close(light[0].at[0], 9.80, 0.01);
    check_close(light[0].at[80], 241.68, 0.05);
}

// Every tenth nm of D65: one wrong figure in the components of daylight shows here. CIE 15:2018
// rounds the weights M1 and M2 to three decimals, which moves the power by up to 0.0005 (|S1| +
// |S2|), 0.025 at most, and prints two decimals, 0.005.
static void d65(const check_row *row)
{
    const hw_spectrum light = hw_daylight(6504.0);
    size_t at = ((size_t)row->num[0] - HW_SPECTRUM_FIRST_NM) / HW_SPECTRUM_STEP_NM;
    check_near(row, light.at[at] / light.at[36] * 100.0, row->num[1], 0.03);
}

// y of the observer peaks with 1 at 555 nm, and the three functions have equal sums (equal energy
// is white): ISO/CIE 11664-1.
static void test_observer(void)
{
    double sum[3] = {0};
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        for (int k = 0; k < 3; k++) {
            sum[k] += hw_cie_1931[i][k];
        }
    }
    check_close(hw_cie_1931[35][1], 1.0, 1e-9);
    check_close(sum[0] / sum[1], 1.0, 3e-4);
    check_close(sum[2] / sum[1], 1.0, 3e-4);
    check_close(sum[1], 21.371, 0.001); // CIE 15: sum of y at 5 nm
    // Chromaticities of the spectral locus, CIE 15:2018, from memory.
    const double locus[8][3] = {{450, 0.15664, 0.01771}, {480, 0.09129, 0.13270},
                                {500, 0.00817, 0.53842}, {520, 0.07430, 0.83380},
                                {550, 0.30160, 0.69231}, {580, 0.51249, 0.48659},
                                {600, 0.62704, 0.37249}, {700, 0.73469, 0.26531}};
    for (int i = 0; i < 8; i++) {
        const double *at = hw_cie_1931[((int)locus[i][0] - 380) / 5];
        check_close(at[0] / (at[0] + at[1] + at[2]), locus[i][1], 1.1e-5);
        check_close(at[1] / (at[0] + at[1] + at[2]), locus[i][2], 1.1e-5);
    }
}

static void test_covariance(void)
{
    uint64_t seed = 3;
    for (int i = 0; i < 200; i++) {
        double most = i % 2 ? 1.0 : 0.007; // every second one on the straight part, below 0.008856
        hw_xyz at = {most * (0.001 + picture_random(&seed)), most * (0.001 + picture_random(&seed)),
                     most * (0.001 + picture_random(&seed))};
        double jacobian[3][3];
        hw_lab_jacobian(at, hw_white_d50, jacobian);
        for (int c = 0; c < 3; c++) {
            hw_xyz up = at;
            double step = 1e-8;
            *(c == 0 ? &up.X : c == 1 ? &up.Y : &up.Z) += step;
            hw_lab one = hw_lab_from_xyz(at, hw_white_d50), two = hw_lab_from_xyz(up, hw_white_d50);
            const double numeric[3] = {(two.L - one.L) / step, (two.a - one.a) / step,
                                       (two.b - one.b) / step};
            for (int r = 0; r < 3; r++) {
                check_report(fabs(numeric[r] - jacobian[r][c]) <=
                                 1e-3 * (1.0 + fabs(jacobian[r][c])),
                             __FILE__, __LINE__, "the jacobian is the slope");
            }
        }
    }
    // J S J' by hand: a shear of variance 1 and 4.
    hw_covariance s = hw_covariance_diagonal(1, 4, 9);
    const double shear[3][3] = {{1, 2, 0}, {0, 1, 0}, {0, 0, 1}};
    hw_covariance out = hw_covariance_map(shear, &s);
    check_close(out.m[0][0], 17, 1e-12);
    check_close(out.m[0][1], 8, 1e-12);
    check_close(hw_covariance_sum(&s, &out).m[2][2], 18, 1e-12);
}

int main(void)
{
    test_lightness();
    test_round_trip();
    test_srgb();
    test_adaptation();
    test_lights();
    check_table("colour/d65.tsv", 2, d65);
    test_observer();
    test_covariance();
    return check_done();
}
