// steps_see.c: a photo of the job with its pixels, and what a repair in it will look like under passes.
#include "steps_internal.h"

#include <math.h>
#include <string.h>

static hw_status refuse_measured(long number, hw_error *err)
{
    char subject[40];
    hw_format_text(subject, sizeof subject, "photo %ld", number);
    return hw_fail(err, HW_ERR_CALL, "picture-measured", subject, "Name a photo of it, or add one.",
                   "it is no photo: an instrument measured the parts");
}

hw_status hw_steps_see_any(const hw_job *job, const hw_event *event, const hw_limits *limits,
                           hw_steps_seen *out, hw_error *err)
{
    if (!event->of.photo.measured) {
        return hw_steps_see(job, event, limits, out, err);
    }
    *out = (hw_steps_seen){.photo = event->number};
    return hw_steps_read_measured(job, event, &out->reading, err);
}

hw_status hw_steps_see(const hw_job *job, const hw_event *event, const hw_limits *limits,
                       hw_steps_seen *out, hw_error *err)
{
    const hw_photo_event *photo = &event->of.photo;
    if (photo->measured) {
        return refuse_measured(event->number, err);
    }
    hw_steps_seen seen = {.photo = event->number};
    hw_steps_shots shots = {.keep_photo = true};
    hw_status status =
        hw_steps_read_again(job, event, &photo->marks, limits, &shots, &seen.reading, err);
    if (status == HW_OK) {
        status = hw_steps_shots_pixels(&shots, &seen.reading, limits, &seen.pixels, err);
    }
    hw_steps_shots_free(&shots);
    if (status != HW_OK) {
        hw_steps_seen_free(&seen);
        return status;
    }
    *out = seen;
    return HW_OK;
}

const hw_event *hw_steps_last_picture(const hw_job *job, const char *view, const char *patch)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        const hw_photo_event *photo = &event->of.photo;
        if (event->kind == HW_EVENT_PHOTO_ADDED && !photo->measured &&
            (!view || strcmp(photo->view, view) == 0) &&
            (!patch || hw_marks_find(&photo->marks, HW_ROLE_PATCH, patch))) {
            return event;
        }
    }
    return NULL;
}

void hw_steps_seen_free(hw_steps_seen *seen)
{
    hw_reading_free(&seen->reading);
    hw_photo_free(seen->pixels);
    *seen = (hw_steps_seen){0};
}

// ---- The way -----------------------------------------------------------------------

// What is advised, layer by layer; 0: nothing is.
static size_t advised(const hw_advice *advice, const hw_layer **layers)
{
    const hw_option *option = advice->by_sheet && advice->sheet_plan.layer_count > 0
                                  ? &advice->sheet_plan
                                  : &advice->option[0];
    if (advice->stop || !advice->has_next) {
        return 0;
    }
    if (option != &advice->sheet_plan && advice->option_count == 0) {
        *layers = &advice->next;
        return 1;
    }
    *layers = option->layer;
    return option->layer_count;
}

static bool is_guess(const hw_known *known, const hw_layer *layers, size_t count)
{
    bool guess = false;
    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < layers[i].liquid.count; k++) {
            const hw_known_dye *dye = hw_known_find(known, layers[i].liquid.dose[k].dye);
            guess = guess || !dye || dye->guess;
        }
    }
    return guess;
}

// Where it stood before, set on the old wood of the photo that the path starts from.
static void look_back(const hw_job *job, long photo, hw_path *path)
{
    hw_stood way[HW_EARLIER_MOST + 1];
    size_t count = hw_job_way(job, photo, path->gap.patch, way, HW_EARLIER_MOST + 1);
    path->earlier_count = 0;
    for (size_t i = 0; i + 1 < count; i++) {
        const hw_logged_gap *then = way[i].gap, *now = way[count - 1].gap;
        hw_lab lab = path->gap.patch_lab;
        lab.L += then->L - now->L;
        lab.a += then->a - now->a;
        lab.b += then->b - now->b;
        path->earlier[path->earlier_count++] = (hw_earlier_place){
            .photo = way[i].photo,
            .passes = way[i].passes,
            .lab = lab,
            .u = then->u[0],
            .de00 = then->de00,
            .de00_low = then->de00_low,
            .de00_high = then->de00_high,
        };
    }
    path->laid = count > 0 ? way[count - 1].passes : 0;
}

hw_status hw_steps_way(const hw_job *job, long photo, const hw_comparison *gap, const char *why,
                       hw_path *out, hw_error *err)
{
    hw_path path = {.gap = *gap, .count = 1};
    look_back(job, photo, &path);
    path.step = hw_alloc_array(1, sizeof *path.step);
    if (!path.step) {
        return hw_fail_memory(err, "looking back");
    }
    path.step[0] = (hw_foreseen){.after = {.lab = gap->patch_lab,
                                           .de00 = gap->gap.de00,
                                           .de00_low = gap->de00_low,
                                           .de00_high = gap->de00_high}};
    hw_copy_text(path.none, sizeof path.none, why);
    *out = path;
    return HW_OK;
}

static hw_status refuse_path(const char *patch, const hw_advice *advice, hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "path-none", patch,
                   "To see what a liquid of your own would do, name it: --dye red=1/4 --passes 2.",
                   "nothing is to be laid on it now: %s", advice->why);
}

hw_status hw_steps_path(const hw_steps_plan *plan, const char *patch, const hw_layer *layers,
                        size_t count, hw_path *out, hw_error *err)
{
    const hw_advice *advice = NULL;
    const hw_tone_request *wanted = NULL;
    bool asked = count > 0;
    if (!hw_steps_plan_for(plan, patch, &advice, &wanted)) {
        return hw_fail(err, HW_ERR_CALL, "patch-unknown", patch, "Name a repair of this job.",
                       "no repair of this name is marked in this job");
    }
    count = asked ? count : advised(advice, &layers);
    if (!wanted || count == 0) {
        return refuse_path(patch, advice, err);
    }
    hw_path path = {
        .gap = *wanted->gap, .asked = asked, .look_after = asked ? 0 : advice->next.passes};
    path.step = hw_alloc_array(HW_PLAN_PASSES_MAX + 1, sizeof *path.step);
    if (!path.step) {
        return hw_fail_memory(err, "looking ahead");
    }
    hw_report_layer_words(layers, count, path.words, sizeof path.words);
    path.guess = is_guess(wanted->known, layers, count);
    hw_status status =
        hw_tone_foresee(wanted, layers, count, path.step, HW_PLAN_PASSES_MAX + 1, &path.count, err);
    if (status != HW_OK) {
        hw_path_free(&path);
        return status;
    }
    look_back(hw_steps_plan_job(plan), hw_job_main_photo(hw_steps_plan_job(plan), patch)->number,
              &path);
    *out = path;
    return HW_OK;
}

// ---- The look ----------------------------------------------------------------------

hw_frame hw_steps_frame_around(const hw_mark *mark, const hw_photo_facts *facts)
{
    const double along = 0.15, across = 0.9; // of its longer and its shorter side (chosen)
    hw_box box = hw_mark_box(mark);
    double wide = (double)box.width, high = (double)box.height;
    double longer = fmax(fmax(wide, high), 1.0), shorter = fmin(wide, high);
    return hw_frame_around(mark, fmax(along, across * shorter / longer), facts->width_px,
                           facts->height_px);
}

static hw_status show_under(const hw_picture *around, const hw_mark *mark, const double density[3],
                            hw_shown *out, hw_error *err)
{
    hw_picture laid = {0};
    hw_status status = hw_picture_copy(around, &laid, err);
    if (status == HW_OK) {
        hw_picture_lay(&laid, mark, density);
        status = hw_picture_show(&laid, out, err);
    }
    hw_picture_free(&laid);
    return status;
}

hw_status hw_steps_reach(const hw_picture *around, const hw_mark *mark, hw_mark *out, hw_error *err)
{
    const double most = 0.6; // of the mark's shorter side: a hand marks no further inside (chosen)
    hw_box box = hw_mark_box(mark);
    double shorter = fmin((double)box.width, (double)box.height);
    return hw_picture_reach(around, mark, most * shorter, out, err);
}

hw_status hw_steps_looks(const hw_picture *around, const hw_mark *mark, hw_path *path,
                         hw_looks *out, hw_error *err)
{
    hw_looks looks = {.path = *path};
    hw_mark whole = {0};
    *path = (hw_path){0};
    size_t count = looks.path.count > 0 ? looks.path.count - 1 : 0;
    looks.weak = hw_alloc_array(count + 1, sizeof *looks.weak);
    looks.strong = hw_alloc_array(count + 1, sizeof *looks.strong);
    hw_status status =
        looks.weak && looks.strong ? HW_OK : hw_fail_memory(err, "drawing the looks");
    if (status == HW_OK) {
        status = hw_steps_reach(around, mark, &whole, err);
    }
    if (status == HW_OK) {
        status = hw_picture_show(around, &looks.now, err);
    }
    for (size_t i = 0; i < count && status == HW_OK; i++) {
        const hw_foreseen *step = &looks.path.step[i + 1];
        status = show_under(around, &whole, step->least, &looks.weak[i], err);
        if (status == HW_OK) {
            status = show_under(around, &whole, step->most, &looks.strong[i], err);
        }
    }
    hw_mark_free(&whole);
    if (status != HW_OK) {
        hw_looks_free(&looks);
        return status;
    }
    *out = looks;
    return HW_OK;
}

// ---- For a page --------------------------------------------------------------------

void hw_kept_photo_free(hw_kept_photo *kept)
{
    hw_reading_free(&kept->reading);
    hw_photo_free(kept->pixels);
    hw_job_free(kept->job);
    *kept = (hw_kept_photo){0};
}

static hw_status find_photo(hw_kept_photo *kept, long number, hw_error *err)
{
    char subject[40];
    kept->event = hw_job_event_numbered(kept->job, number);
    if (kept->event && kept->event->kind == HW_EVENT_PHOTO_ADDED) {
        return HW_OK;
    }
    hw_format_text(subject, sizeof subject, "photo %ld", number);
    return hw_fail(err, HW_ERR_CALL, "photo-unknown", subject,
                   "Give the number of a photo as huewright history shows it.",
                   "this job has no photo of that number");
}

hw_status hw_steps_kept_photo(const char *folder, long number, bool read, const hw_limits *limits,
                              hw_kept_photo *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_kept_photo kept = {0};
    hw_steps_seen seen = {0};
    hw_status status = hw_job_open(folder, &bounds, &kept.job, err);
    if (status == HW_OK) {
        status = find_photo(&kept, number, err);
    }
    if (status == HW_OK && read) {
        status = hw_steps_see_any(kept.job, kept.event, &bounds, &seen, err);
        kept.reading = seen.reading;
        kept.pixels = seen.pixels;
    } else if (status == HW_OK) {
        status =
            kept.event->of.photo.measured
                ? refuse_measured(number, err)
                : hw_steps_decode_kept(kept.job, &kept.event->of.photo, &bounds, &kept.pixels, err);
    }
    if (status != HW_OK) {
        hw_kept_photo_free(&kept);
        return status;
    }
    *out = kept;
    return HW_OK;
}
