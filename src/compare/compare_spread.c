// compare_spread.c: how far the old wood differs from itself.
//
// Spread: root of the sum of squared CIEDE2000 of the pieces to their mean over n - 1, never
// below 0.7, since a wood that seems to have none was seen in too few places (chosen).
//
// Beside it, never deciding: Hotelling's T squared, and its p-value with a prior on wood that
// keeps few pieces from claiming much (s.d. of L* 2, a* 0.9, b* 1.6 with 7 prior degrees of
// freedom; chosen). On a model of whole pieces T squared misses 13 % of patches that are off,
// while a cut of gap over spread misses none, so the verdict uses the ratio.
#include "base_internal.h"
#include "compare_internal.h"

#include <math.h>

static const double spread_least = 0.7;
static const double prior_variance[3] = {4.0, 0.8, 2.5};
static const double prior_dof = 7.0;

double hw_compare_spread(const hw_xyz *pieces, size_t count, hw_lab mean)
{
    double sum = 0.0;
    for (size_t i = 0; i < count; i++) {
        double gap = hw_ciede2000(mean, hw_lab_from_xyz(pieces[i], hw_white_d50));
        sum += gap * gap;
    }
    return count > 1 ? fmax(spread_least, sqrt(sum / (double)(count - 1))) : spread_least;
}

// The floor of each axis is spread_least shared evenly among three, so that both say the same of wood seen in one place.
// What earlier photos know changes the size, not the shape: the axes grow as `spread` does over `spread_here`.
void hw_compare_spread_axes(const hw_xyz *pieces, size_t count, double grown, double axis[3])
{
    double n = (double)count, sum[3] = {0}, square[3] = {0};
    for (size_t i = 0; i < count; i++) {
        hw_lab lab = hw_lab_from_xyz(pieces[i], hw_white_d50);
        const double value[3] = {lab.L, lab.a, lab.b};
        for (int k = 0; k < 3; k++) {
            sum[k] += value[k];
            square[k] += value[k] * value[k];
        }
    }
    for (int k = 0; k < 3; k++) {
        double variance = count > 1 ? (square[k] - sum[k] * sum[k] / n) / (n - 1.0) : 0.0;
        axis[k] = grown * fmax(sqrt(fmax(variance, 0.0)), spread_least / sqrt(3.0));
    }
}

double hw_compare_spread_with(double spread, size_t count, const hw_earlier *known)
{
    const double known_most = 12.0; // degrees of freedom that an earlier photo may count (chosen)
    if (!known || known->count < 2 || !(known->spread > 0.0)) {
        return spread;
    }
    double here = count > 1 ? (double)(count - 1) : 0.0;
    double before = fmin((double)(known->count - 1), known_most);
    return sqrt((here * spread * spread + before * known->spread * known->spread) /
                (here + before));
}

double hw_compare_inverse_form(const double m[3][3], const double v[3])
{
    double cofactor[3][3];
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            int r1 = (r + 1) % 3, r2 = (r + 2) % 3, c1 = (c + 1) % 3, c2 = (c + 2) % 3;
            cofactor[r][c] = m[r1][c1] * m[r2][c2] - m[r1][c2] * m[r2][c1];
        }
    }
    double determinant =
        m[0][0] * cofactor[0][0] + m[0][1] * cofactor[0][1] + m[0][2] * cofactor[0][2];
    double sum = 0.0;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            sum += v[r] * cofactor[r][c] * v[c];
        }
    }
    return determinant > 0.0 ? sum / determinant : (double)NAN;
}

void hw_compare_t_squared(const hw_xyz *pieces, size_t count, hw_lab patch, double *t_squared,
                          double *p)
{
    *t_squared = *p = (double)NAN;
    if (count < 2) {
        return;
    }
    double n = (double)count, mean[3] = {0}, scatter[3][3] = {{0}};
    for (size_t i = 0; i < count; i++) {
        hw_lab lab = hw_lab_from_xyz(pieces[i], hw_white_d50);
        mean[0] += lab.L / n;
        mean[1] += lab.a / n;
        mean[2] += lab.b / n;
    }
    for (size_t i = 0; i < count; i++) {
        hw_lab lab = hw_lab_from_xyz(pieces[i], hw_white_d50);
        double axis[3] = {lab.L - mean[0], lab.a - mean[1], lab.b - mean[2]};
        for (int r = 0; r < 3; r++) {
            for (int c = 0; c < 3; c++) {
                scatter[r][c] += axis[r] * axis[c];
            }
        }
    }
    double off[3] = {patch.L - mean[0], patch.a - mean[1], patch.b - mean[2]};
    double plain[3][3], with_prior[3][3];
    double dof = prior_dof + n - 3.0;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            double prior = r == c ? (prior_dof - 4.0) * prior_variance[r] : 0.0;
            plain[r][c] = scatter[r][c] / (n - 1.0) * (1.0 + 1.0 / n);
            with_prior[r][c] = (prior + scatter[r][c]) * (1.0 + 1.0 / n) / dof;
        }
    }
    if (count >= 5) { // fewer leave the covariance of three axes undetermined
        *t_squared = hw_compare_inverse_form((const double(*)[3])plain, off);
    }
    *p = hw_compare_f_tail(hw_compare_inverse_form((const double(*)[3])with_prior, off) / 3.0, dof);
}

// ---- The F distribution, and Student's ---------------------------------------------

// Regularised incomplete beta function I_x(a, b) by its continued fraction (DLMF 8.17.22),
// evaluated by the modified Lentz method; symmetric relation 8.17.4 where it converges slowly.
static double beta_fraction(double x, double a, double b)
{
    const double tiny = 1e-300;
    double c = 1.0, d = 1.0 - (a + b) * x / (a + 1.0);
    d = 1.0 / (fabs(d) < tiny ? tiny : d);
    double result = d;
    for (int m = 1; m <= 300; m++) {
        double k = (double)m;
        for (int half = 0; half < 2; half++) {
            double term = half == 0
                              ? k * (b - k) * x / ((a + 2.0 * k - 1.0) * (a + 2.0 * k))
                              : -(a + k) * (a + b + k) * x / ((a + 2.0 * k) * (a + 2.0 * k + 1.0));
            d = 1.0 + term * d;
            c = 1.0 + term / c;
            d = 1.0 / (fabs(d) < tiny ? tiny : d);
            c = fabs(c) < tiny ? tiny : c;
            result *= d * c;
            if (half == 1 && fabs(d * c - 1.0) < 1e-14) {
                return result;
            }
        }
    }
    return result;
}

static double incomplete_beta(double x, double a, double b)
{
    if (x <= 0.0 || x >= 1.0) {
        return x <= 0.0 ? 0.0 : 1.0;
    }
    double front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x));
    if (x < (a + 1.0) / (a + b + 2.0)) {
        return front * beta_fraction(x, a, b) / a;
    }
    return 1.0 - front * beta_fraction(1.0 - x, b, a) / b;
}

double hw_compare_f_tail(double value, double dof)
{
    if (!(value > 0.0)) {
        return isnan(value) ? (double)NAN : 1.0;
    }
    return incomplete_beta(dof / (dof + 3.0 * value), 0.5 * dof, 1.5);
}

// P(T > t) = I(dof / (dof + t^2); dof / 2, 1 / 2) / 2 (DLMF 8.17, Student 1908), found by halving.
double hw_compare_t95(double dof)
{
    double low = 0.0, high = 7.0; // 6.3138 with one degree of freedom
    for (int i = 0; i < 60; i++) {
        double middle = 0.5 * (low + high);
        double tail = 0.5 * incomplete_beta(dof / (dof + middle * middle), 0.5 * dof, 0.5);
        if (middle > 0.0 && tail < 0.05) {
            high = middle;
        } else {
            low = middle;
        }
    }
    return 0.5 * (low + high);
}
