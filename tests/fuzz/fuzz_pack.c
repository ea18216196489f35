// fuzz_pack.c: any bytes as a pack from anybody. Bytes that begin with "PK" are taken as they are; all others
// tell what to put into a zip file whose sums fit, so that hostile names and sizes get behind the sums.
//
// Whatever comes: nothing is made outside the folder; a refused pack leaves nothing; a taken one holds
// nothing but what a job holds, each photo under the name of its content, and (one in eight) packs and
// unpacks again to the same log.
#include "job_internal.h"
#include "zip_maker.h"

#include <dirent.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static char place[600];

static void demand(bool holds)
{
    if (!holds) {
        abort();
    }
}

static const char *in(const char *name)
{
    static char path[4][800];
    static int turn;
    turn = (turn + 1) % 4;
    snprintf(path[turn], sizeof path[turn], "%s/%s", place, name);
    return path[turn];
}

// ---- A zip file from a list of wishes ----------------------------------------------

#define ENTRIES_MOST 12

static const char *const usual_names[] = {
    "c/job.json",
    "c/log.jsonl",
    "c/log.jsonl.torn-9",
    "c/marks-to-edit.json",
    "job.json",
    "log.jsonl",
    "../job.json",
    "c/../../log.jsonl",
    "/job.json",
    "c\\job.json",
    "C:/job.json",
    "c/JOB.JSON",
    "c/photos/x.jpg",
    "d/job.json",
    "c/photos/",
    "c/",
    "c/log.jsonl/x",
    "c/marks-to-edit-2.json",
    "",
    "photos/job.json",
};

// Five bytes an entry (name, kind, mode, size, filler), then, for some names, the name itself.
static zip_made from_wishes(const uint8_t *bytes, size_t count)
{
    static char names[ENTRIES_MOST][128];
    static uint8_t data[ENTRIES_MOST][1024];
    static const unsigned modes[] = {0, ZIP_FILE, ZIP_LINK, ZIP_DEVICE, ZIP_FOLDER};
    zip_entry entries[ENTRIES_MOST] = {0};
    size_t made = 0;
    while (made < ENTRIES_MOST && count >= 5) {
        zip_entry *one = &entries[made];
        uint8_t kind = bytes[1];
        size_t usual = sizeof usual_names / sizeof *usual_names;
        size_t size = bytes[3] * 4u, length = 0;
        memset(data[made], bytes[4], sizeof data[made]);
        if (bytes[0] < usual) {
            snprintf(names[made], sizeof names[made], "%s", usual_names[bytes[0]]);
        } else if (bytes[0] < 128) { // a photo under its right name
            char sum[65];
            hw_sha256_hex(data[made], size, sum);
            snprintf(names[made], sizeof names[made], "c/photos/%s.jpg", sum);
        } else {
            length = bytes[0] - 128u < count - 5 ? bytes[0] - 128u : count - 5;
            memcpy(names[made], bytes + 5, length);
            names[made][length < 127 ? length : 127] = 0;
        }
        *one = (zip_entry){.name = names[made],
                           .data = data[made],
                           .count = size,
                           .mode = modes[bytes[2] % 5],
                           .flags = (kind & 8 ? 1u : 0) | (kind & 16 ? 1u << 11 : 0),
                           .deflate = kind & 1,
                           .method = kind & 32 ? bytes[4] : 0,
                           .told_size = kind & 64 ? bytes[4] * 65537u : 0,
                           .wrong_sum = kind & 2,
                           .shares = (kind & 4) && made > 0};
        made++;
        bytes += 5 + length;
        count -= 5 + length;
    }
    return zip_make(entries, made);
}

// ---- What must hold ----------------------------------------------------------------

static size_t files_in(const char *path)
{
    DIR *folder = opendir(path);
    size_t count = 0;
    for (struct dirent *entry; folder && (entry = readdir(folder)) != NULL;) {
        count += strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
    }
    if (folder) {
        closedir(folder);
    }
    return count;
}

static void put(const char *path, const uint8_t *bytes, size_t count)
{
    FILE *file = fopen(path, "wb");
    demand(file && fwrite(bytes, 1, count, file) == count && fclose(file) == 0);
}

// Each file of the folder is one of a job; removes it when `away`.
static void walk(const char *folder, const char *inside, bool away)
{
    char path[1400], name[1100];
    DIR *listing = opendir(folder);
    demand(listing != NULL);
    for (struct dirent *entry; (entry = readdir(listing)) != NULL;) {
        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0) {
            continue;
        }
        hw_format_text(path, sizeof path, "%s/%s", folder, entry->d_name);
        hw_format_text(name, sizeof name, "%s%s", inside, entry->d_name);
        if (strcmp(name, "photos") == 0) {
            walk(path, "photos/", away);
            demand(!away || rmdir(path) == 0);
            continue;
        }
        demand(hw_job_member(name) != HW_MEMBER_NONE);
        if (hw_job_member(name) == HW_MEMBER_PHOTO) {
            uint8_t *bytes = NULL;
            size_t count = 0;
            char sum[65];
            demand(hw_file_read(path, 1 << 28, &bytes, &count, NULL) == HW_OK);
            hw_sha256_hex(bytes, count, sum);
            demand(strncmp(name + 7, sum, 64) == 0);
            hw_free(bytes);
        }
        demand(!away || unlink(path) == 0);
    }
    closedir(listing);
}

static void same_log(void)
{
    uint8_t *one = NULL, *other = NULL;
    size_t a = 0, b = 0;
    hw_status first = hw_file_read(in("out/log.jsonl"), 1 << 28, &one, &a, NULL);
    hw_status second = hw_file_read(in("again/log.jsonl"), 1 << 28, &other, &b, NULL);
    demand(first == second && (first != HW_OK || (a == b && memcmp(one, other, a) == 0)));
    hw_free(one);
    hw_free(other);
}

static void pack_again(void)
{
    hw_job_packed packed = {0};
    hw_job_unpacked again = {0};
    demand(hw_job_pack(in("out"), in("again.zip"), NULL, &packed, NULL) == HW_OK);
    hw_job_packed_free(&packed);
    demand(hw_job_unpack(in("again.zip"), in("again"), NULL, &again, NULL) == HW_OK);
    demand(again.left_aside == 0);
    hw_job_unpacked_free(&again);
    same_log();
    walk(in("again"), "", true);
    demand(rmdir(in("again")) == 0 && unlink(in("again.zip")) == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_job_unpacked unpacked = {0};
    hw_error err = {0};
    snprintf(place, sizeof place, "%s/fuzz pack %ld", HW_SCRATCH, (long)getpid());
    demand(hw_file_make_folder(place, true, NULL) == HW_OK);
    if (count >= 2 && memcmp(bytes, "PK", 2) == 0) {
        put(in("in.zip"), bytes, count);
    } else {
        zip_made zip = from_wishes(bytes, count);
        put(in("in.zip"), zip.bytes, zip.count);
        free(zip.bytes);
    }
    if (hw_job_unpack(in("in.zip"), in("out"), NULL, &unpacked, &err) == HW_OK) {
        demand(strcmp(unpacked.folder, in("out")) == 0 && files_in(place) == 2);
        walk(in("out"), "", false);
        if (crc32(0, bytes, (uInt)count) % 8 == 0) { // each waits for the disk twenty times
            pack_again();
        }
        walk(in("out"), "", true);
        demand(rmdir(in("out")) == 0);
    } else {
        demand(err.what[0] && err.next[0] && err.code[0]);
    }
    hw_job_unpacked_free(&unpacked);
    demand(files_in(place) == 1 && unlink(in("in.zip")) == 0 && rmdir(place) == 0);
    return 0;
}
