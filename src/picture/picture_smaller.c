// picture_smaller.c: squares of pixels to one, by area; pictures brought down.
#include "picture_internal.h"

#include <math.h>

static const double rounding = 1e-6; // of a pixel: less is no pixel of its own

size_t hw_pixel_count(size_t source, double scale)
{
    return (size_t)fmax(1.0, ceil((double)source / scale - rounding));
}

hw_pixel_part hw_pixel_part_of(size_t at, double scale, size_t source)
{
    double start = (double)at * scale;
    double end = fmin(start + scale, (double)source);
    hw_pixel_part p = {.first = (size_t)start,
                       .last = (size_t)fmax(ceil(end - rounding) - 1.0, 0.0)};
    p.last = p.last < source ? p.last : source - 1;
    p.first = p.first < p.last ? p.first : p.last;
    p.first_share = (float)(fmin((double)p.first + 1.0, end) - start);
    p.last_share = p.last > p.first ? (float)(end - (double)p.last) : 0.0f;
    return p;
}

static float mean_of(const float *row, hw_pixel_part p, size_t channels)
{
    float sum = p.first_share * row[channels * p.first] + p.last_share * row[channels * p.last];
    for (size_t i = p.first + 1; i < p.last; i++) {
        sum += row[channels * i];
    }
    float whole = p.first_share + p.last_share;
    whole += p.last > p.first ? (float)(p.last - p.first - 1) : 0.0f;
    return sum / whole;
}

void hw_pixel_narrow(const float *row, const hw_pixel_part *parts, size_t width, size_t channels,
                     float *out)
{
    for (size_t x = 0; x < width; x++) {
        for (size_t channel = 0; channel < channels; channel++) {
            out[channels * x + channel] = mean_of(row + channel, parts[x], channels);
        }
    }
}

// Rows go to where rows lay that are not needed any more: none is longer or further down than its sources.
static void shrink(hw_picture *picture, double factor, const hw_pixel_part *across, size_t width,
                   size_t height, float *narrow, float *sum)
{
    for (size_t y = 0; y < height; y++) {
        hw_pixel_part p = hw_pixel_part_of(y, factor, picture->height);
        float whole = 0.0f;
        memset(sum, 0, 3 * width * sizeof *sum);
        for (size_t source = p.first; source <= p.last; source++) {
            float share = source == p.first  ? p.first_share
                          : source == p.last ? p.last_share
                                             : 1.0f;
            hw_pixel_narrow(picture->xyz + 3 * source * picture->width, across, width, 3, narrow);
            for (size_t i = 0; i < 3 * width; i++) {
                sum[i] += share * narrow[i];
            }
            whole += share;
        }
        for (size_t i = 0; i < 3 * width; i++) {
            picture->xyz[3 * y * width + i] = sum[i] / whole;
        }
    }
}

hw_status hw_picture_make_smaller(hw_picture *picture, double factor, hw_error *err)
{
    size_t width = hw_pixel_count(picture->width, factor);
    size_t height = hw_pixel_count(picture->height, factor);
    hw_pixel_part *across = hw_alloc_array(width, sizeof *across);
    float *narrow = hw_alloc_array(width, 3 * sizeof *narrow);
    float *sum = hw_alloc_array(width, 3 * sizeof *sum);
    bool good = across && narrow && sum;
    if (good) {
        for (size_t x = 0; x < width; x++) {
            across[x] = hw_pixel_part_of(x, factor, picture->width);
        }
        shrink(picture, factor, across, width, height, narrow, sum);
        picture->width = width;
        picture->height = height;
        picture->scale *= factor;
        float *less = hw_resize_array(picture->xyz, 3 * width * height, sizeof *less);
        picture->xyz = less ? less : picture->xyz; // a block that is too large does no harm
    }
    hw_free(across);
    hw_free(narrow);
    hw_free(sum);
    return good ? HW_OK : hw_fail_memory(err, "making a picture smaller");
}
