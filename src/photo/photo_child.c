// photo_child.c: a decoder at work in a child process that can do nothing else (POSIX, Linux).
//
// Decoders were not written for hostile files. So they run where a mistake costs one photo:
//  (1) The picture is left in one mapping made before the fork, for the parent, without a copy. Its size is
//      a limit.
//  (2) Inherited files are closed, processor time, stack and all else that can be had are limited,
//      signals are as at the start of a program, and the kernel then lets the child do no more than it
//      needs (a seccomp filter). For stb_image that is to exit (where the filter is refused the strict mode,
//      which adds read and write). A library takes memory and starts threads: it may have memory that
//      cannot be run, up to a limit, threads of its own, waiting and clocks. Files it asks for are
//      refused; anything else ends the child.
//  (3) The parent believes nothing: it takes one copy of what the child left, which is tested
//      (photo_found.c). It does not wait for ever.
// Where the kernel has no seccomp the child decodes all the same, and hw_photo_facts says so.
//
// Meanwhile the parent reads a JPEG through by photo_scan.c: stb_image takes damaged ones in silence.
#define _DEFAULT_SOURCE // MAP_ANONYMOUS, syscall
#include "base_internal.h"
#include "photo_internal.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/audit.h>
#include <linux/filter.h>
#include <linux/sched.h>
#include <linux/seccomp.h>
#include <signal.h>
#include <stddef.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

// ---- The shared memory -------------------------------------------------------------

#define BLOCK ((size_t)64) // where blocks begin: multiples of it

// Refuses for tests as it does when there is no more: from some block on.
void *hw_shared_take(hw_shared *shared, size_t count)
{
    size_t start = (shared->used + BLOCK - 1) / BLOCK * BLOCK;
    bool refused = shared->left == 0 || start > shared->size || count > shared->size - start;
    shared->left -= shared->left > 0;
    if (refused) {
        shared->exhausted = 1;
        return NULL;
    }
    shared->last = start;
    shared->used = start + count;
    return (char *)shared + start;
}

uint64_t hw_shared_offset(const hw_shared *shared, const void *block)
{
    return (uint64_t)((const char *)block - (const char *)shared);
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

// What a library may take beside the shared memory (chosen: 48 megapixels in HEIC, 100 in a raw file, and
// room on a computer of 2 GiB).
#define LIBRARY_MOST ((rlim_t)1 << 30)

// Memory that the process has already, in bytes, as RLIMIT_DATA counts it; 0 where it cannot be read.
static rlim_t memory_in_use(void)
{
    char text[200] = "";
    int file = open("/proc/self/statm", O_RDONLY | O_CLOEXEC);
    ssize_t length = file >= 0 ? read(file, text, sizeof text - 1) : 0;
    if (file >= 0) {
        close(file);
    }
    const char *at = text;
    for (int field = 0; length > 0 && field < 5 && at;
         field++) { // the sixth: data and stack, in pages
        at = strchr(at, ' ');
        at = at ? at + 1 : NULL;
    }
    rlim_t page = (rlim_t)sysconf(_SC_PAGESIZE);
    return length > 0 && at ? (rlim_t)strtoull(at, NULL, 10) * page : 0;
}

static void limit_all(unsigned seconds, bool is_library)
{
    limit(RLIMIT_CPU, seconds);
    limit(RLIMIT_STACK, STACK_MOST); // where it was unlimited
    // The shared memory is all there is, or that and as much more.
    limit(RLIMIT_DATA, is_library ? memory_in_use() + LIBRARY_MOST : 0);
    limit(RLIMIT_FSIZE, 0);
    limit(RLIMIT_NOFILE, 0);
    if (!is_library) { // threads count as processes; the filter tells them apart
        limit(RLIMIT_NPROC, 0);
    }
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

// ---- Confinement -------------------------------------------------------------------

static bool set_filter(struct sock_filter *steps, size_t count)
{
    struct sock_fprog filter = {(unsigned short)count, steps};
    return prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0 &&
           prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &filter) == 0;
}

#define LOAD(member)         BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, member))
#define IF_NOT(value, steps) BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, value, 0, steps)
#define ANSWER(what)         BPF_STMT(BPF_RET | BPF_K, what)
#define COUNT_OF(list)       (sizeof(list) / sizeof *(list))

// The number of the exit call alone is let pass. The filter does not ask of which architecture a call
// is: what that number means on the others (umask on i386, ftruncate on 32-bit ARM) does no harm to
// a process without files. The strict mode cannot be had inside most containers, the filter can.
static bool confine_to_exit(void)
{
    struct sock_filter steps[] = {
        LOAD(nr),
        IF_NOT(SYS_exit, 1),
        ANSWER(SECCOMP_RET_ALLOW),
        ANSWER(SECCOMP_RET_KILL),
    };
    return set_filter(steps, COUNT_OF(steps)) || prctl(PR_SET_SECCOMP, SECCOMP_MODE_STRICT) == 0;
}

// Numbers of calls mean other things on other architectures, so a filter that lets many pass must know.
#if defined(__x86_64__)
#define OUR_ARCHITECTURE AUDIT_ARCH_X86_64
#elif defined(__aarch64__) && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
#define OUR_ARCHITECTURE AUDIT_ARCH_AARCH64
#elif defined(__riscv) && __riscv_xlen == 64
#define OUR_ARCHITECTURE AUDIT_ARCH_RISCV64
#endif

#ifdef OUR_ARCHITECTURE
// The lower half of an argument: where flags are.
#if __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
#define ARGUMENT(n) (offsetof(struct seccomp_data, args) + 8 * (n))
#else
#define ARGUMENT(n) (offsetof(struct seccomp_data, args) + 8 * (n) + 4)
#endif

// Calls that a library's memory, threads, waiting and end need and that reach nothing else.
static const int library_calls[] = {
    SYS_munmap,         SYS_mremap,          SYS_brk,
    SYS_madvise,        SYS_futex,           SYS_exit,
    SYS_exit_group,     SYS_set_robust_list, SYS_rt_sigreturn,
    SYS_rt_sigprocmask, SYS_rt_sigaction,    SYS_sigaltstack,
    SYS_sched_yield,    SYS_getpid,          SYS_gettid,
    SYS_clock_gettime,  SYS_clock_nanosleep, SYS_gettimeofday,
    SYS_nanosleep,      SYS_getrandom,       SYS_sched_getaffinity,
#ifdef SYS_rseq
    SYS_rseq,
#endif
};

// Calls for files and names that libraries make by the way (time zones, messages, what a thread is called):
// they are told no. clone3 hides its flags in memory that a filter cannot read; without it the C library uses
// clone.
static const struct {
    int number, error;
} refused_calls[] = {
    {SYS_openat, EACCES}, {SYS_newfstatat, EACCES}, {SYS_fstat, EBADF},   {SYS_readlinkat, EACCES},
    {SYS_read, EBADF},    {SYS_write, EBADF},       {SYS_writev, EBADF},  {SYS_lseek, EBADF},
    {SYS_close, EBADF},   {SYS_ioctl, EBADF},       {SYS_prctl, EPERM},
#ifdef SYS_open
    {SYS_open, EACCES},   {SYS_stat, EACCES},       {SYS_access, EACCES}, {SYS_readlink, EACCES},
#endif
#ifdef SYS_statx
    {SYS_statx, EACCES},
#endif
#ifdef SYS_clone3
    {SYS_clone3, ENOSYS},
#endif
};

#define THREAD_FLAGS (CLONE_VM | CLONE_SIGHAND | CLONE_THREAD)
#define FILTER_ROOM  (32 + 2 * (COUNT_OF(library_calls) + COUNT_OF(refused_calls)))

// For the call `number`: allowed when the argument, of which `mask` counts, is `value`; else the child ends.
// (A thread's filter ends the process: its other threads would wait for it for ever.)
static size_t add_test(struct sock_filter *steps, size_t at, int number, unsigned argument,
                       uint32_t mask, uint32_t value)
{
    const struct sock_filter test[] = {
        IF_NOT((uint32_t)number, 5),
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, (uint32_t)ARGUMENT(argument)),
        BPF_STMT(BPF_ALU | BPF_AND | BPF_K, mask),
        IF_NOT(value, 1),
        ANSWER(SECCOMP_RET_ALLOW),
        ANSWER(SECCOMP_RET_KILL_PROCESS),
    };
    memcpy(steps + at, test, sizeof test);
    return at + COUNT_OF(test);
}

static bool confine_library(void)
{
    struct sock_filter steps[FILTER_ROOM] = {
        LOAD(arch),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, OUR_ARCHITECTURE, 1, 0),
        ANSWER(SECCOMP_RET_KILL_PROCESS),
        LOAD(nr),
    };
    size_t count = 4;
    for (size_t i = 0; i < COUNT_OF(library_calls); i++) {
        steps[count++] = (struct sock_filter)IF_NOT((uint32_t)library_calls[i], 1);
        steps[count++] = (struct sock_filter)ANSWER(SECCOMP_RET_ALLOW);
    }
    for (size_t i = 0; i < COUNT_OF(refused_calls); i++) {
        steps[count++] = (struct sock_filter)IF_NOT((uint32_t)refused_calls[i].number, 1);
        steps[count++] = (struct sock_filter)ANSWER(
            SECCOMP_RET_ERRNO | ((uint32_t)refused_calls[i].error & SECCOMP_RET_DATA));
    }
    // Memory of no file that cannot be run; threads of this process.
    count = add_test(steps, count, SYS_mprotect, 2, PROT_EXEC, 0);
    count = add_test(steps, count, SYS_clone, 0, THREAD_FLAGS, THREAD_FLAGS);
    const struct sock_filter map[] = {
        IF_NOT(SYS_mmap, 6),
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, (uint32_t)ARGUMENT(2)),
        BPF_JUMP(BPF_JMP | BPF_JSET | BPF_K, PROT_EXEC, 3, 0),
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, (uint32_t)ARGUMENT(3)),
        BPF_JUMP(BPF_JMP | BPF_JSET | BPF_K, MAP_ANONYMOUS, 0, 1),
        ANSWER(SECCOMP_RET_ALLOW),
        ANSWER(SECCOMP_RET_KILL_PROCESS),
        ANSWER(SECCOMP_RET_KILL_PROCESS), // whatever else is called
    };
    memcpy(steps + count, map, sizeof map);
    return set_filter(steps, count + COUNT_OF(map));
}
#else
static bool confine_library(void)
{
    return false;
}
#endif

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

// What must end the child, or be refused.
static void reach_out(void)
{
    switch (test_asked) {
    case HW_CHILD_OPEN_FILE:
        if (syscall(SYS_openat, AT_FDCWD, "/etc/hostname", O_RDONLY) >= 0) {
            __builtin_trap();
        }
        break;
    case HW_CHILD_SOCKET:
        syscall(SYS_socket, AF_INET, SOCK_STREAM, 0);
        break;
    case HW_CHILD_FORK:
        syscall(SYS_clone, SIGCHLD, 0, 0, 0, 0);
        break;
    case HW_CHILD_RUN_MEMORY:
        syscall(SYS_mmap, 0, 4096, PROT_READ | PROT_EXEC, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
        break;
    case HW_CHILD_TAKE_MEMORY:
        for (size_t taken = 0; taken < 4 * (size_t)LIBRARY_MOST; taken += (size_t)1 << 24) {
            if (mmap(NULL, (size_t)1 << 24, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1,
                     0) == MAP_FAILED) {
                __builtin_trap();
            }
        }
        break;
    default:
        break;
    }
}

// What a hostile file might make the child leave.
static void lie(hw_shared *shared, const hw_probe *probe)
{
    hw_found *found = &shared->found;
    found->outcome = HW_FOUND_PICTURE;
    found->width = (uint32_t)probe->width;
    found->height = (uint32_t)probe->height;
    found->bits = 8;
    switch (test_asked) {
    case HW_CHILD_LIES_SIZE:
        memset(shared, 255, sizeof *shared);
        found->outcome = HW_FOUND_PICTURE;
        found->picture = (sizeof *shared + BLOCK) / BLOCK * BLOCK;
        shared->exhausted = 0;
        found->width = (uint32_t)probe->width + 1;
        found->height = (uint32_t)probe->height;
        found->bits = 8;
        break;
    case HW_CHILD_LIES_PLACE:
        found->width = found->width ? found->width : 1000;
        found->height = found->height ? found->height : 1000;
        found->picture = shared->size / BLOCK * BLOCK - BLOCK;
        break;
    case HW_CHILD_LIES_PARTS:
        found->width = found->width ? found->width : 8;
        found->height = found->height ? found->height : 8;
        found->picture = (sizeof *shared + BLOCK) / BLOCK * BLOCK;
        found->profile = shared->size - 100;
        found->profile_count = 200;
        found->exif = UINT64_MAX - 100;
        found->exif_count = 200;
        break;
    default: // HW_CHILD_LIES_WORDS
        found->outcome = HW_FOUND_NOTHING;
        memset(found->reason, '\33', sizeof found->reason);
    }
}

static void misbehave(hw_shared *shared, const hw_probe *probe)
{
    reach_out();
    switch (test_asked) {
    case HW_CHILD_LOOP:
        for (;;) {
            ((volatile hw_shared *)shared)->used = shared->used;
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
    case HW_CHILD_LIES_PLACE:
    case HW_CHILD_LIES_PARTS:
    case HW_CHILD_LIES_WORDS:
        lie(shared, probe);
        syscall(SYS_exit, 0);
        break;
    default:
        break;
    }
}

// ---- The child ---------------------------------------------------------------------

void hw_child_leave(void)
{
    syscall(SYS_exit, 1);
}

static void run_child(hw_shared *shared, const uint8_t *bytes, size_t count, const hw_probe *probe,
                      const hw_decoder *decoder, unsigned seconds)
{
    close_inherited_files();
    plain_signals();
    if (decoder->prepare) {
        decoder->prepare();
    }
    if (test_asked == HW_CHILD_STOPPED || test_asked == HW_CHILD_KILLED) {
        kill(getpid(), test_asked == HW_CHILD_STOPPED ? SIGSTOP : SIGKILL);
    }
    limit_all(seconds, decoder->is_library);
    shared->sandboxed = test_asked != HW_CHILD_OPEN &&
                        (decoder->is_library ? confine_library() : confine_to_exit());
    misbehave(shared, probe);
    decoder->decode(bytes, count, probe, shared);
    if (shared->exhausted) {
        shared->found.outcome = HW_FOUND_MEMORY;
    }
    syscall(decoder->is_library ? SYS_exit_group : SYS_exit, 0);
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

// The plain words for each way in which the child can end without having said what it found.
static hw_status crashed(child_end end, int how, const char *name, unsigned seconds, hw_error *err)
{
    int by = end == CHILD_ENDED && WIFSIGNALED(how) ? WTERMSIG(how) : 0;
    if (end == CHILD_LATE || by == SIGXCPU) {
        return hw_photo_fail_crash(end == CHILD_LATE ? 4 * seconds : seconds, name, err);
    }
    if (by == SIGKILL) { // the kernel's own, when memory is out
        return hw_photo_fail_memory(name, err);
    }
    return hw_photo_fail_crash(0, name, err);
}

static hw_scan_result scan_data(const uint8_t *bytes, size_t count, const hw_probe *probe)
{
    hw_scan_result found = {HW_SCAN_WHOLE, 0, false};
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

static hw_status test_scan(const hw_scan_result *found, size_t count, const char *name,
                           hw_error *err)
{
    if (found->end != HW_SCAN_SHORT && found->end != HW_SCAN_BROKEN) {
        return HW_OK;
    }
    return hw_photo_fail_damaged(
        name, err, "the photo is damaged: its picture %s after about %.0f %% of the file",
        found->end == HW_SCAN_SHORT ? "ends too early," : "cannot be read on",
        100.0 * (double)found->where / (double)count);
}

// Gives back all but the pages that hold the picture and, before it, the parts that came with it.
static void keep_result(hw_shared *shared, size_t size, hw_pixels *out)
{
    const hw_found *found = &out->found;
    size_t page = (size_t)sysconf(_SC_PAGESIZE);
    size_t first = (size_t)found->picture, behind = first + hw_found_picture_bytes(found);
    if (found->profile_count > 0 || found->exif_count > 0) {
        first = 0;
    }
    size_t start = first / page * page, end = (behind + page - 1) / page * page;
    char *base = (char *)shared;
    out->codes = base + found->picture;
    out->profile = hw_found_part(shared, found->profile, found->profile_count);
    out->exif = hw_found_part(shared, found->exif, found->exif_count);
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

static hw_shared *map_shared(size_t size, const hw_limits *limits)
{
    hw_shared *shared =
        mmap(NULL, size, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS | MAP_NORESERVE, -1, 0);
    if (shared == MAP_FAILED) {
        return NULL;
    }
    shared->size = size;
    shared->used = sizeof *shared;
    shared->left = test_blocks;
    shared->side_most = limits->side_px;
    shared->pixel_most = limits->pixels;
    return shared;
}

static const hw_decoder *decoder_of(const hw_probe *probe)
{
    return probe->format >= HW_FORMAT_RAW    ? hw_raw_decoder()
           : probe->format >= HW_FORMAT_HEIC ? hw_heif_decoder()
                                             : hw_stb_decoder();
}

hw_status hw_photo_decode_confined(const uint8_t *bytes, size_t count, const hw_probe *probe,
                                   const char *name, const hw_limits *limits, hw_pixels *out,
                                   hw_error *err)
{
    const hw_decoder *decoder = decoder_of(probe);
    unsigned seconds = limits->decode_seconds;
    size_t page = (size_t)sysconf(_SC_PAGESIZE);
    size_t size = test_asked == HW_CHILD_SMALL ? page : decoder->bound(probe, count, limits);
    size = (size + page - 1) / page * page;
    hw_shared *shared = map_shared(size, limits);
    if (!shared) {
        return hw_fail_memory(err, "decoding the photo");
    }
    pid_t child = test_asked == HW_CHILD_NO_FORK ? -1 : fork();
    if (child < 0) {
        munmap(shared, size);
        return hw_fail(err, HW_ERR_STORAGE, "process-out", name,
                       "Close other programs and try again.",
                       "the computer lets no process start that would decode it");
    }
    if (child == 0) {
        run_child(shared, bytes, count, probe, decoder, seconds);
    }
    hw_scan_result scan = scan_data(bytes, count, probe);
    int how = 0;
    child_end end = wait_for(child, seconds, &how);
    // One copy: nothing can change between a test and a use. The size is our own.
    hw_pixels left = {.found = shared->found, .sandboxed = shared->sandboxed != 0};
    bool ended =
        end == CHILD_UNSEEN || (end == CHILD_ENDED && WIFEXITED(how) && WEXITSTATUS(how) == 0);
    hw_status status = test_scan(&scan, count, name, err);
    if (status == HW_OK && scan.memory_out) {
        status = hw_fail_memory(err, "reading the photo");
    } else if (status == HW_OK && !ended) {
        status = crashed(end, how, name, seconds, err);
    } else if (status == HW_OK) {
        status = hw_found_test(&left.found, size, probe, limits, name, err);
    }
    if (status != HW_OK) {
        munmap(shared, size);
        return status;
    }
    left.left_over = scan.end == HW_SCAN_LEFT_OVER;
    keep_result(shared, size, &left);
    *out = left;
    return HW_OK;
}
