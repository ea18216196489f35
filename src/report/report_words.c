// report_words.c: numbers and names as a finisher says them.
//
// A number is shown to the place that its 90 % half-range leaves standing: from a half-range of
// 3 on there are no decimals, below it one. Half-ranges are rounded up, so that the text never
// claims more than was found (chosen). What is smaller than its own half-range has no direction,
// and is said so.
#include "report_internal.h"

#include <math.h>
#include <string.h>

// ---- Text from outside -------------------------------------------------------------

// C0, delete, C1 (U+0080 to U+009F), and the marks that turn the writing direction around
// (U+200E, U+200F, U+202A to U+202E, U+2066 to U+2069).
static bool is_control(const char *at, size_t length)
{
    unsigned char first = (unsigned char)at[0], second = (unsigned char)at[1];
    if (length == 1) {
        return first < 0x20 || first == 0x7f;
    }
    if (length == 2) {
        return first == 0xc2 && second < 0xa0;
    }
    unsigned char third = (unsigned char)at[2];
    return length == 3 && first == 0xe2 &&
           ((second == 0x80 &&
             (third == 0x8e || third == 0x8f || (third >= 0xaa && third <= 0xae))) ||
            (second == 0x81 && third >= 0xa6 && third <= 0xa9));
}

void hw_report_add_clean(hw_text *text, const char *from)
{
    size_t left = strlen(from);
    while (left > 0) {
        size_t length = hw_utf8_character(from, left);
        if (length == 0 || is_control(from, length)) {
            hw_text_add(text, "?");
        } else {
            hw_text_add_bytes(text, from, length);
        }
        length = length == 0 ? 1 : length;
        from += length;
        left -= length;
    }
}

void hw_report_clean(char *out, size_t size, const char *from)
{
    hw_text text = hw_text_in(out, size);
    hw_report_add_clean(&text, from);
}

// Characters that Unicode keeps for no one (U+FDD0 to U+FDEF and the last two of each plane): a parse error in HTML, and
// two of them (U+FFFE, U+FFFF) are none of XML 1.0 (section 2.2).
static bool is_noncharacter(const unsigned char *at, size_t length)
{
    if (length == 3 && at[0] == 0xef) {
        return (at[1] == 0xb7 && at[2] >= 0x90 && at[2] <= 0xaf) ||
               (at[1] == 0xbf && at[2] >= 0xbe);
    }
    return length == 4 && (at[1] & 0x0f) == 0x0f && at[2] == 0xbf && at[3] >= 0xbe;
}

static const char *reference(char character)
{
    switch (character) {
    case '<':
        return "&lt;";
    case '>':
        return "&gt;";
    case '&':
        return "&amp;";
    case '"':
        return "&quot;";
    case '\'':
        return "&#39;";
    default:
        return NULL;
    }
}

void hw_report_add_escaped(hw_text *text, const char *from, size_t left)
{
    while (left > 0) {
        size_t length = hw_utf8_character(from, left);
        length = length == 0 ? 1 : length;
        if (is_noncharacter((const unsigned char *)from, length)) {
            hw_text_add(text, "?");
        } else if (length == 1 && reference(*from)) {
            hw_text_add(text, "%s", reference(*from));
        } else {
            hw_text_add_bytes(text, from, length);
        }
        from += length;
        left -= length;
    }
}

// ---- Numbers -----------------------------------------------------------------------

static const double whole_numbers_from = 3.0; // half-range; chosen
static const double least_half_range = 0.1;

void hw_report_number(char *out, size_t size, double value, double half_range)
{
    int decimals = half_range >= whole_numbers_from ? 0 : 1;
    double place = decimals ? 10.0 : 1.0;
    double rounded = round(value * place) / place;
    hw_format_text(out, size, "%.*f", decimals, rounded == 0.0 ? 0.0 : rounded); // no "-0.0"
}

void hw_report_half_range(char *out, size_t size, double half_range)
{
    if (half_range >= whole_numbers_from) {
        hw_format_text(out, size, "%.0f", ceil(half_range - 1e-9));
    } else {
        double up = ceil(half_range * 10.0 - 1e-9) / 10.0;
        hw_format_text(out, size, "%.1f", fmax(up, least_half_range));
    }
}

void hw_report_add_range(hw_text *text, double value, double low, double high)
{
    if (!isfinite(value) || !isfinite(low) || !isfinite(high)) {
        hw_text_add(text, "not known");
        return;
    }
    char number[3][32];
    double half = (high - low) / 2.0;
    hw_report_number(number[0], sizeof number[0], value, half);
    hw_report_number(number[1], sizeof number[1], low, half);
    hw_report_number(number[2], sizeof number[2], high, half);
    hw_text_add(text, "%s (%s to %s)", number[0], number[1], number[2]);
}

// Near nothing a reading says how large a gap is at most (compare_range.c: below 1.5 u the upper end is over
// twice the reading).
void hw_report_add_gap_range(hw_text *text, double gap, double low, double high)
{
    if (low >= 0.05 || high <= 2.05 * gap) {
        hw_report_add_range(text, gap, low, high);
        return;
    }
    char number[32];
    if (!isfinite(gap) || !isfinite(high)) {
        hw_text_add(text, "not known");
        return;
    }
    hw_report_number(number, sizeof number, high, (high - low) / 2.0);
    hw_text_add(text, "below %s", number);
}

void hw_report_strength(char *out, size_t size, double strength)
{
    static const struct {
        double strength;
        const char *words;
    } ladder[] = {{1.0, "full strength"},
                  {0.5, "half strength"},
                  {0.25, "a quarter strength"},
                  {0.125, "an eighth strength"}};
    for (size_t i = 0; i < sizeof ladder / sizeof *ladder; i++) {
        if (fabs(strength - ladder[i].strength) < 1e-9) {
            hw_copy_text(out, size, ladder[i].words);
            return;
        }
    }
    hw_format_text(out, size, "strength %.3g", strength);
}

void hw_report_passes(char *out, size_t size, int passes)
{
    hw_format_text(out, size, "%d pass%s", passes, passes == 1 ? "" : "es");
}

void hw_report_add_liquid(hw_text *text, const hw_liquid *liquid)
{
    for (size_t i = 0; i < liquid->count; i++) {
        char strength[48];
        hw_report_strength(strength, sizeof strength, liquid->dose[i].strength);
        hw_text_add(text, i == 0 ? "" : " with ");
        hw_report_add_clean(text, liquid->dose[i].dye);
        hw_text_add(text, " at %s", strength);
    }
}

// ---- Directions --------------------------------------------------------------------

typedef struct axis {
    const char *more, *less, *neither;
} axis;

static const axis axes[3] = {{"lighter", "darker", "in lightness"},
                             {"redder", "greener", "in red or green"},
                             {"yellower", "bluer", "in yellow or blue"}};

static void add_component(hw_text *text, const axis *names, double value, double low, double high)
{
    double half_range = (high - low) / 2.0;
    char number[32], doubt[32];
    if (!isfinite(value) || !isfinite(half_range)) {
        hw_text_add(text, "not known %s", names->neither);
        return;
    }
    hw_report_half_range(doubt, sizeof doubt, half_range);
    if (low <= 0.0 && high >= 0.0) {
        hw_report_half_range(doubt, sizeof doubt, fmax(fabs(low), fabs(high)));
        hw_text_add(text, "no sure difference %s (within %s)", names->neither, doubt);
        return;
    }
    hw_report_number(number, sizeof number, fabs(value), half_range);
    hw_text_add(text, "%s by %s ± %s", value > 0.0 ? names->more : names->less, number, doubt);
}

void hw_report_add_component(hw_text *text, const hw_comparison *gap, int index)
{
    const double value[3] = {gap->gap.L, gap->gap.a, gap->gap.b},
                 low[3] = {gap->low.L, gap->low.a, gap->low.b},
                 high[3] = {gap->high.L, gap->high.a, gap->high.b};
    add_component(text, &axes[index], value[index], low[index], high[index]);
}

void hw_report_add_components(hw_text *text, const hw_comparison *gap)
{
    for (int i = 0; i < 3; i++) {
        hw_text_add(text, "%s", i ? ", " : "");
        hw_report_add_component(text, gap, i);
    }
}

void hw_report_add_change(hw_text *text, double L, double a, double b)
{
    const double change[3] = {L, a, b};
    size_t said = 0;
    for (int i = 0; i < 3; i++) {
        if (fabs(change[i]) >= 0.05) {
            hw_text_add(text, "%s%s by %.1f", said++ ? ", " : "",
                        change[i] > 0.0 ? axes[i].more : axes[i].less, fabs(change[i]));
        }
    }
    if (said == 0) {
        hw_text_add(text, "no change");
    }
}

// How large the part of the gap is that a direction names.
static double direction_size(const hw_difference *gap, hw_direction direction)
{
    switch (direction) {
    case HW_TOO_LIGHT:
    case HW_TOO_DARK:
        return fabs(gap->L);
    case HW_TOO_GREEN:
    case HW_TOO_RED:
        return fabs(gap->a);
    case HW_TOO_YELLOW:
    case HW_TOO_BLUE:
        return fabs(gap->b);
    case HW_TOO_DULL:
    case HW_TOO_STRONG:
        return fabs(gap->C);
    default:
        return hypot(gap->a, gap->b);
    }
}

void hw_report_add_directions(hw_text *text, const hw_comparison *gap)
{
    const double a_touch =
        3.0; // L*a*b* units; chosen: below it one weak pass is the most there is to do
    for (size_t i = 0; i < gap->direction_count; i++) {
        const char *words = hw_direction_words(gap->direction[i]);
        bool touch = direction_size(&gap->gap, gap->direction[i]) < a_touch;
        if (touch && strncmp(words, "too ", 4) == 0) {
            hw_text_add(text, "%sa touch %s", i ? ", " : "", words + 4);
        } else {
            hw_text_add(text, "%s%s", i ? ", " : "", words);
        }
    }
}

void hw_report_add_large(hw_text *text, const char *capitals, bool large)
{
    for (const char *at = capitals; *at; at++) {
        bool lower = !large && at > capitals && *at >= 'A' && *at <= 'Z';
        hw_text_add(text, "%c", lower ? *at + ('a' - 'A') : *at);
    }
}

const char *hw_report_verdict_words(hw_verdict verdict)
{
    switch (verdict) {
    case HW_VERDICT_LEAVE:
        return "LEAVE IT";
    case HW_VERDICT_TONE:
        return "TONE IT";
    case HW_VERDICT_TOO_DARK:
        return "TOO DARK FOR DYE";
    default:
        return "UNSURE";
    }
}

// ---- The rest ----------------------------------------------------------------------

void hw_report_time(char *out, size_t size, int64_t seconds)
{
    char text[40];
    hw_format_time(text, seconds); // ...-25T10:27:36Z
    char *t = strchr(text, 'T');
    if (!t || strlen(t) < 6) {
        hw_copy_text(out, size, text);
        return;
    }
    *t = ' ';
    t[6] = 0;
    hw_format_text(out, size, "%s UTC", text);
}

void hw_report_photo_check(const hw_reading *reading, hw_warnings *out)
{
    *out = (hw_warnings){0};
    hw_warnings_append(out, &reading->photo.warnings);
    hw_warnings_append(out, &reading->light.warnings);
    hw_warnings_append(out, &reading->warnings);
}

void hw_report_add_warnings(hw_text *text, const hw_warnings *warnings)
{
    size_t order[HW_WARNINGS_MAX];
    hw_warnings_worst_first(warnings, order);
    for (size_t i = 0; i < warnings->count; i++) {
        hw_text_add(text, "note: ");
        hw_report_add_clean(text, warnings->text[order[i]]);
        hw_text_add(text, "\n");
    }
}

hw_status hw_report_error_text(const hw_error *error, char **out, hw_error *err)
{
    hw_text text = {0};
    hw_text_add(&text, "huewright: ");
    if (error->subject[0]) {
        hw_report_add_clean(&text, error->subject);
        hw_text_add(&text, ": ");
    }
    hw_report_add_clean(&text, error->what);
    if (error->next[0]) {
        hw_text_add(&text, "\n  next: ");
        hw_report_add_clean(&text, error->next);
    }
    hw_text_add(&text, "\n");
    return hw_report_finish(&text, out, err);
}

hw_status hw_report_finish(hw_text *text, char **out, hw_error *err)
{
    if (!text->failed && !text->bytes) {
        hw_text_add(text, "%s", "");
    }
    if (text->failed || !text->bytes) {
        hw_text_free(text);
        return hw_fail_memory(err, "writing the result");
    }
    *out = text->bytes;
    *text = (hw_text){0};
    return HW_OK;
}

void hw_report_free(char *text)
{
    hw_free(text);
}
