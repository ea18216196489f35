// The day's sheet: held against a search of all sets of jars by loops of its own, and what must hold for every
// sheet: who stops is not touched, nothing costs more than it may, the job's chances are kept to, no step goes past
// a rule of advice one by one.
#include "picture.h"
#include "base_internal.h"
#include "known.h"
#include "tone_internal.h"

#define PATCHES_MOST 70

// ---- A day -------------------------------------------------------------------------

typedef struct day {
    hw_comparison gap[PATCHES_MOST];
    hw_tone_request request[PATCHES_MOST];
    hw_advice before[PATCHES_MOST], advice[PATCHES_MOST];
    size_t count;
    hw_sheet sheet;
} day;

// Repairs of one piece: lighter than old wood that is much alike, and off in hue either way.
static void make_day(day *d, size_t count, const hw_known *known, const hw_tone_rules *rules,
                     uint64_t seed)
{
    d->count = count;
    for (size_t i = 0; i < count; i++) {
        hw_lab old = {48 + 2 * picture_random(&seed), 11.5 + picture_random(&seed),
                      24 + picture_random(&seed)};
        hw_lab repair = {old.L + 1.5 + 4.5 * picture_random(&seed),
                         old.a - 3.5 + 4 * picture_random(&seed),
                         old.b - 3.5 + 5 * picture_random(&seed)};
        d->gap[i] = gap_of(repair, old);
        snprintf(d->gap[i].patch, sizeof d->gap[i].patch, "repair %zu", i + 1);
        d->request[i] = (hw_tone_request){.gap = &d->gap[i], .known = known, .rules = rules};
    }
}

static void advise_all(day *d)
{
    for (size_t i = 0; i < d->count; i++) {
        check_true(hw_tone_advise(&d->request[i], &d->before[i], NULL) == HW_OK);
        d->advice[i] = d->before[i];
    }
}

static void ask(day *d, const hw_liquid *mixed, size_t mixed_count)
{
    advise_all(d);
    hw_sheet_free(&d->sheet);
    check_true(hw_tone_sheet(d->request, d->advice, d->count, mixed, mixed_count, &d->sheet,
                             NULL) == HW_OK);
}

// ---- What holds for every sheet ----------------------------------------------------

static bool is_jar(const hw_sheet *sheet, const hw_liquid *liquid)
{
    for (size_t i = 0; i < sheet->jar_count; i++) {
        if (hw_liquid_is_same(&sheet->jar[i].liquid, liquid)) {
            return true;
        }
    }
    return false;
}

static bool rests_on_guess(const hw_known *known, const hw_liquid *liquid)
{
    bool guess = false;
    for (size_t k = 0; k < liquid->count; k++) {
        guess = guess || hw_known_find(known, liquid->dose[k].dye)->guess;
    }
    return guess;
}

// The way with the jars: jars alone, two layers and families at most, not past the old wood by more than can be
// told (tone.h, hw_tone_advise), begun by `next` as the jar is, half of its passes at most while it is a guess.
static void check_way(const day *d, size_t i, const hw_tone_rules *rules)
{
    const hw_advice *advice = &d->advice[i];
    const hw_option *way = &advice->sheet_plan;
    const hw_known *known = d->request[i].known;
    const hw_comparison *gap = &d->gap[i];
    const hw_after *end = &way->after[way->after_count - 1];
    unsigned families = 0;
    int passes = 0;
    bool begun = false;
    check_true(way->layer_count >= 1 && way->layer_count <= 2 && way->mix[0]);
    for (size_t k = 0; k < way->layer_count; k++) {
        const hw_liquid *liquid = &way->layer[k].liquid;
        check_true(is_jar(&d->sheet, liquid));
        for (size_t n = 0; n < liquid->count; n++) {
            families |= 1u << hw_known_find(known, liquid->dose[n].dye)->family;
        }
        passes += way->layer[k].passes;
        if (hw_liquid_is_same(liquid, &advice->next.liquid)) {
            int half = way->layer[k].passes / 2 > 1 ? way->layer[k].passes / 2 : 1;
            begun = advice->next.passes <=
                    (rests_on_guess(known, liquid) ? half : way->layer[k].passes);
        }
    }
    check_true(begun && __builtin_popcount(families) <= rules->families_most);
    check_true(passes <= rules->passes_most && (int)way->after_count == passes + 1);
    check_true(advice->sheet_cost >= 0.0 && advice->sheet_cost <= HW_SHEET_COST_MOST + 1e-9);
    check_true(end->lab.L >= gap->target_lab.L - 0.3 - 1e-9);
    double before[2] = {gap->gap.a, gap->gap.b};
    double after[2] = {end->lab.a - gap->target_lab.a, end->lab.b - gap->target_lab.b};
    for (int k = 0; k < 2; k++) {
        check_true(before[k] > 0 ? after[k] >= -0.5 - 1e-9 : after[k] <= 0.5 + 1e-9);
    }
}

static void check_sheet(const day *d, const hw_tone_rules *rules, double risk_spent)
{
    size_t steps = 0, patches = 0;
    int passes = 0, in_jars = 0;
    double left = rules->risk_job - risk_spent;
    for (size_t i = 0; i < d->count; i++) {
        const hw_advice *advice = &d->advice[i], *alone = &d->before[i];
        if (!alone->has_next) {
            check_true(memcmp(advice, alone, sizeof *advice) == 0);
            continue;
        }
        check_true(!advice->has_next ||
                   (advice->option_count == alone->option_count &&
                    memcmp(advice->option, alone->option, sizeof advice->option) == 0));
        steps += advice->has_next;
        passes += advice->has_next ? advice->next.passes : 0;
        if (advice->by_sheet) {
            check_way(d, i, rules);
        } else {
            check_true(advice->sheet_cost == 0.0 && advice->sheet_plan.layer_count == 0);
        }
    }
    check_true(d->sheet.step_count == steps);
    for (size_t k = 0; k < d->sheet.step_count; k++) {
        const hw_sheet_step *step = &d->sheet.step[k];
        const hw_advice *advice = &d->advice[step->patch];
        check_true(hw_liquid_is_same(&advice->next.liquid, &d->sheet.jar[step->jar].liquid));
        check_true(k == 0 || step->jar > step[-1].jar ||
                   (step->jar == step[-1].jar &&
                    advice->next_risk >= d->advice[step[-1].patch].next_risk));
        // The rules of tone.h, and never more than half of the chance that the job has left.
        check_true(advice->next_risk <= rules->risk_look &&
                   advice->next_risk <= 0.5 * left + 1e-12);
        check_true(advice->next_help >= rules->least_help);
        check_holds(advice->why, advice->next.liquid.dose[0].dye);
        check_holds(advice->full_strength, advice->next.liquid.dose[0].dye);
        left -= advice->next_risk;
    }
    for (size_t i = 0; i < d->sheet.jar_count; i++) {
        patches += d->sheet.jar[i].patches;
        in_jars += d->sheet.jar[i].passes;
    }
    check_true(patches == steps && in_jars == passes && left >= 0.0);
}

// ---- All sets of jars, by loops ----------------------------------------------------

#define JARS_MOST 60

typedef struct brute {
    hw_coat_of_dye jar[JARS_MOST];
    bool mixed[JARS_MOST];
    size_t jars;
    double best, limit;
    double loss[4][JARS_MOST][JARS_MOST]; // by patch; [i][i]: one layer
    signed char laid[JARS_MOST]
                    [7]; // of the patch at hand, by passes planned: 1 may be laid, -1 not
} brute;

static void all_liquids(const hw_known *known, brute *b)
{
    const double rungs[4] = {1.0, 0.5, 0.25, 0.125};
    b->jars = 0;
    for (size_t i = 0; i < known->count; i++) {
        for (size_t k = i; k < known->count; k++) {
            for (int r = 0; r < 4; r++) {
                for (int q = 0; q < 4; q++) {
                    if (i == k && q == 0) {
                        b->jar[b->jars++] =
                            (hw_coat_of_dye){.dye = {i}, .strength = {rungs[r]}, .dyes = 1};
                    } else if (i != k && rungs[r] + rungs[q] <= 1.0) {
                        b->jar[b->jars++] = (hw_coat_of_dye){
                            .dye = {i, k}, .strength = {rungs[r], rungs[q]}, .dyes = 2};
                    }
                }
            }
        }
    }
}

// By the words of tone.h: some number of passes, half of the plan's while it is a guess, within the risk, that
// more likely helps.
static bool may_be_laid(const hw_tone_task *task, hw_coat_of_dye coat, int planned, double risk)
{
    hw_plan none = {.count = 0}, step = {.coat = {coat}, .count = 1};
    bool guess = false;
    for (size_t k = 0; k < coat.dyes; k++) {
        guess = guess || task->known->dye[coat.dye[k]].guess;
    }
    int most = guess ? (planned > 3 ? planned / 2 : 1) : planned;
    hw_outcome still = hw_tone_outcome(task, &none, 1.0);
    double now = hw_tone_loss(task, &still, 0);
    for (int passes = 1; passes <= most; passes++) {
        hw_after after;
        double help;
        step.coat[0].passes = passes;
        hw_outcome outcome = hw_tone_outcome(task, &step, 1.0);
        if (hw_tone_overshoot(task, &outcome) > risk) {
            return false;
        }
        hw_tone_range(task, &outcome, &after, &help);
        if (help >= task->rules.least_help &&
            hw_tone_loss(task, &outcome, passes) <= now - task->rules.least_gain) {
            return true;
        }
    }
    return false;
}

static bool jar_may_be_laid(const hw_tone_task *task, brute *b, size_t jar, int planned,
                            double risk)
{
    signed char *answer = &b->laid[jar][planned];
    if (*answer == 0) {
        *answer = may_be_laid(task, b->jar[jar], planned, risk) ? 1 : -1;
    }
    return *answer > 0;
}

static bool few_families(const hw_tone_task *task, const hw_plan *plan)
{
    unsigned set = 0;
    for (size_t i = 0; i < plan->count; i++) {
        for (size_t k = 0; k < plan->coat[i].dyes; k++) {
            set |= 1u << task->known->dye[plan->coat[i].dye[k]].family;
        }
    }
    return __builtin_popcount(set) <= task->rules.families_most;
}

// The least loss of one or two jars over all passes; infinite where they do not serve.
static double least_loss(const hw_tone_task *task, brute *b, size_t i, size_t k, double risk)
{
    double best = (double)INFINITY;
    for (int first = 1; first <= 6; first++) {
        for (int second = i == k ? 0 : 1; second <= (i == k ? 0 : 6 - first); second++) {
            hw_plan plan = {.coat = {b->jar[i], b->jar[k]}, .count = i == k ? 1 : 2};
            plan.coat[0].passes = first;
            plan.coat[1].passes = second;
            if (!few_families(task, &plan)) {
                continue;
            }
            hw_outcome outcome = hw_tone_outcome(task, &plan, 0.5);
            if (!hw_tone_stays_short(task, hw_tone_colour(task, outcome.density))) {
                continue;
            }
            double loss =
                hw_tone_loss(task, &outcome, first + second) + hw_tone_side_cost(task, &plan);
            if (loss < best && (jar_may_be_laid(task, b, i, first, risk) ||
                                (i != k && jar_may_be_laid(task, b, k, second, risk)))) {
                best = loss;
            }
        }
    }
    return best;
}

static size_t jar_at(const brute *b, const hw_known *known, const hw_liquid *liquid)
{
    size_t at = 0;
    for (; at < b->jars; at++) {
        const hw_coat_of_dye *jar = &b->jar[at];
        bool same = jar->dyes == liquid->count;
        for (size_t k = 0; same && k < jar->dyes; k++) {
            same = strcmp(known->dye[jar->dye[k]].name, liquid->dose[k].dye) == 0 &&
                   jar->strength[k] == liquid->dose[k].strength;
        }
        if (same) {
            break;
        }
    }
    return at;
}

static double own_plan_loss(const hw_tone_task *task, const hw_option *plan, double risk)
{
    bool good = false;
    for (size_t k = 0; k < plan->layer_count; k++) {
        hw_coat_of_dye coat;
        check_true(hw_tone_coat_of(task->known, &plan->layer[k].liquid, &coat));
        good = good || may_be_laid(task, coat, plan->layer[k].passes, risk);
    }
    return good ? plan->loss : (double)INFINITY;
}

// Fills what all jars and pairs cost one patch.
static void weigh(const hw_tone_request *request, const hw_advice *advice, double risk, brute *b,
                  size_t patch)
{
    hw_tone_task task;
    hw_plan none = {.count = 0};
    check_true(hw_tone_task_of(request, &task, NULL) == HW_OK);
    memset(b->laid, 0, sizeof b->laid);
    b->best = own_plan_loss(&task, &advice->option[0], risk);
    for (size_t i = 0; i < b->jars; i++) {
        for (size_t k = i; k < b->jars; k++) {
            b->loss[patch][i][k] = least_loss(&task, b, i, k, risk);
        }
        b->best = fmin(b->best, b->loss[patch][i][i]);
    }
    hw_outcome still = hw_tone_outcome(&task, &none, 1.0);
    b->limit =
        fmin(b->best + HW_SHEET_COST_MOST, hw_tone_loss(&task, &still, 0) - task.rules.least_gain);
    size_t own = jar_at(b, request->known, &advice->next.liquid);
    if (check_true(own < b->jars)) {
        b->loss[patch][own][own] = fmin(b->loss[patch][own][own], b->limit);
    }
    for (size_t i = 0; i < b->jars; i++) {
        for (size_t k = i; k < b->jars; k++) {
            if (b->loss[patch][i][k] > b->limit) {
                b->loss[patch][i][k] = (double)INFINITY;
            }
            b->loss[patch][k][i] = b->loss[patch][i][k];
        }
    }
    hw_tone_task_free(&task);
}

static double sum_of(const brute *b, const size_t set[3], size_t size, size_t patches)
{
    double sum = 0.0;
    for (size_t p = 0; p < patches; p++) {
        double least = (double)INFINITY;
        for (size_t i = 0; i < size; i++) {
            for (size_t k = 0; k <= i; k++) {
                least = fmin(least, b->loss[p][set[i]][set[k]]);
            }
        }
        sum += least;
    }
    return sum;
}

// The fewest jars (of up to three), the fewest to mix of those, and the least sum; 0 jars: more than three.
static size_t fewest_jars(const brute *b, size_t patches, size_t *fresh, double *sum)
{
    for (size_t size = 1; size <= 3; size++) {
        *fresh = 4;
        *sum = (double)INFINITY;
        for (size_t i = 0; i < b->jars; i++) {
            for (size_t k = size > 1 ? i + 1 : 0; k < (size > 1 ? b->jars : 1); k++) {
                for (size_t m = size > 2 ? k + 1 : 0; m < (size > 2 ? b->jars : 1); m++) {
                    size_t set[3] = {i, k, m}, mix = 0;
                    double one = sum_of(b, set, size, patches);
                    for (size_t n = 0; n < size; n++) {
                        mix += !b->mixed[set[n]];
                    }
                    if (one < (double)INFINITY && (mix < *fresh || (mix == *fresh && one < *sum))) {
                        *fresh = mix;
                        *sum = one;
                    }
                }
            }
        }
        if (*sum < (double)INFINITY) {
            return size;
        }
    }
    return 0;
}

// A shelf of some of the families, as guesses or as boards would have taught them.
static hw_known few_dyes(const hw_family *family, size_t count, bool boards)
{
    hw_shelf shelf = {0};
    hw_known known = {0};
    if (boards) {
        shelf = shelf_of_boards(0.08);
    } else {
        check_true(hw_shelf_guesses(&shelf, NULL) == HW_OK);
    }
    for (size_t i = 0; i < count; i++) {
        hw_dye dye =
            shelf
                .dye[family[i]]; // in the order of families: none is written over before it is read
        shelf.dye[i] = dye;
    }
    shelf.count = count;
    check_true(hw_tone_learn(&shelf, "", (hw_lab){50, 12, 25}, &known, NULL) == HW_OK);
    hw_shelf_free(&shelf);
    return known;
}

// Of 12 small days: as few jars as all sets of one, two, three jars allow, as few to mix, and no more loss.
static void test_all_sets(void)
{
    static brute b;
    static day d;
    const hw_family warm[3] = {HW_FAMILY_AMBER, HW_FAMILY_RED, HW_FAMILY_BLACK};
    const hw_family plain[2] = {HW_FAMILY_RED_BROWN, HW_FAMILY_BROWN};
    const hw_tone_rules rules = hw_tone_rules_default();
    size_t compared = 0, by_size[4] = {0}, two_layers = 0;
    for (uint64_t seed = 1; seed <= 12; seed++) {
        bool few = seed % 4 == 0;
        hw_known known = few_dyes(few ? plain : warm, few ? 2 : 3, seed % 2 == 0);
        make_day(&d, 2 + seed % 3, &known, NULL, seed);
        memset(b.mixed, 0, sizeof b.mixed);
        all_liquids(&known, &b);
        advise_all(&d);
        size_t toned = 0;
        for (size_t i = 0; i < d.count; i++) {
            toned += d.before[i].has_next;
        }
        double risk = fmin(rules.risk_look, rules.risk_job / (double)(toned + 1));
        hw_liquid mixed = {.dose = {{.strength = 0.25}}, .count = 1};
        memcpy(mixed.dose[0].dye, known.dye[1].name, HW_NAME_SIZE);
        size_t mixed_count = seed % 3 == 0;
        b.mixed[jar_at(&b, &known, &mixed)] = mixed_count > 0;
        bool within = toned > 1;
        size_t place = 0;
        for (size_t i = 0; i < d.count; i++) {
            within = within && (!d.before[i].has_next || d.before[i].next_risk <= risk);
            if (d.before[i].has_next) {
                weigh(&d.request[i], &d.before[i], risk, &b, place++);
            }
        }
        ask(&d, &mixed, mixed_count);
        check_sheet(&d, &rules, 0.0);
        size_t fresh, found = 0, got_fresh = 0;
        double sum, got = 0.0;
        size_t fewest = fewest_jars(&b, place, &fresh, &sum);
        if (!within || fewest == 0) {
            hw_known_free(&known);
            continue; // one patch, or its own step is taken again for less risk
        }
        place = 0;
        for (size_t i = 0; i < d.count; i++) {
            if (!d.before[i].has_next) {
                continue;
            }
            const hw_advice *advice = &d.advice[i];
            size_t own = jar_at(&b, &known, &d.before[i].next.liquid);
            got += advice->by_sheet ? advice->sheet_plan.loss : b.loss[place][own][own];
            two_layers += advice->by_sheet && advice->sheet_plan.layer_count == 2;
            place++;
        }
        for (size_t i = 0; i < d.sheet.jar_count; i++) {
            got_fresh += !d.sheet.jar[i].mixed;
            found++;
        }
        check_true(found == fewest && d.sheet.fewest);
        check_true(got_fresh == fresh);
        check_close(got, sum, 1e-9);
        compared++;
        by_size[fewest]++;
        hw_known_free(&known);
    }
    printf("%zu days compared: one jar %zu, two %zu, three %zu; %zu ways of two layers\n", compared,
           by_size[1], by_size[2], by_size[3], two_layers);
    check_true(compared >= 9 && by_size[1] > 0 && by_size[2] > 0);
    hw_sheet_free(&d.sheet);
}

// ---- What the words of tone.h say --------------------------------------------------

// One patch, nothing mixed: its own advice, to the byte.
static void test_one_patch(void)
{
    static day d;
    hw_known known = known_guesses();
    make_day(&d, 1, &known, NULL, 7);
    ask(&d, NULL, 0);
    check_true(d.before[0].has_next && memcmp(&d.advice[0], &d.before[0], sizeof d.advice[0]) == 0);
    check_true(d.sheet.jar_count == 1 && d.sheet.step_count == 1 && d.sheet.fewest);
    check_true(hw_liquid_is_same(&d.sheet.jar[0].liquid, &d.before[0].next.liquid));
    check_true(!d.sheet.jar[0].mixed && d.sheet.jar[0].patches == 1);
    check_true(d.sheet.jar[0].passes == d.before[0].next.passes);
    make_day(&d, 0, &known, NULL, 7);
    ask(&d, NULL, 0);
    check_true(d.sheet.jar_count == 0 && d.sheet.step_count == 0);
    hw_sheet_free(&d.sheet);
    hw_known_free(&known);
}

// Who stops is not touched, in whatever place it stands, and takes no jar.
static void test_stops(void)
{
    static day d;
    const hw_tone_rules rules = hw_tone_rules_default();
    hw_known known = known_guesses();
    make_day(&d, 5, &known, NULL, 11);
    d.gap[0] = gap_of((hw_lab){46, 12, 24}, (hw_lab){50, 12, 25}); // too dark already
    d.gap[3] = gap_of((hw_lab){50.3, 12, 25}, (hw_lab){50, 12, 25});
    ask(&d, NULL, 0);
    check_true(d.before[0].stop && d.before[3].stop && d.before[1].has_next);
    check_sheet(&d, &rules, 0.0);
    check_true(d.sheet.jar_count < d.sheet.step_count);
    hw_sheet_free(&d.sheet);
    hw_known_free(&known);
}

// A jar that stands mixed, off the ladder, is taken as it is where it serves; one of a dye that is not known is not.
static void test_mixed(void)
{
    static day d;
    const hw_tone_rules rules = hw_tone_rules_default();
    hw_known known = few_dyes((const hw_family[2]){HW_FAMILY_RED, HW_FAMILY_BROWN}, 2, true);
    make_day(&d, 2, &known, NULL, 3);
    d.gap[0] = gap_of((hw_lab){53.5, 13, 26.5}, (hw_lab){50, 12, 25});
    d.gap[1] = gap_of((hw_lab){53.0, 12.8, 26.3}, (hw_lab){49.6, 12, 24.8});
    ask(&d, NULL, 0);
    check_true(d.sheet.jar_count == 1 && !d.sheet.jar[0].mixed);
    const hw_liquid mixed[2] = {{{{"lime", 0.5}}, 1}, {{{"brown", 0.4}}, 1}};
    ask(&d, mixed, 2);
    check_sheet(&d, &rules, 0.0);
    check_true(d.sheet.jar_count == 1 && d.sheet.jar[0].mixed && d.sheet.jar[0].patches == 2);
    check_true(hw_liquid_is_same(&d.sheet.jar[0].liquid, &mixed[1]));
    for (size_t i = 0; i < 2; i++) {
        check_true(d.advice[i].by_sheet && d.advice[i].next.liquid.dose[0].strength == 0.4);
        check_text(d.advice[i].sheet_plan.mix, "brown at 0.4 of full strength");
    }
    // One patch alone takes it too.
    d.count = 1;
    ask(&d, mixed, 2);
    check_true(d.sheet.jar_count == 1 && d.sheet.jar[0].mixed);
    // What does not serve stays where it is: a full-strength red.
    const hw_liquid red = {{{"red", 1.0}}, 1};
    ask(&d, &red, 1);
    check_true(d.sheet.jar_count == 1 && !d.sheet.jar[0].mixed);
    // A mixture, its dyes the other way round, is the same liquid.
    hw_known all = known_guesses();
    make_day(&d, 3, &all, NULL, 5);
    ask(&d, NULL, 0);
    hw_liquid turned = {.count = 0};
    for (size_t i = 0; i < d.sheet.jar_count; i++) {
        const hw_liquid *liquid = &d.sheet.jar[i].liquid;
        if (liquid->count == 2) {
            turned = (hw_liquid){{liquid->dose[1], liquid->dose[0]}, 2};
        }
    }
    size_t jars = d.sheet.jar_count;
    if (turned.count == 2) {
        ask(&d, &turned, 1);
        check_true(d.sheet.jar_count == jars && is_jar(&d.sheet, &turned));
    }
    check_true(turned.count == 2);
    hw_sheet_free(&d.sheet);
    hw_known_free(&known);
    hw_known_free(&all);
}

// The job's chance holds whatever of it is spent, also where advice one by one, not told of each other, takes more.
static void test_risk(void)
{
    static day d;
    const hw_tone_rules rules = hw_tone_rules_default();
    hw_known known = known_guesses();
    size_t steps = 0, lessened = 0;
    for (int k = 0; k <= 4; k++) {
        double spent = 0.0049 * k;
        for (uint64_t seed = 20; seed < 26; seed++) {
            make_day(&d, 6, &known, NULL, seed);
            for (size_t i = 0; i < d.count; i++) {
                // Near in depth and red: every step is a risk.
                d.gap[i] = gap_of((hw_lab){50.6 + 0.4 * (double)i, 14.5, 25},
                                  (hw_lab){50, 12, 25 - 0.1 * (double)seed});
                d.request[i].risk_spent = spent;
            }
            ask(&d, NULL, 0);
            check_sheet(&d, &rules, spent);
            double share = (rules.risk_job - spent) / (double)(d.sheet.step_count + 1);
            for (size_t i = 0; i < d.count; i++) {
                lessened += d.before[i].has_next && d.before[i].next_risk > share;
                check_true(d.advice[i].has_next || (d.advice[i].stop && d.advice[i].why[0]));
            }
            steps += d.sheet.step_count;
        }
    }
    printf("%zu steps, %zu of them less risky than by their own advice\n", steps, lessened);
    check_true(steps > 60 && lessened > 0);
    hw_sheet_free(&d.sheet);
    hw_known_free(&known);
}

// Many patches, more than are looked at together, also of a large shelf; twice the same.
static void test_many(void)
{
    static day d, again;
    const hw_tone_rules rules = hw_tone_rules_default();
    hw_known known = known_guesses();
    make_day(&d, PATCHES_MOST, &known, NULL, 31);
    ask(&d, NULL, 0);
    check_sheet(&d, &rules, 0.0);
    printf("%zu patches, %zu jars\n", d.sheet.step_count, d.sheet.jar_count);
    check_true(d.sheet.step_count > HW_SHEET_PATCHES_MAX &&
               3 * d.sheet.jar_count < d.sheet.step_count);
    make_day(&again, PATCHES_MOST, &known, NULL, 31);
    ask(&again, NULL, 0);
    check_true(again.sheet.jar_count == d.sheet.jar_count);
    for (size_t i = 0; i < d.count; i++) {
        check_true(hw_liquid_is_same(&again.advice[i].next.liquid, &d.advice[i].next.liquid) &&
                   again.advice[i].next.passes == d.advice[i].next.passes);
        check_text(again.advice[i].why, d.advice[i].why);
    }
    hw_sheet_free(&again.sheet);
    hw_known_free(&known);

    hw_shelf shelf = {0};
    known = (hw_known){0};
    shelf.dye = hw_alloc_array(30, sizeof *shelf.dye);
    for (size_t i = 0; i < 30 && check_true(shelf.dye != NULL); i++) {
        shelf.dye[i] = hw_dye_guess((hw_family)(i % HW_FAMILY_COUNT));
        snprintf(shelf.dye[i].name, HW_NAME_SIZE, "dye %zu", i + 1);
    }
    shelf.count = 30;
    check_true(hw_tone_learn(&shelf, "", (hw_lab){50, 12, 25}, &known, NULL) == HW_OK);
    make_day(&d, 6, &known, NULL, 32);
    ask(&d, NULL, 0);
    check_sheet(&d, &rules, 0.0);
    check_true(d.sheet.jar_count < d.sheet.step_count);
    hw_sheet_free(&d.sheet);
    hw_known_free(&known);
    hw_shelf_free(&shelf);
}

// Hue before depth, weak before strong, black last, and what is not laid today behind all (common practice, no
// source).
static void test_order(void)
{
    static day d;
    const hw_tone_rules rules = hw_tone_rules_default();
    hw_known known =
        few_dyes((const hw_family[3]){HW_FAMILY_AMBER, HW_FAMILY_RED, HW_FAMILY_BLACK}, 3, true);
    size_t looked_at = 0;
    for (uint64_t seed = 40; seed < 52; seed++) {
        make_day(&d, 6, &known, NULL, seed);
        ask(&d, NULL, 0);
        check_sheet(&d, &rules, 0.0);
        for (size_t i = 1; i < d.sheet.jar_count; i++) {
            const hw_sheet_jar *one = &d.sheet.jar[i - 1], *other = &d.sheet.jar[i];
            bool black_one = strcmp(one->liquid.dose[one->liquid.count - 1].dye, "black") == 0;
            bool black_other =
                strcmp(other->liquid.dose[other->liquid.count - 1].dye, "black") == 0;
            looked_at += other->patches > 0;
            check_true(one->patches > 0 || other->patches == 0);
            check_true(other->patches == 0 || !black_one || black_other);
            if (one->patches > 0 && other->patches > 0 && one->liquid.count == 1 &&
                other->liquid.count == 1 &&
                strcmp(one->liquid.dose[0].dye, other->liquid.dose[0].dye) == 0) {
                check_true(one->liquid.dose[0].strength < other->liquid.dose[0].strength);
            }
        }
    }
    check_true(looked_at > 5);
    hw_sheet_free(&d.sheet);
    hw_known_free(&known);
}

// Red parts most under another lamp, black least (tone_doubt.c); an option says how much.
static void test_lamp_risk(void)
{
    static hw_advice advice;
    hw_known red = few_dyes((const hw_family[1]){HW_FAMILY_RED}, 1, true);
    hw_known black = few_dyes((const hw_family[1]){HW_FAMILY_BLACK}, 1, true);
    hw_comparison gap = gap_of((hw_lab){54, 9, 25}, (hw_lab){50, 12, 25});
    hw_tone_request request = {.gap = &gap, .known = &red};
    check_true(hw_tone_advise(&request, &advice, NULL) == HW_OK && advice.option_count > 0);
    const hw_layer *layer = &advice.option[0].layer[0];
    check_close(advice.option[0].lamp_risk, 1.0 * layer->passes * layer->liquid.dose[0].strength,
                1e-12);
    gap = gap_of((hw_lab){54, 13, 28}, (hw_lab){50, 12, 25});
    request.known = &black;
    check_true(hw_tone_advise(&request, &advice, NULL) == HW_OK && advice.option_count > 0);
    check_close(advice.option[0].lamp_risk, 0.1 * layer->passes * layer->liquid.dose[0].strength,
                1e-12);
    hw_known_free(&red);
    hw_known_free(&black);
}

static void test_refusal(void)
{
    static day d;
    hw_known guesses = known_guesses();
    hw_known two = few_dyes((const hw_family[2]){HW_FAMILY_RED, HW_FAMILY_BROWN}, 2, false);
    hw_error err = {0};
    make_day(&d, 2, &guesses, NULL, 7);
    d.request[1].known = &two;
    d.gap[1] = gap_of((hw_lab){53.5, 11, 26.5}, (hw_lab){50, 12, 25});
    advise_all(&d);
    check_true(d.before[0].has_next && d.before[1].has_next);
    check_true(hw_tone_sheet(d.request, d.advice, 2, NULL, 0, &d.sheet, &err) == HW_ERR_CALL);
    check_text(err.code, "shelf-differs");
    check_true(d.sheet.jar == NULL);
    hw_known_free(&guesses);
    hw_known_free(&two);
}

// Of more jars than are looked at the latest are known, and they come first (hw_job_mixed_jars).
static void test_many_jars(void)
{
    enum { JARS = 61 };
    hw_known known = known_guesses();
    hw_liquid mixed[JARS];
    hw_advice advice = {.next.liquid = {{{"red", 0.25}}, 1}};
    hw_sheet_patch patch = {.advice = &advice, .task.known = &known};
    hw_pool pool = {0};
    bool there[JARS];
    for (int i = 0; i < JARS; i++) {
        mixed[i] = (hw_liquid){{{"brown", 0.9 - 0.01 * i}}, 1};
    }
    check_true(hw_pool_make(&patch, 1, mixed, JARS, &pool, NULL) == HW_OK);
    for (int i = 0; i < JARS; i++) {
        hw_coat_of_dye coat;
        check_true(hw_tone_coat_of(&known, &mixed[i], &coat));
        size_t at = hw_pool_find(&pool, &coat);
        there[i] = at < pool.count && pool.liquid[at].mixed;
    }
    check_true(there[0] && there[JARS - 2] && !there[JARS - 1]);
    hw_free(pool.liquid);
    hw_known_free(&known);
}

// A jar at 0.3333 is the one at 1/3, in the pool as everywhere; one at 0.34 is another.
static void test_one_liquid(void)
{
    hw_known known = known_guesses();
    hw_liquid mixed[] = {{{{"brown", 0.3333}}, 1},
                         {{{"brown", 1.0 / 3.0}}, 1},
                         {{{"red", 0.25}, {"black", 1.0 / 3.0}}, 2},
                         {{{"black", 0.3333}, {"red", 0.25}}, 2},
                         {{{"brown", 0.34}}, 1}};
    const size_t jars = sizeof mixed / sizeof *mixed;
    hw_advice advice = {.next.liquid = {{{"red", 0.25}}, 1}};
    hw_sheet_patch patch = {.advice = &advice, .task.known = &known};
    hw_pool pool = {0};
    size_t place[sizeof mixed / sizeof *mixed], count = 0;
    check_true(hw_pool_make(&patch, 1, mixed, jars, &pool, NULL) == HW_OK);
    for (size_t i = 0; i < jars; i++) {
        hw_coat_of_dye coat;
        check_true(hw_tone_coat_of(&known, &mixed[i], &coat));
        place[i] = hw_pool_find(&pool, &coat);
        check_true(place[i] < pool.count);
    }
    for (size_t i = 0; i < pool.count; i++) {
        count += pool.liquid[i].mixed;
    }
    check_true(count == 3 && place[0] == place[1] && place[2] == place[3] && place[4] != place[0]);
    hw_free(pool.liquid);
    hw_known_free(&known);
}

int main(void)
{
    test_all_sets();
    test_one_patch();
    test_stops();
    test_mixed();
    test_risk();
    test_many();
    test_order();
    test_lamp_risk();
    test_refusal();
    test_many_jars();
    test_one_liquid();
    return check_done();
}
