// The index of metamerism: pairs computed apart from our code (testdata/colour/metamerism.tsv), what must hold of
// any pair (CIE 15:2018, 9.2), and what carrying both to D50 first does to it.
#include "check.h"
#include "huewright/colour.h"

static hw_xyz xyz_at(const check_row *row, int column)
{
    return (hw_xyz){row->num[column], row->num[column + 1], row->num[column + 2]};
}

static double lowest_ratio = 1, highest_ratio = 1;
static int ratios;

// Carried to D50 by Bradford as a reading is. The factors are no longer those of X, Y, Z under the lamps.
static void carried(const hw_pair *reference, hw_xyz from, const hw_pair *test, hw_xyz white,
                    double index)
{
    const hw_pair a = {hw_adapt_bradford(reference->target, from, hw_white_d50),
                       hw_adapt_bradford(reference->patch, from, hw_white_d50)};
    const hw_pair b = {hw_adapt_bradford(test->target, white, hw_white_d50),
                       hw_adapt_bradford(test->patch, white, hw_white_d50)};
    double moved = hw_metamerism_index(&a, &b, hw_white_d50).index.de00;
    if (index > 0.5 && index < 1.5) { // as of pairs that nearly match
        lowest_ratio = fmin(lowest_ratio, moved / index);
        highest_ratio = fmax(highest_ratio, moved / index);
        ratios++;
    }
}

static hw_xyz white_of(const char *light)
{
    hw_spectrum perfect, lamp = strcmp(light, "A") == 0     ? hw_planckian(2855.5)
                                : strcmp(light, "D50") == 0 ? hw_daylight(5003)
                                                            : hw_daylight(6504);
    for (int i = 0; i < HW_SPECTRUM_COUNT; i++) {
        perfect.at[i] = 1.0;
    }
    return hw_xyz_of_reflectance(&perfect, &lamp);
}

static void each_pair(const check_row *row)
{
    const hw_pair reference = {xyz_at(row, 1), xyz_at(row, 4)};
    const hw_pair test = {xyz_at(row, 7), xyz_at(row, 10)};
    char target[16], patch[16], from[16], to[16];
    check_true(sscanf(row->text[0], "%15s %15s %15s %15s", target, patch, from, to) == 4);
    hw_metamerism got = hw_metamerism_index(&reference, &test, xyz_at(row, 13));
    check_near(row, got.index.de00, row->num[16], 2e-4); // of the table's seven places
    check_near(row, got.index.de76, row->num[17], 2e-4);
    check_near(row, got.index.L, row->num[18], 2e-4);
    check_near(row, got.index.a, row->num[19], 2e-4);
    check_near(row, got.index.b, row->num[20], 2e-4);
    carried(&reference, white_of(from), &test, xyz_at(row, 13), got.index.de00);
}

// ---- What must hold of any pair ----------------------------------------------------

static const hw_pair day = {{0.121, 0.118, 0.066}, {0.127, 0.119, 0.061}};
static const hw_pair warm = {{0.152, 0.131, 0.024}, {0.155, 0.130, 0.023}};
static const hw_xyz white_a = {1.0985, 1.0, 0.3558}; // CIE 15:2018

static hw_xyz times(hw_xyz colour, double by)
{
    return (hw_xyz){by * colour.X, by * colour.Y, by * colour.Z};
}

static hw_pair pair_times(const hw_pair *pair, double by)
{
    return (hw_pair){times(pair->target, by), times(pair->patch, by)};
}

static void test_properties(void)
{
    // Equal spectra are equal under both.
    const hw_pair same_day = {day.target, day.target}, same_warm = {warm.target, warm.target};
    check_close(hw_metamerism_index(&same_day, &same_warm, white_a).index.de00, 0, 1e-12);
    // One spectrum a part as bright as the other everywhere: nothing is left once they are made equal.
    const hw_pair dim_day = {day.target, times(day.target, 0.9)};
    const hw_pair dim_warm = {warm.target, times(warm.target, 0.9)};
    check_close(hw_metamerism_index(&dim_day, &dim_warm, white_a).index.de00, 0, 1e-9);
    // A match under the reference light: the plain difference under the test light.
    const hw_pair exact = {day.target, day.target};
    hw_metamerism got = hw_metamerism_index(&exact, &warm, white_a);
    hw_difference plain = hw_difference_of(hw_lab_from_xyz(warm.target, white_a),
                                           hw_lab_from_xyz(warm.patch, white_a));
    check_close(got.index.de00, plain.de00, 1e-12);
    check_close(got.index.a, plain.a, 1e-12);
    check_true(plain.de00 > 0.5);
    // The same light twice says nothing.
    const hw_xyz white_d65 = {0.9504, 1.0, 1.0889};
    check_close(hw_metamerism_index(&day, &day, white_d65).index.de00, 0, 1e-12);
    // Y of 1 or of 100 for the perfect diffuser, under either light.
    hw_metamerism here = hw_metamerism_index(&day, &warm, white_a);
    const hw_pair day_100 = pair_times(&day, 100), warm_100 = pair_times(&warm, 100);
    check_close(hw_metamerism_index(&day_100, &warm, white_a).index.de00, here.index.de00, 1e-12);
    got = hw_metamerism_index(&day, &warm_100, times(white_a, 100));
    check_close(got.index.de00, here.index.de00, 1e-10);
    check_close(got.index.b, here.index.b, 1e-10);
}

static void test_black(void)
{
    const hw_pair black = {{0.1, 0.1, 0.1}, {0.1, 0.1, 0.0}};
    check_true(isnan(hw_metamerism_index(&black, &warm, white_a).index.de00));
}

int main(void)
{
    check_table("colour/metamerism.tsv", 21, each_pair);
    // The same size, not the same number: what is said of it at the head of colour_metamerism.c.
    printf("carried to D50, the index is %.2f to %.2f times as large (%d pairs)\n", lowest_ratio,
           highest_ratio, ratios);
    check_true(ratios >= 5 && lowest_ratio > 0.5 && highest_ratio < 1.5);
    test_properties();
    test_black();
    return check_done();
}
