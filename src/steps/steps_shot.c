// steps_shot.c: what the camera wrote of the shot, against the log: when it was taken.
//
// A photo may be added hours after it was taken. One taken before the dye was laid shows nothing of it, and one
// taken soon after shows it wet: neither may teach what the pass did. Clocks of cameras can be wrong, so their
// word only makes an answer more careful, and the person can overrule it.
#include "steps_internal.h"

#include <string.h>

// Further back than this before the job began a clock is wrong rather than the photo old (chosen).
static const int64_t before_job_most_s = 7 * 24 * 3600;

// "2026:05:03 10:11:12" (CIPA DC-008, DateTimeOriginal) as seconds, by the clock that it was read from.
static bool clock_time(const char *taken, int64_t *out)
{
    char iso[32];
    if (strlen(taken) != 19) {
        return false;
    }
    hw_format_text(iso, sizeof iso, "%.4s-%.2s-%.2sT%.8sZ", taken, taken + 5, taken + 8,
                   taken + 11);
    return hw_parse_time(iso, out);
}

int64_t hw_steps_taken_at(const hw_job *job, const hw_photo_facts *facts, const int64_t *clock_s,
                          int64_t now)
{
    int64_t taken;
    if (!clock_s || !clock_time(facts->taken, &taken)) {
        return now;
    }
    taken -= *clock_s;
    int64_t began = hw_job_event_count(job) ? hw_job_event(job, 0)->at : now;
    return taken > now || taken < began - before_job_most_s ? now : taken;
}

// ---- Taken before what was laid ----------------------------------------------------

static bool is_about(const hw_event *event, const char *patch)
{
    return event->kind == HW_EVENT_PLAN_SHOWN
               ? strcmp(event->of.plan.patch, patch) == 0
               : event->kind == HW_EVENT_PHOTO_ADDED &&
                     hw_marks_find(&event->of.photo.marks, HW_ROLE_PATCH, patch);
}

// A pass may be logged long after it was laid, so its own time proves nothing; but it was laid after the advice and
// the photos before it.
bool hw_steps_taken_before_pass(const hw_job *job, const char *patch, int64_t taken)
{
    bool later = false; // the log has come to what was shown after the photo was taken
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        later = later || (is_about(event, patch) && event->at > taken);
        if (later && event->kind == HW_EVENT_PASS_LAID && event->of.pass.before_photo == 0 &&
            hw_pass_is_on(event, patch)) {
            return true;
        }
    }
    return false;
}
