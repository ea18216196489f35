// Learning: what holds whatever the numbers, and the estimate against dyes of known strength.
#include "picture.h"
#include "base_internal.h"
#include "known.h"
#include "tone_internal.h"

static const hw_lab wood = {52.0, 11.0, 24.0};

// `passes` of a dye at `strength` that really is `factor` times the shelf's density.
static hw_observation seen_of(const hw_dye *dye, double factor, double before, double strength,
                              int passes, long event, double u)
{
    hw_observation seen = {.event = event,
                           .photo_before = 10 * event,
                           .photo_after = 10 * event + 10,
                           .wood = wood,
                           .laid_count = 1};
    snprintf(seen.job, sizeof seen.job, "here");
    snprintf(seen.patch, sizeof seen.patch, "strip");
    seen.laid[0] = (hw_laid){
        .before = before, .amount = passes * strength, .squares = passes * strength * strength};
    snprintf(seen.laid[0].dye, HW_NAME_SIZE, "%s", dye->name);
    for (int band = 0; band < 3; band++) {
        seen.density[band] = factor * passes * strength * dye->density[band];
    }
    seen.covariance = hw_covariance_diagonal(u * u, u * u, u * u);
    return seen;
}

static hw_known learn(const hw_shelf *shelf, const char *job)
{
    hw_known known = {0};
    check_true(hw_tone_learn(shelf, job, wood, &known, NULL) == HW_OK);
    return known;
}

static void take(hw_shelf *shelf, hw_observation *seen)
{
    hw_shelf shown = {.seen = seen, .seen_count = 1};
    check_true(hw_shelf_take_seen(shelf, &shown, NULL, NULL) == HW_OK);
}

static double strength(const hw_known *known, const hw_shelf *shelf, size_t dye)
{
    const double *d = known->dye[dye].density, *was = shelf->dye[dye].density;
    return (d[0] + d[1] + d[2]) / (was[0] + was[1] + was[2]);
}

// Passes twice as strong as the guess: learned, in time; and since a shop that lays red twice as strong
// probably lays brown so too, some of it for brown.
static void test_strength(void)
{
    hw_shelf shelf = {0};
    check_true(hw_shelf_guesses(&shelf, NULL) == HW_OK);
    hw_known known = learn(&shelf, "here");
    check_true(known.dye[HW_FAMILY_RED].guess && known.dye[HW_FAMILY_RED].times_seen == 0);
    double doubt = known.dye[HW_FAMILY_RED].u_strength;
    hw_known_free(&known);
    for (long n = 1; n <= 3; n++) {
        hw_observation seen =
            seen_of(&shelf.dye[HW_FAMILY_RED], 2.0, (double)n - 1.0, 1.0, 1, n, 0.008);
        take(&shelf, &seen);
        known = learn(&shelf, "here");
        double red = strength(&known, &shelf, HW_FAMILY_RED);
        double brown = strength(&known, &shelf, HW_FAMILY_BROWN);
        printf("after %ld: red %.2f (s.d. of ln %.2f), brown %.2f (%.2f)\n", n, red,
               known.dye[HW_FAMILY_RED].u_strength, brown, known.dye[HW_FAMILY_BROWN].u_strength);
        check_true(red > (n == 1 ? 1.6 : 1.8) && red < 2.1);
        check_true(brown > 1.2 && brown < red);
        check_true(known.dye[HW_FAMILY_RED].u_strength < doubt);
        doubt = known.dye[HW_FAMILY_RED].u_strength;
        check_true(!known.dye[HW_FAMILY_RED].guess && known.dye[HW_FAMILY_BROWN].guess);
        hw_known_free(&known);
    }
    hw_shelf_free(&shelf);
}

// Reading the same job twice changes nothing; order does not matter; what is questioned is not learned.
static void test_no_order(void)
{
    hw_shelf one = {0}, other = {0};
    check_true(hw_shelf_guesses(&one, NULL) == HW_OK && hw_shelf_guesses(&other, NULL) == HW_OK);
    hw_observation seen[4];
    for (int i = 0; i < 4; i++) {
        seen[i] = seen_of(&one.dye[i % 2 ? HW_FAMILY_AMBER : HW_FAMILY_BLACK], 0.6 + 0.1 * i, 0.0,
                          0.5, 2, i + 1, 0.01);
        snprintf(seen[i].job, sizeof seen[i].job, "job %d", i / 2);
    }
    bool changed = false;
    hw_shelf shown = {.seen = seen, .seen_count = 4};
    check_true(hw_shelf_take_seen(&one, &shown, &changed, NULL) == HW_OK && changed);
    for (int i = 3; i >= 0; i--) {
        take(&other, &seen[i]);
    }
    check_true(hw_shelf_take_seen(&one, &shown, &changed, NULL) == HW_OK && !changed);
    check_true(one.seen_count == 4 && other.seen_count == 4);
    hw_observation wild = seen_of(&one.dye[HW_FAMILY_BLACK], 9.0, 0.0, 1.0, 1, 77, 0.01);
    wild.questioned = true;
    take(&other, &wild);
    hw_known first = learn(&one, "job 1"), second = learn(&other, "job 1");
    for (size_t i = 0; i < first.count; i++) {
        for (int band = 0; band < 3; band++) {
            check_close(first.dye[i].density[band], second.dye[i].density[band], 1e-9);
        }
        check_close(first.dye[i].u_strength, second.dye[i].u_strength, 1e-9);
    }
    hw_known_free(&first);
    hw_known_free(&second);
    hw_shelf_free(&one);
    hw_shelf_free(&other);
}

// One pass far off the others, not questioned, moves the estimate less than it would under least
// squares (Lange, Little and Taylor 1989: weights from Student's t).
static void test_outlier(void)
{
    hw_shelf shelf = shelf_of_boards(0.2);
    const hw_dye *red = &shelf.dye[HW_FAMILY_RED];
    for (long n = 1; n <= 4; n++) {
        hw_observation seen = seen_of(red, 1.0, 0.0, 1.0, 1, n, 0.005);
        snprintf(seen.patch, sizeof seen.patch, "strip %ld", n);
        take(&shelf, &seen);
    }
    hw_observation wild = seen_of(red, 2.2, 0.0, 1.0, 1, 9, 0.005);
    take(&shelf, &wild);
    hw_known known = learn(&shelf, "here");
    double learned = strength(&known, &shelf, HW_FAMILY_RED);
    printf("four passes of 1.0 and one of 2.2: %.3f (mean 1.24)\n", learned);
    check_true(learned > 0.95 && learned < 1.12);
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

// Two dyes laid between two photos share what was seen by what is known of each: the surer one moves
// less.
static void test_two_dyes(void)
{
    hw_shelf shelf = shelf_of_boards(0.05);
    hw_dye *red = &shelf.dye[HW_FAMILY_RED], *brown = &shelf.dye[HW_FAMILY_BROWN];
    brown->covariance = hw_covariance_times(&brown->covariance, 16.0);
    hw_observation seen = seen_of(red, 1.0, 0.0, 1.0, 1, 1, 0.004);
    hw_observation more = seen_of(brown, 1.6, 0.0, 1.0, 1, 1, 0.004);
    seen.laid[seen.laid_count++] = more.laid[0];
    for (int band = 0; band < 3; band++) {
        seen.density[band] += more.density[band];
    }
    take(&shelf, &seen);
    hw_known known = learn(&shelf, "here");
    check_true(strength(&known, &shelf, HW_FAMILY_BROWN) >
               strength(&known, &shelf, HW_FAMILY_RED) + 0.05);
    check_true(known.dye[HW_FAMILY_RED].times_seen == 1 &&
               known.dye[HW_FAMILY_BROWN].times_seen == 1);
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

// A board on wood more than 12 L* away counts as a guess (chosen).
static void test_unlike_board(void)
{
    hw_shelf shelf = shelf_of_boards(0.05);
    hw_dye *red = &shelf.dye[HW_FAMILY_RED], *brown = &shelf.dye[HW_FAMILY_BROWN];
    red->has_wood = brown->has_wood = true;
    red->wood = (hw_lab){wood.L + 12.5, 8, 20};
    brown->wood = (hw_lab){wood.L + 11.5, 8, 20};
    hw_known known = learn(&shelf, "");
    check_true(known.dye[HW_FAMILY_RED].guess && !known.dye[HW_FAMILY_BROWN].guess);
    check_true(known.dye[HW_FAMILY_RED].u_strength > known.dye[HW_FAMILY_BROWN].u_strength + 0.1);
    check_true(known.dye[HW_FAMILY_RED].unlike > 12.0 && known.dye[HW_FAMILY_BROWN].unlike == 0.0);
    hw_known_free(&known);
    // The less alike the woods, the less sure; most of all for a dye that goes into the wood.
    for (int deep = 0; deep < 2; deep++) {
        double before = 0.0;
        red->exponent = deep ? 0.85 : 1.0;
        for (double apart = 0.0; apart < 30.0; apart += 3.0) {
            red->wood.L = wood.L + apart;
            known = learn(&shelf, "");
            double now = known.dye[HW_FAMILY_RED].u_strength;
            check_true(now > before);
            before = now;
            hw_known_free(&known);
        }
        check_true(before <
                   0.9); // it levels off: in a straight line the second would be over 1 (chosen)
    }
    // On its own wood it is as sure as its board.
    check_true(hw_tone_learn_own(&shelf, &known, NULL) == HW_OK);
    check_true(!known.dye[HW_FAMILY_RED].guess);
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

// Later passes that do less: the exponent falls, and the forecast of the next with it.
static void test_exponent(void)
{
    hw_shelf shelf = shelf_of_boards(0.10);
    hw_dye *black = &shelf.dye[HW_FAMILY_BLACK];
    const double g = 0.8;
    for (int n = 0; n < 5; n++) {
        hw_observation seen = seen_of(black, pow(n + 1, g) - pow(n, g), n, 1.0, 1, n + 1, 0.003);
        take(&shelf, &seen);
    }
    hw_known known = learn(&shelf, "here");
    printf("exponent 0.80 learned as %.2f ± %.2f\n", known.dye[HW_FAMILY_BLACK].exponent,
           known.dye[HW_FAMILY_BLACK].u_exponent);
    check_true(known.dye[HW_FAMILY_BLACK].exponent < 0.93);
    hw_laid next = {.before = 5, .amount = 1, .squares = 1};
    snprintf(next.dye, sizeof next.dye, "black");
    double density[3];
    hw_covariance doubt;
    hw_tone_expect(&known, &next, 1, density, &doubt);
    double truth = (pow(6, g) - pow(5, g)) * black->density[1];
    check_true(fabs(density[1] - truth) < fabs(black->density[1] - truth) / 2.0);
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

// What lies how far off: exact agreement, half strength under doubt, and nothing where much was due.
static void test_far_off(void)
{
    const double expected[3] = {0.06, 0.08, 0.10}, half[3] = {0.03, 0.04, 0.05},
                 lighter[3] = {-0.03, -0.04, -0.05};
    hw_covariance doubt = {{{0}}}, reading = hw_covariance_diagonal(1e-4, 1e-4, 1e-4);
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            doubt.m[r][c] = 0.15 * 0.15 * expected[r] * expected[c];
        }
    }
    double same = hw_tone_far_off(expected, &doubt, expected, &reading);
    double less = hw_tone_far_off(expected, &doubt, half, &reading);
    double back = hw_tone_far_off(expected, &doubt, lighter, &reading);
    printf("deviates: as expected %.1f, half %.1f, lighter %.1f\n", same, less, back);
    check_true(same < 0.0 && less > same && back > less && back > 3.3);
    const double nothing[3] = {0, 0, 0};
    hw_covariance none = {{{0}}};
    check_true(isinf(hw_tone_far_off(nothing, &none, nothing, &none)));
    hw_covariance wide = hw_covariance_times(&reading, 25.0);
    check_true(hw_tone_far_off(expected, &doubt, half, &wide) < 1.0);
}

// Memory that runs out at any place is told and leaves nothing behind.
static void test_memory(void)
{
    hw_shelf shelf = shelf_of_boards(0.1);
    hw_observation seen = seen_of(&shelf.dye[0], 1.3, 0.0, 1.0, 1, 1, 0.01);
    take(&shelf, &seen);
    bool failed = true;
    for (long after = 0; failed && after < 50; after++) {
        hw_known known = {0};
        hw_error err = {0};
        hw_test_fail_alloc(after);
        failed = hw_tone_learn(&shelf, "here", wood, &known, &err) != HW_OK;
        hw_test_fail_alloc(-1);
        check_true(!failed || strcmp(err.code, "memory-out") == 0);
        hw_known_free(&known);
    }
    check_true(!failed);
    hw_shelf_free(&shelf);
}

int main(void)
{
    test_strength();
    test_no_order();
    test_outlier();
    test_two_dyes();
    test_unlike_board();
    test_exponent();
    test_far_off();
    test_memory();
    return check_done();
}
