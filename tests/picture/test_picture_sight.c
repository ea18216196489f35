// Does a repair blend from there? On pictures painted here, with gaps filled in by hand; and from nearer and further off.
#include "check.h"
#include "picture.h"
#include "picture_internal.h"

enum { WIDE = 240, HIGH = 120 };

static const hw_lab old_wood = {45.0, 11.0, 22.0};

static const char marks_text[] =
    "{\"marks\":[{\"role\":\"target\",\"name\":\"left\",\"polygon\":[[0,0],[80,0],[80,120],[0,120]]"
    "},"
    "{\"role\":\"target\",\"name\":\"right\",\"polygon\":[[160,0],[240,0],[240,120],[160,120]]},"
    "{\"role\":\"patch\",\"name\":\"new\",\"polygon\":[[80,0],[160,0],[160,120],[80,120]]},"
    "{\"role\":\"patch\",\"name\":\"speck\",\"polygon\":[[80,0],[84,0],[84,4],[80,4]]},"
    "{\"role\":\"patch\",\"name\":\"one side\",\"beside\":[\"left\"],"
    "\"polygon\":[[80,0],[160,0],[160,120],[80,120]]}]}";

static hw_marks marks;

// Old wood left and right, the repair between them other by `gap`; streaks, s.d. of a factor from pixel to pixel.
static hw_picture wood(const hw_difference *gap, double streaks)
{
    hw_picture made = {WIDE, HIGH, {0, 0, WIDE, HIGH}, 1.0, NULL};
    uint64_t state = 31;
    made.xyz = hw_alloc_array(WIDE * HIGH, 3 * sizeof *made.xyz);
    for (size_t i = 0; i < WIDE * HIGH; i++) {
        bool in = i % WIDE >= 80 && i % WIDE < 160;
        hw_lab lab = old_wood;
        if (in) {
            lab = (hw_lab){lab.L + gap->L, lab.a + gap->a, lab.b + gap->b};
        }
        hw_xyz colour = hw_xyz_from_lab(lab, hw_white_d50);
        double factor = 1.0 + streaks * picture_normal(&state);
        made.xyz[3 * i] = (float)(colour.X * factor);
        made.xyz[3 * i + 1] = (float)(colour.Y * factor);
        made.xyz[3 * i + 2] = (float)(colour.Z * factor);
    }
    return made;
}

static hw_comparison gap_of(const char *patch, const hw_difference *gap, double low, double high)
{
    hw_comparison made = {.gap = *gap, .de00_low = low, .de00_high = high};
    hw_copy_text(made.patch, sizeof made.patch, patch);
    return made;
}

static hw_sight look(const hw_picture *seen, const hw_comparison *gap)
{
    hw_sight out = {0};
    check_true(hw_picture_sight(seen, &marks, gap, &out, NULL) == HW_OK);
    check_text(out.patch, gap->patch);
    return out;
}

// Even wood and an even repair: all of it lies at the gap itself, and at the ends of its range.
static void test_even(void)
{
    hw_difference gap = {.L = 4.0, .a = -2.0, .b = 1.0};
    hw_lab new = {old_wood.L + gap.L, old_wood.a + gap.a, old_wood.b + gap.b};
    gap.de00 = hw_ciede2000(old_wood, new);
    hw_picture made = wood(&gap, 0.0);
    hw_comparison comparison = gap_of("new", &gap, 0.7 * gap.de00, 1.4 * gap.de00);
    hw_sight s = look(&made, &comparison);
    check_true(s.known && s.why_not[0] == 0);
    check_close(s.wood_off, 0.0, 0.002);
    check_close(s.patch_off, gap.de00, 0.002);
    check_close(s.patch_low, 0.7 * gap.de00, 0.005);
    check_close(s.patch_high, 1.4 * gap.de00, 0.005);
    check_close(s.beyond, 1.0, 0.0);
    check_true(s.verdict == HW_SIGHT_SHOWS);
    comparison = gap_of("new", &gap, 0.3, 1.4 * gap.de00); // below what can be told, and far above
    check_true(look(&made, &comparison).verdict == HW_SIGHT_UNTOLD);
    hw_picture_free(&made);

    // No gap at all: the range is laid out along L*.
    const hw_difference none = {0};
    made = wood(&none, 0.0);
    comparison = gap_of("new", &none, 0.0, 0.8);
    s = look(&made, &comparison);
    check_close(s.patch_off, 0.0, 0.002);
    check_close(s.patch_high, 0.8, 0.005);
    check_true(s.verdict == HW_SIGHT_BLENDS);
    comparison = gap_of("new", &none, 0.0, 1.3);
    check_true(look(&made, &comparison).verdict == HW_SIGHT_UNTOLD);
    hw_picture_free(&made);
}

static int by_size(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

// The definition, by sorting all of the old wood.
static double wood_off(const hw_picture *seen)
{
    static double off[WIDE * HIGH];
    hw_xyz sum = {0, 0, 0};
    size_t n = 0;
    for (int round = 0; round < 2; round++) {
        hw_xyz mean = {sum.X / (double)n, sum.Y / (double)n, sum.Z / (double)n};
        n = 0;
        for (size_t i = 0; i < WIDE * HIGH; i++) {
            if (i % WIDE >= 80 && i % WIDE < 160) {
                continue;
            }
            hw_xyz one = hw_pixel_xyz(seen->xyz + 3 * i);
            sum = (hw_xyz){sum.X + one.X, sum.Y + one.Y, sum.Z + one.Z};
            off[n++] = round ? hw_ciede2000(hw_lab_from_xyz(mean, hw_white_d50),
                                            hw_lab_from_xyz(one, hw_white_d50))
                             : 0.0;
        }
    }
    qsort(off, n, sizeof *off, by_size);
    return off[(size_t)(0.95 * (double)n)];
}

static void test_streaked(void)
{
    const hw_difference none = {0};
    hw_difference little = {.L = 2.0, .de00 = 1.9}, much = {.L = 14.0, .de00 = 13.0};
    hw_picture made = wood(&none, 0.1);
    hw_comparison comparison = gap_of("new", &none, 0.0, 0.4);
    hw_sight s = look(&made, &comparison);
    check_close(s.wood_off, wood_off(&made), 0.02);
    check_close(s.beyond, 0.05, 0.015); // as the old wood itself
    check_close(s.patch_off, s.wood_off, 0.3);
    check_true(s.patch_low <= s.patch_off && s.patch_off <= s.patch_high);
    hw_picture_free(&made);
    made = wood(&much, 0.1);
    comparison = gap_of("new", &much, 12.0, 14.0);
    s = look(&made, &comparison);
    check_true(s.verdict == HW_SIGHT_SHOWS && s.beyond > 0.9);
    hw_picture_free(&made);
    // A little lighter in streaky wood: near at hand its streaks hide it, from afar they are mixed and do not.
    made = wood(&little, 0.15);
    comparison = gap_of("new", &little, 1.6, 2.2);
    s = look(&made, &comparison);
    check_true(s.wood_off > 3.0 && s.beyond < 0.12);
    check_true(hw_picture_see(&made, 20.0, NULL, NULL) == HW_OK);
    hw_sight far = look(&made, &comparison);
    check_true(far.wood_off < s.wood_off && far.beyond > s.beyond);
    hw_picture_free(&made);
}

static void test_unknown(void)
{
    const hw_difference none = {0};
    hw_picture made = wood(&none, 0.05);
    hw_comparison one = gap_of("speck", &none, 0.0, 0.5);
    hw_sight s = look(&made, &one);
    check_true(!s.known && s.verdict == HW_SIGHT_UNTOLD);
    check_holds(s.why_not, "too small");
    one = gap_of("nowhere", &none, 0.0, 0.5);
    check_holds(look(&made, &one).why_not, "not marked");
    one = gap_of("new", &none, 0.0, 0.5);
    one.elsewhere = 3;
    check_holds(look(&made, &one).why_not, "another photo");
    one.elsewhere = 0;
    one.before_coats = true;
    check_holds(look(&made, &one).why_not, "coats");
    one.before_coats = false;
    one.de00_high = NAN;
    check_holds(look(&made, &one).why_not, "not known");
    one = gap_of("one side", &none, 0.0, 0.5);
    check_true(look(&made, &one).known);
    made.width = made.height = 1; // from very far
    one = gap_of("new", &none, 0.0, 0.5);
    check_holds(look(&made, &one).why_not, "too small");
    hw_picture_free(&made);
    check_text(hw_sight_name(HW_SIGHT_UNTOLD), "untold");
    check_text(hw_sight_name(HW_SIGHT_BLENDS), "blends");
    check_text(hw_sight_name(HW_SIGHT_SHOWS), "shows");
}

int main(void)
{
    hw_warnings warnings = {0};
    check_true(hw_marks_parse(marks_text, strlen(marks_text), "marks", NULL, &marks, &warnings,
                              NULL) == HW_OK);
    test_even();
    test_streaked();
    test_unknown();
    hw_marks_free(&marks);
    return check_done();
}
