// sample_internal.h: how a region becomes a sample, in order:
//
//   1 sample_region.c  a thin look for medians; glare found and grown by two pixels; the kept
//                      pixels summed into a grid of small cells
//   2 sample_shine.c   cells under broad, soft shine left out
//   3 sample_shift.c   what a mark a little aside would read
//   4 sample_shade.c   a shadow's edge across it
//   5 sample_stats.c   mean, spread and standard error from the cells; pieces of any size
//
// Sums are of linear light: what the eye mixes from afar. L*a*b* is taken of means only.
#ifndef HUEWRIGHT_SAMPLE_INTERNAL_H
#define HUEWRIGHT_SAMPLE_INTERNAL_H

#include "huewright/sample.h"

// Fills xyz, lab, covariance, standard_error and spread from the sample's cells.
void hw_sample_summarise(hw_sample *sample);

// Fills mark_shift.
void hw_sample_find_shift(const hw_photo *photo, const hw_light *light, const hw_mark *mark,
                          hw_sample *sample);

// Step of ln light at a shadow's edge that lies across the region, 0 for none.
double hw_sample_shade(const hw_sample *sample);

// Empties the cells that lie under shine, counts their pixels as left out and sets shine_u; `pixels`: of
// the mark.
HW_CHECK hw_status hw_sample_leave_shine(hw_sample *sample, size_t pixels, hw_error *err);

#endif
