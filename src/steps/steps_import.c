// steps_import.c: readings of an instrument join a job, in place of a photo or beside one.
//
// The file's samples become the card, old wood and repairs by their names: those of the job's parts, or as it is
// said which sample is which. A repair keeps the old wood beside it that photos of it had. What was measured is
// logged as it is, and compared as a photo is.
#include "steps_internal.h"

#include "huewright/measure.h"
#include "huewright/report.h"

#include <math.h>
#include <string.h>

// Everything of one call that must be freed.
typedef struct importing {
    hw_job *job;
    hw_measured measured;
    bool *used;           // of the readings: belongs to a part
    hw_photo_event event; // owns its marks
    hw_logged_sample *samples;
    size_t sample_count;
    hw_reading reading;
    hw_warnings *warnings;
} importing;

// ---- Which sample is what ----------------------------------------------------------

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

// Names of samples are typed twice, in the instrument and here: capitals make no other part.
static bool same_name(const char *one, const char *other, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        if (lower(one[i]) != lower(other[i])) {
            return false;
        }
    }
    return one[length] == 0;
}

// The next name in "3, 4, rail", without blanks around it; false: there is none. *at starts at the list.
static bool next_name(const char **at, char out[HW_NAME_SIZE])
{
    if (!*at) {
        return false;
    }
    const char *start = *at + strspn(*at, " ");
    size_t length = strcspn(start, ",");
    *at = start[length] ? start + length + 1 : NULL;
    while (length > 0 && start[length - 1] == ' ') {
        length--;
    }
    length = length < HW_NAME_SIZE ? length : HW_NAME_SIZE - 1;
    memcpy(out, start, length);
    out[length] = 0;
    return true;
}

// Takes the file's readings of that name. False: there is none, or they belong to a part already (*twice).
static bool take_readings(importing *work, const char *name, hw_measured *chosen, bool *twice)
{
    bool found = false;
    for (size_t i = 0; i < work->measured.count; i++) {
        const char *sample = work->measured.reading[i].name;
        if (strlen(sample) != strlen(name) || !same_name(sample, name, strlen(name))) {
            continue;
        }
        *twice = *twice || work->used[i];
        found = true;
        hw_measured_reading *one = &chosen->reading[chosen->count++];
        *one = work->measured.reading[i];
        hw_copy_text(one->name, HW_NAME_SIZE, "one");
        one->named = true;
        work->used[i] = true;
    }
    return found && !*twice;
}

static void list_samples(const importing *work, bool unused, char *out, size_t size);

static hw_status refuse_sample(const importing *work, const char *name, bool twice, hw_error *err)
{
    char names[320] = "", next[480];
    list_samples(work, false, names, sizeof names);
    hw_format_text(next, sizeof next, "The file has: %s.", names);
    return twice ? hw_fail(err, HW_ERR_CALL, "sample-twice", name, "Give each sample to one part.",
                           "this sample is named twice")
                 : hw_fail(err, HW_ERR_CALL, "sample-unknown", name, next,
                           "the file has no sample of that name");
}

// One colour of all the file's readings with these names. Where `all` of them must be there, one that is not is
// refused; else *found tells.
static hw_status gather(importing *work, const char *names, bool all, hw_measured_group *out,
                        bool *found, hw_error *err)
{
    hw_measured chosen = work->measured; // its facts; the readings are ours
    hw_measured_groups groups = {0};
    char name[HW_NAME_SIZE];
    hw_status status = HW_OK;
    chosen.count = 0;
    // Each reading is taken once, or refused when it is taken again: there is room for both.
    chosen.reading = hw_alloc_array(2 * work->measured.count, sizeof *chosen.reading);
    if (!chosen.reading) {
        return hw_fail_memory(err, "reading what was measured");
    }
    for (const char *at = names; status == HW_OK && next_name(&at, name);) {
        bool twice = false;
        bool taken = take_readings(work, name, &chosen, &twice);
        if (!taken && all) {
            status = refuse_sample(work, name, twice, err);
        } else if (twice) {
            chosen.count = 0; // said to be another part
        }
    }
    *found = status == HW_OK && chosen.count > 0;
    if (*found) {
        status = hw_measure_group(&chosen, &groups, err);
    }
    if (status == HW_OK && *found) {
        *out = groups.group[0];
    }
    hw_measured_groups_free(&groups);
    hw_free(chosen.reading);
    return status;
}

// ---- How well a few spots tell of a part -------------------------------------------

// Wood differs from spot to spot under an instrument's small window, so one spot says little of a part. s.d. of a
// spot about its part (chosen: two spots of one surface then differ by about 2 in CIE 1976, as measured on solid wood,
// Eur. J. Wood Prod. 2011, 10.1007/s00107-011-0545-z); it counts as two degrees of freedom beside what is seen.
static const double spot_scatter[3] = {1.0, 0.5, 0.8};
static const double spot_dof = 2.0;
#define SPOTS_WANTED 5 // then figure and instrument doubt it alike (chosen)

// Standard uncertainty of the part's mean colour.
static void part_doubt(const hw_measured_group *group, double out[3])
{
    double n = (double)group->count;
    for (int axis = 0; axis < 3; axis++) {
        double own = group->standard_error[axis] * group->standard_error[axis];
        double other = group->u[axis] * group->u[axis] - own; // instrument, conversion
        double seen = group->count > 1 ? own * n : 0.0;       // variance of a spot
        double prior = spot_scatter[axis] * spot_scatter[axis];
        double spot = (spot_dof * prior + (n - 1.0) * seen) / (spot_dof + n - 1.0);
        out[axis] = sqrt(fmax(other, 0.0) + spot / n);
    }
}

static void warn_few_spots(const char *part, size_t count, hw_warnings *warnings)
{
    if (count < SPOTS_WANTED) {
        hw_warn(
            warnings,
            "%s: %zu spot%s measured. Wood varies from spot to spot: measure %d or more, spread "
            "over it.",
            part, count, count == 1 ? "" : "s", SPOTS_WANTED);
    }
}

// ---- Parts of the event ------------------------------------------------------------

// Old wood beside the repair, and its kind, as the last photo of it says.
static hw_status copy_place(const hw_job *job, hw_mark *mark, hw_error *err)
{
    const hw_event *photo = hw_job_last_photo_of_patch(job, mark->name);
    const hw_mark *seen =
        photo ? hw_marks_find(&photo->of.photo.marks, HW_ROLE_PATCH, mark->name) : NULL;
    if (!seen) {
        return HW_OK;
    }
    mark->kind = seen->kind;
    if (seen->beside_count > 0) {
        mark->beside = hw_alloc_array(seen->beside_count, sizeof *mark->beside);
        if (!mark->beside) {
            return hw_fail_memory(err, "reading what was measured");
        }
        memcpy(mark->beside, seen->beside, seen->beside_count * sizeof *mark->beside);
        mark->beside_count = seen->beside_count;
    }
    return HW_OK;
}

static hw_status add_part(importing *work, hw_role role, const char *name,
                          const hw_measured_group *group, hw_error *err)
{
    hw_photo_event *event = &work->event;
    if (role == HW_ROLE_CARD) {
        event->has_card_lab = true;
        event->card_lab = group->lab;
        return HW_OK;
    }
    if (!hw_name_is_usable(name) || strcmp(name, HW_NAME_OF_ALL) == 0) {
        return hw_fail(err, HW_ERR_CALL, "part-name", name, "Use the name that it has on photos.",
                       "this cannot be the name of a part");
    }
    if (hw_marks_find_wood(&event->marks, name)) {
        return hw_fail(err, HW_ERR_CALL, "part-twice", name, "Name each part once.",
                       "this part is named twice");
    }
    hw_mark *marks = hw_resize_array(event->marks.mark, event->marks.count + 1, sizeof *marks);
    event->marks.mark = marks ? marks : event->marks.mark;
    hw_logged_sample *samples =
        marks ? hw_resize_array(work->samples, work->sample_count + 1, sizeof *samples) : NULL;
    work->samples = samples ? samples : work->samples;
    if (!samples) {
        return hw_fail_memory(err, "reading what was measured");
    }
    hw_mark *mark = &marks[event->marks.count++];
    *mark = (hw_mark){.role = role};
    hw_copy_text(mark->name, sizeof mark->name, name);
    hw_logged_sample *sample = &samples[work->sample_count++];
    *sample = (hw_logged_sample){.role = role, .lab = group->lab};
    hw_copy_text(sample->name, sizeof sample->name, name);
    part_doubt(group, sample->standard_error);
    warn_few_spots(name, group->count, work->warnings);
    return role == HW_ROLE_PATCH ? copy_place(work->job, mark, err) : HW_OK;
}

// "front rail, 1, 2": names of the file's samples.
static void list_samples(const importing *work, bool unused, char *out, size_t size)
{
    for (size_t i = 0; i < work->measured.count; i++) {
        bool again = unused && work->used[i];
        for (size_t k = 0; k < i; k++) {
            again = again ||
                    strcmp(work->measured.reading[i].name, work->measured.reading[k].name) == 0;
        }
        if (!again) {
            hw_steps_add_name(out, size, work->measured.reading[i].name);
        }
    }
}

static hw_status take_said(importing *work, const hw_import_request *request, hw_error *err)
{
    for (size_t i = 0; i < request->part_count; i++) {
        const hw_import_part *part = &request->parts[i];
        hw_measured_group group = {0};
        bool found = false;
        hw_status status = gather(work, part->samples, true, &group, &found, err);
        if (status == HW_OK) {
            status = add_part(work, part->role, part->name, &group, err);
        }
        if (status != HW_OK) {
            return status;
        }
    }
    return HW_OK;
}

// Samples that bear the name of a part of the job, or are called card.
static hw_status take_by_name(importing *work, hw_error *err)
{
    hw_part_now *parts = NULL;
    size_t count = 0;
    hw_measured_group group = {0};
    bool found = false;
    hw_status status = hw_job_parts(work->job, &parts, &count, err);
    for (size_t i = 0; status == HW_OK && i < count; i++) {
        if (hw_marks_find_wood(&work->event.marks, parts[i].name) || strchr(parts[i].name, ',')) {
            continue;
        }
        status = gather(work, parts[i].name, false, &group, &found, err);
        if (status == HW_OK && found) {
            status = add_part(work, parts[i].role, parts[i].name, &group, err);
        }
    }
    hw_job_parts_free(parts);
    if (status == HW_OK && !work->event.has_card_lab) {
        status = gather(work, hw_role_name(HW_ROLE_CARD), false, &group, &found, err);
        if (status == HW_OK && found) {
            status = add_part(work, HW_ROLE_CARD, "", &group, err);
        }
    }
    return status;
}

static hw_status tell_rest(const importing *work, hw_warnings *warnings, hw_error *err)
{
    char names[320] = "";
    list_samples(work, true, names, sizeof names);
    if (work->event.marks.count == 0 && !work->event.has_card_lab) {
        char next[480];
        hw_format_text(next, sizeof next,
                       "Say which sample is what, as --patch \"lid strip=3\" --target \"rail=1,2\" "
                       "--card 4. The file has: %s.",
                       names);
        return hw_fail(err, HW_ERR_CALL, "sample-unknown", work->event.original, next,
                       "none of its samples bears the name of a part of this job");
    }
    if (names[0]) {
        hw_warn(warnings, "Left aside, since no part of this job has such a name: %s.", names);
    }
    return HW_OK;
}

// ---- The step ----------------------------------------------------------------------

static hw_status read_file(importing *work, const hw_import_request *request,
                           const hw_limits *limits, hw_warnings *warnings, hw_error *err)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_status status = hw_file_read(request->path, limits->json_bytes, &bytes, &count, err);
    if (status == HW_OK) {
        status = hw_measure_parse(bytes, count, request->path, limits, &work->measured, err);
    }
    hw_free(bytes);
    if (status != HW_OK) {
        return status;
    }
    hw_warnings_append(warnings, &work->measured.warnings);
    work->used = hw_alloc_array(work->measured.count, sizeof *work->used);
    return work->used ? HW_OK : hw_fail_memory(err, "reading what was measured");
}

static hw_status fill_event(importing *work, const hw_import_request *request,
                            hw_warnings *warnings, hw_error *err)
{
    hw_photo_event *event = &work->event;
    event->measured = true;
    event->states = (hw_part_state *)request->states; // borrowed while it is logged
    event->state_count = request->state_count;
    hw_steps_name_of_file(event->original, sizeof event->original, request->path);
    hw_copy_text(event->instrument, sizeof event->instrument, work->measured.instrument);
    hw_status status = hw_steps_check_text("the note", request->note ? request->note : "", err);
    if (status == HW_OK &&
        !hw_copy_text(event->note, sizeof event->note, request->note ? request->note : "")) {
        status = hw_fail(err, HW_ERR_CALL, "note-text", "the note", "Write a shorter one.",
                         "it is longer than %zu bytes", sizeof event->note - 1);
    }
    if (status == HW_OK) {
        status = take_said(work, request, err);
    }
    if (status == HW_OK) {
        status = take_by_name(work, err);
    }
    if (status == HW_OK) {
        status = tell_rest(work, warnings, err);
    }
    return status == HW_OK ? hw_steps_check_states(event, err) : status;
}

static hw_status log_it(importing *work, int64_t now, long *number, hw_error *err)
{
    char *json = NULL;
    hw_status status = hw_report_reading_json(&work->reading, &json, err);
    if (status == HW_OK) {
        status = hw_job_add_photo_read(work->job, &work->event, json, now, number, err);
    }
    hw_report_free(json);
    return status;
}

static void learn(const hw_job *job, const hw_import_request *request, const hw_limits *limits,
                  long number, hw_warnings *warnings)
{
    hw_shelf shelf = {0};
    hw_error why = {0};
    if (hw_steps_learn(job, request->shelf_path, number, limits, &shelf, warnings, &why) != HW_OK) {
        hw_warn(warnings, "What was measured is saved, but nothing is learned from it: %s: %s. %s",
                why.subject, why.what, why.next);
    }
    hw_shelf_free(&shelf);
}

static hw_status import(importing *work, const hw_import_request *request, const hw_limits *limits,
                        int64_t now, long *number, hw_error *err)
{
    hw_status status = read_file(work, request, limits, work->warnings, err);
    if (status == HW_OK) {
        status = fill_event(work, request, work->warnings, err);
    }
    if (status == HW_OK) {
        status = hw_steps_make_measured(&work->event, work->samples, work->sample_count,
                                        &work->reading, err);
    }
    return status == HW_OK ? log_it(work, now, number, err) : status;
}

// What was logged before for the same entry.
static hw_status read_again(importing *work, long *number, hw_error *err)
{
    const hw_event *event = hw_job_said_before(work->job);
    *number = event->number;
    return event->kind == HW_EVENT_PHOTO_ADDED && event->of.photo.measured
               ? hw_steps_read_measured(work->job, event, &work->reading, err)
               : HW_OK;
}

hw_status hw_steps_import(const hw_import_request *request, const hw_limits *limits, int64_t now,
                          hw_job **job, long *number, hw_reading *reading, hw_warnings *warnings,
                          hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    importing work = {.warnings = warnings};
    long made = 0;
    bool again;
    hw_status status = hw_steps_open_to_log(request->folder, request->entry, &bounds, &work.job,
                                            &again, warnings, err);
    if (status == HW_OK) {
        status = again ? read_again(&work, &made, err)
                       : import(&work, request, &bounds, now, &made, err);
    }
    if (status == HW_OK) {
        learn(work.job, request, &bounds, made, warnings);
        *job = work.job;
        *number = made;
        *reading = work.reading;
        work.job = NULL;
        work.reading = (hw_reading){0};
    }
    hw_measured_free(&work.measured);
    hw_free(work.used);
    hw_free(work.samples);
    hw_marks_free(&work.event.marks);
    hw_reading_free(&work.reading);
    hw_job_free(work.job);
    return status;
}
