// sample_region.c: the pixels of a region, glare left out, summed into cells.
//
// Glare is white light on top of the wood: lighter and less coloured at once. But pale figure of
// dark wood is less coloured too. So the wood's own line of C* over L* is found first, and a pixel
// is glare when its L* lies above the median by 2.5 robust deviations and its C* below that line
// by 2; the two pixels around it go too. Pores are wood: they stay, and their share is told. (With
// 2 % glare and 5 % pores the mean is off by 0.6 CIEDE2000 without this, by less than 0.1 with it.
// The median instead of the mean answers another question and is off by up to 1.7. Without the
// line, up to 3 % of made wood without any glare was left out.)
//
// Only pixels brighter than the L* bound are turned into L*a*b*, so a region costs little more
// than its code values.
#include "base_internal.h"
#include "sample_internal.h"

#include <math.h>

#define LOOK_MOST    5000 // pixels of the thin look: the medians need no more (chosen)
#define ROW_PIECE    1024 // pixels converted at a time
#define LIGHT_PX     64   // pixels along a row that share one correction: light changes slowly
#define CELLS_A_SIDE 96
#define GROW_PX      2

static const double glare_light = 2.5; // robust deviations of L* above the median
static const double glare_pale = 2.0;  // of C* below it
// Steeper than any wood without shine (measured on pictures with known truth: +0.1 to -0.34 below
// L* 60): where the line falls faster, broad sheen has turned it, and is not to be excused by
// itself.
static const double slope_least = -0.35;
static const double pore_dark = 4.0;                 // of L* below: a pore
static const double deviation_least[2] = {0.5, 0.3}; // L*, C*: an even surface is no excuse
static const double pore_width_most =
    12.0; // in a picture 1600 wide: wider ones are no pores (chosen)
static const double pore_share_least = 0.01, pore_share_most = 0.25;
static const double glare_refused = 0.5; // share of the region
static const double glare_warned = 0.1;
// A spot that was found fades into what is kept: share of the perfect diffuser by which the rest may still
// be lifted, for each share of the region that was left out (chosen: see tests/accuracy/conditions.c).
static const double glare_fades = 0.015;
static const double clipped_most = 0.005;

typedef struct region {
    const hw_photo *photo;
    const hw_mark *mark;
    const hw_light *light;
    hw_box box;
    double picture_px;            // longer side
    uint8_t *glare;               // of the box, row by row: 1 where the pixel is left out
    double glare_Y, pore_Y;       // bounds
    double line_L, line_C, slope; // C* = line_C + slope (L* - line_L) is the edge of glare,
    double line_L_most;           // for L* up to this
    bool any_glare;
    unsigned bottom, top;
    size_t pixels, clipped, pores, left_out;
    // Pores: the length of their runs along rows and columns, and their light.
    uint16_t *down; // run of pore pixels that ends above, a column of the box
    size_t across_runs, down_runs;
    size_t across_now, last_x, last_y; // the run going on along a row
    hw_cell *pore_cells;               // what of each cell is pores
} region;

// Seen colours of a row's piece, corrected in place.
static void correct(const region *area, size_t x, size_t y, hw_xyz *colours, size_t count)
{
    for (size_t first = 0; first < count; first += LIGHT_PX) {
        size_t end = first + LIGHT_PX < count ? first + LIGHT_PX : count;
        hw_point middle = {(double)x + 0.5 * (double)(first + end), (double)y + 0.5};
        hw_light_correct_near(area->light, middle, colours + first, end - first);
    }
}

// ---- The thin look -----------------------------------------------------------------

// Median of `values` where `key` lies above (or below) `cut`; NaN where there is none.
static double median_of_side(const double *key, double cut, bool above, const double *values,
                             size_t count, double *scratch)
{
    size_t found = 0;
    for (size_t i = 0; i < count; i++) {
        if (above ? key[i] > cut : key[i] < cut) {
            scratch[found++] = values[i];
        }
    }
    return found ? hw_select(scratch, found, found / 2) : (double)NAN;
}

static void copy(double *to, const double *from, size_t count)
{
    memcpy(to, from, count * sizeof *to);
}

// The wood's line of C* over L* through the medians of its lighter and its darker half (Wald
// 1940): a few pixels of glare do not turn it.
static void set_bounds(region *area, const double *light, const double *chroma, double *scratch,
                       size_t count)
{
    double L, L_deviation, C, C_deviation;
    copy(scratch, light, count);
    hw_median_spread(scratch, count, &L, &L_deviation);
    L_deviation = fmax(L_deviation, deviation_least[0]);
    double L_high = median_of_side(light, L, true, light, count, scratch);
    double L_low = median_of_side(light, L, false, light, count, scratch);
    double C_high = median_of_side(light, L, true, chroma, count, scratch);
    double C_low = median_of_side(light, L, false, chroma, count, scratch);
    bool two_sides = L_high - L_low > deviation_least[0]; // false where one side is empty
    area->slope = two_sides ? (C_high - C_low) / (L_high - L_low) : 0.0;
    area->slope = fmax(area->slope, slope_least);
    for (size_t i = 0; i < count; i++) {
        scratch[i] = chroma[i] - area->slope * (light[i] - L);
    }
    hw_median_spread(scratch, count, &C, &C_deviation);
    C_deviation = fmax(C_deviation, deviation_least[1]);
    hw_lab glare = {L + glare_light * L_deviation, 0.0, 0.0};
    hw_lab pore = {fmax(L - pore_dark * L_deviation, 0.0), 0.0, 0.0};
    area->glare_Y = hw_xyz_from_lab(glare, hw_white_d50).Y;
    area->pore_Y = hw_xyz_from_lab(pore, hw_white_d50).Y;
    area->line_L = L;
    area->line_C = C - glare_pale * C_deviation;
    area->line_L_most = L + 4.0 * L_deviation; // the line is not known further up
}

static bool is_glare(const region *area, hw_xyz colour)
{
    if (colour.Y <= area->glare_Y) {
        return false;
    }
    hw_lab lab = hw_lab_from_xyz(colour, hw_white_d50);
    double along = fmin(lab.L, area->line_L_most) - area->line_L;
    return hw_lab_chroma(lab) < area->line_C + area->slope * along;
}

static hw_status find_bounds(region *area, hw_error *err)
{
    double *light = hw_alloc_array(3 * LOOK_MOST, sizeof *light);
    if (!light) {
        return hw_fail_memory(err, "reading a region");
    }
    double *chroma = light + LOOK_MOST;
    size_t step = 1, count = 0;
    while ((area->box.width / step + 1) * (area->box.height / step + 1) > LOOK_MOST) {
        step++;
    }
    for (size_t y = area->box.y; y < area->box.y + area->box.height; y += step) {
        hw_span spans[HW_SPANS_MOST];
        size_t span_count = hw_mark_spans(area->mark, y, spans, HW_SPANS_MOST);
        for (size_t i = 0; i < span_count; i++) {
            size_t x = spans[i].x, end = spans[i].x + spans[i].count;
            while (x < end && count < LOOK_MOST) {
                hw_xyz seen[LIGHT_PX];
                size_t first = x, n = 0;
                for (; x < end && x < first + LIGHT_PX && count + n < LOOK_MOST; x += step) {
                    hw_photo_xyz(area->photo, x, y, 1, &seen[n++]);
                }
                hw_point middle = {0.5 * (double)(first + x), (double)y + 0.5};
                hw_light_correct_near(area->light, middle, seen, n);
                for (size_t k = 0; k < n; k++) {
                    hw_lab lab = hw_lab_from_xyz(seen[k], hw_white_d50);
                    light[count] = lab.L;
                    chroma[count++] = hw_lab_chroma(lab);
                }
            }
        }
    }
    if (count > 0) {
        set_bounds(area, light, chroma, light + 2 * LOOK_MOST, count);
    }
    hw_free(light);
    return HW_OK;
}

// ---- Pores -------------------------------------------------------------------------

// How wide pores are: pore pixels over runs of them, along rows and along columns; the shorter is
// their width, the longer their length along the grain.
static void count_pore(region *area, size_t x, size_t y, bool pore)
{
    uint16_t *above = &area->down[x - area->box.x];
    bool goes_on = area->across_now > 0 && area->last_y == y && area->last_x + 1 == x;
    if (pore) {
        area->pores++;
        area->across_runs += !goes_on;
        area->down_runs += *above == 0;
        area->across_now = goes_on ? area->across_now + 1 : 1;
        area->last_x = x;
        area->last_y = y;
        *above = 1;
    } else {
        *above = 0;
        area->across_now = 0;
    }
}

// ---- Sums --------------------------------------------------------------------------

static void add_to(hw_cell *cell, const hw_xyz *colour, bool away)
{
    double sign = away ? -1.0 : 1.0;
    cell->X += sign * colour->X;
    cell->Y += sign * colour->Y;
    cell->Z += sign * colour->Z;
    cell->pixels += away ? (uint32_t)-1 : 1;
}

// Adds pixels of a row to their cells, or takes them away again.
static void sum_cells(region *area, hw_sample *sample, size_t x, size_t y, size_t count,
                      const hw_xyz *colours, bool away)
{
    hw_cell *row = sample->cells + (y - sample->cell_y) / sample->cell_px * sample->columns;
    size_t column = (x - sample->cell_x) / sample->cell_px;
    size_t next = sample->cell_x + (column + 1) * sample->cell_px; // first x of the next cell
    for (size_t k = 0; k < count;) {
        size_t end = next - x < count ? next - x : count; // of this cell's pixels
        hw_cell *pores = &area->pore_cells[row - sample->cells + (ptrdiff_t)column];
        hw_cell sum = row[column];
        for (; k < end; k++) {
            if (colours[k].Y < area->pore_Y) {
                add_to(pores, &colours[k], away);
            }
            add_to(&sum, &colours[k], away);
        }
        row[column++] = sum;
        next += sample->cell_px;
    }
}

// ---- Glare -------------------------------------------------------------------------

static uint8_t *glare_at(region *area, size_t x, size_t y)
{
    return &area->glare[(y - area->box.y) * area->box.width + (x - area->box.x)];
}

typedef void piece_work(region *area, hw_sample *sample, size_t x, size_t y, size_t count);

// Calls work for every marked pixel, in pieces of a row.
static void each_piece(region *area, hw_sample *sample, piece_work *work)
{
    for (size_t y = area->box.y; y < area->box.y + area->box.height; y++) {
        hw_span spans[HW_SPANS_MOST];
        size_t span_count = hw_mark_spans(area->mark, y, spans, HW_SPANS_MOST);
        for (size_t i = 0; i < span_count; i++) {
            size_t end = spans[i].x + spans[i].count;
            for (size_t x = spans[i].x; x < end; x += ROW_PIECE) {
                work(area, sample, x, y, end - x < ROW_PIECE ? end - x : ROW_PIECE);
            }
        }
    }
}

// Sums all pixels, glare too, which is marked: it is rare, and taken away again once it has grown.
static void look_and_sum(region *area, hw_sample *sample, size_t x, size_t y, size_t count)
{
    hw_xyz colours[ROW_PIECE];
    uint16_t codes[3 * ROW_PIECE];
    hw_photo_codes_xyz(area->photo, x, y, count, codes, colours);
    correct(area, x, y, colours, count);
    for (size_t k = 0; k < count; k++) {
        bool clipped = false, burnt = false;
        for (size_t channel = 0; channel < 3; channel++) {
            burnt = burnt || codes[3 * k + channel] >= area->top;
            clipped = clipped || codes[3 * k + channel] <= area->bottom;
        }
        count_pore(area, x + k, y, colours[k].Y < area->pore_Y);
        if (is_glare(area, colours[k])) {
            *glare_at(area, x + k, y) = 1;
            area->any_glare = true;
        } else {
            area->clipped += clipped || burnt;
        }
    }
    area->pixels += count;
    sum_cells(area, sample, x, y, count, colours, false);
}

// Along x, then along y: a square of 2 GROW_PX + 1 about each glare pixel. `mark` values: 1 found,
// 2 reached along x, 3 reached along y; all are glare in the end.
static void grow_glare(region *area)
{
    size_t width = area->box.width, height = area->box.height;
    for (int way = 0; way < 2; way++) {
        size_t lines = way == 0 ? height : width, length = way == 0 ? width : height;
        size_t step = way == 0 ? 1 : width, line_step = way == 0 ? width : 1;
        uint8_t reached = (uint8_t)(2 + way);
        for (size_t line = 0; line < lines; line++) {
            uint8_t *pixel = area->glare + line * line_step;
            for (size_t i = 0; i < length; i++) {
                if (pixel[i * step] == 0 || pixel[i * step] >= reached) {
                    continue;
                }
                for (size_t j = i > GROW_PX ? i - GROW_PX : 0; j <= i + GROW_PX && j < length;
                     j++) {
                    if (pixel[j * step] == 0) {
                        pixel[j * step] = reached;
                    }
                }
            }
        }
    }
}

// Takes away the glare in a piece of a row, run by run.
static void take_glare_away(region *area, hw_sample *sample, size_t x, size_t y, size_t count)
{
    hw_xyz colours[ROW_PIECE];
    for (size_t end = x + count; x < end;) {
        size_t last = x;
        while (last < end && *glare_at(area, last, y)) {
            last++;
        }
        hw_photo_xyz(area->photo, x, y, last - x, colours);
        correct(area, x, y, colours, last - x);
        sum_cells(area, sample, x, y, last - x, colours, true);
        area->left_out += last - x;
        x = last + 1;
    }
}

static void drop_remainders(hw_sample *sample)
{
    for (size_t i = 0; i < sample->rows * sample->columns; i++) {
        if (sample->cells[i].pixels == 0) { // what rounding leaves
            sample->cells[i] = (hw_cell){0};
        }
    }
}

// ---- Cells -------------------------------------------------------------------------

static hw_status make_cells(region *area, hw_sample *sample, hw_error *err)
{
    size_t longer = area->box.width > area->box.height ? area->box.width : area->box.height;
    sample->cell_px = longer / CELLS_A_SIDE < 4 ? 4 : longer / CELLS_A_SIDE;
    sample->cell_x = area->box.x;
    sample->cell_y = area->box.y;
    sample->columns = (area->box.width + sample->cell_px - 1) / sample->cell_px;
    sample->rows = (area->box.height + sample->cell_px - 1) / sample->cell_px;
    sample->cells = hw_alloc_array(sample->columns * sample->rows, sizeof *sample->cells);
    area->pore_cells = hw_alloc_array(sample->columns * sample->rows, sizeof *area->pore_cells);
    return sample->cells && area->pore_cells ? HW_OK : hw_fail_memory(err, "reading a region");
}

// ---- Refusals and warnings ---------------------------------------------------------

static hw_status refuse(const hw_sample *sample, hw_error *err)
{
    if (sample->glare_share > glare_refused) {
        return hw_fail(err, HW_ERR_INPUT, "region-glare", sample->name,
                       "Move the lamp to the side, about 45 degrees, until the shine is gone from "
                       "it, and take the photo again.",
                       "%.0f %% of this region is glare", 100.0 * sample->glare_share);
    }
    if (sample->clipped_share > clipped_most) {
        return hw_fail(err, HW_ERR_INPUT, "region-clipped", sample->name,
                       "Change the exposure until neither the light nor the dark parts are cut "
                       "off, and take the photo again.",
                       "%.1f %% of this region is at the end of the camera's scale",
                       100.0 * sample->clipped_share);
    }
    return HW_OK;
}

static void warn(const hw_sample *sample, hw_warnings *warnings)
{
    const hw_lab *lab = &sample->lab;
    if (sample->glare_share > glare_warned) {
        hw_warn_trouble(
            warnings, HW_TROUBLE_GLARE, 5.0 * sample->glare_share,
            "%s: %.0f %% of it is glare and was left out. Light it from the side, about 45 "
            "degrees, for a surer reading.",
            sample->name, 100.0 * sample->glare_share);
    }
    if (sample->shade > 0.0) {
        hw_warn_trouble(warnings, HW_TROUBLE_SHADE, 10.0 * sample->shade,
                        "%s: a shadow lies over part of it, %.0f %% darker. Move what casts it, or "
                        "mark only the part in the light.",
                        sample->name, 100.0 * -expm1(-sample->shade));
    }
    // Published range of wood: L* 24 to 84, a* 2.6 to 20.4, b* 1.8 to 36.6 (98 tropical species,
    // abstract); widened here.
    if (lab->L < 15.0 || lab->L > 92.0 || lab->a < -2.0 || lab->a > 25.0 || lab->b < 0.0 ||
        lab->b > 45.0) {
        hw_warn_trouble(
            warnings, HW_TROUBLE_MARKS, 5.0,
            "%s: hardly any wood has this colour. Check that the marks lie where they should "
            "and that the card is the grey one.",
            sample->name);
    }
    if (lab->L >= 15.0 && lab->L < 25.0) {
        hw_warn_trouble(warnings, HW_TROUBLE_DARK, 0.7,
                        "%s is very dark: stray light lifts and dulls dark wood in a photo, so its "
                        "reading is less sure.",
                        sample->name);
    }
}

// ---- One sample --------------------------------------------------------------------

void hw_sample_free(hw_sample *sample)
{
    if (sample) {
        hw_free(sample->cells);
        *sample = (hw_sample){0};
    }
}

// Pores lie all over a wood; a dark streak, a knot or a shadow lies in one place. In seven of nine fields
// of the region they take at least a fifth of the usual share.
static bool lie_all_over(const region *area, const hw_sample *sample, double share)
{
    int fields = 0;
    for (size_t field = 0; field < 9; field++) {
        hw_cell pores = {0}, all = {0};
        size_t row = field / 3 * sample->rows / 3, column = field % 3 * sample->columns / 3;
        for (size_t j = row; j < (field / 3 + 1) * sample->rows / 3; j++) {
            for (size_t i = column; i < (field % 3 + 1) * sample->columns / 3; i++) {
                size_t at = j * sample->columns + i;
                if (sample->cells[at].pixels > 0) {
                    hw_cell_add(&pores, &area->pore_cells[at]);
                    hw_cell_add(&all, &sample->cells[at]);
                }
            }
        }
        fields += (double)pores.pixels > 0.2 * share * (double)all.pixels;
    }
    return fields >= 7;
}

// The wood between the pores, where pores are wide enough to be told from it: narrower ones are
// mixed with it by lens and file.
static void part_ground(const region *area, hw_sample *sample)
{
    size_t runs = area->across_runs > area->down_runs ? area->across_runs : area->down_runs;
    sample->pore_px = runs > 0 ? (double)area->pores / (double)runs : 0.0;
    hw_cell p = {0};
    for (size_t i = 0; i < sample->columns * sample->rows; i++) {
        if (sample->cells[i].pixels > 0) { // not left out since, as shine
            hw_cell_add(&p, &area->pore_cells[i]);
        }
    }
    double pores = (double)p.pixels, kept = (double)(sample->pixels - sample->left_out);
    double width_most = pore_width_most * area->picture_px / 1600.0;
    bool wide_enough = sample->pore_px >= HW_PORE_LEAST_PX && sample->pore_px <= width_most;
    bool some = sample->pore_share >= pore_share_least && sample->pore_share <= pore_share_most;
    if (!wide_enough || !some || kept - pores < 1.0 || sample->shade > 0.0 ||
        !lie_all_over(area, sample, pores / kept)) {
        return;
    }
    sample->ground_known = true;
    sample->pore_lab =
        hw_lab_from_xyz((hw_xyz){p.X / pores, p.Y / pores, p.Z / pores}, hw_white_d50);
    sample->ground = (hw_xyz){(sample->xyz.X * kept - p.X) / (kept - pores),
                              (sample->xyz.Y * kept - p.Y) / (kept - pores),
                              (sample->xyz.Z * kept - p.Z) / (kept - pores)};
    sample->ground_lab = hw_lab_from_xyz(sample->ground, hw_white_d50);
}

static hw_status start_region(region *area, hw_sample *sample, hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(area->photo);
    area->picture_px = fmax((double)facts->width_px, (double)facts->height_px);
    area->box = hw_mark_box(area->mark);
    area->bottom = hw_photo_facts_of(area->photo)->clip_low;
    area->top = hw_photo_facts_of(area->photo)->clip_high;
    hw_copy_text(sample->name, sizeof sample->name, area->mark->name);
    sample->role = area->mark->role;
    sample->kind = area->mark->kind;
    sample->centre = hw_mark_centre(area->mark);
    sample->width_px = (double)area->box.width;
    sample->height_px = (double)area->box.height;
    if (area->box.width == 0 || area->box.height == 0) {
        return hw_fail(err, HW_ERR_CALL, "mark-small", sample->name, "Mark a larger area.",
                       "this mark holds no pixel");
    }
    area->glare = hw_alloc_array(area->box.width, area->box.height);
    area->down = hw_alloc_array(area->box.width, sizeof *area->down);
    return area->glare && area->down ? HW_OK : hw_fail_memory(err, "reading a region");
}

hw_status hw_sample_take(const hw_photo *photo, const hw_light *light, const hw_mark *mark,
                         hw_sample *out, hw_warnings *warnings, hw_error *err)
{
    hw_sample sample = {0};
    region area = {.photo = photo, .mark = mark, .light = light};
    hw_status status = start_region(&area, &sample, err);
    if (status == HW_OK) {
        status = make_cells(&area, &sample, err);
    }
    if (status == HW_OK) {
        status = find_bounds(&area, err);
    }
    if (status != HW_OK) {
        goto done;
    }
    each_piece(&area, &sample, look_and_sum);
    if (area.any_glare) {
        grow_glare(&area);
        each_piece(&area, &sample, take_glare_away);
        drop_remainders(&sample);
    }
    double marked = area.pixels > 0 ? (double)area.pixels : 1.0;
    sample.pixels = area.pixels;
    sample.left_out = area.left_out;
    status = hw_sample_leave_shine(&sample, area.pixels, err);
    if (status != HW_OK) {
        goto done;
    }
    sample.glare_share = (double)sample.left_out / marked;
    sample.shine_u = hypot(sample.shine_u, glare_fades * fmin(sample.glare_share, glare_warned));
    sample.pore_share = (double)area.pores / marked;
    sample.clipped_share = (double)area.clipped / marked;
    status = refuse(&sample, err);
    if (status != HW_OK) {
        goto done;
    }
    hw_sample_summarise(&sample);
    sample.shade = hw_sample_shade(&sample);
    part_ground(&area, &sample);
    hw_sample_find_shift(photo, light, mark, &sample);
    warn(&sample, warnings);
    *out = sample;
    sample = (hw_sample){0};
done:
    hw_free(area.glare);
    hw_free(area.down);
    hw_free(area.pore_cells);
    hw_sample_free(&sample);
    return status;
}
