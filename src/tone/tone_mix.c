// tone_mix.c: how to mix a volume of a liquid, and how much the passes need.
//
// Two ways to the same liquid: the dyes' liquids of strength 1 (as their step boards were made) thinned down, or
// concentrate or powder put into thinner. Each part is rounded down to what can be measured, never up, since dye does
// not come off, and the thinner is what is left of the volume, so that all adds up. How much weaker that makes it is
// told where it is more than a twentieth; a way that it puts a part off by more than a tenth is none at this
// volume, and the least handy volume at which it is one is told instead.
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

static const double nothing = 1e-9;                   // ml, shares, steps
static const double off_told = 0.05, off_most = 0.10; // chosen

// ---- Measuring ---------------------------------------------------------------------

// What dropper, syringe, cylinder and jug tell (chosen): drops below 5 ml, then half a millilitre, one, five.
static double volume_step(double ml)
{
    return ml < 5.0 ? 1.0 / HW_DROPS_A_ML : ml < 50.0 ? 0.5 : ml < 500.0 ? 1.0 : 5.0;
}

// What a kitchen or letter scale tells (chosen).
static double weight_step(double g)
{
    return g < 20.0 ? 0.1 : 1.0;
}

// The whole number of steps that is no more; *off grows to the share that is missing.
static double measured(double exact, double step, double *off)
{
    double rounded = floor(exact / step + nothing) * step;
    *off = exact > 0.0 ? fmax(*off, 1.0 - rounded / exact) : *off;
    return rounded;
}

// As it can be read: "8 fl oz" are 236.6 ml.
static double readable(double ml)
{
    double a_ml = ml < 10.0 ? HW_DROPS_A_ML : 10.0;
    return fmax(floor(ml * a_ml + 0.5), 1.0) / a_ml;
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

// ---- The mix -----------------------------------------------------------------------

static double strengths(const hw_mix *mix)
{
    double sum = 0.0;
    for (size_t i = 0; i < mix->count; i++) {
        sum += mix->part[i].strength;
    }
    return sum;
}

// Rounds the volumes and gives the rest to the thinner. One dye that fills all of it needs no measuring.
static double round_all(double *volume[], size_t count, double all, double *off)
{
    double rest = all;
    for (size_t i = 0; i < count; i++) {
        bool fills = count == 1 && all - *volume[i] < nothing * all;
        *volume[i] = fills ? all : measured(*volume[i], volume_step(*volume[i]), off);
        rest -= *volume[i];
    }
    return rest < nothing * all ? 0.0 : rest;
}

// Can all parts be measured?
typedef bool measure_way(hw_mix *mix);

static bool measure_board(hw_mix *mix)
{
    double *volume[HW_LIQUID_DYES_MAX];
    for (size_t i = 0; i < mix->count; i++) {
        mix->part[i].board_ml = mix->part[i].strength * mix->volume_ml;
        volume[i] = &mix->part[i].board_ml;
    }
    mix->board_off = 0.0;
    mix->board_thinner_ml = round_all(volume, mix->count, mix->volume_ml, &mix->board_off);
    return mix->board_off <= off_most;
}

static bool measure_concentrate(hw_mix *mix)
{
    double *volume[HW_LIQUID_DYES_MAX], *off = &mix->concentrate_off;
    *off = 0.0;
    for (size_t i = 0; i < mix->count; i++) {
        hw_mix_part *part = &mix->part[i];
        double powder = part->made.g_l * part->strength * mix->volume_ml / 1000.0;
        part->concentrate_ml = part->made.share * part->strength * mix->volume_ml;
        part->powder_g = measured(powder, weight_step(powder), off);
        volume[i] = &part->concentrate_ml;
    }
    mix->concentrate_thinner_ml = round_all(volume, mix->count, mix->volume_ml, off);
    return *off <= off_most;
}

// The next handy volume at which it can be measured; infinite: none that can be mixed.
static double least_volume(const hw_mix *mix, measure_way *measure)
{
    hw_mix larger = *mix;
    do {
        larger.volume_ml = handy(larger.volume_ml + nothing);
    } while (larger.volume_ml <= HW_MIX_MOST_ML && !measure(&larger));
    return larger.volume_ml <= HW_MIX_MOST_ML ? larger.volume_ml : (double)INFINITY;
}

// Sets what can be done at all, whether it can be measured, and where not, from which volume on.
static void go_way(hw_mix *mix, bool possible, measure_way *measure, bool *goes, double *least)
{
    *goes = possible && measure(mix);
    *least = possible && !*goes ? least_volume(mix, measure) : 0.0;
}

static hw_mix mix_of(const hw_liquid *liquid, const hw_shelf *shelf, double volume_ml)
{
    hw_mix mix = {.volume_ml = readable(volume_ml), .count = liquid->count, .has_boards = true};
    bool all_known = true;
    double share = 0.0;
    for (size_t i = 0; i < liquid->count; i++) {
        const hw_dye *dye = hw_shelf_find(shelf, liquid->dose[i].dye);
        hw_copy_text(mix.part[i].dye, HW_NAME_SIZE, liquid->dose[i].dye);
        mix.part[i].strength = liquid->dose[i].strength;
        mix.part[i].made = dye ? dye->made : (hw_made){.share = 0.0};
        mix.has_boards = mix.has_boards && dye && dye->has_wood;
        all_known = all_known && mix.part[i].made.words[0];
        share += mix.part[i].made.share * mix.part[i].strength;
    }
    go_way(&mix, strengths(&mix) <= 1.0 + nothing, measure_board, &mix.from_board,
           &mix.board_least_ml);
    go_way(&mix, all_known && share <= 1.0 + nothing, measure_concentrate, &mix.from_concentrate,
           &mix.concentrate_least_ml);
    return mix;
}

// From which volume on the one or the other way goes; 0: one goes as it is, or none at any volume.
static double least_of(const hw_mix *mix)
{
    double board = mix->board_least_ml, concentrate = mix->concentrate_least_ml;
    if (mix->from_board || mix->from_concentrate) {
        return 0.0;
    }
    return board > 0.0 && concentrate > 0.0 ? fmin(board, concentrate) : fmax(board, concentrate);
}

static hw_status fail_small(const hw_mix *mix, hw_error *err)
{
    char volume[64], more[64], next[200];
    hw_say_volume(mix->volume_ml, volume, sizeof volume);
    if (isfinite(least_of(mix))) {
        hw_say_volume(least_of(mix), more, sizeof more);
        hw_format_text(next, sizeof next, "Mix %s, or mix it stronger and thin that.", more);
    } else {
        hw_format_text(next, sizeof next, "Mix it stronger and thin that.");
    }
    return hw_fail(err, HW_ERR_CALL, "mix-small", "the volume", next,
                   "at %s a part of this mix is too little to measure", volume);
}

hw_status hw_tone_mix(const hw_liquid *liquid, const hw_shelf *shelf, double volume_ml, hw_mix *out,
                      hw_error *err)
{
    if (!(volume_ml > 0.0 && volume_ml <= HW_MIX_MOST_ML)) {
        return hw_fail(err, HW_ERR_CALL, "mix-volume", "the volume",
                       "Say how much is to be mixed, as 200 ml or 8 fl oz.",
                       "%g ml cannot be mixed here: more than 0, at most %g", volume_ml,
                       HW_MIX_MOST_ML);
    }
    hw_mix mix = mix_of(liquid, shelf, volume_ml);
    if (least_of(&mix) > 0.0) {
        return fail_small(&mix, err);
    }
    *out = mix;
    return HW_OK;
}

bool hw_tone_mix_at_least(const hw_liquid *liquid, const hw_shelf *shelf, double volume_ml,
                          hw_mix *out)
{
    if (!(volume_ml > 0.0 && volume_ml <= HW_MIX_MOST_ML)) {
        return false;
    }
    hw_mix mix = mix_of(liquid, shelf, volume_ml);
    double least = least_of(&mix);
    if (isfinite(least)) {
        *out = least > 0.0 ? mix_of(liquid, shelf, least) : mix;
    }
    return isfinite(least);
}

// ---- In words ----------------------------------------------------------------------

// Without zeros behind the point; from 10 ml on one decimal tells enough.
static void add_ml(hw_text *text, double ml)
{
    char number[40];
    hw_format_text(number, sizeof number, "%.*f", ml < 10.0 ? 2 : 1, ml);
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
    double drops = floor(ml * HW_DROPS_A_ML + 0.5);
    add_ml(text, ml);
    hw_text_add(text, " (");
    if (ml < 5.0) {
        hw_text_add(text, "%.0f drop%s, ", drops, drops == 1.0 ? "" : "s");
    }
    double ounces = hw_fl_oz(ml);
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

// What is left, or how far to fill up where an odd drop would make it look as if it did not add up.
static void add_thinner(hw_text *text, double thinner_ml, double volume_ml)
{
    bool as_shown =
        thinner_ml < 10.0 || fabs(10.0 * thinner_ml - floor(10.0 * thinner_ml + 0.5)) < 1e-3;
    if (thinner_ml > 0.0) {
        hw_text_add(text, as_shown ? ", " : ", thinner up to ");
        add_volume(text, as_shown ? thinner_ml : volume_ml);
        hw_text_add(text, as_shown ? " thinner" : "");
    }
}

static void add_off(hw_text *text, double off)
{
    if (off > off_told) {
        hw_text_add(text,
                    " What can be measured makes it weaker by up to %.0f %%: mix more of it to "
                    "come nearer.",
                    100.0 * off);
    }
}

static void add_too_little(hw_text *text, double least_ml)
{
    hw_text_add(text,
                "what can be measured out would leave it over a tenth too weak at this volume: ");
    if (isfinite(least_ml)) {
        hw_text_add(text, "mix ");
        add_volume(text, least_ml);
        hw_text_add(text, ", or ");
    }
    hw_text_add(text, "thin a stronger mix.");
}

static void say_from_board(hw_text *text, const hw_mix *mix)
{
    bool several = mix->count > 1;
    int parts = common_parts(mix);
    double thinner = 1.0 - strengths(mix);
    if (!several && thinner < nothing) {
        hw_text_add(text, "%s %s, no thinner.", mix->part[0].dye,
                    mix->has_boards ? "as its step board was made" : "at full strength");
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
    hw_text_add(text, ", the dye%s %s: ", several ? "s" : "",
                !mix->has_boards ? "at full strength"
                : several        ? "as their step boards were made"
                                 : "as its step board was made");
    if (!mix->from_board) {
        add_too_little(text, mix->board_least_ml);
        return;
    }
    for (size_t i = 0; i < mix->count; i++) {
        hw_text_add(text, i ? ", " : "");
        add_volume(text, mix->part[i].board_ml);
        hw_text_add(text, " %s", mix->part[i].dye);
    }
    add_thinner(text, mix->board_thinner_ml, mix->volume_ml);
    hw_text_add(text, ".");
    add_off(text, mix->board_off);
}

static void say_from_concentrate(hw_text *text, const hw_mix *mix)
{
    bool powder = false, drops = false;
    hw_text_add(text, "From the concentrate: ");
    if (!mix->from_concentrate) {
        add_too_little(text, mix->concentrate_least_ml);
        return;
    }
    for (size_t i = 0; i < mix->count; i++) {
        const hw_mix_part *part = &mix->part[i];
        hw_text_add(text, i ? ", " : "");
        if (part->powder_g > 0.0) {
            hw_text_add(text, "%.1f g (%.2g oz) %s powder", part->powder_g,
                        hw_ounces(part->powder_g), part->dye);
        } else {
            add_volume(text, part->concentrate_ml);
            hw_text_add(text, " %s", part->dye);
        }
        hw_text_add(text, " (full strength is %s)", part->made.words);
        powder = powder || part->powder_g > 0.0;
        drops = drops || (part->concentrate_ml > 0.0 && part->concentrate_ml < 5.0);
    }
    add_thinner(text, mix->concentrate_thinner_ml, mix->volume_ml);
    hw_text_add(text, ".%s%s", powder ? " What the powder adds to the volume is left out." : "",
                drops ? " Drops are counted 20 a ml; droppers differ." : "");
    add_off(text, mix->concentrate_off);
}

// What its dyes' liquids cannot be thinned to.
static void add_stronger(hw_text *text, const hw_mix *mix)
{
    hw_text_add(text, "stronger than %s%s",
                !mix->has_boards ? "full strength"
                : mix->count > 1 ? "the step boards"
                                 : "the step board",
                mix->count > 1 ? " together" : "");
}

// Why there is no way at all.
static void say_no_way(hw_text *text, const hw_mix *mix)
{
    add_stronger(text, mix);
    hw_text_add(text, ", so it cannot be thinned from %s; it needs concentrate, ",
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
    if (mix->from_board || mix->board_least_ml > 0.0) {
        say_from_board(&text, mix);
    } else if (mix->from_concentrate) {
        add_stronger(&text, mix);
        hw_text_add(&text, ", so from concentrate only.");
    } else {
        say_no_way(&text, mix);
    }
    if (mix->from_concentrate || mix->concentrate_least_ml > 0.0) {
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
