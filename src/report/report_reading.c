// report_reading.c: what one photo says, in words for a finisher.
//
// Read at arm's length: what must be known of the photo first, then one line a patch that says
// what to do, then the reason, then the numbers with their ranges. How the numbers came about is
// shown only when asked for. Never colour alone: the two fields stand beside words that say the
// same.
#include "report_internal.h"

#include <math.h>
#include <string.h>

// ---- The patch ---------------------------------------------------------------------

// "Clear difference" of "Clear difference. Keep correcting, lightly."; *rest: what follows.
static size_t first_sentence(const char *words, const char **rest)
{
    const char *stop = strstr(words, ". ");
    *rest = stop ? stop + 2 : "";
    return stop ? (size_t)(stop - words) : strlen(words);
}

// "lid strip: TONE IT. Clear difference: too light, a touch green."
static void add_headline(hw_text *text, const hw_comparison *beside)
{
    hw_report_add_clean(text, beside->patch);
    hw_text_add(text, ": %s.", hw_report_verdict_words(beside->verdict));
    if (beside->verdict == HW_VERDICT_TONE || beside->verdict == HW_VERDICT_TOO_DARK) {
        const char *size = hw_size_words(beside->gap.de00), *rest;
        hw_text_add(text, " ");
        hw_text_add_bytes(text, size, first_sentence(size, &rest));
        if (beside->direction_count > 0) {
            hw_text_add(text, ": ");
            hw_report_add_directions(text, beside);
        }
        hw_text_add(text, ".");
    }
    hw_text_add(text, "\n");
}

// The sentence that follows. For `tone` the headline has said what the reason says, so what is left
// of the size's words stands here.
static void add_reason(hw_text *text, const hw_comparison *beside)
{
    const char *reason = beside->why;
    if (beside->verdict == HW_VERDICT_TONE) {
        first_sentence(hw_size_words(beside->gap.de00), &reason);
    }
    if (*reason) {
        hw_text_add(text, "    ");
        hw_report_add_clean(text, reason);
        hw_text_add(text, "\n");
    }
}

static bool is_beside(const hw_comparison *item)
{
    return strcmp(item->target, HW_BESIDE) == 0;
}

static size_t singles_of(const hw_comparisons *all, const char *patch)
{
    size_t count = 0;
    for (size_t i = 0; i < all->count; i++) {
        count += !is_beside(&all->item[i]) && strcmp(all->item[i].patch, patch) == 0;
    }
    return count;
}

// "against left stile 6.1 (5.3 to 6.9); right stile 4.8 (4.0 to 5.6)"
static void add_singles(hw_text *text, const hw_comparisons *all, const char *patch)
{
    size_t said = 0, count = singles_of(all, patch);
    for (size_t i = 0; i < all->count && count > 1; i++) {
        const hw_comparison *item = &all->item[i];
        if (is_beside(item) || strcmp(item->patch, patch) != 0) {
            continue;
        }
        hw_text_add(text, said++ ? "; " : "    one by one: ");
        hw_report_add_clean(text, item->target);
        hw_text_add(text, " ");
        hw_report_add_range(text, item->gap.de00, item->de00_low, item->de00_high);
    }
    hw_text_add(text, said ? "\n" : "");
}

static void add_patch(hw_text *text, const hw_comparisons *all, const hw_comparison *beside,
                      const hw_report_style *style)
{
    add_headline(text, beside);
    if (style->quiet) {
        return;
    }
    add_reason(text, beside);
    if (style->swatches) {
        hw_report_add_swatches(text, beside->target_lab, beside->patch_lab);
    }
    hw_text_add(text, "    gap to the old wood ");
    hw_report_add_range(text, beside->gap.de00, beside->de00_low, beside->de00_high);
    hw_text_add(text, "; the old wood itself varies by %.1f\n    ", beside->spread);
    hw_report_add_components(text, beside);
    hw_text_add(text, "\n");
    add_singles(text, all, beside->patch);
    hw_text_add(text, "\n");
}

// ---- How the numbers came about ----------------------------------------------------

static void add_shot(hw_text *text, const hw_photo_facts *facts)
{
    hw_text_add(text, "How this was read\n    photo: %s, %zu x %zu pixels, %u bits; colour: ",
                facts->format ? facts->format : "", facts->width_px, facts->height_px, facts->bits);
    hw_report_add_clean(text, facts->colour);
    if (facts->camera[0]) {
        hw_text_add(text, "; camera: ");
        hw_report_add_clean(text, facts->camera);
    }
    if (facts->taken[0]) {
        hw_text_add(text, "; taken ");
        hw_report_add_clean(text, facts->taken);
    }
    hw_text_add(text, "\n");
}

static void add_light(hw_text *text, const hw_light *light)
{
    hw_lab seen = hw_lab_from_xyz(light->card_seen, hw_white_d50);
    hw_text_add(text,
                "    card: taken as L* %.1f a* %.1f b* %.1f (%s); photographed as L* %.1f a* %.1f "
                "b* %.1f; its own pixels vary by %.1f %%\n",
                light->card_lab.L, light->card_lab.a, light->card_lab.b,
                light->card_measured ? "its own measured colour" : "a plain 18 % grey", seen.L,
                seen.a, seen.b, 100.0 * light->card_spread);
    hw_text_add(text,
                "    light: the photo is multiplied by %.3f in the long, %.3f in the middle and "
                "%.3f in the short band (each known to %.1f %%)\n",
                light->gain[0], light->gain[1], light->gain[2],
                100.0 * fmax(light->u_gain[0], fmax(light->u_gain[1], light->u_gain[2])));
    hw_text_add(text,
                "    if the light falls off over the picture as it does on the card: %.0f %% from "
                "end to end\n",
                100.0 * fabs(light->uneven));
}

static void add_sample(hw_text *text, const hw_sample *sample)
{
    hw_text_add(text, "    %s ", sample->role == HW_ROLE_TARGET ? "old wood" : "repair");
    hw_report_add_clean(text, sample->name);
    hw_text_add(text, ": L* %.1f a* %.1f b* %.1f (mean known to %s%.2f %.2f %.2f), ", sample->lab.L,
                sample->lab.a, sample->lab.b, sample->standard_error_is_floor ? "at best " : "",
                sample->standard_error[0], sample->standard_error[1], sample->standard_error[2]);
    hw_text_add(text, "varies by %.1f %.1f %.1f; %zu pixels, %zu of them left out as glare\n",
                sample->spread[0], sample->spread[1], sample->spread[2], sample->pixels,
                sample->left_out);
}

// What the doubt is made of, largest first, as 90 % half widths of the gap.
static void add_budget(hw_text *text, const hw_comparison *item)
{
    bool told[HW_DOUBT_COUNT] = {false};
    hw_text_add(text, "    what the gap of ");
    hw_report_add_clean(text, item->patch);
    hw_text_add(text, " may be wrong by (9 times in 10):\n");
    for (int turn = 0; turn < HW_DOUBT_COUNT; turn++) {
        int largest = -1;
        for (int source = 0; source < HW_DOUBT_COUNT; source++) {
            if (!told[source] && (largest < 0 || item->doubt[source] > item->doubt[largest])) {
                largest = source;
            }
        }
        told[largest] = true;
        hw_text_add(text, "        %.2f  %s\n", 1.645 * item->doubt[largest],
                    hw_doubt_words((hw_doubt)largest));
    }
}

static void add_test(hw_text *text, const hw_comparison *beside)
{
    hw_text_add(text, "    ");
    hw_report_add_clean(text, beside->patch);
    hw_text_add(text,
                ": the smallest gap that this photo can tell from none is %.1f; gap over the old "
                "wood's spread %.1f (%zu pieces of old wood); CIE 1976 %.1f, CIE 1994 %.1f",
                beside->tellable, beside->spread_ratio, beside->spread_count, beside->gap.de76,
                beside->gap.de94);
    if (isfinite(beside->t_squared) && isfinite(beside->t_squared_p)) {
        hw_text_add(text, "; Hotelling's T squared %.1f, p %.3f (shown beside it, never decides)",
                    beside->t_squared, beside->t_squared_p);
    }
    hw_text_add(text, "\n");
}

static void add_why(hw_text *text, const hw_reading *reading)
{
    add_shot(text, &reading->photo);
    add_light(text, &reading->light);
    for (size_t i = 0; i < reading->sample_count; i++) {
        add_sample(text, &reading->samples[i]);
    }
    for (size_t i = 0; i < reading->comparisons.count; i++) {
        const hw_comparison *item = &reading->comparisons.item[i];
        if (is_beside(item)) {
            add_test(text, item);
            add_budget(text, item);
        }
    }
}

// ---- All of it ---------------------------------------------------------------------

static void add_nothing_to_compare(hw_text *text, const hw_reading *reading)
{
    for (size_t i = 0; i < reading->sample_count; i++) {
        const hw_sample *sample = &reading->samples[i];
        hw_report_add_clean(text, sample->name);
        hw_text_add(text, ": %s, L* %.1f, a* %.1f, b* %.1f, and varies by %.1f in lightness\n",
                    sample->role == HW_ROLE_TARGET ? "old wood" : "repair", sample->lab.L,
                    sample->lab.a, sample->lab.b, sample->spread[0]);
    }
    hw_text_add(text, "No repair is marked beside old wood, so there is nothing to compare.\n\n");
}

static void add_reading(hw_text *text, const hw_reading *reading, const hw_report_style *style)
{
    if (!style->quiet) {
        hw_report_add_warnings(text, &reading->photo.warnings);
        hw_report_add_warnings(text, &reading->light.warnings);
        hw_report_add_warnings(text, &reading->warnings);
        size_t told =
            reading->photo.warnings.count + reading->light.warnings.count + reading->warnings.count;
        hw_text_add(text, told ? "\n" : "");
    }
    if (reading->comparisons.count == 0 && !style->quiet) {
        add_nothing_to_compare(text, reading);
    }
    for (size_t i = 0; i < reading->comparisons.count; i++) {
        if (is_beside(&reading->comparisons.item[i])) {
            add_patch(text, &reading->comparisons, &reading->comparisons.item[i], style);
        }
    }
    if (style->why) {
        add_why(text, reading);
    }
    if (!style->quiet) {
        hw_text_add(text,
                    "Gaps are colour differences (CIEDE2000) between the means; the ranges hold "
                    "9 times in 10.\n");
    }
}

hw_status hw_report_reading_text(const hw_reading *reading, const hw_report_style *style,
                                 char **out, hw_error *err)
{
    hw_text text = {0};
    add_reading(&text, reading, style);
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_photo_text(const hw_photo_news *news, const hw_reading *reading,
                               const hw_report_style *style, char **out, hw_error *err)
{
    hw_text text = {0};
    if (!style->quiet) {
        hw_text_add(&text, "Saved as photo %ld", news->number);
        if (news->marks_reused) {
            hw_text_add(&text, ", with the marks of the last photo of this view as they lie");
        }
        hw_text_add(&text, ".\n");
        hw_report_add_warnings(&text, news->warnings);
        hw_text_add(&text, "\n");
    }
    add_reading(&text, reading, style);
    return hw_report_finish(&text, out, err);
}
