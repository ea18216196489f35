// cli_picture.c: one picture of a job, on the terminal or as a file; and the report of a job.
#include "cli_internal.h"

#include <ctype.h>
#include <string.h>

// ---- Files -------------------------------------------------------------------------

typedef enum picture_form { FORM_TEXT, FORM_SVG, FORM_PNG } picture_form;

// A picture as it stands in its file.
static hw_status make_bytes(picture_form form, double width, const hw_showing *showing,
                            char **bytes, size_t *count, hw_error *err)
{
    char *svg = NULL;
    hw_status status = hw_report_showing_svg(showing, &svg, err);
    if (status == HW_OK && form == FORM_SVG) {
        *bytes = svg;
        *count = strlen(svg);
        return HW_OK;
    }
    if (status == HW_OK) {
        status = hw_report_png(svg, (size_t)width, bytes, count, err);
    }
    hw_report_free(svg);
    return status;
}

// On standard output: it is the result of the call.
static hw_status say_written(const cli_call *call, const char *path, size_t count, hw_error *err)
{
    char *text = NULL;
    if (cli_has(call, "quiet")) {
        return HW_OK;
    }
    hw_status status = hw_report_written_text(path, count, &text, err);
    return status == HW_OK ? cli_print(text, err) : status;
}

// ---- picture -----------------------------------------------------------------------

static hw_status take_drawing(const char *name, hw_showing_kind *out, hw_error *err)
{
    char names[200] = "", next[280];
    hw_text list = hw_text_in(names, sizeof names);
    if (hw_showing_kind_from_name(name, out)) {
        return HW_OK;
    }
    for (int i = 0; i < HW_SHOW_COUNT; i++) {
        hw_text_add(&list, "%s%s", i > 0 ? ", " : "", hw_showing_kind_name((hw_showing_kind)i));
    }
    hw_format_text(next, sizeof next, "Name one of: %s.", names);
    return hw_fail(err, HW_ERR_CALL, "picture-unknown", name, next, "there is no such picture");
}

// In small letters or capitals.
static bool ends_in(const char *path, const char *ending)
{
    size_t length = strlen(path), most = strlen(ending);
    bool same = length > most;
    for (size_t i = 0; same && i < most; i++) {
        same = tolower((unsigned char)path[length - most + i]) == ending[i];
    }
    return same;
}

static hw_status refuse_type(const char *path, hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "output-type", path,
                   "End the name in .png for a picture that can be sent to anyone, or in .svg for "
                   "one that stays sharp at any size.",
                   "the name does not say what kind of picture it is");
}

// On the terminal where it can be shown there and no file is asked for; else by the file's ending. A program wants the
// file.
static hw_status take_form(const cli_call *call, hw_showing_kind kind, picture_form *out,
                           hw_error *err)
{
    const char *path = cli_value(call, "output");
    bool shown = hw_showing_kind_has_text(kind) && !cli_has(call, "json");
    *out = !path                   ? shown                 ? FORM_TEXT
                                     : hw_report_has_png() ? FORM_PNG
                                                           : FORM_SVG
           : ends_in(path, ".svg") ? FORM_SVG
                                   : FORM_PNG;
    if (path && *out == FORM_PNG && !ends_in(path, ".png")) {
        return refuse_type(path, err);
    }
    if (*out == FORM_PNG && !hw_report_has_png()) {
        return hw_fail(err, HW_ERR_INPUT, "png-not-built-in", path,
                       "End the name in .svg: every browser shows and prints that.",
                       "this program was built without the library that draws PNG (librsvg)");
    }
    return HW_OK;
}

static hw_status take_width(const cli_call *call, double *out, hw_error *err)
{
    const double least = 100.0, most = 10000.0;
    *out = 1080.0; // pixels: as wide as a phone shows (chosen)
    hw_status status = cli_take_number(call, "width", out, err);
    if (status == HW_OK && !(*out >= least && *out <= most)) {
        return hw_fail(err, HW_ERR_CALL, "picture-width", cli_value(call, "width"),
                       "Give pixels, 100 to 10000.", "this is no width of a picture");
    }
    return status;
}

static hw_status take_request(const cli_call *call, hw_picture_request *request, hw_error *err)
{
    *request = (hw_picture_request){.folder = call->operand[0],
                                    .patch = cli_value(call, "patch"),
                                    .view = cli_value(call, "view"),
                                    .shelf_path = cli_value(call, "shelf")};
    const char *distance = cli_value(call, "distance");
    hw_status status = take_drawing(call->operand[1], &request->kind, err);
    if (status == HW_OK) {
        status = cli_take_event(call, "photo", "photo-unknown", &request->photo, err);
    }
    if (status == HW_OK) {
        status = cli_take_event(call, "jar", "jar-unknown", &request->jar, err);
    }
    if (status == HW_OK) {
        status = cli_take_doses(call, &request->liquid, err);
    }
    if (status == HW_OK) {
        status = cli_take_passes(call, &request->passes, err);
    }
    if (status == HW_OK && distance) {
        status = hw_parse_length(distance, &request->distance_mm, err);
    }
    return status;
}

static hw_status show_text(const cli_call *call, const hw_showing *showing, hw_error *err)
{
    hw_report_style style = cli_style(call);
    char *text = NULL;
    hw_status status = hw_report_showing_text(showing, &style, &text, err);
    return status == HW_OK ? cli_print(text, err) : status;
}

static hw_status write_picture(const cli_call *call, picture_form form, double width,
                               const char *path, const hw_showing *showing, hw_error *err)
{
    char *bytes = NULL, *text = NULL;
    size_t count = 0;
    hw_status status = make_bytes(form, width, showing, &bytes, &count, err);
    if (status == HW_OK) {
        status = cli_write_file(path, cli_has(call, "replace"), bytes, count, err);
    }
    hw_report_free(bytes);
    if (status == HW_OK && cli_has(call, "json")) {
        status = hw_report_drawn_json(showing, path, count, &text, err);
        return status == HW_OK ? cli_print(text, err) : status;
    }
    if (status == HW_OK) {
        status = say_written(call, path, count, err);
    }
    return status;
}

hw_status cli_run_picture(cli_call *call, hw_error *err)
{
    hw_picture_request request;
    hw_showing showing = {0};
    cli_progress progress = {0};
    picture_form form = FORM_TEXT;
    double width = 0.0;
    char path[1024] = "";
    hw_status status = take_request(call, &request, err);
    if (status == HW_OK) {
        status = take_form(call, request.kind, &form, err);
    }
    if (status == HW_OK) {
        status = take_width(call, &width, err);
    }
    if (status == HW_OK && form != FORM_TEXT) {
        status = cli_output_path(call, hw_showing_kind_name(request.kind),
                                 form == FORM_SVG ? "svg" : "png", path, sizeof path, err);
    }
    if (status == HW_OK) {
        request.progress = cli_progress_start(call, &progress);
        status = hw_steps_picture(&request, NULL, &showing, err);
        cli_progress_end(&progress);
    }
    if (status == HW_OK) {
        cli_tell_warnings(call, &showing.warnings);
        status = form == FORM_TEXT ? show_text(call, &showing, err)
                                   : write_picture(call, form, width, path, &showing, err);
    }
    hw_showing_free(&showing);
    return status;
}

// ---- report ------------------------------------------------------------------------

static hw_status take_reader(const cli_call *call, hw_reader *out, hw_error *err)
{
    const char *name = cli_value(call, "for");
    if (name && !hw_reader_from_name(name, out)) {
        return hw_fail(err, HW_ERR_CALL, "reader-unknown", name,
                       "Write --for customer, --for shop, or --for spray-room.",
                       "there is no report for such a reader");
    }
    return HW_OK;
}

static hw_status write_report(const cli_call *call, const char *path, const hw_account *account,
                              hw_reader reader, hw_error *err)
{
    char *html = NULL, *text = NULL;
    hw_status status = hw_report_html(account, reader, &html, err);
    size_t count = status == HW_OK ? strlen(html) : 0;
    if (status == HW_OK) {
        status = cli_write_file(path, cli_has(call, "replace"), html, count, err);
    }
    hw_report_free(html);
    if (status == HW_OK && cli_has(call, "json")) {
        status = hw_report_made_json(account, reader, path, count, &text, err);
        return status == HW_OK ? cli_print(text, err) : status;
    }
    if (status == HW_OK) {
        status = say_written(call, path, count, err);
    }
    return status;
}

hw_status cli_run_report(cli_call *call, hw_error *err)
{
    hw_report_request request = {.folder = call->operand[0],
                                 .shelf_path = cli_value(call, "shelf")};
    hw_account account = {0};
    hw_reader reader = HW_FOR_CUSTOMER;
    cli_progress progress = {0};
    char path[1024] = "";
    const char *output = cli_value(call, "output");
    hw_status status = take_reader(call, &reader, err);
    if (status == HW_OK && output && !ends_in(output, ".html") && !ends_in(output, ".htm")) {
        status = hw_fail(err, HW_ERR_CALL, "output-type", output, "End the name in .html.",
                         "a report is a page for a browser, and the name does not say so");
    }
    if (status == HW_OK) {
        status = cli_output_path(call, hw_reader_name(reader), "html", path, sizeof path, err);
    }
    if (status == HW_OK) {
        request.progress = cli_progress_start(call, &progress);
        status = hw_steps_report(&request, NULL, call->now, &account, err);
        cli_progress_end(&progress);
    }
    if (status == HW_OK) {
        cli_tell_warnings(call, &account.warnings);
        status = write_report(call, path, &account, reader, err);
    }
    hw_account_free(&account);
    return status;
}
