// report_marks.c: a photo with its marks drawn in, as one SVG file (SVG 1.1, W3C) that any browser shows: the photo
// small, inside it as JPEG, so that the file shows the same wherever it is moved.
//
// What a mark is told by: its name beside it, and how its line is drawn (old wood whole, a repair in long dashes, references in
// dots). Dark on light twice, so that it shows on any wood.
#include "report_internal.h"

static const size_t longer_px = 1000; // of the photo inside (chosen)

static void add_name(hw_text *text, const char *name)
{
    char clean[4 * HW_NAME_SIZE];
    hw_report_clean(clean, sizeof clean, name);
    for (const char *at = clean; *at; at++) {
        const char *entity = *at == '<'   ? "&lt;"
                             : *at == '>' ? "&gt;"
                             : *at == '&' ? "&amp;"
                                          : NULL;
        if (entity) {
            hw_text_add(text, "%s", entity);
        } else {
            hw_text_add_bytes(text, at, 1);
        }
    }
}

static hw_status add_photo(hw_text *text, const hw_photo *photo, hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    hw_photo_small small = {0};
    hw_text jpeg = {0};
    hw_status status = hw_photo_make_small(photo, longer_px, &small, err);
    if (status != HW_OK) {
        return status;
    }
    size_t count = 3 * small.width * small.height;
    uint8_t *rgb = hw_alloc_array(count, 1);
    for (size_t i = 0; rgb && i < count; i++) {
        rgb[i] = (uint8_t)(255.0f * small.code[i] + 0.5f);
    }
    status = rgb ? hw_report_jpeg(rgb, small.width, small.height, &jpeg, err)
                 : hw_fail_memory(err, "drawing the photo");
    if (status == HW_OK) {
        hw_text_add(text,
                    "<image width=\"%zu\" height=\"%zu\" preserveAspectRatio=\"none\" "
                    "xlink:href=\"data:image/jpeg;base64,",
                    facts->width_px, facts->height_px);
        hw_text_add_base64(text, jpeg.bytes, jpeg.length);
        hw_text_add(text, "\"/>\n");
    }
    hw_free(rgb);
    hw_text_free(&jpeg);
    hw_photo_small_free(&small);
    return status;
}

static void add_outline(hw_text *text, const hw_mark *mark, const char *class)
{
    hw_text_add(text, "<polygon class=\"%s\" points=\"", class);
    for (size_t i = 0; i < mark->point_count; i++) {
        hw_text_add(text, "%s%.1f,%.1f", i ? " " : "", mark->points[i].x, mark->points[i].y);
    }
    hw_text_add(text, "\"/>\n");
}

static void add_mark(hw_text *text, const hw_mark *mark)
{
    hw_point middle = hw_mark_centre(mark);
    add_outline(text, mark, "under");
    add_outline(text, mark, hw_role_is_wood(mark->role) ? hw_role_name(mark->role) : "reference");
    hw_text_add(text, "<text x=\"%.1f\" y=\"%.1f\">", middle.x, middle.y);
    add_name(text, mark->name);
    hw_text_add(text, "</text>\n");
}

hw_status hw_report_marks_svg(const hw_photo *photo, const hw_marks *marks, char **out,
                              hw_error *err)
{
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    size_t longer = facts->width_px > facts->height_px ? facts->width_px : facts->height_px;
    double line = (double)longer / 400.0; // pixels; as wide on any screen
    hw_text text = {0};
    hw_text_add(&text,
                "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                "<svg xmlns=\"http://www.w3.org/2000/svg\" "
                "xmlns:xlink=\"http://www.w3.org/1999/xlink\" version=\"1.1\" width=\"100%%\" "
                "viewBox=\"0 0 %zu %zu\">\n<title>Marks on ",
                facts->width_px, facts->height_px);
    add_name(&text, facts->file);
    hw_text_add(&text,
                "</title>\n<style>polygon{fill:none;stroke:#fff;stroke-width:%.1f}"
                ".under{stroke:#000;stroke-width:%.1f}"
                ".patch{stroke-dasharray:%.1f %.1f}.reference{stroke-dasharray:%.1f %.1f}"
                "text{font:bold %.0fpx sans-serif;text-anchor:middle;dominant-baseline:central;"
                "fill:#fff;stroke:#000;stroke-width:%.1f;paint-order:stroke}</style>\n",
                line, 2.0 * line, 6.0 * line, 3.0 * line, line, line, 8.0 * line, 1.5 * line);
    hw_status status = add_photo(&text, photo, err);
    for (size_t i = 0; i < marks->count && status == HW_OK; i++) {
        add_mark(&text, &marks->mark[i]);
    }
    hw_text_add(&text, "</svg>\n");
    if (status != HW_OK) {
        hw_text_free(&text);
        return status;
    }
    return hw_report_finish(&text, out, err);
}
