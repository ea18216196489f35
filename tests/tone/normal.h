// normal.h: the normal density of several variables, computed apart from the program: for tests that sample.
#ifndef HUEWRIGHT_TEST_NORMAL_H
#define HUEWRIGHT_TEST_NORMAL_H

#include <math.h>
#include <stdbool.h>

#define NORMAL_ROWS_MOST 48

// Lower root in place; false where there is none.
static inline bool root_of(double *m, int n)
{
    for (int r = 0; r < n; r++) {
        for (int c = 0; c <= r; c++) {
            double sum = m[r * n + c];
            for (int k = 0; k < c; k++) {
                sum -= m[r * n + k] * m[c * n + k];
            }
            if (r == c && !(sum > 0.0)) {
                return false;
            }
            m[r * n + c] = r == c ? sqrt(sum) : sum / m[c * n + c];
        }
    }
    return true;
}

// ln of the normal density of `residual` but for a constant.
static inline double log_normal(double *covariance, const double *residual, int n)
{
    double solved[NORMAL_ROWS_MOST] = {0.0}, squared = 0.0, log_root = 0.0;
    if (!root_of(covariance, n)) {
        return -INFINITY;
    }
    for (int r = 0; r < n; r++) {
        double sum = residual[r];
        for (int k = 0; k < r; k++) {
            sum -= covariance[r * n + k] * solved[k];
        }
        solved[r] = sum / covariance[r * n + r];
        squared += solved[r] * solved[r];
        log_root += log(covariance[r * n + r]);
    }
    return -0.5 * squared - log_root;
}

#endif
