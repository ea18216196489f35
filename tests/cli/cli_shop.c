// cli_shop.c: makes a small photo of a workshop for the tests of the command line: a grey card, two
// pieces of old wood, a repair let in between them. Not real wood: streaks in three directions, the
// same everywhere. JPEG by stb_image_write, or a 16-bit PNG.
//
//   cli_shop FILE.jpg|FILE.png [--exposure F] [--shift X] [--repair L,a,b] [--size W,H] [--sheet L]
//            [--chart 1] [--bend A]
//
// --sheet: a plain sheet of that L* instead. --chart: with a 24-patch colour chart at 220,310 360x144. --bend: the camera adds
// contrast, v + 2 A v (1 - v) (2 v - 1) of the code values.
//
// Regions of the standard 640 x 480 picture (the tests mark them so):
//   card 40,320,140,120   old left 40,40,180,240   repair 250,40,60,240   old right 340,40,260,240
#include "card_internal.h"
#include "picture.h"
#include "write_jpeg.h"

#include <stdio.h>

typedef struct settings {
    double exposure;
    long shift;
    hw_lab repair;
    size_t width, height;
    double sheet; // L*; 0: the shop
    bool chart;
    double bend;
} settings;

// Grain: ln of light, s.d. about 0.05, long along y; sums of waves, so that it has no seams.
static double grain(double x, double y)
{
    double sum = 0.0;
    uint64_t state = 11;
    for (int wave = 0; wave < 40; wave++) {
        double across = 0.02 + 0.5 * picture_random(&state), along = 0.02 * picture_random(&state);
        sum += sin(across * x + along * y + 6.28 * picture_random(&state));
    }
    return 0.05 * sum / sqrt(20.0);
}

static void fill_wood(picture *made, size_t x0, size_t y0, size_t width, size_t height,
                      hw_lab colour, long shift)
{
    picture_fill(made, x0, y0, width, height, colour);
    for (size_t y = y0; y < y0 + height; y++) {
        for (size_t x = x0; x < x0 + width; x++) {
            double factor = exp(grain((double)x + (double)shift, (double)y));
            for (int i = 0; i < 3; i++) {
                picture_at(made, x, y)[i] *= factor;
            }
        }
    }
}

static void add_chart(picture *made)
{
    for (size_t i = 0; i < 24; i++) {
        picture_fill(made, 225 + 60 * (i % 6), 313 + 36 * (i / 6), 50, 30,
                     hw_chart_lab((int)i + 1, true));
    }
}

static void bend(picture *made, double a)
{
    for (size_t i = 0; i < made->width * made->height; i++) {
        for (int c = 0; c < 3; c++) {
            double v = hw_srgb_encoded(fmax(made->linear[i][c], 0.0));
            made->linear[i][c] = hw_srgb_linear(v + 2.0 * a * v * (1.0 - v) * (2.0 * v - 1.0));
        }
    }
}

static picture shop(const settings *set)
{
    picture made = picture_new(set->width, set->height);
    picture_fill(&made, 0, 0, set->width, set->height, (hw_lab){40, 2, 4});
    if (set->sheet > 0.0) {
        picture_fill(&made, 0, 0, set->width, set->height, (hw_lab){set->sheet, 0, 1});
    } else if (set->width >= 640 && set->height >= 480) {
        picture_fill(&made, 40, 320, 140, 120, (hw_lab){49.5, 0, 0});
        fill_wood(&made, 40, 40, 180, 240, (hw_lab){45, 12, 24}, set->shift);
        fill_wood(&made, 250, 40, 60, 240, set->repair, 0);
        fill_wood(&made, 340, 40, 260, 240, (hw_lab){45.5, 12.2, 24.3}, set->shift);
    }
    if (set->chart) {
        add_chart(&made);
    }
    picture_scale(&made, set->exposure, set->exposure, set->exposure);
    if (set->bend != 0.0) {
        bend(&made, set->bend);
    }
    return made;
}

// ---- Files -------------------------------------------------------------------------

static int write_png(const char *path, const picture *made)
{
    size_t count = 0;
    uint8_t *bytes = picture_png(made, &count);
    FILE *file = fopen(path, "wb");
    int good = file && fwrite(bytes, 1, count, file) == count;
    good = file && fclose(file) == 0 && good;
    free(bytes);
    return good;
}

static int write_photo(const char *path, const picture *made)
{
    size_t values = made->width * made->height * 3;
    uint8_t *codes = malloc(values);
    if (!codes) {
        return 0;
    }
    for (size_t i = 0; i < values; i++) {
        double value = fmin(fmax(made->linear[i / 3][i % 3], 0.0), 1.0);
        codes[i] = (uint8_t)floor(hw_srgb_encoded(value) * 255.0 + 0.5);
    }
    int good = write_jpeg(path, made->width, made->height, codes, 95);
    free(codes);
    return good;
}

int main(int count, char **words)
{
    settings set = {1.0, 0, {50, 9.6, 24.5}, 640, 480, 0.0, false, 0.0};
    for (int i = 2; i + 1 < count; i += 2) {
        if (strcmp(words[i], "--exposure") == 0) {
            set.exposure = strtod(words[i + 1], NULL);
        } else if (strcmp(words[i], "--shift") == 0) {
            set.shift = strtol(words[i + 1], NULL, 10);
        } else if (strcmp(words[i], "--repair") == 0) {
            sscanf(words[i + 1], "%lf,%lf,%lf", &set.repair.L, &set.repair.a, &set.repair.b);
        } else if (strcmp(words[i], "--chart") == 0) {
            set.chart = true;
        } else if (strcmp(words[i], "--bend") == 0) {
            set.bend = strtod(words[i + 1], NULL);
        } else if (strcmp(words[i], "--sheet") == 0) {
            set.sheet = strtod(words[i + 1], NULL);
        } else if (strcmp(words[i], "--size") == 0) {
            sscanf(words[i + 1], "%zu,%zu", &set.width, &set.height);
        }
    }
    if (count < 2) {
        return 2;
    }
    picture made = shop(&set);
    const char *dot = strrchr(words[1], '.');
    int good =
        dot && strcmp(dot, ".png") == 0 ? write_png(words[1], &made) : write_photo(words[1], &made);
    picture_free(&made);
    return good ? 0 : 1;
}
