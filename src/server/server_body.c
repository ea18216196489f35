// server_body.c: a body as it comes. JSON goes to memory, a photo straight to a file on the disk: no part of it is looked
// into here. Half a photo is removed.
#include "server_body.h"

hw_status server_body_begin(server_taking *taking, hw_server *server, const server_route *route,
                            hw_error *err)
{
    *taking = (server_taking){.kind = route->body, .most = server_body_most(server, route)};
    if (route->body != SERVER_BODY_PHOTO) {
        taking->text.ceiling = taking->most + 1;
        return HW_OK;
    }
    hw_status status = server_upload_spool(server, taking->path, sizeof taking->path, err);
    return status == HW_OK ? hw_new_file_open(taking->path, &taking->file, err) : status;
}

hw_status server_body_add(server_taking *taking, const void *bytes, size_t count, hw_error *err)
{
    if (count > taking->most - taking->count) {
        return server_body_too_large(taking->most, err);
    }
    taking->count += count;
    if (taking->file) {
        return hw_new_file_write(taking->file, bytes, count, err);
    }
    hw_text_add_bytes(&taking->text, bytes, count);
    return taking->text.failed ? hw_fail_memory(err, "taking in what was sent") : HW_OK;
}

hw_status server_body_end(server_taking *taking, server_request *request, hw_error *err)
{
    request->body_bytes = taking->count;
    if (!taking->file) {
        request->body = hw_text_words(&taking->text);
        return HW_OK;
    }
    if (taking->count == 0) {
        return hw_fail(err, HW_ERR_INPUT, "photo-empty", "", "Choose the photo again.",
                       "the file that came is empty");
    }
    hw_status status = hw_new_file_keep(&taking->file, err);
    if (status == HW_OK) {
        taking->kept = true;
        request->body_path = taking->path;
    }
    return status;
}

void server_body_free(server_taking *taking)
{
    hw_new_file_abandon(&taking->file);
    if (taking->kept) {
        hw_file_remove(taking->path); // nothing is there where the handler took it
    }
    hw_text_free(&taking->text);
    *taking = (server_taking){0};
}
