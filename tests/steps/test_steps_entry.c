// Said again with the same entry, as by a phone that heard no answer: each step logs it once, tests nothing a second time,
// and answers with what was logged then. (What must hold follows from what an idempotency key is:
// draft-ietf-httpapi-idempotency-key-header-07, 2.6.)
#include "one_job.h"

#include <stdio.h>

#define KEY(n) "00000000-0000-4000-8000-00000000000" #n

static size_t count_events(void)
{
    hw_job *job = NULL;
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    size_t count = job ? hw_job_event_count(job) : 0;
    hw_job_free(job);
    return count;
}

// Opened by a step that logged for that entry: when it was said again, the event of the first time.
static void check_said(hw_job *job, const char *entry, bool again, hw_event_kind kind)
{
    if (check_true(job != NULL)) {
        const hw_event *event = hw_job_entry(job, entry);
        check_true(event && event->was == kind);
        check_true((hw_job_said_before(job) == event) == again);
    }
    hw_job_free(job);
}

static void photograph_entry(const char *entry, bool again, long *number)
{
    hw_error err = {0};
    hw_photo_result result = {0};
    hw_photo_request request = {.folder = path_job,
                                .read = {.photo_path = path_photo, .marks = shop_marks()},
                                .entry = entry};
    clock_now += 600;
    if (check_true(hw_steps_photo(&request, NULL, clock_now, &result, &err) == HW_OK)) {
        check_true(result.again == again);
        check_true(hw_comparison_beside(&result.reading.comparisons, "new") != NULL);
    }
    *number = result.number;
    hw_marks_free(&request.read.marks);
    hw_photo_result_free(&result);
}

static void test_photo(void)
{
    long one = 0, two = 0, three = 0;
    write_shop_photo(shop_new);
    photograph_entry(KEY(1), false, &one);
    size_t after = count_events();
    photograph_entry(KEY(1), true, &two);
    check_true(one == two && count_events() == after);
    photograph_entry(KEY(2), false, &three); // the same photo once more, as another entry
    check_true(three > one);
    // The photo was sent to be kept, the file is gone: the answer does not need it.
    check_true(remove(path_photo) == 0);
    photograph_entry(KEY(1), true, &two);
    check_true(one == two);
}

static void test_pass(void)
{
    char patches[1][HW_NAME_SIZE] = {"new"};
    hw_pass_request request = {
        .folder = path_job,
        .pass = {.patches = patches,
                 .patch_count = 1,
                 .liquid = {.dose = {{.dye = "red", .strength = 0.25}}, .count = 1},
                 .passes = 1,
                 .minutes = 60},
        .entry = KEY(3)};
    for (int i = 0; i < 2; i++) {
        hw_warnings warnings = {0};
        hw_job *job = NULL;
        hw_error err = {0};
        check_true(hw_steps_pass(&request, NULL, clock_now++, &job, &warnings, &err) == HW_OK);
        check_said(job, KEY(3), i == 1, HW_EVENT_PASS_LAID);
        request.pass.passes = -4; // not looked at any more
    }
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    hw_error err = {0};
    request.entry = "UPPER CASE IS NONE";
    check_true(hw_steps_pass(&request, NULL, clock_now++, &job, &warnings, &err) == HW_ERR_CALL);
    check_text(err.code, "entry-name");
}

static void test_jar(void)
{
    hw_event event = {.kind = HW_EVENT_JAR_MIXED,
                      .of.jar = {.liquid = {.dose = {{.dye = "red", .strength = 0.25}}, .count = 1},
                                 .volume_ml = 100.0}};
    hw_log_request request = {.folder = path_job, .event = &event, .entry = KEY(4)};
    hw_mix mix[2];
    for (int i = 0; i < 2; i++) {
        hw_warnings warnings = {0};
        hw_job *job = NULL;
        hw_error err = {0};
        if (!check_true(hw_steps_log_jar(&request, NULL, clock_now++, &job, &mix[i], &warnings,
                                         &err) == HW_OK)) {
            printf("%s: %s\n", err.code, err.what);
        }
        check_said(job, KEY(4), i == 1, HW_EVENT_JAR_MIXED);
    }
    check_true(mix[0].volume_ml == 100.0 && mix[1].volume_ml == 100.0);
}

// The jar's note is corrected, the repair renamed: what stood there when it was first said is no longer so.
static void test_fix(void)
{
    hw_fix_request request = {.folder = path_job, .note = "on the left shelf", .entry = KEY(5)};
    hw_rename_request rename_request = {
        .folder = path_job, .was = "new", .part = "lid strip", .entry = KEY(6)};
    hw_job *before = NULL;
    check_true(hw_job_open(path_job, NULL, &before, NULL) == HW_OK);
    const hw_event *jar = before ? hw_job_entry(before, KEY(4)) : NULL;
    request.event = check_true(jar != NULL) ? jar->number : 0;
    hw_job_free(before);
    long number[2] = {0, 0};
    for (int i = 0; i < 2; i++) {
        hw_warnings warnings = {0};
        hw_job *job = NULL;
        hw_error err = {0};
        check_true(hw_steps_fix(&request, NULL, clock_now++, &job, &number[i], &warnings, &err) ==
                   HW_OK);
        check_said(job, KEY(5), i == 1, HW_EVENT_CORRECTION);
        job = NULL;
        check_true(hw_steps_rename(&rename_request, NULL, clock_now++, &job, &warnings, &err) ==
                   HW_OK);
        check_said(job, KEY(6), i == 1, HW_EVENT_PART_NAMED);
    }
    check_true(number[0] == number[1] && number[0] > 0);
}

static void test_start(void)
{
    hw_start_request request = {.folder = path_job, .title = "Oak hall bench", .entry = KEY(0)};
    for (int i = 0; i < 2; i++) {
        hw_carried made = {0};
        hw_error err = {0};
        check_true(hw_steps_start_from(&request, NULL, clock_now++, &made, &err) == HW_OK);
        check_true(made.job && hw_job_event_count(made.job) == 1);
        hw_carried_free(&made);
    }
    hw_carried other = {0};
    hw_error err = {0};
    request.entry = KEY(9);
    check_true(hw_steps_start_from(&request, NULL, clock_now++, &other, &err) == HW_ERR_CALL);
    check_text(err.code, "job-exists");
}

int main(void)
{
    name_places("steps entry");
    make_clean();
    test_start();
    test_photo();
    test_pass();
    test_jar();
    size_t before = count_events();
    test_fix();
    check_true(count_events() == before + 2);
    return check_done();
}
