// job_parts.c: the parts of the piece as they are now: surface, toner and coats that lie on each; the
// jars; and whether somebody found it right since anything was last done.
#include "job_internal.h"

#include <limits.h>

// ---- Parts -------------------------------------------------------------------------

typedef struct listing {
    hw_part_now *part;
    size_t count, room;
    bool memory_out;
} listing;

static void list_part(listing *all, hw_role role, const char *name)
{
    if (!hw_role_is_wood(role)) {
        return;
    }
    for (size_t i = 0; i < all->count; i++) {
        if (strcmp(all->part[i].name, name) == 0) {
            return;
        }
    }
    if (all->count == all->room) {
        size_t room = all->room ? 2 * all->room : 16;
        hw_part_now *grown = hw_resize_array(all->part, room, sizeof *grown);
        if (!grown) {
            all->memory_out = true;
            return;
        }
        all->part = grown;
        all->room = room;
    }
    all->part[all->count++] = (hw_part_now){.name = name, .role = role};
}

static void list_names(listing *all, const char (*names)[HW_NAME_SIZE], size_t count)
{
    for (size_t i = 0; i < count; i++) {
        list_part(all, HW_ROLE_PATCH, names[i]);
    }
}

static void list_event(listing *all, const hw_event *event)
{
    const hw_marks *marks = &event->of.photo.marks;
    switch (event->kind) {
    case HW_EVENT_PHOTO_ADDED:
        for (size_t i = 0; i < marks->count; i++) {
            list_part(all, marks->mark[i].role, marks->mark[i].name);
        }
        break;
    case HW_EVENT_PASS_LAID: // a part that no photo has marked yet: toner is laid on repairs
        list_names(all, (const char(*)[HW_NAME_SIZE])event->of.pass.patches,
                   event->of.pass.patch_count);
        break;
    case HW_EVENT_COAT_LAID:
        list_names(all, (const char(*)[HW_NAME_SIZE])event->of.coat.parts,
                   event->of.coat.part_count);
        break;
    case HW_EVENT_TAKEN_OFF:
        list_names(all, (const char(*)[HW_NAME_SIZE])event->of.takeoff.parts,
                   event->of.takeoff.part_count);
        break;
    case HW_EVENT_SETTING: // an area given under a slip of a name can be found and renamed
        for (size_t i = 0; i < event->of.setting.area_count; i++) {
            list_part(all, HW_ROLE_PATCH, event->of.setting.areas[i].part);
        }
        break;
    default:
        break;
    }
}

static void fill_part(const hw_job *job, hw_part_now *part)
{
    part->state = hw_job_state(job, 0, part->name);
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (hw_job_pass_lies(job, event, part->name, LONG_MAX)) {
            part->passes += event->of.pass.passes;
        } else if (hw_job_coat_lies(job, event, part->name, LONG_MAX) &&
                   (!part->coat || hw_event_place(event) >= hw_event_place(part->coat))) {
            part->coat = event;
        }
    }
}

hw_status hw_job_parts(const hw_job *job, hw_part_now **out, size_t *count, hw_error *err)
{
    listing all = {0};
    for (int photos = 1; photos >= 0; photos--) { // what photos say a part is comes before all else
        for (size_t i = 0; i < hw_job_event_count(job); i++) {
            const hw_event *event = hw_job_event(job, i);
            if ((event->kind == HW_EVENT_PHOTO_ADDED) == (photos == 1)) {
                list_event(&all, event);
            }
        }
    }
    if (all.memory_out) {
        hw_free(all.part);
        return hw_fail_memory(err, "listing the parts");
    }
    for (size_t i = 0; i < all.count; i++) {
        fill_part(job, &all.part[i]);
    }
    *out = all.part;
    *count = all.count;
    return HW_OK;
}

void hw_job_parts_free(hw_part_now *parts)
{
    hw_free(parts);
}

// ---- Jars --------------------------------------------------------------------------

const hw_jar_event *hw_job_jar(const hw_job *job, long number)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_JAR_MIXED && event->of.jar.jar == number) {
            return &event->of.jar;
        }
    }
    return NULL;
}

// The fullest of those that hold it; where nobody knows how full, the latest.
const hw_jar_event *hw_job_jar_of(const hw_job *job, const hw_liquid *liquid)
{
    const hw_jar_event *fullest = NULL;
    double most = -1.0;
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        const hw_jar_event *jar = &event->of.jar;
        if (event->kind != HW_EVENT_JAR_MIXED || !hw_liquid_is_same(&jar->liquid, liquid)) {
            continue;
        }
        double left = hw_job_jar_left(job, jar->jar);
        if (!fullest || left > most) { // not known: false
            fullest = jar;
            most = left > most ? left : most;
        }
    }
    return fullest;
}

// A number that no line tells of any more is a jar all the same: it was withdrawn after something was laid out of it.
void hw_job_jar_key(const hw_job *job, long number, char out[HW_JAR_KEY_SIZE])
{
    const hw_jar_event *jar = hw_job_jar(job, number);
    if (jar && jar->from_job[0]) {
        hw_format_text(out, HW_JAR_KEY_SIZE, "%s/%ld", jar->from_job, jar->from_jar);
    } else {
        hw_format_text(out, HW_JAR_KEY_SIZE, "%s/%ld", hw_job_id(job), number);
    }
}

size_t hw_job_mixed_jars(const hw_job *job, hw_mixed_jar *out, size_t room)
{
    size_t count = 0;
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind != HW_EVENT_JAR_MIXED) {
            continue;
        }
        if (count < room) {
            out[count].liquid = event->of.jar.liquid;
            hw_job_jar_key(job, event->of.jar.jar, out[count].key);
        }
        count++;
    }
    return count;
}

// ---- Approval ----------------------------------------------------------------------

const hw_event *hw_job_approval(const hw_job *job)
{
    const hw_event *approval = NULL;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_APPROVAL) {
            approval = event;
        } else if (event->kind == HW_EVENT_PASS_LAID || event->kind == HW_EVENT_COAT_LAID ||
                   event->kind == HW_EVENT_TAKEN_OFF) {
            approval = approval && hw_event_place(event) >= approval->number ? NULL : approval;
        }
    }
    return approval;
}
