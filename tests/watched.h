// watched.h: whoever watches the progress of a call, and may stop it.
#ifndef HUEWRIGHT_TEST_WATCHED_H
#define HUEWRIGHT_TEST_WATCHED_H

#include "huewright/base.h"

// Begins as {.rising = true}.
typedef struct watched {
    int calls, stop_at; // the call that says stop; 0: none
    double last;        // share
    const char *what;   // as told last
    bool rising;        // shares never fell or passed 1, and it was always said what is done
} watched;

static inline bool watched_tell(void *context, const char *what, double share)
{
    watched *all = (watched *)context;
    all->rising = all->rising && share >= all->last && share <= 1.0 && what[0];
    all->last = share;
    all->what = what;
    return ++all->calls != all->stop_at;
}

#endif
