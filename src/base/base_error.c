// base_error.c: refusals and warnings in words for people, the limits on what comes from
// outside, and the version.
//
// What always holds: the first failure stays (a later hw_fail does not cover it), and a text that
// is too long is cut at a whole UTF-8 character.
#include "base_internal.h"

#include <stdio.h>

const char *hw_version(void)
{
    return HW_VERSION_TEXT;
}

hw_limits hw_limits_default(void)
{
    return (hw_limits){
        .file_bytes = (size_t)200 << 20,
        .side_px = 30000,
        .pixels = 120000000,
        .json_bytes = (size_t)4 << 20,
        .json_depth = 32,
        .marks = 64,
        .points = 200,
        .log_bytes = (size_t)256 << 20,
        .decode_seconds = 60,
    };
}

hw_status hw_fail(hw_error *err, hw_status status, const char *code, const char *subject,
                  const char *next, const char *what_format, ...)
{
    if (!err || err->status != HW_OK) {
        return status;
    }
    err->status = status;
    hw_copy_text(err->code, sizeof err->code, code);
    hw_copy_text(err->subject, sizeof err->subject, subject ? subject : "");
    hw_copy_text(err->next, sizeof err->next, next ? next : "");
    // Room to spare, so that the cut falls on a character that hw_copy_text can see whole.
    char what[sizeof err->what + 8];
    va_list arguments;
    va_start(arguments, what_format);
    vsnprintf(what, sizeof what, what_format, arguments);
    va_end(arguments);
    hw_copy_text(err->what, sizeof err->what, what);
    return status;
}

hw_status hw_fail_memory(hw_error *err, const char *doing)
{
    return hw_fail(err, HW_ERR_STORAGE, "memory-out", "memory",
                   "Close other programs, or use a smaller photo, and try again.",
                   "the computer's memory ran out while %s", doing);
}

void hw_warn(hw_warnings *warnings, const char *format, ...)
{
    if (!warnings) {
        return;
    }
    char text[HW_WARNING_SIZE + 8], sentence[HW_WARNING_SIZE];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    hw_copy_text(sentence, sizeof sentence, text);
    for (size_t i = 0; i < warnings->count; i++) {
        if (strcmp(warnings->text[i], sentence) == 0) {
            return;
        }
    }
    if (warnings->count < HW_WARNINGS_MAX) {
        hw_copy_text(warnings->text[warnings->count++], HW_WARNING_SIZE, sentence);
    } else {
        hw_copy_text(warnings->text[HW_WARNINGS_MAX - 1], HW_WARNING_SIZE,
                     "There are more warnings than can be shown: mend these first.");
    }
}
