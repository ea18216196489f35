// sample_internal.h: how a region becomes a sample, in order:
//
//   1 sample_region.c  a thin look for medians; glare found and grown by two pixels; the kept
//                      pixels summed into a grid of small cells
//   2 sample_stats.c   mean, spread and standard error from the cells; pieces of any size
//
// Sums are of linear light: what the eye mixes from afar. L*a*b* is taken of means only.
#ifndef HUEWRIGHT_SAMPLE_INTERNAL_H
#define HUEWRIGHT_SAMPLE_INTERNAL_H

#include "huewright/sample.h"

// Fills xyz, lab, covariance, standard_error and spread from the sample's cells.
void hw_sample_summarise(hw_sample *sample);

#endif
