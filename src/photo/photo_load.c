// photo_load.c: the picture, upright. Pixels stay as they were decoded; EXIF orientation is a
// start and two steps through memory, so turning a photo costs nothing.
#include "base_internal.h"
#include "photo_internal.h"

struct hw_photo {
    hw_photo_facts facts;
    hw_pixels pixels;
    hw_photo_colour *colour;
    size_t stored_width, stored_height;
    ptrdiff_t start, step_x, step_y; // in pixels: of the upright picture in the stored one
};

// EXIF 0x0112 (CIPA DC-008, table 6): which stored pixel stands at upright (x, y).
static void set_orientation(hw_photo *photo, int orientation)
{
    ptrdiff_t w = (ptrdiff_t)photo->stored_width, h = (ptrdiff_t)photo->stored_height;
    const ptrdiff_t right = w - 1, below = (h - 1) * w;
    const struct {
        ptrdiff_t start, step_x, step_y;
    } way[9] = {
        {0, 1, w},
        {0, 1, w},
        {right, -1, w}, // as is; mirrored
        {right + below, -1, -w},
        {below, 1, -w},
        {0, w, 1}, // half turn; upside down; transposed
        {below, -w, 1},
        {right + below, -w, -1},
        {right, w, -1}, // turned right; transverse; left
    };
    photo->start = way[orientation].start;
    photo->step_x = way[orientation].step_x;
    photo->step_y = way[orientation].step_y;
    bool turned = orientation >= 5;
    photo->facts.width_px = turned ? photo->stored_height : photo->stored_width;
    photo->facts.height_px = turned ? photo->stored_width : photo->stored_height;
    photo->facts.orientation = orientation;
}

static void set_facts(hw_photo *photo, const hw_probe *probe, const hw_exif *exif, const char *name)
{
    hw_photo_facts *facts = &photo->facts;
    hw_copy_text(facts->file, sizeof facts->file, name);
    facts->format = hw_photo_format_name(probe->format);
    facts->bits = probe->bits;
    facts->luma_step =
        probe->table_first[probe->component_table[0]] / 8.0; // of the block's sum / 8
    facts->chroma_step = probe->grey ? 0.0 : probe->table_first[probe->component_table[1]] / 8.0;
    facts->max_code = probe->bits == 16 ? 65535 : 255;
    // Chosen: 8-bit files of phones roll off over the last code or two.
    facts->clip_low = probe->bits == 16 ? 256 : 1;
    facts->clip_high = probe->bits == 16 ? 65200 : 254;
    hw_copy_text(facts->camera, sizeof facts->camera, exif->camera);
    hw_copy_text(facts->taken, sizeof facts->taken, exif->taken);
    facts->shot = exif->shot;
    photo->stored_width = probe->width;
    photo->stored_height = probe->height;
    set_orientation(photo, exif->orientation);
}

// The same camera's JPEG and raw file see colours differently: two cameras, to whoever compares or learns.
static void mark_as_raw(char *camera, size_t size)
{
    size_t length = strlen(camera);
    if (length > 0) {
        hw_format_text(camera + length, size - length, " (raw)");
    }
}

// What the child found beside the picture, where a library read the file.
static void set_found(hw_photo *photo, const hw_found *found)
{
    hw_photo_facts *facts = &photo->facts;
    if (found->orientation > 0) {
        set_orientation(photo, (int)found->orientation);
    }
    facts->shot.gain_map = facts->shot.gain_map || (found->extras & HW_EXTRA_GAIN_MAP);
    if ((found->extras & HW_EXTRA_DEPTH) && facts->shot.processing == HW_PROCESSING_NONE) {
        facts->shot.processing = HW_PROCESSING_PORTRAIT;
    }
    if (found->photosites == 0) {
        return;
    }
    mark_as_raw(facts->camera, sizeof facts->camera);
    facts->photosites = found->photosites;
    facts->linear = true;
    facts->clip_low = 0;
    facts->clip_high = 65535; // photo_raw.c gives it to what is full, and to nothing else
}

static void warn_shading(hw_warnings *warnings)
{
    hw_warn_trouble(warnings, HW_TROUBLE_UNEVEN_LIGHT, 0.5,
                    "This raw file leaves it to the program to brighten the corners, which "
                    "huewright does not do. Keep card, repair and old wood near the middle "
                    "of the photo, or give a photo of a plain board as the sheet.");
}

void hw_photo_free(hw_photo *photo)
{
    if (photo) {
        hw_pixels_free(&photo->pixels);
        hw_photo_colour_free(photo->colour);
        hw_free(photo);
    }
}

const hw_photo_facts *hw_photo_facts_of(const hw_photo *photo)
{
    return &photo->facts;
}

// Shot facts of raw files whose EXIF lies where only the library finds it.
static void add_found_shot(const hw_found *found, hw_exif *exif)
{
    if (!exif->camera[0]) {
        hw_exif_camera(hw_name_is_usable(found->make) ? found->make : "",
                       hw_name_is_usable(found->model) ? found->model : "", exif->camera,
                       sizeof exif->camera);
    }
    hw_shot *shot = &exif->shot;
    double *const number[4] = {&shot->exposure_s, &shot->f_number, &shot->iso, &shot->focal_mm};
    const double told[4] = {found->exposure_s, found->f_number, found->iso, found->focal_mm};
    for (int i = 0; i < 4; i++) {
        bool fits = told[i] > 0.0 && told[i] < 1e7; // also not NaN
        *number[i] = *number[i] == 0.0 && fits ? told[i] : *number[i];
    }
}

// Facts and colour, once all is known of the file that they need.
static hw_status describe(hw_photo *photo, const hw_probe *probe, const char *name, hw_error *err)
{
    hw_exif exif;
    hw_exif_read(probe->exif, &exif);
    exif.shot.gain_map = probe->gain_map;
    if (probe->found && probe->format >= HW_FORMAT_RAW) {
        add_found_shot(probe->found, &exif);
    }
    set_facts(photo, probe, &exif, name);
    if (probe->found) {
        set_found(photo, probe->found);
    }
    if (photo->facts.photosites > 0 && exif.shading) {
        warn_shading(&photo->facts.warnings);
    }
    hw_shot_warn(&photo->facts.shot, &photo->facts.warnings);
    return hw_photo_colour_make(probe, &exif, name, &photo->facts, &photo->colour, err);
}

// A profile that cannot be used is told before the long work; what a library must find comes after it.
static hw_status read_all(hw_photo *photo, const uint8_t *bytes, size_t count, hw_probe *probe,
                          const char *name, const hw_limits *limits, hw_error *err)
{
    bool by_library = probe->format >= HW_FORMAT_HEIC;
    hw_status status = by_library ? HW_OK : describe(photo, probe, name, err);
    if (status == HW_OK) {
        status = hw_photo_decode_confined(bytes, count, probe, name, limits, &photo->pixels, err);
    }
    if (status == HW_OK && by_library) {
        hw_found_to_probe(&photo->pixels, probe);
        status = describe(photo, probe, name, err);
    }
    return status;
}

hw_status hw_photo_decode(const uint8_t *bytes, size_t count, const char *name,
                          const hw_limits *limits, hw_photo **out, hw_error *err)
{
    hw_limits usual = hw_limits_default();
    hw_probe probe;
    limits = limits ? limits : &usual;
    hw_status status = hw_photo_probe(bytes, count, name, limits, &probe, err);
    if (status != HW_OK) {
        return status;
    }
    hw_photo *photo = hw_alloc_array(1, sizeof *photo);
    if (!photo) {
        return hw_fail_memory(err, "reading the photo");
    }
    status = read_all(photo, bytes, count, &probe, name, limits, err);
    if (status != HW_OK) {
        hw_photo_free(photo);
        return status;
    }
    photo->facts.sandboxed = photo->pixels.sandboxed;
    if (photo->pixels.left_over) {
        hw_warn_trouble(&photo->facts.warnings, HW_TROUBLE_DAMAGE, 10.0,
                        "The file holds more data than its picture takes: parts of the picture may "
                        "be damaged. Copy the photo from the phone or camera again.");
    }
    *out = photo;
    return HW_OK;
}

hw_status hw_photo_load(const char *path, const hw_limits *limits, hw_photo **out, hw_error *err)
{
    hw_limits usual = hw_limits_default();
    uint8_t *bytes = NULL;
    size_t count = 0;
    limits = limits ? limits : &usual;
    hw_status status = hw_file_read(path, limits->file_bytes, &bytes, &count, err);
    if (status != HW_OK) {
        return status;
    }
    status = hw_photo_decode(bytes, count, path, limits, out, err);
    hw_free(bytes);
    return status;
}

void hw_photo_codes(const hw_photo *photo, size_t x, size_t y, size_t count, uint16_t *rgb)
{
    ptrdiff_t at = photo->start + (ptrdiff_t)x * photo->step_x + (ptrdiff_t)y * photo->step_y;
    if (photo->facts.bits == 16) {
        const uint16_t *codes = photo->pixels.codes;
        for (size_t i = 0; i < count; i++, at += photo->step_x) {
            memcpy(rgb + 3 * i, codes + 3 * at, 3 * sizeof *codes);
        }
        return;
    }
    const uint8_t *codes = photo->pixels.codes;
    if (photo->step_x == 1) { // as nearly always: one run of bytes
        for (size_t i = 0; i < 3 * count; i++) {
            rgb[i] = codes[3 * at + (ptrdiff_t)i];
        }
        return;
    }
    for (size_t i = 0; i < count; i++, at += photo->step_x) {
        for (ptrdiff_t channel = 0; channel < 3; channel++) {
            rgb[3 * i + (size_t)channel] = codes[3 * at + channel];
        }
    }
}

void hw_photo_xyz_of_codes(const hw_photo *photo, const uint16_t *rgb, size_t count, hw_xyz *out)
{
    hw_photo_colour_apply(photo->colour, rgb, count, out);
}

bool hw_photo_curves(const hw_photo *photo, const double *curve[3], double matrix[3][3])
{
    return hw_photo_colour_curves(photo->colour, curve, matrix);
}

void hw_photo_codes_xyz(const hw_photo *photo, size_t x, size_t y, size_t count, uint16_t *rgb,
                        hw_xyz *out)
{
    hw_photo_codes(photo, x, y, count, rgb);
    hw_photo_colour_apply(photo->colour, rgb, count, out);
}

void hw_photo_xyz(const hw_photo *photo, size_t x, size_t y, size_t count, hw_xyz *out)
{
    uint16_t rgb[3 * 256];
    for (size_t done = 0; done < count;) {
        size_t piece = count - done < 256 ? count - done : 256;
        hw_photo_codes_xyz(photo, x + done, y, piece, rgb, out + done);
        done += piece;
    }
}

// ---- What this build reads ---------------------------------------------------------

const char *const *hw_photo_formats(void)
{
    static const char *const formats[] = {
        "JPEG", "PNG",  "BMP", "TGA",
#ifdef HW_HEIF
        "HEIC", "AVIF",
#endif
#ifdef HW_RAW
        "DNG",  "raw",
#endif
        NULL,
    };
    return formats;
}
