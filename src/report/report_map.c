// report_map.c: how far each place is off the old wood, as patterns over the greyed picture.
//
// No colour: what is larger is drawn denser, and lines lean to the right ("/") where it is lighter, to the left ("\") where it is
// darker, and lie level where it is about as light and another hue. Where a place is within 1 it is only bright; what is over 12
// off is hardly this wood and stays a plain dark picture; what lies off the piece, beyond the hull of the marked wood and a
// little around it, is not judged and stays pale. The limits are those of hw_size_words (compare_words.c).
//
// The patterns are painted into the pixels, so that a page or a printer cannot scale them away: a spot is a ninetieth of the
// width, and has one pattern, by the mean of what its pixels are off.
#include "report_internal.h"

#include <math.h>
#include <stdlib.h>

static const double margin = 8.0;
static const hw_letters small = {HW_DRAWING_SMALL, false, hw_draw_soft};

static const double hardly_this_wood = 12.0; // CIEDE2000; chosen
static const double level_share =
    0.5; // lightness less than this share of the difference: another hue (chosen)
static const size_t least_width = 720; // pixels: two a phone's pixel
static const size_t most_side = 4000;  // pixels that enlarging may lead to (chosen)
static const double spots_across = 90.0;

// ---- Bands ---------------------------------------------------------------------------

typedef struct band {
    double most;        // CIEDE2000
    double step, thick; // units of a drawing that is HW_DRAWING_WIDTH wide; step 0: no lines
    double dash;        // as much of every 8 units of a line
    double ink;         // its grey, 0 to 255
    const char *words;
} band;

static const band bands[] = {
    {1.0, 0.0, 0.0, 0.0, 0.0, "to 1: very close"},
    {2.0, 10.0, 0.9, 2.0, 90.0, "1 to 2: close"},
    {4.0, 7.0, 1.3, 8.0, 0.0, "2 to 4: visible side by side"},
    {6.0, 4.5, 1.5, 8.0, 0.0, "4 to 6: clear difference"},
    {12.0, 4.0, 2.5, 8.0, 0.0, "6 to 12: a different colour"},
};
// Beyond the bands: plain, dark what is hardly this wood, pale what is not judged.
enum { BANDS = sizeof bands / sizeof *bands, OFF_PIECE, FIELDS };

typedef enum lean {
    LEVEL = 0,
    LIGHTER, // "/"
    DARKER,  // "\"
} lean;

// BANDS: it stays plain.
static size_t band_of(double de00)
{
    size_t i = 0;
    while (i < BANDS && !(de00 <= bands[i].most)) {
        i++;
    }
    return i;
}

static lean lean_of(double de00, double lighter)
{
    if (!(fabs(lighter) >= level_share * de00)) {
        return LEVEL;
    }
    return lighter > 0.0 ? LIGHTER : DARKER;
}

// Does a line of the pattern cover this place (units)?
static bool is_inked(const band *pattern, lean way, double x, double y)
{
    if (pattern->step <= 0.0) {
        return false;
    }
    const double root = sqrt(0.5);
    double across = way == LIGHTER ? (x + y) * root : way == DARKER ? (x - y) * root : y;
    double along = way == LIGHTER ? (x - y) * root : way == DARKER ? (x + y) * root : x;
    across += 0.5 * pattern->step; // no line along the upper edge of a legend's field
    double line = floor(across / pattern->step);
    if (across - line * pattern->step >= pattern->thick) {
        return false;
    }
    return fmod(fabs(along + 4.0 * line), 8.0) <= pattern->dash;
}

// The grey of one place: ink, the bright picture under a pattern, the dark plain one.
static uint8_t painted(size_t which, lean way, double x, double y, double grey)
{
    const double least_light = 150.0;
    if (which >= BANDS) {
        return (uint8_t)lround(which == OFF_PIECE ? 215.0 + 0.15 * grey : 20.0 + 0.42 * grey);
    }
    return (uint8_t)lround(is_inked(&bands[which], way, x, y)
                               ? bands[which].ink
                               : least_light + (255.0 - least_light) * grey / 255.0);
}

// ---- The piece -----------------------------------------------------------------------

// The convex hull of the corners of all marked wood, photo pixels; none where no wood is marked.
typedef struct hull {
    hw_point *at; // owned
    size_t count;
} hull;

static int by_place(const void *one, const void *other)
{
    const hw_point *a = one, *b = other;
    return a->x < b->x ? -1 : a->x > b->x ? 1 : a->y < b->y ? -1 : a->y > b->y;
}

static double turn(hw_point a, hw_point b, hw_point c)
{
    return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

// Returns how many; `out` NULL: counts them only.
static size_t wood_corners(const hw_marks *marks, hw_point *out)
{
    size_t count = 0;
    for (size_t i = 0; marks && i < marks->count; i++) {
        const hw_mark *mark = &marks->mark[i];
        for (size_t k = 0; hw_role_is_wood(mark->role) && k < mark->point_count; k++) {
            hw_point corner = mark->points[k];
            if (isfinite(corner.x) && isfinite(corner.y)) {
                if (out) {
                    out[count] = corner;
                }
                count++;
            }
        }
    }
    return count;
}

// Andrew 1979, monotone chain: lower, then upper half, of corners by place. `out` has room for twice as many.
static size_t chain(const hw_point *corner, size_t count, hw_point *out)
{
    size_t used = 0;
    for (int half = 0; half < 2; half++) {
        size_t start = used;
        for (size_t i = 0; i < count; i++) {
            hw_point next = corner[half == 0 ? i : count - 1 - i];
            while (used >= start + 2 && turn(out[used - 2], out[used - 1], next) <= 0.0) {
                used--;
            }
            out[used++] = next;
        }
        used--; // it begins the other half
    }
    return used;
}

// Free out->at with hw_free.
static hw_status make_hull(const hw_marks *marks, hull *out, hw_error *err)
{
    size_t count = wood_corners(marks, NULL);
    *out = (hull){0};
    if (count < 3) {
        return HW_OK;
    }
    hw_point *corner = hw_alloc_array(count, sizeof *corner);
    out->at = hw_alloc_array(2 * count, sizeof *out->at);
    if (!corner || !out->at) {
        hw_free(corner);
        return hw_fail_memory(err, "drawing the map");
    }
    wood_corners(marks, corner);
    qsort(corner, count, sizeof *corner, by_place);
    out->count = chain(corner, count, out->at);
    hw_free(corner);
    return HW_OK;
}

// Within the hull, or no further off a side of it than `around`.
static bool on_piece(const hull *piece, hw_point p, double around)
{
    for (size_t i = 0; i < piece->count; i++) {
        hw_point a = piece->at[i], b = piece->at[(i + 1) % piece->count];
        double length = hypot(b.x - a.x, b.y - a.y);
        if (length > 0.0 && turn(a, b, p) < -around * length) {
            return false;
        }
    }
    return true;
}

// ---- The picture ---------------------------------------------------------------------

// Of one spot.
typedef struct spot {
    size_t band;
    lean way;
} spot;

typedef struct grid {
    size_t across, down;
    double side; // map pixels
    spot *spot;
} grid;

static spot spot_of(const hw_map *map, size_t left, size_t top, size_t right, size_t foot)
{
    double de00 = 0.0, lighter = 0.0, count = 0.0;
    for (size_t y = top; y < foot && y < map->height; y++) {
        for (size_t x = left; x < right && x < map->width; x++) {
            de00 += (double)map->de00[y * map->width + x];
            lighter += (double)map->lighter[y * map->width + x];
            count += 1.0;
        }
    }
    de00 = count > 0.0 ? de00 / count : (double)NAN;
    lighter = count > 0.0 ? lighter / count : (double)NAN;
    return (spot){de00 <= hardly_this_wood ? band_of(de00) : BANDS, lean_of(de00, lighter)};
}

static hw_status make_grid(const hw_map *map, const hull *piece, grid *out, hw_error *err)
{
    const double around = 0.02 * (double)(map->width > map->height ? map->width : map->height);
    double side = fmax((double)map->width / spots_across, 1.0);
    *out = (grid){(size_t)ceil((double)map->width / side), (size_t)ceil((double)map->height / side),
                  side, NULL};
    out->spot = hw_alloc_array(out->across * out->down, sizeof *out->spot);
    if (!out->spot) {
        return hw_fail_memory(err, "drawing the map");
    }
    for (size_t j = 0; j < out->down; j++) {
        for (size_t i = 0; i < out->across; i++) {
            size_t left = (size_t)((double)i * side), top = (size_t)((double)j * side);
            size_t right = (size_t)((double)(i + 1) * side),
                   foot = (size_t)((double)(j + 1) * side);
            spot *one = &out->spot[j * out->across + i];
            *one = spot_of(map, left, top, right > left ? right : left + 1,
                           foot > top ? foot : top + 1);
            hw_point middle = {(double)map->frame.x + ((double)i + 0.5) * side * map->scale,
                               (double)map->frame.y + ((double)j + 0.5) * side * map->scale};
            if (!on_piece(piece, middle, around * map->scale)) {
                one->band = OFF_PIECE;
            }
        }
    }
    return HW_OK;
}

// Luma of sRGB codes (ITU-R BT.709): enough to show where one is.
static double grey_of(const uint8_t *rgb)
{
    return 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2];
}

// A narrow map is enlarged so that patterns have room; not where that makes it too long.
static size_t times_larger(const hw_map *map)
{
    size_t longest = map->width > map->height ? map->width : map->height;
    size_t wanted = map->width < least_width ? (least_width + map->width - 1) / map->width : 1;
    size_t room = most_side / longest;
    return wanted <= room ? wanted : room > 1 ? room : 1;
}

static hw_status paint_map(const hw_map *map, const hw_shown *picture, const hull *piece,
                           hw_shown *out, hw_error *err)
{
    grid spots = {0};
    size_t times = times_larger(map);
    *out = (hw_shown){.width = map->width * times,
                      .height = map->height * times,
                      .frame = map->frame,
                      .scale = map->scale / (double)times};
    hw_status status = make_grid(map, piece, &spots, err);
    out->rgb = status == HW_OK ? hw_alloc_array(out->width * out->height, 3) : NULL;
    if (status == HW_OK && !out->rgb) {
        status = hw_fail_memory(err, "drawing the map");
    }
    double unit = HW_DRAWING_WIDTH / (double)out->width;
    for (size_t y = 0; status == HW_OK && y < out->height; y++) {
        size_t from_y = y / times, j = (size_t)((double)from_y / spots.side);
        for (size_t x = 0; x < out->width; x++) {
            size_t from_x = x / times, i = (size_t)((double)from_x / spots.side);
            const spot *at = &spots.spot[(j < spots.down ? j : spots.down - 1) * spots.across +
                                         (i < spots.across ? i : spots.across - 1)];
            double grey = grey_of(picture->rgb + 3 * (from_y * map->width + from_x));
            memset(out->rgb + 3 * (y * out->width + x),
                   painted(at->band, at->way, (double)x * unit, (double)y * unit, grey), 3);
        }
    }
    hw_free(spots.spot);
    return status;
}

// ---- The legend ----------------------------------------------------------------------

// The pattern of a band on wood of a middle grey, as in the picture. Both ways beside each other.
static hw_status draw_sample(hw_drawing *drawing, double x, double y, size_t which, lean way,
                             hw_error *err)
{
    enum { WIDE = 60, HIGH = 36 }; // pixels, two a unit
    const double wood = 140.0;
    uint8_t rgb[WIDE * HIGH * 3];
    for (size_t j = 0; j < HIGH; j++) {
        for (size_t i = 0; i < WIDE; i++) {
            memset(rgb + 3 * (j * WIDE + i),
                   painted(which, way, (double)i / 2.0, (double)j / 2.0, wood), 3);
        }
    }
    hw_shown sample = {.width = WIDE, .height = HIGH, .scale = 1.0, .rgb = rgb};
    hw_area area = {x, y, WIDE / 2.0, HIGH / 2.0};
    hw_status status = hw_draw_shown(drawing, area, &sample, NULL, err);
    hw_draw_rect(drawing, area, NULL, hw_draw_soft);
    return status;
}

static hw_status draw_legend(hw_drawing *drawing, hw_error *err)
{
    const double column = 52.0, row = 23.0;
    static const char *const heads[] = {"as light", "lighter", "darker"};
    static const lean ways[] = {LIGHTER, DARKER, LEVEL};
    hw_status status = HW_OK;
    drawing->y += 2.0;
    for (size_t k = 0; k < 3; k++) {
        hw_draw_line_of(drawing, margin + column * ((double)k + 0.5), drawing->y + 12.0,
                        HW_SIDE_MIDDLE, small, heads[ways[k]]);
    }
    drawing->y += 18.0;
    for (size_t i = 0; i < FIELDS && status == HW_OK; i++) {
        bool one_way = i >= BANDS || bands[i].step <= 0.0;
        for (size_t k = 0; k < (one_way ? 1u : 3u) && status == HW_OK; k++) {
            status = draw_sample(drawing, margin + column * (double)k + 13.0, drawing->y, i,
                                 ways[k], err);
        }
        hw_draw_line_of(drawing, margin + 3.0 * column + 4.0, drawing->y + 13.5, HW_SIDE_START,
                        (hw_letters){HW_DRAWING_PLAIN, false, NULL},
                        i < BANDS    ? bands[i].words
                        : i == BANDS ? "over 12: hardly this wood"
                                     : "not judged");
        drawing->y += row;
    }
    return status;
}

// ---- The drawing ---------------------------------------------------------------------

static void add_distance(hw_text *text, const hw_map_told *told)
{
    if (isfinite(told->distance_mm) && told->distance_mm > 0.0) {
        hw_text_add(text, "What the eye mixes from %.1f m away is mixed.",
                    told->distance_mm / 1000.0);
    } else {
        hw_text_add(text, "Point by point, nothing mixed%s%s.",
                    told->why_not && told->why_not[0] ? ": " : "",
                    told->why_not ? told->why_not : "");
    }
    if (isfinite(told->spread)) {
        hw_text_add(text, " The old wood itself differs by %.1f from piece to piece.",
                    told->spread);
    }
}

static bool fits(const hw_map_told *told)
{
    const hw_map *map = told->map;
    const hw_shown *picture = told->picture;
    return map && picture && map->de00 && map->lighter && picture->rgb && map->width > 0 &&
           map->height > 0 && map->width == picture->width && map->height == picture->height;
}

hw_status hw_report_map_svg(const hw_map_told *told, char **out, hw_error *err)
{
    static const char title[] = "How far each place is off the old wood";
    hw_drawing drawing = {0};
    hw_text words = {0};
    hw_shown painted_map = {0};
    if (!fits(told)) {
        return hw_fail(err, HW_ERR_CALL, "map-picture", "the difference map",
                       "Make map and picture from one hw_picture.",
                       "the map and the picture below it are not of one size");
    }
    add_distance(&words, told);
    hw_draw_heading(&drawing, title);
    hw_draw_paragraph(&drawing, hw_text_words(&words));
    hull piece;
    hw_status status = make_hull(told->marks, &piece, err);
    if (status == HW_OK) {
        status = paint_map(told->map, told->picture, &piece, &painted_map, err);
    }
    double height = hw_draw_height(&painted_map, HW_DRAWING_WIDTH);
    if (status == HW_OK) {
        status = hw_draw_shown(&drawing, (hw_area){0.0, drawing.y, HW_DRAWING_WIDTH, height},
                               &painted_map, told->marks, err);
    }
    drawing.y += height + 4.0;
    if (status == HW_OK) {
        status = draw_legend(&drawing, err);
    }
    if (told->marks && told->marks->count > 0) {
        hw_draw_words(&drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, small, hw_draw_marks_told);
    }
    hw_draw_words(
        &drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin, small,
        "Differences are CIEDE2000 from the old wood's mean. As light: it is another hue.");
    drawing.body.failed |= words.failed;
    if (status == HW_OK) {
        status = hw_draw_finish(&drawing, title, hw_text_words(&words), out, err);
    }
    hw_text_free(&drawing.body);
    hw_text_free(&words);
    hw_free(piece.at);
    hw_shown_free(&painted_map);
    return status;
}
