// fuzz_jpeg.c: any bytes as what follows the start of a JPEG: its markers, then its coded data read to
// the end in exactly the memory that was asked for. What is refused is refused in words.
#include "base_internal.h"
#include "photo_internal.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static void read_data(const uint8_t *bytes, size_t count, const hw_probe *probe)
{
    size_t words = hw_photo_scan_room(probe), where = 0;
    uint64_t *room = hw_alloc_array(words, sizeof *room);
    hw_scan_end end = hw_photo_scan(bytes, count, words ? room : NULL, words, &where);
    if (where > count || (end == HW_SCAN_WHOLE && where != 0) ||
        (unsigned)end > HW_SCAN_LEFT_OVER) {
        abort();
    }
    hw_free(room);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_limits limits = hw_limits_default();
    hw_error err = {0};
    hw_probe probe;
    limits.pixels = 1 << 18;
    uint8_t *jpeg = hw_alloc_array(count + 2, 1);
    if (!jpeg) {
        return 0;
    }
    memcpy(jpeg, "\xff\xd8", 2);
    memcpy(jpeg + 2, bytes, count);
    if (hw_photo_probe(jpeg, count + 2, "fuzz", &limits, &probe, &err) == HW_OK) {
        if (probe.format == HW_FORMAT_JPEG) {
            read_data(jpeg, count + 2, &probe);
        }
    } else if (!err.code[0] || !err.what[0] || !err.next[0]) {
        abort();
    }
    hw_free(jpeg);
    return 0;
}
