// steps_day.c: what stands on the day's sheet beside the advice: how to mix its jars and how much, what was spent on
// each repair so far, how long its next passes take, how it will look under the coats to come and under
// another lamp. All of it follows from the log and what was said of the job once.
#include "steps_internal.h"

#include <math.h>
#include <string.h>

// ---- Repairs -----------------------------------------------------------------------

static hw_tool tool_of(const hw_shelf *shelf, const hw_liquid *liquid)
{
    const hw_dye *dye = liquid->count ? hw_shelf_find(shelf, liquid->dose[0].dye) : NULL;
    return dye ? dye->tool : HW_TOOL_UNSAID;
}

static const hw_option *plan_of(const hw_advice *advice)
{
    return advice->by_sheet ? &advice->sheet_plan : &advice->option[0];
}

static const double close_enough = 1.0; // CIEDE2000 that most people do not see

static bool is_last_step(const hw_advice *advice)
{
    const hw_option *plan = plan_of(advice);
    int all = plan->after_count ? plan->after[plan->after_count - 1].passes : 0;
    return advice->has_next &&
           (advice->next.passes >= all || advice->after_next.de00 < close_enough);
}

// Before the last pass a second lamp can still change something; once it is done, it tells what to expect.
static bool wants_lamp(const hw_advice *advice, bool last_step)
{
    bool done = advice->stop && advice->passes_so_far > 0 &&
                (advice->stop_reason == HW_STOP_DONE || advice->stop_reason == HW_STOP_LEAVE);
    return last_step || done;
}

static void fill_coats(const hw_steps_coats *coats, hw_day_part *part)
{
    part->coats_come = coats->to_come;
    part->ahead = coats->ahead;
    part->held = coats->aimed;
    hw_copy_text(part->assumed, sizeof part->assumed, coats->assumed);
}

void hw_steps_fill_part(const hw_job *job, const hw_shelf *shelf, const hw_advice *advice,
                        const hw_steps_coats *coats, hw_day_part *part)
{
    hw_job_settings settings = hw_job_settings_now(job);
    int passes = advice->has_next ? advice->next.passes : 0;
    char words[sizeof part->lamp] = "";
    *part = (hw_day_part){.hours = hw_job_hours(job, advice->patch),
                          .laid_ml = hw_job_part_ml(job, advice->patch),
                          .minutes = passes * settings.recoat_minutes}; // not set: NaN
    part->area_cm2 = hw_job_area(job, advice->patch, &part->area_from_card);
    part->need =
        hw_tone_need(part->area_cm2, passes, settings.ml_m2, tool_of(shelf, &advice->next.liquid));
    part->last_step = is_last_step(advice);
    part->lamp_seen = hw_steps_say_lamps(job, advice->patch, words, sizeof words);
    if (part->lamp_seen || wants_lamp(advice, part->last_step)) {
        hw_copy_text(part->lamp, sizeof part->lamp, words);
    }
    if (coats) {
        fill_coats(coats, part);
    }
}

// ---- Jars --------------------------------------------------------------------------

static const double example_ml = 100.0;

// All passes out of one jar as one pass over so much area: NaN where one of the areas is not known.
static double area_of_jar(const hw_day *day, size_t jar)
{
    double area = 0.0;
    for (size_t i = 0; i < day->sheet.step_count; i++) {
        if (day->sheet.step[i].jar == jar) {
            size_t patch = day->sheet.step[i].patch;
            area += day->part[patch].area_cm2 * day->advice[patch].next.passes;
        }
    }
    return area;
}

// The volume that was asked for goes or is refused; else it is what it takes, or more where that is too little to
// measure, and no mix is no reason to give no advice.
static hw_status fill_mix(const hw_shelf *shelf, double wanted_ml, const hw_need *need,
                          hw_day_jar *jar, hw_error *err)
{
    bool stands = jar->number > 0 && !(jar->left_ml < jar->need_ml); // or nobody knows better
    jar->as_wanted = wanted_ml > 0.0 || isfinite(need->mix_ml);
    if (wanted_ml > 0.0) {
        hw_status status = hw_tone_mix(&jar->liquid, shelf, wanted_ml, &jar->mix, err);
        jar->can_mix = status == HW_OK;
        return status;
    }
    jar->can_mix =
        !stands && hw_tone_mix_at_least(&jar->liquid, shelf,
                                        jar->as_wanted ? need->mix_ml : example_ml, &jar->mix);
    return HW_OK;
}

static hw_status fill_jar(const hw_job *job, const hw_shelf *shelf, double wanted_ml, double area,
                          hw_day_jar *jar, hw_error *err)
{
    const hw_jar_event *mixed = hw_job_jar_of(job, &jar->liquid);
    hw_need need =
        hw_tone_need(area, 1, hw_job_settings_now(job).ml_m2, tool_of(shelf, &jar->liquid));
    jar->number = mixed ? mixed->jar : 0;
    jar->left_ml = mixed ? hw_job_jar_left(job, mixed->jar) : (double)NAN;
    jar->need_ml = need.pass_ml;
    return fill_mix(shelf, wanted_ml, &need, jar, err);
}

hw_status hw_steps_fill_jars(const hw_job *job, const hw_shelf *shelf, double wanted_ml,
                             hw_day *day, hw_error *err)
{
    bool one = !day->for_all && day->count > 0 && day->advice[0].has_next;
    size_t count = day->for_all ? day->sheet.jar_count : one;
    hw_status status = HW_OK;
    day->jar = hw_alloc_array(count, sizeof *day->jar);
    if (!day->jar) {
        return hw_fail_memory(err, "making the day's sheet");
    }
    for (size_t i = 0; i < count && status == HW_OK; i++) {
        hw_day_jar *jar = &day->jar[i];
        double area = (double)NAN;
        if (day->for_all) {
            const hw_sheet_jar *of = &day->sheet.jar[i];
            *jar = (hw_day_jar){.liquid = of->liquid, .patches = of->patches, .passes = of->passes};
            area = area_of_jar(day, i);
        } else {
            const hw_layer *next = &day->advice[0].next;
            *jar = (hw_day_jar){.liquid = next->liquid, .patches = 1, .passes = next->passes};
            area = day->part[0].area_cm2 * next->passes;
        }
        status = fill_jar(job, shelf, wanted_ml, jar->patches ? area : (double)NAN, jar, err);
        day->jar_count++;
    }
    return status;
}

// ---- Not said yet ------------------------------------------------------------------

void hw_steps_fill_unsaid(const hw_job *job, hw_day *day)
{
    hw_job_settings settings = hw_job_settings_now(job);
    bool any = false;
    for (size_t i = 0; i < day->count; i++) {
        any = any || day->advice[i].has_next;
        day->unsaid.areas =
            day->unsaid.areas || (day->advice[i].has_next && !isfinite(day->part[i].area_cm2));
    }
    day->unsaid.areas = day->unsaid.areas && !settings.card_asked;
    day->unsaid.coats = any && settings.coats_over == HW_COATS_UNSAID;
    day->unsaid.recoat = any && !isfinite(settings.recoat_minutes);
}
