// compare_sides.c: a patch from the left and from the right.
//
// Fibres that lie at a slant throw light one way: the same area is light from one side and dark from the other, most of
// all in lightness. A gap that turns its sign between the two sides, each time beyond its own 90 % range, is the
// grain's light. Dye would take it away for one side and double it for the other.
#include "base_internal.h"
#include "compare_internal.h"

#include <math.h>
#include <string.h>

const char hw_grain_light[] = "the grain's light, not colour: judge it from where it will be seen";

static const char *const names[HW_FROM_COUNT] = {[HW_FROM_UNSAID] = "",
                                                 [HW_FROM_FRONT] = "front",
                                                 [HW_FROM_LEFT] = "left",
                                                 [HW_FROM_RIGHT] = "right"};
static const char *const words[HW_FROM_COUNT] = {[HW_FROM_UNSAID] = "from the front",
                                                 [HW_FROM_FRONT] = "from the front",
                                                 [HW_FROM_LEFT] = "from the left",
                                                 [HW_FROM_RIGHT] = "from the right"};

const char *hw_from_name(hw_from from)
{
    return names[from];
}

const char *hw_from_words(hw_from from)
{
    return words[from];
}

bool hw_from_from_name(const char *name, hw_from *out)
{
    for (int i = HW_FROM_FRONT; name && i < HW_FROM_COUNT; i++) {
        if (strcmp(names[i], name) == 0) {
            *out = (hw_from)i;
            return true;
        }
    }
    return false;
}

static hw_from front_if_unsaid(hw_from from)
{
    return from == HW_FROM_UNSAID ? HW_FROM_FRONT : from;
}

bool hw_from_is_same(hw_from one, hw_from other)
{
    return front_if_unsaid(one) == front_if_unsaid(other);
}

// 1, -1: surely above or below nothing; 0: not sure.
static int sure_sign(const hw_side_gap *gap, int axis)
{
    double reach = HW_NINETY * gap->u[axis];
    return gap->delta[axis] > reach ? 1 : gap->delta[axis] < -reach ? -1 : 0;
}

void hw_side_pair_decide(hw_side_pair *pair)
{
    pair->turned = false;
    for (int axis = 0; axis < 3; axis++) {
        pair->axis[axis] = sure_sign(&pair->left, axis) * sure_sign(&pair->right, axis) < 0;
        pair->turned = pair->turned || pair->axis[axis];
    }
}

static hw_side_gap side_of(const hw_comparison *item)
{
    hw_side_gap side = {.delta = {item->gap.L, item->gap.a, item->gap.b}};
    for (int axis = 0; axis < 3; axis++) {
        side.u[axis] = sqrt(fmax(item->covariance.m[axis][axis], 0.0));
    }
    return side;
}

size_t hw_side_pairs_of(const hw_reading *left, const hw_reading *right, hw_side_pair *out,
                        size_t room)
{
    size_t count = 0;
    for (size_t i = 0; i < left->comparisons.count; i++) {
        const hw_comparison *one = &left->comparisons.item[i];
        const hw_comparison *other = strcmp(one->target, HW_BESIDE) == 0
                                         ? hw_comparison_beside(&right->comparisons, one->patch)
                                         : NULL;
        if (!other) {
            continue;
        }
        if (count < room) {
            hw_side_pair *pair = &out[count];
            *pair = (hw_side_pair){.left = side_of(one), .right = side_of(other)};
            hw_copy_text(pair->patch, sizeof pair->patch, one->patch);
            hw_side_pair_decide(pair);
        }
        count++;
    }
    return count;
}

void hw_reading_turn(hw_reading *reading, const char *patch)
{
    for (size_t i = 0; i < reading->comparisons.count; i++) {
        hw_comparison *item = &reading->comparisons.item[i];
        if (strcmp(item->patch, patch) == 0) {
            item->grain_light = true;
            item->verdict = HW_VERDICT_UNSURE;
            hw_format_text(item->why, sizeof item->why,
                           "From the left and from the right its difference has opposite signs: "
                           "%s.",
                           hw_grain_light);
        }
    }
}
