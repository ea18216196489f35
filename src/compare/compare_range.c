// compare_range.c: the 90 % range of a CIEDE2000 gap.
//
// u^2 = g S g' with g the gradient (ISO/IEC Guide 98-3, 5.2). Near nothing a gap is read too
// large, never too small: the reading over u follows a non-central chi distribution with three
// degrees of freedom. The lower end is the mean that reads this much or more only 5 times in 100,
// found by inversion (it is 0 for a small gap, and near gap - 1.645 u for a large one); below a
// gap of 1.5 u the upper end is found in the same way, above it is gap + 1.645 u. So "+-" never
// stands around 0.
#include "compare_internal.h"

#include <math.h>

void hw_compare_metric(hw_lab colour, double metric[3][3])
{
    // Second differences of the squared gap; the step is small against any curvature of the formula
    // and large against rounding.
    const double step = 1e-3;
    double single[3];
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++) {
            double d[3] = {0.0, 0.0, 0.0};
            d[i] += step;
            if (j != i) {
                d[j] += step;
            }
            double gap =
                hw_ciede2000(colour, (hw_lab){colour.L + d[0], colour.a + d[1], colour.b + d[2]});
            metric[i][j] = gap * gap / (step * step);
        }
        single[i] = metric[i][i];
    }
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++) {
            if (i != j) {
                metric[i][j] = 0.5 * (metric[i][j] - single[i] - single[j]);
            }
        }
    }
}

// Mean and variance of the squared gap between equal colours: tr(G S), 2 tr((G S)^2).
static void square_moments(hw_lab colour, const hw_covariance *covariance, double *mean,
                           double *variance)
{
    double metric[3][3], product[3][3] = {{0}};
    hw_compare_metric(colour, metric);
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++) {
            for (int k = 0; k < 3; k++) {
                product[i][j] += metric[i][k] * covariance->m[k][j];
            }
        }
    }
    *mean = product[0][0] + product[1][1] + product[2][2];
    *variance = 0.0;
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++) {
            *variance += 2.0 * product[i][j] * product[j][i];
        }
    }
}

double hw_compare_tellable(hw_lab colour, const hw_covariance *covariance)
{
    double mean, variance;
    square_moments(colour, covariance, &mean, &variance);
    if (!(mean > 0.0 && variance > 0.0)) {
        return 0.0;
    }
    // A sum of weighted chi-squareds as one with the same two moments (Satterthwaite 1946), its
    // quantile by Wilson and Hilferty (1931).
    double dof = 2.0 * mean * mean / variance;
    double z95 = 1.6448536269514722;
    double root = 1.0 - 2.0 / (9.0 * dof) + z95 * sqrt(2.0 / (9.0 * dof));
    return sqrt(fmax(mean * root * root * root, 0.0));
}

double hw_compare_within(double mean, double radius)
{
    const double root_two = 1.4142135623730951, root_two_pi = 2.5066282746310002;
    if (radius <= 0.0) {
        return 0.0;
    }
    if (mean < 1e-4) { // central: Maxwell's distribution
        return erf(radius / root_two) - 2.0 / root_two_pi * radius * exp(-0.5 * radius * radius);
    }
    double apart = radius - mean, along = radius + mean;
    return 0.5 * (erf(along / root_two) + erf(apart / root_two)) -
           (exp(-0.5 * apart * apart) - exp(-0.5 * along * along)) / (mean * root_two_pi);
}

// The mean of which only `share` of the readings fall within `radius`; 0 when even readings of
// nothing do so less often.
static double mean_for(double radius, double share)
{
    double low = 0.0, high = radius + 5.0;
    if (hw_compare_within(0.0, radius) < share) {
        return 0.0;
    }
    for (int i = 0; i < 60; i++) {
        double middle = 0.5 * (low + high);
        if (hw_compare_within(middle, radius) > share) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return 0.5 * (low + high);
}

static double gradient_uncertainty(hw_lab target, hw_lab patch, const hw_covariance *covariance)
{
    double gradient[3], square = 0.0;
    hw_ciede2000_gradient(target, patch, gradient);
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++) {
            square += gradient[i] * covariance->m[i][j] * gradient[j];
        }
    }
    return sqrt(fmax(square, 0.0));
}

double hw_compare_u(hw_lab target, hw_lab patch, const hw_covariance *covariance)
{
    double gap = hw_ciede2000(target, patch), mean, variance;
    square_moments(target, covariance, &mean, &variance);
    double u_near = sqrt(fmax(mean, 0.0) / 3.0),
           u = gradient_uncertainty(target, patch, covariance);
    return gap < 1.5 * u_near ? fmax(u, u_near) : u;
}

void hw_gap_range(hw_lab target, hw_lab patch, const hw_covariance *covariance, double *low,
                  double *high)
{
    double gap = hw_ciede2000(target, patch), mean, variance;
    square_moments(target, covariance, &mean, &variance);
    double u_near = sqrt(fmax(mean, 0.0) / 3.0);
    double u = gradient_uncertainty(target, patch, covariance);
    bool near = gap < 1.5 * u_near;
    if (near) {
        u = fmax(u, u_near);
    }
    if (!(u > 0.0)) {
        *low = *high = gap;
        return;
    }
    *low = u * mean_for(gap / u, 0.95);
    // A reading that falls below u by luck proves no smaller gap: its upper end is that of u.
    *high = near ? u * mean_for(fmax(gap / u, 1.0), 0.05) : gap + HW_NINETY * u;
}

// ---- Chance ------------------------------------------------------------------------

#define POINTS 512

// Radical inverse of a number in a prime base (van der Corput): the coordinates of Halton's points.
static double radical_inverse(unsigned number, unsigned base)
{
    double sum = 0.0, digit = 1.0;
    for (; number > 0; number /= base) {
        digit /= base;
        sum += digit * (number % base);
    }
    return sum;
}

// Three independent normal numbers, by Box and Muller (1958) from two pairs of Halton's (1960).
static void normal_point(unsigned number, double out[3])
{
    const double turn = 6.283185307179586;
    double one = sqrt(-2.0 * log(radical_inverse(number, 2)));
    double other = sqrt(-2.0 * log(radical_inverse(number, 5)));
    out[0] = one * cos(turn * radical_inverse(number, 3));
    out[1] = one * sin(turn * radical_inverse(number, 3));
    out[2] = other * cos(turn * radical_inverse(number, 7));
}

double hw_compare_chance(hw_lab target, hw_lab patch, const hw_covariance *covariance,
                         double radius)
{
    double low[3][3];
    unsigned within = 0;
    hw_covariance_root(covariance, low);
    for (unsigned i = 1; i <= POINTS; i++) {
        double z[3];
        normal_point(i, z);
        hw_lab one = {patch.L + low[0][0] * z[0], patch.a + low[1][0] * z[0] + low[1][1] * z[1],
                      patch.b + low[2][0] * z[0] + low[2][1] * z[1] + low[2][2] * z[2]};
        within += hw_ciede2000(target, one) < radius;
    }
    return (double)within / POINTS;
}
