// report_shown.c: a reading for a page that shows it beside the photo: the sentences, numbers and drawings that the text and
// the pictures have, repair by repair, so that the page words no verdict and computes no colour.
#include "report_internal.h"

#include <ctype.h>
#include <string.h>

static void add_gap(hw_json *told, const hw_comparison *beside)
{
    hw_text range = {0}, spread = {0};
    hw_json *gap = hw_json_add_object(told, "gap");
    hw_json_add_rounded(gap, "de00", beside->gap.de00, 3);
    hw_json_add_rounded(gap, "low", beside->de00_low, 3);
    hw_json_add_rounded(gap, "high", beside->de00_high, 3);
    hw_report_add_gap_range(&range, beside->gap.de00, beside->de00_low, beside->de00_high);
    hw_report_json_words(gap, "text", &range);
    hw_report_add_spread(&spread, beside);
    hw_report_json_words(told, "spread_text", &spread);
}

static void add_shots(hw_json *told, const hw_reading *reading, const hw_comparison *beside)
{
    hw_text words = {0};
    if (beside->shots > 1) {
        hw_report_add_shots(&words, reading, beside);
        hw_report_json_words(told, "shots", &words);
    } else {
        hw_json_add_text(told, "shots", "");
    }
}

// The first sentence of the size's words, to stand within another one: "clear difference".
static void add_size(hw_json *told, const hw_comparison *beside)
{
    char size[160];
    hw_copy_text(size, sizeof size, hw_size_words(beside->gap.de00));
    char *stop = strstr(size, ". ");
    size_t length = strlen(size);
    if (stop) {
        *stop = 0;
    } else if (length > 0 && size[length - 1] == '.') {
        size[length - 1] = 0;
    }
    size[0] = (char)tolower((unsigned char)size[0]);
    hw_json_add_text(told, "size", size);
}

static void add_words(hw_json *told, const hw_comparison *beside)
{
    hw_text says = {0};
    hw_json_add_text(told, "verdict", hw_verdict_name(beside->verdict));
    hw_report_add_verdict(&says, beside, false);
    hw_report_json_words(told, "says", &says);
    hw_report_json_text(told, "why", hw_report_reason(beside));
    add_size(told, beside);
    hw_json *words = hw_json_add_array(told, "words");
    for (size_t i = 0; i < beside->direction_count; i++) {
        hw_json_add_text(words, NULL, hw_direction_words(beside->direction[i]));
    }
    hw_json *directions = hw_json_add_array(told, "directions");
    for (int axis = 0; axis < 3; axis++) {
        hw_text one = {0};
        hw_report_add_component(&one, beside, axis);
        hw_report_json_words(directions, NULL, &one);
    }
}

// Line by line, without the indent.
static void add_further(hw_json *told, const hw_reading *reading, const hw_comparison *beside)
{
    hw_json *list = hw_json_add_array(told, "further");
    hw_text lines = {0};
    if (beside->uneven.found) {
        hw_report_json_text(list, NULL, beside->uneven.words);
    }
    hw_report_add_further(&lines, reading, beside);
    hw_report_json_lines(list, &lines);
}

static hw_status add_drawings(hw_json *told, const hw_comparison *beside, hw_error *err)
{
    hw_rulers rulers = {.gap = beside};
    char *swatches = NULL, *drawn = NULL;
    hw_status status = hw_report_swatches_svg(beside, &swatches, err);
    if (status == HW_OK) {
        status = hw_report_rulers_svg(&rulers, &drawn, err);
    }
    if (status == HW_OK) {
        hw_json_add_text(told, "swatches", swatches);
        hw_json_add_text(told, "rulers", drawn);
    }
    hw_report_free(swatches);
    hw_report_free(drawn);
    return status;
}

static hw_status add_repair(hw_json *list, const hw_reading *reading, const hw_comparison *beside,
                            hw_error *err)
{
    hw_json *told = hw_json_add_object(list, NULL);
    hw_report_json_text(told, "patch", beside->patch);
    add_words(told, beside);
    add_gap(told, beside);
    add_shots(told, reading, beside);
    add_further(told, reading, beside);
    hw_json *screen = hw_json_add_object(told, "screen");
    hw_report_json_screen(screen, "patch", beside->patch_lab);
    hw_report_json_screen(screen, "target", beside->target_lab);
    return add_drawings(told, beside, err);
}

hw_status hw_report_shown_tree(const hw_reading *reading, hw_json **out, hw_error *err)
{
    hw_json *root = hw_report_reading_tree(reading);
    hw_json *list = hw_json_add_array(root, "shown");
    hw_status status = list ? HW_OK : hw_fail_memory(err, "writing the reading");
    for (size_t i = 0; i < reading->comparisons.count && status == HW_OK; i++) {
        const hw_comparison *item = &reading->comparisons.item[i];
        if (strcmp(item->target, HW_BESIDE) == 0) {
            status = add_repair(list, reading, item, err);
        }
    }
    if (status != HW_OK) {
        hw_json_free(root);
        return status;
    }
    *out = root;
    return HW_OK;
}
