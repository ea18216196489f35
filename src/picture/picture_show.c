// picture_show.c: linear colour as a screen shows it: sRGB (IEC 61966-2-1), 8 bit; D50 to D65 by Bradford.
//
// A code changes where the light passes a threshold; between two of 4096 steps of light lies one threshold at most
// (the curve's steepest part is 0.81 codes a step). So a code is a step's first one, or the next: exact, without a power.
#include "picture_internal.h"

enum { STEPS = 4096, ROWS_AT_ONCE = 32 };

typedef struct show {
    const hw_picture *picture;
    uint8_t *rgb;
    float matrix[3][3];      // X, Y, Z to linear sRGB
    float threshold[257];    // light from which code - 1 becomes code; of 256: never
    uint8_t code[STEPS + 1]; // at the start of each step
} show;

static void fill(show *all)
{
    const hw_xyz unit[3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    for (int column = 0; column < 3; column++) {
        double rgb[3];
        hw_linear_srgb_from_xyz(unit[column], rgb);
        for (int row = 0; row < 3; row++) {
            all->matrix[row][column] = (float)rgb[row];
        }
    }
    all->threshold[0] = 0.0f;
    for (int code = 1; code < 256; code++) {
        all->threshold[code] = (float)hw_srgb_linear((code - 0.5) / 255.0);
    }
    all->threshold[256] = 2.0f;
    size_t code = 0;
    for (size_t step = 0; step <= STEPS; step++) {
        while ((float)step / STEPS >= all->threshold[code + 1]) {
            code++;
        }
        all->code[step] = (uint8_t)code;
    }
}

static uint8_t encode(const show *all, float light)
{
    light = light > 0.0f ? light : 0.0f; // also where it is no number
    light = light < 1.0f ? light : 1.0f;
    unsigned code = all->code[(size_t)(light * STEPS)];
    return (uint8_t)(code + (light >= all->threshold[code + 1]));
}

static void show_rows(void *context, size_t worker, size_t first, size_t end)
{
    const show *all = context;
    const float(*m)[3] = all->matrix;
    (void)worker;
    for (size_t i = first * all->picture->width; i < end * all->picture->width; i++) {
        const float *p = all->picture->xyz + 3 * i;
        for (size_t channel = 0; channel < 3; channel++) {
            all->rgb[3 * i + channel] =
                encode(all, m[channel][0] * p[0] + m[channel][1] * p[1] + m[channel][2] * p[2]);
        }
    }
}

hw_status hw_picture_show(const hw_picture *picture, hw_shown *out, hw_error *err)
{
    show all = {.picture = picture};
    const hw_rows rows = {picture->height, ROWS_AT_ONCE, show_rows, &all};
    all.rgb = hw_alloc_array(picture->width * picture->height, 3);
    if (!all.rgb) {
        return hw_fail_memory(err, "showing the picture");
    }
    fill(&all);
    hw_status status = hw_share_rows(&rows, NULL, err);
    if (status != HW_OK) { // nobody watches, so nobody stops it
        hw_free(all.rgb);
        return status;
    }
    *out = (hw_shown){picture->width, picture->height, picture->frame, picture->scale, all.rgb};
    return HW_OK;
}
