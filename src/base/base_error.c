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

hw_status hw_fail_as(hw_error *err, const hw_error *why)
{
    return hw_fail(err, why->status, why->code, why->subject, why->next, "%s", why->what);
}

hw_status hw_fail_memory(hw_error *err, const char *doing)
{
    return hw_fail(err, HW_ERR_STORAGE, "memory-out", "memory",
                   "Close other programs, or use a smaller photo, and try again.",
                   "the computer's memory ran out while %s", doing);
}

// ---- Warnings ----------------------------------------------------------------------

const char *hw_trouble_name(hw_trouble trouble)
{
    static const char *const names[HW_TROUBLE_COUNT] = {
        [HW_TROUBLE_NONE] = "none",
        [HW_TROUBLE_CLIPPED] = "clipped",
        [HW_TROUBLE_DARK] = "dark",
        [HW_TROUBLE_GLARE] = "glare",
        [HW_TROUBLE_BLUR] = "blur",
        [HW_TROUBLE_MIXED_LIGHT] = "mixed_light",
        [HW_TROUBLE_COLOURED_LIGHT] = "coloured_light",
        [HW_TROUBLE_UNEVEN_LIGHT] = "uneven_light",
        [HW_TROUBLE_SHADE] = "shade",
        [HW_TROUBLE_TONE] = "tone_curve",
        [HW_TROUBLE_CARD] = "card",
        [HW_TROUBLE_REFERENCE] = "reference",
        [HW_TROUBLE_PROFILE] = "profile",
        [HW_TROUBLE_NOT_DRY] = "not_dry",
        [HW_TROUBLE_MARKS] = "marks",
        [HW_TROUBLE_DAMAGE] = "damage",
    };
    return (unsigned)trouble < HW_TROUBLE_COUNT ? names[trouble] : names[HW_TROUBLE_NONE];
}

static void add_sentence(hw_warnings *warnings, hw_trouble trouble, double at_stake,
                         const char *sentence)
{
    for (size_t i = 0; i < warnings->count; i++) {
        if (strcmp(warnings->text[i], sentence) == 0) {
            return;
        }
    }
    if (warnings->count < HW_WARNINGS_MAX) {
        size_t at = warnings->count++;
        hw_copy_text(warnings->text[at], HW_WARNING_SIZE, sentence);
        warnings->trouble[at] = trouble;
        warnings->at_stake[at] = at_stake;
    } else {
        hw_copy_text(warnings->text[HW_WARNINGS_MAX - 1], HW_WARNING_SIZE,
                     "There are more warnings than can be shown: mend these first.");
        warnings->trouble[HW_WARNINGS_MAX - 1] = HW_TROUBLE_NONE;
        warnings->at_stake[HW_WARNINGS_MAX - 1] = 0.0;
    }
}

static void add_format(hw_warnings *warnings, hw_trouble trouble, double at_stake,
                       const char *format, va_list arguments)
{
    char text[HW_WARNING_SIZE + 8], sentence[HW_WARNING_SIZE];
    if (warnings) {
        vsnprintf(text, sizeof text, format, arguments);
        hw_copy_text(sentence, sizeof sentence, text);
        add_sentence(warnings, trouble, at_stake, sentence);
    }
}

void hw_warn(hw_warnings *warnings, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    add_format(warnings, HW_TROUBLE_NONE, 0.0, format, arguments);
    va_end(arguments);
}

void hw_warn_trouble(hw_warnings *warnings, hw_trouble trouble, double at_stake, const char *format,
                     ...)
{
    va_list arguments;
    va_start(arguments, format);
    add_format(warnings, trouble, at_stake, format, arguments);
    va_end(arguments);
}

void hw_warnings_append(hw_warnings *to, const hw_warnings *from)
{
    for (size_t i = 0; i < from->count; i++) {
        add_sentence(to, from->trouble[i], from->at_stake[i], from->text[i]);
    }
}

void hw_warnings_worst_first(const hw_warnings *warnings, size_t order[HW_WARNINGS_MAX])
{
    for (size_t i = 0; i < warnings->count; i++) {
        size_t at = i;
        for (; at > 0 && warnings->at_stake[order[at - 1]] < warnings->at_stake[i]; at--) {
            order[at] = order[at - 1];
        }
        order[at] = i;
    }
}
