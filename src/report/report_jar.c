// report_jar.c: the jars of a job: what is in each, how it is mixed, and how much stronger than it says its passes
// were; and what a new job took over from an earlier one.
#include "report_internal.h"

#include <math.h>

static const hw_known_jar *known_jar(const hw_job *job, const hw_known *known, long number)
{
    char key[HW_JAR_KEY_SIZE];
    hw_job_jar_key(job, number, key);
    return known ? hw_known_find_jar(known, key) : NULL;
}

static double end_of(const hw_known_jar *jar, double side)
{
    return jar->factor * exp(side * HW_NINETY * jar->u_factor);
}

bool hw_report_add_jar_strength(hw_text *text, const hw_job *job, const hw_known *known,
                                long number)
{
    const hw_known_jar *jar = known_jar(job, known, number);
    if (!jar) {
        return false;
    }
    double low = end_of(jar, -1.0), high = end_of(jar, 1.0);
    if (fabs(jar->factor - 1.0) < 0.05) {
        hw_text_add(text, "about as strong as it says");
    } else {
        hw_text_add(text, "about %.1f times as strong as it says", jar->factor);
    }
    hw_text_add(text, " (%.1f to %.1f); seen %zu time%s", low, high, jar->times_seen,
                jar->times_seen == 1 ? "" : "s");
    return true;
}

void hw_report_add_jar(hw_text *text, const hw_jar_event *jar)
{
    char volume[64];
    hw_text_add(text, "jar %ld", jar->jar);
    hw_text_add(text, jar->from_job[0] ? " carried over: " : " mixed: ");
    hw_report_add_liquid(text, &jar->liquid);
    if (jar->volume_ml > 0.0) {
        hw_say_volume(jar->volume_ml, volume, sizeof volume);
        hw_text_add(text, ", %s", volume);
    }
    if (jar->from_job[0]) {
        hw_text_add(text, "; it was jar %ld of an earlier job (", jar->from_jar);
        hw_report_add_clean(text, jar->from_job);
        hw_text_add(text, ")");
    }
    hw_report_add_said(text, "; note: ", jar->note);
}

// Nothing where there is no jar.
void hw_report_add_jars(hw_text *text, const hw_job *job, const hw_known *known)
{
    bool any = false;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind != HW_EVENT_JAR_MIXED) {
            continue;
        }
        hw_text_add(text, any ? "" : "\nThe jars:\n");
        any = true;
        hw_text_add(text, "    jar %ld: ", event->of.jar.jar);
        hw_report_add_liquid(text, &event->of.jar.liquid);
        hw_text_add(text, "; ");
        if (!hw_report_add_jar_strength(text, job, known, event->of.jar.jar)) {
            hw_text_add(text, "how strong it really is, is not known yet");
        }
        double left = hw_job_jar_left(job, event->of.jar.jar);
        if (isfinite(left)) {
            hw_report_add_about(text, "; ", left);
            hw_text_add(text, " left");
        }
        hw_text_add(text, "\n");
    }
}

void hw_report_json_jar(hw_json *told, const hw_jar_event *jar)
{
    hw_json_add_number(told, "jar", (double)jar->jar);
    hw_report_json_liquid(told, &jar->liquid);
    hw_json_add_rounded(told, "volume_ml", jar->volume_ml > 0.0 ? jar->volume_ml : (double)NAN, 2);
    if (jar->from_job[0]) {
        hw_report_json_text(told, "from_job", jar->from_job);
        hw_json_add_number(told, "from_jar", (double)jar->from_jar);
    }
    hw_report_json_text(told, "note", jar->note);
}

// {"factor","low","high","seen"}, low and high 90 %; null: nothing was seen of it.
static void add_strength_json(hw_json *told, const hw_job *job, const hw_known *known, long number)
{
    const hw_known_jar *jar = known_jar(job, known, number);
    if (!jar) {
        hw_json_add_null(told, "strength");
        return;
    }
    hw_json *one = hw_json_add_object(told, "strength");
    hw_json_add_rounded(one, "factor", jar->factor, 3);
    hw_json_add_rounded(one, "low", end_of(jar, -1.0), 3);
    hw_json_add_rounded(one, "high", end_of(jar, 1.0), 3);
    hw_json_add_number(one, "seen", (double)jar->times_seen);
}

void hw_report_json_jars(hw_json *root, const hw_job *job, const hw_known *known)
{
    hw_json *list = hw_json_add_array(root, "jars");
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_JAR_MIXED) {
            hw_json *told = hw_json_add_object(list, NULL);
            hw_report_json_jar(told, &event->of.jar);
            add_strength_json(told, job, known, event->of.jar.jar);
            hw_json_add_rounded(told, "left_ml", hw_job_jar_left(job, event->of.jar.jar), 1);
        }
    }
}

// ---- A jar just logged -------------------------------------------------------------

// Names come from people and files; the lines are our own.
void hw_report_add_mix(hw_text *text, const hw_mix *mix, const char *indent)
{
    char words[1600];
    hw_mix_say(mix, words, sizeof words);
    for (char *line = words; line;) {
        char *end = strchr(line, '\n');
        if (end) {
            *end = 0;
        }
        hw_text_add(text, "%s", indent);
        hw_report_add_clean(text, line);
        hw_text_add(text, "\n");
        line = end ? end + 1 : NULL;
    }
}

hw_status hw_report_jar_text(const hw_event *event, const hw_mix *mix, const hw_warnings *warnings,
                             char **out, hw_error *err)
{
    hw_text text = {0};
    hw_text_add(&text, "Saved: ");
    hw_report_add_jar(&text, &event->of.jar);
    hw_text_add(&text, " (event %ld)\n", event->number);
    if (mix) {
        hw_report_add_mix(&text, mix, "    ");
    }
    hw_text_add(&text, "Write %ld on the jar.\n", event->of.jar.jar);
    hw_report_add_warnings(&text, warnings);
    return hw_report_finish(&text, out, err);
}

static void add_way(hw_json *told, const char *name, const hw_mix *mix, bool possible,
                    double thinner, double off)
{
    if (!possible) {
        hw_json_add_null(told, name);
        return;
    }
    hw_json *way = hw_json_add_object(told, name);
    hw_json *parts = hw_json_add_array(way, "parts");
    bool board = strcmp(name, "from_board") == 0;
    for (size_t i = 0; i < mix->count; i++) {
        const hw_mix_part *part = &mix->part[i];
        hw_json *one = hw_json_add_object(parts, NULL);
        bool powder = !board && part->powder_g > 0.0;
        hw_report_json_text(one, "dye", part->dye);
        hw_json_add_rounded(one, powder ? "g" : "ml",
                            board    ? part->board_ml
                            : powder ? part->powder_g
                                     : part->concentrate_ml,
                            3);
    }
    hw_json_add_rounded(way, "thinner_ml", thinner, 3);
    hw_json_add_rounded(way, "off", off, 4);
}

// {"volume_ml","from_board":{"parts":[{"dye","ml"}],"thinner_ml","off"} or null,"from_concentrate": likewise with "g"
// for powder,"words"}; off: share by which what can be measured puts a part off.
void hw_report_json_mix(hw_json *root, const hw_mix *mix)
{
    char words[1600];
    hw_json *told = hw_json_add_object(root, "mix");
    hw_json_add_number(told, "volume_ml", mix->volume_ml);
    add_way(told, "from_board", mix, mix->from_board, mix->board_thinner_ml, mix->board_off);
    add_way(told, "from_concentrate", mix, mix->from_concentrate, mix->concentrate_thinner_ml,
            mix->concentrate_off);
    hw_mix_say(mix, words, sizeof words);
    hw_json_add_text(told, "words", words);
}

// ---- Taken over --------------------------------------------------------------------

static bool add_settings(hw_text *text, const hw_job_settings *settings)
{
    bool any = false;
    if (isfinite(settings->recoat_minutes)) {
        hw_text_add(text, "    recoat time: %g minutes\n", settings->recoat_minutes);
        any = true;
    }
    if (isfinite(settings->card_mm[0])) {
        hw_text_add(text, "    grey card: %g x %g mm\n", settings->card_mm[0],
                    settings->card_mm[1]);
        any = true;
    }
    if (isfinite(settings->ml_m2)) {
        hw_text_add(text, "    one pass takes: %g ml a square metre\n", settings->ml_m2);
        any = true;
    }
    return any;
}

void hw_carried_free(hw_carried *carried)
{
    if (carried) {
        hw_job_free(carried->job);
        hw_free(carried->dyes);
        *carried = (hw_carried){0};
    }
}

hw_status hw_report_carried_text(const hw_carried *carried, char **out, hw_error *err)
{
    hw_text text = {0};
    bool any = carried->dye_count > 0;
    hw_job_settings settings = hw_job_settings_now(carried->job);
    hw_text_add(&text, "Started the job in %s, from %s", carried->folder, carried->from);
    hw_report_add_said(&text, ": ", carried->from_title);
    hw_text_add(&text, ".\nTaken over:\n");
    for (size_t i = 0; i < hw_job_event_count(carried->job); i++) {
        const hw_event *event = hw_job_event(carried->job, i);
        if (event->kind == HW_EVENT_JAR_MIXED) {
            hw_text_add(&text, "    ");
            hw_report_add_jar(&text, &event->of.jar);
            hw_text_add(&text, "\n");
            any = true;
        }
    }
    any = add_settings(&text, &settings) || any;
    for (size_t i = 0; i < carried->dye_count; i++) {
        hw_text_add(&text, i ? ", " : "    put on your shelf, as known there: ");
        hw_report_add_clean(&text, carried->dyes[i]);
    }
    hw_text_add(&text, carried->dye_count ? "\n" : "");
    hw_text_add(&text, any ? "" : "    no jars, no settings, no dyes that your shelf lacks\n");
    hw_text_add(&text,
                carried->passes ? "What its passes showed of their dyes is on your shelf.\n" : "");
    hw_report_add_warnings(&text, &carried->warnings);
    hw_text_add(&text,
                "Next: write the new numbers on the jars, then photograph the repair and the "
                "old wood with the grey card beside them.\n");
    return hw_report_finish(&text, out, err);
}
