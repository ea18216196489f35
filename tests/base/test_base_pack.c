// Zip packs as streams, and files in pieces. What zip is comes from tests/zip_maker.h (PKWARE's APPNOTE.TXT);
// other people's programs read our packs in tests/cli/cli_keep.sh.
#include "scratch.h"
#include "zip_maker.h"

#include <signal.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

// ---- Bytes in memory ---------------------------------------------------------------

typedef struct memory {
    const uint8_t *bytes;
    size_t count;
    size_t fails_at; // a read behind that is refused; 0: none
} memory;

static hw_status read_memory(void *from, uint64_t at, void *bytes, size_t room, size_t *got,
                             hw_error *err)
{
    memory *m = from;
    if (m->fails_at && at + room > m->fails_at) {
        return hw_fail(err, HW_ERR_STORAGE, "disk-bad", "the disk", "Try another.", "it failed");
    }
    size_t left = at < m->count ? m->count - (size_t)at : 0;
    *got = left < room ? left : room;
    if (*got > 0) {
        memcpy(bytes, m->bytes + at, *got);
    }
    return HW_OK;
}

static hw_status put_text(void *to, const void *bytes, size_t count, hw_error *err)
{
    hw_text_add_bytes(to, bytes, count);
    return ((hw_text *)to)->failed ? hw_fail_memory(err, "packing") : HW_OK;
}

static hw_pack_reader *opened(memory *m, const uint8_t *bytes, size_t count)
{
    hw_pack_reader *pack = NULL;
    *m = (memory){bytes, count, 0};
    hw_pack_source source = {m, count, read_memory};
    check_true(hw_pack_open(&source, "p.zip", &pack, NULL) == HW_OK);
    return pack;
}

// ---- Sums in pieces ----------------------------------------------------------------

// FIPS 180-4's example: "abc", in one piece and in three.
static void test_sum(void)
{
    hw_sha256 sum;
    char out[65];
    hw_sha256_start(&sum);
    hw_sha256_add(&sum, "a", 1);
    hw_sha256_add(&sum, "", 0);
    hw_sha256_add(&sum, "bc", 2);
    hw_sha256_end(&sum, out);
    check_text(out, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

// ---- Packs -------------------------------------------------------------------------

static void test_round(void)
{
    hw_text zip = {0};
    hw_pack_writer *pack = NULL;
    memory m;
    hw_pack_entry entry;
    bool there = false;
    static char text[300000], back[300001];
    size_t got = 0, done = 0;
    for (size_t i = 0; i < sizeof text; i++) {
        text[i] = (char)(i * i / 7);
    }
    check_true(hw_pack_start(put_text, &zip, &pack, NULL) == HW_OK);
    check_true(hw_pack_add_folder(pack, "b\xc3\xbcro/", 1000000000, NULL) == HW_OK);
    check_true(hw_pack_add_file(pack, "b\xc3\xbcro/a", text, sizeof text, 1000000000, true, NULL) ==
               HW_OK);
    check_true(hw_pack_add_file(pack, "b\xc3\xbcro/b", "", 0, -5, false, NULL) == HW_OK);
    check_true(hw_pack_add_file(pack, "c", "abc", 3, INT64_MAX, false, NULL) == HW_OK);
    check_true(hw_pack_finish(pack, NULL) == HW_OK);
    hw_pack_writer_free(&pack);
    hw_pack_writer_free(&pack);

    hw_pack_reader *reader = opened(&m, (const uint8_t *)zip.bytes, zip.length);
    check_true(hw_pack_next(reader, &entry, &there, NULL) == HW_OK && there);
    check_text(entry.name, "b\xc3\xbcro/");
    check_true(entry.kind == HW_PACK_FOLDER);
    check_true(hw_pack_next(reader, &entry, &there, NULL) == HW_OK && there);
    check_text(entry.name, "b\xc3\xbcro/a");
    check_true(entry.kind == HW_PACK_FILE && entry.readable && !entry.encrypted &&
               entry.size == sizeof text);
    do {
        check_true(hw_pack_read(reader, back + done, sizeof back - done, &got, NULL) == HW_OK);
        done += got;
    } while (got > 0);
    check_true(done == sizeof text && memcmp(back, text, done) == 0);
    check_true(hw_pack_next(reader, &entry, &there, NULL) == HW_OK && there && entry.size == 0);
    check_true(hw_pack_read(reader, back, sizeof back, &got, NULL) == HW_OK && got == 0);
    check_true(hw_pack_next(reader, &entry, &there, NULL) == HW_OK && there);
    check_true(hw_pack_next(reader, &entry, &there, NULL) == HW_OK && !there);
    hw_pack_reader_free(&reader);
    hw_text_free(&zip);
}

// What an entry is, as its head tells it.
static void test_kinds(void)
{
    static const zip_entry entries[] = {
        {.name = "plain", .data = "x", .count = 1, .mode = ZIP_FILE},
        {.name = "dos", .data = "x", .count = 1},
        {.name = "link", .data = "/etc/passwd", .count = 11, .mode = ZIP_LINK},
        {.name = "device", .mode = ZIP_DEVICE},
        {.name = "folder/", .mode = ZIP_FOLDER},
        {.name = "locked", .data = "0123456789abcdef", .count = 16, .flags = 1},
        {.name = "lzma", .data = "0123456789abcdef", .count = 16, .method = 14},
    };
    static const struct {
        hw_pack_kind kind;
        bool encrypted, readable;
    } wanted[] = {{HW_PACK_FILE, false, true},   {HW_PACK_FILE, false, true},
                  {HW_PACK_LINK, false, true},   {HW_PACK_OTHER, false, true},
                  {HW_PACK_FOLDER, false, true}, {HW_PACK_FILE, true, true},
                  {HW_PACK_FILE, false, false}};
    zip_made zip = zip_make(entries, sizeof entries / sizeof *entries);
    memory m;
    hw_pack_reader *reader = opened(&m, zip.bytes, zip.count);
    for (size_t i = 0; i < sizeof entries / sizeof *entries; i++) {
        hw_pack_entry entry = {0};
        bool there = false;
        check_true(hw_pack_next(reader, &entry, &there, NULL) == HW_OK && there);
        check_text(entry.name, entries[i].name);
        check_true(entry.kind == wanted[i].kind && entry.encrypted == wanted[i].encrypted);
        check_true(entry.readable == wanted[i].readable);
    }
    hw_pack_reader_free(&reader);
    free(zip.bytes);
}

static hw_status first_entry(const zip_made *zip, size_t count, size_t fails_at, hw_error *err)
{
    memory m;
    hw_pack_entry entry;
    bool there = true;
    char bytes[64];
    size_t got = 1;
    hw_pack_reader *reader = NULL;
    m = (memory){zip->bytes, count, 0};
    hw_pack_source source = {&m, count, read_memory};
    hw_status status = hw_pack_open(&source, "p.zip", &reader, err);
    m.fails_at = fails_at;
    if (status == HW_OK) {
        status = hw_pack_next(reader, &entry, &there, err);
    }
    while (status == HW_OK && there && got > 0) {
        status = hw_pack_read(reader, bytes, sizeof bytes, &got, err);
    }
    hw_pack_reader_free(&reader);
    return status;
}

static void test_damage(void)
{
    zip_entry entry = {.name = "a", .data = "abcdefgh", .count = 8, .wrong_sum = true};
    hw_error err = {0};
    zip_made zip = zip_make(&entry, 1);
    check_true(first_entry(&zip, zip.count, 0, &err) == HW_ERR_INPUT);
    check_text(err.code, "pack-entry-damaged");
    free(zip.bytes);
    entry =
        (zip_entry){.name = "a", .data = "abcdefgh", .count = 8, .deflate = true, .told_size = 5};
    zip = zip_make(&entry, 1);
    err = (hw_error){0};
    check_true(first_entry(&zip, zip.count, 0, &err) == HW_ERR_INPUT);
    check_text(err.code, "pack-entry-damaged");
    free(zip.bytes);
    entry = (zip_entry){.name = "a", .data = "abcdefgh", .count = 8};
    zip = zip_make(&entry, 1);
    for (size_t cut = 0; cut < zip.count; cut++) { // cut short: the list at the end is not whole
        err = (hw_error){0};
        check_true(first_entry(&zip, cut, 0, &err) == HW_ERR_INPUT);
        check_text(err.code, "pack-unknown");
    }
    err = (hw_error){0};
    check_true(first_entry(&zip, zip.count, 1, &err) == HW_ERR_STORAGE); // the source's own words
    check_text(err.code, "disk-bad");
    free(zip.bytes);
}

// A list of entries without end takes neither time nor memory.
static void test_long_list(void)
{
    zip_made zip = {0};
    const size_t entries = 400000;
    size_t start;
    hw_error err = {0};
    zip_put(&zip, "PK\3\4", 4);
    start = zip.count;
    for (size_t i = 0; i < entries; i++) {
        static const uint8_t one[47] = "PK\1\2\x14";
        zip_put(&zip, one, 46);
    }
    size_t list = zip.count - start;
    zip_put(&zip, "PK\5\6", 4);
    zip_number(&zip, 0, 4);
    zip_number(&zip, 1, 2);
    zip_number(&zip, 1, 2);
    zip_number(&zip, (uint32_t)list, 4);
    zip_number(&zip, (uint32_t)start, 4);
    zip_number(&zip, 0, 2);
    check_true(zip.count > (size_t)HW_PACK_ENTRIES_MOST * 320);
    check_true(first_entry(&zip, zip.count, 0, &err) == HW_ERR_INPUT);
    check_text(err.code, "pack-large");
    free(zip.bytes);
}

// ---- Files in pieces ---------------------------------------------------------------

static size_t files_in_folder(void)
{
    hw_names names = {0};
    check_true(hw_folder_names(place, &names, NULL) == HW_OK);
    size_t count = names.count;
    hw_names_free(&names);
    return count;
}

static void test_pieces(void)
{
    hw_new_file *file = NULL, *second = NULL;
    hw_old_file *old = NULL;
    hw_error err = {0};
    char back[8] = "";
    size_t got = 0;
    check_true(hw_new_file_open(in("new"), &file, NULL) == HW_OK);
    check_true(hw_new_file_write(file, "one ", 4, NULL) == HW_OK);
    check_true(!hw_file_exists(in("new")));
    check_true(hw_new_file_open(in("new"), &second, NULL) == HW_OK); // two at once
    check_true(hw_new_file_write(file, "two", 3, NULL) == HW_OK);
    check_true(hw_new_file_read(file, 2, back, 8, &got, NULL) == HW_OK && got == 5);
    check_true(memcmp(back, "e two", 5) == 0);
    check_true(hw_new_file_keep(&file, NULL) == HW_OK && !file && holds(in("new"), "one two"));
    check_true(hw_new_file_keep(&second, &err) == HW_ERR_CALL && !second);
    check_text(err.code, "file-exists");
    check_true(holds(in("new"), "one two") && files_in_folder() == 1);
    err = (hw_error){0};
    check_true(hw_new_file_open(in("new"), &file, &err) == HW_ERR_CALL && !file);
    check_text(err.code, "file-exists");
    check_true(symlink("nowhere", in("link")) == 0); // something of that name is there, too
    check_true(hw_new_file_open(in("link"), &file, NULL) == HW_ERR_CALL);
    check_true(unlink(in("link")) == 0);
    check_true(hw_new_file_open(in("gone"), &file, NULL) == HW_OK);
    hw_new_file_abandon(&file);
    hw_new_file_abandon(&file);
    check_true(files_in_folder() == 1);
    err = (hw_error){0};
    check_true(hw_new_file_open(in("none/x"), &file, &err) == HW_ERR_STORAGE);
    check_text(err.code, "folder-missing");
    check_true(hw_old_file_open(in("new"), &old, NULL) == HW_OK && hw_old_file_size(old) == 7);
    check_true(hw_old_file_read(old, 4, back, 8, &got, NULL) == HW_OK && got == 3);
    check_true(hw_old_file_read(old, UINT64_MAX, back, 8, &got, NULL) == HW_OK && got == 0);
    hw_old_file_close(&old);
    hw_old_file_close(&old);
    err = (hw_error){0};
    check_true(hw_old_file_open(place, &old, &err) == HW_ERR_INPUT);
    check_text(err.code, "file-folder");
    err = (hw_error){0};
    check_true(hw_old_file_open("/dev/zero", &old, &err) == HW_ERR_INPUT);
    check_text(err.code, "file-special");
}

static void test_names(void)
{
    hw_names names = {0};
    hw_error err = {0};
    char name[32];
    check_true(mkdir(in("Z"), 0777) == 0 && mkdir(in("Z/b"), 0777) == 0);
    check_true(hw_file_replace(in("Z/.a"), "", 0, NULL) == HW_OK);
    check_true(hw_folder_names(in("Z"), &names, NULL) == HW_OK && names.count == 2);
    check_text(names.name[0], ".a");
    check_text(names.name[1], "b");
    hw_names_free(&names);
    check_true(hw_folder_names(in("none"), &names, &err) == HW_ERR_INPUT);
    check_text(err.code, "file-missing");
    check_true(hw_folder_own_name(in("Z/b/.."), name, sizeof name) && strcmp(name, "Z") == 0);
    check_true(!hw_folder_own_name("/", name, sizeof name));
    check_true(!hw_folder_own_name(in("Z"), name, 1));
    hw_file_remove(in("Z/.a"));
    hw_folder_remove(in("Z/b"));
    hw_folder_remove(in("Z"));
    check_true(!hw_file_exists(in("Z")));
}

// A disk that takes no more: said, and nothing stays.
static void test_full(void)
{
    pid_t child = fork();
    if (child == 0) {
        hw_new_file *file = NULL;
        hw_error err = {0};
        struct rlimit limit = {10, 10};
        signal(SIGXFSZ, SIG_IGN);
        bool good = hw_new_file_open(in("full"), &file, NULL) == HW_OK &&
                    setrlimit(RLIMIT_FSIZE, &limit) == 0 &&
                    hw_new_file_write(file, "more than fits", 14, &err) == HW_ERR_STORAGE &&
                    strstr(err.what, "as large as this") && strstr(err.next, "4 GiB");
        hw_new_file_abandon(&file);
        _exit(good ? 0 : 1);
    }
    int how = 0;
    waitpid(child, &how, 0);
    check_true(WIFEXITED(how) && WEXITSTATUS(how) == 0 && files_in_folder() == 1);
}

int main(void)
{
    scratch_start("pieces");
    test_sum();
    test_round();
    test_kinds();
    test_damage();
    test_long_list();
    test_pieces();
    test_names();
    test_full();
    unlink(in("new"));
    check_true(rmdir(place) == 0);
    return check_done();
}
