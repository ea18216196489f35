// report_html_shared.c: what several readers of a report get: the piece and its dates, before and after, who found it
// right, how light changes it, lines to sign on, cautions.
#include "report_html.h"

#include <string.h>

void hw_page_title(hw_page *page)
{
    const char *title = hw_job_title(page->account->job);
    hw_page_words(page, title[0] ? title : "a piece without a name");
}

void hw_page_dates(hw_page *page, bool begun)
{
    const hw_job *job = page->account->job;
    hw_page_add(page, "<p>");
    if (begun && hw_job_event_count(job) > 0) {
        hw_page_add(page, "Begun on ");
        hw_page_date(page, hw_job_event(job, 0)->at);
        hw_page_add(page, ". ");
    }
    hw_page_add(page, "As it stood on ");
    hw_page_date(page, page->account->at);
    hw_page_add(page, ".</p>\n");
}

// ---- Before and after --------------------------------------------------------------

// "lid strip, rail": what is marked, for those who do not see it.
static void say_marks(hw_text *text, const hw_marks *marks)
{
    bool any = false;
    for (size_t i = 0; i < marks->count; i++) {
        if (hw_role_is_wood(marks->mark[i].role)) {
            hw_text_add(text, "%s%s ", any ? ", " : " Drawn in: ",
                        marks->mark[i].role == HW_ROLE_PATCH ? "the repair" : "old wood");
            hw_report_add_clean(text, marks->mark[i].name);
            any = true;
        }
    }
    hw_text_add(text, "%s", any ? "." : "");
}

static void say_photo(hw_text *text, const char *when, long photo, int64_t at)
{
    char time[48];
    hw_report_time(time, sizeof time, at);
    hw_text_add(text, "%s: photo %ld, %.10s", when, photo, time);
}

static void add_two(hw_page *page, const hw_before_after *view)
{
    hw_text first = {0}, second = {0}, alt = {0}, words = {0};
    char *svg = NULL;
    say_photo(&first, "Before", view->first, view->first_at);
    say_photo(&second, "After", view->last, view->last_at);
    hw_two two = {.first = &view->before,
                  .second = &view->after,
                  .first_marks = &view->first_marks,
                  .second_marks = &view->last_marks,
                  .first_words = hw_text_words(&first),
                  .second_words = hw_text_words(&second)};
    hw_status made = hw_report_two_svg(&two, &svg, hw_page_error(page));
    hw_text_add(&alt, "Two pictures of the view ");
    hw_report_add_clean(&alt, view->view);
    hw_text_add(&alt, ". %s. %s.", two.first_words, two.second_words);
    say_marks(&alt, &view->last_marks);
    hw_report_add_clean(&words, view->same);
    hw_page_picture(page, made, svg, &alt, &words);
    hw_page_free_text(page, &first);
    hw_page_free_text(page, &second);
}

static void add_one(hw_page *page, const hw_before_after *view)
{
    hw_text said = {0}, alt = {0}, words = {0};
    char *svg = NULL;
    say_photo(&said, "Now", view->first, view->first_at);
    hw_status made = hw_report_photo_svg(&view->before, &view->first_marks, hw_text_words(&said),
                                         &svg, hw_page_error(page));
    hw_text_add(&alt, "The view ");
    hw_report_add_clean(&alt, view->view);
    hw_text_add(&alt, ". %s.", hw_text_words(&said));
    say_marks(&alt, &view->first_marks);
    hw_text_add(&words, "No second photo of it under that lamp yet, so there is no after. ");
    hw_report_add_clean(&words, view->same);
    hw_page_picture(page, made, svg, &alt, &words);
    hw_page_free_text(page, &said);
}

void hw_page_views(hw_page *page)
{
    size_t shown = 0;
    hw_page_section(page, "before", "Before and after");
    for (size_t i = 0; i < page->account->view_count; i++) {
        const hw_before_after *view = &page->account->view[i];
        if (!view->before.rgb) { // measured by an instrument: there is no picture of it
            continue;
        }
        shown++;
        hw_page_add(page, "<h3>Seen: ");
        hw_page_name(page, view->view);
        hw_page_add(page, "</h3>\n");
        if (view->after.rgb) {
            add_two(page, view);
        } else {
            add_one(page, view);
        }
    }
    if (shown == 0) {
        hw_page_add(page, "<p>There is no picture to show.</p>\n");
    }
    hw_page_section_end(page);
}

// ---- Words on a gap ----------------------------------------------------------------

// Above it the words of a size also tell the finisher what to do: CIEDE2000, a bound of hw_size_words.
static const double told_to_finisher = 4.0;

void hw_page_off(hw_page *page, const hw_comparison *gap)
{
    hw_text words = {0};
    const char *size = hw_size_words(gap->gap.de00);
    const char *end = gap->gap.de00 > told_to_finisher ? strchr(size, '.') : NULL;
    if (gap->direction_count > 0) {
        hw_report_add_directions(&words, gap);
        hw_text_add(&words, ". ");
    }
    hw_text_add_bytes(&words, size, end ? (size_t)(end - size) + 1 : strlen(size));
    if (words.bytes && words.bytes[0] >= 'a' && words.bytes[0] <= 'z') {
        words.bytes[0] = (char)(words.bytes[0] - 'a' + 'A');
    }
    hw_page_text(page, &words);
}

// ---- Approval, signatures ----------------------------------------------------------

void hw_page_approval(hw_page *page)
{
    const hw_event *event = hw_job_approval(page->account->job);
    hw_page_section(page, "approval", "Who found it right");
    if (!event) {
        hw_page_add(page, "<p>Nobody has approved the colour as it is now yet.</p>\n");
        hw_page_section_end(page);
        return;
    }
    hw_page_add(page, "<p>Approved by ");
    hw_page_name(page, event->of.approval.by);
    if (event->of.approval.lamp[0]) {
        hw_page_add(page, " under the lamp “");
        hw_page_name(page, event->of.approval.lamp);
        hw_page_add(page, "”");
    }
    hw_page_add(page, " on ");
    hw_page_date(page, event->at);
    hw_page_add(page, ". ");
    hw_page_words(page, event->of.approval.note);
    hw_page_add(page, "</p>\n");
    hw_page_section_end(page);
}

void hw_page_signatures(hw_page *page)
{
    hw_page_section(page, "signatures", "Signatures");
    hw_page_add(page, "<div class=\"sign\">\n<div>Customer</div>\n<div>Date</div>\n"
                      "<div>Finisher</div>\n<div>Date</div>\n</div>\n");
    hw_page_section_end(page);
}

// ---- Care --------------------------------------------------------------------------

// Common practice, no source.
void hw_page_care(hw_page *page)
{
    hw_page_section(page, "care", "Light and care");
    hw_page_add(
        page,
        "<ul>\n<li>Dyes fade faster than pigments in strong light. Keep the piece out of direct "
        "sun, or the repair may come to show.</li>\n"
        "<li>Wood changes with the years too, new wood faster than old: cherry and mahogany "
        "darken, walnut lightens. The repair and the old wood may not change alike.</li>\n"
        "<li>Clean it with a soft cloth, barely damp. Before you use wax, polish or any cleaner, "
        "ask the finisher: some take the colour along.</li>\n</ul>\n");
    hw_page_section_end(page);
}

// ---- Cautions ----------------------------------------------------------------------

void hw_page_cautions(hw_page *page, bool full)
{
    size_t count = 0;
    const char *const *cautions = hw_cautions(&count);
    if (!full) {
        hw_page_add(page, "<p class=\"say\">%s</p>\n", hw_caution_lead());
        hw_page_add(page, "<p>%s</p>\n", hw_caution_one_line());
        return;
    }
    hw_page_add(page, "<div class=\"cautions\">\n<p class=\"say\">%s</p>\n<ul>\n",
                hw_caution_lead());
    for (size_t i = 0; i < count; i++) {
        hw_page_add(page, "<li>%s</li>\n", cautions[i]);
    }
    hw_page_add(page, "</ul>\n</div>\n");
}
