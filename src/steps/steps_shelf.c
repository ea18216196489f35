// steps_shelf.c: the dyes in use, a dye put on the shelf, a dye taken off it.
//
// What always holds: nothing that was learned is lost without being asked for. A dye that is added again
// without readings keeps what a board taught of it; only readings, or another family, replace that, and it
// is said.
#include "steps_internal.h"

#include <string.h>

// ---- The dyes in use ---------------------------------------------------------------

// The nine guesses, with what was seen of them under their families' names, and of coats.
static hw_status use_guesses(hw_shelf *shelf, hw_shelf *out, hw_error *err)
{
    hw_shelf guesses = {0};
    hw_status status = hw_shelf_guesses(&guesses, err);
    if (status == HW_OK) {
        guesses.seen = shelf->seen;
        guesses.seen_count = shelf->seen_count;
        guesses.coat = shelf->coat;
        guesses.coat_count = shelf->coat_count;
        shelf->seen = NULL;
        shelf->coat = NULL;
        *out = guesses;
    }
    hw_shelf_free(shelf);
    return status;
}

static hw_status refuse_missing(const char *path, hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "shelf-missing", path,
                   "Check the name of the shelf file, or leave it away to use your own shelf.",
                   "there is no such shelf file");
}

hw_status hw_steps_shelf(const char *shelf_path, const hw_limits *limits, hw_shelf *out,
                         char *used_path, size_t size, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_shelf shelf = {0};
    hw_copy_text(used_path, size, "");
    if (shelf_path && !hw_file_exists(shelf_path)) {
        return refuse_missing(shelf_path, err);
    }
    if (shelf_path) {
        hw_copy_text(used_path, size, shelf_path);
    } else if (!hw_shelf_user_path(used_path, size)) {
        return hw_shelf_guesses(out, err);
    }
    hw_status status = hw_shelf_load(shelf_path ? shelf_path : used_path, &bounds, &shelf, err);
    if (status == HW_OK && shelf.count == 0) {
        return use_guesses(&shelf, out, err);
    }
    if (status == HW_OK) {
        *out = shelf;
    }
    return status;
}

hw_status hw_steps_shelf_path(const char *shelf_path, char *out, size_t size, hw_error *err)
{
    bool known = shelf_path ? hw_copy_text(out, size, shelf_path) : hw_shelf_user_path(out, size);
    if (!known || !out[0]) {
        return hw_fail(err, HW_ERR_CALL, "shelf-nowhere", shelf_path ? shelf_path : "the shelf",
                       "Name a file with --shelf FILE.",
                       "there is no place known for a shelf file of yours");
    }
    return HW_OK;
}

hw_status hw_steps_refuse_dye(const char *dye, const hw_shelf *shelf, hw_error *err)
{
    char names[320] = "", next[480];
    for (size_t i = 0; i < shelf->count; i++) {
        hw_steps_add_name(names, sizeof names, shelf->dye[i].name);
    }
    for (int i = 0; i < HW_FAMILY_COUNT; i++) {
        const char *family = hw_family_name((hw_family)i);
        if (!hw_shelf_find(shelf, family)) {
            hw_steps_add_name(names, sizeof names, family);
        }
    }
    hw_format_text(next, sizeof next, "Name one of: %s.", names);
    return hw_fail(err, HW_ERR_CALL, "dye-unknown", dye, next, "there is no such dye on the shelf");
}

// ---- What was typed ----------------------------------------------------------------

hw_status hw_steps_family(const char *name, const char *dye, hw_family *out, hw_error *err)
{
    char names[200] = "", next[320];
    if (hw_family_from_name(name, out)) {
        return HW_OK;
    }
    for (int i = 0; i < HW_FAMILY_COUNT; i++) {
        hw_steps_add_name(names, sizeof names, hw_family_name((hw_family)i));
    }
    hw_format_text(next, sizeof next, "Name the family that it looks like: %s.", names);
    return hw_fail(err, HW_ERR_CALL, "family-unknown", name && *name ? name : dye, next,
                   name && *name ? "there is no such family of dyes" : "its family was not said");
}

hw_status hw_steps_check_dye(const char *name, hw_family family, hw_error *err)
{
    hw_family called;
    if (!hw_name_is_usable(name) || strchr(name, '=')) {
        return hw_fail(err, HW_ERR_CALL, "dye-name", name,
                       "Use a short plain name without =, as walnut or red 2.",
                       "this cannot be the name of a dye");
    }
    if (hw_family_from_name(name, &called) && called != family) {
        return hw_fail(
            err, HW_ERR_CALL, "dye-name", name, "Give it a name of its own, or that family.",
            "a dye of the family %s cannot be called as another family is", hw_family_name(family));
    }
    return HW_OK;
}

hw_status hw_steps_say_more(const char *tool, const char *note, hw_dye *dye, hw_error *err)
{
    if (tool && !hw_tool_from_name(tool, &dye->tool)) {
        return hw_fail(err, HW_ERR_CALL, "tool-unknown", tool, "Name spray, brush, pad or wipe.",
                       "there is no such tool");
    }
    if (note && (!hw_is_utf8(note, strlen(note)) || strlen(note) >= sizeof dye->note)) {
        return hw_fail(err, HW_ERR_CALL, "note-text", "the note", "Write a shorter note.",
                       "it is longer than %zu bytes or no readable text", sizeof dye->note - 1);
    }
    if (note) {
        hw_copy_text(dye->note, sizeof dye->note, note);
    }
    return HW_OK;
}

hw_status hw_steps_say_made(const char *made, hw_dye *dye, hw_error *err)
{
    return made ? hw_parse_made(made, &dye->made, err) : HW_OK;
}

// ---- Readings of a board, typed ----------------------------------------------------

// A reading by hand repeats within 0.3 of L*, a*, b* (s.d.; chosen).
static const double u_typed = 0.3;

// One "L,a,b" of *text, which moves on behind it and the blanks that follow.
static bool next_reading(const char **text, hw_lab *out)
{
    double value[3];
    for (int i = 0; i < 3; i++) {
        char number[40];
        size_t length = strcspn(*text, ", ");
        bool comma = (*text)[length] == ',';
        if (length >= sizeof number || comma != (i < 2)) {
            return false;
        }
        memcpy(number, *text, length);
        number[length] = 0;
        if (!hw_parse_number(number, false, &value[i])) {
            return false;
        }
        *text += length + comma;
    }
    *text += strspn(*text, " ");
    *out = (hw_lab){value[0], value[1], value[2]};
    return true;
}

static hw_status fit_typed(const char *dye, const char *steps, hw_board *out, hw_error *err)
{
    hw_strip *strips = hw_alloc_array(HW_BOARD_PASSES_MOST + 1, sizeof *strips);
    size_t count = 0;
    const double variance = u_typed * u_typed;
    hw_status status = strips ? HW_OK : hw_fail_memory(err, "reading the step board");
    const char *at = steps + strspn(steps, " ");
    while (status == HW_OK && *at) {
        hw_lab lab;
        if (count > HW_BOARD_PASSES_MOST || !next_reading(&at, &lab)) {
            status = hw_fail(err, HW_ERR_CALL, "board-steps", steps,
                             "Write the readings for 0, 1, 2 ... passes as L,a,b with a blank "
                             "between two: \"62,12,28 59.6,12.9,29\".",
                             "reading %zu cannot be read", count + 1);
            break;
        }
        strips[count] =
            (hw_strip){.passes = (double)count,
                       .lab = lab,
                       .covariance = hw_covariance_diagonal(variance, variance, variance)};
        count++;
    }
    if (status == HW_OK) {
        status = hw_board_fit(dye, strips, count, out, err);
    }
    hw_free(strips);
    return status;
}

// ---- On the shelf and off it -------------------------------------------------------

// The dye as it shall stand: what the board says, or what is known of it already, or the guess.
static hw_status make_dye(const hw_dye_request *request, const hw_dye *old, int64_t now,
                          hw_dye *dye, hw_dye_change *change, hw_board *board, hw_error *err)
{
    hw_family family = HW_FAMILY_AMBER;
    const char *said = request->family ? request->family : old ? hw_family_name(old->family) : NULL;
    hw_status status = hw_steps_family(said, request->name, &family, err);
    if (status == HW_OK) {
        status = hw_steps_check_dye(request->name, family, err);
    }
    if (status == HW_OK && request->steps) {
        status = fit_typed(request->name, request->steps, board, err);
    }
    if (status != HW_OK) {
        return status;
    }
    if (request->steps) {
        *dye = hw_board_dye(board);
        dye->family = family;
        dye->learned_at = now;
    } else if (old && old->family == family) {
        *dye = *old;
    } else {
        *dye = hw_dye_guess(family);
        hw_copy_text(dye->name, sizeof dye->name, request->name);
    }
    if (old) {
        dye->tool = old->tool;
        hw_copy_text(dye->note, sizeof dye->note, old->note);
        dye->made = old->made;
    }
    *change = !old                                                       ? HW_DYE_ADDED
              : !old->guess && (request->steps || old->family != family) ? HW_DYE_REPLACED
                                                                         : HW_DYE_CHANGED;
    status = hw_steps_say_more(request->tool, request->note, dye, err);
    return status == HW_OK ? hw_steps_say_made(request->made, dye, err) : status;
}

hw_status hw_steps_shelf_add(const hw_dye_request *request, const hw_limits *limits, int64_t now,
                             hw_dye *dye, hw_dye_change *change, hw_board *board, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    hw_shelf shelf = {0};
    hw_dye made = {0};
    hw_board fitted = {0};
    char path[1024];
    hw_status status = hw_steps_shelf_path(request->shelf_path, path, sizeof path, err);
    if (status == HW_OK) {
        status = hw_shelf_load(path, &bounds, &shelf, err);
    }
    if (status == HW_OK) {
        status = make_dye(request, hw_shelf_find(&shelf, request->name), now, &made, change,
                          &fitted, err);
    }
    if (status == HW_OK) {
        status = hw_shelf_put_dye(path, &bounds, &made, err);
    }
    if (status == HW_OK) {
        *dye = made;
        *board = fitted;
    } else {
        hw_board_free(&fitted);
    }
    hw_shelf_free(&shelf);
    return status;
}

// The path of a shelf that something is taken off.
static hw_status path_of_known(const char *shelf_path, char *out, size_t size, hw_error *err)
{
    if (shelf_path && !hw_file_exists(shelf_path)) {
        return refuse_missing(shelf_path, err);
    }
    return hw_steps_shelf_path(shelf_path, out, size, err);
}

hw_status hw_steps_shelf_remove(const char *shelf_path, const char *name, const hw_limits *limits,
                                size_t *seen_gone, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    char path[1024];
    hw_status status = path_of_known(shelf_path, path, sizeof path, err);
    return status == HW_OK ? hw_shelf_remove_dye(path, &bounds, name, seen_gone, err) : status;
}

hw_status hw_steps_shelf_forget_coats(const char *shelf_path, const hw_limits *limits,
                                      size_t *seen_gone, hw_error *err)
{
    hw_limits bounds = hw_steps_limits(limits);
    char path[1024];
    hw_status status = path_of_known(shelf_path, path, sizeof path, err);
    return status == HW_OK ? hw_shelf_remove_coats(path, &bounds, seen_gone, err) : status;
}

// ---- What is known ---------------------------------------------------------------------

hw_status hw_steps_shelf_known(const hw_shelf *shelf, hw_known *out, hw_error *err)
{
    return hw_tone_learn_own(shelf, out, err);
}
