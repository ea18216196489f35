// tone_coat.c: what clear coats do to a colour, and what photos before and after a coat teach of it.
//
// In density of the sharpened bands, after m coats: d(m) = wet (1 - exp(-m / tau)) + m resin. The first part is
// finish that closes bare wood: it belongs to the wood and is over after a coat or two. The second is the
// film's own colour: it belongs to the finish, so all parts that get the coat share it.
//
// Learning is one estimate over all observations (Gauss and Newton; linear but for tau), drawn to the guess: with
// tau held it is a ridge regression whose ridge is the guess's covariance, so the answer is normal with a
// covariance of its own. An observation is doubted by its photos and by how coats scatter. Parts read by the
// card alone share their two photos' error and count as one to that extent: that error is an unknown
// of each pair, taken out by the inversion lemma:
//
//   V = D + U S U'   =>   H' V^-1 H = A - B (S^-1 + C)^-1 B',   A = H' D^-1 H, B = H' D^-1 U, C = U' D^-1 U
//
// Each job has a coat of its own, x_j = usual + delta_j: its finish, its thinning, its day. So coats of other jobs
// tell of `usual`, each job once at most: delta_j, of covariance Q^-1, is taken out by the same lemma,
//
//   A' = A - A (Q + A)^-1 A
//
// and what they teach, with delta of this job added, takes the guess's place for this job's own coats.
//
// What lies far off, from the others or from all that coats do, weighs (nu + 3) / (nu + z^2) as in tone_learn.c.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

enum { RESIN = 0, WET = 3, LN_TAU = 6, N = HW_COAT_UNKNOWNS };

// The guess. An amber lac, strongest in the short band; 60 % reaches from next to nothing, as of a water-white finish,
// to twice as much (chosen, no published series was found). Most of it is all bands together, as absorption falls
// smoothly from blue to red: the short band has the most of its own.
static const double resin_guess[3] = {0.02, 0.035, 0.09}, resin_together = 0.55;
static const double resin_band[3] = {0.08, 0.08, 0.25};
// Bare wood under finish: half of what a film's inner reflection does to it (Saunderson 1942, k2 0.6, on
// reflectances 0.4, 0.3, 0.15), as wood soaks (chosen).
static const double wet_guess[3] = {0.28, 0.36, 0.44}, wet_together = 0.5;
static const double wet_band[3] = {0.1, 0.1, 0.15};
static const double tau_guess = 0.7, u_tau = 0.43; // s.d. of ln: 0.7 +- 0.3 coats (chosen)
static const double tau_least = 0.15, tau_most = 3.0;
// Film thickness from coat to coat, as a share: what a coat has on all its parts, and on each (chosen, together
// a fifth). Of a sealer or barrier the first is not known to be the finish's at all.
static const double scatter_coat = 0.15, scatter_part = 0.15, scatter_other = 0.5;
// From one part's wood to another's: of `wet`, and of ln tau, as they soak in tempos of their own (chosen).
static const double scatter_wood = 0.25, scatter_tau = 0.25;
// Three bands for a spectrum, coats that do less the more lie there: a share of each band, and at least (chosen, see
// tests/accuracy/coats.c).
static const double scatter_law = 0.03, scatter_least = 0.001;
// s.d. from job to job, a share of the guess's: a finisher mostly goes on with one finish, thinned and laid a little
// otherwise, and now and then takes another (chosen: a quarter of the variance, see tests/accuracy/coats.c).
static const double apart_of_jobs = 0.5;
static const double nu = 4.0;
// s.d. of a coat's middle band, which is L*, over that of the guess, from which it is learned (chosen: one
// coat read against untouched old wood is enough, one read by the card alone is not).
static const double learned_below = 0.7;

// ---- The guess ---------------------------------------------------------------------

static void guess_block(double covariance[N][N], int first, const double mean[3], double together,
                        const double band[3])
{
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            double share = together * together + (r == c ? band[r] * band[r] : 0.0);
            covariance[first + r][first + c] = share * mean[r] * mean[c];
        }
    }
}

hw_coat_belief hw_coats_guess(void)
{
    hw_coat_belief guess = {.tau = tau_guess, .guess = true};
    memcpy(guess.resin, resin_guess, sizeof resin_guess);
    memcpy(guess.wet, wet_guess, sizeof wet_guess);
    guess_block(guess.covariance, RESIN, resin_guess, resin_together, resin_band);
    guess_block(guess.covariance, WET, wet_guess, wet_together, wet_band);
    guess.covariance[LN_TAU][LN_TAU] = u_tau * u_tau;
    return guess;
}

// ---- The law -----------------------------------------------------------------------

hw_coat_step hw_coats_step(const hw_coat_belief *belief, int before, int coats, bool clear)
{
    hw_coat_step step = {.density = {0.0}};
    double n = (double)coats, m = (double)before, tau = belief->tau;
    double open = exp(-m / tau), left = exp(-(m + n) / tau); // of the wet step, before and after
    double closed = open - left, by_tau = (open * m - left * (m + n)) / tau;
    double other = clear ? 0.0 : scatter_other * scatter_other * n * n;
    if (coats <= 0) {
        return step;
    }
    for (int band = 0; band < 3; band++) {
        step.density[band] = n * belief->resin[band] + closed * belief->wet[band];
        step.slope[band][RESIN + band] = n;
        step.slope[band][WET + band] = closed;
        step.slope[band][LN_TAU] = by_tau * belief->wet[band];
        step.own.m[band][band] =
            pow(scatter_law * step.density[band], 2.0) + pow(scatter_least, 2.0);
    }
    hw_covariance_add_outer(&step.own, n * scatter_part * scatter_part, belief->resin);
    hw_covariance_add_outer(
        &step.own, pow(closed * scatter_wood, 2.0) + pow(by_tau * scatter_tau, 2.0), belief->wet);
    hw_covariance_add_outer(&step.shared, n * scatter_coat * scatter_coat + other, belief->resin);
    return step;
}

hw_covariance hw_coats_between(const hw_coat_belief *belief, const hw_coat_step *one,
                               const hw_coat_step *other)
{
    hw_covariance out = {{{0.0}}};
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            for (int i = 0; i < N; i++) {
                for (int k = 0; k < N; k++) {
                    out.m[r][c] += one->slope[r][i] * belief->covariance[i][k] * other->slope[c][k];
                }
            }
        }
    }
    return out;
}

// ---- Observations ------------------------------------------------------------------

// One observation beside what is expected of it.
typedef struct held {
    hw_coat_step step;
    double residual[3];
    hw_covariance inverse; // of its own doubt, weighted
} held;

static bool is_usable(const hw_coat_seen *seen)
{
    bool finite = seen->coats > 0 && seen->before >= 0 && !seen->forgotten && !seen->gone;
    for (int r = 0; r < 3; r++) {
        finite = finite && isfinite(seen->density[r]);
        for (int c = 0; c < 3; c++) {
            finite = finite && isfinite(seen->covariance.m[r][c]) && isfinite(seen->shared.m[r][c]);
        }
    }
    return finite;
}

static bool same_pair(const hw_coat_seen *one, const hw_coat_seen *other)
{
    return one->photo_before == other->photo_before && one->photo_after == other->photo_after &&
           strcmp(one->job, other->job) == 0;
}

bool hw_coat_by_card_alone(const hw_coat_seen *seen)
{
    return seen->shared.m[0][0] + seen->shared.m[1][1] + seen->shared.m[2][2] > 0.0;
}

static double squared_distance(const double residual[3], const hw_covariance *doubt)
{
    hw_covariance inverse;
    double sum = 0.0;
    if (!hw_invert3(doubt, &inverse)) {
        return 0.0;
    }
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            sum += residual[r] * inverse.m[r][c] * residual[c];
        }
    }
    return sum;
}

// All that an observation may be off by, were the belief right.
static hw_covariance doubt_of(const hw_coat_seen *seen, const hw_coat_step *step)
{
    hw_covariance own = hw_covariance_sum(&seen->covariance, &step->own);
    hw_covariance shared = hw_covariance_sum(&seen->shared, &step->shared);
    return hw_covariance_sum(&own, &shared);
}

// How far off it lies from the belief, whose jobs differ by `apart`, or with all that the guess leaves open from the
// guess.
static double weight_of(const hw_coat_seen *seen, const held *now, double apart)
{
    hw_coat_belief guess = hw_coats_guess();
    hw_coat_step first = hw_coats_step(&guess, seen->before, seen->coats, seen->clear);
    hw_covariance doubt = doubt_of(seen, &now->step), wide = doubt_of(seen, &first);
    hw_covariance open = hw_coats_between(&guess, &first, &first);
    hw_covariance of_job = hw_coats_between(&guess, &now->step, &now->step);
    double off[3];
    for (int band = 0; band < 3; band++) {
        off[band] = seen->density[band] - first.density[band];
    }
    of_job = hw_covariance_times(&of_job, apart * apart);
    doubt = hw_covariance_sum(&doubt, &of_job);
    wide = hw_covariance_sum(&wide, &open);
    double squared = fmax(squared_distance(now->residual, &doubt), squared_distance(off, &wide));
    return fmin(1.0, (nu + 3.0) / (nu + squared));
}

// False where it says nothing.
static bool hold(const hw_coat_belief *belief, double apart, const hw_coat_seen *seen, held *out)
{
    if (!is_usable(seen)) {
        return false;
    }
    out->step = hw_coats_step(belief, seen->before, seen->coats, seen->clear);
    for (int band = 0; band < 3; band++) {
        out->residual[band] = seen->density[band] - out->step.density[band];
    }
    hw_covariance own = hw_covariance_sum(&seen->covariance, &out->step.own);
    own = hw_covariance_times(&own, 1.0 / weight_of(seen, out, apart));
    return hw_invert3(&own, &out->inverse);
}

// ---- One pair of photos ------------------------------------------------------------

typedef struct pair_sums {
    double A[N][N], B[N][3], a[N], b[3];
    hw_covariance C;
    hw_covariance together; // (S^-1 + C)^-1
} pair_sums;

// H' D^-1 of one observation.
static void whitened(const held *one, double out[N][3])
{
    for (int i = 0; i < N; i++) {
        for (int c = 0; c < 3; c++) {
            out[i][c] = 0.0;
            for (int r = 0; r < 3; r++) {
                out[i][c] += one->step.slope[r][i] * one->inverse.m[r][c];
            }
        }
    }
}

static void add_held(const held *one, pair_sums *sums)
{
    double w[N][3];
    whitened(one, w);
    for (int i = 0; i < N; i++) {
        for (int c = 0; c < 3; c++) {
            sums->a[i] += w[i][c] * one->residual[c];
            sums->B[i][c] += w[i][c];
            for (int k = 0; k < N; k++) {
                sums->A[i][k] += w[i][c] * one->step.slope[c][k];
            }
        }
    }
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            sums->b[r] += one->inverse.m[r][c] * one->residual[c];
            sums->C.m[r][c] += one->inverse.m[r][c];
        }
    }
}

// What the observations of a pair are off by together: the mean of what their photos leave, and the scatter of the coats
// that all of them got, so of the fewest; where one is no clear coat, that is not known to be the finish's.
typedef struct pair_share {
    hw_covariance photos; // sum
    int members, coats;
    bool clear;
} pair_share;

static void add_share(const hw_coat_seen *seen, pair_share *share)
{
    share->coats = share->members == 0 || seen->coats < share->coats ? seen->coats : share->coats;
    share->clear = (share->members == 0 || share->clear) && seen->clear;
    share->photos = hw_covariance_sum(&share->photos, &seen->shared);
    share->members++;
}

static hw_covariance shared_of(const pair_share *share, const hw_coat_belief *belief)
{
    hw_coat_step step = hw_coats_step(belief, 0, share->coats, share->clear);
    hw_covariance photos = hw_covariance_times(&share->photos, 1.0 / fmax(share->members, 1.0));
    return hw_covariance_sum(&photos, &step.shared);
}

// All observations of the pair that `first` is the first of.
static bool sum_pair(const hw_coat_belief *belief, double apart, const hw_coat_seen *seen,
                     size_t count, size_t first, pair_sums *out)
{
    const hw_covariance least = hw_covariance_diagonal(1e-8, 1e-8, 1e-8); // of a density: nothing
    hw_covariance inverse;
    held one;
    pair_share share = {.members = 0};
    *out = (pair_sums){.a = {0.0}};
    for (size_t i = first; i < count; i++) {
        if (same_pair(&seen[i], &seen[first]) && hold(belief, apart, &seen[i], &one)) {
            add_held(&one, out);
            add_share(&seen[i], &share);
        }
    }
    hw_covariance shared = shared_of(&share, belief);
    shared = hw_covariance_sum(&shared, &least);
    if (!hw_invert3(&shared, &inverse)) {
        return false;
    }
    inverse = hw_covariance_sum(&inverse, &out->C);
    return hw_invert3(&inverse, &out->together);
}

static bool is_first_of_pair(const hw_coat_seen *seen, size_t at)
{
    for (size_t i = 0; i < at; i++) {
        if (same_pair(&seen[i], &seen[at]) && is_usable(&seen[i])) {
            return false;
        }
    }
    return is_usable(&seen[at]);
}

// Adds A - B M B' and a - B M b.
static void add_pair(const pair_sums *sums, double normal[N][N], double gradient[N])
{
    for (int i = 0; i < N; i++) {
        double along[3] = {0.0, 0.0, 0.0}; // row of B M
        for (int r = 0; r < 3; r++) {
            for (int c = 0; c < 3; c++) {
                along[c] += sums->B[i][r] * sums->together.m[r][c];
            }
        }
        gradient[i] += sums->a[i];
        for (int c = 0; c < 3; c++) {
            gradient[i] -= along[c] * sums->b[c];
        }
        for (int k = 0; k < N; k++) {
            normal[i][k] += sums->A[i][k];
            for (int c = 0; c < 3; c++) {
                normal[i][k] -= along[c] * sums->B[k][c];
            }
        }
    }
}

// ---- The estimate ------------------------------------------------------------------

static void values_of(const hw_coat_belief *belief, double out[N])
{
    memcpy(&out[RESIN], belief->resin, sizeof belief->resin);
    memcpy(&out[WET], belief->wet, sizeof belief->wet);
    out[LN_TAU] = log(belief->tau);
}

// No coat lightens.
static void take_values(const double x[N], hw_coat_belief *belief)
{
    for (int band = 0; band < 3; band++) {
        belief->resin[band] = fmax(x[RESIN + band], 0.0);
        belief->wet[band] = fmax(x[WET + band], 0.0);
    }
    belief->tau = exp(fmin(fmax(x[LN_TAU], log(tau_least)), log(tau_most)));
}

static bool invert(const double m[N][N], double out[N][N])
{
    double root[N][N];
    memcpy(root, m, sizeof root);
    if (!hw_cholesky(&root[0][0], N)) {
        return false;
    }
    hw_cholesky_invert(&root[0][0], N, &out[0][0]);
    return true;
}

// What one estimate is made from.
typedef struct lesson {
    const hw_coat_seen *seen;
    size_t count;
    const char *job;
    bool elsewhere;       // from all jobs but this one, else from this one alone
    hw_coat_belief start; // that it is drawn to
    double prior[N][N];   // inverse of the covariance of that
    double apart[N][N];   // and of what jobs differ by
} lesson;

static bool is_part_of(const lesson *of, size_t at)
{
    return (strcmp(of->seen[at].job, of->job) != 0) == of->elsewhere && is_usable(&of->seen[at]);
}

static bool is_first_of_job(const lesson *of, size_t at)
{
    for (size_t i = 0; i < at; i++) {
        if (strcmp(of->seen[i].job, of->seen[at].job) == 0 && is_usable(&of->seen[i])) {
            return false;
        }
    }
    return is_part_of(of, at);
}

// A - A (Q + A)^-1 A, and a - A (Q + A)^-1 a.
static bool take_out_job(const double apart[N][N], double normal[N][N], double gradient[N])
{
    double root[N][N], kept[N][N], part[N + 1][N]; // (Q + A)^-1 times each column, then a
    for (int i = 0; i < N; i++) {
        for (int k = 0; k < N; k++) {
            root[i][k] = normal[i][k] + apart[i][k];
            part[i][k] = kept[i][k] = normal[i][k];
        }
        part[N][i] = gradient[i];
    }
    if (!hw_cholesky(&root[0][0], N)) {
        return false;
    }
    for (int column = 0; column <= N; column++) {
        hw_cholesky_solve(&root[0][0], N, part[column]);
        for (int i = 0; i < N; i++) {
            for (int k = 0; k < N; k++) {
                double *from = column < N ? &normal[i][column] : &gradient[i];
                *from -= kept[i][k] * part[column][k];
            }
        }
    }
    return true;
}

// All pairs of the job that observation `first` is the first of.
static bool add_job(const lesson *of, const hw_coat_belief *belief, size_t first,
                    double normal[N][N], double gradient[N])
{
    double own[N][N] = {{0.0}}, own_gradient[N] = {0.0};
    double apart = of->elsewhere ? apart_of_jobs : 0.0;
    pair_sums sums;
    for (size_t i = first; i < of->count; i++) {
        if (strcmp(of->seen[i].job, of->seen[first].job) == 0 && is_first_of_pair(of->seen, i) &&
            sum_pair(belief, apart, of->seen, of->count, i, &sums)) {
            add_pair(&sums, own, own_gradient);
        }
    }
    if (of->elsewhere && !take_out_job((const double(*)[N])of->apart, own, own_gradient)) {
        return false;
    }
    for (int i = 0; i < N; i++) {
        gradient[i] += own_gradient[i];
        for (int k = 0; k < N; k++) {
            normal[i][k] += own[i][k];
        }
    }
    return true;
}

// One step towards the most probable values; leaves the covariance at those it started from. Returns how far it
// went, or a negative number where that cannot be told.
static double improve(const lesson *of, hw_coat_belief *belief)
{
    double normal[N][N], gradient[N] = {0.0}, start[N], x[N], moved = 0.0;
    values_of(&of->start, start);
    values_of(belief, x);
    for (int i = 0; i < N; i++) {
        for (int k = 0; k < N; k++) {
            normal[i][k] = of->prior[i][k];
            gradient[i] += of->prior[i][k] * (start[k] - x[k]);
        }
    }
    for (size_t i = 0; i < of->count; i++) {
        if (is_first_of_job(of, i) && !add_job(of, belief, i, normal, gradient)) {
            return -1.0;
        }
    }
    if (!hw_cholesky(&normal[0][0], N)) {
        return -1.0;
    }
    hw_cholesky_solve(&normal[0][0], N, gradient);
    hw_cholesky_invert(&normal[0][0], N, &belief->covariance[0][0]);
    for (int i = 0; i < N; i++) {
        x[i] += gradient[i];
    }
    double before[N], after[N];
    values_of(belief, before);
    take_values(x, belief);
    values_of(belief, after);
    for (int i = 0; i < N; i++) {
        moved = fmax(moved, fabs(after[i] - before[i]));
    }
    return moved;
}

// *belief, which is the guess of it, becomes the answer. False: it cannot be told.
static bool estimate(lesson *of, hw_coat_belief *belief)
{
    const int turns = 40;
    const double near = 1e-9;
    double moved = 1.0;
    of->start = *belief;
    bool good = invert((const double(*)[N])belief->covariance, of->prior);
    for (int turn = 0; good && turn < turns && moved > near; turn++) {
        moved = improve(of, belief);
        good = moved >= 0.0;
    }
    return good;
}

// The covariance is left * covariance + right * that of the guess.
static void widen(hw_coat_belief *belief, double left, double right)
{
    hw_coat_belief guess = hw_coats_guess();
    for (int i = 0; i < N; i++) {
        for (int k = 0; k < N; k++) {
            belief->covariance[i][k] =
                left * belief->covariance[i][k] + right * guess.covariance[i][k];
        }
    }
}

hw_coat_belief hw_coats_learn(const hw_coat_seen *seen, size_t count, const char *job)
{
    const double share = apart_of_jobs * apart_of_jobs;
    hw_coat_belief guess = hw_coats_guess(), apart = guess;
    lesson of = {.seen = seen, .count = count, .job = job ? job : ""};
    hw_copy_text(guess.job, sizeof guess.job, of.job);
    hw_coat_belief belief = guess;
    for (size_t i = 0; i < count; i++) {
        bool here = strcmp(seen[i].job, of.job) == 0;
        belief.seen += here && is_usable(&seen[i]);
        belief.elsewhere += !here && is_usable(&seen[i]);
    }
    widen(&apart, 0.0, share);
    if (!invert((const double(*)[N])apart.covariance, of.apart)) {
        return guess;
    }
    if (belief.elsewhere > 0) { // what coats usually do, then with what this job's may differ by
        of.elsewhere = true;
        widen(&belief, 1.0 - share, 0.0);
        if (!estimate(&of, &belief)) {
            return guess;
        }
        widen(&belief, 1.0, share);
    }
    of.elsewhere = false;
    if (belief.seen > 0 && !estimate(&of, &belief)) {
        return guess;
    }
    const int middle = RESIN + 1;
    belief.guess = !(sqrt(belief.covariance[middle][middle]) <
                     learned_below * sqrt(guess.covariance[middle][middle]));
    return belief;
}

// ---- What one photo's errors did to it ---------------------------------------------

// P times a matrix of as many rows, times a covariance.
static void carry(const hw_coat_belief *belief, double rows[N][3], const hw_covariance *error,
                  double factor, double out[N][3])
{
    for (int i = 0; i < N; i++) {
        double pulled[3] = {0.0, 0.0, 0.0};
        for (int k = 0; k < N; k++) {
            for (int c = 0; c < 3; c++) {
                pulled[c] += belief->covariance[i][k] * rows[k][c];
            }
        }
        for (int c = 0; c < 3; c++) {
            out[i][c] = 0.0;
            for (int r = 0; r < 3; r++) {
                out[i][c] += factor * pulled[r] * error->m[r][c];
            }
        }
    }
}

// left - B M right, of as many rows as there are unknowns.
static void less_shared(const pair_sums *sums, const hw_covariance *right, double left[N][3])
{
    for (int i = 0; i < N; i++) {
        double along[3] = {0.0, 0.0, 0.0};
        for (int r = 0; r < 3; r++) {
            for (int c = 0; c < 3; c++) {
                along[c] += sums->B[i][r] * sums->together.m[r][c];
            }
        }
        for (int r = 0; r < 3; r++) {
            for (int c = 0; c < 3; c++) {
                left[i][c] -= along[r] * right->m[r][c];
            }
        }
    }
}

static size_t pair_of(const hw_coat_seen *seen, size_t count, size_t member)
{
    size_t first = 0;
    while (first < count && !(is_usable(&seen[first]) && same_pair(&seen[first], &seen[member]))) {
        first++;
    }
    return first;
}

// An observation holds the errors of both its photos: half of its covariance is the later one's. Against old wood
// that half is again shared by the part and the old wood, with opposite sign.
hw_coat_pull hw_coats_pull(const hw_coat_belief *belief, const hw_coat_seen *seen, size_t count,
                           long photo, const char *part)
{
    hw_coat_pull pull = {.own = {{0.0}}};
    for (size_t i = 0; i < count; i++) {
        pair_sums sums;
        held one;
        if (photo == 0 || seen[i].photo_after != photo || strcmp(seen[i].part, part) != 0 ||
            strcmp(seen[i].job, belief->job) != 0 || !hold(belief, 0.0, &seen[i], &one) ||
            !sum_pair(belief, 0.0, seen, count, pair_of(seen, count, i), &sums)) {
            continue;
        }
        double own[N][3], shared[N][3];
        whitened(&one, own);
        less_shared(&sums, &one.inverse, own);
        memcpy(shared, sums.B, sizeof shared);
        less_shared(&sums, &sums.C, shared);
        bool alone = hw_coat_by_card_alone(&seen[i]);
        carry(belief, own, &seen[i].covariance, alone ? 0.5 : 0.25, pull.own);
        carry(belief, own, &seen[i].covariance, alone ? 0.0 : -0.25, pull.old_wood);
        carry(belief, shared, &seen[i].shared, 0.5, pull.shared);
        break;
    }
    return pull;
}
