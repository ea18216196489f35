// fuzz_marks.c: any bytes as a marks file and as a region of an option; what is taken is also
// checked and printed.
#include "base_internal.h"
#include "huewright/mark.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_marks marks = {0};
    hw_warnings warnings = {0};
    hw_error err = {0};
    char region[200], *text = NULL;
    if (hw_marks_parse((const char *)bytes, count, "fuzz", NULL, &marks, &warnings, &err) ==
        HW_OK) {
        hw_error why = {0};
        if (hw_marks_check(&marks, 400, 300, NULL, &why) == HW_OK &&
            hw_marks_text(&marks, &text, NULL) == HW_OK) {
            hw_marks_text_free(text);
        }
    }
    hw_marks_free(&marks);
    size_t length = count < sizeof region - 1 ? count : sizeof region - 1;
    memcpy(region, bytes, length);
    region[length] = 0;
    if (hw_marks_add(&marks, HW_ROLE_PATCH, "fuzz", region, NULL, &err) == HW_OK) {
        hw_marks_free(&marks);
    }
    return 0;
}
