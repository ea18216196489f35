// report_html_shop.c: the report for the shop's own files: everything. What to know first, each repair with its figures
// (report_html_part.c), what is advised, what holds for the job, its jars, the whole log, cautions.
//
// Where the text reports tell a thing, its lines are theirs: one source of words for terminal and page.
#include "report_html.h"

#include <math.h>
#include <string.h>

// ---- To know first -----------------------------------------------------------------

static void add_sentences(hw_page *page, const hw_warnings *warnings)
{
    size_t order[HW_WARNINGS_MAX];
    hw_warnings_worst_first(warnings, order);
    for (size_t i = 0; i < warnings->count; i++) {
        hw_page_add(page, "<li>");
        hw_page_words(page, warnings->text[order[i]]);
        hw_page_add(page, "</li>\n");
    }
}

// Of job, account and advice, each sentence once; then what the log leaves to be cleared up.
static void add_warnings(hw_page *page)
{
    const hw_account *account = page->account;
    hw_warnings all = {0}, asked = {0};
    hw_observation *seen = NULL;
    size_t count = 0;
    hw_status status = hw_job_observe(account->job, 0, &seen, &count, &asked, hw_page_error(page));
    hw_free_observations(seen);
    page->status = page->status == HW_OK ? status : page->status;
    hw_warnings_append(&all, &account->warnings);
    hw_warnings_append(&all, hw_job_warnings(account->job));
    hw_warnings_append(&all, &account->day.warnings);
    if (all.count + asked.count == 0) {
        return;
    }
    hw_page_section(page, "first", "To know first");
    if (all.count > 0) {
        hw_page_add(page, "<ul>\n");
        add_sentences(page, &all);
        hw_page_add(page, "</ul>\n");
    }
    if (asked.count > 0) {
        hw_page_add(page, "<h3>To be cleared up</h3>\n<ul>\n");
        add_sentences(page, &asked);
        hw_page_add(page, "</ul>\n");
    }
    hw_page_section_end(page);
}

// ---- What is advised ---------------------------------------------------------------

static void add_advice(hw_page *page)
{
    const hw_account *account = page->account;
    hw_page_section(page, "advice", "What is advised next");
    if (account->has_day) {
        hw_report_style style = {0};
        hw_day day = account->day; // borrows all of it
        hw_text lines = {0};
        char *text = NULL;
        day.warnings = (hw_warnings){0}; // stand on top of the page
        day.cautions_full = false;       // stand below in full
        hw_status status = hw_report_advice_text(&day, &style, &text, hw_page_error(page));
        page->status = page->status == HW_OK ? status : page->status;
        hw_text_add(&lines, "%s", text ? text : "");
        hw_page_lines(page, &lines);
        hw_report_free(text);
    } else {
        hw_page_add(page, "<p>");
        hw_page_words(page, account->no_day[0] ? account->no_day : "No advice could be given.");
        hw_page_add(page, "</p>\n");
    }
    hw_page_section_end(page);
}

// ---- Settings ----------------------------------------------------------------------

static void add_row(hw_page *page, const char *name, hw_text *value)
{
    hw_page_add(page, "<tr><th scope=\"row\">%s</th><td>", name);
    if (value->length == 0) {
        hw_text_add(value, "not said");
    }
    hw_page_text(page, value);
    hw_page_add(page, "</td></tr>\n");
}

static void say_coats(hw_text *text, const hw_job_settings *settings)
{
    switch (settings->coats_over) {
    case HW_COATS_UNSAID:
        return;
    case HW_COATS_NOT_KNOWN:
        hw_text_add(text, "not known");
        return;
    default:
        hw_text_add(text, "%d, over %s, as said with event %ld", settings->coats_said,
                    settings->coats_over == HW_COATS_ALL ? "repairs and old wood"
                                                         : "the repairs only",
                    settings->coats_event);
    }
}

static void add_settings(hw_page *page)
{
    hw_job_settings settings = hw_job_settings_now(page->account->job);
    hw_text coats = {0}, recoat = {0}, card = {0}, pass = {0};
    say_coats(&coats, &settings);
    if (isfinite(settings.recoat_minutes)) {
        hw_report_add_minutes(&recoat, settings.recoat_minutes);
    }
    if (isfinite(settings.card_mm[0])) {
        hw_text_add(&card, "%g × %g mm", settings.card_mm[0], settings.card_mm[1]);
    } else if (settings.card_asked) {
        hw_text_add(&card, "not known");
    }
    if (isfinite(settings.ml_m2)) {
        hw_text_add(&pass, "%g ml a square metre", settings.ml_m2);
    }
    hw_page_section(page, "settings", "What holds for the whole job");
    hw_page_add(page, "<table>\n<caption>Said once, used throughout</caption>\n<tbody>\n");
    add_row(page, "Clear coats to come", &coats);
    add_row(page, "Recoat time", &recoat);
    add_row(page, "Grey card", &card);
    add_row(page, "A pass takes", &pass);
    hw_page_add(page, "</tbody>\n</table>\n");
    hw_page_section_end(page);
}

// ---- Jars, parts, log --------------------------------------------------------------

// Lines under their heading; a first line that only repeats it is left out.
static void add_lines(hw_page *page, const char *id, const char *heading, const char *lead,
                      hw_text *lines)
{
    if (lines->length > 0) {
        hw_text rest = {0};
        const char *found = strstr(lines->bytes, lead);
        hw_text_add(&rest, "%s", found ? found + strlen(lead) : lines->bytes);
        hw_page_section(page, id, heading);
        hw_page_lines(page, &rest);
        hw_page_section_end(page);
    }
    hw_page_free_text(page, lines);
}

static void add_log(hw_page *page)
{
    const hw_job *job = page->account->job;
    hw_text parts = {0}, jars = {0}, history = {0};
    hw_status status = hw_report_add_parts(&parts, job, hw_page_error(page));
    if (status == HW_OK) {
        hw_report_add_jars(&jars, job, &page->account->known);
        status = hw_report_add_history(&history, job, hw_page_error(page));
    }
    page->status = page->status == HW_OK ? status : page->status;
    add_lines(page, "jars", "Jars", "The jars:\n", &jars);
    add_lines(page, "parts", "The parts and the work", "The parts now:\n", &parts);
    add_lines(page, "log", "The log", "", &history);
}

// ---- All ---------------------------------------------------------------------------

static void add_contents(hw_page *page)
{
    hw_page_add(page, "<nav aria-label=\"Contents\">\n<ul>\n"
                      "<li><a href=\"#before\">Before and after</a></li>\n"
                      "<li><a href=\"#repairs\">Each repair</a><ul>\n");
    for (size_t i = 0; i < page->account->part_count; i++) {
        hw_page_add(page, "<li><a href=\"#repair-%zu\">", i + 1);
        hw_page_name(page, page->account->part[i].name);
        hw_page_add(page, "</a></li>\n");
    }
    if (page->account->part_count == 0) {
        hw_page_add(page, "<li>none yet</li>\n");
    }
    hw_page_add(page, "</ul></li>\n<li><a href=\"#advice\">What is advised next</a></li>\n"
                      "<li><a href=\"#settings\">What holds for the whole job</a></li>\n"
                      "<li><a href=\"#log\">The log</a></li>\n</ul>\n</nav>\n");
}

void hw_page_shop(hw_page *page)
{
    add_contents(page);
    add_warnings(page);
    hw_page_views(page);
    hw_page_section(page, "repairs", "Each repair");
    for (size_t i = 0; i < page->account->part_count; i++) {
        hw_page_shop_part(page, &page->account->part[i], i);
    }
    if (page->account->part_count == 0) {
        hw_page_add(page, "<p>No photo of the piece shows a repair yet.</p>\n");
    }
    hw_page_section_end(page);
    add_advice(page);
    add_settings(page);
    add_log(page);
    hw_page_approval(page);
    hw_page_care(page);
    hw_page_section(page, "cautions", "Cautions");
    hw_page_cautions(page, true);
    hw_page_section_end(page);
    hw_page_signatures(page);
}
