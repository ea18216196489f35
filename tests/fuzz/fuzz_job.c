// fuzz_job.c: any lines as the log of a job folder, each with the sum that it needs, so that what the
// lines say is read; then everything is asked that a log is asked. What is learned from it is made of
// numbers, names that can be printed, and covariances.
#include "huewright/report.h"
#include "job_internal.h"

#include <math.h>
#include <sys/stat.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static char folder[600], log_path[640];

static void write_file(const char *path, const void *bytes, size_t count)
{
    FILE *file = fopen(path, "wb");
    if (!file || fwrite(bytes, 1, count, file) != count || fclose(file) != 0) {
        abort();
    }
}

static void remove_job(void)
{
    char path[640];
    snprintf(path, sizeof path, "%s/job.json", folder);
    unlink(path);
    unlink(log_path);
    rmdir(folder);
}

static void make_folder(void)
{
    static const char head[] = "{\"format\":1,\"title\":\"Bench\"}";
    char path[640];
    if (folder[0]) {
        return;
    }
    snprintf(folder, sizeof folder, "%s/fuzz job %ld", HW_SCRATCH, (long)getpid());
    snprintf(log_path, sizeof log_path, "%s/log.jsonl", folder);
    snprintf(path, sizeof path, "%s/job.json", folder);
    mkdir(folder, 0700);
    write_file(path, head, sizeof head - 1);
    atexit(remove_job);
}

// The line with a sum as its last member, as hw_log_line writes it.
static void add_line(hw_text *log, const char *line, size_t length)
{
    if (length > 2 && line[length - 1] == '}') {
        hw_text_add_bytes(log, line, length - 1);
        hw_text_add(log, ",\"crc32\":\"%08x\"}", hw_crc32(line, length - 1));
    } else {
        hw_text_add_bytes(log, line, length);
    }
}

static void must_be_number(double value)
{
    if (!isfinite(value)) {
        abort();
    }
}

static void observe(const hw_job *job)
{
    hw_observation *seen = NULL;
    size_t count = 0;
    hw_warnings asked = {0};
    if (hw_job_observe(job, 0, &seen, &count, &asked, NULL) != HW_OK) {
        abort();
    }
    for (size_t i = 0; i < count; i++) {
        must_be_number(seen[i].wood.L + seen[i].wood.a + seen[i].wood.b);
        for (int r = 0; r < 3; r++) {
            must_be_number(seen[i].density[r]);
            for (int c = 0; c < 3; c++) {
                must_be_number(seen[i].covariance.m[r][c]);
            }
        }
        if (!(seen[i].covariance.m[0][0] >= 0.0) || !seen[i].patch[0]) {
            abort();
        }
    }
    hw_free_observations(seen);
}

static void ask(const hw_job *job)
{
    const hw_event *first = hw_job_last_photo(job, NULL);
    hw_layer layers[8];
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PASS_LAID) {
            const hw_pass_event *pass = &event->of.pass;
            for (size_t p = 0; p < pass->patch_count && p < 4; p++) {
                hw_pass_effect effect = hw_job_pass_effect(job, event, pass->patches[p]);
                hw_job_layers(job, pass->patches[p], effect.photo_before, layers, 8);
                hw_job_state(job, effect.photo_after, pass->patches[p]);
                hw_job_last_photo_of_patch(job, pass->patches[p]);
            }
        } else if (event->kind == HW_EVENT_PHOTO_ADDED && first) {
            hw_job_reading_of(job, event->number);
            hw_patch_change change =
                hw_job_patch_change(job, event->number, first->number, "strip");
            if (hw_change_is_told(&change)) {
                must_be_number(change.after.L + change.change.de00 + change.widening);
            }
        }
    }
    if (!(hw_job_risk_spent(job) >= 0.0)) {
        abort();
    }
    observe(job);
}

// The parts as they are, and the whole of it as words, as JSON and as a table: printed, whatever it holds.
static void tell(const hw_job *job)
{
    hw_part_now *parts = NULL;
    size_t count = 0;
    hw_photo_off off[4];
    char *text = NULL;
    if (hw_job_parts(job, &parts, &count, NULL) != HW_OK) {
        abort();
    }
    for (size_t i = 0; i < count; i++) {
        if (!parts[i].name[0] || parts[i].passes < 0) {
            abort();
        }
    }
    hw_job_parts_free(parts);
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED && event->of.photo.measured) {
            hw_job_photo_off(job, event, off, 4);
        }
    }
    for (int i = 0; i < 3; i++) {
        hw_status status = i == 0   ? hw_report_history_text(job, NULL, &text, NULL)
                           : i == 1 ? hw_report_history_json(job, NULL, &text, NULL)
                                    : hw_report_export_csv(job, &text, NULL);
        if (status != HW_OK || !hw_is_utf8(text, strlen(text))) {
            abort();
        }
        hw_report_free(text);
    }
    hw_job_approval(job);
    double hours = 0.0;
    hw_job_settings_now(job);
    hw_job_sittings(job, &hours);
    hw_job_measured_card(job);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_text log = {0};
    hw_job *job = NULL;
    make_folder();
    const char *at = (const char *)bytes, *end = at + count;
    while (at < end) {
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        add_line(&log, at, (size_t)((stop ? stop : end) - at));
        if (stop) {
            hw_text_add_bytes(&log, "\n", 1);
        }
        at = stop ? stop + 1 : end;
    }
    if (!log.failed) {
        write_file(log_path, log.bytes ? log.bytes : "", log.length);
        if (hw_job_open(folder, NULL, &job, NULL) != HW_OK) {
            abort(); // whatever its lines hold, a log can be opened
        }
        ask(job);
        tell(job);
        hw_job_free(job);
    }
    hw_text_free(&log);
    return 0;
}
