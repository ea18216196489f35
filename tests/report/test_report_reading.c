// A reading as text and as JSON.
#include "check.h"
#include "reading.h"
#include "report_internal.h"

static char *text_of(const hw_reading *reading, hw_report_style style)
{
    char *text = NULL;
    hw_error err = {0};
    check_true(hw_report_reading_text(reading, &style, &text, &err) == HW_OK);
    return text;
}

static void words_come_first(void)
{
    hw_reading reading = reading_made();
    hw_warn(&reading.warnings, "The light falls off.");
    char *text = text_of(&reading, (hw_report_style){0});
    check_holds(text, "lid strip: TONE IT. Clear difference: too light, a touch green.\n");
    check_holds(text, "Keep correcting, lightly.");
    check_holds(text, "lighter by 4.9 ± 0.5, greener by 2.4 ± 0.4, no sure difference in yellow");
    check_holds(text, "the old wood itself varies by 1.2");
    check_holds(text, "one by one: lid left");
    const char *warning = strstr(text, "The light falls off."), *verdict = strstr(text, "TONE IT");
    check_true(warning && verdict && warning < verdict); // what must be known stands above
    check_true(!strstr(text, "\033"));                   // no colour unless asked for
    check_true(!strstr(text, "Hotelling"));
    hw_report_free(text);
}

static void quiet_and_why(void)
{
    hw_reading reading = reading_made();
    char *text = text_of(&reading, (hw_report_style){.quiet = true});
    check_text(text, "lid strip: TONE IT. Clear difference: too light, a touch green.\n");
    hw_report_free(text);
    text = text_of(&reading, (hw_report_style){.why = true, .swatches = true});
    check_holds(text, "Hotelling's T squared 12.5, p 0.004 (shown beside it, never decides)");
    check_holds(text, "what the gap of lid strip may be wrong by");
    check_holds(text, "a plain 18 % grey");
    check_holds(text, "\033[48;2;");
    hw_report_free(text);
}

static void other_verdicts(void)
{
    hw_reading reading = reading_made();
    hw_comparison *beside = &reading_items[2];
    beside->verdict = HW_VERDICT_LEAVE;
    snprintf(beside->why, sizeof beside->why, "The step at the joint is too close to see.");
    char *text = text_of(&reading, (hw_report_style){0});
    check_holds(text, "lid strip: LEAVE IT.\n    The step at the joint is too close to see.\n");
    hw_report_free(text);
    beside->verdict = HW_VERDICT_UNSURE;
    text = text_of(&reading, (hw_report_style){0});
    check_holds(text, "lid strip: UNSURE.\n");
    hw_report_free(text);
    beside->verdict = HW_VERDICT_TOO_DARK;
    text = text_of(&reading, (hw_report_style){0});
    check_holds(text, "lid strip: TOO DARK FOR DYE. ");
    hw_report_free(text);
    reading.comparisons.count = 0;
    text = text_of(&reading, (hw_report_style){0});
    check_holds(text, "there is nothing to compare");
    hw_report_free(text);
}

// Beside the verdict, which stays: words first, numbers with their range, or why there are none.
static void seen_from_a_distance(void)
{
    hw_reading reading = reading_made();
    hw_sight sights[2] = {{.patch = "lid strip",
                           .known = true,
                           .distance_mm = 1500.0,
                           .wood_off = 3.12,
                           .patch_off = 6.24,
                           .patch_low = 5.1,
                           .patch_high = 7.3,
                           .verdict = HW_SIGHT_SHOWS},
                          {.patch = "elsewhere",
                           .distance_mm = 1500.0,
                           .why_not = "no card\033[31m tells\n how large things are"}};
    reading.sights = sights;
    reading.sight_count = 2;
    char *text = text_of(&reading, (hw_report_style){0});
    check_holds(text, "    from 1.5 m: shows: 95 % of it lies within 6.2 (5.1 to 7.3) of the old "
                      "wood's mean, 95 % of the old wood within 3.1\n");
    check_holds(text, "lid strip: TONE IT. ");
    check_true(!strstr(text, "no card")); // of another repair
    hw_report_free(text);
    sights[0].verdict = HW_SIGHT_BLENDS;
    sights[0].distance_mm = 600.0;
    text = text_of(&reading, (hw_report_style){0});
    check_holds(text, "    from 60 cm: blends in: 95 % of it");
    check_holds(text, "lid strip: TONE IT. ");
    hw_report_free(text);
    sights[0].verdict = HW_SIGHT_UNTOLD;
    text = text_of(&reading, (hw_report_style){0});
    check_holds(text, "    from 60 cm: cannot be told from this photo: 95 % of it");
    hw_report_free(text);
    snprintf(sights[1].patch, sizeof sights[1].patch, "lid strip");
    sights[0].patch[0] = 'L';
    text = text_of(&reading, (hw_report_style){0});
    check_holds(text, "    from 1.5 m: not told, no card");
    check_true(!strstr(text, "\033") && !strstr(text, "tells\n"));
    hw_report_free(text);
    text = text_of(&reading, (hw_report_style){.quiet = true});
    check_true(strstr(text, "1.5 m") != NULL); // it was asked for
    hw_report_free(text);
}

// ---- JSON --------------------------------------------------------------------------

static hw_json *parsed(char *text)
{
    hw_json *root = NULL;
    hw_limits limits = hw_limits_default();
    hw_error err = {0};
    if (!check_true(hw_json_parse(text, strlen(text), &limits, "text", &root, &err) == HW_OK)) {
        printf("%s\n%s\n", err.what, text);
    }
    hw_report_free(text);
    return root;
}

static double number_in(const hw_json *object, const char *name)
{
    double value = (double)NAN;
    hw_json_member_number(object, name, &value);
    return value;
}

static void json_shape(void)
{
    hw_reading reading = reading_made();
    hw_error err = {0};
    char *text = NULL;
    reading_items[2].t_squared = (double)NAN;
    snprintf(reading.photo.file, sizeof reading.photo.file, "a \"b\"\xff\n.jpg");
    if (!check_true(hw_report_reading_json(&reading, &text, &err) == HW_OK)) {
        return;
    }
    hw_json *root = parsed(text);
    const hw_json *photo = hw_json_member(root, "photo"), *light = hw_json_member(root, "light");
    check_text(hw_json_member_text(photo, "file"), "a \"b\"??.jpg");
    check_close(number_in(photo, "width"), 1600, 0);
    check_true(hw_json_is_array(hw_json_member(photo, "warnings")));
    check_true(hw_json_count(hw_json_member(light, "gain")) == 3);
    check_close(number_in(light, "uneven"), 0.12, 0);
    const hw_json *samples = hw_json_member(root, "samples"), *sample = hw_json_item(samples, 2);
    check_true(hw_json_count(samples) == 3);
    static const char *const lists[] = {"polygon", "lab", "standard_error", "spread"};
    for (size_t i = 0; i < 4; i++) {
        check_true(hw_json_is_array(hw_json_member(sample, lists[i])));
    }
    check_text(hw_json_member_text(sample, "role"), "patch");
    check_close(number_in(sample, "pixels"), 20000, 0);
    check_close(number_in(sample, "left_out"), 150, 0);
    const hw_json *items = hw_json_member(root, "comparisons"), *beside = hw_json_item(items, 2);
    check_true(hw_json_count(items) == 3);
    check_text(hw_json_member_text(beside, "target"), "beside");
    check_text(hw_json_member_text(beside, "verdict"), "tone");
    check_close(number_in(beside, "de00"), reading_items[2].gap.de00, 0.0005);
    check_close(number_in(beside, "de00_low"), reading_items[2].de00_low, 0.0005);
    check_close(number_in(hw_json_member(beside, "delta"), "L"), 4.9, 1e-9);
    check_close(number_in(hw_json_member(beside, "delta_low"), "a"), -2.8, 1e-9);
    check_close(number_in(hw_json_member(beside, "delta_high"), "b"), 0.92, 1e-9);
    check_text(hw_json_text(hw_json_item(hw_json_member(beside, "words"), 0)), "too light");
    check_true(hw_json_is_null(hw_json_member(beside, "t_squared"))); // no number: null, not NaN
    hw_json_free(root);
}

static void json_sights(void)
{
    hw_reading reading = reading_made();
    hw_error err = {0};
    char *text = NULL;
    hw_sight sights[2] = {{.patch = "lid strip",
                           .known = true,
                           .distance_mm = 1500.0,
                           .wood_off = 3.1,
                           .patch_off = 6.2,
                           .patch_low = 5.1,
                           .patch_high = 7.3,
                           .beyond = 0.43,
                           .verdict = HW_SIGHT_SHOWS},
                          {.patch = "leg", .distance_mm = 1500.0, .why_not = "no card"}};
    check_true(hw_report_reading_json(&reading, &text, &err) == HW_OK);
    hw_json *root = parsed(text);
    check_true(!hw_json_member(root, "sights")); // not asked for
    hw_json_free(root);
    reading.sights = sights;
    reading.sight_count = 2;
    check_true(hw_report_reading_json(&reading, &text, &err) == HW_OK);
    root = parsed(text);
    const hw_json *list = hw_json_member(root, "sights"), *one = hw_json_item(list, 0);
    check_true(hw_json_count(list) == 2);
    check_text(hw_json_member_text(one, "patch"), "lid strip");
    check_text(hw_json_member_text(one, "verdict"), "shows");
    check_close(number_in(one, "distance_mm"), 1500, 0);
    check_close(number_in(one, "wood_off"), 3.1, 1e-9);
    check_close(number_in(one, "patch_off"), 6.2, 1e-9);
    check_close(number_in(one, "patch_low"), 5.1, 1e-9);
    check_close(number_in(one, "patch_high"), 7.3, 1e-9);
    check_close(number_in(one, "beyond"), 0.43, 1e-9);
    check_true(!hw_json_member(one, "why_not"));
    one = hw_json_item(list, 1);
    check_text(hw_json_member_text(one, "why_not"), "no card");
    check_true(!hw_json_member(one, "verdict") && !hw_json_member(one, "beyond"));
    hw_json_free(root);
}

static void error_shape(void)
{
    hw_error error = {0}, err = {0};
    char *text = NULL;
    hw_fail(&error, HW_ERR_INPUT, "card-overexposed", "leg \"left\".jpg", "Move it.",
            "61 %% of it is at full red");
    if (check_true(hw_report_error_json(&error, &text, &err) == HW_OK)) {
        hw_json *root = parsed(text);
        const hw_json *told = hw_json_member(root, "error");
        check_text(hw_json_member_text(told, "code"), "card-overexposed");
        check_text(hw_json_member_text(told, "subject"), "leg \"left\".jpg");
        check_text(hw_json_member_text(told, "what"), "61 % of it is at full red");
        check_text(hw_json_member_text(told, "next"), "Move it.");
        hw_json_free(root);
    }
    if (check_true(hw_report_error_text(&error, &text, &err) == HW_OK)) {
        check_text(text,
                   "huewright: leg \"left\".jpg: 61 % of it is at full red\n  next: Move it.\n");
        hw_report_free(text);
    }
}

// Each allocation fails in turn: a failure is told, and nothing half-made is handed out.
static void memory_out(void)
{
    hw_reading reading = reading_made();
    hw_report_style style = {.why = true};
    for (int json = 0; json < 2; json++) {
        hw_status status = HW_ERR_STORAGE;
        for (long successes = 0; status != HW_OK && successes < 20000; successes++) {
            hw_error err = {0};
            char *text = NULL;
            hw_test_fail_alloc(successes);
            status = json ? hw_report_reading_json(&reading, &text, &err)
                          : hw_report_reading_text(&reading, &style, &text, &err);
            hw_test_fail_alloc(-1);
            bool told = status == HW_OK ? text != NULL : text == NULL && err.code[0] != 0;
            if (!told) {
                check_true(told);
                return;
            }
            hw_report_free(text);
        }
        check_true(status == HW_OK);
    }
}

// What a page shows are the sentences and drawings that text and pictures have, letter for letter.
static void shown_is_told(void)
{
    static const char hostile[] = "<b onclick=x>\"&\033[2J";
    hw_reading reading = reading_made();
    char *text = text_of(&reading, (hw_report_style){0}), *swatches = NULL, *printed = NULL;
    hw_json *tree = NULL;
    check_true(hw_report_shown_tree(&reading, &tree, NULL) == HW_OK);
    const hw_json *list = hw_json_member(tree, "shown"), *one = hw_json_first(list);
    check_true(hw_json_count(list) == 1); // a repair, not each piece of old wood beside it
    check_text(hw_json_member_text(one, "patch"), "lid strip");
    check_text(hw_json_member_text(one, "size"), "clear difference");
    check_text(hw_json_member_text(one, "why"), "Keep correcting, lightly.");
    check_holds(text, hw_json_member_text(one, "spread_text"));
    check_holds(text, hw_json_member_text(hw_json_member(one, "gap"), "text"));
    const hw_json *directions = hw_json_member(one, "directions"), *item;
    for (item = hw_json_first(directions); item; item = hw_json_next(item)) {
        check_holds(text, hw_json_text(item));
    }
    const hw_json *further = hw_json_member(one, "further");
    check_true(hw_json_count(directions) == 3 && hw_json_count(further) > 0);
    for (item = hw_json_first(further); item; item = hw_json_next(item)) {
        check_holds(text, hw_json_text(item));
    }
    check_true(hw_report_swatches_svg(&reading_items[2], &swatches, NULL) == HW_OK);
    check_text(hw_json_member_text(one, "swatches"), swatches);
    hw_json_free(tree);
    hw_report_free(text);
    hw_report_free(swatches);

    snprintf(reading_items[2].patch, sizeof reading_items[2].patch, "%s", hostile);
    check_true(hw_report_shown_tree(&reading, &tree, NULL) == HW_OK);
    check_true(hw_json_print(tree, false, &printed, NULL) == HW_OK);
    one = hw_json_first(hw_json_member(tree, "shown"));
    check_true(!strstr(hw_json_member_text(one, "swatches"), "<b onclick"));
    check_true(!strstr(hw_json_member_text(one, "rulers"), "<b onclick"));
    check_true(!strchr(printed, '\033') && !strstr(printed, "\\u001b"));
    hw_free(printed);
    hw_json_free(tree);
}

int main(void)
{
    words_come_first();
    shown_is_told();
    quiet_and_why();
    other_verdicts();
    seen_from_a_distance();
    json_shape();
    json_sights();
    error_shape();
    memory_out();
    return check_done();
}
