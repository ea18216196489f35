// Advice: on which side of the target it stays, how much it risks, and when it says stop.
#include "check.h"
#include "picture.h"
#include "base_internal.h"
#include "tone_internal.h"

static hw_comparison gap_of(hw_lab patch, hw_lab target)
{
    hw_comparison gap = {.patch = "strip",
                         .target = HW_BESIDE,
                         .patch_lab = patch,
                         .target_lab = target,
                         .gap = hw_difference_of(target, patch),
                         .verdict = HW_VERDICT_TONE};
    gap.covariance = hw_covariance_diagonal(0.09, 0.09, 0.09);
    gap.direction_count = hw_directions_of(&gap.gap, gap.direction);
    snprintf(gap.why, sizeof gap.why, "because");
    return gap;
}

static hw_advice advise(const hw_comparison *gap, const hw_shelf *shelf)
{
    hw_advice advice = {0};
    check_true(hw_tone_advise(gap, shelf, NULL, 0, NULL, &advice, NULL) == HW_OK);
    return advice;
}

static hw_shelf guesses(void)
{
    hw_shelf shelf = {0};
    check_true(hw_shelf_guesses(&shelf, NULL) == HW_OK);
    return shelf;
}

// What holds for every plan: never lighter (physics), never darker than the old wood nor past its
// hue in the mean (what this program promises), whole passes, strengths of the ladder, at most two
// families and six passes.
static void test_promises(void)
{
    hw_shelf shelf = guesses();
    uint64_t seed = 4;
    int plans = 0;
    for (int i = 0; i < 120; i++) {
        hw_lab target = {30 + 35 * picture_random(&seed), 5 + 12 * picture_random(&seed),
                         10 + 20 * picture_random(&seed)};
        hw_lab patch = {target.L + 8 * picture_random(&seed) - 1,
                        target.a + 6 * picture_random(&seed) - 3,
                        target.b + 8 * picture_random(&seed) - 4};
        hw_comparison gap = gap_of(patch, target);
        hw_advice advice = advise(&gap, &shelf);
        check_true(advice.stop != advice.has_next);
        for (size_t o = 0; o < advice.option_count; o++, plans++) {
            const hw_option *option = &advice.option[o];
            const hw_after *end = &option->after[option->after_count - 1];
            int passes = 0;
            check_true(option->layer_count >= 1 && option->layer_count <= 2);
            for (size_t k = 0; k < option->layer_count; k++) {
                double rungs = 1.0 / option->layer[k].liquid.dose[0].strength;
                check_true(rungs == 1.0 || rungs == 2.0 || rungs == 4.0 || rungs == 8.0);
                passes += option->layer[k].passes;
            }
            check_true(passes >= 1 && passes <= 6 && (int)option->after_count == passes + 1);
            for (size_t n = 1; n < option->after_count; n++) {
                check_true(option->after[n].lab.L <= option->after[n - 1].lab.L + 1e-9);
            }
            check_true(end->lab.L >= target.L - 1e-9);
            double before[2] = {patch.a - target.a, patch.b - target.b};
            double after[2] = {end->lab.a - target.a, end->lab.b - target.b};
            for (int k = 0; k < 2; k++) {
                check_true(before[k] > 0 ? after[k] >= -0.5 - 1e-9 : after[k] <= 0.5 + 1e-9);
            }
            check_true(end->de00 < option->after[0].de00);
            check_true(option->guess && option->mix[0]);
            check_true(o == 0 || option->loss >= advice.option[o - 1].loss);
        }
        if (advice.has_next) {
            hw_tone_rules rules = hw_tone_rules_default();
            hw_tone_task task = hw_tone_task_of(&gap, &rules);
            hw_dye_use use = {hw_shelf_find(&shelf, advice.next.liquid.dose[0].dye),
                              advice.next.passes, advice.next.liquid.dose[0].strength};
            check_true(hw_tone_overshoot(&task, &use, 1) <= 0.005);
            // While a dye is a guess never over half of what is computed, at least one.
            int planned = advice.option[0].layer[0].passes;
            check_true(advice.next.passes == 1 || advice.next.passes <= planned / 2);
        }
    }
    printf("%d plans looked at\n", plans);
    check_true(plans > 100);
    hw_shelf_free(&shelf);
}

// The chance of overshoot against 40,000 draws of strengths and readings (Monte Carlo with the
// test's own numbers).
static void test_risk(void)
{
    hw_shelf shelf = guesses();
    hw_tone_rules rules = hw_tone_rules_default();
    hw_comparison gap = gap_of((hw_lab){53.5, 12, 25}, (hw_lab){50, 12, 25});
    hw_tone_task task = hw_tone_task_of(&gap, &rules);
    hw_dye_use use = {hw_shelf_find(&shelf, "black"), 3, 1.0};
    double stated = hw_tone_overshoot(&task, &use, 1);
    uint64_t seed = 8;
    int over = 0, draws = 40000;
    for (int i = 0; i < draws; i++) {
        double strength = exp(use.dye->u_strength * picture_normal(&seed) +
                              rules.u_session * picture_normal(&seed));
        double laid = 0.0, density[3];
        for (int pass = 0; pass < use.passes; pass++) {
            laid += strength * (1.0 + rules.u_pass * picture_normal(&seed));
        }
        for (int band = 0; band < 3; band++) {
            density[band] = laid * use.dye->density[band];
        }
        hw_lab start = gap.patch_lab;
        start.L += 0.3 * picture_normal(&seed);
        over += hw_tone_under(start, density).L < gap.target_lab.L - rules.too_dark;
    }
    printf("chance of overshoot: stated %.4f, drawn %.4f\n", stated, (double)over / draws);
    check_close(stated, (double)over / draws, 0.03);
    hw_shelf_free(&shelf);
}

static bool uses(const hw_advice *advice, const char *dye)
{
    for (size_t o = 0; o < advice->option_count; o++) {
        for (size_t k = 0; k < advice->option[o].layer_count; k++) {
            if (strcmp(advice->option[o].layer[k].liquid.dose[0].dye, dye) == 0) {
                return true;
            }
        }
    }
    return false;
}

// Rules of the trade as a finisher would check them: common practice, no source.
static void test_trade(void)
{
    hw_shelf shelf = guesses();
    hw_comparison gap = gap_of((hw_lab){56, 8, 26}, (hw_lab){50, 12, 25}); // pale and greenish
    hw_advice advice = advise(&gap, &shelf);
    check_true(advice.has_next && (uses(&advice, "red") || uses(&advice, "red-brown")));
    gap = gap_of((hw_lab){53, 16, 25}, (hw_lab){50, 12, 24}); // too red
    advice = advise(&gap, &shelf);
    check_true(advice.has_next && (uses(&advice, "green") || uses(&advice, "blue")));
    check_true(!uses(&advice, "red"));
    gap = gap_of((hw_lab){54, 11, 19}, (hw_lab){50, 12, 25}); // cold
    advice = advise(&gap, &shelf);
    check_true(advice.has_next && (uses(&advice, "amber") || uses(&advice, "orange")));
    check_text(advice.other_ways, "");
    gap = gap_of((hw_lab){57, 13.3, 27.7}, (hw_lab){50, 12, 25}); // depth only, and far off
    advice = advise(&gap, &shelf);
    check_holds(advice.other_ways, "base colour");
    check_true(advice.has_next && (uses(&advice, "black") || uses(&advice, "brown")));
    hw_shelf_free(&shelf);
}

// Nothing at all where no dye can help, with what else there is.
static void test_stops(void)
{
    hw_shelf shelf = guesses();
    hw_comparison gap = gap_of((hw_lab){46, 12, 24}, (hw_lab){50, 12, 25});
    hw_advice advice = advise(&gap, &shelf); // even if a verdict said tone
    check_true(advice.stop && !advice.has_next && advice.option_count == 0);
    check_holds(advice.why, "no dye helps");
    gap.verdict = HW_VERDICT_TOO_DARK;
    advice = advise(&gap, &shelf);
    check_true(advice.stop && advice.option_count == 0);
    check_holds(advice.other_ways, "barrier coat");
    check_holds(advice.other_ways, "pigment toner");
    check_holds(advice.other_ways, "neighbours");
    check_true(!strstr(advice.other_ways, "base colour"));
    gap = gap_of((hw_lab){38, 12, 24}, (hw_lab){50, 12, 25});
    gap.verdict = HW_VERDICT_TOO_DARK;
    advice = advise(&gap, &shelf);
    check_holds(advice.other_ways, "base colour");
    gap.verdict = HW_VERDICT_LEAVE;
    advice = advise(&gap, &shelf);
    check_true(advice.stop && advice.verdict == HW_VERDICT_LEAVE);
    gap.verdict = HW_VERDICT_UNSURE;
    advice = advise(&gap, &shelf);
    check_true(advice.stop);
    check_holds(advice.why, "Lay nothing");
    gap = gap_of((hw_lab){55, 9, 25}, (hw_lab){50, 12, 25}); // six passes lie there: film build
    hw_layer so_far = {.passes = 6};
    check_true(hw_tone_advise(&gap, &shelf, &so_far, 1, NULL, &advice, NULL) == HW_OK);
    check_true(advice.stop && advice.passes_so_far == 6);
    check_holds(advice.why, "film");
    hw_error err = {0};
    hw_shelf empty = {0};
    check_true(hw_tone_advise(&gap, &empty, NULL, 0, NULL, &advice, &err) == HW_ERR_CALL);
    check_text(err.code, "shelf-empty");
    hw_shelf_free(&shelf);
}

// A dye that is known may be laid further before the next look than a guess.
static void test_known_dye(void)
{
    hw_shelf shelf = guesses();
    hw_comparison gap = gap_of((hw_lab){60, 14, 29}, (hw_lab){50, 12, 25});
    hw_advice guess = advise(&gap, &shelf);
    for (size_t i = 0; i < shelf.count; i++) {
        shelf.dye[i].guess = false;
        shelf.dye[i].u_strength = 0.08;
    }
    hw_advice known = advise(&gap, &shelf);
    check_true(known.has_next && guess.has_next && !known.option[0].guess);
    check_true(known.next.passes > guess.next.passes);
    hw_shelf_free(&shelf);
}

// Memory that runs out is told; the shelf is the only thing here that needs any.
static void test_memory(void)
{
    hw_shelf shelf = {0};
    hw_error err = {0};
    hw_test_fail_alloc(0);
    check_true(hw_shelf_guesses(&shelf, &err) == HW_ERR_STORAGE);
    check_text(err.code, "memory-out");
    hw_test_fail_alloc(-1);
}

// Cautions: each is there, none promises that a thing is harmless.
static void test_cautions(void)
{
    size_t count;
    const char *const *list = hw_cautions(&count);
    check_true(count >= 6);
    for (size_t i = 0; i < count; i++) {
        check_true(strlen(list[i]) > 40 && !strstr(list[i], " safe "));
    }
    check_holds(hw_caution_lead(), "safety data sheet");
    check_holds(hw_caution_lead(), "local fire and building code");
    check_true(strchr(hw_caution_one_line(), '\n') == NULL);
}

int main(void)
{
    test_promises();
    test_risk();
    test_trade();
    test_stops();
    test_known_dye();
    test_memory();
    test_cautions();
    return check_done();
}
