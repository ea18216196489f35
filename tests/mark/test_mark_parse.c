// Marks from options and from the marks format.
#include "base_internal.h"
#include "check.h"
#include "mark_internal.h"

// Regions as people type them: columns region, "good" or "bad", corners.
static void region(const check_row *row)
{
    hw_marks marks = {0};
    hw_error err = {0};
    bool good = hw_marks_add(&marks, HW_ROLE_TARGET, "old wood", row->text[0], NULL, &err) == HW_OK;
    check_report(good == (strcmp(row->text[1], "good") == 0), row->file, row->line,
                 "taken or refused");
    if (good) {
        check_near(row, (double)marks.mark[0].point_count, row->num[2], 0.0);
    } else {
        check_report(strcmp(err.code, "mark-syntax") == 0 && err.next[0], row->file, row->line,
                     "says how to write it");
        check_report(marks.count == 0, row->file, row->line, "nothing was added");
    }
    hw_marks_free(&marks);
}

static hw_status parse(const char *text, hw_marks *out, hw_warnings *warnings, hw_error *err)
{
    return hw_marks_parse(text, strlen(text), "marks.json", NULL, out, warnings, err);
}

static void test_format(void)
{
    const char *text =
        "{\"picture\":[400,300],\"marks\":["
        "{\"role\":\"card\",\"name\":\"card\",\"polygon\":[[1,2],[3,4],[5.5,1]]},"
        "{\"role\":\"patch\",\"name\":\"T\xc3\xbcr \\\"2\\\"\",\"polygon\":[[1,2],[3,4],[5,1]],"
        "\"beside\":[\"left\"],\"kind\":\"board\",\"colour\":\"unknown member\"},"
        "{\"role\":\"sparkle\",\"name\":\"x\"},"
        "{\"role\":\"board_strip\",\"name\":\"red 2\",\"polygon\":[[1,2],[3,4],[5,1]],"
        "\"found\":0.875,\"off_px\":1.25}]}";
    hw_marks marks = {0}, again = {0};
    hw_warnings warnings = {0};
    check_true(parse(text, &marks, &warnings, NULL) == HW_OK);
    check_true(marks.count == 3 && marks.width_px == 400 && marks.height_px == 300);
    check_true(warnings.count == 1);
    check_holds(warnings.text[0], "sparkle");
    check_text(marks.mark[1].name, "T\xc3\xbcr \"2\"");
    check_true(marks.mark[1].kind == HW_KIND_BOARD && marks.mark[1].beside_count == 1);
    check_close(marks.mark[0].points[2].x, 5.5, 0);
    char *printed = NULL;
    check_true(hw_marks_text(&marks, &printed, NULL) == HW_OK);
    check_true(parse(printed, &again, &warnings, NULL) == HW_OK && again.count == 3);
    check_text(again.mark[1].beside[0], "left");
    check_close(again.mark[0].points[2].x, 5.5, 0);
    check_close(again.mark[2].found, 0.875, 0);
    check_close(again.mark[2].off_px, 1.25, 0);
    check_true(again.mark[0].found == 0.0 && again.mark[0].off_px == 0.0);
    hw_marks_text_free(printed);
    hw_marks_free(&marks);
    hw_marks_free(&again);
}

static void bad_file(const char *text, const char *code)
{
    hw_marks marks = {.width_px = 7};
    hw_warnings warnings = {0};
    hw_error err = {0};
    check_true(parse(text, &marks, &warnings, &err) == HW_ERR_INPUT);
    check_text(err.code, code);
    check_true(marks.width_px == 7 && marks.count == 0); // untouched
}

static void test_bad_files(void)
{
    bad_file("", "json-syntax");
    bad_file("{\"marks\":[]} x", "json-syntax");
    bad_file("[]", "marks-format");
    bad_file("{\"marks\":{}}", "marks-format");
    bad_file("{\"marks\":[{\"role\":\"card\",\"polygon\":[[1,2],[3,4]]}]}", "marks-format");
    bad_file("{\"marks\":[{\"role\":\"card\",\"polygon\":[[1,2],[3,4],[5]]}]}", "marks-format");
    bad_file("{\"marks\":[{\"role\":\"patch\",\"polygon\":[[1,2],[3,4],[5,6]]}]}",
             "marks-format"); // no name
    bad_file("{\"marks\":[{\"name\":\"x\",\"polygon\":[[1,2],[3,4],[5,6]]}]}", "marks-format");
    bad_file("{\"marks\":[{\"role\":\"patch\",\"name\":\"x\",\"kind\":\"door\",\"polygon\":[[1,2],["
             "3,4],[5,6]]}]}",
             "marks-format");
    bad_file("{\"marks\":[{\"role\":\"card\",\"found\":1.5,\"polygon\":[[1,2],[3,4],[5,6]]}]}",
             "marks-format");
    bad_file("{\"marks\":[{\"role\":\"card\",\"found\":\"yes\",\"polygon\":[[1,2],[3,4],[5,6]]}]}",
             "marks-format");
    bad_file("{\"marks\":[{\"role\":\"card\",\"off_px\":-1,\"polygon\":[[1,2],[3,4],[5,6]]}]}",
             "marks-format");
    bad_file("{\"picture\":[-1,5],\"marks\":[]}", "marks-format");
}

static void test_names(void)
{
    hw_marks marks = {0};
    hw_error err = {0};
    check_true(hw_marks_add(&marks, HW_ROLE_PATCH, "a\nb", "1,1,30,30", NULL, &err) == HW_ERR_CALL);
    check_text(err.code, "mark-name");
    for (int role = 0; role < HW_ROLE_COUNT; role++) {
        hw_role back;
        check_true(hw_role_from_name(hw_role_name((hw_role)role), &back) && (int)back == role);
    }
}

// Every allocation failing in turn: a clean refusal each time, and nothing lost of what was there.
static void test_memory(void)
{
    const char *text = "{\"marks\":[{\"role\":\"patch\",\"name\":\"x\",\"polygon\":[[1,2],[3,4],[5,"
                       "6]],\"beside\":[\"y\"]}]}";
    int refused = 0;
    for (long n = 0; n < 200; n++) {
        hw_marks marks = {0}, copy = {0};
        hw_warnings warnings = {0};
        hw_error err = {0};
        char *printed = NULL;
        hw_test_fail_alloc(n);
        hw_status status = parse(text, &marks, &warnings, &err);
        status = status == HW_OK ? hw_marks_copy(&marks, &copy, &err) : status;
        status = status == HW_OK ? hw_marks_text(&copy, &printed, &err) : status;
        status = status == HW_OK
                     ? hw_marks_add(&marks, HW_ROLE_TARGET, "y", "1,1,30,30", NULL, &err)
                     : status;
        hw_test_fail_alloc(-1);
        hw_marks_text_free(printed);
        hw_marks_free(&marks);
        hw_marks_free(&copy);
        if (status == HW_OK) {
            break;
        }
        check_true(status == HW_ERR_STORAGE && strcmp(err.code, "memory-out") == 0);
        refused++;
    }
    check_true(refused > 10 && refused < 190);
}

int main(void)
{
    check_table("mark/regions.tsv", 3, region);
    test_format();
    test_bad_files();
    test_names();
    test_memory();
    return check_done();
}
