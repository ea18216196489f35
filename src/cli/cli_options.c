// cli_options.c: words of the command line to a call. `--name value` and `--name=value`; `--` ends
// the options; options and operands may be mixed. A wrong word is answered with the nearest right
// one.
//
// What always holds: an option that takes a value never swallows the next option. Who means a value
// that starts with two dashes writes --name=--value.
#include "cli_internal.h"

#include <string.h>

// ---- Nearest word ------------------------------------------------------------------

#define WORD_MOST 40

// Levenshtein's distance (1966): insertions, deletions and replacements from one word to the other.
static size_t distance(const char *one, const char *other)
{
    size_t length = strlen(other), row[WORD_MOST + 1];
    if (strlen(one) > WORD_MOST || length > WORD_MOST) {
        return WORD_MOST;
    }
    for (size_t k = 0; k <= length; k++) {
        row[k] = k;
    }
    for (size_t i = 0; one[i]; i++) {
        size_t corner = row[0];
        row[0] = i + 1;
        for (size_t k = 0; k < length; k++) {
            size_t replaced = corner + (one[i] != other[k]);
            corner = row[k + 1];
            size_t least = replaced < corner + 1 ? replaced : corner + 1;
            row[k + 1] = least < row[k] + 1 ? least : row[k] + 1;
        }
    }
    return row[length];
}

// Keeps `candidate` in *best if it is nearer than what was seen so far.
static void consider(const char *word, const char *candidate, const char **best, size_t *least)
{
    size_t far = distance(word, candidate);
    if (far < *least && far <= 1 + strlen(candidate) / 3) {
        *best = candidate;
        *least = far;
    }
}

// ---- Commands ----------------------------------------------------------------------

const cli_command *cli_find_command(const char *name)
{
    for (const cli_command *command = cli_commands; command->name; command++) {
        if (strcmp(command->name, name) == 0) {
            return command;
        }
    }
    return NULL;
}

void cli_list_commands(char *out, size_t size)
{
    hw_copy_text(out, size, "");
    for (const cli_command *command = cli_commands; command->name; command++) {
        size_t length = strlen(out);
        hw_format_text(out + length, size - length, "%s%s", length ? ", " : "", command->name);
    }
}

static hw_status refuse_command(const char *word, hw_error *err)
{
    char names[320], next[480];
    const char *best = NULL;
    size_t least = WORD_MOST;
    cli_list_commands(names, sizeof names);
    for (const cli_command *command = cli_commands; command->name; command++) {
        consider(word, command->name, &best, &least);
    }
    if (best) {
        hw_format_text(next, sizeof next, "Did you mean %s? The commands are: %s.", best, names);
    } else {
        hw_format_text(next, sizeof next, "The commands are: %s.", names);
    }
    return hw_fail(err, HW_ERR_CALL, "command-unknown", word, next, "there is no such command");
}

// Is this the first word of a command of two words, as shelf?
static bool starts_command(const char *word)
{
    size_t length = strlen(word);
    for (const cli_command *command = cli_commands; command->name; command++) {
        if (strncmp(command->name, word, length) == 0 && command->name[length] == ' ') {
            return true;
        }
    }
    return false;
}

// ---- Options -----------------------------------------------------------------------

static bool name_is(const cli_option *option, const char *name, size_t length)
{
    return strlen(option->name) == length && strncmp(option->name, name, length) == 0;
}

static const cli_option *find_option(const cli_command *command, const char *name, size_t length)
{
    for (size_t group = 0; command && group < CLI_GROUPS_MAX; group++) {
        for (const cli_option *option = command->group[group]; option && option->name; option++) {
            if (name_is(option, name, length)) {
                return option;
            }
        }
    }
    for (const cli_option *option = cli_everywhere; option->name; option++) {
        if (name_is(option, name, length)) {
            return option;
        }
    }
    return NULL;
}

static hw_status refuse_option(const cli_command *command, const char *word, hw_error *err)
{
    char bare[WORD_MOST + 8], next[480];
    const char *best = NULL;
    size_t least = WORD_MOST;
    hw_copy_text(bare, sizeof bare, word + strspn(word, "-"));
    bare[strcspn(bare, "=")] = 0;
    for (size_t group = 0; command && group < CLI_GROUPS_MAX; group++) {
        for (const cli_option *option = command->group[group]; option && option->name; option++) {
            consider(bare, option->name, &best, &least);
        }
    }
    const char *name = command ? command->name : "";
    if (best) {
        hw_format_text(next, sizeof next, "Did you mean --%s? All options: huewright %s --help",
                       best, name);
    } else {
        hw_format_text(next, sizeof next, "All options: huewright %s%s--help", name,
                       *name ? " " : "");
    }
    return hw_fail(err, HW_ERR_CALL, "option-unknown", word, next, "there is no such option%s%s",
                   command ? " of " : "", name);
}

static bool was_given(const cli_call *call, const cli_option *option)
{
    for (size_t i = 0; i < call->given_count; i++) {
        if (call->given[i].option == option) {
            return true;
        }
    }
    return false;
}

// Takes the option in words[*at]; *at moves on over a value of its own.
static hw_status take_option(cli_call *call, int count, char **words, int *at, hw_error *err)
{
    const char *word = words[*at], *name = word + 2, *equals = strchr(name, '=');
    size_t length = equals ? (size_t)(equals - name) : strlen(name);
    const cli_option *option =
        strncmp(word, "--", 2) == 0 ? find_option(call->command, name, length) : NULL;
    if (!option) {
        return refuse_option(call->command, word, err);
    }
    const char *value = equals ? equals + 1 : NULL;
    if (!option->value && value) {
        return hw_fail(err, HW_ERR_CALL, "option-value", word,
                       "Write it without = and what follows.", "this option takes no value");
    }
    if (option->value && !value) {
        if (*at + 1 >= count || strncmp(words[*at + 1], "--", 2) == 0) {
            char next[160];
            hw_format_text(next, sizeof next, "Write --%s %s.", option->name, option->value);
            return hw_fail(err, HW_ERR_CALL, "option-value", word, next,
                           "this option needs a value");
        }
        value = words[++*at];
    }
    if (option->value && !option->repeat && was_given(call, option)) {
        return hw_fail(err, HW_ERR_CALL, "option-twice", word, "Give it once.",
                       "this option is given twice");
    }
    call->given[call->given_count++] = (cli_given){option, value};
    return HW_OK;
}

// ---- All of it ---------------------------------------------------------------------

// The first words that are no options name the command. *pending holds the first of two.
static hw_status take_word(cli_call *call, const char *word, const char **pending, hw_error *err)
{
    if (call->command) {
        call->operand[call->operand_count++] = word;
        return HW_OK;
    }
    char name[64];
    hw_format_text(name, sizeof name, "%s%s%s", *pending ? *pending : "", *pending ? " " : "",
                   word);
    call->command = cli_find_command(name);
    if (!call->command && !*pending && starts_command(word)) {
        *pending = word;
        return HW_OK;
    }
    return call->command ? HW_OK : refuse_command(name, err);
}

static hw_status check_operands(const cli_call *call, hw_error *err)
{
    const cli_command *command = call->command;
    char next[160];
    hw_format_text(next, sizeof next, "Write: huewright %s %s", command->name, command->operands);
    if (call->operand_count < command->least) {
        return hw_fail(err, HW_ERR_CALL, "operand-missing", command->name, next, "it needs %s",
                       command->operands);
    }
    if (call->operand_count > command->most) {
        return hw_fail(err, HW_ERR_CALL, "operand-extra", call->operand[command->most], next,
                       "this word is one too many for %s; a name with spaces needs quotes",
                       command->name);
    }
    return HW_OK;
}

static hw_status take_words(int count, char **words, cli_call *call, hw_error *err)
{
    const char *pending = NULL;
    bool options_ended = false;
    for (int at = 1; at < count; at++) {
        const char *word = words[at];
        hw_status status;
        if (!options_ended && strcmp(word, "--") == 0) {
            options_ended = true;
            continue;
        }
        if (!options_ended && word[0] == '-' && word[1] != 0) {
            status = take_option(call, count, words, &at, err);
        } else {
            status = take_word(call, word, &pending, err);
        }
        if (status != HW_OK) {
            return status;
        }
    }
    return pending && !call->command ? refuse_command(pending, err) : HW_OK;
}

hw_status cli_parse(int count, char **words, cli_call *call, hw_error *err)
{
    size_t room = count > 0 ? (size_t)count : 1;
    call->operand = hw_alloc_array(room, sizeof *call->operand);
    call->given = hw_alloc_array(room, sizeof *call->given);
    if (!call->operand || !call->given) {
        return hw_fail_memory(err, "reading the command line");
    }
    hw_status status = take_words(count, words, call, err);
    if (status != HW_OK || cli_has(call, "help") || cli_has(call, "version")) {
        return status;
    }
    if (!call->command) {
        char names[320], next[480];
        cli_list_commands(names, sizeof names);
        hw_format_text(next, sizeof next, "Write huewright and one of: %s.", names);
        return hw_fail(err, HW_ERR_CALL, "command-missing", "", next, "no command was given");
    }
    return check_operands(call, err);
}

void cli_call_free(cli_call *call)
{
    hw_free(call->operand);
    hw_free(call->given);
    *call = (cli_call){0};
}

// ---- Reading a call ----------------------------------------------------------------

bool cli_has(const cli_call *call, const char *name)
{
    for (size_t i = 0; i < call->given_count; i++) {
        if (strcmp(call->given[i].option->name, name) == 0) {
            return true;
        }
    }
    return false;
}

const char *cli_next_value(const cli_call *call, const char *name, size_t *at)
{
    while (*at < call->given_count) {
        const cli_given *given = &call->given[(*at)++];
        if (strcmp(given->option->name, name) == 0) {
            return given->value;
        }
    }
    return NULL;
}

const char *cli_value(const cli_call *call, const char *name)
{
    size_t at = 0;
    return cli_next_value(call, name, &at);
}

hw_status cli_split(const char *option, const char *text, bool at_last, char *name, size_t size,
                    const char **value, hw_error *err)
{
    const char *equals = at_last ? strrchr(text, '=') : strchr(text, '=');
    char subject[320];
    hw_format_text(subject, sizeof subject, "--%s %s", option, text);
    if (!equals) {
        return hw_fail(err, HW_ERR_CALL, "option-value", subject,
                       "Write the name, =, and what belongs to it; quotes around all of it if the "
                       "name has spaces.",
                       "there is no = in it");
    }
    size_t length = (size_t)(equals - text);
    if (length == 0 || length >= size) {
        return hw_fail(err, HW_ERR_CALL, "option-value", subject,
                       "Write a short name before the =.",
                       "the name before = has %zu bytes; 1 to %zu can be used", length, size - 1);
    }
    memcpy(name, text, length);
    name[length] = 0;
    *value = equals + 1;
    return HW_OK;
}
