// The steps on a small picture made here: read, a job with two photos and a pass, advice, states,
// and every allocation failing in turn.
#include "saved_picture.h"
#include "shop.h"
#include "base_internal.h"
#include "huewright/report.h"
#include "steps_internal.h"

#include <stdio.h>

static char folder[512], path_one[560], path_two[560], path_job[560];

// ---- Pictures ----------------------------------------------------------------------

// Short streaks along y on the old wood, the same in every picture, so that the marks can be reused.
static void add_figure(picture *made)
{
    uint64_t state = 5;
    for (size_t x = 140; x < 240; x++) {
        double factor = 1.0;
        for (size_t y = 20; y < 220; y++) {
            factor = (y + 7 * x) % 25 == 0 || y == 20 ? exp(0.06 * picture_normal(&state)) : factor;
            for (int i = 0; i < 3; i++) {
                picture_at(made, x, y)[i] *= factor;
            }
        }
    }
}

static void write_picture(const char *path, hw_lab repair)
{
    picture made = shop_picture();
    add_figure(&made);
    picture_fill(&made, 270, 20, 100, 200, repair);
    save_picture(&made, path);
}

static void remove_job(void)
{
    char command[1200];
    snprintf(command, sizeof command, "rm -rf '%s' && mkdir -p '%s'", folder, folder);
    check_true(system(command) == 0);
}

// ---- Read --------------------------------------------------------------------------

static void read_one(void)
{
    hw_error err = {0};
    hw_reading reading = {0};
    hw_read_request request = {.photo_path = path_one, .marks = shop_marks()};
    check_true(hw_marks_add(&request.marks, HW_ROLE_BOARD_STRIP, "board", "20,130,60,60", NULL,
                            NULL) == HW_OK);
    if (!check_true(hw_steps_read(&request, NULL, &reading, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
        return;
    }
    check_true(reading.sample_count == 2 && reading.comparisons.count == 2);
    const hw_comparison *beside = hw_comparison_beside(&reading.comparisons, "new");
    check_true(beside != NULL);
    // The picture was painted with L*a*b* 55 9.5 26 beside 50 12 25; figure shifts the mean a
    // little.
    check_close(beside ? beside->gap.L : 0, 5.0, 0.4);
    check_close(beside ? beside->gap.a : 0, -2.5, 0.2);
    check_holds(reading.warnings.text[0], "1 mark of the role board_strip");
    hw_reading_free(&reading);

    request.has_card_lab = true; // a card said to be lighter makes all lighter
    request.card_lab = (hw_lab){60, 0, 0};
    if (check_true(hw_steps_read(&request, NULL, &reading, &err) == HW_OK)) {
        check_true(reading.light.card_measured && reading.samples[0].lab.L > 55);
        hw_reading_free(&reading);
    }
    request.marks.width_px = 800;
    request.marks.height_px = 480;
    check_true(hw_steps_read(&request, NULL, &reading, &err) == HW_ERR_CALL);
    check_text(err.code, "marks-other-picture");
    check_true(reading.sample_count == 0 && !reading.samples);
    hw_marks_free(&request.marks);
}

// Each allocation fails in turn (every one at first, later in growing strides): an error and
// nothing left behind, or the whole reading.
static void read_without_memory(void)
{
    hw_read_request request = {.photo_path = path_one, .marks = shop_marks()};
    hw_status status = HW_ERR_STORAGE;
    for (long successes = 0; status != HW_OK && successes < 100000;
         successes += 1 + successes / 12) {
        hw_error err = {0};
        hw_reading reading = {0};
        hw_test_fail_alloc(successes);
        status = hw_steps_read(&request, NULL, &reading, &err);
        hw_test_fail_alloc(-1);
        bool told =
            status == HW_OK ? reading.sample_count == 2 : err.status == status && !reading.samples;
        hw_reading_free(&reading);
        if (!told) {
            printf("after %ld allocations: status %d, code %s\n", successes, (int)status, err.code);
            check_true(told);
            break;
        }
    }
    check_true(status == HW_OK);
    hw_marks_free(&request.marks);
}

// ---- A job -------------------------------------------------------------------------

static const int64_t morning = 1790000000; // some Monday; the steps are told the time

static long add_photo(const char *path, const hw_marks *marks, const hw_part_state *states,
                      size_t state_count, int64_t now, hw_photo_result *result)
{
    hw_error err = {0};
    hw_photo_request request = {.folder = path_job,
                                .read = {.photo_path = path},
                                .view = "lid",
                                .states = states,
                                .state_count = state_count};
    if (marks) {
        request.read.marks = *marks;
    }
    if (!check_true(hw_steps_photo(&request, NULL, now, result, &err) == HW_OK)) {
        printf("%s: %s (%s)\n", err.code, err.what, err.next);
        return 0;
    }
    return result->number;
}

static hw_day advise(int64_t now)
{
    hw_error err = {0};
    hw_day result = {0};
    hw_advise_request request = {.folder = path_job};
    if (!check_true(hw_steps_advise(&request, NULL, now, &result, &err) == HW_OK)) {
        printf("%s: %s (%s)\n", err.code, err.what, err.next);
    }
    return result;
}

static void lay_pass(int64_t now)
{
    hw_error err = {0};
    hw_warnings warnings = {0};
    hw_job *job = NULL;
    char patches[2][HW_NAME_SIZE] = {"new", "attic"};
    hw_pass_request request = {.folder = path_job,
                               .pass = {.patches = patches,
                                        .patch_count = 2,
                                        .liquid = {{{"red", 0.25}}, 1},
                                        .passes = 1,
                                        .minutes = 30}};
    if (check_true(hw_steps_pass(&request, NULL, now, &job, &warnings, &err) == HW_OK)) {
        check_true(warnings.count == 1);
        check_holds(warnings.text[0], "attic");
        const hw_event *last = hw_job_event(job, hw_job_event_count(job) - 1);
        check_true(last->kind == HW_EVENT_PASS_LAID && last->at == now);
        hw_job_free(job);
    }
    job = NULL;
    snprintf(request.pass.liquid.dose[0].dye, HW_NAME_SIZE, "rde");
    check_true(hw_steps_pass(&request, NULL, now, &job, &warnings, &err) == HW_ERR_CALL);
    check_text(err.code, "dye-unknown");
    check_holds(err.next, "red-brown");
    check_true(job == NULL);
}

static void a_job(void)
{
    hw_error err = {0};
    hw_photo_result photo = {0};
    hw_marks marks = shop_marks();
    check_true(hw_steps_start(path_job, "Lid", morning, &err) == HW_OK);
    long first = add_photo(path_one, &marks, NULL, 0, morning, &photo);
    check_true(first > 0 && !photo.marks_reused);
    hw_photo_result_free(&photo);

    hw_day advice = advise(morning + 60);
    check_true(advice.count == 1 && advice.cautions_full);
    check_true(advice.count == 1 && advice.advice[0].has_next && !advice.advice[0].stop);
    hw_day_free(&advice);
    advice = advise(morning + 12 * 3600 - 1 + 60);
    check_true(!advice.cautions_full); // shown in full within the last 12 hours
    hw_day_free(&advice);
    advice = advise(morning + 12 * 3600 + 60);
    check_true(advice.cautions_full);
    hw_day_free(&advice);

    lay_pass(morning + 80000);
    advice = advise(morning + 80001);
    check_true(advice.count == 1 && advice.advice[0].stop && !advice.advice[0].has_next);
    check_holds(advice.count ? advice.advice[0].why : "", "1 pass laid since the last photo");
    hw_day_free(&advice);

    long second = add_photo(path_two, NULL, NULL, 0, morning + 90000, &photo);
    check_true(second > first && photo.marks_reused && photo.correlation >= 0.65);
    hw_photo_result_free(&photo);
    advice = advise(morning + 90001);
    check_true(advice.count == 1 && advice.advice[0].passes_so_far == 1);
    hw_day_free(&advice);
    hw_marks_free(&marks);
}

// What the history says of the pass: both photos, and the sign of the change (painted 55 to 52).
static void looking_back(void)
{
    hw_error err = {0};
    hw_job *job = NULL;
    char *text = NULL;
    if (!check_true(hw_steps_history(path_job, NULL, &job, &err) == HW_OK)) {
        return;
    }
    if (check_true(hw_report_history_text(job, NULL, &text, &err) == HW_OK)) {
        check_holds(text, "what it did: gap ");
        check_holds(text, "did: L* -3.0");
        check_holds(text, "read against the old wood in both photos (1 place)");
        check_holds(text, "attic: not photographed since");
        check_holds(text, "2026-09-21 14:13 UTC    1  job started"); // date -u -d @1790000000
        hw_report_free(text);
    }
    hw_job_free(job);
}

static bool warned(const hw_warnings *warnings, const char *words)
{
    for (size_t i = 0; i < warnings->count; i++) {
        if (strstr(warnings->text[i], words)) {
            return true;
        }
    }
    return false;
}

static void states(void)
{
    hw_photo_result photo = {0};
    const hw_part_state bare[2] = {{"new", HW_STATE_BARE}, {"old", HW_STATE_FINISHED}};
    const hw_part_state damp[1] = {{"new", HW_STATE_DAMP}};
    add_photo(path_two, NULL, bare, 2, morning + 100000, &photo);
    check_true(warned(&photo.warnings, "cannot be compared"));
    check_true(warned(&photo.warnings, "very same photo"));
    hw_photo_result_free(&photo);
    hw_day advice = advise(morning + 100001);
    check_true(advice.count == 1 && advice.advice[0].stop);
    check_holds(advice.count ? advice.advice[0].why : "", "Seal it or damp it");
    hw_day_free(&advice);

    add_photo(path_two, NULL, damp, 1, morning + 110000, &photo); // damp shows what it will be
    for (size_t i = 0; i < photo.warnings.count; i++) {
        check_true(!strstr(photo.warnings.text[i], "cannot be compared"));
    }
    check_true(warned(&photo.warnings, "cannot be set beside photo"));
    check_true(warned(&photo.warnings, "new was bare then and is damp now"));
    hw_photo_result_free(&photo);
    advice = advise(morning + 110001);
    check_true(advice.count == 1 && !strstr(advice.advice[0].why, "Seal it"));
    hw_day_free(&advice);

    add_photo(path_two, NULL, NULL, 0, morning + 120000, &photo); // dried: bare again
    bool told = false;
    for (size_t i = 0; i < photo.warnings.count; i++) {
        told = told || strstr(photo.warnings.text[i], "cannot be compared");
    }
    check_true(told);
    hw_photo_result_free(&photo);
}

// ---- What earlier readings say -----------------------------------------------------

static long log_reading(hw_job *job, const char *stored, const char *lamp, double L, double spread,
                        int pieces)
{
    hw_photo_event photo = {.marks = shop_marks()};
    char json[700];
    long number = 0, reading = 0;
    snprintf(photo.stored, sizeof photo.stored, "%s", stored);
    snprintf(photo.view, sizeof photo.view, "front");
    snprintf(photo.lamp, sizeof photo.lamp, "%s", lamp);
    snprintf(json, sizeof json,
             "{\"samples\":[],\"comparisons\":[{\"patch\":\"new\",\"target\":\"beside\",\"de00\":4,"
             "\"de00_low\":3,\"de00_high\":5,\"delta\":{\"L\":%.2f,\"a\":-2.5,\"b\":1},\"spread_"
             "here\":%.2f,"
             "\"spread_count\":%d,\"verdict\":\"tone\",\"why\":\"\"}]}",
             L, spread, pieces);
    check_true(hw_job_add_photo(job, &photo, 1, &number, NULL) == HW_OK);
    check_true(hw_job_add_reading(job, number, json, 1, &reading, NULL) == HW_OK);
    hw_marks_free(&photo.marks);
    return reading;
}

// Spread: that of the reading with most pieces. Repeats: photos of one lamp since the last pass, a file
// added twice counts once; another lamp does not.
static void learns_from_the_job(void)
{
    hw_job *job = NULL;
    hw_marks marks = shop_marks();
    hw_earlier_list list = {0};
    remove_job();
    check_true(hw_steps_start(path_job, "learn", 0, NULL) == HW_OK);
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    check_true(hw_steps_look_back(job, 0, &marks, &list, NULL) == HW_OK);
    check_true(list.count == 1 && list.item[0].count == 0 && list.item[0].repeats == 0);
    hw_free(list.item);

    log_reading(job, "a.jpg", "bench", 9.0, 1.6, 12); // before the pass: only its spread counts
    hw_pass_event pass = {.patch_count = 1, .passes = 1, .minutes = (double)NAN};
    char patch[1][HW_NAME_SIZE] = {"new"};
    long number = 0;
    pass.patches = patch;
    pass.liquid.count = 1;
    snprintf(pass.liquid.dose[0].dye, sizeof pass.liquid.dose[0].dye, "red");
    pass.liquid.dose[0].strength = 0.25;
    check_true(hw_job_add_pass(job, &pass, 2, &number, NULL) == HW_OK);
    log_reading(job, "b.jpg", "bench", 4.0, 0.9, 3);
    log_reading(job, "c.jpg", "bench", 4.4, 0.9, 3);
    log_reading(job, "d.jpg", "window", 7.0, 0.9, 3);
    long last = log_reading(job, "e.jpg", "bench", 4.2, 0.9, 3);
    log_reading(job, "e.jpg", "bench", 4.2, 0.9, 3);
    check_true(hw_steps_look_back(job, last + 1, &marks, &list, NULL) == HW_OK);
    const hw_earlier *new = &list.item[0];
    check_true(new->count == 12);
    check_close(new->spread, 1.6, 1e-9);
    check_true(new->repeats == 3);
    check_close(new->repeat[0], 0.2, 1e-6); // of 4.0, 4.4, 4.2
    check_close(new->repeat[1], 0.0, 1e-6);
    hw_free(list.item);
    hw_job_free(job);
    hw_marks_free(&marks);
}

int main(void)
{
    snprintf(folder, sizeof folder, "%s/steps", HW_SCRATCH);
    snprintf(path_one, sizeof path_one, "%s/one.png", folder);
    snprintf(path_two, sizeof path_two, "%s/two.png", folder);
    snprintf(path_job, sizeof path_job, "%s/job", folder);
    setenv("XDG_DATA_HOME", folder, 1); // nobody's own shelf
    remove_job();
    write_picture(path_one, (hw_lab){55.0, 9.5, 26.0});
    write_picture(path_two, (hw_lab){52.0, 10.5, 25.5});
    read_one();
    read_without_memory();
    a_job();
    looking_back();
    states();
    learns_from_the_job();
    return check_done();
}
