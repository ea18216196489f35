// base_json.c: JSON (RFC 8259) by cJSON, made strict. cJSON is lenient with what comes from
// outside: it stops at the first value, cuts text at \u0000, takes 1e999 for infinity and finds
// keys whatever their case. So a text is first walked by the grammar, byte by byte, with its
// nesting counted; only what passes reaches cJSON.
//
// Building: a container whose addition failed is marked in its unused `valueint`, and printing a
// tree with a mark fails. So nothing that lacks a member is ever printed, and callers check once.
#include "base_internal.h"

#include <cjson/cJSON.h>
#include <math.h>

struct hw_json {
    cJSON value; // never made as such: a hw_json * is a cJSON *
};

#define INCOMPLETE 0x4d49 // any number that cJSON does not put into valueint of a container

static cJSON *inside(hw_json *value)
{
    return (cJSON *)value;
}

static const cJSON *look(const hw_json *value)
{
    return (const cJSON *)value;
}

static void *take(size_t size)
{
    return hw_alloc_array(size, 1);
}

// cJSON's memory is ours. The same hooks every time, so any thread may set them.
static void use_our_memory(void)
{
    cJSON_Hooks hooks = {take, hw_free};
    cJSON_InitHooks(&hooks);
}

// ---- The grammar -------------------------------------------------------------------

typedef struct scan {
    const char *at, *end;
    size_t depth, depth_most;
    const char *why;              // set once, at the first fault
    const hw_json_wanted *wanted; // what is to be kept; NULL: all
    uint64_t
        lengths[32];   // of its names, a bit each, by their first letter: most others differ in one
    hw_text *kept;     // the text with those alone; NULL: not asked for
    bool passing_over; // inside a member that is not kept
    bool unlike;       // the object just read is one to be left out of its list
} scan;

static bool fault(scan *s, const char *why)
{
    if (!s->why) {
        s->why = why;
    }
    return false;
}

static void keep(scan *s, const char *from, const char *to)
{
    if (s->kept && !s->passing_over) {
        hw_text_add_bytes(s->kept, from, (size_t)(to - from));
    }
}

static void keep_sign(scan *s, char sign)
{
    keep(s, &sign, &sign + 1);
}

static void skip_blanks(scan *s)
{
    while (s->at < s->end &&
           (*s->at == ' ' || *s->at == '\t' || *s->at == '\n' || *s->at == '\r')) {
        s->at++;
    }
}

static bool next_is(scan *s, char wanted)
{
    if (s->at < s->end && *s->at == wanted) {
        s->at++;
        return true;
    }
    return false;
}

static bool is_digit(const scan *s)
{
    return s->at < s->end && *s->at >= '0' && *s->at <= '9';
}

static bool digits(scan *s)
{
    if (!is_digit(s)) {
        return fault(s, "a number is not whole");
    }
    while (is_digit(s)) {
        s->at++;
    }
    return true;
}

static bool scan_number(scan *s)
{
    const char *start = s->at;
    next_is(s, '-');
    if (!next_is(s, '0') && !digits(s)) {
        return false;
    }
    if (next_is(s, '.') && !digits(s)) {
        return false;
    }
    bool exponent = s->at < s->end && (*s->at == 'e' || *s->at == 'E');
    if (exponent) {
        s->at++;
        if (!next_is(s, '+')) {
            next_is(s, '-');
        }
        if (!digits(s)) {
            return false;
        }
    }
    char copy[64];
    size_t length = (size_t)(s->at - start);
    if (length >= sizeof copy) { // cJSON reads 63 characters of a number
        return fault(s, "a number has too many digits");
    }
    if (!exponent) {
        return true; // 63 digits are finite
    }
    memcpy(copy, start, length);
    copy[length] = 0;
    return isfinite(strtod(copy, NULL)) || fault(s, "a number is too large");
}

// Four hexadecimal digits; -1 when they are none.
static long hex4(scan *s)
{
    long value = 0;
    for (int i = 0; i < 4; i++) {
        char c = s->at < s->end ? *s->at++ : 0;
        const char *digit = c ? strchr("0123456789abcdef0123456789ABCDEF", c) : NULL;
        if (!digit) {
            return -1;
        }
        value = value * 16 + (digit - "0123456789abcdef0123456789ABCDEF") % 16;
    }
    return value;
}

static bool scan_escape(scan *s)
{
    char c = s->at < s->end ? *s->at++ : 0;
    if (c && strchr("\"\\/bfnrt", c)) {
        return true;
    }
    long unit = c == 'u' ? hex4(s) : -1;
    if (unit <= 0) { // \u0000 would cut the text
        return fault(s, "a text has an escape that is not allowed");
    }
    if (unit >= 0xd800 && unit < 0xdc00) { // first half of a pair
        if (!next_is(s, '\\') || !next_is(s, 'u')) {
            return fault(s, "a text has half a character");
        }
        unit = hex4(s);
        return (unit >= 0xdc00 && unit < 0xe000) || fault(s, "a text has half a character");
    }
    return unit < 0xdc00 || unit >= 0xe000 || fault(s, "a text has half a character");
}

static bool scan_text(scan *s)
{
    if (!next_is(s, '"')) {
        return fault(s, "a text is missing its quotes");
    }
    while (s->at < s->end) {
        unsigned char c = (unsigned char)*s->at++;
        if (c == '"') {
            return true;
        }
        if (c < 0x20) {
            return fault(s, "a text has a control character");
        }
        if (c == '\\' && !scan_escape(s)) {
            return false;
        }
    }
    return fault(s, "it ends in the middle of a text");
}

static bool scan_value(scan *s);

// Is the member whose name stands in quotes from `name` to `end` one to be kept? (One with an escape is none.)
static bool is_wanted(const scan *s, const char *name, const char *end)
{
    size_t length = (size_t)(end - name) - 2;
    if (!s->wanted) {
        return true;
    }
    if (length == 0 || length > 63 || !(s->lengths[name[1] & 31] >> length & 1)) {
        return false;
    }
    for (const char *const *wanted = s->wanted->names; *wanted; wanted++) {
        if ((*wanted)[0] == name[1] && strncmp(*wanted, name + 1, length) == 0 &&
            (*wanted)[length] == 0) {
            return true;
        }
    }
    return false;
}

static void note_wanted(scan *s)
{
    for (const char *const *wanted = s->wanted ? s->wanted->names : NULL; wanted && *wanted;
         wanted++) {
        s->lengths[(*wanted)[0] & 31] |= (uint64_t)1 << (strlen(*wanted) & 63);
    }
}

static bool is_text(const char *from, const char *to, const char *text)
{
    size_t length = strlen(text);
    return (size_t)(to - from) == length + 2 && memcmp(from + 1, text, length) == 0;
}

// A name, its colon and its value; *count counts the members kept so far. *unlike: it says that its object is
// to be left out.
static bool scan_member(scan *s, size_t *count, bool *unlike)
{
    const char *name = s->at;
    if (!scan_text(s)) {
        return false;
    }
    const char *end = s->at;
    skip_blanks(s);
    if (!next_is(s, ':')) {
        return fault(s, "a colon is missing");
    }
    bool outer = s->passing_over;
    s->passing_over = outer || !is_wanted(s, name, end);
    if (!s->passing_over) {
        if ((*count)++ > 0) {
            keep_sign(s, ',');
        }
        keep(s, name, end);
        keep_sign(s, ':');
    }
    skip_blanks(s);
    const char *value = s->at;
    bool good = scan_value(s);
    s->passing_over = outer;
    s->unlike = false; // of an object that was its value, and so in no list
    *unlike = *unlike || (s->wanted && s->wanted->member && is_text(name, end, s->wanted->member) &&
                          !is_text(value, s->at, s->wanted->value));
    return good;
}

// An item of a list; *count counts those kept so far.
static bool scan_item(scan *s, size_t *count)
{
    size_t before = s->kept ? s->kept->length : 0;
    if (*count > 0) {
        keep_sign(s, ',');
    }
    s->unlike = false;
    bool good = scan_value(s);
    if (s->unlike && s->kept && !s->passing_over && !s->kept->failed) {
        s->kept->length = before;
    } else {
        ++*count;
    }
    s->unlike = false;
    return good;
}

static bool scan_members(scan *s, bool object, char close)
{
    size_t count = 0;
    bool unlike = false;
    if (++s->depth > s->depth_most) {
        return fault(s, "it is nested too deeply");
    }
    keep_sign(s, object ? '{' : '[');
    skip_blanks(s);
    if (next_is(s, close)) {
        keep_sign(s, close);
        s->depth--;
        return true;
    }
    do {
        skip_blanks(s);
        if (!(object ? scan_member(s, &count, &unlike) : scan_item(s, &count))) {
            return false;
        }
        skip_blanks(s);
    } while (next_is(s, ','));
    s->depth--;
    if (!next_is(s, close)) {
        return fault(s, "a comma or a closing bracket is missing");
    }
    keep_sign(s, close);
    s->unlike = unlike;
    return true;
}

static bool scan_word(scan *s, const char *word)
{
    size_t length = strlen(word);
    if ((size_t)(s->end - s->at) >= length && memcmp(s->at, word, length) == 0) {
        s->at += length;
        return true;
    }
    return fault(s, "there is a word that is no value");
}

static bool scan_plain(scan *s)
{
    switch (*s->at) {
    case '"':
        return scan_text(s);
    case 't':
        return scan_word(s, "true");
    case 'f':
        return scan_word(s, "false");
    case 'n':
        return scan_word(s, "null");
    default:
        return scan_number(s);
    }
}

static bool scan_value(scan *s)
{
    skip_blanks(s);
    if (s->at >= s->end) {
        return fault(s, "it ends too early");
    }
    if (*s->at == '{' || *s->at == '[') {
        bool object = *s->at++ == '{';
        return scan_members(s, object, object ? '}' : ']');
    }
    const char *start = s->at;
    bool good = scan_plain(s);
    keep(s, start, s->at);
    return good;
}

// ---- Keys said twice ---------------------------------------------------------------

static int lower(int c)
{
    return c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c;
}

static int by_key(const void *one, const void *other)
{
    const char *a = *(const char *const *)one, *b = *(const char *const *)other;
    while (*a && lower((unsigned char)*a) == lower((unsigned char)*b)) {
        a++;
        b++;
    }
    return lower((unsigned char)*a) - lower((unsigned char)*b);
}

typedef enum keys { KEYS_FINE, KEYS_TWICE, KEYS_NO_MEMORY } keys;

#define FEW_KEYS 16 // up to here each is compared with each: faster than sorting (chosen)

static keys check_few(const cJSON *value)
{
    for (const cJSON *one = value->child; one; one = one->next) {
        for (const cJSON *other = one->next; other; other = other->next) {
            if (by_key(&one->string, &other->string) == 0) {
                return KEYS_TWICE;
            }
        }
    }
    return KEYS_FINE;
}

static keys check_keys(const cJSON *value)
{
    size_t count = 0;
    for (const cJSON *child = value->child; child; child = child->next) {
        keys inner = child->child ? check_keys(child) : KEYS_FINE;
        if (inner != KEYS_FINE) {
            return inner;
        }
        count++;
    }
    if (!cJSON_IsObject(value) || count < 2) {
        return KEYS_FINE;
    }
    if (count <= FEW_KEYS) {
        return check_few(value);
    }
    const char **names = hw_alloc_array(count, sizeof *names);
    if (!names) {
        return KEYS_NO_MEMORY;
    }
    size_t i = 0;
    for (const cJSON *child = value->child; child; child = child->next) {
        names[i++] = child->string;
    }
    qsort(names, count, sizeof *names, by_key);
    keys result = KEYS_FINE;
    for (i = 1; i < count; i++) {
        if (by_key(&names[i - 1], &names[i]) == 0) {
            result = KEYS_TWICE;
        }
    }
    hw_free(names);
    return result;
}

// ---- Reading -----------------------------------------------------------------------

static hw_status refuse(const char *subject, const char *why, hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "json-syntax", subject,
                   "Mend the file, or go back to an earlier copy.", "it is not valid JSON: %s",
                   why);
}

// A tree of text that is known to be valid.
static hw_status build(const char *bytes, size_t length, const char *subject, hw_json **out,
                       hw_error *err)
{
    use_our_memory();
    cJSON *root = cJSON_ParseWithLength(bytes, length);
    if (!root) {
        return hw_fail_memory(err, "reading JSON");
    }
    keys found = check_keys(root);
    if (found != KEYS_FINE) {
        cJSON_Delete(root);
        return found == KEYS_NO_MEMORY ? hw_fail_memory(err, "reading JSON")
                                       : refuse(subject, "a name stands twice in one object", err);
    }
    *out = (hw_json *)root;
    return HW_OK;
}

hw_status hw_json_parse_members(const char *bytes, size_t length, const hw_limits *limits,
                                const hw_json_wanted *wanted, const char *subject, hw_json **out,
                                hw_error *err)
{
    hw_limits usual = hw_limits_default();
    limits = limits ? limits : &usual;
    if (length > limits->json_bytes) {
        return refuse(subject, "it is too long", err);
    }
    if (!hw_is_utf8(bytes, length)) {
        return refuse(subject, "it is not UTF-8 text", err);
    }
    hw_text kept = {0};
    scan s = {.at = bytes,
              .end = bytes + length,
              .depth_most = limits->json_depth,
              .wanted = wanted,
              .kept = wanted ? &kept : NULL};
    note_wanted(&s);
    bool whole = scan_value(&s);
    skip_blanks(&s);
    hw_status status = HW_OK;
    if (!whole || s.at != s.end) {
        status = refuse(subject, s.why ? s.why : "something follows its end", err);
    } else if (kept.failed) {
        status = hw_fail_memory(err, "reading JSON");
    } else {
        status = wanted ? build(kept.bytes, kept.length, subject, out, err)
                        : build(bytes, length, subject, out, err);
    }
    hw_text_free(&kept);
    return status;
}

hw_status hw_json_parse(const char *bytes, size_t length, const hw_limits *limits,
                        const char *subject, hw_json **out, hw_error *err)
{
    return hw_json_parse_members(bytes, length, limits, NULL, subject, out, err);
}

void hw_json_free(hw_json *root)
{
    use_our_memory();
    cJSON_Delete(inside(root));
}

const hw_json *hw_json_member(const hw_json *object, const char *name)
{
    return object ? (const hw_json *)cJSON_GetObjectItemCaseSensitive(look(object), name) : NULL;
}

bool hw_json_is_object(const hw_json *value)
{
    return cJSON_IsObject(look(value));
}

bool hw_json_is_array(const hw_json *value)
{
    return cJSON_IsArray(look(value));
}

bool hw_json_is_null(const hw_json *value)
{
    return cJSON_IsNull(look(value));
}

size_t hw_json_count(const hw_json *array)
{
    size_t count = 0;
    for (const hw_json *item = hw_json_first(array); item; item = hw_json_next(item)) {
        count++;
    }
    return count;
}

const hw_json *hw_json_item(const hw_json *array, size_t index)
{
    const hw_json *item = hw_json_first(array);
    for (; item && index > 0; index--) {
        item = hw_json_next(item);
    }
    return item;
}

const hw_json *hw_json_first(const hw_json *container)
{
    return container ? (const hw_json *)look(container)->child : NULL;
}

const hw_json *hw_json_next(const hw_json *value)
{
    return value ? (const hw_json *)look(value)->next : NULL;
}

const char *hw_json_name(const hw_json *member)
{
    return member ? look(member)->string : NULL;
}

bool hw_json_number(const hw_json *value, double *out)
{
    if (!cJSON_IsNumber(look(value))) {
        return false;
    }
    *out = look(value)->valuedouble;
    return true;
}

const char *hw_json_text(const hw_json *value)
{
    return cJSON_IsString(look(value)) ? look(value)->valuestring : NULL;
}

bool hw_json_bool(const hw_json *value, bool *out)
{
    if (!cJSON_IsBool(look(value))) {
        return false;
    }
    *out = cJSON_IsTrue(look(value));
    return true;
}

bool hw_json_member_number(const hw_json *object, const char *name, double *out)
{
    return hw_json_number(hw_json_member(object, name), out);
}

const char *hw_json_member_text(const hw_json *object, const char *name)
{
    return hw_json_text(hw_json_member(object, name));
}

// ---- Building ----------------------------------------------------------------------

hw_json *hw_json_new_object(void)
{
    use_our_memory();
    return (hw_json *)cJSON_CreateObject();
}

hw_json *hw_json_new_array(void)
{
    use_our_memory();
    return (hw_json *)cJSON_CreateArray();
}

hw_json *hw_json_copy(const hw_json *tree)
{
    use_our_memory();
    return tree ? (hw_json *)cJSON_Duplicate(look(tree), true) : NULL;
}

// Puts child into parent, or frees it and marks parent as incomplete.
static hw_json *put(hw_json *parent, const char *name, cJSON *child)
{
    if (!parent) {
        cJSON_Delete(child);
        return NULL;
    }
    bool added = child && (name ? cJSON_AddItemToObject(inside(parent), name, child)
                                : cJSON_AddItemToArray(inside(parent), child));
    if (!added) {
        cJSON_Delete(child);
        inside(parent)->valueint = INCOMPLETE;
        return NULL;
    }
    return (hw_json *)child;
}

hw_json *hw_json_add_object(hw_json *parent, const char *name)
{
    use_our_memory();
    return put(parent, name, cJSON_CreateObject());
}

hw_json *hw_json_add_array(hw_json *parent, const char *name)
{
    use_our_memory();
    return put(parent, name, cJSON_CreateArray());
}

void hw_json_add_number(hw_json *parent, const char *name, double value)
{
    use_our_memory();
    put(parent, name, isfinite(value) ? cJSON_CreateNumber(value) : cJSON_CreateNull());
}

void hw_json_add_rounded(hw_json *parent, const char *name, double value, int decimals)
{
    double scale = pow(10.0, decimals);
    double rounded = round(value * scale) / scale;
    hw_json_add_number(parent, name, rounded == 0.0 ? 0.0 : rounded); // no "-0"
}

void hw_json_add_text(hw_json *parent, const char *name, const char *value)
{
    use_our_memory();
    put(parent, name, value ? cJSON_CreateString(value) : cJSON_CreateNull());
}

void hw_json_add_bool(hw_json *parent, const char *name, bool value)
{
    use_our_memory();
    put(parent, name, cJSON_CreateBool(value));
}

void hw_json_add_null(hw_json *parent, const char *name)
{
    use_our_memory();
    put(parent, name, cJSON_CreateNull());
}

void hw_json_add_tree(hw_json *parent, const char *name, hw_json *child)
{
    use_our_memory();
    put(parent, name, inside(child));
}

static bool complete(const cJSON *value)
{
    bool container = cJSON_IsObject(value) || cJSON_IsArray(value);
    if (container && value->valueint == INCOMPLETE) {
        return false;
    }
    for (const cJSON *child = value->child; child; child = child->next) {
        if (!complete(child)) {
            return false;
        }
    }
    return true;
}

hw_status hw_json_print(const hw_json *root, bool indented, char **out, hw_error *err)
{
    use_our_memory();
    char *text = NULL;
    if (root && complete(look(root))) {
        text = indented ? cJSON_Print(look(root)) : cJSON_PrintUnformatted(look(root));
    }
    if (!text) {
        return hw_fail_memory(err, "writing JSON");
    }
    *out = text;
    return HW_OK;
}

bool hw_json_is_same(const hw_json *one, const hw_json *other)
{
    char *a = NULL, *b = NULL;
    bool same = hw_json_print(one, false, &a, NULL) == HW_OK &&
                hw_json_print(other, false, &b, NULL) == HW_OK && strcmp(a, b) == 0;
    hw_free(a);
    hw_free(b);
    return same;
}
