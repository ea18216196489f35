// compare_aim.c: a patch against another aim than the old wood: as it must be before coats to come on it alone.
//
// The gap is read to that aim; what the photo may be wrong by stays, and what is not known of the coats comes on
// top. The wood between the pores has its aim moved alike. What an end of the patch wants was said against the
// old wood, so only that it differs is kept.
#include "compare_internal.h"

#include <math.h>
#include <string.h>

// The patch's own ground is not kept: its gap is set at the old wood's colour.
static void move_ground(hw_lab old, hw_lab aim, hw_comparison *out)
{
    hw_difference read = out->ground.gap;
    hw_lab ground = {old.L + read.L, old.a + read.a, old.b + read.b};
    out->ground.gap = hw_difference_of(aim, ground);
    hw_gap_range(aim, ground, &out->covariance, &out->ground.de00_low, &out->ground.de00_high);
    out->ground.matches = hw_compare_ground_matches(out);
}

hw_comparison hw_comparison_before_coats(const hw_comparison *as_read, hw_lab aim,
                                         const hw_covariance *more)
{
    hw_comparison out = *as_read;
    out.before_coats = true;
    out.target_lab = aim;
    out.covariance = hw_covariance_sum(&as_read->covariance, more);
    hw_compare_gap(&out);
    out.spread_ratio = out.gap.de00 / out.spread;
    out.t_squared = out.t_squared_p = (double)NAN;
    if (out.ground.known) {
        move_ground(as_read->target_lab, aim, &out);
    }
    hw_verdict_decide(&out);
    char *wish = strchr(out.uneven.words, ':');
    out.uneven.alone = false;
    if (wish) {
        memcpy(wish, ".", 2);
    }
    return out;
}
