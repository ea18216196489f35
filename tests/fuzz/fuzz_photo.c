// fuzz_photo.c: probe, EXIF and colour profile of any bytes, in this process (the decoder itself
// runs in its child). A changed PNG is tried a second time with the sums of its chunks mended:
// else no change would come past them.
#include "base_internal.h"
#include "photo_internal.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static void try_photo(const uint8_t *bytes, size_t count)
{
    hw_limits limits = hw_limits_default();
    hw_probe probe;
    hw_exif exif;
    hw_error err = {0};
    if (hw_photo_probe(bytes, count, "fuzz", &limits, &probe, &err) == HW_OK) {
        hw_photo_facts facts = {0};
        hw_photo_colour *colour = NULL;
        hw_exif_read(probe.exif, &exif);
        if (hw_photo_colour_make(&probe, &exif, "fuzz", &facts, &colour, &err) == HW_OK) {
            const uint16_t rgb[6] = {0, 1, 2, 255, 128, 7};
            hw_xyz out[2];
            hw_photo_colour_apply(colour, rgb, 2, out);
            hw_photo_colour_free(colour);
        }
    }
}

static uint32_t get32(const uint8_t *at)
{
    return (uint32_t)at[0] << 24 | (uint32_t)at[1] << 16 | (uint32_t)at[2] << 8 | at[3];
}

// PNG: length, type, data, sum over type and data (ISO/IEC 15948, 5.3).
static void mend_sums(uint8_t *bytes, size_t count)
{
    for (size_t at = 8; count - at >= 12 && get32(bytes + at) <= count - at - 12;) {
        size_t length = get32(bytes + at);
        uint32_t sum = hw_crc32(bytes + at + 4, length + 4);
        for (int i = 0; i < 4; i++) {
            bytes[at + 8 + length + (size_t)i] = (uint8_t)(sum >> (24 - 8 * i));
        }
        at += length + 12;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_exif exif;
    hw_exif_read((hw_part){bytes, count}, &exif);
    try_photo(bytes, count);
    if (count > 8 && memcmp(bytes, "\x89PNG\r\n\x1a\n", 8) == 0) {
        uint8_t *mended = hw_alloc_array(count, 1);
        if (mended) {
            memcpy(mended, bytes, count);
            mend_sums(mended, count);
            try_photo(mended, count);
            hw_free(mended);
        }
    }
    return 0;
}
