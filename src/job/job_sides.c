// job_sides.c: a patch from the left and from the right, in two photos of one state under one lamp. Whether the gap
// turns its sign is told in compare_sides.c.
#include "job_internal.h"

// One that was not said may be the same.
static bool lamps_agree(const char *one, const char *other)
{
    return !one[0] || !other[0] || hw_same_lamp(one, other);
}

const hw_event *hw_job_photo_from(const hw_job *job, const char *patch, hw_from from,
                                  const char *lamp)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        const hw_photo_event *photo = &event->of.photo;
        if (event->kind == HW_EVENT_PHOTO_ADDED && !photo->measured &&
            hw_from_is_same(photo->from, from) && lamps_agree(photo->lamp, lamp) &&
            hw_marks_find(&photo->marks, HW_ROLE_PATCH, patch)) {
            return event;
        }
    }
    return NULL;
}

// The newest one that was taken from the left or the right.
static const hw_event *newest_aside(const hw_job *job, const char *patch)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED &&
            !hw_from_is_same(event->of.photo.from, HW_FROM_FRONT) &&
            hw_marks_find(&event->of.photo.marks, HW_ROLE_PATCH, patch)) {
            return event;
        }
    }
    return NULL;
}

static hw_side_gap gap_in(const hw_job *job, const hw_event *photo, const char *patch)
{
    const hw_event *reading = hw_job_reading_of(job, photo->number);
    const hw_logged_gap *gap = hw_reading_gap(&reading->of.reading, patch);
    return (hw_side_gap){{gap->L, gap->a, gap->b}, {gap->u[0], gap->u[1], gap->u[2]}};
}

hw_job_sides hw_job_sides_of(const hw_job *job, const char *patch)
{
    hw_job_sides sides = {0};
    const hw_event *aside = newest_aside(job, patch);
    const char *lamp = aside ? aside->of.photo.lamp : "";
    const hw_event *left = aside ? hw_job_photo_from(job, patch, HW_FROM_LEFT, lamp) : NULL;
    const hw_event *right = aside ? hw_job_photo_from(job, patch, HW_FROM_RIGHT, lamp) : NULL;
    if (!left || !right || !hw_job_looks_alike(job, left, right, patch)) {
        return sides;
    }
    const hw_event *earlier = left->number < right->number ? left : right;
    sides.known = true;
    sides.present = !hw_job_touched_since(job, earlier, patch);
    sides.left = left->number;
    sides.right = right->number;
    sides.pair =
        (hw_side_pair){.left = gap_in(job, left, patch), .right = gap_in(job, right, patch)};
    hw_copy_text(sides.pair.patch, sizeof sides.pair.patch, patch);
    hw_side_pair_decide(&sides.pair);
    return sides;
}
