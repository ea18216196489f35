// report_html.h: the pieces of an HTML report, and the parts that several readers get.
//
// A page is written from top to bottom into one text. What came from outside goes through hw_page_words, hw_page_text or
// hw_page_lines, which clean and escape it; hw_page_add takes our own markup alone. Pictures are SVG files in data URIs: a
// browser draws such an image apart from the page, so nothing in it runs, loads or restyles anything (SVG 2, section 2.2,
// secure static mode).
#ifndef HUEWRIGHT_REPORT_HTML_H
#define HUEWRIGHT_REPORT_HTML_H

#include "report_internal.h"

typedef struct hw_page {
    hw_text text;
    const hw_account *account; // borrowed
    hw_status status;          // of the first piece that failed; there is no page then
    hw_error *err;             // its; pieces take hw_page_error
} hw_page;

// ---- Pieces ------------------------------------------------------------------------

// Our own markup (printf format); nothing from outside.
void hw_page_add(hw_page *page, const char *format, ...) HW_PRINTF(2, 3);
// Text from outside: control characters, broken UTF-8 and what HTML has no place for become '?', line ends become
// spaces, the five characters of markup are written as references. Fit for text and for attributes in double quotes.
void hw_page_words(hw_page *page, const char *from);
void hw_page_name(hw_page *page,
                  const char *from); // the same within <bdi>: its writing direction stays its own
// As hw_page_words of a finished text, which is freed.
void hw_page_text(hw_page *page, hw_text *words);
// Frees a text that was used otherwise; where it was cut short by want of memory the page is, too.
void hw_page_free_text(hw_page *page, hw_text *words);
// Lines as the text reports have them, one thing a line, what belongs to it indented behind it: as a list, levels
// by indentation. Empty lines are left out. Frees them.
void hw_page_lines(hw_page *page, hw_text *lines);

// Where the next piece tells its error: nowhere once one has failed, so that the first stays told.
hw_error *hw_page_error(hw_page *page);

// "26 November 2026", UTC.
void hw_page_date(hw_page *page, int64_t seconds);

// <section> with a heading; `id` names it within the page.
void hw_page_section(hw_page *page, const char *id, const char *heading);
void hw_page_section_end(hw_page *page);

// A picture under its words. `made` and `svg` as an hw_report_*_svg call gave them; svg is freed. `alt`: what is
// seen; `words`: what stands under it, nothing where it is empty. Both are freed.
void hw_page_picture(hw_page *page, hw_status made, char *svg, hw_text *alt, hw_text *words);

extern const char hw_page_box[]; // to tick by hand

// ---- What several readers get ------------------------------------------------------

void hw_page_title(hw_page *page);             // the piece as people call it
void hw_page_dates(hw_page *page, bool begun); // when it was begun, when the report was made
void hw_page_views(hw_page *page);             // each view before and after
// Who found it right, and under which lamp; that nobody did.
void hw_page_approval(hw_page *page);
void hw_page_signatures(hw_page *page); // lines to sign on
void hw_page_care(hw_page *page);       // what light does to dyes and wood, how to look after it
// Which way it is off, and how far in words: "Too light, a touch green. ..."
void hw_page_off(hw_page *page, const hw_comparison *gap);
// Those that go with laying toner: the lead line, then each, or all in one line.
void hw_page_cautions(hw_page *page, bool full);
// What the account holds of the repair of that name; NULL: nothing.
const hw_account_part *hw_account_find(const hw_account *account, const char *name);

// ---- The readers -------------------------------------------------------------------

void hw_page_customer(hw_page *page);
void hw_page_shop(hw_page *page);
void hw_page_shop_part(hw_page *page, const hw_account_part *part, size_t index);
void hw_page_slip(hw_page *page);

#endif
