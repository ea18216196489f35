// tone_plan.c: the search. Every dye alone, every pair (and every three, where asked), laid one after
// the other or two of them in one liquid, whole passes, strengths from the ladder, at most so many
// passes in all. Plans whose expected outcome would lie past the target are not looked at further. Of
// each set of families the plan with the least loss stays; the best sets are the options.
//
// A short cut: the mean loss over outcomes is hardly ever below the loss of the mean outcome (Jensen 1906, were it
// convex; 3 in 1000 plans are below, none of them the best of 60 searches by brute force), so what loses there
// already is not scored.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

// A plan is laid with looks between its passes, and each look tells what the dyes really do. So half
// of the doubt about them counts when plans are compared (chosen: tests/accuracy/loop.c); before the
// next look all of it does (tone_next.c).
const double hw_share_left = 0.5;

typedef struct search {
    const hw_tone_task *task;
    int passes_most;
    hw_plan *plans; // best first
    size_t count;
    double share;     // of the doubt about dyes that counts
    double risk_most; // of a plan laid unseen; no limit: 1
    hw_lab reach;     // the best expected outcome of all plans
    double reach_loss;
} search;

static search search_for(const hw_tone_task *task, int passes_most, hw_plan *plans)
{
    return (search){.task = task,
                    .passes_most = passes_most,
                    .plans = plans,
                    .share = hw_share_left,
                    .risk_most = 1.0,
                    .reach = task->patch,
                    .reach_loss = hw_tone_loss_at(task, task->patch)};
}

// ---- Sets of families --------------------------------------------------------------

unsigned hw_tone_families(const hw_known *known, const hw_coat_of_dye *coat)
{
    unsigned set = 0;
    for (size_t k = 0; k < coat->dyes; k++) {
        set |= 1u << known->dye[coat->dye[k]].family;
    }
    return set;
}

int hw_tone_bits(uint64_t set)
{
    int count = 0;
    for (; set; set &= set - 1) {
        count++;
    }
    return count;
}

static unsigned families_of(const hw_tone_task *task, const hw_plan *plan)
{
    unsigned set = 0;
    for (size_t i = 0; i < plan->count; i++) {
        set |= hw_tone_families(task->known, &plan->coat[i]);
    }
    return set;
}

// The loss that a plan must stay below to be kept.
static double to_beat(const search *s, unsigned families)
{
    for (size_t i = 0; i < s->count; i++) {
        if (families_of(s->task, &s->plans[i]) == families) {
            return s->plans[i].loss;
        }
    }
    return s->count < HW_OPTIONS_MAX ? (double)INFINITY : s->plans[HW_OPTIONS_MAX - 1].loss;
}

// Keeps the plans sorted, one a set of families. `plan` beats what must be beaten.
static void keep(search *s, const hw_plan *plan, unsigned families)
{
    size_t at = 0;
    while (at < s->count && families_of(s->task, &s->plans[at]) != families) {
        at++;
    }
    if (at == s->count && s->count < HW_OPTIONS_MAX) {
        s->count++;
    } else if (at == s->count) {
        at = HW_OPTIONS_MAX - 1;
    }
    for (; at > 0 && s->plans[at - 1].loss > plan->loss; at--) {
        s->plans[at] = s->plans[at - 1];
    }
    s->plans[at] = *plan;
}

// ---- One plan ----------------------------------------------------------------------

// Its expected density: the light version of hw_tone_outcome. Every dye is in it once.
static void mean_density(const hw_tone_task *task, const hw_plan *plan, double out[3])
{
    out[0] = out[1] = out[2] = 0.0;
    for (size_t i = 0; i < plan->count; i++) {
        const hw_coat_of_dye *coat = &plan->coat[i];
        size_t jar = task->jar_count > 0 ? hw_tone_jar_of(task, coat) : HW_JAR_NONE;
        double factor = hw_known_jar_factor(task->known, jar);
        for (size_t k = 0; k < coat->dyes; k++) {
            const hw_known_dye *dye = &task->known->dye[coat->dye[k]];
            double laid = coat->passes * coat->strength[k], slope;
            if (dye->exponent != 1.0) {
                laid = hw_amount_law(task->before[coat->dye[k]], laid, dye->exponent, &slope);
            }
            for (int band = 0; band < 3; band++) {
                out[band] += factor * laid * dye->density[band];
            }
        }
    }
}

static void try_plan(search *s, const hw_plan *plan)
{
    double density[3];
    mean_density(s->task, plan, density);
    hw_lab expected = hw_tone_colour(s->task, density);
    if (!hw_tone_stays_short(s->task, expected)) {
        return;
    }
    int passes = hw_plan_passes(plan);
    unsigned families = families_of(s->task, plan);
    double beat = to_beat(s, families);
    double expected_loss = hw_tone_loss_at(s->task, expected);
    if (expected_loss < s->reach_loss) {
        s->reach_loss = expected_loss;
        s->reach = expected;
    }
    double cost = hw_tone_side_cost(s->task, plan);
    if (expected_loss + s->task->rules.pass_cost * passes + cost >= beat) {
        return;
    }
    hw_plan scored = *plan;
    hw_outcome outcome = hw_tone_outcome(s->task, plan, s->share);
    scored.loss = hw_tone_loss(s->task, &outcome, passes) + cost;
    if (scored.loss < beat &&
        (s->risk_most >= 1.0 || hw_tone_overshoot(s->task, &outcome) <= s->risk_most)) {
        keep(s, &scored, families);
    }
}

// Two board-strength liquids poured together thin each other: their strengths add up to one at most.
static bool can_be_mixed(const hw_coat_of_dye *coat)
{
    return coat->dyes < 2 || coat->strength[0] + coat->strength[1] <= 1.0;
}

// All strengths of the dyes of layer `at`, then all passes, then the layers behind it. A plan has no more layers, and a liquid no
// more dyes, than there is room for: said here so that compilers which unroll this know it.
static void try_amounts(search *s, hw_plan *plan, size_t at, size_t dye, int passes_left)
{
    if (at >= plan->count || at >= HW_LAYERS_MAX) {
        try_plan(s, plan);
        return;
    }
    hw_coat_of_dye *coat = &plan->coat[at];
    if (dye < coat->dyes && dye < HW_LIQUID_DYES_MAX) {
        for (int rung = 0; rung < HW_LADDER_COUNT; rung++) {
            coat->strength[dye] = hw_ladder[rung];
            try_amounts(s, plan, at, dye + 1, passes_left);
        }
        return;
    }
    if (!can_be_mixed(coat)) {
        return;
    }
    int others = (int)(plan->count - at - 1); // each needs one pass at least
    for (int passes = 1; passes <= passes_left - others; passes++) {
        coat->passes = passes;
        try_amounts(s, plan, at + 1, 0, passes_left - passes);
    }
}

// ---- Which dyes, in which liquids --------------------------------------------------

static hw_coat_of_dye one_dye(size_t dye)
{
    return (hw_coat_of_dye){.dye = {dye}, .dyes = 1};
}

static hw_coat_of_dye two_dyes(size_t one, size_t other)
{
    return (hw_coat_of_dye){.dye = {one, other}, .dyes = 2};
}

static void try_pair(search *s, size_t i, size_t j)
{
    hw_plan apart = {.coat = {one_dye(i), one_dye(j)}, .count = 2};
    hw_plan mixed = {.coat = {two_dyes(i, j)}, .count = 1};
    try_amounts(s, &apart, 0, 0, s->passes_most);
    try_amounts(s, &mixed, 0, 0, s->passes_most);
}

static void try_three(search *s, const size_t dye[3])
{
    hw_plan apart = {.coat = {one_dye(dye[0]), one_dye(dye[1]), one_dye(dye[2])}, .count = 3};
    try_amounts(s, &apart, 0, 0, s->passes_most);
    for (int alone = 0; alone < 3; alone++) {
        hw_plan mixed = {
            .coat = {two_dyes(dye[(alone + 1) % 3], dye[(alone + 2) % 3]), one_dye(dye[alone])},
            .count = 2};
        try_amounts(s, &mixed, 0, 0, s->passes_most);
    }
}

// Two dyes of one family do one job.
static bool unlike(const hw_tone_task *task, size_t i, size_t j)
{
    return task->known->dye[i].family != task->known->dye[j].family;
}

static const size_t shelf_large = 30; // dyes that are all paired in well under 0.2 s (chosen)

// Known better: no guess before a guess, then the smaller doubt, then the earlier on the shelf.
bool hw_tone_known_better(const hw_known *known, size_t one, size_t other)
{
    const hw_known_dye *a = &known->dye[one], *b = &known->dye[other];
    if (a->guess != b->guess) {
        return b->guess;
    }
    return a->u_strength != b->u_strength ? a->u_strength < b->u_strength : one < other;
}

// Is it among the `most` of its family that are known best?
static bool is_among(const search *s, size_t dye, size_t most)
{
    const hw_known *known = s->task->known;
    size_t better = 0;
    for (size_t i = 0; i < known->count; i++) {
        better +=
            known->dye[i].family == known->dye[dye].family && hw_tone_known_better(known, i, dye);
    }
    return better < most;
}

// On a usual shelf all are.
static bool is_looked_at(const search *s, size_t dye)
{
    return s->task->known->count <= shelf_large || is_among(s, dye, 3);
}

static void try_all(search *s)
{
    size_t n = s->task->known->count;
    for (size_t i = 0; i < n; i++) {
        if (!is_looked_at(s, i)) {
            continue;
        }
        hw_plan alone = {.coat = {one_dye(i)}, .count = 1};
        try_amounts(s, &alone, 0, 0, s->passes_most);
        for (size_t j = i + 1; j < n && s->task->rules.families_most >= 2; j++) {
            if (!unlike(s->task, i, j) || !is_looked_at(s, j)) {
                continue;
            }
            try_pair(s, i, j);
            if (s->task->rules.families_most < 3 || !is_among(s, i, 1) || !is_among(s, j, 1)) {
                continue;
            }
            for (size_t k = j + 1; k < n; k++) {
                if (unlike(s->task, i, k) && unlike(s->task, j, k) && is_among(s, k, 1)) {
                    try_three(s, (const size_t[3]){i, j, k});
                }
            }
        }
    }
}

// ---- Order -------------------------------------------------------------------------

// Depth dyes only deepen; the others turn hue. A liquid of both turns hue.
bool hw_tone_is_depth(const hw_known *known, const hw_coat_of_dye *coat)
{
    for (size_t k = 0; k < coat->dyes; k++) {
        hw_family family = known->dye[coat->dye[k]].family;
        if (family != HW_FAMILY_BROWN && family != HW_FAMILY_BLACK) {
            return false;
        }
    }
    return true;
}

static double size_of(const hw_tone_task *task, const hw_coat_of_dye *coat)
{
    double sum = 0.0;
    for (size_t k = 0; k < coat->dyes; k++) {
        const double *d = task->known->dye[coat->dye[k]].density;
        sum += coat->passes * coat->strength[k] * sqrt(d[0] * d[0] + d[1] * d[1] + d[2] * d[2]);
    }
    return sum;
}

// Hue first, depth last; of two hue layers the one that does more goes first.
static bool goes_before(const hw_tone_task *task, const hw_coat_of_dye *one,
                        const hw_coat_of_dye *other)
{
    bool first = hw_tone_is_depth(task->known, one), second = hw_tone_is_depth(task->known, other);
    return first != second ? second : size_of(task, one) >= size_of(task, other);
}

void hw_tone_put_in_order(const hw_tone_task *task, hw_plan *plan)
{
    for (size_t i = 1; i < plan->count; i++) {
        hw_coat_of_dye moving = plan->coat[i];
        size_t at = i;
        for (; at > 0 && !goes_before(task, &plan->coat[at - 1], &moving); at--) {
            plan->coat[at] = plan->coat[at - 1];
        }
        plan->coat[at] = moving;
    }
}

size_t hw_tone_search(const hw_tone_task *task, int passes_most, hw_plan plans[HW_OPTIONS_MAX],
                      hw_lab *reach)
{
    search s = search_for(task, passes_most, plans);
    try_all(&s);
    *reach = s.reach;
    for (size_t i = 0; i < s.count; i++) {
        hw_tone_put_in_order(task, &plans[i]);
    }
    return s.count;
}

bool hw_tone_thin_step(const hw_tone_task *task, double risk_most, hw_plan *out)
{
    hw_plan plans[HW_OPTIONS_MAX];
    search s = search_for(task, 1, plans);
    s.share = 1.0;
    s.risk_most = risk_most;
    try_all(&s);
    if (s.count > 0) {
        *out = plans[0];
    }
    return s.count > 0;
}
