// card_reference.c: all references of a photo, each with what it is known to be.
//
// Nominal values: a grey card of 18 % is L* 49.5 (ISO/CIE 11664-4), a white step 95, a black one 22
// (chosen: printed cards of common makers lie about there), a step named by a number has that L*,
// chart patches have their published colours.
#include "card_internal.h"

#include <math.h>
#include <stdlib.h>

static const hw_lab nominal_card = {49.5, 0.0, 0.0};

// How well a reference is what it says: standard uncertainty of its L*. Chosen: printed cards sold
// as 18 % differ by about one L*, steps likewise, charts are made with more care.
static const double u_card = 1.0, u_step = 0.8, u_numbered = 0.4, u_chart = 0.4, u_measured = 0.3;

// Cards of one kind: lamps change the level by this much from end to end, and the colour by this (long
// over middle band, ln; twice that for the short one). Chosen.
static const double card_level_most = 0.45, card_colour_most = 0.10;
static const size_t pixels_least = 100; // of the inner part

// ---- What a mark is known to be ----------------------------------------------------

static bool step_lab(const char *name, hw_lab *lab, double *u)
{
    static const struct {
        const char *name;
        double L;
    } nominal[] = {{"white", 95.0}, {"grey", 49.5}, {"black", 22.0}};
    for (size_t i = 0; i < sizeof nominal / sizeof *nominal; i++) {
        if (strcmp(name, nominal[i].name) == 0) {
            *lab = (hw_lab){nominal[i].L, 0.0, 0.0};
            *u = u_step;
            return true;
        }
    }
    double L = 0.0;
    if (!hw_parse_number(name, false, &L) || L <= 0.0 || L > 100.0) {
        return false;
    }
    *lab = (hw_lab){L, 0.0, 0.0};
    *u = u_numbered;
    return true;
}

static int chart_number(const char *name)
{
    double number = 0.0;
    bool good = hw_parse_number(name, false, &number) && number >= 1.0 && number <= 24.0 &&
                floor(number) == number;
    return good ? (int)number : 0;
}

static bool describe(const hw_mark *mark, const hw_card_options *options, hw_reference *out)
{
    *out = (hw_reference){.mark = mark};
    switch (mark->role) {
    case HW_ROLE_CARD:
        out->known = out->neutral = true;
        out->lab = options && options->has_lab ? options->lab : nominal_card;
        out->u_L = options && options->has_lab ? u_measured : u_card;
        return true;
    case HW_ROLE_NEUTRAL:
        out->known = out->neutral = step_lab(mark->name, &out->lab, &out->u_L);
        return out->known;
    case HW_ROLE_CHART:
        out->chart_patch = chart_number(mark->name);
        out->known = out->chart_patch > 0;
        out->neutral = out->chart_patch >= 19;
        out->u_L = u_chart;
        return out->known;
    case HW_ROLE_FIELD:
        return true;
    default:
        return false;
    }
}

void hw_references_set_edition(hw_references *references, bool later_edition)
{
    for (size_t i = 0; i < references->count; i++) {
        hw_reference *item = &references->item[i];
        if (item->chart_patch > 0) {
            item->lab = hw_chart_lab(item->chart_patch, later_edition);
        }
    }
}

// ---- Its pixels --------------------------------------------------------------------

static double trimmed_mean(const double *values, double *scratch, size_t count)
{
    // Pixels beyond three robust deviations first (dust, a fingerprint), then a tenth at each end.
    double median, spread;
    for (size_t i = 0; i < count; i++) {
        scratch[i] = values[i];
    }
    hw_median_spread(scratch, count, &median, &spread);
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        if (fabs(values[i] - median) <= 3.0 * spread) {
            scratch[kept++] = values[i];
        }
    }
    size_t cut = kept / 10;
    double low = hw_select(scratch, kept, cut);
    double high = hw_select(scratch, kept, kept - 1 - cut);
    double sum = 0.0;
    size_t used = 0;
    for (size_t i = 0; i < kept; i++) {
        if (scratch[i] >= low && scratch[i] <= high) {
            sum += scratch[i];
            used++;
        }
    }
    return sum / (double)used;
}

// Cells so large that the noise of single pixels averages out: a side of at least five pixels.
static size_t grid_side(size_t pixels)
{
    double side = floor(sqrt((double)pixels) / 5.0);
    return side < 2.0 ? 2 : side > HW_GRID ? HW_GRID : (size_t)side;
}

static void fill_cells(const hw_card_pixels *pixels, hw_reference *out)
{
    double x0 = INFINITY, x1 = -INFINITY, y0 = INFINITY, y1 = -INFINITY;
    for (size_t i = 0; i < pixels->count; i++) {
        x0 = fmin(x0, pixels->x[i]);
        x1 = fmax(x1, pixels->x[i]);
        y0 = fmin(y0, pixels->y[i]);
        y1 = fmax(y1, pixels->y[i]);
    }
    size_t side = grid_side(pixels->count), number[HW_GRID * HW_GRID] = {0};
    for (size_t i = 0; i < pixels->count; i++) {
        size_t column = (size_t)((pixels->x[i] - x0) / (x1 - x0 + 1.0) * (double)side);
        size_t row = (size_t)((pixels->y[i] - y0) / (y1 - y0 + 1.0) * (double)side);
        hw_reference_cell *cell = &out->cell[row * side + column];
        cell->x += pixels->x[i];
        cell->y += pixels->y[i];
        cell->seen.X += pixels->X[i];
        cell->seen.Y += pixels->Y[i];
        cell->seen.Z += pixels->Z[i];
        number[row * side + column]++;
    }
    for (size_t i = 0; i < side * side; i++) {
        if (number[i] == 0) {
            continue;
        }
        double n = (double)number[i];
        const hw_reference_cell *sum = &out->cell[i];
        hw_reference_cell mean = {
            sum->x / n, sum->y / n, {sum->seen.X / n, sum->seen.Y / n, sum->seen.Z / n}};
        out->cell[out->cells++] = mean;
    }
}

// Robust spread of single pixels about their cell, as a share: noise, and patterns finer than a
// cell. The cells' own differences (light that falls off) are taken out by neighbours in a row.
static double pixel_spread(const hw_card_pixels *pixels, double mean, double *scratch)
{
    size_t count = 0;
    for (size_t i = 1; i < pixels->count; i++) {
        if (pixels->y[i] == pixels->y[i - 1]) {
            scratch[count++] = (pixels->Y[i] - pixels->Y[i - 1]) / 1.4142135623730951;
        }
    }
    double median = 0.0, spread = 0.0;
    if (count > 0) {
        hw_median_spread(scratch, count, &median, &spread);
    }
    return mean > 0.0 ? spread / mean : 0.0;
}

// s.d. of ln Y of the card's cells about the plane of light over it alone.
static double left_over_of(const hw_reference *card)
{
    double n = (double)card->cells, mx = 0, my = 0, ml = 0;
    double xx = 0, xy = 0, yy = 0, xl = 0, yl = 0, ll = 0;
    for (size_t i = 0; i < card->cells; i++) {
        mx += card->cell[i].x / n;
        my += card->cell[i].y / n;
        ml += log(fmax(card->cell[i].seen.Y, 1e-6)) / n;
    }
    for (size_t i = 0; i < card->cells; i++) {
        double x = card->cell[i].x - mx, y = card->cell[i].y - my;
        double l = log(fmax(card->cell[i].seen.Y, 1e-6)) - ml;
        xx += x * x;
        xy += x * y;
        yy += y * y;
        xl += x * l;
        yl += y * l;
        ll += l * l;
    }
    double determinant = xx * yy - xy * xy;
    if (n < 4.0 || determinant <= 1e-9 * xx * yy) {
        return sqrt(ll / fmax(n - 1.0, 1.0));
    }
    double sx = (xl * yy - yl * xy) / determinant, sy = (yl * xx - xl * xy) / determinant;
    return sqrt(fmax(ll - sx * xl - sy * yl, 0.0) / fmax(n - 3.0, 1.0));
}

static hw_status read_one(const hw_photo *photo, hw_reference *item, hw_error *err)
{
    hw_card_pixels pixels = {0};
    hw_status status = hw_card_gather(photo, item->mark, HW_CARD_INNER, &pixels, err);
    if (status != HW_OK) {
        return status;
    }
    item->pixels = pixels.count;
    item->mean_code = pixels.mean_code;
    item->max_code = pixels.max_code;
    item->top_share = pixels.top_share;
    item->bottom_share = pixels.bottom_share;
    item->centre = hw_mark_centre(item->mark);
    item->usable = pixels.count >= pixels_least && pixels.top_share <= HW_CLIPPED_MOST &&
                   pixels.bottom_share <= HW_CLIPPED_MOST;
    if (pixels.count < pixels_least) {
        goto done;
    }
    double *scratch = hw_alloc_array(pixels.count, sizeof *scratch);
    if (!scratch) {
        status = hw_fail_memory(err, "reading the references");
        goto done;
    }
    item->seen.X = trimmed_mean(pixels.X, scratch, pixels.count);
    item->seen.Y = trimmed_mean(pixels.Y, scratch, pixels.count);
    item->seen.Z = trimmed_mean(pixels.Z, scratch, pixels.count);
    item->spread = pixel_spread(&pixels, item->seen.Y, scratch);
    fill_cells(&pixels, item);
    item->left_over = left_over_of(item);
    item->patterned = item->spread > HW_PIXELS_MOST || item->left_over > HW_PATTERN_MOST;
    item->usable = item->usable && !item->patterned;
    hw_free(scratch);
done:
    hw_card_pixels_free(&pixels);
    return status;
}

// ---- All of them -------------------------------------------------------------------

static const hw_mark *find_card(const hw_marks *marks)
{
    const hw_mark *card = hw_marks_find(marks, HW_ROLE_CARD, NULL);
    if (!card) {
        card = hw_marks_find(marks, HW_ROLE_NEUTRAL, "grey");
    }
    return card ? card : hw_marks_find(marks, HW_ROLE_CHART, "22");
}

// Seen so unlike the first card that no lamp explains it: another kind of card, or none.
static bool is_other_card(const hw_reference *first, const hw_reference *item)
{
    double one[3], other[3];
    hw_sharpen(first->seen, one);
    hw_sharpen(item->seen, other);
    for (int band = 0; band < 3; band++) {
        one[band] = log(fmax(one[band], 1e-6));
        other[band] = log(fmax(other[band], 1e-6));
    }
    double level = other[1] - one[1];
    return fabs(level) > card_level_most || fabs(other[0] - one[0] - level) > card_colour_most ||
           fabs(other[2] - one[2] - level) > 2.0 * card_colour_most;
}

static void warn_left_aside(const hw_reference *item, hw_warnings *warnings)
{
    const char *kind = item->mark->role == HW_ROLE_CHART ? "Chart patch " : "";
    if (item->top_share > HW_CLIPPED_MOST && item->mark->role == HW_ROLE_CHART) {
        return; // all of them in one sentence
    }
    if (item->top_share > HW_CLIPPED_MOST) {
        hw_warn_trouble(warnings, HW_TROUBLE_REFERENCE, 0.2,
                        "%s is overexposed and was left aside. Lower the exposure to make use of "
                        "it.",
                        item->mark->name);
    } else if (item->bottom_share > HW_CLIPPED_MOST) {
        bool a_colour = item->chart_patch > 0 && item->mean_code > 30.0;
        if (!a_colour) { // else a colour outside the file's: more light does not bring it in
            hw_warn_trouble(warnings, HW_TROUBLE_REFERENCE, 0.2,
                            "%s%s is lost in the dark and was left aside. Give more light to make "
                            "use of it.",
                            kind, item->mark->name);
        }
    } else if (item->patterned) {
        hw_warn_trouble(warnings, HW_TROUBLE_REFERENCE, 0.2,
                        "%s%s is not one even colour and was left aside. Mark only the inside of "
                        "it, without print, shadow or shine.",
                        kind, item->mark->name);
    } else if (item->other_card) {
        hw_warn_trouble(warnings, HW_TROUBLE_REFERENCE, 0.2,
                        "%s looks so unlike the first card that it was left aside. Lay a card of "
                        "the same kind, or name its grey with --neutral.",
                        item->mark->name);
    } else {
        hw_warn_trouble(warnings, HW_TROUBLE_REFERENCE, 0.2,
                        "%s%s is too small in the picture and was left aside. Mark more of it, or "
                        "go nearer.",
                        kind, item->mark->name);
    }
}

static void warn_clipped_patches(const hw_references *list, hw_warnings *warnings)
{
    char names[120];
    hw_text text = hw_text_in(names, sizeof names);
    size_t count = 0;
    for (size_t i = 0; i < list->count; i++) {
        const hw_reference *item = &list->item[i];
        if (item->chart_patch > 0 && item->top_share > HW_CLIPPED_MOST) {
            hw_text_add(&text, "%s%d", count++ ? ", " : "", item->chart_patch);
        }
    }
    if (count > 0) {
        hw_warn_trouble(
            warnings, HW_TROUBLE_REFERENCE, 0.2,
            "Chart patch%s %s %s overexposed and left aside. Lower the exposure to make "
            "use of %s.",
            count == 1 ? "" : "es", names, count == 1 ? "is" : "are", count == 1 ? "it" : "them");
    }
}

static hw_status add(const hw_photo *photo, const hw_mark *mark, const hw_card_options *options,
                     hw_references *list, hw_warnings *warnings, hw_error *err)
{
    hw_reference *item = &list->item[list->count];
    if (!describe(mark, options, item)) {
        bool reference = mark->role == HW_ROLE_NEUTRAL || mark->role == HW_ROLE_CHART;
        if (reference) {
            hw_warn_trouble(warnings, HW_TROUBLE_REFERENCE, 0.2,
                            "%s is no %s and was left aside. Name it %s.", mark->name,
                            mark->role == HW_ROLE_CHART ? "patch of the chart"
                                                        : "neutral step that is known",
                            mark->role == HW_ROLE_CHART ? "1 to 24, row by row"
                                                        : "white, grey, black or by its own L*");
        }
        return HW_OK;
    }
    hw_status status = read_one(photo, item, err);
    if (status == HW_OK) {
        const hw_reference *first = &list->item[0];
        item->other_card = list->count > 0 && item->usable && mark->role == HW_ROLE_CARD &&
                           first->mark->role == HW_ROLE_CARD && is_other_card(first, item);
        item->usable = item->usable && !item->other_card;
        if (!item->usable && list->count > 0) { // the card itself is refused by its own words
            warn_left_aside(item, warnings);
        }
        list->count++;
    }
    return status;
}

hw_status hw_references_read(const hw_photo *photo, const hw_marks *marks,
                             const hw_card_options *options, hw_references *out,
                             hw_warnings *warnings, hw_error *err)
{
    const char *file = hw_photo_facts_of(photo)->file;
    hw_references list = {0};
    const hw_mark *card = find_card(marks);
    if (!card) {
        return hw_fail(err, HW_ERR_INPUT, "card-missing", file,
                       "Mark the grey card with --card x,y,w,h. Without a card in the picture, "
                       "lay one beside the repair and take the photo again.",
                       "no grey card is marked");
    }
    list.item = hw_alloc_array(HW_REFERENCES_MOST, sizeof *list.item);
    if (!list.item) {
        return hw_fail_memory(err, "reading the references");
    }
    hw_status status = add(photo, card, options, &list, warnings, err);
    for (size_t i = 0; i < marks->count && status == HW_OK; i++) {
        if (&marks->mark[i] != card && list.count < HW_REFERENCES_MOST) {
            status = add(photo, &marks->mark[i], options, &list, warnings, err);
        }
    }
    if (status != HW_OK) {
        hw_references_free(&list);
        return status;
    }
    warn_clipped_patches(&list, warnings);
    hw_references_set_edition(&list, true);
    *out = list;
    return HW_OK;
}

bool hw_references_have_chart(const hw_references *references)
{
    for (size_t i = 0; i < references->count; i++) {
        if (references->item[i].chart_patch > 0) {
            return true;
        }
    }
    return false;
}

void hw_references_free(hw_references *references)
{
    hw_free(references->item);
    *references = (hw_references){0};
}
