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
    p.over = (float)(1.0 / (end - start));
    return p;
}

void hw_pixel_narrow(const float *row, const hw_pixel_part *parts, size_t width, float *out)
{
    for (size_t x = 0; x < width; x++) {
        const hw_pixel_part p = parts[x];
        const float *first = row + 3 * p.first, *last = row + 3 * p.last;
        float a = p.first_share * first[0] + p.last_share * last[0];
        float b = p.first_share * first[1] + p.last_share * last[1];
        float c = p.first_share * first[2] + p.last_share * last[2];
        for (const float *one = first + 3; one < last; one += 3) {
            a += one[0];
            b += one[1];
            c += one[2];
        }
        out[3 * x] = a * p.over;
        out[3 * x + 1] = b * p.over;
        out[3 * x + 2] = c * p.over;
    }
}

// Rows go to where rows lay that are not needed any more: none is longer or further down than its sources.
static void shrink(hw_picture *picture, double factor, const hw_pixel_part *across, size_t width,
                   size_t height, float *narrow, float *sum)
{
    for (size_t y = 0; y < height; y++) {
        hw_pixel_part p = hw_pixel_part_of(y, factor, picture->height);
        memset(sum, 0, 3 * width * sizeof *sum);
        for (size_t source = p.first; source <= p.last; source++) {
            float share = source == p.first  ? p.first_share
                          : source == p.last ? p.last_share
                                             : 1.0f;
            hw_pixel_narrow(picture->xyz + 3 * source * picture->width, across, width, narrow);
            for (size_t i = 0; i < 3 * width; i++) {
                sum[i] += share * narrow[i];
            }
        }
        for (size_t i = 0; i < 3 * width; i++) {
            picture->xyz[3 * y * width + i] = sum[i] * p.over;
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
