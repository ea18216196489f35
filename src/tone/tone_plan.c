// tone_plan.c: the search. Every dye of the shelf alone and every pair, whole passes, strengths
// from the ladder, at most so many passes in all; plans whose expected outcome would lie past the
// target are not looked at further. Of each set of families the plan with the least loss stays;
// the best sets are the options.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

typedef struct search {
    const hw_tone_task *task;
    int passes_most;
    hw_plan *plans; // best first
    size_t count;
} search;

static bool same_families(const hw_plan *one, const hw_plan *other)
{
    if (one->count != other->count) {
        return false;
    }
    if (one->count == 1) {
        return one->use[0].dye->family == other->use[0].dye->family;
    }
    hw_family a = one->use[0].dye->family, b = one->use[1].dye->family;
    hw_family c = other->use[0].dye->family, d = other->use[1].dye->family;
    return (a == c && b == d) || (a == d && b == c);
}

// Keeps the plans sorted, one a set of families.
static void offer(search *s, const hw_plan *plan)
{
    size_t at = s->count;
    for (size_t i = 0; i < s->count; i++) {
        if (same_families(&s->plans[i], plan)) {
            if (s->plans[i].loss <= plan->loss) {
                return;
            }
            at = i; // its place becomes free
            break;
        }
    }
    if (at == s->count) {
        if (s->count == HW_OPTIONS_MAX) {
            at = HW_OPTIONS_MAX - 1;
            if (s->plans[at].loss <= plan->loss) {
                return;
            }
        } else {
            s->count++;
        }
    }
    for (; at > 0 && s->plans[at - 1].loss > plan->loss; at--) {
        s->plans[at] = s->plans[at - 1];
    }
    s->plans[at] = *plan;
}

static void try_plan(search *s, const hw_plan *plan)
{
    double density[3];
    hw_tone_density(plan->use, plan->count, density);
    if (!hw_tone_stays_short(s->task, hw_tone_under(s->task->patch, density))) {
        return;
    }
    hw_plan scored = *plan;
    scored.loss = hw_tone_loss(s->task, plan->use, plan->count);
    offer(s, &scored);
}

// All passes and strengths of the plan's dyes, from dye `at` on.
static void try_amounts(search *s, hw_plan *plan, size_t at, int passes_left)
{
    if (at == plan->count) {
        try_plan(s, plan);
        return;
    }
    int others = (int)(plan->count - at - 1); // each needs one pass at least
    for (int passes = 1; passes <= passes_left - others; passes++) {
        for (int rung = 0; rung < HW_LADDER_COUNT; rung++) {
            plan->use[at].passes = passes;
            plan->use[at].strength = hw_ladder[rung];
            try_amounts(s, plan, at + 1, passes_left - passes);
        }
    }
}

// Depth dyes only deepen; the others turn hue.
static bool is_depth(const hw_dye *dye)
{
    return dye->family == HW_FAMILY_BROWN || dye->family == HW_FAMILY_BLACK;
}

static double size_of(const hw_dye_use *use)
{
    const double *d = use->dye->density;
    return use->passes * use->strength * sqrt(d[0] * d[0] + d[1] * d[1] + d[2] * d[2]);
}

// Hue first, depth last; of two hue dyes the one that does more goes first.
static void put_in_order(hw_plan *plan)
{
    if (plan->count < 2) {
        return;
    }
    bool first_is_depth = is_depth(plan->use[0].dye), second_is_depth = is_depth(plan->use[1].dye);
    bool swap = first_is_depth != second_is_depth ? first_is_depth
                                                  : size_of(&plan->use[0]) < size_of(&plan->use[1]);
    if (swap) {
        hw_dye_use kept = plan->use[0];
        plan->use[0] = plan->use[1];
        plan->use[1] = kept;
    }
}

size_t hw_tone_search(const hw_tone_task *task, const hw_shelf *shelf, int passes_most,
                      hw_plan plans[HW_OPTIONS_MAX])
{
    search s = {task, passes_most, plans, 0};
    for (size_t i = 0; i < shelf->count; i++) {
        hw_plan plan = {.use = {{.dye = &shelf->dye[i]}}, .count = 1};
        try_amounts(&s, &plan, 0, passes_most);
        for (size_t j = i + 1; j < shelf->count && task->rules->families_most >= 2; j++) {
            if (shelf->dye[i].family == shelf->dye[j].family) {
                continue; // two dyes of one family do one job
            }
            plan.use[0].dye = &shelf->dye[i];
            plan.use[1].dye = &shelf->dye[j];
            plan.count = 2;
            try_amounts(&s, &plan, 0, passes_most);
            plan.count = 1;
        }
    }
    for (size_t i = 0; i < s.count; i++) {
        put_in_order(&plans[i]);
    }
    return s.count;
}
