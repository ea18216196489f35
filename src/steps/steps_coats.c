// steps_coats.c: what the clear coats still to come mean for a patch: the look once they lie on it, and what to plan for
// until then. The job tells coats, the shelf what they did in this job and in others, tone the rest.
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

// The old wood as one: of its pieces beside the patch the most coats so far and the least to come, so that no repair is
// made darker on account of what coats do to some of them only.
static hw_coats_on old_wood(const hw_job *job, const hw_event *photo, const char *patch,
                            hw_steps_coats *out)
{
    const hw_mark *mark = hw_marks_find(&photo->of.photo.marks, HW_ROLE_PATCH, patch);
    const hw_marks *marks = hw_steps_wood_marks(job, photo, patch);
    hw_coats_on all = {0, INT_MAX};
    bool any = false;
    size_t assumed = 0;
    char last[sizeof((hw_job_coats *)NULL)->assumed] = "";
    for (size_t i = 0; mark && i < marks->count; i++) {
        const hw_mark *target = &marks->mark[i];
        if (target->role == HW_ROLE_TARGET && hw_mark_is_beside(mark, target)) {
            hw_job_coats coats = hw_job_coats_on(job, HW_ROLE_TARGET, target->name);
            all.so_far = coats.on.so_far > all.so_far ? coats.on.so_far : all.so_far;
            all.to_come = coats.on.to_come < all.to_come ? coats.on.to_come : all.to_come;
            if (coats.assumed[0]) {
                assumed++;
                hw_copy_text(last, sizeof last, coats.assumed);
            }
            any = true;
        }
    }
    if (assumed == 1) {
        add_assumed(out, last);
    } else if (assumed > 1) {
        char words[120];
        hw_format_text(words, sizeof words,
                       "The coats on the old wood are not all logged: taken as %s.",
                       all.so_far == 1 ? "one" : "several");
        add_assumed(out, words);
    }
    return any ? all : (hw_coats_on){0, 0};
}

void hw_steps_coats_of(const hw_job *job, const hw_shelf *shelf, hw_steps_belief *belief,
                       const hw_event *photo, const hw_comparison *gap, hw_steps_coats *out)
{
    *out = (hw_steps_coats){.gap = *gap, .old_wood = gap->target_lab};
    hw_job_coats patch = hw_job_coats_on(job, HW_ROLE_PATCH, gap->patch);
    add_assumed(out, patch.assumed);
    hw_coats_on target = old_wood(job, photo, gap->patch, out);
    out->to_come = patch.on.to_come > 0 || target.to_come > 0;
    if (!out->to_come) {
        return;
    }
    if (!belief->learned) {
        belief->coats = hw_coats_learn(shelf->coat, shelf->coat_count, hw_job_id(job));
        belief->learned = true;
    }
    hw_coats_request request = {.gap = gap,
                                .patch = patch.on,
                                .target = target,
                                .belief = &belief->coats,
                                .seen = shelf->coat,
                                .seen_count = shelf->coat_count,
                                .photo = photo->number,
                                .photo_doubt = hw_coats_photo_doubt(photo->of.photo.measured)};
    hw_lab aim;
    hw_covariance more;
    out->ahead = hw_coats_look_ahead(&request);
    out->aimed = hw_coats_aim(&request, &aim, &more);
    if (out->aimed) {
        out->gap = hw_comparison_before_coats(gap, aim, &more);
    }
}
