// tone_next.c: how much of a plan before the next look.
//
// What always holds:
//  (1) The most passes whose chance of ending over 1 L* too dark is within the limit, here with all of
//      the doubt about dyes and reading.
//  (2) While a dye is a guess never over half of the passes computed for its liquid, at least one.
//  (3) A step that would more likely harm than help is made weaker, down the ladder; then none.
#include "tone_internal.h"

#include <math.h>

static hw_outcome outcome_of(const hw_tone_task *task, const hw_plan *step)
{
    return hw_tone_outcome(task, step, 1.0);
}

bool hw_tone_rests_on_guess(const hw_tone_task *task, const hw_plan *plan)
{
    for (size_t i = 0; i < plan->count; i++) {
        for (size_t k = 0; k < plan->coat[i].dyes; k++) {
            if (task->known->dye[plan->coat[i].dye[k]].guess) {
                return true;
            }
        }
    }
    return false;
}

static int passes_within_risk(const hw_tone_task *task, hw_plan step, double risk_most)
{
    int most = step.coat[0].passes;
    for (int passes = 1; passes <= most; passes++) {
        step.coat[0].passes = passes;
        hw_outcome outcome = outcome_of(task, &step);
        if (hw_tone_overshoot(task, &outcome) > risk_most) {
            return passes - 1;
        }
    }
    return most;
}

static hw_next told(const hw_tone_task *task, const hw_plan *step)
{
    hw_next next = {.step = *step};
    hw_outcome outcome = outcome_of(task, step);
    next.guess = hw_tone_rests_on_guess(task, step);
    next.after = hw_tone_after(task, &outcome, hw_plan_passes(step), &next.help);
    next.risk = hw_tone_overshoot(task, &outcome);
    next.step.loss = hw_tone_loss(task, &outcome, next.after.passes);
    return next;
}

// Fills *out (may be NULL) where it does.
static bool helps(const hw_tone_task *task, const hw_plan *step, hw_next *out)
{
    hw_outcome outcome = outcome_of(task, step);
    bool good =
        hw_tone_loss(task, &outcome, hw_plan_passes(step)) <= task->now - task->rules.least_gain &&
        hw_tone_helps_by(task, &outcome, task->rules.least_help);
    if (good && out) {
        *out = told(task, step);
    }
    return good;
}

// Half as strong, of the same colour; false at the end of the ladder.
static bool weaken(hw_coat_of_dye *coat)
{
    for (size_t k = 0; k < coat->dyes; k++) {
        if (coat->strength[k] <= hw_ladder[HW_LADDER_COUNT - 1]) {
            return false;
        }
    }
    for (size_t k = 0; k < coat->dyes; k++) {
        coat->strength[k] *= 0.5;
    }
    return true;
}

hw_next_answer hw_tone_lay(const hw_tone_task *task, const hw_coat_of_dye *coat, double risk_most,
                           hw_next *out)
{
    hw_plan step = {.coat = {*coat}, .count = 1};
    int planned = coat->passes, passes = passes_within_risk(task, step, risk_most);
    if (passes > 1 && hw_tone_rests_on_guess(task, &step)) {
        passes = planned / 2 > 1 ? (passes < planned / 2 ? passes : planned / 2) : 1;
    }
    hw_next_answer answer = passes > 0 ? HW_NEXT_HARMS : HW_NEXT_RISKS;
    for (; passes > 0; passes--) {
        step.coat[0].passes = passes;
        if (helps(task, &step, out)) {
            return HW_NEXT_LAY;
        }
    }
    return answer;
}

static hw_next_answer step_of_layer(const hw_tone_task *task, hw_coat_of_dye coat, double risk_most,
                                    hw_next *out)
{
    hw_next_answer answer = HW_NEXT_RISKS;
    do {
        hw_next_answer one = hw_tone_lay(task, &coat, risk_most, out);
        if (one == HW_NEXT_LAY) {
            return one;
        }
        answer = one == HW_NEXT_HARMS ? one : answer;
        coat.passes = 1;
    } while (weaken(&coat));
    return answer;
}

// The layers of a plan in turn, then the plan gives way to the best single thin pass there is.
hw_next_answer hw_tone_next(const hw_tone_task *task, const hw_plan *plan, double risk_most,
                            hw_next *out)
{
    hw_next_answer answer = HW_NEXT_RISKS;
    for (size_t i = 0; i < plan->count; i++) {
        hw_next_answer one = step_of_layer(task, plan->coat[i], risk_most, out);
        if (one == HW_NEXT_LAY) {
            return one;
        }
        answer = one == HW_NEXT_HARMS ? one : answer;
    }
    hw_plan thin = *plan;
    if (hw_tone_thin_step(task, risk_most, &thin)) {
        return helps(task, &thin, out) ? HW_NEXT_LAY : HW_NEXT_HARMS;
    }
    return answer;
}
