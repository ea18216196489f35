// measure_internal.h: the way from a file's bytes to readings, in order:
//
//   1 measure_parse.c      bytes to clean text; which kind of file it is; the whole in its order
//   2 measure_csv.c        CSV to a table (CGATS: src/base/base_cgats.c)
//   3 measure_columns.c    which column holds what
//   4 measure_condition.c  illuminant, observer and other facts of the file, and what follows
//   5 measure_rows.c       rows to colours, each number tested
//   6 measure_spectrum.c   a spectrum of any usual step to the step of the CIE tables
//   7 measure_group.c      readings of one sample to one colour
#ifndef HUEWRIGHT_MEASURE_INTERNAL_H
#define HUEWRIGHT_MEASURE_INTERNAL_H

#include "base_internal.h"
#include "huewright/measure.h"

// ---- 2 CSV -------------------------------------------------------------------------

// Reads CSV into a table: what stands above the header as keywords. The header is the first line
// that names colours. `*comma` is true where decimals may be written with a comma.
HW_CHECK hw_status hw_measure_csv(const char *text, const char *name, hw_table *out, bool *comma,
                                  hw_error *err);

// ---- 3 Columns ---------------------------------------------------------------------

#define HW_NO_COLUMN    ((size_t)-1)
#define HW_BANDS_MOST   512
#define HW_NAME_COLUMNS 3

typedef struct hw_measure_columns {
    size_t lab[3], xyz[3];            // HW_NO_COLUMN: not there
    size_t error[3];                  // standard errors of L*, a*, b*
    size_t name[HW_NAME_COLUMNS];     // in the order in which they are asked
    size_t illuminant, observer;      // a column that says it row by row
    size_t band[HW_BANDS_MOST];       // of the spectrum, from short to long
    double wavelength[HW_BANDS_MOST]; // nm
    size_t band_count;
    char said[160]; // what the names of the colour columns say of light and observer: "D65 10"
} hw_measure_columns;

bool hw_measure_has_colours(const hw_measure_columns *columns);
// Is there some of a colour at least, of which can be said what is missing?
bool hw_measure_has_some(const hw_measure_columns *columns);
// A name without its dressing: "LAB_L", "CIE L*" and "L* (D65/10°)" give "labl", "ciel" and "l"; the
// words of light and observer go to `said` (160 bytes, may be NULL).
void hw_measure_plain_name(const char *name, char *out, size_t size, char *said);
void hw_measure_find_columns(const hw_table *table, hw_measure_columns *out);
// A half triple or a spectrum that is none. HW_OK where there is something to read.
HW_CHECK hw_status hw_measure_check_columns(const hw_measure_columns *columns, const char *name,
                                            hw_error *err);

// ---- 4 Conditions ------------------------------------------------------------------

typedef enum hw_observer { HW_OBSERVER_UNSAID = 0, HW_OBSERVER_2, HW_OBSERVER_10 } hw_observer;
typedef enum hw_illuminant {
    HW_ILLUMINANT_UNSAID = 0,
    HW_ILLUMINANT_D50,
    HW_ILLUMINANT_D65,
    HW_ILLUMINANT_OTHER,
} hw_illuminant;

typedef struct hw_measure_condition {
    hw_illuminant illuminant;
    hw_observer observer;
    bool torn;    // the file says two things
    hw_xyz white; // of the file's X, Y, Z
} hw_measure_condition;

// Is this word of a name one of light ("D65") or observer ("10°")?
bool hw_measure_is_light_word(const char *word);
// The facts of the file into `out`.
void hw_measure_find_condition(const hw_table *table, const hw_measure_columns *columns,
                               hw_measured *out, hw_measure_condition *condition);
// What L*a*b* or X, Y, Z of this condition need: white, warnings, u_conversion, or a refusal.
HW_CHECK hw_status hw_measure_use_condition(hw_measure_condition *condition, const char *name,
                                            hw_measured *out, hw_error *err);

// L*a*b* of this condition as L*a*b* under D50.
hw_lab hw_measure_to_d50(const hw_measure_condition *condition, hw_lab colour);

// ---- 5 Rows ------------------------------------------------------------------------

// Fills out->reading from the rows. `comma`: decimals may be written so.
HW_CHECK hw_status hw_measure_rows(const hw_table *table, const hw_measure_columns *columns,
                                   hw_measure_condition *condition, bool comma, const char *name,
                                   hw_measured *out, hw_error *err);

// ---- 6 Spectra ---------------------------------------------------------------------

// NULL, or why these wavelengths cannot be summed, as "begins at 420 nm"; no full stop.
const char *hw_measure_spectrum_fault(const double *wavelength, size_t count, char *room,
                                      size_t size);
// L*a*b* under D50, 2 degree of reflectances (1: perfect diffuser) at those wavelengths.
hw_lab hw_measure_lab_of_spectrum(const double *wavelength, const double *reflectance,
                                  size_t count);

#endif
