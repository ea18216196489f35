// spectral_layers.h: what dye does to wood wavelength by wavelength, as published, to hold the law of
// three bands against. Shares with the program the CIE tables and L*a*b* alone.
#ifndef HUEWRIGHT_TEST_SPECTRAL_LAYERS_H
#define HUEWRIGHT_TEST_SPECTRAL_LAYERS_H

#include "check.h"
#include "huewright/tone.h"
#include "scene.h"

typedef enum layer_kind {
    LAYER_FILM,       // Bouguer, Lambert and Beer: a film over wood, its outer surface taken off
    LAYER_REFLECTING, // the same film, which throws light back into the wood from inside
    LAYER_IN_WOOD,    // dye that went into the wood
    LAYER_KINDS
} layer_kind;

static const char *const layer_names[LAYER_KINDS] = {"film", "film, internal reflection",
                                                     "dye in the wood"};

// Saunderson, J. Opt. Soc. Am. 32 (1942) 727: R = (1 - k1)(1 - k2) r / (1 - k2 r), the outer reflection
// left out; k1, k2 of a film of index 1.5.
static const double saunderson_outer = 0.04, saunderson_inner = 0.6;

static inline double saunderson(double inside)
{
    return (1.0 - saunderson_outer) * (1.0 - saunderson_inner) * inside /
           (1.0 - saunderson_inner * inside);
}

static inline double saunderson_inside(double seen)
{
    return seen / ((1.0 - saunderson_outer) * (1.0 - saunderson_inner) + saunderson_inner * seen);
}

// Kubelka and Munk, Z. techn. Phys. 12 (1931) 593: K/S = (1 - R)^2 / (2 R) of an opaque layer; dye adds
// to K.
static inline double kubelka_munk(double reflectance)
{
    return (1.0 - reflectance) * (1.0 - reflectance) / (2.0 * reflectance);
}

static inline double kubelka_munk_reflectance(double ratio)
{
    return 1.0 + ratio - sqrt(ratio * ratio + 2.0 * ratio);
}

// One wavelength: reflectance of the wood, and absorbance (natural logarithm) of all that is laid.
static inline double layer_reflectance(layer_kind kind, double wood, double absorbance)
{
    switch (kind) {
    case LAYER_REFLECTING:
        return saunderson(saunderson_inside(wood) * exp(-absorbance));
    case LAYER_IN_WOOD:
        return kubelka_munk_reflectance(kubelka_munk(wood) + absorbance);
    default:
        return wood * exp(-absorbance);
    }
}

static inline hw_lab layer_lab(const hw_spectrum *reflectance, const hw_spectrum *light)
{
    hw_spectrum perfect;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        perfect.at[i] = 1.0;
    }
    return hw_lab_from_xyz(hw_xyz_of_reflectance(reflectance, light),
                           hw_xyz_of_reflectance(&perfect, light));
}

// Wood under `amount` of one dye and `other_amount` of another (NULL: none), D50.
static inline hw_lab layer_mixed(layer_kind kind, const hw_spectrum *wood, const hw_spectrum *dye,
                                 double amount, const hw_spectrum *other, double other_amount)
{
    static hw_spectrum light;
    hw_spectrum seen;
    if (light.at[0] == 0.0) {
        light = hw_daylight(5003.0);
    }
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        double absorbance = amount * dye->at[i] + (other ? other_amount * other->at[i] : 0.0);
        seen.at[i] = layer_reflectance(kind, wood->at[i], absorbance);
    }
    return layer_lab(&seen, &light);
}

static inline hw_lab layer_on(layer_kind kind, const hw_spectrum *wood, const hw_spectrum *dye,
                              double amount)
{
    return layer_mixed(kind, wood, dye, amount, NULL, 0.0);
}

// How much of a dye moves this wood by so many CIEDE2000: halving.
static inline double layer_amount(layer_kind kind, const hw_spectrum *wood, const hw_spectrum *dye,
                                  double de00)
{
    double low = 0.0, high = 1.0;
    hw_lab bare = layer_on(kind, wood, dye, 0.0);
    while (high < 1e4 && hw_ciede2000(bare, layer_on(kind, wood, dye, high)) < de00) {
        high *= 2.0;
    }
    for (int turn = 0; turn < 40; turn++) {
        double middle = 0.5 * (low + high);
        bool more = hw_ciede2000(bare, layer_on(kind, wood, dye, middle)) < de00;
        *(more ? &low : &high) = middle;
    }
    return 0.5 * (low + high);
}

// ---- Woods -------------------------------------------------------------------------

#define LAYER_WOODS 6

// Smooth invented reflectances (ln R quadratic in wavelength, some with a dip of extractives) of colours
// inside the range of wood, L* 24 to 84, a* 2.6 to 20.4, b* 1.8 to 36.6.
static inline hw_spectrum layer_wood(size_t index)
{
    const hw_lab colour[LAYER_WOODS] = {{78, 5, 20},  {70, 8, 26},  {62, 12, 28},
                                        {55, 14, 24}, {50, 12, 25}, {44, 11, 17}};
    return scene_wood(colour[index], index % 2 ? 0.06 : 0.0);
}

// ---- Tallies -----------------------------------------------------------------------

#define TALLY_MOST 20000

typedef struct tally {
    double value[TALLY_MOST];
    size_t count;
} tally;

static inline void tally_add(tally *t, double value)
{
    if (check_report(t->count < TALLY_MOST, __FILE__, __LINE__, "room for a value")) {
        t->value[t->count++] = value;
    }
}

static inline double tally_mean(const tally *t)
{
    double sum = 0.0;
    for (size_t i = 0; i < t->count; i++) {
        sum += t->value[i];
    }
    return t->count ? sum / (double)t->count : (double)NAN;
}

static inline int tally_order(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

// Sorts; the value that 95 of 100 stay below.
static inline double tally_high(tally *t)
{
    if (t->count == 0) {
        return (double)NAN;
    }
    qsort(t->value, t->count, sizeof *t->value, tally_order);
    return t->value[(size_t)(0.95 * (double)(t->count - 1) + 0.5)];
}

#endif
