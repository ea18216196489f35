// report_jar.c: the jars of a job: what is in each, and how much stronger than that its passes were.
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
        hw_text_add(text, "\n");
    }
}

void hw_report_json_jar(hw_json *told, const hw_jar_event *jar)
{
    hw_json_add_number(told, "jar", (double)jar->jar);
    hw_report_json_liquid(told, &jar->liquid);
    hw_json_add_number(told, "volume_ml", jar->volume_ml > 0.0 ? jar->volume_ml : (double)NAN);
    if (jar->from_job[0]) {
        hw_report_json_text(told, "from_job", jar->from_job);
        hw_json_add_number(told, "from_jar", (double)jar->from_jar);
    }
    hw_report_json_text(told, "note", jar->note);
}

// {"factor","low","high","seen"}, low and high 90 %; null: nothing was seen of it.
void hw_report_json_jar_strength(hw_json *told, const hw_job *job, const hw_known *known,
                                 long number)
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
            hw_report_json_jar_strength(told, job, known, event->of.jar.jar);
        }
    }
}
