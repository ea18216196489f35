// measure_csv.c: CSV of any writer to a table. Quotes by RFC 4180 (a cell in double quotes may hold
// separators, line ends and doubled quotes); separated by comma, semicolon or tab. The header is the
// first line whose names are those of colours under one of the three; what stands above it, as
// instruments write it, is kept as keywords.
#include "measure_internal.h"

#define HEADER_LINES_MOST 100 // lines in which the header is looked for

typedef struct csv {
    const char *at; // the text ends in 0
    size_t line;    // of `at`, from 1
    char separator;
    char cell[HW_TABLE_TEXT_MOST + 1];
    size_t length;
    const char *fault; // NULL, or what is wrong
} csv;

// ---- Cells -------------------------------------------------------------------------

static void add_letter(csv *state, char letter)
{
    if (state->length < HW_TABLE_TEXT_MOST) {
        state->cell[state->length++] = letter;
        state->cell[state->length] = 0;
    } else {
        state->fault = "a cell of it is too long";
    }
}

static bool ends_line(char letter)
{
    return letter == 0 || letter == '\n' || letter == '\r';
}

static void take_quoted(csv *state)
{
    for (state->at++; *state->at; state->at++) {
        if (*state->at == '"') {
            state->at++;
            if (*state->at != '"') {
                return;
            }
        }
        bool second_half = *state->at == '\n' && state->at[-1] == '\r';
        state->line += (*state->at == '\r' || *state->at == '\n') && !second_half;
        add_letter(state, *state->at);
    }
    state->fault = "a quote is opened and not closed";
}

// The next cell, blanks around it left out; returns whether another one follows on the line.
static bool next_cell(csv *state)
{
    state->length = 0;
    state->cell[0] = 0;
    while (*state->at == ' ' || (*state->at == '\t' && state->separator != '\t')) {
        state->at++;
    }
    if (*state->at == '"') {
        take_quoted(state);
        while (*state->at == ' ') {
            state->at++;
        }
        if (!state->fault && *state->at != state->separator && !ends_line(*state->at)) {
            state->fault = "a text goes on behind its closing quote";
        }
    }
    while (*state->at != state->separator && !ends_line(*state->at)) {
        add_letter(state, *state->at++);
    }
    while (state->length > 0 && state->cell[state->length - 1] == ' ') {
        state->cell[--state->length] = 0;
    }
    if (*state->at == state->separator && *state->at != 0) {
        state->at++;
        return true;
    }
    return false;
}

// Over the end of the line.
static void next_line(csv *state)
{
    state->at += state->at[0] == '\r' && state->at[1] == '\n' ? 2 : state->at[0] != 0;
    state->line++;
}

static hw_status refuse(const csv *state, size_t line, const char *name, hw_error *err)
{
    bool length = strstr(state->fault, "long") != NULL;
    return hw_fail(err, HW_ERR_INPUT, length ? "table-large" : "table-damaged", name,
                   "Let the instrument's program write the file again, or mend that line.",
                   "line %zu: %s", line, state->fault);
}

// ---- The header --------------------------------------------------------------------

// Its names as fields of `out`, where they name colours, and whether they name some of one.
static bool is_header(csv *state, hw_table *out, bool *some)
{
    hw_measure_columns columns;
    for (bool more = true; more && !state->fault && out->field.count < HW_TABLE_FIELDS_MOST;) {
        more = next_cell(state);
        hw_table_add_field(out, state->cell);
    }
    hw_measure_find_columns(out, &columns);
    *some = hw_measure_has_some(&columns);
    return !state->fault && ends_line(*state->at) && hw_measure_has_colours(&columns);
}

// Looks for the header from `state` on under each separator; on success `state` stands behind it and the
// fields are in `out`; it begins at *start. *half: there is none, but a line that names some of a colour.
static bool find_header(csv *state, hw_table *out, const char **start, bool *half)
{
    static const char separators[] = {'\t', ';', ','};
    bool some = false;
    *start = state->at;
    for (size_t lines = 0; *state->at && lines < HEADER_LINES_MOST; lines++) {
        for (size_t i = 0; i < sizeof separators; i++) {
            csv attempt = *state;
            attempt.separator = separators[i];
            if (is_header(&attempt, out, &some)) {
                *start = state->at;
                *state = attempt;
                next_line(state);
                return true;
            }
            if (out->failed) {
                return false;
            }
            *half = *half || some;
            out->field.count = 0;
        }
        state->at += strcspn(state->at, "\r\n");
        next_line(state);
    }
    return false;
}

// "Instrument;..." and "Observer: 2 degree" above the header.
static void take_preamble(const char *text, const char *header, char separator, hw_table *out)
{
    char name[HW_NAME_SIZE], value[HW_TABLE_TEXT_MOST + 1];
    while (text < header && hw_table_keywords(out) < HW_TABLE_KEYWORDS_MOST) {
        size_t length = strcspn(text, "\r\n");
        size_t name_length = strcspn(text, ";:=\t,");
        if (name_length < length && name_length > 0 && name_length < sizeof name &&
            length - name_length < sizeof value) {
            memcpy(name, text, name_length);
            name[name_length] = 0;
            memcpy(value, text + name_length + 1, length - name_length - 1);
            value[length - name_length - 1] = 0;
            for (char *at = value; *at; at++) {
                *at = *at == separator || *at == '"' ? ' ' : *at;
            }
            hw_table_add_keyword(out, name, value + strspn(value, " "));
        }
        text += length;
        text += text[0] == '\r' && text[1] == '\n' ? 2 : text[0] != 0;
    }
}

// ---- Rows --------------------------------------------------------------------------

static hw_status refuse_cells(const hw_table *out, size_t line, size_t cells, const char *name,
                              hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "table-damaged", name,
                   "Mend that line, or let the instrument's program write the file again.",
                   "line %zu has %zu cells where the header names %zu", line, cells,
                   hw_table_fields(out));
}

static hw_status take_row(csv *state, hw_table *out, const char *name, hw_error *err)
{
    size_t fields = hw_table_fields(out), line = state->line, cells = 0, filled = 0;
    for (bool more = true; more;) {
        more = next_cell(state);
        cells++;
        if (state->fault) {
            return refuse(state, line, name, err);
        }
        filled = state->length > 0 ? cells : filled;
        if (cells <= fields) {
            hw_table_add_cell(out, state->cell);
        }
    }
    next_line(state);
    if (filled == 0) { // an empty line
        out->cell.count = hw_table_rows(out) * fields;
        return HW_OK;
    }
    if (filled > fields) {
        return refuse_cells(out, line, cells, name, err);
    }
    if (hw_table_rows(out) == HW_TABLE_ROWS_MOST) {
        return hw_fail(err, HW_ERR_INPUT, "table-large", name, "Split the file into smaller ones.",
                       "it has more than %d rows", HW_TABLE_ROWS_MOST);
    }
    hw_table_end_row(out, line);
    return HW_OK;
}

hw_status hw_measure_csv(const char *text, const char *name, hw_table *out, bool *comma,
                         hw_error *err)
{
    csv *state = hw_alloc_array(1, sizeof *state);
    hw_table made = {0};
    hw_status status = HW_OK;
    const char *start = text;
    bool half = false;
    if (!state) {
        return hw_fail_memory(err, "reading a table");
    }
    *state = (csv){.at = text, .line = 1};
    if (find_header(state, &made, &start, &half)) {
        take_preamble(text, start, state->separator, &made);
    } else if (!made.failed) {
        status = hw_fail(err, HW_ERR_INPUT, "measure-columns", name,
                         "Export L*a*b* (D50, 2 degree) with a line that names the columns, as "
                         "name,L*,a*,b*; X,Y,Z or spectra will do too.",
                         half ? "one or two of the three columns of a colour are missing"
                              : "no line of it names columns of a colour that huewright reads");
    }
    while (status == HW_OK && !made.failed && *state->at) {
        status = take_row(state, &made, name, err);
    }
    if (status == HW_OK && made.failed) {
        status = hw_fail_memory(err, "reading a table");
    }
    *comma = state->separator != ',';
    hw_free(state);
    if (status != HW_OK) {
        hw_table_free(&made);
        return status;
    }
    *out = made;
    return HW_OK;
}
