// job_measured.c: an instrument and a photo on the same part: how far the photo is off.
//
// They are set beside each other only where nothing was laid on the part, or taken off it, between them.
#include "job_internal.h"

static bool laid_between(const hw_job *job, long from, long to, const char *part)
{
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        if (hw_pass_is_between(hw_job_event(job, i), from, to, part)) {
            return true;
        }
    }
    return hw_job_done_between(job, from, to, part) != NULL;
}

// Does this photo show the part as it was when it was measured?
static bool shows_it(const hw_job *job, const hw_event *photo, long measured, const char *part)
{
    long first = photo->number < measured ? photo->number : measured;
    long last = photo->number < measured ? measured : photo->number;
    return photo->kind == HW_EVENT_PHOTO_ADDED && !photo->of.photo.measured &&
           !laid_between(job, first, last, part);
}

// The reading of the nearest such photo, an earlier one before a later one; NULL: none.
static const hw_event *nearest_reading(const hw_job *job, long measured,
                                       const hw_logged_sample *sample)
{
    const hw_event *found = NULL;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *photo = hw_job_event(job, i);
        bool later = photo->number > measured;
        if (later && found) {
            break;
        }
        const hw_event *reading = shows_it(job, photo, measured, sample->name)
                                      ? hw_job_reading_of(job, photo->number)
                                      : NULL;
        found = reading && hw_reading_sample(&reading->of.reading, sample->role, sample->name)
                    ? reading
                    : found;
    }
    return found;
}

size_t hw_job_photo_off(const hw_job *job, const hw_event *measured, hw_photo_off *out, size_t room)
{
    const hw_event *own = hw_job_reading_of(job, measured->number);
    size_t count = 0;
    for (size_t i = 0; own && i < own->of.reading.sample_count && count < room; i++) {
        const hw_logged_sample *sample = &own->of.reading.samples[i];
        const hw_event *reading = nearest_reading(job, measured->number, sample);
        if (!reading) {
            continue;
        }
        hw_photo_off *one = &out[count++];
        *one = (hw_photo_off){
            .part = sample->name,
            .role = sample->role,
            .photo = reading->of.reading.photo,
            .by_photo = hw_reading_sample(&reading->of.reading, sample->role, sample->name)->lab,
            .measured = sample->lab};
        one->off = hw_difference_of(one->measured, one->by_photo);
        if (sample->role == HW_ROLE_PATCH) {
            one->gap_by_photo = hw_reading_gap(&reading->of.reading, sample->name);
            one->gap_measured = hw_reading_gap(&own->of.reading, sample->name);
        }
    }
    return count;
}

const hw_event *hw_job_measured_card(const hw_job *job)
{
    for (size_t i = hw_job_event_count(job); i-- > 0;) {
        const hw_event *event = hw_job_event(job, i);
        if (event->kind == HW_EVENT_PHOTO_ADDED && event->of.photo.measured &&
            event->of.photo.has_card_lab) {
            return event;
        }
    }
    return NULL;
}
