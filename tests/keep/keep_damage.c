// keep_damage.c: bytes that go missing or change behind our back: the log cut at a byte, a bit flipped,
// a photo gone or changed. Each line that is not hit itself is still there, and work goes on.
#include "keep.h"

#include <unistd.h>

// A short job, its log as it lies there, and where each line ends.
typedef struct small_job {
    place where;
    told_list list;
    char log[400];
    uint8_t *bytes;
    size_t count;
} small_job;

static bool is_line(const told *what)
{
    return what->what == TOLD_EVENT || what->what == TOLD_JOB;
}

static small_job make_small(void)
{
    small_job made = {.where = new_place()};
    told_list all = {0};
    listener to = into(&all);
    hw_job *job = NULL;
    const told start = {.what = TOLD_JOB};
    bool good =
        hw_job_start(made.where.job, "Walnut gramophone cabinet", 1780000000, NULL) == HW_OK &&
        hw_job_open(made.where.job, NULL, &job, NULL) == HW_OK;
    if (expect(good, "a small job cannot be made")) {
        told_add(&made.list, &start);
        play_events(job, &made.where, 0, 1, &to);
    }
    for (size_t i = 0; i < all.count; i++) {
        if (is_line(&all.item[i])) {
            told_add(&made.list, &all.item[i]);
        }
    }
    hw_job_free(job);
    told_free(&all);
    hw_format_text(made.log, sizeof made.log, "%slog.jsonl", made.where.job);
    expect(hw_file_read(made.log, 1 << 20, &made.bytes, &made.count, NULL) == HW_OK,
           "no log to damage");
    return made;
}

static void free_small(small_job *small)
{
    told_free(&small->list);
    hw_free(small->bytes);
    remove_tree(small->where.root);
}

static void put_bytes(const char *path, const uint8_t *bytes, size_t count)
{
    FILE *file = fopen(path, "wb");
    expect(file && fwrite(bytes, 1, count, file) == count && fclose(file) == 0,
           "%s cannot be written", path);
}

// The line that it stands in, from 0. (A photo's parts have lines that nobody is told of.)
static size_t line_of(const told *one)
{
    return one->what == TOLD_JOB ? 0 : (size_t)one->number - 1;
}

// What of the list stands in other lines than those from `from` to before `to`.
static told_list without(const told_list *list, size_t from, size_t to)
{
    told_list left = {0};
    for (size_t i = 0; i < list->count; i++) {
        size_t line = line_of(&list->item[i]);
        if (line < from || line >= to) {
            told_add(&left, &list->item[i]);
        }
    }
    return left;
}

static size_t lines_before(const small_job *small, size_t at)
{
    size_t lines = 0;
    for (size_t i = 0; i < at; i++) {
        lines += small->bytes[i] == '\n';
    }
    return lines;
}

// ---- Cut ---------------------------------------------------------------------------

// What was cut off lies in a file beside the log, byte for byte.
static bool tail_is_aside(const small_job *small, size_t whole, size_t cut)
{
    char aside[500];
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_format_text(aside, sizeof aside, "%s.torn-%zu", small->log, whole);
    bool there = hw_file_read(aside, 1 << 20, &bytes, &count, NULL) == HW_OK &&
                 count == cut - whole && memcmp(bytes, small->bytes + whole, count) == 0;
    hw_free(bytes);
    unlink(aside);
    return there;
}

void test_cuts(void)
{
    small_job small = make_small();
    for (size_t cut = 0; cut <= small.count; cut += (size_t)every(67)) {
        char during[60];
        size_t lines = lines_before(&small, cut), whole = cut;
        hw_format_text(during, sizeof during, "log cut at byte %zu", cut);
        while (whole > 0 && small.bytes[whole - 1] != '\n') {
            whole--;
        }
        put_bytes(small.log, small.bytes, cut);
        told_list left = without(&small.list, lines, lines_before(&small, small.count));
        hw_job *job = NULL;
        hw_error err = {0};
        told one;
        if (lines > 0) {
            go_on(&small.where, &left, during);
        } else if (expect(hw_job_open(small.where.job, NULL, &job, &err) == HW_OK &&
                              add_one(job, &small.where, 5, &one, &err),
                          "%s: %s", during, err.what)) {
            told_add(&left, &one);
            all_there(&small.where, &left, during);
        }
        hw_job_free(job);
        expect(whole == cut || tail_is_aside(&small, whole, cut), "%s: the torn tail is gone",
               during);
        told_free(&left);
        keep_counts.bytes_cut++;
    }
    free_small(&small);
}

// ---- Flipped -----------------------------------------------------------------------

static void flip(small_job *small, size_t at, int bit)
{
    char during[60];
    size_t hit = lines_before(small, at);
    hw_format_text(during, sizeof during, "bit %d of byte %zu flipped", bit, at);
    small->bytes[at] ^= (uint8_t)(1 << bit);
    put_bytes(small->log, small->bytes, small->count);
    told_list left = without(&small->list, hit, hit + 1);
    hw_job *job = NULL;
    hw_error err = {0};
    told one;
    all_there(&small->where, &left, during);
    if (expect(hw_job_open(small->where.job, NULL, &job, &err) == HW_OK &&
                   add_one(job, &small->where, 5, &one, &err),
               "%s: %s", during, err.what)) {
        expect(one.number > (long)lines_before(small, small->count) ||
                   small->bytes[small->count - 1] != '\n',
               "%s: number %ld is given a second time", during, one.number);
        told_add(&left, &one);
    }
    hw_job_free(job);
    all_there(&small->where, &left, during);
    told_free(&left);
    small->bytes[at] ^= (uint8_t)(1 << bit);
    keep_counts.bits_flipped++;
}

void test_flips(void)
{
    small_job small = make_small();
    for (size_t at = 0; at < small.count; at++) {
        bool is_end = small.bytes[at] == '\n'; // joins two lines
        for (int bit = 0; bit < 8; bit++) {
            if (!keep_short || (8 * at + (size_t)bit) % 151 == 0 || (is_end && bit == 3)) {
                flip(&small, at, bit);
            }
        }
    }
    free_small(&small);
}

// ---- Photos ------------------------------------------------------------------------

static void stored_photo(const hw_job *job, const char *name, const char *code)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_error err = {0};
    expect(hw_job_photo(job, name, &bytes, &count, &err) == HW_ERR_INPUT &&
               strcmp(err.code, code) == 0 && err.next[0],
           "a photo that is %s: %s", code, err.code);
    hw_job_photo_free(bytes);
    keep_counts.photos++;
}

// Gone, emptied, shortened or changed: said, all else is there, and the same photo added again puts it
// right.
void test_photos(void)
{
    place where = new_place();
    told_list list = {0};
    listener to = into(&list);
    play(&where, 0, &to);
    hw_job *job = NULL;
    expect(hw_job_open(where.job, NULL, &job, NULL) == HW_OK, "photos: no job");
    const size_t events = events_there(&where);
    for (size_t i = 0; job && i < list.count; i++) {
        const told photo = list.item[i];
        uint8_t bytes[3000];
        size_t count = photo.what == TOLD_PHOTO ? photo_bytes(photo.number, bytes) : 0;
        for (int how = 0; how < 4 && count; how++) {
            char path[600], again[96];
            hw_format_text(path, sizeof path, "%s%s", where.job, photo.name);
            if (how == 0) {
                expect(unlink(path) == 0, "photos: cannot be removed");
            } else {
                bytes[700] ^= how == 1;
                put_bytes(path, bytes, how == 1 ? count : how == 2 ? 1000 : 0);
                bytes[700] ^= how == 1;
            }
            stored_photo(job, photo.name, how == 0 ? "job-photo-missing" : "job-photo-changed");
            expect(events_there(&where) == events, "photos: events are gone");
            expect(hw_job_keep_photo(job, bytes, count, "jpg", again, NULL) == HW_OK &&
                       strcmp(again, photo.name) == 0,
                   "photos: cannot be added again");
            all_there(&where, &list, "photo put back");
        }
    }
    hw_job_free(job);
    told_free(&list);
    remove_tree(where.root);
}
