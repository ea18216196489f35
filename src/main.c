// main.c: the program. The one place that knows both front ends.
#include "cli/cli.h"
#include "server/server.h"

#define USUAL_PORT    8474u // chosen: among those that no service has
#define FURTHER_PORTS 20u   // for who serves several folders at once

static hw_status run_page(const hw_page_call *call, hw_error *err)
{
    const hw_server_options options = {
        .folder = call->folder,
        .shelf_path = call->shelf_path,
        .page_dir = call->page_dir,
        .lan = call->lan,
        .quiet = call->quiet,
        .port = call->port_given ? call->port : USUAL_PORT,
        .further_ports = call->port_given ? 0 : FURTHER_PORTS,
    };
    return hw_server_run(&options, err);
}

int main(int count, char **words)
{
    return hw_cli_main(count, words, run_page);
}
