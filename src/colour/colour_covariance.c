// colour_covariance.c: sums and linear maps of 3 x 3 covariances (ISO/IEC Guide 98-3, 5.2).
#include "huewright/colour.h"

#include <math.h>

hw_covariance hw_covariance_diagonal(double v0, double v1, double v2)
{
    return (hw_covariance){{{v0, 0.0, 0.0}, {0.0, v1, 0.0}, {0.0, 0.0, v2}}};
}

hw_covariance hw_covariance_sum(const hw_covariance *one, const hw_covariance *two)
{
    hw_covariance sum;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            sum.m[r][c] = one->m[r][c] + two->m[r][c];
        }
    }
    return sum;
}

hw_covariance hw_covariance_times(const hw_covariance *covariance, double factor)
{
    hw_covariance product;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            product.m[r][c] = factor * covariance->m[r][c];
        }
    }
    return product;
}

void hw_covariance_add_outer(hw_covariance *to, double factor, const double v[3])
{
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            to->m[r][c] += factor * v[r] * v[c];
        }
    }
}

hw_covariance hw_covariance_map(const double jacobian[3][3], const hw_covariance *covariance)
{
    return hw_covariance_map_across(jacobian, covariance, jacobian);
}

hw_covariance hw_covariance_map_across(const double left[3][3], const hw_covariance *covariance,
                                       const double right[3][3])
{
    hw_covariance out = {{{0}}};
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            for (int i = 0; i < 3; i++) {
                for (int j = 0; j < 3; j++) {
                    out.m[r][c] += left[r][i] * covariance->m[i][j] * right[c][j];
                }
            }
        }
    }
    return out;
}

void hw_covariance_root(const hw_covariance *covariance, double root[3][3])
{
    for (int c = 0; c < 3; c++) {
        for (int r = 0; r < 3; r++) {
            double rest = covariance->m[r][c];
            for (int k = 0; k < c; k++) {
                rest -= root[r][k] * root[c][k];
            }
            root[r][c] = r < c              ? 0.0
                         : r == c           ? sqrt(fmax(rest, 0.0))
                         : root[c][c] > 0.0 ? rest / root[c][c]
                                            : 0.0;
        }
    }
}
