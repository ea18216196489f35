// server.h: the front end for a browser: `huewright page`.
#ifndef HUEWRIGHT_SERVER_H
#define HUEWRIGHT_SERVER_H

#include "huewright/base.h"

// How the page is served.
typedef struct hw_server_options {
    const char *folder;     // that jobs lie in, one folder each; it must exist
    const char *shelf_path; // NULL: the user's own
    const char *page_dir; // files of the page from there, read anew each time; NULL: those built in
    bool lan;      // for devices in the same network too, after pairing; else this computer alone
    unsigned port; // 0: any that is free
    unsigned further_ports; // where that one is taken, so many behind it are tried
    bool quiet;             // no QR code, no words but the address
} hw_server_options;

// Serves until SIGTERM or SIGINT, then finishes what is being logged and returns HW_OK. Prints where it can be reached on
// standard output. HW_ERR_CALL port-taken, page-folder; HW_ERR_INPUT folder-missing; HW_ERR_STORAGE where nothing can be
// served.
HW_CHECK hw_status hw_server_run(const hw_server_options *options, hw_error *err);

#endif
