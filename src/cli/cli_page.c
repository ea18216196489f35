// cli_page.c: huewright page. What serves it is handed in by main.c.
#include "cli_internal.h"

static hw_status take_port(const cli_call *call, hw_page_call *out, hw_error *err)
{
    double port = 0.0;
    out->port_given = cli_has(call, "port");
    hw_status status = cli_take_number(call, "port", &port, err);
    if (status == HW_OK && !(port >= 0.0 && port <= 65535.0 && port == (double)(unsigned)port)) {
        status = hw_fail(err, HW_ERR_CALL, "port-value", cli_value(call, "port"),
                         "Give a whole number from 1024 to 65535, or 0 for any that is free.",
                         "this is no port");
    }
    out->port = (unsigned)port;
    return status;
}

hw_status cli_run_page(cli_call *call, hw_error *err)
{
    hw_page_call page = {.folder = call->operand_count > 0 ? call->operand[0] : ".",
                         .shelf_path = cli_value(call, "shelf"),
                         .page_dir = cli_value(call, "page-dir"),
                         .lan = cli_has(call, "lan"),
                         .quiet = cli_has(call, "quiet")};
    hw_status status = take_port(call, &page, err);
    return status == HW_OK ? call->page(&page, err) : status;
}
