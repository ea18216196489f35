// Files: whole or not there, locked, refused in plain words.
#include "scratch.h"

#include <dirent.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

static void test_whole(void)
{
    check_true(hw_file_replace(in("a b.txt"), "one", 3, NULL) == HW_OK &&
               holds(in("a b.txt"), "one"));
    check_true(hw_file_replace(in("a b.txt"), "two", 3, NULL) == HW_OK &&
               holds(in("a b.txt"), "two"));
    check_true(hw_file_keep(in("new"), "three", 5, NULL) == HW_OK && holds(in("new"), "three"));
    check_true(hw_file_keep(in("new"), "three", 5, NULL) == HW_OK &&
               !hw_file_exists(in("new.other")));
    check_true(hw_file_exists(in("new")) && !hw_file_exists(in("none")));
    check_true(hw_file_make_folder(in("x/y/z"), true, NULL) == HW_OK &&
               hw_folder_is_empty(in("x/y/z")));
    check_true(hw_file_make_folder(in("x/y"), false, NULL) == HW_OK &&
               !hw_folder_is_empty(in("x/y")));
    check_true(hw_folder_is_empty(in("none")));
}

// What is not what was kept (a photo that a fault of the disk or another program changed) is put
// right, and the other bytes are not lost, however often.
static void test_kept_again(void)
{
    const char *found[] = {"", "on", "other", "on"}; // empty, short, other, and an old one again
    for (int i = 0; i < 4; i++) {
        check_true(hw_file_replace(in("kept"), found[i], strlen(found[i]), NULL) == HW_OK);
        check_true(hw_file_keep(in("kept"), "one", 3, NULL) == HW_OK && holds(in("kept"), "one"));
    }
    check_true(holds(in("kept.other"), "") && holds(in("kept.other-2"), "on") &&
               holds(in("kept.other-3"), "other") && !hw_file_exists(in("kept.other-4")));
}

static void test_only_these(void)
{
    const char *const names[] = {"a", "b"};
    check_true(hw_file_make_folder(in("only/"), false, NULL) == HW_OK);
    check_true(hw_folder_holds_only(in("only"), names, 2));
    check_true(hw_file_replace(in("only/a"), "", 0, NULL) == HW_OK);
    check_true(hw_file_replace(in("only/b.new-12-0"), "", 0, NULL) == HW_OK);
    check_true(hw_folder_holds_only(in("only"), names, 2) && !hw_folder_is_empty(in("only")) &&
               !hw_folder_holds_only(in("only"), names + 1, 1));
    check_true(unlink(in("only/a")) == 0 && hw_folder_is_empty(in("only")));
    check_true(unlink(in("only/b.new-12-0")) == 0);
    check_true(hw_folder_holds_only(in("none"), names, 2));
}

static void refused_read(const char *path, size_t most, const char *code)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_error err = {0};
    check_true(hw_file_read(path, most, &bytes, &count, &err) == HW_ERR_INPUT && !bytes);
    check_text(err.code, code);
    check_text(err.subject, path);
}

static void test_refusals(void)
{
    hw_error err = {0};
    refused_read(in("none"), 10, "file-missing");
    refused_read(in("new/none"), 10, "file-missing");
    refused_read(place, 10, "file-folder");
    refused_read(in("new"), 4, "file-too-large");
    check_true(mkfifo(in("pipe"), 0600) == 0);
    refused_read(in("pipe"), 10, "file-special"); // and does not wait for a writer
    refused_read("/dev/zero", 10, "file-special");
    check_true(hw_file_replace(in("none/x"), "1", 1, &err) == HW_ERR_STORAGE);
    check_text(err.code, "folder-missing");
    err = (hw_error){0};
    check_true(hw_file_make_folder(in("new"), false, &err) ==
               HW_ERR_STORAGE); // a file is in the way
}

// As an ordinary user: root may write anywhere.
static void test_permission(void)
{
    check_true(mkdir(in("closed"), 0555) == 0 && chmod(place, 0755) == 0);
    pid_t child = fork();
    if (child == 0) {
        hw_error err = {0};
        uint8_t *bytes = NULL;
        size_t count;
        if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0)) {
            _exit(9);
        }
        bool good = hw_file_replace(in("closed/x"), "1", 1, &err) == HW_ERR_STORAGE &&
                    strcmp(err.code, "file-unwritable") == 0 && strstr(err.what, "may not write");
        err = (hw_error){0};
        good = good && hw_file_read("/etc/shadow", 100000, &bytes, &count, &err) == HW_ERR_INPUT &&
               strcmp(err.code, "file-unreadable") == 0;
        _exit(good ? 0 : 1);
    }
    int how = 0;
    waitpid(child, &how, 0);
    check_true(WIFEXITED(how) && WEXITSTATUS(how) == 0);
}

static void test_append(void)
{
    hw_append *file = NULL, *second = NULL;
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_error err = {0};
    check_true(hw_append_open(in("log"), 0, &file, NULL) == HW_OK);
    check_true(hw_append_write(file, "one\ntwo\nhal", 11, NULL) == HW_OK);
    check_true(hw_append_open(in("log"), 60, &second, &err) == HW_ERR_STORAGE && !second);
    check_text(err.code, "file-locked");
    check_true(hw_append_cut(file, 8, in("log.torn"), NULL) == HW_OK &&
               holds(in("log.torn"), "hal"));
    // A second torn tail at the same place does not push out the first.
    check_true(hw_append_write(file, "thr", 3, NULL) == HW_OK &&
               hw_append_cut(file, 8, in("log.torn"), NULL) == HW_OK);
    check_true(holds(in("log.torn"), "hal") && holds(in("log.torn-2"), "thr"));
    check_true(hw_append_write(file, "three\n", 6, NULL) == HW_OK);
    check_true(hw_append_read(file, 100, &bytes, &count, NULL) == HW_OK && count == 14);
    hw_free(bytes);
    hw_append_close(&file);
    hw_append_close(&file);
    check_true(holds(in("log"), "one\ntwo\nthree\n"));
    check_true(hw_append_open(in("log"), 0, &file, NULL) == HW_OK); // the lock went with the handle
    hw_append_close(&file);
    // A disk without room: said, and no lie.
    check_true(hw_append_open("/dev/full", 0, &file, NULL) == HW_OK);
    err = (hw_error){0};
    check_true(hw_append_write(file, "x", 1, &err) == HW_ERR_STORAGE);
    check_text(err.code, "disk-full");
    hw_append_close(&file);
}

// A disk that takes half a line and no more (a child whose files may not grow past 10 bytes): the
// file is cut back to its whole lines.
static void test_half_written(void)
{
    pid_t child = fork();
    if (child == 0) {
        hw_append *file = NULL;
        hw_error err = {0};
        struct rlimit limit = {10, 10};
        signal(SIGXFSZ, SIG_IGN);
        bool good =
            hw_append_open(in("short"), 0, &file, NULL) == HW_OK &&
            hw_append_write(file, "one\n", 4, NULL) == HW_OK &&
            setrlimit(RLIMIT_FSIZE, &limit) == 0 &&
            hw_append_write(file, "two, and more than fits\n", 24, &err) == HW_ERR_STORAGE &&
            strcmp(err.code, "file-unwritable") == 0 && holds(in("short"), "one\n") &&
            hw_append_write(file, "two\n", 4, NULL) == HW_OK;
        hw_append_close(&file);
        _exit(good ? 0 : 1);
    }
    int how = 0;
    waitpid(child, &how, 0);
    check_true(WIFEXITED(how) && WEXITSTATUS(how) == 0 && holds(in("short"), "one\ntwo\n"));
}

// A second program: takes the lock of the file, says so through `ready`, and keeps it until it is
// killed or, with `keep_ms`, for so long.
static pid_t other_program(int ready, unsigned keep_ms)
{
    pid_t child = fork();
    if (child == 0) {
        hw_append *file = NULL;
        if (hw_append_open(in("log"), 0, &file, NULL) != HW_OK || write(ready, "x", 1) != 1) {
            _exit(1);
        }
        if (keep_ms == 0) {
            pause();
        }
        nanosleep(&(struct timespec){0, (long)keep_ms * 1000000}, NULL);
        bool good = hw_append_write(file, "other\n", 6, NULL) == HW_OK;
        hw_append_close(&file);
        _exit(good ? 0 : 1);
    }
    return child;
}

// Two programs on one file: the second is refused, or waits and then sees what the first wrote; a
// lock dies with its program.
static void test_two_programs(void)
{
    int ready[2], how = 0;
    char byte;
    hw_append *file = NULL;
    hw_error err = {0};
    check_true(pipe(ready) == 0);
    pid_t child = other_program(ready[1], 0);
    check_true(read(ready[0], &byte, 1) == 1);
    check_true(hw_append_open(in("log"), 40, &file, &err) == HW_ERR_STORAGE && !file);
    check_text(err.code, "file-locked");
    kill(child, SIGKILL);
    waitpid(child, NULL, 0);
    check_true(hw_append_open(in("log"), 1000, &file, NULL) == HW_OK);
    hw_append_close(&file);

    child = other_program(ready[1], 200);
    check_true(read(ready[0], &byte, 1) == 1);
    check_true(hw_append_open(in("log"), 10000, &file, NULL) == HW_OK);
    check_true(hw_append_write(file, "ours\n", 5, NULL) == HW_OK);
    hw_append_close(&file);
    check_true(waitpid(child, &how, 0) == child && WIFEXITED(how) && WEXITSTATUS(how) == 0);
    check_true(holds(in("log"), "one\ntwo\nthree\nother\nours\n"));
    close(ready[0]);
    close(ready[1]);
}

// One round of everything: reads, replaces, appends, cuts. False where a call was refused, which
// may be for want of memory alone.
static bool work_on_files(void)
{
    hw_error err = {0};
    hw_append *file = NULL;
    uint8_t *bytes = NULL;
    size_t count = 0;
    bool good = hw_file_read(in("whole"), 100, &bytes, &count, &err) == HW_OK;
    hw_free(bytes);
    bytes = NULL;
    good = good && hw_file_replace(in("whole"), "new", 3, &err) == HW_OK &&
           hw_file_make_folder(in("m/n"), true, &err) == HW_OK &&
           hw_append_open(in("lines"), 0, &file, &err) == HW_OK &&
           hw_append_read(file, 100, &bytes, &count, &err) == HW_OK &&
           hw_append_write(file, "2\n3\n", 4, &err) == HW_OK &&
           hw_append_cut(file, 4, in("lines.aside"), &err) == HW_OK;
    hw_free(bytes);
    hw_append_close(&file);
    check_true(good || (err.status == HW_ERR_STORAGE && err.what[0] && err.next[0]));
    return good;
}

// With any allocation failing, a file is as it was or as it shall be, and nothing lies about.
static void test_memory(void)
{
    int refused = 0;
    bool good = false;
    for (long n = 0; n < 100 && !good; n++) {
        check_true(hw_file_replace(in("whole"), "old", 3, NULL) == HW_OK &&
                   hw_file_replace(in("lines"), "1\n", 2, NULL) == HW_OK);
        hw_test_fail_alloc(n);
        good = work_on_files();
        hw_test_fail_alloc(-1);
        refused += !good;
        check_true(holds(in("whole"), "old") || holds(in("whole"), "new"));
        check_true(holds(in("lines"), "1\n") || holds(in("lines"), "1\n2\n3\n") ||
                   holds(in("lines"), "1\n2\n"));
        check_true(unlink(in("whole")) == 0 && unlink(in("lines")) == 0);
        unlink(in("lines.aside"));
        rmdir(in("m/n"));
        check_true(rmdir(in("m")) == 0 || !hw_file_exists(in("m")));
    }
    check_true(good && refused > 5);
}

// Beside a file that was written whole, no half of it stays: names of this test, no other.
static void test_nothing_left(void)
{
    DIR *listing = opendir(place);
    check_true(listing != NULL);
    for (struct dirent *entry; listing && (entry = readdir(listing)) != NULL;) {
        if (!check_true(strstr(entry->d_name, ".new-") == NULL)) {
            printf("left behind: %s\n", entry->d_name);
        }
    }
    closedir(listing);
}

int main(void)
{
    scratch_start("files");
    test_whole();
    test_kept_again();
    test_only_these();
    test_refusals();
    test_permission();
    test_append();
    test_half_written();
    test_two_programs();
    test_memory();
    test_nothing_left();
    return check_done();
}
