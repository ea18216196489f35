// card_light.c: cast and exposure from the grey card, by one factor for each Bradford-sharpened
// band: corrected = M^-1 diag(M t / M c) M seen, with t what the card is, c the card as seen
// (Lam 1985; ICC.1:2022 annex E). Exposure needs no step of its own: it is in the factors.
//
// What always holds:
//  (1) The whole picture scaled, card included, gives the same colours.
//  (2) A card that cannot carry the reading is refused with what to do; nothing is repaired
//      in silence.
//  (3) The slope of light seen across the card is told and doubted, not corrected.
//
// Tried and left: CAT16 and factors on linear sRGB instead of Bradford. On simulated cameras
// and lamps they lie within 0.15 CIEDE2000 of each other; where Bradford and CAT16 part by more
// than 0.5 the light is strongly coloured, and that is a warning.
#include "base_internal.h"
#include "card_internal.h"

#include <math.h>

// A card that says only "18 %": L* of Y 0.18 (ISO/CIE 11664-4), neutral.
static const hw_lab nominal_card = {49.5, 0.0, 0.0};

// How well a card is what it says, as standard uncertainty of L*, a*, b*. Chosen: printed cards
// sold as 18 % differ by about one L*; a measured one by what small instruments agree to.
static const double u_nominal[3] = {1.0, 0.6, 0.6};
static const double u_measured[3] = {0.3, 0.2, 0.2};

static const double clipped_most = 0.005;  // share of pixels (chosen)
static const double code_least = 20.0;     // mean of 255: below, flare and noise rule (chosen)
static const double code_low = 60.0;       // of 255: readable, but dark
static const double code_high = 240.0;     // of 255: tone curves roll off above
static const double pattern_most = 0.04;   // s.d. of ln Y of cells about the plane; even: 0.01
static const double spread_most = 0.30;    // robust s.d. of single pixels; noisy phones: 0.15
static const double gain_ratio_most = 6.0; // between bands; a candle in daylight setting: 4

// ---- Finding the card among the marks ----------------------------------------------

static const hw_mark *find_card(const hw_marks *marks)
{
    const hw_mark *card = hw_marks_find(marks, HW_ROLE_CARD, NULL);
    if (!card) {
        card = hw_marks_find(marks, HW_ROLE_NEUTRAL, "grey");
    }
    if (!card) {
        card = hw_marks_find(marks, HW_ROLE_CHART, "22");
    }
    return card;
}

// ---- Numbers of the card -----------------------------------------------------------

static double trimmed_mean(const double *values, double *scratch, size_t count)
{
    // Pixels beyond three robust deviations first (dust, a fingerprint), then a tenth at each end.
    double median, spread;
    for (size_t i = 0; i < count; i++) {
        scratch[i] = values[i];
    }
    hw_median_spread(scratch, count, &median, &spread);
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        if (fabs(values[i] - median) <= 3.0 * spread) {
            scratch[kept++] = values[i];
        }
    }
    size_t cut = kept / 10;
    double low = hw_select(scratch, kept, cut);
    double high = hw_select(scratch, kept, kept - 1 - cut);
    double sum = 0.0;
    size_t used = 0;
    for (size_t i = 0; i < kept; i++) {
        if (scratch[i] >= low && scratch[i] <= high) {
            sum += scratch[i];
            used++;
        }
    }
    return sum / (double)used;
}

// Least squares of ln Y = c0 + sx (x - mx) + sy (y - my) over the means of a grid of cells, so that
// the noise of single pixels averages out and what is left over tells the doubt.
#define GRID 8

typedef struct grid_cell {
    double x, y, ln_y;
    size_t count;
} grid_cell;

static void fill_grid(const hw_card_pixels *pixels, grid_cell cells[GRID * GRID])
{
    double x0 = INFINITY, x1 = -INFINITY, y0 = INFINITY, y1 = -INFINITY;
    for (size_t i = 0; i < pixels->count; i++) {
        x0 = fmin(x0, pixels->x[i]);
        x1 = fmax(x1, pixels->x[i]);
        y0 = fmin(y0, pixels->y[i]);
        y1 = fmax(y1, pixels->y[i]);
    }
    for (size_t i = 0; i < pixels->count; i++) {
        int column = (int)((pixels->x[i] - x0) / (x1 - x0 + 1.0) * GRID);
        int row = (int)((pixels->y[i] - y0) / (y1 - y0 + 1.0) * GRID);
        grid_cell *cell = &cells[row * GRID + column];
        cell->x += pixels->x[i];
        cell->y += pixels->y[i];
        cell->ln_y += pixels->Y[i];
        cell->count++;
    }
    for (int i = 0; i < GRID * GRID; i++) {
        if (cells[i].count > 0) {
            double n = (double)cells[i].count;
            cells[i].x /= n;
            cells[i].y /= n;
            cells[i].ln_y = log(fmax(cells[i].ln_y / n, 1e-6));
        }
    }
}

typedef struct plane {
    double x, y, level; // centre and ln Y there
    double slope_x, slope_y, u_slope;
    double left_over; // s.d. of the cells about the plane, of ln Y
} plane;

static plane fit_plane(const hw_card_pixels *pixels)
{
    grid_cell cells[GRID * GRID] = {{0}};
    fill_grid(pixels, cells);
    double n = 0.0, mx = 0.0, my = 0.0, ml = 0.0;
    for (int i = 0; i < GRID * GRID; i++) {
        if (cells[i].count > 0) {
            n += 1.0;
            mx += cells[i].x;
            my += cells[i].y;
            ml += cells[i].ln_y;
        }
    }
    plane fit = {.x = mx / n, .y = my / n, .level = ml / n};
    double xx = 0.0, xy = 0.0, yy = 0.0, xl = 0.0, yl = 0.0;
    for (int i = 0; i < GRID * GRID; i++) {
        if (cells[i].count > 0) {
            double dx = cells[i].x - fit.x, dy = cells[i].y - fit.y, dl = cells[i].ln_y - fit.level;
            xx += dx * dx;
            xy += dx * dy;
            yy += dy * dy;
            xl += dx * dl;
            yl += dy * dl;
        }
    }
    double determinant = xx * yy - xy * xy;
    if (n < 6.0 || determinant <= 1e-9 * xx * yy) {
        return fit;
    }
    fit.slope_x = (xl * yy - yl * xy) / determinant;
    fit.slope_y = (yl * xx - xl * xy) / determinant;
    double left = 0.0;
    for (int i = 0; i < GRID * GRID; i++) {
        if (cells[i].count > 0) {
            double rest = cells[i].ln_y - fit.level - fit.slope_x * (cells[i].x - fit.x) -
                          fit.slope_y * (cells[i].y - fit.y);
            left += rest * rest;
        }
    }
    fit.left_over = sqrt(left / (n - 3.0));
    fit.u_slope = sqrt(left / (n - 3.0) * fmax(xx, yy) / determinant);
    return fit;
}

// Robust spread of single pixels about the plane, as a share: noise, and patterns finer than a
// cell.
static double spread_about_plane(const hw_card_pixels *pixels, const plane *fit, double *scratch)
{
    for (size_t i = 0; i < pixels->count; i++) {
        double level = fit->level + fit->slope_x * (pixels->x[i] - fit->x) +
                       fit->slope_y * (pixels->y[i] - fit->y);
        scratch[i] = pixels->Y[i] / exp(level);
    }
    double median, spread;
    hw_median_spread(scratch, pixels->count, &median, &spread);
    return spread;
}

// ---- Refusals and warnings ---------------------------------------------------------

static hw_status refuse_codes(const hw_card_pixels *pixels, const char *file, hw_error *err)
{
    if (pixels->top_share > clipped_most) {
        return hw_fail(err, HW_ERR_INPUT, "card-overexposed", file,
                       "Lower the exposure, or take the card out of the direct light, and take "
                       "the photo again.",
                       "the grey card is overexposed: %.0f %% of it is at the top of the scale",
                       fmax(1.0, 100.0 * pixels->top_share));
    }
    if (pixels->bottom_share > clipped_most || pixels->mean_code < code_least) {
        return hw_fail(err, HW_ERR_INPUT, "card-underexposed", file,
                       "Give more light or a longer exposure, and take the photo again. A card "
                       "reads best at about half of the scale.",
                       "the grey card is far too dark to read: %.0f on a scale of 255",
                       pixels->mean_code);
    }
    return HW_OK;
}

static hw_status refuse_pattern(double left_over, double spread, const char *file, hw_error *err)
{
    if (left_over <= pattern_most && spread <= spread_most) {
        return HW_OK;
    }
    return hw_fail(
        err, HW_ERR_INPUT, "card-patterned", file,
        "Mark only the plain grey, inside its rim, without print, shadow or shine.",
        "what is marked as the grey card is not one even grey: it varies by %.0f %% from "
        "place to place",
        100.0 * (left_over > pattern_most ? left_over : spread));
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

static void warn_exposure(const hw_card_pixels *pixels, hw_warnings *warnings)
{
    if (pixels->max_code > code_high) {
        hw_warn(warnings,
                "The grey card is very bright (%.0f of 255): light parts may be bent by the "
                "camera. A card at about half of the scale reads best.",
                pixels->max_code);
    } else if (pixels->mean_code < code_low) {
        hw_warn(warnings,
                "The grey card is dark (%.0f of 255): noise and stray light widen the reading. "
                "Give more exposure next time.",
                pixels->mean_code);
    }
}

// A brown under the light: where the two adaptations part, the light is strongly coloured.
static void warn_colour(const hw_light *light, hw_xyz card_true, hw_warnings *warnings)
{
    const hw_lab brown = {50.0, 12.0, 25.0};
    hw_xyz seen =
        hw_adapt_bradford(hw_xyz_from_lab(brown, hw_white_d50), card_true, light->card_seen);
    hw_lab by_cat16 =
        hw_lab_from_xyz(hw_adapt_cat16(seen, light->card_seen, card_true), hw_white_d50);
    double parted = hw_ciede2000(brown, by_cat16);
    if (parted > 0.5) {
        hw_warn(warnings,
                "The light in this photo is strongly coloured. Signs hold, sizes are less sure: a "
                "daylight lamp, or the camera's white balance set to the lamp, reads better.");
    }
}

static void warn_uneven(const hw_light *light, hw_warnings *warnings)
{
    // Chosen: 10 % over the picture is about 2 L* on mid-brown from end to end.
    double least = 0.10;
    double slope = hypot(light->slope_x, light->slope_y);
    if (light->uneven > least && slope > 2.0 * light->u_slope) {
        hw_warn(warnings,
                "The light falls off across the card: carried on, %.0f %% over the picture. Lay "
                "the card next to the repair, or even out the light.",
                100.0 * light->uneven);
    }
}

// ---- The light ---------------------------------------------------------------------

// Relative uncertainty of each band of the card: what it is, and how it was read.
static void gain_uncertainty(hw_light *light, hw_xyz card_true, const plane *fit,
                             const double *u_lab)
{
    for (int band = 0; band < 3; band++) {
        light->u_gain[band] = 0.0;
    }
    for (int axis = 0; axis < 3; axis++) {
        hw_lab moved = light->card_lab;
        *(axis == 0 ? &moved.L : axis == 1 ? &moved.a : &moved.b) += u_lab[axis];
        double bands[3], moved_bands[3];
        hw_sharpen(card_true, bands);
        hw_sharpen(hw_xyz_from_lab(moved, hw_white_d50), moved_bands);
        for (int band = 0; band < 3; band++) {
            double change = log(fmax(moved_bands[band], 1e-9) / fmax(bands[band], 1e-9));
            light->u_gain[band] = hypot(light->u_gain[band], change);
        }
    }
    for (int band = 0; band < 3; band++) {
        light->u_gain[band] = hypot(light->u_gain[band], fit->left_over / GRID);
    }
}

static hw_status read_light(const hw_photo *photo, const hw_card_options *options,
                            const hw_card_pixels *pixels, double *scratch, hw_light *light,
                            hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    hw_status status = refuse_codes(pixels, facts->file, err);
    if (status != HW_OK) {
        return status;
    }
    light->card_measured = options && options->has_lab;
    light->card_lab = light->card_measured ? options->lab : nominal_card;
    hw_xyz card_true = hw_xyz_from_lab(light->card_lab, hw_white_d50);

    plane fit = fit_plane(pixels);
    light->card_spread = spread_about_plane(pixels, &fit, scratch);
    status = refuse_pattern(fit.left_over, light->card_spread, facts->file, err);
    if (status != HW_OK) {
        return status;
    }
    light->card_seen.X = trimmed_mean(pixels->X, scratch, pixels->count);
    light->card_seen.Y = trimmed_mean(pixels->Y, scratch, pixels->count);
    light->card_seen.Z = trimmed_mean(pixels->Z, scratch, pixels->count);
    double seen[3], wanted[3];
    hw_sharpen(light->card_seen, seen);
    hw_sharpen(card_true, wanted);
    for (int band = 0; band < 3; band++) {
        light->gain[band] = wanted[band] / seen[band];
    }
    status = refuse_colour(light->gain, facts->file, err);
    if (status != HW_OK) {
        return status;
    }
    light->card_centre = (hw_point){fit.x, fit.y};
    light->slope_x = fit.slope_x;
    light->slope_y = fit.slope_y;
    light->u_slope = fit.u_slope;
    double side = fmax((double)facts->width_px, (double)facts->height_px);
    light->uneven = expm1(hypot(fit.slope_x, fit.slope_y) * side);
    gain_uncertainty(light, card_true, &fit, light->card_measured ? u_measured : u_nominal);
    warn_exposure(pixels, &light->warnings);
    warn_colour(light, card_true, &light->warnings);
    warn_uneven(light, &light->warnings);
    return HW_OK;
}

hw_status hw_card_read(const hw_photo *photo, const hw_marks *marks, const hw_card_options *options,
                       hw_light *out, hw_error *err)
{
    const char *file = hw_photo_facts_of(photo)->file;
    const hw_mark *card = find_card(marks);
    if (!card) {
        return hw_fail(err, HW_ERR_INPUT, "card-missing", file,
                       "Mark the grey card with --card x,y,w,h. Without a card in the picture, "
                       "lay one beside the repair and take the photo again.",
                       "no grey card is marked");
    }
    hw_card_pixels pixels = {0};
    double *scratch = NULL;
    hw_status status = hw_card_gather(photo, card, &pixels, err);
    if (status != HW_OK) {
        goto done;
    }
    if (pixels.count < HW_MARK_MIN_PIXELS / 4) {
        status = hw_fail(err, HW_ERR_INPUT, "card-small", file,
                         "Mark more of the card, or go nearer and take the photo again.",
                         "the inner part of the grey card is only %zu pixels", pixels.count);
        goto done;
    }
    scratch = hw_alloc_array(pixels.count, sizeof *scratch);
    if (!scratch) {
        status = hw_fail_memory(err, "reading the grey card");
        goto done;
    }
    hw_light light = {0};
    status = read_light(photo, options, &pixels, scratch, &light, err);
    if (status == HW_OK) {
        *out = light;
    }
done:
    hw_free(scratch);
    hw_card_pixels_free(&pixels);
    return status;
}

// ---- Using it ----------------------------------------------------------------------

hw_xyz hw_light_correct(const hw_light *light, hw_xyz seen)
{
    double bands[3];
    hw_sharpen(seen, bands);
    for (int band = 0; band < 3; band++) {
        bands[band] *= light->gain[band];
    }
    return hw_unsharpen(bands);
}

void hw_light_matrix(const hw_light *light, double matrix[3][3])
{
    const hw_xyz unit[3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    for (int column = 0; column < 3; column++) {
        hw_xyz image = hw_light_correct(light, unit[column]);
        matrix[0][column] = image.X;
        matrix[1][column] = image.Y;
        matrix[2][column] = image.Z;
    }
}

double hw_light_doubt(const hw_light *light, hw_point one, hw_point other)
{
    double dx = one.x - other.x, dy = one.y - other.y;
    double carried_on = light->slope_x * dx + light->slope_y * dy;
    return hypot(carried_on, light->u_slope * hypot(dx, dy));
}
