// fuzz_json.c: any bytes as JSON. What is taken can be printed, and the print read again gives the
// same print: nothing is lost on the way to the disk and back.
#include "base_internal.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static char *print(const hw_json *json, bool indented)
{
    char *text = NULL;
    hw_error err = {0};
    return hw_json_print(json, indented, &text, &err) == HW_OK ? text : NULL;
}

static hw_json *parse(const char *bytes, size_t count)
{
    hw_json *json = NULL;
    hw_error err = {0};
    return hw_json_parse(bytes, count, NULL, "fuzz", &json, &err) == HW_OK ? json : NULL;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_json *json = parse((const char *)bytes, count);
    for (int indented = 0; json && indented < 2; indented++) {
        char *once = print(json, indented);
        hw_json *back = once ? parse(once, strlen(once)) : NULL;
        char *twice = back ? print(back, indented) : NULL;
        if (!twice || strcmp(once, twice) != 0) {
            abort();
        }
        hw_free(once);
        hw_free(twice);
        hw_json_free(back);
    }
    hw_json_free(json);
    return 0;
}
