// fuzz_measure.c: any bytes as an instrument's file. Whatever is read is finite, can be and can be named; as
// CGATS it is written again and read back the same.
#include "base_internal.h"
#include "huewright/measure.h"

#include <math.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static void check_reading(const hw_measured_reading *one)
{
    const double *se = one->standard_error;
    bool can_be = one->lab.L >= -0.06 && one->lab.L <= 105.0 && fabs(one->lab.a) <= 150.0 &&
                  fabs(one->lab.b) <= 150.0 && se[0] >= 0.0 && se[1] >= 0.0 && se[2] >= 0.0;
    if (!can_be || !one->name[0] || !hw_is_utf8(one->name, strlen(one->name)) || one->row < 1 ||
        one->line < 1) {
        abort();
    }
}

static void check_groups(const hw_measured *measured)
{
    hw_measured_groups groups = {0};
    size_t readings = 0;
    if (hw_measure_group(measured, &groups, NULL) != HW_OK) {
        abort();
    }
    for (size_t i = 0; i < groups.count; i++) {
        const hw_measured_group *one = &groups.group[i];
        readings += one->count;
        for (int k = 0; k < 3; k++) {
            if (!isfinite(one->standard_error[k]) || !(one->u[k] >= HW_INSTRUMENT_U)) {
                abort();
            }
        }
        if (!isfinite(one->lab.L) || !isfinite(one->lab.a) || !isfinite(one->lab.b)) {
            abort();
        }
    }
    if (readings != measured->count) {
        abort();
    }
    hw_measured_groups_free(&groups);
}

// A second writing of what was read is the same, cell by cell (but for quotes, which have no place).
static void check_again(const hw_table *table)
{
    char *text = NULL;
    hw_table *again = NULL;
    size_t count = 0;
    if (hw_cgats_write(table, &text, NULL) != HW_OK) {
        abort();
    }
    hw_error err = {0};
    if (hw_cgats_read(text, strlen(text), "again", NULL, &again, &count, &err) != HW_OK) {
        if (strcmp(err.code, "table-large") != 0) { // quotes that came to it
            abort();
        }
        hw_free(text);
        return;
    }
    if (count != 1 || hw_table_rows(again) != hw_table_rows(table) ||
        hw_table_fields(again) != hw_table_fields(table)) {
        abort();
    }
    for (size_t row = 0; row < hw_table_rows(table); row++) {
        for (size_t i = 0; i < hw_table_fields(table); i++) {
            const char *was = hw_table_cell(table, row, i), *is = hw_table_cell(again, row, i);
            if (!strchr(was, '"') && strcmp(was, is) != 0) {
                abort();
            }
        }
    }
    hw_tables_free(again, count);
    hw_free(text);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_measured measured = {0};
    hw_table *tables = NULL;
    size_t table_count = 0;
    hw_error err = {0};
    hw_status status = hw_measure_parse(bytes, count, "fuzz", NULL, &measured, &err);
    if (status == HW_OK) {
        for (size_t i = 0; i < measured.count; i++) {
            check_reading(&measured.reading[i]);
        }
        check_groups(&measured);
    } else if (status != HW_ERR_INPUT || !err.code[0] || !err.what[0] || !err.next[0] ||
               !hw_is_utf8(err.what, strlen(err.what))) {
        abort();
    }
    hw_measured_free(&measured);
    if (hw_cgats_read((const char *)bytes, count, "fuzz", NULL, &tables, &table_count, NULL) ==
        HW_OK) {
        for (size_t i = 0; i < table_count; i++) {
            check_again(&tables[i]);
        }
        hw_tables_free(tables, table_count);
    }
    return 0;
}
