// Places of the figure against libvlfeat's own way, one after the other: each of ours, which several threads describe, is one
// of its.
#include "base_internal.h"
#include "check.h"
#include "mark_internal.h"

#include <math.h>
#include <vl/sift.h>

static uint64_t chance_state;

static float chance(void)
{
    chance_state = chance_state * 6364136223846793005u + 1442695040888963407u; // Knuth's MMIX
    return (float)(chance_state >> 40) / 16777216.0f;
}

// Spots of all sizes, and noise.
static hw_grey figure(size_t width, size_t height, float noise)
{
    size_t longer = width > height ? width : height;
    hw_grey grey = {.width = width,
                    .height = height,
                    .pixel = 1.0 / (double)longer,
                    .left = -0.5 * (double)(width - 1) / (double)longer,
                    .top = -0.5 * (double)(height - 1) / (double)longer,
                    .value = hw_alloc_array(width * height, sizeof(float))};
    for (size_t i = 0; i < width * height; i++) {
        grey.value[i] = noise * chance();
    }
    for (int spot = 0; spot < 300; spot++) {
        float x = chance() * (float)width, y = chance() * (float)height;
        float size = 1.0f + 14.0f * chance() * chance(), light = chance() - 0.5f;
        for (size_t i = 0; i < width * height; i++) {
            float dx = (float)(i % width) - x, dy = (float)(i / width) - y;
            grey.value[i] += light * expf(-(dx * dx + 2.0f * dy * dy) / (size * size));
        }
    }
    return grey;
}

typedef struct theirs {
    hw_feature feature[40000];
    size_t count, undescribed;
} theirs;

static void add_theirs(VlSiftFilt *sift, const hw_grey *grey, const VlSiftKeypoint *key,
                       theirs *all)
{
    double angle[4];
    float pixel = (float)grey->pixel;
    int turns = vl_sift_calc_keypoint_orientations(sift, angle, key);
    for (int t = 0; t < turns && all->count < 40000; t++) {
        hw_feature *f = &all->feature[all->count++];
        float descriptor[HW_DESCRIPTOR] = {-1.0f};
        vl_sift_calc_keypoint_descriptor(sift, descriptor, key, angle[t]);
        all->undescribed += descriptor[0] < 0.0f;
        *f = (hw_feature){.x = (float)grey->left + key->x * pixel,
                          .y = (float)grey->top + key->y * pixel,
                          .scale = key->sigma * pixel,
                          .angle = (float)angle[t]};
        for (size_t i = 0; i < HW_DESCRIPTOR; i++) {
            f->descriptor[i] = (uint8_t)fminf(512.0f * fmaxf(descriptor[i], 0.0f), 255.0f);
        }
    }
}

static void find_theirs(const hw_grey *grey, theirs *all)
{
    VlSiftFilt *sift = vl_sift_new((int)grey->width, (int)grey->height, -1, 3, 0);
    vl_sift_set_peak_thresh(sift, (double)0.003f);
    all->count = all->undescribed = 0;
    for (int end = vl_sift_process_first_octave(sift, grey->value); !end;
         end = vl_sift_process_next_octave(sift)) {
        vl_sift_detect(sift);
        for (int i = 0; i < vl_sift_get_nkeypoints(sift); i++) {
            add_theirs(sift, grey, &vl_sift_get_keypoints(sift)[i], all);
        }
    }
    vl_sift_delete(sift);
}

static bool is_same(const hw_feature *one, const hw_feature *other)
{
    const float least = 1e-5f; // widths, radians: a hundredth of a pixel
    bool same = fabsf(one->x - other->x) < least && fabsf(one->y - other->y) < least &&
                fabsf(one->scale - other->scale) < least &&
                fabsf(one->angle - other->angle) < least;
    for (size_t i = 0; i < HW_DESCRIPTOR && same; i++) {
        same = abs(one->descriptor[i] - other->descriptor[i]) <= 1;
    }
    return same;
}

static bool is_theirs(const hw_feature *ours, const theirs *all)
{
    bool found = false;
    for (size_t i = 0; i < all->count && !found; i++) {
        found = is_same(ours, &all->feature[i]);
    }
    return found;
}

static void test_places(const hw_grey *grey, size_t undescribed_theirs)
{
    static theirs all;
    hw_feature *ours = NULL;
    size_t count = 0, strangers = 0, undescribed = 0;
    float least = 1.0f, greatest = 0.0f;
    find_theirs(grey, &all);
    check_true(hw_features_find(grey, &ours, &count, NULL) == HW_OK);
    for (size_t i = 0; i < count; i++) {
        uint8_t any = 0;
        strangers += !is_theirs(&ours[i], &all);
        for (size_t k = 0; k < HW_DESCRIPTOR; k++) {
            any |= ours[i].descriptor[k];
        }
        undescribed += any == 0;
        least = fminf(least, ours[i].scale);
        greatest = fmaxf(greatest, ours[i].scale);
    }
    check_true(count > 80 && count <= all.count);
    check_true(all.undescribed == undescribed_theirs);
    check_true(strangers == 0 && undescribed == 0);
    check_true(greatest > 4.0f * least); // over more than two octaves
    hw_free(ours);
}

int main(void)
{
    // The last: noise that lets one place come to lie in an octave's last row, where libvlfeat describes none.
    static const struct {
        size_t width, height;
        float noise;
        uint64_t seed;
        size_t undescribed;
    } row[] = {{320, 240, 0.02f, 1, 0}, {241, 333, 0.02f, 2, 0}, {201, 187, 0.7f, 121, 1}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        chance_state = row[i].seed;
        hw_grey grey = figure(row[i].width, row[i].height, row[i].noise);
        test_places(&grey, row[i].undescribed);
        hw_free(grey.value);
    }
    return check_done();
}
