// tone_words.c: reasons and mixes as a finisher says them.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

hw_liquid hw_tone_liquid(const hw_tone_task *task, const hw_coat_of_dye *coat)
{
    hw_liquid liquid = {.count = coat->dyes};
    for (size_t k = 0; k < coat->dyes; k++) {
        hw_copy_text(liquid.dose[k].dye, HW_NAME_SIZE, task->known->dye[coat->dye[k]].name);
        liquid.dose[k].strength = coat->strength[k];
    }
    return liquid;
}

bool hw_tone_coat_of(const hw_known *known, const hw_liquid *liquid, hw_coat_of_dye *out)
{
    hw_coat_of_dye coat = {.dyes = liquid->count, .passes = 1};
    for (size_t k = 0; k < liquid->count; k++) {
        const hw_known_dye *dye = hw_known_find(known, liquid->dose[k].dye);
        if (!dye) {
            return false;
        }
        coat.dye[k] = (size_t)(dye - known->dye);
        coat.strength[k] = liquid->dose[k].strength;
    }
    *out = coat;
    return true;
}

static const char *fraction(double strength)
{
    return strength >= 1.0    ? "full strength"
           : strength >= 0.5  ? "1/2"
           : strength >= 0.25 ? "1/4"
                              : "1/8";
}

static void add_parts(hw_text *text, int parts, const char *of)
{
    hw_text_add(text, "%d part%s %s", parts, parts == 1 ? "" : "s", of);
}

// Parts of each dye's liquid at full strength (as the step board was made), and of thinner; strengths are
// eighths.
static void add_mix(hw_text *text, const hw_liquid *liquid)
{
    int parts[HW_LIQUID_DYES_MAX] = {0}, thinner = 8, common = 8;
    for (size_t k = 0; k < liquid->count; k++) {
        hw_text_add(text, "%s%s at %s", k ? " with " : "", liquid->dose[k].dye,
                    fraction(liquid->dose[k].strength));
        parts[k] = (int)(8.0 * liquid->dose[k].strength + 0.5);
        thinner -= parts[k];
    }
    if (liquid->count == 1 && thinner == 0) {
        return; // as it is
    }
    for (; common > 1; common /= 2) {
        if (parts[0] % common == 0 && parts[1] % common == 0 && thinner % common == 0) {
            break;
        }
    }
    for (size_t k = 0; k < liquid->count; k++) {
        hw_text_add(text, k ? ", " : ": ");
        add_parts(text, parts[k] / common, liquid->count == 1 ? "of it" : liquid->dose[k].dye);
    }
    if (thinner > 0) {
        hw_text_add(text, ", ");
        add_parts(text, thinner / common, "thinner");
    }
}

static bool is_of_ladder(double strength)
{
    for (int rung = 0; rung < HW_LADDER_COUNT; rung++) {
        if (fabs(strength - hw_ladder[rung]) < 1e-9) {
            return true;
        }
    }
    return false;
}

// A jar that stands mixed at a strength of its own cannot be told in eighths.
static bool is_in_eighths(const hw_plan *plan)
{
    bool all = true;
    for (size_t i = 0; i < plan->count; i++) {
        for (size_t k = 0; k < plan->coat[i].dyes; k++) {
            all = all && is_of_ladder(plan->coat[i].strength[k]);
        }
    }
    return all;
}

static void add_strengths(hw_text *text, const hw_liquid *liquid)
{
    for (size_t k = 0; k < liquid->count; k++) {
        hw_text_add(text, "%s%s at %.2g of full strength", k ? " with " : "", liquid->dose[k].dye,
                    liquid->dose[k].strength);
    }
}

void hw_tone_say_mix(const hw_tone_task *task, const hw_plan *plan, char *out, size_t size)
{
    const bool eighths = is_in_eighths(plan);
    hw_text text = hw_text_in(out, size);
    for (size_t i = 0; i < plan->count; i++) {
        hw_liquid liquid = hw_tone_liquid(task, &plan->coat[i]);
        hw_text_add(&text, i ? "; " : "");
        if (eighths) {
            add_mix(&text, &liquid);
        } else {
            add_strengths(&text, &liquid);
        }
    }
}

void hw_tone_say_full_strength(const hw_tone_task *task, const hw_plan *step, char *out,
                               size_t size)
{
    const hw_coat_of_dye *coat = &step->coat[0];
    hw_text text = hw_text_in(out, size);
    for (size_t k = 0; k < coat->dyes; k++) {
        const hw_known_dye *dye = &task->known->dye[coat->dye[k]];
        hw_text_add(&text, "%sFull strength of %s is ", k ? " " : "", dye->name);
        if (dye->has_board && dye->guess && dye->unlike != 0.0) {
            hw_text_add(
                &text,
                "the liquid of its step board; the board's wood is %.0f L* %s than this, so "
                "what it does here is a guess until one pass of it is seen.",
                fabs(dye->unlike), dye->unlike > 0.0 ? "lighter" : "darker");
        } else if (dye->has_board) {
            hw_text_add(&text, "the liquid that its step board was made with.");
        } else if (dye->guess) {
            hw_text_add(&text, "a guess: a weak toner of which one pass can just be seen.");
        } else {
            hw_text_add(&text, "the liquid that you have logged at strength 1.");
        }
    }
}

// ---- Reasons -----------------------------------------------------------------------

typedef struct part {
    double size; // >= 0
    const char *word;
    bool sure; // its range holds no change of sign
} part;

static void sort_parts(part parts[3])
{
    for (int i = 1; i < 3; i++) {
        part moving = parts[i];
        int at = i;
        for (; at > 0 && parts[at - 1].size < moving.size; at--) {
            parts[at] = parts[at - 1];
        }
        parts[at] = moving;
    }
}

void hw_tone_say_gap(const hw_tone_request *request, char *out, size_t size)
{
    const hw_comparison *gap = request->gap;
    const hw_difference *d = &gap->gap, *low = &gap->low, *high = &gap->high;
    part parts[3] = {
        {fabs(d->L), d->L > 0.0 ? "lighter" : "darker", low->L > 0.0 || high->L < 0.0},
        {fabs(d->a), d->a > 0.0 ? "redder" : "greener", low->a > 0.0 || high->a < 0.0},
        {fabs(d->b), d->b > 0.0 ? "yellower" : "bluer", low->b > 0.0 || high->b < 0.0}};
    hw_text text = hw_text_in(out, size);
    sort_parts(parts);
    int said = 0;
    for (int i = 0; i < 3; i++) {
        if (parts[i].size < 1.0 || !(parts[i].sure || said == 0) || said == 2) {
            continue;
        }
        hw_text_add(&text, "%s%.0f %s", said ? " and " : "", parts[i].size, parts[i].word);
        said++;
    }
    if (said == 0) {
        hw_text_add(&text, "%.1f %s", parts[0].size, parts[0].word);
    }
    hw_text_add(&text, " than %s",
                gap->before_coats   ? "it must be before the coats to come"
                : request->old_wood ? request->old_wood
                                    : "the old wood");
}

static const char *how_weak(double strength)
{
    return strength >= 1.0    ? "full strength"
           : strength >= 0.5  ? "half strength"
           : strength >= 0.25 ? "weak"
                              : "very weak";
}

void hw_tone_say_liquid(const hw_liquid *liquid, char *out, size_t size)
{
    if (liquid->count == 2) {
        hw_format_text(out, size, "%s, %s, with %s, %s, in one liquid", liquid->dose[0].dye,
                       how_weak(liquid->dose[0].strength), liquid->dose[1].dye,
                       how_weak(liquid->dose[1].strength));
    } else {
        hw_format_text(out, size, "%s, %s", liquid->dose[0].dye,
                       how_weak(liquid->dose[0].strength));
    }
}
