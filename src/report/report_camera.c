// report_camera.c: learned cameras in words and as JSON; and what became of one in a reading.
//
//   camera show: {"file","cameras":[a camera, ...]}    camera learn: {"camera":{...},"photos_learned","warnings"}
//   a camera: {"camera","lamp","photos","learned_at","age_days",
//     "tone":{"contrast":{"value","u"},"lift":{...},"flare":{...}},   of its curve in the next photo
//     "scatter","colours","de00_card_alone","de00_learned"}           at the chart's colours nearest a mid-brown wood
#include "report_internal.h"

#include <math.h>

// The wood that a camera is told for where there is none: a mid-brown.
static const hw_lab mid_brown = {50.0, 12.0, 25.0};

static void add_age(hw_text *text, double days)
{
    double months = days / 30.44;
    if (days < 1.0) {
        hw_text_add(text, "today");
    } else if (days < 60.0) {
        double whole = floor(days);
        hw_text_add(text, "%.0f day%s ago", whole, whole < 1.5 ? "" : "s");
    } else {
        hw_text_add(text, "%.0f months ago", floor(months));
    }
}

void hw_report_add_learned(hw_text *text, double age_days, const char *lamp, size_t photos)
{
    hw_text_add(text, "learned ");
    add_age(text, age_days);
    hw_text_add(text, " under ");
    hw_report_add_clean(text, lamp);
    hw_text_add(text, " from %zu photo%s", photos, photos == 1 ? "" : "s");
}

// ---- In a reading ------------------------------------------------------------------

void hw_report_add_camera_use(hw_text *text, const hw_light *light)
{
    const hw_camera_use *use = &light->camera;
    if (use->photos == 0) {
        return;
    }
    hw_text_add(text, "    camera as ");
    hw_report_add_learned(text, use->age_days, use->lamp, use->photos);
    if (use->why_not[0]) {
        hw_text_add(text, ": left aside, %s\n", use->why_not);
        return;
    }
    hw_text_add(text, ": %s", use->curve ? "its tone curve is taken out" : "its curve is not used");
    if (use->colours) {
        hw_text_add(text,
                    ", its colours are put right (at the chart's colours nearest the wood off by "
                    "%.1f with the card alone, %.1f with it)",
                    use->before, use->after);
    } else {
        hw_text_add(text, ", its colours are left to the card");
    }
    hw_text_add(text, "\n");
}

void hw_report_json_camera_use(hw_json *light_told, const hw_light *light)
{
    const hw_camera_use *use = &light->camera;
    if (use->photos == 0) {
        return;
    }
    hw_json *told = hw_json_add_object(light_told, "camera_learned");
    hw_report_json_text(told, "lamp", use->lamp);
    hw_json_add_number(told, "photos", (double)use->photos);
    hw_json_add_rounded(told, "age_days", use->age_days, 1);
    hw_json_add_bool(told, "curve", use->curve);
    hw_json_add_bool(told, "colours", use->colours);
    hw_json_add_rounded(told, "card_moved", use->moved, 4);
    if (use->before > 0.0) {
        hw_json_add_rounded(told, "de00_card_alone", use->before, 3);
        hw_json_add_rounded(told, "de00_learned", use->after, 3);
    }
    if (use->why_not[0]) {
        hw_report_json_text(told, "why_not", use->why_not);
    }
}

// ---- On their own ------------------------------------------------------------------

static void add_curve(hw_text *text, const hw_camera *camera)
{
    double half[3];
    for (int k = 0; k < 3; k++) {
        half[k] = HW_NINETY * sqrt(fmax(camera->doubt.m[k][k], 0.0));
    }
    hw_text_add(text,
                "    its tone curve in the next photo: contrast %+.2f ± %.2f, lift %+.2f ± %.2f, "
                "stray light %.1f ± %.1f %%\n",
                camera->parameter[0], half[0], camera->parameter[1], half[1],
                100.0 * camera->parameter[2], 100.0 * half[2]);
    if (camera->photos > 1) {
        hw_text_add(text, "    from photo to photo it changes %s\n",
                    camera->scatter < 0.8   ? "less than cameras usually do"
                    : camera->scatter > 1.4 ? "more than cameras usually do: ranges are wide, "
                                              "look whether it fits its tones to the scene"
                                            : "as much as cameras usually do");
    }
}

static void add_colours(hw_text *text, const hw_camera *camera)
{
    double before, after;
    if (!hw_camera_near(camera, mid_brown, &before, &after)) {
        hw_text_add(text, "    its colours are not known: no chart was seen\n");
    } else {
        hw_text_add(
            text,
            "    at the chart's colours nearest brown wood off by %.1f with the card alone, "
            "by %.1f with this\n",
            before, after);
    }
}

static void add_camera(hw_text *text, const hw_camera *camera)
{
    hw_report_add_clean(text, camera->camera);
    hw_text_add(text, ": ");
    hw_report_add_learned(text, camera->age_days, camera->lamp, camera->photos);
    hw_text_add(text, "\n");
    add_curve(text, camera);
    add_colours(text, camera);
}

hw_status hw_report_cameras_text(const hw_camera *camera, size_t count, const char *path,
                                 char **out, hw_error *err)
{
    hw_text text = {0};
    if (count == 0) {
        hw_text_add(&text,
                    "No camera is learned yet. Photograph a 24-patch colour chart under your "
                    "lamp and teach it:\n"
                    "    huewright camera learn PHOTO --chart CORNERS --lamp L\n");
        return hw_report_finish(&text, out, err);
    }
    for (size_t i = 0; i < count; i++) {
        add_camera(&text, &camera[i]);
    }
    hw_text_add(&text, "\nKept in ");
    hw_report_add_clean(&text, path);
    hw_text_add(&text, "\nThey are used with photos of the same camera that name the same lamp; "
                       "ranges hold 9 times in 10.\n");
    return hw_report_finish(&text, out, err);
}

static void put_camera(hw_json *told, const hw_camera *camera)
{
    static const char *const name[3] = {"contrast", "lift", "flare"};
    char at[40];
    double before, after;
    hw_format_time(at, camera->learned_at);
    hw_report_json_text(told, "camera", camera->camera);
    hw_report_json_text(told, "lamp", camera->lamp);
    hw_json_add_number(told, "photos", (double)camera->photos);
    hw_json_add_text(told, "learned_at", at);
    hw_json_add_rounded(told, "age_days", camera->age_days, 1);
    hw_json *tone = hw_json_add_object(told, "tone");
    for (int k = 0; k < 3; k++) {
        hw_json *one = hw_json_add_object(tone, name[k]);
        hw_json_add_rounded(one, "value", camera->parameter[k], 4);
        hw_json_add_rounded(one, "u", sqrt(fmax(camera->doubt.m[k][k], 0.0)), 4);
    }
    hw_json_add_rounded(told, "scatter", camera->scatter, 3);
    bool known = hw_camera_near(camera, mid_brown, &before, &after);
    hw_json_add_bool(told, "colours", known);
    if (known) {
        hw_json_add_rounded(told, "de00_card_alone", before, 3);
        hw_json_add_rounded(told, "de00_learned", after, 3);
    }
}

hw_status hw_report_cameras_json(const hw_camera *camera, size_t count, const char *path,
                                 char **out, hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_report_json_text(root, "file", path);
    hw_json *list = hw_json_add_array(root, "cameras");
    for (size_t i = 0; i < count; i++) {
        put_camera(hw_json_add_object(list, NULL), &camera[i]);
    }
    return hw_report_json_finish(root, out, err);
}

hw_status hw_report_lesson_text(const hw_camera *camera, size_t photos, const hw_warnings *warnings,
                                const hw_report_style *style, char **out, hw_error *err)
{
    hw_text text = {0};
    if (!style->quiet && warnings->count > 0) {
        hw_report_add_warnings(&text, warnings);
        hw_text_add(&text, "\n");
    }
    hw_text_add(&text, "Learned from %zu photo%s.\n", photos, photos == 1 ? "" : "s");
    add_camera(&text, camera);
    if (!style->quiet) {
        hw_text_add(&text, "Photos of this camera that are read with --lamp '");
        hw_report_add_clean(&text, camera->lamp);
        hw_text_add(&text, "' use it. %s\n",
                    camera->photos < 3
                        ? "Two or three photos on other days tell how much its curve changes."
                        : "");
    }
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_lesson_json(const hw_camera *camera, size_t photos, const hw_warnings *warnings,
                                char **out, hw_error *err)
{
    hw_json *root = hw_json_new_object();
    put_camera(hw_json_add_object(root, "camera"), camera);
    hw_json_add_number(root, "photos_learned", (double)photos);
    hw_report_json_warnings(root, warnings);
    return hw_report_json_finish(root, out, err);
}

hw_status hw_report_camera_gone_text(const char *camera, const char *lamp, size_t gone, char **out,
                                     hw_error *err)
{
    hw_text text = {0};
    hw_report_add_clean(&text, camera);
    if (lamp) {
        hw_text_add(&text, " under ");
        hw_report_add_clean(&text, lamp);
    }
    hw_text_add(&text,
                ": forgotten, with %zu photo%s. Photos in jobs keep what they were read with.\n",
                gone, gone == 1 ? "" : "s");
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_camera_gone_json(const char *camera, const char *lamp, size_t gone, char **out,
                                     hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_report_json_text(root, "forgotten", camera);
    if (lamp) {
        hw_report_json_text(root, "lamp", lamp);
    }
    hw_json_add_number(root, "photos", (double)gone);
    return hw_report_json_finish(root, out, err);
}
