// server_api_show.c: what to lay next, pictures of a job, its report, a repair under two lamps. All of these read photos
// again or draw: one at a time.
#include "server_api.h"
#include "server_routes.h"

// ---- Advice ------------------------------------------------------------------------

hw_status server_run_advice(hw_server *server, const server_request *request, server_answer *answer,
                            hw_error *err)
{
    char folder[SERVER_PATH_SIZE], *json = NULL;
    hw_advise_request wanted = {.folder = folder, .shelf_path = server_shelf_path(server)};
    hw_day day = {0};
    long families = 0;
    hw_status status = server_job_of(server, request, folder, err);
    if (status == HW_OK) {
        status = server_take_text(request->json, "patch", false, &wanted.patch, err);
    }
    if (status == HW_OK) {
        status = server_take_number(request->json, "volume_ml", false, &wanted.volume_ml, err);
    }
    if (status == HW_OK) {
        status = server_take_whole(request->json, "families", false, 1, &families, err);
        wanted.families_most = families > 3 ? 3 : (int)families;
    }
    if (status == HW_OK) {
        // What was shown is logged under the log's own lock: a pass that is laid meanwhile need not wait for the photo.
        server_bench_take(server);
        status = hw_steps_advise(&wanted, server_limits(server), request->now, &day, err);
        server_bench_leave(server);
    }
    if (status == HW_OK) {
        status = hw_report_advice_json(&day, &json, err);
    }
    if (status == HW_OK) {
        server_answer_json(answer, json);
    }
    hw_day_free(&day);
    return status;
}

// ---- Pictures ----------------------------------------------------------------------

static hw_status take_picture(const server_request *request, hw_picture_request *out, hw_error *err)
{
    long passes = 0;
    const char *kind = request->segment[4]; // api/jobs/J/pictures/KIND
    if (!hw_showing_kind_from_name(kind, &out->kind)) {
        return hw_fail(err, HW_ERR_CALL, "not-found", kind, "Start again from the job.",
                       "there is no such picture");
    }
    out->patch = server_query(request, "patch");
    out->view = server_query(request, "view");
    hw_status status = server_query_whole(request, "photo", 1, &out->photo, err);
    if (status == HW_OK) {
        status = server_query_whole(request, "jar", 1, &out->jar, err);
    }
    if (status == HW_OK) {
        status = server_query_whole(request, "passes", 1, &passes, err);
        out->passes = passes < 1000 ? (int)passes : 1000; // the steps refuse far fewer
    }
    return status == HW_OK ? server_query_number(request, "distance_mm", &out->distance_mm, err)
                           : status;
}

hw_status server_run_picture(hw_server *server, const server_request *request,
                             server_answer *answer, hw_error *err)
{
    char folder[SERVER_PATH_SIZE], *svg = NULL;
    hw_picture_request wanted = {.folder = folder, .shelf_path = server_shelf_path(server)};
    hw_showing showing = {0};
    hw_status status = server_job_of(server, request, folder, err);
    if (status == HW_OK) {
        status = take_picture(request, &wanted, err);
    }
    if (status == HW_OK) {
        server_bench_take(server);
        status = hw_steps_picture(&wanted, server_limits(server), &showing, err);
        if (status == HW_OK) {
            status = hw_report_showing_svg(&showing, &svg, err);
        }
        server_bench_leave(server);
    }
    if (status == HW_OK) {
        answer->body = svg;
        answer->count = strlen(svg);
        answer->type = "image/svg+xml";
    }
    hw_showing_free(&showing);
    return status;
}

// ---- Report ------------------------------------------------------------------------

static hw_status make_report(hw_server *server, const server_request *request, const char *folder,
                             hw_reader reader, char **html, hw_error *err)
{
    hw_report_request wanted = {.folder = folder, .shelf_path = server_shelf_path(server)};
    hw_account account = {0};
    server_bench_take(server);
    hw_status status = hw_steps_report(&wanted, server_limits(server), request->now, &account, err);
    if (status == HW_OK) {
        status = hw_report_html(&account, reader, html, err);
    }
    server_bench_leave(server);
    hw_account_free(&account);
    return status;
}

hw_status server_run_report(hw_server *server, const server_request *request, server_answer *answer,
                            hw_error *err)
{
    char folder[SERVER_PATH_SIZE], file[SERVER_SEGMENT_SIZE + 40], *html = NULL;
    const char *name = request->segment[4]; // api/jobs/J/report/READER
    hw_reader reader = HW_FOR_CUSTOMER;
    hw_status status = server_job_of(server, request, folder, err);
    if (status == HW_OK && !hw_reader_from_name(name, &reader)) {
        status = hw_fail(err, HW_ERR_CALL, "not-found", name, "Start again from the job.",
                         "there is no report for such a reader");
    }
    if (status == HW_OK) {
        status = make_report(server, request, folder, reader, &html, err);
    }
    if (status != HW_OK) {
        return status;
    }
    answer->body = html;
    answer->count = strlen(html);
    answer->type = "text/html; charset=utf-8";
    answer->is_report = true;
    if (server_query(request, "download")) {
        hw_format_text(file, sizeof file, "%s-%s.html", request->segment[2], name);
        server_answer_as_file(answer, file);
    }
    return HW_OK;
}

// ---- Lamps -------------------------------------------------------------------------

static hw_status tell_lamps(const hw_job *job, const char *patch, server_answer *answer,
                            hw_error *err)
{
    hw_report_style style = {0};
    char *json = NULL, *text = NULL;
    hw_status status = hw_report_lamps_text(job, patch, &style, &text, err);
    if (status == HW_OK) {
        status = hw_report_lamps_json(job, patch, &json, err);
    }
    if (status == HW_OK) {
        status = server_answer_both(answer, json, text, err);
    }
    hw_report_free(text);
    return status;
}

hw_status server_run_lamps(hw_server *server, const server_request *request, server_answer *answer,
                           hw_error *err)
{
    char folder[SERVER_PATH_SIZE];
    const char *patch = server_query(request, "patch");
    hw_job *job = NULL;
    hw_status status = server_job_of(server, request, folder, err);
    if (status == HW_OK) {
        status = hw_steps_lamps(folder, patch, server_limits(server), &job, err);
    }
    if (status == HW_OK) {
        status = tell_lamps(job, patch, answer, err);
    }
    hw_job_free(job);
    return status;
}
