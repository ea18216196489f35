// tone_board.c: what a step board teaches of a dye. Strips of the same wood with 0, 1, 2 ... passes:
//
//   y_n = ln(s_0 / s_n) = d n^g        band by band, in the Bradford-sharpened space (tone.h)
//
// d, the density of one pass, and g, one for all bands, come from all strips at once: the most likely ones
// (Gauss and Newton) given
//   - each strip's own covariance, carried into the bands;
//   - that of the strip without toner, which is in every y;
//   - passes that are not alike: each is off by 12 % (chosen: a practised hand) of a pass. Half of that
//     variance goes with the pass, so that later strips carry it on; half with the strip;
//   - bands that do not follow one g: each strays by 5 % of its change (chosen: without it, the strips of a
//     dye inside the wood were called out of line in colour);
//   - g near 1: in a film passes add. 0.10 where one or two strips say little of it; 0.20 from three on
//     (both chosen: inside the wood they add as K/S does, Kubelka and Munk 1931, which gives 0.75 to 0.95).
//
// A strip is out of line where it lies over 3 s.d. off what the others say of it (leaving it out in
// turn, without fitting again: with V the covariance and P that of the fit, u = V^-1 e and the block
// A of V^-1 - V^-1 J P J' V^-1, its amount is off by w'u / sqrt(w'Aw) s.d. along w = d). It is
// named and left out, the worst first, as long as three strips are there to tell. Of two that do not
// agree none can be blamed: the doubt grows instead.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

static const double u_pass = 0.12;
static const double u_band = 0.05;
static const double u_exponent_few = 0.10, u_exponent_many = 0.20;
static const size_t many = 3;           // strips with toner
static const double deviate_most = 3.0; // s.d.
static const double aside_most = 13.8;  // chi squared of two directions, 1 in 1000 (NIST tables)
static const double u_floor = 0.05;     // s.d. of ln strength: no board is surer of it (chosen)
static const double band_least = 1e-5;
static const double exponent_least = 0.3, exponent_most = 2.0;
static const double impossible = -0.01 * 2.302585092994046; // a pass (common practice, no source)
static const double too_strong = 0.4 * 2.302585092994046;   // a pass (common practice, no source)
static const double too_unsure = 1.0;                       // s.d. of ln strength
static const double saturates_from =
    0.93; // exponent below which later passes clearly do less (chosen)
static const double ninety = 1.645;

// ---- Bands -------------------------------------------------------------------------

static void ln_bands(hw_lab lab, double out[3])
{
    hw_sharpen(hw_xyz_from_lab(lab, hw_white_d50), out);
    for (int band = 0; band < 3; band++) {
        out[band] = log(fmax(out[band], band_least));
    }
}

// Covariance of L*, a*, b* carried into the logarithms of the bands (central differences).
static hw_covariance in_bands(hw_lab lab, const hw_covariance *covariance)
{
    const double step = 1e-3;
    double jacobian[3][3];
    for (int axis = 0; axis < 3; axis++) {
        double up[3], down[3];
        hw_lab more = lab, less = lab;
        *(axis == 0 ? &more.L : axis == 1 ? &more.a : &more.b) += step;
        *(axis == 0 ? &less.L : axis == 1 ? &less.a : &less.b) -= step;
        ln_bands(more, up);
        ln_bands(less, down);
        for (int band = 0; band < 3; band++) {
            jacobian[band][axis] = (up[band] - down[band]) / (2.0 * step);
        }
    }
    return hw_covariance_map((const double(*)[3])jacobian, covariance);
}

// ---- A fit -------------------------------------------------------------------------

#define PARAMETERS 4 // d of three bands, g

// Strips with toner of one row, and what was found of them.
typedef struct row {
    hw_strip **strip;
    size_t count;
    const hw_strip *zero;
    double d[3], g;
    double P[PARAMETERS][PARAMETERS]; // covariance of both
    double u_g;                       // prior s.d. of g
    double *y;                        // 3 count
    double *V;                        // (3 count)^2; its lower triangle becomes the Cholesky factor
    double *J;                        // 3 count x PARAMETERS, whitened
    double *e;                        // y less the fit, whitened
} row;

static void row_free(row *one)
{
    hw_free(one->y);
    hw_free(one->V);
    hw_free(one->J);
    hw_free(one->e);
}

static void find_y(row *one)
{
    double zero[3];
    ln_bands(one->zero->lab, zero);
    for (size_t i = 0; i < one->count; i++) {
        double seen[3];
        ln_bands(one->strip[i]->lab, seen);
        for (size_t band = 0; band < 3; band++) {
            one->y[3 * i + band] = zero[band] - seen[band];
        }
    }
}

// V for the present d.
static void find_covariance(row *one)
{
    size_t n = 3 * one->count;
    hw_covariance zero = in_bands(one->zero->lab, &one->zero->covariance);
    for (size_t i = 0; i < one->count; i++) {
        hw_covariance own = in_bands(one->strip[i]->lab, &one->strip[i]->covariance);
        for (size_t j = 0; j <= i; j++) {
            double shared = fmin(one->strip[i]->passes, one->strip[j]->passes);
            double passes = 0.5 * shared + (i == j ? 0.5 * one->strip[i]->passes : 0.0);
            for (size_t r = 0; r < 3; r++) {
                for (size_t c = 0; c < 3; c++) {
                    one->V[(3 * i + r) * n + 3 * j + c] =
                        zero.m[r][c] + (i == j ? own.m[r][c] : 0.0) +
                        u_pass * u_pass * passes * one->d[r] * one->d[c];
                }
            }
        }
        for (size_t r = 0; r < 3; r++) {
            double stray = u_band * one->strip[i]->passes * one->d[r];
            one->V[(3 * i + r) * n + 3 * i + r] += stray * stray + 1e-10; // never quite 0
        }
    }
}

// Lower triangle in place, m = low low'.
static void factor(double *m, size_t n)
{
    for (size_t c = 0; c < n; c++) {
        for (size_t r = c; r < n; r++) {
            double rest = m[r * n + c];
            for (size_t k = 0; k < c; k++) {
                rest -= m[r * n + k] * m[c * n + k];
            }
            m[r * n + c] = r == c ? sqrt(fmax(rest, 1e-20)) : rest / m[c * n + c];
        }
    }
}

// x = low^-1 x, of `columns` columns.
static void whiten(const double *low, size_t n, double *x, size_t columns)
{
    for (size_t r = 0; r < n; r++) {
        for (size_t c = 0; c < columns; c++) {
            double rest = x[r * columns + c];
            for (size_t k = 0; k < r; k++) {
                rest -= low[r * n + k] * x[k * columns + c];
            }
            x[r * columns + c] = rest / low[r * n + r];
        }
    }
}

// Inverse of a positive definite matrix, by elimination.
static void invert(double m[PARAMETERS][PARAMETERS], double out[PARAMETERS][PARAMETERS])
{
    for (int r = 0; r < PARAMETERS; r++) {
        for (int c = 0; c < PARAMETERS; c++) {
            out[r][c] = r == c;
        }
    }
    for (int p = 0; p < PARAMETERS; p++) {
        double pivot = fmax(m[p][p], 1e-12);
        for (int c = 0; c < PARAMETERS; c++) {
            m[p][c] /= pivot;
            out[p][c] /= pivot;
        }
        for (int r = 0; r < PARAMETERS; r++) {
            double times = r == p ? 0.0 : m[r][p];
            for (int c = 0; c < PARAMETERS; c++) {
                m[r][c] -= times * m[p][c];
                out[r][c] -= times * out[p][c];
            }
        }
    }
}

// J and e for the present d and g, whitened.
static void linearise(row *one)
{
    size_t n = 3 * one->count;
    find_covariance(one);
    factor(one->V, n);
    for (size_t i = 0; i < one->count; i++) {
        double passes = one->strip[i]->passes, amount = pow(passes, one->g);
        for (size_t band = 0; band < 3; band++) {
            size_t at = 3 * i + band;
            for (size_t p = 0; p < 3; p++) {
                one->J[at * PARAMETERS + p] = p == band ? amount : 0.0;
            }
            one->J[at * PARAMETERS + 3] = one->d[band] * amount * log(passes);
            one->e[at] = one->y[at] - one->d[band] * amount;
        }
    }
    whiten(one->V, n, one->J, PARAMETERS);
    whiten(one->V, n, one->e, 1);
}

// One step; a band that is held stays at 0.
static void step(row *one, const bool held[3])
{
    double H[PARAMETERS][PARAMETERS] = {{0}}, gradient[PARAMETERS] = {0}, inverse[4][4];
    linearise(one);
    for (size_t at = 0; at < 3 * one->count; at++) {
        const double *J = &one->J[at * PARAMETERS];
        for (int r = 0; r < PARAMETERS; r++) {
            gradient[r] += J[r] * one->e[at];
            for (int c = 0; c < PARAMETERS; c++) {
                H[r][c] += J[r] * J[c];
            }
        }
    }
    H[3][3] += 1.0 / (one->u_g * one->u_g);
    gradient[3] += (1.0 - one->g) / (one->u_g * one->u_g);
    double free_H[PARAMETERS][PARAMETERS];
    memcpy(free_H, H, sizeof H);
    invert(free_H, one->P); // as if no band was held: how sure it is
    for (int band = 0; band < 3; band++) {
        for (int other = 0; held[band] && other < PARAMETERS; other++) {
            H[band][other] = H[other][band] = band == other;
        }
        gradient[band] = held[band] ? 0.0 : gradient[band];
    }
    invert(H, inverse);
    for (int r = 0; r < PARAMETERS; r++) {
        double move = 0.0;
        for (int c = 0; c < PARAMETERS; c++) {
            move += inverse[r][c] * gradient[c];
        }
        *(r < 3 ? &one->d[r] : &one->g) += move;
    }
    one->g = fmin(fmax(one->g, exponent_least), exponent_most);
}

// Most likely d >= 0 and g: a dye gives no light, so a band that would is held at 0.
static void fit(row *one)
{
    const int steps = 25;
    bool held[3] = {false, false, false};
    double squares = 0.0;
    one->u_g = one->count >= many ? u_exponent_many : u_exponent_few;
    one->g = 1.0;
    memset(one->d, 0, sizeof one->d);
    for (size_t i = 0; i < one->count; i++) {
        double passes = one->strip[i]->passes;
        squares += passes * passes;
        for (size_t band = 0; band < 3; band++) {
            one->d[band] += passes * one->y[3 * i + band];
        }
    }
    for (int band = 0; band < 3; band++) {
        one->d[band] /= squares;
    }
    for (int turn = 0; turn < 3; turn++) {
        bool again = false;
        for (int i = 0; i < steps; i++) {
            step(one, held);
        }
        for (int band = 0; band < 3; band++) {
            again = again || (one->d[band] < 0.0 && !held[band]);
            held[band] = held[band] || one->d[band] < 0.0;
            one->d[band] = held[band] ? 0.0 : one->d[band];
        }
        if (!again) {
            break;
        }
    }
    linearise(one);
}

static hw_status fit_row(row *one, hw_error *err)
{
    size_t n = 3 * one->count;
    row_free(one);
    one->y = hw_alloc_array(n, sizeof *one->y);
    one->V = hw_alloc_array(n * n, sizeof *one->V);
    one->J = hw_alloc_array(n * PARAMETERS, sizeof *one->J);
    one->e = hw_alloc_array(n, sizeof *one->e);
    if (!one->y || !one->V || !one->J || !one->e) {
        return hw_fail_memory(err, "reading the step board");
    }
    find_y(one);
    fit(one);
    return HW_OK;
}

// ---- Strips out of line ------------------------------------------------------------

// How one strip lies to what the others say of it.
typedef struct lie {
    double amount; // s.d. of too much dye; negative: too little
    double passes; // the same in passes
    double aside;  // chi squared of what is off in colour, not in amount
} lie;

// Column `at` of low^-1, from row `at` on.
static void column_of_inverse(const double *low, size_t n, size_t at, double *out)
{
    for (size_t r = 0; r < n; r++) {
        double rest = r == at;
        for (size_t k = at; k < r; k++) {
            rest -= low[r * n + k] * out[k];
        }
        out[r] = r < at ? 0.0 : rest / low[r * n + r];
    }
}

// u and A of a strip (see the head of the file), from the whitened J and e.
static void leave_out(const row *one, size_t strip, double *columns, double u[3], double A[3][3])
{
    size_t n = 3 * one->count;
    double JK[3][PARAMETERS] = {{0}};
    for (size_t a = 0; a < 3; a++) {
        double *column = &columns[a * n];
        column_of_inverse(one->V, n, 3 * strip + a, column);
        u[a] = 0.0;
        for (size_t at = 0; at < n; at++) {
            u[a] += column[at] * one->e[at];
            for (size_t p = 0; p < PARAMETERS; p++) {
                JK[a][p] += column[at] * one->J[at * PARAMETERS + p];
            }
        }
    }
    for (size_t a = 0; a < 3; a++) {
        for (size_t b = 0; b < 3; b++) {
            A[a][b] = 0.0;
            for (size_t at = 0; at < n; at++) {
                A[a][b] += columns[a * n + at] * columns[b * n + at];
            }
            for (size_t p = 0; p < PARAMETERS; p++) {
                for (size_t q = 0; q < PARAMETERS; q++) {
                    A[a][b] -= JK[a][p] * one->P[p][q] * JK[b][q];
                }
            }
        }
    }
}

// u' A^-1 u, or a negative number where A has none.
static double inverse_form(const double A[3][3], const double u[3])
{
    double det = 0.0, cofactor[3][3], sum = 0.0;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            int r1 = (r + 1) % 3, r2 = (r + 2) % 3, c1 = (c + 1) % 3, c2 = (c + 2) % 3;
            cofactor[r][c] = A[r1][c1] * A[r2][c2] - A[r1][c2] * A[r2][c1];
        }
        det += r == 0
                   ? A[0][0] * cofactor[0][0] + A[0][1] * cofactor[0][1] + A[0][2] * cofactor[0][2]
                   : 0.0;
    }
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            sum += u[r] * cofactor[r][c] * u[c];
        }
    }
    return det > 1e-9 * A[0][0] * A[1][1] * A[2][2] ? sum / det : -1.0;
}

static lie lie_of(const row *one, size_t strip, double *columns)
{
    double u[3], A[3][3], along = 0.0, square = 0.0;
    lie found = {0};
    leave_out(one, strip, columns, u, A);
    for (int r = 0; r < 3; r++) {
        along += one->d[r] * u[r];
        for (int c = 0; c < 3; c++) {
            square += one->d[r] * A[r][c] * one->d[c];
        }
    }
    if (one->count < 2 || !(square > 1e-9)) {
        return found; // nothing else says anything of it
    }
    double passes = one->strip[strip]->passes;
    double all = inverse_form((const double(*)[3])A, u);
    found.amount = along / sqrt(square);
    found.passes = along / square / (one->g * pow(passes, one->g - 1.0));
    found.aside = fmax(all - found.amount * found.amount, 0.0);
    return found;
}

static void say_why(hw_strip *strip, const lie *found)
{
    char much[48] = "";
    double passes = fabs(found->passes);
    if (fabs(found->amount) <= deviate_most) {
        hw_copy_text(strip->why, sizeof strip->why,
                     "off in colour, not in depth: another dye, dirt, or shine on the strip");
        return;
    }
    hw_format_text(much, sizeof much, "by about %.1f of a pass", fmax(passes, 0.1));
    if (passes >= 0.95) {
        hw_format_text(much, sizeof much, "by about %.1f passes", passes);
    }
    hw_format_text(strip->why, sizeof strip->why, "%s than the other strips say, %s: %s",
                   found->amount > 0.0 ? "darker" : "lighter", much,
                   found->amount < 0.0 ? "not all of it was covered, or a pass was forgotten"
                   : strip->passes > 1.0
                       ? "a lap mark or a blotch, a pass too many, or not dry in the photo"
                       : "a lap mark, a pass too many, or wood that drank the first pass");
}

static bool is_off(const lie *found)
{
    return fabs(found->amount) > deviate_most || found->aside > aside_most;
}

// Deviates of all strips in the fit; the worst goes to *worst, or row->count when all are in line.
static hw_status look_at_strips(row *one, size_t *worst, lie *worst_lie, hw_error *err)
{
    double most = 0.0, *columns = hw_alloc_array(9 * one->count, sizeof *columns);
    if (!columns) {
        return hw_fail_memory(err, "reading the step board");
    }
    *worst = one->count;
    for (size_t i = 0; i < one->count; i++) {
        lie found = lie_of(one, i, columns);
        hw_strip *strip = one->strip[i];
        bool aside = found.aside > aside_most;
        strip->deviate = fmax(fabs(found.amount), aside ? sqrt(found.aside) : 0.0);
        if (is_off(&found) && strip->deviate > most) {
            most = strip->deviate;
            *worst = i;
            *worst_lie = found;
        }
    }
    hw_free(columns);
    return HW_OK;
}

// Two strips that do not agree: their s.d. grows by the ratio of seen and expected (Birge 1932, Physical
// Review 40, 207).
static void doubt_both(row *one, double deviate)
{
    double times = deviate * deviate;
    for (int r = 0; r < PARAMETERS; r++) {
        for (int c = 0; c < PARAMETERS; c++) {
            one->P[r][c] *= times;
        }
    }
    for (size_t i = 0; i < one->count; i++) {
        hw_copy_text(one->strip[i]->why, sizeof one->strip[i]->why,
                     "the strips with toner do not agree, and there are too few to tell which is "
                     "wrong");
    }
}

// Fits, and leaves out what is out of line.
static hw_status fit_in_line(row *one, hw_error *err)
{
    for (;;) {
        size_t worst = 0;
        lie found = {0};
        hw_status status = fit_row(one, err);
        if (status == HW_OK) {
            status = look_at_strips(one, &worst, &found, err);
        }
        if (status != HW_OK || worst == one->count) {
            return status;
        }
        if (one->count < many) {
            doubt_both(one, one->strip[worst]->deviate);
            return HW_OK;
        }
        one->strip[worst]->out_of_line = true;
        say_why(one->strip[worst], &found);
        for (size_t i = worst; i + 1 < one->count; i++) {
            one->strip[i] = one->strip[i + 1];
        }
        one->count--;
    }
}

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
static hw_status row_of(hw_board *board, bool coated, row *out, hw_error *err)
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
static hw_status check_possible(const char *dye, const row *one, hw_error *err)
{
    static const char *const light[3] = {"red", "green", "blue"};
    double zero[3];
    ln_bands(one->zero->lab, zero);
    hw_covariance zero_doubt = in_bands(one->zero->lab, &one->zero->covariance);
    for (size_t i = 0; i < one->count; i++) {
        const hw_strip *strip = one->strip[i];
        double seen[3];
        ln_bands(strip->lab, seen);
        hw_covariance doubt = in_bands(strip->lab, &strip->covariance);
        for (int band = 0; band < 3; band++) {
            double y = zero[band] - seen[band];
            double u = sqrt(doubt.m[band][band] + zero_doubt.m[band][band]);
            if (y + ninety * u < impossible * strip->passes) {
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

static void fill_strips(hw_board *board, bool coated, const row *one)
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

static hw_covariance covariance_of(const row *one)
{
    hw_covariance v;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            v.m[r][c] = one->P[r][c] + u_floor * u_floor * one->d[r] * one->d[c];
        }
    }
    return v;
}

static hw_status fill_board(hw_board *board, const row *one, hw_error *err)
{
    double off = 0.0;
    memcpy(board->density, one->d, sizeof board->density);
    board->covariance = covariance_of(one);
    board->exponent = one->g;
    board->u_exponent = sqrt(one->P[3][3]);
    board->saturates = one->g < saturates_from && one->g + ninety * board->u_exponent < 1.0;
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

// The part under the clear coat: what the coat does, and whether the dye acts there as it does bare.
static hw_status look_under_coat(hw_board *board, const row *bare, hw_error *err)
{
    row coated = {0};
    hw_status status = row_of(board, true, &coated, err);
    if (status == HW_OK && coated.zero) {
        const hw_lab *with = &coated.zero->lab, *without = &bare->zero->lab;
        board->has_coat = true;
        board->coat_shift =
            (hw_lab){with->L - without->L, with->a - without->a, with->b - without->b};
    }
    for (size_t i = 0; status == HW_OK && !coated.zero && i < coated.count; i++) {
        hw_copy_text(coated.strip[i]->why, sizeof coated.strip[i]->why,
                     "not used: no strip without toner lies under the clear coat beside it");
    }
    if (status == HW_OK && coated.zero && coated.count > 0) {
        double most = coated.strip[coated.count - 1]->passes, product = 0.0, square = 0.0;
        status = fit_in_line(&coated, err);
        for (int band = 0; band < 3; band++) {
            product += bare->d[band] * coated.d[band];
            square += bare->d[band] * bare->d[band];
        }
        hw_covariance v = covariance_of(&coated);
        board->under_coat_count = coated.count;
        board->under_coat = product / square * pow(most, coated.g - bare->g);
        board->u_under_coat = board->under_coat *
                              hypot(along(coated.d, &v), along(board->density, &board->covariance));
        fill_strips(board, true, &coated);
    }
    row_free(&coated);
    hw_free(coated.strip);
    return status;
}

static hw_status fit_board(hw_board *board, row *bare, hw_error *err)
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
        status = fit_in_line(bare, err);
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
    row bare = {0};
    hw_copy_text(board.dye, sizeof board.dye, dye);
    hw_status status = take_strips(dye, strips, count, &board, err);
    if (status == HW_OK) {
        status = fit_board(&board, &bare, err);
    }
    row_free(&bare);
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
    hw_covariance in = in_bands(under, covariance);
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
