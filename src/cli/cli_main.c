// cli_main.c: words in, exit code out. The only place that asks the clock.
#include "cli_internal.h"

#include <string.h>
#include <time.h>

// --json counts for errors of the call too, so it is looked for before anything is parsed.
static bool wants_json(int count, char **words)
{
    for (int i = 1; i < count && strcmp(words[i], "--") != 0; i++) {
        if (strcmp(words[i], "--json") == 0) {
            return true;
        }
    }
    return false;
}

static hw_status run(cli_call *call, hw_error *err)
{
    if (cli_has(call, "help")) {
        return cli_print_help(call->command, cli_has(call, "json"), err);
    }
    if (cli_has(call, "version")) {
        return cli_run_version(call, err);
    }
    return call->command->run(call, err);
}

// Cameras write the time of the clock on the wall.
static void read_clock(cli_call *call)
{
    time_t now = time(NULL);
    struct tm local;
    char iso[32];
    int64_t on_the_wall;
    call->now = (int64_t)now;
    call->knows_clock = localtime_r(&now, &local) &&
                        strftime(iso, sizeof iso, "%Y-%m-%dT%H:%M:%SZ", &local) > 0 &&
                        hw_parse_time(iso, &on_the_wall);
    call->clock_s = call->knows_clock ? on_the_wall - call->now : 0;
}

int hw_cli_main(int count, char **words, hw_page_run page)
{
    cli_call call = {.page = page};
    read_clock(&call);
    hw_error error = {0};
    cli_guard_streams();
    hw_status status = cli_parse(count, words, &call, &error);
    if (status == HW_OK) {
        status = run(&call, &error);
    }
    int code =
        status == HW_OK && call.answer_is_no && cli_has(&call, "exit-status") ? 1 : (int)status;
    if (status != HW_OK) {
        cli_complain(&error, wants_json(count, words));
    }
    cli_call_free(&call);
    return code;
}
