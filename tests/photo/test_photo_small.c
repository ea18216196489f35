// The picture brought down against the definition of an area mean, pixel by pixel with the share of each that lies in the
// square; and against sums that must stay.
#include "check.h"
#include "decoded_picture.h"
#include "huewright/photo.h"
#include "picture.h"

static picture noise(size_t width, size_t height)
{
    picture made = picture_new(width, height);
    uint64_t state = 3;
    for (size_t i = 0; i < width * height; i++) {
        for (int k = 0; k < 3; k++) {
            made.linear[i][k] = picture_random(&state);
        }
    }
    return made;
}

static hw_photo *decoded(picture made)
{
    hw_photo *photo = decoded_picture(&made, "noise.png");
    picture_free(&made);
    return photo;
}

// Share of source pixel i that lies in [start, end).
static double share(size_t i, double start, double end)
{
    return fmax(fmin((double)i + 1.0, end) - fmax((double)i, start), 0.0);
}

static double mean_code(const hw_photo *photo, double scale, size_t x, size_t y, size_t channel)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    double sum = 0.0;
    uint16_t rgb[3];
    for (size_t j = 0; j < facts->height_px; j++) {
        double rows = share(j, (double)y * scale, (double)(y + 1) * scale);
        for (size_t i = 0; rows > 0.0 && i < facts->width_px; i++) {
            double both = rows * share(i, (double)x * scale, (double)(x + 1) * scale);
            if (both > 0.0) {
                hw_photo_codes(photo, i, j, 1, rgb);
                sum += both * rgb[channel];
            }
        }
    }
    return sum / (scale * fmin(scale, (double)facts->height_px)) / facts->max_code;
}

static void test_size(size_t width, size_t height, size_t longer)
{
    hw_photo *photo = decoded(noise(width, height));
    hw_photo_small small;
    double worst = 0.0, worst_colour = 0.0;
    check_true(hw_photo_make_small(photo, longer, &small, NULL) == HW_OK);
    check_true(small.width <= longer && small.height <= longer);
    check_true(
        small.width ==
            (width > height ? longer : (size_t)((double)longer * (double)width / (double)height)) ||
        small.scale == 1.0);
    for (size_t y = 0; y < small.height; y++) {
        for (size_t x = 0; x < small.width; x++) {
            uint16_t rgb[3];
            hw_xyz colour;
            for (size_t k = 0; k < 3; k++) {
                double code = small.code[3 * (y * small.width + x) + k];
                double expected = mean_code(photo, small.scale, x, y, k);
                worst = fmax(worst, fabs(code - expected));
                rgb[k] = (uint16_t)(expected * 65535.0 + 0.5);
            }
            hw_photo_xyz_of_codes(photo, rgb, 1, &colour);
            worst_colour =
                fmax(worst_colour, fabs(small.xyz[3 * (y * small.width + x) + 1] - colour.Y));
        }
    }
    printf("%zu x %zu to %zu: largest error of a code %.2g, of Y %.2g\n", width, height, longer,
           worst, worst_colour);
    check_true(worst < 2e-5); // half a step of 16 bits is 8e-6
    check_true(worst_colour < 1e-4);
    hw_photo_small_free(&small);
    hw_photo_free(photo);
}

int main(void)
{
    test_size(103, 61, 40); // no whole number
    test_size(61, 103, 40); // upright
    test_size(120, 80, 40); // a whole number
    test_size(41, 30, 40);  // hardly smaller
    test_size(30, 20, 40);  // not at all
    test_size(200, 1, 50);  // a line
    test_size(997, 2, 10);  // the other side vanishes
    return check_done();
}
