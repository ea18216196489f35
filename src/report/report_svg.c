// report_svg.c: what all drawings are made of, as SVG 1.1 (W3C Recommendation 16 August 2011, valid by its DTD).
//
// Attributes only, no style sheet, no ids: two drawings in one page cannot change each other. A part of a picture is cut off by an
// inner <svg>, which clips what it holds (section 14.3.3 of the standard).
#include "report_internal.h"

#include <math.h>

const char hw_draw_ink[] = "#1c1c1c", hw_draw_soft[] = "#5a5a5a", hw_draw_faint[] = "#a8a8a8",
           hw_draw_paper[] = "#ffffff";

static const double margin = 8.0;      // to both sides of words
static const double line_height = 1.3; // of the size of letters

static double known(double value)
{
    return isfinite(value) ? fmin(fmax(value, -1e5), 1e5) : 0.0;
}

// ---- Words -------------------------------------------------------------------------

static void add_outside(hw_text *text, const char *from)
{
    hw_text clean = {0};
    hw_report_add_clean(&clean, from);
    text->failed |= clean.failed;
    hw_report_add_escaped(text, hw_text_words(&clean), clean.length);
    hw_text_free(&clean);
}

// Hundredths of the letter size that ' ' to '~' take in DejaVu Sans (its hmtx table); others by their UTF-8 length.
static const unsigned char advance[95] = {
    32, 40, 46, 84, 64, 95, 78, 27, 39,  39, 50, 84, 32, 36, 32, 34, 64, 64, 64, 64, 64, 64, 64, 64,
    64, 64, 34, 34, 84, 84, 84, 53, 100, 68, 69, 70, 77, 63, 58, 77, 75, 29, 29, 66, 56, 86, 75, 79,
    60, 79, 69, 63, 61, 73, 68, 99, 69,  61, 69, 39, 34, 39, 84, 50, 50, 61, 63, 55, 63, 62, 35, 63,
    63, 28, 28, 58, 28, 97, 63, 61, 63,  63, 41, 52, 39, 63, 59, 82, 59, 59, 52, 64, 34, 64, 84};

static double character_width(const char *at, size_t length, hw_letters letters)
{
    unsigned char first = (unsigned char)*at;
    double share = length <= 1 ? (first >= ' ' && first <= '~' ? advance[first - ' '] / 100.0 : 0.6)
                   : length == 2 ? 0.85
                                 : 1.0;
    return share * letters.size * (letters.bold ? 1.14 : 1.0);
}

static size_t character(const char *at, size_t left)
{
    size_t length = hw_utf8_character(at, left);
    return length ? length : 1;
}

double hw_draw_width(const char *words, hw_letters letters)
{
    size_t left = strlen(words);
    double width = 0.0;
    while (left > 0) {
        size_t length = character(words, left);
        width += character_width(words, length, letters);
        words += length;
        left -= length;
    }
    return width;
}

static void add_text(hw_drawing *drawing, double x, double y, hw_side side, hw_letters letters,
                     const char *bytes, size_t count, bool rim)
{
    static const char *const anchor[] = {"", " text-anchor=\"middle\"", " text-anchor=\"end\""};
    hw_text_add(&drawing->body, "<text x=\"%.1f\" y=\"%.1f\" font-size=\"%.1f\"%s%s fill=\"%s\"",
                known(x), known(y), letters.size, anchor[side],
                letters.bold ? " font-weight=\"bold\"" : "",
                letters.colour ? letters.colour : hw_draw_ink);
    if (rim) {
        hw_text_add(&drawing->body,
                    " stroke=\"#ffffff\" stroke-width=\"3.6\" stroke-linejoin=\"round\"");
    }
    hw_text_add(&drawing->body, ">");
    hw_report_add_escaped(&drawing->body, bytes, count);
    hw_text_add(&drawing->body, "</text>\n");
}

static void draw_line(hw_drawing *drawing, double x, double y, hw_side side, hw_letters letters,
                      const char *words, bool rim)
{
    hw_text clean = {0};
    hw_report_add_clean(&clean, words);
    drawing->body.failed |= clean.failed;
    if (clean.length > 0 && rim) {
        add_text(drawing, x, y, side, letters, clean.bytes, clean.length, true);
    }
    if (clean.length > 0) {
        add_text(drawing, x, y, side, letters, clean.bytes, clean.length, false);
    }
    hw_text_free(&clean);
}

void hw_draw_line_of(hw_drawing *drawing, double x, double y, hw_side side, hw_letters letters,
                     const char *words)
{
    draw_line(drawing, x, y, side, letters, words, false);
}

void hw_draw_rimmed(hw_drawing *drawing, double x, double y, hw_side side, hw_letters letters,
                    const char *words)
{
    draw_line(drawing, x, y, side, letters, words, true);
}

// The bytes of the next line: up to the last space that fits, or cut within a word that is too long itself. At least
// one character. *skip: with the space behind it.
static size_t next_line(const char *at, size_t left, double width, hw_letters letters, size_t *skip)
{
    double filled = 0.0;
    size_t used = 0, space = 0;
    while (used < left) {
        size_t length = character(at + used, left - used);
        filled += character_width(at + used, length, letters);
        if (at[used] == ' ') {
            space = used;
        } else if (filled > width && used > 0) {
            *skip = space ? space + 1 : used;
            return space ? space : used;
        }
        used += length;
    }
    *skip = used;
    return used;
}

// Draws (or, where `drawing` is NULL, only measures) and returns how high it is.
static double wrap(hw_drawing *drawing, double x, double y, double width, hw_letters letters,
                   const char *words)
{
    hw_text clean = {0};
    hw_report_add_clean(&clean, words);
    double height = 0.0;
    for (size_t at = 0, skip = 0; at < clean.length; at += skip) {
        size_t count = next_line(clean.bytes + at, clean.length - at, width, letters, &skip);
        height += line_height * letters.size;
        if (drawing) {
            add_text(drawing, x, y + height - 0.3 * letters.size, HW_SIDE_START, letters,
                     clean.bytes + at, count, false);
        }
    }
    if (drawing) {
        drawing->body.failed |= clean.failed;
    }
    hw_text_free(&clean);
    return height;
}

void hw_draw_words(hw_drawing *drawing, double x, double width, hw_letters letters,
                   const char *words)
{
    drawing->y += wrap(drawing, x, drawing->y, width, letters, words);
}

double hw_draw_words_height(double width, hw_letters letters, const char *words)
{
    return wrap(NULL, 0.0, 0.0, width, letters, words);
}

void hw_draw_heading(hw_drawing *drawing, const char *words)
{
    drawing->y += 6.0;
    hw_draw_words(drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin,
                  (hw_letters){HW_DRAWING_LARGE, true, NULL}, words);
    drawing->y += 2.0;
}

void hw_draw_paragraph(hw_drawing *drawing, const char *words)
{
    hw_draw_words(drawing, margin, HW_DRAWING_WIDTH - 2.0 * margin,
                  (hw_letters){HW_DRAWING_PLAIN, false, NULL}, words);
    drawing->y += 4.0;
}

// ---- Lines and fields --------------------------------------------------------------

static void add_paint(hw_drawing *drawing, const char *fill, const char *stroke, double width)
{
    hw_text_add(&drawing->body, " fill=\"%s\"", fill ? fill : "none");
    if (stroke) {
        hw_text_add(&drawing->body, " stroke=\"%s\" stroke-width=\"%.1f\"", stroke, width);
    }
    hw_text_add(&drawing->body, "/>\n");
}

void hw_draw_rect(hw_drawing *drawing, hw_area area, const char *fill, const char *stroke)
{
    hw_text_add(&drawing->body, "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\"",
                known(area.x), known(area.y), fmax(known(area.width), 0.0),
                fmax(known(area.height), 0.0));
    add_paint(drawing, fill, stroke, 1.0);
}

const hw_lab hw_draw_grey = {50.0, 0.0, 0.0};

void hw_draw_fill(hw_drawing *drawing, hw_area area, hw_lab lab)
{
    int rgb[3];
    char colour[16];
    hw_report_codes(lab, rgb);
    hw_format_text(colour, sizeof colour, "#%02x%02x%02x", (unsigned)rgb[0], (unsigned)rgb[1],
                   (unsigned)rgb[2]);
    hw_draw_rect(drawing, area, colour, NULL);
}

void hw_draw_stroke(hw_drawing *drawing, double x1, double y1, double x2, double y2,
                    const char *colour, double width)
{
    hw_text_add(&drawing->body,
                "<line x1=\"%.1f\" y1=\"%.1f\" x2=\"%.1f\" y2=\"%.1f\" stroke=\"%s\" "
                "stroke-width=\"%.1f\"/>\n",
                known(x1), known(y1), known(x2), known(y2), colour, width);
}

void hw_draw_circle(hw_drawing *drawing, double x, double y, double radius, const char *fill,
                    const char *stroke)
{
    hw_text_add(&drawing->body, "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"%.1f\"", known(x), known(y),
                radius);
    add_paint(drawing, fill, stroke, 1.4);
}

void hw_draw_shape(hw_drawing *drawing, const double *corner, size_t corners, const char *fill,
                   const char *stroke, double width)
{
    hw_text_add(&drawing->body, "<polygon points=\"");
    for (size_t i = 0; i < corners; i++) {
        hw_text_add(&drawing->body, "%s%.1f,%.1f", i ? " " : "", known(corner[2 * i]),
                    known(corner[2 * i + 1]));
    }
    hw_text_add(&drawing->body, "\"");
    add_paint(drawing, fill, stroke, width);
}

// ---- Hatching ----------------------------------------------------------------------

static const double hatch_step = 6.0; // along x; lines where x + y is a multiple of it

static void start_hatch(hw_drawing *drawing)
{
    hw_text_add(&drawing->body, "<path fill=\"none\" stroke=\"%s\" stroke-width=\"0.9\" d=\"M0,0",
                hw_draw_soft);
}

static void add_hatch(hw_drawing *drawing, double x1, double y1, double x2, double y2)
{
    hw_text_add(&drawing->body, "M%.1f,%.1fL%.1f,%.1f", x1, y1, x2, y2);
}

void hw_draw_hatched(hw_drawing *drawing, hw_area area)
{
    double left = known(area.x), top = known(area.y), right = left + known(area.width),
           foot = top + known(area.height);
    if (!(right > left) || !(foot > top)) {
        return;
    }
    start_hatch(drawing);
    for (double sum = hatch_step * ceil((left + top) / hatch_step); sum < right + foot;
         sum += hatch_step) {
        double y1 = fmax(top, sum - right), y2 = fmin(foot, sum - left);
        add_hatch(drawing, sum - y1, y1, sum - y2, y2);
    }
    hw_text_add(&drawing->body, "\"/>\n");
    hw_draw_rect(drawing, area, NULL, hw_draw_soft);
}

// Where the line x + y = sum meets the ellipse: both roots of a quadratic in x.
void hw_draw_hatched_round(hw_drawing *drawing, double x, double y, double half_x, double half_y)
{
    double rx = fmin(fmax(known(half_x), 0.5), HW_DRAWING_WIDTH),
           ry = fmin(fmax(known(half_y), 0.5), HW_DRAWING_WIDTH);
    double cx = known(x), cy = known(y), reach = hypot(rx, ry);
    start_hatch(drawing);
    for (double sum = hatch_step * ceil((cx + cy - reach) / hatch_step); sum < cx + cy + reach;
         sum += hatch_step) {
        double k = sum - cx - cy, a = 1.0 / (rx * rx) + 1.0 / (ry * ry), b = k / (ry * ry);
        double root = b * b - a * (k * k / (ry * ry) - 1.0);
        if (root > 0.0) {
            double one = (b - sqrt(root)) / a, other = (b + sqrt(root)) / a;
            add_hatch(drawing, cx + one, cy + k - one, cx + other, cy + k - other);
        }
    }
    hw_text_add(&drawing->body, "\"/>\n<ellipse cx=\"%.1f\" cy=\"%.1f\" rx=\"%.1f\" ry=\"%.1f\"",
                cx, cy, rx, ry);
    add_paint(drawing, NULL, hw_draw_soft, 1.0);
}

// ---- The file ----------------------------------------------------------------------

hw_status hw_draw_finish(hw_drawing *drawing, const char *title, const char *desc, char **out,
                         hw_error *err)
{
    double height = ceil(drawing->y + 6.0);
    hw_text file = {0};
    hw_text_add(&file,
                "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                "<svg xmlns=\"http://www.w3.org/2000/svg\" "
                "xmlns:xlink=\"http://www.w3.org/1999/xlink\" version=\"1.1\" width=\"%.0f\" "
                "height=\"%.0f\" viewBox=\"0 0 %.0f %.0f\" font-family=\"sans-serif\">\n<title>",
                2.0 * HW_DRAWING_WIDTH, 2.0 * height, HW_DRAWING_WIDTH, height);
    add_outside(&file, title);
    hw_text_add(&file, "</title>\n<desc>");
    add_outside(&file, desc);
    hw_text_add(&file, "</desc>\n<rect width=\"%.0f\" height=\"%.0f\" fill=\"%s\"/>\n",
                HW_DRAWING_WIDTH, height, hw_draw_paper);
    hw_text_add_bytes(&file, hw_text_words(&drawing->body), drawing->body.length);
    hw_text_add(&file, "</svg>\n");
    file.failed |= drawing->body.failed;
    hw_text_free(&drawing->body);
    *drawing = (hw_drawing){0};
    return hw_report_finish(&file, out, err);
}
