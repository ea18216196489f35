// fuzz_json.c: any bytes as JSON. What is taken can be printed, and the print read again gives the
// same print and the same tree: nothing is lost on the way to the disk and back. What is refused is
// refused in words, and refused again with a blank behind it.
#include "base_internal.h"

#include <float.h>
#include <math.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static char *print(const hw_json *json, bool indented)
{
    char *text = NULL;
    hw_error err = {0};
    return hw_json_print(json, indented, &text, &err) == HW_OK ? text : NULL;
}

static hw_json *parse(const char *bytes, size_t count)
{
    hw_json *json = NULL;
    hw_error err = {0};
    return hw_json_parse(bytes, count, NULL, "fuzz", &json, &err) == HW_OK ? json : NULL;
}

static bool same(const hw_json *one, const hw_json *other);

static bool same_members(const hw_json *one, const hw_json *other)
{
    const hw_json *a = hw_json_first(one), *b = hw_json_first(other);
    for (; a && b; a = hw_json_next(a), b = hw_json_next(b)) {
        const char *name = hw_json_name(a), *name_b = hw_json_name(b);
        if ((name == NULL) != (name_b == NULL) || (name && strcmp(name, name_b) != 0) ||
            (name && hw_json_member(one, name) != a) || !same(a, b)) {
            return false;
        }
    }
    return !a && !b;
}

// Numbers are printed to the last digit but one that a double may hold.
static bool same(const hw_json *one, const hw_json *other)
{
    double x, y;
    bool p, q;
    const char *text = hw_json_text(one);
    if (hw_json_number(one, &x)) {
        return isfinite(x) && hw_json_number(other, &y) &&
               fabs(x - y) <= fmax(fabs(x), fabs(y)) * DBL_EPSILON;
    }
    if (text) {
        return hw_is_utf8(text, strlen(text)) && hw_json_text(other) &&
               strcmp(text, hw_json_text(other)) == 0;
    }
    if (hw_json_bool(one, &p)) {
        return hw_json_bool(other, &q) && p == q;
    }
    return hw_json_is_object(one) == hw_json_is_object(other) &&
           hw_json_is_array(one) == hw_json_is_array(other) &&
           hw_json_is_null(one) == hw_json_is_null(other) && same_members(one, other);
}

// Refused with words; and no blank behind it makes it good.
static void must_be_refused(const uint8_t *bytes, size_t count)
{
    hw_json *json = NULL;
    hw_error err = {0};
    char *longer = hw_alloc_array(count + 1, 1);
    if (!longer || hw_json_parse((const char *)bytes, count, NULL, "fuzz", &json, &err) == HW_OK ||
        strcmp(err.code, "json-syntax") != 0 || !err.what[0] || !err.next[0]) {
        abort();
    }
    memcpy(longer, bytes, count);
    longer[count] = ' ';
    json = parse(longer, count + 1);
    if (json) {
        abort();
    }
    hw_free(longer);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_json *json = parse((const char *)bytes, count);
    for (int indented = 0; json && indented < 2; indented++) {
        char *once = print(json, indented);
        hw_json *back = once ? parse(once, strlen(once)) : NULL;
        char *twice = back ? print(back, indented) : NULL;
        if (!twice || strcmp(once, twice) != 0 || !same(json, back)) {
            abort();
        }
        hw_free(once);
        hw_free(twice);
        hw_json_free(back);
    }
    if (!json) {
        must_be_refused(bytes, count);
    }
    hw_json_free(json);
    return 0;
}
