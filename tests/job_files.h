// job_files.h: a job's folder as files, for tests that look at it from outside.
#ifndef HUEWRIGHT_JOB_FILES_H
#define HUEWRIGHT_JOB_FILES_H

#include "check.h"
#include "job_internal.h"
#include "remove_all.h"
#include "scratch.h"

#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

// The bytes of a file, with a 0 behind them; free with hw_free. NULL where there is none.
static inline char *read_file(const char *path, size_t *count)
{
    uint8_t *bytes = NULL;
    return hw_file_read(path, (size_t)1 << 30, &bytes, count, NULL) == HW_OK ? (char *)bytes : NULL;
}

static inline void write_file(const char *path, const char *bytes, size_t count)
{
    FILE *file = fopen(path, "wb");
    check_true(file && fwrite(bytes, 1, count, file) == count && fclose(file) == 0);
}

static inline void add_to_file(const char *path, const char *text)
{
    FILE *file = fopen(path, "ab");
    check_true(file && fputs(text, file) >= 0 && fclose(file) == 0);
}

// A sum over names and bytes of all files below a folder, but for those whose path holds `but`.
static inline void sum_of_all(const char *path, const char *but, char sum[65])
{
    hw_names names = {0};
    hw_text all = {0};
    check_true(hw_folder_names(path, &names, NULL) == HW_OK);
    for (size_t i = 0; i < names.count; i++) {
        char inside[1400], part[65] = "";
        struct stat facts;
        size_t count = 0;
        hw_format_text(inside, sizeof inside, "%s/%s", path, names.name[i]);
        if (but && strstr(inside, but)) {
            continue;
        }
        if (stat(inside, &facts) == 0 && S_ISDIR(facts.st_mode)) {
            sum_of_all(inside, but, part);
        } else {
            char *bytes = read_file(inside, &count);
            hw_sha256_hex(bytes ? bytes : "", count, part);
            hw_free(bytes);
        }
        hw_text_add(&all, "%s %s\n", names.name[i], part);
    }
    hw_sha256_hex(all.bytes ? all.bytes : "", all.length, sum);
    hw_text_free(&all);
    hw_names_free(&names);
}

// Keeps `text` as a photo of the job and logs it; its stored name goes to `stored`.
static inline void add_photo(const char *folder, const char *text, int64_t now, char stored[96])
{
    hw_job *job = NULL;
    hw_photo_event photo = {0};
    long number = 0;
    check_true(hw_job_open(folder, NULL, &job, NULL) == HW_OK);
    check_true(hw_job_keep_photo(job, text, strlen(text), "jpg", photo.stored, NULL) == HW_OK);
    snprintf(photo.original, sizeof photo.original, "bench.jpg");
    snprintf(photo.view, sizeof photo.view, "front");
    check_true(hw_job_add_photo(job, &photo, now, &number, NULL) == HW_OK);
    check_true(hw_job_add_reading(job, number, "{}", now, &number, NULL) == HW_OK);
    snprintf(stored, 96, "%s", photo.stored);
    hw_job_free(job);
}

// Starts a job with two photos and their readings: events 1 to 5.
static inline void make_job(const char *folder, char first[96], char second[96])
{
    check_true(hw_job_start(folder, "Oak hall bench", 1000000000, NULL) == HW_OK);
    add_photo(folder, "one photo", 1000000060, first);
    add_photo(folder, "another photo", 1000000120, second);
}

// Adds a line with a sum that fits.
static inline void add_line(const char *folder, const char *json)
{
    char path[1400];
    snprintf(path, sizeof path, "%s/log.jsonl", folder);
    hw_json *event = NULL;
    hw_text line = {0};
    hw_limits limits = hw_limits_default();
    check_true(hw_json_parse(json, strlen(json), &limits, "test", &event, NULL) == HW_OK);
    check_true(hw_log_line(event, &line, NULL) == HW_OK);
    add_to_file(path, line.bytes);
    hw_text_free(&line);
    hw_json_free(event);
}

// Runs `work` in a child as an ordinary person; true where it says so.
static inline bool as_ordinary(bool (*work)(void))
{
    pid_t child = fork();
    if (child == 0) {
        if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0)) {
            _exit(9);
        }
        _exit(work() ? 0 : 1);
    }
    int how = 0;
    waitpid(child, &how, 0);
    return WIFEXITED(how) && WEXITSTATUS(how) == 0;
}

#endif
