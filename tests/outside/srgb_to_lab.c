// srgb_to_lab.c: 10,000 random 8-bit sRGB colours (fixed seed) with their L*a*b* D50 by huewright,
// a line each, for check_culori.mjs.
#include "huewright/colour.h"
#include "picture.h"

#include <stdio.h>

int main(void)
{
    uint64_t seed = 20261125;
    for (int i = 0; i < 10000; i++) {
        unsigned code[3];
        double linear[3];
        for (int k = 0; k < 3; k++) {
            code[k] = (unsigned)(256.0 * picture_random(&seed));
            linear[k] = hw_srgb_linear(code[k] / 255.0);
        }
        hw_lab lab = hw_lab_from_xyz(hw_xyz_from_linear_srgb(linear), hw_white_d50);
        printf("%u %u %u %.9f %.9f %.9f\n", code[0], code[1], code[2], lab.L, lab.a, lab.b);
    }
    return 0;
}
