// base_parallel.c: rows of a picture shared among a few threads, and two different works done at once.
//
// The caller's own thread works too, and it alone tells progress. Each thread takes the next few rows that nobody has
// taken, so none waits for a slow one. Where there are no threads (__STDC_NO_THREADS__), or none can be started, the
// caller's thread does all of it. All threads are gone when the call returns.
#include "base_internal.h"

#include <stdatomic.h>

#if defined(__STDC_NO_THREADS__)
#define HAVE_THREADS 0
#elif defined(__has_include)
#if __has_include(<threads.h>)
#include <threads.h>
#define HAVE_THREADS 1
#else
#define HAVE_THREADS 0
#endif
#else
#define HAVE_THREADS 0
#endif

typedef struct share {
    const hw_rows *rows;
    atomic_size_t next; // first row that nobody has taken
    atomic_bool stopped;
} share;

static bool take(share *all, size_t *first, size_t *end)
{
    size_t each = all->rows->each > 0 ? all->rows->each : 1;
    if (atomic_load(&all->stopped)) {
        return false;
    }
    *first = atomic_fetch_add(&all->next, each);
    if (*first >= all->rows->count) {
        return false;
    }
    *end = all->rows->count - *first > each ? *first + each : all->rows->count;
    return true;
}

static void work_with_progress(share *all, const hw_watch *watch)
{
    size_t first, end;
    while (take(all, &first, &end)) {
        all->rows->work(all->rows->context, 0, first, end);
        if (end < all->rows->count) {
            double done = (double)atomic_load(&all->next) / (double)all->rows->count;
            if (!hw_watch_tell(watch, done)) {
                atomic_store(&all->stopped, true);
            }
        }
    }
}

bool hw_watch_tell(const hw_watch *watch, double done)
{
    if (!watch || !watch->progress || !watch->progress->tell) {
        return true;
    }
    done = done < 1.0 ? done : 1.0;
    return watch->progress->tell(watch->progress->context, watch->what,
                                 watch->from + (watch->to - watch->from) * done);
}

hw_status hw_watch_stopped(const hw_watch *watch, hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "stopped", "", "Start it again when you like.",
                   "%s was stopped before it was done", watch->what);
}

#if HAVE_THREADS

typedef struct worker {
    share *all;
    size_t number;
} worker;

static int work_beside(void *context)
{
    const worker *self = context;
    size_t first, end;
    while (take(self->all, &first, &end)) {
        self->all->rows->work(self->all->rows->context, self->number, first, end);
    }
    return 0;
}

static void work_all(share *all, const hw_watch *watch)
{
    thrd_t thread[HW_THREADS - 1];
    worker self[HW_THREADS - 1];
    size_t started = 0;
    size_t pieces = all->rows->count / (all->rows->each > 0 ? all->rows->each : 1);
    while (started < HW_THREADS - 1 && started < pieces) {
        self[started] = (worker){all, started + 1};
        if (thrd_create(&thread[started], work_beside, &self[started]) != thrd_success) {
            break;
        }
        started++;
    }
    work_with_progress(all, watch);
    for (size_t i = 0; i < started; i++) {
        thrd_join(thread[i], NULL);
    }
}

static int do_task(void *context)
{
    const hw_task *task = context;
    task->work(task->context);
    return 0;
}

bool hw_work_beside(hw_task own, hw_task beside)
{
    thrd_t thread;
    bool started = thrd_create(&thread, do_task, &beside) == thrd_success;
    own.work(own.context);
    if (started) {
        thrd_join(thread, NULL);
    }
    return started;
}

#else

bool hw_work_beside(hw_task own, hw_task beside)
{
    (void)beside;
    own.work(own.context);
    return false;
}

static void work_all(share *all, const hw_watch *watch)
{
    work_with_progress(all, watch);
}

#endif

static hw_status work_with(void (*way)(share *, const hw_watch *), const hw_rows *rows,
                           const hw_watch *watch, hw_error *err)
{
    share all = {.rows = rows};
    atomic_init(&all.next, 0);
    atomic_init(&all.stopped, false);
    bool on = hw_watch_tell(watch, 0.0);
    if (on) {
        way(&all, watch);
        on = !atomic_load(&all.stopped) && hw_watch_tell(watch, 1.0);
    }
    return on ? HW_OK : hw_watch_stopped(watch, err);
}

hw_status hw_share_rows(const hw_rows *rows, const hw_watch *watch, hw_error *err)
{
    return work_with(work_all, rows, watch, err);
}

hw_status hw_work_rows(const hw_rows *rows, const hw_watch *watch, hw_error *err)
{
    return work_with(work_with_progress, rows, watch, err);
}
