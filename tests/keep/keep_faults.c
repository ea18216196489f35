// keep_faults.c: killed at every call that changes the disk; every such call failing; real full disks;
// several programs at once, some of them killed.
#include "keep.h"

#include <errno.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

// ---- A program of its own ----------------------------------------------------------

static void tell_through_pipe(void *context, const told *what)
{
    if (write(*(int *)context, what, sizeof *what) != (ssize_t)sizeof *what) {
        _exit(9);
    }
}

static void hear(int from, told_list *list)
{
    told one;
    while (read(from, &one, sizeof one) == (ssize_t)sizeof one) {
        told_add(list, &one);
    }
}

typedef struct child {
    pid_t id;
    int from; // reading end of its pipe
} child;

// The child does `work` and ends; what it was told goes to the pipe.
static child start_child(const place *where, const hw_disk_plan *plan,
                         void (*work)(const place *where, const listener *to))
{
    int ends[2];
    child made = {-1, -1};
    if (pipe(ends) != 0) {
        abort();
    }
    fflush(stdout);
    made.id = fork();
    if (made.id == 0) {
        listener to = {.told = tell_through_pipe, .context = &ends[1]};
        close(ends[0]);
        hw_test_disk(plan);
        work(where, &to);
        _exit(0);
    }
    close(ends[1]);
    made.from = ends[0];
    return made;
}

// Waits for its end. True: it was killed.
static bool end_child(child *one, told_list *list)
{
    int how = 0;
    hear(one->from, list);
    close(one->from);
    waitpid(one->id, &how, 0);
    expect(WIFSIGNALED(how) ? WTERMSIG(how) == SIGKILL : WEXITSTATUS(how) == 0,
           "a program ended with %d", how);
    return WIFSIGNALED(how);
}

static void play_first_day(const place *where, const listener *to)
{
    play(where, 0, to);
}

// ---- Killed ------------------------------------------------------------------------

typedef struct kinds {
    hw_disk_kind kind[2000];
    long count;
} kinds;

static void note_kind(void *context, const hw_disk_call *call)
{
    kinds *all = context;
    if (all->count < 2000) {
        all->kind[all->count++] = call->kind;
    }
}

static void ignore_told(void *context, const told *what)
{
    (void)context;
    (void)what;
}

// What calls a whole day makes.
static kinds kinds_of_a_day(void)
{
    place where = new_place();
    kinds all = {.count = 0};
    hw_disk_plan plan = {.watch = note_kind, .context = &all};
    listener to = {.told = ignore_told};
    hw_test_disk(&plan);
    play(&where, 0, &to);
    hw_test_disk(NULL);
    remove_tree(where.root);
    expect(all.count > 100 && all.count < 2000, "a day makes %ld calls", all.count);
    return all;
}

static size_t events_told(const told_list *list)
{
    size_t count = 0;
    for (size_t i = 0; i < list->count; i++) {
        count += list->item[i].what == TOLD_EVENT || list->item[i].what == TOLD_JOB;
    }
    return count;
}

static void kill_at(long at, hw_disk_fault fault)
{
    char during[100];
    place where = new_place();
    told_list list = {0};
    long before = keep_counts.lost;
    hw_format_text(during, sizeof during, "killed at call %ld, fault %d", at, (int)fault);
    hw_disk_plan plan = {.fault = fault, .at = at};
    child one = start_child(&where, &plan, play_first_day);
    expect(end_child(&one, &list), "%s: it was not", during);
    all_there(&where, &list, during);
    expect(events_there(&where) <= events_told(&list) + 1, "%s: events that nobody entered",
           during);
    go_on(&where, &list, during);
    told_free(&list);
    keep_counts.kill_points++;
    keep_counts.kills_survived += keep_counts.lost == before;
    if (keep_counts.lost == before) {
        remove_tree(where.root);
    }
}

// The long form takes all; the short one, of each kind of call, the first and then every so many.
static bool is_chosen(const kinds *all, long at, long short_form)
{
    long before = 0;
    for (long i = 1; i < at; i++) {
        before += all->kind[i - 1] == all->kind[at - 1];
    }
    return before % every(short_form) == 0;
}

void test_kills(void)
{
    kinds all = kinds_of_a_day();
    for (long at = 1; at <= all.count; at++) {
        if (is_chosen(&all, at, 8)) {
            kill_at(at, HW_FAULT_KILL_BEFORE);
            kill_at(at, HW_FAULT_KILL_AFTER);
        }
        if (all.kind[at - 1] == HW_DISK_WRITE && is_chosen(&all, at, 4)) {
            kill_at(at, HW_FAULT_KILL_HALF);
        }
    }
}

// ---- Failing -----------------------------------------------------------------------

// What a run heard while calls failed.
typedef struct hearing {
    const place *where;
    const char *during;
    int error;
    bool broken; // a call has failed since the last thing heard, one that must not pass unseen
    hw_disk_kind kind;
    told_list list;
    size_t refused, unsure;
} hearing;

// Cleaning up may fail unseen, and so may closing what was synced before.
static void see_call(void *context, const hw_disk_call *call)
{
    hearing *all = context;
    bool harmless = call->kind == HW_DISK_REMOVE ||
                    (call->kind == HW_DISK_CLOSE && !strstr(call->path, ".new-"));
    if (call->error != 0 && call->error == all->error && !harmless) {
        all->broken = true;
        all->kind = call->kind;
    }
}

// No more is there than what was told, but for what was said to be unsure.
static void count_events(const hearing *all)
{
    size_t there = events_there(all->where), said = events_told(&all->list);
    expect(there >= said && there <= said + all->unsure, "%s: %zu events were told, %zu are there",
           all->during, said, there);
}

static void hear_told(void *context, const told *what)
{
    hearing *all = context;
    expect(!all->broken || all->error == EINTR, "%s: said saved although a call of kind %d failed",
           all->during, (int)all->kind);
    all->broken = false;
    told_add(&all->list, what);
}

static void hear_refused(void *context, const char *step, const hw_error *err)
{
    hearing *all = context;
    bool full = all->error == ENOSPC || all->error == EDQUOT;
    all->broken = false;
    all->refused++;
    expect(err->status == HW_ERR_STORAGE && err->what[0] && strlen(err->next) > 15 &&
               err->subject[0],
           "%s: %s: no plain words: %s: %s", all->during, step, err->code, err->next);
    bool unsure = strcmp(err->code, "saved-unsure") == 0;
    all->unsure += unsure;
    expect(!full || unsure || strcmp(err->code, "disk-full") == 0,
           "%s: %s: a full disk is called %s", all->during, step, err->code);
    count_events(all);
}

// A day with that fault, then room again: the rest of the day, and another one.
static void fail_at(long at, hw_disk_fault fault, int error)
{
    char during[100];
    place where = new_place();
    long before = keep_counts.lost;
    hw_format_text(during, sizeof during, "call %ld failing, fault %d, %s", at, (int)fault,
                   strerror(error));
    hearing all = {.where = &where, .during = during, .error = error};
    hw_disk_plan plan = {
        .fault = fault, .at = at, .error = error, .watch = see_call, .context = &all};
    listener to = {hear_told, hear_refused, &all};
    hw_test_disk(&plan);
    play(&where, 0, &to);
    hw_test_disk(NULL);
    all_there(&where, &all.list, during);
    keep_counts.calls_failed++;
    keep_counts.calls_refused += all.refused > 0;
    keep_counts.calls_mended += all.refused == 0;
    bool unseen = fault == HW_FAULT_SHORT || error == EINTR;
    expect(!unseen || all.refused == 0, "%s: refused, though nothing was wrong", during);
    go_on(&where, &all.list, during);
    size_t refused = all.refused;
    play(&where, 1, &to);
    expect(all.refused == refused, "%s: still refused with room again", during);
    all_there(&where, &all.list, during);
    told_free(&all.list);
    if (keep_counts.lost == before) {
        remove_tree(where.root);
    }
}

void test_failures(void)
{
    static const int errors[] = {EIO, ENOSPC, EDQUOT};
    kinds all = kinds_of_a_day();
    for (long at = 1; at <= all.count; at++) {
        hw_disk_kind kind = all.kind[at - 1];
        for (int e = 0; e < 3 && is_chosen(&all, at, 12); e++) {
            if (!keep_short || at % 3 == e) {
                fail_at(at, HW_FAULT_FAIL, errors[e]);
                fail_at(at, HW_FAULT_FAIL_ON, errors[e]);
            }
        }
        bool may_be_interrupted = kind == HW_DISK_CREATE || kind == HW_DISK_WRITE ||
                                  kind == HW_DISK_SYNC || kind == HW_DISK_SYNC_FOLDER ||
                                  kind == HW_DISK_CLOSE;
        if (may_be_interrupted && is_chosen(&all, at, 20)) {
            fail_at(at, HW_FAULT_FAIL, EINTR);
        }
        if (kind == HW_DISK_WRITE && is_chosen(&all, at, 5)) {
            fail_at(at, HW_FAULT_SHORT, 0);
        }
    }
}

// ---- Disks that are really full or closed ------------------------------------------

static rlim_t largest; // for the child

static void play_with_small_files(const place *where, const listener *to)
{
    struct rlimit limit = {largest, largest};
    signal(SIGXFSZ, SIG_IGN);
    if (setrlimit(RLIMIT_FSIZE, &limit) != 0) {
        _exit(8);
    }
    play(where, 0, to);
}

// Files that may not grow past so many bytes, in a child: the log, the shelf and photos fill up.
void test_full_disk(void)
{
    for (largest = 1; largest < 12000; largest += keep_short ? 1500 : 60) {
        char during[60];
        place where = new_place();
        told_list list = {0};
        hw_format_text(during, sizeof during, "files of %ld bytes at most", (long)largest);
        child one = start_child(&where, NULL, play_with_small_files);
        end_child(&one, &list);
        all_there(&where, &list, during);
        expect(list.count == 0 || events_there(&where) == events_told(&list),
               "%s: an event is there that was refused", during);
        go_on(&where, &list, during);
        keep_counts.full_disks++;
        told_free(&list);
        remove_tree(where.root);
    }
}

static void refuse_all(void *context, const char *step, const hw_error *err)
{
    (void)step;
    *(int *)context += strcmp(err->code, "file-unwritable") == 0 && err->next[0];
}

static void count_told(void *context, const told *what)
{
    (void)what;
    *(int *)context += 1000;
}

// As an ordinary user, for root may write anywhere. Four events and a photo are tried.
static bool all_refused(const place *where)
{
    int heard = 0;
    hw_job *job = NULL;
    listener to = {count_told, refuse_all, &heard};
    if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0)) {
        return false;
    }
    if (hw_job_open(where->job, NULL, &job, NULL) != HW_OK) {
        return false;
    }
    play_events(job, where, 1, 1, &to);
    hw_job_free(job);
    return heard >= 4 && heard < 1000;
}

// A folder that one may read and not write: all can be read, nothing is said saved, nothing changes.
void test_read_only(void)
{
    char log[400], photos[400];
    place where = new_place();
    told_list list = {0};
    listener to = into(&list);
    play(&where, 0, &to);
    hw_format_text(log, sizeof log, "%slog.jsonl", where.job);
    hw_format_text(photos, sizeof photos, "%sphotos", where.job);
    expect(chmod(log, 0444) == 0 && chmod(photos, 0555) == 0 && chmod(where.job, 0555) == 0,
           "read only: cannot be set up");
    fflush(stdout);
    pid_t id = fork();
    if (id == 0) {
        _exit(all_refused(&where) ? 0 : 1);
    }
    int how = 0;
    waitpid(id, &how, 0);
    expect(WIFEXITED(how) && WEXITSTATUS(how) == 0, "read only: not all of it was refused");
    size_t there = events_there(&where);
    all_there(&where, &list, "read only");
    expect(there == events_told(&list), "read only: the log has changed");
    expect(chmod(log, 0644) == 0 && chmod(photos, 0755) == 0 && chmod(where.job, 0755) == 0,
           "read only: cannot be undone");
    go_on(&where, &list, "no longer read only");
    keep_counts.full_disks++;
    told_free(&list);
    remove_tree(where.root);
}

// ---- Several at once ---------------------------------------------------------------

static int writer_day;

static void play_own_day(const place *where, const listener *to)
{
    play(where, writer_day, to);
}

// Programs that all write to one job and one shelf, some of which are killed at a call that chance
// chooses: no event lost, no number given twice.
static void write_at_once(uint32_t *state)
{
    enum { PROGRAMS = 4 };
    place where = new_place();
    told_list list = {0};
    child one[PROGRAMS];
    listener to = into(&list);
    play(&where, 0, &to);
    size_t killed = 0;
    for (int i = 0; i < PROGRAMS; i++) {
        // Two of four: the more are killed, the less they meet.
        static const hw_disk_fault faults[] = {HW_FAULT_KILL_BEFORE, HW_FAULT_KILL_AFTER,
                                               HW_FAULT_KILL_HALF};
        hw_disk_plan plan = {.fault = i < 2 ? faults[chance(state) % 3] : HW_FAULT_NONE,
                             .at = 1 + (long)(chance(state) % 150)};
        writer_day = 1 + i;
        one[i] = start_child(&where, &plan, play_own_day);
    }
    for (int i = 0; i < PROGRAMS; i++) {
        killed += end_child(&one[i], &list);
    }
    all_there(&where, &list, "several writers");
    size_t there = events_there(&where), said = events_told(&list);
    expect(there >= said && there <= said + killed, "several writers: %zu told, %zu there", said,
           there);
    hw_job *job = NULL;
    if (expect(hw_job_open(where.job, NULL, &job, NULL) == HW_OK, "several writers: no job")) {
        for (size_t i = 0; i < hw_job_event_count(job); i++) {
            expect(hw_job_event(job, i)->number == (long)i + 1, "a number twice or left out");
        }
    }
    hw_job_free(job);
    go_on(&where, &list, "several writers");
    keep_counts.writers += PROGRAMS;
    keep_counts.writers_killed += (long)killed;
    told_free(&list);
    remove_tree(where.root);
}

void test_writers(void)
{
    uint32_t state = 20260528;
    for (int i = 0; i < (keep_short ? 4 : 150); i++) {
        write_at_once(&state);
    }
}
