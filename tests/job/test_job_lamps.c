// The same state under two lamps: which photos make a pair and which do not, the index of metamerism with its
// range and what is said of it, and the photo that advice rests on. The index is computed here once more from the formulae
// of CIE 15:2018 (8.2.1, 9.2); states, labels and lines are made by hand.
#include "open_job.h"

typedef struct shot {
    const char *lamp, *camera;
    hw_lab patch, old;
    double half; // of the 90 % ranges of L*, a*, b*; 0: an early version's line, which does not say
    hw_state state;
    size_t place; // of the patch's mark
    const char *more_wood;
    long elsewhere; // photo that its old wood is in
} shot;

static void add_mark(hw_marks *marks, hw_role role, const char *name, size_t place)
{
    char region[60];
    snprintf(region, sizeof region, "%zu,10,50,50", 10 + 60 * place);
    check_true(hw_marks_add(marks, role, name, region, NULL, NULL) == HW_OK);
}

static void add_range(hw_text *text, const char *name, const double delta[3], double by)
{
    hw_text_add(text, ",\"%s\":{\"L\":%.6f,\"a\":%.6f,\"b\":%.6f}", name, delta[0] + by,
                delta[1] + by, delta[2] + by);
}

static void reading_text(const shot *one, hw_text *text)
{
    const double delta[3] = {one->patch.L - one->old.L, one->patch.a - one->old.a,
                             one->patch.b - one->old.b};
    double gap = hw_ciede2000(one->old, one->patch);
    hw_text_add(text, "{\"photo\":{\"file\":\"x.jpg\",\"camera\":\"%s\"},\"samples\":[",
                one->camera ? one->camera : "");
    hw_text_add(text,
                "{\"name\":\"strip\",\"role\":\"patch\",\"lab\":[%.6f,%.6f,%.6f],"
                "\"standard_error\":[0.1,0.1,0.1]},",
                one->patch.L, one->patch.a, one->patch.b);
    hw_text_add(text,
                "{\"name\":\"rail\",\"role\":\"target\",\"lab\":[%.6f,%.6f,%.6f],"
                "\"standard_error\":[0.1,0.1,0.1]}],",
                one->old.L, one->old.a, one->old.b);
    hw_text_add(text,
                "\"comparisons\":[{\"patch\":\"strip\",\"target\":\"beside\",\"de00\":%.6f,"
                "\"de00_low\":%.6f,\"de00_high\":%.6f,\"verdict\":\"tone\"",
                gap, fmax(gap - 0.329, 0), gap + 0.329);
    if (one->elsewhere > 0) {
        hw_text_add(text, ",\"elsewhere\":%ld", one->elsewhere);
    }
    add_range(text, "delta", delta, 0);
    if (one->half > 0) {
        add_range(text, "delta_low", delta, -one->half);
        add_range(text, "delta_high", delta, one->half);
        hw_text_add(text, ",\"doubt\":{\"light\":0.1,\"camera_colours\":0.4,\"figure\":0.2}");
    }
    hw_text_add(text, "}]}");
}

static long add(const shot *one)
{
    static int number;
    hw_text text = {0};
    long photo = 0, reading = 0;
    hw_part_state state = {.part = "strip", .state = one->state};
    hw_photo_event event = {.original = "x.jpg", .view = "front", .states = &state};
    event.state_count = one->state != HW_STATE_UNKNOWN;
    snprintf(event.stored, sizeof event.stored, "photos/%d.jpg", ++number);
    snprintf(event.lamp, sizeof event.lamp, "%s", one->lamp ? one->lamp : "");
    add_mark(&event.marks, HW_ROLE_PATCH, "strip", one->place);
    add_mark(&event.marks, HW_ROLE_TARGET, "rail", 5);
    if (one->more_wood) {
        add_mark(&event.marks, HW_ROLE_TARGET, one->more_wood, 7);
    }
    reading_text(one, &text);
    check_true(hw_job_add_photo(job, &event, now++, &photo, NULL) == HW_OK &&
               hw_job_add_reading(job, photo, text.bytes, now++, &reading, NULL) == HW_OK);
    hw_text_free(&text);
    hw_marks_free(&event.marks);
    return photo;
}

static hw_lamp_pair only_pair(void)
{
    hw_lamp_pair pair[3];
    memset(pair, 0, sizeof pair);
    check_true(hw_job_lamp_pairs(job, "strip", pair, 3) == 1);
    return pair[0];
}

static const shot day = {.lamp = "Shop lamp",
                         .camera = "One",
                         .patch = {51, 11.5, 24.5},
                         .old = {50, 12, 25},
                         .half = 0.05};

// The same, redder under the other lamp by `a` and yellower by `b`.
static shot other(const char *lamp, double a, double b)
{
    shot made = day;
    made.lamp = lamp;
    made.patch.a += a;
    made.patch.b += b;
    return made;
}

// ---- The index ---------------------------------------------------------------------

// L*a*b* of the cube root's branch (L* above 8) under the white 0.9642 1 0.8249 (ICC.1:2022, 7.2.16).
static void to_xyz(hw_lab lab, double out[3])
{
    const double white[3] = {0.9642, 1.0, 0.8249};
    double y = (lab.L + 16) / 116;
    const double f[3] = {y + lab.a / 500, y, y - lab.b / 200};
    for (int i = 0; i < 3; i++) {
        out[i] = white[i] * f[i] * f[i] * f[i];
    }
}

static hw_lab to_lab(const double xyz[3])
{
    double x = cbrt(xyz[0] / 0.9642), y = cbrt(xyz[1]), z = cbrt(xyz[2] / 0.8249);
    return (hw_lab){116 * y - 16, 500 * (x - y), 200 * (y - z)};
}

static void test_index(void)
{
    new_job("lamps");
    shot warm = other("customer's lamp", 3, 1);
    warm.old = (hw_lab){51, 14, 28}; // all is warmer there
    warm.patch = (hw_lab){52, 17, 28};
    long first = add(&day), second = add(&warm);
    hw_lamp_pair pair = only_pair();
    check_true(pair.known && pair.present && pair.main.photo == first &&
               pair.other.photo == second);
    check_text(pair.main.lamp, "Shop lamp");
    check_text(pair.other.lamp, "customer's lamp");
    double day_old[3], day_patch[3], warm_patch[3];
    to_xyz(day.old, day_old);
    to_xyz(day.patch, day_patch);
    to_xyz(warm.patch, warm_patch);
    for (int i = 0; i < 3; i++) {
        warm_patch[i] *= day_old[i] / day_patch[i];
    }
    hw_lab equal = to_lab(warm_patch);
    check_close(pair.index.L, equal.L - warm.old.L, 1e-4); // the log holds six decimals
    check_close(pair.index.a, equal.a - warm.old.a, 1e-4);
    check_close(pair.index.b, equal.b - warm.old.b, 1e-4);
    check_close(pair.index.de00, hw_ciede2000(warm.old, equal), 1e-4);
    check_true(pair.de00_low < pair.index.de00 && pair.index.de00 < pair.de00_high);
    check_true(pair.low.a < pair.index.a && pair.index.a < pair.high.a);
}

static void test_verdicts(void)
{
    new_job("lamps");
    add(&day);
    shot same = other("window", 0, 0), far = other("tube", 9, 0), off = other("bulb", 2, 0);
    add(&same);
    add(&far);
    add(&off);
    hw_lamp_pair pair[3];
    check_true(hw_job_lamp_pairs(job, "strip", pair, 3) == 3);
    check_true(hw_job_lamp_pairs(job, "strip", pair, 0) == 3);
    check_text(pair[0].other.lamp, "bulb"); // photographed last
    check_true(pair[1].verdict == HW_LAMP_PARTS && pair[1].de00_low >= 0.8 && pair[1].index.a > 5);
    check_true(pair[2].index.de00 < 1e-6 && pair[2].de00_low == 0);
    check_true(pair[2].verdict == HW_LAMP_HOLDS && pair[2].de00_high <= 1.0);
    check_text(hw_lamp_verdict_name(pair[1].verdict), "parts");
    check_text(hw_lamp_verdict_name(HW_LAMP_UNTOLD), "untold");
    check_text(hw_lamp_verdict_name(HW_LAMP_HOLDS), "holds");
    // Read less surely, nothing can be told of it.
    new_job("lamps");
    shot unsure = day, there = other("bulb", 2, 0);
    unsure.half = there.half = 3;
    add(&unsure);
    add(&there);
    check_true(only_pair().verdict == HW_LAMP_UNTOLD);
}

// What both share cancels: one camera, one set of marks. A line that does not say what its range is made of counts
// whole.
static void test_shared_doubt(void)
{
    hw_lamp_pair pair[4];
    for (int what = 0; what < 4; what++) {
        new_job("lamps");
        shot here = day, there = other("bulb", 2, 0);
        here.half = there.half = what == 3 ? 0 : 1;
        there.camera = what == 1 ? "Two" : "One";
        there.place = what == 2 ? 1 : 0;
        add(&here);
        add(&there);
        pair[what] = only_pair();
        check_true(pair[what].known);
    }
    check_true(pair[0].de00_high < pair[1].de00_high - 0.1);
    check_true(pair[0].de00_high < pair[2].de00_high - 0.01);
    // 0.329 is 1.645 times 0.2: of two photos root 2 of that on L*, where nothing else counts.
    check_close(pair[3].high.L - pair[3].index.L, 1.645 * 0.2 * sqrt(2), 1e-3);
    // Two cameras: of variances 0.01, 0.16 and 0.04 by source the figure's alone cancels.
    check_close(pair[1].high.L - pair[1].index.L, sqrt(2 * 0.17 / 0.21), 1e-3);
}

// ---- Which photos make a pair ------------------------------------------------------

static void pass_on(const char *patch)
{
    char patches[1][HW_NAME_SIZE];
    long number;
    snprintf(patches[0], HW_NAME_SIZE, "%s", patch);
    hw_pass_event pass = {.patches = patches,
                          .patch_count = 1,
                          .liquid = {{{"red", 0.25}}, 1},
                          .passes = 1,
                          .minutes = NAN};
    check_true(hw_job_add_pass(job, &pass, now++, &number, NULL) == HW_OK);
}

static void coat_on(const char *part)
{
    char parts[1][HW_NAME_SIZE];
    long number;
    snprintf(parts[0], HW_NAME_SIZE, "%s", part);
    hw_coat_event coat = {.coat = HW_COAT_SEALER, .parts = parts, .part_count = 1};
    check_true(hw_job_add_coat(job, &coat, now++, &number, NULL) == HW_OK);
}

static void refuses(const char *reason)
{
    hw_lamp_pair pair = only_pair();
    check_true(!pair.known && !pair.present && pair.main.photo > 0 && pair.other.photo > 0);
    check_holds(pair.reason, reason);
}

static void test_states(void)
{
    shot warm = other("bulb", 2, 0);
    new_job("lamps");
    add(&day);
    pass_on("strip");
    add(&warm);
    refuses("a pass was laid on it");
    long again = add(&day); // a photo under the first lamp in this state makes one
    hw_lamp_pair pair = only_pair();
    check_true(pair.known && pair.present && pair.main.photo == again);
    pass_on("other strip"); // on another part: nothing to this one
    check_true(only_pair().present);
    pass_on("strip");
    pair = only_pair();
    check_true(pair.known && !pair.present);

    new_job("lamps");
    add(&day);
    coat_on("rail");
    add(&warm);
    refuses("a sealer coat was laid on the old wood rail between them");

    new_job("lamps");
    shot bare = day, damp = warm;
    bare.state = HW_STATE_BARE;
    damp.state = HW_STATE_DAMP;
    add(&bare);
    add(&damp);
    refuses("strip was bare then and is damp now");

    new_job("lamps");
    shot more = warm;
    more.more_wood = "stile";
    add(&day);
    add(&more);
    refuses("the old wood stile stands beside it");

    new_job("lamps");
    shot apart = warm;
    apart.elsewhere = add(&day);
    add(&apart);
    refuses("its old wood is not in photo");
}

static void test_labels(void)
{
    hw_lamp_pair pair[2];
    new_job("lamps");
    shot unsaid = other(NULL, 0, 0), loud = other("SHOP LAMP", 1, 0);
    add(&unsaid);
    check_true(!hw_job_main_lamp(job, "strip") && hw_job_lamp_pairs(job, "strip", pair, 2) == 0);
    add(&day);
    add(&loud); // capitals make no other lamp
    check_text(hw_job_main_lamp(job, "strip"), "Shop lamp");
    check_true(hw_job_lamp_pairs(job, "strip", pair, 2) == 0);
    check_true(!hw_job_main_lamp(job, "nobody") && !hw_job_main_photo(job, "nobody"));
}

// ---- The photo that advice rests on ------------------------------------------------

static void test_main_photo(void)
{
    new_job("lamps");
    shot warm = other("bulb", 2, 0), unsaid = other(NULL, 0, 0);
    long one = add(&day);
    check_true(hw_job_main_photo(job, "strip")->number == one);
    add(&warm);
    check_true(hw_job_main_photo(job, "strip")->number == one); // the same state: by the main lamp
    long three = add(&unsaid);
    check_true(hw_job_main_photo(job, "strip")->number == three);
    pass_on("strip");
    long four = add(&warm); // another state than under the main lamp
    check_true(hw_job_main_photo(job, "strip")->number == four);
    long five = add(&day);
    check_true(hw_job_main_photo(job, "strip")->number == five);
    add(&warm);
    check_true(hw_job_main_photo(job, "strip")->number == five);
    coat_on("rail");
    long last = hw_job_main_photo(job, "strip")->number;
    check_true(last > five); // whichever it is, it must be photographed again
}

// What cannot be computed is not told, least of all that it holds.
static void test_no_number(void)
{
    const hw_lamp_look plain = {
        .gap = {.u = {0.05, 0.05, 0.05}}, .patch = {50, 12, 25}, .target = {50, 12, 25}};
    hw_lamp_pair whole = {.main = plain, .other = plain};
    hw_lamp_pair no_colour = whole, no_doubt = whole;
    no_colour.other.patch.L = (double)NAN;
    no_doubt.main.gap.u[1] = (double)NAN;
    hw_lamp_pair_fill(&no_colour, true, true);
    hw_lamp_pair_fill(&no_doubt, true, true);
    printf("no colour: %g to %g; no doubt: %g to %g\n", no_colour.de00_low, no_colour.de00_high,
           no_doubt.de00_low, no_doubt.de00_high);
    check_true(no_colour.verdict == HW_LAMP_UNTOLD);
    check_true(no_doubt.verdict == HW_LAMP_UNTOLD);
}

int main(void)
{
    test_index();
    test_verdicts();
    test_shared_doubt();
    test_states();
    test_labels();
    test_main_photo();
    test_no_number();
    hw_job_free(job);
    return check_done();
}
