// The difference map: CIEDE2000 in floats against the published pairs, against hw_ciede2000 (itself tested against these
// and LittleCMS), and the map of a picture.
#include "check.h"
#include "picture.h"
#include "picture_internal.h"

static double fast(hw_lab from, hw_lab to)
{
    float L = (float)to.L, a = (float)to.a, b = (float)to.b, out = -1.0f;
    hw_de00_row(&L, &a, &b, 1, from, &out);
    return (double)out;
}

// Sharma, Wu and Dalal 2005, table 1, both ways round.
static void each_pair(const check_row *row)
{
    hw_lab one = {row->num[0], row->num[1], row->num[2]};
    hw_lab two = {row->num[3], row->num[4], row->num[5]};
    check_near(row, fast(one, two), row->num[6], 0.001);
    check_near(row, fast(two, one), row->num[6], 0.001);
}

static double between(uint64_t *state, double low, double high)
{
    return low + (high - low) * picture_random(state);
}

// The largest difference from the slow one over many pairs; `far`: how far the second may be from the first.
static double worst(hw_lab low, hw_lab high, double far, uint64_t seed)
{
    double most = 0.0;
    uint64_t state = seed;
    for (int i = 0; i < 300000; i++) {
        hw_lab one = {between(&state, low.L, high.L), between(&state, low.a, high.a),
                      between(&state, low.b, high.b)};
        hw_lab two = {between(&state, low.L, high.L), between(&state, low.a, high.a),
                      between(&state, low.b, high.b)};
        if (far > 0.0) {
            two =
                (hw_lab){one.L + far * between(&state, -1, 1), one.a + far * between(&state, -1, 1),
                         one.b + far * between(&state, -1, 1)};
        }
        one = (hw_lab){(double)(float)one.L, (double)(float)one.a, (double)(float)one.b};
        two = (hw_lab){(double)(float)two.L, (double)(float)two.a, (double)(float)two.b};
        most = fmax(most, fabs(fast(one, two) - hw_ciede2000(one, two)));
    }
    return most;
}

static void test_agreement(void)
{
    const hw_lab dark = {10, 0, 0}, pale = {90, 30, 50}, least = {0, -128, -128},
                 most = {100, 128, 128};
    double wood = worst(dark, pale, 0.0, 1), near = worst(dark, pale, 3.0, 2);
    double all = worst(least, most, 0.0, 3), all_near = worst(least, most, 3.0, 4);
    printf("farthest from hw_ciede2000: wood %.5f, near it %.5f; any colour %.5f, near it %.5f\n",
           wood, near, all, all_near);
    check_true(wood < 0.001 && near < 0.001);
    check_true(all < 0.001 && all_near < 0.001);
    check_close(fast((hw_lab){50, 12, 25}, (hw_lab){50, 12, 25}), 0.0, 1e-4);
    check_close(fast((hw_lab){50, 0, 0}, (hw_lab){51, 0, 0}),
                hw_ciede2000((hw_lab){50, 0, 0}, (hw_lab){51, 0, 0}), 1e-4);
    check_close(fast((hw_lab){50, 0, 0}, (hw_lab){50, 12, 25}),
                hw_ciede2000((hw_lab){50, 0, 0}, (hw_lab){50, 12, 25}), 1e-3);
}

// L*, a*, b* of any X, Y, Z that a photo can give, those below 0 too.
static void test_lab(void)
{
    uint64_t state = 9;
    double most = 0.0;
    for (int i = 0; i < 300000; i++) {
        double size = i % 3 == 0 ? 0.02 : i % 3 == 1 ? 1.2 : 16.0;
        float xyz[3], L, a, b;
        for (int k = 0; k < 3; k++) {
            xyz[k] = (float)between(&state, -0.05 * size, size);
        }
        hw_lab_row(xyz, 1, &L, &a, &b);
        hw_lab want = hw_lab_from_xyz(hw_pixel_xyz(xyz), hw_white_d50);
        double scale = 1.0 + hypot(want.a, want.b) / 100.0; // floats know no more
        most = fmax(most, fabs((double)L - want.L) / scale);
        most = fmax(most, fabs((double)a - want.a) / scale);
        most = fmax(most, fabs((double)b - want.b) / scale);
    }
    printf("farthest from hw_lab_from_xyz: %.6f\n", most);
    check_true(most < 0.001);
}

static bool stop(void *context, const char *what, double share)
{
    (void)context;
    (void)what;
    return share < 0.0;
}

static void test_map(void)
{
    enum { WIDE = 37, HIGH = 41 };
    static float xyz[3 * WIDE * HIGH];
    hw_picture made = {WIDE, HIGH, {3, 4, 2 * WIDE, 2 * HIGH}, 2.0, xyz};
    const hw_lab old_wood = {42, 11, 21};
    const hw_progress stopping = {stop, NULL};
    hw_map map = {0};
    hw_error err = {0};
    uint64_t state = 5;
    for (size_t i = 0; i < WIDE * HIGH; i++) {
        hw_lab lab = {between(&state, 20, 80), between(&state, 0, 25), between(&state, 0, 45)};
        hw_xyz colour = hw_xyz_from_lab(lab, hw_white_d50);
        xyz[3 * i] = (float)colour.X;
        xyz[3 * i + 1] = (float)colour.Y;
        xyz[3 * i + 2] = (float)colour.Z;
    }
    check_true(hw_picture_map(&made, old_wood, NULL, &map, NULL) == HW_OK);
    check_true(map.width == WIDE && map.height == HIGH && map.scale == 2.0 && map.frame.x == 3);
    double most = 0.0, lighter = 0.0;
    for (size_t i = 0; i < WIDE * HIGH; i++) {
        hw_lab lab = hw_lab_from_xyz(hw_pixel_xyz(xyz + 3 * i), hw_white_d50);
        most = fmax(most, fabs((double)map.de00[i] - hw_ciede2000(old_wood, lab)));
        lighter = fmax(lighter, fabs((double)map.lighter[i] - (lab.L - old_wood.L)));
    }
    check_true(most < 0.001 && lighter < 0.001);
    hw_map_free(&map);
    check_true(map.de00 == NULL);
    check_true(hw_picture_map(&made, old_wood, &stopping, &map, &err) == HW_ERR_CALL);
    check_text(err.code, "stopped");
    check_true(map.de00 == NULL);
    made = (hw_picture){1, 1, {0, 0, 1, 1}, 1.0, xyz};
    check_true(hw_picture_map(&made, old_wood, NULL, &map, NULL) == HW_OK);
    check_true(map.de00[0] >= 0.0f);
    hw_map_free(&map);
}

// A pixel that is no colour is far off, not at the old wood; its neighbours are as they were.
static void test_no_colour(void)
{
    static const float wild[] = {NAN, INFINITY, -INFINITY};
    const hw_lab old_wood = {42, 11, 21}, blue = {42, 11, -40}; // blue: with the turn
    const hw_lab beside[2] = {old_wood, blue};
    for (int i = 0; i < 18; i++) {
        hw_xyz colour = hw_xyz_from_lab(beside[i % 2], hw_white_d50);
        const float good[3] = {(float)colour.X, (float)colour.Y, (float)colour.Z};
        float xyz[9];
        hw_map map = {0};
        hw_picture made = {3, 1, {0, 0, 3, 1}, 1.0, xyz};
        for (int k = 0; k < 9; k++) {
            xyz[k] = good[k % 3];
        }
        xyz[3 + i / 2 % 3] = wild[i / 6];
        check_true(hw_picture_map(&made, old_wood, NULL, &map, NULL) == HW_OK);
        check_true(isinf(map.de00[1]) && map.de00[1] > 0.0f);
        double want = hw_ciede2000(old_wood, beside[i % 2]);
        check_close((double)map.de00[0], want, 0.001);
        check_close((double)map.de00[2], want, 0.001);
        hw_map_free(&map);
    }
}

int main(void)
{
    check_table("colour/ciede2000.tsv", 7, each_pair);
    test_agreement();
    test_lab();
    test_map();
    test_no_colour();
    return check_done();
}
