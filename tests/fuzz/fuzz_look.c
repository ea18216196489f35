// fuzz_look.c: any bytes as what is kept of a photo. What is taken is used, against itself and against a plain one. So that
// changes come past the checksum, the same bytes are also tried with a right one.
#include "base_internal.h"
#include "huewright/mark.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static void use(const uint8_t *bytes, size_t count)
{
    hw_look *look = NULL;
    hw_marks marks = {0};
    hw_carried_marks carried;
    hw_error err = {0};
    if (hw_look_unpack(bytes, count, "fuzz", &look, &err) != HW_OK) {
        return;
    }
    if (hw_marks_add(&marks, HW_ROLE_TARGET, "old", "5,5,30,30", NULL, NULL) == HW_OK &&
        hw_marks_add(&marks, HW_ROLE_PATCH, "new", "40,5,30,1e7", NULL, NULL) == HW_OK &&
        hw_marks_add(&marks, HW_ROLE_CARD, "card", "5,40,20,20", NULL, NULL) == HW_OK &&
        hw_marks_carry(&marks, look, look, &carried, NULL) == HW_OK) {
        hw_carried_marks_free(&carried);
    }
    uint8_t *again = NULL;
    size_t size;
    if (hw_look_pack(look, &again, &size, NULL) == HW_OK) {
        hw_free(again);
    }
    hw_marks_free(&marks);
    hw_look_free(look);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    use(bytes, count);
    uint8_t *mended = count > 12 ? hw_alloc_array(count, 1) : NULL;
    if (mended) {
        memcpy(mended, bytes, count);
        uint32_t sum = hw_crc32(mended + 12, count - 12);
        for (int i = 0; i < 4; i++) {
            mended[8 + i] = (uint8_t)(sum >> (8 * i));
        }
        use(mended, count);
    }
    hw_free(mended);
    return 0;
}
