// Layers laid over pictures, factors a band, means of marks.
#include "check.h"
#include "decoded_picture.h"
#include "huewright/picture.h"
#include "huewright/tone.h"

enum { WIDE = 80, HIGH = 60 };

static const hw_lab old_wood = {42.0, 11.0, 21.0}, new_wood = {55.0, 9.0, 24.0};

// Old wood with new wood let in from 20,10 to 60,50 of the picture, `scale` photo pixels a pixel, from 7,5 of the photo on;
// `grain`: s.d. of a factor on each pixel.
static hw_picture painted(double scale, double grain)
{
    hw_picture made = {
        WIDE, HIGH, {7, 5, (size_t)(WIDE * scale), (size_t)(HIGH * scale)}, scale, NULL};
    uint64_t state = 3;
    made.xyz = calloc(WIDE * HIGH, 3 * sizeof *made.xyz);
    for (size_t i = 0; i < WIDE * HIGH; i++) {
        size_t x = i % WIDE, y = i / WIDE;
        bool in = x >= 20 && x < 60 && y >= 10 && y < 50;
        hw_xyz colour = hw_xyz_from_lab(in ? new_wood : old_wood, hw_white_d50);
        double factor = 1.0 + grain * picture_normal(&state);
        made.xyz[3 * i] = (float)(colour.X * factor);
        made.xyz[3 * i + 1] = (float)(colour.Y * factor);
        made.xyz[3 * i + 2] = (float)(colour.Z * factor);
    }
    return made;
}

// A rectangle in pixels of the picture, as a mark in those of the photo.
static void rectangle(const hw_picture *of, double x, double y, double width, double height,
                      hw_point points[4], hw_mark *mark)
{
    const double corner[4][2] = {{x, y}, {x + width, y}, {x + width, y + height}, {x, y + height}};
    for (int i = 0; i < 4; i++) {
        points[i] = (hw_point){(double)of->frame.x + of->scale * corner[i][0],
                               (double)of->frame.y + of->scale * corner[i][1]};
    }
    *mark = (hw_mark){.role = HW_ROLE_PATCH, .points = points, .point_count = 4};
}

static hw_lab lab_of(hw_xyz colour)
{
    return hw_lab_from_xyz(colour, hw_white_d50);
}

static hw_xyz at(const hw_picture *of, size_t x, size_t y)
{
    const float *p = of->xyz + 3 * (y * of->width + x);
    return (hw_xyz){(double)p[0], (double)p[1], (double)p[2]};
}

static const double density[3] = {0.05, 0.14, 0.22};

static void test_flat(double scale)
{
    hw_picture made = painted(scale, 0.0);
    hw_point points[4];
    hw_mark mark;
    hw_xyz mean = {-1, -1, -1};
    rectangle(&made, 20, 10, 40, 40, points, &mark);
    check_true(hw_picture_mean(&made, &mark, &mean) == 1600);
    check_true(hw_ciede2000(lab_of(mean), new_wood) < 1e-3);
    hw_picture_lay(&made, &mark, density);
    hw_lab want = hw_tone_under(new_wood, density);
    check_true(hw_picture_mean(&made, &mark, &mean) == 1600);
    check_true(hw_ciede2000(lab_of(mean), want) < 1e-3);
    check_true(hw_ciede2000(lab_of(at(&made, 20, 10)), want) < 1e-3); // to the very corner
    check_true(hw_ciede2000(lab_of(at(&made, 59, 49)), want) < 1e-3);
    check_true(hw_ciede2000(lab_of(at(&made, 19, 10)), old_wood) < 1e-3);
    check_true(hw_ciede2000(lab_of(at(&made, 60, 49)), old_wood) < 1e-3);
    free(made.xyz);
}

// A pixel that the edge cuts is mixed by area.
static void test_edge(void)
{
    hw_picture made = painted(2.0, 0.0);
    hw_point points[4];
    hw_mark mark;
    const double dark[3] = {30.0, 30.0, 30.0}; // nothing is left of the light
    double before = at(&made, 30, 30).Y;
    rectangle(&made, 30.25, 30.5, 2.5, 3.0, points, &mark);
    hw_picture_lay(&made, &mark, dark);
    check_close(at(&made, 30, 30).Y / before, 1.0 - 0.75 * 0.5, 1e-5);
    check_close(at(&made, 31, 30).Y / before, 1.0 - 0.5, 1e-5);
    check_close(at(&made, 31, 31).Y / before, 0.0, 1e-5);
    check_close(at(&made, 32, 31).Y / before, 0.25, 1e-5);
    check_close(at(&made, 33, 31).Y / before, 1.0, 1e-12);
    check_close(at(&made, 29, 31).Y / before, 1.0, 1e-12);
    // A triangle takes half of its box.
    hw_point three[3] = {
        {7 + 2.0 * 40, 5 + 2.0 * 40}, {7 + 2.0 * 44, 5 + 2.0 * 40}, {7 + 2.0 * 40, 5 + 2.0 * 44}};
    mark = (hw_mark){.points = three, .point_count = 3};
    hw_picture_lay(&made, &mark, dark);
    double gone = 0.0;
    for (size_t i = 0; i < 16; i++) {
        gone += 1.0 - at(&made, 40 + i % 4, 40 + i / 4).Y / before;
    }
    check_close(gone, 8.0, 1e-3);
    free(made.xyz);
}

// Bouguer, Lambert and Beer: a transparent layer takes the same share of each pixel's band, so grain keeps its ratios.
static void test_grain(void)
{
    hw_picture made = painted(1.0, 0.15), laid = {0};
    hw_point points[4];
    hw_mark mark;
    rectangle(&made, 20, 10, 40, 40, points, &mark);
    check_true(hw_picture_copy(&made, &laid, NULL) == HW_OK);
    hw_picture_lay(&laid, &mark, density);
    double most = 0.0;
    for (size_t y = 10; y < 50; y++) {
        for (size_t x = 20; x < 60; x++) {
            double before[3], after[3];
            hw_sharpen(at(&made, x, y), before);
            hw_sharpen(at(&laid, x, y), after);
            for (int band = 0; band < 3; band++) {
                most = fmax(most, fabs(after[band] / before[band] - exp(-density[band])));
            }
        }
    }
    check_true(most < 1e-5);
    hw_picture_free(&laid);

    // Factors a band, there and back.
    const double factor[3] = {1.1, 0.9, 0.8}, back[3] = {1 / 1.1, 1 / 0.9, 1 / 0.8};
    check_true(hw_picture_copy(&made, &laid, NULL) == HW_OK);
    hw_picture_scale(&laid, factor);
    double before[3], after[3];
    hw_sharpen(at(&made, 3, 4), before);
    hw_sharpen(at(&laid, 3, 4), after);
    for (int band = 0; band < 3; band++) {
        check_close(after[band] / before[band], factor[band], 1e-5);
    }
    hw_picture_scale(&laid, back);
    check_close(at(&laid, 70, 33).X, at(&made, 70, 33).X, 1e-6);
    hw_picture_free(&laid);
    free(made.xyz);
}

static void test_outside(void)
{
    hw_picture made = painted(1.0, 0.1), kept = {0};
    hw_point points[4];
    hw_mark mark;
    hw_xyz mean = {-1, -1, -1};
    check_true(hw_picture_copy(&made, &kept, NULL) == HW_OK);
    static const double away[][2] = {{200, 10}, {-50, 10}, {10, 200}, {10, -50}, {1e9, -1e9}};
    for (size_t i = 0; i < sizeof away / sizeof *away; i++) {
        rectangle(&made, away[i][0], away[i][1], 20, 20, points, &mark);
        check_true(hw_picture_mean(&made, &mark, &mean) == 0 && mean.Y == -1);
        hw_picture_lay(&made, &mark, density);
        check_true(memcmp(made.xyz, kept.xyz, WIDE * HIGH * 3 * sizeof *made.xyz) == 0);
    }
    rectangle(&made, -100, -100, 500, 500, points, &mark); // all of it
    check_true(hw_picture_mean(&made, &mark, &mean) == WIDE * HIGH);
    rectangle(&made, -10, -10, 12, 500, points, &mark); // partly outside
    check_true(hw_picture_mean(&made, &mark, &mean) == 2 * HIGH);
    hw_picture_lay(&made, &mark, density);
    check_true(made.xyz[3 * 1 + 1] < kept.xyz[3 * 1 + 1] && made.xyz[7] == kept.xyz[7]);
    hw_mark none = {0};
    check_true(hw_picture_mean(&made, &none, &mean) == 0);
    hw_picture_free(&kept);
    free(made.xyz);

    float one[3] = {0.2f, 0.2f, 0.1f};
    hw_picture pixel = {1, 1, {0, 0, 1, 1}, 1.0, one};
    rectangle(&pixel, 0, 0, 1, 1, points, &mark);
    check_true(hw_picture_mean(&pixel, &mark, &mean) == 1);
    hw_picture_lay(&pixel, &mark, density);
    check_true(one[1] < 0.2f);
}

int main(void)
{
    test_flat(1.0);
    test_flat(3.7);
    test_edge();
    test_grain();
    test_outside();
    return check_done();
}
