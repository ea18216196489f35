// card_edge.c: how sharp the photo is, from the rim of the card: the one edge in it that is known to be
// sharp.
//
// Light is read along lines that leave the card at right angles. Height of the step over its steepest rise
// is the width of the edge: for a step blurred by a normal distribution, 2.5 standard deviations, as much
// as from 10 to 90 % of it (ISO 12233 speaks of the edge response). The median of the lines counts: a
// thumb or a shadow on one side does not. Noise makes a rise steeper, so it can hide blur, not feign it.
#include "card_internal.h"

#include <math.h>

#define LINES_A_SIDE 8
#define LINES_MOST   (8 * LINES_A_SIDE)
#define LINE_MOST    256 // pixels

static const double out_share =
    0.06; // of the picture: how far_px from the mark the rim is looked for
static const double step_least = 0.25;        // share of the card's light
static const double even_most = 0.15;         // of the step: s.d. of the ground beside the card
static const double widest_px = 24.0;         // a wider step is no rim
static const size_t near_px = 8, far_px = 16; // pixels from the edge: between them it must be even

static double light_at(const hw_photo *photo, double x, double y)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    if (!(x >= 0.0 && y >= 0.0 && x < (double)facts->width_px && y < (double)facts->height_px)) {
        return (double)NAN;
    }
    hw_xyz seen;
    hw_photo_xyz(photo, (size_t)x, (size_t)y, 1, &seen);
    return seen.Y;
}

static double mean_and_deviation(const double *values, size_t count, double *deviation)
{
    double mean = 0.0, square = 0.0;
    for (size_t i = 0; i < count; i++) {
        mean += values[i] / (double)count;
    }
    for (size_t i = 0; i < count; i++) {
        square += (values[i] - mean) * (values[i] - mean);
    }
    *deviation = sqrt(square / (double)(count - 1));
    return mean;
}

// Width of the first large step along a line of light, or NaN.
static double edge_width(const double *line, size_t count, double card)
{
    for (size_t i = far_px; i + far_px < count; i++) {
        double uneven[2];
        double inside = mean_and_deviation(&line[i - far_px], far_px - near_px, &uneven[0]);
        double outside = mean_and_deviation(&line[i + near_px], far_px - near_px, &uneven[1]);
        double height = fabs(outside - inside), steepest = 0.0;
        if (height < step_least * card || fmax(uneven[0], uneven[1]) > even_most * height) {
            continue;
        }
        for (size_t k = i - near_px - 1; k <= i + near_px; k++) {
            steepest = fmax(steepest, fabs(line[k + 1] - line[k]));
        }
        return steepest * widest_px > height ? height / steepest : (double)NAN;
    }
    return (double)NAN;
}

double hw_card_edge_px(const hw_photo *photo, const hw_mark *card, double card_Y)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    double longer = fmax((double)facts->width_px, (double)facts->height_px);
    hw_point centre = hw_mark_centre(card);
    double width[LINES_MOST];
    size_t found = 0;
    for (size_t i = 0; i < card->point_count && found + LINES_A_SIDE <= LINES_MOST; i++) {
        hw_point a = card->points[i], b = card->points[(i + 1) % card->point_count];
        double side = hypot(b.x - a.x, b.y - a.y);
        if (side < 10.0) {
            continue;
        }
        double nx = (b.y - a.y) / side, ny = -(b.x - a.x) / side;
        double outward = nx * (0.5 * (a.x + b.x) - centre.x) + ny * (0.5 * (a.y + b.y) - centre.y);
        nx = outward < 0.0 ? -nx : nx;
        ny = outward < 0.0 ? -ny : ny;
        for (int k = 0; k < LINES_A_SIDE; k++) {
            double t = 0.2 + 0.6 * (k + 0.5) / LINES_A_SIDE, line[LINE_MOST];
            size_t count = 0,
                   most = (size_t)fmin((double)(2 * far_px) + out_share * longer, LINE_MOST);
            for (; count < most; count++) {
                double out = (double)count - (double)far_px; // starts inside the mark
                line[count] = light_at(photo, a.x + t * (b.x - a.x) + out * nx,
                                       a.y + t * (b.y - a.y) + out * ny);
                if (isnan(line[count])) {
                    break;
                }
            }
            double w = edge_width(line, count, card_Y);
            if (!isnan(w)) {
                width[found++] = w;
            }
        }
    }
    return found >= LINES_A_SIDE ? hw_select(width, found, found / 2) : 0.0;
}
