// mark_parse.c: marks from the text of options and from the marks format, and back to that format.
//
// What always holds: a call that fails leaves the marks as they were.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

static const char *const role_names[HW_ROLE_COUNT] = {
    [HW_ROLE_CARD] = "card",
    [HW_ROLE_TARGET] = "target",
    [HW_ROLE_PATCH] = "patch",
    [HW_ROLE_NEUTRAL] = "neutral",
    [HW_ROLE_CHART] = "chart",
    [HW_ROLE_FIELD] = "field",
    [HW_ROLE_BOARD_STRIP] = "board_strip",
};

const char *hw_role_name(hw_role role)
{
    return role_names[role];
}

bool hw_role_from_name(const char *name, hw_role *out)
{
    for (int role = 0; name && role < HW_ROLE_COUNT; role++) {
        if (strcmp(name, role_names[role]) == 0) {
            *out = (hw_role)role;
            return true;
        }
    }
    return false;
}

bool hw_role_is_wood(hw_role role)
{
    return role == HW_ROLE_TARGET || role == HW_ROLE_PATCH;
}

const char *hw_kind_name(hw_kind kind)
{
    return kind == HW_KIND_BOARD ? "board" : "let_in";
}

// ---- Owning ------------------------------------------------------------------------

void hw_mark_free(hw_mark *mark)
{
    if (mark) {
        hw_free(mark->points);
        hw_free(mark->beside);
        *mark = (hw_mark){0};
    }
}

void hw_marks_free(hw_marks *marks)
{
    if (marks) {
        for (size_t i = 0; i < marks->count; i++) {
            hw_mark_free(&marks->mark[i]);
        }
        hw_free(marks->mark);
        *marks = (hw_marks){0};
    }
}

static bool copy_mark(const hw_mark *from, hw_mark *out)
{
    hw_mark copy = *from;
    copy.points = hw_alloc_array(from->point_count, sizeof *copy.points);
    copy.beside = from->beside_count ? hw_alloc_array(from->beside_count, HW_NAME_SIZE) : NULL;
    if (!copy.points || (from->beside_count && !copy.beside)) {
        hw_free(copy.points);
        hw_free(copy.beside);
        return false;
    }
    if (from->point_count) { // none, where an instrument measured it
        memcpy(copy.points, from->points, from->point_count * sizeof *copy.points);
    }
    if (from->beside_count) {
        memcpy(copy.beside, from->beside, from->beside_count * HW_NAME_SIZE);
    }
    *out = copy;
    return true;
}

bool hw_marks_append(hw_marks *marks, hw_mark *mark)
{
    hw_mark *grown = hw_resize_array(marks->mark, marks->count + 1, sizeof *grown);
    if (!grown) {
        hw_mark_free(mark);
        return false;
    }
    marks->mark = grown;
    marks->mark[marks->count++] = *mark;
    *mark = (hw_mark){0};
    return true;
}

hw_status hw_marks_copy(const hw_marks *from, hw_marks *out, hw_error *err)
{
    hw_marks copy = {.width_px = from->width_px, .height_px = from->height_px};
    for (size_t i = 0; i < from->count; i++) {
        hw_status status = hw_marks_take(from, i, &copy, err);
        if (status != HW_OK) {
            hw_marks_free(&copy);
            return status;
        }
    }
    *out = copy;
    return HW_OK;
}

hw_status hw_marks_take(const hw_marks *from, size_t index, hw_marks *to, hw_error *err)
{
    hw_mark mark;
    if (!copy_mark(&from->mark[index], &mark) || !hw_marks_append(to, &mark)) {
        return hw_fail_memory(err, "copying the marks");
    }
    return HW_OK;
}

const hw_mark *hw_marks_find(const hw_marks *marks, hw_role role, const char *name)
{
    for (size_t i = 0; i < marks->count; i++) {
        const hw_mark *mark = &marks->mark[i];
        if (mark->role == role && (!name || strcmp(mark->name, name) == 0)) {
            return mark;
        }
    }
    return NULL;
}

const hw_mark *hw_marks_find_wood(const hw_marks *marks, const char *name)
{
    const hw_mark *patch = hw_marks_find(marks, HW_ROLE_PATCH, name);
    return patch ? patch : hw_marks_find(marks, HW_ROLE_TARGET, name);
}

bool hw_mark_is_beside(const hw_mark *patch, const hw_mark *target)
{
    if (target->role != HW_ROLE_TARGET) {
        return false;
    }
    for (size_t i = 0; i < patch->beside_count; i++) {
        if (strcmp(patch->beside[i], target->name) == 0) {
            return true;
        }
    }
    return patch->beside_count == 0;
}

// ---- Options -----------------------------------------------------------------------

// Numbers parted by commas or blanks. Returns how many, or -1 for anything else.
static long read_numbers(const char *text, double *out, size_t room, size_t *groups)
{
    long count = 0;
    *groups = 0;
    const char *at = text + strspn(text, " ");
    while (*at) {
        size_t word = strcspn(at, " ");
        ++*groups;
        for (const char *end = at + word; at < end;) {
            size_t length = strcspn(at, ", ");
            char number[40];
            if (length == 0 || length >= sizeof number || (size_t)count >= room) {
                return -1;
            }
            memcpy(number, at, length);
            number[length] = 0;
            if (!hw_parse_number(number, false, &out[count++])) {
                return -1;
            }
            at += length;
            if (*at == ',') {
                at++;
                if (at == end) {
                    return -1; // nothing after a comma
                }
            }
        }
        at += strspn(at, " ");
    }
    return count;
}

static hw_status refuse_region(const char *name, const char *region, hw_error *err)
{
    return hw_fail(
        err, HW_ERR_CALL, "mark-syntax", name,
        "Write x,y,width,height in pixels of the upright picture, as 120,340,200,150, or "
        "three or more corners, as '10,10 90,12 88,70'.",
        "'%.80s' is no region", region);
}

// Corners of a rectangle (x, y, width, height) or of a polygon; false when the numbers are neither. An
// empty `points` with true: memory is out.
static bool corners_of(const double *number, long count, size_t groups, hw_mark *mark)
{
    bool rectangle = count == 4 && groups == 1 && number[2] > 0.0 && number[3] > 0.0;
    bool polygon = count >= 6 && (size_t)count == 2 * groups;
    if (!rectangle && !polygon) {
        return false;
    }
    mark->point_count = rectangle ? 4 : groups;
    mark->points = hw_alloc_array(mark->point_count, sizeof *mark->points);
    for (size_t i = 0; mark->points && i < mark->point_count; i++) {
        if (polygon) {
            mark->points[i] = (hw_point){number[2 * i], number[2 * i + 1]};
        } else { // clockwise from the top left
            bool right = i == 1 || i == 2, below = i >= 2;
            mark->points[i] = (hw_point){number[0] + (right ? number[2] : 0.0),
                                         number[1] + (below ? number[3] : 0.0)};
        }
    }
    return true;
}

// A chart by its corners stands for the marks of its patches.
static bool is_whole_chart(const hw_mark *mark)
{
    return mark->role == HW_ROLE_CHART && strcmp(mark->name, HW_WHOLE_CHART) == 0;
}

hw_status hw_marks_add(hw_marks *marks, hw_role role, const char *name, const char *region,
                       const hw_limits *limits, hw_error *err)
{
    hw_limits usual = hw_limits_default();
    limits = limits ? limits : &usual;
    if (role == HW_ROLE_TARGET && name && strcmp(name, HW_NAME_OF_ALL) == 0) {
        return hw_fail(err, HW_ERR_CALL, "mark-name", name, "Give it another name.",
                       "this name stands for all the old wood beside a repair");
    }
    if (!hw_name_is_usable(name)) {
        return hw_fail(err, HW_ERR_CALL, "mark-name", name,
                       "Use letters, digits and spaces, as 'lid strip': at most 95 bytes.",
                       "this cannot be the name of a mark");
    }
    size_t room = 2 * limits->points, groups = 0;
    double *number = hw_alloc_array(room, sizeof *number);
    if (!number) {
        return hw_fail_memory(err, "reading the marks");
    }
    hw_mark mark = {.role = role};
    hw_copy_text(mark.name, sizeof mark.name, name);
    hw_status status = HW_OK;
    long count = read_numbers(region, number, room, &groups);
    bool corners = corners_of(number, count, groups, &mark);
    if (!corners && is_whole_chart(&mark)) {
        status = hw_marks_add_chart(marks, NULL, 0, err); // says what it wants
    } else if (!corners) {
        status = refuse_region(name, region, err);
    } else if (is_whole_chart(&mark) && mark.points) {
        status = hw_marks_add_chart(marks, mark.points, mark.point_count, err);
    } else if (!mark.points || !hw_marks_append(marks, &mark)) {
        status = hw_fail_memory(err, "reading the marks");
    }
    hw_free(number);
    hw_mark_free(&mark);
    return status;
}

// ---- The marks format --------------------------------------------------------------

typedef struct file {
    const char *subject;
    const hw_limits *limits;
    hw_warnings *warnings;
    hw_error *err;
} file;

static hw_status bad_format(const file *f, size_t number, const char *why)
{
    return hw_fail(f->err, HW_ERR_INPUT, "marks-format", f->subject,
                   "Mend the file: each mark needs a role, a name and a polygon of three or more "
                   "[x,y] corners.",
                   "mark %zu %s", number, why);
}

static hw_status read_polygon(const file *f, const hw_json *polygon, size_t number, hw_mark *mark)
{
    size_t count = hw_json_is_array(polygon) ? hw_json_count(polygon) : 0;
    if (count < 3 || count > f->limits->points) {
        return bad_format(f, number, "has no polygon, or one with too few or too many corners");
    }
    mark->points = hw_alloc_array(count, sizeof *mark->points);
    if (!mark->points) {
        return hw_fail_memory(f->err, "reading the marks");
    }
    const hw_json *corner = hw_json_first(polygon);
    for (; corner; corner = hw_json_next(corner)) {
        hw_point *point = &mark->points[mark->point_count++];
        const hw_json *x = hw_json_is_array(corner) ? hw_json_first(corner) : NULL;
        if (hw_json_count(corner) != 2 || !hw_json_number(x, &point->x) ||
            !hw_json_number(hw_json_next(x), &point->y)) {
            return bad_format(f, number, "has a corner that is not [x,y]");
        }
    }
    return HW_OK;
}

static hw_status read_beside(const file *f, const hw_json *beside, size_t number, hw_mark *mark)
{
    if (!beside) {
        return HW_OK;
    }
    size_t count = hw_json_count(beside);
    if (!hw_json_is_array(beside) || count > f->limits->marks) {
        return bad_format(f, number, "has a 'beside' that is no list of names");
    }
    mark->beside = count ? hw_alloc_array(count, HW_NAME_SIZE) : NULL;
    if (count && !mark->beside) {
        return hw_fail_memory(f->err, "reading the marks");
    }
    for (const hw_json *item = hw_json_first(beside); item; item = hw_json_next(item)) {
        const char *name = hw_json_text(item);
        if (!hw_name_is_usable(name)) {
            return bad_format(f, number, "has a 'beside' that is no list of names");
        }
        hw_copy_text(mark->beside[mark->beside_count++], HW_NAME_SIZE, name);
    }
    return HW_OK;
}

static hw_status read_kind(const file *f, const hw_json *kind, size_t number, hw_mark *mark)
{
    const char *text = hw_json_text(kind);
    if (kind && (!text || (strcmp(text, "let_in") != 0 && strcmp(text, "board") != 0))) {
        return bad_format(f, number, "has a kind that is neither let_in nor board");
    }
    mark->kind = text && strcmp(text, "board") == 0 ? HW_KIND_BOARD : HW_KIND_LET_IN;
    return HW_OK;
}

// Members that a person may leave out.
static hw_status read_found(const file *f, const hw_json *object, size_t number, hw_mark *mark)
{
    const double off_most_px = 1e6;
    const hw_json *found = hw_json_member(object, "found"), *off = hw_json_member(object, "off_px");
    bool good = (!found || (hw_json_number(found, &mark->found) && mark->found >= 0.0 &&
                            mark->found <= 1.0)) &&
                (!off || (hw_json_number(off, &mark->off_px) && mark->off_px >= 0.0 &&
                          mark->off_px <= off_most_px));
    return good ? HW_OK
                : bad_format(f, number, "has a 'found' that is not 0 to 1, or an odd 'off_px'");
}

static hw_status read_mark(const file *f, const hw_json *object, size_t number, hw_marks *out)
{
    hw_mark mark = {0};
    const char *role = hw_json_member_text(object, "role");
    const char *name = hw_json_member_text(object, "name");
    if (!role) {
        return bad_format(f, number, "has no role");
    }
    if (!hw_role_from_name(role, &mark.role)) {
        hw_warn(f->warnings,
                "The marks file has a role '%.40s' that this version does not know; that "
                "mark was left aside.",
                role);
        return HW_OK;
    }
    if (!name && mark.role == HW_ROLE_CARD) {
        name = "card";
    }
    bool of_all = mark.role == HW_ROLE_TARGET && name && strcmp(name, HW_NAME_OF_ALL) == 0;
    if (!hw_name_is_usable(name) || of_all) {
        return bad_format(f, number,
                          of_all ? "is named beside, which stands for all old wood"
                                 : "has no usable name");
    }
    hw_copy_text(mark.name, sizeof mark.name, name);
    hw_status status = read_polygon(f, hw_json_member(object, "polygon"), number, &mark);
    if (status == HW_OK) {
        status = read_beside(f, hw_json_member(object, "beside"), number, &mark);
    }
    if (status == HW_OK) {
        status = read_kind(f, hw_json_member(object, "kind"), number, &mark);
    }
    if (status == HW_OK) {
        status = read_found(f, object, number, &mark);
    }
    if (status == HW_OK && is_whole_chart(&mark)) {
        status = hw_marks_add_chart(out, mark.points, mark.point_count, f->err);
    } else if (status == HW_OK && !hw_marks_append(out, &mark)) {
        status = hw_fail_memory(f->err, "reading the marks");
    }
    hw_mark_free(&mark);
    return status;
}

static bool read_size(const hw_json *picture, hw_marks *out)
{
    double width, height;
    const hw_json *first = hw_json_first(picture);
    if (!picture) {
        return true;
    }
    if (!hw_json_is_array(picture) || !hw_json_number(first, &width) ||
        !hw_json_number(hw_json_next(first), &height) || !(width >= 1.0 && width < 1e9) ||
        !(height >= 1.0 && height < 1e9)) {
        return false;
    }
    out->width_px = (size_t)width;
    out->height_px = (size_t)height;
    return true;
}

hw_status hw_marks_from_tree(const hw_json *tree, const char *subject, const hw_limits *limits,
                             hw_marks *out, hw_warnings *warnings, hw_error *err)
{
    hw_limits usual = hw_limits_default();
    file f = {subject, limits ? limits : &usual, warnings, err};
    hw_marks read = {0};
    const hw_json *list = hw_json_member(tree, "marks");
    if (!hw_json_is_array(list) || !read_size(hw_json_member(tree, "picture"), &read)) {
        return hw_fail(err, HW_ERR_INPUT, "marks-format", subject,
                       "It must look like {\"picture\":[W,H],\"marks\":[...]}.",
                       "this is no file of marks");
    }
    if (hw_json_count(list) > f.limits->marks) {
        return hw_fail(err, HW_ERR_INPUT, "marks-format", subject, "Use fewer marks.",
                       "it has %zu marks, more than %zu", hw_json_count(list), f.limits->marks);
    }
    size_t number = 1;
    hw_status status = HW_OK;
    for (const hw_json *item = hw_json_first(list); item && status == HW_OK;
         item = hw_json_next(item)) {
        status = read_mark(&f, item, number++, &read);
    }
    if (status == HW_OK) {
        *out = read;
    } else {
        hw_marks_free(&read);
    }
    return status;
}

hw_status hw_marks_parse(const char *bytes, size_t length, const char *subject,
                         const hw_limits *limits, hw_marks *out, hw_warnings *warnings,
                         hw_error *err)
{
    hw_json *root = NULL;
    hw_status status = hw_json_parse(bytes, length, limits, subject, &root, err);
    if (status == HW_OK) {
        status = hw_marks_from_tree(root, subject, limits, out, warnings, err);
    }
    hw_json_free(root);
    return status;
}

static void write_mark(hw_json *list, const hw_mark *mark)
{
    hw_json *object = hw_json_add_object(list, NULL);
    hw_json_add_text(object, "role", hw_role_name(mark->role));
    hw_json_add_text(object, "name", mark->name);
    hw_json *polygon = hw_json_add_array(object, "polygon");
    for (size_t i = 0; i < mark->point_count; i++) {
        hw_json *corner = hw_json_add_array(polygon, NULL);
        hw_json_add_rounded(corner, NULL, mark->points[i].x, 2);
        hw_json_add_rounded(corner, NULL, mark->points[i].y, 2);
    }
    if (mark->role == HW_ROLE_PATCH) {
        if (mark->beside_count) {
            hw_json *beside = hw_json_add_array(object, "beside");
            for (size_t i = 0; i < mark->beside_count; i++) {
                hw_json_add_text(beside, NULL, mark->beside[i]);
            }
        }
        hw_json_add_text(object, "kind", hw_kind_name(mark->kind));
    }
    if (mark->found > 0.0) {
        hw_json_add_rounded(object, "found", mark->found, 3);
        hw_json_add_rounded(object, "off_px", mark->off_px, 2);
    }
}

hw_json *hw_marks_tree(const hw_marks *marks)
{
    hw_json *root = hw_json_new_object();
    if (marks->width_px && marks->height_px) {
        hw_json *picture = hw_json_add_array(root, "picture");
        hw_json_add_number(picture, NULL, (double)marks->width_px);
        hw_json_add_number(picture, NULL, (double)marks->height_px);
    }
    hw_json *list = hw_json_add_array(root, "marks");
    for (size_t i = 0; i < marks->count; i++) {
        write_mark(list, &marks->mark[i]);
    }
    return root;
}

hw_status hw_marks_text(const hw_marks *marks, char **out, hw_error *err)
{
    hw_json *root = hw_marks_tree(marks);
    hw_status status = hw_json_print(root, true, out, err);
    hw_json_free(root);
    return status;
}

void hw_marks_text_free(char *text)
{
    hw_free(text);
}
