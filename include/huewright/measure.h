// measure.h: readings of an instrument, from the bytes of a file to plain colours. CGATS.17 / ISO
// 28178 text and CSV of any writer; nothing of a job, a photo or a wish is known here.
//
// Everything that comes out is L*a*b* under D50 for the 2 degree observer. What the file gives
// under other terms is carried there with a warning and a doubt (u_conversion), or refused.
//
//   hw_measured measured = {0};
//   hw_measured_groups groups = {0};
//   status = hw_measure_parse(bytes, count, "boards.txt", NULL, &measured, &err);
//   status = hw_measure_group(&measured, &groups, &err);     // one colour a sample
//   hw_measured_groups_free(&groups);
//   hw_measured_free(&measured);
#ifndef HUEWRIGHT_MEASURE_H
#define HUEWRIGHT_MEASURE_H

#include "huewright/base.h"
#include "huewright/colour.h"

#ifdef __cplusplus
extern "C" {
#endif

// ---- Readings ----------------------------------------------------------------------

// What the file gave of a sample.
typedef enum hw_measured_source {
    HW_MEASURED_LAB = 0,
    HW_MEASURED_XYZ,
    HW_MEASURED_SPECTRUM, // summed here by the CIE tables
} hw_measured_source;

const char *
hw_measured_source_name(hw_measured_source source); // for files: "lab", "xyz", "spectrum"; static

// One row of the file.
typedef struct hw_measured_reading {
    char name[HW_NAME_SIZE]; // as the file names it; where it does not, the number of the row
    bool named;              // false: the name is that number
    hw_lab lab;              // D50, 2 degree
    hw_measured_source source;
    double standard_error[3]; // of L*, a*, b*, as the file says (SE_L, SE_A, SE_B); 0: not said
    long row;                 // of the table, from 1
    long line;                // of the file, from 1
} hw_measured_reading;

typedef enum hw_measured_format {
    HW_MEASURED_CGATS = 0,
    HW_MEASURED_CSV,
} hw_measured_format;

// All of one file. The texts are as the file says them, cleaned of control characters and cut to
// their size; "" where it says nothing.
typedef struct hw_measured {
    hw_measured_reading *reading; // in the order of the file
    size_t count;                 // at least 1
    hw_measured_format format;
    char instrument[160];
    char originator[160];
    char created[80];
    char illuminant[80]; // "D50"
    char observer[80];   // "2 degree"
    char condition[160]; // M0 to M3, or the geometry
    // Standard uncertainty of L*, a*, b* by what had to be carried over from another illuminant or
    // observer; 0 where nothing had.
    double u_conversion[3];
    hw_warnings warnings;
} hw_measured;

void hw_measured_free(hw_measured *measured); // leaves an empty one

// Reads a file. `name` names it to the person. Takes up to limits->json_bytes (limits may be NULL);
// the text is UTF-8, or single bytes read as Latin-1 with a warning. Of several tables the first one
// that holds colours is read, and the others are named in a warning.
//
// From each row L*a*b* is taken where the file says D50 and 2 degree; else the spectrum, where there
// is one from at most 400 to at least 700 nm at a step of 5, 10 or 20 nm; else L*a*b* or X, Y, Z,
// taken as D50 and 2 degree where nothing is said.
//
// HW_ERR_INPUT with the codes
//   measure-empty     nothing in it
//   table-large     too many bytes, rows, columns, or a text that is too long
//   table-encoding  not text: a 0 byte, control characters, UTF-16
//   measure-format    another kind of file, as a spreadsheet or XML
//   table-damaged     a table that does not hold together: counts, quotes, a file cut short
//   table-include   it asks for other files to be read, which is never done
//   measure-columns   no L*a*b*, X, Y, Z or spectrum in it, or half of one
//   measure-light     an illuminant or observer that cannot be carried to D50, 2 degree
//   measure-number    a cell that is no number; names the line
//   measure-range     a value that cannot be; names the line
HW_CHECK hw_status hw_measure_parse(const void *bytes, size_t count, const char *name,
                                    const hw_limits *limits, hw_measured *out, hw_error *err);

// ---- One colour a sample -----------------------------------------------------------

#define HW_INSTRUMENT_U 0.2 // between instruments, each of L*, a*, b* (chosen; measure_group.c)

// All readings of one name.
typedef struct hw_measured_group {
    char name[HW_NAME_SIZE];
    bool named;
    hw_lab lab;   // of the mean X, Y, Z, equal weights
    size_t count; // readings
    double
        standard_error[3]; // of the mean, from the scatter of L*, a*, b*; of a single reading what
                           // the file says, 0 where it says nothing
    double u[3]; // standard uncertainty of L*, a*, b*: that, the instrument (HW_INSTRUMENT_U) and
                 // the conversion, as root of the sum of squares
    long row, line; // of the first reading
} hw_measured_group;

typedef struct hw_measured_groups {
    hw_measured_group *group; // in the order in which the names first appear
    size_t count;
} hw_measured_groups;

void hw_measured_groups_free(hw_measured_groups *groups); // leaves an empty one

// Gathers rows of the same name (compared byte by byte). Rows without a name stay single. Fails only
// when memory is out.
HW_CHECK hw_status hw_measure_group(const hw_measured *measured, hw_measured_groups *out,
                                    hw_error *err);

#ifdef __cplusplus
}
#endif
#endif
