// carry_pairs.h: two photos of one invented piece of furniture, hand-held from different places, with the true
// corners of its marks in both; or of two pieces of one kind. It shares nothing with the stages.
#ifndef HUEWRIGHT_TEST_CARRY_PAIRS_H
#define HUEWRIGHT_TEST_CARRY_PAIRS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { PAIR_MARKS_MOST = 8, PAIR_CORNERS = 4 };

typedef enum pair_role { PAIR_CARD, PAIR_TARGET, PAIR_PATCH } pair_role;

typedef struct pair_mark {
    pair_role role;
    char name[24];
    double from[PAIR_CORNERS][2],
        to[PAIR_CORNERS][2]; // pixels of the first and of the second photo
    bool inside;             // wholly in the second photo
} pair_mark;

typedef struct pair_photo {
    size_t width, height;
    uint8_t *jpeg; // free()
    size_t count;
} pair_photo;

typedef struct carry_pair {
    char what[80]; // layout, wood, and how the camera moved
    bool same_piece;
    bool card_moved;
    pair_photo first, second;
    pair_mark mark[PAIR_MARKS_MOST];
    size_t mark_count;
} carry_pair;

// Pair number `seed`, photos about `width` pixels wide; other_piece: the second photo shows another piece of the
// same kind. False when memory is out. Free with carry_pair_free.
bool carry_pair_make(unsigned seed, size_t width, bool other_piece, carry_pair *out);
void carry_pair_free(carry_pair *pair);

#endif
