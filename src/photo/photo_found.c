// photo_found.c: what a child left, tested as if it were a file, and the words for what was wrong.
#include "base_internal.h"
#include "photo_internal.h"

#include <math.h>

#define BLOCK 64u // as photo_child.c hands memory out

// ---- Words -------------------------------------------------------------------------

hw_status hw_photo_fail_memory(const char *name, hw_error *err)
{
    return hw_fail(
        err, HW_ERR_STORAGE, "memory-out", name,
        "Close other programs, or use a smaller copy of the photo, and try again.",
        "decoding it takes more memory than there is, or than a photo of its size should");
}

hw_status hw_photo_fail_crash(unsigned how_long, const char *name, hw_error *err)
{
    if (how_long > 0) {
        return hw_fail(err, HW_ERR_INPUT, "photo-crashed", name,
                       "Copy it from the phone or camera again, or use a smaller copy.",
                       "reading it took more than %u %s and was stopped", how_long,
                       how_long == 1 ? "second" : "seconds");
    }
    return hw_fail(err, HW_ERR_INPUT, "photo-crashed", name,
                   "Copy it from the phone or camera again; do not use files from strangers.",
                   "the photo is so damaged that reading it failed; nothing else was touched");
}

hw_status hw_photo_fail_damaged(const char *name, hw_error *err, const char *format, ...)
{
    char what[200];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(what, sizeof what, format, arguments);
    va_end(arguments);
    return hw_fail(err, HW_ERR_INPUT, "photo-damaged", name,
                   "Copy it from the phone or camera again, or save it as an ordinary JPEG.", "%s",
                   what);
}

hw_status hw_photo_fail_size(size_t width, size_t height, const hw_limits *limits, const char *name,
                             hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "photo-too-large", name,
                   "Make it smaller: 12 megapixels are plenty.",
                   "the photo has %zu x %zu pixels, more than huewright reads (%zu million)", width,
                   height, limits->pixels / 1000000);
}

hw_status hw_photo_fail_hdr(const char *name, hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "photo-unsupported", name,
                   "Take or save the photo without high dynamic range.",
                   "this is a high dynamic range picture: its scale is not that of a "
                   "surface");
}

hw_status hw_photo_fail_unsupported(const char *what, const char *name, hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "photo-unsupported", name,
                   "Save it as an ordinary JPEG or PNG and try again.",
                   "huewright cannot read this kind of photo (%s)", what);
}

// ---- Tests -------------------------------------------------------------------------

size_t hw_found_picture_bytes(const hw_found *found)
{
    return (size_t)found->width * 3 * (found->bits / 8) * found->height;
}

// Where nothing is, what stands as its place may be anything.
hw_part hw_found_part(const void *memory, uint64_t at, uint64_t count)
{
    return count > 0 ? (hw_part){(const uint8_t *)memory + at, (size_t)count} : (hw_part){0};
}

// Does a part lie behind the head of the shared memory and within it?
static bool fits(uint64_t at, uint64_t count, size_t size)
{
    return count == 0 || (at >= sizeof(hw_shared) && at <= size && count <= size - at);
}

static bool is_large(const hw_found *found, const hw_limits *limits)
{
    return found->width > limits->side_px || found->height > limits->side_px ||
           (found->height > 0 && found->width > limits->pixels / found->height);
}

static bool picture_is_sound(const hw_found *found, size_t size, const hw_probe *probe)
{
    bool known = probe->width > 0; // what the probe has not seen it cannot contradict
    bool same = !known || (found->width == probe->width && found->height == probe->height &&
                           found->bits == probe->bits);
    return same && found->width > 0 && found->height > 0 &&
           (found->bits == 8 || found->bits == 16) && found->orientation <= 8 &&
           found->picture % BLOCK == 0 && fits(found->picture, hw_found_picture_bytes(found), size);
}

static bool parts_are_sound(const hw_found *found, size_t size)
{
    return found->exif_count <= HW_FOUND_EXIF_MOST &&
           found->profile_count <= HW_FOUND_PROFILE_MOST &&
           fits(found->exif, found->exif_count, size) &&
           fits(found->profile, found->profile_count, size) && found->photosites <= 3 &&
           found->matrices <= 2;
}

hw_status hw_found_test(hw_found *found, size_t size, const hw_probe *probe,
                        const hw_limits *limits, const char *name, hw_error *err)
{
    found->reason[sizeof found->reason - 1] = 0;
    found->make[sizeof found->make - 1] = 0;
    found->model[sizeof found->model - 1] = 0;
    const char *why = hw_name_is_usable(found->reason) ? found->reason : "no reason given";
    switch (found->outcome) {
    case HW_FOUND_PICTURE:
        if (is_large(found, limits) && probe->width == 0) {
            return hw_photo_fail_size(found->width, found->height, limits, name, err);
        }
        return !is_large(found, limits) && picture_is_sound(found, size, probe) &&
                       parts_are_sound(found, size)
                   ? HW_OK
                   : hw_photo_fail_crash(0, name, err);
    case HW_FOUND_TOO_LARGE:
        return hw_photo_fail_size(found->width, found->height, limits, name, err);
    case HW_FOUND_UNSUPPORTED:
        return hw_photo_fail_unsupported(why, name, err);
    case HW_FOUND_HDR:
        return hw_photo_fail_hdr(name, err);
    case HW_FOUND_MEMORY:
        return hw_photo_fail_memory(name, err);
    default:
        return hw_photo_fail_damaged(name, err, "the photo could not be decoded (%s)", why);
    }
}

void hw_found_to_probe(const hw_pixels *pixels, hw_probe *probe)
{
    const hw_found *found = &pixels->found;
    probe->found = found;
    if (found->is_dng && probe->format == HW_FORMAT_RAW) {
        probe->format = HW_FORMAT_DNG;
    }
    probe->width = found->width;
    probe->height = found->height;
    probe->bits = found->bits;
    probe->profile = pixels->profile;
    if (pixels->exif.count > 0) {
        probe->exif = pixels->exif;
    }
    // A profile of grey in a picture of three alike channels (ICC.1:2022, 7.2: colour space at byte 16).
    probe->grey = probe->profile.count >= 20 && memcmp(probe->profile.bytes + 16, "GRAY", 4) == 0;
    probe->has_cicp = found->has_cicp != 0;
    memcpy(probe->cicp, found->cicp, sizeof probe->cicp);
}
