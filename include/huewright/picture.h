// picture.h: what a photo shows, put right by its card pixel by pixel: as it is, as it will be under layers of dye, as
// the eye sees it from a distance, and how far each place is off the old wood.
//
// Takes a photo and its light; gives plain pictures of linear colour. Nothing is kept. Work on a whole photo is shared
// among a few threads (C11) and can be watched and stopped (hw_progress).
#ifndef HUEWRIGHT_PICTURE_H
#define HUEWRIGHT_PICTURE_H

#include "huewright/base.h"
#include "huewright/card.h"
#include "huewright/colour.h"
#include "huewright/compare.h"
#include "huewright/mark.h"
#include "huewright/photo.h"

#ifdef __cplusplus
extern "C" {
#endif

// ---- A picture ---------------------------------------------------------------------

// A part of the upright photo, pixels.
typedef struct hw_frame {
    size_t x, y, width, height;
} hw_frame;

// Pixel (x, y) is the mean of linear light over the square of photo pixels that it covers: frame.x + x scale <= X < frame.x
// + (x + 1) scale, and y alike, cut at the frame's end.
typedef struct hw_picture {
    size_t width, height; // pixels
    hw_frame frame;       // what of the photo it shows
    double scale;         // photo pixels a pixel, at least 1
    float
        *xyz; // X, Y, Z of each, corrected, D50, Y = 1 for the perfect diffuser, row by row; owned
} hw_picture;

// The box of a mark and `margin` of its longer side around it, within the photo.
hw_frame hw_frame_around(const hw_mark *mark, double margin, size_t width_px, size_t height_px);

// `frame` NULL: the whole photo. The longer side comes to longer_px where it is longer; 0: one picture pixel a photo
// pixel. `light` NULL: as the file has it, not corrected. `progress` may be NULL. Free with hw_picture_free. HW_ERR_CALL
// with the codes frame-empty (it does not lie in the photo) and stopped; HW_ERR_STORAGE when memory is out.
HW_CHECK hw_status hw_picture_make(const hw_photo *photo, const hw_light *light,
                                   const hw_frame *frame, size_t longer_px,
                                   const hw_progress *progress, hw_picture *out, hw_error *err);
HW_CHECK hw_status hw_picture_copy(const hw_picture *from, hw_picture *out, hw_error *err);
void hw_picture_free(hw_picture *picture); // leaves an empty one

// Mean of linear light over the pixels whose middles lie in the mark; returns how many (0: *out stays).
size_t hw_picture_mean(const hw_picture *picture, const hw_mark *mark, hw_xyz *out);

// Every pixel by one factor a Bradford-sharpened band: makes old wood read as in another photo.
void hw_picture_scale(hw_picture *picture, const double factor[3]);

// Lays a transparent layer on what lies in the mark: densities in natural logarithm, long, middle, short
// (hw_tone_under, pixel by pixel, so that the grain stays). At the mark's edge by the share of the pixel inside it.
void hw_picture_lay(hw_picture *picture, const hw_mark *mark, const double density[3]);

// The mark of a repair grown to its joint: each side moved outward (at most `most_px` photo pixels) to where the colour
// along it turns from the repair's to another; a side where none turns stays. Drawn marks end short of the joint, and a look
// toned inside them alone would show a rim that will not be there. Free with hw_mark_free.
HW_CHECK hw_status hw_picture_reach(const hw_picture *picture, const hw_mark *mark, double most_px,
                                    hw_mark *out, hw_error *err);

// ---- Shown on a screen -------------------------------------------------------------

// sRGB (IEC 61966-2-1), 8 bit, R, G, B of each pixel, row by row.
typedef struct hw_shown {
    size_t width, height;
    hw_frame frame; // as of the picture
    double scale;
    uint8_t *rgb; // owned
} hw_shown;

HW_CHECK hw_status hw_picture_show(const hw_picture *picture, hw_shown *out, hw_error *err);
void hw_shown_free(hw_shown *shown); // leaves an empty one

// ---- From a distance ---------------------------------------------------------------
//
// S-CIELAB (Zhang and Wandell 1997, J. SID 5(1) 61): the picture as it is once the eye has mixed what it cannot tell
// apart, in an opponent space, each channel by its own sum of Gaussians.

#define HW_SIGHT_LEAST_MM 100.0
#define HW_SIGHT_MOST_MM  20000.0

// Pixels a degree of sight: pixel_mm > 0 on the piece, distance_mm > 0.
double hw_sight_px(double pixel_mm, double distance_mm);

// Filters the picture in place. Over 60 pixels a degree it is made smaller first (width, height and scale change), by which
// nothing is lost. HW_ERR_CALL with the codes sight-distance (px_per_degree is not above 0; the picture stays) and stopped,
// HW_ERR_STORAGE: then the picture is left empty.
HW_CHECK hw_status hw_picture_see(hw_picture *picture, double px_per_degree,
                                  const hw_progress *progress, hw_error *err);

const char *hw_sight_name(hw_sight_verdict verdict); // "untold", "blends", "shows"; static
// Does a repair blend when seen from there? `seen`: of hw_picture_see. `gap`: of the patch with all its targets, from
// the same photo. The distance and the pixels a
// degree are the caller's to fill in. HW_ERR_STORAGE when memory is out.
HW_CHECK hw_status hw_picture_sight(const hw_picture *seen, const hw_marks *marks,
                                    const hw_comparison *gap, hw_sight *out, hw_error *err);

// ---- The difference map ------------------------------------------------------------

// How far each pixel is off one colour.
typedef struct hw_map {
    size_t width, height;
    hw_frame frame;
    double scale;
    float *de00;    // CIEDE2000 from it, >= 0; infinite where a pixel is no colour; owned
    float *lighter; // L* over its L*; owned
} hw_map;

HW_CHECK hw_status hw_picture_map(const hw_picture *picture, hw_lab old_wood,
                                  const hw_progress *progress, hw_map *out, hw_error *err);
void hw_map_free(hw_map *map); // leaves an empty one

// ---- Along a joint -----------------------------------------------------------------

// The longest side of a repair's mark straight outward of which old wood is marked, no further off than most_px and with no
// other wood between, as a joint of one piece without a gap: for marks that do not meet, of which compare.h finds no
// joint. False: there is none.
bool hw_seam_facing(const hw_mark *patch, const hw_marks *marks, double most_px, hw_seam *out);

// The joint laid straight: `seam->line` from left to right, the repair above it and the old wood below, each `depth_px`
// photo pixels deep, brought down so that its length is at most longer_px. `frame` of it is {0, 0, length, 2 depth}.
// HW_ERR_CALL seam-line: it has none (of an instrument's readings, or of an old log line); frame-empty; HW_ERR_STORAGE.
HW_CHECK hw_status hw_picture_strip(const hw_photo *photo, const hw_light *light,
                                    const hw_seam *seam, double depth_px, size_t longer_px,
                                    hw_picture *out, hw_error *err);

#ifdef __cplusplus
}
#endif
#endif
