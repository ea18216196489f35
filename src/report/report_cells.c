// report_cells.c: numbers as a row of signs in a text, a cell for each step of a span; and lines that fit a terminal.
#include "report_internal.h"

#include <math.h>

// ---- Cells -------------------------------------------------------------------------

hw_cells hw_cells_of(int count, double low, double high)
{
    hw_cells row = {.count = count, .low = low, .high = high};
    for (int i = 0; i < count; i++) {
        row.sign[i] = "·";
    }
    return row;
}

static int cell_of(const hw_cells *row, double value)
{
    double last = row->count - 1;
    return (int)lround(fmin(fmax(last * (value - row->low) / (row->high - row->low), 0.0), last));
}

void hw_cells_fill(hw_cells *row, double from, double to, const char *sign)
{
    if (isfinite(from) && isfinite(to)) {
        for (int i = cell_of(row, fmin(from, to)); i <= cell_of(row, fmax(from, to)); i++) {
            row->sign[i] = sign;
        }
    }
}

void hw_cells_add(hw_text *text, const hw_cells *row)
{
    for (int i = 0; i < row->count; i++) {
        hw_text_add(text, "%s", row->sign[i]);
    }
}

// ---- Lines -------------------------------------------------------------------------

static size_t columns_of(const char *at, size_t bytes)
{
    size_t columns = 0;
    for (size_t done = 0; done < bytes; columns++) {
        size_t length = hw_utf8_character(at + done, bytes - done);
        done += length ? length : 1;
    }
    return columns;
}

void hw_report_add_lines(hw_text *text, size_t indent, const hw_text *words)
{
    const size_t most = 80;
    const char *at = hw_text_words(words);
    size_t filled = 0;
    while (*at) {
        size_t bytes = strcspn(at, " "), columns = columns_of(at, bytes);
        bool begins = filled == 0 || filled + 1 + columns > most;
        hw_text_add(text, "%s%*s", filled && begins ? "\n" : "", begins ? (int)indent : 1, "");
        hw_text_add_bytes(text, at, bytes);
        filled = columns + (begins ? indent : filled + 1);
        at += bytes + (at[bytes] == ' ');
    }
    hw_text_add(text, "\n");
    text->failed = text->failed || words->failed;
}
