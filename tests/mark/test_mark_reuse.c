// May marks be used again? Made pictures of grained wood: alike, otherwise lit, shifted, turned
// into another piece. The bound itself comes from simulation (0.81 and more when pictures lie
// alike, 0.48 and less when not).
#include "base_internal.h"
#include "check.h"
#include "mark_internal.h"
#include "picture.h"

#define WIDTH  500
#define HEIGHT 360

// Streaks that wander: a figure without repeats, moved by dx, dy; seeds make other wood.
static double figure(double x, double y, unsigned seed)
{
    double sum = 0.0;
    for (int k = 1; k <= 6; k++) {
        sum += sin(y * (0.11 * k + 0.013 * (double)(seed % 7)) + 2.5 * sin(x * 0.013 * k + seed) +
                   k * (double)seed) /
               k;
    }
    return sum;
}

static hw_photo *photo_of(double dx, double dy, double exposure, double patch, unsigned seed,
                          double card_spot, uint64_t noise)
{
    picture made = picture_new(WIDTH, HEIGHT);
    picture_fill(&made, 0, 0, WIDTH, HEIGHT, (hw_lab){50, 12, 25});
    for (size_t y = 0; y < HEIGHT; y++) {
        for (size_t x = 0; x < WIDTH; x++) {
            bool repaired = x >= 200 && x < 280 && y >= 40 && y < 200;
            double light = exposure * exp(0.10 * figure((double)x - dx, (double)y - dy, seed)) *
                           (repaired ? patch : 1.0) * (1.0 + 0.02 * picture_normal(&noise)) *
                           exp(0.0004 * (double)x * (exposure - 1.0));
            for (int k = 0; k < 3; k++) {
                picture_at(&made, x, y)[k] *= light;
            }
        }
    }
    picture_fill(&made, 400, 250, 70, 70, (hw_lab){49.5, 0, 0});
    if (card_spot > 0.0) {
        picture_fill(&made, 400, 250, 35, 70, (hw_lab){card_spot, 10, 20});
    }
    size_t count;
    uint8_t *png = picture_png(&made, &count);
    hw_photo *photo = NULL;
    check_true(hw_photo_decode(png, count, "photo.png", NULL, &photo, NULL) == HW_OK);
    free(png);
    picture_free(&made);
    return photo;
}

static hw_status reuse(hw_photo *now, double *likeness, hw_error *err)
{
    hw_marks marks = {0};
    check_true(hw_marks_add(&marks, HW_ROLE_CARD, "card", "400,250,70,70", NULL, NULL) == HW_OK &&
               hw_marks_add(&marks, HW_ROLE_TARGET, "left", "20,20,160,200", NULL, NULL) == HW_OK &&
               hw_marks_add(&marks, HW_ROLE_TARGET, "right", "300,20,180,200", NULL, NULL) ==
                   HW_OK &&
               hw_marks_add(&marks, HW_ROLE_PATCH, "strip", "200,40,80,160", NULL, NULL) == HW_OK);
    hw_photo *earlier = photo_of(0, 0, 1.0, 1.3, 1, 0, 1);
    hw_status status = hw_marks_reuse(&marks, earlier, now, likeness, err);
    hw_photo_free(earlier);
    hw_photo_free(now);
    hw_marks_free(&marks);
    return status;
}

static void refused(hw_photo *now)
{
    hw_error err = {0};
    double likeness = 9;
    check_true(reuse(now, &likeness, &err) == HW_ERR_CALL);
    check_text(err.code, "marks-moved");
    printf("refused at %.2f: %s\n", likeness, err.what);
}

// A view without old wood has nothing that stands still: said so, not taken for a move.
static void without_old_wood(void)
{
    hw_marks marks = {0};
    hw_error err = {0};
    double likeness = 9;
    check_true(hw_marks_add(&marks, HW_ROLE_CARD, "card", "400,250,70,70", NULL, NULL) == HW_OK &&
               hw_marks_add(&marks, HW_ROLE_PATCH, "strip", "200,40,80,160", NULL, NULL) == HW_OK);
    hw_photo *photo = photo_of(0, 0, 1.0, 1.3, 1, 0, 1);
    check_true(hw_marks_reuse(&marks, photo, photo, &likeness, &err) == HW_ERR_CALL);
    check_holds(err.what, "no old wood is marked in the last photo of this view");
    hw_photo_free(photo);
    hw_marks_free(&marks);
}

int main(void)
{
    double likeness = 0;
    hw_error err = {0};
    check_true(reuse(photo_of(0, 0, 1.0, 1.0, 1, 0, 2), &likeness, &err) ==
               HW_OK); // the strip is darker now
    check_true(likeness > 0.81);
    check_true(reuse(photo_of(0, 0, 0.6, 1.0, 1, 0, 3), &likeness, &err) ==
               HW_OK); // other exposure, light falls
    check_true(likeness > 0.81);
    check_true(reuse(photo_of(0.4, 0.3, 1.0, 1.0, 1, 0, 4), &likeness, &err) ==
               HW_OK);                            // half a pixel
    refused(photo_of(15, 11, 1.0, 1.0, 1, 0, 5)); // 3 % of the frame
    refused(photo_of(0, 0, 1.0, 1.0, 4, 0, 6));   // another piece
    refused(photo_of(0, 0, 1.0, 1.0, 1, 20, 7));  // the card was moved half away
    picture small = picture_new(300, 300);        // another size
    picture_fill(&small, 0, 0, 300, 300, (hw_lab){50, 12, 25});
    size_t count;
    uint8_t *png = picture_png(&small, &count);
    hw_photo *photo = NULL;
    check_true(hw_photo_decode(png, count, "small.png", NULL, &photo, NULL) == HW_OK);
    refused(photo);
    free(png);
    picture_free(&small);
    without_old_wood();
    return check_done();
}
