// mark_gauss.c: a picture blurred by a Gaussian.
//
// First down the columns, then along the rows; beyond an edge the picture goes on as it ends. Weights reach four standard
// deviations and sum to 1. Each sum runs from one end of the weights to the other, whatever the machine and however many
// threads, so blurs are the same everywhere, and those of libvlfeat, which makes one pixel after the other. Here a row is
// made at once: compilers do several pixels at a time, and threads share the rows.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

enum { ROWS_AT_ONCE = 16 };

typedef struct gauss {
    const float *from;
    float *to;
    size_t width, height;
    float *weight; // of -reach to reach
    size_t reach;
    float *room; // of each thread a row, drawn out by the reach at both ends
} gauss;

static void make_weights(double deviation, gauss *g)
{
    float sum = 0.0f;
    for (size_t i = 0; i <= 2 * g->reach; i++) {
        float far = ((float)i - (float)g->reach) / (float)deviation;
        g->weight[i] = (float)exp(-0.5 * (double)(far * far));
        sum += g->weight[i];
    }
    for (size_t i = 0; i <= 2 * g->reach; i++) {
        g->weight[i] /= sum;
    }
}

HW_WIDE static void add_times(float *restrict sum, const float *restrict row, float weight,
                              size_t count)
{
    for (size_t x = 0; x < count; x++) {
        sum[x] += row[x] * weight;
    }
}

static void sum_columns(const gauss *g, size_t y, float *row)
{
    memset(row, 0, g->width * sizeof *row);
    for (size_t i = 0; i <= 2 * g->reach; i++) {
        size_t at = y + i > g->reach ? y + i - g->reach : 0;
        at = at < g->height ? at : g->height - 1;
        add_times(row, g->from + at * g->width, g->weight[i], g->width);
    }
}

static void sum_row(const gauss *g, float *drawn_out, float *to)
{
    float *row = drawn_out + g->reach;
    for (size_t i = 0; i < g->reach; i++) {
        drawn_out[i] = row[0];
        row[g->width + i] = row[g->width - 1];
    }
    memset(to, 0, g->width * sizeof *to);
    for (size_t i = 0; i <= 2 * g->reach; i++) {
        add_times(to, drawn_out + i, g->weight[i], g->width);
    }
}

static void blur_rows(void *context, size_t worker, size_t first, size_t end)
{
    const gauss *g = context;
    float *drawn_out = g->room + worker * (g->width + 2 * g->reach);
    for (size_t y = first; y < end; y++) {
        sum_columns(g, y, drawn_out + g->reach);
        sum_row(g, drawn_out, g->to + y * g->width);
    }
}

bool hw_gauss_blur(const float *from, size_t width, size_t height, double deviation, float *to)
{
    gauss g = {.from = from, .to = to, .width = width, .height = height};
    g.reach = (size_t)fmax(ceil(4.0 * deviation), 1.0);
    g.weight = hw_alloc_array(2 * g.reach + 1, sizeof *g.weight);
    g.room = hw_alloc_array(HW_THREADS, (width + 2 * g.reach) * sizeof *g.room);
    bool good = g.weight && g.room;
    if (good) {
        const hw_rows rows = {height, ROWS_AT_ONCE, blur_rows, &g};
        make_weights(deviation, &g);
        good = hw_share_rows(&rows, NULL, NULL) == HW_OK;
    }
    hw_free(g.weight);
    hw_free(g.room);
    return good;
}
