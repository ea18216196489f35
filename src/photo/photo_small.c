// photo_small.c: the whole picture, small: what shapes are looked for in.
//
// Codes are averaged, not light: some 40 ms for 12 megapixels in one thread, whatever the profile, and shapes do not mind.
// Colours to be believed are read from the photo itself.
#include "base_internal.h"
#include "photo_internal.h"

#include <math.h>

// Which source pixels make up each pixel along one side, and how much of the first and last.
typedef struct part {
    size_t first, last;
    float first_share, last_share; // of a source pixel; the same one: only the first counts
} part;

static part part_of(size_t at, double scale, size_t source)
{
    double start = (double)at * scale, end = start + scale;
    part p = {.first = (size_t)start, .last = (size_t)end};
    p.last = p.last < source ? p.last : source - 1;
    p.first = p.first < p.last ? p.first : p.last;
    p.first_share = (float)fmin((double)p.first + 1.0 - start, scale);
    p.last_share = p.last > p.first ? (float)fmin(end - (double)p.last, 1.0) : 0.0f;
    return p;
}

// Channels, and one more, the next pixel's first: four at once are as quick as one. Rows have room for it.
enum { LANES = 4 };

enum { ROWS_AT_ONCE = 32 }; // of the small picture, by a thread

// One row of the photo brought down along x: sums of codes, three a pixel.
static void narrow(const float *codes, const part *parts, size_t width, float *row)
{
    for (size_t x = 0; x < width; x++) {
        const part p = parts[x];
        float sum[LANES];
        for (size_t lane = 0; lane < LANES; lane++) {
            sum[lane] =
                p.first_share * codes[3 * p.first + lane] + p.last_share * codes[3 * p.last + lane];
        }
        for (size_t i = p.first + 1; i < p.last; i++) {
            for (size_t lane = 0; lane < LANES; lane++) {
                sum[lane] += codes[3 * i + lane];
            }
        }
        memcpy(row + 3 * x, sum, sizeof sum); // the next pixel's are written over
    }
}

static void add_row(float *to, const float *row, size_t count, float share)
{
    for (size_t i = 0; i < count; i++) {
        to[i] += share * row[i];
    }
}

// Of each thread.
typedef struct room {
    uint16_t *codes; // a row of the photo
    float *values;   // the same
    float *row;      // a row of the photo, as narrow as the small one
    hw_xyz *colours; // a row of the small one
} room;

typedef struct work {
    const hw_photo *photo;
    hw_photo_small *out;
    part *parts; // along x
    room room[HW_THREADS];
    size_t rooms;
} work;

static void read_row(const work *all, const room *r, size_t y)
{
    size_t width = hw_photo_facts_of(all->photo)->width_px;
    hw_photo_codes(all->photo, 0, y, width, r->codes);
    for (size_t i = 0; i < 3 * width; i++) {
        r->values[i] = (float)r->codes[i];
    }
    narrow(r->values, all->parts, all->out->width, r->row);
}

// Leaves in r->row what row *read of the photo gives.
static void sum_codes(const work *all, const room *r, size_t y, size_t *read)
{
    hw_photo_small *out = all->out;
    part p = part_of(y, out->scale, hw_photo_facts_of(all->photo)->height_px);
    for (size_t source = p.first; source <= p.last; source++) {
        if (source != *read) { // rows that two share come one after the other
            read_row(all, r, source);
            *read = source;
        }
        float share = source == p.first ? p.first_share : source == p.last ? p.last_share : 1.0f;
        add_row(out->code + 3 * y * out->width, r->row, 3 * out->width, share);
    }
}

static void colour_row(const work *all, const room *r, size_t y)
{
    const hw_photo_facts *facts = hw_photo_facts_of(all->photo);
    hw_photo_small *out = all->out;
    const float most = (float)facts->max_code;
    const double wide = fmin(out->scale, (double)facts->width_px);
    const double high = fmin(out->scale, (double)facts->height_px); // of a thread of a picture
    const float each = (float)(1.0 / (wide * high));
    float *code = out->code + 3 * y * out->width, *xyz = out->xyz + 3 * y * out->width;
    for (size_t i = 0; i < 3 * out->width; i++) {
        float mean = fminf(code[i] * each, most);
        r->codes[i] = (uint16_t)(mean + 0.5f);
        code[i] = mean / most;
    }
    hw_photo_xyz_of_codes(all->photo, r->codes, out->width, r->colours);
    for (size_t x = 0; x < out->width; x++) {
        xyz[3 * x] = (float)r->colours[x].X;
        xyz[3 * x + 1] = (float)r->colours[x].Y;
        xyz[3 * x + 2] = (float)r->colours[x].Z;
    }
}

static void make_rows(void *context, size_t worker, size_t first, size_t end)
{
    const work *all = context;
    size_t read = SIZE_MAX;
    for (size_t y = first; y < end; y++) {
        sum_codes(all, &all->room[worker], y, &read);
        colour_row(all, &all->room[worker], y);
    }
}

static bool make_room(work *all)
{
    size_t source = hw_photo_facts_of(all->photo)->width_px, width = all->out->width;
    all->parts = hw_alloc_array(width, sizeof *all->parts);
    bool good = all->parts != NULL;
    for (size_t i = 0; i < all->rooms && good; i++) {
        room *r = &all->room[i];
        r->codes = hw_alloc_array(source, 3 * sizeof *r->codes);
        r->values = hw_alloc_array(source + 1, 3 * sizeof *r->values);
        r->row = hw_alloc_array(width + 1, 3 * sizeof *r->row);
        r->colours = hw_alloc_array(width, sizeof *r->colours);
        good = r->codes && r->values && r->row && r->colours;
    }
    for (size_t x = 0; x < width && good; x++) {
        all->parts[x] = part_of(x, all->out->scale, source);
    }
    return good;
}

static void free_room(work *all)
{
    hw_free(all->parts);
    for (size_t i = 0; i < all->rooms; i++) {
        hw_free(all->room[i].codes);
        hw_free(all->room[i].values);
        hw_free(all->room[i].row);
        hw_free(all->room[i].colours);
    }
}

// Threads share the rows where they may share the photo's way to colour (see picture_make.c).
static bool fill(const hw_photo *photo, hw_photo_small *out)
{
    const double *curve[3];
    double matrix[3][3];
    bool alone = !hw_photo_curves(photo, curve, matrix);
    work all = {.photo = photo, .out = out, .rooms = alone ? 1 : HW_THREADS};
    const hw_rows rows = {out->height, ROWS_AT_ONCE, make_rows, &all};
    bool good = make_room(&all) && (alone ? hw_work_rows(&rows, NULL, NULL)
                                          : hw_share_rows(&rows, NULL, NULL)) == HW_OK;
    free_room(&all);
    return good;
}

hw_status hw_photo_make_small(const hw_photo *photo, size_t longer_px, hw_photo_small *out,
                              hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    size_t longer = facts->width_px > facts->height_px ? facts->width_px : facts->height_px;
    double scale = longer > longer_px ? (double)longer / (double)longer_px : 1.0;
    hw_photo_small made = {.scale = scale};
    made.width = (size_t)fmax(1.0, floor((double)facts->width_px / scale + 1e-9));
    made.height = (size_t)fmax(1.0, floor((double)facts->height_px / scale + 1e-9));
    made.code = hw_alloc_array(made.width * made.height, 3 * sizeof *made.code);
    made.xyz = hw_alloc_array(made.width * made.height, 3 * sizeof *made.xyz);
    if (!made.code || !made.xyz || !fill(photo, &made)) {
        hw_photo_small_free(&made);
        return hw_fail_memory(err, "looking at the whole photo");
    }
    *out = made;
    return HW_OK;
}

void hw_photo_small_free(hw_photo_small *small)
{
    hw_free(small->code);
    hw_free(small->xyz);
    *small = (hw_photo_small){0};
}
