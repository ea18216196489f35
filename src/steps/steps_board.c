// steps_board.c: a photo of a step board: photo, mark, card, sample of each strip, a fit for each dye, and
// only when all of them are good, each onto the shelf.
//
// A strip is a mark of the role board_strip named "DYE n" or "DYE n coated". For the stages before the fit
// it is a piece of wood like a repair, with the same tests; marks of old wood and repairs on the photo
// are left aside.
#include "steps_internal.h"

#include <math.h>
#include <string.h>

// ---- Strips by name ----------------------------------------------------------------

typedef struct strip_name {
    char dye[HW_NAME_SIZE];
    int passes;
    bool coated, left_aside;
} strip_name;

static bool ends_in(const char *text, size_t length, const char *end)
{
    size_t end_length = strlen(end);
    return length > end_length && memcmp(text + length - end_length, end, end_length) == 0;
}

static hw_status parse_name(const char *name, strip_name *out, hw_error *err)
{
    size_t length = strlen(name), digits = 0;
    *out = (strip_name){.coated = ends_in(name, length, " coated")};
    length -= out->coated ? strlen(" coated") : 0;
    int times = 1;
    while (digits < length && name[length - 1 - digits] >= '0' &&
           name[length - 1 - digits] <= '9' && digits < 3) {
        out->passes += times * (name[length - 1 - digits] - '0');
        times *= 10;
        digits++;
    }
    length -= digits;
    if (digits == 0 || out->passes > HW_BOARD_PASSES_MOST || length < 2 ||
        name[length - 1] != ' ') {
        return hw_fail(err, HW_ERR_CALL, "strip-name", name,
                       "Name each strip by its dye and its passes: \"walnut 2\", or \"walnut 2 "
                       "coated\" under a clear coat.",
                       "this is no name of a strip with 0 to %d passes", HW_BOARD_PASSES_MOST);
    }
    memcpy(out->dye, name, length - 1);
    out->dye[length - 1] = 0;
    return HW_OK;
}

// ---- What one call holds -----------------------------------------------------------

#define DYES_MOST 16 // of one photo

typedef struct boarding {
    const hw_stepboard_request *request;
    hw_limits limits;
    char path[1024];
    hw_shelf shelf;
    hw_photo *photo, *sheet;
    hw_marks marks;     // references, and the strips as wood
    strip_name *name;   // of each mark of `marks`
    hw_sample *samples; // likewise
    hw_light light;
    hw_dye dye[DYES_MOST]; // as they shall stand but for the board
    size_t dye_count;
    hw_taught result;
} boarding;

static void free_boarding(boarding *work)
{
    for (size_t i = 0; work->samples && i < work->marks.count; i++) {
        hw_sample_free(&work->samples[i]);
    }
    hw_free(work->samples);
    hw_free(work->name);
    hw_marks_free(&work->marks);
    hw_photo_free(work->sheet);
    hw_photo_free(work->photo);
    hw_shelf_free(&work->shelf);
    hw_taught_free(&work->result);
}

static bool is_strip(const boarding *work, size_t mark)
{
    return work->name[mark].dye[0] != 0;
}

// ---- Dyes --------------------------------------------------------------------------

static const hw_dye *find_dye(const boarding *work, const char *name)
{
    for (size_t i = 0; i < work->dye_count; i++) {
        if (strcmp(work->dye[i].name, name) == 0) {
            return &work->dye[i];
        }
    }
    return NULL;
}

// A dye by "NAME=FAMILY", by its name on the shelf, or by a family's name.
static hw_status add_dye(boarding *work, const char *text, hw_error *err)
{
    const char *equals = strrchr(text, '=');
    size_t length = equals ? (size_t)(equals - text) : strlen(text);
    hw_dye dye = {0};
    if (length >= sizeof dye.name) {
        return hw_fail(err, HW_ERR_CALL, "dye-name", text, "Use a short plain name.",
                       "this cannot be the name of a dye");
    }
    memcpy(dye.name, text, length);
    const hw_dye *known = hw_shelf_find(&work->shelf, dye.name);
    hw_status status = HW_OK;
    if (known && !equals) {
        dye = *known;
    } else if (equals) {
        status = hw_steps_family(equals + 1, dye.name, &dye.family, err);
    } else if (!hw_family_from_name(dye.name, &dye.family)) {
        hw_error unknown = {0};
        hw_status refused = hw_steps_refuse_dye(dye.name, &work->shelf, &unknown);
        return hw_fail(err, refused, unknown.code, dye.name,
                       "Say what family it looks like: --dye \"NAME=FAMILY\", as --dye "
                       "\"walnut=brown\".",
                       "%s, and no family of this name", unknown.what);
    }
    if (status == HW_OK) {
        status = hw_steps_check_dye(dye.name, dye.family, err);
    }
    if (status != HW_OK) {
        return status;
    }
    if (find_dye(work, dye.name)) {
        return hw_fail(err, HW_ERR_CALL, "dye-twice", dye.name, "Name each dye once.",
                       "this dye is named twice");
    }
    if (work->dye_count == DYES_MOST) {
        return hw_fail(err, HW_ERR_CALL, "strip-many", dye.name, "Take several photos.",
                       "one photo can teach %d dyes", DYES_MOST);
    }
    if (known) {
        dye.tool = known->tool;
        hw_copy_text(dye.note, sizeof dye.note, known->note);
        dye.made = known->made;
    }
    work->dye[work->dye_count++] = dye;
    return HW_OK;
}

static hw_status find_dyes(boarding *work, hw_error *err)
{
    const hw_stepboard_request *request = work->request;
    hw_status status = HW_OK;
    for (size_t i = 0; i < request->dye_count && status == HW_OK; i++) {
        status = add_dye(work, request->dye[i], err);
    }
    for (size_t i = 0; i < work->marks.count && status == HW_OK; i++) {
        if (is_strip(work, i) && !find_dye(work, work->name[i].dye)) {
            status = add_dye(work, work->name[i].dye, err);
        }
    }
    for (size_t i = 0; i < work->dye_count && status == HW_OK; i++) {
        status = hw_steps_say_more(request->tool, request->note, &work->dye[i], err);
    }
    if (status == HW_OK && request->made && work->dye_count > 1) {
        return hw_fail(err, HW_ERR_CALL, "made-several", request->made,
                       "Say it of each dye by itself: huewright shelf add DYE --made \"15 drops in "
                       "4 fl oz\".",
                       "this board shows %zu dyes, and it is not said of which this is",
                       work->dye_count);
    }
    return status == HW_OK && work->dye_count > 0
               ? hw_steps_say_made(request->made, &work->dye[0], err)
               : status;
}

// ---- Marks and light ---------------------------------------------------------------

// References as they are; strips as wood; the rest is left aside.
static hw_status take_marks(boarding *work, const hw_marks *from, hw_error *err)
{
    size_t aside = 0, strips = 0;
    work->name = hw_alloc_array(from->count, sizeof *work->name);
    if (!work->name) {
        return hw_fail_memory(err, "reading the marks");
    }
    work->marks.width_px = from->width_px;
    work->marks.height_px = from->height_px;
    for (size_t i = 0; i < from->count; i++) {
        hw_role role = from->mark[i].role;
        if (hw_role_is_wood(role)) {
            aside++;
            continue;
        }
        hw_status status = hw_marks_take(from, i, &work->marks, err);
        if (status == HW_OK && role == HW_ROLE_BOARD_STRIP) {
            size_t at = work->marks.count - 1;
            work->marks.mark[at].role = HW_ROLE_PATCH;
            work->marks.mark[at].kind = HW_KIND_BOARD;
            strips++;
            status = parse_name(from->mark[i].name, &work->name[at], err);
        }
        if (status != HW_OK) {
            return status;
        }
    }
    if (aside > 0) {
        hw_warn(&work->result.warnings,
                "%zu mark%s of old wood or repairs: left aside, since this is a step board.", aside,
                aside == 1 ? "" : "s");
    }
    if (strips == 0) {
        return hw_fail(err, HW_ERR_CALL, "strip-missing", work->request->read.photo_path,
                       "Mark each strip: --strip \"walnut 0=x,y,width,height\" --strip \"walnut "
                       "1=...\".",
                       "no strip of a step board is marked on it");
    }
    return HW_OK;
}

// A card that was found stands behind the marks that were given, and is no strip.
static hw_status place_card(boarding *work, hw_error *err)
{
    size_t given = work->marks.count;
    hw_status status =
        hw_steps_place_card(work->photo, work->request->read.is_the_card, NULL, NULL, &work->limits,
                            &work->marks, &work->result.warnings, err);
    strip_name *grown =
        status == HW_OK ? hw_resize_array(work->name, work->marks.count, sizeof *grown) : NULL;
    if (!grown) {
        return status == HW_OK ? hw_fail_memory(err, "reading the marks") : status;
    }
    work->name = grown;
    memset(grown + given, 0, (work->marks.count - given) * sizeof *grown);
    return HW_OK;
}

static hw_status open_photo(boarding *work, hw_error *err)
{
    const hw_read_request *read = &work->request->read;
    hw_marks marks = {0};
    hw_status status = hw_steps_marks(read, &work->limits, &marks, &work->result.warnings, err);
    if (status == HW_OK) {
        status = take_marks(work, &marks, err);
    }
    if (status == HW_OK) {
        status = find_dyes(work, err); // before the photo, which takes longer
    }
    if (status == HW_OK) {
        status = hw_photo_load(read->photo_path, &work->limits, &work->photo, err);
    }
    if (status == HW_OK && read->sheet_path) {
        status = hw_photo_load(read->sheet_path, &work->limits, &work->sheet, err);
    }
    if (status == HW_OK) {
        status = place_card(work, err);
    }
    hw_marks_free(&marks);
    return status;
}

// A strip that cannot be read is left aside with a word; the others say enough, or the fit says that they do
// not.
static hw_status read_strip(boarding *work, size_t i, hw_error *err)
{
    hw_error why = {0};
    hw_status status = hw_sample_take(work->photo, &work->light, &work->marks.mark[i],
                                      &work->samples[i], &work->result.warnings, &why);
    if (status == HW_ERR_INPUT) {
        work->name[i].left_aside = true;
        hw_warn(&work->result.warnings, "%s: this strip is left aside: %s. %s", why.subject,
                why.what, why.next);
        return HW_OK;
    }
    return status == HW_OK ? HW_OK
                           : hw_fail(err, status, why.code, why.subject, why.next, "%s", why.what);
}

static hw_status read_strips(boarding *work, hw_error *err)
{
    const hw_read_request *read = &work->request->read;
    hw_card_options card = {
        .has_lab = read->has_card_lab, .lab = read->card_lab, .sheet = work->sheet};
    hw_status status = hw_card_read(work->photo, &work->marks, &card, &work->light, err);
    if (status != HW_OK) {
        return status;
    }
    hw_warnings_append(&work->result.warnings, &hw_photo_facts_of(work->photo)->warnings);
    hw_warnings_append(&work->result.warnings, &work->light.warnings);
    work->samples = hw_alloc_array(work->marks.count, sizeof *work->samples);
    if (!work->samples) {
        return hw_fail_memory(err, "sampling the strips");
    }
    for (size_t i = 0; i < work->marks.count && status == HW_OK; i++) {
        if (is_strip(work, i)) {
            status = read_strip(work, i, err);
        }
    }
    return status;
}

// ---- One dye -----------------------------------------------------------------------

// The sample of the strip without toner that a strip is read against: its own part's, or the bare one.
static const hw_sample *zero_of(const boarding *work, const char *dye, bool coated)
{
    const hw_sample *found = NULL;
    for (size_t i = 0; i < work->marks.count; i++) {
        const strip_name *name = &work->name[i];
        bool zero = is_strip(work, i) && !name->left_aside && name->passes == 0 &&
                    strcmp(name->dye, dye) == 0;
        if (zero && (!found || name->coated == coated)) {
            found = &work->samples[i];
        }
    }
    return found;
}

// Its row of strips; *most the bare strip with most passes, whose change shows sizes best.
static size_t row_of(const boarding *work, const char *dye, hw_strip *strips, double *most,
                     hw_covariance *size)
{
    size_t count = 0;
    *most = 0.0;
    for (size_t i = 0; i < work->marks.count; i++) {
        const strip_name *name = &work->name[i];
        if (!is_strip(work, i) || name->left_aside || strcmp(name->dye, dye) != 0) {
            continue;
        }
        const hw_sample *zero = zero_of(work, dye, name->coated);
        hw_covariance shared;
        hw_strip *strip = &strips[count++];
        *strip =
            (hw_strip){.passes = name->passes, .coated = name->coated, .lab = work->samples[i].lab};
        hw_compare_strip_doubt(&work->samples[i], zero ? zero : &work->samples[i], &work->light,
                               &strip->covariance, &shared);
        if (!name->coated && name->passes > *most) {
            *most = name->passes;
            *size = shared;
        }
    }
    return count;
}

// The dye goes to place `to` of the results.
static hw_status fit_dye(boarding *work, size_t index, size_t to, int64_t now, hw_error *err)
{
    hw_dye *dye = &work->dye[index], *out = &work->result.dye[to];
    hw_strip *strips = hw_alloc_array(work->marks.count, sizeof *strips);
    if (!strips) {
        return hw_fail_memory(err, "reading the step board");
    }
    double most = 0.0;
    hw_covariance size = {{{0}}};
    hw_board *board = &work->result.board[to];
    size_t count = row_of(work, dye->name, strips, &most, &size);
    hw_status status = hw_board_fit(dye->name, strips, count, board, err);
    hw_free(strips);
    if (status != HW_OK) {
        return status;
    }
    hw_board_doubt_sizes(board, most, &size);
    *out = hw_board_dye(board);
    out->family = dye->family;
    out->tool = dye->tool;
    out->learned_at = now;
    hw_copy_text(out->note, sizeof out->note, dye->note);
    out->made = dye->made;
    const hw_dye *old = hw_shelf_find(&work->shelf, dye->name);
    work->result.change[to] = !old ? HW_DYE_ADDED : !old->guess ? HW_DYE_REPLACED : HW_DYE_CHANGED;
    return HW_OK;
}

static bool has_left_aside(const boarding *work, const char *dye)
{
    for (size_t i = 0; i < work->marks.count; i++) {
        if (is_strip(work, i) && work->name[i].left_aside && strcmp(work->name[i].dye, dye) == 0) {
            return true;
        }
    }
    return false;
}

static hw_status fit_dyes(boarding *work, int64_t now, hw_error *err)
{
    hw_taught *result = &work->result;
    result->board = hw_alloc_array(work->dye_count, sizeof *result->board);
    result->dye = hw_alloc_array(work->dye_count, sizeof *result->dye);
    result->change = hw_alloc_array(work->dye_count, sizeof *result->change);
    if (!result->board || !result->dye || !result->change) {
        return hw_fail_memory(err, "reading the step board");
    }
    hw_status status = HW_OK;
    for (size_t i = 0; i < work->dye_count && status == HW_OK; i++) {
        hw_error why = {0};
        status = fit_dye(work, i, result->count, now, &why);
        bool last = i + 1 == work->dye_count && result->count == 0;
        if (status == HW_OK) {
            result->count++;
        } else if (last || status == HW_ERR_STORAGE ||
                   (status == HW_ERR_CALL && !has_left_aside(work, work->dye[i].name))) {
            // A wrong call, or nothing is learned from this photo.
            return hw_fail(err, status, why.code, why.subject, why.next, "%s", why.what);
        } else {
            hw_warn(&result->warnings, "%s is not learned from this board: %s. %s", why.subject,
                    why.what, why.next);
            status = HW_OK;
        }
    }
    return status == HW_OK ? hw_shelf_put_board(work->path, &work->limits, work->request->entry,
                                                now, result, err)
                           : status;
}

hw_status hw_steps_stepboard_said(const hw_stepboard_request *request, const hw_limits *limits,
                                  hw_taught *out, hw_error *err)
{
    char path[1024];
    hw_limits bounds = hw_steps_limits(limits);
    hw_status status = hw_steps_shelf_path(request->shelf_path, path, sizeof path, err);
    return status == HW_OK && request->entry
               ? hw_shelf_taught(path, &bounds, request->entry, out, err)
               : status;
}

hw_status hw_steps_stepboard(const hw_stepboard_request *request, const hw_limits *limits,
                             int64_t now, hw_taught *out, hw_error *err)
{
    hw_taught before = {0};
    hw_status status = hw_steps_stepboard_said(request, limits, &before, err);
    if (status != HW_OK || before.again) {
        *out = status == HW_OK ? before : *out;
        return status;
    }
    boarding *work = hw_alloc_array(1, sizeof *work);
    if (!work) {
        return hw_fail_memory(err, "reading the step board");
    }
    work->request = request;
    work->limits = hw_steps_limits(limits);
    status = hw_steps_shelf_path(request->shelf_path, work->path, sizeof work->path, err);
    if (status == HW_OK) {
        status = hw_shelf_load(work->path, &work->limits, &work->shelf, err);
    }
    if (status == HW_OK) {
        status = open_photo(work, err);
    }
    if (status == HW_OK) {
        status = read_strips(work, err);
    }
    if (status == HW_OK) {
        status = fit_dyes(work, now, err);
    }
    if (status == HW_OK) {
        *out = work->result;
        work->result = (hw_taught){0};
    }
    free_boarding(work);
    hw_free(work);
    return status;
}
