// Repeat shots through the steps, with a job: read again they give the same, new marks of the first hold on all that lie
// alike and not on those with marks of their own, another light is said, advice rests on all of them.
#include "one_job.h"
#include "steps_internal.h"

static char path_more[2][600];

static hw_photo_result photograph_three(double L1, double L2, double L3, double cast)
{
    hw_error err = {0};
    hw_photo_result result = {0};
    const char *more[2] = {path_more[0], path_more[1]};
    hw_photo_request request = {.folder = path_job,
                                .read = {.photo_path = path_photo,
                                         .more_paths = more,
                                         .more_count = 2,
                                         .marks = shop_marks()},
                                .lamp = "bench"};
    write_shot(path_photo, L1, 1.0);
    write_shot(path_more[0], L2, 1.0);
    write_shot(path_more[1], L3, cast);
    clock_now += 600;
    if (!check_true(hw_steps_photo(&request, NULL, clock_now, &result, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    hw_marks_free(&request.read.marks);
    return result;
}

static const hw_comparison *gap_of(const hw_reading *reading)
{
    return hw_comparison_beside(&reading->comparisons, "new");
}

// From the kept originals, to the last bit.
static void test_read_again(void)
{
    make_clean();
    start("Bench");
    hw_photo_result first = photograph_three(55.0, 55.4, 58.5, 1.0);
    hw_job *job = NULL;
    hw_reading again = {0};
    hw_error err = {0};
    check_true(hw_job_open(path_job, NULL, &job, &err) == HW_OK);
    const hw_event *event = hw_job_event_numbered(job, first.number);
    check_true(event && event->of.photo.more_count == 2);
    check_true(first.reading.shots.used == 2 && !first.reading.shots.shot[2].used);
    check_true(told(&first.reading.warnings, "Shot 3 (more-2.png) reads"));
    hw_limits limits = hw_limits_default();
    check_true(hw_steps_read_kept(job, event, &event->of.photo.marks, &limits, &again, &err) ==
               HW_OK);
    const hw_comparison *was = gap_of(&first.reading), *is = gap_of(&again);
    check_true(is && is->de00_high == was->de00_high && is->gap.de00 == was->gap.de00 &&
               is->shots == 2 && is->shot_scatter == was->shot_scatter &&
               is->verdict == was->verdict);
    hw_reading_free(&again);
    hw_photo_result_free(&first);
    hw_job_free(job);
}

static void test_new_marks(void)
{
    make_clean();
    start("Bench");
    hw_photo_result first = photograph_three(55.0, 55.2, 55.1, 1.0);
    hw_job *job = NULL;
    hw_error err = {0};
    hw_warnings warnings = {0};
    long number = 0;
    hw_fix_request fix = {.folder = path_job, .event = first.number};
    bool good =
        hw_marks_add(&fix.marks, HW_ROLE_CARD, "card", "20,20,80,80", NULL, NULL) == HW_OK &&
        hw_marks_add(&fix.marks, HW_ROLE_TARGET, "old", "145,25,90,190", NULL, NULL) == HW_OK &&
        hw_marks_add(&fix.marks, HW_ROLE_PATCH, "lid strip", "275,25,90,190", NULL, NULL) == HW_OK;
    check_true(good &&
               hw_steps_fix(&fix, NULL, clock_now + 1, &job, &number, &warnings, &err) == HW_OK);
    const hw_photo_event *photo = job ? hw_job_photo_event(job, first.number) : NULL;
    if (check_true(photo && photo->more_count == 2)) {
        check_true(photo->more[0].marks.count == 0 && photo->more[1].marks.count == 0);
        check_true(hw_marks_find(&photo->marks, HW_ROLE_PATCH, "lid strip") != NULL);
        const hw_event *reading = hw_job_reading_of(job, first.number);
        check_true(reading && hw_reading_gap(&reading->of.reading, "lid strip"));
    }
    hw_job_free(job);
    hw_marks_free(&fix.marks);
    hw_photo_result_free(&first);
}

// Red light by 15 % more: u'v' of the card moves by more than 0.005.
static void test_other_light(void)
{
    make_clean();
    start("Bench");
    hw_photo_result same = photograph_three(55.0, 55.2, 55.1, 1.0);
    check_true(!told(&same.reading.warnings, "another lamp or white balance"));
    hw_photo_result_free(&same);
    hw_photo_result other = photograph_three(55.05, 55.25, 55.15, 1.15);
    check_true(told(&other.reading.warnings, "Shot 3: the card's colour differs by"));
    check_true(told(&other.reading.warnings, "another lamp or white balance"));
    check_true(other.reading.shots.used == 3);
    hw_photo_result_free(&other);
}

static void test_advice(void)
{
    make_clean();
    start("Bench");
    hw_photo_result first = photograph_three(55.0, 55.2, 58.5, 1.0);
    hw_advise_request request = {.folder = path_job};
    hw_day day = {0};
    hw_error err = {0};
    check_true(hw_steps_advise(&request, NULL, clock_now + 60, &day, &err) == HW_OK);
    check_true(day.count == 1 && day.advice[0].has_next);
    check_true(told(&day.warnings, "off the others: left out"));
    hw_day_free(&day);
    hw_photo_result_free(&first);
}

int main(void)
{
    name_places("steps_shots");
    for (int i = 0; i < 2; i++) {
        snprintf(path_more[i], sizeof path_more[i], "%s/more-%d.png", folder, i + 1);
    }
    test_read_again();
    test_new_marks();
    test_other_light();
    test_advice();
    return check_done();
}
