// cli_output.c: results go to standard output whole or the call fails with exit code 4. What was
// asked of the disk is done by then, and the message says so.
//
// What always holds: a closed standard stream is opened on /dev/null first (output for reading
// only, so that writing to it still fails), so that no file of a job can take its number and get
// our text. SIGPIPE is ignored, so that a reader who left is a message and not a death.
#include "cli_internal.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

void cli_guard_streams(void)
{
    static const int mode[3] = {O_RDONLY, O_RDONLY, O_WRONLY};
    for (int stream = 0; stream < 3; stream++) {
        if (fcntl(stream, F_GETFD) < 0 && open("/dev/null", mode[stream]) < 0) {
            _exit(HW_ERR_STORAGE); // no way to say anything to anyone
        }
    }
    signal(SIGPIPE, SIG_IGN);
}

hw_status cli_print(char *text, hw_error *err)
{
    size_t length = strlen(text);
    bool good = fwrite(text, 1, length, stdout) == length && fflush(stdout) == 0;
    int error = errno;
    hw_report_free(text);
    if (good) {
        return HW_OK;
    }
    return hw_fail(
        err, HW_ERR_STORAGE, "output-lost", "standard output",
        "The work itself is done, and saved where there was something to save. Free some "
        "space or send the output elsewhere to see the answer.",
        "the answer could not be written (%s)", strerror(error));
}

// Data on standard output, sentences on standard error. Nothing more can be done if that fails too.
void cli_complain(const hw_error *error, bool json)
{
    char *text = NULL;
    if (hw_report_error_text(error, &text, NULL) == HW_OK) {
        fputs(text, stderr);
    } else {
        fprintf(stderr, "huewright: %s\n", error->what);
    }
    hw_report_free(text);
    text = NULL;
    bool can_write = strcmp(error->code, "output-lost") != 0;
    if (json && can_write && hw_report_error_json(error, &text, NULL) == HW_OK) {
        fputs(text, stdout);
        fflush(stdout);
    }
    hw_report_free(text);
}

static bool set_to(const char *variable, const char *value)
{
    const char *is = getenv(variable);
    return is && strcmp(is, value) == 0;
}

// A terminal that shows 24-bit colour, whose person has not asked for none.
static bool terminal_shows_colour(void)
{
    const char *none = getenv("NO_COLOR"), *term = getenv("TERM");
    bool refused = none && *none;
    bool able = set_to("COLORTERM", "truecolor") || set_to("COLORTERM", "24bit");
    return isatty(STDOUT_FILENO) && able && !refused && term && strcmp(term, "dumb") != 0;
}

hw_report_style cli_style(const cli_call *call)
{
    return (hw_report_style){.swatches = terminal_shows_colour(),
                             .why = cli_has(call, "why"),
                             .quiet = cli_has(call, "quiet")};
}

bool cli_can_ask(const cli_call *call)
{
    return isatty(STDIN_FILENO) && isatty(STDERR_FILENO) && !cli_has(call, "json") &&
           !cli_has(call, "quiet");
}

bool cli_ask(const char *question, const char *usual, char *answer, size_t size)
{
    fprintf(stderr, "%s\n[Enter: %s] ", question, usual);
    if (!fgets(answer, (int)size, stdin)) {
        fputs("\n", stderr);
        return false;
    }
    answer[strcspn(answer, "\r\n")] = 0;
    return answer[0] != 0;
}

bool cli_ask_card(const cli_call *call, hw_error *err)
{
    char answer[40], question[sizeof err->subject + sizeof err->what + 4];
    if (strcmp(err->code, "card-unsure") != 0 || !cli_can_ask(call)) {
        return false;
    }
    hw_format_text(question, sizeof question, "%s: %s (yes or no)", err->subject, err->what);
    bool yes =
        cli_ask(question, "no", answer, sizeof answer) && (answer[0] == 'y' || answer[0] == 'Y');
    hw_error asked = *err;
    *err = (hw_error){0};
    if (!yes) {
        hw_status refused =
            hw_fail(err, HW_ERR_INPUT, "card-missing", asked.subject,
                    "Mark the card with --card x,y,width,height. Without one in the "
                    "picture, lay it beside the repair and take the photo again.",
                    "no grey card is marked, and what was found is none");
        (void)refused;
    }
    return yes;
}
