// mark_internal.h: how marks come to be and are used, in order:
//
//   1 mark_parse.c   from options and from the marks format, and back to it
//   2 mark_chart.c   a colour chart's four corners to its 24 patches
//   3 mark_check.c   against the picture and against each other
//   4 mark_pixels.c  the pixels of a mark, row by row
//   5 mark_ring.c    spots of old wood around a patch
//   6 mark_reuse.c   may they be used in the next photo as they lie?
#ifndef HUEWRIGHT_MARK_INTERNAL_H
#define HUEWRIGHT_MARK_INTERNAL_H

#include "huewright/mark.h"

// Takes *mark over; frees it on failure, which is memory that is out.
bool hw_marks_append(hw_marks *marks, hw_mark *mark);

// The least and the most of its corners' coordinates.
void hw_mark_extent(const hw_mark *mark, hw_point *least, hw_point *most);

#endif
