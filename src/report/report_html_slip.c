// report_html_slip.c: the slip for the spray room, printed, on one page: what to mix, what to lay where, how many passes, how long
// to wait, what to look for and where to stop. Boxes are ticked by hand: phone and computer stay outside.
//
// Where much is to be laid the cautions shrink to one line: what is on a second page is not read there. Its order is that of the work: mix, lay jar by jar in the order of the day's sheet, leave the rest alone.
#include "report_html.h"

#include <math.h>
#include <string.h>

// ---- What is to be laid ------------------------------------------------------------

static bool any_to_lay(const hw_account *account)
{
    for (size_t i = 0; account->has_day && i < account->day.count; i++) {
        if (account->day.advice[i].has_next) {
            return true;
        }
    }
    return false;
}

// The jar of the day that an advice's next passes come out of; jar_count: none of them.
static size_t jar_of(const hw_day *day, const hw_advice *advice)
{
    for (size_t i = 0; i < day->jar_count; i++) {
        if (hw_liquid_is_same(&day->jar[i].liquid, &advice->next.liquid)) {
            return i;
        }
    }
    return day->jar_count;
}

// ---- Mixing ------------------------------------------------------------------------

static void add_amounts(hw_page *page, const hw_day_jar *jar)
{
    hw_text words = {0};
    if (isfinite(jar->need_ml)) {
        hw_report_add_about(&words, "It takes ", jar->need_ml);
    }
    if (isfinite(jar->left_ml)) {
        hw_report_add_about(&words, words.length ? "; the jar holds " : "The jar holds ",
                            jar->left_ml);
        hw_text_add(&words, "%s", jar->left_ml < jar->need_ml ? ": too little, mix more" : "");
    }
    if (words.length > 0) {
        hw_page_add(page, "<br>");
        hw_page_text(page, &words);
        hw_page_add(page, ".");
    }
    hw_page_free_text(page, &words);
}

static void add_jar(hw_page *page, size_t index)
{
    const hw_day *day = &page->account->day;
    const hw_day_jar *jar = &day->jar[index];
    hw_text liquid = {0}, mix = {0};
    char name[16];
    hw_report_name_jar(day, index, name);
    hw_report_add_liquid(&liquid, &jar->liquid);
    hw_page_add(page, "<li>%s<span class=\"what\">%s</span>: ", hw_page_box, name);
    hw_page_text(page, &liquid);
    hw_page_add(page, "%s", jar->number > 0 ? " (stands mixed: stir it)" : "");
    add_amounts(page, jar);
    if (jar->can_mix) {
        hw_page_add(page, "\n");
        hw_report_add_mix(&mix, &jar->mix, "");
        hw_page_lines(page, &mix);
    }
    hw_page_add(page, "</li>\n");
}

static void add_mixing(hw_page *page)
{
    const hw_day *day = &page->account->day;
    bool any = false;
    for (size_t i = 0; i < day->jar_count; i++) {
        if (day->for_all && day->jar[i].patches == 0) {
            continue; // for after the next look
        }
        if (!any) {
            hw_page_section(page, "mix", "Mix");
            hw_page_add(page, "<ul class=\"plain\">\n");
            any = true;
        }
        add_jar(page, i);
    }
    if (any) {
        hw_page_add(page, "</ul>\n");
        hw_page_section_end(page);
    }
}

// ---- Laying ------------------------------------------------------------------------

static void add_ticks(hw_page *page, int passes)
{
    for (int i = 1; i <= passes && i <= HW_PLAN_PASSES_MAX; i++) {
        hw_page_add(page, "<span class=\"tick\">%spass %d</span> ", hw_page_box, i);
    }
}

// What the passes should do all together: "in all darker by 1.9, redder by 0.4", as far as that is known.
static void add_look_for(hw_page *page, const hw_advice *advice)
{
    const hw_account_part *part = hw_account_find(page->account, advice->patch);
    hw_text words = {0};
    if (!part || !part->read_last) {
        return;
    }
    hw_difference change = hw_difference_of(part->last.patch_lab, advice->after_next.lab);
    const double seen = 0.5; // of L*, a*, b*: what nobody sees is no sign (chosen)
    hw_report_add_change(&words, fabs(change.L) < seen ? 0.0 : change.L,
                         fabs(change.a) < seen ? 0.0 : change.a,
                         fabs(change.b) < seen ? 0.0 : change.b);
    bool any = fabs(change.L) >= seen || fabs(change.a) >= seen || fabs(change.b) >= seen;
    hw_page_add(page, any ? "<br>Look for: in all about "
                          : "<br>Look for: hardly anything to be seen of it alone");
    if (any) {
        hw_page_words(page, hw_text_words(&words));
    }
    hw_page_free_text(page, &words);
    hw_page_add(page, ", once dry.");
}

static void add_step(hw_page *page, const hw_advice *advice)
{
    const hw_day *day = &page->account->day;
    size_t index = jar_of(day, advice);
    char passes[32], name[16] = "";
    hw_report_passes(passes, sizeof passes, advice->next.passes);
    hw_page_add(page, "<li><span class=\"what\">");
    hw_page_name(page, advice->patch);
    hw_page_add(page, ": %s of ", passes);
    if (index < day->jar_count) {
        hw_report_name_jar(day, index, name);
        hw_page_add(page, "%s</span>", name);
    } else {
        hw_text liquid = {0};
        hw_report_add_liquid(&liquid, &advice->next.liquid);
        hw_page_text(page, &liquid);
        hw_page_add(page, "</span>");
    }
    hw_page_add(page, " ");
    add_ticks(page, advice->next.passes);
    if (advice->next_guess) {
        hw_page_add(page, "<span class=\"guess\">GUESS: try it on scrap first</span>");
    }
    if (advice->may_be_left) {
        hw_page_add(page, "<br>It may be left as it is; this is for a joint that still shows.");
    }
    if (advice->before_coats) {
        hw_page_add(page, "<br>The aim is not the old wood as it is now but what it must be before "
                          "the coats to come.");
    }
    add_look_for(page, advice);
    hw_page_add(page, "</li>\n");
}

static void add_laying(hw_page *page)
{
    const hw_day *day = &page->account->day;
    double minutes = hw_job_settings_now(page->account->job).recoat_minutes;
    hw_page_section(page, "lay", "Lay, in this order");
    hw_page_add(page, "<ol>\n");
    for (size_t i = 0; i < day->sheet.step_count; i++) {
        add_step(page, &day->advice[day->sheet.step[i].patch]);
    }
    for (size_t i = 0; day->sheet.step_count == 0 && i < day->count; i++) {
        if (day->advice[i].has_next) {
            add_step(page, &day->advice[i]);
        }
    }
    hw_page_add(page, "</ol>\n<p>Between passes: ");
    if (isfinite(minutes)) {
        hw_text words = {0};
        hw_report_add_minutes(&words, minutes);
        hw_page_text(page, &words);
    } else {
        hw_page_add(page, "the recoat time that the can gives");
    }
    hw_page_add(page,
                ".<br>Stop early where it gets darker than the old wood, or its hue goes past "
                "it.</p>\n<p class=\"say\">Then stop, let it dry, photograph it.</p>\n");
    hw_page_section_end(page);
}

// ---- Leaving alone -----------------------------------------------------------------

static void add_left(hw_page *page)
{
    const hw_day *day = &page->account->day;
    bool any = false;
    for (size_t i = 0; page->account->has_day && i < day->count; i++) {
        if (day->advice[i].has_next) {
            continue;
        }
        if (!any) {
            hw_page_section(page, "leave", "Lay nothing on");
            hw_page_add(page, "<ul class=\"plain\">\n");
            any = true;
        }
        hw_page_add(page, "<li><span class=\"say\">");
        hw_page_name(page, day->advice[i].patch);
        hw_page_add(page, "</span>: ");
        hw_page_words(page, day->advice[i].why);
        hw_page_add(page, "</li>\n");
    }
    if (any) {
        hw_page_add(page, "</ul>\n");
        hw_page_section_end(page);
    }
}

static void add_nothing(hw_page *page)
{
    hw_page_section(page, "lay", "Lay nothing");
    if (!page->account->has_day) {
        hw_page_add(page, "<p>");
        hw_page_words(page, page->account->no_day[0] ? page->account->no_day
                                                     : "No advice could be given.");
        hw_page_add(page, "</p>\n");
    } else {
        hw_page_add(page, "<p>There is nothing to be laid next.</p>\n");
    }
    hw_page_section_end(page);
}

enum {
    FULL_CAUTIONS_MOST = 2
}; // repairs told beside the cautions in full; chosen by what fits on half a sheet

void hw_page_slip(hw_page *page)
{
    bool lay = any_to_lay(page->account);
    if (lay) {
        add_mixing(page);
        add_laying(page);
    } else {
        add_nothing(page);
    }
    add_left(page);
    if (lay) {
        hw_page_section(page, "cautions", "Before and while you spray");
        hw_page_cautions(page, page->account->day.count <= FULL_CAUTIONS_MOST);
        hw_page_section_end(page);
    }
}
