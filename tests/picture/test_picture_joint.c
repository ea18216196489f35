// A repair's mark grown to its joint, and the joint laid straight. Pictures are painted here, so what must come is known.
#include "check.h"
#include "decoded_picture.h"
#include "huewright/picture.h"
#include "picture_internal.h"

enum { WIDE = 300, HIGH = 240 };

static const hw_lab old_wood = {45.0, 11.0, 22.0}, new_wood = {53.0, 9.0, 24.0};

static void put(float *p, hw_lab lab, double factor)
{
    hw_xyz colour = hw_xyz_from_lab(lab, hw_white_d50);
    p[0] = (float)(colour.X * factor);
    p[1] = (float)(colour.Y * factor);
    p[2] = (float)(colour.Z * factor);
}

// ---- Reach -------------------------------------------------------------------------

// A repair from 100,80 to 200,160 in grained wood: `streaks` along x, from row to row, and noise, as s.d. of a factor; the
// joint a dark line of two pixels where `gap`.
static hw_picture let_in(hw_lab repair, double streaks, double noise, bool gap)
{
    hw_picture made = {WIDE, HIGH, {40, 60, 2 * WIDE, 2 * HIGH}, 2.0, NULL};
    uint64_t state = 21;
    made.xyz = hw_alloc_array(WIDE * HIGH, 3 * sizeof *made.xyz);
    for (size_t y = 0; y < HIGH; y++) {
        double streak = streaks * picture_normal(&state);
        for (size_t x = 0; x < WIDE; x++) {
            bool in = x >= 100 && x < 200 && y >= 80 && y < 160;
            bool near = x >= 98 && x < 202 && y >= 78 && y < 162;
            double factor = 1.0 + streak + noise * picture_normal(&state);
            put(made.xyz + 3 * (y * WIDE + x), in ? repair : old_wood,
                gap && near && !in ? 0.4 : factor);
        }
    }
    return made;
}

// The mark is drawn `short_px` pixels of the picture short of the joint; all its corners must come within `within`.
static void check_reach(const hw_picture *of, double short_px, double most, double want,
                        double within)
{
    const double box[4] = {100 + short_px, 80 + short_px, 200 - short_px, 160 - short_px};
    hw_point points[4];
    for (int i = 0; i < 4; i++) {
        points[i].x = 40 + 2.0 * box[i == 1 || i == 2 ? 2 : 0];
        points[i].y = 60 + 2.0 * box[i >= 2 ? 3 : 1];
    }
    hw_mark mark = {.role = HW_ROLE_PATCH, .points = points, .point_count = 4}, grown = {0};
    if (!check_true(hw_picture_reach(of, &mark, 2.0 * most, &grown, NULL) == HW_OK)) {
        return;
    }
    const double left = 100 + want, top = 80 + want, right = 200 - want, bottom = 160 - want;
    for (int i = 0; i < 4; i++) {
        check_close((grown.points[i].x - 40) / 2.0, i == 1 || i == 2 ? right : left, within);
        check_close((grown.points[i].y - 60) / 2.0, i >= 2 ? bottom : top, within);
    }
    check_true(grown.role == HW_ROLE_PATCH);
    hw_mark_free(&grown);
}

static void test_reach(void)
{
    static const struct {
        double streaks, noise;
        bool gap;
        double within;
    } woods[] = {{0.0, 0.0, false, 0.3},
                 {0.0, 0.3, false, 1.0},
                 {0.05, 0.1, false, 1.5},
                 {0.0, 0.1, true, 2.5}};
    for (size_t i = 0; i < sizeof woods / sizeof *woods; i++) {
        hw_picture made = let_in(new_wood, woods[i].streaks, woods[i].noise, woods[i].gap);
        check_reach(&made, 7.0, 20.0, 0.0, woods[i].within);
        check_reach(&made, 3.0, 12.0, 0.0, woods[i].within);
        if (!woods[i].gap) {
            check_reach(&made, 0.0, 12.0, 0.0, woods[i].within); // it is there already
            check_reach(&made, 25.0, 15.0, 25.0, 0.0);           // too far off: it stays
        }
        hw_picture_free(&made);
    }
    // A repair that cannot be told from the old wood, streaks or not, has no joint to be found.
    for (int i = 0; i < 3; i++) {
        hw_picture made = let_in(old_wood, 0.06 * i, 0.1, false);
        check_reach(&made, 7.0, 20.0, 7.0, 0.0);
        hw_picture_free(&made);
    }
    // Marks that lie partly or wholly outside of the picture, and a picture of one pixel.
    hw_picture made = let_in(new_wood, 0.0, 0.1, false);
    static const double places[][2] = {{-100, -100}, {900, 20}, {0, 0}, {600, 500}};
    for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
        double x = places[i][0], y = places[i][1];
        hw_point points[4] = {{x, y}, {x + 80, y}, {x + 80, y + 60}, {x, y + 60}};
        hw_mark mark = {.points = points, .point_count = 4}, grown = {0};
        check_true(hw_picture_reach(&made, &mark, 30.0, &grown, NULL) == HW_OK);
        check_true(grown.point_count == 4 && isfinite(grown.points[0].x + grown.points[2].y));
        hw_mark_free(&grown);
    }
    made.width = made.height = 1;
    hw_point points[3] = {{40, 60}, {42, 60}, {41, 62}};
    hw_mark mark = {.points = points, .point_count = 3}, grown = {0};
    check_true(hw_picture_reach(&made, &mark, 1e9, &grown, NULL) == HW_OK);
    check_true(grown.points[2].x == 41 && grown.points[2].y == 62);
    hw_mark_free(&grown);
    hw_picture_free(&made);
}

// ---- Strip -------------------------------------------------------------------------

// Along the joint from the left: pale, then dark, third by third; above it the repair, below it the old wood.
static hw_lab colour_at(double along, double up, double length)
{
    hw_lab lab = up > 0.0 ? new_wood : old_wood;
    lab.L += along < length / 3.0 ? 8.0 : along < length / 1.5 ? 0.0 : -8.0;
    return lab;
}

// A photo with a joint from 60,60 on, turned by an angle, the repair on its left hand or not.
static void check_strip(double degrees, bool on_left, size_t longer)
{
    const double length = 180.0, depth = 24.0, turn = degrees * 3.14159265358979 / 180.0;
    const hw_point start = {degrees > 90 ? 260 : 60, degrees < 0 ? 220 : 60};
    const double way[2] = {cos(turn), sin(turn)};
    const double to_patch[2] = {on_left ? way[1] : -way[1], on_left ? -way[0] : way[0]};
    picture made = picture_new(320, 280);
    for (size_t i = 0; i < 320 * 280; i++) {
        double x = (double)(i % 320) + 0.5 - start.x, y = (double)(i / 320) + 0.5 - start.y;
        hw_lab lab = colour_at(x * way[0] + y * way[1], x * to_patch[0] + y * to_patch[1], length);
        hw_linear_srgb_from_xyz(hw_xyz_from_lab(lab, hw_white_d50), made.linear[i]);
    }
    hw_photo *photo = decoded_picture(&made, "joint.png");
    hw_seam seam = {.line = {start, {start.x + length * way[0], start.y + length * way[1]}},
                    .line_count = 2,
                    .patch_on_left = on_left};
    hw_picture strip = {0};
    if (check_true(hw_picture_strip(photo, NULL, &seam, depth, longer, &strip, NULL) == HW_OK)) {
        double scale = longer > 0 && length > (double)longer ? length / (double)longer : 1.0;
        check_close(strip.scale, scale, 1e-6);
        check_close((double)strip.width, length / scale, 1.0);
        check_close((double)strip.height, 2.0 * depth / scale, 1.0);
        check_true(strip.frame.width <= 180 && strip.frame.width >= 179 &&
                   strip.frame.height == 48);
        double most = 0.0;
        for (size_t i = 0; i < strip.width * strip.height; i++) {
            double along = ((double)(i % strip.width) + 0.5) * strip.scale;
            double up = depth - ((double)(i / strip.width) + 0.5) * strip.scale;
            double soft = 1.0 + 1.5 * strip.scale; // pixels that an edge may touch
            bool edge = fabs(up) < soft || fabs(along - 60.0) < soft || fabs(along - 120.0) < soft;
            if (!edge) {
                hw_lab lab = hw_lab_from_xyz(hw_pixel_xyz(strip.xyz + 3 * i), hw_white_d50);
                most = fmax(most, hw_ciede2000(colour_at(along, up, length), lab));
            }
        }
        check_true(most < 0.05);
    }
    hw_picture_free(&strip);
    hw_photo_free(photo);
    picture_free(&made);
}

static void test_strip(void)
{
    static const double turns[] = {0.0, 90.0, 30.0, -35.0, 120.0};
    for (size_t i = 0; i < sizeof turns / sizeof *turns; i++) {
        check_strip(turns[i], i % 2, 0);
        check_strip(turns[i], i % 2 == 0, 60);
    }
    picture made = picture_new(50, 40);
    hw_photo *photo = decoded_picture(&made, "joint.png");
    const hw_seam wrong[] = {{.line_count = 0},
                             {.line = {{1, 1}}, .line_count = 1},
                             {.line = {{1, 1}, {1, 1}}, .line_count = 2},
                             {.line = {{1, 1}, {NAN, 9}}, .line_count = 2},
                             {.line = {{1, 1}, {9, 9}}, .line_count = HW_SEAM_LINE + 1}};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        hw_picture strip = {0};
        hw_error err = {0};
        check_true(hw_picture_strip(photo, NULL, &wrong[i], 10.0, 100, &strip, &err) ==
                   HW_ERR_CALL);
        check_text(err.code, "seam-line");
        check_true(strip.xyz == NULL);
    }
    // One that runs out of the picture, a line with a bend, and a depth beyond all bounds.
    const hw_seam odd[] = {{.line = {{-20, 10}, {90, 30}}, .line_count = 2},
                           {.line = {{5, 5}, {20, 25}, {45, 25}}, .line_count = 3},
                           {.line = {{5, 5}, {20, 25}, {20, 25}, {45, 25}}, .line_count = 4}};
    for (size_t i = 0; i < sizeof odd / sizeof *odd; i++) {
        hw_picture strip = {0};
        check_true(hw_picture_strip(photo, NULL, &odd[i], i == 0 ? 1e12 : 6.0, 30, &strip, NULL) ==
                   HW_OK);
        double sum = 0.0;
        for (size_t k = 0; k < 3 * strip.width * strip.height; k++) {
            sum += (double)strip.xyz[k];
        }
        check_true(isfinite(sum));
        hw_picture_free(&strip);
    }
    hw_photo_free(photo);
    picture_free(&made);
}

// A square of 100 pixels with old wood on each side in turn, its corners in either order: the side that faces it, from its
// left or upper end, and on which hand the repair is (plain geometry).
static void test_facing(void)
{
    static const struct {
        hw_point at, from, to;
        bool on_left;
    } want[] = {
        {{150, 40}, {100, 100}, {200, 100}, false}, // above: the repair lies on the right hand
        {{150, 260}, {100, 200}, {200, 200}, true},
        {{40, 150}, {100, 100}, {100, 200}, true},
        {{260, 150}, {200, 100}, {200, 200}, false}};
    hw_point clockwise[4] = {{100, 100}, {200, 100}, {200, 200}, {100, 200}};
    hw_point other[4] = {{100, 100}, {100, 200}, {200, 200}, {200, 100}};
    for (int k = 0; k < 8; k++) {
        hw_point at = want[k / 2].at;
        hw_point corners[4] = {
            {at.x - 9, at.y - 9}, {at.x + 9, at.y - 9}, {at.x + 9, at.y + 9}, {at.x - 9, at.y + 9}};
        hw_mark both[2] = {
            {.role = HW_ROLE_PATCH,
             .points = k % 2 ? other : clockwise,
             .point_count = 4,
             .name = "strip"},
            {.role = HW_ROLE_TARGET, .points = corners, .point_count = 4, .name = "rail"}};
        hw_marks marks = {.mark = both, .count = 2};
        hw_seam seam;
        if (check_true(hw_seam_facing(&both[0], &marks, 60.0, &seam))) {
            check_true(seam.line[0].x == want[k / 2].from.x &&
                       seam.line[0].y == want[k / 2].from.y);
            check_true(seam.line[1].x == want[k / 2].to.x && seam.line[1].y == want[k / 2].to.y);
            check_true(seam.patch_on_left == want[k / 2].on_left && seam.line_count == 2);
            check_close(seam.length_px, 100.0, 1e-9);
            check_text(seam.target, "rail");
        }
        check_true(!hw_seam_facing(&both[0], &marks, 50.0, &seam)); // 51 pixels off
    }
    // Another repair between them: that one meets it. Past a corner nothing is straight outward.
    hw_point near[4] = {{130, 80}, {170, 80}, {170, 90}, {130, 90}};
    hw_point rail[4] = {{100, 40}, {200, 40}, {200, 60}, {100, 60}};
    hw_point far[3] = {{220, 220}, {230, 220}, {230, 230}};
    hw_mark four[3] = {
        {.role = HW_ROLE_PATCH, .points = clockwise, .point_count = 4, .name = "strip"},
        {.role = HW_ROLE_TARGET, .points = rail, .point_count = 4, .name = "rail"},
        {.role = HW_ROLE_PATCH, .points = near, .point_count = 4, .name = "plug"}};
    hw_marks marks = {.mark = four, .count = 3};
    hw_seam seam;
    check_true(!hw_seam_facing(&four[0], &marks, 100.0, &seam));
    marks.count = 2;
    check_true(hw_seam_facing(&four[0], &marks, 100.0, &seam));
    four[1].points = far;
    four[1].point_count = 3;
    check_true(!hw_seam_facing(&four[0], &marks, 1e9, &seam));
}

int main(void)
{
    test_reach();
    test_strip();
    test_facing();
    return check_done();
}
