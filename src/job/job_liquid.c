// job_liquid.c: how much liquid was laid, from areas and from what a pass takes; areas from the card in a photo.
//
//   millilitres = area x millilitres a square metre and pass x passes
//
// The area is the one that was said, or that of the part's mark beside the card's (hw_mark_mm_a_px).
#include "job_internal.h"

#include <math.h>

// ---- Areas -------------------------------------------------------------------------

bool hw_job_card_fits(const hw_job *job, const double card_mm[2], double *sides)
{
    const hw_mark *card = NULL;
    for (size_t i = hw_job_event_count(job); i-- > 0 && !card;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED && !event->of.photo.measured) {
            card = hw_marks_find(&event->of.photo.marks, HW_ROLE_CARD, NULL);
        }
    }
    double one;
    *sides = card ? hw_mark_sides(card) : (double)NAN;
    return !card || hw_mark_mm_a_px(card, card_mm, &one);
}

// By the last photo that shows the part and a card that tells.
static double area_from_card(const hw_job *job, const char *part)
{
    hw_job_settings settings = hw_job_settings_now(job);
    if (!isfinite(settings.card_mm[0]) || !isfinite(settings.card_mm[1])) {
        return (double)NAN;
    }
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind != HW_EVENT_PHOTO_ADDED || event->of.photo.measured) {
            continue;
        }
        const hw_mark *card = hw_marks_find(&event->of.photo.marks, HW_ROLE_CARD, NULL);
        const hw_mark *mark = hw_marks_find_wood(&event->of.photo.marks, part);
        double one; // mm
        if (card && mark && hw_mark_mm_a_px(card, settings.card_mm, &one)) {
            return one * one / 100.0 * hw_mark_area(mark);
        }
    }
    return (double)NAN;
}

double hw_job_area(const hw_job *job, const char *part, bool *from_card)
{
    double area = hw_job_area_said(job, part);
    *from_card = false;
    if (isfinite(area)) {
        return area;
    }
    area = area_from_card(job, part);
    *from_card = isfinite(area);
    return area;
}

// ---- Liquid ------------------------------------------------------------------------

// What does not change from pass to pass, looked up in the log once.
enum { AREAS_MOST = 16 }; // parts kept; that of a further one is looked up each time

typedef struct measures {
    const hw_job *job;
    double ml_m2; // as it was said; NaN: not said
    const char *part[AREAS_MOST];
    double cm2[AREAS_MOST];
    size_t count;
} measures;

static measures measures_of(const hw_job *job)
{
    return (measures){.job = job, .ml_m2 = hw_job_settings_now(job).ml_m2};
}

static double area_of(measures *known, const char *part)
{
    for (size_t i = 0; i < known->count; i++) {
        if (strcmp(known->part[i], part) == 0) {
            return known->cm2[i];
        }
    }
    bool from_card;
    double cm2 = hw_job_area(known->job, part, &from_card);
    if (known->count < AREAS_MOST) {
        known->part[known->count] = part;
        known->cm2[known->count++] = cm2;
    }
    return cm2;
}

static double pass_ml(measures *known, const hw_pass_event *laid, const char *part)
{
    hw_tool tool = laid->dye_count ? laid->dye[0].tool : HW_TOOL_UNSAID;
    double ml_m2 = isfinite(known->ml_m2) ? known->ml_m2 : hw_tone_ml_m2(tool);
    return area_of(known, part) / 1e4 * ml_m2 * laid->passes;
}

double hw_job_part_ml(const hw_job *job, const char *part)
{
    double sum = 0.0;
    measures known = measures_of(job);
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        sum += hw_pass_is_on(event, part) ? pass_ml(&known, &event->of.pass, part) : 0.0;
    }
    return sum;
}

static double laid_ml(measures *known, const hw_pass_event *pass)
{
    double sum = 0.0;
    for (size_t k = 0; k < pass->patch_count; k++) {
        sum += pass_ml(known, pass, pass->patches[k]);
    }
    return sum;
}

double hw_job_laid_ml(const hw_job *job, const hw_event *pass)
{
    measures known = measures_of(job);
    return laid_ml(&known, &pass->of.pass);
}

double hw_job_jar_used(const hw_job *job, long number)
{
    double sum = 0.0;
    measures known = measures_of(job);
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PASS_LAID && event->of.pass.jar == number) {
            sum += laid_ml(&known, &event->of.pass);
        }
    }
    return sum;
}

double hw_job_jar_left(const hw_job *job, long number)
{
    const hw_jar_event *jar = hw_job_jar(job, number);
    if (!jar || !(jar->volume_ml > 0.0)) {
        return (double)NAN;
    }
    double left = jar->volume_ml - hw_job_jar_used(job, number);
    return left < 0.0 ? 0.0 : left; // NaN stays NaN
}

bool hw_job_jar_is_empty(const hw_job *job, long number)
{
    const double least_ml = 1.0; // chosen
    return hw_job_jar_left(job, number) < least_ml;
}
