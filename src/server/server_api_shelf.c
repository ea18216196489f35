// server_api_shelf.c: the shelf of dyes, and the learned cameras.
#include "server_api.h"
#include "server_routes.h"

// ---- Shown -------------------------------------------------------------------------

static void add_names(hw_json *root)
{
    hw_json *families = hw_json_add_array(root, "families");
    for (int i = 0; i < HW_FAMILY_COUNT; i++) {
        hw_json_add_text(families, NULL, hw_family_name((hw_family)i));
    }
    hw_json *tools = hw_json_add_array(root, "tools");
    for (int i = HW_TOOL_UNSAID + 1; i < HW_TOOL_COUNT; i++) {
        hw_json_add_text(tools, NULL, hw_tool_name((hw_tool)i));
    }
}

hw_status server_run_shelf(hw_server *server, const server_request *request, server_answer *answer,
                           hw_error *err)
{
    hw_shelf shelf = {0};
    hw_known known = {0};
    hw_json *tree = NULL;
    char path[1024], *json = NULL;
    (void)request;
    hw_status status = hw_steps_shelf(server_shelf_path(server), server_limits(server), &shelf,
                                      path, sizeof path, err);
    if (status == HW_OK) {
        status = hw_steps_shelf_known(&shelf, &known, err);
    }
    if (status == HW_OK) {
        status = hw_report_shelf_json(&shelf, &known, path, &json, err);
    }
    if (status == HW_OK) {
        status = server_open_json(json, &tree, err);
    }
    if (status == HW_OK) {
        add_names(tree);
        status = server_answer_tree(answer, tree, err);
    }
    hw_known_free(&known);
    hw_shelf_free(&shelf);
    return status;
}

hw_status server_run_cameras(hw_server *server, const server_request *request,
                             server_answer *answer, hw_error *err)
{
    hw_camera *camera = NULL;
    size_t count = 0;
    char path[1024], *json = NULL;
    hw_status status = hw_steps_cameras(NULL, server_limits(server), request->now, &camera, &count,
                                        path, sizeof path, err);
    if (status == HW_OK) {
        status = hw_report_cameras_json(camera, count, path, &json, err);
    }
    if (status == HW_OK) {
        server_answer_json(answer, json);
    }
    hw_steps_cameras_free(camera);
    return status;
}

// ---- Changed -----------------------------------------------------------------------

static hw_status take_dye(const hw_json *body, hw_dye_request *out, hw_error *err)
{
    hw_status status = server_take_text(body, "name", true, &out->name, err);
    if (status == HW_OK) {
        status = server_take_text(body, "family", true, &out->family, err);
    }
    if (status == HW_OK) {
        status = server_take_text(body, "tool", false, &out->tool, err);
    }
    if (status == HW_OK) {
        status = server_take_text(body, "made", false, &out->made, err);
    }
    return status == HW_OK ? server_take_text(body, "note", false, &out->note, err) : status;
}

hw_status server_run_shelf_add(hw_server *server, const server_request *request,
                               server_answer *answer, hw_error *err)
{
    hw_dye_request wanted = {.shelf_path = server_shelf_path(server)};
    hw_dye dye = {0};
    hw_dye_change change = HW_DYE_ADDED;
    hw_board board = {0};
    char *json = NULL;
    hw_status status = take_dye(request->json, &wanted, err);
    if (status == HW_OK) {
        server_log_take(server);
        status = hw_steps_shelf_add(&wanted, server_limits(server), request->now, &dye, &change,
                                    &board, err);
        server_log_leave(server);
    }
    if (status == HW_OK) {
        status = hw_report_dye_json(&dye, change, &json, err);
    }
    if (status == HW_OK) {
        server_answer_json(answer, json);
        answer->status = 201;
    }
    hw_board_free(&board);
    return status;
}

hw_status server_run_shelf_remove(hw_server *server, const server_request *request,
                                  server_answer *answer, hw_error *err)
{
    const char *name = request->segment[2]; // api/shelf/NAME
    size_t gone = 0;
    char *json = NULL;
    server_log_take(server);
    hw_status status =
        hw_steps_shelf_remove(server_shelf_path(server), name, server_limits(server), &gone, err);
    server_log_leave(server);
    if (status == HW_OK) {
        status = hw_report_removed_json(name, gone, &json, err);
    }
    if (status == HW_OK) {
        server_answer_json(answer, json);
    }
    return status;
}
