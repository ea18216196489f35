// compare_verdict.c: is the gap worth touching?
//
// A repair let in among old wood is judged by the step at its joint, a whole board by how much
// boards differ anyway. A range that straddles its limit is decided by its middle, unless it
// reaches so far to both sides that the photo cannot tell.
//
//   let_in  leave: upper end below max(1.0, what the photo can tell); or, up to a gap of 2, when
//           the gap is below the old wood's own spread. Where the range reaches from below that limit to
//           above 2, the joint distribution of L*, a*, b* decides if it is clear enough; else unsure.
//   board   leave: range of gap / spread below 1.95, tone: above; unsure: past both 1.7 and 2.2.
//   both    too dark: dL* below -1.5 with its range, where it is not one to leave; leave where the ground
//           between the pores matches and only the mean does not (compare_ground.c).
//
//   shots   a gap below twice the scatter of one shot is not one to tone on: unsure, where the range reaches past 2 or
//           it is not one to leave
//
// Where the aim is not the old wood but what the patch must be before coats to come, the same rules hold to that
// aim and the sentences say so.
//
// 1.95 parts boards that belong from boards that do not without a miss on a model of whole pieces;
// 1.0 and 2.0 are the bands of compare_words.c.
#include "base_internal.h"
#include "compare_internal.h"

#include <math.h>

static const double step_seen = 1.0, step_most = 2.0;
static const double ratio_cut = 1.95, ratio_low = 1.7, ratio_high = 2.2;
static const double dark_limit = -1.5;
static const double clear = 0.75; // a chance that decides (chosen: see tests/accuracy/conditions.c)

// What a difference is to, behind "the difference", where it is not the old wood.
static const char *to_aim(const hw_comparison *gap)
{
    return gap->before_coats ? " to what it must be before the coats to come" : "";
}

static void say_directions(const hw_comparison *gap, char *out, size_t size)
{
    hw_text words = hw_text_in(out, size);
    for (size_t i = 0; i < gap->direction_count; i++) {
        const char *joint = i == 0 ? "" : i + 1 == gap->direction_count ? " and " : ", ";
        hw_text_add(&words, "%s%s", joint, hw_direction_words(gap->direction[i]));
    }
}

static void say_unsure(hw_comparison *gap)
{
    hw_format_text(
        gap->why, sizeof gap->why,
        "The photo cannot tell: the difference%s lies between %.1f and %.1f. Take it again "
        "nearer, with the card beside the repair and no shine, or mark larger areas.",
        to_aim(gap), gap->de00_low, gap->de00_high);
}

static void say_off(hw_comparison *gap)
{
    char directions[160];
    say_directions(gap, directions, sizeof directions);
    if (directions[0] == 0) {
        hw_format_text(gap->why, sizeof gap->why, "%s%s",
                       gap->before_coats ? "Against what it must be before the coats to come: "
                                         : "",
                       hw_size_words(gap->gap.de00));
        return;
    }
    hw_format_text(gap->why, sizeof gap->why, "%s %s. %s",
                   gap->before_coats ? "Against what it must be before the coats to come it is"
                                     : "It is",
                   directions, hw_size_words(gap->gap.de00));
}

// Repeat shots differ among themselves by as much as this gap.
static bool cannot_tell_apart(const hw_comparison *gap)
{
    return gap->shots >= 2 && gap->gap.de00 < 2.0 * gap->shot_scatter;
}

static void say_cannot_tell_apart(hw_comparison *gap)
{
    hw_format_text(gap->why, sizeof gap->why,
                   "The photos cannot tell these apart%s: repeat shots differ among themselves by "
                   "%.1f. Take them again, with nothing moving but the card lifted and laid down.",
                   to_aim(gap), gap->shots_apart);
}

// ---- The two kinds -----------------------------------------------------------------

static void decide_by_chance(hw_comparison *gap)
{
    if (gap->chance_to_leave < clear) {
        gap->verdict = HW_VERDICT_UNSURE;
        say_unsure(gap);
        return;
    }
    gap->verdict = HW_VERDICT_LEAVE;
    hw_format_text(
        gap->why, sizeof gap->why,
        "Most likely (%.0f in 100) the step%s is one that the old wood has too: a surer photo "
        "would tell, dye would not come off.",
        100.0 * gap->chance_to_leave, gap->before_coats ? " left once the coats lie on it" : "");
}

static void say_close(hw_comparison *gap)
{
    bool seen = gap->de00_high < step_seen;
    if (gap->before_coats) {
        hw_format_text(gap->why, sizeof gap->why,
                       "Leave it: the coats to come do the rest. Against what it must be before "
                       "them, %s (below %.1f).",
                       seen ? "what is left is too close to see"
                            : "this photo cannot tell what is left from none",
                       gap->de00_high);
        return;
    }
    hw_format_text(gap->why, sizeof gap->why,
                   cannot_tell_apart(gap) ? "The photos cannot tell these apart (below %.1f)."
                   : seen ? "The step at the joint is too close to see (below %.1f)."
                          : "This photo cannot tell the step at the joint from none (below %.1f).",
                   gap->de00_high);
}

static void decide_let_in(hw_comparison *gap)
{
    double seen = fmax(step_seen, gap->tellable);
    double one_to_leave = fmax(step_seen, fmin(step_most, gap->spread));
    gap->chance_to_leave =
        hw_compare_chance(gap->target_lab, gap->patch_lab, &gap->covariance, one_to_leave);
    if (gap->de00_high < seen) {
        gap->verdict = HW_VERDICT_LEAVE;
        say_close(gap);
    } else if (gap->gap.de00 <= step_most && gap->spread_ratio < 1.0) {
        gap->verdict = HW_VERDICT_LEAVE;
        hw_format_text(gap->why, sizeof gap->why,
                       "The difference%s (%.1f) is within the old wood's own spread (%.1f).",
                       to_aim(gap), gap->gap.de00, gap->spread);
    } else if (gap->de00_low < seen && gap->de00_high > fmax(seen, step_most) &&
               gap->chance_to_leave > 1.0 - clear) {
        decide_by_chance(gap);
    } else {
        gap->verdict = HW_VERDICT_TONE;
        say_off(gap);
    }
}

static void decide_board(hw_comparison *gap)
{
    double low = gap->de00_low / gap->spread, high = gap->de00_high / gap->spread;
    if (low < ratio_low && high > ratio_high) {
        gap->verdict = HW_VERDICT_UNSURE;
        say_unsure(gap);
    } else if (gap->spread_ratio < ratio_cut) {
        gap->verdict = HW_VERDICT_LEAVE;
        hw_format_text(gap->why, sizeof gap->why,
                       "It differs (%.1f)%s as the boards of this piece differ among themselves "
                       "(%.1f): natural variation.",
                       gap->gap.de00,
                       gap->before_coats ? " from what it must be before the coats to come" : "",
                       gap->spread);
    } else {
        gap->verdict = HW_VERDICT_TONE;
        say_off(gap);
    }
}

void hw_verdict_decide(hw_comparison *comparison)
{
    if (comparison->kind == HW_KIND_BOARD) {
        decide_board(comparison);
    } else {
        decide_let_in(comparison);
    }
    if (comparison->verdict != HW_VERDICT_LEAVE && comparison->ground.matches) {
        comparison->verdict = HW_VERDICT_LEAVE;
        hw_format_text(comparison->why, sizeof comparison->why,
                       "No more toner: the wood between the pores %s (%.1f), and toner would "
                       "make it too dark. What it lacks is pores and grain lines, by brush.",
                       comparison->before_coats ? "is as it must be before the coats to come"
                                                : "matches",
                       comparison->ground.gap.de00);
    } else if ((comparison->verdict != HW_VERDICT_LEAVE || comparison->de00_high > step_most) &&
               cannot_tell_apart(comparison)) {
        comparison->verdict = HW_VERDICT_UNSURE;
        say_cannot_tell_apart(comparison);
    } else if (comparison->verdict != HW_VERDICT_LEAVE && comparison->high.L < dark_limit) {
        comparison->verdict = HW_VERDICT_TOO_DARK;
        hw_format_text(
            comparison->why, sizeof comparison->why,
            comparison->before_coats
                ? "Once the coats to come lie on it, it must be expected to be darker than the old "
                  "wood by about %.1f, and dye cannot lighten."
                : "It is darker than the old wood by %.1f, and dye cannot lighten.",
            -comparison->gap.L);
    }
}
