// write_jpeg.h: a JPEG file by stb_image_write, for pictures that tests and the demo make.
#ifndef HUEWRIGHT_TEST_WRITE_JPEG_H
#define HUEWRIGHT_TEST_WRITE_JPEG_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

// 8-bit R, G, B row by row; quality 1 to 100 (up to 90 with 4:2:0 subsampling). Into memory; free with
// free(). NULL when memory is out.
uint8_t *write_jpeg_memory(size_t width, size_t height, const uint8_t *rgb, int quality,
                           size_t *count);

// The same into a file.
bool write_jpeg(const char *path, size_t width, size_t height, const uint8_t *rgb, int quality);

#endif
