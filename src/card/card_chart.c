// card_chart.c: the 24-patch colour chart of McCamy, Marcus and Davidson (1976, Journal of Applied
// Photographic Engineering 2(3), 95): a 3 x 3 matrix that brings the camera's colours nearer to the
// eye's.
//
// Least squares in linear X, Y, Z over all usable patches after the card's correction, with a small
// pull towards no change. It stays only where it helps: at the four patches nearest the wood, each
// left out of the fit in its turn, against the card alone. More terms than 3 x 3 do harm when
// exposure changes (Finlayson, Mackiewicz and Hurlbert 2015, IEEE Transactions on Image Processing
// 24(5), 1460).
#include "card_internal.h"

#include <math.h>

static const double pull = 0.003; // of the mean of the normal matrix's diagonal

// Published L*a*b*, D50, 2 degrees, made before and since November 2014.
static const double published[24][2][3] = {
    {{37.986, 13.555, 14.059}, {37.54, 14.37, 14.92}},
    {{65.711, 18.130, 17.810}, {64.66, 19.27, 17.50}},
    {{49.927, -4.880, -21.905}, {49.32, -3.82, -22.54}},
    {{43.139, -13.095, 21.905}, {43.46, -12.74, 22.72}},
    {{55.112, 8.844, -25.399}, {54.94, 9.61, -24.79}},
    {{70.719, -33.397, -0.199}, {70.48, -32.26, -0.37}},
    {{62.661, 36.067, 57.096}, {62.73, 35.83, 56.50}},
    {{40.020, 10.410, -45.964}, {39.43, 10.75, -45.17}},
    {{51.124, 48.239, 16.248}, {50.57, 48.64, 16.67}},
    {{30.325, 22.976, -21.587}, {30.10, 22.54, -20.87}},
    {{72.532, -23.709, 57.255}, {71.77, -24.13, 58.19}},
    {{71.941, 19.363, 67.857}, {71.51, 18.24, 67.37}},
    {{28.778, 14.179, -50.297}, {28.37, 15.42, -49.80}},
    {{55.261, -38.342, 31.370}, {54.38, -39.72, 32.27}},
    {{42.101, 53.378, 28.190}, {42.43, 51.05, 28.62}},
    {{81.733, 4.039, 79.819}, {81.80, 2.67, 80.41}},
    {{51.935, 49.986, -14.574}, {50.63, 51.28, -14.12}},
    {{51.038, -28.631, -28.638}, {49.57, -29.71, -28.32}},
    {{96.539, -0.425, 1.186}, {95.19, -1.03, 2.93}},
    {{81.257, -0.638, -0.335}, {81.29, -0.57, 0.44}},
    {{66.766, -0.734, -0.504}, {66.89, -0.75, -0.06}},
    {{50.867, -0.153, -0.270}, {50.76, -0.13, 0.14}},
    {{35.656, -0.421, -1.231}, {35.63, -0.46, -0.48}},
    {{20.461, -0.079, -0.973}, {20.64, 0.07, -0.46}},
};

hw_lab hw_chart_lab(int patch, bool later_edition)
{
    const double *lab = published[patch - 1][later_edition];
    return (hw_lab){lab[0], lab[1], lab[2]};
}

// ---- The fit -----------------------------------------------------------------------

static hw_xyz mix(const double m[3][3], hw_xyz c)
{
    return (hw_xyz){m[0][0] * c.X + m[0][1] * c.Y + m[0][2] * c.Z,
                    m[1][0] * c.X + m[1][1] * c.Y + m[1][2] * c.Z,
                    m[2][0] * c.X + m[2][1] * c.Y + m[2][2] * c.Z};
}

static size_t gather(const hw_references *references, const hw_light *light, hw_chart_patch out[24])
{
    size_t count = 0;
    for (size_t i = 0; i < references->count && count < 24; i++) {
        const hw_reference *item = &references->item[i];
        if (item->usable && item->chart_patch > 0) {
            out[count++] = (hw_chart_patch){item->chart_patch,
                                            hw_light_correct_at(light, item->seen, item->centre),
                                            hw_xyz_from_lab(item->lab, hw_white_d50)};
        }
    }
    return count;
}

// Read times read, and read times wanted, summed: the same for the three rows.
static void sum_products(const hw_chart_patch *patches, size_t count, int without,
                         double normal[3][6])
{
    for (size_t i = 0; i < count; i++) {
        if (patches[i].number == without) {
            continue;
        }
        const hw_xyz *r = &patches[i].read, *t = &patches[i].wanted;
        const double read[3] = {r->X, r->Y, r->Z}, wanted[3] = {t->X, t->Y, t->Z};
        for (int row = 0; row < 3; row++) {
            for (int c = 0; c < 3; c++) {
                normal[row][c] += read[row] * read[c];
                normal[row][3 + c] += read[row] * wanted[c];
            }
        }
    }
}

bool hw_chart_matrix(const hw_chart_patch *patches, size_t count, int without, double out[3][3])
{
    double normal[3][6] = {{0}}, diagonal = 0.0;
    sum_products(patches, count, without, normal);
    for (int k = 0; k < 3; k++) {
        diagonal += normal[k][k] / 3.0;
    }
    for (int k = 0; k < 3; k++) {
        normal[k][k] += pull * diagonal;
        normal[k][3 + k] += pull * diagonal;
    }
    for (int k = 0; k < 3; k++) {
        double pivot = normal[k][k];
        if (!(pivot > 1e-9)) {
            return false;
        }
        for (int c = 0; c < 6; c++) {
            normal[k][c] /= pivot;
        }
        for (int row = 0; row < 3; row++) {
            double factor = row == k ? 0.0 : normal[row][k];
            for (int c = 0; c < 6 && factor != 0.0; c++) {
                normal[row][c] -= factor * normal[k][c];
            }
        }
    }
    for (int row = 0; row < 3; row++) {
        for (int c = 0; c < 3; c++) {
            out[c][row] = normal[row][3 + c];
        }
    }
    return true;
}

double hw_chart_miss(const hw_chart_patch *one, const double m[3][3])
{
    hw_xyz read = m ? mix(m, one->read) : one->read;
    return hw_ciede2000(hw_lab_from_xyz(one->wanted, hw_white_d50),
                        hw_lab_from_xyz(read, hw_white_d50));
}

void hw_chart_nearest(const int *number, size_t count, bool later_edition, hw_lab wood, int out[4])
{
    bool taken[25] = {false};
    for (int k = 0; k < 4; k++) {
        double least = INFINITY;
        out[k] = number[0];
        for (size_t i = 0; i < count; i++) {
            hw_lab lab = hw_chart_lab(number[i], later_edition);
            double far = hypot(hypot(lab.L - wood.L, lab.a - wood.a), lab.b - wood.b);
            if (!taken[number[i]] && far < least) {
                least = far;
                out[k] = number[i];
            }
        }
        taken[out[k]] = true;
    }
}

// What this matrix leaves at the patch of that number, which is there.
static double miss_of(const hw_chart_patch *patches, size_t count, int number, const double m[3][3])
{
    for (size_t i = 0; i < count; i++) {
        if (patches[i].number == number) {
            return hw_chart_miss(&patches[i], m);
        }
    }
    return 0.0;
}

void hw_card_fit_chart(const hw_references *references, hw_xyz wood, hw_light *light)
{
    hw_chart_patch patches[24];
    int number[24], near[4];
    hw_chart_fit *chart = &light->chart;
    bool later = chart->later_edition;
    *chart = (hw_chart_fit){.later_edition = later};
    size_t count = gather(references, light, patches);
    chart->patches = count;
    if (count < HW_CHART_LEAST || !hw_chart_matrix(patches, count, 0, chart->matrix)) {
        return;
    }
    for (size_t i = 0; i < count; i++) {
        number[i] = patches[i].number;
    }
    hw_chart_nearest(number, count, later, hw_lab_from_xyz(wood, hw_white_d50), near);
    for (int k = 0; k < 4; k++) {
        double without[3][3];
        if (!hw_chart_matrix(patches, count, near[k], without)) {
            return;
        }
        chart->before += miss_of(patches, count, near[k], NULL) / 4.0;
        chart->after += miss_of(patches, count, near[k], (const double(*)[3])without) / 4.0;
    }
    chart->used = chart->after < chart->before && chart->after < HW_CHART_MISS_MOST;
}
