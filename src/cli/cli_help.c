// cli_help.c: help and version, made from the same tables that the parser reads.
#include "cli_internal.h"

#include <stdio.h>
#include <string.h>

static hw_status print_text(hw_text *text, hw_error *err)
{
    if (text->failed || !text->bytes) {
        hw_text_free(text);
        return hw_fail_memory(err, "writing the help");
    }
    return cli_print(text->bytes, err);
}

static hw_status print_json(hw_json *root, hw_error *err)
{
    char *printed = NULL;
    hw_text text = {0};
    hw_status status =
        root ? hw_json_print(root, true, &printed, err) : hw_fail_memory(err, "writing the help");
    hw_json_free(root);
    if (status == HW_OK) {
        hw_text_add(&text, "%s\n", printed);
        status = print_text(&text, err);
    }
    hw_free(printed);
    return status;
}

// ---- Help --------------------------------------------------------------------------

static void add_group(hw_text *text, const char *title, const cli_option *group)
{
    if (!group || !group->name) {
        return;
    }
    hw_text_add(text, "\n%s\n", title);
    for (const cli_option *option = group; option->name; option++) {
        char left[64];
        hw_format_text(left, sizeof left, "--%s%s%s", option->name, option->value ? " " : "",
                       option->value ? option->value : "");
        hw_text_add(text, "  %-22s %s%s\n", left, option->help,
                    option->repeat ? " (may be repeated)" : "");
    }
}

static void add_command_help(hw_text *text, const cli_command *command)
{
    hw_text_add(text, "huewright %s%s%s\n  %s\n", command->name, *command->operands ? " " : "",
                command->operands, command->summary);
    add_group(text, "Options", command->group[0]);
    add_group(text, "Marks", command->group[1]);
    if (command->group[1]) {
        hw_text_add(text,
                    "\n  R is x,y,w,h or x1,y1 x2,y2 x3,y3 ...: pixels of the upright picture,\n"
                    "  from its top left corner.\n");
    }
    add_group(text, "Everywhere", command->group[2]);
}

static void add_overview(hw_text *text)
{
    hw_text_add(text,
                "huewright: reads from a photo with a grey card how a repair differs in colour "
                "from old wood,\nand what to lay to bring it there.\n\nCommands\n");
    for (const cli_command *command = cli_commands; command->name; command++) {
        char left[64];
        hw_format_text(left, sizeof left, "%s%s%s", command->name, *command->operands ? " " : "",
                       command->operands);
        hw_text_add(text, "  %-20s %s\n", left, command->summary);
    }
    hw_text_add(text,
                "\nOptions of a command: huewright COMMAND --help. The manual: man huewright\n"
                "Exit: 0 done; 1 the answer is no (with --exit-status); 2 wrong call; "
                "3 input cannot be used;\n4 disk, memory or output.\n");
}

static void add_options_json(hw_json *command, const char *name, const cli_option *group)
{
    hw_json *list = hw_json_add_array(command, name);
    for (const cli_option *option = group; option && option->name; option++) {
        hw_json *told = hw_json_add_object(list, NULL);
        hw_json_add_text(told, "name", option->name);
        hw_json_add_text(told, "value", option->value); // NULL: null
        hw_json_add_bool(told, "repeat", option->repeat);
        hw_json_add_text(told, "help", option->help);
    }
}

static hw_status print_help_json(const cli_command *only, hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_json *list = hw_json_add_array(root, "commands");
    for (const cli_command *command = cli_commands; command->name; command++) {
        if (only && only != command) {
            continue;
        }
        hw_json *told = hw_json_add_object(list, NULL);
        hw_json_add_text(told, "name", command->name);
        hw_json_add_text(told, "operands", command->operands);
        hw_json_add_text(told, "summary", command->summary);
        add_options_json(told, "options", command->group[0]);
        add_options_json(told, "marks", command->group[1]);
        add_options_json(told, "everywhere", command->group[2]);
    }
    return print_json(root, err);
}

hw_status cli_print_help(const cli_command *command, bool json, hw_error *err)
{
    if (json) {
        return print_help_json(command, err);
    }
    hw_text text = {0};
    if (command) {
        add_command_help(&text, command);
    } else {
        add_overview(&text);
    }
    return print_text(&text, err);
}

hw_status cli_run_help(cli_call *call, hw_error *err)
{
    const cli_command *command = NULL;
    if (call->operand_count > 0) {
        char name[64], names[320], next[480];
        hw_format_text(name, sizeof name, "%s%s%s", call->operand[0],
                       call->operand_count > 1 ? " " : "",
                       call->operand_count > 1 ? call->operand[1] : "");
        command = cli_find_command(name);
        if (!command && strcmp(name, "shelf") == 0) {
            command = cli_find_command("shelf show");
        } else if (!command && strcmp(name, "camera") == 0) {
            command = cli_find_command("camera show");
        }
        if (!command) {
            cli_list_commands(names, sizeof names);
            hw_format_text(next, sizeof next, "The commands are: %s.", names);
            return hw_fail(err, HW_ERR_CALL, "command-unknown", name, next,
                           "there is no such command");
        }
    }
    return cli_print_help(command, cli_has(call, "json"), err);
}

// ---- Version -----------------------------------------------------------------------

static hw_status print_version_json(const hw_limits *limits, hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_json_add_text(root, "version", hw_version());
    hw_json_add_number(root, "job_format", HW_JOB_FORMAT);
    hw_json *told = hw_json_add_object(root, "limits");
    hw_json_add_number(told, "file_bytes", (double)limits->file_bytes);
    hw_json_add_number(told, "side_px", (double)limits->side_px);
    hw_json_add_number(told, "pixels", (double)limits->pixels);
    hw_json_add_number(told, "json_bytes", (double)limits->json_bytes);
    hw_json_add_number(told, "json_depth", (double)limits->json_depth);
    hw_json_add_number(told, "marks", (double)limits->marks);
    hw_json_add_number(told, "points", (double)limits->points);
    hw_json_add_number(told, "log_bytes", (double)limits->log_bytes);
    hw_json_add_number(told, "decode_seconds", (double)limits->decode_seconds);
    return print_json(root, err);
}

hw_status cli_run_version(cli_call *call, hw_error *err)
{
    hw_limits limits = hw_limits_default();
    if (cli_has(call, "json")) {
        return print_version_json(&limits, err);
    }
    hw_text text = {0};
    hw_text_add(&text, "huewright %s\n", hw_version());
    if (!cli_has(call, "quiet")) {
        const double mebibyte = 1024.0 * 1024.0;
        hw_text_add(
            &text,
            "Job folders: format %d\nA photo: at most %.0f MiB, %zu pixels a side, %.0f "
            "million pixels, %u s to decode\nMarks: at most %zu, of %zu corners; a marks file "
            "or shelf: %.0f MiB; a job's log: %.0f MiB\n",
            HW_JOB_FORMAT, (double)limits.file_bytes / mebibyte, limits.side_px,
            (double)limits.pixels / 1e6, limits.decode_seconds, limits.marks, limits.points,
            (double)limits.json_bytes / mebibyte, (double)limits.log_bytes / mebibyte);
    }
    return print_text(&text, err);
}
