// bench.h: times of a benchmark's runs.
#ifndef HUEWRIGHT_BENCH_H
#define HUEWRIGHT_BENCH_H

#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

// Processor time of this program: the same whatever else the machine does.
static inline double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

static inline int by_size(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

// The median and, in brackets, the longest.
static inline void show_times(const char *what, double *times, size_t runs)
{
    qsort(times, runs, sizeof *times, by_size);
    printf("  %s %7.1f (%.1f)", what, times[runs / 2], times[runs - 1]);
}

#endif
