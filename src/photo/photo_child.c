// photo_child.c: the decoding, by stb_image, in a child process that can do nothing else (POSIX,
// Linux).
//
// stb_image was not written for hostile files. So it runs where a mistake of its costs one photo:
//  (1) All its memory comes from one mapping made before the fork, handed out from the bottom
//      up; the picture is left there for the parent, without a copy. Its size is a limit: a file
//      that swells past what its header says meets the end of it.
//  (2) Inherited files are closed, processor time, stack and all else that can be had are limited,
//      signals are as at the start of a program, and the kernel then lets the child exit, no more
//      (a seccomp filter; where that is refused the strict mode, which adds read and write). It
//      leaves by the plain exit call, the only one allowed.
//  (3) The parent believes nothing: it takes one copy of what the child left, which must lie inside
//      the mapping and have the size that the probe found, and texts are tested before they are
//      shown. It does not wait for ever.
// Where the kernel has no seccomp the child decodes all the same, and hw_photo_facts says so.
//
// Meanwhile the parent reads a JPEG through by photo_scan.c: stb_image takes damaged ones in silence.
#define _DEFAULT_SOURCE // MAP_ANONYMOUS, syscall
#include "photo_internal.h"

#include <errno.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <signal.h>
#include <stddef.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

// ---- The arena ---------------------------------------------------------------------

typedef struct arena {
    size_t size, used; // bytes, from the start of the mapping
    size_t last;       // where the newest block begins
    long left;         // blocks until it refuses (for tests); negative: never
    // Left by the child. No bool nor enum: these must hold whatever it writes.
    size_t result; // offset of the picture; 0: none
    int width, height;
    int sandboxed;
    int exhausted; // it asked for more than there is
    char failure[64];
} arena;

// In the child alone: the mapping that stb_image's calls take their memory from.
static arena *child_arena;

#define BLOCK ((size_t)64) // where blocks begin: multiples of it

// Refuses for tests as it does when there is no more: from some block on.
static bool arena_refuses(size_t start, size_t count)
{
    bool refused =
        child_arena->left == 0 || start > child_arena->size || count > child_arena->size - start;
    child_arena->left -= child_arena->left > 0;
    child_arena->exhausted = child_arena->exhausted || refused;
    return refused;
}

static void *arena_take(size_t count)
{
    size_t start = (child_arena->used + BLOCK - 1) / BLOCK * BLOCK;
    if (arena_refuses(start, count)) {
        return NULL;
    }
    child_arena->last = start;
    child_arena->used = start + count;
    return (char *)child_arena + start;
}

__attribute__((unused)) static void *arena_resize(void *block, size_t old_count, size_t count)
{
    if (block && (size_t)((char *)block - (char *)child_arena) == child_arena->last) {
        if (arena_refuses(child_arena->last, count)) {
            return NULL;
        }
        child_arena->used = child_arena->last + count; // the newest block grows where it lies
        return block;
    }
    void *moved = arena_take(count);
    if (moved && block) {
        memcpy(moved, block, old_count < count ? old_count : count);
    }
    return moved;
}

__attribute__((unused)) static void arena_drop(void *block)
{
    if (block && (size_t)((char *)block - (char *)child_arena) == child_arena->last) {
        child_arena->used = child_arena->last;
    }
}

#ifndef STBI_MALLOC // a fuzz target gives it blocks that the address sanitizer watches
#define STBI_MALLOC(count)                          arena_take(count)
#define STBI_REALLOC_SIZED(block, old_count, count) arena_resize(block, old_count, count)
#define STBI_FREE(block)                            arena_drop(block)
#define STBI_ASSERT(condition)                      ((void)((condition) || (syscall(SYS_exit, 1), 0)))
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

// More than this no photo may take, whatever its header says: with the file and the picture that is
// kept a computer of 2 GiB has room for it (chosen). All JPEG within the limits fit, and PNG of 120
// megapixels but those with 16 bits and transparency.
#define ARENA_MOST ((size_t)3 << 29)

// What stb_image may need at most, in bytes a pixel; pages that are not touched cost nothing.
//   JPEG      three planes, their coefficients (progressive, 16 bits each), the picture
//   PNG       inflated rows, twice where its first guess is too small, rows without filter, picture
//   BMP, TGA  four channels, the picture
// Beside these: a PNG's compressed data, in a block that doubles, and small change.
static size_t arena_bound(const hw_probe *probe, size_t count)
{
    size_t pixels = (probe->width + 64) * (probe->height + 64); // MCUs stand over; no overflow
    size_t each = probe->format == HW_FORMAT_JPEG  ? 3 + 6 + 3
                  : probe->format != HW_FORMAT_PNG ? 4 + 3
                  : probe->bits == 16              ? 16 + 8 + 6
                                                   : 8 + 4 + 4 + 3;
    size_t bound = pixels * each + 2 * count + ((size_t)1 << 20);
    return bound < ARENA_MOST ? bound : ARENA_MOST;
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

// Soft limit and one more: the first signal says what it was. What cannot be lowered stays as it is.
static void limit(int what, rlim_t most)
{
    struct rlimit now;
    if (getrlimit(what, &now) == 0) {
        rlim_t hard = what == RLIMIT_CPU ? most + 1 : most;
        now.rlim_max = hard < now.rlim_max ? hard : now.rlim_max;
        now.rlim_cur = most < now.rlim_max ? most : now.rlim_max;
        setrlimit(what, &now);
    }
}

#define STACK_MOST ((rlim_t)8 << 20)

static void limit_all(unsigned seconds)
{
    limit(RLIMIT_CPU, seconds);
    limit(RLIMIT_STACK, STACK_MOST); // where it was unlimited
    limit(RLIMIT_DATA, 0);           // the arena is all there is
    limit(RLIMIT_FSIZE, 0);
    limit(RLIMIT_NOFILE, 0);
    limit(RLIMIT_NPROC, 0);
    // No copy of someone's photo on the disk; a collector of crashes does not ask for the limit.
    limit(RLIMIT_CORE, 0);
    prctl(PR_SET_DUMPABLE, 0);
}

// A signal that the program ignores or waits for must end the child all the same.
static void plain_signals(void)
{
    static const int deadly[] = {SIGXCPU, SIGSEGV, SIGBUS, SIGILL, SIGFPE, SIGABRT, SIGSYS};
    sigset_t none;
    for (size_t i = 0; i < sizeof deadly / sizeof *deadly; i++) {
        signal(deadly[i], SIG_DFL);
    }
    sigemptyset(&none);
    sigprocmask(SIG_SETMASK, &none, NULL);
}

// The number of the exit call alone is let pass. The filter does not ask of which architecture a call
// is: what that number means on the others (umask on i386, ftruncate on 32-bit ARM) does no harm to
// a process without files. The strict mode cannot be had inside most containers, the filter can.
static bool confine(void)
{
    struct sock_filter steps[] = {
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, nr)),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, SYS_exit, 0, 1),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_KILL),
    };
    struct sock_fprog filter = {sizeof steps / sizeof *steps, steps};
    return (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0 &&
            prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &filter) == 0) ||
           prctl(PR_SET_SECCOMP, SECCOMP_MODE_STRICT) == 0;
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

// ---- For tests alone ---------------------------------------------------------------

static hw_child_test test_asked;
static long test_blocks = -1;

void hw_photo_child_test(hw_child_test what)
{
    test_asked = what;
}

void hw_photo_child_fail_block(long successes)
{
    test_blocks = successes;
}

static volatile int test_zero; // so that no compiler sees through what follows

static int recurse(int depth)
{
    volatile char waste[4096];
    waste[0] = (char)depth;
    return depth + 1 > test_zero ? recurse(depth + 1) + waste[0] : 0;
}

// What a hostile file might make of the child.
static void misbehave(arena *memory, const hw_probe *probe)
{
    switch (test_asked) {
    case HW_CHILD_OPEN_FILE:
        syscall(SYS_openat, -100, "/etc/hostname", 0);
        break;
    case HW_CHILD_LOOP:
        for (;;) {
            ((volatile arena *)memory)->used = memory->used;
        }
    case HW_CHILD_NULL_WRITE:
        *(volatile char *)(uintptr_t)test_zero = 1;
        break;
    case HW_CHILD_STACK:
        test_zero = recurse(test_zero);
        break;
    case HW_CHILD_TRAP:
        __builtin_trap();
    case HW_CHILD_LIES_SIZE:
        memset(memory, 255, sizeof *memory);
        memory->result = BLOCK * 4;
        memory->exhausted = 0;
        memory->width = (int)probe->width + 1;
        memory->height = (int)probe->height;
        syscall(SYS_exit, 0);
        break;
    case HW_CHILD_LIES_PLACE:
        memory->width = (int)probe->width;
        memory->height = (int)probe->height;
        memory->result = memory->size / BLOCK * BLOCK - BLOCK;
        syscall(SYS_exit, 0);
        break;
    case HW_CHILD_LIES_WORDS:
        memset(memory->failure, '\33', sizeof memory->failure);
        syscall(SYS_exit, 0);
        break;
    default:
        break;
    }
}

// ---- The child ---------------------------------------------------------------------

static void run_child(arena *memory, const uint8_t *bytes, size_t count, const hw_probe *probe,
                      unsigned seconds)
{
    child_arena = memory;
    close_inherited_files();
    plain_signals();
    if (test_asked == HW_CHILD_STOPPED || test_asked == HW_CHILD_KILLED) {
        kill(getpid(), test_asked == HW_CHILD_STOPPED ? SIGSTOP : SIGKILL);
    }
    limit_all(seconds);
    memory->sandboxed = test_asked != HW_CHILD_OPEN && confine();
    misbehave(memory, probe);
    decode(bytes, count, probe);
    syscall(SYS_exit, 0);
}

// ---- In the parent -----------------------------------------------------------------

typedef enum child_end {
    CHILD_ENDED,  // *how tells
    CHILD_UNSEEN, // its end was taken by someone else
    CHILD_LATE,   // it did not end, and was killed
} child_end;

// A child that was stopped uses no processor time, so none of its limits ends it. The time is counted in
// naps of our own: where the whole program was stopped and goes on, the child has its share again.
// Four times its processor time (chosen): other programs may be at work.
static child_end wait_for(pid_t child, unsigned seconds, int *how)
{
    const struct timespec nap = {0, 1000000};
    unsigned long naps = 4000ul * seconds;
    for (;;) {
        pid_t ended = waitpid(child, how, WNOHANG);
        if (ended == child) {
            return CHILD_ENDED;
        }
        // Where the program ignores SIGCHLD, or another part of it waits for any child.
        if (ended < 0 && errno != EINTR) {
            return CHILD_UNSEEN;
        }
        if (naps-- == 0) {
            kill(child, SIGKILL);
            while (waitpid(child, how, 0) < 0 && errno == EINTR) {
            }
            return CHILD_LATE;
        }
        nanosleep(&nap, NULL);
    }
}

static hw_status out_of_memory(const char *name, hw_error *err)
{
    return hw_fail(
        err, HW_ERR_STORAGE, "memory-out", name,
        "Close other programs, or use a smaller copy of the photo, and try again.",
        "decoding it takes more memory than there is, or than a photo of its size should");
}

// The plain words for each way in which the child can end without a picture.
static hw_status crashed(child_end end, int how, const char *name, unsigned seconds, hw_error *err)
{
    int by = end == CHILD_ENDED && WIFSIGNALED(how) ? WTERMSIG(how) : 0;
    if (end == CHILD_LATE || by == SIGXCPU) {
        return hw_fail(err, HW_ERR_INPUT, "photo-crashed", name,
                       "Copy it from the phone or camera again, or use a smaller copy.",
                       "reading it took more than %u %s and was stopped",
                       end == CHILD_LATE ? 4 * seconds : seconds,
                       seconds == 1 && end != CHILD_LATE ? "second" : "seconds");
    }
    if (by == SIGKILL) { // the kernel's own, when memory is out
        return out_of_memory(name, err);
    }
    return hw_fail(err, HW_ERR_INPUT, "photo-crashed", name,
                   "Copy it from the phone or camera again; do not use files from strangers.",
                   "the photo is so damaged that reading it failed; nothing else was touched");
}

static hw_status damaged(const char *name, hw_error *err, const char *format, ...) HW_PRINTF(3, 4);
static hw_status damaged(const char *name, hw_error *err, const char *format, ...)
{
    char what[200];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(what, sizeof what, format, arguments);
    va_end(arguments);
    return hw_fail(err, HW_ERR_INPUT, "photo-damaged", name,
                   "Copy it from the phone or camera again, or save it as an ordinary JPEG.", "%s",
                   what);
}

// How a JPEG's data end, read while the child decodes.
typedef struct scan_result {
    hw_scan_end end;
    size_t where; // how far they were read
    bool memory_out;
} scan_result;

static scan_result scan_data(const uint8_t *bytes, size_t count, const hw_probe *probe)
{
    scan_result found = {HW_SCAN_WHOLE, 0, false};
    if (probe->format == HW_FORMAT_JPEG) {
        size_t words = hw_photo_scan_room(probe);
        uint64_t *room = hw_alloc_array(words, sizeof *room);
        found.memory_out = !room;
        if (room) {
            found.end = hw_photo_scan(bytes, count, room, words, &found.where);
        }
        hw_free(room);
    }
    return found;
}

static hw_status test_scan(const scan_result *found, size_t count, const char *name, hw_error *err)
{
    if (found->end != HW_SCAN_SHORT && found->end != HW_SCAN_BROKEN) {
        return HW_OK;
    }
    return damaged(name, err,
                   "the photo is damaged: its picture %s after about %.0f %% of the file",
                   found->end == HW_SCAN_SHORT ? "ends too early," : "cannot be read on",
                   100.0 * (double)found->where / (double)count);
}

// What the child left, tested against what the probe found.
static hw_status test_result(const arena *left, const hw_probe *probe, const char *name,
                             hw_error *err)
{
    size_t bytes = probe->width * 3 * (probe->bits / 8) * probe->height;
    if (left->result == 0) {
        char reason[sizeof left->failure];
        memcpy(reason, left->failure, sizeof reason);
        reason[sizeof reason - 1] = 0;
        return damaged(name, err, "the photo could not be decoded (%s)",
                       hw_name_is_usable(reason) ? reason : "no reason given");
    }
    if (left->width != (int)probe->width || left->height != (int)probe->height ||
        left->result % BLOCK != 0 || left->result < sizeof *left || left->result > left->size ||
        bytes > left->size - left->result) {
        return crashed(CHILD_UNSEEN, 0, name, 0, err);
    }
    return HW_OK;
}

// Gives back all but the pages that hold the picture.
static void keep_result(arena *memory, const arena *left, size_t bytes, hw_pixels *out)
{
    size_t page = (size_t)sysconf(_SC_PAGESIZE);
    size_t size = left->size, result = left->result;
    out->sandboxed = left->sandboxed != 0;
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
    memory->left = test_blocks;
    pid_t child = test_asked == HW_CHILD_NO_FORK ? -1 : fork();
    if (child < 0) {
        munmap(memory, size);
        return hw_fail(err, HW_ERR_STORAGE, "process-out", name,
                       "Close other programs and try again.",
                       "the computer lets no process start that would decode it");
    }
    if (child == 0) {
        run_child(memory, bytes, count, probe, seconds);
    }
    scan_result found = scan_data(bytes, count, probe);
    int how = 0;
    child_end end = wait_for(child, seconds, &how);
    // One copy: nothing can change between a test and a use. The size is our own.
    arena left;
    memcpy(&left, memory, sizeof left);
    left.size = size;
    bool ended =
        end == CHILD_UNSEEN || (end == CHILD_ENDED && WIFEXITED(how) && WEXITSTATUS(how) == 0);
    hw_status status = test_scan(&found, count, name, err);
    if (status == HW_OK && found.memory_out) {
        status = hw_fail_memory(err, "reading the photo");
    } else if (status == HW_OK && !ended) {
        status = crashed(end, how, name, seconds, err);
    } else if (status == HW_OK) {
        status = left.exhausted ? out_of_memory(name, err) : test_result(&left, probe, name, err);
    }
    if (status != HW_OK) {
        munmap(memory, size);
        return status;
    }
    out->left_over = found.end == HW_SCAN_LEFT_OVER;
    keep_result(memory, &left, probe->width * 3 * (probe->bits / 8) * probe->height, out);
    return HW_OK;
}
