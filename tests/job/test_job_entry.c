// Entries: what is said twice with one entry is logged once, also by two programs at a time and after it was withdrawn;
// a log without entries, or with some that cannot be, is read as before. (What must hold follows from what an
// idempotency key is: draft-ietf-httpapi-idempotency-key-header-07, 2.6.)
#include "open_job.h"

static const char *const first = "00000000-0000-4000-8000-000000000001";
static const char *const second = "00000000-0000-4000-8000-000000000002";

static hw_status say(hw_job *to, const char *entry, const char *text, long *number, hw_error *err)
{
    hw_note_event note = {.text = ""};
    snprintf(note.text, sizeof note.text, "%s", text);
    hw_status status = hw_job_enter(to, entry, err);
    return status == HW_OK ? hw_job_add_note(to, &note, now++, number, err) : status;
}

static void test_names(void)
{
    check_true(hw_entry_is_usable(first) && hw_entry_is_usable("0123456789abcdef"));
    check_true(hw_entry_is_usable("0123456789012345678901234567890123456789"));
    check_true(!hw_entry_is_usable("01234567890123456789012345678901234567890"));
    check_true(!hw_entry_is_usable("") && !hw_entry_is_usable("0123456789abcde"));
    check_true(!hw_entry_is_usable("0123456789ABCDEF") && !hw_entry_is_usable("0123456789abcdef "));
    check_true(!hw_entry_is_usable("0123456789abcde\xc3\xa9"));
    hw_error err = {0};
    long number = 0;
    size_t before = hw_job_event_count(job);
    check_true(say(job, "too short", "x", &number, &err) == HW_ERR_CALL);
    check_text(err.code, "entry-name");
    check_true(hw_job_event_count(job) == before);
}

static void test_twice(void)
{
    long one = 0, two = 0, three = 0, none = 0;
    hw_error err = {0};
    new_job("entry");
    check_true(!hw_job_entry(job, first) && !hw_job_entry(job, ""));
    check_true(say(job, first, "hinge side", &one, &err) == HW_OK && !hw_job_said_before(job));
    size_t after = hw_job_event_count(job);
    check_true(say(job, first, "said otherwise", &two, &err) == HW_OK && two == one);
    check_true(hw_job_event_count(job) == after);
    check_true(hw_job_said_before(job) && hw_job_said_before(job)->number == one);
    check_text(hw_job_said_before(job)->of.note.text, "hinge side");
    check_true(say(job, second, "hinge side", &three, &err) == HW_OK && three == one + 1);
    check_true(!hw_job_said_before(job));
    // It names one thing: what is added behind it has none.
    check_true(say(job, NULL, "no entry", &none, &err) == HW_OK && none == three + 1);
    check_text(hw_job_event_numbered(job, none)->entry, "");
    // Withdrawn, and said again by one who did not hear of it: it stays withdrawn.
    long gone = 0;
    check_true(hw_job_add_withdrawal(job, one, now++, &gone, &err) == HW_OK);
    check_true(say(job, first, "hinge side", &two, &err) == HW_OK && two == one);
    check_true(hw_job_event_numbered(job, one)->kind == HW_EVENT_WITHDRAWN);
}

// Two programs have the job open; neither knows what the other logs meanwhile.
static void test_two_programs(void)
{
    long one = 0, two = 0;
    hw_error err = {0};
    hw_job *other = NULL;
    new_job("entry two");
    check_true(hw_job_open(folder, NULL, &other, NULL) == HW_OK);
    check_true(hw_job_enter(other, first, &err) == HW_OK && !hw_job_said_before(other));
    check_true(say(job, first, "hinge side", &one, &err) == HW_OK);
    hw_note_event note = {.text = "hinge side"};
    check_true(hw_job_add_note(other, &note, now++, &two, &err) == HW_OK && two == one);
    check_true(hw_job_said_before(other) && hw_job_event_count(other) == 2);
    hw_job_free(other);
}

// Two at a time get the log in another order than they came: nothing is logged before what was logged before it. (FORMAT.md:
// "when it was logged".) Half an hour is a clock that was set back.
static void test_time(void)
{
    long number = 0;
    hw_error err = {0};
    hw_note_event note = {.text = "waited for a photo"};
    new_job("entry time");
    check_true(say(job, NULL, "meanwhile", &number, &err) == HW_OK);
    int64_t meanwhile = hw_job_event_numbered(job, number)->at;
    check_true(hw_job_add_note(job, &note, meanwhile - 60, &number, &err) == HW_OK);
    check_true(hw_job_event_numbered(job, number)->at == meanwhile);
    check_true(hw_job_add_note(job, &note, meanwhile + 5, &number, &err) == HW_OK);
    check_true(hw_job_event_numbered(job, number)->at == meanwhile + 5);
    check_true(hw_job_add_note(job, &note, meanwhile - 1800, &number, &err) == HW_OK);
    check_true(hw_job_event_numbered(job, number)->at == meanwhile - 1800);
}

static void test_start(void)
{
    hw_error err = {0};
    char other[700];
    new_job("entry start");
    snprintf(other, sizeof other, "%s next", folder);
    check_true(hw_job_start_entry(other, "Oak hall bench", NULL, first, now++, &err) == HW_OK);
    check_true(hw_job_is_of_entry(other, first) && !hw_job_is_of_entry(other, second));
    check_true(!hw_job_is_of_entry(folder, first) && !hw_job_is_of_entry(folder, ""));
    check_true(hw_job_start_entry(other, "Oak hall bench", NULL, second, now++, &err) ==
               HW_ERR_CALL);
    check_text(err.code, "job-exists");
    err = (hw_error){0};
    check_true(hw_job_start_entry(other, "Oak", NULL, "A", now++, &err) == HW_ERR_CALL);
    check_text(err.code, "entry-name");
}

// What stands in the file, and a line whose entry cannot be one.
static void test_file(void)
{
    char path[700];
    uint8_t *bytes = NULL;
    size_t count = 0;
    long number = 0;
    hw_error err = {0};
    new_job("entry file");
    check_true(say(job, first, "hinge side", &number, &err) == HW_OK);
    snprintf(path, sizeof path, "%s/log.jsonl", folder);
    check_true(hw_file_read(path, 1 << 20, &bytes, &count, &err) == HW_OK);
    char *text = calloc(count + 1, 1);
    memcpy(text, bytes, count);
    check_true(strstr(text, "\"entry\":\"00000000-0000-4000-8000-000000000001\",\"text\"") != NULL);
    char *at = strstr(text, "-4000-");
    at[0] = 'X'; // and the sum is made to fit, as another program would
    char *line = strchr(text, '\n') + 1, *sum = strstr(line, ",\"crc32\":\"");
    snprintf(sum, 22, ",\"crc32\":\"%08x\"}\n", hw_crc32(line, (size_t)(sum - line)));
    FILE *file = fopen(path, "wb");
    check_true(file && fwrite(text, 1, count, file) == count && fclose(file) == 0);
    hw_job *again = NULL;
    check_true(hw_job_open(folder, NULL, &again, &err) == HW_OK);
    check_true(hw_job_event_count(again) == 2 && hw_job_event(again, 1)->entry[0] == 0 &&
               hw_job_event(again, 1)->kind == HW_EVENT_NOTE);
    hw_job_free(again);
    hw_free(bytes);
    free(text);
}

int main(void)
{
    new_job("entry names");
    test_names();
    test_twice();
    test_two_programs();
    test_time();
    test_start();
    test_file();
    hw_job_free(job);
    return check_done();
}
