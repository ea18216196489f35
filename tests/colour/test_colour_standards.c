// Figures of the standards, summed and derived anew: the sRGB matrix from its primaries, a grey
// under any light, and, where tables of spectra lie beside the source tree, the observer, the CIE
// lights and a chart patch at every 5 nm.
#include "check.h"
#include "huewright/colour.h"

// ---- sRGB from its primaries -------------------------------------------------------

// IEC 61966-2-1: chromaticities of the primaries and of the white, x and y.
static const double primaries[3][2] = {{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}};
static const double white_xy[2] = {0.3127, 0.3290};

static hw_xyz of_chromaticity(const double xy[2])
{
    return (hw_xyz){xy[0] / xy[1], 1.0, (1.0 - xy[0] - xy[1]) / xy[1]};
}

static double determinant(hw_xyz a, hw_xyz b, hw_xyz c)
{
    return a.X * (b.Y * c.Z - b.Z * c.Y) - b.X * (a.Y * c.Z - a.Z * c.Y) +
           c.X * (a.Y * b.Z - a.Z * b.Y);
}

// The primaries, each as strong as the white asks (Cramer's rule), carried to D50 by Bradford:
// what ICC.1:2022 annex E tells a profile to hold. A profile rounds to 1/65536, half of it 7.6e-6.
static void test_srgb_matrix(void)
{
    hw_xyz white = of_chromaticity(white_xy), primary[3];
    for (int k = 0; k < 3; k++) {
        primary[k] = of_chromaticity(primaries[k]);
    }
    double whole = determinant(primary[0], primary[1], primary[2]);
    const double strength[3] = {determinant(white, primary[1], primary[2]) / whole,
                                determinant(primary[0], white, primary[2]) / whole,
                                determinant(primary[0], primary[1], white) / whole};
    for (int k = 0; k < 3; k++) {
        hw_xyz lit = {strength[k] * primary[k].X, strength[k] * primary[k].Y,
                      strength[k] * primary[k].Z};
        hw_xyz want = hw_adapt_bradford(lit, white, hw_white_d50);
        const double rgb[3] = {k == 0, k == 1, k == 2};
        hw_xyz got = hw_xyz_from_linear_srgb(rgb);
        check_close(got.X, want.X, 7.6e-6);
        check_close(got.Y, want.Y, 7.6e-6);
        check_close(got.Z, want.Z, 7.6e-6);
    }
    // Greys stay greys: the rows sum to the white of the connection space.
    const double grey[3] = {0.18, 0.18, 0.18};
    hw_lab lab = hw_lab_from_xyz(hw_xyz_from_linear_srgb(grey), hw_white_d50);
    check_close(lab.a, 0.0, 1e-6);
    check_close(lab.b, 0.0, 1e-6);
}

// ---- A grey under any light --------------------------------------------------------

static hw_spectrum even(double reflectance)
{
    hw_spectrum made;
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        made.at[i] = reflectance;
    }
    return made;
}

static hw_lab under(const hw_spectrum *reflectance, const hw_spectrum *light)
{
    hw_spectrum perfect = even(1.0);
    return hw_lab_from_xyz(hw_xyz_of_reflectance(reflectance, light),
                           hw_xyz_of_reflectance(&perfect, light));
}

// ISO/CIE 11664-4: Y 0.50 is L* 76.07, and no hue, whatever the light and its power.
static void test_grey(void)
{
    const hw_spectrum grey = even(0.5);
    for (int kelvin = 2000; kelvin <= 25000; kelvin += 1000) {
        hw_spectrum light = kelvin < 4000 ? hw_planckian(kelvin) : hw_daylight(kelvin);
        hw_lab lab = under(&grey, &light);
        check_close(lab.L, 76.07, 0.005);
        check_close(lab.a, 0.0, 1e-9);
        check_close(lab.b, 0.0, 1e-9);
    }
}

// ---- Tables beside the source tree -------------------------------------------------

#define SPECTRA       HW_TESTDATA "/../../shared/data/spectra/"
#define SPECTRA_WIDTH 64

// Column `name` of a table of spectra, 380 to 780 nm every 5 nm, a wavelength a row.
static bool read_column(const char *path, const char *name, hw_spectrum *out)
{
    char line[4096];
    int column = -1, rows = 0;
    FILE *file = fopen(path, "r");
    if (!file) {
        return false;
    }
    while (fgets(line, sizeof line, file) && rows < HW_SPECTRUM_COUNT) {
        bool head = column < 0;
        int number = 0;
        for (char *field = strtok(line, ",\r\n"); field; field = strtok(NULL, ",\r\n"), number++) {
            if (head && strcmp(field, name) == 0) {
                column = number;
            } else if (!head && number == 0 &&
                       atoi(field) != HW_SPECTRUM_FIRST_NM + HW_SPECTRUM_STEP_NM * rows) {
                column = SPECTRA_WIDTH; // not the steps we take it for: no field is found
            } else if (!head && number == column) {
                out->at[rows++] = strtod(field, NULL);
            }
        }
    }
    fclose(file);
    return rows == HW_SPECTRUM_COUNT;
}

// ISO/CIE 11664-1 at 5 nm. The file prints the standard's longer form, which ours rounds at the
// sixth decimal or further.
static void test_observer_table(void)
{
    const char *names[3] = {"xbar", "ybar", "zbar"};
    for (int k = 0; k < 3; k++) {
        hw_spectrum table;
        if (check_true(read_column(SPECTRA "cmf_cie1931_2deg.csv", names[k], &table))) {
            for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
                check_close(hw_cie_1931[i][k], table.at[i], 6e-7);
            }
        }
    }
}

// CIE 15:2018, tables of illuminant A, D50, D55, D65 and D75, relative to 100 at 560 nm. Its
// weights M1, M2 are rounded to three decimals, which moves the power by 0.025 at most.
static void test_light_tables(void)
{
    const char *names[5] = {"A", "D50", "D55", "D65", "D75"};
    const hw_spectrum lights[5] = {hw_planckian(2855.5), hw_daylight(5003.0), hw_daylight(5503.0),
                                   hw_daylight(6504.0), hw_daylight(7504.0)};
    for (int k = 0; k < 5; k++) {
        hw_spectrum table;
        if (check_true(read_column(SPECTRA "illuminants_cie.csv", names[k], &table))) {
            for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
                check_close(lights[k].at[i] / lights[k].at[36] * 100.0, table.at[i], 0.03);
            }
        }
    }
}

// Patch 1 of the 24-patch chart (McCamy, Marcus and Davidson 1976), a measured one. The wanted
// colours were summed apart from this program at 1 nm; ours at 5 nm may differ by a few thousandths.
static void test_chart_patch(void)
{
    const hw_spectrum lights[3] = {hw_daylight(5003.0), hw_daylight(6504.0), hw_planckian(2855.5)};
    const hw_lab want[3] = {
        {39.073, 13.699, 14.370}, {38.622, 12.146, 13.622}, {40.593, 14.683, 16.834}};
    hw_spectrum patch;
    if (check_true(read_column(SPECTRA "chart24_reflectance_b.csv", "01_dark_skin", &patch))) {
        for (int k = 0; k < 3; k++) {
            hw_lab lab = under(&patch, &lights[k]);
            check_close(lab.L, want[k].L, 0.005);
            check_close(lab.a, want[k].a, 0.005);
            check_close(lab.b, want[k].b, 0.005);
        }
    }
}

int main(void)
{
    test_srgb_matrix();
    test_grey();
    FILE *beside = fopen(SPECTRA "README.md", "r");
    if (beside) {
        fclose(beside);
        test_observer_table();
        test_light_tables();
        test_chart_patch();
    } else {
        printf(
            "no spectra beside the source tree: tables at 5 nm and the chart patch not checked\n");
    }
    return check_done();
}
