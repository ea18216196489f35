// steps_shot.c: what the camera wrote of the shot, against the log: when it was taken, and what was set otherwise
// than for the photo before.
//
// A photo may be added hours after it was taken. One taken before the dye was laid shows nothing of it, and one
// taken soon after shows it wet: neither may teach what the pass did. Clocks of cameras can be wrong, so their
// word only makes an answer more careful, and the person can overrule it.
#include "steps_internal.h"

#include <math.h>
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

// "+02:00" (OffsetTimeOriginal), seconds ahead of UTC.
static bool offset_of(const char *offset, int64_t *out)
{
    if (strlen(offset) != 6 || (offset[0] != '+' && offset[0] != '-') || offset[3] != ':') {
        return false;
    }
    for (int i = 1; i < 6; i++) {
        if (i != 3 && (offset[i] < '0' || offset[i] > '9')) {
            return false;
        }
    }
    int hours = 10 * (offset[1] - '0') + offset[2] - '0';
    int minutes = 10 * (offset[4] - '0') + offset[5] - '0';
    *out = (offset[0] == '-' ? -1 : 1) * (int64_t)(3600 * hours + 60 * minutes);
    return hours <= 14 && minutes < 60;
}

int64_t hw_steps_taken_at(const hw_job *job, const hw_photo_facts *facts, const int64_t *clock_s,
                          int64_t now)
{
    int64_t taken, offset = clock_s ? *clock_s : 0;
    bool known = offset_of(facts->shot.offset, &offset) || clock_s;
    if (!known || !clock_time(facts->taken, &taken)) {
        return now;
    }
    taken -= offset;
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

// ---- Set otherwise than before -----------------------------------------------------

// The card takes an exposure out, but not how the camera bends its tones, which moves with it. Half a stop (chosen:
// less comes of the repair itself growing darker).
static const double exposure_moved_most = 0.5 * 0.6931471805599453;

static void warn_exposure(const hw_shot *then, const hw_shot *now, long earlier,
                          hw_warnings *warnings)
{
    double before, after;
    if (!hw_shot_exposure(then, &before) || !hw_shot_exposure(now, &after) ||
        fabs(after - before) <= exposure_moved_most) {
        return;
    }
    hw_warn_trouble(
        warnings, HW_TROUBLE_TONE, 0.3,
        "The camera exposed %.1f stops %s than for photo %ld. Lock the exposure for all "
        "photos of a job.",
        fabs(after - before) / log(2.0), after > before ? "more" : "less", earlier);
}

static void warn_balance(const hw_shot *then, const hw_shot *now, long earlier,
                         hw_warnings *warnings)
{
    if (then->white_balance != HW_SET_NOT_SAID && now->white_balance != HW_SET_NOT_SAID &&
        then->white_balance != now->white_balance) {
        hw_warn_trouble(
            warnings, HW_TROUBLE_TONE, 0.3,
            "The camera's white balance was %s for photo %ld and is %s here. Lock it for "
            "all photos of a job.",
            then->white_balance == HW_SET_BY_HAND ? "fixed" : "automatic", earlier,
            now->white_balance == HW_SET_BY_HAND ? "fixed" : "automatic");
    }
}

void hw_steps_warn_settings(const hw_job *job, const hw_event *last, const hw_photo_facts *facts,
                            hw_warnings *warnings)
{
    const hw_event *logged = last ? hw_job_reading_of(job, last->number) : NULL;
    if (!logged || strcmp(logged->of.reading.camera, facts->camera) != 0) {
        return; // nothing is known, or it is another camera, which is said elsewhere
    }
    warn_exposure(&logged->of.reading.shot, &facts->shot, last->number, warnings);
    warn_balance(&logged->of.reading.shot, &facts->shot, last->number, warnings);
}
