// sample_shade.c: a shadow's edge across a region.
//
// A shadow takes the same share of all bands. So where the region is parted by a line across it, with both
// sides unlike in light and alike in colour, and most of the change lies close to the line, it is
// shade. Figure of dark wood can look the same by up to a fifth of the light (pictures with known truth),
// so only stronger steps count; a lamp's own shadow takes more.
#include "base_internal.h"
#include "sample_internal.h"

#include <math.h>

#define SIDE_MOST 200 // cells along a side of the grid: more than sample_region.c makes

static const double step_least = 0.28; // of ln light: a quarter darker (chosen, see above)
static const double colour_most = 0.3; // change of ln short over long, to that of ln light (chosen)
static const double sharp_least = 0.7; // share of the step within an eighth of the length (chosen)
static const size_t length_least = 12; // cells
static const double side_least = 0.125; // of the length, to either side of the line

// Mean ln light and ln short over long of each column (or row).
static size_t profile_of(const hw_sample *sample, bool rows, double *ln_long, double *ratio)
{
    size_t length = rows ? sample->rows : sample->columns;
    length = length < SIDE_MOST ? length : SIDE_MOST;
    for (size_t i = 0; i < length; i++) {
        hw_cell sum = {0};
        for (size_t k = 0; k < (rows ? sample->columns : sample->rows); k++) {
            hw_cell_add(&sum,
                        &sample->cells[rows ? i * sample->columns + k : k * sample->columns + i]);
        }
        double bands[3], n = sum.pixels > 0 ? (double)sum.pixels : 1.0;
        hw_sharpen((hw_xyz){sum.X / n, sum.Y / n, sum.Z / n}, bands);
        bool good = sum.pixels > 0 && bands[0] > 1e-4 && bands[2] > 1e-4;
        ln_long[i] = good ? log(bands[0]) : (i > 0 ? ln_long[i - 1] : 0.0);
        ratio[i] = good ? log(bands[2] / bands[0]) : (i > 0 ? ratio[i - 1] : 0.0);
    }
    return length;
}

static double mean(const double *values, size_t first, size_t end)
{
    double sum = 0.0;
    for (size_t i = first; i < end; i++) {
        sum += values[i];
    }
    return sum / (double)(end - first);
}

// Largest step of ln light that looks like shade, 0 for none.
static double shade_along(const hw_sample *sample, bool rows)
{
    double ln_long[SIDE_MOST], ratio[SIDE_MOST], most = 0.0;
    size_t length = profile_of(sample, rows, ln_long, ratio);
    if (length < length_least) {
        return 0.0;
    }
    size_t near = (size_t)fmax(2.0, side_least * (double)length);
    for (size_t at = near; at + near <= length; at++) {
        double step = mean(ln_long, at, length) - mean(ln_long, 0, at);
        double colour = mean(ratio, at, length) - mean(ratio, 0, at);
        double close = mean(ln_long, at, at + near) - mean(ln_long, at - near, at);
        double close_colour = mean(ratio, at, at + near) - mean(ratio, at - near, at);
        bool shade = fabs(step) > step_least && fabs(colour) < colour_most * fabs(step) &&
                     close / step > sharp_least && fabs(close_colour) < colour_most * fabs(close);
        most = shade ? fmax(most, fabs(step)) : most;
    }
    return most;
}

double hw_sample_shade(const hw_sample *sample)
{
    return fmax(shade_along(sample, true), shade_along(sample, false));
}
