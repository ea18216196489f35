// colour_spectrum.c: lights and reflectances at 5 nm, and their colour for the CIE 1931 observer.
#include "huewright/colour.h"

#include <math.h>

// CIE daylight components S0, S1, S2 every 10 nm, 380 to 780 nm (CIE 15:2018, table 6; Judd,
// MacAdam and Wyszecki 1964). Between them linear, as CIE 15 asks.
static const double daylight_parts[][3] = {
    {63.4, 38.5, 3.0},   {65.8, 35.0, 1.2},   {94.8, 43.4, -1.1},  {104.8, 46.3, -0.5},
    {105.9, 43.9, -0.7}, {96.8, 37.1, -1.2},  {113.9, 36.7, -2.6}, {125.6, 35.9, -2.9},
    {125.5, 32.6, -2.8}, {121.3, 27.9, -2.6}, {121.3, 24.3, -2.6}, {113.5, 20.1, -1.8},
    {113.1, 16.2, -1.5}, {110.8, 13.2, -1.3}, {106.5, 8.6, -1.2},  {108.8, 6.1, -1.0},
    {105.3, 4.2, -0.5},  {104.4, 1.9, -0.3},  {100.0, 0.0, 0.0},   {96.0, -1.6, 0.2},
    {95.1, -3.5, 0.5},   {89.1, -3.5, 2.1},   {90.5, -5.8, 3.2},   {90.3, -7.2, 4.1},
    {88.4, -8.6, 4.7},   {84.0, -9.5, 5.1},   {85.1, -10.9, 6.7},  {81.9, -10.7, 7.3},
    {82.6, -12.0, 8.6},  {84.9, -14.0, 9.8},  {81.3, -13.6, 10.2}, {71.9, -12.0, 8.3},
    {74.3, -13.3, 9.6},  {76.4, -12.9, 8.5},  {63.3, -10.6, 7.0},  {71.7, -11.6, 7.6},
    {77.0, -12.2, 8.0},  {65.2, -10.2, 6.7},  {47.7, -7.8, 5.2},   {68.6, -11.2, 7.4},
    {65.0, -10.4, 6.8},
};

// Chromaticity of daylight and the weights of its components: CIE 15:2018, 4.1.2.
hw_spectrum hw_daylight(double kelvin)
{
    double t = 1000.0 / kelvin;
    double x = kelvin <= 7000.0 ? ((-4.6070 * t + 2.9678) * t + 0.09911) * t + 0.244063
                                : ((-2.0064 * t + 1.9018) * t + 0.24748) * t + 0.237040;
    double y = (-3.000 * x + 2.870) * x - 0.275;
    double M = 0.0241 + 0.2562 * x - 0.7341 * y;
    double M1 = (-1.3515 - 1.7703 * x + 5.9114 * y) / M;
    double M2 = (0.0300 - 31.4424 * x + 30.0717 * y) / M;
    hw_spectrum light;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        const double *low = daylight_parts[i / 2];
        const double *high = daylight_parts[i / 2 + i % 2];
        light.at[i] = 0.5 * (low[0] + high[0]) + M1 * 0.5 * (low[1] + high[1]) +
                      M2 * 0.5 * (low[2] + high[2]);
    }
    return light;
}

hw_spectrum hw_planckian(double kelvin)
{
    const double c2 = 1.4388e7; // nm K
    hw_spectrum light;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        double nm = HW_SPECTRUM_FIRST_NM + HW_SPECTRUM_STEP_NM * i;
        light.at[i] =
            100.0 * pow(560.0 / nm, 5.0) * expm1(c2 / (kelvin * 560.0)) / expm1(c2 / (kelvin * nm));
    }
    return light;
}

hw_xyz hw_xyz_of_reflectance(const hw_spectrum *reflectance, const hw_spectrum *light)
{
    double sum[3] = {0.0, 0.0, 0.0}, white = 0.0;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        for (int k = 0; k < 3; k++) {
            sum[k] += reflectance->at[i] * light->at[i] * hw_cie_1931[i][k];
        }
        white += light->at[i] * hw_cie_1931[i][1];
    }
    return (hw_xyz){sum[0] / white, sum[1] / white, sum[2] / white};
}
