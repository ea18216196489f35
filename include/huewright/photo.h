// photo.h: a photo file becomes a picture: upright, its code values untouched, and
// with a way from code values to linear, device-independent colour.
//
// JPEG (baseline and progressive), PNG (8 and 16 bit), BMP, TGA; HEIC (and AVIF) where built with
// libheif; raw files of cameras and DNG where built with LibRaw. The file is chosen by its first bytes,
// its size tested before anything is decoded, and the decoding done in a child process that can open
// nothing, reach nothing and start nothing. A JPEG whose data do not end with its picture is refused, or
// a warning says so.
//
// A raw file is read without any demosaicing: a square of photosites, 2 x 2 (3 x 3 where its pattern has
// six a side), becomes one pixel, each channel the mean of its photosites there. So the picture has half
// the width and height, and no colour in it was guessed from neighbours: right for means of areas. Its codes
// are the sensor's values, black subtracted, on the sRGB curve (so that "dark" and "bright" of a code mean
// what they mean in any photo), which hw_photo_xyz undoes exactly: no tone curve is left in it.
//
//   hw_photo *photo = NULL;
//   if (hw_photo_load("lid.jpg", NULL, &photo, &err) != HW_OK) ...
//   hw_xyz row[100];
//   hw_photo_xyz(photo, 20, 40, 100, row); // 100 pixels from (20, 40) to the right
//   hw_photo_free(photo);
//
// Coordinates are pixels of the upright picture (EXIF orientation applied), origin
// top left, x right, y down. Pixel (0, 0) covers 0 <= x < 1, 0 <= y < 1.
#ifndef HUEWRIGHT_PHOTO_H
#define HUEWRIGHT_PHOTO_H

#include "huewright/base.h"
#include "huewright/colour.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct hw_photo hw_photo;

// What was said of something.
typedef enum hw_said { HW_NOT_SAID = 0, HW_SAID_NO, HW_SAID_YES } hw_said;

// Who chose a setting.
typedef enum hw_set_by {
    HW_SET_NOT_SAID = 0,
    HW_SET_BY_CAMERA, // anew for each photo
    HW_SET_BY_HAND,
} hw_set_by;

// Processing of the camera that bends light otherwise here than there.
typedef enum hw_processing {
    HW_PROCESSING_NONE = 0, // none that the file tells of
    HW_PROCESSING_HDR,
    HW_PROCESSING_PORTRAIT,
    HW_PROCESSING_NIGHT,
} hw_processing;

// How the photo was taken, as the file says (EXIF, CIPA DC-008). Numbers: 0 where it does not.
typedef struct hw_shot {
    hw_said flash; // fired?
    hw_set_by white_balance, exposure;
    hw_processing processing;
    bool
        gain_map; // a second picture brightens this one on screens that can: made with HDR, as a rule
    double exposure_s; // of the shutter, seconds
    double f_number;
    double iso;
    bool has_bias;
    double bias_ev;      // asked for beside what the camera metered
    double focal_mm;     // of the lens itself
    double digital_zoom; // 1: none
    char offset[8];      // of `taken` from UTC, "+02:00", or ""
} hw_shot;

// Natural logarithm of how bright the file shows one and the same scene: time times ISO / 100 over the
// square of the f-number. False when one of them is not said. The difference of two photos of one camera is
// what their exposure alone changes.
bool hw_shot_exposure(const hw_shot *shot, double *log_exposure);

// What is known of the shot and the file.
typedef struct hw_photo_facts {
    char file[320];     // as the person named it
    const char *format; // "JPEG", "PNG", "BMP", "TGA", "HEIC", "AVIF", "DNG", "raw"; static
    size_t width_px;    // upright
    size_t height_px;
    unsigned bits;                // of a code value: 8 or 16
    unsigned max_code;            // 255 or 65535
    unsigned clip_low, clip_high; // codes at or beyond these no longer follow the light
    double luma_step,
        chroma_step;     // JPEG: steps in which the mean of a block is kept, codes of 255;
                         // 0: none
    int orientation;     // EXIF 0x0112 as found, 1 to 8; 1 where there is none
    char colour[96];     // "sRGB (assumed: the file names no profile)", "profile: Display P3"
    bool colour_assumed; // true when the file says nothing of its colour
    bool own_tables;     // true: matrix profile by own tables that agree with LittleCMS;
                         // false: every pixel goes through LittleCMS
    char camera[96];     // EXIF make and model, of a raw file with " (raw)" behind; or ""
    char taken[32];      // EXIF DateTimeOriginal as written, "2026:05:03 10:11:12", or ""
    hw_shot shot;        // how it was taken
    unsigned photosites; // raw: a side of the square of them that became a pixel; else 0
    bool linear;         // raw: the sensor's own values: no tone curve was laid over them
    bool sandboxed;      // the decoding child was confined by the kernel (seccomp)
    hw_warnings warnings;
} hw_photo_facts;

// The formats that this build reads, as above, "JPEG" first; static, ends in NULL.
const char *const *hw_photo_formats(void);

// Reads and decodes a file. limits may be NULL for the defaults.
// HW_ERR_INPUT, with the code: photo-missing, photo-empty, photo-too-large, photo-unknown-format,
// photo-four-channels, photo-damaged, photo-cut-short, photo-unsupported, photo-not-built-in,
// photo-crashed, photo-profile; HW_ERR_STORAGE when memory is out (memory-out) or no process can be started
// (process-out). Free with hw_photo_free.
HW_CHECK hw_status hw_photo_load(const char *path, const hw_limits *limits, hw_photo **out,
                                 hw_error *err);

// The same from bytes in memory, which stay the caller's. `name` is for messages.
HW_CHECK hw_status hw_photo_decode(const uint8_t *bytes, size_t count, const char *name,
                                   const hw_limits *limits, hw_photo **out, hw_error *err);
void hw_photo_free(hw_photo *photo);

// Never NULL; lives as long as the photo.
const hw_photo_facts *hw_photo_facts_of(const hw_photo *photo);

// Code values of `count` pixels from (x, y) to the right, as R, G, B, 0 to max_code. The
// pixels must lie in the picture. A grey picture gives three equal values.
void hw_photo_codes(const hw_photo *photo, size_t x, size_t y, size_t count, uint16_t *rgb);

// Linear X, Y, Z under D50 (ICC connection space, relative colorimetric, Y = 1 for the
// profile's white), unclipped, of the same pixels.
void hw_photo_xyz(const hw_photo *photo, size_t x, size_t y, size_t count, hw_xyz *out);

// Codes that are no pixel of it, by the same way.
void hw_photo_xyz_of_codes(const hw_photo *photo, const uint16_t *rgb, size_t count, hw_xyz *out);

// The same way for whole pictures: a curve for each channel and a matrix, X, Y, Z = matrix (curve[0][R], curve[1][G],
// curve[2][B]). A curve has max_code + 1 values and lives as long as the photo. False where the photo's way is
// another one, which hw_photo_xyz alone goes.
bool hw_photo_curves(const hw_photo *photo, const double *curve[3], double matrix[3][3]);

// Both at once.
void hw_photo_codes_xyz(const hw_photo *photo, size_t x, size_t y, size_t count, uint16_t *rgb,
                        hw_xyz *out);

// ---- The whole of it, small --------------------------------------------------------

// The upright picture brought down (never up) for finding shapes in: each pixel the mean code of the
// square that it covers. Pixel (x, y) covers photo pixels x scale <= X < (x + 1) scale, and y alike.
typedef struct hw_photo_small {
    size_t width, height;
    double scale; // photo pixels a pixel, at least 1
    float *code;  // R, G, B of each pixel, row by row, 0 to 1 of max_code
    float *xyz;   // linear X, Y, Z of that mean code, D50, Y = 1 for the profile's white: good
                  // enough to tell grey from brown, not to be read as a colour
} hw_photo_small;

// The longer side comes to longer_px where it is longer. Free with hw_photo_small_free. HW_ERR_STORAGE
// when memory is out.
HW_CHECK hw_status hw_photo_make_small(const hw_photo *photo, size_t longer_px, hw_photo_small *out,
                                       hw_error *err);
void hw_photo_small_free(hw_photo_small *small); // leaves an empty one

#ifdef __cplusplus
}
#endif
#endif
