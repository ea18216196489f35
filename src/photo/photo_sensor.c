// photo_sensor.c: from a camera's own matrices to linear X, Y, Z under D50 (DNG 1.4, chapter 6).
//
// A matrix leads from X, Y, Z under an illuminant to camera values. Two of them, measured under two
// illuminants, are mixed by the inverse of the light's temperature; the light is the one under which what
// the shot calls neutral has those camera values, found by going round a few times. The inverse of the
// matrix and the linear Bradford adaptation from that light to D50 make the way back.
//
// Forward matrices are left aside on purpose: they scale camera values by the shot's white balance before
// anything else, and what the camera guessed of the light would stay in the colours. As it is here that
// guess is one factor for each sharpened band, the very factors that the card sets anew; it only chooses
// between two matrices.
#include "base_internal.h"
#include "photo_internal.h"

#include <math.h>

// CIPA DC-008 gives ranges for the lamps; their middle is taken. Standard illuminants: CIE 15:2018.
// Daylight and flash 5500 K, tungsten 2856 K, cloud 6500 K, shade 7500 K: chosen, as usual.
double hw_illuminant_kelvin(unsigned light_source)
{
    static const double kelvin[25] = {
        [1] = 5500,  [2] = 4150,  [3] = 2856,  [4] = 5500,  [9] = 5500,  [10] = 6500, [11] = 7500,
        [12] = 6400, [13] = 5050, [14] = 4150, [15] = 3525, [16] = 2925, [17] = 2856, [18] = 4874,
        [19] = 6774, [20] = 5503, [21] = 6504, [22] = 7504, [23] = 5003, [24] = 3200};
    return light_source < 25 ? kelvin[light_source] : 0.0;
}

// McCamy 1992, Color Research and Application 17, 142: within 2 K between 2856 and 6500 K.
static double temperature_of(hw_xyz white)
{
    double sum = white.X + white.Y + white.Z, x = white.X / sum, y = white.Y / sum;
    double n = (x - 0.3320) / (0.1858 - y);
    return ((449.0 * n + 3525.0) * n + 6823.3) * n + 5520.33;
}

static bool invert(const double m[3][3], double out[3][3])
{
    double determinant = 0.0, largest = 0.0;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            int r1 = (r + 1) % 3, r2 = (r + 2) % 3, c1 = (c + 1) % 3, c2 = (c + 2) % 3;
            out[c][r] = m[r1][c1] * m[r2][c2] - m[r1][c2] * m[r2][c1];
            largest = fmax(largest, fabs(m[r][c]));
        }
        determinant += m[0][r] * out[r][0];
    }
    if (!(fabs(determinant) > 1e-6 * largest * largest * largest)) { // also NaN
        return false;
    }
    for (int i = 0; i < 9; i++) {
        out[i / 3][i % 3] /= determinant;
    }
    return true;
}

static hw_xyz apply(const double m[3][3], const double v[3])
{
    return (hw_xyz){m[0][0] * v[0] + m[0][1] * v[1] + m[0][2] * v[2],
                    m[1][0] * v[0] + m[1][1] * v[1] + m[1][2] * v[2],
                    m[2][0] * v[0] + m[2][1] * v[1] + m[2][2] * v[2]};
}

// The matrix under a light of that temperature.
static void mix(const hw_sensor *sensor, double kelvin, double out[3][3])
{
    const double *at = sensor->kelvin;
    double first =
        0.0; // where a temperature is not told the last holds, as a rule that of daylight
    if (sensor->matrices == 2 && at[0] > 0.0 && at[1] > 0.0 && at[0] != at[1]) {
        first = (1.0 / kelvin - 1.0 / at[1]) / (1.0 / at[0] - 1.0 / at[1]);
        first = fmin(fmax(first, 0.0), 1.0);
    } else if (sensor->matrices == 1) {
        first = 1.0;
    }
    for (int i = 0; i < 9; i++) {
        int r = i / 3, c = i % 3;
        out[r][c] = first * sensor->xyz_to_camera[0][r][c];
        if (first < 1.0) {
            out[r][c] += (1.0 - first) * sensor->xyz_to_camera[1][r][c];
        }
    }
}

static bool is_white(hw_xyz colour)
{
    return colour.X > 0.0 && colour.Y > 0.0 && colour.Z > 0.0 &&
           isfinite(colour.X + colour.Y + colour.Z);
}

// What is neutral, with 1 as its largest value; where the file does not say, what D50 would make it.
static bool find_neutral(const hw_sensor *sensor, double neutral[3])
{
    memcpy(neutral, sensor->neutral, 3 * sizeof *neutral);
    if (!(neutral[0] > 0.0 && neutral[1] > 0.0 && neutral[2] > 0.0)) {
        double matrix[3][3];
        mix(sensor, 5003.0, matrix);
        hw_xyz d50 = apply(matrix, (double[3]){hw_white_d50.X, hw_white_d50.Y, hw_white_d50.Z});
        memcpy(neutral, (double[3]){d50.X, d50.Y, d50.Z}, 3 * sizeof *neutral);
    }
    double largest = fmax(fmax(neutral[0], neutral[1]), neutral[2]);
    for (int c = 0; c < 3; c++) {
        neutral[c] /= largest;
    }
    return neutral[0] > 0.0 && neutral[1] > 0.0 && neutral[2] > 0.0 && isfinite(largest);
}

bool hw_sensor_to_xyz(const hw_sensor *sensor, double to_xyz[3][3])
{
    double neutral[3], matrix[3][3], inverse[3][3], kelvin = 5003.0;
    hw_xyz white = hw_white_d50;
    if (sensor->matrices < 1 || sensor->matrices > 2 || !find_neutral(sensor, neutral)) {
        return false;
    }
    for (int pass = 0; pass < 30; pass++) { // DNG goes round until nothing moves; 30 are plenty
        mix(sensor, kelvin, matrix);
        if (!invert(matrix, inverse)) {
            return false;
        }
        white = apply(inverse, neutral);
        if (!is_white(white)) {
            return false;
        }
        kelvin = fmin(fmax(temperature_of(white), 1500.0), 25000.0);
    }
    hw_xyz unit = {white.X / white.Y, 1.0, white.Z / white.Y};
    for (int c = 0; c < 3; c++) {
        hw_xyz column = {inverse[0][c] / white.Y, inverse[1][c] / white.Y, inverse[2][c] / white.Y};
        column = hw_adapt_bradford(column, unit, hw_white_d50);
        to_xyz[0][c] = column.X;
        to_xyz[1][c] = column.Y;
        to_xyz[2][c] = column.Z;
    }
    return true;
}
