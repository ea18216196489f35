// picture_map.c: how far each pixel is off one colour.
//
// CIEDE2000 (ISO/CIE 11664-6:2022; Sharma, Wu and Dalal 2005, CRA 30(1) 21) in floats, without branches and without
// calls, so that the compiler does several pixels at once:
//  - Hues stay unit vectors. The mean hue is the direction of their sum, the sine of half their difference the cross
//    product of the first and the mean, and what T asks of the mean hue follows by the formulas for multiples of an angle.
//  - The turn in the blue, sin(60 exp(-((h - 275) / 25)^2)), wants an angle's square: with u = 1 - cos of it that is the
//    series 2 sum (2 u)^n / (n^2 C(2n, n)), of which six terms do, as the whole is below 1e-4 where they do not.
//  - Of hues that are opposite the mean is a right angle on from the one below 180 degrees, as in colour_difference.c.
//    Floats tell which side it lies on to 1e-5 degrees.
#include "picture_internal.h"

#include <float.h>
#include <math.h>

enum { PIECE = 256, ROWS_AT_ONCE = 16 };

// ---- Floats without calls ----------------------------------------------------------

static inline float from_bits(uint32_t bits)
{
    float value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

static inline uint32_t bits_of(float value)
{
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    return bits;
}

// Of values from 0.008 to 16 or so, which is all that comes here: x (x^(-1/3))^2, the latter from a third of the bits and
// two steps without a division. With e = 1 - x z^3 the root is z (1 - e)^(-1/3), as a series.
static inline float cube_root(float x)
{
    int32_t third = (int32_t)((float)(int32_t)bits_of(x) * (1.0f / 3.0f));
    float z = from_bits(0x54a2fa8cu - (uint32_t)third);
    float e = 1.0f - x * (z * z * z);
    z += z * e * (1.0f / 3.0f + e * (2.0f / 9.0f + e * (14.0f / 81.0f)));
    e = 1.0f - x * (z * z * z);
    z += z * e * (1.0f / 3.0f);
    return x * z * z;
}

// exp(x) for x from -20 to 0, within 2e-6 of 1.
static inline float exponential(float x)
{
    float power = x * 1.44269504f;           // of two
    int32_t whole = (int32_t)(power - 0.5f); // to the nearest, as it is negative
    float rest = (power - (float)whole) * 0.693147181f;
    float part =
        1.0f +
        rest * (1.0f + rest * (0.5f + rest * (1.66666667e-1f +
                                              rest * (4.16666667e-2f + rest * 8.33333333e-3f))));
    return part * from_bits((uint32_t)(whole + 127) << 23);
}

// sin(x) for x from 0 to 1.05.
static inline float sine(float x)
{
    float square = x * x;
    return x * (1.0f +
                square * (-1.66666667e-1f + square * (8.33333333e-3f + square * -1.984126984e-4f)));
}

static inline float to_the_7(float x)
{
    float cube = x * x * x;
    return cube * cube * x;
}

// ---- L*, a*, b* --------------------------------------------------------------------

static inline float lab_f(float ratio)
{
    const float toe = 216.0f / 24389.0f, slope = 24389.0f / 27.0f / 116.0f;
    float root = cube_root(ratio > toe ? ratio : toe);
    return ratio > toe ? root : slope * ratio + 16.0f / 116.0f;
}

// Planes first: the compiler cannot take every third value at once.
HW_WIDE static void lab_piece(const float *restrict xyz, size_t count, float *restrict L,
                              float *restrict a, float *restrict b)
{
    const float x = (float)(1.0 / hw_white_d50.X), z = (float)(1.0 / hw_white_d50.Z);
    for (size_t i = 0; i < count; i++) {
        a[i] = xyz[3 * i] * x;
        L[i] = xyz[3 * i + 1];
        b[i] = xyz[3 * i + 2] * z;
    }
    for (size_t i = 0; i < count; i++) {
        float fx = lab_f(a[i]), fy = lab_f(L[i]), fz = lab_f(b[i]);
        L[i] = 116.0f * fy - 16.0f;
        a[i] = 500.0f * (fx - fy);
        b[i] = 200.0f * (fy - fz);
    }
}

void hw_lab_row(const float *xyz, size_t count, float *L, float *a, float *b)
{
    for (size_t done = 0; done < count; done += PIECE) {
        size_t piece = count - done < PIECE ? count - done : PIECE;
        lab_piece(xyz + 3 * done, piece, L + done, a + done, b + done);
    }
}

// ---- CIEDE2000 ---------------------------------------------------------------------

static const float cos275 = 0.0871557427f, sin275 = -0.996194698f;

// Square of the angle from 275 degrees, in units of 25 degrees, negative: what the turn's exponent is.
static inline float blue_power(float c, float s)
{
    const float each = 5.25258f; // (180 / pi / 25)^2
    float u = 1.0f - (c * cos275 + s * sin275);
    u = u < 1.0f ? u : 1.0f;
    float square =
        u * (2.0f + u * (1.0f / 3.0f +
                         u * (4.0f / 45.0f +
                              u * (1.0f / 35.0f + u * (16.0f / 1575.0f + u * (8.0f / 2079.0f))))));
    return -each * square;
}

// All but the turn: the sum of squares, and what the turn needs.
typedef struct parts {
    float square[PIECE];
    float product[PIECE];     // of the terms of chroma and hue
    float chroma[PIECE];      // mean C'
    float c[PIECE], s[PIECE]; // of the mean hue
} parts;

static const float to_25_7 = 6103515625.0f, least = 1e-20f;

HW_WIDE static void sum_squares(const float *restrict L, const float *restrict a,
                                const float *restrict b, size_t count, hw_lab from,
                                parts *restrict out)
{
    const float L1 = (float)from.L, a1ab = (float)from.a, b1 = (float)from.b;
    const float C1ab = (float)hw_lab_chroma(from);
    for (size_t i = 0; i < count; i++) {
        float mean7 = to_the_7(0.5f * (C1ab + sqrtf(a[i] * a[i] + b[i] * b[i])));
        float stretch = 1.5f - 0.5f * sqrtf(mean7 / (mean7 + to_25_7));
        float a1 = stretch * a1ab, a2 = stretch * a[i], b2 = b[i];
        float C1 = sqrtf(a1 * a1 + b1 * b1), C2 = sqrtf(a2 * a2 + b2 * b2);
        // The mean hue: along the sum, or, where that is short, at a right angle to the difference.
        float c1 = a1 * C2, s1 = b1 * C2, c2 = a2 * C1, s2 = b2 * C1; // both C1 C2 long
        float turn12 = a1 * b2 - b1 * a2; // > 0: the second hue lies on from the first
        float first_low = b1 > 0.0f ? 1.0f : b1 < 0.0f ? -1.0f : a1;
        float side = turn12 != 0.0f ? turn12 : first_low;
        float across_c = side > 0.0f ? s2 - s1 : s1 - s2,
              across_s = side > 0.0f ? c1 - c2 : c2 - c1;
        float opposed = a1 * a2 + b1 * b2;
        float c = opposed < 0.0f ? across_c : c1 + c2, s = opposed < 0.0f ? across_s : s1 + s2;
        float over = 1.0f / sqrtf(c * c + s * s + least);
        c *= over;
        s *= over;
        float cc = c * c - s * s, ss = 2.0f * c * s;        // of twice the angle
        float ccc = cc * c - ss * s, sss = ss * c + cc * s; // of three times
        float cccc = cc * cc - ss * ss, ssss = 2.0f * cc * ss;
        float T = 1.0f - 0.17f * (0.866025404f * c + 0.5f * s) + 0.24f * cc +
                  0.32f * (0.994521895f * ccc - 0.104528463f * sss) -
                  0.20f * (0.453990500f * cccc + 0.891006524f * ssss);
        float mean_L = 0.5f * (L1 + L[i]) - 50.0f, C = 0.5f * (C1 + C2);
        // S_L = (root + 0.015 (L - 50)^2) / root; one division serves all three terms.
        float root = sqrtf(20.0f + mean_L * mean_L), below_L = root + 0.015f * mean_L * mean_L;
        float S_C = 1.0f + 0.045f * C, S_H = 1.0f + 0.015f * C * T;
        float each = 1.0f / (below_L * S_C * S_H);
        float l = (L[i] - L1) * root * S_C * S_H * each;
        float chroma = (C2 - C1) * below_L * S_H * each;
        float hue = 2.0f * sqrtf(C2 / (C1 + least)) * (a1 * s - b1 * c) * below_L * S_C * each;
        out->square[i] = l * l + chroma * chroma + hue * hue;
        out->product[i] = chroma * hue;
        out->chroma[i] = C;
        out->c[i] = c;
        out->s[i] = s;
    }
}

static void add_turn(parts *restrict all, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        float C7 = to_the_7(all->chroma[i]);
        float turn = 2.0f * sqrtf(C7 / (C7 + to_25_7)) *
                     sine(1.04719755f * exponential(blue_power(all->c[i], all->s[i])));
        all->square[i] -= turn * all->product[i];
    }
}

// Does any mean hue lie within a right angle of 275 degrees? Beyond that the turn is below 1e-5.
static bool turns(const parts *all, size_t count)
{
    int near = 0;
    for (size_t i = 0; i < count; i++) {
        near |= all->c[i] * cos275 + all->s[i] * sin275 > 0.0f;
    }
    return near != 0;
}

void hw_de00_row(const float *L, const float *a, const float *b, size_t count, hw_lab from,
                 float *out)
{
    parts all;
    for (size_t done = 0; done < count; done += PIECE) {
        size_t piece = count - done < PIECE ? count - done : PIECE;
        sum_squares(L + done, a + done, b + done, piece, from, &all);
        if (turns(&all, piece)) { // wood's never do
            add_turn(&all, piece);
        }
        for (size_t i = 0; i < piece; i++) {
            float square = all.square[i] < 0.0f ? 0.0f : all.square[i];
            out[done + i] = square <= FLT_MAX ? sqrtf(square) : INFINITY; // no colour at all: far
        }
    }
}

// ---- The map -----------------------------------------------------------------------

typedef struct map_work {
    const hw_picture *picture;
    hw_lab from;
    hw_map *map;
} map_work;

static void map_rows(void *context, size_t worker, size_t first, size_t end)
{
    const map_work *all = context;
    float L[PIECE], a[PIECE], b[PIECE];
    size_t at = first * all->picture->width, stop = end * all->picture->width;
    const float L1 = (float)all->from.L;
    (void)worker;
    while (at < stop) {
        size_t count = stop - at < PIECE ? stop - at : PIECE;
        hw_lab_row(all->picture->xyz + 3 * at, count, L, a, b);
        hw_de00_row(L, a, b, count, all->from, all->map->de00 + at);
        for (size_t i = 0; i < count; i++) {
            all->map->lighter[at + i] = L[i] - L1;
        }
        at += count;
    }
}

hw_status hw_picture_map(const hw_picture *picture, hw_lab old_wood, const hw_progress *progress,
                         hw_map *out, hw_error *err)
{
    static const char doing[] = "mapping the difference";
    size_t count = picture->width * picture->height;
    hw_map made = {picture->width, picture->height, picture->frame, picture->scale, NULL, NULL};
    map_work all = {picture, old_wood, &made};
    const hw_rows rows = {picture->height, ROWS_AT_ONCE, map_rows, &all};
    const hw_watch watch = {progress, doing, 0.0, 1.0};
    made.de00 = hw_alloc_array(count, sizeof *made.de00);
    made.lighter = hw_alloc_array(count, sizeof *made.lighter);
    hw_status status =
        made.de00 && made.lighter ? hw_share_rows(&rows, &watch, err) : hw_fail_memory(err, doing);
    if (status != HW_OK) {
        hw_map_free(&made);
        return status;
    }
    *out = made;
    return HW_OK;
}
