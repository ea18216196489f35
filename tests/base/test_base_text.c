// Errors, warnings, text, names, numbers, times, sums, order statistics.
#include "base_internal.h"
#include "check.h"
#include "picture.h"

static void test_errors(void)
{
    hw_error err = {0};
    char next[700];
    for (size_t i = 0; i + 2 < sizeof next; i += 2) {
        memcpy(next + i, "\xc3\xa9", 3); // e with acute
    }
    check_true(hw_fail(&err, HW_ERR_INPUT, "card-overexposed", "leg.jpg", next,
                       "the card is %d %% white", 61) == HW_ERR_INPUT);
    check_text(err.what, "the card is 61 % white");
    check_true(hw_is_utf8(err.next, strlen(err.next)) &&
               strlen(err.next) == 478); // cut at a whole character
    check_true(hw_fail(&err, HW_ERR_CALL, "other", "x", "y", "later") == HW_ERR_CALL);
    check_text(err.code, "card-overexposed"); // the first stays
    check_true(hw_fail(NULL, HW_ERR_CALL, "x", NULL, NULL, "y") == HW_ERR_CALL);
    hw_error memory = {0};
    check_true(hw_fail_memory(&memory, "reading the photo") == HW_ERR_STORAGE);
    check_holds(memory.what, "reading the photo");
}

static void test_warnings(void)
{
    hw_warnings warnings = {0};
    for (int i = 0; i < 40; i++) {
        hw_warn(&warnings, "warning %d", i / 2); // each twice
    }
    check_true(warnings.count == HW_WARNINGS_MAX);
    check_text(warnings.text[1], "warning 1");
    check_holds(warnings.text[HW_WARNINGS_MAX - 1], "more warnings");
    hw_warnings one = {0};
    char many[2 * HW_WARNING_SIZE];
    for (size_t i = 0; i + 3 < sizeof many; i += 3) {
        memcpy(many + i, "\xe2\x82\xac", 4); // euro sign
    }
    hw_warn(&one, "%s", many);
    hw_warn(&one, "%s", many); // known as the same although it was cut
    check_true(one.count == 1 && strlen(one.text[0]) == 318 && hw_is_utf8(one.text[0], 318));
    hw_warn(NULL, "nobody listens");
}

static void test_text(void)
{
    hw_text text = {.ceiling = 50};
    hw_text_add(&text, "%s-%d", "abc", 7);
    check_text(text.bytes, "abc-7");
    hw_text_add(&text, "%060d", 1);
    check_true(text.failed && strlen(text.bytes) == 5);
    hw_text_add(&text, "x");
    check_true(text.failed && text.length == 5);
    hw_text_free(&text);
    hw_text_free(&text);
    // Exactly to the ceiling and not one byte more; without memory it fails and stays failed.
    hw_text exact = {.ceiling = 4};
    hw_text_add_bytes(&exact, "abcd", 4);
    check_true(!exact.failed && exact.length == 4);
    hw_text_add_bytes(&exact, "e", 1);
    check_true(exact.failed && exact.length == 4);
    check_text(exact.bytes, "abcd");
    hw_text_free(&exact);
    hw_text starved = {0};
    hw_test_fail_alloc(0);
    hw_text_add(&starved, "x");
    hw_test_fail_alloc(-1);
    hw_text_add(&starved, "y");
    check_true(starved.failed && starved.length == 0);
    hw_text_free(&starved);
    char small[5];
    check_true(
        !hw_copy_text(small, sizeof small, "ab\xe2\x82\xac!")); // the euro sign would be split
    check_text(small, "ab");
    check_true(hw_copy_text(small, sizeof small, "abcd") &&
               !hw_format_text(small, sizeof small, "%d", 12345));
    check_text(small, "1234");
}

// A text in an array takes no memory, and is cut at a whole character however it is added.
static void test_fixed(void)
{
    const char *euro = "\xe2\x82\xac", *chair = "\xf0\x9f\xaa\x91";
    hw_test_fail_alloc(0);
    for (size_t size = 1; size <= 16; size++) {
        char all[16], pieces[16], copied[16];
        hw_text one = hw_text_in(all, size), two = hw_text_in(pieces, size);
        hw_text_add(&one, "a%s\xc3\xa9%s!", euro, chair);
        hw_text_add_bytes(&two, "a", 1);
        hw_text_add_bytes(&two, euro, 3);
        hw_text_add(&two, "\xc3\xa9%s", chair);
        hw_text_add(&two, "!");
        bool whole = hw_copy_text(copied, size, "a\xe2\x82\xac\xc3\xa9\xf0\x9f\xaa\x91!");
        check_true(one.failed == !whole && two.failed == !whole && whole == (size > 11));
        check_text(all, copied);
        check_text(pieces, copied);
        check_true(one.length == strlen(all) && two.length == strlen(pieces));
        hw_text_free(&one); // nothing
    }
    char odd[6];
    check_true(!hw_format_text(odd, sizeof odd, "%s", "\xff\x80\x80\x80\x80\x80"));
    check_true(strlen(odd) == 5); // no UTF-8 from outside is no reason to lose what stands before
    hw_test_fail_alloc(-1);
}

// RFC 3629: overlong forms, surrogates and numbers past U+10FFFF are no UTF-8.
static void test_utf8(void)
{
    check_true(hw_is_utf8("a\xc3\xa9\xe2\x82\xac\xf0\x9f\xaa\x91", 10));
    const char *bad[] = {"\x80",
                         "\xc0\x80",
                         "\xc1\xbf",
                         "\xe0\x80\x80",
                         "\xed\xa0\x80",
                         "\xf4\x90\x80\x80",
                         "\xf5\x80\x80\x80",
                         "\xc3",
                         "\xe2\x82",
                         "a\xff"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        check_true(!hw_is_utf8(bad[i], strlen(bad[i])));
    }
}

static void test_names(void)
{
    check_true(hw_name_is_usable("lid strip") && hw_name_is_usable("T\xc3\xbcr \"2\"") &&
               hw_name_is_usable("x"));
    const char *bad[] = {"", " x", "x ", "a\nb", "a\tb", "\x7f", "\xff", "\xc2\x85"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        check_true(!hw_name_is_usable(bad[i]));
    }
    char longest[HW_NAME_SIZE + 1];
    memset(longest, 'a', sizeof longest);
    longest[HW_NAME_SIZE - 1] = 0;
    check_true(hw_name_is_usable(longest));
    longest[HW_NAME_SIZE - 1] = 'a';
    longest[HW_NAME_SIZE] = 0;
    check_true(!hw_name_is_usable(longest) && !hw_name_is_usable(NULL));
}

static void test_numbers(void)
{
    double value = 0;
    check_true(hw_parse_number("0.5", false, &value) && value == 0.5);
    check_true(hw_parse_number("-1e3", false, &value) && value == -1000);
    check_true(hw_parse_number("1/4", true, &value) && value == 0.25);
    const char *bad[] = {"",    " 1",    "1 ",  "1x", "1,5", "0x10",  "nan",
                         "inf", "1e999", "1/0", "1/", "/2",  "1/2/3", "--1"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        check_true(!hw_parse_number(bad[i], true, &value));
    }
    check_true(!hw_parse_number("1/4", false, &value));
}

// Seconds since 1970 as `date -u -d @N` of GNU coreutils gives them; 951782400 is the leap day of
// 2000.
static void test_times(void)
{
    const struct {
        int64_t seconds;
        const char *text;
    } rows[] = {{0, "1970-01-01T00:00:00Z"},          {951782400, "2000-02-29T00:00:00Z"},
                {1709251199, "2024-02-29T23:59:59Z"}, {253402300799, "9999-12-31T23:59:59Z"},
                {-1, "1969-12-31T23:59:59Z"},         {1000000000, "2001-09-09T01:46:40Z"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[40];
        int64_t back = 0;
        hw_format_time(text, rows[i].seconds);
        check_text(text, rows[i].text);
        check_true(hw_parse_time(text, &back) && back == rows[i].seconds);
    }
    // The ends of the range, by Python's arithmetic over eras of 400 years (146097 days).
    char text[40];
    hw_format_time(text, INT64_MAX);
    check_text(text, "292277026596-12-04T15:30:07Z");
    hw_format_time(text, INT64_MIN);
    check_text(text, "-292277022657-01-27T08:29:52Z");
    const char *bad[] = {"",
                         "2024-02-30T00:00:00Z",
                         "2023-02-29T00:00:00Z",
                         "2024-13-01T00:00:00Z",
                         "2024-01-01 00:00:00Z",
                         "2024-01-01T24:00:00Z",
                         "2024-01-01T00:00:00"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        int64_t unused;
        check_true(!hw_parse_time(bad[i], &unused));
    }
}

// CRC-32 of "123456789": 0xcbf43926, the check value of CRC-32/ISO-HDLC. SHA-256 of "abc" and of
// nothing: FIPS 180-4, examples.
static void test_sums(void)
{
    char sum[65];
    check_true(hw_crc32("123456789", 9) == 0xcbf43926u);
    hw_sha256_hex("abc", 3, sum);
    check_text(sum, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    hw_sha256_hex("", 0, sum);
    check_text(sum, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

static int ascending(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

// Selection against the C library's sort; the spread of normal numbers is their standard deviation
// (Rousseeuw and Croux 1993).
static void test_order(void)
{
    uint64_t seed = 3;
    for (int round = 0; round < 300; round++) {
        double values[50], sorted[50];
        size_t count = 1 + (size_t)(49.0 * picture_random(&seed));
        for (size_t i = 0; i < count; i++) {
            values[i] = floor(12.0 * picture_random(&seed)); // many ties
            sorted[i] = values[i];
        }
        qsort(sorted, count, sizeof *sorted, ascending);
        size_t k = (size_t)(picture_random(&seed) * (double)count);
        check_close(hw_select(values, count, k), sorted[k], 0);
    }
    static double many[20001];
    double median, spread;
    for (size_t i = 0; i < 20001; i++) {
        many[i] = 5.0 + 2.0 * picture_normal(&seed);
    }
    hw_median_spread(many, 20001, &median, &spread);
    check_close(median, 5.0, 0.05);
    check_close(spread, 2.0, 0.05);
}

static void test_memory(void)
{
    check_true(hw_alloc_array((size_t)-1 / 2, 4) == NULL);
    check_true(hw_resize_array(NULL, (size_t)-1 / 8, 16) == NULL);
    void *nothing = hw_alloc_array(0, 8);
    check_true(nothing != NULL);
    hw_free(nothing);
    hw_test_fail_alloc(1);
    void *first = hw_alloc_array(1, 1);
    check_true(first && hw_alloc_array(1, 1) == NULL && hw_test_allocations() == 2);
    hw_test_fail_alloc(-1);
    hw_free(first);
}

// RFC 4648, section 10; and bytes that come in more than one piece, against the length that section 4 gives.
static void test_base64(void)
{
    static const char *const told[][2] = {{"", ""},
                                          {"f", "Zg=="},
                                          {"fo", "Zm8="},
                                          {"foo", "Zm9v"},
                                          {"foob", "Zm9vYg=="},
                                          {"fooba", "Zm9vYmE="},
                                          {"foobar", "Zm9vYmFy"}};
    for (size_t i = 0; i < sizeof told / sizeof *told; i++) {
        hw_text text = {0};
        hw_text_add(&text, ":");
        hw_text_add_base64(&text, told[i][0], strlen(told[i][0]));
        check_text(text.bytes + 1, told[i][1]);
        hw_text_free(&text);
    }
    char many[2000];
    hw_text text = {0};
    memset(many, 0x69, sizeof many); // "iii" is "aWlp"
    hw_text_add_base64(&text, many, sizeof many);
    check_true(text.length == (sizeof many + 2) / 3 * 4);
    for (size_t i = 0; i + 4 < text.length; i += 4) {
        check_true(memcmp(text.bytes + i, "aWlp", 4) == 0);
    }
    check_text(text.bytes + text.length - 4, "aWk=");
    hw_text_free(&text);
}

int main(void)
{
    test_errors();
    test_base64();
    test_warnings();
    test_text();
    test_utf8();
    test_names();
    test_numbers();
    test_times();
    test_sums();
    test_order();
    test_memory();
    test_fixed();
    return check_done();
}
