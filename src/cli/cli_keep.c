// cli_keep.c: the commands that keep a job: check, pack, unpack.
#include "cli_internal.h"

hw_status cli_run_check(cli_call *call, hw_error *err)
{
    const char *folder = call->operand[0];
    hw_job_checked checked = {0};
    char *text = NULL;
    hw_report_style style = cli_style(call);
    hw_status status = hw_steps_check(folder, NULL, &checked, err);
    if (status == HW_OK) {
        call->answer_is_no = !checked.all_there;
        status = cli_has(call, "json") ? hw_report_check_json(folder, &checked, &text, err)
                                       : hw_report_check_text(folder, &checked, &style, &text, err);
    }
    if (status == HW_OK) {
        status = cli_print(text, err);
    }
    hw_job_checked_free(&checked);
    return status;
}

hw_status cli_run_pack(cli_call *call, hw_error *err)
{
    const char *file = call->operand[1];
    hw_job_packed packed = {0};
    char *text = NULL;
    hw_report_style style = cli_style(call);
    hw_status status = hw_steps_pack(call->operand[0], file, NULL, &packed, err);
    if (status == HW_OK) {
        call->answer_is_no = hw_findings_count(&packed.findings, HW_SEVERITY_LOSS) > 0;
        status = cli_has(call, "json") ? hw_report_pack_json(file, &packed, &text, err)
                                       : hw_report_pack_text(file, &packed, &style, &text, err);
    }
    if (status == HW_OK) {
        status = cli_print(text, err);
    }
    hw_job_packed_free(&packed);
    return status;
}

hw_status cli_run_unpack(cli_call *call, hw_error *err)
{
    const char *file = call->operand[0];
    const char *folder = call->operand_count > 1 ? call->operand[1] : NULL;
    hw_job_unpacked unpacked = {0};
    char *text = NULL;
    hw_report_style style = cli_style(call);
    hw_status status = hw_steps_unpack(file, folder, NULL, &unpacked, err);
    if (status == HW_OK) {
        call->answer_is_no = !unpacked.check.all_there ||
                             hw_findings_count(&unpacked.findings, HW_SEVERITY_LOSS) > 0;
        status = cli_has(call, "json") ? hw_report_unpack_json(file, &unpacked, &text, err)
                                       : hw_report_unpack_text(file, &unpacked, &style, &text, err);
    }
    if (status == HW_OK) {
        status = cli_print(text, err);
    }
    hw_job_unpacked_free(&unpacked);
    return status;
}
