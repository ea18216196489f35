// compare_ground.c: the wood between the pores, of patch and old wood.
//
// A patch of a finer wood can have the colour of the old wood's ground and still read too light in the
// mean, since it lacks the dark pores. Toning the mean away would leave the ground too dark: what
// is missing is drawn in with a brush (common practice, no source). So where the grounds can be
// told and match, a mean that does not is no reason for toner.
#include "compare_internal.h"

static const double ground_close = 1.0;   // CIEDE2000: too close to see (compare_words.c)
static const double pores_none = 0.01;    // share of the area: a wood without pores to see
static const double pores_differ = 0.015; // of the area, between patch and old wood (chosen)

static bool has_no_pores(const hw_sample *sample)
{
    return sample->pore_share < pores_none;
}

static hw_xyz ground_of(const hw_sample *sample)
{
    return sample->ground_known ? sample->ground : sample->xyz;
}

static bool grounds_known(const hw_sample *patch, const hw_sample *const *targets, size_t count)
{
    bool known = patch->ground_known || has_no_pores(patch), any = patch->ground_known;
    for (size_t i = 0; i < count; i++) {
        known = known && (targets[i]->ground_known || has_no_pores(targets[i]));
        any = any || targets[i]->ground_known;
    }
    return known && any;
}

bool hw_compare_ground_matches(const hw_comparison *item)
{
    return item->ground.fewer_pores && item->ground.gap.de00 < ground_close &&
           item->gap.L > item->ground.gap.L && item->gap.de00 > ground_close;
}

void hw_compare_ground(const hw_sample *patch, const hw_sample *const *targets, size_t count,
                       const hw_light *light, hw_comparison *item)
{
    if (!grounds_known(patch, targets, count)) {
        return;
    }
    hw_sample ground = *patch; // the doubts of the whole, about the colour of its ground
    hw_compare_old old = {0};
    double pores = 0.0;
    for (size_t i = 0; i < count; i++) {
        hw_sample one = *targets[i];
        one.xyz = ground_of(targets[i]);
        hw_compare_old_add(&old, &one);
        pores += targets[i]->pore_share / (double)count;
    }
    hw_compare_old_finish(&old);
    ground.xyz = ground_of(patch);
    ground.lab = hw_lab_from_xyz(ground.xyz, hw_white_d50);
    item->ground.known = true;
    item->ground.gap = hw_difference_of(old.lab, ground.lab);
    hw_covariance doubt = hw_compare_doubt_sum(&ground, &old, light);
    hw_gap_range(old.lab, ground.lab, &doubt, &item->ground.de00_low, &item->ground.de00_high);
    item->ground.fewer_pores = pores - patch->pore_share > pores_differ;
    item->ground.matches = hw_compare_ground_matches(item);
}
