// fuzz_png.c: any bytes as the chunks of a PNG, with lengths and sums that are right, so that what is in
// the chunks is read: sizes, profiles (packed here, or as they come), gamma, primaries, code points,
// EXIF. Of a picture that is taken every colour is a number.
//
// Each chunk: a byte for its type, two for its length, its bytes.
#include "base_internal.h"
#include "photo_internal.h"

#include <math.h>
#include <zlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static const char types[][5] = {"IHDR", "iCCP", "sRGB", "gAMA", "cHRM", "cICP",
                                "eXIf", "IDAT", "IEND", "tEXt", "PLTE", "tRNS"};
#define PACKED_PROFILE 12 // a profile that is packed here

static void put32(uint8_t *to, size_t value)
{
    for (int i = 0; i < 4; i++) {
        to[i] = (uint8_t)(value >> (24 - 8 * i));
    }
}

static void add_chunk(hw_text *png, const char *type, const uint8_t *bytes, size_t count)
{
    uint8_t head[8], sum[4];
    size_t start = png->length + 4;
    put32(head, count);
    memcpy(head + 4, type, 4);
    hw_text_add_bytes(png, head, sizeof head);
    hw_text_add_bytes(png, bytes, count);
    put32(sum, png->failed ? 0 : hw_crc32(png->bytes + start, count + 4));
    hw_text_add_bytes(png, sum, sizeof sum);
}

static void add_packed(hw_text *png, const uint8_t *bytes, size_t count)
{
    uLongf length = compressBound((uLong)count);
    uint8_t *packed = hw_alloc_array(length + 3, 1);
    if (packed) {
        memcpy(packed, "a\0", 3);
        if (compress2(packed + 3, &length, bytes, (uLong)count, 1) == Z_OK) {
            add_chunk(png, "iCCP", packed, length + 3);
        }
    }
    hw_free(packed);
}

static void try_colour(const hw_probe *probe)
{
    hw_photo_facts facts = {0};
    hw_photo_colour *colour = NULL;
    hw_exif exif;
    hw_error err = {0};
    hw_exif_read(probe->exif, &exif);
    if (hw_photo_colour_make(probe, &exif, "fuzz", &facts, &colour, &err) == HW_OK) {
        uint16_t rgb[3 * 9];
        hw_xyz out[9];
        for (int i = 0; i < 27; i++) {
            rgb[i] = (uint16_t)(i * i * 37 % (probe->bits == 16 ? 65536 : 256));
        }
        hw_photo_colour_apply(colour, rgb, 9, out);
        for (int i = 0; i < 9; i++) {
            if (!isfinite(out[i].X) || !isfinite(out[i].Y) || !isfinite(out[i].Z)) {
                abort();
            }
        }
        hw_photo_colour_free(colour);
    } else if (!err.code[0] || !err.next[0]) {
        abort();
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_limits limits = hw_limits_default();
    hw_text png = {0};
    hw_probe probe;
    hw_error err = {0};
    hw_text_add_bytes(&png, "\x89PNG\r\n\x1a\n", 8);
    while (count >= 3) {
        size_t type = bytes[0] % (PACKED_PROFILE + 1), length = (size_t)bytes[1] << 8 | bytes[2];
        length = length < count - 3 ? length : count - 3;
        if (type == PACKED_PROFILE) {
            add_packed(&png, bytes + 3, length);
        } else {
            add_chunk(&png, types[type], bytes + 3, length);
        }
        bytes += 3 + length;
        count -= 3 + length;
    }
    if (png.failed) {
        hw_text_free(&png);
        return 0;
    }
    // A block of its own size.
    uint8_t *exact = hw_alloc_array(png.length, 1);
    memcpy(exact, png.bytes, png.length);
    if (hw_photo_probe(exact, png.length, "fuzz", &limits, &probe, &err) == HW_OK) {
        try_colour(&probe);
    } else if (!err.code[0] || !err.what[0] || !err.next[0]) {
        abort();
    }
    hw_free(exact);
    hw_text_free(&png);
    return 0;
}
