// tone_quantity.c: quantities as a finisher types them, and how a liquid was made.
//
// A quantity is a number and a unit. A number is whole, decimal with a point, a fraction or both: 3, 0.5, 1/4, 1 1/2. A
// comma is refused: here it is a point, there it parts the thousands, and a tenth or tenfold of a dye is no small
// slip. So is "oz" where a volume is wanted, since it is a weight too.
//
// Units by definition: inch 25.4 mm, US gallon 231 cubic inches, avoirdupois pound 453.59237 g (NIST Handbook 44,
// appendix C, from memory; tests/outside holds them against GNU units).
#include "base_internal.h"
#include "tone_internal.h"

#include <math.h>

typedef enum kind {
    KIND_VOLUME = 0, // ml
    KIND_WEIGHT,     // g
    KIND_LENGTH,     // mm
    KIND_AREA,       // cm2
    KIND_TIME,       // minutes
    KIND_PART,       // of a mix
    KIND_COUNT
} kind;

#define INCH    25.4                         // mm
#define GALLON  (231.0 * 2.54 * 2.54 * 2.54) // ml
#define POUND   453.59237                    // g
#define DROP    (1.0 / HW_DROPS_A_ML)        // ml
#define FOOT_CM (12.0 * 2.54)

typedef struct unit {
    const char *name; // lower case, without dots; a plural s may follow
    kind of;
    double size;
} unit;

static const unit units[] = {
    {"ml", KIND_VOLUME, 1.0},
    {"milliliter", KIND_VOLUME, 1.0},
    {"millilitre", KIND_VOLUME, 1.0},
    {"cc", KIND_VOLUME, 1.0},
    {"cl", KIND_VOLUME, 10.0},
    {"dl", KIND_VOLUME, 100.0},
    {"l", KIND_VOLUME, 1000.0},
    {"liter", KIND_VOLUME, 1000.0},
    {"litre", KIND_VOLUME, 1000.0},
    {"drop", KIND_VOLUME, DROP},
    {"tsp", KIND_VOLUME, GALLON / 768.0},
    {"teaspoon", KIND_VOLUME, GALLON / 768.0},
    {"tbsp", KIND_VOLUME, GALLON / 256.0},
    {"tablespoon", KIND_VOLUME, GALLON / 256.0},
    {"fl oz", KIND_VOLUME, GALLON / 128.0},
    {"floz", KIND_VOLUME, GALLON / 128.0},
    {"fluid oz", KIND_VOLUME, GALLON / 128.0},
    {"fluid ounce", KIND_VOLUME, GALLON / 128.0},
    {"cup", KIND_VOLUME, GALLON / 16.0},
    {"pt", KIND_VOLUME, GALLON / 8.0},
    {"pint", KIND_VOLUME, GALLON / 8.0},
    {"qt", KIND_VOLUME, GALLON / 4.0},
    {"quart", KIND_VOLUME, GALLON / 4.0},
    {"gal", KIND_VOLUME, GALLON},
    {"gallon", KIND_VOLUME, GALLON},
    {"mg", KIND_WEIGHT, 0.001},
    {"g", KIND_WEIGHT, 1.0},
    {"gram", KIND_WEIGHT, 1.0},
    {"kg", KIND_WEIGHT, 1000.0},
    {"oz", KIND_WEIGHT, POUND / 16.0},
    {"ounce", KIND_WEIGHT, POUND / 16.0},
    {"lb", KIND_WEIGHT, POUND},
    {"pound", KIND_WEIGHT, POUND},
    {"mm", KIND_LENGTH, 1.0},
    {"cm", KIND_LENGTH, 10.0},
    {"m", KIND_LENGTH, 1000.0},
    {"in", KIND_LENGTH, INCH},
    {"inch", KIND_LENGTH, INCH},
    {"inche", KIND_LENGTH, INCH}, // inches
    {"\"", KIND_LENGTH, INCH},
    {"ft", KIND_LENGTH, 12.0 * INCH},
    {"foot", KIND_LENGTH, 12.0 * INCH},
    {"feet", KIND_LENGTH, 12.0 * INCH},
    {"mm2", KIND_AREA, 0.01},
    {"sq mm", KIND_AREA, 0.01},
    {"cm2", KIND_AREA, 1.0},
    {"sq cm", KIND_AREA, 1.0},
    {"dm2", KIND_AREA, 100.0},
    {"m2", KIND_AREA, 10000.0},
    {"sqm", KIND_AREA, 10000.0},
    {"sq m", KIND_AREA, 10000.0},
    {"in2", KIND_AREA, 2.54 * 2.54},
    {"sqin", KIND_AREA, 2.54 * 2.54},
    {"sq in", KIND_AREA, 2.54 * 2.54},
    {"sq inch", KIND_AREA, 2.54 * 2.54},
    {"sq inche", KIND_AREA, 2.54 * 2.54},
    {"ft2", KIND_AREA, FOOT_CM *FOOT_CM},
    {"sqft", KIND_AREA, FOOT_CM *FOOT_CM},
    {"sq ft", KIND_AREA, FOOT_CM *FOOT_CM},
    {"sq foot", KIND_AREA, FOOT_CM *FOOT_CM},
    {"sq feet", KIND_AREA, FOOT_CM *FOOT_CM},
    {"min", KIND_TIME, 1.0},
    {"minute", KIND_TIME, 1.0},
    {"h", KIND_TIME, 60.0},
    {"hr", KIND_TIME, 60.0},
    {"hour", KIND_TIME, 60.0},
    {"part", KIND_PART, 1.0},
};

// The most that can be meant (chosen), in the unit of the kind, and how it is asked for.
static const double most[KIND_COUNT] = {1e5, 1e5, 1e5, 1e6, 1e6, 1e5};
static const char *const ask_for[KIND_COUNT] = {
    "Write a number and ml, cl, l, drops, tsp, tbsp, fl oz, cup, pint, quart or gallon (US "
    "measures): 200 ml, 1/4 fl oz.",
    "Write a number and g, oz or lb: 30 g.",
    "Write a number and mm, cm, m, in or ft: 86 mm.",
    "Write a number and cm2, m2, sq in or sq ft, or two sides: 1080 cm2, 12x90 cm.",
    "Write minutes, or a number and min or h: 30, 30 min, 2 h.",
    "Write parts: 1 part in 20.",
};

// ---- Pieces ------------------------------------------------------------------------

#define TEXT_MOST 79 // bytes of a quantity: what is longer is none

// A piece of what was typed.
typedef struct piece {
    const char *at, *end;
} piece;

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static void skip_blanks(piece *rest)
{
    while (rest->at < rest->end && (*rest->at == ' ' || *rest->at == '\t')) {
        rest->at++;
    }
}

static bool next_is(const piece *rest, char c)
{
    return rest->at < rest->end && *rest->at == c;
}

// Digits, with a point among them where `decimal`; at most nine before and after it.
static bool take_digits(piece *rest, bool decimal, double *out)
{
    double value = 0.0, place = 1.0;
    int digits = 0;
    bool point = false;
    for (; rest->at < rest->end && digits < 18; rest->at++) {
        if (is_digit(*rest->at)) {
            value = 10.0 * value + (*rest->at - '0');
            place *= point ? 10.0 : 1.0;
            digits++;
        } else if (decimal && !point && *rest->at == '.') {
            point = true;
        } else {
            break;
        }
    }
    *out = value / place;
    return digits > 0 && digits < 18;
}

// "/4": the rest of a fraction. Where none follows, nothing is taken.
static bool take_divisor(piece *rest, double *out)
{
    piece ahead = *rest;
    skip_blanks(&ahead);
    if (!next_is(&ahead, '/')) {
        return false;
    }
    ahead.at++;
    skip_blanks(&ahead);
    if (!take_digits(&ahead, false, out)) {
        return false;
    }
    *rest = ahead;
    return true;
}

static bool take_number(piece *rest, double *out)
{
    double value, divisor, top;
    skip_blanks(rest);
    if (!take_digits(rest, true, &value)) {
        return false;
    }
    if (take_divisor(rest, &divisor)) {
        *out = value / divisor;
        return divisor > 0.0;
    }
    piece ahead = *rest; // "1 1/2"
    skip_blanks(&ahead);
    if (ahead.at > rest->at && value == floor(value) && take_digits(&ahead, false, &top) &&
        take_divisor(&ahead, &divisor)) {
        *rest = ahead;
        *out = value + top / divisor;
        return divisor > 0.0;
    }
    *out = value;
    return true;
}

// The unit's name as the table has it: small letters, single blanks, no dots, no "us" before it.
static void plain_name(const piece *from, char out[TEXT_MOST + 1])
{
    size_t length = 0;
    for (const char *at = from->at; at < from->end; at++) {
        bool blank = *at == ' ' || *at == '\t' || *at == '-';
        if (blank ? length > 0 && out[length - 1] != ' ' : *at != '.') {
            out[length++] = blank ? ' ' : *at >= 'A' && *at <= 'Z' ? (char)(*at + 32) : *at;
        }
    }
    while (length > 0 && out[length - 1] == ' ') {
        length--;
    }
    out[length] = 0;
    if (strncmp(out, "us ", 3) == 0) {
        memmove(out, out + 3, length - 2);
    }
    static const char square[] = "square ", sign[] = "\xc2\xb2"; // superscript two
    if (strncmp(out, square, sizeof square - 1) == 0) {
        memmove(out + 3, out + sizeof square - 1, strlen(out + sizeof square - 1) + 1);
        memcpy(out, "sq ", 3);
    }
    length = strlen(out);
    if (length >= 2 && strcmp(out + length - 2, sign) == 0) {
        memcpy(out + length - 2, "2", 2);
    }
}

static const unit *find_unit(const char *name)
{
    size_t length = strlen(name);
    for (size_t i = 0; i < sizeof units / sizeof *units; i++) {
        size_t own = strlen(units[i].name);
        bool plural = own > 1 && length == own + 1 && name[own] == 's'; // "ls" is none
        if ((length == own || plural) && strncmp(name, units[i].name, own) == 0) {
            return &units[i];
        }
    }
    return NULL;
}

// ---- One quantity ------------------------------------------------------------------

static hw_status refuse_number(const char *typed, kind wanted, const piece *rest, hw_error *err)
{
    bool comma = next_is(rest, ',');
    if (next_is(rest, '-')) {
        return hw_fail(err, HW_ERR_CALL, "quantity-size", typed, ask_for[wanted],
                       "this is less than nothing");
    }
    return hw_fail(err, HW_ERR_CALL, "quantity-number", typed,
                   comma ? "Write the number with a point, 1.5, or as a fraction, 1 1/2."
                         : ask_for[wanted],
                   comma ? "a comma may mean a point or thousands" : "there is no number in it");
}

static hw_status refuse_unit(const char *typed, kind wanted, const char *name, const unit *found,
                             hw_error *err)
{
    if (!name[0]) {
        return hw_fail(err, HW_ERR_CALL, "quantity-unit", typed, ask_for[wanted],
                       "the number has no unit");
    }
    if (found && found->of == KIND_WEIGHT && wanted == KIND_VOLUME && name[0] == 'o') {
        return hw_fail(err, HW_ERR_CALL, "quantity-unit", typed, "Write fl oz for a volume.",
                       "oz alone is a weight");
    }
    return hw_fail(err, HW_ERR_CALL, "quantity-unit", typed, ask_for[wanted],
                   found ? "%s is no unit of this" : "there is no unit called %s", name);
}

static hw_status check_size(const char *typed, kind wanted, double value, hw_error *err)
{
    if (value > 0.0 && value <= most[wanted]) {
        return HW_OK;
    }
    return hw_fail(err, HW_ERR_CALL, "quantity-size", typed, ask_for[wanted],
                   value > 0.0 ? "this is too much to be meant" : "this is nothing");
}

// Is there a number at all, and no comma in it?
static hw_status number_of(const char *typed, kind wanted, piece *rest, double *out, hw_error *err)
{
    skip_blanks(rest);
    bool good = take_number(rest, out);
    return good && !next_is(rest, ',') ? HW_OK : refuse_number(typed, wanted, rest, err);
}

// A number with a unit of that kind, and nothing else; a time may go without: minutes.
static hw_status quantity_of(const char *typed, piece rest, kind wanted, double *out, hw_error *err)
{
    double number;
    char name[TEXT_MOST + 1];
    hw_status status = number_of(typed, wanted, &rest, &number, err);
    if (status != HW_OK) {
        return status;
    }
    plain_name(&rest, name);
    const unit *found = find_unit(wanted == KIND_TIME && !name[0] ? "min" : name);
    if (!found || found->of != wanted) {
        return refuse_unit(typed, wanted, name, found, err);
    }
    status = check_size(typed, wanted, number * found->size, err);
    if (status == HW_OK) {
        *out = number * found->size;
    }
    return status;
}

static hw_status whole_text(const char *text, kind wanted, piece *out, hw_error *err)
{
    size_t length = strlen(text);
    *out = (piece){text, text + length};
    return length <= TEXT_MOST && hw_is_utf8(text, length)
               ? HW_OK
               : hw_fail(err, HW_ERR_CALL, "quantity-number", text, ask_for[wanted],
                         "this is no quantity");
}

static hw_status parse_one(const char *text, kind wanted, double *out, hw_error *err)
{
    piece all;
    hw_status status = whole_text(text, wanted, &all, err);
    return status == HW_OK ? quantity_of(text, all, wanted, out, err) : status;
}

hw_status hw_parse_volume(const char *text, double *ml, hw_error *err)
{
    return parse_one(text, KIND_VOLUME, ml, err);
}

hw_status hw_parse_weight(const char *text, double *g, hw_error *err)
{
    return parse_one(text, KIND_WEIGHT, g, err);
}

hw_status hw_parse_length(const char *text, double *mm, hw_error *err)
{
    return parse_one(text, KIND_LENGTH, mm, err);
}

hw_status hw_parse_minutes(const char *text, double *minutes, hw_error *err)
{
    return parse_one(text, KIND_TIME, minutes, err);
}

double hw_fl_oz(double ml)
{
    return ml / (GALLON / 128.0);
}

double hw_ounces(double g)
{
    return g / (POUND / 16.0);
}

// ---- Two sides ---------------------------------------------------------------------

// Where the sides are parted: an x, or the sign of multiplication. NULL: nowhere.
static const char *find_times(const char *text, const char **behind)
{
    static const char sign[] = "\xc3\x97";
    const char *at = strpbrk(text, "xX*"), *signed_at = strstr(text, sign);
    *behind = at ? at + 1 : signed_at ? signed_at + 2 : NULL;
    return at ? at : signed_at;
}

hw_status hw_parse_sides(const char *text, double mm[2], hw_error *err)
{
    piece all;
    const char *behind;
    double side[2];
    hw_status status = whole_text(text, KIND_LENGTH, &all, err);
    if (status != HW_OK) {
        return status;
    }
    const char *times = find_times(text, &behind);
    if (!times) {
        return hw_fail(err, HW_ERR_CALL, "quantity-number", text,
                       "Write both sides with an x between them: 86x54 mm.",
                       "there are no two sides in it");
    }
    piece one = {text, times}, other = {behind, all.end}, bare = one;
    status = quantity_of(text, other, KIND_LENGTH, &side[1], err);
    if (status == HW_OK) {
        status = number_of(text, KIND_LENGTH, &bare, &side[0], err);
    }
    skip_blanks(&bare);
    if (status == HW_OK && bare.at == bare.end) { // the unit of the other side holds for it
        double number;
        char name[TEXT_MOST + 1];
        status = number_of(text, KIND_LENGTH, &other, &number, err);
        plain_name(&other, name);
        side[0] *= find_unit(name)->size;
    } else if (status == HW_OK) {
        status = quantity_of(text, one, KIND_LENGTH, &side[0], err);
    }
    for (int i = 0; i < 2 && status == HW_OK; i++) {
        status = check_size(text, KIND_LENGTH, side[i], err);
    }
    if (status == HW_OK) {
        mm[0] = side[0];
        mm[1] = side[1];
    }
    return status;
}

hw_status hw_parse_area(const char *text, double *cm2, hw_error *err)
{
    const char *behind;
    double mm[2];
    if (!find_times(text, &behind)) {
        return parse_one(text, KIND_AREA, cm2, err);
    }
    hw_status status = hw_parse_sides(text, mm, err);
    if (status == HW_OK) {
        status = check_size(text, KIND_AREA, mm[0] * mm[1] / 100.0, err);
    }
    if (status == HW_OK) {
        *cm2 = mm[0] * mm[1] / 100.0;
    }
    return status;
}

// ---- How a liquid was made ---------------------------------------------------------

typedef enum relation {
    RELATION_NONE = 0,
    RELATION_IN,  // in so much of the finished liquid
    RELATION_PER, // the same; the second number may be missing
    RELATION_TO,  // added to so much thinner
} relation;

static hw_status refuse_made(const char *typed, const char *what, hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "made-words", typed,
                   "Write it as 15 drops in 4 fl oz, 5 ml in 100 ml, 0.5 %, 1 part in 20 (of the "
                   "finished liquid), 1 part to 20 (of thinner), 30 g/l, 1 oz in 1 qt or 2 lb cut.",
                   "%s", what);
}

// Splits at the first "in", "to", "per" that is a word of its own, or at a slash behind a unit.
static relation split(piece all, piece *one, piece *other)
{
    static const struct {
        const char *word;
        relation is;
    } words[] = {{" in ", RELATION_IN}, {" to ", RELATION_TO}, {" per ", RELATION_PER}};
    for (const char *at = all.at; at < all.end; at++) {
        for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
            if (strncmp(at, words[i].word, strlen(words[i].word)) == 0) {
                *one = (piece){all.at, at};
                *other = (piece){at + strlen(words[i].word), all.end};
                return words[i].is;
            }
        }
        const char *before = at;
        while (*at == '/' && before > all.at && before[-1] == ' ') {
            before--;
        }
        if (*at == '/' && before > all.at && !is_digit(before[-1])) {
            *one = (piece){all.at, at};
            *other = (piece){at + 1, all.end};
            return RELATION_PER;
        }
    }
    *one = all;
    return RELATION_NONE;
}

// The kind of unit that a piece ends in; KIND_COUNT: none known.
static kind kind_of(piece rest)
{
    double ignored;
    char name[TEXT_MOST + 1];
    take_number(&rest, &ignored);
    plain_name(&rest, name);
    const unit *found = find_unit(name);
    return found ? found->of : KIND_COUNT;
}

// "20", "20 parts".
static hw_status parts_of(const char *typed, piece rest, double *out, hw_error *err)
{
    piece bare = rest;
    double number;
    hw_status status = number_of(typed, KIND_PART, &bare, &number, err);
    skip_blanks(&bare);
    if (status == HW_OK && bare.at == bare.end) {
        status = check_size(typed, KIND_PART, number, err);
        *out = number;
        return status;
    }
    return status == HW_OK ? quantity_of(typed, rest, KIND_PART, out, err) : status;
}

// The liquid that it was made in; "l" is 1 l behind "per" and a slash.
static hw_status liquid_of(const char *typed, piece rest, relation is, double *ml, hw_error *err)
{
    skip_blanks(&rest);
    if (is == RELATION_PER && rest.at < rest.end && !is_digit(*rest.at)) {
        char name[TEXT_MOST + 1];
        plain_name(&rest, name);
        const unit *found = find_unit(name);
        if (!found || found->of != KIND_VOLUME) {
            return refuse_unit(typed, KIND_VOLUME, name, found, err);
        }
        *ml = found->size;
        return HW_OK;
    }
    return quantity_of(typed, rest, KIND_VOLUME, ml, err);
}

// "2 lb cut", "2-pound cut": pounds in a US gallon.
static bool is_cut(piece all, double *g_l)
{
    double number;
    char name[TEXT_MOST + 1];
    if (!take_number(&all, &number)) {
        return false;
    }
    plain_name(&all, name);
    bool cut = strcmp(name, "lb cut") == 0 || strcmp(name, "pound cut") == 0 ||
               strcmp(name, "lbs cut") == 0;
    *g_l = cut ? number * POUND / (GALLON / 1000.0) : *g_l;
    return cut;
}

static bool is_percent(piece all, double *share)
{
    double number;
    if (!take_number(&all, &number) || next_is(&all, ',')) {
        return false;
    }
    skip_blanks(&all);
    bool percent = next_is(&all, '%') && all.at + 1 == all.end;
    *share = percent ? number / 100.0 : *share;
    return percent;
}

static hw_status made_of_two(const char *typed, piece one, piece other, relation is, hw_made *out,
                             hw_error *err)
{
    double amount = 0.0, liquid = 0.0;
    kind of = kind_of(one);
    hw_status status =
        of == KIND_PART
            ? parts_of(typed, one, &amount, err)
            : quantity_of(typed, one, of == KIND_WEIGHT ? KIND_WEIGHT : KIND_VOLUME, &amount, err);
    if (status == HW_OK) {
        status = of == KIND_PART ? parts_of(typed, other, &liquid, err)
                                 : liquid_of(typed, other, is, &liquid, err);
    }
    if (status == HW_OK && of == KIND_WEIGHT) {
        out->g_l = amount / liquid * 1000.0;
    } else if (status == HW_OK) {
        out->share = amount / (is == RELATION_TO ? liquid + amount : liquid);
    }
    return status;
}

static hw_status check_made(const char *typed, const hw_made *made, hw_error *err)
{
    if (made->share > 1.0) {
        return refuse_made(typed, "this is more concentrate than liquid", err);
    }
    if (made->g_l > HW_MADE_MOST_G_L) {
        return refuse_made(typed, "this is more powder than such a liquid takes", err);
    }
    return made->share > 0.0 || made->g_l > 0.0
               ? HW_OK
               : hw_fail(err, HW_ERR_CALL, "quantity-size", typed,
                         "Write how much concentrate or powder it holds: 0.5 %.",
                         "this is nothing");
}

hw_status hw_parse_made(const char *text, hw_made *out, hw_error *err)
{
    hw_made made = {.share = 0.0};
    piece all = {text, text + strlen(text)}, one, other = {NULL, NULL};
    skip_blanks(&all);
    while (all.end > all.at && all.end[-1] == ' ') {
        all.end--;
    }
    if ((size_t)(all.end - all.at) >= sizeof made.words) {
        return refuse_made(text, "this is too long", err);
    }
    memcpy(made.words, all.at, (size_t)(all.end - all.at));
    if (all.end > all.at && !hw_name_is_usable(made.words)) {
        return refuse_made(text, "this is no readable text", err);
    }
    relation is = split(all, &one, &other);
    hw_status status = HW_OK;
    if (is != RELATION_NONE) {
        status = made_of_two(text, one, other, is, &made, err);
    } else if (!is_percent(all, &made.share) && !is_cut(all, &made.g_l)) {
        double ignored;
        status = number_of(text, KIND_VOLUME, &all, &ignored, err); // a comma, no number
        status = status == HW_OK
                     ? refuse_made(text, "it does not say how much of what in how much liquid", err)
                     : status;
    }
    if (status == HW_OK) {
        status = check_made(text, &made, err);
    }
    if (status == HW_OK) {
        *out = made;
    }
    return status;
}
