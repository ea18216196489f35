// picture_lay.c: means of marks, factors a band, and layers of dye laid over what lies in a mark.
//
// A layer is one factor a Bradford-sharpened band, so on X, Y, Z it is a matrix, the same for all pixels: grain under
// it keeps its ratios. A pixel that the mark's edge cuts is mixed by area.
#include "picture_internal.h"

#include <math.h>

enum { LINES = 16, PIECE = 256 }; // lines through a row of pixels for its shares; pixels at a time

void hw_bands_matrix(const double factor[3], double matrix[3][3])
{
    const hw_xyz unit[3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    for (int column = 0; column < 3; column++) {
        double bands[3];
        hw_sharpen(unit[column], bands);
        for (int band = 0; band < 3; band++) {
            bands[band] *= factor[band];
        }
        hw_xyz image = hw_unsharpen(bands);
        matrix[0][column] = image.X;
        matrix[1][column] = image.Y;
        matrix[2][column] = image.Z;
    }
}

size_t hw_picture_mean(const hw_picture *picture, const hw_mark *mark, hw_xyz *out)
{
    size_t first, end, n = 0;
    hw_xyz sum = {0, 0, 0};
    hw_picture_rows_of(picture, mark, &first, &end);
    for (size_t y = first; y < end; y++) {
        hw_span spans[HW_SPANS_MOST];
        size_t count = hw_picture_spans(picture, mark, y, spans);
        for (size_t i = 0; i < count; i++) {
            const float *p = picture->xyz + 3 * (y * picture->width + spans[i].x);
            for (size_t k = 0; k < spans[i].count; k++, p += 3) {
                sum.X += (double)p[0];
                sum.Y += (double)p[1];
                sum.Z += (double)p[2];
            }
            n += spans[i].count;
        }
    }
    if (n > 0) {
        *out = (hw_xyz){sum.X / (double)n, sum.Y / (double)n, sum.Z / (double)n};
    }
    return n;
}

// `share` of one pixel through the matrix, the rest as it was.
static void mix(const double m[3][3], double share, float *p)
{
    double a = (double)p[0], b = (double)p[1], c = (double)p[2];
    p[0] = (float)(a + share * (m[0][0] * a + m[0][1] * b + m[0][2] * c - a));
    p[1] = (float)(b + share * (m[1][0] * a + m[1][1] * b + m[1][2] * c - b));
    p[2] = (float)(c + share * (m[2][0] * a + m[2][1] * b + m[2][2] * c - c));
}

void hw_picture_scale(hw_picture *picture, const double factor[3])
{
    double matrix[3][3];
    hw_bands_matrix(factor, matrix);
    for (size_t i = 0; i < picture->width * picture->height; i++) {
        mix((const double(*)[3])matrix, 1.0, picture->xyz + 3 * i);
    }
}

// Adds a stretch of one line to the shares of the pixels from `start` on.
static void add_stretch(hw_stretch_px s, size_t start, size_t count, double share[PIECE])
{
    double from = fmax(s.from - (double)start, 0.0), to = fmin(s.to - (double)start, (double)count);
    for (size_t x = (size_t)from; (double)x < to; x++) {
        double inside = fmin(to, (double)x + 1.0) - fmax(from, (double)x);
        share[x] += inside / LINES;
    }
}

// Shares of the pixels of row y, a piece of the row at a time.
static void lay_row(hw_picture *picture, const hw_mark *mark, const double m[3][3], size_t y)
{
    hw_stretch_px stretch[LINES][HW_SPANS_MOST];
    size_t count[LINES];
    for (size_t line = 0; line < LINES; line++) {
        double at = (double)y + ((double)line + 0.5) / LINES;
        count[line] = hw_picture_crossings(picture, mark, at, stretch[line]);
    }
    for (size_t start = 0; start < picture->width; start += PIECE) {
        size_t here = picture->width - start < PIECE ? picture->width - start : PIECE;
        double share[PIECE] = {0.0};
        for (size_t line = 0; line < LINES; line++) {
            for (size_t i = 0; i < count[line]; i++) {
                add_stretch(stretch[line][i], start, here, share);
            }
        }
        for (size_t x = 0; x < here; x++) {
            if (share[x] > 0.0) {
                mix(m, fmin(share[x], 1.0), picture->xyz + 3 * (y * picture->width + start + x));
            }
        }
    }
}

void hw_picture_lay(hw_picture *picture, const hw_mark *mark, const double density[3])
{
    double factor[3], matrix[3][3];
    size_t first, end;
    for (int band = 0; band < 3; band++) {
        factor[band] = exp(-density[band]);
    }
    hw_bands_matrix(factor, matrix);
    hw_picture_rows_of(picture, mark, &first, &end);
    for (size_t y = first; y < end; y++) {
        lay_row(picture, mark, (const double(*)[3])matrix, y);
    }
}
