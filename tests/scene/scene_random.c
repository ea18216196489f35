// scene_random.c: made-up scenes by the hundred, one condition at a time: a framed panel of some
// brown wood with a strip let in, a grey card at its right end, and what the condition adds. The
// same seed gives the same scene.
#include "scene.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

// ---- Conditions --------------------------------------------------------------------

enum {
    IDEAL = 1 << 0,
    POOR_LAMP = 1 << 1,
    CAST = 1 << 2,
    FALLING = 1 << 3,
    CURVED_TONE = 1 << 4,
    SHINE = 1 << 5,
    TWO_LAMPS = 1 << 6,
    EVERYDAY = 1 << 7,
    SECOND_CARD = 1 << 8,
    STEPS = 1 << 9,
    CHART = 1 << 10,
    BLACK = 1 << 11,
    NEAR = 1 << 13,
    LIKE_BOARDS = 1 << 12, // half of the strips are like one more board
    AROUND = 1 << 14,      // old wood on all sides of the strip
    SHOP = 1 << 15,        // one lamp a good way off, a phone's tone curve
};

static const struct {
    const char *name;
    unsigned what;
} conditions[] = {
    {"ideal", IDEAL},
    {"good lamp", 0},
    {"cast", CAST},
    {"poor lamp", POOR_LAMP},
    {"falling light", FALLING},
    {"falling light, second card", FALLING | SECOND_CARD},
    {"lamp near, second card", FALLING | SECOND_CARD | NEAR},
    {"tone curve", CURVED_TONE},
    {"tone curve, black step", CURVED_TONE | BLACK},
    {"tone curve, three steps", CURVED_TONE | STEPS},
    {"tone curve, chart", CURVED_TONE | CHART},
    {"shine", SHINE},
    {"two lamps", TWO_LAMPS},
    {"everyday", EVERYDAY},
    {"everyday, three steps", EVERYDAY | STEPS},
    {"everyday, chart", EVERYDAY | CHART},
    {"verdict, even light", LIKE_BOARDS},
    {"verdict, falling light", LIKE_BOARDS | FALLING},
    {"shop", AROUND | SHOP},
    {"shop, three steps", AROUND | CURVED_TONE | STEPS},
};

const char *scene_condition(size_t index)
{
    return index < sizeof conditions / sizeof *conditions ? conditions[index].name : NULL;
}

// ---- The piece ---------------------------------------------------------------------

static hw_lab near(uint64_t *state, hw_lab mean, double share)
{
    return (hw_lab){mean.L + share * 1.5 * scene_normal(state),
                    mean.a + share * 0.5 * scene_normal(state),
                    mean.b + share * 0.9 * scene_normal(state)};
}

static hw_lab off_colour(uint64_t *state, hw_lab wood)
{
    return (hw_lab){wood.L + scene_between(state, -1.5, 6.5),
                    wood.a + scene_between(state, -3.5, 2.0),
                    wood.b + scene_between(state, -3.5, 3.5)};
}

// Where things lie. In the second and third layout the strip lies at one end and the old wood
// beside it towards the other, so that light that falls off does not cancel.
typedef struct part {
    const char *name;
    double x, y, width, height;
    bool upright, target;
} part;

#define PARTS 6
static const part layouts[3][PARTS + 1] = {
    {{"top rail", 120, 40, 620, 110, false, true},
     {"upper panel", 120, 150, 620, 140, false, true},
     {"left stile", 120, 290, 120, 110, true, true},
     {"right stile", 580, 290, 160, 110, true, true},
     {"lower panel", 120, 400, 620, 130, false, true},
     {"bottom rail", 120, 530, 620, 90, false, true},
     {"strip", 240, 290, 340, 110, false, false}},
    {{"top rail", 120, 40, 620, 110, false, false},
     {"upper right", 430, 150, 310, 140, false, true},
     {"upper left", 120, 150, 310, 140, false, false},
     {"right stile", 430, 290, 310, 110, true, true},
     {"lower right", 430, 400, 310, 130, false, true},
     {"lower left", 120, 400, 310, 130, false, false},
     {"strip", 120, 290, 310, 110, false, false}},
    {{"top rail", 120, 40, 620, 110, false, false},
     {"upper left", 120, 150, 310, 140, false, true},
     {"upper right", 430, 150, 310, 140, false, false},
     {"left stile", 120, 290, 310, 110, true, true},
     {"lower left", 120, 400, 310, 130, false, true},
     {"lower right", 430, 400, 310, 130, false, false},
     {"strip", 430, 290, 310, 110, false, false}},
};

static void add_piece(scene *s, uint64_t *state, unsigned what)
{
    bool like_boards = what & LIKE_BOARDS;
    double hue = scene_between(state, 52.0, 76.0) * 3.14159265 / 180.0;
    double L = scene_between(state, 31.0, 62.0);
    double chroma = scene_between(state, 11.0, 18.0) + 0.28 * (L - 31.0); // darker woods are duller
    hw_lab wood = {L, chroma * cos(hue), chroma * sin(hue)};
    // How much the boards differ, and how strong their grain is.
    double spread = scene_between(state, 0.3, 1.0), figure = scene_between(state, 0.05, 0.14);
    double pores = scene_chance(state) < 0.4 ? scene_between(state, 0.03, 0.09) : 0.0;
    bool belongs = like_boards && scene_chance(state) < 0.5;
    hw_lab strip = belongs ? near(state, wood, 0.5 * spread) : off_colour(state, wood);
    const part *layout = layouts[(int)((what & AROUND ? 0.0 : 2.999) * scene_chance(state))];
    for (int i = 0; i <= PARTS; i++) {
        const part *p = &layout[i];
        bool new_wood = i == PARTS;
        scene_region *r = scene_add(s, p->name, SCENE_BOARD,
                                    new_wood    ? "patch"
                                    : p->target ? "target"
                                                : NULL,
                                    p->x, p->y, p->width, p->height,
                                    new_wood ? strip : near(state, wood, spread));
        r->upright = p->upright;
        r->figure = figure;
        r->pores = pores;
        r->seed = (unsigned)(1e6 * scene_chance(state));
        r->bump = new_wood ? scene_between(state, 0.0, 0.03) : 0.0;
    }
}

// ---- References --------------------------------------------------------------------

static hw_lab card_colour(uint64_t *state)
{
    return (hw_lab){49.5 + 0.5 * scene_normal(state), 0.3 * scene_normal(state),
                    0.3 * scene_normal(state)};
}

static void add_steps(scene *s, uint64_t *state, bool black_alone)
{
    scene_add(s, "steps rim", SCENE_CARD, NULL, 764, 292, 172, 66, (hw_lab){70, 0, 0});
    const char *name[3] = {"white", "grey", "black"};
    const double L[3] = {95.0, 49.5, 22.0};
    for (int i = black_alone ? 2 : 0; i < 3; i++) {
        scene_add(s, name[i], SCENE_CARD, "neutral", 768 + 56 * i, 296, 54, 58,
                  (hw_lab){L[i] + 0.4 * scene_normal(state), 0.25 * scene_normal(state),
                           0.25 * scene_normal(state)});
    }
}

// Published L*a*b* (D50) of the 24-patch chart of McCamy, Marcus and Davidson (1976), edition
// after November 2014.
static const double chart[24][3] = {
    {37.54, 14.37, 14.92},  {64.66, 19.27, 17.50},   {49.32, -3.82, -22.54}, {43.46, -12.74, 22.72},
    {54.94, 9.61, -24.79},  {70.48, -32.26, -0.37},  {62.73, 35.83, 56.50},  {39.43, 10.75, -45.17},
    {50.57, 48.64, 16.67},  {30.10, 22.54, -20.87},  {71.77, -24.13, 58.19}, {71.51, 18.24, 67.37},
    {28.37, 15.42, -49.80}, {54.38, -39.72, 32.27},  {42.43, 51.05, 28.62},  {81.80, 2.67, 80.41},
    {50.63, 51.28, -14.12}, {49.57, -29.71, -28.32}, {95.19, -1.03, 2.93},   {81.29, -0.57, 0.44},
    {66.89, -0.75, -0.06},  {50.76, -0.13, 0.14},    {35.63, -0.46, -0.48},  {20.64, 0.07, -0.46},
};

static void add_chart(scene *s, uint64_t *state)
{
    static const char *const name[24] = {"1",  "2",  "3",  "4",  "5",  "6",  "7",  "8",
                                         "9",  "10", "11", "12", "13", "14", "15", "16",
                                         "17", "18", "19", "20", "21", "22", "23", "24"};
    scene_add(s, "chart rim", SCENE_CARD, NULL, 758, 292, 188, 282, (hw_lab){25, 0, 0});
    for (int i = 0; i < 24; i++) { // turned a quarter: rows of four
        scene_add(s, name[i], SCENE_CARD, "chart", 762 + 46 * (i / 6), 296 + 46 * (i % 6), 40, 40,
                  (hw_lab){chart[i][0] + 0.3 * scene_normal(state),
                           chart[i][1] + 0.3 * scene_normal(state),
                           chart[i][2] + 0.3 * scene_normal(state)})
            ->paint = true;
    }
}

// ---- Light and camera --------------------------------------------------------------

static hw_spectrum good_lamp(uint64_t *state)
{
    double which = scene_chance(state);
    return which < 0.6 ? hw_daylight(scene_between(state, 4600.0, 6800.0))
           : which < 0.8
               ? hw_planckian(scene_between(state, 2750.0, 3300.0))
               : scene_led(scene_between(state, 0.4, 0.7), scene_between(state, 0.7, 1.0));
}

static hw_spectrum poor_lamp(uint64_t *state)
{
    return scene_chance(state) < 0.5
               ? scene_led(scene_between(state, 0.8, 1.2), scene_between(state, 0.2, 0.35))
               : scene_tube(scene_between(state, 0.8, 1.6));
}

static void set_cast(scene *s, uint64_t *state, double least, double most)
{
    double warm = scene_between(state, least, most) * (scene_chance(state) < 0.5 ? -1.0 : 1.0);
    s->balance[0] = 1.0 + warm;
    s->balance[1] = 1.0 + 0.03 * scene_normal(state);
    s->balance[2] = 1.0 - warm;
}

// A lamp to one side, so high that the light falls by about `fall` from end to end: ln light changes
// by 3 a / (a^2 + h^2) a pixel, and the picture is 960 wide.
static void set_falling(scene *s, uint64_t *state, double fall, double nearest)
{
    double turn = scene_between(state, -0.5, 0.5) + (scene_chance(state) < 0.5 ? 0.0 : 3.14159265);
    double away = scene_between(state, nearest, 1500.0),
           slope = fmax(-log(1.0 - fall), 1e-3) / 960.0;
    s->near_lamp[0] = 480.0 + away * cos(turn);
    s->near_lamp[1] = 320.0 + away * sin(turn);
    s->near_lamp[2] = sqrt(3.0 * away / slope - away * away);
}

static void set_tone(scene *s, uint64_t *state, double least, double most)
{
    s->curve = (scene_curve)(int)(2.999 * scene_chance(state));
    s->tone = scene_between(state, least, most);
}

static void add_shine(scene *s, uint64_t *state, size_t count, double most)
{
    for (s->spot_count = 0; s->spot_count < count; s->spot_count++) {
        s->spot[s->spot_count] = (scene_spot){
            .x = scene_between(state, 130.0, 730.0),
            .y = scene_between(state, 60.0, 600.0),
            .radius = {scene_between(state, 25.0, 90.0), scene_between(state, 8.0, 30.0)},
            .share = scene_between(state, 0.02, most)};
    }
}

static void set_shot(scene *s, uint64_t *state, unsigned what)
{
    double falling = scene_between(state, 0.25, 0.35), share = scene_between(state, 0.15, 0.45);
    double everyday_fall = scene_between(state, 0.0, 0.2);
    s->lamp = what & POOR_LAMP ? poor_lamp(state) : good_lamp(state);
    s->camera = 3 + (int)(1e5 * scene_chance(state));
    set_cast(s, state, what & (CAST | EVERYDAY) ? 0.10 : 0.0, what & CAST ? 0.25 : 0.10);
    s->exposure = scene_between(state, 0.70, 0.95);
    s->flare = scene_between(state, 0.001, 0.006);
    s->noise = scene_between(state, 0.006, 0.02);
    s->second_lamp = hw_planckian(scene_between(state, 2700.0, 3100.0));
    if (what & IDEAL) {
        s->lamp = hw_daylight(5003.0);
        s->camera = 0;
        s->balance[0] = s->balance[1] = s->balance[2] = 1.0;
        s->flare = 0.0;
        s->noise = 0.01; // without any, rounding in the JPEG turns to bias
    }
    if (what & FALLING) {
        set_falling(s, state, falling, what & NEAR ? 150.0 : 700.0);
    }
    if (what & TWO_LAMPS) {
        s->lamp = hw_daylight(scene_between(state, 5200.0, 6800.0));
        bool right = scene_chance(state) < 0.5;
        s->second_share[right] = share;
        s->second_share[!right] = 0.1 * share;
    }
    if (what & CURVED_TONE) {
        set_tone(s, state, 0.1, 0.35);
    }
    if (what & SHINE) {
        add_shine(s, state, 2 + (size_t)(3.0 * scene_chance(state)), 0.25);
    }
    if (what & SHOP) {
        set_tone(s, state, 0.0, 0.2);
        set_falling(s, state, scene_between(state, 0.0, 0.12), 700.0);
        s->flare = scene_between(state, 0.002, 0.008);
    }
    if (what & EVERYDAY) {
        set_tone(s, state, 0.0, 0.25);
        set_falling(s, state, everyday_fall, 400.0);
        s->flare = scene_between(state, 0.003, 0.010);
        add_shine(s, state, (size_t)(3.0 * scene_chance(state)), 0.06);
        if (scene_chance(state) < 0.3) {
            s->second_share[scene_chance(state) < 0.5] = 0.2;
        }
    }
}

void scene_scale(scene *s, double factor)
{
    s->width = (size_t)((double)s->width * factor);
    s->height = (size_t)((double)s->height * factor);
    for (size_t i = 0; i < s->region_count; i++) {
        scene_region *r = &s->region[i];
        double right = floor((r->x + r->width) * factor), down = floor((r->y + r->height) * factor);
        r->x = floor(r->x * factor);
        r->y = floor(r->y * factor);
        r->width = right - r->x;
        r->height = down - r->y;
    }
    for (size_t i = 0; i < s->spot_count; i++) {
        scene_spot *spot = &s->spot[i];
        spot->x *= factor, spot->y *= factor;
        spot->radius[0] *= factor, spot->radius[1] *= factor;
    }
    for (int k = 0; k < 3; k++) {
        s->near_lamp[k] *= factor;
    }
    s->fall_off[0] /= factor, s->fall_off[1] /= factor;
}

// A scrap board of wood much like that of `job`, its rows each a dye and its columns 0, 1, 2 ... passes:
// the grain runs through all of it. Even light, the same camera. A plain board is lighter and has
// little figure.
void scene_board(const scene *job, unsigned seed, bool plain, const char *const *dye, size_t dyes,
                 int passes, scene *out)
{
    uint64_t state = 104729u * (uint64_t)seed + 7u;
    const scene_region *old = NULL, *card = NULL;
    for (size_t i = 0; i < job->region_count; i++) {
        const scene_region *r = &job->region[i];
        old = !old && r->role && strcmp(r->role, "target") == 0 ? r : old;
        card = !card && r->role && strcmp(r->role, "card") == 0 ? r : card;
    }
    *out = *job;
    out->name = out->shows = "step board";
    out->width = 960;
    out->height = 640;
    out->region_count = out->spot_count = 0;
    memset(out->near_lamp, 0, sizeof out->near_lamp);
    memset(out->fall_off, 0, sizeof out->fall_off);
    memset(out->second_share, 0, sizeof out->second_share);
    scene_add(out, "bench", SCENE_GROUND, NULL, 0, 0, 960, 640,
              (hw_lab){scene_between(&state, 20, 70), 1, 3});
    hw_lab wood = {old->colour.L + scene_between(&state, plain ? 4.0 : -8.0, 8.0),
                   old->colour.a + scene_between(&state, -1.0, 1.0),
                   old->colour.b + scene_between(&state, -2.0, 2.0)};
    double width = 740.0 / (passes + 1), height = 620.0 / (double)dyes;
    unsigned grain = (unsigned)(1e6 * scene_chance(&state));
    for (size_t row = 0; row < dyes; row++) {
        for (int k = 0; k <= passes; k++) {
            scene_region *r = scene_add(out, dye[row], SCENE_BOARD, "board_strip", 10.0 + width * k,
                                        10.0 + height * (double)row, width, height, wood);
            r->stepped = true;
            r->step = k;
            r->figure = plain ? 0.5 * old->figure : old->figure;
            r->pores = old->pores;
            r->seed = grain;
        }
    }
    scene_add(out, "card rim", SCENE_CARD, NULL, 774, 106, 152, 142, (hw_lab){86, 0, 2});
    scene_add(out, "grey card", SCENE_CARD, "card", 780, 112, 140, 130, card->colour);
}

bool scene_random(const char *condition, unsigned seed, scene *out, int *quality)
{
    size_t index = 0;
    while (scene_condition(index) && strcmp(scene_condition(index), condition) != 0) {
        index++;
    }
    if (!scene_condition(index)) {
        return false;
    }
    unsigned what = conditions[index].what;
    uint64_t state = 7919u * (uint64_t)seed + 13u;
    scene s = {.name = conditions[index].name,
               .shows = conditions[index].name,
               .width = 960,
               .height = 640,
               .noise_seed = seed};
    scene_add(&s, "bench", SCENE_GROUND, NULL, 0, 0, 960, 640,
              (hw_lab){scene_between(&state, 20, 70), 1, 3});
    add_piece(&s, &state, what);
    hw_lab grey = card_colour(&state);
    scene_add(&s, "card rim", SCENE_CARD, NULL, 774, 106, 152, 142, (hw_lab){86, 0, 2});
    scene_add(&s, "grey card", SCENE_CARD, "card", 780, 112, 140, 130, grey);
    if (what & SECOND_CARD) {
        scene_add(&s, "card rim 2", SCENE_CARD, NULL, 6, 306, 108, 108, (hw_lab){86, 0, 2});
        scene_add(&s, "grey card 2", SCENE_CARD, "card", 12, 312, 96, 96, grey);
    }
    if (what & (STEPS | BLACK)) {
        add_steps(&s, &state, what & BLACK);
    }
    if (what & CHART) {
        add_chart(&s, &state);
    }
    set_shot(&s, &state, what);
    *quality = what & IDEAL               ? 100
               : what & (EVERYDAY | SHOP) ? (int)scene_between(&state, 84, 95)
                                          : 92;
    *out = s;
    return true;
}
