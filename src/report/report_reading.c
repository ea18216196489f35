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

void hw_report_add_verdict(hw_text *text, const hw_comparison *beside, bool large)
{
    hw_report_add_large(text, hw_report_verdict_words(beside->verdict), large);
    hw_text_add(text, ".");
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
}

// "lid strip: TONE IT. Clear difference: too light, a touch green."
static void add_headline(hw_text *text, const hw_comparison *beside)
{
    hw_report_add_clean(text, beside->patch);
    hw_text_add(text, ": ");
    hw_report_add_verdict(text, beside, true);
    hw_text_add(text, "\n");
}

// For `tone` the headline has said what the reason says, so what is left of the size's words stands here.
const char *hw_report_reason(const hw_comparison *beside)
{
    const char *reason = beside->why;
    if (beside->verdict == HW_VERDICT_TONE) {
        first_sentence(hw_size_words(beside->gap.de00), &reason);
    }
    return reason;
}

// The sentence that follows.
static void add_reason(hw_text *text, const hw_comparison *beside)
{
    const char *reason = hw_report_reason(beside);
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
        hw_report_add_gap_range(text, item->gap.de00, item->de00_low, item->de00_high);
    }
    hw_text_add(text, said ? "\n" : "");
}

static void add_seam_words(hw_text *text, const hw_seam_piece *piece)
{
    if (piece->verdict == HW_VERDICT_LEAVE) {
        hw_text_add(text, ", leave");
    } else if (piece->direction_count > 0) {
        hw_text_add(text, ", %s", hw_direction_words(piece->direction[0]));
    }
}

// Do all pieces of a joint ask for the same?
static bool same_all_along(const hw_seam *seam)
{
    bool same = true;
    for (size_t i = 1; i < seam->count; i++) {
        const hw_seam_piece *one = &seam->piece[0], *other = &seam->piece[i];
        bool directions = one->direction_count > 0 && other->direction_count > 0 &&
                          one->direction[0] == other->direction[0];
        bool leave = one->verdict == HW_VERDICT_LEAVE;
        same = same && (other->verdict == HW_VERDICT_LEAVE) == leave && (leave || directions);
    }
    return same;
}

// "left stile, upper half 2.1 (1.2 to 3.0), too green; left stile, lower half 0.6 (0.0 to 1.2), leave",
// or "left stile 5.0 to 6.1 (3.5 to 7.7), too light".
static void add_seam(hw_text *text, const hw_seam *seam)
{
    hw_seam_piece least = seam->piece[0], most = seam->piece[0];
    for (size_t i = 0; i < seam->count; i++) {
        const hw_seam_piece *piece = &seam->piece[i];
        least = piece->gap.de00 < least.gap.de00 ? *piece : least;
        most = piece->gap.de00 > most.gap.de00 ? *piece : most;
    }
    if (same_all_along(seam)) {
        hw_report_add_clean(text, seam->target);
        if (seam->count > 1 && least.de00_low >= 0.05) {
            hw_text_add(text, " %.1f to", least.gap.de00);
        }
        hw_text_add(text, " ");
        hw_report_add_gap_range(text, most.gap.de00, least.de00_low, most.de00_high);
        add_seam_words(text, &most);
        return;
    }
    for (size_t i = 0; i < seam->count; i++) {
        const hw_seam_piece *piece = &seam->piece[i];
        hw_text_add(text, i ? "; " : "");
        hw_report_add_clean(text, seam->target);
        hw_text_add(text, ", %s ", hw_stretch_words(&piece->stretch));
        hw_report_add_gap_range(text, piece->gap.de00, piece->de00_low, piece->de00_high);
        add_seam_words(text, piece);
    }
}

static void add_seams(hw_text *text, const hw_comparisons *all, const char *patch)
{
    size_t said = 0;
    for (size_t i = 0; i < all->seam_count; i++) {
        if (strcmp(all->seam[i].patch, patch) == 0) {
            hw_text_add(text, said++ ? "; " : "    at the joint: ");
            add_seam(text, &all->seam[i]);
        }
    }
    hw_text_add(text, said ? "\n" : "");
}

static const hw_sample *sample_named(const hw_reading *reading, hw_role role, const char *name)
{
    for (size_t i = 0; i < reading->sample_count; i++) {
        const hw_sample *sample = &reading->samples[i];
        if (sample->role == role && strcmp(sample->name, name) == 0) {
            return sample;
        }
    }
    return NULL;
}

// The wood between the pores, where it can be told and pores make a difference.
static void add_ground(hw_text *text, const hw_reading *reading, const hw_comparison *beside)
{
    const hw_sample *patch = sample_named(reading, HW_ROLE_PATCH, beside->patch);
    if (!beside->ground.known || !patch) {
        return;
    }
    hw_text_add(text, "    between the pores ");
    hw_report_add_gap_range(text, beside->ground.gap.de00, beside->ground.de00_low,
                            beside->ground.de00_high);
    hw_text_add(text, "; pores take %.0f %% of it", 100.0 * patch->pore_share);
    if (patch->ground_known) {
        hw_text_add(text, ", of L* %.0f", patch->pore_lab.L);
    }
    hw_text_add(text, "\n");
}

void hw_report_add_shots(hw_text *text, const hw_reading *reading, const hw_comparison *beside)
{
    char apart[32];
    hw_report_half_range(apart, sizeof apart, beside->shots_apart);
    if (reading->shots.disagree) {
        hw_text_add(text, "%zu shots differ by up to %s: the range reaches past all of them",
                    beside->shots, apart);
    } else {
        hw_text_add(text, "%zu shots agree within %s", beside->shots, apart);
    }
}

static const char *const sight_words[] = {
    [HW_SIGHT_UNTOLD] = "cannot be told from this photo",
    [HW_SIGHT_BLENDS] = "blends in",
    [HW_SIGHT_SHOWS] = "shows",
};

// "from 1.5 m: blends: ...", beside the verdict.
static void add_sight(hw_text *text, const hw_sight *sight)
{
    bool near = sight->distance_mm < 1000.0;
    hw_text_add(text, "    from %.3g %s: ", sight->distance_mm / (near ? 10.0 : 1000.0),
                near ? "cm" : "m");
    if (!sight->known) {
        hw_text_add(text, "not told, ");
        hw_report_add_clean(text, sight->why_not);
        hw_text_add(text, "\n");
        return;
    }
    hw_text_add(text, "%s: 95 %% of it lies within ", sight_words[sight->verdict]);
    hw_report_add_range(text, sight->patch_off, sight->patch_low, sight->patch_high);
    hw_text_add(text, " of the old wood's mean, 95 %% of the old wood within %.1f\n",
                sight->wood_off);
}

static void add_sights(hw_text *text, const hw_reading *reading, const char *patch)
{
    for (size_t i = 0; i < reading->sight_count; i++) {
        if (strcmp(reading->sights[i].patch, patch) == 0) {
            add_sight(text, &reading->sights[i]);
        }
    }
}

void hw_report_add_spread(hw_text *text, const hw_comparison *beside)
{
    if (beside->spread_count < 2 && beside->spread <= beside->spread_here) {
        hw_text_add(text, "how much the old wood itself varies is not known (%.1f assumed)",
                    beside->spread);
    } else {
        hw_text_add(text, "the old wood itself varies by %.1f", beside->spread);
    }
}

void hw_report_add_further(hw_text *text, const hw_reading *reading, const hw_comparison *beside)
{
    const hw_comparisons *all = &reading->comparisons;
    add_ground(text, reading, beside);
    add_singles(text, all, beside->patch);
    add_seams(text, all, beside->patch);
    add_sights(text, reading, beside->patch);
}

static void add_patch(hw_text *text, const hw_reading *reading, const hw_comparison *beside,
                      const hw_report_style *style)
{
    add_headline(text, beside);
    if (style->quiet) {
        add_sights(text, reading, beside->patch); // it was asked for
        return;
    }
    add_reason(text, beside);
    if (beside->uneven.found) {
        hw_text_add(text, "    %s\n", beside->uneven.words);
    }
    if (style->swatches) {
        hw_report_add_swatches(text, beside->target_lab, beside->patch_lab);
    }
    hw_text_add(text, "    gap to the old wood ");
    hw_report_add_gap_range(text, beside->gap.de00, beside->de00_low, beside->de00_high);
    hw_text_add(text, "; ");
    hw_report_add_spread(text, beside);
    hw_text_add(text, "\n    ");
    hw_report_add_components(text, beside);
    hw_text_add(text, "\n");
    if (beside->shots > 1) {
        hw_text_add(text, "    ");
        hw_report_add_shots(text, reading, beside);
        hw_text_add(text, "\n");
    }
    hw_report_add_further(text, reading, beside);
    hw_text_add(text, "\n");
}

// ---- How the numbers came about ----------------------------------------------------

// Each of several shots: used or why not.
static void add_each_shot(hw_text *text, const hw_shots *shots)
{
    for (size_t i = 0; i < shots->count && shots->count > 1; i++) {
        const hw_one_shot *shot = &shots->shot[i];
        hw_text_add(text, "    shot %zu, ", i + 1);
        hw_report_add_clean(text, shot->file);
        if (shot->used) {
            hw_text_add(text, ": used, %.1f from the mean\n", shot->off);
        } else {
            hw_text_add(text, ": left out, ");
            hw_report_add_clean(text, shot->why);
            hw_text_add(text, "\n");
        }
    }
}

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
    const char *shown_by = light->field.from_sheet   ? "by the sheet"
                           : light->field.places > 1 ? "by the references"
                                                     : "if it goes on as on the card";
    hw_text_add(text, "    the light falls off by %.0f %% over the picture, %s\n",
                100.0 * fabs(light->uneven), shown_by);
    hw_report_add_camera_use(text, light);
    if (light->tone.straightens && light->camera.curve && light->tone.steps < 2) {
        hw_text_add(
            text, "    tone curve as learned: contrast %+.2f, lift %+.2f, stray light %.1f %%\n",
            light->tone.parameter[0], light->tone.parameter[1], 100.0 * light->tone.parameter[2]);
    } else if (light->tone.straightens) {
        hw_text_add(
            text,
            "    tone curve from %zu neutral steps: contrast %+.2f, lift %+.2f, stray light "
            "%.1f %%; they fit to %.1f %%\n",
            light->tone.steps, light->tone.parameter[0], light->tone.parameter[1],
            100.0 * light->tone.parameter[2], 100.0 * light->tone.left_over);
    } else {
        hw_text_add(text, light->linear
                              ? "    tone curve: none, a raw file has the sensor's own values\n"
                              : "    tone curve: not known, so none is taken out\n");
    }
    if (light->chart.patches > 0) {
        hw_text_add(text,
                    "    colour chart, %zu patches, edition %s November 2014: %s (at the colours "
                    "nearest the wood off by %.1f with the card alone, %.1f with it)\n",
                    light->chart.patches, light->chart.later_edition ? "since" : "before",
                    light->chart.used ? "used" : "left aside", light->chart.before,
                    light->chart.after);
    }
}

// What single colours are worth: on made-up cameras under LED lamps and tubes the card alone leaves them
// off by 2 to 4, a chart by about 1.
static void add_worth(hw_text *text, const hw_light *light)
{
    hw_text_add(
        text,
        "    single colours are doubtful, by about %s under LED lamps and tubes; what parts of "
        "one photo differ by is far surer\n",
        light->chart.used ? "1" : "2 to 4");
}

static void add_sample(hw_text *text, const hw_sample *sample, const hw_light *light)
{
    hw_text_add(text, "    %s ", sample->role == HW_ROLE_TARGET ? "old wood" : "repair");
    hw_report_add_clean(text, sample->name);
    hw_text_add(text, ": L* %.1f a* %.1f b* %.1f (mean known to %s%.2f %.2f %.2f), ", sample->lab.L,
                sample->lab.a, sample->lab.b, sample->standard_error_is_floor ? "at best " : "",
                sample->standard_error[0], sample->standard_error[1], sample->standard_error[2]);
    hw_text_add(text, "varies by %.1f %.1f %.1f; %zu pixels, %zu of them left out as glare\n",
                sample->spread[0], sample->spread[1], sample->spread[2], sample->pixels,
                sample->left_out);
    double change = hw_light_change(light, sample->centre, light->field.centre);
    if (fabs(change) >= 0.005) {
        hw_text_add(text, "        the light on it is taken to be %.0f %% %s than on the card\n",
                    100.0 * fabs(expm1(change)), change > 0.0 ? "more" : "less");
    }
    if (sample->ground_known) {
        hw_text_add(
            text,
            "        pores %.0f %% of it, L* %.1f a* %.1f b* %.1f; the wood between them L* "
            "%.1f a* %.1f b* %.1f\n",
            100.0 * sample->pore_share, sample->pore_lab.L, sample->pore_lab.a, sample->pore_lab.b,
            sample->ground_lab.L, sample->ground_lab.a, sample->ground_lab.b);
    } else if (sample->pore_share >= 0.01) {
        bool narrow = sample->pore_px < HW_PORE_LEAST_PX;
        hw_text_add(text, "        dark places %.0f %% of it, %.1f pixels wide: %s\n",
                    100.0 * sample->pore_share, sample->pore_px,
                    narrow ? "too narrow to be told from the wood between them, go nearer"
                           : "no pores all over it, so the wood between them is not told apart");
    }
}

static hw_doubt largest_doubt(const hw_comparison *item, const bool *told)
{
    int largest = -1;
    for (int source = 0; source < HW_DOUBT_COUNT; source++) {
        bool larger = largest < 0 || item->doubt[source] > item->doubt[largest];
        largest = !told[source] && larger ? source : largest;
    }
    return (hw_doubt)largest;
}

// How much smaller the whole range would be were its largest part half as large.
static const char *gain_words(const hw_comparison *item, hw_doubt largest)
{
    double sum = 0.0, part = item->doubt[largest] * item->doubt[largest];
    for (int source = 0; source < HW_DOUBT_COUNT; source++) {
        sum += item->doubt[source] * item->doubt[source];
    }
    double left = sum > 0.0 ? sqrt((sum - 0.75 * part) / sum) : 1.0;
    return left < 0.6   ? "would narrow the range most, to about half"
           : left < 0.8 ? "would narrow the range most, by about a third"
                        : "would narrow the range most, though not by much";
}

// What the doubt is made of, largest first, as 90 % half widths of the gap; and what would help.
static void add_budget(hw_text *text, const hw_comparison *item, const hw_light *light)
{
    bool told[HW_DOUBT_COUNT] = {false};
    hw_doubt first = largest_doubt(item, told);
    hw_text_add(text, "    what the gap of ");
    hw_report_add_clean(text, item->patch);
    hw_text_add(text, " may be wrong by (9 times in 10):\n");
    for (int turn = 0; turn < HW_DOUBT_COUNT; turn++) {
        hw_doubt largest = largest_doubt(item, told);
        told[largest] = true;
        hw_text_add(text, "        %.2f  %s\n", HW_NINETY * item->doubt[largest],
                    hw_doubt_words(largest));
    }
    const char *cure = hw_doubt_cure(first, light);
    hw_text_add(text, "        %c%s %s\n", cure[0] - 'a' + 'A', cure + 1, gain_words(item, first));
}

static void add_test(hw_text *text, const hw_comparison *beside)
{
    hw_text_add(text, "    ");
    hw_report_add_clean(text, beside->patch);
    hw_text_add(text,
                ": the smallest gap that this photo can tell from none is %.1f; gap over the old "
                "wood's spread %.1f (%zu piece%s of old wood); CIE 1976 %.1f, CIE 1994 %.1f",
                beside->tellable, beside->spread_ratio, beside->spread_count,
                beside->spread_count == 1 ? "" : "s", beside->gap.de76, beside->gap.de94);
    if (isfinite(beside->t_squared) && isfinite(beside->t_squared_p)) {
        bool tiny = beside->t_squared_p < 0.001;
        hw_text_add(text, "; Hotelling's T squared %.1f, p %s%.3f (shown beside it, never decides)",
                    beside->t_squared, tiny ? "below " : "", tiny ? 0.001 : beside->t_squared_p);
    }
    hw_text_add(text, "\n");
}

static void add_why(hw_text *text, const hw_reading *reading)
{
    add_shot(text, &reading->photo);
    add_each_shot(text, &reading->shots);
    add_light(text, &reading->light);
    add_worth(text, &reading->light);
    for (size_t i = 0; i < reading->sample_count; i++) {
        add_sample(text, &reading->samples[i], &reading->light);
    }
    for (size_t i = 0; i < reading->comparisons.count; i++) {
        const hw_comparison *item = &reading->comparisons.item[i];
        if (is_beside(item)) {
            add_test(text, item);
            add_budget(text, item, &reading->light);
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

// Old wood that could be marked too, as options to copy.
static void add_proposed(hw_text *text, const hw_marks *proposed)
{
    for (size_t i = 0; i < proposed->count; i++) {
        const hw_mark *mark = &proposed->mark[i];
        double x = mark->points[0].x, y = mark->points[0].y; // clockwise from the top left
        hw_text_add(text, i == 0 ? "Old wood to mark too:\n" : "");
        hw_text_add(text, "    --target '");
        hw_report_add_clean(text, mark->name);
        hw_text_add(text, "=%.0f,%.0f,%.0f,%.0f'\n", x, y, mark->points[2].x - x,
                    mark->points[2].y - y);
    }
    hw_text_add(text, proposed->count > 0 ? "\n" : "");
}

static void add_reading(hw_text *text, const hw_reading *reading, const hw_report_style *style)
{
    if (!style->quiet) {
        hw_warnings all;
        hw_report_photo_check(reading, &all);
        hw_report_add_warnings(text, &all);
        hw_text_add(text, all.count ? "\n" : "");
    }
    if (reading->comparisons.count == 0 && !style->quiet) {
        add_nothing_to_compare(text, reading);
    }
    for (size_t i = 0; i < reading->comparisons.count; i++) {
        if (is_beside(&reading->comparisons.item[i])) {
            add_patch(text, reading, &reading->comparisons.item[i], style);
        }
    }
    if (!style->quiet) {
        add_proposed(text, &reading->proposed);
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

static void add_carried(hw_text *text, const hw_photo_news *news)
{
    if (news->marks_carried) {
        hw_text_add(
            text,
            ", with the marks of the last photo of this view carried to where the wood lies "
            "now (up to %.0f pixels farther on, known within about %.0f)",
            news->moved_px, ceil(1.645 * news->error_px));
    } else if (news->marks_reused) {
        hw_text_add(text, ", with the marks of the last photo of this view as they lie");
    }
}

hw_status hw_report_photo_text(const hw_photo_news *news, const hw_reading *reading,
                               const hw_report_style *style, char **out, hw_error *err)
{
    hw_text text = {0};
    if (!style->quiet) {
        hw_text_add(&text, "Saved as photo %ld", news->number);
        add_carried(&text, news);
        hw_text_add(&text, ".\n");
        hw_report_add_warnings(&text, news->warnings);
        hw_text_add(&text, "\n");
    }
    add_reading(&text, reading, style);
    return hw_report_finish(&text, out, err);
}

// ---- From several sides ------------------------------------------------------------

static void add_side_change(hw_text *text, const char *side, const hw_side_gap *gap)
{
    hw_text_add(text, "    from the %s it is ", side);
    hw_report_add_change(text, gap->delta[0], gap->delta[1], gap->delta[2]);
    hw_text_add(text, "\n");
}

static void add_pair(hw_text *text, const hw_side_pair *pair)
{
    hw_report_add_clean(text, pair->patch);
    hw_text_add(text, ": %s\n",
                pair->turned ? hw_grain_light
                             : "no surely opposite difference from the left and from the right");
    add_side_change(text, "left", &pair->left);
    add_side_change(text, "right", &pair->right);
}

hw_status hw_report_sides_text(const hw_reading *reading, size_t count, const hw_side_pair *pair,
                               size_t pairs, const hw_report_style *style, char **out,
                               hw_error *err)
{
    hw_text text = {0};
    for (size_t i = 0; i < pairs; i++) {
        if (pair[i].turned || !style->quiet) {
            add_pair(&text, &pair[i]);
        }
    }
    for (size_t i = 0; i < count; i++) {
        hw_text_add(&text, "%s%c%s: ", text.length ? "\n" : "", 'F',
                    hw_from_words(reading[i].from) + 1);
        hw_report_add_clean(&text, reading[i].photo.file);
        hw_text_add(&text, "\n");
        add_reading(&text, &reading[i], style);
    }
    return hw_report_finish(&text, out, err);
}
