// steps_camera.c: photos of a chart that teach a camera under a lamp, and what is known of a camera when a photo of it
// is read.
//
// What always holds: nothing is kept before all photos of a call were read and found good; a file of cameras that
// cannot be read stops no reading.
#include "steps_internal.h"

#include <string.h>

// ---- Names and places --------------------------------------------------------------

static hw_status cameras_path(const char *path, char *out, size_t size, hw_error *err)
{
    bool known = path ? hw_copy_text(out, size, path) : hw_cameras_user_path(out, size);
    if (!known || !out[0]) {
        return hw_fail(err, HW_ERR_CALL, "shelf-nowhere", path ? path : "the learned cameras",
                       "Name a file with --cameras FILE.",
                       "there is no place known for a file of yours");
    }
    return HW_OK;
}

static hw_status refuse_missing(const char *path, hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "cameras-missing", path,
                   "Check the name of the file, or leave it away to use your own.",
                   "there is no such file of cameras");
}

static hw_status check_lamp(const char *lamp, hw_error *err)
{
    if (!lamp || !lamp[0]) {
        return hw_fail(err, HW_ERR_CALL, "camera-lamp", "camera learn",
                       "Name the lamp, as --lamp \"bench lamp\", and name it so with later photos.",
                       "what a chart says of a camera holds under its own lamp alone, and none is "
                       "named");
    }
    if (!hw_name_is_usable(lamp)) {
        return hw_fail(err, HW_ERR_CALL, "lamp-name", lamp,
                       "Use a short plain name, as window or bench lamp.",
                       "this cannot be the name of a lamp");
    }
    return HW_OK;
}

// As the file has it, else as the person said.
static const char *camera_of(const hw_photo_facts *facts, const char *said)
{
    return facts->camera[0] ? facts->camera : said ? said : "";
}

void hw_steps_name_camera(const char *camera, hw_reading *reading)
{
    if (camera && !reading->photo.camera[0]) {
        hw_copy_text(reading->photo.camera, sizeof reading->photo.camera, camera);
    }
}

// ---- For a photo that is read ------------------------------------------------------

bool hw_steps_find_camera(const hw_read_request *request, const char *lamp,
                          const hw_photo_facts *facts, const hw_limits *limits, hw_camera *out,
                          hw_warnings *warnings)
{
    char path[1024];
    const char *camera = camera_of(facts, request->camera);
    hw_cameras known = {0};
    hw_error why = {0};
    if (request->plain_camera || !lamp || !lamp[0] || !camera[0]) {
        return false;
    }
    hw_status status = cameras_path(request->cameras_path, path, sizeof path, NULL);
    if (status != HW_OK) {
        return false;
    }
    if (request->cameras_path && !hw_file_exists(path)) {
        status = refuse_missing(path, &why);
    } else {
        status = hw_cameras_load(path, limits, &known, &why);
    }
    if (status != HW_OK) {
        hw_warn(warnings, "What was learned of cameras is not used: %s: %s. %s", why.subject,
                why.what, why.next);
    }
    bool found = hw_cameras_find(&known, camera, lamp, request->now, out);
    if (found) { // by the names that this photo goes by
        hw_copy_text(out->camera, sizeof out->camera, camera);
    }
    hw_cameras_free(&known);
    return found;
}

// ---- Learning ----------------------------------------------------------------------

typedef struct lesson {
    hw_camera_seen *seen; // of each photo
    size_t count;
    hw_marks marks;
    hw_photo *sheet;
    char path[1024];
} lesson;

static hw_status refuse_unnamed(const char *file, const char *camera, hw_error *err)
{
    return hw_fail(
        err, HW_ERR_CALL, "camera-name", camera[0] ? camera : file,
        "Take the file as it came from the camera, or name the camera with --camera NAME, "
        "here and with later photos.",
        camera[0] ? "this cannot be the name of a camera"
                  : "the file does not say which camera took it");
}

// Names the photo's camera; all photos must be of one.
static hw_status name_camera(lesson *work, const hw_photo_facts *facts, const char *said,
                             hw_camera_seen *seen, hw_error *err)
{
    const char *camera = camera_of(facts, said);
    if (!hw_name_is_usable(camera)) {
        return refuse_unnamed(facts->file, camera, err);
    }
    hw_copy_text(seen->camera, sizeof seen->camera, camera);
    if (work->count > 0 && strcmp(work->seen[0].camera, camera) != 0) {
        return hw_fail(err, HW_ERR_CALL, "camera-two", facts->file,
                       "Learn the photos of each camera on their own.",
                       "it was taken by %s, the first photo by %s", camera, work->seen[0].camera);
    }
    return HW_OK;
}

static hw_status refuse_twice(const lesson *work, const hw_camera_seen *seen, const char *file,
                              hw_error *err)
{
    for (size_t i = 0; i < work->count; i++) {
        if (strcmp(work->seen[i].photo, seen->photo) == 0) {
            return hw_fail(err, HW_ERR_CALL, "photo-twice", file, "Name each photo once.",
                           "this photo is named twice");
        }
    }
    return HW_OK;
}

// Where no marks are given each photo's chart is found.
static hw_status learn_decoded(lesson *work, const hw_read_request *read, const hw_photo *photo,
                               const hw_limits *limits, hw_camera_seen *seen, hw_warnings *warnings,
                               hw_error *err)
{
    const hw_card_options card = {
        .has_lab = read->has_card_lab, .lab = read->card_lab, .sheet = work->sheet};
    hw_marks marks = {0};
    hw_error why = {0};
    hw_status status = hw_marks_copy(&work->marks, &marks, &why);
    if (status == HW_OK) {
        status = hw_steps_place_card(photo, read->is_the_card, NULL, NULL, limits, &marks, warnings,
                                     &why);
    }
    if (status != HW_OK && strncmp(why.code, "card-", 5) == 0) { // a plain card would teach nothing
        status = hw_fail(err, HW_ERR_INPUT, "camera-chart", hw_photo_facts_of(photo)->file,
                         "Mark the chart by the four outer corners of its patches: --chart "
                         "\"x1,y1 x2,y2 x3,y3 x4,y4\".",
                         "no colour chart is marked, and none was surely found in the picture");
    } else if (status != HW_OK) {
        status = hw_fail_as(err, &why);
    }
    if (status == HW_OK) {
        status = hw_card_learn(photo, &marks, &card, seen, err);
    }
    hw_marks_free(&marks);
    return status;
}

static hw_status learn_photo(lesson *work, const hw_read_request *read, const char *path,
                             const hw_limits *limits, int64_t now, hw_warnings *warnings,
                             hw_error *err)
{
    hw_camera_seen *seen = &work->seen[work->count];
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_photo *photo = NULL;
    hw_status status = hw_file_read(path, limits->file_bytes, &bytes, &count, err);
    if (status == HW_OK) {
        status = hw_photo_decode(bytes, count, path, limits, &photo, err);
    }
    if (status == HW_OK) {
        status = name_camera(work, hw_photo_facts_of(photo), read->camera, seen, err);
    }
    if (status == HW_OK) {
        hw_warnings_append(warnings, &hw_photo_facts_of(photo)->warnings);
        status = learn_decoded(work, read, photo, limits, seen, warnings, err);
    }
    if (status == HW_OK) {
        status = name_camera(work, hw_photo_facts_of(photo), read->camera, seen, err);
        hw_sha256_hex(bytes, count, seen->photo);
        hw_steps_name_of_file(seen->file, sizeof seen->file, path);
        hw_copy_text(seen->lamp, sizeof seen->lamp, read->lamp);
        seen->at = now;
    }
    if (status == HW_OK) {
        status = refuse_twice(work, seen, path, err);
    }
    work->count += status == HW_OK;
    hw_photo_free(photo);
    hw_free(bytes);
    return status;
}

static hw_status learn_all(lesson *work, const hw_camera_request *request, const hw_limits *limits,
                           int64_t now, hw_warnings *warnings, hw_error *err)
{
    const hw_read_request *read = &request->read;
    hw_status status = check_lamp(read->lamp, err);
    if (status == HW_OK) {
        status = cameras_path(read->cameras_path, work->path, sizeof work->path, err);
    }
    if (status == HW_OK) {
        status = hw_steps_marks(read, limits, &work->marks, warnings, err);
    }
    if (status == HW_OK && read->sheet_path) {
        status = hw_photo_load(read->sheet_path, limits, &work->sheet, err);
    }
    if (status == HW_OK) {
        work->seen = hw_alloc_array(request->photo_count, sizeof *work->seen);
        status = work->seen ? HW_OK : hw_fail_memory(err, "learning the camera");
    }
    for (size_t i = 0; i < request->photo_count && status == HW_OK; i++) {
        status = learn_photo(work, read, request->photo[i], limits, now, warnings, err);
    }
    return status;
}

// As it is known now, with what was there before.
static hw_status know_again(const lesson *work, const hw_limits *limits, int64_t now,
                            hw_camera *out, hw_error *err)
{
    hw_cameras known = {0};
    const hw_camera_seen *first = &work->seen[0];
    hw_status status = hw_cameras_load(work->path, limits, &known, err);
    if (status == HW_OK && !hw_cameras_find(&known, first->camera, first->lamp, now, out)) {
        status = hw_fail(err, HW_ERR_STORAGE, "camera-keep", work->path,
                         "Look whether another program changes this file, and learn it again.",
                         "the camera is not there after it was written");
    }
    hw_cameras_free(&known);
    return status;
}

hw_status hw_steps_camera_learn(const hw_camera_request *request, const hw_limits *limits,
                                int64_t now, hw_camera_lesson *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    lesson work = {0};
    hw_camera_lesson made = {.photos = request->photo_count};
    hw_status status = learn_all(&work, request, &bounds, now, &made.warnings, err);
    if (status == HW_OK) {
        status = hw_cameras_keep(work.path, &bounds, work.seen, work.count, err);
    }
    if (status == HW_OK) {
        status = know_again(&work, &bounds, now, &made.camera, err);
    }
    if (status == HW_OK) {
        *out = made;
    }
    hw_marks_free(&work.marks);
    hw_photo_free(work.sheet);
    hw_free(work.seen);
    return status;
}

// ---- Showing and forgetting --------------------------------------------------------

static bool is_listed(const hw_camera *list, size_t count, const hw_camera_seen *seen)
{
    for (size_t i = 0; i < count; i++) {
        if (hw_same_lamp(list[i].camera, seen->camera) && hw_same_lamp(list[i].lamp, seen->lamp)) {
            return true;
        }
    }
    return false;
}

hw_status hw_steps_cameras(const char *path, const hw_limits *limits, int64_t now, hw_camera **out,
                           size_t *count, char *used_path, size_t size, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_cameras known = {0};
    hw_status status = cameras_path(path, used_path, size, err);
    if (status == HW_OK && path && !hw_file_exists(path)) {
        status = refuse_missing(path, err);
    }
    if (status == HW_OK) {
        status = hw_cameras_load(used_path, &bounds, &known, err);
    }
    hw_camera *list = NULL;
    if (status == HW_OK) {
        list = hw_alloc_array(known.count, sizeof *list);
        status = list ? HW_OK : hw_fail_memory(err, "reading the learned cameras");
    }
    size_t found = 0;
    for (size_t i = known.count;
         i-- > 0 && status == HW_OK;) { // those learned last stand last in the file
        const hw_camera_seen *seen = &known.seen[i];
        found += !is_listed(list, found, seen) &&
                 hw_cameras_find(&known, seen->camera, seen->lamp, now, &list[found]);
    }
    hw_cameras_free(&known);
    if (status == HW_OK) {
        *out = list;
        *count = found;
    }
    return status;
}

void hw_steps_cameras_free(hw_camera *cameras)
{
    hw_free(cameras);
}

hw_status hw_steps_camera_forget(const char *path, const char *camera, const char *lamp,
                                 const hw_limits *limits, size_t *gone, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    char file[1024];
    hw_status status = cameras_path(path, file, sizeof file, err);
    if (status == HW_OK && path && !hw_file_exists(path)) {
        status = refuse_missing(path, err);
    }
    return status == HW_OK ? hw_cameras_forget(file, &bounds, camera, lamp, gone, err) : status;
}
