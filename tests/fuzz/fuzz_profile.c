// fuzz_profile.c: any bytes as a colour profile: given to LittleCMS whole, and once more in parts as a
// JPEG carries it, numbered as the first bytes say. Every colour that comes out is a number.
#include "base_internal.h"
#include "photo_internal.h"

#include <math.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static void use(hw_photo_colour *colour)
{
    const uint16_t rgb[12] = {0, 128, 255, 0, 0, 0, 255, 255, 255, 17, 200, 90};
    hw_xyz out[4];
    hw_photo_colour_apply(colour, rgb, 4, out);
    for (int i = 0; i < 4; i++) {
        if (!isfinite(out[i].X) || !isfinite(out[i].Y) || !isfinite(out[i].Z)) {
            abort();
        }
    }
    hw_photo_colour_free(colour);
}

// The probe of a JPEG with these parts, as jpeg_icc fills it: by their numbers.
static void try_parts(const uint8_t *bytes, size_t count)
{
    hw_probe probe = {.format = HW_FORMAT_JPEG, .width = 1, .height = 1, .bits = 8};
    hw_photo_facts facts = {0};
    hw_photo_colour *colour = NULL;
    hw_exif exif = {.orientation = 1};
    size_t total = 1 + count % 4, each = count / total, at = 0;
    probe.grey = count % 2;
    probe.icc_total = count % 7 == 6 ? total + 1 : total; // one is missing
    for (size_t i = 0; i < total; i++) {
        size_t size = i + 1 == total ? count - at : each;
        probe.icc[i] = (hw_part){bytes + at, size};
        probe.icc_found++;
        at += size;
    }
    hw_error err = {0};
    if (hw_photo_colour_make(&probe, &exif, "fuzz", &facts, &colour, &err) == HW_OK) {
        if (!memchr(facts.colour, 0, sizeof facts.colour) || !facts.colour[0]) {
            abort();
        }
        use(colour);
    } else if (!err.code[0] || !err.next[0]) {
        abort();
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_photo_colour *colour = NULL;
    bool own;
    hw_error err = {0};
    if (hw_photo_colour_of_profile((hw_part){bytes, count}, 255, count % 2, &own, &colour, &err) ==
        HW_OK) {
        use(colour);
    }
    if (count > 0) {
        try_parts(bytes, count);
    }
    return 0;
}
