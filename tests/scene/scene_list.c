// scene_list.c: the scenes by name. An invented walnut gramophone cabinet and an invented oak hall
// bench, and the lid once more under the troubles that photos have.
#include "scene.h"

#include <string.h>

static const hw_lab card_grey = {49.6, -0.2, 0.4}; // a card is never quite neutral

scene_region *scene_add(scene *s, const char *name, scene_kind kind, const char *role, double x,
                        double y, double width, double height, hw_lab colour)
{
    scene_region *r = &s->region[s->region_count++];
    *r = (scene_region){.name = name,
                        .kind = kind,
                        .role = role,
                        .x = x,
                        .y = y,
                        .width = width,
                        .height = height,
                        .colour = colour};
    return r;
}

// With the figure of these scenes, another in each region.
static scene_region *add(scene *s, const char *name, scene_kind kind, const char *role, double x,
                         double y, double width, double height, hw_lab colour)
{
    unsigned number = (unsigned)s->region_count;
    scene_region *r = scene_add(s, name, kind, role, x, y, width, height, colour);
    r->figure = 0.10;
    r->seed = 100u + 17u * number;
    return r;
}

static void add_card(scene *s, double x, double y)
{
    add(s, "card rim", SCENE_CARD, NULL, x - 7, y - 7, 234, 174, (hw_lab){86, 0, 2});
    add(s, "grey card", SCENE_CARD, "card", x, y, 220, 160, card_grey);
}

static scene shop(void)
{
    scene s = {.width = 1400,
               .height = 1050,
               .camera = 1,
               .balance = {1.03, 1.0, 0.97},
               .exposure = 0.92,
               .flare = 0.003,
               .noise = 0.012,
               .noise_seed = 1};
    s.lamp = hw_daylight(5200.0);
    s.fall_off[0] = 0.000012;
    return s;
}

// ---- The lid of the gramophone cabinet, seen from above ----------------------------

static void upright(scene_region *r)
{
    r->upright = true;
}

static scene lid(void)
{
    scene s = shop();
    s.name = "lid";
    s.shows =
        "walnut gramophone cabinet, lid from above: a let-in strip too light and a touch green";
    add(&s, "bench", SCENE_GROUND, NULL, 0, 0, 1400, 1050, (hw_lab){34, 1, 3});
    add(&s, "back rail", SCENE_BOARD, "target", 90, 70, 1220, 120, (hw_lab){38.6, 8.6, 14.6});
    add(&s, "front rail", SCENE_BOARD, "target", 90, 690, 1220, 120, (hw_lab){37.2, 9.3, 15.2});
    upright(
        add(&s, "left stile", SCENE_BOARD, "target", 90, 190, 130, 500, (hw_lab){39.6, 8.2, 14.2}));
    upright(add(&s, "right stile", SCENE_BOARD, "target", 1180, 190, 130, 500,
                (hw_lab){38.0, 8.9, 15.6}));
    add(&s, "upper panel", SCENE_BOARD, "target", 220, 190, 960, 210, (hw_lab){38.9, 9.0, 14.9});
    add(&s, "lower panel", SCENE_BOARD, "target", 220, 490, 960, 200, (hw_lab){37.6, 8.7, 14.3});
    scene_region *strip =
        add(&s, "lid strip", SCENE_BOARD, "patch", 220, 400, 960, 90, (hw_lab){43.6, 6.3, 15.2});
    strip->bump = 0.05;
    add_card(&s, 590, 850);
    return s;
}

// ---- Its two doors -----------------------------------------------------------------

static scene doors(void)
{
    scene s = shop();
    s.name = "doors";
    s.shows = "walnut gramophone cabinet, front: two doors that differ as its boards do";
    add(&s, "wall", SCENE_GROUND, NULL, 0, 0, 1400, 1050, (hw_lab){62, 0, 4});
    add(&s, "top rail", SCENE_BOARD, "target", 110, 60, 1180, 110, (hw_lab){41.4, 8.2, 16.4});
    add(&s, "bottom rail", SCENE_BOARD, "target", 110, 730, 1180, 110, (hw_lab){35.8, 9.4, 13.6});
    upright(add(&s, "left stile", SCENE_BOARD, "target", 110, 170, 120, 560,
                (hw_lab){38.8, 10.2, 17.6}));
    upright(add(&s, "right stile", SCENE_BOARD, "target", 1170, 170, 120, 560,
                (hw_lab){36.0, 7.4, 12.2}));
    upright(add(&s, "middle stile", SCENE_BOARD, "target", 645, 170, 110, 560,
                (hw_lab){40.6, 7.6, 13.8}));
    scene_region *left =
        add(&s, "left door", SCENE_BOARD, "patch", 230, 170, 415, 560, (hw_lab){40.3, 8.6, 15.9});
    scene_region *right =
        add(&s, "right door", SCENE_BOARD, "patch", 755, 170, 415, 560, (hw_lab){36.7, 8.9, 14.0});
    left->upright = right->upright = true;
    left->whole_board = right->whole_board = true;
    add_card(&s, 590, 862);
    return s;
}

// ---- Its front, with five repairs --------------------------------------------------

static scene front(void)
{
    scene s = shop();
    s.name = "front";
    s.shows =
        "walnut gramophone cabinet, front: five repairs, four of them too light in their own ways";
    add(&s, "wall", SCENE_GROUND, NULL, 0, 0, 1400, 1050, (hw_lab){58, 0, 3});
    add(&s, "cornice", SCENE_BOARD, "target", 80, 50, 820, 110, (hw_lab){38.2, 8.8, 14.9});
    add(&s, "cornice end", SCENE_BOARD, NULL, 1200, 50, 120, 110, (hw_lab){38.0, 8.8, 14.8});
    add(&s, "plinth", SCENE_BOARD, "target", 820, 700, 500, 110, (hw_lab){37.0, 9.2, 14.4});
    add(&s, "plinth end", SCENE_BOARD, NULL, 80, 700, 220, 110, (hw_lab){37.2, 9.1, 14.5});
    upright(
        add(&s, "left stile", SCENE_BOARD, "target", 80, 160, 150, 200, (hw_lab){38.8, 8.5, 14.6}));
    upright(add(&s, "left stile foot", SCENE_BOARD, NULL, 80, 560, 150, 140,
                (hw_lab){38.6, 8.6, 14.6}));
    upright(add(&s, "right stile", SCENE_BOARD, "target", 1170, 160, 150, 540,
                (hw_lab){37.6, 9.0, 15.3}));
    add(&s, "upper panel", SCENE_BOARD, "target", 640, 160, 530, 270, (hw_lab){38.5, 8.9, 14.8});
    add(&s, "panel edge", SCENE_BOARD, NULL, 230, 160, 150, 270, (hw_lab){38.3, 8.8, 14.7});
    add(&s, "lower panel", SCENE_BOARD, "target", 230, 430, 600, 270, (hw_lab){37.8, 8.6, 14.5});
    add(&s, "panel corner", SCENE_BOARD, NULL, 1050, 430, 120, 270, (hw_lab){37.9, 8.7, 14.5});
    add(&s, "cornice piece", SCENE_BOARD, "patch", 900, 50, 300, 110, (hw_lab){44.4, 7.4, 15.0});
    add(&s, "panel inlay", SCENE_BOARD, "patch", 380, 160, 260, 270, (hw_lab){43.0, 7.0, 15.4});
    upright(
        add(&s, "stile patch", SCENE_BOARD, "patch", 80, 360, 150, 200, (hw_lab){45.6, 7.6, 15.8}));
    add(&s, "plinth strip", SCENE_BOARD, "patch", 300, 700, 520, 110, (hw_lab){41.6, 8.8, 12.4});
    add(&s, "panel patch", SCENE_BOARD, "patch", 830, 430, 220, 270, (hw_lab){38.6, 8.3, 14.8});
    add_card(&s, 590, 860);
    return s;
}

// ---- The hall bench ----------------------------------------------------------------

static void make_oak(scene *s)
{
    for (size_t i = 0; i < s->region_count; i++) {
        if (s->region[i].kind == SCENE_BOARD) {
            s->region[i].pores = 0.08;
            s->region[i].figure = 0.12;
        }
    }
}

static scene bench(void)
{
    scene s = shop();
    s.name = "bench";
    s.shows = "oak hall bench, seat and back: one repair too pale and cold, one already too dark";
    s.lamp = hw_planckian(3000.0);
    s.balance[0] = 1.06;
    s.balance[2] = 0.93;
    s.camera = 2;
    s.exposure = 0.80;
    add(&s, "wall", SCENE_GROUND, NULL, 0, 0, 1400, 1050, (hw_lab){55, 1, 3});
    add(&s, "crest rail", SCENE_BOARD, "target", 80, 60, 1240, 130, (hw_lab){55.0, 10.2, 26.0});
    upright(add(&s, "back board 1", SCENE_BOARD, "target", 80, 190, 310, 330,
                (hw_lab){56.4, 9.4, 25.2}));
    scene_region *pale = add(&s, "back board 2", SCENE_BOARD, "patch", 390, 190, 310, 330,
                             (hw_lab){62.8, 7.6, 22.6});
    upright(pale);
    upright(add(&s, "back board 3", SCENE_BOARD, "target", 700, 190, 310, 330,
                (hw_lab){54.2, 10.6, 26.6}));
    upright(add(&s, "back board 4", SCENE_BOARD, "target", 1010, 190, 310, 330,
                (hw_lab){55.8, 9.8, 24.8}));
    add(&s, "seat", SCENE_BOARD, "target", 80, 530, 700, 220, (hw_lab){53.6, 10.4, 25.6});
    add(&s, "seat end", SCENE_BOARD, NULL, 780, 530, 540, 220, (hw_lab){54.0, 10.2, 25.4});
    add(&s, "seat patch", SCENE_BOARD, "patch", 900, 580, 260, 120, (hw_lab){47.0, 11.0, 24.0});
    make_oak(&s);
    add_card(&s, 590, 820);
    return s;
}

// ---- A step board ------------------------------------------------------------------

// Two dyes in rows of five strips, 0 to 4 passes, on one oak board; each strip has a figure of its own.
static scene step_board(void)
{
    static const char *const name[2][5] = {
        {"walnut 0", "walnut 1", "walnut 2", "walnut 3", "walnut 4"},
        {"cherry 0", "cherry 1", "cherry 2", "cherry 3", "cherry 4"}};
    static const char *const family[2] = {"brown", "red"};
    scene s = shop();
    s.name = "board";
    s.shows = "step board on oak: walnut and cherry dye, 0 to 4 passes";
    s.fall_off[0] = 0.0;
    add(&s, "bench", SCENE_GROUND, NULL, 0, 0, 1400, 1050, (hw_lab){48, 1, 3});
    for (int row = 0; row < 2; row++) {
        for (int passes = 0; passes < 5; passes++) {
            scene_region *strip =
                add(&s, name[row][passes], SCENE_BOARD, "board_strip", 100 + 240 * passes,
                    60 + 370 * row, 240, 340, (hw_lab){62, 10, 26});
            upright(strip);
            strip->figure = 0.06;
            strip->layer[0] = (scene_layer){.family = family[row], .amount = passes};
            strip->layer_count = passes > 0;
        }
    }
    add_card(&s, 590, 850);
    return s;
}

// ---- The lid under the troubles of photos: for the accuracy run --------------------

static scene variant(const char *name)
{
    scene s = lid();
    s.name = name;
    s.noise_seed = 77;
    s.fall_off[0] = 0.0;
    s.bound_de00 = 0.0;
    return s;
}

static scene plain(void)
{
    scene s = variant("plain");
    s.shows = "good even daylight";
    s.bound_de00 = 0.3;
    return s;
}

static scene cast(void)
{
    scene s = variant("cast");
    s.shows = "white balance left a clear cast";
    s.balance[0] = 1.25;
    s.balance[2] = 0.75;
    s.exposure = 0.75;
    s.bound_de00 = 0.3;
    return s;
}

static scene poor_lamp(void)
{
    scene s = variant("poor-lamp");
    s.shows = "an LED lamp with little red";
    s.lamp = scene_led(1.1, 0.25);
    s.camera = 2;
    s.bound_de00 = 0.3;
    return s;
}

static scene falling_light(void)
{
    scene s = variant("falling-light");
    s.shows = "light falls by 30 % along the piece, card in the middle";
    s.fall_off[0] = -0.00025;
    return s;
}

static scene tone_curve(void)
{
    scene s = variant("tone-curve");
    s.shows = "the camera bends tones";
    s.tone = 0.3;
    return s;
}

static scene lamp_a(void)
{
    scene s = variant("lamp-a");
    s.shows = "an incandescent lamp";
    s.lamp = hw_planckian(2855.5);
    return s;
}

static scene control(void)
{
    scene s = variant("control");
    s.shows = "exact camera, D50, no noise, no flare";
    s.lamp = hw_daylight(5003.0);
    s.camera = 0;
    s.balance[0] = s.balance[2] = 1.0;
    s.noise = s.flare = 0.0;
    s.bound_de00 = 0.15;
    return s;
}

static const struct {
    const char *name;
    scene (*make)(void);
} scenes[] = {
    {"lid", lid},
    {"doors", doors},
    {"front", front},
    {"bench", bench},
    {"board", step_board},
    {"plain", plain},
    {"cast", cast},
    {"poor-lamp", poor_lamp},
    {"falling-light", falling_light},
    {"tone-curve", tone_curve},
    {"lamp-a", lamp_a},
    {"control", control},
};

const char *scene_name(size_t index)
{
    return index < sizeof scenes / sizeof *scenes ? scenes[index].name : NULL;
}

bool scene_find(const char *name, scene *out)
{
    for (size_t i = 0; i < sizeof scenes / sizeof *scenes; i++) {
        if (strcmp(name, scenes[i].name) == 0) {
            *out = scenes[i].make();
            return true;
        }
    }
    return false;
}
