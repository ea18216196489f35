// What is kept of a photo: the same after packing and unpacking, and refused where a byte is wrong.
#include "base_internal.h"
#include "check.h"
#include "decoded_picture.h"
#include "mark_internal.h"
#include "picture.h"

static hw_photo *photo_of(size_t width, size_t height)
{
    picture made = picture_new(width, height);
    uint64_t state = 3;
    picture_fill(&made, 0, 0, width, height, (hw_lab){50, 12, 25});
    for (int spot = 0; spot < 60; spot++) {
        size_t x = (size_t)(picture_random(&state) * (double)width);
        size_t y = (size_t)(picture_random(&state) * (double)height);
        size_t w = 3 + (size_t)(picture_random(&state) * 20.0);
        w = x + w < width ? w : width - x;
        picture_fill(&made, x, y, w, y + w < height ? w : height - y,
                     (hw_lab){30.0 + 40.0 * picture_random(&state), 10, 20});
    }
    hw_photo *photo = decoded_picture(&made, "photo.png");
    picture_free(&made);
    return photo;
}

static hw_look *look_of(size_t width, size_t height)
{
    hw_photo *photo = photo_of(width, height);
    hw_look *look = NULL;
    check_true(hw_look_take(photo, &look, NULL) == HW_OK);
    hw_photo_free(photo);
    return look;
}

static void same_after_packing(const hw_look *look, const uint8_t *bytes, size_t count)
{
    hw_look *again = NULL;
    check_true(hw_look_unpack(bytes, count, "kept", &again, NULL) == HW_OK);
    check_true(again->photo_width == look->photo_width &&
               again->photo_height == look->photo_height);
    check_true(again->grey.width == look->grey.width && again->grey.height == look->grey.height);
    check_true(again->grey.left == look->grey.left && again->grey.top == look->grey.top);
    check_true(memcmp(again->grey.value, look->grey.value,
                      look->grey.width * look->grey.height * sizeof(float)) == 0);
    check_true(again->feature_count == look->feature_count);
    check_true(look->feature_count == 0 ||
               memcmp(again->feature, look->feature, look->feature_count * sizeof *look->feature) ==
                   0);
    hw_look_free(again);
}

static void refused(const uint8_t *bytes, size_t count)
{
    hw_look *look = NULL;
    hw_error err = {0};
    if (!check_true(hw_look_unpack(bytes, count, "kept", &look, &err) == HW_ERR_INPUT)) {
        hw_look_free(look);
        return;
    }
    check_text(err.code, "look-format");
    check_text(err.subject, "kept");
}

// The sum in the head is over all that follows: zlib's crc32 is the outside reference for it.
static void set_sum(uint8_t *bytes, size_t count)
{
    uint32_t sum = (uint32_t)crc32(0, bytes + 12, (uInt)(count - 12));
    for (int i = 0; i < 4; i++) {
        bytes[8 + i] = (uint8_t)(sum >> (8 * i));
    }
}

static void damaged_bytes(uint8_t *bytes, size_t count)
{
    for (size_t i = 0; i < count; i += i < 60 ? 1 : count / 40 + 1) {
        bytes[i] ^= 4;
        refused(bytes, count);
        bytes[i] ^= 4;
    }
    refused(bytes, 0);
    refused(bytes, 11);
    refused(bytes, count - 1);
    for (size_t i = 12; i < 40; i++) { // sizes that contradict each other, under a right sum
        uint8_t was = bytes[i];
        bytes[i] = (uint8_t)(was + 1);
        set_sum(bytes, count);
        if (i >= 20 && i < 32) { // picture and number of features no longer fill the bytes
            refused(bytes, count);
        }
        bytes[i] = was;
    }
    memset(bytes + count - 144, 0xff, 16); // a feature at no place
    set_sum(bytes, count);
    refused(bytes, count);
}

// Places there and back, and that pixels of the look lie where those of the photo lie.
static void places(void)
{
    hw_look *look = look_of(1500, 1001);
    hw_point p = hw_look_from_photo(look, (hw_point){1500, 500.5});
    check_close(p.x, 0.5, 1e-12);
    check_close(p.y, 0.0, 1e-12);
    p = hw_look_to_photo(look, (hw_point){-0.5, 0.1});
    check_close(p.x, 0.0, 1e-9);
    check_close(p.y, 650.5, 1e-9);
    check_true(look->grey.width == 1000 && look->grey.height == 667);
    hw_pyramid pyramid;
    check_true(hw_pyramid_make(look, &pyramid));
    check_true(pyramid.count == HW_LEVELS);
    for (size_t l = 0; l < pyramid.count;
         l++) { // the corner of the first pixel is that of the photo
        const hw_grey *g = &pyramid.level[l];
        hw_point corner = {g->left - 0.5 * g->pixel, g->top - 0.5 * g->pixel};
        corner = hw_look_to_photo(look, corner);
        check_close(corner.x, 0.0, 1e-6);
        check_close(corner.y, 0.0, 1e-6);
    }
    float value;
    check_true(hw_grey_at(&look->grey, 0.0, 0.0, &value));
    check_true(!hw_grey_at(&look->grey, 0.6, 0.0, &value) &&
               !hw_grey_at(&look->grey, NAN, 0.0, &value));
    hw_pyramid_free(&pyramid);
    hw_look_free(look);
}

int main(void)
{
    hw_look *look = look_of(320, 240);
    uint8_t *bytes = NULL;
    size_t count = 0;
    check_true(look->feature_count > 20);
    check_true(hw_look_pack(look, &bytes, &count, NULL) == HW_OK);
    check_true(count == 40 + 320 * 240 + 144 * look->feature_count);
    same_after_packing(look, bytes, count);
    damaged_bytes(bytes, count);
    hw_free(bytes);
    hw_look_free(look);
    look = look_of(1, 1); // no figure at all
    check_true(look->feature_count == 0);
    check_true(hw_look_pack(look, &bytes, &count, NULL) == HW_OK && count == 41);
    same_after_packing(look, bytes, count);
    hw_free(bytes);
    hw_look_free(look);
    places();
    return check_done();
}
