// compare_doubt.c: what the difference of two regions of one photo may be wrong by, source by
// source.
//
// Whatever shifts both regions alike cancels. What is left:
//   - figure: half of the block errors of both samples, since the marks hold most of the very
//     areas that are judged (the whole error would be that of the mean of all such wood);
//   - marks: both shifted by what a hand misses;
//   - light: what the references leave open between the two places, and what none can see;
//   - shine: a part of what was found and left out may remain;
//   - reading: JPEG and noise over an area;
//   - tone curve: contrast, lift and flare as far as the neutral steps leave them open. It bends a
//     difference, so it grows with it;
//   - camera colours: sensors that are not the eye, strengthened colours. It grows with the difference
//     too: signs are safe, sizes are not. Shares of the gap's length; with the card alone chosen so that
//     the range holds the published difference on real phone photos of a colour chart;
//   - card: what it is taken to be. It moves both regions nearly alike.
#include "compare_internal.h"

#include <math.h>
#include <string.h>

static const double texture_share = 0.5;
static const double light_unseen = 0.008;                 // of ln Y
static const double reading[3] = {0.08, 0.08, 0.10};      // L*, a*, b*
static const double colour_card[3] = {0.05, 0.12, 0.13};  // of the gap's length, card alone
static const double colour_chart[3] = {0.04, 0.10, 0.11}; // with the chart's matrix

// The gap between moved colours less the gap as it is.
static void add_moved(hw_covariance *covariance, hw_lab patch, hw_lab target, hw_xyz moved_patch,
                      hw_xyz moved_target)
{
    hw_lab p = hw_lab_from_xyz(moved_patch, hw_white_d50);
    hw_lab t = hw_lab_from_xyz(moved_target, hw_white_d50);
    const double change[3] = {p.L - t.L - (patch.L - target.L), p.a - t.a - (patch.a - target.a),
                              p.b - t.b - (patch.b - target.b)};
    hw_covariance_add_outer(covariance, 1.0, change);
}

// More light on the patch than was taken out: of all bands alike, and of the long or the short band.
static void add_light(hw_covariance *covariance, const hw_light *light, const hw_sample *patch,
                      const hw_compare_old *old)
{
    double u[3];
    hw_xyz target = hw_xyz_from_lab(old->lab, hw_white_d50);
    hw_light_doubt(light, patch->centre, old->centre, u);
    u[1] = hypot(u[1], light_unseen);
    for (int what = 0; what < 3; what++) {
        double bands[3];
        hw_sharpen(patch->xyz, bands);
        for (int band = 0; band < 3; band++) {
            bands[band] *= what == 1 || what == band ? exp(u[what]) : 1.0;
        }
        add_moved(covariance, patch->lab, old->lab, hw_unsharpen(bands), target);
    }
}

static hw_xyz with_white(hw_xyz colour, double share)
{
    return (hw_xyz){colour.X + share * hw_white_d50.X, colour.Y + share * hw_white_d50.Y,
                    colour.Z + share * hw_white_d50.Z};
}

static void add_shine(hw_covariance *covariance, const hw_sample *patch, const hw_compare_old *old)
{
    hw_xyz target = hw_xyz_from_lab(old->lab, hw_white_d50);
    add_moved(covariance, patch->lab, old->lab, with_white(patch->xyz, patch->shine_u), target);
    add_moved(covariance, patch->lab, old->lab, patch->xyz, with_white(target, old->shine_u));
}

static hw_xyz tone_moved(const hw_light *light, hw_xyz colour, const double low[3][3], int column)
{
    for (int parameter = 0; parameter < 3; parameter++) {
        colour = hw_light_tone_moved(light, colour, parameter, low[parameter][column]);
    }
    return colour;
}

static void add_tone(hw_covariance *covariance, const hw_light *light, hw_lab patch, hw_lab target)
{
    double low[3][3];
    hw_xyz p = hw_xyz_from_lab(patch, hw_white_d50), t = hw_xyz_from_lab(target, hw_white_d50);
    hw_covariance_root(&light->tone.doubt, low);
    for (int column = 0; column < 3; column++) {
        add_moved(covariance, patch, target, tone_moved(light, p, (const double(*)[3])low, column),
                  tone_moved(light, t, (const double(*)[3])low, column));
    }
}

static void add_card(hw_covariance *covariance, const hw_light *light, hw_lab patch, hw_lab target)
{
    hw_xyz p = hw_xyz_from_lab(patch, hw_white_d50), t = hw_xyz_from_lab(target, hw_white_d50);
    for (int axis = 0; axis < 3; axis++) {
        add_moved(covariance, patch, target,
                  hw_light_card_moved(light, p, axis, light->card_u[axis]),
                  hw_light_card_moved(light, t, axis, light->card_u[axis]));
    }
}

void hw_compare_doubt(const hw_sample *patch, const hw_compare_old *old, const hw_light *light,
                      hw_covariance part[HW_DOUBT_COUNT])
{
    double dL = patch->lab.L - old->lab.L, da = patch->lab.a - old->lab.a,
           db = patch->lab.b - old->lab.b;
    double length = sqrt(dL * dL + da * da + db * db);
    memset(part, 0, HW_DOUBT_COUNT * sizeof *part);
    hw_covariance figure = hw_covariance_sum(&patch->covariance, &old->covariance);
    if (!light) { // measured: the places that an instrument touched, and the instrument
        part[HW_DOUBT_FIGURE] = figure;
        return;
    }
    const double *share = light->chart.used ? colour_chart : colour_card;
    part[HW_DOUBT_FIGURE] = hw_covariance_times(&figure, texture_share * texture_share);
    part[HW_DOUBT_MARKS] = hw_covariance_sum(&patch->mark_shift, &old->mark_shift);
    add_light(&part[HW_DOUBT_LIGHT], light, patch, old);
    for (int axis = 0; axis < 3; axis++) {
        part[HW_DOUBT_READING].m[axis][axis] = reading[axis] * reading[axis];
        part[HW_DOUBT_COLOUR].m[axis][axis] = share[axis] * share[axis] * length * length;
    }
    add_shine(&part[HW_DOUBT_SHINE], patch, old);
    add_tone(&part[HW_DOUBT_TONE], light, patch->lab, old->lab);
    add_card(&part[HW_DOUBT_CARD], light, patch->lab, old->lab);
}

hw_covariance hw_compare_doubt_sum(const hw_sample *patch, const hw_compare_old *old,
                                   const hw_light *light)
{
    hw_covariance part[HW_DOUBT_COUNT], sum = {{{0}}};
    hw_compare_doubt(patch, old, light, part);
    for (int source = 0; source < HW_DOUBT_COUNT; source++) {
        sum = hw_covariance_sum(&sum, &part[source]);
    }
    return sum;
}

void hw_compare_repeats(const hw_earlier *earlier, hw_covariance *reading_twice)
{
    const double usual_dof = 4.0; // chosen
    if (!earlier || earlier->repeats < 2) {
        return;
    }
    double n = (double)(earlier->repeats - 1);
    for (int axis = 0; axis < 3; axis++) {
        double *variance = &reading_twice->m[axis][axis];
        double seen = earlier->repeat[axis] * earlier->repeat[axis];
        *variance = (usual_dof * *variance + n * seen) / (usual_dof + n);
    }
}

hw_covariance hw_compare_usual_reading(const hw_earlier *earlier)
{
    hw_covariance usual = hw_covariance_diagonal(reading[0] * reading[0], reading[1] * reading[1],
                                                 reading[2] * reading[2]);
    hw_compare_repeats(earlier, &usual);
    return usual;
}
