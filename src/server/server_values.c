// server_values.c: values out of a body and an address, each with its own refusal. The page is our own, but a body may come
// from anyone: what it says is tested here for its kind, by the steps for its sense.
#include "server_api.h"

#include <math.h>

static hw_status refuse(const char *member, const char *must_be, hw_error *err)
{
    char next[160];
    hw_format_text(next, sizeof next, "Send \"%s\" as %s.", member, must_be);
    return hw_fail(err, HW_ERR_CALL, "body-member", member, next,
                   "it is missing, or no such thing");
}

static const hw_json *said(const hw_json *body, const char *member)
{
    const hw_json *value = hw_json_member(body, member);
    return hw_json_is_null(value) ? NULL : value;
}

hw_status server_take_text(const hw_json *body, const char *member, bool needed, const char **out,
                           hw_error *err)
{
    const hw_json *value = said(body, member);
    const char *text = hw_json_text(value);
    if (value ? !text : needed) {
        return refuse(member, "a text", err);
    }
    *out = text ? text : *out;
    return HW_OK;
}

hw_status server_take_words(const hw_json *body, const char *member, bool needed, char *out,
                            size_t size, hw_error *err)
{
    const char *text = NULL;
    hw_status status = server_take_text(body, member, needed, &text, err);
    if (status == HW_OK && text && !hw_copy_text(out, size, text)) {
        status = hw_fail(err, HW_ERR_CALL, "note-text", member, "Write a shorter one.",
                         "it is longer than %zu bytes", size - 1);
    }
    return status;
}

hw_status server_take_number(const hw_json *body, const char *member, bool needed, double *out,
                             hw_error *err)
{
    const hw_json *value = said(body, member);
    if (value ? !hw_json_number(value, out) : needed) {
        return refuse(member, "a number", err);
    }
    return HW_OK;
}

static bool is_whole(double value, long least)
{
    const double most = 1e9; // numbers of a log, pixels (chosen)
    return value >= (double)least && value <= most && value == floor(value);
}

hw_status server_take_whole(const hw_json *body, const char *member, bool needed, long least,
                            long *out, hw_error *err)
{
    double value = (double)*out;
    char must_be[64];
    hw_format_text(must_be, sizeof must_be, "a whole number, %ld or more", least);
    const hw_json *there = said(body, member);
    if (there ? !hw_json_number(there, &value) || !is_whole(value, least) : needed) {
        return refuse(member, must_be, err);
    }
    *out = there ? (long)value : *out;
    return HW_OK;
}

hw_status server_check_list(const hw_json *list, const char *member, hw_error *err)
{
    char must_be[64];
    hw_format_text(must_be, sizeof must_be, "a list of at most %d", SERVER_LIST_MOST);
    bool good = !list || hw_json_is_null(list) ||
                (hw_json_is_array(list) && hw_json_count(list) <= SERVER_LIST_MOST);
    return good ? HW_OK : refuse(member, must_be, err);
}

hw_status server_take_names(const hw_json *body, const char *member, bool needed,
                            char (**out)[HW_NAME_SIZE], size_t *count, hw_error *err)
{
    const hw_json *list = said(body, member);
    if (!list && needed) {
        return refuse(member, "a list of names", err);
    }
    hw_status status = server_check_list(list, member, err);
    if (status != HW_OK) {
        return status;
    }
    char(*names)[HW_NAME_SIZE] = hw_alloc_array(hw_json_count(list), sizeof *names);
    if (!names) {
        return hw_fail_memory(err, "reading what was sent");
    }
    size_t taken = 0;
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        const char *name = hw_json_text(item);
        if (!name || !hw_copy_text(names[taken++], sizeof *names, name)) {
            hw_free(names);
            return refuse(member, "a list of names of at most 95 bytes", err);
        }
    }
    *out = names;
    *count = taken;
    return HW_OK;
}

hw_status server_take_liquid(const hw_json *body, bool needed, hw_liquid *out, hw_error *err)
{
    const hw_json *list = said(body, "liquid");
    const char must_be[] = "a list of one or two of {\"dye\",\"strength\"}";
    if (list ? !hw_json_is_array(list) : needed) {
        return refuse("liquid", must_be, err);
    }
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        const char *dye = hw_json_member_text(item, "dye");
        hw_dose *dose = out->count < HW_LIQUID_DYES_MAX ? &out->dose[out->count++] : NULL;
        if (!dose || !dye || !hw_copy_text(dose->dye, sizeof dose->dye, dye) ||
            !hw_json_member_number(item, "strength", &dose->strength)) {
            return refuse("liquid", must_be, err);
        }
    }
    return HW_OK;
}

hw_status server_take_entry(const hw_json *body, const char **out, hw_error *err)
{
    return server_take_text(body, "entry", true, out, err);
}

// ---- An address --------------------------------------------------------------------

hw_status server_query_number(const server_request *request, const char *name, double *out,
                              hw_error *err)
{
    const char *text = server_query(request, name);
    if (text && !hw_parse_number(text, false, out)) {
        return refuse(name, "a number", err);
    }
    return HW_OK;
}

hw_status server_query_whole(const server_request *request, const char *name, long least, long *out,
                             hw_error *err)
{
    double value = (double)*out;
    hw_status status = server_query_number(request, name, &value, err);
    if (status == HW_OK && server_query(request, name) && !is_whole(value, least)) {
        status = refuse(name, "a whole number", err);
    }
    *out = status == HW_OK ? (long)value : *out;
    return status;
}

// ---- Answers -----------------------------------------------------------------------

// RFC 6266, 4.1: a plain name needs no other form.
void server_answer_as_file(server_answer *answer, const char *name)
{
    char value[190] = "attachment; filename=\"";
    size_t count = strlen(value);
    for (const char *at = name; *at && count + 2 < sizeof value; at++) {
        bool stays = (*at >= 'a' && *at <= 'z') || (*at >= 'A' && *at <= 'Z') ||
                     (*at >= '0' && *at <= '9') || *at == '.' || *at == '-' || *at == '_';
        value[count++] = stays ? *at : '-';
    }
    value[count] = '"';
    server_answer_header(answer, "Content-Disposition", value);
}

// Our own text: as long as it comes, but as deep as any.
hw_status server_open_json(char *json, hw_json **out, hw_error *err)
{
    hw_limits limits = hw_limits_default();
    size_t length = strlen(json);
    limits.json_bytes = length + 1;
    hw_status status = hw_json_parse(json, length, &limits, "the result", out, err);
    hw_report_free(json);
    return status;
}

hw_status server_answer_both(server_answer *answer, char *json, const char *text, hw_error *err)
{
    hw_json *tree = NULL;
    hw_status status = server_open_json(json, &tree, err);
    if (status == HW_OK) {
        hw_json_add_text(tree, "text", text);
        status = server_answer_tree(answer, tree, err);
    }
    return status;
}
