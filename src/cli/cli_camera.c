// cli_camera.c: learned cameras: taught by photos of a chart, shown, forgotten.
#include "cli_internal.h"

hw_status cli_run_camera_learn(cli_call *call, hw_error *err)
{
    hw_camera_request request = {.photo = call->operand, .photo_count = call->operand_count};
    hw_camera_lesson lesson = {.photos = 0};
    char *text = NULL;
    hw_status status = cli_read_request(call, call->operand[0], &request.read, err);
    if (status != HW_OK) {
        return status;
    }
    status = hw_steps_camera_learn(&request, NULL, call->now, &lesson, err);
    if (status == HW_OK && cli_has(call, "json")) {
        status = hw_report_lesson_json(&lesson.camera, lesson.photos, &lesson.warnings, &text, err);
    } else if (status == HW_OK) {
        hw_report_style style = cli_style(call);
        status = hw_report_lesson_text(&lesson.camera, lesson.photos, &lesson.warnings, &style,
                                       &text, err);
    }
    if (status == HW_OK) {
        status = cli_print(text, err);
    }
    hw_marks_free(&request.read.marks);
    return status;
}

hw_status cli_run_camera_show(cli_call *call, hw_error *err)
{
    hw_camera *camera = NULL;
    size_t count = 0;
    char path[1024], *text = NULL;
    hw_status status = hw_steps_cameras(cli_value(call, "cameras"), NULL, call->now, &camera,
                                        &count, path, sizeof path, err);
    if (status == HW_OK) {
        status = cli_has(call, "json") ? hw_report_cameras_json(camera, count, path, &text, err)
                                       : hw_report_cameras_text(camera, count, path, &text, err);
    }
    if (status == HW_OK) {
        status = cli_print(text, err);
    }
    hw_steps_cameras_free(camera);
    return status;
}

hw_status cli_run_camera_forget(cli_call *call, hw_error *err)
{
    const char *camera = call->operand[0], *lamp = cli_value(call, "lamp");
    size_t gone = 0;
    char *text = NULL;
    hw_status status =
        hw_steps_camera_forget(cli_value(call, "cameras"), camera, lamp, NULL, &gone, err);
    if (status == HW_OK) {
        status = cli_has(call, "json") ? hw_report_camera_gone_json(camera, lamp, gone, &text, err)
                                       : hw_report_camera_gone_text(camera, lamp, gone, &text, err);
    }
    return status == HW_OK ? cli_print(text, err) : status;
}
