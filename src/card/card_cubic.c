// card_cubic.c: a cubic through knots that rises where they rise and falls where they fall.
//
// Slopes after Fritsch and Butland 1984 (SIAM Journal on Scientific and Statistical Computing 5, 300):
// the weighted harmonic mean of the two secants, none at a turn; at the ends the three-point formula,
// bent back where it would turn (as in the PCHIP of SLATEC). Beyond its ends the curve stays level.
#include "card_internal.h"

#include <math.h>

static double end_slope(double h0, double h1, double d0, double d1)
{
    double slope = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
    if (slope * d0 <= 0.0) {
        return 0.0;
    }
    return d0 * d1 < 0.0 && fabs(slope) > 3.0 * fabs(d0) ? 3.0 * d0 : slope;
}

void hw_cubic_fit(hw_cubic *k)
{
    double h[HW_KNOTS_MOST], d[HW_KNOTS_MOST];
    size_t n = k->count;
    for (size_t i = 0; i + 1 < n; i++) {
        h[i] = k->x[i + 1] - k->x[i];
        d[i] = (k->y[i + 1] - k->y[i]) / h[i];
    }
    for (size_t i = 1; i + 1 < n; i++) {
        double before = 2.0 * h[i] + h[i - 1], after = h[i] + 2.0 * h[i - 1];
        bool turns = d[i - 1] * d[i] <= 0.0;
        k->slope[i] = turns ? 0.0 : (before + after) / (before / d[i - 1] + after / d[i]);
    }
    if (n == 2) {
        k->slope[0] = k->slope[1] = d[0];
    } else if (n > 2) {
        k->slope[0] = end_slope(h[0], h[1], d[0], d[1]);
        k->slope[n - 1] = end_slope(h[n - 2], h[n - 3], d[n - 2], d[n - 3]);
    }
}

double hw_cubic_at(const hw_cubic *k, double x)
{
    if (k->count < 2 || x <= k->x[0]) {
        return k->count > 0 ? k->y[0] : 0.0;
    }
    if (x >= k->x[k->count - 1]) {
        return k->y[k->count - 1];
    }
    size_t i = 0;
    while (x > k->x[i + 1]) {
        i++;
    }
    double h = k->x[i + 1] - k->x[i], t = (x - k->x[i]) / h;
    double t2 = t * t, t3 = t2 * t;
    return (2 * t3 - 3 * t2 + 1) * k->y[i] + (t3 - 2 * t2 + t) * h * k->slope[i] +
           (3 * t2 - 2 * t3) * k->y[i + 1] + (t3 - t2) * h * k->slope[i + 1];
}
