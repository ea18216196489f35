// truth.h: the known truth beside a picture, as the programs here read it.
#ifndef HUEWRIGHT_TRUTH_H
#define HUEWRIGHT_TRUTH_H

#include "base_internal.h"
#include "huewright/mark.h"

static inline bool numbers(const hw_json *array, double *out, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (!hw_json_number(hw_json_item(array, i), &out[i])) {
            return false;
        }
    }
    return true;
}

// Marks from the truth's rectangles: card, targets and patches.
static inline hw_marks marks_of(const hw_json *truth)
{
    hw_marks marks = {0};
    const hw_json *regions = hw_json_member(truth, "regions");
    for (const hw_json *region = hw_json_first(regions); region; region = hw_json_next(region)) {
        hw_role role;
        double rect[4];
        char text[160];
        const char *name = hw_json_member_text(region, "name");
        hw_error err = {0};
        if (!hw_role_from_name(hw_json_member_text(region, "role"), &role) ||
            role > HW_ROLE_PATCH || !numbers(hw_json_member(region, "rect"), rect, 4)) {
            continue;
        }
        snprintf(text, sizeof text, "%g,%g,%g,%g", rect[0], rect[1], rect[2], rect[3]);
        if (hw_marks_add(&marks, role, name, text, NULL, &err) != HW_OK) {
            printf("mark %s: %s\n", name, err.what);
        }
    }
    return marks;
}

#endif
