// job_carry.c: what a new job takes over from an earlier one: its jars, under new numbers, but for empty ones, and what was
// said that holds for a shop rather than for a piece. Areas and coats to come are the piece's own.
#include "job_internal.h"

#include <math.h>

// What is not known is NaN where it is worked out, and not said, 0, in an event.
static double said(double value)
{
    return isnan(value) ? 0.0 : value;
}

static hw_new_event jar_event(const hw_job *from, const hw_jar_event *jar, long number)
{
    hw_jar_event carried = *jar;
    carried.jar = number;
    carried.volume_ml = said(hw_job_jar_left(from, jar->jar));
    if (!jar->from_job[0]) { // one that was carried before keeps where it came from
        hw_copy_text(carried.from_job, sizeof carried.from_job, hw_job_id(from));
        carried.from_jar = jar->jar;
    }
    return (hw_new_event){.name = hw_event_kind_name(HW_EVENT_JAR_MIXED),
                          .body = hw_event_jar_json(&carried)};
}

// False: nothing was said that is carried.
static bool settings_event(const hw_job *from, hw_new_event *out)
{
    hw_job_settings now = hw_job_settings_now(from);
    hw_setting_event carried = {.recoat_minutes = said(now.recoat_minutes),
                                .card_mm = {said(now.card_mm[0]), said(now.card_mm[1])},
                                .ml_m2 = said(now.ml_m2)};
    if (carried.recoat_minutes == 0.0 && carried.card_mm[0] == 0.0 && carried.ml_m2 == 0.0) {
        return false;
    }
    *out = (hw_new_event){.name = hw_event_kind_name(HW_EVENT_SETTING),
                          .body = hw_event_setting_json(&carried)};
    return true;
}

size_t hw_job_carry_most(const hw_job *from)
{
    return hw_job_mixed_jars(from, NULL, 0) + 1;
}

size_t hw_job_carry(const hw_job *from, hw_new_event *out)
{
    size_t count = 0;
    for (size_t i = 0; i < hw_job_event_count(from); i++) {
        const hw_event *event = hw_job_event(from, i);
        if (event->kind == HW_EVENT_JAR_MIXED && !hw_job_jar_is_empty(from, event->of.jar.jar)) {
            out[count] = jar_event(from, &event->of.jar, (long)count + 1);
            count++;
        }
    }
    return count + (settings_event(from, &out[count]) ? 1 : 0);
}
