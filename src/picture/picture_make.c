// picture_make.c: a photo and its light to a picture of linear colour.
//
// What is mixed is straightened linear light, as the law of a mean over an area asks, and it is mixed before the
// correction of its place: that is a matrix, so it can as well be applied to the mean. Curve and straightening
// are one table where the file's channels are those of sRGB; where the profile is no curve and matrix, each row goes
// the long way by hw_photo_xyz, in the caller's thread alone.
//
// The matrix of a place is computed on a grid and laid between its nodes in straight lines. With 128 nodes along the photo
// light that falls by a half over it is less than 1e-5 off between two of them, and a sheet's cells (card.h) have four.
#include "picture_internal.h"

#include <math.h>

static const double nodes_along = 128.0; // the longer side of the photo
static const double same_space =
    5e-5; // a profile whose matrix is that far from sRGB is sRGB: 0.01 CIE76
static const size_t rows_at_once = 16; // a piece of work
static const char doing[] = "correcting the photo";

// ---- The way of a code -------------------------------------------------------------

typedef struct way {
    float *table;       // of the three channels, one after the other; NULL: the long way
    size_t codes;       // in each
    bool to_srgb;       // then by `mix` and the light's curve
    float mix[3][3];    // linear values of the file's channels to linear sRGB
    double after[3][3]; // from what is mixed to X, Y, Z not yet corrected
} way;

static const double unity[3][3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};

static void srgb_matrix(double out[3][3])
{
    for (int channel = 0; channel < 3; channel++) {
        hw_xyz column = hw_xyz_from_linear_srgb(unity[channel]);
        out[0][channel] = column.X;
        out[1][channel] = column.Y;
        out[2][channel] = column.Z;
    }
}

// The file's linear values to linear sRGB.
static void matrix_to_srgb(const double file[3][3], double out[3][3])
{
    for (int channel = 0; channel < 3; channel++) {
        double rgb[3];
        hw_linear_srgb_from_xyz((hw_xyz){file[0][channel], file[1][channel], file[2][channel]},
                                rgb);
        for (int row = 0; row < 3; row++) {
            out[row][channel] = rgb[row];
        }
    }
}

static double farthest(const double one[3][3], const double other[3][3])
{
    double most = 0.0;
    for (int i = 0; i < 9; i++) {
        most = fmax(most, fabs(one[i / 3][i % 3] - other[i / 3][i % 3]));
    }
    return most;
}

// The light's curve taken into the tables.
static void straighten_tables(const hw_light *light, way *out)
{
    for (size_t code = 0; code < out->codes; code++) {
        float rgb[3];
        for (size_t channel = 0; channel < 3; channel++) {
            rgb[channel] = out->table[channel * out->codes + code];
        }
        hw_light_straighten_linear(light, rgb, 1);
        for (size_t channel = 0; channel < 3; channel++) {
            out->table[channel * out->codes + code] = rgb[channel];
        }
    }
}

static bool way_make(const hw_photo *photo, const hw_light *light, way *out)
{
    const double *curve[3];
    double file[3][3], to_srgb[3][3];
    *out = (way){.codes = (size_t)hw_photo_facts_of(photo)->max_code + 1};
    memcpy(out->after, unity, sizeof out->after);
    if (!hw_photo_curves(photo, curve, file)) {
        return true;
    }
    out->table = hw_alloc_array(3 * out->codes, sizeof *out->table);
    if (!out->table) {
        return false;
    }
    for (size_t channel = 0; channel < 3; channel++) {
        for (size_t code = 0; code < out->codes; code++) {
            out->table[channel * out->codes + code] = (float)curve[channel][code];
        }
    }
    memcpy(out->after, file, sizeof out->after);
    if (!light || !light->tone.straightens) {
        return true;
    }
    srgb_matrix(out->after);
    matrix_to_srgb((const double(*)[3])file, to_srgb);
    if (farthest((const double(*)[3])to_srgb, unity) < same_space) {
        straighten_tables(light, out);
        return true;
    }
    out->to_srgb = true;
    for (int i = 0; i < 9; i++) {
        out->mix[i / 3][i % 3] = (float)to_srgb[i / 3][i % 3];
    }
    return true;
}

// ---- The work ----------------------------------------------------------------------

typedef struct room { // of one thread
    uint16_t *codes;  // a row of the frame
    float *linear;    // the same, linear
    float *narrow;    // the same, as narrow as the picture
    float *matrices;  // at the nodes of one row, nine each
    hw_xyz *colours;  // the long way
} room;

typedef struct make {
    const hw_photo *photo;
    const hw_light *light; // or NULL
    way way;
    hw_picture *picture;
    hw_pixel_part *across; // of each column
    float *nodes;          // matrices: node_rows x node_columns, nine each
    size_t node_columns, node_rows, node_step;
    room room[HW_THREADS];
} make;

static void long_way(const make *all, const room *r, size_t y)
{
    const hw_frame *frame = &all->picture->frame;
    hw_photo_codes_xyz(all->photo, frame->x, y, frame->width, r->codes, r->colours);
    if (all->light) {
        hw_light_straighten(all->light, r->colours, frame->width);
    }
    for (size_t i = 0; i < frame->width; i++) {
        r->linear[3 * i] = (float)r->colours[i].X;
        r->linear[3 * i + 1] = (float)r->colours[i].Y;
        r->linear[3 * i + 2] = (float)r->colours[i].Z;
    }
}

// A row of the photo, linear and straightened.
static void read_row(const make *all, const room *r, size_t y)
{
    const hw_frame *frame = &all->picture->frame;
    const way *w = &all->way;
    if (!w->table) {
        long_way(all, r, y);
        return;
    }
    const float *red = w->table, *green = red + w->codes, *blue = green + w->codes;
    hw_photo_codes(all->photo, frame->x, y, frame->width, r->codes);
    for (size_t i = 0; i < frame->width; i++) {
        r->linear[3 * i] = red[r->codes[3 * i]];
        r->linear[3 * i + 1] = green[r->codes[3 * i + 1]];
        r->linear[3 * i + 2] = blue[r->codes[3 * i + 2]];
    }
    if (w->to_srgb) {
        for (size_t i = 0; i < frame->width; i++) {
            float *p = r->linear + 3 * i, a = p[0], b = p[1], c = p[2];
            p[0] = w->mix[0][0] * a + w->mix[0][1] * b + w->mix[0][2] * c;
            p[1] = w->mix[1][0] * a + w->mix[1][1] * b + w->mix[1][2] * c;
            p[2] = w->mix[2][0] * a + w->mix[2][1] * b + w->mix[2][2] * c;
        }
        hw_light_straighten_linear(all->light, r->linear, frame->width);
    }
}

// The nodes of one row of the picture, between those above and below it.
static void matrices_of_row(const make *all, size_t y, float *out)
{
    size_t row = y / all->node_step;
    float t = (float)(y % all->node_step) / (float)all->node_step;
    const float *above = all->nodes + 9 * all->node_columns * row;
    const float *below = above + 9 * all->node_columns;
    for (size_t i = 0; i < 9 * all->node_columns; i++) {
        out[i] = above[i] + t * (below[i] - above[i]);
    }
}

// Mixed light to corrected colour, in place.
static void correct_row(const make *all, const float *matrices, float *row)
{
    size_t width = all->picture->width, step = all->node_step;
    for (size_t start = 0, node = 0; start < width; start += step, node++) {
        const float *left = matrices + 9 * node, *right = left + 9;
        size_t end = width - start < step ? width : start + step;
        for (size_t x = start; x < end; x++) {
            float t = (float)(x - start) / (float)step, m[9];
            float *p = row + 3 * x, a = p[0], b = p[1], c = p[2];
            for (int i = 0; i < 9; i++) {
                m[i] = left[i] + t * (right[i] - left[i]);
            }
            p[0] = m[0] * a + m[1] * b + m[2] * c;
            p[1] = m[3] * a + m[4] * b + m[5] * c;
            p[2] = m[6] * a + m[7] * b + m[8] * c;
        }
    }
}

static void add_row(float *to, const float *row, size_t count, float share)
{
    for (size_t i = 0; i < count; i++) {
        to[i] += share * row[i];
    }
}

static void make_rows(void *context, size_t worker, size_t first, size_t end)
{
    const make *all = context;
    const room *r = &all->room[worker];
    const hw_picture *picture = all->picture;
    size_t values = 3 * picture->width, read = SIZE_MAX;
    for (size_t y = first; y < end; y++) {
        hw_pixel_part p = hw_pixel_part_of(y, picture->scale, picture->frame.height);
        float *row = picture->xyz + y * values;
        for (size_t source = p.first; source <= p.last; source++) {
            float share = source == p.first  ? p.first_share
                          : source == p.last ? p.last_share
                                             : 1.0f;
            if (source != read) { // one that two rows share is read once
                read_row(all, r, picture->frame.y + source);
                hw_pixel_narrow(r->linear, all->across, picture->width, r->narrow);
                read = source;
            }
            add_row(row, r->narrow, values, share * p.over);
        }
        matrices_of_row(all, y, r->matrices);
        correct_row(all, r->matrices, row);
    }
}

// ---- Its parts ---------------------------------------------------------------------

// Node n stands for the middle of pixel n step.
static void fill_nodes(make *all)
{
    const hw_picture *picture = all->picture;
    for (size_t row = 0; row < all->node_rows; row++) {
        for (size_t column = 0; column < all->node_columns; column++) {
            double matrix[3][3], whole[3][3];
            hw_point at = {(double)picture->frame.x +
                               ((double)(column * all->node_step) + 0.5) * picture->scale,
                           (double)picture->frame.y +
                               ((double)(row * all->node_step) + 0.5) * picture->scale};
            memcpy(whole, all->way.after, sizeof whole);
            if (all->light) {
                hw_light_matrix_at(all->light, at, matrix);
                hw_matrix_after((const double(*)[3])matrix, (const double(*)[3])all->way.after,
                                whole);
            }
            float *node = all->nodes + 9 * (row * all->node_columns + column);
            for (int i = 0; i < 9; i++) {
                node[i] = (float)whole[i / 3][i % 3];
            }
        }
    }
}

static bool make_parts(make *all, size_t threads)
{
    hw_picture *picture = all->picture;
    const size_t width = picture->frame.width;
    const hw_photo_facts *facts = hw_photo_facts_of(all->photo);
    double longer = fmax((double)facts->width_px, (double)facts->height_px);
    all->node_step = (size_t)fmax(longer / nodes_along / picture->scale, 1.0);
    all->node_columns = (picture->width - 1) / all->node_step + 2;
    all->node_rows = (picture->height - 1) / all->node_step + 2;
    bool good = way_make(all->photo, all->light, &all->way);
    picture->xyz = hw_alloc_array(picture->width * picture->height, 3 * sizeof *picture->xyz);
    all->across = hw_alloc_array(picture->width, sizeof *all->across);
    all->nodes = hw_alloc_array(all->node_rows * all->node_columns, 9 * sizeof *all->nodes);
    good = good && picture->xyz && all->across && all->nodes;
    for (size_t i = 0; i < threads && good; i++) {
        room *r = &all->room[i];
        r->codes = hw_alloc_array(width, 3 * sizeof *r->codes);
        r->linear = hw_alloc_array(width, 3 * sizeof *r->linear);
        r->narrow = hw_alloc_array(picture->width, 3 * sizeof *r->narrow);
        r->matrices = hw_alloc_array(all->node_columns, 9 * sizeof *r->matrices);
        r->colours = hw_alloc_array(all->way.table ? 0 : width, sizeof *r->colours);
        good = r->codes && r->linear && r->narrow && r->matrices && r->colours;
    }
    return good;
}

static void free_parts(make *all)
{
    hw_free(all->way.table);
    hw_free(all->across);
    hw_free(all->nodes);
    for (size_t i = 0; i < HW_THREADS; i++) {
        hw_free(all->room[i].codes);
        hw_free(all->room[i].linear);
        hw_free(all->room[i].narrow);
        hw_free(all->room[i].matrices);
        hw_free(all->room[i].colours);
    }
}

static hw_status make_picture(make *all, const hw_progress *progress, hw_error *err)
{
    hw_picture *picture = all->picture;
    const hw_watch watch = {progress, doing, 0.0, 1.0};
    const hw_rows rows = {picture->height, rows_at_once, make_rows, all};
    const double *curve[3];
    double matrix[3][3];
    // LittleCMS has its memory from us by a way that threads may not share: the long way goes alone.
    bool alone = !hw_photo_curves(all->photo, curve, matrix);
    if (!make_parts(all, alone ? 1 : HW_THREADS)) {
        return hw_fail_memory(err, doing);
    }
    for (size_t x = 0; x < picture->width; x++) {
        all->across[x] = hw_pixel_part_of(x, picture->scale, picture->frame.width);
    }
    fill_nodes(all);
    return alone ? hw_work_rows(&rows, &watch, err) : hw_share_rows(&rows, &watch, err);
}

// ---- The call ----------------------------------------------------------------------

static hw_status check_frame(const hw_frame *frame, size_t width, size_t height, hw_error *err)
{
    bool there = frame->x < width && frame->y < height && frame->width > 0 && frame->height > 0 &&
                 frame->width <= width - frame->x && frame->height <= height - frame->y;
    return there ? HW_OK
                 : hw_fail(err, HW_ERR_CALL, "frame-empty", "",
                           "Choose a part that lies in the photo.",
                           "a part of %zu x %zu pixels at %zu,%zu does not lie in a photo of %zu x "
                           "%zu pixels",
                           frame->width, frame->height, frame->x, frame->y, width, height);
}

hw_status hw_picture_make(const hw_photo *photo, const hw_light *light, const hw_frame *frame,
                          size_t longer_px, const hw_progress *progress, hw_picture *out,
                          hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    const hw_frame whole = {0, 0, facts->width_px, facts->height_px};
    frame = frame ? frame : &whole;
    hw_status status = check_frame(frame, facts->width_px, facts->height_px, err);
    if (status != HW_OK) {
        return status;
    }
    size_t longer = frame->width > frame->height ? frame->width : frame->height;
    double scale = longer_px > 0 && longer > longer_px ? (double)longer / (double)longer_px : 1.0;
    hw_picture made = {hw_pixel_count(frame->width, scale), hw_pixel_count(frame->height, scale),
                       *frame, scale, NULL};
    make all = {.photo = photo, .light = light, .picture = &made};
    status = make_picture(&all, progress, err);
    free_parts(&all);
    if (status != HW_OK) {
        hw_picture_free(&made);
        return status;
    }
    *out = made;
    return HW_OK;
}
