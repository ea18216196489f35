// report_event.c: what was done and said beside photos and passes, for people: coats, taking off, jars, names,
// corrections, notes, approvals; and the parts as they are now.
#include "report_internal.h"

#include <math.h>
#include <string.h>

// ---- Pieces ------------------------------------------------------------------------

void hw_report_add_said(hw_text *text, const char *what, const char *value)
{
    if (value[0]) {
        hw_text_add(text, "%s", what);
        hw_report_add_clean(text, value);
    }
}

void hw_report_add_state(hw_text *text, hw_state state)
{
    for (const char *name = hw_state_name(state); *name; name++) {
        hw_text_add(text, "%c", *name == '_' ? ' ' : *name); // "not dry"
    }
}

static void add_names(hw_text *text, const char (*names)[HW_NAME_SIZE], size_t count)
{
    for (size_t i = 0; i < count; i++) {
        hw_text_add(text, i ? ", " : "");
        hw_report_add_clean(text, names[i]);
    }
}

void hw_report_add_before_photo(hw_text *text, const char *done, const hw_event *event,
                                long before_photo)
{
    if (before_photo > 0) {
        hw_text_add(text, "; %s%s before photo %ld",
                    before_photo < event->number ? "logged later: " : "", done, before_photo);
    }
}

void hw_report_add_hours(hw_text *text, const hw_event *event)
{
    double hours = hw_event_hours(event);
    if (hours > 0.0) {
        hw_text_add(text, "; %g hour%s of work", hours, hours == 1.0 ? "" : "s");
    }
}

// ---- Done --------------------------------------------------------------------------

static void add_coat(hw_text *text, const hw_event *event)
{
    const hw_coat_event *coat = &event->of.coat;
    hw_text_add(text, "%s coat laid on ", hw_coat_name(coat->coat));
    if (coat->part_count == 0) {
        hw_text_add(text, "the whole piece");
    }
    add_names(text, (const char(*)[HW_NAME_SIZE])coat->parts, coat->part_count);
    hw_report_add_before_photo(text, "laid", event, coat->before_photo);
    hw_report_add_said(text, "; note: ", coat->note);
}

static void add_takeoff(hw_text *text, const hw_event *event)
{
    const hw_takeoff_event *takeoff = &event->of.takeoff;
    add_names(text, (const char(*)[HW_NAME_SIZE])takeoff->parts, takeoff->part_count);
    hw_text_add(text, takeoff->stripped ? " stripped to the wood" : " wiped back to the last coat");
    hw_report_add_before_photo(text, "done", event, takeoff->before_photo);
    hw_report_add_said(text, "; note: ", takeoff->note);
}

// ---- Corrections -------------------------------------------------------------------

static void add_liquid_json(hw_text *text, const hw_json *list)
{
    for (const hw_json *dose = hw_json_first(list); dose; dose = hw_json_next(dose)) {
        char strength[48];
        double value = 0.0;
        hw_json_member_number(dose, "strength", &value);
        hw_report_strength(strength, sizeof strength, value);
        const char *dye = hw_json_member_text(dose, "dye");
        hw_text_add(text, dose == hw_json_first(list) ? "" : " with ");
        hw_report_add_clean(text, dye ? dye : "?");
        hw_text_add(text, " at %s", strength);
    }
}

// A value as a person says it: a list of names, a number, a text.
static void add_value(hw_text *text, const char *name, const hw_json *value)
{
    double number = 0.0;
    if (!value || hw_json_is_null(value)) {
        hw_text_add(text, "not said");
    } else if (strcmp(name, "liquid") == 0) {
        add_liquid_json(text, value);
    } else if (hw_json_number(value, &number)) {
        hw_text_add(text, "%g", number);
    } else if (hw_json_text(value)) {
        hw_report_add_clean(text, hw_json_text(value));
    } else {
        for (const hw_json *item = hw_json_first(value); item; item = hw_json_next(item)) {
            hw_text_add(text, item == hw_json_first(value) ? "" : ", ");
            hw_report_add_said(text, "", hw_json_name(item) ? hw_json_name(item) : "");
            hw_text_add(text, hw_json_name(item) ? " " : "");
            hw_report_add_said(text, "", hw_json_text(item) ? hw_json_text(item) : "");
        }
    }
}

// What follows from the rest and is no word of a person's.
static bool is_derived(const char *name)
{
    return strcmp(name, "forecast") == 0 || strcmp(name, "dyes") == 0 ||
           strcmp(name, "marks_reused") == 0;
}

static void add_changes(hw_text *text, const hw_json *change, const hw_json *was)
{
    bool first = true;
    for (const hw_json *one = hw_json_first(change); one; one = hw_json_next(one)) {
        const char *name = hw_json_name(one);
        if (is_derived(name)) {
            continue;
        }
        hw_text_add(text, first ? ": " : "; ");
        first = false;
        if (strcmp(name, "marks") == 0) {
            hw_text_add(text, "other marks; read again");
            continue;
        }
        for (const char *at = name; *at; at++) {
            hw_text_add(text, "%c", *at == '_' ? ' ' : *at);
        }
        hw_text_add(text, " ");
        add_value(text, name, one);
        hw_text_add(text, ", was ");
        add_value(text, name, hw_json_member(was, name));
    }
}

static hw_json *parsed(const char *object)
{
    hw_json *json = NULL;
    hw_error ignored = {0};
    if (!object || hw_json_parse(object, strlen(object), NULL, "log", &json, &ignored) != HW_OK) {
        return NULL;
    }
    return json;
}

static void add_correction(hw_text *text, const hw_correction_event *correction)
{
    if (correction->withdraw) {
        hw_text_add(text, "event %ld withdrawn: it does not count", correction->of);
        return;
    }
    hw_json *change = parsed(correction->change), *was = parsed(correction->was);
    hw_text_add(text, "event %ld corrected", correction->of);
    add_changes(text, change, was);
    hw_json_free(change);
    hw_json_free(was);
}

// ---- Said --------------------------------------------------------------------------

static void add_approval(hw_text *text, const hw_approval_event *approval)
{
    hw_text_add(text, "approved by ");
    hw_report_add_clean(text, approval->by);
    hw_report_add_said(text, " under the lamp ", approval->lamp);
    hw_report_add_said(text, "; note: ", approval->note);
}

static void add_note(hw_text *text, const hw_note_event *note)
{
    hw_text_add(text, "note");
    hw_report_add_said(text, " on ", note->part);
    hw_report_add_said(text, ": ", note->text);
}

// What a setting says, each behind its own separator.
static void add_setting(hw_text *text, const hw_setting_event *setting)
{
    const char *between = "for the whole job: ", *next = "; ";
    if (setting->coats_over == HW_COATS_NOT_KNOWN) {
        hw_text_add(text, "%sclear coats to come: not known", between);
        between = next;
    } else if (setting->coats_over != HW_COATS_UNSAID && setting->coats == 0) {
        hw_text_add(text, "%sno clear coats to come", between);
        between = next;
    } else if (setting->coats_over != HW_COATS_UNSAID) {
        hw_text_add(text, "%s%d clear coat%s to come, over %s", between, setting->coats,
                    setting->coats == 1 ? "" : "s",
                    setting->coats_over == HW_COATS_ALL ? "repairs and old wood"
                                                        : "the repairs only");
        between = next;
    }
    if (setting->recoat_minutes > 0.0) {
        hw_text_add(text, "%srecoat after %g minute%s", between, setting->recoat_minutes,
                    setting->recoat_minutes == 1.0 ? "" : "s");
        between = next;
    }
    if (setting->card_mm[0] > 0.0) {
        hw_text_add(text, "%sthe card is %g x %g mm", between, setting->card_mm[0],
                    setting->card_mm[1]);
        between = next;
    } else if (setting->card_not_known) {
        hw_text_add(text, "%sthe card's size is not known", between);
        between = next;
    }
    if (setting->ml_m2 > 0.0) {
        hw_text_add(text, "%sa pass takes %g ml a square metre", between, setting->ml_m2);
        between = next;
    }
    for (size_t i = 0; i < setting->area_count; i++, between = next) {
        hw_text_add(text, "%sarea of ", between);
        hw_report_add_clean(text, setting->areas[i].part);
        hw_text_add(text, ": %.4g cm2", setting->areas[i].cm2);
    }
}

static void add_part(hw_text *text, const hw_part_event *part)
{
    hw_report_add_clean(text, part->was);
    hw_text_add(text, " is called ");
    hw_report_add_clean(text, part->part);
    hw_text_add(text, " from now on, and in all that was logged before");
}

bool hw_report_add_event(hw_text *text, const hw_event *event)
{
    switch (event->was) {
    case HW_EVENT_COAT_LAID:
        add_coat(text, event);
        return true;
    case HW_EVENT_TAKEN_OFF:
        add_takeoff(text, event);
        return true;
    case HW_EVENT_JAR_MIXED:
        hw_report_add_jar(text, &event->of.jar);
        return true;
    case HW_EVENT_CORRECTION:
        add_correction(text, &event->of.correction);
        return true;
    case HW_EVENT_NOTE:
        add_note(text, &event->of.note);
        return true;
    case HW_EVENT_APPROVAL:
        add_approval(text, &event->of.approval);
        return true;
    case HW_EVENT_SETTING:
        add_setting(text, &event->of.setting);
        return true;
    case HW_EVENT_PART_NAMED: // the naming by a photo is that photo's own line
        if (event->of.part.was[0]) {
            add_part(text, &event->of.part);
        }
        return event->of.part.was[0] != 0;
    default:
        return false;
    }
}

static void add_laid(hw_text *text, const hw_pass_event *pass)
{
    char passes[32];
    hw_report_passes(passes, sizeof passes, pass->passes);
    hw_text_add(text, "%s of ", passes);
    if (pass->jar > 0) {
        hw_text_add(text, "jar %ld", pass->jar);
    } else {
        hw_report_add_liquid(text, &pass->liquid);
    }
    hw_text_add(text, " on ");
    add_names(text, (const char(*)[HW_NAME_SIZE])pass->patches, pass->patch_count);
}

void hw_report_event_words(const hw_event *event, char *out, size_t size)
{
    hw_text text = {0};
    if (event->was == HW_EVENT_PASS_LAID) {
        add_laid(&text, &event->of.pass);
    } else if (event->was == HW_EVENT_PHOTO_ADDED) {
        hw_text_add(&text, event->of.photo.measured ? "a measurement" : "a photo of the view ");
        hw_report_add_clean(&text, event->of.photo.measured ? "" : event->of.photo.view);
    } else {
        hw_report_add_event(&text, event);
    }
    hw_copy_text(out, size, hw_text_words(&text));
    hw_text_free(&text);
}

// ---- The parts now -----------------------------------------------------------------

void hw_report_add_lies(hw_text *text, const hw_job *job, const hw_part_now *part)
{
    double hours = hw_job_hours(job, part->name), ml = hw_job_part_ml(job, part->name);
    char passes[32];
    if (part->state == HW_STATE_UNKNOWN) {
        hw_text_add(text, "surface not said");
    } else {
        hw_report_add_state(text, part->state);
    }
    if (part->coat) {
        hw_text_add(text, ", last coat %s (event %ld)", hw_coat_name(part->coat->of.coat.coat),
                    part->coat->number);
    }
    if (part->passes > 0) {
        hw_report_passes(passes, sizeof passes, part->passes);
        hw_text_add(text, ", %s of toner on it", passes);
    }
    if (isfinite(ml) && ml > 0.0) {
        hw_report_add_about(text, ", ", ml);
        hw_text_add(text, " of liquid laid");
    }
    if (hours > 0.0) {
        hw_text_add(text, ", ");
        hw_report_add_minutes(text, 60.0 * hours);
        hw_text_add(text, " of work");
    }
}

static void add_part_now(hw_text *text, const hw_job *job, const hw_part_now *part)
{
    hw_text_add(text, "    ");
    hw_report_add_clean(text, part->name);
    hw_text_add(text, part->role == HW_ROLE_TARGET ? " (old wood): " : ": ");
    hw_report_add_lies(text, job, part);
    hw_text_add(text, "\n");
}

// Hours as they were entered, and how long the log was written on: both, for neither is the whole truth.
static void add_work(hw_text *text, const hw_job *job)
{
    double at_log = 0.0, hours = hw_job_hours(job, NULL);
    size_t sittings = hw_job_sittings(job, &at_log);
    hw_text_add(text, "\nWork so far: ");
    if (hours > 0.0) {
        hw_text_add(text, "%.3g hour%s as entered; ", hours, hours == 1.0 ? "" : "s");
    } else {
        hw_text_add(text, "no hours entered; ");
    }
    hw_text_add(text, "the log was written in %zu sitting%s", sittings, sittings == 1 ? "" : "s");
    if (at_log >= 0.05) {
        hw_text_add(text, ", %.1f hours in all, pauses of over an hour left out", at_log);
    }
    hw_text_add(text, ".\n");
}

hw_status hw_report_add_parts(hw_text *text, const hw_job *job, hw_error *err)
{
    hw_part_now *parts = NULL;
    size_t count = 0;
    hw_status status = hw_job_parts(job, &parts, &count, err);
    if (status == HW_OK && count > 0) {
        hw_text_add(text, "\nThe parts now:\n");
        for (size_t i = 0; i < count; i++) {
            add_part_now(text, job, &parts[i]);
        }
    }
    hw_job_parts_free(parts);
    if (status == HW_OK) {
        add_work(text, job);
    }
    const hw_event *approval = status == HW_OK ? hw_job_approval(job) : NULL;
    if (approval) {
        hw_text_add(text, "\nThe job is ");
        add_approval(text, &approval->of.approval);
        hw_text_add(text, ".\n");
    }
    return status;
}

// ---- One event, just logged --------------------------------------------------------

static void add_next_step(hw_text *text, const hw_event *event)
{
    if (event->kind == HW_EVENT_COAT_LAID) {
        hw_text_add(text, "Next: let it dry, then photograph it with the card beside it.\n%s\n",
                    hw_caution_one_line());
    } else if (event->kind == HW_EVENT_TAKEN_OFF) {
        hw_text_add(
            text, "Next: let it dry, then photograph it: what is left on it shows only there.\n"
                  "Reminder only: solvents and strippers can burn, poison and catch fire, and old "
                  "coatings may hold lead. The product's safety data sheet, your local codes and "
                  "qualified people decide.\n");
    }
}

hw_status hw_report_unchanged_text(const hw_warnings *warnings, char **out, hw_error *err)
{
    hw_text text = {0};
    hw_text_add(&text, "It says that already: nothing was logged.\n");
    hw_report_add_warnings(&text, warnings);
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_logged_text(const hw_event *event, const hw_warnings *warnings, char **out,
                                hw_error *err)
{
    hw_text text = {0};
    hw_text_add(&text, "Saved: ");
    hw_report_add_event(&text, event);
    hw_report_add_hours(&text, event);
    hw_text_add(&text, " (event %ld)\n", event->number);
    hw_report_add_warnings(&text, warnings);
    add_next_step(&text, event);
    return hw_report_finish(&text, out, err);
}
