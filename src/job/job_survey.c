// job_survey.c: what the raw lines of a log say of themselves: their sums, their numbers, their times,
// the events that they point at and the photos that they name. It looks at no event's meaning, so that
// events of a later version are looked after like all others.
//
// The rules of the log that can be tested: numbers rise by one from 1; a line whose number is not there
// was lost, unless a damaged line stands in its place; an event can point only at one that is there. A
// clock may go back, and an empty line holds nothing: both are told and harmless.
#include "job_internal.h"

typedef struct one_event {
    long number;
    bool is_photo;
} one_event;

typedef struct pointer {
    long from, to;
    bool to_photo; // must be a photo event
    char kind[40]; // of the event that points
} pointer;

typedef struct walk {
    hw_log_survey *out;
    hw_findings *findings;
    one_event *event;
    size_t event_count, event_room;
    pointer *pointer;
    size_t pointer_count, pointer_room;
    long last;      // the largest number so far
    long bad_since; // bad lines behind the last whole one
    long bad_from;  // first of a run of bad lines; 0: none open
    bool bad_empty; // the run is of empty lines
    bool has_time;
    int64_t time; // of the line before
    long time_of; // its number
} walk;

void hw_log_survey_free(hw_log_survey *survey)
{
    hw_free(survey->photo);
    *survey = (hw_log_survey){0};
}

// One more place at the end of an array of `size` bytes an item.
static bool grow(void **items, size_t count, size_t *room, size_t size)
{
    if (count < *room) {
        return true;
    }
    size_t wanted = *room ? 2 * *room : 64;
    void *grown = hw_resize_array(*items, wanted, size);
    if (grown) {
        *items = grown;
        *room = wanted;
    }
    return grown != NULL;
}

// ---- Lines -------------------------------------------------------------------------

static void name_lines(char *out, size_t size, long from, long to)
{
    if (from == to) {
        hw_format_text(out, size, "log.jsonl, line %ld", from);
    } else {
        hw_format_text(out, size, "log.jsonl, lines %ld to %ld", from, to);
    }
}

// Tells of the bad lines up to `to`, as one finding.
static hw_status close_run(walk *s, long to, hw_error *err)
{
    char where[80];
    long from = s->bad_from;
    s->bad_from = 0;
    if (from == 0) {
        return HW_OK;
    }
    name_lines(where, sizeof where, from, to);
    if (s->bad_empty) {
        return hw_find(s->findings, HW_SEVERITY_ODD, where, err, "Nothing stands there: harmless.");
    }
    return hw_find(s->findings, HW_SEVERITY_LOSS, where, err,
                   from == to ? "This line is damaged: its checksum does not fit. What it told "
                                "cannot be read; all other lines can. Put the folder back from a "
                                "copy if you have one, else log anew what it told."
                              : "These lines are damaged: their checksums do not fit. What they "
                                "told cannot be read; all other lines can. Put the folder back "
                                "from a copy if you have one, else log anew what they told.");
}

static hw_status take_bad(walk *s, long line, bool empty, hw_error *err)
{
    hw_status status = HW_OK;
    if (s->bad_from && s->bad_empty != empty) {
        status = close_run(s, line - 1, err);
    }
    if (s->bad_from == 0) {
        s->bad_from = line;
        s->bad_empty = empty;
    }
    if (!empty) {
        s->out->lines_bad++;
        s->bad_since++;
    }
    return status;
}

// ---- Numbers and times -------------------------------------------------------------

static hw_status tell_gap(walk *s, long number, const char *where, hw_error *err)
{
    long first = s->last + 1, count = number - first;
    long missing = count - (s->bad_since < count ? s->bad_since : count);
    if (missing == 0) {
        return HW_OK; // the damaged lines are these events
    }
    s->out->events_missing += (size_t)missing;
    char lost[120];
    if (count == 1) {
        hw_format_text(lost, sizeof lost, "Event %ld is not there", first);
    } else if (missing == count) {
        hw_format_text(lost, sizeof lost, "Events %ld to %ld are not there", first, number - 1);
    } else {
        hw_format_text(lost, sizeof lost, "%ld of the events %ld to %ld are not there", missing,
                       first, number - 1);
    }
    return hw_find(s->findings, HW_SEVERITY_LOSS, where, err,
                   "%s: before event %ld the log was cut. Put the folder back from a copy if you "
                   "have one, else log anew what is missing.",
                   lost, number);
}

static hw_status test_number(walk *s, long number, const char *where, hw_error *err)
{
    hw_status status = HW_OK;
    if (number == 0) {
        status = hw_find(s->findings, HW_SEVERITY_ODD, where, err,
                         "This event has no usable number; it is kept as it is.");
    } else if (number > s->last + 1) {
        status = tell_gap(s, number, where, err);
    } else if (number <= s->last) {
        status = hw_find(s->findings, HW_SEVERITY_ODD, where, err,
                         number == s->last
                             ? "This is event %ld, and the one before it is event %ld too: the "
                               "number stands twice. Both are kept; what points at it means the "
                               "first."
                             : "This is event %ld, but event %ld came before it: the number stands "
                               "twice or out of order, as when copies of a log are joined by hand. "
                               "Both are kept.",
                         number, s->last);
    }
    s->last = number > s->last ? number : s->last;
    s->bad_since = 0;
    return status;
}

static hw_status test_time(walk *s, const hw_json *json, long number, const char *where,
                           hw_error *err)
{
    hw_status status = HW_OK;
    int64_t at = 0;
    if (!hw_parse_time(hw_json_member_text(json, "at"), &at)) {
        return hw_find(s->findings, HW_SEVERITY_ODD, where, err,
                       "Event %ld has no readable time; it is kept as it is.", number);
    }
    if (s->has_time && at < s->time) {
        char before[40], now[40];
        hw_format_time(before, s->time);
        hw_format_time(now, at);
        status = hw_find(s->findings, HW_SEVERITY_ODD, where, err,
                         "The clock was set back between event %ld and %ld (%s, then %s): "
                         "harmless, the order of the log holds.",
                         s->time_of, number, before, now);
    }
    s->out->last_at = !s->has_time || at > s->out->last_at ? at : s->out->last_at;
    s->has_time = true;
    s->time = at;
    s->time_of = number;
    return status;
}

// ---- What an event points at -------------------------------------------------------

static bool keep_photo(walk *s, const char *stored, long number)
{
    hw_log_survey *out = s->out;
    void *items = out->photo;
    if (!grow(&items, out->photo_count, &out->photo_room, sizeof *out->photo)) {
        return false;
    }
    out->photo = items;
    hw_named_photo *photo = &out->photo[out->photo_count++];
    *photo = (hw_named_photo){.event = number, .at = s->has_time ? s->time : 0};
    hw_copy_text(photo->stored, sizeof photo->stored, stored);
    return true;
}

static bool keep_pointer(walk *s, const hw_json *member, long number, const char *kind)
{
    const char *name = hw_json_name(member);
    double to = 0.0;
    bool to_photo = strcmp(name, "photo_event") == 0 || strcmp(name, "before_photo") == 0;
    if ((!to_photo && strcmp(name, "of") != 0) || !hw_json_number(member, &to) || to == 0.0) {
        return true;
    }
    void *items = s->pointer;
    if (!grow(&items, s->pointer_count, &s->pointer_room, sizeof *s->pointer)) {
        return false;
    }
    s->pointer = items;
    pointer *kept = &s->pointer[s->pointer_count++];
    bool can_be = to >= 1.0 && to < 1e9 && to == (double)(long)to;
    *kept = (pointer){.from = number, .to = can_be ? (long)to : -1, .to_photo = to_photo};
    hw_copy_text(kept->kind, sizeof kept->kind, kind);
    return true;
}

// Photos that stand in a list, as repeat shots do: [{"photo": ...}].
static bool keep_listed(walk *s, const hw_json *list, long number)
{
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        const char *text = hw_json_member_text(item, "photo");
        if (text && hw_job_member(text) == HW_MEMBER_PHOTO && !keep_photo(s, text, number)) {
            return false;
        }
    }
    return true;
}

// Does one of these shots name what no photo of a job can be?
static bool lists_no_photo(const hw_json *member)
{
    if (strcmp(hw_json_name(member), "shots") != 0) {
        return false;
    }
    for (const hw_json *item = hw_json_first(member); item; item = hw_json_next(item)) {
        const char *text = hw_json_member_text(item, "photo");
        if (!text || hw_job_member(text) != HW_MEMBER_PHOTO) {
            return true;
        }
    }
    return false;
}

// Every member is looked at, so that a later kind of event may name photos and events as well.
static hw_status take_members(walk *s, const hw_json *json, long number, bool is_photo,
                              const char *kind, const char *where, hw_error *err)
{
    for (const hw_json *member = hw_json_first(json); member; member = hw_json_next(member)) {
        const char *text = hw_json_text(member);
        bool names_photo = text && hw_job_member(text) == HW_MEMBER_PHOTO;
        if ((names_photo && !keep_photo(s, text, number)) || !keep_listed(s, member, number) ||
            !keep_pointer(s, member, number, kind)) {
            return hw_fail_memory(err, "checking the job");
        }
        bool must = is_photo && !(text && text[0] == 0) &&
                    (strcmp(hw_json_name(member), "photo") == 0 ||
                     strcmp(hw_json_name(member), "sheet") == 0);
        if ((must && !names_photo) || (is_photo && lists_no_photo(member))) {
            hw_status status = hw_find(s->findings, HW_SEVERITY_LOSS, where, err,
                                       "Event %ld names a photo that none of a job can be; the "
                                       "event itself is read.",
                                       number);
            if (status != HW_OK) {
                return status;
            }
        }
    }
    return HW_OK;
}

static hw_status take_event(walk *s, const hw_json *json, long line, hw_error *err)
{
    char where[80];
    double value = 0.0;
    name_lines(where, sizeof where, line, line);
    hw_json_member_number(json, "number", &value);
    long number = value >= 1.0 && value < 1e9 && value == (double)(long)value ? (long)value : 0;
    const char *kind = hw_json_member_text(json, "event");
    bool is_photo = kind && strcmp(kind, "photo_added") == 0;
    if (kind && strcmp(kind, "job_started") == 0 && s->out->title[0] == 0) {
        const char *title = hw_json_member_text(json, "title");
        hw_copy_text(s->out->title, sizeof s->out->title, title ? title : "");
    }
    s->out->lines_whole++;
    hw_status status = test_number(s, number, where, err);
    if (status == HW_OK) {
        status = test_time(s, json, number, where, err);
    }
    if (status == HW_OK) {
        status = take_members(s, json, number, is_photo, kind ? kind : "?", where, err);
    }
    void *items = s->event;
    if (status == HW_OK && !grow(&items, s->event_count, &s->event_room, sizeof *s->event)) {
        return hw_fail_memory(err, "checking the job");
    }
    if (status == HW_OK) {
        s->event = items;
        s->event[s->event_count++] = (one_event){number, is_photo};
    }
    return status;
}

// ---- At the end --------------------------------------------------------------------

static int order_of_events(const void *one, const void *other)
{
    const one_event *a = one, *b = other;
    return a->number != b->number ? (a->number > b->number) - (a->number < b->number)
                                  : (int)b->is_photo - (int)a->is_photo;
}

// The event of that number; where it stands twice, one that is a photo.
static const one_event *find_event(const walk *s, long number)
{
    size_t low = 0, high = s->event_count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (s->event[middle].number < number) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low < s->event_count && s->event[low].number == number ? &s->event[low] : NULL;
}

static hw_status test_pointers(walk *s, hw_error *err)
{
    hw_status status = HW_OK;
    if (s->event_count > 0) {
        qsort(s->event, s->event_count, sizeof *s->event, order_of_events);
    }
    for (size_t i = 0; i < s->pointer_count && status == HW_OK; i++) {
        const pointer *one = &s->pointer[i];
        const one_event *found = find_event(s, one->to);
        char where[80];
        hw_format_text(where, sizeof where, "log.jsonl, event %ld", one->from);
        const char *what = one->to_photo ? "photo event" : "event";
        if (one->to < 0) {
            status = hw_find(s->findings, HW_SEVERITY_ODD, where, err,
                             "Event %ld (%s) points at an event by a number that none can have.",
                             one->from, one->kind);
        } else if (!found) {
            status = hw_find(s->findings, HW_SEVERITY_LOSS, where, err,
                             "Event %ld (%s) points at %s %ld, which is not there: it can be read "
                             "but not be used with it.",
                             one->from, one->kind, what, one->to);
        } else if (one->to_photo && !found->is_photo) {
            status = hw_find(s->findings, HW_SEVERITY_ODD, where, err,
                             "Event %ld (%s) points at event %ld as a photo, which is none.",
                             one->from, one->kind, one->to);
        }
    }
    return status;
}

static int order_of_photos(const void *one, const void *other)
{
    const hw_named_photo *a = one, *b = other;
    int by_name = strcmp(a->stored, b->stored);
    return by_name ? by_name : (a->event > b->event) - (a->event < b->event);
}

static void order_photos(hw_log_survey *out)
{
    size_t kept = 0;
    if (out->photo_count > 0) {
        qsort(out->photo, out->photo_count, sizeof *out->photo, order_of_photos);
    }
    for (size_t i = 0; i < out->photo_count; i++) {
        if (kept == 0 || strcmp(out->photo[kept - 1].stored, out->photo[i].stored) != 0) {
            out->photo[kept++] = out->photo[i];
        }
    }
    out->photo_count = kept;
}

const hw_named_photo *hw_log_survey_photo(const hw_log_survey *survey, const char *stored)
{
    size_t low = 0, high = survey->photo_count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        int order = strcmp(survey->photo[middle].stored, stored);
        if (order == 0) {
            return &survey->photo[middle];
        }
        low = order < 0 ? middle + 1 : low;
        high = order < 0 ? high : middle;
    }
    return NULL;
}

hw_status hw_job_survey(const char *bytes, size_t count, const hw_limits *limits,
                        hw_log_survey *out, hw_findings *findings, hw_error *err)
{
    walk s = {.out = out, .findings = findings};
    hw_log_reader reader = {.bytes = bytes, .count = count};
    hw_line_state state;
    hw_json *json = NULL;
    hw_status status = HW_OK;
    for (size_t from = 0; status == HW_OK && hw_log_next(&reader, limits, &state, &json);
         from = reader.at) {
        if (state == HW_LINE_WHOLE) {
            status = close_run(&s, reader.line - 1, err);
            status = status == HW_OK ? take_event(&s, json, reader.line, err) : status;
        } else if (state == HW_LINE_BAD) {
            size_t length = reader.at - from; // with its line end; a carriage return is nothing too
            bool empty = length == 1 || (length == 2 && bytes[from] == '\r');
            status = take_bad(&s, reader.line, empty, err);
        } else if (state == HW_LINE_NO_MEMORY) {
            status = hw_fail_memory(err, "checking the job");
        }
        hw_json_free(json);
    }
    if (status == HW_OK) {
        status = close_run(&s, reader.line, err);
    }
    if (status == HW_OK) {
        status = test_pointers(&s, err);
    }
    order_photos(out);
    hw_free(s.event);
    hw_free(s.pointer);
    return status;
}
