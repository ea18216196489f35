// photo_icc.c: from a file's code values to linear X, Y, Z under D50, as its colour profile says.
//
// Profiles of three curves and a matrix are used by own tables (2 ns a pixel against 85 through
// LittleCMS), but only after 1000 colours agree with LittleCMS within 1e-3 CIE76; all others go
// through LittleCMS, in double precision, relative colorimetric, without black point
// compensation. Where a file says nothing sRGB is assumed, and said so.
//
// A profile comes from outside, and LittleCMS does what it says: it may ask for endless memory, or give
// colours that are no numbers. So LittleCMS has its memory from us, and whatever comes out of it is
// tested. Version 2.14 does not survive an allocation that fails (it uses the NULL), so none comes back
// without memory: it is left by longjmp, and all that it held is freed from our own list.
//
// PNG chunks by the precedence of W3C PNG third edition: cICP, iCCP, sRGB, cHRM with gAMA. Code
// points of cICP: ITU-T H.273. This file alone knows LittleCMS.
#include "base_internal.h"
#include "photo_internal.h"

#include <lcms2.h>
#include <lcms2_plugin.h>
#include <math.h>
#include <setjmp.h>
#include <zlib.h>

#define PROFILE_BYTES_MOST ((size_t)4 << 20)
#define BLOCK_BYTES_MOST   ((size_t)64 << 20) // of LittleCMS: its tables of such a profile, and more

// X, Y, Z beyond so many times white are no colours of a photo (chosen; white is 1).
#define WHITES_MOST 16.0

struct hw_photo_colour {
    unsigned max_code;
    double *curve[3]; // own tables: code to linear, max_code + 1 entries each; one block
    double matrix[3][3];
    hw_xyz *grey; // grey profile: code to X, Y, Z
    cmsContext context;
    cmsHTRANSFORM transform; // all others
    // LittleCMS's memory: all blocks that it holds, whether it once got none, and where to go on then.
    struct held *blocks;
    bool memory_out;
    jmp_buf *way_out; // NULL: it can bear a NULL
};

// Before each of its blocks; as large as the widest alignment.
typedef struct held {
    _Alignas(max_align_t) struct held *before;
    struct held *after;
} held;

static bool in_reach(double value) // false for NaN
{
    return fabs(value) <= WHITES_MOST;
}

static bool is_colour(hw_xyz colour)
{
    return in_reach(colour.X) && in_reach(colour.Y) && in_reach(colour.Z);
}

void hw_photo_colour_free(hw_photo_colour *colour)
{
    if (!colour) {
        return;
    }
    hw_free(colour->curve[0]);
    hw_free(colour->grey);
    if (colour->transform) {
        cmsDeleteTransform(colour->transform);
    }
    if (colour->context) {
        cmsDeleteContext(colour->context);
    }
    while (colour->blocks) { // what it held when it was left
        held *next = colour->blocks->after;
        hw_free(colour->blocks);
        colour->blocks = next;
    }
    hw_free(colour);
}

void hw_photo_colour_apply(const hw_photo_colour *colour, const uint16_t *rgb, size_t count,
                           hw_xyz *out)
{
    if (colour->grey) {
        for (size_t i = 0; i < count; i++) {
            out[i] = colour->grey[rgb[3 * i]];
        }
        return;
    }
    if (!colour->transform) {
        const double(*m)[3] = colour->matrix;
        for (size_t i = 0; i < count; i++) {
            double r = colour->curve[0][rgb[3 * i]], g = colour->curve[1][rgb[3 * i + 1]];
            double b = colour->curve[2][rgb[3 * i + 2]];
            out[i] = (hw_xyz){m[0][0] * r + m[0][1] * g + m[0][2] * b,
                              m[1][0] * r + m[1][1] * g + m[1][2] * b,
                              m[2][0] * r + m[2][1] * g + m[2][2] * b};
        }
        return;
    }
    double codes[3 * 256], scale = 1.0 / colour->max_code;
    for (size_t done = 0; done < count;) {
        size_t piece = count - done < 256 ? count - done : 256;
        for (size_t i = 0; i < 3 * piece; i++) {
            codes[i] = rgb[3 * done + i] * scale;
        }
        cmsDoTransform(colour->transform, codes, out + done, (cmsUInt32Number)piece);
        for (size_t i = done; i < done + piece; i++) {
            out[i] = is_colour(out[i]) ? out[i] : (hw_xyz){0}; // where no test of the profile came
        }
        done += piece;
    }
}

bool hw_photo_colour_curves(const hw_photo_colour *colour, const double *curve[3],
                            double matrix[3][3])
{
    if (colour->grey || colour->transform) {
        return false;
    }
    for (int channel = 0; channel < 3; channel++) {
        curve[channel] = colour->curve[channel];
    }
    memcpy(matrix, colour->matrix, sizeof colour->matrix);
    return true;
}

// ---- Own tables --------------------------------------------------------------------

typedef enum fit { FIT_GOOD, FIT_NOT, FIT_NO_MEMORY } fit;

static bool make_curves(hw_photo_colour *colour)
{
    size_t entries = (size_t)colour->max_code + 1;
    colour->curve[0] = hw_alloc_array(3 * entries, sizeof(double));
    if (!colour->curve[0]) {
        return false;
    }
    colour->curve[1] = colour->curve[0] + entries;
    colour->curve[2] = colour->curve[1] + entries;
    return true;
}

// The sRGB of the standard itself, where a file has no profile of its own.
static bool use_srgb(hw_photo_colour *colour)
{
    if (!make_curves(colour)) {
        return false;
    }
    for (size_t code = 0; code <= colour->max_code; code++) {
        double linear = hw_srgb_linear((double)code / colour->max_code);
        colour->curve[0][code] = colour->curve[1][code] = colour->curve[2][code] = linear;
    }
    for (int channel = 0; channel < 3; channel++) {
        const double one[3] = {channel == 0, channel == 1, channel == 2};
        hw_xyz column = hw_xyz_from_linear_srgb(one);
        colour->matrix[0][channel] = column.X;
        colour->matrix[1][channel] = column.Y;
        colour->matrix[2][channel] = column.Z;
    }
    return true;
}

// A sensor's values, coded on the sRGB curve by photo_raw.c, and its own matrices.
static fit use_sensor(const hw_found *found, hw_photo_colour *colour)
{
    hw_sensor sensor = {.matrices = (int)found->matrices};
    memcpy(sensor.xyz_to_camera, found->xyz_to_camera, sizeof sensor.xyz_to_camera);
    memcpy(sensor.kelvin, found->kelvin, sizeof sensor.kelvin);
    memcpy(sensor.neutral, found->neutral, sizeof sensor.neutral);
    if (!use_srgb(colour)) {
        return FIT_NO_MEMORY;
    }
    if (!hw_sensor_to_xyz(&sensor, colour->matrix)) {
        return FIT_NOT;
    }
    for (int channel = 0; channel < 3; channel++) {
        const double(*m)[3] = colour->matrix;
        if (!is_colour((hw_xyz){m[0][channel], m[1][channel], m[2][channel]})) {
            return FIT_NOT;
        }
    }
    return FIT_GOOD;
}

// Curves and matrix of a profile that has them. False: it has none; *memory_out: out of memory.
static bool take_matrix(cmsHPROFILE profile, hw_photo_colour *colour, bool *memory_out)
{
    static const cmsTagSignature curves[3] = {cmsSigRedTRCTag, cmsSigGreenTRCTag, cmsSigBlueTRCTag};
    static const cmsTagSignature columns[3] = {cmsSigRedColorantTag, cmsSigGreenColorantTag,
                                               cmsSigBlueColorantTag};
    if (!cmsIsMatrixShaper(profile) || cmsIsTag(profile, cmsSigAToB0Tag) ||
        cmsIsTag(profile, cmsSigAToB1Tag) || cmsIsTag(profile, cmsSigDToB1Tag)) {
        return false;
    }
    if (!make_curves(colour)) {
        *memory_out = true;
        return false;
    }
    for (int channel = 0; channel < 3; channel++) {
        const cmsToneCurve *curve = cmsReadTag(profile, curves[channel]);
        const cmsCIEXYZ *column = cmsReadTag(profile, columns[channel]);
        if (!curve || !column || !is_colour((hw_xyz){column->X, column->Y, column->Z})) {
            return false;
        }
        for (size_t code = 0; code <= colour->max_code; code++) {
            double value =
                cmsEvalToneCurveFloat(curve, (cmsFloat32Number)((double)code / colour->max_code));
            if (!in_reach(value)) {
                return false;
            }
            colour->curve[channel][code] = value;
        }
        colour->matrix[0][channel] = column->X;
        colour->matrix[1][channel] = column->Y;
        colour->matrix[2][channel] = column->Z;
    }
    return true;
}

// The n-th of 1000 colours, spread by a fixed linear congruence; the first eight are the ends.
static void spread_colour(int n, uint32_t *state, unsigned max_code, uint16_t rgb[3])
{
    for (int channel = 0; channel < 3; channel++) {
        *state = *state * 1664525u + 1013904223u;
        rgb[channel] = n < 8 ? (uint16_t)(n >> channel & 1 ? max_code : 0)
                             : (uint16_t)((uint64_t)(*state >> 8) * (max_code + 1u) >> 24);
    }
}

// Does the transform give colours, and do own tables (where there are any) agree with it?
static bool test_transform(const hw_photo_colour *colour, cmsHTRANSFORM transform, bool tables)
{
    uint32_t state = 1;
    for (int i = 0; i < 1000; i++) {
        uint16_t rgb[3];
        double codes[3];
        hw_xyz own, theirs;
        spread_colour(i, &state, colour->max_code, rgb);
        for (int channel = 0; channel < 3; channel++) {
            codes[channel] = (double)rgb[channel] / colour->max_code;
        }
        cmsDoTransform(transform, codes, &theirs, 1);
        if (!is_colour(theirs)) {
            return false;
        }
        if (tables) {
            hw_photo_colour_apply(colour, rgb, 1, &own);
            hw_difference gap = hw_difference_of(hw_lab_from_xyz(theirs, hw_white_d50),
                                                 hw_lab_from_xyz(own, hw_white_d50));
            if (!(gap.de76 < 1e-3)) {
                return false;
            }
        }
    }
    return true;
}

// ---- A profile ---------------------------------------------------------------------

static void stay_silent(cmsContext context, cmsUInt32Number code, const char *text)
{
    (void)context;
    (void)code;
    (void)text;
}

// ---- LittleCMS's memory ------------------------------------------------------------

// A context's own block comes before and goes after the context: it has no colour, and is in no list.
static void *lcms_resize(cmsContext context, void *bytes, cmsUInt32Number size)
{
    hw_photo_colour *colour = cmsGetContextUserData(context);
    held *old = bytes ? (held *)bytes - 1 : NULL;
    held *now = size <= BLOCK_BYTES_MOST ? hw_resize_array(old, 1, sizeof *now + size) : NULL;
    if (!now) {
        if (colour) {
            colour->memory_out = true;
        }
        if (colour && colour->way_out) {
            longjmp(*colour->way_out, 1);
        }
        return NULL;
    }
    if (!old) {
        *now = (held){.after = colour ? colour->blocks : NULL};
        memset(now + 1, 0, size);
    }
    if (now->before) {
        now->before->after = now;
    } else if (colour) {
        colour->blocks = now;
    }
    if (now->after) {
        now->after->before = now;
    }
    return now + 1;
}

static void *lcms_take(cmsContext context, cmsUInt32Number size)
{
    return lcms_resize(context, NULL, size);
}

static void lcms_drop(cmsContext context, void *bytes)
{
    hw_photo_colour *colour = cmsGetContextUserData(context);
    held *old = bytes ? (held *)bytes - 1 : NULL;
    if (!old) {
        return;
    }
    if (old->before) {
        old->before->after = old->after;
    } else if (colour) {
        colour->blocks = old->after;
    }
    if (old->after) {
        old->after->before = old->before;
    }
    hw_free(old);
}

// NULL when memory is out.
static hw_photo_colour *new_colour(unsigned max_code)
{
    cmsPluginMemHandler our_memory = {
        .base = {.Magic = cmsPluginMagicNumber,
                 .ExpectedVersion = 2000,
                 .Type = cmsPluginMemHandlerSig},
        .MallocPtr = lcms_take,
        .FreePtr = lcms_drop,
        .ReallocPtr = lcms_resize,
    };
    hw_photo_colour *colour = hw_alloc_array(1, sizeof *colour);
    if (!colour) {
        return NULL;
    }
    colour->max_code = max_code;
    colour->context = cmsCreateContext(&our_memory, colour);
    if (!colour->context || colour->memory_out) {
        hw_photo_colour_free(colour);
        return NULL;
    }
    cmsSetLogErrorHandlerTHR(colour->context, stay_silent);
    return colour;
}

static cmsHTRANSFORM transform_of(const hw_photo_colour *colour, cmsHPROFILE profile,
                                  cmsUInt32Number input)
{
    cmsHPROFILE xyz = cmsCreateXYZProfileTHR(colour->context);
    cmsHTRANSFORM made = NULL;
    if (xyz) {
        made = cmsCreateTransformTHR(colour->context, profile, input, xyz, TYPE_XYZ_DBL,
                                     INTENT_RELATIVE_COLORIMETRIC,
                                     cmsFLAGS_NOOPTIMIZE | cmsFLAGS_NOCACHE);
        cmsCloseProfile(xyz);
    }
    return made;
}

static fit use_grey(cmsHPROFILE profile, hw_photo_colour *colour)
{
    bool good = true;
    cmsHTRANSFORM transform = transform_of(colour, profile, TYPE_GRAY_DBL);
    if (!transform) {
        return FIT_NOT;
    }
    colour->grey = hw_alloc_array((size_t)colour->max_code + 1, sizeof *colour->grey);
    for (size_t code = 0; colour->grey && code <= colour->max_code; code++) {
        double value = (double)code / colour->max_code;
        cmsDoTransform(transform, &value, &colour->grey[code], 1);
        good = good && is_colour(colour->grey[code]);
    }
    cmsDeleteTransform(transform);
    if (!colour->grey) {
        return FIT_NO_MEMORY;
    }
    if (!good) {
        hw_free(colour->grey);
        colour->grey = NULL;
    }
    return good ? FIT_GOOD : FIT_NOT;
}

static fit use_rgb(cmsHPROFILE profile, hw_photo_colour *colour, bool *own_tables)
{
    bool memory_out = false;
    cmsHTRANSFORM transform = transform_of(colour, profile, TYPE_RGB_DBL);
    if (!transform) {
        return FIT_NOT;
    }
    *own_tables =
        take_matrix(profile, colour, &memory_out) && test_transform(colour, transform, true);
    if (!*own_tables && !memory_out && test_transform(colour, transform, false)) {
        colour->transform = transform;
        return FIT_GOOD;
    }
    cmsDeleteTransform(transform);
    return memory_out ? FIT_NO_MEMORY : *own_tables ? FIT_GOOD : FIT_NOT;
}

// FIT_NOT: a profile that this picture cannot use.
static fit use_profile(cmsHPROFILE profile, bool grey, hw_photo_colour *colour, bool *own_tables)
{
    cmsColorSpaceSignature space = profile ? cmsGetColorSpace(profile) : 0;
    fit result = FIT_NOT;
    *own_tables = false;
    if (space == cmsSigGrayData && grey) {
        result = use_grey(profile, colour);
    } else if (space == cmsSigRgbData) {
        result = use_rgb(profile, colour, own_tables);
    }
    return result;
}

// False: LittleCMS ran out of memory in `work`; colour is good for nothing but hw_photo_colour_free.
static bool with_way_out(hw_photo_colour *colour, void (*work)(void *), void *given)
{
    jmp_buf way_out;
    colour->way_out = &way_out;
    if (setjmp(way_out) == 0) {
        work(given);
    }
    colour->way_out = NULL;
    return !colour->memory_out;
}

typedef struct profile_work {
    hw_part profile;
    bool grey, *own_tables;
    hw_photo_colour *colour;
    fit result;
} profile_work;

static void open_and_use(void *given)
{
    profile_work *work = given;
    cmsHPROFILE opened = cmsOpenProfileFromMemTHR(work->colour->context, work->profile.bytes,
                                                  (cmsUInt32Number)work->profile.count);
    work->result = use_profile(opened, work->grey, work->colour, work->own_tables);
    if (opened) {
        cmsCloseProfile(opened);
    }
}

hw_status hw_photo_colour_of_profile(hw_part profile, unsigned max_code, bool grey,
                                     bool *own_tables, hw_photo_colour **out, hw_error *err)
{
    hw_photo_colour *colour = new_colour(max_code);
    profile_work work = {profile, grey, own_tables, colour, FIT_NO_MEMORY};
    if (!colour || !with_way_out(colour, open_and_use, &work)) {
        hw_photo_colour_free(colour);
        return hw_fail_memory(err, "reading the colour profile");
    }
    if (work.result == FIT_GOOD) {
        *out = colour;
        return HW_OK;
    }
    hw_photo_colour_free(colour);
    return work.result == FIT_NO_MEMORY
               ? hw_fail_memory(err, "reading the colour profile")
               : hw_fail(err, HW_ERR_INPUT, "photo-profile", "colour profile",
                         "Save the photo with an sRGB profile, or without one.",
                         "the colour profile does not fit a photo");
}

// ---- What the file says ------------------------------------------------------------

// The parts of a JPEG's profile in order of their numbers; free with hw_free.
static hw_status join_parts(const hw_probe *probe, const char *name, uint8_t **out, size_t *count,
                            hw_error *err)
{
    size_t total = 0;
    bool whole = !probe->icc_broken && probe->icc_found == probe->icc_total;
    for (size_t i = 0; i < probe->icc_total; i++) {
        whole = whole && probe->icc[i].bytes;
        total += probe->icc[i].count;
    }
    if (!whole || total > PROFILE_BYTES_MOST) {
        return hw_fail(err, HW_ERR_INPUT, "photo-profile", name,
                       "Copy the photo from the phone again, or save it with an sRGB profile.",
                       "its colour profile is not whole (%zu of %zu parts)", probe->icc_found,
                       probe->icc_total);
    }
    uint8_t *bytes = hw_alloc_array(total, 1);
    if (!bytes) {
        return hw_fail_memory(err, "reading the colour profile");
    }
    size_t at = 0;
    for (size_t i = 0; i < probe->icc_total; i++) {
        if (probe->icc[i].count > 0) {
            memcpy(bytes + at, probe->icc[i].bytes, probe->icc[i].count);
        }
        at += probe->icc[i].count;
    }
    *out = bytes;
    *count = total;
    return HW_OK;
}

static void *zlib_take(void *unused, unsigned count, unsigned size)
{
    (void)unused;
    return hw_alloc_array(count, size);
}

static void zlib_drop(void *unused, void *block)
{
    (void)unused;
    hw_free(block);
}

static hw_status inflate_profile(hw_part packed, const char *name, uint8_t **out, size_t *count,
                                 hw_error *err)
{
    z_stream stream = {.zalloc = zlib_take, .zfree = zlib_drop};
    stream.next_in = (Bytef *)(uintptr_t)packed.bytes;
    stream.avail_in = (uInt)packed.count;
    uint8_t *bytes = hw_alloc_array(PROFILE_BYTES_MOST, 1);
    if (!bytes || inflateInit(&stream) != Z_OK) {
        hw_free(bytes);
        return hw_fail_memory(err, "reading the colour profile");
    }
    stream.next_out = bytes;
    stream.avail_out = (uInt)PROFILE_BYTES_MOST;
    int result = inflate(&stream, Z_FINISH);
    *count = stream.total_out;
    inflateEnd(&stream);
    if (result != Z_STREAM_END) {
        hw_free(bytes);
        return hw_fail(
            err, HW_ERR_INPUT, "photo-profile", name, "Save the photo again with an sRGB profile.",
            "its colour profile is damaged or larger than %zu MB", PROFILE_BYTES_MOST / 1000000);
    }
    *out = bytes;
    return HW_OK;
}

// A profile from the chromaticities and the exponent that a PNG states.
static cmsHPROFILE profile_of_numbers(cmsContext context, const hw_probe *probe, bool p3)
{
    // IEC 61966-2-1 primaries and D65; P3 primaries of SMPTE EG 432-1.
    cmsCIExyY white = {0.3127, 0.3290, 1.0};
    cmsCIExyYTRIPLE primaries = {{0.64, 0.33, 1.0}, {0.30, 0.60, 1.0}, {0.15, 0.06, 1.0}};
    if (p3) {
        primaries =
            (cmsCIExyYTRIPLE){{0.680, 0.320, 1.0}, {0.265, 0.690, 1.0}, {0.150, 0.060, 1.0}};
    } else if (probe->has_chrm) {
        const uint32_t *c = probe->chrm;
        white = (cmsCIExyY){c[0] / 1e5, c[1] / 1e5, 1.0};
        primaries = (cmsCIExyYTRIPLE){{c[2] / 1e5, c[3] / 1e5, 1.0},
                                      {c[4] / 1e5, c[5] / 1e5, 1.0},
                                      {c[6] / 1e5, c[7] / 1e5, 1.0}};
    }
    // Parametric type 4 of LittleCMS: the sRGB curve with the numbers of IEC 61966-2-1.
    const double srgb[5] = {2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045};
    bool own_gamma = probe->has_gama && probe->gama > 0 && !p3;
    cmsToneCurve *curve = own_gamma ? cmsBuildGamma(context, 1e5 / probe->gama)
                                    : cmsBuildParametricToneCurve(context, 4, srgb);
    cmsToneCurve *curves[3] = {curve, curve, curve};
    cmsHPROFILE made = curve ? cmsCreateRGBProfileTHR(context, &white, &primaries, curves) : NULL;
    if (curve) {
        cmsFreeToneCurve(curve);
    }
    return made;
}

static void name_profile(cmsHPROFILE profile, hw_photo_facts *facts)
{
    char text[80] = "";
    cmsGetProfileInfoASCII(profile, cmsInfoDescription, "en", "US", text, sizeof text);
    hw_format_text(facts->colour, sizeof facts->colour, "profile: %s",
                   hw_name_is_usable(text) ? text : "without a name");
}

// ---- One of them -------------------------------------------------------------------

typedef struct source {
    uint8_t *bytes; // of an embedded profile; NULL: none
    size_t count;
    bool p3, numbers; // PNG states P3, or its own chromaticities and exponent
    bool srgb_stated;
} source;

// Code points of ITU-T H.273. *known: they say what the colours are.
static hw_status take_code_points(const hw_probe *probe, const char *name, source *found,
                                  bool *known, hw_photo_facts *facts, hw_error *err)
{
    unsigned primaries = probe->cicp[0], transfer = probe->cicp[1];
    *known = transfer == 13 && (primaries == 1 || primaries == 12);
    found->srgb_stated = *known && primaries == 1;
    found->p3 = *known && primaries == 12;
    if (transfer == 16 || transfer == 18) {
        return hw_photo_fail_hdr(name, err);
    }
    if (!*known && (transfer != 2 || primaries != 2)) { // 2: not specified
        hw_warn_trouble(&facts->warnings, HW_TROUBLE_PROFILE, 2.0,
                        "The file states a colour coding that huewright does not know; "
                        "it was left aside.");
    }
    return HW_OK;
}

static hw_status png_source(const hw_probe *probe, const char *name, source *found,
                            hw_photo_facts *facts, hw_error *err)
{
    bool known = false;
    if (probe->has_cicp) {
        hw_status status = take_code_points(probe, name, found, &known, facts, err);
        if (known || status != HW_OK) {
            return status;
        }
    }
    if (probe->iccp.bytes) {
        return inflate_profile(probe->iccp, name, &found->bytes, &found->count, err);
    }
    found->srgb_stated = probe->has_srgb;
    found->numbers = !probe->has_srgb && probe->has_gama;
    return HW_OK;
}

// A profile holds before code points, which then only say how the picture was coded (ISO/IEC 23008-12, 6.5.5).
static hw_status heif_source(const hw_probe *probe, const char *name, source *found,
                             hw_photo_facts *facts, hw_error *err)
{
    bool known = false;
    if (probe->profile.count == 0) {
        return probe->has_cicp ? take_code_points(probe, name, found, &known, facts, err) : HW_OK;
    }
    found->bytes = hw_alloc_array(probe->profile.count, 1);
    if (!found->bytes) {
        return hw_fail_memory(err, "reading the colour profile");
    }
    memcpy(found->bytes, probe->profile.bytes, probe->profile.count);
    found->count = probe->profile.count;
    return HW_OK;
}

static void assume_srgb(const source *found, const hw_exif *exif, hw_photo_facts *facts)
{
    bool stated = found->srgb_stated || exif->colour_space == 1;
    facts->colour_assumed = !stated;
    hw_copy_text(facts->colour, sizeof facts->colour,
                 stated ? "sRGB (stated by the file)"
                        : "sRGB (assumed: the file names no colour profile)");
    if (exif->colour_space == 65535) {
        hw_warn_trouble(
            &facts->warnings, HW_TROUBLE_PROFILE, 2.0,
            "The camera says that this photo is not plain sRGB but gives no colour profile; it "
            "is read as sRGB. Set the camera to sRGB, or embed the profile.");
    }
}

static cmsHPROFILE open_source(const source *found, const hw_probe *probe, cmsContext context)
{
    if (found->bytes) {
        return cmsOpenProfileFromMemTHR(context, found->bytes, (cmsUInt32Number)found->count);
    }
    return found->p3 || found->numbers ? profile_of_numbers(context, probe, found->p3) : NULL;
}

typedef struct choice {
    const source *found;
    const hw_probe *probe;
    hw_photo_facts *facts;
    hw_photo_colour *colour;
    fit result;
} choice;

static void choose_profile(void *given)
{
    choice *one = given;
    cmsHPROFILE profile = open_source(one->found, one->probe, one->colour->context);
    one->result = use_profile(profile, one->probe->grey, one->colour, &one->facts->own_tables);
    if (one->result == FIT_GOOD && one->found->bytes) {
        name_profile(profile, one->facts);
    } else if (one->result == FIT_GOOD) {
        hw_copy_text(one->facts->colour, sizeof one->facts->colour,
                     one->found->p3 ? "P3 primaries (stated by the file)"
                                    : "primaries and gamma stated by the file");
    }
    if (profile) {
        cmsCloseProfile(profile);
    }
}

static hw_status choose(const source *found, const hw_probe *probe, const hw_exif *exif,
                        hw_photo_facts *facts, hw_photo_colour *colour, hw_error *err)
{
    choice one = {found, probe, facts, colour, FIT_NOT};
    if (!with_way_out(colour, choose_profile, &one)) {
        return hw_fail_memory(err, "reading the colour profile");
    }
    if (one.result == FIT_NOT) {
        if (found->bytes || found->numbers) {
            hw_warn_trouble(&facts->warnings, HW_TROUBLE_PROFILE, 2.0,
                            "The colour profile in this file does not fit a photo and was "
                            "left aside; the photo is read as sRGB.");
        }
        hw_free(colour->curve[0]);
        colour->curve[0] = NULL;
        facts->own_tables = true;
        assume_srgb(found, exif, facts);
        one.result = use_srgb(colour) ? FIT_GOOD : FIT_NO_MEMORY;
    }
    return one.result == FIT_GOOD ? HW_OK : hw_fail_memory(err, "reading the colour profile");
}

static hw_status choose_sensor(const hw_found *found, const char *name, hw_photo_facts *facts,
                               hw_photo_colour *colour, hw_error *err)
{
    fit result = use_sensor(found, colour);
    if (result == FIT_NOT) {
        return hw_photo_fail_unsupported("a raw file whose colour matrix cannot be used", name,
                                         err);
    }
    facts->own_tables = true;
    hw_copy_text(facts->colour, sizeof facts->colour,
                 found->from_file ? "camera raw: the file's own matrix"
                                  : "camera raw: the matrix known for this camera");
    return result == FIT_GOOD ? HW_OK : hw_fail_memory(err, "reading the photo's colours");
}

static hw_status find_source(const hw_probe *probe, const char *name, source *found,
                             hw_photo_facts *facts, hw_error *err)
{
    if (probe->format == HW_FORMAT_PNG) {
        return png_source(probe, name, found, facts, err);
    }
    if (probe->format == HW_FORMAT_HEIC || probe->format == HW_FORMAT_AVIF) {
        return heif_source(probe, name, found, facts, err);
    }
    return probe->icc_total > 0 || probe->icc_broken
               ? join_parts(probe, name, &found->bytes, &found->count, err)
               : HW_OK;
}

hw_status hw_photo_colour_make(const hw_probe *probe, const hw_exif *exif, const char *name,
                               hw_photo_facts *facts, hw_photo_colour **out, hw_error *err)
{
    source found = {0};
    hw_status status = HW_OK;
    bool is_raw = probe->format >= HW_FORMAT_RAW && probe->found;
    hw_photo_colour *colour = new_colour(probe->bits == 16 ? 65535 : 255);
    if (!colour) {
        status = hw_fail_memory(err, "reading the colour profile");
        goto done;
    }
    if (is_raw) {
        status = choose_sensor(probe->found, name, facts, colour, err);
    } else {
        status = find_source(probe, name, &found, facts, err);
    }
    if (status == HW_OK && !is_raw) {
        status = choose(&found, probe, exif, facts, colour, err);
    }
    if (status == HW_OK) {
        *out = colour;
        colour = NULL;
    }
done:
    hw_free(found.bytes);
    hw_photo_colour_free(colour);
    return status;
}
