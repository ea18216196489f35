// A job in one file and back: nothing is lost on the way, the same job gives the same bytes, a program that
// dies leaves no pack or a whole one, and a pack that means harm makes nothing.
#include "job_files.h"
#include "zip_maker.h"

#include <signal.h>
#include <sys/resource.h>

static char one[96], two[96]; // photos of the job

static const char job_text[] = "{\"format\":1,\"title\":\"Oak hall bench\"}";

static hw_job_packed packed_job(const char *folder, const char *file)
{
    hw_job_packed packed = {0};
    hw_error err = {0};
    if (!check_true(hw_job_pack(folder, file, NULL, &packed, &err) == HW_OK)) {
        printf("%s: %s: %s\n", err.code, err.subject, err.what);
    }
    return packed;
}

static hw_job_unpacked unpacked_job(const char *file, const char *folder)
{
    hw_job_unpacked unpacked = {0};
    hw_error err = {0};
    if (!check_true(hw_job_unpack(file, folder, NULL, &unpacked, &err) == HW_OK)) {
        printf("%s: %s: %s\n", err.code, err.subject, err.what);
    }
    return unpacked;
}

static bool finds(const hw_findings *findings, hw_severity severity, const char *where,
                  const char *words)
{
    for (size_t i = 0; i < findings->count; i++) {
        const hw_finding *found = &findings->item[i];
        if (found->severity == severity && strcmp(found->where, where) == 0 &&
            strstr(found->sentence, words)) {
            return true;
        }
    }
    for (size_t i = 0; i < findings->count; i++) {
        printf("  found: %s: %s\n", findings->item[i].where, findings->item[i].sentence);
    }
    return false;
}

static bool same_files(const char *a, const char *b)
{
    size_t counts[2];
    char *bytes[2] = {read_file(a, &counts[0]), read_file(b, &counts[1])};
    bool same = bytes[0] && bytes[1] && counts[0] == counts[1] &&
                memcmp(bytes[0], bytes[1], counts[0]) == 0;
    hw_free(bytes[0]);
    hw_free(bytes[1]);
    return same;
}

static size_t files_at(const char *path)
{
    hw_names names = {0};
    check_true(hw_folder_names(path, &names, NULL) == HW_OK);
    size_t count = names.count;
    hw_names_free(&names);
    return count;
}

// ---- There and back ----------------------------------------------------------------

static void test_round(void)
{
    char before[65], after[65], back[65];
    make_job(in("bench"), one, two);
    write_file(in("bench/marks-to-edit-2.json"), "{}", 2);
    write_file(in("bench/log.jsonl.torn-99"), "{\"ev", 4);
    sum_of_all(in("bench"), NULL, before);
    write_file(in("bench/look-0123456789abcdef"), "x", 1); // stays at home, and no word of it
    hw_job_packed packed = packed_job(in("bench"), in("one.zip"));
    unlink(in("bench/look-0123456789abcdef"));
    check_text(packed.name, "bench");
    check_true(packed.lines == 5 && packed.photos == 2 && packed.findings.count == 0);
    hw_job_packed_free(&packed);
    sum_of_all(in("bench"), NULL, after);
    check_text(after, before);
    hw_job_unpacked unpacked = unpacked_job(in("one.zip"), in("back"));
    check_true(unpacked.files == 6 && unpacked.left_aside == 0 && unpacked.findings.count == 0);
    check_true(unpacked.check.all_there && unpacked.check.lines_whole == 5);
    hw_job_unpacked_free(&unpacked);
    sum_of_all(in("back"), NULL, back);
    check_text(back, before);
    // Later, from a copy: the same bytes.
    sleep(1);
    check_true(rename(in("bench"), in("elsewhere")) == 0);
    check_true(mkdir(in("deep"), 0777) == 0 && rename(in("back"), in("deep/bench")) == 0);
    packed = packed_job(in("deep/bench"), in("two.zip"));
    hw_job_packed_free(&packed);
    check_true(same_files(in("one.zip"), in("two.zip")));
    remove_all(in("deep"));
    remove_all(in("elsewhere"));
    unlink(in("one.zip"));
    unlink(in("two.zip"));
}

static void refused_pack(const char *folder, const char *file, hw_status status, const char *code)
{
    hw_job_packed packed = {0};
    hw_error err = {0};
    check_true(hw_job_pack(folder, file, NULL, &packed, &err) == status);
    check_text(err.code, code);
    check_true(err.next[0] != 0);
}

static void test_refused(void)
{
    make_job(in("bench"), one, two);
    write_file(in("there.zip"), "mine", 4);
    refused_pack(in("bench"), in("there.zip"), HW_ERR_CALL, "file-exists");
    check_true(same_files(in("there.zip"), in("there.zip")) && files_at(place) == 2);
    refused_pack(in("bench"), in("no/such.zip"), HW_ERR_STORAGE, "folder-missing");
    refused_pack(in("nowhere"), in("x.zip"), HW_ERR_INPUT, "job-missing");
    refused_pack(place, in("x.zip"), HW_ERR_INPUT, "job-missing");
    check_true(files_at(place) == 2);
    unlink(in("there.zip"));
    remove_all(in("bench"));
}

// What is damaged or missing is told by name; all the rest is packed.
static void test_damaged(void)
{
    make_job(in("bench"), one, two);
    check_true(unlink(in("bench/%s", one)) == 0);
    write_file(in("bench/%s", two), "another photo!", 14);
    write_file(in("bench/notes.txt"), "x", 1);
    write_file(in("bench/photos/x"), "x", 1);
    add_to_file(in("bench/log.jsonl"), "bad line\n{\"half");
    hw_job_packed packed = packed_job(in("bench"), in("p.zip"));
    check_true(finds(&packed.findings, HW_SEVERITY_LOSS, one, "not in the pack"));
    check_true(finds(&packed.findings, HW_SEVERITY_LOSS, two, "packed as it is now"));
    check_true(finds(&packed.findings, HW_SEVERITY_LOSS, "log.jsonl, line 6", "damaged"));
    check_true(finds(&packed.findings, HW_SEVERITY_ODD, "log.jsonl", "half a line"));
    check_true(finds(&packed.findings, HW_SEVERITY_ODD, "notes.txt", "no part of the job"));
    check_true(finds(&packed.findings, HW_SEVERITY_ODD, "photos/x", "Left out"));
    check_true(packed.findings.count == 6 && packed.lines == 6 && packed.photos == 1);
    hw_job_packed_free(&packed);
    hw_job_unpacked unpacked = unpacked_job(in("p.zip"), in("out"));
    check_true(finds(&unpacked.findings, HW_SEVERITY_LOSS, two, "is not what it was"));
    check_true(unpacked.left_aside == 1 && !hw_file_exists(in("out/%s", two)));
    check_true(!unpacked.check.all_there && unpacked.check.photos_missing == 2);
    check_true(unpacked.check.lines_whole == 5 && unpacked.check.lines_bad == 1);
    hw_job_unpacked_free(&unpacked);
    size_t count = 0;
    char *log = read_file(in("bench/log.jsonl"), &count);
    char *torn = read_file(in("out/log.jsonl.torn-%zu", hw_log_whole_bytes(log, count)), &count);
    check_text(torn, "{\"half");
    hw_free(log);
    hw_free(torn);
    remove_all(in("out"));
    unlink(in("p.zip"));
    // Without job.json, without a log: what is there is packed, and what is not is told.
    check_true(unlink(in("bench/job.json")) == 0);
    packed = packed_job(in("bench"), in("p.zip"));
    check_true(finds(&packed.findings, HW_SEVERITY_LOSS, "job.json", "Not in the pack"));
    hw_job_packed_free(&packed);
    unpacked = unpacked_job(in("p.zip"), in("out"));
    check_true(unpacked.check.job_file == HW_CONDITION_MISSING && !unpacked.check.all_there);
    hw_job_unpacked_free(&unpacked);
    remove_all(in("out"));
    unlink(in("p.zip"));
    remove_all(in("bench"));
}

// ---- Packs that mean harm ----------------------------------------------------------

// Unpacks a zip of these entries; where `code` is NULL it must be taken.
static hw_job_unpacked unpack_entries(const zip_entry *entries, size_t count, const char *code)
{
    hw_job_unpacked unpacked = {0};
    hw_error err = {0};
    zip_made zip = zip_make(entries, count);
    write_file(in("harm.zip"), (char *)zip.bytes, zip.count);
    free(zip.bytes);
    hw_status status = hw_job_unpack(in("harm.zip"), in("out"), NULL, &unpacked, &err);
    if (code) {
        check_true(status == HW_ERR_INPUT);
        check_text(err.code, code);
        if (!check_true(err.what[0] && err.next[0] && !hw_file_exists(in("out")))) {
            remove_all(in("out"));
        }
    } else if (!check_true(status == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    unlink(in("harm.zip"));
    check_true(files_at(place) == (status == HW_OK ? 1u : 0u)); // nothing anywhere else
    return unpacked;
}

#define JOB                                                                                        \
    {                                                                                              \
        .name = "c/job.json", .data = job_text, .count = sizeof job_text - 1                       \
    }

static void test_harm(void)
{
    static const struct {
        zip_entry second;
        const char *code;
    } harm[] = {
        {{.name = "../evil"}, "pack-unsafe"},
        {{.name = "c/../../log.jsonl"}, "pack-unsafe"},
        {{.name = "c/.."}, "pack-unsafe"},
        {{.name = "/log.jsonl"}, "pack-unsafe"},
        {{.name = "//log.jsonl"}, "pack-unsafe"},
        {{.name = "c\\..\\..\\log.jsonl"}, "pack-unsafe"},
        {{.name = "c/x\\log.jsonl", .mode = ZIP_FILE}, "pack-unsafe"},
        {{.name = "C:/log.jsonl"}, "pack-unsafe"},
        {{.name = "../"}, "pack-unsafe"},
        {{.name = "c/log.jsonl", .data = "/etc/passwd", .count = 11, .mode = ZIP_LINK},
         "pack-unsafe"},
        {{.name = "c/log.jsonl", .mode = ZIP_DEVICE}, "pack-unsafe"},
        {{.name = "c/job.json", .data = "{}", .count = 2}, "pack-twice"},
        {{.name = "d/job.json", .data = "{}", .count = 2}, "pack-two-jobs"},
        {{.name = "log.jsonl"}, "pack-two-jobs"},
        {{.name = "c/log.jsonl", .data = "0123456789abcdef", .count = 16, .flags = 1},
         "pack-encrypted"},
        {{.name = "c/log.jsonl", .data = "0123456789abcdef", .count = 16, .method = 14},
         "pack-method"},
        {{.name = "c/log.jsonl", .data = "x", .count = 1, .told_size = 0x7fffffff}, "pack-large"},
        {{.name = "c/marks-to-edit.json", .data = "x", .count = 1, .told_size = 5 << 20},
         "pack-large"},
    };
    for (size_t i = 0; i < sizeof harm / sizeof *harm; i++) {
        const zip_entry entries[] = {JOB, harm[i].second};
        int before = check_failed;
        unpack_entries(entries, 2, harm[i].code);
        if (check_failed > before) {
            printf("  with %s\n", harm[i].second.name);
        }
    }
    const zip_entry nothing[] = {{.name = "c/readme.txt"}};
    unpack_entries(nothing, 1, "pack-no-job");
    unpack_entries(nothing, 0, "pack-unknown");
}

// What is no file of a job is left in the pack: also links, and names that differ in case.
static void test_left_aside(void)
{
    const zip_entry entries[] = {
        JOB,
        {.name = "c/JOB.JSON", .data = "x", .count = 1},
        {.name = "c/link", .data = "/etc", .count = 4, .mode = ZIP_LINK},
        {.name = "c/photos", .data = "/etc", .count = 4, .mode = ZIP_LINK},
        {.name = "c/photos/abc.jpg", .data = "x", .count = 1},
        {.name = "c/photos/"
                 "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad.jpg",
         .data = "abd", // of FIPS 180-4's "abc" it would be right
         .count = 3},
        {.name = "c/photos/"
                 "BA7816BF8F01CFEA414140DE5DAE2223B00361A396177A9CB410FF61F20015AD.JPG",
         .data = "abc",
         .count = 3},
        {.name = "c/log.jsonl.torn-1", .data = "x", .count = 1, .wrong_sum = true},
        {.name = "__MACOSX/c/._job.json", .data = "x", .count = 1},
        {.name = "c/x/job.json", .data = "x", .count = 1},
        {.name = "", .data = "x", .count = 1},
        {.name = "c/photos/"
                 "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad.png",
         .data = "abc",
         .count = 3,
         .deflate = true},
        {.name = "c/e\x1b[2J", .data = "x", .count = 1},
    };
    hw_job_unpacked got = unpack_entries(entries, sizeof entries / sizeof *entries, NULL);
    check_true(got.files == 2 && got.left_aside == 11 && got.findings.count == 11);
    check_true(finds(&got.findings, HW_SEVERITY_ODD, "c/JOB.JSON", "no file of a job"));
    check_true(finds(&got.findings, HW_SEVERITY_LOSS, "log.jsonl.torn-1", "damaged"));
    check_true(got.check.log_file == HW_CONDITION_MISSING && got.check.photos_unknown == 1);
    hw_job_unpacked_free(&got);
    check_true(files_at(in("out")) == 2 && files_at(in("out/photos")) == 1);
    remove_all(in("out"));
}

// Bombs: a megabyte of zeros in a thousand bytes, a hundred times over; entries that share their bytes.
static void test_bombs(void)
{
    const size_t size = 3 << 20;
    char *zeros = calloc(size, 1);
    zip_entry entries[60] = {JOB};
    static char names[60][96];
    for (int i = 1; i < 60; i++) {
        snprintf(names[i], sizeof names[i], "c/log.jsonl.torn-%d", i);
        entries[i] = (zip_entry){
            .name = names[i], .data = zeros, .count = size, .deflate = true, .told_size = 1};
    }
    // Sizes that lie: each entry fails its own test as soon as it grows past what it told.
    hw_job_unpacked got = unpack_entries(entries, 10, NULL);
    check_true(got.files == 1 && got.left_aside == 9);
    hw_job_unpacked_free(&got);
    remove_all(in("out"));
    for (int i = 1; i < 60; i++) {
        entries[i].told_size = 0; // true, and 177 MiB in all
    }
    unpack_entries(entries, 60, "pack-large");
    // Entries that share the bytes of one: it is taken once, or never.
    for (int i = 2; i < 60; i++) {
        entries[i].shares = true;
    }
    got = unpack_entries(entries, 60, NULL);
    check_true(got.files == 2);
    hw_job_unpacked_free(&got);
    remove_all(in("out"));
    free(zeros);
}

static void test_folders(void)
{
    hw_job_unpacked got = {0};
    hw_error err = {0};
    char here[1000];
    const zip_entry entries[] = {JOB};
    const zip_entry bare[] = {{.name = "job.json", .data = job_text, .count = sizeof job_text - 1}};
    zip_made zip = zip_make(entries, 1);
    write_file(in("a.zip"), (char *)zip.bytes, zip.count);
    free(zip.bytes);
    zip = zip_make(bare, 1);
    write_file(in("bare.zip"), (char *)zip.bytes, zip.count);
    write_file(in("plain"), (char *)zip.bytes, zip.count);
    free(zip.bytes);
    check_true(getcwd(here, sizeof here) != NULL && chdir(place) == 0);
    got = unpacked_job("a.zip", NULL);
    check_text(got.folder, "c");
    hw_job_unpacked_free(&got);
    got = unpacked_job("bare.zip", NULL);
    check_text(got.folder, "bare");
    hw_job_unpacked_free(&got);
    // There already: refused, and the way out is named.
    check_true(hw_job_unpack("a.zip", NULL, NULL, &got, &err) == HW_ERR_CALL);
    check_text(err.code, "folder-taken");
    check_holds(err.next, "huewright unpack FILE FOLDER");
    err = (hw_error){0};
    check_true(hw_job_unpack("plain", NULL, NULL, &got, &err) == HW_ERR_CALL);
    check_text(err.code, "folder-taken"); // the pack itself has that name
    err = (hw_error){0};
    check_true(hw_job_unpack("a.zip", "no/such/folder", NULL, &got, &err) == HW_ERR_STORAGE);
    check_text(err.code, "folder-missing");
    check_true(mkdir("empty", 0777) == 0);
    got = unpacked_job("a.zip", "empty"); // an empty one is as good as none
    hw_job_unpacked_free(&got);
    err = (hw_error){0};
    check_true(hw_job_unpack("none.zip", "x", NULL, &got, &err) == HW_ERR_INPUT);
    check_text(err.code, "file-missing");
    check_true(chdir(here) == 0);
    remove_all(in("c"));
    remove_all(in("bare"));
    remove_all(in("empty"));
    unlink(in("a.zip"));
    unlink(in("bare.zip"));
    unlink(in("plain"));
    check_true(files_at(place) == 0);
}

// ---- Disk, memory, death -----------------------------------------------------------

// Runs pack or unpack in a child that may write no file past `most` bytes; true where it is refused.
static bool refused_when_full(bool pack, rlim_t most)
{
    pid_t child = fork();
    if (child == 0) {
        struct rlimit limit = {most, most};
        hw_error err = {0};
        hw_job_packed packed;
        hw_job_unpacked unpacked;
        signal(SIGXFSZ, SIG_IGN);
        setrlimit(RLIMIT_FSIZE, &limit);
        hw_status status = pack ? hw_job_pack(in("bench"), in("full.zip"), NULL, &packed, &err)
                                : hw_job_unpack(in("p.zip"), in("out"), NULL, &unpacked, &err);
        _exit(status == HW_ERR_STORAGE && err.what[0] && err.next[0] ? 0 : 1);
    }
    int how = 0;
    waitpid(child, &how, 0);
    return WIFEXITED(how) && WEXITSTATUS(how) == 0;
}

static void test_full(void)
{
    make_job(in("bench"), one, two);
    hw_job_packed packed = packed_job(in("bench"), in("p.zip"));
    for (rlim_t most = 0; most < packed.bytes; most += 97) {
        check_true(refused_when_full(true, most) && files_at(place) == 2);
    }
    struct stat facts;
    check_true(stat(in("bench/log.jsonl"), &facts) == 0);
    for (rlim_t most = 0; most < (rlim_t)facts.st_size; most += 81) {
        check_true(refused_when_full(false, most) && files_at(place) == 2);
    }
    hw_job_packed_free(&packed);
    unlink(in("p.zip"));
    remove_all(in("bench"));
}

static void done_or_memory_out(long n, hw_status status, const hw_error *err)
{
    bool memory_out = status == HW_ERR_STORAGE && strcmp(err->code, "memory-out") == 0;
    if (!check_true(status == HW_OK || memory_out)) {
        printf("%ld: %s: %s: %s\n", n, err->code, err->subject, err->what);
    }
}

// Every allocation of ours failing in turn: refused, and nothing stays of it; or done in full.
static void test_memory(void)
{
    bool done = false;
    long refusals = 0;
    make_job(in("bench"), one, two);
    add_to_file(in("bench/log.jsonl"), "{\"half");
    for (long n = 0; n < 3000 && !done; n++) {
        hw_job_packed packed = {0};
        hw_error err = {0};
        hw_test_fail_alloc(n);
        hw_status status = hw_job_pack(in("bench"), in("p.zip"), NULL, &packed, &err);
        hw_test_fail_alloc(-1);
        done = status == HW_OK;
        refusals += !done;
        done_or_memory_out(n, status, &err);
        check_true(!done || (packed.lines == 5 && packed.photos == 2));
        check_true(files_at(place) == (done ? 2u : 1u));
        hw_job_packed_free(&packed);
    }
    check_true(done && refusals > 50);
    done = false;
    refusals = 0;
    for (long n = 0; n < 3000 && !done; n++) {
        hw_job_unpacked got = {0};
        hw_error err = {0};
        hw_test_fail_alloc(n);
        hw_status status = hw_job_unpack(in("p.zip"), in("out"), NULL, &got, &err);
        hw_test_fail_alloc(-1);
        done = status == HW_OK;
        refusals += !done;
        done_or_memory_out(n, status, &err);
        // Refused before it was there, or there whole and only not checked: then it says so.
        bool whole = hw_file_exists(in("out/job.json"));
        check_true(whole == (done || strstr(err.next, "It is unpacked") != NULL));
        check_true(whole || files_at(place) == 2);
        if (whole) {
            check_true(same_files(in("out/%s", one), in("bench/%s", one)) &&
                       same_files(in("out/%s", two), in("bench/%s", two)));
        }
        hw_job_unpacked_free(&got);
        remove_all(in("out"));
    }
    check_true(done && refusals > 50);
    unlink(in("p.zip"));
    remove_all(in("bench"));
}

// Killed at any moment, `what` does its work or leaves nothing that looks like it.
static void killed_after(long microseconds, bool pack)
{
    pid_t child = fork();
    if (child == 0) {
        hw_job_packed packed;
        hw_job_unpacked unpacked;
        hw_status status = pack ? hw_job_pack(in("bench"), in("k.zip"), NULL, &packed, NULL)
                                : hw_job_unpack(in("p.zip"), in("out"), NULL, &unpacked, NULL);
        _exit((int)status);
    }
    nanosleep(&(struct timespec){0, microseconds * 1000}, NULL);
    kill(child, SIGKILL);
    waitpid(child, NULL, 0);
}

static void test_killed(void)
{
    int whole = 0, none = 0;
    char text[3000];
    make_job(in("bench"), one, two);
    for (int i = 0; i < 12; i++) {
        char stored[96];
        memset(text, 'a' + i, sizeof text);
        text[sizeof text - 1] = 0;
        add_photo(in("bench"), text, 1000000200 + i, stored);
    }
    hw_job_packed packed = packed_job(in("bench"), in("p.zip"));
    const size_t lines = packed.lines;
    hw_job_packed_free(&packed);
    for (long turn = 0; turn < 60; turn++) {
        killed_after(turn * 250, true);
        bool there = hw_file_exists(in("k.zip"));
        whole += there;
        none += !there;
        check_true(!there || same_files(in("k.zip"), in("p.zip")));
        unlink(in("k.zip"));
    }
    printf("pack killed: %d whole, %d not there\n", whole, none);
    check_true(whole > 0 && none > 0);
    whole = none = 0;
    for (long turn = 0; turn < 50; turn++) {
        hw_job *job = NULL;
        killed_after(turn * turn * 100, false);
        bool opens = hw_file_exists(in("out/job.json")) && // comes last
                     hw_job_open(in("out"), NULL, &job, NULL) == HW_OK;
        whole += opens;
        none += !opens;
        hw_job_free(job);
        if (opens) {
            hw_job_checked checked = {0};
            check_true(hw_job_check(in("out"), NULL, &checked, NULL) == HW_OK);
            check_true(checked.all_there && checked.photos_whole == 14 &&
                       checked.lines_whole == lines);
            hw_job_checked_free(&checked);
        }
        remove_all(in("out"));
    }
    printf("unpack killed: %d whole, %d no job\n", whole, none);
    check_true(whole > 0 && none > 0);
}

int main(void)
{
    scratch_start("pack");
    test_round();
    test_refused();
    test_damaged();
    test_harm();
    test_left_aside();
    test_bombs();
    test_folders();
    test_full();
    test_memory();
    test_killed();
    remove_all(place);
    return check_done();
}
