// steps_seen.c: two people at one job: what was logged behind the last number that one of them has seen. Whoever logs a pass
// that the other has logged a minute ago shall be asked first: a pass that was laid once and logged twice spoils all that is
// learned from it.
#include "steps_internal.h"

#include <string.h>

static bool is_on(const hw_event *event, const char *part)
{
    return hw_pass_is_on(event, part) || hw_coat_is_on(event, part) ||
           hw_takeoff_is_on(event, part) ||
           (event->kind == HW_EVENT_PHOTO_ADDED &&
            hw_marks_find_wood(&event->of.photo.marks, part) != NULL);
}

static bool is_of_those(const hw_event *event, const char (*parts)[HW_NAME_SIZE], size_t count)
{
    bool any =
        count == 0 && (event->kind == HW_EVENT_PHOTO_ADDED || event->kind == HW_EVENT_PASS_LAID ||
                       event->kind == HW_EVENT_COAT_LAID || event->kind == HW_EVENT_TAKEN_OFF);
    for (size_t i = 0; i < count && !any; i++) {
        any = is_on(event, parts[i]);
    }
    return any;
}

// Whole units, rounded down: "4 minutes ago".
static void say_ago(int64_t seconds, char *out, size_t size)
{
    int64_t minutes = seconds / 60;
    if (minutes < 1) {
        hw_copy_text(out, size, "less than a minute ago"); // also where a clock was set back
    } else if (minutes < 120) {
        hw_format_text(out, size, "%d minute%s ago", (int)minutes, minutes == 1 ? "" : "s");
    } else if (minutes < 2880) {
        hw_format_text(out, size, "%d hours ago", (int)(minutes / 60));
    } else {
        hw_format_text(out, size, "%lld days ago", (long long)(minutes / 1440));
    }
}

hw_status hw_steps_check_seen(const hw_job *job, long seen, const char (*parts)[HW_NAME_SIZE],
                              size_t count, int64_t now, hw_error *err)
{
    const hw_event *last = NULL;
    size_t behind = 0;
    for (size_t i = hw_job_event_count(job); seen > 0 && i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->number > seen && is_of_those(event, parts, count)) {
            last = last ? last : event;
            behind++;
        }
    }
    if (!last) {
        return HW_OK;
    }
    char words[240], ago[48], others[48] = "";
    hw_report_event_words(last, words, sizeof words);
    say_ago(now - last->at, ago, sizeof ago);
    if (behind > 1) {
        hw_format_text(others, sizeof others, ", and %zu more before it", behind - 1);
    }
    return hw_fail(err, HW_ERR_CALL, "moved-on", count > 0 ? parts[0] : "the piece",
                   "Look at the job as it is now. Log yours again if it was done beside that.",
                   "meanwhile this was logged: %s (event %ld, %s)%s", words, last->number, ago,
                   others);
}
