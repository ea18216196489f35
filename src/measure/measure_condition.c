// measure_condition.c: what the file says of light, observer and instrument, and what follows for its
// colours. L*a*b* and X, Y, Z of another light or observer are not those of D50 and 2 degree, and no sum
// makes them so without the spectrum; they are adapted, and doubted as far as that was seen to err.
#include "measure_internal.h"

#include <math.h>

// ---- Words of light ----------------------------------------------------------------

static const char *const lights[] = {"D50", "D55", "D65", "D75", "F2",   "F7",  "F11", "TL84",
                                     "C",   "A",   "CWF", "E",   "TL83", "F12", NULL};

// A light by its name; single letters are none of them unless the keyword asks for a light.
static const char *find_light(const char *word, bool asked)
{
    for (size_t i = 0; lights[i]; i++) {
        bool single = lights[i][1] == 0;
        if (single ? asked && strcmp(word, lights[i]) == 0 : hw_same_letters(word, lights[i])) {
            return lights[i];
        }
    }
    return NULL;
}

// "2", "2deg", "2degree", "2°" as far as its letters go; "1931" and "1964" name the observers too.
static hw_observer find_observer(const char *word, bool asked)
{
    static const char *const two[] = {"2deg", "2degree", "2degrees", "1931", NULL};
    static const char *const ten[] = {"10deg", "10degree", "10degrees", "1964", NULL};
    if (asked && (strcmp(word, "2") == 0 || strcmp(word, "2.0") == 0)) {
        return HW_OBSERVER_2;
    }
    if (asked && (strcmp(word, "10") == 0 || strcmp(word, "10.0") == 0)) {
        return HW_OBSERVER_10;
    }
    for (size_t i = 0; two[i]; i++) {
        if (hw_same_letters(word, two[i])) {
            return HW_OBSERVER_2;
        }
        if (hw_same_letters(word, ten[i])) {
            return HW_OBSERVER_10;
        }
    }
    return HW_OBSERVER_UNSAID;
}

bool hw_measure_is_light_word(const char *word)
{
    return find_light(word, false) || find_observer(word, true) != HW_OBSERVER_UNSAID;
}

// ---- What is said ------------------------------------------------------------------

typedef struct said {
    const char *light; // NULL: not yet
    hw_observer observer;
    bool torn; // the file says two things
} said;

static void take_light(said *known, const char *light)
{
    known->torn = known->torn || (known->light && light && known->light != light);
    known->light = known->light ? known->light : light;
}

static void take_observer(said *known, hw_observer observer)
{
    known->torn = known->torn || (known->observer && observer && known->observer != observer);
    known->observer = known->observer ? known->observer : observer;
}

// Each word of a text: is it a light, an observer?
static void scan(said *known, const char *text, bool light_asked, bool observer_asked)
{
    char word[24];
    while (*text) {
        size_t letters = strspn(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
                                      "0123456789.");
        if (letters > 0 && letters < sizeof word) {
            memcpy(word, text, letters);
            word[letters] = 0;
            // "2 degree", "10°": the number counts where its unit follows.
            const char *behind = text + letters + strspn(text + letters, " -");
            bool unit = strncmp(behind, "\xc2\xb0", 2) == 0 || strncmp(behind, "deg", 3) == 0 ||
                        strncmp(behind, "Deg", 3) == 0 || strncmp(behind, "DEG", 3) == 0;
            take_light(known, find_light(word, light_asked));
            take_observer(known, find_observer(word, observer_asked || unit));
        }
        text += letters + (text[letters] != 0);
    }
}

// "... Illumination=D50 ObserverAngle=2 ..." within one value.
static void scan_assigned(said *known, const char *text, const char *name, bool light)
{
    const char *at = strstr(text, name);
    char value[16];
    if (at) {
        at += strlen(name);
        size_t letters = strcspn(at, " \t,;");
        if (letters < sizeof value) {
            memcpy(value, at, letters);
            value[letters] = 0;
            scan(known, value, light, !light);
        }
    }
}

// "ILLUMINANT, D50; OBSERVER, 2 degree".
static void scan_weights(said *known, const char *value)
{
    char piece[160];
    for (const char *at = value; *at;) {
        size_t length = strcspn(at, ";");
        size_t blanks = strspn(at, " ");
        if (length > blanks && length - blanks < sizeof piece) {
            memcpy(piece, at + blanks, length - blanks);
            piece[length - blanks] = 0;
            bool light = strncmp(piece, "ILL", 3) == 0 || strncmp(piece, "Ill", 3) == 0;
            bool observer = strncmp(piece, "OBS", 3) == 0 || strncmp(piece, "Obs", 3) == 0;
            scan(known, piece, light, observer);
        }
        at += length + (at[length] != 0);
    }
}

static bool name_holds(const char *name, const char *part)
{
    char plain[HW_NAME_SIZE], wanted[HW_NAME_SIZE];
    hw_measure_plain_name(name, plain, sizeof plain, NULL);
    hw_measure_plain_name(part, wanted, sizeof wanted, NULL);
    return strstr(plain, wanted) != NULL;
}

static void scan_keywords(said *known, const hw_table *table)
{
    for (size_t i = 0; i < hw_table_keywords(table); i++) {
        const char *name, *value;
        hw_table_keyword_at(table, i, &name, &value);
        bool light = name_holds(name, "illuminant") || name_holds(name, "illumination name");
        bool observer = name_holds(name, "observer");
        if (light || observer) {
            scan(known, value, light, observer);
        } else if (hw_same_letters(name, "WEIGHTING_FUNCTION")) {
            scan_weights(known, value);
        } else if (hw_same_letters(name, "MEASUREMENT_SOURCE")) {
            // By itself it is the instrument's lamp, not the light of its sums.
            scan_assigned(known, value, "Illumination=", true);
            scan_assigned(known, value, "Illuminant=", true);
            scan_assigned(known, value, "ObserverAngle=", false);
            scan_assigned(known, value, "Observer=", false);
        }
    }
}

static void scan_column(said *known, const hw_table *table, size_t column)
{
    for (size_t row = 0; column != HW_NO_COLUMN && row < hw_table_rows(table); row++) {
        scan(known, hw_table_cell(table, row, column), true, true);
    }
}

// ---- Facts -------------------------------------------------------------------------

// A text of the file for people: no control characters, cut to its size.
static void copy_clean(char *out, size_t size, const char *from)
{
    hw_copy_text(out, size, from ? from : "");
    for (char *at = out; *at; at++) {
        *at = (unsigned char)*at < 0x20 || *at == 0x7f ? ' ' : *at;
    }
}

static const char *first_of(const hw_table *table, const char *const *names)
{
    for (; *names; names++) {
        const char *value = hw_table_keyword(table, *names);
        if (value && value[0]) {
            return value;
        }
    }
    return NULL;
}

// M0 to M3 of ISO 13655 as a word of a text.
static const char *find_mode(const char *text)
{
    for (const char *at = text; at && (at = strchr(at, 'M')) != NULL; at++) {
        bool starts = at == text || strchr(" \t=,;(/", at[-1]);
        if (starts && at[1] >= '0' && at[1] <= '3' && strchr(" \t,;)/", at[2])) {
            return at;
        }
    }
    return NULL;
}

static void find_facts(const hw_table *table, hw_measured *out)
{
    static const char *const instrument[] = {"INSTRUMENTATION", "INSTRUMENT", "TARGET_INSTRUMENT",
                                             "DEVICE",          "Model",      NULL};
    static const char *const created[] = {"CREATED", "DATE", NULL};
    static const char *const geometry[] = {"MEASUREMENT_CONDITION", "MEASUREMENT_GEOMETRY",
                                           "GEOMETRY", NULL};
    static const char *const modes[] = {"MEASUREMENT_CONDITION", "MEASUREMENT_SOURCE",
                                        "MEASUREMENT_MODE", "FILTER", NULL};
    copy_clean(out->instrument, sizeof out->instrument, first_of(table, instrument));
    copy_clean(out->originator, sizeof out->originator, hw_table_keyword(table, "ORIGINATOR"));
    copy_clean(out->created, sizeof out->created, first_of(table, created));
    copy_clean(out->condition, sizeof out->condition, first_of(table, geometry));
    for (size_t i = 0; modes[i]; i++) {
        const char *value = hw_table_keyword(table, modes[i]);
        const char *mode = value ? find_mode(value) : NULL;
        if (mode) {
            hw_copy_text(out->condition, 3, mode);
            return;
        }
    }
}

void hw_measure_find_condition(const hw_table *table, const hw_measure_columns *columns,
                               hw_measured *out, hw_measure_condition *condition)
{
    said known = {0};
    find_facts(table, out);
    scan_keywords(&known, table);
    scan(&known, columns->said, false, true);
    scan_column(&known, table, columns->illuminant);
    scan_column(&known, table, columns->observer);
    *condition = (hw_measure_condition){
        .white = hw_white_d50, .observer = known.observer, .torn = known.torn};
    if (known.light) {
        condition->illuminant = strcmp(known.light, "D50") == 0   ? HW_ILLUMINANT_D50
                                : strcmp(known.light, "D65") == 0 ? HW_ILLUMINANT_D65
                                                                  : HW_ILLUMINANT_OTHER;
    }
    if (known.light && !known.torn) {
        hw_copy_text(out->illuminant, sizeof out->illuminant, known.light);
    }
    if (known.observer && !known.torn) {
        hw_copy_text(out->observer, sizeof out->observer,
                     known.observer == HW_OBSERVER_2 ? "2 degree" : "10 degree");
    }
}

// ---- What follows ------------------------------------------------------------------

// Whites of CIE 15:2018, table of illuminants, Y = 1: [D65?][10 degree?]. That of D50 and 2 degree is the
// white of this program.
static const hw_xyz whites[2][2] = {{{0.9642, 1.0, 0.8249}, {0.9672, 1.0, 0.8143}},
                                    {{0.9504, 1.0, 1.0888}, {0.9481, 1.0, 1.0732}}};

// By how much L*, a*, b* adapted from D65 missed those summed from the spectrum under D50, root mean square: 0.2, 0.9,
// 0.1 on 54 pale woods, 0.5, 1.7, 0.8 on 7 earth pigments. Those of the 10 degree observer: 0.5, 0.6, 0.1 and 0.6,
// 2.9, 0.7. It is a* that suffers: browns rise towards the red, where lights and observers differ most.
// Chosen between them.
static const double u_light[3] = {0.3, 1.5, 0.5};
static const double u_observer[3] = {0.5, 1.5, 0.5};

static void widen(hw_measured *out, const double u[3])
{
    for (int k = 0; k < 3; k++) {
        out->u_conversion[k] = sqrt(out->u_conversion[k] * out->u_conversion[k] + u[k] * u[k]);
    }
}

hw_status hw_measure_use_condition(hw_measure_condition *condition, const char *name,
                                   hw_measured *out, hw_error *err)
{
    bool d65 = condition->illuminant == HW_ILLUMINANT_D65;
    bool ten = condition->observer == HW_OBSERVER_10;
    if (condition->torn) {
        return hw_fail(err, HW_ERR_INPUT, "measure-light", name,
                       "Export the readings of one illuminant and observer alone: D50, 2 degree.",
                       "it names more than one illuminant or observer, and does not say which of "
                       "them its colours belong to");
    }
    if (condition->illuminant == HW_ILLUMINANT_OTHER) {
        return hw_fail(err, HW_ERR_INPUT, "measure-light", name,
                       "Set the instrument to D50 and the 2 degree observer and export again, or "
                       "export spectra: those serve whatever it is set to.",
                       "its colours are those under illuminant %s, which nothing but a spectrum "
                       "carries to D50",
                       out->illuminant);
    }
    if (condition->illuminant == HW_ILLUMINANT_UNSAID) {
        hw_warn(&out->warnings,
                "The file does not say under which illuminant its colours are: taken as D50, as "
                "ISO 13655 asks. If the instrument is set to D65, set it to D50 and export again.");
    }
    if (d65) {
        hw_warn(&out->warnings,
                "The colours are those under D65, adapted to D50 by Bradford: near, not exact; on "
                "browns a* may miss by 1 to 3. Set the instrument to D50, or export spectra.");
        widen(out, u_light);
    }
    if (ten) {
        hw_warn(&out->warnings,
                "The colours are those of the 10 degree observer: near, not exact; on browns a* "
                "may miss by 1 to 3. Set the instrument to 2 degree, or export spectra.");
        widen(out, u_observer);
    }
    condition->white = whites[d65][ten];
    return HW_OK;
}

// The observer cannot be changed without the spectrum: what is grey for one is taken as grey for the other.
hw_lab hw_measure_to_d50(const hw_measure_condition *condition, hw_lab colour)
{
    if (condition->illuminant != HW_ILLUMINANT_D65) {
        return colour;
    }
    hw_xyz xyz = hw_xyz_from_lab(colour, whites[1][0]);
    return hw_lab_from_xyz(hw_adapt_bradford(xyz, whites[1][0], hw_white_d50), hw_white_d50);
}
