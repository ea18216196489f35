// steps_sight.c: each repair of a photo seen from a distance, beside the verdict.
//
// How large a pixel is on the piece tells the card; without that there is no distance, and each repair's sight says what
// is missing.
#include "steps_internal.h"

#include <math.h>
#include <string.h>

// Of the picture that is made of the photo: twice as fine as the eye sees, so that what making it smaller blurs is next to
// nothing, and no larger than it takes.
static const double px_per_degree_most = 120.0;
static const double longer_most =
    2400.0; // pixels: what is finer than that in a large photo seen close by is mixed (chosen)

hw_status hw_steps_check_distance(double distance_mm, hw_error *err)
{
    if (distance_mm == 0.0 ||
        (distance_mm >= HW_SIGHT_LEAST_MM && distance_mm <= HW_SIGHT_MOST_MM)) {
        return HW_OK;
    }
    return hw_fail(err, HW_ERR_CALL, "sight-distance", "the distance",
                   "Give how far the eye is from the piece, as 1.5m.",
                   "%.3g m is not between %g and %g m", distance_mm / 1000.0,
                   HW_SIGHT_LEAST_MM / 1000.0, HW_SIGHT_MOST_MM / 1000.0);
}

// ---- How large a pixel is ----------------------------------------------------------

double hw_steps_pixel_mm(const hw_reading *reading, const double card_mm[2], const char **why_not)
{
    const hw_mark *card = hw_marks_find(&reading->marks, HW_ROLE_CARD, NULL);
    double one = 0.0;
    bool said = card_mm[0] > 0.0 && card_mm[1] > 0.0;
    *why_not =
        !said   ? "how large things are is not known: say the grey card's sides"
        : !card ? "no grey card is marked that tells how large things are: mark it by its "
                  "four corners"
        : hw_mark_mm_a_px(card, card_mm, &one)
            ? ""
            : "the card's mark does not have the sides that were said: mark the whole card by "
              "its four corners, and photograph it square on";
    return one;
}

// ---- What is looked at -------------------------------------------------------------

// Every piece of wood and a margin around it, which the eye mixes into it.
static hw_frame frame_of(const hw_reading *reading, double margin_px)
{
    double left = INFINITY, top = INFINITY, right = 0.0, bottom = 0.0;
    double width = (double)reading->photo.width_px, height = (double)reading->photo.height_px;
    for (size_t i = 0; i < reading->marks.count; i++) {
        if (hw_role_is_wood(reading->marks.mark[i].role)) {
            hw_box box = hw_mark_box(&reading->marks.mark[i]);
            left = fmin(left, (double)box.x);
            top = fmin(top, (double)box.y);
            right = fmax(right, (double)(box.x + box.width));
            bottom = fmax(bottom, (double)(box.y + box.height));
        }
    }
    left = fmax(floor(left - margin_px), 0.0);
    top = fmax(floor(top - margin_px), 0.0);
    right = fmin(ceil(right + margin_px), width);
    bottom = fmin(ceil(bottom + margin_px), height);
    return (hw_frame){(size_t)left, (size_t)top, (size_t)(right - left), (size_t)(bottom - top)};
}

static hw_status seen_from(const hw_photo *photo, const hw_reading *reading, double one_mm,
                           double distance_mm, hw_picture *out, double *px_per_degree,
                           hw_error *err)
{
    double fine = hw_sight_px(one_mm, distance_mm);
    hw_frame frame = frame_of(reading, fine); // a degree
    double longer = (double)(frame.width > frame.height ? frame.width : frame.height);
    double wanted = fmin(longer * fmin(px_per_degree_most / fine, 1.0), longer_most);
    size_t longer_px = (size_t)ceil(wanted);
    hw_status status = hw_picture_make(photo, &reading->light, &frame, longer_px, NULL, out, err);
    if (status == HW_OK) {
        status = hw_picture_see(out, hw_sight_px(one_mm * out->scale, distance_mm), NULL, err);
    }
    if (status == HW_OK) {
        *px_per_degree = hw_sight_px(one_mm * out->scale, distance_mm); // it may be smaller now
    }
    return status;
}

// ---- Each repair -------------------------------------------------------------------

static bool is_repair(const hw_comparison *item)
{
    return strcmp(item->target, HW_BESIDE) == 0;
}

static hw_status look_at(const hw_picture *seen, const hw_comparison *gap, const char *why_not,
                         const hw_reading *reading, hw_sight *out, hw_error *err)
{
    if (!why_not[0]) {
        return hw_picture_sight(seen, &reading->marks, gap, out, err);
    }
    hw_copy_text(out->patch, sizeof out->patch, gap->patch);
    hw_copy_text(out->why_not, sizeof out->why_not, why_not);
    return HW_OK;
}

hw_status hw_steps_sights(const hw_photo *photo, double distance_mm, const double card_mm[2],
                          hw_reading *reading, hw_error *err)
{
    hw_picture seen = {0};
    const char *why_not;
    double one_mm = hw_steps_pixel_mm(reading, card_mm, &why_not), px_per_degree = 0.0;
    const hw_comparisons *all = &reading->comparisons;
    hw_status status = HW_OK;
    reading->sights = hw_alloc_array(all->count, sizeof *reading->sights);
    if (!reading->sights) {
        return hw_fail_memory(err, "looking at the repairs from a distance");
    }
    if (!why_not[0] && all->count > 0) {
        status = seen_from(photo, reading, one_mm, distance_mm, &seen, &px_per_degree, err);
    }
    for (size_t i = 0; i < all->count && status == HW_OK; i++) {
        if (is_repair(&all->item[i])) {
            hw_sight *sight = &reading->sights[reading->sight_count++];
            status = look_at(&seen, &all->item[i], why_not, reading, sight, err);
            sight->distance_mm = distance_mm;
            sight->px_per_degree = px_per_degree;
        }
    }
    hw_picture_free(&seen);
    return status;
}
