// base_table.c: a table of texts. All of them lie in one block, each ended by 0, and everything else
// is a list of places in it: a file of a hundred thousand cells takes a handful of allocations.
#include "base_internal.h"

void hw_table_free(hw_table *table)
{
    if (table) {
        hw_text_free(&table->pool);
        hw_free(table->keyword.at);
        hw_free(table->value.at);
        hw_free(table->field.at);
        hw_free(table->cell.at);
        hw_free(table->line.at);
        *table = (hw_table){0};
    }
}

void hw_tables_free(hw_table *tables, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        hw_table_free(&tables[i]);
    }
    hw_free(tables);
}

// ---- Building ----------------------------------------------------------------------

static size_t keep_text(hw_table *table, const char *text)
{
    if (table->pool.length == 0) {
        hw_text_add_bytes(&table->pool, "", 1);
    }
    size_t at = table->pool.length;
    hw_text_add_bytes(&table->pool, text, strlen(text) + 1);
    table->failed = table->failed || table->pool.failed;
    return table->failed ? 0 : at;
}

static void add_place(hw_table *table, hw_text_list *list, size_t place)
{
    if (list->count == list->room) {
        size_t room = list->room ? 2 * list->room : 16;
        size_t *grown = table->failed ? NULL : hw_resize_array(list->at, room, sizeof *grown);
        if (!grown) {
            table->failed = true;
            return;
        }
        list->at = grown;
        list->room = room;
    }
    list->at[list->count++] = place;
}

void hw_table_set_type(hw_table *table, const char *type)
{
    table->type = keep_text(table, type);
}

void hw_table_add_keyword(hw_table *table, const char *name, const char *value)
{
    size_t name_at = keep_text(table, name), value_at = keep_text(table, value);
    add_place(table, &table->keyword, name_at);
    add_place(table, &table->value, value_at);
}

void hw_table_add_field(hw_table *table, const char *name)
{
    add_place(table, &table->field, keep_text(table, name));
}

void hw_table_add_cell(hw_table *table, const char *text)
{
    add_place(table, &table->cell, keep_text(table, text));
}

void hw_table_end_row(hw_table *table, size_t line)
{
    size_t wanted = (table->line.count + 1) * table->field.count;
    while (!table->failed && table->cell.count < wanted) {
        add_place(table, &table->cell, 0);
    }
    add_place(table, &table->line, line);
}

// ---- Reading -----------------------------------------------------------------------

static const char *text_at(const hw_table *table, size_t place)
{
    return table->pool.bytes ? table->pool.bytes + place : "";
}

size_t hw_table_rows(const hw_table *table)
{
    return table->line.count;
}

size_t hw_table_fields(const hw_table *table)
{
    return table->field.count;
}

size_t hw_table_keywords(const hw_table *table)
{
    return table->keyword.count < table->value.count ? table->keyword.count : table->value.count;
}

const char *hw_table_type(const hw_table *table)
{
    return text_at(table, table->type);
}

const char *hw_table_field(const hw_table *table, size_t field)
{
    return text_at(table, table->field.at[field]);
}

const char *hw_table_cell(const hw_table *table, size_t row, size_t field)
{
    return text_at(table, table->cell.at[row * table->field.count + field]);
}

size_t hw_table_line(const hw_table *table, size_t row)
{
    return table->line.at[row];
}

void hw_table_keyword_at(const hw_table *table, size_t index, const char **name, const char **value)
{
    *name = text_at(table, table->keyword.at[index]);
    *value = text_at(table, table->value.at[index]);
}

static char lower(char letter)
{
    return letter >= 'A' && letter <= 'Z' ? (char)(letter - 'A' + 'a') : letter;
}

bool hw_same_letters(const char *one, const char *other)
{
    while (*one && lower(*one) == lower(*other)) {
        one++;
        other++;
    }
    return lower(*one) == lower(*other);
}

const char *hw_table_keyword(const hw_table *table, const char *name)
{
    for (size_t i = 0; i < hw_table_keywords(table); i++) {
        const char *one, *value;
        hw_table_keyword_at(table, i, &one, &value);
        if (hw_same_letters(one, name)) {
            return value;
        }
    }
    return NULL;
}
