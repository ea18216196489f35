// Events to JSON and back, what passes did, the shelf.
#include "check.h"
#include "job_internal.h"

#include <stdlib.h>
#include <unistd.h>

static const char reading_json[] =
    "{\"photo\":{\"file\":\"x.jpg\"},\"samples\":[{\"name\":\"old\",\"role\":\"target\",\"lab\":["
    "50,12,25],"
    "\"standard_error\":[0.1,0.1,0.1]},{\"name\":\"strip\",\"role\":\"patch\",\"lab\":[55,9,25],"
    "\"standard_error\":[0.1,0.1,0.1]}],\"comparisons\":[{\"patch\":\"strip\",\"target\":\"old\","
    "\"de00\":9},"
    "{\"patch\":\"strip\",\"target\":\"beside\",\"de00\":%g,\"de00_low\":1,\"de00_high\":9,"
    "\"delta\":{\"L\":5,\"a\":-3,"
    "\"b\":0,\"C\":-1,\"H\":2},\"verdict\":\"tone\"}]}";

static long add_photo_named(hw_job *job, const char *stored, double de00, int64_t now)
{
    hw_photo_event photo = {.original = "x y.jpg",
                            .view = "front",
                            .lamp = "shop lamp",
                            .note = "after \"sealer\"",
                            .has_card_lab = true,
                            .card_lab = {50.1, -0.3, 0.6}};
    hw_part_state states[1] = {{"strip", HW_STATE_SEALED}};
    char text[1500];
    long number = 0, reading = 0;
    snprintf(photo.stored, sizeof photo.stored, "photos/%s.jpg", stored);
    photo.states = states;
    photo.state_count = 1;
    check_true(hw_marks_add(&photo.marks, HW_ROLE_PATCH, "strip", "10,10,50,50", NULL, NULL) ==
               HW_OK);
    check_true(hw_job_add_photo(job, &photo, now, &number, NULL) == HW_OK);
    snprintf(text, sizeof text, reading_json, de00);
    check_true(hw_job_add_reading(job, number, text, now, &reading, NULL) == HW_OK);
    hw_marks_free(&photo.marks);
    return number;
}

static long add_photo(hw_job *job, double de00, int64_t now)
{
    return add_photo_named(job, "x", de00, now);
}

static const hw_event *add_pass(hw_job *job, const char *patch, int64_t now)
{
    char patches[1][HW_NAME_SIZE];
    hw_pass_event pass = {
        .patches = patches, .patch_count = 1, .passes = 1, .minutes = 45, .note = "sprayed"};
    long number = 0;
    snprintf(patches[0], HW_NAME_SIZE, "%s", patch);
    pass.liquid = (hw_liquid){.dose = {{"red", 0.5}, {"black", 0.125}}, .count = 2};
    check_true(hw_job_add_pass(job, &pass, now, &number, NULL) == HW_OK);
    return hw_job_event(job, hw_job_event_count(job) - 1);
}

static void test_round_trip(hw_job *job)
{
    const hw_event *photo = hw_job_last_photo(job, "front");
    check_true(photo && !hw_job_last_photo(job, "lid") &&
               hw_job_last_photo_of_patch(job, "strip") == photo);
    check_text(photo->of.photo.original, "x y.jpg");
    check_text(photo->of.photo.note, "after \"sealer\"");
    check_true(photo->of.photo.has_card_lab && photo->of.photo.states[0].state == HW_STATE_SEALED);
    check_close(photo->of.photo.card_lab.b, 0.6, 1e-9);
    check_true(photo->of.photo.marks.count == 1);
    check_text(photo->program, HW_VERSION_TEXT);
    const hw_event *reading = hw_job_reading_of(job, photo->number);
    check_true(reading && reading->of.reading.sample_count == 2 &&
               reading->of.reading.gap_count == 1);
    check_close(reading->of.reading.samples[1].lab.L, 55, 0);
    check_true(reading->of.reading.gaps[0].verdict == HW_VERDICT_TONE);
    hw_plan_event plan = {.patch = "strip",
                          .has_next = true,
                          .forecast = {52, 11, 25},
                          .forecast_de00 = 2.5,
                          .cautions_full = true};
    long number = 0;
    plan.next = (hw_layer){.liquid = {.dose = {{"red", 0.5}}, .count = 1}, .passes = 1};
    check_true(hw_job_add_plan(job, &plan, 77, &number, NULL) == HW_OK);
    const hw_event *kept = hw_job_event(job, hw_job_event_count(job) - 1);
    check_true(kept->kind == HW_EVENT_PLAN_SHOWN && kept->of.plan.has_next &&
               kept->of.plan.cautions_full);
    check_close(kept->of.plan.forecast.L, 52, 0);
}

static void test_effects(hw_job *job)
{
    long before = hw_job_last_photo(job, NULL)->number;
    const hw_event *pass = add_pass(job, "strip", 100);
    check_true(pass->of.pass.liquid.count == 2 && pass->of.pass.minutes == 45);
    check_true(!hw_job_pass_effect(job, pass, "strip").known);
    long number = pass->number;
    long after = add_photo(job, 3.0, 200);
    for (size_t i = 0; i < hw_job_event_count(job); i++) { // events may have moved in memory
        pass = hw_job_event(job, i)->number == number ? hw_job_event(job, i) : pass;
    }
    hw_pass_effect effect = hw_job_pass_effect(job, pass, "strip");
    check_true(effect.known && !effect.others_between && effect.photo_before == before &&
               effect.photo_after == after);
    check_close(effect.before.de00, 5.5, 0);
    check_close(effect.after.de00, 3.0, 0);
    const hw_event *second = add_pass(job, "strip", 300);
    number = second->number;
    add_pass(job, "strip", 310);
    add_photo(job, 1.0, 400);
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        second = hw_job_event(job, i)->number == number ? hw_job_event(job, i) : second;
    }
    effect = hw_job_pass_effect(job, second, "strip");
    check_true(effect.known && effect.others_between);
}

static void write_shelf(const char *path, const char *text)
{
    check_true(hw_file_replace(path, text, strlen(text), NULL) == HW_OK);
}

static void test_shelf(void)
{
    char path[600];
    hw_shelf shelf = {0};
    hw_error err = {0};
    snprintf(path, sizeof path, "%s/shelf %ld.json", HW_SCRATCH, (long)getpid());
    check_true(hw_shelf_load(path, NULL, &shelf, NULL) == HW_OK &&
               shelf.count == 0); // none yet: empty
    write_shelf(path, "{\"format\":1,\"dyes\":[{\"name\":\"my "
                      "walnut\",\"family\":\"brown\",\"density\":[0.05,0.07,0.1],"
                      "\"u_strength\":0.1},{\"name\":\"red\",\"family\":\"red\"}]}");
    check_true(hw_shelf_load(path, NULL, &shelf, NULL) == HW_OK && shelf.count == 2);
    check_true(!shelf.dye[0].guess && shelf.dye[1].guess);
    check_close(shelf.dye[0].density[2], 0.1, 0);
    check_close(shelf.dye[1].density[1], hw_dye_guess(HW_FAMILY_RED).density[1], 0);
    hw_shelf_free(&shelf);
    const char *twice = "{\"format\":1,\"dyes\":[{\"name\":\"x\",\"family\":\"red\"},"
                        "{\"name\":\"x\",\"family\":\"red\"}]}";
    const char *bad[] = {
        "{",
        "[]",
        "{\"format\":2,\"dyes\":[]}",
        "{\"format\":1,\"dyes\":[{\"name\":\"x\"}]}",
        "{\"format\":1,\"dyes\":[{\"name\":\"x\",\"family\":\"puce\"}]}",
        "{\"format\":1,\"dyes\":[{\"name\":\"x\",\"family\":\"red\",\"density\":[1,-1,0]}]}",
        twice};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        err = (hw_error){0};
        write_shelf(path, bad[i]);
        check_true(hw_shelf_load(path, NULL, &shelf, &err) == HW_ERR_INPUT && shelf.count == 0);
        check_true(err.what[0] && err.next[0]);
    }
    unlink(path);
    // XDG base directory specification: $XDG_DATA_HOME if absolute, else ~/.local/share.
    setenv("XDG_DATA_HOME", "/data", 1);
    check_true(hw_shelf_user_path(path, sizeof path));
    check_text(path, "/data/huewright/shelf.json");
    setenv("XDG_DATA_HOME", "relative", 1);
    setenv("HOME", "/home/finisher", 1);
    check_true(hw_shelf_user_path(path, sizeof path));
    check_text(path, "/home/finisher/.local/share/huewright/shelf.json");
}

static void test_states(void)
{
    for (int i = 0; i < HW_STATE_COUNT; i++) {
        hw_state back;
        check_true(hw_state_from_name(hw_state_name((hw_state)i), &back) && (int)back == i);
    }
}

// Where a repair stood, in the order of what was done to it; told by hand from the log that is written here.
static void test_way(void)
{
    char folder[600];
    hw_stood way[4] = {{0}};
    hw_job *job = NULL;
    snprintf(folder, sizeof folder, "%s/way %ld", HW_SCRATCH, (long)getpid());
    if (!check_true(hw_job_start(folder, "way", 1, NULL) == HW_OK &&
                    hw_job_open(folder, NULL, &job, NULL) == HW_OK)) {
        return;
    }
    add_photo_named(job, "a", 9, 2);
    long first = add_photo_named(job, "b", 8.5, 3); // nothing was done since a: it stands for both
    check_true(hw_job_way(job, first, "strip", way, 4) == 1 && way[0].photo == first);
    add_pass(job, "strip", 4);
    long second = add_photo_named(job, "c", 6, 5);
    add_pass(job, "strip", 6);
    long third = add_photo_named(job, "d", 4, 7), again = add_photo_named(job, "e", 4.2, 8);
    size_t count = hw_job_way(job, again, "strip", way, 4);
    check_true(count == 3);
    check_true(way[0].photo == first && way[0].passes == 0);
    check_true(way[1].photo == second && way[1].passes == 1);
    check_true(way[2].photo == again && way[2].passes == 2);
    check_close(way[0].gap->de00, 8.5, 0);
    check_close(way[2].gap->de00, 4.2, 0);
    check_true(hw_job_way(job, third, "strip", way, 2) == 2 && way[0].photo == first);
    check_true(hw_job_way(job, again, "strip", way, 0) == 0);
    check_true(hw_job_way(job, again, "no such", way, 4) == 0);
    char parts[1][HW_NAME_SIZE] = {"strip"};
    hw_takeoff_event stripped = {.stripped = true, .parts = parts, .part_count = 1};
    long number = 0;
    check_true(hw_job_add_takeoff(job, &stripped, 9, &number, NULL) == HW_OK);
    long anew = add_photo_named(job, "f", 8, 10); // other wood by now
    check_true(hw_job_way(job, anew, "strip", way, 4) == 1 && way[0].passes == 0);
    hw_job_free(job);
}

int main(void)
{
    char folder[600];
    hw_job *job = NULL;
    snprintf(folder, sizeof folder, "%s/history %ld", HW_SCRATCH, (long)getpid());
    check_true(hw_job_start(folder, "t", 1, NULL) == HW_OK &&
               hw_job_open(folder, NULL, &job, NULL) == HW_OK);
    add_photo(job, 5.5, 50);
    test_round_trip(job);
    test_effects(job);
    size_t events = hw_job_event_count(job);
    hw_job_free(job);
    check_true(hw_job_open(folder, NULL, &job, NULL) == HW_OK && hw_job_event_count(job) == events);
    hw_job_free(job);
    test_shelf();
    test_states();
    test_way();
    return check_done();
}
