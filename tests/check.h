// check.h: our test runner. A test is a C program that calls check_* and ends with
// `return check_done();`. A table is a .tsv under testdata/: `#` lines tell the source,
// each other line is tab-separated; a failure names the file and line of its row.
#ifndef HUEWRIGHT_CHECK_H
#define HUEWRIGHT_CHECK_H

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define CHECK_COLUMNS_MAX 32

typedef struct check_row {
    const char *file;
    int line;
    int columns;
    const char *text[CHECK_COLUMNS_MAX];
    double num[CHECK_COLUMNS_MAX]; // NaN where the column is no number
} check_row;

static int check_passed, check_failed;

static inline bool check_report(bool good, const char *file, int line, const char *what)
{
    if (good) {
        check_passed++;
    } else {
        check_failed++;
        printf("%s:%d: failed: %s\n", file, line, what);
    }
    return good;
}

#define check_true(condition) check_report((condition), __FILE__, __LINE__, #condition)

static inline bool check_close_at(const char *file, int line, const char *what, double got,
                                  double want, double within)
{
    bool good = fabs(got - want) <= within;
    if (!good) {
        printf("%s:%d: %s is %.9g, want %.9g within %g\n", file, line, what, got, want, within);
    }
    return check_report(good, file, line, what);
}

#define check_close(got, want, within)                                                             \
    check_close_at(__FILE__, __LINE__, #got, (got), (want), (within))

// For a row of a table: names the row's file and line.
static inline bool check_near(const check_row *row, double got, double want, double within)
{
    return check_close_at(row->file, row->line, "value", got, want, within);
}

static inline bool check_text_at(const char *file, int line, const char *got, const char *want)
{
    bool good = got && want && strcmp(got, want) == 0;
    if (!good) {
        printf("%s:%d: got \"%s\", want \"%s\"\n", file, line, got ? got : "(null)",
               want ? want : "(null)");
    }
    return check_report(good, file, line, "text");
}

#define check_text(got, want) check_text_at(__FILE__, __LINE__, (got), (want))

// `text` must hold `part`.
static inline bool check_holds_at(const char *file, int line, const char *text, const char *part)
{
    bool good = text && strstr(text, part);
    if (!good) {
        printf("%s:%d: \"%s\" does not hold \"%s\"\n", file, line, text ? text : "(null)", part);
    }
    return check_report(good, file, line, "text held");
}

#define check_holds(text, part) check_holds_at(__FILE__, __LINE__, (text), (part))

// Calls each_row for every row of testdata/<name>; a row must have at least `columns`.
static inline void check_table(const char *name, int columns, void (*each_row)(const check_row *))
{
    char path[1024];
    snprintf(path, sizeof path, "%s/%s", HW_TESTDATA, name);
    FILE *file = fopen(path, "r");
    if (!check_report(file != NULL, path, 0, "table can be read")) {
        return;
    }
    char line[4096];
    int rows = 0;
    for (int number = 1; fgets(line, sizeof line, file); number++) {
        line[strcspn(line, "\r\n")] = 0;
        if (line[0] == '#' || line[0] == 0) {
            continue;
        }
        check_row row = {path, number, 0, {0}, {0}};
        for (char *field = line; field && row.columns < CHECK_COLUMNS_MAX;) {
            char *tab = strchr(field, '\t');
            if (tab) {
                *tab = 0;
            }
            char *end = field;
            double value = strtod(field, &end);
            row.text[row.columns] = field;
            row.num[row.columns++] = end != field && *end == 0 ? value : (double)NAN;
            field = tab ? tab + 1 : NULL;
        }
        if (check_report(row.columns >= columns, path, number, "row has all its columns")) {
            each_row(&row);
        }
        rows++;
    }
    fclose(file);
    check_report(rows > 0, path, 0, "table has rows");
}

// The last line and the exit code. No check at all is a failure.
static inline int check_done(void)
{
    if (check_passed + check_failed == 0) {
        printf("no check was made\n");
        check_failed = 1;
    }
    printf("%d passed, %d failed\n", check_passed, check_failed);
    return check_failed ? 1 : 0;
}

#endif
