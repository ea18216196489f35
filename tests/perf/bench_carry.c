// bench_carry.c: processor time of carrying marks to a photo of 12 megapixels, given what was kept of the last one; decoding
// is told apart. bench_carry.sh times OpenCV on the same pair in the same run. To reach: 1 second.
//
//   bench_carry [RUNS] [FOLDER]      the pair is left in the folder, as first.png and second.png
#include "bench.h"
#include "picture.h"
#include "huewright/mark.h"

#define SPOTS 9000

// Spotted boards of 4000 x 3000 pixels, seen from a little elsewhere where `moved`.
static hw_photo *photo_of(bool moved, const char *folder, double *decode_ms)
{
    picture made = picture_new(4000, 3000);
    uint64_t state = 5;
    picture_fill(&made, 0, 0, 4000, 3000, (hw_lab){45, 12, 25});
    for (int i = 0; i < SPOTS; i++) {
        size_t x = 150 + (size_t)(3600.0 * picture_random(&state));
        size_t y = 150 + (size_t)(2600.0 * picture_random(&state));
        size_t w = 10 + (size_t)(90.0 * picture_random(&state));
        hw_lab colour = {35.0 + 20.0 * picture_random(&state), 12, 25};
        picture_fill(&made, moved ? x + 110 : x, moved ? y - 70 : y, w, 10, colour);
    }
    size_t count;
    uint8_t *png = picture_png(&made, &count);
    picture_free(&made);
    if (folder) {
        char path[600];
        snprintf(path, sizeof path, "%s/%s.png", folder, moved ? "second" : "first");
        FILE *file = fopen(path, "wb");
        bool written = file && png && fwrite(png, 1, count, file) == count;
        if ((file && fclose(file) != 0) || !written) {
            fprintf(stderr, "the photo could not be written\n");
        }
    }
    hw_photo *photo = NULL;
    struct timespec from, to; // a child decodes, so the clock on the wall
    clock_gettime(CLOCK_MONOTONIC, &from);
    if (!png || hw_photo_decode(png, count, "bench.png", NULL, &photo, NULL) != HW_OK) {
        fprintf(stderr, "the photo could not be made\n");
        exit(1);
    }
    clock_gettime(CLOCK_MONOTONIC, &to);
    *decode_ms =
        1e3 * (double)(to.tv_sec - from.tv_sec) + 1e-6 * (double)(to.tv_nsec - from.tv_nsec);
    free(png);
    return photo;
}

// The farthest corner from where it was drawn, pixels.
static double farthest(const hw_marks *drawn, const hw_marks *carried)
{
    double far = 0.0;
    for (size_t i = 0; i < carried->count; i++) {
        for (size_t k = 0; k < carried->mark[i].point_count; k++) {
            hw_point p = carried->mark[i].points[k], q = drawn->mark[i].points[k];
            far = fmax(far, hypot(p.x - q.x - 110.0, p.y - q.y + 70.0));
        }
    }
    return far;
}

int main(int count, char **arguments)
{
    size_t runs = count > 1 ? strtoul(arguments[1], NULL, 10) : 7;
    double decode, looks[99], carries[99], far = 0.0;
    runs = runs < 1 ? 1 : runs > 99 ? 99 : runs;
    const char *folder = count > 2 ? arguments[2] : NULL;
    hw_photo *first = photo_of(false, folder, &decode), *second = photo_of(true, folder, &decode);
    hw_look *earlier = NULL;
    hw_marks marks = {0};
    bool good =
        hw_look_take(first, &earlier, NULL) == HW_OK &&
        hw_marks_add(&marks, HW_ROLE_TARGET, "a", "400,400,800,900", NULL, NULL) == HW_OK &&
        hw_marks_add(&marks, HW_ROLE_TARGET, "b", "2400,400,800,900", NULL, NULL) == HW_OK &&
        hw_marks_add(&marks, HW_ROLE_PATCH, "c", "1400,1500,700,700", NULL, NULL) == HW_OK;
    for (size_t i = 0; i < runs && good; i++) {
        hw_look *now = NULL;
        hw_carried_marks carried = {0};
        double start = now_ms();
        good = hw_look_take(second, &now, NULL) == HW_OK;
        double middle = now_ms();
        good =
            good && hw_marks_carry(&marks, earlier, now, &carried, NULL) == HW_OK && carried.sure;
        looks[i] = middle - start;
        carries[i] = now_ms() - middle;
        far = good ? farthest(&marks, &carried.marks) : far;
        hw_carried_marks_free(&carried);
        hw_look_free(now);
    }
    if (good) {
        printf("12 megapixels, processor time in ms, median (longest):");
        show_times("look", looks, runs);
        show_times("match, lay on, test", carries, runs);
        printf("; off by %.1f pixels of 4000; decoding this PNG of 16 bit, on the wall: %.0f\n",
               far, decode);
    }
    hw_marks_free(&marks);
    hw_look_free(earlier);
    hw_photo_free(first);
    hw_photo_free(second);
    return good ? 0 : 1;
}
