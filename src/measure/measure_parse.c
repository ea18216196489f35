// measure_parse.c: a file's bytes to readings: clean text, what kind of file it is, a table, columns,
// conditions, rows.
#include "measure_internal.h"

const char *hw_measured_source_name(hw_measured_source source)
{
    return source == HW_MEASURED_LAB ? "lab" : source == HW_MEASURED_XYZ ? "xyz" : "spectrum";
}

void hw_measured_free(hw_measured *measured)
{
    if (measured) {
        hw_free(measured->reading);
        *measured = (hw_measured){0};
    }
}

// ---- Kinds of files ----------------------------------------------------------------

static bool begins(const uint8_t *bytes, size_t count, const char *with)
{
    size_t length = strlen(with);
    return count >= length && memcmp(bytes, with, length) == 0;
}

// A file that is something else altogether is told by its first bytes.
static hw_status check_kind(const uint8_t *bytes, size_t count, const char *name, hw_error *err)
{
    static const char export_text[] = "Export the readings as CGATS text or CSV instead.";
    if (begins(bytes, count, "PK\x03\x04") || begins(bytes, count, "\xd0\xcf\x11\xe0")) {
        return hw_fail(err, HW_ERR_INPUT, "measure-format", name,
                       "Open it there and save the table as CSV (UTF-8).",
                       "this is a spreadsheet or an archive, not text");
    }
    if (begins(bytes, count, "\xff\xfe") || begins(bytes, count, "\xfe\xff")) {
        return hw_fail(err, HW_ERR_INPUT, "table-encoding", name,
                       "Save it as UTF-8, which most programs call CSV (UTF-8).",
                       "this is text in UTF-16, which huewright does not read");
    }
    if (begins(bytes, count, "<?xml") || begins(bytes, count, "\xef\xbb\xbf<?xml") ||
        begins(bytes, count, "%PDF") || begins(bytes, count, "{")) {
        return hw_fail(err, HW_ERR_INPUT, "measure-format", name, export_text,
                       "this is %s, not a table of readings",
                       bytes[0] == '%'   ? "a PDF"
                       : bytes[0] == '{' ? "JSON"
                                         : "XML");
    }
    return HW_OK;
}

// ---- Text --------------------------------------------------------------------------

// Clean UTF-8 with a final 0: no byte order mark, no byte 0, no control characters but tab and line ends.
// Bytes that are no UTF-8 are taken as Latin-1 (ISO 8859-1), as older programs write "2°".
static hw_status to_text(const uint8_t *bytes, size_t count, const char *name, hw_text *out,
                         hw_warnings *warnings, hw_error *err)
{
    size_t start = begins(bytes, count, "\xef\xbb\xbf") ? 3 : 0;
    bool utf8 = hw_is_utf8((const char *)bytes + start, count - start);
    while (count > start && bytes[count - 1] == 0x1a) { // the end mark of very old systems
        count--;
    }
    out->ceiling = 2 * count + 1;
    for (size_t i = start; i < count; i++) {
        uint8_t byte = bytes[i];
        bool control = byte < 0x20 && byte != '\t' && byte != '\r' && byte != '\n';
        if (control || byte == 0x7f) {
            return hw_fail(err, HW_ERR_INPUT, "table-encoding", name,
                           "Export the readings as CGATS text or CSV (UTF-8).",
                           "it is no plain text (byte %zu is a control character)", i + 1);
        }
        if (utf8 || byte < 0x80) {
            hw_text_add_bytes(out, &byte, 1);
        } else if (byte < 0xa0) { // no letters in Latin-1; each maker has its own
            hw_text_add(out, "?");
        } else {
            const uint8_t two[2] = {(uint8_t)(0xc0 | byte >> 6), (uint8_t)(0x80 | (byte & 0x3f))};
            hw_text_add_bytes(out, two, 2);
        }
    }
    if (out->failed) {
        return hw_fail_memory(err, "reading the measurements");
    }
    if (!utf8) {
        hw_warn(warnings, "The file is not UTF-8: its letters beyond English were read as Latin-1, "
                          "and names may look odd.");
    }
    return HW_OK;
}

// Has it the words that begin a table of CGATS, or a first line of one?
static bool is_cgats(const char *text)
{
    static const char *const types[] = {"CGATS", "IT8", "CTI", "ISO28178", "ISO12642", NULL};
    const char *first = text + strspn(text, " \t\r\n\"");
    for (size_t i = 0; types[i]; i++) {
        if (strncmp(first, types[i], strlen(types[i])) == 0) {
            return true;
        }
    }
    for (const char *at = text; *at;) {
        at += strspn(at, " \t\r\n");
        char word[20];
        size_t length = strcspn(at, " \t\r\n");
        if (length < sizeof word) {
            memcpy(word, at, length);
            word[length] = 0;
            if (hw_same_letters(word, "BEGIN_DATA_FORMAT") || hw_same_letters(word, "BEGIN_DATA")) {
                return true;
            }
        }
        at += strcspn(at, "\r\n");
    }
    return false;
}

// ---- All of it ---------------------------------------------------------------------

static hw_status take_table(const hw_table *table, bool comma, const char *name, hw_measured *out,
                            hw_error *err)
{
    hw_measure_columns *columns = hw_alloc_array(1, sizeof *columns);
    hw_measure_condition condition = {0};
    if (!columns) {
        return hw_fail_memory(err, "reading the measurements");
    }
    hw_measure_find_columns(table, columns);
    hw_status status = hw_measure_check_columns(columns, name, err);
    if (status == HW_OK) {
        hw_measure_find_condition(table, columns, out, &condition);
        status = hw_measure_rows(table, columns, &condition, comma, name, out, err);
    }
    hw_free(columns);
    return status;
}

static hw_status take_cgats(const hw_text *text, const char *name, const hw_limits *limits,
                            hw_measured *out, hw_error *err)
{
    hw_table *tables = NULL;
    size_t count = 0, chosen = 0;
    hw_measure_columns columns;
    hw_status status = hw_cgats_read(text->bytes, text->length, name, limits, &tables, &count, err);
    if (status != HW_OK) {
        return status;
    }
    for (chosen = 0; chosen + 1 < count; chosen++) {
        hw_measure_find_columns(&tables[chosen], &columns);
        if (hw_measure_has_colours(&columns)) {
            break;
        }
    }
    if (count > 1) {
        hw_warn(&out->warnings, "The file has %zu tables: table %zu was read, the others were not.",
                count, chosen + 1);
    }
    status = take_table(&tables[chosen], true, name, out, err);
    hw_tables_free(tables, count);
    return status;
}

static hw_status take_csv(const hw_text *text, const char *name, hw_measured *out, hw_error *err)
{
    hw_table table = {0};
    bool comma = false;
    hw_status status = hw_measure_csv(text->bytes, name, &table, &comma, err);
    if (status == HW_OK && hw_table_rows(&table) == 0) {
        status = hw_fail(err, HW_ERR_INPUT, "measure-empty", name,
                         "Check that the readings were stored, and export them again.",
                         "it names its columns, and has no row below them");
    }
    if (status == HW_OK) {
        status = take_table(&table, comma, name, out, err);
    }
    hw_table_free(&table);
    return status;
}

hw_status hw_measure_parse(const void *bytes, size_t count, const char *name,
                           const hw_limits *limits, hw_measured *out, hw_error *err)
{
    hw_limits bounds = limits ? *limits : hw_limits_default();
    hw_measured made = {0};
    hw_text text = {0};
    if (count > bounds.json_bytes) {
        return hw_fail(err, HW_ERR_INPUT, "table-large", name, "Export fewer readings at a time.",
                       "it is larger than %zu KiB, more than a file of readings should be",
                       bounds.json_bytes / 1024);
    }
    hw_status status = check_kind(bytes, count, name, err);
    if (status == HW_OK) {
        status = to_text(bytes, count, name, &text, &made.warnings, err);
    }
    if (status == HW_OK && (!text.bytes || text.bytes[strspn(text.bytes, " \t\r\n")] == 0)) {
        status = hw_fail(err, HW_ERR_INPUT, "measure-empty", name,
                         "Export the readings again, and check that they were stored.",
                         "there is nothing in it");
    }
    if (status == HW_OK && is_cgats(text.bytes)) {
        made.format = HW_MEASURED_CGATS;
        status = take_cgats(&text, name, &bounds, &made, err);
    } else if (status == HW_OK) {
        made.format = HW_MEASURED_CSV;
        status = take_csv(&text, name, &made, err);
    }
    hw_text_free(&text);
    if (status != HW_OK) {
        hw_measured_free(&made);
        return status;
    }
    *out = made;
    return HW_OK;
}
