// tone_learn.c: what boards and logged passes say together.
//
// One estimate over all observations at once (maximum a posteriori, Gauss and Newton), so that order
// does not matter and none can count twice. Unknowns: for each dye that was seen its density in three
// bands and its exponent; a factor that all guesses of the shop share, one that all boards share, and
// one of the day of the present job; factors as logarithms. So the first pass of one dye tells
// something of all others.
//
//   seen = sum over dyes of factor [ (before + amount)^g - before^g ] d      (tone_layer.c)
//
// An observation is doubted by its two photos, by the scatter of passes, by the day where it is of
// another job, and by how unlike its wood was. Two observations that share a photo share its error
// with opposite sign. One that lies far off weighs (nu + 3) / (nu + z^2), nu = 4 (Lange, Little and
// Taylor 1989, three bands).
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

const double hw_u_pass = 0.12;

// s.d. of ln factor. Shops lie between half and twice a guess; hand and gun off the board's by a
// fifth; a day's liquid and weather by a tenth (common practice, no source).
static const double u_shop = 0.40, u_boards = 0.20, u_day = 0.10;
// A dye seen on another wood acts otherwise by this share, for each 12 L* of difference; one that goes
// into the wood four times as much (chosen after simulated woods 8 to 16 L* apart: 11 % under a film with
// inner reflection, 48 % in the wood).
static const double u_wood = 0.12, unlike_L = 12.0, in_wood_below = 0.95, in_wood_more = 4.0;
// What a board on unlike wood is doubted by more (chosen: as a guess of the family).
static const double u_unlike_board = 0.35;
static const double known_below = 0.25; // s.d. of ln strength from which a dye is no guess (chosen)
static const double nu = 4.0;

enum { SHOP = 0, BOARDS, DAY, SHARED, PER_DYE = 4, CHAIN_MOST = 8, NO_COLUMN = -1 };
#define COLUMNS_MOST (SHARED + PER_DYE * HW_LAID_MOST * CHAIN_MOST)

typedef struct learner {
    const hw_shelf *shelf;
    const char *job;
    hw_lab wood;
    bool own_wood;  // each dye on the wood that it was learned on
    hw_dye *prior;  // the shelf's dyes, doubted more where their wood was unlike
    long *column;   // of each dye: its first unknown, or NO_COLUMN
    size_t *order;  // observations to learn from, chains together
    size_t count;   // of them
    double *weight; // of each, in that order
    size_t unknowns;
    double *x, *gradient, *normal; // unknowns; normal: unknowns squared
} learner;

// ---- Setting up --------------------------------------------------------------------

static size_t dye_index(const hw_shelf *shelf, const char *name)
{
    size_t i = 0;
    while (i < shelf->count && strcmp(shelf->dye[i].name, name) != 0) {
        i++;
    }
    return i;
}

// Any of its dyes unknown here: nothing can be learned from it.
static bool is_usable(const hw_shelf *shelf, const hw_observation *seen)
{
    for (size_t k = 0; k < seen->laid_count; k++) {
        if (dye_index(shelf, seen->laid[k].dye) == shelf->count || !(seen->laid[k].amount > 0.0)) {
            return false;
        }
    }
    hw_covariance inverse;
    return seen->laid_count > 0 && !seen->questioned && !seen->forgotten &&
           hw_invert3(&seen->covariance, &inverse);
}

static int by_chain(const hw_observation *one, const hw_observation *other)
{
    int order = strcmp(one->job, other->job);
    order = order ? order : strcmp(one->patch, other->patch);
    return order ? order : one->event < other->event ? -1 : one->event == other->event ? 0 : 1;
}

// Insertion sort: the shelf keeps them nearly in order.
static void sort_chains(learner *l)
{
    const hw_observation *seen = l->shelf->seen;
    for (size_t i = 1; i < l->count; i++) {
        size_t moving = l->order[i], at = i;
        for (; at > 0 && by_chain(&seen[l->order[at - 1]], &seen[moving]) > 0; at--) {
            l->order[at] = l->order[at - 1];
        }
        l->order[at] = moving;
    }
}

static int group_of(const learner *l, size_t dye)
{
    return l->shelf->dye[dye].guess ? SHOP : BOARDS;
}

// Light that the film throws back inside passes the dye again, more so over light wood: what one layer does
// to ln reflectance goes with 1 / (1 - k2 r), r the reflectance below the film's surface (Saunderson 1942, k1
// 0.04, k2 0.6). Half of that is taken (its root): dyes in a film without inner reflection do alike on all
// woods, and which it is nobody knows (chosen: so carried over from wood to wood each of the two errs by less
// than half of what it would under the other's law).
static void wood_factor(hw_lab from, hw_lab to, double out[3])
{
    const double k1 = 0.04, k2 = 0.6;
    double one[3], other[3], white[3];
    hw_sharpen(hw_xyz_from_lab(from, hw_white_d50), one);
    hw_sharpen(hw_xyz_from_lab(to, hw_white_d50), other);
    hw_sharpen(hw_white_d50, white);
    for (int band = 0; band < 3; band++) {
        double a = fmax(one[band] / white[band], 0.0), b = fmax(other[band] / white[band], 0.0);
        a = fmin(a / ((1.0 - k1) * (1.0 - k2) + k2 * a), 1.0);
        b = fmin(b / ((1.0 - k1) * (1.0 - k2) + k2 * b), 1.0);
        out[band] = sqrt((1.0 - k2 * a) / (1.0 - k2 * b));
    }
}

// Strength alone is doubted by `u` more, against all bands together.
static void doubt_strength(hw_dye *dye, double u)
{
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            dye->covariance.m[r][c] += u * u * dye->density[r] * dye->density[c];
        }
    }
}

static hw_dye prior_of(const learner *l, const hw_dye *dye)
{
    hw_dye prior = *dye;
    bool on_other = dye->has_wood && !l->own_wood;
    if (on_other) {
        double factor[3];
        wood_factor(dye->wood, l->wood, factor);
        for (int r = 0; r < 3; r++) {
            prior.density[r] *= factor[r];
            for (int c = 0; c < 3; c++) {
                prior.covariance.m[r][c] *= factor[r] * factor[c];
            }
        }
    }
    double unlike = on_other ? fabs(dye->wood.L - l->wood.L) / unlike_L : 0.0;
    if (unlike > 1.0) {
        prior.guess = true;
        doubt_strength(&prior, u_unlike_board);
    }
    if (unlike > 0.0) {
        doubt_strength(&prior,
                       unlike * u_wood * (dye->exponent < in_wood_below ? in_wood_more : 1));
    }
    double least = 0.0;
    for (int band = 0; band < 3; band++) {
        least = fmax(least, 0.02 * prior.density[band]); // keeps it invertible
    }
    for (int band = 0; band < 3; band++) {
        prior.covariance.m[band][band] += least * least + 1e-8;
    }
    prior.u_exponent = fmax(prior.u_exponent, 1e-3);
    return prior;
}

static hw_status set_up(learner *l, hw_error *err)
{
    const hw_shelf *shelf = l->shelf;
    l->prior = hw_alloc_array(shelf->count, sizeof *l->prior);
    l->column = hw_alloc_array(shelf->count, sizeof *l->column);
    l->order = hw_alloc_array(shelf->seen_count, sizeof *l->order);
    l->weight = hw_alloc_array(shelf->seen_count, sizeof *l->weight);
    if (!l->prior || !l->column || !l->order || !l->weight) {
        return hw_fail_memory(err, "learning from the passes");
    }
    for (size_t i = 0; i < shelf->count; i++) {
        l->prior[i] = prior_of(l, &shelf->dye[i]);
        l->column[i] = NO_COLUMN;
    }
    l->unknowns = SHARED;
    for (size_t i = 0; i < shelf->seen_count; i++) {
        const hw_observation *seen = &shelf->seen[i];
        if (!is_usable(shelf, seen)) {
            continue;
        }
        l->weight[l->count] = 1.0;
        l->order[l->count++] = i;
        for (size_t k = 0; k < seen->laid_count; k++) {
            size_t dye = dye_index(shelf, seen->laid[k].dye);
            if (l->column[dye] == NO_COLUMN) {
                l->column[dye] = (long)l->unknowns;
                l->unknowns += PER_DYE;
            }
        }
    }
    sort_chains(l);
    l->x = hw_alloc_array(l->unknowns, sizeof *l->x);
    l->gradient = hw_alloc_array(l->unknowns, sizeof *l->gradient);
    l->normal = hw_alloc_array(l->unknowns * l->unknowns, sizeof *l->normal);
    if (!l->x || !l->gradient || !l->normal) {
        return hw_fail_memory(err, "learning from the passes");
    }
    for (size_t i = 0; i < shelf->count; i++) {
        for (int k = 0; k < PER_DYE && l->column[i] != NO_COLUMN; k++) {
            l->x[l->column[i] + k] = k < 3 ? l->prior[i].density[k] : l->prior[i].exponent;
        }
    }
    return HW_OK;
}

static void tear_down(learner *l)
{
    hw_free(l->prior);
    hw_free(l->column);
    hw_free(l->order);
    hw_free(l->weight);
    hw_free(l->x);
    hw_free(l->gradient);
    hw_free(l->normal);
}

// ---- The model ---------------------------------------------------------------------

double hw_amount_law(double before, double amount, double g, double *slope)
{
    double after = before + amount;
    double high = pow(after, g), low = before > 0.0 ? pow(before, g) : 0.0;
    *slope = high * log(after) - (before > 0.0 ? low * log(before) : 0.0);
    return high - low;
}

// Unknowns that one chain of observations touches, and their slopes.
typedef struct chain {
    size_t first, length; // in learner.order
    long column[COLUMNS_MOST];
    size_t columns;
    double residual[3 * CHAIN_MOST];
    double slope[3 * CHAIN_MOST][COLUMNS_MOST];
    double covariance[9 * CHAIN_MOST * CHAIN_MOST];
} chain;

static size_t place_of(chain *c, long column)
{
    size_t i = 0;
    while (i < c->columns && c->column[i] != column) {
        i++;
    }
    if (i == c->columns) {
        c->column[c->columns++] = column;
        for (size_t row = 0; row < 3 * c->length; row++) {
            c->slope[row][i] = 0.0;
        }
    }
    return i;
}

static bool of_this_job(const learner *l, const hw_observation *seen)
{
    return l->job[0] && strcmp(l->job, seen->job) == 0;
}

// Expected density of one observation and its scatter; slopes go into rows row .. row + 2.
static void expect(const learner *l, const hw_observation *seen, chain *c, size_t row,
                   double expected[3], double scatter[3])
{
    double on_wood[3] = {1.0, 1.0, 1.0};
    for (int band = 0; band < 3; band++) {
        expected[band] = scatter[band] = 0.0;
    }
    if (!of_this_job(l, seen) && !l->own_wood) {
        wood_factor(l->wood, seen->wood, on_wood);
    }
    for (size_t k = 0; k < seen->laid_count; k++) {
        const hw_laid *laid = &seen->laid[k];
        size_t dye = dye_index(l->shelf, laid->dye);
        const double *own = &l->x[l->column[dye]];
        int group = group_of(l, dye);
        double by_exponent, factor = exp(l->x[group] + (of_this_job(l, seen) ? l->x[DAY] : 0.0));
        double amount = hw_amount_law(laid->before, laid->amount, own[3], &by_exponent);
        size_t at_group = place_of(c, group), at_exponent = place_of(c, l->column[dye] + 3);
        for (int band = 0; band < 3; band++) {
            double one = factor * on_wood[band] * own[band];
            size_t at_band = place_of(c, l->column[dye] + band);
            c->slope[row + (size_t)band][at_band] += factor * on_wood[band] * amount;
            c->slope[row + (size_t)band][at_exponent] += one * by_exponent;
            c->slope[row + (size_t)band][at_group] += one * amount;
            expected[band] += one * amount;
            scatter[band] += one * hw_u_pass * sqrt(laid->squares);
        }
    }
    if (of_this_job(l, seen)) {
        size_t at_day = place_of(c, DAY);
        for (int band = 0; band < 3; band++) {
            c->slope[row + (size_t)band][at_day] += expected[band];
        }
    }
}

// s.d. of ln strength by which an observation of another day or wood is doubted.
static double unlike(const learner *l, const hw_observation *seen)
{
    double wood = u_wood * fabs(seen->wood.L - l->wood.L) / unlike_L;
    if (of_this_job(l, seen)) {
        return 0.0; // the same wood under fewer passes
    }
    if (l->own_wood) {
        return u_day;
    }
    for (size_t k = 0; k < seen->laid_count; k++) {
        if (l->x[l->column[dye_index(l->shelf, seen->laid[k].dye)] + 3] < in_wood_below) {
            wood *= in_wood_more;
            break;
        }
    }
    return hypot(u_day, fmin(wood, 1.0));
}

static double trace(const hw_covariance *v)
{
    return v->m[0][0] + v->m[1][1] + v->m[2][2];
}

// `shared`: of the lesser covariance of two observations, what they owe to the photo they share.
static void fill_chain(learner *l, chain *c, double shared)
{
    size_t rows = 3 * c->length;
    const hw_observation *before = NULL;
    double day[3 * CHAIN_MOST]; // what another day and wood may do to each, all of a chain alike
    memset(c->covariance, 0, sizeof c->covariance);
    for (size_t i = 0; i < c->length; i++) {
        const hw_observation *seen = &l->shelf->seen[l->order[c->first + i]];
        double expected[3], scatter[3], other = unlike(l, seen);
        expect(l, seen, c, 3 * i, expected, scatter);
        for (size_t r = 0; r < 3; r++) {
            c->residual[3 * i + r] = seen->density[r] - expected[r];
            day[3 * i + r] = other * expected[r];
            for (size_t k = 0; k < 3; k++) {
                double *at = &c->covariance[(3 * i + r) * rows + 3 * i + k];
                *at =
                    (seen->covariance.m[r][k] + scatter[r] * scatter[k]) / l->weight[c->first + i];
                if (before && before->photo_after == seen->photo_before) {
                    const hw_observation *less =
                        trace(&before->covariance) < trace(&seen->covariance) ? before : seen;
                    double both = -shared * less->covariance.m[r][k];
                    c->covariance[(3 * i + r) * rows + 3 * (i - 1) + k] = both;
                    c->covariance[(3 * (i - 1) + k) * rows + 3 * i + r] = both;
                }
            }
        }
        before = seen;
    }
    for (size_t r = 0; r < rows; r++) {
        for (size_t k = 0; k < rows; k++) {
            c->covariance[r * rows + k] += day[r] * day[k];
        }
    }
}

// Weights for the next turn, from each observation's own distance.
static void weigh(learner *l, const chain *c)
{
    size_t rows = 3 * c->length;
    for (size_t i = 0; i < c->length; i++) {
        double own[9], z[3], squared = 0.0, *weight = &l->weight[c->first + i];
        for (size_t r = 0; r < 3; r++) {
            z[r] = c->residual[3 * i + r];
            for (size_t k = 0; k < 3; k++) {
                own[3 * r + k] = *weight * c->covariance[(3 * i + r) * rows + 3 * i + k]; // about
            }
        }
        if (hw_cholesky(own, 3)) {
            double solved[3] = {z[0], z[1], z[2]};
            hw_cholesky_solve(own, 3, solved);
            squared = z[0] * solved[0] + z[1] * solved[1] + z[2] * solved[2];
        }
        *weight = fmin(1.0, (nu + 3.0) / (nu + squared));
    }
}

// Adds J' C^-1 J and J' C^-1 r.
static void add_chain(learner *l, chain *c)
{
    size_t rows = 3 * c->length;
    double weighted[3 * CHAIN_MOST];
    for (size_t i = 0; i < c->columns; i++) {
        for (size_t row = 0; row < rows; row++) {
            weighted[row] = c->slope[row][i];
        }
        hw_cholesky_solve(c->covariance, rows, weighted);
        for (size_t row = 0; row < rows; row++) {
            l->gradient[c->column[i]] += weighted[row] * c->residual[row];
            for (size_t k = 0; k < c->columns; k++) {
                l->normal[(size_t)c->column[i] * l->unknowns + (size_t)c->column[k]] +=
                    weighted[row] * c->slope[row][k];
            }
        }
    }
}

// ---- The estimate ------------------------------------------------------------------

static void add_prior(learner *l)
{
    const double u[SHARED] = {u_shop, u_boards, u_day};
    for (size_t i = 0; i < SHARED; i++) {
        l->normal[i * l->unknowns + i] += 1.0 / (u[i] * u[i]);
        l->gradient[i] -= l->x[i] / (u[i] * u[i]);
    }
    for (size_t i = 0; i < l->shelf->count; i++) {
        const hw_dye *prior = &l->prior[i];
        hw_covariance inverse;
        if (l->column[i] == NO_COLUMN || !hw_invert3(&prior->covariance, &inverse)) {
            continue;
        }
        size_t at = (size_t)l->column[i];
        for (size_t r = 0; r < 3; r++) {
            for (size_t k = 0; k < 3; k++) {
                l->normal[(at + r) * l->unknowns + at + k] += inverse.m[r][k];
                l->gradient[at + r] += inverse.m[r][k] * (prior->density[k] - l->x[at + k]);
            }
        }
        double stiff = 1.0 / (prior->u_exponent * prior->u_exponent);
        l->normal[(at + 3) * l->unknowns + at + 3] += stiff;
        l->gradient[at + 3] += stiff * (prior->exponent - l->x[at + 3]);
    }
}

// Chains in turn: observations of one job and patch, at most CHAIN_MOST.
static void add_all(learner *l, chain *c)
{
    const hw_observation *seen = l->shelf->seen;
    for (size_t first = 0; first < l->count; first += c->length) {
        const hw_observation *head = &seen[l->order[first]];
        *c = (chain){.first = first, .length = 1};
        while (c->length < CHAIN_MOST && first + c->length < l->count) {
            const hw_observation *next = &seen[l->order[first + c->length]];
            if (strcmp(next->job, head->job) != 0 || strcmp(next->patch, head->patch) != 0) {
                break;
            }
            c->length++;
        }
        fill_chain(l, c, 0.5);
        weigh(l, c);
        if (!hw_cholesky(c->covariance, 3 * c->length)) {
            // Very unlike neighbours: taken as if they shared nothing.
            c->columns = 0;
            fill_chain(l, c, 0.0);
            if (!hw_cholesky(c->covariance, 3 * c->length)) {
                continue; // cannot be: each was tested to be positive
            }
        }
        add_chain(l, c);
    }
}

static void keep_possible(learner *l)
{
    for (size_t i = 0; i < l->shelf->count; i++) {
        for (int k = 0; k < PER_DYE && l->column[i] != NO_COLUMN; k++) {
            double *value = &l->x[l->column[i] + k];
            *value = k < 3 ? fmax(*value, 0.0) : fmax(0.5, fmin(*value, 1.4));
        }
    }
}

// Leaves the root of the normal matrix in l->normal.
static hw_status estimate(learner *l, hw_error *err)
{
    const int turns = 8; // enough for factors of four (tests/tone)
    chain *c = hw_alloc_array(1, sizeof *c);
    if (!c) {
        return hw_fail_memory(err, "learning from the passes");
    }
    for (int turn = 0; turn < turns; turn++) {
        memset(l->gradient, 0, l->unknowns * sizeof *l->gradient);
        memset(l->normal, 0, l->unknowns * l->unknowns * sizeof *l->normal);
        add_all(l, c);
        add_prior(l);
        if (!hw_cholesky(l->normal, l->unknowns)) {
            break; // cannot be: the prior alone is positive
        }
        hw_cholesky_solve(l->normal, l->unknowns, l->gradient);
        for (size_t i = 0; i < l->unknowns; i++) {
            double most = i < SHARED ? 0.7 : 1e9; // factors at most double a turn
            l->x[i] += fmax(-most, fmin(l->gradient[i], most));
        }
        keep_possible(l);
    }
    hw_free(c);
    return HW_OK;
}

// ---- Known dyes --------------------------------------------------------------------

static double factor_of(const learner *l, size_t dye)
{
    return exp(l->x[group_of(l, dye)] + l->x[DAY]);
}

// d (density as laid today, band) / d unknown.
static double slope_of(const learner *l, size_t dye, const double density[3], size_t band,
                       size_t unknown)
{
    if (unknown == (size_t)group_of(l, dye) || unknown == DAY) {
        return density[band];
    }
    if (l->column[dye] != NO_COLUMN && unknown == (size_t)l->column[dye] + band) {
        return factor_of(l, dye);
    }
    return 0.0;
}

// Unknowns that one band of a dye as laid depends on: shop or boards, day, and its own.
static size_t touched(const learner *l, size_t dye, size_t band, size_t out[3])
{
    out[0] = (size_t)group_of(l, dye);
    out[1] = DAY;
    out[2] = l->column[dye] != NO_COLUMN ? (size_t)l->column[dye] + band : 0;
    return l->column[dye] != NO_COLUMN ? 3 : 2;
}

static void fill_covariance(const learner *l, const double *inverse, hw_known *out)
{
    size_t n = 3 * out->count;
    for (size_t r = 0; r < n; r++) {
        for (size_t c = 0; c < n; c++) {
            size_t one[3], other[3], i = r / 3, k = c / 3;
            size_t ones = touched(l, i, r % 3, one), others = touched(l, k, c % 3, other);
            double sum = 0.0;
            for (size_t a = 0; a < ones; a++) {
                for (size_t b = 0; b < others; b++) {
                    sum += slope_of(l, i, out->dye[i].density, r % 3, one[a]) *
                           inverse[one[a] * l->unknowns + other[b]] *
                           slope_of(l, k, out->dye[k].density, c % 3, other[b]);
                }
            }
            if (i == k && l->column[i] == NO_COLUMN) { // not seen: its own doubt as it was
                double factor = factor_of(l, i);
                sum += factor * factor * l->prior[i].covariance.m[r % 3][c % 3];
            }
            out->covariance[r * n + c] = sum;
        }
    }
}

static double strength_doubt(const hw_known *known, size_t dye)
{
    size_t n = 3 * known->count;
    const double *d = known->dye[dye].density;
    double sum = 0.0, square = 0.0;
    for (size_t r = 0; r < 3; r++) {
        square += d[r] * d[r];
        for (size_t c = 0; c < 3; c++) {
            sum += d[r] * known->covariance[(3 * dye + r) * n + 3 * dye + c] * d[c];
        }
    }
    return square > 0.0 ? sqrt(fmax(sum, 0.0)) / square : 1.0;
}

static size_t times_seen(const learner *l, const char *name)
{
    size_t times = 0;
    for (size_t i = 0; i < l->count; i++) {
        const hw_observation *seen = &l->shelf->seen[l->order[i]];
        for (size_t k = 0; k < seen->laid_count; k++) {
            times += strcmp(seen->laid[k].dye, name) == 0;
        }
    }
    return times;
}

static void fill_dye(const learner *l, size_t i, const double *inverse, hw_known_dye *out)
{
    const hw_dye *prior = &l->prior[i];
    bool active = l->column[i] != NO_COLUMN;
    size_t at = active ? (size_t)l->column[i] : 0;
    double unlike_board = prior->guess && prior->has_wood ? prior->wood.L - l->wood.L : 0.0;
    *out = (hw_known_dye){.family = prior->family,
                          .has_board = prior->has_wood,
                          .unlike = unlike_board,
                          .exponent = active ? l->x[at + 3] : prior->exponent,
                          .u_exponent = prior->u_exponent,
                          .times_seen = times_seen(l, prior->name)};
    hw_copy_text(out->name, sizeof out->name, prior->name);
    for (size_t band = 0; band < 3; band++) {
        out->density[band] = factor_of(l, i) * (active ? l->x[at + band] : prior->density[band]);
    }
    if (active) {
        out->u_exponent = sqrt(inverse[(at + 3) * l->unknowns + at + 3]);
    }
}

static hw_status tell(const learner *l, hw_known *out, hw_error *err)
{
    size_t n = l->shelf->count;
    double *inverse = hw_alloc_array(l->unknowns * l->unknowns, sizeof *inverse);
    out->dye = hw_alloc_array(n, sizeof *out->dye);
    out->covariance = hw_alloc_array(9 * n * n, sizeof *out->covariance);
    if (!inverse || !out->dye || !out->covariance) {
        hw_free(inverse);
        return hw_fail_memory(err, "learning from the passes");
    }
    out->count = n;
    hw_cholesky_invert(l->normal, l->unknowns, inverse);
    for (size_t i = 0; i < n; i++) {
        fill_dye(l, i, inverse, &out->dye[i]);
    }
    fill_covariance(l, inverse, out);
    for (size_t i = 0; i < n; i++) {
        hw_known_dye *dye = &out->dye[i];
        dye->u_strength = strength_doubt(out, i);
        dye->guess = l->prior[i].guess && !(dye->times_seen > 0 && dye->u_strength < known_below);
    }
    hw_free(inverse);
    return HW_OK;
}

static hw_status learn(learner *l, hw_known *out, hw_error *err)
{
    hw_known known = {0};
    hw_status status = set_up(l, err);
    if (status == HW_OK) {
        status = estimate(l, err);
    }
    if (status == HW_OK) {
        status = tell(l, &known, err);
    }
    if (status == HW_OK) {
        *out = known;
    } else {
        hw_known_free(&known);
    }
    tear_down(l);
    return status;
}

hw_status hw_tone_learn(const hw_shelf *shelf, const char *job, hw_lab wood, hw_known *out,
                        hw_error *err)
{
    learner l = {.shelf = shelf, .job = job, .wood = wood};
    return learn(&l, out, err);
}

hw_status hw_tone_learn_own(const hw_shelf *shelf, hw_known *out, hw_error *err)
{
    learner l = {.shelf = shelf, .job = "", .wood = {50.0, 12.0, 25.0}, .own_wood = true};
    return learn(&l, out, err);
}

void hw_known_free(hw_known *known)
{
    if (known) {
        hw_free(known->dye);
        hw_free(known->covariance);
        *known = (hw_known){0};
    }
}

const hw_known_dye *hw_known_find(const hw_known *known, const char *name)
{
    for (size_t i = 0; i < known->count; i++) {
        if (strcmp(known->dye[i].name, name) == 0) {
            return &known->dye[i];
        }
    }
    return NULL;
}

// ---- What is to be expected --------------------------------------------------------

static void add_block(const hw_known *known, size_t i, size_t k, double factor, hw_covariance *out)
{
    size_t n = 3 * known->count;
    for (size_t r = 0; r < 3; r++) {
        for (size_t c = 0; c < 3; c++) {
            out->m[r][c] += factor * known->covariance[(3 * i + r) * n + 3 * k + c];
        }
    }
}

void hw_tone_expect(const hw_known *known, const hw_laid *laid, size_t count, double density[3],
                    hw_covariance *covariance)
{
    double amount[HW_LAID_MOST] = {0.0}, scatter[3] = {0.0, 0.0, 0.0};
    *covariance = (hw_covariance){{{0.0}}};
    density[0] = density[1] = density[2] = 0.0;
    for (size_t k = 0; k < count && k < HW_LAID_MOST; k++) {
        const hw_known_dye *dye = hw_known_find(known, laid[k].dye);
        double by_exponent = 0.0;
        if (!dye || !(laid[k].amount > 0.0)) {
            continue;
        }
        amount[k] = hw_amount_law(laid[k].before, laid[k].amount, dye->exponent, &by_exponent);
        by_exponent *= dye->u_exponent;
        for (int r = 0; r < 3; r++) {
            density[r] += amount[k] * dye->density[r];
            scatter[r] += hw_u_pass * sqrt(laid[k].squares) * dye->density[r];
            for (int c = 0; c < 3; c++) {
                covariance->m[r][c] +=
                    by_exponent * by_exponent * dye->density[r] * dye->density[c];
            }
        }
        for (size_t j = 0; j <= k; j++) {
            const hw_known_dye *other = hw_known_find(known, laid[j].dye);
            if (other) {
                size_t one = (size_t)(dye - known->dye), two = (size_t)(other - known->dye);
                add_block(known, one, two, amount[k] * amount[j], covariance);
                if (j < k) {
                    add_block(known, two, one, amount[k] * amount[j], covariance);
                }
            }
        }
    }
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            covariance->m[r][c] += scatter[r] * scatter[c];
        }
    }
}

double hw_tone_far_off(const double expected[3], const hw_covariance *expected_covariance,
                       const double seen[3], const hw_covariance *seen_covariance)
{
    double along = 0.0, square = 1e-12, off[3], squared = 0.0;
    for (int band = 0; band < 3; band++) {
        along += expected[band] * seen[band];
        square += expected[band] * expected[band];
        off[band] = seen[band] - expected[band];
    }
    // The doubt of a strength is one of its logarithm: wider above, narrower below.
    double ratio = fmax(0.1, fmin(along / square, 10.0));
    hw_covariance both = hw_covariance_times(expected_covariance, ratio), inverse;
    both = hw_covariance_sum(&both, seen_covariance);
    if (!hw_invert3(&both, &inverse)) {
        return INFINITY;
    }
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            squared += off[r] * inverse.m[r][c] * off[c];
        }
    }
    // Wilson and Hilferty (1931): the cube root of chi-squared over its degrees of freedom is nearly
    // normal.
    const double part = 2.0 / (9.0 * 3.0);
    return (cbrt(squared / 3.0) - (1.0 - part)) / sqrt(part);
}
