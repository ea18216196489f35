// steps_question.c: the one thing that a photo cannot show and a person knows: what is on the wood.
//
// At most one question a photo, for all of its repairs at once; only where the answer is not known, or
// was true before dye was laid. It can be skipped: then the last answer holds.
#include "steps_internal.h"

#include <string.h>

static bool is_said(const hw_photo_request *request, const char *part)
{
    for (size_t i = 0; i < request->state_count; i++) {
        if (strcmp(request->states[i].part, part) == 0) {
            return true;
        }
    }
    return false;
}

static bool dye_since_photo(const hw_job *job, const char *patch)
{
    const hw_event *photo = hw_job_last_photo_of_patch(job, patch);
    return photo && hw_job_layers(job, patch, photo->number, NULL, 0) > 0;
}

static void add_part(hw_question *out, const char *name)
{
    if (out->part_count < HW_QUESTION_PARTS) {
        hw_copy_text(out->part[out->part_count++], HW_NAME_SIZE, name);
    }
}

void hw_steps_ask_about(const hw_job *job, const hw_photo_request *request, const hw_marks *marks,
                        hw_question *out)
{
    bool dyed = false;
    for (size_t i = 0; i < marks->count; i++) {
        const char *name = marks->mark[i].name;
        if (marks->mark[i].role != HW_ROLE_PATCH || is_said(request, name)) {
            continue;
        }
        hw_state known = hw_job_state(job, 0, name);
        bool dye = dye_since_photo(job, name);
        if (known == HW_STATE_UNKNOWN || dye) {
            // Several parts, several last answers: the first one that is known is offered.
            out->last = out->last == HW_STATE_UNKNOWN ? known : out->last;
            add_part(out, name);
            dyed = dyed || dye;
        }
    }
    out->asked = out->part_count > 0;
    const size_t named = 3; // by name; more would hide the question
    char names[3 * HW_NAME_SIZE + 40] = "";
    for (size_t i = 0; i < out->part_count && i < named; i++) {
        hw_steps_add_name(names, sizeof names, out->part[i]);
    }
    if (out->part_count > named) {
        size_t length = strlen(names);
        hw_format_text(names + length, sizeof names - length, " and %zu more",
                       out->part_count - named);
    }
    hw_format_text(out->words, sizeof out->words,
                   "%sWhat is on %s now: bare, damp, not_dry, sealed, finished or rubbed_out?",
                   dyed ? "Dye was laid since the last photo. " : "", names);
}

hw_status hw_steps_question(const hw_photo_request *request, const hw_limits *limits,
                            hw_question *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_job *job = NULL;
    hw_marks given = {0};
    hw_warnings told_later = {0};
    hw_question question = {0};
    hw_status status = hw_job_open(request->folder, &bounds, &job, err);
    if (status != HW_OK) {
        return status;
    }
    if (request->read.marks_path || request->read.marks.count > 0) {
        status = hw_steps_marks(&request->read, &bounds, &given, &told_later, err);
    }
    const hw_event *last =
        hw_steps_last_alike(job, request->view ? request->view : "front", request->read.from);
    if (status == HW_OK && hw_steps_has_wood(&given)) {
        hw_steps_ask_about(job, request, &given, &question);
    } else if (status == HW_OK && last) { // whose marks are carried
        hw_steps_ask_about(job, request, &last->of.photo.marks, &question);
    }
    if (status == HW_OK) {
        *out = question;
    }
    hw_marks_free(&given);
    hw_job_free(job);
    return status;
}
