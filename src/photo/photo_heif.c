// photo_heif.c: HEIC and AVIF by libheif, in the child. This file alone knows libheif.
//
// Of the file's pictures the primary one is taken; previews are not looked at. libheif turns, mirrors and
// crops as the file says (irot, imir, clap), so the picture is upright and EXIF's orientation must not be
// applied again. More than 8 bits come as 16-bit codes: v of a largest m becomes 65535 v / m, rounded, which
// is exact to a 10,000th of a step of 10 bits.
//
// Damaged files: libheif is asked to be strict, and a picture that it has doubts about is none.
#include "photo_internal.h"

#ifdef HW_HEIF
#include <libheif/heif.h>
#include <string.h>

static void find_reason(hw_found *found, struct heif_error error)
{
    const char *reason = error.message ? error.message : "unknown";
    found->outcome = HW_FOUND_NOTHING;
    if (error.subcode == heif_suberror_Security_limit_exceeded) {
        found->outcome = HW_FOUND_UNSUPPORTED;
        reason = "it says that it is larger than any photo";
    } else if (error.code == heif_error_Memory_allocation_error) {
        found->outcome = HW_FOUND_MEMORY;
    } else if (error.code == heif_error_Unsupported_feature ||
               error.code == heif_error_Unsupported_filetype) {
        found->outcome = HW_FOUND_UNSUPPORTED;
    }
    strncpy(found->reason, reason, sizeof found->reason - 1);
}

static bool is_ok(hw_found *found, struct heif_error error)
{
    if (error.code != heif_error_Ok) {
        find_reason(found, error);
    }
    return error.code == heif_error_Ok;
}

// ---- What comes with the picture ---------------------------------------------------

// The block of EXIF: an offset in four bytes, and behind so many more the TIFF header (ISO/IEC 23008-12,
// annex A.2.1).
static void take_exif(const struct heif_image_handle *handle, hw_shared *shared)
{
    heif_item_id id = 0;
    if (heif_image_handle_get_list_of_metadata_block_IDs(handle, "Exif", &id, 1) != 1) {
        return;
    }
    size_t size = heif_image_handle_get_metadata_size(handle, id);
    uint8_t *bytes = size > 4 && size <= HW_FOUND_EXIF_MOST ? hw_shared_take(shared, size) : NULL;
    if (!bytes || heif_image_handle_get_metadata(handle, id, bytes).code != heif_error_Ok) {
        return;
    }
    size_t skip =
        (size_t)bytes[0] << 24 | (size_t)bytes[1] << 16 | (size_t)bytes[2] << 8 | bytes[3];
    if (skip < size - 4) {
        shared->found.exif = hw_shared_offset(shared, bytes + 4 + skip);
        shared->found.exif_count = size - 4 - skip;
    }
}

static void take_profile(const struct heif_image_handle *handle, hw_shared *shared)
{
    size_t size = heif_image_handle_get_raw_color_profile_size(handle);
    uint8_t *bytes =
        size > 0 && size <= HW_FOUND_PROFILE_MOST ? hw_shared_take(shared, size) : NULL;
    if (bytes && heif_image_handle_get_raw_color_profile(handle, bytes).code == heif_error_Ok) {
        shared->found.profile = hw_shared_offset(shared, bytes);
        shared->found.profile_count = size;
    }
}

// Code points of ITU-T H.273; frees them. Those of the file hold before those of the coded picture.
static void take_nclx(struct heif_error told, struct heif_color_profile_nclx *nclx, hw_found *found)
{
    if (told.code == heif_error_Ok && nclx && !found->has_cicp) {
        found->has_cicp = 1;
        found->cicp[0] = (uint8_t)nclx->color_primaries;
        found->cicp[1] = (uint8_t)nclx->transfer_characteristics;
        found->cicp[2] = (uint8_t)nclx->matrix_coefficients;
        found->cicp[3] = nclx->full_range_flag != 0;
    }
    if (told.code == heif_error_Ok && nclx) {
        heif_nclx_color_profile_free(nclx);
    }
}

// Perceptual quantizer and hybrid log-gamma: scales of brightness, not of a surface.
static bool is_hdr(const hw_found *found)
{
    return found->has_cicp && (found->cicp[1] == heif_transfer_characteristic_ITU_R_BT_2100_0_PQ ||
                               found->cicp[1] == heif_transfer_characteristic_ITU_R_BT_2100_0_HLG);
}

#define EXTRAS_MOST 16

// Pictures beside the main one. Their kinds are names that makers of phones chose; "hdrgainmap" and
// "matte" end those of gain maps and of cut-out people (from memory).
static void find_extras(const struct heif_image_handle *handle, hw_found *found)
{
    heif_item_id ids[EXTRAS_MOST];
    int count = heif_image_handle_get_list_of_auxiliary_image_IDs(
        handle, LIBHEIF_AUX_IMAGE_FILTER_OMIT_ALPHA, ids, EXTRAS_MOST);
    for (int i = 0; i < count && i < EXTRAS_MOST; i++) {
        struct heif_image_handle *extra = NULL;
        const char *kind = NULL;
        if (heif_image_handle_get_auxiliary_image_handle(handle, ids[i], &extra).code !=
            heif_error_Ok) {
            continue;
        }
        if (heif_image_handle_get_auxiliary_type(extra, &kind).code == heif_error_Ok && kind) {
            found->extras |= strstr(kind, "gainmap") ? HW_EXTRA_GAIN_MAP : 0u;
            found->extras |= strstr(kind, "matte") ? HW_EXTRA_DEPTH : 0u;
            heif_image_handle_free_auxiliary_types(extra, &kind);
        }
        heif_image_handle_release(extra);
    }
    found->extras |= heif_image_handle_has_depth_image(handle) ? HW_EXTRA_DEPTH : 0u;
}

// ---- The picture -------------------------------------------------------------------

static void take_row(const uint8_t *row, size_t codes, unsigned bits, void *to)
{
    if (bits == 8) {
        memcpy(to, row, codes);
        return;
    }
    uint16_t *wide = to;
    uint32_t most = (1u << bits) - 1;
    for (size_t i = 0; i < codes; i++) {
        uint32_t code = (uint32_t)row[2 * i] | (uint32_t)row[2 * i + 1] << 8;
        wide[i] = (uint16_t)(((code < most ? code : most) * 65535u + most / 2) / most);
    }
}

static void take_picture(const struct heif_image *image, hw_shared *shared)
{
    hw_found *found = &shared->found;
    int stride = 0, width = heif_image_get_width(image, heif_channel_interleaved);
    int height = heif_image_get_height(image, heif_channel_interleaved);
    int bits = heif_image_get_bits_per_pixel_range(image, heif_channel_interleaved);
    const uint8_t *rows = heif_image_get_plane_readonly(image, heif_channel_interleaved, &stride);
    if (!rows || width != (int)found->width || height != (int)found->height || bits < 8 ||
        bits > 16 || stride < width * (bits > 8 ? 6 : 3)) {
        strncpy(found->reason, "its parts disagree about its size", sizeof found->reason - 1);
        return;
    }
    size_t row_codes = (size_t)width * 3, code_size = bits > 8 ? 2 : 1;
    uint8_t *picture = hw_shared_take(shared, row_codes * code_size * (size_t)height);
    for (int y = 0; picture && y < height; y++) {
        take_row(rows + (ptrdiff_t)y * stride, row_codes, (unsigned)bits,
                 picture + (size_t)y * row_codes * code_size);
    }
    if (picture) {
        found->bits = bits > 8 ? 16 : 8;
        found->picture = hw_shared_offset(shared, picture);
        found->outcome = HW_FOUND_PICTURE;
    }
}

static void decode_picture(const struct heif_image_handle *handle, hw_shared *shared)
{
    hw_found *found = &shared->found;
    struct heif_image *image = NULL;
    struct heif_color_profile_nclx *nclx = NULL;
    struct heif_decoding_options *options = heif_decoding_options_alloc();
    int bits = heif_image_handle_get_luma_bits_per_pixel(handle);
    if (!options) {
        found->outcome = HW_FOUND_MEMORY;
        return;
    }
    options->strict_decoding = 1;
    options->convert_hdr_to_8bit = bits <= 8; // also where it is not known
    struct heif_error error = heif_decode_image(
        handle, &image, heif_colorspace_RGB,
        bits > 8 ? heif_chroma_interleaved_RRGGBB_LE : heif_chroma_interleaved_RGB, options);
    if (is_ok(found, error)) {
        struct heif_error doubt;
        if (heif_image_get_decoding_warnings(image, 0, &doubt, 1) > 0) {
            find_reason(found, doubt);
        } else {
            error = heif_image_get_nclx_color_profile(image, &nclx);
            take_nclx(error, nclx, found);
            take_picture(image, shared);
        }
        heif_image_release(image);
    }
    heif_decoding_options_free(options);
}

static void read_primary(const struct heif_image_handle *handle, hw_shared *shared)
{
    hw_found *found = &shared->found;
    struct heif_color_profile_nclx *nclx = NULL;
    int width = heif_image_handle_get_width(handle), height = heif_image_handle_get_height(handle);
    found->width = width > 0 ? (uint32_t)width : 0;
    found->height = height > 0 ? (uint32_t)height : 0;
    found->orientation = 1; // libheif turns it
    if (found->width == 0 || found->height == 0) {
        strncpy(found->reason, "it has no width or height", sizeof found->reason - 1);
        return;
    }
    if (found->width > shared->side_most || found->height > shared->side_most ||
        found->width > shared->pixel_most / found->height) {
        found->outcome = HW_FOUND_TOO_LARGE;
        return;
    }
    struct heif_error told = heif_image_handle_get_nclx_color_profile(handle, &nclx);
    take_nclx(told, nclx, found);
    if (!is_hdr(found)) {
        take_profile(handle, shared);
        take_exif(handle, shared);
        find_extras(handle, found);
        decode_picture(handle, shared);
    }
    if (is_hdr(found)) {
        found->outcome = HW_FOUND_HDR;
    }
}

static void heif_decode(const uint8_t *bytes, size_t count, const hw_probe *probe,
                        hw_shared *shared)
{
    hw_found *found = &shared->found;
    struct heif_image_handle *handle = NULL;
    struct heif_context *context = heif_context_alloc();
    (void)probe;
    if (!context) {
        found->outcome = HW_FOUND_MEMORY;
        return;
    }
    heif_context_set_max_decoding_threads(context, 0);
    if (is_ok(found, heif_context_read_from_memory_without_copy(context, bytes, count, NULL)) &&
        is_ok(found, heif_context_get_primary_image_handle(context, &handle))) {
        read_primary(handle, shared);
        heif_image_handle_release(handle);
    }
    heif_context_free(context);
}

// ---- The decoder -------------------------------------------------------------------

// Versions that keep their codecs as plug-ins read them from the disk.
static void heif_prepare(void)
{
    (void)heif_init(NULL);
}

static size_t heif_bound(const hw_probe *probe, size_t count, const hw_limits *limits)
{
    (void)probe;
    (void)count;
    size_t parts = sizeof(hw_shared) + HW_FOUND_EXIF_MOST + HW_FOUND_PROFILE_MOST + 4096;
    size_t most = (HW_SHARED_MOST - parts) / 6; // pixels of 16 bits that there is room for
    return parts + 6 * (limits->pixels < most ? limits->pixels : most);
}

const hw_decoder *hw_heif_decoder(void)
{
    static const hw_decoder decoder = {heif_prepare, heif_decode, heif_bound, true};
    return &decoder;
}

#else
const hw_decoder *hw_heif_decoder(void)
{
    return NULL;
}
#endif
