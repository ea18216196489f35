// report_marks.c: a picture in a drawing, small, as JPEG inside the file so that it shows the same wherever that is
// moved; and marks drawn in.
//
// What a mark is told by: its name beside it, and how its line is drawn (old wood whole, a repair in long dashes, references in
// dots). Dark on light twice, so that it shows on any wood.
#include "report_internal.h"

#include <math.h>

const char hw_draw_marks_told[] =
    "Whole line: old wood. Dashes: repair. Dots: card and other references.";

static const size_t longer_px = 1000; // of the photo inside (chosen)
static const hw_letters of_names = {HW_DRAWING_SMALL, true, NULL};

// ---- The picture -------------------------------------------------------------------

static hw_status add_picture(hw_drawing *drawing, hw_area area, const hw_shown *shown,
                             hw_error *err)
{
    hw_text jpeg = {0};
    hw_status status = hw_report_jpeg(shown->rgb, shown->width, shown->height, &jpeg, err);
    if (status == HW_OK) {
        hw_text_add(&drawing->body,
                    "<image x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" "
                    "preserveAspectRatio=\"none\" xlink:href=\"data:image/jpeg;base64,",
                    area.x, area.y, area.width, area.height);
        hw_text_add_base64(&drawing->body, jpeg.bytes, jpeg.length);
        hw_text_add(&drawing->body, "\"/>\n");
    }
    hw_text_free(&jpeg);
    return status;
}

double hw_draw_height(const hw_shown *shown, double width)
{
    return shown->width > 0 ? width * (double)shown->height / (double)shown->width : 0.0;
}

// ---- Marks -------------------------------------------------------------------------

// From photo pixels to the drawing.
typedef struct placing {
    double left, top, scale_x, scale_y;
    hw_area area;
    hw_area taken[128]; // by names
    size_t taken_count;
} placing;

static placing place_of(const hw_shown *shown, hw_area area)
{
    const hw_frame *frame = &shown->frame;
    bool whole = frame->width == 0 || frame->height == 0;
    double width = whole ? (double)shown->width * shown->scale : (double)frame->width;
    double height = whole ? (double)shown->height * shown->scale : (double)frame->height;
    return (placing){.left = whole ? 0.0 : (double)frame->x,
                     .top = whole ? 0.0 : (double)frame->y,
                     .scale_x = width > 0.0 ? area.width / width : 0.0,
                     .scale_y = height > 0.0 ? area.height / height : 0.0,
                     .area = area};
}

static double across(const placing *place, double x)
{
    return place->area.x + (x - place->left) * place->scale_x;
}

static double down(const placing *place, double y)
{
    return place->area.y + (y - place->top) * place->scale_y;
}

static hw_area box_of(const placing *place, const hw_mark *mark)
{
    double left = 1e9, top = 1e9, right = -1e9, foot = -1e9;
    for (size_t i = 0; i < mark->point_count; i++) {
        double x = across(place, mark->points[i].x), y = down(place, mark->points[i].y);
        left = fmin(left, x), right = fmax(right, x);
        top = fmin(top, y), foot = fmax(foot, y);
    }
    return (hw_area){left, top, right - left, foot - top};
}

static bool meet(hw_area one, hw_area other)
{
    return one.x < other.x + other.width && other.x < one.x + one.width &&
           one.y < other.y + other.height && other.y < one.y + one.height;
}

static void add_outline(hw_drawing *drawing, const placing *place, const hw_mark *mark)
{
    const char *dashes = !hw_role_is_wood(mark->role)  ? " stroke-dasharray=\"1.5 2.5\""
                         : mark->role == HW_ROLE_PATCH ? " stroke-dasharray=\"7 4\""
                                                       : "";
    for (int over = 0; over < 2; over++) {
        hw_text_add(&drawing->body,
                    "<polygon fill=\"none\" stroke=\"%s\" stroke-width=\"%s\"%s points=\"",
                    over ? hw_draw_paper : hw_draw_ink, over ? "1.4" : "3", over ? dashes : "");
        for (size_t i = 0; i < mark->point_count; i++) {
            double x = across(place, mark->points[i].x), y = down(place, mark->points[i].y);
            hw_text_add(&drawing->body, "%s%.1f,%.1f", i ? " " : "", isfinite(x) ? x : 0.0,
                        isfinite(y) ? y : 0.0);
        }
        hw_text_add(&drawing->body, "\"/>\n");
    }
}

// The name as long as half of the picture takes.
static void short_name(const char *name, double room, char *out, size_t size)
{
    hw_report_clean(out, size - 4, name);
    if (hw_draw_width(out, of_names) <= room) {
        return;
    }
    size_t length = strlen(out);
    while (length > 0 && hw_draw_width(out, of_names) + of_names.size > room) {
        do {
            length--;
        } while (length > 0 && ((unsigned char)out[length] & 0xc0) == 0x80);
        out[length] = 0;
    }
    memcpy(out + length, "\xe2\x80\xa6", 4); // "…"
}

static bool is_taken(const placing *place, hw_area label)
{
    for (size_t i = 0; i < place->taken_count; i++) {
        if (meet(label, place->taken[i])) {
            return true;
        }
    }
    return false;
}

// In the middle of its mark, or below, above, beside it where that place is taken by another name; within the picture. A
// repair that the name would cover is looked at, so its name stands outside if it can.
static hw_area place_of_name(const placing *place, const hw_mark *mark, hw_area box, double width)
{
    enum { PLACES = 5 };
    const double height = of_names.size * 1.15;
    double middle_x = box.x + (box.width - width) / 2.0,
           middle_y = box.y + (box.height - height) / 2.0;
    const double x[PLACES] = {middle_x, middle_x, middle_x, box.x + box.width + 2.0,
                              box.x - width - 2.0};
    const double y[PLACES] = {middle_y, box.y + box.height + 2.0, box.y - height - 2.0, middle_y,
                              middle_y};
    bool covered = width > 0.6 * box.width || height > 0.3 * box.height;
    size_t start = mark->role == HW_ROLE_PATCH && covered ? 1 : 0;
    hw_area first = {0};
    for (size_t k = 0; k < PLACES; k++) {
        size_t i = (start + k) % PLACES;
        const hw_area *all = &place->area;
        hw_area label = {fmax(all->x + 2.0, fmin(x[i], all->x + all->width - width - 2.0)),
                         fmax(all->y + 1.0, fmin(y[i], all->y + all->height - height - 3.0)), width,
                         height};
        if (!is_taken(place, label)) {
            return label;
        }
        first = k == 0 ? label : first;
    }
    return first;
}

static void add_name(hw_drawing *drawing, placing *place, const hw_mark *mark)
{
    char name[4 * HW_NAME_SIZE];
    hw_area box = box_of(place, mark);
    if (!meet(box, place->area)) {
        return;
    }
    short_name(mark->name, fmax(place->area.width / 2.0, 40.0), name, sizeof name);
    double width = hw_draw_width(name, of_names);
    if (mark->role == HW_ROLE_CHART && width > box.width) {
        return; // 24 names over each other tell less than none
    }
    hw_area label = place_of_name(place, mark, box, width);
    hw_draw_rimmed(drawing, label.x + width / 2.0, label.y + of_names.size, HW_SIDE_MIDDLE,
                   of_names, name);
    if (place->taken_count < sizeof place->taken / sizeof *place->taken) {
        place->taken[place->taken_count++] = label;
    }
}

hw_status hw_draw_shown(hw_drawing *drawing, hw_area area, const hw_shown *shown,
                        const hw_marks *marks, hw_error *err)
{
    if (!shown->rgb || shown->width == 0 || shown->height == 0) {
        return HW_OK; // nothing to show
    }
    hw_text_add(&drawing->body,
                "<svg x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" "
                "viewBox=\"%.1f %.1f %.1f %.1f\" overflow=\"hidden\">\n",
                area.x, area.y, area.width, area.height, area.x, area.y, area.width, area.height);
    hw_status status = add_picture(drawing, area, shown, err);
    placing place = place_of(shown, area);
    for (size_t i = 0; marks && status == HW_OK && i < marks->count; i++) {
        add_outline(drawing, &place, &marks->mark[i]);
    }
    for (size_t i = 0; marks && status == HW_OK && i < marks->count; i++) {
        add_name(drawing, &place, &marks->mark[i]);
    }
    hw_text_add(&drawing->body, "</svg>\n");
    return status;
}

// ---- A photo -----------------------------------------------------------------------

hw_status hw_report_marks_svg(const hw_photo *photo, const hw_marks *marks, char **out,
                              hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    hw_photo_small small = {0};
    hw_status status = hw_photo_make_small(photo, longer_px, &small, err);
    if (status != HW_OK) {
        return status;
    }
    size_t count = 3 * small.width * small.height;
    hw_shown shown = {.width = small.width,
                      .height = small.height,
                      .frame = {0, 0, facts->width_px, facts->height_px},
                      .rgb = hw_alloc_array(count, 1)};
    for (size_t i = 0; shown.rgb && i < count; i++) {
        shown.rgb[i] = (uint8_t)(255.0f * small.code[i] + 0.5f);
    }
    hw_text words = {0};
    hw_text_add(&words, "Marks on %s", facts->file);
    status = shown.rgb && !words.failed ? hw_report_photo_svg(&shown, marks, words.bytes, out, err)
                                        : hw_fail_memory(err, "drawing the photo");
    hw_text_free(&words);
    hw_shown_free(&shown);
    hw_photo_small_free(&small);
    return status;
}
