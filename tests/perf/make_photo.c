// make_photo.c: a 4000 x 3000 picture of grained boards with a grey card, as PPM on standard
// output, for the benchmark (its colours are of no account, its detail is: JPEG time follows
// detail).
#include "picture.h"

#include <stdio.h>

int main(void)
{
    const size_t width = 4000, height = 3000;
    uint8_t *row = malloc(width * 3);
    double *figure = calloc(width, sizeof *figure);
    uint64_t seed = 1;
    // Card, white step, black step: L* 49.5, 95, 22 (IEC 61966-2-1).
    const struct {
        size_t x, width, code;
    } plain[3] = {{200, 400, 118}, {200, 190, 240}, {410, 190, 54}};
    printf("P6\n%zu %zu\n255\n", width, height);
    for (size_t y = 0; y < height; y++) {
        for (size_t x = 0; x < width; x++) {
            size_t first = y < 500 ? 0 : 1, card = 0;
            for (size_t i = first; i < (first == 0 ? 1 : 3); i++) {
                bool inside =
                    x >= plain[i].x && x < plain[i].x + plain[i].width && y >= 200 && y < 700;
                card = inside ? plain[i].code : card;
            }
            figure[x] = 0.97 * figure[x] + 0.24 * (picture_random(&seed) - 0.5);
            double light = exp(0.5 * figure[x] + 0.05 * (double)(x / 800));
            double noise = 3.0 * (picture_random(&seed) - 0.5);
            row[3 * x] = (uint8_t)fmin(255, (card ? (double)card : 120 * light) + noise);
            row[3 * x + 1] = (uint8_t)fmin(255, (card ? (double)card : 88 * light) + noise);
            row[3 * x + 2] = (uint8_t)fmin(255, (card ? (double)card : 60 * light) + noise);
        }
        fwrite(row, 3, width, stdout);
    }
    free(row);
    free(figure);
    return 0;
}
