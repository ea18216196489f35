// job_event.c: events as the JSON of a log line, and back. Members may be added by later versions;
// none is renamed and no unit changes. What does not make sense is kept in the file and skipped
// here (HW_EVENT_OTHER), never guessed.
//
// Each kind has its own members, written and read in job_event_photo.c (what was seen),
// job_event_pass.c and job_event_coat.c (what was done), job_event_word.c and job_event_setting.c (what was
// said).
#include "job_internal.h"

static const char *const kind_names[HW_EVENT_KIND_COUNT] = {
    [HW_EVENT_OTHER] = "other",
    [HW_EVENT_JOB_STARTED] = "job_started",
    [HW_EVENT_PHOTO_ADDED] = "photo_added",
    [HW_EVENT_READING] = "reading",
    [HW_EVENT_PLAN_SHOWN] = "plan_shown",
    [HW_EVENT_PASS_LAID] = "pass_laid",
    [HW_EVENT_PART_NAMED] = "part_named",
    [HW_EVENT_COAT_LAID] = "coat_laid",
    [HW_EVENT_TAKEN_OFF] = "taken_off",
    [HW_EVENT_JAR_MIXED] = "jar_mixed",
    [HW_EVENT_CORRECTION] = "correction",
    [HW_EVENT_NOTE] = "note",
    [HW_EVENT_APPROVAL] = "approval",
    [HW_EVENT_SETTING] = "setting",
    [HW_EVENT_WITHDRAWN] = "withdrawn",
};
// A photo's place taken by an instrument: the same event here, another in the file.
static const char measured_name[] = "measured";

const char *hw_event_kind_name(hw_event_kind kind)
{
    return kind_names[kind];
}

static const char *const state_names[HW_STATE_COUNT] = {
    [HW_STATE_UNKNOWN] = "unknown",       [HW_STATE_BARE] = "bare",
    [HW_STATE_NOT_DRY] = "not_dry",       [HW_STATE_DAMP] = "damp",
    [HW_STATE_SEALED] = "sealed",         [HW_STATE_FINISHED] = "finished",
    [HW_STATE_RUBBED_OUT] = "rubbed_out",
};

const char *hw_state_name(hw_state state)
{
    return state_names[state];
}

bool hw_state_from_name(const char *name, hw_state *out)
{
    for (int state = 0; name && state < HW_STATE_COUNT; state++) {
        if (strcmp(name, state_names[state]) == 0) {
            *out = (hw_state)state;
            return true;
        }
    }
    return false;
}

void hw_event_free(hw_event *event)
{
    if (!event) {
        return;
    }
    switch (event->was) {
    case HW_EVENT_PHOTO_ADDED:
        hw_marks_free(&event->of.photo.marks);
        hw_free(event->of.photo.states);
        hw_event_free_more(&event->of.photo);
        hw_free(event->of.photo.camera);
        break;
    case HW_EVENT_READING:
        hw_free(event->of.reading.samples);
        hw_free(event->of.reading.gaps);
        break;
    case HW_EVENT_PASS_LAID:
        hw_free(event->of.pass.patches);
        hw_free(event->of.pass.forecast);
        break;
    case HW_EVENT_COAT_LAID:
        hw_free(event->of.coat.parts);
        break;
    case HW_EVENT_TAKEN_OFF:
        hw_free(event->of.takeoff.parts);
        break;
    case HW_EVENT_CORRECTION:
        hw_free(event->of.correction.change);
        hw_free(event->of.correction.was);
        break;
    case HW_EVENT_SETTING:
        hw_free(event->of.setting.areas);
        break;
    default: // owns nothing
        break;
    }
    *event = (hw_event){0};
}

double *hw_event_hours_of(hw_event *event)
{
    switch (event->was) {
    case HW_EVENT_PASS_LAID:
        return &event->of.pass.hours;
    case HW_EVENT_COAT_LAID:
        return &event->of.coat.hours;
    case HW_EVENT_TAKEN_OFF:
        return &event->of.takeoff.hours;
    case HW_EVENT_NOTE:
        return &event->of.note.hours;
    default:
        return NULL;
    }
}

double hw_event_hours(const hw_event *event)
{
    const double *hours = hw_event_hours_of((hw_event *)event); // only read
    return hours ? *hours : 0.0;
}

// ---- Any event ---------------------------------------------------------------------

bool hw_event_body_can_be(hw_event_kind kind)
{
    return kind == HW_EVENT_JOB_STARTED || kind == HW_EVENT_PHOTO_ADDED ||
           kind == HW_EVENT_PASS_LAID || kind == HW_EVENT_COAT_LAID || kind == HW_EVENT_TAKEN_OFF ||
           kind == HW_EVENT_JAR_MIXED || kind == HW_EVENT_NOTE || kind == HW_EVENT_APPROVAL ||
           kind == HW_EVENT_SETTING;
}

hw_json *hw_event_body_json(const hw_event *event)
{
    switch (event->kind) {
    case HW_EVENT_JOB_STARTED: {
        hw_json *json = hw_json_new_object();
        hw_json_add_text(json, "title", event->of.start.title);
        return json;
    }
    case HW_EVENT_PHOTO_ADDED:
        return hw_event_photo_json(&event->of.photo);
    case HW_EVENT_PASS_LAID:
        return hw_event_pass_json(&event->of.pass);
    case HW_EVENT_COAT_LAID:
        return hw_event_coat_json(&event->of.coat);
    case HW_EVENT_TAKEN_OFF:
        return hw_event_takeoff_json(&event->of.takeoff);
    case HW_EVENT_JAR_MIXED:
        return hw_event_jar_json(&event->of.jar);
    case HW_EVENT_NOTE:
        return hw_event_note_json(&event->of.note);
    case HW_EVENT_APPROVAL:
        return hw_event_approval_json(&event->of.approval);
    case HW_EVENT_SETTING:
        return hw_event_setting_json(&event->of.setting);
    default: // what no person entered is not corrected
        return NULL;
    }
}

static bool read_body(const hw_json *json, const hw_limits *limits, hw_event *out, bool *memory_out)
{
    switch (out->kind) {
    case HW_EVENT_JOB_STARTED:
        hw_event_get_text(json, "title", out->of.start.title, sizeof out->of.start.title);
        return true;
    case HW_EVENT_PHOTO_ADDED:
        return out->of.photo.measured
                   ? hw_event_read_measured(json, limits, &out->of.photo, memory_out)
                   : hw_event_read_photo(json, limits, &out->of.photo, memory_out);
    case HW_EVENT_READING:
        return hw_event_read_reading(json, &out->of.reading, memory_out);
    case HW_EVENT_PLAN_SHOWN:
        return hw_event_read_plan(json, &out->of.plan);
    case HW_EVENT_PASS_LAID:
        return hw_event_read_pass(json, &out->of.pass, memory_out);
    case HW_EVENT_PART_NAMED:
        return hw_event_read_part(json, &out->of.part);
    case HW_EVENT_COAT_LAID:
        return hw_event_read_coat(json, &out->of.coat, memory_out);
    case HW_EVENT_TAKEN_OFF:
        return hw_event_read_takeoff(json, &out->of.takeoff, memory_out);
    case HW_EVENT_JAR_MIXED:
        return hw_event_read_jar(json, &out->of.jar);
    case HW_EVENT_CORRECTION:
        return hw_event_read_correction(json, &out->of.correction, memory_out);
    case HW_EVENT_NOTE:
        return hw_event_read_note(json, &out->of.note);
    case HW_EVENT_APPROVAL:
        return hw_event_read_approval(json, &out->of.approval);
    case HW_EVENT_SETTING:
        return hw_event_read_setting(json, &out->of.setting, memory_out);
    case HW_EVENT_OTHER:
    case HW_EVENT_WITHDRAWN:
    case HW_EVENT_KIND_COUNT:
        break;
    }
    return true;
}

static hw_event_kind kind_from_name(const char *name)
{
    for (int kind = 0; name && kind < HW_EVENT_WITHDRAWN; kind++) {
        if (strcmp(name, kind_names[kind]) == 0) {
            return (hw_event_kind)kind;
        }
    }
    return HW_EVENT_OTHER;
}

const char *hw_photo_event_name(const hw_photo_event *photo)
{
    return photo->measured ? measured_name : kind_names[HW_EVENT_PHOTO_ADDED];
}

bool hw_event_read(const hw_json *json, const hw_limits *limits, hw_event *out)
{
    hw_event event = {0};
    bool memory_out = false;
    const char *name = hw_json_member_text(json, "event");
    event.kind = kind_from_name(name);
    if (name && strcmp(name, measured_name) == 0) {
        event.kind = HW_EVENT_PHOTO_ADDED;
        event.of.photo.measured = true;
    }
    event.was = event.kind;
    if (!read_body(json, limits, &event, &memory_out)) {
        hw_event_free(&event);
        if (memory_out) {
            return false;
        }
    }
    hw_event_get_count(json, "number", &event.number);
    hw_parse_time(hw_json_member_text(json, "at"), &event.at);
    hw_event_get_text(json, "program", event.program, sizeof event.program);
    const char *entry = hw_json_member_text(json, "entry");
    if (entry && hw_entry_is_usable(entry)) {
        hw_copy_text(event.entry, sizeof event.entry, entry);
    }
    *out = event;
    return true;
}
