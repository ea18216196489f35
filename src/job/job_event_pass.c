// job_event_pass.c: what was advised and laid: a plan as it was shown, a pass with what was expected of it.
#include "job_internal.h"

#include <math.h>

// ---- Dyes and forecasts ------------------------------------------------------------

static void put_dyes(hw_json *parent, const hw_used_dye *dyes, size_t count)
{
    hw_json *list = hw_json_add_array(parent, "dyes");
    for (size_t i = 0; i < count; i++) {
        hw_json *one = hw_json_add_object(list, NULL);
        hw_json_add_text(one, "name", dyes[i].name);
        hw_json_add_text(one, "family", hw_family_name(dyes[i].family));
        if (dyes[i].tool != HW_TOOL_UNSAID) {
            hw_json_add_text(one, "tool", hw_tool_name(dyes[i].tool));
        }
        hw_json *density = hw_json_add_array(one, "density");
        for (int band = 0; band < 3; band++) {
            hw_json_add_rounded(density, NULL, dyes[i].density[band], 6);
        }
        hw_json_add_rounded(one, "exponent", dyes[i].exponent, 4);
        hw_json_add_rounded(one, "u_strength", dyes[i].u_strength, 4);
        hw_json_add_bool(one, "guess", dyes[i].guess);
    }
}

// Lines of early versions hold none.
static size_t get_dyes(const hw_json *list, hw_used_dye out[HW_LIQUID_DYES_MAX])
{
    size_t count = 0;
    for (const hw_json *item = hw_json_first(list); item && count < HW_LIQUID_DYES_MAX;
         item = hw_json_next(item)) {
        hw_used_dye *dye = &out[count];
        const char *name = hw_json_member_text(item, "name");
        if (hw_name_is_usable(name) &&
            hw_family_from_name(hw_json_member_text(item, "family"), &dye->family) &&
            hw_event_get_three(hw_json_member(item, "density"), dye->density) &&
            hw_json_member_number(item, "exponent", &dye->exponent) &&
            hw_json_member_number(item, "u_strength", &dye->u_strength)) {
            hw_copy_text(dye->name, sizeof dye->name, name);
            hw_tool_from_name(hw_json_member_text(item, "tool"), &dye->tool);
            hw_json_bool(hw_json_member(item, "guess"), &dye->guess);
            count++;
        }
    }
    return count;
}

static void put_forecasts(hw_json *parent, const hw_pass_event *pass)
{
    hw_json *list = hw_json_add_array(parent, "forecast");
    for (size_t i = 0; i < pass->forecast_count; i++) {
        const hw_forecast *forecast = &pass->forecast[i];
        hw_json *one = hw_json_add_object(list, NULL);
        hw_json_add_text(one, "patch", forecast->patch);
        hw_json *density = hw_json_add_array(one, "density");
        hw_json *covariance = hw_json_add_array(one, "covariance"); // upper triangle, row by row
        for (int r = 0; r < 3; r++) {
            hw_json_add_rounded(density, NULL, forecast->density[r], 6);
            for (int c = r; c < 3; c++) {
                hw_json_add_number(covariance, NULL, forecast->covariance.m[r][c]);
            }
        }
    }
}

static bool get_triangle(const hw_json *list, hw_covariance *out)
{
    const hw_json *item = hw_json_is_array(list) ? hw_json_first(list) : NULL;
    for (int r = 0; r < 3; r++) {
        for (int c = r; c < 3; c++, item = hw_json_next(item)) {
            if (!hw_json_number(item, &out->m[r][c])) {
                return false;
            }
            out->m[c][r] = out->m[r][c];
        }
    }
    return true;
}

// Densities of toner, and a covariance that is one; else it is left aside.
static bool can_be(const hw_forecast *one)
{
    const double most = 50.0;
    const double(*m)[3] = one->covariance.m;
    bool good = true;
    for (int r = 0; r < 3; r++) {
        good = good && one->density[r] >= 0.0 && one->density[r] <= most;
        good = good && m[r][r] >= 0.0 && m[r][r] <= most * most;
        for (int c = 0; c < r; c++) {
            good = good && m[r][c] * m[r][c] <= m[r][r] * m[c][c] * (1.0 + 1e-6) + 1e-18;
        }
    }
    return good;
}

static bool get_forecasts(const hw_json *list, hw_pass_event *out, bool *memory_out)
{
    size_t count = hw_json_count(list);
    out->forecast = count ? hw_alloc_array(count, sizeof *out->forecast) : NULL;
    if (count && !out->forecast) {
        *memory_out = true;
        return false;
    }
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        hw_forecast *one = &out->forecast[out->forecast_count];
        hw_event_get_text(item, "patch", one->patch, sizeof one->patch);
        if (one->patch[0] && hw_event_get_three(hw_json_member(item, "density"), one->density) &&
            get_triangle(hw_json_member(item, "covariance"), &one->covariance) && can_be(one)) {
            out->forecast_count++;
        }
    }
    return true;
}

// ---- plan_shown --------------------------------------------------------------------

hw_json *hw_event_plan_json(const hw_plan_event *plan)
{
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "patch", plan->patch);
    hw_json_add_bool(json, "stop", plan->stop);
    if (plan->has_next) {
        hw_json *next = hw_json_add_object(json, "next");
        hw_event_put_liquid(next, &plan->next.liquid);
        hw_json_add_number(next, "passes", plan->next.passes);
        hw_event_put_lab(json, "forecast", plan->forecast);
        hw_json_add_rounded(json, "forecast_de00", plan->forecast_de00, 2);
        hw_json_add_rounded(json, "risk", plan->risk, 6);
        put_dyes(json, plan->dye, plan->dye_count);
    } else {
        hw_json_add_null(json, "next");
    }
    hw_json_add_bool(json, "cautions_full", plan->cautions_full);
    return json;
}

bool hw_event_read_plan(const hw_json *json, hw_plan_event *out)
{
    const hw_json *next = hw_json_member(json, "next");
    hw_event_get_text(json, "patch", out->patch, sizeof out->patch);
    out->risk = (double)NAN;
    hw_json_member_number(json, "risk", &out->risk);
    out->dye_count = get_dyes(hw_json_member(json, "dyes"), out->dye);
    hw_json_bool(hw_json_member(json, "stop"), &out->stop);
    hw_json_bool(hw_json_member(json, "cautions_full"), &out->cautions_full);
    if (hw_json_is_object(next)) {
        out->has_next = hw_event_get_liquid(hw_json_member(next, "liquid"), &out->next.liquid) &&
                        hw_event_get_passes(next, &out->next.passes);
        hw_event_get_lab(hw_json_member(json, "forecast"), &out->forecast);
        hw_json_member_number(json, "forecast_de00", &out->forecast_de00);
    }
    return out->patch[0] != 0;
}

bool hw_plan_is_same(const hw_plan_event *one, const hw_plan_event *other)
{
    hw_json *a = hw_event_plan_json(one), *b = hw_event_plan_json(other);
    bool same = hw_json_is_same(a, b);
    hw_json_free(a);
    hw_json_free(b);
    return same;
}

// ---- pass_laid ---------------------------------------------------------------------

hw_json *hw_event_pass_json(const hw_pass_event *pass)
{
    hw_json *json = hw_json_new_object();
    hw_event_put_names(json, "patches", (const char(*)[HW_NAME_SIZE])pass->patches,
                       pass->patch_count);
    if (pass->jar > 0) {
        hw_json_add_number(json, "jar", (double)pass->jar);
    }
    hw_event_put_liquid(json, &pass->liquid);
    hw_json_add_number(json, "passes", pass->passes);
    hw_event_put_before_photo(json, pass->before_photo);
    if (!isnan(pass->minutes)) {
        hw_json_add_number(json, "minutes", pass->minutes);
    }
    hw_event_put_hours(json, pass->hours);
    hw_event_put_text(json, "note", pass->note);
    if (pass->dye_count) {
        put_dyes(json, pass->dye, pass->dye_count);
    }
    if (pass->forecast_count) {
        put_forecasts(json, pass);
    }
    return json;
}

bool hw_event_read_pass(const hw_json *json, hw_pass_event *out, bool *memory_out)
{
    if (!hw_event_get_names(hw_json_member(json, "patches"), &out->patches, &out->patch_count,
                            memory_out)) {
        return false;
    }
    hw_event_get_count(json, "jar", &out->jar);
    out->minutes = (double)NAN;
    hw_json_member_number(json, "minutes", &out->minutes);
    out->before_photo = hw_event_get_before_photo(json);
    out->hours = hw_event_get_hours(json);
    hw_event_get_text(json, "note", out->note, sizeof out->note);
    out->dye_count = get_dyes(hw_json_member(json, "dyes"), out->dye);
    return out->patch_count > 0 &&
           hw_event_get_liquid(hw_json_member(json, "liquid"), &out->liquid) &&
           hw_event_get_passes(json, &out->passes) &&
           get_forecasts(hw_json_member(json, "forecast"), out, memory_out);
}
