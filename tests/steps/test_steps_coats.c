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
    hw_job *job = open_job();
    hw_setting_event setting = {.coats_over = over, .coats = coats};
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
    hw_steps_belief belief = {.learned = false};
    hw_reading reading = {0};
    hw_shelf shelf = {0};
    hw_warnings warnings = {0};
    const hw_event *photo = hw_job_last_photo_of_patch(job, "new");
    check_true(photo && hw_steps_read_kept(job, photo, &photo->of.photo.marks, &limits, &reading,
                                           NULL) == HW_OK);
    *as_read = *hw_comparison_beside(&reading.comparisons, "new");
    check_true(hw_steps_learn(job, NULL, 0, &limits, &shelf, &warnings, NULL) == HW_OK);
    check_true(warnings.count == 0);
    hw_steps_coats_of(job, &shelf, &belief, photo, as_read, &coats);
    hw_shelf_free(&shelf);
    hw_reading_free(&reading);
    hw_job_free(job);
    return coats;
}

static void next_job(const char *name)
{
    snprintf(path_job, sizeof path_job, "%s/%s", folder, name);
    check_true(hw_steps_start(path_job, "coats", clock_now, NULL) == HW_OK);
    photograph(0, 0);
}

static void new_job(void)
{
    run("rm -rf '%s' && mkdir -p '%s'");
    next_job("job");
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
    check_true(coats.to_come && coats.aimed && coats.ahead.guess && coats.ahead.seen == 0);
    check_close(coats.gap.target_lab.L - read.target_lab.L, 2.0,
                0.05); // by the guess 1.9, at most 2
    check_close(coats.gap.target_lab.b, read.target_lab.b, 1e-9);
    check_true(coats.ahead.patch.so_far == 3 && coats.ahead.patch.to_come == 3);
    check_holds(coats.assumed, "new is said to be finished");
    coat(false);
    photograph(1, 0);
    coats = coats_now(&read);
    check_true(coats.aimed && !coats.ahead.guess && coats.ahead.seen == 1);
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
    check_true(coats.ahead.seen == 2 && coats.ahead.target.to_come == 1 && !coats.aimed);
    coat(true);
    photograph(2, 2);
    coats = coats_now(&read);
    check_true(!coats.to_come);
}

// The last event of that kind did not happen.
static void withdraw(hw_event_kind kind)
{
    hw_job *job = open_job(), *mended = NULL;
    hw_fix_request request = {.folder = path_job, .withdraw = true};
    hw_warnings warnings = {0};
    long number = 0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        request.event =
            hw_job_event(job, i)->kind == kind ? hw_job_event(job, i)->number : request.event;
    }
    hw_job_free(job);
    check_true(hw_steps_fix(&request, NULL, clock_now++, &mended, &number, &warnings, NULL) ==
               HW_OK);
    hw_job_free(mended);
}

static size_t coats_on_shelf(void)
{
    hw_shelf shelf = {0};
    char used[700];
    check_true(hw_steps_shelf(NULL, NULL, &shelf, used, sizeof used, NULL) == HW_OK);
    size_t count = shelf.coat_count;
    hw_shelf_free(&shelf);
    return count;
}

// What one job showed is where the next one starts from; a correction takes it out again.
static void test_next_job(void)
{
    hw_comparison read;
    size_t gone = 0;
    new_job();
    say_coats(HW_COATS_REPAIRS, 3);
    hw_steps_coats guess = coats_now(&read);
    coat(false);
    photograph(1, 0);
    check_true(coats_on_shelf() == 1); // by the photo alone
    coat(false);
    photograph(2, 0);
    hw_steps_coats first = coats_now(&read), again = coats_now(&read);
    check_true(first.ahead.seen == 2 && first.ahead.elsewhere == 0 && coats_on_shelf() == 2);
    check_close(again.ahead.patch_lab.b, first.ahead.patch_lab.b, 0);
    char path_first[sizeof path_job];
    memcpy(path_first, path_job, sizeof path_first);

    next_job("next");
    say_coats(HW_COATS_REPAIRS, 3);
    hw_steps_coats next = coats_now(&read);
    check_true(next.ahead.seen == 0 && next.ahead.elsewhere == 2 && coats_on_shelf() == 2);
    // Nearer to the truth than the guess, and less wide; but wider than once a coat lies here too.
    hw_lab truth = under(repair, 3);
    check_true(fabs(next.ahead.patch_lab.b - truth.b) < fabs(guess.ahead.patch_lab.b - truth.b));
    check_true(fabs(next.ahead.patch_lab.L - truth.L) < fabs(guess.ahead.patch_lab.L - truth.L));
    double wide = next.ahead.patch_high.b - next.ahead.patch_low.b;
    check_true(wide < 0.9 * (guess.ahead.patch_high.b - guess.ahead.patch_low.b));
    check_true(truth.b > next.ahead.patch_low.b && truth.b < next.ahead.patch_high.b);
    coat(false);
    photograph(1, 0);
    hw_steps_coats both = coats_now(&read);
    check_true(both.ahead.seen == 1 && both.ahead.elsewhere == 2 && !both.ahead.guess);
    check_true(both.ahead.patch_high.b - both.ahead.patch_low.b < 0.8 * wide);

    // The first job's last photo is withdrawn there: one of its coats is told no more, here neither.
    char path_next[sizeof path_job];
    memcpy(path_next, path_job, sizeof path_next);
    memcpy(path_job, path_first, sizeof path_job);
    withdraw(HW_EVENT_PHOTO_ADDED);
    check_true(coats_on_shelf() == 2);
    withdraw(HW_EVENT_COAT_LAID);
    first = coats_now(&read);
    check_true(first.ahead.seen == 1 && first.ahead.elsewhere == 1);
    memcpy(path_job, path_next, sizeof path_job);
    both = coats_now(&read);
    check_true(both.ahead.seen == 1 && both.ahead.elsewhere == 1);
    // Forgotten: no job brings it back, this one's own neither.
    check_true(hw_steps_shelf_forget_coats(NULL, NULL, &gone, NULL) == HW_OK && gone == 2);
    both = coats_now(&read);
    check_true(both.ahead.seen == 0 && both.ahead.elsewhere == 0 && both.ahead.guess);
}

// Where the shelf cannot be written it counts for this job all the same, and that is said once.
static void test_unwritable(void)
{
    char path_shelf[600];
    hw_warnings warnings = {0};
    hw_limits limits = hw_steps_limits(NULL);
    hw_shelf shelf = {0};
    new_job();
    snprintf(path_shelf, sizeof path_shelf, "%s/huewright", folder);
    check_true(hw_file_replace(path_shelf, (const uint8_t *)"x", 1, NULL) == HW_OK); // no folder
    coat(false);
    photograph(1, 0);
    hw_job *job = open_job();
    check_true(hw_steps_learn(job, NULL, 0, &limits, &shelf, &warnings, NULL) == HW_OK);
    check_true(shelf.coat_count == 1 && warnings.count == 1);
    check_holds(warnings.text[0], "the shelf could not keep it");
    hw_shelf_free(&shelf);
    hw_job_free(job);
}

int main(void)
{
    snprintf(folder, sizeof folder, "%s/steps-coats", HW_SCRATCH);
    snprintf(path_job, sizeof path_job, "%s/job", folder);
    snprintf(path_photo, sizeof path_photo, "%s/photo.png", folder);
    setenv("XDG_DATA_HOME", folder, 1); // nobody's own shelf
    test_repair_alone();
    test_over_all();
    test_next_job();
    test_unwritable();
    return check_done();
}
