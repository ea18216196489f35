// sight_dump.c: a small picture as it is and as seen from a distance, for check_sight.py.
//
//   sight_dump WIDTH HEIGHT PIXELS_A_DEGREE    prints sizes, then X Y Z of each pixel, before and after
#include "picture.h"
#include "base_internal.h"
#include "huewright/picture.h"

#include <stdio.h>

// Boards of brown with streaks along them, a pale one let in, noise on all.
static void paint(hw_picture *made)
{
    uint64_t state = 17;
    for (size_t i = 0; i < made->width * made->height; i++) {
        size_t x = i % made->width, y = i / made->width;
        bool in = x > made->width / 3 && x < made->width / 2 && y > made->height / 4;
        double streak = 0.25 * sin(0.9 * (double)y + 2.0 * sin(0.05 * (double)x));
        hw_lab lab = {in ? 60.0 : 40.0 + 6.0 * streak, 12.0, in ? 26.0 : 21.0};
        hw_xyz colour = hw_xyz_from_lab(lab, hw_white_d50);
        double factor = 1.0 + 0.1 * picture_normal(&state);
        made->xyz[3 * i] = (float)(colour.X * factor);
        made->xyz[3 * i + 1] = (float)(colour.Y * factor);
        made->xyz[3 * i + 2] = (float)(colour.Z * factor * (1.0 + 0.1 * picture_normal(&state)));
    }
}

static void print(const hw_picture *made)
{
    printf("%zu %zu\n", made->width, made->height);
    for (size_t i = 0; i < made->width * made->height; i++) {
        const float *p = made->xyz + 3 * i;
        printf("%.9g %.9g %.9g\n", (double)p[0], (double)p[1], (double)p[2]);
    }
}

int main(int count, char **arguments)
{
    if (count != 4) {
        return 2;
    }
    hw_picture made = {.width = strtoul(arguments[1], NULL, 10),
                       .height = strtoul(arguments[2], NULL, 10),
                       .scale = 1.0};
    made.xyz = hw_alloc_array(made.width * made.height, 3 * sizeof *made.xyz);
    if (!made.xyz) {
        return 4;
    }
    paint(&made);
    print(&made);
    if (hw_picture_see(&made, strtod(arguments[3], NULL), NULL, NULL) != HW_OK) {
        return 3;
    }
    print(&made);
    hw_picture_free(&made);
    return 0;
}
