// cli.h: the command line as one call. Returns the exit code.
#ifndef HUEWRIGHT_CLI_H
#define HUEWRIGHT_CLI_H

int hw_cli_main(int count, char **words);

#endif
