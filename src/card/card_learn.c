// card_learn.c: what a photo of a chart, or of several neutral steps, shows of its camera. What is kept goes on
// to all later photos, so this is stricter than a reading, which leaves a bad reference aside and goes on.
#include "card_internal.h"

#include <math.h>

static const size_t colours_least =
    18;                                // of the chart (chosen): some lie outside of what sRGB holds
static const size_t steps_least = 3;   // without a chart
static const double span_least = 40.0; // L* from the darkest step to the lightest (chosen)
static const double worth_least = 0.05; // CIEDE2000 (chosen): less cannot be told from noise
static const double fall_most = 0.25;   // of ln light over the references (chosen)
static const double coloured_most =
    0.06; // of ln light, long over short band, over the references (chosen)

// ---- Refusals ----------------------------------------------------------------------

static const char *why_unusable(const hw_reference *item)
{
    return item->top_share > HW_CLIPPED_MOST      ? "overexposed"
           : item->bottom_share > HW_CLIPPED_MOST ? "lost in the dark"
           : item->patterned                      ? "not one even colour"
                                                  : "too small in the picture";
}

static hw_status refuse_references(const char *file, hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "camera-references", file,
                   "Take a photo of a 24-patch colour chart and mark it with --chart, or mark "
                   "a white, a grey and a black step with --neutral.",
                   "neither a colour chart nor three neutral steps from dark to light are marked, "
                   "and a card alone does not tell how a camera bends tones");
}

static bool has_steps(const hw_references *references)
{
    double low = INFINITY, high = -INFINITY;
    size_t count = 0;
    for (size_t i = 0; i < references->count; i++) {
        const hw_reference *item = &references->item[i];
        if (item->usable && item->neutral) {
            low = fmin(low, item->lab.L);
            high = fmax(high, item->lab.L);
            count++;
        }
    }
    return count >= steps_least && high - low >= span_least;
}

// A grey that cannot be used, or too few colours.
static hw_status refuse_patches(const hw_references *references, const char *file, hw_error *err)
{
    size_t colours = 0, usable = 0;
    for (size_t i = 0; i < references->count; i++) {
        const hw_reference *item = &references->item[i];
        colours += item->chart_patch > 0;
        usable += item->chart_patch > 0 && item->usable;
        if (!item->neutral || item->usable || item->other_card) {
            continue;
        }
        return hw_fail(err, HW_ERR_INPUT, "camera-patch", file,
                       "Take the photo again with all greys well exposed, even and free of "
                       "shine, and mark only their insides.",
                       "the grey %s%s is %s, and the camera's curve hangs on the greys",
                       item->chart_patch > 0 ? "chart patch " : "", item->mark->name,
                       why_unusable(item));
    }
    if (colours > 0 && usable < colours_least) {
        return hw_fail(err, HW_ERR_INPUT, "camera-patch", file,
                       "Take the photo again with the whole chart well exposed, even and free of "
                       "shine.",
                       "only %zu patches of the chart can be used; it takes %zu", usable,
                       colours_least);
    }
    return HW_OK;
}

// From the least to the most over the references: of the light, and of its colour (long over short band).
static void span_light(const hw_camera_seen *seen, double *fall, double *coloured)
{
    double low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY};
    for (size_t i = 0; i < seen->count; i++) {
        const double *ln = seen->patch[i].ln_light;
        const double what[2] = {ln[1], ln[0] - ln[2]};
        for (int k = 0; k < 2; k++) {
            low[k] = fmin(low[k], what[k]);
            high[k] = fmax(high[k], what[k]);
        }
    }
    *fall = high[0] - low[0];
    *coloured = high[1] - low[1];
}

static hw_status refuse_light(const hw_camera_seen *seen, const char *file, hw_error *err)
{
    double fall, coloured;
    span_light(seen, &fall, &coloured);
    if (fall > fall_most) {
        return hw_fail(err, HW_ERR_INPUT, "camera-light", file,
                       "Light the chart evenly, from further off, and take the photo again.",
                       "the light falls by %.0f %% over the chart or the steps",
                       -100.0 * expm1(-fall));
    }
    if (coloured > coloured_most) {
        return hw_fail(err, HW_ERR_INPUT, "camera-light", file,
                       "Switch the other lamp off or shade it, and take the photo again.",
                       "a second lamp of another colour lights one side of the chart or the steps: "
                       "the light's colour changes by %.0f %%",
                       100.0 * expm1(coloured));
    }
    return HW_OK;
}

static hw_status refuse_steps(const hw_light *light, const char *file, hw_error *err)
{
    if (!light->tone.straightens) {
        return hw_fail(err, HW_ERR_INPUT, "camera-steps", file,
                       "Look for shine or shadow on them, for the order of the chart's corners, "
                       "and that each step has its own L*.",
                       "the greys do not fit one another");
    }
    if (light->tone.strange) {
        return hw_fail(err, HW_ERR_INPUT, "camera-steps", file,
                       "Check that each step has the L* of its name, and mark more steps or a "
                       "colour chart.",
                       "the greys say that this camera bends its tones more than cameras do");
    }
    return HW_OK;
}

static hw_status refuse_worse(const hw_camera_seen *seen, hw_lab wood, const char *file,
                              hw_error *err)
{
    hw_camera camera = {0};
    const hw_camera_seen *one[1] = {seen};
    double before, after;
    if (!hw_camera_fit(one, 1, seen->at, &camera)) {
        return refuse_references(file, err);
    }
    if (!hw_camera_near(&camera, wood, &before, &after)) {
        return HW_OK; // steps alone: that they fit was asked above
    }
    if (after > HW_CHART_MISS_MOST) {
        return hw_fail(err, HW_ERR_INPUT, "camera-worse", file,
                       "Check that the chart is a 24-patch chart and that its corners are marked "
                       "in order: dark skin, bluish green, black, white.",
                       "the colours nearest the wood are still off by %.1f with all that the "
                       "chart says, so these are not its patches",
                       after);
    }
    if (after > before - worth_least) {
        return hw_fail(err, HW_ERR_INPUT, "camera-worse", file,
                       "Nothing is needed: go on with the card alone under this lamp.",
                       "the card alone reads the colours nearest the wood as well (off by %.1f, "
                       "with what the chart says by %.1f)",
                       before, after);
    }
    return HW_OK;
}

// ---- What was seen -----------------------------------------------------------------

static void gather(const hw_references *references, const hw_light *light, hw_camera_seen *out)
{
    for (size_t i = 0; i < references->count && out->count < HW_CAMERA_PATCHES_MOST; i++) {
        const hw_reference *item = &references->item[i];
        if (!item->known || !item->usable) {
            continue;
        }
        hw_camera_patch *made = &out->patch[out->count++];
        *made = (hw_camera_patch){.chart_patch = item->chart_patch,
                                  .lab = item->lab,
                                  .u_L = item->u_L,
                                  .seen = item->seen};
        hw_field_at(&light->field, item->centre, made->ln_light);
    }
}

static hw_status test_all(const hw_references *references, const hw_light *light, hw_lab wood,
                          const char *file, hw_camera_seen *seen, hw_error *err)
{
    hw_status status = refuse_patches(references, file, err);
    if (status == HW_OK && !hw_references_have_chart(references) && !has_steps(references)) {
        status = refuse_references(file, err);
    }
    if (status == HW_OK) {
        gather(references, light, seen);
        status = refuse_light(seen, file, err);
    }
    if (status == HW_OK) {
        status = refuse_steps(light, file, err);
    }
    return status == HW_OK ? refuse_worse(seen, wood, file, err) : status;
}

hw_status hw_card_learn(const hw_photo *photo, const hw_marks *marks,
                        const hw_card_options *options, hw_camera_seen *out, hw_error *err)
{
    const char *file = hw_photo_facts_of(photo)->file;
    hw_card_options alone = options ? *options : (hw_card_options){0};
    hw_light light;
    hw_references references = {0};
    hw_mean_wood wood;
    hw_warnings again = {0};
    alone.camera = NULL;
    hw_status status = hw_card_read(photo, marks, &alone, &light, err);
    if (status == HW_OK) {
        status = hw_card_mean_wood(photo, marks, &wood, err);
    }
    if (status == HW_OK) {
        status = hw_references_read(photo, marks, &alone, &references, &again, err);
    }
    if (status == HW_OK) {
        hw_camera_seen *seen = hw_alloc_array(1, sizeof *seen);
        hw_references_set_edition(&references, light.chart.later_edition);
        status =
            seen ? test_all(&references, &light, hw_card_wood_lab(&light, &wood), file, seen, err)
                 : hw_fail_memory(err, "learning the camera");
        if (status == HW_OK) {
            seen->later_edition = light.chart.later_edition;
            *out = *seen;
        }
        hw_free(seen);
    }
    hw_references_free(&references);
    return status;
}
