// cli_exchange.c: readings of an instrument in, a job for other programs out. There --json is the form of the
// result, one of three.
#include "cli_internal.h"

#include <string.h>

// Puts the text where it was asked for, and frees it.
static hw_status put(const cli_call *call, char *text, hw_error *err)
{
    const char *path = cli_value(call, "output");
    if (!path) {
        return cli_print(text, err);
    }
    hw_status status = cli_write_file(path, false, text, strlen(text), err);
    if (status == HW_OK) {
        cli_tell_written(call, path, strlen(text));
    }
    hw_report_free(text);
    return status;
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
        cli_tell_warnings(call, hw_job_warnings(job)); // the export holds what could be read
        status = put(call, text, err);
    }
    hw_job_lines_free(&lines);
    hw_job_free(job);
    return status;
}

// ---- import ------------------------------------------------------------------------

// --target and --patch as NAME=SAMPLES, a bare NAME being its own sample. `names` keeps what was split off.
static hw_status take_parts(const cli_call *call, const char *option, hw_role role,
                            hw_import_part *parts, char (*names)[HW_NAME_SIZE], size_t *count,
                            hw_error *err)
{
    size_t at = 0;
    for (const char *text; (text = cli_next_value(call, option, &at)) != NULL;) {
        char *name = names[*count];
        hw_import_part *part = &parts[*count];
        *part = (hw_import_part){.role = role, .name = name, .samples = name};
        hw_status status =
            strchr(text, '=')
                ? cli_split(option, text, true, name, HW_NAME_SIZE, &part->samples, err)
                : cli_copy("the name of a part", text, name, HW_NAME_SIZE, err);
        if (status != HW_OK) {
            return status;
        }
        ++*count;
    }
    return HW_OK;
}

static hw_status import(const cli_call *call, hw_import_request *request, hw_import_part *parts,
                        char (*names)[HW_NAME_SIZE], hw_error *err)
{
    hw_job *job = NULL;
    hw_reading reading = {0};
    hw_warnings warnings = {0};
    hw_report_style style = cli_style(call);
    char *text = NULL;
    long number = 0;
    hw_status status =
        take_parts(call, "target", HW_ROLE_TARGET, parts, names, &request->part_count, err);
    if (status == HW_OK) {
        status = take_parts(call, "patch", HW_ROLE_PATCH, parts, names, &request->part_count, err);
    }
    if (status == HW_OK && cli_value(call, "card")) {
        parts[request->part_count++] = (hw_import_part){
            .role = HW_ROLE_CARD, .name = "card", .samples = cli_value(call, "card")};
    }
    if (status == HW_OK) {
        status = hw_steps_import(request, NULL, call->now, &job, &number, &reading, &warnings, err);
    }
    if (status == HW_OK) {
        status = cli_has(call, "json")
                     ? hw_report_import_json(job, number, &reading, &warnings, &text, err)
                     : hw_report_import_text(job, number, &reading, &warnings, &style, &text, err);
    }
    if (status == HW_OK) {
        status = cli_print(text, err);
    }
    hw_reading_free(&reading);
    hw_job_free(job);
    return status;
}

hw_status cli_run_import(cli_call *call, hw_error *err)
{
    hw_part_state *states = NULL;
    hw_import_request request = {.folder = call->operand[0],
                                 .path = call->operand[1],
                                 .note = cli_value(call, "note"),
                                 .shelf_path = cli_value(call, "shelf")};
    hw_import_part *parts = hw_alloc_array(call->given_count, sizeof *parts);
    char(*names)[HW_NAME_SIZE] = hw_alloc_array(call->given_count, HW_NAME_SIZE);
    hw_status status = parts && names ? HW_OK : hw_fail_memory(err, "reading the command line");
    if (status == HW_OK) {
        status = cli_take_states(call, &states, &request.state_count, err);
    }
    if (status == HW_OK) {
        request.states = states;
        request.parts = parts;
        status = import(call, &request, parts, names, err);
    }
    hw_free(states);
    hw_free(parts);
    hw_free(names);
    return status;
}
