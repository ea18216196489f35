// job_event_coat.c: what was laid beside toner, and taken off: coats of finish, wiping back and
// stripping, jars of mixed liquid.
#include "job_internal.h"

static const char *const coat_names[HW_COAT_COUNT] = {
    [HW_COAT_SEALER] = "sealer",
    [HW_COAT_BARRIER] = "barrier",
    [HW_COAT_CLEAR] = "clear",
};

const char *hw_coat_name(hw_coat coat)
{
    return coat_names[coat];
}

bool hw_coat_from_name(const char *name, hw_coat *out)
{
    for (int coat = 0; name && coat < HW_COAT_COUNT; coat++) {
        if (strcmp(name, coat_names[coat]) == 0) {
            *out = (hw_coat)coat;
            return true;
        }
    }
    return false;
}

// ---- coat_laid ---------------------------------------------------------------------

hw_json *hw_event_coat_json(const hw_coat_event *coat)
{
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "coat", hw_coat_name(coat->coat));
    hw_event_put_names(json, "parts", (const char(*)[HW_NAME_SIZE])coat->parts, coat->part_count);
    hw_event_put_before_photo(json, coat->before_photo);
    hw_event_put_hours(json, coat->hours);
    hw_event_put_text(json, "note", coat->note);
    return json;
}

bool hw_event_read_coat(const hw_json *json, hw_coat_event *out, bool *memory_out)
{
    out->before_photo = hw_event_get_before_photo(json);
    out->hours = hw_event_get_hours(json);
    hw_event_get_text(json, "note", out->note, sizeof out->note);
    return hw_coat_from_name(hw_json_member_text(json, "coat"), &out->coat) &&
           hw_event_get_names(hw_json_member(json, "parts"), &out->parts, &out->part_count,
                              memory_out);
}

// ---- taken_off ---------------------------------------------------------------------

hw_json *hw_event_takeoff_json(const hw_takeoff_event *takeoff)
{
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "how", takeoff->stripped ? "stripped" : "wiped");
    hw_event_put_names(json, "parts", (const char(*)[HW_NAME_SIZE])takeoff->parts,
                       takeoff->part_count);
    hw_event_put_before_photo(json, takeoff->before_photo);
    hw_event_put_hours(json, takeoff->hours);
    hw_event_put_text(json, "note", takeoff->note);
    return json;
}

bool hw_event_read_takeoff(const hw_json *json, hw_takeoff_event *out, bool *memory_out)
{
    const char *how = hw_json_member_text(json, "how");
    out->stripped = how && strcmp(how, "stripped") == 0;
    out->before_photo = hw_event_get_before_photo(json);
    out->hours = hw_event_get_hours(json);
    hw_event_get_text(json, "note", out->note, sizeof out->note);
    return how && (out->stripped || strcmp(how, "wiped") == 0) &&
           hw_event_get_names(hw_json_member(json, "parts"), &out->parts, &out->part_count,
                              memory_out) &&
           out->part_count > 0;
}

// ---- jar_mixed ---------------------------------------------------------------------

hw_json *hw_event_jar_json(const hw_jar_event *jar)
{
    hw_json *json = hw_json_new_object();
    if (jar->jar > 0) { // of a new one the log gives it
        hw_json_add_number(json, "jar", (double)jar->jar);
    }
    hw_event_put_liquid(json, &jar->liquid);
    if (jar->volume_ml > 0.0) {
        hw_json_add_number(json, "volume_ml", jar->volume_ml);
    }
    if (jar->from_job[0]) {
        hw_json_add_text(json, "from_job", jar->from_job);
        hw_json_add_number(json, "from_jar", (double)jar->from_jar);
    }
    hw_event_put_text(json, "note", jar->note);
    hw_event_put_dyes(json, jar->dye, jar->dye_count);
    return json;
}

bool hw_event_read_jar(const hw_json *json, hw_jar_event *out)
{
    bool carried = hw_json_member(json, "from_job") != NULL;
    out->dye_count = hw_event_get_dyes(json, out->dye);
    hw_event_get_text(json, "note", out->note, sizeof out->note);
    hw_event_get_text(json, "from_job", out->from_job, sizeof out->from_job);
    if (!hw_json_member_number(json, "volume_ml", &out->volume_ml) ||
        !(out->volume_ml > 0.0 && out->volume_ml <= HW_MIX_MOST_ML)) {
        out->volume_ml = 0.0;
    }
    if (carried && !(hw_name_is_usable(out->from_job) &&
                     hw_event_get_count(json, "from_jar", &out->from_jar))) {
        out->from_job[0] = 0;
        out->from_jar = 0;
    }
    return hw_event_get_count(json, "jar", &out->jar) &&
           hw_event_get_liquid(hw_json_member(json, "liquid"), &out->liquid);
}
