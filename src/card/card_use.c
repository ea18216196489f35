// card_use.c: the light applied to colours, and what its doubts would move.
#include "card_internal.h"

#include <math.h>

// ---- Straightening -----------------------------------------------------------------

// For every pixel of a region, so without calls.
static inline double straight_channel(const hw_tone *tone, int channel, double seen)
{
    if (!(seen > 0.0)) {
        return seen;
    }
    double at = sqrt(seen < 1.0 ? seen : 1.0) * (HW_TONE_TABLE - 1);
    int low = at >= HW_TONE_TABLE - 1 ? HW_TONE_TABLE - 2 : (int)at;
    double part = at - low;
    const float *ratio = tone->ratio[channel];
    double straight = seen * ((1.0 - part) * (double)ratio[low] + part * (double)ratio[low + 1]);
    // Flare may not take all of the darkest light: its estimate is no better than that.
    double less = straight - tone->parameter[2], least = 0.25 * straight;
    return less > least ? less : least;
}

void hw_light_straighten(const hw_light *light, hw_xyz *colours, size_t count)
{
    if (!light->tone.straightens) {
        return;
    }
    for (size_t i = 0; i < count; i++) {
        double rgb[3];
        hw_linear_srgb_from_xyz(colours[i], rgb);
        for (int channel = 0; channel < 3; channel++) {
            rgb[channel] = straight_channel(&light->tone, channel, rgb[channel]);
        }
        colours[i] = hw_xyz_from_linear_srgb(rgb);
    }
}

void hw_light_straighten_linear(const hw_light *light, float *rgb, size_t count)
{
    if (!light->tone.straightens) {
        return;
    }
    for (size_t i = 0; i < 3 * count; i++) {
        rgb[i] = (float)straight_channel(&light->tone, (int)(i % 3), (double)rgb[i]);
    }
}

// ---- Light at a place --------------------------------------------------------------

static void terms_at(const hw_field *field, hw_point at, double term[HW_FIELD_TERMS])
{
    double scale = field->scale_px > 0.0 ? field->scale_px : 1.0;
    double u = (at.x - field->centre.x) / scale, v = (at.y - field->centre.y) / scale;
    term[0] = u;
    term[1] = v;
    term[2] = u * u;
    term[3] = u * v;
    term[4] = v * v;
}

static double sheet_at(const hw_field *field, int band, hw_point at)
{
    double x = at.x / field->width_px * HW_SHOT_COLUMNS - 0.5;
    double y = at.y / field->height_px * HW_SHOT_ROWS - 0.5;
    x = fmin(fmax(x, 0.0), HW_SHOT_COLUMNS - 1.001);
    y = fmin(fmax(y, 0.0), HW_SHOT_ROWS - 1.001);
    size_t column = (size_t)x, row = (size_t)y;
    double s = x - (double)column, t = y - (double)row;
    const float(*grid)[HW_SHOT_COLUMNS] = field->sheet[band];
    return (1 - t) * ((1 - s) * (double)grid[row][column] + s * (double)grid[row][column + 1]) +
           t * ((1 - s) * (double)grid[row + 1][column] + s * (double)grid[row + 1][column + 1]);
}

void hw_field_at(const hw_field *field, hw_point at, double ln[3])
{
    double term[HW_FIELD_TERMS];
    terms_at(field, at, term);
    for (int band = 0; band < 3; band++) {
        ln[band] = field->from_sheet
                       ? sheet_at(field, band, at) - sheet_at(field, band, field->centre)
                       : 0.0;
        for (int j = 0; j < HW_FIELD_TERMS && !field->from_sheet; j++) {
            ln[band] += field->term[band][j] * term[j];
        }
    }
}

double hw_light_change(const hw_light *light, hw_point one, hw_point other)
{
    double at_one[3], at_other[3];
    hw_field_at(&light->field, one, at_one);
    hw_field_at(&light->field, other, at_other);
    return at_one[1] - at_other[1]; // the middle band is nearly Y
}

void hw_light_doubt(const hw_light *light, hw_point one, hw_point other, double u[3])
{
    const hw_field *field = &light->field;
    double a[HW_FIELD_TERMS], b[HW_FIELD_TERMS];
    terms_at(field, one, a);
    terms_at(field, other, b);
    for (int what = 0; what < 3; what++) {
        double variance = 0.0;
        for (int r = 0; r < HW_FIELD_TERMS; r++) {
            for (int c = 0; c < HW_FIELD_TERMS; c++) {
                variance += (a[r] - b[r]) * field->doubt[what][r][c] * (a[c] - b[c]);
            }
        }
        u[what] = sqrt(fmax(variance, 0.0));
    }
}

hw_xyz hw_light_flattened(const hw_light *light, hw_xyz seen, hw_point at)
{
    double ln[3], bands[3];
    hw_light_straighten(light, &seen, 1);
    hw_field_at(&light->field, at, ln);
    hw_sharpen(seen, bands);
    for (int band = 0; band < 3; band++) {
        bands[band] *= exp(-ln[band]);
    }
    return hw_unsharpen(bands);
}

// ---- All of it ---------------------------------------------------------------------

static hw_xyz mix(const double m[3][3], hw_xyz c)
{
    return (hw_xyz){m[0][0] * c.X + m[0][1] * c.Y + m[0][2] * c.Z,
                    m[1][0] * c.X + m[1][1] * c.Y + m[1][2] * c.Z,
                    m[2][0] * c.X + m[2][1] * c.Y + m[2][2] * c.Z};
}

// Gains and chart on a flattened colour.
static hw_xyz finish(const hw_light *light, hw_xyz flat)
{
    double bands[3];
    hw_sharpen(flat, bands);
    for (int band = 0; band < 3; band++) {
        bands[band] *= light->gain[band];
    }
    hw_xyz out = hw_unsharpen(bands);
    return light->chart.used ? mix(light->chart.matrix, out) : out;
}

hw_xyz hw_light_correct_at(const hw_light *light, hw_xyz seen, hw_point at)
{
    return finish(light, hw_light_flattened(light, seen, at));
}

void hw_light_matrix_at(const hw_light *light, hw_point at, double matrix[3][3])
{
    const hw_xyz unit[3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    double ln[3], even[3];
    hw_field_at(&light->field, at, ln);
    for (int band = 0; band < 3; band++) {
        even[band] = exp(-ln[band]);
    }
    for (int column = 0; column < 3; column++) {
        double bands[3];
        hw_sharpen(unit[column], bands);
        for (int band = 0; band < 3; band++) {
            bands[band] *= even[band];
        }
        hw_xyz image = finish(light, hw_unsharpen(bands));
        matrix[0][column] = image.X;
        matrix[1][column] = image.Y;
        matrix[2][column] = image.Z;
    }
}

// Straightening and matrix in one go: the way from straightened channels to X, Y, Z is in the matrix.
static void correct_bent(const hw_light *light, const double m[3][3], hw_xyz *colours, size_t count)
{
    const double unit[3][3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    hw_xyz column[3];
    for (int channel = 0; channel < 3; channel++) {
        column[channel] = mix(m, hw_xyz_from_linear_srgb(unit[channel]));
    }
    for (size_t i = 0; i < count; i++) {
        double rgb[3];
        hw_linear_srgb_from_xyz(colours[i], rgb);
        for (int channel = 0; channel < 3; channel++) {
            rgb[channel] = straight_channel(&light->tone, channel, rgb[channel]);
        }
        colours[i] = (hw_xyz){column[0].X * rgb[0] + column[1].X * rgb[1] + column[2].X * rgb[2],
                              column[0].Y * rgb[0] + column[1].Y * rgb[1] + column[2].Y * rgb[2],
                              column[0].Z * rgb[0] + column[1].Z * rgb[1] + column[2].Z * rgb[2]};
    }
}

void hw_light_correct_near(const hw_light *light, hw_point middle, hw_xyz *colours, size_t count)
{
    double m[3][3];
    hw_light_matrix_at(light, middle, m);
    if (light->tone.straightens) {
        correct_bent(light, (const double(*)[3])m, colours, count);
        return;
    }
    for (size_t i = 0; i < count; i++) {
        colours[i] = mix((const double(*)[3])m, colours[i]);
    }
}

// ---- Moved by its doubts -----------------------------------------------------------

// One straightened channel with a parameter moved.
static double bent(double linear, int parameter, double step)
{
    if (parameter == 2) {
        return fmax(linear - step, 0.25 * linear);
    }
    double v = hw_srgb_encoded(fmin(fmax(linear, 0.0), 1.0));
    return linear + hw_srgb_linear(fmax(v + step * hw_tone_bend(v, parameter), 0.0)) -
           hw_srgb_linear(v);
}

hw_xyz hw_light_tone_moved(const hw_light *light, hw_xyz corrected, int parameter, double step)
{
    double bands[3], grey[3], rgb[3], card[3];
    hw_sharpen(corrected, bands);
    hw_sharpen(hw_xyz_from_lab(light->card_lab, hw_white_d50), grey);
    for (int band = 0; band < 3; band++) {
        double gain = light->gain[band] > 0.0 ? light->gain[band] : 1.0;
        bands[band] /= gain;
        grey[band] /= gain;
    }
    hw_linear_srgb_from_xyz(hw_unsharpen(bands), rgb);
    hw_linear_srgb_from_xyz(hw_unsharpen(grey), card);
    for (int channel = 0; channel < 3; channel++) {
        double kept = bent(card[channel], parameter, step);
        rgb[channel] = bent(rgb[channel], parameter, step);
        rgb[channel] *= kept > 0.0 ? card[channel] / kept : 1.0;
    }
    hw_sharpen(hw_xyz_from_linear_srgb(rgb), bands);
    for (int band = 0; band < 3; band++) {
        bands[band] *= light->gain[band] > 0.0 ? light->gain[band] : 1.0;
    }
    return hw_unsharpen(bands);
}

hw_xyz hw_light_card_moved(const hw_light *light, hw_xyz corrected, int axis, double step)
{
    hw_lab moved = light->card_lab;
    *(axis == 0 ? &moved.L : axis == 1 ? &moved.a : &moved.b) += step;
    return hw_adapt_bradford(corrected, hw_xyz_from_lab(light->card_lab, hw_white_d50),
                             hw_xyz_from_lab(moved, hw_white_d50));
}
