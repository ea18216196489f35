// JSON: what is taken and what is refused (RFC 8259; testdata/base/json.tsv), and trees that are
// whole or not printed.
#include "base_internal.h"
#include "check.h"

// "good" or "bad", and the text; \xNN stands for a byte.
static void text(const check_row *row)
{
    char bytes[2000];
    size_t count = 0;
    for (const char *at = row->text[1]; *at; at++) {
        unsigned value;
        if (at[0] == '\\' && at[1] == 'x' && sscanf(at + 2, "%2x", &value) == 1) {
            bytes[count++] = (char)value;
            at += 3;
        } else {
            bytes[count++] = *at;
        }
    }
    hw_json *json = NULL;
    hw_error err = {0};
    bool good = hw_json_parse(bytes, count, NULL, "test", &json, &err) == HW_OK;
    check_report(good == (strcmp(row->text[0], "good") == 0), row->file, row->line, row->text[1]);
    if (!good) {
        check_report(strcmp(err.code, "json-syntax") == 0, row->file, row->line, "code");
    }
    hw_json_free(json);
}

static void test_depth(void)
{
    char deep[200];
    hw_json *json = NULL;
    for (int depth = 31; depth <= 33; depth++) {
        memset(deep, '[', (size_t)depth);
        memset(deep + depth, ']', (size_t)depth);
        bool good = hw_json_parse(deep, 2 * (size_t)depth, NULL, "deep", &json, NULL) == HW_OK;
        check_true(good == (depth <= 32));
        if (good) {
            hw_json_free(json);
        }
    }
    // Objects and arrays count alike, wherever they stand; what was closed counts no more.
    for (int inner = 0; inner < 2; inner++) { // 1 + 15 x 2 + 1 deep, and one more
        hw_text mixed = {0};
        hw_text_add(&mixed, "[[],{},[[]]");
        for (int i = 0; i < 15; i++) {
            hw_text_add(&mixed, i ? "{\"a\":[" : ",{\"a\":[");
        }
        hw_text_add(&mixed, inner ? "{\"a\":{}}" : "{\"a\":1}");
        for (int i = 0; i < 15; i++) {
            hw_text_add(&mixed, "]}");
        }
        hw_text_add(&mixed, "]");
        bool good = hw_json_parse(mixed.bytes, mixed.length, NULL, "mixed", &json, NULL) == HW_OK;
        check_true(good == !inner);
        if (good) {
            hw_json_free(json);
        }
        hw_text_free(&mixed);
    }
    hw_limits limits = hw_limits_default();
    limits.json_bytes = 5;
    check_true(hw_json_parse("[1,2,3]", 7, &limits, "long", &json, NULL) == HW_ERR_INPUT);
}

static void build(hw_json **out)
{
    hw_json *root = hw_json_new_object();
    hw_json *list = hw_json_add_array(root, "list");
    hw_json_add_rounded(list, NULL, 1.23456, 2);
    hw_json_add_rounded(list, NULL, -0.001, 1);
    hw_json_add_number(list, NULL, NAN);
    hw_json *inner = hw_json_add_object(root, "inner");
    hw_json_add_text(inner, "name", "T\xc3\xbcr \"2\"");
    hw_json_add_bool(inner, "yes", true);
    hw_json_add_tree(root, "copy", hw_json_copy(inner));
    *out = root;
}

static void test_building(void)
{
    hw_json *root, *back = NULL;
    char *printed = NULL;
    double value = 0;
    build(&root);
    check_true(hw_json_print(root, false, &printed, NULL) == HW_OK);
    check_text(printed,
               "{\"list\":[1.23,0,null],\"inner\":{\"name\":\"T\xc3\xbcr \\\"2\\\"\",\"yes\":true},"
               "\"copy\":{\"name\":\"T\xc3\xbcr \\\"2\\\"\",\"yes\":true}}");
    check_true(hw_json_parse(printed, strlen(printed), NULL, "back", &back, NULL) == HW_OK);
    check_text(hw_json_member_text(hw_json_member(back, "inner"), "name"), "T\xc3\xbcr \"2\"");
    check_true(hw_json_count(hw_json_member(back, "list")) == 3);
    check_true(hw_json_number(hw_json_item(hw_json_member(back, "list"), 0), &value) &&
               value == 1.23);
    check_true(!hw_json_member(back, "INNER") && !hw_json_number(hw_json_item(back, 9), &value));
    hw_free(printed);
    hw_json_free(root);
    hw_json_free(back);
}

// With any allocation failing, a tree is printed whole or not at all.
static void test_memory(void)
{
    char *whole = NULL;
    hw_json *root;
    build(&root);
    check_true(hw_json_print(root, false, &whole, NULL) == HW_OK);
    hw_json_free(root);
    int refused = 0;
    for (long n = 0; n < 100; n++) {
        char *printed = NULL;
        hw_error err = {0};
        hw_test_fail_alloc(n);
        build(&root);
        hw_status status = hw_json_print(root, false, &printed, &err);
        hw_test_fail_alloc(-1);
        if (status == HW_OK) {
            check_text(printed, whole);
            hw_free(printed);
            hw_json_free(root);
            break;
        }
        check_true(status == HW_ERR_STORAGE);
        hw_json_free(root);
        refused++;
    }
    check_true(refused > 15 && refused < 95);
    // Memory was short while it was built and is there again when it is printed: a member is
    // missing, and that is noticed.
    for (long n = 0; n < refused; n++) {
        char *printed = NULL;
        hw_error err = {0};
        hw_test_fail_alloc(n);
        build(&root);
        long asked = hw_test_allocations();
        hw_test_fail_alloc(-1);
        hw_status status = hw_json_print(root, false, &printed, &err);
        check_true((status == HW_OK) == (asked <= n));
        if (status == HW_OK) {
            check_text(printed, whole);
        }
        hw_free(printed);
        hw_json_free(root);
    }
    hw_free(whole);
}

// With any allocation failing while it is read, a good text is not called bad.
static void test_memory_of_reading(void)
{
    const char *text =
        "{\"a\":[1,\"T\xc3\xbcr\",{\"b\":null,\"c\":true}],\"d\":{\"e\":0.5,\"f\":{}}}";
    hw_json *json = NULL;
    int refused = 0;
    for (long n = 0; n < 100 && !json; n++) {
        hw_error err = {0};
        hw_test_fail_alloc(n);
        hw_status status = hw_json_parse(text, strlen(text), NULL, "test", &json, &err);
        hw_test_fail_alloc(-1);
        check_true((status == HW_OK) == (json != NULL));
        if (!json) {
            check_true(status == HW_ERR_STORAGE);
            check_text(err.code, "memory-out");
            refused++;
        }
    }
    char *printed = NULL;
    check_true(json && refused > 10 && hw_json_print(json, false, &printed, NULL) == HW_OK);
    check_text(printed, text);
    hw_free(printed);
    hw_json_free(json);
}

// Only the members asked for are kept, at any depth; a fault in what is not kept is a fault all the same.
static void test_members(void)
{
    static const char *const names[] = {"a", "list", "name", NULL};
    static const hw_json_wanted wanted = {names, "kind", "mine"};
    static const struct {
        const char *text, *kept;
    } rows[] = {
        {" { \"a\" : 1 , \"b\" : [ { \"a\" : 2 } ] } ", "{\"a\":1}"},
        {"{\"b\":{},\"list\":[{\"x\":1,\"name\":\"n\\\"\"},{\"x\":[]},[],7],\"c\":null}",
         "{\"list\":[{\"name\":\"n\\\"\"},{},[],7]}"},
        {"{\"\\u0061\":1}", "{}"}, // a name in escapes is not looked for
        {"{\"aa\":1,\"\":2,\"nam\":3}", "{}"},
        {"[1.5e3,\"a\",true]", "[1500,\"a\",true]"},
        // Of lists, objects that say another kind are left out, at any depth; those that say none stay.
        {"{\"list\":[{\"kind\":\"mine\",\"a\":1},{\"a\":2,\"kind\":\"other\"},{\"a\":3},{\"kind\":"
         "7},8]}",
         "{\"list\":[{\"a\":1},{\"a\":3},8]}"},
        {"{\"list\":[{\"kind\":\"other\"},{\"a\":{\"kind\":\"other\",\"a\":1}},[{\"kind\":\"x\"}]],"
         "\"kind\":\"other\"}",
         "{\"list\":[{\"a\":{\"a\":1}},[]]}"},
        {"{\"b\":[1,}", NULL},
        {"{\"b\":\"\\u0000\"}", NULL},
        {"{\"b\":1e999}", NULL},
        {"{\"a\":1,\"A\":2,\"a\":3}", NULL}, // twice among what is kept
        {"{\"a\":1} x", NULL},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        hw_json *json = NULL;
        char *printed = NULL;
        hw_status status = hw_json_parse_members(rows[i].text, strlen(rows[i].text), NULL, &wanted,
                                                 "test", &json, NULL);
        check_true(status == (rows[i].kept ? HW_OK : HW_ERR_INPUT));
        if (status == HW_OK && check_true(hw_json_print(json, false, &printed, NULL) == HW_OK)) {
            check_text(printed, rows[i].kept);
        }
        hw_free(printed);
        hw_json_free(json);
    }
}

int main(void)
{
    test_members();
    check_table("base/json.tsv", 2, text);
    test_depth();
    test_building();
    test_memory();
    test_memory_of_reading();
    return check_done();
}
