// Damaged JPEG: what is cut, filled with zeros, dropped, moved or flipped between the markers, where there
// is no checksum. testdata/photo has whole files of libjpeg-turbo; djpeg of the same version warns of
// every kind that is refused here ("premature end of data segment", "bad Huffman code",
// "extraneous bytes before marker").
#include "base_internal.h"
#include "check.h"
#include "photo_internal.h"
#include "photo_bytes.h"
#include "picture.h"
#include "write_jpeg.h"

static hw_scan_end scan(const uint8_t *bytes, size_t count)
{
    hw_limits limits = hw_limits_default();
    hw_probe probe;
    size_t where;
    if (hw_photo_probe(bytes, count, "test", &limits, &probe, NULL) != HW_OK) {
        return HW_SCAN_SHORT; // refused before
    }
    size_t words = hw_photo_scan_room(&probe);
    uint64_t *room = hw_alloc_array(words, sizeof *room);
    hw_scan_end end = hw_photo_scan(bytes, count, room, words, &where);
    check_true(where <= count);
    hw_free(room);
    return end;
}

static void test_whole(void)
{
    static const char *const names[] = {
        "photo/baseline.jpg",      "photo/progressive.jpg",     "photo/grey.jpg",
        "photo/orientation-1.jpg", "photo/restarts.jpg",        "photo/progressive-restarts.jpg",
        "photo/one-by-one.jpg",    "photo/three-scans.jpg",     "photo/progressive-odd.jpg",
        "photo/four-to-one.jpg",   "photo/profile-rubbish.jpg",
    };
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        file jpeg = read_file(names[i]);
        if (!check_true(scan(jpeg.bytes, jpeg.count) == HW_SCAN_WHOLE)) {
            printf("%s\n", names[i]);
        }
        hw_free(jpeg.bytes);
    }
}

// Where the coded data of the first scan begin.
static size_t data_start(file jpeg)
{
    size_t at = 2;
    while (at + 4 < jpeg.count && jpeg.bytes[at + 1] != 0xda) {
        at += 2 + (size_t)(jpeg.bytes[at + 2] << 8 | jpeg.bytes[at + 3]);
    }
    return at + 2 + (size_t)(jpeg.bytes[at + 2] << 8 | jpeg.bytes[at + 3]);
}

// The same with `drop` bytes at `at` taken out and `add` put in.
static file changed(file jpeg, size_t at, size_t drop, const uint8_t *add, size_t add_count)
{
    file made = {hw_alloc_array(jpeg.count + add_count, 1), jpeg.count - drop + add_count};
    if (!made.bytes) {
        exit(1);
    }
    memcpy(made.bytes, jpeg.bytes, at);
    if (add_count) {
        memcpy(made.bytes + at, add, add_count);
    }
    memcpy(made.bytes + at + add_count, jpeg.bytes + at + drop, jpeg.count - at - drop);
    return made;
}

static hw_scan_end scan_changed(file jpeg, size_t at, size_t drop, const void *add,
                                size_t add_count)
{
    file made = changed(jpeg, at, drop, add, add_count);
    hw_scan_end end = scan(made.bytes, made.count);
    hw_free(made.bytes);
    return end;
}

static const char *code_of(file jpeg, size_t *warnings, hw_error *err)
{
    hw_photo *photo = NULL;
    *err = (hw_error){0};
    if (hw_photo_decode(jpeg.bytes, jpeg.count, "test", NULL, &photo, err) == HW_OK) {
        *warnings = hw_photo_facts_of(photo)->warnings.count;
        if (*warnings) {
            check_holds(hw_photo_facts_of(photo)->warnings.text[0], "may be damaged");
        }
    }
    hw_photo_free(photo);
    return err->code;
}

// A photo of fine grain, as large codes as a camera's. Its data lie in one scan.
static file photo_of_wood(void)
{
    uint8_t *rgb = malloc((size_t)400 * 300 * 3);
    uint64_t seed = 5;
    file made = {0};
    for (size_t i = 0; i < (size_t)400 * 300; i++) {
        double grain = 12.0 * picture_normal(&seed);
        double tone = 110.0 + 30.0 * sin((double)(i % 400) / 9.0) + grain;
        rgb[3 * i] = (uint8_t)fmin(fmax(tone * 1.3, 0.0), 255.0);
        rgb[3 * i + 1] = (uint8_t)fmin(fmax(tone, 0.0), 255.0);
        rgb[3 * i + 2] = (uint8_t)fmin(fmax(tone * 0.6, 0.0), 255.0);
    }
    made.bytes = write_jpeg_memory(400, 300, rgb, 88, &made.count);
    free(rgb);
    if (!check_true(made.bytes != NULL)) {
        exit(1);
    }
    return made;
}

static void test_kinds(void)
{
    static const uint8_t zeros[64], ones[4] = {0xff, 0xff, 0xff, 0xff};
    file wood = photo_of_wood();
    size_t start = data_start(wood), last = wood.count - 2, middle = (start + last) / 2;
    size_t warnings = 0;
    hw_error err;
    check_true(scan(wood.bytes, wood.count) == HW_SCAN_WHOLE);
    // Cut in the middle, and given an end again, as tools that repair do.
    file cut = changed(wood, middle, last - middle, NULL, 0);
    check_true(scan(cut.bytes, cut.count) == HW_SCAN_SHORT);
    check_text(code_of(cut, &warnings, &err), "photo-damaged");
    check_holds(err.what, "ends too early");
    check_true(err.next[0] != 0);
    hw_free(cut.bytes);
    // No end mark; rubbish behind the end mark, as phones put there: only the first is damage.
    cut = changed(wood, last, 2, NULL, 0);
    check_text(code_of(cut, &warnings, &err), "photo-cut-short");
    hw_free(cut.bytes);
    file more = changed(wood, wood.count, 0, (const uint8_t *)"and a film", 10);
    check_text(code_of(more, &warnings, &err), "");
    check_true(warnings == 0);
    hw_free(more.bytes);
    // More data than blocks: the warning. Bytes to fill up do no harm.
    more = changed(wood, last, 0, (const uint8_t *)"\x12\x34\x56\x78", 4);
    check_true(scan(more.bytes, more.count) == HW_SCAN_LEFT_OVER);
    check_text(code_of(more, &warnings, &err), "");
    check_true(warnings == 1);
    hw_free(more.bytes);
    check_true(scan_changed(wood, last, 0, zeros, 4) == HW_SCAN_WHOLE);
    check_true(scan_changed(wood, last, 0, ones, 4) == HW_SCAN_WHOLE);
    // A restart where none was announced.
    check_true(scan_changed(wood, middle, 2, "\xff\xd0", 2) == HW_SCAN_SHORT);
    free(wood.bytes);
}

// Restarts: one missing, one twice, two in the wrong order.
static void test_restarts(void)
{
    static const char *const names[] = {"photo/restarts.jpg", "photo/progressive-restarts.jpg"};
    for (size_t i = 0; i < 2; i++) {
        file jpeg = read_file(names[i]);
        int found = 0;
        for (size_t at = data_start(jpeg); at + 1 < jpeg.count; at++) {
            if (jpeg.bytes[at] == 0xff && jpeg.bytes[at + 1] >= 0xd0 &&
                jpeg.bytes[at + 1] <= 0xd7) {
                uint8_t other[2] = {0xff, (uint8_t)(0xd0 + (jpeg.bytes[at + 1] + 1) % 8)};
                check_true(scan_changed(jpeg, at, 2, NULL, 0) != HW_SCAN_WHOLE);
                check_true(scan_changed(jpeg, at, 2, other, 2) == HW_SCAN_BROKEN);
                check_true(scan_changed(jpeg, at, 0, jpeg.bytes + at, 2) != HW_SCAN_WHOLE);
                found++;
            }
        }
        check_true(found >= 2);
        hw_free(jpeg.bytes);
    }
}

// A table of more than 256 codes (T.81, B.2.4.2: each of a byte's values at most once): stb_image 2.27 writes
// past its own table for it.
static void test_too_many_codes(void)
{
    uint8_t table[4 + 17 + 355] = {0xff, 0xc4, 1, 118, 0x13};
    table[4 + 15] = 100;
    table[4 + 16] = 255;
    file jpeg = read_file("photo/baseline.jpg");
    size_t at = 2, warnings = 0;
    hw_error err;
    file more = changed(jpeg, at, 0, table, sizeof table);
    check_true(scan(more.bytes, more.count) == HW_SCAN_BROKEN);
    check_text(code_of(more, &warnings, &err), "photo-damaged");
    check_holds(err.what, "cannot be read on");
    hw_free(more.bytes);
    table[3] = 118 - 99;
    table[4 + 15] = 1; // 256 are as many as there may be
    more = changed(jpeg, at, 0, table, sizeof table - 99);
    check_true(scan(more.bytes, more.count) == HW_SCAN_WHOLE);
    hw_free(more.bytes);
    hw_free(jpeg.bytes);
}

// How much of each kind of damage is seen, at 200 places each of a photo whose blocks take some 50 bytes
// (small damage may leave as many blocks as there were: that is not seen). The bounds are what was found,
// less a little: they keep it from becoming worse.
static void test_share(void)
{
    static const struct {
        const char *what;
        size_t drop, add;
        int least;
    } kinds[] = {
        {"4096 bytes zeroed", 4096, 4096, 195}, {"4096 bytes missing", 4096, 0, 195},
        {"4096 bytes doubled", 0, 4096, 195},   {"64 bytes zeroed", 64, 64, 140},
        {"64 bytes missing", 64, 0, 130},       {"64 bytes doubled", 0, 64, 195},
    };
    static const uint8_t zeros[4096];
    file wood = photo_of_wood();
    size_t start = data_start(wood), room = wood.count - 8192 - start;
    uint64_t seed = 3;
    printf("of %zu bytes:\n", wood.count);
    for (size_t kind = 0; kind < sizeof kinds / sizeof *kinds; kind++) {
        int seen = 0;
        for (int i = 0; i < 200; i++) {
            size_t at = start + (size_t)(picture_random(&seed) * (double)room);
            const uint8_t *add = kinds[kind].drop ? zeros : wood.bytes + at;
            seen += scan_changed(wood, at, kinds[kind].drop, add, kinds[kind].add) != HW_SCAN_WHOLE;
        }
        printf("%s: %d of 200 seen\n", kinds[kind].what, seen);
        check_true(seen >= kinds[kind].least);
    }
    int seen = 0;
    for (int i = 0; i < 200; i++) {
        size_t at = start + (size_t)(picture_random(&seed) * (double)room);
        uint8_t flipped = (uint8_t)(wood.bytes[at] ^ 1u << (int)(8.0 * picture_random(&seed)));
        seen += scan_changed(wood, at, 1, &flipped, 1) != HW_SCAN_WHOLE;
    }
    printf("one bit flipped: %d of 200 seen\n", seen); // most change a block or two
    check_true(seen >= 40);
    free(wood.bytes);
}

int main(void)
{
    test_whole();
    test_kinds();
    test_restarts();
    test_too_many_codes();
    test_share();
    return check_done();
}
