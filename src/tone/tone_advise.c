// tone_advise.c: what to lay before the next look, or why to stop.
//
// One rule when to stop: what is let in is done below what can be seen or what the photo can tell; a
// board inside the spread of boards (the verdict); or when the next smallest step would more likely
// harm than help; or where no dye can help. Each with what else there is.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

hw_tone_rules hw_tone_rules_default(void)
{
    return (hw_tone_rules){
        .passes_most = 6, // more: mix it stronger (common practice, no source)
        .film_most = 12,  // film build (chosen)
        .families_most = 2,
        .risk_look = 0.005,
        .risk_job = 0.02,
        .too_dark = 1.0,
        .least_help = 0.6,
        .least_gain = 0.05,
        .pass_cost = 0.05,
        .look_cost = 0.1,
        .guess_cost = 0.1,
        .dark_cost = 2.0,
        .hue_cost = 1.0,
        .mud_cost = 0.1,
        .lamp_cost = 0.1,
    };
}

static const char *const stop_names[HW_STOP_COUNT] = {
    [HW_STOP_NOT] = "not",
    [HW_STOP_LEAVE] = "leave",
    [HW_STOP_DONE] = "done",
    [HW_STOP_HARM] = "harm",
    [HW_STOP_TOO_DARK] = "too_dark",
    [HW_STOP_NO_DEPTH] = "no_depth",
    [HW_STOP_NO_DYE] = "no_dye",
    [HW_STOP_NO_CHROMA] = "no_chroma",
    [HW_STOP_FILM] = "film",
    [HW_STOP_BASE_COLOUR] = "base_colour",
    [HW_STOP_CANNOT_TELL] = "cannot_tell",
    [HW_STOP_ASK_FIRST] = "ask_first",
};

const char *hw_stop_name(hw_stop stop)
{
    return stop_names[stop];
}

// Below it most people see nothing, half of them see more (50:50 perceptible: Paravina et al. 2015,
// tooth-coloured ceramics); and what the photo can tell, 1.5 of its standard uncertainty (chosen).
static const double seen_at = 0.8, told_at = 1.5;
// Past this gap the base colour is the place to start (bands of size in compare_words.c).
static const double far_off = 6.0;
// What may be left needs more than this to go on; a doubtful reading this chance (chosen).
static const double gain_of_leave = 0.3, help_in_doubt = 0.75;
static const double no_depth_L = 1.0; // L* left over that is no room for a pass

// ---- Stopping ----------------------------------------------------------------------

static void stop_for(hw_advice *out, hw_stop reason, const char *lead, const char *sentence)
{
    out->stop = true;
    out->stop_reason = reason;
    out->has_next = false;
    hw_format_text(out->why, sizeof out->why, "%s%s%s", lead, lead[0] ? " " : "", sentence);
}

// What else there is where no dye helps: common practice, no source.
static void say_other_ways(const hw_comparison *gap, const hw_tone_request *request, hw_advice *out)
{
    bool far = gap->gap.de00 > far_off && request->surface != HW_SURFACE_SEALED;
    hw_format_text(
        out->other_ways, sizeof out->other_ways,
        "Wipe back over a barrier coat, if one is logged; a pigment toner, which can cover "
        "and lighten; tone the neighbours down to it; or accept it.%s",
        !far ? ""
        : request->surface == HW_SURFACE_OPEN
            ? " Far off and still unsealed: go back to the base colour."
            : " Far off: if it is still unsealed, go back to the base colour.");
}

static void stop_without_dye(const hw_comparison *gap, const hw_tone_request *request,
                             hw_advice *out)
{
    if (gap->gap.L <= no_depth_L && gap->before_coats && gap->gap.de00 < 2.0) {
        stop_for(out, HW_STOP_NO_DEPTH, "",
                 "Its depth is right for the coats to come: leave it to them.");
        return;
    }
    if (gap->gap.L <= no_depth_L) {
        stop_for(out, HW_STOP_NO_DEPTH, "",
                 "Its depth is right or past it already, and every dye darkens: no dye helps.");
    } else if (gap->gap.C < -1.5) {
        stop_for(out, HW_STOP_NO_CHROMA, "",
                 "It is too dull for its depth: it wants more colour than any dye here gives "
                 "before it is too dark.");
    } else {
        stop_for(
            out, HW_STOP_NO_DYE, "",
            gap->before_coats
                ? "No dye on the shelf brings it nearer to what it must be before the coats to "
                  "come without going past it."
                : "No dye on the shelf brings it nearer without going past the old wood.");
    }
    say_other_ways(gap, request, out);
}

// Half of what the job has left at most, so that it never runs out.
static double risk_allowed(const hw_tone_request *request, const hw_tone_rules *rules)
{
    return fmin(rules->risk_look, fmax(0.5 * (rules->risk_job - request->risk_spent), 0.0));
}

static const double risk_least = 0.0005; // below it no pass is possible any more (chosen)

static void stop_without_step(hw_next_answer answer, const hw_comparison *gap,
                              const hw_tone_request *request, const hw_tone_rules *rules,
                              hw_advice *out)
{
    if (answer == HW_NEXT_RISKS && risk_allowed(request, rules) < risk_least) {
        stop_for(out, HW_STOP_NO_DEPTH, "",
                 "The chances taken in this job are used up: another pass without a surer photo "
                 "would be one too many. Judge it by eye, or photograph it with more references.");
    } else if (answer == HW_NEXT_RISKS) {
        stop_for(out, HW_STOP_NO_DEPTH, "",
                 gap->before_coats
                     ? "So near in depth to what it must be before the coats to come that even one "
                       "weak pass may end too dark. Leave it to the coats."
                     : "So near to the old wood in depth that even one weak pass may end too dark. "
                       "Leave it, or work grain lines and edges by brush.");
    } else {
        stop_for(out, HW_STOP_HARM, "",
                 "The next smallest step would as likely harm as help. Leave it, or judge it by "
                 "eye from where it will be seen; a surer photo may tell more.");
    }
    if (gap->gap.de00 > 2.0) { // clear enough to want something else
        say_other_ways(gap, request, out);
    }
}

// ---- Options -----------------------------------------------------------------------

static hw_after after_passes(const hw_tone_task *task, const hw_plan *plan, int n)
{
    hw_plan first = hw_plan_first(plan, n);
    hw_outcome outcome = hw_tone_outcome(task, &first, 1.0);
    return hw_tone_after(task, &outcome, n, NULL);
}

hw_option hw_tone_option(const hw_comparison *gap, const hw_tone_task *task, const hw_plan *plan)
{
    hw_option option = {
        .loss = plan->loss, .layer_count = plan->count, .lamp_risk = hw_tone_parting(task, plan)};
    for (size_t i = 0; i < plan->count; i++) {
        option.layer[i] = (hw_layer){hw_tone_liquid(task, &plan->coat[i]), plan->coat[i].passes};
    }
    int total = hw_plan_passes(plan);
    option.after[option.after_count++] = hw_tone_as_read(gap);
    for (int n = 1; n <= total && option.after_count <= HW_PLAN_PASSES_MAX; n++) {
        option.after[option.after_count++] = after_passes(task, plan, n);
    }
    hw_outcome outcome = hw_tone_outcome(task, plan, 1.0);
    option.overshoot_risk = hw_tone_overshoot(task, &outcome);
    option.guess = hw_tone_rests_on_guess(task, plan);
    hw_tone_say_mix(task, plan, option.mix, sizeof option.mix);
    return option;
}

// ---- The answer --------------------------------------------------------------------

static double doubt_of(const hw_comparison *gap)
{
    double gradient[3], sum = 0.0;
    hw_ciede2000_gradient(gap->target_lab, gap->patch_lab, gradient);
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            sum += gradient[r] * gap->covariance.m[r][c] * gradient[c];
        }
    }
    return sqrt(fmax(sum, 0.0));
}

// Nearer than that cannot be seen, or not be told.
static double done_at(const hw_comparison *gap)
{
    return fmax(seen_at, told_at * doubt_of(gap));
}

// Why no plan reaches the old wood, or "".
static const char *missing(const hw_tone_task *task, hw_lab reach, double done)
{
    if (hw_ciede2000(task->target, reach) <= fmax(done, 1.0)) {
        return "";
    }
    double chroma = hw_lab_chroma(reach) - hw_lab_chroma(task->target);
    return reach.L - task->target.L < no_depth_L
               ? " Only in part: no depth is left for the rest of it."
           : chroma < -1.0 ? " Only in part: no dye here gives the rest of its colour."
                           : " Only in part: no two dyes here go the rest of the way.";
}

static void say_plan(const hw_tone_request *request, const hw_tone_task *task,
                     const hw_option *plan, hw_advice *out)
{
    const hw_comparison *gap = request->gap;
    const hw_after *end = &plan->after[plan->after_count - 1];
    const char *short_of = missing(task, out->reach, done_at(gap));
    char off[120], liquid[160], whole[80] = "";
    hw_tone_say_gap(request, off, sizeof off);
    hw_tone_say_liquid(&out->next.liquid, liquid, sizeof liquid);
    if (end->passes > out->next.passes) {
        hw_format_text(whole, sizeof whole, "; all of it, with looks between, aims at %.1f",
                       hw_ciede2000(task->target, end->lab));
    }
    hw_format_text(out->why, sizeof out->why,
                   "%s: %s. %d pass%s should bring the difference from %.1f to about %.1f%s.%s",
                   off, liquid, out->next.passes, out->next.passes == 1 ? "" : "es", gap->gap.de00,
                   out->after_next.de00, whole, short_of);
    out->in_part = short_of[0] != 0;
}

hw_plan hw_tone_plan_of(const hw_known *known, const hw_option *option)
{
    hw_plan plan = {.count = option->layer_count, .loss = option->loss};
    for (size_t i = 0; i < plan.count; i++) {
        const hw_layer *layer = &option->layer[i];
        hw_tone_coat_of(known, &layer->liquid, &plan.coat[i]);
        plan.coat[i].passes = layer->passes;
    }
    return plan;
}

static int passes_of(const hw_layer *layers, size_t count)
{
    int passes = 0;
    for (size_t i = 0; i < count; i++) {
        passes += layers[i].passes;
    }
    return passes;
}

static void take_next(const hw_tone_task *task, const hw_next *next, hw_advice *out)
{
    out->has_next = true;
    out->next = (hw_layer){hw_tone_liquid(task, &next->step.coat[0]), next->step.coat[0].passes};
    out->after_next = next->after;
    out->next_risk = next->risk;
    out->next_help = next->help;
    out->next_guess = next->guess;
}

static const hw_dose *dose_of(const hw_liquid *liquid, const char *dye)
{
    for (size_t d = 0; d < liquid->count; d++) {
        if (strcmp(liquid->dose[d].dye, dye) == 0) {
            return &liquid->dose[d];
        }
    }
    return NULL;
}

static bool same_dyes(const hw_liquid *one, const hw_liquid *other)
{
    bool same = one->count == other->count;
    for (size_t d = 0; same && d < one->count; d++) {
        same = dose_of(other, one->dose[d].dye) != NULL;
    }
    return same;
}

// How the step's liquid lies to those of the first option: the same, weaker, or another.
static void compare_step(const hw_option *plan, hw_advice *out)
{
    out->next_other = true;
    out->next_weaker = false;
    for (size_t k = 0; k < plan->layer_count; k++) {
        const hw_liquid *one = &plan->layer[k].liquid;
        if (same_dyes(one, &out->next.liquid)) {
            out->next_other = false;
            out->next_weaker =
                dose_of(&out->next.liquid, one->dose[0].dye)->strength < one->dose[0].strength;
        }
    }
}

// What may be left is said so before what could be laid.
static void say_left(const hw_comparison *gap, hw_advice *out)
{
    char plan[sizeof out->why];
    hw_copy_text(plan, sizeof plan, out->why);
    out->may_be_left = true;
    hw_format_text(out->why, sizeof out->why, "It may be left: %s If the joint still shows: %s",
                   gap->why, plan);
}

void hw_tone_take_step(const hw_tone_request *request, const hw_tone_task *task,
                       const hw_next *next, const hw_option *plan, hw_advice *out)
{
    take_next(task, next, out);
    compare_step(&out->option[0], out);
    hw_tone_say_full_strength(task, &next->step, out->full_strength, sizeof out->full_strength);
    say_plan(request, task, plan, out);
    if (request->gap->verdict == HW_VERDICT_LEAVE) {
        say_left(request->gap, out);
    }
}

int hw_tone_passes_left(const hw_tone_rules *rules, int so_far)
{
    int left = rules->film_most - so_far;
    return left < rules->passes_most ? left : rules->passes_most;
}

static void plan_for(const hw_tone_request *request, const hw_tone_task *task, hw_advice *out)
{
    const hw_comparison *gap = request->gap;
    hw_plan plans[HW_OPTIONS_MAX];
    hw_next next;
    int budget = hw_tone_passes_left(&task->rules, out->passes_so_far);
    if (budget < 1) {
        stop_for(out, HW_STOP_FILM, "",
                 "The film is thick enough: a dozen passes or more lie on it already. Judge it "
                 "from where it will be seen, or take the film down first.");
        return;
    }
    size_t count = hw_tone_search(task, budget, plans, &out->reach);
    for (size_t i = 0; i < count; i++) {
        if (plans[i].loss <= task->now - task->rules.least_gain) {
            out->option[out->option_count++] = hw_tone_option(gap, task, &plans[i]);
        }
    }
    if (out->option_count == 0) {
        stop_without_dye(gap, request, out);
        return;
    }
    hw_next_answer answer =
        hw_tone_next(task, &plans[0], risk_allowed(request, &task->rules), &next);
    if (answer != HW_NEXT_LAY) {
        stop_without_step(answer, gap, request, &task->rules, out);
        return;
    }
    hw_tone_take_step(request, task, &next, &out->option[0], out);
    if (gap->gap.de00 > far_off && request->surface == HW_SURFACE_UNSAID) {
        hw_copy_text(out->other_ways, sizeof out->other_ways,
                     "Far off: if it is still unsealed, go back to the base colour rather than lay "
                     "many passes.");
    }
}

// What the reading alone decides; false: plan.
static bool decided(const hw_tone_request *request, double done, hw_advice *out)
{
    const hw_comparison *gap = request->gap;
    bool let_in = gap->kind == HW_KIND_LET_IN;
    if (gap->verdict == HW_VERDICT_TOO_DARK) {
        stop_for(out, HW_STOP_TOO_DARK, "Too dark: no dye helps.", gap->why);
        say_other_ways(gap, request, out);
        return true;
    }
    if (gap->verdict == HW_VERDICT_LEAVE && (!let_in || gap->ground.matches)) {
        stop_for(out, HW_STOP_LEAVE, "Stop here.", gap->why);
        return true;
    }
    if (let_in && gap->gap.de00 <= done) {
        char why[160];
        hw_format_text(why, sizeof why,
                       done > seen_at
                           ? "Done: what is left (%.1f) is no more than this photo can tell."
                           : "Done: what is left (%.1f) is too close to see.",
                       gap->gap.de00);
        stop_for(out, HW_STOP_DONE, "", why);
        return true;
    }
    if (gap->gap.de00 > far_off && request->surface == HW_SURFACE_OPEN) {
        stop_for(out, HW_STOP_BASE_COLOUR, "",
                 "It is a different colour and not sealed yet: go back to the base colour on the "
                 "bare wood, on the light side, seal it, and photograph it again.");
        return true;
    }
    return false;
}

// What may be left, or what the photo cannot tell, asks for more before the first thing is laid.
static void ask_for_more(const hw_comparison *gap, bool begun, bool doubtful, hw_tone_rules *rules)
{
    if (doubtful) {
        rules->least_help = fmax(rules->least_help, help_in_doubt);
        rules->passes_most = 1;
    }
    if (gap->verdict == HW_VERDICT_LEAVE && !begun) {
        rules->least_gain = fmax(rules->least_gain, gain_of_leave);
    } else if (gap->verdict == HW_VERDICT_UNSURE) {
        rules->least_help = fmax(rules->least_help, help_in_doubt);
        rules->passes_most = 1;
    }
}

// The verdict stays the answer where the plan has none.
static void fall_back(const hw_comparison *gap, hw_advice *out)
{
    if (out->has_next) {
        return;
    }
    if (gap->verdict == HW_VERDICT_UNSURE) {
        stop_for(out, HW_STOP_CANNOT_TELL, "Lay nothing on this reading.", gap->why);
        out->option_count = 0;
    } else if (gap->verdict == HW_VERDICT_LEAVE) {
        stop_for(out, HW_STOP_LEAVE, "Stop here.", gap->why);
        out->option_count = 0;
        out->other_ways[0] = 0;
    }
}

void hw_tone_step_within(const hw_tone_request *request, const hw_tone_task *task, double risk_most,
                         hw_advice *advice)
{
    hw_plan plan = hw_tone_plan_of(task->known, &advice->option[0]);
    hw_next next;
    hw_next_answer answer = hw_tone_next(task, &plan, risk_most, &next);
    if (answer == HW_NEXT_LAY) {
        hw_tone_take_step(request, task, &next, &advice->option[0], advice);
        return;
    }
    advice->may_be_left = advice->in_part = false;
    stop_without_step(answer, request->gap, request, &task->rules, advice);
    fall_back(request->gap, advice);
}

hw_status hw_tone_planning_task(const hw_tone_request *request, hw_tone_task *out, hw_error *err)
{
    hw_status status = hw_tone_task_of(request, out, err);
    if (status == HW_OK) {
        int so_far = passes_of(request->so_far, request->so_far_count);
        ask_for_more(request->gap, so_far > 0, request->doubtful, &out->rules);
    }
    return status;
}

hw_status hw_tone_advise(const hw_tone_request *request, hw_advice *out, hw_error *err)
{
    const hw_comparison *gap = request->gap;
    hw_advice advice = {
        .verdict = gap->verdict, .aim = gap->target_lab, .before_coats = gap->before_coats};
    hw_tone_task task;
    if (request->known->count == 0) {
        return hw_fail(err, HW_ERR_CALL, "shelf-empty", gap->patch, "Put a dye on the shelf.",
                       "there is no dye to plan with");
    }
    hw_copy_text(advice.patch, sizeof advice.patch, gap->patch);
    advice.passes_so_far = passes_of(request->so_far, request->so_far_count);
    double done = done_at(gap);
    if (!decided(request, done, &advice)) {
        hw_status status = hw_tone_planning_task(request, &task, err);
        if (status != HW_OK) {
            return status;
        }
        plan_for(request, &task, &advice);
        fall_back(gap, &advice);
        hw_tone_task_free(&task);
    }
    *out = advice;
    return HW_OK;
}
