// cli_exchange.c: a job for other programs. Here --json is the form of the result, one of three.
#include "cli_internal.h"

#include <stdio.h>
#include <string.h>

static hw_status refuse_exists(const char *path, hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "file-exists", path,
                   "Choose another name, or move that file away first.",
                   "there already is a file of this name, and it is never written over");
}

// A new file, whole or not there. What stands there in the end is ours, or it is told.
static hw_status write_new(const char *path, const char *text, hw_error *err)
{
    uint8_t *there = NULL;
    size_t length = strlen(text), count = 0;
    if (hw_file_exists(path)) {
        return refuse_exists(path, err);
    }
    hw_status status = hw_file_keep(path, text, length, err);
    if (status == HW_OK && (hw_file_read(path, length, &there, &count, NULL) != HW_OK ||
                            count != length || memcmp(there, text, length) != 0)) {
        status = refuse_exists(path, err); // another program was quicker
    }
    hw_free(there);
    return status;
}

// Puts the text where it was asked for, and frees it.
static hw_status put(const cli_call *call, char *text, hw_error *err)
{
    const char *path = cli_value(call, "output");
    if (!path) {
        return cli_print(text, err);
    }
    hw_status status = write_new(path, text, err);
    if (status == HW_OK && !cli_has(call, "quiet")) {
        fprintf(stderr, "Written: %s (%zu bytes)\n", path, strlen(text));
    }
    hw_report_free(text);
    return status;
}

// The export holds what could be read; what could not is said beside it.
static void tell_warnings(const cli_call *call, const hw_job *job)
{
    const hw_warnings *warnings = hw_job_warnings(job);
    for (size_t i = 0; !cli_has(call, "quiet") && i < warnings->count; i++) {
        fprintf(stderr, "huewright: %s\n", warnings->text[i]);
    }
}

hw_status cli_run_export(cli_call *call, hw_error *err)
{
    bool csv = cli_has(call, "csv"), json = cli_has(call, "json"), cgats = cli_has(call, "cgats");
    if (csv + json + cgats != 1) {
        return hw_fail(err, HW_ERR_CALL, "export-form", "export",
                       "Give one of them: --csv for a spreadsheet, --json for programs, --cgats "
                       "for colour programs.",
                       "it must be said which of three forms is wanted, and %s",
                       csv + json + cgats ? "more than one was given" : "none was given");
    }
    const char *path = cli_value(call, "output");
    if (path && hw_file_exists(path)) {
        return refuse_exists(path, err); // before any work
    }
    hw_job *job = NULL;
    hw_job_lines lines = {0};
    char *text = NULL;
    hw_status status = hw_steps_export(call->operand[0], NULL, &job, &lines, err);
    if (status == HW_OK) {
        status = csv    ? hw_report_export_csv(job, &text, err)
                 : json ? hw_report_export_json(job, &lines, &text, err)
                        : hw_report_export_cgats(job, call->now, &text, err);
    }
    if (status == HW_OK) {
        tell_warnings(call, job);
        status = put(call, text, err);
    }
    hw_job_lines_free(&lines);
    hw_job_free(job);
    return status;
}
