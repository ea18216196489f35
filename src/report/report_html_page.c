// report_html_page.c: the pieces of an HTML page (HTML Living Standard): text made harmless, lists, pictures.
#include "report_html.h"

#include <string.h>

const char hw_page_box[] = "<span class=\"box\" aria-hidden=\"true\"></span>";

void hw_page_add(hw_page *page, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    hw_text_add_list(&page->text, format, arguments);
    va_end(arguments);
}

hw_error *hw_page_error(hw_page *page)
{
    return page->status == HW_OK ? page->err : NULL;
}

// ---- Text from outside -------------------------------------------------------------

// Line ends and tabs part words; all else that a clean text has none of becomes '?'.
static void add_outside(hw_text *text, const char *from)
{
    hw_text flat = {0}, clean = {0};
    for (const char *at = from; *at; at++) {
        bool white = *at == '\n' || *at == '\r' || *at == '\t';
        hw_text_add_bytes(&flat, white ? " " : at, 1);
    }
    if (flat.bytes && !flat.failed) {
        hw_report_add_clean(&clean, flat.bytes);
    }
    if (clean.bytes && !clean.failed) {
        hw_report_add_escaped(text, clean.bytes, clean.length);
    }
    text->failed = text->failed || flat.failed || clean.failed;
    hw_text_free(&flat);
    hw_text_free(&clean);
}

void hw_page_words(hw_page *page, const char *from)
{
    add_outside(&page->text, from);
}

void hw_page_name(hw_page *page, const char *from)
{
    hw_page_add(page, "<bdi>");
    hw_page_words(page, from);
    hw_page_add(page, "</bdi>");
}

void hw_page_free_text(hw_page *page, hw_text *words)
{
    page->text.failed = page->text.failed || words->failed;
    hw_text_free(words);
}

void hw_page_text(hw_page *page, hw_text *words)
{
    if (words->bytes && !words->failed) {
        hw_page_words(page, words->bytes);
    }
    hw_page_free_text(page, words);
}

// ---- Lists -------------------------------------------------------------------------

enum { DEEPEST = 8 };

typedef struct levels {
    size_t indent[DEEPEST];
    size_t open; // lists that are open, each with an open item
} levels;

static void close_level(hw_page *page, levels *list)
{
    hw_page_add(page, "</li></ul>\n");
    list->open--;
}

static void add_item(hw_page *page, levels *list, size_t indent, const char *line, size_t length)
{
    while (list->open > 1 && list->indent[list->open - 1] > indent) {
        close_level(page, list);
    }
    bool deeper =
        list->open == 0 || (list->indent[list->open - 1] < indent && list->open < DEEPEST);
    if (deeper) {
        hw_page_add(page, "<ul class=\"lines\"><li>");
        list->indent[list->open++] = indent;
    } else {
        hw_page_add(page, "</li>\n<li>");
    }
    hw_text one = {0};
    hw_text_add_bytes(&one, line, length);
    hw_page_text(page, &one);
}

void hw_page_lines(hw_page *page, hw_text *lines)
{
    levels list = {0};
    const char *at = lines->failed ? NULL : lines->bytes;
    while (at && *at) {
        size_t length = strcspn(at, "\n"), indent = strspn(at, " ");
        if (indent < length) {
            add_item(page, &list, indent, at + indent, length - indent);
        }
        at += length + (at[length] == '\n');
    }
    while (list.open > 0) {
        close_level(page, &list);
    }
    hw_page_free_text(page, lines);
}

// ---- Sections, dates ---------------------------------------------------------------

static int two_digits(const char *at)
{
    return 10 * (at[0] - '0') + at[1] - '0';
}

void hw_page_date(hw_page *page, int64_t seconds)
{
    static const char *const month[12] = {"January",   "February", "March",    "April",
                                          "May",       "June",     "July",     "August",
                                          "September", "October",  "November", "December"};
    char iso[40];
    hw_format_time(iso, seconds); // "2026-11-25T10:27:36Z"
    int of_year = iso[4] == '-' ? two_digits(iso + 5) : 0;
    if (of_year < 1 || of_year > 12) {
        hw_page_words(page, iso);
        return;
    }
    hw_page_add(page, "<time datetime=\"%.10s\">%d %s %.4s</time>", iso, two_digits(iso + 8),
                month[of_year - 1], iso);
}

void hw_page_section(hw_page *page, const char *id, const char *heading)
{
    hw_page_add(page, "<section aria-labelledby=\"%s\">\n<h2 id=\"%s\">%s</h2>\n", id, id, heading);
}

void hw_page_section_end(hw_page *page)
{
    hw_page_add(page, "</section>\n");
}

// ---- Pictures ----------------------------------------------------------------------

void hw_page_picture(hw_page *page, hw_status made, char *svg, hw_text *alt, hw_text *words)
{
    if (made == HW_OK && page->status == HW_OK) {
        bool said = words->length > 0;
        hw_page_add(page, "<figure>\n<img alt=\"");
        hw_page_text(page, alt);
        hw_page_add(page, "\" src=\"data:image/svg+xml;base64,");
        hw_text_add_base64(&page->text, svg, strlen(svg));
        hw_page_add(page, "\">\n");
        if (said) {
            hw_page_add(page, "<figcaption>");
            hw_page_text(page, words);
            hw_page_add(page, "</figcaption>\n");
        }
        hw_page_add(page, "</figure>\n");
    }
    page->status = page->status == HW_OK ? made : page->status;
    hw_page_free_text(page, alt);
    hw_page_free_text(page, words);
    hw_report_free(svg);
}
