// Good photos changed at one place in memory: each change is refused in its own words.
#include "base_internal.h"
#include "check.h"
#include "photo_internal.h"
#include "photo_bytes.h"
#include "picture.h"

// Decodes and frees the bytes; "" when they are read.
static const char *code_of(file changed)
{
    static hw_error err;
    hw_photo *photo = NULL;
    err = (hw_error){0};
    hw_status status = hw_photo_decode(changed.bytes, changed.count, "changed", NULL, &photo, &err);
    check_true((status == HW_OK) == (photo != NULL));
    hw_photo_free(photo);
    hw_free(changed.bytes);
    return err.code;
}

// Where the n-th APP2 with a part of the profile begins, at its marker (ICC.1:2022, B.4).
static size_t profile_part(file jpeg, int n)
{
    for (size_t at = 0; at + 18 < jpeg.count; at++) {
        if (memcmp(jpeg.bytes + at + 4, "ICC_PROFILE", 12) == 0 && n-- == 0) {
            return at;
        }
    }
    check_report(false, __FILE__, __LINE__, "the file has that part");
    exit(1);
}

static const char *with_part_byte(int part, size_t offset, uint8_t value)
{
    file jpeg = read_file("photo/profile-three-parts.jpg");
    jpeg.bytes[profile_part(jpeg, part) + offset] = value;
    return code_of(jpeg);
}

enum { NUMBER = 16, TOTAL = 17 }; // behind marker, length and the name with its 0

static void test_parts_of_profile(void)
{
    check_text(code_of(read_file("photo/profile-three-parts.jpg")), "");
    check_text(with_part_byte(0, NUMBER, 0), "photo-profile"); // they count from 1
    check_text(with_part_byte(0, NUMBER, 4), "photo-profile"); // of three
    check_text(with_part_byte(1, TOTAL, 4), "photo-profile");  // they do not agree
    check_text(with_part_byte(2, TOTAL, 2), "photo-profile");
    // All three are there, and the first a second time.
    file jpeg = read_file("photo/profile-three-parts.jpg");
    size_t part = profile_part(jpeg, 0);
    size_t length = 2 + (size_t)(jpeg.bytes[part + 2] << 8 | jpeg.bytes[part + 3]);
    file twice = {hw_alloc_array(jpeg.count + length, 1), jpeg.count + length};
    if (check_true(twice.bytes != NULL)) {
        memcpy(twice.bytes, jpeg.bytes, part + length);
        memcpy(twice.bytes + part + length, jpeg.bytes + part, jpeg.count - part);
        check_text(code_of(twice), "photo-profile");
    }
    hw_free(jpeg.bytes);
}

// A black 2 x 2 PNG with this iCCP: whole chunks, whatever they hold.
static file png_with_profile(const uint8_t *profile, size_t size)
{
    uint8_t header[13] = {0, 0, 0, 2, 0, 0, 0, 2, 8, 2}, rows[14] = {0}, packed[100];
    uLongf length = sizeof packed;
    file png = {hw_alloc_array(size + 400, 1), 8};
    if (!png.bytes || compress2(packed, &length, rows, sizeof rows, 9) != Z_OK) {
        exit(1);
    }
    memcpy(png.bytes, "\x89PNG\r\n\x1a\n", 8);
    png.count += picture_chunk(png.bytes + png.count, "IHDR", header, 13);
    png.count += picture_chunk(png.bytes + png.count, "iCCP", profile, size);
    png.count += picture_chunk(png.bytes + png.count, "IDAT", packed, length);
    png.count += picture_chunk(png.bytes + png.count, "IEND", NULL, 0);
    return png;
}

// The zlib stream of an iCCP (W3C PNG, third edition, 11.3.2.3) whole, cut and changed.
static void test_packed_profile(void)
{
    file icc = read_file("outside/matrix-profile.icc");
    uint8_t chunk[2000] = "made\0";
    uLongf length = sizeof chunk - 6;
    check_true(compress2(chunk + 6, &length, icc.bytes, icc.count, 9) == Z_OK);
    check_text(code_of(png_with_profile(chunk, 6 + length)), "");
    check_text(code_of(png_with_profile(chunk, 6 + length - 5)), "photo-profile");
    chunk[6 + length / 2] ^= 0x55;
    check_text(code_of(png_with_profile(chunk, 6 + length)), "photo-profile");
    hw_free(icc.bytes);
    // A stream that swells to 16 MB: refused, not stored.
    uint8_t *zeros = hw_alloc_array((size_t)16 << 20, 1);
    uint8_t *bomb = hw_alloc_array((size_t)1 << 20, 1);
    length = ((size_t)1 << 20) - 6;
    if (check_true(zeros && bomb)) {
        memcpy(bomb, "made\0", 6);
        check_true(compress2(bomb + 6, &length, zeros, (uLong)16 << 20, 9) == Z_OK);
        check_text(code_of(png_with_profile(bomb, 6 + length)), "photo-profile");
    }
    hw_free(zeros);
    hw_free(bomb);
}

// ICC.1:2022, 7.3: tags by name, offset and size; the X of an XYZType stands at 8, in 65536ths.
static void set_red_x(file icc, uint32_t value)
{
    for (size_t at = 132; at + 12 <= icc.count; at += 12) {
        if (memcmp(icc.bytes + at, "rXYZ", 4) == 0) {
            size_t data = (size_t)icc.bytes[at + 6] << 8 | icc.bytes[at + 7];
            picture_put32(icc.bytes + data + 8, value);
            return;
        }
    }
    check_report(false, __FILE__, __LINE__, "the profile has a red");
}

// Red 32767 times as strong as white: left aside and said, not read.
static void test_impossible_colours(void)
{
    for (int impossible = 0; impossible < 2; impossible++) {
        file icc = read_file("outside/matrix-profile.icc");
        uint8_t chunk[2000] = "made\0";
        uLongf length = sizeof chunk - 6;
        hw_photo *photo = NULL;
        if (impossible) {
            set_red_x(icc, 0x7fffffffu);
        }
        check_true(compress2(chunk + 6, &length, icc.bytes, icc.count, 9) == Z_OK);
        file png = png_with_profile(chunk, 6 + length);
        check_true(hw_photo_decode(png.bytes, png.count, "red", NULL, &photo, NULL) == HW_OK);
        const hw_photo_facts *facts = photo ? hw_photo_facts_of(photo) : NULL;
        check_true(facts && facts->warnings.count == (size_t)impossible &&
                   facts->colour_assumed == (impossible == 1));
        if (impossible && facts) {
            check_holds(facts->warnings.text[0], "does not fit a photo");
        }
        hw_photo_free(photo);
        hw_free(png.bytes);
        hw_free(icc.bytes);
    }
}

// BMP: where its rows begin stands at 10, width at 18, height at 22, all little-endian.
static const char *with_bmp_number(size_t at, uint32_t value)
{
    file bmp = read_file("photo/colours.bmp");
    for (int i = 0; i < 4; i++) {
        bmp.bytes[at + (size_t)i] = (uint8_t)(value >> (8 * i));
    }
    return code_of(bmp);
}

static void test_bmp(void)
{
    check_text(code_of(read_file("photo/colours.bmp")), "");
    check_text(with_bmp_number(10, 55), "photo-cut-short"); // a byte too far for the last row
    check_text(with_bmp_number(10, 4663), "photo-cut-short");
    check_text(with_bmp_number(10, 0xffffffffu), "photo-cut-short");
    check_text(with_bmp_number(18, 49), "photo-cut-short");
    check_text(with_bmp_number(22, 33), "photo-cut-short");
    check_text(with_bmp_number(22, 0xffffffffu - 31), ""); // minus 32: top row first
    check_text(with_bmp_number(22, 0x80000000u), "photo-too-large");
    check_text(with_bmp_number(18, 0), "photo-damaged");
}

int main(void)
{
    test_parts_of_profile();
    test_packed_profile();
    test_impossible_colours();
    test_bmp();
    return check_done();
}
