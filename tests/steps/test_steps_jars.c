// Jars over whole jobs, on small pictures whose colours are known: passes out of a jar mixed too strong teach that jar,
// advice and forecasts count with it, and the next job that carries it knows it. The layers are the law of
// Bouguer, Lambert and Beer in three bands.
#include "one_job.h"
#include "steps_internal.h"

#include <stdio.h>
#include <unistd.h>

static char path_next[560];
static const hw_lab bare_wood = {57.0, 8.0, 26.0};

// A dye that its board knows well: one pass as the guess of red says.
static void put_red(const char *name)
{
    hw_dye dye = hw_dye_guess(HW_FAMILY_RED);
    snprintf(dye.name, sizeof dye.name, "%s", name);
    dye.guess = false;
    dye.u_strength = 0.04;
    dye.u_exponent = 0.02;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            dye.covariance.m[r][c] =
                dye.density[r] * dye.density[c] * 0.0016 * (r == c ? 2.0 : 1.0);
        }
    }
    check_true(hw_shelf_put_dye(path_shelf, NULL, &dye, NULL) == HW_OK);
}

static hw_lab under(double amount)
{
    hw_dye red = hw_dye_guess(HW_FAMILY_RED);
    double density[3] = {amount * red.density[0], amount * red.density[1], amount * red.density[2]};
    return hw_tone_under(bare_wood, density);
}

static void shoot(const char *job, hw_lab repair)
{
    photograph_for(job, repair, "bench", HW_STATE_SEALED);
}

static void mix(const char *job, double strength)
{
    hw_event event = {
        .kind = HW_EVENT_JAR_MIXED,
        .of.jar = {.liquid = {.dose = {{.dye = "ruby", .strength = strength}}, .count = 1},
                   .volume_ml = 100.0}};
    hw_log_request request = {.folder = job, .event = &event, .shelf_path = path_shelf};
    hw_warnings warnings = {0};
    hw_job *opened = NULL;
    check_true(hw_steps_log(&request, NULL, clock_now++, &opened, &warnings, NULL) == HW_OK);
    hw_job_free(opened);
}

static hw_forecast lay_from(const char *job, long jar)
{
    hw_warnings warnings = {0};
    hw_job *opened = NULL;
    char patches[1][HW_NAME_SIZE] = {"new"};
    hw_forecast forecast = {.patch = ""};
    hw_pass_request request = {
        .folder = job,
        .pass = {.patches = patches, .patch_count = 1, .jar = jar, .passes = 2, .minutes = 60},
        .shelf_path = path_shelf};
    clock_now += 600;
    if (check_true(hw_steps_pass(&request, NULL, clock_now, &opened, &warnings, NULL) == HW_OK)) {
        const hw_event *last = hw_job_event(opened, hw_job_event_count(opened) - 1);
        if (last->of.pass.forecast_count > 0) {
            forecast = last->of.pass.forecast[0];
        }
    }
    hw_job_free(opened);
    return forecast;
}

static hw_known jars(const char *folder_of, double *one, double *two)
{
    hw_job *job = NULL;
    hw_known known = {0};
    char key[HW_JAR_KEY_SIZE];
    *one = *two = (double)NAN;
    if (check_true(hw_job_open(folder_of, NULL, &job, NULL) == HW_OK &&
                   hw_steps_jars(job, path_shelf, NULL, &known, NULL) == HW_OK)) {
        for (long i = 1; i <= 2; i++) {
            hw_job_jar_key(job, i, key);
            const hw_known_jar *jar = hw_known_find_jar(&known, key);
            *(i == 1 ? one : two) = jar ? jar->factor : (double)NAN;
        }
    }
    hw_job_free(job);
    return known;
}

// Jar 1 as it says, jar 2 twice as strong; six passes out of each. Then a job that carries both.
static void test_jars(void)
{
    double one, two, laid = 0.0;
    make_clean();
    put_red("ruby");
    start("first");
    mix(path_job, 1.0);
    mix(path_job, 0.5);
    shoot(path_job, under(0));
    const double does = 1.0; // jar 2 at half strength, twice
    hw_forecast first = {.patch = ""}, last = {.patch = ""};
    for (int i = 0; i < 6; i++) {
        hw_forecast forecast = lay_from(path_job, 1 + i % 2);
        first = i == 1 ? forecast : first;
        last = i == 5 ? forecast : last;
        laid += 2.0 * does; // two passes
        shoot(path_job, under(laid));
    }
    hw_known known = jars(path_job, &one, &two);
    const hw_known_dye *ruby = hw_known_find(&known, "ruby");
    hw_dye guess = hw_dye_guess(HW_FAMILY_RED);
    printf("jar 1 %.2f, jar 2 %.2f, dye %.2f; jar 2 forecast %.3f then %.3f of %.3f\n", one, two,
           ruby ? ruby->density[1] / guess.density[1] : (double)NAN, first.density[1],
           last.density[1], 2.0 * does * guess.density[1]);
    check_true(two / one > 1.4 && fabs(one - 1.0) < 0.1);
    // All passes together did 12 where 9 were said: without jars that would be the dye's, 1.33.
    check_true(ruby && fabs(ruby->density[1] / guess.density[1] - 1.0) < 0.25);
    // The last pass out of jar 2 was expected nearer to what it did than the first.
    check_true(fabs(last.density[1] - 2.0 * does * guess.density[1]) <
               0.7 * fabs(first.density[1] - 2.0 * does * guess.density[1]));
    hw_known_free(&known);

    hw_start_request request = {
        .folder = path_next, .title = "next", .from = path_job, .shelf_path = path_shelf};
    hw_carried result = {0};
    hw_error err = {0};
    if (check_true(hw_steps_start_from(&request, NULL, clock_now++, &result, &err) == HW_OK)) {
        check_text(result.from_title, "first");
        check_true(result.dye_count == 0 && hw_job_jar(result.job, 2));
    }
    hw_carried_free(&result);
    double three, four;
    known = jars(path_next, &three, &four); // as it was known there, but for the day
    printf("carried: jar 1 %.2f, jar 2 %.2f\n", three, four);
    check_true(four > 1.2 && fabs(four - two) < 0.1 && fabs(three - one) < 0.1);
    hw_known_free(&known);

    // Advice in the next job that asks for the liquid of a jar counts with that jar, and says so.
    hw_advise_request ask = {.folder = path_next, .shelf_path = path_shelf};
    hw_day told = {0};
    shoot(path_next, (hw_lab){52.2, 8.2, 25.0});
    if (check_true(hw_steps_advise(&ask, NULL, clock_now++, &told, &err) == HW_OK) &&
        check_true(told.count == 1)) {
        const hw_advice *advice = &told.advice[0];
        printf("advice: %s %s\n", advice->why, advice->full_strength);
        check_true(advice->has_next && advice->next_jar == 2);
        check_holds(advice->full_strength, "Jar 2 is about 1.");
        check_holds(advice->full_strength, "times as strong as it says");
    }
    hw_day_free(&told);
}

// The shelf has ruby again, as well known as the other red.
static void check_ruby_came_along(void)
{
    hw_shelf shelf = {0};
    check_true(hw_shelf_load(path_shelf, NULL, &shelf, NULL) == HW_OK);
    const hw_dye *ruby = hw_shelf_find(&shelf, "ruby"), *other = hw_shelf_find(&shelf, "other");
    if (check_true(ruby && other)) {
        check_close(ruby->density[1] / other->density[1], 1.0, 0.01);
        check_true(!ruby->guess && ruby->family == HW_FAMILY_RED);
    }
    hw_shelf_free(&shelf);
}

// Another computer, whose shelf has never heard of ruby; and one where it was taken off.
static void test_dyes(void)
{
    size_t gone = 0;
    hw_start_request request = {.folder = path_next, .from = path_job, .shelf_path = path_shelf};
    hw_carried result = {0};
    make_clean();
    put_red("ruby");
    start("first");
    mix(path_job, 0.5);
    shoot(path_job, under(0));
    lay_from(path_job, 1);
    unlink(path_shelf);
    put_red("other");
    check_true(hw_steps_start_from(&request, NULL, clock_now++, &result, NULL) == HW_OK);
    check_true(result.dye_count == 1 && result.warnings.count == 0);
    check_text(result.dyes[0], "ruby");
    check_ruby_came_along();
    hw_carried_free(&result);
    // What is wrong is refused before anything is touched.
    hw_error err = {0};
    check_true(hw_steps_start_from(&request, NULL, clock_now++, &result, &err) == HW_ERR_CALL);
    check_text(err.code, "job-exists");
    request.from = path_next;
    err = (hw_error){0};
    check_true(hw_steps_start_from(&request, NULL, clock_now++, &result, &err) == HW_ERR_CALL);
    check_text(err.code, "start-same");
    char missing[600], fresh[600];
    snprintf(missing, sizeof missing, "%s/nowhere", folder);
    snprintf(fresh, sizeof fresh, "%s/fresh", folder);
    request = (hw_start_request){.folder = fresh, .from = missing, .shelf_path = path_shelf};
    err = (hw_error){0};
    check_true(hw_steps_start_from(&request, NULL, clock_now++, &result, &err) == HW_ERR_INPUT);
    check_text(err.code, "job-missing");
    check_true(!hw_file_exists(fresh));
    // Taken off on purpose: a job that saw it does not bring it back.
    shoot(path_job, under(0.5));
    check_true(hw_shelf_remove_dye(path_shelf, NULL, "ruby", &gone, NULL) == HW_OK && gone == 1);
    request.from = path_job;
    check_true(hw_steps_start_from(&request, NULL, clock_now++, &result, NULL) == HW_OK);
    check_true(result.dye_count == 0 && result.warnings.count == 1);
    check_holds(result.warnings.text[0], "taken off your shelf");
    hw_carried_free(&result);
}

// A jar of a dye that no pass was logged with, on a computer whose shelf lacks it: the jar's own line brings the dye along.
// And a jar that is empty by what was laid stays behind.
static void test_dye_of_jar_alone(void)
{
    hw_start_request request = {.folder = path_next, .from = path_job, .shelf_path = path_shelf};
    hw_carried result = {0};
    make_clean();
    put_red("ruby");
    start("first");
    mix(path_job, 0.5);
    unlink(path_shelf);
    put_red("other");
    check_true(hw_steps_start_from(&request, NULL, clock_now++, &result, NULL) == HW_OK);
    check_true(result.dye_count == 1 && !result.passes && result.warnings.count == 0);
    check_ruby_came_along();
    hw_carried_free(&result);
    shoot(path_next, under(0));
    mix(path_next, 0.25);
    check_true(lay_from(path_next, 1).density[1] > 0.0);

    char third[600];
    hw_part_area area = {"new", 20000}; // 2 m2, two passes of 50 ml each: just what was mixed
    hw_event event = {.kind = HW_EVENT_SETTING,
                      .of.setting = {.ml_m2 = 25, .areas = &area, .area_count = 1}};
    hw_log_request log = {.folder = path_next, .event = &event, .shelf_path = path_shelf};
    hw_warnings warnings = {0};
    hw_job *job = NULL;
    check_true(hw_steps_log(&log, NULL, clock_now++, &job, &warnings, NULL) == HW_OK);
    hw_job_free(job);
    snprintf(third, sizeof third, "%s/third", folder);
    request = (hw_start_request){.folder = third, .from = path_next, .shelf_path = path_shelf};
    check_true(hw_steps_start_from(&request, NULL, clock_now++, &result, NULL) == HW_OK);
    check_true(result.passes && hw_job_jar(result.job, 1) && !hw_job_jar(result.job, 2));
    check_true(hw_job_jar(result.job, 1)->from_jar == 2 && result.warnings.count == 1);
    check_holds(result.warnings.text[0], "jar 1 is empty, so it was left behind");
    hw_carried_free(&result);
}

// The shelf lost the dye, the job's own log has it: one belief for what is logged and for the mix that is shown.
static void test_mix_by_log(void)
{
    hw_dye_request concentrate = {.shelf_path = path_shelf, .name = "ruby", .made = "1 part in 20"};
    hw_dye known;
    hw_dye_change change;
    hw_board board = {0};
    size_t gone = 0;
    hw_event event = {.kind = HW_EVENT_JAR_MIXED,
                      .of.jar = {.liquid = {{{"ruby", 0.25}}, 1}, .volume_ml = 100.0}};
    hw_log_request log = {.folder = path_job, .event = &event, .shelf_path = path_shelf};
    hw_warnings warnings = {0};
    hw_job *job = NULL;
    hw_mix mixed;
    hw_error err = {0};
    make_clean();
    put_red("ruby");
    check_true(hw_steps_shelf_add(&concentrate, NULL, clock_now, &known, &change, &board, &err) ==
               HW_OK);
    start("first");
    mix(path_job, 0.5);
    unlink(path_shelf);
    put_red("other"); // leaves a shelf file without dyes
    check_true(hw_shelf_remove_dye(path_shelf, NULL, "other", &gone, NULL) == HW_OK);
    if (check_true(hw_steps_log_jar(&log, NULL, clock_now++, &job, &mixed, &warnings, &err) ==
                   HW_OK)) {
        const hw_jar_event *jar = hw_job_jar(job, 2);
        check_true(jar && jar->dye_count == 1 && mixed.count == 1);
        check_close(mixed.volume_ml, 100.0, 1e-9);
        check_true(mixed.from_concentrate); // a quarter of a twentieth of 100 ml is 1.25 ml
        check_true(mixed.part[0].concentrate_ml <= 1.25 && mixed.part[0].concentrate_ml > 1.1);
    }
    hw_job_free(job);
    job = NULL;
    // What cannot be mixed is refused before it is logged.
    event.of.jar.volume_ml = 1e9;
    check_true(hw_steps_log_jar(&log, NULL, clock_now++, &job, &mixed, &warnings, &err) ==
               HW_ERR_CALL);
    check_text(err.code, "mix-volume");
    // No volume: no mix.
    event.of.jar.volume_ml = 0.0;
    if (check_true(hw_steps_log_jar(&log, NULL, clock_now++, &job, &mixed, &warnings, &err) ==
                   HW_OK)) {
        check_true(mixed.volume_ml == 0.0 && hw_job_jar(job, 3) && !hw_job_jar(job, 4));
    }
    hw_job_free(job);
}

int main(void)
{
    name_places("steps-jars");
    snprintf(path_next, sizeof path_next, "%s/next", folder);
    test_jars();
    test_dyes();
    test_dye_of_jar_alone();
    test_mix_by_log();
    return check_done();
}
