// Coats of clear finish: worked colours; learning against the same sums done apart, by Gauss and Jordan on the
// whole system, and against draws; what is said to steer for.
#include "check.h"
#include "huewright/tone.h"
#include "tone_internal.h"

static const hw_lab one = {55, 12, 28}, other = {52.5, 13.5, 26};

// ---- Worked ------------------------------------------------------------------------

static hw_comparison gap_of(hw_lab target, hw_lab patch, double u)
{
    hw_comparison gap = {.patch = "strip",
                         .target = HW_BESIDE,
                         .target_lab = target,
                         .patch_lab = patch,
                         .gap = hw_difference_of(target, patch),
                         .covariance = hw_covariance_diagonal(u * u, u * u, u * u),
                         .spread = 0.7,
                         .tellable = 0.5};
    hw_gap_range(target, patch, &gap.covariance, &gap.de00_low, &gap.de00_high);
    gap.spread_ratio = gap.gap.de00 / gap.spread;
    return gap;
}

// Coats on wood that is closed already, by the guess itself: 0.02 0.035 0.09 a coat. Worked in Python from ISO/CIE
// 11664-4, ISO/CIE 11664-6 and the Bradford matrix (Lam 1985).
static void test_worked(void)
{
    const struct {
        int coats;
        hw_lab one, other;
        double gap;
    } row[] = {{1, {54.333, 12.574, 29.532}, {51.858, 14.019, 27.516}, 3.011},
               {2, {53.675, 13.148, 30.999}, {51.225, 14.540, 28.969}, 2.971},
               {4, {52.386, 14.291, 33.745}, {49.984, 15.579, 31.690}, 2.894}};
    hw_coat_belief guess = hw_coats_guess();
    hw_comparison gap = gap_of(other, one, 0.3);
    check_close(gap.gap.de00, 3.056, 5e-4);
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        const int closed = 60; // coats after which nothing of the wet step is left
        hw_coats_request request = {.gap = &gap,
                                    .patch = {closed, row[i].coats},
                                    .target = {closed, row[i].coats},
                                    .belief = &guess};
        hw_coats_ahead ahead = hw_coats_look_ahead(&request);
        check_close(ahead.patch_lab.L, row[i].one.L, 6e-4);
        check_close(ahead.patch_lab.a, row[i].one.a, 6e-4);
        check_close(ahead.patch_lab.b, row[i].one.b, 6e-4);
        check_close(ahead.target_lab.L, row[i].other.L, 6e-4);
        check_close(ahead.target_lab.a, row[i].other.a, 6e-4);
        check_close(ahead.target_lab.b, row[i].other.b, 6e-4);
        check_close(ahead.gap.de00, row[i].gap, 6e-4);
        check_true(ahead.guess && ahead.de00_low < ahead.gap.de00);
        hw_lab aim;
        hw_covariance more;
        check_true(!hw_coats_aim(&request, &aim, &more)); // both alike: the aim stays
        check_close(aim.L, other.L, 0);
        check_close(more.m[0][0], 0, 0);
    }
}

// d(m) = wet (1 - exp(-m / tau)) + m resin: the first coat on bare wood, and later ones.
static void test_law(void)
{
    hw_coat_belief belief = hw_coats_guess();
    hw_coat_step first = hw_coats_step(&belief, 0, 1, true);
    hw_coat_step second = hw_coats_step(&belief, 1, 1, true);
    hw_coat_step both = hw_coats_step(&belief, 0, 2, true);
    for (int band = 0; band < 3; band++) {
        double share = 1.0 - exp(-1.0 / belief.tau);
        check_close(first.density[band], share * belief.wet[band] + belief.resin[band], 1e-12);
        check_close(second.density[band],
                    share * (1.0 - share) * belief.wet[band] + belief.resin[band], 1e-12);
        check_close(both.density[band], first.density[band] + second.density[band], 1e-12);
        check_true(first.density[band] > 2.0 * second.density[band]);
        // By tau: a step in ln tau.
        hw_coat_belief slower = belief;
        slower.tau *= exp(1e-5);
        double slope = (hw_coats_step(&slower, 1, 1, true).density[band] - second.density[band]);
        check_close(second.slope[band][6], slope / 1e-5, 1e-4);
    }
    check_close(hw_coats_step(&belief, 2, 0, true).own.m[1][1], 0, 0);
}

// ---- Learning against a solution made apart ----------------------------------------

#define APART_MOST 40

// Gauss and Jordan with pivots, of n unknowns and one right side more.
static void eliminate(double m[APART_MOST][APART_MOST + 1], int n)
{
    for (int k = 0; k < n; k++) {
        int pivot = k;
        for (int r = k + 1; r < n; r++) {
            pivot = fabs(m[r][k]) > fabs(m[pivot][k]) ? r : pivot;
        }
        for (int c = 0; c <= n; c++) {
            double kept = m[k][c];
            m[k][c] = m[pivot][c];
            m[pivot][c] = kept;
        }
        for (int r = 0; r < n; r++) {
            double factor = r == k ? 0.0 : m[r][k] / m[k][k];
            for (int c = k; c <= n && r != k; c++) {
                m[r][c] -= factor * m[k][c];
            }
        }
    }
    for (int k = 0; k < n; k++) {
        m[k][n] /= m[k][k];
    }
}

static hw_coat_seen seen_of(int before, int coats, const double density[3], double u, long photo)
{
    hw_coat_seen seen = {.job = "j",
                         .event = photo + 1,
                         .part = "strip",
                         .photo_before = photo,
                         .photo_after = photo + 2,
                         .before = before,
                         .coats = coats,
                         .clear = true,
                         .covariance = hw_covariance_diagonal(u * u, 1.5 * u * u, 2 * u * u)};
    memcpy(seen.density, density, sizeof seen.density);
    return seen;
}

// On closed wood the law is linear: mean of the joint normal of resin and all that was seen, as
// mu + P H' (H P H' + V)^-1 (y - H mu) over the whole system, with V as the answer itself makes it. Two parts of one pair of
// photos share an error, a third stands alone.
static void test_ridge(void)
{
    const double dark[3] = {0.03, 0.05, 0.12}, light[3] = {0.05, 0.07, 0.16};
    hw_coat_seen seen[3] = {seen_of(60, 1, dark, 0.01, 3), seen_of(60, 2, light, 0.012, 3),
                            seen_of(60, 1, dark, 0.02, 9)};
    hw_coat_belief guess = hw_coats_guess(), belief;
    static double m[APART_MOST][APART_MOST + 1];
    double cross[3][9];
    seen[1].coats = 1;
    memcpy(seen[1].part, "door", 5);
    seen[0].shared = seen[1].shared = hw_covariance_diagonal(4e-4, 3e-4, 5e-4);
    belief = hw_coats_learn(seen, 3, "j");
    check_true(belief.seen == 3 && !belief.guess);
    memset(m, 0, sizeof m);
    for (int r = 0; r < 9; r++) {
        for (int c = 0; c < 9; c++) {
            int i = r / 3, k = c / 3, a = r % 3, b = c % 3;
            hw_coat_step step = hw_coats_step(&belief, 60, 1, true);
            m[r][c] = guess.covariance[a][b];
            m[r][c] += i == k ? seen[i].covariance.m[a][b] + step.own.m[a][b] : 0.0;
            m[r][c] += i / 2 == k / 2 ? seen[i].shared.m[a][b] + step.shared.m[a][b] : 0.0;
        }
        m[r][9] = seen[r / 3].density[r % 3] - guess.resin[r % 3];
        for (int band = 0; band < 3; band++) {
            cross[band][r] = guess.covariance[band][r % 3];
        }
    }
    eliminate(m, 9);
    for (int band = 0; band < 3; band++) {
        double want = guess.resin[band];
        for (int r = 0; r < 9; r++) {
            want += cross[band][r] * m[r][9];
        }
        check_close(belief.resin[band], want, 1e-6);
        check_true(belief.covariance[band][band] < guess.covariance[band][band]);
    }
    check_close(belief.wet[0], guess.wet[0], 1e-9); // nothing was seen of it
    // What two parts share is no two observations: alone they tell more.
    hw_coat_belief apart;
    seen[1].photo_before = 90;
    apart = hw_coats_learn(seen, 3, "j");
    check_true(apart.covariance[1][1] < belief.covariance[1][1]);
}

// Coats of other jobs, again as one joint normal: each job's coat lies about the finisher's usual one by half of the
// guess's s.d. (chosen in tone_coat.c), so that two jobs have three quarters of its variance in common.
static void test_other_jobs(void)
{
    const double density[4][3] = {
        {0.03, 0.05, 0.12}, {0.032, 0.046, 0.11}, {0.025, 0.04, 0.1}, {0.022, 0.037, 0.1}};
    const char *const jobs[4] = {"k", "k", "m", "j"};
    hw_coat_seen seen[4];
    static double m[APART_MOST][APART_MOST + 1];
    hw_coat_belief guess = hw_coats_guess();
    double cross[3][12];
    for (int i = 0; i < 4; i++) {
        seen[i] = seen_of(60, 1, density[i], 0.01, 3 + 2 * i);
        memcpy(seen[i].job, jobs[i], 2);
    }
    hw_coat_belief belief = hw_coats_learn(seen, 4, "j"), usual = hw_coats_learn(seen, 3, NULL);
    check_true(belief.seen == 1 && belief.elsewhere == 3);
    check_true(usual.seen == 0 && usual.elsewhere == 3);
    memset(m, 0, sizeof m);
    for (int r = 0; r < 12; r++) {
        for (int c = 0; c < 12; c++) {
            int i = r / 3, k = c / 3, a = r % 3, b = c % 3;
            hw_coat_step step = hw_coats_step(i == 3 ? &belief : &usual, 60, 1, true);
            m[r][c] = guess.covariance[a][b] * (strcmp(jobs[i], jobs[k]) == 0 ? 1.0 : 0.75);
            m[r][c] +=
                i == k ? seen[i].covariance.m[a][b] + step.own.m[a][b] + step.shared.m[a][b] : 0.0;
        }
        m[r][12] = density[r / 3][r % 3] - guess.resin[r % 3];
        for (int band = 0; band < 3; band++) {
            cross[band][r] = guess.covariance[band][r % 3] * (r / 3 == 3 ? 1.0 : 0.75);
        }
    }
    eliminate(m, 12);
    for (int band = 0; band < 3; band++) {
        double want = guess.resin[band];
        for (int r = 0; r < 12; r++) {
            want += cross[band][r] * m[r][12];
        }
        check_close(belief.resin[band], want, 1e-6);
    }
    // What no job has seen of itself stays open, however much others saw.
    hw_coat_seen many[60];
    for (int i = 0; i < 60; i++) {
        many[i] = seen_of(60, 1, density[0], 0.001, 3 + 2 * i);
        snprintf(many[i].job, sizeof many[i].job, "job %d", i / 3);
    }
    usual = hw_coats_learn(many, 60, "j");
    check_true(!usual.guess && usual.seen == 0 && usual.elsewhere == 60);
    check_close(usual.covariance[1][1] / guess.covariance[1][1], 0.25, 0.03);
    // One other job tells less than as much here, in size and in surety; alone it is still a guess.
    hw_coat_belief here = hw_coats_learn(many, 1, "job 0"), there = hw_coats_learn(many, 1, "j");
    check_true(!here.guess && there.guess);
    check_true(there.covariance[1][1] > 1.5 * here.covariance[1][1]);
    check_true(there.resin[1] > guess.resin[1] && there.resin[1] < here.resin[1]);
    // And what this job shows goes before all of them.
    const double water_white[3] = {0.002, 0.003, 0.01};
    for (int i = 57; i < 60; i++) {
        many[i] = seen_of(60, 1, water_white, 0.005, 3 + 2 * i);
    }
    here = hw_coats_learn(many, 60, "j");
    check_true(here.seen == 3 && here.resin[1] < 0.5 * (density[0][1] + water_white[1]));
    // Forgotten: as if it had not been.
    for (int i = 0; i < 57; i++) {
        many[i].forgotten = true;
    }
    here = hw_coats_learn(many, 60, "j");
    there = hw_coats_learn(&many[57], 3, "j");
    check_true(here.elsewhere == 0);
    check_close(here.resin[1], there.resin[1], 1e-12);
    // A number of another job's photo is not that of this one.
    check_close(hw_coats_pull(&belief, seen, 4, 3 + 2 + 2, "strip").own[1][1], 0, 0);
    check_true(hw_coats_pull(&belief, seen, 4, seen[3].photo_after, "strip").own[1][1] != 0.0);
}

// The order says nothing.
static void test_order(void)
{
    const double first[3] = {0.3, 0.4, 0.6}, later[3] = {0.03, 0.06, 0.1};
    hw_coat_seen seen[3] = {seen_of(0, 1, first, 0.02, 3), seen_of(1, 1, later, 0.01, 5),
                            seen_of(2, 2, later, 0.01, 7)};
    for (int other_jobs = 0; other_jobs < 2; other_jobs++) {
        hw_coat_seen turned[3] = {seen[2], seen[0], seen[1]};
        hw_coat_belief a = hw_coats_learn(seen, 3, "j"), b = hw_coats_learn(turned, 3, "j");
        check_true(a.elsewhere == (other_jobs ? 2 : 0) && a.elsewhere == b.elsewhere);
        for (int band = 0; band < 3; band++) {
            check_close(a.resin[band], b.resin[band], 1e-8);
            check_close(a.wet[band], b.wet[band], 1e-7);
        }
        check_close(a.tau, b.tau, 1e-7);
        memcpy(seen[0].job, "k", 2);
        memcpy(seen[2].job, "m", 2);
    }
}

// Nor among the parts of one pair of photos: three coats on one and one on the other, a sealer beside a clear coat, all read by
// the card alone with an error of their own.
static void test_order_of_pair(void)
{
    static const int order[6][3] = {{0, 1, 2}, {0, 2, 1}, {1, 0, 2},
                                    {1, 2, 0}, {2, 0, 1}, {2, 1, 0}};
    const double much[3] = {0.12, 0.17, 0.4}, little[3] = {0.03, 0.06, 0.1};
    hw_coat_seen seen[3] = {seen_of(2, 3, much, 0.02, 3), seen_of(3, 1, little, 0.01, 3),
                            seen_of(0, 1, much, 0.015, 3)};
    hw_coat_belief first = {.tau = 0.0};
    seen[2].clear = false;
    for (int i = 0; i < 3; i++) {
        double u = 0.01 * (i + 1);
        snprintf(seen[i].part, sizeof seen[i].part, "part %d", i);
        seen[i].shared = hw_covariance_diagonal(u * u, u * u, u * u);
    }
    for (int k = 0; k < 6; k++) {
        hw_coat_seen turned[3] = {seen[order[k][0]], seen[order[k][1]], seen[order[k][2]]};
        hw_coat_belief belief = hw_coats_learn(turned, 3, "j");
        first = k == 0 ? belief : first;
        for (int band = 0; band < 3; band++) {
            check_close(belief.resin[band], first.resin[band], 1e-8);
            check_close(belief.wet[band], first.wet[band], 1e-7);
            check_close(belief.covariance[band][band], first.covariance[band][band], 1e-9);
        }
        check_close(belief.tau, first.tau, 1e-7);
    }
}

// ---- Against draws -----------------------------------------------------------------

static double normal(uint64_t *state)
{
    double sum = -6.0;
    for (int i = 0; i < 12; i++) {
        uint64_t z = *state += 0x9e3779b97f4a7c15u;
        z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
        z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
        sum += (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
    }
    return sum;
}

// Draws of what is guessed, weighed by how well they explain a first coat on bare wood and the next: mean and s.d. of the
// resin, with the scatter as the answer makes it.
static void test_draws(void)
{
    const int draws = 400000;
    const double first[3] = {0.26, 0.36, 0.52}, later[3] = {0.08, 0.12, 0.21};
    hw_coat_seen seen[2] = {seen_of(0, 1, first, 0.02, 3), seen_of(1, 1, later, 0.02, 5)};
    hw_coat_belief guess = hw_coats_guess(), belief = hw_coats_learn(seen, 2, "j");
    double root[7][7], inverse[2][9], sum[4] = {0}, square[4] = {0}, weights = 0.0;
    uint64_t state = 7;
    memcpy(root, guess.covariance, sizeof root);
    check_true(hw_cholesky(&root[0][0], 7));
    for (int i = 0; i < 2; i++) {
        hw_coat_step step = hw_coats_step(&belief, i, 1, true);
        double v[9];
        for (int k = 0; k < 9; k++) {
            v[k] = seen[i].covariance.m[k / 3][k % 3] + step.own.m[k / 3][k % 3] +
                   step.shared.m[k / 3][k % 3];
        }
        check_true(hw_cholesky(v, 3));
        hw_cholesky_invert(v, 3, inverse[i]);
    }
    for (int n = 0; n < draws; n++) {
        double z[7], x[7], exponent = 0.0;
        for (int i = 0; i < 7; i++) {
            z[i] = normal(&state);
        }
        for (int i = 0; i < 7; i++) {
            x[i] = i < 3 ? guess.resin[i] : i < 6 ? guess.wet[i - 3] : log(guess.tau);
            for (int k = 0; k <= i; k++) {
                x[i] += root[i][k] * z[k];
            }
        }
        for (int i = 0; i < 2; i++) {
            double tau = exp(x[6]), closed = exp(-i / tau) - exp(-(i + 1) / tau), e[3];
            for (int band = 0; band < 3; band++) {
                e[band] = seen[i].density[band] - x[band] - closed * x[3 + band];
            }
            for (int k = 0; k < 9; k++) {
                exponent += e[k / 3] * inverse[i][k] * e[k % 3];
            }
        }
        double weight = exp(-0.5 * exponent);
        weights += weight;
        for (int i = 0; i < 4; i++) {
            double value = i < 3 ? x[i] : exp(x[6]);
            sum[i] += weight * value;
            square[i] += weight * value * value;
        }
    }
    for (int i = 0; i < 3; i++) {
        double mean = sum[i] / weights, u = sqrt(square[i] / weights - mean * mean);
        check_close(belief.resin[i], mean, 0.35 * u); // a most probable value beside a mean
        check_close(sqrt(belief.covariance[i][i]), u, 0.2 * u);
    }
    check_close(belief.tau, sum[3] / weights, 0.15);
    check_true(belief.guess); // the wet step hides what a coat itself does
}

// ---- Doubt -------------------------------------------------------------------------

static void test_outliers(void)
{
    const double fair[3] = {0.022, 0.04, 0.1}, wild[3] = {0.4, 0.5, 0.6},
                 lighter[3] = {-0.2, -0.25, -0.2};
    hw_coat_seen seen[3] = {seen_of(4, 1, fair, 0.01, 3), seen_of(5, 1, fair, 0.01, 5),
                            seen_of(6, 1, wild, 0.01, 7)};
    hw_coat_belief clean = hw_coats_learn(seen, 2, "j"), with = hw_coats_learn(seen, 3, "j");
    check_close(with.resin[1], clean.resin[1], 0.015);
    memcpy(seen[2].density, lighter, sizeof lighter);
    with = hw_coats_learn(seen, 3, "j");
    check_close(with.resin[1], clean.resin[1], 0.015);
    // Alone it is no lesson either.
    hw_coat_belief alone = hw_coats_learn(&seen[2], 1, "j");
    for (int band = 0; band < 3; band++) {
        check_true(alone.resin[band] >= 0.0 && alone.resin[band] < 0.1);
    }
    seen[2].density[0] = (double)NAN;
    with = hw_coats_learn(seen, 3, "j");
    check_true(with.seen == 2);
    check_close(with.resin[2], clean.resin[2], 1e-12);
}

// A finish without colour is learned as one; a sealer tells little of it; the card alone less than old wood.
static void test_guess_or_learned(void)
{
    const double clear[3] = {0.001, 0.0, 0.002}, amber[3] = {0.03, 0.05, 0.13};
    hw_coat_seen seen = seen_of(4, 1, clear, 0.01, 3);
    hw_coat_belief belief = hw_coats_learn(&seen, 1, "j"), guess = hw_coats_guess();
    check_true(!belief.guess && belief.resin[1] < 0.01 && belief.resin[2] < 0.03);
    seen = seen_of(4, 1, amber, 0.01, 3);
    belief = hw_coats_learn(&seen, 1, "j");
    check_true(!belief.guess && belief.resin[1] > 0.04);
    double learned = belief.covariance[1][1];
    seen.clear = false;
    check_true(hw_coats_learn(&seen, 1, "j").covariance[1][1] > 1.5 * learned);
    seen.clear = true;
    seen.shared = hw_covariance_diagonal(0.0016, 0.0016, 0.0016); // 0.9 L* in mid-brown
    belief = hw_coats_learn(&seen, 1, "j");
    check_true(belief.guess && belief.resin[1] > guess.resin[1]);
    belief = hw_coats_learn(NULL, 0, "j");
    check_true(belief.guess && belief.seen == 0);
    check_close(belief.resin[2], 0.09, 0);
}

// ---- The aim -----------------------------------------------------------------------

// Coats on the repair alone, the guess: L* alone is held, 1 to 2 above the old wood. Between: the worked colours 52.5,
// 51.858, 51.225 continued upwards by their second difference.
static void test_hold(void)
{
    hw_coat_belief guess = hw_coats_guess();
    hw_comparison gap = gap_of(other, one, 0.25);
    hw_coats_request request = {.gap = &gap, .belief = &guess};
    const double want[] = {0.0, 1.0, 1.311, 1.980, 2.0}; // 0 to 4 coats
    for (int coats = 0; coats < 5; coats++) {
        hw_lab aim;
        hw_covariance more;
        request.patch = (hw_coats_on){60, coats};
        request.target = (hw_coats_on){60, 0};
        check_true(hw_coats_aim(&request, &aim, &more) == (coats > 0));
        check_close(aim.L - other.L, want[coats], 0.03);
        check_close(aim.a, other.a, 0);
        check_close(aim.b, other.b, 0);
        check_close(more.m[0][0], coats ? pow(0.5 / 1.645, 2) : 0, 1e-9);
        check_close(more.m[1][1] + more.m[2][2] + more.m[0][1], 0, 0);
    }
    // The old wood alone would get coats: no guess makes a repair darker.
    hw_lab aim;
    hw_covariance more;
    request.patch = (hw_coats_on){3, 0};
    request.target = (hw_coats_on){3, 2};
    check_true(!hw_coats_aim(&request, &aim, &more));
}

// Learned: all three bands, so that the coats bring the aim onto the old wood.
static void test_aim(void)
{
    const double amber[3] = {0.03, 0.05, 0.13};
    hw_coat_seen seen = seen_of(60, 1, amber, 0.004, 3);
    hw_coat_belief belief = hw_coats_learn(&seen, 1, "j");
    hw_comparison gap = gap_of(other, one, 0.25);
    hw_coats_request request = {
        .gap = &gap, .patch = {60, 2}, .target = {60, 0}, .belief = &belief};
    hw_lab aim;
    hw_covariance more, again;
    check_true(hw_coats_aim(&request, &aim, &more));
    const double two[3] = {2 * belief.resin[0], 2 * belief.resin[1], 2 * belief.resin[2]};
    hw_lab coated = hw_tone_under(aim, two);
    check_close(coated.L, other.L, 1e-6);
    check_close(coated.a, other.a, 1e-6);
    check_close(coated.b, other.b, 1e-6);
    check_true(aim.L > other.L + 1.0 && aim.b < other.b - 2.0 && more.m[0][0] > 0.01);
    // Read in the photo that it was learned from: its error counts twice.
    request.seen = &seen;
    request.seen_count = 1;
    request.photo = seen.photo_after;
    check_true(hw_coats_aim(&request, &aim, &again));
    check_true(again.m[0][0] > more.m[0][0] && again.m[0][0] < 2.0 * more.m[0][0]);
}

// The shared resin's doubt goes out of the gap where both get the coats; what each coat does for itself stays.
static void test_joint(void)
{
    hw_coat_belief guess = hw_coats_guess();
    hw_comparison gap = gap_of(other, one, 0.2);
    hw_coats_request request = {.gap = &gap,
                                .patch = {60, 2},
                                .target = {60, 2},
                                .belief = &guess,
                                .photo_doubt = hw_coats_photo_doubt(false)};
    hw_coats_ahead all = hw_coats_look_ahead(&request);
    request.target.to_come = 0;
    hw_coats_ahead alone = hw_coats_look_ahead(&request);
    check_true(all.de00_high - all.de00_low < 0.6 * (alone.de00_high - alone.de00_low));
    check_true(all.de00_high - all.de00_low > gap.de00_high - gap.de00_low);
    check_close(all.patch_high.L - all.patch_low.L, alone.patch_high.L - alone.patch_low.L, 1e-9);
    check_close(alone.target_lab.L, other.L, 1e-9);
    check_close(alone.target_high.L - alone.target_low.L,
                2 * 1.645 * sqrt(request.photo_doubt.m[0][0] + 0.02),
                0.02); // the reading's own: half of the gap's, the photo's
}

// ---- What is said ------------------------------------------------------------------

// 1.5 lighter than the old wood with two coats to come on it alone is one to leave; one that matches is too dark.
static void test_said(void)
{
    hw_coat_belief guess = hw_coats_guess();
    hw_lab target = {52.5, 13.5, 26};
    hw_comparison light = gap_of(target, (hw_lab){54, 13.5, 26}, 0.2);
    hw_comparison same = gap_of(target, target, 0.2);
    hw_coats_request request = {
        .gap = &light, .patch = {60, 2}, .target = {60, 0}, .belief = &guess};
    hw_lab aim;
    hw_covariance more;
    check_true(hw_coats_aim(&request, &aim, &more));
    hw_comparison aimed = hw_comparison_before_coats(&light, aim, &more);
    check_true(aimed.verdict == HW_VERDICT_LEAVE && aimed.before_coats);
    check_holds(aimed.why, "Leave it: the coats to come do the rest.");
    aimed = hw_comparison_before_coats(&same, aim, &more);
    check_true(aimed.verdict == HW_VERDICT_TONE || aimed.verdict == HW_VERDICT_TOO_DARK);
    check_close(aimed.gap.L, target.L - aim.L, 1e-9);
    check_true(!strstr(aimed.why, "than the old wood") && strstr(aimed.why, "too dark"));
    // And the advice: nothing to lay, as nothing lightens.
    hw_shelf shelf = {0};
    hw_known known = {0};
    hw_advice advice;
    check_true(hw_shelf_guesses(&shelf, NULL) == HW_OK &&
               hw_tone_learn(&shelf, "", target, &known, NULL) == HW_OK);
    hw_tone_request wish = {.gap = &aimed, .known = &known, .surface = HW_SURFACE_SEALED};
    check_true(hw_tone_advise(&wish, &advice, NULL) == HW_OK);
    check_true(advice.stop && !advice.has_next);
    // Far lighter: toner, up to the aim.
    hw_comparison far = gap_of(target, (hw_lab){59, 11, 25}, 0.2);
    aimed = hw_comparison_before_coats(&far, aim, &more);
    check_true(hw_tone_advise(&wish, &advice, NULL) == HW_OK);
    check_true(advice.has_next && advice.after_next.lab.L > aim.L - 1.0);
    check_holds(advice.why, "lighter");
    check_holds(advice.why, "than it must be before the coats to come");
    check_close(advice.aim.L, aim.L, 1e-9);
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

int main(void)
{
    test_worked();
    test_law();
    test_ridge();
    test_other_jobs();
    test_order();
    test_order_of_pair();
    test_draws();
    test_outliers();
    test_guess_or_learned();
    test_hold();
    test_aim();
    test_joint();
    test_said();
    return check_done();
}
