// compare_shots.c: several photos of one state, read together.
//
// 1 Which of them agree. The half of them (one more than half) that lie nearest to each other are taken as good, then
//   the others, nearest first, as long as they lie where such a shot can lie: F test of the distance of one from the
//   mean of the good ones, with a variance of their own scatter and of what is usual (weighed as 8 degrees of
//   freedom). So two shots in the same shadow do not hide each other. One that cannot belong is left out; where
//   already the first half does not agree, none can be named and all are kept.
// 2 How sure the mean is. Their own scatter by Student's t; but few shots can agree by luck, so never less than
//   what is usual makes of it. Two shots alone tell little of their scatter (t would make the range six times their
//   distance): their range reaches past each by their distance, which holds 8 times in 10 whatever they scatter by.
// 3 The mean. Samples are averaged, cell by cell where the marks lie alike, and compared anew: so joints, ends and
//   pieces of old wood are the mean's too. Their doubts are those of one shot but for noise and reading, which the scatter
//   shows, and for marks that were drawn on each shot by itself: what all shots share does not shrink with their number.
//
// Simulated in tests/accuracy/repeats.c and tests/compare/test_compare_shots.c.
#include "base_internal.h"
#include "compare_internal.h"

#include <math.h>
#include <string.h>

static const double usual_dof = 8.0; // of what is usual, in the test of one shot (chosen)
static const double error_dof = 2.0; // likewise, in the error of the mean (chosen)
static const double two_reach =
    2.0; // of two shots: their distance, as standard uncertainty of the mean (chosen)
// S.d. of L*, a*, b* of gaps in rendered shots taken again by hand (tests/accuracy/repeats.c: upper quarter in everyday light), for the
// test of one shot; noise alone is less.
static const double usual_shot[3] = {0.25, 0.35, 0.45};
static const double off_least = 2.0; // CIEDE2000: what is nearer widens the range enough (chosen)
static const double named_wrongly = 0.01; // chance that any of the good shots of a call is named

// ---- How sure the mean is ----------------------------------------------------------

double hw_shots_error(double variance, size_t n, double usual)
{
    double count = (double)n, dof = error_dof + count - 1.0;
    double both = (error_dof * usual + (count - 1.0) * variance) / dof;
    double with_usual = hw_compare_t95(dof) / HW_NINETY * sqrt(both / count);
    double factor = n > 2 ? hw_compare_t95(count - 1.0) / HW_NINETY : two_reach;
    return fmax(with_usual, factor * sqrt(variance / count));
}

// ---- The gaps of all shots ---------------------------------------------------------

// One patch in all shots.
typedef struct patch_gaps {
    const char *name;
    double gap[HW_SHOTS_MOST][3]; // L*, a*, b*, patch minus all of its old wood
    double metric[3][3];          // of CIEDE2000 about the old wood
    double usual;                 // variance along one direction of one gap, CIEDE2000 squared
} patch_gaps;

typedef struct gaps {
    patch_gaps *patch;
    size_t patches, shots;
} gaps;

static double square_of(const patch_gaps *patch, const double one[3], const double other[3])
{
    double sum = 0.0;
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++) {
            sum += (one[i] - other[i]) * patch->metric[i][j] * (one[j] - other[j]);
        }
    }
    return fmax(sum, 0.0);
}

static void mean_of(const patch_gaps *patch, unsigned set, double out[3])
{
    double n = 0.0;
    out[0] = out[1] = out[2] = 0.0;
    for (unsigned i = 0; i < HW_SHOTS_MOST; i++) {
        for (int axis = 0; (set >> i & 1u) && axis < 3; axis++) {
            out[axis] += patch->gap[i][axis];
        }
        n += set >> i & 1u;
    }
    for (int axis = 0; axis < 3; axis++) {
        out[axis] /= fmax(n, 1.0);
    }
}

static size_t size_of(unsigned set)
{
    size_t n = 0;
    for (; set; set &= set - 1) {
        n++;
    }
    return n;
}

// Sum of squared distances to their mean.
static double scatter_of(const patch_gaps *patch, unsigned set)
{
    double mean[3], sum = 0.0;
    mean_of(patch, set, mean);
    for (unsigned i = 0; i < HW_SHOTS_MOST; i++) {
        sum += set >> i & 1u ? square_of(patch, patch->gap[i], mean) : 0.0;
    }
    return sum;
}

// The largest distance of a shot from the mean of a set, of all patches.
static double off_of(const gaps *all, unsigned shot, unsigned set)
{
    double most = 0.0;
    for (size_t p = 0; p < all->patches; p++) {
        double mean[3];
        mean_of(&all->patch[p], set, mean);
        most = fmax(most, square_of(&all->patch[p], all->patch[p].gap[shot], mean));
    }
    return sqrt(most);
}

// ---- Which agree -------------------------------------------------------------------

// Can this shot not be one like those of the set? `own_scatter`: the set's scatter counts beside what is usual.
static bool is_off(const gaps *all, unsigned shot, unsigned set, bool own_scatter)
{
    double n = (double)size_of(set), dof = usual_dof + (own_scatter ? n - 1.0 : 0.0);
    double level = named_wrongly / (double)(all->shots * all->patches);
    for (size_t p = 0; p < all->patches; p++) {
        const patch_gaps *patch = &all->patch[p];
        double mean[3];
        mean_of(patch, set, mean);
        double far = square_of(patch, patch->gap[shot], mean);
        double own = own_scatter ? scatter_of(patch, set) / 3.0 : 0.0;
        double variance = (usual_dof * patch->usual + own) / dof * (1.0 + 1.0 / n);
        if (far > off_least * off_least && hw_compare_f_tail(far / (3.0 * variance), dof) < level) {
            return true;
        }
    }
    return false;
}

// One more than half of the shots that were read, those that lie nearest to each other.
static unsigned nearest_half(const gaps *all, unsigned read)
{
    size_t wanted = size_of(read) / 2 + 1;
    double least = INFINITY;
    unsigned best = read;
    for (unsigned set = 1; set < 1u << HW_SHOTS_MOST; set++) {
        if ((set & ~read) || size_of(set) != wanted) {
            continue;
        }
        double sum = 0.0;
        for (size_t p = 0; p < all->patches; p++) {
            sum += scatter_of(&all->patch[p], set) / all->patch[p].usual;
        }
        if (sum < least) {
            least = sum;
            best = set;
        }
    }
    return best;
}

static bool holds_together(const gaps *all, unsigned set)
{
    bool together = true;
    for (unsigned i = 0; i < HW_SHOTS_MOST; i++) {
        unsigned others = set & ~(1u << i);
        together = together && (!(set >> i & 1u) || !others || !is_off(all, i, others, false));
    }
    return together;
}

// The shots that are used, of those that were read.
static unsigned which_agree(const gaps *all, unsigned read, bool *disagree)
{
    unsigned good = nearest_half(all, read);
    *disagree = !holds_together(all, good);
    if (*disagree) {
        return read;
    }
    while (good != read) {
        unsigned next = 0;
        double least = INFINITY;
        for (unsigned i = 0; i < HW_SHOTS_MOST; i++) {
            double off = (read & ~good) >> i & 1u ? off_of(all, i, good) : INFINITY;
            if (off < least) {
                least = off;
                next = i;
            }
        }
        if (is_off(all, next, good, true)) {
            break; // and so are those further off
        }
        good |= 1u << next;
    }
    return good;
}

// ---- What the scatter says of each patch -------------------------------------------

static hw_shots_gap gap_of_shots(const patch_gaps *patch, unsigned set, const hw_covariance *usual)
{
    hw_shots_gap out = {.count = size_of(set)};
    double n = (double)out.count, mean[3], variance[3] = {0}, apart = 0.0;
    mean_of(patch, set, mean);
    for (unsigned i = 0; i < HW_SHOTS_MOST; i++) {
        for (int axis = 0; (set >> i & 1u) && axis < 3; axis++) {
            double off = patch->gap[i][axis] - mean[axis];
            variance[axis] += off * off / (n - 1.0);
        }
        for (unsigned k = 0; k < i; k++) {
            bool both = (set >> i & 1u) && (set >> k & 1u);
            apart = both ? fmax(apart, square_of(patch, patch->gap[i], patch->gap[k])) : apart;
        }
    }
    double scatter = 0.0;
    for (int axis = 0; axis < 3; axis++) {
        out.error[axis] = hw_shots_error(variance[axis], out.count, usual->m[axis][axis]);
        double both =
            (error_dof * usual->m[axis][axis] + (n - 1.0) * variance[axis]) / (error_dof + n - 1.0);
        scatter += patch->metric[axis][axis] * fmax(both, variance[axis]);
    }
    out.scatter = sqrt(scatter);
    out.apart = sqrt(apart);
    return out;
}

static const hw_earlier *earlier_of(const hw_earlier_list *known, const char *patch)
{
    for (size_t i = 0; known && i < known->count; i++) {
        if (strcmp(known->item[i].patch, patch) == 0) {
            return &known->item[i];
        }
    }
    return NULL;
}

// What was known, and of each patch what its shots say. Free out->item with hw_free.
static hw_status add_to_known(const gaps *all, unsigned set, const hw_earlier_list *known,
                              hw_earlier_list *out, hw_error *err)
{
    *out = (hw_earlier_list){hw_alloc_array(all->patches + 1, sizeof *out->item), all->patches};
    if (!out->item) {
        return hw_fail_memory(err, "comparing the shots");
    }
    for (size_t p = 0; p < all->patches; p++) {
        const hw_earlier *before = earlier_of(known, all->patch[p].name);
        hw_earlier *one = &out->item[p];
        *one = before ? *before : (hw_earlier){0};
        hw_copy_text(one->patch, sizeof one->patch, all->patch[p].name);
        hw_covariance usual = hw_compare_usual_reading(before);
        if (size_of(set) > 1) {
            one->shots = gap_of_shots(&all->patch[p], set, &usual);
        }
    }
    return HW_OK;
}

// ---- Gathering ---------------------------------------------------------------------

static const hw_sample *sample_like(const hw_reading *reading, const hw_sample *like)
{
    for (size_t i = 0; i < reading->sample_count; i++) {
        const hw_sample *one = &reading->samples[i];
        if (one->role == like->role && strcmp(one->name, like->name) == 0) {
            return one;
        }
    }
    return NULL;
}

// The first part that the other reading does not hold, or NULL.
static const char *missing_in(const hw_reading *first, const hw_reading *other)
{
    for (size_t i = 0; i < first->sample_count; i++) {
        if (!sample_like(other, &first->samples[i])) {
            return first->samples[i].name;
        }
    }
    return NULL;
}

static void fill_patch(const hw_comparison *item, const hw_earlier *earlier, patch_gaps *out)
{
    hw_covariance usual = hw_compare_usual_reading(earlier);
    out->name = item->patch;
    hw_compare_metric(item->target_lab, out->metric);
    double marks =
        item->doubt[HW_DOUBT_MARKS]; // a hand that holds the camera, if not one that marks
    out->usual = marks * marks;
    for (int axis = 0; axis < 3; axis++) {
        double variance = fmax(usual.m[axis][axis], usual_shot[axis] * usual_shot[axis]);
        out->usual += out->metric[axis][axis] * variance / 3.0;
    }
}

// The gaps of the patches that the first reading holds; those not read stay 0.
static hw_status gather(hw_reading *const *shot, unsigned read, const hw_reading *first,
                        const hw_earlier_list *known, gaps *out, hw_error *err)
{
    out->patch = hw_alloc_array(first->comparisons.count + 1, sizeof *out->patch);
    if (!out->patch) {
        return hw_fail_memory(err, "comparing the shots");
    }
    for (size_t c = 0; c < first->comparisons.count; c++) {
        const hw_comparison *item = &first->comparisons.item[c];
        if (strcmp(item->target, HW_BESIDE) != 0) {
            continue;
        }
        patch_gaps *patch = &out->patch[out->patches++];
        fill_patch(item, earlier_of(known, item->patch), patch);
        for (unsigned i = 0; i < HW_SHOTS_MOST; i++) {
            const hw_comparison *one =
                read >> i & 1u ? hw_comparison_beside(&shot[i]->comparisons, item->patch) : NULL;
            if (one) {
                patch->gap[i][0] = one->gap.L;
                patch->gap[i][1] = one->gap.a;
                patch->gap[i][2] = one->gap.b;
            }
        }
    }
    return HW_OK;
}

// ---- The mean of samples -----------------------------------------------------------

static bool same_grid(const hw_sample *one, const hw_sample *other)
{
    return one->cells && other->cells && one->columns == other->columns &&
           one->rows == other->rows && one->cell_px == other->cell_px &&
           one->cell_x == other->cell_x && one->cell_y == other->cell_y;
}

// Where the marks lie otherwise, the first shot's cells are moved to the colour of all.
static void scale_cells(hw_sample *sample, hw_xyz mean)
{
    double x = mean.X / sample->xyz.X, y = mean.Y / sample->xyz.Y, z = mean.Z / sample->xyz.Z;
    for (size_t i = 0; sample->cells && i < sample->columns * sample->rows; i++) {
        sample->cells[i].X *= x;
        sample->cells[i].Y *= y;
        sample->cells[i].Z *= z;
    }
}

static hw_xyz scaled_xyz(hw_xyz colour, double factor)
{
    return (hw_xyz){colour.X * factor, colour.Y * factor, colour.Z * factor};
}

static hw_xyz xyz_sum(hw_xyz one, hw_xyz other)
{
    return (hw_xyz){one.X + other.X, one.Y + other.Y, one.Z + other.Z};
}

// Of one region in several shots; `sample` is that of the first.
typedef struct region_mean {
    const hw_sample *of[HW_SHOTS_MOST];
    size_t count;
    bool own_marks; // drawn on each shot by itself
} region_mean;

static void mean_cells(const region_mean *region, hw_sample *sample, hw_xyz mean)
{
    bool alike = true;
    for (size_t i = 1; i < region->count; i++) {
        alike = alike && same_grid(sample, region->of[i]);
    }
    if (!alike) {
        scale_cells(sample, mean);
        return;
    }
    for (size_t i = 1; i < region->count; i++) {
        for (size_t k = 0; k < sample->columns * sample->rows; k++) {
            hw_cell_add(&sample->cells[k], &region->of[i]->cells[k]);
        }
    }
}

// The wood between the pores is told only where all shots tell it.
static void mean_ground(const region_mean *region, hw_sample *sample)
{
    hw_xyz sum = {0, 0, 0}, pores = {0, 0, 0};
    bool known = true;
    for (size_t i = 0; i < region->count; i++) {
        known = known && region->of[i]->ground_known;
        sum = xyz_sum(sum, region->of[i]->ground);
        pores = xyz_sum(pores, hw_xyz_from_lab(region->of[i]->pore_lab, hw_white_d50));
    }
    sample->ground_known = known;
    if (known) {
        double n = (double)region->count;
        sample->ground = scaled_xyz(sum, 1.0 / n);
        sample->ground_lab = hw_lab_from_xyz(sample->ground, hw_white_d50);
        sample->pore_lab = hw_lab_from_xyz(scaled_xyz(pores, 1.0 / n), hw_white_d50);
    }
}

// The mean of L*, a*, b*, so that the gap of the means is the mean of the gaps.
static void mean_sample(const region_mean *region, hw_sample *sample)
{
    double n = (double)region->count, mean[3] = {0}, square[3] = {0}, spread[3] = {0};
    hw_sample out = *sample;
    out.covariance = out.mark_shift = (hw_covariance){{{0.0}}};
    out.shine_u = out.glare_share = out.pore_share = out.pore_px = out.clipped_share = 0.0;
    for (size_t i = 0; i < region->count; i++) {
        const hw_sample *one = region->of[i];
        const double lab[3] = {one->lab.L, one->lab.a, one->lab.b};
        for (int axis = 0; axis < 3; axis++) {
            mean[axis] += lab[axis] / n;
            square[axis] += lab[axis] * lab[axis];
            spread[axis] += one->spread[axis] / n;
        }
        out.covariance = hw_covariance_sum(&out.covariance, &one->covariance);
        out.mark_shift = hw_covariance_sum(&out.mark_shift, &one->mark_shift);
        out.shine_u += one->shine_u / n;
        out.glare_share += one->glare_share / n;
        out.pore_share += one->pore_share / n;
        out.pore_px += one->pore_px / n;
        out.clipped_share += one->clipped_share / n;
        out.shade = fmax(out.shade, one->shade);
        out.standard_error_is_floor = out.standard_error_is_floor || one->standard_error_is_floor;
    }
    out.lab = (hw_lab){mean[0], mean[1], mean[2]};
    out.xyz = hw_xyz_from_lab(out.lab, hw_white_d50);
    out.covariance = hw_covariance_times(&out.covariance, 1.0 / n);
    out.mark_shift =
        hw_covariance_times(&out.mark_shift, region->own_marks ? 1.0 / (n * n) : 1.0 / n);
    for (int axis = 0; axis < 3; axis++) {
        double variance = fmax(square[axis] - n * mean[axis] * mean[axis], 0.0) / (n - 1.0);
        out.spread[axis] = spread[axis];
        out.standard_error[axis] = sqrt(out.covariance.m[axis][axis] + variance / n);
    }
    mean_ground(region, &out);
    mean_cells(region, sample, out.xyz); // cells are those of the first, which has its colour still
    *sample = out;
}

static void mean_samples(hw_reading *const *shot, const hw_shots *shots, unsigned set,
                         hw_reading *out)
{
    for (size_t s = 0; s < out->sample_count; s++) {
        hw_sample first = out->samples[s];
        region_mean region = {.of = {&first}, .count = 1, .own_marks = true};
        unsigned base = set & (~set + 1u); // the lowest: out itself
        for (unsigned i = 0; i < HW_SHOTS_MOST; i++) {
            bool used = set >> i & 1u;
            const hw_sample *like = used && base != 1u << i ? sample_like(shot[i], &first) : NULL;
            region.own_marks = region.own_marks && (!used || shots->shot[i].own_marks);
            if (like) { // where the first of all was left out, a part may be in some alone
                region.of[region.count++] = like;
            }
        }
        if (region.count > 1) {
            mean_sample(&region, &out->samples[s]);
        }
    }
}

// ---- What is said ------------------------------------------------------------------

// "Shot 2 (lid-b.jpg)"
static void name_shot(const hw_shots *shots, size_t index, char out[160])
{
    char file[100];
    const char *name = shots->shot[index].file;
    const char *slash = strrchr(name, '/');
    hw_copy_text(file, sizeof file, slash ? slash + 1 : name);
    hw_format_text(out, 160, "Shot %zu (%s)", index + 1, file);
}

// A trouble of another shot that the first one has not.
static void add_troubles(const hw_shots *shots, size_t index, const hw_warnings *of,
                         hw_warnings *said, hw_warnings *out)
{
    char name[160];
    name_shot(shots, index, name);
    for (size_t i = 0; i < of->count; i++) {
        bool new_one = of->trouble[i] != HW_TROUBLE_NONE;
        for (size_t k = 0; k < said->count; k++) {
            new_one = new_one && said->trouble[k] != of->trouble[i];
        }
        if (new_one) {
            hw_warn_trouble(said, of->trouble[i], 0.0, "%s", of->text[i]);
            hw_warn_trouble(out, of->trouble[i], of->at_stake[i], "%s: %s", name, of->text[i]);
        }
    }
}

static void warn_other_camera(const hw_shots *shots, size_t index, const hw_reading *one,
                              const hw_reading *first, hw_warnings *out)
{
    const hw_photo_facts *a = &first->photo, *b = &one->photo;
    char name[160];
    name_shot(shots, index, name);
    if (a->camera[0] && b->camera[0] && strcmp(a->camera, b->camera) != 0) {
        hw_warn(out,
                "%s is by another camera (%s) than the first one (%s): repeat shots are taken with "
                "one camera.",
                name, b->camera, a->camera);
    } else if (a->width_px != b->width_px || a->height_px != b->height_px) {
        hw_warn(out,
                "%s has %zu x %zu pixels, the first one %zu x %zu: repeat shots are taken with one "
                "camera in one setting.",
                name, b->width_px, b->height_px, a->width_px, a->height_px);
    }
}

static void say_left_out(hw_shots *shots, hw_warnings *out)
{
    for (size_t i = 0; i < shots->count; i++) {
        hw_one_shot *one = &shots->shot[i];
        char name[160];
        name_shot(shots, i, name);
        if (!one->used && one->off > 0.0) {
            hw_format_text(one->why, sizeof one->why, "it reads %.1f off the others", one->off);
            hw_warn(out,
                    "%s reads %.1f off the others: left out. Look whether a shadow lay on it, "
                    "something moved, or it was not dry.",
                    name, one->off);
        } else if (!one->used) {
            hw_warn(out, "%s is left out: %s.", name, one->why);
        }
    }
    if (shots->disagree) {
        hw_warn(out, "%s",
                shots->used == 2
                    ? "The two shots do not agree, and neither can be named: the range reaches "
                      "past both. Take a third one."
                    : "The shots do not agree, and none can be named: the range reaches past all "
                      "of them. Look for what changed between them, and take them again.");
    }
}

static void say_all(hw_reading *const *shot, unsigned set, const hw_reading *first, hw_reading *out)
{
    hw_warnings said = {0};
    hw_warnings_append(&said, &first->photo.warnings);
    hw_warnings_append(&said, &first->light.warnings);
    hw_warnings_append(&said, &first->warnings);
    say_left_out(&out->shots, &out->warnings);
    for (size_t i = 0; i < out->shots.count; i++) {
        if ((set >> i & 1u) && shot[i] != first) {
            warn_other_camera(&out->shots, i, shot[i], first, &out->warnings);
            add_troubles(&out->shots, i, &shot[i]->photo.warnings, &said, &out->warnings);
            add_troubles(&out->shots, i, &shot[i]->light.warnings, &said, &out->warnings);
            add_troubles(&out->shots, i, &shot[i]->warnings, &said, &out->warnings);
        }
    }
}

// ---- All ---------------------------------------------------------------------------

// Shots that were read and hold all parts that the first of them holds.
static unsigned find_read(hw_reading *const *shot, hw_shots *shots, size_t *first)
{
    unsigned read = 0;
    *first = HW_SHOTS_MOST;
    for (size_t i = 0; i < shots->count; i++) {
        if (!shot[i]) {
            continue;
        }
        *first = *first == HW_SHOTS_MOST ? i : *first;
        const char *missing = missing_in(shot[*first], shot[i]);
        if (missing) {
            hw_format_text(shots->shot[i].why, sizeof shots->shot[i].why, "%s is not marked on it",
                           missing);
        } else {
            read |= 1u << i;
        }
    }
    return read;
}

static hw_status compare_again(const gaps *all, unsigned set, const hw_earlier_list *known,
                               hw_reading *out, hw_error *err)
{
    hw_earlier_list more = {0};
    hw_comparisons again = {0};
    hw_status status = add_to_known(all, set, known, &more, err);
    if (status == HW_OK) {
        status = hw_compare_all(out->samples, out->sample_count, &out->marks, &out->light, &more,
                                &again, err);
    }
    if (status == HW_OK) {
        hw_comparisons_free(&out->comparisons);
        out->comparisons = again;
    }
    hw_free(more.item);
    return status;
}

hw_status hw_compare_shots(hw_reading *const *shot, const hw_shots *shots,
                           const hw_earlier_list *known, hw_reading *out, hw_error *err)
{
    hw_shots told = *shots;
    size_t first = 0;
    gaps all = {.shots = shots->count};
    unsigned read = find_read(shot, &told, &first), set = read;
    hw_status status = gather(shot, read, shot[first], known, &all, err);
    if (status != HW_OK) {
        return status;
    }
    if (all.patches > 0 && size_of(read) > 1) {
        set = which_agree(&all, read, &told.disagree);
    }
    for (size_t i = 0; i < told.count; i++) {
        told.shot[i].used = set >> i & 1u;
        told.shot[i].off = read >> i & 1u ? off_of(&all, (unsigned)i, set) : 0.0;
    }
    told.used = size_of(set);
    while (!(set >> first & 1u)) {
        first++;
    }
    hw_reading mean = *shot[first];
    mean.shots = told;
    say_all(shot, set, shot[first], &mean);
    if (told.used > 1) {
        mean_samples(shot, &told, set, &mean);
        status = compare_again(&all, set, known, &mean, err);
    }
    hw_free(all.patch);
    *shot[first] = (hw_reading){0}; // its parts are in `mean` now
    if (status != HW_OK) {
        hw_reading_free(&mean);
        return status;
    }
    *out = mean;
    return HW_OK;
}
