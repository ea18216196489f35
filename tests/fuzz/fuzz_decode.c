// fuzz_decode.c: any bytes through the decoder as photo_stb.c builds it, here in this process and with
// blocks of their own size, so that the address sanitizer sees a byte too far. Each input is decoded a
// second time with one of its first allocations, and all after it, refused. (A child that dies is one
// refused photo; this is to know how often it would.)
#include <stddef.h>

static void *fuzz_take(size_t count);
static void *fuzz_resize(void *block, size_t old_count, size_t count);
static void fuzz_drop(void *block);
static void fuzz_leave(void);
#define STBI_MALLOC(count)                          fuzz_take(count)
#define STBI_REALLOC_SIZED(block, old_count, count) fuzz_resize(block, old_count, count)
#define STBI_FREE(block)                            fuzz_drop(block)
#define STBI_ASSERT(condition)                      ((void)((condition) || (fuzz_leave(), 0)))

#include "photo_stb.c"

#include <setjmp.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

#define BLOCKS_MOST 64

static struct {
    void *block[BLOCKS_MOST]; // those that are held
    size_t total, most;       // bytes asked for since the start: the bound of the arena
    long left;
    jmp_buf away;
} held;

static void *fuzz_take(size_t count)
{
    if (held.left == 0 || count > held.most - held.total) {
        return NULL;
    }
    held.left -= held.left > 0;
    for (size_t i = 0; i < BLOCKS_MOST; i++) {
        if (!held.block[i]) {
            held.total += count;
            return held.block[i] = hw_alloc_array(count, 1);
        }
    }
    return NULL;
}

static void fuzz_drop(void *block)
{
    for (size_t i = 0; block && i < BLOCKS_MOST; i++) {
        if (held.block[i] == block) {
            hw_free(block);
            held.block[i] = NULL;
            return;
        }
    }
    if (block) {
        abort(); // it was never given, or is free already
    }
}

static void *fuzz_resize(void *block, size_t old_count, size_t count)
{
    void *moved = fuzz_take(count);
    if (moved && block) {
        memcpy(moved, block, old_count < count ? old_count : count);
        fuzz_drop(block);
    }
    return moved;
}

static void fuzz_leave(void)
{
    longjmp(held.away, 1); // the child would exit
}

// True: a picture, which was read to its last byte.
static bool try_decode(const uint8_t *bytes, size_t count, const hw_probe *probe, long left)
{
    volatile bool made = false;
    memset(&held, 0, sizeof held);
    held.most = stb_bound(probe, count, NULL);
    held.left = left;
    if (setjmp(held.away) == 0) {
        int width = 0, height = 0, channels = 0;
        uint8_t *picture =
            probe->bits == 16
                ? (uint8_t *)stbi_load_16_from_memory(bytes, (int)count, &width, &height, &channels,
                                                      3)
                : stbi_load_from_memory(bytes, (int)count, &width, &height, &channels, 3);
        size_t size = (size_t)width * (size_t)height * 3 * (probe->bits / 8);
        volatile uint8_t sum = 0;
        for (size_t i = 0; picture && i < size; i++) {
            sum = (uint8_t)(sum + picture[i]);
        }
        made = picture != NULL;
        if (!picture && !stbi_failure_reason()) {
            abort();
        }
        fuzz_drop(picture);
    }
    for (size_t i = 0; i < BLOCKS_MOST; i++) { // it leaks on many ways out; the child ends
        hw_free(held.block[i]);
    }
    return made;
}

// The child decodes whatever the probe lets through, but only of what can be read through is a picture
// taken. What else stb_image does with the rest ends the child, and is known to (too-many-codes.jpg).
static bool reads_through(const uint8_t *bytes, size_t count, const hw_probe *probe)
{
    size_t words = hw_photo_scan_room(probe), where;
    uint64_t *room = hw_alloc_array(words, sizeof *room);
    hw_scan_end end = probe->format == HW_FORMAT_JPEG
                          ? hw_photo_scan(bytes, count, room, words, &where)
                          : HW_SCAN_WHOLE;
    hw_free(room);
    return end == HW_SCAN_WHOLE || end == HW_SCAN_LEFT_OVER;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_limits limits = hw_limits_default();
    hw_probe probe;
    limits.pixels = 1 << 16;
    if (hw_photo_probe(bytes, count, "fuzz", &limits, &probe, NULL) == HW_OK &&
        reads_through(bytes, count, &probe)) {
        try_decode(bytes, count, &probe, -1);
        try_decode(bytes, count, &probe, (long)(hw_crc32(bytes, count) % 12));
    }
    return 0;
}
