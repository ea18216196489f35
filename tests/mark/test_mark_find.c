// Finding the card in pictures drawn here, whose corners are known. How often it is found among clutter is measured by
// tests/accuracy/find_card.c; here each kind of picture gets its answer.
#include "base_internal.h"
#include "check.h"
#include "mark_internal.h"
#include "picture.h"
#include "write_jpeg.h"

#define WIDTH  720
#define HEIGHT 540

static const double grey = 0.18; // reflectance of a grey card, as sold

// Boards of brown wood with streaks, and a little noise.
static picture wood(size_t width, size_t height)
{
    picture made = picture_new(width, height);
    uint64_t noise = 5;
    for (size_t y = 0; y < height; y++) {
        for (size_t x = 0; x < width; x++) {
            double u = (double)x, v = (double)y;
            double figure = sin(0.35 * v + 2.0 * sin(0.011 * u)) + sin(0.93 * v + 0.02 * u);
            double light = (1.0 + 0.12 * figure) * (1.0 + 0.02 * picture_normal(&noise));
            light *= fmod(v, 170.0) < 2.0 ? 0.4 : 1.0; // joints
            double *rgb = picture_at(&made, x, y);
            rgb[0] = 0.30 * light; // linear sRGB of an oak brown
            rgb[1] = 0.19 * light;
            rgb[2] = 0.09 * light;
        }
    }
    return made;
}

static double turn_of(hw_point a, hw_point b, double x, double y)
{
    return (b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x);
}

// Draws an even quadrilateral, corners clockwise as seen, its rim by the share of a pixel that it covers.
static void draw(picture *made, const hw_point corner[4], double red, double green, double blue)
{
    double left = (double)made->width, right = 0.0, top = (double)made->height, bottom = 0.0;
    for (int i = 0; i < 4; i++) {
        left = fmin(left, corner[i].x);
        right = fmax(right, corner[i].x);
        top = fmin(top, corner[i].y);
        bottom = fmax(bottom, corner[i].y);
    }
    for (size_t y = (size_t)fmax(top, 0.0); y < made->height && (double)y < bottom; y++) {
        for (size_t x = (size_t)fmax(left, 0.0); x < made->width && (double)x < right; x++) {
            int in = 0;
            for (int k = 0; k < 16; k++) {
                double px = (double)x + (k % 4 + 0.5) / 4.0, py = (double)y + (k / 4 + 0.5) / 4.0;
                bool inside = true;
                for (int i = 0; i < 4 && inside; i++) {
                    inside = turn_of(corner[i], corner[(i + 1) % 4], px, py) >= 0.0;
                }
                in += inside;
            }
            double share = in / 16.0, *rgb = picture_at(made, x, y);
            rgb[0] += share * (red - rgb[0]);
            rgb[1] += share * (green - rgb[1]);
            rgb[2] += share * (blue - rgb[2]);
        }
    }
}

static void draw_grey(picture *made, const hw_point corner[4], double reflectance)
{
    draw(made, corner, reflectance, reflectance, reflectance);
}

// A rectangle turned by an angle; the share of its width by which its lower side is wider (perspective).
static void place(hw_point corner[4], double x, double y, double width, double height, double turn,
                  double wider)
{
    static const int sign[4][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
    for (int i = 0; i < 4; i++) {
        double u = 0.5 * width * sign[i][0] * (1.0 + wider * sign[i][1]);
        double v = 0.5 * height * sign[i][1];
        corner[i].x = x + u * cos(turn) - v * sin(turn);
        corner[i].y = y + u * sin(turn) + v * cos(turn);
    }
}

static hw_photo *photo_of(picture *made)
{
    size_t count = 0;
    uint8_t *png = picture_png(made, &count);
    hw_photo *photo = NULL;
    check_true(hw_photo_decode(png, count, "photo.png", NULL, &photo, NULL) == HW_OK);
    free(png);
    picture_free(made);
    return photo;
}

static hw_card_find find_in(hw_photo *photo)
{
    hw_card_find find = {0};
    hw_error err = {0};
    check_true(hw_marks_find_card(photo, &find, &err) == HW_OK);
    check_true(find.sure ? find.why[0] == 0
                         : find.what == HW_FIND_NOTHING || find.why[0] != 0); // an ask has its why
    check_true(find.confidence >= 0.0 && find.confidence <= 1.0);
    hw_photo_free(photo);
    return find;
}

static hw_card_find find_drawn(picture *made)
{
    return find_in(photo_of(made));
}

// The greatest distance of a corner from the mark's nearest one, pixels.
static double away(const hw_mark *mark, const hw_point corner[4])
{
    double worst = 0.0;
    for (int i = 0; i < 4; i++) {
        double least = INFINITY;
        for (size_t k = 0; k < mark->point_count; k++) {
            double d = hypot(mark->points[k].x - corner[i].x, mark->points[k].y - corner[i].y);
            least = fmin(least, d);
        }
        worst = fmax(worst, least);
    }
    return worst;
}

static void test_card(void)
{
    static const double shapes[5][4] = {// width, height, turn, perspective
                                        {150, 110, 0.0, 0.0},
                                        {150, 110, 0.6, 0.1},
                                        {110, 140, -0.3, -0.15},
                                        {60, 45, 0.785, 0.0}, // 0.7 % of the picture
                                        {300, 220, 0.2, 0.05}};
    for (int i = 0; i < 5; i++) {
        hw_point corner[4];
        picture made = wood(WIDTH, HEIGHT);
        place(corner, 350, 260, shapes[i][0], shapes[i][1], shapes[i][2], shapes[i][3]);
        draw_grey(&made, corner, grey);
        hw_card_find find = find_drawn(&made);
        check_true(find.what == HW_FIND_CARD && find.likely && find.marks.count == 1);
        check_true(find.marks.width_px == WIDTH && find.marks.height_px == HEIGHT);
        if (find.marks.count == 1) {
            check_true(find.marks.mark[0].role == HW_ROLE_CARD);
            check_close(away(&find.marks.mark[0], corner), 0.0, 1.0); // pixels
        }
        hw_card_find_free(&find);
    }
}

// Nothing to find: wood alone, one colour, pictures too small or too thin for a card.
static void test_nothing(void)
{
    static const size_t sizes[5][2] = {{1, 1}, {1, 400}, {9000, 3}, {25, 25}, {640, 480}};
    picture boards = wood(WIDTH, HEIGHT);
    hw_card_find find = find_drawn(&boards);
    check_true(!find.sure && !find.likely);
    hw_card_find_free(&find);
    for (int i = 0; i < 5; i++) {
        picture made = picture_new(sizes[i][0], sizes[i][1]);
        picture_fill(&made, 0, 0, sizes[i][0], sizes[i][1], (hw_lab){49.5, 0, 0});
        find = find_drawn(&made);
        check_true(find.what == HW_FIND_NOTHING && find.marks.count == 0 && !find.sure);
        hw_card_find_free(&find);
    }
}

// Things that must not be taken for the card without a question.
static void test_questions(void)
{
    hw_point corner[4];
    picture cut = wood(WIDTH, HEIGHT);
    place(corner, 30, 260, 160, 120, 0.1, 0.0); // over the left edge
    draw_grey(&cut, corner, grey);
    hw_card_find find = find_drawn(&cut);
    check_true(!find.sure && !find.likely);
    if (find.what == HW_FIND_CARD) {
        check_holds(find.why, "edge");
    }
    hw_card_find_free(&find);

    picture large = wood(WIDTH, HEIGHT);
    place(corner, 360, 270, 560, 400, 0.05, 0.0); // 58 % of the picture
    draw_grey(&large, corner, grey);
    find = find_drawn(&large);
    check_true(!find.sure && !find.likely);
    hw_card_find_free(&find);

    picture paper = wood(WIDTH, HEIGHT);
    place(corner, 360, 270, 210, 150, 0.3, 0.0);
    draw_grey(&paper, corner, 0.85);
    find = find_drawn(&paper);
    check_true(!find.sure && !find.likely);
    hw_card_find_free(&find);

    picture wall = wood(WIDTH, HEIGHT); // a grey wall above the piece
    place(corner, 360, 60, 900, 200, 0.0, 0.0);
    draw_grey(&wall, corner, grey);
    find = find_drawn(&wall);
    check_true(!find.sure && !find.likely);
    hw_card_find_free(&find);

    picture book = wood(WIDTH, HEIGHT); // blue
    place(corner, 360, 270, 160, 120, 0.3, 0.0);
    draw(&book, corner, 0.05, 0.12, 0.30);
    find = find_drawn(&book);
    check_true(!find.sure && !find.likely);
    hw_card_find_free(&find);
}

static void test_two(void)
{
    hw_point one[4], other[4];
    picture made = wood(WIDTH, HEIGHT);
    place(one, 180, 200, 140, 100, 0.2, 0.0);
    place(other, 500, 330, 140, 100, -0.3, 0.0);
    draw_grey(&made, one, grey);
    draw_grey(&made, other, grey);
    hw_card_find find = find_drawn(&made);
    check_true(find.what == HW_FIND_CARD && !find.sure && !find.likely &&
               find.other == HW_FIND_CARD);
    check_holds(find.why, "second");
    if (find.marks.count == 1 && find.other_marks.count == 1) {
        bool first = away(&find.marks.mark[0], one) < 1.0;
        check_close(away(&find.marks.mark[0], first ? one : other), 0.0, 1.0);
        check_close(away(&find.other_marks.mark[0], first ? other : one), 0.0, 1.0);
    }
    hw_card_find_free(&find);
}

static void test_steps(void)
{
    static const double light[3] = {0.876, 0.18,
                                    0.0356}; // Y of L* 95, 49.5, 22 (CIE 15:2018, 8.2.1)
    static const char *const names[3] = {"white", "grey", "black"};
    for (int way = 0; way < 2; way++) { // white to the left, then to the right
        hw_point step[3][4];
        picture made = wood(WIDTH, HEIGHT);
        for (int i = 0; i < 3; i++) {
            double along = (way ? 1 - i : i - 1) * 80.0;
            place(step[i], 360 + along * cos(0.4), 260 + along * sin(0.4), 80, 110, 0.4, 0.0);
            draw_grey(&made, step[i], light[i]);
        }
        hw_card_find find = find_drawn(&made);
        check_true(find.what == HW_FIND_STEPS && find.sure && find.marks.count == 3);
        for (int i = 0; i < 3 && find.marks.count == 3; i++) {
            const hw_mark *mark = hw_marks_find(&find.marks, HW_ROLE_NEUTRAL, names[i]);
            check_true(mark && away(mark, step[i]) < 1.5);
        }
        hw_card_find_free(&find);
    }
}

// The 24 patches, sRGB as published (testdata of none: the chart's numbers stand in every reference to it;
// McCamy, Marcus and Davidson 1976), with a dark grid.
static void draw_chart(picture *made, double x0, double y0, double cell, double turn)
{
    static const uint8_t srgb[24][3] = {
        {115, 82, 68},   {194, 150, 130}, {98, 122, 157}, {87, 108, 67},   {133, 128, 177},
        {103, 189, 170}, {214, 126, 44},  {80, 91, 166},  {193, 90, 99},   {94, 60, 108},
        {157, 188, 64},  {224, 163, 46},  {56, 61, 150},  {70, 148, 73},   {175, 54, 60},
        {231, 199, 31},  {187, 86, 149},  {8, 133, 161},  {243, 243, 242}, {200, 200, 200},
        {160, 160, 160}, {122, 122, 121}, {85, 85, 85},   {52, 52, 52}};
    hw_point corner[4];
    place(corner, x0, y0, 6.3 * cell, 4.3 * cell, turn, 0.0);
    draw_grey(made, corner, 0.02);
    for (int i = 0; i < 24; i++) {
        double u = (i % 6 - 2.5) * cell, v = ((double)(i / 6) - 1.5) * cell, rgb[3];
        for (int k = 0; k < 3; k++) {
            rgb[k] = hw_srgb_linear(srgb[i][k] / 255.0);
        }
        place(corner, x0 + u * cos(turn) - v * sin(turn), y0 + u * sin(turn) + v * cos(turn),
              0.88 * cell, 0.88 * cell, turn, 0.0);
        draw(made, corner, rgb[0], rgb[1], rgb[2]);
    }
}

static void test_chart(void)
{
    static const double turns[4] = {0.1, 1.7, 3.0, -1.4}; // any way round
    for (int i = 0; i < 4; i++) {
        double cell = 34.0;
        picture made = wood(WIDTH, HEIGHT);
        draw_chart(&made, 360, 270, cell, turns[i]);
        hw_card_find find = find_drawn(&made);
        check_true(find.what == HW_FIND_CHART && find.sure && find.marks.count == 24);
        for (int n = 0; n < 24 && find.marks.count == 24; n++) {
            double u = (n % 6 - 2.5) * cell, v = ((double)(n / 6) - 1.5) * cell;
            hw_point at = hw_mark_centre(&find.marks.mark[n]);
            double x = 360 + u * cos(turns[i]) - v * sin(turns[i]);
            double y = 270 + u * sin(turns[i]) + v * cos(turns[i]);
            check_true(find.marks.mark[n].role == HW_ROLE_CHART);
            check_close(hypot(at.x - x, at.y - y), 0.0, 1.0); // pixels: patch n is where it is
        }
        hw_card_find_free(&find);
    }
}

// ---- Turned by the camera ------------------------------------------------------------------

// A JPEG with an EXIF block of one tag, orientation (CIPA DC-008, 4.6.4 A; TIFF 6.0 for its form).
static uint8_t *with_orientation(const uint8_t *jpeg, size_t count, int orientation, size_t *size)
{
    static const uint8_t start[] = {0xff, 0xe1, 0, 34, 'E', 'x', 'i', 'f',  0, 0, 'M', 'M', 0, 42,
                                    0,    0,    0, 8,  0,   1,   1,   0x12, 0, 3, 0,   0,   0, 1};
    uint8_t *made = calloc(count + 36, 1);
    memcpy(made, jpeg, 2);
    memcpy(made + 2, start, sizeof start);
    made[2 + sizeof start + 1] = (uint8_t)orientation;
    memcpy(made + 38, jpeg + 2, count - 2);
    *size = count + 36;
    return made;
}

// Where a pixel of the stored picture stands in the upright one (CIPA DC-008: what row 0 and column 0 are).
static hw_point upright(int orientation, hw_point p, double width, double height)
{
    switch (orientation) {
    case 2:
        return (hw_point){width - p.x, p.y};
    case 3:
        return (hw_point){width - p.x, height - p.y};
    case 4:
        return (hw_point){p.x, height - p.y};
    case 5:
        return (hw_point){p.y, p.x};
    case 6:
        return (hw_point){height - p.y, p.x};
    case 7:
        return (hw_point){height - p.y, width - p.x};
    case 8:
        return (hw_point){p.y, width - p.x};
    default:
        return p;
    }
}

static void test_orientation(void)
{
    hw_point corner[4], want[4];
    picture made = wood(WIDTH, HEIGHT);
    place(corner, 220, 180, 150, 100, 0.3, 0.0);
    draw_grey(&made, corner, grey);
    uint8_t *rgb = malloc(WIDTH * HEIGHT * 3);
    for (size_t i = 0; i < WIDTH * HEIGHT * 3; i++) {
        double value = fmin(fmax(made.linear[i / 3][i % 3], 0.0), 1.0);
        rgb[i] = (uint8_t)(255.0 * hw_srgb_encoded(value) + 0.5);
    }
    size_t count = 0, size = 0;
    uint8_t *jpeg = write_jpeg_memory(WIDTH, HEIGHT, rgb, 92, &count);
    for (int orientation = 1; orientation <= 8; orientation++) {
        uint8_t *turned = with_orientation(jpeg, count, orientation, &size);
        hw_photo *photo = NULL;
        check_true(hw_photo_decode(turned, size, "turned.jpg", NULL, &photo, NULL) == HW_OK);
        check_true(photo && hw_photo_facts_of(photo)->orientation == orientation);
        for (int i = 0; i < 4; i++) {
            want[i] = upright(orientation, corner[i], WIDTH, HEIGHT);
        }
        hw_card_find find = find_in(photo);
        check_true(find.what == HW_FIND_CARD && find.likely);
        check_true(find.marks.count == 1 && away(&find.marks.mark[0], want) < 1.5);
        hw_card_find_free(&find);
        free(turned);
    }
    free(jpeg);
    free(rgb);
    picture_free(&made);
}

// ---- Shapes -----------------------------------------------------------------------------

static void test_overlap(void)
{
    const hw_point square[4] = {{0, 0}, {10, 0}, {10, 10}, {0, 10}};
    const hw_point moved[4] = {{5, 0}, {15, 0}, {15, 10}, {5, 10}};
    const hw_point inner[4] = {{2, 2}, {8, 2}, {8, 8}, {2, 8}};
    const hw_point away_from[4] = {{20, 20}, {30, 20}, {30, 30}, {20, 30}};
    const hw_point diamond[4] = {{5, 0}, {10, 5}, {5, 10}, {0, 5}};
    check_close(hw_overlap(square, square), 1.0, 1e-12); // by hand, areas
    check_close(hw_overlap(square, moved), 50.0 / 150.0, 1e-12);
    check_close(hw_overlap(square, inner), 0.36, 1e-12);
    check_close(hw_overlap(square, away_from), 0.0, 1e-12);
    check_close(hw_overlap(square, diamond), 0.5, 1e-12);
}

int main(void)
{
    test_card();
    test_nothing();
    test_questions();
    test_two();
    test_steps();
    test_chart();
    test_orientation();
    test_overlap();
    for (int found = 0; found < 4; found++) {
        check_true(hw_find_kind_name((hw_find_kind)found)[0] != 0);
    }
    hw_card_find_free(NULL);
    return check_done();
}
