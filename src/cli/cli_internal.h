// cli_internal.h: arguments in, steps, report out.
//
//   cli_commands.c  the tables: each command with its options, in one record that drives
//                   the parser, the help and the errors
//   cli_options.c   words to a cli_call
//   cli_values.c    values that several commands take
//   cli_marks.c     marks from options
//   cli_output.c    standard output and error, the terminal
//   cli_file.c      results that become a file, long work
//   cli_help.c      help and version
//   cli_read.c, cli_job.c, cli_log.c, cli_set.c, cli_exchange.c, cli_keep.c, cli_shelf.c, cli_camera.c, cli_picture.c,
//                   cli_page.c   the commands
//   cli_main.c      the order of all this, and the clock
//
// Exit: 0 done; 1 the answer is "no" and --exit-status was given; 2 wrong call; 3 input cannot be
// used; 4 disk, memory or output.
#ifndef HUEWRIGHT_CLI_INTERNAL_H
#define HUEWRIGHT_CLI_INTERNAL_H

#include "base_internal.h"
#include "cli.h"
#include "huewright/huewright.h"

// ---- Tables ------------------------------------------------------------------------

typedef struct cli_option {
    const char *name;  // without the dashes; NULL ends a group
    const char *value; // what it takes, "FILE"; NULL: a switch
    const char *help;
    bool repeat; // may be given more than once
} cli_option;

#define CLI_GROUPS_MAX 3

typedef struct cli_call cli_call;

typedef struct cli_command {
    const char *name;     // "read", "shelf show"; NULL ends the table
    const char *operands; // "PHOTO"
    size_t least, most;   // how many operands
    const char *summary;
    const cli_option *group[CLI_GROUPS_MAX]; // own, marks, everywhere; NULL: none
    hw_status (*run)(cli_call *call, hw_error *err);
} cli_command;

extern const cli_command cli_commands[];
extern const cli_option cli_everywhere[];
extern const cli_option cli_mark_options[];

// ---- One call ----------------------------------------------------------------------

typedef struct cli_given {
    const cli_option *option;
    const char *value; // NULL for a switch
} cli_given;

struct cli_call {
    const cli_command *command; // NULL: none was named
    const char **operand;
    size_t operand_count;
    cli_given *given; // in the order of the command line
    size_t given_count;
    int64_t now;
    bool knows_clock;  // clock_s is known
    hw_page_run page;  // serves the page
    int64_t clock_s;   // seconds that the clock on the wall is ahead of UTC
    bool answer_is_no; // set by a command; becomes exit code 1 with --exit-status
};

HW_CHECK hw_status cli_parse(int count, char **words, cli_call *call, hw_error *err);
void cli_call_free(cli_call *call);

bool cli_has(const cli_call *call, const char *name);
const char *cli_value(const cli_call *call, const char *name); // the last one, or NULL
// The next one of a repeated option from *at on, or NULL. Start with *at = 0.
const char *cli_next_value(const cli_call *call, const char *name, size_t *at);
size_t cli_count_of(const cli_call *call, const char *option); // how often it was given

// "NAME=VALUE", split at the first or the last '='. The name goes to `name`.
HW_CHECK hw_status cli_split(const char *option, const char *text, bool at_last, char *name,
                             size_t size, const char **value, hw_error *err);
// A command by its name ("shelf show"), or NULL.
const cli_command *cli_find_command(const char *name);
// The names of all commands, "read, start, ...".
void cli_list_commands(char *out, size_t size);

// ---- Values ------------------------------------------------------------------------
//
// Of an option that may be missing: then *out stays, unless said otherwise.

// All that the repeated option names; *out is made in any case and freed with hw_free.
HW_CHECK hw_status cli_take_names(const cli_call *call, const char *option,
                                  char (**out)[HW_NAME_SIZE], size_t *count, hw_error *err);
HW_CHECK hw_status cli_take_text(const cli_call *call, const char *option, char *out, size_t size,
                                 hw_error *err);
HW_CHECK hw_status cli_copy(const char *what, const char *text, char *out, size_t size,
                            hw_error *err);
// --state PART=S ...; *out is freed with hw_free, also when there is none.
HW_CHECK hw_status cli_take_states(const cli_call *call, hw_part_state **out, size_t *count,
                                   hw_error *err);
HW_CHECK hw_status cli_take_number(const cli_call *call, const char *option, double *out,
                                   hw_error *err);
HW_CHECK hw_status cli_take_passes(const cli_call *call, int *out, hw_error *err);
// A number of the log (an event, a photo, a jar), from 1; `code` names the refusal.
HW_CHECK hw_status cli_take_event(const cli_call *call, const char *option, const char *code,
                                  long *out, hw_error *err);
HW_CHECK hw_status cli_parse_event(const char *text, const char *code, long *out, hw_error *err);
// --dye DYE=STRENGTH ...: at most as many as one liquid holds.
HW_CHECK hw_status cli_take_doses(const cli_call *call, hw_liquid *liquid, hw_error *err);

// ---- Marks -------------------------------------------------------------------------

// Marks and card from the options of a read. Free request->marks with hw_marks_free.
HW_CHECK hw_status cli_read_request(const cli_call *call, const char *photo,
                                    hw_read_request *request, hw_error *err);

// The same of several photos of one state; `marks_paths` (room for as many as photos) holds those of the further ones.
HW_CHECK hw_status cli_shots_request(const cli_call *call, const char *const *photo, size_t count,
                                     const char **marks_paths, hw_read_request *request,
                                     hw_error *err);
// A side by its name. HW_ERR_CALL from-unknown.
HW_CHECK hw_status cli_take_from(const char *name, hw_from *out, hw_error *err);

HW_CHECK hw_status cli_take_card_lab(const cli_call *call, bool *given, hw_lab *out, hw_error *err);

// ---- Output ------------------------------------------------------------------------

// Ignores SIGPIPE and makes sure that no file of ours can become a closed standard stream.
void cli_guard_streams(void);
// Writes and frees `text`.
HW_CHECK hw_status cli_print(char *text, hw_error *err);
void cli_complain(const hw_error *error, bool json);
hw_report_style cli_style(const cli_call *call);
// Is there a person at the terminal who may be asked?
bool cli_can_ask(const cli_call *call);
// Puts a question and reads one line, without its end, into `answer`. False where it was skipped.
bool cli_ask(const char *question, const char *usual, char *answer, size_t size);
// Where a card was found and is not sure: asks whether it is the card. Yes: *err is empty and it may be taken.
bool cli_ask_card(const cli_call *call, hw_error *err);

// Asks the person at the terminal what was not said of the job yet (coats to come, the card's size), each once a job.
HW_CHECK hw_status cli_ask_settings(const cli_call *call, hw_error *err);
// Logs an event of hw_steps_log in the job of the first operand and prints it.
HW_CHECK hw_status cli_log_event(const cli_call *call, const hw_event *event, hw_error *err);

// ---- Files and long work -----------------------------------------------------------

// Whole or not there. `replace` false: never over one that is there.
HW_CHECK hw_status cli_write_file(const char *path, bool replace, const void *bytes, size_t count,
                                  hw_error *err);
// --output, or "JOB-what.ending" in this folder. HW_ERR_CALL output-name, output-in-job; file-exists without --replace.
HW_CHECK hw_status cli_output_path(const cli_call *call, const char *what, const char *ending,
                                   char *out, size_t size, hw_error *err);
void cli_tell_written(const cli_call *call, const char *path, size_t bytes);
void cli_tell_warnings(const cli_call *call, const hw_warnings *warnings);

// What is told on a terminal of work that takes longer than half a second.
typedef struct cli_progress {
    hw_progress progress;
    double start, last; // seconds
    bool shown;
    int width; // of what stands there
} cli_progress;

const hw_progress *cli_progress_start(const cli_call *call,
                                      cli_progress *progress); // NULL: nobody watches
void cli_progress_end(cli_progress *progress);

// ---- Help and the commands ---------------------------------------------------------

HW_CHECK hw_status cli_print_help(const cli_command *command, bool json, hw_error *err);
hw_status cli_run_help(cli_call *call, hw_error *err);
hw_status cli_run_version(cli_call *call, hw_error *err);
hw_status cli_run_read(cli_call *call, hw_error *err);
hw_status cli_run_start(cli_call *call, hw_error *err);
hw_status cli_run_photo(cli_call *call, hw_error *err);
hw_status cli_run_advise(cli_call *call, hw_error *err);
hw_status cli_run_pass(cli_call *call, hw_error *err);
hw_status cli_run_history(cli_call *call, hw_error *err);
hw_status cli_run_lamps(cli_call *call, hw_error *err);
hw_status cli_run_picture(cli_call *call, hw_error *err);
hw_status cli_run_report(cli_call *call, hw_error *err);
hw_status cli_run_coat(cli_call *call, hw_error *err);
hw_status cli_run_takeoff(cli_call *call, hw_error *err);
hw_status cli_run_jar(cli_call *call, hw_error *err);
hw_status cli_run_set(cli_call *call, hw_error *err);
hw_status cli_run_note(cli_call *call, hw_error *err);
hw_status cli_run_approve(cli_call *call, hw_error *err);
hw_status cli_run_fix(cli_call *call, hw_error *err);
hw_status cli_run_export(cli_call *call, hw_error *err);
hw_status cli_run_import(cli_call *call, hw_error *err);
hw_status cli_run_check(cli_call *call, hw_error *err);
hw_status cli_run_pack(cli_call *call, hw_error *err);
hw_status cli_run_unpack(cli_call *call, hw_error *err);
hw_status cli_run_shelf_show(cli_call *call, hw_error *err);
hw_status cli_run_shelf_add(cli_call *call, hw_error *err);
hw_status cli_run_shelf_remove(cli_call *call, hw_error *err);
hw_status cli_run_stepboard(cli_call *call, hw_error *err);
hw_status cli_run_page(cli_call *call, hw_error *err);
hw_status cli_run_camera_learn(cli_call *call, hw_error *err);
hw_status cli_run_camera_show(cli_call *call, hw_error *err);
hw_status cli_run_camera_forget(cli_call *call, hw_error *err);

#endif
