// job_add.c: each kind of event into the log.
#include "job_internal.h"

static hw_status add_one(hw_job *job, hw_event_kind kind, hw_json *body, int64_t now, long *number,
                         hw_error *err)
{
    hw_new_event event = {.name = hw_event_kind_name(kind), .body = body};
    return hw_job_append(job, &event, 1, now, number, err);
}

// ---- Photos and readings -----------------------------------------------------------

static bool is_named(const hw_job *job, hw_role role, const char *part)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PART_NAMED && event->of.part.role == role &&
            strcmp(event->of.part.part, part) == 0) {
            return true;
        }
    }
    return false;
}

// A reading in its public shape as the body of an event, without the photo that it is of.
static hw_status reading_body(const hw_job *job, const char *reading_json, hw_json **out,
                              hw_error *err)
{
    hw_json *reading = NULL;
    hw_limits limits = hw_job_limits(job);
    hw_status status =
        hw_json_parse(reading_json, strlen(reading_json), &limits, "reading", &reading, err);
    if (status == HW_OK) {
        *out = hw_json_new_object();
        hw_json_add_tree(*out, "reading", reading);
    }
    return status;
}

// The photo, the parts that it names, and its reading where there is one.
static hw_status add_seen(hw_job *job, const hw_photo_event *photo, hw_json *reading, int64_t now,
                          long *number, hw_error *err)
{
    hw_new_event *events = hw_alloc_array(photo->marks.count + 2, sizeof *events);
    if (!events) {
        hw_json_free(reading);
        return hw_fail_memory(err, "logging the photo");
    }
    size_t count = 0;
    events[count++] =
        (hw_new_event){.name = hw_photo_event_name(photo), .body = hw_event_photo_json(photo)};
    for (size_t i = 0; i < photo->marks.count; i++) {
        const hw_mark *mark = &photo->marks.mark[i];
        if (hw_role_is_wood(mark->role) && !is_named(job, mark->role, mark->name)) {
            hw_part_event part = {.role = mark->role};
            hw_copy_text(part.part, sizeof part.part, mark->name);
            events[count++] = (hw_new_event){.name = hw_event_kind_name(HW_EVENT_PART_NAMED),
                                             .body = hw_event_part_json(&part)};
        }
    }
    if (reading) {
        events[count++] = (hw_new_event){
            .name = hw_event_kind_name(HW_EVENT_READING), .body = reading, .reads_first = true};
    }
    hw_status status = hw_job_append(job, events, count, now, number, err);
    hw_free(events);
    return status;
}

hw_status hw_job_add_photo(hw_job *job, const hw_photo_event *photo, int64_t now, long *number,
                           hw_error *err)
{
    return add_seen(job, photo, NULL, now, number, err);
}

hw_status hw_job_add_photo_read(hw_job *job, const hw_photo_event *photo, const char *reading_json,
                                int64_t now, long *number, hw_error *err)
{
    hw_json *reading = NULL;
    hw_status status = reading_body(job, reading_json, &reading, err);
    return status == HW_OK ? add_seen(job, photo, reading, now, number, err) : status;
}

hw_status hw_job_add_reading(hw_job *job, long photo, const char *reading_json, int64_t now,
                             long *number, hw_error *err)
{
    hw_json *body = NULL;
    hw_status status = reading_body(job, reading_json, &body, err);
    hw_json_add_number(body, "photo_event", (double)photo);
    return status == HW_OK ? add_one(job, HW_EVENT_READING, body, now, number, err) : status;
}

// ---- What was advised, done and said -----------------------------------------------

hw_status hw_job_add_plan(hw_job *job, const hw_plan_event *plan, int64_t now, long *number,
                          hw_error *err)
{
    return add_one(job, HW_EVENT_PLAN_SHOWN, hw_event_plan_json(plan), now, number, err);
}

hw_status hw_job_add_pass(hw_job *job, const hw_pass_event *pass, int64_t now, long *number,
                          hw_error *err)
{
    return add_one(job, HW_EVENT_PASS_LAID, hw_event_pass_json(pass), now, number, err);
}

hw_status hw_job_add_part(hw_job *job, const hw_part_event *part, int64_t now, long *number,
                          hw_error *err)
{
    return add_one(job, HW_EVENT_PART_NAMED, hw_event_part_json(part), now, number, err);
}

hw_status hw_job_add_coat(hw_job *job, const hw_coat_event *coat, int64_t now, long *number,
                          hw_error *err)
{
    return add_one(job, HW_EVENT_COAT_LAID, hw_event_coat_json(coat), now, number, err);
}

hw_status hw_job_add_takeoff(hw_job *job, const hw_takeoff_event *takeoff, int64_t now,
                             long *number, hw_error *err)
{
    return add_one(job, HW_EVENT_TAKEN_OFF, hw_event_takeoff_json(takeoff), now, number, err);
}

hw_status hw_job_add_jar(hw_job *job, const hw_jar_event *jar, int64_t now, long *number,
                         hw_error *err)
{
    hw_new_event event = {.name = hw_event_kind_name(HW_EVENT_JAR_MIXED),
                          .body = hw_event_jar_json(jar),
                          .takes_jar_number = true};
    return hw_job_append(job, &event, 1, now, number, err);
}

hw_status hw_job_add_note(hw_job *job, const hw_note_event *note, int64_t now, long *number,
                          hw_error *err)
{
    return add_one(job, HW_EVENT_NOTE, hw_event_note_json(note), now, number, err);
}

hw_status hw_job_add_approval(hw_job *job, const hw_approval_event *approval, int64_t now,
                              long *number, hw_error *err)
{
    return add_one(job, HW_EVENT_APPROVAL, hw_event_approval_json(approval), now, number, err);
}

hw_status hw_job_add_setting(hw_job *job, const hw_setting_event *setting, int64_t now,
                             long *number, hw_error *err)
{
    return add_one(job, HW_EVENT_SETTING, hw_event_setting_json(setting), now, number, err);
}

// ---- Corrections -------------------------------------------------------------------

// Members of `from` that differ in `to`, with their values there; null where it has none.
static size_t add_difference(const hw_json *from, const hw_json *to, hw_json *out)
{
    size_t count = 0;
    for (const hw_json *one = hw_json_first(from); one; one = hw_json_next(one)) {
        const hw_json *other = hw_json_member(to, hw_json_name(one));
        if (!other) {
            hw_json_add_null(out, hw_json_name(one));
            count++;
        } else if (!hw_json_is_same(one, other)) {
            hw_json_add_tree(out, hw_json_name(one), hw_json_copy(other));
            count++;
        }
    }
    return count;
}

static size_t add_missing(const hw_json *from, const hw_json *to, hw_json *out)
{
    size_t count = 0;
    for (const hw_json *one = hw_json_first(to); one; one = hw_json_next(one)) {
        if (!hw_json_member(from, hw_json_name(one))) {
            hw_json_add_tree(out, hw_json_name(one), hw_json_copy(one));
            count++;
        }
    }
    return count;
}

hw_status hw_job_add_correction(hw_job *job, long of, const hw_event *now_so,
                                const char *reading_json, int64_t now, long *number, hw_error *err)
{
    const hw_event *old = hw_job_event_numbered(job, of);
    hw_json *was = old ? hw_event_body_json(old) : NULL, *is = hw_event_body_json(now_so);
    hw_json *body = hw_json_new_object();
    hw_json_add_number(body, "of", (double)of);
    hw_json *change = hw_json_add_object(body, "change");
    size_t count = add_difference(was, is, change) + add_missing(was, is, change);
    hw_json *before = hw_json_add_object(body, "was");
    count += add_difference(is, was, before) + add_missing(is, was, before);
    char *tested = NULL; // what memory ran out on cannot be told from what did not change
    hw_status status = was && is && hw_json_print(is, false, &tested, NULL) == HW_OK
                           ? HW_OK
                           : hw_fail_memory(err, "correcting the event");
    hw_free(tested);
    hw_json_free(was);
    hw_json_free(is);
    *number = 0;
    hw_new_event events[2] = {{.name = hw_event_kind_name(HW_EVENT_CORRECTION), .body = body},
                              {.name = hw_event_kind_name(HW_EVENT_READING)}};
    if (status == HW_OK && count > 0 && reading_json) {
        status = reading_body(job, reading_json, &events[1].body, err);
        hw_json_add_number(events[1].body, "photo_event", (double)of);
    }
    if (status != HW_OK || count == 0) {
        hw_json_free(body);
        return status;
    }
    return hw_job_append(job, events, reading_json ? 2 : 1, now, number, err);
}

hw_status hw_job_add_withdrawal(hw_job *job, long of, int64_t now, long *number, hw_error *err)
{
    hw_json *body = hw_json_new_object();
    hw_json_add_number(body, "of", (double)of);
    hw_json_add_bool(body, "withdraw", true);
    return add_one(job, HW_EVENT_CORRECTION, body, now, number, err);
}
