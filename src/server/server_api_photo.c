// server_api_photo.c: a photo of a job, read again with the marks that it was logged with, and its picture.
#include "server_routes.h"
#include "server_upload.h"

// api/jobs/J/photos/N
static hw_status take_number(const server_request *request, long *out, hw_error *err)
{
    double number = 0.0;
    const char *text = request->segment[4];
    bool good = hw_parse_number(text, false, &number) && number >= 1.0 && number <= 1e9 &&
                number == (double)(long)number;
    *out = good ? (long)number : 0;
    return good ? HW_OK
                : hw_fail(err, HW_ERR_CALL, "not-found", text, "Choose one from the job.",
                          "there is no such photo");
}

// What the job does not have is not there, to a page.
static hw_status open_photo(hw_server *server, const server_request *request, bool read,
                            hw_kept_photo *out, hw_error *err)
{
    char folder[SERVER_PATH_SIZE];
    long number;
    hw_error why = {0};
    hw_status status = server_job_of(server, request, folder, err);
    if (status == HW_OK) {
        status = take_number(request, &number, err);
    }
    if (status != HW_OK) {
        return status;
    }
    status = hw_steps_kept_photo(folder, number, read, server_limits(server), out, &why);
    if (status != HW_OK && strcmp(why.code, "photo-unknown") == 0) {
        return hw_fail(err, HW_ERR_CALL, "not-found", why.subject, "Choose one from the job.",
                       "there is no such photo");
    }
    return status == HW_OK ? HW_OK : hw_fail_as(err, &why);
}

static hw_status tell(const hw_kept_photo *kept, server_answer *answer, hw_error *err)
{
    hw_json *event = NULL, *reading = NULL;
    char *text = NULL;
    hw_warnings none = {0};
    hw_status status = hw_report_shown_tree(&kept->reading, &reading, err);
    if (status == HW_OK) {
        status = hw_report_logged_json(kept->job, kept->event, &none, &text, err);
    }
    if (status == HW_OK) {
        status = server_open_json(text, &event, err);
    }
    if (status != HW_OK) {
        hw_json_free(reading);
        return status;
    }
    hw_json *root = hw_json_new_object();
    hw_json_add_tree(root, "photo", hw_json_copy(hw_json_first(hw_json_member(event, "events"))));
    hw_json_add_tree(root, "shown", hw_json_copy(hw_json_member(reading, "shown")));
    hw_json_add_tree(root, "reading", reading);
    hw_json_add_tree(root, "marks", hw_marks_tree(&kept->event->of.photo.marks));
    hw_json_free(event);
    return server_answer_tree(answer, root, err);
}

hw_status server_run_photo(hw_server *server, const server_request *request, server_answer *answer,
                           hw_error *err)
{
    hw_kept_photo kept = {0};
    server_bench_take(server);
    hw_status status = open_photo(server, request, true, &kept, err);
    if (status == HW_OK) {
        status = tell(&kept, answer, err);
    }
    hw_kept_photo_free(&kept);
    server_bench_leave(server);
    return status;
}

hw_status server_run_photo_picture(hw_server *server, const server_request *request,
                                   server_answer *answer, hw_error *err)
{
    hw_kept_photo kept = {0};
    size_t longest;
    const char *asked = server_query(request, "corrected");
    bool corrected = asked && strcmp(asked, "1") == 0;
    hw_status status = server_query_longest(request, &longest, err);
    if (status != HW_OK) {
        return status;
    }
    server_bench_take(server);
    status = open_photo(server, request, corrected, &kept, err);
    if (status == HW_OK && !kept.pixels) {
        status = hw_fail(err, HW_ERR_CALL, "not-found", "", "Choose another one from the job.",
                         "it has no picture: an instrument measured the parts");
    }
    if (status == HW_OK) {
        status = server_answer_picture(answer, kept.pixels, corrected ? &kept.reading.light : NULL,
                                       longest, err);
        answer->cacheable = true;
    }
    hw_kept_photo_free(&kept);
    server_bench_leave(server);
    return status;
}
