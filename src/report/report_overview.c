// report_overview.c: a job as it stands, for a page that shows it first. JSON as src/server/API.md tells it: words made
// here and nowhere else, numbers beside them; what is not known is null.
#include "report_internal.h"

#include <math.h>
#include <string.h>

void hw_overview_free(hw_overview *overview)
{
    if (overview) {
        hw_free(overview->part);
        hw_job_parts_free(overview->parts);
        hw_job_free(overview->job);
        *overview = (hw_overview){0};
    }
}

static void add_time(hw_json *parent, const char *name, int64_t at)
{
    char text[40];
    hw_format_time(text, at);
    hw_json_add_text(parent, name, text);
}

// 0: not known.
static void add_count(hw_json *parent, const char *name, long value)
{
    hw_json_add_number(parent, name, value > 0 ? (double)value : (double)NAN);
}

// ---- Photos ------------------------------------------------------------------------

static bool is_first_of_view(const hw_job *job, size_t index)
{
    const char *view = hw_job_event(job, index)->of.photo.view;
    for (size_t i = 0; i < index; i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED && strcmp(event->of.photo.view, view) == 0) {
            return false;
        }
    }
    return true;
}

static void add_photo(hw_json *list, const hw_job *job, const hw_event *event)
{
    const hw_photo_event *photo = &event->of.photo;
    const hw_event *reading = hw_job_reading_of(job, event->number);
    hw_json *told = hw_json_add_object(list, NULL);
    hw_json_add_number(told, "number", (double)event->number);
    add_time(told, "at", event->at);
    hw_report_json_text(told, "view", photo->view);
    hw_report_json_text(told, "lamp", photo->lamp);
    hw_json_add_text(told, "from", photo->from == HW_FROM_UNSAID ? "" : hw_from_name(photo->from));
    hw_report_json_text(told, "note", photo->note);
    hw_json_add_bool(told, "measured", photo->measured);
    add_count(told, "width", reading ? reading->of.reading.width_px : 0);
    add_count(told, "height", reading ? reading->of.reading.height_px : 0);
}

static void add_photos(hw_json *root, const hw_job *job)
{
    hw_json *views = hw_json_add_array(root, "views");
    hw_json *photos = hw_json_add_array(root, "photos");
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind != HW_EVENT_PHOTO_ADDED) {
            continue;
        }
        add_photo(photos, job, event);
        if (!event->of.photo.measured && is_first_of_view(job, i)) {
            hw_report_json_text(views, NULL, event->of.photo.view);
        }
    }
}

// ---- Parts -------------------------------------------------------------------------

// As it was read: its words, its verdict, both colours.
static void add_gap(hw_json *told, const hw_overview_part *part)
{
    const hw_logged_gap *gap = part->gap;
    hw_comparison beside = {.gap = hw_difference_of(part->target, part->patch),
                            .verdict = gap->verdict};
    beside.gap.de00 = gap->de00;
    beside.direction_count = hw_directions_of(&beside.gap, beside.direction);
    hw_json *size = hw_json_add_object(told, "gap");
    hw_json_add_rounded(size, "de00", gap->de00, 3);
    hw_json_add_rounded(size, "de00_low", gap->de00_low, 3);
    hw_json_add_rounded(size, "de00_high", gap->de00_high, 3);
    hw_text range = {0}, says = {0};
    hw_report_add_gap_range(&range, gap->de00, gap->de00_low, gap->de00_high);
    hw_report_json_words(size, "text", &range);
    hw_json_add_text(told, "verdict", hw_verdict_name(gap->verdict));
    hw_json *words = hw_json_add_array(told, "words");
    for (size_t i = 0; i < beside.direction_count; i++) {
        hw_json_add_text(words, NULL, hw_direction_words(beside.direction[i]));
    }
    hw_report_add_verdict(&says, &beside, false);
    hw_report_json_words(told, "says", &says);
    hw_json *screen = hw_json_add_object(told, "screen");
    hw_report_json_screen(screen, "patch", part->patch);
    hw_report_json_screen(screen, "target", part->target);
}

static void add_no_gap(hw_json *told)
{
    hw_json_add_null(told, "gap");
    hw_json_add_null(told, "verdict");
    hw_json_add_array(told, "words");
    hw_json_add_text(told, "says", "");
    hw_json_add_null(told, "screen");
}

static void add_wait(hw_json *told, const hw_overview_part *part, int64_t now)
{
    if (!part->waits) {
        hw_json_add_null(told, "wait");
        return;
    }
    hw_json *wait = hw_json_add_object(told, "wait");
    add_time(wait, "until", part->until);
    hw_json_add_number(wait, "minutes", ceil((double)(part->until - now) / 60.0));
}

static void add_part(hw_json *list, const hw_overview *overview, const hw_overview_part *part)
{
    bool repair = part->now.role == HW_ROLE_PATCH;
    hw_json *told = hw_json_add_object(list, NULL);
    hw_text lies = {0};
    hw_report_json_text(told, "name", part->now.name);
    hw_json_add_text(told, "role", hw_role_name(part->now.role));
    hw_json_add_text(told, "kind", repair ? hw_kind_name(part->kind) : NULL);
    hw_json_add_text(told, "state", hw_state_name(part->now.state));
    hw_report_add_lies(&lies, overview->job, &part->now);
    hw_report_json_words(told, "lies", &lies);
    add_count(told, "photo", part->photo);
    hw_json_add_number(told, "passes", (double)part->laid);
    hw_json_add_number(told, "since_photo", (double)part->since_photo);
    hw_json_add_bool(told, "photo_is_old", part->photo_is_old);
    if (part->gap) {
        add_gap(told, part);
    } else {
        add_no_gap(told);
    }
    add_wait(told, part, overview->now);
}

// ---- Jars, settings, undo ----------------------------------------------------------

static int laid_out_of(const hw_job *job, long jar)
{
    int passes = 0;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PASS_LAID && event->of.pass.jar == jar) {
            passes += event->of.pass.passes * (int)event->of.pass.patch_count;
        }
    }
    return passes;
}

static void add_jars(hw_json *root, const hw_job *job)
{
    hw_json *list = hw_json_add_array(root, "jars");
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        const hw_jar_event *jar = &event->of.jar;
        if (event->kind != HW_EVENT_JAR_MIXED) {
            continue;
        }
        hw_text words = {0};
        hw_json *told = hw_json_add_object(list, NULL);
        hw_json_add_number(told, "jar", (double)jar->jar);
        hw_report_json_liquid(told, &jar->liquid);
        hw_report_add_liquid(&words, &jar->liquid);
        hw_report_json_words(told, "words", &words);
        hw_json_add_number(told, "laid", (double)laid_out_of(job, jar->jar));
        hw_json_add_rounded(told, "left_ml", hw_job_jar_left(job, jar->jar), 1);
        hw_json_add_bool(told, "empty", hw_job_jar_is_empty(job, jar->jar));
    }
}

static void add_settings(hw_json *root, const hw_overview *overview)
{
    const hw_job *job = overview->job;
    hw_job_settings said = hw_job_settings_now(job);
    bool counted = said.coats_over == HW_COATS_ALL || said.coats_over == HW_COATS_REPAIRS;
    hw_json *told = hw_json_add_object(root, "settings");
    hw_json_add_number(told, "coats", counted ? (double)said.coats_said : (double)NAN);
    hw_json_add_text(told, "over",
                     said.coats_over == HW_COATS_UNSAID ? NULL
                                                        : hw_coats_over_name(said.coats_over));
    hw_json_add_number(told, "recoat_minutes", said.recoat_minutes);
    if (isfinite(said.card_mm[0])) {
        hw_json *card = hw_json_add_array(told, "card_mm");
        hw_json_add_number(card, NULL, said.card_mm[0]);
        hw_json_add_number(card, NULL, said.card_mm[1]);
    } else {
        hw_json_add_null(told, "card_mm");
    }
    hw_json_add_bool(told, "card_asked", said.card_asked);
    hw_json_add_number(told, "ml_m2", said.ml_m2);
    hw_json *areas = hw_json_add_array(told, "areas");
    for (size_t i = 0; i < overview->part_count; i++) {
        bool from_card = false;
        double cm2 = hw_job_area(job, overview->part[i].now.name, &from_card);
        if (isfinite(cm2)) {
            hw_json *area = hw_json_add_object(areas, NULL);
            hw_report_json_text(area, "part", overview->part[i].now.name);
            hw_json_add_rounded(area, "cm2", cm2, 1);
            hw_json_add_bool(area, "from_card", from_card);
        }
    }
}

static void add_undo(hw_json *root, const hw_overview *overview)
{
    const hw_event *event = hw_job_event_numbered(overview->job, overview->undo);
    char words[480];
    if (!event) {
        hw_json_add_null(root, "undo");
        return;
    }
    hw_report_event_words(event, words, sizeof words);
    hw_json *undo = hw_json_add_object(root, "undo");
    hw_json_add_number(undo, "event", (double)event->number);
    hw_json_add_text(undo, "words", words);
}

hw_status hw_report_overview_json(const hw_overview *overview, const char *name, char **out,
                                  hw_error *err)
{
    const hw_job *job = overview->job;
    size_t count = hw_job_event_count(job);
    hw_json *root = hw_json_new_object();
    if (name) {
        hw_report_json_text(root, "name", name);
    }
    hw_report_json_text(root, "title", hw_job_title(job));
    hw_json_add_number(root, "last",
                       count > 0 ? (double)hw_job_event(job, count - 1)->number : 0.0);
    add_time(root, "now", overview->now);
    add_photos(root, job);
    hw_json *parts = hw_json_add_array(root, "parts");
    for (size_t i = 0; i < overview->part_count; i++) {
        add_part(parts, overview, &overview->part[i]);
    }
    add_jars(root, job);
    add_settings(root, overview);
    add_undo(root, overview);
    const hw_event *approval = hw_job_approval(job);
    add_count(root, "approved_by_event", approval ? approval->number : 0);
    hw_report_json_warnings(root, hw_job_warnings(job));
    return hw_report_json_finish(root, out, err);
}
