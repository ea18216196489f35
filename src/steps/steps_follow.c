// steps_follow.c: the marks of a view's last photo, followed to the next one. Where the wood is not surely
// recognised nothing is read: the marks are written to a file as they may lie, for the person to look at, never over
// one that a person edited.
#include "steps_internal.h"

#include "huewright/report.h"

#include <math.h>
#include <string.h>

// ---- A file to edit ----------------------------------------------------------------

static bool file_holds(const char *path, const char *text)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    bool same = hw_file_read(path, strlen(text), &bytes, &count, NULL) == HW_OK &&
                count == strlen(text) && memcmp(bytes, text, count) == 0;
    hw_free(bytes);
    return same;
}

// Writes the text into FOLDER/marks-to-edit.json, or -2, -3 ... where that is a file which a
// person may have edited. The path goes to `path`.
static hw_status write_marks_to_edit(const char *folder, const char *text, hw_text *path,
                                     hw_error *err)
{
    const int most = 999;
    for (int number = 1; number <= most; number++) {
        path->length = 0;
        hw_text_add(path, "%s/marks-to-edit", folder);
        if (number > 1) {
            hw_text_add(path, "-%d", number);
        }
        hw_text_add(path, ".json");
        if (path->failed) {
            return hw_fail_memory(err, "writing the marks to edit");
        }
        if (file_holds(path->bytes, text)) {
            return HW_OK;
        }
        if (!hw_file_exists(path->bytes)) {
            return hw_file_replace(path->bytes, text, strlen(text), err);
        }
    }
    return hw_fail(err, HW_ERR_STORAGE, "marks-to-edit-many", folder,
                   "Remove the marks-to-edit files that you do not need.",
                   "there are over %d files of marks to edit", most);
}

// ---- A proposal --------------------------------------------------------------------

// The old marks, drawn to the new picture's size where that differs: a start for the person.
static void scale_mark(hw_mark *mark, const hw_marks *from, const hw_photo_facts *to)
{
    // (Old logs do not say how large the picture was.)
    double x = from->width_px ? (double)to->width_px / (double)from->width_px : 1.0;
    double y = from->height_px ? (double)to->height_px / (double)from->height_px : 1.0;
    for (size_t k = 0; k < mark->point_count; k++) {
        mark->points[k].x *= x;
        mark->points[k].y *= y;
    }
}

// The old marks: where they may lie now, or as they lay. A person looks at each, so none says that it was found.
static hw_status propose(const hw_marks *old, const hw_carried_marks *carried,
                         const hw_photo_facts *facts, hw_marks *out, hw_error *err)
{
    size_t taken = 0;
    hw_status status = HW_OK;
    for (size_t i = 0; i < old->count && status == HW_OK; i++) {
        hw_fate fate = carried->each[i].fate;
        if (fate == HW_FATE_CARRIED) {
            status = hw_marks_take(&carried->marks, taken++, out, err);
        } else if (fate == HW_FATE_LOST || hw_role_is_wood(old->mark[i].role)) {
            status = hw_marks_take(old, i, out, err);
            if (status == HW_OK) {
                scale_mark(&out->mark[out->count - 1], old, facts);
            }
        } // a card that was moved is found anew
    }
    for (size_t i = 0; i < out->count; i++) {
        out->mark[i].found = 0.0;
        out->mark[i].off_px = 0.0;
    }
    out->width_px = facts->width_px;
    out->height_px = facts->height_px;
    return status;
}

// The card as it may lie now; where there is none a person draws it.
static void propose_card(const hw_photo *photo, hw_marks *marks)
{
    hw_card_find find = {0};
    hw_error unheard = {0};
    if (hw_marks_have_card(marks) || hw_marks_find_card(photo, &find, &unheard) != HW_OK) {
        return;
    }
    for (size_t i = 0; i < find.marks.count; i++) {
        if (hw_marks_take(&find.marks, i, marks, &unheard) != HW_OK) {
            break;
        }
    }
    hw_card_find_free(&find);
}

// A picture of the proposal beside its file.
static hw_status write_picture(const hw_photo *photo, const hw_marks *marks, const char *path,
                               hw_error *err)
{
    hw_text beside = {0};
    char *svg = NULL;
    hw_text_add(&beside, "%.*s.svg", (int)(strlen(path) - strlen(".json")), path);
    hw_status status = beside.failed ? hw_fail_memory(err, "drawing the marks") : HW_OK;
    if (status == HW_OK) {
        status = hw_report_marks_svg(photo, marks, &svg, err);
    }
    if (status == HW_OK) {
        status = hw_file_replace(beside.bytes, svg, strlen(svg), err);
    }
    hw_report_free(svg);
    hw_text_free(&beside);
    return status;
}

static hw_status refuse_moved(const char *folder, const hw_marks *old,
                              const hw_carried_marks *carried, const hw_photo *photo, hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    hw_marks marks = {0};
    hw_text path = {0};
    char *text = NULL, next[480];
    hw_status status = propose(old, carried, facts, &marks, err);
    if (status == HW_OK) {
        propose_card(photo, &marks);
    }
    if (status == HW_OK) {
        status = hw_marks_text(&marks, &text, err);
    }
    if (status == HW_OK) {
        status = write_marks_to_edit(folder, text, &path, err);
    }
    if (status == HW_OK) {
        status = write_picture(photo, &marks, path.bytes, err);
    }
    if (status == HW_OK) {
        hw_format_text(next, sizeof next,
                       "The marks as they may lie now are in %s, and beside it a picture of them "
                       "(.svg): move what is wrong, then add the photo again with --marks and that "
                       "file.",
                       path.bytes);
        status = hw_fail(err, HW_ERR_CALL, "marks-moved", facts->file, next,
                         "its marks cannot be carried over surely: %s", carried->why);
    }
    hw_marks_text_free(text);
    hw_text_free(&path);
    hw_marks_free(&marks);
    return status;
}

// ---- Carried -----------------------------------------------------------------------

static bool any_beside_is_here(const hw_mark *patch, const hw_marks *marks)
{
    bool any = false;
    for (size_t k = 0; k < patch->beside_count; k++) {
        any = any || hw_marks_find(marks, HW_ROLE_TARGET, patch->beside[k]);
    }
    return any;
}

// Old wood that is not in this photo is no longer beside a repair. Where none of its wood is left the names stay: no
// names would mean all other wood, and that of another photo may stand in.
static void forget_beside(const hw_marks *old, hw_marks *marks)
{
    for (size_t i = 0; i < marks->count; i++) {
        hw_mark *mark = &marks->mark[i];
        size_t kept = 0;
        if (!any_beside_is_here(mark, marks)) {
            continue;
        }
        for (size_t k = 0; k < mark->beside_count; k++) {
            const char *name = mark->beside[k];
            bool gone = hw_marks_find(old, HW_ROLE_TARGET, name) &&
                        !hw_marks_find(marks, HW_ROLE_TARGET, name);
            if (!gone) {
                memmove(mark->beside[kept++], name, sizeof *mark->beside);
            }
        }
        mark->beside_count = kept;
    }
}

static void tell_left_out(const hw_marks *old, const hw_carried_marks *carried, bool wood,
                          hw_warnings *warnings)
{
    char outside[320] = "", lost[320] = "", moved[320] = "";
    for (size_t i = 0; i < old->count; i++) {
        const hw_mark *mark = &old->mark[i];
        hw_fate fate = carried->each[i].fate;
        bool card = mark->role == HW_ROLE_CARD || mark->role == HW_ROLE_CHART;
        if (!wood && hw_role_is_wood(mark->role)) {
            continue; // told of once all photos were asked
        }
        if (fate == HW_FATE_OUTSIDE) {
            hw_steps_add_name(outside, sizeof outside, mark->name);
        } else if (fate == HW_FATE_LOST) {
            hw_steps_add_name(lost, sizeof lost, mark->name);
        } else if (fate == HW_FATE_MOVED && !card && !carried->as_it_lay) {
            hw_steps_add_name(moved, sizeof moved, mark->name);
        }
    }
    if (outside[0]) {
        hw_warn(warnings, "Not wholly in this photo, so not read: %s.", outside);
    }
    if (lost[0]) {
        hw_warn(warnings, "Not recognised in this photo, so not read: %s.", lost);
    }
    if (moved[0]) {
        hw_warn(warnings,
                "No longer where it lay beside the wood, so not used: %s. Mark it to use it.",
                moved);
    }
}

// Takes the carried marks over, with how sure each is.
static void take_carried(const hw_marks *old, hw_carried_marks *carried, hw_followed *out)
{
    size_t taken = 0, wood = 0;
    *out = (hw_followed){.marks = carried->marks,
                         .as_it_lay = carried->as_it_lay,
                         .confidence = carried->confidence,
                         .moved_px = carried->moved_px,
                         .error_px = carried->error_px};
    carried->marks = (hw_marks){0};
    for (size_t i = 0; i < old->count; i++) {
        const hw_carried_mark *each = &carried->each[i];
        if (each->fate != HW_FATE_CARRIED) {
            continue;
        }
        hw_mark *mark = &out->marks.mark[taken++];
        if (!carried->as_it_lay) {
            mark->found = carried->confidence;
            mark->off_px = hypot(mark->off_px, each->error_px);
        }
        if (mark->role == HW_ROLE_TARGET) {
            out->likeness += each->likeness;
            wood++;
        }
    }
    out->likeness /= wood ? (double)wood : 1.0;
    forget_beside(old, &out->marks);
}

static hw_status take_lay(const hw_marks *old, const hw_carried_marks *carried, hw_followed *out,
                          hw_error *err)
{
    hw_status status = HW_OK;
    for (size_t i = 0; i < old->count && out->as_it_lay && status == HW_OK; i++) {
        if (carried->each[i].fate == HW_FATE_MOVED) {
            status = hw_marks_take(old, i, &out->lay, err);
        }
    }
    return status;
}

void hw_followed_free(hw_followed *followed)
{
    hw_marks_free(&followed->marks);
    hw_marks_free(&followed->lay);
}

hw_status hw_steps_carry(const hw_marks *marks, const hw_look *earlier, const hw_look *now,
                         const char *called, hw_followed *out, hw_warnings *warnings, hw_error *err)
{
    hw_carried_marks carried = {0};
    hw_status status = hw_marks_carry(marks, earlier, now, &carried, err);
    if (status == HW_OK && !carried.sure) {
        status =
            hw_fail(err, HW_ERR_CALL, "marks-moved", called,
                    "Give each photo marks of its own: --marks, as often as there are photos.",
                    "the marks of the first photo cannot be carried over surely: %s", carried.why);
    } else if (status == HW_OK) {
        tell_left_out(marks, &carried, true, warnings);
        take_carried(marks, &carried, out);
        status = take_lay(marks, &carried, out, err);
    }
    hw_carried_marks_free(&carried);
    return status;
}

// As it was kept, or from the photo again.
static hw_status earlier_look(const hw_job *job, const hw_photo_event *last,
                              const hw_limits *limits, hw_look **out, hw_error *err)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_error unheard = {0};
    if (hw_job_look(job, last->view, last->stored, &bytes, &count)) {
        hw_status kept = hw_look_unpack(bytes, count, last->stored, out, &unheard);
        hw_job_photo_free(bytes);
        if (kept == HW_OK) {
            return HW_OK;
        }
    }
    hw_photo *photo = NULL;
    hw_status status = hw_steps_decode_kept(job, last, limits, &photo, err);
    if (status == HW_OK) {
        status = hw_look_take(photo, out, err);
    }
    hw_photo_free(photo);
    return status;
}

static hw_status carry_last(const hw_job *job, const hw_photo_event *last, const hw_look *look,
                            const hw_limits *limits, hw_carried_marks *out, hw_error *err)
{
    hw_look *earlier = NULL;
    hw_status status = earlier_look(job, last, limits, &earlier, err);
    if (status == HW_OK) {
        status = hw_marks_carry(&last->marks, earlier, look, out, err);
    }
    hw_look_free(earlier);
    return status;
}

static hw_status take_all(const hw_photo_event *last, hw_carried_marks *carried, hw_followed *out,
                          hw_warnings *warnings, hw_error *err)
{
    tell_left_out(&last->marks, carried, false, warnings);
    take_carried(&last->marks, carried, out);
    out->sure = true;
    return take_lay(&last->marks, carried, out, err);
}

hw_status hw_steps_follow_marks(const hw_job *job, const hw_photo_event *last,
                                const hw_photo *photo, const hw_look *look, const hw_limits *limits,
                                hw_followed *out, hw_warnings *warnings, hw_error *err)
{
    hw_carried_marks carried = {0};
    hw_status status = carry_last(job, last, look, limits, &carried, err);
    if (status == HW_OK) {
        status = carried.sure
                     ? take_all(last, &carried, out, warnings, err)
                     : refuse_moved(hw_job_folder(job), &last->marks, &carried, photo, err);
    }
    hw_carried_marks_free(&carried);
    return status;
}

hw_status hw_steps_follow_or_propose(const hw_job *job, const hw_photo_event *last,
                                     const hw_photo *photo, const hw_look *look,
                                     const hw_limits *limits, hw_followed *out,
                                     hw_warnings *warnings, hw_error *err)
{
    hw_carried_marks carried = {0};
    hw_status status = carry_last(job, last, look, limits, &carried, err);
    if (status == HW_OK && carried.sure) {
        status = take_all(last, &carried, out, warnings, err);
    } else if (status == HW_OK) {
        *out = (hw_followed){.confidence = carried.confidence};
        hw_copy_text(out->why, sizeof out->why, carried.why);
        status = propose(&last->marks, &carried, hw_photo_facts_of(photo), &out->marks, err);
    }
    hw_carried_marks_free(&carried);
    return status;
}

// ---- What the last photo did not show ----------------------------------------------

static bool is_missing(const hw_mark *mark, const hw_marks *marks)
{
    return hw_role_is_wood(mark->role) && !hw_marks_find(marks, mark->role, mark->name);
}

static bool any_missing(const hw_marks *known, const hw_marks *marks)
{
    bool missing = false;
    for (size_t i = 0; i < known->count; i++) {
        missing = missing || is_missing(&known->mark[i], marks);
    }
    return missing;
}

// Adds those that an earlier photo shows, where they are surely recognised.
static hw_status add_missing(const hw_job *job, const hw_photo_event *earlier, const hw_look *look,
                             const hw_limits *limits, hw_marks *marks, hw_error *err)
{
    hw_look *was = NULL;
    hw_carried_marks carried = {0};
    hw_followed followed = {0};
    hw_status status = earlier_look(job, earlier, limits, &was, err);
    if (status == HW_OK) {
        status = hw_marks_carry(&earlier->marks, was, look, &carried, err);
    }
    if (status == HW_OK && carried.sure) {
        take_carried(&earlier->marks, &carried, &followed);
    }
    for (size_t i = 0; i < followed.marks.count && status == HW_OK; i++) {
        if (is_missing(&followed.marks.mark[i], marks)) {
            status = hw_marks_take(&followed.marks, i, marks, err);
        }
    }
    hw_followed_free(&followed);
    hw_carried_marks_free(&carried);
    hw_look_free(was);
    return status;
}

// The photo of that view and side before this one; NULL: none.
static const hw_event *photo_before(const hw_job *job, const hw_event *photo)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED && event->number < photo->number &&
            strcmp(event->of.photo.view, photo->of.photo.view) == 0 &&
            hw_from_is_same(event->of.photo.from, photo->of.photo.from)) {
            return event;
        }
    }
    return NULL;
}

// A repair is beside what was drawn beside it, as far as that is in this photo.
static hw_status set_beside(const hw_marks *drawn, hw_marks *marks, hw_error *err)
{
    for (size_t i = 0; i < marks->count; i++) {
        hw_mark *mark = &marks->mark[i];
        const hw_mark *was = hw_marks_find(drawn, HW_ROLE_PATCH, mark->name);
        if (mark->role != HW_ROLE_PATCH || !was || was->beside_count == mark->beside_count) {
            continue;
        }
        hw_free(mark->beside);
        mark->beside_count = 0;
        mark->beside = hw_alloc_array(was->beside_count, sizeof *mark->beside);
        if (!mark->beside) {
            return hw_fail_memory(err, "carrying the marks");
        }
        for (size_t k = 0; k < was->beside_count; k++) {
            if (hw_marks_find(marks, HW_ROLE_TARGET, was->beside[k])) {
                hw_copy_text(mark->beside[mark->beside_count++], HW_NAME_SIZE, was->beside[k]);
            }
        }
    }
    return HW_OK;
}

hw_status hw_steps_follow_missing(const hw_job *job, const hw_event *last, const hw_look *look,
                                  const hw_limits *limits, hw_marks *marks, hw_warnings *warnings,
                                  hw_error *err)
{
    const hw_event *at = last;
    hw_status status = HW_OK;
    for (const hw_event *before = at; at->of.photo.marks_reused && status == HW_OK; at = before) {
        before = photo_before(job, at);
        if (!before) {
            break;
        }
        if (any_missing(&before->of.photo.marks, marks)) {
            status = add_missing(job, &before->of.photo, look, limits, marks, err);
        }
    }
    if (status == HW_OK) {
        status = set_beside(&at->of.photo.marks, marks, err);
    }
    char names[320] = "";
    for (size_t i = 0; i < at->of.photo.marks.count; i++) {
        if (is_missing(&at->of.photo.marks.mark[i], marks)) {
            hw_steps_add_name(names, sizeof names, at->of.photo.marks.mark[i].name);
        }
    }
    if (names[0]) {
        hw_warn(warnings, "Not wholly in this photo, or not recognised in it, so not read: %s.",
                names);
    }
    return status;
}
