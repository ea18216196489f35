// Corrections, withdrawals and new names: what is read follows from them, and the lines themselves never change.
// The change of members is a merge patch: RFC 7396, section 3 gives the rule (null takes a member out).
#include "open_job.h"

// As another program sees it: all lines read at once.
static void open_again(void)
{
    hw_job_free(job);
    job = NULL;
    check_true(hw_job_open(folder, NULL, &job, NULL) == HW_OK);
    check_true(hw_job_warnings(job)->count == 0);
}

static long lay(const char *patch, const char *dye, double strength, int passes)
{
    char patches[1][HW_NAME_SIZE];
    hw_pass_event pass = {.patches = patches, .patch_count = 1, .passes = passes, .minutes = 20};
    long number = 0;
    snprintf(patches[0], HW_NAME_SIZE, "%s", patch);
    snprintf(pass.liquid.dose[0].dye, HW_NAME_SIZE, "%s", dye);
    pass.liquid.dose[0].strength = strength;
    pass.liquid.count = 1;
    check_true(hw_job_add_pass(job, &pass, now++, &number, NULL) == HW_OK);
    return number;
}

static long add_photo(const char *patch, const char *target)
{
    hw_photo_event photo = {.original = "x.jpg", .view = "front", .lamp = "bench"};
    long number = 0, reading = 0;
    char json[800];
    snprintf(photo.stored, sizeof photo.stored, "photos/%ld.jpg", (long)now);
    check_true(
        hw_marks_add(&photo.marks, HW_ROLE_PATCH, patch, "10,10,50,50", NULL, NULL) == HW_OK &&
        hw_marks_add(&photo.marks, HW_ROLE_TARGET, target, "70,10,50,50", NULL, NULL) == HW_OK);
    check_true(hw_job_add_photo(job, &photo, now++, &number, NULL) == HW_OK);
    snprintf(
        json, sizeof json,
        "{\"samples\":[{\"name\":\"%s\",\"role\":\"patch\",\"lab\":[55,9,25],"
        "\"standard_error\":[0.1,0.1,0.1]},{\"name\":\"%s\",\"role\":\"target\","
        "\"lab\":[50,12,25],\"standard_error\":[0.1,0.1,0.1]}],\"comparisons\":[{\"patch\":\"%s\","
        "\"target\":\"beside\",\"de00\":5,\"de00_low\":4,\"de00_high\":6,\"delta\":{\"L\":5,"
        "\"a\":-3,\"b\":0},\"verdict\":\"tone\"}]}",
        patch, target, patch);
    check_true(hw_job_add_reading(job, number, json, now++, &reading, NULL) == HW_OK);
    hw_marks_free(&photo.marks);
    return number;
}

static int passes_on(const char *patch)
{
    hw_layer layers[16];
    size_t count = hw_job_layers(job, patch, 0, layers, 16);
    int passes = 0;
    for (size_t i = 0; i < count; i++) {
        passes += layers[i].passes;
    }
    return passes;
}

static uint8_t *log_bytes(size_t *count)
{
    char path[700];
    uint8_t *bytes = NULL;
    snprintf(path, sizeof path, "%s/log.jsonl", folder);
    check_true(hw_file_read(path, 1 << 20, &bytes, count, NULL) == HW_OK);
    return bytes;
}

// ---- A correction ------------------------------------------------------------------

static void test_correction(void)
{
    new_job("mend");
    long pass = lay("strip", "red", 0.25, 2), number = 0;
    size_t before = 0, after = 0;
    uint8_t *lines = log_bytes(&before);
    hw_event changed = *hw_job_event_numbered(job, pass);
    changed.of.pass.passes = 3;
    changed.of.pass.minutes = NAN; // taken out
    snprintf(changed.of.pass.note, sizeof changed.of.pass.note, "counted again");
    check_true(hw_job_add_correction(job, pass, &changed, NULL, now++, &number, NULL) == HW_OK &&
               number == pass + 1);
    for (int turn = 0; turn < 2; turn++) { // as appended, then as read anew
        const hw_event *event = hw_job_event_numbered(job, pass);
        check_true(event->of.pass.passes == 3 && isnan(event->of.pass.minutes) &&
                   event->corrected_by == number && event->kind == HW_EVENT_PASS_LAID);
        check_text(event->of.pass.note, "counted again");
        const hw_event *line = hw_job_event_numbered(job, number);
        check_true(line->kind == HW_EVENT_CORRECTION && line->of.correction.of == pass);
        check_text(line->of.correction.change,
                   "{\"passes\":3,\"minutes\":null,\"note\":\"counted again\"}");
        check_text(line->of.correction.was, "{\"passes\":2,\"note\":null,\"minutes\":20}");
        open_again();
    }
    // Correct again: on top of the first.
    changed = *hw_job_event_numbered(job, pass);
    changed.of.pass.liquid.dose[0].strength = 0.5;
    check_true(hw_job_add_correction(job, pass, &changed, NULL, now++, &number, NULL) == HW_OK);
    const hw_event *event = hw_job_event_numbered(job, pass);
    check_true(event->of.pass.passes == 3 && event->of.pass.liquid.dose[0].strength == 0.5);
    // Nothing other: nothing logged.
    changed = *hw_job_event_numbered(job, pass);
    check_true(hw_job_add_correction(job, pass, &changed, NULL, now++, &number, NULL) == HW_OK &&
               number == 0);
    // The old lines are what they were.
    uint8_t *lines_now = log_bytes(&after);
    check_true(after > before && memcmp(lines, lines_now, before) == 0);
    hw_free(lines);
    hw_free(lines_now);
}

static void test_withdrawal(void)
{
    new_job("mend");
    long first = lay("strip", "red", 0.25, 2), second = lay("strip", "brown", 0.5, 1);
    long gone = 0, back = 0, again = 0;
    check_true(passes_on("strip") == 3);
    check_true(hw_job_add_withdrawal(job, first, now++, &gone, NULL) == HW_OK);
    check_true(passes_on("strip") == 1);
    const hw_event *event = hw_job_event_numbered(job, first);
    check_true(event->kind == HW_EVENT_WITHDRAWN && event->was == HW_EVENT_PASS_LAID &&
               event->corrected_by == gone && event->of.pass.passes == 2);
    // The withdrawal withdrawn: it counts again. And that withdrawn too.
    check_true(hw_job_add_withdrawal(job, gone, now++, &back, NULL) == HW_OK);
    check_true(passes_on("strip") == 3 &&
               hw_job_event_numbered(job, gone)->kind == HW_EVENT_WITHDRAWN);
    check_true(hw_job_add_withdrawal(job, back, now++, &again, NULL) == HW_OK);
    check_true(passes_on("strip") == 1);
    open_again();
    check_true(passes_on("strip") == 1 && hw_job_event_numbered(job, second)->of.pass.passes == 1);
}

// With a photo its readings go, and what was seen by them.
static void test_withdrawn_photo(void)
{
    new_job("mend");
    long first = add_photo("strip", "rail"), number = 0;
    long second = add_photo("strip", "rail");
    check_true(hw_job_add_withdrawal(job, second, now++, &number, NULL) == HW_OK);
    for (int turn = 0; turn < 2; turn++) {
        check_true(hw_job_last_photo_of_patch(job, "strip")->number == first);
        check_true(!hw_job_reading_of(job, second) && !hw_job_photo_event(job, second) &&
                   hw_job_reading_of(job, first));
        open_again();
    }
}

// A line that corrects what comes after it, itself, or who did it and when, changes nothing.
static void test_hostile(void)
{
    new_job("mend");
    long pass = lay("strip", "red", 0.25, 2);
    int64_t at = hw_job_event_numbered(job, pass)->at;
    static const char *const bodies[] = {
        "{\"of\":2,\"change\":{\"number\":77,\"event\":\"note\",\"at\":\"2000-01-01T00:00:00Z\"}}",
        "{\"of\":99,\"change\":{\"passes\":9}}",
        "{\"of\":3,\"withdraw\":true}",
        "{\"of\":2,\"change\":7}",
        "{\"of\":-2,\"withdraw\":true}",
        "{\"change\":{\"passes\":9}}",
    };
    for (size_t i = 0; i < sizeof bodies / sizeof *bodies; i++) {
        hw_new_event event = {.name = "correction"};
        long number = 0;
        check_true(hw_json_parse(bodies[i], strlen(bodies[i]), NULL, "t", &event.body, NULL) ==
                   HW_OK);
        check_true(hw_job_append(job, &event, 1, now++, &number, NULL) == HW_OK);
        const hw_event *kept = hw_job_event_numbered(job, pass);
        check_true(kept && kept->kind == HW_EVENT_PASS_LAID && kept->of.pass.passes == 2 &&
                   kept->at == at && kept->number == pass);
    }
}

// ---- Names -------------------------------------------------------------------------

static void test_renaming(void)
{
    new_job("mend");
    long photo = add_photo("strp", "rail");
    long pass = lay("strp", "red", 0.25, 2), number = 0;
    hw_part_event part = {.role = HW_ROLE_PATCH, .part = "strip", .was = "strp"};
    check_true(hw_job_add_part(job, &part, now++, &number, NULL) == HW_OK);
    for (int turn = 0; turn < 2; turn++) {
        check_true(hw_marks_find(&hw_job_photo_event(job, photo)->marks, HW_ROLE_PATCH, "strip") &&
                   !hw_marks_find(&hw_job_photo_event(job, photo)->marks, HW_ROLE_PATCH, "strp"));
        check_text(hw_job_event_numbered(job, pass)->of.pass.patches[0], "strip");
        const hw_reading_event *reading = &hw_job_reading_of(job, photo)->of.reading;
        check_text(reading->gaps[0].patch, "strip");
        check_true(passes_on("strip") == 2 && passes_on("strp") == 0);
        open_again();
    }
    // What is logged under the old name from now on is another part.
    lay("strp", "red", 0.25, 1);
    check_true(passes_on("strp") == 1 && passes_on("strip") == 2);
    open_again();
    check_true(passes_on("strp") == 1 && passes_on("strip") == 2);
    // And the renaming withdrawn: both are one again.
    check_true(hw_job_add_withdrawal(job, number, now++, &number, NULL) == HW_OK);
    check_true(passes_on("strp") == 3 && passes_on("strip") == 0);
}

// Two programs: what the other one corrected meanwhile counts before the next line is written.
static void test_other_program(void)
{
    new_job("mend");
    long pass = lay("strip", "red", 0.25, 2), number = 0;
    hw_job *other = NULL;
    check_true(hw_job_open(folder, NULL, &other, NULL) == HW_OK);
    check_true(hw_job_add_withdrawal(other, pass, now++, &number, NULL) == HW_OK);
    check_true(passes_on("strip") == 2); // not seen yet
    lay("strip", "brown", 0.5, 1);
    check_true(passes_on("strip") == 1);
    hw_job_free(other);
}

// Any allocation failing while a corrected job is read, or corrected: refused, or whole.
static void test_memory(void)
{
    new_job("mend");
    long pass = lay("strip", "red", 0.25, 2), number = 0;
    hw_event changed = *hw_job_event_numbered(job, pass);
    changed.of.pass.passes = 4;
    bool done = false;
    int refused = 0;
    for (long n = 0; n < 2000 && !done; n++) {
        hw_error err = {0};
        number = 0;
        hw_test_fail_alloc(n);
        hw_status status = hw_job_add_correction(job, pass, &changed, NULL, now++, &number, &err);
        hw_test_fail_alloc(-1);
        done = number > 0;
        refused += status == HW_ERR_STORAGE;
        check_true(status == HW_OK ? done : status == HW_ERR_STORAGE);
        check_true(status == HW_OK || !done || strstr(err.next, "It is saved"));
    }
    check_true(done && refused > 10);
    open_again();
    check_true(passes_on("strip") == 4);
    hw_job *read = NULL;
    for (long n = 0; n < 2000 && !read; n++) {
        hw_test_fail_alloc(n);
        hw_status status = hw_job_open(folder, NULL, &read, NULL);
        hw_test_fail_alloc(-1);
        check_true(status == HW_OK || (status == HW_ERR_STORAGE && !read));
    }
    check_true(read && hw_job_event_numbered(read, pass)->of.pass.passes == 4);
    hw_job_free(read);
}

int main(void)
{
    test_correction();
    test_withdrawal();
    test_withdrawn_photo();
    test_hostile();
    test_renaming();
    test_other_program();
    test_memory();
    hw_job_free(job);
    return check_done();
}
