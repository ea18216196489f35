// steps_place.c: the marks that nobody placed: the grey card, found in the picture.
//
// A person's own mark always wins: nothing is looked for where one is. What is found and sure is used, and said with
// its place; what is not sure is proposed, and read only when the person says that it is the card.
#include "steps_internal.h"

#include <string.h>

// ---- In words ----------------------------------------------------------------------

static hw_point middle_of(const hw_marks *marks)
{
    hw_point sum = {0.0, 0.0};
    for (size_t i = 0; i < marks->count; i++) {
        hw_point one = hw_mark_centre(&marks->mark[i]);
        sum.x += one.x / (double)marks->count;
        sum.y += one.y / (double)marks->count;
    }
    return sum;
}

// "at the lower right"
static const char *place_of(const hw_marks *marks, const hw_photo_facts *facts)
{
    static const char *const place[3][3] = {
        {"at the upper left", "at the top", "at the upper right"},
        {"at the left", "in the middle", "at the right"},
        {"at the lower left", "at the bottom", "at the lower right"}};
    hw_point middle = middle_of(marks);
    double across = 3.0 * middle.x / (double)facts->width_px;
    double down = 3.0 * middle.y / (double)facts->height_px;
    return place[down < 1.0 ? 0 : down < 2.0 ? 1 : 2][across < 1.0 ? 0 : across < 2.0 ? 1 : 2];
}

// As an option that marks it: "--card 590,850 810,850 ..."
static void add_option(hw_text *text, const char *option, const char *name, const hw_mark *mark)
{
    hw_text_add(text, "%s--%s \"%s%s", text->length ? " " : "", option, name, name[0] ? "=" : "");
    for (size_t i = 0; i < mark->point_count; i++) {
        hw_text_add(text, "%s%.0f,%.0f", i ? " " : "", mark->points[i].x, mark->points[i].y);
    }
    hw_text_add(text, "\"");
}

static const char *thing_of(hw_find_kind what)
{
    return what == HW_FIND_CHART   ? "what looks like a colour chart"
           : what == HW_FIND_STEPS ? "what looks like a white, a grey and a black step"
                                   : "a grey area";
}

static hw_point centre_of(const hw_marks *chart, const char *patch)
{
    const hw_mark *mark = hw_marks_find(chart, HW_ROLE_CHART, patch);
    return mark ? hw_mark_centre(mark) : (hw_point){0.0, 0.0};
}

// Outer corners of the field of patches, half a patch beyond the centres of those at its corners.
static void chart_corners(const hw_marks *chart, hw_point corner[4])
{
    static const char *const patch[4][3] = {
        {"1", "2", "7"}, {"6", "5", "12"}, {"24", "23", "18"}, {"19", "20", "13"}};
    for (int i = 0; i < 4; i++) {
        hw_point own = centre_of(chart, patch[i][0]);
        hw_point one = centre_of(chart, patch[i][1]), other = centre_of(chart, patch[i][2]);
        corner[i] = (hw_point){2.0 * own.x - 0.5 * (one.x + other.x),
                               2.0 * own.y - 0.5 * (one.y + other.y)};
    }
}

// What marks it, for a person who says yes.
static void add_options(hw_text *text, const hw_card_find *find)
{
    if (find->what == HW_FIND_CHART) {
        hw_point corner[4];
        chart_corners(&find->marks, corner);
        add_option(text, "chart", "", &(hw_mark){.points = corner, .point_count = 4});
        return;
    }
    for (size_t i = 0; i < find->marks.count; i++) {
        const hw_mark *mark = &find->marks.mark[i];
        bool card = mark->role == HW_ROLE_CARD;
        add_option(text, hw_role_name(mark->role), card ? "" : mark->name, mark);
    }
}

static hw_status refuse_unsure(const hw_photo_facts *facts, const hw_card_find *find, hw_error *err)
{
    hw_text options = {0};
    hw_point middle = middle_of(&find->marks);
    char next[480];
    add_options(&options, find);
    if (options.failed) {
        hw_text_free(&options);
        return hw_fail_memory(err, "looking for the grey card");
    }
    hw_format_text(
        next, sizeof next,
        "If it is, add %s. If not, mark the card itself; without one in the picture, lay it "
        "beside the repair and take the photo again.",
        options.bytes);
    hw_text_free(&options);
    return hw_fail(
        err, HW_ERR_INPUT, "card-unsure", facts->file, next,
        "no grey card is marked; %s %s (its middle at %.0f,%.0f) may be it. %s Is this the "
        "card?",
        thing_of(find->what), place_of(&find->marks, facts), middle.x, middle.y, find->why);
}

static hw_status refuse_missing(const hw_photo_facts *facts, hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "card-missing", facts->file,
                   "Mark the grey card with --card x,y,width,height. Without a card in the "
                   "picture, lay one beside the repair and take the photo again.",
                   "no grey card is marked, and none was found in the picture");
}

// ---- The card ----------------------------------------------------------------------

static hw_status take_find(const hw_card_find *find, hw_marks *marks, hw_error *err)
{
    hw_status status = HW_OK;
    for (size_t i = 0; i < find->marks.count && status == HW_OK; i++) {
        status = hw_marks_take(&find->marks, i, marks, err);
        if (status == HW_OK) {
            marks->mark[marks->count - 1].found = find->confidence;
        }
    }
    return status;
}

static void say_found(const hw_photo_facts *facts, const hw_card_find *find, hw_warnings *warnings)
{
    static const char *const things[] = {[HW_FIND_CARD] = "grey card",
                                         [HW_FIND_STEPS] = "card of three steps",
                                         [HW_FIND_CHART] = "colour chart"};
    hw_point middle = middle_of(&find->marks);
    hw_warn(warnings,
            "The %s was found %s of the picture (its middle at %.0f,%.0f). If that is something "
            "else, mark the card yourself.",
            things[find->what], place_of(&find->marks, facts), middle.x, middle.y);
}

hw_status hw_steps_seek_card(const hw_photo *photo, hw_steps_sought *sought, hw_error *err)
{
    hw_status status = sought->done ? HW_OK : hw_marks_find_card(photo, &sought->find, err);
    sought->done = status == HW_OK;
    return status;
}

void hw_steps_sought_free(hw_steps_sought *sought)
{
    hw_card_find_free(&sought->find);
    *sought = (hw_steps_sought){0};
}

static hw_status find_card(const hw_photo *photo, bool is_the_card, hw_steps_sought *sought,
                           hw_marks *marks, hw_warnings *warnings, hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    hw_steps_sought own = {0};
    hw_steps_sought *asked = sought ? sought : &own;
    hw_status status = hw_steps_seek_card(photo, asked, err);
    const hw_card_find *find = &asked->find;
    if (status == HW_OK && find->what == HW_FIND_NOTHING) {
        status = refuse_missing(facts, err);
    } else if (status == HW_OK && !find->sure && !is_the_card) {
        status = refuse_unsure(facts, find, err);
    } else if (status == HW_OK) {
        status = take_find(find, marks, err);
        say_found(facts, find, warnings);
    }
    hw_steps_sought_free(&own);
    return status;
}

hw_status hw_steps_find_card(const hw_photo *photo, hw_steps_sought *sought, hw_marks *marks,
                             bool *found, hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    hw_marks all = {0};
    *found = false;
    hw_status status = hw_steps_seek_card(photo, sought, err);
    if (status != HW_OK || sought->find.what == HW_FIND_NOTHING) {
        return status;
    }
    status = hw_marks_copy(marks, &all, err);
    if (status == HW_OK) {
        status = take_find(&sought->find, &all, err);
    }
    hw_error overlap = {0};
    *found = status == HW_OK &&
             (hw_marks_check(&all, facts->width_px, facts->height_px, NULL, &overlap) == HW_OK ||
              strcmp(overlap.code, "mark-beside") == 0); // its old wood may be in another photo
    if (*found) {
        hw_marks_free(marks);
        *marks = all;
    } else {
        hw_marks_free(&all);
    }
    return status;
}

hw_status hw_steps_place_card(const hw_photo *photo, bool is_the_card, hw_steps_sought *sought,
                              const hw_earlier_list *known, const hw_limits *limits,
                              hw_marks *marks, hw_warnings *warnings, hw_error *err)
{
    hw_error why = {0};
    hw_status status = hw_steps_check_marks_in_job(marks, photo, known, limits, &why);
    if (status == HW_OK) {
        return HW_OK;
    }
    if (strcmp(why.code, "card-missing") != 0) {
        return hw_fail_as(err, &why);
    }
    status = find_card(photo, is_the_card, sought, marks, warnings, err);
    hw_error overlap = {0};
    if (status == HW_OK) {
        status = hw_steps_check_marks_in_job(marks, photo, known, limits, &overlap);
        if (strcmp(overlap.code, "mark-overlap") == 0) { // the person says that there is wood
            return refuse_missing(hw_photo_facts_of(photo), err);
        }
        status = status == HW_OK ? HW_OK : hw_fail_as(err, &overlap);
    }
    return status;
}
