// Words and numbers: rounding by doubt, names that cannot move a terminal, colour of the fields.
#include "check.h"
#include "report_internal.h"

static void numbers(void)
{
    char text[32];
    // Rounded to the place that the half-range leaves: our own rule.
    hw_report_number(text, sizeof text, 4.93, 0.5);
    check_text(text, "4.9");
    hw_report_number(text, sizeof text, 14.93, 3.2);
    check_text(text, "15");
    hw_report_number(text, sizeof text, -0.02, 0.5);
    check_text(text, "0.0");
    hw_report_half_range(text, sizeof text, 0.41);
    check_text(text, "0.5"); // up, never down
    hw_report_half_range(text, sizeof text, 0.0);
    check_text(text, "0.1");
    hw_report_half_range(text, sizeof text, 3.2);
    check_text(text, "4");
    hw_report_strength(text, sizeof text, 0.25);
    check_text(text, "a quarter strength");
    hw_report_strength(text, sizeof text, 0.3);
    check_text(text, "strength 0.3");
    hw_report_passes(text, sizeof text, 1);
    check_text(text, "1 pass");
    hw_report_passes(text, sizeof text, 2);
    check_text(text, "2 passes");
}

static void gaps(void)
{
    static const struct {
        double gap, low, high;
        const char *words;
    } said[] = {{5.4, 4.6, 6.2, "5.4 (4.6 to 6.2)"},
                {0.4, 0.0, 0.9, "below 0.9"}, // never a value with a range about nothing
                {0.8, 0.0, 1.4, "0.8 (0.0 to 1.4)"}};
    for (size_t i = 0; i < sizeof said / sizeof *said; i++) {
        hw_text text = {0};
        hw_report_add_gap_range(&text, said[i].gap, said[i].low, said[i].high);
        check_text(text.bytes, said[i].words);
        hw_text_free(&text);
    }
}

static void cleaned(const char *from, const char *want)
{
    char out[64];
    hw_report_clean(out, sizeof out, from);
    check_text(out, want);
    check_true(hw_is_utf8(out, strlen(out)));
}

static void names(void)
{
    cleaned("Türe \"links\" 門", "Türe \"links\" 門");
    cleaned("a\033[2Jb\nc\177", "a?[2Jb?c?");
    cleaned("a\302\233b", "a?b");      // C1 CSI, U+009B
    cleaned("a\342\200\256b", "a?b");  // right-to-left override, U+202E
    cleaned("a\xff\xfe", "a??");       // never in UTF-8 (RFC 3629, section 1)
    cleaned("\xc0\x80", "??");         // overlong 0 (RFC 3629, section 3)
    cleaned("\xed\xa0\x80", "???");    // a surrogate (RFC 3629, section 3)
    cleaned("cut \xe2\x80", "cut ??"); // cut within a character
    cleaned("", "");
}

static void directions(void)
{
    hw_text text = {0};
    hw_comparison gap = {.direction_count = 2, .direction = {HW_TOO_LIGHT, HW_TOO_GREEN}};
    gap.gap.L = 4.9;
    gap.gap.a = -2.4;
    hw_report_add_directions(&text, &gap);
    check_text(text.bytes, "too light, a touch green");
    hw_text_free(&text);
    hw_report_add_change(&text, -0.5, 1.2, 0.01);
    check_text(text.bytes, "darker by 0.5, redder by 1.2");
    hw_text_free(&text);
    hw_report_add_change(&text, 0.0, 0.0, 0.0);
    check_text(text.bytes, "no change");
    hw_text_free(&text);
}

// Signs of the words: L* is lightness, +a* red, -a* green, +b* yellow, -b* blue (ISO/CIE 11664-4).
static void components(void)
{
    hw_text text = {0};
    hw_comparison gap = {0};
    gap.gap = (hw_difference){.L = -3.0, .a = 2.0, .b = -0.3};
    gap.low = (hw_difference){.L = -3.4, .a = 1.6, .b = -1.0};
    gap.high = (hw_difference){.L = -2.6, .a = 2.4, .b = 0.4};
    hw_report_add_components(&text, &gap);
    check_text(text.bytes, "darker by 3.0 ± 0.4, redder by 2.0 ± 0.4, "
                           "no sure difference in yellow or blue (within 1.0)");
    hw_text_free(&text);
    gap.gap = (hw_difference){.L = 3.0, .a = -2.0, .b = 2.3};
    gap.low = (hw_difference){.L = 2.6, .a = -2.4, .b = 1.0};
    gap.high = (hw_difference){.L = 3.4, .a = -1.6, .b = 3.6};
    hw_report_add_components(&text, &gap);
    check_text(text.bytes, "lighter by 3.0 ± 0.4, greener by 2.0 ± 0.4, yellower by 2.3 ± 1.3");
    hw_text_free(&text);
}

// sRGB code values: a grey of L* 50 is 119 119 119 (Y 0.1842 by ISO/CIE 11664-4, 118.9 of 255 by
// the curve of IEC 61966-2-1); the red primary, carried to D50 by Bradford, is L* 54.29 a* 80.81
// b* 69.89 (from memory of published tables). Escape: direct colour of ISO 8613-6.
static void fields(void)
{
    hw_text text = {0};
    hw_report_add_swatches(&text, (hw_lab){54.29, 80.81, 69.89}, (hw_lab){50, 0, 0});
    check_holds(text.bytes, "\033[48;2;119;119;119m");
    check_true(
        strstr(text.bytes, "\033[48;2;255;0;0m") || strstr(text.bytes, "\033[48;2;254;0;0m") ||
        strstr(text.bytes, "\033[48;2;255;1;0m") || strstr(text.bytes, "\033[48;2;255;0;1m"));
    check_holds(text.bytes, "old wood");
    check_holds(text.bytes, "repair");
    const char *last = strrchr(text.bytes, '\033');
    check_true(last && strncmp(last, "\033[0m\n", 5) == 0); // colour is switched off again
    hw_text_free(&text);
}

int main(void)
{
    numbers();
    gaps();
    names();
    directions();
    components();
    fields();
    return check_done();
}
