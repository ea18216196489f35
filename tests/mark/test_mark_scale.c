// Millimetres a pixel from a card of known sides, against geometry: a rectangle of a x b mm drawn at s pixels a
// millimetre, turned by any angle. The card is of size ID-1, 85.60 x 53.98 mm (ISO/IEC 7810).
#include "check.h"
#include "huewright/mark.h"

static const double card_mm[2] = {85.60, 53.98}, turned_mm[2] = {53.98, 85.60};

// Corners of that card at `scale` pixels a millimetre, its longer side drawn `longer` and its shorter `shorter` times as
// long as it is, turned by `degrees`, beginning at corner `first`.
static hw_mark card_at(hw_point corner[4], double scale, double longer, double shorter,
                       double degrees, size_t first)
{
    const double turn = degrees / 57.29577951308232;
    const double half[4][2] = {{-0.5, -0.5}, {0.5, -0.5}, {0.5, 0.5}, {-0.5, 0.5}};
    for (size_t i = 0; i < 4; i++) {
        double x = half[i][0] * card_mm[0] * longer * scale;
        double y = half[i][1] * card_mm[1] * shorter * scale;
        corner[(i + first) % 4] = (hw_point){700.0 + x * cos(turn) - y * sin(turn),
                                             500.0 + x * sin(turn) + y * cos(turn)};
    }
    return (hw_mark){.role = HW_ROLE_CARD, .points = corner, .point_count = 4};
}

static void test_square_on(void)
{
    hw_point corner[4];
    for (size_t i = 0; i < 12; i++) {
        double scale = 0.5 + (double)i, one = -1.0;
        hw_mark card = card_at(corner, scale, 1.0, 1.0, 31.0 * (double)i, i);
        check_true(hw_mark_mm_a_px(&card, i % 2 ? card_mm : turned_mm, &one));
        check_close(one, 1.0 / scale, 1e-12);
        check_close(hw_mark_sides(&card), 85.60 / 53.98, 1e-12);
    }
}

// A side seen at an angle is as long as its cosine says: 24 degrees are let through, 27 are not (0.91, 0.89).
static void test_tilted(void)
{
    hw_point corner[4];
    double one = -1.0, seen = cos(24.0 / 57.29577951308232), less = cos(27.0 / 57.29577951308232);
    hw_mark card = card_at(corner, 3.0, seen, 1.0, 10.0, 0);
    check_true(hw_mark_mm_a_px(&card, card_mm, &one));
    check_close(one, 1.0 / 3.0 / sqrt(seen), 1e-12); // the mean of both ways
    one = -1.0;
    card = card_at(corner, 3.0, less, 1.0, 10.0, 0);
    check_true(!hw_mark_mm_a_px(&card, card_mm, &one));
    card = card_at(corner, 3.0, 1.0, less, 10.0, 0);
    check_true(!hw_mark_mm_a_px(&card, card_mm, &one));
    check_close(one, -1.0, 0.0); // as it was
}

static void test_no_whole_card(void)
{
    hw_point corner[5];
    double one = -1.0;
    hw_mark card = card_at(corner, 3.0, 1.0, 1.0, 0.0, 0);
    corner[4] = (hw_point){corner[3].x, corner[3].y - 1.0};
    card.point_count = 5;
    check_true(!hw_mark_mm_a_px(&card, card_mm, &one) && isnan(hw_mark_sides(&card)));
    card.point_count = 3;
    check_true(!hw_mark_mm_a_px(&card, card_mm, &one) && isnan(hw_mark_sides(&card)));
    card.point_count = 4;
    const double no_card[][2] = {
        {0.0, 54.0}, {86.0, 0.0},         {-86.0, -54.0},           {(double)NAN, 54.0},
        {0.0, 0.0},  {86.0, (double)NAN}, {(double)INFINITY, 54.0}, {86.0, 74.0}};
    for (size_t i = 0; i < sizeof no_card / sizeof *no_card; i++) {
        check_true(!hw_mark_mm_a_px(&card, no_card[i], &one));
    }
    corner[1] = corner[0]; // nothing between its corners
    corner[2] = corner[3] = corner[0];
    check_true(!hw_mark_mm_a_px(&card, card_mm, &one));
    check_close(one, -1.0, 0.0);
}

int main(void)
{
    test_square_on();
    test_tilted();
    test_no_whole_card();
    return check_done();
}
