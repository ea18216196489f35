// Advice, cautions and the shelf as text and JSON.
#include "check.h"
#include "report_internal.h"

static hw_advice advice_made(void)
{
    hw_advice advice = {.patch = "lid strip",
                        .verdict = HW_VERDICT_TONE,
                        .why = "It is 2.4 too green: red takes that out.",
                        .has_next = true,
                        .next_guess = true,
                        .next_help = 0.93,
                        .next_risk = 0.002,
                        .next = {{{{"red", 0.25}}, 1}, 1},
                        .option_count = 1,
                        .passes_so_far = 2};
    hw_option *option = &advice.option[0];
    *option = (hw_option){.layer = {{{{{"red", 0.25}}, 1}, 2}, {{{{"brown", 0.5}}, 1}, 1}},
                          .layer_count = 2,
                          .after_count = 2,
                          .overshoot_risk = 0.005,
                          .guess = true,
                          .mix = "red at a quarter strength: 1 part red, 3 parts thinner"};
    option->after[0] = (hw_after){0, {50, 10, 24}, 5.4, 4.6, 6.2};
    option->after[1] = (hw_after){1, {49, 11, 24}, 4.3, 3.3, 5.3};
    return advice;
}

static hw_after option_after(void)
{
    return (hw_after){1, {49, 11, 24}, 4.3, 3.3, 5.3};
}

static void text(void)
{
    hw_advice advice = advice_made();
    hw_day_part part = {.laid_ml = (double)NAN, .minutes = (double)NAN, .hours = 1.5};
    part.need.pass_ml = (double)NAN;
    hw_day day = {.advice = &advice, .part = &part, .count = 1};
    hw_report_style style = {0};
    hw_error err = {0};
    char *out = NULL;
    if (!check_true(hw_report_advice_text(&day, &style, &out, &err) == HW_OK)) {
        return;
    }
    check_holds(out, "lid strip: LAY 1 PASS of red at a quarter strength, let it dry");
    check_holds(out, "GUESS");
    check_holds(
        out, "the whole way: 2 passes of red at a quarter strength, then 1 pass of brown at half "
             "strength (guess)");
    check_holds(out, "after 1 pass: gap 4.3 (3.3 to 5.3)");
    check_holds(out, "1 in 200");
    check_holds(out, "So far: 2 passes laid on it, 1.5 hours of work.");
    check_holds(out, hw_caution_one_line());
    hw_report_free(out);
    day.cautions_full = true;
    if (check_true(hw_report_advice_text(&day, &style, &out, &err) == HW_OK)) {
        size_t count = 0;
        const char *const *cautions = hw_cautions(&count);
        check_true(count > 0);
        for (size_t i = 0; i < count; i++) {
            check_holds(out, cautions[i]);
        }
        check_holds(out, hw_caution_lead());
        hw_report_free(out);
    }
    hw_advice stop = {.patch = "door", .stop = true, .why = "Close enough."};
    day.advice = &stop;
    if (check_true(hw_report_advice_text(&day, &style, &out, &err) == HW_OK)) {
        check_holds(out, "door: STOP. Lay nothing.\n    Close enough.");
        check_true(!strstr(out, hw_caution_lead())); // nothing to lay: nothing to warn of
        hw_report_free(out);
    }
}

static hw_json *parsed(char *bytes)
{
    hw_json *root = NULL;
    hw_limits limits = hw_limits_default();
    check_true(hw_json_parse(bytes, strlen(bytes), &limits, "text", &root, NULL) == HW_OK);
    hw_report_free(bytes);
    return root;
}

static void json(void)
{
    hw_advice advice[2] = {advice_made(), {.patch = "door", .stop = true}};
    hw_day day = {.advice = advice, .count = 1, .cautions_full = true};
    hw_error err = {0};
    char *out = NULL;
    bool answer = false;
    if (check_true(hw_report_advice_json(&day, &out, &err) == HW_OK)) {
        hw_json *root = parsed(out);
        check_text(hw_json_member_text(root, "patch"), "lid strip");
        check_text(hw_json_member_text(root, "verdict"), "tone");
        check_true(hw_json_bool(hw_json_member(root, "stop"), &answer) && !answer);
        const hw_json *next = hw_json_member(root, "next");
        const hw_json *dose = hw_json_first(hw_json_member(next, "liquid"));
        double number = 0;
        check_true(hw_json_is_null(hw_json_member(next, "jar")));
        check_text(hw_json_member_text(dose, "dye"), "red");
        check_true(hw_json_member_number(dose, "strength", &number) && number == 0.25);
        check_true(hw_json_member_number(next, "passes", &number) && number == 1);
        const hw_json *option = hw_json_first(hw_json_member(root, "options"));
        check_true(hw_json_count(hw_json_member(option, "layers")) == 2);
        const hw_json *after = hw_json_item(hw_json_member(option, "after"), 1);
        check_true(hw_json_count(hw_json_member(after, "lab")) == 3);
        check_true(hw_json_member_number(after, "de00_high", &number) && number == 5.3);
        check_true(hw_json_member_number(option, "overshoot_risk", &number) && number == 0.005);
        check_true(hw_json_bool(hw_json_member(option, "guess"), &answer) && answer);
        check_true(hw_json_member_text(option, "mix") != NULL);
        check_true(hw_json_count(hw_json_member(root, "cautions")) > 1);
        hw_json_free(root);
    }
    day = (hw_day){.advice = advice, .count = 2, .for_all = true};
    if (check_true(hw_report_advice_json(&day, &out, &err) == HW_OK)) {
        hw_json *root = parsed(out);
        check_true(hw_json_is_array(hw_json_member(root, "jars")));
        const hw_json *patches = hw_json_member(root, "patches");
        check_true(hw_json_count(patches) == 2);
        check_true(hw_json_is_null(hw_json_member(hw_json_item(patches, 1), "next")));
        check_true(hw_json_count(hw_json_member(hw_json_first(patches), "cautions")) == 1);
        hw_json_free(root);
    }
}

static const hw_json *said_of(const hw_json *root, const char *member)
{
    return hw_json_member(hw_json_member(root, "says"), member);
}

// Sentences one by one say what the text says in lines.
static void sentences(void)
{
    hw_advice advice = advice_made();
    advice.next_jar = 2;
    advice.next_weaker = advice.may_be_left = true;
    advice.after_next = option_after();
    hw_day_jar jar = {.liquid = advice.next.liquid,
                      .number = 2,
                      .patches = 1,
                      .passes = 1,
                      .need_ml = 40,
                      .left_ml = 10};
    hw_day day = {.advice = &advice, .count = 1, .jar = &jar, .jar_count = 1};
    hw_report_style style = {0};
    char *out = NULL, *text = NULL;
    if (!check_true(hw_report_advice_json(&day, &out, NULL) == HW_OK &&
                    hw_report_advice_text(&day, &style, &text, NULL) == HW_OK)) {
        return;
    }
    hw_json *root = parsed(out);
    check_text(hw_json_text(said_of(root, "head")),
               "May be left. To bring it nearer: lay 1 pass of red at a quarter strength (jar 2)");
    check_holds(text,
                ": MAY BE LEFT. To bring it nearer: LAY 1 PASS of red at a quarter strength "
                "(jar 2), let it dry, photograph it, ask again. GUESS: try it on scrap first.");
    check_text(hw_json_text(said_of(root, "then")), "Let it dry, photograph it, ask again.");
    check_text(hw_json_text(said_of(root, "after")),
               "After it: gap 4.3 (3.3 to 5.3); nearer than now: 93 in 100.");
    check_text(hw_json_text(said_of(root, "risk")),
               "Chance that it ends too dark, by over 1 L*: 1 in 500.");
    check_holds(text, "    After it: gap 4.3 (3.3 to 5.3); nearer than now: 93 in 100; "
                      "chance that it ends too dark, by over 1 L*: 1 in 500.\n");
    check_text(hw_json_text(hw_json_first(said_of(root, "mix"))),
               "The jar holds about 10 ml, these passes take about 40 ml (1.4 fl oz): mix more.");
    check_text(hw_json_text(hw_json_first(said_of(root, "more"))),
               "Weaker than the whole plan: what is not sure yet is laid thin.");
    check_text(hw_json_text(said_of(root, "guess")), "GUESS: try it on scrap first.");
    size_t count = 0;
    hw_cautions(&count);
    check_true(hw_json_count(hw_json_member(root, "cautions_in_full")) == count + 1);
    hw_json_free(root);
    hw_report_free(text);
    hw_advice stop = {.patch = "door", .stop = true, .why = "Close enough."};
    day = (hw_day){.advice = &stop, .count = 1};
    if (check_true(hw_report_advice_json(&day, &out, NULL) == HW_OK)) {
        root = parsed(out);
        check_text(hw_json_text(said_of(root, "head")), "Stop. Lay nothing.");
        check_text(hw_json_text(said_of(root, "then")), "");
        check_text(hw_json_text(said_of(root, "guess")), "");
        check_true(hw_json_count(hw_json_member(root, "cautions_in_full")) == 0);
        hw_json_free(root);
    }
}

static void shelf(void)
{
    hw_shelf guesses = {0};
    hw_known known = {0};
    hw_error err = {0};
    char *out = NULL;
    if (!check_true(hw_shelf_guesses(&guesses, &err) == HW_OK)) {
        return;
    }
    if (check_true(hw_report_shelf_text(&guesses, &known, "", &out, &err) == HW_OK)) {
        check_holds(out, "red-brown");
        check_holds(out, "GUESS");
        check_holds(out, "no file of yours");
        hw_report_free(out);
    }
    if (check_true(hw_report_shelf_json(&guesses, &known, "", &out, &err) == HW_OK)) {
        hw_json *root = parsed(out);
        check_true(hw_json_count(hw_json_member(hw_json_member(root, "shelf"), "dyes")) ==
                   HW_FAMILY_COUNT);
        check_true(hw_json_is_null(hw_json_member(hw_json_member(root, "shelf"), "path")));
        hw_json_free(root);
    }
    hw_shelf_free(&guesses);
}

int main(void)
{
    text();
    json();
    sentences();
    shelf();
    return check_done();
}
