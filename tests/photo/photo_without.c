// Built with neither library: a HEIC or raw photo is refused with its cure, and all else is as ever. And
// changed in any way it stays refused: nothing here takes it for another kind.
#include "base_internal.h"
#include "check.h"
#include "photo_bytes.h"
#include "photo_internal.h"

static void test_refused(const char *name, const char *kind, const char *cure)
{
    file one = read_file(name);
    hw_photo *photo = NULL;
    hw_error err = {0};
    check_true(hw_photo_decode(one.bytes, one.count, name, NULL, &photo, &err) == HW_ERR_INPUT);
    check_text(err.code, "photo-not-built-in");
    check_holds(err.what, kind);
    check_holds(err.what, "built without");
    check_holds(err.next, "Save it as a JPEG");
    check_holds(err.next, cure);
    for (size_t cut = 16; cut < one.count; cut += 7) {
        check_true(hw_photo_decode(one.bytes, cut, name, NULL, &photo, NULL) == HW_ERR_INPUT);
    }
    hw_free(one.bytes);
}

int main(void)
{
    check_true(!hw_heif_decoder() && !hw_raw_decoder());
    test_refused("photo/quarters.heic", "a HEIC photo", "libheif-dev");
    test_refused("photo/mosaic.dng", "a raw file", "libraw-dev");
    file jpeg = read_file("photo/baseline.jpg");
    hw_photo *photo = NULL;
    check_true(hw_photo_decode(jpeg.bytes, jpeg.count, "a.jpg", NULL, &photo, NULL) == HW_OK);
    hw_photo_free(photo);
    hw_free(jpeg.bytes);
    return check_done();
}
