// scene_spectra.c: invented woods, dyes, lamps and cameras.
#include "scene.h"

#include <math.h>
#include <string.h>

static double nanometres(int i)
{
    return HW_SPECTRUM_FIRST_NM + HW_SPECTRUM_STEP_NM * (double)i;
}

static double bell(double nm, double centre, double width)
{
    double z = (nm - centre) / width;
    return exp(-0.5 * z * z);
}

// ---- Wood --------------------------------------------------------------------------

static hw_spectrum log_quadratic(const double c[3], double bump)
{
    hw_spectrum r;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        double t = (nanometres(i) - 550.0) / 150.0;
        double ln = c[0] + c[1] * t + c[2] * t * t - bump * bell(nanometres(i), 480.0, 25.0);
        r.at[i] = fmin(exp(ln), 1.0);
    }
    return r;
}

hw_lab scene_colour(const hw_spectrum *r)
{
    hw_spectrum d50 = hw_daylight(5003.0);
    hw_spectrum one;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        one.at[i] = 1.0;
    }
    return hw_lab_from_xyz(hw_xyz_of_reflectance(r, &d50), hw_xyz_of_reflectance(&one, &d50));
}

// Newton's method on the three coefficients.
hw_spectrum scene_wood(hw_lab colour, double bump)
{
    double c[3] = {log(0.2), 0.3, 0.0};
    for (int turn = 0; turn < 30; turn++) {
        hw_spectrum r = log_quadratic(c, bump);
        hw_lab now = scene_colour(&r);
        double off[3] = {colour.L - now.L, colour.a - now.a, colour.b - now.b};
        double j[3][4];
        for (int k = 0; k < 3; k++) {
            double moved[3] = {c[0], c[1], c[2]};
            moved[k] += 1e-4;
            hw_spectrum s = log_quadratic(moved, bump);
            hw_lab next = scene_colour(&s);
            j[0][k] = (next.L - now.L) / 1e-4;
            j[1][k] = (next.a - now.a) / 1e-4;
            j[2][k] = (next.b - now.b) / 1e-4;
        }
        for (int k = 0; k < 3; k++) {
            j[k][3] = off[k];
        }
        for (int k = 0; k < 3; k++) { // Gauss and Jordan
            for (int row = 0; row < 3; row++) {
                double factor = j[row][k] / j[k][k];
                for (int column = k; column < 4 && row != k; column++) {
                    j[row][column] -= factor * j[k][column];
                }
            }
        }
        for (int k = 0; k < 3; k++) {
            c[k] += fmax(-0.3, fmin(0.3, j[k][3] / j[k][k]));
        }
    }
    return log_quadratic(c, bump);
}

// ---- Paint -------------------------------------------------------------------------

// Newton's method on the Lagrangian: 81 steps of z and three multipliers, a dense system that is
// small enough to solve as it stands.
#define PAINT_SIZE (HW_SPECTRUM_COUNT + 3)

static void solve(double m[PAINT_SIZE][PAINT_SIZE + 1])
{
    for (int k = 0; k < PAINT_SIZE; k++) {
        int pivot = k;
        for (int row = k + 1; row < PAINT_SIZE; row++) {
            pivot = fabs(m[row][k]) > fabs(m[pivot][k]) ? row : pivot;
        }
        for (int c = 0; c <= PAINT_SIZE && pivot != k; c++) {
            double kept = m[k][c];
            m[k][c] = m[pivot][c];
            m[pivot][c] = kept;
        }
        for (int row = 0; row < PAINT_SIZE; row++) {
            double factor = row == k ? 0.0 : m[row][k] / m[k][k];
            for (int c = k; c <= PAINT_SIZE && factor != 0.0; c++) {
                m[row][c] -= factor * m[k][c];
            }
        }
    }
    for (int k = 0; k < PAINT_SIZE; k++) {
        m[k][PAINT_SIZE] /= m[k][k];
    }
}

hw_spectrum scene_paint(hw_lab colour)
{
    static double m[PAINT_SIZE][PAINT_SIZE + 1];
    const int n = HW_SPECTRUM_COUNT;
    hw_spectrum d50 = hw_daylight(5003.0), r, one;
    double z[HW_SPECTRUM_COUNT] = {0}, multiplier[3] = {0}, weight[HW_SPECTRUM_COUNT][3], k = 0.0;
    for (int i = 0; i < n; i++) {
        one.at[i] = 1.0;
        k += d50.at[i] * hw_cie_1931[i][1];
    }
    for (int i = 0; i < n; i++) {
        for (int c = 0; c < 3; c++) {
            weight[i][c] = d50.at[i] * hw_cie_1931[i][c] / k;
        }
    }
    hw_xyz want = hw_xyz_from_lab(colour, hw_xyz_of_reflectance(&one, &d50));
    const double target[3] = {want.X, want.Y, want.Z};
    for (int turn = 0; turn < 25; turn++) {
        memset(m, 0, sizeof m);
        double sum[3] = {0};
        for (int i = 0; i < n; i++) {
            double t = tanh(z[i]), d1 = 0.5 * (1.0 - t * t), d2 = -t * (1.0 - t * t);
            double bend = i == 0 || i == n - 1 ? 2.0 : 4.0;
            double slope = bend * z[i], pull = 0.0, curve = 0.0;
            m[i][i] = bend;
            for (int side = -1; side <= 1; side += 2) {
                if (i + side >= 0 && i + side < n) {
                    m[i][i + side] = -2.0;
                    slope -= 2.0 * z[i + side];
                }
            }
            for (int c = 0; c < 3; c++) {
                sum[c] += weight[i][c] * 0.5 * (1.0 + t);
                m[i][n + c] = m[n + c][i] = weight[i][c] * d1;
                pull += multiplier[c] * weight[i][c] * d1;
                curve += multiplier[c] * weight[i][c] * d2;
            }
            m[i][i] += curve;
            m[i][PAINT_SIZE] = -(slope + pull);
        }
        for (int c = 0; c < 3; c++) {
            m[n + c][PAINT_SIZE] = target[c] - sum[c];
        }
        solve(m);
        for (int i = 0; i < n; i++) {
            z[i] += fmax(-1.0, fmin(1.0, m[i][PAINT_SIZE]));
        }
        for (int c = 0; c < 3; c++) {
            multiplier[c] += m[n + c][PAINT_SIZE];
        }
    }
    for (int i = 0; i < n; i++) {
        r.at[i] = 0.5 * (1.0 + tanh(z[i]));
    }
    return r;
}

// ---- Dyes --------------------------------------------------------------------------
// Bands after the textbook shapes of subtractive colour: a yellow dye takes blue light, a red one
// green.

static const struct {
    const char *family;
    double flat;
    double band[2][3]; // peak, centre nm, width nm
} dyes[] = {
    {"amber", 0.002, {{0.100, 430, 45}}},
    {"orange", 0.003, {{0.090, 468, 45}}},
    {"red", 0.003, {{0.060, 515, 45}}},
    {"red-brown", 0.010, {{0.055, 470, 65}}},
    {"brown", 0.014, {{0.045, 420, 90}}},
    {"black", 0.026, {{0}}},
    {"green", 0.004, {{0.035, 425, 40}, {0.045, 650, 50}}},
    {"blue", 0.003, {{0.045, 620, 60}}},
    {"violet", 0.004, {{0.045, 560, 45}}},
};

bool scene_dye_changed(const char *family, const scene_change *change, hw_spectrum *out)
{
    for (size_t k = 0; k < sizeof dyes / sizeof *dyes; k++) {
        if (strcmp(family, dyes[k].family) != 0) {
            continue;
        }
        for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
            out->at[i] = change->flat * dyes[k].flat;
            for (int b = 0; b < 2; b++) {
                const double *band = dyes[k].band[b];
                out->at[i] += band[0] > 0.0 ? change->high[b] * band[0] *
                                                  bell(nanometres(i), band[1] + change->shift[b],
                                                       change->width[b] * band[2])
                                            : 0.0;
            }
        }
        return true;
    }
    return false;
}

bool scene_dye(const char *family, hw_spectrum *out)
{
    const scene_change none = {{0.0, 0.0}, {1.0, 1.0}, {1.0, 1.0}, 1.0};
    return scene_dye_changed(family, &none, out);
}

// ---- Lamps -------------------------------------------------------------------------

hw_spectrum scene_led(double blue, double red)
{
    hw_spectrum lamp;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        double nm = nanometres(i);
        lamp.at[i] = 0.01 + blue * bell(nm, 452.0, 10.0) + bell(nm, 555.0, 48.0) +
                     red * bell(nm, 615.0, 50.0);
    }
    return lamp;
}

hw_spectrum scene_tube(double lines)
{
    hw_spectrum lamp;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        double nm = nanometres(i);
        lamp.at[i] = 0.05 + 0.5 * bell(nm, 480.0, 45.0) + 0.9 * bell(nm, 580.0, 38.0) +
                     lines * (0.5 * bell(nm, 436.0, 3.0) + 1.2 * bell(nm, 545.0, 4.0) +
                              1.0 * bell(nm, 611.0, 4.0));
    }
    return lamp;
}

// ---- Cameras -----------------------------------------------------------------------

// -1 to 1, the same for the same camera and place.
static double quirk(int kind, unsigned place)
{
    unsigned h = (unsigned)kind * 2654435761u + place * 40503u;
    h = (h ^ (h >> 15)) * 0x2c1b3c6du;
    h = (h ^ (h >> 12)) * 0x297a2d39u;
    return kind < 3 ? 0.0 : (double)((h ^ (h >> 15)) % 2001u) / 1000.0 - 1.0;
}

static void sensitivities(int kind, hw_spectrum out[3])
{
    bool second = kind == 2 || (kind > 2 && kind % 2);
    double centre[3], width[3];
    for (unsigned k = 0; k < 3; k++) {
        const double at[2][3] = {{605, 532, 455}, {595, 540, 462}};
        const double wide[2][3] = {{33, 36, 26}, {38, 42, 30}};
        centre[k] = at[second][k] + 5.0 * quirk(kind, k);
        width[k] = wide[second][k] + 3.0 * quirk(kind, 3 + k);
    }
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        double nm = nanometres(i);
        // Filters with tails, cut by a window against infrared.
        double window = 1.0 / (1.0 + exp((nm - (second ? 670.0 : 690.0)) / 8.0));
        out[0].at[i] = window * (bell(nm, centre[0], width[0]) + 0.06 * bell(nm, 450.0, 30.0) +
                                 0.04 * bell(nm, 530.0, 35.0));
        out[1].at[i] = window * (bell(nm, centre[1], width[1]) + 0.05 * bell(nm, 620.0, 30.0));
        out[2].at[i] = window * (bell(nm, centre[2], width[2]) + 0.04 * bell(nm, 540.0, 40.0));
    }
}

static void raw_of(const scene_camera *camera, const hw_spectrum *lamp,
                   const hw_spectrum *reflectance, double raw[3])
{
    for (int k = 0; k < 3; k++) {
        raw[k] = 0.0;
        for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
            raw[k] += camera->sensitivity[k].at[i] * lamp->at[i] *
                      (reflectance ? reflectance->at[i] : 1.0);
        }
    }
}

// The maker's matrix: least squares from balanced raw to linear sRGB over smooth colours in
// daylight, each row summing to 1 so that white stays white.
static void fit_matrix(scene_camera *camera)
{
    const hw_spectrum daylight = hw_daylight(5503.0);
    double white[3], normal[2][2] = {{0}}, right[3][2] = {{0}};
    raw_of(camera, &daylight, NULL, white);
    hw_spectrum one;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        one.at[i] = 1.0;
    }
    hw_xyz white_xyz = hw_xyz_of_reflectance(&one, &daylight);
    for (int sample = 0; sample < 48; sample++) {
        double hue = sample * 0.41, chroma = 8.0 + 3.0 * (sample % 9),
               L = 25.0 + 7.0 * (sample % 8);
        hw_spectrum r;
        for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
            double t = (nanometres(i) - 560.0) / 90.0;
            double wave = cos(hue) * tanh(t) + sin(hue) * (exp(-t * t) - 0.5);
            r.at[i] = fmin(1.0, pow((L + 16.0) / 116.0, 3.0) * exp(0.03 * chroma * wave));
        }
        double raw[3], target[3];
        raw_of(camera, &daylight, &r, raw);
        hw_linear_srgb_from_xyz(
            hw_adapt_bradford(hw_xyz_of_reflectance(&r, &daylight), white_xyz, hw_white_d50),
            target);
        for (int k = 0; k < 3; k++) {
            raw[k] /= white[k];
        }
        // Row: m0 raw0 + m1 raw1 + (1 - m0 - m1) raw2 = target.
        double u[2] = {raw[0] - raw[2], raw[1] - raw[2]};
        for (int a = 0; a < 2; a++) {
            for (int b = 0; b < 2; b++) {
                normal[a][b] += u[a] * u[b];
            }
            for (int k = 0; k < 3; k++) {
                right[k][a] += u[a] * (target[k] - raw[2]);
            }
        }
    }
    double determinant = normal[0][0] * normal[1][1] - normal[0][1] * normal[1][0];
    for (int k = 0; k < 3; k++) {
        double m0 = (right[k][0] * normal[1][1] - right[k][1] * normal[0][1]) / determinant;
        double m1 = (right[k][1] * normal[0][0] - right[k][0] * normal[1][0]) / determinant;
        camera->matrix[k][0] = m0;
        camera->matrix[k][1] = m1;
        camera->matrix[k][2] = 1.0 - m0 - m1;
    }
}

scene_camera scene_camera_for(int kind, const hw_spectrum *lamp, const double balance[3])
{
    scene_camera camera = {.kind = kind, .lamp = *lamp};
    double white[3] = {1.0, 1.0, 1.0};
    if (kind != 0) {
        sensitivities(kind, camera.sensitivity);
        fit_matrix(&camera);
        raw_of(&camera, lamp, NULL, white);
    }
    for (int k = 0; k < 3; k++) {
        camera.gain[k] = balance[k] / white[k];
    }
    return camera;
}

void scene_camera_see(const scene_camera *camera, const hw_spectrum *reflectance, double rgb[3])
{
    if (camera->kind == 0) {
        hw_spectrum one;
        for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
            one.at[i] = 1.0;
        }
        hw_xyz white = hw_xyz_of_reflectance(&one, &camera->lamp);
        hw_linear_srgb_from_xyz(hw_adapt_bradford(hw_xyz_of_reflectance(reflectance, &camera->lamp),
                                                  white, hw_white_d50),
                                rgb);
        for (int k = 0; k < 3; k++) {
            rgb[k] *= camera->gain[k];
        }
        return;
    }
    double raw[3];
    raw_of(camera, &camera->lamp, reflectance, raw);
    for (int k = 0; k < 3; k++) {
        raw[k] *= camera->gain[k];
    }
    for (int k = 0; k < 3; k++) {
        rgb[k] = camera->matrix[k][0] * raw[0] + camera->matrix[k][1] * raw[1] +
                 camera->matrix[k][2] * raw[2];
    }
}
