// photo_exif.c: orientation, colour space, camera, time and settings from EXIF (CIPA DC-008, in TIFF 6.0
// structure). Every offset is tested against the bytes that are there; directories are not followed
// past one level, so nothing can loop. A number that cannot be (0 / 0, a shutter of a year) is not said.
#include "base_internal.h"
#include "photo_internal.h"

#include <ctype.h>
#include <math.h>

typedef struct tiff {
    const uint8_t *bytes;
    size_t count;
    bool big;
} tiff;

static uint32_t get16(const tiff *t, size_t at)
{
    const uint8_t *b = t->bytes + at;
    return t->big ? (uint32_t)b[0] << 8 | b[1] : (uint32_t)b[1] << 8 | b[0];
}

static uint32_t get32(const tiff *t, size_t at)
{
    uint32_t first = get16(t, at), second = get16(t, at + 2);
    return t->big ? first << 16 | second : second << 16 | first;
}

static void drop_blanks(char *text)
{
    for (size_t end = strlen(text); end > 0 && text[end - 1] == ' '; end--) {
        text[end - 1] = 0;
    }
}

// Text of an entry (type 2) without trailing blanks; "" when it is not there or not plain.
static void get_text(const tiff *t, size_t entry, char *out, size_t size)
{
    size_t count = get32(t, entry + 4);
    size_t at = count <= 4 ? entry + 8 : get32(t, entry + 8);
    out[0] = 0;
    if (get16(t, entry + 2) != 2 || at > t->count || count > t->count - at) {
        return;
    }
    char text[96] = {0};
    size_t length = 0;
    while (length < count && length + 1 < sizeof text && t->bytes[at + length]) {
        text[length] = (char)t->bytes[at + length];
        length++;
    }
    drop_blanks(text);
    if (hw_name_is_usable(text)) {
        hw_copy_text(out, size, text);
        drop_blanks(out);
    }
}

// A whole number (SHORT or LONG). False: it is none.
static bool get_whole(const tiff *t, size_t entry, uint32_t *out)
{
    unsigned type = get16(t, entry + 2);
    *out = type == 3 ? get16(t, entry + 8) : get32(t, entry + 8);
    return (type == 3 || type == 4) && get32(t, entry + 4) >= 1;
}

// A fraction (RATIONAL, or SRATIONAL with `sign`). False: there is none, or it is over 0.
static bool get_fraction(const tiff *t, size_t entry, bool sign, double *out)
{
    size_t at = get32(t, entry + 8);
    if (get16(t, entry + 2) != (sign ? 10 : 5) || get32(t, entry + 4) < 1 || at > t->count ||
        t->count - at < 8) {
        return false;
    }
    uint32_t above = get32(t, at), below = get32(t, at + 4);
    *out = sign ? (double)(int32_t)above / (double)(int32_t)below : (double)above / (double)below;
    return below != 0;
}

// A fraction between two ends, else 0: not said.
static double fraction_within(const tiff *t, size_t entry, double least, double most)
{
    double value = 0.0;
    return get_fraction(t, entry, false, &value) && value >= least && value <= most ? value : 0.0;
}

#define DEEPER_MOST 8 // DNG: directories that the first one names

typedef struct found {
    hw_exif *out;
    char make[96], model[96];
    size_t exif_directory;
    size_t deeper[DEEPER_MOST];
    size_t deeper_count;
} found;

// SubIFDs: offsets of directories.
static void get_deeper(const tiff *t, size_t entry, found *f)
{
    size_t count = get32(t, entry + 4), at = count == 1 ? entry + 8 : get32(t, entry + 8);
    while (f->deeper_count < DEEPER_MOST && count-- > 0 && at <= t->count && t->count - at >= 4) {
        f->deeper[f->deeper_count++] = get32(t, at);
        at += 4;
    }
}

// Does a list of corrections (DNG 1.4, chapter 7; in big order always) brighten corners: GainMap (9) or
// FixVignetteRadial (3)?
static bool has_shading(const tiff *t, size_t entry)
{
    size_t length = get32(t, entry + 4), at = get32(t, entry + 8), done = 4;
    if (length < 4 || at > t->count || length > t->count - at) {
        return false;
    }
    const tiff list = {t->bytes + at, length, true};
    for (uint32_t left = get32(&list, 0); left > 0 && length - done >= 16; left--) {
        uint32_t kind = get32(&list, done), size = get32(&list, done + 12);
        if (kind == 9 || kind == 3) {
            return true;
        }
        done += 16;
        if (size > length - done) {
            return false;
        }
        done += size;
    }
    return false;
}

// CustomRendered beyond 0 and 1 are what phones write (ExifTool 12.57, its table of tag 0xA401: 2 and 3 HDR, 7
// portrait with HDR, 8 portrait). SceneCaptureType: 2 portrait, 3 night.
static void read_processing(unsigned tag, uint32_t value, hw_shot *shot)
{
    static const hw_processing custom[9] = {[2] = HW_PROCESSING_HDR,
                                            [3] = HW_PROCESSING_HDR,
                                            [7] = HW_PROCESSING_PORTRAIT,
                                            [8] = HW_PROCESSING_PORTRAIT};
    if (shot->processing != HW_PROCESSING_NONE) {
        return;
    }
    if (tag == 0xa401) {
        shot->processing = value < 9 ? custom[value] : HW_PROCESSING_NONE;
    } else {
        shot->processing = value == 2   ? HW_PROCESSING_PORTRAIT
                           : value == 3 ? HW_PROCESSING_NIGHT
                                        : HW_PROCESSING_NONE;
    }
}

static void read_choice(unsigned tag, uint32_t value, hw_shot *shot)
{
    switch (tag) {
    case 0x8827: // PhotographicSensitivity; 65535 means: more, see the next ones
    case 0x8831:
    case 0x8832:
    case 0x8833:
        if (value > 0 && value < 100000000 && (shot->iso == 0.0 || shot->iso == 65535.0)) {
            shot->iso = value;
        }
        break;
    case 0x9209: // Flash: its lowest bit says whether it fired
        shot->flash = value & 1 ? HW_SAID_YES : HW_SAID_NO;
        break;
    case 0xa402: // ExposureMode: 0 auto, 1 manual, 2 auto bracket
        shot->exposure = value == 1   ? HW_SET_BY_HAND
                         : value <= 2 ? HW_SET_BY_CAMERA
                                      : HW_SET_NOT_SAID;
        break;
    case 0xa403: // WhiteBalance: 0 auto, 1 manual
        shot->white_balance = value == 1   ? HW_SET_BY_HAND
                              : value == 0 ? HW_SET_BY_CAMERA
                                           : HW_SET_NOT_SAID;
        break;
    case 0xa401:
    case 0xa406:
        read_processing(tag, value, shot);
        break;
    default:
        break;
    }
}

// OffsetTimeOriginal: "+02:00".
static void read_offset(const tiff *t, size_t entry, hw_shot *shot)
{
    static const char form[] = "+00:00";
    char text[16];
    get_text(t, entry, text, sizeof text);
    bool fits = strlen(text) == sizeof form - 1;
    for (size_t i = 0; fits && form[i]; i++) {
        fits = form[i] == '0' ? isdigit((unsigned char)text[i])
                              : text[i] == form[i] || (i == 0 && text[i] == '-');
    }
    hw_copy_text(shot->offset, sizeof shot->offset, fits ? text : "");
}

// How the photo was taken. The ends are chosen: beyond what any camera does.
static void read_shot(const tiff *t, size_t entry, hw_shot *shot)
{
    unsigned tag = get16(t, entry);
    uint32_t whole = 0;
    double fraction = 0.0;
    switch (tag) {
    case 0x829a:
        shot->exposure_s = fraction_within(t, entry, 1e-7, 1e5);
        break;
    case 0x829d:
        shot->f_number = fraction_within(t, entry, 0.1, 1000.0);
        break;
    case 0x920a:
        shot->focal_mm = fraction_within(t, entry, 0.01, 1e5);
        break;
    case 0x9204:
        shot->has_bias = get_fraction(t, entry, true, &fraction) && fabs(fraction) <= 20.0;
        shot->bias_ev = shot->has_bias ? fraction : 0.0;
        break;
    case 0xa404: // 0 above: not used
        shot->digital_zoom = get_fraction(t, entry, false, &fraction) && fraction == 0.0
                                 ? 1.0
                                 : fraction_within(t, entry, 0.01, 1000.0);
        break;
    case 0x9011:
        read_offset(t, entry, shot);
        break;
    default:
        if (get_whole(t, entry, &whole)) {
            read_choice(tag, whole, shot);
        }
    }
}

static void read_entry(const tiff *t, size_t entry, found *f)
{
    switch (get16(t, entry)) {
    case 0x0112: { // Orientation, SHORT
        uint32_t value = get16(t, entry + 8);
        if (get16(t, entry + 2) == 3 && value >= 1 && value <= 8) {
            f->out->orientation = (int)value;
        }
        break;
    }
    case 0x010f:
        get_text(t, entry, f->make, sizeof f->make);
        break;
    case 0x0110:
        get_text(t, entry, f->model, sizeof f->model);
        break;
    case 0x8769:
        f->exif_directory = get32(t, entry + 8);
        break;
    case 0x014a:
        get_deeper(t, entry, f);
        break;
    case 0xc741: // OpcodeList2, OpcodeList3
    case 0xc74e:
        f->out->shading = f->out->shading || has_shading(t, entry);
        break;
    case 0xa001:
        f->out->colour_space = (int)get16(t, entry + 8);
        break;
    case 0x9003:
        get_text(t, entry, f->out->taken, sizeof f->out->taken);
        break;
    default:
        read_shot(t, entry, &f->out->shot);
    }
}

static void read_directory(const tiff *t, size_t at, found *f)
{
    if (at > t->count || t->count - at < 2) {
        return;
    }
    size_t entries = get16(t, at), room = (t->count - at - 2) / 12;
    for (size_t i = 0; i < entries && i < room; i++) {
        read_entry(t, at + 2 + 12 * i, f);
    }
}

// Models often repeat the make.
void hw_exif_camera(const char *make, const char *model, char *out, size_t size)
{
    bool repeats = make[0] && strncmp(model, make, strlen(make)) == 0;
    hw_format_text(out, size, "%s%s%s", repeats ? "" : make,
                   !repeats && make[0] && model[0] ? " " : "", model);
    drop_blanks(out); // where the two are too long, the cut may fall behind one
}

void hw_exif_read(hw_part exif, hw_exif *out)
{
    // TIFF, and raw files that are TIFF but for these bytes.
    static const char marks[][5] = {"II*\0", "MM\0*", "IIRO", "IIRS", "MMOR", "IIU\0"};
    *out = (hw_exif){.orientation = 1};
    bool known = false;
    for (size_t i = 0; exif.count >= 8 && i < sizeof marks / sizeof *marks; i++) {
        known = known || memcmp(exif.bytes, marks[i], 4) == 0;
    }
    if (!known) {
        return;
    }
    tiff t = {exif.bytes, exif.count, exif.bytes[0] == 'M'};
    found f = {.out = out};
    read_directory(&t, get32(&t, 4), &f);
    size_t deeper = f.deeper_count; // those of the first directory; what they name is not followed
    if (f.exif_directory) {
        read_directory(&t, f.exif_directory, &f);
    }
    for (size_t i = 0; i < deeper; i++) {
        found aside = {.out = &(hw_exif){.orientation = 1}}; // previews have settings of their own
        read_directory(&t, f.deeper[i], &aside);
        out->shading = out->shading || aside.out->shading;
    }
    hw_exif_camera(f.make, f.model, out->camera, sizeof out->camera);
}

// ---- What it means -----------------------------------------------------------------

bool hw_shot_exposure(const hw_shot *shot, double *log_exposure)
{
    if (!(shot->exposure_s > 0.0 && shot->f_number > 0.0 && shot->iso > 0.0)) {
        return false;
    }
    *log_exposure = log(shot->exposure_s * shot->iso / 100.0 / (shot->f_number * shot->f_number));
    return true;
}

// No flash on the camera, no HDR, portrait or night mode (common practice, no source). What is at stake is a guess.
void hw_shot_warn(const hw_shot *shot, hw_warnings *warnings)
{
    static const char *const mode[] = {[HW_PROCESSING_HDR] = "with HDR",
                                       [HW_PROCESSING_PORTRAIT] = "in portrait mode",
                                       [HW_PROCESSING_NIGHT] = "in night mode"};
    if (shot->flash == HW_SAID_YES) {
        hw_warn_trouble(warnings, HW_TROUBLE_GLARE, 2.0,
                        "The flash fired: it lights unevenly and shines back from the finish. Take "
                        "the photo again without it.");
    }
    if (shot->processing != HW_PROCESSING_NONE) {
        hw_warn_trouble(warnings, HW_TROUBLE_TONE, 1.5,
                        "The photo was taken %s: the camera then brightens one place and darkens "
                        "another. Switch it off and take the photo again.",
                        mode[shot->processing]);
    } else if (shot->gain_map) {
        hw_warn_trouble(warnings, HW_TROUBLE_TONE, 0.7,
                        "The phone made this photo for bright screens too (HDR), and may have "
                        "brightened one place and darkened another. Switch HDR off where it can "
                        "be, or take a raw photo.");
    }
    if (shot->digital_zoom > 1.0) {
        hw_warn_trouble(warnings, HW_TROUBLE_BLUR, 0.3,
                        "The photo was taken with digital zoom (%.1f times), which invents pixels. "
                        "Go nearer, or use the camera's longer lens.",
                        shot->digital_zoom);
    }
}
