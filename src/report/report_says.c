// report_says.c: advice on one repair in sentences, each made once: the text report sets them in lines, the JSON hands
// them to a page one by one, so that both always say the same.
//
// JSON of one repair, "says": {"head":"Lay 1 pass of red at a quarter strength","then":"Let it dry, photograph it, ask again.",
// "why","after","risk","mix":[lines],"guess","lamp","more":[sentences]}; what there is nothing to say of is "" or [].
#include "report_internal.h"

#include <math.h>
#include <string.h>

const char hw_report_then[] = "let it dry, photograph it, ask again.";
const char hw_report_try_first[] = "GUESS: try it on scrap first.";

void hw_report_add_head(hw_text *text, const hw_advice *advice, bool large)
{
    if (!advice->has_next) {
        bool now = !advice->stop || advice->stop_reason == HW_STOP_ASK_FIRST;
        hw_report_add_large(text, now ? "LAY NOTHING NOW" : "STOP", large);
        hw_text_add(text, now ? "." : ". Lay nothing.");
        return;
    }
    if (advice->may_be_left) {
        hw_report_add_large(text, "MAY BE LEFT", large);
        hw_text_add(text, ". To bring it nearer: ");
    }
    hw_text_add(text, "%s %d ",
                large                 ? "LAY"
                : advice->may_be_left ? "lay"
                                      : "Lay",
                advice->next.passes);
    hw_text_add(text, large ? "PASS%s of " : "pass%s of ",
                advice->next.passes == 1 ? ""
                : large                  ? "ES"
                                         : "es");
    hw_report_add_liquid(text, &advice->next.liquid);
    if (advice->next_jar > 0) {
        hw_text_add(text, " (jar %ld)", advice->next_jar);
    }
}

void hw_report_add_chance(hw_text *text, double chance)
{
    if (chance < 0.001) {
        hw_text_add(text, "less than 1 in 1000");
    } else if (chance > 0.1) {
        hw_text_add(text, "%.0f in 100", 100.0 * chance);
    } else {
        hw_text_add(text, "1 in %.0f", 1.0 / chance);
    }
}

const char *hw_report_gap_words(const hw_advice *advice)
{
    return advice->before_coats ? "gap to the aim" : "gap";
}

void hw_report_add_after_next(hw_text *text, const hw_advice *advice)
{
    hw_text_add(text, "After it: %s ", hw_report_gap_words(advice));
    hw_report_add_gap_range(text, advice->after_next.de00, advice->after_next.de00_low,
                            advice->after_next.de00_high);
    hw_text_add(text, "; nearer than now: %.0f in 100", fmin(100.0 * advice->next_help, 99.0));
}

void hw_report_add_risk(hw_text *text, const hw_advice *advice)
{
    hw_text_add(text, "chance that it ends too dark, by over 1 L*: ");
    hw_report_add_chance(text, advice->next_risk);
}

// Why this one and no other, a line each.
void hw_report_add_choice(hw_text *text, const hw_advice *advice, bool brief)
{
    if (advice->by_sheet && advice->next_jar > 0) {
        hw_text_add(text, "    Out of jar %ld because it stands mixed.\n", advice->next_jar);
    } else if (advice->next_weaker && !advice->by_sheet) { // the sheet has reasons of its own
        hw_text_add(text, "    Weaker than the whole plan: what is not sure yet is laid thin.\n");
    }
    if (advice->next_other && !advice->by_sheet) {
        hw_text_add(text, "    Not a liquid of the first choice: those would be too much "
                          "before the next look.\n");
    }
    if (advice->full_strength[0] && !brief) {
        hw_text_add(text, "    ");
        hw_report_add_clean(text, advice->full_strength);
        hw_text_add(text, "\n");
    }
}

void hw_report_add_own_jar(hw_text *text, const hw_day_jar *jar, const char *heading)
{
    if (jar->number > 0 && jar->left_ml < jar->need_ml) {
        hw_report_add_about(text, "    The jar holds ", jar->left_ml);
        hw_report_add_about(text, ", these passes take ", jar->need_ml);
        hw_text_add(text, ": mix more.\n");
    }
    if (jar->can_mix) {
        hw_text_add(text, "%s", heading);
        hw_report_add_mix(text, &jar->mix, "      ");
    }
}

// ---- JSON --------------------------------------------------------------------------

void hw_report_json_words(hw_json *parent, const char *name, hw_text *words)
{
    if (words->failed) {
        hw_json_add_tree(parent, name, NULL); // marks the parent as incomplete
    } else {
        hw_json_add_text(parent, name, hw_text_words(words));
    }
    hw_text_free(words);
}

void hw_report_json_lines(hw_json *list, hw_text *lines)
{
    const char *at = hw_text_words(lines);
    while (*at) {
        at += strspn(at, " ");
        size_t length = strcspn(at, "\n");
        hw_text line = {0};
        hw_text_add_bytes(&line, at, length);
        if (length > 0) {
            hw_report_json_words(list, NULL, &line);
        }
        hw_text_free(&line);
        at += length + (at[length] == '\n');
    }
    if (lines->failed) {
        hw_json_add_tree(list, NULL, NULL);
    }
    hw_text_free(lines);
}

// With a capital, and a full stop where there is none.
static void add_sentence(hw_json *told, const char *name, hw_text *words)
{
    if (words->bytes && !words->failed) {
        char *first = &words->bytes[0];
        *first = (char)(*first >= 'a' && *first <= 'z' ? *first - 'a' + 'A' : *first);
        hw_text_add(words, "%s", words->bytes[words->length - 1] == '.' ? "" : ".");
    }
    hw_report_json_words(told, name, words);
}

// The jar that holds what comes next; NULL: none of the day does.
static const hw_day_jar *jar_of(const hw_day *day, const hw_advice *advice)
{
    for (size_t i = 0; advice->has_next && i < day->jar_count; i++) {
        if (hw_liquid_is_same(&day->jar[i].liquid, &advice->next.liquid)) {
            return &day->jar[i];
        }
    }
    return NULL;
}

void hw_report_json_says(hw_json *told, const hw_day *day, size_t index)
{
    const hw_advice *advice = &day->advice[index];
    const hw_day_part *part = day->part ? &day->part[index] : NULL;
    const hw_day_jar *jar = jar_of(day, advice);
    bool lays = advice->has_next, brief = hw_report_is_sheet(day);
    hw_text head = {0}, then = {0}, after = {0}, risk = {0}, mix = {0}, lamp = {0}, more = {0};
    hw_report_add_head(&head, advice, false);
    if (lays) {
        hw_text_add(&then, "%s", hw_report_then);
        hw_report_add_after_next(&after, advice);
        hw_report_add_risk(&risk, advice);
        hw_report_add_choice(&more, advice, brief);
    }
    if (jar) {
        hw_report_add_own_jar(&mix, jar, "");
    }
    if (part) {
        hw_report_add_lamp(&lamp, part);
        hw_report_add_part(&more, advice, part, brief);
    }
    hw_report_add_clean(&more, advice->other_ways);
    hw_json *says = hw_json_add_object(told, "says");
    hw_report_json_words(says, "head", &head);
    add_sentence(says, "then", &then);
    hw_report_json_text(says, "why", advice->why);
    add_sentence(says, "after", &after);
    add_sentence(says, "risk", &risk);
    hw_report_json_lines(hw_json_add_array(says, "mix"), &mix);
    hw_json_add_text(says, "guess", lays && advice->next_guess ? hw_report_try_first : "");
    hw_report_json_words(says, "lamp", &lamp);
    hw_report_json_lines(hw_json_add_array(says, "more"), &more);
}
