// tone_sheet.c: the day's sheet. A finisher does not tone one patch with one dye: two or three jars are mixed
// in the morning, and with these they go round the piece.
//
//   advice for each patch ─▶ liquids that serve it (tone_sheet_ways.c) ─▶ the fewest jars (tone_sheet_jars.c)
//     ─▶ each patch's step and way with these ─▶ the order of laying
//
// The job's chance of overshoot is shared evenly: with B left and n patches each step may take B / (n + 1), so in
// whatever order they are laid none takes more than half of what is left then, and some is left for the next
// look. (Advice one by one gives half of it to the first patch; for one patch both are the same.)
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

void hw_sheet_free(hw_sheet *sheet)
{
    if (sheet) {
        hw_free(sheet->jar);
        hw_free(sheet->step);
        *sheet = (hw_sheet){0};
    }
}

// ---- Patches that want toner -------------------------------------------------------

typedef struct day {
    hw_sheet_patch *patch; // those that want toner; owned
    hw_way *way;           // of each; `liquid` in the pool of its turn
    bool *own;             // each keeps its own advice
    size_t count;
    hw_liquid *standing; // what is mixed, then the jars that are chosen
    size_t standing_count, mixed_count;
} day;

static bool same_dyes(const hw_known *one, const hw_known *other)
{
    bool same = one->count == other->count;
    for (size_t i = 0; same && i < one->count; i++) {
        same = strcmp(one->dye[i].name, other->dye[i].name) == 0;
    }
    return same;
}

static hw_status take_patches(const hw_tone_request *request, hw_advice *advice, size_t count,
                              day *d, hw_error *err)
{
    for (size_t i = 0; i < count; i++) {
        if (!advice[i].has_next) {
            continue;
        }
        if (d->count > 0 && !same_dyes(request[i].known, d->patch[0].request->known)) {
            return hw_fail(err, HW_ERR_CALL, "shelf-differs", advice[i].patch,
                           "Ask for advice on all patches with one shelf.",
                           "it was planned with other dyes than the patches before it");
        }
        hw_sheet_patch *one = &d->patch[d->count];
        *one = (hw_sheet_patch){.request = &request[i], .advice = &advice[i], .sheet_place = i};
        hw_status status = hw_tone_planning_task(&request[i], &one->task, err);
        if (status != HW_OK) {
            return status;
        }
        d->count++;
        one->budget = hw_tone_passes_left(&one->task.rules, advice[i].passes_so_far);
        one->budget = one->budget < HW_PLAN_PASSES_MAX ? one->budget : HW_PLAN_PASSES_MAX;
    }
    return HW_OK;
}

// What each may risk; its own step is taken again where it risks more, and who has none then is left alone.
static void share_risk(day *d)
{
    double spent =
        (double)INFINITY; // before today: advice one by one may have counted some of today's
    size_t kept = 0;
    for (size_t i = 0; i < d->count; i++) {
        spent = fmin(spent, d->patch[i].request->risk_spent);
    }
    for (size_t i = 0; i < d->count; i++) {
        hw_sheet_patch *one = &d->patch[i];
        const hw_tone_rules *rules = &one->task.rules;
        double share = fmax(rules->risk_job - spent, 0.0) / (double)(d->count + 1);
        one->risk_most = fmin(rules->risk_look, share);
        if (one->advice->next_risk > one->risk_most) {
            hw_tone_step_within(one->request, &one->task, one->risk_most, one->advice);
        }
    }
    for (size_t i = 0; i < d->count; i++) {
        if (d->patch[i].advice->has_next) {
            d->patch[kept++] = d->patch[i];
        } else {
            hw_sheet_patch_free(&d->patch[i]);
        }
    }
    d->count = kept;
}

// ---- Their steps -------------------------------------------------------------------

// The first of its layers that may be laid today.
static bool first_step(const hw_sheet_patch *patch, const hw_plan *plan, hw_next *out)
{
    for (size_t i = 0; i < plan->count; i++) {
        if (hw_tone_lay(&patch->task, &plan->coat[i], patch->risk_most, out) == HW_NEXT_LAY) {
            return true;
        }
    }
    return false;
}

static void give_step(hw_sheet_patch *patch, const hw_pool *pool, const hw_way *way, bool *own)
{
    hw_plan plan = hw_way_plan(pool, way);
    hw_next next;
    hw_tone_put_in_order(&patch->task, &plan);
    *own = (way->liquid[0] == way->liquid[1] && way->liquid[0] == patch->own) ||
           !first_step(patch, &plan, &next);
    if (*own) {
        return;
    }
    hw_option option = hw_tone_option(patch->request->gap, &patch->task, &plan);
    patch->advice->by_sheet = true;
    patch->advice->sheet_plan = option;
    patch->advice->sheet_cost = fmax(way->loss - patch->best, 0.0);
    hw_tone_take_step(patch->request, &patch->task, &next, &option, patch->advice);
}

// ---- Jars --------------------------------------------------------------------------

static size_t find_liquid(const hw_liquid *list, size_t count, const hw_liquid *liquid)
{
    size_t at = 0;
    while (at < count && !hw_liquid_is_same(&list[at], liquid)) {
        at++;
    }
    return at;
}

static void stand(day *d, const hw_liquid *liquid)
{
    if (find_liquid(d->standing, d->standing_count, liquid) == d->standing_count) {
        d->standing[d->standing_count++] = *liquid;
    }
}

// Chooses for so many patches at once; the jars that are chosen stand mixed for those that follow.
static hw_status choose_jars(day *d, size_t first, size_t count, bool *fewest, hw_error *err)
{
    hw_pool pool = {0};
    hw_sheet_patch *patch = &d->patch[first];
    bool sure = true;
    hw_status status = hw_pool_make(patch, count, d->standing, d->standing_count, &pool, err);
    for (size_t i = 0; i < count && status == HW_OK; i++) {
        status = hw_sheet_patch_prepare(&patch[i], &pool, err);
    }
    if (status == HW_OK) {
        status = hw_jars_choose(patch, count, &pool, &d->way[first], &sure, err);
    }
    for (size_t i = 0; i < count && status == HW_OK; i++) {
        give_step(&patch[i], &pool, &d->way[first + i], &d->own[first + i]);
    }
    for (size_t i = 0; i < count && status == HW_OK; i++) {
        const hw_option *way = &patch[i].advice->sheet_plan;
        stand(d, &patch[i].advice->next.liquid);
        for (size_t k = 0; k < way->layer_count; k++) {
            stand(d, &way->layer[k].liquid);
        }
    }
    *fewest = *fewest && sure;
    hw_free(pool.liquid);
    return status;
}

static hw_status choose_all(day *d, bool *fewest, hw_error *err)
{
    hw_status status = HW_OK;
    *fewest = d->count <= HW_SHEET_PATCHES_MAX;
    if (d->count == 1 && d->mixed_count == 0) {
        d->own[0] = true;
        stand(d, &d->patch[0].advice->next.liquid);
        return HW_OK;
    }
    for (size_t first = 0; first < d->count && status == HW_OK; first += HW_SHEET_PATCHES_MAX) {
        size_t left = d->count - first;
        status = choose_jars(d, first, left < HW_SHEET_PATCHES_MAX ? left : HW_SHEET_PATCHES_MAX,
                             fewest, err);
    }
    return status;
}

// ---- The order of laying -----------------------------------------------------------

// Hue, hue with black, depth, black; of equals the weaker one first.
static int depth_of(const hw_known *known, const hw_coat_of_dye *coat)
{
    bool black = false;
    for (size_t k = 0; k < coat->dyes; k++) {
        black = black || known->dye[coat->dye[k]].family == HW_FAMILY_BLACK;
    }
    return 2 * hw_tone_is_depth(known, coat) + black;
}

static double size_of(const hw_known *known, const hw_coat_of_dye *coat)
{
    double sum = 0.0;
    for (size_t k = 0; k < coat->dyes; k++) {
        const double *density = known->dye[coat->dye[k]].density;
        sum += coat->strength[k] * (density[0] + density[1] + density[2]);
    }
    return sum;
}

static bool goes_before(const hw_known *known, const hw_sheet_jar *one, const hw_sheet_jar *other)
{
    hw_coat_of_dye a, b;
    if ((one->patches > 0) != (other->patches > 0)) {
        return one->patches > 0; // what nothing is laid with today comes last
    }
    if (!hw_tone_coat_of(known, &one->liquid, &a) || !hw_tone_coat_of(known, &other->liquid, &b)) {
        return false;
    }
    int first = depth_of(known, &a), second = depth_of(known, &b);
    return first != second ? first < second : size_of(known, &a) < size_of(known, &b);
}

// The jar of that liquid, made where it is missing. There is room.
static hw_sheet_jar *jar_of(const day *d, const hw_liquid *liquid, hw_sheet *sheet)
{
    size_t at = 0;
    while (at < sheet->jar_count && !hw_liquid_is_same(&sheet->jar[at].liquid, liquid)) {
        at++;
    }
    if (at == sheet->jar_count) {
        size_t mixed = find_liquid(d->standing, d->mixed_count, liquid);
        sheet->jar[sheet->jar_count++] = (hw_sheet_jar){
            .liquid = mixed < d->mixed_count ? d->standing[mixed] : *liquid,
            .mixed = mixed < d->mixed_count,
        };
    }
    return &sheet->jar[at];
}

static void list_jars(const day *d, hw_sheet *sheet)
{
    const hw_known *known = d->count ? d->patch[0].request->known : NULL;
    for (size_t i = 0; i < d->count; i++) {
        const hw_advice *advice = d->patch[i].advice;
        hw_sheet_jar *jar = jar_of(d, &advice->next.liquid, sheet);
        jar->patches++;
        jar->passes += advice->next.passes;
        for (size_t k = 0; k < advice->sheet_plan.layer_count && !d->own[i]; k++) {
            jar_of(d, &advice->sheet_plan.layer[k].liquid, sheet);
        }
    }
    for (size_t i = 1; i < sheet->jar_count; i++) {
        hw_sheet_jar moving = sheet->jar[i];
        size_t at = i;
        for (; at > 0 && goes_before(known, &moving, &sheet->jar[at - 1]); at--) {
            sheet->jar[at] = sheet->jar[at - 1];
        }
        sheet->jar[at] = moving;
    }
}

// Jar by jar; where a jar is stronger than thought it shows first where there is most room.
static void list_steps(const day *d, const hw_advice *advice, hw_sheet *sheet)
{
    for (size_t jar = 0; jar < sheet->jar_count; jar++) {
        size_t first = sheet->step_count;
        for (size_t i = 0; i < d->count; i++) {
            const hw_sheet_patch *patch = &d->patch[i];
            if (!hw_liquid_is_same(&patch->advice->next.liquid, &sheet->jar[jar].liquid)) {
                continue;
            }
            size_t at = sheet->step_count++;
            for (; at > first &&
                   advice[sheet->step[at - 1].patch].next_risk > patch->advice->next_risk;
                 at--) {
                sheet->step[at] = sheet->step[at - 1];
            }
            sheet->step[at] = (hw_sheet_step){.patch = patch->sheet_place, .jar = jar};
        }
    }
}

// ---- The answer --------------------------------------------------------------------

static hw_status make_day(size_t count, const hw_liquid *mixed, size_t mixed_count, day *d,
                          hw_sheet *sheet, hw_error *err)
{
    d->patch = hw_alloc_array(count, sizeof *d->patch);
    d->way = hw_alloc_array(count, sizeof *d->way);
    d->own = hw_alloc_array(count, sizeof *d->own);
    d->standing = hw_alloc_array(mixed_count + 3 * count, sizeof *d->standing);
    sheet->jar = hw_alloc_array(3 * count, sizeof *sheet->jar);
    sheet->step = hw_alloc_array(count, sizeof *sheet->step);
    if (!d->patch || !d->way || !d->own || !d->standing || !sheet->jar || !sheet->step) {
        return hw_fail_memory(err, "making the day's sheet");
    }
    for (size_t i = 0; i < mixed_count; i++) {
        d->standing[i] = mixed[i];
    }
    d->standing_count = d->mixed_count = mixed_count;
    return HW_OK;
}

hw_status hw_tone_sheet(const hw_tone_request *request, hw_advice *advice, size_t count,
                        const hw_liquid *mixed, size_t mixed_count, hw_sheet *out, hw_error *err)
{
    day d = {0};
    hw_sheet sheet = {0};
    hw_status status = make_day(count, mixed, mixed_count, &d, &sheet, err);
    if (status == HW_OK) {
        status = take_patches(request, advice, count, &d, err);
    }
    if (status == HW_OK) {
        share_risk(&d);
        status = choose_all(&d, &sheet.fewest, err);
    }
    if (status == HW_OK) {
        list_jars(&d, &sheet);
        list_steps(&d, advice, &sheet);
        *out = sheet;
    } else {
        hw_sheet_free(&sheet);
    }
    for (size_t i = 0; i < d.count; i++) {
        hw_sheet_patch_free(&d.patch[i]);
    }
    hw_free(d.patch);
    hw_free(d.way);
    hw_free(d.own);
    hw_free(d.standing);
    return status;
}
