// fuzz_profile.c: any bytes as a colour profile.
#include "photo_internal.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_photo_colour *colour = NULL;
    bool own;
    hw_error err = {0};
    if (hw_photo_colour_of_profile((hw_part){bytes, count}, 255, count % 2, &own, &colour, &err) ==
        HW_OK) {
        const uint16_t rgb[3] = {0, 128, 255};
        hw_xyz out;
        hw_photo_colour_apply(colour, rgb, 1, &out);
        hw_photo_colour_free(colour);
    }
    return 0;
}
