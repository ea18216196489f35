// report_reading_json.c: the same reading for programs. Members are added freely; none is ever
// renamed and no unit changed. Differences are patch minus target; `_low` and `_high` bound 90 %.
//
//   {"photo":{"file","width","height","warnings",...},
//    "light":{"gain":[long,middle,short],"uneven","warnings",...},
//    "samples":[{"name","role","polygon","lab","standard_error","spread","pixels","left_out",...}],
//    "comparisons":[{"patch","target","de00","de00_low","de00_high","delta","delta_low",
//       "delta_high","words","spread_ratio","verdict","why",...}],
//    "warnings":[...]}
#include "report_internal.h"

static void add_photo(hw_json *root, const hw_photo_facts *facts)
{
    hw_json *photo = hw_json_add_object(root, "photo");
    hw_report_json_text(photo, "file", facts->file);
    hw_json_add_number(photo, "width", (double)facts->width_px);
    hw_json_add_number(photo, "height", (double)facts->height_px);
    hw_json_add_text(photo, "format", facts->format);
    hw_json_add_number(photo, "bits", (double)facts->bits);
    hw_json_add_number(photo, "orientation", (double)facts->orientation);
    hw_report_json_text(photo, "colour", facts->colour);
    hw_json_add_bool(photo, "colour_assumed", facts->colour_assumed);
    hw_report_json_text(photo, "camera", facts->camera);
    hw_report_json_text(photo, "taken", facts->taken);
    hw_json_add_bool(photo, "sandboxed", facts->sandboxed);
    hw_report_json_warnings(photo, &facts->warnings);
}

static void add_light(hw_json *root, const hw_light *light)
{
    hw_json *told = hw_json_add_object(root, "light");
    hw_report_json_triple(told, "gain", light->gain, 5);
    hw_json_add_rounded(told, "uneven", light->uneven, 4);
    hw_report_json_triple(told, "u_gain", light->u_gain, 5);
    hw_report_json_lab(told, "card_lab", light->card_lab);
    hw_json_add_bool(told, "card_measured", light->card_measured);
    hw_report_json_lab(told, "card_seen", hw_lab_from_xyz(light->card_seen, hw_white_d50));
    hw_json_add_rounded(told, "card_spread", light->card_spread, 4);
    hw_report_json_warnings(told, &light->warnings);
}

static void add_polygon(hw_json *parent, const hw_mark *mark)
{
    hw_json *polygon = hw_json_add_array(parent, "polygon");
    for (size_t i = 0; mark && i < mark->point_count; i++) {
        hw_json *point = hw_json_add_array(polygon, NULL);
        hw_json_add_rounded(point, NULL, mark->points[i].x, 2);
        hw_json_add_rounded(point, NULL, mark->points[i].y, 2);
    }
}

static void add_sample(hw_json *list, const hw_sample *sample, const hw_marks *marks)
{
    hw_json *told = hw_json_add_object(list, NULL);
    hw_report_json_text(told, "name", sample->name);
    hw_json_add_text(told, "role", hw_role_name(sample->role));
    if (sample->role == HW_ROLE_PATCH) {
        hw_json_add_text(told, "kind", hw_kind_name(sample->kind));
    }
    add_polygon(told, hw_marks_find(marks, sample->role, sample->name));
    hw_report_json_lab(told, "lab", sample->lab);
    hw_report_json_triple(told, "standard_error", sample->standard_error, 3);
    hw_json_add_bool(told, "standard_error_is_floor", sample->standard_error_is_floor);
    hw_report_json_triple(told, "spread", sample->spread, 3);
    hw_json_add_number(told, "pixels", (double)sample->pixels);
    hw_json_add_number(told, "left_out", (double)sample->left_out);
    hw_json_add_rounded(told, "pore_share", sample->pore_share, 4);
    hw_json_add_rounded(told, "clipped_share", sample->clipped_share, 5);
}

static void add_delta(hw_json *parent, const char *name, const hw_difference *delta)
{
    hw_json *told = hw_json_add_object(parent, name);
    hw_json_add_rounded(told, "L", delta->L, 3);
    hw_json_add_rounded(told, "a", delta->a, 3);
    hw_json_add_rounded(told, "b", delta->b, 3);
    hw_json_add_rounded(told, "C", delta->C, 3);
    hw_json_add_rounded(told, "H", delta->H, 3);
}

static void add_comparison(hw_json *list, const hw_comparison *item)
{
    hw_json *told = hw_json_add_object(list, NULL);
    hw_report_json_text(told, "patch", item->patch);
    hw_report_json_text(told, "target", item->target);
    hw_json_add_text(told, "kind", hw_kind_name(item->kind));
    hw_json_add_rounded(told, "de00", item->gap.de00, 3);
    hw_json_add_rounded(told, "de00_low", item->de00_low, 3);
    hw_json_add_rounded(told, "de00_high", item->de00_high, 3);
    hw_json_add_rounded(told, "de76", item->gap.de76, 3);
    hw_json_add_rounded(told, "de94", item->gap.de94, 3);
    add_delta(told, "delta", &item->gap);
    add_delta(told, "delta_low", &item->low);
    add_delta(told, "delta_high", &item->high);
    hw_json *words = hw_json_add_array(told, "words");
    for (size_t i = 0; i < item->direction_count; i++) {
        hw_json_add_text(words, NULL, hw_direction_words(item->direction[i]));
    }
    hw_report_json_lab(told, "patch_lab", item->patch_lab);
    hw_report_json_lab(told, "target_lab", item->target_lab);
    hw_json_add_rounded(told, "tellable", item->tellable, 3);
    hw_json_add_rounded(told, "spread", item->spread, 3);
    hw_json_add_number(told, "spread_count", (double)item->spread_count);
    hw_json_add_rounded(told, "spread_ratio", item->spread_ratio, 3);
    hw_json_add_rounded(told, "t_squared", item->t_squared, 3);
    hw_json_add_rounded(told, "t_squared_p", item->t_squared_p, 5);
    hw_json_add_text(told, "verdict", hw_verdict_name(item->verdict));
    hw_report_json_text(told, "why", item->why);
}

static hw_json *reading_tree(const hw_reading *reading)
{
    hw_json *root = hw_json_new_object();
    add_photo(root, &reading->photo);
    add_light(root, &reading->light);
    hw_json *samples = hw_json_add_array(root, "samples");
    for (size_t i = 0; i < reading->sample_count; i++) {
        add_sample(samples, &reading->samples[i], &reading->marks);
    }
    hw_json *comparisons = hw_json_add_array(root, "comparisons");
    for (size_t i = 0; i < reading->comparisons.count; i++) {
        add_comparison(comparisons, &reading->comparisons.item[i]);
    }
    hw_report_json_warnings(root, &reading->warnings);
    return root;
}

hw_status hw_report_reading_json(const hw_reading *reading, char **out, hw_error *err)
{
    return hw_report_json_finish(reading_tree(reading), out, err);
}

hw_status hw_report_photo_json(const hw_photo_news *news, const hw_reading *reading, char **out,
                               hw_error *err)
{
    hw_json *root = reading_tree(reading);
    hw_json *job = hw_json_add_object(root, "job");
    hw_json_add_number(job, "photo", (double)news->number);
    hw_json_add_bool(job, "marks_reused", news->marks_reused);
    if (news->marks_reused) {
        hw_json_add_rounded(job, "correlation", news->correlation, 3);
    } else {
        hw_json_add_null(job, "correlation");
    }
    hw_report_json_warnings(job, news->warnings);
    return hw_report_json_finish(root, out, err);
}
