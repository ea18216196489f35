// Step boards and dyes as text and JSON.
#include "check.h"
#include "report_internal.h"

static hw_strip strip_of(double passes, bool coated, double L)
{
    return (hw_strip){
        .passes = passes, .coated = coated, .lab = {L, 12, 28}, .fitted = {L, 12, 28}, .off = 0.1};
}

static hw_board board_made(hw_strip *strips)
{
    strips[0] = strip_of(0, false, 62);
    strips[1] = strip_of(1, false, 60);
    strips[2] = strip_of(2, false, 53);
    strips[3] = strip_of(3, false, 56);
    strips[4] = strip_of(0, true, 59);
    strips[5] = strip_of(2, true, 55);
    strips[2].out_of_line = true;
    strips[2].deviate = 4.0;
    snprintf(strips[2].why, sizeof strips[2].why, "darker than the other strips say");
    return (hw_board){.dye = "walnut\033[2J",
                      .strip = strips,
                      .count = 6,
                      .density = {0.06, 0.08, 0.11},
                      .exponent = 0.8,
                      .u_exponent = 0.05,
                      .saturates = true,
                      .has_coat = true,
                      .coat_shift = {-3, 1, 2},
                      .under_coat_count = 1,
                      .under_coat = 1.1,
                      .u_under_coat = 0.1};
}

static hw_dye dye_made(void)
{
    hw_dye dye = hw_dye_guess(HW_FAMILY_BROWN);
    snprintf(dye.name, sizeof dye.name, "walnut");
    dye.guess = false;
    dye.has_wood = true;
    dye.wood = (hw_lab){62, 12, 28};
    dye.board_passes = 3;
    dye.exponent = 0.8;
    dye.u_exponent = 0.05;
    dye.u_strength = 0.07;
    dye.tool = HW_TOOL_PAD;
    return dye;
}

static void board_text(void)
{
    hw_strip strips[6];
    hw_board board = board_made(strips);
    hw_dye dye = dye_made();
    hw_dye_change change = HW_DYE_ADDED;
    hw_report_style style = {0};
    hw_warnings warnings = {0};
    char *out = NULL;
    hw_warn(&warnings, "The light falls off.");
    if (!check_true(hw_report_boards_text(&board, &dye, &change, 1, &warnings, &style, &out,
                                          NULL) == HW_OK)) {
        return;
    }
    check_holds(out, "note: The light falls off.\n");
    check_holds(out, "walnut?[2J (brown): added to the shelf; strength known within about 12 %");
    check_holds(out, "    no toner: L* 62.0 a* 12.0 b* 28.0\n");
    check_holds(out, "    1 pass: L* 60.0, fit 60.0, in line (0.1 off)\n");
    check_holds(out,
                "    2 passes: L* 53.0, fit 53.0, OUT OF LINE, not used (0.1 off): darker than");
    check_holds(out, "    under the clear coat, 2 passes: L* 55.0");
    check_holds(out, "later passes do less: the dye goes into the wood");
    check_holds(out, "(exponent 0.80 ± 0.08)");
    check_holds(out, "the clear coat alone: darker by 3.0, redder by 1.0, yellower by 2.0");
    check_holds(out, "under it the dye does what it does bare");
    check_holds(out, "next: look at what is out of line");
    hw_report_free(out);
    style.quiet = true;
    check_true(hw_report_boards_text(&board, &dye, &change, 1, &warnings, &style, &out, NULL) ==
               HW_OK);
    check_text(out, "walnut?[2J (brown): added to the shelf; strength known within about 12 %\n");
    hw_report_free(out);
}

static void board_json(void)
{
    hw_strip strips[6];
    hw_board board = board_made(strips);
    hw_dye dye = dye_made();
    hw_dye_change change = HW_DYE_REPLACED;
    char *out = NULL;
    hw_json *root = NULL;
    bool answer = true;
    double number = 0.0;
    board.has_coat = false; // the coated strip of 2 passes is not fitted then
    board.under_coat_count = 0;
    if (!check_true(hw_report_boards_json(&board, &dye, &change, 1, NULL, &out, NULL) == HW_OK) ||
        !check_true(hw_json_parse(out, strlen(out), NULL, "text", &root, NULL) == HW_OK)) {
        return;
    }
    hw_report_free(out);
    const hw_json *told = hw_json_first(hw_json_member(root, "boards"));
    check_text(hw_json_member_text(told, "change"), "replaced");
    check_text(hw_json_member_text(told, "tool"), "pad");
    check_true(hw_json_count(hw_json_member(told, "covariance")) == 6);
    check_true(hw_json_is_null(hw_json_member(told, "coat_shift")) &&
               hw_json_is_null(hw_json_member(told, "under_coat")) &&
               hw_json_is_null(hw_json_member(told, "learned_at")));
    check_true(hw_json_bool(hw_json_member(told, "saturates"), &answer) && answer);
    const hw_json *list = hw_json_member(told, "strips");
    check_true(hw_json_count(list) == 6);
    check_true(hw_json_bool(hw_json_member(hw_json_item(list, 2), "in_line"), &answer) && !answer);
    check_true(hw_json_member_number(hw_json_item(list, 2), "deviate", &number) && number == 4.0);
    check_true(hw_json_is_null(hw_json_member(hw_json_item(list, 5), "fitted")));
    check_true(hw_json_count(hw_json_member(root, "warnings")) == 0);
    hw_json_free(root);
}

static void words(void)
{
    static const struct {
        double exponent, u;
        const char *words;
    } rows[] = {{1.0, 0.1, "passes add"},
                {0.85, 0.10, "passes add"}, // may still be 1
                {0.85, 0.05, "later passes do less"},
                {1.2, 0.05, "later passes do more"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        hw_text text = {0};
        hw_report_add_law(&text, rows[i].exponent, rows[i].u);
        check_holds(text.bytes, rows[i].words);
        hw_text_free(&text);
    }
    hw_dye dye = dye_made();
    char *out = NULL;
    check_true(hw_report_dye_text(&dye, HW_DYE_CHANGED, &out, NULL) == HW_OK);
    check_holds(out, "walnut: was on the shelf: changed there.");
    check_holds(out, "laid by pad");
    hw_report_free(out);
    dye = hw_dye_guess(HW_FAMILY_RED);
    dye.u_strength = 0.7;
    check_true(hw_report_dye_text(&dye, HW_DYE_ADDED, &out, NULL) == HW_OK);
    check_holds(out, "strength hardly known");
    check_holds(out, "GUESS");
    hw_report_free(out);
    check_true(hw_report_removed_text("red", 1, &out, NULL) == HW_OK);
    check_text(out,
               "red: taken off the shelf, and with it what was seen of it in 1 logged pass.\n");
    hw_report_free(out);
}

static void memory(void)
{
    hw_strip strips[6];
    hw_board board = board_made(strips);
    hw_dye dye = dye_made();
    hw_dye_change change = HW_DYE_ADDED;
    for (int json = 0; json < 2; json++) {
        bool done = false;
        for (long n = 0; n < 2000 && !done; n++) {
            char *out = NULL;
            hw_test_fail_alloc(n);
            hw_status status =
                json ? hw_report_boards_json(&board, &dye, &change, 1, NULL, &out, NULL)
                     : hw_report_boards_text(&board, &dye, &change, 1, NULL, NULL, &out, NULL);
            hw_test_fail_alloc(-1);
            done = status == HW_OK;
            check_true(done || (status == HW_ERR_STORAGE && !out));
            hw_report_free(out);
        }
        check_true(done);
    }
}

int main(void)
{
    board_text();
    board_json();
    words();
    memory();
    return check_done();
}
