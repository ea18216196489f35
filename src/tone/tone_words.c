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

static const char *fraction(double strength)
{
    return strength >= 1.0    ? "full strength"
           : strength >= 0.5  ? "1/2"
           : strength >= 0.25 ? "1/4"
                              : "1/8";
}

// One dye: parts of the liquid at full strength (as the step board was made) and of thinner. Two:
// eighths of each in one liquid, and the thinner that their strengths leave.
static void add_mix(hw_text *text, const hw_liquid *liquid)
{
    double sum = 0.0;
    for (size_t k = 0; k < liquid->count; k++) {
        hw_text_add(text, "%s%s at %s", k ? " with " : "", liquid->dose[k].dye,
                    fraction(liquid->dose[k].strength));
        sum += liquid->dose[k].strength;
    }
    if (liquid->count == 1 && sum < 1.0) {
        int thinner = (int)(1.0 / sum + 0.5) - 1;
        hw_text_add(text, ": 1 part of the full-strength liquid, %d part%s thinner", thinner,
                    thinner == 1 ? "" : "s");
    } else if (liquid->count == 2) {
        int thinner = (int)(8.0 * (1.0 - sum) + 0.5);
        hw_text_add(text,
                    " in one liquid: of 8 parts %d and %d of the full-strength liquids, %d thinner",
                    (int)(8.0 * liquid->dose[0].strength + 0.5),
                    (int)(8.0 * liquid->dose[1].strength + 0.5), thinner);
    }
}

void hw_tone_say_mix(const hw_tone_task *task, const hw_plan *plan, char *out, size_t size)
{
    hw_text text = {0};
    for (size_t i = 0; i < plan->count; i++) {
        hw_liquid liquid = hw_tone_liquid(task, &plan->coat[i]);
        hw_text_add(&text, i ? "; " : "");
        add_mix(&text, &liquid);
    }
    hw_copy_text(out, size, text.bytes && !text.failed ? text.bytes : "");
    hw_text_free(&text);
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

void hw_tone_say_gap(const hw_comparison *gap, char *out, size_t size)
{
    const hw_difference *d = &gap->gap, *low = &gap->low, *high = &gap->high;
    part parts[3] = {
        {fabs(d->L), d->L > 0.0 ? "lighter" : "darker", low->L > 0.0 || high->L < 0.0},
        {fabs(d->a), d->a > 0.0 ? "redder" : "greener", low->a > 0.0 || high->a < 0.0},
        {fabs(d->b), d->b > 0.0 ? "yellower" : "bluer", low->b > 0.0 || high->b < 0.0}};
    hw_text text = {0};
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
    hw_text_add(&text, " than the old wood");
    hw_copy_text(out, size, text.bytes && !text.failed ? text.bytes : "");
    hw_text_free(&text);
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
