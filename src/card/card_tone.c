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

#define PARAMETERS 3
#define UNKNOWNS   6 // and ln of a factor a channel
#define STEPS_MOST HW_REFERENCES_MOST

// Standard deviation of the parameters among cameras before anything is known. Chosen: S-shaped curves of
// phones bend the middle by up to a third, their brightening lifts it by up to a tenth; stray light
// is 0.1 to 1 % of full scale.
static const double prior[PARAMETERS] = {0.12, 0.09, 0.003};
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

typedef struct step {
    double encoded[3]; // of the seen channels
    double ln_true[3]; // ln of what the channels should be, times the light at the place
    double weight;     // 1 / s.d. of ln
} step;

typedef struct steps {
    step at[STEPS_MOST];
    size_t count;
} steps;

static void gather_steps(const hw_references *references, const hw_light *light, steps *out)
{
    *out = (steps){.count = 0};
    for (size_t i = 0; i < references->count; i++) {
        const hw_reference *item = &references->item[i];
        if (!item->usable || !item->neutral) {
            continue;
        }
        double bands[3], ln[3], seen[3], wanted[3];
        hw_sharpen(hw_xyz_from_lab(item->lab, hw_white_d50), bands);
        hw_field_at(&light->field, item->centre, ln);
        for (int k = 0; k < 3; k++) {
            bands[k] *= exp(ln[k]);
        }
        hw_linear_srgb_from_xyz(hw_unsharpen(bands), wanted);
        hw_linear_srgb_from_xyz(item->seen, seen);
        step *made = &out->at[out->count];
        bool good = true;
        for (int k = 0; k < 3; k++) {
            good = good && seen[k] > 0.0 && wanted[k] > 0.0;
            made->encoded[k] = good ? hw_srgb_encoded(fmin(seen[k], 1.0)) : 0.0;
            made->ln_true[k] = good ? log(wanted[k]) : 0.0;
        }
        // An error of its L* is one error, not three: shared among the channels. d ln Y = 3 dL /
        // (L + 16).
        double u = 3.0 * item->u_L / (item->lab.L + 16.0);
        made->weight = 1.0 / hypot(reading, 1.7320508 * u);
        out->count += good;
    }
}

static bool differ_enough(const steps *s)
{
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < s->count; i++) {
        low = fmin(low, s->at[i].ln_true[1]);
        high = fmax(high, s->at[i].ln_true[1]);
    }
    return high - low > 0.5; // chosen: 15 L* or more
}

// ---- The fit -----------------------------------------------------------------------

static double light_of(double encoded, const double p[PARAMETERS])
{
    double v = encoded + p[0] * hw_tone_bend(encoded, 0) + p[1] * hw_tone_bend(encoded, 1);
    double x = hw_srgb_linear(fmin(fmax(v, 1e-4), 1.2));
    return fmax(x - p[2], light_least * x);
}

static double miss(const steps *s, size_t i, int channel, const double p[UNKNOWNS])
{
    return p[PARAMETERS + channel] + log(light_of(s->at[i].encoded[channel], p)) -
           s->at[i].ln_true[channel];
}

// One step of Gauss and Newton. `inverse` becomes the covariance of the unknowns.
static bool improve(const steps *s, double p[UNKNOWNS], double inverse[UNKNOWNS][UNKNOWNS])
{
    const double nudge[PARAMETERS] = {1e-4, 1e-4, 1e-5};
    double right[UNKNOWNS] = {0};
    memset(inverse, 0, sizeof(double[UNKNOWNS][UNKNOWNS]));
    for (int j = 0; j < PARAMETERS; j++) {
        inverse[j][j] = 1.0 / (prior[j] * prior[j]);
        right[j] = -p[j] / (prior[j] * prior[j]);
    }
    for (size_t i = 0; i < s->count; i++) {
        for (int channel = 0; channel < 3; channel++) {
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

static double left_over(const steps *s, const double p[UNKNOWNS])
{
    double sum = 0.0;
    for (size_t i = 0; i < s->count; i++) {
        for (int channel = 0; channel < 3; channel++) {
            double rest = miss(s, i, channel, p);
            sum += rest * rest;
        }
    }
    return sqrt(sum / (3.0 * (double)s->count));
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

static void gather_rest(const steps *s, const double p[UNKNOWNS], hw_cubic *k)
{
    *k = (hw_cubic){.count = 0};
    for (size_t i = 0; i < s->count && s->count >= ladder_least; i++) {
        double x = 0.0, y = 0.0;
        for (int channel = 0; channel < 3; channel++) {
            x += log(light_of(s->at[i].encoded[channel], p)) / 3.0;
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

static void assume_straight(hw_tone *tone, size_t count)
{
    *tone = (hw_tone){.steps = count};
    for (int j = 0; j < PARAMETERS; j++) {
        tone->doubt.m[j][j] = prior[j] * prior[j];
    }
    for (int i = 0; i < HW_TONE_TABLE; i++) {
        tone->ratio[0][i] = tone->ratio[1][i] = tone->ratio[2][i] = 1.0F;
    }
}

// With few steps the curve follows them whatever they say. Where it is then further from usual than one
// camera in twenty (squares of three parameters over their priors), the share of it to be doubted, as a
// variance; else 0.
static double strangeness(const double p[UNKNOWNS], size_t count)
{
    double square = 0.0;
    for (int j = 0; j < PARAMETERS; j++) {
        square += p[j] * p[j] / (prior[j] * prior[j]);
    }
    return count < few_steps && square > unusual ? half_doubted : 0.0;
}

void hw_card_fit_tone(const hw_references *references, hw_light *light)
{
    steps s;
    hw_tone *tone = &light->tone;
    gather_steps(references, light, &s);
    assume_straight(tone, s.count);
    if (s.count < 2 || !differ_enough(&s)) {
        return;
    }
    double p[UNKNOWNS] = {0}, inverse[UNKNOWNS][UNKNOWNS];
    for (int channel = 0; channel < 3; channel++) {
        p[PARAMETERS + channel] = -miss(&s, 0, channel, p);
    }
    bool good = true;
    for (int turn = 0; turn < 12 && good; turn++) {
        good = improve(&s, p, inverse);
    }
    hw_cubic rest;
    double misfit = good ? left_over(&s, p) : INFINITY;
    if (good && misfit <= misfit_most) {
        gather_rest(&s, p, &rest);
        good = fill_table(p, &rest, tone);
    }
    if (!good || misfit > misfit_most) {
        assume_straight(tone, s.count);
        hw_warn_trouble(
            &light->warnings, HW_TROUBLE_REFERENCE, 0.5,
            hw_references_have_chart(references)
                ? "The chart's grey row does not fit its published colours, so no tone curve was "
                  "taken "
                  "out: look for shine or shadow on it, and for the order of its corners."
                : "The neutral steps do not fit one another, so only the grey one was used: look "
                  "for "
                  "shine or shadow on them, and that each has its own name.");
        return;
    }
    tone->straightens = true;
    tone->left_over = misfit;
    memcpy(tone->parameter, p, sizeof tone->parameter);
    double strange = strangeness(p, s.count);
    for (int r = 0; r < PARAMETERS; r++) {
        for (int c = 0; c < PARAMETERS; c++) {
            // A strange camera, or a step that is not what its name says: then so much of it is doubted.
            tone->doubt.m[r][c] = inverse[r][c] + strange * p[r] * p[c];
        }
    }
    if (strange > 0.0) {
        hw_warn_trouble(&light->warnings, HW_TROUBLE_REFERENCE, 0.8,
                        "The neutral steps say that this camera bends its tones more than cameras "
                        "do: check that each step has the L* of its name, and add more of them.");
    }
}
