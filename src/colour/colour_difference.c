// colour_difference.c: how far two colours are apart.
//
// CIEDE2000: ISO/CIE 11664-6:2022, in the steps and with the special cases of Sharma, Wu and Dalal
// (2005), Color Research and Application 30(1) 21. Hues exactly 180 degrees apart count as not
// crossing, with a tolerance of 1e-9 degrees: arctangents differ in the last bit between machines,
// and without it pair 14 of that paper comes out as 4.746 on some.
#include "huewright/colour.h"

#include <math.h>

static const double degree = 3.14159265358979323846 / 180.0;

static double hue_degrees(double a, double b)
{
    return hw_lab_hue((hw_lab){0.0, a, b});
}

static double to_the_7(double x)
{
    double cube = x * x * x;
    return cube * cube * x;
}

static double share_of_25_to_the_7(double chroma)
{
    return sqrt(to_the_7(chroma) / (to_the_7(chroma) + 6103515625.0)); // 25^7
}

static double mean_hue(double h1, double h2)
{
    if (fabs(h1 - h2) <= 180.0 + 1e-9) {
        return 0.5 * (h1 + h2);
    }
    return h1 + h2 < 360.0 ? 0.5 * (h1 + h2 + 360.0) : 0.5 * (h1 + h2 - 360.0);
}

static double hue_step(double h1, double h2)
{
    double step = h2 - h1;
    if (step > 180.0 + 1e-9) {
        return step - 360.0;
    }
    return step < -180.0 - 1e-9 ? step + 360.0 : step;
}

double hw_ciede2000(hw_lab first, hw_lab second)
{
    double mean_C = 0.5 * (hw_lab_chroma(first) + hw_lab_chroma(second));
    double G = 0.5 * (1.0 - share_of_25_to_the_7(mean_C));
    double a1 = (1.0 + G) * first.a, a2 = (1.0 + G) * second.a;
    double C1 = hypot(a1, first.b), C2 = hypot(a2, second.b);
    double h1 = hue_degrees(a1, first.b), h2 = hue_degrees(a2, second.b);
    bool grey = C1 * C2 == 0.0;
    double dh = grey ? 0.0 : hue_step(h1, h2);
    double dL = second.L - first.L, dC = C2 - C1;
    double dH = 2.0 * sqrt(C1 * C2) * sin(0.5 * dh * degree);
    double L = 0.5 * (first.L + second.L), C = 0.5 * (C1 + C2);
    double h = grey ? h1 + h2 : mean_hue(h1, h2);
    double T = 1.0 - 0.17 * cos((h - 30.0) * degree) + 0.24 * cos(2.0 * h * degree) +
               0.32 * cos((3.0 * h + 6.0) * degree) - 0.20 * cos((4.0 * h - 63.0) * degree);
    double off_50 = (L - 50.0) * (L - 50.0);
    double S_L = 1.0 + 0.015 * off_50 / sqrt(20.0 + off_50);
    double S_C = 1.0 + 0.045 * C, S_H = 1.0 + 0.015 * C * T;
    double turn = (h - 275.0) / 25.0;
    double R_T = -2.0 * share_of_25_to_the_7(C) * sin(60.0 * exp(-turn * turn) * degree);
    double l = dL / S_L, c = dC / S_C, H = dH / S_H;
    return sqrt(fmax(l * l + c * c + H * H + R_T * c * H, 0.0));
}

hw_difference hw_difference_of(hw_lab first, hw_lab second)
{
    hw_difference gap = {0};
    double C1 = hw_lab_chroma(first), C2 = hw_lab_chroma(second);
    gap.L = second.L - first.L;
    gap.a = second.a - first.a;
    gap.b = second.b - first.b;
    gap.C = C2 - C1;
    // 2 sqrt(C1 C2) sin(dh / 2) with the sign of the turn, for any pair of hues.
    double turn =
        atan2(first.a * second.b - second.a * first.b, first.a * second.a + first.b * second.b);
    gap.H = 2.0 * sqrt(C1 * C2) * sin(0.5 * turn);
    gap.de76 = sqrt(gap.L * gap.L + gap.a * gap.a + gap.b * gap.b);
    double c = gap.C / (1.0 + 0.045 * C1), h = gap.H / (1.0 + 0.015 * C1);
    gap.de94 = sqrt(gap.L * gap.L + c * c + h * h);
    gap.de00 = hw_ciede2000(first, second);
    return gap;
}

void hw_ciede2000_gradient(hw_lab first, hw_lab second, double gradient[3])
{
    const double step = 1e-4;
    bool same = first.L == second.L && first.a == second.a && first.b == second.b;
    for (int axis = 0; axis < 3; axis++) {
        hw_lab up = second, down = second;
        *(axis == 0 ? &up.L : axis == 1 ? &up.a : &up.b) += step;
        *(axis == 0 ? &down.L : axis == 1 ? &down.a : &down.b) -= step;
        gradient[axis] =
            same ? 0.0 : (hw_ciede2000(first, up) - hw_ciede2000(first, down)) / (2.0 * step);
    }
}
