// side_by_side.c: two commands in turn, A B A B ..., with the time of each whole process and the
// memory of the largest one. Prints medians and the median of the ratios pair by pair, which holds
// when the speed of the machine drifts.
//
//   side_by_side RUNS 'COMMAND A' 'COMMAND B'
#define _DEFAULT_SOURCE
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define RUNS_MOST 101

typedef struct run {
    double seconds;
    long peak_kib; // of the largest process
} run;

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

// A child of its own measures, so that its memory counts for this command alone.
static run measure(const char *command)
{
    int pipe_ends[2];
    run result = {-1.0, 0};
    if (pipe(pipe_ends) != 0) {
        return result;
    }
    pid_t child = fork();
    if (child == 0) {
        double start = now();
        pid_t worker = fork();
        if (worker == 0) {
            if (!freopen("/dev/null", "w", stdout)) {
                _exit(126);
            }
            execl("/bin/sh", "sh", "-c", command, (char *)NULL);
            _exit(127);
        }
        int status = 0;
        waitpid(worker, &status, 0);
        run mine = {now() - start, 0};
        struct rusage usage;
        getrusage(RUSAGE_CHILDREN, &usage); // largest of all descendants
        mine.peak_kib = usage.ru_maxrss;
        if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) {
            mine.seconds = -1.0;
        }
        _exit(write(pipe_ends[1], &mine, sizeof mine) == (ssize_t)sizeof mine ? 0 : 1);
    }
    close(pipe_ends[1]);
    if (read(pipe_ends[0], &result, sizeof result) != (ssize_t)sizeof result) {
        result.seconds = -1.0;
    }
    close(pipe_ends[0]);
    waitpid(child, NULL, 0);
    return result;
}

static int ascending(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

static double median(double *values, int count)
{
    qsort(values, (size_t)count, sizeof *values, ascending);
    return values[count / 2];
}

int main(int count, char **arguments)
{
    int runs = count == 4 ? atoi(arguments[1]) : 0;
    if (runs < 1 || runs > RUNS_MOST) {
        fprintf(stderr, "use: side_by_side RUNS 'COMMAND A' 'COMMAND B'\n");
        return 2;
    }
    double a[RUNS_MOST], b[RUNS_MOST], ratio[RUNS_MOST];
    long peak_a = 0, peak_b = 0;
    for (int i = -1; i < runs; i++) { // the first pair warms up
        run one = measure(arguments[2]), other = measure(arguments[3]);
        if (one.seconds < 0.0 || other.seconds < 0.0) {
            fprintf(stderr, "a command failed\n");
            return 1;
        }
        if (i >= 0) {
            a[i] = one.seconds;
            b[i] = other.seconds;
            ratio[i] = one.seconds / other.seconds;
            peak_a = one.peak_kib > peak_a ? one.peak_kib : peak_a;
            peak_b = other.peak_kib > peak_b ? other.peak_kib : peak_b;
        }
    }
    printf("A %.3f s, peak %ld MiB | B %.3f s, peak %ld MiB | A/B %.2f (medians of %d)\n",
           median(a, runs), peak_a / 1024, median(b, runs), peak_b / 1024, median(ratio, runs),
           runs);
    return 0;
}
