// base_cgats.h: between base_cgats_text.c, which makes a text safe, and base_cgats.c, which has it read.
#ifndef HUEWRIGHT_BASE_CGATS_H
#define HUEWRIGHT_BASE_CGATS_H

#include "base_internal.h"

#define HW_CGATS_TABLES_MOST 16

typedef struct hw_cgats_text {
    hw_text text;    // for LittleCMS
    size_t needed;   // bytes that it will ask for to hold it
    hw_table *table; // HW_CGATS_TABLES_MOST; so far with the lines of their rows alone
    size_t count;
} hw_cgats_text;

// Adds to `out`, which holds empty tables. On failure the caller still frees them, and the text.
HW_CHECK hw_status hw_cgats_make_safe(const char *bytes, size_t count, const char *subject,
                                      const hw_limits *limits, hw_cgats_text *out, hw_error *err);

#endif
