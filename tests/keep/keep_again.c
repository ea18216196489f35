// keep_again.c: killed at every call while something with an entry is logged, by one who then says it again, as a phone
// does that heard no answer: it is in the log once, whole, and the answer names it.
#include "keep.h"

#include "job_internal.h"

#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

static const char one_entry[] = "6f1c-00a7-pass-on-lid-strip";
static const int64_t some_day = 1790000000; // 2026-09-21

// A photo with the parts that it names and its reading: several lines of one entry.
static hw_status add_seen(hw_job *job, long *number, hw_error *err)
{
    hw_photo_event photo = {.view = "front", .original = "IMG 7.jpg"};
    uint8_t bytes[3000];
    size_t count = photo_bytes(7, bytes);
    hw_status status = hw_job_keep_photo(job, bytes, count, "jpg", photo.stored, err);
    if (status == HW_OK) {
        status =
            hw_marks_add(&photo.marks, HW_ROLE_PATCH, "lid strip", "270,20,100,200", NULL, err);
    }
    if (status == HW_OK) {
        status = hw_job_add_photo_read(job, &photo, "{\"samples\":[],\"comparisons\":[]}", some_day,
                                       number, err);
    }
    hw_marks_free(&photo.marks);
    return status;
}

static hw_status say(const place *where, long *number, hw_error *err)
{
    hw_job *job = NULL;
    hw_status status = hw_job_open(where->job, NULL, &job, err);
    if (status == HW_OK) {
        status = hw_job_enter(job, one_entry, err);
    }
    if (status == HW_OK) {
        status = add_seen(job, number, err);
    }
    hw_job_free(job);
    return status;
}

// In a program of its own. False: it ended by itself, so there is no such call.
static bool say_killed(const place *where, long at, hw_disk_fault fault)
{
    int how = 0;
    fflush(stdout);
    pid_t id = fork();
    if (id == 0) {
        long number;
        hw_error err = {0};
        hw_disk_plan plan = {.fault = fault, .at = at};
        hw_test_disk(&plan);
        _exit(say(where, &number, &err) == HW_OK ? 0 : 9);
    }
    waitpid(id, &how, 0);
    expect(WIFSIGNALED(how) || WEXITSTATUS(how) == 0, "it could not be said at all");
    return WIFSIGNALED(how);
}

// Of that entry, and of all kinds.
static size_t logged(const place *where, size_t *events)
{
    hw_job *job = NULL;
    size_t count = 0;
    *events = 0;
    if (!expect(hw_job_open(where->job, NULL, &job, NULL) == HW_OK, "the job cannot be opened")) {
        return 0;
    }
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        count += strcmp(hw_job_event(job, i)->entry, one_entry) == 0;
    }
    *events = hw_job_event_count(job);
    hw_job_free(job);
    return count;
}

static bool say_again_after(long at, hw_disk_fault fault)
{
    place where = new_place();
    hw_error err = {0};
    long first = 0, second = 0;
    size_t events = 0;
    expect(hw_job_start(where.job, "Walnut gramophone cabinet", some_day, &err) == HW_OK,
           "no job could be started");
    bool killed = say_killed(&where, at, fault);
    for (int i = 0; i < 2; i++) {
        expect(say(&where, i == 0 ? &first : &second, &err) == HW_OK,
               "killed at %ld: said again: %s", at, err.what);
    }
    // job_started, then photo, part and reading; and nothing a second time.
    expect(logged(&where, &events) == 1 && events == 4 && first == 2 && second == 2,
           "killed at call %ld, fault %d, and said again: %zu events, numbers %ld and %ld", at,
           (int)fault, events, first, second);
    keep_counts.kill_points += killed;
    keep_counts.kills_survived += killed;
    remove_tree(where.root);
    return killed;
}

void test_said_again(void)
{
    static const hw_disk_fault faults[] = {HW_FAULT_KILL_BEFORE, HW_FAULT_KILL_AFTER,
                                           HW_FAULT_KILL_HALF};
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++) {
        long at = 1, missed = 0;
        for (; missed < 12 && at < 100; at++) { // half a write: other calls are not killed then
            missed = say_again_after(at, faults[i]) ? 0 : missed + 1;
        }
        expect(at > 13, "nothing was killed with fault %d", (int)faults[i]);
    }
}
