// main.c: the program. The one place that knows the front ends.
#include "cli/cli.h"

int main(int count, char **words)
{
    return hw_cli_main(count, words);
}
