// Sentences that name options of the command line, as a page says them; what they become is chosen.
#include "check.h"
#include "server_internal.h"

static void check_worded(const char *from, const char *to)
{
    hw_text text = {0};
    hw_error err = {0};
    hw_text_add(&text, "%s", from);
    check_true(server_words_for_page(&text.bytes, &err) == HW_OK);
    check_text(text.bytes, to);
    hw_text_free(&text);
}

int main(void)
{
    check_worded("{\"a\":1}", "{\"a\":1}");
    check_worded("{\"next\":\"Add a photo first: huewright photo JOB FILE.\"}",
                 "{\"next\":\"Photograph it first.\"}");
    check_worded("wet: where all is dry, say --dry. x: where all is dry, say --dry.",
                 "wet: where all is dry, say so below the photo. x: where all is dry, say so below "
                 "the photo.");
    check_worded("If it is, add --card 590,850 810,850 810,990. If not, mark the card itself; "
                 "without one",
                 "If it is, say yes. If not, mark the card itself; without one");
    check_worded(
        "it was made is not said: huewright shelf add \\\"a\\\" --made \\\"15 drops in 4 fl "
        "oz\\\".",
        "it was made is not said: say it on the shelf of \\\"a\\\", as 15 drops in 4 fl oz.");
    // A person's own words are theirs, and what stands between those of two.
    check_worded("[\"If it is, add --\",\"b\",\" If not, mark the card itself\"]",
                 "[\"If it is, add --\",\"b\",\" If not, mark the card itself\"]");
    check_worded("{\"note\":\"--dry? and huewright\"}", "{\"note\":\"--dry? and huewright\"}");
    // An answer goes out as it is where memory runs out.
    hw_text text = {0};
    hw_text_add(&text, "say --dry: where all is dry, say --dry.");
    hw_test_fail_alloc(0);
    check_true(server_words_for_page(&text.bytes, NULL) == HW_ERR_STORAGE);
    hw_test_fail_alloc(-1);
    check_text(text.bytes, "say --dry: where all is dry, say --dry.");
    hw_text_free(&text);
    return check_done();
}
