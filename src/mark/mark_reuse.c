// mark_reuse.c: may the marks of an earlier photo be used in the next one as they lie?
//
// Only where nothing moved. The figure of the old wood is its own witness: ln Y less its blur (so
// that exposure, lamp and slow light do not count) is correlated, target by target, between the
// two photos. In simulation, pictures that lay alike gave 0.81 and more, others 0.48 and less; the
// cut is 0.65. The repair itself is not asked: it is meant to change. The card's area must be one
// even surface in the new photo, since a card is lifted more easily than a cabinet.
//
// Pictures are looked at 1600 pixels wide at most, each target by itself.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

static const double likeness_least = 0.65;
static const double look_width = 1600.0;     // pixels
static const double blur_deviation = 25.0;   // pixels of the look
static const double card_spread_most = 0.08; // of ln Y, from place to place (chosen)
static const double card_inner = 0.70;

// ---- A look at a part of a picture -------------------------------------------------

typedef struct look {
    size_t width, height;
    double *value; // ln Y, row by row
} look;

// Mean Y of squares of `step` pixels, as logarithm.
static bool take_look(const hw_photo *photo, hw_box box, size_t step, look *out)
{
    out->width = box.width / step;
    out->height = box.height / step;
    out->value = hw_alloc_array(out->width * out->height, sizeof *out->value);
    hw_xyz *row = hw_alloc_array(box.width, sizeof *row);
    if (!out->value || !row) {
        hw_free(row);
        return false;
    }
    for (size_t y = 0; y < out->height * step; y++) {
        hw_photo_xyz(photo, box.x, box.y + y, out->width * step, row);
        double *line = out->value + y / step * out->width;
        for (size_t x = 0; x < out->width * step; x++) {
            line[x / step] += row[x].Y;
        }
    }
    for (size_t i = 0; i < out->width * out->height; i++) {
        out->value[i] = log(fmax(out->value[i] / (double)(step * step), 1e-5));
    }
    hw_free(row);
    return true;
}

// Running mean over 2 radius + 1 values `step` apart; at the ends over those that are there.
static void box_mean(const double *from, double *to, size_t count, size_t step, size_t radius)
{
    double sum = 0.0;
    size_t low = 0, high = 0; // values low to high - 1 are in sum
    for (size_t i = 0; i < count; i++) {
        size_t end = i + radius + 1 < count ? i + radius + 1 : count;
        size_t start = i > radius ? i - radius : 0;
        for (; high < end; high++) {
            sum += from[high * step];
        }
        for (; low < start; low++) {
            sum -= from[low * step];
        }
        to[i * step] = sum / (double)(high - low);
    }
}

// Takes the blur out: three box means each way come near a Gaussian (variance of a box of n: (n^2
// - 1) / 12).
static bool high_pass(look *l)
{
    size_t count = l->width * l->height;
    size_t radius = (size_t)(0.5 * (sqrt(4.0 * blur_deviation * blur_deviation + 1.0) - 1.0) + 0.5);
    double *blur = hw_alloc_array(count, sizeof *blur),
           *other = hw_alloc_array(count, sizeof *other);
    bool good = blur && other;
    if (good) {
        memcpy(blur, l->value, count * sizeof *blur);
        for (int pass = 0; pass < 3; pass++) {
            for (size_t y = 0; y < l->height; y++) {
                box_mean(blur + y * l->width, other + y * l->width, l->width, 1, radius);
            }
            for (size_t x = 0; x < l->width; x++) {
                box_mean(other + x, blur + x, l->height, l->width, radius);
            }
        }
        for (size_t i = 0; i < count; i++) {
            l->value[i] -= blur[i];
        }
    }
    hw_free(blur);
    hw_free(other);
    return good;
}

static double correlation_of(const look *one, const look *other)
{
    double n = (double)(one->width * one->height), a = 0.0, b = 0.0, aa = 0.0, bb = 0.0, ab = 0.0;
    for (size_t i = 0; i < one->width * one->height; i++) {
        double x = one->value[i], y = other->value[i];
        a += x;
        b += y;
        aa += x * x;
        bb += y * y;
        ab += x * y;
    }
    double scale = sqrt(fmax(aa - a * a / n, 0.0) * fmax(bb - b * b / n, 0.0));
    return scale > 0.0 ? (ab - a * b / n) / scale : 0.0;
}

static hw_status likeness(const hw_mark *target, const hw_photo *earlier, const hw_photo *now,
                          size_t step, double *out, hw_error *err)
{
    look one = {0}, other = {0};
    hw_status status = HW_OK;
    hw_box box = hw_mark_box(target);
    if (box.width < step || box.height < step) {
        *out = 0.0;
        return HW_OK;
    }
    if (!take_look(earlier, box, step, &one) || !take_look(now, box, step, &other) ||
        !high_pass(&one) || !high_pass(&other)) {
        status = hw_fail_memory(err, "comparing the photo with the last one");
    } else {
        *out = correlation_of(&one, &other);
    }
    hw_free(one.value);
    hw_free(other.value);
    return status;
}

// ---- The card ----------------------------------------------------------------------

// Means of eight places a side: noise of single pixels does not count, a card moved half away does.
static hw_status card_is_flat(const hw_mark *card, const hw_photo *photo, bool *flat, hw_error *err)
{
    hw_mark inner = {0};
    look places = {0};
    hw_status status = hw_mark_shrink(card, card_inner, &inner, err);
    if (status != HW_OK) {
        return status;
    }
    hw_box box = hw_mark_box(&inner);
    hw_mark_free(&inner);
    size_t shorter = box.width < box.height ? box.width : box.height;
    if (!take_look(photo, box, shorter < 8 ? 1 : shorter / 8, &places)) {
        hw_free(places.value);
        return hw_fail_memory(err, "looking at the grey card");
    }
    double n = (double)(places.width * places.height), sum = 0.0, square = 0.0;
    for (size_t i = 0; i < places.width * places.height; i++) {
        sum += places.value[i];
        square += places.value[i] * places.value[i];
    }
    *flat = n > 0.0 && square / n - sum / n * (sum / n) <= card_spread_most * card_spread_most;
    hw_free(places.value);
    return HW_OK;
}

// ---- The answer --------------------------------------------------------------------

static hw_status moved(const hw_photo *now, hw_error *err, const char *why)
{
    return hw_fail(err, HW_ERR_CALL, "marks-moved", hw_photo_facts_of(now)->file,
                   "Give marks for this photo.", "%s", why);
}

hw_status hw_marks_reuse(const hw_marks *marks, const hw_photo *earlier, const hw_photo *now,
                         double *correlation, hw_error *err)
{
    const hw_photo_facts *then = hw_photo_facts_of(earlier), *facts = hw_photo_facts_of(now);
    *correlation = 0.0;
    if (then->width_px != facts->width_px || then->height_px != facts->height_px) {
        return moved(now, err,
                     "it has another size than the last photo of this view, so the marks "
                     "do not lie where they lay");
    }
    const hw_mark *card = hw_marks_find(marks, HW_ROLE_CARD, NULL);
    bool flat = true;
    hw_status status = card ? card_is_flat(card, now, &flat, err) : HW_OK;
    if (status != HW_OK) {
        return status;
    }
    if (!flat) {
        return moved(now, err, "the grey card does not lie where it lay in the last photo");
    }
    size_t step = (size_t)ceil((double)facts->width_px / look_width), targets = 0;
    double sum = 0.0;
    for (size_t i = 0; i < marks->count; i++) {
        double one = 0.0;
        if (marks->mark[i].role != HW_ROLE_TARGET) {
            continue;
        }
        status = likeness(&marks->mark[i], earlier, now, step, &one, err);
        if (status != HW_OK) {
            return status;
        }
        sum += one;
        targets++;
    }
    *correlation = targets ? sum / (double)targets : 0.0;
    if (targets == 0) {
        return moved(now, err,
                     "no old wood is marked in the last photo of this view that would show whether "
                     "anything moved");
    }
    if (*correlation < likeness_least) {
        char why[160];
        hw_format_text(why, sizeof why,
                       "the old wood does not lie where it lay in the last photo (likeness %.2f, "
                       "needs %.2f)",
                       *correlation, likeness_least);
        return moved(now, err, why);
    }
    return HW_OK;
}
