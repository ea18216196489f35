// scene_marks.h: the marks that a careful person draws on a photo of a scene.
#ifndef HUEWRIGHT_SCENE_MARKS_H
#define HUEWRIGHT_SCENE_MARKS_H

#include "huewright/mark.h"
#include "scene.h"

// Every region with a role, in a picture that was moved by whole pixels.
bool scene_marks(const scene *s, int right, int down, hw_marks *out);

#endif
