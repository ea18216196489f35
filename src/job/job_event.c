// job_event.c: events as the JSON of a log line, and back. Members may be added by later versions;
// none is renamed and no unit changes. What does not make sense is kept in the file and skipped
// here (HW_EVENT_OTHER), never guessed.
#include "job_internal.h"

#include <math.h>

static const struct {
    const char *name;
    hw_event_kind kind;
} kinds[] = {
    {"job_started", HW_EVENT_JOB_STARTED}, {"photo_added", HW_EVENT_PHOTO_ADDED},
    {"reading", HW_EVENT_READING},         {"plan_shown", HW_EVENT_PLAN_SHOWN},
    {"pass_laid", HW_EVENT_PASS_LAID},
};

static const char *const state_names[HW_STATE_COUNT] = {
    [HW_STATE_UNKNOWN] = "unknown",       [HW_STATE_BARE] = "bare",
    [HW_STATE_NOT_DRY] = "not_dry",       [HW_STATE_DAMP] = "damp",
    [HW_STATE_SEALED] = "sealed",         [HW_STATE_FINISHED] = "finished",
    [HW_STATE_RUBBED_OUT] = "rubbed_out",
};

const char *hw_state_name(hw_state state)
{
    return state_names[state];
}

bool hw_state_from_name(const char *name, hw_state *out)
{
    for (int state = 0; name && state < HW_STATE_COUNT; state++) {
        if (strcmp(name, state_names[state]) == 0) {
            *out = (hw_state)state;
            return true;
        }
    }
    return false;
}

void hw_event_free(hw_event *event)
{
    if (!event) {
        return;
    }
    switch (event->kind) {
    case HW_EVENT_PHOTO_ADDED:
        hw_marks_free(&event->of.photo.marks);
        hw_free(event->of.photo.states);
        break;
    case HW_EVENT_READING:
        hw_free(event->of.reading.samples);
        hw_free(event->of.reading.gaps);
        break;
    case HW_EVENT_PASS_LAID:
        hw_free(event->of.pass.patches);
        hw_free(event->of.pass.forecast);
        break;
    case HW_EVENT_OTHER:
    case HW_EVENT_JOB_STARTED:
    case HW_EVENT_PLAN_SHOWN:
        break;
    }
    *event = (hw_event){0};
}

// ---- Parts shared by events --------------------------------------------------------

static void put_lab(hw_json *parent, const char *name, hw_lab lab)
{
    hw_json *list = hw_json_add_array(parent, name);
    hw_json_add_rounded(list, NULL, lab.L, 3);
    hw_json_add_rounded(list, NULL, lab.a, 3);
    hw_json_add_rounded(list, NULL, lab.b, 3);
}

static bool get_three(const hw_json *list, double out[3])
{
    const hw_json *item = hw_json_is_array(list) ? hw_json_first(list) : NULL;
    for (int i = 0; i < 3; i++, item = hw_json_next(item)) {
        if (!hw_json_number(item, &out[i])) {
            return false;
        }
    }
    return true;
}

static bool get_lab(const hw_json *list, hw_lab *out)
{
    double three[3];
    if (!get_three(list, three)) {
        return false;
    }
    *out = (hw_lab){three[0], three[1], three[2]};
    return true;
}

static void put_liquid(hw_json *parent, const hw_liquid *liquid)
{
    hw_json *list = hw_json_add_array(parent, "liquid");
    for (size_t i = 0; i < liquid->count; i++) {
        hw_json *dose = hw_json_add_object(list, NULL);
        hw_json_add_text(dose, "dye", liquid->dose[i].dye);
        hw_json_add_number(dose, "strength", liquid->dose[i].strength);
    }
}

static bool get_liquid(const hw_json *list, hw_liquid *out)
{
    *out = (hw_liquid){0};
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        const char *dye = hw_json_member_text(item, "dye");
        if (out->count == HW_LIQUID_DYES_MAX || !hw_name_is_usable(dye) ||
            !hw_json_member_number(item, "strength", &out->dose[out->count].strength)) {
            return false;
        }
        hw_copy_text(out->dose[out->count++].dye, HW_NAME_SIZE, dye);
    }
    return out->count > 0;
}

static bool get_passes(const hw_json *json, int *out)
{
    double passes;
    if (!hw_json_member_number(json, "passes", &passes) || !(passes >= 1.0 && passes <= 1000.0)) {
        return false;
    }
    *out = (int)passes;
    return true;
}

// Text of a member into an array of `size`; "" when it is missing.
static void get_text(const hw_json *json, const char *name, char *out, size_t size)
{
    const char *text = hw_json_member_text(json, name);
    hw_copy_text(out, size, text ? text : "");
}

static void put_text(hw_json *json, const char *name, const char *text)
{
    if (text[0]) {
        hw_json_add_text(json, name, text);
    }
}

// ---- photo_added -------------------------------------------------------------------

hw_json *hw_event_photo_json(const hw_photo_event *photo)
{
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "photo", photo->stored);
    hw_json_add_text(json, "original", photo->original);
    hw_json_add_text(json, "view", photo->view);
    put_text(json, "lamp", photo->lamp);
    put_text(json, "note", photo->note);
    if (photo->has_card_lab) {
        put_lab(json, "card_lab", photo->card_lab);
    }
    put_text(json, "sheet", photo->sheet);
    if (photo->state_count) {
        hw_json *states = hw_json_add_object(json, "states");
        for (size_t i = 0; i < photo->state_count; i++) {
            hw_json_add_text(states, photo->states[i].part, hw_state_name(photo->states[i].state));
        }
    }
    hw_json_add_bool(json, "marks_reused", photo->marks_reused);
    // The marks in their own format, as a tree.
    char *text = NULL;
    hw_json *marks = NULL;
    if (hw_marks_text(&photo->marks, &text, NULL) == HW_OK &&
        hw_json_parse(text, strlen(text), NULL, "marks", &marks, NULL) == HW_OK) {
        hw_json_add_tree(json, "marks", marks);
    } else {
        hw_json_add_tree(json, "marks", NULL); // marks the line as incomplete: it is not written
    }
    hw_marks_text_free(text);
    return json;
}

static bool read_states(const hw_json *states, hw_photo_event *out, bool *memory_out)
{
    size_t count = hw_json_count(states);
    out->states = count ? hw_alloc_array(count, sizeof *out->states) : NULL;
    if (count && !out->states) {
        *memory_out = true;
        return false;
    }
    for (const hw_json *item = hw_json_first(states); item; item = hw_json_next(item)) {
        hw_part_state *state = &out->states[out->state_count++];
        if (!hw_state_from_name(hw_json_text(item), &state->state)) {
            state->state = HW_STATE_UNKNOWN;
        }
        hw_copy_text(state->part, sizeof state->part, hw_json_name(item));
    }
    return true;
}

static bool read_marks(const hw_json *marks, const hw_limits *limits, hw_marks *out,
                       bool *memory_out)
{
    char *text = NULL;
    hw_warnings unknown = {0};
    hw_error err = {0};
    bool good = marks && hw_json_print(marks, false, &text, &err) == HW_OK &&
                hw_marks_parse(text, strlen(text), "log", limits, out, &unknown, &err) == HW_OK;
    *memory_out = *memory_out || err.status == HW_ERR_STORAGE;
    hw_free(text);
    return good;
}

static bool read_photo(const hw_json *json, const hw_limits *limits, hw_photo_event *out,
                       bool *memory_out)
{
    get_text(json, "photo", out->stored, sizeof out->stored);
    get_text(json, "original", out->original, sizeof out->original);
    get_text(json, "view", out->view, sizeof out->view);
    get_text(json, "lamp", out->lamp, sizeof out->lamp);
    get_text(json, "note", out->note, sizeof out->note);
    get_text(json, "sheet", out->sheet, sizeof out->sheet);
    out->has_card_lab = get_lab(hw_json_member(json, "card_lab"), &out->card_lab);
    hw_json_bool(hw_json_member(json, "marks_reused"), &out->marks_reused);
    return out->stored[0] && read_states(hw_json_member(json, "states"), out, memory_out) &&
           read_marks(hw_json_member(json, "marks"), limits, &out->marks, memory_out);
}

// ---- reading -----------------------------------------------------------------------

static void read_samples(const hw_json *list, hw_reading_event *out)
{
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        hw_logged_sample *sample = &out->samples[out->sample_count];
        const char *name = hw_json_member_text(item, "name");
        if (name && hw_role_from_name(hw_json_member_text(item, "role"), &sample->role) &&
            get_lab(hw_json_member(item, "lab"), &sample->lab) &&
            get_three(hw_json_member(item, "standard_error"), sample->standard_error)) {
            hw_copy_text(sample->name, sizeof sample->name, name);
            out->sample_count++;
        }
    }
}

static bool read_gap(const hw_json *item, hw_logged_gap *out)
{
    const hw_json *delta = hw_json_member(item, "delta");
    const char *patch = hw_json_member_text(item, "patch");
    const char *target = hw_json_member_text(item, "target");
    if (!patch || !target || strcmp(target, HW_BESIDE) != 0) {
        return false;
    }
    hw_copy_text(out->patch, sizeof out->patch, patch);
    double pieces = 0.0;
    if (hw_json_member_number(item, "spread_here", &out->spread) &&
        hw_json_member_number(item, "spread_count", &pieces) && pieces >= 1.0 && pieces < 1e6) {
        out->spread_count = (size_t)pieces;
    }
    return hw_json_member_number(item, "de00", &out->de00) &&
           hw_json_member_number(item, "de00_low", &out->de00_low) &&
           hw_json_member_number(item, "de00_high", &out->de00_high) &&
           hw_json_member_number(delta, "L", &out->L) &&
           hw_json_member_number(delta, "a", &out->a) &&
           hw_json_member_number(delta, "b", &out->b) &&
           hw_verdict_from_name(hw_json_member_text(item, "verdict"), &out->verdict);
}

static bool read_reading(const hw_json *json, hw_reading_event *out, bool *memory_out)
{
    double photo;
    const hw_json *reading = hw_json_member(json, "reading");
    const hw_json *samples = hw_json_member(reading, "samples");
    const hw_json *gaps = hw_json_member(reading, "comparisons");
    if (!hw_json_member_number(json, "photo_event", &photo) || !reading) {
        return false;
    }
    out->photo = (long)photo;
    // Lines of early versions may lack both; then nothing is known of them.
    get_text(hw_json_member(reading, "photo"), "camera", out->camera, sizeof out->camera);
    out->has_card_seen =
        get_lab(hw_json_member(hw_json_member(reading, "light"), "card_seen"), &out->card_seen);
    out->samples = hw_alloc_array(hw_json_count(samples), sizeof *out->samples);
    out->gaps = hw_alloc_array(hw_json_count(gaps), sizeof *out->gaps);
    if (!out->samples || !out->gaps) {
        *memory_out = true;
        return false;
    }
    read_samples(samples, out);
    for (const hw_json *item = hw_json_first(gaps); item; item = hw_json_next(item)) {
        out->gap_count += read_gap(item, &out->gaps[out->gap_count]);
    }
    return true;
}

// ---- Dyes and forecasts ------------------------------------------------------------

static void put_dyes(hw_json *parent, const hw_used_dye *dyes, size_t count)
{
    hw_json *list = hw_json_add_array(parent, "dyes");
    for (size_t i = 0; i < count; i++) {
        hw_json *one = hw_json_add_object(list, NULL);
        hw_json_add_text(one, "name", dyes[i].name);
        hw_json_add_text(one, "family", hw_family_name(dyes[i].family));
        if (dyes[i].tool != HW_TOOL_UNSAID) {
            hw_json_add_text(one, "tool", hw_tool_name(dyes[i].tool));
        }
        hw_json *density = hw_json_add_array(one, "density");
        for (int band = 0; band < 3; band++) {
            hw_json_add_rounded(density, NULL, dyes[i].density[band], 6);
        }
        hw_json_add_rounded(one, "exponent", dyes[i].exponent, 4);
        hw_json_add_rounded(one, "u_strength", dyes[i].u_strength, 4);
        hw_json_add_bool(one, "guess", dyes[i].guess);
    }
}

// Lines of early versions hold none.
static size_t get_dyes(const hw_json *list, hw_used_dye out[HW_LIQUID_DYES_MAX])
{
    size_t count = 0;
    for (const hw_json *item = hw_json_first(list); item && count < HW_LIQUID_DYES_MAX;
         item = hw_json_next(item)) {
        hw_used_dye *dye = &out[count];
        const char *name = hw_json_member_text(item, "name");
        if (hw_name_is_usable(name) &&
            hw_family_from_name(hw_json_member_text(item, "family"), &dye->family) &&
            get_three(hw_json_member(item, "density"), dye->density) &&
            hw_json_member_number(item, "exponent", &dye->exponent) &&
            hw_json_member_number(item, "u_strength", &dye->u_strength)) {
            hw_copy_text(dye->name, sizeof dye->name, name);
            hw_tool_from_name(hw_json_member_text(item, "tool"), &dye->tool);
            hw_json_bool(hw_json_member(item, "guess"), &dye->guess);
            count++;
        }
    }
    return count;
}

static void put_forecasts(hw_json *parent, const hw_pass_event *pass)
{
    hw_json *list = hw_json_add_array(parent, "forecast");
    for (size_t i = 0; i < pass->forecast_count; i++) {
        const hw_forecast *forecast = &pass->forecast[i];
        hw_json *one = hw_json_add_object(list, NULL);
        hw_json_add_text(one, "patch", forecast->patch);
        hw_json *density = hw_json_add_array(one, "density");
        hw_json *covariance = hw_json_add_array(one, "covariance"); // upper triangle, row by row
        for (int r = 0; r < 3; r++) {
            hw_json_add_rounded(density, NULL, forecast->density[r], 6);
            for (int c = r; c < 3; c++) {
                hw_json_add_number(covariance, NULL, forecast->covariance.m[r][c]);
            }
        }
    }
}

static bool get_triangle(const hw_json *list, hw_covariance *out)
{
    const hw_json *item = hw_json_is_array(list) ? hw_json_first(list) : NULL;
    for (int r = 0; r < 3; r++) {
        for (int c = r; c < 3; c++, item = hw_json_next(item)) {
            if (!hw_json_number(item, &out->m[r][c])) {
                return false;
            }
            out->m[c][r] = out->m[r][c];
        }
    }
    return true;
}

// Densities of toner, and a covariance that is one; else it is left aside.
static bool can_be(const hw_forecast *one)
{
    const double most = 50.0;
    const double(*m)[3] = one->covariance.m;
    bool good = true;
    for (int r = 0; r < 3; r++) {
        good = good && one->density[r] >= 0.0 && one->density[r] <= most;
        good = good && m[r][r] >= 0.0 && m[r][r] <= most * most;
        for (int c = 0; c < r; c++) {
            good = good && m[r][c] * m[r][c] <= m[r][r] * m[c][c] * (1.0 + 1e-6) + 1e-18;
        }
    }
    return good;
}

static bool get_forecasts(const hw_json *list, hw_pass_event *out, bool *memory_out)
{
    size_t count = hw_json_count(list);
    out->forecast = count ? hw_alloc_array(count, sizeof *out->forecast) : NULL;
    if (count && !out->forecast) {
        *memory_out = true;
        return false;
    }
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        hw_forecast *one = &out->forecast[out->forecast_count];
        get_text(item, "patch", one->patch, sizeof one->patch);
        if (one->patch[0] && get_three(hw_json_member(item, "density"), one->density) &&
            get_triangle(hw_json_member(item, "covariance"), &one->covariance) && can_be(one)) {
            out->forecast_count++;
        }
    }
    return true;
}

// ---- plan_shown --------------------------------------------------------------------

hw_json *hw_event_plan_json(const hw_plan_event *plan)
{
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "patch", plan->patch);
    hw_json_add_bool(json, "stop", plan->stop);
    if (plan->has_next) {
        hw_json *next = hw_json_add_object(json, "next");
        put_liquid(next, &plan->next.liquid);
        hw_json_add_number(next, "passes", plan->next.passes);
        put_lab(json, "forecast", plan->forecast);
        hw_json_add_rounded(json, "forecast_de00", plan->forecast_de00, 2);
        hw_json_add_rounded(json, "risk", plan->risk, 6);
        put_dyes(json, plan->dye, plan->dye_count);
    } else {
        hw_json_add_null(json, "next");
    }
    hw_json_add_bool(json, "cautions_full", plan->cautions_full);
    return json;
}

static bool read_plan(const hw_json *json, hw_plan_event *out)
{
    const hw_json *next = hw_json_member(json, "next");
    get_text(json, "patch", out->patch, sizeof out->patch);
    out->risk = (double)NAN;
    hw_json_member_number(json, "risk", &out->risk);
    out->dye_count = get_dyes(hw_json_member(json, "dyes"), out->dye);
    hw_json_bool(hw_json_member(json, "stop"), &out->stop);
    hw_json_bool(hw_json_member(json, "cautions_full"), &out->cautions_full);
    if (hw_json_is_object(next)) {
        out->has_next = get_liquid(hw_json_member(next, "liquid"), &out->next.liquid) &&
                        get_passes(next, &out->next.passes);
        get_lab(hw_json_member(json, "forecast"), &out->forecast);
        hw_json_member_number(json, "forecast_de00", &out->forecast_de00);
    }
    return out->patch[0] != 0;
}

// ---- pass_laid ---------------------------------------------------------------------

hw_json *hw_event_pass_json(const hw_pass_event *pass)
{
    hw_json *json = hw_json_new_object();
    hw_json *patches = hw_json_add_array(json, "patches");
    for (size_t i = 0; i < pass->patch_count; i++) {
        hw_json_add_text(patches, NULL, pass->patches[i]);
    }
    put_liquid(json, &pass->liquid);
    hw_json_add_number(json, "passes", pass->passes);
    if (pass->before_photo > 0) {
        hw_json_add_number(json, "before_photo", (double)pass->before_photo);
    }
    if (!isnan(pass->minutes)) {
        hw_json_add_number(json, "minutes", pass->minutes);
    }
    put_text(json, "note", pass->note);
    if (pass->dye_count) {
        put_dyes(json, pass->dye, pass->dye_count);
    }
    if (pass->forecast_count) {
        put_forecasts(json, pass);
    }
    return json;
}

static bool read_pass(const hw_json *json, hw_pass_event *out, bool *memory_out)
{
    const hw_json *patches = hw_json_member(json, "patches");
    out->patches = hw_alloc_array(hw_json_count(patches), HW_NAME_SIZE);
    if (!out->patches) {
        *memory_out = true;
        return false;
    }
    for (const hw_json *item = hw_json_first(patches); item; item = hw_json_next(item)) {
        const char *name = hw_json_text(item);
        if (name) {
            hw_copy_text(out->patches[out->patch_count++], HW_NAME_SIZE, name);
        }
    }
    out->minutes = (double)NAN;
    hw_json_member_number(json, "minutes", &out->minutes);
    double before = 0.0;
    hw_json_member_number(json, "before_photo", &before);
    out->before_photo = before >= 1.0 && before < 1e9 ? (long)before : 0;
    get_text(json, "note", out->note, sizeof out->note);
    out->dye_count = get_dyes(hw_json_member(json, "dyes"), out->dye);
    return out->patch_count > 0 && get_liquid(hw_json_member(json, "liquid"), &out->liquid) &&
           get_passes(json, &out->passes) &&
           get_forecasts(hw_json_member(json, "forecast"), out, memory_out);
}

// ---- Any event ---------------------------------------------------------------------

static bool read_body(const hw_json *json, const hw_limits *limits, hw_event *out, bool *memory_out)
{
    switch (out->kind) {
    case HW_EVENT_PHOTO_ADDED:
        return read_photo(json, limits, &out->of.photo, memory_out);
    case HW_EVENT_READING:
        return read_reading(json, &out->of.reading, memory_out);
    case HW_EVENT_PLAN_SHOWN:
        return read_plan(json, &out->of.plan);
    case HW_EVENT_PASS_LAID:
        return read_pass(json, &out->of.pass, memory_out);
    case HW_EVENT_OTHER:
    case HW_EVENT_JOB_STARTED:
        break;
    }
    return true;
}

bool hw_event_read(const hw_json *json, const hw_limits *limits, hw_event *out)
{
    hw_event event = {0};
    double number = 0.0;
    bool memory_out = false;
    const char *name = hw_json_member_text(json, "event");
    for (size_t i = 0; name && i < sizeof kinds / sizeof *kinds; i++) {
        if (strcmp(name, kinds[i].name) == 0) {
            event.kind = kinds[i].kind;
        }
    }
    if (!read_body(json, limits, &event, &memory_out)) {
        hw_event_free(&event);
        if (memory_out) {
            return false;
        }
    }
    hw_json_member_number(json, "number", &number);
    event.number = number >= 1.0 && number < 1e9 ? (long)number : 0;
    hw_parse_time(hw_json_member_text(json, "at"), &event.at);
    get_text(json, "program", event.program, sizeof event.program);
    *out = event;
    return true;
}
