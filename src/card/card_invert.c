// card_invert.c: the inverse of a small symmetric positive matrix, by Gauss and Jordan.
#include "card_internal.h"

#include <math.h>

bool hw_card_invert(double *m, size_t n, double *ln_determinant)
{
    double inverse[HW_INVERT_MOST * HW_INVERT_MOST], ln = 0.0;
    for (size_t i = 0; i < n * n; i++) {
        inverse[i] = i % (n + 1) == 0;
    }
    for (size_t k = 0; k < n; k++) {
        double pivot = m[k * n + k];
        if (!(pivot > 1e-12)) {
            return false;
        }
        ln += log(pivot);
        for (size_t c = 0; c < n; c++) {
            m[k * n + c] /= pivot;
            inverse[k * n + c] /= pivot;
        }
        for (size_t r = 0; r < n; r++) {
            double factor = r == k ? 0.0 : m[r * n + k];
            for (size_t c = 0; c < n && factor != 0.0; c++) {
                m[r * n + c] -= factor * m[k * n + c];
                inverse[r * n + c] -= factor * inverse[k * n + c];
            }
        }
    }
    memcpy(m, inverse, n * n * sizeof *m);
    if (ln_determinant) {
        *ln_determinant = ln;
    }
    return true;
}
