// steps_lamps.c: a job looked at for repairs that were photographed under two lamps, and what is said of that
// beside advice.
#include "steps_internal.h"

#include <string.h>

enum { PAIRS_MOST = 8 }; // lamps that are spoken of beside advice; chosen

static hw_status refuse_patch(const hw_part_now *parts, size_t count, const char *patch,
                              hw_error *err)
{
    char names[320] = "", next[480];
    for (size_t i = 0; i < count; i++) {
        if (parts[i].role == HW_ROLE_PATCH) {
            hw_steps_add_name(names, sizeof names, parts[i].name);
        }
    }
    hw_format_text(next, sizeof next, "Name one of: %s.", names);
    return hw_fail(err, HW_ERR_CALL, "patch-unknown", patch,
                   names[0] ? next : "Add a photo on which it is marked first.",
                   "no repair of this name is marked in this job");
}

static hw_status check_patch(const hw_job *job, const char *patch, hw_error *err)
{
    hw_part_now *parts = NULL;
    size_t count = 0;
    hw_status status = hw_job_parts(job, &parts, &count, err);
    bool found = false;
    for (size_t i = 0; status == HW_OK && i < count; i++) {
        found = found || (parts[i].role == HW_ROLE_PATCH && strcmp(parts[i].name, patch) == 0);
    }
    if (status == HW_OK && !found) {
        status = refuse_patch(parts, count, patch, err);
    }
    hw_job_parts_free(parts);
    return status;
}

hw_status hw_steps_lamps(const char *folder, const char *patch, const hw_limits *limits,
                         hw_job **job, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_job *opened = NULL;
    hw_status status = hw_job_open(folder, &bounds, &opened, err);
    if (status == HW_OK && patch) {
        status = check_patch(opened, patch, err);
    }
    if (status != HW_OK) {
        hw_job_free(opened);
        return status;
    }
    *job = opened;
    return HW_OK;
}

static void say_pair(const hw_lamp_pair *pair, hw_text *words)
{
    const char *lead = words->length ? " " : "";
    switch (pair->verdict) {
    case HW_LAMP_HOLDS:
        hw_text_add(words,
                    "%sIt was photographed under %s too (photo %ld): what that lamp does to it "
                    "cannot be seen.",
                    lead, pair->other.lamp, pair->other.photo);
        break;
    case HW_LAMP_PARTS:
        hw_text_add(
            words,
            "%sUnder %s it parts from the old wood by %.1f (%.1f to %.1f; photo %ld): judge by "
            "the lamp that it will stand under.",
            lead, pair->other.lamp, pair->index.de00, pair->de00_low, pair->de00_high,
            pair->other.photo);
        break;
    default:
        hw_text_add(
            words,
            "%sIt was photographed under %s too (photo %ld); whether it holds there cannot be "
            "told from these photos.",
            lead, pair->other.lamp, pair->other.photo);
    }
}

bool hw_steps_say_lamps(const hw_job *job, const char *patch, char *words, size_t size)
{
    hw_lamp_pair pair[PAIRS_MOST];
    hw_text text = hw_text_in(words, size);
    size_t count = hw_job_lamp_pairs(job, patch, pair, PAIRS_MOST);
    bool seen = false;
    for (size_t i = 0; i < count && i < PAIRS_MOST; i++) {
        if (pair[i].known && pair[i].present) {
            say_pair(&pair[i], &text);
            seen = true;
        }
    }
    if (!seen) {
        hw_text_add(
            &text,
            "How it looks under another lamp is not known: before the last pass, photograph it in "
            "this state under the lamp that it will stand under, too.");
    }
    return seen;
}
