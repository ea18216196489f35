// card_tone.c: the camera's tone curve and stray light, from two or more neutral steps.
//
// A curve through a few points says little between them, so a curve of few parameters is fitted
// first: contrast and lift of the encoded value, one flare, one factor a channel, by least squares of
// ln light with priors that a single card leaves as they are (Gauss and Newton; the doubt of the
// parameters is the inverse of the normal matrix). From five steps on, what is left over at them is
// taken out by a monotone cubic (card_cubic.c), one for all
// channels, and held constant beyond the end steps.
//
// Tried and left: the cubic alone through three steps of an S-shaped curve leaves twice the error of
// a difference.
#include "card_internal.h"

#include <math.h>

#define PARAMETERS HW_TONE_PARAMETERS
#define UNKNOWNS   HW_TONE_UNKNOWNS

// Standard deviation of the parameters among cameras before anything is known. Chosen: S-shaped curves of
// phones bend the middle by up to a third, their brightening lifts it by up to a tenth; stray light
// is 0.1 to 1 % of full scale.
static const double prior[PARAMETERS] = {0.12, 0.09, 0.003};
// A raw file holds what the sensor counted, and sensors follow the light within about 1 % (from memory of how EMVA
// 1288 puts it); stray light stays.
static const double prior_linear[PARAMETERS] = {0.006, 0.005, 0.003};
static const double reading = 0.01;     // of ln light: noise, print, JPEG
static const double misfit_most = 0.10; // of ln light at the steps: then they show something else
static const double light_least = 0.25; // of a flare-free step: flare may not take more of it
static const size_t ladder_least = 5;
static const size_t few_steps = 4;
static const double unusual = 2.5;       // chosen: the fit is pulled to the usual, so less than 7.8
static const double half_doubted = 0.36; // s.d. of 0.6 of the curve (chosen)

double hw_tone_bend(double v, int parameter)
{
    return parameter == 0 ? 2.0 * v * (1.0 - v) * (1.0 - 2.0 * v) : v * (1.0 - v);
}

// ---- Steps -------------------------------------------------------------------------

void hw_tone_add_step(hw_tone_steps *steps, hw_lab lab, double u_L, hw_xyz seen_colour,
                      const double ln_light[3])
{
    double bands[3], seen[3], wanted[3];
    if (steps->count == HW_REFERENCES_MOST) {
        return;
    }
    hw_sharpen(hw_xyz_from_lab(lab, hw_white_d50), bands);
    for (int k = 0; k < 3; k++) {
        bands[k] *= exp(ln_light[k]);
    }
    hw_linear_srgb_from_xyz(hw_unsharpen(bands), wanted);
    hw_linear_srgb_from_xyz(seen_colour, seen);
    hw_tone_step *made = &steps->at[steps->count];
    bool good = true;
    for (int k = 0; k < 3; k++) {
        good = good && seen[k] > 0.0 && wanted[k] > 0.0;
        made->encoded[k] = good ? hw_srgb_encoded(fmin(seen[k], 1.0)) : 0.0;
        made->ln_true[k] = good ? log(wanted[k]) : 0.0;
    }
    // An error of its L* is one error, not three: shared among the channels. d ln Y = 3 dL /
    // (L + 16).
    double u = 3.0 * u_L / (lab.L + 16.0);
    made->weight = 1.0 / hypot(reading, 1.7320508 * u);
    steps->count += good;
}

void hw_card_gather_steps(const hw_references *references, const hw_light *light,
                          hw_tone_steps *out)
{
    out->count = 0;
    for (size_t i = 0; i < references->count; i++) {
        const hw_reference *item = &references->item[i];
        double ln[3];
        if (item->usable && item->neutral) {
            hw_field_at(&light->field, item->centre, ln);
            hw_tone_add_step(out, item->lab, item->u_L, item->seen, ln);
        }
    }
}

bool hw_tone_steps_differ(const hw_tone_steps *s)
{
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < s->count; i++) {
        low = fmin(low, s->at[i].ln_true[1]);
        high = fmax(high, s->at[i].ln_true[1]);
    }
    return high - low > 0.5; // chosen: 15 L* or more
}

// ---- The fit -----------------------------------------------------------------------

hw_tone_start hw_tone_usual(bool linear)
{
    const double *u = linear ? prior_linear : prior;
    return (hw_tone_start){.doubt = hw_covariance_diagonal(u[0] * u[0], u[1] * u[1], u[2] * u[2])};
}

double hw_tone_light(double encoded, const double p[PARAMETERS])
{
    double v = encoded + p[0] * hw_tone_bend(encoded, 0) + p[1] * hw_tone_bend(encoded, 1);
    double x = hw_srgb_linear(fmin(fmax(v, 1e-4), 1.2));
    return fmax(x - p[2], light_least * x);
}

static double miss(const hw_tone_steps *s, size_t i, int channel, const double p[UNKNOWNS])
{
    return p[PARAMETERS + channel] + log(hw_tone_light(s->at[i].encoded[channel], p)) -
           s->at[i].ln_true[channel];
}

// Adds a step's channel to the normal equations.
static void add_equation(const hw_tone_steps *s, size_t i, int channel, const double p[UNKNOWNS],
                         double inverse[UNKNOWNS][UNKNOWNS], double right[UNKNOWNS])
{
    const double nudge[PARAMETERS] = {1e-4, 1e-4, 1e-5};
    double slope[UNKNOWNS] = {0}, now = miss(s, i, channel, p);
    double weight = s->at[i].weight * s->at[i].weight;
    slope[PARAMETERS + channel] = 1.0;
    for (int j = 0; j < PARAMETERS; j++) {
        double moved[UNKNOWNS];
        memcpy(moved, p, sizeof moved);
        moved[j] += nudge[j];
        slope[j] = (miss(s, i, channel, moved) - now) / nudge[j];
    }
    for (int r = 0; r < UNKNOWNS; r++) {
        right[r] -= weight * slope[r] * now;
        for (int c = 0; c < UNKNOWNS; c++) {
            inverse[r][c] += weight * slope[r] * slope[c];
        }
    }
}

// One step of Gauss and Newton. `inverse` becomes the covariance of the unknowns; `known` is the inverse of
// the start's.
static bool improve(const hw_tone_steps *s, const double mean[PARAMETERS],
                    const double known[PARAMETERS][PARAMETERS], double p[UNKNOWNS],
                    double inverse[UNKNOWNS][UNKNOWNS])
{
    double right[UNKNOWNS] = {0};
    memset(inverse, 0, sizeof(double[UNKNOWNS][UNKNOWNS]));
    for (int j = 0; j < PARAMETERS; j++) {
        for (int k = 0; k < PARAMETERS; k++) {
            inverse[j][k] = known[j][k];
            right[j] -= known[j][k] * (p[k] - mean[k]);
        }
    }
    for (size_t i = 0; i < s->count; i++) {
        for (int channel = 0; channel < 3; channel++) {
            add_equation(s, i, channel, p, inverse, right);
        }
    }
    if (!hw_card_invert(inverse[0], UNKNOWNS, NULL)) {
        return false;
    }
    for (int r = 0; r < UNKNOWNS; r++) {
        double change = 0.0;
        for (int c = 0; c < UNKNOWNS; c++) {
            change += inverse[r][c] * right[c];
        }
        p[r] += fmax(-0.5, fmin(0.5, change));
    }
    return true;
}

// Root mean square of the misses, and the sum of their squares over their variances.
static double left_over(const hw_tone_steps *s, const double p[UNKNOWNS], double *strain)
{
    double sum = 0.0;
    *strain = 0.0;
    for (size_t i = 0; i < s->count; i++) {
        for (int channel = 0; channel < 3; channel++) {
            double rest = miss(s, i, channel, p);
            sum += rest * rest;
            *strain += rest * rest * s->at[i].weight * s->at[i].weight;
        }
    }
    return sqrt(sum / (3.0 * (double)s->count));
}

bool hw_tone_solve(const hw_tone_steps *s, const hw_tone_start *start, hw_tone_fit *out)
{
    double known[PARAMETERS][PARAMETERS];
    *out = (hw_tone_fit){.left_over = INFINITY};
    memcpy(known, start->doubt.m, sizeof known);
    if (s->count == 0 || !hw_card_invert(known[0], PARAMETERS, NULL)) {
        return false;
    }
    memcpy(out->p, start->mean, sizeof start->mean);
    for (int channel = 0; channel < 3; channel++) {
        out->p[PARAMETERS + channel] = -miss(s, 0, channel, out->p);
    }
    for (int turn = 0; turn < 12; turn++) {
        if (!improve(s, start->mean, (const double(*)[PARAMETERS])known, out->p, out->inverse)) {
            return false;
        }
    }
    out->left_over = left_over(s, out->p, &out->strain);
    return isfinite(out->left_over);
}

double hw_tone_misfit(const hw_tone_steps *s, const double parameter[PARAMETERS])
{
    double p[UNKNOWNS] = {parameter[0], parameter[1], parameter[2]}, sum[3] = {0}, weights = 0.0;
    double strain;
    for (size_t i = 0; i < s->count; i++) {
        double weight = s->at[i].weight * s->at[i].weight;
        weights += weight;
        for (int channel = 0; channel < 3; channel++) {
            sum[channel] -= weight * miss(s, i, channel, p);
        }
    }
    for (int channel = 0; channel < 3 && weights > 0.0; channel++) {
        p[PARAMETERS + channel] = sum[channel] / weights;
    }
    return s->count > 0 ? left_over(s, p, &strain) : 0.0;
}

// ---- What is left over at many steps -----------------------------------------------

static void sort_knots(hw_cubic *k)
{
    for (size_t i = 1; i < k->count; i++) {
        double x = k->x[i], y = k->y[i];
        size_t j = i;
        for (; j > 0 && k->x[j - 1] > x; j--) {
            k->x[j] = k->x[j - 1];
            k->y[j] = k->y[j - 1];
        }
        k->x[j] = x;
        k->y[j] = y;
    }
}

// Steps of nearly the same lightness (two greys) become one knot.
static void merge_knots(hw_cubic *k)
{
    size_t kept = 0;
    for (size_t i = 0; i < k->count;) {
        double x = 0.0, y = 0.0, n = 0.0, first = k->x[i];
        for (; i < k->count && k->x[i] - first < 0.1; i++, n += 1.0) {
            x += k->x[i];
            y += k->y[i];
        }
        k->x[kept] = x / n;
        k->y[kept++] = y / n;
    }
    k->count = kept;
}

static void gather_rest(const hw_tone_steps *s, const double p[UNKNOWNS], hw_cubic *k)
{
    *k = (hw_cubic){.count = 0};
    for (size_t i = 0; i < s->count && s->count >= ladder_least; i++) {
        double x = 0.0, y = 0.0;
        for (int channel = 0; channel < 3; channel++) {
            x += log(hw_tone_light(s->at[i].encoded[channel], p)) / 3.0;
            y -= miss(s, i, channel, p) / 3.0;
        }
        k->x[k->count] = x;
        k->y[k->count++] = y;
    }
    sort_knots(k);
    merge_knots(k);
    hw_cubic_fit(k);
}

// ---- The table ---------------------------------------------------------------------

// False where the curve would turn back on itself.
static bool fill_table(const double p[UNKNOWNS], const hw_cubic *rest, hw_tone *tone)
{
    double last = -1.0;
    for (int i = 1; i < HW_TONE_TABLE; i++) {
        double root = (double)i / (HW_TONE_TABLE - 1), x = root * root;
        double v = hw_srgb_encoded(x);
        v += p[0] * hw_tone_bend(v, 0) + p[1] * hw_tone_bend(v, 1);
        double made = hw_srgb_linear(fmax(v, 0.0));
        made *= exp(hw_cubic_at(rest, log(fmax(made - p[2], light_least * made + 1e-9))));
        if (made <= last) {
            return false;
        }
        last = made;
        for (int channel = 0; channel < 3; channel++) {
            tone->ratio[channel][i] = (float)(made / x);
        }
    }
    for (int channel = 0; channel < 3; channel++) {
        tone->ratio[channel][0] = tone->ratio[channel][1];
    }
    return true;
}

static void assume_straight(hw_tone *tone, bool linear, size_t count)
{
    *tone = (hw_tone){.steps = count, .doubt = hw_tone_usual(linear).doubt};
    for (int i = 0; i < HW_TONE_TABLE; i++) {
        tone->ratio[0][i] = tone->ratio[1][i] = tone->ratio[2][i] = 1.0F;
    }
}

// With few steps the curve follows them whatever they say. Is it then further from where it starts than one
// camera in twenty (squares of three parameters over what is usual)?
static bool is_strange(const double p[UNKNOWNS], const double mean[PARAMETERS], size_t count)
{
    double square = 0.0;
    for (int j = 0; j < PARAMETERS; j++) {
        square += (p[j] - mean[j]) * (p[j] - mean[j]) / (prior[j] * prior[j]);
    }
    return count < few_steps && square > unusual;
}

static void warn_no_curve(const hw_references *references, hw_warnings *warnings)
{
    hw_warn_trouble(
        warnings, HW_TROUBLE_REFERENCE, 0.5,
        hw_references_have_chart(references)
            ? "The chart's grey row does not fit its published colours, so no tone curve was taken "
              "out: look for shine or shadow on it, and for the order of its corners."
            : "The neutral steps do not fit one another, so only the grey one was used: look for "
              "shine or shadow on them, and that each has its own name.");
}

// As it starts, where no steps say more.
static void take_learned(const hw_tone_start *start, hw_tone *tone)
{
    const hw_cubic none = {.count = 0};
    double p[UNKNOWNS] = {start->mean[0], start->mean[1], start->mean[2]};
    if (fill_table(p, &none, tone)) {
        tone->straightens = true;
        memcpy(tone->parameter, p, sizeof tone->parameter);
        tone->doubt = start->doubt;
    }
}

static void take_fit(const hw_tone_fit *fit, bool strange, hw_tone *tone)
{
    const double *p = fit->p, share = strange ? half_doubted : 0.0;
    tone->straightens = true;
    tone->strange = strange;
    tone->left_over = fit->left_over;
    memcpy(tone->parameter, p, sizeof tone->parameter);
    for (int r = 0; r < PARAMETERS; r++) {
        for (int c = 0; c < PARAMETERS; c++) {
            // A strange camera, or a step that is not what its name says: then so much of it is doubted.
            tone->doubt.m[r][c] = fit->inverse[r][c] + share * p[r] * p[c];
        }
    }
}

void hw_card_fit_tone(const hw_references *references, const hw_camera *camera, hw_light *light)
{
    hw_tone_steps s;
    hw_tone_fit fit;
    hw_cubic rest;
    hw_tone *tone = &light->tone;
    hw_tone_start start = hw_tone_usual(light->linear);
    if (camera) {
        memcpy(start.mean, camera->parameter, sizeof start.mean);
        start.doubt = camera->doubt;
    }
    hw_card_gather_steps(references, light, &s);
    assume_straight(tone, light->linear, s.count);
    if (s.count < 2 || !hw_tone_steps_differ(&s)) {
        if (camera) {
            take_learned(&start, tone);
        }
        return;
    }
    bool good = hw_tone_solve(&s, &start, &fit) && fit.left_over <= misfit_most;
    if (good) {
        gather_rest(&s, fit.p, &rest);
        good = fill_table(fit.p, &rest, tone);
    }
    if (!good) {
        assume_straight(tone, light->linear, s.count);
        warn_no_curve(references, &light->warnings);
        return;
    }
    take_fit(&fit, is_strange(fit.p, start.mean, s.count), tone);
    if (tone->strange) {
        hw_warn_trouble(&light->warnings, HW_TROUBLE_REFERENCE, 0.8,
                        "The neutral steps say that this camera bends its tones more than cameras "
                        "do: check that each step has the L* of its name, and add more of them.");
    }
}
