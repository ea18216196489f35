// Photos from the left and from the right in a job: which make a pair, what advice rests on, that no pass is read across
// two sides; and repeat shots in the log: there and back, renamed, the same file known again. Labels and lines are made
// by hand; the rules are our own (chosen).
#include "open_job.h"

typedef struct shot {
    hw_from from;
    const char *lamp;
    double lightness;     // of the patch; its old wood is L* 50
    const char *again[2]; // files of repeat shots
} shot;

static void fill_marks(hw_marks *marks)
{
    check_true(hw_marks_add(marks, HW_ROLE_PATCH, "strip", "10,10,50,50", NULL, NULL) == HW_OK &&
               hw_marks_add(marks, HW_ROLE_TARGET, "rail", "80,10,50,50", NULL, NULL) == HW_OK);
}

static void reading_text(double L, hw_text *text)
{
    hw_text_add(text,
                "{\"photo\":{\"camera\":\"One\"},\"light\":{\"card_seen\":[49.5,0,0]},\"samples\":["
                "{\"name\":\"strip\",\"role\":\"patch\",\"lab\":[%.3f,12,25],\"standard_error\":"
                "[0.1,0.1,0.1]},{\"name\":\"rail\",\"role\":\"target\",\"lab\":[50,12,25],"
                "\"standard_error\":[0.1,0.1,0.1]}],",
                L);
    hw_text_add(text,
                "\"comparisons\":[{\"patch\":\"strip\",\"target\":\"beside\",\"de00\":%.3f,"
                "\"de00_low\":%.3f,\"de00_high\":%.3f,\"verdict\":\"tone\",\"why\":\"\",",
                fabs(L - 50.0), fmax(fabs(L - 50.0) - 1.0, 0.0), fabs(L - 50.0) + 1.0);
    hw_text_add(
        text,
        "\"delta\":{\"L\":%.3f,\"a\":0,\"b\":0},\"delta_low\":{\"L\":%.3f,\"a\":-1,\"b\":-1},"
        "\"delta_high\":{\"L\":%.3f,\"a\":1,\"b\":1}}]}",
        L - 50.0, L - 51.0, L - 49.0);
}

static long add(const shot *one)
{
    static int number;
    hw_text text = {0};
    long photo = 0, reading = 0;
    hw_more_photo more[2] = {{.original = "b.jpg"}, {.original = "c.jpg", .own_marks = true}};
    hw_photo_event event = {.original = "a.jpg", .view = "front", .from = one->from, .more = more};
    snprintf(event.stored, sizeof event.stored, "photos/%d.jpg", ++number);
    snprintf(event.lamp, sizeof event.lamp, "%s", one->lamp ? one->lamp : "");
    for (; event.more_count < 2 && one->again[event.more_count]; event.more_count++) {
        hw_more_photo *next = &more[event.more_count];
        snprintf(next->stored, sizeof next->stored, "%s", one->again[event.more_count]);
    }
    fill_marks(&event.marks);
    fill_marks(&more[1].marks);
    reading_text(one->lightness, &text);
    check_true(hw_job_add_photo(job, &event, now++, &photo, NULL) == HW_OK &&
               hw_job_add_reading(job, photo, text.bytes, now++, &reading, NULL) == HW_OK);
    hw_text_free(&text);
    hw_marks_free(&event.marks);
    hw_marks_free(&more[1].marks);
    return photo;
}

static long add_from(hw_from from, double lightness)
{
    shot one = {.from = from, .lamp = "bench", .lightness = lightness};
    return add(&one);
}

static void add_pass(void)
{
    char patches[1][HW_NAME_SIZE] = {"strip"};
    hw_pass_event pass = {
        .patches = patches, .patch_count = 1, .passes = 1, .minutes = (double)NAN};
    long number = 0;
    pass.liquid = (hw_liquid){.count = 1, .dose = {{.dye = "red", .strength = 0.25}}};
    check_true(hw_job_add_pass(job, &pass, now++, &number, NULL) == HW_OK);
}

static void open_again(void)
{
    hw_job_free(job);
    job = NULL;
    check_true(hw_job_open(folder, NULL, &job, NULL) == HW_OK && hw_job_warnings(job)->count == 0);
}

// ---- Pairs -------------------------------------------------------------------------

static void test_pair(void)
{
    new_job("sides");
    long left = add_from(HW_FROM_LEFT, 53.0);
    check_true(!hw_job_sides_of(job, "strip").known);
    check_true(hw_job_main_photo(job, "strip")->number == left);
    long right = add_from(HW_FROM_RIGHT, 47.0);
    open_again();
    hw_job_sides sides = hw_job_sides_of(job, "strip");
    check_true(sides.known && sides.present && sides.left == left && sides.right == right);
    check_true(sides.pair.turned && sides.pair.axis[0] && !sides.pair.axis[1]);
    check_close(sides.pair.left.u[0], 1.0 / HW_NINETY, 1e-9);
    check_true(hw_job_main_photo(job, "strip")->number == right);
    // From the front it is judged, whether that was said or not, before or after.
    long front = add_from(HW_FROM_UNSAID, 51.0);
    check_true(hw_job_main_photo(job, "strip")->number == front);
    add_from(HW_FROM_LEFT, 53.0);
    check_true(hw_job_main_photo(job, "strip")->number == front);
    check_true(hw_job_sides_of(job, "strip").present);
    add_pass();
    check_true(hw_job_sides_of(job, "strip").known && !hw_job_sides_of(job, "strip").present);
    // After a pass the front of before is no more; one side alone is no pair with what was before.
    long after = add_from(HW_FROM_LEFT, 52.0);
    check_true(hw_job_main_photo(job, "strip")->number == after);
    check_true(!hw_job_sides_of(job, "strip").known);
}

static void test_no_pair(void)
{
    new_job("sides");
    shot left = {.from = HW_FROM_LEFT, .lamp = "bench", .lightness = 53.0};
    shot right = {.from = HW_FROM_RIGHT, .lamp = "window", .lightness = 47.0};
    add(&left);
    add(&right); // two lamps: what turns may be the lamp
    check_true(!hw_job_sides_of(job, "strip").known);
    right.lamp = "Bench";
    right.lightness = 50.4; // not surely darker
    add(&right);
    hw_job_sides sides = hw_job_sides_of(job, "strip");
    check_true(sides.known && !sides.pair.turned);
}

static void test_no_pass_across(void)
{
    new_job("sides");
    long before = add_from(HW_FROM_FRONT, 55.0);
    add_pass();
    long aside = add_from(HW_FROM_LEFT, 53.0), after = add_from(HW_FROM_UNSAID, 54.0);
    hw_patch_change change = hw_job_patch_change(job, before, aside, "strip");
    check_true(change.status == HW_CHANGE_REFUSED);
    check_text(change.reason, "another side: it was taken from the front then, from the left now");
    check_true(hw_job_patch_change(job, before, after, "strip").status == HW_CHANGE_COMPARABLE);
    hw_observation *seen = NULL;
    size_t count = 0;
    check_true(hw_job_observe(job, 0, &seen, &count, NULL, NULL) == HW_OK && count == 1);
    check_true(count == 1 && seen[0].photo_before == before && seen[0].photo_after == after);
    hw_free_observations(seen);
}

// ---- Repeat shots ------------------------------------------------------------------

static void test_shots(void)
{
    new_job("sides");
    shot many = {.lamp = "bench", .lightness = 53.0, .again = {"photos/b.jpg", "photos/c.jpg"}};
    shot one = {.lamp = "bench", .lightness = 53.0, .again = {"photos/c.jpg"}};
    long first = add(&many), second = add(&one);
    long third = add_from(HW_FROM_UNSAID, 53.0);
    open_again();
    const hw_photo_event *photo = hw_job_photo_event(job, first);
    if (!check_true(photo && photo->more_count == 2 && photo->from == HW_FROM_UNSAID)) {
        return;
    }
    check_text(photo->more[0].stored, "photos/b.jpg");
    check_text(photo->more[0].original, "b.jpg");
    check_true(photo->more[0].marks.count == 0 && !photo->more[0].own_marks);
    check_true(photo->more[1].marks.count == 2 && photo->more[1].own_marks);
    // One file in both is the very same photo.
    check_true(hw_photo_shares_file(photo, hw_job_photo_event(job, second)));
    check_true(!hw_photo_shares_file(photo, hw_job_photo_event(job, third)));
    check_text(hw_job_patch_change(job, first, second, "strip").reason, hw_same_photo);
    // Another name for a part holds on all shots.
    hw_part_event name = {.role = HW_ROLE_PATCH, .part = "lid strip", .was = "strip"};
    long number = 0;
    check_true(hw_job_add_part(job, &name, now++, &number, NULL) == HW_OK);
    photo = hw_job_photo_event(job, first);
    check_true(hw_marks_find(&photo->more[1].marks, HW_ROLE_PATCH, "lid strip") != NULL);
}

// A line of a later version, or a damaged one: more shots than are read together, one without a file.
static void test_odd_lines(void)
{
    hw_limits limits = hw_limits_default();
    const char *text =
        "{\"photo\":\"photos/a.jpg\",\"original\":\"a\",\"view\":\"front\",\"from\":\"above\","
        "\"marks\":{\"marks\":[]},\"shots\":[{\"original\":\"x\"},5,{\"photo\":\"photos/b.jpg\"},"
        "{\"photo\":\"1\"},{\"photo\":\"2\"},{\"photo\":\"3\"},{\"photo\":\"4\"},{\"photo\":\"5\"}]"
        "}";
    hw_json *json = NULL;
    hw_photo_event photo = {0};
    bool memory_out = false;
    check_true(hw_json_parse(text, strlen(text), &limits, "test", &json, NULL) == HW_OK);
    check_true(hw_event_read_photo(json, &limits, &photo, &memory_out) && !memory_out);
    check_true(photo.more_count == HW_SHOTS_MOST - 1 && photo.from == HW_FROM_UNSAID);
    check_text(photo.more[0].stored, "photos/b.jpg");
    hw_event_free_more(&photo);
    hw_marks_free(&photo.marks);
    hw_free(photo.states);
    hw_json_free(json);
}

int main(void)
{
    test_pair();
    test_no_pair();
    test_no_pass_across();
    test_shots();
    test_odd_lines();
    hw_job_free(job);
    return check_done();
}
