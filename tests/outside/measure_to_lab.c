// measure_to_lab.c: 2,000 random colours as an instrument would write them, X, Y, Z under D50 or D65 or L*a*b* under
// D65, read back as a file; a line each, for check_culori_measure.mjs: what it was, three numbers, L*a*b*.
#include "base_internal.h"
#include "huewright/measure.h"
#include "picture.h"

#include <stdio.h>

static int tell(const char *what, const char *header, const double (*value)[3], size_t count)
{
    hw_text text = {0};
    hw_measured measured = {0};
    hw_text_add(&text, "%s\n", header);
    for (size_t i = 0; i < count; i++) {
        hw_text_add(&text, "%.9f,%.9f,%.9f\n", value[i][0], value[i][1], value[i][2]);
    }
    if (hw_measure_parse(text.bytes, text.length, what, NULL, &measured, NULL) != HW_OK) {
        return 1;
    }
    for (size_t i = 0; i < count; i++) {
        hw_lab lab = measured.reading[i].lab;
        printf("%s %.9f %.9f %.9f %.9f %.9f %.9f\n", what, value[i][0], value[i][1], value[i][2],
               lab.L, lab.a, lab.b);
    }
    hw_measured_free(&measured);
    hw_text_free(&text);
    return 0;
}

int main(void)
{
    static double xyz[2000][3], lab[2000][3];
    uint64_t seed = 20260503;
    for (int i = 0; i < 2000; i++) {
        // Colours of matter, near the line of greys: Y from 1 to 90 %.
        double Y = 1.0 + 89.0 * picture_random(&seed);
        xyz[i][0] = Y * (0.85 + 0.3 * picture_random(&seed));
        xyz[i][1] = Y;
        xyz[i][2] = Y * (0.4 + 0.7 * picture_random(&seed));
        lab[i][0] = 5.0 + 90.0 * picture_random(&seed);
        lab[i][1] = 60.0 * picture_random(&seed) - 30.0;
        lab[i][2] = 80.0 * picture_random(&seed) - 30.0;
    }
    const double(*x)[3] = (const double(*)[3])xyz, (*l)[3] = (const double(*)[3])lab;
    return tell("xyz50", "X (D50 2deg),Y,Z", x, 2000) + tell("xyz65", "X (D65 2deg),Y,Z", x, 2000) +
           tell("lab65", "L* (D65 2deg),a*,b*", l, 2000);
}
