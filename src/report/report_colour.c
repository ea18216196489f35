// report_colour.c: two touching fields of colour for a terminal: old wood, repair.
//
// Touching, because an eye compares best across an edge; on a neutral mid grey (L* 50), because a
// bright or coloured surround shifts what the eye sees (ISO 3664 asks for a neutral surround).
// From L*a*b* D50 through linear sRGB (IEC 61966-2-1); what a screen cannot show is clipped. A
// screen is no colour measurement: the words beside the fields say what is what.
#include "report_internal.h"

#include <math.h>

void hw_report_codes(hw_lab lab, int rgb[3])
{
    double linear[3];
    hw_linear_srgb_from_xyz(hw_xyz_from_lab(lab, hw_white_d50), linear);
    for (int i = 0; i < 3; i++) {
        double inside = fmin(fmax(linear[i], 0.0), 1.0);
        rgb[i] = (int)lround(255.0 * hw_srgb_encoded(inside));
    }
}

// `columns` cells of one colour (24-bit background, ISO 8613-6 direct colour).
static void add_field(hw_text *text, hw_lab lab, int columns)
{
    int rgb[3];
    hw_report_codes(lab, rgb);
    hw_text_add(text, "\033[48;2;%d;%d;%dm%*s", rgb[0], rgb[1], rgb[2], columns, "");
}

void hw_report_add_swatches(hw_text *text, hw_lab target, hw_lab patch)
{
    static const hw_lab grey = {50.0, 0.0, 0.0};
    const int margin = 3, field = 12;
    for (int row = 0; row < 5; row++) {
        bool border = row == 0 || row == 4;
        hw_text_add(text, "  ");
        add_field(text, grey, margin);
        add_field(text, border ? grey : target, field);
        add_field(text, border ? grey : patch, field);
        add_field(text, grey, margin);
        hw_text_add(text, "\033[0m\n");
    }
    hw_text_add(text, "     %-12s%s\n", "  old wood", "   repair");
}
