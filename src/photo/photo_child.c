// photo_child.c: the decoding, by stb_image, in a child process that can do nothing else (POSIX,
// Linux).
//
// stb_image was not written for hostile files. So it runs where a mistake of its costs one photo:
//  (1) All its memory comes from one mapping made before the fork, handed out from the bottom
//      up; the picture is left there for the parent, without a copy.
//  (2) Inherited files are closed, processor time is limited, and the kernel then lets the child
//      read, write and exit, no more (seccomp strict). It leaves by the plain exit call, the only
//      one allowed.
//  (3) The parent believes nothing: what the child left must lie inside the mapping and have the
//      size that the probe found.
// Where the kernel has no seccomp the child decodes all the same, and hw_photo_facts says so.
#define _DEFAULT_SOURCE // MAP_ANONYMOUS, syscall
#include "photo_internal.h"

#include <errno.h>
#include <linux/seccomp.h>
#include <signal.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

// ---- The arena ---------------------------------------------------------------------

typedef struct arena {
    size_t size, used; // bytes, from the start of the mapping
    size_t last;       // where the newest block begins
    // Left by the child:
    size_t result; // offset of the picture; 0: none
    int width, height;
    bool sandboxed;
    bool exhausted; // it asked for more than there is
    char failure[64];
} arena;

// In the child alone: the mapping that stb_image's calls take their memory from.
static arena *child_arena;

static void *arena_take(size_t count)
{
    size_t start = (child_arena->used + 63) / 64 * 64;
    if (start > child_arena->size || count > child_arena->size - start) {
        child_arena->exhausted = true;
        return NULL;
    }
    child_arena->last = start;
    child_arena->used = start + count;
    return (char *)child_arena + start;
}

static void *arena_resize(void *block, size_t old_count, size_t count)
{
    if (block && (size_t)((char *)block - (char *)child_arena) == child_arena->last &&
        count <= child_arena->size - child_arena->last) {
        child_arena->used = child_arena->last + count; // the newest block grows where it lies
        return block;
    }
    void *moved = arena_take(count);
    if (moved && block) {
        memcpy(moved, block, old_count < count ? old_count : count);
    }
    return moved;
}

static void arena_drop(void *block)
{
    if (block && (size_t)((char *)block - (char *)child_arena) == child_arena->last) {
        child_arena->used = child_arena->last;
    }
}

#define STBI_MALLOC(count)                          arena_take(count)
#define STBI_REALLOC_SIZED(block, old_count, count) arena_resize(block, old_count, count)
#define STBI_FREE(block)                            arena_drop(block)
#define STBI_ASSERT(condition)                      ((void)((condition) || (syscall(SYS_exit, 1), 0)))
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

// What stb_image may need at most: planes (and coefficients) of a JPEG, the inflated and the
// unfiltered rows of a PNG, conversions, and the picture. Pages that are not touched cost nothing.
static size_t arena_bound(const hw_probe *probe, size_t count)
{
    size_t pixels = (probe->width + 64) * (probe->height + 64); // limits keep this small
    return pixels * (probe->format == HW_FORMAT_PNG ? 48 : 24) + 8 * count + ((size_t)1 << 20);
}

// ---- In the child ------------------------------------------------------------------

static void close_inherited_files(void)
{
#ifdef SYS_close_range
    if (syscall(SYS_close_range, 0u, ~0u, 0u) == 0) {
        return;
    }
#endif
    long most = sysconf(_SC_OPEN_MAX);
    for (long file = 0; file < (most > 0 && most < 65536 ? most : 65536); file++) {
        close((int)file);
    }
}

static void limit_time(unsigned seconds)
{
    struct rlimit limit = {seconds, seconds + 1};
    setrlimit(RLIMIT_CPU, &limit);
    struct rlimit none = {0, 0};
    setrlimit(RLIMIT_CORE, &none); // no copy of someone's photo on the disk
}

static void decode(const uint8_t *bytes, size_t count, const hw_probe *probe)
{
    int channels = 0;
    void *picture = probe->bits == 16
                        ? (void *)stbi_load_16_from_memory(bytes, (int)count, &child_arena->width,
                                                           &child_arena->height, &channels, 3)
                        : (void *)stbi_load_from_memory(bytes, (int)count, &child_arena->width,
                                                        &child_arena->height, &channels, 3);
    if (picture) {
        child_arena->result = (size_t)((char *)picture - (char *)child_arena);
        return;
    }
    const char *reason = stbi_failure_reason();
    strncpy(child_arena->failure, reason ? reason : "unknown", sizeof child_arena->failure - 1);
}

static hw_child_test test_asked; // for tests alone

void hw_photo_child_test(hw_child_test what)
{
    test_asked = what;
}

static void run_child(arena *memory, const uint8_t *bytes, size_t count, const hw_probe *probe,
                      unsigned seconds)
{
    child_arena = memory;
    close_inherited_files();
    limit_time(seconds);
    memory->sandboxed = prctl(PR_SET_SECCOMP, SECCOMP_MODE_STRICT) == 0;
    if (test_asked == HW_CHILD_OPEN_FILE) {
        syscall(SYS_openat, -100, "/etc/hostname", 0);
    }
    while (test_asked == HW_CHILD_LOOP) {
        ((volatile arena *)memory)->used = memory->used;
    }
    decode(bytes, count, probe);
    syscall(SYS_exit, 0);
}

// ---- In the parent -----------------------------------------------------------------

static hw_status crashed(int how, const char *name, unsigned seconds, hw_error *err)
{
    if (WIFSIGNALED(how) && (WTERMSIG(how) == SIGXCPU)) {
        return hw_fail(err, HW_ERR_INPUT, "photo-crashed", name,
                       "Copy it from the phone or camera again, or use a smaller copy.",
                       "reading it took more than %u seconds and was stopped", seconds);
    }
    return hw_fail(err, HW_ERR_INPUT, "photo-crashed", name,
                   "Copy it from the phone or camera again; do not use files from strangers.",
                   "the photo is so damaged that reading it failed; nothing else was touched");
}

// What the child left, tested against what the probe found.
static hw_status take_result(const arena *memory, const hw_probe *probe, const char *name,
                             hw_error *err)
{
    size_t row = probe->width * 3 * (probe->bits / 8), bytes = row * probe->height;
    size_t result = memory->result;
    if (result == 0) {
        char reason[sizeof memory->failure];
        memcpy(reason, memory->failure, sizeof reason);
        reason[sizeof reason - 1] = 0;
        return hw_fail(err, HW_ERR_INPUT, "photo-damaged", name,
                       "Copy it from the phone or camera again, or save it as an ordinary JPEG.",
                       "the photo could not be decoded (%s)", reason);
    }
    if (memory->width != (int)probe->width || memory->height != (int)probe->height ||
        result < sizeof *memory || result > memory->size || bytes > memory->size - result) {
        return crashed(0, name, 0, err);
    }
    return HW_OK;
}

// Gives back all but the pages that hold the picture.
static void keep_result(arena *memory, size_t bytes, hw_pixels *out)
{
    size_t page = (size_t)sysconf(_SC_PAGESIZE);
    size_t size = memory->size, result = memory->result;
    out->sandboxed = memory->sandboxed;
    size_t start = result / page * page, end = (result + bytes + page - 1) / page * page;
    char *base = (char *)memory;
    out->codes = base + result;
    out->map = base + start;
    out->map_size = (end < size ? end : size) - start;
    if (end < size) {
        munmap(base + end, size - end);
    }
    if (start > 0) {
        munmap(base, start);
    }
}

void hw_pixels_free(hw_pixels *pixels)
{
    if (pixels && pixels->map) {
        munmap(pixels->map, pixels->map_size);
        *pixels = (hw_pixels){0};
    }
}

hw_status hw_photo_decode_confined(const uint8_t *bytes, size_t count, const hw_probe *probe,
                                   const char *name, unsigned seconds, hw_pixels *out,
                                   hw_error *err)
{
    size_t page = (size_t)sysconf(_SC_PAGESIZE);
    size_t size = test_asked == HW_CHILD_SMALL ? page : arena_bound(probe, count);
    size = (size + page - 1) / page * page;
    arena *memory =
        mmap(NULL, size, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS | MAP_NORESERVE, -1, 0);
    if (memory == MAP_FAILED) {
        return hw_fail_memory(err, "decoding the photo");
    }
    memory->size = size;
    memory->used = sizeof *memory;
    pid_t child = fork();
    if (child < 0) {
        munmap(memory, size);
        return hw_fail_memory(err, "decoding the photo");
    }
    if (child == 0) {
        run_child(memory, bytes, count, probe, seconds);
    }
    int how = 0;
    while (waitpid(child, &how, 0) < 0 && errno == EINTR) {
    }
    memory->size = size; // the child may have written anything
    bool ended = WIFEXITED(how) && WEXITSTATUS(how) == 0;
    if (memory->exhausted && !(ended && memory->result)) {
        munmap(memory, size);
        return hw_fail(err, HW_ERR_STORAGE, "memory-out", name, "Use a smaller copy of the photo.",
                       "decoding it takes more memory than a photo of its size should");
    }
    hw_status status =
        ended ? take_result(memory, probe, name, err) : crashed(how, name, seconds, err);
    if (status != HW_OK) {
        munmap(memory, size);
        return status;
    }
    keep_result(memory, probe->width * 3 * (probe->bits / 8) * probe->height, out);
    return HW_OK;
}
