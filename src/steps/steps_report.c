// steps_report.c: all that the report of a job tells. Of the photos only those are opened that are shown or compared: of
// each view and of each repair the first and the last; the rest the log tells.
#include "steps_internal.h"

#include <math.h>
#include <string.h>

enum { VIEWS_MOST = 12 }; // that are shown before and after; chosen

static const size_t view_px = 1100;  // longer side of a view; as fine as a page prints it (chosen)
static const size_t around_px = 560; // of a repair and its surround

// ---- Before and after --------------------------------------------------------------

static bool is_picture(const hw_event *event)
{
    return event->kind == HW_EVENT_PHOTO_ADDED && !event->of.photo.measured;
}

// The lamp that a view is judged by: the first that a photo of it names; "": none does.
static const char *lamp_of_view(const hw_job *job, const char *view)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (is_picture(event) && strcmp(event->of.photo.view, view) == 0 &&
            event->of.photo.lamp[0]) {
            return event->of.photo.lamp;
        }
    }
    return "";
}

// A photo of the same view from the same side, under that lamp or one that was not said.
static bool is_alike(const hw_event *event, const hw_photo_event *other, const char *lamp)
{
    const hw_photo_event *one = &event->of.photo;
    return is_picture(event) && strcmp(one->view, other->view) == 0 &&
           (!one->lamp[0] || hw_same_lamp(one->lamp, lamp)) &&
           hw_from_is_same(one->from, other->from);
}

// The first photo that the later one may stand beside; itself where there is none before it.
static const hw_event *first_alike(const hw_job *job, const hw_event *last)
{
    const hw_photo_event *photo = &last->of.photo;
    const char *lamp = photo->lamp[0] ? photo->lamp : lamp_of_view(job, photo->view);
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->number >= last->number || is_alike(event, photo, lamp)) {
            return event->number < last->number ? event : last;
        }
    }
    return last;
}

const hw_event *hw_steps_last_of_view(const hw_job *job, const hw_event *photo)
{
    const char *lamp = lamp_of_view(job, photo->of.photo.view);
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        if (is_alike(hw_job_event(job, i), &photo->of.photo, lamp)) {
            return hw_job_event(job, i);
        }
    }
    return photo;
}

// What makes the old wood of the later photo read as in the earlier one, by a repair that both show: one factor a band.
static bool same_scale(const hw_job *job, long first, long last, double factor[3], char *why_not,
                       size_t size)
{
    const hw_event *event = hw_job_reading_of(job, last);
    hw_copy_text(why_not, size, "no repair is read in both");
    for (size_t i = 0; event && i < event->of.reading.gap_count; i++) {
        const char *patch = event->of.reading.gaps[i].patch;
        const hw_logged_sample *now = hw_reading_sample(&event->of.reading, HW_ROLE_PATCH, patch);
        hw_patch_change change = hw_job_patch_change(job, first, last, patch);
        if (change.status != HW_CHANGE_COMPARABLE && change.status != HW_CHANGE_WIDENED) {
            hw_copy_text(why_not, size, change.reason);
            continue;
        }
        double to[3], from[3];
        hw_sharpen(hw_xyz_from_lab(change.after, hw_white_d50), to);
        hw_sharpen(hw_xyz_from_lab(now ? now->lab : change.after, hw_white_d50), from);
        for (int band = 0; band < 3; band++) {
            factor[band] = to[band] / from[band];
        }
        if (isfinite(factor[0]) && isfinite(factor[1]) && isfinite(factor[2])) {
            return true;
        }
        hw_copy_text(why_not, size, "the repair is too dark to be scaled");
    }
    return false;
}

static hw_status show_view(const hw_steps_seen *seen, const double factor[3], size_t longer_px,
                           const hw_progress *progress, hw_shown *out, hw_marks *marks,
                           hw_error *err)
{
    hw_picture picture = {0};
    hw_status status = hw_picture_make(seen->pixels, &seen->reading.light, NULL, longer_px,
                                       progress, &picture, err);
    if (status == HW_OK) {
        hw_picture_scale(&picture, factor);
        status = hw_picture_show(&picture, out, err);
    }
    if (status == HW_OK) {
        status = hw_marks_copy(&seen->reading.marks, marks, err);
    }
    hw_picture_free(&picture);
    return status;
}

// Which two photos, and how they are brought together.
static void set_before_after(const hw_job *job, const hw_event *last, double factor[3],
                             hw_before_after *out)
{
    const hw_event *first = first_alike(job, last);
    char why_not[240];
    hw_copy_text(out->view, sizeof out->view, last->of.photo.view);
    out->first = first->number;
    out->first_at = first->at;
    out->last = last->number;
    out->last_at = last->at;
    for (int band = 0; band < 3; band++) {
        factor[band] = 1.0;
    }
    if (first == last) {
        hw_copy_text(out->same, sizeof out->same, "Put right by the grey card.");
    } else if (same_scale(job, first->number, last->number, factor, why_not, sizeof why_not)) {
        hw_copy_text(out->same, sizeof out->same,
                     "Both are put right by the grey card, and the later one so that the old wood "
                     "reads as it did before.");
    } else {
        hw_format_text(out->same, sizeof out->same,
                       "Each is put right by its own grey card alone (%s).", why_not);
        for (int band = 0; band < 3; band++) {
            factor[band] = 1.0;
        }
    }
}

hw_status hw_steps_before_after(const hw_job *job, const hw_event *last, const hw_steps_seen *seen,
                                size_t longer_px, const hw_progress *progress,
                                const hw_limits *limits, hw_before_after *out, hw_error *err)
{
    const double as_it_is[3] = {1.0, 1.0, 1.0};
    hw_before_after both = {0};
    hw_steps_seen earlier = {0};
    double factor[3];
    set_before_after(job, last, factor, &both);
    hw_status status = HW_OK;
    if (both.first != both.last) {
        status = hw_steps_see(job, hw_job_event_numbered(job, both.first), limits, &earlier, err);
        if (status == HW_OK) {
            status = show_view(&earlier, as_it_is, longer_px, progress, &both.before,
                               &both.first_marks, err);
        }
        if (status == HW_OK) {
            status =
                show_view(seen, factor, longer_px, progress, &both.after, &both.last_marks, err);
        }
    }
    hw_steps_seen_free(&earlier);
    if (status != HW_OK) {
        hw_before_after_free(&both);
        return status;
    }
    *out = both;
    return HW_OK;
}

// ---- What is needed of which photo -------------------------------------------------

// All that one report is made from.
typedef struct making {
    const hw_report_request *request;
    const hw_limits *limits;
    hw_account *out;
    double (*factor)[3]; // one a view: of its later photo
    long *pictured;      // one a repair: the last photo that has pixels of it; 0: none
    hw_picture *around;  // one a repair, of that photo
    hw_steps_seen *seen; // photos that were read, without their pixels
    size_t seen_count;
    hw_steps_plan *plan;
} making;

static bool has_view(const hw_account *account, const char *view)
{
    for (size_t i = 0; i < account->view_count; i++) {
        if (strcmp(account->view[i].view, view) == 0) {
            return true;
        }
    }
    return false;
}

// Of each view the latest photo under the lamp that it is judged by, and the first that stands beside it.
static hw_status list_views(making *m, hw_error *err)
{
    hw_account *out = m->out;
    const hw_job *job = out->job;
    bool more = false;
    out->view = hw_alloc_array(VIEWS_MOST, sizeof *out->view);
    m->factor = hw_alloc_array(VIEWS_MOST, sizeof *m->factor);
    if (!out->view || !m->factor) {
        return hw_fail_memory(err, "listing the views");
    }
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (!is_picture(event) || has_view(out, event->of.photo.view)) {
            continue;
        }
        if (out->view_count == VIEWS_MOST) {
            more = true;
            continue;
        }
        set_before_after(job, hw_steps_last_of_view(job, event), m->factor[out->view_count],
                         &out->view[out->view_count]);
        out->view_count++;
    }
    if (more) {
        hw_warn(&out->warnings, "The job has more than %d views: the others are not shown.",
                VIEWS_MOST);
    }
    return HW_OK;
}

// The first photo, or reading of an instrument, that shows a repair; 0: none.
static long first_photo_of(const hw_job *job, const char *patch)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED &&
            hw_marks_find(&event->of.photo.marks, HW_ROLE_PATCH, patch)) {
            return event->number;
        }
    }
    return 0;
}

static hw_status list_parts(making *m, hw_error *err)
{
    hw_account *out = m->out;
    hw_part_now *now = NULL;
    size_t count = 0;
    hw_status status = hw_job_parts(out->job, &now, &count, err);
    if (status == HW_OK) {
        out->part = hw_alloc_array(count + 1, sizeof *out->part);
        m->around = hw_alloc_array(count + 1, sizeof *m->around);
        m->pictured = hw_alloc_array(count + 1, sizeof *m->pictured);
        status = out->part && m->around && m->pictured ? HW_OK
                                                       : hw_fail_memory(err, "listing the repairs");
    }
    for (size_t i = 0; i < count && status == HW_OK; i++) {
        const hw_event *last = hw_job_main_photo(out->job, now[i].name);
        if (now[i].role == HW_ROLE_PATCH) {
            const hw_event *seen = last && is_picture(last)
                                       ? last
                                       : hw_steps_last_picture(out->job, NULL, now[i].name);
            m->pictured[out->part_count] = seen ? seen->number : 0;
            hw_account_part *part = &out->part[out->part_count++];
            hw_copy_text(part->name, sizeof part->name, now[i].name);
            part->first_photo = first_photo_of(out->job, part->name);
            part->last_photo = last ? last->number : 0;
        }
    }
    hw_job_parts_free(now);
    return status;
}

static bool is_needed(const making *m, long photo)
{
    const hw_account *account = m->out;
    bool needed = false;
    for (size_t i = 0; i < account->view_count; i++) {
        needed = needed || account->view[i].first == photo || account->view[i].last == photo;
    }
    for (size_t i = 0; i < account->part_count; i++) {
        needed =
            needed || account->part[i].first_photo == photo || account->part[i].last_photo == photo;
    }
    return needed;
}

// ---- Out of one photo --------------------------------------------------------------

static hw_status take_views(making *m, const hw_steps_seen *seen, hw_error *err)
{
    const double as_it_is[3] = {1.0, 1.0, 1.0};
    hw_status status = HW_OK;
    for (size_t i = 0; i < m->out->view_count && status == HW_OK; i++) {
        hw_before_after *view = &m->out->view[i];
        if (view->first == seen->photo) {
            status =
                show_view(seen, as_it_is, view_px, NULL, &view->before, &view->first_marks, err);
        } else if (view->last == seen->photo) {
            status =
                show_view(seen, m->factor[i], view_px, NULL, &view->after, &view->last_marks, err);
        }
    }
    return status;
}

// The look of a repair with its joint; a mark too near the edge or a joint that is none is no trouble.
static hw_status take_surround(making *m, size_t index, const hw_steps_seen *seen, hw_error *err)
{
    hw_account_part *part = &m->out->part[index];
    const hw_mark *mark = hw_marks_find(&seen->reading.marks, HW_ROLE_PATCH, part->name);
    hw_error unheard = {0};
    if (!mark) { // the photo was read with other marks
        return HW_OK;
    }
    hw_frame frame = hw_steps_frame_around(mark, &seen->reading.photo);
    hw_status status = hw_picture_make(seen->pixels, &seen->reading.light, &frame, around_px, NULL,
                                       &m->around[index], err);
    if (status == HW_OK) {
        part->has_seam =
            hw_steps_strip(seen, part->name, &part->seam, &part->strip, &unheard) == HW_OK;
        status = unheard.status == HW_ERR_STORAGE ? hw_fail_as(err, &unheard) : HW_OK;
    }
    return status;
}

static hw_status take_parts(making *m, const hw_steps_seen *seen, hw_error *err)
{
    hw_status status = HW_OK;
    for (size_t i = 0; i < m->out->part_count && status == HW_OK; i++) {
        hw_account_part *part = &m->out->part[i];
        const hw_comparison *gap = hw_comparison_beside(&seen->reading.comparisons, part->name);
        if (gap && part->first_photo == seen->photo) {
            part->read_first = true;
            part->first = *gap;
        }
        if (gap && part->last_photo == seen->photo) {
            part->read_last = true;
            part->last = *gap;
        }
        if (m->pictured[i] == seen->photo) {
            status = take_surround(m, i, seen, err);
        }
    }
    return status;
}

// A photo that is gone or damaged is told of and left out; the rest of the report is made.
static hw_status take_photo(making *m, const hw_event *event, hw_error *err)
{
    hw_steps_seen *seen = &m->seen[m->seen_count];
    hw_error why = {0};
    hw_status status = hw_steps_see_any(m->out->job, event, m->limits, seen, &why);
    if (status == HW_ERR_STORAGE) {
        return hw_fail_as(err, &why);
    }
    if (status != HW_OK) {
        hw_warn(&m->out->warnings, "Photo %ld is left out: %s. %s", event->number, why.what,
                why.next);
        return HW_OK;
    }
    m->seen_count++;
    status = seen->pixels ? take_views(m, seen, err) : HW_OK;
    if (status == HW_OK) {
        status = take_parts(m, seen, err);
    }
    hw_photo_free(seen->pixels);
    seen->pixels = NULL;
    return status;
}

static hw_status take_photos(making *m, hw_error *err)
{
    const hw_job *job = m->out->job;
    const hw_watch watch = {m->request->progress, "reading the photos", 0.0, 1.0};
    size_t count = hw_job_event_count(job), needed = 0, done = 0;
    for (size_t i = 0; i < count; i++) {
        const hw_event *event = hw_job_event(job, i);
        needed += event->kind == HW_EVENT_PHOTO_ADDED && is_needed(m, event->number);
    }
    m->seen = hw_alloc_array(needed + 1, sizeof *m->seen);
    hw_status status = m->seen ? HW_OK : hw_fail_memory(err, "reading the photos");
    for (size_t i = 0; i < count && status == HW_OK; i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind != HW_EVENT_PHOTO_ADDED || !is_needed(m, event->number)) {
            continue;
        }
        status = hw_watch_tell(&watch, (double)done++ / (double)needed)
                     ? take_photo(m, event, err)
                     : hw_watch_stopped(&watch, err);
    }
    return status;
}

// ---- What comes next ---------------------------------------------------------------

static const hw_mark *last_mark(const making *m, size_t index)
{
    for (size_t i = 0; i < m->seen_count; i++) {
        if (m->seen[i].photo == m->pictured[index]) {
            return hw_marks_find(&m->seen[i].reading.marks, HW_ROLE_PATCH,
                                 m->out->part[index].name);
        }
    }
    return NULL;
}

static hw_status take_looks(making *m, size_t index, hw_error *err)
{
    hw_account_part *part = &m->out->part[index];
    const hw_mark *mark = last_mark(m, index);
    hw_path path = {0};
    hw_error why = {0};
    if (!mark || !m->around[index].xyz) {
        return HW_OK;
    }
    hw_status status = hw_steps_path(m->plan, part->name, NULL, 0, &path, &why);
    if (status == HW_ERR_STORAGE) {
        return hw_fail_as(err, &why);
    }
    if (status != HW_OK) { // nothing is to be laid
        return HW_OK;
    }
    status = hw_steps_looks(&m->around[index], mark, &path, &part->looks, err);
    part->has_looks = status == HW_OK;
    return status;
}

static hw_status take_plan(making *m, hw_error *err)
{
    hw_account *out = m->out;
    hw_error why = {0};
    hw_advise_request request = {.folder = m->request->folder,
                                 .shelf_path = m->request->shelf_path};
    hw_status status =
        hw_steps_plan_make(out->job, &request, m->seen, m->seen_count, m->limits, &m->plan, &why);
    if (status == HW_ERR_STORAGE) {
        return hw_fail_as(err, &why);
    }
    if (status != HW_OK) {
        hw_format_text(out->no_day, sizeof out->no_day, "No advice can be given: %s. %s", why.what,
                       why.next);
        return HW_OK;
    }
    for (size_t i = 0; i < out->part_count && status == HW_OK; i++) {
        status = take_looks(m, i, err);
    }
    out->day = hw_steps_plan_take_day(m->plan);
    out->has_day = true;
    for (size_t i = 0; i < out->part_count; i++) {
        for (size_t k = 0; k < out->day.count; k++) {
            if (strcmp(out->day.advice[k].patch, out->part[i].name) == 0) {
                out->part[i].advice = &out->day.advice[k];
            }
        }
    }
    return status;
}

// ---- The step ----------------------------------------------------------------------

static hw_status make(making *m, hw_error *err)
{
    hw_account *out = m->out;
    hw_status status = hw_job_open(m->request->folder, m->limits, &out->job, err);
    if (status == HW_OK) {
        hw_warnings_append(&out->warnings, hw_job_warnings(out->job));
        status = list_views(m, err);
    }
    if (status == HW_OK) {
        status = list_parts(m, err);
    }
    if (status == HW_OK) {
        status = take_photos(m, err);
    }
    if (status == HW_OK) {
        status = take_plan(m, err);
    }
    if (status == HW_OK) {
        status = hw_steps_jars(out->job, m->request->shelf_path, m->limits, &out->known, err);
    }
    return status;
}

hw_status hw_steps_report(const hw_report_request *request, const hw_limits *limits, int64_t now,
                          hw_account *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_account account = {.at = now};
    making m = {.request = request, .limits = &bounds, .out = &account};
    hw_status status = make(&m, err);
    hw_steps_plan_free(m.plan);
    for (size_t i = 0; m.around && i < account.part_count; i++) {
        hw_picture_free(&m.around[i]);
    }
    for (size_t i = 0; m.seen && i < m.seen_count; i++) {
        hw_steps_seen_free(&m.seen[i]);
    }
    hw_free(m.around);
    hw_free(m.pictured);
    hw_free(m.seen);
    hw_free(m.factor);
    if (status == HW_OK) {
        *out = account;
    } else {
        hw_account_free(&account);
    }
    return status;
}
