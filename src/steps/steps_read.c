// steps_read.c: one photo, no job: photo, mark, card, sample, compare, in this order.
//
// What always holds: a failure leaves nothing behind, and a mark that this version does not use is
// named in a warning instead of being passed over in silence.
#include "steps_internal.h"

#include <string.h>

hw_limits hw_steps_limits(const hw_limits *limits)
{
    return limits ? *limits : hw_limits_default();
}

void hw_steps_add_name(char *list, size_t size, const char *name)
{
    size_t length = strlen(list);
    if (length < size) {
        hw_format_text(list + length, size - length, "%s%s", length ? ", " : "", name);
    }
}

// ---- Marks -------------------------------------------------------------------------

// A card of one's own is instead of theirs; a step of the same name, too.
static bool is_instead(const hw_marks *own, const hw_mark *theirs)
{
    switch (theirs->role) {
    case HW_ROLE_CARD:
    case HW_ROLE_CHART:
    case HW_ROLE_FIELD:
        return hw_marks_find(own, theirs->role, NULL) != NULL;
    case HW_ROLE_NEUTRAL:
        return hw_marks_find(own, theirs->role, theirs->name) != NULL;
    default:
        return false;
    }
}

hw_status hw_steps_put_own(hw_marks *own, const hw_marks *others, hw_error *err)
{
    hw_marks all = {.width_px = others->width_px, .height_px = others->height_px};
    hw_status status = HW_OK;
    for (size_t i = 0; i < own->count && status == HW_OK; i++) {
        status = hw_marks_take(own, i, &all, err);
    }
    for (size_t i = 0; i < others->count && status == HW_OK; i++) {
        if (!is_instead(own, &others->mark[i])) {
            status = hw_marks_take(others, i, &all, err);
        }
    }
    if (status != HW_OK) {
        hw_marks_free(&all);
        return status;
    }
    hw_marks_free(own);
    *own = all;
    return HW_OK;
}

static hw_status read_marks_file(const char *path, const hw_limits *limits, hw_marks *out,
                                 hw_warnings *warnings, hw_error *err)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_status status = hw_file_read(path, limits->json_bytes, &bytes, &count, err);
    if (status == HW_OK) {
        status = hw_marks_parse((const char *)bytes, count, path, limits, out, warnings, err);
    }
    hw_free(bytes);
    return status;
}

hw_status hw_steps_marks(const hw_read_request *request, const hw_limits *limits, hw_marks *out,
                         hw_warnings *warnings, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_marks of_file = {0}, all = {0};
    hw_status status = hw_marks_copy(&request->marks, &all, err);
    if (status == HW_OK && request->marks_path) {
        status = read_marks_file(request->marks_path, &bounds, &of_file, warnings, err);
    }
    if (status == HW_OK && request->marks_path) {
        status = hw_steps_put_own(&all, &of_file, err);
    }
    hw_marks_free(&of_file);
    if (status != HW_OK) {
        hw_marks_free(&all);
        return status;
    }
    *out = all;
    return HW_OK;
}

hw_status hw_steps_check_marks(const hw_marks *marks, const hw_photo *photo,
                               const hw_limits *limits, hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    bool said = marks->width_px > 0 && marks->height_px > 0;
    if (said && (marks->width_px != facts->width_px || marks->height_px != facts->height_px)) {
        return hw_fail(err, HW_ERR_CALL, "marks-other-picture", facts->file,
                       "Mark this photo itself, or use the photo that the marks were made on.",
                       "the marks were made on a picture of %zu x %zu pixels, this one has "
                       "%zu x %zu",
                       marks->width_px, marks->height_px, facts->width_px, facts->height_px);
    }
    return hw_marks_check(marks, facts->width_px, facts->height_px, limits, err);
}

static void warn_unused(const hw_marks *marks, hw_warnings *warnings)
{
    size_t strips = 0;
    for (size_t i = 0; i < marks->count; i++) {
        strips += marks->mark[i].role == HW_ROLE_BOARD_STRIP;
    }
    if (strips > 0) {
        hw_warn(warnings, "%zu mark%s of the role %s: kept, but not used for a reading of wood.",
                strips, strips == 1 ? "" : "s", hw_role_name(HW_ROLE_BOARD_STRIP));
    }
}

// ---- From photo to comparison ------------------------------------------------------

static hw_status take_samples(const hw_photo *photo, hw_reading *reading, hw_error *err)
{
    const hw_marks *marks = &reading->marks;
    reading->samples = hw_alloc_array(marks->count, sizeof *reading->samples);
    if (!reading->samples) {
        return hw_fail_memory(err, "sampling the wood");
    }
    for (size_t i = 0; i < marks->count; i++) {
        if (!hw_role_is_wood(marks->mark[i].role)) {
            continue;
        }
        hw_sample *sample = &reading->samples[reading->sample_count];
        hw_status status = hw_sample_take(photo, &reading->light, &marks->mark[i], sample,
                                          &reading->warnings, err);
        if (status != HW_OK) {
            return status;
        }
        reading->sample_count++;
    }
    return HW_OK;
}

static hw_status read_stages(const hw_photo *photo, const hw_marks *marks, bool is_the_card,
                             hw_steps_sought *sought, const hw_card_options *card,
                             hw_earlier_list *known, const hw_limits *limits, hw_reading *reading,
                             hw_error *err)
{
    hw_status status = hw_marks_copy(marks, &reading->marks, err);
    if (reading->marks.width_px == 0) { // given by options
        reading->marks.width_px = reading->photo.width_px;
        reading->marks.height_px = reading->photo.height_px;
    }
    if (status == HW_OK) {
        status = hw_steps_place_card(photo, is_the_card, sought, known, limits, &reading->marks,
                                     &reading->warnings, err);
    }
    if (status == HW_OK) {
        status = hw_card_read(photo, &reading->marks, card, &reading->light, err);
    }
    if (status == HW_OK) {
        warn_unused(&reading->marks, &reading->warnings);
        hw_steps_test_elsewhere(reading, known);
        status = take_samples(photo, reading, err);
    }
    if (status == HW_OK) {
        status = hw_compare_all(reading->samples, reading->sample_count, &reading->marks,
                                &reading->light, known, &reading->comparisons, err);
    }
    if (status == HW_OK) {
        hw_compare_warn(&reading->comparisons, &reading->warnings);
        status = hw_steps_propose_ring(photo, reading, err);
    }
    return status;
}

hw_status hw_steps_read_decoded(const hw_photo *photo, const hw_marks *marks, bool is_the_card,
                                const hw_card_options *card, hw_earlier_list *known,
                                const hw_limits *limits, hw_reading *out, hw_error *err)
{
    return hw_steps_read_sought(photo, marks, is_the_card, NULL, card, known, limits, out, err);
}

hw_status hw_steps_read_sought(const hw_photo *photo, const hw_marks *marks, bool is_the_card,
                               hw_steps_sought *sought, const hw_card_options *card,
                               hw_earlier_list *known, const hw_limits *limits, hw_reading *out,
                               hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_reading reading = {.photo = *hw_photo_facts_of(photo)};
    hw_status status =
        read_stages(photo, marks, is_the_card, sought, card, known, &bounds, &reading, err);
    if (status != HW_OK) {
        hw_reading_free(&reading);
        return status;
    }
    *out = reading;
    return HW_OK;
}

hw_status hw_steps_read(const hw_read_request *request, const hw_limits *limits, hw_reading *out,
                        hw_error *err)
{
    hw_photo *sheet = NULL;
    hw_steps_shots shots = {0};
    hw_marks marks = {0};
    hw_warnings warnings = {0};
    hw_limits bounds = hw_steps_limits(limits);
    hw_camera camera;
    hw_status status = hw_steps_check_distance(request->distance_mm, err);
    if (status == HW_OK) {
        status = hw_steps_shots_open(request, &bounds, &shots, &warnings, err);
    }
    if (status == HW_OK && request->sheet_path) {
        status = hw_photo_load(request->sheet_path, &bounds, &sheet, err);
    }
    if (status == HW_OK) {
        status = hw_steps_marks(request, &bounds, &marks, &warnings, err);
    }
    if (status == HW_OK) {
        hw_steps_warn_first(&shots, request, &warnings);
        hw_steps_by by = {.read = *request,
                          .lamp = request->lamp,
                          .has_card_lab = request->has_card_lab,
                          .card_lab = request->card_lab,
                          .sheet = sheet};
        status = hw_steps_read_for_job(&shots, &marks, &by, &bounds, request->now, &camera, out,
                                       &warnings, err);
    }
    if (status == HW_OK) {
        hw_warnings_append(&out->warnings, &warnings);
    }
    hw_marks_free(&marks);
    hw_photo_free(sheet);
    hw_steps_shots_free(&shots);
    return status;
}
