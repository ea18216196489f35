// EXIF (CIPA DC-008 in the structure of TIFF 6.0): both byte orders, text short enough to stand in
// its entry, and damage. testdata/photo/stated.png carries such entries; exiftool
// 12.57 reads them as "Acm", "X1", "2026:05:03 10:11:12", rotated by 90 degrees, uncalibrated.
#include "base_internal.h"
#include "check.h"
#include "photo_internal.h"
#include "picture.h"

typedef struct made {
    uint8_t bytes[400];
    size_t count;
    bool big;
} made;

static void put(made *m, size_t at, unsigned size, uint32_t value)
{
    for (unsigned i = 0; i < size; i++) {
        m->bytes[at + i] = (uint8_t)(value >> (m->big ? 8 * (size - 1 - i) : 8 * i));
    }
    m->count = at + size > m->count ? at + size : m->count;
}

static void put_entry(made *m, size_t at, unsigned tag, unsigned type, uint32_t count)
{
    put(m, at, 2, tag);
    put(m, at + 2, 2, type);
    put(m, at + 4, 4, count);
    put(m, at + 8, 4, 0);
}

static void put_text(made *m, size_t at, const char *text)
{
    memcpy(m->bytes + at, text, strlen(text) + 1);
    m->count = at + strlen(text) + 1 > m->count ? at + strlen(text) + 1 : m->count;
}

enum {
    MAKE = 10,
    MODEL = 22,
    TURN = 34,
    DEEPER = 46,
    DEEP = 100,
    TAKEN = DEEP + 2,
    SPACE = DEEP + 14,
    TEXTS = 200
};

// Make and model, orientation 6, and one directory deeper the time and an uncalibrated space.
static made make(bool big, const char *maker, const char *model)
{
    made m = {.big = big};
    memcpy(m.bytes, big ? "MM\0*" : "II*\0", 4);
    put(&m, 4, 4, 8);
    put(&m, 8, 2, 4);
    put_entry(&m, MAKE, 0x010f, 2, (uint32_t)strlen(maker) + 1);
    put(&m, MAKE + 8, 4, TEXTS);
    put_text(&m, TEXTS, maker);
    put_entry(&m, MODEL, 0x0110, 2, (uint32_t)strlen(model) + 1);
    put(&m, MODEL + 8, 4, TEXTS + 80);
    put_text(&m, TEXTS + 80, model);
    if (strlen(model) < 4) { // stands in the entry itself
        put_text(&m, MODEL + 8, model);
    }
    put_entry(&m, TURN, 0x0112, 3, 1);
    put(&m, TURN + 8, 2, 6);
    put_entry(&m, DEEPER, 0x8769, 4, 1);
    put(&m, DEEPER + 8, 4, DEEP);
    put(&m, DEEP, 2, 2);
    put_entry(&m, TAKEN, 0x9003, 2, 20);
    put(&m, TAKEN + 8, 4, TEXTS + 160);
    put_text(&m, TEXTS + 160, "2026:05:03 10:11:12");
    put_entry(&m, SPACE, 0xa001, 3, 1);
    put(&m, SPACE + 8, 2, 65535);
    return m;
}

static hw_exif read_made(const made *m)
{
    hw_exif exif;
    hw_exif_read((hw_part){m->bytes, m->count}, &exif);
    return exif;
}

static void test_both_orders(void)
{
    for (int big = 0; big < 2; big++) {
        made m = make(big, "Invented  ", "X1");
        hw_exif exif = read_made(&m);
        check_text(exif.camera, "Invented X1");
        check_text(exif.taken, "2026:05:03 10:11:12");
        check_true(exif.orientation == 6 && exif.colour_space == 65535);
        m = make(big, "Invented", "Invented Pro"); // the make is not said twice
        exif = read_made(&m);
        check_text(exif.camera, "Invented Pro");
    }
}

static void test_damage(void)
{
    made m = make(true, "Invented", "Pro\nfoto");
    check_text(read_made(&m).camera, "Invented"); // no control characters on the screen
    m = make(false, "Invented", "Pro 5");
    put(&m, TURN + 8, 2, 9); // CIPA DC-008: 1 to 8
    check_true(read_made(&m).orientation == 1);
    put(&m, MODEL + 8, 4, 0xfffffff0u); // text far outside
    put(&m, DEEPER + 8, 4, 0xffffffffu);
    check_text(read_made(&m).camera, "Invented");
    check_text(read_made(&m).taken, "");
    put(&m, MODEL + 4, 4, 0xffffffffu); // and endless
    check_text(read_made(&m).camera, "Invented");
    m = make(false, "Invented", "Pro 5");
    put(&m, DEEPER + 8, 4, 8); // the directory holds itself
    check_true(read_made(&m).orientation == 6);
    m.bytes[2] = 0; // no TIFF
    check_true(read_made(&m).orientation == 1 && read_made(&m).camera[0] == 0);
}

// Cut anywhere, in a block of its own size so that the address sanitizer sees a byte too far.
static void test_cut_everywhere(void)
{
    made m = make(true, "Invented", "Pro 5");
    for (size_t cut = 0; cut <= m.count; cut++) {
        uint8_t *exact = malloc(cut ? cut : 1);
        hw_exif exif;
        memcpy(exact, m.bytes, cut);
        hw_exif_read((hw_part){exact, cut}, &exif);
        check_true(exif.orientation == (cut >= TURN + 12 ? 6 : 1));
        free(exact);
    }
}

// ---- How the photo was taken -------------------------------------------------------

// One entry of the EXIF directory, with eight bytes behind it for a fraction.
static hw_shot read_one(unsigned tag, unsigned type, uint32_t first, uint32_t second)
{
    made m = {.big = true};
    memcpy(m.bytes, "MM\0*", 4);
    put(&m, 4, 4, 8);
    put(&m, 8, 2, 1);
    put_entry(&m, 10, 0x8769, 4, 1);
    put(&m, 18, 4, 30);
    put(&m, 30, 2, 1);
    put_entry(&m, 32, tag, type, 1);
    put(&m, 60, 4, first);
    put(&m, 64, 4, second);
    if (type == 3) {
        put(&m, 40, 2, first);
    } else {
        put(&m, 40, 4, type == 4 ? first : 60);
    }
    return read_made(&m).shot;
}

// testdata/photo/shot-exif.jpg (made by tests/photo/photo_files.py): exiftool 12.57 reads 1/60 s, f/2.8, ISO 200,
// 50 mm, -1/3 EV, flash off, did not fire, exposure manual, white balance auto, digital zoom 0, +02:00.
static void test_whole_shot(void)
{
    char path[600];
    hw_photo *photo = NULL;
    snprintf(path, sizeof path, "%s/photo/shot-exif.jpg", HW_TESTDATA);
    if (!check_true(hw_photo_load(path, NULL, &photo, NULL) == HW_OK)) {
        return;
    }
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    const hw_shot *shot = &facts->shot;
    double exposure = 0.0;
    check_close(shot->exposure_s, 1.0 / 60.0, 1e-15);
    check_close(shot->f_number, 2.8, 1e-15);
    check_close(shot->iso, 200.0, 0.0);
    check_close(shot->focal_mm, 50.0, 0.0);
    check_close(shot->bias_ev, -1.0 / 3.0, 1e-15);
    check_close(shot->digital_zoom, 1.0, 0.0);
    check_true(shot->has_bias && shot->flash == HW_SAID_NO && shot->exposure == HW_SET_BY_HAND &&
               shot->white_balance == HW_SET_BY_CAMERA && shot->processing == HW_PROCESSING_NONE);
    check_text(shot->offset, "+02:00");
    check_true(facts->warnings.count == 0); // all of it is usual
    // Of photos of one camera: twice the time is ln 2 brighter.
    hw_shot longer = *shot;
    longer.exposure_s *= 2.0;
    double brighter = 0.0;
    check_true(hw_shot_exposure(shot, &exposure) && hw_shot_exposure(&longer, &brighter));
    check_close(brighter - exposure, 0.69314718, 1e-8);
    longer.iso = 0.0;
    check_true(!hw_shot_exposure(&longer, &brighter));
    hw_photo_free(photo);
}

// Fractions that cannot be are not said.
static void test_hostile_fractions(void)
{
    static const unsigned tags[] = {0x829a, 0x829d, 0x920a};
    for (size_t i = 0; i < 3; i++) {
        for (int kind = 0; kind < 5; kind++) {
            static const uint32_t pairs[5][2] = {
                {0, 0}, {5, 0}, {0, 5}, {0xffffffffu, 1}, {1, 0xffffffffu}};
            hw_shot shot = read_one(tags[i], 5, pairs[kind][0], pairs[kind][1]);
            check_true(shot.exposure_s == 0.0 && shot.f_number == 0.0 && shot.focal_mm == 0.0);
        }
        hw_shot signed_one = read_one(tags[i], 10, 1, 60); // another type than the standard's
        check_true(signed_one.exposure_s == 0.0 && signed_one.f_number == 0.0);
    }
    check_true(!read_one(0x9204, 10, 1, 0).has_bias);
    check_true(!read_one(0x9204, 10, 0x80000000u, 1).has_bias);
    check_close(read_one(0x9204, 10, 0xffffffffu, 3).bias_ev, -1.0 / 3.0, 1e-15);
    check_close(read_one(0xa404, 5, 0, 0).digital_zoom, 0.0, 0.0);
    check_close(read_one(0xa404, 5, 0, 1).digital_zoom, 1.0, 0.0); // CIPA DC-008: not used
    check_close(read_one(0xa404, 5, 25, 10).digital_zoom, 2.5, 1e-15);
    check_close(read_one(0x8827, 3, 0, 0).iso, 0.0, 0.0);
    check_close(read_one(0x8833, 4, 102400, 0).iso, 102400.0, 0.0);
}

// Choices: values of CIPA DC-008, and of CustomRendered those of phones (ExifTool 12.57, tag 0xA401).
static void test_choices(void)
{
    check_true(read_one(0x9209, 3, 0x19, 0).flash == HW_SAID_YES); // fired, auto
    check_true(read_one(0x9209, 3, 0x10, 0).flash == HW_SAID_NO);
    check_true(read_one(0xa403, 3, 1, 0).white_balance == HW_SET_BY_HAND);
    check_true(read_one(0xa403, 3, 7, 0).white_balance == HW_SET_NOT_SAID);
    check_true(read_one(0xa402, 3, 2, 0).exposure == HW_SET_BY_CAMERA);
    static const hw_processing custom[] = {
        [2] = HW_PROCESSING_HDR, [3] = HW_PROCESSING_HDR, [8] = HW_PROCESSING_PORTRAIT, [9] = 0};
    for (uint32_t value = 0; value < 10; value++) {
        hw_processing want = value == 7 ? HW_PROCESSING_PORTRAIT : custom[value];
        check_true(read_one(0xa401, 3, value, 0).processing == want);
    }
    check_true(read_one(0xa406, 3, 0, 0).processing == HW_PROCESSING_NONE);
    check_true(read_one(0xa406, 3, 2, 0).processing == HW_PROCESSING_PORTRAIT);
    check_true(read_one(0xa406, 3, 3, 0).processing == HW_PROCESSING_NIGHT);
}

static hw_photo *decode_made(const uint8_t *bytes, size_t count)
{
    hw_photo *photo = NULL;
    check_true(hw_photo_decode(bytes, count, "made.jpg", NULL, &photo, NULL) == HW_OK);
    return photo;
}

// What spoils a reading is said, each in one sentence with its cure; what is usual is not.
static void test_warnings(void)
{
    const hw_shot usual = {.flash = HW_SAID_NO,
                           .white_balance = HW_SET_BY_CAMERA,
                           .exposure = HW_SET_BY_CAMERA,
                           .digital_zoom = 1.0};
    hw_warnings none = {0}, all = {0};
    hw_shot bad = usual;
    hw_shot_warn(&usual, &none);
    check_true(none.count == 0);
    bad.flash = HW_SAID_YES;
    bad.digital_zoom = 2.5;
    bad.processing = HW_PROCESSING_NIGHT;
    hw_shot_warn(&bad, &all);
    if (check_true(all.count == 3)) {
        check_holds(all.text[0], "flash fired");
        check_holds(all.text[0], "without it");
        check_holds(all.text[1], "night mode");
        check_holds(all.text[1], "Switch it off");
        check_holds(all.text[2], "2.5 times");
    }
}

// A JPEG as a phone leaves it: its XMP tells of a gain map, or its flash fired.
static void test_marked_jpeg(void)
{
    static const char xmp[] = "XMP: <x hdrgm:Version=\"1.0\"/>";
    static const uint8_t flash_off[] = {0x09, 0x92, 3, 0, 1, 0, 0, 0, 16, 0};
    char path[600];
    uint8_t *bytes = NULL;
    size_t count = 0;
    snprintf(path, sizeof path, "%s/photo/shot-exif.jpg", HW_TESTDATA);
    check_true(hw_file_read(path, 1 << 20, &bytes, &count, NULL) == HW_OK);
    uint8_t *more = malloc(count + sizeof xmp + 4);
    memcpy(more, bytes, 2);
    memcpy(more + 2, (uint8_t[]){0xff, 0xe1, 0, sizeof xmp + 2}, 4);
    memcpy(more + 6, xmp, sizeof xmp);
    memcpy(more + 6 + sizeof xmp, bytes + 2, count - 2);
    hw_photo *photo = decode_made(more, count + sizeof xmp + 4);
    check_true(hw_photo_facts_of(photo)->shot.gain_map &&
               hw_photo_facts_of(photo)->warnings.count == 1);
    check_holds(hw_photo_facts_of(photo)->warnings.text[0], "HDR");
    hw_photo_free(photo);
    free(more);
    bool found = false;
    for (size_t i = 0; i + sizeof flash_off <= count && !found; i++) {
        found = memcmp(bytes + i, flash_off, sizeof flash_off) == 0;
        bytes[i + 8] = found ? 1 : bytes[i + 8];
    }
    photo = check_true(found) ? decode_made(bytes, count) : NULL;
    if (photo) {
        check_true(hw_photo_facts_of(photo)->warnings.count == 1);
        check_holds(hw_photo_facts_of(photo)->warnings.text[0], "flash");
    }
    hw_photo_free(photo);
    hw_free(bytes);
}

int main(void)
{
    test_both_orders();
    test_damage();
    test_cut_everywhere();
    test_whole_shot();
    test_hostile_fractions();
    test_choices();
    test_warnings();
    test_marked_jpeg();
    return check_done();
}
