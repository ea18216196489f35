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

// Is it something done to wood on that photo?
static bool is_done_to(const hw_event *event, const hw_marks *marks)
{
    bool done = false;
    for (size_t i = 0; i < marks->count && event->kind != HW_EVENT_PHOTO_ADDED && !done; i++) {
        done = hw_role_is_wood(marks->mark[i].role) && is_on(event, marks->mark[i].name);
    }
    return done;
}

// What is asked about: the wood on a photo or, without marks, parts.
typedef struct asked {
    const hw_marks *marks;
    const char (*parts)[HW_NAME_SIZE];
    size_t count;
} asked;

static bool concerns(const hw_event *event, const asked *what)
{
    return what->marks ? is_done_to(event, what->marks)
                       : is_of_those(event, what->parts, what->count);
}

// "1 pass of jar 2 on lid strip (event 9, 4 minutes ago), and 2 more before it": what of it was logged behind `seen`; false:
// nothing.
static bool say_behind(const hw_job *job, long seen, const asked *what, int64_t now, char *out,
                       size_t size)
{
    const hw_event *last = NULL;
    size_t behind = 0;
    char words[240], ago[48], others[48] = "";
    for (size_t i = hw_job_event_count(job); seen > 0 && i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->number > seen && concerns(event, what)) {
            last = last ? last : event;
            behind++;
        }
    }
    if (!last) {
        return false;
    }
    hw_report_event_words(last, words, sizeof words);
    say_ago(now - last->at, ago, sizeof ago);
    if (behind > 1) {
        hw_format_text(others, sizeof others, ", and %zu more before it", behind - 1);
    }
    hw_format_text(out, size, "%s (event %ld, %s)%s", words, last->number, ago, others);
    return true;
}

hw_status hw_steps_check_seen(const hw_job *job, long seen, const char (*parts)[HW_NAME_SIZE],
                              size_t count, int64_t now, hw_error *err)
{
    const asked what = {.parts = parts, .count = count};
    char words[400];
    if (!say_behind(job, seen, &what, now, words, sizeof words)) {
        return HW_OK;
    }
    return hw_fail(err, HW_ERR_CALL, "moved-on", count > 0 ? parts[0] : "the piece",
                   "Look at the job as it is now. Log yours again if it was done beside that.",
                   "meanwhile this was logged: %s", words);
}

hw_status hw_steps_check_taken(const hw_job *job, long seen, const hw_marks *marks, int64_t now,
                               hw_error *err)
{
    const asked what = {.marks = marks};
    char words[400];
    if (!say_behind(job, seen, &what, now, words, sizeof words)) {
        return HW_OK;
    }
    return hw_fail(err, HW_ERR_CALL, "moved-on", "the photo",
                   "Does the photo show that? Then keep it. If not, drop it and take another one: "
                   "it would say that nothing came of it.",
                   "since it was sent this was logged: %s", words);
}
