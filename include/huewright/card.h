// card.h: what the grey card says of the light. One factor a band, in the
// Bradford-sharpened space, takes cast and exposure out of the picture at once.
//
// Takes a photo and its marks; gives a plain hw_light with its uncertainty, or a refusal
// with the next thing to do. Nothing is kept.
#ifndef HUEWRIGHT_CARD_H
#define HUEWRIGHT_CARD_H

#include "huewright/base.h"
#include "huewright/colour.h"
#include "huewright/mark.h"
#include "huewright/photo.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct hw_light {
    double gain[3];       // sharpened long, middle, short: corrected = gain * seen
    hw_lab card_lab;      // what the card is taken to be
    bool card_measured;   // its own L*a*b* was given; else the nominal 18 %
    hw_xyz card_seen;     // trimmed mean of its inner part, as photographed
    hw_point card_centre; // pixels
    double card_spread; // share: robust s.d. of single pixels' Y about the plane of light / mean Y
    double u_gain[3];   // standard uncertainty of ln gain a band, common to all regions
    double slope_x, slope_y; // d ln Y / d pixel on the card: light falling off across it
    double u_slope;          // standard uncertainty of each slope
    double uneven; // change of light over the picture's longer side if the slope goes on: a
                   // ratio, 0.3 = 30 %
    hw_warnings warnings;
} hw_light;

typedef struct hw_card_options {
    bool has_lab; // `lab` was given
    hw_lab lab;   // the card's own measured colour, D50
} hw_card_options;

// Reads the light off the card (or, where no card is marked, off the `neutral` named grey, or
// chart patch 22). options may be NULL. HW_ERR_INPUT with the code card-missing, card-overexposed
// (over 0.5 % of it at the top code in a channel), card-underexposed (the same at the bottom, or
// mean code below 20 of 255), card-patterned (its places differ by over 4 %), card-coloured (seen
// so coloured that no lamp explains it).
HW_CHECK hw_status hw_card_read(const hw_photo *photo, const hw_marks *marks,
                                const hw_card_options *options, hw_light *out, hw_error *err);

// Seen colour to corrected colour.
hw_xyz hw_light_correct(const hw_light *light, hw_xyz seen);

// The whole correction as one matrix on X, Y, Z: row by column.
void hw_light_matrix(const hw_light *light, double matrix[3][3]);

// Doubt about the light between two places, as standard uncertainty of ln Y: the slope
// seen on the card carried on from one to the other (all of it is doubt: nothing is corrected).
double hw_light_doubt(const hw_light *light, hw_point one, hw_point other);

#ifdef __cplusplus
}
#endif
#endif
