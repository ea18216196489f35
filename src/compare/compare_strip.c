// compare_strip.c: what a strip of a step board may be wrong by against the strip without toner. They share
// the photo, so what shifts both alike cancels, as between a patch and old wood (compare_doubt.c). Unlike
// there the wood under a strip is not the wood that is looked at beside it: all of the figure's standard
// error counts.
//
// What grows with the change (tone curve, camera's colours) counts half: the camera that reads the board
// reads the job too, and where it takes a step for larger than it is it does so in both (chosen).
#include "compare_internal.h"

static const double size_share = 0.5;

void hw_compare_strip_doubt(const hw_sample *strip, const hw_sample *bare, const hw_light *light,
                            hw_covariance *own, hw_covariance *size)
{
    hw_covariance part[HW_DOUBT_COUNT];
    // The bare strip is without doubt here: its own is asked for by giving it as both.
    hw_compare_old beside = {.xyz = bare->xyz, .lab = bare->lab, .centre = bare->centre};
    hw_compare_doubt(strip, &beside, light, part);
    part[HW_DOUBT_FIGURE] = strip->covariance;
    *own = hw_covariance_sum(&part[HW_DOUBT_FIGURE], &part[HW_DOUBT_MARKS]);
    *own = hw_covariance_sum(own, &part[HW_DOUBT_LIGHT]);
    *own = hw_covariance_sum(own, &part[HW_DOUBT_SHINE]);
    *own = hw_covariance_sum(own, &part[HW_DOUBT_READING]);
    *size = hw_covariance_sum(&part[HW_DOUBT_TONE], &part[HW_DOUBT_COLOUR]);
    *size = hw_covariance_sum(size, &part[HW_DOUBT_CARD]);
    *size = hw_covariance_times(size, size_share * size_share);
}
