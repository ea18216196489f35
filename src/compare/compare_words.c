// compare_words.c: directions and sizes as a finisher says them.
//
// Directions: common practice, no source: name the cast first, act only outside a tolerance that
// an eye would grant. Sizes: bands of CIEDE2000 of our own, built from published thresholds:
// half of people see 0.8 and half accept 1.8 on plain ceramics (Paravina et al. 2015); finished
// wood is called a different colour from about 2 (Drvna industrija 71(2) 2020).
#include "compare_internal.h"

#include <math.h>
#include <string.h>

static const char *const direction_words[HW_DIRECTION_COUNT] = {
    [HW_TOO_LIGHT] = "too light",   [HW_TOO_DARK] = "too dark",
    [HW_TOO_GREEN] = "too green",   [HW_TOO_RED] = "too red",
    [HW_TOO_YELLOW] = "too yellow", [HW_TOO_BLUE] = "too blue",
    [HW_TOO_ORANGE] = "too orange", [HW_TOO_COLD_GREEN] = "too cold and green",
    [HW_TOO_PINK] = "too pink",     [HW_TOO_DULL] = "too dull",
    [HW_TOO_STRONG] = "too strong",
};

const char *hw_direction_words(hw_direction direction)
{
    return direction_words[direction];
}

const char *hw_size_words(double de00)
{
    if (de00 <= 1.0) {
        return "Very close. Most people will not see it.";
    }
    if (de00 <= 2.0) {
        return "Close. A trained eye may see it along the joint.";
    }
    if (de00 <= 4.0) {
        return "Visible side by side. Boards of one tree often differ this much.";
    }
    if (de00 <= 6.0) {
        return "Clear difference. Keep correcting, lightly.";
    }
    return "A different colour. Start from the base colour, not with many passes.";
}

static const char *const doubt_names[HW_DOUBT_COUNT] = {
    [HW_DOUBT_FIGURE] = "figure",         [HW_DOUBT_MARKS] = "marks",
    [HW_DOUBT_LIGHT] = "light",           [HW_DOUBT_SHINE] = "shine",
    [HW_DOUBT_READING] = "reading",       [HW_DOUBT_TONE] = "tone_curve",
    [HW_DOUBT_COLOUR] = "camera_colours", [HW_DOUBT_CARD] = "card",
    [HW_DOUBT_PHOTOS] = "other_photo",
};

static const char *const doubt_words[HW_DOUBT_COUNT] = {
    [HW_DOUBT_FIGURE] = "the wood's own figure",
    [HW_DOUBT_MARKS] = "where the marks lie",
    [HW_DOUBT_LIGHT] = "light that differs between the two places",
    [HW_DOUBT_SHINE] = "shine on the wood",
    [HW_DOUBT_READING] = "noise and the file",
    [HW_DOUBT_TONE] = "the camera's tone curve and stray light",
    [HW_DOUBT_COLOUR] = "the camera's colours",
    [HW_DOUBT_CARD] = "what the card is taken to be",
    [HW_DOUBT_PHOTOS] = "two photos instead of one",
};

const char *hw_doubt_name(hw_doubt source)
{
    return doubt_names[source];
}

const char *hw_doubt_words(hw_doubt source)
{
    return doubt_words[source];
}

const char *hw_doubt_cure(hw_doubt source, const hw_light *light)
{
    switch (source) {
    case HW_DOUBT_FIGURE:
        return "marks over more of the same wood";
    case HW_DOUBT_MARKS:
        return "marks that keep off the joint and the edges";
    case HW_DOUBT_LIGHT:
        return light->field.places > 1
                   ? "even light, or a photo of a plain sheet in the piece's place"
                   : "the card next to the repair, or a second one on its other "
                     "side";
    case HW_DOUBT_SHINE:
        return "the lamp at the side, so that nothing shines";
    case HW_DOUBT_READING:
        return "a nearer, brighter photo, or three read together";
    case HW_DOUBT_TONE:
        return light->tone.steps < 2   ? "a white and a black step beside the card"
               : light->tone.steps < 6 ? "more neutral steps beside the card, or a colour chart"
                                       : "a camera setting without added contrast";
    case HW_DOUBT_COLOUR:
        return light->chart.used ? "a whiter lamp: daylight from a window"
                                 : "a colour chart beside the card";
    case HW_DOUBT_PHOTOS:
        return "the two side by side in one photo";
    default:
        return "the card's own measured colour";
    }
}

static const char *const verdict_names[] = {
    [HW_VERDICT_LEAVE] = "leave",
    [HW_VERDICT_TONE] = "tone",
    [HW_VERDICT_TOO_DARK] = "too_dark",
    [HW_VERDICT_UNSURE] = "unsure",
};

const char *hw_verdict_name(hw_verdict verdict)
{
    return verdict_names[verdict];
}

bool hw_verdict_from_name(const char *name, hw_verdict *out)
{
    for (size_t i = 0; i < sizeof verdict_names / sizeof *verdict_names; i++) {
        if (name && strcmp(name, verdict_names[i]) == 0) {
            *out = (hw_verdict)i;
            return true;
        }
    }
    return false;
}

// ---- Places along a length ---------------------------------------------------------

const char *hw_stretch_words(const hw_stretch *stretch)
{
    static const char *const words[2][6] = {
        {"left end", "left half", "left part", "right end", "right half", "right part"},
        {"upper end", "upper half", "upper part", "lower end", "lower half", "lower part"}};
    const double near = 0.02;
    double from = stretch->from, to = stretch->to;
    bool first = from<near, last = to> 1.0 - near;
    if (first && last) {
        return "all of it";
    }
    if (!first && !last) {
        return to < 0.5 + near     ? (stretch->upright ? "above the middle" : "left of the middle")
               : from > 0.5 - near ? (stretch->upright ? "below the middle" : "right of the middle")
                                   : "middle";
    }
    double share = first ? to : 1.0 - from;
    int size = share < 0.5 - near ? 0 : share > 0.5 + near ? 2 : 1;
    return words[stretch->upright][size + (first ? 0 : 3)];
}

// ---- Directions --------------------------------------------------------------------

typedef struct found {
    size_t count;
    hw_direction direction[8];
    double size[8];
} found;

static void add(found *list, hw_direction direction, double size)
{
    size_t at = list->count++;
    for (; at > 0 && list->size[at - 1] < size; at--) {
        list->size[at] = list->size[at - 1];
        list->direction[at] = list->direction[at - 1];
    }
    list->size[at] = size;
    list->direction[at] = direction;
}

// The cast in the a*, b* plane. Bounds in L*a*b* units.
static void add_cast(found *list, double a, double b)
{
    if (a <= -1.0 && b <= -1.5) {
        add(list, HW_TOO_COLD_GREEN, hypot(a, b));
    } else if (a >= 1.0 && b >= 1.5) {
        add(list, HW_TOO_ORANGE, hypot(a, b));
    } else if (a >= 1.0 && b <= -1.5) {
        add(list, HW_TOO_PINK, hypot(a, b));
    } else {
        if (a <= -1.5) {
            add(list, HW_TOO_GREEN, -a);
        } else if (a >= 1.5) {
            add(list, HW_TOO_RED, a);
        }
        if (b >= 2.0) {
            add(list, HW_TOO_YELLOW, b);
        } else if (b <= -2.0) {
            add(list, HW_TOO_BLUE, -b);
        }
    }
}

// A visible gap must not go without a word: its largest part, however small.
static void add_largest(found *list, const hw_difference *gap)
{
    double L = fabs(gap->L), a = fabs(gap->a), b = fabs(gap->b);
    if (L >= a && L >= b) {
        add(list, gap->L > 0.0 ? HW_TOO_LIGHT : HW_TOO_DARK, L);
    } else if (a >= b) {
        add(list, gap->a > 0.0 ? HW_TOO_RED : HW_TOO_GREEN, a);
    } else {
        add(list, gap->b > 0.0 ? HW_TOO_YELLOW : HW_TOO_BLUE, b);
    }
}

size_t hw_directions_of(const hw_difference *gap, hw_direction out[HW_DIRECTIONS_MAX])
{
    found list = {0};
    if (gap->L >= 2.0) {
        add(&list, HW_TOO_LIGHT, gap->L);
    } else if (gap->L <= -1.5) {
        add(&list, HW_TOO_DARK, -gap->L);
    }
    add_cast(&list, gap->a, gap->b);
    if (gap->C <= -2.0) {
        add(&list, HW_TOO_DULL, -gap->C);
    } else if (gap->C >= 2.0) {
        add(&list, HW_TOO_STRONG, gap->C);
    }
    if (list.count == 0 && gap->de00 > 1.0) {
        add_largest(&list, gap);
    }
    size_t count = list.count < HW_DIRECTIONS_MAX ? list.count : HW_DIRECTIONS_MAX;
    for (size_t i = 0; i < count; i++) {
        out[i] = list.direction[i];
    }
    return count;
}
