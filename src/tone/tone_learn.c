// tone_learn.c: what boards and logged passes say together.
//
// One estimate over all observations at once (maximum a posteriori, Gauss and Newton), so that order
// does not matter and none can count twice. Unknowns: for each dye that was seen its density in three
// bands and its exponent; a factor that all guesses of the shop share, one that all boards share, and
// one of the day of the present job, and one of each mixed jar; factors as logarithms. So the first pass of
// one dye tells something of all others, and what several passes out of one jar have in common is the
// jar's, not the dye's.
//
//   seen = sum over dyes of factor [ (before + amount)^g - before^g ] d      (tone_layer.c)
//
// A jar's factor is taken on what it does, as the day's is, not on its strength inside the law: with g near 1 that is
// the same.
//
// An observation is doubted by its two photos, by the scatter of passes, by the day where it is of
// another job, and by how unlike its wood was. Two observations that share a photo share its error
// with opposite sign. One that lies far off weighs (nu + 3) / (nu + z^2), nu = 4 (Lange, Little and
// Taylor 1989, three bands).
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

const double hw_u_pass = 0.12;
// Drops, spoons and marks on a jar: a tenth (chosen).
const double hw_u_jar = 0.10;

// s.d. of ln factor. Shops lie between half and twice a guess; hand and gun off the board's by a
// fifth; a day's liquid and weather by a tenth (common practice, no source).
static const double u_shop = 0.40, u_boards = 0.20, u_day = 0.10;
// A dye seen on another wood acts otherwise by this share, for each 12 L* of difference; one that goes
// into the wood four times as much (chosen after simulated woods 8 to 16 L* apart: 11 % under a film with
// inner reflection, 48 % in the wood).
static const double u_wood = 0.12, unlike_L = 12.0, in_wood_below = 0.95, in_wood_more = 4.0;
// What a board on unlike wood is doubted by more (chosen: as a guess of the family).
static const double u_unlike_board = 0.35;
// More between the woods than was simulated adds ever less, up to this: a board tells about as much as its family's name
// does, on whatever wood. (In a straight line a dye 30 L* from its board would be doubted seven times over.)
static const double u_unlike_most = 0.55;
static const double known_below = 0.25; // s.d. of ln strength from which a dye is no guess (chosen)
static const double nu = 4.0;

enum { SHOP = 0, BOARDS, DAY, SHARED, PER_DYE = 4, CHAIN_MOST = 8, NO_COLUMN = -1 };
#define COLUMNS_MOST (SHARED + (PER_DYE + 1) * HW_LAID_MOST * CHAIN_MOST)
// Jars that are told apart, those of this job first, then the latest: the work grows with the cube of the unknowns.
// What came out of older ones is doubted by what a jar may be off (chosen).
#define JARS_MOST 64

typedef struct seen_jar {
    const char *key; // borrowed from the shelf
    bool here;       // something was laid out of it in this job
    int64_t last;    // when something was
    size_t times;
} seen_jar;

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
    seen_jar *jar;  // told apart; each has one unknown, from first_jar on
    size_t jar_count, first_jar;
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
    hw_covariance_add_outer(&dye->covariance, u * u, dye->density);
}

// The same where it is small, and never over `most`.
static double levelled(double u, double most)
{
    return u / pow(1.0 + pow(u / most, 4.0), 0.25);
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
        double more = dye->exponent < in_wood_below ? in_wood_more : 1.0;
        doubt_strength(&prior, levelled(unlike * u_wood * more, u_unlike_most));
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

// ---- Jars --------------------------------------------------------------------------

static bool of_this_job(const learner *l, const hw_observation *seen)
{
    return l->job[0] && strcmp(l->job, seen->job) == 0;
}

// Its place among those told apart; jar_count: it is none of them.
static size_t jar_index(const learner *l, const char *key)
{
    size_t i = 0;
    while (i < l->jar_count && strcmp(l->jar[i].key, key) != 0) {
        i++;
    }
    return i;
}

static void note_jar(learner *l, const hw_observation *seen, const char *key)
{
    size_t at = jar_index(l, key);
    if (at == l->jar_count) {
        l->jar[l->jar_count++] = (seen_jar){.key = key, .last = seen->at};
    }
    seen_jar *jar = &l->jar[at];
    jar->here = jar->here || of_this_job(l, seen);
    jar->last = seen->at > jar->last ? seen->at : jar->last;
}

static bool jar_goes_before(const seen_jar *one, const seen_jar *other)
{
    return one->here != other->here   ? one->here
           : one->last != other->last ? one->last > other->last
                                      : strcmp(one->key, other->key) < 0;
}

// Those of the observations to learn from, the most wanted first; at most JARS_MOST stay. That they do not depend on the
// order of the observations is what the key at the end is for.
static hw_status list_jars(learner *l, hw_error *err)
{
    const hw_observation *seen = l->shelf->seen;
    l->jar = hw_alloc_array(l->count * HW_LAID_MOST, sizeof *l->jar);
    if (!l->jar) {
        return hw_fail_memory(err, "learning from the passes");
    }
    for (size_t i = 0; i < l->count; i++) {
        const hw_observation *one = &seen[l->order[i]];
        for (size_t k = 0; k < one->laid_count; k++) {
            if (one->laid[k].jar[0]) {
                note_jar(l, one, one->laid[k].jar);
            }
        }
    }
    for (size_t i = 1; i < l->jar_count; i++) {
        seen_jar moving = l->jar[i];
        size_t at = i;
        for (; at > 0 && jar_goes_before(&moving, &l->jar[at - 1]); at--) {
            l->jar[at] = l->jar[at - 1];
        }
        l->jar[at] = moving;
    }
    l->jar_count = l->jar_count < JARS_MOST ? l->jar_count : JARS_MOST;
    for (size_t i = 0; i < l->jar_count; i++) {
        for (size_t k = 0; k < l->count; k++) {
            const hw_observation *one = &seen[l->order[k]];
            bool of_it = false;
            for (size_t m = 0; m < one->laid_count; m++) {
                of_it = of_it || strcmp(one->laid[m].jar, l->jar[i].key) == 0;
            }
            l->jar[i].times += of_it;
        }
    }
    l->first_jar = l->unknowns;
    l->unknowns += l->jar_count;
    return HW_OK;
}

// ---- All unknowns ------------------------------------------------------------------

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
    hw_status status = list_jars(l, err);
    if (status != HW_OK) {
        return status;
    }
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
    hw_free(l->jar);
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
        size_t jar = laid->jar[0] ? jar_index(l, laid->jar) : l->jar_count;
        double by_exponent, of_jar = jar < l->jar_count ? l->x[l->first_jar + jar] : 0.0;
        double factor = exp(l->x[group] + (of_this_job(l, seen) ? l->x[DAY] : 0.0) + of_jar);
        double amount = hw_amount_law(laid->before, laid->amount, own[3], &by_exponent);
        size_t at_group = place_of(c, group), at_exponent = place_of(c, l->column[dye] + 3);
        for (int band = 0; band < 3; band++) {
            double one = factor * on_wood[band] * own[band];
            size_t at_band = place_of(c, l->column[dye] + band);
            c->slope[row + (size_t)band][at_band] += factor * on_wood[band] * amount;
            c->slope[row + (size_t)band][at_exponent] += one * by_exponent;
            c->slope[row + (size_t)band][at_group] += one * amount;
            if (jar < l->jar_count) {
                size_t at_jar = place_of(c, (long)(l->first_jar + jar));
                c->slope[row + (size_t)band][at_jar] += one * amount;
            }
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

// s.d. of ln strength that jars leave which are not told apart.
static double other_jars(const learner *l, const hw_observation *seen)
{
    for (size_t k = 0; k < seen->laid_count; k++) {
        if (seen->laid[k].jar[0] && jar_index(l, seen->laid[k].jar) == l->jar_count) {
            return hw_u_jar;
        }
    }
    return 0.0;
}

// s.d. of ln strength by which an observation of another day or wood is doubted.
static double unlike(const learner *l, const hw_observation *seen)
{
    double wood = u_wood * fabs(seen->wood.L - l->wood.L) / unlike_L, jars = other_jars(l, seen);
    if (of_this_job(l, seen)) {
        return jars; // the same wood under fewer passes
    }
    if (l->own_wood) {
        return hypot(u_day, jars);
    }
    for (size_t k = 0; k < seen->laid_count; k++) {
        if (l->x[l->column[dye_index(l->shelf, seen->laid[k].dye)] + 3] < in_wood_below) {
            wood *= in_wood_more;
            break;
        }
    }
    return hypot(hypot(u_day, jars), fmin(wood, 1.0));
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

// Most jars are off by a little, some by a blunder: Student's distribution of nu degrees of freedom and the s.d. of a jar,
// as weights (Lange, Little and Taylor 1989, one dimension). So of two jars of one dye that disagree the one is blamed
// that the dye's own board or earlier passes speak against.
static double jar_stiffness(double ln_factor)
{
    double square = hw_u_jar * hw_u_jar * (nu - 2.0) / nu; // of its scale
    return (nu + 1.0) / (nu + ln_factor * ln_factor / square) / square;
}

// `for_doubt`: what is left is doubted as if jars were off by a normal variable of their s.d. (The weights are those of
// the most probable value, which is surer than the whole of such a distribution.)
static void add_prior(learner *l, bool for_doubt)
{
    const double u[SHARED] = {u_shop, u_boards, u_day};
    for (size_t i = 0; i < SHARED; i++) {
        l->normal[i * l->unknowns + i] += 1.0 / (u[i] * u[i]);
        l->gradient[i] -= l->x[i] / (u[i] * u[i]);
    }
    for (size_t i = l->first_jar; i < l->first_jar + l->jar_count; i++) {
        double stiff = jar_stiffness(l->x[i]);
        l->normal[i * l->unknowns + i] += for_doubt ? 1.0 / (hw_u_jar * hw_u_jar) : stiff;
        l->gradient[i] -= stiff * l->x[i];
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
    // Enough for factors of four, and for telling which of two jars is off (tests/tone).
    const int turns = l->jar_count > 0 ? 16 : 8;
    chain *c = hw_alloc_array(1, sizeof *c);
    if (!c) {
        return hw_fail_memory(err, "learning from the passes");
    }
    for (int turn = 0; turn < turns; turn++) {
        memset(l->gradient, 0, l->unknowns * sizeof *l->gradient);
        memset(l->normal, 0, l->unknowns * l->unknowns * sizeof *l->normal);
        add_all(l, c);
        add_prior(l, turn + 1 == turns);
        if (!hw_cholesky(l->normal, l->unknowns)) {
            break; // cannot be: the prior alone is positive
        }
        hw_cholesky_solve(l->normal, l->unknowns, l->gradient);
        for (size_t i = 0; i < l->unknowns; i++) {
            bool is_factor = i < SHARED || i >= l->first_jar;
            double most = is_factor ? 0.7 : 1e9; // factors at most double a turn
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

// Covariance of a jar's factor with one band of a dye as laid.
static double jar_with_dye(const learner *l, const double *inverse, const hw_known *known,
                           size_t jar, size_t dye, size_t band)
{
    size_t by[3], count = touched(l, dye, band, by);
    double sum = 0.0;
    for (size_t a = 0; a < count; a++) {
        sum += inverse[(l->first_jar + jar) * l->unknowns + by[a]] *
               slope_of(l, dye, known->dye[dye].density, band, by[a]);
    }
    return sum;
}

static void fill_jars(const learner *l, const double *inverse, hw_known *out)
{
    size_t width = out->jar_count + 3 * out->count;
    for (size_t i = 0; i < out->jar_count; i++) {
        double *row = &out->jar_covariance[i * width];
        size_t at = l->first_jar + i;
        for (size_t k = 0; k < out->jar_count; k++) {
            row[k] = inverse[at * l->unknowns + l->first_jar + k];
        }
        for (size_t k = 0; k < 3 * out->count; k++) {
            row[out->jar_count + k] = jar_with_dye(l, inverse, out, i, k / 3, k % 3);
        }
        out->jar[i] = (hw_known_jar){.factor = exp(l->x[at]),
                                     .u_factor = sqrt(fmax(row[i], 0.0)),
                                     .times_seen = l->jar[i].times};
        hw_copy_text(out->jar[i].key, sizeof out->jar[i].key, l->jar[i].key);
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
    out->jar = hw_alloc_array(l->jar_count, sizeof *out->jar);
    out->jar_covariance =
        hw_alloc_array(l->jar_count * (l->jar_count + 3 * n), sizeof *out->jar_covariance);
    if (!inverse || !out->dye || !out->covariance || !out->jar || !out->jar_covariance) {
        hw_free(inverse);
        return hw_fail_memory(err, "learning from the passes");
    }
    out->count = n;
    out->jar_count = l->jar_count;
    hw_cholesky_invert(l->normal, l->unknowns, inverse);
    for (size_t i = 0; i < n; i++) {
        fill_dye(l, i, inverse, &out->dye[i]);
    }
    fill_covariance(l, inverse, out);
    fill_jars(l, inverse, out);
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
        hw_free(known->jar);
        hw_free(known->jar_covariance);
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

const hw_known_jar *hw_known_find_jar(const hw_known *known, const char *key)
{
    for (size_t i = 0; i < known->jar_count; i++) {
        if (strcmp(known->jar[i].key, key) == 0) {
            return &known->jar[i];
        }
    }
    return NULL;
}

// ---- What is to be expected --------------------------------------------------------

double hw_known_jar_factor(const hw_known *known, size_t jar)
{
    return jar < known->jar_count ? known->jar[jar].factor : 1.0;
}

// Covariance of the factors of two jars.
static double jar_with_jar(const hw_known *known, size_t one, size_t other)
{
    if (one < known->jar_count && other < known->jar_count) {
        return known->jar_covariance[one * (known->jar_count + 3 * known->count) + other];
    }
    return one == other && one != HW_JAR_NONE ? hw_u_jar * hw_u_jar : 0.0;
}

// Of a jar's factor with the three bands of a dye; zeros where the jar was not seen.
static const double *jar_row(const hw_known *known, size_t jar, size_t dye)
{
    static const double none[3] = {0.0, 0.0, 0.0};
    size_t width = known->jar_count + 3 * known->count;
    return jar < known->jar_count ? &known->jar_covariance[jar * width + known->jar_count + 3 * dye]
                                  : none;
}

// With effects f_i = F_i d_i, F_i with the factor of its jar j(i):
// cov(f_i, f_k) = F_i F_k [ cov(d_i, d_k) + d_i cov(ln j(i), d_k)' + cov(d_i, ln j(k)) d_k' + cov(ln j(i), ln j(k)) d_i d_k' ].
static void add_jars(const hw_known *known, const hw_effect *one, const hw_effect *other,
                     hw_covariance *out)
{
    const double *d = known->dye[one->dye].density, *e = known->dye[other->dye].density;
    const double *with_e = jar_row(known, one->jar, other->dye),
                 *with_d = jar_row(known, other->jar, one->dye);
    double jars = jar_with_jar(known, one->jar, other->jar), size = one->by_law * other->by_law;
    for (size_t r = 0; r < 3; r++) {
        for (size_t c = 0; c < 3; c++) {
            out->m[r][c] += size * (d[r] * with_e[c] + with_d[r] * e[c] + jars * d[r] * e[c]);
        }
    }
}

// One dye has one exponent, whatever jars it comes out of.
static void add_exponents(const hw_known *known, const hw_effect *one, const hw_effect *other,
                          hw_covariance *out)
{
    hw_covariance_add_outer(out, one->by_exponent * other->by_exponent,
                            known->dye[one->dye].density);
}

static void add_pair(const hw_known *known, const hw_effect *one, const hw_effect *other,
                     hw_covariance *out)
{
    size_t n = 3 * known->count;
    for (size_t r = 0; r < 3; r++) {
        for (size_t c = 0; c < 3; c++) {
            out->m[r][c] += one->by_law * other->by_law *
                            known->covariance[(3 * one->dye + r) * n + 3 * other->dye + c];
        }
    }
    if (one->dye == other->dye) {
        add_exponents(known, one, other, out);
    }
    if (one->jar != HW_JAR_NONE || other->jar != HW_JAR_NONE) {
        add_jars(known, one, other, out);
    }
}

void hw_effects_add(const hw_known *known, const hw_effect *effect, size_t count, double density[3],
                    hw_covariance *covariance)
{
    for (size_t i = 0; i < count; i++) {
        for (int band = 0; band < 3; band++) {
            density[band] += effect[i].by_law * known->dye[effect[i].dye].density[band];
        }
        for (size_t k = 0; k < count; k++) {
            add_pair(known, &effect[i], &effect[k], covariance);
        }
    }
}

// The place of its jar as in hw_effect; those not seen by the first of `laid` that names it.
static size_t jar_of_laid(const hw_known *known, const hw_laid *laid, size_t k)
{
    const hw_known_jar *jar = hw_known_find_jar(known, laid[k].jar);
    size_t first = 0;
    if (!laid[k].jar[0] || jar) {
        return jar ? (size_t)(jar - known->jar) : HW_JAR_NONE;
    }
    while (strcmp(laid[first].jar, laid[k].jar) != 0) {
        first++;
    }
    return known->jar_count + first;
}

void hw_tone_expect(const hw_known *known, const hw_laid *laid, size_t count, double density[3],
                    hw_covariance *covariance)
{
    hw_effect effect[HW_LAID_MOST];
    size_t effects = 0;
    double scatter[3] = {0.0, 0.0, 0.0};
    *covariance = (hw_covariance){{{0.0}}};
    density[0] = density[1] = density[2] = 0.0;
    for (size_t k = 0; k < count && k < HW_LAID_MOST; k++) {
        const hw_known_dye *dye = hw_known_find(known, laid[k].dye);
        double slope, factor;
        if (!dye || !(laid[k].amount > 0.0)) {
            continue;
        }
        hw_effect *one = &effect[effects++];
        one->dye = (size_t)(dye - known->dye);
        one->jar = jar_of_laid(known, laid, k);
        factor = hw_known_jar_factor(known, one->jar);
        one->by_law = factor * hw_amount_law(laid[k].before, laid[k].amount, dye->exponent, &slope);
        one->by_exponent = factor * slope * dye->u_exponent;
        for (int r = 0; r < 3; r++) {
            scatter[r] += factor * hw_u_pass * sqrt(laid[k].squares) * dye->density[r];
        }
    }
    hw_effects_add(known, effect, effects, density, covariance);
    hw_covariance_add_outer(covariance, 1.0, scatter);
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
