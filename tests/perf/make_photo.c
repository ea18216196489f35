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
    printf("P6\n%zu %zu\n255\n", width, height);
    for (size_t y = 0; y < height; y++) {
        for (size_t x = 0; x < width; x++) {
            bool card = x >= 200 && x < 600 && y >= 200 && y < 500;
            figure[x] = 0.97 * figure[x] + 0.24 * (picture_random(&seed) - 0.5);
            double light = card ? 1.0 : exp(0.5 * figure[x] + 0.05 * (double)(x / 800));
            double noise = 3.0 * (picture_random(&seed) - 0.5);
            row[3 * x] = (uint8_t)fmin(255, (card ? 118 : 120 * light) + noise);
            row[3 * x + 1] = (uint8_t)fmin(255, (card ? 118 : 88 * light) + noise);
            row[3 * x + 2] = (uint8_t)fmin(255, (card ? 118 : 60 * light) + noise);
        }
        fwrite(row, 3, width, stdout);
    }
    free(row);
    free(figure);
    return 0;
}
