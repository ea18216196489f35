// job_mend.c: what later lines change in earlier ones. The log itself never changes: an event is read
// as its line says, then as the corrections and renamings behind it say, in their order.
//
//  (1) A correction names an event and the members that are other now (a merge patch, RFC 7396, of
//      whole members), or withdraws it: it did not happen. A withdrawn event stays in the list
//      under a kind of its own, so that nothing counts it and history can still show it.
//  (2) A withdrawn correction or renaming holds no more.
//  (3) A part that was renamed bears its new name in all events before; a correction says the names
//      of its own time.
//  (4) A photo that was read again has its last reading alone; a withdrawn one has none.
//
// Who did it, when, and what is kept (event, number, at, program, the files) cannot be corrected.
#include "job_internal.h"

static const char correction_start[] = "{\"event\":\"correction\",";
static const char naming_start[] = "{\"event\":\"part_named\",";

// ---- Finding the lines -------------------------------------------------------------

static bool starts_with(const char *line, size_t length, const char *start)
{
    size_t wanted = strlen(start);
    return length >= wanted && memcmp(line, start, wanted) == 0;
}

static bool holds(const char *line, size_t length, const char *text)
{
    size_t wanted = strlen(text);
    for (size_t i = 0; i + wanted <= length; i++) {
        if (memcmp(line + i, text, wanted) == 0) {
            return true;
        }
    }
    return false;
}

bool hw_log_mends(const char *bytes, size_t count)
{
    for (size_t at = 0; at < count;) {
        const char *line = bytes + at, *end = memchr(line, '\n', count - at);
        size_t length = end ? (size_t)(end - line) : count - at;
        if (starts_with(line, length, correction_start) ||
            (starts_with(line, length, naming_start) && holds(line, length, "\"was\":"))) {
            return true;
        }
        at += length + 1;
    }
    return false;
}

// ---- Corrections and renamings ------------------------------------------------------

void hw_corrections_free(hw_corrections *corrections)
{
    for (size_t i = 0; i < corrections->count; i++) {
        hw_json_free(corrections->item[i].json);
    }
    hw_free(corrections->item);
    *corrections = (hw_corrections){0};
}

static bool keep_correction(hw_corrections *out, hw_json *json)
{
    hw_logged_correction one = {.json = json};
    const char *event = hw_json_member_text(json, "event");
    one.renames = event && strcmp(event, hw_event_kind_name(HW_EVENT_PART_NAMED)) == 0;
    hw_event_get_count(json, "number", &one.number);
    hw_event_get_count(json, "of", &one.of);
    hw_json_bool(hw_json_member(json, "withdraw"), &one.withdraw);
    hw_logged_correction *grown = hw_resize_array(out->item, out->count + 1, sizeof *grown);
    if (!grown) {
        hw_json_free(json);
        return false;
    }
    out->item = grown;
    out->item[out->count++] = one;
    return true;
}

// The latest first, so that what is withdrawn itself withdraws nothing.
static void take_back(hw_corrections *all)
{
    for (size_t i = all->count; i-- > 0;) {
        const hw_logged_correction *one = &all->item[i];
        for (size_t k = 0; k < i && one->withdraw && !one->off && !one->renames; k++) {
            all->item[k].off = all->item[k].off || one->of == all->item[k].number;
        }
    }
}

static bool may_change(const char *line, size_t left)
{
    return starts_with(line, left, correction_start) || starts_with(line, left, naming_start);
}

bool hw_corrections_collect(const char *bytes, size_t count, const hw_limits *limits,
                            hw_corrections *out)
{
    hw_log_reader reader = {.bytes = bytes, .count = count};
    while (reader.at < count) {
        if (!may_change(bytes + reader.at, count - reader.at)) {
            const char *end = memchr(bytes + reader.at, '\n', count - reader.at);
            reader.at = end ? (size_t)(end - bytes) + 1 : count;
            continue;
        }
        hw_line_state state;
        hw_json *json = NULL;
        hw_log_next(&reader, limits, &state, &json);
        if (state == HW_LINE_NO_MEMORY || (state == HW_LINE_WHOLE && !keep_correction(out, json))) {
            return false;
        }
    }
    take_back(out);
    return true;
}

static bool can_be_corrected(const char *name)
{
    static const char *const fixed[] = {"event", "number", "at",       "program",
                                        "crc32", "photo",  "original", "sheet"};
    for (size_t i = 0; i < sizeof fixed / sizeof *fixed; i++) {
        if (strcmp(name, fixed[i]) == 0) {
            return false;
        }
    }
    return true;
}

// ---- Names -------------------------------------------------------------------------

typedef struct renaming {
    const char *was, *part;
} renaming;

static void rename_one(char name[HW_NAME_SIZE], const renaming *as)
{
    if (strcmp(name, as->was) == 0) {
        hw_copy_text(name, HW_NAME_SIZE, as->part);
    }
}

// Two names of a list may become one: it is kept once.
static void rename_list(char (*names)[HW_NAME_SIZE], size_t *count, const renaming *as)
{
    size_t kept = 0;
    for (size_t i = 0; i < *count; i++) {
        rename_one(names[i], as);
        bool again = false;
        for (size_t k = 0; k < kept; k++) {
            again = again || strcmp(names[k], names[i]) == 0;
        }
        if (!again) {
            memmove(names[kept++], names[i], HW_NAME_SIZE);
        }
    }
    *count = kept;
}

static void rename_in_marks(hw_marks *marks, const renaming *as)
{
    for (size_t i = 0; i < marks->count; i++) {
        hw_mark *mark = &marks->mark[i];
        if (hw_role_is_wood(mark->role)) {
            rename_one(mark->name, as);
        }
        rename_list(mark->beside, &mark->beside_count, as);
    }
}

static void rename_in_photo(hw_photo_event *photo, const renaming *as)
{
    rename_in_marks(&photo->marks, as);
    for (size_t i = 0; i < photo->more_count; i++) {
        rename_in_marks(&photo->more[i].marks, as);
    }
    for (size_t i = 0; i < photo->state_count; i++) {
        rename_one(photo->states[i].part, as);
    }
}

static void rename_in_reading(hw_reading_event *reading, const renaming *as)
{
    for (size_t i = 0; i < reading->sample_count; i++) {
        if (hw_role_is_wood(reading->samples[i].role)) {
            rename_one(reading->samples[i].name, as);
        }
    }
    for (size_t i = 0; i < reading->gap_count; i++) {
        rename_one(reading->gaps[i].patch, as);
    }
}

static void rename_in_pass(hw_pass_event *pass, const renaming *as)
{
    rename_list(pass->patches, &pass->patch_count, as);
    for (size_t i = 0; i < pass->forecast_count; i++) {
        rename_one(pass->forecast[i].patch, as);
    }
}

static void rename_in(hw_event *event, const renaming *as)
{
    switch (event->was) {
    case HW_EVENT_PHOTO_ADDED:
        rename_in_photo(&event->of.photo, as);
        break;
    case HW_EVENT_READING:
        rename_in_reading(&event->of.reading, as);
        break;
    case HW_EVENT_PLAN_SHOWN:
        rename_one(event->of.plan.patch, as);
        break;
    case HW_EVENT_PASS_LAID:
        rename_in_pass(&event->of.pass, as);
        break;
    case HW_EVENT_COAT_LAID:
        rename_list(event->of.coat.parts, &event->of.coat.part_count, as);
        break;
    case HW_EVENT_TAKEN_OFF:
        rename_list(event->of.takeoff.parts, &event->of.takeoff.part_count, as);
        break;
    case HW_EVENT_PART_NAMED:
        rename_one(event->of.part.part, as);
        break;
    case HW_EVENT_NOTE:
        rename_one(event->of.note.part, as);
        break;
    case HW_EVENT_SETTING:
        for (size_t i = 0; i < event->of.setting.area_count; i++) {
            rename_one(event->of.setting.areas[i].part, as);
        }
        break;
    default:
        break;
    }
}

// The body of an event with the members of `change` in place of its own, and the event's own head.
static hw_json *merged(const hw_json *line, const hw_json *body, const hw_json *change)
{
    static const char *const head[] = {"event", "number", "at", "program"};
    hw_json *out = hw_json_new_object();
    for (size_t i = 0; i < sizeof head / sizeof *head; i++) {
        const hw_json *own = hw_json_member(line, head[i]);
        if (own) {
            hw_json_add_tree(out, head[i], hw_json_copy(own));
        }
    }
    for (const hw_json *old = hw_json_first(body); old; old = hw_json_next(old)) {
        const char *name = hw_json_name(old);
        const hw_json *now = can_be_corrected(name) ? hw_json_member(change, name) : NULL;
        if (!now || !hw_json_is_null(now)) {
            hw_json_add_tree(out, name, hw_json_copy(now ? now : old));
        }
    }
    for (const hw_json *now = hw_json_first(change); now; now = hw_json_next(now)) {
        const char *name = hw_json_name(now);
        if (can_be_corrected(name) && !hw_json_member(body, name) && !hw_json_is_null(now)) {
            hw_json_add_tree(out, name, hw_json_copy(now));
        }
    }
    return out;
}

// ---- An event as it is after all of them -------------------------------------------

static void withdraw(hw_event *event, long by)
{
    event->was = event->kind;
    event->kind = HW_EVENT_WITHDRAWN;
    event->corrected_by = by;
}

// False: memory is out; *event is as it was then.
static bool correct(const hw_json *line, const hw_json *change, const hw_limits *limits,
                    hw_event *event)
{
    hw_event now;
    hw_json *body = hw_event_body_json(event);
    if (!body) {
        return !hw_event_body_can_be(event->kind); // what nobody entered stays
    }
    hw_json *whole = merged(line, body, change);
    char *tested = NULL; // a tree that memory ran out on cannot be printed
    bool good =
        hw_json_print(whole, false, &tested, NULL) == HW_OK && hw_event_read(whole, limits, &now);
    hw_free(tested);
    hw_json_free(whole);
    hw_json_free(body);
    if (good) {
        hw_event_free(event);
        *event = now;
    }
    return good;
}

bool hw_corrected_read(const hw_json *json, const hw_corrections *corrections,
                       const hw_limits *limits, hw_event *out)
{
    hw_event event;
    if (!hw_event_read(json, limits, &event)) {
        return false;
    }
    long by = 0, gone = 0;
    for (size_t i = 0; i < corrections->count; i++) {
        const hw_logged_correction *one = &corrections->item[i];
        if (one->off || one->number <= event.number) {
            continue;
        }
        const char *was = hw_json_member_text(one->json, "was");
        const char *part = hw_json_member_text(one->json, "part");
        if (one->renames && was && part) {
            rename_in(&event, &(renaming){was, part});
        }
        const hw_json *change = hw_json_member(one->json, "change");
        if (one->renames || one->of != event.number) {
            continue;
        }
        if (hw_json_is_object(change) && !correct(json, change, limits, &event)) {
            hw_event_free(&event);
            return false;
        }
        by = one->number;
        gone = one->withdraw ? one->number : gone;
    }
    event.corrected_by = by;
    if (gone) {
        withdraw(&event, gone);
    }
    *out = event;
    return true;
}

// ---- Once all are read -------------------------------------------------------------

static const hw_event *photo_of(const hw_event *events, size_t count, long number)
{
    for (size_t i = 0; i < count; i++) {
        if (events[i].number == number && events[i].was == HW_EVENT_PHOTO_ADDED) {
            return &events[i];
        }
    }
    return NULL;
}

// The number of a later reading of the same photo; 0: none.
static long read_again_by(const hw_event *events, size_t count, size_t index)
{
    for (size_t k = count; k-- > index + 1;) {
        if (events[k].kind == HW_EVENT_READING &&
            events[k].of.reading.photo == events[index].of.reading.photo) {
            return events[k].number;
        }
    }
    return 0;
}

void hw_mend_events(hw_event *events, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (events[i].kind != HW_EVENT_READING) {
            continue;
        }
        const hw_event *photo = photo_of(events, i, events[i].of.reading.photo);
        long again = read_again_by(events, count, i);
        if (photo && photo->kind == HW_EVENT_WITHDRAWN) {
            withdraw(&events[i], photo->corrected_by);
        } else if (again) {
            withdraw(&events[i], again);
        }
    }
}
