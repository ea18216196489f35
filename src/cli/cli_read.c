// cli_read.c: read: one photo, no job.
#include "cli_internal.h"

#include <string.h>

// "No" to the question "is all of it to be left?".
static bool some_to_touch(const hw_comparisons *comparisons)
{
    for (size_t i = 0; i < comparisons->count; i++) {
        const hw_comparison *item = &comparisons->item[i];
        if (strcmp(item->target, HW_BESIDE) == 0 && item->verdict != HW_VERDICT_LEAVE) {
            return true;
        }
    }
    return false;
}

hw_status cli_run_read(cli_call *call, hw_error *err)
{
    hw_read_request request;
    hw_reading reading = {0};
    char *text = NULL;
    hw_status status = cli_read_request(call, call->operand[0], &request, err);
    if (status != HW_OK) {
        return status;
    }
    status = hw_steps_read(&request, NULL, &reading, err);
    if (status == HW_OK && cli_has(call, "json")) {
        status = hw_report_reading_json(&reading, &text, err);
    } else if (status == HW_OK) {
        hw_report_style style = cli_style(call);
        status = hw_report_reading_text(&reading, &style, &text, err);
    }
    if (status == HW_OK) {
        call->answer_is_no = some_to_touch(&reading.comparisons);
        status = cli_print(text, err);
    }
    hw_reading_free(&reading);
    hw_marks_free(&request.marks);
    return status;
}
