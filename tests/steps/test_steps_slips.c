// Slips that are told at once, and what was said taken back: on a small picture with a card, old wood and a repair.
#include "one_job.h"

static hw_job *open_job(void)
{
    hw_job *job = NULL;
    check_true(hw_steps_history(path_job, NULL, &job, NULL) == HW_OK);
    return job;
}

static long log_event(hw_event event, hw_warnings *warnings)
{
    hw_job *job = NULL;
    hw_error err = {0};
    long number = 0;
    hw_log_request request = {.folder = path_job, .event = &event};
    *warnings = (hw_warnings){0};
    if (check_true(hw_steps_log(&request, NULL, clock_now++, &job, warnings, &err) == HW_OK)) {
        number = hw_job_event(job, hw_job_event_count(job) - 1)->number;
    } else {
        printf("%s: %s\n", err.code, err.what);
    }
    hw_job_free(job);
    return number;
}

static long set(hw_setting_event setting, hw_warnings *warnings)
{
    return log_event((hw_event){.kind = HW_EVENT_SETTING, .of.setting = setting}, warnings);
}

static hw_status fix(hw_fix_request request, long *number, hw_error *err)
{
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    request.folder = path_job;
    *err = (hw_error){0};
    hw_status status = hw_steps_fix(&request, NULL, clock_now++, &job, number, &warnings, err);
    hw_job_free(job);
    return status;
}

static hw_status lay_on(const char *patch, long jar, int passes, hw_warnings *warnings)
{
    hw_job *job = NULL;
    char patches[1][HW_NAME_SIZE];
    hw_pass_request request = {
        .folder = path_job,
        .pass = {
            .patches = patches, .patch_count = 1, .passes = passes, .jar = jar, .minutes = NAN}};
    snprintf(patches[0], HW_NAME_SIZE, "%s", patch);
    if (jar == 0) {
        request.pass.liquid = (hw_liquid){.dose = {{"red", 0.25}}, .count = 1};
    }
    *warnings = (hw_warnings){0};
    hw_status status = hw_steps_pass(&request, NULL, clock_now++, &job, warnings, NULL);
    hw_job_free(job);
    return status;
}

// ---- Taken back --------------------------------------------------------------------

static void test_setting_withdrawn(void)
{
    hw_warnings warnings;
    hw_error err;
    long number = 0;
    make_clean();
    start("Bench");
    set((hw_setting_event){.recoat_minutes = 30, .ml_m2 = 60}, &warnings);
    long slip = set((hw_setting_event){.recoat_minutes = 300}, &warnings);
    check_true(fix((hw_fix_request){.event = slip, .withdraw = true}, &number, &err) == HW_OK);
    check_true(number > slip);
    hw_job *job = open_job();
    hw_job_settings now = hw_job_settings_now(job);
    check_true(now.recoat_minutes == 30 && now.ml_m2 == 60); // what was said before holds again
    check_true(hw_job_event_numbered(job, slip)->kind == HW_EVENT_WITHDRAWN);
    hw_job_free(job);
    // And the withdrawal can be withdrawn.
    check_true(fix((hw_fix_request){.event = number, .withdraw = true}, &number, &err) == HW_OK);
    job = open_job();
    check_true(hw_job_settings_now(job).recoat_minutes == 300);
    hw_job_free(job);
}

static void test_hours_taken_out(void)
{
    hw_warnings warnings;
    hw_error err;
    long number = 0;
    make_clean();
    start("Bench");
    long note = log_event(
        (hw_event){.kind = HW_EVENT_NOTE, .of.note = {.text = "sanded", .hours = 2.5}}, &warnings);
    check_true(fix((hw_fix_request){.event = note}, &number, &err) == HW_ERR_CALL);
    check_text(err.code, "fix-nothing");
    check_true(fix((hw_fix_request){.event = note, .sets_hours = true, .hours = -1}, &number,
                   &err) == HW_ERR_CALL);
    check_text(err.code, "work-hours");
    check_true(fix((hw_fix_request){.event = note, .sets_hours = true}, &number, &err) == HW_OK);
    check_true(number > note);
    hw_job *job = open_job();
    check_true(hw_job_hours(job, NULL) == 0.0);
    check_text(hw_job_event_numbered(job, note)->of.note.text, "sanded");
    hw_job_free(job);
}

// ---- Told at once ------------------------------------------------------------------

// 1000 cm2 at 100 ml a square metre: 10 ml a pass.
static void test_overdrawn(void)
{
    hw_warnings warnings;
    hw_part_area area = {"new", 1000};
    hw_event jar = {.kind = HW_EVENT_JAR_MIXED,
                    .of.jar = {.liquid = {.dose = {{"red", 0.25}}, .count = 1}, .volume_ml = 104}};
    make_clean();
    start("Bench");
    photograph(shop_new, "", HW_STATE_UNKNOWN);
    log_event(jar, &warnings);
    jar.of.jar.volume_ml = 0.0; // not said
    log_event(jar, &warnings);
    check_true(lay_on("new", 1, 20, &warnings) == HW_OK); // no area is known yet
    check_true(!told(&warnings, "holds about"));
    make_clean();
    start("Bench");
    photograph(shop_new, "", HW_STATE_UNKNOWN);
    jar.of.jar.volume_ml = 104;
    log_event(jar, &warnings);
    jar.of.jar.volume_ml = 0.0;
    log_event(jar, &warnings);
    set((hw_setting_event){.ml_m2 = 100, .areas = &area, .area_count = 1}, &warnings);
    check_true(lay_on("new", 2, 40, &warnings) == HW_OK); // nobody knows what it holds
    check_true(!told(&warnings, "holds about"));
    check_true(lay_on("new", 1, 11, &warnings) == HW_OK); // a little more than it holds: it was not
    check_true(!told(&warnings, "holds about"));          // measured so well
    make_clean();
    start("Bench");
    photograph(shop_new, "", HW_STATE_UNKNOWN);
    jar.of.jar.volume_ml = 104;
    log_event(jar, &warnings);
    area.cm2 = 24000; // a slip of the keys
    set((hw_setting_event){.ml_m2 = 100, .areas = &area, .area_count = 1}, &warnings);
    check_true(lay_on("new", 1, 5, &warnings) == HW_OK);
    check_true(told(&warnings,
                    "Jar 1 holds about 100 ml, this took about 1200: is the area, the jar "
                    "or the number of passes wrong?"));
    hw_job *job = open_job();
    check_true(hw_job_event(job, hw_job_event_count(job) - 1)->kind == HW_EVENT_PASS_LAID);
    hw_job_free(job);
}

static void test_toned_old_wood(void)
{
    hw_warnings warnings;
    make_clean();
    start("Bench");
    photograph(shop_new, "", HW_STATE_UNKNOWN);
    check_true(lay_on("old", 0, 1, &warnings) == HW_OK);
    check_true(told(&warnings, "old is old wood on the photos of this job") &&
               told(&warnings, "can no longer be matched to") &&
               !told(&warnings, "No photo of this job has marked"));
    check_true(lay_on("door", 0, 1, &warnings) == HW_OK);
    check_true(told(&warnings, "No photo of this job has marked door"));
    check_true(lay_on("new", 0, 1, &warnings) == HW_OK);
    check_true(!told(&warnings, "marked") && !told(&warnings, "old wood"));
}

// The card is marked 80 by 80.
static void test_card_that_does_not_fit(void)
{
    hw_warnings warnings;
    make_clean();
    start("Bench");
    set((hw_setting_event){.card_mm = {86, 50}}, &warnings);
    check_true(warnings.count == 0); // no photo yet
    photograph(shop_new, "", HW_STATE_UNKNOWN);
    set((hw_setting_event){.card_mm = {86, 50}}, &warnings);
    check_true(told(&warnings, "The card's mark is 1.00 to 1, a card of 86 x 50 mm 1.72 to 1: no "
                               "areas are told from it. Mark the whole card or give its right "
                               "sides."));
    set((hw_setting_event){.card_mm = {104, 100}}, &warnings);
    check_true(warnings.count == 0);
}

int main(void)
{
    name_places("steps-slips");
    test_setting_withdrawn();
    test_hours_taken_out();
    test_overdrawn();
    test_toned_old_wood();
    test_card_that_does_not_fit();
    return check_done();
}
