// compare_ends.c: a patch that is uneven along its length is named by its end, so that only that end is
// shaded.
//
// Each third of the patch is set against the rest of it. It counts where the difference can be seen, is
// sure, and is more than the old wood's own pieces differ: else it is figure.
#include "base_internal.h"
#include "compare_internal.h"

#include <math.h>

static const double seen = 1.5;          // CIEDE2000 (chosen: between the bands 1 and 2)
static const double above_spread = 1.25; // times the old wood's own spread (chosen)
static const double close_to_old = 2.0;  // CIEDE2000: the band "close"
static const double sure = 7.815;        // 95 % of chi squared with 3 degrees of freedom

static hw_xyz mean(hw_xyz one, hw_xyz other)
{
    return (hw_xyz){0.5 * (one.X + other.X), 0.5 * (one.Y + other.Y), 0.5 * (one.Z + other.Z)};
}

static hw_point place(const hw_sample *patch, const hw_stretch *stretch)
{
    double along = 0.5 * (stretch->from + stretch->to) - 0.5;
    hw_point at = patch->centre;
    *(stretch->upright ? &at.y : &at.x) +=
        along * (stretch->upright ? patch->height_px : patch->width_px);
    return at;
}

// The patch's covariance without what its thirds differ by: that is asked about, and is no figure. Axis by
// axis, the share of the cells' variance that lies within thirds.
static hw_covariance within_thirds(const hw_sample *patch, const hw_xyz third[3])
{
    const double least = 0.05; // of the whole: no figure is quite even
    double share[3];
    hw_lab lab[3];
    for (int k = 0; k < 3; k++) {
        lab[k] = hw_lab_from_xyz(third[k], hw_white_d50);
    }
    for (int axis = 0; axis < 3; axis++) {
        double sum = 0.0, square = 0.0, whole = patch->spread[axis] * patch->spread[axis];
        for (int k = 0; k < 3; k++) {
            double value = axis == 0 ? lab[k].L : axis == 1 ? lab[k].a : lab[k].b;
            sum += value / 3.0;
            square += value * value / 3.0;
        }
        share[axis] = whole > 0.0 ? fmax(1.0 - (square - sum * sum) / whole, least) : 1.0;
    }
    hw_covariance out = patch->covariance;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            out.m[r][c] *= sqrt(share[r] * share[c]);
        }
    }
    return out;
}

// Of the difference between a third and the rest: parts of the area, so their means are less known than
// the whole's, by 3 and 1.5 in the variance.
static hw_covariance doubt_of(const hw_sample *patch, const hw_covariance *figure,
                              const hw_stretch *end, const hw_light *light, hw_lab here,
                              hw_lab rest)
{
    hw_stretch others = {end->from == 0.0 ? 1.0 / 3.0 : 0.0, end->to == 1.0 ? 2.0 / 3.0 : 1.0,
                         end->upright};
    hw_sample part = *patch;
    hw_compare_old whole = {.xyz = hw_xyz_from_lab(rest, hw_white_d50),
                            .lab = rest,
                            .covariance = hw_covariance_times(figure, 1.5),
                            .centre = place(patch, &others),
                            .count = 1};
    part.lab = here;
    part.xyz = hw_xyz_from_lab(here, hw_white_d50);
    part.centre = place(patch, end);
    part.covariance = hw_covariance_times(figure, 3.0);
    part.mark_shift = (hw_covariance){{{0}}};
    return hw_compare_doubt_sum(&part, &whole, light);
}

// The largest part of a difference: how much, and the word.
static double largest_part(const hw_difference *off, const char **word)
{
    const double part[3] = {off->L, off->a, off->b};
    static const char *const words[3][2] = {
        {"lighter", "darker"}, {"redder", "greener"}, {"yellower", "bluer"}};
    int most = 0;
    for (int i = 1; i < 3; i++) {
        most = fabs(part[i]) > fabs(part[most]) ? i : most;
    }
    *word = words[most][part[most] < 0.0];
    return fabs(part[most]);
}

// What to do about it, by which of both is nearer the old wood; nothing where the verdict wants no dye.
static const char *advice(const hw_comparison *item, hw_lab old, hw_lab here, hw_lab rest)
{
    double end = hw_ciede2000(old, here), others = hw_ciede2000(old, rest);
    if (item->verdict != HW_VERDICT_TONE) {
        return ".";
    }
    if (here.L - old.L < 0.0 && here.L - rest.L < -seen) {
        return ": keep the toner off there.";
    }
    if (item->uneven.alone) {
        return ": shade there only.";
    }
    return end > others ? ": it wants more there." : ": it wants less there.";
}

void hw_compare_ends(const hw_sample *patch, const hw_compare_old *old, const hw_light *light,
                     hw_comparison *item)
{
    hw_xyz third[3];
    bool upright;
    double most = 0.0;
    if (!hw_sample_thirds(patch, third, &upright)) {
        return;
    }
    hw_covariance figure = within_thirds(patch, third);
    for (int end = 0; end < 3; end += 2) {
        hw_stretch stretch = {end / 3.0, (end + 1) / 3.0, upright};
        hw_lab here = hw_lab_from_xyz(third[end], hw_white_d50);
        hw_lab rest = hw_lab_from_xyz(mean(third[1], third[2 - end]), hw_white_d50);
        hw_difference off = hw_difference_of(rest, here);
        hw_covariance doubt = doubt_of(patch, &figure, &stretch, light, here, rest);
        const double v[3] = {off.L, off.a, off.b};
        bool counts = off.de00 > fmax(seen, above_spread * item->spread) &&
                      hw_compare_inverse_form((const double(*)[3])doubt.m, v) > sure;
        if (counts && off.de00 > most) {
            most = off.de00;
            item->uneven.found = true;
            item->uneven.end = stretch;
            item->uneven.off = off;
            item->uneven.alone = hw_ciede2000(old->lab, rest) < close_to_old &&
                                 hw_ciede2000(old->lab, here) > close_to_old;
            const char *word;
            double size = largest_part(&off, &word);
            hw_format_text(item->uneven.words, sizeof item->uneven.words,
                           "The %s is %.0f %s than the rest of it%s", hw_stretch_words(&stretch),
                           size, word, advice(item, old->lab, here, rest));
        }
    }
}
