// mark_internal.h: how marks come to be and are used, in order:
//
//   1 mark_parse.c   from options and from the marks format, and back to it
//   2 mark_check.c   against the picture and against each other
//   3 mark_pixels.c  the pixels of a mark, row by row
//   4 mark_reuse.c   may they be used in the next photo as they lie?
#ifndef HUEWRIGHT_MARK_INTERNAL_H
#define HUEWRIGHT_MARK_INTERNAL_H

#include "huewright/mark.h"

#endif
