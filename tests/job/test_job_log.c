// The log survives: cut at every byte, a flipped bit on every line, two programs at once.
#include "check.h"
#include "job_internal.h"

#include <dirent.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include <zlib.h>

static char folder[600];

// A new folder name that does not exist yet.
static void new_folder(void)
{
    static int number;
    snprintf(folder, sizeof folder, "%s/job test %ld-%d", HW_SCRATCH, (long)getpid(), number++);
}

static void remove_folder(const char *path)
{
    DIR *dir = opendir(path);
    for (struct dirent *entry; dir && (entry = readdir(dir));) {
        char inside[1200];
        snprintf(inside, sizeof inside, "%s/%s", path, entry->d_name);
        if (entry->d_name[0] != '.' && unlink(inside) != 0) {
            remove_folder(inside);
        }
    }
    if (dir) {
        closedir(dir);
    }
    rmdir(path);
}

static hw_pass_event pass_of(char (*patches)[HW_NAME_SIZE], const char *dye)
{
    hw_pass_event pass = {.patches = patches, .patch_count = 1, .passes = 2, .minutes = NAN};
    snprintf(patches[0], HW_NAME_SIZE, "lid \"strip\" \xc3\xa9");
    snprintf(pass.liquid.dose[0].dye, HW_NAME_SIZE, "%s", dye);
    pass.liquid.dose[0].strength = 0.25;
    pass.liquid.count = 1;
    return pass;
}

static hw_job *opened(void)
{
    hw_job *job = NULL;
    hw_error err = {0};
    if (!check_true(hw_job_open(folder, NULL, &job, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    return job;
}

static void make_job(int passes)
{
    new_folder();
    check_true(hw_job_start(folder, "Cabinet", 1000000000, NULL) == HW_OK);
    hw_job *job = opened();
    char patches[1][HW_NAME_SIZE];
    hw_pass_event pass = pass_of(patches, "red");
    for (int i = 0; i < passes; i++) {
        long number = 0;
        check_true(hw_job_add_pass(job, &pass, 1000000060 + i, &number, NULL) == HW_OK);
        check_true(number == i + 2);
    }
    hw_job_free(job);
}

static uint8_t *read_log(size_t *count)
{
    char path[700];
    uint8_t *bytes = NULL;
    snprintf(path, sizeof path, "%s/log.jsonl", folder);
    check_true(hw_file_read(path, 1 << 24, &bytes, count, NULL) == HW_OK);
    return bytes;
}

static void write_log(const uint8_t *bytes, size_t count)
{
    char path[700];
    snprintf(path, sizeof path, "%s/log.jsonl", folder);
    check_true(hw_file_replace(path, bytes, count, NULL) == HW_OK);
}

static void test_events(void)
{
    make_job(2);
    hw_job *job = opened();
    check_text(hw_job_title(job), "Cabinet");
    check_true(hw_job_event_count(job) == 3 && hw_job_warnings(job)->count == 0);
    const hw_event *event = hw_job_event(job, 2);
    check_true(event->kind == HW_EVENT_PASS_LAID && event->number == 3 && event->at == 1000000061);
    check_text(event->of.pass.patches[0], "lid \"strip\" \xc3\xa9");
    check_text(event->of.pass.liquid.dose[0].dye, "red");
    check_true(event->of.pass.passes == 2 && isnan(event->of.pass.minutes));
    hw_layer layers[4];
    check_true(hw_job_layers(job, "lid \"strip\" \xc3\xa9", 0, layers, 4) == 2 &&
               layers[1].passes == 2);
    check_true(hw_job_layers(job, "lid \"strip\" \xc3\xa9", 2, layers, 4) == 1);
    check_true(hw_job_layers(job, "other", 0, layers, 4) == 0);
    hw_job_free(job);
    hw_error err = {0};
    check_true(hw_job_start(folder, "again", 1, &err) == HW_ERR_CALL);
    check_text(err.code, "job-exists");
    remove_folder(folder);
}

// Each line's last member is the CRC-32 of the bytes before it, computed here by zlib itself.
static void test_sums(void)
{
    make_job(3);
    size_t count = 0, lines = 0;
    uint8_t *bytes = read_log(&count);
    for (char *line = (char *)bytes; line < (char *)bytes + count; lines++) {
        char *end = strchr(line, '\n'), wanted[40];
        char *member = strstr(line, ",\"crc32\":\"");
        snprintf(wanted, sizeof wanted, "%08lx\"}", crc32(0, (Bytef *)line, (uInt)(member - line)));
        check_true(end - member == 20 && strncmp(member + 10, wanted, 10) == 0);
        line = end + 1;
    }
    check_true(lines == 4);
    hw_free(bytes);
    remove_folder(folder);
}

// Cut anywhere: all whole lines are there, and the next event is appended behind them; the torn
// tail is kept aside.
static void test_cut_everywhere(void)
{
    make_job(2);
    size_t count = 0;
    uint8_t *bytes = read_log(&count);
    char patches[1][HW_NAME_SIZE];
    hw_pass_event pass = pass_of(patches, "blue");
    for (size_t cut = 0; cut <= count; cut += cut + 40 < count ? 7 : 1) {
        size_t whole = 0;
        for (size_t i = 0; i < cut; i++) {
            whole += bytes[i] == '\n';
        }
        write_log(bytes, cut);
        hw_job *job = opened();
        check_true(hw_job_event_count(job) == whole);
        bool torn = cut > 0 && bytes[cut - 1] != '\n';
        check_true(hw_job_warnings(job)->count == (torn ? 1u : 0u));
        long number = 0;
        check_true(hw_job_add_pass(job, &pass, 5, &number, NULL) == HW_OK);
        hw_job_free(job);
        job = opened();
        check_true(hw_job_event_count(job) == whole + 1 && hw_job_warnings(job)->count == 0);
        check_true(hw_job_event(job, whole)->number == number);
        hw_job_free(job);
    }
    hw_free(bytes);
    remove_folder(folder);
}

// One flipped bit on a line: that line is named and skipped, the others stay, and nothing is
// written.
static void test_flipped(void)
{
    make_job(3);
    size_t count = 0;
    uint8_t *bytes = read_log(&count);
    long line = 1;
    for (size_t at = 0; at < count; at++) {
        if (bytes[at] == '\n') {
            line++;
            continue;
        }
        if (at % 23 != 5) {
            continue;
        }
        char name[40];
        bytes[at] ^= 4;
        if (bytes[at] != '\n') {
            write_log(bytes, count);
            hw_job *job = opened();
            snprintf(name, sizeof name, "Line %ld ", line);
            check_true(hw_job_event_count(job) == 3 && hw_job_warnings(job)->count == 1);
            check_holds(hw_job_warnings(job)->text[0], name);
            hw_job_free(job);
            size_t after = 0;
            uint8_t *now = read_log(&after);
            check_true(after == count && memcmp(now, bytes, count) == 0);
            hw_free(now);
        }
        bytes[at] ^= 4;
    }
    hw_free(bytes);
    remove_folder(folder);
}

// Four programs at once: no event is lost, no number given twice.
static void test_two_at_once(void)
{
    make_job(0);
    pid_t children[4];
    for (int c = 0; c < 4; c++) {
        children[c] = fork();
        if (children[c] == 0) {
            hw_job *job = NULL;
            char patches[1][HW_NAME_SIZE];
            hw_pass_event pass = pass_of(patches, "red");
            bool good = hw_job_open(folder, NULL, &job, NULL) == HW_OK;
            for (int i = 0; i < 15 && good; i++) {
                long number;
                good = hw_job_add_pass(job, &pass, i, &number, NULL) == HW_OK;
            }
            hw_job_free(job);
            _exit(good ? 0 : 1);
        }
    }
    for (int c = 0; c < 4; c++) {
        int how = 0;
        waitpid(children[c], &how, 0);
        check_true(WIFEXITED(how) && WEXITSTATUS(how) == 0);
    }
    hw_job *job = opened();
    check_true(hw_job_event_count(job) == 61 && hw_job_warnings(job)->count == 0);
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        check_true(hw_job_event(job, i)->number == (long)i + 1);
    }
    hw_job_free(job);
    remove_folder(folder);
}

static void refused_open(const char *code)
{
    hw_job *job = NULL;
    hw_error err = {0};
    check_true(hw_job_open(folder, NULL, &job, &err) == HW_ERR_INPUT && !job);
    check_text(err.code, code);
}

// The job opens with its title, says what is wrong, and can or cannot be written to.
static void check_read_alone(const char *said, bool newer)
{
    hw_job *job = opened();
    hw_error err = {0};
    char patches[1][HW_NAME_SIZE];
    hw_pass_event pass = pass_of(patches, "red");
    long number = 0;
    check_true(hw_job_event_count(job) >= 1 && hw_job_title(job)[0]);
    check_holds(hw_job_warnings(job)->text[0], said);
    hw_status status = hw_job_add_pass(job, &pass, 1, &number, &err);
    check_true(status == (newer ? HW_ERR_INPUT : HW_OK));
    check_text(err.code, newer ? "job-format" : "");
    hw_job_free(job);
}

static void test_other_folders(void)
{
    char path[700];
    new_folder();
    refused_open("job-missing");
    make_job(0);
    snprintf(path, sizeof path, "%s/job.json", folder);
    const char *newer = "{\"format\":2,\"title\":\"x\"}";
    check_true(hw_file_replace(path, newer, strlen(newer), NULL) == HW_OK);
    check_read_alone("A newer huewright", true);
    // Where job.json is damaged or gone, the log alone is the job.
    check_true(hw_file_replace(path, "{", 1, NULL) == HW_OK);
    check_read_alone("job.json in this folder is damaged", false);
    unlink(path);
    check_read_alone("job.json in this folder is missing", false);
    remove_folder(folder);
    new_folder();
    check_true(mkdir(folder, 0777) == 0);
    snprintf(path, sizeof path, "%s/job.json", folder);
    check_true(hw_file_replace(path, "{", 1, NULL) == HW_OK);
    refused_open("job-damaged"); // and no log either
    remove_folder(folder);
    // An event of a later version is kept, skipped and said.
    make_job(0);
    hw_text line = {0};
    hw_json *event = hw_json_new_object();
    hw_json_add_text(event, "event", "rainbow_seen");
    hw_json_add_number(event, "number", 2);
    check_true(hw_log_line(event, &line, NULL) == HW_OK);
    hw_append *log = NULL;
    snprintf(path, sizeof path, "%s/log.jsonl", folder);
    check_true(hw_append_open(path, 0, &log, NULL) == HW_OK);
    check_true(hw_append_write(log, line.bytes, line.length, NULL) == HW_OK);
    hw_append_close(&log);
    hw_job *job = opened();
    check_true(hw_job_event_count(job) == 2 && hw_job_event(job, 1)->kind == HW_EVENT_OTHER);
    check_holds(hw_job_warnings(job)->text[0], "1 line of the job's log is not understood");
    hw_job_free(job);
    hw_text_free(&line);
    hw_json_free(event);
    remove_folder(folder);
}

static void test_photos(void)
{
    make_job(0);
    hw_job *job = opened();
    char stored[96], again[96], path[800];
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_error err = {0};
    check_true(hw_job_keep_photo(job, "abc", 3, "jpg", stored, NULL) == HW_OK);
    check_true(hw_job_keep_photo(job, "abc", 3, "jpg", again, NULL) == HW_OK);
    // SHA-256 of "abc": FIPS 180-4, example.
    check_text(stored,
               "photos/ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad.jpg");
    check_text(again, stored);
    check_true(hw_job_photo(job, stored, &bytes, &count, NULL) == HW_OK && count == 3);
    hw_job_photo_free(bytes);
    snprintf(path, sizeof path, "%s/%s", folder, stored);
    check_true(hw_file_replace(path, "abd", 3, NULL) == HW_OK);
    check_true(hw_job_photo(job, stored, &bytes, &count, &err) == HW_ERR_INPUT);
    check_text(err.code, "job-photo-changed");
    unlink(path);
    err = (hw_error){0};
    check_true(hw_job_photo(job, stored, &bytes, &count, &err) == HW_ERR_INPUT);
    check_text(err.code, "job-photo-missing");
    err = (hw_error){0};
    check_true(hw_job_photo(job, "photos/../job.json", &bytes, &count, &err) == HW_ERR_INPUT);
    check_text(err.code, "job-photo-missing");
    hw_job_free(job);
    remove_folder(folder);
}

// Every allocation failing in turn while a pass is logged: refused or saved, never half, and the
// job opens after it.
static void test_memory(void)
{
    make_job(1);
    char patches[1][HW_NAME_SIZE];
    hw_pass_event pass = pass_of(patches, "red");
    size_t count = 0;
    uint8_t *bytes = read_log(&count);
    bool done = false;
    for (long n = 0; n < 1000 && !done; n++) {
        hw_job *job = NULL;
        long number = 0;
        hw_error err = {0};
        write_log(bytes, count);
        hw_test_fail_alloc(n);
        hw_status status = hw_job_open(folder, NULL, &job, &err);
        status = status == HW_OK ? hw_job_add_pass(job, &pass, 9, &number, &err) : status;
        hw_test_fail_alloc(-1);
        hw_job_free(job);
        done = status == HW_OK;
        check_true(done || status == HW_ERR_STORAGE);
        // It may be saved although memory ran out behind it: then it says so.
        check_true(number == 0 || done || strstr(err.next, "It is saved"));
        job = opened();
        check_true(hw_job_event_count(job) == (number > 0 ? 3u : 2u) &&
                   hw_job_warnings(job)->count == 0);
        hw_job_free(job);
    }
    check_true(done);
    hw_free(bytes);
    remove_folder(folder);
}

int main(void)
{
    test_events();
    test_sums();
    test_cut_everywhere();
    test_flipped();
    test_two_at_once();
    test_other_folders();
    test_photos();
    test_memory();
    return check_done();
}
