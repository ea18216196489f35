// job_log.c: the log of one job. A power cut loses at most the event that is being written.
//
// A line is one JSON object whose last member is "crc32": eight lower-case hexadecimal digits of
// the CRC-32 (ISO-HDLC, as in zip) of the line's bytes before the comma that leads to it:
//
//   {"event":"pass_laid","number":7,"at":"2026-05-03T10:27:36Z","program":"0.1.0",...,"crc32":"1c291ca3"}
//   \_________________________ the sum is of these bytes __________________________/
//
// What always holds:
//  (1) A written line never changes. A correction is a new line.
//  (2) Readers skip a bad line and name it, ignore a torn tail, and write nothing. Where the newline
//      itself is damaged, the sum still tells where the line ends: the next one is not lost with it.
//  (3) A writer holds the lock, moves a torn tail aside, appends, and syncs; only then is it saved.
//
// Not one JSON document: saving one pass would put all earlier ones at risk.
#include "job_internal.h"

static const char sum_start[] = ",\"crc32\":\"";
#define SUM_LENGTH (sizeof sum_start - 1 + 8 + 2) // with the closing quotes and bracket

hw_status hw_log_line(const hw_json *event, hw_text *out, hw_error *err)
{
    char *text = NULL;
    hw_status status = hw_json_print(event, false, &text, err);
    if (status != HW_OK) {
        return status;
    }
    size_t length = strlen(text) - 1; // without the closing bracket
    hw_text_add_bytes(out, text, length);
    hw_text_add(out, "%s%08x\"}\n", sum_start, hw_crc32(text, length));
    hw_free(text);
    return out->failed ? hw_fail_memory(err, "writing the log") : HW_OK;
}

// Does the line's last member stand here, with this sum?
static bool is_sum(const char *at, uint32_t sum)
{
    char wanted[SUM_LENGTH + 1];
    snprintf(wanted, sizeof wanted, "%s%08x\"}", sum_start, sum);
    return memcmp(at, wanted, SUM_LENGTH) == 0;
}

// Length of the line that starts here, by its sum; 0 where none fits within `length` bytes. It is less
// than `length` where a damaged newline joins two lines.
static size_t summed_length(const char *line, size_t length)
{
    uint32_t sum = 0;
    size_t done = 0;
    const char *at = line;
    if (length > SUM_LENGTH &&
        memcmp(line + length - SUM_LENGTH, sum_start, sizeof sum_start - 1) == 0 &&
        is_sum(line + length - SUM_LENGTH, hw_crc32(line, length - SUM_LENGTH))) {
        return length; // as nearly always
    }
    while ((at = memchr(at, sum_start[0], length - (size_t)(at - line))) != NULL) {
        size_t before = (size_t)(at - line);
        if (length - before < SUM_LENGTH) {
            return 0;
        }
        if (memcmp(at, sum_start, sizeof sum_start - 1) == 0) {
            sum = hw_crc32_more(sum, line + done, before - done);
            done = before;
            if (is_sum(at, sum)) {
                return before + SUM_LENGTH;
            }
        }
        at++;
    }
    return 0;
}

// A reading's line holds far more than the program takes from it (job_event_photo.c reads just these), and
// readings are nearly all of a log.
static const char reading_start[] = "{\"event\":\"reading\",";
static const char *const of_reading[] = {
    "event",         "number",         "at",          "program",    "photo_event", "reading",
    "photo",         "camera",         "shot",        "exposure_s", "f_number",    "iso",
    "white_balance", "light",          "card_seen",   "samples",    "name",        "role",
    "lab",           "standard_error", "comparisons", "patch",      "target",      "de00",
    "de00_low",      "de00_high",      "delta",       "delta_low",  "delta_high",  "elsewhere",
    "doubt",         "figure",         "marks",       "shine",      "tone_curve",  "camera_colours",
    "card",          "other_photo",    "L",           "a",          "b",           "verdict",
    "spread_here",   "spread_count",   "width",       "height",     NULL};

static const hw_json_wanted wanted_of_reading = {of_reading, "target", HW_BESIDE};

static const hw_json_wanted *wanted_of(const char *line, size_t length)
{
    size_t start = sizeof reading_start - 1;
    return length > start && memcmp(line, reading_start, start) == 0 ? &wanted_of_reading : NULL;
}

bool hw_log_next(hw_log_reader *reader, const hw_limits *limits, hw_line_state *state,
                 hw_json **event)
{
    if (reader->at >= reader->count) {
        return false;
    }
    const char *line = reader->bytes + reader->at;
    size_t left = reader->count - reader->at;
    const char *end = memchr(line, '\n', left);
    size_t length = end ? (size_t)(end - line) : left;
    size_t whole = end && length <= limits->json_bytes ? summed_length(line, length) : 0;
    length = whole ? whole : length;
    reader->at += length + (end != NULL);
    reader->line++;
    *event = NULL;
    *state = end ? HW_LINE_BAD : HW_LINE_TORN;
    if (whole) {
        hw_error unreadable = {0};
        if (hw_json_parse_members(line, length, limits,
                                  reader->whole ? NULL : wanted_of(line, length), "log", event,
                                  &unreadable) == HW_OK &&
            hw_json_is_object(*event)) {
            *state = HW_LINE_WHOLE;
        } else {
            hw_json_free(*event);
            *event = NULL;
            *state = unreadable.status == HW_ERR_STORAGE ? HW_LINE_NO_MEMORY : HW_LINE_BAD;
        }
    }
    return true;
}

size_t hw_log_whole_bytes(const char *bytes, size_t count)
{
    while (count > 0 && bytes[count - 1] != '\n') {
        count--;
    }
    return count;
}
