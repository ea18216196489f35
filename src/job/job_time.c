// job_time.c: how long things took: drying since something was laid on a part, hours of work as they were
// entered, and how long the log itself was written on.
#include "job_internal.h"

#include <math.h>

// ---- Drying ------------------------------------------------------------------------

// Laid on the part, and in the order of the log: what was logged later says nothing of when it was laid.
static bool is_laid_on(const hw_event *event, const char *part)
{
    long before_photo = event->kind == HW_EVENT_PASS_LAID   ? event->of.pass.before_photo
                        : event->kind == HW_EVENT_COAT_LAID ? event->of.coat.before_photo
                                                            : 0;
    return before_photo == 0 && (hw_pass_is_on(event, part) || hw_coat_is_on(event, part));
}

double hw_job_dry_minutes(const hw_job *job, const char *part, int64_t then, int64_t now)
{
    double least = (double)NAN;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (!is_laid_on(event, part) || event->at > now) {
            continue;
        }
        double minutes = (double)(then - event->at) / 60.0;
        if (event->kind == HW_EVENT_PASS_LAID && event->of.pass.minutes > 0.0) {
            minutes += event->of.pass.minutes; // it had dried that long when it was logged
        }
        least = fmin(least, fmax(minutes, 0.0)); // of a number and NaN, the number
    }
    return least;
}

// ---- Work --------------------------------------------------------------------------

// On how many parts it was done, and whether this is one of them (NULL: any).
static size_t parts_of(const hw_event *event, const char *part, bool *is_one)
{
    *is_one = !part || hw_pass_is_on(event, part) || hw_coat_is_on(event, part) ||
              hw_takeoff_is_on(event, part) ||
              (event->kind == HW_EVENT_NOTE && strcmp(event->of.note.part, part) == 0);
    switch (event->kind) {
    case HW_EVENT_PASS_LAID:
        return event->of.pass.patch_count;
    case HW_EVENT_COAT_LAID:
        return event->of.coat.part_count; // 0: the whole piece
    case HW_EVENT_TAKEN_OFF:
        return event->of.takeoff.part_count;
    case HW_EVENT_NOTE:
        return event->of.note.part[0] ? 1 : 0;
    default:
        return 0;
    }
}

double hw_job_hours(const hw_job *job, const char *part)
{
    double hours = 0.0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        bool is_one = false;
        size_t parts = parts_of(event, part, &is_one);
        if (event->kind == HW_EVENT_WITHDRAWN || !is_one || (part && parts == 0)) {
            continue; // work on the whole piece is no one part's
        }
        hours += hw_event_hours(event) / (part ? (double)parts : 1.0);
    }
    return hours;
}

// A pause longer than this ends a sitting (chosen: recoat times of toner are shorter).
static const int64_t pause_s = 3600;

size_t hw_job_sittings(const hw_job *job, double *hours)
{
    size_t sittings = 0;
    int64_t last = 0, sum = 0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        int64_t at = hw_job_event(job, i)->at;
        if (sittings == 0 || at - last > pause_s) {
            sittings++;
        } else if (at > last) { // a clock that was set back counts as nothing
            sum += at - last;
        }
        last = at; // back too: one line stamped in the future must not hide all that follow
    }
    *hours = (double)sum / 3600.0;
    return sittings;
}
