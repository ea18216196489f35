// base_memory.c: the only place that asks for memory. Sizes are multiplied with a test for
// overflow, blocks come zeroed, and a test can make any allocation fail.
#define HW_MALLOC_ALLOWED
#include "base_internal.h"

#include <stdlib.h>

// For tests alone: allocations left until they fail (negative: never), and how many were made.
static _Thread_local long left = -1, made;
static _Thread_local bool once;

void hw_test_fail_alloc(long successes)
{
    left = successes;
    made = 0;
    once = false;
}

void hw_test_fail_alloc_once(long successes)
{
    hw_test_fail_alloc(successes);
    once = true;
}

long hw_test_allocations(void)
{
    return made;
}

static bool may_allocate(size_t count, size_t size)
{
    made++;
    if (left == 0) {
        left = once ? -1 : 0;
        return false;
    }
    if (left > 0) {
        left--;
    }
    return size == 0 || count <= (size_t)-1 / 2 / size;
}

void *hw_alloc_array(size_t count, size_t size)
{
    if (!may_allocate(count, size)) {
        return NULL;
    }
    return count == 0 || size == 0 ? calloc(1, 1) : calloc(count, size);
}

void *hw_resize_array(void *block, size_t count, size_t size)
{
    if (!may_allocate(count, size)) {
        return NULL;
    }
    return realloc(block, count == 0 || size == 0 ? 1 : count * size);
}

void hw_free(void *block)
{
    free(block);
}
