// cli.h: the command line as one call. Returns the exit code.
#ifndef HUEWRIGHT_CLI_H
#define HUEWRIGHT_CLI_H

#include "huewright/base.h"

// What `huewright page` asks for.
typedef struct hw_page_call {
    const char *folder;
    const char *shelf_path, *page_dir; // NULL: not given
    bool lan, quiet;
    bool port_given;
    unsigned port; // 0: any that is free
} hw_page_call;

// Serves the page until the program is told to end. The command line does not know how.
typedef hw_status (*hw_page_run)(const hw_page_call *call, hw_error *err);

int hw_cli_main(int count, char **words, hw_page_run page);

#endif
