// A job for other programs: CSV by RFC 4180, JSON with the log's own lines, CGATS that LittleCMS and our own reader
// take back to the last digit.
#include "check.h"
#include "huewright/measure.h"
#include "report_internal.h"

#include <lcms2.h>
#include <unistd.h>

static char folder[600];

static void remove_job(void)
{
    static const char *const names[] = {"log.jsonl", "job.json", "photos"};
    char path[700];
    for (size_t i = 0; i < 3; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        if (unlink(path) != 0) {
            rmdir(path);
        }
    }
    rmdir(folder);
}

static const char reading[] =
    "{\"photo\":{\"file\":\"a.jpg\"},\"light\":{},"
    "\"samples\":[{\"name\":\"=old, \\\"left\\\"\",\"role\":\"target\",\"lab\":[45.123,12.001,"
    "-24.5],\"standard_error\":[0.211,0.1,0.095]},"
    "{\"name\":\"strip\",\"role\":\"patch\",\"lab\":[50.06,9.61,24.48],\"standard_error\":[0.2,0.1,"
    "0.1]}],\"comparisons\":[{\"patch\":\"strip\",\"target\":\"beside\",\"de00\":5.432,"
    "\"de00_low\":4.6,\"de00_high\":6.2,\"delta\":{\"L\":4.937,\"a\":-2.4,\"b\":0.3},"
    "\"verdict\":\"tone\"}]}";

static hw_job *make_job(void)
{
    hw_job *job = NULL;
    long photo_number = 0, number = 0;
    snprintf(folder, sizeof folder, "%s/export %ld", HW_SCRATCH, (long)getpid());
    remove_job();
    check_true(hw_job_start(folder, "Gramophone \"cabinet\"", 1000000000, NULL) == HW_OK);
    check_true(hw_job_open(folder, NULL, &job, NULL) == HW_OK);
    hw_photo_event photo = {.view = "lid", .lamp = "north, window", .note = "-before"};
    snprintf(photo.stored, sizeof photo.stored, "photos/a.jpg");
    check_true(hw_marks_add(&photo.marks, HW_ROLE_PATCH, "strip", "0,0,50,50", NULL, NULL) ==
               HW_OK);
    check_true(hw_job_add_photo(job, &photo, 1000000060, &photo_number, NULL) == HW_OK);
    hw_marks_free(&photo.marks);
    check_true(hw_job_add_reading(job, photo_number, reading, 1000000061, &number, NULL) == HW_OK);
    char patches[2][HW_NAME_SIZE] = {"strip", "left door"};
    hw_pass_event pass = {.patches = patches, .patch_count = 2, .passes = 2, .minutes = NAN};
    pass.liquid.count = 2;
    snprintf(pass.liquid.dose[0].dye, HW_NAME_SIZE, "red");
    snprintf(pass.liquid.dose[1].dye, HW_NAME_SIZE, "+brown");
    pass.liquid.dose[0].strength = 0.25;
    pass.liquid.dose[1].strength = 1.0 / 3.0;
    check_true(hw_job_add_pass(job, &pass, 1000000120, &number, NULL) == HW_OK);
    return job;
}

// ---- CSV ---------------------------------------------------------------------------

static void csv_text(const char *value, const char *wanted)
{
    hw_text text = {0};
    hw_report_csv_text(&text, value);
    check_text(text.bytes, wanted);
    hw_text_free(&text);
}

static void test_csv(const hw_job *job)
{
    char *text = NULL;
    check_true(hw_report_export_csv(job, &text, NULL) == HW_OK);
    check_text(
        text,
        "kind,event,at,photo,view,lamp,part,role,L,a,b,se_L,se_a,se_b,de00,de00_low,"
        "de00_high,dL,da,db,verdict,dye_1,strength_1,dye_2,strength_2,passes,minutes,note,hours,"
        "from,shots\r\n"
        "reading,4,2001-09-09T01:47:41Z,2,lid,\"north, window\",\"'=old, \"\"left\"\"\","
        "target,45.123,12.001,-24.500,0.211,0.100,0.095,,,,,,,,,,,,,,'-before,,,1\r\n"
        "reading,4,2001-09-09T01:47:41Z,2,lid,\"north, window\",strip,patch,50.060,9.610,"
        "24.480,0.200,0.100,0.100,5.432,4.600,6.200,4.937,-2.400,0.300,tone,,,,,,,'-before,,,1\r\n"
        "pass,5,2001-09-09T01:48:40Z,,,,strip,patch,,,,,,,,,,,,,,red,0.25,'+brown,"
        "0.3333333333,2,,,,,\r\n"
        "pass,5,2001-09-09T01:48:40Z,,,,left door,patch,,,,,,,,,,,,,,red,0.25,'+brown,"
        "0.3333333333,2,,,,,\r\n");
    hw_report_free(text);
    csv_text("plain", "plain");
    csv_text("@sum", "'@sum");
    csv_text("\tx", "'?x");
    csv_text("\rx", "'?x");
    csv_text("a\"b", "\"a\"\"b\"");
    csv_text(" x", "\" x\"");
    csv_text("", "");
}

// ---- JSON --------------------------------------------------------------------------

static void test_json(const hw_job *job)
{
    hw_job_lines lines = {0};
    char *text = NULL;
    hw_json *root = NULL;
    check_true(hw_job_read_lines(job, NULL, &lines, NULL) == HW_OK && lines.count == 5);
    check_holds(hw_job_line(&lines, 0), "{\"event\":\"job_started\",\"number\":1,");
    check_true(!strstr(hw_job_line(&lines, 4), "crc32") && !hw_job_line(&lines, 5));
    check_true(hw_report_export_json(job, &lines, &text, NULL) == HW_OK);
    check_true(hw_json_parse(text, strlen(text), NULL, "export", &root, NULL) == HW_OK);
    const hw_json *events = hw_json_member(root, "events");
    check_true(hw_json_count(events) == 5 && hw_json_count(hw_json_member(root, "readings")) == 2 &&
               hw_json_count(hw_json_member(root, "passes")) == 2);
    check_text(hw_json_member_text(hw_json_member(root, "job"), "id"), hw_job_id(job));
    // Each event as it was written, member by member.
    for (size_t i = 0; i < 5; i++) {
        char *printed = NULL;
        check_true(hw_json_print(hw_json_item(events, i), false, &printed, NULL) == HW_OK);
        check_text(printed, hw_job_line(&lines, i));
        hw_free(printed);
    }
    const hw_json *row = hw_json_item(hw_json_member(root, "readings"), 0);
    double value = 0.0;
    check_true(hw_json_member_number(row, "b", &value) && value == -24.5);
    check_text(hw_json_member_text(row, "part"), "=old, \"left\"");
    check_true(hw_json_is_null(hw_json_member(row, "verdict")));
    row = hw_json_item(hw_json_member(root, "passes"), 1);
    check_text(hw_json_member_text(row, "dye_2"), "+brown");
    check_true(hw_json_is_null(hw_json_member(row, "minutes")));
    hw_json_free(root);
    hw_report_free(text);
    hw_job_lines_free(&lines);
}

// A damaged line and a torn tail are left out.
static void test_damaged(const hw_job *job)
{
    char path[700];
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_job_lines lines = {0};
    snprintf(path, sizeof path, "%s/log.jsonl", folder);
    check_true(hw_file_read(path, 1 << 20, &bytes, &count, NULL) == HW_OK);
    uint8_t *line = memchr(bytes, '\n', count);
    line[30] = (uint8_t)(line[30] ^ 1);
    check_true(hw_file_replace(path, bytes, count - 3, NULL) == HW_OK);
    check_true(hw_job_read_lines(job, NULL, &lines, NULL) == HW_OK && lines.count == 3);
    check_holds(hw_job_line(&lines, 2), "\"event\":\"reading\"");
    hw_job_lines_free(&lines);
    line[30] = (uint8_t)(line[30] ^ 1);
    check_true(hw_file_replace(path, bytes, count, NULL) == HW_OK);
    hw_free(bytes);
}

// ---- CGATS -------------------------------------------------------------------------

static void test_cgats(const hw_job *job)
{
    char *text = NULL;
    check_true(hw_report_export_cgats(job, 1000000200, &text, NULL) == HW_OK);
    check_holds(text, "KEYWORD\t\"SE_L\"\n");
    cmsHANDLE sheet = cmsIT8LoadFromMem(NULL, text, (cmsUInt32Number)strlen(text));
    if (check_true(sheet != NULL)) {
        check_text(cmsIT8GetProperty(sheet, "ORIGINATOR"), "huewright");
        check_text(cmsIT8GetProperty(sheet, "CREATED"), "2001-09-09T01:50:00Z");
        check_text(cmsIT8GetPropertyMulti(sheet, "WEIGHTING_FUNCTION", "ILLUMINANT"), "D50");
        check_text(cmsIT8GetPropertyMulti(sheet, "WEIGHTING_FUNCTION", "OBSERVER"), "2 degree");
        check_text(cmsIT8GetData(sheet, "2", "SAMPLE_NAME"), "strip");
        check_close(cmsIT8GetDataDbl(sheet, "1", "LAB_B"), -24.5, 1e-12);
        check_close(cmsIT8GetDataDbl(sheet, "1", "SE_B"), 0.095, 1e-12);
        check_text(cmsIT8GetData(sheet, "1", "ROLE"), "target");
        cmsIT8Free(sheet);
    }
    hw_measured back = {0};
    check_true(hw_measure_parse(text, strlen(text), "export.txt", NULL, &back, NULL) == HW_OK);
    if (check_true(back.count == 2 && back.warnings.count == 0)) {
        check_text(back.reading[0].name, "=old, 'left'");
        check_text(back.reading[1].name, "strip");
        // The very numbers that were logged, to their last digit.
        check_close(back.reading[0].lab.L, 45.123, 0.0);
        check_close(back.reading[0].lab.a, 12.001, 0.0);
        check_close(back.reading[0].lab.b, -24.5, 0.0);
        check_close(back.reading[1].lab.L, 50.06, 0.0);
        check_close(back.reading[0].standard_error[0], 0.211, 0.0);
        check_close(back.reading[0].standard_error[2], 0.095, 0.0);
        check_true(back.reading[0].source == HW_MEASURED_LAB);
    }
    check_text(back.originator, "huewright");
    check_text(back.illuminant, "D50");
    check_text(back.observer, "2 degree");
    hw_measured_free(&back);
    hw_report_free(text);
}

static void test_empty(void)
{
    char empty[600], *text = NULL;
    hw_job *job = NULL;
    hw_error err = {0};
    snprintf(empty, sizeof empty, "%s/export empty %ld", HW_SCRATCH, (long)getpid());
    check_true(hw_job_start(empty, "", 1, NULL) == HW_OK);
    check_true(hw_job_open(empty, NULL, &job, NULL) == HW_OK);
    check_true(hw_report_export_cgats(job, 1, &text, &err) == HW_ERR_INPUT);
    check_text(err.code, "export-empty");
    check_true(hw_report_export_csv(job, &text, NULL) == HW_OK);
    check_holds(text, ",note,hours,from,shots\r\n");
    hw_report_free(text);
    hw_job_free(job);
    snprintf(folder, sizeof folder, "%s", empty);
    remove_job();
}

// ---- Memory ------------------------------------------------------------------------

static hw_status export_all(const hw_job *job, char *text[3], hw_error *err)
{
    hw_job_lines lines = {0};
    hw_status status = hw_job_read_lines(job, NULL, &lines, err);
    status = status == HW_OK ? hw_report_export_csv(job, &text[0], err) : status;
    status = status == HW_OK ? hw_report_export_json(job, &lines, &text[1], err) : status;
    status = status == HW_OK ? hw_report_export_cgats(job, 1000000200, &text[2], err) : status;
    hw_job_lines_free(&lines);
    return status;
}

static void test_memory(const hw_job *job)
{
    char *whole[3] = {0};
    check_true(export_all(job, whole, NULL) == HW_OK);
    bool done = false;
    for (long n = 0; n < 5000 && !done; n++) {
        char *text[3] = {0};
        hw_error err = {0};
        hw_test_fail_alloc(n);
        hw_status status = export_all(job, text, &err);
        hw_test_fail_alloc(-1);
        done = status == HW_OK;
        check_true(done || status == HW_ERR_STORAGE);
        for (int i = 0; i < 3; i++) {
            if (text[i]) {
                check_text(text[i], whole[i]);
            }
            hw_report_free(text[i]);
        }
    }
    check_true(done);
    for (int i = 0; i < 3; i++) {
        hw_report_free(whole[i]);
    }
}

int main(void)
{
    hw_job *job = make_job();
    test_csv(job);
    test_json(job);
    test_damaged(job);
    test_cgats(job);
    test_memory(job);
    hw_job_free(job);
    remove_job();
    test_empty();
    return check_done();
}
