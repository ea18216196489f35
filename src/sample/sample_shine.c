// sample_shine.c: broad, soft shine, told cell by cell.
//
// Shine adds the same white light to all bands; a lighter streak of the same wood absorbs less in all
// of them, most where it absorbs most. Both make a place lighter and paler, but shine makes it paler
// faster. So each cell's change from the middle of the region is parted into two: along the wood's own
// line (ln of short over long band against ln of the long one), and along white light; the share of
// white that comes out is the shine. Cells in which it stands out from the rest are left out, with
// their neighbours, since a spot fades softly.
//
// The wood's line is measured between its darker and its lighter half, and never taken to be steeper
// than absorbance allows: with a layer g times as absorbing, ln R is g ln R, so the line's slope is ln
// S / ln L - 1 (Bouguer, Lambert and Beer). Where shine lies over the whole region, it has turned the
// line, and nothing stands out: that is doubt, not found here.
#include "base_internal.h"
#include "sample_internal.h"

#include <math.h>

static const double stands_out = 4.0;    // robust deviations of the share of white
static const double share_least = 0.003; // of the perfect diffuser: below, a reading hardly moves
static const double grown = 0.4;         // a neighbour goes too with this part of that
static const double both_sides = 0.75;   // a wood's own paleness leans to one side too (chosen)
static const double dark =
    2.0; // robust deviations of ln long below the median: pores, a dark streak
// Of the region: what most of it does stands out from nothing. Then it is two woods, or all of it shines,
// and only the doubt stays (chosen).
static const double stands_apart = 0.4;
static const double cells_least = 24.0;
static const double shine_known = 0.25; // of what was left out, as much may still be in the rest
                                        // (chosen)

typedef struct look {
    double *ln_long, *ratio, *white, *scratch; // a value a used cell
    size_t *index;
    size_t count;
    double lightest_dark; // ln long: a cell below it is darker than figure makes it
} look;

static bool make_room(look *l, size_t cells)
{
    l->ln_long = hw_alloc_array(cells, 4 * sizeof(double));
    l->index = hw_alloc_array(cells, sizeof *l->index);
    if (l->ln_long) {
        l->ratio = l->ln_long + cells;
        l->white = l->ratio + cells;
        l->scratch = l->white + cells;
    }
    return l->ln_long && l->index;
}

static void gather(const hw_sample *sample, look *l)
{
    double full = (double)(sample->cell_px * sample->cell_px);
    for (size_t i = 0; i < sample->rows * sample->columns; i++) {
        const hw_cell *cell = &sample->cells[i];
        double n = (double)cell->pixels, bands[3];
        if (n < 0.5 * full) {
            continue;
        }
        hw_sharpen((hw_xyz){cell->X / n, cell->Y / n, cell->Z / n}, bands);
        if (bands[0] > 1e-4 && bands[2] > 1e-4) {
            l->ln_long[l->count] = log(bands[0]);
            l->ratio[l->count] = log(bands[2] / bands[0]);
            l->index[l->count++] = i;
        }
    }
}

static double median(look *l, const double *values)
{
    memcpy(l->scratch, values, l->count * sizeof *values);
    return hw_select(l->scratch, l->count, l->count / 2);
}

static double median_of_half(look *l, double cut, bool above, const double *values)
{
    size_t found = 0;
    for (size_t i = 0; i < l->count; i++) {
        if (above ? l->ln_long[i] > cut : l->ln_long[i] < cut) {
            l->scratch[found++] = values[i];
        }
    }
    return found ? hw_select(l->scratch, found, found / 2) : (double)NAN;
}

// Slope of the wood's line, no steeper than absorbance allows.
static double wood_slope(look *l, double ln_long, double ratio)
{
    double rise =
        median_of_half(l, ln_long, true, l->ratio) - median_of_half(l, ln_long, false, l->ratio);
    double run = median_of_half(l, ln_long, true, l->ln_long) -
                 median_of_half(l, ln_long, false, l->ln_long);
    double steepest = ln_long < -0.05 ? (ln_long + ratio) / ln_long - 1.0 : 0.0;
    double slope = run > 0.005 ? rise / run : 0.0;
    return fmin(slope, fmax(steepest, 0.0));
}

// Share of white in each cell, about the region's middle.
static void find_white(look *l, double *middle, double *deviation)
{
    double ln_long = median(l, l->ln_long), ratio = median(l, l->ratio);
    double figure;
    memcpy(l->scratch, l->ln_long, l->count * sizeof *l->scratch);
    hw_median_spread(l->scratch, l->count, &l->lightest_dark, &figure);
    l->lightest_dark -= dark * figure;
    double slope = wood_slope(l, ln_long, ratio);
    double L = exp(ln_long), S = exp(ln_long + ratio);
    // White w moves ln long by w / L and the ratio by w (1 / S - 1 / L).
    double moved = (1.0 / S - 1.0 / L) - slope / L;
    for (size_t i = 0; i < l->count; i++) {
        double off = (l->ratio[i] - ratio) - slope * (l->ln_long[i] - ln_long);
        l->white[i] = moved > 0.1 ? off / moved : 0.0;
    }
    // From the lower half alone, since shine only adds: the quantiles of a normal distribution at 5 and
    // 25 % lie 1.645 and 0.674 deviations below its middle.
    memcpy(l->scratch, l->white, l->count * sizeof *l->white);
    double low = hw_select(l->scratch, l->count, l->count / 20);
    double quarter = hw_select(l->scratch, l->count, l->count / 4);
    double below = (quarter - low) / 0.971;
    hw_median_spread(l->scratch, l->count, middle, deviation);
    *deviation = fmax(below, both_sides * *deviation);
    *middle = fmin(*middle, quarter + 0.674 * *deviation);
}

// The cells left out, as a map: 1 stands out, 2 a neighbour. Shine only adds light: what is darker than
// most is pores or a dark streak, however pale.
static size_t mark_cells(const hw_sample *sample, const look *l, double limit, double middle,
                         uint8_t *map)
{
    size_t found = 0;
    for (size_t k = 0; k < l->count; k++) {
        map[l->index[k]] = l->white[k] - middle > limit && l->ln_long[k] > l->lightest_dark;
        found += map[l->index[k]];
    }
    for (int turn = 0; turn < 4 && found > 0; turn++) {
        for (size_t k = 0; k < l->count; k++) {
            size_t i = l->index[k], column = i % sample->columns, row = i / sample->columns;
            bool beside = (column > 0 && map[i - 1]) ||
                          (column + 1 < sample->columns && map[i + 1]) ||
                          (row > 0 && map[i - sample->columns]) ||
                          (row + 1 < sample->rows && map[i + sample->columns]);
            bool too_dark = l->ln_long[k] <= l->lightest_dark;
            if (beside && !map[i] && !too_dark && l->white[k] - middle > grown * limit) {
                map[i] = 2;
            }
        }
    }
    return found;
}

static void leave_out(hw_sample *sample, const look *l, const uint8_t *map)
{
    for (size_t k = 0; k < l->count; k++) {
        size_t i = l->index[k];
        if (map[i]) {
            sample->left_out += sample->cells[i].pixels;
            sample->cells[i] = (hw_cell){0};
        }
    }
}

hw_status hw_sample_leave_shine(hw_sample *sample, size_t pixels, hw_error *err)
{
    size_t cells = sample->rows * sample->columns;
    look l = {0};
    uint8_t *map = hw_alloc_array(cells, 1);
    hw_status status = HW_OK;
    if (!make_room(&l, cells) || !map) {
        status = hw_fail_memory(err, "looking for shine");
        goto done;
    }
    gather(sample, &l);
    if ((double)l.count >= cells_least) {
        double middle, deviation;
        find_white(&l, &middle, &deviation);
        double limit = fmax(stands_out * deviation, share_least), white = 0.0;
        if (mark_cells(sample, &l, limit, middle, map) > 0) {
            size_t shines = 0;
            for (size_t k = 0; k < l.count; k++) {
                size_t i = l.index[k];
                shines += map[i] ? sample->cells[i].pixels : 0;
                white += map[i] ? (l.white[k] - middle) * (double)sample->cells[i].pixels : 0.0;
            }
            sample->shine_u = shine_known * white / (double)pixels;
            if ((double)shines <= stands_apart * (double)pixels) {
                leave_out(sample, &l, map);
            }
        }
    }
done:
    hw_free(l.ln_long);
    hw_free(l.index);
    hw_free(map);
    return status;
}
