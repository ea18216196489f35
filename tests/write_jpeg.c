// write_jpeg.c: the one place that knows stb_image_write.
#include "write_jpeg.h"

#include <stdlib.h>
#include <string.h>

// Told at the end of the file, so it cannot be taken back by the pop below.
#pragma GCC diagnostic ignored "-Wunused-function"
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wconversion"
#pragma GCC diagnostic ignored "-Wsign-compare"
#pragma GCC diagnostic ignored "-Wshadow"
#pragma GCC diagnostic ignored "-Wmissing-prototypes"
#pragma GCC diagnostic ignored "-Wmissing-field-initializers"
#pragma GCC diagnostic ignored "-Wunused-parameter"
#define STB_IMAGE_WRITE_STATIC
#define STB_IMAGE_WRITE_IMPLEMENTATION
#include <stb_image_write.h>
#pragma GCC diagnostic pop

typedef struct growing {
    uint8_t *bytes;
    size_t count, room;
    bool failed;
} growing;

static void grow(void *context, void *data, int size)
{
    growing *to = context;
    if (to->failed) {
        return;
    }
    if (to->count + (size_t)size > to->room) {
        size_t room = 2 * (to->count + (size_t)size);
        uint8_t *bytes = realloc(to->bytes, room);
        to->failed = !bytes;
        if (to->failed) {
            return;
        }
        to->bytes = bytes;
        to->room = room;
    }
    memcpy(to->bytes + to->count, data, (size_t)size);
    to->count += (size_t)size;
}

uint8_t *write_jpeg_memory(size_t width, size_t height, const uint8_t *rgb, int quality,
                           size_t *count)
{
    growing to = {0};
    if (!stbi_write_jpg_to_func(grow, &to, (int)width, (int)height, 3, rgb, quality) || to.failed) {
        free(to.bytes);
        return NULL;
    }
    *count = to.count;
    return to.bytes;
}

bool write_jpeg(const char *path, size_t width, size_t height, const uint8_t *rgb, int quality)
{
    return stbi_write_jpg(path, (int)width, (int)height, 3, rgb, quality) != 0;
}
