// in_children.h: many seeded runs on several cores, each in a child that writes its results into a pipe.
#ifndef HUEWRIGHT_IN_CHILDREN_H
#define HUEWRIGHT_IN_CHILDREN_H

#include <stdbool.h>
#include <stddef.h>

// One run: fills a result of the size given below. `what`: what all of them share.
typedef bool (*run_one)(const void *what, unsigned seed, void *result);

// Runs seeds first, first + 1 ... on `jobs` children (at most 16). Results come in the order of the children;
// returns how many came.
size_t in_children(run_one run, const void *what, unsigned first, unsigned count, unsigned jobs,
                   size_t size, void *results);

// The value below which this share of them lies; sorts them. NaN for none.
double quantile_of(double *values, size_t count, double share);

// Is the word at *i this option? Then *out is the number after it, and *i is on that.
bool read_option_number(int count, char **arguments, int *i, const char *name, unsigned *out);

#endif
