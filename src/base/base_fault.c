// base_fault.c: for tests, what can go wrong with a disk. base_file.c asks here before each call that
// changes the disk and reports after it; a plan of a test then watches the calls, kills the program at
// one of them, or makes them fail. Without a plan a call costs one comparison.
#include "base_internal.h"

#include <errno.h>
#include <signal.h>

static _Thread_local hw_disk_plan plan;
static _Thread_local bool planned;
static _Thread_local long calls;

void hw_test_disk(const hw_disk_plan *wanted)
{
    planned = wanted != NULL;
    plan = wanted ? *wanted : (hw_disk_plan){0};
    calls = 0;
}

long hw_test_disk_calls(void)
{
    return calls;
}

// As by a power switch of the program alone: nothing is flushed, no handler runs.
static void die(void)
{
    raise(SIGKILL);
}

bool hw_disk_may(hw_disk_call *call)
{
    if (!planned) {
        return true;
    }
    call->number = ++calls;
    bool writes = call->kind == HW_DISK_WRITE;
    bool its_turn = call->number == plan.at;
    if (its_turn &&
        (plan.fault == HW_FAULT_KILL_BEFORE || (plan.fault == HW_FAULT_KILL_HALF && !writes))) {
        die();
    }
    if ((its_turn && plan.fault == HW_FAULT_FAIL) ||
        (call->number >= plan.at && plan.fault == HW_FAULT_FAIL_ON)) {
        errno = plan.error;
        return false;
    }
    if (its_turn && writes && (plan.fault == HW_FAULT_KILL_HALF || plan.fault == HW_FAULT_SHORT)) {
        call->count = (call->count + 1) / 2;
    }
    return true;
}

void hw_disk_done(hw_disk_call *call, long result)
{
    if (!planned) {
        return;
    }
    int error = errno;
    if (call->number == plan.at &&
        (plan.fault == HW_FAULT_KILL_AFTER || plan.fault == HW_FAULT_KILL_HALF)) {
        die();
    }
    call->error = result < 0 ? error : 0;
    if (call->kind == HW_DISK_WRITE) {
        call->count = result < 0 ? 0 : (size_t)result;
    }
    if (plan.watch) {
        plan.watch(plan.context, call);
    }
    errno = error;
}
