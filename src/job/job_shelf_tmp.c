#include "job_internal.h"
hw_status hw_shelf_keep_seen(const char *path, const hw_limits *limits, const hw_observation *seen,
                             size_t count, hw_error *err);
hw_status hw_shelf_keep_seen(const char *path, const hw_limits *limits, const hw_observation *seen,
                             size_t count, hw_error *err)
{
    (void)path;
    (void)limits;
    (void)seen;
    (void)count;
    (void)err;
    return HW_OK;
}
