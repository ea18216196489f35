// job_event_setting.c: what holds for the whole job, said once: clear coats to come, recoat time, the
// card's size, areas. What a later event says takes the place of what an earlier one said, member by member.
#include "job_internal.h"

#include <math.h>

static const char *const over_names[HW_COATS_OVER_COUNT] = {
    [HW_COATS_UNSAID] = "unsaid",
    [HW_COATS_ALL] = "all",
    [HW_COATS_REPAIRS] = "repairs",
    [HW_COATS_NOT_KNOWN] = "not_known",
};

const char *hw_coats_over_name(hw_coats_over over)
{
    return over_names[over];
}

bool hw_coats_over_from_name(const char *name, hw_coats_over *out)
{
    for (int over = HW_COATS_ALL; name && over < HW_COATS_OVER_COUNT; over++) {
        if (strcmp(name, over_names[over]) == 0) {
            *out = (hw_coats_over)over;
            return true;
        }
    }
    return false;
}

// ---- As a line ---------------------------------------------------------------------

static void put_number(hw_json *json, const char *name, double value)
{
    if (value > 0.0) {
        hw_json_add_number(json, name, value);
    }
}

hw_json *hw_event_setting_json(const hw_setting_event *setting)
{
    hw_json *json = hw_json_new_object();
    if (setting->coats_over != HW_COATS_UNSAID) {
        hw_json_add_text(json, "coats_over", hw_coats_over_name(setting->coats_over));
        hw_json_add_number(json, "coats", (double)setting->coats);
    }
    put_number(json, "recoat_minutes", setting->recoat_minutes);
    if (setting->card_mm[0] > 0.0 && setting->card_mm[1] > 0.0) {
        hw_json *card = hw_json_add_array(json, "card_mm");
        hw_json_add_number(card, NULL, setting->card_mm[0]);
        hw_json_add_number(card, NULL, setting->card_mm[1]);
    }
    if (setting->card_not_known) {
        hw_json_add_bool(json, "card_not_known", true);
    }
    put_number(json, "ml_m2", setting->ml_m2);
    if (setting->area_count > 0) {
        hw_json *areas = hw_json_add_object(json, "areas_cm2");
        for (size_t i = 0; i < setting->area_count; i++) {
            hw_json_add_number(areas, setting->areas[i].part, setting->areas[i].cm2);
        }
    }
    return json;
}

// A number that can be at all, where there is one. False: it cannot be.
static bool get_number(const hw_json *json, const char *name, double most, double *out)
{
    return !hw_json_member(json, name) ||
           (hw_json_member_number(json, name, out) && *out > 0.0 && *out <= most);
}

static bool get_coats(const hw_json *json, hw_setting_event *out)
{
    double coats = 0.0;
    if (!hw_json_member(json, "coats_over")) {
        return true;
    }
    if (!hw_coats_over_from_name(hw_json_member_text(json, "coats_over"), &out->coats_over) ||
        !hw_json_member_number(json, "coats", &coats) ||
        !(coats >= 0.0 && coats <= HW_COATS_MOST) || coats != floor(coats)) {
        return false;
    }
    out->coats = (int)coats;
    return true;
}

static bool get_card(const hw_json *json, hw_setting_event *out)
{
    const hw_json *card = hw_json_member(json, "card_mm"), *side = hw_json_first(card);
    if (!card) {
        return true;
    }
    for (int i = 0; i < 2; i++, side = hw_json_next(side)) {
        if (!hw_json_number(side, &out->card_mm[i]) ||
            !(out->card_mm[i] > 0.0 && out->card_mm[i] <= HW_LENGTH_MOST_MM)) {
            return false;
        }
    }
    return !side;
}

static bool get_areas(const hw_json *json, hw_setting_event *out, bool *memory_out)
{
    const hw_json *areas = hw_json_member(json, "areas_cm2");
    size_t count = 0;
    for (const hw_json *one = hw_json_first(areas); one; one = hw_json_next(one)) {
        count++;
    }
    if (count == 0) {
        return true;
    }
    out->areas = hw_alloc_array(count, sizeof *out->areas);
    if (!out->areas) {
        *memory_out = true;
        return false;
    }
    for (const hw_json *one = hw_json_first(areas); one; one = hw_json_next(one)) {
        hw_part_area *area = &out->areas[out->area_count];
        if (!hw_name_is_usable(hw_json_name(one)) || !hw_json_number(one, &area->cm2) ||
            !(area->cm2 > 0.0 && area->cm2 <= HW_AREA_MOST_CM2)) {
            return false;
        }
        hw_copy_text(area->part, sizeof area->part, hw_json_name(one));
        out->area_count++;
    }
    return true;
}

bool hw_event_read_setting(const hw_json *json, hw_setting_event *out, bool *memory_out)
{
    hw_json_bool(hw_json_member(json, "card_not_known"), &out->card_not_known);
    return get_coats(json, out) &&
           get_number(json, "recoat_minutes", HW_RECOAT_MOST_MINUTES, &out->recoat_minutes) &&
           get_card(json, out) && get_number(json, "ml_m2", HW_ML_M2_MOST, &out->ml_m2) &&
           get_areas(json, out, memory_out);
}

// ---- As it is now ------------------------------------------------------------------

static void take_over(hw_job_settings *now, const hw_event *event)
{
    const hw_setting_event *setting = &event->of.setting;
    if (setting->coats_over != HW_COATS_UNSAID) {
        now->coats_over = setting->coats_over;
        now->coats_said = setting->coats;
        now->coats_event = event->number;
    }
    if (setting->recoat_minutes > 0.0) {
        now->recoat_minutes = setting->recoat_minutes;
    }
    if (setting->card_mm[0] > 0.0) {
        now->card_mm[0] = setting->card_mm[0];
        now->card_mm[1] = setting->card_mm[1];
    }
    now->card_asked = now->card_asked || setting->card_not_known || setting->card_mm[0] > 0.0;
    if (setting->ml_m2 > 0.0) {
        now->ml_m2 = setting->ml_m2;
    }
}

hw_job_settings hw_job_settings_now(const hw_job *job)
{
    const double none = (double)NAN;
    hw_job_settings now = {.recoat_minutes = none, .card_mm = {none, none}, .ml_m2 = none};
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        if (hw_job_event(job, i)->kind == HW_EVENT_SETTING) {
            take_over(&now, hw_job_event(job, i));
        }
    }
    return now;
}

double hw_job_area_said(const hw_job *job, const char *part)
{
    double area = (double)NAN;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        const hw_setting_event *setting = &event->of.setting;
        for (size_t k = 0; event->kind == HW_EVENT_SETTING && k < setting->area_count; k++) {
            area = strcmp(setting->areas[k].part, part) == 0 ? setting->areas[k].cm2 : area;
        }
    }
    return area;
}
