// The decoding child: each way in which it can end is one refused photo with plain words, and the next
// photo is read as ever. Nothing that it leaves behind is believed.
#include "base_internal.h"
#include "check.h"
#include "photo_internal.h"
#include "picture.h"

#include <signal.h>

static hw_photo *load(const char *name, unsigned seconds, hw_error *err)
{
    char path[600];
    hw_photo *photo = NULL;
    hw_limits limits = hw_limits_default();
    limits.decode_seconds = seconds;
    *err = (hw_error){0};
    snprintf(path, sizeof path, "%s/%s", HW_TESTDATA, name);
    hw_status status = hw_photo_load(path, &limits, &photo, err);
    check_true((status == HW_OK) == (photo != NULL));
    return photo;
}

// All codes; free with free().
static uint16_t *codes_of(const hw_photo *photo, size_t *count)
{
    size_t width = hw_photo_facts_of(photo)->width_px, height = hw_photo_facts_of(photo)->height_px;
    uint16_t *codes = calloc(3 * width * height, sizeof *codes);
    for (size_t y = 0; y < height; y++) {
        hw_photo_codes(photo, 0, y, width, codes + 3 * width * y);
    }
    *count = 3 * width * height;
    return codes;
}

static void check_same(const hw_photo *photo, const uint16_t *codes, size_t count)
{
    size_t mine = 0;
    uint16_t *own = codes_of(photo, &mine);
    check_true(mine == count && memcmp(own, codes, count * sizeof *codes) == 0);
    free(own);
}

static const char usual[] = "photo/baseline.jpg";

static void goes_on(void)
{
    hw_error err;
    hw_photo_child_test(HW_CHILD_DECODE);
    hw_photo *photo = load(usual, 60, &err);
    check_true(photo && hw_photo_facts_of(photo)->sandboxed);
    hw_photo_free(photo);
}

static void test_ends(void)
{
    static const struct {
        hw_child_test what;
        hw_status status;
        const char *code, *words;
    } ends[] = {
        {HW_CHILD_OPEN_FILE, HW_ERR_INPUT, "photo-crashed", "nothing else was touched"},
        {HW_CHILD_SOCKET, HW_ERR_INPUT, "photo-crashed", "nothing else was touched"},
        {HW_CHILD_FORK, HW_ERR_INPUT, "photo-crashed", "nothing else was touched"},
        {HW_CHILD_RUN_MEMORY, HW_ERR_INPUT, "photo-crashed", "nothing else was touched"},
        {HW_CHILD_TAKE_MEMORY, HW_ERR_INPUT, "photo-crashed", "nothing else was touched"},
        {HW_CHILD_LOOP, HW_ERR_INPUT, "photo-crashed", "more than 1 second and"},
        {HW_CHILD_SMALL, HW_ERR_STORAGE, "memory-out", "more memory"},
        {HW_CHILD_NULL_WRITE, HW_ERR_INPUT, "photo-crashed", "so damaged"},
        {HW_CHILD_STACK, HW_ERR_INPUT, "photo-crashed", "so damaged"},
        {HW_CHILD_TRAP, HW_ERR_INPUT, "photo-crashed", "so damaged"},
        {HW_CHILD_STOPPED, HW_ERR_INPUT, "photo-crashed", "more than 4 seconds and"},
        {HW_CHILD_KILLED, HW_ERR_STORAGE, "memory-out", "more memory"},
        {HW_CHILD_LIES_SIZE, HW_ERR_INPUT, "photo-crashed", "so damaged"},
        {HW_CHILD_LIES_PLACE, HW_ERR_INPUT, "photo-crashed", "so damaged"},
        {HW_CHILD_LIES_PARTS, HW_ERR_INPUT, "photo-crashed", "so damaged"},
        {HW_CHILD_LIES_WORDS, HW_ERR_INPUT, "photo-damaged", "no reason given"},
        {HW_CHILD_NO_FORK, HW_ERR_STORAGE, "process-out", "no process"},
    };
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        hw_error err;
        hw_photo_child_test(ends[i].what);
        hw_photo *photo = load(usual, 1, &err);
        check_true(!photo && err.status == ends[i].status);
        check_text(err.code, ends[i].code);
        check_holds(err.what, ends[i].words);
        check_true(err.next[0] && !strchr(err.what, 27));
        hw_photo_free(photo);
        goes_on();
    }
    // Without seccomp it decodes all the same, and says so.
    hw_error err;
    hw_photo_child_test(HW_CHILD_OPEN);
    hw_photo *photo = load(usual, 60, &err);
    check_true(photo && !hw_photo_facts_of(photo)->sandboxed);
    hw_photo_free(photo);
    hw_photo_child_test(HW_CHILD_DECODE);
}

// A library's child: memory, threads and clocks are there; files are refused, and all else ends it.
__attribute__((unused)) static void test_library_ends(const char *name)
{
    static const struct {
        hw_child_test what;
        const char *code; // NULL: it decodes
    } ends[] = {
        {HW_CHILD_DECODE, NULL},
        {HW_CHILD_OPEN_FILE, NULL}, // where it were opened the child would end
        {HW_CHILD_OPEN, NULL},
        {HW_CHILD_SOCKET, "photo-crashed"},
        {HW_CHILD_FORK, "photo-crashed"},
        {HW_CHILD_RUN_MEMORY, "photo-crashed"},
        {HW_CHILD_TAKE_MEMORY, "photo-crashed"},
        {HW_CHILD_LOOP, "photo-crashed"},
        {HW_CHILD_SMALL, "memory-out"},
        {HW_CHILD_NULL_WRITE, "photo-crashed"},
        {HW_CHILD_TRAP, "photo-crashed"},
        {HW_CHILD_KILLED, "memory-out"},
        {HW_CHILD_LIES_SIZE, "photo-crashed"},
        {HW_CHILD_LIES_PLACE, "photo-crashed"},
        {HW_CHILD_LIES_PARTS, "photo-crashed"},
        {HW_CHILD_LIES_WORDS, "photo-damaged"},
        {HW_CHILD_NO_FORK, "process-out"},
    };
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        hw_error err;
        hw_photo_child_test(ends[i].what);
        hw_photo *photo = load(name, ends[i].what == HW_CHILD_LOOP ? 1 : 60, &err);
        check_true((photo != NULL) == (ends[i].code == NULL));
        if (ends[i].code) {
            check_text(err.code, ends[i].code);
            check_true(err.next[0] && !strchr(err.what, 27));
        } else if (photo) {
            check_true(hw_photo_facts_of(photo)->sandboxed == (ends[i].what != HW_CHILD_OPEN));
        }
        hw_photo_free(photo);
    }
    hw_photo_child_test(HW_CHILD_DECODE);
    goes_on();
}

// The same file, and the shared memory gives n blocks and no more: refused until there are enough.
__attribute__((unused)) static void test_library_blocks(const char *name)
{
    hw_error err;
    hw_photo *photo = NULL;
    long n = 0;
    for (; n < 10 && !photo; n++) {
        hw_photo_child_fail_block(n);
        photo = load(name, 60, &err);
        check_true(photo || strcmp(err.code, "memory-out") == 0);
    }
    hw_photo_child_fail_block(-1);
    check_true(photo && n > 1);
    hw_photo_free(photo);
}

static void test_libraries(void)
{
#ifdef HW_HEIF
    test_library_ends("photo/quarters.heic");
    test_library_blocks("photo/quarters.heic");
#endif
#ifdef HW_RAW
    test_library_ends("photo/mosaic.dng");
    test_library_blocks("photo/mosaic.dng");
#endif
}

// What the program itself does with signals changes nothing.
static void test_signals(void)
{
    hw_error err;
    struct sigaction was_child, was_time, ignore = {.sa_handler = SIG_IGN};
    sigset_t blocked, was;
    sigaction(SIGCHLD, &ignore, &was_child); // the kernel tells nobody how a child ended
    goes_on();
    hw_photo_child_test(HW_CHILD_NULL_WRITE);
    hw_photo *photo = load(usual, 1, &err);
    check_true(!photo && err.status == HW_ERR_INPUT && err.code[0] && err.next[0]);
    hw_photo_free(photo);
    sigaction(SIGCHLD, &was_child, NULL);
    sigaction(SIGXCPU, &ignore, &was_time);
    sigemptyset(&blocked);
    sigaddset(&blocked, SIGXCPU);
    sigprocmask(SIG_BLOCK, &blocked, &was);
    hw_photo_child_test(HW_CHILD_LOOP);
    photo = load(usual, 1, &err);
    check_true(!photo);
    check_holds(err.what, "more than 1 second and");
    hw_photo_free(photo);
    sigprocmask(SIG_SETMASK, &was, NULL);
    sigaction(SIGXCPU, &was_time, NULL);
    goes_on();
}

// The arena gives n blocks and no more, for every n: refused, and never another picture.
static void test_every_block(void)
{
    static const char *const names[] = {
        "photo/baseline.jpg",   "photo/progressive.jpg", "photo/grey.jpg",
        "photo/colours.png",    "photo/palette.png",     "photo/alpha.png",
        "photo/interlaced.png", "photo/sixteen.png",     "photo/sixteen-interlaced.png",
        "photo/colours.bmp",    "photo/colours.tga",     "photo/colours-runs.tga",
    };
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        hw_error err;
        size_t count = 0;
        hw_photo *photo = load(names[i], 60, &err);
        if (!check_true(photo != NULL)) {
            continue;
        }
        uint16_t *whole = codes_of(photo, &count);
        hw_photo_free(photo);
        photo = NULL;
        long n = 0;
        for (; n < 100 && !photo; n++) {
            hw_photo_child_fail_block(n);
            photo = load(names[i], 60, &err);
            hw_photo_child_fail_block(-1);
            if (!photo) {
                check_true(err.status == HW_ERR_STORAGE && err.next[0]);
                check_text(err.code, "memory-out");
            }
        }
        if (check_true(photo && n > 1)) {
            check_same(photo, whole, count);
            printf("%s: %ld blocks refused in turn\n", names[i], n - 1);
        }
        hw_photo_free(photo);
        free(whole);
    }
}

// A PNG of 64 x 48 pixels whose rows swell to 64 MB: the arena ends long before.
static void test_swelling(void)
{
    size_t size = (size_t)64 << 20;
    uint8_t header[13] = {0, 0, 0, 64, 0, 0, 0, 48, 8, 2}, *zeros = calloc(size, 1);
    uLongf length = compressBound((uLong)size);
    uint8_t *packed = malloc(length), *png = malloc(length + 200);
    check_true(compress2(packed, &length, zeros, (uLong)size, 9) == Z_OK);
    size_t count = 8;
    memcpy(png, "\x89PNG\r\n\x1a\n", 8);
    count += picture_chunk(png + count, "IHDR", header, 13);
    count += picture_chunk(png + count, "IDAT", packed, length);
    count += picture_chunk(png + count, "IEND", NULL, 0);
    hw_photo *photo = NULL;
    hw_error err = {0};
    check_true(hw_photo_decode(png, count, "swelling", NULL, &photo, &err) == HW_ERR_STORAGE);
    check_text(err.code, "memory-out");
    check_holds(err.what, "than a photo of its size should");
    hw_photo_free(photo);
    free(png);
    free(packed);
    free(zeros);
}

int main(void)
{
    goes_on();
    test_ends();
    test_libraries();
    test_signals();
    test_every_block();
    test_swelling();
    return check_done();
}
