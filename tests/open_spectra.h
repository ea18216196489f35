// open_spectra.h: tables of measured spectra that may lie beside the source tree, 380 to 780 nm every
// 5 nm, a wavelength a row, a spectrum a column. Nothing of them is kept here: where they are missing,
// what rests on them is not checked, and says so.
#ifndef HUEWRIGHT_TEST_OPEN_SPECTRA_H
#define HUEWRIGHT_TEST_OPEN_SPECTRA_H

#include "huewright/colour.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define OPEN_DATA         HW_TESTDATA "/../../shared/data/"
#define OPEN_SPECTRA_MOST 256

typedef struct open_table {
    char name[OPEN_SPECTRA_MOST][48];
    hw_spectrum spectrum[OPEN_SPECTRA_MOST];
    size_t count;
} open_table;

static inline bool open_head(char *line, open_table *out)
{
    int number = 0;
    out->count = 0;
    for (char *field = strtok(line, ",\r\n"); field; field = strtok(NULL, ",\r\n"), number++) {
        if (number > 0 && out->count < OPEN_SPECTRA_MOST) {
            snprintf(out->name[out->count++], sizeof *out->name, "%s", field);
        }
    }
    return out->count > 0;
}

// False where there is no such file, or not in these steps.
static inline bool open_read(const char *path, open_table *out)
{
    char line[16384];
    int row = -1;
    FILE *file = fopen(path, "r");
    bool good = file != NULL;
    while (good && row < HW_SPECTRUM_COUNT && fgets(line, sizeof line, file)) {
        if (row < 0) {
            good = open_head(line, out);
        } else {
            size_t number = 0;
            for (char *field = strtok(line, ",\r\n"); field; field = strtok(NULL, ",\r\n")) {
                if (number == 0) {
                    good = atoi(field) == HW_SPECTRUM_FIRST_NM + HW_SPECTRUM_STEP_NM * row;
                } else if (number <= out->count) {
                    out->spectrum[number - 1].at[row] = strtod(field, NULL);
                }
                number++;
            }
            good = good && number == out->count + 1;
        }
        row++;
    }
    if (file) {
        fclose(file);
    }
    return good && row == HW_SPECTRUM_COUNT;
}

static inline const hw_spectrum *open_find(const open_table *table, const char *name)
{
    for (size_t i = 0; i < table->count; i++) {
        if (strcmp(table->name[i], name) == 0) {
            return &table->spectrum[i];
        }
    }
    return NULL;
}

#endif
