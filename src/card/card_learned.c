// card_learned.c: what was learned of the camera, in a photo that has only a card.
//
// It is tested by all that the photo itself can say, and left aside, with a sentence, where it fails:
//   - the card is seen in another colour than in the learned photos: another lamp or white balance
//     (0.005 in u'v', as between photos of a job: HW_CARD_SAME of job.h);
//   - card or wood are darker or lighter than the greys of the learned photos were: the curve would be carried
//     beyond what it was seen on;
//   - neutral steps in the photo fit one another worse by the learned curve than by none.
// The matrix is used where it is worth it at the colours near this wood.
#include "card_internal.h"

#include <math.h>

static const double other_light = 0.005; // u'v'
static const double beyond = 1.15;       // of light: so far a curve may be carried on (chosen)
static const double worse = 0.01;        // of ln light: noise of a reading

static double moved_from(const hw_camera *camera, hw_xyz card)
{
    double uv[2], least = INFINITY;
    hw_card_uv(card, uv);
    for (size_t i = 0; i < camera->photos && i < HW_CAMERA_PHOTOS_MOST; i++) {
        least = fmin(least, hypot(uv[0] - camera->card_uv[i][0], uv[1] - camera->card_uv[i][1]));
    }
    return least;
}

// "" where this light of the photo is one that the curve was seen on.
static void test_range(const hw_camera *camera, const char *what, double Y, char *why, size_t size)
{
    if (Y * beyond < camera->light_low || Y > beyond * camera->light_high) {
        hw_format_text(why, size,
                       "%s is %s in this photo than any grey that it was learned from: expose as "
                       "then, or learn the camera again at this exposure",
                       what, Y > camera->light_high ? "lighter" : "darker");
    }
}

static void test_steps(const hw_camera *camera, const hw_references *references,
                       const hw_light *light, char *why, size_t size)
{
    const double none[HW_TONE_PARAMETERS] = {0};
    hw_tone_steps steps;
    hw_card_gather_steps(references, light, &steps);
    if (steps.count < 2 || !hw_tone_steps_differ(&steps)) {
        return;
    }
    double with = hw_tone_misfit(&steps, camera->parameter);
    double without = hw_tone_misfit(&steps, none);
    if (with > without + worse) {
        hw_format_text(why, size,
                       "the neutral steps in this photo fit one another worse by it (%.1f %%) than "
                       "without (%.1f %%): learn the camera again",
                       100.0 * with, 100.0 * without);
    }
}

static void find_why_not(const hw_camera *camera, const hw_references *references,
                         const hw_light *light, const hw_mean_wood *wood, hw_camera_use *use)
{
    use->moved = moved_from(camera, light->card_seen);
    if (use->moved > other_light) {
        hw_format_text(use->why_not, sizeof use->why_not,
                       "the card's colour is off by %.4f from the learned photos (u'v'; at most "
                       "%.3f under one lamp and white balance): name the lamp that it is, or set "
                       "the white balance as it was",
                       use->moved, other_light);
    }
    if (!use->why_not[0]) {
        test_range(camera, "the card", light->card_seen.Y, use->why_not, sizeof use->why_not);
    }
    if (!use->why_not[0] && wood->there) {
        test_range(camera, "the wood", wood->seen.Y, use->why_not, sizeof use->why_not);
    }
    if (!use->why_not[0]) {
        test_steps(camera, references, light, use->why_not, sizeof use->why_not);
    }
}

static void set_colours(const hw_camera *camera, const hw_mean_wood *wood, hw_light *light)
{
    hw_camera_use *use = &light->camera;
    bool known = hw_camera_near(camera, hw_card_wood_lab(light, wood), &use->before, &use->after);
    use->colours = known && use->after < use->before && use->after < HW_CHART_MISS_MOST;
    if (use->colours) {
        light->chart.used = true;
        memcpy(light->chart.matrix, camera->matrix, sizeof light->chart.matrix);
    }
}

hw_status hw_card_use_camera(const hw_photo *photo, const hw_marks *marks,
                             const hw_references *references, const hw_card_options *options,
                             hw_light *light, hw_error *err)
{
    const hw_camera *camera = options->camera;
    hw_camera_use *use = &light->camera;
    hw_mean_wood wood;
    hw_status status = hw_card_mean_wood(photo, marks, &wood, err);
    if (status != HW_OK || camera->photos == 0) {
        return status;
    }
    *use = (hw_camera_use){.photos = camera->photos, .age_days = camera->age_days};
    hw_copy_text(use->lamp, sizeof use->lamp, camera->lamp);
    find_why_not(camera, references, light, &wood, use);
    if (!use->why_not[0]) {
        hw_light with = *light;
        status = hw_card_fit(photo, references, options, camera, &with, err);
        if (status != HW_OK) {
            return status;
        }
        *light = with;
        use->curve = light->tone.straightens;
        set_colours(camera, &wood, light);
    } else {
        hw_warn_trouble(&light->warnings, HW_TROUBLE_REFERENCE, 0.3,
                        "What was learned of this camera was left aside: %s.", use->why_not);
    }
    return HW_OK;
}
