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
    const char *names[] = {"photo/colours.png",     "photo/colours.bmp", "photo/colours.tga",
                           "photo/palette.png",     "photo/alpha.png",   "photo/interlaced.png",
                           "photo/colours-runs.tga"};
    const char *formats[] = {"PNG", "BMP", "TGA", "PNG", "PNG", "PNG", "TGA"};
    for (size_t i = 0; i < 7; i++) {
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
    hw_photo *woven = load("photo/sixteen-interlaced.png");
    for (int y = 0; y < 32; y++) {
        for (int x = 0; x < 48; x++) {
            check_code(woven, (size_t)x, (size_t)y,
                       (const int[3]){1000 * x + 100 * y, 60000 - 1000 * x, 500 * y}, 0);
        }
    }
    hw_photo_free(woven);
    hw_xyz xyz;
    hw_photo_xyz(sixteen, 3, 5, 1, &xyz);
    double rgb[3] = {hw_srgb_linear(1503 / 65535.0), hw_srgb_linear(30021 / 65535.0),
                     hw_srgb_linear(65526 / 65535.0)};
    check_close(xyz.Y, hw_xyz_from_linear_srgb(rgb).Y, 1e-12);
    hw_photo_free(sixteen);
    // Greys as PIL 9.4 gives them, three times over.
    const int greys[4] = {137, 123, 155, 88};
    const char *grey_names[] = {"photo/grey.png", "photo/grey.jpg"};
    for (int i = 0; i < 2; i++) {
        hw_photo *grey = load(grey_names[i]);
        for (int k = 0; k < 4; k++) {
            const int three[3] = {greys[k], greys[k], greys[k]};
            check_code(grey, k % 2 ? 40 : 5, k < 2 ? 5 : 25, three, i);
        }
        hw_photo_free(grey);
    }
}

// A profile is the same whether it lies beside the photo, in one chunk of a PNG, or in a JPEG in
// three parts out of order (PIL 9.4 joins them to the very bytes of matrix-profile.icc).
static void check_embedded(const char *name)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_photo_colour *colour = NULL;
    bool own;
    check_true(hw_file_read(HW_TESTDATA "/outside/matrix-profile.icc", 1 << 20, &bytes, &count,
                            NULL) == HW_OK);
    check_true(hw_photo_colour_of_profile((hw_part){bytes, count}, 255, false, &own, &colour,
                                          NULL) == HW_OK);
    hw_photo *photo = load(name);
    check_holds(hw_photo_facts_of(photo)->colour, "profile:");
    check_true(!hw_photo_facts_of(photo)->colour_assumed && hw_photo_facts_of(photo)->own_tables);
    uint16_t codes[3 * 64];
    hw_xyz embedded[64], beside[64];
    hw_photo_codes(photo, 0, 5, 64, codes);
    hw_photo_xyz(photo, 0, 5, 64, embedded);
    hw_photo_colour_apply(colour, codes, 64, beside);
    check_true(memcmp(embedded, beside, sizeof beside) == 0);
    const double linear[3] = {hw_srgb_linear(codes[0] / 255.0), hw_srgb_linear(codes[1] / 255.0),
                              hw_srgb_linear(codes[2] / 255.0)};
    check_true(fabs(embedded[0].X - hw_xyz_from_linear_srgb(linear).X) > 1e-3); // and is not sRGB
    hw_photo_free(photo);
    hw_photo_colour_free(colour);
    hw_free(bytes);
}

// What a PNG says of itself beside a profile; EXIF as exiftool 12.57 reads it.
static void test_stated(void)
{
    hw_photo *photo = load("photo/stated.png");
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    check_text(facts->camera, "Acm X1");
    check_text(facts->taken, "2026:05:03 10:11:12");
    check_true(facts->orientation == 6);
    check_text(facts->colour, "primaries and gamma stated by the file");
    check_true(facts->warnings.count == 1); // its cICP is none that is known
    check_holds(facts->warnings.text[0], "left aside");
    // Its primaries are those of sRGB and its gAMA is 45455: light is the code to the 2.2 (W3C PNG,
    // third edition, 11.3.2.2).
    const double linear[3] = {pow(40000 / 65535.0, 2.2), pow(30000 / 65535.0, 2.2),
                              pow(20000 / 65535.0, 2.2)};
    hw_xyz xyz, want = hw_xyz_from_linear_srgb(linear);
    hw_photo_xyz(photo, 1, 1, 1, &xyz);
    check_close(xyz.X, want.X, 2e-4);
    check_close(xyz.Y, want.Y, 2e-4);
    check_close(xyz.Z, want.Z, 2e-4);
    hw_photo_free(photo);
}

static void test_colour(void)
{
    check_embedded("photo/profile-three-parts.jpg");
    check_embedded("outside/matrix-profile.png");
    test_stated();
    hw_photo *photo;
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
    const char *names[] = {"photo/baseline.jpg",          "photo/progressive.jpg",
                           "photo/colours.png",           "photo/colours.bmp",
                           "photo/colours.tga",           "photo/colours-runs.tga",
                           "photo/sixteen-interlaced.png"};
    for (size_t i = 0; i < 7; i++) {
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

static void test_memory(void)
{
    const char *names[] = {"photo/baseline.jpg", "outside/matrix-profile.png",
                           "photo/profile-three-parts.jpg"};
    for (size_t i = 0; i < 3; i++) {
        hw_photo *photo = NULL;
        for (long n = 0; n < 2000 && !photo; n++) { // LittleCMS's are ours too
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
    test_memory();
    return check_done();
}
