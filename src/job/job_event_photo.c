// job_event_photo.c: what was seen: a photo with its marks, readings of an instrument, what a reading said.
#include "job_internal.h"

// ---- photo_added, measured ---------------------------------------------------------

static void put_states(hw_json *json, const hw_photo_event *photo)
{
    if (photo->state_count) {
        hw_json *states = hw_json_add_object(json, "states");
        for (size_t i = 0; i < photo->state_count; i++) {
            hw_json_add_text(states, photo->states[i].part, hw_state_name(photo->states[i].state));
        }
    }
}

static void put_more(hw_json *json, const hw_photo_event *photo)
{
    hw_json *list = photo->more_count ? hw_json_add_array(json, "shots") : NULL;
    for (size_t i = 0; i < photo->more_count; i++) {
        const hw_more_photo *more = &photo->more[i];
        hw_json *one = hw_json_add_object(list, NULL);
        hw_json_add_text(one, "photo", more->stored);
        hw_json_add_text(one, "original", more->original);
        if (more->marks.count > 0) {
            hw_json_add_bool(one, "own_marks", more->own_marks);
            hw_json_add_tree(one, "marks", hw_marks_tree(&more->marks));
        }
    }
}

// What an instrument measured has names and no corners.
static void put_parts(hw_json *json, const hw_marks *marks)
{
    hw_json *list = hw_json_add_array(json, "parts");
    for (size_t i = 0; i < marks->count; i++) {
        const hw_mark *mark = &marks->mark[i];
        hw_json *one = hw_json_add_object(list, NULL);
        hw_json_add_text(one, "role", hw_role_name(mark->role));
        hw_json_add_text(one, "name", mark->name);
        if (mark->kind != HW_KIND_LET_IN) {
            hw_json_add_text(one, "kind", hw_kind_name(mark->kind));
        }
        if (mark->beside_count) {
            hw_event_put_names(one, "beside", (const char(*)[HW_NAME_SIZE])mark->beside,
                               mark->beside_count);
        }
    }
}

static hw_json *measured_json(const hw_photo_event *photo)
{
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "original", photo->original);
    hw_event_put_text(json, "instrument", photo->instrument);
    hw_event_put_text(json, "note", photo->note);
    if (photo->has_card_lab) {
        hw_event_put_lab(json, "card_lab", photo->card_lab);
    }
    put_states(json, photo);
    put_parts(json, &photo->marks);
    return json;
}

hw_json *hw_event_photo_json(const hw_photo_event *photo)
{
    if (photo->measured) {
        return measured_json(photo);
    }
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "photo", photo->stored);
    hw_json_add_text(json, "original", photo->original);
    hw_json_add_text(json, "view", photo->view);
    hw_event_put_text(json, "from", hw_from_name(photo->from));
    hw_event_put_text(json, "lamp", photo->lamp);
    hw_event_put_text(json, "note", photo->note);
    if (photo->has_card_lab) {
        hw_event_put_lab(json, "card_lab", photo->card_lab);
    }
    hw_event_put_text(json, "sheet", photo->sheet);
    if (photo->camera) {
        hw_json_add_tree(json, "camera_learned", hw_camera_json(photo->camera));
    }
    put_states(json, photo);
    hw_json_add_bool(json, "marks_reused", photo->marks_reused);
    hw_json_add_tree(json, "marks", hw_marks_tree(&photo->marks));
    put_more(json, photo);
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
    hw_warnings unknown = {0};
    hw_error err = {0};
    bool good = marks && hw_marks_from_tree(marks, "log", limits, out, &unknown, &err) == HW_OK;
    *memory_out = *memory_out || err.status == HW_ERR_STORAGE;
    return good;
}

void hw_event_free_more(hw_photo_event *photo)
{
    for (size_t i = 0; i < photo->more_count; i++) {
        hw_marks_free(&photo->more[i].marks);
    }
    hw_free(photo->more);
    photo->more = NULL;
    photo->more_count = 0;
}

// A shot that names no file, or more than can be read together, are left aside.
static bool read_more(const hw_json *shots, const hw_limits *limits, hw_photo_event *out,
                      bool *memory_out)
{
    size_t count = hw_json_count(shots);
    out->more = count ? hw_alloc_array(count, sizeof *out->more) : NULL;
    if (count && !out->more) {
        *memory_out = true;
        return false;
    }
    for (const hw_json *item = hw_json_first(shots); item; item = hw_json_next(item)) {
        hw_more_photo *more = &out->more[out->more_count];
        const hw_json *marks = hw_json_member(item, "marks");
        hw_event_get_text(item, "photo", more->stored, sizeof more->stored);
        if (!more->stored[0] || out->more_count + 1 >= HW_SHOTS_MOST) {
            continue;
        }
        hw_event_get_text(item, "original", more->original, sizeof more->original);
        hw_json_bool(hw_json_member(item, "own_marks"), &more->own_marks);
        if (marks && !read_marks(marks, limits, &more->marks, memory_out)) {
            return false;
        }
        out->more_count++;
    }
    return true;
}

// One that makes no sense is none: the photo stays, and is read by its card alone.
static bool read_camera(const hw_json *json, hw_camera **out, bool *memory_out)
{
    hw_camera read;
    if (!json || !hw_camera_read(json, &read)) {
        return true;
    }
    *out = hw_alloc_array(1, sizeof **out);
    if (!*out) {
        *memory_out = true;
        return false;
    }
    **out = read;
    return true;
}

bool hw_event_read_photo(const hw_json *json, const hw_limits *limits, hw_photo_event *out,
                         bool *memory_out)
{
    hw_event_get_text(json, "photo", out->stored, sizeof out->stored);
    hw_event_get_text(json, "original", out->original, sizeof out->original);
    hw_event_get_text(json, "view", out->view, sizeof out->view);
    hw_from_from_name(hw_json_member_text(json, "from"), &out->from);
    hw_event_get_text(json, "lamp", out->lamp, sizeof out->lamp);
    hw_event_get_text(json, "note", out->note, sizeof out->note);
    hw_event_get_text(json, "sheet", out->sheet, sizeof out->sheet);
    out->has_card_lab = hw_event_get_lab(hw_json_member(json, "card_lab"), &out->card_lab);
    hw_json_bool(hw_json_member(json, "marks_reused"), &out->marks_reused);
    return out->stored[0] &&
           read_camera(hw_json_member(json, "camera_learned"), &out->camera, memory_out) &&
           read_states(hw_json_member(json, "states"), out, memory_out) &&
           read_marks(hw_json_member(json, "marks"), limits, &out->marks, memory_out) &&
           read_more(hw_json_member(json, "shots"), limits, out, memory_out);
}

static bool read_measured_part(const hw_json *item, hw_mark *out, bool *memory_out)
{
    const char *name = hw_json_member_text(item, "name"), *kind = hw_json_member_text(item, "kind");
    const hw_json *beside = hw_json_member(item, "beside");
    if (!hw_name_is_usable(name) ||
        !hw_role_from_name(hw_json_member_text(item, "role"), &out->role)) {
        return false;
    }
    hw_copy_text(out->name, sizeof out->name, name);
    out->kind =
        kind && strcmp(kind, hw_kind_name(HW_KIND_BOARD)) == 0 ? HW_KIND_BOARD : HW_KIND_LET_IN;
    return hw_json_count(beside) == 0 ||
           hw_event_get_names(beside, &out->beside, &out->beside_count, memory_out);
}

bool hw_event_read_measured(const hw_json *json, const hw_limits *limits, hw_photo_event *out,
                            bool *memory_out)
{
    const hw_json *parts = hw_json_member(json, "parts");
    size_t count = hw_json_count(parts);
    out->measured = true;
    hw_event_get_text(json, "original", out->original, sizeof out->original);
    hw_event_get_text(json, "instrument", out->instrument, sizeof out->instrument);
    hw_event_get_text(json, "note", out->note, sizeof out->note);
    out->has_card_lab = hw_event_get_lab(hw_json_member(json, "card_lab"), &out->card_lab);
    if (count > limits->marks || !read_states(hw_json_member(json, "states"), out, memory_out)) {
        return false;
    }
    out->marks.mark = hw_alloc_array(count, sizeof *out->marks.mark);
    if (!out->marks.mark) {
        *memory_out = true;
        return false;
    }
    for (const hw_json *item = hw_json_first(parts); item; item = hw_json_next(item)) {
        out->marks.count++; // counted first: freed with the rest
        if (!read_measured_part(item, &out->marks.mark[out->marks.count - 1], memory_out)) {
            return false;
        }
    }
    return true;
}

// ---- reading -----------------------------------------------------------------------

static void read_samples(const hw_json *list, hw_reading_event *out)
{
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        hw_logged_sample *sample = &out->samples[out->sample_count];
        const char *name = hw_json_member_text(item, "name");
        if (name && hw_role_from_name(hw_json_member_text(item, "role"), &sample->role) &&
            hw_event_get_lab(hw_json_member(item, "lab"), &sample->lab) &&
            hw_event_get_three(hw_json_member(item, "standard_error"), sample->standard_error)) {
            hw_copy_text(sample->name, sizeof sample->name, name);
            out->sample_count++;
        }
    }
}

// Standard uncertainty of L*, a*, b* from their 90 % ranges; from that of CIEDE2000, on each axis alike, where
// an early version's line does not hold them.
static void read_doubt(const hw_json *item, hw_logged_gap *out)
{
    static const char *const axis[3] = {"L", "a", "b"};
    const hw_json *low = hw_json_member(item, "delta_low");
    const hw_json *high = hw_json_member(item, "delta_high");
    for (int i = 0; i < 3; i++) {
        double from, to;
        bool told = hw_json_member_number(low, axis[i], &from) &&
                    hw_json_member_number(high, axis[i], &to) && to >= from;
        out->u[i] = (told ? to - from : out->de00_high - out->de00_low) / (2.0 * HW_NINETY);
    }
    const hw_json *doubt = hw_json_member(item, "doubt");
    for (int source = 0; source < HW_DOUBT_COUNT; source++) {
        hw_json_member_number(doubt, hw_doubt_name((hw_doubt)source), &out->doubt[source]);
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
    hw_event_get_count(item, "elsewhere", &out->elsewhere);
    bool good = hw_json_member_number(item, "de00", &out->de00) &&
                hw_json_member_number(item, "de00_low", &out->de00_low) &&
                hw_json_member_number(item, "de00_high", &out->de00_high) &&
                hw_json_member_number(delta, "L", &out->L) &&
                hw_json_member_number(delta, "a", &out->a) &&
                hw_json_member_number(delta, "b", &out->b) &&
                hw_verdict_from_name(hw_json_member_text(item, "verdict"), &out->verdict);
    if (good) {
        read_doubt(item, out);
    }
    return good;
}

static double above_0(const hw_json *json, const char *name)
{
    double value = 0.0;
    return hw_json_number(hw_json_member(json, name), &value) && value > 0.0 ? value : 0.0;
}

static void read_shot(const hw_json *json, hw_shot *out)
{
    const char *balance = hw_json_member_text(json, "white_balance");
    out->exposure_s = above_0(json, "exposure_s");
    out->f_number = above_0(json, "f_number");
    out->iso = above_0(json, "iso");
    out->white_balance = balance && strcmp(balance, "auto") == 0     ? HW_SET_BY_CAMERA
                         : balance && strcmp(balance, "manual") == 0 ? HW_SET_BY_HAND
                                                                     : HW_SET_NOT_SAID;
}

bool hw_event_read_reading(const hw_json *json, hw_reading_event *out, bool *memory_out)
{
    const hw_json *reading = hw_json_member(json, "reading");
    const hw_json *samples = hw_json_member(reading, "samples");
    const hw_json *gaps = hw_json_member(reading, "comparisons");
    if (!hw_event_get_count(json, "photo_event", &out->photo) || !reading) {
        return false;
    }
    hw_event_get_count(hw_json_member(reading, "photo"), "width", &out->width_px);
    hw_event_get_count(hw_json_member(reading, "photo"), "height", &out->height_px);
    // Lines of early versions may lack these; then nothing is known of them.
    hw_event_get_text(hw_json_member(reading, "photo"), "camera", out->camera, sizeof out->camera);
    read_shot(hw_json_member(hw_json_member(reading, "photo"), "shot"), &out->shot);
    out->has_card_seen = hw_event_get_lab(
        hw_json_member(hw_json_member(reading, "light"), "card_seen"), &out->card_seen);
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
