// report_html_part.c: one repair in the shop's report: how far it is off then and now, with ranges; what that may be wrong by; its
// joint; what each pass was expected to do and did; what the next ones will do; lamps, sides, hours.
#include "report_html.h"

#include <limits.h>
#include <math.h>
#include <string.h>

// ---- The gap -----------------------------------------------------------------------

static void add_value(hw_page *page, double value, double low, double high)
{
    hw_text words = {0};
    hw_report_add_range(&words, value, low, high);
    hw_page_text(page, &words);
}

// A row: what it was at first, what it is now; `axis` 0, 1, 2 for L*, a*, b*, 3 for the gap.
static void add_cell(hw_page *page, const hw_comparison *gap, bool read, int axis)
{
    hw_page_add(page, "<td>");
    if (!read) {
        hw_page_add(page, "not read");
    } else if (axis == 0) {
        add_value(page, gap->gap.L, gap->low.L, gap->high.L);
    } else if (axis == 1) {
        add_value(page, gap->gap.a, gap->low.a, gap->high.a);
    } else if (axis == 2) {
        add_value(page, gap->gap.b, gap->low.b, gap->high.b);
    } else {
        hw_text words = {0};
        hw_report_add_gap_range(&words, gap->gap.de00, gap->de00_low, gap->de00_high);
        hw_page_text(page, &words);
    }
    hw_page_add(page, "</td>");
}

static void add_colour(hw_page *page, bool read, hw_lab lab)
{
    if (read) {
        hw_page_add(page, "<td>%.1f, %.1f, %.1f</td>", lab.L, lab.a, lab.b);
    } else {
        hw_page_add(page, "<td>not read</td>");
    }
}

static void add_spread(hw_page *page, bool read, double spread)
{
    if (read) {
        hw_page_add(page, "<td>%.1f</td>", spread);
    } else {
        hw_page_add(page, "<td>not read</td>");
    }
}

static void add_figures(hw_page *page, const hw_account_part *part)
{
    static const char *const axis[4] = {"lighter (+), darker (−): L*", "redder, greener: a*",
                                        "yellower, bluer: b*", "gap: CIEDE2000"};
    hw_page_add(page, "<table>\n<caption>Repair minus old wood, 90 %% ranges</caption>\n<thead><tr>"
                      "<td></td>");
    hw_page_add(page, "<th scope=\"col\">At first%s</th>", part->read_first ? "" : ": not read");
    hw_page_add(page, "<th scope=\"col\">Now%s</th></tr></thead>\n<tbody>\n",
                part->read_last ? "" : ": not read");
    hw_page_add(page, "<tr><th scope=\"row\">photo</th><td>%ld</td><td>%ld</td></tr>\n",
                part->first_photo, part->last_photo);
    for (int i = 0; i < 4; i++) {
        hw_page_add(page, "<tr><th scope=\"row\">%s</th>", axis[i]);
        add_cell(page, &part->first, part->read_first, i);
        add_cell(page, &part->last, part->read_last, i);
        hw_page_add(page, "</tr>\n");
    }
    hw_page_add(page, "<tr><th scope=\"row\">repair: L*, a*, b*</th>");
    add_colour(page, part->read_first, part->first.patch_lab);
    add_colour(page, part->read_last, part->last.patch_lab);
    hw_page_add(page, "</tr>\n<tr><th scope=\"row\">old wood: L*, a*, b*</th>");
    add_colour(page, part->read_first, part->first.target_lab);
    add_colour(page, part->read_last, part->last.target_lab);
    hw_page_add(page, "</tr>\n<tr><th scope=\"row\">old wood differs from itself by</th>");
    add_spread(page, part->read_first, part->first.spread);
    add_spread(page, part->read_last, part->last.spread);
    hw_page_add(page, "</tr>\n</tbody>\n</table>\n");
}

// What the last gap may be wrong by, largest first; what is below a twentieth is left out.
static void add_doubts(hw_page *page, const hw_comparison *gap)
{
    bool told[HW_DOUBT_COUNT] = {false};
    bool any = false;
    for (;;) {
        int most = -1;
        for (int i = 0; i < HW_DOUBT_COUNT; i++) {
            most = !told[i] && (most < 0 || gap->doubt[i] > gap->doubt[most]) ? i : most;
        }
        if (most < 0 || !(gap->doubt[most] >= 0.05)) {
            break;
        }
        told[most] = true;
        hw_page_add(page, "%s%s %.1f",
                    any ? "; " : "<p>It may be wrong by (standard uncertainty): ",
                    hw_doubt_words((hw_doubt)most), gap->doubt[most]);
        any = true;
    }
    hw_page_add(page, "%s", any ? ".</p>\n" : "");
}

// ---- Pictures ----------------------------------------------------------------------

// "lid strip against the old wood: too light; lighter by 4.9 ± 0.5, ...".
static void say_gap(hw_text *text, const hw_comparison *gap)
{
    hw_report_add_clean(text, gap->patch);
    hw_text_add(text, " against the old wood: ");
    hw_report_add_components(text, gap);
    hw_text_add(text, ".");
}

static void add_gap_pictures(hw_page *page, const hw_account_part *part)
{
    hw_text alt = {0}, none = {0};
    char *svg = NULL;
    hw_rulers rulers = {.gap = &part->last};
    rulers.last =
        hw_job_gap_before(page->account->job, part->last_photo, part->name, &rulers.last_photo);
    hw_status made = hw_report_rulers_svg(&rulers, &svg, hw_page_error(page));
    hw_text_add(&alt, "Three rulers. ");
    say_gap(&alt, &part->last);
    hw_page_picture(page, made, svg, &alt, &none);

    svg = NULL;
    made = hw_report_swatches_svg(&part->last, &svg, hw_page_error(page));
    hw_text_add(&alt, "Two plain fields that touch: the old wood's colour and the repair's. ");
    say_gap(&alt, &part->last);
    hw_page_picture(page, made, svg, &alt, &none);
}

// "left half: a touch green, gap 1.2 (0.8 to 1.6)".
static void say_piece(hw_text *text, const hw_seam_piece *piece)
{
    hw_comparison gap = {.gap = piece->gap, .direction_count = piece->direction_count};
    memcpy(gap.direction, piece->direction, sizeof gap.direction);
    hw_text_add(text, "%s: ", hw_stretch_words(&piece->stretch));
    if (piece->direction_count > 0) {
        hw_report_add_directions(text, &gap);
        hw_text_add(text, ", ");
    }
    hw_text_add(text, "gap ");
    hw_report_add_gap_range(text, piece->gap.de00, piece->de00_low, piece->de00_high);
}

static void add_seam(hw_page *page, const hw_account_part *part)
{
    hw_text alt = {0}, none = {0};
    char *svg = NULL;
    hw_status made = hw_report_seam_svg(&part->strip, &part->seam, &svg, hw_page_error(page));
    hw_text_add(&alt, "The joint laid straight, the repair above, the old wood ");
    hw_report_add_clean(&alt, part->seam.target);
    hw_text_add(&alt, " below. ");
    hw_text_add(&alt, "Along the joint: ");
    for (size_t i = 0; i < part->seam.count; i++) {
        hw_text_add(&alt, "%s", i ? "; " : "");
        say_piece(&alt, &part->seam.piece[i]);
    }
    hw_text_add(&alt, ".");
    hw_page_picture(page, made, svg, &alt, &none);
}

static void say_path(hw_text *text, const hw_path *path)
{
    for (size_t i = 0; i < path->earlier_count; i++) {
        hw_text_add(text, "Gap in photo %ld %.1f. ", path->earlier[i].photo, path->earlier[i].de00);
    }
    hw_report_add_clean(text, path->words);
    hw_text_add(text, "%s. Lightness L*", path->guess ? " (guess)" : "");
    for (size_t i = 0; i < path->count; i++) {
        hw_text_add(text, "%s %.0f", i ? "," : " now", path->step[i].after.lab.L);
    }
    hw_text_add(text, "; gap");
    for (size_t i = 0; i < path->count; i++) {
        hw_text_add(text, "%s %.1f", i ? "," : " now", path->step[i].after.de00);
    }
    hw_text_add(text, ", pass by pass.");
}

static void add_looks(hw_page *page, const hw_account_part *part)
{
    hw_text alt = {0}, none = {0};
    char *svg = NULL;
    hw_page_add(page, "<h4>What the next passes will do</h4>\n");
    hw_status made = hw_report_path_svg(&part->looks.path, &svg, hw_page_error(page));
    hw_text_add(&alt, "Two charts: lightness over passes, and the way that the colour goes. ");
    say_path(&alt, &part->looks.path);
    hw_page_picture(page, made, svg, &alt, &none);

    svg = NULL;
    made = hw_report_looks_svg(&part->looks, &svg, hw_page_error(page));
    hw_text_add(&alt, "Pictures of the repair: as it is now, then after each pass, taken weakly "
                      "and taken strongly.");
    hw_page_add(page, "<div class=\"tall\">");
    hw_page_picture(page, made, svg, &alt, &none);
    hw_page_add(page, "</div>\n");
}

// ---- Pass by pass ------------------------------------------------------------------

static bool is_told(const hw_pass_effect *effect)
{
    return effect->known && (effect->change.status == HW_CHANGE_COMPARABLE ||
                             effect->change.status == HW_CHANGE_WIDENED);
}

static void add_axis(hw_page *page, const char *name, const double forecast[3],
                     const double fact[3])
{
    hw_page_add(page, "<tr><th scope=\"row\">%s</th><td>", name);
    if (isfinite(forecast[0])) {
        add_value(page, forecast[0], forecast[1], forecast[2]);
    } else {
        hw_page_add(page, "none");
    }
    hw_page_add(page, "</td><td>");
    add_value(page, fact[0], fact[1], fact[2]);
    hw_page_add(page, "</td></tr>\n");
}

// Forecast against fact; `what`: of the pass.
static void add_effect(hw_page *page, const hw_pass_effect *effect, hw_text *what)
{
    const hw_forecast_check *check = &effect->check;
    const hw_patch_change *change = &effect->change;
    const hw_difference *low = &change->low, *high = &change->high;
    hw_difference middle = hw_difference_of(change->before, check->forecast);
    if (!check->known) {
        middle.L = middle.a = middle.b = (double)NAN;
    }
    hw_page_add(page, "<table>\n<caption>");
    hw_page_text(page, what);
    hw_page_add(page, "</caption>\n<thead><tr><th scope=\"col\">Change</th>"
                      "<th scope=\"col\">Forecast</th><th scope=\"col\">Did</th></tr></thead>\n"
                      "<tbody>\n");
    add_axis(page, "L*", (double[]){middle.L, check->low.L, check->high.L},
             (double[]){change->change.L, low->L, high->L});
    add_axis(page, "a*", (double[]){middle.a, check->low.a, check->high.a},
             (double[]){change->change.a, low->a, high->a});
    add_axis(page, "b*", (double[]){middle.b, check->low.b, check->high.b},
             (double[]){change->change.b, low->b, high->b});
    hw_page_add(page, "</tbody>\n</table>\n<p>");
    if (check->known && check->questioned) {
        hw_page_add(page, "ASK: ");
        hw_page_words(page, check->question);
        hw_page_add(page, " ");
    } else if (check->known) {
        hw_page_add(page, "It did %.1f times the forecast. ", check->ratio);
    }
}

static void add_gaps(hw_page *page, const hw_pass_effect *effect)
{
    hw_text words = {0};
    hw_text_add(&words, "Gap to the old wood: ");
    hw_report_add_gap_range(&words, effect->before.de00, effect->before.de00_low,
                            effect->before.de00_high);
    hw_text_add(&words, " before, ");
    hw_report_add_gap_range(&words, effect->after.de00, effect->after.de00_low,
                            effect->after.de00_high);
    hw_text_add(&words, " after (photo %ld to %ld)%s.", effect->photo_before, effect->photo_after,
                effect->others_between ? "; with the other passes laid between them" : "");
    hw_page_text(page, &words);
}

// "21 September 2026: 2 passes of red at a quarter strength (jar 1)".
static void say_pass(hw_text *text, const hw_event *event)
{
    const hw_pass_event *pass = &event->of.pass;
    char passes[32], time[48];
    hw_report_passes(passes, sizeof passes, pass->passes);
    hw_report_time(time, sizeof time, event->at);
    hw_text_add(text, "%.10s: %s of ", time, passes);
    hw_report_add_liquid(text, &pass->liquid);
    if (pass->jar > 0) {
        hw_text_add(text, " (jar %ld)", pass->jar);
    }
}

static void add_pass(hw_page *page, const hw_event *event, const char *part)
{
    hw_pass_effect effect = hw_job_pass_effect(page->account->job, event, part);
    hw_text what = {0};
    say_pass(&what, event);
    if (!hw_job_pass_lies(page->account->job, event, part, LONG_MAX)) {
        hw_text_add(&what, "; taken off since");
    }
    if (is_told(&effect)) {
        add_effect(page, &effect, &what);
    } else {
        hw_page_add(page, "<p><span class=\"say\">");
        hw_page_text(page, &what);
        hw_page_add(page, ".</span> What it did %s",
                    effect.known ? "cannot be told from the photos before and after it: "
                                 : "is not known: there are no two photos before and after it.");
        hw_page_words(page, effect.known ? effect.change.reason : "");
        hw_page_add(page, effect.known ? ". " : " ");
    }
    if (effect.known) {
        add_gaps(page, &effect);
    }
    hw_page_add(page, "</p>\n");
}

static void add_passes(hw_page *page, const char *part)
{
    const hw_job *job = page->account->job;
    size_t told = 0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PASS_LAID && hw_pass_is_on(event, part)) {
            add_pass(page, event, part);
            told++;
        }
    }
    if (told == 0) {
        hw_page_add(page, "<p>No pass was laid on it.</p>\n");
    }
}

// ---- The rest ----------------------------------------------------------------------

static void add_lamps(hw_page *page, const char *part)
{
    hw_report_style style = {0};
    hw_text lines = {0};
    char *text = NULL;
    hw_status status =
        hw_report_lamps_text(page->account->job, part, &style, &text, hw_page_error(page));
    page->status = page->status == HW_OK ? status : page->status;
    // Warnings of the job stand on top of the page.
    for (const char *at = text; at && *at;) {
        size_t length = strcspn(at, "\n");
        if (strncmp(at, "note: ", 6) != 0) {
            hw_text_add_bytes(&lines, at, length);
            hw_text_add(&lines, "\n");
        }
        at += length + (at[length] == '\n');
    }
    hw_page_add(page, "<h4>Under other lamps</h4>\n");
    hw_page_lines(page, &lines);
    hw_report_free(text);
}

static void add_sides(hw_page *page, const char *part)
{
    hw_job_sides sides = hw_job_sides_of(page->account->job, part);
    if (!sides.known) {
        return;
    }
    hw_page_add(page, "<p>From the left (photo %ld) and from the right (photo %ld)%s: ", sides.left,
                sides.right, sides.present ? "" : ", before the last work");
    hw_page_words(page, sides.pair.turned ? hw_grain_light
                                          : "no sure turn from side to side: it is colour");
    hw_page_add(page, ".</p>\n");
}

static void add_hours(hw_page *page, const char *part)
{
    double hours = hw_job_hours(page->account->job, part);
    if (hours > 0.0) {
        hw_page_add(page, "<p>Work entered for it: %.3g hour%s.</p>\n", hours,
                    hours == 1.0 ? "" : "s");
    }
}

static void add_last(hw_page *page, const hw_account_part *part)
{
    hw_page_add(page, "<p><span class=\"say\">%s.</span> ",
                hw_report_verdict_words(part->last.verdict));
    hw_page_words(page, part->last.why);
    hw_page_add(page, "</p>\n");
    add_gap_pictures(page, part);
    add_figures(page, part);
    add_doubts(page, &part->last);
    if (part->last.uneven.found) {
        hw_page_add(page, "<p>");
        hw_page_words(page, part->last.uneven.words);
        hw_page_add(page, "</p>\n");
    }
}

void hw_page_shop_part(hw_page *page, const hw_account_part *part, size_t index)
{
    hw_page_add(page, "<article aria-labelledby=\"repair-%zu\">\n<h3 id=\"repair-%zu\">", index + 1,
                index + 1);
    hw_page_name(page, part->name);
    hw_page_add(page, "</h3>\n");
    if (part->read_last) {
        add_last(page, part);
    } else {
        hw_page_add(page, "<p>It was not read in a photo.</p>\n");
    }
    if (part->has_seam && part->strip.rgb) {
        add_seam(page, part);
    }
    hw_page_add(page, "<h4>What the passes did, 90 %% ranges</h4>\n");
    add_passes(page, part->name);
    if (part->has_looks) {
        add_looks(page, part);
    }
    add_sides(page, part->name);
    add_lamps(page, part->name);
    add_hours(page, part->name);
    hw_page_add(page, "</article>\n");
}
