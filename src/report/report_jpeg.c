// report_jpeg.c: a picture as JPEG, by stb_image_write; the only file that knows it.
#include "report_internal.h"

// Told at the end of the file, so it cannot be taken back by the pop below.
#pragma GCC diagnostic ignored "-Wunused-function"
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wconversion"
#pragma GCC diagnostic ignored "-Wsign-compare"
#pragma GCC diagnostic ignored "-Wshadow"
#pragma GCC diagnostic ignored "-Wmissing-prototypes"
#pragma GCC diagnostic ignored "-Wmissing-field-initializers"
#pragma GCC diagnostic ignored "-Wunused-parameter"
#define STBI_WRITE_NO_STDIO
#define STBIW_MALLOC(count)        hw_alloc_array(count, 1)
#define STBIW_REALLOC(block, size) hw_resize_array(block, size, 1)
#define STBIW_FREE(block)          hw_free(block)
#define STB_IMAGE_WRITE_STATIC
#define STB_IMAGE_WRITE_IMPLEMENTATION
#include <stb_image_write.h>
#pragma GCC diagnostic pop

static void take_bytes(void *context, void *bytes, int count)
{
    hw_text_add_bytes(context, bytes, (size_t)count);
}

hw_status hw_report_jpeg(const uint8_t *rgb, size_t width, size_t height, hw_text *out,
                         hw_error *err)
{
    const int quality = 85; // to look at, not to read from (chosen)
    int good = stbi_write_jpg_to_func(take_bytes, out, (int)width, (int)height, 3, rgb, quality);
    return good && !out->failed ? HW_OK : hw_fail_memory(err, "drawing the photo");
}

hw_status hw_report_shown_jpeg(const hw_shown *shown, char **out, size_t *count, hw_error *err)
{
    hw_text bytes = {0};
    hw_status status = hw_report_jpeg(shown->rgb, shown->width, shown->height, &bytes, err);
    if (status != HW_OK) {
        hw_text_free(&bytes);
        return status;
    }
    *count = bytes.length;
    *out = bytes.bytes;
    return HW_OK;
}
