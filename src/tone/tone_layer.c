// tone_layer.c: wood under transparent layers: s = s0 exp(-sum_j d_j (k_j c_j)^g_j), band by band,
// in the Bradford-sharpened space.
//
// The law of Bouguer, Lambert and Beer holds for each wavelength; carried over to three bands it
// predicts four passes from one within 0.4 CIEDE2000 on simulated wood and filters, the sharpened
// bands better than linear sRGB, X Y Z or L*a*b*, and not worse than 31 bands once a reading's
// noise is in. What always holds: densities are not negative, and Y is a sum of the bands with
// positive weights, so no layer raises L*.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

const double hw_ladder[HW_LADDER_COUNT] = {1.0, 0.5, 0.25, 0.125};

static const double band_least = 1e-5; // below any wood: keeps logarithms finite

static bool same_strength(double one, double other)
{
    return fabs(one - other) < 1e-3 * other; // 0.3333 is 1/3
}

static bool holds_dose(const hw_liquid *liquid, const hw_dose *dose)
{
    for (size_t i = 0; i < liquid->count; i++) {
        if (strcmp(liquid->dose[i].dye, dose->dye) == 0) {
            return same_strength(liquid->dose[i].strength, dose->strength);
        }
    }
    return false;
}

bool hw_liquid_is_same(const hw_liquid *one, const hw_liquid *other)
{
    bool same = one->count == other->count;
    for (size_t i = 0; same && i < one->count; i++) {
        same = holds_dose(other, &one->dose[i]);
    }
    return same;
}

void hw_laid_add(hw_laid *laid, const hw_dose *dose, int passes)
{
    laid->amount += passes * dose->strength;
    laid->squares += passes * dose->strength * dose->strength;
}

static bool holds_dye(const hw_coat_of_dye *coat, size_t dye, double strength)
{
    for (size_t k = 0; k < coat->dyes; k++) {
        if (coat->dye[k] == dye) {
            return same_strength(coat->strength[k], strength);
        }
    }
    return false;
}

bool hw_coat_of_dye_is_same(const hw_coat_of_dye *one, const hw_coat_of_dye *other)
{
    bool same = one->dyes == other->dyes;
    for (size_t k = 0; same && k < one->dyes; k++) {
        same = holds_dye(other, one->dye[k], one->strength[k]);
    }
    return same;
}

hw_lab hw_tone_under(hw_lab wood, const double density[3])
{
    double bands[3];
    hw_sharpen(hw_xyz_from_lab(wood, hw_white_d50), bands);
    for (int band = 0; band < 3; band++) {
        bands[band] = fmax(bands[band] * exp(-density[band]), band_least);
    }
    return hw_lab_from_xyz(hw_unsharpen(bands), hw_white_d50);
}

void hw_tone_between(hw_lab before, hw_lab after, double density[3])
{
    double high[3], low[3];
    hw_sharpen(hw_xyz_from_lab(before, hw_white_d50), high);
    hw_sharpen(hw_xyz_from_lab(after, hw_white_d50), low);
    for (int band = 0; band < 3; band++) {
        density[band] = log(fmax(high[band], band_least) / fmax(low[band], band_least));
    }
}

// By central differences.
void hw_tone_density_by_lab(hw_lab colour, double out[3][3])
{
    const double step = 1e-3;
    for (int axis = 0; axis < 3; axis++) {
        hw_lab up = colour, down = colour;
        double density[3];
        *(axis == 0 ? &up.L : axis == 1 ? &up.a : &up.b) += step;
        *(axis == 0 ? &down.L : axis == 1 ? &down.a : &down.b) -= step;
        hw_tone_between(down, up, density);
        for (int band = 0; band < 3; band++) {
            out[band][axis] = density[band] / (2.0 * step);
        }
    }
}

void hw_tone_lab_by_density(hw_lab colour, double out[3][3])
{
    const double step = 1e-3;
    for (int band = 0; band < 3; band++) {
        double more[3] = {0.0, 0.0, 0.0}, less[3] = {0.0, 0.0, 0.0};
        more[band] = step;
        less[band] = -step;
        hw_lab up = hw_tone_under(colour, more), down = hw_tone_under(colour, less);
        out[0][band] = (up.L - down.L) / (2.0 * step);
        out[1][band] = (up.a - down.a) / (2.0 * step);
        out[2][band] = (up.b - down.b) / (2.0 * step);
    }
}

// Passes of one dye in several layers add before the exponent: (k1 c1 + k2 c2)^g.
static double total_laid(const hw_layer *layers, size_t count, const char *dye)
{
    double laid = 0.0;
    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < layers[i].liquid.count; k++) {
            const hw_dose *dose = &layers[i].liquid.dose[k];
            laid += strcmp(dose->dye, dye) == 0 ? layers[i].passes * dose->strength : 0.0;
        }
    }
    return laid;
}

hw_status hw_tone_refuse_dye(const char *name, hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "dye-unknown", name,
                   "Use a dye of the shelf (huewright shelf show lists them).",
                   "there is no dye of this name on the shelf");
}

hw_status hw_tone_predict(const hw_known *known, hw_lab wood, const hw_layer *layers, size_t count,
                          hw_lab *out, hw_error *err)
{
    double density[3] = {0.0, 0.0, 0.0};
    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < layers[i].liquid.count; k++) {
            const char *name = layers[i].liquid.dose[k].dye;
            if (!hw_known_find(known, name)) {
                return hw_tone_refuse_dye(name, err);
            }
        }
    }
    for (size_t i = 0; i < known->count; i++) {
        const hw_known_dye *dye = &known->dye[i];
        double laid = total_laid(layers, count, dye->name);
        for (int band = 0; band < 3 && laid > 0.0; band++) {
            density[band] += dye->density[band] * pow(laid, dye->exponent);
        }
    }
    *out = hw_tone_under(wood, density);
    return HW_OK;
}
