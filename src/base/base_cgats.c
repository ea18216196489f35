// base_cgats.c: CGATS.17 / ISO 28178 text, read and written by LittleCMS.
//
// LittleCMS' reader takes a file's word for much: it opens the files that a file names, takes a number
// followed by letters for something else, drops empty cells, loses its place when a row lacks one,
// takes "" for the text before it, changes columns named LABEL or $..., and goes on with a null pointer
// when memory is out. So it never sees a file as it came. What always holds:
//
//  (1) It gets the text that base_cgats_text.c makes, in which none of that can happen. Nothing in it
//      asks for another file: .INCLUDE and $INCLUDE are refused.
//  (2) It works in one block that was asked for before, large enough for that text: nothing in it can
//      run out. (Its own blocks double; each is less than twice what was used before, so all of
//      them together are less than four times the whole.)
//
// Beside photo_icc.c this file alone knows LittleCMS.
#include "base_cgats.h"

#include <lcms2.h>
#include <lcms2_plugin.h>
#include <stdalign.h>

// ---- Memory for LittleCMS ----------------------------------------------------------

typedef struct arena {
    unsigned char *bytes;
    size_t size, used;
} arena;

static _Thread_local arena at_work; // the plug-in's calls have no other way to find it

#define BLOCK_HEAD alignof(max_align_t) // holds the block's size

static void *take(cmsContext context, cmsUInt32Number size)
{
    (void)context;
    size_t whole = BLOCK_HEAD + ((size_t)size + BLOCK_HEAD - 1) / BLOCK_HEAD * BLOCK_HEAD;
    if (!at_work.bytes || whole > at_work.size - at_work.used) {
        return NULL;
    }
    unsigned char *block = at_work.bytes + at_work.used;
    memcpy(block, &size, sizeof size);
    at_work.used += whole;
    return block + BLOCK_HEAD;
}

static void give_back(cmsContext context, void *block)
{
    (void)context;
    (void)block; // all at once, at the end
}

static void *take_more(cmsContext context, void *block, cmsUInt32Number size)
{
    cmsUInt32Number old = 0;
    void *grown = take(context, size);
    if (block && grown) {
        memcpy(&old, (unsigned char *)block - BLOCK_HEAD, sizeof old);
        memcpy(grown, block, old < size ? old : size);
    }
    return grown;
}

static void say_nothing(cmsContext context, cmsUInt32Number code, const char *text)
{
    (void)context;
    (void)code;
    (void)text;
}

static cmsPluginMemHandler memory_plugin = {
    .base = {.Magic = cmsPluginMagicNumber,
             .ExpectedVersion = 2000,
             .Type = cmsPluginMemHandlerSig},
    .MallocPtr = take,
    .FreePtr = give_back,
    .ReallocPtr = take_more,
};

// `needed`: all that will be asked for, as it is asked for. NULL when memory is out.
static cmsContext start_work(size_t needed)
{
    const size_t fixed = (size_t)1 << 20; // the context and the empty table, 0.4 MiB in 2.14
    at_work = (arena){hw_alloc_array(fixed + 4 * needed, 1), fixed + 4 * needed, 0};
    cmsContext context = at_work.bytes ? cmsCreateContext(&memory_plugin, NULL) : NULL;
    if (context) {
        cmsSetLogErrorHandlerTHR(context, say_nothing);
    }
    return context;
}

static void end_work(cmsContext context)
{
    if (context) {
        cmsDeleteContext(context);
    }
    hw_free(at_work.bytes);
    at_work = (arena){0};
}
// ---- From LittleCMS ----------------------------------------------------------------

// A blank stands for an empty text.
static const char *plain(const char *text)
{
    return !text || strcmp(text, " ") == 0 ? "" : text;
}

static void take_keywords(cmsHANDLE sheet, hw_table *out)
{
    char **names = NULL;
    cmsUInt32Number count = cmsIT8EnumProperties(sheet, &names);
    for (cmsUInt32Number i = 0; names && i < count; i++) {
        hw_table_add_keyword(out, names[i], plain(cmsIT8GetProperty(sheet, names[i])));
    }
}

// The rows' lines are in `out` already.
static bool take_table(cmsHANDLE sheet, size_t index, hw_table *out)
{
    char **names = NULL;
    size_t rows = hw_table_rows(out);
    if (cmsIT8SetTable(sheet, (cmsUInt32Number)index) != (int)index) {
        return false;
    }
    int fields = cmsIT8EnumDataFormat(sheet, &names);
    hw_table_set_type(out, cmsIT8GetSheetType(sheet));
    take_keywords(sheet, out);
    for (int i = 0; names && i < fields; i++) {
        hw_table_add_field(out, names[i] ? names[i] : "");
    }
    for (size_t row = 0; row < rows; row++) {
        for (int i = 0; i < fields; i++) {
            hw_table_add_cell(out, plain(cmsIT8GetDataRowCol(sheet, (int)row, i)));
        }
    }
    return names && fields > 0;
}

static hw_status refuse(const char *subject, hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "table-damaged", subject,
                   "Let the instrument's program write the file again.",
                   "it holds no table that can be read");
}

static hw_status let_littlecms_read(hw_cgats_text *safe, const char *subject, hw_error *err)
{
    hw_status status = HW_OK;
    cmsContext context = start_work(safe->needed + safe->text.length + 1);
    cmsHANDLE sheet =
        context ? cmsIT8LoadFromMem(context, safe->text.bytes, (cmsUInt32Number)safe->text.length)
                : NULL;
    if (!context) {
        status = hw_fail_memory(err, "reading a table");
    } else if (!sheet || cmsIT8TableCount(sheet) < safe->count) {
        status = refuse(subject, err);
    }
    for (size_t i = 0; status == HW_OK && i < safe->count; i++) {
        if (!take_table(sheet, i, &safe->table[i])) {
            status = refuse(subject, err);
        } else if (safe->table[i].failed) {
            status = hw_fail_memory(err, "reading a table");
        }
    }
    if (sheet) {
        cmsIT8Free(sheet);
    }
    end_work(context);
    return status;
}

hw_status hw_cgats_read(const char *bytes, size_t count, const char *subject,
                        const hw_limits *limits, hw_table **out, size_t *table_count, hw_error *err)
{
    hw_limits bounds = limits ? *limits : hw_limits_default();
    hw_cgats_text safe = {.table = hw_alloc_array(HW_CGATS_TABLES_MOST, sizeof *safe.table)};
    if (!safe.table) {
        return hw_fail_memory(err, "reading a table");
    }
    hw_status status = hw_cgats_make_safe(bytes, count, subject, &bounds, &safe, err);
    if (status == HW_OK) {
        status = let_littlecms_read(&safe, subject, err);
    }
    if (status == HW_OK) {
        *out = safe.table;
        *table_count = safe.count;
    } else {
        hw_tables_free(safe.table, HW_CGATS_TABLES_MOST);
    }
    hw_text_free(&safe.text);
    return status;
}

// ---- Writing -----------------------------------------------------------------------

// Without line ends and double quotes, for which there is no place.
static void clean(hw_text *out, const char *text)
{
    for (; *text; text++) {
        unsigned char byte = (unsigned char)*text;
        char letter = byte < 0x20 || byte == 0x7f ? ' ' : *text == '"' ? '\'' : *text;
        hw_text_add_bytes(out, &letter, 1);
    }
}

// LittleCMS puts quotes around a cell with a blank in it and around no other.
static void clean_cell(hw_text *out, const char *text)
{
    double number;
    bool bare = hw_parse_number(text, false, &number) || strchr(text, ' ');
    hw_text_add(out, "%s", bare ? "" : "\"");
    clean(out, text);
    hw_text_add(out, "%s", bare ? "" : "\"");
}

static size_t bytes_needed(const hw_table *table)
{
    size_t cells = (hw_table_rows(table) + 1) * (hw_table_fields(table) + 1);
    return 4096 + 2 * table->pool.length + 32 * cells + 512 * hw_table_keywords(table);
}

static bool put_table(cmsHANDLE sheet, const hw_table *table)
{
    hw_text value = {0};
    char number[24];
    const char *type = hw_table_type(table);
    bool good = cmsIT8SetSheetType(sheet, type[0] ? type : "CGATS.17");
    for (size_t i = 0; good && i < hw_table_keywords(table); i++) {
        const char *name, *text;
        hw_table_keyword_at(table, i, &name, &text);
        value.length = 0;
        clean(&value, text);
        if (strcmp(name, "KEYWORD") != 0 && value.length > 0 && !value.failed) {
            good = cmsIT8SetPropertyStr(sheet, name, value.bytes);
        }
    }
    hw_format_text(number, sizeof number, "%zu", hw_table_fields(table));
    good = good && cmsIT8SetPropertyUncooked(sheet, "NUMBER_OF_FIELDS", number);
    hw_format_text(number, sizeof number, "%zu", hw_table_rows(table));
    good = good && cmsIT8SetPropertyUncooked(sheet, "NUMBER_OF_SETS", number);
    for (size_t i = 0; good && i < hw_table_fields(table); i++) {
        good = cmsIT8SetDataFormat(sheet, (int)i, hw_table_field(table, i));
    }
    for (size_t row = 0; good && row < hw_table_rows(table); row++) {
        for (size_t i = 0; good && i < hw_table_fields(table); i++) {
            value.length = 0;
            clean_cell(&value, hw_table_cell(table, row, i));
            good = !value.failed && cmsIT8SetDataRowCol(sheet, (int)row, (int)i, value.bytes);
        }
    }
    good = good && !value.failed;
    hw_text_free(&value);
    return good;
}

// LittleCMS keeps one value a name, so the KEYWORD lines come between the type and the rest here.
static bool put_keyword_lines(const hw_table *table, const char *written, hw_text *out)
{
    const char *rest = strchr(written, '\n');
    hw_text_add_bytes(out, written, rest ? (size_t)(rest - written) + 1 : 0);
    for (size_t i = 0; i < hw_table_keywords(table); i++) {
        const char *name, *value;
        hw_table_keyword_at(table, i, &name, &value);
        if (strcmp(name, "KEYWORD") == 0) {
            hw_text_add(out, "KEYWORD\t\"");
            clean(out, value);
            hw_text_add(out, "\"\n");
        }
    }
    hw_text_add(out, "%s", rest ? rest + 1 : written);
    return !out->failed;
}

hw_status hw_cgats_write(const hw_table *table, char **out, hw_error *err)
{
    char *written = NULL;
    hw_text text = {0};
    cmsUInt32Number count = 0;
    cmsContext context = table->failed ? NULL : start_work(bytes_needed(table));
    cmsHANDLE sheet = context ? cmsIT8Alloc(context) : NULL;
    bool good = sheet && put_table(sheet, table) && cmsIT8SaveToMem(sheet, NULL, &count);
    written = good ? hw_alloc_array(count + 1, 1) : NULL;
    good = written && cmsIT8SaveToMem(sheet, written, &count);
    if (sheet) {
        cmsIT8Free(sheet);
    }
    end_work(context);
    good = good && put_keyword_lines(table, written, &text);
    hw_free(written);
    if (!good) {
        hw_text_free(&text);
        return hw_fail_memory(err, "writing a table");
    }
    *out = text.bytes;
    return HW_OK;
}
