// Each line of standard input, "KIND text", as the program reads it: its size in ml, g, mm, cm2 or min.
#include "tone_internal.h"

#include <stdio.h>
#include <string.h>

int main(void)
{
    char line[200];
    while (fgets(line, sizeof line, stdin)) {
        line[strcspn(line, "\n")] = 0;
        const char *text = strchr(line, ' ');
        double value = 0.0;
        hw_error err = {0};
        hw_status status = HW_ERR_CALL;
        if (text && strncmp(line, "ml ", 3) == 0) {
            status = hw_parse_volume(text + 1, &value, &err);
        } else if (text && strncmp(line, "g ", 2) == 0) {
            status = hw_parse_weight(text + 1, &value, &err);
        } else if (text && strncmp(line, "mm ", 3) == 0) {
            status = hw_parse_length(text + 1, &value, &err);
        } else if (text && strncmp(line, "cm2 ", 4) == 0) {
            status = hw_parse_area(text + 1, &value, &err);
        } else if (text && strncmp(line, "min ", 4) == 0) {
            status = hw_parse_minutes(text + 1, &value, &err);
        } else if (text && strncmp(line, "g/l ", 4) == 0) {
            hw_made made = {.share = 0.0};
            status = hw_parse_made(text + 1, &made, &err);
            value = made.g_l;
        }
        if (status != HW_OK) {
            printf("refused: %s\n", err.what);
            return 1;
        }
        printf("%.15g\n", value);
    }
    return 0;
}
