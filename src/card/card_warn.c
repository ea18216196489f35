// card_warn.c: what is wrong with the light of a photo, each with its cure and what it may cost.
#include "card_internal.h"

#include <math.h>

static const double code_low = 60.0;      // of 255: readable, but dark
static const double code_high = 240.0;    // of 255: tone curves roll off above
static const double area_low = 0.004;     // of the picture: a tiny card (chosen)
static const double uneven_warned = 0.10; // from end to end: about 2 L* on mid-brown (chosen)
static const double coloured_warned = 0.04;
static const double blur_px = 4.0,
                    picture_px = 1600.0;   // chosen: four pixels in a picture 1600 wide
static const double contrast_warned = 0.2; // of the curve's contrast (card.h)

static void warn_exposure(const hw_reference *card, hw_warnings *warnings)
{
    if (card->max_code > code_high) {
        hw_warn_trouble(
            warnings, HW_TROUBLE_CLIPPED, 0.8,
            "The grey card is very bright (%.0f of 255): light parts may be bent by the "
            "camera. A card at about half of the scale reads best.",
            card->max_code);
    } else if (card->mean_code < code_low) {
        hw_warn_trouble(
            warnings, HW_TROUBLE_DARK, 0.8,
            "The grey card is dark (%.0f of 255): noise and stray light widen the reading. "
            "Give more exposure next time.",
            card->mean_code);
    }
}

// A brown under the light: where the two adaptations part, the light is strongly coloured.
static void warn_colour(const hw_light *light, hw_xyz card_true, hw_warnings *warnings)
{
    const hw_lab brown = {50.0, 12.0, 25.0};
    hw_xyz seen =
        hw_adapt_bradford(hw_xyz_from_lab(brown, hw_white_d50), card_true, light->card_seen);
    hw_lab by_cat16 =
        hw_lab_from_xyz(hw_adapt_cat16(seen, light->card_seen, card_true), hw_white_d50);
    double parted = hw_ciede2000(brown, by_cat16);
    if (parted > 0.5) {
        hw_warn_trouble(
            warnings, HW_TROUBLE_COLOURED_LIGHT, parted,
            "The light in this photo is strongly coloured. Signs hold, sizes are less sure: a "
            "daylight lamp, or the camera's white balance set to the lamp, reads better.");
    }
}

static void warn_uneven(const hw_light *light, hw_warnings *warnings)
{
    const double strong = 0.6; // further than a slope read off one card can be carried
    const char *shown_by = light->field.from_sheet   ? "the sheet shows"
                           : light->field.places > 1 ? "the references show"
                                                     : "the card shows";
    if (light->uneven > strong) {
        hw_warn_trouble(
            warnings, HW_TROUBLE_UNEVEN_LIGHT, strong,
            "The light falls off steeply, or something shines on a reference: taken out as "
            "far as %s it. Lay the card next to the repair, or even out the light.",
            shown_by);
    } else if (light->uneven > uneven_warned) {
        hw_warn_trouble(
            warnings, HW_TROUBLE_UNEVEN_LIGHT, light->uneven,
            "The light falls off over the picture by about %.0f %%: taken out as far as "
            "%s it. Lay the card next to the repair, or even out the light.",
            100.0 * light->uneven, shown_by);
    }
    if (light->coloured > coloured_warned) {
        hw_warn_trouble(
            warnings, HW_TROUBLE_MIXED_LIGHT, 1.0,
            "A second lamp of another colour lights one side of the picture: switch it off, or "
            "shade it, and take the photo again for a surer reading.");
    }
}

static void warn_small(const hw_light *light, hw_warnings *warnings)
{
    if (light->card_area < area_low) {
        hw_warn_trouble(
            warnings, HW_TROUBLE_CARD, 0.4,
            "The grey card takes only %.1f %% of the picture. Go nearer, so that it shows how "
            "the light falls.",
            100.0 * light->card_area);
    }
}

static void warn_blur(const hw_light *light, hw_warnings *warnings)
{
    double in_small = light->edge_px * picture_px / light->field.scale_px;
    if (light->edge_px >= blur_px && in_small >= blur_px) {
        hw_warn_trouble(
            warnings, HW_TROUBLE_BLUR, 0.3,
            "The photo is blurred: the card's rim is %.0f pixels wide. Means hold, pores "
            "and joints do not. Rest the camera on something, tap the wood to focus, and "
            "take it again.",
            light->edge_px);
    }
}

// The steps show how strongly the camera bends its codes.
static void warn_tone(const hw_light *light, hw_warnings *warnings)
{
    bool learned = light->camera.curve; // by one who knows the camera
    if (light->tone.straightens && !learned && light->tone.parameter[0] > contrast_warned) {
        hw_warn_trouble(warnings, HW_TROUBLE_TONE, 0.5,
                        "The camera has added strong contrast: taken out as far as the steps show. "
                        "Switch off filters, vivid colours and HDR for a surer reading.");
    }
}

static void warn_chart(const hw_light *light, hw_warnings *warnings)
{
    const hw_chart_fit *chart = &light->chart;
    if (chart->patches > 0 && !chart->used) {
        hw_warn_trouble(
            warnings, HW_TROUBLE_REFERENCE, 0.2,
            chart->after > 0.0
                ? "The colour chart was left aside: near the colour of this wood it would make "
                  "the reading worse. Look for shine on it, and for the order of its patches."
                : "The colour chart was left aside: too few of its patches can be used. Mark "
                  "all 24, and keep them from being cut off by the exposure.");
    }
}

void hw_card_warn(const hw_reference *card, hw_light *light)
{
    hw_warnings *warnings = &light->warnings;
    warn_exposure(card, warnings);
    if (card->mark->role == HW_ROLE_CARD) { // steps and patches of a chart are small
        warn_small(light, warnings);
    }
    warn_colour(light, hw_xyz_from_lab(light->card_lab, hw_white_d50), warnings);
    warn_uneven(light, warnings);
    warn_blur(light, warnings);
    warn_tone(light, warnings);
    warn_chart(light, warnings);
}
