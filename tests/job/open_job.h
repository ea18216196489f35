// open_job.h: a new job of its own for each test, opened.
#ifndef HUEWRIGHT_TEST_OPEN_JOB_H
#define HUEWRIGHT_TEST_OPEN_JOB_H

#include "check.h"
#include "job_internal.h"

#include <sys/stat.h>
#include <unistd.h>

static char folder[600];
static hw_job *job;
static int64_t now = 1000000000; // rises by one with each event

// `kind` names the test's folders.
static inline void new_job(const char *kind)
{
    static int number;
    hw_job_free(job);
    job = NULL;
    snprintf(folder, sizeof folder, "%s/%s %ld-%d", HW_SCRATCH, kind, (long)getpid(), number++);
    check_true(hw_job_start(folder, "Bench", now++, NULL) == HW_OK &&
               hw_job_open(folder, NULL, &job, NULL) == HW_OK);
}

#endif
