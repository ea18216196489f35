// card_camera.c: what several photos of one camera under one lamp teach of the next photo.
//
// The curve. Shot i follows parameters p_i = m + d_i: m is the camera's own, d_i what this shot does otherwise (a
// phone bends its tones from shot to shot). Before anything is seen, m may be almost anything: wider than
// cameras are for a reading (card_tone.c), so that a strange camera is not taken for one that strays. The steps of
// a shot give p_i with a normal likelihood (its fit less the prior), so m is a weighted mean. How wide d
// is, the photos say themselves: one factor on what is usual, by expectation and maximisation (Dempster, Laird and
// Rubin 1977), held by a prior of a few degrees of freedom. The next shot is m with the doubt of m and one more d.
// So photos that agree narrow it (to a bound), and photos that do not widen it. An old photo counts as a shot that strayed
// further. Stray light is the scene's more than the camera's: its own scatter stays as chosen.
//
// The matrix. Each photo's patches, straightened by its own curve and brought to their own greys (so that it does
// not matter which card lay beside them), all in one least squares (card_chart.c).
#include "card_internal.h"

#include <math.h>

// S.d. of contrast, lift and flare from shot to shot of one camera. Chosen: phones that fit their curve to the scene
// stray by about two thirds of what cameras differ by.
static const double shot[HW_TONE_PARAMETERS] = {0.08, 0.06, 0.002};
// Of that variance so much stays, however well photos agree (chosen): the next one may be of another mode of the phone.
static const double scatter_least = 0.5;
// S.d. of the camera's own. Chosen: real photos of a chart showed lifts of -0.2 and -0.4.
static const double own[HW_TONE_PARAMETERS] = {0.3, 0.3, 0.004};
static const double shot_dof = 3.0; // of the prior of the shots' factor (chosen)
// Days after which a photo counts as a shot that strayed 1.4 times as far (chosen).
static const double half_age_days = 180.0;
static const int turns = 60; // of expectation and maximisation; it has settled by then
static const double day_s = 86400.0;

// ---- Small symmetric matrices ------------------------------------------------------

static void times(const double (*a)[3], const double (*b)[3], double out[3][3])
{
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            out[r][c] = a[r][0] * b[0][c] + a[r][1] * b[1][c] + a[r][2] * b[2][c];
        }
    }
}

static void apply(const double (*a)[3], const double *v, double out[3])
{
    for (int r = 0; r < 3; r++) {
        out[r] = a[r][0] * v[0] + a[r][1] * v[1] + a[r][2] * v[2];
    }
}

// ---- The curve of one shot ---------------------------------------------------------

typedef struct shot_curve {
    hw_tone_fit fit;
    double precision[3][3]; // of its likelihood
    double weighted[3];     // that times the likelihood's mean
    double age;             // factor on the variance of its d
} shot_curve;

static void gather_steps(const hw_camera_seen *seen, hw_tone_steps *out)
{
    out->count = 0;
    for (size_t i = 0; i < seen->count; i++) {
        const hw_camera_patch *one = &seen->patch[i];
        if (one->chart_patch == 0 || one->chart_patch >= 19) {
            hw_tone_add_step(out, one->lab, one->u_L, one->seen, one->ln_light);
        }
    }
}

// The fit without its prior. Steps that do not lie on any such curve count less.
static bool read_shot(const hw_camera_seen *seen, int64_t now, shot_curve *out)
{
    hw_tone_steps steps;
    hw_tone_start usual = hw_tone_usual(false);
    gather_steps(seen, &steps);
    if (steps.count < 3 || !hw_tone_steps_differ(&steps) ||
        !hw_tone_solve(&steps, &usual, &out->fit)) {
        return false;
    }
    double dof = 3.0 * (double)steps.count - HW_TONE_UNKNOWNS;
    double stretch = fmax(1.0, out->fit.strain / fmax(dof, 1.0));
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            out->precision[r][c] = out->fit.inverse[r][c];
        }
    }
    if (!hw_card_invert(out->precision[0], 3, NULL)) {
        return false;
    }
    apply((const double(*)[3])out->precision, out->fit.p, out->weighted);
    for (int r = 0; r < 3; r++) {
        out->precision[r][r] -= 1.0 / usual.doubt.m[r][r];
        out->weighted[r] /= stretch;
        for (int c = 0; c < 3; c++) {
            out->precision[r][c] /= stretch;
        }
    }
    double age_days = now > seen->at ? (double)(now - seen->at) / day_s : 0.0;
    out->age = 1.0 + age_days / half_age_days;
    return true;
}

// ---- The curve of all of them ------------------------------------------------------

typedef struct belief {
    double m[3], doubt[3][3];
    double scatter; // variance of contrast and lift from shot to shot, over that of `shot`
} belief;

static void shot_variance(double scatter, double age, double out[3])
{
    for (int k = 0; k < 3; k++) {
        out[k] = shot[k] * shot[k] * age * (k < 2 ? scatter : 1.0);
    }
}

// Covariance of a shot's d when m is known: (S^-1 + precision)^-1 = W (1 + W precision W)^-1 W with W the root of S.
static bool stray_of(const shot_curve *one, double scatter, double out[3][3])
{
    double variance[3];
    shot_variance(scatter, one->age, variance);
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            out[r][c] = sqrt(variance[r] * variance[c]) * one->precision[r][c] + (r == c);
        }
    }
    if (!hw_card_invert(out[0], 3, NULL)) {
        return false;
    }
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            out[r][c] *= sqrt(variance[r] * variance[c]);
        }
    }
    return true;
}

// m of all shots, given the scatter.
static bool find_mean(const shot_curve *shots, size_t count, double scatter, belief *out)
{
    double right[3] = {0};
    out->scatter = scatter;
    memset(out->doubt, 0, sizeof out->doubt);
    for (int k = 0; k < 3; k++) {
        out->doubt[k][k] = 1.0 / (own[k] * own[k]);
    }
    for (size_t i = 0; i < count; i++) {
        double stray[3][3], part[3][3], less[3][3], moved[3];
        const double(*precision)[3] = (const double(*)[3])shots[i].precision;
        if (!stray_of(&shots[i], scatter, stray)) {
            return false;
        }
        times(precision, (const double(*)[3])stray, part);
        times((const double(*)[3])part, precision, less);
        apply((const double(*)[3])part, shots[i].weighted, moved);
        for (int r = 0; r < 3; r++) {
            right[r] += shots[i].weighted[r] - moved[r];
            for (int c = 0; c < 3; c++) {
                out->doubt[r][c] += precision[r][c] - less[r][c];
            }
        }
    }
    bool good = hw_card_invert(out->doubt[0], 3, NULL);
    apply((const double(*)[3])out->doubt, right, out->m);
    return good;
}

// Expected square of a shot's d in contrast and lift, over their variance at scatter 1.
static bool expected_square(const shot_curve *one, const belief *now, double *sum)
{
    double stray[3][3], pull[3][3], through[3][3], open[3], off[3];
    const double(*precision)[3] = (const double(*)[3])one->precision;
    if (!stray_of(one, now->scatter, stray)) {
        return false;
    }
    apply(precision, now->m, open);
    for (int k = 0; k < 3; k++) {
        open[k] = one->weighted[k] - open[k];
    }
    apply((const double(*)[3])stray, open, off);
    times((const double(*)[3])stray, precision, pull);
    times((const double(*)[3])pull, now->doubt, through);
    for (int k = 0; k < 2; k++) {
        double variance = stray[k][k];
        for (int j = 0; j < 3; j++) {
            variance += through[k][j] * pull[k][j];
        }
        *sum += (off[k] * off[k] + variance) / (shot[k] * shot[k] * one->age);
    }
    return true;
}

static bool find_belief(const shot_curve *shots, size_t count, belief *out)
{
    double scatter = 1.0;
    for (int turn = 0; turn < turns; turn++) {
        double sum = shot_dof;
        if (!find_mean(shots, count, scatter, out)) {
            return false;
        }
        for (size_t i = 0; i < count; i++) {
            if (!expected_square(&shots[i], out, &sum)) {
                return false;
            }
        }
        scatter = fmax(scatter_least, sum / (shot_dof + 2.0 * (double)count));
    }
    return find_mean(shots, count, scatter, out);
}

static void set_curve(const belief *found, hw_camera *out)
{
    double next[3];
    shot_variance(found->scatter, 1.0, next);
    memcpy(out->parameter, found->m, sizeof out->parameter);
    out->scatter = sqrt(found->scatter);
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            out->doubt.m[r][c] = found->doubt[r][c] + (r == c ? next[r] : 0.0);
        }
    }
}

// ---- The chart's colours -----------------------------------------------------------

static double straight_channel(double seen, const double *parameter)
{
    return seen > 0.0 && parameter ? hw_tone_light(hw_srgb_encoded(fmin(seen, 1.0)), parameter)
                                   : seen;
}

// Straightened (by no parameters: not) and divided by the light, in sharpened bands.
static void flatten(const hw_camera_patch *one, const double *parameter, double bands[3])
{
    double rgb[3];
    hw_linear_srgb_from_xyz(one->seen, rgb);
    for (int channel = 0; channel < 3; channel++) {
        rgb[channel] = straight_channel(rgb[channel], parameter);
    }
    hw_sharpen(hw_xyz_from_linear_srgb(rgb), bands);
    for (int band = 0; band < 3; band++) {
        bands[band] *= exp(-one->ln_light[band]);
    }
}

// ln of the factor a band that brings the chart's greys, or one of them alone, to what they are.
static bool find_gain(const hw_camera_seen *seen, const double *parameter, int only, double ln[3])
{
    double sum = 0.0;
    ln[0] = ln[1] = ln[2] = 0.0;
    for (size_t i = 0; i < seen->count; i++) {
        const hw_camera_patch *one = &seen->patch[i];
        double bands[3], wanted[3], u = hypot(0.01, 3.0 * one->u_L / (one->lab.L + 16.0));
        if (one->chart_patch < 19 || (only > 0 && one->chart_patch != only)) {
            continue;
        }
        flatten(one, parameter, bands);
        hw_sharpen(hw_xyz_from_lab(one->lab, hw_white_d50), wanted);
        for (int band = 0; band < 3; band++) {
            ln[band] += log(fmax(wanted[band], 1e-6) / fmax(bands[band], 1e-6)) / (u * u);
        }
        sum += 1.0 / (u * u);
    }
    for (int band = 0; band < 3 && sum > 0.0; band++) {
        ln[band] /= sum;
    }
    return sum > 0.0;
}

static size_t add_patches(const hw_camera_seen *seen, const double *parameter, int only,
                          hw_chart_patch *out)
{
    double gain[3];
    size_t count = 0;
    if (!find_gain(seen, parameter, only, gain)) {
        return 0;
    }
    for (size_t i = 0; i < seen->count; i++) {
        const hw_camera_patch *one = &seen->patch[i];
        double bands[3];
        if (one->chart_patch == 0) {
            continue;
        }
        flatten(one, parameter, bands);
        for (int band = 0; band < 3; band++) {
            bands[band] *= exp(gain[band]);
        }
        out[count++] = (hw_chart_patch){one->chart_patch, hw_unsharpen(bands),
                                        hw_xyz_from_lab(one->lab, hw_white_d50)};
    }
    return count;
}

// Mean miss of the patches of that number; below 0: there are none.
static double mean_miss(const hw_chart_patch *patches, size_t count, int number,
                        const double m[3][3])
{
    double sum = 0.0, n = 0.0;
    for (size_t i = 0; i < count; i++) {
        if (patches[i].number == number) {
            sum += hw_chart_miss(&patches[i], m);
            n += 1.0;
        }
    }
    return n > 0.0 ? sum / n : -1.0;
}

// A file that a person wrote may hold a patch of the chart twice.
#define PATCHES_MOST (HW_CAMERA_PATCHES_MOST * HW_CAMERA_PHOTOS_MOST)
static const int middle_grey = 22; // stands for the card where the card alone is asked

static void fit_colours(const hw_camera_seen *const *seen, const shot_curve *shots, size_t count,
                        hw_camera *out)
{
    hw_chart_patch patches[PATCHES_MOST], plain[PATCHES_MOST];
    size_t all = 0, all_plain = 0;
    for (size_t i = 0; i < count; i++) {
        all += add_patches(seen[i], shots[i].fit.p, 0, patches + all);
        all_plain += add_patches(seen[i], NULL, middle_grey, plain + all_plain);
        out->later_edition = seen[i]->later_edition;
    }
    out->has_matrix = all >= HW_CHART_LEAST && hw_chart_matrix(patches, all, 0, out->matrix);
    for (int number = 1; number <= 24; number++) {
        double without[3][3];
        bool good = out->has_matrix && hw_chart_matrix(patches, all, number, without);
        out->before[number - 1] = good ? mean_miss(plain, all_plain, number, NULL) : -1.0;
        out->after[number - 1] =
            good ? mean_miss(patches, all, number, (const double(*)[3])without) : -1.0;
    }
}

// ---- All of it ---------------------------------------------------------------------

void hw_card_uv(hw_xyz colour, double uv[2])
{
    double sum = colour.X + 15.0 * colour.Y + 3.0 * colour.Z;
    uv[0] = sum > 0.0 ? 4.0 * colour.X / sum : 0.0;
    uv[1] = sum > 0.0 ? 9.0 * colour.Y / sum : 0.0;
}

static void cover(const hw_camera_seen *seen, hw_camera *out)
{
    for (size_t i = 0; i < seen->count; i++) {
        const hw_camera_patch *one = &seen->patch[i];
        if (one->chart_patch == 0 || one->chart_patch >= 19) {
            out->light_low = fmin(out->light_low, one->seen.Y);
            out->light_high = fmax(out->light_high, one->seen.Y);
        }
    }
    hw_card_uv(seen->patch[0].seen, out->card_uv[out->photos++]);
    out->learned_at = seen->at > out->learned_at ? seen->at : out->learned_at;
}

bool hw_camera_fit(const hw_camera_seen *const *seen, size_t count, int64_t now, hw_camera *out)
{
    const hw_camera_seen *used[HW_CAMERA_PHOTOS_MOST];
    shot_curve shots[HW_CAMERA_PHOTOS_MOST];
    size_t n = 0;
    belief found;
    for (size_t i = 0; i < count && n < HW_CAMERA_PHOTOS_MOST; i++) {
        used[n] = seen[i];
        n += seen[i]->count > 0 && read_shot(seen[i], now, &shots[n]);
    }
    if (n == 0 || !find_belief(shots, n, &found)) {
        return false;
    }
    hw_camera camera = {.learned_at = used[0]->at, .light_low = INFINITY, .light_high = 0.0};
    hw_copy_text(camera.camera, sizeof camera.camera, used[0]->camera);
    hw_copy_text(camera.lamp, sizeof camera.lamp, used[0]->lamp);
    for (size_t i = 0; i < n; i++) {
        cover(used[i], &camera);
    }
    set_curve(&found, &camera);
    fit_colours(used, shots, n, &camera);
    camera.age_days = now > camera.learned_at ? (double)(now - camera.learned_at) / day_s : 0.0;
    *out = camera;
    return true;
}

bool hw_camera_near(const hw_camera *camera, hw_lab wood, double *before, double *after)
{
    int number[24], near[4];
    size_t count = 0;
    for (int i = 0; i < 24; i++) {
        if (camera->before[i] >= 0.0 && camera->after[i] >= 0.0) {
            number[count++] = i + 1;
        }
    }
    *before = *after = 0.0;
    if (!camera->has_matrix || count < 4) {
        return false;
    }
    hw_chart_nearest(number, count, camera->later_edition, wood, near);
    for (int k = 0; k < 4; k++) {
        *before += camera->before[near[k] - 1] / 4.0;
        *after += camera->after[near[k] - 1] / 4.0;
    }
    return true;
}
