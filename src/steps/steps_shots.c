// steps_shots.c: several photos of one state, read together; and photos from several sides.
//
// Files are opened first, so that a job keeps the very bytes that were read. Then one photo after the other is decoded,
// read and let go of: one at a time lies in memory. Of the first, which the marks were drawn on, stays what it is
// recognised by, where they are carried to the others. One that cannot be read, or is the same file once more, is left out by name as long as another is
// good. What the readings make together is told in compare (hw_compare_shots).
#include "steps_internal.h"

#include <math.h>
#include <string.h>

// ---- Files -------------------------------------------------------------------------

void hw_steps_shots_free(hw_steps_shots *shots)
{
    for (size_t i = 0; i < shots->count; i++) {
        hw_free(shots->shot[i].bytes);
        hw_marks_free(&shots->shot[i].marks);
        hw_marks_free(&shots->shot[i].lay);
        hw_steps_sought_free(&shots->shot[i].sought);
    }
    hw_photo_free(shots->photo);
    hw_look_free(shots->look);
    *shots = (hw_steps_shots){0};
}

// The same file says nothing twice.
static void test_same_file(hw_steps_shots *shots, size_t index)
{
    hw_steps_shot *one = &shots->shot[index];
    for (size_t i = 0; i < index && one->bytes; i++) {
        const hw_steps_shot *other = &shots->shot[i];
        if (other->bytes && other->count == one->count &&
            memcmp(other->bytes, one->bytes, one->count) == 0) {
            hw_fail(&one->why, HW_ERR_INPUT, "shot-same", one->called,
                    "Take each photo by itself, the card lifted and laid down again.",
                    "it is the very same file as shot %zu, which tells nothing more", i + 1);
            return;
        }
    }
}

// The first that can be decoded stays so: its marks are carried to the others.
static hw_status decode_first(hw_steps_shots *shots, const hw_limits *limits, hw_error *err)
{
    for (size_t i = 0; i < shots->count; i++) {
        hw_steps_shot *one = &shots->shot[i];
        if (one->why.status == HW_OK && hw_photo_decode(one->bytes, one->count, one->called, limits,
                                                        &shots->photo, &one->why) == HW_OK) {
            shots->first = i;
            return HW_OK;
        }
        if (one->why.status == HW_ERR_STORAGE) {
            break;
        }
    }
    return hw_steps_shots_refuse(shots, err);
}

hw_status hw_steps_shots_refuse(const hw_steps_shots *shots, hw_error *err)
{
    const hw_steps_shot *one = &shots->shot[0];
    for (size_t i = 0; i < shots->count;
         i++) { // what stops the work at all, before the first one's trouble
        one = shots->shot[i].why.status == HW_ERR_STORAGE ? &shots->shot[i] : one;
    }
    bool same = true; // as where the marks themselves are wrong
    for (size_t i = 0; i < shots->count; i++) {
        same = same && strcmp(shots->shot[i].why.what, one->why.what) == 0;
    }
    if (same || one->why.status == HW_ERR_STORAGE) {
        return hw_fail_as(err, &one->why);
    }
    return hw_fail(err, one->why.status, one->why.code, one->why.subject, one->why.next,
                   "none of the %zu photos can be read; this one: %s", shots->count, one->why.what);
}

static hw_status take_own_marks(const hw_read_request *read, size_t index, const hw_limits *limits,
                                hw_steps_shot *shot, hw_warnings *warnings, hw_error *err)
{
    if (index == 0 || !read->more_marks_paths) {
        return HW_OK;
    }
    hw_read_request own = {.marks_path = read->more_marks_paths[index - 1]};
    shot->own_marks = true;
    return hw_steps_marks(&own, limits, &shot->marks, warnings, err);
}

static const char *path_of(const hw_read_request *read, size_t index)
{
    return index == 0 ? read->photo_path : read->more_paths[index - 1];
}

// As the person knows it.
static const char *name_of(const hw_read_request *read, size_t index)
{
    const char *called = index == 0 ? read->called : NULL;
    called = index > 0 && read->more_called ? read->more_called[index - 1] : called;
    return called ? called : path_of(read, index);
}

hw_status hw_steps_shots_take(const hw_read_request *read, const hw_limits *limits,
                              hw_steps_shots *out, hw_error *err)
{
    if (read->more_count >= HW_SHOTS_MOST) {
        return hw_fail(err, HW_ERR_CALL, "shots-many", name_of(read, HW_SHOTS_MOST),
                       "Three are usual.",
                       "%zu photos are too many to be read together, at most %d",
                       read->more_count + 1, HW_SHOTS_MOST);
    }
    for (out->count = 0; out->count <= read->more_count; out->count++) {
        hw_steps_shot *one = &out->shot[out->count];
        hw_copy_text(one->called, sizeof one->called, name_of(read, out->count));
        if (hw_file_read(path_of(read, out->count), limits->file_bytes, &one->bytes, &one->count,
                         &one->why) == HW_OK) {
            test_same_file(out, out->count);
        }
    }
    return HW_OK;
}

hw_status hw_steps_shots_open(const hw_read_request *read, const hw_limits *limits,
                              hw_steps_shots *out, hw_warnings *warnings, hw_error *err)
{
    out->is_the_card = read->is_the_card;
    out->like = read->like;
    out->distance_mm = read->distance_mm;
    memcpy(out->card_mm, read->card_mm, sizeof out->card_mm);
    hw_status status = hw_steps_shots_take(read, limits, out, err);
    for (size_t i = 0; i < out->count && status == HW_OK; i++) {
        status = take_own_marks(read, i, limits, &out->shot[i], warnings, err);
    }
    return status == HW_OK ? decode_first(out, limits, err) : status;
}

// ---- Marks of each -----------------------------------------------------------------

hw_status hw_steps_look_at_first(hw_steps_shots *shots, hw_error *err)
{
    return shots->look ? HW_OK : hw_look_take(shots->photo, &shots->look, err);
}

bool hw_steps_shots_next(hw_steps_shots *shots, const hw_error *why, const hw_limits *limits)
{
    for (size_t i = shots->first + 1; i < shots->count; i++) {
        hw_steps_shot *one = &shots->shot[i];
        hw_photo *photo = NULL;
        if (one->why.status != HW_OK || one->marks.count > 0 ||
            hw_photo_decode(one->bytes, one->count, one->called, limits, &photo, &one->why) !=
                HW_OK) {
            continue;
        }
        shots->shot[shots->first].why = *why;
        hw_photo_free(shots->photo);
        hw_look_free(shots->look);
        shots->look = NULL;
        shots->photo = photo;
        shots->first = i;
        return true;
    }
    return false;
}

// The marks of a further photo, by those of the first.
static hw_status marks_for_shot(const hw_marks *marks, const hw_look *first, const hw_photo *now,
                                hw_marks *out, hw_marks *lay, hw_warnings *warnings, hw_error *err)
{
    hw_look *look = NULL;
    hw_followed followed = {0};
    hw_status status = hw_look_take(now, &look, err);
    if (status == HW_OK) {
        status = hw_steps_carry(marks, first, look, hw_photo_facts_of(now)->file, &followed,
                                warnings, err);
    }
    hw_look_free(look);
    *out = followed.marks;
    *lay = followed.lay;
    return status;
}

static bool same_outline(const hw_mark *one, const hw_mark *other)
{
    bool same = other && one->point_count == other->point_count;
    for (size_t i = 0; same && i < one->point_count; i++) {
        same = one->points[i].x == other->points[i].x && one->points[i].y == other->points[i].y;
    }
    return same;
}

bool hw_steps_same_marks(const hw_marks *one, const hw_marks *other)
{
    bool same = one->count == other->count;
    for (size_t i = 0; same && i < one->count; i++) {
        const hw_mark *mark = &one->mark[i];
        same = same_outline(mark, hw_marks_find(other, mark->role, mark->name));
    }
    return same;
}

// ---- Reading -----------------------------------------------------------------------

// All that one call works with.
typedef struct together {
    hw_steps_shots *shots;
    const hw_marks *marks; // of those without their own
    const hw_card_options *card;
    const hw_earlier_list *known;
    const hw_limits *limits;
    hw_reading *reading[HW_SHOTS_MOST]; // NULL: not read
} together;

// Each shot takes out of it what cannot be compared with it.
static hw_status copy_known(const hw_earlier_list *known, hw_earlier_list *out, hw_error *err)
{
    *out = (hw_earlier_list){0};
    if (!known) {
        return HW_OK;
    }
    out->item = hw_alloc_array(known->count + 1, sizeof *out->item);
    if (!out->item) {
        return hw_fail_memory(err, "reading the shots");
    }
    out->count = known->count;
    memcpy(out->item, known->item, known->count * sizeof *known->item);
    return HW_OK;
}

// What was learned is of one camera; a file that names none is taken for its own.
static hw_card_options card_for(const hw_card_options *card, const hw_photo *photo)
{
    hw_card_options own = *card;
    const char *camera = hw_photo_facts_of(photo)->camera;
    if (own.camera && camera[0] && strcmp(camera, own.camera->camera) != 0) {
        own.camera = NULL;
    }
    return own;
}

// Do any that still come take their marks from the first?
static bool first_is_asked(const hw_steps_shots *shots)
{
    bool asked = false;
    for (size_t i = shots->first + 1; i < shots->count; i++) {
        asked = asked || shots->shot[i].marks.count == 0;
    }
    return asked;
}

static hw_status place_marks(together *w, size_t index, const hw_photo *photo,
                             hw_warnings *warnings)
{
    hw_steps_shots *shots = w->shots;
    hw_steps_shot *one = &shots->shot[index];
    hw_status status = HW_OK;
    if (index == shots->first) {
        status = first_is_asked(shots) ? hw_steps_look_at_first(shots, &one->why) : HW_OK;
        if (status == HW_OK && one->marks.count == 0) {
            one->own_marks = true;
            status = hw_marks_copy(w->marks, &one->marks, &one->why);
        }
        return status;
    }
    if (one->marks.count == 0) {
        status = marks_for_shot(w->marks, shots->look, photo, &one->marks, &one->lay, warnings,
                                &one->why);
    }
    if (hw_steps_same_marks(&one->marks, w->marks)) {
        one->own_marks = false; // the same drawing once more
    }
    return status;
}

// The card too, where it was found.
static hw_status take_marks_back(const hw_reading *reading, hw_steps_shot *one)
{
    hw_marks all = {0};
    hw_status status = hw_marks_copy(&reading->marks, &all, &one->why);
    if (status == HW_OK) {
        hw_marks_free(&one->marks);
        one->marks = all;
    }
    return status;
}

// How far old wood reads from what it did, summed.
typedef struct wood_moved {
    double lab[3];
    size_t count;
} wood_moved;

static void add_moved(const hw_sample *now, hw_role role, const char *name, hw_lab then,
                      wood_moved *sum)
{
    if (now->role == HW_ROLE_TARGET && role == now->role && strcmp(name, now->name) == 0) {
        sum->lab[0] += now->lab.L - then.L;
        sum->lab[1] += now->lab.a - then.a;
        sum->lab[2] += now->lab.b - then.b;
        sum->count++;
    }
}

// A reading of the same wood: of the first shot, or that the request names; NULL: only the log's.
static const hw_reading *reading_alike(const together *w, size_t index)
{
    const hw_reading *first = index != w->shots->first ? w->reading[w->shots->first] : NULL;
    return first ? first : w->shots->like;
}

static bool knows_wood(const together *w, size_t index)
{
    return reading_alike(w, index) || w->shots->last;
}

// By the same card in the same state old wood reads as it did; by another grey thing of another lightness or hue it does not.
// Even where this is wrong it does little: both sides of each gap are read by it. (Chosen: what light that falls
// otherwise does.)
static bool wood_reads_alike(const together *w, size_t index)
{
    const double most[3] = {4.0, 3.0, 3.0}; // L*, a*, b*
    const hw_reading *reading = w->reading[index], *other = reading_alike(w, index);
    const hw_reading_event *last = w->shots->last;
    wood_moved sum = {{0.0, 0.0, 0.0}, 0};
    for (size_t i = 0; i < reading->sample_count; i++) {
        const hw_sample *now = &reading->samples[i];
        for (size_t k = 0; other && k < other->sample_count; k++) {
            const hw_sample *then = &other->samples[k];
            add_moved(now, then->role, then->name, then->lab, &sum);
        }
        for (size_t k = 0; !other && last && k < last->sample_count; k++) {
            const hw_logged_sample *then = &last->samples[k];
            add_moved(now, then->role, then->name, then->lab, &sum);
        }
    }
    bool alike = sum.count > 0;
    for (int axis = 0; axis < 3; axis++) {
        alike = alike && fabs(sum.lab[axis]) <= most[axis] * (double)sum.count;
    }
    return alike;
}

static void tell_memory(hw_steps_shot *one, const hw_error *why)
{
    if (why->status == HW_ERR_STORAGE) {
        one->why = *why;
    }
}

// Reads by marks whose card is not sure; kept only if the old wood bears it out. False where memory is out, too: then the
// shot says so.
static bool wood_bears_out(together *w, size_t index, const hw_photo *photo, const hw_marks *marks,
                           const hw_card_options *card)
{
    hw_reading *reading = w->reading[index];
    hw_earlier_list known = {0}; // a wrong card must take nothing out of what the next try knows
    hw_error unheard = {0};
    bool read =
        copy_known(w->known, &known, &unheard) == HW_OK &&
        hw_steps_read_sought(photo, marks, true, &w->shots->shot[index].sought, card,
                             w->known ? &known : NULL, w->limits, reading, &unheard) == HW_OK;
    hw_free(known.item);
    if (!read) {
        tell_memory(&w->shots->shot[index], &unheard);
        return false;
    }
    if (!wood_reads_alike(w, index)) {
        hw_reading_free(reading);
        return false;
    }
    return true;
}

// With card and steps where they lay.
static bool read_as_it_lay(together *w, size_t index, const hw_photo *photo,
                           const hw_card_options *card)
{
    hw_marks all = {0};
    hw_error unheard = {0};
    bool good = hw_marks_copy(&w->shots->shot[index].marks, &all, &unheard) == HW_OK;
    for (size_t i = 0; i < w->shots->shot[index].lay.count && good; i++) {
        good = hw_marks_take(&w->shots->shot[index].lay, i, &all, &unheard) == HW_OK;
    }
    tell_memory(&w->shots->shot[index], &unheard);
    good = good && wood_bears_out(w, index, photo, &all, card);
    hw_marks_free(&all);
    return good;
}

static void warn_lay_unused(const hw_marks *lay, hw_reading *reading)
{
    for (size_t i = 0; i < lay->count; i++) {
        if (lay->mark[i].role != HW_ROLE_CARD) {
            hw_warn(
                &reading->warnings,
                "What lay beside the card in the last photo (%s) is not used: mark it to use it.",
                lay->mark[i].name);
            return;
        }
    }
}

// By its marks; where the card is none of them and what is found is not sure, by what the old wood bears out.
static hw_status read_by_wood(together *w, size_t index, const hw_photo *photo,
                              const hw_card_options *card, hw_earlier_list *known)
{
    hw_steps_shot *one = &w->shots->shot[index];
    bool has_card = hw_marks_have_card(&one->marks);
    known = w->known ? known : NULL;
    if (knows_wood(w, index) && !has_card && hw_marks_have_card(&w->shots->shot[index].lay) &&
        read_as_it_lay(w, index, photo, card)) {
        return HW_OK;
    }
    if (one->why.status == HW_ERR_STORAGE) {
        return one->why.status;
    }
    hw_status status = hw_steps_read_sought(photo, &one->marks, w->shots->is_the_card, &one->sought,
                                            card, known, w->limits, w->reading[index], &one->why);
    if (status != HW_OK && knows_wood(w, index) && strcmp(one->why.code, "card-unsure") == 0 &&
        wood_bears_out(w, index, photo, &one->marks, card)) {
        one->why = (hw_error){0};
        status = HW_OK;
    }
    status = status == HW_OK ? HW_OK : one->why.status;
    if (status == HW_OK) {
        warn_lay_unused(&w->shots->shot[index].lay, w->reading[index]);
    }
    return status;
}

static hw_status read_decoded(together *w, size_t index, const hw_photo *photo)
{
    hw_card_options card = card_for(w->card, photo);
    hw_steps_shot *one = &w->shots->shot[index];
    hw_earlier_list known = {0};
    hw_warnings warnings = {0};
    hw_status status = place_marks(w, index, photo, &warnings);
    if (status == HW_OK) {
        status = copy_known(w->known, &known, &one->why);
    }
    if (status == HW_OK) {
        w->reading[index] = hw_alloc_array(1, sizeof *w->reading[index]);
        status = w->reading[index] ? HW_OK : hw_fail_memory(&one->why, "reading the shots");
    }
    if (status == HW_OK) {
        status = read_by_wood(w, index, photo, &card, &known);
    }
    if (status == HW_OK && w->shots->distance_mm > 0.0) {
        status = hw_steps_sights(photo, w->shots->distance_mm, w->shots->card_mm, w->reading[index],
                                 &one->why);
    }
    if (status == HW_OK) {
        hw_warnings_append(&w->reading[index]->warnings, &warnings);
        status = take_marks_back(w->reading[index], one);
    }
    if (status != HW_OK) {
        hw_reading_free(w->reading[index]);
        hw_free(w->reading[index]);
        w->reading[index] = NULL;
    }
    hw_free(known.item);
    return status;
}

static hw_status read_shot(together *w, size_t index)
{
    hw_steps_shot *one = &w->shots->shot[index];
    if (one->why.status != HW_OK) {
        return one->why.status;
    }
    if (index == w->shots->first) {
        return read_decoded(w, index, w->shots->photo);
    }
    hw_photo *photo = NULL;
    hw_status status =
        hw_photo_decode(one->bytes, one->count, one->called, w->limits, &photo, &one->why);
    if (status == HW_OK) {
        status = read_decoded(w, index, photo);
    }
    hw_photo_free(photo);
    return status;
}

// White balance and lamp are those of the card as photographed.
static void warn_other_light(const together *w, const hw_reading *mean, hw_warnings *warnings)
{
    hw_lab first = hw_lab_from_xyz(mean->light.card_seen, hw_white_d50);
    for (size_t i = 0; i < w->shots->count; i++) {
        if (!w->reading[i] || !mean->shots.shot[i].used || w->reading[i]->sample_count == 0) {
            continue;
        }
        double moved =
            hw_card_moved(first, hw_lab_from_xyz(w->reading[i]->light.card_seen, hw_white_d50));
        if (moved > HW_CARD_SAME) {
            hw_warn(warnings,
                    "Shot %zu: the card's colour differs by %.3f (u'v') from the first one's: "
                    "another lamp or white balance. Repeat shots are taken under one lamp.",
                    i + 1, moved);
        }
    }
}

static hw_status make_mean(together *w, hw_reading *out, hw_error *err)
{
    if (w->shots->count == 1) {
        w->shots->shot[0].read = true;
        w->shots->shot[0].format = w->reading[0]->photo.format;
        *out = *w->reading[0];
        *w->reading[0] = (hw_reading){0};
        return HW_OK;
    }
    hw_shots shots = {.count = w->shots->count};
    for (size_t i = 0; i < shots.count; i++) {
        const hw_steps_shot *one = &w->shots->shot[i];
        hw_steps_name_of_file(shots.shot[i].file, sizeof shots.shot[i].file, one->called);
        shots.shot[i].own_marks = one->own_marks;
        bool unsure =
            strcmp(one->why.code, "card-unsure") == 0; // whose question is for a photo alone
        hw_copy_text(shots.shot[i].why, sizeof shots.shot[i].why,
                     unsure ? "the grey card is not marked on it, and was not surely found"
                            : one->why.what);
        w->shots->shot[i].read = w->reading[i] != NULL;
        w->shots->shot[i].format = w->reading[i] ? w->reading[i]->photo.format : NULL;
    }
    hw_status status = hw_compare_shots(w->reading, &shots, w->known, out, err);
    if (status == HW_OK) {
        warn_other_light(w, out, &out->warnings);
    }
    return status;
}

hw_status hw_steps_read_shots(hw_steps_shots *shots, const hw_marks *marks,
                              const hw_card_options *card, const hw_earlier_list *known,
                              const hw_limits *limits, hw_reading *out, hw_error *err)
{
    together w = {shots, marks, card, known, limits, {0}};
    size_t read = 0;
    hw_status status = HW_OK;
    for (size_t i = 0; i < shots->count && status == HW_OK; i++) {
        read += read_shot(&w, i) == HW_OK;
        status = shots->shot[i].why.status == HW_ERR_STORAGE ? HW_ERR_STORAGE : HW_OK;
        if (i == shots->first && !shots->keep_photo) {
            hw_photo_free(shots->photo);
            shots->photo = NULL;
        }
    }
    if (read == 0 || status != HW_OK) {
        status = hw_steps_shots_refuse(shots, err);
    } else {
        status = make_mean(&w, out, err);
    }
    for (size_t i = 0; i < shots->count; i++) {
        hw_reading_free(w.reading[i]);
        hw_free(w.reading[i]);
    }
    return status;
}

void hw_steps_warn_first(const hw_steps_shots *shots, const hw_read_request *read,
                         hw_warnings *warnings)
{
    bool given = read->marks_path || read->marks.count > 0;
    if (given && shots->first > 0 && !read->more_marks_paths) {
        hw_warn(
            warnings,
            "Shot 1 cannot be opened, so the marks are taken as drawn on shot %zu: look whether "
            "they lie right there.",
            shots->first + 1);
    }
}

// ---- Into a job and out of it ------------------------------------------------------

static size_t leading(const hw_steps_shots *shots, const hw_reading *reading)
{
    size_t lead = 0;
    while (shots->count > 1 && lead + 1 < shots->count && !reading->shots.shot[lead].used) {
        lead++;
    }
    return lead;
}

const char *hw_steps_leading_name(const hw_steps_shots *shots, const hw_reading *reading)
{
    return shots->shot[leading(shots, reading)].called;
}

hw_status hw_steps_shots_pixels(hw_steps_shots *shots, const hw_reading *reading,
                                const hw_limits *limits, hw_photo **out, hw_error *err)
{
    size_t lead = leading(shots, reading);
    if (lead != shots->first) {
        const hw_steps_shot *one = &shots->shot[lead];
        return hw_photo_decode(one->bytes, one->count, one->called, limits, out, err);
    }
    *out = shots->photo;
    shots->photo = NULL;
    return HW_OK;
}

static hw_status keep_more(const hw_job *job, hw_steps_shots *shots, const hw_steps_shot *one,
                           hw_photo_event *event, hw_error *err)
{
    hw_more_photo *more = &shots->more[event->more_count++];
    hw_steps_name_of_file(more->original, sizeof more->original, one->called);
    if (!hw_steps_same_marks(&one->marks, &event->marks)) {
        more->marks = one->marks; // borrowed while it is logged
        more->own_marks = one->own_marks;
    }
    return hw_job_keep_photo(job, one->bytes, one->count, one->extension, more->stored, err);
}

hw_status hw_steps_keep_shots(const hw_job *job, hw_steps_shots *shots, const hw_reading *reading,
                              hw_photo_event *event, hw_error *err)
{
    size_t lead = leading(shots, reading);
    const hw_steps_shot *first = &shots->shot[lead];
    event->more = shots->more;
    event->more_count = 0;
    hw_status status =
        hw_job_keep_photo(job, first->bytes, first->count, first->extension, event->stored, err);
    for (size_t i = 0; i < shots->count && status == HW_OK; i++) {
        if (i != lead && shots->shot[i].read) {
            status = keep_more(job, shots, &shots->shot[i], event, err);
        }
    }
    return status;
}

void hw_steps_keep_look(const hw_job *job, const hw_steps_shots *shots, const hw_reading *reading,
                        const hw_photo_event *event)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_error unheard = {0};
    if (shots->look && leading(shots, reading) == shots->first &&
        hw_look_pack(shots->look, &bytes, &count, &unheard) == HW_OK) {
        hw_job_keep_look(job, event->view, event->stored, bytes, count);
    }
    hw_free(bytes);
}

static hw_status open_kept(const hw_job *job, const char *stored, const char *called,
                           const hw_marks *marks, hw_steps_shot *out, hw_error *err)
{
    hw_copy_text(out->called, sizeof out->called, called[0] ? called : stored);
    hw_status opened = hw_job_photo(job, stored, &out->bytes, &out->count, &out->why);
    if (opened == HW_ERR_STORAGE) {
        return hw_fail_as(err, &out->why);
    }
    return marks ? hw_marks_copy(marks, &out->marks, err) : HW_OK;
}

hw_status hw_steps_shots_open_kept(const hw_job *job, const hw_photo_event *event,
                                   const hw_marks *marks, const hw_limits *limits,
                                   hw_steps_shots *out, hw_error *err)
{
    bool as_logged = marks == &event->marks;
    out->count = event->more_count + 1;
    hw_status status = open_kept(job, event->stored, event->original, marks, &out->shot[0], err);
    out->shot[0].own_marks = true;
    for (size_t i = 0; i < event->more_count && status == HW_OK; i++) {
        const hw_more_photo *more = &event->more[i];
        hw_steps_shot *one = &out->shot[i + 1];
        one->own_marks = more->own_marks;
        // Those carried from other marks are carried again.
        const hw_marks *own = more->marks.count == 0         ? marks
                              : as_logged || more->own_marks ? &more->marks
                                                             : NULL;
        status = open_kept(job, more->stored, more->original, own, one, err);
    }
    return status == HW_OK ? decode_first(out, limits, err) : status;
}

// ---- From several sides, in a job ---------------------------------------------------

const hw_event *hw_steps_last_alike(const hw_job *job, const char *view, hw_from from)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED && strcmp(event->of.photo.view, view) == 0 &&
            hw_from_is_same(event->of.photo.from, from)) {
            return event;
        }
    }
    return hw_job_last_photo(job, view);
}

void hw_steps_turn(const hw_job *job, long photo, hw_reading *reading)
{
    for (size_t i = 0; i < reading->marks.count; i++) {
        const hw_mark *mark = &reading->marks.mark[i];
        if (mark->role != HW_ROLE_PATCH) {
            continue;
        }
        hw_job_sides sides = hw_job_sides_of(job, mark->name);
        if (sides.known && sides.pair.turned && (sides.left == photo || sides.right == photo)) {
            hw_reading_turn(reading, mark->name);
        }
    }
}

// ---- From several sides ------------------------------------------------------------

void hw_sides_free(hw_sides *sides)
{
    if (sides) {
        for (size_t i = 0; i < sides->count; i++) {
            hw_reading_free(&sides->reading[i]);
        }
        *sides = (hw_sides){0};
    }
}

// Marks drawn on the first side's first photo, carried to another side's.
static hw_status carry_to_side(const hw_read_request *first, hw_read_request *side,
                               const hw_limits *limits, hw_marks *out, hw_warnings *warnings,
                               hw_error *err)
{
    hw_photo *drawn_on = NULL, *now = NULL;
    hw_look *look = NULL;
    hw_marks marks = {0}, lay = {0};
    hw_status status = hw_photo_load(first->photo_path, limits, &drawn_on, err);
    if (status == HW_OK) {
        status = hw_look_take(drawn_on, &look, err);
    }
    hw_photo_free(drawn_on);
    if (status == HW_OK) {
        status = hw_photo_load(side->photo_path, limits, &now, err);
    }
    if (status == HW_OK) {
        status = hw_steps_marks(first, limits, &marks, warnings, err);
    }
    if (status == HW_OK) {
        status = marks_for_shot(&marks, look, now, out, &lay, warnings, err);
    }
    hw_marks_free(&lay); // another side: the wood looks another way by it
    hw_marks_free(&marks);
    hw_look_free(look);
    hw_photo_free(now);
    side->marks_path = NULL;
    side->marks = *out;
    return status;
}

static hw_status read_side(const hw_read_request *request, size_t index, const hw_reading *first,
                           const hw_limits *limits, hw_reading *out, hw_error *err)
{
    hw_read_request side = request[index];
    side.like = first;
    hw_marks carried = {0};
    hw_warnings warnings = {0};
    hw_status status = HW_OK;
    if (index > 0 && !side.marks_path && side.marks.count == 0) {
        status = carry_to_side(&request[0], &side, limits, &carried, &warnings, err);
    }
    if (status == HW_OK) {
        status = hw_steps_read(&side, limits, out, err);
    }
    if (status == HW_OK) {
        hw_warnings_append(&out->warnings, &warnings);
    }
    hw_marks_free(&carried);
    return status;
}

// Left against right, where both are there.
static void find_turned(hw_sides *sides)
{
    hw_reading *left = NULL, *right = NULL;
    for (size_t i = 0; i < sides->count; i++) {
        left = sides->reading[i].from == HW_FROM_LEFT ? &sides->reading[i] : left;
        right = sides->reading[i].from == HW_FROM_RIGHT ? &sides->reading[i] : right;
    }
    if (!left || !right) {
        return;
    }
    size_t found = hw_side_pairs_of(left, right, sides->pair, HW_SIDE_PAIRS_MOST);
    sides->pair_count = found < HW_SIDE_PAIRS_MOST ? found : HW_SIDE_PAIRS_MOST;
    for (size_t i = 0; i < sides->pair_count; i++) {
        if (sides->pair[i].turned) {
            hw_reading_turn(left, sides->pair[i].patch);
            hw_reading_turn(right, sides->pair[i].patch);
        }
    }
}

hw_status hw_steps_read_sides(const hw_read_request *request, size_t count, const hw_limits *limits,
                              hw_sides *out, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_status status = HW_OK;
    for (size_t i = 0; i < count && i < HW_SIDES_MOST && status == HW_OK; i++) {
        const hw_reading *first = out->count > 0 ? &out->reading[0] : NULL;
        status = read_side(request, i, first, &bounds, &out->reading[out->count], err);
        out->count += status == HW_OK;
    }
    if (status == HW_OK) {
        find_turned(out);
    } else {
        hw_sides_free(out);
    }
    return status;
}
