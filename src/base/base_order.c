// base_order.c: medians without sorting. Hoare's selection (Algorithm 65, CACM 1961) with
// the median of three as pivot: about 2 n steps, against n log n for a sort.
#include "base_internal.h"

#include <math.h>

static void swap(double *one, double *other)
{
    double kept = *one;
    *one = *other;
    *other = kept;
}

double hw_select(double *values, size_t count, size_t k)
{
    size_t low = 0, high = count - 1;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (values[middle] < values[low]) {
            swap(&values[middle], &values[low]);
        }
        if (values[high] < values[low]) {
            swap(&values[high], &values[low]);
        }
        if (values[high] < values[middle]) {
            swap(&values[high], &values[middle]);
        }
        double pivot = values[middle];
        size_t i = low, j = high;
        while (i <= j) {
            while (values[i] < pivot) {
                i++;
            }
            while (values[j] > pivot) {
                j--;
            }
            if (i <= j) {
                swap(&values[i], &values[j]);
                i++;
                if (j == 0) {
                    break;
                }
                j--;
            }
        }
        if (k <= j) {
            high = j;
        } else if (k >= i) {
            low = i;
        } else {
            break;
        }
    }
    return values[k];
}

void hw_median_spread(double *values, size_t count, double *median, double *spread)
{
    double middle = hw_select(values, count, count / 2);
    for (size_t i = 0; i < count; i++) {
        values[i] = fabs(values[i] - middle);
    }
    *median = middle;
    *spread = 1.4826 * hw_select(values, count, count / 2);
}
