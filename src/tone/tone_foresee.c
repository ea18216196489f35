// tone_foresee.c: what given layers will do to a repair, pass by pass, whatever was advised.
//
// The same outcome as in advice (tone_doubt.c), told as densities, so that it can be laid on a picture. What may come out
// otherwise is told along one line, all of it stronger or weaker: a colour between the ends is one that the passes can
// give, and a picture can show it. Across that line the outcome is off by less, and only the range of the gap counts it.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

// ---- What was asked ----------------------------------------------------------------

static const double strength_most = 4.0; // as of hw_dose

static hw_status check_dose(const hw_known *known, const hw_dose *dose, hw_error *err)
{
    if (!hw_known_find(known, dose->dye)) {
        return hw_tone_refuse_dye(dose->dye, err);
    }
    if (!(dose->strength > 0.0 && dose->strength <= strength_most)) {
        return hw_fail(err, HW_ERR_CALL, "dye-strength", dose->dye,
                       "Strength 1 is the strength of the step board; weaker ones are 1/2, 1/4, "
                       "1/8.",
                       "a strength of %g is not between 0 and %g", dose->strength, strength_most);
    }
    return HW_OK;
}

static hw_status check_liquid(const hw_known *known, const hw_liquid *liquid, hw_error *err)
{
    if (liquid->count < 1 || liquid->count > HW_LIQUID_DYES_MAX) {
        return hw_fail(err, HW_ERR_CALL, "liquid-dyes", "the liquid",
                       "Say what would be laid, as red at strength 1/4.",
                       "one liquid has one or two dyes, here are %zu", liquid->count);
    }
    hw_status status = HW_OK;
    for (size_t i = 0; i < liquid->count && status == HW_OK; i++) {
        status = check_dose(known, &liquid->dose[i], err);
    }
    return status;
}

// The layers as a plan.
static hw_status plan_of(const hw_known *known, const hw_layer *layer, size_t count, hw_plan *out,
                         hw_error *err)
{
    int left = HW_PLAN_PASSES_MAX;
    *out = (hw_plan){.count = count};
    if (count > HW_LAYERS_MAX) {
        return hw_fail(err, HW_ERR_CALL, "layer-count", "the layers",
                       "Look at the first of them, then at the rest over what was laid.",
                       "%zu layers are more than the %d that are foreseen at once", count,
                       HW_LAYERS_MAX);
    }
    for (size_t i = 0; i < count; i++) {
        if (layer[i].passes < 1 || layer[i].passes > left) {
            return hw_fail(err, HW_ERR_CALL, "pass-count", "the passes",
                           "Give each layer a whole number of passes, 1 or more; what wants many "
                           "is mixed stronger.",
                           "layer %zu has %d passes; each has at least 1, all together at most %d",
                           i + 1, layer[i].passes, HW_PLAN_PASSES_MAX);
        }
        hw_status status = check_liquid(known, &layer[i].liquid, err);
        if (status != HW_OK) {
            return status;
        }
        left -= layer[i].passes;
        hw_tone_coat_of(known, &layer[i].liquid, &out->coat[i]);
        out->coat[i].passes = layer[i].passes;
    }
    return HW_OK;
}

// ---- Along the line ----------------------------------------------------------------

// What all of it may be stronger or weaker by, s.d. of the logarithm: the factor, and what the rest adds along the
// density m, u^2 = m' R m / (m' m)^2.
static double scale_of(const hw_outcome *outcome)
{
    double size = 0.0, along = 0.0;
    for (int r = 0; r < 3; r++) {
        size += outcome->density[r] * outcome->density[r];
        for (int c = 0; c < 3; c++) {
            along += outcome->density[r] * outcome->rest.m[r][c] * outcome->density[c];
        }
    }
    return size > 0.0 ? sqrt(outcome->scale_u * outcome->scale_u + fmax(along, 0.0) / size / size)
                      : 0.0;
}

static void times(double factor, const double density[3], double out[3])
{
    for (int band = 0; band < 3; band++) {
        out[band] = factor * density[band];
    }
}

static hw_foreseen foreseen(const hw_tone_task *task, const hw_comparison *gap, const hw_plan *plan,
                            int passes)
{
    hw_plan first = hw_plan_first(plan, passes);
    hw_outcome outcome = hw_tone_outcome(task, &first, 1.0);
    hw_foreseen out = {.passes = passes};
    double scale = scale_of(&outcome);
    out.after = passes > 0 ? hw_tone_after(task, &outcome, passes, NULL) : hw_tone_as_read(gap);
    times(1.0, outcome.density, out.density);
    times(exp(-HW_NINETY * scale), outcome.density, out.least);
    times(exp(HW_NINETY * scale), outcome.density, out.most);
    out.overshoot_risk = hw_tone_overshoot(task, &outcome);
    return out;
}

hw_status hw_tone_foresee(const hw_tone_request *request, const hw_layer *layer, size_t layer_count,
                          hw_foreseen *out, size_t room, size_t *count, hw_error *err)
{
    hw_plan plan;
    hw_tone_task task;
    hw_status status = plan_of(request->known, layer, layer_count, &plan, err);
    if (status == HW_OK) {
        status = hw_tone_task_of(request, &task, err);
    }
    if (status != HW_OK) {
        return status;
    }
    int total = hw_plan_passes(&plan);
    *count = 0;
    for (int passes = 0; passes <= total && *count < room; passes++) {
        out[(*count)++] = foreseen(&task, request->gap, &plan, passes);
    }
    hw_tone_task_free(&task);
    return HW_OK;
}
