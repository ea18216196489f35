// report_path.c: where a repair stood and what passes are foreseen to do, for the shop: lightness over passes, and redness and yellowness with the way
// that the passes go; words and numbers below. Hatched is the old wood as in the rulers (1.645 standard deviations to both
// sides). Ranges are what 9 of 10 such passes do, taken weakly and taken strongly.
#include "report_internal.h"

#include <math.h>

static const double margin = 8.0;
static const hw_letters strong = {HW_DRAWING_PLAIN, true, NULL},
                        small = {HW_DRAWING_SMALL, false, hw_draw_soft},
                        number = {HW_DRAWING_SMALL, true, NULL};

// From the colour now: what the passes leave if each does little, and if each does much.
hw_lab hw_report_weak_end(const hw_path *path, size_t step)
{
    return hw_tone_under(path->step[0].after.lab, path->step[step].least);
}

hw_lab hw_report_strong_end(const hw_path *path, size_t step)
{
    return hw_tone_under(path->step[0].after.lab, path->step[step].most);
}

// The places of a path, in their order: where it stood, where it stands, where passes bring it.
static size_t places_of(const hw_path *path)
{
    return path->earlier_count + path->count;
}

static bool is_past(const hw_path *path, size_t place)
{
    return place < path->earlier_count;
}

static hw_lab lab_at(const hw_path *path, size_t place)
{
    return is_past(path, place) ? path->earlier[place].lab
                                : path->step[place - path->earlier_count].after.lab;
}

// Passes that lay on it, "now", or passes to come: those behind a plus where there are both.
static void name_place(const hw_path *path, size_t place, char *out, size_t size)
{
    int passes = is_past(path, place) ? path->earlier[place].passes
                                      : path->step[place - path->earlier_count].passes;
    if (place == path->earlier_count) {
        hw_copy_text(out, size, "now");
        return;
    }
    hw_format_text(out, size, "%s%d", path->earlier_count > 0 && !is_past(path, place) ? "+" : "",
                   passes);
}

// Ends of its range in lightness.
static void ends_at(const hw_path *path, size_t place, double *low, double *high)
{
    if (is_past(path, place)) {
        double reach = HW_NINETY * path->earlier[place].u;
        *low = path->earlier[place].lab.L - reach;
        *high = path->earlier[place].lab.L + reach;
        return;
    }
    *low = hw_report_strong_end(path, place - path->earlier_count).L;
    *high = hw_report_weak_end(path, place - path->earlier_count).L;
}

static bool is_known(hw_lab lab)
{
    return isfinite(lab.L) && isfinite(lab.a) && isfinite(lab.b);
}

static const char *aim_words(const hw_path *path)
{
    return path->gap.before_coats ? "aim before coats" : "old wood";
}

// ---- A span of numbers ---------------------------------------------------------------

typedef struct span {
    double low, high;
} span;

// What no colour can be is left out.
static void take_in(span *all, double value)
{
    if (fabs(value) < 1e3) {
        all->low = fmin(all->low, value);
        all->high = fmax(all->high, value);
    }
}

// At least so wide, with some air at both ends.
static void widen(span *all, double least)
{
    if (!(all->high >= all->low)) {
        *all = (span){0.0, 0.0};
    }
    double middle = (all->low + all->high) / 2.0,
           half = fmax(0.56 * (all->high - all->low), least / 2.0);
    *all = (span){middle - half, middle + half};
}

static span lightness_of(const hw_path *path)
{
    const hw_comparison *gap = &path->gap;
    span all = {INFINITY, -INFINITY};
    double spread = HW_NINETY * gap->spread_axis[0];
    take_in(&all, gap->target_lab.L - spread);
    take_in(&all, gap->target_lab.L + spread);
    for (size_t i = 0; i < places_of(path); i++) {
        double low, high;
        ends_at(path, i, &low, &high);
        take_in(&all, lab_at(path, i).L);
        take_in(&all, low);
        take_in(&all, high);
    }
    widen(&all, 6.0);
    return all;
}

// ---- Lightness over passes -----------------------------------------------------------

static const double plot_left = 40.0, plot_right = 348.0;

static double column_of(const hw_path *path, size_t place)
{
    size_t places = places_of(path);
    double steps = places > 1 ? (double)(places - 1) : 1.0;
    return plot_left + 24.0 + (plot_right - plot_left - 48.0) * (double)place / steps;
}

// Within the plot and a little beyond; NaN stays what it is.
static double row_of(double value, const span *all, double top, double height)
{
    double share = (all->high - value) / (all->high - all->low);
    return isnan(share) ? share : top + height * fmin(fmax(share, -0.02), 1.02);
}

static void draw_lightness_axis(hw_drawing *drawing, const span *all, double top, double height)
{
    double step = all->high - all->low > 25.0 ? 10.0 : all->high - all->low > 12.0 ? 5.0 : 2.0;
    hw_draw_stroke(drawing, plot_left, top, plot_left, top + height, hw_draw_soft, 1.0);
    for (double value = step * ceil(all->low / step); value <= all->high; value += step) {
        char label[32];
        double y = row_of(value, all, top, height);
        hw_format_text(label, sizeof label, "%.0f", value);
        hw_draw_stroke(drawing, plot_left, y, plot_left + 4.0, y, hw_draw_soft, 1.0);
        hw_draw_line_of(drawing, plot_left - 4.0, y + 4.0, HW_SIDE_END, small, label);
    }
}

static void draw_bar(hw_drawing *drawing, double x, double y1, double y2)
{
    if (!isfinite(y1) || !isfinite(y2)) {
        return;
    }
    hw_draw_stroke(drawing, x, y1, x, y2, hw_draw_ink, 1.6);
    hw_draw_stroke(drawing, x - 5.0, y1, x + 5.0, y1, hw_draw_ink, 1.6);
    hw_draw_stroke(drawing, x - 5.0, y2, x + 5.0, y2, hw_draw_ink, 1.6);
}

// What was read is an open mark: a square before, a circle now; what is foreseen is a full one.
static void draw_place(hw_drawing *drawing, const hw_path *path, size_t place, double x, double y)
{
    const double radius = 4.5;
    if (!isfinite(x) || !isfinite(y)) {
        return;
    }
    if (is_past(path, place)) {
        hw_draw_rect(drawing, (hw_area){x - radius, y - radius, 2.0 * radius, 2.0 * radius},
                     hw_draw_paper, hw_draw_ink);
    } else {
        hw_draw_circle(drawing, x, y, radius,
                       place == path->earlier_count ? hw_draw_paper : hw_draw_ink, hw_draw_ink);
    }
}

// Lines, ranges and names first, the marks over them.
static void draw_places(hw_drawing *drawing, const hw_path *path, const span *all, double top,
                        double height)
{
    for (size_t i = 0; i < places_of(path); i++) {
        double x = column_of(path, i), y = row_of(lab_at(path, i).L, all, top, height), low, high;
        char label[32];
        ends_at(path, i, &low, &high);
        if (i > 0 && isfinite(y)) {
            double before = row_of(lab_at(path, i - 1).L, all, top, height);
            hw_draw_stroke(drawing, column_of(path, i - 1), before, x, y, hw_draw_soft, 1.2);
        }
        if (i != path->earlier_count && isfinite(y)) {
            draw_bar(drawing, x, row_of(high, all, top, height), row_of(low, all, top, height));
        }
        name_place(path, i, label, sizeof label);
        hw_draw_line_of(drawing, x, top + height + 14.0, HW_SIDE_MIDDLE, number, label);
    }
    for (size_t i = 0; i < places_of(path); i++) {
        draw_place(drawing, path, i, column_of(path, i),
                   row_of(lab_at(path, i).L, all, top, height));
    }
}

static void draw_lightness(hw_drawing *drawing, const hw_path *path)
{
    const double height = 150.0;
    const hw_comparison *gap = &path->gap;
    span all = lightness_of(path);
    hw_draw_words(drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, strong,
                  "Lightness, pass by pass");
    hw_draw_words(drawing, margin, 200.0, small, "lighter (L* up)");
    double top = drawing->y + 2.0;
    double spread = isfinite(gap->spread_axis[0]) ? HW_NINETY * gap->spread_axis[0] : 0.0;
    double from = row_of(gap->target_lab.L + spread, &all, top, height),
           to = row_of(gap->target_lab.L - spread, &all, top, height),
           aim = row_of(gap->target_lab.L, &all, top, height);
    if (isfinite(aim)) {
        hw_draw_hatched(drawing, (hw_area){plot_left, from, plot_right - plot_left, to - from});
        hw_draw_stroke(drawing, plot_left, aim, plot_right, aim, hw_draw_ink, 1.2);
    }
    draw_lightness_axis(drawing, &all, top, height);
    draw_places(drawing, path, &all, top, height);
    if (isfinite(aim)) {
        bool above = path->count > 0 && lab_at(path, 0).L < gap->target_lab.L;
        hw_draw_rimmed(drawing, plot_left + 3.0, above ? aim - 4.0 : aim + 13.0, HW_SIDE_START,
                       number, aim_words(path));
    }
    drawing->y = top + height + 18.0;
    hw_draw_line_of(drawing, HW_DRAWING_WIDTH - margin, drawing->y + 12.0, HW_SIDE_END, small,
                    path->earlier_count == 0 ? "passes"
                    : path->none[0]          ? "passes laid by then"
                                             : "passes laid by then, and to come");
    hw_draw_words(drawing, margin, path->earlier_count > 0 ? 120.0 : 200.0, small,
                  "darker (L* down)");
    drawing->y += 8.0;
}

// ---- Redness and yellowness ----------------------------------------------------------

// From a* to the right and b* up, in one scale.
typedef struct plane {
    double middle_a, middle_b, x, y, units; // of the drawing for 1 of a* or b*
} plane;

static double plane_x(const plane *p, hw_lab lab)
{
    return p->x + (lab.a - p->middle_a) * p->units;
}

static double plane_y(const plane *p, hw_lab lab)
{
    return p->y - (lab.b - p->middle_b) * p->units;
}

static plane plane_of(const hw_path *path, hw_area area)
{
    const hw_comparison *gap = &path->gap;
    span a = {INFINITY, -INFINITY}, b = {INFINITY, -INFINITY};
    for (int side = -1; side <= 1; side += 2) {
        take_in(&a, gap->target_lab.a + side * HW_NINETY * gap->spread_axis[1]);
        take_in(&b, gap->target_lab.b + side * HW_NINETY * gap->spread_axis[2]);
    }
    for (size_t i = 0; i < path->earlier_count; i++) {
        take_in(&a, path->earlier[i].lab.a);
        take_in(&b, path->earlier[i].lab.b);
    }
    for (size_t i = 0; i < path->count; i++) {
        const hw_lab of[3] = {path->step[i].after.lab, hw_report_weak_end(path, i),
                              hw_report_strong_end(path, i)};
        for (int k = 0; k < 3; k++) {
            take_in(&a, of[k].a);
            take_in(&b, of[k].b);
        }
    }
    widen(&a, 4.0);
    widen(&b, 3.0);
    return (plane){(a.low + a.high) / 2.0, (b.low + b.high) / 2.0, area.x + area.width / 2.0,
                   area.y + area.height / 2.0,
                   fmin(area.width / (a.high - a.low), area.height / (b.high - b.low))};
}

// One unit on both axes: how long it is on the drawing.
static void draw_scale(hw_drawing *drawing, const plane *p, hw_area area)
{
    double units = p->units > 60.0 ? 1.0 : p->units > 24.0 ? 2.0 : p->units > 10.0 ? 5.0 : 10.0;
    double right = area.x + area.width - 8.0, left = right - units * p->units,
           y = area.y + area.height - 8.0;
    char label[32];
    hw_format_text(label, sizeof label, "%.0f unit%s", units, units > 1.0 ? "s" : "");
    hw_draw_stroke(drawing, left, y, right, y, hw_draw_ink, 1.6);
    hw_draw_stroke(drawing, left, y - 3.0, left, y + 3.0, hw_draw_ink, 1.6);
    hw_draw_stroke(drawing, right, y - 3.0, right, y + 3.0, hw_draw_ink, 1.6);
    hw_draw_rimmed(drawing, right, y - 6.0, HW_SIDE_END, small, label);
}

// Would a name that stands at x, y lie on the mark of that place?
static bool is_covered(const plane *p, hw_lab lab, double x, double y)
{
    return fabs(plane_x(p, lab) - x) < 9.0 && fabs(plane_y(p, lab) - (y - 4.0)) < 9.0;
}

// Its name above or below a place, away from the old wood; left out where it would lie on another. Now, the last and the
// first come first.
static void draw_names(hw_drawing *drawing, const hw_path *path, const plane *p)
{
    double taken[2 * (HW_PLAN_PASSES_MAX + 1 + HW_EARLIER_MOST)];
    size_t count = 0, most = sizeof taken / sizeof *taken / 2, places = places_of(path);
    for (size_t order = 0; order < places + 3 && count < most; order++) {
        size_t i = order == 0 ? path->earlier_count : order == 1 ? places - 1 : order - 2;
        hw_lab lab = i < places ? lab_at(path, i) : (hw_lab){(double)NAN, (double)NAN, (double)NAN};
        bool below = plane_y(p, lab) >= plane_y(p, path->gap.target_lab);
        double x = plane_x(p, lab), y = plane_y(p, lab) + (below ? 17.0 : -8.0);
        bool room = is_known(lab);
        for (size_t k = 0; k < count; k++) {
            room = room && (fabs(taken[2 * k] - x) > 14.0 || fabs(taken[2 * k + 1] - y) > 11.0);
        }
        for (size_t k = 0; k < places; k++) {
            room = room && (k == i || !is_covered(p, lab_at(path, k), x, y));
        }
        if (room) {
            char label[32];
            name_place(path, i, label, sizeof label);
            hw_draw_rimmed(drawing, x, y, HW_SIDE_MIDDLE, number, label);
            taken[2 * count] = x;
            taken[2 * count++ + 1] = y;
        }
    }
}

static void draw_way(hw_drawing *drawing, const hw_path *path, const plane *p)
{
    for (size_t i = 1; i < path->count; i++) {
        hw_lab weak = hw_report_weak_end(path, i), much = hw_report_strong_end(path, i);
        if (is_known(weak) && is_known(much)) {
            hw_draw_stroke(drawing, plane_x(p, weak), plane_y(p, weak), plane_x(p, much),
                           plane_y(p, much), hw_draw_faint, 4.0);
        }
    }
    for (size_t i = 1; i < places_of(path); i++) {
        hw_lab lab = lab_at(path, i), before = lab_at(path, i - 1);
        if (is_known(lab) && is_known(before)) {
            hw_draw_stroke(drawing, plane_x(p, before), plane_y(p, before), plane_x(p, lab),
                           plane_y(p, lab), i > path->earlier_count ? hw_draw_ink : hw_draw_soft,
                           1.2);
        }
    }
    for (size_t i = 0; i < places_of(path); i++) {
        hw_lab lab = lab_at(path, i);
        if (is_known(lab)) {
            draw_place(drawing, path, i, plane_x(p, lab), plane_y(p, lab));
        }
    }
}

static void draw_plane(hw_drawing *drawing, const hw_path *path)
{
    const hw_comparison *gap = &path->gap;
    hw_draw_words(drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, strong,
                  "Red and yellow, pass by pass");
    drawing->y += 2.0;
    hw_area area = {margin, drawing->y, HW_DRAWING_WIDTH - 2.0 * margin, 210.0};
    hw_area inner = {area.x + 52.0, area.y + 20.0, area.width - 104.0, area.height - 44.0};
    plane p = plane_of(path, inner);
    hw_draw_rect(drawing, area, NULL, hw_draw_faint);
    double x = plane_x(&p, gap->target_lab), y = plane_y(&p, gap->target_lab);
    if (is_known(gap->target_lab)) {
        hw_draw_hatched_round(drawing, x, y, HW_NINETY * gap->spread_axis[1] * p.units,
                              HW_NINETY * gap->spread_axis[2] * p.units);
        hw_draw_stroke(drawing, x - 5.0, y, x + 5.0, y, hw_draw_ink, 1.6);
        hw_draw_stroke(drawing, x, y - 5.0, x, y + 5.0, hw_draw_ink, 1.6);
    }
    draw_way(drawing, path, &p);
    if (is_known(gap->target_lab)) {
        double foot =
            fmin(y + HW_NINETY * gap->spread_axis[2] * p.units + 13.0, area.y + area.height - 20.0);
        hw_draw_rimmed(drawing, x, foot, HW_SIDE_MIDDLE, number, aim_words(path));
    }
    draw_names(drawing, path, &p);
    double across = area.y + area.height / 2.0 + 4.0;
    hw_draw_rimmed(drawing, area.x + area.width / 2.0, area.y + 14.0, HW_SIDE_MIDDLE, small,
                   "yellower");
    hw_draw_rimmed(drawing, area.x + area.width / 2.0, area.y + area.height - 5.0, HW_SIDE_MIDDLE,
                   small, "bluer");
    hw_draw_rimmed(drawing, area.x + 3.0, across, HW_SIDE_START, small, "greener");
    hw_draw_rimmed(drawing, area.x + area.width - 3.0, across, HW_SIDE_END, small, "redder");
    draw_scale(drawing, &p, area);
    drawing->y = area.y + area.height + 6.0;
}

// ---- Words ---------------------------------------------------------------------------

const char hw_report_look_here[] = "Stop here, let it dry, photograph it, ask again.";

// "1.1 (0.5 to 1.8), close; chance of ending too dark: 15 %", with `between` before the chance.
void hw_report_add_left(hw_text *text, const hw_foreseen *step, const char *between)
{
    const double worth_words = 0.05; // a chance of one in twenty (chosen)
    hw_report_add_size(text, step->after.de00, step->after.de00_low, step->after.de00_high);
    if (step->overshoot_risk >= worth_words && step->overshoot_risk <= 1.0) {
        hw_text_add(text, "%schance of ending too dark: %.0f %%", between,
                    100.0 * step->overshoot_risk);
    }
}

// "After 2 passes: 1.1 (0.5 to 1.8), close", and the chance of ending too dark after `between`.
static void add_step(hw_text *text, const hw_path *path, size_t index, const char *between)
{
    const hw_foreseen *step = &path->step[index];
    char passes[32];
    hw_report_passes(passes, sizeof passes, step->passes > 0 ? step->passes : path->laid);
    hw_text_add(text,
                step->passes > 0           ? "After %s: "
                : path->earlier_count == 0 ? "Now: "
                : path->laid > 0           ? "Now, %s laid: "
                                           : "Now, nothing laid: ",
                passes);
    hw_report_add_left(text, step, between);
    if (step->passes > 0 && step->passes == path->look_after) {
        hw_text_add(text, ".%s%s", between + 1, hw_report_look_here); // past the semicolon
    }
}

// "Photo 2, 1 pass laid: 5.8 (4.2 to 7.3), clear difference"
static void add_earlier(hw_text *text, const hw_earlier_place *place)
{
    char passes[32];
    hw_report_passes(passes, sizeof passes, place->passes);
    hw_text_add(text, "Photo %ld, %s laid: ", place->photo, place->passes ? passes : "nothing");
    hw_report_add_size(text, place->de00, place->de00_low, place->de00_high);
}

static void add_place(hw_text *text, const hw_path *path, size_t place, const char *between)
{
    if (is_past(path, place)) {
        add_earlier(text, &path->earlier[place]);
    } else {
        add_step(text, path, place - path->earlier_count, between);
    }
}

static void add_title(hw_text *text, const hw_path *path)
{
    hw_report_add_clean(text, path->gap.patch);
    hw_text_add(text, "%s",
                path->none[0]             ? ": the way so far"
                : path->earlier_count > 0 ? ": the way so far, and what passes will do"
                                          : ": what passes will do");
}

static void add_legend(hw_text *text, const hw_path *path)
{
    hw_text_add(text, "Numbers are how far it is off (CIEDE2000), with the range that holds it 9 "
                      "times in 10. Hatched: 9 of 10 pieces of the old wood lie in there.");
    if (path->earlier_count > 0) {
        hw_text_add(text, " Squares: where it stood in earlier photos, beside the old wood as it "
                          "is read now; their bars are what those photos leave open.");
    }
    if (!path->none[0]) {
        hw_text_add(text,
                    path->earlier_count > 0
                        ? " Full circles, their bars and grey lines: what 9 of 10 such passes do."
                        : " Bars and grey lines: what 9 of 10 such passes do.");
    }
}

hw_status hw_report_path_svg(const hw_path *path, char **out, hw_error *err)
{
    hw_drawing drawing = {0};
    hw_text title = {0}, laid = {0}, desc = {0}, legend = {0};
    add_title(&title, path);
    hw_report_add_path_words(&laid, path);
    hw_draw_heading(&drawing, hw_text_words(&title));
    hw_draw_paragraph(&drawing, hw_text_words(&laid));
    hw_text_add(&desc, "%s", hw_text_words(&laid));
    if (path->count > 0) {
        draw_lightness(&drawing, path);
        draw_plane(&drawing, path);
    }
    for (size_t i = 0; i < (path->count > 0 ? places_of(path) : 0); i++) {
        hw_text words = {0};
        add_place(&words, path, i, "; ");
        hw_draw_paragraph(&drawing, hw_text_words(&words));
        bool ended = words.length > 0 && hw_text_words(&words)[words.length - 1] == '.';
        hw_text_add(&desc, " %s%s", hw_text_words(&words), ended ? "" : ".");
        drawing.body.failed |= words.failed;
        hw_text_free(&words);
    }
    add_legend(&legend, path);
    hw_draw_words(&drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, small, hw_text_words(&legend));
    drawing.body.failed |= title.failed || laid.failed || desc.failed || legend.failed;
    hw_status status =
        hw_draw_finish(&drawing, hw_text_words(&title), hw_text_words(&desc), out, err);
    hw_text_free(&title);
    hw_text_free(&laid);
    hw_text_free(&desc);
    hw_text_free(&legend);
    return status;
}

// ---- As text -------------------------------------------------------------------------

enum { CELLS = 31, GAP_CELLS = 12, INDENT = 10 };

static void add_lightness(hw_text *text, const hw_path *path, size_t place, const span *all)
{
    double aim = path->gap.target_lab.L, spread = HW_NINETY * path->gap.spread_axis[0],
           value = lab_at(path, place).L, low, high;
    hw_cells row = hw_cells_of(CELLS, all->low, all->high);
    hw_cells_fill(&row, aim - spread, aim + spread, "░");
    hw_cells_fill(&row, aim, aim, "│");
    if (place != path->earlier_count) {
        ends_at(path, place, &low, &high);
        hw_cells_fill(&row, low, high, "━");
    }
    hw_cells_fill(&row, value, value, is_past(path, place) ? "◇" : "◆");
    hw_cells_add(text, &row);
}

// The gap as a length: full to where it is foreseen, light to the end of its range.
static void add_length(hw_text *text, double de00, double de00_high, double most)
{
    double unit = most > 0.0 ? GAP_CELLS / most : 0.0;
    for (int i = 0; i < GAP_CELLS; i++) {
        double at = i + 0.5;
        hw_text_add(text, "%s", at < unit * de00 ? "█" : at < unit * de00_high ? "▒" : " ");
    }
}

static double longest_gap(const hw_path *path)
{
    double most = 0.0;
    for (size_t i = 0; i < path->earlier_count; i++) {
        most = fmax(most, fmin(path->earlier[i].de00_high, 1e3));
    }
    for (size_t i = 0; i < path->count; i++) {
        most = fmax(most, fmin(path->step[i].after.de00_high, 1e3));
    }
    return most;
}

static void add_row(hw_text *text, const hw_path *path, size_t place, const span *all, double most)
{
    char passes[32];
    name_place(path, place, passes, sizeof passes);
    hw_text_add(text, "  %6s  ", passes);
    add_lightness(text, path, place, all);
    hw_text_add(text, "  ");
    if (is_past(path, place)) {
        add_length(text, path->earlier[place].de00, path->earlier[place].de00_high, most);
    } else {
        const hw_after *after = &path->step[place - path->earlier_count].after;
        add_length(text, after->de00, after->de00_high, most);
    }
    hw_text_add(text, "\n");
}

static void add_signs(hw_text *text, const hw_path *path)
{
    hw_text_add(text, "%*s│ %s   ░ its own spread\n", INDENT, "", aim_words(path));
    if (path->earlier_count > 0) {
        hw_text_add(text, "%*s◇ read in an earlier photo   ━ what it leaves open\n", INDENT, "");
    }
    if (!path->none[0]) {
        hw_text_add(text, "%*s◆ foreseen   ━ what 9 of 10 such passes do\n", INDENT, "");
    }
}

hw_status hw_report_path_text(const hw_path *path, const hw_report_style *style, char **out,
                              hw_error *err)
{
    hw_text text = {0}, title = {0}, laid = {0};
    span all = lightness_of(path);
    double most = longest_gap(path);
    size_t places = path->count > 0 ? places_of(path) : 0;
    add_title(&title, path);
    hw_report_add_path_words(&laid, path);
    hw_report_add_lines(&text, 0, &title);
    hw_report_add_lines(&text, 2, &laid);
    hw_text_free(&title);
    hw_text_free(&laid);
    hw_text_add(&text, "  passes  darker %*s lighter  gap left\n", CELLS - 15, "");
    for (size_t i = 0; i < places; i++) {
        add_row(&text, path, i, &all, most);
    }
    if (!style || !style->quiet) {
        add_signs(&text, path);
    }
    for (size_t i = 0; i < places; i++) {
        hw_text_add(&text, "  ");
        add_place(&text, path, i, ";\n    ");
        hw_text_add(&text, "\n");
    }
    return hw_report_finish(&text, out, err);
}
