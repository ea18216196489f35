// fuzz_found.c: anything at all in the memory that a child leaves, taken by the parent as what a library found:
// an input is that memory from what was found on (hw_found), its first byte the format.
#include "base_internal.h"
#include "photo_internal.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static void take(hw_pixels *pixels, uint8_t *memory, hw_photo_format format)
{
    const uint16_t rgb[6] = {0, 1, 2, 255, 128, 7};
    hw_xyz out[2];
    hw_probe probe = {.format = format};
    hw_exif exif;
    hw_photo_facts facts = {0};
    hw_photo_colour *colour = NULL;
    const hw_found *found = &pixels->found;
    volatile uint8_t sum = 0;
    for (size_t i = 0; i < hw_found_picture_bytes(found); i++) {
        sum = (uint8_t)(sum + memory[found->picture + i]);
    }
    pixels->exif = hw_found_part(memory, found->exif, found->exif_count);
    pixels->profile = hw_found_part(memory, found->profile, found->profile_count);
    hw_found_to_probe(pixels, &probe);
    hw_exif_read(probe.exif, &exif);
    if (hw_photo_colour_make(&probe, &exif, "fuzz", &facts, &colour, NULL) == HW_OK) {
        hw_photo_colour_apply(colour, rgb, 2, out);
        hw_photo_colour_free(colour);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_limits limits = hw_limits_default();
    hw_pixels pixels = {0};
    hw_error err = {0};
    if (count < 1) {
        return 0;
    }
    hw_photo_format format = bytes[0] % 2 ? HW_FORMAT_HEIC : HW_FORMAT_RAW;
    size_t size = sizeof(hw_shared) + count;
    uint8_t *memory = hw_alloc_array(size, 1);
    if (!memory) {
        return 0;
    }
    memcpy(memory + offsetof(hw_shared, found), bytes + 1, count - 1);
    memcpy(&pixels.found, memory + offsetof(hw_shared, found), sizeof pixels.found);
    const hw_probe probe = {.format = format};
    if (hw_found_test(&pixels.found, size, &probe, &limits, "fuzz", &err) == HW_OK) {
        take(&pixels, memory, format);
    } else if (!err.code[0] || !err.what[0] || !err.next[0]) {
        abort();
    }
    hw_free(memory);
    return 0;
}
