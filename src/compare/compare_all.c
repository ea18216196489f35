// compare_all.c: every patch with each of the targets beside it, and with all of them together:
// the mean of their linear light, equal weights (an eye takes in the neighbourhood, not its
// largest board). The verdict is read from the latter. A patch that has no target in its photo is compared with
// colours of old wood that another photo of the job shows: they have no pixels here, so there are no joints, no
// pieces and no ground, and what two photos differ by is added to the doubt.
#include "base_internal.h"
#include "compare_internal.h"

#include <math.h>
#include <string.h>

#define PIECES_MOST 4096

void hw_comparisons_free(hw_comparisons *comparisons)
{
    if (comparisons) {
        hw_free(comparisons->item);
        hw_free(comparisons->seam);
        *comparisons = (hw_comparisons){0};
    }
}

void hw_reading_free(hw_reading *reading)
{
    if (!reading) {
        return;
    }
    hw_marks_free(&reading->marks);
    hw_marks_free(&reading->proposed);
    for (size_t i = 0; i < reading->sample_count; i++) {
        hw_sample_free(&reading->samples[i]);
    }
    hw_free(reading->samples);
    hw_comparisons_free(&reading->comparisons);
    hw_free(reading->sights);
    *reading = (hw_reading){0};
}

const hw_comparison *hw_comparison_beside(const hw_comparisons *comparisons, const char *patch)
{
    for (size_t i = 0; i < comparisons->count; i++) {
        const hw_comparison *item = &comparisons->item[i];
        if (strcmp(item->patch, patch) == 0 && strcmp(item->target, HW_BESIDE) == 0) {
            return item;
        }
    }
    return NULL;
}

// ---- Who is beside whom ------------------------------------------------------------

static bool is_beside(const hw_marks *marks, const hw_sample *patch, const hw_sample *target)
{
    const hw_mark *new_wood = hw_marks_find(marks, HW_ROLE_PATCH, patch->name);
    const hw_mark *old_mark = hw_marks_find(marks, HW_ROLE_TARGET, target->name);
    return target->role == HW_ROLE_TARGET && new_wood && old_mark &&
           hw_mark_is_beside(new_wood, old_mark);
}

// ---- Old wood: one target, or several as one ---------------------------------------

void hw_compare_old_add(hw_compare_old *wood, const hw_sample *target)
{
    wood->xyz.X += target->xyz.X;
    wood->xyz.Y += target->xyz.Y;
    wood->xyz.Z += target->xyz.Z;
    wood->covariance = hw_covariance_sum(&wood->covariance, &target->covariance);
    wood->mark_shift = hw_covariance_sum(&wood->mark_shift, &target->mark_shift);
    wood->shine_u = hypot(wood->shine_u, target->shine_u);
    wood->centre.x += target->centre.x;
    wood->centre.y += target->centre.y;
    wood->count++;
}

void hw_compare_old_finish(hw_compare_old *wood)
{
    double n = (double)wood->count;
    wood->xyz = (hw_xyz){wood->xyz.X / n, wood->xyz.Y / n, wood->xyz.Z / n};
    wood->lab = hw_lab_from_xyz(wood->xyz, hw_white_d50);
    wood->shine_u /= n;
    wood->centre = (hw_point){wood->centre.x / n, wood->centre.y / n};
    wood->covariance = hw_covariance_times(&wood->covariance, 1.0 / (n * n));
    wood->mark_shift = hw_covariance_times(&wood->mark_shift, 1.0 / (n * n));
}

// ---- One comparison ----------------------------------------------------------------

void hw_compare_gap(hw_comparison *item)
{
    item->gap = hw_difference_of(item->target_lab, item->patch_lab);
    hw_gap_range(item->target_lab, item->patch_lab, &item->covariance, &item->de00_low,
                 &item->de00_high);
    item->direction_count = hw_directions_of(&item->gap, item->direction);
    const hw_covariance *s = &item->covariance;
    double hue =
        atan2(item->patch_lab.b + item->target_lab.b, item->patch_lab.a + item->target_lab.a);
    double along[2] = {cos(hue), sin(hue)}, across[2] = {-sin(hue), cos(hue)};
    double u_C = 0.0, u_H = 0.0;
    for (int r = 0; r < 2; r++) {
        for (int c = 0; c < 2; c++) {
            u_C += along[r] * s->m[r + 1][c + 1] * along[c];
            u_H += across[r] * s->m[r + 1][c + 1] * across[c];
        }
    }
    double U[5] = {s->m[0][0], s->m[1][1], s->m[2][2], u_C, u_H};
    for (int i = 0; i < 5; i++) {
        U[i] = HW_NINETY * sqrt(fmax(U[i], 0.0));
    }
    const hw_difference *gap = &item->gap;
    item->low = (hw_difference){.L = gap->L - U[0],
                                .a = gap->a - U[1],
                                .b = gap->b - U[2],
                                .C = gap->C - U[3],
                                .H = gap->H - U[4]};
    item->high = (hw_difference){.L = gap->L + U[0],
                                 .a = gap->a + U[1],
                                 .b = gap->b + U[2],
                                 .C = gap->C + U[3],
                                 .H = gap->H + U[4]};
}

// What the same wood is read apart by in two photos of one lamp, by the card alone: s.d. of L*, a*, b*. Chosen: in our
// simulation the mean error is 0.9 and the 95th percentile 2.1 (Euclid) with a straight tone curve, 1.8 and 4.6
// with a bent one; the curve is doubted by itself.
static const double photos_u[3] = {1.0, 0.6, 0.6};

// Of one photo as it is usual, or as earlier photos of the job differ; of several by how they scatter.
static void doubt_reading(const hw_earlier *earlier, hw_comparison *item, hw_covariance *reading)
{
    if (!earlier || earlier->shots.count < 2) {
        hw_compare_repeats(earlier, reading);
        return;
    }
    const double *u = earlier->shots.error;
    *reading = hw_covariance_diagonal(u[0] * u[0], u[1] * u[1], u[2] * u[2]);
    item->shots = earlier->shots.count;
    item->shot_scatter = earlier->shots.scatter;
    item->shots_apart = earlier->shots.apart;
}

// What grows with the gap says nothing against a gap of none, so it is left out of `tellable`.
static void find_doubt(const hw_sample *patch, const hw_compare_old *wood, const hw_light *light,
                       const hw_earlier *earlier, hw_comparison *item)
{
    hw_covariance part[HW_DOUBT_COUNT], fixed = {{{0}}};
    hw_compare_doubt(patch, wood, light, part);
    if (item->elsewhere > 0) {
        part[HW_DOUBT_PHOTOS] = hw_covariance_diagonal(
            photos_u[0] * photos_u[0], photos_u[1] * photos_u[1], photos_u[2] * photos_u[2]);
    }
    doubt_reading(earlier, item, &part[HW_DOUBT_READING]);
    item->covariance = fixed;
    for (int source = 0; source < HW_DOUBT_COUNT; source++) {
        bool grows = source == HW_DOUBT_TONE || source == HW_DOUBT_COLOUR;
        item->doubt[source] = hw_compare_u(wood->lab, patch->lab, &part[source]);
        item->covariance = hw_covariance_sum(&item->covariance, &part[source]);
        fixed = grows ? fixed : hw_covariance_sum(&fixed, &part[source]);
    }
    item->tellable = hw_compare_tellable(wood->lab, &fixed);
    item->light_range = HW_NINETY * sqrt(fmax(part[HW_DOUBT_LIGHT].m[0][0], 0.0));
}

// A claim below this needs three photos (chosen: the reading error that one photo leaves).
static const double claim_least = 0.4; // CIEDE2000
enum { CLAIM_SHOTS = 3 };

static void compare_one(const hw_sample *patch, const hw_compare_old *wood, const char *target_name,
                        const hw_light *light, const hw_earlier *earlier, hw_comparison *item)
{
    hw_copy_text(item->patch, sizeof item->patch, patch->name);
    hw_copy_text(item->target, sizeof item->target, target_name);
    item->kind = patch->kind;
    item->elsewhere = wood->photo;
    item->patch_lab = patch->lab;
    item->target_lab = wood->lab;
    find_doubt(patch, wood, light, earlier, item);
    hw_compare_gap(item);
    if (light && item->shots < CLAIM_SHOTS) {
        item->tellable = fmax(item->tellable, claim_least);
        item->de00_high = fmax(item->de00_high, claim_least);
    }
}

// Colours that the spread rests on: the targets, and for a patch let in their pieces of its size.
// What was measured has no pieces.
static size_t gather_pieces(const hw_sample *const *targets, size_t count, const hw_sample *patch,
                            hw_xyz *out)
{
    size_t found = 0;
    for (size_t i = 0; i < count && found < PIECES_MOST; i++) {
        if (patch->kind == HW_KIND_BOARD || !targets[i]->cells) {
            out[found++] = targets[i]->xyz;
            continue;
        }
        size_t room = PIECES_MOST - found;
        size_t pieces =
            hw_sample_pieces(targets[i], patch->width_px, patch->height_px, out + found, room);
        found += pieces < room ? pieces : room;
    }
    return found;
}

// What one call works on.
typedef struct work {
    const hw_sample *samples;
    size_t count;
    const hw_marks *marks;
    const hw_light *light;
    const hw_earlier_list *known; // NULL: nothing
    hw_xyz *pieces;
    const hw_sample **beside; // targets of the patch at hand
    hw_sample *elsewhere;     // those that another photo shows
    hw_comparisons *out;
} work;

static const hw_earlier *earlier_of(const hw_earlier_list *known, const char *patch)
{
    for (size_t i = 0; known && i < known->count; i++) {
        if (strcmp(known->item[i].patch, patch) == 0) {
            return &known->item[i];
        }
    }
    return NULL;
}

// Old wood of another photo as samples. Its colour was read by the card, so it stands where this photo's card lies:
// what the light may differ by from there to the patch is what it may be wrong by. Returns how many.
static size_t take_elsewhere(const hw_elsewhere *from, const hw_light *light,
                             const hw_sample *patch, hw_sample *out)
{
    for (size_t i = 0; i < from->count; i++) {
        const hw_old_wood *wood = &from->wood[i];
        const double *u = wood->standard_error;
        out[i] =
            (hw_sample){.role = HW_ROLE_TARGET,
                        .lab = wood->lab,
                        .xyz = hw_xyz_from_lab(wood->lab, hw_white_d50),
                        .covariance = hw_covariance_diagonal(u[0] * u[0], u[1] * u[1], u[2] * u[2]),
                        .centre = light ? light->field.centre : patch->centre};
        hw_copy_text(out[i].name, sizeof out[i].name, wood->name);
    }
    return from->count;
}

static hw_status refuse_alone(const hw_sample *patch, const hw_earlier *earlier, hw_error *err)
{
    if (earlier && earlier->elsewhere.why_not[0]) {
        return hw_fail(
            err, HW_ERR_CALL, "target-missing", patch->name,
            "Prop it beside its old wood and take both in one photo; or photograph both one after "
            "the other: same lamp, same camera, the card in each.",
            "there is no old wood beside it in this photo, and none of another photo can "
            "be taken: %s",
            earlier->elsewhere.why_not);
    }
    return hw_fail(err, HW_ERR_CALL, "target-missing", patch->name,
                   "Mark the old wood that it must match with --target NAME=x,y,w,h.",
                   "there is no old wood to compare this repair with");
}

// The targets of a patch in this photo, or else those of another one (*photo: its number).
static size_t find_targets(const work *w, const hw_sample *patch, const hw_earlier *earlier,
                           long *photo)
{
    size_t count = 0;
    *photo = 0;
    for (size_t i = 0; i < w->count; i++) {
        if (is_beside(w->marks, patch, &w->samples[i])) {
            w->beside[count++] = &w->samples[i];
        }
    }
    if (count == 0 && earlier && earlier->elsewhere.photo > 0) {
        *photo = earlier->elsewhere.photo;
        count = take_elsewhere(&earlier->elsewhere, w->light, patch, w->elsewhere);
        for (size_t i = 0; i < count; i++) {
            w->beside[i] = &w->elsewhere[i];
        }
    }
    return count;
}

static hw_status compare_patch(const work *w, const hw_sample *patch, hw_error *err)
{
    hw_comparisons *out = w->out;
    const hw_earlier *earlier = earlier_of(w->known, patch->name);
    size_t first = out->count;
    hw_compare_old beside = {0};
    size_t targets = find_targets(w, patch, earlier, &beside.photo);
    for (size_t i = 0; i < targets; i++) {
        hw_compare_old single = {.photo = beside.photo};
        hw_compare_old_add(&single, w->beside[i]);
        hw_compare_old_finish(&single);
        hw_compare_old_add(&beside, w->beside[i]);
        compare_one(patch, &single, w->beside[i]->name, w->light, earlier,
                    &out->item[out->count++]);
    }
    if (targets == 0) {
        return refuse_alone(patch, earlier, err);
    }
    hw_compare_old_finish(&beside);
    hw_comparison *all = &out->item[out->count++];
    compare_one(patch, &beside, HW_BESIDE, w->light, earlier, all);
    all->spread_count = gather_pieces(w->beside, targets, patch, w->pieces);
    all->spread_here = hw_compare_spread(w->pieces, all->spread_count, beside.lab);
    all->spread = hw_compare_spread_with(all->spread_here, all->spread_count, earlier);
    all->spread_ratio = all->gap.de00 / all->spread;
    hw_compare_spread_axes(w->pieces, all->spread_count, all->spread / all->spread_here,
                           all->spread_axis);
    hw_compare_t_squared(w->pieces, all->spread_count, patch->lab, &all->t_squared,
                         &all->t_squared_p);
    hw_compare_ground(patch, w->beside, targets, w->light, all);
    hw_verdict_decide(all);
    hw_compare_ends(patch, &beside, w->light, all);
    for (size_t i = first; i + 1 < out->count; i++) {
        hw_comparison *single = &out->item[i];
        single->spread = all->spread;
        single->spread_here = all->spread_here;
        single->spread_count = all->spread_count;
        memcpy(single->spread_axis, all->spread_axis, sizeof single->spread_axis);
        single->spread_ratio = single->gap.de00 / all->spread;
        single->t_squared = single->t_squared_p = (double)NAN;
        single->verdict = all->verdict;
        hw_copy_text(single->why, sizeof single->why, all->why);
    }
    return HW_OK;
}

// The joints of a patch let in with each of its targets.
static hw_status find_seams(const work *w, const hw_sample *patch, hw_error *err)
{
    const hw_comparison *beside = hw_comparison_beside(w->out, patch->name);
    const hw_mark *patch_mark = hw_marks_find(w->marks, HW_ROLE_PATCH, patch->name);
    if (patch->kind != HW_KIND_LET_IN || !beside || !patch_mark) {
        return HW_OK;
    }
    for (size_t i = 0; i < w->count; i++) {
        if (!is_beside(w->marks, patch, &w->samples[i])) {
            continue;
        }
        const size_t room = 4; // sides that one target may lie along
        size_t have = w->out->seam_count;
        hw_seam *grown = hw_resize_array(w->out->seam, have + room, sizeof *grown);
        if (!grown) {
            return hw_fail_memory(err, "comparing along the joints");
        }
        w->out->seam = grown;
        const hw_mark *target = hw_marks_find(w->marks, HW_ROLE_TARGET, w->samples[i].name);
        w->out->seam_count += hw_compare_seams(patch, patch_mark, &w->samples[i], target, w->light,
                                               beside, grown + have, room);
    }
    return HW_OK;
}

hw_status hw_compare_all(const hw_sample *samples, size_t count, const hw_marks *marks,
                         const hw_light *light, const hw_earlier_list *known, hw_comparisons *out,
                         hw_error *err)
{
    hw_comparisons result = {0};
    work w = {samples, count, marks, light, known, NULL, NULL, NULL, &result};
    size_t patches = 0;
    for (size_t i = 0; i < count; i++) {
        patches += samples[i].role == HW_ROLE_PATCH;
    }
    hw_status status = HW_OK;
    w.pieces = hw_alloc_array(PIECES_MOST, sizeof *w.pieces);
    w.elsewhere = hw_alloc_array(HW_ELSEWHERE_MOST, sizeof *w.elsewhere);
    w.beside = hw_alloc_array(count + HW_ELSEWHERE_MOST, sizeof(const hw_sample *));
    result.item =
        hw_alloc_array(patches * (count + HW_ELSEWHERE_MOST + 1) + 1, sizeof *result.item);
    if (!w.pieces || !w.elsewhere || !w.beside || !result.item) {
        status = hw_fail_memory(err, "comparing the regions");
    }
    for (size_t i = 0; i < count && status == HW_OK; i++) {
        if (samples[i].role == HW_ROLE_PATCH) {
            status = compare_patch(&w, &samples[i], err);
        }
        if (status == HW_OK && light && samples[i].role == HW_ROLE_PATCH) {
            status = find_seams(&w, &samples[i], err);
        }
    }
    hw_free(w.pieces);
    hw_free(w.elsewhere);
    hw_free(w.beside);
    if (status != HW_OK) {
        hw_comparisons_free(&result);
        return status;
    }
    *out = result;
    return HW_OK;
}

void hw_compare_warn(const hw_comparisons *comparisons, hw_warnings *warnings)
{
    const double warned = 1.0; // L*: as far as a step can be seen
    for (size_t i = 0; i < comparisons->count; i++) {
        const hw_comparison *item = &comparisons->item[i];
        if (strcmp(item->target, HW_BESIDE) == 0 && item->elsewhere > 0) {
            hw_warn(warnings,
                    "%s: the range is wider, since its old wood is only in photo %ld. Prop the two "
                    "side by "
                    "side in one photo where that can be done.",
                    item->patch, item->elsewhere);
        }
        if (strcmp(item->target, HW_BESIDE) == 0 && item->light_range > warned) {
            hw_warn_trouble(warnings, HW_TROUBLE_UNEVEN_LIGHT, item->light_range,
                            "%s: the light on it and on its old wood may differ by up to %.*f L*: "
                            "lay the card next to the repair.",
                            item->patch, item->light_range < 2.0 ? 1 : 0, item->light_range);
        }
    }
}
