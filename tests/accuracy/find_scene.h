// find_scene.h: pictures of a piece of furniture with a grey card, steps or a chart somewhere, or without,
// for the search of the card. A renderer of its own: flat textured things in space before a camera
// without lens errors, light that falls off, shadows, sheen, then blur, noise, cast, exposure, tone curve. It
// shares nothing with the stages. All numbers are chosen to be as in shops, none is measured.
#ifndef HUEWRIGHT_TEST_FIND_SCENE_H
#define HUEWRIGHT_TEST_FIND_SCENE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef enum find_truth {
    TRUTH_NONE = 0,
    TRUTH_CARD,
    TRUTH_STEPS, // white, grey, black in a row
    TRUTH_CHART, // 24 patches
} find_truth;

typedef enum find_mix {
    MIX_ALL =
        0, // half with a card, an eighth with steps, an eighth with a chart, a quarter without
    MIX_CARD_ALONE, // always a plain card, nothing like it beside it
    MIX_LOOK_ALIKE, // no card, but one grey tile, panel or book: what pixels cannot tell apart
    MIX_NO_ALIKE,   // no card and no grey rectangle either: walls, floors, cloth, metal, paper
} find_mix;

typedef struct find_scene {
    size_t width, height;
    uint8_t *rgb; // row by row; free with free()
    int quality;  // of the JPEG that it is meant to become
    find_truth truth;
    double corner[4]
                 [2]; // pixels; of the card, the row of steps (white first) or the field of patches
                      // (patch 1, 6, 24, 19)
    double step[3][4][2]; // of white, grey, black
    double share;         // of the frame that it covers
    double tilt_deg;      // of its plane against the picture's
    bool alike;           // a grey tile, panel or book lies about
    char told[200];       // what is to be seen, for a person
} find_scene;

// False when memory is out. Scene `number` is the same on every machine but for rounding.
bool find_scene_render(unsigned number, find_mix mix, size_t width, size_t height, find_scene *out);

// Where a point of the chart's field of patches (u, v from 0 to 1) is seen.
void find_scene_seen(const double corner[4][2], double u, double v, double out[2]);

#endif
