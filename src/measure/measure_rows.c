// measure_rows.c: rows to colours. Every number is tested before it is believed, and a refusal names
// the line of the file that it stands in.
#include "measure_internal.h"

#include <math.h>

// What is read of each row, and how its numbers are to be taken.
typedef struct how {
    const hw_table *table;
    const hw_measure_columns *columns;
    const hw_measure_condition *condition;
    const char *name; // of the file
    hw_error *err;
    hw_measured_source source;
    bool comma;
    double scale; // of X, Y, Z and reflectances: 0.01 for percent
    size_t count; // columns of the colour
    double value[HW_BANDS_MOST];
} how;

static size_t column_of(const how *set, size_t index)
{
    return set->source == HW_MEASURED_LAB   ? set->columns->lab[index]
           : set->source == HW_MEASURED_XYZ ? set->columns->xyz[index]
                                            : set->columns->band[index];
}

// ---- Numbers -----------------------------------------------------------------------

static bool is_blank_text(const char *text)
{
    return text[strspn(text, " \t")] == 0;
}

// A number with a point, or with a single comma in its place.
static bool to_number(const char *text, bool comma, double *out)
{
    char copy[64];
    size_t start = strspn(text, " \t"), length = strlen(text);
    while (length > start && (text[length - 1] == ' ' || text[length - 1] == '\t')) {
        length--;
    }
    if (length - start >= sizeof copy) {
        return false;
    }
    memcpy(copy, text + start, length - start);
    copy[length - start] = 0;
    char *mark = strchr(copy, ',');
    if (mark && comma && !strchr(copy, '.') && !strchr(mark + 1, ',')) {
        *mark = '.';
    }
    return hw_parse_number(copy, false, out);
}

// A text of the file as a message shows it, cut at a whole letter.
typedef struct shown {
    char text[40];
} shown;

static shown show(const char *text)
{
    shown made;
    hw_copy_text(made.text, sizeof made.text, text);
    return made;
}

static hw_status read_number(how *set, size_t row, size_t column, double *out)
{
    const char *text = hw_table_cell(set->table, row, column);
    if (to_number(text, set->comma, out)) {
        return HW_OK;
    }
    return hw_fail(set->err, HW_ERR_INPUT, "measure-number", set->name,
                   "Mend that cell, or take its row out.", "line %zu: \"%s\" under %s is no number",
                   hw_table_line(set->table, row), show(text).text,
                   show(hw_table_field(set->table, column)).text);
}

static hw_status refuse_value(how *set, size_t row, size_t column, double value, const char *limits)
{
    return hw_fail(set->err, HW_ERR_INPUT, "measure-range", set->name,
                   "Measure it again, or take its row out; check that the column is what it says.",
                   "line %zu: %g under %s cannot be: %s", hw_table_line(set->table, row), value,
                   show(hw_table_field(set->table, column)).text, limits);
}

static bool row_is_empty(const how *set, size_t row)
{
    for (size_t i = 0; i < set->count; i++) {
        if (!is_blank_text(hw_table_cell(set->table, row, column_of(set, i)))) {
            return false;
        }
    }
    return true;
}

// ---- Fraction or percent -----------------------------------------------------------

// X, Y, Z and reflectances come as parts of 1 or of 100: of 1 where nothing in the file is larger than 2. (A
// file of percents that small would be of black alone; chosen.)
static void find_scale(how *set)
{
    const double fraction_most = 2.0;
    double most = 0.0, value;
    for (size_t row = 0; row < hw_table_rows(set->table); row++) {
        for (size_t i = 0; i < set->count; i++) {
            const char *text = hw_table_cell(set->table, row, column_of(set, i));
            most = to_number(text, set->comma, &value) && value > most ? value : most;
        }
    }
    set->scale = set->source == HW_MEASURED_LAB || most <= fraction_most ? 1.0 : 0.01;
}

// ---- One row -----------------------------------------------------------------------

static hw_status check_lab(how *set, size_t row, hw_lab lab)
{
    const double L_least = -0.05, L_most = 105.0, chroma_most = 150.0; // rounding; a glossy white
    const char *what = lab.L < L_least || lab.L > L_most ? "L* lies between 0 and 100"
                       : fabs(lab.a) > chroma_most || fabs(lab.b) > chroma_most
                           ? "a* and b* lie between -150 and 150"
                           : NULL;
    if (!what) {
        return HW_OK;
    }
    return hw_fail(
        set->err, HW_ERR_INPUT, "measure-range", set->name,
        "Measure it again, or take its row out; check that the columns are what they say.",
        "line %zu gives L* %.2f a* %.2f b* %.2f, which cannot be: %s",
        hw_table_line(set->table, row), lab.L, lab.a, lab.b, what);
}

static hw_status read_colour(how *set, size_t row, hw_lab *out)
{
    const double most = 2.0;
    for (size_t i = 0; i < set->count; i++) {
        size_t column = column_of(set, i);
        hw_status status = read_number(set, row, column, &set->value[i]);
        if (status != HW_OK) {
            return status;
        }
        double value = set->value[i] * set->scale;
        if (set->source != HW_MEASURED_LAB && !(value >= 0.0 && value <= most)) {
            return refuse_value(set, row, column, set->value[i],
                                set->scale == 1.0 ? "it lies between 0 and 2 (1 is white)"
                                                  : "it lies between 0 and 200 percent");
        }
        set->value[i] = value;
    }
    const double *value = set->value;
    *out = set->source == HW_MEASURED_SPECTRUM
               ? hw_measure_lab_of_spectrum(set->columns->wavelength, value, set->count)
           : set->source == HW_MEASURED_XYZ
               ? hw_lab_from_xyz((hw_xyz){value[0], value[1], value[2]}, set->condition->white)
               : (hw_lab){value[0], value[1], value[2]};
    hw_status status = check_lab(set, row, *out);
    if (status == HW_OK && set->source != HW_MEASURED_SPECTRUM) {
        *out = hw_measure_to_d50(set->condition, *out);
        status = check_lab(set, row, *out);
    }
    return status;
}

static hw_status read_errors(how *set, size_t row, double out[3])
{
    const double most = 50.0;
    for (size_t k = 0; k < 3; k++) {
        size_t column = set->columns->error[k];
        if (column == HW_NO_COLUMN || is_blank_text(hw_table_cell(set->table, row, column))) {
            continue;
        }
        hw_status status = read_number(set, row, column, &out[k]);
        if (status == HW_OK && !(out[k] >= 0.0 && out[k] <= most)) {
            status = refuse_value(set, row, column, out[k], "it lies between 0 and 50");
        }
        if (status != HW_OK) {
            return status;
        }
    }
    return HW_OK;
}

// A name that can be printed, logged and typed again. False where it had to be cut.
static bool clean_name(char out[HW_NAME_SIZE], const char *text)
{
    text += strspn(text, " \t");
    bool whole = hw_copy_text(out, HW_NAME_SIZE, text);
    for (char *at = out; *at; at++) {
        bool c1_control = (unsigned char)at[0] == 0xc2 && (unsigned char)at[1] < 0xa0;
        if ((unsigned char)*at < 0x20 || *at == 0x7f) {
            *at = ' ';
        } else if (c1_control) {
            at[0] = at[1] = ' ';
        }
    }
    for (size_t length = strlen(out); length > 0 && out[length - 1] == ' ';) {
        out[--length] = 0;
    }
    return whole;
}

static void name_row(const how *set, size_t row, hw_measured_reading *out, bool *cut)
{
    for (size_t k = 0; k < HW_NAME_COLUMNS && !out->named; k++) {
        size_t column = set->columns->name[k];
        if (column != HW_NO_COLUMN) {
            bool whole = clean_name(out->name, hw_table_cell(set->table, row, column));
            out->named = out->name[0] != 0;
            *cut = *cut || !whole;
        }
    }
    if (!out->named) {
        snprintf(out->name, sizeof out->name, "%zu", row + 1);
    }
}

// ---- All rows ----------------------------------------------------------------------

static bool all_there(const size_t column[3])
{
    return column[0] != HW_NO_COLUMN && column[1] != HW_NO_COLUMN && column[2] != HW_NO_COLUMN;
}

// See hw_measure_parse.
static hw_status choose_source(how *set, hw_measure_condition *condition, hw_measured *out)
{
    const hw_measure_columns *columns = set->columns;
    char room[160];
    bool lab = all_there(columns->lab), xyz = all_there(columns->xyz);
    const char *fault =
        hw_measure_spectrum_fault(columns->wavelength, columns->band_count, room, sizeof room);
    bool spectrum = columns->band_count >= 2 && !fault;
    bool exact = condition->illuminant == HW_ILLUMINANT_D50 &&
                 condition->observer == HW_OBSERVER_2 && !condition->torn;
    if (columns->band_count >= 2 && fault) {
        hw_warn(&out->warnings, "The spectra of the file are not used: %s.", fault);
    }
    if (spectrum && !(exact && (lab || xyz))) {
        set->source = HW_MEASURED_SPECTRUM;
        set->count = columns->band_count;
        double first = columns->wavelength[0], last = columns->wavelength[set->count - 1];
        if (first > 380.0 || last < 730.0) {
            hw_warn(&out->warnings,
                    "The spectra go from %g to %g nm: beyond, their end values are held, which "
                    "moves L*, a*, b* of wood by 0.1 or less.",
                    first, last);
        }
        return HW_OK;
    }
    set->source = lab ? HW_MEASURED_LAB : HW_MEASURED_XYZ;
    set->count = 3;
    return hw_measure_use_condition(condition, set->name, out, set->err);
}

static hw_status read_rows(how *set, hw_measured *out)
{
    size_t skipped = 0, first_skipped = 0;
    bool cut = false;
    for (size_t row = 0; row < hw_table_rows(set->table); row++) {
        hw_measured_reading *one = &out->reading[out->count];
        size_t line = hw_table_line(set->table, row);
        if (row_is_empty(set, row)) {
            first_skipped = skipped++ ? first_skipped : line;
            continue;
        }
        *one =
            (hw_measured_reading){.source = set->source, .row = (long)row + 1, .line = (long)line};
        hw_status status = read_colour(set, row, &one->lab);
        if (status == HW_OK) {
            status = read_errors(set, row, one->standard_error);
        }
        if (status != HW_OK) {
            return status;
        }
        name_row(set, row, one, &cut);
        out->count++;
    }
    if (out->count == 0) {
        return hw_fail(set->err, HW_ERR_INPUT, "measure-empty", set->name,
                       "Check that the readings were stored, and export them again.",
                       "none of its rows holds a colour");
    }
    if (skipped) {
        hw_warn(&out->warnings,
                "Left aside for want of a colour: %zu row%s, the first in line %zu.", skipped,
                skipped == 1 ? "" : "s", first_skipped);
    }
    if (cut) {
        hw_warn(&out->warnings, "Names longer than %d bytes were cut.", HW_NAME_SIZE - 1);
    }
    return HW_OK;
}

hw_status hw_measure_rows(const hw_table *table, const hw_measure_columns *columns,
                          hw_measure_condition *condition, bool comma, const char *name,
                          hw_measured *out, hw_error *err)
{
    how *set = hw_alloc_array(1, sizeof *set);
    out->reading = hw_alloc_array(hw_table_rows(table), sizeof *out->reading);
    if (!set || !out->reading) {
        hw_free(set);
        return hw_fail_memory(err, "reading the measurements");
    }
    *set = (how){.table = table,
                 .columns = columns,
                 .condition = condition,
                 .name = name,
                 .err = err,
                 .comma = comma};
    hw_status status = choose_source(set, condition, out);
    if (status == HW_OK) {
        find_scale(set);
        status = read_rows(set, out);
    }
    hw_free(set);
    return status;
}
