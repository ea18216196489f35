// series.h: series of pictures of one job with known truth, before it and after each of three passes, replayed as a
// job: photos read, passes logged as a finisher counts them (one whole pass of a dye at its dilution), not as what was
// really laid.
#ifndef HUEWRIGHT_SERIES_H
#define HUEWRIGHT_SERIES_H

#include "base_internal.h"
#include "huewright/huewright.h"

#define SERIES_PASSES  3
#define SERIES_NIGHT   86400
#define SERIES_MORNING 1790000000 // some Monday; the steps are told the time

typedef struct series {
    const char *folder, *name;
    char scratch[40], job[600], shelf_path[600];
    hw_json *truth[SERIES_PASSES + 1];
    double shop; // strength of its passes over the boards'
} series;

// Reads the truth and makes a scratch folder; false with what is wrong printed. Close it either way.
bool series_open(const char *folder, const char *name, series *out);
bool series_close(series *s); // frees it and removes the folder

hw_json *series_read_json(const char *path); // NULL, printed: it cannot be read
hw_lab series_lab(const hw_json *array);     // NaN where there is none
void series_picture(const series *s, int photo, char *out, size_t size); // path of the picture

hw_lab series_true_patch(const series *s, int photo);
const char *series_patch_name(const series *s);
const hw_json *series_true_pass(const series *s, int pass); // 1, 2, 3
hw_layer series_layer(const series *s, int pass);           // as a finisher counts it

// Of the job. False with what is wrong printed.
bool series_start(const series *s);
bool series_add_photo(const series *s, int photo, hw_photo_result *out); // free it either way
bool series_log_pass(const series *s, int pass);

#endif
