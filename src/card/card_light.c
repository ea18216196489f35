// card_light.c: cast and exposure from the grey card, by one factor for each Bradford-sharpened
// band: corrected = M^-1 diag(M t / M c) M seen, with t what the card is, c the card as seen
// (Lam 1985; ICC.1:2022 annex E). Exposure needs no step of its own: it is in the factors. Further
// references straighten the tone curve, even the light and mix the colours around it.
//
// What always holds:
//  (1) The whole picture scaled, card included, gives the same colours.
//  (2) A card that cannot carry the reading is refused with what to do; nothing is repaired
//      in silence.
//  (3) A reference that makes things worse is left aside, and that is said.
//
// Tried and left: CAT16 and factors on linear sRGB instead of Bradford. On simulated cameras
// and lamps they lie within 0.15 CIEDE2000 of each other; where Bradford and CAT16 part by more
// than 0.5 the light is strongly coloured, and that is a warning.
#include "card_internal.h"

#include <math.h>

static const double u_nominal[3] = {1.0, 0.6, 0.6};  // of the card's L*, a*, b* (chosen: printed
                                                     // cards differ by about one L*)
static const double u_measured[3] = {0.3, 0.2, 0.2}; // what small instruments agree to
static const double code_least = 20.0;     // mean of 255: below, flare and noise rule (chosen)
static const double gain_ratio_most = 6.0; // between bands; a candle in daylight setting: 4

// ---- Refusals -----------------------------------------------------------------------

static hw_status refuse_codes(const hw_reference *card, const char *file, hw_error *err)
{
    if (card->top_share > HW_CLIPPED_MOST) {
        return hw_fail(err, HW_ERR_INPUT, "card-overexposed", file,
                       "Lower the exposure, or take the card out of the direct light, and take "
                       "the photo again.",
                       "the grey card is overexposed: %.0f %% of it is at the top of the scale",
                       fmax(1.0, 100.0 * card->top_share));
    }
    if (card->bottom_share > HW_CLIPPED_MOST || card->mean_code < code_least) {
        return hw_fail(err, HW_ERR_INPUT, "card-underexposed", file,
                       "Give more light or a longer exposure, and take the photo again. A card "
                       "reads best at about half of the scale.",
                       "the grey card is far too dark to read: %.0f on a scale of 255",
                       card->mean_code);
    }
    return HW_OK;
}

static hw_status refuse_pattern(const hw_reference *card, const char *file, hw_error *err)
{
    if (!card->patterned) {
        return HW_OK;
    }
    return hw_fail(
        err, HW_ERR_INPUT, "card-patterned", file,
        "Mark only the plain grey, inside its rim, without print, shadow or shine.",
        "what is marked as the grey card is not one even grey: it varies by %.0f %% from "
        "place to place",
        100.0 * (card->left_over > HW_PATTERN_MOST ? card->left_over : card->spread));
}

static hw_status refuse_colour(const double gain[3], const char *file, hw_error *err)
{
    double most = fmax(gain[0], fmax(gain[1], gain[2]));
    double least = fmin(gain[0], fmin(gain[1], gain[2]));
    if (least > 0.0 && isfinite(most) && most / least <= gain_ratio_most) {
        return HW_OK;
    }
    return hw_fail(err, HW_ERR_INPUT, "card-coloured", file,
                   "Check that the mark lies on the grey card, or use a whiter lamp.",
                   "what is marked as the grey card is so strongly coloured that no lamp explains "
                   "it");
}

// ---- The gains ---------------------------------------------------------------------

// The cards together: each flattened to the light at the first one's place.
static hw_xyz cards_flat(const hw_references *references, const hw_light *light)
{
    hw_xyz sum = {0, 0, 0};
    double n = 0.0;
    for (size_t i = 0; i < references->count; i++) {
        const hw_reference *item = &references->item[i];
        bool card = i == 0 || (item->mark->role == HW_ROLE_CARD && item->usable);
        if (card) {
            hw_xyz flat = hw_light_flattened(light, item->seen, item->centre);
            sum = (hw_xyz){sum.X + flat.X, sum.Y + flat.Y, sum.Z + flat.Z};
            n += 1.0;
        }
    }
    return (hw_xyz){sum.X / n, sum.Y / n, sum.Z / n};
}

void hw_card_fit_gain(const hw_references *references, hw_light *light)
{
    double seen[3], wanted[3];
    hw_sharpen(cards_flat(references, light), seen);
    hw_sharpen(hw_xyz_from_lab(light->card_lab, hw_white_d50), wanted);
    for (int band = 0; band < 3; band++) {
        light->gain[band] = wanted[band] / seen[band];
    }
}

// Relative uncertainty of each band of the card: what it is, and how it was read.
static void gain_uncertainty(hw_light *light, double left_over)
{
    hw_xyz card_true = hw_xyz_from_lab(light->card_lab, hw_white_d50);
    for (int band = 0; band < 3; band++) {
        light->u_gain[band] = left_over / HW_GRID;
    }
    for (int axis = 0; axis < 3; axis++) {
        hw_lab moved = light->card_lab;
        *(axis == 0 ? &moved.L : axis == 1 ? &moved.a : &moved.b) += light->card_u[axis];
        double bands[3], moved_bands[3];
        hw_sharpen(card_true, bands);
        hw_sharpen(hw_xyz_from_lab(moved, hw_white_d50), moved_bands);
        for (int band = 0; band < 3; band++) {
            double change = log(fmax(moved_bands[band], 1e-9) / fmax(bands[band], 1e-9));
            light->u_gain[band] = hypot(light->u_gain[band], change);
        }
    }
}

// ---- The light ---------------------------------------------------------------------

// What a step of the file's codes is in ln light (sRGB is close to a power of 2.4 of code + 14, IEC
// 61966-2-1), as the standard deviation of a rounding error; colour: Cr and Cb move red and blue by 1.4
// and 1.8 codes (ITU-T T.871, section 7).
static void set_coarse(const hw_photo_facts *facts, const hw_reference *card, hw_field *field)
{
    const double rounding = 0.2887, power = 2.4, offset = 14.0, chroma = 1.6;
    double a_code = power / (card->mean_code + offset);
    field->coarse[0] = rounding * a_code * facts->luma_step;
    field->coarse[1] = rounding * a_code * chroma * facts->chroma_step;
}

static void start_light(const hw_photo *photo, const hw_references *references,
                        const hw_card_options *options, hw_light *light)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    const hw_reference *card = &references->item[0];
    light->card_measured = card->mark->role == HW_ROLE_CARD && options && options->has_lab;
    light->linear = facts->linear;
    light->card_lab = card->lab;
    memcpy(light->card_u, light->card_measured ? u_measured : u_nominal, sizeof light->card_u);
    light->card_seen = card->seen;
    light->card_spread = card->spread;
    light->field.centre = card->centre;
    light->field.width_px = (double)facts->width_px;
    light->field.height_px = (double)facts->height_px;
    light->field.scale_px = fmax(light->field.width_px, light->field.height_px);
    set_coarse(facts, card, &light->field);
    light->card_area = hw_mark_area(card->mark) / (light->field.width_px * light->field.height_px);
}

// Curve and light depend on each other: steps stand at different places, and a curve stretches the
// slope within a card. Twice around is enough.
static hw_status fit_curve_and_field(const hw_photo *photo, const hw_references *references,
                                     const hw_card_options *options, const hw_camera *camera,
                                     hw_light *light, hw_error *err)
{
    for (int turn = 0; turn < 2; turn++) {
        light->warnings.count = 0;
        hw_card_fit_tone(references, camera, light);
        hw_error why = {0};
        bool sheet = options && options->sheet &&
                     hw_card_read_sheet(options->sheet, photo, light, &why) == HW_OK;
        if (!sheet && hw_card_fit_field(references, light, err) != HW_OK) {
            return HW_ERR_STORAGE;
        }
        if (why.code[0]) {
            hw_warn_trouble(&light->warnings, HW_TROUBLE_REFERENCE, 0.5,
                            "The photo of the sheet was left aside: %s. %s", why.what, why.next);
        }
    }
    return HW_OK;
}

hw_status hw_card_fit(const hw_photo *photo, const hw_references *references,
                      const hw_card_options *options, const hw_camera *camera, hw_light *light,
                      hw_error *err)
{
    hw_status status = fit_curve_and_field(photo, references, options, camera, light, err);
    if (status == HW_OK) {
        hw_card_fit_gain(references, light);
    }
    return status;
}

hw_status hw_card_mean_wood(const hw_photo *photo, const hw_marks *marks, hw_mean_wood *out,
                            hw_error *err)
{
    hw_xyz sum = {0, 0, 0};
    hw_point centre = {0, 0};
    double n = 0.0;
    for (size_t i = 0; i < marks->count; i++) {
        const hw_mark *mark = &marks->mark[i];
        hw_card_pixels pixels = {0};
        if (!hw_role_is_wood(mark->role)) {
            continue;
        }
        hw_status status = hw_card_gather(photo, mark, 1.0, &pixels, err);
        if (status != HW_OK) {
            return status;
        }
        for (size_t k = 0; k < pixels.count; k++) {
            sum = (hw_xyz){sum.X + pixels.X[k], sum.Y + pixels.Y[k], sum.Z + pixels.Z[k]};
            centre.x += pixels.x[k];
            centre.y += pixels.y[k];
            n += 1.0;
        }
        hw_card_pixels_free(&pixels);
    }
    *out = (hw_mean_wood){.there = n > 0.0};
    if (out->there) {
        out->seen = (hw_xyz){sum.X / n, sum.Y / n, sum.Z / n};
        out->centre = (hw_point){centre.x / n, centre.y / n};
    }
    return HW_OK;
}

hw_lab hw_card_wood_lab(const hw_light *light, const hw_mean_wood *wood)
{
    const hw_lab mid_brown = {50.0, 12.0, 25.0};
    return wood->there
               ? hw_lab_from_xyz(hw_light_correct_at(light, wood->seen, wood->centre), hw_white_d50)
               : mid_brown;
}

// Both editions of the chart are tried: the one that fits better is taken to be the one in the
// picture.
static hw_status fit_chart(const hw_photo *photo, const hw_marks *marks,
                           const hw_card_options *options, hw_references *references,
                           hw_light *light, hw_error *err)
{
    hw_mean_wood wood;
    hw_light best = *light;
    hw_status status = hw_card_mean_wood(photo, marks, &wood, err);
    for (int edition = 1; edition >= 0 && status == HW_OK; edition--) {
        hw_light one = *light;
        one.chart = (hw_chart_fit){.later_edition = edition};
        hw_references_set_edition(references, edition);
        status = hw_card_fit(photo, references, options, NULL, &one, err);
        if (status != HW_OK) {
            return status;
        }
        hw_card_fit_chart(references, hw_xyz_from_lab(hw_card_wood_lab(&one, &wood), hw_white_d50),
                          &one);
        bool first = edition == 1;
        best = first || one.chart.after < best.chart.after ? one : best;
    }
    *light = best;
    return status;
}

static hw_status read_light(const hw_photo *photo, const hw_marks *marks,
                            const hw_card_options *options, hw_references *references,
                            hw_light *light, hw_error *err)
{
    const char *file = hw_photo_facts_of(photo)->file;
    const hw_reference *card = &references->item[0];
    if (card->pixels < HW_MARK_MIN_PIXELS / 4) {
        return hw_fail(err, HW_ERR_INPUT, "card-small", file,
                       "Mark more of the card, or go nearer and take the photo again.",
                       "the inner part of the grey card is only %zu pixels", card->pixels);
    }
    hw_status status = refuse_codes(card, file, err);
    if (status != HW_OK) {
        return status;
    }
    status = refuse_pattern(card, file, err);
    if (status != HW_OK) {
        return status;
    }
    hw_warnings said = light->warnings;
    start_light(photo, references, options, light);
    status = hw_card_fit(photo, references, options, NULL, light, err);
    if (status != HW_OK) {
        return status;
    }
    status = refuse_colour(light->gain, file, err);
    if (status == HW_OK && hw_references_have_chart(references)) {
        status = fit_chart(photo, marks, options, references, light, err);
    } else if (status == HW_OK && options && options->camera) {
        status = hw_card_use_camera(photo, marks, references, options, light, err);
    }
    if (status != HW_OK) {
        return status;
    }
    hw_warnings_append(&light->warnings, &said);
    gain_uncertainty(light, card->left_over);
    light->edge_px = hw_card_edge_px(photo, card->mark, card->seen.Y);
    hw_card_warn(card, light);
    return HW_OK;
}

hw_status hw_card_read(const hw_photo *photo, const hw_marks *marks, const hw_card_options *options,
                       hw_light *out, hw_error *err)
{
    hw_light light = {0};
    hw_references references = {0};
    hw_status status = hw_references_read(photo, marks, options, &references, &light.warnings, err);
    if (status == HW_OK) {
        status = read_light(photo, marks, options, &references, &light, err);
    }
    if (status == HW_OK) {
        *out = light;
    }
    hw_references_free(&references);
    return status;
}

bool hw_card_can_be(hw_lab lab)
{
    const double chroma_most = 60.0;
    return lab.L > 0.0 && lab.L <= 100.0 && hw_lab_chroma(lab) <= chroma_most;
}
