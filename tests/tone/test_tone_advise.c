// Advice: on which side of the target it stays, how much it risks, and when it says stop.
#include "picture.h"
#include "base_internal.h"
#include "known.h"
#include "tone_internal.h"

static hw_advice advise_with(const hw_tone_request *request)
{
    hw_advice advice = {0};
    check_true(hw_tone_advise(request, &advice, NULL) == HW_OK);
    return advice;
}

static hw_advice advise(const hw_comparison *gap, const hw_known *known)
{
    hw_tone_request request = {.gap = gap, .known = known};
    return advise_with(&request);
}

static bool on_ladder(double strength)
{
    double rungs = 1.0 / strength;
    return rungs == 1.0 || rungs == 2.0 || rungs == 4.0 || rungs == 8.0;
}

// Whole passes, strengths of the ladder, at most `families` families and six passes; what is poured
// into one liquid fits into it.
static int check_option(const hw_option *option, const hw_known *known, int families)
{
    int passes = 0;
    unsigned set = 0;
    check_true(option->layer_count >= 1 && option->layer_count <= HW_LAYERS_MAX);
    for (size_t k = 0; k < option->layer_count; k++) {
        const hw_liquid *liquid = &option->layer[k].liquid;
        double sum = 0.0;
        for (size_t d = 0; d < liquid->count; d++) {
            check_true(on_ladder(liquid->dose[d].strength));
            sum += liquid->dose[d].strength;
            const hw_known_dye *dye = hw_known_find(known, liquid->dose[d].dye);
            if (check_true(dye != NULL)) {
                set |= 1u << dye->family;
            }
        }
        check_true(liquid->count == 1 || sum <= 1.0);
        passes += option->layer[k].passes;
    }
    check_true(__builtin_popcount(set) <= families);
    check_true(passes >= 1 && passes <= 6 && (int)option->after_count == passes + 1);
    return passes;
}

// While a dye is a guess never over half of the passes computed of its liquid, at least one.
static void check_half(const hw_advice *advice)
{
    const hw_option *plan = &advice->option[0];
    for (size_t k = 0; k < plan->layer_count; k++) {
        const hw_liquid *one = &plan->layer[k].liquid, *next = &advice->next.liquid;
        if (one->count == next->count && strcmp(one->dose[0].dye, next->dose[0].dye) == 0) {
            int half = plan->layer[k].passes / 2;
            check_true(advice->next.passes <= (half > 1 ? half : 1));
            return;
        }
    }
    check_true(advice->next.passes == 1); // a thin pass of something else
}

// What holds for every plan: never lighter (physics), in the mean not past the old wood by more than
// can be told (0.3 L*, half a unit of a* or b*), nearer than now; and for what is to be laid next: the
// chance of ending over 1 L* too dark, and half of it at most while a dye is a guess.
static void test_promises(void)
{
    hw_known known = known_guesses();
    uint64_t seed = 4;
    int plans = 0, steps = 0;
    for (int i = 0; i < 120; i++) {
        hw_lab target = {30 + 35 * picture_random(&seed), 5 + 12 * picture_random(&seed),
                         10 + 20 * picture_random(&seed)};
        hw_lab patch = {target.L + 8 * picture_random(&seed) - 1,
                        target.a + 6 * picture_random(&seed) - 3,
                        target.b + 8 * picture_random(&seed) - 4};
        hw_comparison gap = gap_of(patch, target);
        hw_advice advice = advise(&gap, &known);
        check_true(advice.stop != advice.has_next);
        check_true(advice.stop == (advice.stop_reason != HW_STOP_NOT));
        for (size_t o = 0; o < advice.option_count; o++, plans++) {
            const hw_option *option = &advice.option[o];
            const hw_after *end = &option->after[option->after_count - 1];
            check_option(option, &known, 2);
            for (size_t n = 1; n < option->after_count; n++) {
                check_true(option->after[n].lab.L <= option->after[n - 1].lab.L + 1e-9);
                check_true(option->after[n].de00_low <= option->after[n].de00_high);
            }
            check_true(end->lab.L >= target.L - 0.3 - 1e-9);
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
            steps++;
            check_true(advice.next_risk <= 0.005 && advice.next_help >= 0.6 && advice.next_guess);
            check_half(&advice);
            check_true(advice.after_next.de00_low <= advice.after_next.de00_high);
        }
    }
    printf("%d plans and %d steps looked at\n", plans, steps);
    check_true(plans > 100 && steps > 50);
    hw_known_free(&known);
}

// A plan and its laying, drawn from what the shelf says: factors of the boards (0.20), of the day (0.10) and of the jar
// that is mixed for it (0.10), each dye's own covariance, each pass scattered (0.12), the reading off.
static double draw_end(const hw_tone_task *task, const hw_shelf *shelf, const hw_plan *plan,
                       uint64_t *seed, hw_lab *end)
{
    double density[3] = {0.0, 0.0, 0.0}, own[HW_LIQUID_DYES_MAX][3];
    double factor = exp(0.20 * picture_normal(seed) + 0.10 * picture_normal(seed) +
                        0.10 * picture_normal(seed));
    const hw_coat_of_dye *coat = &plan->coat[0];
    for (size_t d = 0; d < coat->dyes; d++) {
        const hw_dye *dye = &shelf->dye[coat->dye[d]];
        double all = dye->u_strength * picture_normal(seed);
        for (int band = 0; band < 3; band++) {
            own[d][band] = dye->density[band] * (1.0 + all + 0.05 * picture_normal(seed));
        }
    }
    for (int pass = 0; pass < coat->passes; pass++) {
        double scatter = 1.0 + hw_u_pass * picture_normal(seed);
        for (size_t d = 0; d < coat->dyes; d++) {
            for (int band = 0; band < 3; band++) {
                density[band] += factor * scatter * coat->strength[d] * own[d][band];
            }
        }
    }
    hw_lab start = task->patch;
    start.L += 0.3 * picture_normal(seed);
    start.a += 0.3 * picture_normal(seed);
    start.b += 0.3 * picture_normal(seed);
    *end = hw_tone_under(start, density);
    return hw_ciede2000(task->target, *end);
}

// Chance of overshoot, range and chance to help against 40,000 draws (Monte Carlo, ISO/IEC Guide 98-3
// Supplement 1).
static void test_risk(void)
{
    hw_shelf shelf = shelf_of_boards(0.05);
    hw_known known = {0};
    hw_comparison gap = gap_of((hw_lab){53.5, 12, 26}, (hw_lab){50, 12, 25});
    check_true(hw_tone_learn(&shelf, "", gap.patch_lab, &known, NULL) == HW_OK);
    hw_tone_request request = {.gap = &gap, .known = &known};
    hw_tone_task task;
    check_true(hw_tone_task_of(&request, &task, NULL) == HW_OK);
    hw_plan plan = {.coat = {{{HW_FAMILY_BLACK, HW_FAMILY_VIOLET}, {0.5, 0.25}, 2, 4}}, .count = 1};
    hw_outcome outcome = hw_tone_outcome(&task, &plan, 1.0);
    double stated = hw_tone_overshoot(&task, &outcome);
    hw_after after = {0};
    hw_tone_range(&task, &outcome, &after, NULL);
    uint64_t seed = 8;
    int over = 0, below = 0, above = 0, draws = 40000;
    for (int i = 0; i < draws; i++) {
        hw_lab end;
        double de00 = draw_end(&task, &shelf, &plan, &seed, &end);
        over += end.L < gap.target_lab.L - task.rules.too_dark;
        below += de00 < after.de00_low;
        above += de00 > after.de00_high;
    }
    printf("chance of overshoot: stated %.4f, drawn %.4f; outside the range %.3f and %.3f\n",
           stated, (double)over / draws, (double)below / draws, (double)above / draws);
    check_true(stated > 0.02); // else nothing is tested
    check_close(stated, (double)over / draws, 0.15 * stated);
    check_close(0.05, (double)below / draws, 0.025);
    check_close(0.05, (double)above / draws, 0.025);
    // Where it decides, near 5 in 1000, within a third.
    int decided = 0;
    for (int passes = 1; passes <= 6; passes++) {
        plan.coat[0].passes = passes;
        plan.coat[0].strength[0] = plan.coat[0].strength[1] = 0.25;
        outcome = hw_tone_outcome(&task, &plan, 1.0);
        stated = hw_tone_overshoot(&task, &outcome);
        over = 0;
        draws = 200000;
        for (int i = 0; i < draws; i++) {
            hw_lab end;
            draw_end(&task, &shelf, &plan, &seed, &end);
            over += end.L < gap.target_lab.L - task.rules.too_dark;
        }
        double drawn = (double)over / draws;
        printf("%d passes: %.5f stated, %.5f drawn\n", passes, stated, drawn);
        if (drawn > 0.001 && drawn < 0.05) {
            decided++;
            check_close(stated / drawn, 1.0, 0.33);
        }
    }
    check_true(decided > 0);
    hw_tone_task_free(&task);
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

// The mean loss against the same draws.
static void test_loss(void)
{
    hw_known known = known_guesses();
    hw_comparison gap = gap_of((hw_lab){55, 9, 27}, (hw_lab){50, 12, 25});
    hw_tone_request request = {.gap = &gap, .known = &known};
    hw_tone_task task;
    check_true(hw_tone_task_of(&request, &task, NULL) == HW_OK);
    hw_plan plan = {.coat = {{{HW_FAMILY_RED}, {0.5}, 1, 2}}, .count = 1};
    hw_outcome outcome = hw_tone_outcome(&task, &plan, 1.0);
    double stated = hw_tone_loss(&task, &outcome, 0), sum = 0.0;
    double rest[9];
    for (int i = 0; i < 9; i++) {
        rest[i] = outcome.rest.m[i / 3][i % 3] + task.reading.m[i / 3][i % 3];
    }
    check_true(hw_cholesky(rest, 3));
    uint64_t seed = 5;
    int draws = 40000;
    for (int i = 0; i < draws; i++) {
        double density[3], factor = exp(outcome.scale_u * picture_normal(&seed)), z[3];
        for (int band = 0; band < 3; band++) {
            z[band] = picture_normal(&seed);
            density[band] = factor * outcome.density[band];
            for (int k = 0; k <= band; k++) {
                density[band] += rest[3 * band + k] * z[k];
            }
        }
        sum += hw_tone_loss_at(&task, hw_tone_under(gap.patch_lab, density)) / draws;
    }
    printf("mean loss: stated %.3f, drawn %.3f\n", stated, sum);
    check_close(stated, sum, 0.1);
    hw_tone_task_free(&task);
    hw_known_free(&known);
}

static bool uses(const hw_advice *advice, const char *dye)
{
    for (size_t o = 0; o < advice->option_count; o++) {
        for (size_t k = 0; k < advice->option[o].layer_count; k++) {
            const hw_liquid *liquid = &advice->option[o].layer[k].liquid;
            for (size_t d = 0; d < liquid->count; d++) {
                if (strcmp(liquid->dose[d].dye, dye) == 0) {
                    return true;
                }
            }
        }
    }
    return false;
}

// Rules of the trade as a finisher would check them: common practice, no source.
static void test_trade(void)
{
    hw_known known = known_guesses();
    hw_comparison gap = gap_of((hw_lab){56, 8, 26}, (hw_lab){50, 12, 25}); // pale and greenish
    hw_advice advice = advise(&gap, &known);
    check_true(advice.has_next && (uses(&advice, "red") || uses(&advice, "red-brown")));
    check_holds(advice.why, "6 lighter and 4 greener than the old wood: ");
    hw_tone_request door = {.gap = &gap, .known = &known, .old_wood = "left door"};
    check_holds(advise_with(&door).why, "6 lighter and 4 greener than left door: ");
    gap = gap_of((hw_lab){53, 16, 25}, (hw_lab){50, 12, 24}); // too red
    advice = advise(&gap, &known);
    check_true(advice.has_next && (uses(&advice, "green") || uses(&advice, "blue")));
    check_true(!uses(&advice, "red"));
    gap = gap_of((hw_lab){54, 11, 19}, (hw_lab){50, 12, 25}); // cold
    advice = advise(&gap, &known);
    check_true(advice.has_next && (uses(&advice, "amber") || uses(&advice, "orange")));
    check_text(advice.other_ways, "");
    gap = gap_of((hw_lab){57, 13.3, 27.7}, (hw_lab){50, 12, 25}); // depth only, and far off
    advice = advise(&gap, &known);
    check_holds(advice.other_ways, "base colour");
    check_true(advice.has_next && (uses(&advice, "black") || uses(&advice, "brown")));
    // Options really differ: no two of the same families.
    unsigned families[HW_OPTIONS_MAX] = {0};
    for (size_t i = 0; i < advice.option_count; i++) {
        for (size_t k = 0; k < advice.option[i].layer_count; k++) {
            const hw_liquid *liquid = &advice.option[i].layer[k].liquid;
            for (size_t d = 0; d < liquid->count; d++) {
                families[i] |= 1u << hw_known_find(&known, liquid->dose[d].dye)->family;
            }
        }
        for (size_t k = 0; k < i; k++) {
            check_true(families[k] != families[i]);
        }
    }
    hw_known_free(&known);
}

// Base colour: far off and not sealed is no work for toner; sealed it is.
static void test_base_colour(void)
{
    hw_known known = known_guesses();
    hw_comparison gap = gap_of((hw_lab){58, 9, 25}, (hw_lab){50, 12, 25});
    hw_tone_request request = {.gap = &gap, .known = &known, .surface = HW_SURFACE_OPEN};
    hw_advice advice = advise_with(&request);
    check_true(advice.stop && advice.stop_reason == HW_STOP_BASE_COLOUR);
    check_holds(advice.why, "base colour");
    request.surface = HW_SURFACE_SEALED;
    advice = advise_with(&request);
    check_true(advice.has_next);
    check_text(advice.other_ways, "");
    hw_known_free(&known);
}

// Nothing at all where no dye can help, with what else there is; done when it cannot be seen.
static void test_stops(void)
{
    hw_known known = known_guesses();
    hw_comparison gap = gap_of((hw_lab){46, 12, 24}, (hw_lab){50, 12, 25});
    hw_advice advice = advise(&gap, &known); // even if a verdict said tone
    check_true(advice.stop && !advice.has_next && advice.option_count == 0);
    check_true(advice.stop_reason == HW_STOP_NO_DEPTH);
    check_holds(advice.why, "no dye helps");
    gap.verdict = HW_VERDICT_TOO_DARK;
    advice = advise(&gap, &known);
    check_true(advice.stop_reason == HW_STOP_TOO_DARK && advice.option_count == 0);
    check_holds(advice.other_ways, "barrier coat");
    check_holds(advice.other_ways, "pigment toner");
    check_holds(advice.other_ways, "neighbours");
    check_true(!strstr(advice.other_ways, "base colour"));
    gap = gap_of((hw_lab){38, 12, 24}, (hw_lab){50, 12, 25});
    gap.verdict = HW_VERDICT_TOO_DARK;
    advice = advise(&gap, &known);
    check_holds(advice.other_ways, "base colour");
    // What may be left: a board is; what is let in too, unless a step would bring it clearly nearer; then
    // both are said.
    gap = gap_of((hw_lab){51.5, 12, 25}, (hw_lab){50, 12, 25});
    gap.verdict = HW_VERDICT_LEAVE;
    gap.kind = HW_KIND_BOARD;
    advice = advise(&gap, &known);
    check_true(advice.stop_reason == HW_STOP_LEAVE && advice.verdict == HW_VERDICT_LEAVE);
    gap.kind = HW_KIND_LET_IN;
    gap.ground.matches = true;
    advice = advise(&gap, &known);
    check_true(advice.stop_reason == HW_STOP_LEAVE);
    gap = gap_of((hw_lab){52.2, 12.2, 25.4}, (hw_lab){50, 12, 25});
    gap.verdict = HW_VERDICT_LEAVE;
    advice = advise(&gap, &known);
    check_true(advice.has_next && advice.may_be_left);
    check_holds(advice.why, "It may be left: because If the joint still shows: 2 lighter");
    gap = gap_of((hw_lab){51.2, 12, 25}, (hw_lab){50, 12, 25});
    gap.covariance = hw_covariance_diagonal(0.5, 0.3, 0.3);
    gap.verdict = HW_VERDICT_LEAVE;
    advice = advise(&gap, &known);
    check_true(advice.stop && !advice.may_be_left);
    gap = gap_of((hw_lab){50.5, 12, 25}, (hw_lab){50, 12, 25});
    advice = advise(&gap, &known);
    check_true(advice.stop_reason == HW_STOP_DONE);
    check_holds(advice.why, "too close to see");
    // Dull at its depth: amber and red give some colour, but not that much before it is too dark.
    gap = gap_of((hw_lab){51.3, 4, 8}, (hw_lab){50, 12, 25});
    advice = advise(&gap, &known);
    check_true(advice.stop || advice.in_part);
    gap = gap_of((hw_lab){55, 9, 25}, (hw_lab){50, 12, 25}); // a dozen passes lie there: film build
    hw_layer so_far = {.passes = 12};
    hw_tone_request request = {.gap = &gap, .known = &known, .so_far = &so_far, .so_far_count = 1};
    advice = advise_with(&request);
    check_true(advice.stop_reason == HW_STOP_FILM && advice.passes_so_far == 12);
    check_holds(advice.why, "film");
    hw_error err = {0};
    hw_known empty = {0};
    request.known = &empty;
    check_true(hw_tone_advise(&request, &advice, &err) == HW_ERR_CALL);
    check_text(err.code, "shelf-empty");
    hw_known_free(&known);
}

// The photo that cannot tell: one thin pass at most, or nothing, and it says so.
static void test_unsure(void)
{
    hw_known known = known_guesses();
    int nothing = 0, thin = 0;
    for (int i = 0; i <= 20; i++) {
        hw_comparison gap = gap_of((hw_lab){50.2 + 0.15 * i, 11.5, 24.6}, (hw_lab){50, 12, 25});
        gap.covariance = hw_covariance_diagonal(1.0, 0.6, 0.8);
        gap.verdict = HW_VERDICT_UNSURE;
        hw_advice advice = advise(&gap, &known);
        if (advice.has_next) {
            thin++;
            check_true(advice.next.passes == 1 && advice.next_help >= 0.75);
        } else {
            nothing++;
            check_true(advice.stop_reason == HW_STOP_CANNOT_TELL ||
                       advice.stop_reason == HW_STOP_DONE);
        }
    }
    printf("cannot tell: %d thin passes, %d times nothing\n", thin, nothing);
    check_true(nothing > 3);
    hw_known_free(&known);
}

// A dye that is known may be laid further before the next look than a guess.
static void test_known_dye(void)
{
    hw_known guesses = known_guesses(), known = {0};
    hw_shelf shelf = shelf_of_boards(0.08);
    hw_comparison gap = gap_of((hw_lab){60, 14, 29}, (hw_lab){50, 12, 25});
    check_true(hw_tone_learn(&shelf, "", gap.patch_lab, &known, NULL) == HW_OK);
    hw_advice guess = advise(&gap, &guesses), sure = advise(&gap, &known);
    check_true(sure.has_next && guess.has_next && !sure.option[0].guess && !sure.next_guess);
    check_true(sure.after_next.de00 < guess.after_next.de00);
    hw_known_free(&known);
    hw_known_free(&guesses);
    hw_shelf_free(&shelf);
}

// What full strength is: a board's liquid, a guess, or one logged; and why a board counts as a guess.
static void test_full_strength(void)
{
    hw_shelf shelf = shelf_of_boards(0.08);
    hw_comparison gap = gap_of((hw_lab){57, 12.5, 26}, (hw_lab){50, 12, 25});
    for (int apart = 0; apart <= 20; apart += 20) {
        hw_known known = {0};
        for (size_t i = 0; i < shelf.count; i++) {
            shelf.dye[i].has_wood = true;
            shelf.dye[i].wood = (hw_lab){57.0 + apart, 10, 24};
        }
        check_true(hw_tone_learn(&shelf, "", gap.patch_lab, &known, NULL) == HW_OK);
        hw_advice advice = advise(&gap, &known);
        check_true(advice.has_next && advice.next_guess == (apart > 0));
        check_holds(advice.full_strength,
                    apart ? "20 L* lighter than this, so what it does here is a guess"
                          : "the liquid that its step board was made with.");
        size_t length = strlen(advice.full_strength);
        check_true(length > 0 &&
                   advice.full_strength[length - 1] == '.'); // whole, for two dyes too
        hw_known_free(&known);
    }
    hw_known guesses = known_guesses();
    hw_advice advice = advise(&gap, &guesses);
    check_holds(advice.full_strength, "a guess: a weak toner");
    hw_known_free(&guesses);
    hw_shelf_free(&shelf);
}

// A step that is not the plan's own says so: weaker, or another liquid.
static void test_step_and_plan(void)
{
    hw_known known = known_guesses();
    uint64_t seed = 77;
    int weaker = 0, other = 0, same = 0;
    for (int i = 0; i < 80; i++) {
        hw_comparison gap =
            gap_of((hw_lab){50.3 + 7 * picture_random(&seed), 12 + 5 * picture_random(&seed) - 3,
                            25 + 6 * picture_random(&seed) - 3},
                   (hw_lab){50, 12, 25});
        gap.covariance = hw_covariance_diagonal(0.25, 0.16, 0.16);
        hw_advice advice = advise(&gap, &known);
        if (!advice.has_next) {
            continue;
        }
        check_true(!(advice.next_weaker && advice.next_other));
        bool found = false;
        for (size_t k = 0; k < advice.option[0].layer_count; k++) {
            const hw_liquid *one = &advice.option[0].layer[k].liquid;
            found = found || (one->count == advice.next.liquid.count &&
                              strcmp(one->dose[0].dye, advice.next.liquid.dose[0].dye) == 0 &&
                              one->dose[0].strength == advice.next.liquid.dose[0].strength);
        }
        check_true(found || advice.next_weaker || advice.next_other);
        weaker += advice.next_weaker;
        other += advice.next_other;
        same += found;
    }
    printf("steps of the plan %d, weaker %d, another liquid %d\n", same, weaker, other);
    check_true(same > 10 && weaker + other > 3);
    hw_known_free(&known);
}

// The more of its risk a job has spent, the less the next look may.
static void test_risk_of_the_job(void)
{
    hw_known known = known_guesses();
    hw_comparison gap = gap_of((hw_lab){53, 12, 26}, (hw_lab){50, 12, 25});
    hw_tone_request request = {.gap = &gap, .known = &known};
    double before = 1.0;
    for (double spent = 0.0; spent < 0.02; spent += 0.004) {
        request.risk_spent = spent;
        hw_advice advice = advise_with(&request);
        check_true(!advice.has_next || advice.next_risk <= (0.02 - spent) / 2.0);
        check_true(!advice.has_next || advice.next_risk <= before + 1e-9);
        before = advice.has_next ? fmax(advice.next_risk, 0.0) : before;
    }
    hw_known_free(&known);
}

// Three families only when asked.
static void test_three_families(void)
{
    hw_known known = known_guesses();
    hw_tone_rules rules = hw_tone_rules_default();
    hw_comparison gap = gap_of((hw_lab){56, 8, 22}, (hw_lab){50, 12, 25});
    hw_tone_request request = {.gap = &gap, .known = &known, .rules = &rules};
    hw_advice two = advise_with(&request);
    rules.families_most = 3;
    hw_advice three = advise_with(&request);
    rules.families_most = 1;
    hw_advice one = advise_with(&request);
    for (size_t o = 0; o < one.option_count; o++) {
        check_option(&one.option[o], &known, 1);
    }
    for (size_t o = 0; o < three.option_count; o++) {
        check_option(&three.option[o], &known, 3);
    }
    check_true(three.option_count > 0 && two.option_count > 0 &&
               three.option[0].loss <= two.option[0].loss + 1e-9);
    check_true(one.option_count > 0 && one.option[0].loss >= two.option[0].loss - 1e-9);
    hw_known_free(&known);
}

// Memory that runs out is told, wherever it runs out.
static void test_memory(void)
{
    hw_shelf shelf = {0};
    hw_error err = {0};
    hw_test_fail_alloc(0);
    check_true(hw_shelf_guesses(&shelf, &err) == HW_ERR_STORAGE);
    check_text(err.code, "memory-out");
    hw_test_fail_alloc(-1);
    hw_known known = known_guesses();
    hw_comparison gap = gap_of((hw_lab){60, 14, 29}, (hw_lab){50, 12, 25});
    hw_tone_request request = {.gap = &gap, .known = &known};
    hw_advice advice;
    hw_test_fail_alloc(0);
    check_true(hw_tone_advise(&request, &advice, &err) == HW_ERR_STORAGE);
    hw_test_fail_alloc(-1);
    hw_known_free(&known);
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
    test_loss();
    test_trade();
    test_base_colour();
    test_stops();
    test_unsure();
    test_known_dye();
    test_full_strength();
    test_step_and_plan();
    test_risk_of_the_job();
    test_three_families();
    test_memory();
    test_cautions();
    return check_done();
}
