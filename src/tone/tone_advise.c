// tone_advise.c: what to lay before the next look, or why to stop.
//
// What always holds:
//  (1) Before the next look never more passes than keep the chance of ending over 1 L* too dark at
//      rules.risk_look; while a dye is a guess never over half of those, at least one; where even
//      one weak pass is too risky, nothing.
//  (2) Nothing where no dye can help, with what else there is.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

hw_tone_rules hw_tone_rules_default(void)
{
    return (hw_tone_rules){
        .passes_most = 6, // film build: common practice, no source
        .families_most = 2,
        .risk_look = 0.005,
        .too_dark = 1.0,
        .u_session = 0.10,
        .u_pass = 0.08,
        .least_gain = 0.15,
        .pass_cost = 0.05,
        .dark_cost = 2.0,
    };
}

// ---- Words -------------------------------------------------------------------------

static const char *fraction(double strength)
{
    return strength >= 1.0    ? "full strength"
           : strength >= 0.5  ? "1/2"
           : strength >= 0.25 ? "1/4"
                              : "1/8";
}

// How weak: parts of the liquid at full strength (as the step board was made) and of thinner.
static void say_mix(const hw_option *option, char *out, size_t size)
{
    hw_text text = {0};
    for (size_t i = 0; i < option->layer_count; i++) {
        const hw_dose *dose = &option->layer[i].liquid.dose[0];
        int thinner = (int)(1.0 / dose->strength + 0.5) - 1;
        hw_text_add(&text, "%s%s at %s", i ? "; " : "", dose->dye, fraction(dose->strength));
        if (thinner > 0) {
            hw_text_add(&text, ": 1 part of the full-strength liquid, %d part%s thinner", thinner,
                        thinner == 1 ? "" : "s");
        }
    }
    hw_copy_text(out, size, text.bytes && !text.failed ? text.bytes : "");
    hw_text_free(&text);
}

// Past this gap the base colour is the place to start (bands of size in compare_words.c).
static const double far_off = 6.0;

// What else there is where no dye helps: common practice, no source.
static void say_other_ways(const hw_comparison *gap, hw_advice *out)
{
    hw_format_text(
        out->other_ways, sizeof out->other_ways,
        "Wipe back over a barrier coat, if one is logged; a pigment toner, which can cover "
        "and lighten; tone the neighbours down to it; or accept it.%s",
        gap->gap.de00 > far_off ? " Far off and still unsealed: go back to the base colour." : "");
}

// Stops, with a sentence and what goes before it ("" for nothing).
static void stop_for(hw_advice *out, const char *lead, const char *sentence)
{
    out->stop = true;
    out->has_next = false;
    hw_format_text(out->why, sizeof out->why, "%s%s%s", lead, lead[0] ? " " : "", sentence);
}

// ---- Options -----------------------------------------------------------------------

// What is laid after the first n passes of a plan, in its order.
static size_t first_passes(const hw_plan *plan, int n, hw_dye_use out[HW_LIQUID_DYES_MAX])
{
    size_t count = 0;
    for (size_t i = 0; i < plan->count && n > 0; i++) {
        out[count] = plan->use[i];
        out[count].passes = plan->use[i].passes < n ? plan->use[i].passes : n;
        n -= out[count++].passes;
    }
    return count;
}

static hw_after after_uses(const hw_tone_task *task, const hw_dye_use *use, size_t count)
{
    hw_after after = {0};
    for (size_t i = 0; i < count; i++) {
        after.passes += use[i].passes;
    }
    hw_covariance doubt = hw_tone_lab_doubt(task, use, count, &after.lab);
    after.de00 = hw_ciede2000(task->target, after.lab);
    hw_gap_range(task->target, after.lab, &doubt, &after.de00_low, &after.de00_high);
    return after;
}

static void forecast(const hw_tone_task *task, const hw_plan *plan, hw_option *option)
{
    int total = 0;
    for (size_t i = 0; i < plan->count; i++) {
        total += plan->use[i].passes;
    }
    for (int n = 0; n <= total && option->after_count <= HW_PLAN_PASSES_MAX; n++) {
        hw_dye_use use[HW_LIQUID_DYES_MAX];
        size_t count = first_passes(plan, n, use);
        option->after[option->after_count++] = after_uses(task, use, count);
    }
}

static hw_option option_of(const hw_tone_task *task, const hw_plan *plan)
{
    hw_option option = {.loss = plan->loss};
    for (size_t i = 0; i < plan->count; i++) {
        hw_layer *layer = &option.layer[option.layer_count++];
        hw_copy_text(layer->liquid.dose[0].dye, HW_NAME_SIZE, plan->use[i].dye->name);
        layer->liquid.dose[0].strength = plan->use[i].strength;
        layer->liquid.count = 1;
        layer->passes = plan->use[i].passes;
        option.guess = option.guess || plan->use[i].dye->guess;
    }
    forecast(task, plan, &option);
    option.overshoot_risk = hw_tone_overshoot(task, plan->use, plan->count);
    say_mix(&option, option.mix, sizeof option.mix);
    return option;
}

// ---- Before the next look ----------------------------------------------------------

static int passes_within_risk(const hw_tone_task *task, hw_dye_use use)
{
    int most = use.passes;
    for (use.passes = 1; use.passes <= most; use.passes++) {
        if (hw_tone_overshoot(task, &use, 1) > task->rules->risk_look) {
            break;
        }
    }
    return use.passes - 1;
}

static bool choose_next(const hw_tone_task *task, const hw_plan *plan, hw_layer *next,
                        hw_after *after)
{
    hw_dye_use use = plan->use[0];
    int passes = passes_within_risk(task, use);
    while (passes == 0 && use.strength > hw_ladder[HW_LADDER_COUNT - 1]) {
        use.strength *= 0.5; // too risky: one pass of a weaker liquid
        use.passes = 1;
        passes = passes_within_risk(task, use);
    }
    if (passes == 0) {
        return false;
    }
    if (use.dye->guess) {
        passes = passes / 2 > 1 ? passes / 2 : 1;
    }
    *next = (hw_layer){.passes = passes};
    hw_copy_text(next->liquid.dose[0].dye, HW_NAME_SIZE, use.dye->name);
    next->liquid.dose[0].strength = use.strength;
    next->liquid.count = 1;
    use.passes = passes;
    *after = after_uses(task, &use, 1);
    return true;
}

// ---- The answer --------------------------------------------------------------------

static void say_plan(const hw_comparison *gap, hw_advice *out)
{
    const hw_option *best = &out->option[0];
    const hw_after *end = &best->after[best->after_count - 1];
    hw_text text = {0};
    hw_text_add(&text, "It is ");
    for (size_t i = 0; i < gap->direction_count; i++) {
        hw_text_add(&text, "%s%s",
                    i == 0                          ? ""
                    : i + 1 == gap->direction_count ? " and "
                                                    : ", ",
                    hw_direction_words(gap->direction[i]));
    }
    if (gap->direction_count == 0) {
        hw_text_add(&text, "off");
    }
    for (size_t i = 0; i < best->layer_count; i++) {
        hw_text_add(&text, "%s%s", i == 0 ? ": " : ", then ", best->layer[i].liquid.dose[0].dye);
    }
    hw_text_add(&text,
                " should bring the difference from %.1f to about %.1f. Lay %d pass%s, let it dry, "
                "photograph, ask again.",
                gap->gap.de00, end->de00, out->next.passes, out->next.passes == 1 ? "" : "es");
    hw_copy_text(out->why, sizeof out->why, text.bytes && !text.failed ? text.bytes : "");
    hw_text_free(&text);
}

static int passes_of(const hw_layer *layers, size_t count)
{
    int passes = 0;
    for (size_t i = 0; i < count; i++) {
        passes += layers[i].passes;
    }
    return passes;
}

static void plan_for(const hw_comparison *gap, const hw_shelf *shelf, const hw_tone_rules *rules,
                     hw_advice *out)
{
    hw_tone_task task = hw_tone_task_of(gap, rules);
    hw_plan plans[HW_OPTIONS_MAX];
    int budget = rules->passes_most - out->passes_so_far;
    if (budget < 1) {
        stop_for(out, "",
                 "The film is thick enough: six passes or more lie on it already. Judge it from "
                 "where it will be seen, or take the film down first.");
        return;
    }
    double now = hw_tone_loss(&task, NULL, 0);
    size_t count = hw_tone_search(&task, shelf, budget, plans);
    for (size_t i = 0; i < count; i++) {
        if (plans[i].loss <= now - rules->least_gain) {
            out->option[out->option_count++] = option_of(&task, &plans[i]);
        }
    }
    if (out->option_count == 0) {
        stop_for(out, "",
                 gap->gap.L <= 0.0
                     ? "Its depth is right or past it already, and every dye darkens: no dye helps."
                     : "No dye on the shelf brings it nearer without going past the old wood.");
        say_other_ways(gap, out);
        return;
    }
    if (!choose_next(&task, &plans[0], &out->next, &out->after_next)) {
        stop_for(out, "",
                 "So near to the old wood in depth that even one weak pass may end too dark. Leave "
                 "it, or work grain lines and edges by brush.");
        return;
    }
    out->has_next = true;
    say_plan(gap, out);
    if (gap->gap.de00 > far_off) {
        hw_copy_text(out->other_ways, sizeof out->other_ways,
                     "Far off: if it is still unsealed, go back to the base colour rather than lay "
                     "many passes.");
    }
}

hw_status hw_tone_advise(const hw_comparison *gap, const hw_shelf *shelf, const hw_layer *so_far,
                         size_t so_far_count, const hw_tone_rules *rules, hw_advice *out,
                         hw_error *err)
{
    hw_tone_rules usual = hw_tone_rules_default();
    hw_advice advice = {.verdict = gap->verdict};
    if (shelf->count == 0) {
        return hw_fail(err, HW_ERR_CALL, "shelf-empty", gap->patch, "Put a dye on the shelf.",
                       "there is no dye to plan with");
    }
    hw_copy_text(advice.patch, sizeof advice.patch, gap->patch);
    advice.passes_so_far = passes_of(so_far, so_far_count);
    switch (gap->verdict) {
    case HW_VERDICT_LEAVE:
        stop_for(&advice, "Stop here.", gap->why);
        break;
    case HW_VERDICT_UNSURE:
        stop_for(&advice, "Lay nothing on this reading.", gap->why);
        break;
    case HW_VERDICT_TOO_DARK:
        stop_for(&advice, "Too dark: no dye helps.", gap->why);
        say_other_ways(gap, &advice);
        break;
    case HW_VERDICT_TONE:
        plan_for(gap, shelf, rules ? rules : &usual, &advice);
        break;
    }
    *out = advice;
    return HW_OK;
}
