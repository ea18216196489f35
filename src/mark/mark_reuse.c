// mark_reuse.c: may the marks of an earlier photo be used in the next one as they lie?
//
// Only where nothing moved. The figure of the old wood is its own witness: ln Y less its blur (so
// that exposure, lamp and slow light do not count) is correlated, target by target, between the
// two photos. In simulation, pictures that lay alike gave 0.81 and more, others 0.48 and less; the
// cut is 0.65. The repair itself is not asked: it is meant to change. The card's area must be one
// even surface in the new photo, since a card is lifted more easily than a cabinet.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

static const double likeness_least = 0.65;
static const double edges_factor = 1.03, edges_more = 0.006; // a mark with its edges (chosen)
static const double reference_likeness_least = 0.85;         // of a mark with its edges (chosen)
static const double edges_least =
    0.05; // s.d. of ln Y: a card as light as the wood has no edges to know it by (chosen)
static const double inner_factor = 0.7;
static const double even_most = 0.08; // s.d. of ln Y within a card, from place to place (chosen)

// How uneven the inside of a mark is: s.d. of ln Y less its blur.
static hw_status unevenness(const hw_pyramid *from, const hw_pyramid *to, const hw_look *earlier,
                            hw_area *area, const hw_mark *mark, const hw_homography *h,
                            double *deviation, hw_error *err)
{
    memset(area->inside, 0, area->width * area->height);
    if (!hw_area_paint(area, earlier, mark, inner_factor, 0.0, 1)) {
        return hw_fail_memory(err, "looking at the grey card");
    }
    return hw_deviation(from, to, area, h, deviation, err);
}

hw_status hw_reference_lies(const hw_pyramid *from, const hw_pyramid *to, const hw_look *earlier,
                            hw_area *area, const hw_mark *mark, const hw_homography *h, bool *alike,
                            hw_error *err)
{
    double likeness = 0.0, was = 0.0, is = 0.0, edges = 0.0, held_back = 0.0;
    memset(area->inside, 0, area->width * area->height);
    if (!hw_area_paint(area, earlier, mark, edges_factor, edges_more, 1)) {
        return hw_fail_memory(err, "looking at the grey card");
    }
    hw_status status = hw_likeness(from, to, area, h, HW_AS_IT_IS, &likeness, err);
    if (status == HW_OK) { // so that one edge of the piece beside it does not decide
        status = hw_likeness(from, to, area, h, HW_HELD_BACK, &held_back, err);
    }
    if (status == HW_OK) {
        status = hw_deviation(from, from, area, &hw_homography_identity, &edges, err);
    }
    if (status == HW_OK) {
        status = unevenness(from, from, earlier, area, mark, &hw_homography_identity, &was, err);
    }
    if (status == HW_OK) {
        status = unevenness(from, to, earlier, area, mark, h, &is, err);
    }
    *alike = edges >= edges_least && is <= 1.5 * was + 0.01 &&
             fmin(likeness, held_back) >= reference_likeness_least;
    return status;
}

// ---- The answer --------------------------------------------------------------------

typedef struct comparison {
    hw_look *earlier, *now;
    hw_pyramid from, to;
    hw_area area;
} comparison;

static hw_status start(comparison *c, const hw_photo *earlier, const hw_photo *now, hw_error *err)
{
    hw_status status = hw_look_take_picture(earlier, &c->earlier, err);
    if (status == HW_OK) {
        status = hw_look_take_picture(now, &c->now, err);
    }
    if (status == HW_OK &&
        !(hw_pyramid_make(c->earlier, &c->from) && hw_pyramid_make(c->now, &c->to) &&
          hw_area_make(c->earlier, &c->area))) {
        status = hw_fail_memory(err, "comparing the photo with the last one");
    }
    return status;
}

static void finish(comparison *c)
{
    hw_pyramid_free(&c->from);
    hw_pyramid_free(&c->to);
    hw_area_free(&c->area);
    hw_look_free(c->earlier);
    hw_look_free(c->now);
}

// The mean over the targets; 0 where there are none.
static hw_status likeness_of_targets(comparison *c, const hw_marks *marks, double *mean,
                                     hw_error *err)
{
    double sum = 0.0;
    size_t count = 0;
    for (size_t i = 0; i < marks->count; i++) {
        double one;
        if (marks->mark[i].role != HW_ROLE_TARGET) {
            continue;
        }
        memset(c->area.inside, 0, c->area.width * c->area.height);
        if (!hw_area_paint(&c->area, c->earlier, &marks->mark[i], 1.0, 0.0, 1)) {
            return hw_fail_memory(err, "comparing the photo with the last one");
        }
        hw_status status = hw_likeness(&c->from, &c->to, &c->area, &hw_homography_identity,
                                       HW_HELD_BACK, &one, err);
        if (status != HW_OK) {
            return status;
        }
        sum += one;
        count++;
    }
    *mean = count ? sum / (double)count : 0.0;
    return HW_OK;
}

static hw_status moved(const hw_photo *now, hw_error *err, const char *why)
{
    return hw_fail(err, HW_ERR_CALL, "marks-moved", hw_photo_facts_of(now)->file,
                   "Give marks for this photo.", "%s", why);
}

static hw_status judge(const hw_photo *now, double likeness, bool card_lies, hw_error *err)
{
    char why[160];
    if (!card_lies) {
        return moved(now, err, "the grey card does not lie where it lay in the last photo");
    }
    if (likeness >= likeness_least) {
        return HW_OK;
    }
    hw_format_text(why, sizeof why,
                   "the old wood does not lie where it lay in the last photo (likeness %.2f, "
                   "needs %.2f)",
                   likeness, likeness_least);
    return moved(now, err, why);
}

hw_status hw_marks_reuse(const hw_marks *marks, const hw_photo *earlier, const hw_photo *now,
                         double *correlation, hw_error *err)
{
    const hw_photo_facts *then = hw_photo_facts_of(earlier), *facts = hw_photo_facts_of(now);
    const hw_mark *card = hw_marks_find(marks, HW_ROLE_CARD, NULL);
    comparison c = {0};
    double uneven = 0.0;
    *correlation = 0.0;
    if (then->width_px != facts->width_px || then->height_px != facts->height_px) {
        return moved(now, err,
                     "it has another size than the last photo of this view, so the marks "
                     "do not lie where they lay");
    }
    if (!hw_marks_find(marks, HW_ROLE_TARGET, NULL)) {
        return moved(now, err,
                     "no old wood is marked in the last photo of this view that would show whether "
                     "anything moved");
    }
    hw_status status = start(&c, earlier, now, err);
    if (status == HW_OK) {
        status = likeness_of_targets(&c, marks, correlation, err);
    }
    if (status == HW_OK && card) {
        status = unevenness(&c.from, &c.to, c.earlier, &c.area, card, &hw_homography_identity,
                            &uneven, err);
    }
    if (status == HW_OK) {
        status = judge(now, *correlation, uneven <= even_most, err);
    }
    finish(&c);
    return status;
}
