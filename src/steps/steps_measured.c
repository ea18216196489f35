// steps_measured.c: what an instrument measured, as a reading: the same comparison as of a photo, without light
// and camera to be doubted.
#include "steps_internal.h"

#include <math.h>
#include <string.h>

static void fill_sample(const hw_mark *mark, const hw_logged_sample *measured, hw_sample *out)
{
    *out = (hw_sample){.role = mark->role,
                       .kind = mark->kind,
                       .lab = measured->lab,
                       .xyz = hw_xyz_from_lab(measured->lab, hw_white_d50)};
    hw_copy_text(out->name, sizeof out->name, mark->name);
    for (int axis = 0; axis < 3; axis++) {
        double u = measured->standard_error[axis];
        out->standard_error[axis] = u;
        out->covariance.m[axis][axis] = u * u;
    }
}

static const hw_logged_sample *find_measured(const hw_logged_sample *measured, size_t count,
                                             const hw_mark *mark)
{
    for (size_t i = 0; i < count; i++) {
        if (measured[i].role == mark->role && strcmp(measured[i].name, mark->name) == 0) {
            return &measured[i];
        }
    }
    return NULL;
}

bool hw_steps_has_beside(const hw_marks *marks, const hw_mark *patch)
{
    for (size_t i = 0; i < marks->count; i++) {
        if (marks->mark[i].role == HW_ROLE_TARGET && hw_mark_is_beside(patch, &marks->mark[i])) {
            return true;
        }
    }
    return false;
}

// A patch without any of its old wood is kept as a colour, and not compared.
static hw_status make_samples(const hw_photo_event *event, const hw_logged_sample *measured,
                              size_t count, hw_reading *out, hw_error *err)
{
    const hw_marks *marks = &event->marks;
    out->samples = hw_alloc_array(marks->count, sizeof *out->samples);
    if (!out->samples) {
        return hw_fail_memory(err, "reading what was measured");
    }
    for (size_t i = 0; i < marks->count; i++) {
        const hw_mark *mark = &marks->mark[i];
        const hw_logged_sample *one = find_measured(measured, count, mark);
        if (one && hw_role_is_wood(mark->role)) {
            fill_sample(mark, one, &out->samples[out->sample_count++]);
        }
    }
    return HW_OK;
}

static hw_status compare(const hw_marks *marks, hw_reading *reading, hw_error *err)
{
    hw_sample *compared = hw_alloc_array(reading->sample_count, sizeof *compared);
    size_t count = 0;
    if (!compared) {
        return hw_fail_memory(err, "comparing what was measured");
    }
    for (size_t i = 0; i < reading->sample_count; i++) {
        const hw_sample *sample = &reading->samples[i];
        const hw_mark *mark = hw_marks_find(marks, sample->role, sample->name);
        if (sample->role == HW_ROLE_TARGET || (mark && hw_steps_has_beside(marks, mark))) {
            compared[count++] = *sample; // owns no cells
        }
    }
    hw_status status =
        hw_compare_all(compared, count, marks, NULL, NULL, &reading->comparisons, err);
    hw_free(compared);
    return status;
}

hw_status hw_steps_make_measured(const hw_photo_event *event, const hw_logged_sample *measured,
                                 size_t count, hw_reading *out, hw_error *err)
{
    hw_reading reading = {.measured = true};
    hw_copy_text(reading.photo.file, sizeof reading.photo.file, event->original);
    hw_copy_text(reading.photo.camera, sizeof reading.photo.camera, event->instrument);
    hw_status status = hw_marks_copy(&event->marks, &reading.marks, err);
    if (status == HW_OK) {
        status = make_samples(event, measured, count, &reading, err);
    }
    if (status == HW_OK) {
        status = compare(&event->marks, &reading, err);
    }
    if (status == HW_OK) {
        *out = reading;
    } else {
        hw_reading_free(&reading);
    }
    return status;
}

hw_status hw_steps_read_measured(const hw_job *job, const hw_event *event, hw_reading *out,
                                 hw_error *err)
{
    const hw_event *logged = hw_job_reading_of(job, event->number);
    if (!logged) {
        char subject[40];
        hw_format_text(subject, sizeof subject, "event %ld", event->number);
        return hw_fail(err, HW_ERR_INPUT, "reading-missing", subject, "Import the file once more.",
                       "what was measured is not in the log");
    }
    return hw_steps_make_measured(&event->of.photo, logged->of.reading.samples,
                                  logged->of.reading.sample_count, out, err);
}
