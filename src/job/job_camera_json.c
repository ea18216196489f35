// job_camera_json.c: what a photo showed of a camera as JSON, and back; and a photo's own copy of what was learned.
//
//   {"camera":"Alder C2","lamp":"bench lamp","photo":"3f2a...","file":"chart.jpg","at":"2026-05-03T10:27:36Z",
//    "later_edition":true,
//    "patches":[{"patch":1,"lab":[37.54,14.37,14.92],"u_L":0.4,"seen":[0.09,0.08,0.05],"ln_light":[0,0,0]}, ...]}
//
// photo: SHA-256 of the file. later_edition: the chart is one made since November 2014. patches: the card (or what stood
// for it) first; `patch` is its number in the chart (without it, a plain grey), `lab` what it is, u_L the standard
// uncertainty of its L*, `seen` X, Y, Z under D50 as photographed (Y = 1 for the profile's white), ln_light the
// logarithm of the light there over that at the card, long, middle and short sharpened band.
//
// The copy in a job's log (camera_learned of a photo) holds conclusions, told in FORMAT.md.
//
// What always holds: nothing that is read here is out of its bounds, and a covariance is one.
#include "job_internal.h"

#include <math.h>

static const double number_most = 1e6, days_most = 1e6, miss_most = 200.0;

// ---- Numbers -----------------------------------------------------------------------

static bool read_number(const hw_json *json, const char *name, double least, double most,
                        double *out)
{
    return hw_json_member_number(json, name, out) && hw_own_inside(*out, least, most);
}

static bool read_name(const hw_json *json, const char *member, char *out, size_t size)
{
    const char *name = hw_json_member_text(json, member);
    return name && hw_name_is_usable(name) && hw_copy_text(out, size, name);
}

static void add_list(hw_json *parent, const char *name, const double *value, size_t count)
{
    hw_json *list = hw_json_add_array(parent, name);
    for (size_t i = 0; i < count; i++) {
        hw_json_add_number(list, NULL, value[i]);
    }
}

static void add_time(hw_json *parent, const char *name, int64_t at)
{
    char text[40];
    hw_format_time(text, at);
    hw_json_add_text(parent, name, text);
}

// ---- What a photo showed -----------------------------------------------------------

static bool read_patch(const hw_json *json, hw_camera_patch *out)
{
    double lab[3], seen[3], number = 0.0;
    const hw_json *patch = hw_json_member(json, "patch");
    if (patch && (!hw_json_number(patch, &number) || !hw_own_inside(number, 1.0, 24.0) ||
                  number != floor(number))) {
        return false;
    }
    if (!hw_own_read_list(hw_json_member(json, "lab"), lab, 3, -128.0, 128.0) ||
        !hw_own_inside(lab[0], 0.0, 100.0) || !read_number(json, "u_L", 1e-3, 20.0, &out->u_L) ||
        !hw_own_read_list(hw_json_member(json, "seen"), seen, 3, -1.0, 4.0) ||
        !hw_own_read_list(hw_json_member(json, "ln_light"), out->ln_light, 3, -5.0, 5.0)) {
        return false;
    }
    out->chart_patch = (int)number;
    out->lab = (hw_lab){lab[0], lab[1], lab[2]};
    out->seen = (hw_xyz){seen[0], seen[1], seen[2]};
    return true;
}

static bool is_sum(const char *text)
{
    return text && strlen(text) == 64 && strspn(text, "0123456789abcdef") == 64;
}

const char *hw_camera_read_seen(const hw_json *json, hw_camera_seen *out)
{
    const hw_json *patches = hw_json_member(json, "patches");
    const char *photo = hw_json_member_text(json, "photo"),
               *file = hw_json_member_text(json, "file");
    if (!read_name(json, "camera", out->camera, sizeof out->camera) ||
        !read_name(json, "lamp", out->lamp, sizeof out->lamp)) {
        return "does not say of which camera and lamp it is";
    }
    if (!is_sum(photo) || !hw_parse_time(hw_json_member_text(json, "at"), &out->at)) {
        return "does not say of which photo it is, or when it was learned";
    }
    hw_copy_text(out->photo, sizeof out->photo, photo);
    hw_copy_text(out->file, sizeof out->file, file ? file : "");
    hw_json_bool(hw_json_member(json, "later_edition"), &out->later_edition);
    if (!hw_json_is_array(patches) || hw_json_count(patches) == 0 ||
        hw_json_count(patches) > HW_CAMERA_PATCHES_MOST) {
        return "has no patches";
    }
    for (const hw_json *item = hw_json_first(patches); item; item = hw_json_next(item)) {
        if (!read_patch(item, &out->patch[out->count++])) {
            return "has a patch that cannot be";
        }
    }
    return NULL;
}

hw_json *hw_camera_seen_json(const hw_camera_seen *seen)
{
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "camera", seen->camera);
    hw_json_add_text(json, "lamp", seen->lamp);
    hw_json_add_text(json, "photo", seen->photo);
    hw_json_add_text(json, "file", seen->file);
    add_time(json, "at", seen->at);
    hw_json_add_bool(json, "later_edition", seen->later_edition);
    hw_json *list = hw_json_add_array(json, "patches");
    for (size_t i = 0; i < seen->count; i++) {
        const hw_camera_patch *one = &seen->patch[i];
        const double lab[3] = {one->lab.L, one->lab.a, one->lab.b};
        const double colour[3] = {one->seen.X, one->seen.Y, one->seen.Z};
        hw_json *told = hw_json_add_object(list, NULL);
        if (one->chart_patch > 0) {
            hw_json_add_number(told, "patch", (double)one->chart_patch);
        }
        add_list(told, "lab", lab, 3);
        hw_json_add_number(told, "u_L", one->u_L);
        add_list(told, "seen", colour, 3);
        add_list(told, "ln_light", one->ln_light, 3);
    }
    return json;
}

// ---- A photo's own copy ------------------------------------------------------------

static void add_misses(hw_json *parent, const char *name, const double value[24])
{
    hw_json *list = hw_json_add_array(parent, name);
    for (int i = 0; i < 24; i++) {
        hw_json_add_number(list, NULL, value[i] < 0.0 ? (double)NAN : value[i]); // NaN: null
    }
}

hw_json *hw_camera_json(const hw_camera *camera)
{
    const double(*v)[3] = camera->doubt.m;
    const double triangle[6] = {v[0][0], v[0][1], v[0][2], v[1][1], v[1][2], v[2][2]};
    const double light[2] = {camera->light_low, camera->light_high};
    hw_json *json = hw_json_new_object();
    hw_json_add_text(json, "camera", camera->camera);
    hw_json_add_text(json, "lamp", camera->lamp);
    hw_json_add_number(json, "photos", (double)camera->photos);
    add_time(json, "learned_at", camera->learned_at);
    hw_json_add_number(json, "age_days", camera->age_days);
    add_list(json, "curve", camera->parameter, 3);
    add_list(json, "covariance", triangle, 6);
    hw_json_add_number(json, "scatter", camera->scatter);
    add_list(json, "light", light, 2);
    hw_json *cards = hw_json_add_array(json, "card_uv");
    for (size_t i = 0; i < camera->photos; i++) {
        add_list(cards, NULL, camera->card_uv[i], 2);
    }
    if (camera->has_matrix) {
        hw_json_add_bool(json, "later_edition", camera->later_edition);
        add_list(json, "matrix", camera->matrix[0], 9);
        add_misses(json, "before", camera->before);
        add_misses(json, "after", camera->after);
    }
    return json;
}

static bool read_misses(const hw_json *list, double out[24])
{
    int found = 0;
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item), found++) {
        if (found == 24) {
            return false;
        }
        if (!hw_json_number(item, &out[found])) {
            out[found] = -1.0;
        } else if (!hw_own_inside(out[found], 0.0, miss_most)) {
            return false;
        }
    }
    return found == 24;
}

static bool read_colours(const hw_json *json, hw_camera *out)
{
    const hw_json *matrix = hw_json_member(json, "matrix");
    double flat[9];
    out->has_matrix = matrix != NULL;
    if (!matrix) {
        return true;
    }
    hw_json_bool(hw_json_member(json, "later_edition"), &out->later_edition);
    if (!hw_own_read_list(matrix, flat, 9, -100.0, 100.0)) {
        return false;
    }
    memcpy(out->matrix, flat, sizeof out->matrix);
    return read_misses(hw_json_member(json, "before"), out->before) &&
           read_misses(hw_json_member(json, "after"), out->after);
}

static bool read_cards(const hw_json *list, hw_camera *out)
{
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        if (out->photos == HW_CAMERA_PHOTOS_MOST ||
            !hw_own_read_list(item, out->card_uv[out->photos++], 2, 0.0, 1.0)) {
            return false;
        }
    }
    return out->photos > 0;
}

bool hw_camera_read(const hw_json *json, hw_camera *out)
{
    hw_camera read = {.photos = 0};
    double v[6], light[2], photos = 0.0;
    if (!read_name(json, "camera", read.camera, sizeof read.camera) ||
        !read_name(json, "lamp", read.lamp, sizeof read.lamp) ||
        !hw_parse_time(hw_json_member_text(json, "learned_at"), &read.learned_at) ||
        !read_number(json, "age_days", 0.0, days_most, &read.age_days) ||
        !hw_own_read_list(hw_json_member(json, "curve"), read.parameter, 3, -2.0, 2.0) ||
        !hw_own_read_list(hw_json_member(json, "covariance"), v, 6, -number_most, number_most) ||
        !read_number(json, "scatter", 0.0, number_most, &read.scatter) ||
        !hw_own_read_list(hw_json_member(json, "light"), light, 2, -1.0, 4.0) ||
        !read_number(json, "photos", 1.0, HW_CAMERA_PHOTOS_MOST, &photos) ||
        !read_cards(hw_json_member(json, "card_uv"), &read) || (double)read.photos != photos ||
        !read_colours(json, &read)) {
        return false;
    }
    read.light_low = light[0];
    read.light_high = light[1];
    read.doubt = (hw_covariance){{{v[0], v[1], v[2]}, {v[1], v[3], v[4]}, {v[2], v[4], v[5]}}};
    for (int k = 0; k < 3; k++) {
        if (!(read.doubt.m[k][k] > 0.0)) {
            return false;
        }
    }
    if (!hw_job_is_covariance(&read.doubt)) {
        return false;
    }
    *out = read;
    return true;
}
