// huewright.h: all of the library, and its version. For front ends, demo and tests; a
// stage includes only what lies to its left.
#ifndef HUEWRIGHT_HUEWRIGHT_H
#define HUEWRIGHT_HUEWRIGHT_H

#include "huewright/base.h"
#include "huewright/colour.h"
#include "huewright/measure.h"
#include "huewright/photo.h"
#include "huewright/mark.h"
#include "huewright/card.h"
#include "huewright/sample.h"
#include "huewright/compare.h"
#include "huewright/tone.h"
#include "huewright/picture.h"
#include "huewright/job.h"
#include "huewright/report.h"
#include "huewright/steps.h"

#endif
