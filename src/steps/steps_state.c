// steps_state.c: bare, damp, sealed, finished: what can be compared with what.
//
// Dry bare wood looks lighter and duller than the same wood under finish, so beside finished old
// wood it would be toned far too dark (common practice, no source). Wiping it with solvent, or
// sealing it, shows the colour that it will have. A coat that is not dry looks darker than it will
// be.
//
// How long a state holds once said: hw_job_state (job.h). Where the job's recoat time is known, what was laid
// less long ago is not dry, unless the person says otherwise.
#include "steps_internal.h"

#include <math.h>
#include <string.h>

hw_state hw_steps_state(const hw_job *job, long number, const hw_part_state *said, size_t count,
                        const char *part)
{
    for (size_t i = said ? count : 0; i-- > 0;) {
        if (strcmp(said[i].part, part) == 0) {
            return said[i].state;
        }
    }
    return hw_job_state(job, number, part);
}

// ---- Drying ------------------------------------------------------------------------

static bool is_said(const hw_part_state *said, size_t count, const char *part)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(said[i].part, part) == 0) {
            return true;
        }
    }
    return false;
}

// One sentence for all that were laid at the same minute.
static void warn_wet(const char *names, double minutes, double recoat, hw_warnings *warnings)
{
    hw_warn_trouble(warnings, HW_TROUBLE_NOT_DRY, 4.0,
                    "%s: %.0f of %g minutes: it will look darker than it is. Let it dry and "
                    "photograph it again; where all is dry, say --dry.",
                    names, minutes, recoat);
}

static void warn_before(const char *names, hw_warnings *warnings)
{
    hw_warn_trouble(warnings, HW_TROUBLE_NOT_DRY, 9.0,
                    "%s: by the camera's clock this photo was taken before the last pass was laid, "
                    "so it does not show that pass. Photograph it as it is now; where the clock is "
                    "wrong, say --dry.",
                    names);
}

static const double taken_before = -1.0;

// Whole minutes that a part of these marks had dried when the photo was taken, where that is too few; taken_before; NaN:
// it is dry, or its state is said.
static double wet_minutes(const hw_job *job, const hw_mark *mark, const hw_part_state *said,
                          size_t count, double recoat, hw_when when)
{
    if (!hw_role_is_wood(mark->role) || is_said(said, count, mark->name)) {
        return (double)NAN;
    }
    if (mark->role == HW_ROLE_PATCH && hw_steps_taken_before_pass(job, mark->name, when.taken)) {
        return taken_before;
    }
    double minutes = hw_job_dry_minutes(job, mark->name, when.taken, when.now);
    return minutes < recoat ? floor(minutes) : (double)NAN; // neither known: NaN
}

static void warn_same(double minutes, const char *names, double recoat, hw_warnings *warnings)
{
    if (minutes == taken_before) {
        warn_before(names, warnings);
    } else {
        warn_wet(names, minutes, recoat, warnings);
    }
}

hw_status hw_steps_add_wet(const hw_job *job, const hw_marks *marks, const hw_part_state *said,
                           size_t count, bool all_dry, hw_when when, hw_part_state **out,
                           size_t *out_count, hw_warnings *warnings, hw_error *err)
{
    double recoat = hw_job_settings_now(job).recoat_minutes;
    hw_part_state *states = hw_alloc_array(count + marks->count, sizeof *states);
    if (!states) {
        return hw_fail_memory(err, "adding the photo");
    }
    if (count > 0) {
        memcpy(states, said, count * sizeof *states);
    }
    *out_count = count;
    for (size_t i = 0; !all_dry && i < marks->count; i++) {
        double minutes = wet_minutes(job, &marks->mark[i], states, *out_count, recoat, when);
        char names[320] = "";
        for (size_t k = i; !isnan(minutes) && k < marks->count; k++) {
            const hw_mark *mark = &marks->mark[k];
            if (wet_minutes(job, mark, states, *out_count, recoat, when) == minutes) {
                hw_part_state *one = &states[(*out_count)++];
                hw_copy_text(one->part, HW_NAME_SIZE, mark->name);
                one->state = HW_STATE_NOT_DRY;
                hw_steps_add_name(names, sizeof names, mark->name);
            }
        }
        if (names[0]) {
            warn_same(minutes, names, recoat, warnings);
        }
    }
    *out = states;
    return HW_OK;
}

// ---- What can be compared ----------------------------------------------------------

static bool has_finish(hw_state state)
{
    return state == HW_STATE_FINISHED || state == HW_STATE_RUBBED_OUT;
}

bool hw_steps_bare_beside_finished(const hw_job *job, long number, const hw_part_state *said,
                                   size_t count, const hw_marks *marks, const hw_mark *patch,
                                   const char **target)
{
    if (hw_steps_state(job, number, said, count, patch->name) != HW_STATE_BARE) {
        return false;
    }
    for (size_t i = 0; i < marks->count; i++) {
        const hw_mark *mark = &marks->mark[i];
        if (hw_mark_is_beside(patch, mark) &&
            has_finish(hw_steps_state(job, number, said, count, mark->name))) {
            *target = mark->name;
            return true;
        }
    }
    return false;
}

static void warn_sheen(const hw_job *job, long number, const hw_part_state *said, size_t count,
                       const hw_marks *marks, const hw_mark *patch, hw_warnings *warnings)
{
    for (size_t i = 0; i < marks->count; i++) {
        const hw_mark *mark = &marks->mark[i];
        if (hw_mark_is_beside(patch, mark) &&
            has_finish(hw_steps_state(job, number, said, count, mark->name))) {
            hw_warn(warnings,
                    "%s is sealed and %s is finished: their sheen differs, and the clear coats "
                    "still to come may darken and warm the repair.",
                    patch->name, mark->name);
            return;
        }
    }
}

void hw_steps_warn_states(const hw_job *job, long number, const hw_part_state *said, size_t count,
                          const hw_marks *marks, hw_warnings *warnings)
{
    for (size_t i = 0; i < marks->count; i++) {
        const hw_mark *mark = &marks->mark[i];
        if (!hw_role_is_wood(mark->role)) {
            continue;
        }
        hw_state state = hw_steps_state(job, number, said, count, mark->name);
        const char *target = NULL;
        if (state == HW_STATE_NOT_DRY) {
            hw_warn_trouble(warnings, HW_TROUBLE_NOT_DRY, 4.0,
                            "%s is not dry: it looks darker than it will be.", mark->name);
        }
        if (mark->role == HW_ROLE_TARGET) {
            continue;
        }
        if (hw_steps_bare_beside_finished(job, number, said, count, marks, mark, &target)) {
            hw_warn(warnings,
                    "%s is bare and dry beside %s, which is finished: they cannot be compared. "
                    "Seal it or damp it with solvent, then photograph it again.",
                    mark->name, target);
        }
        if (state == HW_STATE_SEALED) {
            warn_sheen(job, number, said, count, marks, mark, warnings);
        }
    }
}
