// scene_depth.c: two ways in which a dye need not follow the law of a clear film, wavelength by
// wavelength. P. Kubelka and F. Munk, Zeitschrift fuer technische Physik 12 (1931) 593: an opaque
// layer that absorbs K and scatters S has R with K/S = (1 - R)^2 / 2R, and dyes add to K. J. L.
// Saunderson, Journal of the Optical Society of America 32 (1942) 727: a share k1 of the light is
// thrown back before it enters and a share k2 of what would leave is thrown back inside.
#include "scene.h"

#include <math.h>

static const double k1 = 0.04, k2 = 0.60; // usual values for a film of refractive index 1.5

double scene_ks(double reflectance)
{
    return (1.0 - reflectance) * (1.0 - reflectance) / (2.0 * reflectance);
}

double scene_from_ks(double ks)
{
    return 1.0 + ks - sqrt(ks * ks + 2.0 * ks);
}

// R = (1 - k1) (1 - k2) Ri / (1 - k2 Ri): the lamp's mirror image (k1) is not seen.
double scene_outside(double inside)
{
    return (1.0 - k1) * (1.0 - k2) * inside / (1.0 - k2 * inside);
}

double scene_inside(double reflectance)
{
    return reflectance / ((1.0 - k1) * (1.0 - k2) + k2 * reflectance);
}

// In wood, a weak pass does on a reflectance of 0.2 what it does in a film (chosen): there
// d(K/S) = (1 - R^2) / 2R per natural density.
static double ks_of_absorbance(double absorbance)
{
    const double r = 0.2;
    return (1.0 - r * r) / (2.0 * r) * log(10.0) * absorbance;
}

double scene_under(scene_depth depth, double reflectance, double absorbance)
{
    switch (depth) {
    case SCENE_IN_WOOD:
        return scene_from_ks(scene_ks(reflectance) + ks_of_absorbance(absorbance));
    case SCENE_INNER_MIRROR:
        return scene_outside(scene_inside(reflectance) * pow(10.0, -absorbance));
    case SCENE_ON_TOP:
    default:
        return reflectance * pow(10.0, -absorbance);
    }
}
