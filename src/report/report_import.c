// report_import.c: what an instrument measured, and how far the photos of the same parts are off.
#include "report_internal.h"

#include <math.h>
#include <string.h>

#define PARTS_MOST 64 // as many as there can be marks

// Do the two ranges of a gap meet? Then photo and instrument do not contradict each other.
static bool agree(const hw_photo_off *one)
{
    return one->gap_by_photo->de00_low <= one->gap_measured->de00_high &&
           one->gap_measured->de00_low <= one->gap_by_photo->de00_high;
}

static void add_off(hw_text *text, const hw_photo_off *one)
{
    hw_text_add(text, "    ");
    hw_report_add_clean(text, one->part);
    hw_text_add(text, ": measured L* %.1f, a* %.1f, b* %.1f; photo %ld reads it off by %.1f: ",
                one->measured.L, one->measured.a, one->measured.b, one->photo, one->off.de00);
    hw_report_add_change(text, one->off.L, one->off.a, one->off.b);
    hw_text_add(text, "\n");
    if (one->gap_by_photo && one->gap_measured) {
        hw_text_add(text, "        its gap to the old wood: ");
        hw_report_add_gap_range(text, one->gap_measured->de00, one->gap_measured->de00_low,
                                one->gap_measured->de00_high);
        hw_text_add(text, " by the instrument, ");
        hw_report_add_gap_range(text, one->gap_by_photo->de00, one->gap_by_photo->de00_low,
                                one->gap_by_photo->de00_high);
        hw_text_add(text, " by the photo: they %s\n", agree(one) ? "agree" : "DO NOT AGREE");
    }
}

void hw_report_add_photo_off(hw_text *text, const hw_job *job, const hw_event *measured)
{
    hw_photo_off off[PARTS_MOST];
    size_t count = hw_job_photo_off(job, measured, off, PARTS_MOST);
    for (size_t i = 0; i < count; i++) {
        add_off(text, &off[i]);
    }
}

static void add_heading(hw_text *text, const hw_event *event)
{
    const hw_photo_event *measured = &event->of.photo;
    hw_text_add(text, "Saved as event %ld: %zu part%s measured", event->number,
                measured->marks.count, measured->marks.count == 1 ? "" : "s");
    hw_report_add_said(text, ", instrument ", measured->instrument);
    hw_text_add(text, ".\n");
    if (measured->has_card_lab) {
        hw_text_add(
            text,
            "The card's own colour is L* %.1f, a* %.1f, b* %.1f: photos added from now on are "
            "read by it.\n",
            measured->card_lab.L, measured->card_lab.a, measured->card_lab.b);
    }
}

hw_status hw_report_import_text(const hw_job *job, long number, const hw_reading *reading,
                                const hw_warnings *warnings, const hw_report_style *style,
                                char **out, hw_error *err)
{
    hw_text text = {0};
    char *read = NULL;
    const hw_event *event = hw_job_event_numbered(job, number);
    if (!style->quiet) {
        add_heading(&text, event);
        hw_report_add_warnings(&text, warnings);
        hw_text_add(&text, "\n");
    }
    if (reading->comparisons.count > 0) {
        hw_status status = hw_report_reading_text(reading, style, &read, err);
        if (status != HW_OK) {
            hw_text_free(&text);
            return status;
        }
        hw_text_add(&text, "%s", read);
        hw_report_free(read);
    }
    hw_photo_off off[PARTS_MOST];
    size_t count = style->quiet ? 0 : hw_job_photo_off(job, event, off, PARTS_MOST);
    hw_text_add(&text, count ? "\nBeside the photos of this job:\n" : "");
    for (size_t i = 0; i < count; i++) {
        add_off(&text, &off[i]);
    }
    if (!style->quiet && count == 0 && event->of.photo.marks.count > 0) {
        hw_text_add(&text,
                    "No photo shows these parts as they are now, so none can be set beside.\n");
    }
    return hw_report_finish(&text, out, err);
}

static void add_gap(hw_json *told, const char *name, const hw_logged_gap *gap)
{
    hw_json *one = hw_json_add_object(told, name);
    hw_json_add_rounded(one, "de00", gap->de00, 3);
    hw_json_add_rounded(one, "de00_low", gap->de00_low, 3);
    hw_json_add_rounded(one, "de00_high", gap->de00_high, 3);
}

void hw_report_json_photo_off(hw_json *parent, const hw_job *job, const hw_event *measured)
{
    hw_photo_off off[PARTS_MOST];
    size_t count = hw_job_photo_off(job, measured, off, PARTS_MOST);
    hw_json *list = hw_json_add_array(parent, "photos_off");
    for (size_t i = 0; i < count; i++) {
        const hw_photo_off *one = &off[i];
        hw_json *told = hw_json_add_object(list, NULL);
        hw_report_json_text(told, "part", one->part);
        hw_json_add_text(told, "role", hw_role_name(one->role));
        hw_json_add_number(told, "photo", (double)one->photo);
        hw_report_json_lab(told, "by_photo", one->by_photo);
        hw_report_json_lab(told, "measured", one->measured);
        hw_json_add_rounded(told, "de00", one->off.de00, 3);
        const double delta[3] = {one->off.L, one->off.a, one->off.b};
        hw_report_json_triple(told, "delta", delta, 3);
        if (one->gap_by_photo && one->gap_measured) {
            add_gap(told, "gap_by_photo", one->gap_by_photo);
            add_gap(told, "gap_measured", one->gap_measured);
            hw_json_add_bool(told, "agree", agree(one));
        }
    }
}

hw_status hw_report_import_json(const hw_job *job, long number, const hw_reading *reading,
                                const hw_warnings *warnings, char **out, hw_error *err)
{
    const hw_event *event = hw_job_event_numbered(job, number);
    hw_json *root = hw_report_reading_tree(reading);
    hw_json *told = hw_json_add_object(root, "job");
    hw_json_add_number(told, "event", (double)number);
    if (event->of.photo.has_card_lab) {
        hw_report_json_lab(told, "card_lab", event->of.photo.card_lab);
    }
    hw_report_json_photo_off(told, job, event);
    hw_report_json_warnings(told, warnings);
    return hw_report_json_finish(root, out, err);
}
