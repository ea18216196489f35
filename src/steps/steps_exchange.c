// steps_exchange.c: a job for other programs.
#include "steps_internal.h"

hw_status hw_steps_export(const char *folder, const hw_limits *limits, hw_job **job,
                          hw_job_lines *lines, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_job *opened = NULL;
    hw_status status = hw_job_open(folder, &bounds, &opened, err);
    if (status == HW_OK) {
        status = hw_job_read_lines(opened, &bounds, lines, err);
    }
    if (status != HW_OK) {
        hw_job_free(opened);
        return status;
    }
    *job = opened;
    return HW_OK;
}
