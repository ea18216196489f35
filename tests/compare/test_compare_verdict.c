// Words and verdicts on constructed pairs.
#include "check.h"
#include "compare_internal.h"

// Directions by sign of L*, a*, b* of patch minus target: common practice, no source (what
// finishers call a cast), written as rows of L a b of the gap from the brown 50 12 25 and the
// words that must come, in any order, with no others.
static void direction(const check_row *row)
{
    hw_lab target = {50, 12, 25};
    hw_lab patch = {target.L + row->num[0], target.a + row->num[1], target.b + row->num[2]};
    hw_difference gap = hw_difference_of(target, patch);
    hw_direction found[HW_DIRECTIONS_MAX];
    size_t count = hw_directions_of(&gap, found);
    size_t wanted = 0;
    for (int i = 3; i < row->columns && row->text[i][0]; i++, wanted++) {
        bool there = false;
        for (size_t k = 0; k < count; k++) {
            there = there || strcmp(hw_direction_words(found[k]), row->text[i]) == 0;
        }
        if (!check_report(there, row->file, row->line, row->text[i])) {
            for (size_t k = 0; k < count; k++) {
                printf("   found: %s\n", hw_direction_words(found[k]));
            }
        }
    }
    check_report(count == wanted, row->file, row->line, "no word too many or too few");
}

static hw_comparison made(hw_kind kind, double de00, double U, double spread)
{
    double u = U / 1.645; // near L* 50 one L* is about one CIEDE2000
    hw_comparison item = {.kind = kind,
                          .target_lab = {50, 12, 25},
                          .patch_lab = {50 + de00, 12, 25},
                          .covariance = hw_covariance_diagonal(u * u, 0.1 * u * u, 0.1 * u * u),
                          .gap = {.de00 = de00, .L = de00},
                          .de00_low = de00 - U,
                          .de00_high = de00 + U,
                          .spread = spread,
                          .spread_ratio = de00 / spread,
                          .tellable = 0.5,
                          .low = {.L = de00 - U},
                          .high = {.L = de00 + U}};
    item.direction_count = hw_directions_of(&item.gap, item.direction);
    return item;
}

static hw_verdict decided(hw_comparison item)
{
    hw_verdict_decide(&item);
    check_true(item.why[0] != 0);
    return item.verdict;
}

// The rules themselves: their limits from both sides.
static void test_let_in(void)
{
    check_true(decided(made(HW_KIND_LET_IN, 0.5, 0.4, 0.7)) == HW_VERDICT_LEAVE);
    check_true(decided(made(HW_KIND_LET_IN, 1.6, 0.3, 2.0)) ==
               HW_VERDICT_LEAVE); // inside the spread
    check_true(decided(made(HW_KIND_LET_IN, 1.6, 0.3, 1.5)) == HW_VERDICT_TONE);
    check_true(decided(made(HW_KIND_LET_IN, 2.1, 0.3, 4.0)) ==
               HW_VERDICT_TONE); // past 2: no spread helps
    // Past both limits: the chance of a step below 1 decides where it is clear, 0.1 here and 0.3 there.
    check_true(decided(made(HW_KIND_LET_IN, 1.8, 1.0, 1.0)) == HW_VERDICT_TONE);
    check_true(decided(made(HW_KIND_LET_IN, 1.3, 1.0, 1.0)) == HW_VERDICT_UNSURE);
    check_true(decided(made(HW_KIND_LET_IN, 5.0, 1.0, 1.0)) == HW_VERDICT_TONE);
    hw_comparison poor = made(HW_KIND_LET_IN, 1.2, 0.5, 0.7);
    poor.tellable = 1.8;
    hw_verdict_decide(&poor);
    check_true(poor.verdict == HW_VERDICT_LEAVE);
    check_holds(poor.why, "cannot tell");
}

static void test_board(void)
{
    check_true(decided(made(HW_KIND_BOARD, 2.0, 0.5, 1.5)) == HW_VERDICT_LEAVE);  // 1.0 to 1.7
    check_true(decided(made(HW_KIND_BOARD, 4.0, 0.5, 1.5)) == HW_VERDICT_TONE);   // 2.3 to 3.0
    check_true(decided(made(HW_KIND_BOARD, 3.0, 0.8, 1.5)) == HW_VERDICT_UNSURE); // 1.47 to 2.53
    check_true(decided(made(HW_KIND_BOARD, 2.85, 0.2, 1.5)) ==
               HW_VERDICT_LEAVE); // 1.9: by the middle
    check_true(decided(made(HW_KIND_BOARD, 3.0, 0.2, 1.5)) ==
               HW_VERDICT_TONE); // 2.0: by the middle
}

// Only pores are missing: no toner.
static void test_ground(void)
{
    hw_comparison item = made(HW_KIND_LET_IN, 3.0, 0.5, 1.0);
    item.ground = (hw_ground){.known = true, .matches = true, .gap = {.de00 = 0.5}};
    hw_verdict_decide(&item);
    check_true(item.verdict == HW_VERDICT_LEAVE);
    check_holds(item.why, "by brush");
}

static void test_stretch_words(void)
{
    static const struct {
        double from, to;
        bool upright;
        const char *words;
    } names[] = {{0, 1, false, "all of it"},
                 {0, 0.5, false, "left half"},
                 {0.5, 1, true, "lower half"},
                 {0, 1.0 / 3, false, "left end"},
                 {2.0 / 3, 1, false, "right end"},
                 {0, 2.0 / 3, true, "upper part"},
                 {1.0 / 3, 2.0 / 3, true, "middle"},
                 {1.0 / 6, 0.5, false, "left of the middle"},
                 {0.5, 5.0 / 6, true, "below the middle"}};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        hw_stretch stretch = {names[i].from, names[i].to, names[i].upright};
        check_text(hw_stretch_words(&stretch), names[i].words);
    }
}

static void test_too_dark(void)
{
    hw_comparison item = made(HW_KIND_LET_IN, 5.0, 0.8, 1.0);
    item.gap.L = -5.0;
    item.low.L = -5.8;
    item.high.L = -4.2;
    hw_verdict_decide(&item);
    check_true(item.verdict == HW_VERDICT_TOO_DARK);
    check_holds(item.why, "dye cannot lighten");
    item.high.L = -1.4; // not surely darker
    item.gap.L = -2.0;
    hw_verdict_decide(&item);
    check_true(item.verdict != HW_VERDICT_TOO_DARK);
    hw_comparison small = made(HW_KIND_BOARD, 1.9, 0.3, 1.9); // darker, but as boards are
    small.high.L = -1.6;
    hw_verdict_decide(&small);
    check_true(small.verdict == HW_VERDICT_LEAVE);
}

static void test_names(void)
{
    for (int i = 0; i < 4; i++) {
        hw_verdict back;
        check_true(hw_verdict_from_name(hw_verdict_name((hw_verdict)i), &back) &&
                   back == (hw_verdict)i);
    }
    hw_verdict none;
    check_true(!hw_verdict_from_name("perfect", &none) && !hw_verdict_from_name(NULL, &none));
    check_holds(hw_size_words(0.4), "Very close");
    check_holds(hw_size_words(1.5), "Close.");
    check_holds(hw_size_words(3.0), "Visible");
    check_holds(hw_size_words(5.0), "Clear");
    check_holds(hw_size_words(8.0), "different colour");
}

int main(void)
{
    check_table("compare/directions.tsv", 4, direction);
    test_let_in();
    test_board();
    test_ground();
    test_stretch_words();
    test_too_dark();
    test_names();
    return check_done();
}
