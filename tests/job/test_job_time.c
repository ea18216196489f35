// What holds for the whole job, and how long things took. Worked by hand from the times that are logged.
#include "open_job.h"

static long set(hw_setting_event setting)
{
    long number = 0;
    check_true(hw_job_add_setting(job, &setting, now++, &number, NULL) == HW_OK);
    return number;
}

static long lay(const char *patch, const char *other, double minutes, double hours)
{
    char patches[2][HW_NAME_SIZE];
    long number = 0;
    hw_pass_event pass = {.patches = patches,
                          .patch_count = other ? 2 : 1,
                          .liquid = {.dose = {{"red", 0.25}}, .count = 1},
                          .passes = 1,
                          .minutes = minutes,
                          .hours = hours};
    snprintf(patches[0], HW_NAME_SIZE, "%s", patch);
    snprintf(patches[1], HW_NAME_SIZE, "%s", other ? other : "");
    check_true(hw_job_add_pass(job, &pass, now, &number, NULL) == HW_OK);
    return number;
}

static void test_settings(void)
{
    new_job("time");
    hw_part_area first[] = {{"strip", 600.0}, {"door", 2400.0}}, second[] = {{"strip", 614.0}};
    hw_job_settings said = hw_job_settings_now(job);
    check_true(said.coats_over == HW_COATS_UNSAID && said.coats_event == 0);
    check_true(isnan(said.recoat_minutes) && isnan(said.card_mm[0]) && isnan(said.ml_m2));
    long coats = set((hw_setting_event){.coats_over = HW_COATS_REPAIRS, .coats = 2});
    set((hw_setting_event){.recoat_minutes = 45, .areas = first, .area_count = 2});
    set((hw_setting_event){.card_mm = {200, 250}, .areas = second, .area_count = 1});
    long ml = set((hw_setting_event){.ml_m2 = 80});
    said = hw_job_settings_now(job);
    check_true(said.coats_over == HW_COATS_REPAIRS && said.coats_said == 2 &&
               said.coats_event == coats);
    check_close(said.recoat_minutes, 45, 0);
    check_close(said.card_mm[0], 200, 0);
    check_close(said.card_mm[1], 250, 0);
    check_close(said.ml_m2, 80, 0);
    check_close(hw_job_area_said(job, "strip"), 614, 0); // the later one
    check_close(hw_job_area_said(job, "door"), 2400, 0);
    check_true(isnan(hw_job_area_said(job, "rail")));
    // Withdrawn: what was said before holds again, here nothing.
    long gone = 0;
    check_true(hw_job_add_withdrawal(job, ml, now++, &gone, NULL) == HW_OK);
    check_true(isnan(hw_job_settings_now(job).ml_m2));
    // A part renamed takes its area along.
    hw_part_event part = {.role = HW_ROLE_PATCH, .part = "inlay", .was = "strip"};
    check_true(hw_job_add_part(job, &part, now++, &gone, NULL) == HW_OK);
    check_close(hw_job_area_said(job, "inlay"), 614, 0);
    check_true(isnan(hw_job_area_said(job, "strip")));
}

static void test_drying(void)
{
    new_job("time");
    check_true(isnan(hw_job_dry_minutes(job, "strip", now, now)));
    int64_t start = now;
    lay("strip", NULL, NAN, 0);
    now += 1800;
    lay("door", NULL, 10, 0); // it had dried ten minutes when it was logged
    check_close(hw_job_dry_minutes(job, "strip", start + 720, start + 720), 12, 1e-9);
    check_close(hw_job_dry_minutes(job, "door", now + 300, now + 300), 15, 1e-9);
    hw_coat_event coat = {.coat = HW_COAT_CLEAR}; // on the whole piece
    long number = 0;
    now += 600;
    check_true(hw_job_add_coat(job, &coat, now, &number, NULL) == HW_OK);
    check_close(hw_job_dry_minutes(job, "strip", now + 60, now + 60), 1, 1e-9);
    check_close(hw_job_dry_minutes(job, "rail", now + 60, now + 60), 1, 1e-9);
    // Seen before it was added: it had dried less, and not at all where it was logged only afterwards.
    check_close(hw_job_dry_minutes(job, "rail", now + 60, now + 3600), 1, 1e-9);
    check_close(hw_job_dry_minutes(job, "rail", now - 60, now + 3600), 0, 1e-9);
    // A clock set back: what lies in the future says nothing.
    check_true(isnan(hw_job_dry_minutes(job, "strip", start - 60, start - 60)));
}

static void test_hours(void)
{
    new_job("time");
    double hours = 0.0;
    int64_t start = now;
    lay("strip", "door", NAN, 1.0);
    hw_note_event note = {.text = "sanded", .part = "strip", .hours = 0.25};
    hw_coat_event coat = {.coat = HW_COAT_SEALER, .hours = 2.0};
    long number = 0;
    now = start + 1200;
    check_true(hw_job_add_note(job, &note, now, &number, NULL) == HW_OK);
    now = start + 4200; // 50 minutes later: the same sitting
    check_true(hw_job_add_coat(job, &coat, now, &number, NULL) == HW_OK);
    now = start + 90000; // the next day
    lay("door", NULL, NAN, 0);
    check_close(hw_job_hours(job, "strip"), 0.75, 1e-12); // half of the pass, and the note
    check_close(hw_job_hours(job, "door"), 0.5, 1e-12);
    check_close(hw_job_hours(job, NULL), 3.25, 1e-12); // the sealer was for the whole piece
    check_true(hw_job_sittings(job, &hours) == 2);
    // new_job's own first line is at most a second before.
    check_close(hours, 4200.0 / 3600.0, 2.0 / 3600.0);
    check_true(hw_job_add_withdrawal(job, 3, now, &number, NULL) == HW_OK); // the note
    check_close(hw_job_hours(job, "strip"), 0.5, 1e-12);
}

// One line stamped far ahead, as by a clock set wrong for a moment: what follows counts on.
static void test_clock_ahead(void)
{
    new_job("time");
    double hours = 0.0;
    const int64_t start = now, stamps[] = {600, 10000000, 1200, 1800, 2400};
    for (int i = 0; i < 5; i++) {
        now = start + stamps[i];
        lay("strip", NULL, NAN, 0);
    }
    hw_job_sittings(job, &hours);
    check_close(hours, (600.0 + 1200.0) / 3600.0, 2.0 / 3600.0);
}

int main(void)
{
    test_settings();
    test_drying();
    test_hours();
    test_clock_ahead();
    hw_job_free(job);
    return check_done();
}
