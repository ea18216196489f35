// tone_matrix.c: Cholesky's root and what it solves, for the few dozen unknowns of learning.
#include "tone_internal.h"

#include <math.h>

bool hw_cholesky(double *matrix, size_t n)
{
    for (size_t r = 0; r < n; r++) {
        for (size_t c = 0; c <= r; c++) {
            double rest = matrix[r * n + c];
            for (size_t k = 0; k < c; k++) {
                rest -= matrix[r * n + k] * matrix[c * n + k];
            }
            if (r == c) {
                if (!(rest > 0.0)) {
                    return false;
                }
                matrix[r * n + r] = sqrt(rest);
            } else {
                matrix[r * n + c] = rest / matrix[c * n + c];
            }
        }
    }
    return true;
}

void hw_cholesky_solve(const double *root, size_t n, double *b)
{
    for (size_t r = 0; r < n; r++) {
        for (size_t k = 0; k < r; k++) {
            b[r] -= root[r * n + k] * b[k];
        }
        b[r] /= root[r * n + r];
    }
    for (size_t r = n; r-- > 0;) {
        for (size_t k = r + 1; k < n; k++) {
            b[r] -= root[k * n + r] * b[k];
        }
        b[r] /= root[r * n + r];
    }
}

void hw_cholesky_invert(const double *root, size_t n, double *out)
{
    for (size_t c = 0; c < n; c++) { // symmetric: the columns are the rows
        for (size_t r = 0; r < n; r++) {
            out[c * n + r] = r == c ? 1.0 : 0.0;
        }
        hw_cholesky_solve(root, n, &out[c * n]);
    }
}

bool hw_invert3(const hw_covariance *a, hw_covariance *out)
{
    double root[9];
    for (int i = 0; i < 9; i++) {
        root[i] = a->m[i / 3][i % 3];
    }
    if (!hw_cholesky(root, 3)) {
        return false;
    }
    hw_cholesky_invert(root, 3, &out->m[0][0]);
    return true;
}
