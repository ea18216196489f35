// tone_board_fit.c: the law of one row of a step board. Strips of the same wood with 0, 1, 2 ... passes:
//
//   y_n = ln(s_0 / s_n) = d n^g        band by band, in the Bradford-sharpened space (tone.h)
//
// d, the density of one pass, and g, one for all bands, come from all strips at once: the most likely ones
// (Gauss and Newton) given
//   - each strip's own covariance, carried into the bands;
//   - that of the strip without toner, which is in every y;
//   - passes that are not alike: each is off by hw_u_pass. Half of that
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

static const double u_band = 0.05;
static const double u_exponent_few = 0.10, u_exponent_many = 0.20;
static const size_t many = 3;           // strips with toner
static const double deviate_most = 3.0; // s.d.
static const double aside_most = 13.8;  // chi squared of two directions, 1 in 1000 (NIST tables)
static const double band_least = 1e-5;
static const double exponent_least = 0.3, exponent_most = 2.0;

// ---- Bands -------------------------------------------------------------------------

void hw_board_ln_bands(hw_lab lab, double out[3])
{
    hw_sharpen(hw_xyz_from_lab(lab, hw_white_d50), out);
    for (int band = 0; band < 3; band++) {
        out[band] = log(fmax(out[band], band_least));
    }
}

// Covariance of L*, a*, b* carried into the logarithms of the bands.
hw_covariance hw_board_in_bands(hw_lab lab, const hw_covariance *covariance)
{
    double jacobian[3][3];
    hw_tone_density_by_lab(lab, jacobian);
    return hw_covariance_map((const double(*)[3])jacobian, covariance);
}

// ---- A fit -------------------------------------------------------------------------

void hw_board_row_free(hw_board_row *one)
{
    hw_free(one->y);
    hw_free(one->V);
    hw_free(one->J);
    hw_free(one->e);
}

static void find_y(hw_board_row *one)
{
    double zero[3];
    hw_board_ln_bands(one->zero->lab, zero);
    for (size_t i = 0; i < one->count; i++) {
        double seen[3];
        hw_board_ln_bands(one->strip[i]->lab, seen);
        for (size_t band = 0; band < 3; band++) {
            one->y[3 * i + band] = zero[band] - seen[band];
        }
    }
}

// V for the present d.
static void find_covariance(hw_board_row *one)
{
    size_t n = 3 * one->count;
    hw_covariance zero = hw_board_in_bands(one->zero->lab, &one->zero->covariance);
    for (size_t i = 0; i < one->count; i++) {
        hw_covariance own = hw_board_in_bands(one->strip[i]->lab, &one->strip[i]->covariance);
        for (size_t j = 0; j <= i; j++) {
            double shared = fmin(one->strip[i]->passes, one->strip[j]->passes);
            double passes = 0.5 * shared + (i == j ? 0.5 * one->strip[i]->passes : 0.0);
            for (size_t r = 0; r < 3; r++) {
                for (size_t c = 0; c < 3; c++) {
                    one->V[(3 * i + r) * n + 3 * j + c] =
                        zero.m[r][c] + (i == j ? own.m[r][c] : 0.0) +
                        hw_u_pass * hw_u_pass * passes * one->d[r] * one->d[c];
                }
            }
        }
        for (size_t r = 0; r < 3; r++) {
            double stray = u_band * one->strip[i]->passes * one->d[r];
            one->V[(3 * i + r) * n + 3 * i + r] += stray * stray + 1e-10; // never quite 0
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

// Inverse of a positive definite matrix.
static void invert(const double m[HW_ROW_PARAMETERS][HW_ROW_PARAMETERS],
                   double out[HW_ROW_PARAMETERS][HW_ROW_PARAMETERS])
{
    double root[HW_ROW_PARAMETERS * HW_ROW_PARAMETERS];
    memcpy(root, m, sizeof root);
    for (int p = 0; p < HW_ROW_PARAMETERS; p++) {
        root[p * (HW_ROW_PARAMETERS + 1)] += 1e-9; // never quite singular
    }
    if (hw_cholesky(root, HW_ROW_PARAMETERS)) {
        hw_cholesky_invert(root, HW_ROW_PARAMETERS, &out[0][0]);
    }
}

// J and e for the present d and g, whitened.
static void linearise(hw_board_row *one)
{
    size_t n = 3 * one->count;
    find_covariance(one);
    if (!hw_cholesky(one->V, n)) {
        return; // cannot be: every band has a doubt of its own
    }
    for (size_t i = 0; i < one->count; i++) {
        double passes = one->strip[i]->passes, amount = pow(passes, one->g);
        for (size_t band = 0; band < 3; band++) {
            size_t at = 3 * i + band;
            for (size_t p = 0; p < 3; p++) {
                one->J[at * HW_ROW_PARAMETERS + p] = p == band ? amount : 0.0;
            }
            one->J[at * HW_ROW_PARAMETERS + 3] = one->d[band] * amount * log(passes);
            one->e[at] = one->y[at] - one->d[band] * amount;
        }
    }
    whiten(one->V, n, one->J, HW_ROW_PARAMETERS);
    whiten(one->V, n, one->e, 1);
}

// One step; a band that is held stays at 0.
static void step(hw_board_row *one, const bool held[3])
{
    double H[HW_ROW_PARAMETERS][HW_ROW_PARAMETERS] = {{0}}, gradient[HW_ROW_PARAMETERS] = {0},
           inverse[HW_ROW_PARAMETERS][HW_ROW_PARAMETERS] = {{0}};
    linearise(one);
    for (size_t at = 0; at < 3 * one->count; at++) {
        const double *J = &one->J[at * HW_ROW_PARAMETERS];
        for (int r = 0; r < HW_ROW_PARAMETERS; r++) {
            gradient[r] += J[r] * one->e[at];
            for (int c = 0; c < HW_ROW_PARAMETERS; c++) {
                H[r][c] += J[r] * J[c];
            }
        }
    }
    H[3][3] += 1.0 / (one->u_g * one->u_g);
    gradient[3] += (1.0 - one->g) / (one->u_g * one->u_g);
    invert((const double(*)[HW_ROW_PARAMETERS])H, one->P); // as if no band was held: how sure it is
    for (int band = 0; band < 3; band++) {
        for (int other = 0; held[band] && other < HW_ROW_PARAMETERS; other++) {
            H[band][other] = H[other][band] = band == other;
        }
        gradient[band] = held[band] ? 0.0 : gradient[band];
    }
    invert((const double(*)[HW_ROW_PARAMETERS])H, inverse);
    for (int r = 0; r < HW_ROW_PARAMETERS; r++) {
        double move = 0.0;
        for (int c = 0; c < HW_ROW_PARAMETERS; c++) {
            move += inverse[r][c] * gradient[c];
        }
        *(r < 3 ? &one->d[r] : &one->g) += move;
    }
    one->g = fmin(fmax(one->g, exponent_least), exponent_most);
}

// Most likely d >= 0 and g: a dye gives no light, so a band that would is held at 0.
static void fit(hw_board_row *one)
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

static hw_status fit_row(hw_board_row *one, hw_error *err)
{
    size_t n = 3 * one->count;
    hw_board_row_free(one);
    one->y = hw_alloc_array(n, sizeof *one->y);
    one->V = hw_alloc_array(n * n, sizeof *one->V);
    one->J = hw_alloc_array(n * HW_ROW_PARAMETERS, sizeof *one->J);
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
static void leave_out(const hw_board_row *one, size_t strip, double *columns, double u[3],
                      double A[3][3])
{
    size_t n = 3 * one->count;
    double JK[3][HW_ROW_PARAMETERS] = {{0}};
    for (size_t a = 0; a < 3; a++) {
        double *column = &columns[a * n];
        column_of_inverse(one->V, n, 3 * strip + a, column);
        u[a] = 0.0;
        for (size_t at = 0; at < n; at++) {
            u[a] += column[at] * one->e[at];
            for (size_t p = 0; p < HW_ROW_PARAMETERS; p++) {
                JK[a][p] += column[at] * one->J[at * HW_ROW_PARAMETERS + p];
            }
        }
    }
    for (size_t a = 0; a < 3; a++) {
        for (size_t b = 0; b < 3; b++) {
            A[a][b] = 0.0;
            for (size_t at = 0; at < n; at++) {
                A[a][b] += columns[a * n + at] * columns[b * n + at];
            }
            for (size_t p = 0; p < HW_ROW_PARAMETERS; p++) {
                for (size_t q = 0; q < HW_ROW_PARAMETERS; q++) {
                    A[a][b] -= JK[a][p] * one->P[p][q] * JK[b][q];
                }
            }
        }
    }
}

// u' A^-1 u, or a negative number where A has none.
static double inverse_form(const double A[3][3], const double u[3])
{
    double root[9], solved[3] = {u[0], u[1], u[2]};
    memcpy(root, A, sizeof root);
    if (!hw_cholesky(root, 3)) {
        return -1.0;
    }
    hw_cholesky_solve(root, 3, solved);
    return u[0] * solved[0] + u[1] * solved[1] + u[2] * solved[2];
}

static lie lie_of(const hw_board_row *one, size_t strip, double *columns)
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
    double all = inverse_form((const double(*)[3])A, u);
    found.amount = along / sqrt(square);
    found.aside = fmax(all - found.amount * found.amount, 0.0);
    return found;
}

// By how many passes a strip is off what the fit of the others says.
static double passes_off(const hw_board_row *one, const hw_strip *strip)
{
    double zero[3], seen[3], along = 0.0, square = 0.0;
    hw_board_ln_bands(one->zero->lab, zero);
    hw_board_ln_bands(strip->lab, seen);
    for (int band = 0; band < 3; band++) {
        along += (zero[band] - seen[band]) * one->d[band];
        square += one->d[band] * one->d[band];
    }
    return pow(fmax(along / fmax(square, 1e-12), 0.0), 1.0 / one->g) - strip->passes;
}

static void say_why(const hw_board_row *one, hw_strip *strip, const lie *found)
{
    char much[48] = "";
    double passes = fabs(passes_off(one, strip));
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
static hw_status look_at_strips(hw_board_row *one, size_t *worst, lie *worst_lie, hw_error *err)
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
static void doubt_both(hw_board_row *one, double deviate)
{
    double times = deviate * deviate;
    for (int r = 0; r < HW_ROW_PARAMETERS; r++) {
        for (int c = 0; c < HW_ROW_PARAMETERS; c++) {
            one->P[r][c] *= times;
        }
    }
    for (size_t i = 0; i < one->count; i++) {
        hw_copy_text(one->strip[i]->why, sizeof one->strip[i]->why,
                     "the strips with toner do not agree, and there are too few to tell which is "
                     "wrong");
    }
}

// Where more than a quarter of the strips is left out, the rest is believed half as well.
static void doubt_rest(hw_board_row *one, size_t left_out)
{
    for (int r = 0; r < HW_ROW_PARAMETERS && 4 * left_out > one->count + left_out; r++) {
        for (int c = 0; c < HW_ROW_PARAMETERS; c++) {
            one->P[r][c] *= 4.0;
        }
    }
}

// A strip that was left out, and how it lay.
typedef struct left_strip {
    hw_strip *strip;
    lie found;
} left_strip;

static hw_status fit_in_line(hw_board_row *one, left_strip *left, size_t *left_count, hw_error *err)
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
        left[(*left_count)++] = (left_strip){one->strip[worst], found};
        for (size_t i = worst; i + 1 < one->count; i++) {
            one->strip[i] = one->strip[i + 1];
        }
        one->count--;
    }
}

// Fits, and leaves out what is out of line.
hw_status hw_board_row_fit(hw_board_row *one, hw_error *err)
{
    size_t count = 0;
    left_strip *left = hw_alloc_array(one->count, sizeof *left);
    if (!left) {
        return hw_fail_memory(err, "reading the step board");
    }
    hw_status status = fit_in_line(one, left, &count, err);
    for (size_t i = 0; i < count && status == HW_OK; i++) {
        say_why(one, left[i].strip, &left[i].found);
    }
    doubt_rest(one, count);
    hw_free(left);
    return status;
}
