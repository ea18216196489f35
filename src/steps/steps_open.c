// steps_open.c: a photo on the bench: opened once, read as often as its marks are moved, and in no job yet.
//
// Opening places what marks it can, by the same ways as a photo that joins a job: those of the view's last photo are
// followed, the card is found; what is found but not sure is kept by the old wood bearing it out, or else proposed.
// Where steps_photo.c refuses here is an answer, since a person sits before it. A reading goes the very way that steps_photo.c
// goes (hw_steps_read_for_job), also of several photos of one state, of which this one is the first.
#include "steps_internal.h"

#include <math.h>
#include <string.h>

const char *hw_placed_name(hw_placed placed)
{
    static const char *const names[HW_PLACED_COUNT] = {"none", "proposed", "sure", "as_it_lay"};
    return (unsigned)placed < HW_PLACED_COUNT ? names[placed] : "";
}

void hw_opened_free(hw_opened *opened)
{
    hw_photo_free(opened->photo);
    hw_job_free(opened->job);
    hw_marks_free(&opened->marks);
    *opened = (hw_opened){0};
}

// ---- Reading -----------------------------------------------------------------------

// The opened photo as the shot that is read; its pixels are lent.
static hw_steps_shots shots_of(const hw_opened *opened)
{
    hw_steps_shots shots = {.count = 1, .photo = opened->photo, .keep_photo = true};
    hw_copy_text(shots.shot[0].called, sizeof shots.shot[0].called,
                 hw_photo_facts_of(opened->photo)->file);
    return shots;
}

// Those that are read together with it, beside it. Its own file tells whether one of them is the very same.
static hw_status add_more(const hw_bench_request *request, const hw_limits *limits,
                          hw_steps_shots *shots, hw_error *err)
{
    const hw_read_request files = {.photo_path = request->path,
                                   .called = shots->shot[0].called,
                                   .more_paths = request->more_paths,
                                   .more_called = request->more_called,
                                   .more_count = request->more_count};
    hw_status status = hw_steps_shots_take(&files, limits, shots, err);
    return status == HW_OK && shots->shot[0].why.status != HW_OK
               ? hw_fail_as(err, &shots->shot[0].why)
               : status;
}

static void end_shots(hw_steps_shots *shots)
{
    shots->photo = NULL;
    hw_steps_shots_free(shots);
}

static hw_steps_by read_by(const hw_opened *opened, const hw_bench_request *request, int64_t now)
{
    bool said = request->card_lab != NULL;
    return (hw_steps_by){
        .job = opened->job,
        .read = {.from = request->from,
                 .cameras_path = opened->cameras_path[0] ? opened->cameras_path : NULL,
                 .now = now},
        .lamp = request->lamp,
        .has_card_lab = said || opened->has_card_lab,
        .card_lab = said ? *request->card_lab : opened->card_lab};
}

hw_status hw_steps_open_read(const hw_opened *opened, const hw_bench_request *request,
                             const hw_limits *limits, int64_t now, hw_reading *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_steps_shots shots = shots_of(opened);
    hw_steps_by by = read_by(opened, request, now);
    hw_warnings warnings = {0};
    hw_camera camera;
    hw_status status = request->more_count > 0 ? add_more(request, &bounds, &shots, err) : HW_OK;
    if (status == HW_OK) {
        status = hw_steps_read_for_job(&shots, request->marks ? request->marks : &opened->marks,
                                       &by, &bounds, now, &camera, out, &warnings, err);
    }
    end_shots(&shots);
    if (status == HW_OK) {
        hw_warnings_append(&out->warnings, &warnings);
    }
    return status;
}

// ---- Wood --------------------------------------------------------------------------

// The last photo of the view that has a picture; NULL: none.
static const hw_event *last_photo(const hw_opened *opened, hw_from from)
{
    const hw_event *last =
        opened->job ? hw_steps_last_alike(opened->job, opened->view, from) : NULL;
    return last && !last->of.photo.measured ? last : NULL;
}

static void add_sentence(char *to, size_t size, const char *sentence)
{
    size_t length = strlen(to);
    if (length < size) {
        hw_format_text(to + length, size - length, "%s%s", length > 0 && sentence[0] ? " " : "",
                       sentence);
    }
}

static void say_unsure(hw_opened *opened, const char *why)
{
    char sentence[480];
    hw_format_text(sentence, sizeof sentence,
                   "Look where the marks of the last photo lie, and move what is wrong: %s.", why);
    add_sentence(opened->why, sizeof opened->why, sentence);
}

// They may lie elsewhere: no person placed them, and they are not sure.
static void mark_proposed(hw_marks *marks, double confidence)
{
    const double least = 0.01; // 0 would say that a person did
    for (size_t i = 0; i < marks->count; i++) {
        marks->mark[i].found = fmax(confidence, least);
    }
}

// What the last photo lacked of earlier ones is added where the marks are sure.
static hw_status take_followed(hw_opened *opened, const hw_event *last, const hw_look *look,
                               hw_followed *followed, const hw_limits *limits, hw_error *err)
{
    opened->marks = followed->marks;
    followed->marks = (hw_marks){0};
    if (!followed->sure) {
        opened->wood = opened->marks.count > 0 ? HW_PLACED_PROPOSED : HW_PLACED_NONE;
        mark_proposed(&opened->marks, followed->confidence);
        say_unsure(opened, followed->why);
        return HW_OK;
    }
    opened->wood = followed->as_it_lay ? HW_PLACED_AS_IT_LAY : HW_PLACED_SURE;
    return hw_steps_follow_missing(opened->job, last, look, limits, &opened->marks,
                                   &opened->warnings, err);
}

// The marks of the view's last photo; *followed keeps what lay beside the wood.
static hw_status follow(hw_opened *opened, const hw_photo_small *small, const hw_event *last,
                        const hw_limits *limits, hw_followed *followed, hw_error *err)
{
    hw_look *look = NULL;
    hw_error why = {0};
    hw_status status = hw_look_take_in(opened->photo, small, &look, &why);
    if (status == HW_OK) {
        status = hw_steps_follow_or_propose(opened->job, &last->of.photo, opened->photo, look,
                                            limits, followed, &opened->warnings, &why);
    }
    if (status == HW_OK) {
        status = take_followed(opened, last, look, followed, limits, &why);
    }
    hw_look_free(look);
    if (status == HW_ERR_STORAGE) {
        return hw_fail_as(err, &why);
    }
    if (status != HW_OK) { // as where the last photo's original is gone
        say_unsure(opened, why.what);
    }
    return HW_OK;
}

// ---- The card ----------------------------------------------------------------------

// By marks that are followed surely: the card as it lay, or what is found, where the old wood reads by it as in the last
// photo. Then *reading's marks have it.
static hw_status read_by_last(const hw_opened *opened, const hw_open_request *request,
                              const hw_event *last, hw_followed *followed, hw_steps_sought *sought,
                              const hw_limits *limits, int64_t now, hw_reading *reading,
                              hw_error *err)
{
    hw_steps_shots shots = shots_of(opened);
    hw_bench_request asked = {.lamp = request->lamp, .from = request->from};
    hw_steps_by by = read_by(opened, &asked, now);
    const hw_event *logged = hw_job_reading_of(opened->job, last->number);
    hw_warnings unheard = {0};
    hw_camera camera;
    shots.last = logged ? &logged->of.reading : NULL;
    shots.shot[0].lay = followed->lay;
    followed->lay = (hw_marks){0};
    shots.shot[0].sought = *sought;
    hw_status status = hw_steps_read_for_job(&shots, &opened->marks, &by, limits, now, &camera,
                                             reading, &unheard, err);
    *sought = shots.shot[0].sought;
    shots.shot[0].sought = (hw_steps_sought){0};
    end_shots(&shots);
    return status;
}

static hw_status find_card(hw_opened *opened, hw_steps_sought *sought, hw_error *err)
{
    bool found;
    hw_status status = hw_steps_find_card(opened->photo, sought, &opened->marks, &found, err);
    if (status == HW_OK && !found) {
        add_sentence(opened->why, sizeof opened->why,
                     "No grey card was found: mark it, or take the photo again with one in it.");
    } else if (status == HW_OK && sought->find.sure) {
        opened->card = HW_PLACED_SURE;
    } else if (status == HW_OK) {
        opened->card = HW_PLACED_PROPOSED;
        add_sentence(opened->why, sizeof opened->why,
                     "Look whether what is marked as the card is the grey card.");
        add_sentence(opened->why, sizeof opened->why, sought->find.why);
    }
    return status;
}

static hw_status place_card(hw_opened *opened, const hw_open_request *request, const hw_event *last,
                            hw_followed *followed, hw_steps_sought *sought, const hw_limits *limits,
                            int64_t now, hw_error *err)
{
    hw_reading reading = {0};
    hw_error why = {0};
    if (hw_marks_have_card(&opened->marks)) {
        opened->card = opened->wood;
        return HW_OK;
    }
    hw_status status = HW_ERR_INPUT;
    if (opened->wood > HW_PLACED_PROPOSED) {
        status = read_by_last(opened, request, last, followed, sought, limits, now, &reading, &why);
    }
    if (status == HW_OK) {
        hw_marks_free(&opened->marks);
        opened->marks = reading.marks;
        reading.marks = (hw_marks){0};
        hw_reading_free(&reading);
        opened->card = HW_PLACED_SURE;
    } else if (status == HW_ERR_STORAGE) {
        hw_fail_as(err, &why);
    } else {
        status = find_card(opened, sought, err);
    }
    return status;
}

// ---- Both --------------------------------------------------------------------------

// What following takes and gives; the card is sought meanwhile.
typedef struct following {
    hw_opened *opened;
    const hw_event *last;
    const hw_limits *limits;
    hw_followed *followed;
    hw_steps_sought *sought;
    hw_error *err;
    hw_photo_small small;
    hw_status status;
} following;

static void do_follow(void *context)
{
    following *f = context;
    f->status = follow(f->opened, &f->small, f->last, f->limits, f->followed, f->err);
}

static void do_seek(void *context)
{
    following *f = context;
    hw_error unheard = {0}; // who needs it seeks it again
    f->sought->done =
        hw_marks_find_card_in(f->opened->photo, &f->small, &f->sought->find, &unheard) == HW_OK;
}

// A photo held by hand wants both, and on a tripod the card is seldom in its place either. Both look at the small picture
// alone, so it does not matter how the photo's colours are made.
static hw_status follow_and_seek(following *f)
{
    f->status = hw_photo_make_small(f->opened->photo, HW_MARKS_SMALL_PX, &f->small, f->err);
    if (f->status == HW_OK) {
        hw_work_beside((hw_task){do_follow, f}, (hw_task){do_seek, f});
    }
    hw_photo_small_free(&f->small);
    return f->status;
}

static hw_status place_marks(hw_opened *opened, const hw_open_request *request,
                             const hw_limits *limits, int64_t now, hw_error *err)
{
    hw_followed followed = {0};
    hw_steps_sought sought = {0};
    const hw_event *last = last_photo(opened, request->from);
    following both = {.opened = opened,
                      .last = last,
                      .limits = limits,
                      .followed = &followed,
                      .sought = &sought,
                      .err = err};
    hw_status status = last ? follow_and_seek(&both) : HW_OK;
    if (status == HW_OK) {
        status = place_card(opened, request, last, &followed, &sought, limits, now, err);
    }
    opened->marks.width_px = hw_photo_facts_of(opened->photo)->width_px;
    opened->marks.height_px = hw_photo_facts_of(opened->photo)->height_px;
    hw_followed_free(&followed);
    hw_steps_sought_free(&sought);
    return status;
}

bool hw_steps_known_card(const hw_job *job, const char *view, hw_from from, hw_lab *out)
{
    const hw_event *last = hw_steps_last_alike(job, view, from);
    hw_warnings unheard = {0};
    bool known = last && !last->of.photo.measured && last->of.photo.has_card_lab;
    *out = known ? last->of.photo.card_lab : (hw_lab){0};
    hw_steps_take_measured_card(job, &known, out, &unheard);
    return known;
}

// ---- Opening -----------------------------------------------------------------------

static hw_status take_words(const hw_open_request *request, hw_opened *out, hw_error *err)
{
    const char *view = request->view ? request->view : "front";
    hw_copy_text(out->cameras_path, sizeof out->cameras_path,
                 request->cameras_path ? request->cameras_path : "");
    hw_copy_text(out->view, sizeof out->view, view);
    return hw_name_is_usable(view) ? HW_OK
                                   : hw_fail(err, HW_ERR_CALL, "view-name", view,
                                             "Use a short plain name, as front or left side.",
                                             "this cannot be the name of a view");
}

static hw_status decode(const hw_open_request *request, const hw_limits *limits, hw_photo **out,
                        hw_error *err)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    const char *called = request->name ? request->name : request->path;
    hw_error why = {0};
    hw_status status = hw_file_read(request->path, limits->file_bytes, &bytes, &count, &why);
    if (status != HW_OK) { // where the file lies is nobody's business
        return hw_fail(err, status, why.code, called, why.next, "%s", why.what);
    }
    status = hw_photo_decode(bytes, count, called, limits, out, err);
    hw_free(bytes);
    return status;
}

hw_status hw_steps_open(const hw_open_request *request, const hw_limits *limits, int64_t now,
                        hw_opened *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_opened opened = {0};
    hw_status status = take_words(request, &opened, err);
    if (status == HW_OK && request->folder) {
        status = hw_job_open(request->folder, &bounds, &opened.job, err);
    }
    if (status == HW_OK) {
        status = decode(request, &bounds, &opened.photo, err);
    }
    if (status == HW_OK && opened.job) {
        hw_warnings_append(&opened.warnings, hw_job_warnings(opened.job));
        opened.has_card_lab =
            hw_steps_known_card(opened.job, opened.view, request->from, &opened.card_lab);
    }
    if (status == HW_OK && !request->unplaced) {
        status = place_marks(&opened, request, &bounds, now, err);
    }
    if (status != HW_OK) {
        hw_opened_free(&opened);
        return status;
    }
    *out = opened;
    return HW_OK;
}

void hw_steps_open_ask(const hw_opened *opened, const hw_marks *marks, hw_question *out)
{
    hw_photo_request nothing_said = {0};
    *out = (hw_question){0};
    if (opened->job) {
        hw_steps_ask_about(opened->job, &nothing_said, marks, out);
    }
}

// Photo pixels by which the picture's last row or column reaches beyond the photo.
static double beyond(double longer, double shorter, size_t longer_px)
{
    double scale = longer / (double)longer_px;
    return ceil(shorter / scale - 1e-9) * scale - shorter;
}

// A picture is stretched over its photo, and marks are drawn on it: a little smaller, its last row ends where the photo
// does.
static size_t even_size(const hw_photo_facts *facts, size_t longer_px)
{
    const double most = 0.25, least_share = 0.9; // of a photo pixel; of the size (chosen)
    double width = (double)facts->width_px, height = (double)facts->height_px;
    double longer = fmax(width, height), shorter = fmin(width, height);
    size_t best = longer_px;
    if (longer_px == 0 || (double)longer_px >= longer) {
        return longer_px;
    }
    for (size_t px = longer_px; (double)px > least_share * (double)longer_px; px--) {
        if (beyond(longer, shorter, px) < beyond(longer, shorter, best)) {
            best = px;
        }
        if (beyond(longer, shorter, best) <= most) {
            break;
        }
    }
    return best;
}

hw_status hw_steps_open_picture(const hw_photo *photo, const hw_light *light, size_t longer_px,
                                hw_shown *out, hw_error *err)
{
    hw_picture picture = {0};
    size_t size = even_size(hw_photo_facts_of(photo), longer_px);
    hw_status status = hw_picture_make(photo, light, NULL, size, NULL, &picture, err);
    if (status == HW_OK) {
        status = hw_picture_show(&picture, out, err);
    }
    hw_picture_free(&picture);
    return status;
}
