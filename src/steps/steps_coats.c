// steps_coats.c: what the clear coats still to come mean for a patch: the look once they lie on it, and what to plan for
// until then. The job tells coats and what they did so far, tone the rest.
#include "steps_internal.h"

#include <limits.h>
#include <string.h>

static void add_assumed(hw_steps_coats *out, const char *sentence)
{
    size_t length = strlen(out->assumed);
    if (sentence[0] && !strstr(out->assumed, sentence)) {
        hw_format_text(out->assumed + length, sizeof out->assumed - length, "%s%s",
                       length ? " " : "", sentence);
    }
}

// The old wood as one: of its pieces beside the patch the least of each, so that no repair is made darker on account of
// coats that only some of them get.
static hw_coats_on old_wood(const hw_job *job, const hw_marks *marks, const char *patch,
                            hw_steps_coats *out)
{
    const hw_mark *mark = hw_marks_find(marks, HW_ROLE_PATCH, patch);
    hw_coats_on least = {INT_MAX, INT_MAX};
    bool any = false;
    size_t assumed = 0;
    char last[sizeof((hw_job_coats *)NULL)->assumed] = "";
    for (size_t i = 0; mark && i < marks->count; i++) {
        const hw_mark *target = &marks->mark[i];
        if (target->role == HW_ROLE_TARGET && hw_mark_is_beside(mark, target)) {
            hw_job_coats coats = hw_job_coats_on(job, HW_ROLE_TARGET, target->name);
            least.so_far = coats.on.so_far < least.so_far ? coats.on.so_far : least.so_far;
            least.to_come = coats.on.to_come < least.to_come ? coats.on.to_come : least.to_come;
            assumed += coats.assumed[0] != 0;
            hw_copy_text(last, sizeof last, coats.assumed);
            any = true;
        }
    }
    if (assumed == 1) {
        add_assumed(out, last);
    } else if (assumed > 1) {
        add_assumed(out, "Of the surface of the old wood not all is said: taken as several coats.");
    }
    return any ? least : (hw_coats_on){0, 0};
}

hw_status hw_steps_coats_of(const hw_job *job, const hw_event *photo, const hw_comparison *gap,
                            hw_steps_coats *out, hw_error *err)
{
    hw_steps_coats coats = {.gap = *gap};
    hw_coat_seen *seen = NULL;
    size_t count = 0;
    hw_job_coats patch = hw_job_coats_on(job, HW_ROLE_PATCH, gap->patch);
    add_assumed(&coats, patch.assumed);
    hw_coats_on target = old_wood(job, &photo->of.photo.marks, gap->patch, &coats);
    coats.to_come = patch.on.to_come > 0 || target.to_come > 0;
    if (!coats.to_come) {
        *out = coats;
        return HW_OK;
    }
    hw_status status = hw_job_coats_seen(job, &seen, &count, err);
    if (status != HW_OK) {
        return status;
    }
    hw_coat_belief belief = hw_coats_learn(seen, count);
    hw_coats_request request = {.gap = gap,
                                .patch = patch.on,
                                .target = target,
                                .belief = &belief,
                                .seen = seen,
                                .seen_count = count,
                                .photo = photo->number,
                                .photo_doubt = hw_coats_photo_doubt(photo->of.photo.measured)};
    hw_lab aim;
    hw_covariance more;
    coats.seen = belief.seen;
    coats.ahead = hw_coats_look_ahead(&request);
    coats.aimed = hw_coats_aim(&request, &aim, &more);
    if (coats.aimed) {
        coats.gap = hw_comparison_before_coats(gap, aim, &more);
    }
    hw_job_coats_seen_free(seen);
    *out = coats;
    return HW_OK;
}
