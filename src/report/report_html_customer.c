// report_html_customer.c: the report for the one whose piece it is: words and pictures. What was off, what was done, how it
// stands, what was left alone and why, under which lamps that was judged, how to look after it. No figures of colour, no strengths:
// those are in the shop's report.
#include "report_html.h"

#include <limits.h>
#include <math.h>
#include <string.h>

enum { LAMPS_MOST = 16, DYES_MOST = 12 };

// ---- What was done -----------------------------------------------------------------

typedef struct work {
    int passes, lie; // of dye: laid in all; that lie on it today
    int coats[HW_COAT_COUNT];
    int wiped, stripped; // times
    const char *dye[DYES_MOST];
    size_t dyes; // different ones, borrowed from the job
} work;

static void note_dyes(work *done, const hw_liquid *liquid)
{
    for (size_t i = 0; i < liquid->count; i++) {
        bool known = false;
        for (size_t k = 0; k < done->dyes; k++) {
            known = known || strcmp(done->dye[k], liquid->dose[i].dye) == 0;
        }
        if (!known && done->dyes < DYES_MOST) {
            done->dye[done->dyes++] = liquid->dose[i].dye;
        }
    }
}

static work work_on(const hw_job *job, const char *part)
{
    work done = {0};
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PASS_LAID && hw_pass_is_on(event, part)) {
            bool lies = hw_job_pass_lies(job, event, part, LONG_MAX);
            done.passes += event->of.pass.passes;
            done.lie += lies ? event->of.pass.passes : 0;
            note_dyes(&done, &event->of.pass.liquid);
        } else if (event->kind == HW_EVENT_COAT_LAID && hw_coat_is_on(event, part)) {
            done.coats[event->of.coat.coat]++;
        } else if (event->kind == HW_EVENT_TAKEN_OFF && hw_takeoff_is_on(event, part)) {
            done.stripped += event->of.takeoff.stripped;
            done.wiped += !event->of.takeoff.stripped;
        }
    }
    return done;
}

static const char *times(int count, char out[24])
{
    if (count == 1) {
        return "once";
    }
    hw_format_text(out, 24, "%d times", count);
    return out;
}

static void add_passes(hw_page *page, const work *done)
{
    hw_page_add(page, "%d thin layer%s of transparent dye %s laid on it (", done->passes,
                done->passes == 1 ? "" : "s", done->passes == 1 ? "was" : "were");
    for (size_t i = 0; i < done->dyes; i++) {
        hw_page_add(page, "%s", i ? ", " : "");
        hw_page_name(page, done->dye[i]);
    }
    hw_page_add(page, "), so that the figure of the wood shows through. ");
    if (done->lie == 0) {
        hw_page_add(page, "None of it lies there today. ");
    } else if (done->lie != done->passes) {
        hw_page_add(page, "%d of them lie%s there today. ", done->lie, done->lie == 1 ? "s" : "");
    }
}

static void add_coats(hw_page *page, const work *done)
{
    static const char *const words[HW_COAT_COUNT] = {"sealer coat", "barrier coat", "clear coat"};
    bool any = false;
    for (int i = 0; i < HW_COAT_COUNT; i++) {
        if (done->coats[i] > 0) {
            hw_page_add(page, "%s%d %s%s", any ? ", " : "Finish laid on it: ", done->coats[i],
                        words[i], done->coats[i] == 1 ? "" : "s");
            any = true;
        }
    }
    hw_page_add(page, "%s", any ? ". " : "");
}

static void add_work(hw_page *page, const work *done)
{
    char count[24];
    if (done->passes > 0) {
        add_passes(page, done);
    } else {
        hw_page_add(page, "No dye was laid on it. ");
    }
    if (done->wiped > 0) {
        hw_page_add(page, "Colour was wiped off again %s. ", times(done->wiped, count));
    }
    if (done->stripped > 0) {
        hw_page_add(page, "It was stripped to the wood %s. ", times(done->stripped, count));
    }
    add_coats(page, done);
}

// ---- Left alone, and why -----------------------------------------------------------

static const char natural[] =
    "Old wood is nowhere of one colour: two boards of one tree differ, and so do two ends of one "
    "board. What lies within that belongs to the piece.";

// What a reader without figures is told of each reason to lay nothing. `share`: it begins with how much was left.
typedef struct left {
    const char *heading;
    bool share;
    const char *words;
    bool is_natural;
} left;

static const char alone[] = "What was left alone", undecided[] = "What is open";

static const left left_for[HW_STOP_COUNT] = {
    [HW_STOP_LEAVE] = {alone, true,
                       ", on purpose: the old wood beside it differs from itself by as much. ",
                       true},
    [HW_STOP_DONE] =
        {alone, true,
         ": it lies as near to the old wood as can be seen, or as the photo can tell. ", true},
    [HW_STOP_HARM] = {alone, true, ": one more layer would as likely harm as help.", false},
    [HW_STOP_TOO_DARK] = {alone, false,
                          "It is darker than the old wood. Dye can darken wood, it cannot lighten "
                          "it.",
                          false},
    [HW_STOP_NO_DEPTH] = {alone, true,
                          ": one more layer might make it too dark, and dye cannot lighten wood.",
                          false},
    [HW_STOP_NO_DYE] = {alone, true,
                        ": no dye at hand brings it nearer without going past the old wood.",
                        false},
    [HW_STOP_NO_CHROMA] = {alone, true,
                           ": it is duller than the old wood, and layers of dye would make it too "
                           "dark before it has enough colour.",
                           false},
    [HW_STOP_FILM] = {alone, true,
                      ": many layers lie on it already, and more would make the finish too thick.",
                      false},
    [HW_STOP_BASE_COLOUR] = {"What comes first", false,
                             "It is still far off the old wood: the colour of the bare wood under "
                             "the finish comes first. Thin layers of dye are for what is off then.",
                             false},
    [HW_STOP_CANNOT_TELL] = {undecided, false,
                             "The photo cannot tell yet whether more should be done.", false},
    [HW_STOP_ASK_FIRST] = {undecided, false,
                           "Something has to be cleared up before more is laid on it.", false},
};

// What the reading itself lets stand needs no advice.
static hw_stop stop_of(const hw_account_part *part)
{
    if (part->read_last && part->last.verdict == HW_VERDICT_LEAVE) {
        return HW_STOP_LEAVE;
    }
    return part->advice && part->advice->stop ? part->advice->stop_reason : HW_STOP_NOT;
}

static void add_left(hw_page *page, const hw_account_part *part, bool toned)
{
    const left *told = &left_for[stop_of(part)];
    const char *share = toned ? "The rest of the difference" : "All of it";
    if (told->words) {
        hw_page_add(page, "<dt>%s</dt>\n<dd>%s%s%s</dd>\n", told->heading, told->share ? share : "",
                    told->words, told->is_natural ? natural : "");
    }
}

// ---- How it stands -----------------------------------------------------------------

static void add_now(hw_page *page, const hw_account_part *part)
{
    if (!part->read_last) {
        hw_page_add(page, "It was not read in a photo.");
        return;
    }
    if (part->last_photo == part->first_photo) {
        hw_page_add(page, "It was not photographed again since.");
        return;
    }
    hw_page_off(page, &part->last);
    if (part->last.verdict == HW_VERDICT_UNSURE) {
        hw_page_add(page, " The photo does not tell for sure.");
    }
}

static void add_repair(hw_page *page, const hw_account_part *part)
{
    const hw_job *job = page->account->job;
    work done = work_on(job, part->name);
    hw_page_add(page, "<article>\n<h3>");
    hw_page_name(page, part->name);
    hw_page_add(page, "</h3>\n<dl>\n<dt>What was off</dt>\n<dd>");
    if (part->read_first) {
        hw_page_off(page, &part->first);
    } else {
        hw_page_add(page, "It was not read in a photo before the work.");
    }
    hw_page_add(page, "</dd>\n<dt>What was done</dt>\n<dd>");
    add_work(page, &done);
    hw_page_add(page, "</dd>\n");
    if (done.lie > 0 || part->last_photo != part->first_photo) {
        hw_page_add(page, "<dt>How it stands now</dt>\n<dd>");
        add_now(page, part);
        hw_page_add(page, "</dd>\n");
    }
    hw_job_sides sides = hw_job_sides_of(job, part->name);
    if (sides.known && sides.present && sides.pair.turned) {
        hw_page_add(page, "<dt>From left and right</dt>\n<dd>It looks lighter from one side and "
                          "darker from the other. That is the grain sending the light one way, "
                          "not its colour: no dye changes that.</dd>\n");
    }
    add_left(page, part, done.lie > 0);
    hw_page_add(page, "</dl>\n</article>\n");
}

static void add_repairs(hw_page *page)
{
    hw_page_section(page, "repairs", "Each repair");
    for (size_t i = 0; i < page->account->part_count; i++) {
        add_repair(page, &page->account->part[i]);
    }
    if (page->account->part_count == 0) {
        hw_page_add(page, "<p>No photo of the piece shows a repair yet.</p>\n");
    }
    hw_page_section_end(page);
}

// ---- Lamps -------------------------------------------------------------------------

static void add_pair(hw_page *page, const hw_lamp_pair *pair)
{
    const char *way[3];
    if (!pair->known || !pair->present) {
        return;
    }
    hw_page_add(page, " Under “");
    hw_page_name(page, pair->other.lamp);
    switch (pair->verdict) {
    case HW_LAMP_HOLDS:
        hw_page_add(page, "” it holds as well.");
        return;
    case HW_LAMP_PARTS:
        hw_page_add(page, "” the repair looks ");
        for (size_t i = 0, count = hw_report_lamp_ways(pair, way); i < count; i++) {
            hw_page_add(page, "%s%s", i ? ", " : "", way[i]);
        }
        hw_page_add(page, " beside the old wood than there.");
        return;
    default:
        hw_page_add(page, "” the photos cannot tell: look at it there yourself.");
    }
}

static void add_lamps_of(hw_page *page, const char *patch)
{
    const hw_job *job = page->account->job;
    const char *lamp = hw_job_main_lamp(job, patch);
    hw_lamp_pair pair[LAMPS_MOST];
    size_t count = hw_job_lamp_pairs(job, patch, pair, LAMPS_MOST);
    hw_page_add(page, "<li>");
    hw_page_name(page, patch);
    if (lamp) {
        hw_page_add(page, ": judged under “");
        hw_page_name(page, lamp);
        hw_page_add(page, "”.");
    } else {
        hw_page_add(page, ": under which lamp it was judged was not noted.");
    }
    for (size_t i = 0; i < count && i < LAMPS_MOST; i++) {
        add_pair(page, &pair[i]);
    }
    hw_page_add(page, "</li>\n");
}

static void add_lamps(hw_page *page)
{
    hw_page_section(page, "lamps", "Under which lamp");
    hw_page_add(
        page, "<p>Dye and old wood answer light in different ways. What matches by daylight may "
              "part a little under a warm lamp in the evening; that is no fault of the work. Look "
              "at the piece where it will stand.</p>\n");
    if (page->account->part_count > 0) {
        hw_page_add(page, "<ul>\n");
        for (size_t i = 0; i < page->account->part_count; i++) {
            add_lamps_of(page, page->account->part[i].name);
        }
        hw_page_add(page, "</ul>\n");
    }
    hw_page_section_end(page);
}

// ---- All ---------------------------------------------------------------------------

static void add_hours(hw_page *page)
{
    double hours = hw_job_hours(page->account->job, NULL);
    if (!(hours > 0.0)) {
        return;
    }
    hw_page_section(page, "work", "Work");
    hw_page_add(page, "<p>%.3g hour%s of work on the colour.</p>\n", hours,
                hours == 1.0 ? "" : "s");
    hw_page_section_end(page);
}

void hw_page_customer(hw_page *page)
{
    hw_page_views(page);
    add_repairs(page);
    add_lamps(page);
    hw_page_approval(page);
    add_hours(page);
    hw_page_care(page);
    hw_page_signatures(page);
}
