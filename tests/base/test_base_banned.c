// Calls that base_internal.h bans: each makes the compiler refuse the file, by name. A control file
// with none of them compiles.
#include "base_internal.h"
#include "check.h"

#include <unistd.h>

// What the compiler says of a file whose one function holds `statement`; "" when it takes it.
static void compile(const char *statement, char *said, size_t size)
{
    char source[700], command[2200];
    snprintf(source, sizeof source, "%s/banned-%ld.c", HW_SCRATCH, (long)getpid());
    FILE *file = fopen(source, "w");
    check_true(file != NULL);
    fprintf(file, "#include \"base_internal.h\"\nvoid f(void);\nvoid f(void)\n{\n    %s;\n}\n",
            statement);
    fclose(file);
    snprintf(command, sizeof command,
             "cc -std=c11 -fsyntax-only -D_POSIX_C_SOURCE=200809L -I'%s/../include' "
             "-I'%s/../src/base' '%s' 2>&1",
             HW_TESTDATA, HW_TESTDATA, source);
    FILE *compiler = popen(command, "r");
    check_true(compiler != NULL);
    size_t count = fread(said, 1, size - 1, compiler);
    said[count] = 0;
    int how = pclose(compiler);
    check_true((how == 0) == (count == 0));
    unlink(source);
}

int main(void)
{
    const char *banned[] = {"malloc", "calloc", "realloc", "free",     "strdup",
                            "strcpy", "strcat", "sprintf", "vsprintf", "strtok",
                            "atoi",   "atol",   "atof",    "gets",     "localtime"};
    char said[4000];
    compile("hw_free(hw_alloc_array(1, 1))", said, sizeof said);
    check_text(said, "");
    for (size_t i = 0; i < sizeof banned / sizeof *banned; i++) {
        char statement[60];
        snprintf(statement, sizeof statement, "(void)%s", banned[i]);
        compile(statement, said, sizeof said);
        check_holds(said, "poisoned");
        check_holds(said, banned[i]);
    }
    return check_done();
}
