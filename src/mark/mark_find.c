// mark_find.c: which of the things found to propose as the card, and whether to ask.
//
// A chart and a row of steps are told by what nothing else shows; they come first, and can be sure. Else the panel
// most like a plain card is proposed. It is likely when no single doubt is too large, its confidence is high and at least
// twice that of any other panel; sure it never is, since a lone grey tile looks just like it: of 59 made-up scenes
// without a card one had such a tile taken for one.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

static const double confidence_least = 0.02; // of a proposal (chosen)
static const double likely_least = 0.95;     // (chosen)
static const double times_second = 2.0;      // (chosen)
static const double side_least_px = 21.0;    // of the photo: HW_MARK_MIN_PIXELS with some air
static const double sure_order = 0.95, sure_colours = 0.90; // of a chart (chosen)
static const int sure_patches = 20;
static const double sure_quality = 0.85; // of steps: support of their sides (chosen)
// In 191 scenes (of 1 to 300) all 31 charts and 27 rows of steps were found and right, and nothing else was taken for one.
static const double chart_confidence = 0.99, steps_confidence = 0.98;

const char *hw_find_kind_name(hw_find_kind found)
{
    static const char *const names[] = {"nothing", "card", "steps", "chart"};
    return (size_t)found < sizeof names / sizeof *names ? names[found] : "nothing";
}

void hw_card_find_free(hw_card_find *find)
{
    if (find) {
        hw_marks_free(&find->marks);
        hw_marks_free(&find->other_marks);
        *find = (hw_card_find){0};
    }
}

// ---- From panels to marks --------------------------------------------------------------

typedef struct frame {
    double width, height, scale; // of the photo, pixels; photo pixels a pixel of the relief
} frame;

static hw_point in_photo(const frame *f, hw_point p)
{
    return (hw_point){fmin(fmax(p.x * f->scale, 0.0), f->width),
                      fmin(fmax(p.y * f->scale, 0.0), f->height)};
}

static hw_status add_quad(const frame *f, const hw_point corner[4], hw_role role, const char *name,
                          hw_marks *to, hw_error *err)
{
    hw_mark mark = {.role = role, .point_count = 4};
    mark.points = hw_alloc_array(4, sizeof *mark.points);
    if (!mark.points) {
        return hw_fail_memory(err, "marking the card");
    }
    hw_copy_text(mark.name, sizeof mark.name, name);
    for (int i = 0; i < 4; i++) {
        mark.points[i] = in_photo(f, corner[i]);
    }
    to->width_px = (size_t)f->width;
    to->height_px = (size_t)f->height;
    return hw_marks_append(to, &mark) ? HW_OK : hw_fail_memory(err, "marking the card");
}

static hw_status mark_chart(const frame *f, const hw_chart_find *chart, hw_card_find *out,
                            hw_error *err)
{
    hw_point corner[4];
    for (int i = 0; i < 4; i++) {
        corner[i] = in_photo(f, chart->corner[i]);
    }
    out->what = HW_FIND_CHART;
    out->confidence = chart_confidence;
    out->sure = chart->order >= sure_order && chart->colours >= sure_colours &&
                chart->patches >= sure_patches;
    out->marks.width_px = (size_t)f->width;
    out->marks.height_px = (size_t)f->height;
    if (!out->sure) {
        out->confidence = 0.5 * (chart->order + chart->colours);
        hw_copy_text(out->why, sizeof out->why,
                     "Not all patches of the chart can be seen clearly in their colours.");
    }
    return hw_marks_add_chart(&out->marks, corner, 4, err);
}

static hw_status mark_steps(const frame *f, const hw_panels *panels, const hw_steps_find *steps,
                            hw_card_find *out, hw_error *err)
{
    static const char *const names[3] = {"white", "grey", "black"};
    hw_status status = HW_OK;
    out->what = HW_FIND_STEPS;
    out->sure = steps->quality >= sure_quality;
    out->confidence = steps_confidence * fmin(steps->quality / sure_quality, 1.0);
    for (int i = 0; i < 3 && status == HW_OK; i++) {
        const hw_panel *panel = &panels->panel[steps->panel[i]];
        out->sure = out->sure && !panel->at_edge;
        status = add_quad(f, panel->corner, HW_ROLE_NEUTRAL, names[i], &out->marks, err);
    }
    if (!out->sure) {
        hw_copy_text(out->why, sizeof out->why,
                     "The sides of its three steps cannot be seen clearly.");
    }
    return status;
}

// ---- The plain card ----------------------------------------------------------------------

static bool is_large_enough(const frame *f, const hw_panel *panel)
{
    for (int i = 0; i < 4; i++) {
        hw_point a = panel->corner[i], b = panel->corner[(i + 1) % 4];
        if (hypot(b.x - a.x, b.y - a.y) * f->scale < side_least_px) {
            return false;
        }
    }
    return true;
}

typedef struct choice {
    const hw_panel *panel;
    hw_card_verdict verdict;
} choice;

// The two most likely ones, either without a panel where there is none.
static void choose(const frame *f, const hw_panels *panels, const hw_scene_colours *colours,
                   choice best[2])
{
    best[0] = best[1] = (choice){0};
    for (size_t i = 0; i < panels->count; i++) {
        const hw_panel *panel = &panels->panel[i];
        choice one = {.panel = panel};
        if (panel->taken || !is_large_enough(f, panel)) {
            continue;
        }
        hw_card_judge(panel, colours, &one.verdict);
        if (one.verdict.confidence < confidence_least) {
            continue;
        }
        if (one.verdict.confidence > best[0].verdict.confidence) {
            best[1] = best[0];
            best[0] = one;
        } else if (one.verdict.confidence > best[1].verdict.confidence) {
            best[1] = one;
        }
    }
}

static hw_status mark_card(const frame *f, const choice best[2], hw_card_find *out, hw_error *err)
{
    const hw_card_verdict *first = &best[0].verdict, *second = &best[1].verdict;
    out->what = HW_FIND_CARD;
    out->confidence = first->confidence;
    bool alone = first->confidence >= times_second * second->confidence;
    out->likely = alone && first->clear && first->confidence >= likely_least;
    const char *words = !alone ? "A second grey area in the picture looks much the same."
                        : first->words[0] && !out->likely
                            ? first->words
                            : "A grey tile or a painted panel would look the same.";
    hw_copy_text(out->why, sizeof out->why, words);
    return add_quad(f, best[0].panel->corner, HW_ROLE_CARD, "card", &out->marks, err);
}

static hw_status mark_other(const frame *f, const choice *second, hw_card_find *out, hw_error *err)
{
    out->other = HW_FIND_CARD;
    out->other_confidence = second->verdict.confidence;
    return add_quad(f, second->panel->corner, HW_ROLE_CARD, "card", &out->other_marks, err);
}

// ---- All of it ------------------------------------------------------------------------------

// Panels whose middle lies in a chart are its patches.
static void take_patches(const hw_chart_find *chart, hw_panels *panels)
{
    for (size_t i = 0; i < panels->count; i++) {
        const hw_point *c = panels->panel[i].corner;
        hw_point middle = {0.25 * (c[0].x + c[1].x + c[2].x + c[3].x),
                           0.25 * (c[0].y + c[1].y + c[2].y + c[3].y)};
        bool in = true;
        for (int k = 0; k < 4 && in; k++) {
            hw_point a = chart->corner[k], b = chart->corner[(k + 1) % 4];
            in = (b.x - a.x) * (middle.y - a.y) - (b.y - a.y) * (middle.x - a.x) >= 0.0;
        }
        panels->panel[i].taken = panels->panel[i].taken || in;
    }
}

static hw_status propose(const frame *f, const hw_relief *relief, const hw_flats *flats,
                         hw_panels *panels, hw_card_find *out, hw_error *err)
{
    hw_chart_find chart;
    hw_steps_find steps = {0};
    hw_scene_colours colours;
    choice best[2];
    hw_status status = hw_chart_find_in(relief, flats, &chart, err);
    if (status == HW_OK) {
        status = hw_scene_colours_take(relief, &colours, err);
    }
    if (status != HW_OK) {
        return status;
    }
    if (chart.found) {
        take_patches(&chart, panels);
        status = mark_chart(f, &chart, out, err);
    } else {
        hw_steps_find_in(panels, &steps);
        for (int i = 0; i < 3 && steps.found; i++) {
            panels->panel[steps.panel[i]].taken = true;
        }
        status = steps.found ? mark_steps(f, panels, &steps, out, err) : HW_OK;
    }
    choose(f, panels, &colours, best);
    if (status == HW_OK && out->what == HW_FIND_NOTHING && best[0].panel) {
        status = mark_card(f, best, out, err);
        best[0] = best[1];
    }
    if (status == HW_OK && best[0].panel) {
        status = mark_other(f, &best[0], out, err);
    }
    hw_scene_colours_free(&colours);
    return status;
}

hw_status hw_marks_find_card_in(const hw_photo *photo, const hw_photo_small *small,
                                hw_card_find *out, hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    hw_relief relief = {0};
    hw_flats flats = {0};
    hw_card_find found = {0};
    hw_panels *panels = hw_alloc_array(1, sizeof *panels);
    hw_status status = panels ? HW_OK : hw_fail_memory(err, "looking for the card");
    if (status == HW_OK) {
        status = hw_relief_make(small, &relief, err);
    }
    if (status == HW_OK) {
        status = hw_flats_find(&relief, &flats, err);
    }
    if (status == HW_OK) {
        frame f = {(double)facts->width_px, (double)facts->height_px, small->scale};
        hw_panels_lay(&relief, &flats, panels);
        status = propose(&f, &relief, &flats, panels, &found, err);
    }
    hw_flats_free(&flats);
    hw_relief_free(&relief);
    hw_free(panels);
    if (status != HW_OK) {
        hw_card_find_free(&found);
        return status;
    }
    *out = found;
    return HW_OK;
}

hw_status hw_marks_find_card(const hw_photo *photo, hw_card_find *out, hw_error *err)
{
    hw_photo_small small = {0};
    hw_status status = hw_photo_make_small(photo, HW_MARKS_SMALL_PX, &small, err);
    if (status == HW_OK) {
        status = hw_marks_find_card_in(photo, &small, out, err);
    }
    hw_photo_small_free(&small);
    return status;
}
