// photo_stb.c: JPEG, PNG, BMP and TGA by stb_image, in the child.
//
// All its memory comes from the memory that child and parent share, handed out from the bottom up, and
// the picture is left there for the parent, without a copy. So the size of that memory is a limit: a file
// that swells past what its header says meets the end of it. stb_image itself asks the kernel for nothing,
// so the child that runs it may do nothing but exit.
#include "photo_internal.h"

#include <string.h>

// In the child alone: where stb_image's calls take their memory from.
static hw_shared *child_memory;

__attribute__((unused)) static void *arena_take(size_t count)
{
    return hw_shared_take(child_memory, count);
}

static bool is_newest(const void *block)
{
    return block && hw_shared_offset(child_memory, block) == child_memory->last;
}

__attribute__((unused)) static void *arena_resize(void *block, size_t old_count, size_t count)
{
    if (is_newest(block)) {
        size_t used = child_memory->used;
        child_memory->used = child_memory->last; // the newest block grows where it lies
        void *grown = hw_shared_take(child_memory, count);
        child_memory->used = grown ? child_memory->used : used;
        return grown;
    }
    void *moved = arena_take(count);
    if (moved && block) {
        memcpy(moved, block, old_count < count ? old_count : count);
    }
    return moved;
}

__attribute__((unused)) static void arena_drop(void *block)
{
    if (is_newest(block)) {
        child_memory->used = child_memory->last;
    }
}

#ifndef STBI_MALLOC // a fuzz target gives it blocks that the address sanitizer watches
#define STBI_MALLOC(count)                          arena_take(count)
#define STBI_REALLOC_SIZED(block, old_count, count) arena_resize(block, old_count, count)
#define STBI_FREE(block)                            arena_drop(block)
#define STBI_ASSERT(condition)                      ((void)((condition) || (hw_child_leave(), 0)))
#endif
#define STBI_NO_STDIO
#define STBI_NO_LINEAR
#define STBI_NO_HDR
#define STBI_ONLY_JPEG
#define STBI_ONLY_PNG
#define STBI_ONLY_BMP
#define STBI_ONLY_TGA
#define STBI_MAX_DIMENSIONS 65536 // the probe has tested the real limit
#define STB_IMAGE_STATIC
#define STB_IMAGE_IMPLEMENTATION
// Told at the end of the file, so it cannot be taken back by the pop below.
#pragma GCC diagnostic ignored "-Wunused-function"
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wall"
#pragma GCC diagnostic ignored "-Wextra"
#pragma GCC diagnostic ignored "-Wconversion"
#pragma GCC diagnostic ignored "-Wshadow"
#pragma GCC diagnostic ignored "-Wunused-parameter"
#pragma GCC diagnostic ignored "-Wunused-but-set-variable"
#pragma GCC diagnostic ignored "-Wsign-compare"
#pragma GCC diagnostic ignored "-Wmissing-field-initializers"
#include <stb_image.h>
#pragma GCC diagnostic pop
#include "base_internal.h" // here: it bans malloc, which headers of stb_image name

// What stb_image may need at most, in bytes a pixel.
//   JPEG      three planes, their coefficients (progressive, 16 bits each), the picture
//   PNG       inflated rows, twice where its first guess is too small, rows without filter, picture
//   BMP, TGA  four channels, the picture
// Beside these: a PNG's compressed data, in a block that doubles, and small change.
static size_t stb_bound(const hw_probe *probe, size_t count, const hw_limits *limits)
{
    (void)limits;
    size_t pixels = (probe->width + 64) * (probe->height + 64); // MCUs stand over; no overflow
    size_t each = probe->format == HW_FORMAT_JPEG  ? 3 + 6 + 3
                  : probe->format != HW_FORMAT_PNG ? 4 + 3
                  : probe->bits == 16              ? 16 + 8 + 6
                                                   : 8 + 4 + 4 + 3;
    size_t bound = pixels * each + 2 * count + ((size_t)1 << 20);
    return bound < HW_SHARED_MOST ? bound : HW_SHARED_MOST;
}

static void stb_decode(const uint8_t *bytes, size_t count, const hw_probe *probe, hw_shared *shared)
{
    int channels = 0, width = 0, height = 0;
    hw_found *found = &shared->found;
    child_memory = shared;
    void *picture =
        probe->bits == 16
            ? (void *)stbi_load_16_from_memory(bytes, (int)count, &width, &height, &channels, 3)
            : (void *)stbi_load_from_memory(bytes, (int)count, &width, &height, &channels, 3);
    if (!picture) {
        const char *reason = stbi_failure_reason();
        strncpy(found->reason, reason ? reason : "unknown", sizeof found->reason - 1);
        return;
    }
    found->outcome = HW_FOUND_PICTURE;
    found->picture = hw_shared_offset(shared, picture);
    found->width = (uint32_t)width;
    found->height = (uint32_t)height;
    found->bits = probe->bits;
}

const hw_decoder *hw_stb_decoder(void)
{
    static const hw_decoder decoder = {NULL, stb_decode, stb_bound, false};
    return &decoder;
}
