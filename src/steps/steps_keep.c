// steps_keep.c: is all of a job there; one file for keeping or sending; a folder from such a file.
#include "steps_internal.h"

hw_status hw_steps_check(const char *folder, const hw_limits *limits, hw_job_checked *out,
                         hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    return hw_job_check(folder, &bounds, out, err);
}

hw_status hw_steps_pack(const char *folder, const char *file, const hw_limits *limits,
                        hw_job_packed *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    return hw_job_pack(folder, file, &bounds, out, err);
}

hw_status hw_steps_unpack(const char *file, const char *folder, const hw_limits *limits,
                          hw_job_unpacked *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    return hw_job_unpack(file, folder, &bounds, out, err);
}
