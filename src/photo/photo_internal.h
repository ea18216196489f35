// photo_internal.h: how bytes become a picture, in order:
//
//   1 photo_probe.c  what the bytes are, how large the picture is, where EXIF and profile lie;
//                    files that are cut short, damaged or too large are refused here
//   2 photo_exif.c   the facts of the shot
//   3 photo_icc.c    profile to linear colour; the only file that knows LittleCMS
//   4 photo_scan.c   do the coded data of a JPEG end where its picture ends?
//   5 photo_child.c  the decoding, in a confined child (POSIX)
//   6 photo_load.c   the picture: upright access to code values and X, Y, Z
//   7 photo_small.c  the whole picture, small
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
} hw_photo_format;

#define HW_ICC_PARTS_MOST 255 // a JPEG numbers them in one byte

typedef struct hw_probe {
    hw_photo_format format;
    size_t width, height; // as stored
    unsigned bits;        // 8 or 16
    bool grey;            // one channel (and perhaps alpha)
    bool progressive;
    uint8_t component_table[3];     // JPEG: quantization table of each component
    uint16_t table_first[4];        // JPEG: first entry of each table, for the mean of a block
    hw_part exif;                   // from its TIFF header on
    hw_part icc[HW_ICC_PARTS_MOST]; // JPEG: by sequence number less 1
    size_t icc_total;               // JPEG: how many the file says there are; 0: none
    size_t icc_found;
    bool icc_broken;                             // numbered twice, or numbers that do not fit
    hw_part iccp;                                // PNG: the zlib stream of iCCP
    bool has_srgb, has_gama, has_chrm, has_cicp; // PNG
    uint32_t gama, chrm[8];                      // times 100000
    uint8_t cicp[4];
} hw_probe;

HW_CHECK hw_status hw_photo_probe(const uint8_t *bytes, size_t count, const char *name,
                                  const hw_limits *limits, hw_probe *out, hw_error *err);

// ---- 2 EXIF ------------------------------------------------------------------------

typedef struct hw_exif {
    int orientation;  // 1 to 8
    int colour_space; // 0xA001: 1 sRGB, 65535 uncalibrated, 0 not said
    char camera[96], taken[32];
} hw_exif;

// Reads what can be read and never fails: damaged EXIF is no reason to refuse a photo.
void hw_exif_read(hw_part exif, hw_exif *out);

// ---- 3 Colour ----------------------------------------------------------------------

typedef struct hw_photo_colour hw_photo_colour;

// Colour of the file's code values. Fills facts: colour, colour_assumed, own_tables, warnings.
HW_CHECK hw_status hw_photo_colour_make(const hw_probe *probe, const hw_exif *exif,
                                        const char *name, hw_photo_facts *facts,
                                        hw_photo_colour **out, hw_error *err);
void hw_photo_colour_free(hw_photo_colour *colour);
// Codes R, G, B of `count` pixels to X, Y, Z.
void hw_photo_colour_apply(const hw_photo_colour *colour, const uint16_t *rgb, size_t count,
                           hw_xyz *out);

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

// The decoded picture, in memory shared with the child that is gone.
typedef struct hw_pixels {
    const void *codes; // R, G, B of each pixel, 8 or 16 bit, row by row as stored
    void *map;         // for hw_pixels_free
    size_t map_size;
    bool sandboxed;
    bool left_over; // JPEG: there are data behind the last block
} hw_pixels;

HW_CHECK hw_status hw_photo_decode_confined(const uint8_t *bytes, size_t count,
                                            const hw_probe *probe, const char *name,
                                            unsigned seconds, hw_pixels *out, hw_error *err);
void hw_pixels_free(hw_pixels *pixels);

// For tests: what the child does instead of decoding.
typedef enum hw_child_test {
    HW_CHILD_DECODE = 0,
    HW_CHILD_OPEN_FILE,  // tries to open a file: must be killed
    HW_CHILD_LOOP,       // never ends: must be stopped by the limit of processor time
    HW_CHILD_SMALL,      // has a far too small arena
    HW_CHILD_NULL_WRITE, // writes to where nothing is
    HW_CHILD_STACK,      // calls itself until there is no more stack
    HW_CHILD_TRAP,       // comes to an instruction that is none
    HW_CHILD_STOPPED,    // is stopped from outside, and uses no time
    HW_CHILD_KILLED,     // is killed from outside, as when memory is out
    HW_CHILD_LIES_SIZE,  // leaves another size, and rubbish
    HW_CHILD_LIES_PLACE, // leaves a picture that reaches past the mapping
    HW_CHILD_LIES_WORDS, // leaves as its reason what would change a terminal
    HW_CHILD_OPEN,       // is not confined, as by a kernel without seccomp; decodes
    HW_CHILD_NO_FORK,    // cannot be started
} hw_child_test;
void hw_photo_child_test(hw_child_test what);
// For tests: the arena gives so many blocks and then no more; negative: as usual.
void hw_photo_child_fail_block(long successes);

#endif
