// bench_open.c: how long a job takes to open: 5,000 events with 1,000 photos among them, and half and twice as
// many, so that it shows whether the time grows as the log does. Beside it, reading the file alone.
//
//   bench_open FOLDER [RUNS]
//
// FOLDER is a job with a photo, its reading, a plan shown and a pass laid (demo/run.sh leaves one); its lines are
// said again with new numbers. A benchmark, not a timed test: the median and the longest of RUNS (11)
// calls, in milliseconds of processor time.
#include "bench.h"
#include "job_internal.h"

#include <sys/stat.h>
#include <unistd.h>

// ---- A long log --------------------------------------------------------------------

typedef struct sources {
    hw_json *started, *photo, *reading, *plan, *pass;
} sources;

static void keep(hw_json **place, hw_json *json)
{
    if (*place) {
        hw_json_free(json);
    } else {
        *place = json;
    }
}

static bool read_sources(const char *folder, sources *out)
{
    char path[1000];
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_limits limits = hw_limits_default();
    hw_format_text(path, sizeof path, "%s/log.jsonl", folder);
    if (hw_file_read(path, limits.log_bytes, &bytes, &count, NULL) != HW_OK) {
        return false;
    }
    hw_log_reader reader = {.bytes = (const char *)bytes, .count = count, .whole = true};
    hw_line_state state;
    hw_json *json;
    while (hw_log_next(&reader, &limits, &state, &json)) {
        const char *name = json ? hw_json_member_text(json, "event") : "";
        hw_json *none = NULL;
        keep(strcmp(name, "job_started") == 0   ? &out->started
             : strcmp(name, "photo_added") == 0 ? &out->photo
             : strcmp(name, "reading") == 0     ? &out->reading
             : strcmp(name, "plan_shown") == 0  ? &out->plan
             : strcmp(name, "pass_laid") == 0   ? &out->pass
                                                : &none,
             json);
        hw_json_free(none);
    }
    hw_free(bytes);
    return out->started && out->photo && out->reading && out->plan && out->pass;
}

static bool add_line(const hw_json *source, long number, long photo, hw_text *log)
{
    hw_json *json = hw_json_new_object();
    for (const hw_json *member = hw_json_first(source); member; member = hw_json_next(member)) {
        const char *name = hw_json_name(member);
        if (strcmp(name, "number") == 0) {
            hw_json_add_number(json, name, (double)number);
        } else if (strcmp(name, "photo_event") == 0) {
            hw_json_add_number(json, name, (double)photo);
        } else if (strcmp(name, "crc32") != 0) {
            hw_json_add_tree(json, name, hw_json_copy(member));
        }
    }
    bool good = hw_log_line(json, log, NULL) == HW_OK;
    hw_json_free(json);
    return good;
}

// Photo, reading, two plans, pass: as a job goes on.
static bool write_job(const sources *from, const char *folder, long photos, size_t *log_bytes)
{
    char path[1000];
    const char *job_file = "{\"format\":1,\"title\":\"long\"}";
    hw_text log = {.ceiling = (size_t)1 << 28};
    bool good = add_line(from->started, 1, 0, &log);
    for (long i = 0, number = 2; good && i < photos; i++, number += 5) {
        good = add_line(from->photo, number, 0, &log) &&
               add_line(from->reading, number + 1, number, &log) &&
               add_line(from->plan, number + 2, 0, &log) &&
               add_line(from->plan, number + 3, 0, &log) &&
               add_line(from->pass, number + 4, 0, &log);
    }
    hw_format_text(path, sizeof path, "%s/job.json", folder);
    good = good && hw_file_make_folder(folder, true, NULL) == HW_OK &&
           hw_file_replace(path, job_file, strlen(job_file), NULL) == HW_OK;
    hw_format_text(path, sizeof path, "%s/log.jsonl", folder);
    good = good && hw_file_replace(path, log.bytes, log.length, NULL) == HW_OK;
    *log_bytes = log.length;
    hw_text_free(&log);
    return good;
}

// ---- Times -------------------------------------------------------------------------

static void show(const char *what, size_t events, size_t bytes, double *times, size_t runs)
{
    qsort(times, runs, sizeof *times, by_size);
    printf("%-22s %7zu events %8.2f MB %9.1f %9.1f\n", what, events, (double)bytes / 1e6,
           times[runs / 2], times[runs - 1]);
}

static bool time_job(const char *folder, size_t log_bytes, size_t runs)
{
    double times[101];
    size_t events = 0;
    for (size_t i = 0; i < runs; i++) {
        hw_job *job = NULL;
        double start = now_ms();
        if (hw_job_open(folder, NULL, &job, NULL) != HW_OK) {
            return false;
        }
        times[i] = now_ms() - start;
        events = hw_job_event_count(job);
        hw_job_free(job);
    }
    show("open", events, log_bytes, times, runs);
    for (size_t i = 0; i < runs; i++) {
        char path[1000];
        uint8_t *bytes = NULL;
        size_t count;
        hw_format_text(path, sizeof path, "%s/log.jsonl", folder);
        double start = now_ms();
        if (hw_file_read(path, (size_t)1 << 28, &bytes, &count, NULL) != HW_OK) {
            return false;
        }
        times[i] = now_ms() - start;
        hw_free(bytes);
    }
    show("read the file alone", events, log_bytes, times, runs);
    return true;
}

int main(int count, char **words)
{
    static const long photos[] = {500, 1000, 2000};
    sources from = {0};
    double wanted = 11.0;
    if (count < 2 || (count > 2 && !hw_parse_number(words[2], false, &wanted)) || wanted < 1.0 ||
        wanted > 101.0 || !read_sources(words[1], &from)) {
        fprintf(stderr, "bench_open FOLDER [RUNS]: FOLDER is a job with photo, advice and pass\n");
        return 2;
    }
    printf("%-22s %14s %11s %9s %9s\n", "", "", "", "median ms", "longest");
    for (size_t i = 0; i < sizeof photos / sizeof *photos; i++) {
        char folder[200];
        size_t log_bytes = 0;
        hw_format_text(folder, sizeof folder, "%s/bench open %ld-%ld", HW_SCRATCH, (long)getpid(),
                       photos[i]);
        if (!write_job(&from, folder, photos[i], &log_bytes) ||
            !time_job(folder, log_bytes, (size_t)wanted)) {
            fprintf(stderr, "no job could be written in %s\n", folder);
            return 4;
        }
    }
    return 0;
}
