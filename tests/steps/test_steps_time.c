// A photo taken before what was laid is dry: said with the minutes, read, and nothing learned from it. The
// sentence and the numbers are the trade's own (a wet toner looks darker than it will be: common practice, no
// source).
#include "one_job.h"
#include "steps_internal.h"

// The repair under so many passes of red.
static hw_lab repair_toned(double passes)
{
    hw_dye red = hw_dye_guess(HW_FAMILY_RED);
    double density[3];
    for (int band = 0; band < 3; band++) {
        density[band] = passes * red.density[band];
    }
    return hw_tone_under((hw_lab){57.0, 8.0, 26.0}, density);
}

static void set_recoat(double minutes)
{
    hw_error err = {0};
    hw_warnings warnings = {0};
    hw_job *job = NULL;
    hw_event event = {.kind = HW_EVENT_SETTING, .of.setting = {.recoat_minutes = minutes}};
    hw_log_request request = {.folder = path_job, .event = &event};
    check_true(hw_steps_log(&request, NULL, clock_now, &job, &warnings, &err) == HW_OK);
    hw_job_free(job);
}

static hw_state state_of_last(void)
{
    hw_job *job = NULL;
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    const hw_event *photo = hw_job_last_photo(job, NULL);
    hw_state state = hw_job_state(job, photo->number, "new");
    hw_job_free(job);
    return state;
}

static hw_advice advice(void)
{
    hw_error err = {0};
    hw_advise_request request = {.folder = path_job, .patch = "new"};
    hw_day result = {0};
    check_true(hw_steps_advise(&request, NULL, clock_now, &result, &err) == HW_OK);
    hw_advice first = result.count ? result.advice[0] : (hw_advice){0};
    hw_day_free(&result);
    return first;
}

// `photograph` comes ten minutes after what was done before it; `lay` logs a pass that dried an hour already.
static void test_before_recoat(void)
{
    make_clean();
    start("Bench");
    photograph(repair_toned(0), "", HW_STATE_UNKNOWN);
    set_recoat(90);
    lay("red", 0.5, 2);
    hw_warnings warnings = photograph(repair_toned(1), "", HW_STATE_UNKNOWN);
    check_true(told(&warnings, "new: 70 of 90 minutes: it will look darker than it is"));
    check_true(!told(&warnings, "new is not dry")); // said once
    check_true(state_of_last() == HW_STATE_NOT_DRY);
    check_holds(advice().why, "not dry");
    // Half an hour later it is dry, and says nothing.
    clock_now += 1800;
    warnings = photograph(repair_toned(1), "", HW_STATE_UNKNOWN);
    check_true(!told(&warnings, "minutes: it will look darker"));
    check_true(state_of_last() == HW_STATE_UNKNOWN);
    check_true(advice().stop_reason != HW_STOP_ASK_FIRST);
}

static void test_said_otherwise(void)
{
    make_clean();
    start("Bench");
    photograph(repair_toned(0), "", HW_STATE_UNKNOWN);
    set_recoat(90);
    lay("red", 0.5, 2);
    hw_warnings warnings = photograph(repair_toned(1), "", HW_STATE_SEALED);
    check_true(!told(&warnings, "of 90 minutes")); // who stands before it knows better
    check_true(state_of_last() == HW_STATE_SEALED);
}

static void test_not_said(void)
{
    make_clean();
    start("Bench");
    photograph(repair_toned(0), "", HW_STATE_UNKNOWN);
    lay("red", 0.5, 2);
    hw_warnings warnings = photograph(repair_toned(1), "", HW_STATE_UNKNOWN);
    check_true(!told(&warnings, "minutes"));
    check_true(state_of_last() == HW_STATE_UNKNOWN);
}

// ---- By the camera's clock ----------------------------------------------------------

static int64_t taken_at(const hw_job *job, const char *taken, int64_t ahead)
{
    hw_photo_facts facts = {0};
    hw_copy_text(facts.taken, sizeof facts.taken, taken);
    return hw_steps_taken_at(job, &facts, &ahead, clock_now);
}

// 1790000000 is 2026-09-21 14:13:20 UTC (GNU date).
static void test_clock(void)
{
    hw_job *job = NULL;
    make_clean();
    clock_now = 1790000000;
    start("Bench");
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    check_true(taken_at(job, "2026:09:21 14:03:20", 0) == clock_now - 600);
    check_true(taken_at(job, "2026:09:21 16:03:20", 7200) == clock_now - 600);   // two hours east
    check_true(taken_at(job, "2026:09:21 05:03:20", -32400) == clock_now - 600); // nine hours west
    // A clock that cannot be right, and no clock: as if it was taken now.
    check_true(taken_at(job, "2026:09:21 14:13:21", 0) == clock_now);
    check_true(taken_at(job, "2016:01:01 00:00:00", 0) == clock_now);
    check_true(taken_at(job, "2026:09:14 14:13:00", 0) == clock_now);
    check_true(taken_at(job, "2026:02:30 10:00:00", 0) == clock_now);
    check_true(taken_at(job, "", 0) == clock_now);
    check_true(taken_at(job, "yesterday, at noon..", 0) == clock_now);
    hw_photo_facts facts = {.taken = "2026:09:21 14:03:20"};
    check_true(hw_steps_taken_at(job, &facts, NULL, clock_now) == clock_now);
    hw_job_free(job);
}

static hw_warnings wet_of(int64_t taken, bool all_dry, size_t *wet)
{
    hw_job *job = NULL;
    hw_marks marks = {0};
    hw_warnings warnings = {0};
    hw_part_state *states = NULL;
    hw_when when = {clock_now, taken};
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    check_true(hw_marks_copy(&hw_job_last_photo(job, NULL)->of.photo.marks, &marks, NULL) == HW_OK);
    check_true(hw_steps_add_wet(job, &marks, NULL, 0, all_dry, when, &states, wet, &warnings,
                                NULL) == HW_OK);
    for (size_t i = 0; i < *wet; i++) {
        check_true(states[i].state == HW_STATE_NOT_DRY);
        check_text(states[i].part, "new");
    }
    hw_free(states);
    hw_marks_free(&marks);
    hw_job_free(job);
    return warnings;
}

// The photo comes to the computer an hour after it was taken.
static void test_taken_earlier(void)
{
    size_t wet = 0;
    make_clean();
    start("Bench");
    photograph(repair_toned(0), "", HW_STATE_UNKNOWN);
    int64_t photographed = clock_now;
    set_recoat(30);
    lay("red", 0.5, 2); // logged when it had dried an hour
    int64_t logged = clock_now;
    clock_now += 3600;
    wet_of(clock_now, false, &wet);
    check_true(wet == 0);
    // Taken before the pass was logged, yet after the photo that it followed: it may show the pass, dry.
    hw_warnings warnings = wet_of(logged - 60, false, &wet);
    check_true(wet == 0 && warnings.count == 0);
    // Taken before that photo: it cannot show the pass.
    warnings = wet_of(photographed - 60, false, &wet);
    check_true(wet == 1 &&
               told(&warnings, "new: by the camera's clock this photo was taken before"));
    warnings = wet_of(photographed - 60, true, &wet); // the person says that the clock is wrong
    check_true(wet == 0 && warnings.count == 0);
    // Ten minutes after a coat, though it is added an hour later.
    set_recoat(90);
    warnings = wet_of(logged + 600, false, &wet);
    check_true(wet == 1 && told(&warnings, "new: 70 of 90 minutes"));
}

static hw_status log_setting(hw_setting_event setting, hw_error *err)
{
    hw_warnings warnings = {0};
    hw_job *job = NULL;
    hw_event event = {.kind = HW_EVENT_SETTING, .of.setting = setting};
    hw_log_request request = {.folder = path_job, .event = &event};
    hw_status status = hw_steps_log(&request, NULL, clock_now, &job, &warnings, err);
    hw_job_free(job);
    return status;
}

static void test_refused(void)
{
    hw_part_area twice[] = {{"new", 10}, {"new", 20}}, none[] = {{"new", 0}}, odd[] = {{"", 5}};
    const struct {
        hw_setting_event setting;
        const char *code;
    } bad[] = {
        {{0}, "setting-missing"},
        {{.recoat_minutes = -5}, "setting-value"},
        {{.recoat_minutes = 1e6}, "setting-value"},
        {{.recoat_minutes = NAN}, "setting-value"},
        {{.coats_over = HW_COATS_ALL, .coats = 21}, "setting-value"},
        {{.coats_over = HW_COATS_ALL, .coats = -1}, "setting-value"},
        {{.coats_over = HW_COATS_NOT_KNOWN, .coats = 3}, "setting-value"},
        {{.coats = 3, .recoat_minutes = 30}, "setting-value"},
        {{.card_mm = {100, -1}}, "setting-value"},
        {{.ml_m2 = 5000}, "setting-value"},
        {{.areas = twice, .area_count = 2}, "part-twice"},
        {{.areas = none, .area_count = 1}, "setting-value"},
        {{.areas = odd, .area_count = 1}, "part-name"},
    };
    make_clean();
    start("Bench");
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        hw_error err = {0};
        check_true(log_setting(bad[i].setting, &err) == HW_ERR_CALL);
        check_text(err.code, bad[i].code);
    }
}

int main(void)
{
    name_places("steps-time");
    test_before_recoat();
    test_said_otherwise();
    test_not_said();
    test_clock();
    test_taken_earlier();
    test_refused();
    return check_done();
}
