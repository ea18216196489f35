// Is all there? Every kind of damage is told with its place, and nothing but half a line is touched.
#include "job_files.h"

#include <sys/resource.h>

static char one[96], two[96]; // photos of the job

static void show(const hw_job_checked *checked)
{
    for (size_t i = 0; i < checked->findings.count; i++) {
        const hw_finding *found = &checked->findings.item[i];
        printf("  %s: %s: %s\n", hw_severity_name(found->severity), found->where, found->sentence);
    }
}

static hw_job_checked checked_job(const char *folder)
{
    hw_job_checked checked = {0};
    hw_error err = {0};
    if (!check_true(hw_job_check(folder, NULL, &checked, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    return checked;
}

// There is a finding of that severity at that place whose sentence holds `words`.
static void finds(const hw_job_checked *checked, hw_severity severity, const char *where,
                  const char *words)
{
    for (size_t i = 0; i < checked->findings.count; i++) {
        const hw_finding *found = &checked->findings.item[i];
        if (found->severity == severity && strcmp(found->where, where) == 0 &&
            strstr(found->sentence, words)) {
            check_true(true);
            return;
        }
    }
    if (!check_true(false)) {
        printf("not found: %s: %s: %s among\n", hw_severity_name(severity), where, words);
        show(checked);
    }
}

static void counts(const hw_job_checked *checked, size_t loss, size_t odd, size_t mended)
{
    bool good = hw_findings_count(&checked->findings, HW_SEVERITY_LOSS) == loss &&
                hw_findings_count(&checked->findings, HW_SEVERITY_ODD) == odd &&
                hw_findings_count(&checked->findings, HW_SEVERITY_MENDED) == mended &&
                checked->all_there == (loss == 0);
    if (!check_true(good)) {
        show(checked);
    }
}

static void test_whole(void)
{
    char before[65], after[65];
    make_job(in("whole"), one, two);
    sum_of_all(in("whole"), NULL, before);
    hw_job_checked checked = checked_job(in("whole"));
    counts(&checked, 0, 0, 0);
    check_text(checked.title, "Oak hall bench");
    check_true(checked.lines_whole == 5 && checked.lines_bad == 0 && checked.lines_torn == 0);
    check_true(checked.photos_whole == 2 && checked.photos_unknown == 0);
    check_true(checked.job_file == HW_CONDITION_WHOLE && checked.log_file == HW_CONDITION_WHOLE);
    hw_job_checked_free(&checked);
    sum_of_all(in("whole"), NULL, after);
    check_text(after, before);
    remove_all(in("whole"));
}

// Cut at every byte: half a line is moved aside as the next writer would; every other byte stays.
static void test_torn(void)
{
    char before[65], after[65];
    size_t count = 0, kept = 0;
    make_job(in("torn"), one, two);
    char *log = read_file(in("torn/log.jsonl"), &count);
    for (size_t cut = 1; cut < count; cut += 13) {
        size_t whole = hw_log_whole_bytes(log, cut);
        write_file(in("torn/log.jsonl"), log, cut);
        sum_of_all(in("torn"), "log.jsonl", before);
        hw_job_checked checked = checked_job(in("torn"));
        bool torn = whole < cut;
        check_true(checked.lines_torn == torn);
        check_true(hw_findings_count(&checked.findings, HW_SEVERITY_MENDED) == torn);
        sum_of_all(in("torn"), "log.jsonl", after);
        check_text(after, before);
        char *now = read_file(in("torn/log.jsonl"), &kept);
        check_true(kept == whole && memcmp(now, log, whole) == 0);
        hw_free(now);
        if (torn) {
            char *aside = read_file(in("torn/log.jsonl.torn-%zu", whole), &kept);
            check_true(aside && kept == cut - whole && memcmp(aside, log + whole, kept) == 0);
            hw_free(aside);
            check_true(unlink(in("torn/log.jsonl.torn-%zu", whole)) == 0);
        }
        hw_job_checked_free(&checked);
    }
    // A torn tail that was moved aside before is not overwritten.
    size_t whole = hw_log_whole_bytes(log, count - 4);
    for (int turn = 0; turn < 2; turn++) {
        write_file(in("torn/log.jsonl"), log, whole + 9 + (size_t)turn);
        hw_job_checked checked = checked_job(in("torn"));
        counts(&checked, 0, 0, 1);
        hw_job_checked_free(&checked);
    }
    hw_free(read_file(in("torn/log.jsonl.torn-%zu", whole), &kept));
    check_true(kept == 9);
    hw_free(read_file(in("torn/log.jsonl.torn-%zu-2", whole), &kept));
    check_true(kept == 10);
    hw_free(log);
    remove_all(in("torn"));
}

// One flipped bit in a line: that line is named, its number is not called missing as well.
static void test_bad_lines(void)
{
    size_t count = 0;
    make_job(in("bad"), one, two);
    char *log = read_file(in("bad/log.jsonl"), &count);
    long line = 1;
    for (size_t at = 0; at < count; at++) {
        if (log[at] == '\n') {
            line++;
        } else if (at % 31 == 3 && (log[at] ^ 1) != '\n') {
            char where[40];
            log[at] = (char)(log[at] ^ 1);
            write_file(in("bad/log.jsonl"), log, count);
            log[at] = (char)(log[at] ^ 1);
            snprintf(where, sizeof where, "log.jsonl, line %ld", line);
            hw_job_checked checked = checked_job(in("bad"));
            finds(&checked, HW_SEVERITY_LOSS, where, "checksum does not fit");
            check_true(checked.lines_bad == 1 && checked.lines_whole == 4);
            check_true(checked.events_missing == 0 && !checked.all_there);
            hw_job_checked_free(&checked);
        }
    }
    write_file(in("bad/log.jsonl"), log, count);
    add_to_file(in("bad/log.jsonl"), "\n\r\nx\ny\nz\n");
    hw_job_checked checked = checked_job(in("bad"));
    counts(&checked, 1, 1, 0);
    finds(&checked, HW_SEVERITY_ODD, "log.jsonl, lines 6 to 7", "harmless");
    finds(&checked, HW_SEVERITY_LOSS, "log.jsonl, lines 8 to 10", "damaged");
    check_true(checked.lines_bad == 3);
    hw_job_checked_free(&checked);
    hw_free(log);
    remove_all(in("bad"));
}

// More findings than any fixed list: each is there.
static void test_many(void)
{
    hw_job_checked checked = {0};
    make_job(in("many"), one, two);
    for (int i = 0; i < 100; i++) {
        add_to_file(in("many/log.jsonl"), i % 2 ? "bad\n" : "\n");
    }
    checked = checked_job(in("many"));
    counts(&checked, 50, 50, 0);
    hw_job_checked_free(&checked);
    remove_all(in("many"));
}

static void test_order(void)
{
    make_job(in("order"), one, two);
    const char *folder = in("order");
    add_line(folder, "{\"event\":\"note\",\"number\":7,\"at\":\"2001-09-09T01:50:00Z\"}");
    add_line(folder, "{\"event\":\"note\",\"number\":8,\"at\":\"2001-09-09T01:49:00Z\"}");
    add_line(folder, "{\"event\":\"note\",\"number\":8,\"at\":\"2001-09-09T01:51:00Z\"}");
    add_line(folder, "{\"event\":\"note\",\"number\":4,\"at\":\"2001-09-09T01:52:00Z\"}");
    add_line(folder, "{\"event\":\"note\",\"number\":12,\"at\":\"2001-09-09T01:53:00Z\"}");
    add_line(folder, "{\"event\":\"note\",\"number\":13,\"at\":\"yesterday\"}");
    add_line(folder, "{\"event\":\"note\",\"at\":\"2001-09-09T01:54:00Z\"}");
    hw_job_checked checked = checked_job(folder);
    finds(&checked, HW_SEVERITY_LOSS, "log.jsonl, line 6", "Event 6 is not there");
    finds(&checked, HW_SEVERITY_ODD, "log.jsonl, line 7",
          "The clock was set back between event 7 and 8");
    finds(&checked, HW_SEVERITY_ODD, "log.jsonl, line 8",
          "event 8, and the one before it is event 8");
    finds(&checked, HW_SEVERITY_ODD, "log.jsonl, line 9", "event 4, but event 8 came before it");
    finds(&checked, HW_SEVERITY_LOSS, "log.jsonl, line 10", "Events 9 to 11 are not there");
    finds(&checked, HW_SEVERITY_ODD, "log.jsonl, line 11", "Event 13 has no readable time");
    finds(&checked, HW_SEVERITY_ODD, "log.jsonl, line 12", "no usable number");
    counts(&checked, 2, 5, 0);
    check_true(checked.events_missing == 4);
    hw_job_checked_free(&checked);
    remove_all(in("order"));
    // A gap beside a damaged line: only what that line cannot be is missing.
    make_job(in("gap"), one, two);
    add_to_file(in("gap/log.jsonl"), "bad\n");
    add_line(in("gap"), "{\"event\":\"note\",\"number\":9,\"at\":\"2001-09-09T01:50:00Z\"}");
    checked = checked_job(in("gap"));
    finds(&checked, HW_SEVERITY_LOSS, "log.jsonl, line 7", "2 of the events 6 to 8 are not there");
    counts(&checked, 2, 0, 0);
    hw_job_checked_free(&checked);
    remove_all(in("gap"));
}

// Members that point at events, of whatever kind the event is.
static void test_pointers(void)
{
    make_job(in("points"), one, two);
    const char *folder = in("points");
    add_line(folder, "{\"event\":\"reading\",\"number\":6,\"at\":\"2001-09-09T01:50:00Z\","
                     "\"photo_event\":77}");
    add_line(folder, "{\"event\":\"pass_laid\",\"number\":7,\"at\":\"2001-09-09T01:50:00Z\","
                     "\"before_photo\":3}");
    add_line(folder, "{\"event\":\"correction\",\"number\":8,\"at\":\"2001-09-09T01:50:00Z\","
                     "\"of\":99}");
    add_line(folder, "{\"event\":\"correction\",\"number\":9,\"at\":\"2001-09-09T01:50:00Z\","
                     "\"of\":7}");
    add_line(folder, "{\"event\":\"correction\",\"number\":10,\"at\":\"2001-09-09T01:50:00Z\","
                     "\"of\":-2.5}");
    add_line(folder, "{\"event\":\"photo_added\",\"number\":11,\"at\":\"2001-09-09T01:50:00Z\","
                     "\"photo\":\"../secret.jpg\"}");
    hw_job_checked checked = checked_job(folder);
    finds(&checked, HW_SEVERITY_LOSS, "log.jsonl, event 6",
          "(reading) points at photo event 77, which is not there");
    finds(&checked, HW_SEVERITY_ODD, "log.jsonl, event 7",
          "(pass_laid) points at event 3 as a photo, which is none");
    finds(&checked, HW_SEVERITY_LOSS, "log.jsonl, event 8",
          "(correction) points at event 99, which is not there");
    finds(&checked, HW_SEVERITY_ODD, "log.jsonl, event 10", "a number that none can have");
    finds(&checked, HW_SEVERITY_LOSS, "log.jsonl, line 11", "names a photo that none");
    counts(&checked, 3, 2, 0);
    hw_job_checked_free(&checked);
    remove_all(in("points"));
}

static void test_photos(void)
{
    hw_job *job = NULL;
    char lost[96], stored[96];
    make_job(in("photos"), one, two);
    check_true(hw_job_open(in("photos"), NULL, &job, NULL) == HW_OK);
    check_true(hw_job_keep_photo(job, "never logged", 12, "png", lost, NULL) == HW_OK);
    hw_job_free(job);
    write_file(in("photos/%s.new-4711-0", two), "hal", 3);
    write_file(in("photos/job.json.new-4711-3"), "{", 1);
    write_file(in("photos/photos/readme.txt"), "hello", 5);
    add_photo(in("photos"), "one photo", 1000000180, stored); // the same photo again
    check_text(stored, one);
    hw_job_checked checked = checked_job(in("photos"));
    finds(&checked, HW_SEVERITY_ODD, lost, "Kept but never logged, as after a power cut: harmless");
    finds(&checked, HW_SEVERITY_ODD, "photos/readme.txt", "harmless");
    finds(&checked, HW_SEVERITY_ODD, "job.json.new-4711-3", "half written");
    counts(&checked, 0, 4, 0);
    check_true(checked.photos_whole == 2 && checked.photos_unknown == 2);
    hw_job_checked_free(&checked);
    write_file(in("photos/%s", one), "one photo!", 10);
    check_true(unlink(in("photos/%s", two)) == 0);
    checked = checked_job(in("photos"));
    finds(&checked, HW_SEVERITY_LOSS, one, "This photo of event 2 is not what it was");
    finds(&checked, HW_SEVERITY_LOSS, two, "This photo of event 4 is missing");
    counts(&checked, 2, 4, 0);
    check_true(checked.photos_changed == 1 && checked.photos_missing == 1);
    hw_job_checked_free(&checked);
    // Something that would never end, in place of a photo: it is not waited for.
    check_true(mkfifo(in("photos/%s", two), 0600) == 0);
    checked = checked_job(in("photos"));
    finds(&checked, HW_SEVERITY_LOSS, two, "cannot be read: this is a pipe or a device");
    hw_job_checked_free(&checked);
    remove_all(in("photos"));
}

// A photo's sheet is a photo of the job too, and so is one that an event of a later version names.
static void test_other_photos(void)
{
    char lost[96];
    make_job(in("other"), one, two);
    snprintf(lost, sizeof lost, "photos/%064d.jpg", 7);
    hw_text line = {0};
    hw_text_add(&line,
                "{\"event\":\"photo_added\",\"number\":6,\"at\":\"2001-09-09T01:50:00Z\","
                "\"photo\":\"%s\",\"sheet\":\"%s\"}",
                one, lost);
    add_line(in("other"), line.bytes);
    line.length = 0;
    snprintf(lost, sizeof lost, "photos/%064d.jpg", 8);
    hw_text_add(&line,
                "{\"event\":\"rainbow_seen\",\"number\":7,\"at\":\"2001-09-09T01:50:00Z\","
                "\"seen_on\":\"%s\"}",
                lost);
    add_line(in("other"), line.bytes);
    hw_text_free(&line);
    hw_job_checked checked = checked_job(in("other"));
    finds(&checked, HW_SEVERITY_LOSS, lost, "event 7 is missing");
    counts(&checked, 2, 0, 0);
    hw_job_checked_free(&checked);
    remove_all(in("other"));
}

// The names that a job's folder holds, each in a block of its own size, and cut anywhere.
static void test_members(void)
{
    static const struct {
        const char *name;
        hw_member member;
    } names[] = {
        {"job.json", HW_MEMBER_JOB},
        {"log.jsonl", HW_MEMBER_LOG},
        {"log.jsonl.torn-0", HW_MEMBER_TORN},
        {"log.jsonl.torn-812-2", HW_MEMBER_TORN},
        {"log.jsonl.torn-", HW_MEMBER_NONE},
        {"log.jsonl.torn-8x", HW_MEMBER_NONE},
        {"log.jsonl.torn-1-2-3", HW_MEMBER_NONE},
        {"log.jsonl.torn-12345678901234567890", HW_MEMBER_NONE},
        {"marks-to-edit.json", HW_MEMBER_MARKS},
        {"marks-to-edit-999.json", HW_MEMBER_MARKS},
        {"marks-to-edit-2.svg", HW_MEMBER_MARKS},
        {"marks-to-edit-.json", HW_MEMBER_NONE},
        {"marks-to-edit.json.new-1-0", HW_MEMBER_NONE},
        {"photos/ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad.jpg",
         HW_MEMBER_PHOTO},
        {"photos/ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad.jpg2",
         HW_MEMBER_PHOTO},
        {"photos/ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad.JPG",
         HW_MEMBER_NONE},
        {"photos/ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad.123456789",
         HW_MEMBER_NONE},
        {"photos/ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015a/.jpg",
         HW_MEMBER_NONE},
        {"look-ba7816bf8f01cfea", HW_MEMBER_LOOK},
        {"look-ba7816bf8f01cfe", HW_MEMBER_NONE},
        {"look-ba7816bf8f01cfea4", HW_MEMBER_NONE},
        {"look-BA7816bf8f01cfea", HW_MEMBER_NONE},
        {"photos/", HW_MEMBER_NONE},
        {"", HW_MEMBER_NONE},
    };
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        size_t length = strlen(names[i].name);
        check_true(hw_job_member(names[i].name) == names[i].member);
        for (size_t cut = 0; cut < length; cut++) { // what is cut is another name, or none
            char *exact = malloc(cut + 1);
            memcpy(exact, names[i].name, cut);
            exact[cut] = 0;
            hw_member member = hw_job_member(exact);
            check_true(member == HW_MEMBER_NONE || member == HW_MEMBER_LOG ||
                       member == HW_MEMBER_TORN || member == HW_MEMBER_PHOTO ||
                       cut == strlen("look-") + 16 || strcmp(exact, "marks-to-edit.json") == 0);
            free(exact);
        }
    }
    check_true(hw_is_half_written("log.jsonl.new-12-0") && hw_is_half_written(".new-1.new-2-3"));
    check_true(!hw_is_half_written("log.new-12") && !hw_is_half_written("log.new-12-0x"));
}

static void refused(const char *folder, const char *code)
{
    hw_job_checked checked = {0};
    hw_error err = {0};
    check_true(hw_job_check(folder, NULL, &checked, &err) == HW_ERR_INPUT);
    check_text(err.code, code);
}

// Folders that hw_job_open refuses or warns about.
static void test_folders(void)
{
    refused(in("none"), "job-missing");
    refused(place, "job-missing");
    make_job(in("odd"), one, two);
    write_file(in("odd/job.json"), "{\"format\":", 10);
    hw_job_checked checked = checked_job(in("odd"));
    finds(&checked, HW_SEVERITY_LOSS, "job.json", "This file is damaged");
    check_text(checked.title, "Oak hall bench"); // from the log
    check_true(checked.job_file == HW_CONDITION_DAMAGED && checked.lines_whole == 5);
    check_true(checked.photos_whole == 2);
    counts(&checked, 1, 0, 0);
    hw_job_checked_free(&checked);
    check_true(unlink(in("odd/job.json")) == 0);
    checked = checked_job(in("odd"));
    finds(&checked, HW_SEVERITY_LOSS, "job.json", "{\"format\":1,\"title\":\"...\"}");
    check_true(checked.job_file == HW_CONDITION_MISSING);
    hw_job_checked_free(&checked);
    // What it says to do opens the job.
    hw_job *job = NULL;
    write_file(in("odd/job.json"), "{\"format\":1,\"title\":\"...\"}", 26);
    check_true(hw_job_open(in("odd"), NULL, &job, NULL) == HW_OK && hw_job_event_count(job) == 5);
    hw_job_free(job);
    write_file(in("odd/job.json"), "{\"format\":2,\"title\":\"new\"}", 26);
    checked = checked_job(in("odd"));
    finds(&checked, HW_SEVERITY_ODD, "job.json", "A newer huewright has made this job");
    check_true(checked.job_file == HW_CONDITION_NEWER);
    counts(&checked, 0, 1, 0);
    hw_job_checked_free(&checked);
    remove_all(in("odd/photos"));
    checked = checked_job(in("odd"));
    finds(&checked, HW_SEVERITY_LOSS, "photos/", "missing");
    check_true(checked.photos_missing == 2);
    counts(&checked, 3, 1, 0);
    hw_job_checked_free(&checked);
    write_file(in("odd/log.jsonl"), "", 0);
    checked = checked_job(in("odd"));
    finds(&checked, HW_SEVERITY_ODD, "log.jsonl", "no event");
    finds(&checked, HW_SEVERITY_ODD, "photos/", "names none");
    hw_job_checked_free(&checked);
    check_true(unlink(in("odd/log.jsonl")) == 0);
    checked = checked_job(in("odd"));
    finds(&checked, HW_SEVERITY_LOSS, "log.jsonl", "The log is missing");
    check_true(checked.log_file == HW_CONDITION_MISSING);
    check_true(!hw_file_exists(in("odd/log.jsonl"))); // and it is not made
    hw_job_checked_free(&checked);
    remove_all(in("odd"));
}

// A folder that may only be read: told, not mended, not changed.
static bool check_read_only(void)
{
    hw_job_checked checked = {0};
    bool good = hw_job_check(in("read only"), NULL, &checked, NULL) == HW_OK &&
                checked.lines_torn == 1 && checked.all_there && checked.findings.count == 1 &&
                checked.findings.item[0].severity == HW_SEVERITY_ODD &&
                strstr(checked.findings.item[0].sentence,
                       "could not be moved aside: you may not write here");
    hw_job_checked_free(&checked);
    return good;
}

static void test_read_only(void)
{
    char before[65], after[65];
    check_true(chmod(place, 0755) == 0);
    make_job(in("read only"), one, two);
    add_to_file(in("read only/log.jsonl"), "{\"eve");
    check_true(chmod(in("read only/log.jsonl"), 0444) == 0);
    check_true(chmod(in("read only"), 0555) == 0 && chmod(in("read only/photos"), 0555) == 0);
    sum_of_all(in("read only"), NULL, before);
    check_true(as_ordinary(check_read_only));
    sum_of_all(in("read only"), NULL, after);
    check_text(after, before);
    check_true(chmod(in("read only"), 0755) == 0 && chmod(in("read only/photos"), 0755) == 0);
    remove_all(in("read only"));
}

// A tail that another program is writing right now is not torn: it is waited for.
static void test_another_writes(void)
{
    int ready[2];
    char byte;
    make_job(in("writes"), one, two);
    check_true(pipe(ready) == 0);
    pid_t child = fork();
    if (child == 0) {
        hw_append *log = NULL;
        const char *line = "half a line that becomes ";
        if (hw_append_open(in("writes/log.jsonl"), 0, &log, NULL) != HW_OK ||
            hw_append_write(log, line, strlen(line), NULL) != HW_OK ||
            write(ready[1], "x", 1) != 1) {
            _exit(1);
        }
        nanosleep(&(struct timespec){0, 200000000}, NULL);
        _exit(hw_append_write(log, "whole\n", 6, NULL) == HW_OK ? 0 : 1);
    }
    check_true(read(ready[0], &byte, 1) == 1);
    hw_job_checked checked = checked_job(in("writes"));
    check_true(checked.lines_torn == 0 && checked.lines_bad == 1);
    hw_job_checked_free(&checked);
    waitpid(child, NULL, 0);
    close(ready[0]);
    close(ready[1]);
    remove_all(in("writes"));
}

// Photos of any size are read piece by piece: a child that may not have so much memory checks them.
static bool check_large(void)
{
    hw_job_checked checked = {0};
    bool good = hw_job_check(in("large"), NULL, &checked, NULL) == HW_OK &&
                checked.photos_changed == 1 && checked.photos_whole == 1;
    struct rusage use;
    hw_job_checked_free(&checked);
    return good && getrusage(RUSAGE_SELF, &use) == 0 && use.ru_maxrss < 200 * 1024; // KiB
}

static void test_large(void)
{
    make_job(in("large"), one, two);
    check_true(chmod(place, 0755) == 0 && truncate(in("large/%s", two), 300 << 20) == 0);
    check_true(as_ordinary(check_large));
    remove_all(in("large"));
}

// Every allocation failing in turn: refused for want of memory, or told in full; nothing but the tail
// is changed.
static void test_memory(void)
{
    size_t count = 0, kept = 0;
    bool done = false;
    long refusals = 0;
    make_job(in("memory"), one, two);
    add_to_file(in("memory/log.jsonl"), "bad\n{\"half");
    char *log = read_file(in("memory/log.jsonl"), &count);
    size_t whole = hw_log_whole_bytes(log, count);
    for (long n = 0; n < 2000 && !done; n++) {
        hw_job_checked checked = {0};
        hw_error err = {0};
        write_file(in("memory/log.jsonl"), log, count);
        unlink(in("memory/log.jsonl.torn-%zu", whole));
        hw_test_fail_alloc(n);
        hw_status status = hw_job_check(in("memory"), NULL, &checked, &err);
        hw_test_fail_alloc(-1);
        done = status == HW_OK;
        refusals += !done;
        check_true(done || (status == HW_ERR_STORAGE && strcmp(err.code, "memory-out") == 0));
        check_true(!done || (checked.lines_bad == 1 && checked.findings.count == 2));
        char *now = read_file(in("memory/log.jsonl"), &kept);
        check_true((kept == whole || kept == count) && memcmp(now, log, kept) == 0);
        check_true(kept == count || hw_file_exists(in("memory/log.jsonl.torn-%zu", whole)));
        hw_free(now);
        hw_job_checked_free(&checked);
    }
    check_true(done && refusals > 50);
    hw_free(log);
    remove_all(in("memory"));
}

int main(void)
{
    scratch_start("check");
    test_members();
    test_whole();
    test_torn();
    test_bad_lines();
    test_many();
    test_order();
    test_pointers();
    test_photos();
    test_other_photos();
    test_folders();
    test_read_only();
    test_another_writes();
    test_large();
    test_memory();
    remove_all(place);
    return check_done();
}
