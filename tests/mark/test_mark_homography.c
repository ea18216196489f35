// Homographies: the normalised direct linear transform against numpy's singular value decomposition, the map of the unit
// square against its closed form, degenerate pairs, and planes found among wrong pairs.
#include "base_internal.h"
#include "check.h"
#include "mark_internal.h"
#include "picture.h"

// Six pairs with noise, rounded. The homography: numpy 1.24.2, numpy.linalg.svd of the 12 x 9 matrix of HZ algorithm
// 4.2 (places normalised to middle 0 and mean distance sqrt(2), last right singular vector, scaled back).
static const hw_match noisy[6] = {
    {{0.125, 0.397}, {0.2712, 0.3104}, 0, 1}, {{0.276, -0.275}, {0.2757, -0.2925}, 0, 1},
    {{-0.2, 0.374}, {-0.1072, 0.3635}, 0, 1}, {{-0.495, 0.321}, {-0.5009, 0.3795}, 0, 1},
    {{0.297, -0.032}, {0.343, -0.098}, 0, 1}, {{-0.197, -0.222}, {-0.2186, -0.2029}, 0, 1},
};
static const double by_numpy[9] = {1.102577281664,  0.200956514537,  0.047255033276,
                                   -0.148690648704, 0.893412816953,  -0.030880141962,
                                   0.201076328946,  -0.107540424086, 1.0};

static void fit_as_numpy_does(void)
{
    hw_homography h;
    check_true(hw_homography_fit(noisy, NULL, 6, &h));
    for (int i = 0; i < 9; i++) {
        check_close(h.m[i] / h.m[8], by_numpy[i], 1e-9);
    }
    const double alike[6] = {3, 3, 3, 3, 3, 3};
    check_true(hw_homography_fit(noisy, alike, 6, &h));
    check_close(h.m[1] / h.m[8], by_numpy[1], 1e-9);
}

// The unit square to four corners in closed form: Heckbert 1989, Fundamentals of Texture Mapping and Image Warping,
// 2.2.3 (g and h from the sums of differences).
static void fit_the_unit_square(void)
{
    const hw_point q[4] = {{0.1, 0.2}, {0.9, 0.15}, {0.8, 0.7}, {0.05, 0.95}};
    const hw_match match[4] = {
        {{0, 0}, q[0], 0, 1}, {{1, 0}, q[1], 0, 1}, {{1, 1}, q[2], 0, 1}, {{0, 1}, q[3], 0, 1}};
    double dx1 = q[1].x - q[2].x, dx2 = q[3].x - q[2].x, sx = q[0].x - q[1].x + q[2].x - q[3].x;
    double dy1 = q[1].y - q[2].y, dy2 = q[3].y - q[2].y, sy = q[0].y - q[1].y + q[2].y - q[3].y;
    double det = dx1 * dy2 - dx2 * dy1;
    double g = (sx * dy2 - dx2 * sy) / det, h = (dx1 * sy - sx * dy1) / det;
    const double want[9] = {q[1].x - q[0].x + g * q[1].x,
                            q[3].x - q[0].x + h * q[3].x,
                            q[0].x,
                            q[1].y - q[0].y + g * q[1].y,
                            q[3].y - q[0].y + h * q[3].y,
                            q[0].y,
                            g,
                            h,
                            1};
    hw_homography got, back;
    check_true(hw_homography_fit(match, NULL, 4, &got));
    for (int i = 0; i < 9; i++) {
        check_close(got.m[i] / got.m[8], want[i], 1e-9);
    }
    check_true(hw_homography_invert(&got, &back));
    hw_point to = hw_homography_apply(&got, (hw_point){0.3, 0.6});
    hw_point again = hw_homography_apply(&back, to);
    check_close(again.x, 0.3, 1e-12);
    check_close(again.y, 0.6, 1e-12);
    // The area's ratio against that of a small triangle.
    hw_point right = hw_homography_apply(&got, (hw_point){0.3 + 1e-5, 0.6});
    hw_point below = hw_homography_apply(&got, (hw_point){0.3, 0.6 + 1e-5});
    double area = (right.x - to.x) * (below.y - to.y) - (right.y - to.y) * (below.x - to.x);
    check_close(hw_homography_area_ratio(&got, (hw_point){0.3, 0.6}), area / 1e-10, 1e-4);
}

static void nothing_from_degenerate_pairs(void)
{
    hw_homography h;
    hw_match match[6];
    memcpy(match, noisy, sizeof match);
    check_true(!hw_homography_fit(match, NULL, 3, &h)); // too few
    for (int i = 0; i < 4; i++) {
        match[i] = noisy[0]; // all at one place
    }
    check_true(!hw_homography_fit(match, NULL, 4, &h));
    for (int i = 0; i < 4; i++) { // three on a line in the earlier photo, four in the new one
        match[i] = (hw_match){{0.1 * i, i == 3 ? 0.3 : 0.05 * i}, {0.2 * i, 0.1 * i}, 0, 1};
    }
    check_true(!hw_homography_fit(match, NULL, 4, &h));
    const double none[6] = {1, 1, 1, 0, 0, 0};
    check_true(!hw_homography_fit(noisy, none, 6, &h)); // three that count
    const hw_homography flat = {{1, 2, 3, 2, 4, 6, 0, 0, 1}};
    check_true(!hw_homography_invert(&flat, &h));
    const hw_homography horizon = {{1, 0, 0, 0, 1, 0, 4, 0, 1}};
    check_true(hw_homography_depth(&horizon, (hw_point){-0.3, 0}) < 0.0); // behind it
    const hw_homography mirror = {{-1, 0, 0, 0, 1, 0, 0, 0, 1}};
    check_true(hw_homography_area_ratio(&mirror, (hw_point){0.1, 0.1}) < 0.0);
}

// A pair on a plane: turned by 0.3, grown by 1.2, with a little perspective; a pixel of 1000 of scatter.
static hw_match pair_on(const hw_homography *h, uint64_t *state)
{
    hw_match m = {.from = {picture_random(state) - 0.5, 0.7 * picture_random(state) - 0.35}};
    m.to = hw_homography_apply(h, m.from);
    m.to.x += 0.0005 * picture_normal(state);
    m.to.y += 0.0005 * picture_normal(state);
    m.turn = 0.3 + 0.05 * picture_normal(state);
    m.growth = 1.2 * exp(0.1 * picture_normal(state));
    return m;
}

static hw_match wrong_pair(uint64_t *state)
{
    return (hw_match){{picture_random(state) - 0.5, 0.7 * picture_random(state) - 0.35},
                      {picture_random(state) - 0.5, 0.7 * picture_random(state) - 0.35},
                      6.28 * picture_random(state),
                      exp2(4.0 * picture_random(state) - 2.0)};
}

static double distance_between(const hw_homography *one, const hw_homography *other)
{
    double far = 0.0;
    for (int i = 0; i < 4; i++) {
        hw_point p = {i & 1 ? 0.4 : -0.4, i & 2 ? 0.3 : -0.3};
        hw_point a = hw_homography_apply(one, p), b = hw_homography_apply(other, p);
        far = fmax(far, hypot(a.x - b.x, a.y - b.y));
    }
    return far;
}

// Two planes of 120 and 60 pairs among 300 wrong ones; then only wrong ones are left.
static void planes_among_wrong_pairs(void)
{
    const hw_homography front = {{1.15, -0.35, 0.02, 0.35, 1.15, -0.03, 0.1, 0.05, 1}};
    const hw_homography lid = {{1.1, -0.45, 0.06, 0.3, 0.9, 0.01, 0.2, 0.3, 1}};
    hw_match match[480];
    int8_t plane[480];
    uint64_t state = 5;
    for (int i = 0; i < 480; i++) {
        match[i] = i % 8 < 2   ? pair_on(&front, &state)
                   : i % 8 < 3 ? pair_on(&lid, &state)
                               : wrong_pair(&state);
    }
    memset(plane, -1, sizeof plane);
    hw_plane found;
    check_true(hw_plane_find(match, 480, plane, 0, &found, NULL) == HW_OK);
    check_true(found.inliers >= 118 && found.inliers <= 130);
    check_true(distance_between(&found.h, &front) < 0.001);
    check_true(hw_plane_find(match, 480, plane, 1, &found, NULL) == HW_OK);
    check_true(found.inliers >= 55 && found.inliers <= 68);
    check_true(distance_between(&found.h, &lid) < 0.002);
    check_true(hw_plane_find(match, 480, plane, 2, &found, NULL) == HW_OK);
    check_true(found.inliers == 0);
    check_true(hw_plane_find(match, 0, plane, 2, &found, NULL) == HW_OK && found.inliers == 0);
}

int main(void)
{
    fit_as_numpy_does();
    fit_the_unit_square();
    nothing_from_degenerate_pairs();
    planes_among_wrong_pairs();
    return check_done();
}
