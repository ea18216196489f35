// cli_marks.c: marks and the card's colour from options: --card R --target NAME=R --patch NAME=R,
// further references, --beside PATCH=T1,T2 and --kind PATCH=board, or all of them from --marks FILE.
#include "cli_internal.h"

#include <string.h>

// ---- Regions -----------------------------------------------------------------------

static hw_status add_named(const cli_call *call, const char *option, hw_role role, hw_marks *marks,
                           hw_error *err)
{
    hw_limits limits = hw_limits_default();
    size_t at = 0;
    for (const char *text; (text = cli_next_value(call, option, &at)) != NULL;) {
        char name[HW_NAME_SIZE];
        const char *region = NULL;
        hw_status status = cli_split(option, text, false, name, sizeof name, &region, err);
        if (status == HW_OK) {
            status = hw_marks_add(marks, role, name, region, &limits, err);
        }
        if (status != HW_OK) {
            return status;
        }
    }
    return HW_OK;
}

// card, card 2, card 3: the first one is what the colour is read from.
static hw_status add_cards(const cli_call *call, hw_marks *marks, hw_error *err)
{
    hw_limits limits = hw_limits_default();
    size_t at = 0;
    int number = 1;
    hw_status status = HW_OK;
    for (const char *text; status == HW_OK && (text = cli_next_value(call, "card", &at)) != NULL;) {
        char name[HW_NAME_SIZE] = "card";
        if (number > 1) {
            hw_format_text(name, sizeof name, "card %d", number);
        }
        number++;
        status = hw_marks_add(marks, HW_ROLE_CARD, name, text, &limits, err);
    }
    return status;
}

static hw_mark *find_patch(hw_marks *marks, const char *name)
{
    for (size_t i = 0; i < marks->count; i++) {
        if (marks->mark[i].role == HW_ROLE_PATCH && strcmp(marks->mark[i].name, name) == 0) {
            return &marks->mark[i];
        }
    }
    return NULL;
}

// The patch and the rest of "PATCH=REST".
static hw_status split_patch(const char *option, const char *text, hw_marks *marks, hw_mark **patch,
                             const char **rest, hw_error *err)
{
    char name[HW_NAME_SIZE];
    hw_status status = cli_split(option, text, false, name, sizeof name, rest, err);
    if (status != HW_OK) {
        return status;
    }
    *patch = find_patch(marks, name);
    if (!*patch) {
        return hw_fail(err, HW_ERR_CALL, "mark-beside", name, "Mark it with --patch NAME=R.",
                       "--%s names a repair that is not marked", option);
    }
    return HW_OK;
}

// ---- Beside and kind ---------------------------------------------------------------

static size_t names_in(const char *list)
{
    size_t count = 1;
    for (; *list; list++) {
        count += *list == ',';
    }
    return count;
}

static hw_status set_beside(const char *text, hw_marks *marks, hw_error *err)
{
    hw_mark *patch = NULL;
    const char *list = NULL;
    hw_status status = split_patch("beside", text, marks, &patch, &list, err);
    if (status != HW_OK) {
        return status;
    }
    if (patch->beside_count > 0) {
        return hw_fail(err, HW_ERR_CALL, "option-twice", patch->name,
                       "Give all its names in one --beside, parted by commas.",
                       "--beside is given twice for this repair");
    }
    size_t count = names_in(list);
    patch->beside = hw_alloc_array(count, sizeof *patch->beside);
    if (!patch->beside) {
        return hw_fail_memory(err, "reading the command line");
    }
    for (size_t i = 0; i < count; i++) {
        size_t length = strcspn(list, ",");
        if (length == 0 || length >= HW_NAME_SIZE) {
            return hw_fail(err, HW_ERR_CALL, "mark-beside", text,
                           "Write --beside PATCH=T1,T2 with the names of old wood.",
                           "it has a name of old wood with %zu bytes", length);
        }
        memcpy(patch->beside[i], list, length);
        patch->beside_count = i + 1;
        list += length + (list[length] == ',');
    }
    return HW_OK;
}

static hw_status set_kind(const char *text, hw_marks *marks, hw_error *err)
{
    hw_mark *patch = NULL;
    const char *kind = NULL;
    hw_status status = split_patch("kind", text, marks, &patch, &kind, err);
    if (status != HW_OK) {
        return status;
    }
    if (strcmp(kind, hw_kind_name(HW_KIND_BOARD)) == 0) {
        patch->kind = HW_KIND_BOARD;
    } else if (strcmp(kind, hw_kind_name(HW_KIND_LET_IN)) == 0) {
        patch->kind = HW_KIND_LET_IN;
    } else {
        return hw_fail(err, HW_ERR_CALL, "mark-kind", text,
                       "Write let_in for a patch that meets old wood at a joint, board for a whole "
                       "board.",
                       "there is no such kind of repair");
    }
    return HW_OK;
}

static hw_status set_each(const cli_call *call, const char *option, hw_marks *marks,
                          hw_status (*set)(const char *, hw_marks *, hw_error *), hw_error *err)
{
    size_t at = 0;
    for (const char *text; (text = cli_next_value(call, option, &at)) != NULL;) {
        hw_status status = set(text, marks, err);
        if (status != HW_OK) {
            return status;
        }
    }
    return HW_OK;
}

static hw_status marks_from_options(const cli_call *call, hw_marks *marks, hw_error *err)
{
    static const struct {
        const char *option;
        hw_role role;
    } named[] = {{"neutral", HW_ROLE_NEUTRAL},
                 {"field", HW_ROLE_FIELD},
                 {"target", HW_ROLE_TARGET},
                 {"patch", HW_ROLE_PATCH},
                 {"strip", HW_ROLE_BOARD_STRIP}}; // an option of stepboard alone
    hw_limits limits = hw_limits_default();
    const char *chart = cli_value(call, "chart");
    hw_status status = add_cards(call, marks, err);
    if (status == HW_OK && chart) {
        status = hw_marks_add(marks, HW_ROLE_CHART, HW_WHOLE_CHART, chart, &limits, err);
    }
    for (size_t i = 0; i < sizeof named / sizeof *named && status == HW_OK; i++) {
        status = add_named(call, named[i].option, named[i].role, marks, err);
    }
    if (status == HW_OK) {
        status = set_each(call, "beside", marks, set_beside, err);
    }
    return status == HW_OK ? set_each(call, "kind", marks, set_kind, err) : status;
}

// ---- The card ----------------------------------------------------------------------

// "L,a,b". A card is neither black nor glowing, and never as coloured as paint: bounds against a
// slip of the keys (chosen).
static bool parse_lab(const char *text, hw_lab *out)
{
    double value[3];
    for (int i = 0; i < 3; i++) {
        char number[40];
        size_t length = strcspn(text, ",");
        bool last = i == 2;
        if (length >= sizeof number || (text[length] == ',') == last) {
            return false;
        }
        memcpy(number, text, length);
        number[length] = 0;
        const char *start = number + strspn(number, " ");
        if (!hw_parse_number(start, false, &value[i])) {
            return false;
        }
        text += length + (last ? 0 : 1);
    }
    *out = (hw_lab){value[0], value[1], value[2]};
    return hw_card_can_be(*out);
}

hw_status cli_take_card_lab(const cli_call *call, bool *given, hw_lab *out, hw_error *err)
{
    const char *lab = cli_value(call, "card-lab");
    if (lab && !parse_lab(lab, out)) {
        return hw_fail(err, HW_ERR_CALL, "card-lab", lab,
                       "Write --card-lab L,a,b as measured under D50, for example 49.6,-0.2,0.4.",
                       "this is no colour of a grey card");
    }
    *given = lab != NULL;
    return HW_OK;
}

hw_status cli_read_request(const cli_call *call, const char *photo, hw_read_request *request,
                           hw_error *err)
{
    static const char *const parts[] = {"target", "patch", "beside", "kind", "strip"};
    *request = (hw_read_request){.photo_path = photo,
                                 .marks_path = cli_value(call, "marks"),
                                 .sheet_path = cli_value(call, "sheet"),
                                 .lamp = cli_value(call, "lamp"),
                                 .camera = cli_value(call, "camera"),
                                 .cameras_path = cli_value(call, "cameras"),
                                 .plain_camera = cli_has(call, "plain-camera"),
                                 .now = call->now};
    if (cli_count_of(call, "marks") > 1 && call->operand_count < 2) {
        return hw_fail(err, HW_ERR_CALL, "option-twice", "--marks", "Give it once.",
                       "its marks are given twice, and there is one photo");
    }
    hw_status given = cli_take_card_lab(call, &request->has_card_lab, &request->card_lab, err);
    if (given != HW_OK) {
        return given;
    }
    for (size_t i = 0; request->marks_path && i < sizeof parts / sizeof *parts; i++) {
        if (cli_has(call, parts[i])) {
            return hw_fail(err, HW_ERR_CALL, "marks-both", request->marks_path,
                           "Give the parts in the file or by options; the card may be an option "
                           "beside the file.",
                           "--%s cannot stand beside --marks", parts[i]);
        }
    }
    hw_status status = marks_from_options(call, &request->marks, err);
    if (status != HW_OK) {
        hw_marks_free(&request->marks);
    }
    return status;
}

// ---- Several photos ----------------------------------------------------------------

hw_status cli_take_from(const char *name, hw_from *out, hw_error *err)
{
    if (name && !hw_from_from_name(name, out)) {
        return hw_fail(
            err, HW_ERR_CALL, "from-unknown", name,
            "Write --from front, --from left or --from right: where the camera stood, or "
            "the lamp where only that was moved.",
            "this is no side that a photo is taken from");
    }
    return HW_OK;
}

hw_status cli_shots_request(const cli_call *call, const char *const *photo, size_t count,
                            const char **marks_paths, hw_read_request *request, hw_error *err)
{
    size_t files = cli_count_of(call, "marks"), at = 0;
    hw_status status = cli_read_request(call, photo[0], request, err);
    if (status != HW_OK) {
        return status;
    }
    request->more_paths = photo + 1;
    request->more_count = count - 1;
    if (files > 1 && files != count) {
        hw_marks_free(&request->marks);
        return hw_fail(err, HW_ERR_CALL, "marks-count", "--marks",
                       "Give one file for all photos, or one for each, in their order.",
                       "there are %zu photos and %zu files of marks", count, files);
    }
    for (size_t i = 0; files > 1 && i < count; i++) {
        const char *path = cli_next_value(call, "marks", &at);
        if (i > 0) {
            marks_paths[i - 1] = path;
            request->more_marks_paths = marks_paths;
        }
    }
    return HW_OK;
}
