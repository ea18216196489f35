// job_camera.c: what chart photos showed of the finisher's cameras, one file for all jobs:
//
//   {"format":1,"seen":[a photo, ...]}     (each in job_camera_json.c)
//
// It holds what was seen, not what follows from it: that is computed anew each time (hw_camera_fit), so that a better
// version of the program makes more of the same photos.
//
// What always holds, as for the shelf: a change reads the file under a lock (cameras.json.lock beside it), replaces it
// whole, keeps members that this version does not know, and what is written was read again first.
#include "job_internal.h"

static const size_t seen_most = 240;      // of all cameras: beyond that the oldest go first
static const size_t cameras_times = 4;    // the file may be so many times as large as a marks file
static const char *const ours[] = {NULL}; // no member of ours may be missing

bool hw_cameras_user_path(char *out, size_t size)
{
    return hw_own_path("cameras.json", out, size);
}

static bool is_of(const hw_camera_seen *seen, const char *camera, const char *lamp)
{
    return hw_same_lamp(seen->camera, camera) && (!lamp || hw_same_lamp(seen->lamp, lamp));
}

// ---- Reading -----------------------------------------------------------------------

static hw_status bad_file(const char *path, const char *what, hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "cameras-format", path,
                   "Mend the file, or move it away and learn the cameras again.", "%s", what);
}

static hw_status read_tree(const hw_json *root, const char *path, hw_cameras *out, hw_error *err)
{
    const hw_json *list = hw_json_member(root, "seen");
    double format = 0.0;
    if (hw_json_member_number(root, "format", &format) && format > 1.0) {
        return hw_fail(err, HW_ERR_INPUT, "cameras-format", path,
                       "Use that version of huewright, or name another file with --cameras.",
                       "a newer huewright wrote this file of cameras (format %g, this one reads 1)",
                       format);
    }
    if (format != 1.0 || !hw_json_is_array(list) || hw_json_count(list) > seen_most) {
        return bad_file(path, "this is no file of cameras that this version can read", err);
    }
    out->seen = hw_alloc_array(hw_json_count(list), sizeof *out->seen);
    if (!out->seen) {
        return hw_fail_memory(err, "reading the learned cameras");
    }
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        const char *why = hw_camera_read_seen(item, &out->seen[out->count]);
        if (why) {
            char what[200];
            hw_format_text(what, sizeof what, "photo %zu %s", out->count + 1, why);
            return bad_file(path, what, err);
        }
        out->count++;
    }
    return HW_OK;
}

static hw_limits file_limits(const hw_limits *limits)
{
    hw_limits bounds = limits ? *limits : hw_limits_default();
    bounds.json_bytes *= cameras_times;
    return bounds;
}

// As a tree too; a missing file is empty and *tree NULL.
static hw_status read_file(const char *path, const hw_limits *bounds, hw_json **tree,
                           hw_cameras *out, hw_error *err)
{
    hw_status status = hw_own_read(path, bounds, tree, err);
    return status == HW_OK && *tree ? read_tree(*tree, path, out, err) : status;
}

hw_status hw_cameras_load(const char *path, const hw_limits *limits, hw_cameras *out, hw_error *err)
{
    hw_limits bounds = file_limits(limits);
    hw_json *tree = NULL;
    hw_cameras read = {0};
    hw_status status = read_file(path, &bounds, &tree, &read, err);
    if (status == HW_OK) {
        *out = read;
    } else {
        hw_cameras_free(&read);
    }
    hw_json_free(tree);
    return status;
}

void hw_cameras_free(hw_cameras *cameras)
{
    if (cameras) {
        hw_free(cameras->seen);
        *cameras = (hw_cameras){0};
    }
}

// ---- Changing ----------------------------------------------------------------------

// One change: what is added, or what is forgotten.
typedef struct change {
    const hw_camera_seen *add;
    size_t count;
    const char *forget, *lamp; // a camera, under a lamp or any
    size_t gone;
} change;

static bool is_same_photo(const hw_camera_seen *one, const hw_camera_seen *other)
{
    return strcmp(one->photo, other->photo) == 0 && is_of(one, other->camera, other->lamp);
}

// How many of that camera and lamp are newer than `at`, or stand behind it among those as old.
static size_t newer_than(const hw_cameras *old, size_t at)
{
    const hw_camera_seen *this = &old->seen[at];
    size_t newer = 0;
    for (size_t i = 0; i < old->count; i++) {
        const hw_camera_seen *one = &old->seen[i];
        newer += is_of(one, this->camera, this->lamp) &&
                 (one->at > this->at || (one->at == this->at && i > at));
    }
    return newer;
}

static bool stays(const hw_cameras *old, size_t at, const change *what)
{
    const hw_camera_seen *one = &old->seen[at];
    size_t of_its_camera = 0;
    if (what->forget && is_of(one, what->forget, what->lamp)) {
        return false;
    }
    for (size_t i = 0; i < what->count; i++) {
        if (is_same_photo(one, &what->add[i])) {
            return false;
        }
        of_its_camera += is_of(one, what->add[i].camera, what->add[i].lamp);
    }
    return newer_than(old, at) + of_its_camera < HW_CAMERA_PHOTOS_MOST &&
           old->count - at + what->count <= seen_most;
}

static hw_json *build(const hw_json *old, const hw_cameras *cameras, change *what)
{
    hw_json *root = hw_json_new_object();
    hw_json_add_number(root, "format", 1.0);
    hw_json *list = hw_json_add_array(root, "seen");
    size_t i = 0;
    for (const hw_json *item = hw_json_first(hw_json_member(old, "seen")); item;
         item = hw_json_next(item), i++) {
        if (stays(cameras, i, what)) {
            hw_json_add_tree(list, NULL, hw_json_copy(item));
        } else {
            what->gone++;
        }
    }
    for (size_t k = 0; k < what->count; k++) {
        hw_json *made = hw_camera_seen_json(&what->add[k]);
        i = 0;
        for (const hw_json *item = hw_json_first(hw_json_member(old, "seen")); item;
             item = hw_json_next(item), i++) {
            if (is_same_photo(&cameras->seen[i], &what->add[k])) {
                hw_own_keep_unknown(item, made, ours);
            }
        }
        hw_json_add_tree(list, NULL, made);
    }
    hw_own_keep_unknown(old, root, ours);
    return root;
}

// Reads the text again as the next call will, then puts it in the file's place.
static hw_status write_checked(const char *path, const char *text, const hw_limits *bounds,
                               hw_error *err)
{
    hw_json *tree = NULL;
    hw_cameras again = {0};
    hw_error why = {0};
    hw_status status = hw_json_parse(text, strlen(text), bounds, path, &tree, &why);
    if (status == HW_OK) {
        status = read_tree(tree, path, &again, &why);
    }
    if (status == HW_ERR_STORAGE) {
        status = hw_fail_memory(err, "writing the learned cameras");
    } else if (status != HW_OK) {
        status = hw_fail(err, HW_ERR_CALL, "camera-keep", path,
                         "Check what was entered; the file is as it was.",
                         "this cannot be kept: %s", why.what);
    } else {
        status = hw_file_replace(path, text, strlen(text), err);
    }
    hw_cameras_free(&again);
    hw_json_free(tree);
    return status;
}

static hw_status refuse_unknown(const change *what, hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "camera-unknown", what->forget,
                   "huewright camera show lists the cameras and their lamps.",
                   what->lamp ? "nothing was learned of this camera under %s"
                              : "nothing was learned of this camera%s",
                   what->lamp ? what->lamp : "");
}

static bool holds(const hw_cameras *cameras, const char *camera, const char *lamp)
{
    for (size_t i = 0; i < cameras->count; i++) {
        if (is_of(&cameras->seen[i], camera, lamp)) {
            return true;
        }
    }
    return false;
}

static hw_status change_file(const char *path, const hw_limits *limits, change *what, hw_error *err)
{
    hw_limits bounds = file_limits(limits);
    hw_append *lock = NULL;
    hw_json *tree = NULL, *made = NULL;
    hw_cameras cameras = {0};
    char *text = NULL;
    hw_status status = hw_own_make_folder(path, err);
    if (status == HW_OK) {
        status = hw_own_lock(path, &lock, err);
    }
    if (status == HW_OK) {
        status = read_file(path, &bounds, &tree, &cameras, err);
    }
    if (status == HW_OK && what->forget && !holds(&cameras, what->forget, what->lamp)) {
        status = refuse_unknown(what, err);
    }
    if (status == HW_OK) {
        made = build(tree, &cameras, what);
        status = made ? hw_json_print(made, true, &text, err)
                      : hw_fail_memory(err, "writing the learned cameras");
    }
    if (status == HW_OK) {
        status = write_checked(path, text, &bounds, err);
    }
    hw_free(text);
    hw_json_free(made);
    hw_json_free(tree);
    hw_cameras_free(&cameras);
    hw_append_close(&lock);
    return status;
}

hw_status hw_cameras_keep(const char *path, const hw_limits *limits, const hw_camera_seen *seen,
                          size_t count, hw_error *err)
{
    change what = {.add = seen, .count = count};
    return count > 0 ? change_file(path, limits, &what, err) : HW_OK;
}

hw_status hw_cameras_forget(const char *path, const hw_limits *limits, const char *camera,
                            const char *lamp, size_t *gone, hw_error *err)
{
    change what = {.forget = camera, .lamp = lamp};
    if (!hw_file_exists(path)) {
        return refuse_unknown(&what, err);
    }
    hw_status status = change_file(path, limits, &what, err);
    if (status == HW_OK && gone) {
        *gone = what.gone;
    }
    return status;
}

// ---- Asking ------------------------------------------------------------------------

bool hw_cameras_find(const hw_cameras *cameras, const char *camera, const char *lamp, int64_t now,
                     hw_camera *out)
{
    const hw_camera_seen *list[HW_CAMERA_PHOTOS_MOST];
    size_t count = 0;
    if (!camera || !camera[0] || !lamp || !lamp[0]) {
        return false;
    }
    for (size_t i = cameras->count; i-- > 0 && count < HW_CAMERA_PHOTOS_MOST;) {
        if (is_of(&cameras->seen[i], camera, lamp)) {
            list[count++] = &cameras->seen[i];
        }
    }
    return count > 0 && hw_camera_fit(list, count, now, out);
}
