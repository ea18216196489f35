// base_cgats_text.c: CGATS.17 / ISO 28178 text of any writer to a text that LittleCMS' reader can be
// trusted with. All that writers do in their own way is gone from it (blanks or tabs, missing KEYWORD
// lines or counts, names without quotes, comments, CR); what is ambiguous is refused with its line.
//
// A line at a time: the head of a table (type, keywords), its format (names of fields), its data. What
// comes out is a type line, every keyword declared and in quotes, the fields, the numbers of fields and
// rows as they were counted, and each cell in quotes, a row a line.
#include "base_cgats.h"

#define IDENTIFIER_MOST 120 // LittleCMS cuts at 127

// ---- Words -------------------------------------------------------------------------

static bool is_blank(char letter)
{
    return letter == ' ' || letter == '\t';
}

static bool is_digit(char letter)
{
    return letter >= '0' && letter <= '9';
}

typedef enum word_kind {
    WORD_NONE, // the line ends, or a comment begins
    WORD_THERE,
    WORD_OPEN, // a quote is not closed
    WORD_LONG,
} word_kind;

typedef struct word {
    char text[HW_TABLE_TEXT_MOST + 1];
    size_t length;
    bool quoted;
} word;

static bool add_letter(word *out, char letter)
{
    if (out->length == HW_TABLE_TEXT_MOST) {
        return false;
    }
    out->text[out->length++] = letter;
    out->text[out->length] = 0;
    return true;
}

// From an opening quote to its own closing one; a doubled quote stands for one.
static word_kind quoted_word(const char **at, const char *end, word *out)
{
    const char quote = **at, *from = *at + 1;
    for (; from < end; from++) {
        if (*from == quote && !(from + 1 < end && from[1] == quote)) {
            *at = from + 1;
            out->quoted = true;
            return *at == end || is_blank(**at) || **at == '#' ? WORD_THERE : WORD_OPEN;
        }
        from += *from == quote;
        if (!add_letter(out, *from)) {
            return WORD_LONG;
        }
    }
    return WORD_OPEN;
}

static word_kind plain_word(const char **at, const char *end, word *out)
{
    for (; *at < end && !is_blank(**at); ++*at) {
        if (!add_letter(out, **at)) {
            return WORD_LONG;
        }
    }
    return WORD_THERE;
}

// The next word of a line. An apostrophe that closes nothing is a letter.
static word_kind next_word(const char **at, const char *end, word *out)
{
    out->length = 0;
    out->text[0] = 0;
    out->quoted = false;
    while (*at < end && is_blank(**at)) {
        ++*at;
    }
    if (*at == end || **at == '#') {
        return WORD_NONE;
    }
    if (**at == '"' || **at == '\'') {
        const char *start = *at;
        word_kind kind = quoted_word(at, end, out);
        if (kind != WORD_OPEN || *start == '"') {
            return kind;
        }
        *at = start;
        out->length = 0;
        out->quoted = false;
    }
    return plain_word(at, end, out);
}

// The same where cells end at tabs alone and may be empty; *last is set at the line's last one.
static word_kind next_cell(const char **at, const char *end, word *out, bool *last)
{
    const char *start = *at, *stop;
    out->length = 0;
    out->text[0] = 0;
    out->quoted = false;
    while (start < end && *start == ' ') {
        start++;
    }
    if (start < end && *start == '"') {
        word_kind kind = quoted_word(&start, end, out);
        while (start < end && *start == ' ') {
            start++;
        }
        *last = start == end;
        *at = start + (start < end);
        return kind == WORD_THERE && start < end && *start != '\t' ? WORD_OPEN : kind;
    }
    stop = memchr(start, '\t', (size_t)(end - start));
    *last = !stop;
    stop = stop ? stop : end;
    *at = stop + (stop < end);
    while (stop > start && stop[-1] == ' ') {
        stop--;
    }
    for (; start < stop; start++) {
        if (!add_letter(out, *start)) {
            return WORD_LONG;
        }
    }
    return WORD_THERE;
}

// ---- A table on its way to LittleCMS -----------------------------------------------

typedef enum section { IN_HEAD, IN_FORMAT, IN_DATA } section;

typedef struct draft {
    hw_text head, format, data;
    char type[IDENTIFIER_MOST + 8];
    bool begun, has_type;
    size_t keywords, fields;
    long said_fields, said_rows; // -1: not said
    size_t rows, row_cells, row_line;
    char pairs[2][HW_TABLE_TEXT_MOST + 1]; // of the two keywords that may be repeated
} draft;

typedef struct reading {
    const char *subject;
    size_t line;
    section where;
    draft now;
    hw_cgats_text *out;
    word word;
    hw_error *err;
} reading;

static void clear_draft(draft *now)
{
    hw_text_free(&now->head);
    hw_text_free(&now->format);
    hw_text_free(&now->data);
    *now = (draft){.said_fields = -1, .said_rows = -1};
}

static hw_status refuse(reading *state, const char *next, const char *format, ...) HW_PRINTF(3, 4);

static hw_status refuse(reading *state, const char *next, const char *format, ...)
{
    char what[400];
    hw_text text = {0};
    va_list arguments;
    va_start(arguments, format);
    hw_text_add_list(&text, format, arguments);
    va_end(arguments);
    hw_copy_text(what, sizeof what, hw_text_words(&text));
    hw_text_free(&text);
    return hw_fail(state->err, HW_ERR_INPUT, "table-damaged", state->subject, next, "%s", what);
}

static const char again[] = "Let the instrument's program write the file again, or mend that line.";

static hw_status refuse_word(reading *state, word_kind kind)
{
    if (kind == WORD_LONG) {
        return hw_fail(state->err, HW_ERR_INPUT, "table-large", state->subject, again,
                       "line %zu holds a text of more than %d letters", state->line,
                       HW_TABLE_TEXT_MOST);
    }
    return refuse(state, again, "in line %zu a quote is opened and not closed", state->line);
}

static bool is_include(const word *one)
{
    return !one->quoted &&
           (hw_same_letters(one->text, ".INCLUDE") || hw_same_letters(one->text, "$INCLUDE"));
}

static hw_status refuse_include(reading *state)
{
    return hw_fail(state->err, HW_ERR_INPUT, "table-include", state->subject,
                   "Put the content of that other file in its place, and take the line out.",
                   "line %zu asks for another file to be read, which huewright never does",
                   state->line);
}

// A name as LittleCMS takes one: letters that can be printed, no digit first, none of its own words.
static void to_identifier(const char *text, char out[IDENTIFIER_MOST + 8])
{
    static const char *const own[] = {"BEGIN_DATA", "BEGIN_DATA_FORMAT", "DATA_FORMAT_IDENTIFIER",
                                      "END_DATA",   "END_DATA_FORMAT",   "KEYWORD",
                                      "LABEL",      "NUMBER_OF_FIELDS",  "NUMBER_OF_SETS"};
    size_t length = 0;
    bool reserved = text[0] == '$' || text[0] == '.' || text[0] == 0;
    for (size_t i = 0; i < sizeof own / sizeof *own; i++) {
        reserved = reserved || hw_same_letters(text, own[i]);
    }
    if (is_digit(text[0])) { // a wavelength
        out[length++] = 'N';
        out[length++] = 'M';
    } else if (reserved) {
        out[length++] = '_';
    }
    for (; *text && length < IDENTIFIER_MOST; text++) {
        bool good = *text > ' ' && *text < 0x7f && !strchr("\"'#", *text);
        out[length++] = *text;
        out[length - 1] = good ? *text : '_';
    }
    out[length] = 0;
}

// In quotes; a text with both kinds of quotes loses the double ones. An empty one becomes a blank:
// LittleCMS takes "" for the text before it.
static void put_quoted(hw_text *text, const char *value)
{
    bool has_double = strchr(value, '"') != NULL, has_single = strchr(value, '\'') != NULL;
    char quote = has_double && !has_single ? '\'' : '"';
    hw_text_add(text, "%c%s", quote, *value ? "" : " ");
    for (const char *at = value; *at; at++) {
        char letter = *at == quote ? '\'' : *at == '\t' ? ' ' : *at;
        hw_text_add_bytes(text, &letter, 1);
    }
    hw_text_add(text, "%c", quote);
}

// ---- Header ------------------------------------------------------------------------

// These may stand more than once, each time with a pair "name, value". LittleCMS' list of such pairs gives the
// first one's name for all of them, so they come to it as one plain value.
static bool is_pair_keyword(const char *name)
{
    return hw_same_letters(name, "WEIGHTING_FUNCTION") ||
           hw_same_letters(name, "COMPUTATIONAL_PARAMETER");
}

static void write_keyword(reading *state, const char *identifier, const char *value)
{
    hw_text *head = &state->now.head;
    hw_text_add(head, "KEYWORD \"%s\"\n%s ", identifier, identifier);
    put_quoted(head, value);
    hw_text_add(head, "\n");
    state->out->needed += 512 + 4 * strlen(identifier) + 2 * strlen(value); // entries of two lists
}

// Cut where it grows too long.
static void add_to(char text[HW_TABLE_TEXT_MOST + 1], const char *more)
{
    size_t length = strlen(text);
    hw_copy_text(text + length, HW_TABLE_TEXT_MOST + 1 - length, more);
}

static hw_status put_keyword(reading *state, const char *name, const char *value)
{
    char identifier[IDENTIFIER_MOST + 8];
    draft *now = &state->now;
    if (now->keywords++ == HW_TABLE_KEYWORDS_MOST) {
        return hw_fail(state->err, HW_ERR_INPUT, "table-large", state->subject, again,
                       "it has more than %d keywords", HW_TABLE_KEYWORDS_MOST);
    }
    to_identifier(name, identifier);
    if (!is_pair_keyword(identifier)) {
        write_keyword(state, identifier, value);
        return HW_OK;
    }
    size_t which = hw_same_letters(identifier, "WEIGHTING_FUNCTION") ? 0 : 1;
    add_to(now->pairs[which], now->pairs[which][0] ? "; " : "");
    add_to(now->pairs[which], value);
    return HW_OK;
}

static hw_status take_count(reading *state, const char *value, long most, long *out)
{
    double number = 0.0;
    char shown[40]; // at a whole letter
    hw_copy_text(shown, sizeof shown, value);
    if (!hw_parse_number(value, false, &number) || number < 0.0 ||
        (number <= (double)most && number != (double)(long)number)) {
        return refuse(state, again, "line %zu: \"%s\" is no number of rows or columns", state->line,
                      shown);
    }
    if (number > (double)most) {
        return hw_fail(state->err, HW_ERR_INPUT, "table-large", state->subject,
                       "Split the file into smaller ones.",
                       "line %zu says %s; at most %ld can be read", state->line, shown, most);
    }
    *out = (long)number;
    return HW_OK;
}

// All that follows on the line, without quotes around it.
static hw_status take_value(reading *state, const char *at, const char *end,
                            char out[HW_TABLE_TEXT_MOST + 1])
{
    word *one = &state->word;
    size_t words = 0;
    out[0] = 0;
    for (word_kind kind; (kind = next_word(&at, end, one)) != WORD_NONE; words++) {
        if (kind != WORD_THERE) {
            return refuse_word(state, kind);
        }
        if (is_include(one)) {
            return refuse_include(state);
        }
        add_to(out, words ? " " : "");
        add_to(out, one->text);
    }
    return HW_OK;
}

// Is the first line of a table its type, as "CGATS.17" and "CTI3", or already a keyword with a value?
static bool is_type_line(const char *first, const char *at, const char *end)
{
    word next;
    if (next_word(&at, end, &next) == WORD_NONE) {
        return true;
    }
    bool keyword = true;
    for (; *first; first++) {
        keyword = keyword && ((*first >= 'A' && *first <= 'Z') || *first == '_');
    }
    return !keyword && !next.quoted;
}

static hw_status head_line(reading *state, const char *at, const char *end)
{
    char name[HW_TABLE_TEXT_MOST + 1], value[HW_TABLE_TEXT_MOST + 1];
    draft *now = &state->now;
    hw_copy_text(name, sizeof name, state->word.text);
    bool first = !now->begun;
    now->begun = true;
    if (first && is_type_line(name, at, end)) {
        to_identifier(name, now->type);
        now->has_type = true;
        return HW_OK;
    }
    hw_status status = take_value(state, at, end, value);
    if (status != HW_OK) {
        return status;
    }
    if (hw_same_letters(name, "NUMBER_OF_FIELDS")) {
        return take_count(state, value, HW_TABLE_FIELDS_MOST, &now->said_fields);
    }
    if (hw_same_letters(name, "NUMBER_OF_SETS")) {
        return take_count(state, value, HW_TABLE_ROWS_MOST, &now->said_rows);
    }
    // Ours take the place of these; an end without its beginning ends nothing.
    if (hw_same_letters(name, "KEYWORD") || hw_same_letters(name, "DATA_FORMAT_IDENTIFIER") ||
        hw_same_letters(name, "END_DATA") || hw_same_letters(name, "END_DATA_FORMAT")) {
        return HW_OK;
    }
    return put_keyword(state, name, value);
}

// ---- Format and data ---------------------------------------------------------------

static hw_status format_line(reading *state, const char *at, const char *end)
{
    char identifier[IDENTIFIER_MOST + 8];
    draft *now = &state->now;
    for (word_kind kind; (kind = next_word(&at, end, &state->word)) != WORD_NONE;) {
        if (kind != WORD_THERE) {
            return refuse_word(state, kind);
        }
        if (is_include(&state->word)) {
            return refuse_include(state);
        }
        if (!state->word.quoted && hw_same_letters(state->word.text, "END_DATA_FORMAT")) {
            state->where = IN_HEAD;
            return HW_OK;
        }
        if (now->fields == HW_TABLE_FIELDS_MOST || state->word.length > IDENTIFIER_MOST) {
            return hw_fail(state->err, HW_ERR_INPUT, "table-large", state->subject,
                           "Let the instrument's program write fewer columns.",
                           "it has more than %d columns, or the name of one is longer than %d "
                           "letters (line %zu)",
                           HW_TABLE_FIELDS_MOST, IDENTIFIER_MOST, state->line);
        }
        to_identifier(state->word.text, identifier);
        hw_text_add(&now->format, "%s%s", now->fields ? "\t" : "", identifier);
        state->out->needed += strlen(identifier) + 32;
        now->fields++;
    }
    return HW_OK;
}

static void put_cell(reading *state)
{
    draft *now = &state->now;
    hw_text_add(&now->data, "%s", now->row_cells ? "\t" : "");
    put_quoted(&now->data, state->word.text);
    state->out->needed += state->word.length + 16;
    now->row_cells++;
}

static hw_status end_row(reading *state)
{
    draft *now = &state->now;
    if (now->rows == HW_TABLE_ROWS_MOST) {
        return hw_fail(state->err, HW_ERR_INPUT, "table-large", state->subject,
                       "Split the file into smaller ones.", "it has more than %d rows",
                       HW_TABLE_ROWS_MOST);
    }
    hw_text_add(&now->data, "\n");
    hw_table_end_row(&state->out->table[state->out->count], now->row_line);
    state->out->needed += sizeof(char *) * (now->fields + 1);
    now->rows++;
    now->row_cells = 0;
    return HW_OK;
}

// How many cells a line has when it is split at every tab; 0 where it cannot be.
static size_t count_cells(const char *at, const char *end, word *one)
{
    size_t count = 0;
    for (bool last = false; !last; count++) {
        if (next_cell(&at, end, one, &last) != WORD_THERE) {
            return 0;
        }
    }
    return count;
}

// Where a line's cells end: before a comment, which begins where a word could, and before blanks.
static const char *cells_end(const char *at, const char *end)
{
    bool in_quotes = false, between = true;
    for (const char *from = at; from < end; from++) {
        in_quotes = *from == '"' && (in_quotes || between) ? !in_quotes : in_quotes;
        if (*from == '#' && between && !in_quotes) {
            end = from;
        }
        between = is_blank(*from);
    }
    while (end > at && is_blank(end[-1])) {
        end--;
    }
    return end;
}

static hw_status refuse_row(reading *state, size_t line, size_t cells)
{
    return refuse(state, again,
                  "line %zu has %zu cell%s where the format names %zu; a cell may be "
                  "missing, or a name with blanks may lack its quotes",
                  line, cells, cells == 1 ? "" : "s", state->now.fields);
}

// A line whose tabs alone make as many cells as there are fields is split there, so that cells may be
// empty and names may hold blanks; else at blanks. A row may go on in further lines, and ends
// where a line ends.
static hw_status data_line(reading *state, const char *at, const char *end)
{
    draft *now = &state->now;
    const char *start = at;
    size_t cells = 0;
    bool last = false, tabs = false;
    if (now->row_cells == 0) {
        now->row_line = state->line;
        end = cells_end(at, end);
        tabs = memchr(at, '\t', (size_t)(end - at)) &&
               count_cells(at, end, &state->word) == now->fields;
    }
    while (tabs && !last) {
        if (next_cell(&at, end, &state->word, &last) != WORD_THERE) {
            return refuse_word(state, WORD_OPEN);
        }
        if (is_include(&state->word)) {
            return refuse_include(state);
        }
        put_cell(state);
    }
    at = tabs ? end : start;
    for (word_kind kind; (kind = next_word(&at, end, &state->word)) != WORD_NONE; cells++) {
        if (kind != WORD_THERE) {
            return refuse_word(state, kind);
        }
        if (is_include(&state->word)) {
            return refuse_include(state);
        }
        if (now->row_cells == now->fields) {
            bool more = now->row_line != state->line;
            size_t before = now->row_cells - cells;
            while (next_word(&at, end, &state->word) == WORD_THERE) {
                cells++;
            }
            return more ? refuse_row(state, now->row_line, before)
                        : refuse_row(state, state->line, cells + 1);
        }
        put_cell(state);
    }
    return now->row_cells == now->fields ? end_row(state) : HW_OK;
}

// ---- Tables ------------------------------------------------------------------------

static hw_status check_counts(reading *state)
{
    const draft *now = &state->now;
    if (now->row_cells > 0) {
        return refuse_row(state, now->row_line, now->row_cells);
    }
    if (now->rows == 0) {
        return refuse(state, "Check that the readings were stored, and export them again.",
                      "its table of readings is empty");
    }
    if (now->said_rows >= 0 && (size_t)now->said_rows != now->rows) {
        return refuse(state, again,
                      "it says that it has %ld rows, and has %zu: it may be cut short",
                      now->said_rows, now->rows);
    }
    return HW_OK;
}

static hw_status end_table(reading *state)
{
    draft *now = &state->now;
    hw_status status = check_counts(state);
    if (status != HW_OK) {
        return status;
    }
    static const char *const pair_names[2] = {"WEIGHTING_FUNCTION", "COMPUTATIONAL_PARAMETER"};
    for (size_t i = 0; i < 2; i++) {
        if (now->pairs[i][0]) {
            write_keyword(state, pair_names[i], now->pairs[i]);
        }
    }
    hw_text *text = &state->out->text;
    hw_text_add(text, "%s\n", now->has_type ? now->type : "CGATS.17");
    hw_text_add_bytes(text, hw_text_words(&now->head), now->head.length);
    hw_text_add(text, "NUMBER_OF_FIELDS %zu\nNUMBER_OF_SETS %zu\n", now->fields, now->rows);
    hw_text_add(text, "BEGIN_DATA_FORMAT\n%s\nEND_DATA_FORMAT\nBEGIN_DATA\n", now->format.bytes);
    hw_text_add_bytes(text, now->data.bytes, now->data.length);
    hw_text_add(text, "END_DATA\n");
    state->out->needed += 1024 + sizeof(char *) * (2 * now->fields + now->rows);
    text->failed = text->failed || now->head.failed || now->format.failed || now->data.failed;
    if (text->failed || state->out->table[state->out->count].failed) {
        return hw_fail_memory(state->err, "reading a table");
    }
    state->out->count++;
    state->where = IN_HEAD;
    clear_draft(now);
    return HW_OK;
}

static hw_status begin_data(reading *state)
{
    const draft *now = &state->now;
    if (now->fields == 0) {
        return refuse(state, again, "in line %zu readings begin, and nothing says what they are",
                      state->line);
    }
    if (now->said_fields >= 0 && (size_t)now->said_fields != now->fields) {
        return refuse(state, again, "it says that it has %ld columns, and names %zu",
                      now->said_fields, now->fields);
    }
    if (state->out->count == HW_CGATS_TABLES_MOST) {
        return hw_fail(state->err, HW_ERR_INPUT, "table-large", state->subject,
                       "Split the file into smaller ones.", "it has more than %d tables",
                       HW_CGATS_TABLES_MOST);
    }
    state->where = IN_DATA;
    return HW_OK;
}

static hw_status take_line(reading *state, const char *at, const char *end)
{
    const char *start = at;
    word_kind kind = next_word(&at, end, &state->word);
    bool bare = kind == WORD_THERE && !state->word.quoted;
    if (kind == WORD_NONE) {
        return HW_OK;
    }
    if (state->where == IN_FORMAT) {
        return format_line(state, start, end);
    }
    if (state->where == IN_DATA) {
        return bare && hw_same_letters(state->word.text, "END_DATA") ? end_table(state)
                                                                     : data_line(state, start, end);
    }
    if (kind != WORD_THERE) {
        return refuse_word(state, kind);
    }
    if (is_include(&state->word)) {
        return refuse_include(state);
    }
    if (bare && hw_same_letters(state->word.text, "BEGIN_DATA_FORMAT")) {
        state->where = IN_FORMAT;
        state->now.begun = true;
        state->now.fields = 0; // said again: the last one counts
        state->now.format.length = 0;
        return format_line(state, at, end);
    }
    if (bare && hw_same_letters(state->word.text, "BEGIN_DATA")) {
        hw_status status = begin_data(state);
        return status == HW_OK ? data_line(state, at, end) : status;
    }
    return head_line(state, at, end);
}

static hw_status take_lines(reading *state, const char *bytes, size_t count)
{
    const char *end = bytes + count;
    for (const char *at = bytes; at < end;) {
        const char *stop = at;
        while (stop < end && *stop != '\n' && *stop != '\r') {
            stop++;
        }
        state->line++;
        hw_status status = take_line(state, at, stop);
        if (status != HW_OK) {
            return status;
        }
        at = stop + (stop < end);
        at += stop + 1 < end && stop[0] == '\r' && stop[1] == '\n';
    }
    // A file may lack its last line when it says how many rows it has.
    if (state->where == IN_DATA && state->now.said_rows >= 0) {
        return end_table(state);
    }
    if (state->where != IN_HEAD) {
        return refuse(state, "Copy the file again from the instrument or its program.",
                      "it ends in the middle of a table");
    }
    if (state->out->count == 0) {
        return refuse(state, "Let the instrument's program export the readings themselves.",
                      "it holds no table of readings");
    }
    return HW_OK;
}

// ---- All of it ---------------------------------------------------------------------

static hw_status check_bytes(const char *bytes, size_t count, const hw_limits *limits,
                             const char *subject, hw_error *err)
{
    if (count > limits->json_bytes) {
        return hw_fail(err, HW_ERR_INPUT, "table-large", subject,
                       "Export fewer readings at a time.",
                       "it is larger than %zu KiB, more than a file of readings should be",
                       limits->json_bytes / 1024);
    }
    bool control = false;
    for (size_t i = 0; i < count; i++) {
        control = control || ((unsigned char)bytes[i] < 0x20 && !strchr("\t\r\n", bytes[i])) ||
                  bytes[i] == 0 || bytes[i] == 0x7f;
    }
    if (control || !hw_is_utf8(bytes, count)) {
        return hw_fail(err, HW_ERR_INPUT, "table-encoding", subject,
                       "Let the instrument's program export plain text (UTF-8).",
                       "it is no plain text");
    }
    return HW_OK;
}

hw_status hw_cgats_make_safe(const char *bytes, size_t count, const char *subject,
                             const hw_limits *limits, hw_cgats_text *out, hw_error *err)
{
    if (count >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0) {
        bytes += 3;
        count -= 3;
    }
    // The end mark of very old systems.
    while (count > 0 && bytes[count - 1] == 0x1a) {
        count--;
    }
    hw_status status = check_bytes(bytes, count, limits, subject, err);
    reading *state = status == HW_OK ? hw_alloc_array(1, sizeof *state) : NULL;
    if (!state) {
        return status == HW_OK ? hw_fail_memory(err, "reading a table") : status;
    }
    *state = (reading){.subject = subject, .out = out, .err = err};
    clear_draft(&state->now);
    status = take_lines(state, bytes, count);
    clear_draft(&state->now);
    hw_free(state);
    return status;
}
