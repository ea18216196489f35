// mark_homography.c: planes of the piece. Two photos of one plane differ by a homography (Hartley and Zisserman
// 2004, Multiple View Geometry, 2nd edition, chapter 4; called HZ here).
//
// A homography comes from pairs by the normalised direct linear transform (HZ algorithm 4.2). A plane is what most
// pairs agree on (random sample consensus, HZ algorithm 4.6): samples of four, as many as the share of good ones asks for
// (HZ 4.18, p = 0.999), scored by how near the others come (Torr and Zisserman 2000), refitted to all inliers. Before
// that, pairs vote on how far the picture turned and grew: the right ones agree within the tilt of a hand, the
// wrong ones are anywhere (Lowe 2004, 7.3). That takes most of the wrong ones out.
//
// Chance is a fixed sequence: the same pairs give the same plane.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

static const double pi = 3.14159265358979323846;

const hw_homography hw_homography_identity = {{1, 0, 0, 0, 1, 0, 0, 0, 1}};

// ---- Use ---------------------------------------------------------------------------

static double determinant(const double *m)
{
    return m[0] * (m[4] * m[8] - m[5] * m[7]) - m[1] * (m[3] * m[8] - m[5] * m[6]) +
           m[2] * (m[3] * m[7] - m[4] * m[6]);
}

// The Jacobian's determinant of a projective map of the plane is det(H) / depth^3.
double hw_homography_area_ratio(const hw_homography *h, hw_point p)
{
    double depth = hw_homography_depth(h, p);
    return determinant(h->m) / (depth * depth * depth);
}

bool hw_homography_invert(const hw_homography *h, hw_homography *out)
{
    const double *m = h->m;
    double det = determinant(m), size = 0.0;
    for (int i = 0; i < 9; i++) {
        size = fmax(size, fabs(m[i]));
    }
    if (!(fabs(det) > 1e-12 * size * size * size)) {
        return false;
    }
    const double adjoint[9] = {
        m[4] * m[8] - m[5] * m[7], m[2] * m[7] - m[1] * m[8], m[1] * m[5] - m[2] * m[4],
        m[5] * m[6] - m[3] * m[8], m[0] * m[8] - m[2] * m[6], m[2] * m[3] - m[0] * m[5],
        m[3] * m[7] - m[4] * m[6], m[1] * m[6] - m[0] * m[7], m[0] * m[4] - m[1] * m[3]};
    for (int i = 0; i < 9; i++) {
        out->m[i] = adjoint[i] / det;
    }
    return true;
}

hw_homography hw_homography_product(const hw_homography *second, const hw_homography *first)
{
    hw_homography out = {{0}};
    for (size_t i = 0; i < 3; i++) {
        for (size_t j = 0; j < 3; j++) {
            for (size_t k = 0; k < 3; k++) {
                out.m[3 * i + j] += second->m[3 * i + k] * first->m[3 * k + j];
            }
        }
    }
    return out;
}

// ---- From pairs --------------------------------------------------------------------

// Places less their middle, times a scale: mean distance from it the square root of two (HZ 4.4.4).
typedef struct scaling {
    double x, y, scale;
} scaling;

static bool scaling_of(const hw_match *match, const double *weight, size_t count, bool to,
                       scaling *out)
{
    double sum = 0.0, x = 0.0, y = 0.0, far = 0.0;
    for (size_t i = 0; i < count; i++) {
        hw_point p = to ? match[i].to : match[i].from;
        double w = weight ? weight[i] : 1.0;
        sum += w;
        x += w * p.x;
        y += w * p.y;
    }
    x /= sum;
    y /= sum;
    for (size_t i = 0; i < count; i++) {
        hw_point p = to ? match[i].to : match[i].from;
        far += (weight ? weight[i] : 1.0) * hypot(p.x - x, p.y - y) / sum;
    }
    *out = (scaling){x, y, far > 0.0 ? sqrt(2.0) / far : 0.0};
    return far > 1e-9 && isfinite(far);
}

// Adds w a a^T to the symmetric sum.
static void add_square(double sum[9][9], const double a[9], double w)
{
    for (int i = 0; i < 9; i++) {
        for (int j = i; j < 9; j++) {
            sum[i][j] += w * a[i] * a[j];
        }
    }
}

// The two equations of a pair (HZ 4.3).
static void add_pair(double sum[9][9], hw_point p, hw_point q, double w)
{
    const double one[9] = {0, 0, 0, -p.x, -p.y, -1, q.y * p.x, q.y * p.y, q.y};
    const double two[9] = {p.x, p.y, 1, 0, 0, 0, -q.x * p.x, -q.x * p.y, -q.x};
    add_square(sum, one, w);
    add_square(sum, two, w);
}

static void rotate(double a[9][9], double v[9][9], int p, int q)
{
    double theta = (a[q][q] - a[p][p]) / (2.0 * a[p][q]);
    double t = copysign(1.0, theta) / (fabs(theta) + sqrt(theta * theta + 1.0));
    double c = 1.0 / sqrt(t * t + 1.0), s = t * c;
    for (int k = 0; k < 9; k++) {
        double x = a[k][p], y = a[k][q];
        a[k][p] = c * x - s * y;
        a[k][q] = s * x + c * y;
    }
    for (int k = 0; k < 9; k++) {
        double x = a[p][k], y = a[q][k];
        a[p][k] = c * x - s * y;
        a[q][k] = s * x + c * y;
        x = v[k][p];
        y = v[k][q];
        v[k][p] = c * x - s * y;
        v[k][q] = s * x + c * y;
    }
}

// Eigenvalues of a symmetric matrix by Jacobi's rotations, onto its diagonal; eigenvectors in the columns of v (Golub and
// Van Loan, Matrix Computations, 8.5).
static void eigen(double a[9][9], double v[9][9])
{
    for (int i = 0; i < 9; i++) {
        for (int j = 0; j < 9; j++) {
            v[i][j] = i == j ? 1.0 : 0.0;
        }
    }
    for (int sweep = 0; sweep < 30; sweep++) {
        double off = 0.0, on = 0.0;
        for (int p = 0; p < 9; p++) {
            on += a[p][p] * a[p][p];
            for (int q = p + 1; q < 9; q++) {
                off += a[p][q] * a[p][q];
            }
        }
        if (off <= 1e-28 * on) {
            return;
        }
        for (int p = 0; p < 9; p++) {
            for (int q = p + 1; q < 9; q++) {
                if (fabs(a[p][q]) > 1e-300) {
                    rotate(a, v, p, q);
                }
            }
        }
    }
}

// Which eigenvalue is the least, or -1 where another is as small: then there are two solutions (three on a line).
static int least_of(double values[9][9])
{
    int least = 0;
    double most = 0.0, next = INFINITY;
    for (int i = 0; i < 9; i++) {
        least = values[i][i] < values[least][least] ? i : least;
        most = fmax(most, values[i][i]);
    }
    for (int i = 0; i < 9; i++) {
        next = i != least ? fmin(next, values[i][i]) : next;
    }
    return next > 1e-9 * most ? least : -1;
}

// Takes the scaling back out: T_to^-1 H T_from, of depth 1 in the middle of the places it came from.
static hw_homography unscale(const double h[9], scaling from, scaling to)
{
    const hw_homography scaled = {
        {h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], h[8]},
    };
    const hw_homography in = {
        {from.scale, 0, -from.scale * from.x, 0, from.scale, -from.scale * from.y, 0, 0, 1}};
    const hw_homography back = {{1.0 / to.scale, 0, to.x, 0, 1.0 / to.scale, to.y, 0, 0, 1}};
    hw_homography out = hw_homography_product(&scaled, &in);
    out = hw_homography_product(&back, &out);
    double depth = hw_homography_depth(&out, (hw_point){from.x, from.y});
    for (int i = 0; i < 9 && depth != 0.0; i++) {
        out.m[i] /= depth;
    }
    return out;
}

bool hw_homography_fit(const hw_match *match, const double *weight, size_t count,
                       hw_homography *out)
{
    scaling from, to;
    double sum[9][9] = {{0}}, v[9][9];
    if (count < 4 || !scaling_of(match, weight, count, false, &from) ||
        !scaling_of(match, weight, count, true, &to)) {
        return false;
    }
    for (size_t i = 0; i < count; i++) {
        hw_point p = {(match[i].from.x - from.x) * from.scale,
                      (match[i].from.y - from.y) * from.scale};
        hw_point q = {(match[i].to.x - to.x) * to.scale, (match[i].to.y - to.y) * to.scale};
        add_pair(sum, p, q, weight ? weight[i] : 1.0);
    }
    for (int i = 0; i < 9; i++) {
        for (int j = 0; j < i; j++) {
            sum[i][j] = sum[j][i];
        }
    }
    eigen(sum, v);
    int least = least_of(sum);
    double h[9];
    for (int i = 0; i < 9; i++) {
        h[i] = v[i][least < 0 ? 0 : least];
    }
    if (least < 0) {
        return false;
    }
    *out = unscale(h, from, to);
    return isfinite(out->m[0]) && fabs(determinant(out->m)) > 1e-9;
}

// ---- The vote on turn and growth ---------------------------------------------------

enum { TURN_BINS = 24, GROWTH_BINS = 9 };
static const double turn_most = 0.55;  // radians from the winner: 31 degrees (chosen)
static const double growth_most = 0.9; // octaves from the winner (chosen)
static const double growth_bin = 0.5;  // octaves
static const double turn_bin = 2.0 * 3.14159265358979323846 / TURN_BINS;

static double turn_between(double one, double other)
{
    return fabs(remainder(one - other, 2.0 * pi));
}

static size_t turn_bin_of(double turn)
{
    double bins = (turn - 2.0 * pi * floor(turn / (2.0 * pi))) / turn_bin;
    return (size_t)bins % TURN_BINS;
}

static size_t growth_bin_of(double growth)
{
    double bin = floor(log2(growth) / growth_bin + 0.5 * GROWTH_BINS);
    return (size_t)fmin(fmax(bin, 0.0), GROWTH_BINS - 1);
}

// Votes of a bin and its neighbours.
static double votes_around(double votes[TURN_BINS][GROWTH_BINS], size_t turn, size_t growth)
{
    double sum = 0.0;
    for (size_t dt = 0; dt < 3; dt++) {
        for (size_t g = growth > 0 ? growth - 1 : 0; g <= growth + 1 && g < GROWTH_BINS; g++) {
            sum += votes[(turn + dt + TURN_BINS - 1) % TURN_BINS][g];
        }
    }
    return sum;
}

// Which of the matches that are not taken agree with most others on turn and growth. Returns how many.
static size_t vote(const hw_match *match, size_t count, const int8_t *plane, size_t *agreed)
{
    double votes[TURN_BINS][GROWTH_BINS] = {{0}}, best = -1.0, turn = 0.0, growth = 0.0;
    for (size_t i = 0; i < count; i++) {
        if (plane[i] < 0) {
            votes[turn_bin_of(match[i].turn)][growth_bin_of(match[i].growth)] += 1.0;
        }
    }
    for (size_t t = 0; t < TURN_BINS; t++) {
        for (size_t g = 0; g < GROWTH_BINS; g++) {
            double sum = votes_around(votes, t, g);
            if (sum > best) {
                best = sum;
                turn = ((double)t + 0.5) * turn_bin;
                growth = ((double)g + 0.5 - 0.5 * GROWTH_BINS) * growth_bin;
            }
        }
    }
    size_t found = 0;
    for (size_t i = 0; i < count; i++) {
        if (plane[i] < 0 && turn_between(match[i].turn, turn) <= turn_most &&
            fabs(log2(match[i].growth) - growth) <= growth_most) {
            agreed[found++] = i;
        }
    }
    return found;
}

// ---- Consensus ---------------------------------------------------------------------

enum { TRIALS_MOST = 2000, TRIALS_LEAST = 60, REFITS = 6, LEAST_INLIERS = 8 };

static double distance_of(const hw_homography *h, const hw_match *m)
{
    if (!(hw_homography_depth(h, m->from) > 0.0)) {
        return INFINITY;
    }
    hw_point at = hw_homography_apply(h, m->from);
    return hypot(at.x - m->to.x, at.y - m->to.y);
}

// Sum over all matches of what each adds: 1 where it fits exactly, 0 from the bound on. *inliers: how many lie within.
static double score_of(const hw_homography *h, const hw_match *match, size_t count, size_t *inliers)
{
    double score = 0.0;
    *inliers = 0;
    for (size_t i = 0; i < count; i++) {
        double d = distance_of(h, &match[i]) / HW_INLIER_MOST;
        if (d < 1.0) {
            score += 1.0 - d * d;
            (*inliers)++;
        }
    }
    return score;
}

static double chance(uint64_t *state)
{
    uint64_t z = *state += 0x9e3779b97f4a7c15u; // splitmix64 (public domain)
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

// A sample that is bent the same way round in both photos: a plane seen from its front.
static bool same_way_round(const hw_match *s)
{
    for (int i = 0; i < 4; i++) {
        const hw_match *a = &s[i], *b = &s[(i + 1) % 4], *c = &s[(i + 2) % 4];
        double one = (b->from.x - a->from.x) * (c->from.y - a->from.y) -
                     (b->from.y - a->from.y) * (c->from.x - a->from.x);
        double other =
            (b->to.x - a->to.x) * (c->to.y - a->to.y) - (b->to.y - a->to.y) * (c->to.x - a->to.x);
        if (!(one * other > 0.0) || fabs(one) < 1e-5) {
            return false;
        }
    }
    return true;
}

// Fits to the inliers until their number no longer grows.
static void refit(const hw_match *match, size_t count, double *weight, hw_homography *h,
                  double *score, size_t *inliers)
{
    for (int round = 0; round < REFITS; round++) {
        hw_homography better;
        size_t n;
        for (size_t i = 0; i < count; i++) {
            double d = distance_of(h, &match[i]) / HW_INLIER_MOST;
            weight[i] = d < 1.0 ? 1.0 - d * d : 0.0;
        }
        if (*inliers < 4 || !hw_homography_fit(match, weight, count, &better)) {
            return;
        }
        double s = score_of(&better, match, count, &n);
        if (!(s > *score + 1e-9)) {
            return;
        }
        *h = better;
        *score = s;
        *inliers = n;
    }
}

// HZ 4.18: samples of four until one is all good with probability 0.999.
static double trials_needed(size_t inliers, size_t count)
{
    double share = (double)inliers / (double)count;
    return log(0.001) / log(fmax(1.0 - pow(share, 4.0), 1e-12));
}

static size_t consensus(const hw_match *match, size_t count, double *weight, hw_homography *best)
{
    uint64_t state = 1;
    double best_score = 0.0, needed = TRIALS_MOST;
    size_t best_inliers = 0;
    for (int trial = 0; trial < TRIALS_MOST && (trial < TRIALS_LEAST || trial < needed); trial++) {
        hw_match sample[4];
        hw_homography h;
        size_t inliers;
        for (int k = 0; k < 4; k++) {
            sample[k] = match[(size_t)(chance(&state) * (double)count)];
        }
        if (!same_way_round(sample) || !hw_homography_fit(sample, NULL, 4, &h)) {
            continue;
        }
        double score = score_of(&h, match, count, &inliers);
        if (score > best_score) {
            refit(match, count, weight, &h, &score, &inliers);
            *best = h;
            best_score = score;
            best_inliers = inliers;
            needed = trials_needed(inliers, count);
        }
    }
    return best_inliers;
}

// Marks the inliers as those of the plane and measures them.
static void take_inliers(const hw_match *match, const size_t *agreed, size_t count, int8_t *plane,
                         int8_t number, hw_plane *out)
{
    double square = 0.0;
    for (size_t i = 0; i < count; i++) {
        double d = distance_of(&out->h, &match[agreed[i]]);
        if (d < HW_INLIER_MOST) {
            plane[agreed[i]] = number;
            square += d * d / (double)out->inliers;
        }
    }
    out->rms = sqrt(square);
}

hw_status hw_plane_find(const hw_match *match, size_t count, int8_t *plane, int8_t number,
                        hw_plane *out, hw_error *err)
{
    size_t *agreed = hw_alloc_array(count, sizeof *agreed);
    hw_match *voters = hw_alloc_array(count, sizeof *voters);
    double *weight = hw_alloc_array(count, sizeof *weight);
    bool good = agreed && voters && weight;
    *out = (hw_plane){0};
    if (good) {
        size_t voted = vote(match, count, plane, agreed);
        for (size_t i = 0; i < voted; i++) {
            voters[i] = match[agreed[i]];
        }
        size_t inliers = voted >= LEAST_INLIERS ? consensus(voters, voted, weight, &out->h) : 0;
        if (inliers >= LEAST_INLIERS) {
            out->inliers = inliers;
            take_inliers(match, agreed, voted, plane, number, out);
        }
    }
    hw_free(agreed);
    hw_free(voters);
    hw_free(weight);
    return good ? HW_OK : hw_fail_memory(err, "comparing the photo with the last one");
}
