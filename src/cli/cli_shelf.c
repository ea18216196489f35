// cli_shelf.c: the shelf of dyes and clear coats: shown, added to, taken from; and the step board that teaches it.
#include "cli_internal.h"

#include <string.h>

// ---- shelf show, add, remove -------------------------------------------------------

hw_status cli_run_shelf_show(cli_call *call, hw_error *err)
{
    hw_shelf shelf = {0};
    hw_known known = {0};
    char path[1024];
    char *text = NULL;
    hw_status status =
        hw_steps_shelf(cli_value(call, "shelf"), NULL, &shelf, path, sizeof path, err);
    if (status == HW_OK) {
        status = hw_steps_shelf_known(&shelf, &known, err);
    }
    if (status == HW_OK) {
        status = cli_has(call, "json") ? hw_report_shelf_json(&shelf, &known, path, &text, err)
                                       : hw_report_shelf_text(&shelf, &known, path, &text, err);
    }
    if (status == HW_OK) {
        status = cli_print(text, err);
    }
    hw_known_free(&known);
    hw_shelf_free(&shelf);
    return status;
}

static hw_status tell_boards(const cli_call *call, const hw_board *board, const hw_dye *dye,
                             const hw_dye_change *change, size_t count, const hw_warnings *warnings,
                             char **text, hw_error *err)
{
    hw_report_style style = cli_style(call);
    return cli_has(call, "json")
               ? hw_report_boards_json(board, dye, change, count, warnings, text, err)
               : hw_report_boards_text(board, dye, change, count, warnings, &style, text, err);
}

hw_status cli_run_shelf_add(cli_call *call, hw_error *err)
{
    hw_dye_request request = {.shelf_path = cli_value(call, "shelf"),
                              .name = call->operand[0],
                              .family = cli_value(call, "family"),
                              .tool = cli_value(call, "tool"),
                              .steps = cli_value(call, "steps"),
                              .note = cli_value(call, "note"),
                              .made = cli_value(call, "made")};
    hw_dye dye = {0};
    hw_dye_change change = HW_DYE_ADDED;
    hw_board board = {0};
    char *text = NULL;
    hw_status status = hw_steps_shelf_add(&request, NULL, call->now, &dye, &change, &board, err);
    if (status == HW_OK && board.count > 0) {
        status = tell_boards(call, &board, &dye, &change, 1, NULL, &text, err);
    } else if (status == HW_OK) {
        status = cli_has(call, "json") ? hw_report_dye_json(&dye, change, &text, err)
                                       : hw_report_dye_text(&dye, change, &text, err);
    }
    if (status == HW_OK) {
        status = cli_print(text, err);
    }
    hw_board_free(&board);
    return status;
}

static hw_status remove_dye(const cli_call *call, char **text, hw_error *err)
{
    const char *name = call->operand[0];
    size_t gone = 0;
    hw_status status = hw_steps_shelf_remove(cli_value(call, "shelf"), name, NULL, &gone, err);
    if (status != HW_OK) {
        return status;
    }
    return cli_has(call, "json") ? hw_report_removed_json(name, gone, text, err)
                                 : hw_report_removed_text(name, gone, text, err);
}

static hw_status forget_coats(const cli_call *call, char **text, hw_error *err)
{
    size_t gone = 0;
    hw_status status = hw_steps_shelf_forget_coats(cli_value(call, "shelf"), NULL, &gone, err);
    if (status != HW_OK) {
        return status;
    }
    return cli_has(call, "json") ? hw_report_forgotten_json(gone, text, err)
                                 : hw_report_forgotten_text(gone, text, err);
}

hw_status cli_run_shelf_remove(cli_call *call, hw_error *err)
{
    bool coats = cli_has(call, "coats");
    char *text = NULL;
    if (coats == (call->operand_count > 0)) {
        return hw_fail(err, HW_ERR_CALL, coats ? "operand-extra" : "operand-missing",
                       coats ? call->operand[0] : "shelf remove",
                       "Write: huewright shelf remove DYE, or: huewright shelf remove --coats",
                       "it takes a dye off, or forgets coats: one of them at a time");
    }
    hw_status status = coats ? forget_coats(call, &text, err) : remove_dye(call, &text, err);
    return status == HW_OK ? cli_print(text, err) : status;
}

// ---- stepboard ---------------------------------------------------------------------

// --dye D ...; *out is freed with hw_free.
static hw_status dyes_from_options(const cli_call *call, const char ***out, size_t *count,
                                   hw_error *err)
{
    size_t at = 0;
    const char **dyes = hw_alloc_array(call->given_count, sizeof *dyes);
    if (!dyes) {
        return hw_fail_memory(err, "reading the command line");
    }
    *count = 0;
    for (const char *text; (text = cli_next_value(call, "dye", &at)) != NULL;) {
        dyes[(*count)++] = text;
    }
    *out = dyes;
    return HW_OK;
}

hw_status cli_run_stepboard(cli_call *call, hw_error *err)
{
    hw_stepboard_request request = {.shelf_path = cli_value(call, "shelf"),
                                    .tool = cli_value(call, "tool"),
                                    .note = cli_value(call, "note"),
                                    .made = cli_value(call, "made")};
    hw_taught result = {0};
    const char **dyes = NULL;
    char *text = NULL;
    hw_status status = cli_read_request(call, call->operand[0], &request.read, err);
    if (status != HW_OK) {
        return status;
    }
    status = dyes_from_options(call, &dyes, &request.dye_count, err);
    if (status == HW_OK) {
        request.dye = dyes;
        status = hw_steps_stepboard(&request, NULL, call->now, &result, err);
    }
    if (status == HW_OK) {
        status = tell_boards(call, result.board, result.dye, result.change, result.count,
                             &result.warnings, &text, err);
    }
    if (status == HW_OK) {
        status = cli_print(text, err);
    }
    hw_free(dyes);
    hw_taught_free(&result);
    hw_marks_free(&request.read.marks);
    return status;
}
