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

// 20,000 random pairs against LittleCMS' cmsCIE2000DeltaE (Debian liblcms2, whatever version is
// installed).
static void test_against_littlecms(void)
{
    uint64_t seed = 1;
    double most = 0.0;
    for (int i = 0; i < 20000; i++) {
        hw_lab one = {100 * picture_random(&seed), 160 * picture_random(&seed) - 80,
                      160 * picture_random(&seed) - 80};
        hw_lab two = {one.L + 20 * picture_random(&seed) - 10,
                      one.a + 20 * picture_random(&seed) - 10,
                      one.b + 20 * picture_random(&seed) - 10};
        cmsCIELab a = {one.L, one.a, one.b}, b = {two.L, two.a, two.b};
        most = fmax(most, fabs(hw_ciede2000(one, two) - cmsCIE2000DeltaE(&a, &b, 1, 1, 1)));
    }
    printf("largest difference from LittleCMS: %.2g\n", most);
    check_true(most < 1e-6);
}

// A brown pair: CIE 1976 and CIE 116-1995 (S_C = 1 + 0.045 C, S_H = 1 + 0.015 C with C of the
// first colour) by hand from their definitions; scikit-image 0.19.3 gives dE94 2.9656 as well.
static void test_parts(void)
{
    hw_difference gap = hw_difference_of((hw_lab){55, 12, 28}, (hw_lab){52.5, 13.5, 26});
    check_close(gap.de76, sqrt(2.5 * 2.5 + 1.5 * 1.5 + 2.0 * 2.0), 1e-12);
    check_close(gap.de94, 2.9656, 0.00005);
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
    test_parts();
    return check_done();
}
