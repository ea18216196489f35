// Whole and broken photos: testdata/photo/README.md tells what each is.
#include "base_internal.h"
#include "check.h"
#include "photo_internal.h"
#include "picture.h"

static hw_photo *load_with(const char *name, const hw_limits *limits, hw_error *err)
{
    char path[600];
    hw_photo *photo = NULL;
    snprintf(path, sizeof path, "%s/%s", HW_TESTDATA, name);
    if (hw_photo_load(path, limits, &photo, err) != HW_OK) {
        return NULL;
    }
    return photo;
}

static hw_photo *load(const char *name)
{
    hw_error err = {0};
    hw_photo *photo = load_with(name, NULL, &err);
    if (!check_true(photo != NULL)) {
        printf("%s: %s: %s\n", name, err.code, err.what);
        exit(1);
    }
    return photo;
}

static void check_code(const hw_photo *photo, size_t x, size_t y, const int want[3], int within)
{
    uint16_t rgb[3];
    hw_photo_codes(photo, x, y, 1, rgb);
    for (int k = 0; k < 3; k++) {
        check_close(rgb[k], want[k], within);
    }
}

static const int quarters[4][3] = {{200, 120, 60}, {60, 140, 200}, {90, 200, 90}, {120, 60, 150}};

static void check_quarters(const hw_photo *photo, int within)
{
    check_true(hw_photo_facts_of(photo)->width_px == 48 &&
               hw_photo_facts_of(photo)->height_px == 32);
    check_code(photo, 5, 5, quarters[0], within);
    check_code(photo, 40, 5, quarters[1], within);
    check_code(photo, 5, 25, quarters[2], within);
    check_code(photo, 40, 25, quarters[3], within);
}

// EXIF orientation (CIPA DC-008): whatever the camera stored, upright it is one picture; PIL's
// exif_transpose gives the same.
static void test_orientation(void)
{
    for (int o = 1; o <= 8; o++) {
        char name[60];
        snprintf(name, sizeof name, "photo/orientation-%d.jpg", o);
        hw_photo *photo = load(name);
        check_true(hw_photo_facts_of(photo)->orientation == o);
        check_quarters(photo, 3);
        // A row read at once is the row read pixel by pixel.
        uint16_t row[3 * 48], one[3];
        hw_photo_codes(photo, 0, 7, 48, row);
        hw_photo_codes(photo, 47, 7, 1, one);
        check_true(memcmp(row + 3 * 47, one, sizeof one) == 0);
        hw_photo_free(photo);
    }
}

static void test_formats(void)
{
    const char *names[] = {"photo/colours.png", "photo/colours.bmp", "photo/colours.tga",
                           "photo/palette.png", "photo/alpha.png"};
    const char *formats[] = {"PNG", "BMP", "TGA", "PNG", "PNG"};
    for (size_t i = 0; i < 5; i++) {
        hw_photo *photo = load(names[i]);
        check_text(hw_photo_facts_of(photo)->format, formats[i]);
        check_true(hw_photo_facts_of(photo)->bits == 8 && hw_photo_facts_of(photo)->sandboxed);
        check_quarters(photo, 0);
        hw_photo_free(photo);
    }
    // Values of libjpeg-turbo's djpeg -dct int -nosmooth; stb_image rounds and upsamples a little
    // otherwise.
    const size_t at[4][2] = {{3, 3}, {20, 10}, {40, 30}, {60, 45}};
    const int want[4][3] = {{63, 192, 100}, {101, 169, 118}, {142, 109, 140}, {180, 65, 160}};
    hw_photo *baseline = load("photo/baseline.jpg"), *progressive = load("photo/progressive.jpg");
    for (int i = 0; i < 4; i++) {
        check_code(baseline, at[i][0], at[i][1], want[i], 3);
        check_code(progressive, at[i][0], at[i][1], want[i], 3);
    }
    check_true(hw_photo_facts_of(baseline)->colour_assumed);
    check_holds(hw_photo_facts_of(baseline)->colour, "assumed");
    hw_photo_free(baseline);
    hw_photo_free(progressive);
    // 16 bit: the codes as written by the maker of the file (Python's struct).
    hw_photo *sixteen = load("photo/sixteen.png");
    check_true(hw_photo_facts_of(sixteen)->bits == 16 &&
               hw_photo_facts_of(sixteen)->max_code == 65535);
    check_code(sixteen, 3, 5, (const int[3]){1000 + 500 + 3, 30000 + 21, 65535 - 9}, 0);
    hw_xyz xyz;
    hw_photo_xyz(sixteen, 3, 5, 1, &xyz);
    double rgb[3] = {hw_srgb_linear(1503 / 65535.0), hw_srgb_linear(30021 / 65535.0),
                     hw_srgb_linear(65526 / 65535.0)};
    check_close(xyz.Y, hw_xyz_from_linear_srgb(rgb).Y, 1e-12);
    hw_photo_free(sixteen);
    hw_photo *grey = load("photo/grey.png");
    uint16_t codes[3];
    hw_photo_codes(grey, 5, 5, 1, codes);
    check_true(codes[0] == codes[1] && codes[1] == codes[2] && codes[0] == 137); // PIL: 137
    hw_photo_free(grey);
}

static void test_colour(void)
{
    hw_photo *photo = load("photo/profile-three-parts.jpg");
    check_holds(hw_photo_facts_of(photo)->colour, "profile:");
    check_true(!hw_photo_facts_of(photo)->colour_assumed && hw_photo_facts_of(photo)->own_tables);
    hw_photo_free(photo);
    photo = load("outside/table-profile.png");
    check_true(!hw_photo_facts_of(photo)->own_tables); // no matrix can give it: through LittleCMS
    hw_photo_free(photo);
    photo = load("photo/profile-rubbish.jpg"); // said, and read as sRGB
    check_true(hw_photo_facts_of(photo)->warnings.count == 1 &&
               hw_photo_facts_of(photo)->colour_assumed);
    hw_photo_free(photo);
    photo = load(
        "photo/gamma.png"); // gAMA 1.0: codes are light (PNG, 11.3.3.2), under the primaries of sRGB
    hw_xyz xyz;
    hw_photo_xyz(photo, 3, 5, 1, &xyz);
    const double linear[3] = {1503 / 65535.0, 30021 / 65535.0, 65526 / 65535.0};
    check_close(xyz.Y, hw_xyz_from_linear_srgb(linear).Y, 2e-4);
    hw_photo_free(photo);
}

static void refused_with(const char *name, const hw_limits *limits, const char *code,
                         const char *words)
{
    hw_error err = {0};
    hw_photo *photo = load_with(name, limits, &err);
    check_true(photo == NULL && err.status == HW_ERR_INPUT);
    check_text(err.code, code);
    check_holds(err.what, words);
    check_true(err.next[0] != 0);
    hw_photo_free(photo);
}

static void test_refusals(void)
{
    refused_with("photo/none.jpg", NULL, "file-missing", "no such file");
    refused_with("photo", NULL, "file-folder", "folder");
    refused_with("photo/empty.jpg", NULL, "photo-empty", "empty");
    refused_with("photo/text.jpg", NULL, "photo-unknown-format", "no photo");
    refused_with("photo/cut.jpg", NULL, "photo-cut-short", "ends in the middle");
    refused_with("photo/bad-sum.png", NULL, "photo-damaged", "sum");
    refused_with("photo/four-channels.jpg", NULL, "photo-four-channels", "four colour components");
    refused_with("photo/huge-header.jpg", NULL, "photo-too-large", "40000 x 40000");
    refused_with("photo/huge-header.png", NULL, "photo-too-large", "40000 x 40000");
    refused_with("photo/profile-part-missing.jpg", NULL, "photo-profile", "2 of 3 parts");
    refused_with("photo/profile-part-twice.jpg", NULL, "photo-profile", "not whole");
    refused_with("photo/hdr.png", NULL, "photo-unsupported", "high dynamic range");
    hw_limits small = hw_limits_default();
    small.file_bytes = 500;
    refused_with("photo/baseline.jpg", &small, "file-too-large", "larger");
    small = hw_limits_default();
    small.pixels = 64 * 48 - 1;
    refused_with("photo/baseline.jpg", &small, "photo-too-large", "64 x 48");
    hw_photo *one = load("photo/one-pixel.png"); // a picture all the same; marks will not fit on it
    check_true(hw_photo_facts_of(one)->width_px == 1);
    hw_photo_free(one);
}

// Cut anywhere, a photo is refused or, behind its end mark, whole; never a crash, never half a
// picture in silence.
static void test_cut_everywhere(void)
{
    const char *names[] = {"photo/baseline.jpg", "photo/progressive.jpg", "photo/colours.png",
                           "photo/colours.bmp", "photo/colours.tga"};
    for (size_t i = 0; i < 5; i++) {
        char path[600];
        uint8_t *bytes = NULL;
        size_t count = 0;
        snprintf(path, sizeof path, "%s/%s", HW_TESTDATA, names[i]);
        check_true(hw_file_read(path, 1 << 20, &bytes, &count, NULL) == HW_OK);
        size_t tail = i == 4 ? 26 : 0; // a TGA's footer may be missing
        for (size_t cut = 0; cut + 1 + tail < count; cut += 1 + count / 61) {
            hw_photo *photo = NULL;
            hw_error err = {0};
            bool read = hw_photo_decode(bytes, cut, "cut", NULL, &photo, &err) == HW_OK;
            if (read || !err.code[0]) {
                printf("%s cut at %zu of %zu was read\n", names[i], cut, count);
                check_true(!read);
            }
            hw_photo_free(photo);
        }
        hw_free(bytes);
    }
}

// Damaged inside, where no probe looks: decoded or refused in the child, never a crash of ours. (A
// fixed seed; longer runs belong to the fuzz targets.)
static void test_damaged_inside(void)
{
    const char *names[] = {"photo/baseline.jpg", "photo/progressive.jpg", "photo/colours.tga"};
    uint64_t seed = 12;
    for (size_t i = 0; i < 3; i++) {
        char path[600];
        uint8_t *bytes = NULL;
        size_t count = 0;
        snprintf(path, sizeof path, "%s/%s", HW_TESTDATA, names[i]);
        check_true(hw_file_read(path, 1 << 20, &bytes, &count, NULL) == HW_OK);
        for (int turn = 0; turn < 60; turn++) {
            size_t at = 20 + (size_t)(picture_random(&seed) * (double)(count - 22));
            uint8_t kept = bytes[at];
            hw_photo *photo = NULL;
            hw_error err = {0};
            bytes[at] = (uint8_t)(256.0 * picture_random(&seed));
            hw_status status = hw_photo_decode(bytes, count, "damaged", NULL, &photo, &err);
            check_true((status == HW_OK) == (photo != NULL) &&
                       (photo || (err.code[0] && err.next[0])));
            hw_photo_free(photo);
            bytes[at] = kept;
        }
        hw_free(bytes);
    }
}

// The child can read, write and exit, no more.
static void test_confinement(void)
{
    hw_error err = {0};
    hw_limits limits = hw_limits_default();
    limits.decode_seconds = 1;
    hw_photo_child_test(HW_CHILD_OPEN_FILE);
    check_true(load_with("photo/baseline.jpg", &limits, &err) == NULL);
    check_text(err.code, "photo-crashed");
    err = (hw_error){0};
    hw_photo_child_test(HW_CHILD_LOOP);
    check_true(load_with("photo/baseline.jpg", &limits, &err) == NULL);
    check_text(err.code, "photo-crashed");
    check_holds(err.what, "more than 1 second");
    err = (hw_error){0};
    hw_photo_child_test(HW_CHILD_SMALL);
    check_true(load_with("photo/baseline.jpg", &limits, &err) == NULL);
    check_text(err.code, "memory-out");
    hw_photo_child_test(HW_CHILD_DECODE);
}

static void test_memory(void)
{
    const char *names[] = {"photo/baseline.jpg", "outside/matrix-profile.png",
                           "photo/profile-three-parts.jpg"};
    for (size_t i = 0; i < 3; i++) {
        hw_photo *photo = NULL;
        for (long n = 0; n < 100 && !photo; n++) {
            hw_error err = {0};
            hw_test_fail_alloc(n);
            photo = load_with(names[i], NULL, &err);
            hw_test_fail_alloc(-1);
            check_true(photo || err.status == HW_ERR_STORAGE);
        }
        check_true(photo != NULL);
        hw_photo_free(photo);
    }
}

int main(void)
{
    test_orientation();
    test_formats();
    test_colour();
    test_refusals();
    test_cut_everywhere();
    test_damaged_inside();
    test_confinement();
    test_memory();
    return check_done();
}
