#include "in_children.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { JOBS_MOST = 16 };

static bool start_child(run_one run, const void *what, unsigned first, unsigned count,
                        unsigned step, size_t size, int *reading_end)
{
    int ends[2];
    if (pipe(ends) != 0) {
        return false;
    }
    fflush(stdout);
    pid_t child = fork();
    if (child == 0) {
        void *one = malloc(size);
        bool good = one != NULL;
        for (unsigned i = 0; i < count && good; i += step) {
            good = run(what, first + i, one) && write(ends[1], one, size) == (ssize_t)size;
        }
        _exit(good ? 0 : 1);
    }
    close(ends[1]);
    *reading_end = ends[0];
    return child > 0;
}

static size_t collect(int from, size_t size, uint8_t *out)
{
    size_t got = 0;
    for (ssize_t n; (n = read(from, out + got, size - got % size)) > 0;) {
        got += (size_t)n;
    }
    close(from);
    return got / size;
}

size_t in_children(run_one run, const void *what, unsigned first, unsigned count, unsigned jobs,
                   size_t size, void *results)
{
    int ends[JOBS_MOST];
    size_t found = 0;
    jobs = jobs < 1 ? 1 : jobs > JOBS_MOST ? JOBS_MOST : jobs;
    jobs = jobs > count ? count : jobs;
    for (unsigned j = 0; j < jobs; j++) {
        if (!start_child(run, what, first + j, count - j, jobs, size, &ends[j])) {
            return 0;
        }
    }
    for (unsigned j = 0; j < jobs; j++) {
        found += collect(ends[j], size, (uint8_t *)results + found * size);
        wait(NULL);
    }
    return found;
}

static int by_size(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

double quantile_of(double *values, size_t count, double share)
{
    if (count == 0) {
        return (double)NAN;
    }
    qsort(values, count, sizeof *values, by_size);
    return values[(size_t)fmin(share * (double)count, (double)count - 1.0)];
}

bool read_option_number(int count, char **arguments, int *i, const char *name, unsigned *out)
{
    if (strcmp(arguments[*i], name) != 0 || *i + 1 >= count) {
        return false;
    }
    *out = (unsigned)strtoul(arguments[++*i], NULL, 10);
    return true;
}
