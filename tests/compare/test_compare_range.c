// Ranges, distributions and spread against reference values.
#include "check.h"
#include "compare_internal.h"
#include "picture.h"

// Non-central chi-squared with 3 degrees of freedom: scipy.stats.ncx2.cdf(r^2, 3, m^2), chi2.cdf
// (scipy 1.10.1).
static void within(const check_row *row)
{
    check_near(row, hw_compare_within(row->num[0], row->num[1]), row->num[2], 1e-9);
}

// F(3, d): scipy.stats.f.sf (scipy 1.10.1).
static void f_tail(const check_row *row)
{
    check_near(row, hw_compare_f_tail(row->num[0], row->num[1]), row->num[2], 1e-9);
}

// Worked pair (own computation in Python for a brown pair, s.d. 0.3 an axis on each colour): gap
// 3.0557, u 0.38 by the gradient of either colour (0.378 and 0.391). The upper end is gap + 1.645
// u, the lower a little below gap - 1.645 u.
static void test_far_range(void)
{
    hw_covariance s = hw_covariance_diagonal(0.18, 0.18, 0.18);
    double low, high;
    hw_gap_range((hw_lab){55, 12, 28}, (hw_lab){52.5, 13.5, 26}, &s, &low, &high);
    check_close((high - 3.0557) / 1.645, 0.38, 0.015);
    check_true(low < 3.0557 - 1.645 * 0.38 && low > 3.0557 - 1.645 * 0.38 - 0.15);
}

// What the range promises: of many readings of a known gap, nine in ten ranges hold it, and near
// nothing the upper end is passed in at most 1 of 20 (Monte Carlo with the test's own normal
// numbers).
static void test_coverage(void)
{
    const double gap[4] = {0.0, 0.4, 1.0, 4.0};
    uint64_t seed = 5;
    for (int g = 0; g < 4; g++) {
        hw_lab target = {50, 12, 25}, patch = {50 + gap[g], 12, 25};
        double truth = hw_ciede2000(target, patch);
        hw_covariance s = hw_covariance_diagonal(0.09, 0.09, 0.09);
        int inside = 0, over = 0, runs = 4000;
        for (int i = 0; i < runs; i++) {
            hw_lab seen = {patch.L + 0.3 * picture_normal(&seed),
                           patch.a + 0.3 * picture_normal(&seed),
                           patch.b + 0.3 * picture_normal(&seed)};
            double low, high;
            hw_gap_range(target, seen, &s, &low, &high);
            inside += truth >= low - 1e-9 && truth <= high;
            over += truth > high;
        }
        printf("gap %.2f: inside %.3f, above %.3f\n", truth, (double)inside / runs,
               (double)over / runs);
        check_true(inside >= 0.87 * runs);
        check_true(over <= 0.08 * runs);
    }
}

// The chance of a small gap against plain counting: 40,000 normal draws of the test's own.
static void test_chance(void)
{
    static const double covariance[3][3] = {{0.8, 0.2, -0.1}, {0.2, 0.4, 0.15}, {-0.1, 0.15, 0.6}};
    hw_lab target = {45, 10, 22}, patch = {46.5, 9.2, 22.6};
    hw_covariance s;
    double low[3][3];
    uint64_t seed = 9;
    memcpy(s.m, covariance, sizeof s.m);
    hw_covariance_root(&s, low);
    for (int r = 0; r < 3; r++) { // the triangle is a root
        for (int c = 0; c < 3; c++) {
            double sum = low[r][0] * low[c][0] + low[r][1] * low[c][1] + low[r][2] * low[c][2];
            check_close(sum, covariance[r][c], 1e-12);
        }
    }
    for (double radius = 1.0; radius < 3.0; radius += 0.5) {
        int within = 0, draws = 40000;
        for (int i = 0; i < draws; i++) {
            double z[3] = {picture_normal(&seed), picture_normal(&seed), picture_normal(&seed)};
            hw_lab one = {patch.L + low[0][0] * z[0], patch.a + low[1][0] * z[0] + low[1][1] * z[1],
                          patch.b + low[2][0] * z[0] + low[2][1] * z[1] + low[2][2] * z[2]};
            within += hw_ciede2000(target, one) < radius;
        }
        check_close(hw_compare_chance(target, patch, &s, radius), (double)within / draws, 0.015);
    }
    hw_covariance none = {{{0}}};
    check_close(hw_compare_chance(target, patch, &none, 1.0), 0.0, 0.0);
    check_close(hw_compare_chance(target, patch, &none, 5.0), 1.0, 0.0);
}

// Reading twice the same colour with 0.3 an axis on the difference: 95 % of CIEDE2000 lie below
// 0.68 on a brown (simulation of this pair, 10^5 draws, Python).
static void test_tellable(void)
{
    hw_covariance s = hw_covariance_diagonal(0.09, 0.09, 0.09);
    uint64_t seed = 9;
    hw_lab brown = {50, 12, 25};
    double bound = hw_compare_tellable(brown, &s);
    int above = 0, runs = 20000;
    for (int i = 0; i < runs; i++) {
        hw_lab seen = {brown.L + 0.3 * picture_normal(&seed), brown.a + 0.3 * picture_normal(&seed),
                       brown.b + 0.3 * picture_normal(&seed)};
        above += hw_ciede2000(brown, seen) > bound;
    }
    printf("tellable %.3f, passed by %.4f\n", bound, (double)above / runs);
    check_close((double)above / runs, 0.05, 0.01);
}

// Six regions and a patch: T squared 27.3236 (own computation in numpy); with the prior Q =
// 10.1114 and 10 degrees of freedom p = 0.0629 (scipy.stats.f).
static void test_t_squared(void)
{
    const hw_lab lab[6] = {{55, 12, 28},       {53, 12.5, 27.2}, {56.2, 11.4, 28.9},
                           {54.1, 12.2, 26.8}, {57, 11.7, 29.5}, {54.6, 12.8, 28.1}};
    hw_xyz pieces[6];
    for (int i = 0; i < 6; i++) {
        pieces[i] = hw_xyz_from_lab(lab[i], hw_white_d50);
    }
    double t, p;
    hw_compare_t_squared(pieces, 6, (hw_lab){50.5, 13.6, 27}, &t, &p);
    check_close(t, 27.3236, 0.0005);
    check_close(p, 0.0629, 0.0001);
    hw_compare_t_squared(pieces, 3, (hw_lab){50.5, 13.6, 27}, &t, &p);
    check_true(isnan(t) && p > 0.0 && p < 1.0);
}

// The spread by its definition, and its floor.
static void test_spread(void)
{
    hw_lab mean = {50, 12, 25};
    hw_xyz pieces[3] = {hw_xyz_from_lab((hw_lab){52, 12, 25}, hw_white_d50),
                        hw_xyz_from_lab((hw_lab){48, 12, 25}, hw_white_d50),
                        hw_xyz_from_lab(mean, hw_white_d50)};
    double up = hw_ciede2000(mean, (hw_lab){52, 12, 25}),
           down = hw_ciede2000(mean, (hw_lab){48, 12, 25});
    check_close(hw_compare_spread(pieces, 3, mean), sqrt((up * up + down * down) / 2), 1e-6);
    check_close(hw_compare_spread(pieces + 2, 1, mean), 0.7, 0.0);
    // With what the job knows: pooled by degrees of freedom, an earlier photo as 12 at most.
    double axis[3];
    hw_compare_spread_axes(pieces, 1, 1.0, axis); // one piece: the same floor, by Pythagoras
    check_close(sqrt(axis[0] * axis[0] + axis[1] * axis[1] + axis[2] * axis[2]), 0.7, 1e-12);
    // s.d. by Python's statistics.stdev; the third axis stands on its floor; all grown by 2.
    hw_xyz wood[4] = {hw_xyz_from_lab((hw_lab){44.1, 11.0, 22.0}, hw_white_d50),
                      hw_xyz_from_lab((hw_lab){47.3, 12.5, 22.1}, hw_white_d50),
                      hw_xyz_from_lab((hw_lab){45.0, 9.5, 22.3}, hw_white_d50),
                      hw_xyz_from_lab((hw_lab){46.2, 12.0, 22.2}, hw_white_d50)};
    hw_compare_spread_axes(wood, 4, 2.0, axis);
    check_close(axis[0], 2 * 1.3964240043768927, 1e-6);
    check_close(axis[1], 2 * 1.3228756555322954, 1e-6);
    check_close(axis[2], 2 * 0.7 / sqrt(3.0), 1e-12);
    hw_earlier earlier = {.spread = 2.0, .count = 40, .repeats = 3, .repeat = {0.5, 0.0, 0.1}};
    check_close(hw_compare_spread_with(1.0, 5, &earlier), sqrt((4 * 1.0 + 12 * 4.0) / 16), 1e-12);
    check_close(hw_compare_spread_with(0.7, 1, &earlier), 2.0, 1e-12);
    check_close(hw_compare_spread_with(1.3, 5, NULL), 1.3, 0.0);
    hw_covariance reading = hw_covariance_diagonal(0.01, 0.01, 0.01);
    hw_compare_repeats(&earlier, &reading);
    check_close(reading.m[0][0], (4 * 0.01 + 2 * 0.25) / 6, 1e-12);
    check_close(reading.m[1][1], 4 * 0.01 / 6, 1e-12);
}

int main(void)
{
    check_table("compare/noncentral_chi3.tsv", 3, within);
    check_table("compare/f_tail.tsv", 3, f_tail);
    test_far_range();
    test_coverage();
    test_chance();
    test_tellable();
    test_t_squared();
    test_spread();
    return check_done();
}
