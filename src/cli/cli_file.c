// cli_file.c: results that become a file of their own, and what is told of long work on the way.
#include "cli_internal.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

// ---- Files -------------------------------------------------------------------------

// A new file, whole or not there.
static hw_status write_new(const char *path, const void *bytes, size_t count, hw_error *err)
{
    hw_new_file *file = NULL;
    hw_status status = hw_new_file_open(path, &file, err);
    if (status == HW_OK) {
        status = hw_new_file_write(file, bytes, count, err);
    }
    if (status == HW_OK) {
        return hw_new_file_keep(&file, err);
    }
    hw_new_file_abandon(&file);
    return status;
}

hw_status cli_write_file(const char *path, bool replace, const void *bytes, size_t count,
                         hw_error *err)
{
    return replace ? hw_file_replace(path, bytes, count, err) : write_new(path, bytes, count, err);
}

// Is it to lie in a job's own folder, or in its photos? That holds the job and nothing else.
static bool is_in_job(const char *path)
{
    char folder[1100], job[1200];
    const char *slash = strrchr(path, '/');
    hw_copy_text(folder, sizeof folder, slash ? path : ".");
    if (slash) {
        folder[slash - path < 1099 ? slash - path + 1 : 1099] = 0;
    }
    hw_format_text(job, sizeof job, "%s/job.json", folder);
    bool inside = hw_file_exists(job);
    hw_format_text(job, sizeof job, "%s/../job.json", folder);
    return inside || hw_file_exists(job);
}

hw_status cli_output_path(const cli_call *call, const char *what, const char *ending, char *out,
                          size_t size, hw_error *err)
{
    const char *asked = cli_value(call, "output");
    char folder[256];
    if (asked) {
        hw_copy_text(out, size, asked);
    } else {
        bool named = hw_folder_own_name(call->operand[0], folder, sizeof folder);
        hw_format_text(out, size, "%s-%s.%s", named ? folder : "job", what, ending);
    }
    if (asked && strlen(asked) >= size) {
        return hw_fail(err, HW_ERR_CALL, "output-name", asked, "Give a shorter one.",
                       "this name is too long");
    }
    if (is_in_job(out)) {
        return hw_fail(err, HW_ERR_CALL, "output-in-job", out,
                       "Write it elsewhere: --output takes any other folder.",
                       "a job's folder holds the job and nothing else");
    }
    if (hw_file_exists(out) && !cli_has(call, "replace")) {
        return hw_fail(err, HW_ERR_CALL, "file-exists", out,
                       "Give another name with --output, or put the new file in its place with "
                       "--replace.",
                       "a file of this name is there already");
    }
    return HW_OK;
}

// Sentences beside the result; one that cannot be made is left out.
static void tell_text(const cli_call *call, hw_status made, char *text)
{
    if (made == HW_OK && !cli_has(call, "quiet")) {
        fputs(text, stderr);
    }
    hw_report_free(text);
}

void cli_tell_written(const cli_call *call, const char *path, size_t bytes)
{
    char *text = NULL;
    hw_status made = hw_report_written_text(path, bytes, &text, NULL);
    tell_text(call, made, text);
}

void cli_tell_warnings(const cli_call *call, const hw_warnings *warnings)
{
    char *text = NULL;
    hw_status made = hw_report_warnings_text(warnings, &text, NULL);
    tell_text(call, made, text);
}

// ---- Long work ---------------------------------------------------------------------

static double seconds_now(void)
{
    struct timespec now = {0};
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

// Says nothing in the first half second: short work needs no telling.
static bool tell(void *context, const char *what, double share)
{
    cli_progress *progress = context;
    double now = seconds_now();
    if (progress->shown && now - progress->last < 0.5) {
        return true;
    }
    progress->last = now;
    if (now - progress->start >= 0.5) {
        int width = fprintf(stderr, "\r%s: %.0f %% (Ctrl-C stops; nothing is lost)", what,
                            100.0 * fmin(fmax(share, 0.0), 1.0));
        fprintf(stderr, "%*s", width < progress->width ? progress->width - width : 0, "");
        progress->width = width > progress->width ? width : progress->width;
        progress->shown = true;
        fflush(stderr);
    }
    return true;
}

const hw_progress *cli_progress_start(const cli_call *call, cli_progress *progress)
{
    *progress = (cli_progress){.start = seconds_now()};
    progress->progress = (hw_progress){.tell = tell, .context = progress};
    bool watched = isatty(STDERR_FILENO) && !cli_has(call, "quiet") && !cli_has(call, "json");
    return watched ? &progress->progress : NULL;
}

void cli_progress_end(cli_progress *progress)
{
    if (progress->shown) {
        fprintf(stderr, "\r%*s\r", progress->width, "");
        fflush(stderr);
    }
}
