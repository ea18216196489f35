// tone_sheet_jars.c: the fewest liquids that serve all patches of a day, of those the fewest to mix, of those the
// least sum of losses.
//
// One jar for all is looked for first. Else: who knows that k - 1 do not reach looks through all sets of k: some
// patch is not served yet, and one of its ways is in the set, so only those are followed (branching on the first
// patch that is left). What each liquid and each pair of liquids may serve, by the loss of expected outcomes,
// stands in a bit a patch, so most sets are done with in a few steps; only sets that may serve all are
// scored, and a way that was promised too much loses its bit. The search is exact while it is short; past
// looks_most a set that was found by taking what serves most patches, again and again, is the answer.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

static const long looks_most = 30000; // looks through the whole pool: less than 0.1 s (chosen)

typedef struct jar_set {
    uint32_t liquid[HW_SHEET_PATCHES_MAX];
    size_t count;
    size_t fresh; // to be mixed
    double loss;  // of all patches together
} jar_set;

typedef struct search {
    hw_sheet_patch *patch;
    size_t patch_count;
    const hw_pool *pool;
    hw_ways ways;
    uint64_t all;
    uint64_t *serves; // of each pair of liquids (of one: twice the same), a bit a patch
    uint32_t *first;  // of each pair the place of its first way, and one; 0: none
    size_t *pairs;    // the ways of two, patch by patch
    size_t pairs_from[HW_SHEET_PATCHES_MAX + 1];
    size_t turn[HW_SHEET_PATCHES_MAX]; // patches, those with the fewest ways first
    jar_set best;
    long looks_left;
} search;

// ---- Tables ------------------------------------------------------------------------

static size_t place(const search *s, uint32_t one, uint32_t other)
{
    return one * s->pool->count + other;
}

static int by_liquids(const void *one, const void *other)
{
    const hw_way *a = one, *b = other;
    for (int k = 0; k < 2; k++) {
        if (a->liquid[k] != b->liquid[k]) {
            return a->liquid[k] > b->liquid[k] ? 1 : -1;
        }
    }
    return (a->patch > b->patch) - (a->patch < b->patch);
}

static void fill_tables(search *s)
{
    size_t n = s->pool->count;
    memset(s->serves, 0, n * n * sizeof *s->serves);
    memset(s->first, 0, n * n * sizeof *s->first);
    qsort(s->ways.way, s->ways.count, sizeof *s->ways.way, by_liquids);
    for (size_t i = 0; i < s->ways.count; i++) {
        const hw_way *way = &s->ways.way[i];
        size_t at = place(s, way->liquid[0], way->liquid[1]);
        if (way->loss == (double)INFINITY) {
            continue; // looked at, and it does not serve
        }
        s->serves[at] |= (uint64_t)1 << way->patch;
        s->serves[place(s, way->liquid[1], way->liquid[0])] = s->serves[at];
        if (s->first[at] == 0) {
            s->first[at] = (uint32_t)i + 1;
        }
    }
}

static hw_status list_pairs(search *s, hw_error *err)
{
    size_t counts[HW_SHEET_PATCHES_MAX] = {0}, at = 0;
    s->pairs = hw_alloc_array(s->ways.count, sizeof *s->pairs);
    if (!s->pairs) {
        return hw_fail_memory(err, "making the day's sheet");
    }
    for (uint32_t p = 0; p < s->patch_count; p++) {
        s->pairs_from[p] = at;
        for (size_t i = 0; i < s->ways.count; i++) {
            const hw_way *way = &s->ways.way[i];
            counts[p] += way->patch == p;
            if (way->patch == p && way->liquid[0] != way->liquid[1]) {
                s->pairs[at++] = i;
            }
        }
        s->pairs_from[p + 1] = at;
        size_t turn = p;
        for (; turn > 0 && counts[s->turn[turn - 1]] > counts[p]; turn--) {
            s->turn[turn] = s->turn[turn - 1];
        }
        s->turn[turn] = p;
    }
    return HW_OK;
}

// ---- One set -----------------------------------------------------------------------

// What a set may serve, and what one more liquid would add.
static uint64_t may_add(const search *s, const jar_set *set, uint32_t liquid)
{
    uint64_t served = s->serves[place(s, liquid, liquid)];
    for (size_t i = 0; i < set->count; i++) {
        served |= s->serves[place(s, liquid, set->liquid[i])];
    }
    return served;
}

static uint64_t may_serve(const search *s, const jar_set *set)
{
    jar_set part = *set;
    uint64_t served = 0;
    for (part.count = 0; part.count < set->count; part.count++) {
        served |= may_add(s, &part, set->liquid[part.count]);
    }
    return served;
}

static void push(const search *s, jar_set *set, uint32_t liquid)
{
    set->liquid[set->count++] = liquid;
    set->fresh += !s->pool->liquid[liquid].mixed;
}

static void pop(const search *s, jar_set *set)
{
    set->fresh -= !s->pool->liquid[set->liquid[--set->count]].mixed;
}

static bool holds(const jar_set *set, uint32_t liquid)
{
    for (size_t i = 0; i < set->count; i++) {
        if (set->liquid[i] == liquid) {
            return true;
        }
    }
    return false;
}

static hw_way *find_way(const search *s, uint32_t one, uint32_t other, uint32_t patch)
{
    size_t at = one < other ? place(s, one, other) : place(s, other, one);
    if (!(s->serves[at] >> patch & 1)) {
        return NULL;
    }
    size_t i = s->first[at] - 1;
    while (s->ways.way[i].patch != patch) {
        i++;
    }
    return &s->ways.way[i];
}

static double at_least(const hw_way *way)
{
    return isnan(way->loss) ? way->bound : way->loss;
}

// The way of a set that promises most, or NULL.
static hw_way *best_promise(const search *s, const jar_set *set, uint32_t patch)
{
    hw_way *best = NULL;
    for (size_t i = 0; i < set->count; i++) {
        for (size_t k = 0; k <= i; k++) {
            hw_way *way = find_way(s, set->liquid[i], set->liquid[k], patch);
            if (way && (!best || at_least(way) < at_least(best))) {
                best = way;
            }
        }
    }
    return best;
}

// The best way of a set; scores what promises more than what is known. NULL: it is not served.
static hw_way *best_way(search *s, const jar_set *set, uint32_t patch)
{
    hw_way *way = best_promise(s, set, patch);
    while (way && isnan(way->loss)) {
        hw_way_score(&s->patch[patch], s->pool, way);
        if (!(way->loss < (double)INFINITY)) {
            uint64_t others = ~((uint64_t)1 << patch);
            s->serves[place(s, way->liquid[0], way->liquid[1])] &= others;
            s->serves[place(s, way->liquid[1], way->liquid[0])] &= others;
        }
        way = best_promise(s, set, patch);
    }
    return way;
}

static bool is_better(const jar_set *set, const jar_set *than)
{
    return set->count != than->count   ? set->count < than->count
           : set->fresh != than->fresh ? set->fresh < than->fresh
                                       : set->loss < than->loss;
}

// A set that may serve all: is it the best yet?
static void consider(search *s, jar_set set)
{
    set.loss = 0.0;
    for (uint32_t p = 0; p < s->patch_count; p++) {
        const hw_way *way = best_promise(s, &set, p);
        if (!way) {
            return;
        }
        set.loss += at_least(way);
    }
    if (set.count == s->best.count && !is_better(&set, &s->best)) {
        return;
    }
    set.loss = 0.0;
    for (size_t i = 0; i < s->patch_count; i++) {
        const hw_way *way = best_way(s, &set, (uint32_t)s->turn[i]);
        if (!way) {
            return;
        }
        set.loss += way->loss;
    }
    if (is_better(&set, &s->best)) {
        s->best = set;
    }
}

// ---- All sets of a size ------------------------------------------------------------

static void try_last(search *s, jar_set *set, uint64_t missing)
{
    s->looks_left--;
    for (uint32_t i = 0; i < s->pool->count; i++) {
        if ((missing & ~may_add(s, set, i)) == 0 && !holds(set, i)) {
            push(s, set, i);
            consider(s, *set);
            pop(s, set);
        }
    }
}

static void extend(search *s, jar_set *set, size_t size);

static void extend_by_two(search *s, jar_set *set, size_t size, size_t patch)
{
    for (size_t i = s->pairs_from[patch]; i < s->pairs_from[patch + 1]; i++) {
        const uint32_t *pair = s->ways.way[s->pairs[i]].liquid;
        bool alone = (may_add(s, set, pair[0]) | may_add(s, set, pair[1])) >> patch & 1;
        if (!alone && s->serves[place(s, pair[0], pair[1])] >> patch & 1) {
            push(s, set, pair[0]);
            push(s, set, pair[1]);
            extend(s, set, size);
            pop(s, set);
            pop(s, set);
        }
    }
}

static void extend(search *s, jar_set *set, size_t size)
{
    uint64_t missing = s->all & ~may_serve(s, set);
    if (missing == 0) {
        consider(s, *set);
        missing = s->all & ~may_serve(s, set); // what was promised too much is known now
    }
    if (missing == 0 || set->count == size || s->looks_left <= 0) {
        return;
    }
    if (set->count + 1 == size) {
        try_last(s, set, missing);
        return;
    }
    size_t turn = 0;
    while (!(missing >> s->turn[turn] & 1)) {
        turn++;
    }
    size_t patch = s->turn[turn];
    for (uint32_t i = 0; i < s->pool->count; i++) {
        if (may_add(s, set, i) >> patch & 1) {
            push(s, set, i);
            extend(s, set, size);
            pop(s, set);
        }
    }
    extend_by_two(s, set, size, patch);
}

// ---- What serves most, again and again ---------------------------------------------

static uint64_t serves_indeed(search *s, const jar_set *set)
{
    uint64_t served = 0;
    for (uint32_t p = 0; p < s->patch_count; p++) {
        if (best_way(s, set, p)) {
            served |= (uint64_t)1 << p;
        }
    }
    return served;
}

// Ends: each patch's own liquid serves it.
static void take_most(search *s)
{
    jar_set set = {0};
    uint64_t missing = s->all;
    while (missing) {
        uint32_t best = 0;
        int most = 0;
        for (uint32_t i = 0; i < s->pool->count; i++) {
            int more = hw_tone_bits(missing & may_add(s, &set, i));
            if (more > most || (more == most && s->pool->liquid[i].mixed &&
                                !s->pool->liquid[best].mixed && more > 0)) {
                most = more;
                best = i;
            }
        }
        push(s, &set, best);
        uint64_t left = s->all & ~serves_indeed(s, &set);
        if (hw_tone_bits(missing) - hw_tone_bits(left) < most) {
            pop(s, &set); // it was promised too much: look again
        } else {
            missing = left;
        }
    }
    consider(s, set);
}

// ---- The choice --------------------------------------------------------------------

static hw_status make_tables(search *s, hw_error *err)
{
    size_t n = s->pool->count;
    s->serves = hw_alloc_array(n * n, sizeof *s->serves);
    s->first = hw_alloc_array(n * n, sizeof *s->first);
    hw_status status =
        s->serves && s->first ? HW_OK : hw_fail_memory(err, "making the day's sheet");
    for (uint32_t p = 0; p < s->patch_count && status == HW_OK; p++) {
        s->turn[p] = p;
        status = hw_ways_of_one(&s->patch[p], p, s->pool, &s->ways, err);
    }
    return status;
}

// All sets of 2, of 3 and so on, as long as it lasts; false: it did not.
static bool look_through(search *s)
{
    jar_set empty = {0};
    for (size_t size = 2; size <= s->best.count; size++) {
        extend(s, &empty, size);
        if (s->looks_left <= 0) {
            return size >= s->best.count;
        }
    }
    return true;
}

static hw_status choose(search *s, bool *fewest, hw_error *err)
{
    jar_set empty = {0};
    hw_status status = make_tables(s, err);
    *fewest = true;
    if (status == HW_OK) {
        fill_tables(s);
        try_last(s, &empty, s->all);
    }
    if (status != HW_OK || s->best.count == 1) {
        return status;
    }
    for (uint32_t p = 0; p < s->patch_count && status == HW_OK; p++) {
        status = hw_ways_of_two(&s->patch[p], p, s->pool, &s->ways, err);
    }
    if (status == HW_OK) {
        fill_tables(s);
        status = list_pairs(s, err);
    }
    if (status == HW_OK) {
        take_most(s);
        *fewest = look_through(s);
    }
    return status;
}

hw_status hw_jars_choose(hw_sheet_patch *patch, size_t count, const hw_pool *pool, hw_way *chosen,
                         bool *fewest, hw_error *err)
{
    search s = {.patch = patch, .patch_count = count, .pool = pool, .looks_left = looks_most};
    s.all = count < 64 ? ((uint64_t)1 << count) - 1 : ~(uint64_t)0;
    s.best.count = HW_SHEET_PATCHES_MAX + 1;
    hw_status status = choose(&s, fewest, err);
    for (uint32_t p = 0; p < count && status == HW_OK; p++) {
        chosen[p] = *best_way(&s, &s.best, p);
    }
    hw_free(s.serves);
    hw_free(s.first);
    hw_free(s.pairs);
    hw_free(s.ways.way);
    return status;
}
