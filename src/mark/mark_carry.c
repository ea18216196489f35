// mark_carry.c: which plane of the piece carries which mark to the next photo, and whether to believe it.
//
//   1  Features are paired, but for those on what changes or moves by itself.
//   2  Does everything lie as it lay (a tripod)? Then the marks are the earlier ones.
//   3  Else planes are found one after the other among the pairs.
//   4  Each mark goes with the plane that makes the old wood in and around it most alike.
//   5  Each plane is laid on by the figure of the old wood of its marks, then each mark by its own, if that is better.
//   6  Tests, each of which gives 0.5 at its bound; the weakest is the confidence, and gives its reason.
//   7  Card, steps and chart are carried where they lie on the piece as they did.
//
// The bounds are chosen on made-up pairs (build/carry_marks --first 1) so that none was sure and over 3 % off.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

enum { PLANES_MOST = 5 };

static const double still_most = 0.0015; // widths: corners that moved less lie as they lay
static const double held_most =
    0.004; // widths: a smooth figure may lie that far off and fit as well as it lay
static const double held_least = 0.01; // of likeness, less than laid on
static const double still_handicap =
    0.1; // of likeness: features know more than the hope that nothing moved
static const double lonely_handicap = 0.3; // of likeness
static const size_t near_least = 5;        // features
static const double own_gain = 0.03;      // of likeness, for which a mark leaves its plane a little
static const double own_move_most = 0.02; // widths
static const double around = 0.07; // widths around the marks: features there speak for their plane
static const double surrounding = 3;    // features on each side of a mark
static const double chance_inliers = 7; // pairs that agree by chance
static const double near_a_mark = 0.15; // widths: features that hold a mark's own place

// ---- Tests -------------------------------------------------------------------------

typedef struct test {
    double none, bound, full; // give 0, 0.5 and 1
} test;

static const test likeness_test = {0.25, 0.50, 0.90};     // of all old wood of a plane
static const test own_likeness_test = {0.05, 0.20, 0.80}; // of that of one mark
static const test still_test = {0.30, 0.65,
                                0.95}; // of all old wood, as it lay: pictures that did gave 0.81
// The same of each target where no features speak: another piece with the same mouldings, from the same place, gave 0.78.
static const test alone_test = {0.30, 0.80, 0.97};
static const test elsewhere_test = {1.0, 1.25, 2.5}; // how much better than a place farther on
static const test rival_test = {1.0, 3.0,
                                8.0};        // pairs of features: on the plane, for each on a rival
static const test inlier_test = {8, 16, 40}; // pairs of features on the plane
static const test near_test = {0, 3, 10};    // the same around one mark
static const test error_test = {0.03, 0.006, 0.001}; // s.d. of a corner, widths

static double grade(const test *t, double value)
{
    double share = (value - t->none) / (t->bound - t->none) * 0.5;
    if (share > 0.5) {
        share = 0.5 + 0.5 * (value - t->bound) / (t->full - t->bound);
    }
    return fmin(fmax(share, 0.0), 1.0);
}

// How much better it fits at home than elsewhere: ratio of what is left unexplained.
static double distinction(const hw_elsewhere *e)
{
    double left = 1.0 - fmax(e->likeness, 0.0) * fmax(e->likeness, 0.0);
    return e->at_home > 0.0 ? left / fmax(1.0 - e->at_home * e->at_home, 0.01) : 0.0;
}

// A confidence and what lowers it most.
typedef struct verdict {
    double confidence;
    const char *why;
} verdict;

static const char too_little[] = "too little of the old wood could be recognised";
static const char unlike[] = "the old wood does not look as it did in the last photo";
static const char repeats[] = "the pattern repeats: it may have slipped by one stripe";
static const char loose[] = "what was recognised says too little of where the corners are";
static const char impossible[] = "the piece would have to be seen from an impossible side";

static void weaken(verdict *v, double confidence, const char *why)
{
    if (confidence < v->confidence) {
        *v = (verdict){confidence, why};
    }
}

// ---- The work ----------------------------------------------------------------------

typedef struct group { // marks that one plane carries
    hw_plane plane;
    bool still; // began as it lay, not from features
    hw_doubt doubt;
    verdict verdict;
    double likeness;
    hw_match *inlier;
    size_t inlier_count;
} group;

typedef struct carrying {
    const hw_marks *marks;
    const hw_look *earlier, *now;
    hw_pyramid from, to;
    hw_area area;
    hw_match *match;
    size_t match_count;
    int8_t *plane_of; // of each match, -1: none
    group group[PLANES_MOST];
    size_t group_count;
    int *belongs;       // group of each mark
    bool *chosen;       // a mark each: for areas
    hw_homography *own; // a mark each
    hw_carried_marks out;
} carrying;

static hw_status out_of_memory(hw_error *err)
{
    return hw_fail_memory(err, "carrying the marks to the new photo");
}

static bool start(carrying *c)
{
    size_t count = c->marks->count;
    c->belongs = hw_alloc_array(count, sizeof *c->belongs);
    c->chosen = hw_alloc_array(count, sizeof *c->chosen);
    c->own = hw_alloc_array(count, sizeof *c->own);
    c->out.each = hw_alloc_array(count, sizeof *c->out.each);
    if (!c->belongs || !c->chosen || !c->own || !c->out.each) {
        return false;
    }
    c->out.each_count = count;
    c->out.marks.width_px = c->now->photo_width;
    c->out.marks.height_px = c->now->photo_height;
    for (size_t i = 0; i < count; i++) {
        c->out.each[i].fate = HW_FATE_LOST;
    }
    return hw_pyramid_make(c->earlier, &c->from) && hw_pyramid_make(c->now, &c->to) &&
           hw_area_make(c->earlier, &c->area);
}

static void finish(carrying *c)
{
    for (size_t g = 0; g < c->group_count; g++) {
        hw_free(c->group[g].inlier);
    }
    hw_pyramid_free(&c->from);
    hw_pyramid_free(&c->to);
    hw_area_free(&c->area);
    hw_free(c->match);
    hw_free(c->plane_of);
    hw_free(c->belongs);
    hw_free(c->chosen);
    hw_free(c->own);
}

// How alike the old wood of the chosen marks is.
static hw_status likeness_of(carrying *c, const bool *chosen, const hw_homography *h,
                             double *likeness, hw_error *err)
{
    if (!hw_area_of_wood(&c->area, c->earlier, c->marks, chosen)) {
        return out_of_memory(err);
    }
    return hw_likeness(&c->from, &c->to, &c->area, h, HW_HELD_BACK, likeness, err);
}

static void choose_one(carrying *c, size_t mark)
{
    for (size_t i = 0; i < c->marks->count; i++) {
        c->chosen[i] = i == mark;
    }
}

static void choose_wood(carrying *c)
{
    for (size_t i = 0; i < c->marks->count; i++) {
        c->chosen[i] = hw_role_is_wood(c->marks->mark[i].role);
    }
}

// ---- 1: pairs of features ----------------------------------------------------------

static hw_status match_features(carrying *c, hw_error *err)
{
    bool *skip = hw_alloc_array(c->earlier->feature_count, sizeof *skip);
    if (!skip || !hw_area_of_change(&c->area, c->earlier, c->marks)) {
        hw_free(skip);
        return out_of_memory(err);
    }
    for (size_t i = 0; i < c->earlier->feature_count; i++) {
        const hw_feature *f = &c->earlier->feature[i];
        skip[i] = hw_area_holds(&c->area, c->earlier, (hw_point){(double)f->x, (double)f->y});
    }
    hw_status status = hw_features_match(c->earlier, skip, c->now, &c->match, &c->match_count, err);
    hw_free(skip);
    if (status == HW_OK) {
        c->plane_of = hw_alloc_array(c->match_count, sizeof *c->plane_of);
        status = c->plane_of ? HW_OK : out_of_memory(err);
    }
    return status;
}

// The pairs that agree with h.
static bool take_inliers(carrying *c, group *g)
{
    hw_free(g->inlier);
    g->inlier_count = 0;
    g->inlier = hw_alloc_array(c->match_count, sizeof *g->inlier);
    for (size_t i = 0; g->inlier && i < c->match_count; i++) {
        const hw_match *m = &c->match[i];
        hw_point to = hw_homography_apply(&g->plane.h, m->from);
        if (hw_homography_depth(&g->plane.h, m->from) > 0.0 &&
            hypot(to.x - m->to.x, to.y - m->to.y) < HW_INLIER_MOST) {
            g->inlier[g->inlier_count++] = *m;
        }
    }
    return g->inlier != NULL;
}

// Around the marks of the group, widths.
typedef struct box {
    hw_point least, most;
} box;

static box box_of_group(const carrying *c)
{
    box b = {{1.0, 1.0}, {-1.0, -1.0}};
    for (size_t i = 0; i < c->marks->count; i++) {
        for (size_t k = 0; c->chosen[i] && k < c->marks->mark[i].point_count; k++) {
            hw_point p = hw_look_from_photo(c->earlier, c->marks->mark[i].points[k]);
            b.least = (hw_point){fmin(b.least.x, p.x - around), fmin(b.least.y, p.y - around)};
            b.most = (hw_point){fmax(b.most.x, p.x + around), fmax(b.most.y, p.y + around)};
        }
    }
    return b;
}

static bool in_box(const box *b, hw_point p)
{
    return p.x >= b->least.x && p.y >= b->least.y && p.x <= b->most.x && p.y <= b->most.y;
}

// Pairs that speak for this plane, around its marks.
static double count_for(const group *g, const box *b)
{
    double count = 0.0;
    for (size_t i = 0; i < g->inlier_count; i++) {
        count += in_box(b, g->inlier[i].from);
    }
    return count;
}

// ---- 2: as it lay ------------------------------------------------------------------

// The farthest that a corner of wood moves by h, widths.
static double farthest_move(const carrying *c, const hw_homography *h, const hw_homography *before)
{
    double far = 0.0;
    for (size_t i = 0; i < c->marks->count; i++) {
        const hw_mark *mark = &c->marks->mark[i];
        for (size_t k = 0; k < mark->point_count && hw_role_is_wood(mark->role); k++) {
            hw_point p = hw_look_from_photo(c->earlier, mark->points[k]);
            hw_point was = hw_homography_apply(before, p), to = hw_homography_apply(h, p);
            far = fmax(far, hypot(to.x - was.x, to.y - was.y));
        }
    }
    return far;
}

// Of the targets, the one whose old wood is least alike.
static hw_status least_likeness(carrying *c, const hw_homography *h, double *least, hw_error *err)
{
    *least = 1.0;
    for (size_t i = 0; i < c->marks->count; i++) {
        double likeness;
        if (c->marks->mark[i].role != HW_ROLE_TARGET) {
            continue;
        }
        choose_one(c, i);
        hw_status status = likeness_of(c, c->chosen, h, &likeness, err);
        if (status != HW_OK) {
            return status;
        }
        *least = fmin(*least, likeness);
    }
    return HW_OK;
}

// Did it lie as it lay? The old wood is alike, and either features say so, or each target does and nothing like it is near:
// another piece with the same mouldings would lie alike in part.
static hw_status judge_still(carrying *c, group *g, hw_error *err)
{
    hw_elsewhere elsewhere;
    double least;
    hw_status status =
        hw_likeness_elsewhere(&c->from, &c->to, &c->area, &g->plane.h, &elsewhere, err);
    if (status == HW_OK) {
        status = least_likeness(c, &g->plane.h, &least, err);
    }
    if (status != HW_OK) {
        return status;
    }
    if (!take_inliers(c, g)) {
        return out_of_memory(err);
    }
    choose_wood(c);
    box b = box_of_group(c);
    double figure =
        fmin(grade(&elsewhere_test, distinction(&elsewhere)), grade(&alone_test, least));
    g->verdict = (verdict){grade(&still_test, g->likeness), unlike};
    weaken(&g->verdict, fmax(figure, grade(&inlier_test, count_for(g, &b))), repeats);
    return HW_OK;
}

// Did nothing move? Laid on, its corners stay where they were; or they move a little, beyond what the figure can tell.
static hw_status fits_as_it_lay(carrying *c, const group *g, bool *held, hw_error *err)
{
    double moved = farthest_move(c, &g->plane.h, &hw_homography_identity), likeness;
    *held = moved <= still_most;
    if (*held || moved > held_most) {
        return HW_OK;
    }
    if (!hw_area_of_wood(&c->area, c->earlier, c->marks, NULL)) {
        return out_of_memory(err);
    }
    hw_status status = hw_likeness(&c->from, &c->to, &c->area, &hw_homography_identity,
                                   HW_HELD_BACK, &likeness, err);
    *held = status == HW_OK && likeness >= g->likeness - held_least;
    return status;
}

// Laid on from where it lay. Where the old wood is alike then, this is a group to be considered.
static hw_status try_still(carrying *c, hw_error *err)
{
    group *g = &c->group[0];
    if (!hw_area_of_wood(&c->area, c->earlier, c->marks, NULL)) {
        return out_of_memory(err);
    }
    hw_alignment a = {.from = &c->from, .to = &c->to, .area = &c->area};
    *g = (group){.plane = {.h = hw_homography_identity}, .still = true};
    hw_status status = hw_align(&a, &g->plane.h, &g->doubt, err);
    if (status == HW_OK) {
        status =
            hw_likeness(&c->from, &c->to, &c->area, &g->plane.h, HW_HELD_BACK, &g->likeness, err);
    }
    if (status != HW_OK || g->likeness < still_test.bound) {
        return status;
    }
    c->group_count = 1;
    status = judge_still(c, g, err);
    bool held = false;
    if (status == HW_OK) {
        status = fits_as_it_lay(c, g, &held, err);
    }
    c->out.as_it_lay = status == HW_OK && g->verdict.confidence >= HW_CARRY_SURE && held;
    if (c->out.as_it_lay) {
        g->plane.h = hw_homography_identity;
    }
    return status;
}

// ---- 3: planes ---------------------------------------------------------------------

static hw_status find_planes(carrying *c, hw_error *err)
{
    memset(c->plane_of, -1, c->match_count * sizeof *c->plane_of);
    while (c->group_count < PLANES_MOST) {
        group *g = &c->group[c->group_count];
        *g = (group){0};
        hw_status status = hw_plane_find(c->match, c->match_count, c->plane_of,
                                         (int8_t)c->group_count, &g->plane, err);
        if (status != HW_OK || g->plane.inliers == 0) {
            return status;
        }
        c->group_count++;
    }
    return HW_OK;
}

// ---- 4: which mark goes with which -------------------------------------------------

static bool is_possible(const hw_homography *h, const hw_look *earlier, const hw_mark *mark)
{
    for (size_t k = 0; k < mark->point_count; k++) {
        hw_point p = hw_look_from_photo(earlier, mark->points[k]);
        double ratio = hw_homography_area_ratio(h, p);
        if (!(hw_homography_depth(h, p) > 0.0) || !(ratio >= 0.12 && ratio <= 8.0)) {
            return false; // behind the horizon, mirrored, or a third or thrice as large
        }
    }
    return true;
}

// What a plane must be better by where little speaks for it: no features around the mark, or only the hope that
// nothing moved.
static double handicap(const carrying *c, size_t index, const box *around_mark)
{
    size_t near = 0;
    for (size_t i = 0; i < c->match_count; i++) {
        near += c->plane_of[i] == (int8_t)index && in_box(around_mark, c->match[i].from);
    }
    return c->group[index].still ? still_handicap : near < near_least ? lonely_handicap : 0.0;
}

static hw_status assign_one(carrying *c, size_t mark, hw_error *err)
{
    double best = -2.0;
    c->belongs[mark] = -1;
    choose_one(c, mark);
    box b = box_of_group(c);
    for (size_t g = 0; g < c->group_count; g++) {
        double likeness;
        const hw_homography *h = &c->group[g].plane.h;
        hw_status status = likeness_of(c, c->chosen, h, &likeness, err);
        if (status != HW_OK) {
            return status;
        }
        likeness -= handicap(c, g, &b);
        if (likeness > best && is_possible(h, c->earlier, &c->marks->mark[mark])) {
            best = likeness;
            c->belongs[mark] = (int)g;
        }
    }
    return HW_OK;
}

static hw_status assign(carrying *c, hw_error *err)
{
    hw_status status = HW_OK;
    for (size_t i = 0; i < c->marks->count && status == HW_OK; i++) {
        c->belongs[i] = -1;
        if (hw_role_is_wood(c->marks->mark[i].role)) {
            status = assign_one(c, i, err);
        }
    }
    return status;
}

static size_t choose_group(carrying *c, size_t g)
{
    size_t count = 0;
    for (size_t i = 0; i < c->marks->count; i++) {
        c->chosen[i] = c->belongs[i] == (int)g;
        count += c->chosen[i];
    }
    return count;
}

// ---- 5: laid on --------------------------------------------------------------------

// Pairs on the old wood itself that speak for another plane; at least as many as chance brings together.
static double count_rivals(const carrying *c, size_t index)
{
    size_t on[PLANES_MOST] = {0};
    double most = chance_inliers;
    for (size_t i = 0; i < c->match_count; i++) {
        int8_t plane = c->plane_of[i];
        if (plane >= 0 && plane != (int8_t)index &&
            hw_area_holds(&c->area, c->earlier, c->match[i].from)) {
            on[plane]++;
            most = fmax(most, (double)on[plane]);
        }
    }
    return most;
}

// Judges a group that has been laid on; its marks are chosen and their old wood is the area.
static hw_status judge_group(carrying *c, size_t index, hw_error *err)
{
    group *g = &c->group[index];
    hw_elsewhere elsewhere;
    hw_status status =
        hw_likeness_elsewhere(&c->from, &c->to, &c->area, &g->plane.h, &elsewhere, err);
    if (status != HW_OK) {
        return status;
    }
    box b = box_of_group(c);
    double speak_for = count_for(g, &b), rivals = count_rivals(c, index);
    double alone = fmax(grade(&elsewhere_test, distinction(&elsewhere)),
                        grade(&rival_test, speak_for / rivals));
    g->verdict = (verdict){1.0, ""};
    weaken(&g->verdict, grade(&inlier_test, speak_for), too_little);
    weaken(&g->verdict, grade(&likeness_test, g->likeness), unlike);
    weaken(&g->verdict, alone, repeats);
    return HW_OK;
}

static hw_status lay_on(carrying *c, size_t index, hw_error *err)
{
    group *g = &c->group[index];
    if (choose_group(c, index) == 0) {
        return HW_OK;
    }
    if (!take_inliers(c, g) || !hw_area_of_wood(&c->area, c->earlier, c->marks, c->chosen)) {
        return out_of_memory(err);
    }
    hw_alignment a = {&c->from, &c->to, &c->area, g->inlier, g->inlier_count};
    hw_status status = hw_align(&a, &g->plane.h, &g->doubt, err);
    if (status == HW_OK) {
        status =
            hw_likeness(&c->from, &c->to, &c->area, &g->plane.h, HW_HELD_BACK, &g->likeness, err);
    }
    if (status == HW_OK && !take_inliers(c, g)) {
        return out_of_memory(err);
    }
    return status == HW_OK ? judge_group(c, index, err) : status;
}

// The inliers near a mark.
static size_t take_near(const carrying *c, const group *g, size_t mark, hw_match *out)
{
    size_t count = 0;
    hw_point centre = hw_look_from_photo(c->earlier, hw_mark_centre(&c->marks->mark[mark]));
    double size = sqrt(hw_mark_area(&c->marks->mark[mark])) / hw_look_longer_px(c->earlier);
    for (size_t i = 0; i < g->inlier_count; i++) {
        hw_point p = g->inlier[i].from;
        if (hypot(p.x - centre.x, p.y - centre.y) < near_a_mark + 0.5 * size) {
            out[count++] = g->inlier[i];
        }
    }
    return count;
}

static double mark_move(const carrying *c, size_t mark, const hw_homography *one,
                        const hw_homography *other)
{
    double far = 0.0;
    for (size_t k = 0; k < c->marks->mark[mark].point_count; k++) {
        hw_point p = hw_look_from_photo(c->earlier, c->marks->mark[mark].points[k]);
        hw_point a = hw_homography_apply(one, p), b = hw_homography_apply(other, p);
        far = fmax(far, hypot(a.x - b.x, a.y - b.y));
    }
    return far;
}

// A part that stands back a little, or is not quite flat, lies a little off its plane.
static hw_status lay_own(carrying *c, size_t mark, hw_error *err)
{
    group *g = &c->group[c->belongs[mark]];
    hw_carried_mark *each = &c->out.each[mark];
    hw_homography h = g->plane.h;
    hw_doubt doubt;
    double likeness;
    c->own[mark] = g->plane.h;
    choose_one(c, mark);
    hw_status status = likeness_of(c, c->chosen, &h, &each->likeness, err);
    hw_match *near = hw_alloc_array(g->inlier_count, sizeof *near);
    if (status != HW_OK || !near) {
        hw_free(near);
        return status != HW_OK ? status : out_of_memory(err);
    }
    hw_alignment a = {&c->from, &c->to, &c->area, near, take_near(c, g, mark, near)};
    if (a.match_count >= 4 && !c->out.as_it_lay) {
        status = hw_align(&a, &h, &doubt, err);
        if (status == HW_OK) {
            status = hw_likeness(&c->from, &c->to, &c->area, &h, HW_HELD_BACK, &likeness, err);
        }
        if (status == HW_OK && likeness >= each->likeness + own_gain &&
            mark_move(c, mark, &h, &g->plane.h) <= own_move_most) {
            c->own[mark] = h;
            each->likeness = likeness;
        }
    }
    hw_free(near);
    return status;
}

// ---- 6: the marks and what they are worth ------------------------------------------

static bool is_in_picture(const hw_look *look, const hw_mark *mark)
{
    for (size_t k = 0; k < mark->point_count; k++) {
        hw_point p = mark->points[k];
        if (!(p.x >= -0.5 && p.y >= -0.5 && p.x <= (double)look->photo_width + 0.5 &&
              p.y <= (double)look->photo_height + 0.5)) {
            return false;
        }
    }
    return true;
}

// Adds the mark as h carries it, if it lies in the new picture.
static hw_status add_carried(carrying *c, size_t index, const hw_homography *h, bool *inside,
                             hw_error *err)
{
    hw_marks *to = &c->out.marks;
    hw_status status = hw_marks_take(c->marks, index, to, err);
    if (status != HW_OK) {
        return status;
    }
    hw_mark *made = &to->mark[to->count - 1];
    for (size_t k = 0; k < made->point_count && !c->out.as_it_lay; k++) {
        hw_point p = hw_look_from_photo(c->earlier, made->points[k]);
        made->points[k] = hw_look_to_photo(c->now, hw_homography_apply(h, p));
    }
    *inside = is_in_picture(c->now, made);
    if (!*inside) {
        hw_mark_free(made);
        to->count--;
    }
    return HW_OK;
}

static double worst_corner(const carrying *c, size_t mark, const group *g)
{
    double worst = 0.0;
    for (size_t k = 0; k < c->marks->mark[mark].point_count; k++) {
        hw_point p = hw_look_from_photo(c->earlier, c->marks->mark[mark].points[k]);
        worst = fmax(worst, hw_doubt_at(&g->doubt, &g->plane.h, p));
    }
    return worst;
}

// Do features of the plane lie on all sides of the mark's middle? Then it is not on a plane that only begins beside it.
static bool is_surrounded(const carrying *c, const group *g, size_t mark)
{
    hw_point centre = hw_look_from_photo(c->earlier, hw_mark_centre(&c->marks->mark[mark]));
    double left = 0, right = 0, above = 0, below = 0;
    for (size_t i = 0; i < g->inlier_count; i++) {
        hw_point p = g->inlier[i].from;
        left += p.x < centre.x;
        right += p.x > centre.x;
        above += p.y < centre.y;
        below += p.y > centre.y;
    }
    return fmin(fmin(left, right), fmin(above, below)) >= surrounding;
}

static hw_status carry_wood(carrying *c, size_t mark, verdict *all, hw_error *err)
{
    hw_carried_mark *each = &c->out.each[mark];
    const group *g = &c->group[c->belongs[mark]];
    bool inside;
    hw_status status = add_carried(c, mark, &c->own[mark], &inside, err);
    if (status != HW_OK || !inside) {
        each->fate = HW_FATE_OUTSIDE;
        return status;
    }
    double error = worst_corner(c, mark, g);
    verdict v = g->verdict;
    choose_one(c, mark);
    box b = box_of_group(c);
    if (!c->out.as_it_lay) { // on another plane of the piece it would lie elsewhere
        double held = grade(&near_test, count_for(g, &b));
        weaken(&v, fmax(held, is_surrounded(c, g, mark) ? grade(&near_test, surrounding) : 0.0),
               too_little);
    }
    weaken(&v, grade(&own_likeness_test, each->likeness), unlike);
    if (!c->out.as_it_lay) {
        weaken(&v, grade(&error_test, error), loose);
    }
    if (!is_possible(&c->own[mark], c->earlier, &c->marks->mark[mark])) {
        weaken(&v, 0.0, impossible);
    }
    each->fate = HW_FATE_CARRIED;
    each->confidence = v.confidence;
    each->error_px = error * hw_look_longer_px(c->now);
    c->out.error_px = fmax(c->out.error_px, each->error_px);
    c->out.moved_px =
        fmax(c->out.moved_px, hw_look_longer_px(c->now) *
                                  mark_move(c, mark, &c->own[mark], &hw_homography_identity));
    weaken(all, v.confidence, v.why);
    return HW_OK;
}

// ---- 7: what lies on the wood ------------------------------------------------------

static hw_status carry_reference(carrying *c, size_t mark, hw_error *err)
{
    hw_carried_mark *each = &c->out.each[mark];
    bool is_card = c->marks->mark[mark].role == HW_ROLE_CARD, alike = false, inside = false;
    hw_status status = HW_OK;
    for (size_t i = 0; i < c->group_count && status == HW_OK && !alike; i++) {
        const group *g = &c->group[i];
        const hw_homography *h = &g->plane.h;
        if (g->verdict.confidence >= HW_CARRY_SURE &&
            is_possible(h, c->earlier, &c->marks->mark[mark])) {
            status = hw_reference_lies(&c->from, &c->to, c->earlier, &c->area,
                                       &c->marks->mark[mark], h, &alike, err);
        }
        if (status == HW_OK && alike) {
            status = add_carried(c, mark, h, &inside, err);
            each->error_px = worst_corner(c, mark, g) * hw_look_longer_px(c->now);
        }
    }
    each->fate = alike && inside ? HW_FATE_CARRIED : HW_FATE_MOVED;
    c->out.card_carried |= is_card && each->fate == HW_FATE_CARRIED;
    c->out.references_moved |= !is_card && each->fate == HW_FATE_MOVED;
    return status;
}

// ---- All of it ---------------------------------------------------------------------

static hw_status follow(carrying *c, hw_error *err)
{
    bool same_size = c->earlier->photo_width == c->now->photo_width &&
                     c->earlier->photo_height == c->now->photo_height;
    hw_status status = match_features(c, err);
    if (status == HW_OK && same_size) {
        status = try_still(c, err);
    }
    if (status == HW_OK && !c->out.as_it_lay) {
        status = find_planes(c, err);
    }
    if (status == HW_OK) {
        status = assign(c, err);
    }
    for (size_t g = 0; g < c->group_count && status == HW_OK && !c->out.as_it_lay; g++) {
        status = lay_on(c, g, err);
    }
    return status;
}

static hw_status place_marks(carrying *c, verdict *all, hw_error *err)
{
    hw_status status = HW_OK;
    for (size_t i = 0; i < c->marks->count && status == HW_OK; i++) {
        if (!hw_role_is_wood(c->marks->mark[i].role)) {
            status = carry_reference(c, i, err);
        } else if (c->belongs[i] >= 0) {
            status = lay_own(c, i, err);
            if (status == HW_OK) {
                status = carry_wood(c, i, all, err);
            }
        } else {
            weaken(all, 0.0, too_little);
        }
    }
    return status;
}

static void conclude(carrying *c, verdict v)
{
    size_t wood = 0, carried = 0;
    for (size_t i = 0; i < c->marks->count; i++) {
        if (hw_role_is_wood(c->marks->mark[i].role)) {
            wood++;
            carried += c->out.each[i].fate == HW_FATE_CARRIED;
        }
    }
    if (wood == 0) {
        v = (verdict){0.0, "no wood is marked in the last photo that could be recognised"};
    } else if (carried == 0) {
        weaken(&v, 0.0, "no marked wood lies wholly in the new photo");
    }
    c->out.confidence = v.confidence;
    c->out.sure = v.confidence >= HW_CARRY_SURE;
    hw_copy_text(c->out.why, sizeof c->out.why, c->out.sure ? "" : v.why);
}

hw_status hw_marks_carry(const hw_marks *marks, const hw_look *earlier, const hw_look *now,
                         hw_carried_marks *out, hw_error *err)
{
    if (marks->width_px != 0 &&
        (marks->width_px != earlier->photo_width || marks->height_px != earlier->photo_height)) {
        return hw_fail(
            err, HW_ERR_CALL, "marks-look", "the marks of the last photo",
            "Give marks for this photo.",
            "they were made on a picture of %zu x %zu pixels, and the last photo has %zu "
            "x %zu",
            marks->width_px, marks->height_px, earlier->photo_width, earlier->photo_height);
    }
    carrying c = {.marks = marks, .earlier = earlier, .now = now};
    verdict all = {1.0, ""};
    hw_status status = start(&c) ? HW_OK : out_of_memory(err);
    if (status == HW_OK) {
        status = follow(&c, err);
    }
    if (status == HW_OK) {
        status = place_marks(&c, &all, err);
    }
    if (status == HW_OK) {
        conclude(&c, all);
        *out = c.out;
    } else {
        hw_carried_marks_free(&c.out);
    }
    finish(&c);
    return status;
}

void hw_carried_marks_free(hw_carried_marks *carried)
{
    hw_marks_free(&carried->marks);
    hw_free(carried->each);
    *carried = (hw_carried_marks){0};
}
