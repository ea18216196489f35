// report_rulers.c: a gap at a glance. Three rulers of one scale, so that their lengths can be compared: darker to lighter,
// greener to redder, bluer to yellower. Their middle is the old wood's mean; hatched is where 9 of 10 pieces of the old
// wood lie (1.645 standard deviations to both sides); the repair is a dark mark with its 90 % range, where it stood before
// an empty one. What is off the ruler is an arrow at its end. And old wood and repair as two fields that touch.
#include "report_internal.h"

#include <math.h>

static const double margin = 8.0;
static const hw_letters plain = {HW_DRAWING_PLAIN, false, NULL},
                        strong = {HW_DRAWING_PLAIN, true, NULL},
                        small = {HW_DRAWING_SMALL, false, hw_draw_soft};

static const char *const less[3] = {"darker", "greener", "bluer"}, *const more[3] = {"lighter",
                                                                                     "redder",
                                                                                     "yellower"};

// One ruler in numbers; NaN: not known.
typedef struct ruler {
    double value, low, high, spread, last;
} ruler;

static ruler ruler_of(const hw_rulers *rulers, int axis)
{
    const hw_comparison *gap = rulers->gap;
    const double value[3] = {gap->gap.L, gap->gap.a, gap->gap.b},
                 low[3] = {gap->low.L, gap->low.a, gap->low.b},
                 high[3] = {gap->high.L, gap->high.a, gap->high.b};
    double last = (double)NAN;
    if (rulers->last) {
        const double was[3] = {rulers->last->L, rulers->last->a, rulers->last->b};
        last = was[axis];
    }
    return (ruler){value[axis], low[axis], high[axis], HW_NINETY * gap->spread_axis[axis], last};
}

// Units from the middle to both ends: the shortest ruler that shows all, up to twelve, beyond which it is hardly the same
// wood any more (chosen).
static double reach_of(const hw_rulers *rulers)
{
    static const double lengths[] = {4.0, 6.0, 8.0, 12.0};
    double most = 0.0;
    for (int axis = 0; axis < 3; axis++) {
        ruler one = ruler_of(rulers, axis);
        most = fmax(most, fmax(fabs(one.value), fabs(one.last)));
        most = fmax(most, fmax(fabs(one.low), fabs(one.high)));
        most = fmax(most, one.spread);
    }
    for (size_t i = 0; i < sizeof lengths / sizeof *lengths; i++) {
        if (most <= 0.97 * lengths[i]) {
            return lengths[i];
        }
    }
    return lengths[3];
}

static const char *middle_words(const hw_comparison *gap)
{
    return gap->before_coats ? "as it must be before the coats" : "old wood";
}

static void add_gap_words(hw_text *text, const hw_comparison *gap)
{
    hw_text_add(text, "%s: ",
                gap->before_coats ? "Off what it must be before the coats" : "Off the old wood");
    hw_report_add_size(text, gap->gap.de00, gap->de00_low, gap->de00_high);
    hw_text_add(text, ".");
}

static void add_title(hw_text *text, const hw_comparison *gap)
{
    hw_report_add_clean(text, gap->patch);
    if (gap->direction_count > 0) {
        hw_text_add(text, ": ");
        hw_report_add_directions(text, gap);
    }
}

// ---- As a drawing ------------------------------------------------------------------

static const double middle = HW_DRAWING_WIDTH / 2.0, half_length = 162.0;

static double place_of(double value, double reach)
{
    return middle + half_length * fmin(fmax(value / reach, -1.0), 1.0);
}

static void draw_peg(hw_drawing *drawing, double x, double y, bool now)
{
    const double size = 6.5;
    const double corner[] = {x, y - size, x + size, y, x, y + size, x - size, y};
    hw_draw_shape(drawing, corner, 4, now ? hw_draw_ink : hw_draw_paper,
                  now ? hw_draw_paper : hw_draw_soft, now ? 1.0 : 1.5);
}

// The ruler ends before it: an arrow out of it.
static void draw_beyond(hw_drawing *drawing, double value, double y, bool now)
{
    double way = value > 0.0 ? 1.0 : -1.0, x = middle + way * half_length;
    const double corner[] = {x - way * 4.0, y - 7.0, x + way * 11.0, y, x - way * 4.0, y + 7.0};
    hw_draw_shape(drawing, corner, 3, now ? hw_draw_ink : hw_draw_paper,
                  now ? hw_draw_ink : hw_draw_soft, 1.5);
}

static void draw_mark(hw_drawing *drawing, double value, double reach, double y, bool now)
{
    if (!isfinite(value)) {
        return;
    }
    if (fabs(value) > reach) {
        draw_beyond(drawing, value, y, now);
    } else {
        draw_peg(drawing, place_of(value, reach), y, now);
    }
}

static void draw_range(hw_drawing *drawing, double low, double high, double reach, double y)
{
    if (!isfinite(low) || !isfinite(high) || low > reach || high < -reach) {
        return;
    }
    double from = place_of(low, reach), to = place_of(high, reach);
    hw_draw_stroke(drawing, from, y, to, y, hw_draw_ink, 3.0);
    if (low >= -reach) {
        hw_draw_stroke(drawing, from, y - 4.5, from, y + 4.5, hw_draw_ink, 1.6);
    }
    if (high <= reach) {
        hw_draw_stroke(drawing, to, y - 4.5, to, y + 4.5, hw_draw_ink, 1.6);
    }
}

static void draw_ruler(hw_drawing *drawing, const hw_rulers *rulers, int axis, double reach)
{
    ruler one = ruler_of(rulers, axis);
    double top = drawing->y + 8.0, y = top + 28.0;
    double spread = isfinite(one.spread) ? fmin(fmax(one.spread, 0.0), reach) : 0.0;
    hw_draw_line_of(drawing, margin, top + 12.0, HW_SIDE_START, small, less[axis]);
    hw_draw_line_of(drawing, HW_DRAWING_WIDTH - margin, top + 12.0, HW_SIDE_END, small, more[axis]);
    if (axis == 0) {
        hw_draw_line_of(drawing, middle, top + 12.0, HW_SIDE_MIDDLE, small,
                        middle_words(rulers->gap));
    }
    double from = place_of(-spread, reach), to = place_of(spread, reach);
    hw_draw_hatched(drawing, (hw_area){from, y - 9.0, to - from, 18.0});
    hw_draw_stroke(drawing, middle - half_length, y, middle + half_length, y, hw_draw_soft, 1.0);
    for (double tick = 1.0 - reach; tick < reach; tick += 1.0) {
        double x = place_of(tick, reach);
        hw_draw_stroke(drawing, x, y, x, y + 4.0, hw_draw_soft, 0.8);
    }
    hw_draw_stroke(drawing, middle, y - 12.0, middle, y + 12.0, hw_draw_ink, 1.6);
    draw_mark(drawing, one.last, reach, y, false);
    draw_range(drawing, one.low, one.high, reach, y);
    draw_mark(drawing, one.value, reach, y, true);
    drawing->y = y + 10.0;
    hw_text words = {0};
    hw_report_add_component(&words, rulers->gap, axis);
    hw_draw_words(drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, plain, hw_text_words(&words));
    drawing->body.failed |= words.failed;
    hw_text_free(&words);
}

// What each sign means, with the sign itself.
static void draw_legend(hw_drawing *drawing, const hw_rulers *rulers)
{
    const double sign = 22.0, words = 42.0, width = HW_DRAWING_WIDTH - 42.0 - 8.0;
    char last[128];
    drawing->y += 8.0;
    hw_draw_stroke(drawing, margin, drawing->y, HW_DRAWING_WIDTH - margin, drawing->y,
                   hw_draw_faint, 1.0);
    drawing->y += 6.0;
    double y = drawing->y + 9.0;
    hw_draw_stroke(drawing, sign - 13.0, y, sign + 13.0, y, hw_draw_ink, 3.0);
    draw_peg(drawing, sign, y, true);
    hw_draw_words(drawing, words, width, small, "the repair; the range holds it 9 times in 10");
    if (rulers->last) {
        draw_peg(drawing, sign, drawing->y + 9.0, false);
        hw_format_text(last, sizeof last, "where it stood in photo %ld", rulers->last_photo);
        hw_draw_words(drawing, words, width, small, last);
    }
    hw_draw_hatched(drawing, (hw_area){sign - 13.0, drawing->y + 3.0, 26.0, 12.0});
    hw_draw_words(drawing, words, width, small, "the old wood: 9 of 10 pieces of it lie in there");
    hw_draw_words(
        drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, small,
        "From tick to tick is 1 unit of lightness or colour (CIE L*a*b*), on all three alike.");
}

// "In photo 18, lid, shop lamp."
static void add_source(hw_text *text, const hw_rulers *rulers)
{
    if (rulers->source && rulers->source[0]) {
        hw_text_add(text, " In ");
        hw_report_add_clean(text, rulers->source);
        hw_text_add(text, ".");
    }
}

hw_status hw_report_rulers_svg(const hw_rulers *rulers, char **out, hw_error *err)
{
    hw_drawing drawing = {0};
    hw_text title = {0}, words = {0}, desc = {0};
    add_title(&title, rulers->gap);
    add_gap_words(&words, rulers->gap);
    add_source(&words, rulers);
    hw_draw_heading(&drawing, hw_text_words(&title));
    hw_draw_paragraph(&drawing, hw_text_words(&words));
    double reach = reach_of(rulers);
    for (int axis = 0; axis < 3; axis++) {
        draw_ruler(&drawing, rulers, axis, reach);
    }
    draw_legend(&drawing, rulers);
    hw_text_add(&desc, "%s The repair beside the old wood: ", hw_text_words(&words));
    hw_report_add_components(&desc, rulers->gap);
    drawing.body.failed |= title.failed || words.failed || desc.failed;
    hw_status status =
        hw_draw_finish(&drawing, hw_text_words(&title), hw_text_words(&desc), out, err);
    hw_text_free(&title);
    hw_text_free(&words);
    hw_text_free(&desc);
    return status;
}

// ---- As text -----------------------------------------------------------------------

enum { CELLS = 33, INDENT = 11 }; // odd: the old wood has its own one

static void add_ruler(hw_text *text, const hw_rulers *rulers, int axis, double reach)
{
    ruler one = ruler_of(rulers, axis);
    hw_cells row = hw_cells_of(CELLS, -reach, reach);
    hw_cells_fill(&row, -one.spread, one.spread, "░");
    hw_cells_fill(&row, 0.0, 0.0, "│");
    hw_cells_fill(&row, one.low, one.high, "━");
    hw_cells_fill(&row, one.last, one.last, "◇");
    hw_cells_fill(&row, one.value, one.value,
                  fabs(one.value) <= reach ? "◆"
                  : one.value > 0.0        ? "▶"
                                           : "◀");
    hw_text_add(text, "  %8s ", less[axis]);
    hw_cells_add(text, &row);
    hw_text_add(text, " %s\n%*s", more[axis], INDENT, "");
    hw_report_add_component(text, rulers->gap, axis);
    hw_text_add(text, "\n");
}

static void add_legend(hw_text *text, const hw_rulers *rulers)
{
    hw_text_add(text, "%*s│ %s   ░ its own spread\n", INDENT, "", middle_words(rulers->gap));
    hw_text_add(text, "%*s◆ the repair   ━ its 90 %% range", INDENT, "");
    if (rulers->last) {
        hw_text_add(text, "   ◇ in photo %ld", rulers->last_photo);
    }
    hw_text_add(text, "\n");
}

hw_status hw_report_rulers_text(const hw_rulers *rulers, const hw_report_style *style, char **out,
                                hw_error *err)
{
    hw_text text = {0}, title = {0}, words = {0};
    double reach = reach_of(rulers);
    add_title(&title, rulers->gap);
    add_gap_words(&words, rulers->gap);
    add_source(&words, rulers);
    hw_report_add_lines(&text, 0, &title);
    hw_report_add_lines(&text, 2, &words);
    for (int axis = 0; axis < 3; axis++) {
        add_ruler(&text, rulers, axis, reach);
    }
    if (!style || !style->quiet) {
        add_legend(&text, rulers);
    }
    hw_text_free(&title);
    hw_text_free(&words);
    return hw_report_finish(&text, out, err);
}

// ---- Two fields --------------------------------------------------------------------

// Touching, on a neutral grey, for the reasons in report_colour.c.
hw_status hw_report_swatches_svg(const hw_comparison *gap, char **out, hw_error *err)
{
    const double field = 140.0, edge = 40.0, height = 130.0;
    hw_drawing drawing = {0};
    hw_text title = {0}, words = {0};
    add_title(&title, gap);
    add_gap_words(&words, gap);
    hw_draw_heading(&drawing, hw_text_words(&title));
    double top = drawing.y;
    hw_draw_fill(&drawing, (hw_area){0.0, top, HW_DRAWING_WIDTH, height + 48.0}, hw_draw_grey);
    hw_draw_fill(&drawing, (hw_area){edge, top + 24.0, field, height}, gap->target_lab);
    hw_draw_fill(&drawing, (hw_area){edge + field, top + 24.0, field, height}, gap->patch_lab);
    drawing.y = top + height + 48.0 + 16.0;
    hw_draw_line_of(&drawing, edge + field / 2.0, drawing.y, HW_SIDE_MIDDLE, strong,
                    gap->before_coats ? "to be, before coats" : "old wood");
    hw_draw_line_of(&drawing, edge + 1.5 * field, drawing.y, HW_SIDE_MIDDLE, strong, "repair");
    drawing.y += 6.0;
    hw_draw_paragraph(&drawing, hw_text_words(&words));
    hw_draw_words(&drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, small,
                  "Mean colours. A screen or a print shows them only nearly: the words count.");
    drawing.body.failed |= title.failed || words.failed;
    hw_status status =
        hw_draw_finish(&drawing, hw_text_words(&title), hw_text_words(&words), out, err);
    hw_text_free(&title);
    hw_text_free(&words);
    return status;
}
