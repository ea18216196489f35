// card_field.c: how the light falls off over the picture.
//
// Each reference is even, so what changes within it is the light: ln light = level of the reference
// + a quadratic in x and y, by least squares over the cells of all references at once. Cards of one
// kind share one level, so a second card far from the first tells most. How light falls in shops stands
// as a prior beside the cells: a single card shows the slope and hardly the bend, which then stays
// none with its whole doubt.
//
// The noise of a cell: what the cells scatter, doubled since neighbours are alike; and that no card is
// quite even (0.3 % over its size).
//
// Tried and left: no correction, the slope as doubt only. It left 0.6 / 1.8 (median / 95th
// percentile of the error of CIEDE2000) on scenes whose light falls by a third, where this leaves
// half.
#include "card_internal.h"

#include <math.h>

// Unevenness over a reference's size, of ln light, and of ln of a band over another: a print's grey
// varies more than its colour (chosen).
static const double level_even = 0.003, colour_even = 0.001;
static const double cells_alike = 2.0; // of the variance of the cells' scatter

// What light is like in shops: two kinds, with how often each is met, as standard deviations of ln
// light over the picture's longer side in u, v, u u, u v, v v (chosen). The level: even, or lamps two to
// five picture widths away. Its colour (long and short band over the middle one): one lamp, or a
// second one of another colour to one side.
typedef struct kind {
    double often;
    double usual[HW_FIELD_TERMS];
} kind;

#define KINDS 2
static const kind level_kinds[KINDS] = {{0.5, {0.05, 0.05, 0.02, 0.02, 0.02}},
                                        {0.5, {0.25, 0.25, 0.10, 0.06, 0.10}}};
static const kind colour_kinds[KINDS] = {{0.7, {0.01, 0.01, 0.005, 0.005, 0.005}},
                                         {0.3, {0.15, 0.15, 0.05, 0.03, 0.05}}};

// ---- Cells -------------------------------------------------------------------------

typedef struct cell {
    double term[HW_FIELD_TERMS];
    double ln[3]; // of the three bands
    size_t group;
    double alike; // of a reference's own uneven variance, the multiple that counts for each cell
} cell;

typedef struct cells {
    cell *at;
    size_t count, groups, places;
    double coarse[2]; // of hw_field
} cells;

static bool shows_light(const hw_reference *item)
{
    return item->usable && item->cells >= 4;
}

static void add_cells(const hw_reference *item, size_t group, const hw_light *light, cells *out)
{
    const hw_field *field = &light->field;
    for (size_t i = 0; i < item->cells; i++) {
        const hw_reference_cell *from = &item->cell[i];
        cell *made = &out->at[out->count++];
        hw_xyz straight = from->seen;
        double u = (from->x - field->centre.x) / field->scale_px;
        double v = (from->y - field->centre.y) / field->scale_px;
        hw_light_straighten(light, &straight, 1);
        double bands[3];
        hw_sharpen(straight, bands);
        for (int band = 0; band < 3; band++) {
            made->ln[band] = log(fmax(bands[band], 1e-6));
        }
        const double term[HW_FIELD_TERMS] = {u, v, u * u, u * v, v * v};
        memcpy(made->term, term, sizeof term);
        made->group = group;
        made->alike = (double)item->cells / 6.0;
    }
}

// Cells of all references; the cards are one group.
static void gather_cells(const hw_references *references, const hw_light *light, cells *out)
{
    for (size_t i = 0; i < references->count; i++) {
        const hw_reference *item = &references->item[i];
        if (shows_light(item)) {
            bool card = item->mark->role == HW_ROLE_CARD;
            add_cells(item, card ? 0 : ++out->groups, light, out);
            out->places++;
        }
    }
}

static void centre_groups(cells *c)
{
    for (size_t group = 0; group <= c->groups; group++) {
        double sum[HW_FIELD_TERMS + 3] = {0}, n = 0.0;
        for (int turn = 0; turn < 2; turn++) {
            for (size_t i = 0; i < c->count; i++) {
                cell *one = &c->at[i];
                if (one->group != group) {
                    continue;
                }
                for (int j = 0; j < HW_FIELD_TERMS + 3; j++) {
                    double *value =
                        j < HW_FIELD_TERMS ? &one->term[j] : &one->ln[j - HW_FIELD_TERMS];
                    sum[j] += turn == 0 ? *value : 0.0;
                    *value -= turn == 0 ? 0.0 : sum[j] / n;
                }
                n += turn == 0;
            }
        }
    }
}

// ---- Least squares -----------------------------------------------------------------

// Y (the middle band stands for it), then the colour of the light: long and short over middle.
static double band_value(const cell *one, int what)
{
    return what == 0 ? one->ln[1] : what == 1 ? one->ln[0] - one->ln[1] : one->ln[2] - one->ln[1];
}

typedef struct fit {
    double term[HW_FIELD_TERMS];
    double covariance[HW_FIELD_TERMS][HW_FIELD_TERMS];
    double ln_evidence; // of the cells given this kind of light, up to what all kinds share
} fit;

// Variance of the cells about a fit.
static double scatter_of(const cells *c, int what, const fit *about)
{
    double sum = 0.0;
    for (size_t i = 0; i < c->count; i++) {
        double rest = band_value(&c->at[i], what);
        for (int j = 0; j < HW_FIELD_TERMS; j++) {
            rest -= about->term[j] * c->at[i].term[j];
        }
        sum += rest * rest;
    }
    return sum / fmax((double)c->count - (double)(3 + c->groups), 1.0);
}

// A reference's own unevenness: of its print, and of the file, whose steps a gentle slope across a card
// may not reach, or reach only once.
static double uneven_of(const cells *c, int what)
{
    return what == 0 ? hypot(level_even, c->coarse[0]) : hypot(colour_even, c->coarse[1]);
}

static void solve(const cells *c, int what, const double *usual, double scatter, fit *out)
{
    double right[HW_FIELD_TERMS] = {0};
    *out = (fit){.ln_evidence = 0.0};
    for (int j = 0; j < HW_FIELD_TERMS; j++) {
        out->covariance[j][j] = 1.0 / (usual[j] * usual[j]);
        out->ln_evidence -= log(usual[j]);
    }
    for (size_t i = 0; i < c->count; i++) {
        const cell *one = &c->at[i];
        double even = uneven_of(c, what);
        double weight = 1.0 / (cells_alike * scatter + one->alike * even * even);
        for (int r = 0; r < HW_FIELD_TERMS; r++) {
            right[r] += weight * one->term[r] * band_value(one, what);
            for (int k = 0; k < HW_FIELD_TERMS; k++) {
                out->covariance[r][k] += weight * one->term[r] * one->term[k];
            }
        }
    }
    double ln_determinant;
    if (!hw_card_invert(out->covariance[0], HW_FIELD_TERMS, &ln_determinant)) {
        return; // a prior on each term keeps this from happening
    }
    out->ln_evidence -= 0.5 * ln_determinant;
    for (int r = 0; r < HW_FIELD_TERMS; r++) {
        for (int k = 0; k < HW_FIELD_TERMS; k++) {
            out->term[r] += out->covariance[r][k] * right[k];
        }
        out->ln_evidence += 0.5 * right[r] * out->term[r];
    }
}

// ---- Warm and cold lamps -----------------------------------------------------------

// Lamps differ mostly along warm to cold: from illuminant A to D65 (ISO/CIE 11664-2) ln long over middle
// falls by 0.38 where ln short over middle rises by 1.02. So a second lamp moves both at once, in that
// proportion; off it by two fifths of what is usual (chosen).
static const double long_to_short = -0.37, off_locus = 0.4;

// Takes in that the terms of long over middle and of short over middle go together: term by term as one
// more observation, long - long_to_short short = 0, after Kalman (1960).
static void bind_lamps(fit *of_long, fit *of_short, const double *usual)
{
    enum { ALL = 2 * HW_FIELD_TERMS };
    double P[ALL][ALL] = {{0}}, x[ALL];
    for (int r = 0; r < HW_FIELD_TERMS; r++) {
        x[r] = of_long->term[r];
        x[HW_FIELD_TERMS + r] = of_short->term[r];
        for (int c = 0; c < HW_FIELD_TERMS; c++) {
            P[r][c] = of_long->covariance[r][c];
            P[HW_FIELD_TERMS + r][HW_FIELD_TERMS + c] = of_short->covariance[r][c];
        }
    }
    for (int j = 0; j < HW_FIELD_TERMS; j++) {
        int other = HW_FIELD_TERMS + j;
        double along[ALL], off = off_locus * usual[j], off2 = off * off;
        for (int r = 0; r < ALL; r++) {
            along[r] = P[r][j] - long_to_short * P[r][other];
        }
        double seen = x[j] - long_to_short * x[other];
        double variance = along[j] - long_to_short * along[other] + off2;
        double before = usual[j] * usual[j] * (1.0 + long_to_short * long_to_short) + off2;
        // How well the cells agree with it, against what two independent ones would.
        of_long->ln_evidence -= 0.5 * (seen * seen / variance + log(variance / before));
        for (int r = 0; r < ALL; r++) {
            x[r] -= along[r] / variance * seen;
        }
        for (int r = 0; r < ALL; r++) {
            for (int c = 0; c < ALL; c++) {
                P[r][c] -= along[r] * along[c] / variance;
            }
        }
    }
    for (int r = 0; r < HW_FIELD_TERMS; r++) {
        of_long->term[r] = x[r];
        of_short->term[r] = x[HW_FIELD_TERMS + r];
        for (int c = 0; c < HW_FIELD_TERMS; c++) {
            of_long->covariance[r][c] = P[r][c];
            of_short->covariance[r][c] = P[HW_FIELD_TERMS + r][HW_FIELD_TERMS + c];
        }
    }
}

// How much each kind of light counts: how often it is met, and how well it explains the cells.
static void weigh(const fit *one, const fit *other, const kind kinds[KINDS], double weight[KINDS])
{
    double evidence[KINDS], most = -INFINITY, sum = 0.0;
    for (int k = 0; k < KINDS; k++) {
        evidence[k] = one[k].ln_evidence + (other ? other[k].ln_evidence : 0.0);
        most = fmax(most, evidence[k]);
    }
    for (int k = 0; k < KINDS; k++) {
        weight[k] = kinds[k].often * exp(evidence[k] - most);
        sum += weight[k];
    }
    for (int k = 0; k < KINDS; k++) {
        weight[k] /= sum;
    }
}

// The kinds mixed by their weights; what they differ by is doubt.
static fit mix_kinds(const fit made[KINDS], const double weight[KINDS])
{
    fit all = {.ln_evidence = 0.0};
    for (int k = 0; k < KINDS; k++) {
        for (int j = 0; j < HW_FIELD_TERMS; j++) {
            all.term[j] += weight[k] * made[k].term[j];
        }
    }
    for (int k = 0; k < KINDS; k++) {
        for (int r = 0; r < HW_FIELD_TERMS; r++) {
            for (int c = 0; c < HW_FIELD_TERMS; c++) {
                double apart = (made[k].term[r] - all.term[r]) * (made[k].term[c] - all.term[c]);
                all.covariance[r][c] += weight[k] * (made[k].covariance[r][c] + apart);
            }
        }
    }
    return all;
}

// The scatter is not known before a fit, nor the fit without a scatter: a few times around, with the
// kind that allows most.
static void fit_kinds(const cells *c, int what, const kind kinds[KINDS], fit made[KINDS])
{
    double scatter = 1e-5;
    for (int turn = 0; turn < 3; turn++) {
        solve(c, what, kinds[KINDS - 1].usual, scatter, &made[KINDS - 1]);
        scatter = fmax(scatter_of(c, what, &made[KINDS - 1]), 1e-8);
    }
    for (int k = 0; k < KINDS; k++) {
        solve(c, what, kinds[k].usual, scatter, &made[k]);
    }
}

// ---- The field ---------------------------------------------------------------------

// Change of ln light from end to end by the slope alone.
static double carried_over(const double *term, const hw_field *field)
{
    return hypot(term[0] * field->width_px, term[1] * field->height_px) / field->scale_px;
}

hw_status hw_card_fit_field(const hw_references *references, hw_light *light, hw_error *err)
{
    hw_field *field = &light->field;
    cells c = {.at = hw_alloc_array(references->count * HW_GRID * HW_GRID, sizeof *c.at),
               .coarse = {field->coarse[0], field->coarse[1]}};
    if (!c.at) {
        return hw_fail_memory(err, "reading the light");
    }
    gather_cells(references, light, &c);
    centre_groups(&c);
    fit level[KINDS], of_long[KINDS], of_short[KINDS];
    double weight[KINDS], two_lamps;
    fit_kinds(&c, 0, level_kinds, level);
    fit_kinds(&c, 1, colour_kinds, of_long);
    fit_kinds(&c, 2, colour_kinds, of_short);
    bind_lamps(&of_long[KINDS - 1], &of_short[KINDS - 1], colour_kinds[KINDS - 1].usual);
    weigh(level, NULL, level_kinds, weight);
    fit Y = mix_kinds(level, weight);
    weigh(of_long, of_short, colour_kinds, weight); // a second lamp moves both
    fit longer = mix_kinds(of_long, weight), shorter = mix_kinds(of_short, weight);
    two_lamps = weight[KINDS - 1];
    for (int j = 0; j < HW_FIELD_TERMS; j++) {
        field->term[0][j] = Y.term[j] + longer.term[j];
        field->term[1][j] = Y.term[j];
        field->term[2][j] = Y.term[j] + shorter.term[j];
    }
    memcpy(field->doubt[0], longer.covariance, sizeof field->doubt[0]);
    memcpy(field->doubt[1], Y.covariance, sizeof field->doubt[1]);
    memcpy(field->doubt[2], shorter.covariance, sizeof field->doubt[2]);
    field->places = c.places;
    light->uneven = expm1(carried_over(Y.term, field));
    const double colour[2] = {longer.term[0] - shorter.term[0], longer.term[1] - shorter.term[1]};
    light->coloured = two_lamps > 0.3 ? expm1(carried_over(colour, field)) : 0.0;
    hw_free(c.at);
    return HW_OK;
}

// ---- A photo of a sheet ------------------------------------------------------------

static const double sheet_clipped = 0.005; // share of pixels
// Tiles about the mean of their neighbours, of ln light (a plain sheet: noise), and single pixels in a tile
// (phones in poor light: 0.15). Chosen.
static const double sheet_rough = 0.02, sheet_uneven = 0.25;
static const double sheet_doubt = 0.005; // of ln light from place to place: paper, camera (chosen)

// What a tile of the sheet tells; `dark` and `clipped` count its pixels.
typedef struct tile {
    double bands[3];
    double uneven; // s.d. of single pixels' Y over their mean
    size_t pixels, clipped, dark;
} tile;

static tile read_tile(const hw_photo *sheet, const hw_light *light, size_t column, size_t row)
{
    tile out = {{0}, 0, 0, 0, 0};
    double square = 0.0;
    const hw_photo_facts *facts = hw_photo_facts_of(sheet);
    size_t x0 = column * facts->width_px / HW_SHOT_COLUMNS;
    size_t x1 = (column + 1) * facts->width_px / HW_SHOT_COLUMNS;
    size_t y0 = row * facts->height_px / HW_SHOT_ROWS;
    size_t y1 = (row + 1) * facts->height_px / HW_SHOT_ROWS;
    hw_xyz sum = {0, 0, 0};
    size_t count = 0, step = 1 + (x1 - x0) / 16;
    for (size_t y = y0; y < y1; y += step) {
        for (size_t x = x0; x < x1; x += step) {
            hw_xyz one;
            uint16_t rgb[3];
            hw_photo_codes_xyz(sheet, x, y, 1, rgb, &one);
            out.clipped += rgb[0] >= facts->clip_high || rgb[1] >= facts->clip_high ||
                           rgb[2] >= facts->clip_high;
            out.dark += rgb[1] < facts->max_code / 12;
            sum = (hw_xyz){sum.X + one.X, sum.Y + one.Y, sum.Z + one.Z};
            square += one.Y * one.Y;
            count++;
        }
    }
    double n = count > 0 ? (double)count : 1.0;
    hw_xyz mean = {sum.X / n, sum.Y / n, sum.Z / n};
    out.pixels = count;
    out.uneven = mean.Y > 0.0 ? sqrt(fmax(square / n - mean.Y * mean.Y, 0.0)) / mean.Y : 0.0;
    hw_light_straighten(light, &mean, 1);
    hw_sharpen(mean, out.bands);
    return out;
}

// Mean of a tile and its neighbours, half as much weight a step further: dust and paper even out.
static void smooth(float grid[HW_SHOT_ROWS][HW_SHOT_COLUMNS])
{
    static const double weight[3] = {0.25, 0.5, 0.25};
    float made[HW_SHOT_ROWS][HW_SHOT_COLUMNS];
    for (int row = 0; row < HW_SHOT_ROWS; row++) {
        for (int column = 0; column < HW_SHOT_COLUMNS; column++) {
            double sum = 0.0, whole = 0.0;
            for (int j = -1; j <= 1; j++) {
                for (int i = -1; i <= 1; i++) {
                    int r = row + j, c = column + i;
                    if (r >= 0 && r < HW_SHOT_ROWS && c >= 0 && c < HW_SHOT_COLUMNS) {
                        double w = weight[j + 1] * weight[i + 1];
                        sum += w * (double)grid[r][c];
                        whole += w;
                    }
                }
            }
            made[row][column] = (float)(sum / whole);
        }
    }
    memcpy(grid, made, sizeof made);
}

// Root mean square of tiles about the mean of the two beside them, across and down: light changes gently,
// pieces of furniture do not.
static double roughness(const float grid[HW_SHOT_ROWS][HW_SHOT_COLUMNS])
{
    double sum = 0.0, n = 0.0;
    for (int row = 1; row + 1 < HW_SHOT_ROWS; row++) {
        for (int column = 1; column + 1 < HW_SHOT_COLUMNS; column++) {
            double here = 2.0 * (double)grid[row][column];
            double across = (double)grid[row][column - 1] + (double)grid[row][column + 1] - here;
            double down = (double)grid[row - 1][column] + (double)grid[row + 1][column] - here;
            sum += 0.25 * (across * across + down * down);
            n += 2.0;
        }
    }
    return sqrt(sum / n);
}

hw_status hw_card_read_sheet(const hw_photo *sheet, const hw_photo *photo, hw_light *light,
                             hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(sheet), *mine = hw_photo_facts_of(photo);
    hw_field *field = &light->field;
    size_t clipped = 0;
    if (facts->width_px != mine->width_px || facts->height_px != mine->height_px) {
        return hw_fail(err, HW_ERR_INPUT, "sheet-size", facts->file,
                       "Photograph the sheet from the same place with the same camera and zoom.",
                       "the photo of the sheet is %zu x %zu pixels, that of the piece %zu x %zu",
                       facts->width_px, facts->height_px, mine->width_px, mine->height_px);
    }
    double uneven = 0.0;
    size_t pixels = 0, dark = 0;
    for (size_t row = 0; row < HW_SHOT_ROWS; row++) {
        for (size_t column = 0; column < HW_SHOT_COLUMNS; column++) {
            tile one = read_tile(sheet, light, column, row);
            clipped += one.clipped;
            pixels += one.pixels;
            dark += one.dark;
            uneven += one.uneven / (HW_SHOT_ROWS * HW_SHOT_COLUMNS);
            for (int band = 0; band < 3; band++) {
                field->sheet[band][row][column] = (float)log(fmax(one.bands[band], 1e-4));
            }
        }
    }
    double rough = roughness(field->sheet[1]);
    if ((double)clipped > sheet_clipped * (double)pixels) {
        return hw_fail(err, HW_ERR_INPUT, "sheet-overexposed", facts->file,
                       "Lower the exposure and photograph the sheet again.",
                       "the photo of the sheet is overexposed in places");
    }
    if (2 * dark > pixels) {
        return hw_fail(err, HW_ERR_INPUT, "sheet-dark", facts->file,
                       "Give more light or a longer exposure and photograph the sheet again.",
                       "the photo of the sheet is too dark to show the light");
    }
    if (rough > sheet_rough || uneven > sheet_uneven) {
        return hw_fail(
            err, HW_ERR_INPUT, "sheet-patterned", facts->file,
            "Hold one plain, matt sheet so that it fills the picture, and photograph it "
            "from the same place.",
            "what this photo shows is no plain sheet: it varies by %.0f %% from place to "
            "place",
            100.0 * fmax(rough, uneven));
    }
    double low = INFINITY, high = -INFINITY;
    for (int band = 0; band < 3; band++) {
        smooth(field->sheet[band]);
    }
    for (size_t i = 0; i < HW_SHOT_ROWS * HW_SHOT_COLUMNS; i++) {
        double ln = (double)field->sheet[1][i / HW_SHOT_COLUMNS][i % HW_SHOT_COLUMNS];
        low = fmin(low, ln);
        high = fmax(high, ln);
    }
    field->from_sheet = true;
    field->places = HW_SHOT_ROWS * HW_SHOT_COLUMNS;
    memset(field->doubt, 0, sizeof field->doubt);
    for (int what = 0; what < 3; what++) {
        field->doubt[what][0][0] = field->doubt[what][1][1] = sheet_doubt * sheet_doubt;
    }
    light->uneven = expm1(high - low);
    return HW_OK;
}
