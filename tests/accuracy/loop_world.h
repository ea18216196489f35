// loop_world.h: the invented world of the closed loop: a piece with a strip to be toned, a shop's nine
// dyes as they really are, and what lies on the strip. The program under test sees its photos and
// nothing else.
#ifndef HUEWRIGHT_LOOP_WORLD_H
#define HUEWRIGHT_LOOP_WORLD_H

#include "huewright/tone.h"
#include "scene.h"

typedef struct world {
    scene piece;
    size_t strip; // its region
    scene_drawing *drawing;
    scene_grain grain; // of the strip
    hw_lab target;     // mean of the old wood beside it, equal weights
    double spread;     // s.d. of its pieces about that, CIEDE2000
    size_t pieces;
    int quality; // of the JPEG
    unsigned seed;
    hw_spectrum dye[HW_FAMILY_COUNT]; // absorbance of one pass at strength 1, the shop's hand in it
    double day;                       // factor of today's passes
    uint64_t laying, shooting;        // chance of passes and of photos
} world;

// `job`: 0, or 1 for the same shop's next piece on another day. Stays where it is: the drawing
// points into it. Without `photos` nothing is drawn. False when memory is out or the condition is
// unknown.
bool world_make(world *w, const char *condition, scene_depth depth, unsigned seed, int job,
                bool photos);
void world_free(world *w);

// One pass of a liquid on the strip; its strength is a matter of chance.
void world_pass(world *w, const hw_liquid *liquid);
hw_difference world_gap(const world *w); // truth: strip minus old wood
hw_lab world_strip(const world *w);
// What a dye does to the strip beside all else on it when `amount` (strength times passes) of it is laid
// without scatter, for each 1 of amount: natural logarithm, three sharpened bands.
void world_density(const world *w, hw_family family, double amount, double density[3]);

// Takes a photo (JPEG) and marks it; the same camera and lamp for a job, other noise, place and
// exposure. `light`: factor for a photographer who closes the aperture; 1.
bool world_photo(world *w, double light, const char *path, hw_marks *marks);
// Makes a step board with the shop's dyes on a day of its own, and takes a photo. The first is on
// wood like the piece's; attempts 1, 2 ... on lighter and plainer boards, then with two passes for four.
bool world_step_board(const world *w, unsigned attempt, const char *path, hw_marks *marks);

// One dye laid exactly: `amount` is passes times strength.
typedef struct exact_layer {
    hw_family family;
    int passes;
    double strength;
} exact_layer;

// The best that whole passes can reach for one who knows the dyes and whose passes do not scatter:
// at most two dyes, six passes, strengths 1, 1/2, 1/4, 1/8. Returns the true CIEDE2000, and how many
// layers there are. (In wood and under an inner mirror, searched on the mean reflectance.)
double world_best(const world *w, exact_layer best[2], size_t *count);

#endif
