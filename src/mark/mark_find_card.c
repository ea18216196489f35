// mark_find_card.c: what speaks against a panel being a plain grey card, and how likely it is one.
//
// Grey is relative: under a lamp that the camera did not allow for, a grey card is orange in the picture. Two
// things are asked instead. How far does its colour lie from the photo's own neutral? Cameras miss by a little
// often and by much seldom. And what would the rest of the picture be, were this grey? Wood is always warmer than
// grey, and little in a shop is bluer; beside a book's blue cover even the walls would be warm, and beside a
// plank of pale wood much would be blue.
//
// Each doubt is a number from 0 to 4. The confidence is the logistic of a weighted sum of them. The weights were
// fitted to the panels of some 200 made-up scenes and of 60 without any grey rectangle (tests/accuracy/find_scene.c,
// numbers below 1000; largest likelihood, none below 0, each drawn to 1 with a s.d. of about 1). So the confidence is the share of right
// finds there, not in the world: how many shops have grey tiles lying about nobody knows, and such a tile cannot be told from a card by
// its pixels.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

enum { EVERY = 4 };

// ---- The rest of the picture ---------------------------------------------------------------

hw_status hw_scene_colours_take(const hw_relief *relief, hw_scene_colours *out, hw_error *err)
{
    size_t room = (relief->width / EVERY + 1) * (relief->height / EVERY + 1);
    hw_scene_colours made = {hw_alloc_array(room, sizeof *made.red),
                             hw_alloc_array(room, sizeof *made.blue),
                             hw_alloc_array(room, sizeof *made.Y), 0, 1.0};
    double *order = hw_alloc_array(room, sizeof *order);
    if (!made.red || !made.blue || !made.Y || !order) {
        hw_free(order);
        hw_scene_colours_free(&made);
        return hw_fail_memory(err, "looking for the card");
    }
    for (size_t y = EVERY / 2; y < relief->height; y += EVERY) {
        for (size_t x = EVERY / 2; x < relief->width; x += EVERY) {
            hw_ratios r = hw_ratios_of(relief->small->xyz + 3 * (y * relief->width + x));
            made.red[made.count] = (float)r.red;
            made.blue[made.count] = (float)r.blue;
            made.Y[made.count] = (float)r.Y;
            order[made.count++] = r.Y;
        }
    }
    if (made.count > 0) {
        made.bright = hw_select(order, made.count, made.count * 97 / 100);
    }
    hw_free(order);
    *out = made;
    return HW_OK;
}

void hw_scene_colours_free(hw_scene_colours *colours)
{
    hw_free(colours->red);
    hw_free(colours->blue);
    hw_free(colours->Y);
    *colours = (hw_scene_colours){0};
}

// ---- Doubts ----------------------------------------------------------------------------

typedef struct surround {
    double cooler; // share of the picture that is bluer than the panel
    double warmer; // share that is as much warmer as wood is
} surround;

static surround look_around(const hw_panel *panel, const hw_scene_colours *colours)
{
    size_t seen = 0, cooler = 0, warmer = 0;
    for (size_t i = 0; i < colours->count; i++) {
        double Y = (double)colours->Y[i];
        if (Y < 0.01 || Y > 0.9) { // black or clipped: no colour to speak of
            continue;
        }
        double warm =
            ((double)colours->red[i] - panel->red) - ((double)colours->blue[i] - panel->blue);
        seen++;
        cooler += warm < -0.15; // ln(R/B), chosen
        warmer += warm > 0.35;  // pale maple: 0.6; chosen
    }
    double n = fmax((double)seen, 1.0);
    return (surround){(double)cooler / n, (double)warmer / n};
}

// 0 up to `from`, then 1 for each `unit`, at most 4.
static double beyond(double value, double from, double unit)
{
    return fmin(fmax((value - from) / unit, 0.0), 4.0);
}

static void take_doubts(const hw_panel *p, const hw_scene_colours *colours,
                        double doubt[HW_DOUBT_COUNT])
{
    surround s = look_around(p, colours);
    doubt[HW_DOUBT_SIDES] = beyond(1.0 - p->support, 0.0, 0.1);
    doubt[HW_DOUBT_UNEVEN] = beyond(log(fmax(p->uneven, 1e-4)), log(0.008), 0.5);
    doubt[HW_DOUBT_ROUGH] = beyond(log(fmax(p->rough, 1e-5)), log(0.004), 0.5);
    doubt[HW_DOUBT_CAST] = beyond(hypot(p->red, p->blue), 0.0, 0.2);
    doubt[HW_DOUBT_COOLER] = beyond(s.cooler, 0.0, 0.08);
    doubt[HW_DOUBT_WARMER] = beyond(0.4 - s.warmer, 0.0, 0.2);
    doubt[HW_DOUBT_LIGHTEST] = beyond(log(p->Y / fmax(colours->bright, 1e-4)), -0.5, 0.5);
    doubt[HW_DOUBT_DARK] = beyond(0.34 - p->code, 0.0, 0.06);
    doubt[HW_DOUBT_LIGHT] = beyond(p->code, 0.62, 0.06);
    doubt[HW_DOUBT_AROUND] =
        fmin(beyond(p->around, 0.0, 0.2), 2.5); // a card with a light rim on grey
    doubt[HW_DOUBT_EDGE] = p->at_edge ? 1.0 : 0.0;
    doubt[HW_DOUBT_SHAPE] = beyond(0.8 - p->fill, 0.0, 0.08);
    doubt[HW_DOUBT_LARGE] = beyond(p->share, 0.2, 0.05);
}

// Weight of each doubt, how much of it a likely find may have, and what is said of it.
static const struct {
    double weight, likely_most;
    const char *words;
} doubts[HW_DOUBT_COUNT] = {
    [HW_DOUBT_SIDES] = {0.84, 1.0, "One of its sides cannot be seen clearly."},
    [HW_DOUBT_UNEVEN] = {1.13, 0.8, "Its surface is not as even as a card's."},
    [HW_DOUBT_ROUGH] = {1.36, 0.8, "Its surface shows a grain or weave, which a card has not."},
    [HW_DOUBT_CAST] = {0.63, 1.25,
                       "It is not grey in this photo: either the light is strongly coloured, or it "
                       "is not the card."},
    [HW_DOUBT_COOLER] = {0.5, 0.5,
                         "Other things in the picture are bluer than it, so it may not be grey."},
    [HW_DOUBT_WARMER] = {1.17, 1.0,
                         "There is too little wood in the picture to tell whether it is grey."},
    [HW_DOUBT_LIGHTEST] = {1.18, 0.4,
                           "It is about the lightest thing in the picture: it may be white paper."},
    [HW_DOUBT_DARK] = {1.0, 0.5, "It is darker than a grey card in a well exposed photo."},
    [HW_DOUBT_LIGHT] = {1.24, 0.5, "It is lighter than a grey card in a well exposed photo."},
    [HW_DOUBT_AROUND] = {1.61, 0.3,
                         "What lies around it looks much the same: it may be one tile of many, or "
                         "a part of a wall."},
    [HW_DOUBT_EDGE] =
        {1.22, 0.5,
         "It reaches the picture's edge: it may be a wall or floor, or the card is cut off."},
    [HW_DOUBT_SHAPE] = {1.12, 0.5, "It is not quite the shape of a card."},
    [HW_DOUBT_LARGE] = {1.0, 0.5, "It fills a large part of the picture."},
};
static const double confidence_without_doubt = 3.7; // logit

void hw_card_judge(const hw_panel *panel, const hw_scene_colours *colours, hw_card_verdict *out)
{
    double doubt[HW_DOUBT_COUNT], sum = confidence_without_doubt, most = 0.0;
    take_doubts(panel, colours, doubt);
    *out = (hw_card_verdict){.clear = true, .words = ""};
    for (int i = 0; i < HW_DOUBT_COUNT; i++) {
        double share = doubts[i].weight * doubt[i];
        sum -= share;
        out->clear = out->clear && doubt[i] <= doubts[i].likely_most;
        if (share > most) {
            most = share;
            out->words = doubts[i].words;
        }
    }
    if (panel->at_edge) { // why one of its sides is missing
        out->words = doubts[HW_DOUBT_EDGE].words;
    }
    out->confidence = 1.0 / (1.0 + exp(-sum));
}
