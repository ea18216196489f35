// CGATS text: LittleCMS 2.14 itself reads what we write and we read what it writes; what its reader
// stumbles over never reaches it; nothing is lost or half read when memory is out.
#include "base_internal.h"
#include "check.h"

#include <lcms2.h>

static hw_table *tables;
static size_t table_count;
static hw_error err;

static hw_status read_text(const char *text, size_t count)
{
    err = (hw_error){0};
    return hw_cgats_read(text, count, "sheet.txt", NULL, &tables, &table_count, &err);
}

static void refused(const char *text, size_t count, const char *code, const char *what)
{
    if (check_true(read_text(text, count) == HW_ERR_INPUT)) {
        check_text(err.code, code);
        check_holds(err.what, what);
        check_text(err.subject, "sheet.txt");
        check_true(err.next[0] != 0);
    } else {
        hw_tables_free(tables, table_count);
    }
}

// ---- Writing -----------------------------------------------------------------------

static hw_table sample_table(void)
{
    hw_table made = {0};
    hw_table_set_type(&made, "CGATS.17");
    hw_table_add_keyword(&made, "ORIGINATOR", "huewright \"test\"\nsecond line");
    hw_table_add_keyword(&made, "KEYWORD", "SE_L");
    hw_table_add_keyword(&made, "KEYWORD", "EVENT");
    hw_table_add_field(&made, "SAMPLE_ID");
    hw_table_add_field(&made, "SAMPLE_NAME");
    hw_table_add_field(&made, "LAB_L");
    hw_table_add_field(&made, "SE_L");
    const char *const cells[4][4] = {{"1", "left door", "45.120", "0.2"},
                                     {"002", "#3", "-0.50", ""},
                                     {"12A", "T\xc3\xbcr", "1e2", "'"},
                                     {"4", "0x1f", "007", "BEGIN_DATA"}};
    for (size_t row = 0; row < 4; row++) {
        for (size_t i = 0; i < 4; i++) {
            hw_table_add_cell(&made, cells[row][i]);
        }
        hw_table_end_row(&made, row + 1);
    }
    return made;
}

static void check_sample(const hw_table *table)
{
    hw_table wanted = sample_table();
    if (check_true(hw_table_rows(table) == 4 && hw_table_fields(table) == 4)) {
        for (size_t row = 0; row < 4; row++) {
            for (size_t i = 0; i < 4; i++) {
                check_text(hw_table_cell(table, row, i), hw_table_cell(&wanted, row, i));
            }
        }
        check_text(hw_table_field(table, 3), "SE_L");
        check_text(hw_table_keyword(table, "Originator"), "huewright 'test' second line");
        check_text(hw_table_type(table), "CGATS.17");
    }
    hw_table_free(&wanted);
}

static void test_write(void)
{
    hw_table made = sample_table();
    char *text = NULL;
    check_true(hw_cgats_write(&made, &text, NULL) == HW_OK);
    check_holds(text, "CGATS.17\nKEYWORD\t\"SE_L\"\nKEYWORD\t\"EVENT\"\nORIGINATOR\t");
    // The reference reader, as it stands.
    cmsHANDLE sheet = cmsIT8LoadFromMem(NULL, text, (cmsUInt32Number)strlen(text));
    if (check_true(sheet != NULL)) {
        check_text(cmsIT8GetProperty(sheet, "ORIGINATOR"), "huewright 'test' second line");
        check_close(cmsIT8GetPropertyDbl(sheet, "NUMBER_OF_SETS"), 4.0, 0.0);
        check_text(cmsIT8GetDataRowCol(sheet, 0, 1), "left door");
        check_close(cmsIT8GetDataRowColDbl(sheet, 0, 2), 45.12, 1e-12);
        check_close(cmsIT8GetDataRowColDbl(sheet, 1, 2), -0.5, 1e-12);
        check_text(cmsIT8GetDataRowCol(sheet, 1, 1), "#3");
        check_text(cmsIT8GetDataRowCol(sheet, 2, 1), "T\xc3\xbcr");
        check_text(cmsIT8GetDataRowCol(sheet, 3, 3), "BEGIN_DATA");
        cmsIT8Free(sheet);
    }
    if (check_true(read_text(text, strlen(text)) == HW_OK && table_count == 1)) {
        check_sample(&tables[0]);
        hw_tables_free(tables, table_count);
    }
    hw_free(text);
    hw_table_free(&made);
}

// ---- Reading -----------------------------------------------------------------------

// A file that LittleCMS writes by itself, with its own idea of quotes.
static void test_littlecms_writes(void)
{
    char text[4000];
    cmsUInt32Number count = sizeof text;
    cmsHANDLE sheet = cmsIT8Alloc(NULL);
    cmsIT8SetSheetType(sheet, "IT8.7/2");
    cmsIT8SetPropertyStr(sheet, "ORIGINATOR", "LittleCMS");
    cmsIT8SetPropertyDbl(sheet, "NUMBER_OF_FIELDS", 4);
    cmsIT8SetPropertyDbl(sheet, "NUMBER_OF_SETS", 2);
    cmsIT8SetPropertyMulti(sheet, "WEIGHTING_FUNCTION", "ILLUMINANT", "D50");
    cmsIT8SetPropertyMulti(sheet, "WEIGHTING_FUNCTION", "OBSERVER", "2 degree");
    static const char *const fields[] = {"SAMPLE_ID", "LAB_L", "LAB_A", "LAB_B"};
    for (int i = 0; i < 4; i++) {
        cmsIT8SetDataFormat(sheet, i, fields[i]);
    }
    for (int row = 0; row < 2; row++) {
        cmsIT8SetDataRowCol(sheet, row, 0, row ? "A 2" : "A1");
        for (int i = 1; i < 4; i++) {
            cmsIT8SetDataRowColDbl(sheet, row, i, 45.125 + row + 10 * i);
        }
    }
    check_true(cmsIT8SaveToMem(sheet, text, &count));
    cmsIT8Free(sheet);
    if (check_true(read_text(text, strlen(text)) == HW_OK && table_count == 1)) {
        check_text(hw_table_type(&tables[0]), "IT8.7/2");
        check_text(hw_table_cell(&tables[0], 1, 0), "A 2");
        check_text(hw_table_cell(&tables[0], 1, 3), "76.125");
        check_text(hw_table_keyword(&tables[0], "WEIGHTING_FUNCTION"),
                   "ILLUMINANT,D50; OBSERVER,2 degree");
        hw_tables_free(tables, table_count);
    }
}

static void test_refused(void)
{
    char nothing[64] = {0};
    refused("", 0, "table-damaged", "no table of readings");
    refused(nothing, sizeof nothing, "table-encoding", "no plain text");
    refused("\n", 1, "table-damaged", "no table of readings");
    refused("CGATS.17\n\xff\n", 11, "table-encoding", "no plain text");
    hw_text text = {0};
    hw_text_add(&text, "CGATS.17\nBEGIN_DATA_FORMAT\n");
    for (int i = 0; i < 513; i++) {
        hw_text_add(&text, "F%d ", i);
    }
    refused(text.bytes, text.length, "table-large", "512 columns");
    text.length = 0;
    hw_text_add(&text, "CGATS.17\n");
    for (int i = 0; i < 501; i++) {
        hw_text_add(&text, "K%d 1\n", i);
    }
    refused(text.bytes, text.length, "table-large", "500 keywords");
    text.length = 0;
    for (int i = 0; i < 17; i++) {
        hw_text_add(&text, "T\nBEGIN_DATA_FORMAT\nA\nEND_DATA_FORMAT\nBEGIN_DATA\n1\nEND_DATA\n");
    }
    refused(text.bytes, text.length, "table-large", "16 tables");
    text.length = 0;
    hw_text_add(&text, "T\nBEGIN_DATA_FORMAT\nA\nEND_DATA_FORMAT\nBEGIN_DATA\n");
    for (int i = 0; i < 32767; i++) {
        hw_text_add(&text, "1\n");
    }
    refused(text.bytes, text.length, "table-large", "32766 rows");
    hw_limits limits = hw_limits_default();
    limits.json_bytes = 10;
    err = (hw_error){0};
    check_true(hw_cgats_read("CGATS.17\n\n\n", 11, "x", &limits, &tables, &table_count, &err) ==
               HW_ERR_INPUT);
    check_text(err.code, "table-large");
    hw_text_free(&text);
}

// As much as is let in of everything: the block for LittleCMS is large enough, or it would read nothing.
static void test_large(void)
{
    hw_text text = {0};
    char value[1001];
    memset(value, 'x', 1000);
    value[1000] = 0;
    hw_text_add(&text, "CGATS.17\n");
    for (int i = 0; i < 500; i++) {
        hw_text_add(&text, "K%d \"%s\"\n", i, value);
    }
    hw_text_add(&text, "BEGIN_DATA_FORMAT\nA B C D E F\nEND_DATA_FORMAT\nBEGIN_DATA\n");
    for (int i = 0; i < 32766; i++) {
        hw_text_add(&text, "%d 2 3 4 %s 6\n", i, i % 400 ? "5" : value);
    }
    hw_text_add(&text, "END_DATA\n");
    if (check_true(read_text(text.bytes, text.length) == HW_OK && table_count == 1)) {
        check_true(hw_table_rows(&tables[0]) == 32766 && hw_table_keywords(&tables[0]) >= 500);
        check_text(hw_table_cell(&tables[0], 32765, 0), "32765");
        check_text(hw_table_cell(&tables[0], 32400, 4), value);
        check_text(hw_table_keyword(&tables[0], "K499"), value);
        check_true(hw_table_line(&tables[0], 0) == 506);
        char *again = NULL;
        if (check_true(hw_cgats_write(&tables[0], &again, NULL) == HW_OK)) {
            check_holds(again, "\n 32765\t2\t3\t4\t5\t6\nEND_DATA\n");
            hw_free(again);
        }
        hw_tables_free(tables, table_count);
    }
    // One cell a row, one letter a cell: the most cells for their bytes.
    text.length = 0;
    hw_text_add(&text, "CGATS.17\nBEGIN_DATA_FORMAT\n");
    for (int i = 0; i < 512; i++) {
        hw_text_add(&text, "F%d ", i);
    }
    hw_text_add(&text, "\nEND_DATA_FORMAT\nBEGIN_DATA\n");
    for (int row = 0; row < 1000; row++) {
        for (int i = 0; i < 512; i++) {
            hw_text_add(&text, "%d ", i % 10);
        }
        hw_text_add(&text, "\n");
    }
    hw_text_add(&text, "END_DATA\n");
    if (check_true(read_text(text.bytes, text.length) == HW_OK && table_count == 1)) {
        check_text(hw_table_cell(&tables[0], 999, 511), "1");
        hw_tables_free(tables, table_count);
    }
    hw_text_free(&text);
}

// ---- Memory ------------------------------------------------------------------------

static void test_memory(void)
{
    hw_table made = sample_table();
    char *whole = NULL;
    check_true(hw_cgats_write(&made, &whole, NULL) == HW_OK);
    long refusals = 0;
    for (long n = 0; n < 200; n++, refusals++) {
        char *text = NULL;
        err = (hw_error){0};
        hw_test_fail_alloc(n);
        hw_status status = hw_cgats_write(&made, &text, &err);
        hw_test_fail_alloc(-1);
        if (status == HW_OK) {
            check_text(text, whole);
            hw_free(text);
            break;
        }
        check_text(err.code, "memory-out");
    }
    check_true(refusals > 3 && refusals < 199);
    refusals = 0;
    for (long n = 0; n < 200; n++, refusals++) {
        hw_test_fail_alloc(n);
        hw_status status = read_text(whole, strlen(whole));
        hw_test_fail_alloc(-1);
        if (status == HW_OK) {
            check_sample(&tables[0]);
            hw_tables_free(tables, table_count);
            break;
        }
        check_text(err.code, "memory-out");
    }
    check_true(refusals > 10 && refusals < 199);
    // A table that was cut short while it was built is not written.
    hw_table_free(&made);
    hw_test_fail_alloc(3);
    made = sample_table();
    hw_test_fail_alloc(-1);
    char *text = NULL;
    check_true(hw_cgats_write(&made, &text, NULL) == HW_ERR_STORAGE);
    hw_table_free(&made);
    hw_free(whole);
}

int main(void)
{
    test_write();
    test_littlecms_writes();
    test_refused();
    test_large();
    test_memory();
    return check_done();
}
