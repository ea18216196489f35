// fuzz_child.h: any bytes through a library, in the child as the program runs it: confined, with its limits of
// memory and time. What the library does there is its own affair; here the parent must come out of it with
// a picture that can be read to its last pixel, or with a refusal in words.
#ifndef HUEWRIGHT_FUZZ_CHILD_H
#define HUEWRIGHT_FUZZ_CHILD_H

#include "base_internal.h"
#include "photo_internal.h"

static inline void fuzz_child(const uint8_t *bytes, size_t count, hw_photo_format first,
                              hw_photo_format last)
{
    hw_limits limits = hw_limits_default();
    hw_probe probe;
    hw_error err = {0};
    hw_photo *photo = NULL;
    limits.pixels = 1 << 20;
    limits.decode_seconds = 5;
    if (hw_photo_probe(bytes, count, "fuzz", &limits, &probe, NULL) != HW_OK ||
        probe.format < first || probe.format > last) {
        return;
    }
    if (hw_photo_decode(bytes, count, "fuzz", &limits, &photo, &err) != HW_OK) {
        if (!err.code[0] || !err.what[0] || !err.next[0] || photo) {
            abort();
        }
        return;
    }
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    volatile double sum = 0.0;
    for (size_t y = 0; y < facts->height_px; y++) {
        for (size_t x = 0; x < facts->width_px; x++) {
            hw_xyz xyz;
            hw_photo_xyz(photo, x, y, 1, &xyz);
            sum = sum + xyz.Y;
        }
    }
    hw_photo_free(photo);
}

#endif
