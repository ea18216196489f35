// Files of other programs' habits (testdata/measure/), what they are read as, and what cannot be used.
#include "base_internal.h"
#include "check.h"
#include "huewright/measure.h"

static uint8_t bytes[1 << 16];

static size_t load(const char *name)
{
    char path[1024];
    snprintf(path, sizeof path, "%s/measure/%s", HW_TESTDATA, name);
    FILE *file = fopen(path, "rb");
    size_t count = file ? fread(bytes, 1, sizeof bytes, file) : 0;
    check_report(file != NULL, path, 0, "file can be read");
    if (file) {
        fclose(file);
    }
    return count;
}

static bool warns(const hw_measured *measured, const char *words)
{
    for (size_t i = 0; i < measured->warnings.count; i++) {
        if (strstr(measured->warnings.text[i], words)) {
            return true;
        }
    }
    return false;
}

// file, readings, number, name, L, a, b, source, illuminant, observer, warning
static void used(const check_row *row)
{
    hw_measured measured = {0};
    hw_error err = {0};
    size_t count = load(row->text[0]), number = (size_t)row->num[2];
    hw_status status = hw_measure_parse(bytes, count, row->text[0], NULL, &measured, &err);
    if (!check_report(status == HW_OK && measured.count == (size_t)row->num[1] &&
                          number <= measured.count,
                      row->file, row->line, err.what)) {
        hw_measured_free(&measured);
        return;
    }
    const hw_measured_reading *one = &measured.reading[number - 1];
    double within = one->source == HW_MEASURED_LAB   ? 1e-9
                    : one->source == HW_MEASURED_XYZ ? 0.001
                                                     : 0.01;
    check_near(row, one->lab.L, row->num[4], within);
    check_near(row, one->lab.a, row->num[5], within);
    check_near(row, one->lab.b, row->num[6], within);
    check_report(strcmp(one->name, row->text[3]) == 0, row->file, row->line, one->name);
    check_report(strcmp(hw_measured_source_name(one->source), row->text[7]) == 0, row->file,
                 row->line, "source");
    check_report(strcmp(measured.illuminant, row->text[8]) == 0, row->file, row->line,
                 measured.illuminant);
    check_report(strcmp(measured.observer, row->text[9]) == 0, row->file, row->line,
                 measured.observer);
    bool silent = strcmp(row->text[10], "-") == 0;
    check_report(silent ? measured.warnings.count == 0 : warns(&measured, row->text[10]), row->file,
                 row->line, measured.warnings.count ? measured.warnings.text[0] : "no warning");
    hw_measured_free(&measured);
}

// file, code, words
static void refused(const check_row *row)
{
    hw_measured measured = {0};
    hw_error err = {0};
    size_t count = load(row->text[0]);
    hw_status status = hw_measure_parse(bytes, count, row->text[0], NULL, &measured, &err);
    check_report(status == HW_ERR_INPUT && measured.count == 0, row->file, row->line, "refused");
    check_report(strcmp(err.code, row->text[1]) == 0, row->file, row->line, err.code);
    check_report(strstr(err.what, row->text[2]) != NULL, row->file, row->line, err.what);
    check_report(err.next[0] && strcmp(err.subject, row->text[0]) == 0, row->file, row->line,
                 "next and subject");
    hw_measured_free(&measured);
}

static hw_status parse(const char *text, hw_measured *out, hw_error *err)
{
    *err = (hw_error){0};
    *out = (hw_measured){0};
    return hw_measure_parse(text, strlen(text), "typed.csv", NULL, out, err);
}

// ---- What is said of the file ------------------------------------------------------

static void test_facts(void)
{
    hw_measured measured = {0};
    size_t count = load("bench.txt");
    check_true(hw_measure_parse(bytes, count, "bench.txt", NULL, &measured, NULL) == HW_OK);
    check_text(measured.instrument, "hand-held sphere, 8 mm");
    check_text(measured.originator, "bench program 3.1");
    check_text(measured.created, "May 03, 2026");
    check_text(measured.condition, "M0");
    check_true(measured.format == HW_MEASURED_CGATS && measured.reading[2].line == 18 &&
               measured.reading[2].row == 3 && measured.reading[2].named);
    check_true(measured.u_conversion[0] == 0.0 && measured.u_conversion[1] == 0.0);
    hw_measured_free(&measured);
    hw_measured_free(&measured);
    count = load("plain.tsv");
    check_true(hw_measure_parse(bytes, count, "plain.tsv", NULL, &measured, NULL) == HW_OK);
    check_true(measured.format == HW_MEASURED_CSV && !measured.reading[1].named);
    hw_measured_free(&measured);
}

// ---- X, Y, Z to L*a*b* -------------------------------------------------------------

// ISO/CIE 11664-4: Y 0.18418651851 is L* 50, 216/24389 is L* 8; the white 0.9642 1 0.8249 has no hue. Percent and
// parts of 1 are told apart by the largest number of the file.
static void test_xyz(void)
{
    hw_measured measured;
    hw_error err;
    check_true(parse("X,Y,Z\n17.7592641,18.4186518,15.1935459\n0.8539391,0.8856452,0.7305687\n",
                     &measured, &err) == HW_OK);
    check_close(measured.reading[0].lab.L, 50.0, 1e-5);
    check_close(measured.reading[0].lab.a, 0.0, 1e-4);
    check_close(measured.reading[0].lab.b, 0.0, 1e-4);
    check_close(measured.reading[1].lab.L, 8.0, 1e-5);
    hw_measured_free(&measured);
    check_true(parse("X,Y,Z\n0.177592641,0.184186518,0.151935459\n", &measured, &err) == HW_OK);
    check_close(measured.reading[0].lab.L, 50.0, 1e-5);
    hw_measured_free(&measured);
    // Half of a grey under the 10 degree observer is as grey, and doubted.
    check_true(parse("Illuminant;Observer;X;Y;Z\nD65;10 deg;47,405;50;53,66\n", &measured, &err) ==
               HW_OK);
    check_close(measured.reading[0].lab.L, 76.0693, 1e-3);
    check_close(measured.reading[0].lab.a, 0.0, 1e-3);
    check_close(measured.reading[0].lab.b, 0.0, 1e-3);
    check_close(measured.u_conversion[1], 1.5 * sqrt(2.0), 1e-9);
    check_true(warns(&measured, "D65") && warns(&measured, "10 degree"));
    hw_measured_free(&measured);
}

// ---- Which of several --------------------------------------------------------------

// L*a*b* that is said to be D50, 2 degree goes before a spectrum; any other gives way to it.
static void test_source(void)
{
    hw_text text = {0};
    hw_measured measured;
    hw_error err;
    for (int said = 0; said < 2; said++) {
        text.length = 0;
        hw_text_add(&text, "name,%s,a*,b*", said ? "L*(D50/2\xc2\xb0)" : "L*");
        for (int nm = 380; nm <= 730; nm += 10) {
            hw_text_add(&text, ",%d", nm);
        }
        hw_text_add(&text, "\ngrey,50,1,2");
        for (int nm = 380; nm <= 730; nm += 10) {
            hw_text_add(&text, ",0.5");
        }
        check_true(parse(text.bytes, &measured, &err) == HW_OK);
        check_true(measured.reading[0].source == (said ? HW_MEASURED_LAB : HW_MEASURED_SPECTRUM));
        check_close(measured.reading[0].lab.L, said ? 50.0 : 76.0693, 1e-3);
        check_true(measured.warnings.count == 0);
        hw_measured_free(&measured);
    }
    hw_text_free(&text);
    // A spectrum that cannot be summed is left aside and said.
    check_true(parse("L*,a*,b*,500,510\n50,1,2,0.5,0.5\n", &measured, &err) == HW_OK);
    check_true(measured.reading[0].source == HW_MEASURED_LAB &&
               warns(&measured, "from 500 to 510 nm"));
    hw_measured_free(&measured);
}

static void test_rows(void)
{
    hw_measured measured;
    hw_error err;
    check_true(parse("name,L*,a*,b*\n\nend,,,\nstrip,50,1,2\n", &measured, &err) == HW_OK);
    check_true(measured.count == 1 && measured.reading[0].row == 2 &&
               measured.reading[0].line == 4);
    check_true(warns(&measured, "1 row, the first in line 3"));
    hw_measured_free(&measured);
    // A long name is cut at a whole letter.
    hw_text text = {0};
    hw_text_add(&text, "name,L*,a*,b*\n");
    for (int i = 0; i < 60; i++) {
        hw_text_add(&text, "\xc3\xbc");
    }
    hw_text_add(&text, ",50,1,2\n");
    check_true(parse(text.bytes, &measured, &err) == HW_OK);
    hw_text_free(&text);
    check_true(strlen(measured.reading[0].name) == 94 && warns(&measured, "cut"));
    hw_measured_free(&measured);
    // Standard errors as huewright writes them.
    check_true(parse("name,L*,a*,b*,SE_L,SE_A,SE_B\ns,50,1,2,0.1,0.2,\n", &measured, &err) ==
               HW_OK);
    check_close(measured.reading[0].standard_error[1], 0.2, 0.0);
    check_close(measured.reading[0].standard_error[2], 0.0, 0.0);
    hw_measured_free(&measured);
    check_true(parse("name,L*,a*,b*,SE_L\ns,50,1,2,-0.1\n", &measured, &err) == HW_ERR_INPUT);
    check_text(err.code, "measure-range");
    check_true(parse("L*,a*,b*\n1e999,1,2\n", &measured, &err) == HW_ERR_INPUT);
    check_text(err.code, "measure-number");
    check_true(parse("L*,a*,b*\nnan,1,2\n", &measured, &err) == HW_ERR_INPUT);
    check_true(hw_measure_parse("", 0, "x", NULL, &measured, &err) == HW_ERR_INPUT);
    hw_limits limits = hw_limits_default();
    limits.json_bytes = 4;
    err = (hw_error){0};
    check_true(hw_measure_parse("L,a,b", 5, "x", &limits, &measured, &err) == HW_ERR_INPUT);
    check_text(err.code, "table-large");
}

// ---- Memory ------------------------------------------------------------------------

// With any allocation failing in turn, a file is refused for want of memory, or read whole.
static void memory_of(const char *name)
{
    hw_measured whole = {0};
    size_t count = load(name);
    check_true(hw_measure_parse(bytes, count, name, NULL, &whole, NULL) == HW_OK);
    long refusals = 0;
    for (long n = 0; n < 500; n++, refusals++) {
        hw_measured measured = {0};
        hw_measured_groups groups = {0};
        hw_error err = {0};
        hw_test_fail_alloc(n);
        hw_status status = hw_measure_parse(bytes, count, name, NULL, &measured, &err);
        if (status == HW_OK) {
            status = hw_measure_group(&measured, &groups, &err);
        }
        hw_test_fail_alloc(-1);
        if (status == HW_OK) {
            check_true(measured.count == whole.count && groups.count > 0);
            check_true(
                memcmp(measured.reading, whole.reading, whole.count * sizeof *whole.reading) == 0);
            check_text(measured.illuminant, whole.illuminant);
            check_text(measured.observer, whole.observer);
            check_true(measured.warnings.count == whole.warnings.count);
        } else {
            check_true(status == HW_ERR_STORAGE);
            check_text(err.code, "memory-out");
        }
        hw_measured_groups_free(&groups);
        hw_measured_free(&measured);
        if (status == HW_OK) {
            break;
        }
    }
    check_true(refusals > 10 && refusals < 499);
    hw_measured_free(&whole);
}

int main(void)
{
    check_table("measure/files.tsv", 11, used);
    check_table("measure/refused.tsv", 3, refused);
    test_facts();
    test_xyz();
    test_source();
    test_rows();
    memory_of("tabs.txt");
    memory_of("bench.txt");
    memory_of("spreadsheet.csv");
    memory_of("spectra-percent.csv");
    return check_done();
}
