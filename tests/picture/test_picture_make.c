// Pictures made from a photo: frames, means of linear light, the light's correction by its fast way against the slow
// one (hw_photo_xyz, hw_light_correct_at), watched, stopped, and as a screen shows them.
#include "bench.h"
#include "decoded_picture.h"
#include "huewright/picture.h"
#include "watched.h"

static double apart(const float *pixel, hw_xyz want)
{
    hw_xyz got = {(double)pixel[0], (double)pixel[1], (double)pixel[2]};
    return hw_ciede2000(hw_lab_from_xyz(want, hw_white_d50), hw_lab_from_xyz(got, hw_white_d50));
}

// ---- The slow way ------------------------------------------------------------------

// The definition itself: each photo pixel corrected at its place, weighed by the area that it has in the square.
static hw_xyz slow(const hw_photo *photo, const hw_light *light, const hw_picture *of, size_t x,
                   size_t y)
{
    double left = (double)of->frame.x + (double)x * of->scale;
    double top = (double)of->frame.y + (double)y * of->scale;
    double right = fmin(left + of->scale, (double)(of->frame.x + of->frame.width));
    double bottom = fmin(top + of->scale, (double)(of->frame.y + of->frame.height));
    double weight = 0.0;
    hw_xyz sum = {0, 0, 0};
    for (size_t v = (size_t)top; (double)v < bottom; v++) {
        for (size_t u = (size_t)left; (double)u < right; u++) {
            double area = (fmin(right, (double)u + 1.0) - fmax(left, (double)u)) *
                          (fmin(bottom, (double)v + 1.0) - fmax(top, (double)v));
            hw_xyz one;
            hw_photo_xyz(photo, u, v, 1, &one);
            if (light) {
                one = hw_light_correct_at(light, one, (hw_point){(double)u + 0.5, (double)v + 0.5});
            }
            sum = (hw_xyz){sum.X + area * one.X, sum.Y + area * one.Y, sum.Z + area * one.Z};
            weight += area;
        }
    }
    return (hw_xyz){sum.X / weight, sum.Y / weight, sum.Z / weight};
}

// The largest difference between both ways, CIEDE2000.
static double against_slow(const hw_photo *photo, const hw_light *light, const hw_frame *frame,
                           size_t longer)
{
    hw_picture made = {0};
    hw_error err = {0};
    double most = 0.0;
    if (!check_true(hw_picture_make(photo, light, frame, longer, NULL, &made, &err) == HW_OK)) {
        printf("%s\n", err.what);
        return INFINITY;
    }
    size_t step = made.width * made.height > 20000 ? 7 : 1; // the slow way is slow
    for (size_t i = 0; i < made.width * made.height; i += step) {
        hw_xyz want = slow(photo, light, &made, i % made.width, i / made.width);
        most = fmax(most, apart(made.xyz + 3 * i, want));
    }
    hw_picture_free(&made);
    check_true(made.xyz == NULL);
    return most;
}

// ---- Made-up photos ----------------------------------------------------------------

// Old and new wood with grain, a card and two steps, through a camera that bends, in light that falls.
static bench grained_bench(void)
{
    bench b = bench_new();
    uint64_t state = 11;
    put_steps(&b);
    for (size_t i = 0; i < b.made.width * b.made.height; i++) {
        size_t x = i % WIDTH, y = i / WIDTH;
        bool wood = x < 420 && y < 260;
        double grain = wood ? 1.0 + 0.2 * picture_normal(&state) : 1.0;
        for (int k = 0; k < 3; k++) {
            b.made.linear[i][k] *= fmax(grain, 0.2);
        }
    }
    shade(&b.made, 0.15);
    bend(&b.made, 0.06, 0.01);
    return b;
}

static void test_light(void)
{
    bench b = grained_bench();
    hw_photo *photo = photo_of(&b.made);
    hw_light light;
    const hw_frame part = {33, 21, 301, 207};
    check_true(hw_card_read(photo, &b.marks, NULL, &light, NULL) == HW_OK);
    check_true(light.tone.straightens); // else the curve is not tested here
    check_true(against_slow(photo, &light, &part, 0) < 0.02);
    check_true(against_slow(photo, &light, &part, 120) < 0.02);
    check_true(against_slow(photo, &light, NULL, 97) < 0.02);
    check_true(against_slow(photo, NULL, &part, 0) < 0.002); // float against double
    check_true(against_slow(photo, NULL, NULL, 101) < 0.002);
    check_true(against_slow(photo, NULL, NULL, 1) < 0.002);

    // Light read off a sheet that falls by a quarter from end to end, in straight pieces.
    light.field.from_sheet = true;
    light.field.width_px = WIDTH;
    light.field.height_px = HEIGHT;
    for (int band = 0; band < 3; band++) {
        for (int r = 0; r < HW_SHOT_ROWS; r++) {
            for (int c = 0; c < HW_SHOT_COLUMNS; c++) {
                light.field.sheet[band][r][c] = (float)(0.008 * c + 0.001 * band * r);
            }
        }
    }
    check_true(against_slow(photo, &light, &part, 0) < 0.02);
    check_true(against_slow(photo, &light, NULL, 97) < 0.02);

    // Profiles that are not sRGB: three curves and a matrix, and tables through LittleCMS.
    static const char *const names[] = {"outside/matrix-profile.png", "outside/table-profile.png"};
    for (int i = 0; i < 2; i++) {
        char path[1024];
        hw_photo *other = NULL;
        const double *curve[3];
        double matrix[3][3];
        snprintf(path, sizeof path, "%s/%s", HW_TESTDATA, names[i]);
        if (check_true(hw_photo_load(path, NULL, &other, NULL) == HW_OK)) {
            check_true(hw_photo_curves(other, curve, matrix) == (i == 0));
            check_true(against_slow(other, &light, NULL, 0) < 0.02);
            check_true(against_slow(other, NULL, NULL, 9) < 0.02);
        }
        hw_photo_free(other);
    }
    hw_photo_free(photo);
    bench_free(&b);
}

// ---- Frames ------------------------------------------------------------------------

static void test_sizes(void)
{
    bench b = bench_new();
    hw_photo *photo = photo_of(&b.made);
    hw_picture made = {0};
    const hw_frame part = {10, 20, 100, 30}, thin = {5, 6, 1, 1};
    check_true(hw_picture_make(photo, NULL, &part, 40, NULL, &made, NULL) == HW_OK);
    check_close(made.scale, 2.5, 1e-12);
    check_true(made.width == 40 && made.height == 12 && made.frame.x == 10);
    hw_picture_free(&made);
    check_true(hw_picture_make(photo, NULL, &part, 33, NULL, &made, NULL) == HW_OK);
    check_true(made.width == 33 && made.height == 10); // 9.9: the last one is cut
    hw_picture_free(&made);
    check_true(hw_picture_make(photo, NULL, &part, 400, NULL, &made, NULL) == HW_OK);
    check_true(made.width == 100 && made.height == 30 && made.scale == 1.0); // never up
    hw_picture_free(&made);
    check_true(hw_picture_make(photo, NULL, &thin, 100, NULL, &made, NULL) == HW_OK);
    check_true(made.width == 1 && made.height == 1);
    hw_picture_free(&made);
    check_true(hw_picture_make(photo, NULL, NULL, 1, NULL, &made, NULL) == HW_OK);
    check_true(made.width == 1 && made.height == 1);
    hw_picture_free(&made);

    static const hw_frame outside[] = {{WIDTH, 0, 1, 1},     {0, HEIGHT, 1, 1},
                                       {0, 0, WIDTH + 1, 1}, {0, 0, 1, 0},
                                       {1, 0, SIZE_MAX, 1},  {SIZE_MAX, SIZE_MAX, 2, 2}};
    for (size_t i = 0; i < sizeof outside / sizeof *outside; i++) {
        hw_error err = {0};
        check_true(hw_picture_make(photo, NULL, &outside[i], 10, NULL, &made, &err) == HW_ERR_CALL);
        check_text(err.code, "frame-empty");
        check_true(made.xyz == NULL);
    }
    hw_photo_free(photo);

    const hw_frame around = hw_frame_around(&b.marks.mark[1], 0.1, WIDTH, HEIGHT); // 20,40 150x200
    check_true(around.x == 0 && around.y == 20 && around.width == 190 && around.height == 240);
    bench_free(&b);
}

// ---- Watched -----------------------------------------------------------------------

static void test_progress(void)
{
    bench b = bench_new();
    hw_photo *photo = photo_of(&b.made);
    watched all = {.rising = true};
    const hw_progress progress = {watched_tell, &all};
    hw_picture made = {0};
    check_true(hw_picture_make(photo, NULL, NULL, 0, &progress, &made, NULL) == HW_OK);
    check_true(all.rising && all.calls >= 2);
    hw_picture_free(&made);
    for (int at = 1; at <= 2; at++) {
        hw_error err = {0};
        all = (watched){.rising = true, .stop_at = at};
        check_true(hw_picture_make(photo, NULL, NULL, 0, &progress, &made, &err) == HW_ERR_CALL);
        check_text(err.code, "stopped");
        check_true(made.xyz == NULL);
    }
    hw_photo_free(photo);
    bench_free(&b);
}

// ---- Shown -------------------------------------------------------------------------

static void test_shown(void)
{
    // Each code's own light gives that code, and so does what is just inside its ends (IEC 61966-2-1).
    enum { WIDE = 256 * 3 };
    float xyz[3 * WIDE];
    hw_picture made = {WIDE, 1, {0, 0, WIDE, 1}, 1.0, xyz};
    hw_shown shown = {0};
    for (size_t i = 0; i < WIDE; i++) {
        double code = (double)(i / 3) + 0.49 * ((double)(i % 3) - 1.0);
        double light = hw_srgb_linear(code / 255.0);
        hw_xyz colour = hw_xyz_from_linear_srgb((double[3]){light, light, light});
        xyz[3 * i] = (float)colour.X;
        xyz[3 * i + 1] = (float)colour.Y;
        xyz[3 * i + 2] = (float)colour.Z;
    }
    check_true(hw_picture_show(&made, &shown, NULL) == HW_OK);
    int wrong = 0;
    for (size_t i = 0; i < 3 * WIDE && shown.rgb; i++) {
        wrong += shown.rgb[i] != i / 9;
    }
    check_true(wrong == 0);
    hw_shown_free(&shown);
    // Beyond what a screen shows, and no number.
    static float wild[9] = {-1.0f, -1.0f, -1.0f, 9.0f, 9.0f, 9.0f, NAN, NAN, NAN};
    made = (hw_picture){3, 1, {0, 0, 3, 1}, 1.0, wild};
    check_true(hw_picture_show(&made, &shown, NULL) == HW_OK);
    check_true(shown.rgb[0] == 0 && shown.rgb[3] == 255 && shown.rgb[6] == 0);
    hw_shown_free(&shown);
}

int main(void)
{
    test_light();
    test_sizes();
    test_progress();
    test_shown();
    return check_done();
}
