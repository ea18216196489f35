// job_event_word.c: what was said: a part's name, a correction, a note, an approval.
#include "job_internal.h"

// ---- part_named --------------------------------------------------------------------

hw_json *hw_event_part_json(const hw_part_event *part)
{
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "part", part->part);
    hw_json_add_text(json, "role", hw_role_name(part->role));
    hw_event_put_text(json, "was", part->was);
    return json;
}

bool hw_event_read_part(const hw_json *json, hw_part_event *out)
{
    hw_event_get_text(json, "part", out->part, sizeof out->part);
    hw_event_get_text(json, "was", out->was, sizeof out->was);
    return hw_name_is_usable(out->part) &&
           hw_role_from_name(hw_json_member_text(json, "role"), &out->role);
}

// ---- correction --------------------------------------------------------------------

// An object of the event as text of its own; NULL when it holds none. False: memory is out.
static bool get_object(const hw_json *object, char **out)
{
    return !hw_json_is_object(object) || hw_json_print(object, false, out, NULL) == HW_OK;
}

bool hw_event_read_correction(const hw_json *json, hw_correction_event *out, bool *memory_out)
{
    if (!hw_event_get_count(json, "of", &out->of)) {
        return false;
    }
    hw_json_bool(hw_json_member(json, "withdraw"), &out->withdraw);
    if (!get_object(hw_json_member(json, "change"), &out->change) ||
        !get_object(hw_json_member(json, "was"), &out->was)) {
        *memory_out = true;
        return false;
    }
    return out->withdraw || out->change;
}

// ---- note --------------------------------------------------------------------------

hw_json *hw_event_note_json(const hw_note_event *note)
{
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "text", note->text);
    hw_event_put_text(json, "part", note->part);
    hw_event_put_hours(json, note->hours);
    return json;
}

bool hw_event_read_note(const hw_json *json, hw_note_event *out)
{
    hw_event_get_text(json, "text", out->text, sizeof out->text);
    hw_event_get_text(json, "part", out->part, sizeof out->part);
    out->hours = hw_event_get_hours(json);
    return out->text[0] != 0;
}

// ---- approval ----------------------------------------------------------------------

hw_json *hw_event_approval_json(const hw_approval_event *approval)
{
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "by", approval->by);
    hw_json_add_text(json, "lamp", approval->lamp);
    hw_event_put_text(json, "note", approval->note);
    return json;
}

bool hw_event_read_approval(const hw_json *json, hw_approval_event *out)
{
    hw_event_get_text(json, "by", out->by, sizeof out->by);
    hw_event_get_text(json, "lamp", out->lamp, sizeof out->lamp);
    hw_event_get_text(json, "note", out->note, sizeof out->note);
    return out->by[0] && out->lamp[0];
}
