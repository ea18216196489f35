// report_advice.c: what to lay next and what it will look like, or to stop, and the cautions.
//
// First the one thing to do before the next look, then why, then what is to be expected after each
// pass with its range, then the second choice. "GUESS" stands in the first line of all advice that
// rests on a dye that was not yet seen on this finisher's work.
//
// JSON of one repair: {"patch","verdict","why","stop","stop_reason","may_be_left","in_part","aim":[L,a,b],"before_coats",
// "next":{"jar","liquid":[{"dye","strength"}],"passes"} or null,
// with it "after_next":{"passes","lab","de00","de00_low","de00_high"},"next_risk","next_help","next_guess","next_weaker",
// "next_other","full_strength"; "options":[{"layers":[{"liquid","passes"}],"after":[as after_next, a pass each],
// "overshoot_risk","loss","lamp_risk","mix","guess"}],"by_sheet", with it "sheet_cost","sheet_way":[as an option];
// "other_ways","passes_so_far","cautions":[]}, "grain_light" true where photos from left and right show the grain's light.
// stop_reason: hw_stop_name. What stands beside it: report_day.c; its sentences: report_says.c.
// Beside the one, or around all under "patches": "jars", "not_said", "warnings", "cautions_in_full"; around all "order", "fewest_jars", "says" too.
#include "report_internal.h"

#include <math.h>

static void add_layer(hw_text *text, const hw_layer *layer)
{
    char passes[32];
    hw_report_passes(passes, sizeof passes, layer->passes);
    hw_text_add(text, "%s of ", passes);
    hw_report_add_liquid(text, &layer->liquid);
}

// "lid strip: LAY 1 PASS of red at a quarter strength, let it dry, photograph it, ask again."
static void add_headline(hw_text *text, const hw_advice *advice)
{
    hw_report_add_clean(text, advice->patch);
    hw_text_add(text, ": ");
    hw_report_add_head(text, advice, true);
    if (advice->has_next) {
        hw_text_add(text, ", %s%s%s", hw_report_then, advice->next_guess ? " " : "",
                    advice->next_guess ? hw_report_try_first : "");
    }
    hw_text_add(text, "\n");
}

// `half`: the widest half range of the table, so that all its rows are rounded alike.
static void add_after(hw_text *text, const char *gap, const hw_after *after, double half)
{
    char passes[32], number[3][32];
    const double value[3] = {after->de00, after->de00_low, after->de00_high};
    hw_report_passes(passes, sizeof passes, after->passes);
    for (int i = 0; i < 3; i++) {
        hw_report_number(number[i], sizeof number[i], value[i], half);
    }
    hw_text_add(text, "      %s%s: %s %s (%s to %s), lightness L* %.0f\n",
                after->passes == 0 ? "" : "after ", after->passes == 0 ? "now" : passes, gap,
                number[0], number[1], number[2], after->lab.L);
}

static double widest_half(const hw_option *option)
{
    double half = 0.0;
    for (size_t i = 0; i < option->after_count; i++) {
        half = fmax(half, (option->after[i].de00_high - option->after[i].de00_low) / 2.0);
    }
    return half;
}

// By the sum over its passes of how far a match made with each parts under a warm lamp (chosen: a weak pass of brown
// or black adds 0.1 to 0.2, one of red 1.0).
static const char *lamp_risk(double risk)
{
    return risk < 0.6 ? "little" : risk < 1.5 ? "some" : "much";
}

static void add_layers(hw_text *text, const hw_option *option, const char *title)
{
    hw_text_add(text, "    %s, the whole way: ", title);
    for (size_t i = 0; i < option->layer_count; i++) {
        hw_text_add(text, i ? ", then " : "");
        add_layer(text, &option->layer[i]);
    }
    hw_text_add(text, "%s\n", option->guess ? " (guess)" : "");
}

// From where on it is told what it will look like: after each pass, or only where it ends.
static void add_looks(hw_text *text, const hw_advice *advice, const hw_option *option, bool every)
{
    size_t from = every || option->after_count == 0 ? 0 : option->after_count - 1;
    for (size_t i = from; i < option->after_count; i++) {
        add_after(text, hw_report_gap_words(advice), &option->after[i], widest_half(option));
    }
    hw_text_add(text, "      chance of ending too dark, if all of it is laid without a look: ");
    hw_report_add_chance(text, option->overshoot_risk);
    hw_text_add(text, "\n      %s risk of parting under another lamp\n",
                lamp_risk(option->lamp_risk));
}

static void add_choices(hw_text *text, const hw_advice *advice)
{
    static const char *const ordinal[HW_OPTIONS_MAX] = {"first choice", "second choice",
                                                        "third choice"};
    for (size_t i = 0; i < advice->option_count; i++) {
        const hw_option *option = &advice->option[i];
        add_layers(text, option, ordinal[i]);
        if (option->mix[0]) {
            hw_text_add(text, "      mix: ");
            hw_report_add_clean(text, option->mix);
            hw_text_add(text, "\n");
        }
        add_looks(text, advice, option, i == 0);
    }
}

// On a sheet of several: the way with its jars.
static void add_way(hw_text *text, const hw_advice *advice)
{
    if (!advice->has_next) {
        return;
    }
    const hw_option *way = advice->by_sheet ? &advice->sheet_plan : &advice->option[0];
    bool of_jars =
        advice->by_sheet ||
        (way->layer_count == 1 && hw_liquid_is_same(&way->layer[0].liquid, &advice->next.liquid));
    add_layers(text, way, of_jars ? "with these jars" : "with jars of its own");
    add_looks(text, advice, way, false);
    if (advice->sheet_cost >= 0.05) {
        hw_text_add(text, "      a jar of its own would end nearer by about %.1f\n",
                    advice->sheet_cost);
    }
}

static void add_advice(hw_text *text, const hw_day *day, size_t index, const hw_report_style *style)
{
    const hw_advice *advice = &day->advice[index];
    add_headline(text, advice);
    if (style->quiet) {
        return;
    }
    if (advice->why[0]) {
        hw_text_add(text, "    ");
        hw_report_add_clean(text, advice->why);
        hw_text_add(text, "\n");
    }
    if (advice->has_next) {
        hw_text_add(text, "    ");
        hw_report_add_after_next(text, advice);
        hw_text_add(text, "; ");
        hw_report_add_risk(text, advice);
        hw_text_add(text, ".\n");
        hw_report_add_choice(text, advice, hw_report_is_sheet(day));
    }
    if (hw_report_is_sheet(day)) {
        add_way(text, advice);
    } else {
        for (size_t i = 0; i < day->jar_count; i++) {
            hw_report_add_own_jar(text, &day->jar[i], "    To mix:\n");
        }
        add_choices(text, advice);
    }
    if (day->part) {
        hw_text lamp = {0};
        hw_report_add_part(text, advice, &day->part[index], hw_report_is_sheet(day));
        hw_report_add_lamp(&lamp, &day->part[index]);
        hw_text_add(text, lamp.length ? "    %s\n" : "", hw_text_words(&lamp));
        text->failed |= lamp.failed;
        hw_text_free(&lamp);
    }
    if (advice->other_ways[0]) {
        hw_text_add(text, "    ");
        hw_report_add_clean(text, advice->other_ways);
        hw_text_add(text, "\n");
    }
    hw_text_add(text, "\n");
}

static bool any_to_lay(const hw_advice *advice, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (advice[i].has_next) {
            return true;
        }
    }
    return false;
}

static void add_cautions(hw_text *text, bool full)
{
    if (!full) {
        hw_text_add(text, "%s\n", hw_caution_one_line());
        return;
    }
    size_t count = 0;
    const char *const *cautions = hw_cautions(&count);
    hw_text_add(text, "%s\n", hw_caution_lead());
    for (size_t i = 0; i < count; i++) {
        hw_text_add(text, "  - %s\n", cautions[i]);
    }
}

void hw_day_free(hw_day *day)
{
    if (day) {
        hw_free(day->advice);
        hw_free(day->part);
        hw_free(day->jar);
        hw_sheet_free(&day->sheet);
        *day = (hw_day){0};
    }
}

hw_status hw_report_advice_text(const hw_day *day, const hw_report_style *style, char **out,
                                hw_error *err)
{
    hw_text text = {0};
    if (!style->quiet) {
        hw_report_add_warnings(&text, &day->warnings);
        hw_text_add(&text, day->warnings.count ? "\n" : "");
    }
    if (!style->quiet) {
        hw_report_add_sheet(&text, day);
    }
    for (size_t i = 0; i < day->count; i++) {
        add_advice(&text, day, i, style);
    }
    if (!style->quiet) {
        if (hw_report_is_sheet(day)) {
            hw_text_add(&text, "All choices for one repair: huewright advise JOB --patch NAME\n\n");
        }
        hw_report_add_unsaid(&text, &day->unsaid);
    }
    if (any_to_lay(day->advice, day->count)) {
        add_cautions(&text, day->cautions_full);
    }
    return hw_report_finish(&text, out, err);
}

// ---- JSON --------------------------------------------------------------------------

static void add_after_json(hw_json *parent, const char *name, const hw_after *after)
{
    hw_json *one = hw_json_add_object(parent, name);
    hw_json_add_number(one, "passes", (double)after->passes);
    hw_report_json_lab(one, "lab", after->lab);
    hw_json_add_rounded(one, "de00", after->de00, 3);
    hw_json_add_rounded(one, "de00_low", after->de00_low, 3);
    hw_json_add_rounded(one, "de00_high", after->de00_high, 3);
}

static void add_option_json(hw_json *list, const hw_option *option)
{
    hw_json *told = hw_json_add_object(list, NULL);
    hw_json *layers = hw_json_add_array(told, "layers");
    for (size_t i = 0; i < option->layer_count; i++) {
        hw_json *layer = hw_json_add_object(layers, NULL);
        hw_report_json_liquid(layer, &option->layer[i].liquid);
        hw_json_add_number(layer, "passes", (double)option->layer[i].passes);
    }
    hw_json *afters = hw_json_add_array(told, "after");
    for (size_t i = 0; i < option->after_count; i++) {
        add_after_json(afters, NULL, &option->after[i]);
    }
    hw_json_add_rounded(told, "overshoot_risk", option->overshoot_risk, 5);
    hw_json_add_rounded(told, "loss", option->loss, 3);
    hw_json_add_rounded(told, "lamp_risk", option->lamp_risk, 2);
    hw_report_json_text(told, "mix", option->mix);
    hw_json_add_bool(told, "guess", option->guess);
}

static void fill_advice_json(hw_json *told, const hw_day *day, size_t index)
{
    const hw_advice *advice = &day->advice[index];
    hw_report_json_text(told, "patch", advice->patch);
    hw_json_add_text(told, "verdict", hw_verdict_name(advice->verdict));
    hw_report_json_text(told, "why", advice->why);
    hw_json_add_bool(told, "stop", advice->stop);
    hw_json_add_text(told, "stop_reason", hw_stop_name(advice->stop_reason));
    if (advice->grain_light) {
        hw_json_add_bool(told, "grain_light", true);
    }
    hw_json_add_bool(told, "may_be_left", advice->may_be_left);
    hw_json_add_bool(told, "in_part", advice->in_part);
    hw_report_json_lab(told, "aim", advice->aim);
    hw_json_add_bool(told, "before_coats", advice->before_coats);
    if (advice->has_next) {
        hw_json *next = hw_json_add_object(told, "next");
        hw_json_add_number(next, "jar", // null: no jar holds it
                           advice->next_jar > 0 ? (double)advice->next_jar : (double)NAN);
        hw_report_json_liquid(next, &advice->next.liquid);
        hw_json_add_number(next, "passes", (double)advice->next.passes);
    } else {
        hw_json_add_null(told, "next");
    }
    if (advice->has_next) {
        add_after_json(told, "after_next", &advice->after_next);
        hw_json_add_rounded(told, "next_risk", advice->next_risk, 5);
        hw_json_add_rounded(told, "next_help", advice->next_help, 3);
        hw_json_add_bool(told, "next_guess", advice->next_guess);
        hw_json_add_bool(told, "next_weaker", advice->next_weaker);
        hw_json_add_bool(told, "next_other", advice->next_other);
        hw_report_json_text(told, "full_strength", advice->full_strength);
    }
    hw_json *options = hw_json_add_array(told, "options");
    for (size_t i = 0; i < advice->option_count; i++) {
        add_option_json(options, &advice->option[i]);
    }
    hw_json_add_bool(told, "by_sheet", advice->by_sheet);
    if (advice->by_sheet) {
        hw_json_add_rounded(told, "sheet_cost", advice->sheet_cost, 3);
        add_option_json(hw_json_add_array(told, "sheet_way"), &advice->sheet_plan);
    }
    hw_report_json_text(told, "other_ways", advice->other_ways);
    if (day->part) {
        hw_report_json_part(told, advice, &day->part[index]);
    }
    hw_json_add_number(told, "passes_so_far", (double)advice->passes_so_far);
    hw_report_json_says(told, day, index);
    hw_json *list = hw_json_add_array(told, "cautions");
    if (!advice->has_next) {
        return;
    }
    size_t count = 0;
    const char *const *cautions = hw_cautions(&count);
    hw_json_add_text(list, NULL, day->cautions_full ? hw_caution_lead() : hw_caution_one_line());
    for (size_t i = 0; day->cautions_full && i < count; i++) {
        hw_json_add_text(list, NULL, cautions[i]);
    }
}

// All of them, also where one line was shown since the last time is not long ago.
static void add_cautions_json(hw_json *root, const hw_day *day)
{
    hw_json *list = hw_json_add_array(root, "cautions_in_full");
    size_t count = 0;
    const char *const *cautions = hw_cautions(&count);
    if (!any_to_lay(day->advice, day->count)) {
        return;
    }
    hw_json_add_text(list, NULL, hw_caution_lead());
    for (size_t i = 0; i < count; i++) {
        hw_json_add_text(list, NULL, cautions[i]);
    }
}

hw_status hw_report_advice_json(const hw_day *day, char **out, hw_error *err)
{
    hw_json *root = hw_json_new_object();
    if (day->for_all) {
        hw_report_json_day(root, day);
        hw_json *patches = hw_json_add_array(root, "patches");
        for (size_t i = 0; i < day->count; i++) {
            fill_advice_json(hw_json_add_object(patches, NULL), day, i);
        }
    } else if (day->count > 0) {
        fill_advice_json(root, day, 0);
        hw_report_json_jars_of_day(hw_json_add_array(root, "jars"), day);
    }
    hw_report_json_unsaid(root, &day->unsaid);
    add_cautions_json(root, day);
    hw_report_json_warnings(root, &day->warnings);
    return hw_report_json_finish(root, out, err);
}
