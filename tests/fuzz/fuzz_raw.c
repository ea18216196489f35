// fuzz_raw.c: raw files and DNG, in the confined child (fuzz_child.h).
#include "fuzz_child.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    fuzz_child(bytes, count, HW_FORMAT_RAW, HW_FORMAT_DNG);
    return 0;
}
