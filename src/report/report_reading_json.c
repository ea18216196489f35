// report_reading_json.c: the same reading for programs. Members are added freely; none is ever
// renamed and no unit changed. Differences are patch minus target; `_low` and `_high` bound 90 %.
//
//   {"photo":{"file","width","height","warnings",...,"shot":{"exposure_s","f_number","iso","focal_mm",
//       "digital_zoom","exposure_bias_ev","flash","exposure","white_balance","processing","gain_map","offset"}}, of
//       the shot what the file says; a raw file: "photosites" a side of the square that became a pixel,
//       "linear",
//    "light":{"gain":[long,middle,short],"uneven","warnings",...}, with "camera_learned" where one was known: {"lamp","photos",
//       "age_days","curve","colours","card_moved",...}, with "why_not" where it was left aside,
//    "references":[{"role","name","polygon","found","off_px"}], the card and what else the light is read from; `found`, how
//       sure the program found or carried it, where no person placed it,
//    "samples":[{"name","role","polygon","lab","standard_error","spread","pixels","left_out",...}],
//    "comparisons":[{"patch","target","de00","de00_low","de00_high","delta","delta_low",
//       "delta_high","words","spread_axis":[L,a,b],"spread_ratio","verdict","why",...}], with "elsewhere", the number of the photo
//       that shows the target, where that is another one,
//    "seams":[{"patch","target","length","pieces":[{"from","to","place","de00",...}]}],
//    "from", the side that it was taken from, where it was said,
//    "shots":[{"file","used","off","why"}], where several photos were read together: comparisons then have "shots",
//       "shot_scatter" (r.m.s. distance of one from the mean), "shots_apart" (largest distance of two, CIEDE2000), photo and light are the first one's,
//    "proposed":[{"role","name","polygon"}], spots of old wood that could be marked too,
//    "check":[{"trouble","at_stake","words"}], worst first,
//    "warnings":[...]}
//
// Of several sides: the reading from the front, or else the first, and with it "sides":[each as above] and
// "left_and_right":[{"patch","left":{"L","a","b"},"right","turned":["L"],"words"}]: axes whose sign turns, and then what
// that means.
#include "report_internal.h"

#include <math.h>

static void add_said(hw_json *told, const char *name, double value)
{
    if (value > 0.0) {
        hw_json_add_number(told, name, value);
    }
}

// Only what the file says.
static void add_shot(hw_json *photo, const hw_shot *shot)
{
    static const char *const set_by[] = {NULL, "auto", "manual"};
    static const char *const processing[] = {NULL, "hdr", "portrait", "night"};
    hw_json *told = hw_json_add_object(photo, "shot");
    add_said(told, "exposure_s", shot->exposure_s);
    add_said(told, "f_number", shot->f_number);
    add_said(told, "iso", shot->iso);
    add_said(told, "focal_mm", shot->focal_mm);
    add_said(told, "digital_zoom", shot->digital_zoom);
    if (shot->has_bias) {
        hw_json_add_number(told, "exposure_bias_ev", shot->bias_ev);
    }
    if (shot->flash != HW_NOT_SAID) {
        hw_json_add_bool(told, "flash", shot->flash == HW_SAID_YES);
    }
    if (shot->exposure != HW_SET_NOT_SAID) {
        hw_json_add_text(told, "exposure", set_by[shot->exposure]);
    }
    if (shot->white_balance != HW_SET_NOT_SAID) {
        hw_json_add_text(told, "white_balance", set_by[shot->white_balance]);
    }
    if (shot->processing != HW_PROCESSING_NONE) {
        hw_json_add_text(told, "processing", processing[shot->processing]);
    }
    if (shot->gain_map) {
        hw_json_add_bool(told, "gain_map", true);
    }
    if (shot->offset[0]) {
        hw_report_json_text(told, "offset", shot->offset);
    }
}

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
    add_shot(photo, &facts->shot);
    if (facts->photosites > 0) {
        hw_json_add_number(photo, "photosites", (double)facts->photosites);
        hw_json_add_bool(photo, "linear", facts->linear);
    }
    hw_json_add_bool(photo, "sandboxed", facts->sandboxed);
    hw_report_json_warnings(photo, &facts->warnings);
}

static void add_tone(hw_json *light, const hw_tone *tone)
{
    static const char *const name[3] = {"contrast", "lift", "flare"};
    hw_json *told = hw_json_add_object(light, "tone");
    hw_json_add_number(told, "steps", (double)tone->steps);
    hw_json_add_bool(told, "straightened", tone->straightens);
    for (int i = 0; i < 3; i++) {
        double u = sqrt(fmax(tone->doubt.m[i][i], 0.0));
        hw_json *one = hw_json_add_object(told, name[i]);
        hw_json_add_rounded(one, "value", tone->parameter[i], 4);
        hw_json_add_rounded(one, "u", u, 4);
    }
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
    hw_json_add_bool(told, "single_colours_doubtful", !light->chart.used);
    hw_json_add_rounded(told, "coloured", light->coloured, 4);
    add_tone(told, &light->tone);
    hw_report_json_camera_use(told, light);
    hw_json *field = hw_json_add_object(told, "field");
    hw_json_add_number(field, "places", (double)light->field.places);
    hw_json_add_bool(field, "from_sheet", light->field.from_sheet);
    if (light->chart.patches > 0) {
        hw_json *chart = hw_json_add_object(told, "chart");
        hw_json_add_number(chart, "patches", (double)light->chart.patches);
        hw_json_add_bool(chart, "used", light->chart.used);
        hw_json_add_bool(chart, "later_edition", light->chart.later_edition);
        hw_json_add_rounded(chart, "de00_card_alone", light->chart.before, 3);
        hw_json_add_rounded(chart, "de00_left_out", light->chart.after, 3);
    }
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

// How sure it was found or carried, where no person placed it.
static void add_found(hw_json *told, const hw_mark *mark)
{
    if (mark && mark->found > 0.0) {
        hw_json_add_rounded(told, "found", mark->found, 3);
        hw_json_add_rounded(told, "off_px", mark->off_px, 2);
    }
}

static void add_references(hw_json *root, const hw_marks *marks)
{
    hw_json *list = hw_json_add_array(root, "references");
    for (size_t i = 0; i < marks->count; i++) {
        const hw_mark *mark = &marks->mark[i];
        if (hw_role_is_wood(mark->role)) {
            continue;
        }
        hw_json *told = hw_json_add_object(list, NULL);
        hw_report_json_text(told, "name", mark->name);
        hw_json_add_text(told, "role", hw_role_name(mark->role));
        add_polygon(told, mark);
        add_found(told, mark);
    }
}

static void add_sample(hw_json *list, const hw_sample *sample, const hw_reading *reading)
{
    const hw_light *light = &reading->light;
    hw_json *told = hw_json_add_object(list, NULL);
    hw_report_json_text(told, "name", sample->name);
    hw_json_add_text(told, "role", hw_role_name(sample->role));
    if (sample->role == HW_ROLE_PATCH) {
        hw_json_add_text(told, "kind", hw_kind_name(sample->kind));
    }
    hw_report_json_lab(told, "lab", sample->lab);
    hw_report_json_triple(told, "standard_error", sample->standard_error, 3);
    if (reading->measured) {
        return; // what follows is of pixels
    }
    const hw_mark *mark = hw_marks_find(&reading->marks, sample->role, sample->name);
    add_polygon(told, mark);
    add_found(told, mark);
    hw_json_add_bool(told, "standard_error_is_floor", sample->standard_error_is_floor);
    hw_report_json_triple(told, "spread", sample->spread, 3);
    hw_json_add_number(told, "pixels", (double)sample->pixels);
    hw_json_add_number(told, "left_out", (double)sample->left_out);
    hw_json_add_rounded(told, "light_change",
                        expm1(hw_light_change(light, sample->centre, light->field.centre)), 4);
    hw_json_add_rounded(told, "pore_share", sample->pore_share, 4);
    if (sample->ground_known) { // else it cannot tell
        hw_report_json_lab(told, "ground_lab", sample->ground_lab);
        hw_report_json_lab(told, "pore_lab", sample->pore_lab);
    }
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

static void add_words(hw_json *parent, const hw_direction *direction, size_t count)
{
    hw_json *words = hw_json_add_array(parent, "words");
    for (size_t i = 0; i < count; i++) {
        hw_json_add_text(words, NULL, hw_direction_words(direction[i]));
    }
}

static void add_comparison(hw_json *list, const hw_comparison *item)
{
    hw_json *told = hw_json_add_object(list, NULL);
    hw_report_json_text(told, "patch", item->patch);
    hw_report_json_text(told, "target", item->target);
    hw_json_add_text(told, "kind", hw_kind_name(item->kind));
    if (item->elsewhere > 0) {
        hw_json_add_number(told, "elsewhere", (double)item->elsewhere);
    }
    hw_json_add_rounded(told, "de00", item->gap.de00, 3);
    hw_json_add_rounded(told, "de00_low", item->de00_low, 3);
    hw_json_add_rounded(told, "de00_high", item->de00_high, 3);
    hw_json_add_rounded(told, "de76", item->gap.de76, 3);
    hw_json_add_rounded(told, "de94", item->gap.de94, 3);
    add_delta(told, "delta", &item->gap);
    add_delta(told, "delta_low", &item->low);
    add_delta(told, "delta_high", &item->high);
    add_words(told, item->direction, item->direction_count);
    hw_report_json_lab(told, "patch_lab", item->patch_lab);
    hw_report_json_lab(told, "target_lab", item->target_lab);
    hw_json_add_rounded(told, "tellable", item->tellable, 3);
    if (item->shots > 1) {
        hw_json_add_number(told, "shots", (double)item->shots);
        hw_json_add_rounded(told, "shot_scatter", item->shot_scatter, 3);
        hw_json_add_rounded(told, "shots_apart", item->shots_apart, 3);
    }
    if (item->grain_light) {
        hw_json_add_bool(told, "grain_light", true);
    }
    hw_json_add_rounded(told, "spread", item->spread, 3);
    hw_json_add_rounded(told, "spread_here", item->spread_here, 3);
    hw_json_add_number(told, "spread_count", (double)item->spread_count);
    hw_report_json_triple(told, "spread_axis", item->spread_axis, 3);
    hw_json_add_rounded(told, "spread_ratio", item->spread_ratio, 3);
    hw_json_add_rounded(told, "t_squared", item->t_squared, 3);
    hw_json_add_rounded(told, "t_squared_p", item->t_squared_p, 5);
    hw_json_add_text(told, "verdict", hw_verdict_name(item->verdict));
    hw_report_json_text(told, "why", item->why);
    hw_json *doubt = hw_json_add_object(told, "doubt"); // standard uncertainty of de00 by source
    for (int source = 0; source < HW_DOUBT_COUNT; source++) {
        hw_json_add_rounded(doubt, hw_doubt_name((hw_doubt)source), item->doubt[source], 3);
    }
    if (item->ground.known) {
        hw_json *ground = hw_json_add_object(told, "ground");
        hw_json_add_rounded(ground, "de00", item->ground.gap.de00, 3);
        hw_json_add_rounded(ground, "de00_low", item->ground.de00_low, 3);
        hw_json_add_rounded(ground, "de00_high", item->ground.de00_high, 3);
        add_delta(ground, "delta", &item->ground.gap);
        hw_json_add_bool(ground, "matches", item->ground.matches);
    }
    if (item->uneven.found) {
        hw_json *uneven = hw_json_add_object(told, "uneven");
        hw_json_add_text(uneven, "place", hw_stretch_words(&item->uneven.end));
        hw_json_add_rounded(uneven, "de00", item->uneven.off.de00, 3);
        add_delta(uneven, "delta", &item->uneven.off);
        hw_report_json_text(uneven, "words", item->uneven.words);
    }
}

static void add_seam(hw_json *list, const hw_seam *seam)
{
    hw_json *told = hw_json_add_object(list, NULL);
    hw_report_json_text(told, "patch", seam->patch);
    hw_report_json_text(told, "target", seam->target);
    hw_json_add_rounded(told, "length", seam->length_px, 1);
    hw_json *pieces = hw_json_add_array(told, "pieces");
    for (size_t i = 0; i < seam->count; i++) {
        const hw_seam_piece *piece = &seam->piece[i];
        hw_json *one = hw_json_add_object(pieces, NULL);
        hw_json_add_rounded(one, "from", piece->stretch.from, 3);
        hw_json_add_rounded(one, "to", piece->stretch.to, 3);
        hw_json_add_text(one, "place", hw_stretch_words(&piece->stretch));
        hw_json_add_rounded(one, "de00", piece->gap.de00, 3);
        hw_json_add_rounded(one, "de00_low", piece->de00_low, 3);
        hw_json_add_rounded(one, "de00_high", piece->de00_high, 3);
        add_delta(one, "delta", &piece->gap);
        add_words(one, piece->direction, piece->direction_count);
        hw_json_add_text(one, "verdict", hw_verdict_name(piece->verdict));
    }
}

static void add_check(hw_json *root, const hw_reading *reading)
{
    hw_warnings all;
    size_t order[HW_WARNINGS_MAX];
    hw_report_photo_check(reading, &all);
    hw_warnings_worst_first(&all, order);
    hw_json *list = hw_json_add_array(root, "check");
    for (size_t i = 0; i < all.count; i++) {
        hw_json *one = hw_json_add_object(list, NULL);
        hw_json_add_text(one, "trouble", hw_trouble_name(all.trouble[order[i]]));
        hw_json_add_rounded(one, "at_stake", all.at_stake[order[i]], 1);
        hw_report_json_text(one, "words", all.text[order[i]]);
    }
}

static void add_shots(hw_json *root, const hw_shots *shots)
{
    hw_json *list = hw_json_add_array(root, "shots");
    for (size_t i = 0; i < shots->count; i++) {
        const hw_one_shot *shot = &shots->shot[i];
        hw_json *one = hw_json_add_object(list, NULL);
        hw_report_json_text(one, "file", shot->file);
        hw_json_add_bool(one, "used", shot->used);
        hw_json_add_rounded(one, "off", shot->off, 3);
        hw_report_json_text(one, "why", shot->why);
    }
    hw_json_add_bool(root, "shots_disagree", shots->disagree);
}

// 95 % of the old wood, and of the repair, lies within so much of the old wood's mean, CIEDE2000.
static void add_sights(hw_json *root, const hw_reading *reading)
{
    hw_json *list = hw_json_add_array(root, "sights");
    for (size_t i = 0; i < reading->sight_count; i++) {
        const hw_sight *sight = &reading->sights[i];
        hw_json *one = hw_json_add_object(list, NULL);
        hw_report_json_text(one, "patch", sight->patch);
        hw_json_add_rounded(one, "distance_mm", sight->distance_mm, 1);
        if (!sight->known) {
            hw_report_json_text(one, "why_not", sight->why_not);
            continue;
        }
        hw_json_add_text(one, "verdict", hw_sight_name(sight->verdict));
        hw_json_add_rounded(one, "wood_off", sight->wood_off, 3);
        hw_json_add_rounded(one, "patch_off", sight->patch_off, 3);
        hw_json_add_rounded(one, "patch_low", sight->patch_low, 3);
        hw_json_add_rounded(one, "patch_high", sight->patch_high, 3);
        hw_json_add_rounded(one, "beyond", sight->beyond, 4);
    }
}

hw_json *hw_report_reading_tree(const hw_reading *reading)
{
    hw_json *root = hw_json_new_object();
    if (reading->measured) {
        hw_json *photo = hw_json_add_object(root, "photo");
        hw_report_json_text(photo, "file", reading->photo.file);
        hw_report_json_text(photo, "instrument", reading->photo.camera);
    } else {
        add_photo(root, &reading->photo);
        add_light(root, &reading->light);
        add_references(root, &reading->marks);
    }
    if (reading->from != HW_FROM_UNSAID) {
        hw_json_add_text(root, "from", hw_from_name(reading->from));
    }
    if (reading->shots.count > 1) {
        add_shots(root, &reading->shots);
    }
    hw_json *samples = hw_json_add_array(root, "samples");
    for (size_t i = 0; i < reading->sample_count; i++) {
        add_sample(samples, &reading->samples[i], reading);
    }
    hw_json *comparisons = hw_json_add_array(root, "comparisons");
    for (size_t i = 0; i < reading->comparisons.count; i++) {
        add_comparison(comparisons, &reading->comparisons.item[i]);
    }
    hw_json *seams = hw_json_add_array(root, "seams");
    for (size_t i = 0; i < reading->comparisons.seam_count; i++) {
        add_seam(seams, &reading->comparisons.seam[i]);
    }
    if (reading->sight_count > 0) {
        add_sights(root, reading);
    }
    if (reading->proposed.count > 0) {
        hw_json *proposed = hw_json_add_array(root, "proposed");
        for (size_t i = 0; i < reading->proposed.count; i++) {
            const hw_mark *mark = &reading->proposed.mark[i];
            hw_json *one = hw_json_add_object(proposed, NULL);
            hw_json_add_text(one, "role", hw_role_name(mark->role));
            hw_report_json_text(one, "name", mark->name);
            add_polygon(one, mark);
        }
    }
    add_check(root, reading);
    hw_report_json_warnings(root, &reading->warnings);
    return root;
}

hw_status hw_report_reading_json(const hw_reading *reading, char **out, hw_error *err)
{
    return hw_report_json_finish(hw_report_reading_tree(reading), out, err);
}

hw_status hw_report_photo_json(const hw_photo_news *news, const hw_reading *reading, char **out,
                               hw_error *err)
{
    hw_json *root = hw_report_reading_tree(reading);
    hw_json *job = hw_json_add_object(root, "job");
    hw_json_add_number(job, "photo", (double)news->number);
    if (news->again) {
        hw_json_add_bool(root, "again", true);
    }
    hw_json_add_bool(job, "marks_reused", news->marks_reused);
    hw_json_add_bool(job, "marks_carried", news->marks_carried);
    if (news->marks_carried) {
        hw_json_add_rounded(job, "moved_px", news->moved_px, 1);
        hw_json_add_rounded(job, "error_px", news->error_px, 2);
    }
    if (news->marks_reused) {
        hw_json_add_rounded(job, "correlation", news->correlation, 3);
    } else {
        hw_json_add_null(job, "correlation");
    }
    hw_report_json_warnings(job, news->warnings);
    return hw_report_json_finish(root, out, err);
}

// ---- From several sides ------------------------------------------------------------

static void add_side_gap(hw_json *parent, const char *name, const hw_side_gap *gap)
{
    static const char *const axis[3] = {"L", "a", "b"};
    hw_json *told = hw_json_add_object(parent, name);
    for (int i = 0; i < 3; i++) {
        hw_json_add_rounded(told, axis[i], gap->delta[i], 3);
    }
}

static void add_pair(hw_json *list, const hw_side_pair *pair)
{
    static const char *const axis[3] = {"L", "a", "b"};
    hw_json *told = hw_json_add_object(list, NULL);
    hw_report_json_text(told, "patch", pair->patch);
    add_side_gap(told, "left", &pair->left);
    add_side_gap(told, "right", &pair->right);
    hw_json *turned = hw_json_add_array(told, "turned");
    for (int i = 0; i < 3; i++) {
        if (pair->axis[i]) {
            hw_json_add_text(turned, NULL, axis[i]);
        }
    }
    hw_json_add_text(told, "words", pair->turned ? hw_grain_light : "");
}

hw_status hw_report_sides_json(const hw_reading *reading, size_t count, const hw_side_pair *pair,
                               size_t pairs, char **out, hw_error *err)
{
    size_t main_one = 0; // the front, or the first one given
    for (size_t i = 0; i < count; i++) {
        main_one = hw_from_is_same(reading[i].from, HW_FROM_FRONT) ? i : main_one;
    }
    hw_json *root = hw_report_reading_tree(&reading[main_one]);
    hw_json *sides = hw_json_add_array(root, "sides");
    for (size_t i = 0; i < count; i++) {
        hw_json_add_tree(sides, NULL, hw_report_reading_tree(&reading[i]));
    }
    hw_json *list = hw_json_add_array(root, "left_and_right");
    for (size_t i = 0; i < pairs; i++) {
        add_pair(list, &pair[i]);
    }
    return hw_report_json_finish(root, out, err);
}
