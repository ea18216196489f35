// keep_play.c: a job as a person plays it, through the public calls alone, and the question whether all
// that was said to be saved is there.
//
// A further kind of event: a function add_X below and a line in `steps`.
#include "keep.h"

#include "job_internal.h"

#include <math.h>

static const int64_t first_day = 1780000000; // 2026-05-28

// What a step of a turn may use.
typedef struct turn {
    int day, number;
    int64_t now;
    const char *stored; // the photo of this turn
    long *photo;        // number of its event
} turn;

// ---- The events --------------------------------------------------------------------

static hw_status add_photo(hw_job *job, const turn *at, long *number, hw_error *err)
{
    hw_photo_event photo = {.has_card_lab = true, .card_lab = {49.5, 0.1, -0.2}};
    hw_part_state state = {"lid strip", HW_STATE_BARE};
    hw_more_photo shot = {.original = "IMG again.jpg"};
    photo.from = HW_FROM_LEFT;
    photo.more = &shot;
    photo.more_count = 1;
    hw_copy_text(shot.stored, sizeof shot.stored, at->stored);
    hw_camera camera = {.camera = "Alder C2",
                        .lamp = "bench lamp",
                        .photos = 1,
                        .learned_at = first_day,
                        .parameter = {0.2, -0.1, 0.002},
                        .doubt = {{{0.004, 0, 0}, {0, 0.002, 0}, {0, 0, 1e-5}}},
                        .scatter = 1.0,
                        .light_low = 0.02,
                        .light_high = 0.8,
                        .card_uv = {{0.209, 0.488}}};
    photo.camera = &camera;
    photo.states = &state;
    photo.state_count = 1;
    hw_copy_text(photo.stored, sizeof photo.stored, at->stored);
    hw_format_text(photo.original, sizeof photo.original, "IMG %d-%d.jpg", at->day, at->number);
    hw_copy_text(photo.view, sizeof photo.view, "front");
    hw_copy_text(photo.note, sizeof photo.note, "by the window, \"dry\"");
    photo.marks.width_px = 400;
    photo.marks.height_px = 240;
    hw_status status = hw_marks_add(&photo.marks, HW_ROLE_CARD, "card", "20,20,80,80", NULL, err);
    if (status == HW_OK) {
        status =
            hw_marks_add(&photo.marks, HW_ROLE_PATCH, "lid strip", "270,20,100,200", NULL, err);
    }
    if (status == HW_OK) {
        status = hw_job_add_photo(job, &photo, at->now, number, err);
    }
    hw_marks_free(&photo.marks);
    if (status == HW_OK) {
        *at->photo = *number;
    }
    return status;
}

static hw_status add_reading(hw_job *job, const turn *at, long *number, hw_error *err)
{
    const char *reading =
        "{\"photo\":{\"file\":\"front.jpg\"},\"samples\":[{\"name\":\"lid "
        "strip\",\"role\":\"patch\","
        "\"lab\":[55,9.5,26],\"standard_error\":[0.1,0.1,0.1]}],\"comparisons\":[]}";
    long photo = *at->photo > 0 ? *at->photo : 1; // the first was not saved: any number that can be
    return hw_job_add_reading(job, photo, reading, at->now, number, err);
}

static hw_liquid walnut(double strength)
{
    hw_liquid liquid = {.count = 1, .dose = {{.dye = "walnut", .strength = strength}}};
    return liquid;
}

static hw_status add_plan(hw_job *job, const turn *at, long *number, hw_error *err)
{
    hw_plan_event plan = {.patch = "lid strip", .has_next = true, .forecast = {52, 10, 26}};
    plan.next.liquid = walnut(0.25);
    plan.next.passes = 2;
    plan.forecast_de00 = 1.5;
    plan.risk = 0.002;
    return hw_job_add_plan(job, &plan, at->now, number, err);
}

static hw_status add_pass(hw_job *job, const turn *at, long *number, hw_error *err)
{
    char patches[1][HW_NAME_SIZE] = {"lid strip"};
    hw_pass_event pass = {.patches = patches, .patch_count = 1, .passes = 2, .minutes = 40.0};
    pass.liquid = walnut(0.125 * (1 + at->number));
    hw_copy_text(pass.note, sizeof pass.note, "sprayed, the grain stood a little");
    return hw_job_add_pass(job, &pass, at->now, number, err);
}

static hw_status add_coat(hw_job *job, const turn *at, long *number, hw_error *err)
{
    char parts[1][HW_NAME_SIZE] = {"lid strip"};
    hw_coat_event coat = {.coat = HW_COAT_BARRIER, .parts = parts, .part_count = 1};
    return hw_job_add_coat(job, &coat, at->now, number, err);
}

static hw_status add_takeoff(hw_job *job, const turn *at, long *number, hw_error *err)
{
    char parts[1][HW_NAME_SIZE] = {"lid strip"};
    hw_takeoff_event takeoff = {.parts = parts, .part_count = 1, .note = "a little too far"};
    return hw_job_add_takeoff(job, &takeoff, at->now, number, err);
}

static hw_status add_jar(hw_job *job, const turn *at, long *number, hw_error *err)
{
    hw_jar_event jar = {
        .liquid = walnut(0.25), .volume_ml = 200.0, .from_job = "0123456789abcdef", .from_jar = 3};
    return hw_job_add_jar(job, &jar, at->now, number, err);
}

static hw_status add_note(hw_job *job, const turn *at, long *number, hw_error *err)
{
    hw_note_event note = {.text = "hinge side first", .part = "lid strip"};
    return hw_job_add_note(job, &note, at->now, number, err);
}

static hw_status add_approval(hw_job *job, const turn *at, long *number, hw_error *err)
{
    hw_approval_event approval = {.by = "customer", .lamp = "living room"};
    return hw_job_add_approval(job, &approval, at->now, number, err);
}

static hw_status add_setting(hw_job *job, const turn *at, long *number, hw_error *err)
{
    hw_part_area area = {"lid strip", 614.0};
    hw_setting_event setting = {.coats_over = HW_COATS_ALL,
                                .coats = 2,
                                .recoat_minutes = 30.0,
                                .card_mm = {200.0, 250.0},
                                .areas = &area,
                                .area_count = 1};
    return hw_job_add_setting(job, &setting, at->now, number, err);
}

// The photo was of the lid, not of the front.
static hw_status add_correction(hw_job *job, const turn *at, long *number, hw_error *err)
{
    const hw_event *photo = hw_job_event_numbered(job, *at->photo);
    if (!photo) { // lost: that is told where it is looked for
        return HW_ERR_STORAGE;
    }
    hw_event changed = *photo;
    hw_format_text(changed.of.photo.view, sizeof changed.of.photo.view, "lid %d-%d", at->day,
                   at->number);
    return hw_job_add_correction(job, photo->number, &changed, NULL, at->now, number, err);
}

static hw_status add_withdrawal(hw_job *job, const turn *at, long *number, hw_error *err)
{
    return hw_job_add_withdrawal(job, *at->photo, at->now, number, err);
}

static hw_status add_name(hw_job *job, const turn *at, long *number, hw_error *err)
{
    hw_part_event part = {.role = HW_ROLE_PATCH, .part = "lid inlay", .was = "lid strip"};
    return hw_job_add_part(job, &part, at->now, number, err);
}

static const struct step {
    const char *name;
    hw_event_kind kind;
    hw_status (*add)(hw_job *job, const turn *at, long *number, hw_error *err);
    bool needs_photo; // it names the photo of its turn
} steps[] = {
    {"photo", HW_EVENT_PHOTO_ADDED, add_photo, false},
    {"reading", HW_EVENT_READING, add_reading, false},
    {"plan", HW_EVENT_PLAN_SHOWN, add_plan, false},
    {"pass", HW_EVENT_PASS_LAID, add_pass, false},
    {"coat", HW_EVENT_COAT_LAID, add_coat, false},
    {"takeoff", HW_EVENT_TAKEN_OFF, add_takeoff, false},
    {"jar", HW_EVENT_JAR_MIXED, add_jar, false},
    {"note", HW_EVENT_NOTE, add_note, false},
    {"approval", HW_EVENT_APPROVAL, add_approval, false},
    {"setting", HW_EVENT_SETTING, add_setting, false},
    {"correction", HW_EVENT_CORRECTION, add_correction, true},
    {"name", HW_EVENT_PART_NAMED, add_name, false},
    {"withdrawal", HW_EVENT_CORRECTION, add_withdrawal, true},
};
enum { STEPS = sizeof steps / sizeof *steps, TURNS = 3 };

// ---- The log as it lies there ------------------------------------------------------

static uint8_t *log_bytes(const place *where, size_t *count)
{
    char path[400];
    uint8_t *bytes = NULL;
    hw_format_text(path, sizeof path, "%slog.jsonl", where->job);
    *count = 0;
    return hw_file_read(path, 1 << 26, &bytes, count, NULL) == HW_OK ? bytes : NULL;
}

// Each whole line by the number of its event, with its CRC-32.
typedef struct log_sums {
    struct {
        long number;
        uint32_t sum;
    } * line;
    size_t count, room;
} log_sums;

static void add_sum(log_sums *list, long number, uint32_t sum)
{
    if (list->count == list->room) {
        list->room = list->room ? 2 * list->room : 64;
        list->line = realloc(list->line, list->room * sizeof *list->line);
        if (!list->line) {
            abort();
        }
    }
    list->line[list->count].number = number;
    list->line[list->count++].sum = sum;
}

// Free ->line with free.
static log_sums sums_of_log(const place *where)
{
    hw_limits limits = hw_limits_default();
    log_sums list = {0};
    size_t count = 0;
    uint8_t *bytes = log_bytes(where, &count);
    hw_log_reader reader = {.bytes = (const char *)bytes, .count = count};
    hw_line_state state;
    hw_json *json;
    for (size_t start = 0; bytes && hw_log_next(&reader, &limits, &state, &json);
         start = reader.at) {
        double number = 0.0;
        if (state == HW_LINE_WHOLE && hw_json_member_number(json, "number", &number)) {
            // (The byte behind a line may be damaged.)
            add_sum(&list, (long)number, hw_crc32(bytes + start, reader.at - start - 1));
        }
        hw_json_free(json);
    }
    hw_free(bytes);
    return list;
}

// 0 where there is none.
static uint32_t sum_of_line(const log_sums *list, long number)
{
    uint32_t sum = 0;
    for (size_t i = 0; i < list->count; i++) {
        sum = list->line[i].number == number ? list->line[i].sum : sum;
    }
    return sum;
}

// ---- Playing -----------------------------------------------------------------------

static void came_to(const listener *to, hw_status status, const char *step, const told *what,
                    const hw_error *err)
{
    if (status == HW_OK) {
        to->told(to->context, what);
    } else if (to->refused) {
        to->refused(to->context, step, err);
    }
}

static void tell_event(const listener *to, hw_status status, const char *step, const place *where,
                       told *what, const hw_error *err)
{
    if (status == HW_OK) {
        log_sums list = sums_of_log(where);
        what->sum = sum_of_line(&list, what->number);
        free(list.line);
    }
    came_to(to, status, step, what, err);
}

size_t photo_bytes(long number, uint8_t out[3000])
{
    uint32_t state = (uint32_t)number * 2654435761u + 1;
    size_t count = 1500 + chance(&state) % 1500;
    for (size_t i = 0; i < count; i++) {
        out[i] = (uint8_t)chance(&state);
    }
    return count;
}

static bool keep_photo(hw_job *job, long number, char stored[96], const listener *to)
{
    uint8_t bytes[3000];
    hw_error err = {0};
    told what = {.what = TOLD_PHOTO, .number = number};
    hw_status status =
        hw_job_keep_photo(job, bytes, photo_bytes(number, bytes), "jpg", what.name, &err);
    hw_copy_text(stored, 96, what.name);
    came_to(to, status, "photo's file", &what, &err);
    return status == HW_OK;
}

void play_events(hw_job *job, const place *where, int day, int number, const listener *to)
{
    char stored[96];
    long photo = 0;
    // The first photo is the same one every day: found, it is not written again.
    bool kept = keep_photo(job, number == 0 ? 7 : 100 * day + number, stored, to);
    turn at = {day, number, 0, stored, &photo};
    for (int i = 0; i < STEPS; i++) {
        hw_error err = {0};
        if ((steps[i].add == add_photo && !kept) || (steps[i].needs_photo && photo == 0)) {
            continue; // the program stops there too
        }
        at.now = first_day + 86400 * day + 600 * number + 60 * i;
        told what = {.what = TOLD_EVENT, .kind = steps[i].kind, .at = at.now};
        hw_status status = steps[i].add(job, &at, &what.number, &err);
        tell_event(to, status, steps[i].name, where, &what, &err);
    }
}

static void play_dye(const place *where, int day, int number, const listener *to)
{
    hw_error err = {0};
    hw_dye dye = hw_dye_guess(HW_FAMILY_BROWN);
    told what = {.what = TOLD_DYE};
    hw_format_text(dye.name, sizeof dye.name, "walnut %d-%d", day, number);
    hw_copy_text(what.name, sizeof what.name, dye.name);
    came_to(to, hw_shelf_put_dye(where->shelf, NULL, &dye, &err), "dye", &what, &err);
}

static void play_seen(const hw_job *job, const place *where, int day, int number,
                      const listener *to)
{
    hw_error err = {0};
    hw_observation seen = {.event = 1000 * (day + 1) + number,
                           .photo_before = 2,
                           .photo_after = 6,
                           .at = first_day,
                           .tool = HW_TOOL_SPRAY,
                           .wood = {55, 9.5, 26},
                           .laid_count = 1,
                           .density = {0.02, 0.03, 0.05},
                           .covariance = {{{0.01, 0, 0}, {0, 0.01, 0}, {0, 0, 0.01}}}};
    hw_copy_text(seen.job, sizeof seen.job, hw_job_id(job));
    hw_copy_text(seen.patch, sizeof seen.patch, "lid strip");
    seen.laid[0] = (hw_laid){.dye = "walnut", .amount = 0.5, .squares = 0.125};
    told what = {.what = TOLD_SEEN, .number = seen.event};
    hw_shelf shown = {.seen = &seen, .seen_count = 1};
    came_to(to, hw_shelf_keep_seen(where->shelf, NULL, &shown, &err), "observation", &what, &err);
}

static hw_job *start_or_open(const place *where, int day, const listener *to)
{
    hw_error err = {0};
    hw_job *job = NULL;
    told what = {.what = TOLD_JOB};
    hw_status status =
        hw_job_start(where->job, "Walnut gramophone cabinet", first_day + 86400 * day, &err);
    if (status == HW_OK || strcmp(err.code, "job-exists") != 0) {
        came_to(to, status, "start", &what, &err);
    }
    // Where the start was refused there may be no job: that is seen by all_there.
    return hw_job_open(where->job, NULL, &job, NULL) == HW_OK ? job : NULL;
}

void play(const place *where, int day, const listener *to)
{
    hw_job *job = start_or_open(where, day, to);
    for (int number = 0; number < TURNS && job; number++) {
        play_events(job, where, day, number, to);
        play_dye(where, day, number, to);
        play_seen(job, where, day, number, to);
    }
    hw_job_free(job);
}

bool add_one(hw_job *job, const place *where, int day, told *out, hw_error *err)
{
    char stored[96] = "";
    long photo = 1;
    turn at = {day, 0, first_day + 86400 * day, stored, &photo};
    told_list list = {0};
    listener to = into(&list);
    *out = (told){.what = TOLD_EVENT, .kind = HW_EVENT_PASS_LAID, .at = at.now};
    hw_status status = add_pass(job, &at, &out->number, err);
    tell_event(&to, status, "pass", where, out, err);
    if (status == HW_OK) {
        *out = list.item[0];
    }
    told_free(&list);
    return status == HW_OK;
}

void go_on(const place *where, told_list *list, const char *during)
{
    const int some_day = 40;
    told_list more = {0};
    listener to = into(&more);
    told one;
    hw_error err = {0};
    hw_job *job = start_or_open(where, some_day, &to);
    all_there(where, list, during);
    if (expect(job != NULL, "%s: the job cannot be gone on with", during) &&
        expect(add_one(job, where, some_day, &one, &err), "%s: nothing can be added: %s: %s",
               during, err.code, err.what)) {
        told_add(list, &one);
    }
    hw_job_free(job);
    for (size_t i = 0; i < more.count; i++) {
        told_add(list, &more.item[i]);
    }
    told_free(&more);
    all_there(where, list, during);
}

static void collect(void *context, const told *what)
{
    told_add(context, what);
}

listener into(told_list *list)
{
    return (listener){.told = collect, .context = list};
}

// ---- What was told -----------------------------------------------------------------

void told_add(told_list *list, const told *one)
{
    if (list->count == list->room) {
        list->room = list->room ? 2 * list->room : 32;
        list->item = realloc(list->item, list->room * sizeof *list->item);
        if (!list->item) {
            abort();
        }
    }
    list->item[list->count++] = *one;
}

void told_free(told_list *list)
{
    free(list->item);
    *list = (told_list){0};
}

// At its time or, where something later stood in the log already, at that one's (job_store.c: within ten minutes).
static bool is_its_time(int64_t logged, int64_t asked)
{
    return logged >= asked && logged - asked <= 600;
}

static bool event_there(const hw_job *job, const log_sums *log, const told *what)
{
    bool there = false;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        there = there || (event->number == what->number && event->was == what->kind &&
                          is_its_time(event->at, what->at));
    }
    return there && what->sum != 0 && sum_of_line(log, what->number) == what->sum;
}

static bool photo_there(const hw_job *job, const told *what)
{
    uint8_t *bytes = NULL, wanted[3000];
    size_t count = 0, wanted_count = photo_bytes(what->number, wanted);
    bool there = hw_job_photo(job, what->name, &bytes, &count, NULL) == HW_OK &&
                 count == wanted_count && memcmp(bytes, wanted, count) == 0;
    hw_job_photo_free(bytes);
    return there;
}

static bool seen_there(const hw_shelf *shelf, const told *what)
{
    bool there = false;
    for (size_t i = 0; i < shelf->seen_count; i++) {
        there = there || shelf->seen[i].event == what->number;
    }
    return there;
}

static bool job_there(const hw_job *job)
{
    const hw_event *first = hw_job_event(job, 0);
    return first && first->kind == HW_EVENT_JOB_STARTED &&
           strcmp(hw_job_title(job), "Walnut gramophone cabinet") == 0;
}

static bool one_there(const hw_job *job, const hw_shelf *shelf, const log_sums *log,
                      const told *what)
{
    switch (what->what) {
    case TOLD_JOB:
        return job && job_there(job);
    case TOLD_EVENT:
        return job && event_there(job, log, what);
    case TOLD_PHOTO:
        return job && photo_there(job, what);
    case TOLD_DYE:
        return hw_shelf_find(shelf, what->name) != NULL;
    case TOLD_SEEN:
        return seen_there(shelf, what);
    }
    return false;
}

bool all_there(const place *where, const told_list *list, const char *during)
{
    static const char *const names[] = {"the job", "an event", "a photo", "a dye",
                                        "an observation"};
    hw_job *job = NULL;
    hw_shelf shelf = {0};
    hw_error err = {0};
    bool good = true;
    hw_status status = hw_job_open(where->job, NULL, &job, &err);
    if (status != HW_OK && list->count > 0) {
        good = expect(false, "%s: the job does not open: %s: %s", during, err.code, err.what);
    }
    err = (hw_error){0};
    status = hw_shelf_load(where->shelf, NULL, &shelf, &err);
    good = expect(status == HW_OK, "%s: the shelf does not open: %s", during, err.what) && good;
    log_sums log = sums_of_log(where);
    for (size_t i = 0; i < list->count; i++) {
        const told *what = &list->item[i];
        if (!one_there(job, &shelf, &log, what)) {
            good =
                expect(false, "%s: lost %s (kind %d, number %ld %s) in %s", during,
                       names[what->what], (int)what->kind, what->number, what->name, where->root);
        }
    }
    free(log.line);
    hw_shelf_free(&shelf);
    hw_job_free(job);
    return good;
}

size_t events_there(const place *where)
{
    hw_job *job = NULL;
    size_t count = 0;
    if (hw_job_open(where->job, NULL, &job, NULL) != HW_OK) {
        return 0;
    }
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        bool by_photo = event->was == HW_EVENT_PART_NAMED && !event->of.part.was[0];
        count += !by_photo; // a photo names its parts in lines of their own, written with its own
    }
    hw_job_free(job);
    return count;
}
