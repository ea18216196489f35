// job_folder.c: the names that a job's folder can hold, and no other: what is packed, what is taken
// out of a pack that anybody may have made. Exact and in one spelling, so that no two of them are one
// file on a disk that does not tell large letters from small. And findings, the list of what a check
// has to say.
#include "job_internal.h"

// ---- Names -------------------------------------------------------------------------

static bool is_digit(char letter)
{
    return letter >= '0' && letter <= '9';
}

// Length of "-12" (one to 19 digits) at `text`, or 0.
static size_t dash_number(const char *text)
{
    size_t length = 1;
    if (text[0] != '-') {
        return 0;
    }
    while (is_digit(text[length])) {
        length++;
    }
    return length > 1 && length <= 20 ? length : 0;
}

// So many hexadecimal digits at `text`.
static bool has_digits(const char *text, int count)
{
    for (int i = 0; i < count; i++) {
        if (!is_digit(text[i]) && !(text[i] >= 'a' && text[i] <= 'f')) {
            return false;
        }
    }
    return true;
}

static bool is_look(const char *name)
{
    return strncmp(name, "look-", 5) == 0 && has_digits(name + 5, 16) && name[21] == 0;
}

static bool is_photo(const char *name)
{
    if (strncmp(name, "photos/", 7) != 0) {
        return false;
    }
    name += 7;
    if (!has_digits(name, 64) || name[64] != '.') {
        return false;
    }
    size_t extension = 0;
    for (const char *at = name + 65; is_digit(*at) || (*at >= 'a' && *at <= 'z'); at++) {
        extension++;
    }
    return extension >= 1 && extension <= 8 && name[65 + extension] == 0;
}

// log.jsonl.torn-812, and -2, -3 ... behind it where that was taken.
static bool is_torn(const char *name)
{
    static const char start[] = "log.jsonl.torn";
    if (strncmp(name, start, sizeof start - 1) != 0) {
        return false;
    }
    name += sizeof start - 1;
    size_t length = dash_number(name);
    name += length;
    return length > 0 && (*name == 0 || (dash_number(name) > 0 && name[dash_number(name)] == 0));
}

static bool is_marks(const char *name)
{
    static const char start[] = "marks-to-edit";
    if (strncmp(name, start, sizeof start - 1) != 0) {
        return false;
    }
    name += sizeof start - 1;
    name += dash_number(name);
    return strcmp(name, ".json") == 0 || strcmp(name, ".svg") == 0;
}

hw_member hw_job_member(const char *name)
{
    if (strlen(name) >= HW_MEMBER_SIZE) {
        return HW_MEMBER_NONE;
    }
    return strcmp(name, "job.json") == 0    ? HW_MEMBER_JOB
           : strcmp(name, "log.jsonl") == 0 ? HW_MEMBER_LOG
           : is_torn(name)                  ? HW_MEMBER_TORN
           : is_marks(name)                 ? HW_MEMBER_MARKS
           : is_photo(name)                 ? HW_MEMBER_PHOTO
           : is_look(name)                  ? HW_MEMBER_LOOK
                                            : HW_MEMBER_NONE;
}

uint64_t hw_job_member_most(hw_member member, const hw_limits *limits)
{
    switch (member) {
    case HW_MEMBER_LOG:
    case HW_MEMBER_TORN:
        return limits->log_bytes;
    case HW_MEMBER_PHOTO:
        return limits->file_bytes;
    case HW_MEMBER_JOB:
    case HW_MEMBER_MARKS:
        return limits->json_bytes;
    default:
        return 0;
    }
}

bool hw_is_half_written(const char *name)
{
    for (const char *at = strstr(name, ".new-"); at; at = strstr(at + 1, ".new-")) {
        size_t process = dash_number(at + 4);
        size_t turn = process ? dash_number(at + 4 + process) : 0;
        if (turn && at[4 + process + turn] == 0) {
            return true;
        }
    }
    return false;
}

hw_status hw_job_path(const char *folder, const char *name, hw_text *out, hw_error *err)
{
    hw_text_add(out, "%s/%s", folder, name);
    return out->failed ? hw_fail_memory(err, "opening the job") : HW_OK;
}

// ---- Findings ----------------------------------------------------------------------

const char *hw_severity_name(hw_severity severity)
{
    static const char *const names[HW_SEVERITY_COUNT] = {"loss", "odd", "mended"};
    return (unsigned)severity < HW_SEVERITY_COUNT ? names[severity] : names[HW_SEVERITY_ODD];
}

const char *hw_condition_name(hw_condition condition)
{
    static const char *const names[HW_CONDITION_COUNT] = {"whole", "missing", "damaged", "newer"};
    return (unsigned)condition < HW_CONDITION_COUNT ? names[condition]
                                                    : names[HW_CONDITION_DAMAGED];
}

void hw_findings_free(hw_findings *findings)
{
    for (size_t i = 0; i < findings->count; i++) {
        hw_free(findings->item[i].where);
        hw_free(findings->item[i].sentence);
    }
    hw_free(findings->item);
    *findings = (hw_findings){0};
}

size_t hw_findings_count(const hw_findings *findings, hw_severity severity)
{
    size_t count = 0;
    for (size_t i = 0; i < findings->count; i++) {
        count += findings->item[i].severity == severity;
    }
    return count;
}

static bool make_room(hw_findings *findings)
{
    if (findings->count < findings->room) {
        return true;
    }
    size_t room = findings->room ? 2 * findings->room : 16;
    hw_finding *grown = hw_resize_array(findings->item, room, sizeof *grown);
    if (grown) {
        findings->item = grown;
        findings->room = room;
    }
    return grown != NULL;
}

hw_status hw_find(hw_findings *findings, hw_severity severity, const char *where, hw_error *err,
                  const char *format, ...)
{
    hw_text place = {0}, sentence = {0};
    va_list arguments;
    va_start(arguments, format);
    hw_text_add_list(&sentence, format, arguments);
    va_end(arguments);
    hw_text_add(&place, "%s", where);
    if (place.failed || sentence.failed || !make_room(findings)) {
        hw_text_free(&place);
        hw_text_free(&sentence);
        return hw_fail_memory(err, "writing down what was found");
    }
    findings->item[findings->count++] = (hw_finding){severity, place.bytes, sentence.bytes};
    return HW_OK;
}
