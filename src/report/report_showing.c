// report_showing.c: one picture of a job: which drawing is made of what was seen, its names, its JSON.
#include "report_internal.h"

#include <string.h>

// ---- Names -------------------------------------------------------------------------

typedef struct drawing_row {
    const char *name;
    bool of_patch, has_text;
} drawing_row;

static const drawing_row rows[HW_SHOW_COUNT] = {
    [HW_SHOW_CORRECTED] = {"corrected", false, false},
    [HW_SHOW_SWATCHES] = {"swatches", true, true},
    [HW_SHOW_RULERS] = {"rulers", true, true},
    [HW_SHOW_SEAM] = {"seam", true, false},
    [HW_SHOW_PATH] = {"path", true, true},
    [HW_SHOW_LOOKS] = {"looks", true, false},
    [HW_SHOW_PIECE] = {"piece", false, false},
    [HW_SHOW_BEFORE_AFTER] = {"before-after", false, false},
    [HW_SHOW_MAP] = {"map", false, false},
};

const char *hw_showing_kind_name(hw_showing_kind kind)
{
    return (unsigned)kind < HW_SHOW_COUNT ? rows[kind].name : "";
}

bool hw_showing_kind_from_name(const char *name, hw_showing_kind *out)
{
    for (int i = 0; i < HW_SHOW_COUNT; i++) {
        if (strcmp(rows[i].name, name) == 0) {
            *out = (hw_showing_kind)i;
            return true;
        }
    }
    return false;
}

bool hw_showing_kind_is_of_patch(hw_showing_kind kind)
{
    return (unsigned)kind < HW_SHOW_COUNT && rows[kind].of_patch;
}

bool hw_showing_kind_has_text(hw_showing_kind kind)
{
    return (unsigned)kind < HW_SHOW_COUNT && rows[kind].has_text;
}

void hw_report_layer_words(const hw_layer *layer, size_t count, char *out, size_t size)
{
    hw_text text = hw_text_in(out, size);
    for (size_t i = 0; i < count; i++) {
        hw_text_add(&text, "%s", i > 0 ? ", then " : "");
        hw_report_add_liquid(&text, &layer[i].liquid);
    }
}

// ---- What it is drawn from ---------------------------------------------------------

void hw_showing_free(hw_showing *showing)
{
    hw_reading_free(&showing->reading);
    hw_path_free(&showing->path);
    hw_looks_free(&showing->looks);
    hw_shown_free(&showing->picture);
    hw_shown_free(&showing->second);
    hw_marks_free(&showing->marks);
    hw_marks_free(&showing->second_marks);
    hw_map_free(&showing->map);
    *showing = (hw_showing){0};
}

static const hw_comparison *gap_of(const hw_showing *showing)
{
    return hw_comparison_beside(&showing->reading.comparisons, showing->patch);
}

static hw_rulers rulers_of(const hw_showing *showing)
{
    return (hw_rulers){.gap = gap_of(showing),
                       .last = showing->has_last ? &showing->last : NULL,
                       .last_photo = showing->last_photo,
                       .source = showing->source};
}

static hw_status draw_two(const hw_showing *showing, char **out, hw_error *err)
{
    bool marked = showing->kind == HW_SHOW_BEFORE_AFTER;
    hw_two two = {.first = &showing->picture,
                  .second = &showing->second,
                  .first_marks = marked ? &showing->marks : NULL,
                  .second_marks = marked ? &showing->second_marks : NULL,
                  .first_words = showing->words,
                  .second_words = showing->second_words,
                  .note = showing->note};
    return hw_report_two_svg(&two, out, err);
}

static hw_status draw_map(const hw_showing *showing, char **out, hw_error *err)
{
    hw_map_told told = {.map = &showing->map,
                        .picture = &showing->picture,
                        .marks = &showing->marks,
                        .distance_mm = showing->distance_mm,
                        .why_not = showing->why_not,
                        .spread = showing->spread};
    return hw_report_map_svg(&told, out, err);
}

hw_status hw_report_showing_svg(const hw_showing *showing, char **out, hw_error *err)
{
    hw_rulers rulers = rulers_of(showing);
    switch (showing->kind) {
    case HW_SHOW_SWATCHES:
        return hw_report_swatches_svg(rulers.gap, out, err);
    case HW_SHOW_RULERS:
        return hw_report_rulers_svg(&rulers, out, err);
    case HW_SHOW_SEAM:
        return hw_report_seam_svg(&showing->picture, &showing->seam, out, err);
    case HW_SHOW_PATH:
        return hw_report_path_svg(&showing->path, out, err);
    case HW_SHOW_LOOKS:
        return hw_report_looks_svg(&showing->looks, out, err);
    case HW_SHOW_PIECE:
    case HW_SHOW_BEFORE_AFTER:
        return draw_two(showing, out, err);
    case HW_SHOW_MAP:
        return draw_map(showing, out, err);
    default:
        return hw_report_photo_svg(&showing->picture, &showing->marks, showing->words, out, err);
    }
}

// A terminal without colour gets the words of the rulers in place of the fields.
static hw_status swatches_text(const hw_showing *showing, const hw_report_style *style, char **out,
                               hw_error *err)
{
    const hw_comparison *gap = gap_of(showing);
    hw_text text = {0};
    if (style->swatches) {
        hw_report_add_swatches(&text, gap->target_lab, gap->patch_lab);
    }
    hw_report_add_clean(&text, gap->patch);
    hw_text_add(&text, ": ");
    hw_report_add_components(&text, gap);
    hw_text_add(&text, " (");
    hw_report_add_clean(&text, showing->source);
    hw_text_add(&text, ")\n");
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_showing_text(const hw_showing *showing, const hw_report_style *style,
                                 char **out, hw_error *err)
{
    hw_rulers rulers = rulers_of(showing);
    return showing->kind == HW_SHOW_PATH ? hw_report_path_text(&showing->path, style, out, err)
           : showing->kind == HW_SHOW_SWATCHES ? swatches_text(showing, style, out, err)
                                               : hw_report_rulers_text(&rulers, style, out, err);
}

// ---- That it was made --------------------------------------------------------------

hw_status hw_report_written_text(const char *file, size_t bytes, char **out, hw_error *err)
{
    hw_text text = {0};
    hw_text_add(&text, "Written: ");
    hw_report_add_clean(&text, file);
    hw_text_add(&text, " (%zu kB)\n", (bytes + 999) / 1000);
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_warnings_text(const hw_warnings *warnings, char **out, hw_error *err)
{
    hw_text text = {0};
    for (size_t i = 0; i < warnings->count; i++) {
        hw_text_add(&text, "huewright: ");
        hw_report_add_clean(&text, warnings->text[i]);
        hw_text_add(&text, "\n");
    }
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_drawn_json(const hw_showing *showing, const char *file, size_t bytes,
                               char **out, hw_error *err)
{
    hw_json *root = hw_json_new_object(), *told = hw_json_add_object(root, "picture");
    hw_report_json_text(told, "kind", hw_showing_kind_name(showing->kind));
    hw_report_json_text(told, "file", file);
    hw_json_add_number(told, "bytes", (double)bytes);
    hw_json_add_number(told, "photo", (double)showing->photo);
    hw_report_json_text(told, "view", showing->view);
    if (showing->patch[0]) {
        hw_report_json_text(told, "patch", showing->patch);
    }
    hw_report_json_warnings(root, &showing->warnings);
    return hw_report_json_finish(root, out, err);
}

hw_status hw_report_made_json(const hw_account *account, hw_reader reader, const char *file,
                              size_t bytes, char **out, hw_error *err)
{
    hw_json *root = hw_json_new_object(), *told = hw_json_add_object(root, "report");
    hw_report_json_text(told, "for", hw_reader_name(reader));
    hw_report_json_text(told, "file", file);
    hw_json_add_number(told, "bytes", (double)bytes);
    hw_report_json_warnings(root, &account->warnings);
    return hw_report_json_finish(root, out, err);
}
