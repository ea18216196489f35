// steps_ring.c: where a repair let in has old wood marked in one place only, the old wood's spread is
// hardly known. Six spots around the repair are looked at; those that look like that wood are proposed.
#include "steps_internal.h"

#include <string.h>

static const size_t pieces_few = 4;  // of old wood (chosen)
static const double same_wood = 6.0; // CIEDE2000: boards of one piece differ less
static const size_t spots_least = 2;

static const hw_sample *only_target(const hw_reading *reading, const hw_mark *patch)
{
    const hw_sample *only = NULL;
    for (size_t i = 0; i < reading->sample_count; i++) {
        const hw_mark *target =
            hw_marks_find(&reading->marks, HW_ROLE_TARGET, reading->samples[i].name);
        if (reading->samples[i].role == HW_ROLE_TARGET && target &&
            hw_mark_is_beside(patch, target)) {
            if (only) {
                return NULL;
            }
            only = &reading->samples[i];
        }
    }
    return only;
}

// Does a spot look like that wood? A spot that cannot be read does not.
static hw_status looks_alike(const hw_photo *photo, const hw_light *light, const hw_mark *spot,
                             const hw_sample *target, bool *alike, hw_error *err)
{
    hw_sample sample = {0};
    hw_warnings unused = {0};
    hw_error why = {0};
    hw_status status = hw_sample_take(photo, light, spot, &sample, &unused, &why);
    *alike = status == HW_OK && hw_ciede2000(target->lab, sample.lab) < same_wood;
    hw_sample_free(&sample);
    return status == HW_ERR_STORAGE ? hw_fail_as(err, &why) : HW_OK;
}

// The last spot's name, where another patch or an earlier photo had the same idea.
static void name_anew(hw_reading *reading)
{
    hw_mark *last = &reading->proposed.mark[reading->proposed.count - 1];
    size_t number = reading->proposed.count;
    do {
        hw_format_text(last->name, sizeof last->name, "around %zu", number++);
    } while (hw_marks_find(&reading->marks, HW_ROLE_TARGET, last->name) ||
             hw_marks_find(&reading->proposed, HW_ROLE_TARGET, last->name) != last);
}

static hw_status propose_for(const hw_photo *photo, const hw_mark *patch, const hw_sample *target,
                             hw_reading *reading, hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    hw_marks ring = {0};
    size_t alike = 0;
    hw_status status =
        hw_marks_ring(&reading->marks, patch, facts->width_px, facts->height_px, &ring, err);
    for (size_t i = 0; status == HW_OK && i < ring.count; i++) {
        bool looks = false;
        status = looks_alike(photo, &reading->light, &ring.mark[i], target, &looks, err);
        if (status == HW_OK && looks) {
            status = hw_marks_take(&ring, i, &reading->proposed, err);
            alike += status == HW_OK;
            if (status == HW_OK) {
                name_anew(reading);
            }
        }
    }
    hw_marks_free(&ring);
    if (status == HW_OK && alike >= spots_least) {
        hw_warn(&reading->warnings,
                "%s: its old wood is seen in one place only, so how much that wood varies is "
                "hardly known. "
                "%zu spots around the repair look alike: mark them as old wood too (shown below).",
                patch->name, alike);
    }
    return status;
}

hw_status hw_steps_propose_ring(const hw_photo *photo, hw_reading *reading, hw_error *err)
{
    hw_status status = HW_OK;
    for (size_t i = 0; i < reading->marks.count && status == HW_OK; i++) {
        const hw_mark *patch = &reading->marks.mark[i];
        const hw_comparison *beside = patch->role == HW_ROLE_PATCH
                                          ? hw_comparison_beside(&reading->comparisons, patch->name)
                                          : NULL;
        const hw_sample *target = beside ? only_target(reading, patch) : NULL;
        bool let_in = patch->kind == HW_KIND_LET_IN;
        if (target && let_in && beside->spread_count < pieces_few) {
            status = propose_for(photo, patch, target, reading, err);
        }
    }
    return status;
}

// ---- Asked for ---------------------------------------------------------------------

// The light as the marks' card shows it. *lit: it can be read.
static hw_status light_of(const hw_opened *opened, const hw_marks *marks, hw_light *out, bool *lit,
                          hw_error *err)
{
    hw_card_options card = {.has_lab = opened->has_card_lab, .lab = opened->card_lab};
    hw_error why = {0};
    *lit =
        hw_marks_have_card(marks) && hw_card_read(opened->photo, marks, &card, out, &why) == HW_OK;
    return why.status == HW_ERR_STORAGE ? hw_fail_as(err, &why) : HW_OK;
}

// Like that piece of old wood? *any: it could be read.
static hw_status is_like(const hw_opened *opened, const hw_light *light, const hw_mark *target,
                         const hw_mark *spot, bool *any, bool *alike, hw_error *err)
{
    hw_sample sample = {0};
    hw_warnings unused = {0};
    hw_error why = {0};
    hw_status status = hw_sample_take(opened->photo, light, target, &sample, &unused, &why);
    if (status != HW_OK) {
        return status == HW_ERR_STORAGE ? hw_fail_as(err, &why) : HW_OK;
    }
    *any = true;
    status = looks_alike(opened->photo, light, spot, &sample, alike, err);
    hw_sample_free(&sample);
    return status;
}

// Does the spot look like one of the pieces of old wood that are marked beside the repair? Where none is, nothing speaks
// against it.
static hw_status may_be_wood(const hw_opened *opened, const hw_light *light, const hw_marks *marks,
                             const hw_mark *patch, const hw_mark *spot, bool *may, hw_error *err)
{
    bool any = false, alike = false;
    hw_status status = HW_OK;
    for (size_t i = 0; i < marks->count && !alike && status == HW_OK; i++) {
        const hw_mark *target = &marks->mark[i];
        if (target->role == HW_ROLE_TARGET && hw_mark_is_beside(patch, target)) {
            status = is_like(opened, light, target, spot, &any, &alike, err);
        }
    }
    *may = alike || !any;
    return status;
}

static void name_free(const hw_marks *marks, hw_marks *spots)
{
    hw_mark *last = &spots->mark[spots->count - 1];
    size_t number = spots->count;
    do {
        hw_format_text(last->name, sizeof last->name, "around %zu", number++);
    } while (hw_marks_find(marks, HW_ROLE_TARGET, last->name) ||
             hw_marks_find(spots, HW_ROLE_TARGET, last->name) != last);
}

hw_status hw_steps_open_ring(const hw_opened *opened, const hw_marks *marks, const char *patch_name,
                             hw_marks *out, hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(opened->photo);
    const hw_mark *patch = hw_marks_find(marks, HW_ROLE_PATCH, patch_name);
    hw_marks ring = {0}, spots = {.width_px = facts->width_px, .height_px = facts->height_px};
    hw_light light;
    if (!patch) {
        return hw_fail(err, HW_ERR_CALL, "patch-unknown", patch_name,
                       "Name a repair that is marked.", "no repair of this name is marked");
    }
    hw_status status = hw_marks_ring(marks, patch, facts->width_px, facts->height_px, &ring, err);
    bool lit = false;
    if (status == HW_OK && ring.count > 0) {
        status = light_of(opened, marks, &light, &lit, err);
    }
    for (size_t i = 0; i < ring.count && status == HW_OK; i++) {
        bool may = true;
        if (lit) {
            status = may_be_wood(opened, &light, marks, patch, &ring.mark[i], &may, err);
        }
        if (status == HW_OK && may) {
            status = hw_marks_take(&ring, i, &spots, err);
            if (status == HW_OK) {
                name_free(marks, &spots);
            }
        }
    }
    hw_marks_free(&ring);
    if (status != HW_OK) {
        hw_marks_free(&spots);
        return status;
    }
    *out = spots;
    return HW_OK;
}
