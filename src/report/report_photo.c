// report_photo.c: drawings whose middle is a picture: a photo, two of a kind, a joint laid straight, and what a repair will
// look like. Words stand above each picture, so that on a phone they are read before it is seen.
#include "report_internal.h"

#include <ctype.h>
#include <math.h>

static const double margin = 8.0;
static const double highest =
    480.0; // of a picture, units: a phone's screen shows all of it (chosen)
static const hw_letters plain = {HW_DRAWING_PLAIN, false, NULL},
                        strong = {HW_DRAWING_PLAIN, true, NULL},
                        small = {HW_DRAWING_SMALL, false, hw_draw_soft};

void hw_report_add_size(hw_text *text, double de00, double low, double high)
{
    hw_report_add_gap_range(text, de00, low, high);
    if (!isfinite(de00)) {
        return;
    }
    const char *words = hw_size_words(de00);
    size_t sentence = strcspn(words, ".");
    hw_text_add(text, ", %c%.*s", tolower((unsigned char)words[0]), (int)sentence - 1, words + 1);
}

// What is off by a difference, as a finisher says it; "" where nothing has a name.
static void add_ways(hw_text *text, const hw_difference *off)
{
    hw_comparison one = {.gap = *off};
    one.direction_count = hw_directions_of(off, one.direction);
    hw_report_add_directions(text, &one);
}

static hw_status finish_or_drop(hw_status status, hw_drawing *drawing, const char *title,
                                const hw_text *desc, char **out, hw_error *err)
{
    if (status == HW_OK && !desc->failed) {
        return hw_draw_finish(drawing, title, desc->bytes ? desc->bytes : title, out, err);
    }
    hw_text_free(&drawing->body);
    return status != HW_OK ? status : hw_fail_memory(err, "drawing");
}

// ---- One picture -------------------------------------------------------------------

// In the middle of a column, not higher than a screen, on a neutral mid grey, so that neither white paper nor a dark screen
// around it bends what the eye sees (report_colour.c); moves down below it.
static hw_status draw_in_column(hw_drawing *drawing, double x, double width, const hw_shown *shown,
                                const hw_marks *marks, hw_error *err)
{
    const double rim = 7.0; // of grey (chosen: a phone leaves no more)
    double narrower = width - 2.0 * rim, height = hw_draw_height(shown, narrower);
    if (height > highest) {
        narrower *= highest / height;
        height = highest;
    }
    hw_area area = {x + (width - narrower) / 2.0, drawing->y + rim, narrower, height};
    hw_draw_fill(drawing, (hw_area){x, drawing->y, width, height + 2.0 * rim}, hw_draw_grey);
    hw_status status = hw_draw_shown(drawing, area, shown, marks, err);
    drawing->y += height + 2.0 * rim + 4.0;
    return status;
}

static bool any_marks(const hw_marks *marks)
{
    return marks && marks->count > 0;
}

static void tell_marks(hw_drawing *drawing)
{
    hw_draw_words(drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, small, hw_draw_marks_told);
}

hw_status hw_report_photo_svg(const hw_shown *photo, const hw_marks *marks, const char *words,
                              char **out, hw_error *err)
{
    hw_drawing drawing = {0};
    hw_text desc = {0};
    const char *title = words && words[0] ? words : "A photo";
    hw_text_add(&desc, "A photo%s.", any_marks(marks) ? ", with its marks drawn in and named" : "");
    if (words && words[0]) {
        hw_draw_heading(&drawing, words);
    }
    hw_status status = draw_in_column(&drawing, 0.0, HW_DRAWING_WIDTH, photo, marks, err);
    if (any_marks(marks)) {
        tell_marks(&drawing);
    }
    status = finish_or_drop(status, &drawing, title, &desc, out, err);
    hw_text_free(&desc);
    return status;
}

// ---- Two of a kind -----------------------------------------------------------------

// Higher than wide: both fit beside each other.
static bool is_upright(const hw_shown *shown)
{
    return shown && shown->rgb && shown->height > shown->width;
}

static hw_status draw_one_of_two(hw_drawing *drawing, double x, double width, const hw_shown *shown,
                                 const hw_marks *marks, const char *words, hw_error *err)
{
    hw_draw_words(drawing, x > 0.0 ? x : margin, width - (x > 0.0 ? 0.0 : 2.0 * margin), strong,
                  words ? words : "");
    drawing->y += 3.0;
    return draw_in_column(drawing, x, width, shown, marks, err);
}

hw_status hw_report_two_svg(const hw_two *two, char **out, hw_error *err)
{
    static const hw_shown nothing = {0};
    const hw_shown *first = two->first ? two->first : &nothing,
                   *second = two->second ? two->second : &nothing;
    const char *first_words = two->first_words ? two->first_words : "first",
               *second_words = two->second_words ? two->second_words : "second";
    bool beside = is_upright(first) && is_upright(second);
    double width = beside ? (HW_DRAWING_WIDTH - 3.0 * margin) / 2.0 : HW_DRAWING_WIDTH;
    hw_drawing drawing = {.y = 6.0};
    hw_text desc = {0};
    hw_text_add(&desc, "Two pictures of one thing: %s; %s.", first_words, second_words);
    double left = beside ? margin : 0.0, right = beside ? 2.0 * margin + width : 0.0;
    // Words of different lengths: both pictures begin at one height.
    double words_height = beside ? fmax(hw_draw_words_height(width, strong, first_words),
                                        hw_draw_words_height(width, strong, second_words))
                                 : 0.0;
    double top = drawing.y;
    drawing.y += fmax(0.0, words_height - hw_draw_words_height(width, strong, first_words));
    hw_status status =
        draw_one_of_two(&drawing, left, width, first, two->first_marks, first_words, err);
    double foot = drawing.y;
    if (beside) {
        drawing.y =
            top + fmax(0.0, words_height - hw_draw_words_height(width, strong, second_words));
    } else {
        drawing.y += 4.0;
    }
    if (status == HW_OK && second->rgb) {
        status =
            draw_one_of_two(&drawing, right, width, second, two->second_marks, second_words, err);
    }
    drawing.y = fmax(drawing.y, foot);
    if (any_marks(two->first_marks) || any_marks(two->second_marks)) {
        tell_marks(&drawing);
    }
    if (two->note && two->note[0]) {
        hw_draw_words(&drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, small, two->note);
    }
    status = finish_or_drop(status, &drawing, "Two pictures of one thing", &desc, out, err);
    hw_text_free(&desc);
    return status;
}

// ---- The joint ---------------------------------------------------------------------

// "A, left half: too light: 4.2 (3.0 to 5.4), clear difference"
static void add_piece(hw_text *text, const hw_seam_piece *piece, char letter, bool alone)
{
    if (alone) {
        hw_text_add(text, "All along it: ");
    } else {
        hw_text_add(text, "%c, %s: ", letter, hw_stretch_words(&piece->stretch));
    }
    hw_comparison one = {.gap = piece->gap, .direction_count = piece->direction_count};
    memcpy(one.direction, piece->direction, sizeof one.direction);
    hw_report_add_directions(text, &one);
    hw_text_add(text, "%s", piece->direction_count ? ": " : "off by ");
    hw_report_add_size(text, piece->gap.de00, piece->de00_low, piece->de00_high);
}

static double share(double value)
{
    return isfinite(value) ? fmin(fmax(value, 0.0), 1.0) : 0.0;
}

// A brace under each piece of the joint, with its letter.
static void draw_pieces(hw_drawing *drawing, const hw_seam *seam, size_t count)
{
    double y = drawing->y + 3.0;
    for (size_t i = 0; i < count; i++) {
        double from = HW_DRAWING_WIDTH * share(seam->piece[i].stretch.from) + 2.0,
               to = HW_DRAWING_WIDTH * share(seam->piece[i].stretch.to) - 2.0;
        char letter[2] = {(char)('A' + (char)i), 0};
        hw_draw_stroke(drawing, from, y + 4.0, to, y + 4.0, hw_draw_ink, 1.6);
        hw_draw_stroke(drawing, from, y, from, y + 4.8, hw_draw_ink, 1.6);
        hw_draw_stroke(drawing, to, y, to, y + 4.8, hw_draw_ink, 1.6);
        hw_draw_line_of(drawing, (from + to) / 2.0, y + 18.0, HW_SIDE_MIDDLE, strong, letter);
    }
    drawing->y = y + 24.0;
}

hw_status hw_report_seam_svg(const hw_shown *strip, const hw_seam *seam, char **out, hw_error *err)
{
    // A long joint would be a thread on a phone: it is drawn wider across than it is (chosen).
    const double least = 72.0, most = 200.0;
    size_t count = seam->count < HW_SEAM_PIECES ? seam->count : HW_SEAM_PIECES;
    hw_drawing drawing = {0};
    hw_text title = {0}, desc = {0};
    hw_text_add(&title, "%s: the joint with %s, laid straight", seam->patch,
                seam->target[0] ? seam->target : "the old wood");
    hw_text_add(&desc, "The repair lies above the joint, the old wood below it.");
    hw_draw_heading(&drawing, hw_text_words(&title));
    hw_draw_words(&drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, strong, "Repair");
    double height = fmin(fmax(hw_draw_height(strip, HW_DRAWING_WIDTH), least), most);
    hw_status status = hw_draw_shown(&drawing, (hw_area){0.0, drawing.y, HW_DRAWING_WIDTH, height},
                                     strip, NULL, err);
    drawing.y += height;
    hw_draw_words(&drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, strong, "Old wood");
    if (count > 1) {
        draw_pieces(&drawing, seam, count);
    }
    for (size_t i = 0; i < count; i++) {
        hw_text words = {0};
        add_piece(&words, &seam->piece[i], (char)('A' + (char)i), count == 1);
        hw_draw_paragraph(&drawing, hw_text_words(&words));
        hw_text_add(&desc, " %s.", hw_text_words(&words));
        drawing.body.failed |= words.failed;
        hw_text_free(&words);
    }
    if (count > 0 && seam->piece[0].stretch.upright) {
        hw_draw_words(&drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, small,
                      "The joint runs up and down: its upper end is on the left here.");
    }
    drawing.body.failed |= title.failed;
    status = finish_or_drop(status, &drawing, hw_text_words(&title), &desc, out, err);
    hw_text_free(&title);
    hw_text_free(&desc);
    return status;
}

// ---- Looks -------------------------------------------------------------------------

void hw_path_free(hw_path *path)
{
    if (path) {
        hw_free(path->step);
        *path = (hw_path){0};
    }
}

void hw_looks_free(hw_looks *looks)
{
    if (!looks) {
        return;
    }
    for (size_t i = 0; i + 1 < looks->path.count; i++) {
        if (looks->weak) {
            hw_shown_free(&looks->weak[i]);
        }
        if (looks->strong) {
            hw_shown_free(&looks->strong[i]);
        }
    }
    hw_free(looks->weak);
    hw_free(looks->strong);
    hw_shown_free(&looks->now);
    hw_path_free(&looks->path);
    *looks = (hw_looks){0};
}

void hw_report_add_path_words(hw_text *text, const hw_path *path)
{
    if (path->none[0]) {
        size_t length = strlen(path->none);
        hw_text_add(text, "%c", toupper((unsigned char)path->none[0]));
        hw_report_add_clean(text, path->none + 1);
        hw_text_add(text, "%s", path->none[length - 1] == '.' ? "" : ".");
        return;
    }
    hw_text_add(text, "%s ", path->asked ? "As asked, not the advice: laying" : "Laying");
    hw_report_add_clean(text, path->words[0] ? path->words : "nothing");
    hw_text_add(text, ".");
    if (path->guess) {
        hw_text_add(text, " A GUESS: it rests on a dye not yet seen on your own work.");
    }
}

// "If it takes weakly, the worse case: 2.4 left, too light: visible side by side"
static void add_end(hw_text *text, const char *end, bool worse, hw_lab aim, hw_lab lab)
{
    hw_difference off = hw_difference_of(aim, lab);
    char number[32];
    hw_text_add(text, "%s, the %s case: ", end, worse ? "worse" : "better");
    if (!isfinite(off.de00)) {
        hw_text_add(text, "not known");
        return;
    }
    const char *words = hw_size_words(off.de00);
    hw_report_number(number, sizeof number, off.de00, 1.0);
    hw_text_add(text, "%s left, ", number);
    size_t before = text->length;
    if (off.de00 > 1.0) { // what most people will not see has no direction worth a word
        add_ways(text, &off);
    }
    hw_text_add(text, "%s%c%.*s", text->length > before ? ": " : "",
                tolower((unsigned char)words[0]), (int)strcspn(words, ".") - 1, words + 1);
}

// One case: its picture, and below it what it says.
static hw_status draw_case(hw_drawing *drawing, double x, double width, const hw_shown *shown,
                           const char *words, hw_error *err)
{
    hw_status status = draw_in_column(drawing, x, width, shown, NULL, err);
    hw_draw_words(drawing, x + 2.0, width - 4.0, plain, words);
    drawing->y += 6.0;
    return status;
}

// Both cases after so many passes: beside each other, or one above the other where the picture is a strip.
static hw_status draw_cases(hw_drawing *drawing, const hw_looks *looks, size_t index, bool beside,
                            hw_text *desc, hw_error *err)
{
    static const hw_shown nothing = {0};
    const hw_foreseen *step = &looks->path.step[index];
    double width =
        beside ? (HW_DRAWING_WIDTH - 3.0 * margin) / 2.0 : HW_DRAWING_WIDTH - 2.0 * margin;
    hw_lab aim = looks->path.gap.target_lab;
    hw_lab least = hw_report_weak_end(&looks->path, index),
           most = hw_report_strong_end(&looks->path, index);
    bool most_is_worse = hw_ciede2000(aim, most) > hw_ciede2000(aim, least);
    char passes[32], heading[64];
    hw_text told = {0};
    hw_report_passes(passes, sizeof passes, step->passes);
    hw_format_text(heading, sizeof heading, "After %s%s", passes,
                   looks->path.guess ? ", a guess" : "");
    hw_report_add_left(&told, step, "; ");
    drawing->y += 4.0;
    hw_draw_stroke(drawing, margin, drawing->y, HW_DRAWING_WIDTH - margin, drawing->y,
                   hw_draw_faint, 1.0);
    hw_draw_heading(drawing, heading);
    hw_draw_words(drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, plain, hw_text_words(&told));
    drawing->y += 4.0;
    hw_text first = {0}, second = {0};
    add_end(&first, "If it takes weakly", !most_is_worse, aim, least);
    add_end(&second, "If it takes strongly", most_is_worse, aim, most);
    double top = drawing->y;
    hw_status status =
        draw_case(drawing, margin, width, looks->weak ? &looks->weak[index - 1] : &nothing,
                  hw_text_words(&first), err);
    double foot = drawing->y;
    drawing->y = beside ? top : foot;
    if (status == HW_OK) {
        status = draw_case(drawing, beside ? 2.0 * margin + width : margin, width,
                           looks->strong ? &looks->strong[index - 1] : &nothing,
                           hw_text_words(&second), err);
    }
    drawing->y = fmax(drawing->y, foot);
    if (step->passes == looks->path.look_after) {
        hw_draw_words(drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, strong,
                      hw_report_look_here);
        hw_text_add(desc, " %s", hw_report_look_here);
    }
    hw_text_add(desc, " %s: %s. %s. %s.", heading, hw_text_words(&told), hw_text_words(&first),
                hw_text_words(&second));
    drawing->body.failed |= first.failed || second.failed || told.failed;
    hw_text_free(&first);
    hw_text_free(&second);
    hw_text_free(&told);
    return status;
}

// As it is, with what is laid beside it.
static hw_status draw_now(hw_drawing *drawing, const hw_looks *looks, bool beside, hw_error *err)
{
    double width =
        beside ? (HW_DRAWING_WIDTH - 3.0 * margin) / 2.0 : HW_DRAWING_WIDTH - 2.0 * margin;
    const hw_comparison *gap = &looks->path.gap;
    hw_text now = {0}, laid = {0};
    hw_text_add(&now, "Now: ");
    hw_report_add_size(&now, gap->gap.de00, gap->de00_low, gap->de00_high);
    hw_report_add_path_words(&laid, &looks->path);
    double top = drawing->y;
    hw_status status = draw_case(drawing, margin, width, &looks->now, hw_text_words(&now), err);
    double foot = drawing->y;
    drawing->y = beside ? top : foot;
    hw_draw_words(drawing, beside ? 2.0 * margin + width : margin, width, plain,
                  hw_text_words(&laid));
    drawing->y = fmax(drawing->y, foot);
    drawing->body.failed |= now.failed || laid.failed;
    hw_text_free(&now);
    hw_text_free(&laid);
    return status;
}

hw_status hw_report_looks_svg(const hw_looks *looks, char **out, hw_error *err)
{
    const double strip_from =
        2.6; // times as wide as high (chosen): two beside each other are threads
    bool beside = !((double)looks->now.width > strip_from * (double)looks->now.height);
    hw_drawing drawing = {0};
    hw_text title = {0}, desc = {0};
    hw_text_add(&title, "%s: what it will look like", looks->path.gap.patch);
    hw_text_add(&desc,
                "As it is now, then after each number of passes, taken weakly and taken strongly.");
    hw_draw_heading(&drawing, hw_text_words(&title));
    hw_status status = draw_now(&drawing, looks, beside, err);
    for (size_t i = 1; i < looks->path.count && status == HW_OK; i++) {
        status = draw_cases(&drawing, looks, i, beside, &desc, err);
    }
    hw_draw_words(&drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, small,
                  "Weakly and strongly are the ends of what 9 of 10 such passes do. A screen shows "
                  "colours only nearly: the words count.");
    drawing.body.failed |= title.failed;
    status = finish_or_drop(status, &drawing, hw_text_words(&title), &desc, out, err);
    hw_text_free(&title);
    hw_text_free(&desc);
    return status;
}
