// steps_carry.c: a job started from an earlier one: its jars, its settings, and its dyes onto the shelf.
//
// The shelf comes first and the job last: what a kill between leaves is a shelf that knows more, and the start can be
// made again. That the start can be made at all is tested before.
#include "steps_internal.h"

#include <string.h>

typedef struct carrying {
    const hw_start_request *request;
    hw_limits limits;
    hw_job *from;
    hw_shelf shelf; // the file as it is
    char path[1024];
    hw_carried carried;
} carrying;

// ---- Dyes --------------------------------------------------------------------------

// As it was known when it was first mixed or laid: what its passes taught since lies on the shelf by itself.
static const hw_used_dye *first_used(const hw_job *from, const char *name)
{
    for (size_t i = 0; i < hw_job_event_count(from); i++) {
        size_t count;
        const hw_used_dye *dyes = hw_steps_dyes_in(hw_job_event(from, i), &count);
        for (size_t k = 0; k < count; k++) {
            if (strcmp(dyes[k].name, name) == 0) {
                return &dyes[k];
            }
        }
    }
    return NULL;
}

static bool is_put(const carrying *c, const char *name)
{
    for (size_t i = 0; i < c->carried.dye_count; i++) {
        if (strcmp(c->carried.dyes[i], name) == 0) {
            return true;
        }
    }
    return false;
}

// A shelf that cannot be written is no reason not to start.
static void put_dye(carrying *c, const hw_used_dye *used)
{
    hw_error why = {0};
    hw_dye dye = hw_steps_dye_of_log(used);
    if (hw_shelf_find(&c->shelf, used->name) || is_put(c, used->name)) {
        return;
    }
    if (hw_steps_is_forgotten(&c->shelf, used->name)) {
        hw_warn(&c->carried.warnings,
                "%s was taken off your shelf and is not put back. If it shall be there: huewright "
                "shelf add.",
                used->name);
    } else if (hw_shelf_put_dye(c->path, &c->limits, &dye, &why) == HW_OK) {
        hw_copy_text(c->carried.dyes[c->carried.dye_count++], HW_NAME_SIZE, used->name);
    } else {
        hw_warn(&c->carried.warnings, "The shelf could not take the dye %s: %s: %s. %s", used->name,
                why.subject, why.what, why.next);
    }
}

// Those of their own names.
static void put_named(carrying *c)
{
    for (size_t i = 0; i < hw_job_event_count(c->from); i++) {
        size_t count;
        const hw_used_dye *dyes = hw_steps_dyes_in(hw_job_event(c->from, i), &count);
        for (size_t k = 0; k < count; k++) {
            hw_family family;
            if (!hw_family_from_name(dyes[k].name, &family)) {
                put_dye(c, &dyes[k]);
            }
        }
    }
}

// Those that a jar holds, families too.
static void put_of_jars(carrying *c)
{
    for (size_t i = 0; i < hw_job_event_count(c->from); i++) {
        const hw_event *event = hw_job_event(c->from, i);
        const hw_liquid *liquid = &event->of.jar.liquid;
        for (size_t k = 0; event->kind == HW_EVENT_JAR_MIXED && k < liquid->count; k++) {
            const hw_used_dye *used = first_used(c->from, liquid->dose[k].dye);
            if (used) {
                put_dye(c, used);
            }
        }
    }
}

// At least as many as there are dyes in the job.
static size_t dyes_most(const hw_job *from)
{
    size_t most = 0;
    for (size_t i = 0; i < hw_job_event_count(from); i++) {
        size_t count;
        hw_steps_dyes_in(hw_job_event(from, i), &count);
        most += count;
    }
    return most;
}

// Dyes of their own names first: with one of them on the shelf its guesses are in use no more, and a jar that holds a
// family needs it there.
static hw_status put_dyes(carrying *c, hw_error *err)
{
    c->carried.dyes = hw_alloc_array(dyes_most(c->from), HW_NAME_SIZE);
    if (!c->carried.dyes) {
        return hw_fail_memory(err, "taking the job's dyes");
    }
    put_named(c);
    if (c->shelf.count + c->carried.dye_count > 0) {
        put_of_jars(c);
    }
    return HW_OK;
}

// ---- Jars --------------------------------------------------------------------------

static void warn_left_behind(carrying *c)
{
    for (size_t i = 0; i < hw_job_event_count(c->from); i++) {
        const hw_event *event = hw_job_event(c->from, i);
        if (event->kind == HW_EVENT_JAR_MIXED && hw_job_jar_is_empty(c->from, event->of.jar.jar)) {
            hw_warn(&c->carried.warnings,
                    "By what was laid from it jar %ld is empty, so it was left behind. If there is "
                    "something in it, log it for the new job: huewright jar.",
                    event->of.jar.jar);
        }
    }
}

// ---- The step ----------------------------------------------------------------------

static hw_status check_request(const hw_start_request *request, const char *title, hw_error *err)
{
    if (!request->from) {
        return HW_OK;
    }
    size_t one = strlen(request->folder), other = strlen(request->from);
    while (one > 1 && request->folder[one - 1] == '/') {
        one--;
    }
    while (other > 1 && request->from[other - 1] == '/') {
        other--;
    }
    if (one == other && strncmp(request->folder, request->from, one) == 0) {
        return hw_fail(err, HW_ERR_CALL, "start-same", request->folder,
                       "Name another folder for the new job.",
                       "a job cannot be started from itself");
    }
    return hw_job_may_start(request->folder, title, err);
}

static hw_status learn_old(carrying *c, hw_error *err)
{
    hw_shelf learned = {0};
    hw_status status = hw_steps_learn(c->from, c->request->shelf_path, 0, &c->limits, &learned,
                                      &c->carried.warnings, err);
    hw_shelf_free(&learned);
    if (status != HW_OK || !c->path[0]) {
        return status;
    }
    return hw_shelf_load(c->path, &c->limits, &c->shelf, err);
}

static bool has_passes(const hw_job *job)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        if (hw_job_event(job, i)->kind == HW_EVENT_PASS_LAID) {
            return true;
        }
    }
    return false;
}

static hw_status learn_from(carrying *c, hw_error *err)
{
    const hw_start_request *request = c->request;
    hw_status status = hw_job_open(request->from, &c->limits, &c->from, err);
    if (status == HW_OK) {
        hw_warnings_append(&c->carried.warnings, hw_job_warnings(c->from));
        c->carried.passes = has_passes(c->from);
        hw_copy_text(c->carried.from_title, sizeof c->carried.from_title, hw_job_title(c->from));
        if (request->shelf_path) {
            hw_copy_text(c->path, sizeof c->path, request->shelf_path);
        } else if (!hw_shelf_user_path(c->path, sizeof c->path)) {
            c->path[0] = 0;
        }
        status = learn_old(c, err);
    }
    return status == HW_OK && c->path[0] ? put_dyes(c, err) : status;
}

static hw_status carry(carrying *c, int64_t now, hw_error *err)
{
    const hw_start_request *request = c->request;
    const char *title = request->title ? request->title : "";
    bool again = request->entry && hw_job_is_of_entry(request->folder, request->entry);
    hw_status status = again ? HW_OK : check_request(request, title, err);
    if (status == HW_OK && !again && request->from) {
        status = learn_from(c, err);
    }
    if (status == HW_OK && !again) {
        status = hw_job_start_entry(request->folder, title, c->from, request->entry, now, err);
    }
    if (status == HW_OK && !again && c->from) {
        warn_left_behind(c);
    }
    return status == HW_OK ? hw_job_open(request->folder, &c->limits, &c->carried.job, err)
                           : status;
}

hw_status hw_steps_start_from(const hw_start_request *request, const hw_limits *limits, int64_t now,
                              hw_carried *out, hw_error *err)
{
    carrying c = {.request = request,
                  .limits = hw_steps_limits(limits),
                  .carried = {.folder = request->folder, .from = request->from}};
    hw_status status = carry(&c, now, err);
    if (status == HW_OK) {
        *out = c.carried;
    } else {
        hw_carried_free(&c.carried);
    }
    hw_shelf_free(&c.shelf);
    hw_job_free(c.from);
    return status;
}
