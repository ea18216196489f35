// photo_probe.c: what the bytes are, before anything decodes them.
//
// The format is told by the first bytes, never by the name. Width and height are tested against
// the limits here. stb_image decodes many damaged files in silence and fills the rest with grey,
// so a file that ends early is found here: a JPEG must reach its end marker, a PNG its IEND with
// every chunk's CRC right, a BMP or TGA must hold all its rows. (What lies between a JPEG's markers is
// read by photo_scan.c.) Of HEIC and raw files only the kind is found here: see photo_internal.h.
//
// JPEG: ITU-T T.81 annex B. ICC in APP2: ICC.1:2022 annex B.4. PNG: ISO/IEC 15948 with cICP (W3C
// PNG, third edition).
#include "base_internal.h"
#include "photo_internal.h"

typedef struct reader {
    const uint8_t *bytes;
    size_t count;
    const char *name;
    hw_error *err;
} reader;

static uint32_t big16(const uint8_t *at)
{
    return (uint32_t)at[0] << 8 | at[1];
}

static uint32_t big32(const uint8_t *at)
{
    return big16(at) << 16 | big16(at + 2);
}

static uint32_t little16(const uint8_t *at)
{
    return (uint32_t)at[1] << 8 | at[0];
}

static uint32_t little32(const uint8_t *at)
{
    return little16(at + 2) << 16 | little16(at);
}

// ---- Refusals ----------------------------------------------------------------------

static hw_status cut_short(const reader *file)
{
    return hw_fail(file->err, HW_ERR_INPUT, "photo-cut-short", file->name,
                   "Copy it from the phone or camera again.",
                   "the photo ends in the middle, after %zu kB", (file->count + 999) / 1000);
}

static hw_status damaged(const reader *file, const char *where)
{
    return hw_fail(file->err, HW_ERR_INPUT, "photo-damaged", file->name,
                   "Copy it from the phone or camera again.", "the photo is damaged (%s)", where);
}

static hw_status unsupported(const reader *file, const char *what)
{
    return hw_photo_fail_unsupported(what, file->name, file->err);
}

static hw_status four_channels(const reader *file)
{
    return hw_fail(file->err, HW_ERR_INPUT, "photo-four-channels", file->name,
                   "Use the photo as the camera took it, or save it as RGB.",
                   "this JPEG has four colour components, as for printing; a photo has three");
}

// ---- JPEG --------------------------------------------------------------------------

static hw_status jpeg_frame(const reader *file, uint8_t marker, const uint8_t *at, size_t length,
                            hw_probe *out)
{
    if (length < 6) {
        return damaged(file, "its frame header");
    }
    unsigned components = at[5];
    if (marker == 0xc3 || (marker >= 0xc5 && marker <= 0xc7) || marker >= 0xcd) {
        return unsupported(file, "lossless or hierarchical JPEG");
    }
    if (marker >= 0xc9) {
        return unsupported(file, "JPEG with arithmetic coding");
    }
    if (at[0] != 8) {
        return unsupported(file, "JPEG with more than 8 bits");
    }
    if (components == 4) {
        return four_channels(file);
    }
    if (components != 1 && components != 3) {
        return unsupported(file, "JPEG with an unusual number of components");
    }
    out->height = big16(at + 1);
    out->width = big16(at + 3);
    out->grey = components == 1;
    out->progressive = marker == 0xc2;
    for (unsigned i = 0; i < components && 9 + 3 * i <= length; i++) {
        out->component_table[i] = at[8 + 3 * i] & 3;
    }
    return HW_OK;
}

// DQT (ITU-T T.81, B.2.4.1): precision and number of a table, then its 64 entries, 8 or 16 bits.
static void jpeg_tables(const uint8_t *at, size_t length, hw_probe *out)
{
    while (length > 0) {
        bool wide = at[0] >> 4;
        size_t size = wide ? 129 : 65;
        if (length < size) {
            return;
        }
        out->table_first[at[0] & 3] = (uint16_t)(wide ? big16(at + 1) : at[1]);
        at += size;
        length -= size;
    }
}

// APP2 of a profile: "ICC_PROFILE\0", number from 1, total, data.
static void jpeg_icc(const uint8_t *at, size_t length, hw_probe *out)
{
    if (length < 14 || memcmp(at, "ICC_PROFILE", 12) != 0) {
        return;
    }
    size_t number = at[12], total = at[13];
    bool fits = number >= 1 && number <= total && (out->icc_total == 0 || total == out->icc_total);
    if (!fits || out->icc[number - 1].bytes) {
        out->icc_broken = true;
        return;
    }
    out->icc_total = total;
    out->icc_found++;
    out->icc[number - 1] = (hw_part){at + 14, length - 14};
}

// XMP that tells of a gain map: a second picture that brightens this one on screens that can (from memory:
// what phones write into the main picture's XMP).
static bool tells_gain_map(const uint8_t *at, size_t length)
{
    static const char mark[] = "hdrgm:Version";
    for (size_t i = 0; i + sizeof mark - 1 <= length; i++) {
        if (memcmp(at + i, mark, sizeof mark - 1) == 0) {
            return true;
        }
    }
    return false;
}

static bool is_frame(uint8_t marker) // SOF0 to SOF15 without DHT, JPG and DAC
{
    return marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc;
}

static hw_status jpeg_segment(const reader *file, uint8_t marker, const uint8_t *at, size_t length,
                              hw_probe *out)
{
    if (is_frame(marker)) {
        return out->width > 0 ? damaged(file, "it holds two frames")
                              : jpeg_frame(file, marker, at, length, out);
    }
    if (marker == 0xe1 && length > 6 && memcmp(at, "Exif\0", 6) == 0 && !out->exif.bytes) {
        out->exif = (hw_part){at + 6, length - 6};
    } else if (marker == 0xe1) {
        out->gain_map = out->gain_map || tells_gain_map(at, length);
    } else if (marker == 0xe2) {
        jpeg_icc(at, length, out);
    } else if (marker == 0xdb) {
        jpeg_tables(at, length, out);
    }
    return HW_OK;
}

// Past entropy-coded data to the next marker that is none of 00 and RST0 to RST7; NULL at the end.
static const uint8_t *skip_scan(const uint8_t *at, const uint8_t *end)
{
    while (at < end) {
        at = memchr(at, 0xff, (size_t)(end - at));
        if (!at || at + 1 >= end) {
            return NULL;
        }
        if (at[1] != 0 && at[1] != 0xff && (at[1] < 0xd0 || at[1] > 0xd7)) {
            return at;
        }
        at += at[1] == 0xff ? 1 : 2;
    }
    return NULL;
}

static hw_status probe_jpeg(const reader *file, hw_probe *out)
{
    const uint8_t *at = file->bytes + 2, *end = file->bytes + file->count;
    bool scan_seen = false;
    out->format = HW_FORMAT_JPEG;
    out->bits = 8;
    while (at && at + 1 < end) {
        if (at[0] != 0xff) {
            return damaged(file, "between its segments");
        }
        uint8_t marker = at[1];
        if (marker == 0xff) { // fill byte
            at++;
            continue;
        }
        at += 2;
        if (marker == 0xd9) {
            return scan_seen ? HW_OK : damaged(file, "it holds no picture");
        }
        if (marker == 0x01 || (marker >= 0xd0 && marker <= 0xd7)) {
            continue; // no length
        }
        size_t left = (size_t)(end - at);
        if (left < 2) {
            return cut_short(file);
        }
        size_t length = big16(at);
        if (length < 2 || marker == 0 || marker == 0xd8) {
            return damaged(file, "a segment's length");
        }
        if (length > left) {
            return cut_short(file);
        }
        hw_status status = jpeg_segment(file, marker, at + 2, length - 2, out);
        if (status != HW_OK) {
            return status;
        }
        at += length;
        if (marker == 0xda) {
            scan_seen = out->width > 0;
            at = skip_scan(at, end);
        }
    }
    return cut_short(file);
}

// ---- PNG ---------------------------------------------------------------------------

static hw_status png_header(const reader *file, const uint8_t *at, size_t length, hw_probe *out)
{
    if (length != 13) {
        return damaged(file, "its header");
    }
    out->width = big32(at);
    out->height = big32(at + 4);
    out->bits = at[8] == 16 ? 16 : 8;
    out->grey = at[9] == 0 || at[9] == 4;
    return HW_OK;
}

static void png_profile(const uint8_t *at, size_t length, hw_probe *out)
{
    const uint8_t *zero = memchr(at, 0, length < 80 ? length : 80);
    size_t start = zero ? (size_t)(zero - at) + 2 : length;
    if (start < length && zero[1] == 0) {
        out->iccp = (hw_part){at + start, length - start};
    }
}

static void png_colour(const char *type, const uint8_t *at, size_t length, hw_probe *out)
{
    if (memcmp(type, "iCCP", 4) == 0) {
        png_profile(at, length, out);
    } else if (memcmp(type, "sRGB", 4) == 0) {
        out->has_srgb = true;
    } else if (memcmp(type, "gAMA", 4) == 0 && length == 4) {
        out->has_gama = true;
        out->gama = big32(at);
    } else if (memcmp(type, "cHRM", 4) == 0 && length == 32) {
        out->has_chrm = true;
        for (int i = 0; i < 8; i++) {
            out->chrm[i] = big32(at + 4 * i);
        }
    } else if (memcmp(type, "cICP", 4) == 0 && length == 4) {
        out->has_cicp = true;
        memcpy(out->cicp, at, 4);
    } else if (memcmp(type, "eXIf", 4) == 0) {
        out->exif = (hw_part){at, length};
    }
}

static hw_status probe_png(const reader *file, hw_probe *out)
{
    size_t at = 8;
    bool data_seen = false;
    out->format = HW_FORMAT_PNG;
    for (;;) {
        if (file->count - at < 12) {
            return cut_short(file);
        }
        size_t length = big32(file->bytes + at);
        if (length > file->count - at - 12) {
            return cut_short(file);
        }
        const uint8_t *type = file->bytes + at + 4, *data = type + 4;
        if (hw_crc32(type, length + 4) != big32(data + length)) {
            return damaged(file, "the sum of a chunk does not fit");
        }
        if (memcmp(type, "IHDR", 4) == 0) {
            hw_status status = out->width == 0 ? png_header(file, data, length, out)
                                               : damaged(file, "it has two headers");
            if (status != HW_OK) {
                return status;
            }
        } else if (at == 8) {
            return damaged(file, "its header is missing");
        }
        data_seen = data_seen || memcmp(type, "IDAT", 4) == 0;
        if (memcmp(type, "IEND", 4) == 0) {
            return data_seen ? HW_OK : damaged(file, "it holds no picture");
        }
        png_colour((const char *)type, data, length, out);
        at += length + 12;
    }
}

// ---- BMP and TGA -------------------------------------------------------------------

static hw_status probe_bmp(const reader *file, hw_probe *out)
{
    if (file->count < 26) {
        return cut_short(file);
    }
    const uint8_t *at = file->bytes;
    size_t start = little32(at + 10), bits, compression = 0;
    out->format = HW_FORMAT_BMP;
    out->bits = 8;
    if (little32(at + 14) == 12) {
        out->width = little16(at + 18);
        out->height = little16(at + 20);
        bits = little16(at + 24);
    } else {
        if (file->count < 54) {
            return cut_short(file);
        }
        uint32_t height = little32(at + 22);
        out->width = little32(at + 18);
        out->height = height > 0x7fffffff ? 0 - height : height; // below 0: top row first
        bits = little16(at + 28);
        compression = little32(at + 30);
    }
    // Division, not multiplication: no overflow.
    size_t row = (out->width / 8 * bits + (out->width % 8 * bits + 7) / 8 + 3) / 4 * 4;
    bool plain = compression == 0 || compression == 3;
    if (plain && row > 0 && (file->count < start || (file->count - start) / row < out->height)) {
        return cut_short(file);
    }
    return HW_OK;
}

// TGA has no first bytes of its own: version 2 ends in a mark, version 1 is known only by a header
// in which everything fits.
static bool looks_like_tga(const uint8_t *at, size_t count)
{
    if (count < 18) {
        return false;
    }
    unsigned map = at[1], type = at[2], bits = at[16];
    bool type_known = (type >= 1 && type <= 3) || (type >= 9 && type <= 11);
    bool mapped = type == 1 || type == 9;
    bool bits_known = bits == 8 || bits == 15 || bits == 16 || bits == 24 || bits == 32;
    bool map_fits = mapped ? map == 1 && (at[7] == 15 || at[7] == 16 || at[7] == 24 || at[7] == 32)
                           : map == 0 || (map == 1 && at[7] > 0);
    return type_known && bits_known && map_fits && (at[17] & 0xc0) == 0 && little16(at + 12) > 0 &&
           little16(at + 14) > 0;
}

// Are the packets of run-length coded rows there for all pixels? (TGA 2.0: a byte of which the upper bit
// says that one pixel is repeated, the others how many there are less 1.)
static bool runs_reach(const reader *file, size_t at, size_t pixel_size, size_t pixels)
{
    while (pixels > 0) {
        if (at >= file->count) {
            return false;
        }
        size_t packet = file->bytes[at] & 127u, stored = file->bytes[at] & 128u ? 1 : packet + 1;
        at += 1 + stored * pixel_size;
        pixels -= packet + 1 < pixels ? packet + 1 : pixels;
    }
    return at <= file->count;
}

static hw_status probe_tga(const reader *file, hw_probe *out)
{
    const uint8_t *at = file->bytes;
    out->format = HW_FORMAT_TGA;
    out->bits = 8;
    out->width = little16(at + 12);
    out->height = little16(at + 14);
    out->grey = at[2] == 3 || at[2] == 11;
    size_t map = at[1] ? (size_t)little16(at + 5) * ((at[7] + 7u) / 8) : 0;
    size_t start = 18 + at[0] + map, pixel_size = (at[16] + 7u) / 8;
    size_t pixels = out->width * out->height;
    bool whole = at[2] < 9 ? file->count >= start + pixels * pixel_size
                           : runs_reach(file, start, pixel_size, pixels);
    return whole ? HW_OK : cut_short(file);
}

// ---- HEIC and raw ------------------------------------------------------------------

static hw_status not_built_in(const reader *file, const char *kind, const char *package)
{
    char next[200];
    hw_format_text(
        next, sizeof next,
        "Save it as a JPEG, or set the camera to JPEG; or install %s and build huewright "
        "again.",
        package);
    return hw_fail(file->err, HW_ERR_INPUT, "photo-not-built-in", file->name, next,
                   "this is %s, which this huewright was built without", kind);
}

// Do the boxes that a file of ISO/IEC 14496-12 consists of end with it? (4.2: size, type; size 1: 64 bits
// follow; 0: to the end.)
static bool boxes_are_whole(const reader *file)
{
    size_t at = 0;
    while (file->count - at >= 8) {
        uint64_t size = big32(file->bytes + at), head = size == 1 ? 16 : 8, left = file->count - at;
        if (size == 1 && left >= 16) {
            size = (uint64_t)big32(file->bytes + at + 8) << 32 | big32(file->bytes + at + 12);
        }
        if (size == 0) {
            return true;
        }
        if (size < head || size > left) {
            return false;
        }
        at += (size_t)size;
    }
    return at == file->count;
}

static bool has_brand(const uint8_t *at, size_t count, const char *const *brands)
{
    size_t size = big32(at);
    for (size_t i = 8; i + 4 <= size && i + 4 <= count;
         i += i == 8 ? 8 : 4) { // behind it a version
        for (size_t k = 0; brands[k]; k++) {
            if (memcmp(at + i, brands[k], 4) == 0) {
                return true;
            }
        }
    }
    return false;
}

// A file of boxes by its brands (ISO/IEC 23008-12, annex B; AV1 Image File Format 1.1). The main brand
// "crx " is that of a maker's raw files.
static hw_status probe_boxes(const reader *file, hw_probe *out)
{
    static const char *const avif[] = {"avif", "avis", NULL};
    static const char *const heic[] = {"heic", "heix", "hevc", "hevx", "heim",
                                       "heis", "mif1", "msf1", NULL};
    const uint8_t *at = file->bytes;
    if (memcmp(at + 8, "crx ", 4) == 0) {
        out->format = HW_FORMAT_RAW;
        return hw_raw_decoder() ? HW_OK
                                : not_built_in(file, "a raw file of a camera", "libraw-dev");
    }
    if (!has_brand(at, file->count, heic) && !has_brand(at, file->count, avif)) {
        return hw_fail(file->err, HW_ERR_INPUT, "photo-unknown-format", file->name,
                       "Take a photo instead, or save one picture of it as JPEG.",
                       "this is a film or another file that holds no photo");
    }
    out->format = has_brand(at, file->count, avif) ? HW_FORMAT_AVIF : HW_FORMAT_HEIC;
    if (!hw_heif_decoder()) {
        return not_built_in(file, "a HEIC photo", "libheif-dev");
    }
    return boxes_are_whole(file) ? HW_OK : cut_short(file);
}

// The first bytes of raw files: TIFF, its relatives, and formats of makers' own.
static bool looks_like_raw(const uint8_t *at, size_t count)
{
    static const struct {
        unsigned place, length;
        const char *bytes;
    } marks[] = {
        {0, 4, "II*\0"},
        {0, 4, "MM\0*"},
        {0, 4, "IIRO"},
        {0, 4, "IIRS"},
        {0, 4, "MMOR"},
        {0, 4, "IIU\0"},
        {0, 4, "\x46\x55\x4a\x49"},
        {6, 8, "HEAPCCDR"},
        {0, 4, "\0MRM"},
        {0, 4, "FOVb"},
        {0, 8, "IIII\x1a\0\0\0"},
    };
    for (size_t i = 0; i < sizeof marks / sizeof *marks; i++) {
        size_t end = marks[i].place + marks[i].length;
        if (count >= end && memcmp(at + marks[i].place, marks[i].bytes, marks[i].length) == 0) {
            return true;
        }
    }
    return false;
}

static hw_status probe_raw(const reader *file, hw_probe *out)
{
    out->format = HW_FORMAT_RAW;
    out->exif = (hw_part){file->bytes, file->count}; // where it is a TIFF
    return hw_raw_decoder() ? HW_OK : not_built_in(file, "a raw file or TIFF", "libraw-dev");
}

// ---- One of them -------------------------------------------------------------------

const char *hw_photo_format_name(hw_photo_format format)
{
    static const char *const names[] = {"JPEG", "PNG", "BMP", "TGA", "HEIC", "AVIF", "raw", "DNG"};
    return names[format];
}

static hw_status test_size(const reader *file, const hw_limits *limits, const hw_probe *found)
{
    if (found->width == 0 || found->height == 0) {
        return damaged(file, "it has no width or height");
    }
    if (found->width > limits->side_px || found->height > limits->side_px ||
        found->width > limits->pixels / found->height) {
        return hw_photo_fail_size(found->width, found->height, limits, file->name, file->err);
    }
    return HW_OK;
}

hw_status hw_photo_probe(const uint8_t *bytes, size_t count, const char *name,
                         const hw_limits *limits, hw_probe *out, hw_error *err)
{
    hw_error fault = {0};
    reader file = {bytes, count, name, &fault}, sized = {bytes, count, name, err};
    hw_probe found = {0};
    hw_status status;
    if (count == 0) {
        return hw_fail(err, HW_ERR_INPUT, "photo-empty", name,
                       "Copy it from the phone or camera again.", "the file is empty");
    }
    if (count > limits->file_bytes || count > INT32_MAX) { // the decoder counts in int
        return hw_fail(err, HW_ERR_INPUT, "photo-too-large", name,
                       "Use a smaller copy of the photo.", "the file has %zu MB, more than %zu",
                       count / 1000000, limits->file_bytes / 1000000);
    }
    if (count >= 3 && memcmp(bytes, "\xff\xd8\xff", 3) == 0) {
        status = probe_jpeg(&file, &found);
    } else if (count >= 8 && memcmp(bytes, "\x89PNG\r\n\x1a\n", 8) == 0) {
        status = probe_png(&file, &found);
    } else if (count >= 2 && memcmp(bytes, "BM", 2) == 0) {
        status = probe_bmp(&file, &found);
    } else if (count >= 16 && memcmp(bytes + 4, "ftyp", 4) == 0) {
        status = probe_boxes(&file, &found);
    } else if (looks_like_raw(bytes, count)) {
        status = probe_raw(&file, &found);
    } else if (looks_like_tga(bytes, count)) {
        status = probe_tga(&file, &found);
    } else {
        return hw_fail(
            err, HW_ERR_INPUT, "photo-unknown-format", name,
            "Use a JPEG, PNG, HEIC or raw photo; a name that ends in .jpg is not enough.",
            "this is no photo that huewright knows");
    }
    // A size past the limits is told before any other fault: it is what the person can act on.
    bool by_probe = found.format < HW_FORMAT_HEIC; // of the others the child finds the size
    bool size_known = by_probe && (status == HW_OK || (found.width > 0 && found.height > 0));
    if (size_known && test_size(&sized, limits, &found) != HW_OK) {
        return HW_ERR_INPUT;
    }
    if (status != HW_OK) {
        return hw_fail(err, status, fault.code, fault.subject, fault.next, "%s", fault.what);
    }
    *out = found;
    return HW_OK;
}
