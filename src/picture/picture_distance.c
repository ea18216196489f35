// picture_distance.c: the picture as it is once the eye has mixed what it cannot tell apart: S-CIELAB (Zhang and Wandell
// 1997, J. SID 5(1) 61).
//
// X, Y, Z to an opponent space (Poirson and Wandell 1993), light, red-green and blue-yellow; each channel filtered by
// its own sum of Gaussians; and back. Widths are full widths at half of the height, degrees; here the s.d. is width times pixels a
// degree / 2.3548. (The authors' program takes a pixel off the width first; ours is the analytic form.)
//
// What always holds: a flat picture stays as it is, for the weights of a channel sum to 1. The widest Gaussian of light, 7
// degrees with a weight below 0, only has a meaning where so much is seen: in a smaller picture it is left out and the other two
// are scaled to sum to 1. Beyond the edge the picture goes on mirrored.
//
// A wide Gaussian is laid on a smaller copy, of means of squares, and drawn up in straight lines; what these two blur
// by themselves is taken off its variance. A narrow one, of less than 0.6 pixels, is three taps of its variance: samples of
// the curve would have less of it.
#include "picture_internal.h"

#include <math.h>

static const char doing[] = "looking from a distance";
enum { GAUSSIANS = 3, PIECE = 512, ROWS_AT_ONCE = 8, TAPS_MOST = 64 }; // 3.7 x 2 copy_sd and some

static const double sharpest =
    60.0; // pixels a degree: more is no more to the eye (Nyquist at 30 cycles)
static const double field_deg = 7.0;     // least side of a picture for the widest Gaussian
static const double taps_sd = 3.7;       // how far out a Gaussian goes: 2e-4 of it lies beyond
static const double sampled_least = 0.6; // s.d., pixels: below, three taps
static const double copy_sd = 6.0;       // s.d. on a smaller copy, pixels of it: errors below 1e-3
static const double box_variance = 1.0 / 12.0; // of a pixel's square, pixels squared
static const double line_variance = 1.0 / 6.0; // of straight lines between pixels, on the average
static const double half_height =
    2.354820045; // full width at half height over s.d., 2 sqrt(2 ln 2)

// The second row's last value is printed with the other sign in some papers; the authors' program has this one.
static const double opponent[3][3] = {{0.2787336, 0.7218031, -0.1065520},
                                      {-0.4487736, 0.2898056, 0.0771569},
                                      {0.0859513, -0.5899859, 0.5011089}};

static const struct {
    double width_deg[GAUSSIANS], weight[GAUSSIANS];
} channels[3] = {{{0.05, 0.225, 7.0}, {1.00327, 0.114416, -0.117686}},
                 {{0.0685, 0.826, 0.0}, {0.616725, 0.383275, 0.0}},
                 {{0.0920, 0.6451, 0.0}, {0.567885, 0.432115, 0.0}}};

double hw_sight_px(double pixel_mm, double distance_mm)
{
    return 1.0 / (atan(pixel_mm / distance_mm) * (180.0 / 3.14159265358979323846));
}

// ---- Taps --------------------------------------------------------------------------

// Of one side, the middle first; both sides and the middle sum to 1. Returns how many beside the middle.
static size_t make_taps(double variance, float *taps)
{
    double sd = sqrt(fmax(variance, 0.0)), sum = 1.0;
    if (sd < sampled_least) {
        taps[0] = (float)(1.0 - fmax(variance, 0.0));
        taps[1] = (float)(0.5 * fmax(variance, 0.0));
        return 1;
    }
    size_t count = (size_t)ceil(taps_sd * sd);
    for (size_t i = 1; i <= count; i++) {
        sum += 2.0 * exp(-0.5 * (double)(i * i) / variance);
    }
    for (size_t i = 0; i <= count; i++) {
        taps[i] = (float)(exp(-0.5 * (double)(i * i) / variance) / sum);
    }
    return count;
}

// ---- One Gaussian over one plane ---------------------------------------------------

typedef struct plane {
    size_t width, height;
    float *value;
} plane;

// Mirrored at the edges, as often as it takes: ... b a | a b c | c b ...
static size_t mirrored(ptrdiff_t at, size_t count)
{
    ptrdiff_t period = 2 * (ptrdiff_t)count;
    at = (at % period + period) % period;
    return (size_t)(at < (ptrdiff_t)count ? at : period - 1 - at);
}

typedef struct blur {
    const plane *from;
    plane *to;
    const float *taps;
    size_t count;            // beside the middle
    float *edge[HW_THREADS]; // a row of `from` with `count` more at each end
} blur;

static void add_pairs(float *restrict out, const float *restrict before,
                      const float *restrict after, float tap, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        out[i] += tap * (before[i] + after[i]);
    }
}

static void along_rows(void *context, size_t worker, size_t first, size_t end)
{
    const blur *b = context;
    size_t width = b->from->width;
    float *edge = b->edge[worker];
    for (size_t y = first; y < end; y++) {
        const float *row = b->from->value + y * width;
        float *out = b->to->value + y * width;
        for (size_t i = 0; i < b->count; i++) {
            edge[i] = row[mirrored((ptrdiff_t)i - (ptrdiff_t)b->count, width)];
            edge[b->count + width + i] = row[mirrored((ptrdiff_t)(width + i), width)];
        }
        memcpy(edge + b->count, row, width * sizeof *row);
        for (size_t x = 0; x < width; x++) {
            out[x] = b->taps[0] * row[x];
        }
        for (size_t i = 1; i <= b->count; i++) {
            add_pairs(out, edge + b->count - i, edge + b->count + i, b->taps[i], width);
        }
    }
}

// The same down the columns, a row's piece at a time; into `piece`.
static void column_piece(const blur *b, size_t y, size_t start, size_t count, float *piece)
{
    const float *value = b->from->value;
    size_t width = b->from->width, height = b->from->height;
    const float *row = value + y * width + start;
    for (size_t x = 0; x < count; x++) {
        piece[x] = b->taps[0] * row[x];
    }
    for (size_t i = 1; i <= b->count; i++) {
        size_t above = mirrored((ptrdiff_t)y - (ptrdiff_t)i, height);
        size_t below = mirrored((ptrdiff_t)(y + i), height);
        add_pairs(piece, value + above * width + start, value + below * width + start, b->taps[i],
                  count);
    }
}

static void down_columns(void *context, size_t worker, size_t first, size_t end)
{
    const blur *b = context;
    size_t width = b->from->width;
    (void)worker;
    for (size_t y = first; y < end; y++) {
        for (size_t start = 0; start < width; start += PIECE) {
            size_t count = width - start < PIECE ? width - start : PIECE;
            column_piece(b, y, start, count, b->to->value + y * width + start);
        }
    }
}

// ---- Into and out of the picture ---------------------------------------------------

typedef struct see {
    hw_picture *picture;
    double px_per_degree, box; // variance of the squares by which the picture was made smaller
    plane source, between;     // of the picture's size
    plane copy, blurred;       // smaller
    float *edge[HW_THREADS];
    double to_lay, laid; // Gaussians
    // Of the Gaussian that is being laid on.
    size_t channel;
    float weight;
    size_t factor; // by which the copy is smaller
    float taps[TAPS_MOST];
    size_t count; // of taps beside the middle
} see;

static void turn_rows(hw_picture *picture, const double m[3][3], size_t first, size_t end)
{
    for (size_t i = first * picture->width; i < end * picture->width; i++) {
        float *p = picture->xyz + 3 * i;
        double a = (double)p[0], b = (double)p[1], c = (double)p[2];
        for (int r = 0; r < 3; r++) {
            p[r] = (float)(m[r][0] * a + m[r][1] * b + m[r][2] * c);
        }
    }
}

static void to_opponent(void *context, size_t worker, size_t first, size_t end)
{
    const see *all = context;
    (void)worker;
    turn_rows(all->picture, opponent, first, end);
}

// Inverse by cofactors.
static void from_opponent(void *context, size_t worker, size_t first, size_t end)
{
    const see *all = context;
    double back[3][3], determinant = 0.0;
    (void)worker;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            int r1 = (r + 1) % 3, r2 = (r + 2) % 3, c1 = (c + 1) % 3, c2 = (c + 2) % 3;
            back[c][r] = opponent[r1][c1] * opponent[r2][c2] - opponent[r1][c2] * opponent[r2][c1];
        }
        determinant += opponent[0][r] * back[r][0];
    }
    for (int i = 0; i < 9; i++) {
        back[i / 3][i % 3] /= determinant;
    }
    turn_rows(all->picture, (const double(*)[3])back, first, end);
}

// The channel into a plane of its own; the picture's is made empty for what comes.
static void take_channel(void *context, size_t worker, size_t first, size_t end)
{
    const see *all = context;
    (void)worker;
    for (size_t i = first * all->source.width; i < end * all->source.width; i++) {
        float *value = all->picture->xyz + 3 * i + all->channel;
        all->source.value[i] = *value;
        *value = 0.0f;
    }
}

// The second half of a Gaussian, straight into the picture.
static void add_columns(void *context, size_t worker, size_t first, size_t end)
{
    const see *all = context;
    const blur b = {.from = &all->between, .taps = all->taps, .count = all->count};
    size_t width = all->between.width;
    float piece[PIECE];
    (void)worker;
    for (size_t y = first; y < end; y++) {
        for (size_t start = 0; start < width; start += PIECE) {
            size_t count = width - start < PIECE ? width - start : PIECE;
            float *out = all->picture->xyz + 3 * (y * width + start) + all->channel;
            column_piece(&b, y, start, count, piece);
            for (size_t x = 0; x < count; x++) {
                out[3 * x] += all->weight * piece[x];
            }
        }
    }
}

// ---- Wide ones ---------------------------------------------------------------------

static void shrink_rows(void *context, size_t worker, size_t first, size_t end)
{
    const see *all = context;
    const plane *from = &all->source;
    size_t each = all->factor;
    (void)worker;
    for (size_t y = first; y < end; y++) {
        size_t bottom = (y + 1) * each < from->height ? (y + 1) * each : from->height;
        for (size_t x = 0; x < all->copy.width; x++) {
            size_t right = (x + 1) * each < from->width ? (x + 1) * each : from->width;
            float sum = 0.0f;
            for (size_t v = y * each; v < bottom; v++) {
                for (size_t u = x * each; u < right; u++) {
                    sum += from->value[v * from->width + u];
                }
            }
            all->copy.value[y * all->copy.width + x] =
                sum / (float)((bottom - y * each) * (right - x * each));
        }
    }
}

// Where a pixel of the picture lies between those of the copy.
static size_t between(size_t at, size_t factor, size_t count, float *part)
{
    double place = ((double)at + 0.5) / (double)factor - 0.5;
    place = fmin(fmax(place, 0.0), (double)count - 1.0);
    size_t low = (size_t)place;
    low = low + 1 < count ? low : (count > 1 ? count - 2 : 0);
    *part = (float)(place - (double)low);
    return low;
}

static void add_copy(void *context, size_t worker, size_t first, size_t end)
{
    const see *all = context;
    const plane *copy = &all->copy;
    float *line = all->edge[worker];
    for (size_t y = first; y < end; y++) {
        float t, s;
        size_t row = between(y, all->factor, copy->height, &t);
        const float *above = copy->value + row * copy->width;
        const float *below = copy->height > 1 ? above + copy->width : above;
        float *out = all->picture->xyz + 3 * y * all->picture->width + all->channel;
        for (size_t x = 0; x < copy->width; x++) {
            line[x] = above[x] + t * (below[x] - above[x]);
        }
        line[copy->width] = line[copy->width - 1];
        for (size_t x = 0; x < all->picture->width; x++) {
            size_t column = between(x, all->factor, copy->width, &s);
            out[3 * x] += all->weight * (line[column] + s * (line[column + 1] - line[column]));
        }
    }
}

static hw_status share(size_t rows, void (*work)(void *, size_t, size_t, size_t), void *context,
                       const hw_watch *watch, hw_error *err)
{
    const hw_rows all = {rows, ROWS_AT_ONCE, work, context};
    return hw_share_rows(&all, watch, err);
}

static hw_status lay_wide(see *all, double variance, const hw_watch *watch, hw_error *err)
{
    double each = (double)all->factor;
    all->copy.width = all->blurred.width = (all->source.width - 1) / all->factor + 1;
    all->copy.height = all->blurred.height = (all->source.height - 1) / all->factor + 1;
    all->count = make_taps(variance / (each * each) - box_variance - line_variance, all->taps);
    blur across = {.from = &all->copy, .to = &all->blurred, .taps = all->taps, .count = all->count};
    blur down = {.from = &all->blurred, .to = &all->copy, .taps = all->taps, .count = all->count};
    memcpy(across.edge, all->edge, sizeof across.edge);
    hw_status status = share(all->copy.height, shrink_rows, all, NULL, err);
    if (status == HW_OK) {
        status = share(all->copy.height, along_rows, &across, NULL, err);
    }
    if (status == HW_OK) {
        status = share(all->copy.height, down_columns, &down, NULL, err);
    }
    return status == HW_OK ? share(all->picture->height, add_copy, all, watch, err) : status;
}

// ---- All of them -------------------------------------------------------------------

static hw_status lay_narrow(see *all, double variance, const hw_watch *watch, hw_error *err)
{
    all->count = make_taps(variance, all->taps);
    blur across = {
        .from = &all->source, .to = &all->between, .taps = all->taps, .count = all->count};
    memcpy(across.edge, all->edge, sizeof across.edge);
    hw_status status = share(all->source.height, along_rows, &across, NULL, err);
    return status == HW_OK ? share(all->source.height, add_columns, all, watch, err) : status;
}

static bool is_wide_enough(const see *all)
{
    size_t least = all->source.width < all->source.height ? all->source.width : all->source.height;
    return (double)least >= field_deg * all->px_per_degree;
}

static bool has_meaning(const see *all, size_t channel, size_t gaussian)
{
    return channels[channel].width_deg[gaussian] > 0.0 &&
           (channel > 0 || gaussian < 2 || is_wide_enough(all));
}

static double count_gaussians(const see *all)
{
    double count = 0.0;
    for (size_t channel = 0; channel < 3; channel++) {
        for (size_t i = 0; i < GAUSSIANS; i++) {
            count += has_meaning(all, channel, i) ? 1.0 : 0.0;
        }
    }
    return count;
}

static double sum_of_weights(const see *all)
{
    double sum = 0.0;
    for (size_t i = 0; i < GAUSSIANS; i++) {
        sum += has_meaning(all, all->channel, i) ? channels[all->channel].weight[i] : 0.0;
    }
    return sum;
}

static hw_status see_channel(see *all, const hw_progress *progress, hw_error *err)
{
    const double *width = channels[all->channel].width_deg, *weight = channels[all->channel].weight;
    double whole = sum_of_weights(all);
    hw_status status = share(all->source.height, take_channel, all, NULL, err);
    for (size_t i = 0; i < GAUSSIANS && status == HW_OK; i++) {
        double sd = width[i] * all->px_per_degree / half_height;
        double variance = sd * sd - all->box;
        const hw_watch watch = {progress, doing, all->laid / all->to_lay,
                                (all->laid + 1.0) / all->to_lay};
        if (!has_meaning(all, all->channel, i)) {
            continue;
        }
        all->weight = (float)(weight[i] / whole);
        all->factor = (size_t)(sd / copy_sd);
        status = all->factor >= 2 ? lay_wide(all, variance, &watch, err)
                                  : lay_narrow(all, variance, &watch, err);
        all->laid += 1.0;
    }
    return status;
}

static bool make_room(see *all)
{
    size_t width = all->picture->width, height = all->picture->height;
    size_t half = (width / 2 + 1) * (height / 2 + 1);
    all->source = (plane){width, height, hw_alloc_array(width * height, sizeof(float))};
    all->between = (plane){width, height, hw_alloc_array(width * height, sizeof(float))};
    all->copy.value = hw_alloc_array(half, sizeof(float));
    all->blurred.value = hw_alloc_array(half, sizeof(float));
    bool good = all->source.value && all->between.value && all->copy.value && all->blurred.value;
    for (size_t i = 0; i < HW_THREADS && good; i++) {
        all->edge[i] = hw_alloc_array(width + 2 * TAPS_MOST, sizeof(float));
        good = all->edge[i] != NULL;
    }
    return good;
}

static void free_room(see *all)
{
    hw_free(all->source.value);
    hw_free(all->between.value);
    hw_free(all->copy.value);
    hw_free(all->blurred.value);
    for (size_t i = 0; i < HW_THREADS; i++) {
        hw_free(all->edge[i]);
    }
}

static hw_status see_all(see *all, const hw_progress *progress, hw_error *err)
{
    hw_status status = make_room(all) ? share(all->picture->height, to_opponent, all, NULL, err)
                                      : hw_fail_memory(err, doing);
    all->to_lay = count_gaussians(all);
    for (all->channel = 0; all->channel < 3 && status == HW_OK; all->channel++) {
        status = see_channel(all, progress, err);
    }
    if (status == HW_OK) {
        status = share(all->picture->height, from_opponent, all, NULL, err);
    }
    free_room(all);
    return status;
}

hw_status hw_picture_see(hw_picture *picture, double px_per_degree, const hw_progress *progress,
                         hw_error *err)
{
    see all = {.picture = picture, .px_per_degree = px_per_degree};
    if (!(px_per_degree > 0.0) || !isfinite(px_per_degree)) {
        return hw_fail(err, HW_ERR_CALL, "sight-distance", "",
                       "Give a distance, and how large a pixel is on the piece.",
                       "%g pixels a degree of sight cannot be", px_per_degree);
    }
    if (px_per_degree > sharpest) {
        hw_status status = hw_picture_make_smaller(picture, px_per_degree / sharpest, err);
        if (status != HW_OK) {
            hw_picture_free(picture);
            return status;
        }
        all.px_per_degree = sharpest;
        all.box = box_variance;
    }
    hw_status status = see_all(&all, progress, err);
    if (status != HW_OK) {
        hw_picture_free(picture); // half done: nobody is to take it for a picture
    }
    return status;
}
