// mark_features.c: places of the wood's figure that can be known again from elsewhere, and which is which.
//
// Scale-invariant features (Lowe 2004, Int. J. Computer Vision 60(2) 91) by libvlfeat, which only this file knows. A
// picture of furniture has many more than are of use, and most of them where contrast is high: a grille, print, a
// carpet. So the strongest of each cell of a grid are taken, and plain wood gets its share. Two are a pair when each is
// the other's nearest and the second nearest, elsewhere, is clearly farther (ratio 0.8, Lowe): what repeats is nobody's pair.
//
// libvlfeat takes its memory itself and does not look at what it gets: its memory stays malloc's (about
// 60 MiB for a picture of 1000 pixels). It keeps no state between calls but that of its thread.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>
#include <vl/sift.h>

enum {
    LEVELS = 3,    // an octave (Lowe)
    SMALLEST = 24, // pixels of the shorter side: smaller pictures have no octave worth it (chosen)
    CELLS_ACROSS = 10,     // of the grid, along the longer side (chosen)
    FEATURES = 2800,       // about, of a picture (chosen: more find no more and take longer)
    TURNS = 2,             // main gradients of a place that are followed, of at most 4
    PLACES_AT_ONCE = 16,   // described by a thread
    FEATURES_AT_ONCE = 32, // compared by a thread
};
static const float weakest = 0.003f; // difference of blurs of ln Y that is more than noise (chosen)
static const float ratio_most = 0.8f;  // of distances (Lowe 2004, 7.1)
static const float elsewhere = 0.006f; // widths: nearer is the same place

// ---- Which are taken ---------------------------------------------------------------

typedef struct place {
    VlSiftKeypoint key;
    float strength;
    size_t cell;
} place;

static int by_cell_and_strength(const void *one, const void *other)
{
    const place *a = one, *b = other;
    if (a->cell != b->cell) {
        return a->cell < b->cell ? -1 : 1;
    }
    if (a->strength != b->strength) {
        return a->strength > b->strength ? -1 : 1;
    }
    return a->key.ix != b->key.ix ? a->key.ix - b->key.ix : a->key.iy - b->key.iy;
}

// The difference of blurs at the place: libvlfeat gives a place without it.
static float strength_of(const VlSiftFilt *sift, const VlSiftKeypoint *key)
{
    size_t width = (size_t)sift->octave_width, height = (size_t)sift->octave_height;
    size_t level = (size_t)(key->is - sift->s_min);
    return fabsf(sift->dog[level * width * height + (size_t)key->iy * width + (size_t)key->ix]);
}

// The places of this octave, the strongest of each cell first in its cell.
static place *places_of(const VlSiftFilt *sift, const hw_grey *grey, size_t *count)
{
    const VlSiftKeypoint *keys = vl_sift_get_keypoints(sift);
    size_t longer = grey->width > grey->height ? grey->width : grey->height;
    float side = (float)longer / CELLS_ACROSS;
    *count = (size_t)vl_sift_get_nkeypoints(sift);
    place *places = hw_alloc_array(*count, sizeof *places);
    for (size_t i = 0; places && i < *count; i++) {
        size_t row = (size_t)fmaxf(keys[i].y / side, 0.0f);
        size_t column = (size_t)fmaxf(keys[i].x / side, 0.0f);
        places[i] =
            (place){keys[i], strength_of(sift, &keys[i]), row * (CELLS_ACROSS + 1) + column};
    }
    if (places) {
        qsort(places, *count, sizeof *places, by_cell_and_strength);
    }
    return places;
}

// ---- Finding -----------------------------------------------------------------------

typedef struct found {
    hw_feature *feature;
    size_t count;
} found;

// What is told of one place.
typedef struct description {
    int turns; // main gradients that are followed
    double angle[TURNS];
    uint8_t descriptor[TURNS][HW_DESCRIPTOR];
} description;

// False: libvlfeat describes nothing in the last row of an octave.
static bool take_descriptor(VlSiftFilt *sift, const VlSiftKeypoint *key, double angle,
                            uint8_t out[HW_DESCRIPTOR])
{
    float descriptor[HW_DESCRIPTOR] = {-1.0f};
    vl_sift_calc_keypoint_descriptor(sift, descriptor, key, angle);
    for (size_t i = 0; i < HW_DESCRIPTOR; i++) {
        out[i] = (uint8_t)fminf(512.0f * fmaxf(descriptor[i], 0.0f), 255.0f);
    }
    return descriptor[0] >= 0.0f;
}

static void describe(VlSiftFilt *sift, const VlSiftKeypoint *key, description *out)
{
    double angle[4];
    int turns = vl_sift_calc_keypoint_orientations(sift, angle, key);
    for (out->turns = 0; out->turns < turns && out->turns < TURNS; out->turns++) {
        int t = out->turns;
        out->angle[t] = angle[t];
        if (!take_descriptor(sift, key, angle[t], out->descriptor[t])) {
            return;
        }
    }
}

typedef struct octave {
    VlSiftFilt *sift;
    const place *places;
    description *made; // of each
} octave;

static void describe_places(void *context, size_t worker, size_t first, size_t end)
{
    const octave *o = context;
    (void)worker;
    for (size_t i = first; i < end; i++) {
        describe(o->sift, &o->places[i].key, &o->made[i]);
    }
}

// The first of an octave makes libvlfeat take its gradients. From then on it only reads, so threads can share the rest.
static bool describe_all(octave o, size_t count)
{
    for (; count > 0 && o.sift->grad_o != o.sift->o_cur; o.places++, o.made++, count--) {
        describe_places(&o, 0, 0, 1);
    }
    const hw_rows rest = {count, PLACES_AT_ONCE, describe_places, &o};
    return hw_share_rows(&rest, NULL, NULL) == HW_OK;
}

static bool make_room(found *f, size_t more)
{
    hw_feature *room = hw_resize_array(f->feature, f->count + more, sizeof *room);
    f->feature = room ? room : f->feature;
    return room != NULL;
}

static void add_features(found *f, const hw_grey *grey, const VlSiftKeypoint *key,
                         const description *told)
{
    float pixel = (float)grey->pixel;
    hw_feature made = {.x = (float)grey->left + key->x * pixel,
                       .y = (float)grey->top + key->y * pixel,
                       .scale = key->sigma * pixel};
    if (fabsf(made.x) > 0.5f || fabsf(made.y) > 0.5f) {
        return; // a place that refinement drove out of the picture
    }
    for (int t = 0; t < told->turns; t++) {
        made.angle = (float)told->angle[t];
        memcpy(made.descriptor, told->descriptor[t], HW_DESCRIPTOR);
        f->feature[f->count++] = made;
    }
}

// Leaves the strongest `most` of each cell. Returns how many those are.
static size_t keep_strongest(place *places, size_t count, size_t most)
{
    size_t kept = 0, taken = 0, cell = SIZE_MAX;
    for (size_t i = 0; i < count; i++) {
        taken = places[i].cell == cell ? taken + 1 : 0;
        cell = places[i].cell;
        if (taken < most) {
            places[kept++] = places[i];
        }
    }
    return kept;
}

// Adds the strongest `most` of each cell.
static bool take_octave(VlSiftFilt *sift, const hw_grey *grey, size_t most, found *f)
{
    size_t count;
    vl_sift_detect(sift);
    place *places = places_of(sift, grey, &count);
    count = places ? keep_strongest(places, count, most) : 0;
    description *made = hw_alloc_array(count, sizeof *made);
    bool good = places && made && make_room(f, TURNS * count) &&
                describe_all((octave){sift, places, made}, count);
    for (size_t i = 0; i < count && good; i++) {
        add_features(f, grey, &places[i].key, &made[i]);
    }
    hw_free(places);
    hw_free(made);
    return good;
}

// A finer octave has more places than one twice as coarse.
static bool take_octaves(VlSiftFilt *sift, const hw_grey *grey, found *f)
{
    size_t longer = grey->width > grey->height ? grey->width : grey->height;
    double cells = CELLS_ACROSS * CELLS_ACROSS * (double)(grey->width * grey->height) /
                   (double)(longer * longer);
    double share = 0.55 * FEATURES / fmax(cells, 1.0);
    bool good = true;
    for (int end = vl_sift_process_first_octave(sift, grey->value); !end && good;
         end = vl_sift_process_next_octave(sift)) {
        good = take_octave(sift, grey, (size_t)ceil(share), f);
        share *= 0.5;
    }
    return good;
}

hw_status hw_features_find(const hw_grey *grey, hw_feature **out, size_t *count, hw_error *err)
{
    found f = {0};
    size_t shorter = grey->width < grey->height ? grey->width : grey->height;
    if (shorter >= SMALLEST) {
        VlSiftFilt *sift = vl_sift_new((int)grey->width, (int)grey->height, -1, LEVELS, 0);
        bool good = sift != NULL;
        if (good) {
            vl_sift_set_peak_thresh(sift, (double)weakest);
            good = take_octaves(sift, grey, &f);
            vl_sift_delete(sift);
        }
        if (!good) {
            hw_free(f.feature);
            return hw_fail_memory(err, "looking for the wood's figure");
        }
    }
    *out = f.feature;
    *count = f.count;
    return HW_OK;
}

// ---- Pairs -------------------------------------------------------------------------

// Bytes as 16 bit, and half the square of the length of each: what compilers multiply eight at a time.
typedef struct table {
    int16_t (*value)[HW_DESCRIPTOR];
    int32_t *square;
} table;

static bool make_table(const hw_look *look, table *out)
{
    out->value = hw_alloc_array(look->feature_count, sizeof *out->value);
    out->square = hw_alloc_array(look->feature_count, sizeof *out->square);
    if (!out->value || !out->square) {
        return false;
    }
    for (size_t i = 0; i < look->feature_count; i++) {
        for (size_t k = 0; k < HW_DESCRIPTOR; k++) {
            int16_t value = look->feature[i].descriptor[k];
            out->value[i][k] = value;
            out->square[i] += value * value;
        }
    }
    return true;
}

static void free_table(table *t)
{
    hw_free(t->value);
    hw_free(t->square);
}

// From one to each of them, squared.
HW_WIDE static void take_distances(const int16_t *one, int32_t square, const table *to,
                                   size_t count, int32_t *distance)
{
    for (size_t j = 0; j < count; j++) {
        int32_t sum = 0;
        for (size_t k = 0; k < HW_DESCRIPTOR; k++) {
            sum += (int32_t)one[k] * (int32_t)to->value[j][k];
        }
        distance[j] = square + to->square[j] - 2 * sum;
    }
}

typedef struct nearest {
    size_t index;     // SIZE_MAX: none
    int32_t distance; // squared
} nearest;

// The nearest of `distance`, and whether the nearest at another place is clearly farther.
static bool nearest_of(const int32_t *distance, const hw_look *to, nearest *out)
{
    *out = (nearest){0, INT32_MAX};
    for (size_t j = 0; j < to->feature_count; j++) {
        if (distance[j] < out->distance) {
            *out = (nearest){j, distance[j]};
        }
    }
    const hw_feature *best = &to->feature[out->index];
    int32_t second = INT32_MAX;
    for (size_t j = 0; j < to->feature_count; j++) {
        if (distance[j] < second && hypotf(to->feature[j].x - best->x, to->feature[j].y - best->y) >
                                        fmaxf(elsewhere, best->scale)) {
            second = distance[j];
        }
    }
    return (float)out->distance < ratio_most * ratio_most * (float)second;
}

typedef struct matching {
    const hw_look *from, *to;
    const bool *skip;  // of `from`
    table a, b;        // of both
    int32_t *distance; // to each of `to`: a row for each thread
    nearest *forth;    // of each of `from` in `to`, where that is clear
    nearest *back;     // of each of `to` in `from`: a row for each thread, of those that it saw
} matching;

static void match_rows(void *context, size_t worker, size_t first, size_t end)
{
    const matching *m = context;
    size_t count = m->to->feature_count;
    int32_t *distance = m->distance + worker * count;
    nearest *back = m->back + worker * count;
    for (size_t i = first; i < end; i++) {
        m->forth[i].index = SIZE_MAX;
        if (m->skip[i]) {
            continue;
        }
        take_distances(m->a.value[i], m->a.square[i], &m->b, count, distance);
        for (size_t j = 0; j < count; j++) {
            if (distance[j] < back[j].distance) {
                back[j] = (nearest){i, distance[j]};
            }
        }
        if (!nearest_of(distance, m->to, &m->forth[i])) {
            m->forth[i].index = SIZE_MAX;
        }
    }
}

// Into the first thread's row: the nearest of all, of equals the first.
static void join_back(const matching *m)
{
    size_t count = m->to->feature_count;
    for (size_t i = count; i < HW_THREADS * count; i++) {
        nearest *best = &m->back[i % count];
        const nearest *other = &m->back[i];
        if (other->distance < best->distance ||
            (other->distance == best->distance && other->index < best->index)) {
            *best = *other;
        }
    }
}

static bool find_nearest(matching *m)
{
    const hw_rows rows = {m->from->feature_count, FEATURES_AT_ONCE, match_rows, m};
    for (size_t i = 0; i < HW_THREADS * m->to->feature_count; i++) {
        m->back[i] = (nearest){SIZE_MAX, INT32_MAX};
    }
    if (hw_share_rows(&rows, NULL, NULL) != HW_OK) {
        return false;
    }
    join_back(m);
    return true;
}

static bool make_matching(matching *m)
{
    m->distance = hw_alloc_array(m->to->feature_count, HW_THREADS * sizeof *m->distance);
    m->back = hw_alloc_array(m->to->feature_count, HW_THREADS * sizeof *m->back);
    m->forth = hw_alloc_array(m->from->feature_count, sizeof *m->forth);
    return make_table(m->from, &m->a) && make_table(m->to, &m->b) && m->distance && m->back &&
           m->forth;
}

static void free_matching(matching *m)
{
    free_table(&m->a);
    free_table(&m->b);
    hw_free(m->distance);
    hw_free(m->back);
    hw_free(m->forth);
}

static hw_match pair(const hw_feature *one, const hw_feature *other)
{
    return (hw_match){{(double)one->x, (double)one->y},
                      {(double)other->x, (double)other->y},
                      (double)(other->angle - one->angle),
                      (double)other->scale / (double)one->scale};
}

hw_status hw_features_match(const hw_look *from, const bool *skip, const hw_look *to,
                            hw_match **out, size_t *count, hw_error *err)
{
    matching m = {.from = from, .to = to, .skip = skip};
    hw_match *made = hw_alloc_array(from->feature_count, sizeof *made);
    bool good = make_matching(&m) && made;
    *count = 0;
    if (good && to->feature_count > 1) {
        good = find_nearest(&m);
        for (size_t i = 0; i < from->feature_count && good; i++) {
            size_t j = m.forth[i].index;
            if (j != SIZE_MAX && m.back[j].index == i) {
                made[(*count)++] = pair(&from->feature[i], &to->feature[j]);
            }
        }
    }
    free_matching(&m);
    if (!good) {
        hw_free(made);
        return hw_fail_memory(err, "comparing the photo with the last one");
    }
    *out = made;
    return HW_OK;
}
