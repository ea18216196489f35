// saved_picture.h: a picture that a test made, as a file.
#ifndef HUEWRIGHT_TEST_SAVED_PICTURE_H
#define HUEWRIGHT_TEST_SAVED_PICTURE_H

#include "base_internal.h"
#include "check.h"
#include "picture.h"

#include <stdlib.h>

// As PNG; the picture is freed.
static inline void save_picture(picture *made, const char *path)
{
    size_t count = 0;
    uint8_t *png = picture_png(made, &count);
    check_true(hw_file_replace(path, png, count, NULL) == HW_OK);
    free(png);
    picture_free(made);
}

#endif
