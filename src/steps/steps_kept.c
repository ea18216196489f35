// steps_kept.c: a photo of the job, read again from its kept original, so that a better version of the program
// gives better advice on old photos; and what an instrument measured, from the log.
#include "steps_internal.h"

#include <string.h>

hw_status hw_steps_decode_stored(const hw_job *job, const char *stored, const char *called,
                                 const hw_limits *limits, hw_photo **out, hw_error *err)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_status status = hw_job_photo(job, stored, &bytes, &count, err);
    if (status == HW_OK) {
        status = hw_photo_decode(bytes, count, called, limits, out, err);
    }
    hw_job_photo_free(bytes);
    return status;
}

hw_status hw_steps_decode_kept(const hw_job *job, const hw_photo_event *event,
                               const hw_limits *limits, hw_photo **out, hw_error *err)
{
    return hw_steps_decode_stored(
        job, event->stored, event->original[0] ? event->original : event->stored, limits, out, err);
}

hw_status hw_steps_read_again(const hw_job *job, const hw_event *event, const hw_marks *marks,
                              const hw_limits *limits, hw_steps_shots *shots, hw_reading *out,
                              hw_error *err)
{
    const hw_photo_event *photo_event = &event->of.photo;
    hw_photo *sheet = NULL;
    hw_earlier_list known = {0};
    hw_status status = hw_steps_shots_open_kept(job, photo_event, marks, limits, shots, err);
    if (status == HW_OK && photo_event->sheet[0]) {
        status = hw_steps_decode_stored(job, photo_event->sheet, "the sheet", limits, &sheet, err);
    }
    if (status == HW_OK) {
        status = hw_steps_look_back(job, event->number, marks, &known, err);
    }
    if (status == HW_OK) {
        hw_steps_find_elsewhere(job, event->number, photo_event->lamp, photo_event->from, event->at,
                                marks, &known);
        hw_card_options card = {.has_lab = photo_event->has_card_lab,
                                .lab = photo_event->card_lab,
                                .sheet = sheet,
                                .camera = photo_event->camera};
        status = hw_steps_read_shots(shots, marks, &card, &known, limits, out, err);
    }
    if (status == HW_OK) {
        out->from = photo_event->from;
    }
    if (status == HW_OK && photo_event->camera) {
        hw_steps_name_camera(photo_event->camera->camera, out);
    }
    hw_free(known.item);
    hw_photo_free(sheet);
    return status;
}

hw_status hw_steps_read_kept(const hw_job *job, const hw_event *event, const hw_marks *marks,
                             const hw_limits *limits, hw_reading *out, hw_error *err)
{
    if (event->of.photo.measured) {
        return hw_steps_read_measured(job, event, out, err);
    }
    hw_steps_shots shots = {0};
    hw_status status = hw_steps_read_again(job, event, marks, limits, &shots, out, err);
    hw_steps_shots_free(&shots);
    return status;
}
