// fuzz_heif.c: HEIC and AVIF, in the confined child (fuzz_child.h).
#include "fuzz_child.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    fuzz_child(bytes, count, HW_FORMAT_HEIC, HW_FORMAT_AVIF);
    return 0;
}
