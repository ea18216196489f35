// fuzz_photo.c: probe, EXIF and colour profile of any bytes, in this process (the decoder itself
// runs in its child).
#include "photo_internal.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_limits limits = hw_limits_default();
    hw_probe probe;
    hw_exif exif;
    hw_error err = {0};
    hw_exif_read((hw_part){bytes, count}, &exif);
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
    return 0;
}
