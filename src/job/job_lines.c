// job_lines.c: the log's own lines for those who want all that is in it: each event as the JSON object
// that was written, without its sum. Bad and torn lines are left out, as in hw_job_open.
#include "job_internal.h"

// ,"crc32":"1c291ca3"} as job_log.c writes it.
static const size_t sum_length = sizeof ",\"crc32\":\"12345678\"}" - 1;

void hw_job_lines_free(hw_job_lines *lines)
{
    if (lines) {
        hw_free(lines->at);
        hw_free(lines->text);
        *lines = (hw_job_lines){0};
    }
}

const char *hw_job_line(const hw_job_lines *lines, size_t index)
{
    return index < lines->count ? lines->text + lines->at[index] : NULL;
}

// The object closes where its sum began.
static bool add_line(hw_job_lines *out, size_t *room, char *line, size_t length, size_t at)
{
    if (out->count == *room) {
        size_t more = *room ? 2 * *room : 32;
        size_t *grown = hw_resize_array(out->at, more, sizeof *grown);
        if (!grown) {
            return false;
        }
        out->at = grown;
        *room = more;
    }
    line[length - sum_length] = '}';
    line[length - sum_length + 1] = 0;
    out->at[out->count++] = at;
    return true;
}

// Lines are tested before they are changed in place.
static bool take_lines(hw_job_lines *out, size_t count, const hw_limits *limits)
{
    hw_log_reader reader = {.bytes = out->text, .count = count};
    hw_line_state state;
    hw_json *event = NULL;
    size_t room = 0;
    for (size_t start = 0; hw_log_next(&reader, limits, &state, &event); start = reader.at) {
        hw_json_free(event);
        size_t length = reader.at - start - 1; // without the line's end
        bool good =
            state != HW_LINE_NO_MEMORY &&
            (state != HW_LINE_WHOLE || add_line(out, &room, out->text + start, length, start));
        if (!good) {
            return false;
        }
    }
    return true;
}

hw_status hw_job_read_lines(const hw_job *job, const hw_limits *limits, hw_job_lines *out,
                            hw_error *err)
{
    hw_limits bounds = limits ? *limits : hw_limits_default();
    hw_job_lines made = {0};
    hw_text path = {0};
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_status status = hw_job_path(hw_job_folder(job), "log.jsonl", &path, err);
    if (status == HW_OK && hw_file_exists(path.bytes)) {
        status = hw_file_read(path.bytes, bounds.log_bytes, &bytes, &count, err);
    }
    made.text = (char *)bytes;
    if (status == HW_OK && bytes && !take_lines(&made, count, &bounds)) {
        status = hw_fail_memory(err, "reading the job");
    }
    hw_text_free(&path);
    if (status != HW_OK) {
        hw_job_lines_free(&made);
        return status;
    }
    *out = made;
    return HW_OK;
}
