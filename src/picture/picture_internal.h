// picture_internal.h: from a photo to pictures that a person looks at, in order:
//
//   picture_frame.c  parts of a photo; pictures made, copied, freed
#ifndef HUEWRIGHT_PICTURE_INTERNAL_H
#define HUEWRIGHT_PICTURE_INTERNAL_H

#include "base_internal.h"
#include "huewright/picture.h"

#endif
