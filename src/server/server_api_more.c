// server_api_more.c: further photos of the state that one shows, read and kept together with it: "more" of a body, a list of
// uploads.
#include "server_routes.h"
#include "server_upload.h"

static hw_status refuse(hw_error *err)
{
    return hw_fail(err, HW_ERR_CALL, "body-member", "more",
                   "Send \"more\" as a list of at most 4 other uploads, each once.",
                   "it is no such thing");
}

static bool is_there(const server_more *more, const char *id)
{
    bool there = false;
    for (size_t i = 0; i < more->count; i++) {
        there = there || strcmp(more->one[i].id, id) == 0;
    }
    return there;
}

static hw_status take_one(hw_server *server, const char *id, server_more *more, hw_error *err)
{
    server_upload *one = &more->one[more->count];
    hw_error why = {0};
    hw_status status = server_upload_find(server, id, one, &why);
    if (status == HW_OK) {
        status = server_upload_path(server, id, more->path[more->count], &why);
    }
    if (status == HW_OK) {
        more->paths[more->count] = more->path[more->count];
        more->called[more->count] = one->name;
        more->count++;
        return HW_OK;
    }
    if (strcmp(why.code, "not-found") != 0) {
        return hw_fail_as(err, &why);
    }
    hw_copy_text(more->gone[more->gone_count++], sizeof *more->gone, id);
    return HW_OK;
}

hw_status server_more_all_here(const server_more *more, hw_error *err)
{
    return more->gone_count == 0
               ? HW_OK
               : hw_fail(err, HW_ERR_CALL, "more-gone", more->gone[0],
                         "Read it without that one, or send that one again.",
                         "a photo that was to be read together with it is not here any more: it "
                         "was kept or dropped meanwhile");
}

hw_status server_take_more(hw_server *server, const server_request *request, server_more *out,
                           hw_error *err)
{
    const hw_json *list = hw_json_member(request->json, "more");
    hw_status status = HW_OK;
    out->count = out->gone_count = 0;
    if (!list || hw_json_is_null(list)) {
        return HW_OK;
    }
    if (!hw_json_is_array(list) || hw_json_count(list) > SERVER_MORE_MOST) {
        return refuse(err);
    }
    for (const hw_json *item = hw_json_first(list); item && status == HW_OK;
         item = hw_json_next(item)) {
        const char *id = hw_json_text(item);
        bool other = id && strcmp(id, request->segment[2]) != 0 && !is_there(out, id);
        status = other ? take_one(server, id, out, err) : refuse(err);
    }
    return status;
}
