// card_pixels.c: the pixels of the card's inner part, thinned evenly, with what their code
// values say about clipping. Clipping is tested on code values, before any colour
// transform can hide it.
#include "card_internal.h"

#include <math.h>

void hw_card_pixels_free(hw_card_pixels *pixels)
{
    if (pixels) {
        hw_free(pixels->X); // one block for all five
        *pixels = (hw_card_pixels){0};
    }
}

static bool make_room(hw_card_pixels *pixels, size_t room)
{
    pixels->X = hw_alloc_array(room, 5 * sizeof(double));
    if (!pixels->X) {
        return false;
    }
    pixels->Y = pixels->X + room;
    pixels->Z = pixels->Y + room;
    pixels->x = pixels->Z + room;
    pixels->y = pixels->x + room;
    return true;
}

typedef struct tally {
    unsigned bottom, top;
    size_t at_bottom, at_top;
    double sum[3];
} tally;

static void count_codes(const uint16_t *rgb, tally *codes)
{
    bool high = false, low = false;
    for (int channel = 0; channel < 3; channel++) {
        high = high || rgb[channel] >= codes->top;
        low = low || rgb[channel] <= codes->bottom;
        codes->sum[channel] += rgb[channel];
    }
    codes->at_top += high;
    codes->at_bottom += low;
}

static void take_row(const hw_photo *photo, const hw_mark *inner, size_t y, size_t step,
                     hw_card_pixels *out, size_t room, tally *codes)
{
    hw_span spans[HW_SPANS_MOST];
    size_t count = hw_mark_spans(inner, y, spans, HW_SPANS_MOST);
    for (size_t i = 0; i < count; i++) {
        for (size_t x = spans[i].x; x < spans[i].x + spans[i].count && out->count < room;
             x += step) {
            uint16_t rgb[3];
            hw_xyz colour;
            hw_photo_codes_xyz(photo, x, y, 1, rgb, &colour);
            count_codes(rgb, codes);
            out->X[out->count] = colour.X;
            out->Y[out->count] = colour.Y;
            out->Z[out->count] = colour.Z;
            out->x[out->count] = (double)x + 0.5;
            out->y[out->count] = (double)y + 0.5;
            out->count++;
        }
    }
}

hw_status hw_card_gather(const hw_photo *photo, const hw_mark *card, double factor,
                         hw_card_pixels *out, hw_error *err)
{
    hw_mark inner = {0};
    hw_card_pixels pixels = {0};
    hw_status status = hw_mark_shrink(card, factor, &inner, err);
    if (status != HW_OK) {
        return status;
    }
    hw_box box = hw_mark_box(&inner);
    size_t step = 1;
    while ((box.width / step + 1) * (box.height / step + 1) > HW_CARD_PIXELS_MOST) {
        step++;
    }
    size_t room = (box.width / step + 2) * (box.height / step + 2);
    if (!make_room(&pixels, room)) {
        status = hw_fail_memory(err, "reading the grey card");
        goto done;
    }
    const hw_photo_facts *facts = hw_photo_facts_of(photo);
    double max_code = facts->max_code;
    tally codes = {.bottom = facts->clip_low, .top = facts->clip_high};
    for (size_t y = box.y; y < box.y + box.height; y += step) {
        take_row(photo, &inner, y, step, &pixels, room, &codes);
    }
    if (pixels.count > 0) {
        double n = (double)pixels.count;
        pixels.top_share = (double)codes.at_top / n;
        pixels.bottom_share = (double)codes.at_bottom / n;
        for (int channel = 0; channel < 3; channel++) {
            double mean = codes.sum[channel] / n / max_code * 255.0;
            pixels.mean_code += mean / 3.0;
            pixels.max_code = fmax(pixels.max_code, mean);
        }
    }
    *out = pixels;
    pixels = (hw_card_pixels){0};
done:
    hw_card_pixels_free(&pixels);
    hw_mark_free(&inner);
    return status;
}
