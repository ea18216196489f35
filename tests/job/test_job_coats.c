// Coats on a part, coats to come, and what logged coats did, from logs made here. Colours of coated wood are worked as in
// test_tone_worked.c: a layer of known density, by hw_tone_under, which that test holds to worked numbers.
#include "open_job.h"

static const double coat_density[3] = {0.02, 0.035, 0.09};
static const hw_lab strip_bare = {55, 12, 28}, rail_bare = {52.5, 13.5, 26},
                    post_bare = {48, 12, 24};

// ---- Logs --------------------------------------------------------------------------

typedef struct seen_part {
    const char *name;
    hw_role role;
    hw_lab lab;
    hw_state state;
} seen_part;

static const char *lamp = "north window";
static hw_lab card = {50, 0, 0};
static const char *file; // of the next photos; NULL: each its own

static long see(const seen_part *parts, size_t count)
{
    hw_part_state states[8];
    hw_photo_event photo = {.original = "x.jpg", .view = "front", .states = states};
    long number = 0, reading = 0;
    hw_text json = {0};
    snprintf(photo.stored, sizeof photo.stored, "photos/%ld.jpg", (long)now);
    if (file) {
        snprintf(photo.stored, sizeof photo.stored, "photos/%s.jpg", file);
    }
    snprintf(photo.lamp, sizeof photo.lamp, "%s", lamp);
    hw_text_add(&json, "{\"light\":{\"card_seen\":[%g,%g,%g]},\"samples\":[", card.L, card.a,
                card.b);
    for (size_t i = 0; i < count; i++) {
        char place[40];
        snprintf(place, sizeof place, "%zu,10,50,50", 10 + 60 * i);
        check_true(hw_marks_add(&photo.marks, parts[i].role, parts[i].name, place, NULL, NULL) ==
                   HW_OK);
        hw_text_add(&json,
                    "%s{\"name\":\"%s\",\"role\":\"%s\",\"lab\":[%.6f,%.6f,%.6f],"
                    "\"standard_error\":[0.05,0.05,0.05]}",
                    i ? "," : "", parts[i].name, hw_role_name(parts[i].role), parts[i].lab.L,
                    parts[i].lab.a, parts[i].lab.b);
        if (parts[i].state != HW_STATE_UNKNOWN) {
            snprintf(states[photo.state_count].part, HW_NAME_SIZE, "%s", parts[i].name);
            states[photo.state_count++].state = parts[i].state;
        }
    }
    hw_text_add(&json, "],\"comparisons\":[]}");
    check_true(hw_job_add_photo(job, &photo, now++, &number, NULL) == HW_OK &&
               hw_job_add_reading(job, number, json.bytes, now++, &reading, NULL) == HW_OK);
    hw_text_free(&json);
    hw_marks_free(&photo.marks);
    return number;
}

// Strip (a repair), rail and post (old wood), with so many coats of the worked density.
static long shoot(int strip, int rail, int post, hw_state state)
{
    const int coats[3] = {strip, rail, post};
    seen_part parts[3] = {{"strip", HW_ROLE_PATCH, strip_bare, state},
                          {"rail", HW_ROLE_TARGET, rail_bare, HW_STATE_UNKNOWN},
                          {"post", HW_ROLE_TARGET, post_bare, HW_STATE_UNKNOWN}};
    for (int i = 0; i < 3; i++) {
        double density[3];
        for (int band = 0; band < 3; band++) {
            density[band] = coats[i] * coat_density[band];
        }
        parts[i].lab = hw_tone_under(parts[i].lab, density);
    }
    return see(parts, 3);
}

static long coat(hw_coat kind, const char *part, const char *more, long before_photo)
{
    char parts[2][HW_NAME_SIZE];
    hw_coat_event event = {.coat = kind,
                           .parts = parts,
                           .part_count = part ? (more ? 2 : 1) : 0,
                           .before_photo = before_photo};
    long number = 0;
    snprintf(parts[0], HW_NAME_SIZE, "%s", part ? part : "");
    snprintf(parts[1], HW_NAME_SIZE, "%s", more ? more : "");
    check_true(hw_job_add_coat(job, &event, now++, &number, NULL) == HW_OK);
    return number;
}

static void take_off(const char *part)
{
    char parts[1][HW_NAME_SIZE];
    hw_takeoff_event event = {.stripped = true, .parts = parts, .part_count = 1};
    long number = 0;
    snprintf(parts[0], HW_NAME_SIZE, "%s", part);
    check_true(hw_job_add_takeoff(job, &event, now++, &number, NULL) == HW_OK);
}

static void lay(const char *patch)
{
    char patches[1][HW_NAME_SIZE];
    hw_pass_event pass = {.patches = patches, .patch_count = 1, .passes = 1, .minutes = NAN};
    long number = 0;
    snprintf(patches[0], HW_NAME_SIZE, "%s", patch);
    pass.liquid = (hw_liquid){.dose = {{"red", 0.5}}, .count = 1};
    check_true(hw_job_add_pass(job, &pass, now++, &number, NULL) == HW_OK);
}

static void say_coats(hw_coats_over over, int coats)
{
    hw_setting_event setting = {.coats_over = over, .coats = coats};
    long number = 0;
    check_true(hw_job_add_setting(job, &setting, now++, &number, NULL) == HW_OK);
}

static hw_coats_on on(hw_role role, const char *part)
{
    return hw_job_coats_on(job, role, part).on;
}

// ---- Coats on a part ---------------------------------------------------------------

// Wet and damp hold for one photo: what was said before them lasts.
static void test_passing_states(void)
{
    new_job("coats");
    shoot(0, 0, 0, HW_STATE_SEALED);
    shoot(0, 0, 0, HW_STATE_NOT_DRY);
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 1);
    shoot(0, 0, 0, HW_STATE_UNKNOWN);
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 1);
    new_job("coats");
    shoot(0, 0, 0, HW_STATE_BARE);
    shoot(0, 0, 0, HW_STATE_DAMP);
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 1); // as it is seen in that photo
    shoot(0, 0, 0, HW_STATE_UNKNOWN);
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 0);
    shoot(0, 0, 0, HW_STATE_DAMP);
    coat(HW_COAT_SEALER, "strip", NULL, 0);
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 1);
}

static void test_so_far(void)
{
    new_job("coats");
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 3); // nothing is said: as its old wood
    check_holds(hw_job_coats_on(job, HW_ROLE_PATCH, "strip").assumed, "Nothing is said");
    check_true(on(HW_ROLE_TARGET, "rail").so_far == 3); // old wood has its finish
    shoot(0, 0, 0, HW_STATE_BARE);
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 0);
    check_text(hw_job_coats_on(job, HW_ROLE_PATCH, "strip").assumed, "");
    coat(HW_COAT_SEALER, "strip", NULL, 0);
    coat(HW_COAT_CLEAR, NULL, NULL, 0); // on all
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 2);
    check_true(on(HW_ROLE_TARGET, "rail").so_far == 4);
    take_off("strip");
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 0);
    coat(HW_COAT_CLEAR, "strip", NULL, 0); // on stripped wood
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 1);
    new_job("coats");
    shoot(0, 0, 0, HW_STATE_SEALED);
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 1);
    check_holds(hw_job_coats_on(job, HW_ROLE_PATCH, "strip").assumed, "is said to be sealed");
    coat(HW_COAT_CLEAR, "strip", NULL, 0);
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 2);
    new_job("coats");
    shoot(0, 0, 0, HW_STATE_FINISHED);
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 3);
    new_job("coats"); // its first coat is logged and nothing else is known
    coat(HW_COAT_SEALER, "strip", NULL, 0);
    check_true(on(HW_ROLE_PATCH, "strip").so_far == 1);
}

static void test_to_come(void)
{
    new_job("coats");
    shoot(0, 0, 0, HW_STATE_SEALED);
    check_true(on(HW_ROLE_PATCH, "strip").to_come == 0);
    coat(HW_COAT_CLEAR, "strip", NULL, 0); // before it was said
    say_coats(HW_COATS_REPAIRS, 3);
    check_true(on(HW_ROLE_PATCH, "strip").to_come == 3);
    check_true(on(HW_ROLE_TARGET, "rail").to_come == 0);
    coat(HW_COAT_BARRIER, "strip", NULL, 0); // no clear coat
    check_true(on(HW_ROLE_PATCH, "strip").to_come == 3);
    coat(HW_COAT_CLEAR, "strip", NULL, 0);
    check_true(on(HW_ROLE_PATCH, "strip").to_come == 2);
    check_true(on(HW_ROLE_PATCH, "door").to_come == 3);
    say_coats(HW_COATS_ALL, 1);
    check_true(on(HW_ROLE_PATCH, "strip").to_come == 1 && on(HW_ROLE_TARGET, "rail").to_come == 1);
    coat(HW_COAT_CLEAR, NULL, NULL, 0);
    coat(HW_COAT_CLEAR, NULL, NULL, 0); // one more than was said
    check_true(on(HW_ROLE_PATCH, "strip").to_come == 0 && on(HW_ROLE_TARGET, "rail").to_come == 0);
    say_coats(HW_COATS_NOT_KNOWN, 0);
    check_true(on(HW_ROLE_PATCH, "strip").to_come == 0);
}

// ---- What coats did ----------------------------------------------------------------

static hw_coat_seen seen[8];

static size_t look(void)
{
    hw_coat_seen *found = NULL;
    size_t count = 0;
    check_true(hw_job_coats_seen(job, &found, &count, NULL) == HW_OK && count <= 8);
    for (size_t i = 0; i < count && i < 8; i++) {
        seen[i] = found[i];
    }
    hw_job_coats_seen_free(found);
    return count;
}

static const hw_coat_seen *of_part(size_t count, const char *part)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(seen[i].part, part) == 0) {
            return &seen[i];
        }
    }
    check_true(false);
    return &seen[0];
}

static void check_coats(const hw_coat_seen *one, int coats, double within)
{
    check_true(one->coats == coats);
    for (int band = 0; band < 3; band++) {
        check_close(one->density[band], coats * coat_density[band], within);
    }
}

static double shared_of(const hw_coat_seen *one)
{
    return one->shared.m[0][0] + one->shared.m[1][1] + one->shared.m[2][2];
}

// On the repair alone: the old wood stands.
static void test_repair_alone(void)
{
    new_job("coats");
    long before = shoot(0, 0, 0, HW_STATE_SEALED);
    long laid = coat(HW_COAT_CLEAR, "strip", NULL, 0);
    long after = shoot(1, 0, 0, HW_STATE_UNKNOWN);
    check_true(look() == 1);
    check_coats(&seen[0], 1, 1e-6);
    check_true(seen[0].event == laid && seen[0].photo_before == before &&
               seen[0].photo_after == after && seen[0].before == 1 && seen[0].clear);
    check_text(seen[0].job, hw_job_id(job));
    check_close(shared_of(&seen[0]), 0, 0);
    // Another session's light goes out by the old wood: the log holds the change all the same.
    new_job("coats");
    shoot(0, 0, 0, HW_STATE_SEALED);
    coat(HW_COAT_CLEAR, "strip", NULL, 0);
    const double light[3] = {-0.02, -0.02, -0.02}, shown[3] = {0.0, 0.015, 0.07};
    seen_part parts[2] = {
        {"strip", HW_ROLE_PATCH, hw_tone_under(strip_bare, shown), HW_STATE_UNKNOWN},
        {"rail", HW_ROLE_TARGET, hw_tone_under(rail_bare, light), HW_STATE_UNKNOWN}};
    see(parts, 2);
    check_true(look() == 1);
    check_coats(&seen[0], 1, 1e-5);
}

// Over all: read by the card alone, with an error that both parts share; a part that was left out stands.
static void test_over_all(void)
{
    new_job("coats");
    shoot(0, 0, 0, HW_STATE_SEALED);
    coat(HW_COAT_CLEAR, NULL, NULL, 0);
    coat(HW_COAT_CLEAR, NULL, NULL, 0);
    shoot(2, 2, 2, HW_STATE_UNKNOWN);
    size_t count = look();
    check_true(count == 3);
    const hw_coat_seen *strip = of_part(count, "strip"), *rail = of_part(count, "rail");
    check_coats(strip, 2, 1e-6);
    check_coats(rail, 2, 1e-6);
    check_true(shared_of(strip) > 0 && shared_of(rail) > 0 && rail->before == 3);
    check_true(shared_of(strip) > strip->covariance.m[0][0] + strip->covariance.m[1][1]);
    new_job("coats");
    shoot(0, 0, 0, HW_STATE_SEALED);
    coat(HW_COAT_CLEAR, "strip", "rail", 0);
    shoot(1, 1, 0, HW_STATE_UNKNOWN);
    count = look();
    check_true(count == 2);
    check_coats(of_part(count, "rail"), 1, 1e-6);
    check_close(shared_of(of_part(count, "rail")), 0, 0); // the post stood
}

// Nothing else may be done between, nothing may be wet, no lamp another.
static void test_left_out(void)
{
    for (int what = 0; what < 6; what++) {
        new_job("coats");
        shoot(0, 0, 0, HW_STATE_SEALED);
        coat(HW_COAT_CLEAR, "strip", NULL, 0);
        if (what == 1) {
            lay("strip");
        } else if (what == 2) {
            take_off("strip");
        }
        lamp = what == 3 ? "bench lamp" : "north window";
        card = what == 4 ? (hw_lab){50, 12, 25} : (hw_lab){50, 0, 0};
        shoot(1, 0, 0, what == 5 ? HW_STATE_NOT_DRY : HW_STATE_UNKNOWN);
        lamp = "north window";
        card = (hw_lab){50, 0, 0};
        check_true(look() == (what == 0));
    }
    // Dry a day later: read from the photo before.
    shoot(1, 0, 0, HW_STATE_FINISHED);
    check_true(look() == 1);
    check_true(seen[0].photo_before == 2);
    new_job("coats"); // rubbed out after it: another sheen
    shoot(0, 0, 0, HW_STATE_FINISHED);
    coat(HW_COAT_CLEAR, "strip", NULL, 0);
    shoot(1, 0, 0, HW_STATE_RUBBED_OUT);
    check_true(look() == 0);
}

// From photo to photo, each coat once, also one that was logged late; a sealer is told apart.
static void test_series(void)
{
    new_job("coats");
    long first = shoot(0, 0, 0, HW_STATE_BARE);
    coat(HW_COAT_SEALER, "strip", NULL, 0);
    long second = shoot(1, 0, 0, HW_STATE_UNKNOWN);
    shoot(1, 0, 0, HW_STATE_UNKNOWN); // nothing done
    coat(HW_COAT_CLEAR, "strip", NULL, 0);
    long last = shoot(3, 0, 0, HW_STATE_UNKNOWN);
    coat(HW_COAT_CLEAR, "strip", NULL, last);
    check_true(look() == 2);
    check_true(seen[0].photo_before == first && seen[0].photo_after == second &&
               seen[0].before == 0 && !seen[0].clear);
    check_coats(&seen[1], 2, 1e-6);
    check_true(seen[1].photo_after == last && seen[1].before == 1 && seen[1].clear);
    hw_coat_belief belief = hw_coats_learn(seen, 2, hw_job_id(job));
    check_true(belief.seen == 2 && !belief.guess);
}

// A picture that was there before the coats is no second reading of what they did, however often it is added; one that is
// added again at once stands in the first one's place.
static void test_same_picture(void)
{
    new_job("coats");
    file = "a";
    shoot(0, 0, 0, HW_STATE_SEALED);
    coat(HW_COAT_CLEAR, "strip", NULL, 0);
    file = "b";
    shoot(1, 0, 0, HW_STATE_UNKNOWN);
    long again = shoot(1, 0, 0, HW_STATE_UNKNOWN);
    for (int turn = 0; turn < 3; turn++) {
        coat(HW_COAT_CLEAR, "strip", NULL, 0);
        file = "a";
        shoot(0, 0, 0, HW_STATE_UNKNOWN);
        coat(HW_COAT_CLEAR, "strip", NULL, 0);
        file = "b";
        shoot(1, 0, 0, HW_STATE_UNKNOWN);
    }
    check_true(look() == 1);
    check_coats(&seen[0], 1, 1e-6);
    check_true(seen[0].photo_after == again);
    // A new picture is read against the last that shows the part where it stands.
    coat(HW_COAT_CLEAR, "strip", NULL, 0);
    file = NULL;
    shoot(8, 0, 0, HW_STATE_UNKNOWN);
    check_true(look() == 2);
    check_true(seen[1].photo_before == again);
    check_coats(&seen[1], 7, 1e-6);
}

// Nor of passes.
static void test_same_picture_of_passes(void)
{
    hw_observation *found = NULL;
    size_t count = 0;
    new_job("coats");
    for (int turn = 0; turn < 3; turn++) {
        file = "a";
        shoot(0, 0, 0, HW_STATE_UNKNOWN);
        lay("strip");
        file = "b";
        shoot(2, 0, 0, HW_STATE_UNKNOWN);
        lay("strip");
    }
    file = NULL;
    check_true(hw_job_observe(job, 0, &found, &count, NULL, NULL) == HW_OK && count == 1);
    hw_free_observations(found);
}

// The longest name is told whole.
static void test_long_name(void)
{
    char name[HW_NAME_SIZE];
    memset(name, 'n', sizeof name);
    name[HW_NAME_SIZE - 2] = 0;
    new_job("coats");
    seen_part part = {name, HW_ROLE_PATCH, strip_bare, HW_STATE_FINISHED};
    see(&part, 1);
    check_holds(hw_job_coats_on(job, HW_ROLE_PATCH, name).assumed,
                ": taken as several coats that nobody logged.");
}

int main(void)
{
    test_same_picture();
    test_same_picture_of_passes();
    test_long_name();
    test_so_far();
    test_passing_states();
    test_to_come();
    test_repair_alone();
    test_over_all();
    test_left_out();
    test_series();
    hw_job_free(job);
    return check_done();
}
