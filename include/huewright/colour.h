// colour.h: pure colour maths: X, Y, Z and L*a*b*, colour differences, chromatic
// adaptation, and spectra under a light. No state, no allocation, any thread.
//
// Units: X, Y, Z are relative, Y = 1 for the perfect diffuser; L*a*b* is CIE 1976
// (ISO/CIE 11664-4) under D50, 2 degree observer, unless a white is given.
#ifndef HUEWRIGHT_COLOUR_H
#define HUEWRIGHT_COLOUR_H

#include "huewright/base.h"

#ifdef __cplusplus
extern "C" {
#endif

// ---- Colours -----------------------------------------------------------------------

typedef struct hw_xyz {
    double X, Y, Z;
} hw_xyz;

typedef struct hw_lab {
    double L, a, b;
} hw_lab;

// The white of the ICC profile connection space, 0.9642 1 0.8249 (ICC.1:2022, 7.2.16).
extern const hw_xyz hw_white_d50;

// CIE 15:2018 and ISO/CIE 11664-4, both with the exact 216/24389 and 24389/27. X, Y, Z below 0
// (a camera profile can give them) are followed down the straight part of the function.
hw_lab hw_lab_from_xyz(hw_xyz colour, hw_xyz white);
hw_xyz hw_xyz_from_lab(hw_lab colour, hw_xyz white);

double hw_lab_chroma(hw_lab colour); // C*ab, >= 0
double hw_lab_hue(hw_lab colour);    // h_ab in degrees, 0 up to 360; 0 for a grey

// Linear sRGB (IEC 61966-2-1, D65) and its curve; the matrix carries D65 to D50 by
// Bradford as ICC profiles do. Not clipped.
double hw_srgb_linear(double encoded); // 0..1 to 0..1
double hw_srgb_encoded(double linear);
hw_xyz hw_xyz_from_linear_srgb(const double rgb[3]);
void hw_linear_srgb_from_xyz(hw_xyz colour, double rgb[3]);

// ---- Bradford-sharpened space ------------------------------------------------------
//
// Three sharpened bands, long, middle and short (Lam 1985; ICC.1:2022 annex E): light is
// corrected there by one factor a band, and transparent layers are densities there.

void hw_sharpen(hw_xyz colour, double bands[3]);
hw_xyz hw_unsharpen(const double bands[3]);
// CAT16 (Li et al. 2017) adaptation from one white to another, the cross-check of Bradford.
hw_xyz hw_adapt_cat16(hw_xyz colour, hw_xyz from_white, hw_xyz to_white);
hw_xyz hw_adapt_bradford(hw_xyz colour, hw_xyz from_white, hw_xyz to_white);

// ---- Differences -------------------------------------------------------------------

// Second colour minus first (target is the first, patch the second).
typedef struct hw_difference {
    double de00, de76, de94; // CIEDE2000 (ISO/CIE 11664-6), CIE 1976, CIE 1994 (CIE 116,
                             // graphic arts, chroma of the first colour); k factors 1
    double L, a, b, C;       // L*, a*, b*, C*ab of second minus first
    double H; // 2 sqrt(C1 C2) sin(dh/2), signed: > 0 turns counter-clockwise (yellower
              // for the browns of wood)
} hw_difference;

hw_difference hw_difference_of(hw_lab first, hw_lab second);
double hw_ciede2000(hw_lab first, hw_lab second); // >= 0
// Gradient of CIEDE2000 by L*, a*, b* of the second colour (central differences, step 1e-4).
// At equal colours, where it has none, all three are 0.
void hw_ciede2000_gradient(hw_lab first, hw_lab second, double gradient[3]);

// ---- Another light -----------------------------------------------------------------

// Old wood and repair under one light; any scale, the same for all.
typedef struct hw_pair {
    hw_xyz target, patch;
} hw_pair;

typedef struct hw_metamerism {
    hw_lab target;       // under the test light
    hw_lab patch;        // there, once made equal to the target under the reference light
    hw_difference index; // patch minus target: index.de00, index.de76 and which way
} hw_metamerism;

// Special index of metamerism, change in illuminant (CIE 15:2018, 9.2), with the multiplicative correction of X, Y, Z.
// `test_white`: of the test light, in the scale of `test`; D50 for colours that a card has carried there.
// The index is NaN where a tristimulus value of the patch under the reference light is 0.
hw_metamerism hw_metamerism_index(const hw_pair *reference, const hw_pair *test, hw_xyz test_white);

// ---- Covariance --------------------------------------------------------------------

// A symmetric 3 x 3 covariance, of L*, a*, b* or of three bands: m[row][column].
typedef struct hw_covariance {
    double m[3][3];
} hw_covariance;

hw_covariance hw_covariance_diagonal(double v0, double v1, double v2); // variances
hw_covariance hw_covariance_sum(const hw_covariance *one, const hw_covariance *two);
hw_covariance hw_covariance_times(const hw_covariance *covariance, double factor);
void hw_covariance_add_outer(hw_covariance *to, double factor, const double v[3]); // factor v v'
// Carries a covariance through a linear map: J S J'.
hw_covariance hw_covariance_map(const double jacobian[3][3], const hw_covariance *covariance);
// And what two colours share, each through a map of its own: L S R'. Not symmetric.
hw_covariance hw_covariance_map_across(const double left[3][3], const hw_covariance *covariance,
                                       const double right[3][3]);
// Lower triangle whose product with its transpose is the covariance (Cholesky); a direction without
// spread stays 0.
void hw_covariance_root(const hw_covariance *covariance, double root[3][3]);
// d(L*,a*,b*)/d(X,Y,Z) at a colour (analytic).
void hw_lab_jacobian(hw_xyz colour, hw_xyz white, double jacobian[3][3]);

// ---- Spectra -----------------------------------------------------------------------

#define HW_SPECTRUM_FIRST_NM 380
#define HW_SPECTRUM_STEP_NM  5
#define HW_SPECTRUM_COUNT    81 // 380, 385 ... 780 nm

typedef struct hw_spectrum {
    double at[HW_SPECTRUM_COUNT]; // power, reflectance or transmittance at each step
} hw_spectrum;

// x, y, z of the CIE 1931 standard observer (ISO/CIE 11664-1; CIE 018 table at 5 nm).
extern const double hw_cie_1931[HW_SPECTRUM_COUNT][3];
// CIE daylight of a correlated colour temperature, 4000 to 25000 K (CIE 15:2018, 4.1.2):
// S0, S1, S2 at 5 nm. D50 and D65 by their historical temperatures, 5003 K and 6504 K.
hw_spectrum hw_daylight(double kelvin);
// Planck's radiator with c2 = 1.4388e-2 m K, power relative to 560 nm = 100. 2855.5 K gives CIE
// illuminant A (CIE 15:2018, 4.1.1, written there with c2 = 1.435e-2 m K and 2848 K).
hw_spectrum hw_planckian(double kelvin);
// CIE 15:2018, 7.1, summed at 5 nm from 380 to 780; normalised so that the perfect diffuser has Y
// = 1.
hw_xyz hw_xyz_of_reflectance(const hw_spectrum *reflectance, const hw_spectrum *light);

#ifdef __cplusplus
}
#endif
#endif
