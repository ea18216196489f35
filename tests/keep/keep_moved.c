// keep_moved.c: what people do with folders while a job is open: renamed, replaced by another job or an
// older copy, copied while it is written. And a clock that is set back.
#include "keep.h"

#include <errno.h>
#include <signal.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

// ---- Copies ------------------------------------------------------------------------

// Copies one file in small pieces, as a slow copy does.
static bool copy_file(const char *from, const char *to)
{
    char piece[97];
    FILE *in = fopen(from, "rb"), *out = fopen(to, "wb");
    bool good = in && out;
    for (size_t count; good && (count = fread(piece, 1, sizeof piece, in)) > 0;) {
        good = fwrite(piece, 1, count, out) == count;
    }
    if (in) {
        fclose(in);
    }
    return out && fclose(out) == 0 && good;
}

// The job's folder without its photos.
static void copy_job(const place *from, const place *to)
{
    const char *names[] = {"job.json", "log.jsonl"};
    char old[400], made[400];
    expect(mkdir(to->job, 0755) == 0 || errno == EEXIST, "a copy cannot be made");
    for (int i = 0; i < 2; i++) {
        hw_format_text(old, sizeof old, "%s%s", from->job, names[i]);
        hw_format_text(made, sizeof made, "%s%s", to->job, names[i]);
        expect(copy_file(old, made), "a copy cannot be made");
    }
}

// ---- The clock ---------------------------------------------------------------------

void test_clock(void)
{
    static const int days[] = {9, 3, -20000, 3, 8};
    place where = new_place();
    told_list list = {0};
    listener to = into(&list);
    hw_job *job = NULL;
    hw_error err = {0};
    play(&where, 5, &to);
    expect(hw_job_open(where.job, NULL, &job, NULL) == HW_OK, "clock: no job");
    for (int i = 0; i < 5 && job; i++) {
        told one;
        long last = (long)hw_job_event_count(job);
        if (expect(add_one(job, &where, days[i], &one, &err), "clock: %s", err.what)) {
            expect(one.number == last + 1, "clock: number %ld after %ld", one.number, last);
            told_add(&list, &one);
        }
        all_there(&where, &list, "the clock set back");
    }
    hw_job_free(job);
    told_free(&list);
    remove_tree(where.root);
}

// ---- Moved -------------------------------------------------------------------------

static void move(const char *from, const char *to)
{
    char old[340], made[340];
    hw_copy_text(old, sizeof old, from);
    hw_copy_text(made, sizeof made, to);
    old[strlen(old) - 1] = made[strlen(made) - 1] = 0; // rename wants no slash at the end
    expect(rename(old, made) == 0, "%s cannot be moved", from);
}

static void refused(hw_job *job, const place *where, const char *code, const char *during)
{
    told one;
    hw_error err = {0};
    expect(!add_one(job, where, 1, &one, &err), "%s: said saved", during);
    expect(strcmp(err.code, code) == 0 && err.next[0], "%s: refused as %s: %s", during, err.code,
           err.what);
    keep_counts.folders_moved++;
}

// Between two commands.
static void move_whole(void)
{
    place where = new_place(), moved = new_place();
    told_list list = {0};
    listener to = into(&list);
    told one;
    hw_error err = {0};
    hw_job *job = NULL;
    play(&where, 0, &to);
    expect(hw_job_open(where.job, NULL, &job, NULL) == HW_OK, "moved: no job");
    move(where.job, moved.job);
    hw_copy_text(moved.shelf, sizeof moved.shelf, where.shelf);
    refused(job, &where, "job-missing", "renamed while open");
    all_there(&moved, &list, "renamed while open");
    move(moved.job, where.job);
    if (expect(add_one(job, &where, 1, &one, &err), "moved back: %s", err.what)) {
        told_add(&list, &one);
    }
    all_there(&where, &list, "moved back");
    hw_job_free(job);
    told_free(&list);
    remove_tree(where.root);
    remove_tree(moved.root);
}

typedef struct mover {
    const place *from, *to;
    long at;
} mover;

static void move_at(void *context, const hw_disk_call *call)
{
    const mover *wish = context;
    if (call->number == wish->at) {
        move(wish->from->job, wish->to->job);
    }
}

// In the middle of an append, after its call `at`: it is saved where the folder is now. False when it
// makes fewer calls.
static bool move_within(long at)
{
    place where = new_place(), moved = new_place();
    told_list list = {0};
    listener to = into(&list);
    told one;
    hw_error err = {0};
    hw_job *job = NULL;
    play(&where, 0, &to);
    hw_copy_text(moved.shelf, sizeof moved.shelf, where.shelf);
    expect(hw_job_open(where.job, NULL, &job, NULL) == HW_OK, "moved: no job");
    mover wish = {&where, &moved, at};
    hw_disk_plan plan = {.watch = move_at, .context = &wish};
    hw_test_disk(&plan);
    bool saved = add_one(job, &where, 1, &one, &err);
    bool was_moved = hw_test_disk_calls() >= at;
    hw_test_disk(NULL);
    expect(saved || err.next[0], "moved while it was written: no words");
    hw_job_free(job);
    const place *now = was_moved ? &moved : &where;
    all_there(now, &list, "moved while it was written");
    job = NULL;
    if (saved && expect(hw_job_open(now->job, NULL, &job, NULL) == HW_OK, "moved: no job")) {
        const hw_event *last = hw_job_event(job, hw_job_event_count(job) - 1);
        expect(last && last->number == one.number && last->at == one.at,
               "moved while it was written: said saved, and is not there");
    }
    hw_job_free(job);
    go_on(now, &list, "moved while it was written");
    keep_counts.folders_moved += was_moved;
    told_free(&list);
    remove_tree(where.root);
    remove_tree(moved.root);
    return was_moved;
}

void test_moved(void)
{
    move_whole();
    long at = 1;
    while (move_within(at)) {
        at++;
    }
    expect(at > 4, "an append of %ld calls", at - 1);
}

// ---- Replaced ----------------------------------------------------------------------

static uint8_t *log_of(const place *where, size_t *count)
{
    char path[400];
    uint8_t *bytes = NULL;
    *count = 0;
    hw_format_text(path, sizeof path, "%slog.jsonl", where->job);
    return hw_file_read(path, 1 << 24, &bytes, count, NULL) == HW_OK ? bytes : NULL;
}

// What an open job does when `other` lies in its folder's place: refuses, and leaves that alone.
static void replaced_by(hw_job *job, const place *where, const place *other, const char *during)
{
    place away = new_place();
    move(where->job, away.job);
    move(other->job, where->job);
    size_t before = 0, after = 0;
    uint8_t *log = log_of(where, &before);
    refused(job, where, "job-changed", during);
    uint8_t *now = log_of(where, &after);
    expect(before == after && (log == NULL) == (now == NULL) &&
               (before == 0 || memcmp(log, now, before) == 0),
           "%s: what lies there was changed", during);
    hw_free(log);
    hw_free(now);
    move(where->job, other->job);
    move(away.job, where->job);
    remove_tree(away.root);
}

// One byte of a line that was read long ago. (A new time for the same event: the line is whole.)
static void change_first_line(const place *where)
{
    char path[400];
    size_t count = 0;
    uint8_t *bytes = log_of(where, &count);
    hw_format_text(path, sizeof path, "%slog.jsonl", where->job);
    FILE *file = fopen(path, "wb");
    bytes[20] ^= 1;
    expect(file && fwrite(bytes, 1, count, file) == count && fclose(file) == 0, "no log");
    hw_free(bytes);
}

void test_replaced(void)
{
    place where = new_place(), other = new_place(), old = new_place(), newer = new_place(),
          nothing = new_place(), altered = new_place();
    told_list list = {0}, others = {0};
    listener to = into(&list), to_other = into(&others);
    hw_job *job = NULL;
    hw_error err = {0};
    told one;
    play(&where, 0, &to);
    copy_job(&where, &old);
    play(&where, 1, &to);
    play(&other, 0, &to_other);
    play(&other, 1, &to_other);
    play(&other, 2, &to_other); // longer than the first
    expect(hw_job_open(where.job, NULL, &job, NULL) == HW_OK, "replaced: no job");
    copy_job(&where, &altered);
    change_first_line(&altered);
    expect(mkdir(nothing.job, 0755) == 0, "replaced: no folder");
    replaced_by(job, &where, &other, "replaced by another job");
    replaced_by(job, &where, &old, "replaced by an older copy");
    replaced_by(job, &where, &altered, "replaced by an altered copy");
    replaced_by(job, &where, &nothing, "replaced by an empty folder");
    // A newer copy of the same job is the job: another program's events are taken in.
    copy_job(&where, &newer);
    hw_job *second = NULL;
    expect(hw_job_open(newer.job, NULL, &second, NULL) == HW_OK &&
               add_one(second, &newer, 3, &one, &err) && add_one(job, &where, 3, &one, &err),
           "replaced by nothing: %s", err.what);
    told_add(&list, &one);
    all_there(&where, &list, "put back in its place");
    all_there(&other, &others, "put in another job's place");
    hw_job_free(second);
    hw_job_free(job);
    told_free(&list);
    told_free(&others);
    const place *all[] = {&where, &other, &old, &newer, &nothing, &altered};
    for (int i = 0; i < 6; i++) {
        remove_tree(all[i]->root);
    }
}

// ---- Copied while written ----------------------------------------------------------

static void append_in_a_loop(const place *where)
{
    hw_job *job = NULL;
    told one;
    bool good = hw_job_open(where->job, NULL, &job, NULL) == HW_OK;
    while (good) {
        good = add_one(job, where, 2, &one, NULL);
        nanosleep(&(struct timespec){0, 1000000}, NULL);
    }
    _exit(1);
}

// The copy opens with the first so many events of the job, all of those that were there when it began.
static void look_at_copy(const place *where, const place *copy, const told_list *list, size_t begun)
{
    hw_job *job = NULL;
    size_t count = 0, whole = 0;
    uint8_t *log = log_of(where, &count), *own = log_of(copy, &whole);
    while (whole > 0 && own[whole - 1] != '\n') {
        whole--;
    }
    expect(log && own && whole <= count && memcmp(log, own, whole) == 0, "a copy that is no copy");
    if (expect(hw_job_open(copy->job, NULL, &job, NULL) == HW_OK, "a copy does not open")) {
        expect(hw_job_event_count(job) >= begun, "a copy holds %zu of %zu events",
               hw_job_event_count(job), begun);
        for (size_t i = 0; i < hw_job_event_count(job); i++) {
            expect(hw_job_event(job, i)->number == (long)i + 1, "a copy with a gap");
        }
    }
    hw_job_free(job);
    hw_free(log);
    hw_free(own);
    told_list lines = {0}; // the copies are of the log alone
    for (size_t i = 0; i < list->count; i++) {
        if (list->item[i].what == TOLD_EVENT || list->item[i].what == TOLD_JOB) {
            told_add(&lines, &list->item[i]);
        }
    }
    go_on(copy, &lines, "copied while written");
    told_free(&lines);
    keep_counts.copies++;
}

void test_copied(void)
{
    place where = new_place();
    told_list list = {0};
    listener to = into(&list);
    play(&where, 0, &to);
    fflush(stdout);
    pid_t writer = fork();
    if (writer == 0) {
        append_in_a_loop(&where);
    }
    for (int i = 0; i < (keep_short ? 15 : 100); i++) {
        place copy = new_place();
        size_t begun = events_there(&where);
        copy_job(&where, &copy);
        look_at_copy(&where, &copy, &list, begun);
        remove_tree(copy.root);
    }
    kill(writer, SIGKILL);
    waitpid(writer, NULL, 0);
    go_on(&where, &list, "the writer killed");
    told_free(&list);
    remove_tree(where.root);
}
