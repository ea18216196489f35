// A day's work through the steps: three repairs of one piece, one photo; few jars for all of them, amounts from
// areas, coats to come, time; and that each of it follows what was said of the job. Colours are painted, so what
// is right is known; areas are worked by hand from pixels and the card's size.
#include "one_job.h"
#include "steps_internal.h"

// Old wood left and right; three repairs between them, 60 x 200 pixels each, 1 mm a pixel where the card of
// 80 x 80 pixels is 80 mm wide.
static const char *const repair_name[3] = {"upper", "middle", "lower"};
static const hw_lab repair_colour[3] = {{56.0, 10.0, 25.5}, {54.0, 10.6, 25.2}, {50.3, 12.0, 25.1}};

static hw_marks day_marks(void)
{
    hw_marks marks = {0};
    bool good =
        hw_marks_add(&marks, HW_ROLE_CARD, "card", "20,20,80,80", NULL, NULL) == HW_OK &&
        hw_marks_add(&marks, HW_ROLE_TARGET, "left", "120,20,80,200", NULL, NULL) == HW_OK &&
        hw_marks_add(&marks, HW_ROLE_TARGET, "right", "410,20,80,200", NULL, NULL) == HW_OK;
    for (int i = 0; i < 3; i++) {
        char region[60];
        snprintf(region, sizeof region, "%d,20,60,200", 210 + 65 * i);
        good = good &&
               hw_marks_add(&marks, HW_ROLE_PATCH, repair_name[i], region, NULL, NULL) == HW_OK;
    }
    check_true(good);
    return marks;
}

static void photograph_all(const hw_lab colour[3])
{
    picture made = picture_new(510, 240);
    picture_fill(&made, 0, 0, 510, 240, (hw_lab){40, 2, 4});
    picture_fill(&made, 20, 20, 80, 80, (hw_lab){49.5, 0, 0});
    picture_fill(&made, 120, 20, 80, 200, (hw_lab){50.0, 12.0, 25.0});
    picture_fill(&made, 410, 20, 80, 200, (hw_lab){50.4, 11.8, 25.2});
    for (size_t i = 0; i < 3; i++) {
        picture_fill(&made, 210 + 65 * i, 20, 60, 200, colour[i]);
    }
    save_picture(&made, path_photo);
    hw_error err = {0};
    hw_photo_result result = {0};
    hw_photo_request request = {.folder = path_job,
                                .read = {.photo_path = path_photo, .marks = day_marks()}};
    clock_now += 600;
    if (!check_true(hw_steps_photo(&request, NULL, clock_now, &result, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    hw_marks_free(&request.read.marks);
    hw_photo_result_free(&result);
}

static void say(hw_setting_event setting)
{
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    hw_event event = {.kind = HW_EVENT_SETTING, .of.setting = setting};
    hw_log_request request = {.folder = path_job, .event = &event};
    check_true(hw_steps_log(&request, NULL, clock_now, &job, &warnings, NULL) == HW_OK);
    hw_job_free(job);
}

static hw_day ask(const char *patch, double volume_ml)
{
    hw_error err = {0};
    hw_day day = {0};
    hw_advise_request request = {.folder = path_job, .patch = patch, .volume_ml = volume_ml};
    clock_now += 60;
    if (!check_true(hw_steps_advise(&request, NULL, clock_now, &day, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    return day;
}

static void begin(void)
{
    make_clean();
    start("Hall bench");
    photograph_all(repair_colour);
}

// Two repairs want toner of nearly the same kind: one jar. The third is the old wood's own colour.
static void test_sheet(void)
{
    begin();
    hw_day day = ask(NULL, 0);
    check_true(day.count == 3 && day.for_all && day.sheet.step_count == 2);
    check_true(day.jar_count == 1 && day.jar[0].patches == 2 && day.jar[0].number == 0);
    check_true(day.advice[0].has_next && day.advice[1].has_next && !day.advice[2].has_next);
    check_true(hw_liquid_is_same(&day.advice[0].next.liquid, &day.advice[1].next.liquid));
    check_true(day.jar[0].passes == day.advice[0].next.passes + day.advice[1].next.passes);
    // What is logged is what was shown.
    hw_job *job = NULL;
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    const hw_event *first = hw_job_event(job, hw_job_event_count(job) - 3);
    check_true(first->kind == HW_EVENT_PLAN_SHOWN && first->of.plan.has_next &&
               hw_liquid_is_same(&first->of.plan.next.liquid, &day.advice[0].next.liquid) &&
               first->of.plan.dye_count == day.advice[0].next.liquid.count);
    hw_job_free(job);
    // Nothing was said yet: no amounts but an example, no time, no coats.
    check_true(isnan(day.part[0].area_cm2) && isnan(day.part[0].minutes) &&
               !day.part[0].coats_come && isnan(day.jar[0].need_ml));
    check_true(day.unsaid.areas && day.unsaid.coats && day.unsaid.recoat);
    check_true(day.jar[0].can_mix && !day.jar[0].as_wanted && day.jar[0].mix.volume_ml == 100.0);
    hw_day_free(&day);
    // For one repair: its own advice, no sheet.
    day = ask("upper", 0);
    check_true(day.count == 1 && !day.for_all && day.jar_count == 1 && !day.advice[0].by_sheet);
    hw_day_free(&day);
}

static void test_amounts(void)
{
    begin();
    say((hw_setting_event){.card_mm = {80, 80}, .recoat_minutes = 40, .ml_m2 = 100});
    hw_day day = ask(NULL, 0);
    int passes[2] = {day.advice[0].next.passes, day.advice[1].next.passes};
    check_close(day.part[0].area_cm2, 120.0, 1e-6); // 60 x 200 mm
    check_true(day.part[0].area_from_card);
    check_close(day.part[0].need.pass_ml, 1.2, 1e-9); // of 100 ml a square metre
    check_close(day.part[0].minutes, 40.0 * passes[0], 1e-9);
    check_close(day.jar[0].need_ml, 1.2 * (passes[0] + passes[1]), 1e-9);
    check_true(day.jar[0].as_wanted && day.jar[0].mix.volume_ml >= day.jar[0].need_ml);
    check_true(!day.unsaid.areas && !day.unsaid.recoat && day.unsaid.coats);
    hw_day_free(&day);
    hw_part_area area = {"upper", 300.0}; // said: before the card
    say((hw_setting_event){.areas = &area, .area_count = 1});
    day = ask("upper", 236.0);
    check_close(day.part[0].area_cm2, 300.0, 1e-9);
    check_true(!day.part[0].area_from_card);
    check_close(day.jar[0].mix.volume_ml, 236.0, 1e-9);
    hw_day_free(&day);
}

static size_t events_logged(void)
{
    hw_job *job = NULL;
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    size_t count = hw_job_event_count(job);
    hw_job_free(job);
    return count;
}

// The same advice asked for again is not logged again; after anything else it is.
static void test_logged_once(void)
{
    begin();
    for (int i = 0; i < 2; i++) { // the first one shows the cautions in full
        hw_day day = ask(NULL, 0);
        hw_day_free(&day);
    }
    size_t before = events_logged();
    hw_day day = ask(NULL, 0);
    hw_day_free(&day);
    check_true(events_logged() == before);
    say((hw_setting_event){.recoat_minutes = 20});
    day = ask(NULL, 0);
    hw_day_free(&day);
    check_true(events_logged() == before + 1 + 3);
}

// A jar that stands mixed is laid, as long as it serves; what was laid out of it is gone.
static void test_standing_jar(void)
{
    begin();
    hw_day day = ask(NULL, 0);
    hw_event event = {.kind = HW_EVENT_JAR_MIXED,
                      .of.jar = {.liquid = day.jar[0].liquid, .volume_ml = 50.0}};
    hw_log_request request = {.folder = path_job, .event = &event};
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    check_true(hw_steps_log(&request, NULL, clock_now, &job, &warnings, NULL) == HW_OK);
    hw_job_free(job);
    hw_day_free(&day);
    say((hw_setting_event){.card_mm = {80, 80}, .ml_m2 = 100});
    day = ask(NULL, 0);
    check_true(day.jar_count == 1 && day.jar[0].number == 1 && day.advice[0].next_jar == 1);
    check_close(day.jar[0].left_ml, 50.0, 1e-9);
    check_true(!day.jar[0].can_mix); // it holds enough
    hw_day_free(&day);
    say((hw_setting_event){.ml_m2 = 1000});
    hw_part_area area = {"upper", 9000.0};
    say((hw_setting_event){.areas = &area, .area_count = 1});
    day = ask(NULL, 0);
    check_true(day.jar[0].number == 1 && day.jar[0].left_ml < day.jar[0].need_ml);
    check_true(day.jar[0].can_mix && day.jar[0].as_wanted); // too little: mix more
    hw_day_free(&day);
}

// Coats over all leave the aim where it is; coats on the repairs alone hold them light, so a repair that matches now
// is past its aim.
static void test_coats(void)
{
    begin();
    say((hw_setting_event){.coats_over = HW_COATS_ALL, .coats = 2});
    hw_day all = ask(NULL, 0);
    check_true(all.part[0].coats_come && all.part[0].ahead.guess && !all.part[0].held);
    check_true(all.part[0].ahead.patch_lab.L < 56.0 && all.part[0].ahead.target_lab.L < 50.2);
    check_close(all.advice[0].aim.L, 50.2, 0.3);
    say((hw_setting_event){.coats_over = HW_COATS_REPAIRS, .coats = 2});
    hw_day alone = ask(NULL, 0);
    check_true(alone.part[0].held && alone.part[0].ahead.target.to_come == 0);
    // METHODS of the hold: 1 to 2 L* lighter than the old wood, until a coat was seen (common practice, no source).
    check_true(alone.advice[0].aim.L > 51.0 && alone.advice[0].aim.L < 52.5);
    check_true(!alone.advice[2].has_next);
    check_holds(alone.advice[0].why, "before the coats to come");
    hw_day_free(&all);
    hw_day_free(&alone);
}

// The last step asks for a second lamp; hours and liquid spent are told.
static void test_spent(void)
{
    begin();
    say((hw_setting_event){.card_mm = {80, 80}, .ml_m2 = 100});
    char patches[1][HW_NAME_SIZE] = {"upper"};
    hw_job *job = NULL;
    hw_warnings warnings = {0};
    hw_pass_request laid = {.folder = path_job,
                            .pass = {.patches = patches,
                                     .patch_count = 1,
                                     .liquid = {.dose = {{"brown", 0.5}}, .count = 1},
                                     .passes = 2,
                                     .hours = 0.5,
                                     .minutes = 60}};
    check_true(hw_steps_pass(&laid, NULL, clock_now, &job, &warnings, NULL) == HW_OK);
    hw_job_free(job);
    hw_day day = ask("upper", 0);
    check_true(day.advice[0].stop_reason == HW_STOP_ASK_FIRST); // photograph it first
    check_close(day.part[0].hours, 0.5, 0);
    check_close(day.part[0].laid_ml, 2.4, 1e-9);
    check_true(day.jar_count == 0 && !day.unsaid.coats);
    hw_day_free(&day);
    const hw_lab near[3] = {{51.6, 11.4, 25.0}, {54.0, 10.6, 25.2}, {50.3, 12.0, 25.1}};
    photograph_all(near);
    day = ask("upper", 0);
    check_true(!day.part[0].last_step || strstr(day.part[0].lamp, "under another lamp"));
    check_true(!day.part[0].lamp_seen);
    hw_day_free(&day);
}

// Too little to measure is no reason to give no advice: more is mixed, or no mix is told. Only who asked for a volume is
// refused, there and for a jar.
static void test_too_little(void)
{
    begin();
    hw_error err = {0};
    hw_dye red = {.name = "red", .tool = HW_TOOL_PAD};
    hw_shelf shelf = {.dye = &red, .count = 1};
    hw_advice advice = {.has_next = true, .next = {{{{"red", 1.5}}, 1}, 1}};
    hw_day_part part = {.area_cm2 = 1.0};
    hw_job *job = NULL;
    check_true(hw_parse_made("5 drops in 4 fl oz", &red.made, NULL) == HW_OK);
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    // 15 ml would do (10 stay in the pad); 1.5 x 0.2113 % of that is 0.95 of a drop, of 50 ml 3.2 drops.
    hw_day day = {.advice = &advice, .part = &part, .count = 1};
    check_true(hw_steps_fill_jars(job, &shelf, 0.0, &day, &err) == HW_OK && day.jar_count == 1);
    check_true(day.jar[0].can_mix && day.jar[0].as_wanted);
    check_close(day.jar[0].mix.volume_ml, 50.0, 1e-9);
    hw_free(day.jar);
    // More than can be mixed at once, and what cannot be measured in any volume.
    const double area[2] = {1e8, 1.0}, share[2] = {0.01, 1e-7};
    for (int i = 0; i < 2; i++) {
        part.area_cm2 = area[i];
        red.made.share = share[i];
        day = (hw_day){.advice = &advice, .part = &part, .count = 1};
        check_true(hw_steps_fill_jars(job, &shelf, 0.0, &day, &err) == HW_OK);
        check_true(day.jar_count == 1 && !day.jar[0].can_mix);
        hw_free(day.jar);
    }
    hw_job_free(job);
    // A quarter of 0.1 ml is half a drop.
    hw_advise_request asked = {.folder = path_job, .volume_ml = 0.05};
    check_true(hw_steps_advise(&asked, NULL, clock_now, &day, &err) == HW_ERR_CALL);
    check_text(err.code, "mix-small");
    hw_event event = {.kind = HW_EVENT_JAR_MIXED,
                      .of.jar = {.liquid = {{{"red", 0.25}}, 1}, .volume_ml = 0.1}};
    hw_log_request request = {.folder = path_job, .event = &event};
    hw_warnings warnings = {0};
    err = (hw_error){0};
    check_true(hw_steps_log(&request, NULL, clock_now, &job, &warnings, &err) == HW_ERR_CALL);
    check_text(err.code, "mix-small");
}

int main(void)
{
    name_places("steps-day");
    test_sheet();
    test_amounts();
    test_logged_once();
    test_standing_jar();
    test_coats();
    test_spent();
    test_too_little();
    return check_done();
}
