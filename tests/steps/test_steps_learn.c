// Learning over whole jobs, on small pictures whose colours are known: a pass joins the shelf as what it
// really did, once however often it is read; the next job starts from it; what nobody can explain is asked
// about and not learned. The layers are the law of Bouguer, Lambert and Beer in three bands, computed here with
// the guess's density times a factor that the program does not know.
#include "one_job.h"
#include "base_internal.h"
#include "steps_internal.h"

#include <unistd.h>

// The repair under so many passes of red, each `factor` times the guess.
static hw_lab repair_under(double passes, double factor)
{
    hw_dye red = hw_dye_guess(HW_FAMILY_RED);
    double density[3];
    for (int band = 0; band < 3; band++) {
        density[band] = passes * factor * red.density[band];
    }
    return hw_tone_under((hw_lab){57.0, 8.0, 26.0}, density);
}

// ---- What is known ------------------------------------------------------------------

static hw_shelf shelf_now(void)
{
    hw_shelf shelf = {0};
    char used[600];
    check_true(hw_steps_shelf(NULL, NULL, &shelf, used, sizeof used, NULL) == HW_OK);
    return shelf;
}

static hw_known known_now(const char *job_id)
{
    hw_shelf shelf = shelf_now();
    hw_known known = {0};
    check_true(hw_tone_learn(&shelf, job_id, repair_under(0, 1), &known, NULL) == HW_OK);
    hw_shelf_free(&shelf);
    return known;
}

static double red_strength(void)
{
    hw_known known = known_now("");
    hw_dye guess = hw_dye_guess(HW_FAMILY_RED);
    double ratio = known.dye[HW_FAMILY_RED].density[1] / guess.density[1];
    hw_known_free(&known);
    return ratio;
}

// ---- Tests -------------------------------------------------------------------------

// Two passes, 1.8 times as strong as the guess: seen, learned, and learned once.
static void test_learns(void)
{
    make_clean();
    start("first");
    check_true(photograph(repair_under(0, 1.8), "bench", HW_STATE_SEALED).count < 3);
    lay("red", 1.0, 1);
    photograph(repair_under(1, 1.8), "bench", HW_STATE_UNKNOWN);
    hw_shelf shelf = shelf_now();
    if (check_true(shelf.seen_count == 1 && shelf.count == HW_FAMILY_COUNT)) {
        const hw_observation *seen = &shelf.seen[0];
        hw_dye red = hw_dye_guess(HW_FAMILY_RED);
        check_text(seen->laid[0].dye, "red");
        check_true(!seen->questioned && seen->laid[0].amount == 1.0 && seen->laid[0].before == 0.0);
        for (int band = 1; band < 3; band++) { // the long band hardly moves
            check_close(seen->density[band] / red.density[band], 1.8, 0.15);
        }
    }
    hw_shelf_free(&shelf);
    lay("red", 0.5, 2);
    photograph(repair_under(2, 1.8), "bench", HW_STATE_UNKNOWN);
    shelf = shelf_now();
    check_true(shelf.seen_count == 2 && shelf.seen[1].laid[0].before == 1.0 &&
               shelf.seen[1].laid[0].squares == 0.5);
    hw_shelf_free(&shelf);
    double strength = red_strength();
    printf("red learned as %.2f times the guess (1.8)\n", strength);
    check_close(strength, 1.8, 0.27); // 15 %
    // Asking for advice reads the same job again: nothing new.
    hw_advise_request request = {.folder = path_job};
    hw_day advice = {0};
    uint8_t *before = NULL, *after = NULL;
    size_t count = 0, count_after = 0;
    check_true(hw_file_read(path_shelf, 1 << 20, &before, &count, NULL) == HW_OK);
    check_true(hw_steps_advise(&request, NULL, clock_now, &advice, NULL) == HW_OK);
    hw_day_free(&advice);
    check_true(hw_file_read(path_shelf, 1 << 20, &after, &count_after, NULL) == HW_OK);
    check_true(count == count_after && memcmp(before, after, count) == 0);
    hw_free(before);
    hw_free(after);
}

// What was expected stands in the log with the dyes as they were known: the job can be read alone.
static void test_job_alone(void)
{
    hw_job *job = NULL;
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    int passes = 0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind != HW_EVENT_PASS_LAID) {
            continue;
        }
        const hw_pass_event *pass = &event->of.pass;
        check_true(pass->dye_count == 1 && pass->forecast_count == 1);
        check_true(pass->dye[0].family == HW_FAMILY_RED && pass->dye[0].density[1] > 0.0);
        check_true(pass->dye[0].guess == (passes == 0)); // seen once, known then
        hw_pass_effect effect = hw_job_pass_effect(job, event, "new");
        check_true(effect.known && effect.check.known && !effect.check.questioned);
        printf("pass %d did %.2f of its forecast\n", passes + 1, effect.check.ratio);
        check_close(effect.check.ratio, passes == 0 ? 1.8 : 1.0, 0.2);
        passes++;
    }
    check_true(passes == 2);
    hw_job_free(job);
}

// The next job starts from it; a copy of the first folder teaches nothing twice.
static void test_next_job(void)
{
    char copy[1400];
    snprintf(copy, sizeof copy, "cp -r '%s' '%s-copy'", path_job, path_job);
    check_true(system(copy) == 0);
    double before = red_strength();
    char kept[sizeof path_job];
    memcpy(kept, path_job, sizeof kept);
    hw_format_text(path_job, sizeof path_job, "%s-copy", kept);
    photograph(repair_under(2, 1.8), "bench", HW_STATE_UNKNOWN);
    hw_shelf shelf = shelf_now();
    check_true(shelf.seen_count == 2);
    hw_shelf_free(&shelf);
    check_close(red_strength(), before, 1e-6);
    hw_format_text(path_job, sizeof path_job, "%s-next", kept);
    start("next");
    photograph(repair_under(0, 1.8), "bench", HW_STATE_SEALED);
    lay("red", 1.0, 1);
    hw_job *job = NULL;
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    const hw_event *last = hw_job_event(job, hw_job_event_count(job) - 1);
    hw_dye red = hw_dye_guess(HW_FAMILY_RED);
    check_close(last->of.pass.forecast[0].density[1] / red.density[1], 1.8, 0.27);
    hw_job_free(job);
    memcpy(path_job, kept, sizeof path_job);
}

// A wipe-back nobody logged, then a pass that did far too much: both asked about, neither learned.
static void test_asks(void)
{
    make_clean();
    start("asks");
    photograph(repair_under(2, 1.0), "bench", HW_STATE_SEALED);
    hw_warnings warnings = photograph(repair_under(0, 1.0), "bench", HW_STATE_UNKNOWN);
    check_true(told(&warnings, "no pass between them is logged"));
    check_true(told(&warnings, "wiped back"));
    hw_shelf shelf = shelf_now();
    check_true(shelf.seen_count == 0);
    hw_shelf_free(&shelf);
    lay("red", 0.125, 1);
    warnings = photograph(repair_under(4, 1.0), "bench", HW_STATE_UNKNOWN);
    check_true(told(&warnings, "far more than forecast"));
    check_true(told(&warnings, "was a pass forgotten"));
    shelf = shelf_now();
    check_true(shelf.seen_count == 1 && shelf.seen[0].questioned && shelf.seen[0].question[0]);
    hw_shelf_free(&shelf);
    check_close(red_strength(), 1.0, 1e-6);
    lay("red", 0.5, 1);
    warnings =
        photograph(repair_under(1, 1.0), "bench", HW_STATE_UNKNOWN); // lighter, in spite of it
    check_true(told(&warnings, "it became lighter"));
    check_close(red_strength(), 1.0, 1e-6);
}

// The forgotten pass, logged later, takes its place: then it is as forecast, and learned.
static void test_forgotten_pass(void)
{
    make_clean();
    start("forgotten");
    photograph(repair_under(0, 1.1), "bench", HW_STATE_SEALED);
    lay("red", 0.125, 1);
    hw_warnings warnings = photograph(repair_under(3.125, 1.1), "bench", HW_STATE_UNKNOWN);
    check_true(told(&warnings, "--before-photo"));
    hw_shelf shelf = shelf_now();
    check_true(shelf.seen_count == 1 && shelf.seen[0].questioned);
    hw_shelf_free(&shelf);
    hw_job *job = NULL;
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    long photo = hw_job_last_photo(job, NULL)->number;
    hw_job_free(job);
    hw_error err = {0};
    char patches[1][HW_NAME_SIZE] = {"new"};
    hw_pass_request request = {.folder = path_job,
                               .pass = {.patches = patches,
                                        .patch_count = 1,
                                        .liquid = {.dose = {{"red", 1.0}}, .count = 1},
                                        .passes = 3,
                                        .before_photo = photo + 100,
                                        .minutes = 60}};
    check_true(hw_steps_pass(&request, NULL, clock_now, &job, &warnings, &err) == HW_ERR_CALL);
    check_text(err.code, "photo-unknown");
    request.pass.before_photo = photo;
    check_true(hw_steps_pass(&request, NULL, clock_now, &job, &warnings, &err) == HW_OK);
    check_true(hw_job_layers(job, "new", photo, NULL, 0) == 0); // nothing since the photo
    check_true(hw_job_layers(job, "new", 0, NULL, 0) == 2);
    hw_job_free(job);
    hw_advise_request ask = {.folder = path_job};
    hw_day advice = {0};
    check_true(hw_steps_advise(&ask, NULL, clock_now, &advice, NULL) == HW_OK);
    check_true(advice.count == 1 && advice.advice[0].stop_reason != HW_STOP_ASK_FIRST);
    hw_day_free(&advice);
    shelf = shelf_now();
    check_true(shelf.seen_count == 1 && !shelf.seen[0].questioned &&
               shelf.seen[0].laid[0].amount == 3.125);
    hw_shelf_free(&shelf);
    check_close(red_strength(), 1.1, 0.1);
}

// Another lamp, or a photo of wood that is not dry, teaches nothing; the photo after it is set beside the
// last good one.
static void test_passes_over(void)
{
    make_clean();
    start("lamps");
    photograph(repair_under(0, 1.4), "bench", HW_STATE_SEALED);
    lay("red", 1.0, 1);
    photograph(repair_under(1.3, 1.4), "bench", HW_STATE_NOT_DRY);
    photograph(repair_under(1.2, 1.4), "window", HW_STATE_SEALED);
    hw_shelf shelf = shelf_now();
    check_true(shelf.seen_count == 0);
    hw_shelf_free(&shelf);
    photograph(repair_under(1, 1.4), "bench", HW_STATE_SEALED);
    shelf = shelf_now();
    if (check_true(shelf.seen_count == 1)) {
        hw_dye red = hw_dye_guess(HW_FAMILY_RED);
        check_close(shelf.seen[0].density[1] / red.density[1], 1.4, 0.15);
    }
    hw_shelf_free(&shelf);
}

// A shelf that cannot be written: the photo is saved, the job knows, and it is said.
static void test_no_shelf(void)
{
    char elsewhere[700];
    make_clean();
    hw_format_text(elsewhere, sizeof elsewhere, "%s/file", folder);
    check_true(hw_file_replace(elsewhere, "x", 1, NULL) == HW_OK);
    hw_format_text(elsewhere, sizeof elsewhere, "%s/file/below", folder);
    setenv("XDG_DATA_HOME", elsewhere, 1);
    start("no shelf");
    photograph(repair_under(0, 1.8), "bench", HW_STATE_SEALED);
    lay("red", 1.0, 1);
    hw_warnings warnings = photograph(repair_under(1, 1.8), "bench", HW_STATE_UNKNOWN);
    check_true(told(&warnings, "could not keep it for the next one"));
    hw_job *job = NULL;
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    hw_observation *seen = NULL;
    size_t count = 0;
    check_true(hw_job_observe(job, 0, &seen, &count, NULL, NULL) == HW_OK && count == 1);
    hw_free_observations(seen);
    hw_job_free(job);
    setenv("XDG_DATA_HOME", folder, 1);
}

static hw_advice advice_now(void)
{
    hw_advise_request request = {.folder = path_job};
    hw_day result = {0};
    hw_advice advice = {0};
    check_true(hw_steps_advise(&request, NULL, clock_now, &result, NULL) == HW_OK);
    if (check_true(result.count == 1)) {
        advice = result.advice[0];
    }
    hw_day_free(&result);
    return advice;
}

// The very same file as before and after says nothing of the pass between.
static void test_same_photo(void)
{
    make_clean();
    start("same");
    photograph(repair_under(0, 1.0), "bench", HW_STATE_SEALED);
    lay("red", 1.0, 1);
    hw_warnings warnings = photograph(repair_under(0, 1.0), "bench", HW_STATE_UNKNOWN);
    check_true(told(&warnings, "very same photo"));
    hw_shelf shelf = shelf_now();
    check_true(shelf.seen_count == 0);
    hw_shelf_free(&shelf);
    hw_advice advice = advice_now(); // what it shows is older than the pass
    check_true(advice.stop_reason == HW_STOP_ASK_FIRST && !advice.has_next);
    check_holds(advice.why, "very same picture");
}

// What was wet in the photo is not toned on it; what is asked about is toned thinly, if at all.
static void test_careful(void)
{
    make_clean();
    start("careful");
    photograph(repair_under(0, 1.0), "bench", HW_STATE_NOT_DRY);
    hw_advice advice = advice_now();
    check_true(advice.stop && !advice.has_next && advice.stop_reason == HW_STOP_ASK_FIRST);
    check_holds(advice.why, "Let it dry and photograph it again");
    photograph(repair_under(0, 1.0), "bench", HW_STATE_SEALED);
    advice = advice_now();
    check_true(advice.has_next);
}

// A dye that is known well enough for three passes at once: after a change that nobody explains, or a pass
// that did what it cannot have done, one is the most.
static void test_doubtful(void)
{
    for (int how = 0; how < 3; how++) {
        make_clean();
        hw_dye dye = hw_dye_guess(HW_FAMILY_RED_BROWN);
        hw_copy_text(dye.name, sizeof dye.name, "known");
        dye.guess = false;
        dye.u_strength = 0.03;
        dye.covariance = hw_covariance_times(&dye.covariance, 0.02);
        check_true(hw_shelf_put_dye(path_shelf, NULL, &dye, NULL) == HW_OK);
        start("doubtful");
        photograph(repair_under(how == 0 ? 0 : -1.2, 1.0), "bench", HW_STATE_SEALED);
        if (how == 2) {
            lay("known", 0.125, 1); // and it did ten times as much
        }
        if (how > 0) {
            photograph(repair_under(0, 1.0), "bench", HW_STATE_SEALED);
        }
        hw_advice advice = advice_now();
        printf("way %d: %d passes\n", how, advice.has_next ? advice.next.passes : 0);
        check_true(how > 0 ? !advice.has_next || advice.next.passes == 1 : advice.next.passes >= 2);
        hw_job *job = NULL;
        check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
        check_true(hw_job_asks_about(job, hw_job_last_photo(job, NULL)->number, "new") ==
                   (how > 0));
        hw_job_free(job);
    }
}

// Old wood that was wet misleads as much.
static void test_wet_old_wood(void)
{
    make_clean();
    start("wet");
    picture made = shop_picture();
    save_picture(&made, path_photo);
    hw_part_state wet = {.part = "old", .state = HW_STATE_NOT_DRY};
    hw_photo_request request = {.folder = path_job,
                                .read = {.photo_path = path_photo, .marks = shop_marks()},
                                .states = &wet,
                                .state_count = 1};
    hw_photo_result result = {0};
    check_true(hw_steps_photo(&request, NULL, clock_now, &result, NULL) == HW_OK);
    hw_marks_free(&request.read.marks);
    hw_photo_result_free(&result);
    hw_advice advice = advice_now();
    check_true(!advice.has_next && advice.stop_reason == HW_STOP_ASK_FIRST);
    check_holds(advice.why, "old was not dry");
}

// A job on another computer, whose shelf holds none of its dyes, goes on with those of its own log.
static void test_other_shelf(void)
{
    make_clean();
    hw_dye dye = hw_dye_guess(HW_FAMILY_BROWN);
    hw_copy_text(dye.name, sizeof dye.name, "walnut");
    dye.guess = false;
    check_true(hw_shelf_put_dye(path_shelf, NULL, &dye, NULL) == HW_OK);
    start("moves");
    photograph(repair_under(0, 1.0), "bench", HW_STATE_SEALED);
    lay("walnut", 0.5, 1);
    check_true(unlink(path_shelf) == 0);
    lay("walnut", 0.25, 1); // else refused: there is no such dye
    // On a shelf with other dyes a family's name is logged, and it is said that nothing can be learned.
    check_true(hw_shelf_put_dye(path_shelf, NULL, &dye, NULL) == HW_OK);
    hw_error err = {0};
    hw_warnings warnings = {0};
    hw_job *job = NULL;
    char patches[1][HW_NAME_SIZE] = {"new"};
    hw_pass_request request = {.folder = path_job,
                               .pass = {.patches = patches,
                                        .patch_count = 1,
                                        .liquid = {.dose = {{"red", 0.5}}, .count = 1},
                                        .passes = 1,
                                        .minutes = 60}};
    check_true(hw_steps_pass(&request, NULL, clock_now, &job, &warnings, &err) == HW_OK);
    check_true(told(&warnings, "red is not on your shelf"));
    hw_job_free(job);
}

// Lines of an older version carry no forecast, damaged ones a forecast that cannot be: what such a pass cannot
// have done is questioned all the same.
static void test_old_lines(void)
{
    for (int damaged = 0; damaged < 2; damaged++) {
        make_clean();
        start("old");
        photograph(repair_under(0, 1.0), "bench", HW_STATE_SEALED);
        hw_job *job = NULL;
        check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
        char patches[1][HW_NAME_SIZE] = {"new"};
        hw_forecast forecast = {.patch = "new", .density = {1e300, 1, 1}};
        forecast.covariance.m[1][1] = -1.0;
        hw_pass_event pass = {.patches = patches,
                              .patch_count = 1,
                              .liquid = {.dose = {{"red", 0.25}}, .count = 1},
                              .passes = 1,
                              .minutes = 60,
                              .forecast = &forecast,
                              .forecast_count = (size_t)damaged};
        long number;
        check_true(hw_job_add_pass(job, &pass, clock_now, &number, NULL) == HW_OK);
        hw_job_free(job);
        photograph(repair_under(7, 1.0), "bench", HW_STATE_UNKNOWN);
        hw_shelf shelf = shelf_now();
        check_true(shelf.seen_count == 1 && shelf.seen[0].questioned);
        hw_shelf_free(&shelf);
        check_close(red_strength(), 1.0, 1e-6);
    }
}

// The chance of overshoot that advised steps have used up.
static void test_risk_spent(void)
{
    make_clean();
    start("risk");
    photograph(repair_under(0, 1.0), "bench", HW_STATE_SEALED);
    hw_job *job = NULL;
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    hw_plan_event plan = {.has_next = true, .next = {{{{"red", 0.5}}, 1}, 1}, .risk = 0.003};
    snprintf(plan.patch, sizeof plan.patch, "new");
    long number;
    check_true(hw_job_add_plan(job, &plan, clock_now, &number, NULL) == HW_OK);
    check_close(hw_job_risk_spent(job), 0.0, 0); // shown, not laid
    hw_job_free(job);
    lay("red", 0.5, 1);
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    check_close(hw_job_risk_spent(job), 0.003, 1e-9);
    // Of another repair of the same job too.
    snprintf(plan.patch, sizeof plan.patch, "other");
    plan.risk = 0.004;
    hw_pass_event pass = {.patches = (char[1][HW_NAME_SIZE]){"other"},
                          .patch_count = 1,
                          .liquid = {.dose = {{"red", 0.5}}, .count = 1},
                          .passes = 1};
    check_true(hw_job_add_plan(job, &plan, clock_now, &number, NULL) == HW_OK);
    check_true(hw_job_add_pass(job, &pass, clock_now, &number, NULL) == HW_OK);
    check_close(hw_job_risk_spent(job), 0.007, 1e-9);
    hw_job_free(job);
}

int main(void)
{
    name_places("steps-learn");
    test_learns();
    test_job_alone();
    test_next_job();
    test_asks();
    test_forgotten_pass();
    test_passes_over();
    test_no_shelf();
    test_same_photo();
    test_careful();
    test_doubtful();
    test_wet_old_wood();
    test_other_shelf();
    test_old_lines();
    test_risk_spent();
    return check_done();
}
