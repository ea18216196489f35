// measure_spectrum.c: a reflectance at 5, 10 or 20 nm to the 5 nm of the CIE tables, and its colour.
//
// Between the readings a cubic through the four nearest ones (Lagrange), at both ends a parabola
// through three, as ASTM E2022 does for weights at wide steps. Beyond the first and the last reading
// their values are held: CIE 15:2018, 7.2.3 allows it, and below 400 and above 700 nm the observer
// sees little. L*a*b* is taken against the perfect diffuser under the same sum, so that a
// grey is one whatever the sum's rounding.
#include "measure_internal.h"

#include <math.h>

static const double step_slack_nm = 0.01; // 380.0, 390.0 as written by others

static bool same_step(const double *wavelength, size_t count, double step)
{
    for (size_t i = 0; i + 1 < count; i++) {
        if (fabs(wavelength[i + 1] - wavelength[i] - step) > step_slack_nm) {
            return false;
        }
    }
    return true;
}

const char *hw_measure_spectrum_fault(const double *wavelength, size_t count, char *room,
                                      size_t size)
{
    static const double steps[] = {5.0, 10.0, 20.0};
    const double first_most = 400.0, last_least = 700.0;
    if (count < 2) {
        return "it has a single wavelength";
    }
    if (wavelength[0] > first_most || wavelength[count - 1] < last_least) {
        hw_format_text(room, size, "it goes from %g to %g nm", wavelength[0],
                       wavelength[count - 1]);
        return room;
    }
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        if (same_step(wavelength, count, steps[i])) {
            return NULL;
        }
    }
    hw_format_text(room, size, "its steps are not all 5, 10 or 20 nm (%g, %g, ...)", wavelength[0],
                   wavelength[1]);
    return room;
}

// The polynomial through `points` readings from `first` on, at t steps behind that first one.
static double through(const double *value, size_t points, double t)
{
    double sum = 0.0;
    for (size_t i = 0; i < points; i++) {
        double weight = 1.0;
        for (size_t k = 0; k < points; k++) {
            weight *= k == i ? 1.0 : (t - (double)k) / ((double)i - (double)k);
        }
        sum += weight * value[i];
    }
    return sum;
}

static double value_at(const double *wavelength, const double *reflectance, size_t count, double nm)
{
    double step = (wavelength[count - 1] - wavelength[0]) / (double)(count - 1);
    double t = (nm - wavelength[0]) / step;
    if (t <= 0.0) {
        return reflectance[0];
    }
    if (t >= (double)(count - 1)) {
        return reflectance[count - 1];
    }
    size_t at = (size_t)t;
    if (at == 0) {
        return through(reflectance, 3, t);
    }
    if (at + 2 == count) {
        return through(reflectance + count - 3, 3, t - (double)(count - 3));
    }
    return through(reflectance + at - 1, 4, t - (double)(at - 1));
}

hw_lab hw_measure_lab_of_spectrum(const double *wavelength, const double *reflectance, size_t count)
{
    const hw_spectrum light = hw_daylight(5003.0); // D50
    hw_spectrum sample, perfect;
    for (size_t i = 0; i < HW_SPECTRUM_COUNT; i++) {
        double nm = HW_SPECTRUM_FIRST_NM + HW_SPECTRUM_STEP_NM * (double)i;
        sample.at[i] = value_at(wavelength, reflectance, count, nm);
        perfect.at[i] = 1.0;
    }
    return hw_lab_from_xyz(hw_xyz_of_reflectance(&sample, &light),
                           hw_xyz_of_reflectance(&perfect, &light));
}
