// Repairs seen from a distance, through the steps: how large a pixel is by the card, what is said where the card does not
// tell it, and stripes that the eye mixes from afar and not from near by: a sharp eye tells a minute of arc apart (visual
// acuity 1.0, ISO 8596); stripes of 2 mm are 23 minutes at 30 cm and half a minute at 15 m.
#include "one_job.h"
#include "steps_internal.h"

static hw_read_request request_from(double distance_mm)
{
    // The card is 80 x 80 pixels: a millimetre a pixel.
    return (hw_read_request){.photo_path = path_photo,
                             .marks = shop_marks(),
                             .distance_mm = distance_mm,
                             .card_mm = {80.0, 80.0}};
}

static hw_reading read_as(hw_read_request *request)
{
    hw_reading reading = {0};
    hw_error err = {0};
    if (!check_true(hw_steps_read(request, NULL, &reading, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    hw_marks_free(&request->marks);
    return reading;
}

// Old wood with a slow grain, the repair in upright stripes, each `wide` pixels, lighter and darker by `depth` (natural
// logarithm) than `mean`.
static void write_stripes(hw_lab mean, double depth, size_t wide)
{
    picture made = shop_picture();
    picture_fill(&made, 270, 20, 100, 200, mean);
    for (size_t y = 20; y < 220; y++) {
        for (size_t x = 140; x < 370; x++) {
            double factor = x < 240        ? exp(0.3 * sin((double)x / 12.0))
                            : x < 270      ? 1.0
                            : x / wide % 2 ? exp(depth)
                                           : 2.0 - exp(depth); // the mean stays
            for (int k = 0; k < 3; k++) {
                picture_at(&made, x, y)[k] *= factor;
            }
        }
    }
    save_picture(&made, path_photo);
}

static hw_sight sight_from(double distance_mm)
{
    hw_read_request request = request_from(distance_mm);
    hw_reading reading = read_as(&request);
    hw_sight sight = {.why_not = "none"};
    if (check_true(reading.sight_count == 1)) {
        sight = reading.sights[0];
    }
    hw_reading_free(&reading);
    return sight;
}

// ---- How far -----------------------------------------------------------------------

// A degree at the distance d is 2 d tan(1/2 degree) long.
static void test_degrees(void)
{
    const double a_degree = 2.0 * tan(0.5 / 57.29577951308232);
    write_shop_photo((hw_lab){58, 9.5, 26});
    hw_sight near = sight_from(1500.0), far = sight_from(10000.0);
    check_true(near.known && far.known);
    check_text(near.patch, "new");
    check_close(near.distance_mm, 1500.0, 0.0);
    check_close(near.px_per_degree, 1500.0 * a_degree, 0.01);
    check_true(10000.0 * a_degree > 170.0); // finer than the eye: looked at in a smaller picture
    check_true(far.px_per_degree <= 60.5 && far.px_per_degree > 55.0);
    // An even repair 8 L* lighter beside even old wood shows from everywhere, by what it reads.
    check_true(near.verdict == HW_SIGHT_SHOWS && far.verdict == HW_SIGHT_SHOWS);
    check_true(near.patch_low <= near.patch_off && near.patch_off <= near.patch_high);
    check_true(near.beyond > 0.9 && far.beyond > 0.9);
}

static void test_mixed(void)
{
    write_stripes(shop_old, 0.35, 2);
    hw_sight near = sight_from(300.0), far = sight_from(15000.0);
    printf("stripes: near %s %.2f of wood %.2f (%.2f beyond), far %s %.2f of wood %.2f (%.2f)\n",
           hw_sight_name(near.verdict), near.patch_off, near.wood_off, near.beyond,
           hw_sight_name(far.verdict), far.patch_off, far.wood_off, far.beyond);
    check_true(near.verdict == HW_SIGHT_SHOWS && far.verdict == HW_SIGHT_BLENDS);
    check_true(near.patch_off > 3.0 * far.patch_off);
    check_true(near.beyond > 0.5 && far.beyond < 0.2);
}

// The verdict and all the rest are as without a distance.
static void test_beside(void)
{
    write_stripes(shop_old, 0.35, 2);
    hw_read_request with = request_from(15000.0), without = request_from(0.0);
    hw_reading one = read_as(&with), other = read_as(&without);
    check_true(one.sight_count == 1 && other.sight_count == 0 && !other.sights);
    const hw_comparison *a = hw_comparison_beside(&one.comparisons, "new"),
                        *b = hw_comparison_beside(&other.comparisons, "new");
    check_true(a && b && a->verdict == b->verdict && a->gap.de00 == b->gap.de00 &&
               strcmp(a->why, b->why) == 0 && one.warnings.count == other.warnings.count);
    hw_reading_free(&one);
    hw_reading_free(&other);
}

// ---- Not known ---------------------------------------------------------------------

static void check_not_known(hw_read_request request, const char *why)
{
    hw_reading reading = read_as(&request);
    if (check_true(reading.sight_count == 1)) {
        const hw_sight *sight = &reading.sights[0];
        check_true(!sight->known && sight->verdict == HW_SIGHT_UNTOLD);
        check_holds(sight->why_not, why);
        check_text(sight->patch, "new");
        check_close(sight->distance_mm, 1500.0, 0.0);
        check_true(strlen(sight->why_not) + 1 < sizeof sight->why_not); // not cut
    }
    hw_reading_free(&reading);
}

static void test_not_known(void)
{
    write_shop_photo(shop_new);
    hw_read_request request = request_from(1500.0);
    request.card_mm[0] = request.card_mm[1] = 0.0;
    check_not_known(request, "say the grey card's sides");
    request = request_from(1500.0);
    request.card_mm[1] = 54.0; // the mark is square
    check_not_known(request, "does not have the sides that were said");
    request = request_from(1500.0);
    request.marks.mark[0].role = HW_ROLE_NEUTRAL; // the same grey, but no card
    snprintf(request.marks.mark[0].name, sizeof request.marks.mark[0].name, "grey");
    check_not_known(request, "no grey card is marked");
}

static void test_refused(void)
{
    const double distances[] = {99.0, 20001.0, -1.0, (double)NAN, (double)INFINITY};
    for (size_t i = 0; i < sizeof distances / sizeof *distances; i++) {
        hw_read_request request = request_from(distances[i]);
        hw_reading reading = {0};
        hw_error err = {0};
        check_true(hw_steps_read(&request, NULL, &reading, &err) == HW_ERR_CALL);
        check_text(err.code, "sight-distance");
        hw_marks_free(&request.marks);
    }
}

// No repair at all, and one at the picture's edge.
static void test_edges(void)
{
    write_shop_photo(shop_new);
    hw_read_request request = request_from(1500.0);
    request.marks.count = 2; // card and old wood
    hw_mark spare = request.marks.mark[2];
    hw_reading reading = read_as(&request);
    check_true(reading.sight_count == 0);
    hw_mark_free(&spare);
    hw_reading_free(&reading);
    hw_sight near = sight_from(HW_SIGHT_LEAST_MM), far = sight_from(HW_SIGHT_MOST_MM);
    // An even repair 8 L* lighter beside even old wood.
    check_true(near.known && near.distance_mm == HW_SIGHT_LEAST_MM);
    check_true(far.known && far.distance_mm == HW_SIGHT_MOST_MM);
    check_true(near.verdict == HW_SIGHT_SHOWS && far.verdict == HW_SIGHT_SHOWS);
}

// ---- Several photos ----------------------------------------------------------------

// Of repeat shots the first that is used.
static void test_shots(void)
{
    char more[2][600];
    hw_read_request request = request_from(1500.0);
    const char *more_paths[2] = {more[0], more[1]};
    write_shot(path_photo, 53.0, 1.0); // off: left out
    for (int i = 0; i < 2; i++) {
        snprintf(more[i], sizeof more[i], "%s/more-%d.png", folder, i + 1);
        write_shot(more[i], 58.0 + 0.1 * i, 1.0);
    }
    request.more_paths = more_paths;
    request.more_count = 2;
    hw_reading reading = read_as(&request);
    check_true(reading.shots.count == 3 && !reading.shots.shot[0].used);
    hw_read_request alone = request_from(1500.0);
    alone.photo_path = more[0];
    hw_reading second = read_as(&alone);
    if (check_true(reading.sight_count == 1 && second.sight_count == 1)) {
        check_close(reading.sights[0].patch_off, second.sights[0].patch_off, 1e-9);
        check_true(second.sights[0].patch_off > 7.0); // 53 would be some 4
    }
    hw_reading_free(&second);
    hw_reading_free(&reading);
}

int main(void)
{
    name_places("steps_sight");
    make_clean();
    test_degrees();
    test_mixed();
    test_beside();
    test_not_known();
    test_refused();
    test_edges();
    test_shots();
    return check_done();
}
