// Pictures from a distance: the filter against the published kernels' own responses, pixels a degree, flat pictures, edges,
// and what is refused.
#include "check.h"
#include "picture.h"
#include "picture_internal.h"
#include "watched.h"

// From the opponent channels to X, Y, Z: inverse of the matrix of Zhang and Wandell 1997, by numpy.linalg.inv.
static const double to_xyz[3][3] = {{0.97959616, -1.5347157, 0.44459764},
                                    {1.18897791, 0.76435496, 0.13512575},
                                    {1.23183331, 1.16315926, 2.07840759}};
static const double from_xyz[3][3] = {{0.2787336, 0.7218031, -0.1065520},
                                      {-0.4487736, 0.2898056, 0.0771569},
                                      {0.0859513, -0.5899859, 0.5011089}};

static hw_picture picture_of(size_t width, size_t height)
{
    hw_picture made = {width, height, {0, 0, width, height}, 1.0, NULL};
    made.xyz = hw_alloc_array(width * height, 3 * sizeof *made.xyz);
    return made;
}

// Stripes of one channel about a grey, `f` cycles a degree; mirrored at the edges they go on.
static hw_picture stripes(int channel, double f, double px_per_degree, size_t width, size_t height,
                          bool upright)
{
    hw_picture made = picture_of(width, height);
    for (size_t i = 0; i < width * height; i++) {
        double at = ((double)(upright ? i / width : i % width) + 0.5) / px_per_degree;
        double wave = 0.1 * cos(2.0 * 3.14159265358979 * f * at);
        for (int k = 0; k < 3; k++) {
            made.xyz[3 * i + (size_t)k] = (float)(0.5 * to_xyz[k][0] + wave * to_xyz[k][channel]);
        }
    }
    return made;
}

static double channel_of(const float *p, int channel)
{
    const double *m = from_xyz[channel];
    return m[0] * (double)p[0] + m[1] * (double)p[1] + m[2] * (double)p[2];
}

// How much of the stripes is left.
static double left(const hw_picture *seen, int channel, double f, double px_per_degree,
                   bool upright)
{
    double sum = 0.0, all = 0.0;
    for (size_t i = 0; i < seen->width * seen->height; i++) {
        double at = ((double)(upright ? i / seen->width : i % seen->width) + 0.5) / px_per_degree;
        double wave = 0.1 * cos(2.0 * 3.14159265358979 * f * at);
        sum += wave * channel_of(seen->xyz + 3 * i, channel);
        all += wave * wave;
    }
    return sum / all;
}

// The responses of the kernels of Zhang and Wandell 1997 (J. SID 5(1) 61), sum w exp(-2 (pi s f)^2) with
// s = width / 2.3548, worked out in Python.
static const double cycles[6] = {0.5, 1, 2, 4, 8, 16};
static const double responses[3][6] = {{1.1104, 1.0899, 1.0238, 0.8765, 0.5676, 0.1028},
                                       {0.8230, 0.6403, 0.5769, 0.4721, 0.2118, 0.0086},
                                       {0.8620, 0.6493, 0.5046, 0.3507, 0.0826, 0.0003}};

static void test_responses(void)
{
    for (int channel = 0; channel < 3; channel++) {
        for (int i = 0; i < 6; i++) {
            bool upright = i % 2;
            hw_picture made = stripes(channel, cycles[i], 60.0, 480, 480, upright);
            check_true(hw_picture_see(&made, 60.0, NULL, NULL) == HW_OK);
            check_close(left(&made, channel, cycles[i], 60.0, upright), responses[channel][i],
                        0.002);
            hw_picture_free(&made);
        }
    }
    // Twice as fine a picture is made half as large, and what that blurs is taken off.
    for (int i = 2; i < 6; i++) {
        hw_picture made = stripes(0, cycles[i], 120.0, 960, 960, false);
        check_true(hw_picture_see(&made, 120.0, NULL, NULL) == HW_OK);
        check_true(made.width == 480 && made.scale == 2.0 && made.frame.width == 960);
        check_close(left(&made, 0, cycles[i], 60.0, false), responses[0][i], 0.005);
        hw_picture_free(&made);
    }
    // Below 7 degrees the widest is left out: 1.00327 and 0.114416 of their sum.
    hw_picture made = stripes(0, 4.0, 60.0, 480, 300, false);
    check_true(hw_picture_see(&made, 60.0, NULL, NULL) == HW_OK);
    check_close(left(&made, 0, 4.0, 60.0, false), 0.8765 / (1.00327 + 0.114416), 0.002);
    hw_picture_free(&made);
}

// On areas of one colour S-CIELAB is CIELAB (Zhang and Wandell 1997): the weights of each channel sum to 1.
static void test_flat(size_t width, size_t height, double px_per_degree)
{
    const hw_lab wood = {42, 11, 21};
    hw_xyz colour = hw_xyz_from_lab(wood, hw_white_d50);
    hw_picture made = picture_of(width, height);
    double most = 0.0;
    for (size_t i = 0; i < width * height; i++) {
        made.xyz[3 * i] = (float)colour.X;
        made.xyz[3 * i + 1] = (float)colour.Y;
        made.xyz[3 * i + 2] = (float)colour.Z;
    }
    check_true(hw_picture_see(&made, px_per_degree, NULL, NULL) == HW_OK);
    for (size_t i = 0; i < made.width * made.height; i++) {
        hw_lab lab = hw_lab_from_xyz(hw_pixel_xyz(made.xyz + 3 * i), hw_white_d50);
        most = fmax(most, hw_ciede2000(wood, lab));
    }
    check_true(most < 0.002);
    hw_picture_free(&made);
}

// A picture of any size, however far off, keeps its mean (the mirror gives back what goes over the edge).
static void test_mean(void)
{
    static const struct {
        size_t width, height;
        double px_per_degree;
    } rows[] = {{1, 1, 30}, {1, 1, 1e6},   {2, 1, 60},  {1, 90, 59},
                {7, 5, 60}, {333, 11, 45}, {61, 67, 8}, {80, 70, 1e-3}};
    for (size_t k = 0; k < sizeof rows / sizeof *rows; k++) {
        hw_picture made = picture_of(rows[k].width, rows[k].height);
        double before = 0.0, after = 0.0;
        uint64_t state = k;
        for (size_t i = 0; i < 3 * made.width * made.height; i++) {
            made.xyz[i] = (float)picture_random(&state);
            before += i % 3 == 1 ? (double)made.xyz[i] : 0.0;
        }
        before /= (double)(made.width * made.height);
        check_true(hw_picture_see(&made, rows[k].px_per_degree, NULL, NULL) == HW_OK);
        for (size_t i = 1; i < 3 * made.width * made.height; i += 3) {
            after += (double)made.xyz[i];
        }
        after /= (double)(made.width * made.height);
        check_close(after, before, 0.004); // a wide one's copy weighs its cut squares a little more
        hw_picture_free(&made);
    }
}

static void test_refused(void)
{
    static const double wrong[] = {0.0, -3.0, NAN, INFINITY};
    watched all = {.rising = true};
    const hw_progress progress = {watched_tell, &all};
    hw_picture made = picture_of(20, 10);
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        hw_error err = {0};
        check_true(hw_picture_see(&made, wrong[i], NULL, &err) == HW_ERR_CALL);
        check_text(err.code, "sight-distance");
        check_true(made.xyz != NULL);
    }
    check_true(hw_picture_see(&made, 40.0, &progress, NULL) == HW_OK);
    check_true(all.rising && all.calls > 7 && all.last == 1.0);
    all = (watched){.rising = true}; // 10 pixels are more than 7 degrees: with the widest of light
    check_true(hw_picture_see(&made, 1.0, &progress, NULL) == HW_OK);
    check_true(all.rising && all.calls > 7 && all.last == 1.0);
    all = (watched){.rising = true, .stop_at = 4};
    hw_error err = {0};
    check_true(hw_picture_see(&made, 40.0, &progress, &err) == HW_ERR_CALL);
    check_text(err.code, "stopped");
    check_true(made.xyz == NULL && made.width == 0);
}

int main(void)
{
    // 0.2 mm at half a metre and at three: 1 / atan(p / d) degrees, worked out in Python.
    check_close(hw_sight_px(0.2, 500.0), 43.63, 0.01);
    check_close(hw_sight_px(0.2, 3000.0), 261.80, 0.01);
    test_responses();
    test_flat(480, 430, 60.0);
    test_flat(300, 200, 100.0);
    test_flat(300, 200, 22.0);
    test_mean();
    test_refused();
    return check_done();
}
