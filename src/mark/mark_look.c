// mark_look.c: what is kept of a photo so that the next one of the same piece can be laid on it: a small
// grey picture and its features.
//
// The picture is ln Y less its blur: exposure is a constant there and falls out, and so does slow light. It is kept in
// 255 steps from -1 to 1 (chosen: wood's figure lies within, and a step is below a phone's noise).
//
// As bytes, all numbers little-endian: "HWLK", version, CRC-32 of all that follows; the photo's width and height, the
// picture's width and height, the count of features (32 bit each); the side of a pixel in widths (64-bit float, its bits
// as an integer); the picture, a byte a pixel (two's complement); each feature as four 32-bit floats and its descriptor.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

static const double blur_deviation = 0.0156; // widths: 25 pixels of 1600 (chosen from simulation)
static const double darkest = 0.004;         // of Y: what lies below is noise and flare (chosen)
static const float value_step = 1.0f / 127.0f;

// ---- Places ------------------------------------------------------------------------

double hw_look_longer_px(const hw_look *look)
{
    return (double)(look->photo_width > look->photo_height ? look->photo_width
                                                           : look->photo_height);
}

hw_point hw_look_from_photo(const hw_look *look, hw_point p)
{
    double longer = hw_look_longer_px(look);
    return (hw_point){(p.x - 0.5 * (double)look->photo_width) / longer,
                      (p.y - 0.5 * (double)look->photo_height) / longer};
}

hw_point hw_look_to_photo(const hw_look *look, hw_point place)
{
    double longer = hw_look_longer_px(look);
    return (hw_point){place.x * longer + 0.5 * (double)look->photo_width,
                      place.y * longer + 0.5 * (double)look->photo_height};
}

// ---- The blur taken out ------------------------------------------------------------

// Running mean over 2 radius + 1 values `step` apart; at the ends over those that are there.
static void box_mean(const float *from, float *to, size_t count, size_t step, size_t radius)
{
    double sum = 0.0;
    size_t low = 0, high = 0; // values low to high - 1 are in sum
    for (size_t i = 0; i < count; i++) {
        size_t end = i + radius + 1 < count ? i + radius + 1 : count;
        size_t start = i > radius ? i - radius : 0;
        for (; high < end; high++) {
            sum += (double)from[high * step];
        }
        for (; low < start; low++) {
            sum -= (double)from[low * step];
        }
        to[i * step] = (float)(sum / (double)(high - low));
    }
}

// The same down all columns at once, so that memory is read in its order.
static void box_mean_down(const float *from, float *to, size_t width, size_t height, size_t radius,
                          double *sum)
{
    size_t low = 0, high = 0;
    memset(sum, 0, width * sizeof *sum);
    for (size_t y = 0; y < height; y++) {
        size_t end = y + radius + 1 < height ? y + radius + 1 : height;
        size_t start = y > radius ? y - radius : 0;
        for (; high < end; high++) {
            for (size_t x = 0; x < width; x++) {
                sum[x] += (double)from[high * width + x];
            }
        }
        for (; low < start; low++) {
            for (size_t x = 0; x < width; x++) {
                sum[x] -= (double)from[low * width + x];
            }
        }
        for (size_t x = 0; x < width; x++) {
            to[y * width + x] = (float)(sum[x] / (double)(high - low));
        }
    }
}

// Three box means each way come near a Gaussian (variance of a box of n: (n^2 - 1) / 12).
static bool take_blur_out(hw_grey *grey)
{
    size_t count = grey->width * grey->height;
    double deviation = blur_deviation / grey->pixel;
    size_t radius = (size_t)(0.5 * (sqrt(4.0 * deviation * deviation + 1.0) - 1.0) + 0.5);
    float *blur = hw_alloc_array(count, sizeof *blur),
          *other = hw_alloc_array(count, sizeof *other);
    double *sum = hw_alloc_array(grey->width, sizeof *sum);
    bool good = blur && other && sum;
    if (good) {
        memcpy(blur, grey->value, count * sizeof *blur);
        for (int pass = 0; pass < 3; pass++) {
            for (size_t y = 0; y < grey->height; y++) {
                box_mean(blur + y * grey->width, other + y * grey->width, grey->width, 1, radius);
            }
            box_mean_down(other, blur, grey->width, grey->height, radius, sum);
        }
        for (size_t i = 0; i < count; i++) {
            grey->value[i] -= blur[i];
        }
    }
    hw_free(blur);
    hw_free(other);
    hw_free(sum);
    return good;
}

// In the steps in which it is kept, so that a look that was kept is what it was.
static void round_values(hw_grey *grey)
{
    for (size_t i = 0; i < grey->width * grey->height; i++) {
        float steps = roundf(grey->value[i] / value_step);
        grey->value[i] = fminf(fmaxf(steps, -127.0f), 127.0f) * value_step + 0.0f; // no -0
    }
}

// ---- Taking one --------------------------------------------------------------------

void hw_look_free(hw_look *look)
{
    if (look) {
        hw_free(look->grey.value);
        hw_free(look->feature);
        hw_free(look);
    }
}

// Its first pixel lies in the corner of the photo.
static void place_pixels(hw_look *look)
{
    double longer = hw_look_longer_px(look);
    look->grey.left = 0.5 * look->grey.pixel - 0.5 * (double)look->photo_width / longer;
    look->grey.top = 0.5 * look->grey.pixel - 0.5 * (double)look->photo_height / longer;
}

static bool take_grey(const hw_photo_small *small, hw_look *look)
{
    size_t count = small->width * small->height;
    look->grey = (hw_grey){.width = small->width,
                           .height = small->height,
                           .pixel = small->scale / hw_look_longer_px(look),
                           .value = hw_alloc_array(count, sizeof(float))};
    if (!look->grey.value) {
        return false;
    }
    place_pixels(look);
    for (size_t i = 0; i < count; i++) {
        look->grey.value[i] = logf(fmaxf(small->xyz[3 * i + 1], 0.0f) + (float)darkest);
    }
    if (!take_blur_out(&look->grey)) {
        return false;
    }
    round_values(&look->grey);
    return true;
}

hw_status hw_look_take_in(const hw_photo *photo, const hw_photo_small *small, hw_look **out,
                          hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    hw_look *look = hw_alloc_array(1, sizeof *look);
    if (look) {
        look->photo_width = facts->width_px;
        look->photo_height = facts->height_px;
    }
    if (!look || !take_grey(small, look)) {
        hw_look_free(look);
        return hw_fail_memory(err, "looking at the figure of the wood");
    }
    hw_status status = hw_features_find(&look->grey, &look->feature, &look->feature_count, err);
    if (status != HW_OK) {
        hw_look_free(look);
        return status;
    }
    *out = look;
    return HW_OK;
}

hw_status hw_look_take(const hw_photo *photo, hw_look **out, hw_error *err)
{
    hw_photo_small small = {0};
    hw_status status = hw_photo_make_small(photo, HW_MARKS_SMALL_PX, &small, err);
    if (status == HW_OK) {
        status = hw_look_take_in(photo, &small, out, err);
    }
    hw_photo_small_free(&small);
    return status;
}

// ---- Levels ------------------------------------------------------------------------

static bool halve(const hw_grey *from, hw_grey *to)
{
    *to = (hw_grey){.width = from->width / 2,
                    .height = from->height / 2,
                    .pixel = 2.0 * from->pixel,
                    .left = from->left + 0.5 * from->pixel,
                    .top = from->top + 0.5 * from->pixel};
    to->value = hw_alloc_array(to->width * to->height, sizeof *to->value);
    for (size_t y = 0; to->value && y < to->height; y++) {
        const float *above = from->value + 2 * y * from->width, *below = above + from->width;
        for (size_t x = 0; x < to->width; x++) {
            to->value[y * to->width + x] =
                0.25f * (above[2 * x] + above[2 * x + 1] + below[2 * x] + below[2 * x + 1]);
        }
    }
    return to->value != NULL;
}

bool hw_pyramid_make(const hw_look *look, hw_pyramid *out)
{
    *out = (hw_pyramid){.count = 1};
    out->level[0] = look->grey;
    for (size_t l = 1; l < HW_LEVELS; l++) {
        const hw_grey *last = &out->level[l - 1];
        if (last->width < 32 || last->height < 32) {
            break;
        }
        if (!halve(last, &out->level[l])) {
            hw_pyramid_free(out);
            return false;
        }
        out->count = l + 1;
    }
    return true;
}

void hw_pyramid_free(hw_pyramid *pyramid)
{
    for (size_t l = 1; l < HW_LEVELS; l++) {
        hw_free(pyramid->level[l].value);
    }
    *pyramid = (hw_pyramid){0};
}

// ---- As bytes ----------------------------------------------------------------------

enum { MAGIC = 4, HEAD = 12, SIZES = 20 + 8, FEATURE = 16 + HW_DESCRIPTOR, VERSION = 1 };
enum { FEATURES_MOST = 20000 };

static void put32(uint8_t **at, uint32_t value)
{
    for (int i = 0; i < 4; i++) {
        *(*at)++ = (uint8_t)(value >> (8 * i));
    }
}

static uint32_t get32(const uint8_t **at)
{
    uint32_t value = 0;
    for (int i = 0; i < 4; i++) {
        value |= (uint32_t) * (*at)++ << (8 * i);
    }
    return value;
}

static void put_float(uint8_t **at, float value)
{
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    put32(at, bits);
}

static float get_float(const uint8_t **at)
{
    uint32_t bits = get32(at);
    float value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

static void put_body(const hw_look *look, uint8_t *at)
{
    put32(&at, (uint32_t)look->photo_width);
    put32(&at, (uint32_t)look->photo_height);
    put32(&at, (uint32_t)look->grey.width);
    put32(&at, (uint32_t)look->grey.height);
    put32(&at, (uint32_t)look->feature_count);
    uint64_t bits;
    memcpy(&bits, &look->grey.pixel, sizeof bits);
    put32(&at, (uint32_t)bits);
    put32(&at, (uint32_t)(bits >> 32));
    for (size_t i = 0; i < look->grey.width * look->grey.height; i++) {
        *at++ = (uint8_t)(int8_t)lroundf(look->grey.value[i] / value_step);
    }
    for (size_t i = 0; i < look->feature_count; i++) {
        const hw_feature *f = &look->feature[i];
        put_float(&at, f->x);
        put_float(&at, f->y);
        put_float(&at, f->scale);
        put_float(&at, f->angle);
        memcpy(at, f->descriptor, HW_DESCRIPTOR);
        at += HW_DESCRIPTOR;
    }
}

hw_status hw_look_pack(const hw_look *look, uint8_t **bytes, size_t *count, hw_error *err)
{
    size_t body = SIZES + look->grey.width * look->grey.height + look->feature_count * FEATURE;
    uint8_t *made = hw_alloc_array(HEAD + body, 1);
    if (!made) {
        return hw_fail_memory(err, "keeping how the photo looks");
    }
    put_body(look, made + HEAD);
    memcpy(made, "HWLK", MAGIC);
    uint8_t *at = made + MAGIC;
    put32(&at, VERSION);
    put32(&at, hw_crc32(made + HEAD, body));
    *bytes = made;
    *count = HEAD + body;
    return HW_OK;
}

static bool sizes_are_good(const hw_look *look, size_t left)
{
    size_t longer = look->grey.width > look->grey.height ? look->grey.width : look->grey.height;
    double pixel =
        look->grey.pixel; // a pixel is at least one of the photo, and all of them lie in it
    return look->photo_width > 0 && look->photo_height > 0 && look->grey.width > 0 &&
           look->grey.height > 0 && longer <= HW_MARKS_SMALL_PX &&
           look->feature_count <= FEATURES_MOST && pixel * hw_look_longer_px(look) >= 1.0 - 1e-9 &&
           pixel * (double)longer <= 1.0 + 1e-9 &&
           left == look->grey.width * look->grey.height + look->feature_count * FEATURE;
}

static bool feature_is_good(const hw_feature *f)
{
    return fabsf(f->x) <= 0.5f && fabsf(f->y) <= 0.5f && f->scale > 0.0f && f->scale <= 1.0f &&
           fabsf(f->angle) <= 7.0f;
}

static bool get_arrays(hw_look *look, const uint8_t *at)
{
    size_t pixels = look->grey.width * look->grey.height;
    for (size_t i = 0; i < pixels; i++) {
        look->grey.value[i] = (float)(int8_t)*at++ * value_step;
    }
    for (size_t i = 0; i < look->feature_count; i++) {
        hw_feature *f = &look->feature[i];
        f->x = get_float(&at);
        f->y = get_float(&at);
        f->scale = get_float(&at);
        f->angle = get_float(&at);
        memcpy(f->descriptor, at, HW_DESCRIPTOR);
        at += HW_DESCRIPTOR;
        if (!feature_is_good(f)) {
            return false;
        }
    }
    return true;
}

static void get_sizes(hw_look *look, const uint8_t *at)
{
    look->photo_width = get32(&at);
    look->photo_height = get32(&at);
    look->grey.width = get32(&at);
    look->grey.height = get32(&at);
    look->feature_count = get32(&at);
    uint64_t bits = get32(&at);
    bits |= (uint64_t)get32(&at) << 32;
    memcpy(&look->grey.pixel, &bits, sizeof bits);
    place_pixels(look);
}

static hw_status no_look(const char *subject, hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "look-format", subject,
                   "It can be made again from the photo itself.",
                   "what was kept of the last photo is damaged or of another version of huewright");
}

hw_status hw_look_unpack(const uint8_t *bytes, size_t count, const char *subject, hw_look **out,
                         hw_error *err)
{
    if (count < HEAD + SIZES || memcmp(bytes, "HWLK", MAGIC) != 0) {
        return no_look(subject, err);
    }
    const uint8_t *at = bytes + MAGIC;
    if (get32(&at) != VERSION || get32(&at) != hw_crc32(bytes + HEAD, count - HEAD)) {
        return no_look(subject, err);
    }
    hw_look head = {0};
    get_sizes(&head, at);
    if (!sizes_are_good(&head, count - HEAD - SIZES)) {
        return no_look(subject, err);
    }
    hw_look *look = hw_alloc_array(1, sizeof *look);
    if (look) {
        *look = head;
        look->grey.value = hw_alloc_array(head.grey.width * head.grey.height, sizeof(float));
        look->feature = hw_alloc_array(head.feature_count, sizeof *look->feature);
    }
    if (!look || !look->grey.value || !look->feature) {
        hw_look_free(look);
        return hw_fail_memory(err, "reading what was kept of the last photo");
    }
    if (!get_arrays(look, bytes + HEAD + SIZES)) {
        hw_look_free(look);
        return no_look(subject, err);
    }
    *out = look;
    return HW_OK;
}
