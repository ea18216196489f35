// A repair whose old wood is only in another photo of the session: taken with a wider range where lamp, camera and
// card allow it, and refused with the reason where they do not.
#include "base_internal.h"
#include "huewright/report.h"
#include "scratch.h"
#include "saved_picture.h"
#include "shop.h"
#include "steps_internal.h"

static const int64_t noon = 1790000000;
static const hw_lab grey = {49.5, 0, 0};

// The small shop with that card and that repair.
static void write_picture(const char *name, hw_lab card, hw_lab repair)
{
    picture made = shop_picture();
    picture_fill(&made, 20, 20, 80, 80, card);
    picture_fill(&made, 270, 20, 100, 200, repair);
    save_picture(&made, in("%s", name));
}

static void add_mark(hw_marks *marks, hw_role role, const char *name, const char *region)
{
    check_true(hw_marks_add(marks, role, name, region, NULL, NULL) == HW_OK);
}

static hw_marks wood_alone(void)
{
    hw_marks marks = {0};
    add_mark(&marks, HW_ROLE_CARD, "card", "20,20,80,80");
    add_mark(&marks, HW_ROLE_TARGET, "old", "140,20,100,200");
    return marks;
}

// `beside`: what it names; NULL: nothing.
static hw_marks repair_alone(const char *beside)
{
    hw_marks marks = {0};
    add_mark(&marks, HW_ROLE_CARD, "card", "20,20,80,80");
    add_mark(&marks, HW_ROLE_PATCH, "new", "270,20,100,200");
    if (beside) {
        marks.mark[1].beside = hw_alloc_array(1, sizeof *marks.mark[1].beside);
        snprintf(marks.mark[1].beside[0], HW_NAME_SIZE, "%s", beside);
        marks.mark[1].beside_count = 1;
    }
    return marks;
}

static char folder[40];

static void new_job(void)
{
    static int number;
    snprintf(folder, sizeof folder, "job %d", ++number);
    check_true(hw_steps_start(in("%s", folder), "Drawer", noon, NULL) == HW_OK);
}

// Frees the marks.
static hw_status add(const char *name, hw_marks marks, const char *lamp, int64_t at,
                     hw_photo_result *out, hw_error *err)
{
    hw_photo_request request = {.folder = in("%s", folder),
                                .lamp = lamp,
                                .read = {.photo_path = in("%s", name), .marks = marks}};
    *err = (hw_error){0};
    hw_status status = hw_steps_photo(&request, NULL, at, out, err);
    hw_marks_free(&marks);
    return status;
}

static long add_good(const char *name, hw_marks marks, const char *lamp, int64_t at)
{
    hw_photo_result result = {0};
    hw_error err;
    if (!check_true(add(name, marks, lamp, at, &result, &err) == HW_OK)) {
        printf("%s: %s (%s)\n", err.code, err.what, err.next);
    }
    long number = result.number;
    hw_photo_result_free(&result);
    return number;
}

static void refused(const char *name, hw_marks marks, const char *lamp, int64_t at, const char *why)
{
    hw_photo_result result = {0};
    hw_error err;
    check_true(add(name, marks, lamp, at, &result, &err) == HW_ERR_CALL);
    check_text(err.code, "target-missing");
    check_holds(err.what, why);
    check_holds(err.next, "Prop it beside its old wood");
    check_true(result.number == 0 && !result.reading.samples);
}

static hw_job *opened(void)
{
    hw_job *job = NULL;
    check_true(hw_steps_history(in("%s", folder), NULL, &job, NULL) == HW_OK);
    return job;
}

// ---- Without a job -----------------------------------------------------------------

static void test_read_alone(void)
{
    hw_reading reading = {0};
    hw_error err = {0};
    hw_read_request request = {.photo_path = in("day.png"), .marks = repair_alone(NULL)};
    check_true(hw_steps_read(&request, NULL, &reading, &err) == HW_ERR_CALL);
    check_text(err.code, "target-missing");
    hw_marks_free(&request.marks);
    err = (hw_error){0};
    request.marks = repair_alone("old");
    check_true(hw_steps_read(&request, NULL, &reading, &err) == HW_ERR_CALL);
    check_text(err.code, "mark-beside");
    hw_marks_free(&request.marks);
}

// ---- In a job ----------------------------------------------------------------------

static double range_of(const hw_comparison *gap)
{
    return gap->high.L - gap->low.L;
}

static void check_log(long wood, long repair, double L)
{
    hw_job *job = opened();
    const hw_event *photo = hw_job_event_numbered(job, repair);
    const hw_event *logged = hw_job_reading_of(job, repair);
    const hw_logged_gap *gap = hw_reading_gap(&logged->of.reading, "new");
    check_true(gap && gap->elsewhere == wood);
    check_close(gap->doubt[HW_DOUBT_PHOTOS] > 0.5, 1, 0);
    check_true(hw_reading_gap(&logged->of.reading, "new")->spread_count == 1);
    const hw_marks *marks = hw_steps_wood_marks(job, photo, "new");
    check_true(marks == &hw_job_photo_event(job, wood)->marks);
    // Read again from what was kept, at its place in the log, it says the same.
    hw_reading again = {0};
    hw_error err = {0};
    if (check_true(hw_steps_read_kept(job, photo, &photo->of.photo.marks, NULL, &again, &err) ==
                   HW_OK)) {
        const hw_comparison *beside = hw_comparison_beside(&again.comparisons, "new");
        check_true(beside->elsewhere == wood);
        check_close(beside->gap.L, L, 1e-3);
        hw_reading_free(&again);
    }
    hw_job_free(job);
}

static void check_advice(const char *why, bool has_next)
{
    hw_advise_request request = {.folder = in("%s", folder)};
    hw_day result = {0};
    hw_error err = {0};
    if (check_true(hw_steps_advise(&request, NULL, noon + 5000, &result, &err) == HW_OK)) {
        check_true(result.count == 1 && result.advice[0].has_next == has_next);
        check_holds(result.advice[0].why, why);
    } else {
        printf("%s: %s\n", err.code, err.what);
    }
    hw_day_free(&result);
}

static void coat_on(const char *part, int64_t at)
{
    char parts[1][HW_NAME_SIZE];
    snprintf(parts[0], HW_NAME_SIZE, "%s", part);
    hw_event event = {.kind = HW_EVENT_COAT_LAID,
                      .of.coat = {.coat = HW_COAT_CLEAR, .parts = parts, .part_count = 1}};
    hw_log_request request = {.folder = in("%s", folder), .event = &event};
    hw_warnings warnings = {0};
    hw_job *job = NULL;
    check_true(hw_steps_log(&request, NULL, at, &job, &warnings, NULL) == HW_OK);
    hw_job_free(job);
}

static void test_in_a_job(void)
{
    hw_photo_result side_by_side = {0}, apart = {0};
    hw_error err;
    char *json = NULL;
    new_job();
    check_true(add("day.png", shop_marks(), "bench", noon, &side_by_side, &err) == HW_OK);
    new_job();
    refused("other.png", repair_alone(NULL), "bench", noon,
            "no earlier photo of the job shows old");
    long wood = add_good("day.png", wood_alone(), "Bench", noon);
    check_true(add("other.png", repair_alone("old"), "bench", noon + 3600, &apart, &err) == HW_OK);
    const hw_comparison *gap = hw_comparison_beside(&apart.reading.comparisons, "new");
    const hw_comparison *together = hw_comparison_beside(&side_by_side.reading.comparisons, "new");
    if (check_true(gap && together)) {
        check_true(gap->elsewhere == wood && together->elsewhere == 0);
        check_close(gap->gap.L, 6.0, 0.3); // painted 56, 9.5, 26 beside 50, 12, 25
        check_close(gap->gap.a, -2.5, 0.3);
        check_true(range_of(gap) > range_of(together) + 1.0);
        check_true(gap->doubt[HW_DOUBT_PHOTOS] > 0.5 && together->doubt[HW_DOUBT_PHOTOS] == 0);
        check_true(gap->covariance.m[0][0] > 1.0 && !gap->ground.known);
        check_true(apart.reading.comparisons.count == 2 &&
                   apart.reading.comparisons.seam_count == 0);
        check_text(apart.reading.comparisons.item[0].target, "old");
        check_true(apart.reading.comparisons.item[0].elsewhere == wood);
        bool said = false;
        for (size_t i = 0; i < apart.reading.warnings.count; i++) {
            said = said || strstr(apart.reading.warnings.text[i], "Prop the two side by side");
        }
        check_true(said);
    }
    if (check_true(hw_report_reading_json(&apart.reading, &json, &err) == HW_OK)) {
        char member[40];
        snprintf(member, sizeof member, "\"elsewhere\":\t%ld,", wood);
        check_holds(json, member);
        check_holds(json, "\"other_photo\":");
        hw_report_free(json);
    }
    check_log(wood, apart.number, gap ? gap->gap.L : 0);
    check_advice("", true);
    coat_on("old", noon + 4000); // what it was read beside is no more
    check_advice("a clear coat was laid on old since the last photo", false);
    refused("day.png", repair_alone("old"), "bench", noon + 4500,
            "something was laid on old or taken off it since photo");
    hw_photo_result_free(&apart);
    hw_photo_result_free(&side_by_side);
}

static void test_refusals(void)
{
    new_job();
    add_good("day.png", wood_alone(), "bench", noon);
    refused("other.png", repair_alone(NULL), "window", noon, "under another lamp");
    refused("other.png", repair_alone(NULL), NULL, noon, "one of them does not say its lamp");
    refused("other.png", repair_alone(NULL), "bench", noon + 4 * 3600 + 1, "over 4 hours apart");
    refused("other.png", repair_alone("rail"), "bench", noon, "shows all that it shall match");
    refused("cold.png", repair_alone(NULL), "bench", noon, "the card's colour moved by 0.0");
    hw_photo_result result = {0};
    hw_error err;
    // A name of old wood that is missing beside some that is here is still a slip.
    hw_marks marks = shop_marks();
    marks.mark[2].beside = hw_alloc_array(2, sizeof *marks.mark[2].beside);
    snprintf(marks.mark[2].beside[0], HW_NAME_SIZE, "old");
    snprintf(marks.mark[2].beside[1], HW_NAME_SIZE, "rail");
    marks.mark[2].beside_count = 2;
    check_true(add("other.png", marks, "bench", noon, &result, &err) == HW_ERR_CALL);
    check_text(err.code, "mark-beside");
    add_good("other.png", repair_alone(NULL), "bench", noon + 4 * 3600);
    // Lamps that nobody named.
    new_job();
    add_good("day.png", wood_alone(), NULL, noon);
    add_good("other.png", repair_alone(NULL), NULL, noon + 60);
}

// Of two pieces that it names the log holds the reading of one: half of what it shall match is none of it.
static void test_named_without_reading(void)
{
    for (int read = 1; read <= 2; read++) {
        new_job();
        hw_job *job = opened();
        hw_photo_event photo = {.original = "x.png", .view = "front", .marks = wood_alone()};
        hw_marks marks = repair_alone("old");
        hw_earlier known = {.patch = "new"};
        hw_earlier_list list = {&known, 1};
        long number = 0, reading = 0;
        char json[400];
        hw_free(marks.mark[1].beside);
        marks.mark[1].beside = hw_alloc_array(2, sizeof *marks.mark[1].beside);
        marks.mark[1].beside_count = 2;
        snprintf(marks.mark[1].beside[0], HW_NAME_SIZE, "old");
        snprintf(marks.mark[1].beside[1], HW_NAME_SIZE, "rail");
        add_mark(&photo.marks, HW_ROLE_TARGET, "rail", "250,20,100,200");
        snprintf(photo.lamp, sizeof photo.lamp, "bench");
        snprintf(photo.stored, sizeof photo.stored, "photos/x.png");
        const char *const rail = ",{\"name\":\"rail\",\"role\":\"target\",\"lab\":[51,12,25],"
                                 "\"standard_error\":[0.1,0.1,0.1]}";
        snprintf(json, sizeof json,
                 "{\"samples\":[{\"name\":\"old\",\"role\":\"target\",\"lab\":[50,12,25],"
                 "\"standard_error\":[0.1,0.1,0.1]}%s],\"comparisons\":[]}",
                 read == 2 ? rail : "");
        check_true(hw_job_add_photo(job, &photo, noon, &number, NULL) == HW_OK &&
                   hw_job_add_reading(job, number, json, noon, &reading, NULL) == HW_OK);
        hw_steps_find_elsewhere(job, 0, "bench", HW_FROM_UNSAID, noon + 60, &marks, &list);
        check_true(known.elsewhere.photo == (read == 2 ? number : 0) &&
                   known.elsewhere.count == (read == 2 ? 2 : 0));
        check_holds(known.elsewhere.why_not, read == 2 ? "" : "the log holds no reading of rail");
        hw_marks_free(&marks);
        hw_marks_free(&photo.marks);
        hw_job_free(job);
    }
}

// States of a part that is in this photo beside one that is not.
static void test_bare_beside_finished(void)
{
    const hw_part_state finished = {"old", HW_STATE_FINISHED}, bare = {"new", HW_STATE_BARE};
    hw_photo_request request = {.states = &finished, .state_count = 1};
    new_job();
    request.folder = in("%s", folder);
    for (int i = 0; i < 2; i++) {
        hw_photo_result result = {0};
        request.read.photo_path = in(i ? "other.png" : "day.png");
        request.read.marks = i ? repair_alone("old") : wood_alone();
        request.states = i ? &bare : &finished;
        check_true(hw_steps_photo(&request, NULL, noon + i, &result, NULL) == HW_OK);
        hw_photo_result_free(&result);
        hw_marks_free(&request.read.marks);
    }
    check_advice("It is bare and dry beside old, which is finished", false);
}

static void test_camera_and_card(void)
{
    hw_earlier one = {.patch = "new",
                      .elsewhere = {.wanted = true,
                                    .photo = 2,
                                    .count = 1,
                                    .camera = "One",
                                    .has_card_seen = true,
                                    .card_seen = {49.5, 0, 0}}};
    hw_reading reading = {.photo = {.camera = "One"}};
    reading.light.card_seen = hw_xyz_from_lab(grey, hw_white_d50);
    hw_earlier known = one;
    hw_earlier_list list = {&known, 1};
    hw_steps_test_elsewhere(&reading, &list);
    check_true(known.elsewhere.photo == 2 && known.elsewhere.count == 1);
    snprintf(reading.photo.camera, sizeof reading.photo.camera, "Two");
    hw_steps_test_elsewhere(&reading, &list);
    check_true(known.elsewhere.photo == 0 && known.elsewhere.count == 0);
    check_holds(known.elsewhere.why_not, "with another camera (One)");
    known = one;
    reading.photo.camera[0] = 0; // not said
    hw_steps_test_elsewhere(&reading, &list);
    check_true(known.elsewhere.photo == 2);
    known.elsewhere.has_card_seen = false;
    hw_steps_test_elsewhere(&reading, &list);
    check_holds(known.elsewhere.why_not, "does not say how the card looked");
    hw_steps_test_elsewhere(&reading, NULL);
}

int main(void)
{
    scratch_start("steps elsewhere");
    check_true(setenv("XDG_DATA_HOME", in("data"), 1) == 0);
    write_picture("day.png", grey, shop_new);
    write_picture("other.png", grey, (hw_lab){56, 9.5, 26});
    write_picture("cold.png", (hw_lab){49.5, 0, -6}, shop_new);
    test_read_alone();
    test_in_a_job();
    test_refusals();
    test_named_without_reading();
    test_bare_beside_finished();
    test_camera_and_card();
    return check_done();
}
