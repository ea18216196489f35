// decoded_picture.h: a picture that a test made, as the photo that a file of it decodes to.
#ifndef HUEWRIGHT_TEST_DECODED_PICTURE_H
#define HUEWRIGHT_TEST_DECODED_PICTURE_H

#include "check.h"
#include "huewright/photo.h"
#include "picture.h"

// The picture stays the caller's.
static inline hw_photo *decoded_picture(const picture *made, const char *name)
{
    size_t count = 0;
    uint8_t *png = picture_png(made, &count);
    hw_photo *photo = NULL;
    hw_error err = {0};
    if (!check_true(hw_photo_decode(png, count, name, NULL, &photo, &err) == HW_OK)) {
        printf("%s: %s\n", err.code, err.what);
    }
    free(png);
    return photo;
}

#endif
