// bare_decode.c: what the reading is measured against: stb_image decoding the same file, no more.
#pragma GCC diagnostic ignored "-Wconversion"
#pragma GCC diagnostic ignored "-Wsign-conversion"
#pragma GCC diagnostic ignored "-Wshadow"
#pragma GCC diagnostic ignored "-Wunused-function"
#pragma GCC diagnostic ignored "-Wmissing-prototypes"
#define STB_IMAGE_IMPLEMENTATION
#define STB_IMAGE_STATIC
#include <stb_image.h>

int main(int count, char **arguments)
{
    int width, height, channels;
    stbi_uc *pixels = count > 1 ? stbi_load(arguments[1], &width, &height, &channels, 3) : NULL;
    if (!pixels) {
        return 1;
    }
    printf("%d x %d, first %d\n", width, height, pixels[0]);
    stbi_image_free(pixels);
    return 0;
}
