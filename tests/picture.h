// picture.h: small pictures made in a test: linear sRGB in, the bytes of a 16-bit PNG out, so
// that a stage can be tested from a real file. Needs zlib.
#ifndef HUEWRIGHT_TEST_PICTURE_H
#define HUEWRIGHT_TEST_PICTURE_H

#include "huewright/colour.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

typedef struct picture {
    size_t width, height;
    double (*linear)[3]; // 0..1, row by row
} picture;

static inline picture picture_new(size_t width, size_t height)
{
    picture made = {width, height, calloc(width * height, sizeof(double[3]))};
    return made;
}

static inline void picture_free(picture *made)
{
    free(made->linear);
    made->linear = NULL;
}

static inline double *picture_at(picture *made, size_t x, size_t y)
{
    return made->linear[y * made->width + x];
}

// Fills a rectangle with one L*a*b* (D50).
static inline void picture_fill(picture *made, size_t x0, size_t y0, size_t width, size_t height,
                                hw_lab colour)
{
    double rgb[3];
    hw_linear_srgb_from_xyz(hw_xyz_from_lab(colour, hw_white_d50), rgb);
    for (size_t y = y0; y < y0 + height; y++) {
        for (size_t x = x0; x < x0 + width; x++) {
            memcpy(picture_at(made, x, y), rgb, sizeof rgb);
        }
    }
}

// The whole picture times one factor a channel (a lamp's cast, an exposure).
static inline void picture_scale(picture *made, double red, double green, double blue)
{
    for (size_t i = 0; i < made->width * made->height; i++) {
        made->linear[i][0] *= red;
        made->linear[i][1] *= green;
        made->linear[i][2] *= blue;
    }
}

// Numbers that look random and are the same everywhere: splitmix64 (public domain algorithm).
static inline double picture_random(uint64_t *state)
{
    uint64_t z = *state += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

// Normal, mean 0, s.d. 1: sum of twelve uniform numbers less 6.
static inline double picture_normal(uint64_t *state)
{
    double sum = -6.0;
    for (int i = 0; i < 12; i++) {
        sum += picture_random(state);
    }
    return sum;
}

static inline void picture_put32(uint8_t *to, uint32_t value)
{
    for (int i = 0; i < 4; i++) {
        to[i] = (uint8_t)(value >> (24 - 8 * i));
    }
}

static inline size_t picture_chunk(uint8_t *to, const char *type, const uint8_t *bytes,
                                   size_t count)
{
    picture_put32(to, (uint32_t)count);
    memcpy(to + 4, type, 4);
    if (count > 0) {
        memcpy(to + 8, bytes, count);
    }
    picture_put32(to + 8 + count, (uint32_t)crc32(0, to + 4, (uInt)(count + 4)));
    return count + 12;
}

// The bytes of a 16-bit RGB PNG with an sRGB chunk; free with free().
static inline uint8_t *picture_png(const picture *made, size_t *count)
{
    size_t stride = 1 + made->width * 6, raw_size = stride * made->height;
    uint8_t *raw = calloc(raw_size, 1);
    for (size_t y = 0; y < made->height; y++) {
        for (size_t i = 0; i < made->width * 3; i++) {
            double value = made->linear[y * made->width + i / 3][i % 3];
            double code = floor(hw_srgb_encoded(fmin(fmax(value, 0.0), 1.0)) * 65535.0 + 0.5);
            raw[y * stride + 1 + 2 * i] = (uint8_t)((unsigned)code >> 8);
            raw[y * stride + 2 + 2 * i] = (uint8_t)((unsigned)code & 255);
        }
    }
    uLongf packed_size = compressBound((uLong)raw_size);
    uint8_t *packed = malloc(packed_size), *png = malloc(packed_size + 200);
    compress2(packed, &packed_size, raw, (uLong)raw_size, 1);
    memcpy(png, "\x89PNG\r\n\x1a\n", 8);
    size_t at = 8;
    uint8_t header[13] = {0};
    picture_put32(header, (uint32_t)made->width);
    picture_put32(header + 4, (uint32_t)made->height);
    header[8] = 16;
    header[9] = 2;
    at += picture_chunk(png + at, "IHDR", header, 13);
    at += picture_chunk(png + at, "sRGB", (const uint8_t *)"\0", 1);
    at += picture_chunk(png + at, "IDAT", packed, packed_size);
    at += picture_chunk(png + at, "IEND", NULL, 0);
    free(packed);
    free(raw);
    *count = at;
    return png;
}

#endif
