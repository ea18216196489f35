// Colour differences against the published pairs and against LittleCMS.
#include "check.h"
#include "huewright/colour.h"
#include "picture.h"

#include <lcms2.h>

// Every pair of the paper, both ways round: the difference is symmetric.
static void pair(const check_row *row)
{
    hw_lab one = {row->num[0], row->num[1], row->num[2]},
           two = {row->num[3], row->num[4], row->num[5]};
    check_near(row, hw_ciede2000(one, two), row->num[6], 0.00005);
    check_near(row, hw_ciede2000(two, one), row->num[6], 0.00005);
}

// 100,000 random pairs against LittleCMS' cmsCIE2000DeltaE (Debian liblcms2, whatever version is
// installed).
static void test_against_littlecms(void)
{
    uint64_t seed = 1;
    double most = 0.0;
    for (int i = 0; i < 100000; i++) {
        hw_lab one = {100 * picture_random(&seed), 160 * picture_random(&seed) - 80,
                      160 * picture_random(&seed) - 80};
        hw_lab two = {one.L + 20 * picture_random(&seed) - 10,
                      one.a + 20 * picture_random(&seed) - 10,
                      one.b + 20 * picture_random(&seed) - 10};
        cmsCIELab a = {one.L, one.a, one.b}, b = {two.L, two.a, two.b};
        most = fmax(most, fabs(hw_ciede2000(one, two) - cmsCIE2000DeltaE(&a, &b, 1, 1, 1)));
    }
    // Hues exactly opposite: an arctangent's last bit must not decide which mean hue is taken.
    for (int i = 0; i < 2000; i++) {
        double l = 100 * picture_random(&seed), a = 80 * picture_random(&seed),
               b = 80 * picture_random(&seed);
        cmsCIELab one = {l, a, -b}, two = {l, -a, b};
        double ours = hw_ciede2000((hw_lab){l, a, -b}, (hw_lab){l, -a, b});
        most = fmax(most, fabs(ours - cmsCIE2000DeltaE(&one, &two, 1, 1, 1)));
    }
    printf("largest difference from LittleCMS: %.2g\n", most);
    check_true(most < 1e-6);
}

// What any difference must keep, on random pairs: zero with itself and only there, the same both
// ways round, and signs that turn with the order.
static void test_laws(void)
{
    uint64_t seed = 4;
    for (int i = 0; i < 2000; i++) {
        hw_lab one = {100 * picture_random(&seed), 160 * picture_random(&seed) - 80,
                      160 * picture_random(&seed) - 80};
        hw_lab two = {100 * picture_random(&seed), 160 * picture_random(&seed) - 80,
                      160 * picture_random(&seed) - 80};
        hw_difference there = hw_difference_of(one, two), back = hw_difference_of(two, one);
        hw_difference none = hw_difference_of(one, one);
        check_close(back.de00, there.de00, 1e-11);
        check_close(back.de76, there.de76, 1e-12);
        check_true(there.de00 > 0 && there.de76 > 0 && there.de94 > 0);
        check_true(there.de00 == hw_ciede2000(one, two));
        check_true(back.L == -there.L && back.a == -there.a && back.b == -there.b &&
                   back.C == -there.C);
        check_close(back.H, -there.H, 1e-11);
        check_true(none.de00 == 0 && none.de76 == 0 && none.de94 == 0 && none.H == 0);
    }
}

// The gradient against differences of LittleCMS, ten times as far apart as its own.
static void test_gradient(void)
{
    uint64_t seed = 5;
    for (int i = 0; i < 500; i++) {
        hw_lab one = {20 + 60 * picture_random(&seed), 5 + 15 * picture_random(&seed),
                      5 + 30 * picture_random(&seed)}; // browns
        hw_lab two = {one.L + 2 + 4 * picture_random(&seed), one.a + 4 * picture_random(&seed),
                      one.b - 4 * picture_random(&seed)};
        double gradient[3];
        hw_ciede2000_gradient(one, two, gradient);
        for (int k = 0; k < 3; k++) {
            cmsCIELab at = {one.L, one.a, one.b}, up = {two.L, two.a, two.b}, down = up;
            *(k == 0 ? &up.L : k == 1 ? &up.a : &up.b) += 1e-3;
            *(k == 0 ? &down.L : k == 1 ? &down.a : &down.b) -= 1e-3;
            double slope =
                (cmsCIE2000DeltaE(&at, &up, 1, 1, 1) - cmsCIE2000DeltaE(&at, &down, 1, 1, 1)) /
                2e-3;
            check_close(gradient[k], slope, 1e-5);
        }
    }
}

// A brown pair: CIE 1976 and CIE 116-1995 (S_C = 1 + 0.045 C, S_H = 1 + 0.015 C with C of the
// first colour) by hand from their definitions; scikit-image 0.19.3 gives dE94 2.9656 as well.
static void test_parts(void)
{
    hw_difference gap = hw_difference_of((hw_lab){55, 12, 28}, (hw_lab){52.5, 13.5, 26});
    check_close(gap.de76, sqrt(2.5 * 2.5 + 1.5 * 1.5 + 2.0 * 2.0), 1e-12);
    check_close(gap.de76, 3.5355, 0.00005);
    check_close(gap.de94, 2.9656, 0.00005);
    cmsCIELab first = {55, 12, 28}, second = {52.5, 13.5, 26};
    check_close(gap.de00, cmsCIE2000DeltaE(&first, &second, 1, 1, 1), 1e-9);
    check_close(gap.C, hypot(13.5, 26) - hypot(12, 28), 1e-12);
    check_close(gap.H, -2.2108, 0.00005); // redder: turns clockwise
    check_close(gap.L * gap.L + gap.C * gap.C + gap.H * gap.H, gap.de76 * gap.de76,
                1e-9); // CIE 15:2018, 8.2.1.3
    double gradient[3];
    hw_ciede2000_gradient((hw_lab){55, 12, 28}, (hw_lab){52.5, 13.5, 26}, gradient);
    hw_lab moved = {52.5 - 0.01, 13.5, 26};
    check_close(hw_ciede2000((hw_lab){55, 12, 28}, moved) - gap.de00, -0.01 * gradient[0], 1e-5);
    hw_ciede2000_gradient(moved, moved, gradient);
    check_true(gradient[0] == 0.0 && gradient[1] == 0.0 && gradient[2] == 0.0);
    check_close(hw_ciede2000(moved, moved), 0.0, 0.0);
    check_close(hw_ciede2000((hw_lab){50, 0, 0}, (hw_lab){51, 0, 0}), 1.0,
                0.01); // S_L is 1 at L* 50
}

int main(void)
{
    check_table("colour/ciede2000.tsv", 7, pair);
    check_true(check_passed == 34 * 2 + 34 + 2);
    test_against_littlecms();
    test_laws();
    test_gradient();
    test_parts();
    return check_done();
}
