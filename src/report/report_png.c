// report_png.c: an SVG file as PNG, by librsvg and cairo; the only file that knows them. Built without HW_PNG it refuses.
#ifdef HW_PNG
#include <librsvg/rsvg.h> // before the banned calls, which its headers make
#include <math.h>
#endif

#include "report_internal.h"

static const double pixels_most = 40e6; // chosen: a sheet of paper at 600 dots an inch

#ifdef HW_PNG

static hw_status refuse(hw_error *err, const char *why)
{
    return hw_fail(err, HW_ERR_INPUT, "png-svg", "the drawing", "Keep it as SVG.",
                   "it cannot be drawn as PNG: %s", why);
}

static cairo_status_t take_bytes(void *to, const unsigned char *bytes, unsigned int count)
{
    hw_text *text = to;
    hw_text_add_bytes(text, bytes, count);
    return text->failed ? CAIRO_STATUS_WRITE_ERROR : CAIRO_STATUS_SUCCESS;
}

static hw_status out_of_memory(hw_error *err)
{
    return hw_fail_memory(err, "drawing the PNG file");
}

// White below everything: what is transparent would be black in print.
static hw_status draw(RsvgHandle *handle, cairo_surface_t *surface, double width, double height,
                      hw_error *err)
{
    const RsvgRectangle page = {0.0, 0.0, width, height};
    GError *wrong = NULL;
    cairo_t *pen = cairo_create(surface);
    cairo_set_source_rgb(pen, 1.0, 1.0, 1.0);
    cairo_paint(pen);
    bool good = rsvg_handle_render_document(handle, pen, &page, &wrong);
    bool memory = cairo_status(pen) == CAIRO_STATUS_NO_MEMORY;
    cairo_destroy(pen);
    hw_status status = good     ? HW_OK
                       : memory ? out_of_memory(err)
                                : refuse(err, wrong ? wrong->message : "it is damaged");
    g_clear_error(&wrong);
    return status;
}

static hw_status paint(RsvgHandle *handle, size_t width_px, double shape, hw_text *png,
                       hw_error *err)
{
    double height = ceil((double)width_px * shape);
    if (!(height >= 1.0) || (double)width_px * height > pixels_most || height > 32000.0 ||
        width_px > 32000) {
        return hw_fail(err, HW_ERR_CALL, "png-size", "the drawing", "Ask for fewer pixels across.",
                       "as PNG it would be %zu x %.0f pixels, more than %.0f million", width_px,
                       height, pixels_most / 1e6);
    }
    cairo_surface_t *surface =
        cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)width_px, (int)height);
    hw_status status = cairo_surface_status(surface) == CAIRO_STATUS_SUCCESS
                           ? draw(handle, surface, (double)width_px, (double)width_px * shape, err)
                           : out_of_memory(err);
    if (status == HW_OK &&
        cairo_surface_write_to_png_stream(surface, take_bytes, png) != CAIRO_STATUS_SUCCESS) {
        status = out_of_memory(err);
    }
    cairo_surface_destroy(surface);
    return status;
}

hw_status hw_report_png(const char *svg, size_t width_px, char **bytes, size_t *count,
                        hw_error *err)
{
    GError *wrong = NULL;
    hw_text png = {0};
    // Unlimited: a picture inside is longer than the parser takes from strangers. Without a base address it reads no file.
    GInputStream *stream = g_memory_input_stream_new_from_data(svg, (gssize)strlen(svg), NULL);
    RsvgHandle *handle =
        rsvg_handle_new_from_stream_sync(stream, NULL, RSVG_HANDLE_FLAG_UNLIMITED, NULL, &wrong);
    g_object_unref(stream);
    if (!handle) {
        hw_status status = refuse(err, wrong ? wrong->message : "it is damaged");
        g_clear_error(&wrong);
        return status;
    }
    gboolean has_box = FALSE;
    RsvgRectangle box = {0};
    rsvg_handle_get_intrinsic_dimensions(handle, NULL, NULL, NULL, NULL, &has_box, &box);
    hw_status status = has_box && box.width > 0.0 && box.height > 0.0
                           ? paint(handle, width_px, box.height / box.width, &png, err)
                           : refuse(err, "it does not say how large it is");
    g_object_unref(handle);
    if (status == HW_OK) {
        *count = png.length;
        *bytes = png.bytes;
        return HW_OK;
    }
    hw_text_free(&png);
    return status;
}

bool hw_report_has_png(void)
{
    return true;
}

#else

bool hw_report_has_png(void)
{
    return false;
}

hw_status hw_report_png(const char *svg, size_t width_px, char **bytes, size_t *count,
                        hw_error *err)
{
    (void)svg, (void)width_px, (void)bytes, (void)count, (void)pixels_most;
    return hw_fail(err, HW_ERR_INPUT, "png-not-built-in", "PNG",
                   "Keep the SVG file: every browser shows and prints it.",
                   "this program was built without the library that draws PNG (librsvg)");
}

#endif
