// colour_space.c: from X, Y, Z to L*a*b* and back, linear sRGB, and the Bradford-sharpened bands in
// which light is corrected and layers are densities.
//
// L*a*b*: CIE 15:2018, 8.2.1, ISO/CIE 11664-4, with 216/24389 and 24389/27 exactly, so that the
// two branches meet. Below 0 the straight branch goes on.
#include "huewright/colour.h"

#include <math.h>

const hw_xyz hw_white_d50 = {0.9642, 1.0, 0.8249};

// ---- L*a*b* ------------------------------------------------------------------------

static const double toe = 216.0 / 24389.0;  // (6/29)^3
static const double slope = 24389.0 / 27.0; // (29/3)^3

static double to_f(double ratio)
{
    return ratio > toe ? cbrt(ratio) : (slope * ratio + 16.0) / 116.0;
}

static double from_f(double f)
{
    double cube = f * f * f;
    return cube > toe ? cube : (116.0 * f - 16.0) / slope;
}

hw_lab hw_lab_from_xyz(hw_xyz colour, hw_xyz white)
{
    double fx = to_f(colour.X / white.X), fy = to_f(colour.Y / white.Y);
    double fz = to_f(colour.Z / white.Z);
    return (hw_lab){116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)};
}

hw_xyz hw_xyz_from_lab(hw_lab colour, hw_xyz white)
{
    double fy = (colour.L + 16.0) / 116.0;
    return (hw_xyz){white.X * from_f(fy + colour.a / 500.0), white.Y * from_f(fy),
                    white.Z * from_f(fy - colour.b / 200.0)};
}

double hw_lab_chroma(hw_lab colour)
{
    return sqrt(colour.a * colour.a + colour.b * colour.b);
}

double hw_lab_hue(hw_lab colour)
{
    if (colour.a == 0.0 && colour.b == 0.0) {
        return 0.0;
    }
    double degrees = atan2(colour.b, colour.a) * (180.0 / 3.14159265358979323846);
    return degrees < 0.0 ? degrees + 360.0 : degrees;
}

// d f / d ratio, of either branch.
static double slope_of_f(double ratio)
{
    if (ratio > toe) {
        double f = cbrt(ratio);
        return 1.0 / (3.0 * f * f);
    }
    return slope / 116.0;
}

void hw_lab_jacobian(hw_xyz colour, hw_xyz white, double jacobian[3][3])
{
    double dx = slope_of_f(colour.X / white.X) / white.X;
    double dy = slope_of_f(colour.Y / white.Y) / white.Y;
    double dz = slope_of_f(colour.Z / white.Z) / white.Z;
    const double rows[3][3] = {
        {0.0, 116.0 * dy, 0.0}, {500.0 * dx, -500.0 * dy, 0.0}, {0.0, 200.0 * dy, -200.0 * dz}};
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            jacobian[r][c] = rows[r][c];
        }
    }
}

// ---- Linear sRGB -------------------------------------------------------------------
// Curve: IEC 61966-2-1. Matrix: the colorants of an ICC sRGB profile, that is its primaries and
// D65 white carried to D50 by Bradford, in the 15.16 fixed point of ICC.1 as LittleCMS writes it.
// They follow from the white's chromaticity, x 0.3127 y 0.3290, to 5e-7, and a photo that names sRGB
// by a profile reads like one that names nothing. From the rounded white 0.9505 1 1.0890 they would
// differ by 5e-5, and colours by up to 0.010 CIE76 from LittleCMS instead of 0.0006.

double hw_srgb_linear(double encoded)
{
    return encoded <= 0.04045 ? encoded / 12.92 : pow((encoded + 0.055) / 1.055, 2.4);
}

double hw_srgb_encoded(double linear)
{
    return linear <= 0.0031308 ? 12.92 * linear : 1.055 * pow(linear, 1.0 / 2.4) - 0.055;
}

static const double colorants[3][3] = {
    {0.436041, 0.385113, 0.143046}, {0.222485, 0.716905, 0.060610}, {0.013920, 0.097067, 0.713913}};

static void multiply(const double m[3][3], const double v[3], double out[3])
{
    for (int r = 0; r < 3; r++) {
        out[r] = m[r][0] * v[0] + m[r][1] * v[1] + m[r][2] * v[2];
    }
}

// Adjugate over determinant; the matrices here are far from singular.
static void invert(const double m[3][3], double out[3][3])
{
    double determinant = 0.0;
    for (int c = 0; c < 3; c++) {
        determinant += m[0][c] * (m[1][(c + 1) % 3] * m[2][(c + 2) % 3] -
                                  m[1][(c + 2) % 3] * m[2][(c + 1) % 3]);
    }
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            int r1 = (r + 1) % 3, r2 = (r + 2) % 3, c1 = (c + 1) % 3, c2 = (c + 2) % 3;
            out[c][r] = (m[r1][c1] * m[r2][c2] - m[r1][c2] * m[r2][c1]) / determinant;
        }
    }
}

// Inverse of the colorants, computed in fractions and rounded once; likewise below.
static const double to_linear[3][3] = {
    {3.134191324745656, -1.6172120819411213, -0.4906960763469999},
    {-0.9787521952714702, 1.9161321804495264, 0.03343518757573672},
    {0.07196478576234956, -0.22899374318589766, 1.4057525721346105}};

hw_xyz hw_xyz_from_linear_srgb(const double rgb[3])
{
    double xyz[3];
    multiply(colorants, rgb, xyz);
    return (hw_xyz){xyz[0], xyz[1], xyz[2]};
}

void hw_linear_srgb_from_xyz(hw_xyz colour, double rgb[3])
{
    const double xyz[3] = {colour.X, colour.Y, colour.Z};
    multiply(to_linear, xyz, rgb);
}

// ---- Sharpened bands ---------------------------------------------------------------

static const double bradford[3][3] = {
    {0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}};
static const double from_bradford[3][3] = {
    {0.9869929054667121, -0.1470542564209901, 0.15996265166373125},
    {0.4323052697233945, 0.5183602715367776, 0.049291228212855615},
    {-0.008528664575177331, 0.04004282165408486, 0.96848669578755}};
static const double cat16[3][3] = {{0.401288, 0.650173, -0.051461},
                                   {-0.250268, 1.204414, 0.045854},
                                   {-0.002079, 0.048952, 0.953127}};

void hw_sharpen(hw_xyz colour, double bands[3])
{
    const double xyz[3] = {colour.X, colour.Y, colour.Z};
    multiply(bradford, xyz, bands);
}

hw_xyz hw_unsharpen(const double bands[3])
{
    double xyz[3];
    multiply(from_bradford, bands, xyz);
    return (hw_xyz){xyz[0], xyz[1], xyz[2]};
}

static hw_xyz adapt(const double m[3][3], hw_xyz colour, hw_xyz from_white, hw_xyz to_white)
{
    const double xyz[3] = {colour.X, colour.Y, colour.Z};
    const double from[3] = {from_white.X, from_white.Y, from_white.Z};
    const double to[3] = {to_white.X, to_white.Y, to_white.Z};
    double bands[3], from_bands[3], to_bands[3], inverse[3][3], out[3];
    multiply(m, xyz, bands);
    multiply(m, from, from_bands);
    multiply(m, to, to_bands);
    for (int i = 0; i < 3; i++) {
        bands[i] *= to_bands[i] / from_bands[i];
    }
    invert(m, inverse);
    multiply((const double(*)[3])inverse, bands, out);
    return (hw_xyz){out[0], out[1], out[2]};
}

hw_xyz hw_adapt_cat16(hw_xyz colour, hw_xyz from_white, hw_xyz to_white)
{
    return adapt(cat16, colour, from_white, to_white);
}

hw_xyz hw_adapt_bradford(hw_xyz colour, hw_xyz from_white, hw_xyz to_white)
{
    return adapt(bradford, colour, from_white, to_white);
}
