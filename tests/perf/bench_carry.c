// bench_carry.c: processor time of carrying marks to a photo of 12 megapixels, given what was kept of the last one; decoding
// is told apart. The same pairs by OpenCV: tests/accuracy/check_carry_opencv.py. To reach: 1 second.
//
//   bench_carry [RUNS]
#include "bench.h"
#include "picture.h"
#include "huewright/mark.h"

#define SPOTS 9000

// Spotted boards of 4000 x 3000 pixels, seen from a little elsewhere where `moved`.
static hw_photo *photo_of(bool moved, double *decode_ms)
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

int main(int count, char **arguments)
{
    size_t runs = count > 1 ? strtoul(arguments[1], NULL, 10) : 7;
    double decode, looks[99], carries[99];
    runs = runs < 1 ? 1 : runs > 99 ? 99 : runs;
    hw_photo *first = photo_of(false, &decode), *second = photo_of(true, &decode);
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
        hw_carried_marks_free(&carried);
        hw_look_free(now);
    }
    if (good) {
        printf("12 megapixels, processor time in ms, median (longest):");
        show_times("look", looks, runs);
        show_times("match, lay on, test", carries, runs);
        printf("; decoding this PNG of 16 bit, on the wall: %.0f\n", decode);
    }
    hw_marks_free(&marks);
    hw_look_free(earlier);
    hw_photo_free(first);
    hw_photo_free(second);
    return good ? 0 : 1;
}
