// job_event_pieces.c: members that several kinds of events have, as JSON and back.
#include "job_internal.h"

void hw_event_put_lab(hw_json *parent, const char *name, hw_lab lab)
{
    hw_json *list = hw_json_add_array(parent, name);
    hw_json_add_rounded(list, NULL, lab.L, 3);
    hw_json_add_rounded(list, NULL, lab.a, 3);
    hw_json_add_rounded(list, NULL, lab.b, 3);
}

bool hw_event_get_three(const hw_json *list, double out[3])
{
    const hw_json *item = hw_json_is_array(list) ? hw_json_first(list) : NULL;
    for (int i = 0; i < 3; i++, item = hw_json_next(item)) {
        if (!hw_json_number(item, &out[i])) {
            return false;
        }
    }
    return true;
}

bool hw_event_get_lab(const hw_json *list, hw_lab *out)
{
    double three[3];
    if (!hw_event_get_three(list, three)) {
        return false;
    }
    *out = (hw_lab){three[0], three[1], three[2]};
    return true;
}

void hw_event_put_liquid(hw_json *parent, const hw_liquid *liquid)
{
    hw_json *list = hw_json_add_array(parent, "liquid");
    for (size_t i = 0; i < liquid->count; i++) {
        hw_json *dose = hw_json_add_object(list, NULL);
        hw_json_add_text(dose, "dye", liquid->dose[i].dye);
        hw_json_add_number(dose, "strength", liquid->dose[i].strength);
    }
}

bool hw_event_get_liquid(const hw_json *list, hw_liquid *out)
{
    *out = (hw_liquid){0};
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        const char *dye = hw_json_member_text(item, "dye");
        if (out->count == HW_LIQUID_DYES_MAX || !hw_name_is_usable(dye) ||
            !hw_json_member_number(item, "strength", &out->dose[out->count].strength)) {
            return false;
        }
        hw_copy_text(out->dose[out->count++].dye, HW_NAME_SIZE, dye);
    }
    return out->count > 0;
}

bool hw_event_get_passes(const hw_json *json, int *out)
{
    double passes;
    if (!hw_json_member_number(json, "passes", &passes) || !(passes >= 1.0 && passes <= 1000.0)) {
        return false;
    }
    *out = (int)passes;
    return true;
}

void hw_event_get_text(const hw_json *json, const char *name, char *out, size_t size)
{
    const char *text = hw_json_member_text(json, name);
    hw_copy_text(out, size, text ? text : "");
}

void hw_event_put_text(hw_json *json, const char *name, const char *text)
{
    if (text[0]) {
        hw_json_add_text(json, name, text);
    }
}

void hw_event_put_names(hw_json *json, const char *name, const char (*names)[HW_NAME_SIZE],
                        size_t count)
{
    hw_json *list = hw_json_add_array(json, name);
    for (size_t i = 0; i < count; i++) {
        hw_json_add_text(list, NULL, names[i]);
    }
}

bool hw_event_get_names(const hw_json *list, char (**out)[HW_NAME_SIZE], size_t *count,
                        bool *memory_out)
{
    *out = hw_alloc_array(hw_json_count(list), HW_NAME_SIZE);
    if (!*out) {
        *memory_out = true;
        return false;
    }
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        const char *name = hw_json_text(item);
        if (name) {
            hw_copy_text((*out)[(*count)++], HW_NAME_SIZE, name);
        }
    }
    return true;
}

bool hw_event_get_count(const hw_json *json, const char *name, long *out)
{
    double value = 0.0;
    bool good = hw_json_member_number(json, name, &value) && value >= 1.0 && value < 1e9;
    *out = good ? (long)value : 0;
    return good;
}

void hw_event_put_before_photo(hw_json *json, long before_photo)
{
    if (before_photo > 0) {
        hw_json_add_number(json, "before_photo", (double)before_photo);
    }
}

void hw_event_put_hours(hw_json *json, double hours)
{
    if (hours > 0.0) {
        hw_json_add_number(json, "hours", hours);
    }
}

double hw_event_get_hours(const hw_json *json)
{
    double hours = 0.0;
    bool good =
        hw_json_member_number(json, "hours", &hours) && hours > 0.0 && hours <= HW_HOURS_MOST;
    return good ? hours : 0.0;
}

long hw_event_get_before_photo(const hw_json *json)
{
    long number;
    return hw_event_get_count(json, "before_photo", &number) ? number : 0;
}
