// steps_look_back.c: what earlier readings of a job say of a patch: how much the old wood beside it varies,
// and how much photos of the same thing differ.
#include "steps_internal.h"

#include <math.h>
#include <string.h>

// One to old wood in another photo says nothing of how photos of both differ.
static const hw_logged_gap *gap_of(const hw_event *event, const char *patch)
{
    const hw_logged_gap *gap =
        event->kind == HW_EVENT_READING ? hw_reading_gap(&event->of.reading, patch) : NULL;
    return gap && gap->elsewhere == 0 ? gap : NULL;
}

static bool is_before(const hw_event *event, long number)
{
    return number == 0 || event->number < number;
}

// Something was laid on the patch, or taken off it: readings on both sides of it are no repeats.
static bool is_done_on(const hw_event *event, const char *patch)
{
    return hw_pass_is_on(event, patch) || hw_coat_is_on(event, patch) ||
           hw_takeoff_is_on(event, patch);
}

// The photo that a reading of the patch belongs to; NULL also for what an instrument measured.
static const hw_photo_event *photo_of(const hw_job *job, const hw_event *reading,
                                      const hw_logged_gap *gap)
{
    const hw_photo_event *photo = gap ? hw_job_photo_event(job, reading->of.reading.photo) : NULL;
    return photo && !photo->measured ? photo : NULL;
}

static double area_beside(const hw_marks *marks, const hw_mark *patch, size_t *count)
{
    double sum = 0.0;
    *count = 0;
    for (size_t i = 0; i < marks->count; i++) {
        if (hw_mark_is_beside(patch, &marks->mark[i])) {
            sum += hw_mark_area(&marks->mark[i]);
            ++*count;
        }
    }
    return sum;
}

// Is the same old wood marked beside the patch: the same names, and about as much of it?
static bool same_wood(const hw_marks *now, const hw_marks *then, const char *name)
{
    const double about = 2.0; // times; photos are taken from nearer and further (chosen)
    const hw_mark *patch = hw_marks_find(now, HW_ROLE_PATCH, name);
    const hw_mark *before = hw_marks_find(then, HW_ROLE_PATCH, name);
    if (!patch || !before || patch->kind != before->kind) {
        return false;
    }
    for (size_t i = 0; i < now->count; i++) {
        const hw_mark *target = &now->mark[i];
        const hw_mark *earlier = hw_marks_find(then, HW_ROLE_TARGET, target->name);
        bool here = hw_mark_is_beside(patch, target);
        if (here && (!earlier || !hw_mark_is_beside(before, earlier))) {
            return false;
        }
    }
    size_t count_now, count_then;
    double area = area_beside(now, patch, &count_now) / fmax(hw_mark_area(patch), 1.0);
    double area_then = area_beside(then, before, &count_then) / fmax(hw_mark_area(before), 1.0);
    return count_then >= count_now && area < about * area_then &&
           (count_then > count_now || area_then < about * area);
}

// Of readings of the same old wood, or of more of it, the one with the most pieces counts; of equals the
// latest.
static void learn_spread(const hw_job *job, long number, const hw_marks *marks, hw_earlier *out)
{
    const double spread_most = 20.0; // CIEDE2000: more is no wood
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        const hw_logged_gap *gap = is_before(event, number) ? gap_of(event, out->patch) : NULL;
        const hw_photo_event *photo = photo_of(job, event, gap);
        if (photo && gap->spread_count >= out->count && gap->spread_count > 0 &&
            gap->spread > 0.0 && gap->spread < spread_most &&
            same_wood(marks, &photo->marks, out->patch)) {
            out->spread = gap->spread;
            out->count = gap->spread_count;
        }
    }
}

// Two photos of one thing: same view, same side, same lamp, not the same file twice, and the patch in the same state.
static bool is_repeat(const hw_job *job, const char *patch, const hw_event *one,
                      const hw_event *other)
{
    const hw_photo_event *a = &one->of.photo, *b = &other->of.photo;
    return strcmp(a->view, b->view) == 0 && strcmp(a->lamp, b->lamp) == 0 &&
           hw_from_is_same(a->from, b->from) && !hw_photo_shares_file(a, b) &&
           hw_job_state(job, one->number, patch) == hw_job_state(job, other->number, patch);
}

// From the latest reading back to the last pass on the patch.
static void learn_repeats(const hw_job *job, long number, hw_earlier *out)
{
    const hw_event *latest = NULL;
    double sum[3] = {0}, square[3] = {0}, n = 0.0;
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (!is_before(event, number)) {
            continue;
        }
        if (is_done_on(event, out->patch)) {
            break;
        }
        const hw_logged_gap *gap = gap_of(event, out->patch);
        const hw_event *photo =
            photo_of(job, event, gap) ? hw_job_event_numbered(job, event->of.reading.photo) : NULL;
        bool wet = photo && hw_job_state(job, photo->number, out->patch) == HW_STATE_NOT_DRY;
        bool mean = photo && photo->of.photo.more_count > 0; // which scatters less than one photo
        if (!photo || wet || mean || (latest && !is_repeat(job, out->patch, photo, latest))) {
            continue; // what is wet is no repeat of what will be
        }
        latest = latest ? latest : photo;
        const double axis[3] = {gap->L, gap->a, gap->b};
        for (int k = 0; k < 3; k++) {
            sum[k] += axis[k];
            square[k] += axis[k] * axis[k];
        }
        n += 1.0;
    }
    out->repeats = (size_t)n;
    for (int k = 0; k < 3 && n >= 2.0; k++) {
        out->repeat[k] = sqrt(fmax(square[k] - sum[k] * sum[k] / n, 0.0) / (n - 1.0));
    }
}

hw_status hw_steps_look_back(const hw_job *job, long number, const hw_marks *marks,
                             hw_earlier_list *out, hw_error *err)
{
    *out = (hw_earlier_list){hw_alloc_array(marks->count + 1, sizeof *out->item), 0};
    if (!out->item) {
        return hw_fail_memory(err, "looking back in the job");
    }
    for (size_t i = 0; i < marks->count; i++) {
        hw_earlier *one = &out->item[out->count];
        if (marks->mark[i].role == HW_ROLE_PATCH) {
            hw_copy_text(one->patch, sizeof one->patch, marks->mark[i].name);
            learn_spread(job, number, marks, one);
            learn_repeats(job, number, one);
            out->count++;
        }
    }
    return HW_OK;
}
