// cli_values.c: the values of options that several commands take: names, numbers, liquids, states.
#include "cli_internal.h"

#include <math.h>
#include <string.h>

size_t cli_count_of(const cli_call *call, const char *option)
{
    size_t at = 0, count = 0;
    while (cli_next_value(call, option, &at)) {
        count++;
    }
    return count;
}

// ---- Names and texts ---------------------------------------------------------------

hw_status cli_take_names(const cli_call *call, const char *option, char (**out)[HW_NAME_SIZE],
                         size_t *count, hw_error *err)
{
    size_t at = 0;
    *count = 0;
    *out = hw_alloc_array(cli_count_of(call, option), HW_NAME_SIZE);
    if (!*out) {
        return hw_fail_memory(err, "reading the command line");
    }
    for (const char *name; (name = cli_next_value(call, option, &at)) != NULL;) {
        if (!hw_copy_text((*out)[(*count)++], HW_NAME_SIZE, name)) {
            return hw_fail(err, HW_ERR_CALL, "part-name", name,
                           "Use the name that it has on the photo.",
                           "this name is longer than %d bytes", HW_NAME_SIZE - 1);
        }
    }
    return HW_OK;
}

hw_status cli_copy(const char *what, const char *text, char *out, size_t size, hw_error *err)
{
    return !text || hw_copy_text(out, size, text)
               ? HW_OK
               : hw_fail(err, HW_ERR_CALL, "note-text", what, "Write a shorter one.",
                         "it is longer than %zu bytes", size - 1);
}

hw_status cli_take_text(const cli_call *call, const char *option, char *out, size_t size,
                        hw_error *err)
{
    char what[40];
    hw_format_text(what, sizeof what, "the %s", option);
    return cli_copy(what, cli_value(call, option), out, size, err);
}

// ---- States ------------------------------------------------------------------------

static hw_status refuse_state(const char *text, hw_error *err)
{
    char names[160] = "", next[320];
    for (int i = 0; i < HW_STATE_COUNT; i++) {
        size_t length = strlen(names);
        hw_format_text(names + length, sizeof names - length, "%s%s", length ? ", " : "",
                       hw_state_name((hw_state)i));
    }
    hw_format_text(next, sizeof next, "Write --state PART=S with S one of: %s.", names);
    return hw_fail(err, HW_ERR_CALL, "state-unknown", text, next, "there is no such state");
}

hw_status cli_take_states(const cli_call *call, hw_part_state **out, size_t *count, hw_error *err)
{
    size_t at = 0, room = cli_count_of(call, "state");
    hw_part_state *states = hw_alloc_array(room, sizeof *states);
    hw_status status = states ? HW_OK : hw_fail_memory(err, "reading the command line");
    *count = 0;
    for (const char *text;
         status == HW_OK && (text = cli_next_value(call, "state", &at)) != NULL;) {
        const char *name = NULL;
        hw_part_state *state = &states[(*count)++];
        status = cli_split("state", text, true, state->part, sizeof state->part, &name, err);
        if (status == HW_OK && !hw_state_from_name(name, &state->state)) {
            status = refuse_state(text, err);
        }
    }
    if (status == HW_OK) {
        *out = states;
    } else {
        hw_free(states);
    }
    return status;
}

// ---- Numbers -----------------------------------------------------------------------

hw_status cli_take_number(const cli_call *call, const char *option, double *out, hw_error *err)
{
    const char *text = cli_value(call, option);
    if (text && !hw_parse_number(text, false, out)) {
        char subject[320];
        hw_format_text(subject, sizeof subject, "--%s %s", option, text);
        return hw_fail(err, HW_ERR_CALL, "option-value", subject, "Write a plain number.",
                       "this is not a number");
    }
    return HW_OK;
}

hw_status cli_take_passes(const cli_call *call, int *out, hw_error *err)
{
    const double most = 1000.0;
    double passes = *out;
    hw_status status = cli_take_number(call, "passes", &passes, err);
    if (status == HW_OK && (passes != floor(passes) || fabs(passes) > most)) {
        return hw_fail(err, HW_ERR_CALL, "pass-count", cli_value(call, "passes"),
                       "Give a whole number, 1 or more.", "this is no number of passes");
    }
    *out = (int)passes;
    return status;
}

hw_status cli_parse_event(const char *text, const char *code, long *out, hw_error *err)
{
    double number = 0.0;
    if (!hw_parse_number(text, false, &number) ||
        !(number >= 1.0 && number < 1e9 && number == floor(number))) {
        return hw_fail(err, HW_ERR_CALL, code, text,
                       "Give a whole number as huewright history shows it.",
                       "this is no number of the job's log");
    }
    *out = (long)number;
    return HW_OK;
}

hw_status cli_take_event(const cli_call *call, const char *option, const char *code, long *out,
                         hw_error *err)
{
    const char *text = cli_value(call, option);
    return text ? cli_parse_event(text, code, out, err) : HW_OK;
}

// ---- Liquids -----------------------------------------------------------------------

hw_status cli_take_doses(const cli_call *call, hw_liquid *liquid, hw_error *err)
{
    size_t at = 0;
    for (const char *text; (text = cli_next_value(call, "dye", &at)) != NULL;) {
        if (liquid->count == HW_LIQUID_DYES_MAX) {
            return hw_fail(err, HW_ERR_CALL, "liquid-dyes", text,
                           "Log what was laid after another as another pass.",
                           "one liquid has one or two dyes, this is the third");
        }
        hw_dose *dose = &liquid->dose[liquid->count];
        const char *strength = NULL;
        hw_status status =
            cli_split("dye", text, true, dose->dye, sizeof dose->dye, &strength, err);
        if (status == HW_OK && !hw_parse_number(strength, true, &dose->strength)) {
            status = hw_fail(err, HW_ERR_CALL, "dye-strength", text,
                             "Write --dye DYE=STRENGTH with a strength as 1, 1/2, 1/4 or 0.25.",
                             "the strength is not a number");
        }
        if (status != HW_OK) {
            return status;
        }
        liquid->count++;
    }
    return HW_OK;
}
