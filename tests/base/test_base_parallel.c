// Rows shared among threads: each is worked on once, room is a thread's own, and whoever watches can stop it. Two works at
// once: both are done when the call returns.
#include "base_internal.h"
#include "check.h"
#include "watched.h"

enum { ROWS = 1000 };

typedef struct work {
    int done[ROWS];
    size_t by[ROWS];
    int busy[HW_THREADS]; // a thread is at work alone in its own room
    bool shared_room;
} work;

static void count_rows(void *context, size_t worker, size_t first, size_t end)
{
    work *all = context;
    if (worker >= HW_THREADS || all->busy[worker]++ != 0) {
        all->shared_room = true;
    }
    for (size_t y = first; y < end; y++) {
        all->done[y]++;
        all->by[y] = worker;
    }
    all->busy[worker]--;
}

static void check_rows(size_t rows, size_t each, bool alone)
{
    static work all;
    watched watching = {.rising = true, .last = 0.25};
    const hw_progress progress = {watched_tell, &watching};
    const hw_watch watch = {&progress, "counting", 0.25, 0.75};
    const hw_rows task = {rows, each, count_rows, &all};
    memset(&all, 0, sizeof all);
    check_true((alone ? hw_work_rows(&task, &watch, NULL) : hw_share_rows(&task, &watch, NULL)) ==
               HW_OK);
    bool once = true, mine = true;
    for (size_t y = 0; y < ROWS; y++) {
        once = once && all.done[y] == (y < rows);
        mine = mine && all.by[y] == 0;
    }
    check_true(once && !all.shared_room);
    check_true(mine || !alone);
    check_true(watching.rising && watching.calls >= 2);
    check_close(watching.last, 0.75, 1e-12);
    check_text(watching.what, "counting");
}

static void count_one(void *context)
{
    int *done = context;
    ++*done;
}

static void check_beside(void)
{
    int own = 0, beside = 0;
    for (int i = 0; i < 100; i++) {
        int before = beside;
        bool both = hw_work_beside((hw_task){count_one, &own}, (hw_task){count_one, &beside});
        check_true(own == i + 1 && beside == before + both);
    }
}

int main(void)
{
    check_beside();
    static const size_t rows[] = {0, 1, 2, 3, 17, 999, 1000}, each[] = {0, 1, 7, 5000};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        for (size_t k = 0; k < sizeof each / sizeof *each; k++) {
            check_rows(rows[i], each[k], false);
            check_rows(rows[i], each[k], true);
        }
    }
    for (int at = 1; at <= 2; at++) {
        static work all;
        watched watching = {.rising = true, .stop_at = at};
        const hw_progress progress = {watched_tell, &watching};
        const hw_watch watch = {&progress, "counting", 0.0, 1.0};
        const hw_rows task = {ROWS, 1, count_rows, &all};
        hw_error err = {0};
        check_true(hw_share_rows(&task, &watch, &err) == HW_ERR_CALL);
        check_text(err.code, "stopped");
        check_holds(err.what, "counting");
        check_true(at > 1 || all.done[0] == 0); // stopped before it began
    }
    return check_done();
}
