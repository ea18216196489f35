// tone_mix.c: how to mix a volume of a liquid, and how much the passes need.
//
// Two ways to the same liquid: the dyes' liquids of strength 1 (as their step boards were made) thinned down, or
// concentrate or powder put into thinner. Each part is rounded to what can be measured, and the thinner is what is
// left of the volume, so that all adds up. What rounding does to the strength is told where it is more than a
// twentieth.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

static const double nothing = 1e-9;        // ml, shares
static const double drops_a_ml = 20.0;     // common practice, no source
static const double fl_oz = 29.5735295625; // ml: 231 / 128 cubic inches
static const double off_told = 0.05;       // chosen

// ---- Measuring ---------------------------------------------------------------------

// What dropper, syringe, cylinder and jug tell (chosen): drops below 5 ml, then half a millilitre, one, five.
static double volume_step(double ml)
{
    return ml < 5.0 ? 1.0 / drops_a_ml : ml < 50.0 ? 0.5 : ml < 500.0 ? 1.0 : 5.0;
}

// What a kitchen or letter scale tells (chosen).
static double weight_step(double g)
{
    return g < 20.0 ? 0.1 : 1.0;
}

// The nearest whole number of steps, at least one.
static double measured(double exact, double step)
{
    double steps = fmax(floor(exact / step + 0.5), 1.0);
    return steps * step;
}

static double off_by(double rounded, double exact)
{
    return exact > 0.0 ? fabs(rounded / exact - 1.0) : 0.0;
}

// ---- The mix -----------------------------------------------------------------------

static double strengths(const hw_mix *mix)
{
    double sum = 0.0;
    for (size_t i = 0; i < mix->count; i++) {
        sum += mix->part[i].strength;
    }
    return sum;
}

// Rounds the volumes and gives the rest to the thinner. Without thinner the last part takes the rest.
static double round_all(double *volume[], size_t count, double all, double *off)
{
    double exact_sum = 0.0, sum = 0.0;
    *off = 0.0;
    for (size_t i = 0; i < count; i++) {
        exact_sum += *volume[i];
    }
    for (size_t i = 0; i < count; i++) {
        double exact = *volume[i], left = all - sum;
        bool last_of_all = i + 1 == count && all - exact_sum < nothing * all;
        double rounded = exact > 0.0 ? measured(exact, volume_step(exact)) : 0.0;
        rounded = last_of_all ? left : fmin(rounded, left);
        *volume[i] = rounded;
        *off = fmax(*off, off_by(rounded, exact));
        sum += rounded;
    }
    double rest = all - sum;
    return rest < nothing * all ? 0.0 : rest;
}

static void mix_from_board(hw_mix *mix)
{
    double *volume[HW_LIQUID_DYES_MAX];
    mix->from_board = strengths(mix) <= 1.0 + nothing;
    for (size_t i = 0; i < mix->count && mix->from_board; i++) {
        mix->part[i].board_ml = mix->part[i].strength * mix->volume_ml;
        volume[i] = &mix->part[i].board_ml;
    }
    if (mix->from_board) {
        mix->board_thinner_ml = round_all(volume, mix->count, mix->volume_ml, &mix->board_off);
    }
}

static void mix_from_concentrate(hw_mix *mix)
{
    double *volume[HW_LIQUID_DYES_MAX], share = 0.0, powder_off = 0.0;
    bool all_known = true;
    for (size_t i = 0; i < mix->count; i++) {
        const hw_made *made = &mix->part[i].made;
        all_known = all_known && made->words[0];
        share += made->share * mix->part[i].strength;
    }
    mix->from_concentrate = all_known && share <= 1.0 + nothing;
    for (size_t i = 0; i < mix->count && mix->from_concentrate; i++) {
        hw_mix_part *part = &mix->part[i];
        double powder = part->made.g_l * part->strength * mix->volume_ml / 1000.0;
        part->concentrate_ml = part->made.share * part->strength * mix->volume_ml;
        part->powder_g = powder > 0.0 ? measured(powder, weight_step(powder)) : 0.0;
        powder_off = fmax(powder_off, off_by(part->powder_g, powder));
        volume[i] = &part->concentrate_ml;
    }
    if (mix->from_concentrate) {
        mix->concentrate_thinner_ml =
            round_all(volume, mix->count, mix->volume_ml, &mix->concentrate_off);
        mix->concentrate_off = fmax(mix->concentrate_off, powder_off);
    }
}

hw_status hw_tone_mix(const hw_liquid *liquid, const hw_shelf *shelf, double volume_ml, hw_mix *out,
                      hw_error *err)
{
    hw_mix mix = {.volume_ml = volume_ml, .count = liquid->count};
    if (!(volume_ml > 0.0 && volume_ml <= HW_MIX_MOST_ML)) {
        return hw_fail(err, HW_ERR_CALL, "mix-volume", "the volume",
                       "Say how much is to be mixed, as 200 ml or 8 fl oz.",
                       "%g ml cannot be mixed here: more than 0, at most %g", volume_ml,
                       HW_MIX_MOST_ML);
    }
    for (size_t i = 0; i < liquid->count; i++) {
        const hw_dye *dye = hw_shelf_find(shelf, liquid->dose[i].dye);
        hw_copy_text(mix.part[i].dye, HW_NAME_SIZE, liquid->dose[i].dye);
        mix.part[i].strength = liquid->dose[i].strength;
        if (dye) {
            mix.part[i].made = dye->made;
        }
    }
    mix_from_board(&mix);
    mix_from_concentrate(&mix);
    *out = mix;
    return HW_OK;
}

// ---- In words ----------------------------------------------------------------------

// Without zeros behind the point.
static void add_ml(hw_text *text, double ml)
{
    char number[40];
    hw_format_text(number, sizeof number, "%.2f", ml);
    char *end = number + strlen(number);
    while (end[-1] == '0') {
        *--end = 0;
    }
    end[-1] = end[-1] == '.' ? 0 : end[-1];
    hw_text_add(text, "%s ml", number);
}

// "0.4 ml (8 drops, 0.014 fl oz": the bracket stays open.
static void open_volume(hw_text *text, double ml)
{
    double drops = floor(ml * drops_a_ml + 0.5);
    add_ml(text, ml);
    hw_text_add(text, " (");
    if (ml < 5.0) {
        hw_text_add(text, "%.0f drop%s, ", drops, drops == 1.0 ? "" : "s");
    }
    double ounces = ml / fl_oz;
    hw_text_add(text, "%.*f fl oz",
                ounces >= 10.0   ? 0
                : ounces >= 0.1  ? 1
                : ounces >= 0.01 ? 2
                                 : 3,
                ounces);
}

static void add_volume(hw_text *text, double ml)
{
    open_volume(text, ml);
    hw_text_add(text, ")");
}

void hw_say_volume(double ml, char *out, size_t size)
{
    hw_text text = hw_text_in(out, size);
    add_volume(&text, ml);
}

// The fewest parts of which all strengths are whole numbers, within a hundredth; 0: none up to 16.
static int common_parts(const hw_mix *mix)
{
    for (int parts = 1; parts <= 16; parts++) {
        bool whole = true;
        for (size_t i = 0; i < mix->count; i++) {
            double share = mix->part[i].strength * parts, nearest = floor(share + 0.5);
            whole = whole && nearest >= 1.0 && fabs(share - nearest) <= 0.01 * nearest;
        }
        if (whole) {
            return parts;
        }
    }
    return 0;
}

static void add_share(hw_text *text, double share, int parts, const char *of)
{
    if (parts > 0) {
        int own = (int)(share * parts + 0.5);
        hw_text_add(text, "%d part%s %s", own, own == 1 ? "" : "s", of);
    } else {
        hw_text_add(text, "%.0f %% %s", 100.0 * share, of);
    }
}

static void add_off(hw_text *text, double off)
{
    if (off > off_told) {
        hw_text_add(text,
                    " What can be measured puts the strength off by up to %.0f %%: mix more of it "
                    "to come nearer.",
                    100.0 * off);
    }
}

static void say_from_board(hw_text *text, const hw_mix *mix)
{
    int parts = common_parts(mix);
    double thinner = 1.0 - strengths(mix);
    if (mix->count == 1 && thinner < nothing) {
        hw_text_add(text, "%s as its step board was made, no thinner.", mix->part[0].dye);
        return;
    }
    for (size_t i = 0; i < mix->count; i++) {
        hw_text_add(text, i ? ", " : "");
        add_share(text, mix->part[i].strength, parts, mix->part[i].dye);
    }
    if (thinner >= nothing) {
        hw_text_add(text, ", ");
        add_share(text, thinner, parts, "thinner");
    }
    hw_text_add(text, mix->count > 1 ? ", the dyes as their step boards were made: "
                                     : ", the dye as its step board was made: ");
    for (size_t i = 0; i < mix->count; i++) {
        hw_text_add(text, i ? ", " : "");
        add_volume(text, mix->part[i].board_ml);
        hw_text_add(text, " %s", mix->part[i].dye);
    }
    if (mix->board_thinner_ml > 0.0) {
        hw_text_add(text, ", ");
        add_volume(text, mix->board_thinner_ml);
        hw_text_add(text, " thinner");
    }
    hw_text_add(text, ".");
    add_off(text, mix->board_off);
}

static void say_from_concentrate(hw_text *text, const hw_mix *mix)
{
    bool powder = false, drops = false;
    hw_text_add(text, "From the concentrate: ");
    for (size_t i = 0; i < mix->count; i++) {
        const hw_mix_part *part = &mix->part[i];
        hw_text_add(text, i ? ", " : "");
        if (part->powder_g > 0.0) {
            hw_text_add(text, "%.1f g (%.2g oz) %s powder", part->powder_g,
                        part->powder_g / (453.59237 / 16.0), part->dye);
        } else {
            add_volume(text, part->concentrate_ml);
            hw_text_add(text, " %s", part->dye);
        }
        hw_text_add(text, " (full strength is %s)", part->made.words);
        powder = powder || part->powder_g > 0.0;
        drops = drops || (part->concentrate_ml > 0.0 && part->concentrate_ml < 5.0);
    }
    hw_text_add(text, ", ");
    add_volume(text, mix->concentrate_thinner_ml);
    hw_text_add(text, " thinner.%s%s",
                powder ? " What the powder adds to the volume is left out." : "",
                drops ? " Drops are counted 20 a ml; droppers differ." : "");
    add_off(text, mix->concentrate_off);
}

// Why there is no way at all.
static void say_no_way(hw_text *text, const hw_mix *mix)
{
    hw_text_add(text,
                "stronger than the step board%s, so it cannot be thinned from %s; it needs "
                "concentrate, ",
                mix->count > 1 ? "s together" : "",
                mix->count > 1 ? "their liquids" : "its liquid");
    for (size_t i = 0; i < mix->count; i++) {
        if (!mix->part[i].made.words[0]) {
            hw_text_add(
                text,
                "and how full strength of %s was made is not said: huewright shelf add \"%s\" "
                "--made \"15 drops in 4 fl oz\".",
                mix->part[i].dye, mix->part[i].dye);
            return;
        }
    }
    hw_text_add(text, "and more of that than there is room for.");
}

void hw_mix_say(const hw_mix *mix, char *out, size_t size)
{
    hw_text text = hw_text_in(out, size);
    open_volume(&text, mix->volume_ml);
    hw_text_add(&text, "; US measures): ");
    if (mix->from_board) {
        say_from_board(&text, mix);
    } else if (mix->from_concentrate) {
        hw_text_add(&text, "stronger than the step board%s, so from concentrate only.",
                    mix->count > 1 ? "s together" : "");
    } else {
        say_no_way(&text, mix);
    }
    if (mix->from_concentrate) {
        hw_text_add(&text, "\n");
        say_from_concentrate(&text, mix);
    }
}

// ---- What passes need --------------------------------------------------------------

// Wet film that one thin pass leaves on the wood, mm (common practice, no source), and the share that gets there.
static const double film_mm = 0.04;

static double share_laid(hw_tool tool)
{
    return tool == HW_TOOL_SPRAY || tool == HW_TOOL_UNSAID ? 0.5 : 0.8;
}

double hw_tone_ml_m2(hw_tool tool)
{
    return 1000.0 * film_mm / share_laid(tool);
}

// What stays in gun, hose and jar, or in pad and brush, ml (chosen).
static double stays_behind(hw_tool tool)
{
    return tool == HW_TOOL_SPRAY || tool == HW_TOOL_UNSAID ? 30.0 : 10.0;
}

// The next of 10, 15, 20, 30, 50, 75 and their tenfolds.
static double handy(double ml)
{
    static const double handy_volumes[] = {10.0, 15.0, 20.0, 30.0, 50.0, 75.0};
    for (double decade = 1.0;; decade *= 10.0) {
        for (size_t i = 0; i < sizeof handy_volumes / sizeof *handy_volumes; i++) {
            if (ml <= handy_volumes[i] * decade || decade > 1e9) {
                return handy_volumes[i] * decade;
            }
        }
    }
}

hw_need hw_tone_need(double area_cm2, int passes, double ml_m2, hw_tool tool)
{
    bool said = isfinite(ml_m2) && ml_m2 > 0.0, sized = isfinite(area_cm2) && area_cm2 > 0.0;
    hw_need need = {.said = said,
                    .ml_m2 = said ? ml_m2 : hw_tone_ml_m2(tool),
                    .pass_ml = (double)NAN,
                    .mix_ml = (double)NAN};
    if (sized) {
        need.pass_ml = area_cm2 / 1e4 * need.ml_m2;
        need.mix_ml = handy(passes * need.pass_ml + stays_behind(tool));
    }
    if (said) {
        hw_format_text(need.assumption, sizeof need.assumption,
                       "%.3g ml a square metre and pass, as you said; %.0f ml more for what stays "
                       "in gun, pad and jar",
                       need.ml_m2, stays_behind(tool));
    } else {
        hw_format_text(need.assumption, sizeof need.assumption,
                       "assumed: a wet film of %.2f mm, of which %s, so %.0f ml a square metre and "
                       "pass; it may well be half or twice that; %.0f ml more for what stays in "
                       "gun, pad and jar",
                       film_mm,
                       tool == HW_TOOL_SPRAY    ? "a gun loses half"
                       : tool == HW_TOOL_UNSAID ? "a gun loses half (the tool is not said)"
                                                : "pad or brush loses a fifth",
                       need.ml_m2, stays_behind(tool));
    }
    return need;
}
