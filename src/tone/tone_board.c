// tone_board.c: what a step board teaches of a dye: its strips in order, what no dye can do refused, the bare
// row fitted (tone_board_fit.c), and the row under the clear coat set beside it.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

static const double u_floor = 0.05; // s.d. of ln strength: no board is surer of it (chosen)
static const double impossible = -0.01 * 2.302585092994046; // a pass (common practice, no source)
static const double too_strong = 0.4 * 2.302585092994046;   // a pass (common practice, no source)
static const double too_unsure = 1.0;                       // s.d. of ln strength
static const double saturates_from =
    0.93; // exponent below which later passes clearly do less (chosen)
// A photo of nine dyes holds a hundred such tests: only what chance does not do is refused (chosen).
static const double beyond_doubt = 3.5;

// ---- The board ---------------------------------------------------------------------

static hw_status refuse_strip(const char *dye, const hw_strip *strip, const char *code,
                              const char *what, const char *next, hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, code, dye, next, "the strip of %g pass%s%s %s", strip->passes,
                   strip->passes == 1.0 ? "" : "es", strip->coated ? " under the clear coat" : "",
                   what);
}

static hw_status check_strip(const char *dye, const hw_strip *strip, hw_error *err)
{
    if (!(strip->passes >= 0.0 && strip->passes <= HW_BOARD_PASSES_MOST) ||
        strip->passes != floor(strip->passes)) {
        return refuse_strip(dye, strip, "board-strip", "cannot be",
                            "A strip has a whole number of passes, 0 to 50.", err);
    }
    const hw_lab *lab = &strip->lab;
    if (!(lab->L > 0.0 && lab->L <= 100.0 && fabs(lab->a) <= 128.0 && fabs(lab->b) <= 128.0)) {
        return refuse_strip(dye, strip, "board-strip", "has no colour that wood can have",
                            "Read it again: L* from 0 to 100, a* and b* about -20 to 80.", err);
    }
    return HW_OK;
}

static int in_order(const void *one, const void *other)
{
    const hw_strip *a = one, *b = other;
    return a->coated != b->coated ? (int)a->coated - (int)b->coated
                                  : (a->passes > b->passes) - (a->passes < b->passes);
}

static hw_status take_strips(const char *dye, const hw_strip *strips, size_t count, hw_board *board,
                             hw_error *err)
{
    board->strip = hw_alloc_array(count, sizeof *board->strip);
    if (!board->strip) {
        return hw_fail_memory(err, "reading the step board");
    }
    for (size_t i = 0; i < count; i++) {
        hw_status status = check_strip(dye, &strips[i], err);
        if (status != HW_OK) {
            return status;
        }
        board->strip[i] = (hw_strip){.passes = strips[i].passes,
                                     .coated = strips[i].coated,
                                     .lab = strips[i].lab,
                                     .covariance = strips[i].covariance,
                                     .fitted = strips[i].lab};
    }
    board->count = count;
    qsort(board->strip, count, sizeof *board->strip, in_order);
    for (size_t i = 1; i < count; i++) {
        if (in_order(&board->strip[i - 1], &board->strip[i]) == 0) {
            return refuse_strip(dye, &board->strip[i], "board-strip-twice", "is there twice",
                                "Mark each strip once, with its own number of passes.", err);
        }
    }
    return HW_OK;
}

// The strip without toner and those with, of the bare or of the coated part.
static hw_status row_of(hw_board *board, bool coated, hw_board_row *out, hw_error *err)
{
    out->strip = hw_alloc_array(board->count, sizeof *out->strip);
    if (!out->strip) {
        return hw_fail_memory(err, "reading the step board");
    }
    for (size_t i = 0; i < board->count; i++) {
        hw_strip *strip = &board->strip[i];
        if (strip->coated == coated && strip->passes == 0.0) {
            out->zero = strip;
        } else if (strip->coated == coated) {
            out->strip[out->count++] = strip;
        }
    }
    return HW_OK;
}

// Toner takes light; a strip that gives more is no strip of this board.
static hw_status check_possible(const char *dye, const hw_board_row *one, hw_error *err)
{
    static const char *const light[3] = {"red", "green", "blue"};
    double zero[3];
    hw_board_ln_bands(one->zero->lab, zero);
    hw_covariance zero_doubt = hw_board_in_bands(one->zero->lab, &one->zero->covariance);
    for (size_t i = 0; i < one->count; i++) {
        const hw_strip *strip = one->strip[i];
        double seen[3];
        hw_board_ln_bands(strip->lab, seen);
        hw_covariance doubt = hw_board_in_bands(strip->lab, &strip->covariance);
        for (int band = 0; band < 3; band++) {
            double y = zero[band] - seen[band];
            double u = sqrt(doubt.m[band][band] + zero_doubt.m[band][band]);
            if (y + beyond_doubt * u < impossible * strip->passes) {
                return hw_fail(err, HW_ERR_INPUT, "board-impossible", dye,
                               "Check which strip is which, that all are dry and of one wood, and "
                               "that no shine lies on them; then read them again.",
                               "the strip of %g pass%s gives back %.0f %% more %s light than the "
                               "strip without toner: no dye does that",
                               strip->passes, strip->passes == 1.0 ? "" : "es",
                               100.0 * (exp(-y) - 1.0), light[band]);
            }
        }
    }
    return HW_OK;
}

static void fill_strips(hw_board *board, bool coated, const hw_board_row *one)
{
    for (size_t i = 0; i < board->count; i++) {
        hw_strip *strip = &board->strip[i];
        if (strip->coated == coated && strip->passes > 0.0) {
            double density[3];
            for (int band = 0; band < 3; band++) {
                density[band] = one->d[band] * pow(strip->passes, one->g);
            }
            strip->fitted = hw_tone_under(one->zero->lab, density);
            strip->off = hw_ciede2000(strip->fitted, strip->lab);
        }
    }
}

static double along(const double density[3], const hw_covariance *covariance)
{
    double form = 0.0, square = 0.0;
    for (int r = 0; r < 3; r++) {
        square += density[r] * density[r];
        for (int c = 0; c < 3; c++) {
            form += density[r] * covariance->m[r][c] * density[c];
        }
    }
    return square > 1e-12 ? sqrt(fmax(form, 0.0)) / square : INFINITY;
}

static hw_covariance covariance_of(const hw_board_row *one)
{
    hw_covariance v;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            v.m[r][c] = one->P[r][c] + u_floor * u_floor * one->d[r] * one->d[c];
        }
    }
    return v;
}

static hw_status fill_board(hw_board *board, const hw_board_row *one, hw_error *err)
{
    double off = 0.0;
    memcpy(board->density, one->d, sizeof board->density);
    board->covariance = covariance_of(one);
    board->exponent = one->g;
    board->u_exponent = sqrt(one->P[3][3]);
    board->saturates = one->g < saturates_from && one->g + HW_NINETY * board->u_exponent < 1.0;
    fill_strips(board, false, one);
    for (size_t i = 0; i < one->count; i++) {
        off += one->strip[i]->off / (double)one->count;
    }
    board->fit_off = off;
    for (size_t i = 0; i < board->count; i++) {
        const hw_strip *strip = &board->strip[i];
        board->first_differs =
            board->first_differs || (!strip->coated && strip->passes == 1.0 && strip->out_of_line);
    }
    double most = fmax(one->d[0], fmax(one->d[1], one->d[2]));
    if (most > too_strong) {
        return hw_fail(err, HW_ERR_INPUT, "board-too-strong", board->dye,
                       "Thin it, lay a new board, and call that strength 1.",
                       "one pass takes %.0f %% of the light in one band: that is a stain, no toner",
                       100.0 * (1.0 - exp(-most)));
    }
    if (!(along(board->density, &board->covariance) < too_unsure)) {
        return hw_fail(
            err, HW_ERR_INPUT, "board-nothing", board->dye,
            "Lay more passes on the board, or photograph it in better light.",
            "no strip differs from the one without toner by more than a reading repeats");
    }
    return HW_OK;
}

static void set_aside(const hw_board_row *coated, const char *why)
{
    for (size_t i = 0; i < coated->count; i++) {
        hw_copy_text(coated->strip[i]->why, sizeof coated->strip[i]->why, why);
    }
}

// The part under the clear coat: what the coat does, and whether the dye acts there as it does bare.
static hw_status look_under_coat(hw_board *board, const hw_board_row *bare, hw_error *err)
{
    hw_board_row coated = {0};
    hw_status status = row_of(board, true, &coated, err);
    if (status == HW_OK && coated.zero) {
        const hw_lab *with = &coated.zero->lab, *without = &bare->zero->lab;
        board->has_coat = true;
        board->coat_shift =
            (hw_lab){with->L - without->L, with->a - without->a, with->b - without->b};
    }
    if (status == HW_OK && !coated.zero) {
        set_aside(&coated, "not used: no strip without toner lies under the clear coat beside it");
    }
    if (status == HW_OK && coated.zero && coated.count > 0) {
        double most = coated.strip[coated.count - 1]->passes, product = 0.0, square = 0.0;
        if (check_possible(board->dye, &coated, NULL) != HW_OK) {
            set_aside(&coated,
                      "not used: lighter than the strip without toner under the clear coat");
            hw_board_row_free(&coated);
            hw_free(coated.strip);
            return HW_OK;
        }
        status = hw_board_row_fit(&coated, err);
        for (int band = 0; band < 3; band++) {
            product += bare->d[band] * coated.d[band];
            square += bare->d[band] * bare->d[band];
        }
        hw_covariance v = covariance_of(&coated);
        board->under_coat_count = coated.count;
        board->under_coat = product / square * pow(most, coated.g - bare->g);
        board->u_under_coat =
            fmax(board->under_coat, 0.1) *
            fmin(hypot(along(coated.d, &v), along(board->density, &board->covariance)), 10.0);
        fill_strips(board, true, &coated);
    }
    hw_board_row_free(&coated);
    hw_free(coated.strip);
    return status;
}

static hw_status fit_board(hw_board *board, hw_board_row *bare, hw_error *err)
{
    hw_status status = row_of(board, false, bare, err);
    if (status != HW_OK) {
        return status;
    }
    if (!bare->zero) {
        return hw_fail(err, HW_ERR_CALL, "board-no-zero", board->dye,
                       "Give the strip of the same wood, sealed alike, with 0 passes.",
                       "its row has no strip without toner");
    }
    if (bare->count == 0) {
        return hw_fail(err, HW_ERR_CALL, "board-few", board->dye,
                       "Give strips with 1, 2, 3 and 4 passes.",
                       "its row has no strip with toner that is not coated");
    }
    status = check_possible(board->dye, bare, err);
    if (status == HW_OK) {
        status = hw_board_row_fit(bare, err);
    }
    if (status == HW_OK) {
        status = fill_board(board, bare, err);
    }
    return status == HW_OK ? look_under_coat(board, bare, err) : status;
}

hw_status hw_board_fit(const char *dye, const hw_strip *strips, size_t count, hw_board *out,
                       hw_error *err)
{
    hw_board board = {0};
    hw_board_row bare = {0};
    hw_copy_text(board.dye, sizeof board.dye, dye);
    hw_status status = take_strips(dye, strips, count, &board, err);
    if (status == HW_OK) {
        status = fit_board(&board, &bare, err);
    }
    hw_board_row_free(&bare);
    hw_free(bare.strip);
    if (status == HW_OK) {
        *out = board;
    } else {
        hw_board_free(&board);
    }
    return status;
}

void hw_board_free(hw_board *board)
{
    if (board) {
        hw_free(board->strip);
        *board = (hw_board){0};
    }
}

void hw_board_doubt_sizes(hw_board *board, double passes, const hw_covariance *covariance)
{
    double density[3], amount = pow(passes, board->exponent);
    for (int band = 0; band < 3; band++) {
        density[band] = board->density[band] * amount;
    }
    hw_lab under = hw_tone_under(board->strip[0].lab, density);
    hw_covariance in = hw_board_in_bands(under, covariance);
    in = hw_covariance_times(&in, 1.0 / (amount * amount));
    board->covariance = hw_covariance_sum(&board->covariance, &in);
}

hw_dye hw_board_dye(const hw_board *board)
{
    hw_dye dye = {.covariance = board->covariance,
                  .exponent = board->exponent,
                  .u_exponent = board->u_exponent,
                  .has_wood = board->count > 0,
                  .wood = board->count > 0 ? board->strip[0].lab : (hw_lab){0, 0, 0}};
    hw_copy_text(dye.name, sizeof dye.name, board->dye);
    memcpy(dye.density, board->density, sizeof dye.density);
    dye.u_strength = along(board->density, &board->covariance);
    for (size_t i = 0; i < board->count; i++) {
        const hw_strip *strip = &board->strip[i];
        if (!strip->coated && !strip->out_of_line && strip->passes > dye.board_passes) {
            dye.board_passes = (int)strip->passes;
        }
    }
    return dye;
}
