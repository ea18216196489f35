// write_jpeg.c: the one place that knows stb_image_write.
#include "write_jpeg.h"

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

bool write_jpeg(const char *path, size_t width, size_t height, const uint8_t *rgb, int quality)
{
    return stbi_write_jpg(path, (int)width, (int)height, 3, rgb, quality) != 0;
}
