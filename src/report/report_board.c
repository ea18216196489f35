// report_board.c: what a step board taught: each strip against the fit, then the law of the passes, how sure
// it is, and what to do next.
#include "report_internal.h"

#include <math.h>

static const double unsure_from = 0.18; // s.d. of ln strength: more strips would help (chosen)

// ---- Words -------------------------------------------------------------------------

static bool was_fitted(const hw_board *board, const hw_strip *strip)
{
    return strip->passes > 0.0 && (!strip->coated || board->has_coat);
}

static void add_strip(hw_text *text, const hw_board *board, const hw_strip *strip)
{
    hw_text_add(text, "    %s", strip->coated ? "under the clear coat, " : "");
    if (strip->passes == 0.0) {
        hw_text_add(text, "no toner: L* %.1f a* %.1f b* %.1f\n", strip->lab.L, strip->lab.a,
                    strip->lab.b);
        return;
    }
    hw_text_add(text, "%.0f pass%s: L* %.1f", strip->passes, strip->passes == 1.0 ? "" : "es",
                strip->lab.L);
    if (!was_fitted(board, strip)) {
        hw_text_add(text, ", %s\n", strip->why);
        return;
    }
    hw_text_add(text, ", fit %.1f, ", strip->fitted.L);
    if (strip->out_of_line) {
        hw_text_add(text, "OUT OF LINE, not used (%.1f off): %s\n", strip->off, strip->why);
    } else if (strip->why[0]) {
        hw_text_add(text, "%.1f off: %s\n", strip->off, strip->why);
    } else {
        hw_text_add(text, "in line (%.1f off)\n", strip->off);
    }
}

static size_t count_fitted(const hw_board *board, bool out_of_line)
{
    size_t count = 0;
    for (size_t i = 0; i < board->count; i++) {
        const hw_strip *strip = &board->strip[i];
        count += !strip->coated && strip->passes > 0.0 && strip->out_of_line == out_of_line;
    }
    return count;
}

static void add_law(hw_text *text, const hw_board *board)
{
    if (count_fitted(board, false) == 1) {
        hw_text_add(text,
                    "one strip cannot show whether passes add: it is taken that they do "
                    "(exponent %.2f ± %.2f)",
                    board->exponent, HW_NINETY * board->u_exponent);
    } else {
        hw_report_add_law(text, board->exponent, board->u_exponent);
    }
    if (board->first_differs) {
        hw_text_add(text, "; the first pass differs from the later ones");
    }
}

static void add_coat(hw_text *text, const hw_board *board)
{
    if (!board->has_coat) {
        return;
    }
    hw_text_add(text, "    the clear coat alone: ");
    hw_report_add_change(text, board->coat_shift.L, board->coat_shift.a, board->coat_shift.b);
    if (board->under_coat_count > 0) {
        double half = HW_NINETY * board->u_under_coat;
        bool alike = fabs(board->under_coat - 1.0) <= half;
        hw_text_add(text, "; under it the dye does %s (%.2f ± %.2f of what it does bare)",
                    alike                     ? "what it does bare, as far as the board tells"
                    : board->under_coat < 1.0 ? "less"
                                              : "more",
                    board->under_coat, fmax(half, 0.01));
    }
    hw_text_add(text, "\n");
}

static void add_next(hw_text *text, const hw_board *board, const hw_dye *dye)
{
    if (count_fitted(board, true) > 0) {
        hw_text_add(text, "    next: look at what is out of line; lay it anew and read the "
                          "board again, or use the dye as it is with huewright advise\n");
    } else if (dye->u_strength > unsure_from) {
        hw_text_add(text,
                    "    next: use it with huewright advise; a board with more strips, or a white "
                    "and a black step beside the card, makes it surer\n");
    } else {
        hw_text_add(text, "    next: use it with huewright advise\n");
    }
}

static void add_board(hw_text *text, const hw_board *board, const hw_dye *dye, hw_dye_change change,
                      const hw_report_style *style)
{
    hw_report_add_clean(text, board->dye);
    hw_text_add(text, " (%s): ", hw_family_name(dye->family));
    hw_text_add(text, "%s; ", hw_report_change_words(change));
    hw_report_add_sureness(text, dye);
    hw_text_add(text, "\n");
    if (style && style->quiet) {
        return;
    }
    for (size_t i = 0; i < board->count; i++) {
        add_strip(text, board, &board->strip[i]);
    }
    hw_text_add(text, "    ");
    add_law(text, board);
    hw_text_add(text, "\n    one pass at full strength on this wood: ");
    hw_report_add_one_pass(text, dye, dye->wood);
    hw_text_add(text, "\n");
    hw_report_add_made(text, &dye->made);
    add_coat(text, board);
    add_next(text, board, dye);
}

hw_status hw_report_boards_text(const hw_board *board, const hw_dye *dye,
                                const hw_dye_change *change, size_t count,
                                const hw_warnings *warnings, const hw_report_style *style,
                                char **out, hw_error *err)
{
    hw_text text = {0};
    if (warnings && !(style && style->quiet)) {
        hw_report_add_warnings(&text, warnings);
    }
    for (size_t i = 0; i < count; i++) {
        add_board(&text, &board[i], &dye[i], change[i], style);
    }
    return hw_report_finish(&text, out, err);
}

// ---- JSON --------------------------------------------------------------------------

static void add_strip_json(hw_json *list, const hw_board *board, const hw_strip *strip)
{
    hw_json *told = hw_json_add_object(list, NULL);
    hw_json_add_number(told, "passes", strip->passes);
    hw_json_add_bool(told, "coated", strip->coated);
    hw_report_json_lab(told, "lab", strip->lab);
    if (was_fitted(board, strip)) {
        hw_report_json_lab(told, "fitted", strip->fitted);
        hw_json_add_rounded(told, "off", strip->off, 3);
        hw_json_add_rounded(told, "deviate", strip->deviate, 2);
    } else {
        hw_json_add_null(told, "fitted");
        hw_json_add_null(told, "off");
        hw_json_add_null(told, "deviate");
    }
    hw_json_add_bool(told, "in_line", !strip->out_of_line);
    hw_json_add_text(told, "why", strip->why);
}

static void add_board_json(hw_json *list, const hw_board *board, const hw_dye *dye,
                           hw_dye_change change)
{
    hw_json *told = hw_json_add_object(list, NULL);
    hw_report_json_text(told, "dye", board->dye);
    hw_json_add_text(told, "change", hw_dye_change_name(change));
    hw_report_json_dye(told, dye);
    hw_json *strips = hw_json_add_array(told, "strips");
    for (size_t i = 0; i < board->count; i++) {
        add_strip_json(strips, board, &board->strip[i]);
    }
    hw_json_add_bool(told, "saturates", board->saturates);
    hw_json_add_bool(told, "first_differs", board->first_differs);
    hw_json_add_rounded(told, "fit_off", board->fit_off, 3);
    if (board->has_coat) {
        hw_report_json_lab(told, "coat_shift", board->coat_shift);
    } else {
        hw_json_add_null(told, "coat_shift");
    }
    if (board->under_coat_count > 0) {
        hw_json *under = hw_json_add_object(told, "under_coat");
        hw_json_add_rounded(under, "strength", board->under_coat, 4);
        hw_json_add_rounded(under, "u", board->u_under_coat, 4);
        hw_json_add_number(under, "strips", (double)board->under_coat_count);
    } else {
        hw_json_add_null(told, "under_coat");
    }
}

hw_status hw_report_boards_json(const hw_board *board, const hw_dye *dye,
                                const hw_dye_change *change, size_t count,
                                const hw_warnings *warnings, char **out, hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_json *boards = hw_json_add_array(root, "boards");
    const hw_warnings none = {0};
    for (size_t i = 0; i < count; i++) {
        add_board_json(boards, &board[i], &dye[i], change[i]);
    }
    hw_report_json_warnings(root, warnings ? warnings : &none);
    return hw_report_json_finish(root, out, err);
}
