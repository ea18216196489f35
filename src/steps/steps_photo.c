// steps_photo.c: a photo joins a job. In this order, so that a stop at any point leaves the job as
// true as it was: read all of it, keep the original, log the photo, log the reading.
//
// Marks: those given; old wood and repairs that are not, those of the view's last photo (steps_follow.c).
#include "steps_internal.h"

#include "huewright/report.h"

#include <string.h>

// ---- What one call holds -----------------------------------------------------------

// A photo as file and decoded.
typedef struct shot {
    uint8_t *bytes; // NULL: there is none
    size_t count;
    hw_photo *photo;
    const char *extension;
} shot;

// Everything of one call that must be freed.
typedef struct adding {
    hw_job *job;
    hw_steps_shots shots; // of the piece: one, or repeat shots
    shot sheet;
    hw_marks marks;
    hw_part_state *states; // said, and not dry yet by the log
    size_t state_count;
    hw_camera camera;     // as it was learned
    hw_photo_event event; // borrows all it points to
} adding;

// ---- What is logged ----------------------------------------------------------------

void hw_steps_name_of_file(char *out, size_t size, const char *path)
{
    const char *slash = strrchr(path, '/');
    hw_copy_text(out, size, slash ? slash + 1 : path);
    if (!hw_is_utf8(out, strlen(out))) {
        for (char *at = out; *at; at++) {
            *at = (unsigned char)*at < 0x80 ? *at : '?';
        }
    }
}

static const char *extension_of(const hw_photo_facts *facts)
{
    static const char *const known[][2] = {{"JPEG", "jpg"}, {"PNG", "png"},   {"BMP", "bmp"},
                                           {"TGA", "tga"},  {"HEIC", "heic"}, {"AVIF", "avif"},
                                           {"DNG", "dng"}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        if (facts->format && strcmp(facts->format, known[i][0]) == 0) {
            return known[i][1];
        }
    }
    return "raw"; // whatever its camera calls it
}

// Every state names a part that is marked on this photo: a mistyped name would be believed for
// good.
hw_status hw_steps_check_states(const hw_photo_event *photo, hw_error *err)
{
    const hw_marks *marks = &photo->marks;
    for (size_t i = 0; i < photo->state_count; i++) {
        const char *part = photo->states[i].part;
        if (hw_marks_find_wood(marks, part)) {
            continue;
        }
        char names[320] = "", next[480];
        for (size_t k = 0; k < marks->count; k++) {
            if (hw_role_is_wood(marks->mark[k].role)) {
                hw_steps_add_name(names, sizeof names, marks->mark[k].name);
            }
        }
        hw_format_text(next, sizeof next, "Name one of the parts marked on this photo: %s.", names);
        return hw_fail(err, HW_ERR_CALL, "part-unknown", part, next,
                       "no part of this name is marked on this photo");
    }
    return HW_OK;
}

static hw_status fill_event(adding *work, const hw_photo_request *request,
                            const hw_reading *reading, hw_error *err)
{
    hw_photo_event *event = &work->event;
    hw_steps_name_of_file(event->original, sizeof event->original,
                          hw_steps_leading_name(&work->shots, reading));
    event->from = request->read.from;
    const char *view = request->view ? request->view : "front";
    if (!hw_name_is_usable(view)) {
        return hw_fail(err, HW_ERR_CALL, "view-name", view,
                       "Use a short plain name, as front or left side.",
                       "this cannot be the name of a view");
    }
    hw_copy_text(event->view, sizeof event->view, view);
    const char *lamp = request->lamp ? request->lamp : "";
    if (lamp[0] && !hw_name_is_usable(lamp)) {
        return hw_fail(err, HW_ERR_CALL, "lamp-name", lamp,
                       "Use a short plain name, as window or bench lamp.",
                       "this cannot be the name of a lamp");
    }
    hw_copy_text(event->lamp, sizeof event->lamp, lamp);
    const char *note = request->note ? request->note : "";
    if (!hw_is_utf8(note, strlen(note)) || !hw_copy_text(event->note, sizeof event->note, note)) {
        return hw_fail(err, HW_ERR_CALL, "note-text", "the note", "Write a shorter note.",
                       "it is longer than %zu bytes or no readable text", sizeof event->note - 1);
    }
    event->marks = reading->marks; // borrowed while it is logged
    event->states = work->states;
    event->state_count = work->state_count;
    return hw_steps_check_states(event, err);
}

static void warn_seen_before(const hw_job *job, const hw_photo_event *photo, hw_warnings *warnings)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED && hw_photo_shares_file(&event->of.photo, photo)) {
            hw_warn(warnings, "%s the very same photo as photo %ld of this job.",
                    photo->more_count ? "One of these is" : "This is", event->number);
            return;
        }
    }
}

// The last photo of that view and side before this one that holds the patch, or 0.
static long earlier_photo(const hw_job *job, const hw_photo_event *photo, long number,
                          const char *patch)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED && event->number < number &&
            strcmp(event->of.photo.view, photo->view) == 0 &&
            hw_from_is_same(event->of.photo.from, photo->from) &&
            hw_marks_find(&event->of.photo.marks, HW_ROLE_PATCH, patch)) {
            return event->number;
        }
    }
    return 0;
}

// Photos that it was said of: once for all parts.
typedef struct said_of {
    long coat, lamp;
} said_of;

static void warn_other_lamp(long earlier, said_of *said, hw_warnings *warnings)
{
    if (said->lamp != earlier) {
        hw_warn(warnings,
                "It is under another lamp than photo %ld: what a pass did is not read "
                "across that. huewright lamps sets the two side by side.",
                earlier);
    }
    said->lamp = earlier;
}

static void warn_coat_between(hw_coat coat, long earlier, said_of *said, hw_warnings *warnings)
{
    if (said->coat != earlier) {
        hw_warn(warnings,
                "A %s coat lies between this photo and photo %ld: no pass is read across "
                "it. What the coat did, huewright history shows.",
                hw_coat_name(coat), earlier);
    }
    said->coat = earlier;
}

static void warn_patch(const hw_job *job, const hw_photo_event *photo, long earlier, long number,
                       const char *patch, said_of *said, hw_warnings *warnings)
{
    hw_patch_change change = hw_job_patch_change(job, earlier, number, patch);
    const char *lamp = hw_job_photo_event(job, earlier)->lamp;
    const hw_event *done = hw_job_done_between(job, earlier, number, patch);
    if (change.status == HW_CHANGE_REFUSED && strcmp(change.reason, hw_same_photo) == 0) {
        return; // said already
    }
    if (lamp[0] && photo->lamp[0] && !hw_same_lamp(lamp, photo->lamp)) {
        warn_other_lamp(earlier, said, warnings);
    } else if (done && done->kind == HW_EVENT_COAT_LAID) {
        warn_coat_between(done->of.coat.coat, earlier, said, warnings);
    } else if (change.status == HW_CHANGE_REFUSED) {
        hw_warn(warnings, "This photo cannot be set beside photo %ld: %s.", earlier, change.reason);
    } else if (change.status == HW_CHANGE_WIDENED) {
        hw_warn(warnings, "This photo is less surely set beside photo %ld: %s.", earlier,
                change.reason);
    }
}

// Another lamp, camera or surface than in the photo before: said now, while it can be taken again.
static void warn_not_comparable(const hw_job *job, const hw_photo_event *photo, long number,
                                hw_warnings *warnings)
{
    said_of said = {0};
    for (size_t i = 0; i < photo->marks.count; i++) {
        const hw_mark *mark = &photo->marks.mark[i];
        long earlier =
            mark->role == HW_ROLE_PATCH ? earlier_photo(job, photo, number, mark->name) : 0;
        if (earlier > 0) {
            warn_patch(job, photo, earlier, number, mark->name, &said, warnings);
        }
    }
}

// Photo and reading are saved; that nothing could be learned from them is only said.
static void learn(const hw_job *job, const hw_photo_request *request, const hw_limits *limits,
                  hw_photo_result *result)
{
    hw_shelf shelf = {0};
    hw_error why = {0};
    if (hw_steps_learn(job, request->shelf_path, result->number, limits, &shelf, &result->warnings,
                       &why) != HW_OK) {
        hw_warn(&result->warnings, "The photo is saved, but nothing is learned from it: %s: %s. %s",
                why.subject, why.what, why.next);
    }
    hw_shelf_free(&shelf);
}

static hw_status keep(const hw_job *job, const shot *one, char stored[96], hw_error *err)
{
    return hw_job_keep_photo(job, one->bytes, one->count, one->extension, stored, err);
}

// Keeps the originals, logs the photo, logs the reading.
static hw_status log_photo(adding *work, const hw_reading *reading, int64_t now,
                           hw_photo_result *result, hw_error *err)
{
    hw_job *job = work->job;
    hw_photo_event *event = &work->event;
    char *json = NULL;
    hw_status status = hw_report_reading_json(reading, &json, err);
    if (status == HW_OK) {
        status = hw_steps_keep_shots(job, &work->shots, reading, event, err);
    }
    if (status == HW_OK && work->sheet.bytes) {
        status = keep(job, &work->sheet, event->sheet, err);
    }
    if (status == HW_OK) {
        warn_seen_before(job, event, &result->warnings);
        status = hw_job_add_photo_read(job, event, json, now, &result->number, err);
    }
    if (status == HW_OK && !hw_job_said_before(job)) {
        hw_steps_keep_look(job, &work->shots, reading, event);
        warn_not_comparable(job, event, result->number, &result->warnings);
    }
    hw_report_free(json);
    return status;
}

// ---- The step ----------------------------------------------------------------------

bool hw_steps_has_wood(const hw_marks *marks)
{
    bool wood = false;
    for (size_t i = 0; i < marks->count; i++) {
        wood = wood || hw_role_is_wood(marks->mark[i].role);
    }
    return wood;
}

// The sheet shows the light over the picture as it lay.
static hw_status take_sheet_over(adding *work, const hw_photo_request *request,
                                 const hw_event *last, const hw_limits *limits,
                                 hw_photo_result *result, hw_error *err)
{
    const char *lamp = request->lamp ? request->lamp : "";
    const hw_photo_event *photo = &last->of.photo;
    if (work->sheet.photo || !photo->sheet[0] || strcmp(lamp, photo->lamp) != 0) {
        return HW_OK;
    }
    if (result->marks_carried) {
        hw_warn(
            &result->warnings,
            "The photo of the sheet (photo %ld) is not taken over: the camera stands elsewhere. "
            "Give one from here with --sheet.",
            last->number);
        return HW_OK;
    }
    hw_copy_text(work->event.sheet, sizeof work->event.sheet, photo->sheet);
    hw_warn(&result->warnings, "The photo of the sheet is taken over from photo %ld.",
            last->number);
    return hw_steps_decode_stored(work->job, photo->sheet, "the sheet", limits, &work->sheet.photo,
                                  err);
}

// To the first of the shots in which the wood is recognised.
static hw_status follow_first(adding *work, const hw_event *last, const hw_limits *limits,
                              hw_followed *out, hw_photo_result *result, hw_error *err)
{
    hw_steps_shots *shots = &work->shots;
    hw_error first = {0};
    for (;;) {
        hw_error why = {0};
        hw_status status = hw_steps_follow_marks(work->job, &last->of.photo, shots->photo,
                                                 shots->look, limits, out, &result->warnings, &why);
        if (status == HW_OK) {
            return HW_OK;
        }
        first = first.code[0] ? first : why;
        if (strcmp(why.code, "marks-moved") != 0 || !hw_steps_shots_next(shots, &why, limits)) {
            return hw_fail_as(err, &first);
        }
        status = hw_steps_look_at_first(shots, err);
        if (status != HW_OK) {
            return status;
        }
    }
}

static hw_status follow_last(adding *work, const hw_event *last, const hw_limits *limits,
                             hw_photo_result *result, hw_error *err)
{
    hw_followed followed = {0};
    hw_status status = follow_first(work, last, limits, &followed, result, err);
    if (status == HW_OK) {
        status = hw_steps_put_own(&work->marks, &followed.marks, err);
    }
    if (status == HW_OK) {
        status = hw_steps_follow_missing(work->job, last, work->shots.look, limits, &work->marks,
                                         &result->warnings, err);
    }
    if (status == HW_OK) {
        const hw_event *logged = hw_job_reading_of(work->job, last->number);
        work->shots.last = logged ? &logged->of.reading : NULL;
        work->shots.shot[work->shots.first].lay = followed.lay;
        followed.lay = (hw_marks){0};
        result->marks_reused = true;
        result->marks_carried = !followed.as_it_lay && followed.moved_px >= 1.0;
        result->correlation = followed.likeness;
        result->moved_px = followed.moved_px;
        result->error_px = followed.error_px;
        work->event.marks_reused = true;
    }
    hw_followed_free(&followed);
    return status;
}

static hw_status get_marks(adding *work, const hw_photo_request *request, const hw_limits *limits,
                           hw_photo_result *result, hw_error *err)
{
    bool given = request->read.marks_path || request->read.marks.count > 0;
    hw_status status =
        given ? hw_steps_marks(&request->read, limits, &work->marks, &result->warnings, err)
              : HW_OK;
    if (status != HW_OK || hw_steps_has_wood(&work->marks)) {
        return status;
    }
    const char *view = request->view ? request->view : "front";
    const hw_event *last = hw_steps_last_alike(work->job, view, request->read.from);
    if (!last && given) {
        return HW_OK;
    }
    if (!last) {
        return hw_fail(err, HW_ERR_CALL, "marks-missing", request->read.photo_path,
                       "Mark the old wood and the repair on it: --marks FILE, or --target and "
                       "--patch; and the card, where it is not found.",
                       "it is the first photo of the view %s and has no marks", view);
    }
    status = follow_last(work, last, limits, result, err);
    if (status == HW_OK) {
        status = take_sheet_over(work, request, last, limits, result, err);
    }
    if (status == HW_OK && !request->read.has_card_lab && last->of.photo.has_card_lab) {
        work->event.has_card_lab = true;
        work->event.card_lab = last->of.photo.card_lab;
        hw_warn(&result->warnings, "The card's own colour is taken over from photo %ld.",
                last->number);
    }
    return status;
}

// Where nothing else says what the card is, an instrument may have.
void hw_steps_take_measured_card(const hw_job *job, bool *has_lab, hw_lab *lab,
                                 hw_warnings *warnings)
{
    const hw_event *measured = hw_job_measured_card(job);
    if (measured && !*has_lab) {
        *has_lab = true;
        *lab = measured->of.photo.card_lab;
        hw_warn(warnings, "The card's own colour is as it was measured (event %ld).",
                measured->number);
    }
}

static void forget_pixels(shot *one)
{
    hw_photo_free(one->photo);
    one->photo = NULL;
}

static hw_status open_shot(const char *path, const hw_limits *limits, shot *out, hw_error *err)
{
    hw_status status = hw_file_read(path, limits->file_bytes, &out->bytes, &out->count, err);
    if (status == HW_OK) {
        status = hw_photo_decode(out->bytes, out->count, path, limits, &out->photo, err);
    }
    if (status == HW_OK) {
        out->extension = extension_of(hw_photo_facts_of(out->photo));
    }
    return status;
}

static hw_status open_shots(adding *work, const hw_read_request *read, const hw_limits *limits,
                            hw_warnings *warnings, hw_error *err)
{
    hw_status status = hw_steps_shots_open(read, limits, &work->shots, warnings, err);
    if (status == HW_OK) {
        hw_steps_warn_first(&work->shots, read, warnings);
    }
    if (status == HW_OK && read->sheet_path) {
        status = open_shot(read->sheet_path, limits, &work->sheet, err);
    }
    return status;
}

static void name_extensions(hw_steps_shots *shots)
{
    for (size_t i = 0; i < shots->count; i++) {
        hw_photo_facts facts = {.format = shots->shot[i].format};
        shots->shot[i].extension = extension_of(&facts);
    }
}

hw_status hw_steps_read_for_job(hw_steps_shots *shots, const hw_marks *marks, const hw_steps_by *by,
                                const hw_limits *limits, int64_t now, hw_camera *camera,
                                hw_reading *out, hw_warnings *warnings, hw_error *err)
{
    bool learned = hw_steps_find_camera(&by->read, by->lamp, hw_photo_facts_of(shots->photo),
                                        limits, camera, warnings);
    hw_card_options card = {.has_lab = by->has_card_lab,
                            .lab = by->card_lab,
                            .sheet = by->sheet,
                            .camera = learned ? camera : NULL};
    hw_earlier_list known = {0};
    hw_status status = by->job ? hw_steps_look_back(by->job, 0, marks, &known, err) : HW_OK;
    if (status == HW_OK && by->job) {
        hw_steps_find_elsewhere(by->job, 0, by->lamp, by->read.from, now, marks, &known);
    }
    if (status == HW_OK) {
        status =
            hw_steps_read_shots(shots, marks, &card, by->job ? &known : NULL, limits, out, err);
    }
    if (status == HW_OK) {
        hw_steps_name_camera(by->read.camera, out);
        out->from = by->read.from;
    }
    hw_free(known.item);
    return status;
}

// By its marks, with what earlier readings of the job say. The pixels are gone after it.
static hw_status read_shots(adding *work, const hw_photo_request *request, const hw_limits *limits,
                            int64_t now, hw_photo_result *result, hw_error *err)
{
    hw_steps_by by = {.job = work->job,
                      .read = request->read,
                      .lamp = request->lamp,
                      .has_card_lab = work->event.has_card_lab,
                      .card_lab = work->event.card_lab,
                      .sheet = work->sheet.photo};
    hw_status status =
        hw_steps_read_for_job(&work->shots, &work->marks, &by, limits, now, &work->camera,
                              &result->reading, &result->warnings, err);
    if (status == HW_OK) {
        // The job's own copy, so that the photo can be read again as it was.
        work->event.camera = result->reading.light.camera.photos > 0 ? &work->camera : NULL;
    }
    forget_pixels(&work->sheet); // all is read
    name_extensions(&work->shots);
    return status;
}

// The photo read for the opened job.
static hw_status read_photo(adding *work, const hw_photo_request *request, const hw_limits *limits,
                            int64_t now, hw_photo_result *result, hw_error *err)
{
    hw_status status = open_shots(work, &request->read, limits, &result->warnings, err);
    if (status == HW_OK) {
        work->event.has_card_lab = request->read.has_card_lab;
        work->event.card_lab = request->read.card_lab;
        work->event.marks_reused = request->marks_followed;
        status = hw_steps_look_at_first(&work->shots, err);
    }
    if (status == HW_OK) {
        status = get_marks(work, request, limits, result, err);
    }
    if (status == HW_OK) {
        hw_steps_take_measured_card(work->job, &work->event.has_card_lab, &work->event.card_lab,
                                    &result->warnings);
        status = read_shots(work, request, limits, now, result, err);
    }
    return status;
}

// Which of the photos that were given are in the job.
static void tell_kept(const hw_steps_shots *shots, hw_photo_result *result)
{
    for (size_t i = 0; i < shots->count; i++) {
        result->kept[i] = shots->shot[i].read;
    }
}

// Originals are named by what is in them.
static bool event_has(const hw_photo_event *photo, const char *path, const hw_limits *limits)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_error unheard = {0};
    char sum[65], start[80];
    if (!path || hw_file_read(path, limits->file_bytes, &bytes, &count, &unheard) != HW_OK) {
        return false;
    }
    hw_sha256_hex(bytes, count, sum);
    hw_free(bytes);
    hw_format_text(start, sizeof start, "photos/%s", sum);
    bool has = strncmp(photo->stored, start, strlen(start)) == 0;
    for (size_t i = 0; i < photo->more_count && !has; i++) {
        has = strncmp(photo->more[i].stored, start, strlen(start)) == 0;
    }
    return has;
}

// The same of what was logged before; a file that is gone is none.
static void tell_kept_before(const hw_photo_event *photo, const hw_read_request *read,
                             const hw_limits *limits, hw_photo_result *result)
{
    result->kept[0] = event_has(photo, read->photo_path, limits);
    for (size_t i = 0; i < read->more_count && i + 1 < HW_SHOTS_MOST; i++) {
        result->kept[i + 1] = event_has(photo, read->more_paths[i], limits);
    }
}

// What was logged before for the same entry, as it is read today.
static hw_status answer_again(adding *work, const hw_photo_request *request, const hw_event *event,
                              const hw_limits *limits, hw_photo_result *result, hw_error *err)
{
    if (event->was != HW_EVENT_PHOTO_ADDED || event->of.photo.measured) {
        return hw_fail(err, HW_ERR_CALL, "entry-name", "the entry", "Name this photo's entry anew.",
                       "event %ld was logged for this entry, and is no photo", event->number);
    }
    result->again = true;
    result->number = event->number;
    tell_kept_before(&event->of.photo, &request->read, limits, result);
    return hw_steps_read_kept(work->job, event, &event->of.photo.marks, limits, &result->reading,
                              err);
}

static hw_status add_photo(adding *work, const hw_photo_request *request, const hw_limits *limits,
                           int64_t now, hw_photo_result *result, hw_error *err)
{
    hw_status status = read_photo(work, request, limits, now, result, err);
    if (status == HW_OK) {
        hw_when when = {now,
                        hw_steps_taken_at(work->job, &result->reading.photo,
                                          request->knows_clock ? &request->clock_s : NULL, now)};
        status = hw_steps_check_taken(work->job, request->seen, &result->reading.marks, now, err);
        status = status != HW_OK
                     ? status
                     : hw_steps_add_wet(work->job, &result->reading.marks, request->states,
                                        request->state_count, request->all_dry, when, &work->states,
                                        &work->state_count, &result->warnings, err);
    }
    if (status == HW_OK) {
        status = fill_event(work, request, &result->reading, err);
    }
    if (status != HW_OK) {
        return status;
    }
    // The job knows the photo by its own name: where it lay on this computer is nobody's business.
    hw_copy_text(result->reading.photo.file, sizeof result->reading.photo.file,
                 work->event.original);
    hw_steps_warn_settings(work->job,
                           hw_steps_last_alike(work->job, work->event.view, work->event.from),
                           &result->reading.photo, &result->warnings);
    hw_steps_warn_states(work->job, 0, request->states, request->state_count,
                         &result->reading.marks, &result->warnings);
    status = log_photo(work, &result->reading, now, result, err);
    result->again = status == HW_OK && hw_job_said_before(work->job);
    tell_kept(&work->shots, result);
    if (status == HW_OK && !result->again) {
        hw_steps_turn(work->job, result->number, &result->reading);
        learn(work->job, request, limits, result);
    }
    return status;
}

hw_status hw_steps_photo(const hw_photo_request *request, const hw_limits *limits, int64_t now,
                         hw_photo_result *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    adding work = {0};
    hw_photo_result result = {0};
    bool again;
    hw_status status = hw_steps_open_to_log(request->folder, request->entry, &bounds, &work.job,
                                            &again, &result.warnings, err);
    if (status == HW_OK) {
        status = again ? answer_again(&work, request, hw_job_said_before(work.job), &bounds,
                                      &result, err)
                       : add_photo(&work, request, &bounds, now, &result, err);
    }
    if (status == HW_OK) {
        result.last = hw_job_event(work.job, hw_job_event_count(work.job) - 1)->number;
    }
    if (status == HW_OK) {
        *out = result;
    } else {
        hw_photo_result_free(&result);
    }
    hw_marks_free(&work.marks);
    hw_free(work.states);
    hw_steps_shots_free(&work.shots);
    forget_pixels(&work.sheet);
    hw_free(work.sheet.bytes);
    hw_job_free(work.job);
    return status;
}

hw_photo_news hw_photo_result_news(const hw_photo_result *result)
{
    return (hw_photo_news){.number = result->number,
                           .again = result->again,
                           .marks_reused = result->marks_reused,
                           .marks_carried = result->marks_carried,
                           .correlation = result->correlation,
                           .moved_px = result->moved_px,
                           .error_px = result->error_px,
                           .warnings = &result->warnings};
}

void hw_photo_result_free(hw_photo_result *result)
{
    if (result) {
        hw_reading_free(&result->reading);
        *result = (hw_photo_result){0};
    }
}
