// measure_columns.c: which column holds what. Names are compared without their dressing: letters
// alike, without blanks, stars, signs and what stands in brackets, and without words of light and
// observer, which are kept aside.
#include "measure_internal.h"

#include <math.h>

// ---- Plain names -------------------------------------------------------------------

static bool is_name_letter(char letter)
{
    return (letter >= 'a' && letter <= 'z') || (letter >= 'A' && letter <= 'Z') ||
           (letter >= '0' && letter <= '9') || letter == '.';
}

static void add_said(char *said, const char *word)
{
    size_t length = said ? strlen(said) : 0;
    if (said && length + 1 < 160) {
        said[length] = ' ';
        hw_copy_text(said + length + 1, 160 - length - 1, word);
    }
}

void hw_measure_plain_name(const char *name, char *out, size_t size, char *said)
{
    char word[HW_NAME_SIZE];
    size_t length = 0;
    int depth = 0;
    while (*name) {
        size_t letters = 0;
        while (is_name_letter(*name)) {
            if (letters + 1 < sizeof word) {
                word[letters++] = *name;
            }
            name++;
        }
        word[letters] = 0;
        if (letters > 0 && hw_measure_is_light_word(word)) {
            add_said(said, word);
        } else if (depth == 0) {
            for (size_t i = 0; i < letters && length + 1 < size; i++) {
                bool upper = word[i] >= 'A' && word[i] <= 'Z';
                out[length++] = upper ? (char)(word[i] - 'A' + 'a') : word[i];
            }
        }
        depth += *name == '(' || *name == '[';
        depth -= depth > 0 && (*name == ')' || *name == ']');
        name += *name != 0;
    }
    out[length] = 0;
}

static bool is_one_of(const char *word, const char *const *list)
{
    for (; *list; list++) {
        if (strcmp(word, *list) == 0) {
            return true;
        }
    }
    return false;
}

// ---- Wavelengths -------------------------------------------------------------------

// "spectral_nm380", "SPECTRAL_380", "nm380", "SPEC_380", "R_380 nm", "380": all plain by now. 0: none.
static double wavelength_of(const char *plain)
{
    static const char *const before[] = {"",       "spectralnm", "spectral", "nm",          "spec",
                                         "specnm", "r",          "refl",     "reflectance", NULL};
    char head[24], number[24];
    size_t letters = strcspn(plain, "0123456789");
    size_t digits = strspn(plain + letters, "0123456789.");
    const char *behind = plain + letters + digits;
    double nm = 0.0;
    if (letters >= sizeof head || digits >= sizeof number ||
        (strcmp(behind, "") != 0 && strcmp(behind, "nm") != 0)) {
        return 0.0;
    }
    memcpy(head, plain, letters);
    head[letters] = 0;
    memcpy(number, plain + letters, digits);
    number[digits] = 0;
    bool good = is_one_of(head, before) && hw_parse_number(number, false, &nm);
    return good && nm >= 200.0 && nm <= 2500.0 ? nm : 0.0;
}

// Keeps the bands in the order of their wavelengths.
static void add_band(hw_measure_columns *out, double nm, size_t field)
{
    if (out->band_count == HW_BANDS_MOST) {
        return;
    }
    size_t at = out->band_count++;
    for (; at > 0 && out->wavelength[at - 1] > nm; at--) {
        out->wavelength[at] = out->wavelength[at - 1];
        out->band[at] = out->band[at - 1];
    }
    out->wavelength[at] = nm;
    out->band[at] = field;
}

// ---- Finding -----------------------------------------------------------------------

static const char *const lab_names[3][6] = {{"l", "labl", "ciel", "cielabl", "lstar", NULL},
                                            {"a", "laba", "ciea", "cielaba", "astar", NULL},
                                            {"b", "labb", "cieb", "cielabb", "bstar", NULL}};
static const char *const xyz_names[3][4] = {
    {"x", "xyzx", "ciex", NULL}, {"y", "xyzy", "ciey", NULL}, {"z", "xyzz", "ciez", NULL}};
static const char *const error_names[3][2] = {{"sel", NULL}, {"sea", NULL}, {"seb", NULL}};
static const char *const sample_names[HW_NAME_COLUMNS][8] = {
    {"samplename", "name", "sample", "label", "title", NULL},
    {"sampleid", "id", "no", "nr", "number", NULL},
    {"sampleloc", "samplelocation", "loc", "location", NULL}};
static const char *const illuminant_names[] = {"illuminant", "light", "lightsource", NULL};
static const char *const observer_names[] = {"observer", "observerangle", NULL};

// A bare letter is told by its case: X, Y, Z are colours and x, y, z chromaticities; the b of L*a*b* goes
// before the B of R, G, B.
static bool is_small(const char *name)
{
    while (*name && !is_name_letter(*name)) {
        name++;
    }
    return *name >= 'a' && *name <= 'z';
}

static void take(size_t *column, size_t field, bool better)
{
    if (*column == HW_NO_COLUMN || better) {
        *column = field;
    }
}

static void take_colour(hw_measure_columns *out, const char *name, const char *plain, size_t field)
{
    bool bare = plain[1] == 0;
    for (size_t k = 0; k < 3; k++) {
        if (is_one_of(plain, lab_names[k])) {
            bool small_before_large = bare && k > 0 && is_small(name);
            take(&out->lab[k], field, small_before_large && out->lab[k] != HW_NO_COLUMN);
        }
        if (is_one_of(plain, xyz_names[k]) && !(bare && is_small(name))) {
            take(&out->xyz[k], field, false);
        }
        if (is_one_of(plain, error_names[k])) {
            take(&out->error[k], field, false);
        }
    }
}

void hw_measure_find_columns(const hw_table *table, hw_measure_columns *out)
{
    *out = (hw_measure_columns){.illuminant = HW_NO_COLUMN, .observer = HW_NO_COLUMN};
    for (size_t k = 0; k < 3; k++) {
        out->lab[k] = out->xyz[k] = out->error[k] = out->name[k] = HW_NO_COLUMN;
    }
    char said[160] = "";
    for (size_t field = 0; field < hw_table_fields(table); field++) {
        const char *name = hw_table_field(table, field);
        char plain[HW_NAME_SIZE], words[160] = "";
        hw_measure_plain_name(name, plain, sizeof plain, words);
        take_colour(out, name, plain, field);
        for (size_t k = 0; k < HW_NAME_COLUMNS; k++) {
            if (is_one_of(plain, sample_names[k])) {
                take(&out->name[k], field, false);
            }
        }
        if (is_one_of(plain, illuminant_names)) {
            take(&out->illuminant, field, false);
        } else if (is_one_of(plain, observer_names)) {
            take(&out->observer, field, false);
        } else if (wavelength_of(plain) > 0.0) {
            add_band(out, wavelength_of(plain), field);
        } else if (words[0] && !said[0]) {
            hw_copy_text(said, sizeof said, words);
        }
    }
    hw_copy_text(out->said, sizeof out->said, said);
}

// ---- Is it enough? -----------------------------------------------------------------

static size_t found(const size_t column[3])
{
    size_t count = 0;
    for (int k = 0; k < 3; k++) {
        count += column[k] != HW_NO_COLUMN;
    }
    return count;
}

bool hw_measure_has_colours(const hw_measure_columns *columns)
{
    return found(columns->lab) == 3 || found(columns->xyz) == 3 || columns->band_count >= 2;
}

bool hw_measure_has_some(const hw_measure_columns *columns)
{
    return found(columns->lab) > 1 || found(columns->xyz) > 1;
}

hw_status hw_measure_check_columns(const hw_measure_columns *columns, const char *name,
                                   hw_error *err)
{
    char room[160];
    if (found(columns->lab) == 3 || found(columns->xyz) == 3) {
        return HW_OK;
    }
    if (columns->band_count >= 2) {
        const char *fault =
            hw_measure_spectrum_fault(columns->wavelength, columns->band_count, room, sizeof room);
        if (!fault) {
            return HW_OK;
        }
        return hw_fail(err, HW_ERR_INPUT, "measure-columns", name,
                       "Export the spectrum from at most 400 to at least 700 nm every 5, 10 or 20 "
                       "nm, or L*a*b* under D50 for the 2 degree observer.",
                       "its spectrum cannot be used: %s", fault);
    }
    if (hw_measure_has_some(columns)) {
        return hw_fail(err, HW_ERR_INPUT, "measure-columns", name,
                       "Export all three of L*, a*, b* or of X, Y, Z.",
                       "one or two of the three columns of a colour are missing");
    }
    return hw_fail(err, HW_ERR_INPUT, "measure-columns", name,
                   "Export L*a*b* (D50, 2 degree) with a line that names the columns, as "
                   "name,L*,a*,b*; X,Y,Z or spectra will do too.",
                   "no column of it holds a colour that huewright reads");
}
