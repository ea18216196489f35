// report_check.c: whether all of a job is there, what was packed, what was unpacked. The first line is the
// answer in words; what is lost comes before what was mended and what is merely odd.
#include "report_internal.h"

#include <math.h>

// ---- Words -------------------------------------------------------------------------

// "1 photo", "3 photos".
static void add_count(hw_text *text, size_t count, const char *one)
{
    hw_text_add(text, "%zu %s%s", count, one, count == 1 ? "" : "s");
}

// One part of "1 line is damaged, 2 photos are missing".
static void add_loss(hw_text *text, size_t count, const char *one, const char *how, size_t *said)
{
    if (count > 0) {
        hw_text_add(text, "%s", (*said)++ ? ", " : ": ");
        add_count(text, count, one);
        hw_text_add(text, " %s %s", count == 1 ? "is" : "are", how);
    }
}

static void add_file_loss(hw_text *text, const char *file, hw_condition condition, size_t *said)
{
    if (condition == HW_CONDITION_MISSING || condition == HW_CONDITION_DAMAGED) {
        hw_text_add(text, "%s%s is %s", (*said)++ ? ", " : ": ", file,
                    hw_condition_name(condition));
    }
}

static void add_answer(hw_text *text, const char *folder, const hw_job_checked *checked)
{
    size_t said = 0;
    hw_text_add(text, checked->all_there ? "All that was saved in " : "Not all that was saved in ");
    hw_report_add_clean(text, folder);
    hw_text_add(text, " is there");
    if (checked->all_there) {
        hw_text_add(text, ": ");
        add_count(text, checked->lines_whole, "event");
        hw_text_add(text, ", ");
        add_count(text, checked->photos_whole, "photo");
    } else {
        add_file_loss(text, "job.json", checked->job_file, &said);
        add_file_loss(text, "the log", checked->log_file, &said);
        add_loss(text, checked->lines_bad, "line of the log", "damaged", &said);
        add_loss(text, checked->events_missing, "event", "missing", &said);
        add_loss(text, checked->photos_missing, "photo", "missing", &said);
        add_loss(text, checked->photos_changed, "photo", "changed", &said);
        hw_text_add(text, ". Whole: ");
        add_count(text, checked->lines_whole, "event");
        hw_text_add(text, ", ");
        add_count(text, checked->photos_whole, "photo");
    }
    hw_text_add(text, ".\n");
}

static void add_findings(hw_text *text, const hw_findings *findings)
{
    static const hw_severity order[] = {HW_SEVERITY_LOSS, HW_SEVERITY_MENDED, HW_SEVERITY_ODD};
    static const char *const head[] = {"LOST", "mended", "note"};
    for (size_t kind = 0; kind < sizeof order / sizeof *order; kind++) {
        for (size_t i = 0; i < findings->count; i++) {
            const hw_finding *one = &findings->item[i];
            if (one->severity == order[kind]) {
                hw_text_add(text, "  %s: ", head[kind]);
                hw_report_add_clean(text, one->where);
                hw_text_add(text, ": ");
                hw_report_add_clean(text, one->sentence);
                hw_text_add(text, "\n");
            }
        }
    }
}

hw_status hw_report_check_text(const char *folder, const hw_job_checked *checked,
                               const hw_report_style *style, char **out, hw_error *err)
{
    hw_text text = {0};
    add_answer(&text, folder, checked);
    if (!style->quiet) {
        add_findings(&text, &checked->findings);
    }
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_pack_text(const char *file, const hw_job_packed *packed,
                              const hw_report_style *style, char **out, hw_error *err)
{
    const double kibibyte = 1 << 10, bytes = (double)packed->bytes;
    bool small = bytes < 1024.0 * kibibyte;
    hw_text text = {0};
    size_t lost = hw_findings_count(&packed->findings, HW_SEVERITY_LOSS);
    hw_text_add(&text, "Packed and read back: ");
    hw_report_add_clean(&text, file);
    hw_text_add(&text, ", ");
    add_count(&text, packed->lines, "event");
    hw_text_add(&text, ", ");
    add_count(&text, packed->photos, "photo");
    hw_text_add(&text, small ? ", %.0f KiB." : ", %.1f MiB.",
                small ? ceil(bytes / kibibyte) : bytes / kibibyte / 1024.0);
    hw_text_add(&text, lost ? " NOT ALL of the job is whole in it.\n" : "\n");
    if (!style->quiet) {
        add_findings(&text, &packed->findings);
    }
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_unpack_text(const char *file, const hw_job_unpacked *unpacked,
                                const hw_report_style *style, char **out, hw_error *err)
{
    hw_text text = {0};
    hw_text_add(&text, "Unpacked ");
    hw_report_add_clean(&text, file);
    hw_text_add(&text, " into ");
    hw_report_add_clean(&text, unpacked->folder);
    hw_text_add(&text, ": ");
    add_count(&text, unpacked->files, "file");
    if (unpacked->left_aside) {
        hw_text_add(&text, "; left in the pack: %zu", unpacked->left_aside);
    }
    hw_text_add(&text, ".\n");
    if (!style->quiet) {
        add_findings(&text, &unpacked->findings);
    }
    add_answer(&text, unpacked->folder, &unpacked->check);
    if (!style->quiet) {
        add_findings(&text, &unpacked->check.findings);
    }
    return hw_report_finish(&text, out, err);
}

// ---- JSON --------------------------------------------------------------------------

static void add_findings_json(hw_json *parent, const hw_findings *findings)
{
    hw_json *list = hw_json_add_array(parent, "findings");
    for (size_t i = 0; i < findings->count; i++) {
        hw_json *told = hw_json_add_object(list, NULL);
        hw_json_add_text(told, "severity", hw_severity_name(findings->item[i].severity));
        hw_report_json_text(told, "where", findings->item[i].where);
        hw_report_json_text(told, "sentence", findings->item[i].sentence);
    }
}

static void add_check_json(hw_json *told, const char *folder, const hw_job_checked *checked)
{
    hw_report_json_text(told, "folder", folder);
    hw_report_json_text(told, "title", checked->title);
    hw_json_add_bool(told, "all_there", checked->all_there);
    hw_json_add_text(told, "job_file", hw_condition_name(checked->job_file));
    hw_json_add_text(told, "log_file", hw_condition_name(checked->log_file));
    hw_json *lines = hw_json_add_object(told, "lines");
    hw_json_add_number(lines, "whole", (double)checked->lines_whole);
    hw_json_add_number(lines, "bad", (double)checked->lines_bad);
    hw_json_add_number(lines, "torn", (double)checked->lines_torn);
    hw_json_add_number(told, "events_missing", (double)checked->events_missing);
    hw_json *photos = hw_json_add_object(told, "photos");
    hw_json_add_number(photos, "whole", (double)checked->photos_whole);
    hw_json_add_number(photos, "missing", (double)checked->photos_missing);
    hw_json_add_number(photos, "changed", (double)checked->photos_changed);
    hw_json_add_number(photos, "unknown", (double)checked->photos_unknown);
    add_findings_json(told, &checked->findings);
}

hw_status hw_report_check_json(const char *folder, const hw_job_checked *checked, char **out,
                               hw_error *err)
{
    hw_json *root = hw_json_new_object();
    add_check_json(root, folder, checked);
    return hw_report_json_finish(root, out, err);
}

hw_status hw_report_pack_json(const char *file, const hw_job_packed *packed, char **out,
                              hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_report_json_text(root, "file", file);
    hw_report_json_text(root, "name", packed->name);
    hw_json_add_number(root, "bytes", (double)packed->bytes);
    hw_json_add_number(root, "lines", (double)packed->lines);
    hw_json_add_number(root, "photos", (double)packed->photos);
    add_findings_json(root, &packed->findings);
    return hw_report_json_finish(root, out, err);
}

hw_status hw_report_unpack_json(const char *file, const hw_job_unpacked *unpacked, char **out,
                                hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_report_json_text(root, "file", file);
    hw_report_json_text(root, "folder", unpacked->folder);
    hw_json_add_number(root, "files", (double)unpacked->files);
    hw_json_add_number(root, "left_aside", (double)unpacked->left_aside);
    add_findings_json(root, &unpacked->findings);
    add_check_json(hw_json_add_object(root, "check"), unpacked->folder, &unpacked->check);
    return hw_report_json_finish(root, out, err);
}
