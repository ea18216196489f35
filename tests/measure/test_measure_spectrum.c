// Spectra of instruments to L*a*b*: greys, measured reflectances at 5 nm told at 10 and 20 nm, and ends that
// are held.
#include "check.h"
#include "measure_internal.h"

#define SPECTRA HW_TESTDATA "/../../shared/data/spectra/"
#define WOODS   HW_TESTDATA "/../../shared/data/wood/"

static double gap(hw_lab one, hw_lab other)
{
    return sqrt((one.L - other.L) * (one.L - other.L) + (one.a - other.a) * (one.a - other.a) +
                (one.b - other.b) * (one.b - other.b));
}

// A grey is a grey at any step and range: ISO/CIE 11664-4, Y 0.5 is L* 76.0693.
static void test_grey(void)
{
    static const double first[] = {380.0, 360.0, 400.0}, last[] = {730.0, 780.0, 700.0};
    static const double step[] = {5.0, 10.0, 20.0};
    double wavelength[100], value[100];
    for (int range = 0; range < 3; range++) {
        for (int k = 0; k < 3; k++) {
            size_t count = 0;
            for (double nm = first[range]; nm <= last[range]; nm += step[k]) {
                wavelength[count] = nm;
                value[count++] = 0.5;
            }
            char room[160];
            bool reaches = wavelength[count - 1] >= 700.0;
            const char *fault = hw_measure_spectrum_fault(wavelength, count, room, sizeof room);
            check_true((fault == NULL) == reaches);
            hw_lab lab = hw_measure_lab_of_spectrum(wavelength, value, count);
            check_close(lab.L, 76.0693, 1e-4);
            check_close(lab.a, 0.0, 1e-9);
            check_close(lab.b, 0.0, 1e-9);
        }
    }
}

// Between readings a cubic is followed exactly, and at the ends a parabola (Lagrange): the 10 nm readings of a
// cubic give what its 5 nm ones give.
static void test_cubic(void)
{
    double wide[36], narrow[71], at_wide[36], at_narrow[71];
    for (int i = 0; i < 71; i++) {
        double t = (i - 35.0) / 35.0;
        at_narrow[i] = 380.0 + 5.0 * i;
        narrow[i] = 0.3 + 0.2 * t + 0.1 * t * t;
        if (i % 2 == 0) {
            at_wide[i / 2] = at_narrow[i];
            wide[i / 2] = narrow[i];
        }
    }
    check_close(gap(hw_measure_lab_of_spectrum(at_wide, wide, 36),
                    hw_measure_lab_of_spectrum(at_narrow, narrow, 71)),
                0.0, 1e-9);
}

static void test_faults(void)
{
    char room[160];
    const double late[] = {410.0, 560.0, 710.0}, uneven[] = {380.0, 390.0, 395.0, 700.0};
    check_holds(hw_measure_spectrum_fault(late, 3, room, sizeof room), "from 410 to 710");
    check_holds(hw_measure_spectrum_fault(uneven, 4, room, sizeof room), "5, 10 or 20 nm");
    check_holds(hw_measure_spectrum_fault(late, 1, room, sizeof room), "single");
    check_holds(hw_measure_spectrum_fault(late, 0, room, sizeof room), "single");
}

// ---- Measured spectra beside the source tree ---------------------------------------

// All columns of a table of spectra, 380 to 780 nm every 5 nm; returns how many.
static size_t read_table(const char *path, double (*out)[HW_SPECTRUM_COUNT], size_t room)
{
    static char line[16384];
    FILE *file = fopen(path, "r");
    size_t columns = 0, rows = 0;
    while (file && rows < HW_SPECTRUM_COUNT && fgets(line, sizeof line, file)) {
        size_t column = 0;
        char *field = line;
        double nm = strtod(field, NULL);
        if (nm != HW_SPECTRUM_FIRST_NM + HW_SPECTRUM_STEP_NM * (double)rows) {
            continue; // the head
        }
        while ((field = strchr(field, ',')) != NULL && column < room) {
            field++;
            out[column++][rows] = *field == ',' || *field == '\n' ? NAN : strtod(field, NULL);
        }
        columns = column;
        rows++;
    }
    if (file) {
        fclose(file);
    }
    return rows == HW_SPECTRUM_COUNT ? columns : 0;
}

static hw_lab told_at(const double *value, int first, int last, int step)
{
    double wavelength[HW_SPECTRUM_COUNT], told[HW_SPECTRUM_COUNT];
    size_t count = 0;
    for (int nm = first; nm <= last; nm += step) {
        wavelength[count] = nm;
        told[count++] = value[(nm - HW_SPECTRUM_FIRST_NM) / HW_SPECTRUM_STEP_NM];
    }
    return hw_measure_lab_of_spectrum(wavelength, told, count);
}

static double table[80][HW_SPECTRUM_COUNT];

// The first patch of the 24-patch chart (McCamy, Marcus and Davidson 1976) under D50: summed apart from this
// program at 1 nm, as in tests/colour/test_colour_standards.c.
static void test_chart(void)
{
    size_t count = read_table(SPECTRA "chart24_reflectance_b.csv", table, 80);
    if (!check_true(count >= 12)) {
        return;
    }
    const hw_lab want = {39.073, 13.699, 14.370};
    check_close(gap(told_at(table[0], 380, 780, 5), want), 0.0, 0.008);
    check_close(gap(told_at(table[0], 380, 730, 10), want), 0.0, 0.03);
    double most[2] = {0};
    for (size_t i = 0; i < count; i++) {
        hw_lab whole = told_at(table[i], 380, 780, 5);
        most[0] = fmax(most[0], gap(told_at(table[i], 380, 780, 10), whole));
        most[1] = fmax(most[1], gap(told_at(table[i], 380, 780, 20), whole));
    }
    printf("chart: 10 nm within %.3f, 20 nm within %.3f\n", most[0], most[1]);
    check_true(most[0] < 0.05 && most[1] < 0.6);
}

// Woods: what the warning says of spectra that go from 400 to 700 nm alone, "0.1 or less".
static void test_woods(void)
{
    size_t count = read_table(WOODS "wood_spectra_aspen_poplar.csv", table, 80);
    double most = 0.0, most_wide = 0.0;
    for (size_t i = 0; i < count; i++) {
        hw_lab whole = told_at(table[i], 380, 780, 5), cut = told_at(table[i], 400, 700, 10);
        most = fmax(
            most, fmax(fabs(cut.L - whole.L), fmax(fabs(cut.a - whole.a), fabs(cut.b - whole.b))));
        most_wide = fmax(most_wide, gap(told_at(table[i], 400, 700, 20), whole));
    }
    printf("%zu woods: 400 to 700 nm within %.3f an axis, at 20 nm within %.3f\n", count, most,
           most_wide);
    check_true(count > 40 && most <= 0.1 && most_wide <= 0.2);
}

int main(void)
{
    test_grey();
    test_cubic();
    test_faults();
    FILE *beside = fopen(SPECTRA "README.md", "r");
    if (beside) {
        fclose(beside);
        test_chart();
        test_woods();
    } else {
        printf("no spectra beside the source tree: measured ones not checked\n");
    }
    return check_done();
}
