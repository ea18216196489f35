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

int main(void)
{
    test_both_orders();
    test_damage();
    test_cut_everywhere();
    return check_done();
}
