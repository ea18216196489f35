// photo_internal.h: how bytes become a picture, in order:
//
//   1 photo_probe.c   what the bytes are, how large the picture is, where EXIF and profile lie;
//                     files that are cut short, damaged or too large are refused here
//   2 photo_exif.c    the facts of the shot
//   3 photo_sensor.c  a camera's own matrices to linear colour, for raw files
//     photo_icc.c     profile to linear colour; the only file that knows LittleCMS
//   4 photo_scan.c    do the coded data of a JPEG end where its picture ends?
//   5 photo_child.c   a decoder at work in a confined child (POSIX)
//     photo_found.c   what it left there, tested
//     photo_stb.c     JPEG, PNG, BMP, TGA; the only file that knows stb_image
//     photo_heif.c    HEIC, AVIF; the only file that knows libheif
//     photo_raw.c     raw files of cameras, DNG; the only file that knows LibRaw
//   6 photo_load.c    the picture: upright access to code values and X, Y, Z
//   7 photo_small.c   the whole picture, small
//
// Of HEIC and raw files the probe knows the kind alone: their boxes and tables are parsed by large
// libraries, in the child, and what these find is handed over (hw_found) and tested like a file.
#ifndef HUEWRIGHT_PHOTO_INTERNAL_H
#define HUEWRIGHT_PHOTO_INTERNAL_H

#include "huewright/photo.h"

// A part of the file's bytes, borrowed.
typedef struct hw_part {
    const uint8_t *bytes;
    size_t count;
} hw_part;

// ---- 1 Probe -----------------------------------------------------------------------

typedef enum hw_photo_format {
    HW_FORMAT_JPEG,
    HW_FORMAT_PNG,
    HW_FORMAT_BMP,
    HW_FORMAT_TGA,
    HW_FORMAT_HEIC, // this and those below: known in full only after the child has read it
    HW_FORMAT_AVIF,
    HW_FORMAT_RAW,
    HW_FORMAT_DNG,
} hw_photo_format;

const char *hw_photo_format_name(hw_photo_format format); // as in hw_photo_facts; static

#define HW_ICC_PARTS_MOST 255 // a JPEG numbers them in one byte

typedef struct hw_probe {
    hw_photo_format format;
    size_t width, height; // as stored
    unsigned bits;        // 8 or 16
    bool grey;            // one channel (and perhaps alpha)
    bool progressive;
    bool gain_map; // JPEG: its XMP says that a second picture brightens this one on some screens
    uint8_t component_table[3];     // JPEG: quantization table of each component
    uint16_t table_first[4];        // JPEG: first entry of each table, for the mean of a block
    hw_part exif;                   // from its TIFF header on
    hw_part icc[HW_ICC_PARTS_MOST]; // JPEG: by sequence number less 1
    size_t icc_total;               // JPEG: how many the file says there are; 0: none
    size_t icc_found;
    bool icc_broken;                             // numbered twice, or numbers that do not fit
    hw_part iccp;                                // PNG: the zlib stream of iCCP
    hw_part profile;                             // HEIC: a whole profile
    bool has_srgb, has_gama, has_chrm, has_cicp; // PNG; HEIC: has_cicp (nclx)
    uint32_t gama, chrm[8];                      // times 100000
    uint8_t cicp[4];
    const struct hw_found *found; // HEIC, raw: what the child read; else NULL
} hw_probe;

HW_CHECK hw_status hw_photo_probe(const uint8_t *bytes, size_t count, const char *name,
                                  const hw_limits *limits, hw_probe *out, hw_error *err);

// ---- 2 EXIF ------------------------------------------------------------------------

typedef struct hw_exif {
    int orientation;  // 1 to 8
    int colour_space; // 0xA001: 1 sRGB, 65535 uncalibrated, 0 not said
    char camera[96], taken[32];
    hw_shot shot;
    bool shading; // DNG: it says how to brighten what the lens darkens
} hw_exif;

// Reads what can be read and never fails: damaged EXIF is no reason to refuse a photo. Takes what begins
// with a TIFF header: EXIF, and raw files that are TIFF throughout.
void hw_exif_read(hw_part exif, hw_exif *out);

// "Make Model", the make once where the model repeats it.
void hw_exif_camera(const char *make, const char *model, char *out, size_t size);

// A sentence for each thing in the shot that spoils a reading of colour; silence for what is usual.
void hw_shot_warn(const hw_shot *shot, hw_warnings *warnings);

// ---- 3 Colour ----------------------------------------------------------------------

// What a raw file says of its sensor's colours (DNG 1.4, chapter 6). Channels are red, green, blue.
typedef struct hw_sensor {
    int matrices;                  // 0 to 2
    double xyz_to_camera[2][3][3]; // X, Y, Z under the illuminant to linear camera values
    double kelvin[2];              // of the illuminant; 0: not said
    double neutral[3];             // camera values of what was neutral in the shot; 0: not said
    bool from_file;                // false: from LibRaw's list of cameras
} hw_sensor;

// Camera values to X, Y, Z under D50, neutral with its largest value 1 to Y = 1. False: there is no matrix,
// or none that can be turned round.
bool hw_sensor_to_xyz(const hw_sensor *sensor, double to_xyz[3][3]);

// Of an EXIF light source (CIPA DC-008, LightSource; DNG 1.4, CalibrationIlluminant1), in kelvin; 0: unknown.
double hw_illuminant_kelvin(unsigned light_source);

typedef struct hw_photo_colour hw_photo_colour;

// Colour of the file's code values. Fills facts: colour, colour_assumed, own_tables, warnings.
HW_CHECK hw_status hw_photo_colour_make(const hw_probe *probe, const hw_exif *exif,
                                        const char *name, hw_photo_facts *facts,
                                        hw_photo_colour **out, hw_error *err);
void hw_photo_colour_free(hw_photo_colour *colour);
// Codes R, G, B of `count` pixels to X, Y, Z.
void hw_photo_colour_apply(const hw_photo_colour *colour, const uint16_t *rgb, size_t count,
                           hw_xyz *out);

// The same as curves and a matrix (hw_photo_curves); false where it is neither.
bool hw_photo_colour_curves(const hw_photo_colour *colour, const double *curve[3],
                            double matrix[3][3]);

// The colorimetric worth of code values alone, for tests and fuzzing: a whole profile.
HW_CHECK hw_status hw_photo_colour_of_profile(hw_part profile, unsigned max_code, bool grey,
                                              bool *own_tables, hw_photo_colour **out,
                                              hw_error *err);

// ---- 4 Scan ------------------------------------------------------------------------

// Where the coded data of a JPEG end.
typedef enum hw_scan_end {
    HW_SCAN_WHOLE = 0, // with the last block of the picture
    HW_SCAN_SHORT,     // before it
    HW_SCAN_BROKEN, // before it: there is a code or a table that cannot be, or a restart is missing
    HW_SCAN_LEFT_OVER, // behind it
} hw_scan_end;

// The number of words of 64 bits that hw_photo_scan works in, all 0 at first.
size_t hw_photo_scan_room(const hw_probe *probe);
// Of a JPEG that was probed. *where: the offset in the file to which the data were read.
hw_scan_end hw_photo_scan(const uint8_t *bytes, size_t count, uint64_t *room, size_t room_count,
                          size_t *where);

// ---- 5 Decoding --------------------------------------------------------------------

// How a decoder ended. Plain numbers: they cross from the child.
enum {
    HW_FOUND_NOTHING = 0, // `reason` says why
    HW_FOUND_PICTURE,
    HW_FOUND_TOO_LARGE,   // width and height say how large
    HW_FOUND_UNSUPPORTED, // `reason` says what
    HW_FOUND_HDR,         // coded for a range of brightness, not of reflectance
    HW_FOUND_MEMORY,
};

#define HW_REASON_SIZE 96

// Extra pictures of a HEIC that tell how the main one was made.
enum { HW_EXTRA_GAIN_MAP = 1, HW_EXTRA_DEPTH = 2 };

// What a decoder found, left in memory shared with the child. Offsets are bytes from the start of that
// memory. Whatever is here may be a lie: no bool, no enum and no pointer in it.
typedef struct hw_found {
    uint32_t outcome;
    char reason[HW_REASON_SIZE];
    uint64_t picture;             // R, G, B of each pixel, row by row
    uint32_t width, height, bits; // of the picture as it lies there; 8 or 16 bits a code
    uint32_t orientation;      // 1 to 8: how it lies there, as EXIF tells it; 0: EXIF's own holds
    uint64_t exif, exif_count; // from the TIFF header on
    uint64_t profile, profile_count;
    uint32_t has_cicp;
    uint8_t cicp[4]; // primaries, transfer, matrix, full range (ITU-T H.273)
    uint32_t extras; // HW_EXTRA_...
    // Raw alone.
    uint32_t is_dng;
    uint32_t photosites; // a side of the square that became a pixel: 1, 2 or 3
    uint32_t matrices, from_file;
    double xyz_to_camera[2][3][3], kelvin[2], neutral[3];
    char make[64], model[64]; // where there is no EXIF that can be read here
    double exposure_s, f_number, iso, focal_mm;
} hw_found;

// The start of the memory that child and parent share; behind it lies what the child takes of it.
typedef struct hw_shared {
    size_t size, used;            // bytes from the start of this
    size_t last;                  // where the newest block begins
    long left;                    // blocks until it refuses (for tests); negative: never
    size_t side_most, pixel_most; // the limits of a picture
    int sandboxed;
    int exhausted; // more was asked for than there is
    hw_found found;
} hw_shared;

// In the child: a block of that memory, or NULL.
void *hw_shared_take(hw_shared *shared, size_t count);
uint64_t hw_shared_offset(const hw_shared *shared, const void *block);
void hw_child_leave(void); // in the child: it ends without a picture

// A way to decode. All of it runs in the child.
typedef struct hw_decoder {
    // Before the child is confined: what must be read from the disk. Or NULL.
    void (*prepare)(void);
    // Fills shared->found. Bytes are the file's.
    void (*decode)(const uint8_t *bytes, size_t count, const hw_probe *probe, hw_shared *shared);
    // How large the shared memory must be at most; pages that are not touched cost nothing.
    size_t (*bound)(const hw_probe *probe, size_t count, const hw_limits *limits);
    // A library that takes memory of its own and may start threads: confined, but not to the exit alone.
    bool is_library;
} hw_decoder;

const hw_decoder *hw_stb_decoder(void);
// NULL where huewright was built without the library.
const hw_decoder *hw_heif_decoder(void);
const hw_decoder *hw_raw_decoder(void);

// More than this no photo may take of shared memory, whatever its header says: with the file and the
// picture that is kept a computer of 2 GiB has room for it (chosen). All JPEG within the limits fit, and
// PNG of 120 megapixels but those with 16 bits and transparency.
#define HW_SHARED_MOST ((size_t)3 << 29)

// What a library may leave at most; both chosen.
#define HW_FOUND_EXIF_MOST    ((size_t)1 << 20)
#define HW_FOUND_PROFILE_MOST ((size_t)4 << 20)

// How a JPEG's data end, read while the child decodes.
typedef struct hw_scan_result {
    hw_scan_end end;
    size_t where; // how far they were read
    bool memory_out;
} hw_scan_result;

// The decoded picture, in memory shared with the child that is gone.
typedef struct hw_pixels {
    const void *codes; // R, G, B of each pixel, 8 or 16 bit, row by row as stored
    void *map;         // for hw_pixels_free
    size_t map_size;
    hw_found found;        // one copy, tested
    hw_part exif, profile; // in the mapping
    bool sandboxed;
    bool left_over; // JPEG: there are data behind the last block
} hw_pixels;

HW_CHECK hw_status hw_photo_decode_confined(const uint8_t *bytes, size_t count,
                                            const hw_probe *probe, const char *name,
                                            const hw_limits *limits, hw_pixels *out, hw_error *err);
void hw_pixels_free(hw_pixels *pixels);

// The parent's copy of what the child left in a mapping of `size` bytes, tested against the probe and the
// limits; its texts end behind it.
HW_CHECK hw_status hw_found_test(hw_found *found, size_t size, const hw_probe *probe,
                                 const hw_limits *limits, const char *name, hw_error *err);
size_t hw_found_picture_bytes(const hw_found *found);
hw_part hw_found_part(const void *memory, uint64_t at, uint64_t count); // once it was tested
// What was found becomes part of the probe, as if it had been there from the start. Once it was tested.
void hw_found_to_probe(const hw_pixels *pixels, hw_probe *probe);

// The same words for every decoder. `how_long` in seconds; 0: it ended by itself.
hw_status hw_photo_fail_memory(const char *name, hw_error *err);
hw_status hw_photo_fail_crash(unsigned how_long, const char *name, hw_error *err);
hw_status hw_photo_fail_damaged(const char *name, hw_error *err, const char *format, ...)
    HW_PRINTF(3, 4);
hw_status hw_photo_fail_size(size_t width, size_t height, const hw_limits *limits, const char *name,
                             hw_error *err);
hw_status hw_photo_fail_hdr(const char *name, hw_error *err);
hw_status hw_photo_fail_unsupported(const char *what, const char *name, hw_error *err);

// For tests: what the child does instead of decoding.
typedef enum hw_child_test {
    HW_CHILD_DECODE = 0,
    HW_CHILD_OPEN_FILE,   // tries to open a file: killed, or (library) refused and it decodes
    HW_CHILD_SOCKET,      // tries to reach the network: must be killed
    HW_CHILD_FORK,        // tries to start a process: must be killed
    HW_CHILD_RUN_MEMORY,  // tries to get memory that can be run: must be killed
    HW_CHILD_TAKE_MEMORY, // takes memory without end: must not get it
    HW_CHILD_LOOP,        // never ends: must be stopped by the limit of processor time
    HW_CHILD_SMALL,       // has a far too small arena
    HW_CHILD_NULL_WRITE,  // writes to where nothing is
    HW_CHILD_STACK,       // calls itself until there is no more stack
    HW_CHILD_TRAP,        // comes to an instruction that is none
    HW_CHILD_STOPPED,     // is stopped from outside, and uses no time
    HW_CHILD_KILLED,      // is killed from outside, as when memory is out
    HW_CHILD_LIES_SIZE,   // leaves another size, and rubbish
    HW_CHILD_LIES_PLACE,  // leaves a picture that reaches past the mapping
    HW_CHILD_LIES_PARTS,  // leaves a profile and EXIF that do
    HW_CHILD_LIES_WORDS,  // leaves as its reason what would change a terminal
    HW_CHILD_OPEN,        // is not confined, as by a kernel without seccomp; decodes
    HW_CHILD_NO_FORK,     // cannot be started
} hw_child_test;
void hw_photo_child_test(hw_child_test what);
// For tests: the arena gives so many blocks and then no more; negative: as usual.
void hw_photo_child_fail_block(long successes);

#endif
