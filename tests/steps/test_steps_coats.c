// Coats to come over whole jobs, on small pictures whose colours are known: a guess until a coat was photographed before and
// after, then what that coat did. The coats here are layers of a known density (tone_layer.c, held to worked colours in
// test_tone_worked.c).
#include "saved_picture.h"
#include "shop.h"
#include "base_internal.h"
#include "steps_internal.h"

#include <unistd.h>

static char folder[512], path_job[560], path_photo[560];
static int64_t clock_now = 1790000000;
static const double coat_density[3] = {0.03, 0.05, 0.12};
static const hw_lab repair = {54.0, 11.0, 24.0};

static void run(const char *format)
{
    char command[1200];
    snprintf(command, sizeof command, format, folder, folder);
    check_true(system(command) == 0);
}

static hw_job *open_job(void)
{
    hw_job *job = NULL;
    check_true(hw_job_open(path_job, NULL, &job, NULL) == HW_OK);
    return job;
}

static hw_lab under(hw_lab wood, int coats)
{
    double density[3];
    for (int band = 0; band < 3; band++) {
        density[band] = coats * coat_density[band];
    }
    return hw_tone_under(wood, density);
}

static void photograph(int on_repair, int on_old)
{
    picture made = shop_picture();
    picture_fill(&made, 270, 20, 100, 200, under(repair, on_repair));
    picture_fill(&made, 140, 20, 100, 200, under(shop_old, on_old));
    save_picture(&made, path_photo);
    hw_part_state said = {.part = "new", .state = HW_STATE_FINISHED};
    hw_photo_request request = {.folder = path_job,
                                .read = {.photo_path = path_photo, .marks = shop_marks()},
                                .lamp = "bench",
                                .states = &said,
                                .state_count = 1};
    hw_photo_result result = {0};
    clock_now += 600;
    check_true(hw_steps_photo(&request, NULL, clock_now, &result, NULL) == HW_OK);
    hw_marks_free(&request.read.marks);
    hw_photo_result_free(&result);
}

static void coat(bool all)
{
    hw_job *job = open_job();
    char parts[1][HW_NAME_SIZE] = {"new"};
    hw_coat_event event = {.coat = HW_COAT_CLEAR, .parts = parts, .part_count = !all};
    long number = 0;
    check_true(hw_job_add_coat(job, &event, clock_now++, &number, NULL) == HW_OK);
    hw_job_free(job);
}

static void say_coats(hw_coats_over over, int coats)
{
    const double unsaid = (double)NAN;
    hw_job *job = open_job();
    hw_setting_event setting = {.coats_over = over,
                                .coats = coats,
                                .recoat_minutes = unsaid,
                                .card_mm = {unsaid, unsaid},
                                .ml_m2 = unsaid};
    long number = 0;
    check_true(hw_job_add_setting(job, &setting, clock_now++, &number, NULL) == HW_OK);
    hw_job_free(job);
}

// Of the last photo.
static hw_steps_coats coats_now(hw_comparison *as_read)
{
    hw_job *job = open_job();
    hw_limits limits = hw_steps_limits(NULL);
    hw_steps_coats coats = {0};
    hw_reading reading = {0};
    const hw_event *photo = hw_job_last_photo_of_patch(job, "new");
    check_true(photo && hw_steps_read_kept(job, photo, &photo->of.photo.marks, &limits, &reading,
                                           NULL) == HW_OK);
    *as_read = *hw_comparison_beside(&reading.comparisons, "new");
    check_true(hw_steps_coats_of(job, photo, as_read, &coats, NULL) == HW_OK);
    hw_reading_free(&reading);
    hw_job_free(job);
    return coats;
}

static void new_job(void)
{
    run("rm -rf '%s' && mkdir -p '%s'");
    check_true(hw_steps_start(path_job, "coats", clock_now, NULL) == HW_OK);
    photograph(0, 0);
}

static void test_repair_alone(void)
{
    hw_comparison read;
    new_job();
    hw_steps_coats coats = coats_now(&read);
    check_true(!coats.to_come && !coats.aimed && !coats.gap.before_coats);
    check_close(coats.gap.gap.de00, read.gap.de00, 0);
    say_coats(HW_COATS_REPAIRS, 3);
    coats = coats_now(&read);
    check_true(coats.to_come && coats.aimed && coats.ahead.guess && coats.seen == 0);
    check_close(coats.gap.target_lab.L - read.target_lab.L, 2.0,
                0.05); // by the guess 1.9, at most 2
    check_close(coats.gap.target_lab.b, read.target_lab.b, 1e-9);
    check_true(coats.ahead.patch.so_far == 3 && coats.ahead.patch.to_come == 3);
    check_holds(coats.assumed, "new is said to be finished");
    coat(false);
    photograph(1, 0);
    coats = coats_now(&read);
    check_true(coats.aimed && !coats.ahead.guess && coats.seen == 1);
    check_true(coats.ahead.patch.so_far == 4 && coats.ahead.patch.to_come == 2);
    hw_lab truth = under(repair, 3);
    check_true(truth.L > coats.ahead.patch_low.L && truth.L < coats.ahead.patch_high.L);
    check_true(truth.a > coats.ahead.patch_low.a && truth.a < coats.ahead.patch_high.a);
    check_true(truth.b > coats.ahead.patch_low.b && truth.b < coats.ahead.patch_high.b);
    double gap = hw_ciede2000(shop_old, truth);
    check_true(gap > coats.ahead.de00_low && gap < coats.ahead.de00_high);
    // All three bands by now: two coats on the aim look like the old wood.
    check_true(coats.gap.target_lab.b < read.target_lab.b - 1.0);
    hw_lab aim = under(shop_old, -2);
    check_close(coats.gap.target_lab.L, aim.L, 0.6);
    check_close(coats.gap.target_lab.b, aim.b, 1.2);
}

static void test_over_all(void)
{
    hw_comparison read;
    new_job();
    say_coats(HW_COATS_ALL, 2);
    hw_steps_coats coats = coats_now(&read);
    check_true(coats.to_come && !coats.aimed && coats.ahead.guess);
    check_close(coats.gap.target_lab.L, read.target_lab.L, 0);
    check_true(coats.gap.verdict == read.verdict);
    check_close(coats.ahead.gap.de00, read.gap.de00, 0.15); // the gap barely moves
    check_true(coats.ahead.patch_lab.L < read.patch_lab.L - 0.8 &&
               coats.ahead.target_lab.L < read.target_lab.L - 0.8);
    coat(true);
    photograph(1, 1);
    coats = coats_now(&read);
    check_true(coats.seen == 2 && coats.ahead.target.to_come == 1 && !coats.aimed);
    coat(true);
    photograph(2, 2);
    coats = coats_now(&read);
    check_true(!coats.to_come);
}

int main(void)
{
    snprintf(folder, sizeof folder, "%s/steps-coats", HW_SCRATCH);
    snprintf(path_job, sizeof path_job, "%s/job", folder);
    snprintf(path_photo, sizeof path_photo, "%s/photo.png", folder);
    setenv("XDG_DATA_HOME", folder, 1); // nobody's own shelf
    test_repair_alone();
    test_over_all();
    return check_done();
}
