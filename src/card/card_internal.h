// card_internal.h: how the light is read off the card, in order:
//
//   1 card_pixels.c  the card's inner part: code values tested for clipping, colours gathered
//   2 card_light.c   trimmed mean, spread and slope; the gains that make the card what it is
//
// Both work on at most HW_CARD_PIXELS_MOST pixels, taken evenly: more do not sharpen a mean
// that the card's own evenness bounds.
#ifndef HUEWRIGHT_CARD_INTERNAL_H
#define HUEWRIGHT_CARD_INTERNAL_H

#include "huewright/card.h"

#define HW_CARD_INNER       0.70 // of its size: the rim may be bent, shadowed or thumbed (chosen)
#define HW_CARD_PIXELS_MOST 40000

typedef struct hw_card_pixels {
    size_t count;
    double *X, *Y, *Z; // as photographed, D50, Y = 1 for the profile's white
    double *x, *y;     // pixel centres
    double top_share;  // share of pixels with a channel at the top of its range
    double bottom_share;
    double mean_code; // of all channels, 0 to 255 whatever the depth
    double max_code;  // largest channel mean, 0 to 255
} hw_card_pixels;

HW_CHECK hw_status hw_card_gather(const hw_photo *photo, const hw_mark *card, hw_card_pixels *out,
                                  hw_error *err);
void hw_card_pixels_free(hw_card_pixels *pixels);

#endif
