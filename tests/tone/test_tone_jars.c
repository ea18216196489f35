// What is learned of a mixed jar beside its dye: against importance sampling (as test_tone_sampling.c does it; Kong, Liu
// and Wong 1994), and what a slip in the mixing may and may not teach.
//
// The model is that of the header and of the comments in src/tone/tone_learn.c, typed again here: factors of the
// shop's boards, of the day and of each jar as logarithms; s.d. 0.20, 0.10 and 0.10, the last with a
// heavy tail.
#include "normal.h"
#include "check.h"
#include "huewright/tone.h"
#include "known.h"
#include "picture.h"
#include "tone_internal.h"

#define DRAWS  200000
#define SIGHTS 4
#define ROWS   (3 * SIGHTS)
#define JARS   2

static const double u_boards = 0.20, u_day = 0.10, u_jar = 0.10, u_pass = 0.12;
static const hw_lab wood = {55.0, 12.0, 25.0};
static const char *const keys[JARS] = {"here/1", "here/2"};

// ---- Observations ------------------------------------------------------------------

typedef struct sight {
    bool here; // of the job in hand
    int jar;   // from 1; 0: none
    double passes, strength, u_lab;
} sight;

typedef struct trial {
    const char *name;
    sight sights[SIGHTS];
    size_t count;
} trial;

static const double board[3] = {0.06, 0.09, 0.14}, u_strength = 0.05, u_band = 0.06,
                    exponent = 0.97, u_exponent = 0.05;

static hw_dye board_dye(const char *name)
{
    hw_dye dye = dye_of_board(name, board, u_strength, u_band);
    dye.exponent = exponent;
    dye.u_exponent = u_exponent;
    return dye;
}

// Each on its own patch and photos, so that only factors are shared; those elsewhere on one patch.
static hw_observation seen_of(const sight *s, long number, const char *dye)
{
    hw_covariance photo = photo_covariance(wood, s->u_lab);
    hw_observation seen = {.event = 10 * number + 5,
                           .photo_before = 10 * number + 1,
                           .photo_after = 10 * number + 9,
                           .at = 1000 * number,
                           .wood = wood,
                           .laid = {{.amount = s->passes, .squares = s->passes}},
                           .laid_count = 1};
    snprintf(seen.job, sizeof seen.job, "%s", s->here ? "here" : "elsewhere");
    snprintf(seen.patch, sizeof seen.patch, "%s %ld", s->here ? "patch" : "one",
             s->here ? number : 0);
    snprintf(seen.laid[0].dye, sizeof seen.laid[0].dye, "%s", dye);
    snprintf(seen.laid[0].jar, sizeof seen.laid[0].jar, "%s", s->jar ? keys[s->jar - 1] : "");
    for (int band = 0; band < 3; band++) {
        seen.density[band] =
            s->strength * pow(s->passes, exponent) * board[band] * (band == 2 ? 1.04 : 0.99);
    }
    seen.covariance = hw_covariance_sum(&photo, &photo);
    return seen;
}

// ---- Sampling ----------------------------------------------------------------------

typedef struct draw {
    double own[3]; // the dye, its group's factor in it
    double day, exponent, jar[JARS];
    double weight;
} draw;

// ln of the prior of a jar's factor: Student's distribution of 4 degrees of freedom, s.d. 0.10 (that of its scale is
// 1 / sqrt(2) of it).
static double log_jar(double ln_factor)
{
    double z = ln_factor / u_jar * sqrt(2.0);
    return -2.5 * log(1.0 + z * z / 4.0);
}

static draw draw_one(const double root[9], uint64_t *state)
{
    const double wide = 2.0 * u_jar; // what jars are drawn from
    draw d;
    double z[3], group = u_boards * picture_normal(state);
    d.weight = 0.0;
    d.day = u_day * picture_normal(state);
    d.exponent = exponent + u_exponent * picture_normal(state);
    for (int i = 0; i < JARS; i++) {
        double normal = picture_normal(state);
        d.jar[i] = wide * normal;
        d.weight += log_jar(d.jar[i]) + 0.5 * normal * normal;
    }
    for (int band = 0; band < 3; band++) {
        z[band] = picture_normal(state);
    }
    for (int band = 0; band < 3; band++) {
        d.own[band] = board[band];
        for (int k = 0; k <= band; k++) {
            d.own[band] += root[3 * band + k] * z[k];
        }
        d.own[band] *= exp(group);
    }
    return d;
}

static double factor_of(const sight *s, const draw *d)
{
    return exp((s->here ? d->day : 0.0) + (s->jar ? d->jar[s->jar - 1] : 0.0));
}

static double log_weight(const trial *t, const hw_observation *seen, const draw *d)
{
    size_t n = 3 * t->count;
    double expected[ROWS], residual[ROWS], covariance[ROWS * ROWS] = {0.0};
    for (size_t i = 0; i < t->count; i++) {
        double amount = pow(t->sights[i].passes, d->exponent) * factor_of(&t->sights[i], d);
        for (size_t r = 0; r < 3; r++) {
            expected[3 * i + r] = amount * d->own[r];
            residual[3 * i + r] = seen[i].density[r] - expected[3 * i + r];
        }
    }
    for (size_t i = 0; i < t->count; i++) {
        for (size_t k = 0; k < t->count; k++) {
            const sight *s = &t->sights[i];
            hw_covariance photo = photo_covariance(wood, s->u_lab);
            double day = !s->here && !t->sights[k].here ? u_day * u_day : 0.0;
            double one = factor_of(s, d),
                   pass = i == k ? u_pass * u_pass * s->passes * one * one : 0.0;
            for (size_t r = 0; r < 3; r++) {
                for (size_t c = 0; c < 3; c++) {
                    covariance[(3 * i + r) * n + 3 * k + c] =
                        (i == k ? 2.0 * photo.m[r][c] : 0.0) + pass * d->own[r] * d->own[c] +
                        day * expected[3 * i + r] * expected[3 * k + c];
                }
            }
        }
    }
    return log_normal(covariance, residual, (int)n);
}

// Weighted mean and s.d.
static void moments(const double *value, const double *weight, double *mean, double *u)
{
    double sum = 0.0, squares = 0.0;
    *mean = 0.0;
    for (int i = 0; i < DRAWS; i++) {
        sum += weight[i];
        *mean += weight[i] * value[i];
    }
    *mean /= sum;
    for (int i = 0; i < DRAWS; i++) {
        squares += weight[i] * (value[i] - *mean) * (value[i] - *mean);
    }
    *u = sqrt(squares / sum);
}

typedef struct belief {
    double strength, u_strength;     // of the dye today, along the board's density
    double jar[JARS], u_jar[JARS];   // logarithms
    double out_of_jar, u_out_of_jar; // what one pass out of jar 1 does, without its scatter
    double effective;
} belief;

static double along(const double d[3])
{
    double sum = 0.0, square = 0.0;
    for (int band = 0; band < 3; band++) {
        sum += d[band] * board[band];
        square += board[band] * board[band];
    }
    return sum / square;
}

static belief sample(const trial *t, const hw_observation *seen)
{
    static draw draws[DRAWS];
    static double weight[DRAWS], value[DRAWS];
    double most = -INFINITY, sum = 0.0, squares = 0.0, root[9];
    uint64_t state = 77;
    belief out;
    hw_dye dye = board_dye("dye");
    memcpy(root, dye.covariance.m, sizeof root);
    check_true(root_of(root, 3));
    for (int i = 0; i < DRAWS; i++) {
        draws[i] = draw_one(root, &state);
        weight[i] = draws[i].weight + log_weight(t, seen, &draws[i]);
        most = fmax(most, weight[i]);
    }
    for (int i = 0; i < DRAWS; i++) {
        weight[i] = exp(weight[i] - most);
        sum += weight[i];
        squares += weight[i] * weight[i];
        value[i] = along(draws[i].own) * exp(draws[i].day);
    }
    out.effective = sum * sum / squares;
    moments(value, weight, &out.strength, &out.u_strength);
    for (int k = 0; k < JARS; k++) {
        for (int i = 0; i < DRAWS; i++) {
            value[i] = draws[i].jar[k];
        }
        moments(value, weight, &out.jar[k], &out.u_jar[k]);
    }
    for (int i = 0; i < DRAWS; i++) {
        value[i] = along(draws[i].own) * exp(draws[i].day + draws[i].jar[0]);
    }
    moments(value, weight, &out.out_of_jar, &out.u_out_of_jar);
    return out;
}

// s.d. along the board's density, over its square.
static double u_along(const hw_covariance *v)
{
    double sum = 0.0, square = 0.0;
    for (int r = 0; r < 3; r++) {
        square += board[r] * board[r];
        for (int c = 0; c < 3; c++) {
            sum += board[r] * v->m[r][c] * board[c];
        }
    }
    return sqrt(sum) / square;
}

static void compare(const trial *t)
{
    hw_observation seen[SIGHTS];
    hw_dye dye = board_dye("dye");
    hw_known known = {0};
    for (size_t i = 0; i < t->count; i++) {
        seen[i] = seen_of(&t->sights[i], (long)i + 1, "dye");
    }
    belief want = sample(t, seen);
    hw_shelf shelf = {.dye = &dye, .count = 1, .seen = seen, .seen_count = t->count};
    if (!check_true(hw_tone_learn(&shelf, "here", wood, &known, NULL) == HW_OK)) {
        return;
    }
    hw_laid one = {.dye = "dye", .amount = 1.0, .jar = "here/1"}; // without the scatter of a pass
    double density[3], strength = along(known.dye[0].density);
    hw_covariance doubt, own = {{{0.0}}};
    hw_tone_expect(&known, &one, 1, density, &doubt);
    memcpy(own.m, known.covariance, sizeof own.m);
    printf("%s (%.0f draws count)\n  strength %.3f +- %.3f, sampled %.3f +- %.3f\n", t->name,
           want.effective, strength, u_along(&own), want.strength, want.u_strength);
    printf("  a pass out of jar 1 %.3f +- %.3f, sampled %.3f +- %.3f\n", along(density),
           u_along(&doubt), want.out_of_jar, want.u_out_of_jar);
    check_true(want.effective > 1000.0);
    check_close(strength / want.strength, 1.0, 0.03);
    check_close(u_along(&own) / want.u_strength, 1.0, 0.15);
    check_close(along(density) / want.out_of_jar, 1.0, 0.03);
    check_close(u_along(&doubt) / want.u_out_of_jar, 1.0, 0.15);
    for (int k = 0; k < JARS; k++) {
        const hw_known_jar *jar = hw_known_find_jar(&known, keys[k]);
        if (jar) {
            printf("  %s: ln %.3f +- %.3f, sampled %.3f +- %.3f\n", keys[k], log(jar->factor),
                   jar->u_factor, want.jar[k], want.u_jar[k]);
            check_close(log(jar->factor), want.jar[k], 0.03); // as the 3 % of a density
            check_close(jar->u_factor / want.u_jar[k], 1.0, 0.15);
        }
    }
    hw_known_free(&known);
}

static void test_sampling(void)
{
    const trial trials[] = {
        {"two jars, two passes out of each, one stronger", .count = 4,
         .sights = {{true, 1, 1, 1.30, 0.2},
                    {true, 1, 2, 1.25, 0.2},
                    {true, 2, 1, 1.0, 0.2},
                    {true, 2, 2, 1.05, 0.2}}},
        {"one jar alone", .count = 2, .sights = {{true, 1, 1, 1.25, 0.2}, {true, 1, 2, 1.3, 0.2}}},
        {"a jar carried from another job", .count = 3,
         .sights = {{false, 1, 1, 1.25, 0.2}, {true, 1, 1, 1.2, 0.2}, {true, 0, 1, 0.95, 0.2}}},
        {"a jar, and passes without one", .count = 3,
         .sights = {{true, 1, 2, 0.8, 0.2}, {true, 0, 2, 1.05, 0.2}, {true, 0, 1, 1.0, 0.2}}},
    };
    for (size_t i = 0; i < sizeof trials / sizeof *trials; i++) {
        compare(&trials[i]);
    }
}

// ---- Slips -------------------------------------------------------------------------

typedef struct outcome {
    double strength, jar[JARS];
} outcome;

static outcome learn(const sight *sights, size_t count, bool turned)
{
    hw_observation seen[16];
    hw_dye dye = board_dye("dye");
    hw_known known = {0};
    outcome out = {.strength = (double)NAN};
    for (size_t i = 0; i < count; i++) {
        seen[turned ? count - 1 - i : i] = seen_of(&sights[i], (long)i + 1, "dye");
    }
    hw_shelf shelf = {.dye = &dye, .count = 1, .seen = seen, .seen_count = count};
    if (check_true(hw_tone_learn(&shelf, "here", wood, &known, NULL) == HW_OK)) {
        out.strength = along(known.dye[0].density);
        for (int k = 0; k < JARS; k++) {
            const hw_known_jar *jar = hw_known_find_jar(&known, keys[k]);
            out.jar[k] = jar ? jar->factor : (double)NAN;
        }
    }
    hw_known_free(&known);
    return out;
}

// Jar 1 mixed twice as strong, jar 2 as it says: the jar learns it, the dye hardly does. Without jars the same passes
// would call the dye well over a quarter stronger.
static void test_slip(void)
{
    sight sights[6] = {{true, 2, 1, 1.0, 0.2}, {true, 2, 2, 1.0, 0.2}, {true, 2, 1, 1.0, 0.2},
                       {true, 1, 1, 2.0, 0.2}, {true, 1, 2, 2.0, 0.2}, {true, 1, 1, 2.0, 0.2}};
    outcome got = learn(sights, 6, false), again = learn(sights, 6, true);
    for (int i = 0; i < 6; i++) {
        sights[i].jar = 0;
    }
    outcome without = learn(sights, 6, false);
    printf("twice as strong: dye %.3f, jar 1 %.3f, jar 2 %.3f; without jars the dye %.3f\n",
           got.strength, got.jar[0], got.jar[1], without.strength);
    check_close(got.strength, 1.0, 0.10);
    check_close(got.jar[0] * got.strength, 2.0, 0.15);
    check_close(got.jar[1] * got.strength, 1.0, 0.08);
    check_true(without.strength > 1.27);
    check_close(again.strength, got.strength, 1e-9);
    check_close(again.jar[0], got.jar[0], 1e-9);
}

// One jar alone cannot be told from its dye: both take their share, as sure as each was before. By hand: ln 1.2 = 0.182
// is shared as the variances are, 0.0025 + 0.04 + 0.01 of dye, boards and day to the jar's, which in the middle of
// Student's distribution is 0.01 (nu - 2) / (nu + 1) = 0.004. So the jar gets 0.0129.
static void test_alone(void)
{
    sight sights[6];
    for (int i = 0; i < 6; i++) {
        sights[i] = (sight){true, 1, 2, 1.2, 0.05};
    }
    outcome got = learn(sights, 6, false);
    printf("one jar alone: dye %.3f, jar %.3f\n", got.strength, got.jar[0]);
    check_close(log(got.jar[0]), 0.0129, 0.002);
    check_close(log(got.jar[0]) + log(got.strength), log(1.2), 0.02);
}

// Jars by the hundred, of other jobs: the latest are told apart, all else is as sure as may be.
static void test_many(void)
{
    enum { MANY = 200 };
    hw_observation *seen = calloc(MANY, sizeof *seen);
    hw_dye dye = board_dye("dye");
    hw_known known = {0};
    for (int i = 0; i < MANY; i++) {
        sight s = {false, 1, 1, 1.0 + 0.001 * (i % 7), 0.2};
        seen[i] = seen_of(&s, i + 1, "dye");
        snprintf(seen[i].job, sizeof seen[i].job, "job %d", i);
        snprintf(seen[i].laid[0].jar, sizeof seen[i].laid[0].jar, "job %d/1", i);
    }
    hw_shelf shelf = {.dye = &dye, .count = 1, .seen = seen, .seen_count = MANY};
    if (check_true(hw_tone_learn(&shelf, "here", wood, &known, NULL) == HW_OK)) {
        check_true(known.jar_count == 64 && hw_known_find_jar(&known, "job 199/1") &&
                   !hw_known_find_jar(&known, "job 100/1"));
        check_true(isfinite(known.dye[0].density[0]) && known.dye[0].u_strength < 0.15);
    }
    hw_known_free(&known);
    free(seen);
}

// Two dyes of one jar that nothing was seen of: its doubt is one and the same for both. Densities of both are d, each
// of amount 1 without scatter: the variance along d that the jar adds is (2 d)^2 0.01.
static void test_unseen(void)
{
    hw_dye dyes[2] = {board_dye("one"), board_dye("other")};
    hw_shelf shelf = {.dye = dyes, .count = 2};
    hw_known known = {0};
    hw_laid laid[2] = {{.dye = "one", .amount = 1.0}, {.dye = "other", .amount = 1.0}};
    hw_covariance bare, jarred;
    double density[3];
    check_true(hw_tone_learn(&shelf, "here", wood, &known, NULL) == HW_OK);
    hw_tone_expect(&known, laid, 2, density, &bare);
    snprintf(laid[0].jar, sizeof laid[0].jar, "here/9");
    snprintf(laid[1].jar, sizeof laid[1].jar, "here/9");
    hw_tone_expect(&known, laid, 2, density, &jarred);
    for (int r = 0; r < 3; r++) {
        check_close(jarred.m[r][r] - bare.m[r][r], 4.0 * board[r] * board[r] * 0.01, 1e-9);
    }
    snprintf(laid[1].jar, sizeof laid[1].jar, "here/8"); // two jars: two doubts
    hw_tone_expect(&known, laid, 2, density, &jarred);
    for (int r = 0; r < 3; r++) {
        check_close(jarred.m[r][r] - bare.m[r][r], 2.0 * board[r] * board[r] * 0.01, 1e-9);
    }
    hw_known_free(&known);
}

// One dye has one exponent: six passes are as doubtful laid in one go as in two of three, out of jars that are not told
// apart.
static void test_one_exponent(void)
{
    hw_dye dye = board_dye("one");
    hw_shelf shelf = {.dye = &dye, .count = 1};
    hw_known known = {0};
    hw_laid whole = {.dye = "one", .amount = 6.0},
            half[2] = {{.dye = "one", .amount = 3.0}, {.dye = "one", .before = 3.0, .amount = 3.0}};
    hw_covariance at_once, in_two;
    double one[3], other[3];
    check_true(hw_tone_learn(&shelf, "here", wood, &known, NULL) == HW_OK);
    known.dye[0].u_exponent = 0.15;
    hw_tone_expect(&known, &whole, 1, one, &at_once);
    hw_tone_expect(&known, half, 2, other, &in_two);
    for (int r = 0; r < 3; r++) {
        check_close(other[r], one[r], 1e-12);
        for (int c = 0; c < 3; c++) {
            check_close(in_two.m[r][c], at_once.m[r][c], 1e-12);
        }
    }
    hw_known_free(&known);
}

// ---- Advice out of a jar -----------------------------------------------------------

// The forecast of what is advised is that of the jar it comes out of, and a strong jar gets no more passes than an
// honest one.
static void test_advice(void)
{
    sight sights[6] = {{true, 2, 1, 1.0, 0.2}, {true, 2, 2, 1.0, 0.2}, {true, 2, 1, 1.0, 0.2},
                       {true, 1, 1, 1.8, 0.2}, {true, 1, 2, 1.8, 0.2}, {true, 1, 1, 1.8, 0.2}};
    hw_observation seen[6];
    hw_shelf shelf = shelf_of_boards(0.05);
    hw_known known = {0};
    for (size_t i = 0; i < 6; i++) {
        seen[i] = seen_of(&sights[i], (long)i + 1, "brown");
        for (int band = 0; band < 3; band++) {
            const hw_dye *dye = hw_shelf_find(&shelf, "brown");
            seen[i].density[band] = sights[i].strength * sights[i].passes * dye->density[band];
        }
    }
    shelf.seen = seen;
    shelf.seen_count = 6;
    if (!check_true(hw_tone_learn(&shelf, "here", wood, &known, NULL) == HW_OK)) {
        return;
    }
    const hw_dye *brown = hw_shelf_find(&shelf, "brown"); // the gap is three passes of it
    double three[3] = {3 * brown->density[0], 3 * brown->density[1], 3 * brown->density[2]};
    hw_comparison gap = {.patch = "new",
                         .patch_lab = wood,
                         .target_lab = hw_tone_under(wood, three),
                         .covariance = hw_covariance_diagonal(0.09, 0.09, 0.09),
                         .verdict = HW_VERDICT_TONE};
    gap.gap = hw_difference_of(gap.target_lab, gap.patch_lab);
    gap.low = (hw_difference){.L = gap.gap.L - 0.5, .a = gap.gap.a - 0.5, .b = gap.gap.b - 0.5};
    gap.high = (hw_difference){.L = gap.gap.L + 0.5, .a = gap.gap.a + 0.5, .b = gap.gap.b + 0.5};
    gap.direction_count = hw_directions_of(&gap.gap, gap.direction);
    hw_tone_request request = {.gap = &gap, .known = &known};
    hw_advice plain = {0}, strong = {0}, honest = {0};
    check_true(hw_tone_advise(&request, &plain, NULL) == HW_OK && plain.has_next);
    hw_mixed_jar jars[2] = {{.liquid = plain.next.liquid}, {.liquid = plain.next.liquid}};
    snprintf(jars[0].key, sizeof jars[0].key, "here/1");
    snprintf(jars[1].key, sizeof jars[1].key, "here/2");
    request.jars = &jars[0];
    request.jar_count = 1;
    check_true(hw_tone_advise(&request, &strong, NULL) == HW_OK);
    request.jars = &jars[1];
    check_true(hw_tone_advise(&request, &honest, NULL) == HW_OK && honest.has_next);
    printf("advice: %d passes of %s, out of an honest jar %d, out of a strong one %d of %s\n",
           plain.next.passes, plain.next.liquid.dose[0].dye, honest.next.passes, strong.next.passes,
           strong.next.liquid.dose[0].dye);
    check_true(strong.next_risk <= 0.005 && honest.next_risk <= 0.005);
    const hw_advice *told[2] = {&strong, &honest};
    for (int i = 0; i < 2; i++) {
        const hw_layer *next = &told[i]->next;
        hw_laid laid[HW_LIQUID_DYES_MAX];
        double density[3];
        hw_covariance doubt;
        bool is_jar = next->liquid.count == jars[i].liquid.count &&
                      strcmp(next->liquid.dose[0].dye, jars[i].liquid.dose[0].dye) == 0 &&
                      next->liquid.dose[0].strength == jars[i].liquid.dose[0].strength &&
                      next->liquid.dose[1].strength == jars[i].liquid.dose[1].strength;
        for (size_t k = 0; k < next->liquid.count; k++) {
            laid[k] = (hw_laid){.before = 0.0};
            snprintf(laid[k].dye, sizeof laid[k].dye, "%s", next->liquid.dose[k].dye);
            laid[k].amount = next->passes * next->liquid.dose[k].strength;
            if (is_jar) {
                memcpy(laid[k].jar, jars[i].key, sizeof laid[k].jar);
            }
        }
        hw_tone_expect(&known, laid, next->liquid.count, density, &doubt);
        hw_lab expected = hw_tone_under(gap.patch_lab, density);
        check_close(told[i]->after_next.lab.L, expected.L, 1e-6);
    }
    shelf.seen = NULL;
    shelf.seen_count = 0;
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

// A liquid that is still to be mixed will come out of a jar too: what a plan says of it is what the same plan says once
// that jar has its number and nothing was seen of it, and no jar is preferred for being none yet.
static void test_to_be_mixed(void)
{
    hw_shelf shelf = shelf_of_boards(0.05);
    hw_known known = {0};
    check_true(hw_tone_learn(&shelf, "here", wood, &known, NULL) == HW_OK);
    hw_mixed_jar jars[2] = {{"here/1", {{{"brown", 0.5}, {"red", 0.25}}, 2}},
                            {"here/2", {{{"brown", 1.0}}, 1}}};
    hw_coat_of_dye both, deep;
    hw_comparison gap = {.patch_lab = wood, .target_lab = {48.0, 13.0, 24.0}};
    hw_tone_request bare = {.gap = &gap, .known = &known};
    hw_tone_request jarred = {.gap = &gap, .known = &known, .jars = jars, .jar_count = 2};
    hw_tone_task none = {0}, logged = {0};
    check_true(hw_tone_task_of(&bare, &none, NULL) == HW_OK &&
               hw_tone_task_of(&jarred, &logged, NULL) == HW_OK);
    check_true(hw_tone_coat_of(&known, &jars[0].liquid, &both) &&
               hw_tone_coat_of(&known, &jars[1].liquid, &deep));
    both.passes = deep.passes = 2;
    const hw_plan plans[] = {{.coat = {deep}, .count = 1},
                             {.coat = {both}, .count = 1},
                             {.coat = {both, deep}, .count = 2},
                             {.coat = {deep, both, deep}, .count = 3}};
    for (size_t i = 0; i < sizeof plans / sizeof *plans; i++) {
        hw_outcome mixed = hw_tone_outcome(&logged, &plans[i], 1.0);
        hw_outcome fresh = hw_tone_outcome(&none, &plans[i], 1.0);
        check_close(fresh.scale_u, mixed.scale_u, 1e-12);
        check_close(hw_tone_overshoot(&none, &fresh), hw_tone_overshoot(&logged, &mixed), 1e-12);
        for (int r = 0; r < 3; r++) {
            check_close(fresh.density[r], mixed.density[r], 1e-12);
            check_close(fresh.rest.m[r][r], mixed.rest.m[r][r], 1e-12);
        }
    }
    // As what is laid out of such a jar is doubted: two passes of brown.
    hw_laid laid = {.dye = "brown", .amount = 2.0, .squares = 2.0, .jar = "here/9"};
    hw_covariance doubt;
    double density[3];
    hw_outcome fresh = hw_tone_outcome(&none, &plans[0], 1.0);
    hw_tone_expect(&known, &laid, 1, density, &doubt);
    for (int r = 0; r < 3; r++) {
        double scaled = fresh.scale_u * fresh.density[r];
        check_close(fresh.rest.m[r][r] + scaled * scaled, doubt.m[r][r], 1e-9);
    }
    hw_tone_task_free(&none);
    hw_tone_task_free(&logged);
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

int main(void)
{
    test_sampling();
    test_slip();
    test_alone();
    test_many();
    test_unseen();
    test_one_exponent();
    test_advice();
    test_to_be_mixed();
    return check_done();
}
