// photo_raw.c: raw files of cameras and DNG, unpacked by LibRaw, in the child. This file alone knows LibRaw.
//
// LibRaw finds the sensor's values, their black and white levels and the camera's matrix; all else of it
// (white balance, demosaicing, tone curve, brightening) is left alone. The square of photosites in which the
// sensor's pattern has all its colours, 2 x 2 or 3 x 3, becomes one pixel: each channel the mean of its
// photosites, so that no colour is guessed from neighbours. A file with three values a pixel is taken as it
// is.
//
// Values are rescaled as DNG 1.4, chapter 5 says: less black, over white less the largest black of the
// channel. One photosite at white makes its channel of the pixel the largest code: clipped, whatever the
// others hold. Codes are the rescaled values on the sRGB curve (photo.h says why).
#include "photo_internal.h"

#ifdef HW_RAW
#include <libraw/libraw.h>

#include "base_internal.h" // here: it bans calls that headers of LibRaw name

// From here on, of the way from black to white, a photosite is taken for full (chosen): where a sensor is
// full its values still scatter.
static const double full_share = 0.99;

static void say(hw_found *found, uint32_t outcome, const char *reason)
{
    found->outcome = outcome;
    hw_copy_text(found->reason, sizeof found->reason, reason);
}

static bool is_ok(int result, hw_found *found)
{
    if (result != LIBRAW_SUCCESS) {
        say(found,
            result == LIBRAW_UNSUFFICIENT_MEMORY || result == LIBRAW_TOO_BIG ? HW_FOUND_MEMORY
            : result == LIBRAW_FILE_UNSUPPORTED                              ? HW_FOUND_UNSUPPORTED
                                                                             : HW_FOUND_NOTHING,
            result == LIBRAW_FILE_UNSUPPORTED ? "a TIFF, or a raw file of an unknown camera"
                                              : libraw_strerror(result));
    }
    return result == LIBRAW_SUCCESS;
}

// ---- Colour and shot ---------------------------------------------------------------

// Whether LibRaw has found a matrix shows in the matrix alone: it does not always flag it.
static bool is_there(const float *values, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (values[i] != 0.0f) {
            return true;
        }
    }
    return false;
}

// DNG 1.4, chapter 6: AnalogBalance * CameraCalibration * ColorMatrix.
static void take_matrix(const libraw_colordata_t *colour, const libraw_dng_color_t *one,
                        hw_found *found)
{
    double(*to)[3] = found->xyz_to_camera[found->matrices];
    const float *balance = colour->dng_levels.analogbalance;
    bool calibrated = is_there(one->calibration[0], 16);
    for (int r = 0; r < 3; r++) {
        double gain = balance[r] > 0.0f ? (double)balance[r] : 1.0;
        for (int c = 0; c < 3; c++) {
            double sum = 0.0;
            for (int k = 0; k < 3; k++) {
                double own = calibrated ? (double)one->calibration[r][k] : (double)(r == k);
                sum += own * (double)one->colormatrix[k][c];
            }
            to[r][c] = gain * sum;
        }
    }
    found->kelvin[found->matrices++] = hw_illuminant_kelvin(one->illuminant);
}

// The file's own matrices; without them the one of LibRaw's list, which is for daylight of 6504 K.
static void find_matrices(const libraw_data_t *raw, hw_found *found)
{
    const libraw_colordata_t *colour = &raw->color;
    for (int i = 0; i < 2 && raw->idata.dng_version; i++) {
        if (is_there(colour->dng_color[i].colormatrix[0], 9)) {
            take_matrix(colour, &colour->dng_color[i], found);
        }
    }
    found->from_file = found->matrices > 0;
    if (found->matrices == 0 && is_there(colour->cam_xyz[0], 9)) {
        for (int r = 0; r < 3; r++) {
            for (int c = 0; c < 3; c++) {
                found->xyz_to_camera[0][r][c] = (double)colour->cam_xyz[r][c];
            }
        }
        found->kelvin[0] = 6504.0;
        found->matrices = 1;
    }
}

static void find_neutral(const libraw_colordata_t *colour, hw_found *found)
{
    const float *stated = colour->dng_levels.asshotneutral, *gain = colour->cam_mul;
    for (int c = 0; c < 3; c++) {
        found->neutral[c] = stated[c] > 0.0f ? (double)stated[c]
                            : gain[c] > 0.0f ? 1.0 / (double)gain[c]
                                             : 0.0;
    }
}

static void find_shot(const libraw_data_t *raw, hw_found *found)
{
    hw_copy_text(found->make, sizeof found->make, raw->idata.make);
    hw_copy_text(found->model, sizeof found->model, raw->idata.model);
    found->exposure_s = (double)raw->other.shutter;
    found->f_number = (double)raw->other.aperture;
    found->iso = (double)raw->other.iso_speed;
    found->focal_mm = (double)raw->other.focal_len;
}

// LibRaw's flip (1 left for right, 2 top for bottom, 4 rows for columns, done first), or for some old formats degrees
// clockwise, as EXIF tells it.
static unsigned orientation_of(int flip)
{
    static const unsigned char of_flip[8] = {1, 2, 4, 3, 5, 8, 6, 7};
    switch (flip) {
    case 90:
        return 6;
    case 180:
        return 3;
    case 270:
        return 8;
    default:
        return of_flip[flip & 7];
    }
}

// ---- The sensor --------------------------------------------------------------------

#define ROW_PERIOD    24 // of both patterns that there are: 8 x 2 and 6 x 6 photosites
#define COLUMN_PERIOD 6

typedef struct sensor {
    const libraw_data_t *raw;
    size_t side;    // of the square that becomes a pixel
    size_t samples; // values a place holds: 1 behind a pattern of colours, else 3 or 4
    const uint8_t *rows;
    size_t pitch;                               // bytes a row
    uint8_t channel[ROW_PERIOD][COLUMN_PERIOD]; // behind a pattern
    double black[4], scale[3], full[4];         // by LibRaw's channels; scale: to 0..1
    double *curve;                              // linear steps to codes
} sensor;

static unsigned channel_at(const sensor *s, size_t row, size_t column)
{
    return s->channel[row % ROW_PERIOD][column % COLUMN_PERIOD];
}

// Black that differs from place to place, beside that of the channel.
static double black_at(const libraw_colordata_t *colour, size_t row, size_t column)
{
    size_t rows = colour->cblack[4], columns = colour->cblack[5];
    return rows > 0 && columns > 0 && rows * columns <= LIBRAW_CBLACK_SIZE - 6
               ? colour->cblack[6 + row % rows * columns + column % columns]
               : 0.0;
}

// The largest black of each of LibRaw's channels beside its own level, over two periods of any pattern.
static void find_largest_black(const sensor *s, double largest[4])
{
    memset(largest, 0, 4 * sizeof *largest);
    for (size_t i = 0; i < (size_t)4 * ROW_PERIOD * ROW_PERIOD; i++) {
        size_t row = i / (2 * ROW_PERIOD), column = i % (2 * ROW_PERIOD);
        double black = black_at(&s->raw->color, row, column);
        for (unsigned c = 0; c < 4; c++) {
            bool here = s->samples > 1 || channel_at(s, row, column) == c;
            largest[c] = here && black > largest[c] ? black : largest[c];
        }
    }
}

static bool set_levels(sensor *s)
{
    const libraw_colordata_t *colour = &s->raw->color;
    double largest[4], range[3] = {1e9, 1e9, 1e9};
    find_largest_black(s, largest);
    for (int c = 0; c < 4; c++) {
        double white = (double)colour->maximum;
        if (colour->linear_max[c] > 0 && (double)colour->linear_max[c] < white) {
            white = (double)colour->linear_max[c];
        }
        s->black[c] = (double)colour->black + (double)colour->cblack[c];
        double here = white - s->black[c] - largest[c];
        s->full[c] = s->black[c] + largest[c] + full_share * here;
        int channel = c == 3 ? 1 : c; // the second green
        range[channel] = here < range[channel] ? here : range[channel];
    }
    for (int channel = 0; channel < 3; channel++) {
        if (!(range[channel] >= 1.0)) {
            return false;
        }
        s->scale[channel] = 1.0 / range[channel];
    }
    return true;
}

// Red, green and blue in every square? (LibRaw calls the second green 3.)
static bool squares_are_whole(sensor *s)
{
    for (size_t row = 0; row < ROW_PERIOD; row += s->side) {
        for (size_t column = 0; column < COLUMN_PERIOD; column += s->side) {
            unsigned seen = 0;
            for (size_t i = 0; i < s->side * s->side; i++) {
                seen |= 1u << channel_at(s, row + i / s->side, column + i % s->side);
            }
            if ((seen & 5u) != 5u || (seen & 10u) == 0) {
                return false;
            }
        }
    }
    return true;
}

static bool set_pattern(sensor *s, libraw_data_t *raw)
{
    s->side = raw->idata.filters == 9 ? 3 : 2;
    for (int row = 0; row < ROW_PERIOD; row++) {
        for (int column = 0; column < COLUMN_PERIOD; column++) {
            int channel = libraw_COLOR(raw, row, column);
            if (channel < 0 || channel > 3) {
                return false;
            }
            s->channel[row][column] = (uint8_t)channel;
        }
    }
    return squares_are_whole(s);
}

// How the sensor is laid out, or why it cannot be read here; NULL: it can.
static const char *set_layout(sensor *s, libraw_data_t *raw)
{
    const libraw_image_sizes_t *sizes = &raw->sizes;
    const libraw_rawdata_t *data = &raw->rawdata;
    const void *rows = data->raw_image      ? (const void *)data->raw_image
                       : data->color3_image ? (const void *)data->color3_image
                                            : (const void *)data->color4_image;
    s->raw = raw;
    s->rows = rows;
    s->samples = data->raw_image ? 1 : data->color3_image ? 3 : 4;
    s->pitch = sizes->raw_pitch;
    s->side = 1;
    if (raw->idata.colors != 3 || memcmp(raw->idata.cdesc, "RGB", 3) != 0) {
        return "a raw file with other colours than red, green and blue";
    }
    if (!rows || data->ioparams.fuji_width || data->ph1_cblack || raw->idata.is_foveon) {
        return "a raw file of an unusual sensor";
    }
    if ((size_t)sizes->top_margin + sizes->height > sizes->raw_height ||
        (size_t)sizes->left_margin + sizes->width > sizes->raw_width ||
        s->pitch < sizes->raw_width * s->samples * sizeof(uint16_t)) {
        return "a raw file whose parts disagree about its size";
    }
    bool known = raw->idata.filters >= 1000 || raw->idata.filters == 9;
    if (s->samples == 1 && !(known && set_pattern(s, raw))) {
        return "a raw file with an unusual pattern of colours";
    }
    return set_levels(s) ? NULL : "a raw file whose black and white levels do not fit";
}

// ---- The picture -------------------------------------------------------------------

typedef struct pixel {
    double sum[3];
    unsigned count[3];
    bool full[3];
} pixel;

static void add_value(const sensor *s, unsigned colour, double black, uint16_t value, pixel *to)
{
    unsigned channel = colour == 3 ? 1 : colour;
    to->sum[channel] += value - s->black[colour] - black;
    to->count[channel]++;
    to->full[channel] = to->full[channel] || value >= s->full[colour];
}

static pixel pixel_at(const sensor *s, size_t row, size_t column)
{
    const libraw_image_sizes_t *sizes = &s->raw->sizes;
    pixel out = {{0}, {0}, {false}};
    for (size_t i = 0; i < s->side * s->side; i++) {
        size_t y = row * s->side + i / s->side, x = column * s->side + i % s->side;
        const uint16_t *values =
            (const uint16_t *)(const void *)(s->rows + (y + sizes->top_margin) * s->pitch) +
            (x + sizes->left_margin) * s->samples;
        double black = black_at(&s->raw->color, y, x);
        if (s->samples == 1) {
            add_value(s, channel_at(s, y, x), black, values[0], &out);
        } else {
            for (unsigned channel = 0; channel < 3; channel++) {
                add_value(s, channel, black, values[channel], &out);
            }
        }
    }
    return out;
}

#define CURVE_STEPS 65535
#define CURVE_BYTES ((CURVE_STEPS + 1) * sizeof(double))

// On the sRGB curve; between its steps on a straight line, for where the curve is steep.
static uint16_t code_of(const sensor *s, const pixel *from, int channel)
{
    double share = from->sum[channel] / from->count[channel] * s->scale[channel];
    double at = (share < 1.0 ? share : 1.0) * CURVE_STEPS;
    if (from->full[channel]) {
        return 65535;
    }
    if (!(at > 0.0)) {
        return 0;
    }
    size_t step = at < CURVE_STEPS - 1 ? (size_t)at : CURVE_STEPS - 1;
    double code = s->curve[step] + (at - (double)step) * (s->curve[step + 1] - s->curve[step]);
    return code < 65533.5 ? (uint16_t)(code + 0.5) : 65534; // 65535 is full
}

static void take_picture(sensor *s, hw_shared *shared)
{
    hw_found *found = &shared->found;
    size_t width = found->width, height = found->height;
    uint16_t *picture = hw_shared_take(shared, width * height * 3 * sizeof *picture);
    s->curve = hw_shared_take(shared, CURVE_BYTES);
    if (!picture || !s->curve) {
        return;
    }
    for (size_t step = 0; step <= CURVE_STEPS; step++) {
        s->curve[step] = hw_srgb_encoded((double)step / CURVE_STEPS) * 65535.0;
    }
    uint16_t *to = picture;
    for (size_t row = 0; row < height; row++) {
        for (size_t column = 0; column < width; column++) {
            pixel one = pixel_at(s, row, column);
            for (int channel = 0; channel < 3; channel++) {
                *to++ = code_of(s, &one, channel);
            }
        }
    }
    found->photosites = (uint32_t)s->side;
    found->bits = 16;
    found->picture = hw_shared_offset(shared, picture);
    found->outcome = HW_FOUND_PICTURE;
}

// ---- In the child ------------------------------------------------------------------

static void note_damage(void *noted, const char *file, const int offset)
{
    (void)file;
    (void)offset;
    *(bool *)noted = true;
}

static bool is_large(const libraw_data_t *raw, hw_shared *shared)
{
    size_t width = raw->sizes.width, height = raw->sizes.height;
    shared->found.width = (uint32_t)width;
    shared->found.height = (uint32_t)height;
    return width > shared->side_most || height > shared->side_most ||
           (height > 0 && width > shared->pixel_most / height);
}

static void read_sensor(libraw_data_t *raw, bool *damaged, hw_shared *shared)
{
    hw_found *found = &shared->found;
    sensor s = {0};
    if (!is_ok(libraw_unpack(raw), found)) {
        return;
    }
    const char *why = set_layout(&s, raw);
    found->width = (uint32_t)(raw->sizes.width / s.side);
    found->height = (uint32_t)(raw->sizes.height / s.side);
    found->orientation = orientation_of(raw->sizes.flip);
    found->is_dng = raw->idata.dng_version != 0;
    find_matrices(raw, found);
    find_neutral(&raw->color, found);
    find_shot(raw, found);
    if (*damaged) {
        say(found, HW_FOUND_NOTHING, "its data are damaged or end early");
    } else if (why) {
        say(found, HW_FOUND_UNSUPPORTED, why);
    } else if (found->matrices == 0) {
        say(found, HW_FOUND_UNSUPPORTED, "a raw file that does not tell its camera's colours");
    } else if (found->width > 0 && found->height > 0) {
        take_picture(&s, shared);
    }
}

static void raw_decode(const uint8_t *bytes, size_t count, const hw_probe *probe, hw_shared *shared)
{
    bool damaged = false;
    libraw_data_t *raw = libraw_init(LIBRAW_OPTIONS_NONE);
    (void)probe;
    if (!raw) {
        shared->found.outcome = HW_FOUND_MEMORY;
        return;
    }
    libraw_set_dataerror_handler(raw, note_damage, &damaged);
    raw->params.max_raw_memory_mb = 1024;
    if (is_ok(libraw_open_buffer(raw, (void *)(uintptr_t)bytes, count), &shared->found)) {
        if (is_large(raw, shared)) {
            shared->found.outcome = HW_FOUND_TOO_LARGE;
        } else {
            read_sensor(raw, &damaged, shared);
        }
    }
    libraw_close(raw);
}

static size_t raw_bound(const hw_probe *probe, size_t count, const hw_limits *limits)
{
    (void)probe;
    (void)count;
    size_t parts = sizeof(hw_shared) + CURVE_BYTES + 4096;
    size_t most = (HW_SHARED_MOST - parts) / 6; // pixels that there is room for
    return parts + 6 * (limits->pixels < most ? limits->pixels : most);
}

const hw_decoder *hw_raw_decoder(void)
{
    static const hw_decoder decoder = {NULL, raw_decode, raw_bound, true};
    return &decoder;
}

#else
const hw_decoder *hw_raw_decoder(void)
{
    return NULL;
}
#endif
