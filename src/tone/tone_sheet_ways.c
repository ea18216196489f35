// tone_sheet_ways.c: which liquids serve a patch of the day's sheet, and what that costs it.
//
// A patch is served by a liquid, or by two in two layers, when a plan of these alone (whole passes, within
// its film and families, not past the target) has a mean loss of at most HW_SHEET_COST_MOST (HW_SHEET_COST_LATER
// where passes lie on it already) over its own best, betters it by what any plan must, and one of its layers may be
// laid today as it is, by all rules of tone_next.c.
//
// Its own best is what it would have were it alone: its own advice's plan, where one of that plan's layers
// may be laid as it is, or the best plan of one liquid of which that holds. So where all dyes are guesses and
// only weak liquids may go first, weak ones are compared with weak ones. Its own advice's liquid serves it in
// any case: nobody has to wait for the others' sake.
//
// As in tone_plan.c the loss of the expected outcome tells what need not be scored; scoring waits until a
// way can matter.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

#define PASSES_MOST HW_PLAN_PASSES_MAX

// ---- The pool ----------------------------------------------------------------------

// Of a larger shelf: the dyes that the patches' own advice wants, then the best known of each family (chosen:
// well under half a second for six patches).
#define POOL_DYES 10
static const size_t pool_mixed = 60; // of more jars the latest

size_t hw_pool_find(const hw_pool *pool, const hw_coat_of_dye *coat)
{
    size_t at = 0;
    while (at < pool->count && !hw_coat_of_dye_is_same(&pool->liquid[at].coat, coat)) {
        at++;
    }
    return at;
}

// There is room.
static void add(hw_pool *pool, hw_coat_of_dye coat, bool mixed)
{
    coat.passes = 1;
    if (hw_pool_find(pool, &coat) == pool->count) {
        pool->liquid[pool->count++] = (hw_pool_liquid){coat, mixed};
    }
}

static void add_named(hw_pool *pool, const hw_known *known, const hw_liquid *liquid, bool mixed)
{
    hw_coat_of_dye coat;
    bool good = liquid->count > 0 && hw_tone_coat_of(known, liquid, &coat);
    for (size_t k = 0; good && k < coat.dyes; k++) {
        good = coat.strength[k] > 0.0;
    }
    if (good && (coat.dyes == 1 || coat.dye[0] != coat.dye[1])) {
        add(pool, coat, mixed);
    }
}

// How often the patches' own advice asks for each dye.
static void count_wanted(const hw_sheet_patch *patch, size_t count, size_t *wanted)
{
    for (size_t i = 0; i < count; i++) {
        const hw_advice *advice = patch[i].advice;
        const hw_option *plan = &advice->option[0];
        for (size_t k = 0; k <= plan->layer_count; k++) {
            const hw_liquid *liquid =
                k < plan->layer_count ? &plan->layer[k].liquid : &advice->next.liquid;
            hw_coat_of_dye coat;
            for (size_t d = 0; hw_tone_coat_of(patch[i].task.known, liquid, &coat) && d < coat.dyes;
                 d++) {
                wanted[coat.dye[d]]++;
            }
        }
    }
}

// One more where it is the best known of its family.
static void prefer_best_known(const hw_known *known, size_t *wanted)
{
    for (size_t i = 0; i < known->count; i++) {
        bool best = true;
        for (size_t k = 0; k < known->count; k++) {
            best = best && !(known->dye[k].family == known->dye[i].family &&
                             hw_tone_known_better(known, k, i));
        }
        wanted[i] = 2 * wanted[i] + best;
    }
}

// The dyes of all liquids, by their place on the shelf; returns how many.
static size_t choose_dyes(const hw_known *known, size_t *wanted, size_t out[POOL_DYES])
{
    size_t count = 0;
    while (count < POOL_DYES && count < known->count) {
        size_t best = known->count;
        for (size_t i = 0; i < known->count; i++) {
            bool taken = false;
            for (size_t k = 0; k < count; k++) {
                taken = taken || out[k] == i;
            }
            if (!taken && (best == known->count || wanted[i] > wanted[best] ||
                           (wanted[i] == wanted[best] && hw_tone_known_better(known, i, best)))) {
                best = i;
            }
        }
        size_t at = count++;
        for (; at > 0 && out[at - 1] > best; at--) {
            out[at] = out[at - 1];
        }
        out[at] = best;
    }
    return count;
}

static void add_ladder(hw_pool *pool, const hw_known *known, const size_t *dye, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        for (int rung = 0; rung < HW_LADDER_COUNT; rung++) {
            add(pool, (hw_coat_of_dye){.dye = {dye[i]}, .strength = {hw_ladder[rung]}, .dyes = 1},
                false);
        }
        for (size_t k = i + 1; k < count; k++) {
            // Two dyes of one family do one job; strengths of one liquid add up to one at most.
            for (int one = 0;
                 known->dye[dye[i]].family != known->dye[dye[k]].family && one < HW_LADDER_COUNT;
                 one++) {
                for (int other = 0; other < HW_LADDER_COUNT; other++) {
                    if (hw_ladder[one] + hw_ladder[other] <= 1.0) {
                        add(pool,
                            (hw_coat_of_dye){.dye = {dye[i], dye[k]},
                                             .strength = {hw_ladder[one], hw_ladder[other]},
                                             .dyes = 2},
                            false);
                    }
                }
            }
        }
    }
}

hw_status hw_pool_make(const hw_sheet_patch *patch, size_t count, const hw_liquid *mixed,
                       size_t mixed_count, hw_pool *out, hw_error *err)
{
    const hw_known *known = patch[0].task.known;
    size_t dye[POOL_DYES], dyes, jars = mixed_count < pool_mixed ? mixed_count : pool_mixed;
    size_t ladder = POOL_DYES * HW_LADDER_COUNT * (1 + POOL_DYES * HW_LADDER_COUNT / 2);
    hw_pool pool = {0};
    size_t *wanted = hw_alloc_array(known->count, sizeof *wanted);
    pool.liquid = hw_alloc_array(jars + count * (1 + HW_LAYERS_MAX) + ladder, sizeof *pool.liquid);
    if (!wanted || !pool.liquid) {
        hw_free(wanted);
        hw_free(pool.liquid);
        return hw_fail_memory(err, "making the day's sheet");
    }
    for (size_t i = 0; i < jars; i++) { // the latest come first
        add_named(&pool, known, &mixed[i], true);
    }
    for (size_t i = 0; i < count; i++) {
        const hw_option *plan = &patch[i].advice->option[0];
        add_named(&pool, known, &patch[i].advice->next.liquid, false);
        for (size_t k = 0; k < plan->layer_count; k++) {
            add_named(&pool, known, &plan->layer[k].liquid, false);
        }
    }
    count_wanted(patch, count, wanted);
    prefer_best_known(known, wanted);
    dyes = choose_dyes(known, wanted, dye);
    add_ladder(&pool, known, dye, dyes);
    hw_free(wanted);
    *out = pool;
    return HW_OK;
}

// ---- What is at hand for one patch -------------------------------------------------

static hw_plan one_layer(const hw_pool *pool, size_t liquid, int passes)
{
    hw_plan plan = {.coat = {pool->liquid[liquid].coat}, .count = 1};
    plan.coat[0].passes = passes;
    return plan;
}

static hw_plan two_layers(const hw_pool *pool, const uint32_t liquid[2], int first, int second)
{
    hw_plan plan = {.coat = {pool->liquid[liquid[0]].coat, pool->liquid[liquid[1]].coat},
                    .count = 2};
    plan.coat[0].passes = first;
    plan.coat[1].passes = second;
    return plan;
}

hw_plan hw_way_plan(const hw_pool *pool, const hw_way *way)
{
    hw_plan plan = way->liquid[0] == way->liquid[1]
                       ? one_layer(pool, way->liquid[0], way->passes[0])
                       : two_layers(pool, way->liquid, way->passes[0], way->passes[1]);
    plan.loss = way->loss;
    return plan;
}

static double *through_of(const hw_sheet_patch *patch, size_t liquid, int passes)
{
    return &patch->through[3 * (PASSES_MOST * liquid + (size_t)passes - 1)];
}

hw_status hw_sheet_patch_prepare(hw_sheet_patch *patch, const hw_pool *pool, hw_error *err)
{
    hw_coat_of_dye own;
    patch->through = hw_alloc_array(3 * PASSES_MOST * pool->count, sizeof *patch->through);
    patch->layable = hw_alloc_array(PASSES_MOST * pool->count, sizeof *patch->layable);
    if (!patch->through || !patch->layable) {
        return hw_fail_memory(err, "making the day's sheet");
    }
    for (size_t i = 0; i < pool->count; i++) {
        for (int passes = 1; passes <= patch->budget; passes++) {
            hw_plan plan = one_layer(pool, i, passes);
            hw_outcome outcome = hw_tone_outcome(&patch->task, &plan, hw_share_left);
            for (int band = 0; band < 3; band++) {
                through_of(patch, i, passes)[band] = exp(-outcome.density[band]);
            }
        }
    }
    patch->own = hw_tone_coat_of(patch->task.known, &patch->advice->next.liquid, &own)
                     ? hw_pool_find(pool, &own)
                     : pool->count;
    return HW_OK;
}

void hw_sheet_patch_free(hw_sheet_patch *patch)
{
    hw_free(patch->through);
    hw_free(patch->layable);
    hw_tone_task_free(&patch->task);
    patch->through = NULL;
    patch->layable = NULL;
}

// Asked once for each that differs: of a guess only half of the passes computed are looked at.
static bool is_layable(hw_sheet_patch *patch, const hw_pool *pool, size_t liquid, int passes)
{
    hw_plan plan = one_layer(pool, liquid, passes);
    bool guess = hw_tone_rests_on_guess(&patch->task, &plan);
    int looked_at = !guess ? passes : passes / 2 > 1 ? passes / 2 : 1;
    signed char *answer = &patch->layable[PASSES_MOST * liquid + (size_t)looked_at - 1];
    if (*answer == 0) {
        *answer = hw_tone_lay(&patch->task, &plan.coat[0], patch->risk_most, NULL) == HW_NEXT_LAY
                      ? 1
                      : -1;
    }
    return *answer > 0;
}

// ---- Ways --------------------------------------------------------------------------

// CIEDE2000 is at least this. It divides a difference in L* by 1.75 at most, those in chroma and hue by
// 1 + 0.045 C' at most, where a' is up to half more than a*; and there is no turn between them (R_T) in hues of
// wood, a* and b* above 0.
static double least_difference(hw_lab one, hw_lab other)
{
    double L = (one.L - other.L) / 1.75;
    if (one.a < 0.0 || one.b < 0.0 || other.a < 0.0 || other.b < 0.0) {
        return fabs(L);
    }
    double most = 1.0 + 0.045 * 0.5 * (1.5 * (one.a + other.a) + one.b + other.b);
    double a = (one.a - other.a) / most, b = (one.b - other.b) / most;
    return sqrt(L * L + a * a + b * b);
}

// Two layers of one dye that does less with every pass.
static bool bends(const hw_sheet_patch *patch, const hw_plan *plan)
{
    const hw_coat_of_dye *one = &plan->coat[0], *other = &plan->coat[1];
    for (size_t k = 0; plan->count == 2 && k < one->dyes; k++) {
        for (size_t d = 0; d < other->dyes; d++) {
            if (one->dye[k] == other->dye[d] &&
                patch->task.known->dye[one->dye[k]].exponent != 1.0) {
                return true;
            }
        }
    }
    return false;
}

static hw_lab expected(const hw_sheet_patch *patch, const uint32_t liquid[2], const hw_plan *plan)
{
    double bands[3];
    const double *one = through_of(patch, liquid[0], plan->coat[0].passes);
    const double *other =
        plan->count == 2 ? through_of(patch, liquid[1], plan->coat[1].passes) : NULL;
    if (bends(patch, plan)) {
        hw_outcome outcome = hw_tone_outcome(&patch->task, plan, hw_share_left);
        return hw_tone_colour(&patch->task, outcome.density);
    }
    for (int band = 0; band < 3; band++) {
        bands[band] =
            fmax(patch->task.patch_bands[band] * one[band] * (other ? other[band] : 1.0), 1e-5);
    }
    return hw_lab_from_xyz(hw_unsharpen(bands), hw_white_d50);
}

// Loss of the expected outcome with all costs; infinite where that lies past the target or the loss cannot be
// below `most`.
static double expected_loss(const hw_sheet_patch *patch, const uint32_t liquid[2],
                            const hw_plan *plan, double most)
{
    const hw_tone_task *task = &patch->task;
    hw_lab lab = expected(patch, liquid, plan);
    double cost = task->rules.pass_cost * hw_plan_passes(plan);
    if (cost + least_difference(task->target, lab) > most || !hw_tone_stays_short(task, lab)) {
        return (double)INFINITY;
    }
    cost += hw_tone_side_cost(task, plan);
    return cost > most ? (double)INFINITY : cost + hw_tone_loss_at(task, lab);
}

static double mean_loss(const hw_tone_task *task, const hw_plan *plan)
{
    hw_outcome outcome = hw_tone_outcome(task, plan, hw_share_left);
    return hw_tone_loss(task, &outcome, hw_plan_passes(plan)) + hw_tone_side_cost(task, plan);
}

static bool begins_today(hw_sheet_patch *patch, const hw_pool *pool, const uint32_t liquid[2],
                         const hw_plan *plan)
{
    return is_layable(patch, pool, liquid[0], plan->coat[0].passes) ||
           (plan->count == 2 && is_layable(patch, pool, liquid[1], plan->coat[1].passes));
}

// All passes of a way: its bound is set, or where `score` is asked for its loss.
static void try_passes(hw_sheet_patch *patch, const hw_pool *pool, bool score, hw_way *way)
{
    bool one = way->liquid[0] == way->liquid[1];
    double best = patch->limit;
    *(score ? &way->loss : &way->bound) = (double)INFINITY;
    for (int first = 1; first <= patch->budget - !one; first++) {
        for (int second = one ? 0 : 1; second <= (one ? 0 : patch->budget - first); second++) {
            hw_plan plan = one ? one_layer(pool, way->liquid[0], first)
                               : two_layers(pool, way->liquid, first, second);
            double loss = expected_loss(patch, way->liquid, &plan, best);
            if (loss > best) {
                continue;
            }
            if (!score) {
                way->bound = best = loss;
            } else if ((loss = mean_loss(&patch->task, &plan)) <= best &&
                       begins_today(patch, pool, way->liquid, &plan)) {
                way->loss = best = loss;
                way->passes[0] = first;
                way->passes[1] = second;
            }
        }
    }
}

void hw_way_score(hw_sheet_patch *patch, const hw_pool *pool, hw_way *way)
{
    try_passes(patch, pool, true, way);
}

static hw_status make_room(hw_ways *ways, size_t more, hw_error *err)
{
    if (ways->count + more > ways->room) {
        size_t room = 2 * ways->room + more;
        hw_way *grown = hw_resize_array(ways->way, room, sizeof *grown);
        if (!grown) {
            return hw_fail_memory(err, "making the day's sheet");
        }
        ways->way = grown;
        ways->room = room;
    }
    return HW_OK;
}

// Of its own advice's plan, where a layer of it may be laid as it is; else infinite.
static double loss_of_own_plan(hw_sheet_patch *patch, const hw_pool *pool)
{
    hw_plan plan = hw_tone_plan_of(patch->task.known, &patch->advice->option[0]);
    for (size_t i = 0; i < plan.count; i++) {
        size_t liquid = hw_pool_find(pool, &plan.coat[i]);
        if (liquid < pool->count && is_layable(patch, pool, liquid, plan.coat[i].passes)) {
            return plan.loss;
        }
    }
    return (double)INFINITY;
}

static int by_bound(const void *one, const void *other)
{
    const hw_way *a = one, *b = other;
    return a->bound != b->bound ? (a->bound > b->bound) - (a->bound < b->bound)
                                : (a->liquid[0] > b->liquid[0]) - (a->liquid[0] < b->liquid[0]);
}

// Scores ways with promise, and keeps those that can be within the limit then; its own always.
static void find_limit(hw_sheet_patch *patch, const hw_pool *pool, hw_ways *ways, size_t first)
{
    double most = patch->limit, own_plan = loss_of_own_plan(patch, pool);
    size_t kept = first;
    qsort(&ways->way[first], ways->count - first, sizeof *ways->way, by_bound);
    patch->best = own_plan;
    for (size_t i = first; i < ways->count && ways->way[i].bound < patch->best; i++) {
        hw_way_score(patch, pool, &ways->way[i]);
        patch->best = fmin(patch->best, ways->way[i].loss);
    }
    if (!(patch->best < (double)INFINITY)) { // the first step alone, weaker than its own plan
        hw_plan step = one_layer(pool, patch->own, patch->advice->next.passes);
        patch->best = mean_loss(&patch->task, &step);
    }
    patch->limit =
        fmin(most, patch->best + (patch->advice->passes_so_far > 0 ? HW_SHEET_COST_LATER
                                                                   : HW_SHEET_COST_MOST));
    for (size_t i = first; i < ways->count; i++) {
        hw_way *way = &ways->way[i];
        if (way->liquid[0] == patch->own) {
            hw_way_score(patch, pool, way);
            if (!(way->loss <= patch->limit)) {
                way->loss = patch->limit; // as much as another's would be allowed
                way->passes[0] = patch->advice->next.passes;
            }
            way->bound = fmin(way->bound, way->loss);
        }
        bool known = !isnan(way->loss);
        if (way->bound <= patch->limit && !(known && way->loss > patch->limit)) {
            ways->way[kept++] = *way;
        }
    }
    ways->count = kept;
}

hw_status hw_ways_of_one(hw_sheet_patch *patch, uint32_t number, const hw_pool *pool, hw_ways *ways,
                         hw_error *err)
{
    size_t first = ways->count;
    hw_status status = make_room(ways, pool->count, err);
    if (status != HW_OK) {
        return status;
    }
    patch->limit = patch->task.now - patch->task.rules.least_gain;
    for (uint32_t i = 0; i < pool->count; i++) {
        hw_way way = {.liquid = {i, i}, .patch = number, .loss = (double)NAN};
        try_passes(patch, pool, false, &way);
        if (way.bound <= patch->limit || i == patch->own) {
            ways->way[ways->count++] = way;
        }
    }
    find_limit(patch, pool, ways, first);
    return HW_OK;
}

hw_status hw_ways_of_two(hw_sheet_patch *patch, uint32_t number, const hw_pool *pool, hw_ways *ways,
                         hw_error *err)
{
    const hw_known *known = patch->task.known;
    hw_status status = HW_OK;
    for (uint32_t i = 0; i < pool->count && status == HW_OK; i++) {
        unsigned families = hw_tone_families(known, &pool->liquid[i].coat);
        status = make_room(ways, pool->count, err);
        for (uint32_t k = i + 1; k < pool->count && status == HW_OK; k++) {
            unsigned both = families | hw_tone_families(known, &pool->liquid[k].coat);
            if (hw_tone_bits(both) > patch->task.rules.families_most) {
                continue;
            }
            hw_way way = {.liquid = {i, k}, .patch = number, .loss = (double)NAN};
            try_passes(patch, pool, false, &way);
            if (way.bound <= patch->limit) {
                ways->way[ways->count++] = way;
            }
        }
    }
    return status;
}
