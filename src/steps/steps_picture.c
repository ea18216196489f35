// steps_picture.c: one picture of a job, from a photo that is read again today.
#include "steps_internal.h"

#include <math.h>
#include <string.h>

static const double usual_distance_mm =
    1500.0; // from where a piece is looked at (common practice, no source)
static const size_t longer_px =
    2000; // of what is drawn: as fine as print and screens show (chosen)
static const double most_px_a_degree =
    59.0;                            // of what is filtered: beyond it nothing is seen (picture.h)
static const size_t around_px = 700; // of a repair and its surround

// Everything of one call.
typedef struct drawing {
    const hw_picture_request *request;
    const hw_limits *limits;
    hw_job *job;
    const hw_event *event;
    hw_steps_seen seen;
    hw_steps_plan *plan;
    hw_showing *out;
} drawing;

// ---- Which photo -------------------------------------------------------------------

static hw_status refuse_photo(const drawing *d, hw_error *err)
{
    const hw_picture_request *request = d->request;
    char subject[40];
    hw_format_text(subject, sizeof subject, "photo %ld", request->photo);
    if (request->photo) {
        return hw_fail(err, HW_ERR_CALL, "photo-unknown", subject,
                       "history lists the photos with their numbers.",
                       "this job has no photo event of that number");
    }
    if (request->view && hw_job_last_photo(d->job, NULL)) {
        return hw_fail(err, HW_ERR_CALL, "view-unknown", request->view,
                       "history lists the photos with their views.",
                       "no photo of this job shows that view");
    }
    return hw_fail(err, HW_ERR_CALL, "photo-none", request->folder,
                   "Add a photo first: huewright photo JOB FILE.", "this job has no photo yet");
}

static size_t patches_in(const hw_marks *marks, const char **first)
{
    size_t count = 0;
    for (size_t i = marks->count; i-- > 0;) {
        if (marks->mark[i].role == HW_ROLE_PATCH) {
            *first = marks->mark[i].name;
            count++;
        }
    }
    return count;
}

// Does it show pixels of the photo, so that an instrument's readings will not do?
static bool has_pixels(hw_showing_kind kind)
{
    return !hw_showing_kind_has_text(kind);
}

// The photo whose repairs can be chosen among: that asked for, or the last one.
static hw_status choose_photo(drawing *d, hw_error *err)
{
    const hw_picture_request *request = d->request;
    if (request->photo) {
        d->event = hw_job_event_numbered(d->job, request->photo);
        d->event = d->event && d->event->kind == HW_EVENT_PHOTO_ADDED ? d->event : NULL;
    } else if (has_pixels(request->kind)) {
        d->event = hw_steps_last_picture(d->job, request->view, request->patch);
    } else {
        d->event = request->patch && !request->view ? hw_job_main_photo(d->job, request->patch)
                                                    : hw_job_last_photo(d->job, request->view);
    }
    if (!d->event && request->patch && hw_job_last_photo(d->job, request->view)) {
        return hw_fail(err, HW_ERR_CALL, "patch-unknown", request->patch,
                       "history lists the parts; names are written as they were marked.",
                       "no photo of this job shows a repair of that name");
    }
    return d->event ? HW_OK : refuse_photo(d, err);
}

// Of a repair, where nothing else was asked for: the photo that advice rests on, or the last one with pixels.
static void take_main_photo(drawing *d)
{
    const hw_event *main = hw_job_main_photo(d->job, d->out->patch);
    if (!d->request->photo && !d->request->view && main &&
        (!main->of.photo.measured || !has_pixels(d->request->kind))) {
        d->event = main;
    }
}

// What advice says is of one photo: another one's picture cannot stand beside it.
static hw_status check_main_photo(const drawing *d, hw_error *err)
{
    const hw_event *main = hw_job_main_photo(d->job, d->out->patch);
    char next[120], subject[40];
    if (!main || main == d->event || (main->of.photo.measured && !d->request->photo)) {
        return HW_OK;
    }
    hw_format_text(subject, sizeof subject, "photo %ld", d->event->number);
    hw_format_text(next, sizeof next, "Leave the photo away, or name photo %ld.", main->number);
    return hw_fail(err, HW_ERR_CALL, "photo-other", subject, next,
                   "advice on %s rests on photo %ld, so that is the one to look ahead from",
                   d->out->patch, main->number);
}

// The repair asked for, or the only one in that photo.
static hw_status choose_patch(drawing *d, hw_error *err)
{
    const hw_marks *marks = &d->event->of.photo.marks;
    const char *patch = d->request->patch, *only = NULL;
    size_t count = patches_in(marks, &only);
    char names[320] = "", next[480];
    for (size_t i = 0; i < marks->count; i++) {
        if (marks->mark[i].role == HW_ROLE_PATCH) {
            hw_steps_add_name(names, sizeof names, marks->mark[i].name);
        }
    }
    hw_format_text(next, sizeof next, "Name one with --patch: %s.", names);
    if (count == 0) {
        return hw_fail(err, HW_ERR_CALL, "patch-none", d->event->of.photo.original,
                       "Name a photo that shows one with --photo, or add one.",
                       "no repair is marked in this photo");
    }
    if (patch && !hw_marks_find(marks, HW_ROLE_PATCH, patch)) {
        return hw_fail(err, HW_ERR_CALL, "patch-unknown", patch, next,
                       "no repair of this name is marked in that photo");
    }
    if (!patch && count > 1) {
        return hw_fail(err, HW_ERR_CALL, "patch-needed", hw_showing_kind_name(d->request->kind),
                       next, "this picture is of one repair, and the photo shows %zu", count);
    }
    hw_copy_text(d->out->patch, sizeof d->out->patch, patch ? patch : only);
    return HW_OK;
}

static const hw_mark *mark_of(const drawing *d)
{
    return hw_marks_find(&d->seen.reading.marks, HW_ROLE_PATCH, d->out->patch);
}

static hw_status check_gap(const drawing *d, hw_error *err)
{
    return hw_comparison_beside(&d->seen.reading.comparisons, d->out->patch)
               ? HW_OK
               : hw_fail(err, HW_ERR_CALL, "target-missing", d->out->patch,
                         "Mark the old wood beside it and add the photo again.",
                         "no old wood is marked to compare it with");
}

// ---- Where it stood before ---------------------------------------------------------

static void find_last(drawing *d)
{
    const hw_logged_gap *gap =
        hw_job_gap_before(d->job, d->event->number, d->out->patch, &d->out->last_photo);
    if (gap) {
        d->out->has_last = true;
        d->out->last = *gap;
    }
}

// ---- Plans -------------------------------------------------------------------------

static hw_status plan_for(drawing *d, const char *patch, hw_error *err)
{
    hw_advise_request request = {
        .folder = d->request->folder, .patch = patch, .shelf_path = d->request->shelf_path};
    return hw_steps_plan_make(d->job, &request, &d->seen, 1, d->limits, &d->plan, err);
}

static bool asks_for_liquid(const hw_picture_request *request)
{
    return request->jar || request->liquid.count > 0;
}

// As `advise` for the whole job; where that cannot be had, or a person asks about a liquid, for the one repair.
static hw_status make_plan(drawing *d, hw_error *err)
{
    hw_error why = {0};
    if (asks_for_liquid(d->request)) {
        return plan_for(d, d->out->patch, err);
    }
    hw_status status = plan_for(d, NULL, &why);
    if (status == HW_OK) {
        return HW_OK;
    }
    return status == HW_ERR_STORAGE || !d->out->patch[0] ? hw_fail_as(err, &why)
                                                         : plan_for(d, d->out->patch, err);
}

// The layer that a person asks about; *count 0: none.
static hw_status asked_layer(const drawing *d, hw_layer *out, size_t *count, hw_error *err)
{
    const hw_picture_request *request = d->request;
    hw_pass_event pass = {.jar = request->jar, .liquid = request->liquid, .passes = 1};
    *count = 0;
    if (!asks_for_liquid(request)) {
        return request->passes ? hw_fail(err, HW_ERR_CALL, "liquid-dyes", "--passes",
                                         "Name the liquid too: --dye red=1/4, or --jar 1.",
                                         "passes of what is not said")
                               : HW_OK;
    }
    hw_status status = hw_steps_take_jar(d->job, &pass, err);
    if (status == HW_OK) {
        status = hw_steps_check_liquid(&pass.liquid, hw_steps_plan_shelf(d->plan), err);
    }
    if (status == HW_OK) {
        int passes = request->passes ? request->passes : hw_tone_rules_default().passes_most;
        *out = (hw_layer){.liquid = pass.liquid, .passes = passes};
        *count = 1;
    }
    return status;
}

static hw_status draw_path(drawing *d, hw_error *err)
{
    hw_layer layer;
    size_t count = 0;
    hw_status status = check_main_photo(d, err);
    if (status == HW_OK) {
        status = make_plan(d, err);
    }
    if (status == HW_OK) {
        status = asked_layer(d, &layer, &count, err);
    }
    return status == HW_OK
               ? hw_steps_path(d->plan, d->out->patch, &layer, count, &d->out->path, err)
               : status;
}

// The way so far and ahead; where nothing is to be laid the way so far, with why.
static hw_status draw_way(drawing *d, hw_error *err)
{
    hw_error why = {0};
    hw_status status = draw_path(d, &why);
    const hw_comparison *gap = hw_comparison_beside(&d->seen.reading.comparisons, d->out->patch);
    if (status == HW_OK || strcmp(why.code, "path-none") != 0 || !gap) {
        return status == HW_OK ? HW_OK : hw_fail_as(err, &why);
    }
    return hw_steps_way(d->job, d->event->number, gap, why.what, &d->out->path, err);
}

// ---- Drawings of one repair --------------------------------------------------------

static hw_status draw_rulers(drawing *d, hw_error *err)
{
    find_last(d);
    return check_gap(d, err);
}

static hw_status draw_looks(drawing *d, hw_error *err)
{
    hw_picture around = {0};
    const hw_mark *mark = mark_of(d);
    hw_frame frame = hw_steps_frame_around(mark, &d->seen.reading.photo);
    hw_status status = draw_path(d, err);
    if (status == HW_OK) {
        status = hw_picture_make(d->seen.pixels, &d->seen.reading.light, &frame, around_px,
                                 d->request->progress, &around, err);
    }
    if (status == HW_OK) {
        status = hw_steps_looks(&around, mark, &d->out->path, &d->out->looks, err);
    }
    hw_picture_free(&around);
    return status;
}

static const hw_seam *longest_of(const hw_comparisons *all, const char *patch)
{
    const hw_seam *longest = NULL;
    for (size_t i = 0; i < all->seam_count; i++) {
        const hw_seam *one = &all->seam[i];
        bool own = strcmp(one->patch, patch) == 0 && one->line_count > 1;
        longest = own && (!longest || one->length_px > longest->length_px) ? one : longest;
    }
    return longest;
}

static void set_gap(const hw_comparison *item, hw_seam_piece *out)
{
    out->gap = item->gap;
    out->de00_low = item->de00_low;
    out->de00_high = item->de00_high;
    out->direction_count = item->direction_count;
    memcpy(out->direction, item->direction, sizeof item->direction);
    out->verdict = item->verdict;
}

// Marks that do not meet have no joint that was compared: then the longest side of the repair, grown to its joint, along
// which old wood is marked, with the gap to that wood. *found false: there is none that it is compared with.
static hw_status side_of(const hw_steps_seen *seen, const hw_mark *mark, hw_seam *out, bool *found,
                         hw_error *err)
{
    const double reach = 0.05; // of the photo: as far off as old wood is marked (chosen)
    const hw_reading *reading = &seen->reading;
    const hw_comparisons *all = &reading->comparisons;
    hw_frame frame = hw_steps_frame_around(mark, &reading->photo);
    double longer = fmax((double)reading->photo.width_px, (double)reading->photo.height_px);
    hw_picture around = {0};
    hw_mark whole = {0};
    *found = false;
    hw_status status =
        hw_picture_make(seen->pixels, &reading->light, &frame, around_px, NULL, &around, err);
    if (status == HW_OK) {
        status = hw_steps_reach(&around, mark, &whole, err);
    }
    if (status == HW_OK && hw_seam_facing(&whole, &reading->marks, reach * longer, out)) {
        for (size_t i = 0; i < all->count && !*found; i++) {
            const hw_comparison *item = &all->item[i];
            *found = strcmp(item->patch, mark->name) == 0 && strcmp(item->target, out->target) == 0;
            if (*found) {
                set_gap(item, &out->piece[0]);
            }
        }
    }
    hw_mark_free(&whole);
    hw_picture_free(&around);
    return status;
}

hw_status hw_steps_strip(const hw_steps_seen *seen, const char *patch, hw_seam *seam, hw_shown *out,
                         hw_error *err)
{
    const double share = 0.12,
                 within = 0.9; // of the joint's length, of the repair's depth (chosen)
    const hw_mark *mark = hw_marks_find(&seen->reading.marks, HW_ROLE_PATCH, patch);
    const hw_seam *longest = longest_of(&seen->reading.comparisons, patch);
    bool found = longest != NULL;
    hw_picture strip = {0};
    hw_status status = HW_OK;
    if (longest) {
        *seam = *longest;
    } else if (mark) {
        status = side_of(seen, mark, seam, &found, err);
    }
    if (status == HW_OK && !found) {
        return hw_fail(
            err, HW_ERR_CALL, "seam-none", patch,
            "Mark the repair and the old wood that it meets in one photo.",
            "no old wood lies beside it in that photo, so there is no joint to be shown");
    }
    double depth =
        found ? fmin(share * seam->length_px, within * hw_mark_area(mark) / seam->length_px) : 0.0;
    if (status == HW_OK) {
        status = hw_picture_strip(seen->pixels, &seen->reading.light, seam, fmax(depth, 6.0),
                                  2 * around_px, &strip, err);
    }
    if (status == HW_OK) {
        status = hw_picture_show(&strip, out, err);
    }
    hw_picture_free(&strip);
    return status;
}

static hw_status draw_seam(drawing *d, hw_error *err)
{
    return hw_steps_strip(&d->seen, d->out->patch, &d->out->seam, &d->out->picture, err);
}

// ---- Drawings of a view ------------------------------------------------------------

static hw_status make_whole(const drawing *d, size_t longer, hw_picture *out, hw_error *err)
{
    return hw_picture_make(d->seen.pixels, &d->seen.reading.light, NULL, longer,
                           d->request->progress, out, err);
}

static hw_status show_marked(drawing *d, const hw_picture *picture, hw_error *err)
{
    hw_status status = hw_picture_show(picture, &d->out->picture, err);
    return status == HW_OK ? hw_marks_copy(&d->seen.reading.marks, &d->out->marks, err) : status;
}

static hw_status draw_corrected(drawing *d, hw_error *err)
{
    hw_picture whole = {0};
    hw_status status = make_whole(d, longer_px, &whole, err);
    if (status == HW_OK) {
        status = show_marked(d, &whole, err);
    }
    hw_format_text(d->out->words, sizeof d->out->words, "%s: put right by its grey card",
                   d->out->source);
    hw_picture_free(&whole);
    return status;
}

// What is planned for one repair, and where it reaches; passes 0: it is left alone.
typedef struct planned {
    hw_mark reach;
    double density[3];
    int passes;
} planned;

static hw_status plan_one(drawing *d, const hw_mark *mark, const hw_picture *whole, planned *out,
                          hw_text *words, bool *guess, hw_error *err)
{
    hw_path path = {0};
    hw_error why = {0};
    hw_status status = hw_steps_path(d->plan, mark->name, NULL, 0, &path, &why);
    if (status != HW_OK) {
        return status == HW_ERR_STORAGE ? hw_fail_as(err, &why) : HW_OK;
    }
    const hw_foreseen *end = &path.step[path.count - 1];
    status = hw_steps_reach(whole, mark, &out->reach, err);
    memcpy(out->density, end->density, sizeof out->density);
    out->passes = end->passes;
    *guess = *guess || path.guess;
    hw_text_add(words, "%s%s: %d pass%s of %s.", words->length ? " " : "", mark->name, end->passes,
                end->passes == 1 ? "" : "es", path.words);
    hw_path_free(&path);
    return status;
}

// Lays what is planned for each repair of the view on it: all joints are looked for first, as they are now.
static hw_status lay_all(drawing *d, hw_picture *whole, size_t *laid, bool *guess, hw_error *err)
{
    const hw_marks *marks = &d->seen.reading.marks;
    hw_text words = hw_text_in(d->out->note, sizeof d->out->note);
    planned *all = hw_alloc_array(marks->count + 1, sizeof *all);
    hw_status status = all ? HW_OK : hw_fail_memory(err, "laying the plans");
    for (size_t i = 0; i < marks->count && status == HW_OK; i++) {
        if (marks->mark[i].role == HW_ROLE_PATCH) {
            status = plan_one(d, &marks->mark[i], whole, &all[i], &words, guess, err);
        }
    }
    for (size_t i = 0; all && i < marks->count; i++) {
        if (status == HW_OK && all[i].passes > 0) {
            hw_picture_lay(whole, &all[i].reach, all[i].density);
            ++*laid;
        }
        hw_mark_free(&all[i].reach);
    }
    hw_free(all);
    return status;
}

static hw_status draw_piece(drawing *d, hw_error *err)
{
    hw_picture whole = {0};
    size_t laid = 0;
    bool guess = false;
    hw_status status = make_whole(d, longer_px / 2, &whole, err);
    if (status == HW_OK) {
        status = hw_picture_show(&whole, &d->out->picture, err);
    }
    if (status == HW_OK) {
        status = make_plan(d, err);
    }
    if (status == HW_OK) {
        status = lay_all(d, &whole, &laid, &guess, err);
    }
    if (status == HW_OK) {
        status = hw_picture_show(&whole, &d->out->second, err);
    }
    hw_format_text(d->out->words, sizeof d->out->words, "As it is now: %s", d->out->source);
    hw_format_text(d->out->second_words, sizeof d->out->second_words, "%s%s",
                   laid == 0 ? "Nothing is to be laid now: it stays as it is"
                             : "After all that is planned: the middle of the forecast",
                   guess ? ". A GUESS: it rests on dyes not yet seen on your own work" : "");
    hw_picture_free(&whole);
    return status;
}

// The old wood of that repair or (NULL) of all: the mean of linear light of its targets, each with the same weight.
static bool old_wood_of(const hw_reading *reading, const char *patch, hw_lab *out, double *spread)
{
    const hw_comparison *own = patch ? hw_comparison_beside(&reading->comparisons, patch) : NULL;
    if (own) {
        *out = own->target_lab;
        *spread = own->spread;
        return true;
    }
    hw_xyz sum = {0.0, 0.0, 0.0};
    double count = 0.0, spreads = 0.0, read = 0.0;
    for (size_t i = 0; i < reading->sample_count; i++) {
        const hw_sample *one = &reading->samples[i];
        if (one->role == HW_ROLE_TARGET) {
            sum = (hw_xyz){sum.X + one->xyz.X, sum.Y + one->xyz.Y, sum.Z + one->xyz.Z};
            count += 1.0;
        }
    }
    for (size_t i = 0; i < reading->comparisons.count; i++) {
        const hw_comparison *one = &reading->comparisons.item[i];
        if (strcmp(one->target, HW_BESIDE) == 0) {
            spreads += one->spread;
            read += 1.0;
        }
    }
    *spread = read > 0.0 ? spreads / read : (double)NAN;
    if (count > 0.0) {
        *out = hw_lab_from_xyz((hw_xyz){sum.X / count, sum.Y / count, sum.Z / count}, hw_white_d50);
    }
    return count > 0.0;
}

// Pixels a degree of the whole photo from there; 0 with the reason where the card does not tell.
static double sight_of(const drawing *d, double distance_mm)
{
    hw_job_settings settings = hw_job_settings_now(d->job);
    const char *why_not;
    double mm = hw_steps_pixel_mm(&d->seen.reading, settings.card_mm, &why_not);
    bool said = settings.card_mm[0] > 0.0;
    hw_copy_text(d->out->why_not, sizeof d->out->why_not,
                 said ? why_not
                      : "the grey card's size was not said (set JOB --card-size 86x54mm)");
    return why_not[0] ? 0.0 : hw_sight_px(mm, distance_mm);
}

static hw_status draw_map(drawing *d, hw_error *err)
{
    hw_showing *out = d->out;
    const hw_photo_facts *facts = &d->seen.reading.photo;
    double distance = d->request->distance_mm > 0.0 ? d->request->distance_mm : usual_distance_mm;
    double longer = fmax((double)facts->width_px, (double)facts->height_px);
    double fine = (double)longer_px;
    hw_picture whole = {0};
    hw_lab old_wood;
    if (!old_wood_of(&d->seen.reading, d->request->patch, &old_wood, &out->spread)) {
        return hw_fail(err, HW_ERR_CALL, "target-missing", d->event->of.photo.original,
                       "Mark the old wood and add the photo again.",
                       "no old wood is marked to compare the piece with");
    }
    double full = sight_of(d, distance);
    bool seen = full > 0.0;
    out->distance_mm = seen ? distance : (double)NAN;
    if (seen) { // what the eye cannot tell apart need not be worked on
        fine = fmin(fine, fmax(floor(longer * most_px_a_degree / full), 8.0));
    }
    hw_status status = make_whole(d, (size_t)fine, &whole, err);
    if (status == HW_OK) { // as it is, under the map
        status = show_marked(d, &whole, err);
    }
    if (status == HW_OK && seen) {
        status = hw_picture_see(&whole, full / whole.scale, d->request->progress, err);
    }
    if (status == HW_OK) {
        status = hw_picture_map(&whole, old_wood, d->request->progress, &out->map, err);
    }
    hw_picture_free(&whole);
    return status;
}

// ---- Before and after --------------------------------------------------------------

static hw_status draw_before_after(drawing *d, hw_error *err)
{
    hw_before_after both = {0};
    hw_status status = hw_steps_before_after(d->job, d->event, &d->seen, 2 * around_px,
                                             d->request->progress, d->limits, &both, err);
    if (status == HW_OK && both.first == both.last) {
        status = hw_fail(err, HW_ERR_CALL, "before-after-one", d->out->source,
                         "Add a photo once something was laid, or name a later one with --photo.",
                         "there is no earlier photo of that view under its lamp and from its side");
    }
    if (status == HW_OK) {
        hw_format_text(d->out->words, sizeof d->out->words, "Before: photo %ld", both.first);
        hw_format_text(d->out->second_words, sizeof d->out->second_words, "After: %s",
                       d->out->source);
        hw_copy_text(d->out->note, sizeof d->out->note, both.same);
        d->out->picture = both.before;
        d->out->second = both.after;
        d->out->marks = both.first_marks;
        d->out->second_marks = both.last_marks;
    } else {
        hw_before_after_free(&both);
    }
    return status;
}

// ---- The step ----------------------------------------------------------------------

static hw_status (*const draw[HW_SHOW_COUNT])(drawing *d, hw_error *err) = {
    [HW_SHOW_CORRECTED] = draw_corrected,
    [HW_SHOW_SWATCHES] = draw_rulers,
    [HW_SHOW_RULERS] = draw_rulers,
    [HW_SHOW_SEAM] = draw_seam,
    [HW_SHOW_PATH] = draw_way,
    [HW_SHOW_LOOKS] = draw_looks,
    [HW_SHOW_PIECE] = draw_piece,
    [HW_SHOW_BEFORE_AFTER] = draw_before_after,
    [HW_SHOW_MAP] = draw_map,
};

// What was asked for and has no meaning for this picture.
static hw_status check_request(const hw_picture_request *request, hw_error *err)
{
    hw_showing_kind kind = request->kind;
    bool ahead = kind == HW_SHOW_PATH || kind == HW_SHOW_LOOKS;
    bool liquid = request->liquid.count > 0 || request->jar || request->passes;
    bool of_view = !hw_showing_kind_is_of_patch(kind) && kind != HW_SHOW_MAP;
    const char *what = liquid && !ahead ? "a liquid and its passes"
                       : request->distance_mm > 0.0 && kind != HW_SHOW_MAP ? "a distance"
                       : request->patch && of_view                         ? "one repair"
                       : request->view && request->photo                   ? "a view beside a photo"
                                                                           : NULL;
    if (what) {
        return hw_fail(err, HW_ERR_CALL, "picture-option", hw_showing_kind_name(kind),
                       "Leave that away, or choose another picture: huewright help picture.",
                       "%s has no meaning for this picture", what);
    }
    return hw_steps_check_distance(request->distance_mm, err);
}

static void say_source(drawing *d)
{
    const hw_photo_event *photo = &d->event->of.photo;
    hw_format_text(d->out->source, sizeof d->out->source, "%s %ld, %s%s%s",
                   photo->measured ? "reading" : "photo", d->event->number,
                   photo->view[0] ? photo->view : "front", photo->lamp[0] ? ", " : "", photo->lamp);
    d->out->photo = d->event->number;
    hw_copy_text(d->out->view, sizeof d->out->view, photo->view);
}

static hw_status make(drawing *d, hw_error *err)
{
    hw_status status = check_request(d->request, err);
    if (status == HW_OK) {
        status = hw_job_open(d->request->folder, d->limits, &d->job, err);
    }
    if (status == HW_OK) {
        hw_warnings_append(&d->out->warnings, hw_job_warnings(d->job));
        status = choose_photo(d, err);
    }
    if (status == HW_OK && hw_showing_kind_is_of_patch(d->request->kind)) {
        status = choose_patch(d, err);
        take_main_photo(d);
    }
    if (status == HW_OK && d->request->kind == HW_SHOW_BEFORE_AFTER && !d->request->photo) {
        d->event = hw_steps_last_of_view(d->job, d->event);
    }
    if (status == HW_OK) {
        say_source(d);
        status = has_pixels(d->request->kind)
                     ? hw_steps_see(d->job, d->event, d->limits, &d->seen, err)
                     : hw_steps_see_any(d->job, d->event, d->limits, &d->seen, err);
    }
    return status == HW_OK ? draw[d->request->kind](d, err) : status;
}

hw_status hw_steps_picture(const hw_picture_request *request, const hw_limits *limits,
                           hw_showing *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_showing showing = {.kind = request->kind, .distance_mm = (double)NAN, .spread = (double)NAN};
    drawing d = {.request = request, .limits = &bounds, .out = &showing};
    if ((unsigned)request->kind >= HW_SHOW_COUNT) {
        return hw_fail(err, HW_ERR_CALL, "picture-unknown", "the picture", "Name one of them.",
                       "there is no such picture");
    }
    hw_status status = make(&d, err);
    hw_steps_plan_free(d.plan);
    if (status == HW_OK) {
        showing.reading = d.seen.reading;
        d.seen.reading = (hw_reading){0};
        *out = showing;
    } else {
        hw_showing_free(&showing);
    }
    hw_steps_seen_free(&d.seen);
    hw_job_free(d.job);
    return status;
}
