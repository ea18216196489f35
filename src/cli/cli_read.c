// cli_read.c: read: a photo, repeat shots, or shots from several sides; no job.
#include "cli_internal.h"

#include <string.h>

// "No" to the question "is all of it to be left?".
static bool some_to_touch(const hw_comparisons *comparisons)
{
    for (size_t i = 0; i < comparisons->count; i++) {
        const hw_comparison *item = &comparisons->item[i];
        if (strcmp(item->target, HW_BESIDE) == 0 && item->verdict != HW_VERDICT_LEAVE) {
            return true;
        }
    }
    return false;
}

// ---- Sides -------------------------------------------------------------------------

// The photos of one side, in the order of the command line.
typedef struct side {
    hw_from from;
    const char *photo[HW_SHOTS_MOST], *marks[HW_SHOTS_MOST]; // marks: NULL or a file each
    size_t count;
} side;

// Everything of one call that must be freed.
typedef struct reading_call {
    side side[HW_SIDES_MOST];
    size_t sides;
    hw_read_request common; // of the first photo: marks, card, sheet
    hw_read_request request[HW_SIDES_MOST];
    hw_sides read;
} reading_call;

static hw_status add_photo(reading_call *work, hw_from from, const char *photo, const char *marks,
                           hw_error *err)
{
    size_t at = 0;
    while (at < work->sides && !hw_from_is_same(work->side[at].from, from)) {
        at++;
    }
    side *one = &work->side[at];
    work->sides = at == work->sides ? at + 1 : work->sides;
    if (one->count == HW_SHOTS_MOST) {
        return hw_fail(err, HW_ERR_CALL, "shots-many", photo, "Three are usual.",
                       "this is one photo too many to be read together, at most %d", HW_SHOTS_MOST);
    }
    one->from = from;
    one->photo[one->count] = photo;
    one->marks[one->count++] = marks;
    return HW_OK;
}

static hw_status take_distance(const cli_call *call, hw_read_request *request, hw_error *err)
{
    const char *distance = cli_value(call, "distance"), *card = cli_value(call, "card-size");
    if (card && !distance) {
        return hw_fail(err, HW_ERR_CALL, "sight-distance", "--card-size",
                       "Say from where it is seen, too: --distance 1.5m.",
                       "the card's size is for looking from a distance, and none was given");
    }
    hw_status status = distance ? hw_parse_length(distance, &request->distance_mm, err) : HW_OK;
    return status == HW_OK && card ? hw_parse_sides(card, request->card_mm, err) : status;
}

// One --from is for all photos, several are one each.
static hw_status sort_photos(const cli_call *call, reading_call *work, const char *const *marks,
                             hw_error *err)
{
    size_t said = cli_count_of(call, "from"), at = 0;
    hw_from from = HW_FROM_UNSAID;
    hw_status status = HW_OK;
    if (said > 1 && said != call->operand_count) {
        return hw_fail(err, HW_ERR_CALL, "from-count", "--from",
                       "Give one side for all photos, or one for each, in their order.",
                       "there are %zu photos and %zu sides", call->operand_count, said);
    }
    for (size_t i = 0; i < call->operand_count && status == HW_OK; i++) {
        if (i < said) {
            status = cli_take_from(cli_next_value(call, "from", &at), &from, err);
        }
        const char *own = i == 0                          ? work->common.marks_path
                          : work->common.more_marks_paths ? marks[i - 1]
                                                          : NULL;
        if (status == HW_OK) {
            status = add_photo(work, from, call->operand[i], own, err);
        }
    }
    return status;
}

// The marks of the first photo are those of its side; other sides have their own, or those carried from it.
static void make_requests(reading_call *work)
{
    for (size_t i = 0; i < work->sides; i++) {
        side *one = &work->side[i];
        hw_read_request *request = &work->request[i];
        *request = work->common;
        request->photo_path = one->photo[0];
        request->marks_path = one->marks[0];
        request->marks = i == 0 ? work->common.marks : (hw_marks){0};
        request->from = one->from;
        request->more_paths = one->photo + 1;
        request->more_count = one->count - 1;
        request->more_marks_paths = work->common.more_marks_paths ? one->marks + 1 : NULL;
    }
}

static hw_status print_sides(const cli_call *call, const hw_sides *read, hw_error *err)
{
    hw_report_style style = cli_style(call);
    bool json = cli_has(call, "json"), single = read->count == 1;
    char *text = NULL;
    hw_status status = single && json ? hw_report_reading_json(&read->reading[0], &text, err)
                       : single ? hw_report_reading_text(&read->reading[0], &style, &text, err)
                       : json   ? hw_report_sides_json(read->reading, read->count, read->pair,
                                                       read->pair_count, &text, err)
                                : hw_report_sides_text(read->reading, read->count, read->pair,
                                                       read->pair_count, &style, &text, err);
    return status == HW_OK ? cli_print(text, err) : status;
}

static hw_status read_requests(reading_call *work, hw_error *err)
{
    return work->sides == 1
               ? hw_steps_read(&work->request[0], NULL, &work->read.reading[0], err)
               : hw_steps_read_sides(work->request, work->sides, NULL, &work->read, err);
}

static hw_status read_all(cli_call *call, reading_call *work, hw_error *err)
{
    const char *marks[HW_SHOTS_MOST * HW_SIDES_MOST] = {0};
    hw_status status =
        cli_shots_request(call, call->operand, call->operand_count, marks, &work->common, err);
    if (status == HW_OK) {
        status = take_distance(call, &work->common, err);
    }
    if (status == HW_OK) {
        status = sort_photos(call, work, marks, err);
    }
    if (status == HW_OK) {
        make_requests(work);
        status = read_requests(work, err);
    }
    if (status != HW_OK && cli_ask_card(call, err)) {
        for (size_t i = 0; i < work->sides; i++) {
            work->request[i].is_the_card = true;
        }
        status = read_requests(work, err);
    }
    if (status == HW_OK && work->sides == 1) {
        work->read.count = 1;
    }
    return status;
}

hw_status cli_run_read(cli_call *call, hw_error *err)
{
    reading_call *work = hw_alloc_array(1, sizeof *work);
    if (!work) {
        return hw_fail_memory(err, "reading the photo");
    }
    hw_status status = read_all(call, work, err);
    if (status == HW_OK) {
        for (size_t i = 0; i < work->read.count; i++) {
            call->answer_is_no =
                call->answer_is_no || some_to_touch(&work->read.reading[i].comparisons);
        }
        status = print_sides(call, &work->read, err);
    }
    hw_sides_free(&work->read);
    hw_marks_free(&work->common.marks);
    hw_free(work);
    return status;
}
