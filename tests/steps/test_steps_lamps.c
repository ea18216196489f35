// What is said beside advice of another lamp, and which photo advice rests on.
#include "base_internal.h"
#include "scratch.h"
#include "saved_picture.h"
#include "shop.h"
#include "steps_internal.h"

static hw_job *job;
static int64_t now = 1790000000;

static void write_picture(const char *name, hw_lab old, hw_lab repair)
{
    picture made = shop_picture();
    picture_fill(&made, 140, 20, 100, 200, old);
    picture_fill(&made, 270, 20, 100, 200, repair);
    save_picture(&made, in("%s", name));
}

// Leaves the job opened.
static void add(const char *name, const char *lamp)
{
    hw_photo_result result = {0};
    hw_error err = {0};
    hw_photo_request request = {.folder = in("job"),
                                .lamp = lamp,
                                .read = {.photo_path = in("%s", name), .marks = shop_marks()}};
    if (!check_true(hw_steps_photo(&request, NULL, now++, &result, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    hw_photo_result_free(&result);
    hw_marks_free(&request.read.marks);
    hw_job_free(job);
    job = NULL;
    check_true(hw_steps_lamps(in("job"), "new", NULL, &job, &err) == HW_OK);
}

static double aim_of_advice(void)
{
    hw_advise_request request = {.folder = in("job")};
    hw_day result = {0};
    double L = 0;
    if (check_true(hw_steps_advise(&request, NULL, now++, &result, NULL) == HW_OK)) {
        L = result.advice[0].aim.L;
    }
    hw_day_free(&result);
    return L;
}

int main(void)
{
    char words[800];
    hw_error err = {0};
    scratch_start("steps lamps");
    check_true(setenv("XDG_DATA_HOME", in("data"), 1) == 0);
    write_picture("day.png", shop_old, shop_new);
    // Under the second lamp all of it reads 2 lighter, and the repair far redder.
    write_picture("warm.png", (hw_lab){52, 12, 25}, (hw_lab){57, 22, 26});
    check_true(hw_steps_start(in("job"), "Lid", now++, &err) == HW_OK);
    check_true(hw_steps_lamps(in("job"), "new", NULL, &job, &err) == HW_ERR_CALL && !job);
    check_text(err.code, "patch-unknown");
    err = (hw_error){0};

    add("day.png", "Shop lamp");
    check_true(!hw_steps_say_lamps(job, "new", words, sizeof words));
    check_holds(words, "before the last pass, photograph it in this state under the lamp");
    double by_day = aim_of_advice();
    add("warm.png", "living room");
    check_true(hw_steps_say_lamps(job, "new", words, sizeof words));
    check_holds(words, "Under living room it parts from the old wood by ");
    check_close(aim_of_advice(), by_day, 1e-9); // by the main lamp's photo
    add("warm.png", "Shop lamp");               // now it is that one's
    check_close(aim_of_advice(), by_day + 2, 0.2);
    check_true(!hw_steps_say_lamps(job, "old", words, sizeof words)); // no repair

    check_true(!hw_steps_say_lamps(job, "new", words, 30) || strlen(words) < 30);
    hw_job *other = NULL;
    check_true(hw_steps_lamps(in("job"), "strap", NULL, &other, &err) == HW_ERR_CALL && !other);
    check_text(err.code, "patch-unknown");
    check_holds(err.next, "new");
    hw_job_free(job);
    return check_done();
}
