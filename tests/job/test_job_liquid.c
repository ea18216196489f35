// Areas of parts, as they were said or from the card in a photo, and the liquid that passes took: worked numbers. What a
// pass takes is common practice, no source (tone.h).
#include "open_job.h"

static void rectangle(hw_marks *marks, hw_role role, const char *name, const char *region)
{
    check_true(hw_marks_add(marks, role, name, region, NULL, NULL) == HW_OK);
}

static void set(double ml_m2, double card_long, double card_short, const char *part, double cm2)
{
    hw_part_area area = {.cm2 = cm2};
    long number;
    hw_setting_event setting = {.card_mm = {card_long, card_short},
                                .ml_m2 = ml_m2,
                                .areas = &area,
                                .area_count = part ? 1 : 0};
    snprintf(area.part, sizeof area.part, "%s", part ? part : "");
    check_true(hw_job_add_setting(job, &setting, now++, &number, NULL) == HW_OK);
}

static void photograph(const char *card, const char *strip)
{
    hw_photo_event photo = {.stored = "photos/a.png", .original = "a.png", .view = "front"};
    long number;
    rectangle(&photo.marks, HW_ROLE_CARD, "card", card);
    rectangle(&photo.marks, HW_ROLE_TARGET, "rail", "600,400,200,100");
    rectangle(&photo.marks, HW_ROLE_PATCH, "strip", strip);
    check_true(hw_job_add_photo(job, &photo, now++, &number, NULL) == HW_OK);
    hw_marks_free(&photo.marks);
}

static long lay(long jar, int passes, hw_tool tool, const char *one, const char *other)
{
    char patches[2][HW_NAME_SIZE] = {"", ""};
    long number = 0;
    hw_pass_event pass = {.patches = patches,
                          .patch_count = other ? 2 : 1,
                          .liquid = {{{"red", 0.25}}, 1},
                          .jar = jar,
                          .passes = passes,
                          .minutes = (double)NAN,
                          .dye = {{.name = "red",
                                   .family = HW_FAMILY_RED,
                                   .tool = tool,
                                   .density = {0.01, 0.1, 0.1},
                                   .exponent = 1.0}},
                          .dye_count = 1};
    snprintf(patches[0], HW_NAME_SIZE, "%s", one);
    snprintf(patches[1], HW_NAME_SIZE, "%s", other ? other : "");
    check_true(hw_job_add_pass(job, &pass, now++, &number, NULL) == HW_OK);
    return number;
}

static void mix(double volume)
{
    hw_jar_event jar = {.liquid = {{{"red", 0.25}}, 1}, .volume_ml = volume};
    long number;
    check_true(hw_job_add_jar(job, &jar, now++, &number, NULL) == HW_OK);
}

// A card of 86 x 54 mm marked 172 x 108 pixels: a pixel is half a millimetre, 0.0025 cm2. A strip of 600 x 60 pixels is
// 300 x 30 mm, 90 cm2; the rail of 200 x 100 is 50 cm2.
static void test_area_from_card(void)
{
    bool from_card = false;
    new_job("area");
    photograph("10,10,172,108", "10,200,600,60");
    check_true(isnan(hw_job_area(job, "strip", &from_card)) && !from_card);
    set(0.0, 86.0, 54.0, NULL, 0.0);
    check_close(hw_job_area(job, "strip", &from_card), 90.0, 1e-9);
    check_true(from_card);
    check_close(hw_job_area(job, "rail", &from_card), 50.0, 1e-9);
    check_true(isnan(hw_job_area(job, "door", &from_card)) && !from_card);
    // Standing on its short side, and from twice as far: as large.
    photograph("10,10,54,86", "10,200,300,30");
    check_close(hw_job_area(job, "strip", &from_card), 90.0, 1e-9);
    // The card cut by the mark, or seen from the side: the photo before it tells.
    photograph("10,10,100,100", "10,200,900,90");
    check_close(hw_job_area(job, "strip", &from_card), 90.0, 1e-9);
    photograph("10,10 182,10 182,118 100,120 10,118", "10,200,900,90");
    check_close(hw_job_area(job, "strip", &from_card), 90.0, 1e-9);
    // What was said goes before it.
    set(0.0, 0.0, 0.0, "strip", 108.0);
    check_close(hw_job_area(job, "strip", &from_card), 108.0, 1e-9);
    check_true(!from_card);
}

// 1080 cm2 is 0.108 m2: from a gun 80 ml a m2, 8.64 ml a pass; by pad 50, 5.4 ml; as said 100, 10.8 ml.
static void test_liquid(void)
{
    new_job("liquid");
    set(0.0, 0.0, 0.0, "strip", 1080.0);
    mix(200.0);
    mix(0.0);
    check_true(hw_job_part_ml(job, "strip") == 0.0 && hw_job_jar_used(job, 1) == 0.0);
    check_close(hw_job_jar_left(job, 1), 200.0, 1e-9);
    lay(1, 2, HW_TOOL_SPRAY, "strip", NULL);
    check_close(hw_job_part_ml(job, "strip"), 17.28, 1e-9);
    lay(1, 1, HW_TOOL_PAD, "strip", NULL);
    lay(2, 1, HW_TOOL_SPRAY, "strip", NULL);
    lay(0, 1, HW_TOOL_UNSAID, "strip", NULL); // taken for a gun: rather too much than too little
    check_close(hw_job_jar_used(job, 1), 17.28 + 5.4, 1e-9);
    check_close(hw_job_jar_left(job, 1), 200.0 - 22.68, 1e-9);
    check_close(hw_job_jar_used(job, 2), 8.64, 1e-9);
    check_true(isnan(hw_job_jar_left(job, 2)) && isnan(hw_job_jar_left(job, 9)));
    check_close(hw_job_part_ml(job, "strip"), 22.68 + 8.64 + 8.64, 1e-9);
    // A second part of which nobody knows the area: what both took is not known.
    long both = lay(1, 1, HW_TOOL_SPRAY, "strip", "door");
    check_true(isnan(hw_job_jar_used(job, 1)) && isnan(hw_job_jar_left(job, 1)));
    check_true(isfinite(hw_job_part_ml(job, "strip")) && isnan(hw_job_part_ml(job, "door")));
    // Withdrawn: not laid.
    long number;
    check_true(hw_job_add_withdrawal(job, both, now++, &number, NULL) == HW_OK);
    check_close(hw_job_jar_used(job, 1), 22.68, 1e-9);
    // As it is said, for all passes.
    set(100.0, 0.0, 0.0, NULL, 0.0);
    check_close(hw_job_jar_used(job, 1), 3 * 10.8, 1e-9);
    // More than was mixed: nothing is left, not less than that.
    lay(1, 50, HW_TOOL_SPRAY, "strip", NULL);
    check_true(hw_job_jar_left(job, 1) == 0.0);
}

// Less than 1 ml by what was laid is empty; what is not known is not.
static void test_empty(void)
{
    char newer[620];
    hw_job *made = NULL;
    new_job("empty");
    set(100.0, 0.0, 0.0, "strip", 1000.0); // 10 ml a pass
    mix(40.0);
    mix(100.9);
    mix(0.0);
    lay(1, 3, HW_TOOL_SPRAY, "strip", NULL);
    lay(2, 10, HW_TOOL_SPRAY, "strip", NULL);
    lay(3, 10, HW_TOOL_SPRAY, "strip", NULL);
    check_true(!hw_job_jar_is_empty(job, 1) && hw_job_jar_is_empty(job, 2) &&
               !hw_job_jar_is_empty(job, 3));
    snprintf(newer, sizeof newer, "%s new", folder);
    check_true(hw_job_start_from(newer, "New", job, now++, NULL) == HW_OK);
    if (check_true(hw_job_open(newer, NULL, &made, NULL) == HW_OK)) {
        const hw_jar_event *one = hw_job_jar(made, 1), *two = hw_job_jar(made, 2);
        if (check_true(one && two && !hw_job_jar(made, 3))) {
            check_true(one->from_jar == 1 && two->from_jar == 3 && two->volume_ml == 0.0);
            check_close(one->volume_ml, 10.0, 1e-9);
        }
    }
    hw_job_free(made);
}

// A jar's line keeps its dyes and how they were made, and so does the next job's.
static void test_dyes_of_jar(void)
{
    char newer[620];
    long number;
    hw_job *made = NULL;
    hw_jar_event jar = {.liquid = {{{"ruby", 0.25}}, 1},
                        .dye = {{.name = "ruby",
                                 .family = HW_FAMILY_RED,
                                 .tool = HW_TOOL_PAD,
                                 .density = {0.01, 0.125, 0.25},
                                 .exponent = 0.9,
                                 .u_strength = 0.05,
                                 .made = {.words = "1 part in 20", .share = 0.05}}},
                        .dye_count = 1};
    new_job("dyes");
    check_true(hw_job_add_jar(job, &jar, now++, &number, NULL) == HW_OK);
    mix(10.0); // as old lines are
    snprintf(newer, sizeof newer, "%s new", folder);
    check_true(hw_job_start_from(newer, "New", job, now++, NULL) == HW_OK);
    if (check_true(hw_job_open(newer, NULL, &made, NULL) == HW_OK)) {
        const hw_jar_event *read = hw_job_jar(made, 1);
        check_true(read->dye_count == 1 && hw_job_jar(made, 2)->dye_count == 0);
        const hw_used_dye *dye = &read->dye[0];
        check_text(dye->name, "ruby");
        check_text(dye->made.words, "1 part in 20");
        check_true(dye->family == HW_FAMILY_RED && dye->tool == HW_TOOL_PAD && !dye->guess &&
                   dye->density[1] == 0.125 && dye->exponent == 0.9 && dye->u_strength == 0.05 &&
                   dye->made.share == 0.05 && dye->made.g_l == 0.0);
    }
    hw_job_free(made);
}

// Does the card's mark in the last photo fit a card of these sides?
static void test_card_fits(void)
{
    const double card[2] = {86.0, 54.0}, other[2] = {50.0, 86.0};
    double sides;
    new_job("card");
    check_true(hw_job_card_fits(job, other, &sides) && isnan(sides)); // no photo yet
    photograph("10,10,172,108", "10,200,600,60");
    check_true(hw_job_card_fits(job, card, &sides));
    check_close(sides, 172.0 / 108.0, 1e-12);
    photograph("10,10,116,80", "10,200,600,60");
    check_true(!hw_job_card_fits(job, other, &sides));
    check_close(sides, 1.45, 1e-12);
    photograph("10,10 182,10 182,118 100,120 10,118", "10,200,900,90");
    check_true(!hw_job_card_fits(job, card, &sides) && isnan(sides));
}

// A new job takes over jars and what holds for a shop, in one write.
static void test_carry(void)
{
    char older[600], newer[620];
    long number;
    new_job("older");
    snprintf(older, sizeof older, "%s", hw_job_id(job));
    set(60.0, 86.0, 54.0, "strip", 1080.0);
    mix(200.0);
    mix(0.0);
    mix(50.0);

    check_true(hw_job_add_withdrawal(job, hw_job_event(job, 3)->number, now++, &number,
                                     NULL) == HW_OK); // jar 2
    lay(1, 1, HW_TOOL_SPRAY, "strip", NULL);          // 0.108 m2 x 60 = 6.48 ml
    lay(3, 1, HW_TOOL_SPRAY, "door", NULL);           // nobody knows how much
    hw_job *from = job, *made = NULL;
    snprintf(newer, sizeof newer, "%s new", folder);
    check_true(hw_job_may_start(newer, "New", NULL) == HW_OK && !hw_file_exists(newer));
    check_true(hw_job_start_from(newer, "New", from, now++, NULL) == HW_OK);
    check_true(hw_job_may_start(newer, "New", NULL) == HW_ERR_CALL);
    if (check_true(hw_job_open(newer, NULL, &made, NULL) == HW_OK)) {
        const hw_jar_event *one = hw_job_jar(made, 1), *two = hw_job_jar(made, 2);
        hw_job_settings settings = hw_job_settings_now(made);
        check_true(hw_job_event_count(made) == 4 && one && two && !hw_job_jar(made, 3));
        check_text(one->from_job, older);
        check_true(one->from_jar == 1 && two->from_jar == 3);
        check_close(one->volume_ml, 200.0 - 6.48, 1e-9);
        check_true(two->volume_ml == 0.0);
        check_true(settings.ml_m2 == 60.0 && settings.card_mm[0] == 86.0 &&
                   isnan(settings.recoat_minutes) && settings.coats_over == HW_COATS_UNSAID);
        check_true(isnan(hw_job_area_said(made, "strip")));
        // And on: where it came from first stays.
        char third[640];
        hw_job *next = NULL;
        snprintf(third, sizeof third, "%s third", folder);
        check_true(hw_job_start_from(third, "", made, now++, NULL) == HW_OK &&
                   hw_job_open(third, NULL, &next, NULL) == HW_OK);
        check_text(hw_job_jar(next, 2)->from_job, older);
        check_true(hw_job_jar(next, 2)->from_jar == 3);
        hw_job_free(next);
    }
    hw_job_free(made);
}

int main(void)
{
    test_area_from_card();
    test_liquid();
    test_empty();
    test_dyes_of_jar();
    test_card_fits();
    test_carry();
    hw_job_free(job);
    return check_done();
}
