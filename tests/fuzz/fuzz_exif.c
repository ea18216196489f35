// fuzz_exif.c: any bytes as the EXIF block of a photo. Nothing in it may do more than leave a fact out:
// whatever comes back can be printed, and the orientation is one of the eight that there are.
#include "base_internal.h"
#include "photo_internal.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static void must_be_plain(const char *text, size_t size)
{
    if (!memchr(text, 0, size) || (text[0] && !hw_name_is_usable(text))) {
        abort();
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_exif exif;
    memset(&exif, 0xa5, sizeof exif); // all of it must be set
    hw_exif_read((hw_part){bytes, count}, &exif);
    if (exif.orientation < 1 || exif.orientation > 8 || exif.colour_space < 0 ||
        exif.colour_space > 65535) {
        abort();
    }
    must_be_plain(exif.taken, sizeof exif.taken);
    must_be_plain(exif.camera, sizeof exif.camera);
    return 0;
}
